"""A flare or a proton event as it comes over the path: what it takes, until when, and what serves meanwhile.

The chances of a forecast hold the event already, at the times at which it is on. Here it is told by itself,
so that whoever asks hears the cause first, also where a band stays open in spite of it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final, Literal

import numpy as np

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
BARELY: Final = 0.1  # chance, under which a band is next to no use in spite of an event (ours)


@dataclass(frozen=True)
class AbsorptionEvent:
    """An event at one time of a forecast.

    name: class of the X-rays then, "X1.0", or scale of the protons, "S3"; empty where only a map shows it.
    taken: the bands it takes, from the lowest up. cost_db: what it costs on every band, on the way to the
    heaviest point of the target. dented: the band that is told to lose something and is not taken, the best
    or the one asked about. lead: the band with the best chance then, None where that is next to none;
    lead_chance: its chance. until: the first later time at which nothing is taken or dented any more; None
    where that comes after the forecast's times, and for protons, of which nobody knows how long they last.
    """

    kind: Kind
    name: str
    time: np.datetime64
    taken: tuple[str, ...]
    cost_db: dict[str, float]
    dented: str | None
    lead: str | None
    lead_chance: float
    until: np.datetime64 | None

    @property
    def lead_serves(self) -> bool:
        """Whether a band is likely in spite of it."""
        return self.lead is not None and self.lead_chance >= OPEN

    def costs(self, band: str | None) -> float:
        """What it costs on a band [dB], 0 where that is nothing to speak of."""
        found = self.cost_db.get(band, 0.0) if band is not None else 0.0
        return found if found >= EVENT_DB else 0.0


def events(
    result: Forecast, terminals: Terminals, band: int | None = None
) -> tuple[AbsorptionEvent | None, ...]:
    """The event at each time of a forecast (T,); None where none takes anything.

    band: an index; what it costs that one is told instead of what it costs the best.
    """
    nothing: tuple[AbsorptionEvent | None, ...] = (None,) * len(result.times)
    when = np.flatnonzero(events_at(result.conditions, result.effects, result.times))
    if not when.size or not result.usable.any():
        return nothing
    cost, by_protons = _costs(result, terminals, when)
    limit = outlook(result).limit
    taken = np.isin(limit, [CODE[kind] for kind in EVENTS]) & result.usable[None, :]
    promised = np.where(result.usable[None, :], chance(result), -1.0)
    lead = np.argmax(promised, axis=1)
    each = np.arange(lead.size)
    named = lead if band is None else np.full(lead.size, band)
    dented = _sizeable(result) & (cost[each, named] >= EVENT_DB)
    dented &= (band is not None) | (promised[each, lead] >= BARELY)
    shown = _Shown(cost, by_protons, taken, lead, promised, np.where(dented, named, -1))
    return tuple(_event(result, at, shown) if taken[at].any() or dented[at] else None for at in each.tolist())


def _sizeable(result: Forecast) -> BoolArray:
    """Whether the events of each time (T,) have a step on a public scale (R1, S1), or only a map knows them:
    small flares dent a band several times a day, and are told only where they take it."""
    xray, protons = result.conditions.xray_at(result.times), result.conditions.protons_at(result.times)
    return np.asarray((xray >= FLARE_W_M2) | (xray == 0.0) | (protons >= SCALE_FROM_PFU))


def event_at(
    result: Forecast, terminals: Terminals, band: int, time: int, *, blamed: bool
) -> AbsorptionEvent | None:
    """The event at one time, where it takes a band (index) or costs it something it could have used.

    blamed: whether of all that is missing on the band the event weighs most: then it takes the band, whatever
    else stands in the way.
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
    """The event of a span of times that is to be told of it: where it first takes most bands."""
    there = [one for one in found if one is not None]
    return max(there, key=lambda one: len(one.taken), default=None)


def _costs(result: Forecast, terminals: Terminals, when: IntArray) -> tuple[FloatArray, BoolArray]:
    """What the events cost on the short way to the heaviest point (T, B) [dB], and whether protons do most of
    it (T,)."""
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
    """What `_event` reads: cost [dB], taken, promised (chance, -1 where not usable) (T, B); by_protons (T,);
    lead, dented (T,): indices of bands, -1 for none."""

    cost: FloatArray
    by_protons: BoolArray
    taken: BoolArray
    lead: IntArray
    promised: FloatArray
    dented: IntArray


def _event(result: Forecast, at: int, shown: _Shown) -> AbsorptionEvent:
    taken, lead, dented = shown.taken[at], int(shown.lead[at]), int(shown.dented[at])
    over = np.flatnonzero(~shown.taken[at:].any(axis=1) & (shown.dented[at:] < 0))
    codes = outlook(result).limit[at][taken]
    protons = bool(np.mean(codes == CODE["polar cap"]) > 0.5) if codes.size else bool(shown.by_protons[at])
    time = result.times[at]
    best = float(shown.promised[at, lead])
    order = np.argsort(result.frequency_mhz, kind="stable")
    return AbsorptionEvent(
        kind="polar cap" if protons else "flare",
        name=_name(result, time, protons),
        time=time,
        taken=tuple(result.bands[i].name for i in order.tolist() if taken[i]),
        cost_db={result.bands[i].name: float(shown.cost[at, i]) for i in order.tolist()},
        dented=result.bands[dented].name if dented >= 0 and not taken[dented] else None,
        lead=result.bands[lead].name if best >= BARELY else None,
        lead_chance=max(best, 0.0),
        until=result.times[at + int(over[0])] if over.size and not protons else None,
    )


def _name(result: Forecast, time: np.datetime64, protons: bool) -> str:
    if protons:
        return proton_scale(float(result.conditions.protons_at(time)))
    xray = float(result.conditions.xray_at(time))
    return xray_class(xray) if xray > 0.0 else ""
