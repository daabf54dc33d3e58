"""Answer to "why was that band dead?": chance, ledger, causes, changes that help, near and far.

Changes are another hour, another band, more radials, more power and another mode. For each the cell is
forecast again. Near and far: the contact is computed at distances from 30 to 12,000 km on one bearing. Where
it fails between two distances at which it succeeds there is a dead zone. Its cause is found like any other.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final, Literal

import numpy as np

from propagation.advice.cause_weights import Reasons, Weighted, narrower, reasons
from propagation.advice.events import BARELY, AbsorptionEvent, event_at
from propagation.advice.ledger import Ledger, ledger_of
from propagation.advice.recompute import compute, one_cell, request_of
from propagation.advice.region_chance import chance as chances
from propagation.advice.region_chance import chance_curve, outlook
from propagation.advice.windows import openings, to_grid
from propagation.antennas.improvements import candidates
from propagation.antennas.spec import VERTICALS
from propagation.base.units import FloatArray
from propagation.geo.great_circle import bearing_deg, destination
from propagation.geo.regions import Target, make_target
from propagation.signal.chances.forecast import ROUTES, Forecast, forecast
from propagation.signal.chances.limiting import FAIR_POWER_W
from propagation.signal.losses.crossing_losses import CrossingLoss, crossing_losses
from propagation.signal.rays.causes import CAUSES, EVENTS, Cause
from propagation.spectrum.modes import ModeName
from propagation.station.terminals import Terminals, own_terminal

ChangeKind = Literal["hour", "band", "radials", "power", "mode"]


@dataclass(frozen=True)
class Change:
    """One change and the chance with it.

    time, best: next opening of the band (now or later) and its best time, for "hour". band: the new band, for
    "band". radials, power_w, mode: the new value and the one it replaces, for those kinds.
    """

    kind: ChangeKind
    chance: float
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
    return tuple(sorted((one for one in found if one is not None), key=lambda one: -one.chance))


def _next_opening(result: Forecast, band: int, time: int) -> Change | None:
    """Nearest hour from now on at which the band is at its best, if that is later than now."""
    chance = outlook(result).chance[:, band]
    if not result.usable[band] or time >= len(result.times) - 1:
        return None
    curve = chance_curve(result.times, chance)
    now = result.times[time]
    for span in openings(curve, now, result.times[-1], chance[time:]):
        if span.peak_time > now and span.peak > float(chance[time]) + 0.01:
            opens, best = to_grid(span.start), to_grid(span.peak_time)
            return Change("hour", span.peak, time=opens if opens > now else best, best=best)
    return None


def _other_band(result: Forecast, band: int, time: int) -> Change | None:
    row = np.where(result.usable, outlook(result).chance[time], -1.0)
    row[band] = -1.0
    best = int(np.argmax(row))
    if row[best] < 0.0:
        return None
    name = result.bands[best].name
    return Change("band", float(row[best]), band=name)


def _again(result: Forecast, band: int, time: int, terminals: Terminals, mode: str | None = None) -> float:
    """Chance of the cell with other terminals or another mode; 0 where the licence forbids."""
    if not result.station.usable(result.bands[band], mode or result.mode):
        return 0.0
    again = forecast(
        replace(
            request_of(result, terminals),
            mode=mode or result.mode.name,
            power_w=None,
            times=result.times[time : time + 1],
            bands=[result.bands[band]],
        )
    )
    return float(chances(again)[0, 0])


def _more_radials(result: Forecast, terminals: Terminals, band: int, time: int) -> Change | None:
    spec = result.station.antenna
    if spec.kind not in VERTICALS:
        return None
    _, better, _ = candidates(spec, result.station.feedline)[0]
    own = replace(own_terminal(replace(result.station, antenna=better)), power_w=terminals.near.power_w)
    own = replace(own, offset_db=terminals.near.offset_db)
    chance = _again(result, band, time, Terminals(own, terminals.far))
    return Change("radials", chance, radials=(better.radials, spec.radials))


def _more_power(result: Forecast, terminals: Terminals, band: int, time: int) -> Change | None:
    most = min(FAIR_POWER_W, result.station.limits.power_w or FAIR_POWER_W)
    if terminals.near.power_w >= most:
        return None
    own = replace(terminals.near, power_w=most)
    chance = _again(result, band, time, Terminals(own, terminals.far))
    return Change("power", chance, power_w=(most, terminals.near.power_w))


def _narrower_mode(result: Forecast, terminals: Terminals, band: int, time: int) -> Change | None:
    mode = narrower(result.mode)
    if mode is None:
        return None
    chance = _again(result, band, time, terminals, mode.name)
    return Change("mode", chance, mode=(mode.name, result.mode.name))


NEAREST_KM: Final = 30.0  # km, the shortest distance computed
FARTHEST_KM: Final = 12_000.0  # km
COUNT: Final = 36  # distances, evenly by ratio: each 18 % farther than the last
HEARD: Final = 0.2  # chance from which stations at a distance count as heard (ours)


@dataclass(frozen=True)
class NearFar:
    """Chance over distance on one bearing.

    distance_km, chance: shape (n,). near_to_km: end of the near zone heard from home on, or None. gap_km: the
    dead zone (from, to), or None. far_to_km: end of the far zone beyond it, or None where there is none.
    cause: the heaviest cause in the middle of the gap. band, time: of the computation.
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

    @property
    def best(self) -> float:
        """Best chance at any distance."""
        return float(np.max(self.chance))


def near_and_far(result: Forecast, terminals: Terminals, band: int, time: int) -> NearFar:
    """Chance over distance towards the forecast's target, for one band and time (indices)."""
    home, goal = result.station.site.position, result.target.centre
    bearing = float(bearing_deg(home.lat_deg, home.lon_deg, goal.lat_deg, goal.lon_deg))
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
    return NearFar(name, moment, bearing, distance, chance, near_to, gap, far_to, cause)


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
    distance_km: FloatArray, chance: FloatArray
) -> tuple[float | None, tuple[float, float] | None, float | None]:
    """End of the near zone, the dead zone, and the end of the far zone [km], from a chance over rising
    distances.

    The far zone is the one of the best chance beyond the first gap. Edges are where the chance, linear in the
    logarithm of distance, equals `HEARD`. A distance is None where its zone does not exist.
    """
    heard = chance >= HEARD
    if not heard.any():
        return None, None, None
    first_deaf = int(np.argmin(heard)) if not heard.all() else heard.size
    near_to = None if first_deaf == 0 else _edge(distance_km, chance, first_deaf - 1, first_deaf)
    beyond = np.flatnonzero(heard[first_deaf:]) + first_deaf
    if beyond.size == 0:
        return near_to, None, None
    opens = int(beyond[0])
    gap_start = near_to if near_to is not None else float(distance_km[0])
    gap_end = _edge(distance_km, chance, opens, opens - 1)
    last = int(beyond[-1])
    far_to = _edge(distance_km, chance, last, last + 1)
    return near_to, (gap_start, gap_end), far_to


def _edge(distance_km: FloatArray, chance: FloatArray, inside: int, outside: int) -> float:
    if not 0 <= outside < distance_km.size:
        return float(distance_km[inside])
    share = (chance[inside] - HEARD) / max(float(chance[inside] - chance[outside]), 1e-9)
    low, high = np.log(distance_km[inside]), np.log(distance_km[outside])
    return float(np.exp(low + float(np.clip(share, 0.0, 1.0)) * (high - low)))


WORTH_SAYING: Final = 0.05  # weight from which a cause is named (ours)
HELPS: Final = 0.03  # of chance, from which a change counts as helpful (ours)


@dataclass(frozen=True)
class Explanation:
    """Answer for one band, time and target; `chance` is the target's, 0 where the licence forbids.

    wanted: contacts requested of a region, 0 for a place. limit: the limit in the band's lane, "open" from 5
    days in 10: the largest single loss. event: the flare or proton event that closes or weakens the band.
    crossings: losses of the ledger's ray path at every crossing of the D and E layers, empty without hops.
    """

    band: str
    time: np.datetime64
    target: str
    wanted: int
    chance: float
    limit: Cause
    route: str
    place: str
    ledger: Ledger
    reasons: Reasons
    changes: tuple[Change, ...]
    near_far: NearFar | None
    event: AbsorptionEvent | None = None
    crossings: tuple[CrossingLoss, ...] = ()

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
        return tuple(one for one in self.changes if one.chance >= self.chance + HELPS)

    @property
    def useless(self) -> tuple[Change, ...]:
        """Changes with little or no effect."""
        return tuple(one for one in self.changes if one.chance < self.chance + HELPS)


def _blames_event(found: Reasons) -> bool:
    """Return whether an event has the largest weight, and the band would be of some use without it."""
    first = next((row for row in found.causes if row.cause != "mode"), None)
    return first is not None and first.cause in EVENTS and first.alone >= BARELY


def _heaviest(found: Reasons) -> Cause:
    return next((row.cause for row in found.causes if row.cause != "mode"), "open")


def chance_of(result: Forecast, band: int, time: int) -> float:
    """Chance of the target in one cell; 0 where licence or antenna rule the band out."""
    return float(chances(result)[time, band])


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
    chance = chance_of(result, band, time)
    limit: Cause = CAUSES[int(outlook(result).limit[time, band])]
    cell = compute(result, terminals, one_cell(point, route, band, [result.times[time]]), keep_ray_paths=True)
    return Explanation(
        band=result.bands[band].name,
        time=result.times[time],
        target=result.target.name,
        wanted=result.wanted,
        chance=chance,
        limit=limit,
        route=ROUTES[route],
        place=result.target.labels[point],
        ledger=ledger_of(cell),
        reasons=found,
        changes=changes(result, terminals, band, time) if what_if else (),
        near_far=near_and_far(result, terminals, band, time) if near_far else None,
        event=event_at(result, terminals, band, time, blamed=_blames_event(found)),
        crossings=crossing_losses(cell.path),
    )
