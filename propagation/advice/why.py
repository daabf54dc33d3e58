"""Answer to "why was that band dead?": what it promises, ledger, causes, changes that help, near and far.

Changes are another hour, another band, more radials, more power and another mode. For each the cell is
forecast again. Near and far: the contact is computed at distances from 30 to 12,000 km on the bearing of the
ledger's route. Where it fails on half of the days between two distances at which it succeeds there is a dead
zone. Its cause is found like any other. The skip distance is that of `signal.chances.skip`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final, Literal

import numpy as np

from propagation.advice.cause_weights import Reasons, Weighted, reasons
from propagation.advice.events import BARELY, AbsorptionEvent, event_at
from propagation.advice.ledger import Ledger, ledger_of
from propagation.advice.ranking import told_rate
from propagation.advice.rates import Prospect, Rate
from propagation.advice.recompute import compute, one_cell, request_of
from propagation.advice.region_chance import chance_curve, outlook
from propagation.advice.windows import openings, thresholds_of, to_grid
from propagation.antennas.improvements import more_radials
from propagation.base.units import FloatArray
from propagation.geo.great_circle import destination
from propagation.geo.regions import Target, make_target
from propagation.signal.chances.forecast import ROUTES, Forecast, forecast
from propagation.signal.chances.limiting import FAIR_POWER_W, OPEN
from propagation.signal.chances.skip import skip_of_forecast_km
from propagation.signal.losses.crossing_losses import CrossingLoss, crossing_losses
from propagation.signal.rays.causes import CAUSES, EVENTS, Cause
from propagation.spectrum.modes import ModeName, narrower
from propagation.station.terminals import Terminals, own_terminal

ChangeKind = Literal["hour", "band", "radials", "power", "mode"]


@dataclass(frozen=True)
class Change:
    """One change and what the band promises with it.

    time, best: next opening of the band (now or later) and its best time, for "hour". band: the new band, for
    "band". radials, power_w, mode: the new value and the one it replaces, for those kinds.
    """

    kind: ChangeKind
    promise: Prospect
    time: np.datetime64 | None = None
    best: np.datetime64 | None = None
    band: str | None = None
    radials: tuple[int, int] | None = None
    power_w: tuple[float, float] | None = None
    mode: tuple[ModeName, ModeName] | None = None


def changes(result: Forecast, terminals: Terminals, band: int, time: int) -> tuple[Change, ...]:
    """Changes for one cell of a forecast (indices of band and time), the most helpful first."""
    found = [
        _next_opening(result, band, time),
        _other_band(result, band, time),
        _more_radials(result, terminals, band, time),
        _more_power(result, terminals, band, time),
        _narrower_mode(result, terminals, band, time),
    ]
    return tuple(sorted((one for one in found if one is not None), key=lambda one: -one.promise.figure))


def _next_opening(result: Forecast, band: int, time: int) -> Change | None:
    """Nearest hour from now on at which the band is at its best, if that is later than now."""
    seen = outlook(result)
    worth, now = seen.worth[:, band], result.times[time]
    if not result.usable[band] or time >= len(result.times) - 1:
        return None
    curve = chance_curve(result.times, worth)
    for span in openings(curve, now, result.times[-1], worth[time:], *thresholds_of(result)):
        promise = seen.at(result.time_index(span.peak_time), band)
        if span.peak_time > now and _greater(promise, seen.at(time, band)):
            opens, best = to_grid(span.start), to_grid(span.peak_time)
            return Change("hour", promise, time=opens if opens > now else best, best=best)
    return None


def _other_band(result: Forecast, band: int, time: int) -> Change | None:
    row = np.where(result.usable, outlook(result).ranked[time], -1.0)
    row[band] = -1.0
    best = int(np.argmax(row))
    if row[best] < 0.0:
        return None
    return Change("band", promise_of(result, best, time), band=result.bands[best].name)


def _again(result: Forecast, band: int, time: int, terminals: Terminals, mode: str | None = None) -> Prospect:
    """What the cell promises with other terminals or another mode; nothing where the licence forbids."""
    if not result.station.usable(result.bands[band], mode or result.mode):
        return _nothing(result)
    again = forecast(
        replace(
            request_of(result, terminals),
            mode=mode or result.mode.name,
            power_w=None,
            times=result.times[time : time + 1],
            bands=[result.bands[band]],
        )
    )
    return promise_of(again, 0, 0)


def _more_radials(result: Forecast, terminals: Terminals, band: int, time: int) -> Change | None:
    spec = result.station.antenna
    more = more_radials(spec)
    if more is None:
        return None
    better = replace(spec, radials=more)
    own = replace(own_terminal(replace(result.station, antenna=better)), power_w=terminals.near.power_w)
    own = replace(own, offset_db=terminals.near.offset_db)
    promise = _again(result, band, time, Terminals(own, terminals.far))
    return Change("radials", promise, radials=(more, spec.radials))


def _more_power(result: Forecast, terminals: Terminals, band: int, time: int) -> Change | None:
    most = min(FAIR_POWER_W, result.station.limits.power_w or FAIR_POWER_W)
    if terminals.near.power_w >= most:
        return None
    own = replace(terminals.near, power_w=most)
    promise = _again(result, band, time, Terminals(own, terminals.far))
    return Change("power", promise, power_w=(most, terminals.near.power_w))


def _narrower_mode(result: Forecast, terminals: Terminals, band: int, time: int) -> Change | None:
    mode = narrower(result.mode)
    if mode is None:
        return None
    promise = _again(result, band, time, terminals, mode.name)
    return Change("mode", promise, mode=(mode.name, result.mode.name))


NEAREST_KM: Final = 30.0  # km, the shortest distance computed
FARTHEST_KM: Final = 12_000.0  # km
COUNT: Final = 36  # distances, evenly by ratio: each 18 % farther than the last
HEARD: Final = OPEN  # chance from which stations at a distance count as heard: half of the days


@dataclass(frozen=True)
class NearFar:
    """Chance over distance on one bearing, and the skip distance there.

    distance_km, chance: shape (n,). near_to_km: end of the near zone heard from home on, or None. gap_km: the
    dead zone (from, to), or None. far_to_km: end of the far zone beyond it, or None where there is none.
    cause: the heaviest cause in the middle of the gap. skip_km: nearest place at which a layer returns the
    band on half of the days, None where none does. band, time: of the computation.
    """

    band: str
    time: np.datetime64

    bearing_deg: float
    distance_km: FloatArray
    chance: FloatArray
    near_to_km: float | None
    gap_km: tuple[float, float] | None
    far_to_km: float | None
    cause: Weighted | None
    skip_km: float | None = None

    @property
    def best(self) -> float:
        """Best chance at any distance."""
        return float(np.max(self.chance))

    @property
    def best_km(self) -> float:
        """Distance of the best chance."""
        return float(self.distance_km[np.argmax(self.chance)])


def near_and_far(
    result: Forecast, terminals: Terminals, band: int, time: int, point: int = 0, route: int = 0
) -> NearFar:
    """Chance over distance in the direction of a route to a point of the target, for one cell (indices)."""
    home = result.station.site.position
    bearing = float(result.bearing_deg[point, route])
    distance = np.geomspace(NEAREST_KM, FARTHEST_KM, COUNT)
    lat, lon = destination(home.lat_deg, home.lon_deg, np.full(COUNT, bearing), distance)
    labels = [f"{km:.0f}" for km in distance.tolist()]
    line = make_target("a line of distances", "ring", lat, lon, np.ones(COUNT), labels)
    row = _forecast(result, terminals, line, band, time)
    chance = np.asarray(row.chance[:, 0, 0, 0])  # the short route
    heard = chance >= HEARD
    near_to, gap, far_to = zones(distance, chance)
    cause = None
    if gap is not None:
        at = int(np.argmin(np.where(heard, np.inf, np.abs(np.log(distance) - 0.5 * np.log(gap[0] * gap[1])))))
        one = make_target(labels[at], "place", lat[at : at + 1], lon[at : at + 1], [1.0], [labels[at]])
        cell = _forecast(result, terminals, one, band, time)
        cause = reasons(cell, terminals, 0, 0).causes[0]
    name, moment = result.bands[band].name, result.times[time]
    skip = float(skip_of_forecast_km(result, bearing, moment, result.frequency_mhz[band])[0])
    skip_km = skip if np.isfinite(skip) else None
    return NearFar(name, moment, bearing, distance, chance, near_to, gap, far_to, cause, skip_km)


def _forecast(result: Forecast, terminals: Terminals, target: Target, band: int, time: int) -> Forecast:
    """Forecast for one band and time of a forecast again, towards another target."""
    return forecast(
        replace(
            request_of(result, terminals),
            target=target,
            times=result.times[time : time + 1],
            bands=[result.bands[band]],
            people=False,
        )
    )


def zones(
    distance_km: FloatArray, chance: FloatArray, least: float = HEARD
) -> tuple[float | None, tuple[float, float] | None, float | None]:
    """End of the near zone, the dead zone, and the end of the far zone [km], from a chance over rising
    distances.

    The far zone is the one of the best chance beyond the first gap. Edges are where the chance, linear in the
    logarithm of distance, equals `least`. A distance is None where its zone does not exist.
    """
    heard = chance >= least
    if not heard.any():
        return None, None, None
    first_deaf = int(np.argmin(heard)) if not heard.all() else heard.size
    near_to = None if first_deaf == 0 else _edge(distance_km, chance, first_deaf - 1, first_deaf, least)
    beyond = np.flatnonzero(heard[first_deaf:]) + first_deaf
    if beyond.size == 0:
        return near_to, None, None
    opens = int(beyond[0])
    gap_start = near_to if near_to is not None else float(distance_km[0])
    gap_end = _edge(distance_km, chance, opens, opens - 1, least)
    last = int(beyond[-1])
    far_to = _edge(distance_km, chance, last, last + 1, least)
    return near_to, (gap_start, gap_end), far_to


def _edge(distance_km: FloatArray, chance: FloatArray, inside: int, outside: int, least: float) -> float:
    if not 0 <= outside < distance_km.size:
        return float(distance_km[inside])
    share = (chance[inside] - least) / max(float(chance[inside] - chance[outside]), 1e-9)
    low, high = np.log(distance_km[inside]), np.log(distance_km[outside])
    return float(np.exp(low + float(np.clip(share, 0.0, 1.0)) * (high - low)))


WORTH_SAYING: Final = 0.05  # weight from which a cause is named (ours)
HELPS: Final = 0.03  # of chance, from which a change counts as helpful with a place (ours)
HELPS_FROM_PER_H: Final = 0.5  # contacts an hour, below which no change counts as helpful (ours)


@dataclass(frozen=True)
class Explanation:
    """Answer for one band, time and target.

    promise: of the target, nothing where licence or antenna forbid. limit: the limit in the band's lane,
    "open" where it serves: the largest single loss. event: the flare or proton event that closes or weakens
    the band. crossings: losses of the ledger's ray path at every crossing of the D and E layers, empty
    without hops. people: what a region's contacts an hour are based on, None for a place.
    """

    band: str
    time: np.datetime64
    target: str
    promise: Prospect
    limit: Cause
    route: str
    place: str
    ledger: Ledger
    reasons: Reasons
    changes: tuple[Change, ...]
    near_far: NearFar | None
    event: AbsorptionEvent | None = None
    crossings: tuple[CrossingLoss, ...] = ()
    people: Based | None = None

    @property
    def causes(self) -> tuple[Weighted, ...]:
        """Causes by weight."""
        return self.reasons.causes

    @property
    def named(self) -> tuple[Weighted, ...]:
        """Causes worth naming."""
        return tuple(row for row in self.causes if row.weight >= WORTH_SAYING and row.cause != "open")

    @property
    def heaviest(self) -> Cause:
        """Heaviest of the causes that can limit a lane; "open" where nothing is missing."""
        return _heaviest(self.reasons)

    @property
    def helpful(self) -> tuple[Change, ...]:
        """Changes that help."""
        return tuple(one for one in self.changes if _greater(one.promise, self.promise))

    @property
    def useless(self) -> tuple[Change, ...]:
        """Changes with little or no effect."""
        return tuple(one for one in self.changes if not _greater(one.promise, self.promise))


def _blames_event(found: Reasons) -> bool:
    """Return whether an event has the largest weight, and the band would be of some use without it."""
    first = next((row for row in found.causes if row.cause != "mode"), None)
    return first is not None and first.cause in EVENTS and first.alone.chance >= BARELY


def _heaviest(found: Reasons) -> Cause:
    return next((row.cause for row in found.causes if row.cause != "mode"), "open")


def promise_of(result: Forecast, band: int, time: int) -> Prospect:
    """What one cell promises; nothing where licence or antenna rule the band out."""
    return outlook(result).at(time, band) if result.usable[band] else _nothing(result)


def _nothing(result: Forecast) -> Prospect:
    return Prospect(0.0, Rate(0.0, 0.0, 0.0) if result.target.is_region else None, result.wanted)


def _greater(one: Prospect, other: Prospect) -> bool:
    """Return whether one promises more: a greater figure told with a region, HELPS more with a place."""
    if one.rate is None:
        return one.chance >= other.chance + HELPS
    return bool(told_rate(one.figure) > told_rate(other.figure)) and one.figure >= HELPS_FROM_PER_H


@dataclass(frozen=True)
class Based:
    """What a region's contacts an hour on a band are based on.

    on_air: stations on the air there; in_reach: of those, in reach. few: the first few contacts, within so
    many minutes with this chance.
    """

    on_air: float
    in_reach: float
    few: tuple[int, float]


def _based(result: Forecast, band: int, time: int) -> Based | None:
    people = outlook(result).people
    if people is None:
        return None
    minutes, chance = people.first_few()
    return Based(
        float(np.sum(people.on_air[:, time, band])),
        float(people.stations[time, band]),
        (int(minutes[time, band]), float(chance[time, band])),
    )


def better_route(result: Forecast, point: int, band: int, time: int) -> int:
    """Better route (an index of ROUTES) to a point in a cell; the short one where both are equal."""
    return int(np.argmax(result.chance[point, :, time, band]))


def why(
    result: Forecast,
    terminals: Terminals,
    band: int,
    time: int,
    *,
    near_far: bool = True,
    what_if: bool = True,
    other_way: bool = False,
) -> Explanation:
    """Compute the answer for one cell of a forecast (indices); later times give the next opening.

    The ledger is of the better route to the named point, or of the other one where that is requested.
    """
    point = int(result.best_point[time, band])
    route = better_route(result, point, band, time) ^ int(other_way)
    found = reasons(result, terminals, band, time)
    limit: Cause = CAUSES[int(outlook(result).limit[time, band])]
    cell = compute(result, terminals, one_cell(point, route, band, [result.times[time]]), keep_ray_paths=True)
    return Explanation(
        band=result.bands[band].name,
        time=result.times[time],
        target=result.target.name,
        promise=promise_of(result, band, time),
        limit=limit,
        route=ROUTES[route],
        place=result.target.labels[point],
        ledger=ledger_of(cell),
        reasons=found,
        changes=changes(result, terminals, band, time) if what_if else (),
        near_far=near_and_far(result, terminals, band, time, point, route) if near_far else None,
        event=event_at(result, terminals, band, time, blamed=_blames_event(found)),
        crossings=crossing_losses(cell.path),
        people=_based(result, band, time) if result.usable[band] else None,
    )
