"""The quiet monthly-median ionosphere over a place at an hour: foE, foF2, M(3000)F2, foEs, hmF2.

foF2, M(3000)F2 and the deciles of foEs come from the published numerical maps (`numerical_map`), foE from
ITU-R P.1239 paragraph 4, hmF2 after Bradley & Dudeney. All are medians of the calendar
month in which a time falls: the maps step at the turn of a month and nothing is interpolated between
months; the sun's position (for foE) is that of the exact time.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from propagation.base.constants import D_LAYER_HEIGHT_KM, F2_FIELD_HEIGHT_KM
from propagation.base.units import (
    FloatArray,
    FloatLike,
    IntArray,
    TimeLike,
    as_float,
    cosd,
)
from propagation.geo import geomagnetic, sun
from propagation.ionosphere import numerical_map
from propagation.space_weather.indices.solar_index import flux_from_index, r12_from_index

LOWEST_FOF2_MHZ: Final = 0.5  # MHz, guard: never met at index 0, by one value in 5,000 at -15
TWILIGHT_DEG: Final = 73.0  # deg, zenith angle from which P.1239 bends the cosine law of foE
SUNSET_DEG: Final = 90.0  # deg, zenith angle at which P.1239 goes over to the night law of foE
SUNSET_RATIO: Final = 0.072  # cosine of the corrected zenith angle at sunset, P.1239 (from memory)
NIGHT_DECAY_PER_H: Final = 1.4  # 1/h, decay of foE^4 after sunset, P.1239 (from memory)
LOWEST_RATIO: Final = 1.7  # foF2/foE below which Bradley & Dudeney's correction is held (from memory)


@dataclass(frozen=True, eq=False)
class Ionosphere:
    """The ionosphere at places and times: arrays of one common shape (some of them read-only views).

    fof2_mhz, m3000f2, foe_mhz: medians of the month. foes_lower_mhz, foes_median_mhz, foes_upper_mhz:
    values exceeded on 90, 50 and 10 % of days (NaN where Es was not requested). hmf2_km: height of the F2
    peak. zenith_deg: zenith angle of the sun at ground level. dip_deg, modified_dip_deg: at 300 km.
    gyro_300_mhz, gyro_100_mhz: electron gyrofrequency at 300 and 100 km. geomagnetic_latitude_deg: of the
    centred dipole.
    """

    fof2_mhz: FloatArray
    m3000f2: FloatArray
    foe_mhz: FloatArray
    foes_lower_mhz: FloatArray
    foes_median_mhz: FloatArray
    foes_upper_mhz: FloatArray
    hmf2_km: FloatArray
    zenith_deg: FloatArray
    dip_deg: FloatArray
    modified_dip_deg: FloatArray
    gyro_300_mhz: FloatArray
    gyro_100_mhz: FloatArray
    geomagnetic_latitude_deg: FloatArray


def month_of(times: TimeLike) -> IntArray:
    """Calendar month 1..12 of times."""
    months: IntArray = np.asarray(times).astype("datetime64[M]").astype(np.int64) % 12 + 1
    return months


def ut_hour_of(times: TimeLike) -> FloatArray:
    """Universal time of day [h], 0 included to 24 excluded."""
    moments = np.asarray(times).astype("datetime64[s]")
    return np.asarray((moments - moments.astype("datetime64[D]")) / np.timedelta64(3600, "s"))


def ionosphere(
    lat_deg: FloatLike,
    lon_deg: FloatLike,
    times: TimeLike,
    index: FloatLike,
    year: float | None = None,
    *,
    with_es: bool = True,
) -> Ionosphere:
    """The monthly-median ionosphere over places at times.

    Parameters
    ----------
    lat_deg, lon_deg [deg]: geographic, longitude east positive.
    times: datetime64, UTC. Broadcasts with the places; fastest where times and places are on different
        axes, such as places (n, 1, p) and times (1, t, 1).
    index: ionospheric index (scale of R12), which the maps of foF2 and M(3000)F2 hold within their own range
        (`numerical_map.INDEX_RANGE`). Other inputs follow from it: for foE the flux, without
        an upper limit; foEs and hmF2 the sunspot number R12. Broadcasts likewise.
    year: decimal year of the magnetic field; by default the middle of the times' years. One field serves all
        times of a call: its dip drifts by some 0.1 degree a year.
    with_es: False leaves the three foEs maps out (their arrays are then NaN).

    No result is NaN for finite input, poles, midnight sun and polar night included.
    """
    lat, lon = np.broadcast_arrays(as_float(lat_deg), as_float(lon_deg))
    moments = np.asarray(times).astype("datetime64[s]")
    index = as_float(index)
    shape = np.broadcast_shapes(lat.shape, moments.shape, index.shape)
    if year is None:
        year = geomagnetic.middle_year(moments)

    field_300 = geomagnetic.field_map(year, F2_FIELD_HEIGHT_KM).at(lat, lon)
    field_100 = geomagnetic.field_map(year, D_LAYER_HEIGHT_KM).at(lat, lon)
    dip = field_300.dip_deg
    modified_dip = geomagnetic.modified_dip_deg(dip, lat)
    points = numerical_map.Points(modified_dip, lat, lon)
    month, hour = month_of(moments), ut_hour_of(moments)

    r12 = r12_from_index(index)

    def value(quantity: numerical_map.Quantity, level: FloatArray) -> FloatArray:
        return numerical_map.sample(quantity, month, points).at(hour, level)

    zenith = sun.zenith_deg(lat, lon, moments)
    hours_dark = sun.hours_since_sunset(lat, lon, moments)
    foe = foe_mhz(zenith, lat, sun.declination_deg(moments), hours_dark, flux_from_index(index))
    fof2 = np.maximum(value("foF2", index), LOWEST_FOF2_MHZ)
    m3000f2 = value("M3000F2", index)
    if with_es:
        lower, median, upper = (
            np.maximum(value(q, r12), 0.0) for q in ("foEs_lower", "foEs_median", "foEs_upper")
        )
        lower, upper = np.minimum(lower, median), np.maximum(upper, median)
    else:
        lower = median = upper = as_float(np.nan)

    def whole(array: FloatArray) -> FloatArray:
        return array if array.shape == shape else np.broadcast_to(array, shape)

    return Ionosphere(
        fof2_mhz=whole(fof2),
        m3000f2=whole(m3000f2),
        foe_mhz=whole(foe),
        foes_lower_mhz=whole(lower),
        foes_median_mhz=whole(median),
        foes_upper_mhz=whole(upper),
        hmf2_km=whole(hmf2_km(m3000f2, fof2, foe, r12)),
        zenith_deg=whole(zenith),
        dip_deg=whole(dip),
        modified_dip_deg=whole(modified_dip),
        gyro_300_mhz=whole(field_300.gyrofrequency_mhz),
        gyro_100_mhz=whole(field_100.gyrofrequency_mhz),
        geomagnetic_latitude_deg=whole(geomagnetic.geomagnetic_latitude_deg(lat, lon, year)),
    )


def foe_mhz(
    zenith_deg: FloatLike,
    lat_deg: FloatLike,
    declination_deg: FloatLike,
    hours_dark: FloatLike,
    flux_sfu: FloatLike,
) -> FloatArray:
    """Critical frequency of the E layer [MHz], monthly median: foE^4 = A B C D (ITU-R P.1239 paragraph 4).

    Parameters (all broadcast)
    ----------
    zenith_deg [deg]: zenith angle of the sun. lat_deg, declination_deg [deg]: geographic latitude of the
    place, declination of the sun. hours_dark [h]: hours since sunset, used at zenith >= 90 only; NaN in polar
    night, where nothing is left of an evening. flux_sfu [sfu]: monthly 10.7 cm flux.

    Source: A, B, C and the exponent p after Kouris & Muggleton, CCIR 6/3/07 (1973), as P.1239 prints them;
    twilight, night and floor from memory, checked to join. Within 0.1 % continuous at 73 degrees (the bend of
    P.1239 begins there with 0.05 degree) and without a step at 90.
    """
    zenith, lat = as_float(zenith_deg), np.abs(as_float(lat_deg))
    flux = as_float(flux_sfu)
    cos_lat = np.maximum(cosd(lat), 0.0)
    low = lat < 32.0  # deg
    activity = 1.0 + 0.0094 * (flux - 66.0)  # A
    noon_zenith = np.minimum(np.abs(as_float(lat_deg) - as_float(declination_deg)), 80.0)  # N [deg]
    exponent = np.where(low, -1.93 + 1.92 * cos_lat, 0.11 - 0.49 * cos_lat)  # m
    season = cosd(noon_zenith) ** exponent  # B
    place = np.where(low, 23.0 + 116.0 * cos_lat, 92.0 + 35.0 * cos_lat)  # C
    p = np.where(lat <= 12.0, 1.31, 1.20)
    bend_deg = np.where(zenith > TWILIGHT_DEG, 6.27e-13 * np.clip(zenith - 50.0, 0.0, 40.0) ** 8, 0.0)
    by_day = np.maximum(cosd(np.minimum(zenith, SUNSET_DEG) - bend_deg), 0.0)
    by_night = np.fmax(  # of two numbers the greater, of one number and a NaN the number
        np.exp(-NIGHT_DECAY_PER_H * as_float(hours_dark)),
        np.exp(-0.28 * np.maximum(zenith - SUNSET_DEG, 0.0)),  # exp(25.2 - 0.28 chi)
    )
    time_of_day = np.where(zenith < SUNSET_DEG, by_day**p, SUNSET_RATIO**p * by_night)  # D
    floor = 0.004 * (1.0 + 0.021 * flux) ** 2
    return np.asarray(np.sqrt(np.sqrt(np.maximum(activity * season * place * time_of_day, floor))))


def hmf2_km(m3000f2: FloatLike, fof2_mhz: FloatLike, foe_mhz: FloatLike, r12: FloatLike) -> FloatArray:
    """Height of the F2 peak [km]: 1490 / (M + dM) - 176, dM = 0.18 / (y - 1.4) + 0.096 (R12 - 25) / 150.

    y = foF2/foE, held at 1.7 below it. Form after Shimazaki (1955), dM after Bradley & Dudeney (1973) with
    the sunspot term that P.533 adds; from memory. All parameters broadcast; r12 is held within 0..150.
    """
    ratio = np.maximum(as_float(fof2_mhz) / as_float(foe_mhz), LOWEST_RATIO)
    spots = np.clip(as_float(r12), 0.0, 150.0)
    correction = 0.18 / (ratio - 1.4) + 0.096 * (spots - 25.0) / 150.0
    return np.asarray(1490.0 / (as_float(m3000f2) + correction) - 176.0)
