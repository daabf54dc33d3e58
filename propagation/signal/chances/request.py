"""Request for a forecast: whose station, to whom, when, under which conditions, with which bands and ends.

Forecasts, appointments, seasons and reviews are all computed for one `Request`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from propagation.base.units import TimeArray
from propagation.geo.regions import Target
from propagation.space_weather.state.conditions import Conditions
from propagation.space_weather.state.event_absorption import Effects
from propagation.spectrum.bands import BANDS, Band
from propagation.spectrum.modes import Mode
from propagation.spectrum.modes import by_name as mode_by_name
from propagation.station.far_ends import FarEnds
from propagation.station.station import Station
from propagation.station.terminals import Terminal, Terminals, far_terminal, own_terminal


@dataclass(frozen=True, eq=False)
class Request:
    """Request for the contacts between a station and a target's points at times (T,).

    mode and power_w [W] replace the station's own where given. near and far replace the ends made from the
    station file (a friend's file, a changed antenna). far_ends replaces the kinds of station that a region's
    people have by the station file; people False leaves these kinds out, which saves time.
    """

    station: Station
    target: Target
    times: TimeArray
    conditions: Conditions
    mode: str | None = None
    power_w: float | None = None
    bands: Sequence[Band] = BANDS
    effects: Effects | None = None
    near: Terminal | None = None
    far: Terminal | None = None
    far_ends: FarEnds | None = None
    people: bool = True

    @property
    def emission(self) -> Mode:
        """Mode of the contacts. Raises InputError for an unknown name."""
        return mode_by_name(self.mode) if self.mode else self.station.rig.emission

    @cached_property
    def own_end(self) -> Terminal:
        """Operator's end, at the power of the request."""
        own = self.near or own_terminal(self.station)
        if self.power_w is None or self.power_w == own.power_w:
            return own
        return replace(own, power_w=self.power_w)

    @cached_property
    def other_end(self) -> Terminal:
        """Other station's end."""
        return self.far or far_terminal(self.station.far_end)

    @property
    def terminals(self) -> Terminals:
        """Both ends, at the power of the request."""
        return Terminals(self.own_end, self.other_end)

    @property
    def learnt(self) -> bool:
        """Return whether corrections from the station's own log are in the operator's end."""
        return self.own_end.offset_db is not None
