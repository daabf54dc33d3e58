"""Radio noise against the rows of P.372, and the way its parts add up."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from propagation.base.errors import InputError
from propagation.spectrum import noise
from propagation.spectrum.noise import QUIET_RURAL, NoiseLevel, NoiseReading, PlaceKind, reading_of

MHZ = np.array([1.9, 3.6, 7.1, 10.1, 14.2, 21.2, 28.4, 50.0, 144.0])
# Fam [dB] of P.372 (man-made c - d log f with the constants of table 1, galactic equation 13)
ROWS: dict[PlaceKind, tuple[float | None, ...]] = {
    "city": (69.1, 61.4, 53.2, 49.0, 44.9, 40.1, 36.5, 29.7, 17.7),
    "residential": (64.8, 57.1, 48.9, 44.7, 40.6, 35.8, 32.2, 25.4, 12.7),
    "rural": (59.5, 51.8, 43.6, 39.4, 35.3, 30.5, 26.9, 20.1, 7.4),
    "quiet rural": (45.6, 37.7, 29.3, 24.9, 20.6, 15.7, 12.0, 5.0, None),
}
GALACTIC = (45.6, 39.2, 32.4, 28.9, 25.5, 21.5, 18.6, 12.9, 2.4)


@pytest.mark.parametrize(("place", "row"), ROWS.items())
def test_man_made_rows(place: PlaceKind, row: tuple[float | None, ...]) -> None:
    """To the printed tenth; above 129 MHz the city's line is the other one, 44.3 - 12.3 log f: 17.7 at 144
    MHz."""
    for frequency, expected in zip(MHZ, row, strict=True):
        if expected is not None:
            np.testing.assert_allclose(NoiseLevel(place).man_made_fam_db(frequency), expected, atol=0.06)


def test_galactic_row() -> None:
    np.testing.assert_allclose(noise.galactic_fam_db(MHZ), GALACTIC, atol=0.06)


def test_galactic_noise_on_the_riometer_frequency() -> None:
    """17.5 dB at 31.5 MHz (P.372 equation 13)."""
    np.testing.assert_allclose(noise.galactic_fam_db(31.5), 17.5, atol=0.05)


def test_an_unknown_kind_of_place_is_named() -> None:
    with pytest.raises(InputError, match="suburban"):
        NoiseLevel("suburban")  # type: ignore[arg-type]


def test_deciles_of_a_pure_kind() -> None:
    """Where man-made noise is alone (rural, noon, 3.6 MHz, winter at 50 degrees) its own deciles stand: 9.2
    and 4.6."""
    found = noise.external_noise(NoiseLevel("rural"), 3.6, 50.0, 12.0, -1.0, 6.0)
    np.testing.assert_allclose(found.upper_decile_db, 9.2, atol=0.1)
    np.testing.assert_allclose(found.lower_decile_db, 4.6, atol=0.1)


@pytest.mark.parametrize(
    ("kind", "upper", "lower"),
    [("city", 11.0, 6.7), ("residential", 10.6, 5.3), ("rural", 9.2, 4.6), ("quiet rural", 9.2, 4.6)],
)
def test_deciles_of_man_made_noise(kind: PlaceKind, upper: float, lower: float) -> None:
    """P.372 table 2 (from memory), taken out of the sum where foF2 shuts the galaxy out."""
    place = {"lat_deg": 75.0, "solar_hour": 12.0, "season": -1.0}
    found = noise.external_noise(NoiseLevel(kind), 7.1, fof2_mhz=8.0, **place)
    man = 10.0 ** (0.1 * float(NoiseLevel(kind).man_made_fam_db(7.1)))
    storm = 10.0 ** (0.1 * float(noise.atmospheric_fam_db(7.1, **place)))
    np.testing.assert_allclose(found.upper_decile_db * (man + storm) - 8.0 * storm, upper * man, rtol=1e-9)
    np.testing.assert_allclose(found.lower_decile_db * (man + storm) - 8.0 * storm, lower * man, rtol=1e-9)


def test_deciles_where_storms_are_alone() -> None:
    """8 dB (ours): 1.9 MHz near the equator on a summer night is 30 dB over any quiet place."""
    found = noise.external_noise(QUIET_RURAL, 1.9, 10.0, 0.0, 1.0, 8.0)
    np.testing.assert_allclose([found.upper_decile_db, found.lower_decile_db], 8.0, atol=0.01)


def test_the_galaxy_comes_through_and_brings_its_deciles() -> None:
    """2 dB (P.372, from memory); half of its power 15 % over foF2, all of it 30 % over (ours)."""
    f, place = 28.4, {"lat_deg": 75.0, "solar_hour": 12.0, "season": -1.0}
    man, galaxy = (10.0 ** (0.1 * level) for level in (53.6 - 28.6 * np.log10(f), 52.0 - 23.0 * np.log10(f)))
    storm = 10.0 ** (0.1 * float(noise.atmospheric_fam_db(f, **place)))
    for share, over in ((0.0, 1.0), (0.5, 1.15), (0.99, 1.297), (1.0, 1.31)):
        found = noise.external_noise(QUIET_RURAL, f, fof2_mhz=f / over, **place)
        total = man + share * galaxy + storm
        np.testing.assert_allclose(found.fam_db, 10.0 * np.log10(total), atol=1e-6)
        decile = (9.2 * man + 2.0 * share * galaxy + 8.0 * storm) / total
        np.testing.assert_allclose(found.upper_decile_db, decile, atol=1e-6)


def test_powers_add() -> None:
    """Two equal sources are 3 dB over one."""
    galactic = noise.galactic_fam_db(28.4)
    man = QUIET_RURAL.man_made_fam_db(28.4)
    total = noise.external_noise(QUIET_RURAL, 28.4, 75.0, 12.0, -1.0, 3.0).fam_db
    np.testing.assert_allclose(total, 10.0 * np.log10(10 ** (galactic / 10) + 10 ** (man / 10)), atol=0.3)


def test_the_galaxy_is_shut_out_below_the_critical_frequency() -> None:
    night = {"lat_deg": 75.0, "solar_hour": 12.0, "season": -1.0}
    shut = noise.external_noise(QUIET_RURAL, 14.2, fof2_mhz=15.0, **night).fam_db
    through = noise.external_noise(QUIET_RURAL, 14.2, fof2_mhz=3.0, **night).fam_db
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
    for kind in noise.PLACE_KINDS:
        found = noise.external_noise(NoiseLevel(kind), frequency, lat, hour, season, 5.0)
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


# --- measured levels -----------------------------------------------------------------------------------


def test_a_measured_level_falls_as_the_places_do() -> None:
    """67.2 dB at 1 MHz is the rural place of P.372, on every band to the printed tenth."""
    found = NoiseLevel(measured_db_at_1_mhz=67.2).man_made_fam_db(MHZ)
    np.testing.assert_allclose(found, np.array(ROWS["rural"], dtype=float), atol=0.06)


@pytest.mark.parametrize(
    ("reading", "kind"),
    [
        (NoiseReading(8.0, 3.6), "city"),
        (NoiseReading(7.3, 3.6), "residential"),
        (NoiseReading(5.9, 7.1), "residential"),
        (NoiseReading(5.0, 7.1), "rural"),
        (NoiseReading(3.9, 7.1, bandwidth_hz=500.0), "rural"),
        (NoiseReading(4.0, 7.1, antenna_gain_dbi=-6.0), "rural"),
        (NoiseReading(3.8, 14.2), "rural"),
    ],
)
def test_an_s_meter_reads_the_figures_of_p_372(reading: NoiseReading, kind: PlaceKind) -> None:
    """What a lossless antenna of 0 dBi delivers at a place of P.372 in 2400 Hz, by hand: S9 is -73 dBm, six
    decibels a unit, k T0 is -174 dBm in 1 Hz; rural at 7.1 MHz: 43.6 - 174 + 33.8 = -96.6 dBm, S5.1.

    Within 0.8 dB: readings are given to a tenth of a unit (0.3 dB) and galactic noise takes 0.5 dB off.
    """
    on_frequency = float(NoiseLevel(kind).man_made_fam_db(reading.frequency_mhz))
    level = NoiseLevel(reading=reading)
    assert float(level.man_made_fam_db(reading.frequency_mhz)) == pytest.approx(on_frequency, abs=0.8)


def test_galactic_noise_is_no_noise_of_the_place() -> None:
    """On 28.4 MHz the galaxy alone is 18.6 dB, S1.0 in 2400 Hz: a reading of S1.5 is mostly galactic, and 3.2
    dB over it leaves 52 % of the power, 2.8 dB under the reading."""
    galaxy_alone = (18.6 - 174.0 + 33.8 + 73.0) / 6.0 + 9.0
    reading = NoiseReading(galaxy_alone + 3.2 / 6.0, 28.4)
    assert reading.fam_db == pytest.approx(18.6 + 3.2 - 2.8, abs=0.1)


def test_s9_is_20_db_lower_on_vhf() -> None:
    """-93 dBm above 30 MHz (IARU Region 1, from memory)."""
    assert NoiseReading(9.0, 29.0).level_dbm == -73.0
    assert NoiseReading(9.0, 50.0).level_dbm == -93.0
    assert NoiseReading(9.0, 3.6, over_s9_db=10.0).level_dbm == -63.0


def test_deciles_of_a_measured_level_are_those_of_like_places() -> None:
    """At the level of a kind of place its own (P.372 table 2, from memory), between two places between."""
    assert NoiseLevel(measured_db_at_1_mhz=72.5).deciles_db == (10.6, 5.3)
    assert NoiseLevel(measured_db_at_1_mhz=40.0).deciles_db == (9.2, 4.6)
    upper, lower = NoiseLevel(measured_db_at_1_mhz=70.0).deciles_db
    assert 9.2 < upper < 10.6
    assert 4.6 < lower < 5.3


@pytest.mark.parametrize(
    ("make", "named"),
    [
        (lambda: NoiseReading(7.0, 7.1, over_s9_db=10.0), "over_s9_db"),
        (lambda: NoiseReading(0.0, 1.0, antenna_gain_dbi=20.0), "antenna_gain_dbi"),
        (lambda: NoiseLevel("rural", 60.0, NoiseReading(5.0, 7.1)), "noise_db_at_1_mhz or noise_reading"),
        (lambda: reading_of("rather loud"), "rather loud"),
        (lambda: reading_of("S5 on 41 m"), "41m"),
    ],
)
def test_a_bad_measured_level_is_refused_by_name(make: Callable[[], object], named: str) -> None:
    with pytest.raises(InputError, match=named):
        make()


@pytest.mark.parametrize(
    ("words", "reading"),
    [
        ("S5 on 40 m", NoiseReading(5.0, 7.15)),
        ("s9+10 dB at 3.65 MHz, 500 Hz, -3 dBi", NoiseReading(9.0, 3.65, 500.0, -3.0, 10.0)),
        ("S4.5 noise on 20m", NoiseReading(4.5, 14.175)),
    ],
)
def test_words_of_a_reading(words: str, reading: NoiseReading) -> None:
    """On a band its middle, as the widest of the three regions has it; written out they mean the same."""
    assert reading_of(words) == reading
    assert reading_of(reading.words) == reading
