"""Descriptions, the common answers, and what belongs to each kind of antenna."""

from dataclasses import replace

import numpy as np
import pytest

from propagation.antennas.factory import build
from propagation.antennas.spec import KINDS, AntennaSpec, FeedlineSpec
from propagation.base.errors import InputError
from propagation.geo.ground import GROUNDS, PERFECT
from propagation.spectrum.bands import BANDS

TABLE = ((7.0, 10.0, -5.0), (7.0, 30.0, 1.0), (14.0, 10.0, 2.0), (14.0, 30.0, 5.0))


def spec_of(kind):
    return AntennaSpec(kind=kind, height_m=10.0, table=TABLE if kind == "table" else ())


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("frequency", [3.6, 14.2, 28.4])
def test_every_kind_answers(kind, frequency):
    antenna = build(spec_of(kind))
    answer = antenna.on(frequency)
    assert answer.band == {3.6: "80m", 14.2: "20m", 28.4: "10m"}[frequency]
    assert 0.0 < answer.efficiency <= 1.0
    np.testing.assert_allclose(answer.efficiency_db, 10.0 * np.log10(answer.efficiency))
    assert set(answer.gain_dbi) == {"5", "10", "20", "30", "60"}
    assert answer.feedline_loss_db > 0.0
    np.testing.assert_allclose(sum(answer.shares.values()), 1.0, atol=1e-9)
    assert all(0.0 <= share <= 1.0 for share in answer.shares.values())
    line = 10.0 ** (-answer.feedline_loss_db / 10.0)
    np.testing.assert_allclose(answer.radiated_w, 20.0 * line * answer.efficiency)


@pytest.mark.parametrize("kind", [kind for kind in KINDS if kind not in ("table", "isotropic")])
def test_efficiency_is_the_integral_of_the_pattern(kind):
    """Gain over the upper half space, summed over the sphere, is the power in the sky."""
    antenna = build(spec_of(kind))
    elevation = np.arange(0.5, 90.0)
    azimuth = np.arange(0.0, 360.0, 15.0)
    power = 10.0 ** (antenna.gain_dbi(14.2, elevation[:, None], azimuth) / 10.0)
    total = np.sum(power.mean(axis=1) * np.cos(np.deg2rad(elevation))) * np.deg2rad(1.0) / 2.0
    np.testing.assert_allclose(total, antenna.radiation_efficiency(14.2), rtol=0.01)


def test_outside_the_amateur_bands():
    answer = build(AntennaSpec()).on(11.5)
    assert answer.band is None
    assert answer.coil_uh is not None


def test_isotropic_is_plain():
    antenna = build(AntennaSpec(kind="isotropic"))
    np.testing.assert_array_equal(
        antenna.gain_dbi([[7.0], [28.0]], [0.0, 12.3, 90.0], 77.0), np.zeros((2, 3))
    )
    assert antenna.on(14.2).efficiency == 1.0
    assert antenna.on(14.2).radiation_resistance_ohm is None


def test_gain_broadcasts_and_interpolates():
    antenna = build(AntennaSpec(kind="dipole", height_m=10.0))
    bands = np.array([7.1, 14.2])[:, None, None]
    table = antenna.gain_dbi(bands, np.arange(91.0)[:, None], np.array([0.0, 45.0, 90.0]))
    assert table.shape == (2, 91, 3)
    single = antenna.gain_dbi(14.2, 30.0, 45.0)
    assert single.shape == ()
    np.testing.assert_allclose(single, table[1, 30, 1])
    between = antenna.gain_dbi(14.2, 30.5, 45.0)
    assert min(table[1, 30, 1], table[1, 31, 1]) <= between <= max(table[1, 30, 1], table[1, 31, 1])
    np.testing.assert_allclose(antenna.gain_dbi(14.2, 30.0, -315.0), single)
    np.testing.assert_allclose(antenna.gain_dbi(14.2, [-3.0, 95.0]), antenna.gain_dbi(14.2, [0.0, 90.0]))
    mean = 10.0 * np.log10(np.mean(10.0 ** (antenna.gain_dbi(14.2, 20.0, np.arange(0, 360, 15)) / 10.0)))
    np.testing.assert_allclose(antenna.gain_dbi(14.2, 20.0), mean, atol=1e-9)


def test_azimuth_turns_the_pattern():
    """A dipole broadside to the east is strongest there, a beam looks west, a sloper down its slope."""
    dipole = build(AntennaSpec(kind="dipole", height_m=10.0, azimuth_deg=90.0))
    assert dipole.gain_dbi(14.2, 20.0, 90.0) > dipole.gain_dbi(14.2, 20.0, 0.0) + 10.0
    beam = build(AntennaSpec(kind="yagi", height_m=12.0, azimuth_deg=270.0))
    assert beam.gain_dbi(14.2, 20.0, 270.0) > beam.gain_dbi(14.2, 20.0, 90.0) + 10.0
    sloper = build(AntennaSpec(kind="sloping dipole", height_m=12.0, azimuth_deg=180.0))
    assert sloper.gain_dbi(14.2, 15.0, 180.0) > sloper.gain_dbi(14.2, 15.0, 0.0)


def test_horizontal_antennas_over_a_mirror_radiate_all():
    for kind in ("dipole", "inverted v", "half-wave vertical"):
        assert build(AntennaSpec(kind=kind, height_m=12.0), PERFECT).on(14.2).efficiency == 1.0


def test_dipole_height_rule():
    """Half a wave above a mirror the first lobe stands at asin(lambda / 4 h) = 30 degrees (theory)."""
    wave = 299.792458 / 14.2
    antenna = build(AntennaSpec(kind="dipole", height_m=wave / 2.0), PERFECT)
    gain = antenna.gain_dbi(14.2, np.arange(91.0), 0.0)
    np.testing.assert_allclose(int(np.argmax(gain)), 30, atol=1)
    np.testing.assert_allclose(gain.max(), 8.2, atol=0.4)


def test_quarter_wave_over_perfect_ground():
    """36.5 + j 21 ohm and 5.15 dBi along the ground for the thin one; thicker ones a little more (theory)."""
    spec = AntennaSpec(kind="vertical", radials=0, radiator_m=5.278, radius_mm=0.05, telescopic=False)
    antenna = build(spec, PERFECT)
    answer = antenna.on(14.2)
    np.testing.assert_allclose(answer.feed_resistance_ohm, 38.0, atol=1.5)
    np.testing.assert_allclose(answer.reactance_ohm, 21.5, atol=2.0)
    np.testing.assert_allclose(antenna.gain_dbi(14.2, 0.0), 5.15, atol=0.1)


def test_vertical_without_a_length_is_cut_to_resonance():
    answer = build(AntennaSpec(kind="vertical", radial_m=None)).on(14.2)
    assert abs(answer.reactance_ohm) < 0.5
    np.testing.assert_allclose(answer.whip_m, 0.24 * 21.11, rtol=0.06)


def test_radiation_resistance_of_a_short_whip_by_the_textbook():
    """0.96 x 40 tan^2(kh / 2) over perfect ground (the textbooks' form for a thick whip), within 4 %.

    The form is for the current at the very base; the feed sits 4.5 cm up, where a short whip carries that
    much less of it.
    """
    for length, frequency in ((1.2, 14.2), (2.5, 7.1), (2.5, 14.2), (3.0, 14.2)):
        kh = 2.0 * np.pi * frequency / 299.792458 * length
        answer = build(AntennaSpec(radiator_m=length, radials=0), PERFECT).on(frequency)
        wanted = 0.96 * 40.0 * np.tan(kh / 2.0) ** 2 / (1.0 - 0.045 / length) ** 2
        np.testing.assert_allclose(answer.radiation_resistance_ohm, wanted, rtol=0.04)


def test_reactance_of_a_short_whip_by_the_textbook():
    """-Za cot kh with Za = 60 (ln(h / a) - 1), within 5 % (transmission-line form of the handbooks)."""
    for length, frequency in ((1.2, 14.2), (2.5, 7.1), (3.0, 7.1)):
        kh = 2.0 * np.pi * frequency / 299.792458 * length
        answer = build(AntennaSpec(radiator_m=length, radials=0), PERFECT).on(frequency)
        wanted = -60.0 * (np.log(length / 0.0025) - 1.0) / np.tan(kh)
        np.testing.assert_allclose(answer.reactance_ohm, wanted, rtol=0.05)


def test_coil_up_the_whip_needs_more_coil_and_more_resistance():
    """The classic trade of centre loading: about twice the inductance, higher feed resistance (handbooks)."""
    base = build(AntennaSpec()).on(7.1)
    centre = build(AntennaSpec(coil_height_m=1.0)).on(7.1)
    assert 1.5 < centre.coil_uh / base.coil_uh < 2.2
    assert centre.feed_resistance_ohm > base.feed_resistance_ohm
    np.testing.assert_allclose(centre.reactance_ohm, base.reactance_ohm, rtol=0.01)


def test_better_coil_more_gain_and_narrower():
    good, bad = (build(AntennaSpec(coil_q=q, connection_ohm=0.0)).on(7.1) for q in (400.0, 100.0))
    assert good.efficiency > 2.0 * bad.efficiency
    assert good.swr_2_khz < bad.swr_2_khz


def test_coil_that_does_not_reach():
    answer = build(AntennaSpec(coil_uh_max=20.0)).on(7.1)
    assert not answer.in_range
    assert answer.coil_uh == pytest.approx(20.0)
    assert answer.feedline_loss_db > 3.0
    assert any("20 uH" in note for note in answer.notes)
    assert build(AntennaSpec(coil_uh_max=20.0)).on(14.2).in_range


def test_six_metres_and_two_metres_by_length():
    for frequency, quarter in ((50.2, 1.49), (144.3, 0.52)):
        answer = build(AntennaSpec(radial_m=quarter, shortest_m=0.4)).on(frequency)
        assert answer.coil_uh is None
        np.testing.assert_allclose(answer.whip_m, 0.96 * quarter, rtol=0.08)


def test_feed_height_follows_the_radials_or_the_mount():
    assert AntennaSpec().feed_height_m == 0.9
    assert AntennaSpec(radial_height_m=0.3).feed_height_m == 0.3
    assert AntennaSpec(base_height_m=1.2).radial_end_height_m == 1.2
    assert AntennaSpec(mount="vehicle").feed_height_m == 1.5
    drooping = AntennaSpec(base_height_m=0.9, radial_height_m=0.0)
    assert (drooping.feed_height_m, drooping.radial_end_height_m) == (0.9, 0.0)
    assert build(drooping).on(14.2).efficiency > 0.0


@pytest.mark.parametrize("mount", ["spike", "tripod", "railing", "table clamp", "vehicle"])
def test_mounts_without_radials(mount):
    antenna = build(AntennaSpec(mount=mount, radials=0))
    answer = antenna.on(14.2)
    assert 0.0 < answer.efficiency < 0.5
    said = any("outside of the cable" in note for note in answer.notes)
    assert said is (mount not in ("railing", "vehicle"))


def test_few_radials_without_a_choke_are_warned_of():
    bare = build(AntennaSpec(radials=2), feedline=FeedlineSpec(choke=False)).on(14.2)
    choked = build(AntennaSpec(radials=2), feedline=FeedlineSpec(choke=True)).on(14.2)
    assert any("choke" in note for note in bare.notes)
    assert not any("choke" in note for note in choked.notes)


def test_table_antenna():
    antenna = build(AntennaSpec(kind="table", table=TABLE))
    np.testing.assert_allclose(antenna.gain_dbi(7.0, [10.0, 20.0, 30.0, 60.0]), [-5.0, -2.0, 1.0, 1.0])
    np.testing.assert_allclose(antenna.gain_dbi([3.5, 10.5, 28.0], 10.0), [-5.0, -1.5, 2.0])
    assert antenna.on(7.0).basis == "measured"


def test_end_fed_loses_in_its_transformer():
    good = build(AntennaSpec(kind="sloping end-fed", transformer_efficiency=1.0)).on(14.2)
    bad = build(AntennaSpec(kind="sloping end-fed", transformer_efficiency=0.5)).on(14.2)
    np.testing.assert_allclose(good.efficiency_db - bad.efficiency_db, 3.01, atol=0.01)
    np.testing.assert_allclose(bad.shares["other"], 0.5)
    told = build(AntennaSpec(kind="sloping end-fed", transformer_loss_db=3.0103)).on(14.2)
    np.testing.assert_allclose(told.efficiency, bad.efficiency, rtol=1e-5)


def test_a_transformer_divides_what_the_line_sees():
    """49 to one unless another is named; a dipole has one only where its ratio is given."""
    plain = build(AntennaSpec(kind="sloping end-fed")).solution(14.2)
    np.testing.assert_allclose(plain.load_ohm * 49.0, plain.tuned_resistance_ohm + 1j * plain.reactance_ohm)
    dipole = AntennaSpec(kind="dipole", length_m=20.0)
    direct = build(dipole).solution(14.2)
    through = build(replace(dipole, transformer_ratio=64.0, transformer_loss_db=0.5)).solution(14.2)
    np.testing.assert_allclose(through.load_ohm * 64.0, direct.load_ohm)
    np.testing.assert_allclose(through.efficiency / direct.efficiency, 10.0**-0.05)
    assert direct.other_share == 0.0


def test_half_wave_vertical_stays_above_the_ground():
    assert build(AntennaSpec(kind="half-wave vertical", height_m=2.0)).on(3.6).efficiency > 0.05


@pytest.mark.parametrize("name", ["sea", "wet", "good", "average", "dry", "city"])
def test_better_earth_more_sky(name):
    on_sea = build(AntennaSpec(), GROUNDS["sea"]).on(14.2).efficiency
    assert build(AntennaSpec(), name).on(14.2).efficiency <= on_sea


@pytest.mark.parametrize(
    ("fields", "word"),
    [
        ({"kind": "dipol"}, "did you mean 'dipole'"),
        ({"mount": "balloon"}, "tripod"),
        ({"radiator_m": 0.0}, "radiator_m"),
        ({"radiator_m": float("nan")}, "not a number"),
        ({"coil_q": -5}, "coil_q"),
        ({"coil_height_m": 2.45}, "put it below"),
        ({"shortest_m": 2.6}, "longer than the radiator of 2.5 m"),
        ({"kind": "vertical", "radiator_m": 5.0, "shortest_m": 5.1}, "give a length up to radiator_m"),
        ({"shortest_m": 0.0}, "shortest_m"),
        ({"transformer_loss_db": -1.0}, "transformer_loss_db"),
        ({"transformer_ratio": 0.5}, "transformer_ratio"),
        ({"radials": -1}, "radials"),
        ({"radial_m": 1e6}, "radial_m"),
        ({"kind": "table"}, "rows"),
        ({"coil_positions": ((1.0, 2.0),)}, "two measured settings"),
        ({"elements": 1, "kind": "yagi"}, "elements"),
    ],
)
def test_descriptions_that_cannot_be(fields, word):
    with pytest.raises(InputError, match=word):
        AntennaSpec(**fields)


def test_kind_is_read_in_any_case():
    assert AntennaSpec(kind=" Inverted V ").kind == "inverted v"


def test_descriptions_can_be_compared_and_varied():
    spec = AntennaSpec()
    assert replace(spec, radials=4) == spec
    assert hash(replace(spec, radials=8)) != hash(spec)


@pytest.mark.slow
def test_extreme_descriptions_still_give_numbers():
    """Corners of what may be entered: no NaN, no negative power."""
    for spec in (
        AntennaSpec(radiator_m=0.1, radial_m=0.05, radials=1, radial_height_m=0.0),
        AntennaSpec(radiator_m=60.0, radials=2, radial_m=50.0),
        AntennaSpec(radius_mm=100.0, radiator_m=1.0),
        AntennaSpec(base_height_m=20.0, radial_height_m=0.0, radial_m=3.0),
        AntennaSpec(kind="dipole", height_m=0.1),
        AntennaSpec(kind="inverted v", height_m=3.0, end_height_m=0.5),
        AntennaSpec(kind="sloping end-fed", length_m=80.0, height_m=15.0),
        AntennaSpec(kind="sloping dipole", height_m=2.0, end_height_m=9.0),
    ):
        for frequency in (1.85, 10.1):
            answer = build(spec).on(frequency)
            assert 0.0 < answer.efficiency <= 1.0, (spec, frequency)
            assert np.all(np.isfinite(list(answer.gain_dbi.values())))


def test_all_bands_of_a_loaded_vertical_are_answered():
    antenna = build(AntennaSpec())
    for band in BANDS:
        low, high = band.edges(1)
        assert antenna.on((low + high) / 2.0).band == band.name


def test_a_second_question_is_answered_from_what_is_known():
    """The same frequency is solved once: the second answer is the very same object."""
    antenna = build(AntennaSpec(radiator_m=2.11))
    first = antenna.solution(14.2)
    assert antenna.solution(14.2) is first
