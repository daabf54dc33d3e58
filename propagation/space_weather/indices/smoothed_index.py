"""Ionospheric index of a day: the index of its month, corrected by the daily flux.

The monthly index IG12 (`SolarHistory.index_at`) gives the level; the daily flux corrects it:

    index(day) = IG12 + k (g(F) - g(F12))

g is the relation of index and flux (`solar_index.index_from_flux`), F12 the smoothed flux, F = (F3 + F81) / 2
of the daily flux *brought to 1 AU*. So two things do not enter the daily correction: differences of flux and
ionosphere that last for years, and the 3 % by which the flux varies with the Earth's distance over the year:
each month's map was made from that month's measurements and contains it. F3 is the mean of the day and the
two before it (the layer follows the flux by about a day: common practice, no source), F81 the mean over the
81 days around the day. The half-and-half proxy is that of Richards, Fennelly and Torr (1994), from memory.

k is less than 1: of what the flux of single months departs from its smoothed course the ionosphere follows
only six tenths. That can be read from the published IG12 itself (`solar_index.following`).
"""

from __future__ import annotations

from typing import Final

import numpy as np

from propagation.base.time_series import shifted
from propagation.base.units import BoolArray, FloatArray, IntArray, TimeArray, as_float
from propagation.geo.sun import distance_au
from propagation.space_weather.indices.solar_history import DAY, SolarHistory
from propagation.space_weather.indices.solar_index import LOWEST_INDEX, following, index_from_flux

FADE_DAYS: Final = 27.0  # days, one rotation of the sun: so long an unrenewed flux counts for the index
MEMORY_DAYS: Final = 81.0  # days, three rotations: so long the flux stays off its smoothed course
FLUX_HOUR: Final = np.timedelta64(20 * 3600, "s")  # the daily flux is that of 20 UT, the observatory's noon
BURST_RATIO: Final = 1.25  # a daily flux this far from the median of its week is a burst, not the background


def _median(rows: FloatArray) -> FloatArray:
    """Median of each row, NaN left out; every row has a number. numpy's own imports masked arrays for it."""
    ordered, known = np.sort(rows, axis=1), np.sum(~np.isnan(rows), axis=1)
    row = np.arange(len(rows))
    return as_float(0.5 * (ordered[row, (known - 1) // 2] + ordered[row, known // 2]))


def without_bursts(flux_sfu: FloatArray) -> FloatArray:
    """Daily flux [sfu, 1-D, NaN allowed] with radio bursts (a day over 25 % off its week's median) taken out.

    The published list contains radio bursts of flares as they were measured: 939 sfu on
    7 March 2011 between days of 143 and 167. The ionosphere does not follow it.
    """
    if len(flux_sfu) < 7:
        return flux_sfu
    padded = np.pad(flux_sfu, 3, constant_values=np.nan)
    weeks = np.lib.stride_tricks.sliding_window_view(padded, 7)
    known = ~np.isnan(flux_sfu)
    median = np.full(len(flux_sfu), np.nan)
    median[known] = _median(weeks[known])
    with np.errstate(invalid="ignore"):
        burst = (flux_sfu > BURST_RATIO * median) | (flux_sfu < median / BURST_RATIO)
    return np.where(burst, median, flux_sfu)


def effective_index(
    days: TimeArray, flux_sfu: FloatArray, history: SolarHistory, trusted: BoolArray | None = None
) -> tuple[FloatArray, FloatArray]:
    """Effective index and complete daily flux from a daily flux with holes.

    days: [datetime64[D]] without gaps; flux_sfu: as observed, NaN where unknown; returns (index on the scale
    of R12, flux [sfu]), both as long as days. Away from known days the index fades into the monthly index
    within FADE_DAYS, the flux into its smoothed course within MEMORY_DAYS. trusted: days never taken
    for a radio burst, because somebody typed them in.
    """
    noons = shifted(days, FLUX_HOUR)
    smooth = history.flux_at(noons)
    monthly = history.index_at(noons)
    known = ~np.isnan(flux_sfu)
    if not known.any():
        return monthly, smooth
    cleaned = without_bursts(flux_sfu)
    measured = cleaned if trusted is None else np.where(trusted, flux_sfu, cleaned)
    index = np.arange(len(days))
    last = np.maximum.accumulate(np.where(known, index, -1))
    upcoming = np.minimum.accumulate(np.where(known, index, len(days))[::-1])[::-1]
    since = np.where(last >= 0, index - last, len(days))
    until = np.where(~known & (upcoming < len(days)), upcoming - index, len(days))
    weight_last, weight_next = _fading(since, MEMORY_DAYS), _fading(until, MEMORY_DAYS)

    def filled(departure: FloatArray) -> FloatArray:
        """Departures of known days, and of the days around them fading with the distance in time."""
        before = departure[np.maximum(last, 0)]
        after = departure[np.minimum(upcoming, len(days) - 1)]
        total = np.where(weight_last > 0.0, weight_last * before, 0.0)
        total += np.where(weight_next > 0.0, weight_next * after, 0.0)
        return total / np.maximum(weight_last + weight_next, 1.0)

    at_1_au = smooth + filled(measured * distance_au(noons) ** 2 - smooth)
    three_days = (at_1_au + _days_before(at_1_au, 1) + _days_before(at_1_au, 2)) / 3.0
    proxy = (three_days + _mean_around(at_1_au, 40)) / 2.0
    above = following() * (index_from_flux(proxy) - index_from_flux(smooth))
    weight = np.minimum(_fading(since, FADE_DAYS) + _fading(until, FADE_DAYS), 1.0)
    return np.maximum(monthly + weight * above, LOWEST_INDEX), smooth + filled(measured - smooth)


def _fading(days_away: IntArray, length_days: float) -> FloatArray:
    """1 on a known day, falling to 0 at a distance."""
    return np.clip(1.0 - days_away / length_days, 0.0, 1.0)


def _days_before(values: FloatArray, days: int) -> FloatArray:
    return np.concatenate([np.full(days, values[0]), values[:-days]])


def _mean_around(values: FloatArray, half_width: int) -> FloatArray:
    """Mean over the values up to half_width away on both sides, fewer at the ends."""
    total = np.concatenate([[0.0], np.cumsum(values)])
    index = np.arange(len(values))
    low, high = np.maximum(index - half_width, 0), np.minimum(index + half_width + 1, len(values))
    return as_float((total[high] - total[low]) / (high - low))


def history_days(history: SolarHistory) -> TimeArray:
    """Every day [datetime64[D]] of the monthly table."""
    first, last = history.month_middles[[0, -1]].astype("datetime64[D]")
    return np.arange(first, last + DAY)
