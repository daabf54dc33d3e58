"""Ray paths as chains of hops: E, F2, sporadic E, and mixtures of a low and a high layer.

A ray keeps its take-off angle from hop to hop (concentric layers). Where the sunlit E layer, or a patch of
sporadic E, turns it, the hop is short. Where it passes through, the F2 layer turns it and the hop is long. On
a path half in daylight, E hops at the sunlit end and F2 hops beyond are therefore one ray path. Such ray
paths carry signals that neither layer carries alone. A chain has its low hops together at one end. Shapes: N
routes, K ray paths, M hops of all ray paths one after the other.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any, Final, Literal

import numpy as np

from propagation.base.constants import E_LAYER_HEIGHT_KM
from propagation.base.units import BoolArray, FloatArray, IntArray, single
from propagation.ionosphere import hops
from propagation.ionosphere.muf import E_HOP_MAX_KM, F2_HOP_MAX_KM

Layer = Literal["F2", "E", "Es"]
NOMINAL_F2_KM: Final = 300.0  # km, mirror height used to place hops and crossings along the route (textbook)
CROSSING_KM: Final = 90.0  # km, height of the crossings of the D and E layers (P.533, from memory)
ES_HOP_KM: Final = 2200.0  # km, longest sporadic-E hop without extra loss: one degree of take-off (geometry)
# A hop may stretch beyond its layer's limit. The loss grows with the square of the excess, to the full loss
# at the last length, where the next number of hops takes over. So no ray path vanishes between two
# neighbouring distances.
E_STRETCH_KM: Final = 2350.0  # km, an E hop that leaves along the horizon (geometry)
ES_STRETCH_KM: Final = 2600.0  # km, longest hop of the P.534 formula (from memory)
F2_STRETCH_KM: Final = 4400.0  # km (ours)
STRETCH_LOSS_DB: Final = 90.0  # dB at the last length: the ray path is negligible against the others (ours)
# km, beyond which paths are not built of ray paths (`long_path.FULL_KM`; P.533 stops at 9000)
REACH_KM: Final = 10_000.0
ENTRY_KM: Final = 600.0  # km of path over which the chain with most hops of its kind is introduced (ours)
ENTRY_DB: Final = 60.0  # dB, its loss where it begins (ours)
HOPS_MAX: Final = 8  # of a chain; three hops of 4400 km span the reach, and five more (P.533, from memory)
ES_HOPS_MAX: Final = 4.0
LOW_SHARE_KM: Final = 1500.0  # km of path for each low hop of a mixed chain; shorter is too steep (ours)


@dataclass(frozen=True)
class RayPathTemplate:
    """Ray path of the table: `low` hops by the low layer (0: as needed), `extra` hops beyond the fewest."""

    low_layer: Layer | None
    low: int
    extra: int
    high: bool
    low_first: bool = True

    @property
    def is_es(self) -> bool:
        return self.low_layer == "Es"


def _table() -> tuple[RayPathTemplate, ...]:
    """Build the templates in order, so that E hops, F2 hops and sporadic E are each contiguous."""
    templates = [RayPathTemplate("E", 0, extra, False) for extra in range(3)]
    for low, extras in ((1, (0, 1)), (2, (0, 1)), (3, (0,))):
        templates += [
            RayPathTemplate("E", low, extra, True, first) for extra in extras for first in (True, False)
        ]
    templates += [
        RayPathTemplate(None, 0, extra, True) for extra in range(6)
    ]  # F2: fewest hops and the next five (P.533)
    templates += [
        RayPathTemplate("Es", 1, extra, True, first) for extra in range(2) for first in (True, False)
    ]
    templates += [RayPathTemplate("Es", 0, extra, False) for extra in range(2)]
    return tuple(templates)


TEMPLATES: Final[tuple[RayPathTemplate, ...]] = _table()
IS_ES: Final[BoolArray] = np.array([s.is_es for s in TEMPLATES])
HAS_HIGH: Final[BoolArray] = np.array([s.high for s in TEMPLATES])
HAS_LOW: Final[BoolArray] = np.array([s.low_layer is not None for s in TEMPLATES])
_LOW_FIXED: Final = np.array([float(s.low) for s in TEMPLATES])
_EXTRA: Final = np.array([float(s.extra) for s in TEMPLATES])
_LOW_FIRST: Final = np.array([s.low_first for s in TEMPLATES])
_KINDS: Final = [(s.low_layer, s.low, s.high, s.low_first) for s in TEMPLATES]
# no other template of its kind has more hops
_MOST: Final[BoolArray] = np.array([kind not in _KINDS[i + 1 :] for i, kind in enumerate(_KINDS)])
_LOW_LIMIT_KM: Final = np.where(IS_ES, ES_HOP_KM, E_HOP_MAX_KM)
_LOW_STRETCH_KM: Final = np.where(IS_ES, ES_STRETCH_KM, E_STRETCH_KM)
# the high hop at the angle of a mixed chain's longest low hops
_HIGH_STRETCH_KM: Final = np.where(
    HAS_LOW,
    hops.hop_km(hops.elevation_deg(_LOW_STRETCH_KM, E_LAYER_HEIGHT_KM), NOMINAL_F2_KM),
    F2_STRETCH_KM,
)


@dataclass(frozen=True)
class Chains:
    """Geometry of the ray paths of N routes; shapes (N, K), (N, M) or as noted.

    templates (K,): numbers of the ray paths in TEMPLATES. low_hops, high_hops (N, len(TEMPLATES)): counts, of
    every ray path. low_count, high_count: the same of the ray paths in the arrays. valid: whether the
    geometry can span the distance at all. elevation_deg, low_km, high_km: nominal take-off angle and hop
    lengths. stretch_db: loss of hops longer than their layer's limit. with_e, with_high, with_es: slices of
    those kinds along K (`with_high` holds all chains with F2 hops, `with_es` those with sporadic E).
    hop_ray_path (M,): the ray path (along K) of a hop; first_hop (K,): index of a ray path's first hop.
    hop_used, hop_low: which hops exist on a route, and which of them are low. middle_km, end_km: places along
    the route; crossing_km (N, M, 2). last_hop: the chain ends with it.
    """

    distance_km: FloatArray
    templates: IntArray
    low_hops: FloatArray
    high_hops: FloatArray
    low_count: FloatArray
    high_count: FloatArray
    valid: BoolArray
    elevation_deg: FloatArray
    low_km: FloatArray
    high_km: FloatArray
    stretch_db: FloatArray
    with_e: slice
    with_high: slice
    with_es: slice
    hop_ray_path: IntArray
    first_hop: IntArray
    hop_used: BoolArray
    hop_low: BoolArray
    last_hop: BoolArray
    middle_km: FloatArray
    end_km: FloatArray
    crossing_km: FloatArray

    def in_single(self) -> Chains:
        """Copy with its numbers in single precision, for the arrays over frequencies."""
        numbers: dict[str, Any] = {
            name: single(value)
            for name, value in vars(self).items()
            if isinstance(value, np.ndarray) and value.dtype.kind == "f"
        }
        return replace(self, **numbers)

    @property
    def kinds(self) -> tuple[slice, ...]:
        """Slices of the ray paths along K in which either all or none mix two layers."""
        high = self.with_high
        bounds = sorted({0, self.templates.size, high.start, self.with_e.stop, self.with_es.start, high.stop})
        return tuple(slice(a, b) for a, b in pairwise(bounds))


def chain_name(template: int, low_hops: float, high_hops: float) -> str:
    """Ray path in shorthand, in the order of the layers along the ray: "2F2", "1E+1F2", "1Es"."""
    entry = TEMPLATES[template]
    low = f"{int(low_hops)}{entry.low_layer}" if low_hops else ""
    high = f"{int(high_hops)}F2" if high_hops else ""
    parts = (low, high) if entry.low_first else (high, low)
    return "+".join(part for part in parts if part)


def chains(distance_km: FloatArray, *, every_ray_path: bool = True) -> Chains:
    """Compute the ray paths of `TEMPLATES` over routes of length `distance_km` (N,) [km], up to REACH_KM.

    every_ray_path False omits those that no route of these lengths has.
    """
    all_low, all_high, all_valid = _counts(distance_km[:, None])
    templates = np.arange(len(TEMPLATES)) if every_ray_path else np.flatnonzero(np.any(all_valid, axis=0))
    low, high, valid = all_low[:, templates], all_high[:, templates], all_valid[:, templates]
    d = distance_km[:, None]
    elevation = hops.common_elevation_deg(d, low, E_LAYER_HEIGHT_KM, high, NOMINAL_F2_KM)
    low_km = hops.hop_km(elevation, E_LAYER_HEIGHT_KM)
    high_km = hops.hop_km(elevation, NOMINAL_F2_KM)
    limit, longest = _LOW_LIMIT_KM[templates], _LOW_STRETCH_KM[templates]
    over_low = np.where(low > 0.0, (low_km - limit) / (longest - limit), 0.0)
    over_high = np.where(high > 0.0, (high_km - F2_HOP_MAX_KM) / (F2_STRETCH_KM - F2_HOP_MAX_KM), 0.0)
    stretch = STRETCH_LOSS_DB * np.maximum(np.maximum(over_low, over_high), 0.0) ** 2
    stretch = stretch + _entry_db(d, low, high, templates)

    # the hops of all ray paths, ray path after ray path; as many of each as the route with most has
    most = np.max(low + high, axis=0).astype(np.int64)
    first_hop = np.cumsum(most) - most
    hop_ray_path = np.repeat(np.arange(templates.size), most)
    order = (np.arange(hop_ray_path.size) - first_hop[hop_ray_path]).astype(np.float64)
    n_low, n_high = low[:, hop_ray_path], high[:, hop_ray_path]
    used = order < n_low + n_high
    is_low = np.where(_LOW_FIRST[templates][hop_ray_path], order < n_low, order >= n_high) & used
    long_low, long_high = low_km[:, hop_ray_path], high_km[:, hop_ray_path]
    before = np.where(
        _LOW_FIRST[templates][hop_ray_path],
        np.minimum(order, n_low) * long_low + np.maximum(order - n_low, 0.0) * long_high,
        np.minimum(order, n_high) * long_high + np.maximum(order - n_high, 0.0) * long_low,
    )
    length = np.where(is_low, long_low, long_high)
    start = np.minimum(before, d)
    reach = np.minimum(hops.crossing_km(elevation, CROSSING_KM)[:, hop_ray_path], 0.5 * length)
    return Chains(
        distance_km=distance_km,
        templates=templates,
        low_hops=all_low,
        high_hops=all_high,
        low_count=low,
        high_count=high,
        valid=valid,
        elevation_deg=elevation,
        low_km=low_km,
        high_km=high_km,
        stretch_db=stretch,
        with_e=_span(HAS_LOW[templates] & ~IS_ES[templates]),
        with_high=_span(HAS_HIGH[templates]),
        with_es=_span(IS_ES[templates]),
        hop_ray_path=hop_ray_path,
        first_hop=first_hop,
        hop_used=used,
        hop_low=is_low,
        last_hop=order >= n_low + n_high - 1.0,
        middle_km=start + 0.5 * length,
        end_km=start + length,
        crossing_km=np.stack([start + reach, start + length - reach], axis=-1),
    )


def _entry_db(d: FloatArray, low: FloatArray, high: FloatArray, templates: IntArray) -> FloatArray:
    """Loss [dB] of chains near the shortest distance at which they occur.

    It applies to the chain with most hops of its kind, where their number changes (pure E chains apart). It
    also applies to every mixed chain, from the shortest path that has room for it. Such a chain may be as
    strong as any other, so its power must rise gradually: over ENTRY_KM of distance. Ours.
    """
    by_high = HAS_HIGH[templates]
    fewest = np.where(by_high, high, low) - _EXTRA[templates]
    longest = np.where(by_high, _HIGH_STRETCH_KM[templates], _LOW_STRETCH_KM[templates])
    before = np.where(by_high, low * _LOW_STRETCH_KM[templates], 0.0)
    since = (d - before - longest * (fewest - 1.0)) / ENTRY_KM
    enters = _MOST[templates] & (by_high | IS_ES[templates]) & (fewest > 1.0)
    since = np.where(enters, since, 1.0)
    mixed = HAS_LOW[templates] & by_high & (low > 0.0)
    room = (d - _room_km(low, templates)) / ENTRY_KM
    since = np.minimum(since, np.where(mixed, room, 1.0))
    return ENTRY_DB * np.maximum(1.0 - since, 0.0) ** 2


def _room_km(low: FloatArray, templates: IntArray) -> FloatArray:
    """Shortest path [km] for a mixed chain with `low` (.., K) low hops; a shorter one is too steep."""
    return LOW_SHARE_KM * (low + np.where(IS_ES, _EXTRA, 0.0)[templates])


def _counts(d: FloatArray) -> tuple[FloatArray, FloatArray, BoolArray]:
    """Low hops, high hops and validity of every ray path of TEMPLATES on routes of length d (N, 1) [km]."""
    by_need = np.maximum(np.ceil(d / _LOW_STRETCH_KM - 1e-9), 1.0) + _EXTRA
    low = np.where(HAS_LOW, np.where(_LOW_FIXED > 0, _LOW_FIXED, by_need), 0.0)
    # a mixed chain: with its low hops at their longest, the high layer spans the rest at the same angle
    rest = np.maximum(d - low * _LOW_STRETCH_KM, 0.0)
    high = np.where(HAS_HIGH, np.maximum(np.ceil(rest / _HIGH_STRETCH_KM - 1e-9), 1.0) + _EXTRA, 0.0)
    valid = (low + high <= HOPS_MAX) & (d <= REACH_KM)
    mixed = HAS_LOW & HAS_HIGH
    valid &= ~mixed | (d >= _room_km(low, np.arange(len(TEMPLATES))))
    valid &= ~IS_ES | (low <= ES_HOPS_MAX)
    low = np.where(valid, low, np.where(HAS_HIGH, 0.0, 1.0))
    high = np.where(valid, high, np.where(HAS_HIGH, 1.0, 0.0))
    return low, high, valid


def _span(members: BoolArray) -> slice:
    """Members as a slice; they are contiguous."""
    places = np.flatnonzero(members)
    return slice(int(places[0]), int(places[-1]) + 1) if places.size else slice(0, 0)
