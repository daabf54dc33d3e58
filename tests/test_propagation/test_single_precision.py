"""Arrays over modes and frequencies are kept in single precision: what that costs."""

from __future__ import annotations

import numpy as np
import pytest
from worlds import demo

from propagation.base.units import as_real, single
from propagation.geo.places import resolve
from propagation.signal.chances import link_budget
from propagation.signal.chances.forecast import Forecast, forecast
from propagation.signal.chances.request import Request
from propagation.signal.losses import path_loss, ray_path_sum
from propagation.signal.rays import hop_layers, ray_paths
from propagation.space_weather.state.conditions import typed_in

HOURS = np.datetime64("2026-06-10T00:00", "s") + np.arange(0, 24, 3) * np.timedelta64(3600, "s")
HEARD_DB = -60.0  # dB, SNR under which nobody asks (as in the tests of the link budget)


def run(place: str) -> Forecast:
    """Near and far, by day and night, with a storm and a flare."""
    target = resolve(place, demo().site.position)
    return forecast(Request(demo(), target, HOURS, typed_in(ssn=120.0, kp=6.0, xray_w_m2=5e-5)))


@pytest.mark.parametrize("place", ["KG41", "Uruguay", "Japan", "Portugal"])
def test_it_costs_a_hundredth_of_a_decibel_at_most(place: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """And nearly nothing nearly everywhere: tables are read to the nearest entry, which may be the next."""
    quick = run(place)
    levels = quick.snr_out_db, quick.snr_back_db
    for module in (hop_layers, link_budget, ray_paths, ray_path_sum, path_loss):
        monkeypatch.setattr(module, "single", lambda value: np.asarray(value, dtype=np.float64))
    exact = run(place)
    assert np.any(quick.chance != exact.chance)  # it was in single precision, and is not now
    assert np.abs(quick.chance - exact.chance).max() < 5e-4
    for found, wanted in zip(levels, (exact.snr_out_db, exact.snr_back_db), strict=True):
        off = np.abs(found - wanted)[wanted > HEARD_DB]
        assert off.max() < 0.015
        assert np.mean(off > 0.002) < 0.01
    np.testing.assert_allclose(quick.elevation_deg, exact.elevation_deg, atol=1e-3)


def test_plain_numbers_take_the_precision_of_the_arrays_they_meet() -> None:
    values = single(np.linspace(1.0, 2.0, 5))
    assert (values * as_real(np.float64(3.0))).dtype == np.float32
    assert (values.astype(np.float64) * as_real(3)).dtype == np.float64
