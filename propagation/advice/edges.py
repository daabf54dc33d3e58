"""Reasons for the opening and closing of a window, found from the numbers.

Each edge is computed a little outside and a little inside. At both times the circuit is computed with all
losses, and again with each loss in turn removed. A loss's part in the edge is its cost outside minus its cost
inside. The noise is compared directly. So is the activity of a region. The largest part is the reason. Then a
sunrise or sunset is searched for at the place on the path that decides about that reason. It must agree with
the reason in time and direction.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np

from propagation.advice import activity
from propagation.advice.recompute import Cells, Computed, Switched, compute
from propagation.base.units import TimeArray
from propagation.geo import sun
from propagation.signal.chances.forecast import Forecast
from propagation.signal.losses.counterfactual import Counterfactual
from propagation.signal.rays.causes import EVENTS, LOSSES, Cause
from propagation.signal.rays.ray_paths import IS_ES, TEMPLATES
from propagation.space_weather.state.storm_corrections import corrections_of, events_at
from propagation.station.terminals import Terminals

ASIDE: Final = np.timedelta64(45 * 60, "s")  # from an edge to the computed times on either side (ours)
LEAST_DB: Final = 0.7  # dB, a change smaller than this is no reason (ours)
# dB of margin that bring as many more stations into reach as 1 dB of active stations: with a spread of 10 dB,
# 1.3 where a tenth is in reach, 2.9 where half is (normal distribution)
PEOPLE_AS_MARGIN: Final = 2.0
RISE_ZENITH_DEG: Final = 90.833  # deg, sunrise and sunset as almanacs give them
_SEARCH: Final = np.arange(-300, 301, 5) * np.timedelta64(60, "s")  # search times for a sunrise or sunset
# Time before the edge (negative: after it) at which a sunrise or sunset may still belong to it [minutes]. The
# F2 layer fills quickly after sunrise and empties slowly after sunset (common practice, no source).
_TOGETHER_MIN: Final[dict[Cause, tuple[float, float]]] = {
    "above the MUF": (-60.0, 240.0),
    "absorption": (-120.0, 120.0),
    "E screening": (-120.0, 120.0),
    "noise": (-120.0, 180.0),
}


@dataclass(frozen=True)
class SunEvent:
    """Sunrise or sunset on the path: `along_km` from home, of `total_km`."""

    kind: Literal["sunrise", "sunset"]
    time: np.datetime64
    along_km: float
    total_km: float


@dataclass(frozen=True)
class EdgeReason:
    """Reason why a window opens or closes.

    time: of the edge; opens: whether it is the window's start. cause: the loss that changes most across the
    edge. "above the MUF" means the limit of the layers, "many things" means no single one. change_db: change
    of the margin by that cause alone, an increase at the start and a decrease at the end, always positive.
    frequency_mhz: of the band. muf_outside_mhz, muf_inside_mhz: basic MUF a little outside and inside.
    at_home: whether the noise that counts is the one at home. event: the sunrise or sunset that belongs to
    it, or None.
    """

    time: np.datetime64
    opens: bool
    cause: Cause
    change_db: float
    frequency_mhz: float
    muf_outside_mhz: float
    muf_inside_mhz: float
    at_home: bool
    event: SunEvent | None


@dataclass(frozen=True)
class Edge:
    """Edge to be explained: the cell's point, route and band, its time, and whether it opens or closes."""

    point: int
    route: int
    band: int
    time: np.datetime64
    opens: bool
    inside_until: np.datetime64  # latest computed time inside, the window's peak


def explain(result: Forecast, terminals: Terminals, edges: Sequence[Edge]) -> list[EdgeReason]:
    """Compute the reason of every edge; all are computed in one call."""
    if not edges:
        return []
    count = len(edges)
    times = np.array([_outside_inside(edge) for edge in edges])
    cells = Cells(
        np.array([edge.point for edge in edges]),
        np.array([edge.route for edge in edges]),
        np.array([edge.band for edge in edges]),
        times,
    )
    disturbed = corrections_of(result.conditions, result.effects, times)
    eventful = disturbed is not None and events_at(result.conditions, result.effects, times).any()
    asked: tuple[Cause, ...] = (*LOSSES, *(EVENTS if eventful else ()))
    copies = 1 + len(asked)
    copy = np.arange(count * copies) // count
    spared = Counterfactual({loss: copy == i + 1 for i, loss in enumerate(LOSSES)})
    calm = {name: copy == asked.index(name) + 1 for name in EVENTS if name in asked}
    disturber = Switched(disturbed, calm) if disturbed is not None and calm else None
    found = compute(result, terminals, cells.repeated(copies), counterfactual=spared, disturber=disturber)
    margin = found.margin_db.reshape(copies, count, 2)
    cost = margin[1:] - margin[0]  # cost of each loss (losses, edges, outside and inside)
    better = cost[..., 0] - cost[..., 1]
    return [
        _reason(result, found, edge, i, times[i], dict(zip(asked, better[:, i].tolist(), strict=True)))
        for i, edge in enumerate(edges)
    ]


def _outside_inside(edge: Edge) -> tuple[np.datetime64, np.datetime64]:
    if edge.opens:
        return edge.time - ASIDE, min(edge.time + ASIDE, max(edge.inside_until, edge.time))
    return edge.time + ASIDE, max(edge.time - ASIDE, min(edge.inside_until, edge.time))


def _reason(
    result: Forecast, found: Computed, edge: Edge, row: int, times: TimeArray, better: dict[Cause, float]
) -> EdgeReason:
    amounts = dict(better)
    # the direction that decides outside is the one whose noise matters
    here_decides = bool(found.here.median_snr_db[row, 0, 0] <= found.there.median_snr_db[row, 0, 0])
    noise = (found.here if here_decides else found.there).noise_dbw[row, :, 0]
    amounts["noise"] = float(noise[0] - noise[1])
    if result.target.is_region:
        band = result.bands[edge.band].name
        people = activity.listening(result.target, times, [band], result.mode.name)[edge.point, :, 0]
        amounts["few on the air"] = PEOPLE_AS_MARGIN * 10.0 * float(np.log10(people[1] / people[0]))
    cause: Cause = max(amounts, key=lambda name: amounts[name])
    change = amounts[cause]
    mode = int(found.path.ray_path[row, 1, 0])
    if mode < len(TEMPLATES) and bool(IS_ES[mode]) and cause == "above the MUF":
        cause = "sporadic E"
    if change < LEAST_DB:
        cause = "many things"
    muf = found.path.muf_mhz[row]
    event = _event(found, edge, row, cause, times, here_decides)
    return EdgeReason(
        time=edge.time,
        opens=edge.opens,
        cause=cause,
        change_db=max(change, 0.0),
        frequency_mhz=float(result.frequency_mhz[edge.band]),
        muf_outside_mhz=float(muf[0]),
        muf_inside_mhz=float(muf[1]),
        at_home=here_decides,
        event=event,
    )


def _event(
    found: Computed, edge: Edge, row: int, cause: Cause, times: TimeArray, here_decides: bool
) -> SunEvent | None:
    """Sunrise or sunset at the deciding place that belongs to the reason, or None."""
    if cause not in _TOGETHER_MIN:
        return None
    samples = found.path.samples
    outside, inside = (0, 1)
    points = samples.fof2_mhz.shape[-1]
    if cause == "above the MUF":
        muf3000 = samples.fof2_mhz[row] * samples.m3000f2[row]
        place = int(np.argmin(np.where(_inner(points), muf3000[outside], np.inf)))
    elif cause == "noise":
        place = 0 if here_decides else points - 1
    else:
        strength = samples.d_strength[row]
        place = int(np.argmax(strength[outside] - strength[inside]))
    daylight_helps = cause in ("above the MUF", "noise")  # it raises the MUF and reduces static
    wanted: Literal["sunrise", "sunset"] = "sunrise" if daylight_helps == edge.opens else "sunset"
    when = edge.time + _SEARCH
    zenith = sun.zenith_deg(samples.lat_deg[row, place], samples.lon_deg[row, place], when)
    up = zenith < RISE_ZENITH_DEG
    turn = np.flatnonzero(up[1:] & ~up[:-1] if wanted == "sunrise" else ~up[1:] & up[:-1])
    low, high = _TOGETHER_MIN[cause]
    best: SunEvent | None = None
    nearest = np.inf
    for i in turn.tolist():
        part = float((RISE_ZENITH_DEG - zenith[i]) / (zenith[i + 1] - zenith[i]))
        moment = when[i] + np.timedelta64(round(part * 300.0), "s")
        before = float((edge.time - moment) / np.timedelta64(60, "s"))
        if low <= before <= high and abs(before) < nearest:
            nearest = abs(before)
            total = float(samples.distance_km[row])
            best = SunEvent(wanted, moment, total * place / (points - 1), total)
    return best


def _inner(points: int) -> np.ndarray[tuple[int, ...], np.dtype[np.bool_]]:
    """Points of a path at which a layer may reflect the ray path: not the ends themselves."""
    order = np.arange(points)
    return np.asarray((order >= 1) & (order <= points - 2))


__all__ = ["Edge", "EdgeReason", "SunEvent", "explain"]
