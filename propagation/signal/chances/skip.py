"""Skip distance: nearest place to which the layer over the middle of a hop returns a frequency.

It applies to half of the days: to the monthly median.

The path, the rulers, the hop picture and the causes use this one rule, so that their figures agree. It uses
the layers over the middles of all first hops towards a bearing, with the day's disturbances.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from propagation.base.units import FloatArray, FloatLike, as_float
from propagation.geo import great_circle
from propagation.geo.locator import Position
from propagation.ionosphere import muf
from propagation.signal.chances.forecast import Forecast
from propagation.signal.rays.path_samples import Disturber, sky_on_day
from propagation.space_weather.state.storm_corrections import corrections_of

# km from the site: middles of first hops, in steps of 31 km; the first that returns the frequency counts
# (ours)
MIDDLES_KM: Final = np.linspace(0.0, 0.5 * muf.F2_HOP_MAX_KM, 65)[1:]


def skip_distance_km(
    site: Position,
    bearing_deg: float,
    frequency_mhz: FloatLike,
    time: np.datetime64,
    index: float,
    disturber: Disturber | None = None,
) -> FloatArray:
    """Skip distance [km] from the site towards a bearing [deg], for each frequency [MHz] (F,).

    NaN where no single hop returns it, 0 where the layer does so from overhead. `index`: ionospheric;
    `disturber` None means a quiet day.
    """
    lat, lon = great_circle.destination(site.lat_deg, site.lon_deg, bearing_deg, MIDDLES_KM)
    sky = sky_on_day(lat, lon, np.asarray([time]), index, disturber)
    return skip_along_km(frequency_mhz, MIDDLES_KM, sky.fof2_mhz, sky.foe_mhz, sky.m3000f2, sky.gyro_300_mhz)


def skip_of_forecast_km(
    result: Forecast, bearing_deg: float, time: np.datetime64, frequency_mhz: FloatLike
) -> FloatArray:
    """`skip_distance_km` from a forecast's station, in its conditions and with its effects."""
    return skip_distance_km(
        result.station.site.position,
        bearing_deg,
        frequency_mhz,
        time,
        float(result.conditions.index_at(time)),
        corrections_of(result.conditions, result.effects, np.asarray([time])),
    )


def skip_along_km(
    frequency_mhz: FloatLike,
    middle_km: FloatArray,
    fof2_mhz: FloatArray,
    foe_mhz: FloatArray,
    m3000f2: FloatArray,
    gyro_300_mhz: FloatArray,
) -> FloatArray:
    """Skip distance [km] on half of the days for each frequency (F,); NaN where no single hop returns it.

    middle_km: (X,) rising distances from the site at which the layer figures (X,) apply. Each represents the
    hop of twice that length. The basic MUF of the hop is from the P.1240 formulas.
    """
    frequency = np.atleast_1d(as_float(frequency_mhz))[:, None]
    longest = 2.0 * middle_km
    needed = muf.skip_km(frequency, fof2_mhz, foe_mhz, m3000f2, gyro_300_mhz)  # (F, X)
    over = np.where(np.isnan(needed), np.inf, needed) - longest  # changes sign at the skip distance
    served = over <= 0.0
    first = served.argmax(axis=1)
    rows = np.arange(frequency.shape[0])
    before = np.maximum(first - 1, 0)
    high, low = over[rows, first], over[rows, before]
    with np.errstate(invalid="ignore", divide="ignore"):
        part = np.where((first > 0) & np.isfinite(low), low / (low - high), 1.0)
    at: FloatArray = longest[before] + part * (longest[first] - longest[before])
    at = np.where(first == 0, needed[:, 0], at)
    skip: FloatArray = np.where(served.any(axis=1), at, np.nan)
    return skip
