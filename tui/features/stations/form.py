"""Forms that make, change and delete stations and friends on file."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from propagation.base.errors import BandwhenError
from tui.app.app_base import AppBase
from tui.app.choice import FriendCard
from tui.app.queries import Cancelled, Command, Engine
from tui.kit.input_parsing import fault, labelled
from tui.kit.overlays import Reply


@dataclass(frozen=True)
class SaveStation(Command[str]):
    """Save a station. The answer is the file's path."""

    entries: Mapping[str, str]
    path: str  # empty for a new one

    group = "stations"
    says = "list of stations"

    def answer(self, engine: Engine, cancelled: Cancelled) -> str:
        """Write the file atomically."""
        from tui.app import station_form

        return station_form.save(self.entries, self.path)


@dataclass(frozen=True)
class SaveFriend(Command[str]):
    """Add or change a friend. The answer is a sentence."""

    friend: FriendCard

    group = "stations"
    says = "list of stations"

    def answer(self, engine: Engine, cancelled: Cancelled) -> str:
        """Write the list."""
        return engine.sites.save_friend(self.friend, "")


@dataclass(frozen=True)
class ForgetFriend(Command[str]):
    """Remove a friend from the list. The answer is a sentence."""

    name: str

    group = "stations"
    says = "list of stations"

    def answer(self, engine: Engine, cancelled: Cancelled) -> str:
        """Write the list without the friend."""
        return engine.sites.forget_friend(self.name)


def new_station(app: AppBase) -> None:
    """Make a new station: a few entries, defaults for the rest."""
    _station_form(
        app,
        "",
        "Your station: only the place must be filled in",
        "Enter goes on, and saves at the end: the forecast is then yours. Coax, ground and the rest have "
        "usual values; Ctrl-N shows them, and on the station screen (8) e changes every one.",
    )


def edit_station(app: AppBase, path: str) -> None:
    """Open a station's form."""
    _station_form(app, path, "Station" if path else "The demo station; saving makes it your own")


def _station_form(app: AppBase, path: str, title: str, note: str = "") -> None:
    from tui.app import station_form
    from tui.features.stations.answer import sketch_of
    from tui.features.stations.sketch import Sketch
    from tui.kit.first_step import FirstStep
    from tui.kit.form import Form, Helps

    try:
        fields = station_form.form(path)
    except BandwhenError as error:
        app.say(error.message, fault="form")
        return

    def saved(where: str) -> None:
        app.say(f"Saved in {where}.", refresh=False)
        opening = app.state.opening
        if where != path or opening is None or opening.station.path != path:
            app.use_station(where)
            return
        # the station in use was edited: keep the chosen mode and power unless the form changed them
        changed = {key for key, value in given.items() if before.get(key, value) != value}
        if "rig.mode" in changed:
            app.remember(mode="")
        if "rig.power_w" in changed:
            app.remember(power_w=0.0)
        app.open_station()

    before = {field.key: field.value for field in fields}
    given: dict[str, str] = {}

    def commit(entries: dict[str, str], reply: Reply) -> None:
        given.update(entries)
        app.commit(SaveStation(entries, path), saved, reply)

    def second(first: dict[str, str], rest: dict[str, str]) -> Form:
        kind = first["antenna.kind"]

        def check(entries: Mapping[str, str]) -> str:
            return station_form.check({**first, **entries})

        told = "Second step: what is saved is both steps together; Esc goes back to the first."
        lines = station_form.second_form(path, kind, rest)
        title = f"All else about the station, for the {kind}"

        def commit_both(entries: dict[str, str], reply: Reply) -> None:
            commit({**first, **entries}, reply)

        return Form(title, lines, check, note=told, commit=commit_both)

    sheet = FirstStep(
        title,
        fields,
        station_form.check,
        second,
        note=note,
        commit=commit,
        helps=Helps(station_form.suggest, station_form.guesses, station_form.meanings),
        hides=station_form.hidden,
        beside=Sketch(sketch_of),
    )
    app.push_screen(sheet)


def new_friend(app: AppBase) -> None:
    """Add a friend."""
    _friend_form(app, FriendCard("", ""))


def edit_friend(app: AppBase, name: str) -> None:
    """Open a friend's form."""
    opening = app.state.opening
    friends = opening.friends if opening is not None else ()
    _friend_form(app, next((friend for friend in friends if friend.name == name), FriendCard(name, "")))


def _friend_form(app: AppBase, friend: FriendCard) -> None:
    from tui.kit.form import Form, FormField, Helps

    if app.state.choice is None:
        return
    engine = app.engine
    fields = [
        FormField("name", "Name", friend.name),
        FormField("place", "Place", friend.place, place=True),
        FormField(
            "zone",
            "Time zone",
            friend.zone,
            hint="such as America/Montevideo; empty: the one guessed from the place",
        ),
        FormField(
            "awake", "When awake", friend.awake, "local time", hint="as 07:00-23:00; several with commas"
        ),
        FormField(
            "free", "When free", friend.free, "local time", hint="as 18:00-22:00; empty: whenever awake"
        ),
        FormField("note", "Station", friend.note, hint="a station file, or words of your own"),
    ]

    def check(entries: Mapping[str, str]) -> str:
        if not entries["name"]:
            return "Name: a friend needs a name."
        return (
            labelled("Place", engine.check_target(entries["place"]))
            or engine.sites.check_hours(entries["awake"], "When awake:")
            or engine.sites.check_hours(entries["free"], "When free:")
            or fault(lambda: engine.sites.check_friend(FriendCard(**entries)))
        )

    def guess(entries: Mapping[str, str]) -> dict[str, str]:
        from tui.app.station_form import zone_guess

        return {} if entries["zone"] else zone_guess("zone", entries["place"])

    def commit(entries: dict[str, str], reply: Reply) -> None:
        app.commit(SaveFriend(FriendCard(**entries)), app.lists_changed, reply)

    app.push_screen(
        Form(
            "Friend",
            fields,
            check,
            commit=commit,
            helps=Helps(engine.suggest, guess, engine.meanings),
        )
    )


def forget_friend(app: AppBase, name: str) -> None:
    """Remove a friend from the list."""
    app.ask(ForgetFriend(name), app.lists_changed)
