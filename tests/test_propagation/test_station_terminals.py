"""The two terminals: gains with their losses, the noise they let in, and the gain along the ground."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from worlds import demo

from propagation.spectrum.noise import NoiseLevel
from propagation.station.station import FarEnd
from propagation.station.terminals import Terminal, far_terminal, own_terminal, plain_terminal

MHZ = np.array([7.1, 14.2, 21.2, 28.4])


@cache
def near() -> Terminal:
    return own_terminal(demo())


@cache
def far() -> Terminal:
    return far_terminal(FarEnd())


def test_a_plain_end_has_no_gain_and_no_loss() -> None:
    plain = plain_terminal(100.0)
    np.testing.assert_array_equal(plain.gain_dbi(MHZ, np.array(20.0), np.array(0.0)), 0.0)
    np.testing.assert_array_equal(plain.receive_efficiency(MHZ), 1.0)
    np.testing.assert_array_equal(plain.feedline_loss_db(MHZ), 0.0)
    np.testing.assert_array_equal(plain.ground_wave_gain_dbi(MHZ, np.array(0.0)), 0.0)
    assert plain.horizon_deg(np.array([0.0, 90.0])).tolist() == [0.0, 0.0]


def test_a_plain_end_loses_low_rays() -> None:
    """2 dB a square degree under 5 degrees at each end, on every band: earth takes it from any antenna.

    One-hop fields of such rays, measured at dusk and by night, are 15 to 27 dB under those computed without
    it. Two plain ends lose 16 dB at 3 degrees, where P.533 drops a ray path altogether (from memory).
    """
    plain = plain_terminal(100.0)
    elevation = np.array([90.0, 10.0, 5.0, 4.0, 3.0, 2.0, 0.0])
    found = plain.gain_dbi(MHZ[:, None], elevation, np.array(0.0))
    np.testing.assert_allclose(found, [[0.0, 0.0, 0.0, -2.0, -8.0, -18.0, -50.0]])
    two = 2.0 * plain.gain_dbi(MHZ[:1], np.array([3.0]), np.array(0.0))
    np.testing.assert_allclose(two, -16.0)


def test_a_computed_antenna_does_not_pay_twice_for_low_rays() -> None:
    """Its pattern over earth has the loss in it: a vertical over average ground at 3 degrees has lost 6 to 16
    dB on its best (Fresnel's reflection, textbook), and what plain ends lose is not added."""
    antenna = near().antenna
    assert antenna is not None
    low = np.array([1.0, 3.0, 4.5])[:, None]
    expected = antenna.gain_dbi(MHZ, low, 0.0) - near().feedline_loss_db(MHZ)
    np.testing.assert_allclose(near().gain_dbi(MHZ, low, np.zeros((1, 1))), expected)
    best = np.max(antenna.gain_dbi(MHZ, np.arange(0.0, 91.0)[:, None], 0.0), axis=0)
    at_three = best - antenna.gain_dbi(MHZ, np.full((1, 1), 3.0), 0.0)[0]
    assert np.all((at_three > 6.0) & (at_three < 16.0))


def test_the_gain_is_the_antennas_less_the_line() -> None:
    antenna = near().antenna
    assert antenna is not None
    elevation = np.array([5.0, 20.0, 60.0])[:, None]
    expected = antenna.gain_dbi(MHZ, elevation, 0.0) - near().feedline_loss_db(MHZ)
    np.testing.assert_allclose(near().gain_dbi(MHZ, elevation, np.zeros((1, 1))), expected)
    assert np.all(near().feedline_loss_db(MHZ) > 0.0)


def test_transmit_loses_what_receive_only_loses_to_the_receivers_own_noise() -> None:
    """The share of the power into the sky is that of the noise let in: antenna, earth and line, both ways
    the same."""
    antenna = near().antenna
    assert antenna is not None
    expected = antenna.radiation_efficiency(MHZ) * 10.0 ** (-near().feedline_loss_db(MHZ) / 10.0)
    np.testing.assert_allclose(near().receive_efficiency(MHZ), expected)
    assert np.all((near().receive_efficiency(MHZ) > 0.0) & (near().receive_efficiency(MHZ) < 1.0))


def test_the_far_end_looks_every_way_at_once() -> None:
    """Its direction is unknown: the same gain on every azimuth, the mean in power of the wire it is."""
    gains = far().gain_dbi(np.array([[14.2]]), np.array([[20.0]]), np.arange(0.0, 360.0, 30.0)[:, None])
    assert np.ptp(gains) < 1e-9
    antenna = far().antenna
    assert antenna is not None
    pattern = antenna.solution(14.2).pattern.gain[20]
    mean = 10.0 * np.log10(np.mean(pattern)) - far().feedline_loss_db(np.array([14.2]))
    np.testing.assert_allclose(gains.ravel()[0], mean, atol=0.01)


def test_along_the_ground() -> None:
    """A vertical beats a low wire by 15 dB there, and neither has more than a monopole with the image taken
    off."""
    vertical, wire = (end.ground_wave_gain_dbi(MHZ, np.array(0.0)) for end in (near(), far()))
    assert np.all(vertical <= 4.77 - 3.01)
    assert np.all(wire <= 4.77 - 3.01 - 15.0)


def test_heights_and_skyline_come_from_the_file() -> None:
    """The demo's ridge stands 600 m over the country, its skyline is 3 degrees at 300 degrees."""
    assert 600.0 < near().height_m < 605.0
    np.testing.assert_allclose(near().horizon_deg(np.array([0.0, 90.0, 300.0])), [2.0, 0.0, 3.0])
    assert far().height_m == FarEnd().height_m


@pytest.mark.parametrize("band", [7.1, 14.2])
def test_what_a_log_has_taught_moves_the_gain(band: float) -> None:
    taught = Terminal(
        power_w=10.0,
        noise=NoiseLevel("rural"),
        antenna=near().antenna,
        offset_db=lambda f: np.where(f < 10.0, -6.0, 2.0),
    )
    plain = Terminal(power_w=10.0, noise=NoiseLevel("rural"), antenna=near().antenna)
    moved = taught.gain_dbi(np.array([band]), np.array([20.0]), np.array([0.0])) - plain.gain_dbi(
        np.array([band]), np.array([20.0]), np.array([0.0])
    )
    np.testing.assert_allclose(moved, -6.0 if band < 10.0 else 2.0)
