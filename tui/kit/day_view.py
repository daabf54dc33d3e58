"""The view of the day on every band."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final, Protocol

import numpy as np

from propagation.advice.ranking import told_rate
from propagation.advice.rates import Prospect
from propagation.base.units import BoolArray, FloatArray, IntArray, TimeArray

if TYPE_CHECKING:
    from propagation.advice.rates import Rates
    from propagation.advice.windows import Window

LEAST_FULL_PER_H: Final = 5.0  # contacts an hour of a full lane, at least: a poor day looks poor (ours)


@dataclass(frozen=True)
class SunDay:
    """The sun over one end of the path through the day."""

    place: str
    elevation_deg: FloatArray  # (T,) elevation of the sun's centre [deg]
    rise: np.datetime64 | None
    set: np.datetime64 | None
    polar: str | None = None  # "day" or "night" if the sun neither rises nor sets


class Stay(Protocol):
    """A span of time on a band: of a plan, a log, or an appointment."""

    @property
    def band(self) -> str: ...
    @property
    def start(self) -> np.datetime64: ...
    @property
    def end(self) -> np.datetime64: ...


@dataclass(frozen=True)
class DayView:
    """The day on every band: the content of the opening screen."""

    site: str
    target: str
    distance_km: float
    bearing_deg: float
    mode: str
    power_w: float
    times: TimeArray  # (T,)
    bands: tuple[str, ...]
    frequency_mhz: FloatArray  # (B,)
    chance: FloatArray  # (B, T) share of days, or chance of a few contacts in an hour with a region [0..1]
    worth: FloatArray  # (B, T) share of days, or contacts an hour over the most there can be [0..1]
    ranked: FloatArray  # (B, T) the worth by which bands are compared
    hope: FloatArray  # (B, T) probability of a contact with large stations [0..1]
    cause: IntArray  # (B, T) codes of propagation.signal.rays.causes.CAUSES
    elevation_deg: FloatArray  # (B, T) take-off angle of the leading mode [deg], NaN where none
    route: IntArray  # (B, T) 0 short, 1 long
    home: SunDay
    far: SunDay
    windows: tuple[Window, ...] = ()
    plan: Sequence[Stay] = ()
    dead: tuple[str, ...] = ()  # bands the operator found dead on this outing
    setup: tuple[str, ...] = ()  # (B,) antenna setting, in a few words
    radiated_share: FloatArray = field(default_factory=lambda: np.zeros(0))  # (B,) [0..1]
    left_out: tuple[tuple[str, str], ...] = ()  # (band, reason)
    sky_line: str = ""
    demo: bool = False
    wanted: int = 0  # contacts in an hour that the chance applies to, for an area; 0 for a place
    rates: Rates | None = None  # (B, T) contacts an hour with a region
    first_min: IntArray = field(default_factory=lambda: np.zeros((0, 0), dtype=np.int64))  # (B, T) minutes
    first_chance: FloatArray = field(default_factory=lambda: np.zeros((0, 0)))  # of the wanted within them
    on_air: FloatArray = field(default_factory=lambda: np.zeros((0, 0)))  # (B, T) stations of a region
    whom: tuple[tuple[str, ...], ...] = ()  # (B, T) stations to expect in a region, in words
    measured: tuple[np.datetime64, np.datetime64] | None = None  # layer measurement and end of its effect
    events: tuple[tuple[str, str], ...] = ()  # (T,) a flare or proton event, short and as a sentence
    instead: tuple[str, ...] = ()  # (T,) result of a narrower mode where there is none in this one, in words
    ground_wave: BoolArray = field(default_factory=lambda: np.zeros((0, 0), dtype=np.bool_))  # (B, T) or none

    def prospect(self, band: int, index: int) -> Prospect:
        """What a band promises at a time."""
        rate = self.rates.at(band, index) if self.rates is not None else None
        return Prospect(float(self.chance[band, index]), rate, self.wanted)

    @property
    def full_per_h(self) -> float:
        """Contacts an hour of a full lane."""
        return LEAST_FULL_PER_H if self.rates is None else full_lane_per_h(self.rates.middle)

    @property
    def fill(self) -> FloatArray:
        """Fill of the lanes (B, T), 0 to 1: days, or contacts an hour over those of a full lane."""
        return self.chance if self.rates is None else np.minimum(self.rates.middle / self.full_per_h, 1.0)

    def event(self, index: int) -> tuple[str, str]:
        """The flare or proton event on the path at a time, as label and sentence; empty if there is none."""
        return self.events[index] if self.events else ("", "")

    def by_ground(self, band: int, index: int) -> bool:
        """Return whether the leading mode of a band and time is the ground wave."""
        return bool(self.ground_wave.size and self.ground_wave[band, index])

    def index_of(self, when: np.datetime64) -> int:
        """The column with the time nearest to `when`."""
        return int(np.abs(self.times - when).argmin())


NAMED_FROM: Final = 1e-4  # days, or contacts an hour, below which no band of a season is named (ours)


def full_lane_per_h(per_hour: FloatArray) -> float:
    """Contacts an hour of a full lane: the most there are, and at least `LEAST_FULL_PER_H`."""
    return max(float(told_rate(np.max(np.nan_to_num(per_hour), initial=0.0))), LEAST_FULL_PER_H)
