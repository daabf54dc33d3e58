"""The outline of an antenna for a drawing: lengths and heights as described."""

from __future__ import annotations

import numpy as np
import pytest

from propagation.antennas.exposure import exposure, lossless_distance_m
from propagation.antennas.factory import build
from propagation.antennas.outline import outline
from propagation.antennas.spec import KINDS, AntennaSpec
from propagation.spectrum.modes import by_name

DRAWN = [kind for kind in KINDS if kind not in ("table", "isotropic")]


def test_a_whip_stands_on_its_feed_with_radials_to_either_side() -> None:
    spec = AntennaSpec(
        radiator_m=5.6, shortest_m=1.5, coil_height_m=0.5, base_height_m=1.0, radial_height_m=0.0
    )
    drawn = outline(spec, 14.1)
    assert drawn.vertical == (1.0, pytest.approx(6.6))
    assert drawn.coil_m == pytest.approx(1.5)
    assert drawn.pushed_in_m == pytest.approx(2.5)
    ends = [(x, height) for _, _, x, height in drawn.radials]
    reach_m = np.sqrt(4.5**2 - (1.0 - 0.003) ** 2)
    np.testing.assert_allclose(ends, [(-reach_m, 0.003), (reach_m, 0.003)], atol=1e-3)


@pytest.mark.parametrize("kind", DRAWN)
def test_every_kind_is_drawn_with_its_length_above_the_ground(kind: str) -> None:
    drawn = outline(AntennaSpec(kind=kind, height_m=8.0), 14.1)
    strokes = np.array(drawn.radiator)
    assert np.all(strokes[:, [1, 3]] >= 0.0)
    long_m = np.hypot(strokes[:, 2] - strokes[:, 0], strokes[:, 3] - strokes[:, 1])
    whole_m = {"loaded vertical": 2.5, "vertical": 5.3}.get(kind, 10.4)  # a quarter and half a wave
    if kind == "yagi":  # its elements, across
        whole_m = 10.6
        long_m = long_m[:1]
    if kind == "sloping end-fed":
        whole_m += 0.05 * 21.3  # its counterpoise
    np.testing.assert_allclose(long_m.sum(), whole_m, rtol=0.04)


@pytest.mark.parametrize("kind", DRAWN)
def test_the_distance_without_losses_is_never_below_that_with_them(kind: str) -> None:
    spec, mode = AntennaSpec(kind=kind, height_m=8.0), by_name("SSB")
    solution = build(spec).solution(14.1)
    with_losses = exposure(spec, solution, 100.0, mode, 0.5).distance_m
    assert lossless_distance_m(spec, 100.0, mode, 14.1) >= with_losses
