"""Radials lying on the ground against published measurements and tables."""

import csv
import re
from pathlib import Path

import numpy as np
import pytest

from propagation.antennas.factory import build
from propagation.antennas.spec import AntennaSpec
from propagation.antennas.thin_wire import Structure, Wire
from propagation.antennas.vertical import LYING_HEIGHT_M
from propagation.antennas.wire_antenna import ports
from propagation.geo.ground import GROUNDS, Ground

FIXTURE = Path(__file__).parents[2] / "fixtures" / "antenna" / "ground_systems.csv"
WIRES = FIXTURE.with_name("wires_on_the_ground.csv")
ROWS = list(csv.DictReader(FIXTURE.read_text().splitlines()))
FIELDS = [row for row in ROWS if row["quantity"].startswith("field") and "radials" in row["condition"]]
LOSSES = [row for row in ROWS if row["quantity"].startswith("loss")]
BURIED = [row for row in ROWS if row["quantity"].startswith("relative field of buried")]
LAID = [row for row in ROWS if row["quantity"].startswith("relative field of radials on the ground")]
SLOWED = [row for row in ROWS if row["quantity"].startswith("velocity factor")]
QUARTER_WAVE = 0.237  # wavelengths, of a mast near resonance
NEW_JERSEY = Ground("no more than 4 mS/m", 13.0, 0.002)  # as others give the conductivity of that site


def low_angle_dbi(frequency_mhz, radials, radial_waves, ground="average", **fields):
    """Gain at 10 degrees of a quarter-wave vertical over radials lying on the earth; `fields` override."""
    wave = 299.792458 / frequency_mhz
    mast = {"radiator_m": QUARTER_WAVE * wave, "radius_mm": 10.0, **fields}
    spec = AntennaSpec(
        kind="vertical",
        **mast,
        radials=radials,
        radial_m=radial_waves * wave,
        radial_height_m=0.0,
        connection_ohm=0.0,
    )
    return float(build(spec, ground).gain_dbi(frequency_mhz, 10.0))


def parsed(condition):
    number = int(re.match(r"\d+", condition)[0])
    found = re.search(r"(0\.\d+) wavelength", condition)
    return number, float(found[1]) if found else 0.25


@pytest.mark.parametrize("row", FIELDS[1:], ids=lambda row: row["condition"])
def test_brown_lewis_and_epstein(row):
    """Field against that of 113 long radials, 3 MHz (Proc. IRE 25, June 1937): within 0.5 dB of the measured.

    The measurements scatter by a few tenths of a decibel and the earth there is not exactly average.
    """
    best_field = float(FIELDS[0]["value"])
    wanted_db = 20.0 * np.log10(float(row["value"]) / best_field)
    best = low_angle_dbi(3.0, *parsed(FIELDS[0]["condition"]))
    found_db = low_angle_dbi(3.0, *parsed(row["condition"])) - best
    np.testing.assert_allclose(found_db, wanted_db, atol=0.5)


@pytest.mark.parametrize("row", LOSSES[:-1], ids=lambda row: row["condition"])
def test_handbook_table(row):
    """The handbook's loss against its best system (table 1 of ch. 3, 20th ed.), on 7 MHz: within 1 dB."""
    best = low_angle_dbi(7.1, *parsed(LOSSES[-1]["condition"]))
    found_db = best - low_angle_dbi(7.1, *parsed(row["condition"]))
    np.testing.assert_allclose(found_db, float(row["value"]), atol=1.0)


def test_more_radials_never_hurt_and_pay_less_and_less():
    gains = [low_angle_dbi(7.1, number, 0.1) for number in (4, 8, 16, 32)]
    steps = np.diff(gains)
    assert np.all(steps > 0.0)
    assert steps[0] > steps[1] > steps[2]


@pytest.mark.parametrize(
    "row", [r for r in BURIED if parsed(r["condition"])[0] > 2], ids=lambda r: r["condition"]
)
def test_short_and_sparse_buried_radials(row):
    """Brown, Lewis and Epstein's fewer and shorter radials, from 15 up: within 0.5 dB of the measured.

    Theirs were bare and 15 cm deep, ours lie on the soil; two wires alone work against the soil and are left
    out. The measurements scatter by a few tenths of a decibel.
    """
    mast = {"radiator_m": 75.0 / 360.0 * 299.792458 / 3.0, "radius_mm": 32.0, "radial_radius_mm": 1.63}
    best = low_angle_dbi(3.0, 113, 0.411, NEW_JERSEY, **mast)
    found_db = low_angle_dbi(3.0, *parsed(row["condition"]), NEW_JERSEY, **mast) - best
    np.testing.assert_allclose(found_db, float(row["value"]), atol=0.5)


@pytest.mark.parametrize("row", LAID, ids=lambda row: row["condition"])
def test_field_test_of_radials_on_the_ground(row):
    """4 to 60 quarter-wave radials pegged to the soil: within 0.8 dB of the measured.

    The earth of that test is not known: from average to good, wet earth the figures move by up to 1.3 dB.
    """
    full = low_angle_dbi(3.7, 60, 0.25)
    found_db = low_angle_dbi(3.7, *parsed(row["condition"])) - full
    np.testing.assert_allclose(found_db, float(row["value"]), atol=0.8)


@pytest.mark.parametrize("ground", ["average", "good"])
def test_waves_on_a_wire_laid_on_the_ground_are_slow(ground):
    """Two arms of 5 m resonate at half the frequency they have in free space: velocity factor 0.5 +- 0.07.

    A handbook's round figure; soils and wires differ by a tenth.
    """
    arm, height, segments = 5.0, LYING_HEIGHT_M, 40
    wire = Wire((0.0, -arm, height), (0.0, arm, height), 0.001, 2 * segments)
    structure = Structure((wire,))
    frequencies = np.arange(5.0, 13.0, 0.5)
    feed = (structure.unknown(0, segments),)
    reactance = [ports(structure, feed, f, GROUNDS[ground]).impedance[0, 0].imag for f in frequencies]
    rise = int(np.argmax(np.asarray(reactance) > 0.0))
    resonance = np.interp(0.0, reactance[rise - 1 : rise + 1], frequencies[rise - 1 : rise + 1])
    velocity_factor = 4.0 * arm * resonance / 299.792458
    np.testing.assert_allclose(velocity_factor, float(SLOWED[0]["value"]), atol=0.07)


@pytest.mark.parametrize(
    "row",
    list(csv.DictReader(WIRES.read_text().splitlines())),
    ids=lambda row: f"{row['arm_m']} m, {row['height_mm']} mm, {row['earth']}",
)
def test_wires_millimetres_above_the_earth(row):
    """Impedance within 5 % of nec2c's, as far as that moves with its own segments near a resonance."""
    arm, height, segments = float(row["arm_m"]), float(row["height_mm"]) / 1000.0, 40
    permittivity, conductivity = (float(part) for part in row["earth"].split("/"))
    wire = Wire((0.0, -arm, height), (0.0, arm, height), float(row["radius_mm"]) / 1000.0, 2 * segments)
    structure = Structure((wire,))
    ground = Ground("as given", permittivity, conductivity)
    feed = (structure.unknown(0, segments),)
    found = complex(ports(structure, feed, float(row["frequency_mhz"]), ground).impedance[0, 0])
    wanted = complex(float(row["R_ohm"]), float(row["X_ohm"]))
    assert abs(found - wanted) < 0.05 * abs(wanted)


def test_few_long_radials_on_the_ground_lose_more_than_few_short_ones():
    """Four wires near half a wave on the slow line carry little current where the feed is.

    Field experiments found this too: four radials cut to an eighth of a wave beat four of a quarter wave.
    """
    assert low_angle_dbi(7.2, 4, 0.18) > low_angle_dbi(7.2, 4, 0.25) + 1.0
    assert low_angle_dbi(7.2, 32, 0.25) > low_angle_dbi(7.2, 32, 0.18)
