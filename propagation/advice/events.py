"""Flare or proton event on the path: the bands it closes, until when, and which band to use meanwhile.

The chances of a forecast already include the event at the times at which it is active. Here it is reported
separately. The operator then sees the cause first, even where a band stays open.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final, Literal

import numpy as np

from propagation.advice.rates import Prospect
from propagation.advice.region_chance import chance, outlook
from propagation.base.units import BoolArray, FloatArray, IntArray, as_float
from propagation.signal.chances.forecast import Forecast
from propagation.signal.chances.limiting import EVENT_DB, OPEN
from propagation.signal.chances.routes import both_routes
from propagation.signal.losses.circuit import circuit
from propagation.signal.losses.circuit_inputs import circuit_case
from propagation.signal.losses.event_loss import proton_share
from propagation.signal.rays.causes import CODE, EVENTS
from propagation.space_weather.state.event_absorption import (
    FLARE_W_M2,
    SCALE_FROM_PFU,
    proton_scale,
    xray_class,
)
from propagation.space_weather.state.storm_corrections import events_at
from propagation.station.terminals import Terminals

Kind = Literal["flare", "polar cap"]
BARELY: Final = 0.1  # chance below which a band is nearly useless during an event (ours)


@dataclass(frozen=True)
class AbsorptionEvent:
    """Event at one time of a forecast.

    name: class of the X-rays then, "X1.0", or scale of the protons, "S3"; empty where only a map shows it.
    taken: the bands it closes, from the lowest up. cost_db: its loss on every band, on the way to the
    heaviest point of the target. dented: the band reported as weakened but not closed, the best or the
    requested one. lead: the best band then, None where its chance is almost zero; promise: of that band.
    until: the first later time at which no band is closed or weakened. It is None where that is after
    the forecast's times, and for protons, whose duration is unknown.
    """

    kind: Kind
    name: str
    time: np.datetime64
    taken: tuple[str, ...]
    cost_db: dict[str, float]
    dented: str | None
    lead: str | None
    promise: Prospect
    until: np.datetime64 | None

    @property
    def lead_serves(self) -> bool:
        """Return whether a band is likely to work in spite of the event."""
        return self.lead is not None and self.promise.chance >= OPEN

    def costs(self, band: str | None) -> float:
        """Loss on a band [dB], 0 where it is negligible."""
        found = self.cost_db.get(band, 0.0) if band is not None else 0.0
        return found if found >= EVENT_DB else 0.0


def events(
    result: Forecast, terminals: Terminals, band: int | None = None
) -> tuple[AbsorptionEvent | None, ...]:
    """Event at each time of a forecast (T,); None where no band is affected.

    band: an index; its loss is reported instead of the best band's loss.
    """
    nothing: tuple[AbsorptionEvent | None, ...] = (None,) * len(result.times)
    when = np.flatnonzero(events_at(result.conditions, result.effects, result.times))
    if not when.size or not result.usable.any():
        return nothing
    cost, by_protons = _costs(result, terminals, when)
    seen = outlook(result)
    taken = np.isin(seen.limit, [CODE[kind] for kind in EVENTS]) & result.usable[None, :]
    lead = np.argmax(np.where(result.usable[None, :], seen.ranked, -1.0), axis=1)
    each = np.arange(lead.size)
    named = lead if band is None else np.full(lead.size, band)
    dented = _sizeable(result) & (cost[each, named] >= EVENT_DB)
    dented &= (band is not None) | (seen.chance[each, lead] >= BARELY)
    shown = _Shown(cost, by_protons, taken, lead, np.where(dented, named, -1))
    return tuple(_event(result, at, shown) if taken[at].any() or dented[at] else None for at in each.tolist())


def _sizeable(result: Forecast) -> BoolArray:
    """Return whether the events of each time (T,) have a step on a public scale (R1, S1).

    Small flares weaken a band several times a day. They are reported only where they close it.
    """
    xray, protons = result.conditions.xray_at(result.times), result.conditions.protons_at(result.times)
    return np.asarray((xray >= FLARE_W_M2) | (xray == 0.0) | (protons >= SCALE_FROM_PFU))


def event_at(
    result: Forecast, terminals: Terminals, band: int, time: int, *, blamed: bool
) -> AbsorptionEvent | None:
    """Event at one time, where it closes a band (index) or weakens one that could have been used.

    blamed: whether the event has the largest weight in the band's missing chance. Then it closes the band, in
    spite of other causes.
    """
    found = events(result, terminals, band)[time]
    name = result.bands[band].name
    if found is None or name in found.taken:
        return found
    if blamed:
        taken = {*found.taken, name}
        return replace(found, taken=tuple(one for one in found.cost_db if one in taken), dented=None)
    return found if found.dented == name and chance(result)[time, band] >= BARELY else None


def foremost(found: tuple[AbsorptionEvent | None, ...]) -> AbsorptionEvent | None:
    """Event to report for a span of times: the one at the first time at which most bands are closed."""
    there = [one for one in found if one is not None]
    return max(there, key=lambda one: len(one.taken), default=None)


def _costs(result: Forecast, terminals: Terminals, when: IntArray) -> tuple[FloatArray, BoolArray]:
    """Losses by the events on the short route to the heaviest point (T, B) [dB].

    Also returns whether protons cause most of the loss (T,).
    """
    route = both_routes(result.station, result.target, result.bearing_deg)
    heaviest = route.rows(np.array([result.target.heaviest]))
    case = circuit_case(
        result.circumstances,
        terminals.near,
        terminals.far,
        heaviest,
        result.times[when],
        result.frequency_mhz,
    )
    path = circuit(case, keep_ray_paths=False)
    cost = np.zeros((len(result.times), len(result.bands)))
    cost[when] = path.event_db[0]
    by_protons = np.zeros(len(result.times), dtype=bool)
    by_protons[when] = proton_share(path.samples)[0] > 0.5
    return as_float(cost), by_protons


@dataclass(frozen=True, eq=False)
class _Shown:
    """Input of `_event`.

    cost [dB], taken (T, B); by_protons (T,); lead, dented (T,): indices of bands, -1 for none.
    """

    cost: FloatArray
    by_protons: BoolArray
    taken: BoolArray
    lead: IntArray
    dented: IntArray


def _event(result: Forecast, at: int, shown: _Shown) -> AbsorptionEvent:
    taken, lead, dented = shown.taken[at], int(shown.lead[at]), int(shown.dented[at])
    over = np.flatnonzero(~shown.taken[at:].any(axis=1) & (shown.dented[at:] < 0))
    codes = outlook(result).limit[at][taken]
    protons = bool(np.mean(codes == CODE["polar cap"]) > 0.5) if codes.size else bool(shown.by_protons[at])
    time = result.times[at]
    promise = outlook(result).at(at, lead)
    order = np.argsort(result.frequency_mhz, kind="stable")
    return AbsorptionEvent(
        kind="polar cap" if protons else "flare",
        name=_name(result, time, protons),
        time=time,
        taken=tuple(result.bands[i].name for i in order.tolist() if taken[i]),
        cost_db={result.bands[i].name: float(shown.cost[at, i]) for i in order.tolist()},
        dented=result.bands[dented].name if dented >= 0 and not taken[dented] else None,
        lead=result.bands[lead].name if promise.chance >= BARELY else None,
        promise=promise,
        until=result.times[at + int(over[0])] if over.size and not protons else None,
    )


def _name(result: Forecast, time: np.datetime64, protons: bool) -> str:
    if protons:
        return proton_scale(float(result.conditions.protons_at(time)))
    xray = float(result.conditions.xray_at(time))
    return xray_class(xray) if xray > 0.0 else ""
