"""The operator's choices: the forecast's choice, the cursor, the hours on air; and the cards to choose
from.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Final

import numpy as np

if TYPE_CHECKING:
    from propagation.antennas.spec import AntennaSpec, FeedlineSpec

USUAL_HOURS: Final = 4.0  # h on air by default, in the screens and in the command (ours)


@dataclass(frozen=True, slots=True)
class Trial:
    """A trial on all pages, in no file: an antenna with its feed line, a power, or both."""

    name: str  # in a few words
    antenna: AntennaSpec | None = None
    feedline: FeedlineSpec | None = None
    power_before_w: float | None = None  # the power to restore; None: no power is tried
    file: str = ""  # station file that the antenna is of, whose log's lesson applies to it
    unlearnt: bool = False  # corrections learnt from the log apply to the antenna on file and are left out

    @property
    def told(self) -> str:
        """The name, with a remark on what is left out during the trial."""
        return f"{self.name}, without your log's lesson" if self.unlearnt else self.name


@dataclass(frozen=True, slots=True)
class Choice:
    """The input of the day's forecast; two equal choices give the same day."""

    station: str  # path of the station file, or "" for the saved one or the demo
    target: str
    start: np.datetime64  # [s] the first time of the 24 hours on the screen
    mode: str
    power_w: float
    sky: int = 0  # counts up whenever the conditions change
    bench: int = 0  # counts up whenever the station file or its readings change
    tried: Trial | None = None

    @property
    def untried(self) -> Choice:
        """The choice without the trial."""
        before = self.tried.power_before_w if self.tried is not None else None
        return replace(self, tried=None, power_w=self.power_w if before is None else before)


@dataclass(frozen=True, slots=True)
class Cursor:
    """The cursor: a time, a band, a route."""

    time: np.datetime64  # [s]
    band: str
    long: bool = False


@dataclass(frozen=True, slots=True)
class Mark:
    """An event on the air other than a contact."""

    kind: str  # "in vain": called, no answer; "one way": heard, but not heard by the other station
    band: str
    when: np.datetime64  # [s]


@dataclass(frozen=True, slots=True)
class HoursOnAir:
    """Hours on air and target for the switching plan."""

    start: np.datetime64  # [s]
    hours: float
    target: str = ""  # empty: the target chosen on the other screens
    dead: tuple[tuple[str, np.datetime64], ...] = ()  # (band, time it was found dead), for the whole outing
    band: str = ""  # in use at the start, by the operator's choice; empty: as the plan finds best
    band_before: str = ""  # that the plan had then
    # events on the air, and the file of the contacts: neither changes the plan by itself
    marks: tuple[Mark, ...] = field(default=(), compare=False)
    log: str = field(default="", compare=False)
    bands: tuple[str, ...] = ()  # the only ones to use; empty: all that the antenna has
    plan: str = field(default="", compare=False)  # the name under which it is kept

    @property
    def end(self) -> np.datetime64:
        """The end of the hours on air [s]."""
        end: np.datetime64 = self.start + np.timedelta64(round(self.hours * 3600.0), "s")
        return end

    @property
    def dead_bands(self) -> tuple[str, ...]:
        """The bands found dead, without repetition."""
        return tuple(dict.fromkeys(band for band, _ in self.dead))


@dataclass(frozen=True, slots=True)
class StationCard:
    """A station on file."""

    path: str  # "" for the demo
    name: str
    place: str
    demo: bool = False


@dataclass(frozen=True, slots=True)
class FriendCard:
    """A friend on file."""

    name: str
    place: str
    zone: str = ""
    note: str = ""
    awake: str = ""  # spans of local time; empty: the usual ones
    free: str = ""


@dataclass(frozen=True, slots=True)
class Opening:
    """The data the first screen needs before any forecast: station, site, and the lists to choose from."""

    station: StationCard
    stations: tuple[StationCard, ...]
    friends: tuple[FriendCard, ...]
    target: str
    targets: tuple[str, ...]  # listed in the palette
    modes: tuple[str, ...]
    bands: tuple[str, ...]
    mode: str
    power_w: float
    note: str = ""  # a sentence if something on file could not be used
    time_zone: str = "UTC"  # of the station's place
