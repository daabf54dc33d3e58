"""Keys that open forms: the analyser, the sky, the hours on air, stations and friends."""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial
from typing import Any

import numpy as np

from propagation.base.errors import BandwhenError
from tui import clock, words
from tui.desk import Desk
from tui.entries import fault, files, grid, hours
from tui.looking import Looking
from tui.state import FriendCard, PlanWish
from tui.work import DAY


class Editing(Looking):
    """What the keys do that ends in a file, a fetch or a plan."""

    # -- keys: bench ----------------------------------------------------------------------------

    def action_analyser(self) -> None:
        """Type in what the analyser showed on the chosen band."""
        from tui.screens.form import Form

        desk, choice, cursor = self.desk, self.shared.choice, self.shared.cursor
        if desk is None or choice is None or cursor is None:
            return
        band = cursor.band

        def check(entries: Mapping[str, str]) -> list[str]:
            try:
                return list(desk.measure(choice, band, entries).sentences)
            except BandwhenError as error:
                return [error.message]

        def take(entries: dict[str, str] | None) -> None:
            if entries is not None:
                self.ask("stations", lambda cancelled: (desk.keep_measure(choice, band, entries), None), band)

        title = f"Analyser on {words.band_name(band)}: the result follows the typing"
        self.push_screen(Form(title, desk.reading_fields(choice, band), check, judge_only=True), take)

    def action_touchstone(self) -> None:
        """Open a Touchstone file for the chosen band."""
        from tui.screens.overlays import Ask

        desk, choice, cursor = self.desk, self.shared.choice, self.shared.cursor
        if desk is None or choice is None or cursor is None:
            return
        band = cursor.band

        def take(file: str | None) -> None:
            if file:
                self.ask("reading", lambda cancelled: (desk.touchstone(choice, band, file), file), file)

        self.push_screen(
            Ask(f"Touchstone one-port file (.s1p) for {words.band_name(band)}", "", None, files), take
        )

    def _take_reading(self, found: Any) -> None:
        from tui.screens.overlays import Pick

        reading, file = found
        desk, choice = self.desk, self.shared.choice
        if desk is None or choice is None:
            return
        options = [("keep", "store it with the station"), ("leave", "only look")]

        def take(answer: str | None) -> None:
            if answer == "keep":
                entries = {"file": file}
                self.ask(
                    "stations",
                    lambda cancelled: (desk.keep_measure(choice, reading.band, entries), None),
                    file,
                )

        self.push_screen(
            Pick(f"{words.band_name(reading.band)}, from the file", options, "keep", reading.sentences), take
        )

    # -- keys: sky ------------------------------------------------------------------------------

    def action_fetch(self) -> None:
        """Get the space weather."""
        desk, choice, now = self.desk, self.shared.choice, self._now()
        if desk is not None and choice is not None:
            self.say("Fetching the space weather ...")
            self.ask("conditions", lambda cancelled: desk.fetch(choice, now, cancelled), now)

    def action_type_in(self) -> None:
        """Type in flux and K."""
        from tui.screens.form import Form

        desk, now = self.desk, self._now()
        if desk is None:
            return

        def take(entries: dict[str, str] | None) -> None:
            if entries is not None:
                self.ask("conditions", lambda cancelled: desk.type_in(entries, now), now)

        note = "Leave an entry empty to go by what is stored."
        check = partial(desk.check_sky, now=now)
        self.push_screen(
            Form("The sun and the field, as heard or remembered", desk.sky_fields(now), check, note=note),
            take,
        )

    def action_heard(self) -> None:
        """Say what is heard, or not."""
        from tui.screens.form import Form
        from tui.views import FormField

        desk, choice, cursor, now = self.desk, self.shared.choice, self.shared.cursor, self._now()
        if desk is None or choice is None or cursor is None:
            return
        fields = [
            FormField(
                "band", "Band", cursor.band, choices=self.shared.opening.bands if self.shared.opening else ()
            ),
            FormField(
                "from",
                "From",
                choice.target,
                place=True,
                hint="where the stations are that you hear, or should",
            ),
            FormField("heard", "Heard", "yes", choices=("yes", "no")),
        ]

        def check(entries: Mapping[str, str]) -> str:
            if entries["heard"].lower() not in ("yes", "no"):
                return "Heard: yes or no."
            return desk.check_target(entries["from"])

        def take(entries: dict[str, str] | None) -> None:
            if entries is not None:
                self.ask("conditions", lambda cancelled: desk.heard(choice, entries, now, cancelled), now)

        self.push_screen(Form("Heard on the air just now", fields, check, suggest=desk.suggest), take)

    def action_beacon(self) -> None:
        """Say which beacon on the air now is heard, or is not."""
        from tui.screens.overlays import Pick

        desk, choice, now = self.desk, self.shared.choice, self._now()
        if desk is None or choice is None:
            return
        turns = desk.beacons(choice, now)
        options = [(f"heard: {key}", detail) for key, detail in turns]
        options += [(f"silent: {key}", detail) for key, detail in turns]

        def take(answer: str | None) -> None:
            if answer is not None:
                said, _, key = answer.partition(": ")
                work = partial(desk.beacon_heard, choice, key, said == "heard", now)
                self.ask("conditions", lambda cancelled: work(), now)

        question = "Beacons on the air in this moment (a schedule recalled; check it)"
        self.push_screen(Pick(question, options, ""), take)

    # -- keys: plan -----------------------------------------------------------------------------

    def action_plan_hours(self) -> None:
        """Ask for the hours on air."""
        from tui.screens.form import Form
        from tui.views import FormField

        choice, desk = self.shared.choice, self.desk
        if choice is None or desk is None:
            return
        wish = self.shared.plan_wish or PlanWish(max(grid(self._now()), choice.start), 6.0)
        fields = [
            FormField("start", "From (UTC)", words.clock(wish.start), "HH:MM"),
            FormField("hours", "For", f"{wish.hours:g}", "hours"),
            FormField("target", "Whom", wish.target, place=True, hint="often: anyone"),
        ]

        def check(entries: Mapping[str, str]) -> str:
            wrong = fault(lambda: clock.parse_hour(entries["start"])) or fault(
                lambda: hours(entries["hours"])
            )
            return wrong or desk.check_target(entries["target"])

        def take(entries: dict[str, str] | None) -> None:
            if entries is not None:
                start = choice.start.astype("datetime64[D]").astype("datetime64[s]") + clock.parse_hour(
                    entries["start"]
                )
                start = start + DAY if start < choice.start else start
                self._plan_for(PlanWish(start, hours(entries["hours"]), entries["target"]))

        self.push_screen(Form("Hours on air", fields, check, suggest=desk.suggest), take)

    def _plan_for(self, wish: PlanWish) -> None:
        self.shared.plan_wish, self.shared.plan = wish, None
        self._want(0.0)
        self.refresh_page()

    def action_dead(self) -> None:
        """The band of the chosen step is dead: plan again from now without it."""
        from tui.screens.plan import PlanPage

        page, wish, choice = self.page, self.shared.plan_wish, self.shared.choice
        if not isinstance(page, PlanPage) or wish is None or choice is None or not page.chosen_band:
            return
        now = max(grid(self._now()), wish.start)
        end = wish.start + np.timedelta64(int(wish.hours * 3600), "s")
        if now >= end:
            self.say("The hours of this plan are over; h asks for new ones.")
            return
        hours = float((end - now).astype(np.int64)) / 3600.0
        self.say(
            f"{words.band_name(page.chosen_band)} taken as dead; planned again from {words.clock(now)}.",
            refresh=False,
        )
        self._plan_for(PlanWish(now, hours, wish.target, (*wish.dead, (page.chosen_band, now))))

    # -- keys: stations and friends -------------------------------------------------------------

    def use_station(self, path: str) -> None:
        """Take a station into use."""
        self.station_wish = path
        self._keep(station=path, power_w=0.0, mode="")
        self._open()

    def action_new_station(self) -> None:
        """Make a station of one's own: a few entries, the rest has defaults."""
        self._station_form(
            "",
            "Your station: only the place must be filled in",
            "Enter goes on, and saves at the end: the forecast is then yours. Antenna, coax, ground and the "
            "rest have usual values; on the station screen (8) e changes every one.",
        )

    def edit_station(self, path: str) -> None:
        """Open a station's form."""
        self._station_form(path, "Station" if path else "The demo station; saving makes it your own")

    def _station_form(self, path: str, title: str, note: str = "") -> None:
        from tui.screens.form import Form

        desk = self.desk
        if desk is None:
            return
        try:
            fields = desk.form(path)
        except BandwhenError as error:
            self.say(error.message, fault="form")
            return

        def take(entries: dict[str, str] | None) -> None:
            if entries is not None:
                self.ask("stations", lambda cancelled: _saved(desk, entries, path), path)

        self.push_screen(Form(title, fields, desk.check_form, note=note, suggest=_single_places), take)

    def action_new_friend(self) -> None:
        """Add a friend."""
        self._friend_form(FriendCard("", ""))

    def edit_friend(self, name: str) -> None:
        """Open a friend's form."""
        opening = self.shared.opening
        friends = opening.friends if opening is not None else ()
        self._friend_form(next((friend for friend in friends if friend.name == name), FriendCard(name, "")))

    def _friend_form(self, friend: FriendCard) -> None:
        from tui.screens.form import Form
        from tui.views import FormField

        desk = self.desk
        if desk is None:
            return
        fields = [
            FormField("name", "Name", friend.name),
            FormField("place", "Place", friend.place, place=True),
            FormField(
                "zone",
                "Time zone",
                friend.zone,
                hint="such as America/Montevideo; empty: found from the place",
            ),
            FormField("note", "Station", friend.note, hint="a station file, or words of your own"),
        ]

        def check(entries: Mapping[str, str]) -> str:
            return "A friend needs a name." if not entries["name"] else desk.check_target(entries["place"])

        def take(entries: dict[str, str] | None) -> None:
            if entries is not None:
                card = FriendCard(entries["name"], entries["place"], entries["zone"], entries["note"])
                self.ask("stations", lambda cancelled: (desk.save_friend(card), None), card)

        self.push_screen(Form("Friend", fields, check, suggest=desk.suggest), take)

    def forget_friend(self, name: str) -> None:
        """Take a friend off the list."""
        desk = self.desk
        if desk is not None:
            self.ask("stations", lambda cancelled: (desk.forget_friend(name), None), name)


def _single_places(prefix: str) -> list[str]:
    """Names for where a station is; looked up in the background."""
    from tui.presenting.station_form import suggest

    return suggest(prefix)


def _saved(desk: Desk, entries: Mapping[str, str], path: str) -> tuple[str, str]:
    where = desk.save_form(entries, path)
    return f"Saved in {where}.", where
