"""MUF against the worked table of the P.1240 equations, their limits, and itself turned round."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from oracles.e_layer_muf import muf_factor
from oracles.plane_triangle import triangle

from propagation.ionosphere import muf

LAYER = {"fof2_mhz": 8.0, "foe_mhz": 8.0 / 3.0, "m3000f2": 3.0, "gyro_300_mhz": 1.4}


def test_table_of_the_equations() -> None:
    """foF2 = 8 MHz, M(3000)F2 = 3, foF2/foE = 3, fH = 1.4 MHz, worked by hand from P.1240 section 3."""
    distance = np.array([0.0, 500.0, 1000.0, 2000.0, 3000.0, 4000.0])
    expected = [8.70, 9.90, 13.03, 19.74, 24.28, 26.65]
    np.testing.assert_allclose(muf.f2_muf_mhz(distance, **LAYER), expected, atol=0.005)


def test_the_polynomial_as_printed_runs_from_0_to_1() -> None:
    """C_D is 0 at no distance (Z = 1) and 1 at dmax (Z = -1), to the last printed digit."""
    np.testing.assert_allclose(muf.distance_factor(np.array([1.0, -1.0])), [0.0, 1.0], atol=1e-12)


def test_dmax() -> None:
    np.testing.assert_allclose(muf.f2_dmax_km(6.0, 2.0, 3.0), 5180.0, atol=5.0)


def test_uncapped_dmax_keeps_the_old_ratio_of_muf_4000_to_muf_3000() -> None:
    """P.533 takes F2(4000)MUF as 1.1 F2(3000)MUF on long paths (from memory); so do old MUF-factor tables."""
    ratio = muf.f2_muf_mhz(4000.0, **LAYER) / muf.f2_muf_mhz(3000.0, **LAYER)
    np.testing.assert_allclose(ratio, 1.10, atol=0.01)


def test_muf_3000_is_m3000_times_fof2() -> None:
    """By the definition of M(3000)F2; the correction for the E layer and half the gyrofrequency stay
    small."""
    for m in (2.5, 3.0, 3.5):
        muf_3000 = muf.f2_muf_mhz(3000.0, 8.0, 2.0, m, 1.4)
        np.testing.assert_allclose(muf_3000, 8.0 * m, rtol=0.05)


def test_e_layer() -> None:
    """M_E of P.1240 section 5 at both ends of its printed polynomial, and the exact secant beside it."""
    np.testing.assert_allclose(muf_factor(np.array([0.0, 2000.0])), [1.00, 5.13], atol=0.005)
    np.testing.assert_allclose(muf.e_muf_mhz(np.array([0.0, 2000.0]), 1.0), [1.0, 5.38], atol=0.005)
    # between the ends P.533's secant of a mirror is up to 19 % higher than P.1240's polynomial for a real
    # layer
    between = np.linspace(0.0, 2000.0, 41)
    ratio = muf.e_muf_mhz(between, 1.0) / muf_factor(between)
    assert np.all((ratio > 0.98) & (ratio < 1.19))


def test_beyond_the_longest_hop_the_muf_is_that_of_the_longest() -> None:
    """4000 km by F2, 2000 km by E (P.1240, from memory): a longer path has more hops, not a higher MUF."""
    np.testing.assert_array_equal(muf.f2_muf_mhz(5000.0, **LAYER), muf.f2_muf_mhz(4000.0, **LAYER))
    assert muf.f2_muf_mhz(3990.0, **LAYER) < muf.f2_muf_mhz(4000.0, **LAYER)
    np.testing.assert_array_equal(muf.e_muf_mhz(2400.0, 3.0), muf.e_muf_mhz(2000.0, 3.0))
    assert muf.e_muf_mhz(1990.0, 3.0) < muf.e_muf_mhz(2000.0, 3.0)


def test_skip_distance_by_the_e_layer_is_found_to_a_hundred_metres() -> None:
    """Against the secant turned round: the frequency that foE times sec i gives at a known distance."""
    distance = np.array([301.0, 702.3, 1100.7, 1534.5, 1888.8])
    by_triangle = [1.0 / np.cos(np.radians(triangle(hop, 110.0)[1])) for hop in distance]
    found = muf.skip_km(3.0 * np.array(by_triangle), 1.0, 3.0, 3.0, 1.2)
    np.testing.assert_allclose(found, distance, atol=0.1)


layers = st.tuples(st.floats(1.5, 20.0), st.floats(0.3, 1.5), st.floats(2.4, 3.8), st.floats(0.6, 1.8))


@given(layers)
def test_a_fixed_layer_returns_more_the_farther_it_is_asked(layer: tuple[float, float, float, float]) -> None:
    """Within 0.04 MHz: close to dmax the fit is flat, while its small term in the gyrofrequency still
    falls."""
    distance = np.arange(0.0, 4001.0, 20.0)
    found = muf.f2_muf_mhz(distance, *layer)
    assert np.all(np.maximum.accumulate(found) - found < 0.04)
    assert np.all(np.diff(muf.e_muf_mhz(np.arange(0.0, 2001.0, 20.0), layer[1])) > 0.0)


@given(layers, st.floats(0.0, 1.0))
def test_skip_distance_is_the_inverse_of_the_muf(
    layer: tuple[float, float, float, float], share: float
) -> None:
    """The MUF at the skip distance of a frequency is that frequency, by the layer that returns it."""
    lowest = max(float(muf.f2_muf_mhz(0.0, *layer)), layer[1])
    highest = max(float(muf.f2_muf_mhz(4000.0, *layer)), float(muf.e_muf_mhz(2000.0, layer[1])))
    frequency = lowest + share * (highest - lowest)
    skip = float(muf.skip_km(frequency, *layer))
    assert 0.0 <= skip <= 4000.0
    best = max(float(muf.f2_muf_mhz(skip, *layer)), float(muf.e_muf_mhz(skip, layer[1])))
    assert best >= frequency - 1e-9
    if skip > 1.0:  # 1 km nearer neither layer returns it (the E layer's own reach apart)
        nearer = skip - 1.0
        assert float(muf.f2_muf_mhz(nearer, *layer)) < frequency + 1e-9
        assert float(muf.e_muf_mhz(nearer, layer[1])) < frequency + 1e-9


def test_skip_distance_at_its_ends() -> None:
    skip = muf.skip_km(np.array([5.0, 20.0, 60.0]), **LAYER)
    assert skip[0] == 0.0
    assert 1500.0 < skip[1] < 2500.0
    assert np.isnan(skip[2])


def test_hops_share_by_the_course_of_the_muf() -> None:
    """exponent: d ln(distance) / d ln(MUF), so that MUFs m and lengths m^-q give one common MUF."""
    power, most = muf.sharing(np.array([1000.0, 2000.0, 3000.0, 4000.0, 4400.0]))
    rise = np.log(muf.f2_muf_mhz(2400.0, 9.0, 3.0, 3.0, 0.0) / muf.f2_muf_mhz(2000.0, 9.0, 3.0, 3.0, 0.0))
    np.testing.assert_allclose(power[1], np.log(1.2) / rise)
    assert np.all(power > 1.0)
    assert np.all(np.diff(most) <= 0.0)
    longest, shorter = (muf.f2_muf_mhz(km, 9.0, 3.0, 3.0, 0.0) for km in (4000.0, 3000.0))
    np.testing.assert_allclose(most[2:], [longest / shorter, 1.0, 1.0])
    # where the MUF is held from 3000 km on, 2000 km may grow to that length and longer hops gain nothing
    held = muf.sharing(np.array([2000.0, 3000.0, 4000.0]), 3000.0)[1]
    two_thirds = muf.f2_muf_mhz(2000.0, 9.0, 3.0, 3.0, 0.0)
    np.testing.assert_allclose(held, [shorter / two_thirds, 1.0, 1.0])
    # shorter than any hop of a chain: held, not without bound
    assert np.all(muf.sharing(10.0)[0] <= 1.0 / muf.SHARING_LEAST)
