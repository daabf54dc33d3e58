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

from propagation.advice.common_bands import Common, Refusal, usable_bands
from propagation.advice.ranking import told_chance
from propagation.advice.region_chance import outlook
from propagation.base.errors import InputError
from propagation.base.units import BoolArray, FloatArray, IntArray, TimeArray, TimeLike
from propagation.geo.locator import Position
from propagation.signal.chances.forecast import forecast
from propagation.signal.chances.request import Request
from propagation.spectrum.modes import Mode
from propagation.station.friends import Friend
from propagation.station.station import AWAKE, Station, awake_minutes

STEP: Final = np.timedelta64(900, "s")  # grid of the search: appointments begin on quarter hours
DAYS: Final = 7  # default number of days
MOST_DAYS: Final = 60
MINUTES: Final = 30  # default length of an appointment
LEAST_CHANCE: Final = 0.05  # mean chance under which a slot is not proposed (ours)
APART: Final = np.timedelta64(2 * 3600, "s")  # slots proposed on one day begin at least so far apart (ours)
PER_DAY: Final = 2  # slots proposed for one day at most
NEAR: Final = np.timedelta64(3600, "s")  # a slot is moved so far to the time of day of another day's (ours)


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


@dataclass(frozen=True)
class SkedRow:
    """Slots at the same time of day on the same band, by date: one proposal for several days."""

    slots: tuple[SkedSlot, ...]

    @property
    def best(self) -> SkedSlot:
        """The likeliest of them."""
        return max(self.slots, key=lambda slot: slot.chance)

    @property
    def chance(self) -> float:
        """Mean chance over the days."""
        return float(np.mean([slot.chance for slot in self.slots]))


@dataclass(frozen=True)
class OneGetsUp:
    """The best hour that suits one end alone; who: the end that would have to get up, or to make time."""

    start: np.datetime64
    band: str
    chance: float
    who: Literal["home", "far"]
    asleep: bool  # else awake, but not free


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
    gets_up: OneGetsUp | None = None

    @property
    def rows(self) -> tuple[SkedRow, ...]:
        """The slots with those that repeat on several days as one row, best first."""
        groups: dict[tuple[np.timedelta64, str], list[SkedSlot]] = {}
        for slot in self.slots:
            groups.setdefault((_time_of_day(slot.start), slot.band), []).append(slot)
        rows = [SkedRow(tuple(sorted(one, key=lambda slot: slot.start))) for one in groups.values()]
        return tuple(sorted(rows, key=lambda row: (-round(row.chance, 3), row.slots[0].start)))

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
    most: int = 14,
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
    candidates, refused = usable_bands(request, far_station)
    home_suits, far_suits = home.suits(times), far.suits(times)
    chance = np.full((times.size, len(candidates)), np.nan)
    either = np.flatnonzero(home_suits | far_suits)
    months = times[either].astype("datetime64[M]")
    for month in np.unique(months) if candidates else ():  # a forecast uses the maps of one month
        rows_of_month = either[months == month]
        bands = [row.band for row in candidates]
        result = forecast(replace(request, times=times[rows_of_month], bands=bands))
        chance[rows_of_month] = outlook(result).chance
    gets_up = _gets_up(times, chance, candidates, (home_suits, far_suits), (home, far), minutes)
    chance[~(home_suits & far_suits)] = np.nan
    slots = _slots(times, chance, candidates, home, minutes, most)
    if gets_up is not None and slots and told_chance(gets_up.chance) <= told_chance(slots[0].chance):
        gets_up = None
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
        gets_up,
    )


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
    mean = _means(chance, quarters)
    best_band = np.argmax(np.nan_to_num(mean, nan=-1.0), axis=1)
    best = np.nan_to_num(mean, nan=-1.0)[np.arange(best_band.size), best_band]
    chosen: list[int] = []
    per_day: dict[str, int] = {}
    for first in np.argsort(-np.round(best, 3), kind="stable").tolist():
        if best[first] < LEAST_CHANCE or len(chosen) >= most:
            break
        i = _as_on_other_days(first, times, best, best_band, chosen)
        day = f"{home.local(times[i]):%Y-%m-%d}"
        if per_day.get(day, 0) >= PER_DAY or any(abs(times[i] - times[j]) < APART for j in chosen):
            continue
        chosen.append(i)
        per_day[day] = per_day.get(day, 0) + 1
    chosen.sort(key=lambda i: (-round(float(best[i]), 3), i))
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


def _means(chance: FloatArray, quarters: int) -> FloatArray:
    """Mean chance (starts, B) of the stretch that begins at each time; NaN where any of it does not suit."""
    window = np.lib.stride_tricks.sliding_window_view(chance, quarters + 1, axis=0)
    return np.asarray(np.mean(0.5 * (window[..., 1:] + window[..., :-1]), axis=-1))


def _time_of_day(time: np.datetime64) -> np.timedelta64:
    since: np.timedelta64 = time - time.astype("datetime64[D]").astype(time.dtype)
    return since


def _as_on_other_days(
    i: int, times: TimeArray, best: FloatArray, best_band: IntArray, chosen: Sequence[int]
) -> int:
    """The same band at the time of day of a slot chosen on another day, where as much is told of it."""
    for j in chosen:
        shift = _time_of_day(times[j]) - _time_of_day(times[i])
        k = i + round(shift / STEP)
        if best_band[j] != best_band[i] or abs(shift) > NEAR or not 0 <= k < best.size:
            continue
        if best_band[k] == best_band[i] and told_chance(best[k]) >= told_chance(best[i]):
            return k
    return i


def _gets_up(
    times: TimeArray,
    chance: FloatArray,
    candidates: Sequence[Common],
    suits: tuple[BoolArray, BoolArray],
    parties: tuple[Party, Party],
    minutes: int,
) -> OneGetsUp | None:
    """The likeliest stretch that suits one end alone; None where no band is likely enough in any.

    suits (T,), parties: of home and of the far end.
    """
    quarters = minutes // 15
    best: OneGetsUp | None = None
    if not candidates or times.size <= quarters:
        return best
    whos: tuple[Literal["home", "far"], ...] = ("home", "far")
    for who, sleeper, theirs, others in zip(whos, parties, suits, suits[::-1], strict=True):
        mean = _means(np.where((others & ~theirs)[:, None], chance, np.nan), quarters)
        mean = np.nan_to_num(mean, nan=-1.0)
        i, band = (int(at) for at in np.unravel_index(int(np.argmax(np.round(mean, 3))), mean.shape))
        if mean[i, band] >= max(LEAST_CHANCE, best.chance if best is not None else 0.0):
            asleep = not bool(replace(sleeper, free="").suits(times[i]))
            best = OneGetsUp(times[i], candidates[band].band.name, float(mean[i, band]), who, asleep)
    return best


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


def first_rows(found: Sked, count: int) -> Sked:
    """The same with the likeliest `count` rows; a row is one proposal, however often it repeats."""
    kept = [slot for row in found.rows[:count] for slot in row.slots]
    slots = sorted(kept, key=lambda slot: slot.rank)
    return replace(found, slots=tuple(replace(slot, rank=n) for n, slot in enumerate(slots, start=1)))


def in_order(rows: Sequence[SkedRow], sort: str) -> list[SkedRow]:
    """Rows by chance, by the time of day UTC ("time"), or by date ("day")."""
    if sort == "time":
        return sorted(rows, key=lambda row: (_time_of_day(row.slots[0].start), -row.chance))
    if sort == "day":
        return sorted(rows, key=lambda row: row.slots[0].start)
    return list(rows)
