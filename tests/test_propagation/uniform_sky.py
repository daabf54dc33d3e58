"""An ionosphere that is the same everywhere, made up for tests: what a path gives in it can be worked by
hand."""

from __future__ import annotations

from typing import Any

import numpy as np

from propagation.ionosphere.absorbing_layers import absorbing_layers
from propagation.signal.rays.path_samples import POINTS, SEA_POINTS, PathSamples


def uniform_sky(distance_km: Any, times: int = 1, **layers: float) -> PathSamples:
    """Samples along routes of these lengths (N,) in which every figure is the same at all places and times.

    `layers` may set fof2_mhz, m3000f2, foe_mhz, foes_mhz, gyro_300_mhz, gyro_l_mhz, d_strength,
    e_db_per_mhz2, zenith_deg, solar_hour, latitude_deg (geomagnetic), season, r12, sea.
    """
    distance = np.atleast_1d(np.asarray(distance_km, dtype=float))
    shape = (distance.size, times, POINTS)
    values = {
        "fof2_mhz": 8.0, "m3000f2": 3.0, "foe_mhz": 2.0, "foes_mhz": 0.3, "gyro_300_mhz": 1.4,
        "gyro_l_mhz": 1.1, "zenith_deg": 45.0, "solar_hour": 12.0, "latitude_deg": 0.0, "season": 0.0,
        "r12": 50.0, "sea": 0.0,
    }  # fmt: skip
    absorbing = absorbing_layers(layers.get("zenith_deg", 45.0), 0.0, np.datetime64("2026-03-20"), 50.0)
    values["d_strength"] = float(absorbing.d_strength)
    values["e_db_per_mhz2"] = float(absorbing.e_db_per_mhz2)
    assert set(layers) <= set(values), "a figure the helper does not know"
    values.update(layers)

    def everywhere(name: str) -> Any:
        return np.full(shape, values[name])

    moments = np.datetime64("2026-03-20T12:00", "s") + np.arange(times) * np.timedelta64(3600, "s")
    along = np.linspace(0.0, 1.0, POINTS) * distance[:, None] / 6371.0
    return PathSamples(
        distance_km=distance,
        lat_deg=np.zeros((distance.size, POINTS)),
        lon_deg=np.degrees(along),
        times=moments[None, :],
        year=2026.5,
        r12=np.full((1, times, 1), values["r12"]),
        fof2_mhz=everywhere("fof2_mhz"),
        m3000f2=everywhere("m3000f2"),
        foe_mhz=everywhere("foe_mhz"),
        foes_lower_mhz=everywhere("foes_mhz"),
        foes_median_mhz=everywhere("foes_mhz"),
        foes_upper_mhz=everywhere("foes_mhz"),
        gyro_300_mhz=everywhere("gyro_300_mhz"),
        longitudinal_gyro_mhz=everywhere("gyro_l_mhz"),
        d_strength=everywhere("d_strength"),
        e_db_per_mhz2=everywhere("e_db_per_mhz2"),
        zenith_deg=everywhere("zenith_deg"),
        solar_hour=everywhere("solar_hour"),
        geomagnetic_latitude_deg=everywhere("latitude_deg"),
        oval_latitude_deg=everywhere("latitude_deg"),
        season=everywhere("season"),
        extra_absorption=None,
        proton_absorption=None,
        spread_factor=None,
        sea_share=np.full((distance.size, SEA_POINTS), values["sea"]),
    )
