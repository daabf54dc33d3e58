"""What would change it: another hour, another band, more radials, more power, another mode, each computed.

Nothing is estimated from rules of thumb: for each change the cell is forecast again with it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from propagation.advice.cause_weights import narrower
from propagation.advice.curve import chance_curve
from propagation.advice.region_chance import chance as chances
from propagation.advice.region_chance import outlook
from propagation.advice.windows import openings, to_grid
from propagation.antennas.improvements import candidates
from propagation.antennas.spec import VERTICALS
from propagation.signal.chances.forecast import Forecast, forecast
from propagation.signal.chances.limiting import FAIR_POWER_W
from propagation.signal.chances.request import Request
from propagation.spectrum.modes import ModeName
from propagation.station.terminals import Terminal, Terminals, own_terminal

ChangeKind = Literal["hour", "band", "radials", "power", "mode"]


@dataclass(frozen=True)
class Change:
    """One change and the chance with it.

    time, best: when the band next opens (now or later) and is at its best, for "hour". band: where to go, for
    "band". radials, power_w, mode: the new one and the one it stands instead of, for those kinds.
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
    """What would change one cell of a forecast (indices of band and time), the most helpful first."""
    found = [
        _next_opening(result, band, time),
        _other_band(result, band, time),
        _more_radials(result, terminals, band, time),
        _more_power(result, terminals, band, time),
        _narrower_mode(result, terminals, band, time),
    ]
    return tuple(sorted((one for one in found if one is not None), key=lambda one: -one.chance))


def _next_opening(result: Forecast, band: int, time: int) -> Change | None:
    """The nearest hour from now on at which the band is at its best, if that is later than now."""
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


def _again(
    result: Forecast, band: int, time: int, near: Terminal, far: Terminal, mode: str | None = None
) -> float:
    """Chance of the cell with other terminals or another mode; nothing where the licence forbids."""
    if not result.station.usable(result.bands[band], mode or result.mode):
        return 0.0
    again = forecast(
        Request(
            result.station,
            result.target,
            result.times[time : time + 1],
            result.conditions,
            mode=mode or result.mode.name,
            bands=[result.bands[band]],
            effects=result.effects,
            near=near,
            far=far,
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
    return Change(
        "radials", _again(result, band, time, own, terminals.far), radials=(better.radials, spec.radials)
    )


def _more_power(result: Forecast, terminals: Terminals, band: int, time: int) -> Change | None:
    most = min(FAIR_POWER_W, result.station.limits.power_w or FAIR_POWER_W)
    if terminals.near.power_w >= most:
        return None
    own = replace(terminals.near, power_w=most)
    chance = _again(result, band, time, own, terminals.far)
    return Change("power", chance, power_w=(most, terminals.near.power_w))


def _narrower_mode(result: Forecast, terminals: Terminals, band: int, time: int) -> Change | None:
    mode = narrower(result.mode)
    if mode is None:
        return None
    chance = _again(result, band, time, terminals.near, terminals.far, mode.name)
    return Change("mode", chance, mode=(mode.name, result.mode.name))
