"""From path gain to signal-to-noise and chance: the budget by hand, the median, and two directions
together."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from cases import computed
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from propagation.geo import great_circle
from propagation.ionosphere import variability
from propagation.signal.chances.link_budget import OneWay, both_ways, one_way
from propagation.signal.losses.circuit import Circuit
from propagation.spectrum import noise
from propagation.spectrum.noise import QUIET_RURAL, Noise, NoiseLevel
from propagation.station.terminals import Terminal, plain_terminal

MHZ = np.array([3.6, 7.1, 14.2, 21.2, 28.4])
DAY = np.datetime64("2026-06-20", "s") + np.arange(0, 24, 3) * np.timedelta64(3600, "s")
NEAR, FAR = plain_terminal(50.0, NoiseLevel("rural")), plain_terminal(400.0, NoiseLevel("city"))


@cache
def path() -> Circuit:
    here = (np.full(6, -29.6), np.full(6, 30.4))
    there = (
        np.array([-33.9, -26.2, -1.3, 51.5, 40.7, 35.7]),
        np.array([18.4, 28.0, 36.8, -0.1, -74.0, 139.7]),
    )
    route = great_circle.route(here, there)
    return computed(route, DAY, MHZ, 90.0, NEAR, FAR)


@cache
def ways() -> tuple[OneWay, OneWay]:
    return one_way(path(), NEAR, FAR, towards_far_end=True), one_way(path(), FAR, NEAR, towards_far_end=False)


def test_the_budget_by_hand() -> None:
    """SNR = power + gain - noise: 50 W are 17.0 dBW; the noise is that of the receiving end's place and
    hour."""
    out, back = ways()
    samples = path().samples
    for signal, power_dbw, end, place in ((out, 16.99, FAR, -1), (back, 26.02, NEAR, 0)):
        around = noise.external_noise(
            end.noise, MHZ, samples.lat_deg[:, place, None, None], samples.solar_hour[..., place, None],
            samples.season[..., place, None], samples.fof2_mhz[..., place, None],
        )  # fmt: skip
        factor = 10.0 ** (around.fam_db / 10.0) + 10.0**1.2 - 1.0
        noise_dbw = 10.0 * np.log10(factor) + 10.0 * np.log10(2500.0) - 204.0
        np.testing.assert_allclose(signal.noise_dbw, noise_dbw, atol=1e-6)
        expected = power_dbw + path().gain_db - noise_dbw[..., None, None]
        np.testing.assert_allclose(signal.snr_db, expected, atol=0.005)


def test_the_deciles_are_those_of_signal_and_noise() -> None:
    """P.842: D_l = sqrt(signal lower^2 + noise upper^2 + the unknown station's own)."""
    out, _ = ways()
    wide = one_way(path(), NEAR, FAR, towards_far_end=True, station_spread_db=7.0)
    np.testing.assert_allclose(wide.lower_db**2 - out.lower_db**2, 49.0)
    lower, upper = variability.signal_deciles_db(path().samples.geomagnetic_latitude_deg[..., 8, None])
    np.testing.assert_allclose(out.lower_db, np.sqrt(lower**2 + out.noise.upper_decile_db**2))
    np.testing.assert_allclose(out.upper_db, np.sqrt(upper**2 + out.noise.lower_decile_db**2))


def test_the_median_is_reached_on_half_the_days() -> None:
    """Within 0.1 dB: the chance 0.1 dB under the median is over a half, 0.1 dB over it under a half."""
    for signal in ways():
        heard = signal.median_snr_db > -60.0
        assert np.mean(heard) > 0.4
        assert np.all(signal.chance(signal.median_snr_db - 0.1)[heard] > 0.5)
        assert np.all(signal.chance(signal.median_snr_db + 0.1)[heard] < 0.5)


def test_chance_by_a_crowd_of_days() -> None:
    """200 000 days drawn at random: layer score, Es bin and the rest, each its own; the same share reaches
    the need."""
    out, _ = ways()
    rng = np.random.default_rng(11)
    for row, hour, band in ((0, 4, 1), (1, 4, 2), (3, 5, 3), (5, 2, 2)):
        u = rng.choice(variability.LAYER_WEIGHTS.size, 200_000, p=variability.LAYER_WEIGHTS)
        v = rng.choice(variability.ES_WEIGHTS.size, 200_000, p=variability.ES_WEIGHTS)
        rest = rng.normal(size=200_000)
        lower, upper = (
            float(d[row, hour, band]) / variability.DECILE_Z for d in (out.lower_db, out.upper_db)
        )
        snr = out.snr_db[row, hour, band][u, v] + np.where(rest < 0.0, lower, upper) * rest
        for need in (-20.0, -5.0, 10.0):
            found = float(out.chance(need)[row, hour, band])
            np.testing.assert_allclose(found, np.mean(snr >= need), atol=0.005)


@settings(max_examples=30)
@given(st.floats(-60.0, 40.0), st.floats(0.0, 20.0))
def test_chances_lie_between_nothing_and_certainty_and_fall_with_the_need(need: float, more: float) -> None:
    out, back = ways()
    both = both_ways(out, back, need, need)
    for chance in (out.chance(need), both):
        assert np.all((chance >= 0.0) & (chance <= 1.0))
    assert np.all(out.chance(need + more) <= out.chance(need) + 1e-12)
    assert np.all(both_ways(out, back, need + more, need) <= both + 1e-12)
    assert np.all(both <= np.minimum(out.chance(need), back.chance(need)) + 1e-12)


@pytest.mark.parametrize("power_w", [0.01, 1.0, 20.0, 1000.0])
def test_more_power_is_never_less_likely(power_w: float) -> None:
    weak = one_way(path(), replace(NEAR, power_w=power_w), FAR, towards_far_end=True)
    strong = one_way(path(), replace(NEAR, power_w=2.0 * power_w), FAR, towards_far_end=True)
    assert np.all(strong.chance(0.0) >= weak.chance(0.0))
    np.testing.assert_allclose(strong.median_snr_db - weak.median_snr_db, 3.01, atol=0.02)


def flat(margin_db: float, decile_db: float) -> OneWay:
    """A signal that is the same on every kind of day."""
    one = np.ones((1, 1, 1))
    days = np.full((1, 1, 1, variability.LAYER_NODES.size, variability.ES_NODES.size), margin_db)
    nothing = Noise(0.0 * one, 0.0 * one, 0.0 * one)
    return OneWay(days, margin_db * one, 0.0 * one, nothing, decile_db * one, decile_db * one)


@pytest.mark.parametrize("decile", [7.0, 9.0, 12.0, 16.0])
def test_both_directions_beside_the_bivariate_normal(decile: float) -> None:
    """The shared fading of the path correlates the two: within 0.03 of the exact bivariate normal
    distribution."""
    shared = 7.0  # mean of the signal's deciles
    rho = min((shared / decile) ** 2, 1.0 - 1e-9)
    exact = stats.multivariate_normal(cov=[[1.0, rho], [rho, 1.0]])
    for a in (-12.0, -4.0, 0.0, 5.0, 12.0):
        for b in (-12.0, -4.0, 0.0, 5.0, 12.0):
            expected = exact.cdf(np.array([a, b]) / decile * variability.DECILE_Z)
            found = both_ways(flat(a, decile), flat(b, decile), 0.0, 0.0).item()
            np.testing.assert_allclose(found, expected, atol=0.03)


def test_a_deaf_receiver_hears_less() -> None:
    deaf = Terminal(power_w=400.0, noise=QUIET_RURAL, noise_figure_db=35.0)
    keen = Terminal(power_w=400.0, noise=QUIET_RURAL, noise_figure_db=5.0)
    lost = (
        one_way(path(), NEAR, keen, towards_far_end=True).median_snr_db
        - one_way(path(), NEAR, deaf, towards_far_end=True).median_snr_db
    )
    assert np.all(lost > 0.0)
    assert np.all(np.diff(np.mean(lost, axis=(0, 1))) > 0.0)  # the more, the less the sky itself is noisy
