"""The whole answer to "why was that band dead?": chance, ledger, causes, changes, near and far."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from propagation.advice.cause_weights import Reasons, Weighted, reasons
from propagation.advice.events import BARELY, Event, event_at
from propagation.advice.ledger import Ledger, ledger_of
from propagation.advice.near_far import NearFar, near_and_far
from propagation.advice.recompute import compute, one_cell
from propagation.advice.region_chance import chance as chances
from propagation.advice.region_chance import outlook
from propagation.advice.what_if import Change, changes
from propagation.signal.chances.forecast import ROUTES, Forecast
from propagation.signal.losses.crossing_losses import CrossingLoss, crossing_losses
from propagation.signal.rays.causes import CAUSES, EVENTS, Cause
from propagation.station.terminals import Terminals

WORTH_SAYING: Final = 0.05  # weight from which a cause is named (ours)
HELPS: Final = 0.03  # of chance, from which a change is said to help (ours)


@dataclass(frozen=True)
class Why:
    """The answer for one band, time and target; `chance` is the target's, 0 where the licence forbids.

    wanted: contacts asked of a region, 0 for a place. limit: what the band's lane says, "open" from 5 days in
    10: the largest single loss. event: the flare or proton event that takes the band or costs it something.
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
    event: Event | None = None
    crossings: tuple[CrossingLoss, ...] = ()

    @property
    def causes(self) -> tuple[Weighted, ...]:
        """The causes by weight."""
        return self.reasons.causes

    @property
    def named(self) -> tuple[Weighted, ...]:
        """The causes worth naming."""
        return tuple(row for row in self.causes if row.weight >= WORTH_SAYING and row.cause != "open")

    @property
    def heaviest(self) -> Cause:
        """The cause that weighs most, of those that can limit a lane; "open" where nothing is missing."""
        return _heaviest(self.reasons)

    @property
    def helpful(self) -> tuple[Change, ...]:
        """The changes that help."""
        return tuple(one for one in self.changes if one.chance >= self.chance + HELPS)

    @property
    def useless(self) -> tuple[Change, ...]:
        """The changes that hardly help."""
        return tuple(one for one in self.changes if one.chance < self.chance + HELPS)


def _blames_event(found: Reasons) -> bool:
    """Whether an event weighs most of all that is missing, and the band would be of some use without it."""
    first = next((row for row in found.causes if row.cause != "mode"), None)
    return first is not None and first.cause in EVENTS and first.alone >= BARELY


def _heaviest(found: Reasons) -> Cause:
    return next((row.cause for row in found.causes if row.cause != "mode"), "open")


def chance_of(result: Forecast, band: int, time: int) -> float:
    """The target's chance in one cell; 0 where licence or antenna leave no place."""
    return float(chances(result)[time, band])


def better_route(result: Forecast, point: int, band: int, time: int) -> int:
    """The way (an index of ROUTES) by which a point is reached best in a cell; the short one where alike."""
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
) -> Why:
    """Everything about one cell of a forecast (indices); the forecast's later times serve the next opening.

    The ledger is of the better way to the point spoken of, or of the other one where that is asked for.
    """
    point = int(result.best_point[time, band])
    route = better_route(result, point, band, time) ^ int(other_way)
    found = reasons(result, terminals, band, time)
    chance = chance_of(result, band, time)
    limit: Cause = CAUSES[int(outlook(result).limit[time, band])]
    cell = compute(result, terminals, one_cell(point, route, band, [result.times[time]]), keep_ray_paths=True)
    return Why(
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
