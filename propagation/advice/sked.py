"""Appointment between two stations: the hours that suit both, the band, and the fallback.

Both ends state in their own time zone when they are awake and, optionally, when they are free. The time zone
includes daylight saving. Bands are those inside both licences that both antennas tune, on a frequency that
both may use. Over the coming days every stretch of the wanted length is rated by its mean chance on its best
band.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from typing import Final, Literal
from zoneinfo import ZoneInfo

import numpy as np

from propagation.advice.region_chance import outlook
from propagation.base.errors import InputError
from propagation.base.units import BoolArray, FloatArray, TimeArray, TimeLike
from propagation.geo.locator import Position
from propagation.signal.chances.forecast import TUNED_FROM, forecast
from propagation.signal.chances.request import Request
from propagation.spectrum.bands import BANDS, Band, itu_region, segment_mhz
from propagation.spectrum.modes import Mode
from propagation.spectrum.national import National
from propagation.station.friends import Friend
from propagation.station.station import AWAKE, Station, awake_minutes
from propagation.station.terminals import Terminal

STEP: Final = np.timedelta64(900, "s")  # grid of the search: appointments begin on quarter hours
DAYS: Final = 7  # default number of days
MOST_DAYS: Final = 60
MINUTES: Final = 30  # default length of an appointment
LEAST_CHANCE: Final = 0.05  # mean chance under which a slot is not proposed (ours)
APART: Final = np.timedelta64(2 * 3600, "s")  # slots proposed on one day begin at least so far apart (ours)
PER_DAY: Final = 2  # slots proposed for one day at most


@dataclass(frozen=True)
class Party:
    """One end: its name, place, clock and hours. awake, free: spans of local time; free empty: all day."""

    name: str
    position: Position
    zone: ZoneInfo
    awake: str = AWAKE
    free: str = ""

    def suits(self, times: TimeLike) -> BoolArray:
        """Return whether the party is awake and free at times [UTC], any shape."""
        local = self.local_minutes(times)
        suited = _inside(local, self.awake)
        return suited & _inside(local, self.free) if self.free else suited

    def local_minutes(self, times: TimeLike) -> FloatArray:
        """Minutes of the local day at times [UTC], with daylight saving; any shape."""
        stamps = np.asarray(times, dtype="datetime64[s]")
        quarters, back = np.unique(stamps.astype("datetime64[m]").astype(np.int64) // 15, return_inverse=True)
        shift = np.array([_offset_minutes(self.zone, q * 15) for q in quarters.tolist()], dtype=np.float64)
        minute = stamps.astype("datetime64[s]").astype(np.int64) / 60.0
        return np.asarray((minute + shift[back].reshape(stamps.shape)) % 1440.0)

    def local(self, time: np.datetime64) -> datetime:
        """Convert a UTC time to the party's clock."""
        seconds = int(time.astype("datetime64[s]").astype(np.int64))
        return datetime.fromtimestamp(seconds, UTC).astimezone(self.zone)


def _offset_minutes(zone: ZoneInfo, minute: int) -> float:
    offset = datetime.fromtimestamp(minute * 60, UTC).astimezone(zone).utcoffset()
    return 0.0 if offset is None else offset.total_seconds() / 60.0


def _inside(minute_of_day: FloatArray, spans: str) -> BoolArray:
    inside = np.zeros(minute_of_day.shape, dtype=bool)
    for start, end in awake_minutes(spans):
        if start < end:
            inside |= (minute_of_day >= start) & (minute_of_day < end)
        else:
            inside |= (minute_of_day >= start) | (minute_of_day < end)
    return inside


def party_of_station(station: Station, awake: str = "", free: str = "") -> Party:
    """Operator's own end; hours that are not given are those of the station file."""
    awake, free = awake or station.site.awake, free or station.site.free
    return Party(station.name or "here", station.site.position, station.site.zone, awake, free)


def party_of_friend(friend: Friend) -> Party:
    """Friend's end, awake and free as in the list of friends."""
    return Party(friend.name, friend.position, friend.zone, friend.awake, friend.free)


Refusal = Literal[
    "licence of both",  # neither end may use the emission on the band
    "own licence",
    "their licence",
    "no common part",  # both may, but their parts of the band do not overlap
    "own antenna",  # it does not tune there
    "their antenna",
]


@dataclass(frozen=True)
class Common:
    """Band that both may use: the frequency range common to both segments [MHz], or why there is none."""

    band: Band
    low_mhz: float
    high_mhz: float
    refused: Refusal | None = None

    @property
    def frequency_mhz(self) -> float:
        """The middle of the common range, to the kilohertz."""
        return round((self.low_mhz + self.high_mhz) / 2.0, 3)


def common_bands(
    station: Station, far_station: Station | None, far_position: Position, mode: Mode,
    bands: Sequence[Band] = BANDS,
) -> list[Common]:  # fmt: skip
    """Every band with the range of it that both ends may use for a mode.

    far_station: the other end's, if known; else its ITU region by its place.
    """
    region, country = station.site.region, station.limits.country
    far_region: int = itu_region(far_position.lat_deg, far_position.lon_deg)
    far_country: National | None = None
    if far_station is not None:
        far_region, far_country = far_station.site.region, far_station.limits.country
    found = []
    for band in bands:
        own = segment_mhz(band, region, mode, country) if station.usable(band, mode) else None
        theirs = segment_mhz(band, far_region, mode, far_country)
        if far_station is not None and not far_station.usable(band, mode):
            theirs = None
        refused: Refusal | None = None
        low, high = 0.0, 0.0
        if own is None:
            refused = "licence of both" if theirs is None else "own licence"
        elif theirs is None:
            refused = "their licence"
        else:
            low, high = max(own[0], theirs[0]), min(own[1], theirs[1])
            if high <= low:
                refused = "no common part"
        found.append(Common(band, low, high, refused))
    return found


@dataclass(frozen=True)
class Fallback:
    """Fallback where the slot's band is dead: another band at the same time, or a later slot."""

    band: str
    frequency_mhz: float
    start: np.datetime64
    chance: float


@dataclass(frozen=True)
class SkedSlot:
    """One proposed appointment, times in UTC; chance: mean over it."""

    rank: int
    start: np.datetime64
    end: np.datetime64
    band: str
    frequency_mhz: float
    chance: float
    fallback: Fallback | None


@dataclass(frozen=True, eq=False)
class Sked:
    """All proposals, best first, and the data they were chosen from.

    times (T,): the quarter hours of all days; home_suits, far_suits (T,); chance (T, B) of the bands
    `candidates`, NaN where the hour does not suit both. refused: (band, why) of those that cannot be used.
    """

    home: Party
    far: Party
    mode: Mode
    slots: tuple[SkedSlot, ...]
    times: TimeArray
    home_suits: BoolArray
    far_suits: BoolArray
    chance: FloatArray
    candidates: tuple[Common, ...]
    refused: tuple[tuple[str, Refusal], ...]

    @property
    def hours_both(self) -> float:
        """Hours a day that suit both."""
        both = self.home_suits & self.far_suits
        return float(np.mean(both)) * 24.0


def sked(
    request: Request,
    home: Party,
    far: Party,
    *,
    far_station: Station | None = None,
    minutes: int = MINUTES,
    most: int = 10,
) -> Sked:
    """Propose appointments between the first and the last time of the request (UTC), on the bands of both.

    request: its target is the far end's place. far_station: the other station, if known, for its licence.
    minutes: length of a slot, a multiple of fifteen. most: number of slots. Raises InputError for impossible
    lengths and spans.
    """
    if not 15 <= minutes <= 240 or minutes % 15:
        raise InputError(
            f"An appointment of {minutes} minutes is not possible: give 15 to 240, in quarter hours."
        )
    times = _quarter_hours(request.times[0], request.times[-1])
    candidates, refused = _usable_bands(request, far_station)
    home_suits, far_suits = home.suits(times), far.suits(times)
    both = np.flatnonzero(home_suits & far_suits)
    chance = np.full((times.size, len(candidates)), np.nan)
    months = times[both].astype("datetime64[M]")
    for month in np.unique(months) if candidates else ():  # a forecast uses the maps of one month
        rows_of_month = both[months == month]
        bands = [row.band for row in candidates]
        result = forecast(replace(request, times=times[rows_of_month], bands=bands))
        chance[rows_of_month] = outlook(result).chance
    slots = _slots(times, chance, candidates, home, minutes, most)
    return Sked(
        home,
        far,
        request.emission,
        slots,
        times,
        home_suits,
        far_suits,
        chance,
        tuple(candidates),
        tuple(refused),
    )


def _usable_bands(
    request: Request, far_station: Station | None
) -> tuple[list[Common], list[tuple[str, Refusal]]]:
    """Bands that both ends may use and tune, and the other bands with the reason."""
    ends = request.terminals
    place = request.target.centre
    usable: list[Common] = []
    refused: list[tuple[str, Refusal]] = []
    for row in common_bands(request.station, far_station, place, request.emission):
        f = np.array([row.frequency_mhz])
        if row.refused is not None:
            refused.append((row.band.name, row.refused))
        elif _untuned(ends.near, f):
            refused.append((row.band.name, "own antenna"))
        elif _untuned(ends.far, f):
            refused.append((row.band.name, "their antenna"))
        else:
            usable.append(row)
    return usable, refused


def _untuned(end: Terminal, frequency_mhz: FloatArray) -> bool:
    return bool(end.receive_efficiency(frequency_mhz)[0] < TUNED_FROM)


def _quarter_hours(start: np.datetime64, end: np.datetime64) -> TimeArray:
    """The quarter hours (T,) from `start` to `end`. Raises InputError for a bad span."""
    seconds = int(start.astype("datetime64[s]").astype(np.int64))
    first = np.datetime64(-(-seconds // 900) * 900, "s")
    if end <= first:
        raise InputError("The days named are over; name later ones.")
    days = int(np.ceil((end - first) / np.timedelta64(1, "D")))
    if days > MOST_DAYS:
        raise InputError(f"{days} days ahead are not possible: give 1 to {MOST_DAYS}.")
    times: TimeArray = np.arange(first, end + np.timedelta64(1, "s"), STEP)
    return times


def _slots(
    times: TimeArray, chance: FloatArray, candidates: Sequence[Common], home: Party, minutes: int,
    most: int,
) -> tuple[SkedSlot, ...]:  # fmt: skip
    """Best slots: greedy by mean chance, at most two a local day and two hours apart."""
    quarters = minutes // 15
    if not candidates or times.size <= quarters:
        return ()
    window = np.lib.stride_tricks.sliding_window_view(
        chance, quarters + 1, axis=0
    )  # (starts, B, quarters + 1)
    mean = np.mean(0.5 * (window[..., 1:] + window[..., :-1]), axis=-1)  # NaN where any of it does not suit
    best_band = np.argmax(np.nan_to_num(mean, nan=-1.0), axis=1)
    best = np.nan_to_num(mean, nan=-1.0)[np.arange(best_band.size), best_band]
    chosen: list[int] = []
    per_day: dict[str, int] = {}
    for i in np.argsort(-np.round(best, 3), kind="stable").tolist():
        if best[i] < LEAST_CHANCE or len(chosen) >= most:
            break
        day = f"{home.local(times[i]):%Y-%m-%d}"
        if per_day.get(day, 0) >= PER_DAY or any(abs(times[i] - times[j]) < APART for j in chosen):
            continue
        chosen.append(i)
        per_day[day] = per_day.get(day, 0) + 1
    slots = []
    for rank, i in enumerate(chosen, start=1):
        band = candidates[int(best_band[i])]
        slots.append(
            SkedSlot(
                rank=rank, start=times[i], end=times[i + quarters], band=band.band.name,
                frequency_mhz=band.frequency_mhz, chance=float(best[i]),
                fallback=_fallback(times, mean, candidates, i, quarters),
            )
        )  # fmt: skip
    return tuple(slots)


def _fallback(
    times: TimeArray, mean: FloatArray, candidates: Sequence[Common], i: int, quarters: int
) -> Fallback | None:
    """The second-best band at the same time, or any band directly after, whichever is likelier."""
    own = int(np.nanargmax(mean[i]))
    now = np.nan_to_num(mean[i].copy(), nan=-1.0)
    now[own] = -1.0
    options = [(float(np.max(now)), i, int(np.argmax(now)))]
    if i + quarters < mean.shape[0]:
        later = np.nan_to_num(mean[i + quarters].copy(), nan=-1.0)
        later[own] = -1.0  # a band that is dead now is no fallback for later
        options.append((float(np.max(later)), i + quarters, int(np.argmax(later))))
    chance, at, band = max(options, key=lambda option: (option[0], -option[1]))
    if chance < LEAST_CHANCE:
        return None
    return Fallback(candidates[band].band.name, candidates[band].frequency_mhz, times[at], chance)
