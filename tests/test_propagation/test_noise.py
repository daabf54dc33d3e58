"""Radio noise against the rows of P.372, and the way its parts add up."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from propagation.base.errors import InputError
from propagation.spectrum import noise

MHZ = np.array([1.9, 3.6, 7.1, 10.1, 14.2, 21.2, 28.4, 50.0, 144.0])
# Fam [dB] of P.372 (man-made c - d log f with the constants of table 1, galactic equation 13)
ROWS = {
    "city": (69.1, 61.4, 53.2, 49.0, 44.9, 40.1, 36.5, 29.7, 17.7),
    "residential": (64.8, 57.1, 48.9, 44.7, 40.6, 35.8, 32.2, 25.4, 12.7),
    "rural": (59.5, 51.8, 43.6, 39.4, 35.3, 30.5, 26.9, 20.1, 7.4),
    "quiet rural": (45.6, 37.7, 29.3, 24.9, 20.6, 15.7, 12.0, 5.0, None),
}
GALACTIC = (45.6, 39.2, 32.4, 28.9, 25.5, 21.5, 18.6, 12.9, 2.4)


@pytest.mark.parametrize(("environment", "row"), ROWS.items())
def test_man_made_rows(environment: str, row: tuple[float | None, ...]) -> None:
    """To the printed tenth; above 129 MHz the city's line is the other one, 44.3 - 12.3 log f: 17.7 at 144
    MHz."""
    for frequency, expected in zip(MHZ, row, strict=True):
        if expected is not None:
            np.testing.assert_allclose(noise.man_made_fam_db(environment, frequency), expected, atol=0.06)


def test_galactic_row() -> None:
    np.testing.assert_allclose(noise.galactic_fam_db(MHZ), GALACTIC, atol=0.06)


def test_galactic_noise_on_the_riometer_frequency() -> None:
    """17.5 dB at 31.5 MHz (P.372 equation 13)."""
    np.testing.assert_allclose(noise.galactic_fam_db(31.5), 17.5, atol=0.05)


def test_an_unknown_environment_is_named() -> None:
    with pytest.raises(InputError, match="suburban"):
        noise.man_made_fam_db("suburban", 14.0)


def test_deciles_of_a_pure_kind() -> None:
    """Where man-made noise is alone (rural, noon, 3.6 MHz, winter at 50 degrees) its own deciles stand: 9.2
    and 4.6."""
    found = noise.external_noise("rural", 3.6, 50.0, 12.0, -1.0, 6.0)
    np.testing.assert_allclose(found.upper_decile_db, 9.2, atol=0.1)
    np.testing.assert_allclose(found.lower_decile_db, 4.6, atol=0.1)


@pytest.mark.parametrize(
    ("environment", "upper", "lower"),
    [("city", 11.0, 6.7), ("residential", 10.6, 5.3), ("rural", 9.2, 4.6), ("quiet rural", 9.2, 4.6)],
)
def test_deciles_of_man_made_noise(environment: str, upper: float, lower: float) -> None:
    """P.372 table 2 (from memory), taken out of the sum where foF2 shuts the galaxy out."""
    place = {"lat_deg": 75.0, "solar_hour": 12.0, "season": -1.0}
    found = noise.external_noise(environment, 7.1, fof2_mhz=8.0, **place)
    man = 10.0 ** (0.1 * float(noise.man_made_fam_db(environment, 7.1)))
    storm = 10.0 ** (0.1 * float(noise.atmospheric_fam_db(7.1, **place)))
    np.testing.assert_allclose(found.upper_decile_db * (man + storm) - 8.0 * storm, upper * man, rtol=1e-9)
    np.testing.assert_allclose(found.lower_decile_db * (man + storm) - 8.0 * storm, lower * man, rtol=1e-9)


def test_deciles_where_storms_are_alone() -> None:
    """8 dB (ours): 1.9 MHz near the equator on a summer night is 30 dB over any quiet place."""
    found = noise.external_noise("quiet rural", 1.9, 10.0, 0.0, 1.0, 8.0)
    np.testing.assert_allclose([found.upper_decile_db, found.lower_decile_db], 8.0, atol=0.01)


def test_the_galaxy_comes_through_and_brings_its_deciles() -> None:
    """2 dB (P.372, from memory); half of its power 15 % over foF2, all of it 30 % over (ours)."""
    f, place = 28.4, {"lat_deg": 75.0, "solar_hour": 12.0, "season": -1.0}
    man, galaxy = (10.0 ** (0.1 * level) for level in (53.6 - 28.6 * np.log10(f), 52.0 - 23.0 * np.log10(f)))
    storm = 10.0 ** (0.1 * float(noise.atmospheric_fam_db(f, **place)))
    for share, over in ((0.0, 1.0), (0.5, 1.15), (0.99, 1.297), (1.0, 1.31)):
        found = noise.external_noise("quiet rural", f, fof2_mhz=f / over, **place)
        total = man + share * galaxy + storm
        np.testing.assert_allclose(found.fam_db, 10.0 * np.log10(total), atol=1e-6)
        decile = (9.2 * man + 2.0 * share * galaxy + 8.0 * storm) / total
        np.testing.assert_allclose(found.upper_decile_db, decile, atol=1e-6)


def test_powers_add() -> None:
    """Two equal sources are 3 dB over one."""
    galactic = noise.galactic_fam_db(28.4)
    man = noise.man_made_fam_db("quiet rural", 28.4)
    total = noise.external_noise("quiet rural", 28.4, 75.0, 12.0, -1.0, 3.0).fam_db
    np.testing.assert_allclose(total, 10.0 * np.log10(10 ** (galactic / 10) + 10 ** (man / 10)), atol=0.3)


def test_the_galaxy_is_shut_out_below_the_critical_frequency() -> None:
    night = {"lat_deg": 75.0, "solar_hour": 12.0, "season": -1.0}
    shut = noise.external_noise("quiet rural", 14.2, fof2_mhz=15.0, **night).fam_db
    through = noise.external_noise("quiet rural", 14.2, fof2_mhz=3.0, **night).fam_db
    assert through - shut > 4.0


def test_atmospheric_noise_at_the_anchors_of_the_chart() -> None:
    """The stand-in's own table at 1 MHz (ours): summer midnight 92 dB at 10 degrees, 62 at 75; winter 5 and
    18 lower."""
    fam = noise.atmospheric_fam_db(1.0, np.array([10.0, 75.0]), 0.0, np.array([[1.0], [-1.0]]))
    np.testing.assert_allclose(fam, [[92.0, 62.0], [87.0, 44.0]], atol=1e-9)


def test_the_whole_chart() -> None:
    """Every cell of the stand-in (ours, drawn from memory of the CCIR 322 charts), read as a caller reads it.

    It is good to 10 dB against the charts; against itself it must not slip.
    """
    latitudes, hours = np.array([[10.0], [30.0], [50.0], [75.0]]), np.array([0.0, 6.0, 12.0, 18.0])
    summer = [
        [92.0, 70.0, 70.0, 85.0],
        [86.0, 62.0, 62.0, 78.0],
        [78.0, 52.0, 54.0, 68.0],
        [62.0, 40.0, 40.0, 52.0],
    ]
    np.testing.assert_allclose(noise.atmospheric_fam_db(1.0, latitudes, hours, 1.0), summer)
    midnight = noise.atmospheric_fam_db(1.0, latitudes[:, 0], 0.0, np.array([[0.0], [-1.0]]))
    np.testing.assert_allclose(midnight, [[89.0, 81.0, 71.0, 54.0], [87.0, 76.0, 60.0, 44.0]])
    np.testing.assert_allclose(noise.atmospheric_fam_db(1.0, 20.0, 3.0, 1.0), (92 + 70 + 86 + 62) / 4)
    np.testing.assert_allclose(noise.atmospheric_fam_db(1.0, 62.5, 0.0, 1.0), (78 + 62) / 2)


def test_the_chart_over_frequency() -> None:
    """Two levels at 1 MHz give the slope and the floor of the chart's lines; above 30 MHz 14 dB an octave."""
    mhz = np.array([1.0, 2.0, 3.0, 5.0, 7.0, 10.0, 15.0, 20.0, 30.0])
    loud, faint = noise.atmospheric_fam_db(mhz, 10.0, 0.0, 1.0), noise.atmospheric_fam_db(mhz, 75.0, 0.0, 1.0)
    slope = (loud - faint) / 30.0
    np.testing.assert_allclose(slope, [1.0, 0.86, 0.78, 0.66, 0.58, 0.50, 0.36, 0.24, 0.08])
    np.testing.assert_allclose(loud - 92.0 * slope, [0.0, 1.0, 2.0, 3.0, 4.0, 4.0, 5.0, 4.0, 2.0], atol=1e-9)
    assert np.all(np.diff(loud) < 0.0)
    assert np.all(np.diff(faint) < 0.0)
    octave = np.diff(noise.atmospheric_fam_db(np.array([30.0, 60.0]), 10.0, 0.0, 1.0))
    np.testing.assert_allclose(octave, -20.0 * np.log(2.0))


def test_the_receivers_own_noise() -> None:
    """12 dB (common practice, no source): without any sky k T0 b F, -158.0 dBW in 2500 Hz."""
    np.testing.assert_allclose(noise.noise_power_dbw(0.0, 2500.0), -158.0, atol=0.05)


def test_storms_are_heard_by_night_and_on_the_low_bands() -> None:
    night, noon = noise.atmospheric_fam_db(3.6, 20.0, np.array([0.0, 12.0]), 1.0)
    assert night - noon > 10.0
    low, high = noise.atmospheric_fam_db(np.array([1.9, 28.4]), 20.0, 0.0, 1.0)
    assert low - high > 50.0


@given(st.floats(1.8, 150.0), st.floats(-90.0, 90.0), st.floats(-48.0, 48.0), st.floats(-1.0, 1.0))
def test_noise_is_a_number_everywhere(frequency: float, lat: float, hour: float, season: float) -> None:
    for environment in noise.ENVIRONMENTS:
        found = noise.external_noise(environment, frequency, lat, hour, season, 5.0)
        assert np.isfinite(found.fam_db)
        assert 2.0 <= found.upper_decile_db <= 11.0
        assert 2.0 <= found.lower_decile_db <= 8.0


@given(st.floats(-90.0, 90.0), st.floats(0.0, 24.0), st.floats(-1.0, 1.0))
def test_atmospheric_noise_has_no_steps(lat: float, hour: float, season: float) -> None:
    here = noise.atmospheric_fam_db(1.0, lat, hour, season)
    for moved in (
        (lat + 0.1, hour, season),
        (lat, hour + 0.02, season),
        (lat, hour, min(season + 0.01, 1.0)),
    ):
        assert abs(noise.atmospheric_fam_db(1.0, *moved) - here) < 0.25


def test_noise_power() -> None:
    """P.372 section 2: 10 log fa + 10 log b - 204 dBW; Fam 40 dB in 2500 Hz is -130.0 dBW, the receiver far
    below."""
    np.testing.assert_allclose(noise.noise_power_dbw(40.0, 2500.0), -130.02, atol=0.01)


def test_a_lossy_antenna_matters_only_where_the_receivers_noise_takes_over() -> None:
    """Signal and external noise sink together, the receiver's noise stays.

    At 10 % efficiency: on 40 m, residential (Fam 49), under 0.1 dB. On 10 m, quiet rural with the galaxy (Fam
    19.5) and a noise figure of 12 dB, by hand: 89.1 + 14.8 = 104.0 becomes 8.9 + 0.9 + 14.8 = 24.7, which is
    6.25 dB less noise for 10 dB less signal.
    """

    def lost_db(fam_db: float, figure_db: float, efficiency: float) -> float:
        signal = 10.0 * np.log10(efficiency)
        noise_change = noise.noise_power_dbw(fam_db, 2500.0, efficiency, figure_db) - noise.noise_power_dbw(
            fam_db, 2500.0, 1.0, figure_db
        )
        return float(noise_change - signal)

    assert lost_db(49.0, 12.0, 0.1) < 0.1
    np.testing.assert_allclose(lost_db(19.5, 12.0, 0.1), 3.75, atol=0.01)
    assert lost_db(19.5, 12.0, 0.01) > lost_db(19.5, 12.0, 0.1)
