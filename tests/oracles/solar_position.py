"""The Sun's geocentric place by the NREL Solar Position Algorithm (Reda and Andreas 2004), from pvlib."""

from __future__ import annotations

import numpy as np
from pvlib import spa

from propagation.base.units import FloatArray, TimeArray

TT_MINUS_UT_S = 69.2  # s, as for the years about 2020


def place_deg(times: TimeArray) -> tuple[FloatArray, FloatArray]:
    """Declination and Greenwich hour angle [deg], apparent, without parallax or refraction."""
    day = spa.julian_day(times.astype("datetime64[s]").astype(np.float64))
    century = spa.julian_ephemeris_century(spa.julian_ephemeris_day(day, TT_MINUS_UT_S))
    millennium = spa.julian_ephemeris_millennium(century)
    nutation = np.empty((2, times.size))
    spa.longitude_obliquity_nutation(
        century, spa.mean_elongation(century), spa.mean_anomaly_sun(century), spa.mean_anomaly_moon(century),
        spa.moon_argument_latitude(century), spa.moon_ascending_longitude(century), nutation,
    )  # fmt: skip
    obliquity = spa.true_ecliptic_obliquity(spa.mean_ecliptic_obliquity(millennium), nutation[1])
    aberration = spa.aberration_correction(spa.heliocentric_radius_vector(millennium))
    longitude = spa.apparent_sun_longitude(
        spa.geocentric_longitude(spa.heliocentric_longitude(millennium)), nutation[0], aberration
    )
    latitude = spa.geocentric_latitude(spa.heliocentric_latitude(millennium))
    sidereal = spa.apparent_sidereal_time(
        spa.mean_sidereal_time(day, spa.julian_century(day)), nutation[0], obliquity
    )
    ascension = spa.geocentric_sun_right_ascension(longitude, obliquity, latitude)
    return spa.geocentric_sun_declination(longitude, obliquity, latitude), sidereal - ascension
