"""Evidence of each entry of a log about the station's true level, given that it is in the log at all.

A log holds only successes. So the fact of a contact is no evidence; its strength is. For an offset o [dB] on
the station's level in both directions, an entry's likelihood is

    L(o) = P(reports and success | o) / P(success | o).

The day's SNR is distributed as in the forecast (layers, signal and noise from day to day, another station of
unknown antenna). The success is soft about the required SNR. The reports are noisy measurements:

- A report in dB (digital modes, reception reports) measures the SNR in 2500 Hz. It saturates: on a crowded
  channel strong signals are reported far below their SNR, weak ones as they are. The report tends to a
  ceiling, which differs between receivers and hours. Neither the usual ceiling nor its spread is assumed: an
  entry has one likelihood for each of CEILINGS_DB, those of a spread of ceilings are their weighted sums, and
  the log as a whole decides between such spreads. So a strong signal teaches little.
- The reports that the operator gave depend on the other station's power, which is not known. They are a group
  of their own (`HEARD_BACK`), with a spread of powers and a common error that the log decides.
- A strength digit 1 to 8 measures the SNR over the required SNR on a coarse scale, given that it is no 9. The
  two reports of a contact, by ear or in dB, are weighted separately.
- A strength of 9 may be habit, whatever the signal. It is left out, so habits need not be known.
- Where a receiver was listening and did not hear the station, L(o) = 1 - q P(success | o): a censored
  measurement.

With a small chance an entry does not depend on the forecast's path (another path, a typing error). This
bounds the evidence of any single entry. Entries without a usable report give L = 1 and are left out.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from functools import cache, lru_cache
from typing import Final

import numpy as np
import numpy.typing as npt

from propagation.advice.outing_estimate import Kind, OutingEvent
from propagation.base.units import BoolArray, FloatArray, IntArray, as_float
from propagation.ionosphere.sporadic_e import DECILE_Z
from propagation.ionosphere.variability import SIGNAL_LOWER_DB, SIGNAL_UPPER_DB, normal_cdf
from propagation.logbook.columns import Columns
from propagation.logbook.entries import BACK, OUT, LogEntries
from propagation.logbook.expected import LEVELS_DB, Expected
from propagation.logbook.journal import Made
from propagation.logbook.prefixes import origin
from propagation.signal.chances.link_budget import UNKNOWN_STATION_DB

OFFSETS_DB: Final[FloatArray] = np.arange(-42.0, 43.0)  # dB, offsets at which a likelihood is computed
STATION_SD_DB: Final = UNKNOWN_STATION_DB / DECILE_Z  # dB, spread of other stations about the usual one
SUCCESS_SOFT_DB: Final = 2.0  # dB, standard deviation of the SNR required by operators and decoders (ours)
REPORT_SD_DB: Final = 4.0  # dB, of a report in dB about the SNR, with what saturates of it (ours)
DECODER_SD_DB: Final = 3.0  # dB, the same without what saturates: decoder and fading (ours)
STRENGTH_SD_DB: Final = 6.0  # dB, of a strength digit about the SNR (ours)
STRENGTH_STEP_DB: Final = (
    3.5  # dB of SNR for one step of the strength scale (ours; a meter's step is 6 dB of level)
)
STRENGTH_AT_NEED: Final = 2.0  # strength at the required SNR: "very weak signals" (ours)
SAME_CONTACT: Final = 0.6  # weight of each of two reports of one contact, which share its path (ours)
# Ceilings of reports over the required SNR [dB] (ours); the last is none. A log of seven years in a crowded
# mode had signals promised at +20 dB reported at -10 dB, 11 dB over the required SNR.
CEILINGS_DB: Final = (*np.arange(-3.0, 36.1, 3.0).tolist(), 60.0)
WEAKEST_DB: Final = -3.0  # dB over the required SNR, report of decoders for all that is no stronger (ours)
FAR_POWER_SD_DB: Final = 5.0  # dB, spread of unknown far powers, from 5 W to 1 kW about 100 W (ours)
MOST_PER_BAND: Final = 500  # entries of a band that are used; more only repeat the shared errors (ours)
ASTRAY: Final = 0.002  # chance that an entry does not depend on the forecast's path (ours)
ASTRAY_SD_DB: Final = 20.0  # dB, spread of the levels of such entries
LISTENING: Final = (
    0.8  # chance that a receiver known to be on the band would have reported a signal it could hear (ours)
)
BLOCK_ROWS: Final = 1000  # rows in one block: some 100 MB of working memory

WORKERS: Final = 2  # blocks computed at a time
Likelihood = npt.NDArray[np.float32]

NOTHING, DECIBELS, STRENGTH, UNDER_NINE = range(4)
_STRENGTH = re.compile(r"([1-5])([1-9N])([1-9NT]?)(?:\s*\+.*|\s+\d+\s*DB)?", re.ASCII)
_NOISE_STEP_DB: Final = 1.0  # dB, to which the noise's spread is rounded, so that few curves are needed
_WIDE_DB: Final[FloatArray] = np.arange(-260.0, 261.0)  # dB, levels over the need at which curves are tabled
_noise_nodes, _noise_weights = np.polynomial.hermite_e.hermegauss(10)
_noise_weights = _noise_weights / _noise_weights.sum()
EAR, HEARD_OUT, HEARD_BACK = GROUPS = range(3)


@dataclass(frozen=True, eq=False)
class Readings(Columns):
    """Reports of one direction, (n,): kind (NOTHING, DECIBELS, STRENGTH or UNDER_NINE), decibels or digit."""

    kind: IntArray
    value: FloatArray

    @classmethod
    def alike(cls, kind: IntArray) -> Readings:
        """Readings of kinds that have no value."""
        return cls(kind, as_float(kind))

    def only(self, some: BoolArray) -> Readings:
        """The readings of some rows, and NOTHING in the others."""
        return Readings(np.where(some, self.kind, NOTHING), self.value)

    def under_nine(self) -> Readings:
        """Readings with a strength that was given and was no 9."""
        return self.alike(np.where(self.kind == STRENGTH, UNDER_NINE, NOTHING))


@dataclass(frozen=True, eq=False)
class Evidence:
    """Likelihoods over CEILINGS_DB and OFFSETS_DB of entries with evidence, (m, C, O), single precision.

    Each is relative to the largest of its entry. weight (m,): power to which an entry's counts. row (m,):
    number of the entry. group (m,): EAR (strength digits), HEARD_OUT (dB, measured elsewhere, or at
    home with a known far power) or HEARD_BACK (dB, measured at home, the far power unknown).
    """

    row: IntArray
    likelihood: Likelihood
    weight: FloatArray
    group: IntArray


def strength(report: str) -> int:
    """Strength digit of a report, 1 to 9: "57" is 7, "599" and "5NN" are 9; 0 where there is none."""
    found = _STRENGTH.fullmatch(report.strip().upper())
    if found is None:
        return 0
    return 9 if found[2] == "N" else int(found[2])


def reports_of(texts: tuple[str, ...], measured_db: FloatArray) -> tuple[IntArray, FloatArray]:
    """Kind (NOTHING, DECIBELS or STRENGTH) and value of reports, (n,) each: decibels or digit."""
    known: dict[str, int] = {}
    digit = np.array([known.setdefault(text, strength(text)) for text in texts], dtype=np.int64)
    kind = np.where((digit > 0) & (digit < 9), STRENGTH, NOTHING)
    in_db = np.isfinite(measured_db)
    kind = np.where(in_db, DECIBELS, kind)
    value = np.where(in_db, np.round(np.nan_to_num(measured_db)), digit)
    return kind.astype(np.int64), as_float(value)


def evidence_of(entries: LogEntries, expected: Expected) -> Evidence:
    """Compute the evidence of entries with their forecast; of many, MOST_PER_BAND of a band in even steps."""
    out_kind, out_value = reports_of(entries.received, entries.out_db)
    back_kind, back_value = reports_of(entries.sent, entries.back_db)
    out_kind = np.where(entries.direction == BACK, NOTHING, out_kind)
    back_kind = np.where(entries.direction == OUT, NOTHING, back_kind)
    rows = _in_even_steps(
        entries, ((out_kind != NOTHING) | (back_kind != NOTHING)) & np.isfinite(expected.chance)
    )
    entries, expected = entries.take(rows), _with_far_powers(entries.take(rows), expected.take(rows))
    out, back = Readings(out_kind, out_value).take(rows), Readings(back_kind, back_value).take(rows)
    metered = (out.kind == DECIBELS) | (back.kind == DECIBELS)
    weight = np.where((out.kind != NOTHING) & (back.kind != NOTHING), SAME_CONTACT, 1.0)
    nothing = Readings.alike(np.full(rows.size, NOTHING))
    known = np.isfinite(entries.far_power_w)
    found = []
    for group, there, here in (
        (HEARD_OUT, out.only(out.kind == DECIBELS), nothing),
        (HEARD_OUT, nothing, back.only((back.kind == DECIBELS) & known)),
        (HEARD_BACK, nothing, back.only((back.kind == DECIBELS) & ~known)),
        (EAR, out.only((out.kind == STRENGTH) & ~metered), nothing),
        (EAR, nothing, back.only((back.kind == STRENGTH) & ~metered)),
    ):
        row, likelihood = _of_kind(entries, expected, there, here)
        found.append((row, likelihood, weight[row], np.full(row.size, group)))
    row, likelihood, power, group_of = (np.concatenate(parts) for parts in zip(*found, strict=True))
    return Evidence(rows[row], likelihood, power, group_of)


def _in_even_steps(entries: LogEntries, usable: BoolArray) -> IntArray:
    """Rows that are usable, at most MOST_PER_BAND of a band, in even steps through its time."""
    band = np.array(entries.band, dtype=object)
    parts = []
    for name in sorted(set(entries.band)):
        rows = np.flatnonzero(usable & (band == name))
        step = np.linspace(0, rows.size, min(rows.size, MOST_PER_BAND), endpoint=False).astype(np.int64)
        parts.append(rows[step])
    return np.sort(np.concatenate(parts)) if parts else np.zeros(0, dtype=np.int64)


def _with_far_powers(entries: LogEntries, expected: Expected) -> Expected:
    """Forecast with the spread of unknown far powers added to that of the noise at home."""
    spread = np.where(np.isfinite(entries.far_power_w), 0.0, FAR_POWER_SD_DB)[:, None]
    return replace(expected, back_noise_db=np.hypot(expected.back_noise_db, spread))


def _of_kind(
    entries: LogEntries, expected: Expected, there: Readings, here: Readings
) -> tuple[IntArray, Likelihood]:
    """Rows that have such readings, and their evidence."""

    def work(part: IntArray) -> FloatArray:
        return _block(entries.take(part), expected.take(part), there.take(part), here.take(part))

    row = np.flatnonzero((there.kind != NOTHING) | (here.kind != NOTHING))
    return row, _by_blocks(row, work)


def _by_blocks(row: IntArray, work: Callable[[IntArray], FloatArray]) -> Likelihood:
    """Likelihoods of rows, (m, C, O), from their logs; block by block in bounded memory, two at a time."""
    found = np.empty((row.size, len(CEILINGS_DB), OFFSETS_DB.size), dtype=np.float32)

    def one(start: int) -> None:
        logs = work(row[start : start + BLOCK_ROWS])
        found[start : start + BLOCK_ROWS] = np.exp(logs - np.max(logs, axis=(1, 2), keepdims=True))

    with ThreadPoolExecutor(WORKERS) as pool:
        list(pool.map(one, range(0, row.size, BLOCK_ROWS)))
    return found


def silence_of(entries: LogEntries, expected: Expected) -> Evidence:
    """Evidence of entries in which a listening receiver did not hear the station."""
    row = np.flatnonzero(np.isfinite(expected.chance))

    def work(part: IntArray) -> FloatArray:
        found = expected.take(part)
        nothing = Readings.alike(np.full(part.size, NOTHING))
        heard = _shifted_sum(_days(found), _both(entries.take(part), found, nothing, nothing))
        return as_float(np.log(1.0 - LISTENING * np.clip(heard, 0.0, 1.0)))[:, None, :]

    return Evidence(row, _by_blocks(row, work), np.ones(row.size), np.full(row.size, HEARD_OUT))


def _block(entries: LogEntries, expected: Expected, out: Readings, back: Readings) -> FloatArray:
    """Log-likelihoods of rows with a reading, (n, C, O)."""
    days = _days(expected)
    inside = slice(
        OFFSETS_DB.size // 2, OFFSETS_DB.size // 2 + LEVELS_DB.size
    )  # the levels without any offset
    stray = np.exp(-0.5 * ((LEVELS_DB - entries.need_db[:, None]) / ASTRAY_SD_DB) ** 2)
    stray /= np.sum(stray, axis=1, keepdims=True)

    def over_days(curve: FloatArray) -> FloatArray:
        found = (1.0 - ASTRAY) * _shifted_sum(days, curve)
        found += ASTRAY * np.sum(stray * curve[:, inside], axis=1)[:, None]
        return as_float(np.log(np.maximum(found, 1e-300)))

    alone = over_days(_both(entries, expected, out.under_nine(), back.under_nine()))
    in_db = np.any((out.kind == DECIBELS) | (back.kind == DECIBELS))
    ceilings = CEILINGS_DB if in_db else CEILINGS_DB[-1:]  # a report by ear has no ceiling under 9
    together = [over_days(_both(entries, expected, out, back, ceiling)) - alone for ceiling in ceilings]
    return np.stack(together, axis=1)


def _days(expected: Expected) -> FloatArray:
    """Distribution of the SNR out over LEVELS_DB (n, L).

    It includes the days, the spread of the signal about them, and the other station.
    """
    ordinary, auroral = _signal_kernels()
    share = expected.high_latitude[:, None]
    level = as_float(expected.level)
    return np.asarray((1.0 - share) * (level @ ordinary) + share * (level @ auroral))


@cache
def _signal_kernels() -> tuple[FloatArray, FloatArray]:
    """Kernels from a day's median to its levels: (L, L) at ordinary and at auroral latitudes; rows sum to
    one.
    """
    return _signal_kernel(0), _signal_kernel(1)


def _signal_kernel(which: int) -> FloatArray:
    edges = np.arange(-60.5, 61.0)
    lower, upper = SIGNAL_LOWER_DB[which] / DECILE_Z, SIGNAL_UPPER_DB[which] / DECILE_Z
    below = np.diff(normal_cdf(edges / np.where(edges < 0.0, lower, upper)))
    spread = np.diff(normal_cdf(edges / STATION_SD_DB))
    step = np.convolve(below, spread, mode="same")
    step /= step.sum()
    size = LEVELS_DB.size
    whole = np.zeros((size, size))
    reach = step.size // 2
    for row in range(size):
        place = np.clip(np.arange(row - reach, row + reach + 1), 0, size - 1)
        whole[row] = np.bincount(place, step, size)
    return whole


def _both(
    entries: LogEntries,
    expected: Expected,
    there: Readings,
    here: Readings,
    ceiling_db: float = CEILINGS_DB[-1],
) -> FloatArray:
    """P(reports, success | SNR out before noise), at levels with every offset on them, (n, L + O - 1)."""
    level = np.arange(LEVELS_DB[0] + OFFSETS_DB[0], LEVELS_DB[-1] + OFFSETS_DB[-1] + 0.5)
    over = level - entries.need_db[:, None]
    out = _read(_curves(entries.need_db, there, expected.out_noise_db, ceiling_db), over)
    back = _read(
        _curves(entries.need_db, here, expected.back_noise_db, ceiling_db),
        over + expected.delta_db[:, None],
    )
    out = np.where(entries.direction[:, None] == BACK, 1.0, out)
    back = np.where(entries.direction[:, None] == OUT, 1.0, back)
    return out * back


def _curves(need_db: FloatArray, read: Readings, noise_db: FloatArray, ceiling_db: float) -> FloatArray:
    """P(report, success | level over the required SNR), averaged over the noise: (n, wide levels)."""
    noise = np.round(noise_db / _NOISE_STEP_DB) * _NOISE_STEP_DB
    over_need = np.where(read.kind == DECIBELS, read.value - need_db, read.value)
    keys, where = np.unique(
        np.column_stack([read.kind.astype(np.float64), over_need, noise]), axis=0, return_inverse=True
    )
    table = np.stack([_curve(int(k), v, below, above, ceiling_db) for k, v, below, above in keys.tolist()])
    return np.asarray(table[where.ravel()])


@lru_cache(maxsize=10_000)
def _curve(kind: int, value: float, below_db: float, above_db: float, ceiling_db: float) -> FloatArray:
    snr = _WIDE_DB[:, None] + np.where(_noise_nodes < 0.0, below_db, above_db) * _noise_nodes
    success = normal_cdf(snr / SUCCESS_SOFT_DB)
    if kind == DECIBELS:
        success = success * np.interp(snr, _WIDE_DB, _reported(value, ceiling_db))
    elif kind == STRENGTH:
        success = success * np.exp(-0.5 * ((over_need_db(value) - snr) / STRENGTH_SD_DB) ** 2)
    elif kind == UNDER_NINE:
        success = success * normal_cdf((over_need_db(8.5) - snr) / STRENGTH_SD_DB)
    return np.asarray(success @ _noise_weights)


@lru_cache(maxsize=1000)
def _reported(value: float, ceiling_db: float) -> FloatArray:
    """Likelihood of a report in dB at each level of _WIDE_DB, with a ceiling; the weakest is "or less"."""
    told = -10.0 * np.log10(10.0 ** (-_WIDE_DB / 10.0) + 10.0 ** (-ceiling_db / 10.0))
    if value <= WEAKEST_DB:
        return np.asarray(normal_cdf((value + 0.5 - told) / DECODER_SD_DB))
    return np.asarray(np.exp(-0.5 * ((value - told) / DECODER_SD_DB) ** 2))


def over_need_db(digit: float) -> float:
    """SNR over the required SNR [dB] that corresponds to a strength digit."""
    return STRENGTH_STEP_DB * (digit - STRENGTH_AT_NEED)


def _read(curves: FloatArray, over_need_db: FloatArray) -> FloatArray:
    """Interpolate curves at levels over the required SNR, each row its own; linear between whole decibels."""
    place = np.clip(over_need_db - _WIDE_DB[0], 0.0, _WIDE_DB.size - 1.001)
    left = place.astype(np.int64)
    share = place - left
    before = np.take_along_axis(curves, left, axis=1)
    return np.asarray(before + share * (np.take_along_axis(curves, left + 1, axis=1) - before))


def _shifted_sum(days: FloatArray, curve: FloatArray) -> FloatArray:
    """Sum over levels x of days(x) curve(x + o), for every offset o: (n, O)."""
    window = np.lib.stride_tricks.sliding_window_view(curve, LEVELS_DB.size, axis=1)
    return np.asarray(np.einsum("nx,nox->no", days, window))  # "optimize" would copy the windows


NINE: Final = 9  # a strength that may be habit, whatever the signal
_DECIBELS: Final = re.compile(r"[+-]\d{1,2}")


def events_of(
    contacts: Iterable[Made], marks: Iterable[tuple[Kind, str, np.datetime64]], need_db: float
) -> tuple[OutingEvent, ...]:
    """Events in their order. marks: (kind, band, time). need_db: the required SNR [dB in 2500 Hz]."""
    found = [_contact(one, need_db) for one in contacts]
    found += [OutingEvent(kind, band, time.astype("datetime64[s]")) for kind, band, time in marks]
    return tuple(sorted(found, key=lambda event: event.time))


def _contact(made: Made, need_db: float) -> OutingEvent:
    place = origin(made.call)
    in_db = any(_DECIBELS.fullmatch(text) for text in (made.received, made.sent))
    received, sent = (_told_db(text, need_db) for text in (made.received, made.sent))
    return OutingEvent(
        "contact",
        made.band,
        made.time,
        made.call,
        place.countries,
        place.lat_deg,
        place.lon_deg,
        place.uncertainty_km,
        received,
        sent,
        REPORT_SD_DB if in_db else STRENGTH_SD_DB,
        np.inf if in_db else over_need_db(NINE - 0.5),
    )


def _told_db(report: str, need_db: float) -> float:
    """SNR over the required SNR [dB] according to a report; NaN where the report carries no information."""
    if _DECIBELS.fullmatch(report):
        return float(report) - need_db
    digit = strength(report)
    return over_need_db(digit) if 0 < digit < NINE else float("nan")


def moments(events: Sequence[OutingEvent]) -> tuple[np.datetime64, ...]:
    """Times at which somebody was heard; a report of that time would count twice."""
    return tuple(event.time for event in events if event.kind != "in vain")
