"""Operator's list of friends: names, places, stations, and hours awake.

A TOML file with one `[[friend]]` table each:

    [[friend]]
    name = "Ana"
    place = "GF25"                       # a locator, lat,lon, or a town
    station = "ana.toml"                 # a station file next to this one, or plain words instead:
    # words = "100 W, dipole at 10 m, residential"  (noise also as "S5 on 40 m": read from an S meter)
    time_zone = "America/Montevideo"     # default: that of the nearest town
    awake = "07:00-23:00"                # local time; several spans with commas; default: 07:00-23:00
    free = "18:00-22:00"                 # likewise; default: whenever awake
    note = "evenings after the news"

Reading is strict: an unknown key, a duplicate name, or an unknown word is an error.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass, field
from functools import cached_property
from pathlib import Path
from typing import Any, Final
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from propagation.base.errors import InputError
from propagation.base.files import is_file, locked
from propagation.base.strict_toml import (
    build,
    check_names,
    nearest,
    parse,
    read_text,
    require_table,
    values,
    write_atomically,
    written,
)
from propagation.base.text import one_line, visible_name
from propagation.geo import places, regions
from propagation.geo.gazetteer import fold
from propagation.geo.locator import Position
from propagation.geo.regions import Target
from propagation.spectrum.noise import READING_WORDS, reading_of
from propagation.station.station import AWAKE, FarEnd, Station, awake_minutes
from propagation.station.station import load as load_station

LONGEST_TEXTS: Final = {
    "words": 200,
    "awake": 200,
    "free": 200,
    "time_zone": 100,
    "station": 1000,
    "note": 2000,
}  # ours

_POWER = re.compile(r"(?<!\d)(\d{1,9}(?:\.\d{1,9})?)\s{0,9}(k?w|watts?|kilowatts?)(?![a-z])")
_HEIGHT = re.compile(
    r"(?:at|up)?\s{0,9}(?<!\d)(\d{1,9}(?:\.\d{1,9})?)\s{0,9}(m|metres?|meters?|ft|feet)(?![a-z])"
    r"(?:\s{1,9}(?:up|high))?"
)
_METRES_PER_FOOT: Final = 0.3048  # m, international foot (exact)
_ANTENNAS: Final[tuple[tuple[str, str], ...]] = (  # words, longest first -> kind of antenna
    ("half-wave vertical", "half-wave vertical"),
    ("loaded vertical", "loaded vertical"),
    ("sloping end-fed", "sloping end-fed"),
    ("sloping dipole", "sloping dipole"),
    ("mobile whip", "loaded vertical"),
    ("short vertical", "loaded vertical"),
    ("inverted vee", "inverted v"),
    ("inverted v", "inverted v"),
    ("end-fed wire", "sloping end-fed"),
    ("end-fed", "sloping end-fed"),
    ("end fed", "sloping end-fed"),
    ("sloper", "sloping dipole"),
    ("vertical", "vertical"),
    ("dipole", "dipole"),
    ("beam", "yagi"),
    ("yagi", "yagi"),
    ("whip", "loaded vertical"),
)
_NOISES: Final[tuple[tuple[str, str], ...]] = (
    ("quiet rural", "quiet rural"),
    ("very quiet", "quiet rural"),
    ("residential", "residential"),
    ("countryside", "rural"),
    ("suburb", "residential"),
    ("rural", "rural"),
    ("quiet", "quiet rural"),
    ("town", "residential"),
    ("city", "city"),
    ("noisy", "city"),
)
_FILLERS: Final = frozenset(
    (
        "a",
        "an",
        "and",
        "at",
        "in",
        "of",
        "on",
        "over",
        "the",
        "with",
        "up",
        "wire",
        "antenna",
        "noise",
        "area",
    )
)


@dataclass(frozen=True)
class Friend:
    """Friend of the operator.

    name: as the operator says it, kept as it is seen (`visible_name`). place: as typed. station: file name,
    or empty. words: the station in plain words, or empty. time_zone: IANA name, or empty for the nearest
    town's. awake, free: spans of local time; free empty: whenever awake.
    """

    name: str
    place: str
    station: str = ""
    words: str = ""
    time_zone: str = ""
    awake: str = AWAKE
    free: str = ""
    note: str = ""
    _where: tuple[str, Position] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        if len(self.name) > places.LONGEST_NAME:
            raise InputError(f"A friend's name is longer than {places.LONGEST_NAME} characters; shorten it.")
        object.__setattr__(self, "name", visible_name(self.name))
        if not fold(self.name):
            raise InputError('A friend has no name; write name = "..." with at least one letter.')
        for key, most in LONGEST_TEXTS.items():
            if len(getattr(self, key)) > most:
                raise InputError(f"{self.name}: {key} is longer than {most} characters; shorten it.")
        try:
            object.__setattr__(self, "_where", places.named_place(self.place))
        except InputError as error:
            raise InputError(f"{self.name}: {error.message}") from None
        if self.station and self.words:
            raise InputError(f"{self.name}: give a station file or plain words, not both.")
        try:
            _far_end(self.words)
            awake_minutes(self.awake)
            if self.free:
                awake_minutes(self.free, "free")
        except InputError as error:
            raise InputError(f"{self.name}: {error.message}") from None
        self.zone  # noqa: B018 - an unknown time zone is refused at once

    @property
    def position(self) -> Position:
        """Position of the friend."""
        return self._where[1]

    @property
    def place_name(self) -> str:
        """Full name of the place."""
        return self._where[0]

    @cached_property
    def zone(self) -> ZoneInfo:
        """Time zone of the friend, given or based on the nearest town."""
        name = self.time_zone or places.time_zone(self.position)
        try:
            return ZoneInfo(name)
        except (ZoneInfoNotFoundError, ValueError, OSError):
            raise InputError(
                f'{self.name}: the time zone {name!r} is not known; write it as "America/Montevideo".'
            ) from None

    @property
    def target(self) -> Target:
        """Friend as a target of one point."""
        return regions.point(one_line(self.name), self.position, f"at {self.place_name}")

    def full_station(self, folder: Path | str) -> Station | None:
        """Station from the friend's file, searched in `folder`; None where there is no file."""
        if not self.station:
            return None
        return load_station(Path(folder) / self.station)

    def far_end(self) -> FarEnd:
        """Far end from the plain words; the usual far end gives the rest."""
        return _far_end(self.words)


def _far_end(words: str) -> FarEnd:
    """Parse plain words as the far end of a contact, "100 W, dipole at 10 m, residential"."""
    given: dict[str, Any] = {}
    rest = words.lower()
    found = READING_WORDS.search(rest)
    if found:
        given["noise_reading"] = asdict(reading_of(found[0]))
        rest = rest.replace(found[0], " ", 1)
    rest = rest.replace(",", " ").replace(";", " ")
    found = _POWER.search(rest)
    if found:
        given["power_w"] = float(found[1]) * (1000.0 if found[2].startswith("k") else 1.0)
        rest = rest.replace(found[0], " ", 1)
    found = _HEIGHT.search(rest)
    if found:
        given["height_m"] = float(found[1]) * (1.0 if found[2].startswith("m") else _METRES_PER_FOOT)
        rest = rest.replace(found[0], " ", 1)
    rest = " ".join(rest.split())
    for key, table in (("antenna", _ANTENNAS), ("noise", _NOISES)):
        for phrase, meaning in table:
            if re.search(rf"\b{phrase}\b", rest):
                given[key] = meaning
                rest = re.sub(rf"\b{phrase}\b", " ", rest, count=1)
                break
    unknown = [word for word in rest.split() if word.strip(".") and word not in _FILLERS]
    if unknown:
        known = [phrase for table in (_ANTENNAS, _NOISES) for phrase, _ in table]
        near = nearest(unknown[0], known)
        hint = (
            f"did you mean {near!r}?" if near else 'write for example "100 W, dipole at 10 m, residential".'
        )
        raise InputError(f"the words {words!r} are not understood at {unknown[0]!r}; {hint}")
    where = f"the words {words!r}"
    result: FarEnd = build(FarEnd, values(FarEnd, given, where), where)
    return result


def loads(text: str, where: str = "the friends") -> tuple[Friend, ...]:
    """Read the friends from a TOML text; `where` names the text in errors."""
    data = parse(text, where)
    check_names(data, ["friend"], where, "table")
    tables = data.get("friend", [])
    if not isinstance(tables, list):
        raise InputError(f"{where}: write each friend under [[friend]], with two brackets.")
    friends: list[Friend] = []
    for number, table in enumerate(tables, start=1):
        place = f"{where}: friend {number}"
        given = values(Friend, require_table(table, place), place)
        friends.append(build(Friend, given, place))
    _refuse_twins(friends, where)
    return tuple(friends)


def load(path: Path | str) -> tuple[Friend, ...]:
    """Read the friends from a file. Raises InputError for any error in it."""
    return loads(read_text(path), str(path))


def dumps(friends: Sequence[Friend]) -> str:
    """Return the friends as TOML text for `loads`; defaults are left out."""
    blocks = []
    for friend in friends:
        lines = ["[[friend]]"]
        for key in ("name", "place", "station", "words", "time_zone", "awake", "free", "note"):
            value = getattr(friend, key)
            if value and not (key == "awake" and value == AWAKE):
                lines.append(f"{key} = {written(value)}")
        blocks.append("\n".join(lines) + "\n")
    return "\n".join(blocks)


def save(friends: Sequence[Friend], path: Path | str) -> None:
    """Write the file atomically."""
    _refuse_twins(friends, "the friends")
    write_atomically(path, dumps(friends))


def add(friends: Sequence[Friend], friend: Friend) -> tuple[Friend, ...]:
    """Return the list with the friend added. InputError where the name is taken."""
    if any(fold(other.name) == fold(friend.name) for other in friends):
        raise InputError(
            f"There is a friend {friend.name!r} already; remove that one first, or use another name."
        )
    return (*friends, friend)


def remove(friends: Sequence[Friend], name: str) -> tuple[Friend, ...]:
    """Return the list without a friend. InputError with the nearest name where the name is unknown."""
    gone = find(friends, name)
    return tuple(friend for friend in friends if friend is not gone)


def find(friends: Sequence[Friend], name: str) -> Friend:
    """The friend of a name, capitals and accents aside; InputError with the nearest name otherwise."""
    friend = by_name(name, friends)
    if friend is not None:
        return friend
    shown = _nearest_name(name, friends)
    hint = f"did you mean {shown!r}?" if shown else "'bandwhen friends list' shows who is there."
    raise InputError(f"There is no friend {name!r}; {hint}")


def by_name(text: str, friends: Sequence[Friend]) -> Friend | None:
    """The friend of exactly this name, capitals and accents aside; None where there is none."""
    wanted = fold(visible_name(text[: places.LONGEST_NAME]))
    return next((friend for friend in friends if fold(friend.name) == wanted), None)


def inside(target: Target, friends: Sequence[Friend], site: Position) -> tuple[Friend, ...]:
    """The friends whose places are in a region; site: the centre of a ring."""
    return tuple(friend for friend in friends if regions.contains(target, friend.position, site))


def named_place(text: str, friends: Sequence[Friend]) -> tuple[str, Position]:
    """As `places.named_place`, with the friends' names first: ("Ana, GF25", Position(...))."""
    friend = by_name(text, friends)
    if friend is not None:
        return f"{one_line(friend.name)}, {friend.place_name}", friend.position
    return places.named_place(text)


def resolve(text: str, friends: Sequence[Friend], site: Position | None = None) -> Target:
    """As `places.resolve`, with the friends' names first."""
    friend = by_name(text, friends)
    if friend is not None:
        return friend.target
    try:
        return places.resolve(text, site)
    except places.AmbiguousPlaceError:
        raise
    except InputError as error:
        near = _nearest_name(text, friends)
        if near is None:
            raise
        raise InputError(f"{error.message} A friend of yours is called {near!r}.") from None


def _nearest_name(text: str, friends: Sequence[Friend]) -> str | None:
    """Friend's name closest to a misspelt text, if any."""
    near = nearest(fold(text), [fold(friend.name) for friend in friends])
    return next((friend.name for friend in friends if fold(friend.name) == near), None)


def suggest(prefix: str, friends: Sequence[Friend], limit: int = 8) -> list[str]:
    """Suggest names as `places.suggest`, with the friends' names first."""
    wanted = fold(prefix)
    own = [friend.name for friend in friends if fold(friend.name).startswith(wanted)]
    return list(dict.fromkeys(own + places.suggest(prefix, limit)))[: max(limit, 0)]


def change(path: Path | str, how: Callable[[tuple[Friend, ...]], Sequence[Friend]]) -> None:
    """Read the list (empty where there is none), change it and write it, under a lock.

    how: function from the old list to the new list. If it raises, the file stays unchanged.
    """
    with locked(path):
        save(how(load(path) if is_file(path) else ()), path)


def _refuse_twins(friends: Sequence[Friend], where: str) -> None:
    seen: set[str] = set()
    for friend in friends:
        if fold(friend.name) in seen:
            raise InputError(
                f"{where}: the friend {friend.name!r} stands there twice, or two look alike; change one."
            )
        seen.add(fold(friend.name))
