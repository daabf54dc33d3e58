"""Estimate of today's conditions during an outing: today's layer, the station's offset and the noise.

All unknowns of an outing form one small grid. U is the kind of day of the F2 layer and V that of sporadic E,
with the weights of the forecast. S is the station's offset from its file [dB, both ways]. N is the noise at
home relative to the assumed noise [dB]. A is the activity relative to the usual one. For every state the
forecast gives the number of stations in reach (`shifted_ends`), and `people` gives how many of them answer in
an hour. Each event multiplies the weight of every state with the likelihood of the event:

- Contacts follow a Poisson law: some minutes of calling without a contact, then one. A contact of known
  country counts for the stations of that country alone. A contact from outside the target carries no
  information. An unanswered call is minutes without a contact.
- "I hear them, they do not hear me": a station was heard, and it was one of those that are heard but not
  reached.
- Reports under nine, or in dB, are read as in `logbook.evidence`. That package is above this one, so the
  caller converts them into decibels over the required SNR. A nine is habit.

The activity of one band is also unknown: each band has its own factor. It is Gamma distributed about one and
integrated exactly. This factor and A limit the weight of a single contact: with high or low activity, the
same contact is likely in almost every state.

Limits. The day is taken as one for the whole outing, as in `variability`; an old event has the same weight as
a new one. A place or a friend is one station and no number of stations: nothing is learnt there.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Final, Literal

import numpy as np

from propagation.advice.activity import USUAL, Habits
from propagation.advice.people import rate_of
from propagation.base.units import FloatArray, IntArray, as_float
from propagation.geo.great_circle import distance_km
from propagation.ionosphere.variability import (
    ES_NODES,
    ES_WEIGHTS,
    LAYER_NODES,
    LAYER_WEIGHTS,
    layer_factor,
    normal_cdf,
)
from propagation.signal.chances.station_offsets import (
    BACK_ROW,
    NOISE_DB,
    OUT_ROW,
    OVER_DB,
    STATION_DB,
    STEP_DB,
    Counts,
    Shifted,
)
from propagation.spectrum.modes import ModeName

Kind = Literal["contact", "in vain", "one way"]

STATION_SD_DB: Final = 6.0  # dB, spread of a station about its description, as in `logbook.learning` (ours)
NOISE_SD_DB: Final = 5.0  # dB, of the noise about the assumed noise (ours; places of one kind: P.372)
BUSY: Final = (0.42, 1.0, 2.4)  # activity relative to the usual; nodes of a normal law of its logarithm
BUSY_WEIGHTS: Final = (1.0 / 6.0, 2.0 / 3.0, 1.0 / 6.0)  # of them: 0.5 standard deviation (ours)
BAND_SHAPE: Final = 3.0  # of the Gamma law of one band's share: 0.6 either way (ours)
FLOOR_PER_H: Final = 0.05  # contacts an hour that do not depend on the forecast (ours)
CALLING: Final = 0.1  # share of the stations on the air that are found calling within a few minutes (ours)
NOT_NOTICED: Final = 0.3  # chance that a station that would hear does not answer for another reason (ours)
SLIP: Final = 0.03  # chance of a one-way hearing by a mode not in the forecast, or by mistake (ours)
FIRST_MIN: Final = 5.0  # minutes of calling before the first event on a band, at most (ours)
LONGEST_MIN: Final = 10.0  # minutes of calling between two events, at most (ours)
SHORTEST_MIN: Final = 0.5  # minutes of calling, at least
NEAR_KM: Final = 800.0  # km, within which a contact is assigned to the nearest point's group (ours)
REPORT_WEIGHT: Final = 0.6  # of each of two reports of one contact, which share its path (as in `evidence`)


@dataclass(frozen=True)
class OutingEvent:
    """Event on the air.

    countries, lat_deg, lon_deg, uncertainty_km: place of a contact, as far as its call tells; empty and NaN
    otherwise. received_db, sent_db: SNR over the required SNR there and here [dB] from the reports, NaN where
    not reported; report_sd_db: standard deviation. under_db: a report over this would have been a nine, inf
    for decibels.
    """

    kind: Kind
    band: str
    time: np.datetime64
    call: str = ""
    countries: tuple[str, ...] = ()
    lat_deg: float = np.nan
    lon_deg: float = np.nan
    uncertainty_km: float = np.nan
    received_db: float = np.nan
    sent_db: float = np.nan
    report_sd_db: float = 6.0
    under_db: float = np.inf


@dataclass(frozen=True, eq=False)
class ReachByState:
    """Data that the events are compared with: stations in reach by state, and the groups.

    names: of the groups (G,). lat_deg, lon_deg, group: of the target's points (P,). mode: of the contacts;
    habits: of the stations on the air.
    """

    stations: Shifted
    names: tuple[str, ...]
    lat_deg: FloatArray
    lon_deg: FloatArray
    group: IntArray
    mode: ModeName
    habits: Habits = USUAL

    @property
    def ceiling(self) -> float:
        """Contacts an hour if every call were answered at once."""
        return self.habits.ceiling(self.mode)

    @cached_property
    def rate(self) -> FloatArray:
        """Contacts an hour in every state (T, B, states)."""
        everybody = as_float(np.sum(self.stations.both, axis=0, dtype=np.float64))
        rate = rate_of(everybody[..., None] * as_float(BUSY), self.mode, self.habits)
        return as_float(rate.reshape(*rate.shape[:2], -1))

    def at(self, time: np.datetime64, values: FloatArray | Counts, band: str, axis: int = 0) -> FloatArray:
        """Values over times and bands at a moment on a band; constant beyond the first and last time."""
        times = self.stations.times
        seconds = as_float((times - times[0]) / np.timedelta64(1, "s"))
        place = np.interp(float((time - times[0]) / np.timedelta64(1, "s")), seconds, np.arange(times.size))
        left = min(int(place), max(times.size - 2, 0))
        right = min(left + 1, times.size - 1)
        one = np.take(values, self.stations.bands.index(band), axis=axis + 1)
        early, late = np.take(one, left, axis=axis), np.take(one, right, axis=axis)
        return as_float(early + (place - left) * (late - early))

    def those(self, event: OutingEvent) -> IntArray | None:
        """Groups a contact may belong to; None where unknown; no groups where it belongs to none."""
        known = [row for row, name in enumerate(self.names) if name in event.countries]
        if known:
            return np.array(known)
        if not np.isfinite(event.lat_deg):
            return None
        away = distance_km(event.lat_deg, event.lon_deg, self.lat_deg, self.lon_deg)
        inside = np.flatnonzero(away <= float(np.nan_to_num(event.uncertainty_km)))
        if not inside.size and float(away.min()) <= NEAR_KM:
            inside = np.array([int(np.argmin(away))])
        return np.unique(self.group[inside])


SHAPE: Final = (LAYER_NODES.size, ES_NODES.size, STATION_DB.size, NOISE_DB.size, len(BUSY))


def prior() -> FloatArray:
    """Weight of every state before any event (U, V, S, N, A), sum 1."""
    station, noise = (
        np.exp(-0.5 * (grid / sd) ** 2) for grid, sd in ((STATION_DB, STATION_SD_DB), (NOISE_DB, NOISE_SD_DB))
    )
    weight = np.einsum("u,v,s,n,a->uvsna", LAYER_WEIGHTS, ES_WEIGHTS, station, noise, as_float(BUSY_WEIGHTS))
    return as_float(weight / weight.sum())


def once(events: Iterable[OutingEvent]) -> tuple[OutingEvent, ...]:
    """Events in their order, each once: a station worked again on a band carries no new information."""
    kept: dict[tuple[str, ...], OutingEvent] = {}
    for event in sorted(events, key=lambda one: one.time):
        mark = event.call if event.kind == "contact" and event.call else str(event.time)
        kept.setdefault((event.kind, event.band, mark), event)
    return tuple(kept.values())


@dataclass(eq=False)
class Learning:
    """Running estimate.

    minutes: of calling on each band. contacts: on each band.
    """

    ground: ReachByState
    events: list[OutingEvent] = field(default_factory=list)
    minutes: dict[str, float] = field(default_factory=dict)
    contacts: dict[str, int] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self._log = np.log(prior().ravel())  # without the bands' factors
        self._mean = {band: np.zeros(self._log.size) for band in self.ground.stations.bands}

    def take(self, event: OutingEvent, minutes: float) -> None:
        """Add one more event after so many minutes of calling; an event outside the forecast is left out."""
        ground = self.ground
        if event.band not in ground.stations.bands:
            return
        rate = ground.at(event.time, ground.rate, event.band) + FLOOR_PER_H
        if event.kind == "one way":
            self._log += np.log(self._one_way(event))
        else:
            those = ground.those(event) if event.kind == "contact" else None
            if those is not None and not those.size:
                return
            self._mean[event.band] += rate * minutes / 60.0
            self.minutes[event.band] = self.minutes.get(event.band, 0.0) + minutes
            if event.kind == "contact":
                self.contacts[event.band] = self.contacts.get(event.band, 0) + 1
                stray = FLOOR_PER_H * (1.0 if those is None else those.size / len(ground.names))
                self._log += np.log((rate - FLOOR_PER_H) * self._part(event, those) + stray)
                self._log += self._reports(event, those)
        self.events.append(event)

    def _states(self, by_offset: FloatArray) -> FloatArray:
        """Values (U, V, S, N) for every state, flat."""
        return np.broadcast_to(by_offset[..., None], SHAPE).ravel()

    def _part(self, event: OutingEvent, those: IntArray | None) -> FloatArray | float:
        """Share of the stations in reach that belong to the groups of a contact."""
        if those is None:
            return 1.0
        each = self.ground.at(event.time, self.ground.stations.both, event.band, axis=1)
        whole = each.sum(axis=0)
        return self._states(each[those].sum(axis=0) / np.maximum(whole, 1e-12))

    def _one_way(self, event: OutingEvent) -> FloatArray:
        """Likelihood of hearing a station that does not hear the operator."""
        ground = self.ground
        both = ground.at(event.time, ground.stations.both.sum(axis=0), event.band)
        here = ground.at(event.time, ground.stations.here.sum(axis=0), event.band)
        heard = here[..., BACK_ROW]
        unreached = np.clip(1.0 - both / np.maximum(heard, 1e-12), 0.0, 1.0)
        somebody = 1.0 - np.exp(-heard[..., None] * as_float(BUSY) * CALLING)
        answer = NOT_NOTICED + (1.0 - NOT_NOTICED) * unreached[..., None]
        return as_float((SLIP + (1.0 - SLIP) * somebody * answer).ravel())

    def _reports(self, event: OutingEvent, those: IntArray | None) -> FloatArray:
        """Log-likelihood of the reports of a contact."""
        found = np.zeros(SHAPE[:4])
        stations = self.ground.stations
        for told_db, values, row in (
            (event.received_db, stations.there, OUT_ROW),
            (event.sent_db, stations.here, BACK_ROW),
        ):
            if np.isfinite(told_db):
                each = self.ground.at(event.time, values, event.band, axis=1)
                each = each.sum(axis=0) if those is None else each[those].sum(axis=0)
                found = found + REPORT_WEIGHT * np.log(_report(told_db, event, as_float(each), row))
        return self._states(found)

    # -- current estimate ---------------------------------------------------------------------------

    def factors(self, band: str) -> FloatArray:
        """Mean factor of a band's activity in every state, after the events on it."""
        return as_float((BAND_SHAPE + self.contacts.get(band, 0)) / (BAND_SHAPE + self._mean[band]))

    def posterior(self) -> FloatArray:
        """Weight of every state (U, V, S, N, A), sum 1."""
        weight = self._log.copy()
        for band, mean in self._mean.items():
            count = self.contacts.get(band, 0)
            weight -= (BAND_SHAPE + count) * np.log(BAND_SHAPE + mean)
        weight = np.exp(weight - weight.max())
        return as_float((weight / weight.sum()).reshape(SHAPE))


def _report(told_db: float, event: OutingEvent, stations: FloatArray, row: IntArray) -> FloatArray:
    """Likelihood of a report, given a contact (U, V, S, N). stations (U, V, rows): one way, by offset."""
    steps = np.arange(OVER_DB.size)
    above = stations[..., row[..., None] - steps]  # (U, V, S, N, steps): stations so far over the need
    share = -np.diff(above, axis=-1, append=0.0)
    share = np.maximum(share, 0.0) + 1e-9
    share = share / share.sum(axis=-1, keepdims=True)
    middle = OVER_DB + 0.5 * STEP_DB
    sd = float(np.hypot(event.report_sd_db, STEP_DB / 12.0**0.5))
    read = np.exp(-0.5 * ((told_db - middle) / sd) ** 2)
    possible = (
        normal_cdf((event.under_db - middle) / sd) if np.isfinite(event.under_db) else np.ones(steps.size)
    )
    return as_float(np.maximum(share @ read, 1e-12) / np.maximum(share @ possible, 1e-12))


def minutes_before(events: Sequence[OutingEvent], begun: np.datetime64) -> FloatArray:
    """Minutes of calling before each event, in their order: since the event before it or the beginning.

    They never exceed the time an operator calls without a pause.
    """
    found = []
    before, band = begun, ""
    for event in events:
        since = float((event.time - before) / np.timedelta64(1, "s")) / 60.0
        most = LONGEST_MIN if event.band == band else FIRST_MIN
        found.append(min(max(since, SHORTEST_MIN), most))
        before, band = event.time, event.band
    return as_float(found)


def learnt(ground: ReachByState, events: Iterable[OutingEvent], begun: np.datetime64) -> Learning:
    """Compute the estimate from all events of an outing; each counts once."""
    found = Learning(ground)
    several = once(events)
    for event, minutes in zip(several, minutes_before(several, begun).tolist(), strict=True):
        found.take(event, minutes)
    return found


@dataclass(frozen=True)
class EstimateShift:
    """One estimated quantity: mean and standard deviation, before any event and now."""

    before: float
    before_sd: float
    mean: float
    sd: float

    @property
    def by(self) -> float:
        """Change in standard deviations of the prior."""
        return (self.mean - self.before) / self.before_sd


@dataclass(frozen=True)
class Estimate:
    """Current estimate for today.

    layer: the F2 MUF over its usual one [%]. sporadic_e: normal score of the day. station, noise [dB]. busy:
    activity relative to the usual, as a logarithm.
    """

    layer: EstimateShift
    sporadic_e: EstimateShift
    station: EstimateShift
    noise: EstimateShift
    busy: EstimateShift


def estimate(weight: FloatArray, lower: float, upper: float) -> Estimate:
    """Marginals of a posterior. lower, upper: spread of the MUF about its median (`muf_spread`)."""
    layer = 100.0 * (layer_factor(lower, upper, LAYER_NODES) - 1.0)
    scales = (layer, ES_NODES, STATION_DB, NOISE_DB, np.log(as_float(BUSY)))
    first = prior()
    found = [
        EstimateShift(*_moments(first, axis, scale), *_moments(weight, axis, scale))
        for axis, scale in enumerate(scales)
    ]
    return Estimate(*found)


def _moments(weight: FloatArray, axis: int, scale: FloatArray) -> tuple[float, float]:
    alone = weight.sum(axis=tuple(other for other in range(weight.ndim) if other != axis))
    mean = float(alone @ scale)
    return mean, float(np.sqrt(max(float(alone @ (scale - mean) ** 2), 0.0)))
