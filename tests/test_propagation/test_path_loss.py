"""The loss terms one by one: against the forms they follow, in a sky that is the same everywhere."""

from __future__ import annotations

from dataclasses import replace
from statistics import NormalDist
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from uniform_sky import uniform_sky

from propagation.ionosphere import absorption, hops, mirror_height, muf, sporadic_e
from propagation.ionosphere.absorbing_layers import absorbing_layers
from propagation.signal.losses import path_loss
from propagation.signal.losses.path_loss import LOSS_TERMS, RayPathLosses, ray_path_losses
from propagation.signal.rays.hop_layers import hop_layers
from propagation.signal.rays.ray_paths import HAS_HIGH, HAS_LOW, IS_ES, TEMPLATES, chains

MHZ = np.array([3.6, 7.1, 14.2, 21.2])
DISTANCES = np.array([50.0, 600.0, 1500.0, 2600.0, 3800.0, 5500.0, 8000.0])


def found(distance: Any = DISTANCES, mhz: Any = MHZ, **layers: float) -> RayPathLosses:
    sky = uniform_sky(distance, **layers)
    return ray_path_losses(sky, chains(sky.distance_km), np.asarray(mhz))


def slot_of(layer: str | None, low: int, extra: int, high: bool) -> int:
    return next(
        i
        for i, s in enumerate(TEMPLATES)
        if (s.low_layer, s.low, s.extra, s.high) == (layer, low, extra, high)
    )


def test_free_space_limit() -> None:
    """With every other term zero the composition is P.525 over the slant range: 20 log (4 pi d / lambda),
    to 0.01 dB."""
    losses = found()
    zero = {name: np.zeros((1, 1, 1, 1)) for name in LOSS_TERMS if name != "free_space_db"}
    total = replace(losses, **zero).fixed_db()
    laid = chains(DISTANCES)
    low, high = laid.low_count[:, None, None], laid.high_count[:, None, None]
    slant = low * hops.slant_from_height_km(losses.elevation_deg, 110.0) + high * hops.slant_from_height_km(
        losses.elevation_deg, losses.mirror_km
    )
    wavelength_km = 0.299792458 / MHZ[:, None]
    expected = 20.0 * np.log10(4.0 * np.pi * slant / wavelength_km)
    valid = np.broadcast_to(laid.valid[:, None, None], expected.shape)
    np.testing.assert_allclose(total[valid], expected[valid], atol=0.01)


def test_the_terms_are_all_there_is() -> None:
    losses = found()
    shape = losses.elevation_deg.shape
    total = sum(np.broadcast_to(getattr(losses, name), shape) for name in LOSS_TERMS)
    np.testing.assert_allclose(losses.fixed_db(), total, atol=1e-9)


def test_a_single_f2_hop_by_hand() -> None:
    """Mirror, angle, absorption and MUF of one 2600 km hop on 14.2 MHz are those of the functions that make
    them."""
    losses = found(2600.0, 14.2)
    one = slot_of(None, 0, 0, True)
    mirror = mirror_height.f2_mirror_height_km(
        14.2, 8.0, 2.0, 3.0, 50.0, chains(np.array([2600.0])).high_km[0, one]
    )
    elevation = hops.elevation_deg(2600.0, mirror)
    # seven digits of single precision, and what the steps of the geometry lose of them
    np.testing.assert_allclose(losses.mirror_km[0, 0, 0, one], mirror, rtol=1e-6)
    np.testing.assert_allclose(losses.elevation_deg[0, 0, 0, one], elevation, rtol=1e-5)
    sky = absorbing_layers(45.0, 0.0, np.datetime64("2026-03-20"), 50.0)
    crossing = absorption.Crossing(sky.d_strength, sky.e_db_per_mhz2, np.array(2.0), np.array(45.0))
    expected = absorption.hop_absorption_db(
        14.2, absorption.Rays.of(np.cos(np.radians(elevation))), 1.1, crossing
    )
    both = absorption.both_waves_db(expected, 14.2, 1.1)
    np.testing.assert_allclose(losses.absorption_db[0, 0, 0, one], both, rtol=1e-6)
    np.testing.assert_allclose(
        losses.f2_muf_mhz[0, 0, one], muf.f2_muf_mhz(2600.0, 8.0, 2.0, 3.0, 1.4), rtol=1e-6
    )
    assert np.isinf(losses.e_muf_mhz[0, 0, one])


def test_absorption_adds_up_over_hops() -> None:
    """Two hops by E over 3000 km: twice that of one over 1500 km at the same angle, each by the ordinary wave
    alone; the extraordinary one is lost on either path and costs 3 dB on both."""
    two = found(3000.0, 7.1)
    one = found(1500.0, 7.1)
    first, second = slot_of("E", 0, 0, False), slot_of("E", 0, 0, False)
    half = 10.0 * np.log10(2.0)
    ordinary = one.absorption_db[0, 0, 0, first] - half
    assert ordinary > 15.0  # enough that nothing is left of the other wave
    np.testing.assert_allclose(two.absorption_db[0, 0, 0, second] - half, 2.0 * ordinary, rtol=1e-3)
    np.testing.assert_allclose(one.bounce_db[0, 0, 0, first], 0.0)
    np.testing.assert_allclose(two.bounce_db[0, 0, 0, second], path_loss.LAND_BOUNCE_DB)


def test_bounces_over_land_and_sea() -> None:
    """P.533 counts 2 dB for any reflection; here 2.5 on land and 0.8 at sea, n - 1 of them."""
    land, sea = found(8000.0, 14.2), found(8000.0, 14.2, sea=1.0)
    laid = chains(np.array([8000.0]))
    count = (laid.low_count + laid.high_count)[0] - 1.0
    np.testing.assert_allclose(
        np.broadcast_to(land.bounce_db, (1, 1, 1, len(TEMPLATES)))[0, 0, 0], 2.5 * count
    )
    np.testing.assert_allclose(
        np.broadcast_to(sea.bounce_db, (1, 1, 1, len(TEMPLATES)))[0, 0, 0], 0.8 * count
    )


def test_sporadic_e_hops_have_the_loss_of_the_formula() -> None:
    """Two hops of the same day each have the loss of `sporadic_e.reflection_loss_db`, what was read too high
    taken off foEs, and nothing hides the layer."""
    losses = found(3000.0, 28.4, foes_mhz=9.0)
    laid = chains(np.array([3000.0]))
    pure = slot_of("Es", 0, 0, False)
    place = int(np.flatnonzero(np.arange(len(TEMPLATES))[laid.with_es] == pure)[0])
    hop = sporadic_e.reflection_loss_db(1500.0, 28.4, 9.0 - sporadic_e.OVERREAD_MHZ)
    np.testing.assert_allclose(losses.es_loss_db[0, 0, 0, place], 2.0 * hop, rtol=1e-6)


def test_no_sporadic_e_where_foes_is_foe() -> None:
    losses = found(1500.0, 14.2, foes_mhz=2.0, foe_mhz=2.0)
    has = losses.valid[0, chains(np.array([1500.0])).with_es]
    assert np.any(has)
    assert np.all(losses.es_loss_db[..., has, :] > 60.0)  # dB: no way for any station


def test_sporadic_e_behind_the_e_layer_is_hidden() -> None:
    """By day the E layer turns a low ray of 3.6 MHz first: `hidden_loss_db` at the ray's own angle, by night
    nothing."""
    day, night = (found(1500.0, 3.6, foes_mhz=3.0, foe_mhz=foe) for foe in (2.0, 0.3))
    laid = chains(np.array([1500.0]))
    pure = slot_of("Es", 0, 0, False)
    place = int(np.flatnonzero(np.arange(len(TEMPLATES))[laid.with_es] == pure)[0])
    sec = hops.sec_incidence(day.elevation_deg[0, 0, 0, pure], 110.0)
    hidden = sporadic_e.hidden_loss_db(3.6, sec, 2.0)
    assert hidden > 20.0
    more = day.es_loss_db[0, 0, 0, place] - night.es_loss_db[0, 0, 0, place]
    np.testing.assert_allclose(more, hidden, rtol=1e-6)


@pytest.mark.parametrize(("layer", "slope", "cap"), [("F2", 36.0, 60.0), ("E", 46.0, 58.0)])
def test_above_the_muf_beside_p533(layer: str, slope: float, cap: float) -> None:
    """36 sqrt(f/fb - 1) + 5 and 46 sqrt(..) + 5 (P.533 section 5.2.2.4, from memory), plus the 400 y^2 of
    ours.

    The rounding over 2 % of the MUF is worth 0.6 dB at 1.05 and less above; P.533 caps the loss, this does
    not.
    """
    ratio = np.array([1.05, 1.1, 1.2, 1.3, 1.5])
    y = ratio - 1.0
    p533 = slope * np.sqrt(y) + 5.0
    np.testing.assert_allclose(path_loss.above_muf_loss_db(ratio, layer), p533 + 400.0 * y**2, atol=0.9)
    assert path_loss.above_muf_loss_db(1.7, layer) > cap
    below = path_loss.above_muf_loss_db(np.array([0.5, 0.8, 0.9, 0.94]), layer)
    assert np.all(below < 2.0)
    assert below[0] < 1e-4


def test_at_the_muf_half_of_the_step_is_taken() -> None:
    """At f = fb the rounded excess is 0.02 ln 2, and 5 dB are half there: 6.81 dB by F2, 7.99 dB by E; 200 at
    most."""
    excess = 0.02 * np.log(2.0)
    for layer, slope in (("F2", 36.0), ("E", 46.0)):
        expected = slope * np.sqrt(excess) + 400.0 * excess**2 + 2.5
        np.testing.assert_allclose(path_loss.above_muf_loss_db(1.0, layer), expected, rtol=1e-9)
        np.testing.assert_allclose(path_loss.above_muf_loss_db(2.0, layer), 200.0)


def test_other_losses() -> None:
    """Lz of P.533-9 on, 8.72 dB (from memory), less 1.1 dB counted with the absorption; none by sporadic E
    alone."""
    other = np.broadcast_to(found(3000.0).other_db, (1, 1, 4, len(TEMPLATES)))[0, 0, 0]
    np.testing.assert_allclose(other, np.where(IS_ES & ~HAS_HIGH, 0.0, 7.6), rtol=1e-7)  # single precision


def test_the_table_of_what_passes_is_the_loss() -> None:
    """Within 0.01 dB over all that can be heard (60 dB), and never more than 0.05 dB off before the cap."""
    ratio = np.linspace(0.0, 2.5, 20001)
    for layer in ("F2", "E"):
        loss = path_loss.above_muf_loss_db(ratio, layer)
        table = -10.0 * np.log10(path_loss.passing_share(ratio, layer))
        np.testing.assert_allclose(table[loss < 60.0], loss[loss < 60.0], atol=0.01)
        np.testing.assert_allclose(table, loss, atol=0.05)


def test_screening() -> None:
    """The share of days with a low enough foE, by the normal distribution of the standard library."""
    over = np.array([0.85, 0.9, 1.0, 1.05, 1.1, 1.3])
    passing = [NormalDist(1.0, 0.06).cdf(x) for x in over]
    loss = path_loss.screening_loss_db(10.0 * over, 10.0)
    np.testing.assert_allclose(loss, -10.0 * np.log10(passing), atol=0.02)
    np.testing.assert_allclose(path_loss.screening_loss_db(1.0, 5.0), 50.0)


def test_screening_in_a_path() -> None:
    """foE sec i at 110 km of the ray (P.533, from memory) is the limit: on 7 MHz at 1500 km by day the E
    layer stands in the way."""
    day, night = found(1500.0, 7.1, foe_mhz=3.4), found(1500.0, 7.1, foe_mhz=0.5)
    one = slot_of(None, 0, 0, True)
    limit = 3.4 * hops.sec_incidence(day.elevation_deg[0, 0, 0, one], 110.0)
    np.testing.assert_allclose(
        day.screening_db[0, 0, 0, one], path_loss.screening_loss_db(7.1, limit), rtol=1e-6
    )
    assert day.screening_db[0, 0, 0, one] > 5.0
    assert night.screening_db[0, 0, 0, one] < 0.1
    np.testing.assert_array_equal(day.screening_db[..., ~HAS_HIGH], 0.0)


def test_low_angles() -> None:
    """2 dB a square degree under 3 degrees over the horizon of the site; none above."""
    loss = path_loss.low_angle_loss_db(np.array([10.0, 3.0, 2.0, 0.0, -2.0]))
    np.testing.assert_allclose(loss, [0.0, 0.0, 2.0, 18.0, 50.0])
    np.testing.assert_allclose(path_loss.low_angle_loss_db(5.0, horizon_deg=10.0), 2.0 * 8.0**2)
    np.testing.assert_allclose(path_loss.low_angle_loss_db(-30.0), 200.0)


def test_focusing_against_a_bundle_of_rays() -> None:
    """Two rays a hundredth of a degree apart, traced: the ring they light against the one in free space."""
    for hop_count, height, elevation in ((1.0, 300.0, 6.0), (2.0, 300.0, 10.0), (3.0, 250.0, 25.0)):
        angles = np.radians([elevation - 0.005, elevation + 0.005])
        reach = hop_count * hops.hop_km(np.degrees(angles), height) / 6371.0
        lit = 6371.0**2 * np.sin(reach.mean()) * abs(np.diff(reach)[0]) * np.sin(np.radians(elevation))
        slant = hop_count * hops.slant_from_height_km(elevation, height)
        sent = slant**2 * np.cos(np.radians(elevation)) * abs(np.diff(angles)[0])
        gain = 10.0 * np.log10(sent / lit)
        expected = 4.0 * np.tanh(max(gain, 0.0) / 4.0)  # limited by the roughness of real layers
        ray = np.radians(elevation)
        ours = path_loss.focusing_gain_db(
            np.array(reach.mean() * 6371.0), np.sin(ray), np.cos(ray), slant, np.array(0.0),
            np.array(hop_count), np.array(height),
        )  # fmt: skip
        np.testing.assert_allclose(ours, expected, atol=0.02)


def test_focusing_at_the_limit_of_a_flat_earth() -> None:
    """Short and steep there is nothing to focus: the ring lit is that of free space, to 0.1 dB."""
    slant = hops.slant_from_height_km(80.0, 250.0)
    distance = hops.hop_km(80.0, 250.0)
    ray = np.radians(80.0)
    gain = path_loss.focusing_gain_db(
        distance, np.sin(ray), np.cos(ray), slant, np.array(0.0), np.array(1.0), np.array(250.0)
    )
    np.testing.assert_allclose(gain, 0.0, atol=0.4)


def test_auroral_loss_in_a_path() -> None:
    """The table's loss on short paths, 0.7 of it on long ones (P.533 has a second table there)."""
    near, far = (
        found(1000.0, 14.2, latitude_deg=67.5, solar_hour=8.5),
        found(4000.0, 14.2, latitude_deg=67.5, solar_hour=8.5),
    )
    np.testing.assert_allclose(near.auroral_db, 21.4)
    np.testing.assert_allclose(far.auroral_db, 0.7 * 21.4)
    between = [
        found(km, 14.2, latitude_deg=67.5, solar_hour=8.5).auroral_db.max() / 21.4
        for km in (2250.0, 2400.0, 2500.0, 2750.0)
    ]
    np.testing.assert_allclose(between, [1.0, 0.91, 0.85, 0.7])  # about P.533's 2500 km, without its step
    # twice the length of a hop, half of it under the oval: that half pays as a hop there does
    sky = uniform_sky(8000.0, latitude_deg=67.5, solar_hour=8.5)
    north = np.where(np.arange(sky.oval_latitude_deg.shape[-1]) < 8, sky.oval_latitude_deg, 0.0)
    crossing = ray_path_losses(
        replace(sky, oval_latitude_deg=north), chains(sky.distance_km), np.array([14.2])
    )
    np.testing.assert_allclose(crossing.auroral_db, 0.7 * 21.4 * 2.0 * 8.0 / 17.0)


def test_flare_term() -> None:
    """X / f^1.5 at both crossings' mean, times the secant: one hop straight up is X / f^1.5."""
    sky = replace(uniform_sky(1.0), extra_absorption=np.full((1, 1, 17), 100.0))
    losses = ray_path_losses(sky, chains(sky.distance_km), np.array([10.0]))
    one = slot_of(None, 0, 0, True)
    np.testing.assert_allclose(losses.extra_absorption_db[0, 0, 0, one], 100.0 / 10.0**1.5, rtol=1e-4)


@pytest.mark.parametrize("weaker_mhz", [7.0, 6.5, 4.0])
def test_two_hops_share_the_distance_as_their_layers_need(weaker_mhz: float) -> None:
    """The path's MUF is the one at which a longer hop by the weak layer and a shorter by the strong make up
    the distance; where the long one would be over 4000 km, it is the weak layer's MUF at that length.
    """
    distance = 5000.0
    sky = uniform_sky(distance)
    weak = sky.fof2_mhz.copy()
    weak[..., 9:] = weaker_mhz
    layers = hop_layers(replace(sky, fof2_mhz=weak), chains(sky.distance_km))
    two = slot_of(None, 0, 0, True)
    long_km = np.linspace(0.5 * distance, muf.F2_HOP_MAX_KM, 500)
    by_weak = muf.f2_muf_mhz(long_km, weaker_mhz, 2.0, 3.0, 1.4)
    by_strong = muf.f2_muf_mhz(distance - long_km, 8.0, 2.0, 3.0, 1.4)
    # a power of the distance stands for the course of the MUF: 2 %, where a hop as short as 1000 km 5 %
    np.testing.assert_allclose(
        layers.f2_muf_mhz[0, 0, two],
        np.max(np.minimum(by_weak, by_strong)),
        rtol=0.02 if weaker_mhz > 5.0 else 0.05,
    )
    assert layers.f2_muf_mhz[0, 0, two] > 1.02 * by_weak[0]
    np.testing.assert_allclose(layers.fof2_mhz[0, 0, two], 0.5 * (8.0 + weaker_mhz), rtol=0.001)
    assert np.all(np.isinf(layers.f2_muf_mhz[..., ~HAS_HIGH]))
    assert np.all(np.isinf(layers.e_muf_mhz[..., ~HAS_LOW | IS_ES]))


@given(
    st.floats(0.0, 9000.0), st.floats(1.8, 150.0), st.floats(0.5, 20.0), st.floats(0.3, 5.0),
    st.floats(2.0, 4.2), st.floats(0.0, 180.0),
)  # fmt: skip
def test_every_term_is_a_number_and_a_loss(
    distance: float, frequency: float, fof2: float, foe: float, m3000: float, zenith: float
) -> None:
    losses = found(
        distance, frequency, fof2_mhz=fof2, foe_mhz=foe, m3000f2=m3000, zenith_deg=zenith, foes_mhz=foe + 1.0
    )
    for name in LOSS_TERMS:
        value = getattr(losses, name)
        assert np.all(np.isfinite(value)), name
        if name == "focusing_db":
            assert np.all((value <= 0.0) & (value >= -path_loss.FOCUS_MAX_DB)), name
        else:
            assert np.all(value >= 0.0), name
    assert np.all(np.isfinite(losses.es_loss_db))
    assert not np.any(np.isnan(losses.f2_muf_mhz))
