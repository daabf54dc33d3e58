"""Lines and coils against published tables and formulas."""

import numpy as np
import pytest
from oracles.current_sheet import current_sheet_uh

from propagation.antennas import coil
from propagation.antennas.feedline import (
    line_loss_db,
    matched_loss_db_per_100m,
    mismatched_loss_db,
    swr_of,
)
from propagation.antennas.spec import FeedlineSpec
from propagation.base.errors import InputError


@pytest.mark.parametrize(
    ("cable", "frequency_mhz", "published"),
    [
        ("RG-58", 50.0, 10.8),  # Codan, Repeater Training Guide, appendix H: RG-58C/U
        ("RG-58", 150.0, 20.0),
        ("RG-58", 450.0, 35.5),
        ("RG-213", 50.0, 4.9),
        ("RG-213", 150.0, 8.9),
        ("RG-213", 450.0, 16.3),
        ("RG-8X", 30.0, 6.43),  # ARRL General Class License Manual, table 6-1: 1.96 dB / 100 ft
        ("RG-8X", 150.0, 14.86),
        ("RG-174", 30.0, 14.96),
        ("RG-58", 30.0, 8.10),
        ("RG-174", 150.0, 33.8),
        ("RG-8", 30.0, 3.54),  # the same table has RG-8 and RG-213 alike
        ("RG-8", 150.0, 8.30),
    ],
)
def test_matched_loss_of_published_tables(cable, frequency_mhz, published):
    """Within 10 %: makers' tables of one type of cable differ by as much."""
    found = matched_loss_db_per_100m(FeedlineSpec(cable=cable), frequency_mhz)
    np.testing.assert_allclose(found, published, rtol=0.10)


@pytest.mark.parametrize("written", ["RG-58", "rg58", "RG-58C/U", "RG 58", "RG58/U", "RG-58CU"])
def test_ways_of_writing_a_cable(written):
    np.testing.assert_allclose(matched_loss_db_per_100m(FeedlineSpec(cable=written), 30.0), 8.10, rtol=0.01)


def test_unknown_cable_and_own_points():
    with pytest.raises(InputError, match="hosepipe"):
        matched_loss_db_per_100m(FeedlineSpec(cable="hosepipe"), 14.0)
    own = FeedlineSpec(cable="hosepipe", matched_loss_db_per_100m=((30.0, 8.1), (10.0, 4.6)))
    np.testing.assert_allclose(matched_loss_db_per_100m(own, [10.0, 30.0]), [4.6, 8.1])
    np.testing.assert_allclose(matched_loss_db_per_100m(own, [2.5, 120.0]), [2.3, 16.2])
    assert 4.6 < float(matched_loss_db_per_100m(own, 18.0)) < 8.1


def test_mismatch_by_the_handbook():
    """Matched loss 3 dB and SWR 10 at the load: 7.0 dB (formula of the antenna handbooks, worked by hand).

    rho = 9/11, a = 2: 10 log[(4 - 0.669) / (2 x 0.331)] = 7.02 dB.
    """
    np.testing.assert_allclose(mismatched_loss_db(3.0103, 9.0 / 11.0), 7.02, atol=0.01)
    np.testing.assert_allclose(mismatched_loss_db([0.2, 1.0, 3.0], 0.0), [0.2, 1.0, 3.0], atol=1e-12)


def test_line_into_its_own_impedance_and_into_a_bad_load():
    line = FeedlineSpec(length_m=10.0)
    np.testing.assert_allclose(line_loss_db(line, 30.0, 50.0), 0.81, atol=0.01)
    assert float(line_loss_db(line, 30.0, 5.0 - 500.0j)) > 10.0
    np.testing.assert_allclose(swr_of(100.0), 2.0)
    np.testing.assert_allclose(swr_of(25.0), 2.0)
    assert np.isfinite(swr_of(1e9j))


def test_coil_inductance_by_a_known_coil():
    """Nagaoka's coefficient 0.6884 for a coil as long as it is wide (tables): 20 turns, 50 mm by 50 mm."""
    exact = 4e-7 * np.pi * 20**2 * np.pi * 0.025**2 / 0.05 * 0.6884 * 1e6
    np.testing.assert_allclose(coil.inductance_uh(20, 0.05, 0.05), exact, rtol=0.01)


def test_tuned_coil_and_its_self_capacitance():
    plain = coil.tuned(538.0, 14.2, 200.0)
    np.testing.assert_allclose(plain.inductance_uh, 6.03, rtol=0.005)
    np.testing.assert_allclose(plain.resistance_ohm, 2.69)
    np.testing.assert_allclose(plain.slope_ohm, 538.0)
    loaded = coil.tuned(538.0, 14.2, 200.0, capacitance_pf=2.0)
    omega = 2e6 * np.pi * 14.2
    inductance = loaded.inductance_uh * 1e-6
    shown = 1.0 / (1.0 / (1j * omega * inductance + omega * inductance / 200.0) + 1j * omega * 2e-12)
    np.testing.assert_allclose(shown.imag, 538.0, rtol=1e-3)
    np.testing.assert_allclose(shown.real, loaded.resistance_ohm, rtol=5e-3)
    assert loaded.inductance_uh < plain.inductance_uh
    step = 1e-5
    higher = omega * (1.0 + step)
    again = 1.0 / (1.0 / (1j * higher * inductance) + 1j * higher * 2e-12)
    here = 1.0 / (1.0 / (1j * omega * inductance) + 1j * omega * 2e-12)
    np.testing.assert_allclose((again.imag - here.imag) / step, loaded.slope_ohm, rtol=1e-3)


@pytest.mark.parametrize(("diameter_m", "length_m"), [(0.025, 0.1), (0.04, 0.2), (0.1, 0.05)])
def test_coil_inductance_by_a_sum_of_rings(diameter_m, length_m):
    """40 rings and their mutual inductances (Maxwell's elliptic integrals), Wheeler's 1 % beside them."""
    np.testing.assert_allclose(
        coil.inductance_uh(40, diameter_m, length_m), current_sheet_uh(40, diameter_m, length_m), rtol=0.01
    )


def test_slider_runs_through_its_two_settings():
    slider = coil.Slider((5.0, 3.0), (40.0, 24.0))
    np.testing.assert_allclose(slider.position(3.0), 5.0)
    np.testing.assert_allclose(slider.position(24.0), 40.0)
    np.testing.assert_allclose(slider.inductance_uh(slider.position(11.1)), 11.1)
    with pytest.raises(InputError, match="differ"):
        coil.Slider((5.0, 3.0), (5.0, 24.0))
