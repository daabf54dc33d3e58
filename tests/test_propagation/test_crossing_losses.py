"""Absorption crossing by crossing: each by its own sun and layers, and together what the ledger charges."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from uniform_sky import uniform_sky
from worlds import demo, forecast_of

from propagation.advice.ledger import ledger_of
from propagation.advice.recompute import compute, one_cell
from propagation.base.units import FloatArray, cosd
from propagation.geo import great_circle, sun
from propagation.ionosphere import absorption
from propagation.ionosphere.absorption import Rays
from propagation.signal.losses import path_loss
from propagation.signal.losses.crossing_losses import CrossingLoss, crossing_losses
from propagation.signal.losses.path_loss import HopLosses
from propagation.signal.rays.hop_layers import hop_layers
from propagation.signal.rays.path_samples import POINTS, PathSamples
from propagation.signal.rays.ray_paths import HAS_HIGH, HAS_LOW, chains
from propagation.space_weather.state.conditions import typed_in
from propagation.station.terminals import Terminals, far_terminal, own_terminal

DAY = np.datetime64("2026-03-20T00:00", "s")
BY_SUN = {"zenith_deg": 30.0, "foe_mhz": 3.5}
BY_NIGHT = {"zenith_deg": 120.0, "foe_mhz": 0.4}
ELEVATION_DEG = 12.0


def hops_of(samples: PathSamples, f: float) -> HopLosses:
    """Losses of the hops of every ray path, all rays at one angle."""
    laid = chains(samples.distance_km)
    rays = Rays.of(cosd(np.full((1, 1, 1, laid.templates.size), ELEVATION_DEG)))
    return path_loss.hop_losses(samples, laid, hop_layers(samples, laid), np.array([[[[f]]]]), rays)


def test_each_crossing_of_a_half_lit_hop_has_its_own_sky() -> None:
    """One hop of 2600 km by F2 on 5 MHz from day into night: up as by day, down as by night.

    A hop whose two crossings were pooled, foE at the root of the mean square, would have another loss: what
    a ray meets of the layers is not linear in foE.
    """
    day, night = uniform_sky(2600.0, **BY_SUN), uniform_sky(2600.0, **BY_NIGHT)
    dusk = np.arange(POINTS) > POINTS // 2

    def half(lit: FloatArray, dark: FloatArray) -> FloatArray:
        return np.where(dusk, dark, lit)

    mixed = replace(
        day,
        zenith_deg=half(day.zenith_deg, night.zenith_deg),
        foe_mhz=half(day.foe_mhz, night.foe_mhz),
        d_strength=half(day.d_strength, night.d_strength),
        e_db_per_mhz2=half(day.e_db_per_mhz2, night.e_db_per_mhz2),
    )
    laid = chains(mixed.distance_km)
    hop = int(laid.first_hop[np.flatnonzero(HAS_HIGH & ~HAS_LOW)[0]])
    found, by_day, by_night = (hops_of(sky, 5.0) for sky in (mixed, day, night))
    np.testing.assert_allclose(found.up_db[..., hop], by_day.up_db[..., hop], rtol=1e-6)
    np.testing.assert_allclose(found.down_db[..., hop], by_night.down_db[..., hop], rtol=1e-6)
    pooled = absorption.Crossing(
        0.5 * (day.d_strength[0, 0, 0] + night.d_strength[0, 0, 0]),
        0.5 * (day.e_db_per_mhz2[0, 0, 0] + night.e_db_per_mhz2[0, 0, 0]),
        np.sqrt(0.5 * (BY_SUN["foe_mhz"] ** 2 + BY_NIGHT["foe_mhz"] ** 2)),
        np.array(BY_SUN["zenith_deg"]),
    )
    as_one = absorption.hop_absorption_db(5.0, Rays.of(cosd(ELEVATION_DEG)), 1.1, pooled)
    both = (found.up_db + found.down_db)[0, 0, 0, hop]
    assert abs(float(as_one) - float(both)) > 1.0  # dB


def test_a_path_absorbs_what_its_hops_do() -> None:
    """Three hops of one ray path under one sky absorb three times the first; there are two reflections."""
    sky = uniform_sky(9000.0, **BY_SUN)
    laid = chains(sky.distance_km)
    ray_path = int(np.flatnonzero((laid.high_count[0] == 3.0) & (laid.low_count[0] == 0.0))[0])
    hops = laid.first_hop[ray_path] + np.arange(3)
    found = hops_of(sky, 14.0)
    np.testing.assert_allclose(found.up_db[0, 0, 0, hops], found.up_db[0, 0, 0, hops[0]], rtol=1e-6)
    np.testing.assert_allclose(
        found.reflection_db[0, 0, 0, hops], [path_loss.LAND_BOUNCE_DB, path_loss.LAND_BOUNCE_DB, 0.0]
    )


def rows_and_ledger(
    target: str, band: str, hour: int, **state: float
) -> tuple[tuple[CrossingLoss, ...], float, float, float]:
    """Rows of a cell; absorption, event and ground reflection [dB] of its ledger."""
    terminals = Terminals(own_terminal(demo()), far_terminal(demo().far_end))
    result = forecast_of(demo(), terminals, target, typed_in(ssn=100.0, kp=2.0, **state), DAY, hours=1.0)
    when = DAY + np.timedelta64(hour, "h")
    cell = compute(result, terminals, one_cell(0, 0, result.band_index(band), [when]), keep_ray_paths=True)
    account = ledger_of(cell)
    event = account.group("flare") + account.group("polar cap")
    return (
        crossing_losses(cell.path),
        -account.group("absorption"),
        -event,
        -account.group("ground reflections"),
    )


@pytest.mark.parametrize(
    ("target", "band", "hour"),
    [
        ("GF15", "20m", 15),
        ("GF15", "40m", 17),
        ("-33.9,18.4", "20m", 9),
        ("GF15", "160m", 12),
        ("KI88", "15m", 5),
    ],
)
@pytest.mark.parametrize("xray", [0.0, 2e-4])
def test_the_rows_sum_to_the_ledger(target: str, band: str, hour: int, xray: float) -> None:
    """To 0.01 dB, single precision over up to 16 crossings: absorption, flare, ground reflections."""
    state = {"xray_w_m2": xray} if xray else {}
    rows, absorbed, event, ground = rows_and_ledger(target, band, hour, **state)
    assert rows
    np.testing.assert_allclose(sum(row.absorption_db for row in rows), absorbed, atol=0.01)
    np.testing.assert_allclose(sum(row.event_db for row in rows), event, atol=0.01)
    np.testing.assert_allclose(sum(row.reflection_db for row in rows), ground, atol=0.01)
    assert all(row.event_db == 0.0 for row in rows) == (xray == 0.0)


def test_the_rows_are_where_the_ray_crosses_the_layers() -> None:
    """In order along the route, on the great circle, under the sun of the place.

    The sun is read by straight lines between points 420 km apart, within a degree.
    """
    rows, *_ = rows_and_ledger("GF15", "20m", 15)
    home = demo().site.position
    km = np.array([row.distance_km for row in rows])
    assert np.all(np.diff(km) > 0.0)
    for row in rows:
        from_home = great_circle.distance_km(home.lat_deg, home.lon_deg, row.lat_deg, row.lon_deg)
        np.testing.assert_allclose(from_home, row.distance_km, rtol=1e-6)
        zenith = sun.zenith_deg(row.lat_deg, row.lon_deg, DAY + np.timedelta64(15, "h"))
        np.testing.assert_allclose(row.zenith_deg, zenith, atol=1.0)
    assert [row.way for row in rows] == ["up", "down"] * (len(rows) // 2)
    assert [row.hop for row in rows] == sorted(row.hop for row in rows)
    assert rows[-1].reflection_db == 0.0


@pytest.mark.parametrize(("target", "band", "hour"), [("Japan", "20m", 12), ("KG30", "10m", 23)])
def test_a_signal_without_hops_has_no_rows(target: str, band: str, hour: int) -> None:
    """By the combined method over 12 000 km, and near by above the MUF."""
    assert rows_and_ledger(target, band, hour)[0] == ()
