"""From an SWR curve to the series resistance: moment-method tables, swept curves, the trade's facts."""

import csv
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from propagation.antennas import analyser
from propagation.antennas.analyser import (
    AnalyserReading,
    analyse,
    at_antenna_swr,
    inconsistencies,
    normalised_reactance,
)
from propagation.antennas.factory import build
from propagation.antennas.feedline import VELOCITY_FACTOR
from propagation.antennas.spec import AntennaSpec, FeedlineSpec
from propagation.antennas.sweep_reading import from_sweep
from propagation.antennas.touchstone import Sweep
from propagation.antennas.vertical import vertical_wires
from propagation.antennas.wire_antenna import ports
from propagation.base.errors import InputError
from propagation.geo.ground import GROUNDS

FIXTURE = Path(__file__).parents[2] / "fixtures" / "antenna" / "own_whips.csv"
TABLE = [row for row in csv.DictReader(FIXTURE.read_text().splitlines()) if row["mirror"] == "False"]
SWR_1P5_PER_2 = float(np.sqrt(1.0 / 3.0))  # widths of a dip of SWR 1: (S - 1) / sqrt(S) at 1.5 over that at 2
SHORT_LINE = FeedlineSpec(length_m=0.0)
FREQUENCIES = np.linspace(14.0, 14.4, 401)


@pytest.mark.parametrize("row", TABLE, ids=lambda row: f"{row['radiator_m']}-{row['frequency_mhz']}")
@pytest.mark.parametrize(("swr", "share"), [(1.5, SWR_1P5_PER_2), (2.0, 1.0)])
def test_resistance_from_the_width_of_moment_method_antennas(row, swr, share):
    """Matched at the dip, the width of nec2c's antenna gives back its R_total within 4 %, efficiency 6 %."""
    spec = AntennaSpec(
        radiator_m=float(row["radiator_m"]),
        coil_q=float(row["coil_q"]),
        radials=int(row["radials"]),
        radial_m=float(row["radial_m"]),
        base_height_m=float(row["base_height_m"]),
        connection_ohm=0.0,
    )
    antenna = build(spec, GROUNDS["average"], SHORT_LINE)
    middle, half = float(row["frequency_mhz"]), share * float(row["width_swr_2_khz"]) / 2000.0
    verdict = analyse(AnalyserReading(middle, 1.0, ((swr, middle - half, middle + half),), True), antenna)
    assert len(verdict.sides) == 1
    np.testing.assert_allclose(verdict.best.total_resistance_ohm, float(row["R_tuned_ohm"]), rtol=0.04)
    np.testing.assert_allclose(verdict.best.efficiency, float(row["efficiency"]), rtol=0.06)
    assert "agree" in verdict.said[-1]


def swept(added_ohm, r, spec=None, length_m=0.0):
    """Reflection of an antenna with loss in series, brought losslessly to r times 50 ohm; and R_total."""
    spec = spec or AntennaSpec()
    ground = GROUNDS["average"]
    built = vertical_wires(spec, ground, 14.2, spec.whip_m)
    coil_ohm = -ports(built.structure, (built.feed,), 14.2, ground).impedance[0, 0].imag
    places = np.linspace(FREQUENCIES[0], FREQUENCIES[-1], 9)
    known = [ports(built.structure, (built.feed,), f, ground).impedance[0, 0] for f in places]
    smooth = np.polyfit(places - 14.2, known, 4)
    load = np.polyval(smooth, FREQUENCIES - 14.2) + coil_ohm * (1.0 / 200.0 + 1j * FREQUENCIES / 14.2)
    load = load + added_ohm
    total = float(np.polyval(smooth, 0.0).real) + coil_ohm / 200.0 + added_ohm
    scaled = load / total * r * 50.0
    reflection = (scaled - 50.0) / (scaled + 50.0)
    turn = 2.0 * 2e6 * np.pi * FREQUENCIES * length_m / (299792458.0 * VELOCITY_FACTOR)
    return Sweep(FREQUENCIES, reflection * np.exp(-1j * turn), 50.0), total


@pytest.mark.parametrize("added_ohm", [0.0, 5.0, 20.0])
@pytest.mark.parametrize("r", [1 / 1.3, 1.0, 1.3])
@pytest.mark.parametrize("length_m", [0.0, 7.0])
def test_sweeps_give_back_the_resistance_and_the_side(added_ohm, r, length_m):
    """Through a lossless line or none: R_total within 3 %, the right side picked from the circle."""
    sweep, total = swept(added_ohm, r, length_m=length_m)
    line = FeedlineSpec(length_m=length_m, matched_loss_db_per_100m=((14.0, 0.0),))
    reading = from_sweep(sweep, line, at_antenna=length_m == 0.0)
    verdict = analyse(reading, build(AntennaSpec(), GROUNDS["average"], line))
    if r != 1.0:
        assert reading.low_side is (r < 1.0)
        np.testing.assert_allclose(verdict.best.r, r, rtol=0.01)
    assert len(verdict.sides) == 1
    np.testing.assert_allclose(verdict.best.total_resistance_ohm, total, rtol=0.03)
    low, high = (verdict.best.total_resistance_ohm + sign * verdict.best.error_ohm for sign in (-1, 1))
    assert low < total < high


def test_unknown_side_gives_both_and_says_so():
    """At an SWR of 1.3 the two sides differ by 10 log 1.3 = 1.14 dB; the lossier comes first."""
    antenna = build(AntennaSpec(), GROUNDS["average"], SHORT_LINE)
    verdict = analyse(AnalyserReading(14.2, 1.3, ((2.0, 14.1, 14.3),), True), antenna)
    assert len(verdict.sides) == 2
    assert verdict.best.efficiency < verdict.sides[1].efficiency
    ratio = verdict.sides[0].total_resistance_ohm / verdict.sides[1].total_resistance_ohm
    np.testing.assert_allclose(ratio, 1.3, rtol=1e-6)
    assert any("38 or 65 ohm" in line for line in verdict.said)


def tuned(spec, added_ohm, frequencies):
    """SWR on frequencies [MHz], fed directly, tuned to 14.2 MHz with a loss in series; R without that."""
    ground = GROUNDS["average"]
    built = vertical_wires(spec, ground, 14.2, spec.whip_m)
    at_dip, *bare = (
        ports(built.structure, (built.feed,), f, ground).impedance[0, 0] for f in (14.2, *frequencies)
    )
    coil = -at_dip.imag * (1.0 / 200.0 + 1j * np.asarray(frequencies) / 14.2)
    load = np.asarray(bare) + coil + added_ohm
    reflection = np.abs((load - 50.0) / (load + 50.0))
    return (1.0 + reflection) / (1.0 - reflection), float(at_dip.real - at_dip.imag / 200.0)


@pytest.mark.parametrize("ohms", [35.0, 42.0, 60.0, 72.0])
@pytest.mark.parametrize("second_mhz", [13.95, 14.45])
@pytest.mark.parametrize("stated_m", [2.4, 2.5, 2.6])
def test_the_swr_at_another_frequency_tells_which_resistance_it_is(ohms, second_mhz, stated_m):
    """One frequency and its SWR, on either side of the dip, in place of the edges; whip stated 4 % wrong."""
    spec = AntennaSpec()
    _, own_ohm = tuned(spec, 0.0, [14.2])
    (dip, beside), _ = tuned(spec, ohms - own_ohm, [14.2, second_mhz])
    reading = AnalyserReading(14.2, float(dip), (), True, second=(second_mhz, float(beside)))
    antenna = build(replace(spec, radiator_m=stated_m), GROUNDS["average"], SHORT_LINE)
    verdict = analyse(reading, antenna, direct=True)
    if len(verdict.sides) == 1:
        np.testing.assert_allclose(50.0 * verdict.best.r, ohms, rtol=0.02)
        assert any(f"it is {50.0 * verdict.best.r:.0f} ohm" in line for line in verdict.said)
    else:
        assert stated_m != 2.5
        assert any("tells which" in line for line in verdict.said)


@pytest.mark.parametrize(("ohms", "transformer"), [(38.0, 1.0), (66.0, 1.0), (19.0, 2.0), (33.0, 2.0)])
def test_one_radial_more_tells_which_resistance_it_is(ohms, transformer):
    """Four radials on the ground, then five: the resistance falls, the SWR rises below 50 ohm, falls above.

    With a transformer too, where the width alone cannot tell.
    """
    four = AntennaSpec(radials=4, radial_height_m=0.0, base_height_m=0.0)
    five = replace(four, radials=5)
    _, own_ohm = tuned(four, 0.0, [14.2])
    _, more_ohm = tuned(five, 0.0, [14.2])
    r, r_more = (one * transformer / 50.0 for one in (ohms, ohms - own_ohm + more_ohm))
    half = slope_width_mhz(four, ohms, r)
    reading = AnalyserReading(
        14.2,
        max(r, 1.0 / r),
        ((2.0, 14.2 - half, 14.2 + half),),
        True,
        one_radial_more_swr=max(r_more, 1.0 / r_more),
    )
    verdict = analyse(reading, build(four, GROUNDS["average"], SHORT_LINE))
    (side,) = verdict.sides
    np.testing.assert_allclose(side.r, r)
    np.testing.assert_allclose(side.total_resistance_ohm, ohms, rtol=0.01)


def slope_width_mhz(spec, ohms, r):
    """Half the width of SWR 2 [MHz] of a resonance of a resistance [ohm] seen as r times the line's."""
    slope_ohm = build(spec, GROUNDS["average"], SHORT_LINE).solver(14.2).slope()
    return float(normalised_reactance(r, 2.0)) / r * ohms * 14.2 / slope_ohm


def test_a_radial_that_changes_nothing_is_said_to_tell_nothing():
    """Raised radials: three or four of them differ by half an ohm."""
    antenna = build(AntennaSpec(radials=3), GROUNDS["average"], SHORT_LINE)
    reading = AnalyserReading(14.2, 1.3, ((2.0, 14.1, 14.3),), True, one_radial_more_swr=1.29)
    verdict = analyse(reading, antenna)
    assert len(verdict.sides) == 2
    assert any("too little to tell" in line for line in verdict.said)


def test_a_reading_that_no_single_resonance_has_is_said_to_be_inconsistent():
    """A dip outside the middle of its edges; widths at 1.5 and 2 that belong to different dips."""
    good = AnalyserReading(14.2, 1.2, ((1.5, 14.05, 14.35), (2.0, 13.92, 14.48)), True)
    assert inconsistencies(good, 0.0) == ()  # 1.87 times, as x at SWR 2 over x at SWR 1.5
    (aside,) = inconsistencies(replace(good, frequency_mhz=14.27, edges=good.edges[:1]), 0.0)
    assert "not in the middle" in aside
    (apart,) = inconsistencies(replace(good, edges=(good.edges[0], (2.0, 14.02, 14.38))), 0.0)
    assert "300 kHz and SWR 2 over 360 kHz are inconsistent" in apart


def test_the_trades_fact_about_a_broad_dip():
    """SWR 1.2 at 14.2 MHz, at most 1.5 from 14.00 to 14.35: some 41 ohm in series, 10 % circuit efficiency.

    Common practice, no source: a whip of a metre and a half over a base coil, radials of a few metres. The
    direct feed picks r = 1 / 1.2; then 50 / 1.2 = 41.7 ohm must be there too.
    """
    antenna = build(AntennaSpec(radiator_m=2.05), GROUNDS["average"], SHORT_LINE)
    reading = AnalyserReading(14.2, 1.2, ((1.5, 14.0, 14.35),), at_antenna=True)
    verdict = analyse(reading, antenna, direct=True)
    assert len(verdict.sides) == 1
    np.testing.assert_allclose(verdict.best.r, 1.0 / 1.2)
    np.testing.assert_allclose(verdict.best.total_resistance_ohm, 41.7, rtol=0.06)
    np.testing.assert_allclose(verdict.best.circuit_efficiency, 0.095, atol=0.01)
    np.testing.assert_allclose(verdict.best.efficiency, 0.027, atol=0.003)
    assert any("lossy" in line for line in verdict.said)


def test_forty_metres_at_swr_1_3_means_some_two_per_cent():
    """Fed directly, SWR 1.3 at 7.2 MHz is 38.5 or 65 ohm: 2.5 or 1.5 % circuit efficiency; the width decides.

    Widths of 77 to 117 kHz at SWR 1.5 belong to those two (worked from Sigma and R).
    """
    antenna = build(AntennaSpec(radiator_m=2.05), GROUNDS["average"], SHORT_LINE)
    found = {}
    for width_khz in (77.0, 117.0):
        half = width_khz / 2000.0
        verdict = analyse(
            AnalyserReading(7.2, 1.3, ((1.5, 7.2 - half, 7.2 + half),), True), antenna, direct=True
        )
        found[width_khz] = verdict.best
        assert 0.012 < verdict.best.circuit_efficiency < 0.029
    assert found[77.0].total_resistance_ohm < found[117.0].total_resistance_ohm


def test_lossy_cable_flatters_and_is_taken_out():
    """1 dB of cable makes a load of SWR 2 look like 1.72: rho = 1/3 x 10^-0.1 (theory)."""
    seen = (1.0 + 10**-0.1 / 3.0) / (1.0 - 10**-0.1 / 3.0)
    np.testing.assert_allclose(at_antenna_swr(seen, 1.0), 2.0)
    with pytest.raises(InputError, match="cable"):
        at_antenna_swr(10.0, 6.0)


def test_normalised_reactance_is_exact():
    x = float(normalised_reactance(0.8, 1.5))
    reflection = abs((0.8 + 1j * x - 1.0) / (0.8 + 1j * x + 1.0))
    np.testing.assert_allclose((1.0 + reflection) / (1.0 - reflection), 1.5)
    assert np.isnan(normalised_reactance(1.6, 1.5))


@pytest.mark.parametrize(
    ("fields", "word"),
    [
        ({"swr": 0.9}, "between 1 and 10"),
        ({"swr": 1.6}, "above the 1.6"),
        ({"frequency_mhz": 14.5}, "either side"),
        ({"edges": ()}, "two frequencies"),
        ({"edges": ((1.5, 14.3, 14.1),)}, "either side"),
        ({"frequency_mhz": float("nan")}, "outside"),
    ],
)
def test_readings_that_cannot_be(fields, word):
    good = {"frequency_mhz": 14.2, "swr": 1.2, "edges": ((1.5, 14.1, 14.3),)}
    with pytest.raises(InputError, match=word):
        AnalyserReading(**{**good, **fields})


def test_antennas_without_a_resonance_to_go_by():
    reading = AnalyserReading(14.2, 1.2, ((1.5, 14.1, 14.3),), True)
    with pytest.raises(InputError, match="isotropic"):
        analyse(reading, build(AntennaSpec(kind="isotropic")))


def test_sweeps_that_show_no_dip():
    rising = Sweep(np.linspace(14.0, 14.4, 50), np.linspace(0.1, 0.6, 50).astype(complex), 50.0)
    with pytest.raises(InputError, match="edge"):
        from_sweep(rising, SHORT_LINE)
    shallow = Sweep(np.linspace(14.0, 14.4, 50), 0.5 + np.abs(np.linspace(-0.2, 0.2, 50)) + 0j, 50.0)
    with pytest.raises(InputError, match="deeper dip"):
        from_sweep(shallow, SHORT_LINE)


def test_measurement_drives_the_antenna():
    """Kept with the antenna it replaces the computed resistance on its band, and no other."""
    antenna = build(AntennaSpec(), GROUNDS["average"], SHORT_LINE)
    verdict = analyse(AnalyserReading(14.2, 1.2, ((1.5, 14.0, 14.35),), True), antenna, direct=True)
    kept = verdict.best.measured(14.2, "2026-08-01")
    with_it = build(replace(antenna.spec, measured=(kept,)), GROUNDS["average"], SHORT_LINE)
    answer, other = with_it.on(14.06), with_it.on(7.1)
    assert (answer.basis, other.basis) == ("measured", "model")
    np.testing.assert_allclose(answer.efficiency, verdict.best.efficiency, rtol=0.03)
    np.testing.assert_allclose(answer.feed_resistance_ohm, verdict.best.total_resistance_ohm, rtol=1e-3)
    np.testing.assert_allclose(sum(answer.shares.values()), 1.0)
    fall = antenna.gain_dbi(14.06, 20.0) - with_it.gain_dbi(14.06, 20.0)
    np.testing.assert_allclose(fall, antenna.on(14.06).efficiency_db - answer.efficiency_db, atol=1e-6)
    assert answer.swr_1p5_khz > antenna.on(14.06).swr_1p5_khz


def test_the_latest_measurement_of_a_band_speaks():
    old, new = (analyser.Side(1.0, r, 1.0, 0.1, 0.1, -10.0, 0.3) for r in (20.0, 40.0))
    spec = AntennaSpec(measured=(new.measured(14.05, "2026-08-02"), old.measured(14.2, "2026-07-01")))
    np.testing.assert_allclose(build(spec).on(14.2).feed_resistance_ohm, 40.0)


def test_a_measurement_better_than_the_model():
    """Less resistance than computed takes from coil and earth alike; the shares still sum to one."""
    spec = AntennaSpec(connection_ohm=0.0)
    plain = build(spec).on(14.2)
    side = analyser.Side(1.0, 5.0, 0.3, 0.5, 0.3, -5.0, 0.3)
    better = build(replace(spec, measured=(side.measured(14.2, "2026-08-01"),))).on(14.2)
    assert better.efficiency > plain.efficiency
    assert better.shares["coil"] < plain.shares["coil"]
    np.testing.assert_allclose(sum(better.shares.values()), 1.0)
