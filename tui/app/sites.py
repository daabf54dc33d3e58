"""Stations, friends and targets on file, and the cache of the terminals made from them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from propagation.base.errors import BandwhenError, InputError
from propagation.base.files import is_file, locked
from propagation.base.units import TimeArray
from propagation.geo import regions
from propagation.geo.gazetteer import fold
from propagation.geo.locator import Position, locator_of
from propagation.geo.places import AmbiguousPlaceError
from propagation.geo.regions import Target
from propagation.signal.chances.request import Request
from propagation.space_weather.state.conditions import Conditions
from propagation.spectrum import bands, modes
from propagation.station import friends, station
from propagation.station.friends import Friend
from propagation.station.station import AWAKE, Station, awake_minutes
from propagation.station.terminals import Terminal, far_terminal, own_terminal
from tui.app import learnt_store, paths
from tui.app.choice import Choice, FriendCard, Opening, StationCard

if TYPE_CHECKING:
    from propagation.logbook.kept_offset import Learnt

OFFERED = ("anyone", "Europe", "North America", "South America", "Africa", "Asia", "Oceania", "within 500 km")
KEPT = 8  # terminals in the cache
_KINDS = {"country": "the country", "continent": "the continent", "division": "part of a country"}
SUGGESTED = 8  # names suggested at a time


@dataclass
class Sites:
    """The data on file; terminals are cached, because computing an antenna takes about a second."""

    _near: dict[object, Terminal] = field(default_factory=dict)
    _far: dict[object, Terminal] = field(default_factory=dict)
    _in_use: str = ""  # path of the station in use; the demo's friends belong to the demo only

    # -- reading --------------------------------------------------------------------------------

    def open(self, wish: str, target: str) -> Opening:
        """Open the station given, else the saved one, else the demo; with the lists to choose from."""
        note = ""
        path = wish or (str(paths.station_file()) if paths.station_file().is_file() else "")
        try:
            found = self.station(path)
        except BandwhenError as error:
            note = f"{error.message} The demo is shown instead."
            path, found = "", self.station("")
        try:
            known = self.friends(path)
        except BandwhenError as error:
            note = note or error.message
            known = ()
        aim = target
        if aim:
            try:
                friends.resolve(aim, known, found.site.position)
            except BandwhenError:
                aim = ""
        aim = _spelling(aim, known) if aim else known[0].name if known else "anyone"
        self._in_use = path
        usable = tuple(band.name for band in bands.BANDS if found.usable(band))
        return Opening(
            station=_card(path, found),
            stations=self._stations(path, found),
            friends=tuple(
                FriendCard(f.name, f.place, f.time_zone, f.words or f.station or f.note, f.awake, f.free)
                for f in known
            ),
            target=aim,
            targets=OFFERED,
            modes=tuple(modes.MODE_NAMES),
            bands=usable,
            mode=found.rig.mode,
            power_w=found.power_w,
            note=note,
            time_zone=found.site.zone.key,
        )

    def station(self, path: str) -> Station:
        """A station by its path; the empty path is the demo."""
        return station.load(path or paths.demo_station_file())

    def friends(self, path: str) -> tuple[Friend, ...]:
        """The friends on file; the demo's own if there are none."""
        file = paths.friends_file()
        if file.is_file():
            return friends.load(file)
        return (
            friends.load(paths.demo_friends_file())
            if not path and paths.demo_friends_file().is_file()
            else ()
        )

    def _stations(self, path: str, found: Station) -> tuple[StationCard, ...]:
        cards = {path: _card(path, found)}
        folder = paths.stations_dir()
        files = [paths.station_file(), *(sorted(folder.glob("*.toml")) if folder.is_dir() else [])]
        for file in files:
            if file.is_file() and str(file) not in cards:
                try:
                    cards[str(file)] = _card(str(file), station.load(file))
                except BandwhenError as error:
                    cards[str(file)] = StationCard(str(file), file.stem, f"cannot be read: {error.message}")
        if "" not in cards:
            cards[""] = _card("", self.station(""))
        return tuple(cards.values())

    def suggest(self, prefix: str) -> list[str]:
        """Names of targets that begin with the prefix."""
        return friends.suggest(prefix, self._known(), SUGGESTED)

    def check_target(self, text: str) -> str:
        """An error sentence if a target is not understood; else empty."""
        try:
            friends.resolve(text, self._known(), Position(0.0, 0.0))
        except BandwhenError as error:
            return error.message
        return ""

    def meanings(self, text: str) -> tuple[str, ...]:
        """The full names of the places with a name, if there are several; otherwise empty."""
        try:
            friends.resolve(text, self._known(), Position(0.0, 0.0))
        except AmbiguousPlaceError as error:
            return error.choices
        except BandwhenError:
            pass
        return ()

    def target_meanings(self, text: str) -> tuple[str, ...]:
        """The meanings of a target: those of a place, and the friends whose names begin with the text."""
        known = self._known()
        try:
            found = friends.resolve(text, known, Position(0.0, 0.0))
        except BandwhenError:
            return self.meanings(text)
        if friends.by_name(text, known) is not None:
            return ()
        others = tuple(friend.name for friend in known if fold(friend.name).startswith(fold(text)))
        return (*others, found.name) if others else ()

    def spelling(self, text: str) -> str:
        """A target as it is spelt: the friend's name, or that of the region or place."""
        return _spelling(text, self._known())

    def about(self, name: str) -> str:
        """Return what a target is, in a few words: a friend and where, or the kind of region."""
        known = self._known()
        friend = friends.by_name(name, known)
        if friend is not None:
            return f"a friend, {friend.place}"
        try:
            found = friends.resolve(name, known, Position(0.0, 0.0))
        except BandwhenError:
            return ""
        if found.kind == "place":
            return "one station there"
        return f"{_KINDS.get(regions.kind_of(found), 'a region')}, any station"

    def _known(self) -> Sequence[Friend]:
        try:
            return self.friends(self._in_use)
        except BandwhenError:
            return ()

    # -- input of a forecast --------------------------------------------------------------------

    def target(self, choice: Choice) -> Target:
        """The target of a choice."""
        site = self.station(choice.station).site.position
        return friends.resolve(choice.target, self.friends(choice.station), site)

    def named_place(self, choice: Choice, text: str) -> tuple[str, Position]:
        """A place by its name, with its full name; the friends of a choice's station come first."""
        return friends.named_place(text, self.friends(choice.station))

    def friend(self, choice: Choice) -> Friend | None:
        """The friend that is the target, if it is one."""
        return friends.by_name(choice.target, self.friends(choice.station))

    def chosen(self, choice: Choice) -> Station:
        """The station with the mode and power in use, and with the trial antenna, if any."""
        found = self.station(choice.station)
        if choice.tried is not None and choice.tried.antenna is not None:
            line = choice.tried.feedline or found.feedline
            found = replace(found, antenna=choice.tried.antenna, feedline=line)
        mode = modes.by_name(choice.mode).name
        return replace(found, rig=replace(found.rig, power_w=choice.power_w, mode=mode))

    def leaves_lesson_out(self, choice: Choice) -> bool:
        """Return whether the trial leaves out the corrections learnt from the log that apply without it."""
        file = choice.station or str(paths.demo_station_file())
        untried = learnt_store.in_force(self.station(choice.station), file)
        return untried is not None and self._taught(choice, self.chosen(choice))[1] is None

    def lesson_file(self, choice: Choice) -> str:
        """The station file whose log's lesson applies to a choice: of the one tried, if its lesson does."""
        return self._taught(choice, self.chosen(choice))[0]

    @staticmethod
    def _taught(choice: Choice, chosen: Station) -> tuple[str, Learnt | None]:
        """The file whose lesson applies to the antenna of a choice, and the lesson, if there is one."""
        own = choice.station or str(paths.demo_station_file())
        of_tried = choice.tried.file if choice.tried is not None else ""
        for file in (own, of_tried) if of_tried else (own,):
            learnt = learnt_store.in_force(chosen, file)
            if learnt is not None:
                return file, learnt
        return own, None

    def near(self, choice: Choice) -> Terminal:
        """The operator's terminal, with the corrections learnt from the log."""
        chosen = self.chosen(choice)
        file, learnt = self._taught(choice, chosen)
        return _kept(self._near, (chosen, learnt), lambda: learnt_store.own_terminal(chosen, file))

    def far(self, choice: Choice) -> Terminal:
        """The other terminal: the friend's file, the friend's words, or the station's usual far end."""
        friend = self.friend(choice)
        if friend is not None:
            file = friend.full_station(paths.friends_folder())
            if file is not None:
                return _kept(self._far, file, lambda: own_terminal(file))
            words = friend.far_end()
            return _kept(self._far, words, lambda: far_terminal(words))
        usual = self.station(choice.station).far_end
        return _kept(self._far, usual, lambda: far_terminal(usual))

    def request(self, choice: Choice, times: TimeArray, conditions: Conditions) -> Request:
        """The request for a forecast of a choice; its terminals are cached."""
        return Request(
            self.chosen(choice), self.target(choice), times, conditions, mode=choice.mode,
            power_w=choice.power_w, near=self.near(choice), far=self.far(choice),
        )  # fmt: skip

    def far_station(self, choice: Choice) -> Station | None:
        """The other station's file, if a friend has one."""
        friend = self.friend(choice)
        return friend.full_station(paths.friends_folder()) if friend is not None else None

    def check_hours(self, text: str, what: str) -> str:
        """An error sentence if hours of the day are not understood; else empty."""
        try:
            if text:
                awake_minutes(text, what)
        except BandwhenError as error:
            return error.message
        return ""

    # -- writing --------------------------------------------------------------------------------

    def save_friend(self, card: FriendCard, path: str) -> str:
        """Add a friend, or replace one of the same name."""
        file = paths.friends_file()
        with locked(file):
            known = friends.load(file) if is_file(file) else ()
            made, rest = _taken_in(card, known)
            friends.save(friends.add(rest, made), file)
        return f"{made.name} is on the list, at {made.place_name}."

    def check_friend(self, card: FriendCard) -> None:
        """Raise InputError if a friend cannot be saved like this."""
        file = paths.friends_file()
        known = friends.load(file) if is_file(file) else ()
        made, rest = _taken_in(card, known)
        friends.add(rest, made)

    def forget_friend(self, name: str) -> str:
        """Remove a friend from the list."""
        if not paths.friends_file().is_file():
            raise InputError("The demo's friends come with the program and stay.")
        friends.change(paths.friends_file(), lambda known: friends.remove(known, name))
        return f"{name} is off the list."


def _spelling(text: str, known: Sequence[Friend]) -> str:
    """A target's own name, where that means the same; otherwise the text."""
    friend = friends.by_name(text, known)
    if friend is not None:
        return friend.name
    try:
        found = friends.resolve(text, known, Position(0.0, 0.0))
        again = friends.resolve(found.name, known, Position(0.0, 0.0))
    except BandwhenError:
        return text
    names = (found.name, found.name.split(",")[0])
    if found.kind == "place" and fold(text) not in map(fold, names):
        return text  # an address longer than the name
    same = again.kind == found.kind and np.array_equal(again.lat_deg, found.lat_deg)
    return found.name if same else text


def _taken_in(card: FriendCard, known: Sequence[Friend]) -> tuple[Friend, tuple[Friend, ...]]:
    """The friend made from a card, and the others of the list."""
    same = friends.by_name(card.name, known)
    given = {"place": card.place, "time_zone": card.zone, "station": "", "words": ""}
    given |= {"awake": card.awake or AWAKE, "free": card.free}
    if same is not None:
        given |= {"note": same.note}
    if card.note.endswith(".toml"):
        given["station"] = card.note
    elif same is None or card.note != same.note:
        given["words"] = card.note
    return Friend(card.name, **given), tuple(f for f in known if f is not same)


def _card(path: str, found: Station) -> StationCard:
    demo = not path or Path(path) == paths.demo_station_file()
    return StationCard(
        path, found.name or (Path(path).stem if path else "demo"), place_of(found.site.position), demo
    )


def place_of(position: Position) -> str:
    """A position as a locator."""
    return locator_of(position.lat_deg, position.lon_deg)


def _kept(shelf: dict[object, Terminal], key: object, make: Callable[[], Terminal]) -> Terminal:
    if key not in shelf:
        while len(shelf) >= KEPT:
            shelf.pop(next(iter(shelf)))
        shelf[key] = make()
    return shelf[key]
