"""Why a window opens and why it closes, found from the numbers.

Each edge is looked at a little outside and a little inside. At both times the circuit is computed as it is,
and again with each loss in turn taken off: what a loss costs outside, less what it costs inside, is what the
edge owes to it; the noise is compared as it stands. The largest of these is the reason. Then the sun is
asked: is there a sunrise or sunset, at the place on the path that decides about that reason, that goes with
it in time and sense.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np

from propagation.advice.cells import Cells, Computed, Ends, compute
from propagation.advice.phrases import clock, decibels, kilometres
from propagation.base.units import FloatArray, TimeArray
from propagation.geo import sun
from propagation.signal.counterfactual import LOSSES, Counterfactual, Loss
from propagation.signal.forecast import Forecast
from propagation.signal.mode_chains import IS_ES, SLOTS

Reason = Literal["layer limit", "absorption", "screening", "aurora", "noise", "sporadic E", "many things"]

ASIDE: Final = np.timedelta64(45 * 60, "s")  # how far either side of an edge one looks (ours)
LEAST_DB: Final = 0.7  # dB, a change smaller than this is no reason (ours)
RISE_ZENITH_DEG: Final = 90.833  # deg, sunrise and sunset as almanacs give them
_SEARCH: Final = np.arange(-300, 301, 5) * np.timedelta64(60, "s")  # where a sunrise or sunset is looked for
# How long before the edge (negative: after it) a sunrise or sunset may be and still go with it [minutes]; the
# F2 layer fills quickly after sunrise and empties slowly after sunset (common practice, no source).
_TOGETHER_MIN: Final[dict[str, tuple[float, float]]] = {
    "layer limit": (-60.0, 240.0),
    "absorption": (-120.0, 120.0),
    "screening": (-120.0, 120.0),
    "noise": (-120.0, 180.0),
}
_AT_MIN: Final = 20.0  # minutes within which something happens "at" sunrise


@dataclass(frozen=True)
class SunEvent:
    """A sunrise or sunset on the path: `along_km` from home, of `total_km`."""

    kind: Literal["sunrise", "sunset"]
    time: np.datetime64
    along_km: float
    total_km: float

    @property
    def where(self) -> str:
        """The place in words."""
        near_km = max(0.04 * self.total_km, 150.0)
        if self.along_km <= near_km and self.along_km <= 0.5 * self.total_km:
            return "here"
        if self.total_km - self.along_km <= near_km:
            return "at the far end"
        return f"{kilometres(self.along_km)} along the path"


@dataclass(frozen=True)
class EdgeReason:
    """Why a window opens or closes.

    cause: what changes most across the edge. change_db: by how much that alone betters (start) or worsens
    (end) the margin, always positive. muf_outside_mhz, muf_inside_mhz: basic MUF a little outside and inside.
    event: the sunrise or sunset that goes with it, or None. text: all that in words.
    """

    cause: Reason
    change_db: float
    muf_outside_mhz: float
    muf_inside_mhz: float
    event: SunEvent | None
    text: str


@dataclass(frozen=True)
class Edge:
    """One edge to be explained: the cell's point, route and band, when, and whether it opens or closes."""

    point: int
    route: int
    band: int
    time: np.datetime64
    opens: bool
    inside_until: np.datetime64  # no look inside goes beyond this, the window's peak


def explain(result: Forecast, ends: Ends, edges: Sequence[Edge]) -> list[EdgeReason]:
    """The reason of every edge; all are computed in one call."""
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
    copies = 1 + len(LOSSES)
    copy = np.arange(count * copies) // count
    spared = Counterfactual({loss: copy == i + 1 for i, loss in enumerate(LOSSES)})
    found = compute(result, ends, cells.repeated(copies), counterfactual=spared)
    margin = found.margin_db.reshape(copies, count, 2)
    cost = margin[1:] - margin[0]  # what each loss costs (losses, edges, outside and inside)
    better = cost[..., 0] - cost[..., 1]
    return [_reason(result, found, edge, i, times[i], better[:, i]) for i, edge in enumerate(edges)]


def _outside_inside(edge: Edge) -> tuple[np.datetime64, np.datetime64]:
    if edge.opens:
        return edge.time - ASIDE, min(edge.time + ASIDE, max(edge.inside_until, edge.time))
    return edge.time + ASIDE, max(edge.time - ASIDE, min(edge.inside_until, edge.time))


def _reason(
    result: Forecast, found: Computed, edge: Edge, row: int, times: TimeArray, better: FloatArray
) -> EdgeReason:
    amounts: dict[Reason, float] = dict(zip(LOSSES, better.tolist(), strict=True))
    # the direction that decides outside is the one whose noise matters
    here_decides = bool(found.here.median_snr_db[row, 0, 0] <= found.there.median_snr_db[row, 0, 0])
    noise = (found.here if here_decides else found.there).noise_dbw[row, :, 0]
    amounts["noise"] = float(noise[0] - noise[1])
    cause: Reason = max(amounts, key=lambda name: amounts[name])
    change = amounts[cause]
    mode = int(found.path.path_mode[row, 1, 0])
    if mode < len(SLOTS) and bool(IS_ES[mode]) and cause == "layer limit":
        cause = "sporadic E"
    if change < LEAST_DB:
        cause = "many things"
    muf = found.path.muf_mhz[row]
    event = _event(found, edge, row, cause, times, here_decides)
    frequency = float(result.frequency_mhz[edge.band])
    text = _text(
        cause, edge.opens, change, frequency, float(muf[0]), float(muf[1]), event, here_decides, edge
    )
    return EdgeReason(cause, max(change, 0.0), float(muf[0]), float(muf[1]), event, text)


def _event(
    found: Computed, edge: Edge, row: int, cause: Reason, times: TimeArray, here_decides: bool
) -> SunEvent | None:
    """The sunrise or sunset at the deciding place that goes with the reason, or None."""
    if cause not in _TOGETHER_MIN:
        return None
    samples = found.path.samples
    outside, inside = (0, 1)
    points = samples.fof2_mhz.shape[-1]
    if cause == "layer limit":
        muf3000 = samples.fof2_mhz[row] * samples.m3000f2[row]
        place = int(np.argmin(np.where(_inner(points), muf3000[outside], np.inf)))
    elif cause == "noise":
        place = 0 if here_decides else points - 1
    else:
        strength = samples.d_strength[row]
        place = int(np.argmax(strength[outside] - strength[inside]))
    daylight_helps = cause in ("layer limit", "noise")  # it makes the MUF and takes away static
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
    """Points of a path at which a layer may turn the ray: not the ends themselves."""
    order = np.arange(points)
    return np.asarray((order >= 1) & (order <= points - 2))


def _text(
    cause: Reason,
    opens: bool,
    change_db: float,
    frequency_mhz: float,
    muf_outside: float,
    muf_inside: float,
    event: SunEvent | None,
    here_decides: bool,
    edge: Edge,
) -> str:
    amount = decibels(change_db)
    if cause == "layer limit":
        first, last = (muf_outside, muf_inside) if opens else (muf_inside, muf_outside)
        if (last > first) == opens and np.isfinite(first) and np.isfinite(last) and abs(last - first) >= 0.1:
            what = f"the MUF {'rises' if opens else 'falls'} from {first:.1f} to {last:.1f} MHz"
        else:
            what = f"the layers {'begin' if opens else 'cease'} to return {frequency_mhz:.1f} MHz"
    elif cause == "noise":
        where = "here" if here_decides else "at the far end"
        what = f"the noise {where} {'falls' if opens else 'rises'} by {amount}"
    else:
        what = {
            "absorption": f"absorption {'falls' if opens else 'rises'} by {amount}",
            "screening": f"the E layer {'lets the F2 layer be seen' if opens else 'hides the F2 layer'}",
            "aurora": f"loss in the auroral zone {'falls' if opens else 'rises'} by {amount}",
            "sporadic E": f"sporadic E {'builds up' if opens else 'dies away'}",
            "many things": f"several small changes {'add up' if opens else 'take their toll'}",
        }[cause]
    if event is None:
        return what
    before = float((edge.time - event.time) / np.timedelta64(60, "s"))
    when = "at" if abs(before) <= _AT_MIN else ("after" if before > 0.0 else "before")
    return f"{what}, {when} {event.kind} {event.where} ({clock(event.time)})"


__all__ = ["Edge", "EdgeReason", "Loss", "Reason", "SunEvent", "explain"]
