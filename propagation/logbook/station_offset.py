"""Station offset learnt from a log: an offset in dB per band, with its uncertainty.

Model. The offset of a band is a part common to all bands below 30 MHz plus the band's own part. Each is
normal about zero; together 6 dB. The likelihood of a band's offset is that of its entries (`evidence`), given
that they are in the log at all. Entries are not independent:

- Entries with the same other station on a band share that station's antenna and noise: n of them count as n /
  (1 + (n - 1) r), r the share of the variance that is the other station's.
- Entries of one day on a band share that day's ionosphere and the map's error for it: the day's likelihood is
  smoothed by a normal error of 3 dB before days are multiplied.
- All reports by ear share their unknown scale, 3 dB on all bands together. All reports that the operator gave
  share the usual power of the others, 4 dB about the assumed one. Reports in dB saturate at a ceiling, one at
  home and one elsewhere. What is shared is tried in steps, and the log as a whole weights the trials.

Everything is computed on a grid of whole decibels. The result is the mean and standard deviation of the
posterior. Without evidence that is 0 and 6 dB. The mean is applied; weak evidence draws it towards zero. It
is never more than 2.5 times the root of the variance removed by the evidence, which is the spread of
posterior means when prior and model are right.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from typing import Final

import numpy as np

from propagation.base.units import BoolArray, FloatArray, IntArray, as_float
from propagation.ionosphere.variability import normal_cdf
from propagation.logbook.entries import OUT, REPORT_NEED_DB, LogEntries, digital, frequencies_mhz, own_rows
from propagation.logbook.evidence import (
    CEILINGS_DB,
    EAR,
    GROUPS,
    HEARD_BACK,
    HEARD_OUT,
    OFFSETS_DB,
    STATION_SD_DB,
    Evidence,
    Likelihood,
    evidence_of,
    silence_of,
)
from propagation.logbook.expected import Expected
from propagation.logbook.kept_offset import (
    BAND_SD_DB,
    COMMON_SD_DB,
    VHF_MHZ,
    Learnt,
    LearntBand,
    largest_offset_db,
    setup_mark,
)
from propagation.logbook.reports import Reports
from propagation.spectrum.bands import BANDS
from propagation.station.station import Station

DAY_SD_DB: Final = 3.0  # dB, error of one day's forecast on a band that all its entries share (ours)
EAR_SCALE_SD_DB: Final = 3.0  # dB, unknown scale of reports by ear, the same on all bands (ours)
FAR_POWER_COMMON_SD_DB: Final = 4.0  # dB, usual far power about the assumed one, likewise (ours)
METER_SCALE_SD_DB: Final = 1.0  # dB, further error of the reports of a group on one band (ours)
TRIAL_STEP_DB: Final = 2  # dB, between the trials of what all bands share
USUAL_CEILINGS_DB: Final[FloatArray] = np.arange(0.0, 28.1)  # dB over the required SNR, tried (ours)
CEILING_SPREADS_DB: Final = (2.0, 4.0, 6.0, 8.0, 10.0, 12.0)  # dB, standard deviations about them (ours)
MOST_SPREADS: Final = 24  # spreads of ceilings of a group of reports that are followed up (ours: time)
LEFT_OUT: Final = 12.0  # a trial whose likelihood is e to this power below the best is left out (ours)
ROW_SD_DB: Final = 8.0  # dB, spread of an entry in addition to the other station's (ours, about P.842's)
SAME_STATION: Final = STATION_SD_DB**2 / (STATION_SD_DB**2 + ROW_SD_DB**2)
LISTENED: Final = np.timedelta64(3600, "s")  # a receiver that reported any station within it was listening

Trials = tuple[FloatArray, FloatArray]  # log-likelihoods (k, S, O) of bands, and log weights (S,)


@dataclass(frozen=True, eq=False)
class Posterior:
    """Means and standard deviations [dB] of the bands' offsets (k,), and of a band without evidence."""

    mean_db: FloatArray
    sd_db: FloatArray
    elsewhere_db: float
    elsewhere_sd_db: float


def learn(
    entries: LogEntries,
    expected: Expected,
    station: Station,
    date: str,
    silent: LogEntries | None = None,
    silent_expected: Expected | None = None,
) -> Learnt:
    """Learn the station offset from the entries.

    expected: their forecast by the model without a learnt offset. silent, silent_expected: occasions on which
    a listening receiver did not hear the station. date: today's, as text.
    """
    parts = [(entries, evidence_of(entries, expected))]
    if silent is not None and silent_expected is not None and silent.size:
        parts.append((silent, silence_of(silent, silent_expected)))
    bands, curves, counts = band_likelihoods(parts)
    low = np.array([_is_low(name) for name in bands], dtype=bool)
    found = posterior(*_trials([(curve[low], weight) for curve, weight in curves]))
    rows = {
        name: (float(m), float(s))
        for name, m, s in zip(_those(bands, low), found.mean_db, found.sd_db, strict=True)
    }
    for index in np.flatnonzero(~low).tolist():
        alone = posterior(*_trials([(curve[index : index + 1], weight) for curve, weight in curves]))
        rows[bands[index]] = (float(alone.mean_db[0]), float(alone.sd_db[0]))
    used = np.unique(parts[0][1].row)
    return Learnt(
        bands=tuple(
            LearntBand(name, round(rows[name][0], 2), round(rows[name][1], 2), counts[name]) for name in bands
        ),
        elsewhere_db=round(found.elsewhere_db, 2),
        elsewhere_sd_db=round(found.elsewhere_sd_db, 2),
        entries=entries.size,
        used=int(used.size),
        days=int(np.unique(entries.time[used].astype("datetime64[D]")).size),
        first=_day(entries, 0),
        last=_day(entries, -1),
        date=date,
        setup=setup_mark(station),
    )


def _those(names: tuple[str, ...], mask: BoolArray) -> list[str]:
    return [name for name, wanted in zip(names, mask, strict=True) if wanted]


def _is_low(name: str) -> bool:
    return next(band.widest_mhz[0] for band in BANDS if band.name == name) < VHF_MHZ


def _day(entries: LogEntries, row: int) -> str:
    return str(entries.time[row].astype("datetime64[D]")) if entries.size else ""


def band_likelihoods(
    parts: list[tuple[LogEntries, Evidence]],
) -> tuple[tuple[str, ...], tuple[Trials, ...], dict[str, int]]:
    """Bands with evidence in their usual order, with trials and counts.

    The trials are of each group of reports: the spreads of ceilings that the log leaves likely for it.
    """
    order = {band.name: number for number, band in enumerate(BANDS)}
    band = np.concatenate(
        [
            np.array([order[name] for name in entries.band], dtype=np.int64)[found.row]
            for entries, found in parts
        ]
    )
    call = np.unique(
        np.concatenate([np.array(entries.call, dtype=object)[found.row] for entries, found in parts]).astype(
            str
        ),
        return_inverse=True,
    )[1]
    day = np.concatenate(
        [entries.time[found.row].astype("datetime64[D]").astype(np.int64) for entries, found in parts]
    )
    group = np.concatenate([found.group for _, found in parts])
    likelihood = np.concatenate([found.likelihood for _, found in parts])
    weight = np.concatenate([found.weight for _, found in parts]) * _weights(band, call)
    bands, place = np.unique(band, return_inverse=True)
    curves = []
    for which in GROUPS:
        rows = np.flatnonzero(group == which)
        curves.append(_of_group(likelihood[rows], weight[rows], place[rows], day[rows], bands.size, which))
    names = tuple(BANDS[number].name for number in bands.tolist())
    entry = np.concatenate([found.row + 1_000_000_000 * part for part, (_, found) in enumerate(parts)])
    counts = {BANDS[number].name: int(np.unique(entry[band == number]).size) for number in bands.tolist()}
    return names, tuple(curves), counts


def _of_group(
    likelihood: Likelihood, weight: FloatArray, band: IntArray, day: IntArray, bands: int, group: int
) -> Trials:
    """Trials of all bands by the reports of one group, for its likely spreads of ceilings.

    likelihood (m, C, O), weight, band, day (m,): of the group's entries.
    """
    if not band.size:
        return np.zeros((bands, 1, OFFSETS_DB.size)), np.zeros(1)
    spreads, log_weight = _spreads()[-1:], np.zeros(1)
    if group != EAR:
        spreads, log_weight = _likely_spreads(likelihood, weight, band)
    logs = _logs(likelihood, weight, spreads)
    days, where = np.unique(np.stack([band, day]), axis=1, return_inverse=True)
    by_day = _smoothed(_sums(logs, where.ravel(), days.shape[1]), DAY_SD_DB)
    return _smoothed(_sums(by_day, days[0], bands), METER_SCALE_SD_DB), log_weight


@cache
def _spreads() -> FloatArray:
    """Weights of CEILINGS_DB (H, C) for every usual ceiling and spread tried; the last is no ceiling."""
    middle, spread = (np.ravel(axis)[:, None] for axis in np.meshgrid(USUAL_CEILINGS_DB, CEILING_SPREADS_DB))
    nodes = np.array(CEILINGS_DB)
    edges = 0.5 * (nodes[1:] + nodes[:-1])
    below = normal_cdf((edges - middle) / spread)
    ends = np.zeros(middle.shape)
    weights = np.diff(np.hstack([ends, below, ends + 1.0]), axis=1)
    return np.vstack([weights, np.eye(nodes.size)[-1:]])


def _likely_spreads(
    likelihood: Likelihood, weight: FloatArray, band: IntArray
) -> tuple[FloatArray, FloatArray]:
    """Spreads of ceilings (S, C) that the entries leave likely, and the logs of their prior chances (S,).

    Judged at every third offset, each band at its best; MOST_SPREADS of them in even steps. That there is no
    ceiling is as likely beforehand as all of them together.
    """
    few = likelihood[:, :, ::3]
    order = np.argsort(band, kind="stable")
    start = np.flatnonzero(np.diff(band[order], prepend=-1))
    best = np.array(
        [
            np.sum(np.max(np.add.reduceat(_logs(few, weight, one[None])[order, 0], start), axis=-1))
            for one in _spreads()
        ]
    )
    every = best.size - 1
    kept = np.flatnonzero(best[:every] >= np.max(best) - LEFT_OUT)
    step = max(-(-kept.size // MOST_SPREADS), 1)
    kept = np.append(kept[::step], every)
    chance = np.where(kept < every, step / every, 1.0)
    return np.asarray(_spreads()[kept]), np.log(chance)


def _logs(likelihood: Likelihood, weight: FloatArray, spreads: FloatArray) -> Likelihood:
    """Weighted log-likelihoods (m, S, O) with each of some spreads of ceilings (S, C)."""
    summed = np.einsum("sc,mco->mso", spreads.astype(np.float32), likelihood, optimize=True)
    return np.asarray(np.log(np.maximum(summed, 1e-30)) * weight[:, None, None].astype(np.float32))


def _weights(band: IntArray, call: IntArray) -> FloatArray:
    """Weight of each entry, less where the same station is in the log on that band repeatedly."""
    if not band.size:
        return np.zeros(0)
    _, where, count = np.unique(np.stack([band, call]), axis=1, return_inverse=True, return_counts=True)
    return as_float(1.0 / (1.0 + (count[where.ravel()] - 1.0) * SAME_STATION))


def _sums(values: FloatArray | Likelihood, group: IntArray, groups: int) -> FloatArray:
    """Sums of rows by their group."""
    total = np.zeros((groups, *values.shape[1:]))
    order = np.argsort(group, kind="stable")
    start = np.flatnonzero(np.diff(group[order], prepend=-1))
    if start.size:
        total[group[order][start]] = np.add.reduceat(values[order], start, axis=0, dtype=np.float64)
    return total


def _smoothed(log_likelihood: FloatArray, sd_db: float) -> FloatArray:
    """Log of the likelihood averaged over a normal error of the offset (.., O); constant beyond the ends."""
    top = np.max(log_likelihood, axis=-1, keepdims=True, initial=-np.inf)
    top = np.where(np.isfinite(top), top, 0.0)
    return as_float(np.log(np.maximum(np.exp(log_likelihood - top) @ _kernel(sd_db), 1e-300)) + top)


@cache
def _kernel(sd_db: float) -> FloatArray:
    """Weights of the offsets (O, O) in the mean over a normal error, for each offset a column."""
    size = OFFSETS_DB.size
    reach = int(np.ceil(4.0 * sd_db))
    step = np.arange(-reach, reach + 1)
    normal = np.exp(-0.5 * (step / sd_db) ** 2)
    normal /= normal.sum()
    kernel = np.zeros((size, size))
    for column in range(size):
        kernel[:, column] = np.bincount(np.clip(column + step, 0, size - 1), normal, size)
    return kernel


def _trials(curves: Sequence[Trials]) -> Trials:
    """Trials of bands, from those of each group, with all that the bands share tried.

    A trial is a scale of reports by ear, a usual far power, and spreads of ceilings of the reports from
    elsewhere and of those at home.
    """
    ear = _scaled(*curves[EAR], EAR_SCALE_SD_DB)
    back = _scaled(*curves[HEARD_BACK], FAR_POWER_COMMON_SD_DB)
    return _together(_together(ear, back), _likely(*curves[HEARD_OUT]))


def _likely(curves: FloatArray, log_weight: FloatArray) -> Trials:
    """Trials (k, S, O) without those that the bands together rule out; one where there is no evidence."""
    if not curves.any():
        return curves[:, :1], np.zeros(1)
    best = np.sum(np.max(curves, axis=-1), axis=0) + log_weight
    keep = best >= np.max(best) - LEFT_OUT
    return curves[:, keep], log_weight[keep]


def _scaled(curves: FloatArray, log_weight: FloatArray, sd_db: float) -> Trials:
    """Trials (k, S, O), each at steps of a scale [dB] that is normal about zero."""
    kept, weights = _likely(curves, log_weight)
    if not kept.any():
        return kept, np.zeros(1)
    reach = round(2.0 * sd_db)
    steps = np.arange(-reach, reach + 1, TRIAL_STEP_DB)
    at = np.clip(np.arange(OFFSETS_DB.size) + steps[:, None], 0, OFFSETS_DB.size - 1)
    moved = kept[:, :, at]  # (k, S, steps, O)
    weight = weights[:, None] - 0.5 * (steps / sd_db) ** 2
    return moved.reshape(kept.shape[0], -1, OFFSETS_DB.size), weight.ravel()


def _together(one: Trials, other: Trials) -> Trials:
    """Every trial of one with every trial of the other."""
    log_weight = np.add.outer(one[1], other[1]).ravel()
    curves = one[0][:, :, None] + other[0][:, None, :]
    return curves.reshape(curves.shape[0], log_weight.size, OFFSETS_DB.size), log_weight


def posterior(log_likelihood: FloatArray, log_weight: FloatArray) -> Posterior:
    """Posterior of k bands with a common part, from their log-likelihoods (k, S, O) over OFFSETS_DB.

    S trials of what the bands share, with log weights (S,); k may be 0. For every trial and common part s:
    the band's evidence M(s) = sum over o of L(o) N(o; s, BAND_SD). Trial and common part are then weighted by
    their priors and the evidence of all bands, and each band's offset by L(o) N(o; s, BAND_SD) / M(s).
    """
    grid = OFFSETS_DB
    prior = np.exp(-0.5 * (grid / COMMON_SD_DB) ** 2)
    own = np.exp(-0.5 * ((grid[None, :] - grid[:, None]) / BAND_SD_DB) ** 2)  # (s, o)
    own /= np.sum(own, axis=1, keepdims=True)
    top = np.max(log_likelihood, axis=-1, keepdims=True)
    likelihood = np.exp(log_likelihood - top)
    by_common = np.maximum(likelihood @ own.T, 1e-300)  # M(s), (k, S, s)
    log_joint = log_weight[:, None] + np.log(np.maximum(prior, 1e-300))  # (S, s)
    log_joint = log_joint + np.sum(np.log(by_common) + top, axis=0)
    joint = np.exp(log_joint - np.max(log_joint))
    joint /= np.sum(joint)
    weight = np.sum((joint / by_common) @ own * likelihood, axis=1)  # (k, o)
    weight /= np.sum(weight, axis=1, keepdims=True)
    mean = weight @ grid
    sd = np.sqrt(np.maximum(weight @ grid**2 - mean**2, 0.0))
    elsewhere = np.sum(joint, axis=0) @ own
    middle = float(elsewhere @ grid)
    width = float(np.sqrt(max(float(elsewhere @ grid**2) - middle**2, 0.0)))
    return Posterior(_bounded(mean, sd), sd, float(_bounded(np.array(middle), np.array(width))), width)


def _bounded(mean_db: FloatArray, sd_db: FloatArray) -> FloatArray:
    """Mean, limited to the distance from zero that the evidence allows."""
    most = largest_offset_db(sd_db)
    return np.asarray(np.clip(mean_db, -most, most))


def not_heard(reports: Reports, station: Station, own_call: str = "") -> LogEntries | None:
    """Occasions on which a listening receiver did not report the station, from a list with others' reports.

    For each hour and band in which somebody reported the station, every receiver that reported somebody else
    then and not the station. None where the list holds no others' reports.
    """
    heard, hearing = own_rows(reports, station, own_call)
    hour = (reports.time.astype(np.int64) // int(LISTENED / np.timedelta64(1, "s"))).tolist()
    keys = list(zip(hour, reports.band, strict=True))
    on_air = {keys[row]: row for row in np.flatnonzero(heard).tolist()}
    reached = {(keys[row], reports.reporter[row]) for row in np.flatnonzero(heard).tolist()}
    missing: dict[tuple[tuple[int, str], str], int] = {}
    for row in np.flatnonzero(~heard & ~hearing & np.isfinite(reports.reporter_lat_deg)).tolist():
        key = (keys[row], reports.reporter[row])
        if key[0] in on_air and key not in reached and reports.reporter[row]:
            missing.setdefault(key, row)
    if not missing:
        return None
    rows = np.array(sorted(missing.values()), dtype=np.int64)
    own = np.array([on_air[keys[row]] for row in rows.tolist()], dtype=np.int64)
    return _silences(reports, station, rows, own)


def _silences(reports: Reports, station: Station, rows: IntArray, own: IntArray) -> LogEntries:
    n = rows.size
    here = station.site.position
    band = tuple(reports.band[row] for row in rows.tolist())
    watts = 10.0 ** ((reports.power_dbm[own] - 30.0) / 10.0)
    nothing = np.full(n, np.nan)
    return LogEntries(
        time=reports.time[rows],
        band=band,
        frequency_mhz=frequencies_mhz(station, band, digital(n)),
        mode=("not heard",) * n,
        mode_class=digital(n),
        call=tuple(reports.reporter[row] for row in rows.tolist()),
        lat_deg=reports.reporter_lat_deg[rows],
        lon_deg=reports.reporter_lon_deg[rows],
        uncertainty_km=reports.reporter_uncertainty_km[rows],
        own_lat_deg=np.full(n, here.lat_deg),
        own_lon_deg=np.full(n, here.lon_deg),
        power_w=np.where(np.isfinite(watts), watts, station.power_w),
        place_given=np.zeros(n, dtype=bool),
        power_given=np.isfinite(watts),
        far_power_w=nothing,
        direction=np.full(n, OUT, dtype=np.int64),
        need_db=np.full(n, REPORT_NEED_DB),
        sent=("",) * n,
        received=("",) * n,
        out_db=nothing,
        back_db=nothing,
        country=("",) * n,
        comment=("",) * n,
    )
