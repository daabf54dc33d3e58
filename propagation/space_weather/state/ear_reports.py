"""Reports by ear: correction of the ionospheric index by "heard" and "nothing heard" for the next hours.

A Bayesian update over a grid of the index that drives the F2 maps. Before any report the index is taken as
known to about 25 units either way (the spread from day to day of foF2, some 15 %, in terms of the
index: common practice, no source). The caller gives the chance of the signal for each index on the grid; a
report weighs less as it ages and is forgotten after some hours. It needs no network.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from propagation.base.errors import InputError
from propagation.base.store import Store, Stored, StoreError
from propagation.base.text import as_number, as_time
from propagation.base.time_series import EMPTY, TimeSeries, later, shifted
from propagation.base.units import FloatArray, as_float
from propagation.space_weather.indices.solar_index import LOWEST_INDEX
from propagation.space_weather.state.conditions import Fact

GRID_INDEX: Final = np.arange(LOWEST_INDEX, 201.0, 5.0)  # scale of R12; the maps hold it at 150
PRIOR_SPREAD: Final = 25.0  # units of the index, one standard deviation before any report
LARGEST_SHIFT: Final = 60.0  # units of the index, largest correction by reports against the measured sun
FULL_HOURS: Final = 2.0  # h, for so long a report counts in full
FORGET_HOURS: Final = 8.0  # h, after so long it is forgotten
MISTAKE: Final = 0.03  # chance of "heard" by a mode not foreseen, or by mistake (common practice, no source)
BEACON_ON_AIR: Final = 0.9  # chance that a beacon keeps its schedule
SOMEBODY_ON_AIR: Final = (
    0.6  # chance that somebody calls from there on an open band (common practice, no source)
)
SAME_MOMENT: Final = np.timedelta64(60, "s")  # within which a report and an event are one (ours)
COPY_NAME: Final = "heard"


@dataclass(frozen=True, eq=False)
class Report:
    """One report. chances: chance that the signal could be copied, for each index of GRID_INDEX.

    on_air: chance that somebody was transmitting there at all. prior_index: the index without any report.
    """

    at: np.datetime64
    words: str
    heard: bool
    chances: FloatArray
    prior_index: float
    on_air: float = SOMEBODY_ON_AIR

    def likelihood(self) -> FloatArray:
        """Likelihood of this report for each index of the grid."""
        heard = MISTAKE + (1.0 - MISTAKE) * self.on_air * np.clip(self.chances, 0.0, 1.0)
        return heard if self.heard else 1.0 - heard


@dataclass(frozen=True, eq=False)
class Belief:
    """The index after the reports: weights over GRID_INDEX (their sum is 1), their mean and spread."""

    weights: FloatArray
    prior_index: float
    index: float
    spread: float

    @property
    def shift(self) -> float:
        """Correction of the index by the reports, at most LARGEST_SHIFT."""
        return float(np.clip(self.index - self.prior_index, -LARGEST_SHIFT, LARGEST_SHIFT))


def report(
    at: np.datetime64,
    words: str,
    heard: bool,
    chance: Callable[[FloatArray], FloatArray],
    prior_index: float,
    on_air: float = SOMEBODY_ON_AIR,
) -> Report:
    """A report whose likelihood comes from a forecast.

    chance: given an array of indices, the chance (0..1) of copying that signal with each. Raises InputError
    if it is the same for every index: then the report has no information about the sun.
    """
    chances = np.clip(as_float(chance(GRID_INDEX)), 0.0, 1.0)
    if chances.shape != GRID_INDEX.shape or np.isnan(chances).any():
        raise ValueError("chance() must answer for each index")
    if np.ptp(chances) < 0.01:
        raise InputError(
            f"{words}: the forecast is the same whatever the sun does, so this report cannot move it; "
            "report a band nearer to the edge of opening."
        )
    return Report(at, words, heard, chances, prior_index, on_air)


def weight_of_age(hours: float) -> float:
    """1 up to FULL_HOURS, falling to 0 at FORGET_HOURS; reports from the future count in full."""
    return float(np.clip((FORGET_HOURS - hours) / (FORGET_HOURS - FULL_HOURS), 0.0, 1.0))


def believe(prior_index: float, reports: Iterable[Report], now: np.datetime64) -> Belief:
    """The index after all reports not yet forgotten at a time."""
    logarithm = -0.5 * ((GRID_INDEX - prior_index) / PRIOR_SPREAD) ** 2
    prior_mean = _moments(logarithm)[1]
    for one in reports:
        hours = float((now - one.at) / np.timedelta64(3600, "s"))
        logarithm = logarithm + weight_of_age(hours) * np.log(one.likelihood())
    weights, mean, spread = _moments(logarithm)
    # The grid ends at -15 and 200, so the prior's own mean may lie off prior_index: only the movement counts.
    return Belief(weights, prior_index, prior_index + mean - prior_mean, spread)


def _moments(logarithm: FloatArray) -> tuple[FloatArray, float, float]:
    weights = np.exp(logarithm - logarithm.max())
    weights /= weights.sum()
    mean = float(weights @ GRID_INDEX)
    return weights, mean, float(np.sqrt(weights @ (GRID_INDEX - mean) ** 2))


def shift_record(belief: Belief, newest: np.datetime64) -> TimeSeries:
    """The shift of the index over time: in full from an hour before the newest report, then fading."""
    hours = np.array([-1.01, -1.0, FULL_HOURS, FORGET_HOURS])
    values = belief.shift * np.array([0.0, 1.0, 1.0, 0.0])
    return TimeSeries.of(shifted(newest, (hours * 3600.0).astype("timedelta64[s]")), values)


def reports_of(store: Store, now: np.datetime64) -> list[Report]:
    """The stored reports not forgotten at a time, oldest first; StoreError if the copy is damaged."""
    stored = store.get(COPY_NAME)
    if stored is None:
        return []
    try:
        items = json.loads(stored.body)
        # Reports on the former scale (R12) would be forgotten within hours anyhow
        reports = [_from_json(item) for item in items if "prior_r12" not in item]
    except (ValueError, TypeError, KeyError, AttributeError, RecursionError) as error:
        raise StoreError(
            f"The reports of what was heard ({COPY_NAME}) are damaged; they are left out."
        ) from error
    limit = np.timedelta64(int(FORGET_HOURS * 3600), "s")
    # A report from the future was made under a wrong clock
    return sorted((r for r in reports if -limit < now - r.at < limit), key=lambda r: r.at)


def add_report(store: Store, new: Report) -> None:
    """Keep one more report; forgotten and damaged ones go, and an older answer to the same question."""
    with store.changing(COPY_NAME):
        try:
            kept = [old for old in reports_of(store, new.at) if old.words != new.words]
        except StoreError:
            kept = []
        body = json.dumps([_to_json(one) for one in (*kept, new)]).encode("ascii")
        store.put(Stored(COPY_NAME, body, "heard by the operator", new.at, new.at))


def _to_json(one: Report) -> dict[str, object]:
    return {
        "at": str(one.at.astype("datetime64[s]")),
        "words": one.words,
        "heard": one.heard,
        "chances": [round(float(c), 4) for c in one.chances],
        "prior_index": round(one.prior_index, 2),
        "on_air": one.on_air,
    }


def forget_reports(store: Store) -> bool:
    """Forget everything heard; True if there was something."""
    with store.changing(COPY_NAME):
        return store.remove(COPY_NAME)


def heard_offset(
    store: Store, now: np.datetime64, besides: Sequence[np.datetime64] = ()
) -> tuple[TimeSeries, tuple[Fact, ...], str | None]:
    """The shift of the index by the stored reports, each report as a fact, and what was wrong with them.

    besides: moments [datetime64, UTC] whose reports are left out, because what was heard then is counted
    elsewhere.
    """
    try:
        reports = reports_of(store, now)
    except StoreError as damage:
        return EMPTY, (), damage.message
    reports = [one for one in reports if not any(abs(one.at - moment) <= SAME_MOMENT for moment in besides)]
    if not reports:
        return EMPTY, (), None
    newest = reports[-1]
    belief = believe(newest.prior_index, reports, newest.at)
    facts = tuple(Fact("heard" if r.heard else "not heard", r.words, r.at, "your ears") for r in reports)
    return shift_record(belief, later(newest.at, np.timedelta64(0, "s"))), facts, None


def _from_json(item: dict[str, object]) -> Report:
    at, prior, on_air = as_time(item["at"]), as_number(item["prior_index"]), as_number(item["on_air"])
    chances = as_float(item["chances"])
    whole = chances.shape == GRID_INDEX.shape and bool(np.isfinite(chances).all())
    if at is None or prior is None or on_air is None or not whole or not isinstance(item["heard"], bool):
        raise ValueError("a report is not whole")
    return Report(at, str(item["words"]), item["heard"], chances, prior, on_air)
