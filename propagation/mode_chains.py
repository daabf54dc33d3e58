"""The modes of a path as chains of hops: E, F2, sporadic E, and mixtures of a low and a high layer.

A ray keeps its take-off angle from hop to hop (concentric layers). Where the sunlit E layer, or a patch of
sporadic E, turns it, the hop is short; where it passes through, the F2 layer turns it and the hop is long. On
a path half in daylight, E hops at the sunlit end and F2 hops beyond are therefore one mode, and they carry
signals that neither layer carries alone. A chain has its low hops together at one end. Shapes: N routes,
K modes, H hops.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

import numpy as np

from propagation import hops
from propagation.constants import E_LAYER_HEIGHT_KM
from propagation.muf import E_HOP_MAX_KM, F2_HOP_MAX_KM
from propagation.units import BoolArray, FloatArray

Layer = Literal["F2", "E", "Es"]
NOMINAL_F2_KM: Final = 300.0  # km, mirror height used to place hops and crossings along the route (textbook)
CROSSING_KM: Final = 90.0  # km, height at which crossings of the D and E layers are placed (P.533, from memory)
ES_HOP_KM: Final = 2200.0  # km, longest sporadic-E hop without extra loss: one degree of take-off (geometry)
# A hop may stretch beyond its layer's limit, at a loss that grows with the square of the excess to the full loss at
# the last length; there the next number of hops takes over. So no mode vanishes between two neighbouring distances.
E_STRETCH_KM: Final = 2350.0  # km, an E hop that leaves along the horizon (geometry)
ES_STRETCH_KM: Final = 2600.0  # km, longest hop of the P.534 formula (from memory)
F2_STRETCH_KM: Final = 4400.0  # km (ours)
STRETCH_LOSS_DB: Final = 90.0  # dB at the last length (ours: the mode is lost in the others)
REACH_KM: Final = 9000.0  # km, beyond which paths are not built of modes (P.533)
HOPS_MAX: Final = 8


@dataclass(frozen=True)
class Slot:
    """One mode of the table: `low` hops by the low layer (0: by need), `extra` hops beyond the fewest."""

    low_layer: Layer | None
    low: int
    extra: int
    high: bool
    low_first: bool = True

    @property
    def is_es(self) -> bool:
        return self.low_layer == "Es"


def _table() -> tuple[Slot, ...]:
    slots = [Slot(None, 0, extra, True) for extra in range(6)]  # F2: fewest hops and the next five (P.533)
    slots += [Slot("E", 0, extra, False) for extra in range(3)]
    for low, extras in ((1, (0, 1)), (2, (0, 1)), (3, (0,))):
        slots += [Slot("E", low, extra, True, first) for extra in extras for first in (True, False)]
    slots += [Slot("Es", 0, extra, False) for extra in range(2)]
    slots += [Slot("Es", 1, extra, True, first) for extra in range(2) for first in (True, False)]
    return tuple(slots)


SLOTS: Final[tuple[Slot, ...]] = _table()
IS_ES: Final[BoolArray] = np.array([s.is_es for s in SLOTS])
HAS_HIGH: Final[BoolArray] = np.array([s.high for s in SLOTS])
HAS_LOW: Final[BoolArray] = np.array([s.low_layer is not None for s in SLOTS])
_LOW_LIMIT_KM: Final = np.where(IS_ES, ES_HOP_KM, E_HOP_MAX_KM)
_LOW_STRETCH_KM: Final = np.where(IS_ES, ES_STRETCH_KM, E_STRETCH_KM)
# the high hop at the angle at which a mixed chain's low hops are at their longest
_HIGH_STRETCH_KM: Final = np.where(
    HAS_LOW,
    hops.hop_km(hops.elevation_deg(_LOW_STRETCH_KM, E_LAYER_HEIGHT_KM), NOMINAL_F2_KM),
    F2_STRETCH_KM,
)


@dataclass(frozen=True)
class Chains:
    """Geometry of every mode of N routes; shapes (N, K) or (N, K, H).

    low_hops, high_hops: counts. valid: whether the geometry can span the distance at all. elevation_deg,
    low_km, high_km: nominal take-off angle and hop lengths. stretch_db: loss of hops longer than their layer's limit.
    used, low: which hops exist, which are low.
    middle_km, crossing_km (N, K, H, 2), bounce_km: places along the route.
    """

    distance_km: FloatArray
    low_hops: FloatArray
    high_hops: FloatArray
    valid: BoolArray
    elevation_deg: FloatArray
    low_km: FloatArray
    high_km: FloatArray
    stretch_db: FloatArray
    used: BoolArray
    low: BoolArray
    middle_km: FloatArray
    crossing_km: FloatArray
    bounce_km: FloatArray
    bounce_used: BoolArray

    @property
    def hops(self) -> FloatArray:
        return self.low_hops + self.high_hops


def mode_name(slot: int, low_hops: float, high_hops: float) -> str:
    """The mode in the trade's shorthand, in the order the ray meets the layers: "2F2", "1E", "1E+1F2", "1Es"."""
    entry = SLOTS[slot]
    low = f"{int(low_hops)}{entry.low_layer}" if low_hops else ""
    high = f"{int(high_hops)}F2" if high_hops else ""
    parts = (low, high) if entry.low_first else (high, low)
    return "+".join(part for part in parts if part)


def chains(distance_km: FloatArray) -> Chains:
    """Lay out every mode of `SLOTS` over routes of length `distance_km` (N,) [km], up to 9000 km."""
    d = distance_km[:, None]
    low_fixed = np.array([float(s.low) for s in SLOTS])
    extra = np.array([float(s.extra) for s in SLOTS])
    by_need = np.maximum(np.ceil(d / _LOW_STRETCH_KM - 1e-9), 1.0) + extra
    low = np.where(HAS_LOW, np.where(low_fixed > 0, low_fixed, by_need), 0.0)
    # a mixed chain: when its low hops are at their longest, the rest is for the high layer at the same angle
    rest = np.maximum(d - low * _LOW_STRETCH_KM, 0.0)
    high = np.where(HAS_HIGH, np.maximum(np.ceil(rest / _HIGH_STRETCH_KM - 1e-9), 1.0) + extra, 0.0)
    total = low + high
    valid = (total <= HOPS_MAX) & (d <= REACH_KM)
    mixed = HAS_LOW & HAS_HIGH
    # short of this the angles are steep and both layers stand alone
    valid &= ~mixed | (d >= 1500.0 * (low + np.where(IS_ES, extra, 0.0)))
    valid &= ~(HAS_LOW & ~HAS_HIGH & IS_ES) | (low <= 4.0)
    low = np.where(valid, low, np.where(HAS_HIGH, 0.0, 1.0))
    high = np.where(valid, high, np.where(HAS_HIGH, 1.0, 0.0))
    total = low + high

    elevation = hops.common_elevation_deg(d, low, E_LAYER_HEIGHT_KM, high, NOMINAL_F2_KM)
    low_km = hops.hop_km(elevation, E_LAYER_HEIGHT_KM)
    high_km = hops.hop_km(elevation, NOMINAL_F2_KM)

    over_low = np.where(low > 0.0, (low_km - _LOW_LIMIT_KM) / (_LOW_STRETCH_KM - _LOW_LIMIT_KM), 0.0)
    over_high = np.where(high > 0.0, (high_km - F2_HOP_MAX_KM) / (F2_STRETCH_KM - F2_HOP_MAX_KM), 0.0)
    stretch = STRETCH_LOSS_DB * np.maximum(np.maximum(over_low, over_high), 0.0) ** 2

    order = np.arange(HOPS_MAX)
    n_low, n_high = low[..., None], high[..., None]
    first = np.array([s.low_first for s in SLOTS])[None, :, None]
    used = order < total[..., None]
    is_low = np.where(first, order < n_low, order >= n_high) & used
    length = np.where(is_low, low_km[..., None], high_km[..., None]) * used
    end = np.cumsum(length, axis=-1)
    start = end - length
    reach = np.minimum(hops.crossing_km(elevation, CROSSING_KM)[..., None], 0.5 * length)
    crossing = np.stack([start + reach, end - reach], axis=-1)
    return Chains(
        distance_km=distance_km,
        low_hops=low,
        high_hops=high,
        valid=valid,
        elevation_deg=elevation,
        low_km=low_km,
        high_km=high_km,
        stretch_db=stretch,
        used=used,
        low=is_low,
        middle_km=start + 0.5 * length,
        crossing_km=crossing,
        bounce_km=end[..., :-1],
        bounce_used=order[:-1] < total[..., None] - 1.0,
    )
