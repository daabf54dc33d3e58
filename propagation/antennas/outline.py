"""Outline of an antenna seen from the side, in metres, for a drawing to scale."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from propagation.antennas.dipoles import dipole_wires, end_fed_wires, yagi_wires
from propagation.antennas.spec import VERTICALS, AntennaSpec
from propagation.antennas.vertical import counterpoise
from propagation.antennas.wire_antenna import wavelength_m

Stroke = tuple[float, float, float, float]  # from x, height to x, height [m]


@dataclass(frozen=True)
class Outline:
    """Parts of an antenna seen from the side: strokes [m], x from feed or middle, height above ground.

    vertical: heights [m] of feed and top of a vertical, whose radiator is the first stroke. pushed_in_m:
    height [m] of its top when it is pushed in; coil_m: height [m] of the coil; None where there is none.
    """

    radiator: tuple[Stroke, ...]
    radials: tuple[Stroke, ...] = ()
    vertical: tuple[float, float] | None = None
    coil_m: float | None = None
    pushed_in_m: float | None = None


def outline(spec: AntennaSpec, frequency_mhz: float) -> Outline:
    """The outline of an antenna; what is cut to the band is drawn for a frequency [MHz]."""
    return _vertical(spec, frequency_mhz) if spec.kind in VERTICALS else _wire(spec, frequency_mhz)


def _vertical(spec: AntennaSpec, frequency_mhz: float) -> Outline:
    feed_m = spec.feed_height_m
    whip_m = spec.longest_m if spec.longest_m is not None else wavelength_m(frequency_mhz) / 4.0
    wire = counterpoise(spec, frequency_mhz, feed_m)
    reach_m = float(np.hypot(wire.end[0], wire.end[1]))
    sides = (1.0,) if wire.copies == 1 else (-1.0, 1.0)
    pushed_in_m = spec.pushed_in_m
    top_m = feed_m + whip_m
    strokes: list[Stroke] = [(0.0, feed_m, 0.0, top_m)]
    if spec.top_wires and spec.top_wire_m > 0.0:
        angle = np.deg2rad(spec.top_wire_angle_deg)
        out_m, down_m = spec.top_wire_m * float(np.cos(angle)), spec.top_wire_m * float(np.sin(angle))
        strokes += [(0.0, top_m, side * out_m, top_m - down_m) for side in (-1.0, 1.0)]
    return Outline(
        tuple(strokes),
        tuple((0.0, feed_m, side * reach_m, wire.end[2]) for side in sides),
        (feed_m, top_m),
        feed_m + spec.coil_height_m if spec.kind == "loaded vertical" else None,
        None if pushed_in_m is None or pushed_in_m >= whip_m else feed_m + pushed_in_m,
    )


def _wire(spec: AntennaSpec, frequency_mhz: float) -> Outline:
    """The wires as they are computed, seen at right angles to the longest; a beam from its side."""
    make = {"sloping end-fed": end_fed_wires, "yagi": yagi_wires}.get(spec.kind, dipole_wires)
    ends = np.array([(wire.start, wire.end) for wire in make(spec, frequency_mhz).structure.wires])
    across = ends[:, 1, :2] - ends[:, 0, :2]
    longest = across[int(np.argmax(np.linalg.norm(across, axis=1)))]
    length = float(np.linalg.norm(longest))
    way = longest / length if length > 0.0 else np.array([1.0, 0.0])
    x, height = ends[:, :, :2] @ way, ends[:, :, 2]
    x = x - (x.max() + x.min()) / 2.0
    return Outline(tuple((a, h, b, k) for (a, b), (h, k) in zip(x.tolist(), height.tolist(), strict=True)))
