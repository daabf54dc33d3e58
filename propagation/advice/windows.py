"""Windows of a day: when each band opens and closes, why, and their rank.

A window belongs to a band and a route. The search for openings over the smooth worth finds it: contacts an
hour with a region, days with a place. Around every peak it is the stretch during which the worth is at least
half of the peak's. The threshold is never above 5 days in 10 nor below 1, nor above 6 contacts an hour or
below 1. A lower peak has its own window only where the worth between falls below half of it. Windows rank
by the figure told of their best hour; of alike ones the surer comes first, then the lower band (`ranking`).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from propagation.advice.edges import Edge, EdgeReason, explain
from propagation.advice.ranking import told_chance, told_rate
from propagation.advice.rates import Prospect, Rate
from propagation.advice.recompute import at_power, terminals_of
from propagation.advice.region_chance import ChanceCurve, chance_curve, mean_over, named_point, outlook
from propagation.base.search import OpenPeriod, spans
from propagation.base.units import FloatArray
from propagation.signal.chances.forecast import ROUTES, Forecast
from propagation.signal.rays.causes import CAUSES, Cause
from propagation.station.terminals import Terminals

FLOOR: Final = 0.1  # chance below which nothing counts as a window (ours)
ENOUGH: Final = 0.5  # chance that is enough for a window to last, whatever its peak (ours)
FLOOR_PER_H: Final = 1.0  # contacts an hour, likewise (ours)
ENOUGH_PER_H: Final = 6.0  # contacts an hour, likewise: one in ten minutes (ours)
OF_PEAK: Final = 0.5  # share of a window's best worth at which it begins and ends (ours)
SHORTEST: Final = np.timedelta64(10 * 60, "s")  # a window shorter than this is no use (ours)
HOUR: Final = np.timedelta64(3600, "s")
GRID: Final = np.timedelta64(300, "s")  # times are rounded to five minutes


@dataclass(frozen=True)
class Window:
    """One opening of a band by one route.

    start, peak_time, end: to five minutes; opens, closes: False where the window extends beyond the requested
    times. chance: at the peak; mean: over the whole window. rate: contacts an hour over the best hour, as
    told, None for a place. best_hour: worth over the best hour. elevation_deg: take-off angle at the peak,
    None where it has no meaning. mode: the strongest mode at the peak, "2F2". place: a named point.
    share: of a region's amateurs in reach by the route at the peak, of days for a place. began, ended: why it
    opens and closes. wanted: contacts requested of a region, 0 for a place.
    """

    rank: int
    band: str
    frequency_mhz: float
    route: str
    start: np.datetime64
    peak_time: np.datetime64
    end: np.datetime64
    opens: bool
    closes: bool
    chance: float
    mean: float
    best_hour: float
    rate: Rate | None
    elevation_deg: float | None
    mode: str
    place: str
    share: float
    began: EdgeReason | None = None
    ended: EdgeReason | None = None
    wanted: int = 0

    @property
    def best(self) -> Prospect:
        """What it promises at its peak: over its best hour, with a region."""
        return Prospect(self.chance, self.rate, self.wanted)

    @property
    def minutes(self) -> int:
        """Length in minutes."""
        return int((self.end - self.start) / np.timedelta64(60, "s"))


@dataclass(frozen=True)
class LeftOut:
    """Band that licence or antenna rule out, for an emission (SSB and so on)."""

    band: str
    cause: Cause
    emission: str


@dataclass(frozen=True)
class Closed:
    """Band without a window: its best time of the day, what it promises and its limit then."""

    band: str
    best: Prospect
    time: np.datetime64
    limit: Cause


@dataclass(frozen=True)
class Windows:
    """All windows in order of rank, the bands that have none, and those left out."""

    windows: tuple[Window, ...]
    closed: tuple[Closed, ...]
    left_out: tuple[LeftOut, ...]


def find_windows(
    result: Forecast,
    terminals: Terminals | None = None,
    *,
    explained: bool = True,
) -> Windows:
    """Find the windows of a forecast over two or more times.

    terminals: of the forecast, made again where None. explained: False leaves out why they open and close,
    which costs a second or so.
    """
    found: list[Window] = []
    edges: list[tuple[int, bool, Edge]] = []
    by_route = outlook(result).worth_by_route
    thresholds = thresholds_of(result)
    for band in np.flatnonzero(result.usable).tolist():
        taken: list[Window] = []
        for route in np.argsort(-by_route[:, :, band].max(axis=1), kind="stable").tolist():
            curve = chance_curve(result.times, by_route[route, :, band])
            samples = by_route[route, :, band]
            for span in openings(curve, result.times[0], result.times[-1], samples, *thresholds):
                window, point = _window(result, band, route, span)
                if any(_adds_nothing(window, other) for other in taken):
                    continue
                taken.append(window)
                number = len(found)
                found.append(window)
                for opens, moment, real in (
                    (True, window.start, window.opens),
                    (False, window.end, window.closes),
                ):
                    if real:
                        edges.append(
                            (number, opens, Edge(point, route, band, moment, opens, window.peak_time))
                        )
    if explained and edges:
        reasons = explain(
            result, at_power(terminals or terminals_of(result), result), [edge for _, _, edge in edges]
        )
        for (number, opens, _), reason in zip(edges, reasons, strict=True):
            old = found[number]
            found[number] = replace(old, began=reason) if opens else replace(old, ended=reason)
    order = {band.name: row for row, band in enumerate(result.bands)}
    ranked = sorted(found, key=lambda w: (*_rank(w), order[w.band], w.start))
    return Windows(
        tuple(replace(window, rank=i + 1) for i, window in enumerate(ranked)),
        _closed(result, {window.band for window in found}),
        left_out(result),
    )


def _rank(window: Window) -> tuple[float, float]:
    """Figure told of a window's best hour, and how sure it is: the greater comes first."""
    if window.rate is not None:
        return -window.rate.middle, -window.rate.low
    return -float(told_chance(window.best_hour)), -window.best_hour


def thresholds_of(result: Forecast) -> tuple[float, float]:
    """Worth below which nothing counts as a window, and that is enough for one to last."""
    ceiling = outlook(result).ceiling
    return (FLOOR_PER_H / ceiling, ENOUGH_PER_H / ceiling) if result.target.is_region else (FLOOR, ENOUGH)


def openings(
    curve: ChanceCurve, start: np.datetime64, end: np.datetime64, samples: FloatArray,
    floor: float = FLOOR, enough: float = ENOUGH,
) -> list[OpenPeriod]:  # fmt: skip
    """Stretches around each peak of a curve, by the rule at the head of this file, in order of time.

    samples: the values the curve was interpolated from, evenly from start to end: their local peaks are
    tried. floor: value below which nothing counts; enough: value that is enough.
    """
    padded = np.concatenate(([-1.0], samples, [-1.0]))
    peaks = np.flatnonzero((padded[1:-1] >= padded[:-2]) & (padded[1:-1] >= padded[2:]) & (samples >= floor))
    width = (end - start) / np.timedelta64(1, "s") / max(samples.size - 1, 1)
    chosen: list[OpenPeriod] = []
    at_level: dict[float, list[OpenPeriod]] = {}
    for i in peaks[np.argsort(-samples[peaks], kind="stable")].tolist():
        moment = start + np.timedelta64(round(i * width), "s")
        if any(span.start <= moment <= span.end for span in chosen):
            continue
        level = round(min(max(OF_PEAK * float(samples[i]), floor), enough), 6)
        if level not in at_level:
            at_level[level] = spans(lambda times, low=level: curve(times) - low, start, end)  # type: ignore[misc]
        for span in at_level[level]:
            fits = span.start <= moment <= span.end and span.end - span.start >= SHORTEST
            if fits and not any(_meet(span, other) for other in chosen):
                chosen.append(replace(span, peak=span.peak + level))
    return sorted(chosen, key=lambda span: span.start)


def _meet(one: OpenPeriod, other: OpenPeriod) -> bool:
    return bool(one.start <= other.end and other.start <= one.end)


def _adds_nothing(window: Window, other: Window) -> bool:
    """Return whether another route's window covers this one with at least its chance."""
    return bool(other.start <= window.start and window.end <= other.end and other.chance >= window.chance)


def _window(result: Forecast, band: int, route: int, span: OpenPeriod) -> tuple[Window, int]:
    """Window of a span, with its point of the target: where most stations are in reach at the peak."""
    at = result.time_index(span.peak_time)
    point = named_point(result, at, band, route)
    reached = float(result.chance[:, route, at, band] @ result.target.weight)
    elevation = float(result.elevation_deg[point, route, at, band])
    name = result.bands[band].name
    seen = outlook(result)
    chance, worth = (
        chance_curve(result.times, rows[route, :, band]) for rows in (seen.by_route, seen.worth_by_route)
    )
    hour = _best_hour(worth, span)
    window = Window(
        rank=0,
        band=name,
        frequency_mhz=round(float(result.frequency_mhz[band]), 4),
        route=ROUTES[route],
        start=to_grid(span.start),
        peak_time=to_grid(span.peak_time),
        end=to_grid(span.end),
        opens=span.opens,
        closes=span.closes,
        chance=float(chance(span.peak_time)),
        mean=mean_over(chance, span.start, span.end),
        best_hour=mean_over(worth, *hour),
        rate=_rate(result, band, route, hour),
        elevation_deg=elevation if np.isfinite(elevation) else None,
        mode=result.ray_path_name(point, route, at, band),
        place=result.target.labels[point],
        share=reached if result.target.is_region else float(chance(span.peak_time)),
        wanted=seen.wanted,
    )
    return window, point


def _rate(result: Forecast, band: int, route: int, hour: tuple[np.datetime64, np.datetime64]) -> Rate | None:
    """Contacts an hour by a route over the best hour, as told; None for a place."""
    seen = outlook(result)
    if seen.people is None:
        return None
    rates = seen.people.route_rate
    curves = [
        chance_curve(result.times, rows[route, :, band] / seen.ceiling)
        for rows in (rates.low, rates.middle, rates.high)
    ]
    return Rate(*(float(told_rate(seen.ceiling * mean_over(curve, *hour))) for curve in curves))


def _best_hour(curve: ChanceCurve, span: OpenPeriod) -> tuple[np.datetime64, np.datetime64]:
    """Start and end of the best hour inside a span (all of it, where it is shorter)."""
    if span.end - span.start <= HOUR:
        return span.start, span.end
    starts = np.arange(span.start, span.end - HOUR + GRID, GRID)
    inside = np.linspace(0, 3600, 13).astype("timedelta64[s]")
    ticks = np.minimum(starts[:, None] + inside[None, :], span.end)
    values = curve(ticks)
    best = int(np.argmax(np.mean(0.5 * (values[:, 1:] + values[:, :-1]), axis=1)))
    return starts[best], min(starts[best] + HOUR, span.end)


def to_grid(moment: np.datetime64) -> np.datetime64:
    """The nearest whole five minutes."""
    seconds = int(moment.astype("datetime64[s]").astype(np.int64))
    return np.datetime64((seconds + 150) // 300 * 300, "s")


def _closed(result: Forecast, open_bands: set[str]) -> tuple[Closed, ...]:
    closed = []
    seen = outlook(result)
    for band in np.flatnonzero(result.usable).tolist():
        name = result.bands[band].name
        if name not in open_bands:
            at = int(np.argmax(seen.worth[:, band]))
            limit = CAUSES[int(seen.limit[at, band])]
            closed.append(Closed(name, seen.at(at, band), result.times[at], limit))
    return tuple(closed)


def left_out(result: Forecast) -> tuple[LeftOut, ...]:
    """Bands that licence or antenna rule out, each with its cause."""
    return tuple(
        LeftOut(result.bands[band].name, CAUSES[int(result.unusable_cause[band])], result.mode.name)
        for band in np.flatnonzero(~result.usable).tolist()
    )


@dataclass(frozen=True)
class Hope:
    """Best cell of a forecast, window or not: its band, time, what it promises, and its limit."""

    band: str
    time: np.datetime64
    best: Prospect
    limit: Cause


def best_hope(result: Forecast) -> Hope | None:
    """Best cell of any usable band, or None where licence and antenna leave no band."""
    if not result.usable.any():
        return None
    seen = outlook(result)
    row = np.where(result.usable[None, :], seen.ranked, -1.0)
    at, band = (int(i) for i in np.unravel_index(int(np.argmax(row)), row.shape))
    limit = CAUSES[int(seen.limit[at, band])]
    return Hope(result.bands[band].name, result.times[at], seen.at(at, band), limit)
