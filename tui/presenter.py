"""The desk of the screens, answered by the engine; every answer is a frozen view or one sentence.

Imported only after the first picture stands on the screen, and used only from background threads, except for
`hop`, `measure` and the checks of forms, which take milliseconds.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from propagation.base.errors import BandwhenError, InputError
from propagation.geo.locator import Position
from propagation.station import friends
from tui import clock, experience, paths
from tui.jobs import Cancelled
from tui.presenting import bench, day, hop, reach, sky, station_form
from tui.presenting.day import Kept
from tui.presenting.sites import Sites
from tui.state import Choice, Cursor, FriendCard, Opening, PlanWish
from tui.views import (
    BenchView,
    DayView,
    FormField,
    HopView,
    PlanView,
    ReachView,
    ReadingView,
    SkedView,
    SkyView,
    WhyView,
)


class EngineDesk:
    """Answers from the engine."""

    def __init__(self, now: Callable[[], np.datetime64] = clock.now) -> None:
        self.now = now
        self.sites = Sites()

    # -- station and day ------------------------------------------------------------------------

    def open(self, station: str, target: str) -> Opening:
        """Read the station and the lists."""
        return self.sites.open(station, target)

    def day(self, choice: Choice, cancelled: Cancelled) -> tuple[DayView, Any]:
        """The day on every band."""
        kept = day.work_out(self.sites, choice, self.now())
        return day.view_of(kept, self.now(), self._demo(choice)), kept

    @staticmethod
    def _demo(choice: Choice) -> bool:
        return not choice.station or choice.station == str(paths.demo_station_file())

    def hop(self, result: Any, cursor: Cursor) -> HopView | None:
        """The cross-section at the cursor."""
        return hop.hop_view(result, cursor)

    def why(self, choice: Choice, result: Any, cursor: Cursor, cancelled: Cancelled) -> WhyView:
        """Ledger, causes, changes."""
        from tui.presenting import why

        return why.why_view(result, cursor, hop.hop_view(result, cursor))

    def rulers(self, choice: Choice, result: Any, cursor: Cursor, cancelled: Cancelled) -> ReachView:
        """The rulers, and the chart without its footprint."""
        return reach.rulers(result, cursor)

    def footprint(
        self, choice: Choice, result: Any, reach_view: ReachView, cursor: Cursor, cancelled: Cancelled
    ) -> ReachView:
        """The same with the footprint."""
        return replace(reach_view, map=reach.footprint(result, reach_view.map, cursor, cancelled))

    # -- bench ----------------------------------------------------------------------------------

    def bench(self, choice: Choice, cancelled: Cancelled) -> BenchView:
        """The antenna on every band, and what the log says of it."""
        own = self.sites.chosen(choice)
        view = bench.bench_view(self.sites.near(choice), own, choice.mode)
        said = experience.remarks(own, choice.station or paths.demo_station_file())
        return replace(view, cautions=(*said, *view.cautions))

    def helps(self, choice: Choice, bench_view: BenchView, cancelled: Cancelled) -> BenchView:
        """The bench with what would help."""
        return bench.with_helps(bench_view, self.sites.chosen(choice), cancelled)

    def reading_fields(self, choice: Choice, band: str) -> Sequence[FormField]:
        """What to ask for at the analyser."""
        from tui.presenting import analyser

        return analyser.fields(self.sites.chosen(choice), band)

    def measure(self, choice: Choice, band: str, entries: Mapping[str, str]) -> ReadingView:
        """What analyser readings say."""
        from tui.presenting import analyser

        return analyser.reading(self.sites.near(choice), self.sites.chosen(choice), band, entries)

    def touchstone(self, choice: Choice, band: str, file: str) -> ReadingView:
        """The same from a Touchstone file."""
        from tui.presenting import analyser

        return analyser.from_file(self.sites.near(choice), self.sites.chosen(choice), band, file)

    def keep_measure(self, choice: Choice, band: str, entries: Mapping[str, str]) -> str:
        """Store readings with the station."""
        from tui.presenting import analyser

        return analyser.keep(
            self.sites.near(choice),
            self.sites.station(choice.station),
            band,
            entries,
            choice.station,
            self.now(),
        )

    # -- sky ------------------------------------------------------------------------------------

    def sky(self, choice: Choice, now: np.datetime64) -> SkyView:
        """The conditions in use."""
        return sky.sky_view(now, choice.start, self._site(choice))

    def _site(self, choice: Choice) -> Position:
        return self.sites.station(choice.station).site.position

    def fetch(self, choice: Choice, now: np.datetime64, cancelled: Cancelled) -> str:
        """Get the space weather."""
        return sky.fetch(now, cancelled)

    def sky_fields(self, now: np.datetime64) -> Sequence[FormField]:
        """What can be typed in."""
        return sky.fields(now)

    def check_sky(self, entries: Mapping[str, str], now: np.datetime64) -> str:
        """A sentence where what is typed in cannot be used."""
        return sky.check(entries, now)

    def type_in(self, entries: Mapping[str, str], now: np.datetime64) -> str:
        """Set conditions by hand."""
        return sky.type_in(entries, now)

    def heard(
        self, choice: Choice, entries: Mapping[str, str], now: np.datetime64, cancelled: Cancelled
    ) -> str:
        """Take what was heard, or not, on a band."""
        aimed = replace(choice, target=entries["from"])
        was_heard = entries["heard"].lower() == "yes"
        return sky.keep_station_report(
            self.sites.chosen(choice), self.sites.target(aimed), entries["band"], was_heard, now
        )

    def beacons(self, choice: Choice, now: np.datetime64) -> Sequence[tuple[str, str]]:
        """The beacons on the air now."""
        return sky.beacons_now(now, self._site(choice))

    def beacon_heard(self, choice: Choice, key: str, was_heard: bool, now: np.datetime64) -> str:
        """Take a beacon as heard, or not."""
        return sky.keep_beacon_report(self.sites.chosen(choice), key, was_heard, now)

    # -- plan and appointment -------------------------------------------------------------------

    def plan(self, choice: Choice, wish: PlanWish, cancelled: Cancelled) -> PlanView:
        """The switching plan."""
        from tui.presenting import plan

        return plan.plan_view(self.sites, choice, wish, self.now())

    def sked(self, choice: Choice, cancelled: Cancelled) -> SkedView:
        """Appointments with the target."""
        from tui.presenting import sked

        return sked.sked_view(self.sites, choice, self.now())

    def export(self, kind: str, view: object) -> str:
        """Write a plan or an appointment to a file."""
        from tui.presenting import export

        return export.write(view, self.now())

    # -- names, forms, lists --------------------------------------------------------------------

    def suggest(self, prefix: str, limit: int = 8) -> list[str]:
        """Names a target could become."""
        return friends.suggest(prefix, self._known(), limit)

    def check_target(self, text: str) -> str:
        """A sentence where a target is not understood."""
        try:
            friends.resolve(text, self._known(), Position(0.0, 0.0))
        except BandwhenError as error:
            return error.message
        return ""

    def _known(self) -> Sequence[friends.Friend]:
        try:
            return self.sites.friends("")
        except BandwhenError:
            return ()

    def form(self, path: str) -> Sequence[FormField]:
        """The lines of a station's form."""
        return station_form.form(path)

    def check_form(self, entries: Mapping[str, str]) -> str:
        """A sentence where the form is not yet right."""
        return station_form.check(entries)

    def save_form(self, entries: Mapping[str, str], path: str) -> str:
        """Save a station."""
        return station_form.save(entries, path)

    def save_friend(self, friend: FriendCard) -> str:
        """Add or change a friend."""
        return self.sites.save_friend(friend, "")

    def forget_friend(self, name: str) -> str:
        """Take a friend off the list."""
        return self.sites.forget_friend(name)


__all__ = ["EngineDesk", "InputError", "Kept"]
