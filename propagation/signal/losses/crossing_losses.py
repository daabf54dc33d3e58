"""Losses of one cell's strongest ray path, crossing by crossing of the D and E layers, with place and sun."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

import numpy as np

from propagation.base.units import FloatArray, as_float, cosd, single
from propagation.ionosphere.absorption import Rays
from propagation.signal.losses import path_loss
from propagation.signal.losses.circuit import Circuit
from propagation.signal.rays.hop_layers import hop_layers
from propagation.signal.rays.ray_paths import TEMPLATES, Layer

Way = Literal["up", "down"]
WAYS: Final[tuple[Way, Way]] = ("up", "down")


@dataclass(frozen=True)
class CrossingLoss:
    """Losses at one crossing of the D and E layers, counted from home outward.

    hop: number of the hop, from 1. layer: the one that turns it. way: up to that layer or down from it.
    distance_km: from home along the route, at the height of the crossing. zenith_deg: of the sun there.
    absorption_db: of both waves without events. event_db: by a flare and solar protons. reflection_db: at the
    ground after the crossing, 0 where none follows.
    """

    hop: int
    layer: Layer
    way: Way
    distance_km: float
    lat_deg: float
    lon_deg: float
    zenith_deg: float
    foe_mhz: float
    absorption_db: float
    event_db: float
    reflection_db: float


def crossing_losses(path: Circuit) -> tuple[CrossingLoss, ...]:
    """Losses at every crossing of the strongest ray path of a circuit of one route, time and frequency.

    The circuit must have kept its ray paths. The result is empty where the signal makes no hops: along the
    ground, by scatter, or by the combined method. The absorption sums to that of the ray path. The part of
    the extraordinary wave for the whole path is distributed in proportion to the ordinary wave.
    """
    number = int(path.ray_path[0, 0, 0])
    losses, chains, samples = path.losses, path.chains, path.samples
    if number >= len(TEMPLATES) or losses is None or chains is None:
        return ()
    layers = hop_layers(samples, chains)
    rays = Rays.of(cosd(losses.elevation_deg))
    found = path_loss.hop_losses(samples, chains, layers, single(path.frequency_mhz)[..., None], rays)
    hops = np.flatnonzero((chains.hop_ray_path == number) & chains.hop_used[0])
    ordinary = np.stack([found.up_db, found.down_db], axis=-1)[0, 0, 0, hops]
    both_waves = float(np.broadcast_to(losses.absorption_db, losses.elevation_deg.shape)[0, 0, 0, number])
    absorption = ordinary * (both_waves / max(float(np.sum(ordinary)), 1e-12))
    event = np.stack([found.up_event_db, found.down_event_db], axis=-1)
    event = np.broadcast_to(event, (1, 1, 1, chains.hop_used.shape[1], 2))[0, 0, 0, hops]
    crossing_km = chains.crossing_km[0, hops]
    lat, lon = path.case.route.at_km(crossing_km)

    def at_crossings(up: FloatArray, down: FloatArray) -> FloatArray:
        return as_float(np.stack([up, down], axis=-1)[0, 0, hops])

    zenith = at_crossings(layers.up.zenith_deg, layers.down.zenith_deg)
    foe = at_crossings(layers.up.foe_mhz, layers.down.foe_mhz)
    return tuple(
        CrossingLoss(
            hop=i + 1,
            layer=(TEMPLATES[number].low_layer or "E") if bool(chains.hop_low[0, hop]) else "F2",
            way=way,
            distance_km=float(crossing_km[i, j]),
            lat_deg=float(lat[i, j]),
            lon_deg=float(lon[i, j]),
            zenith_deg=float(zenith[i, j]),
            foe_mhz=float(foe[i, j]),
            absorption_db=float(absorption[i, j]),
            event_db=float(event[i, j]),
            reflection_db=float(found.reflection_db[0, 0, 0, hop]) if way == "down" else 0.0,
        )
        for i, hop in enumerate(hops.tolist())
        for j, way in enumerate(WAYS)
    )
