"""The loss of a vertical's connections: assumed, given or measured, and where it is counted."""

from dataclasses import replace

import numpy as np
import pytest

from propagation.antennas.factory import build
from propagation.antennas.spec import AntennaSpec, Measurement
from propagation.base.errors import InputError
from propagation.geo.ground import PERFECT
from propagation.station import station

BANDS_MHZ = (3.6, 7.1, 14.2, 21.2)


@pytest.mark.parametrize("frequency_mhz", BANDS_MHZ)
@pytest.mark.parametrize("coil_height_m", [0.0, 1.0])
def test_the_connections_are_in_series_with_the_feed(frequency_mhz, coil_height_m):
    """Circuit theory: they add to the feed's resistance and take from every other share alike."""
    bare = build(AntennaSpec(coil_height_m=coil_height_m, connection_ohm=0.0)).on(frequency_mhz)
    joined = build(AntennaSpec(coil_height_m=coil_height_m, connection_ohm=3.0)).on(frequency_mhz)
    np.testing.assert_allclose(joined.feed_resistance_ohm, bare.feed_resistance_ohm + 3.0)
    np.testing.assert_allclose(joined.ground_loss_ohm, bare.ground_loss_ohm + 3.0, rtol=1e-6)
    np.testing.assert_allclose(joined.radiation_resistance_ohm, bare.radiation_resistance_ohm, rtol=1e-6)
    np.testing.assert_allclose(joined.reactance_ohm, bare.reactance_ohm)
    lost = bare.feed_resistance_ohm / joined.feed_resistance_ohm
    np.testing.assert_allclose(joined.shares["connections"], 1.0 - lost)
    np.testing.assert_allclose(sum(joined.shares.values()), 1.0)
    for part in ("sky", "coil", "earth"):
        np.testing.assert_allclose(joined.shares[part], bare.shares[part] * lost, rtol=1e-6)
    for angle in ("5", "20", "60"):
        less_db = joined.gain_dbi[angle] - bare.gain_dbi[angle]
        np.testing.assert_allclose(less_db, 10.0 * np.log10(lost), atol=2e-3)  # printed to 0.001 dB
    np.testing.assert_allclose(joined.swr_2_khz, bare.swr_2_khz / lost)


@pytest.mark.parametrize("frequency_mhz", BANDS_MHZ)
def test_resistances_add_up_to_the_feeds(frequency_mhz):
    """Radiation, earth, connections and a coil at the base are all; the connections are in the earth's."""
    found = build(AntennaSpec()).on(frequency_mhz)
    parts = found.radiation_resistance_ohm + found.ground_loss_ohm + found.coil_loss_ohm
    np.testing.assert_allclose(parts, found.feed_resistance_ohm)
    earth = found.shares["earth"] * found.feed_resistance_ohm
    np.testing.assert_allclose(earth + found.connection_ohm, found.ground_loss_ohm, rtol=1e-6)


def test_a_short_whip_shows_what_such_whips_show():
    """Measured feed resistances of short coil-loaded whips are 12 to 20 ohm on 40 and 20 m (from memory)."""
    for frequency in (7.1, 14.2):
        assert 12.0 < build(AntennaSpec()).on(frequency).feed_resistance_ohm < 20.0


def test_the_assumption_is_named_until_it_is_replaced():
    """By a value of the owner's, or by a reading of that band; other bands keep it."""

    def assumed(answer):
        return any("are assumed" in note for note in answer.notes)

    assert assumed(build(AntennaSpec()).on(14.2))
    assert not assumed(build(AntennaSpec(connection_ohm=5.0)).on(14.2))
    measured = build(AntennaSpec(measured=(Measurement(14.2, 20.0),)))
    assert not assumed(measured.on(14.2))
    assert assumed(measured.on(7.1))


@pytest.mark.parametrize("total_ohm", [5.0, 7.25, 9.0, 12.25, 20.0])
def test_a_reading_replaces_the_assumption(total_ohm):
    """What is measured is all there is, whatever was assumed; radiation stays, the shares sum to one."""
    reading = Measurement(14.2, total_ohm)
    few, many = (build(AntennaSpec(connection_ohm=ohm, measured=(reading,))).on(14.2) for ohm in (0.0, 5.0))
    np.testing.assert_allclose(many.feed_resistance_ohm, total_ohm)
    np.testing.assert_allclose(many.efficiency, few.efficiency, rtol=1e-6)
    np.testing.assert_allclose(many.gain_dbi["20"], few.gain_dbi["20"], atol=2e-3)
    np.testing.assert_allclose(many.shares["coil"], few.shares["coil"], rtol=1e-6)
    np.testing.assert_allclose(sum(many.shares.values()), 1.0)
    both = many.shares["connections"] + many.shares["unexplained"]
    np.testing.assert_allclose(both, few.shares["unexplained"], atol=1e-6)
    assert 0.0 <= many.connection_ohm <= 5.0
    assert many.power_limit_w == pytest.approx(few.power_limit_w, rel=1e-6)


def test_only_verticals_have_connections():
    """A wire is soldered; a full-length whip has joints but no slider."""
    for kind in ("dipole", "inverted v", "sloping end-fed", "yagi"):
        answer = build(AntennaSpec(kind=kind)).on(14.2)
        assert answer.shares["connections"] == 0.0
        assert not any("are assumed" in note for note in answer.notes)
    whip = build(AntennaSpec(kind="vertical")).on(14.2)
    assert 0.0 < whip.connection_ohm < build(AntennaSpec()).on(14.2).connection_ohm


def test_over_perfect_ground_only_coil_and_connections_lose():
    found = build(AntennaSpec(radials=0, base_height_m=0.0), PERFECT).on(7.1)
    np.testing.assert_allclose(found.shares["earth"], 0.0, atol=1e-9)
    np.testing.assert_allclose(found.ground_loss_ohm, found.connection_ohm)


def test_the_station_file_sets_it():
    text = '[site]\nlocator = "KG30"\n[antenna]\nconnection_ohm = {}\n'
    read = station.loads(text.format(2.5))
    assert read.antenna.connection_loss_ohm == 2.5
    assert station.loads(station.dumps(read)) == read
    assert station.dumps(replace(read, antenna=AntennaSpec())).find("connection") < 0
    for wrong in (-1, 101):
        with pytest.raises(InputError, match=r"connection_ohm.*ohm"):
            station.loads(text.format(wrong))
