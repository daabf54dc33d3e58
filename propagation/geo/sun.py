"""Position of the Sun: declination, zenith angle, solar time, daylight and greyline, sunrise and sunset.

Times are UTC (datetime64 of any unit), used as UT1, which differs by at most 0.9 s (0.004 degrees of hour
angle). Angles are geometric: no refraction, and seen from the Earth's centre (parallax, up to 0.0024
degrees, is neglected). Every function broadcasts its arguments; a time that is NaT gives NaN.
Latitudes are geodetic, as on a map.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np

from propagation.base.units import (
    DEG,
    FloatArray,
    FloatLike,
    TimeLike,
    acosd,
    as_float,
    asind,
    cosd,
    sind,
    tand,
    wrap_longitude_deg,
)
from propagation.geo.locator import Position

_J2000: Final = np.datetime64("2000-01-01T12:00:00", "s")  # epoch of the formulas
_TT_MINUS_UT_DAYS: Final = 69.2 / 86400.0  # days, about 2020 (IERS); the Sun moves 0.0007 deg a minute
_RISE_ZENITH_DEG: Final = 90.833  # deg, upper limb on the horizon with usual refraction (almanac convention)


def _days(times: TimeLike) -> FloatArray:
    """Days of UT since the epoch."""
    stamps = np.asarray(times)
    if stamps.dtype.kind != "M":
        stamps = stamps.astype("datetime64[s]")
    return np.asarray((stamps - _J2000) / np.timedelta64(1, "D"), dtype=np.float64)


@dataclass(frozen=True)
class _Place:
    """Apparent place of the Sun: declination [deg], and Greenwich hour angle [deg] of -180..180."""

    declination_deg: FloatArray
    greenwich_hour_angle_deg: FloatArray


def _sun(times: TimeLike) -> _Place:
    """Apparent place of date: low-precision theory of the Sun's longitude, with nutation and aberration.

    Source: Meeus, Astronomical Algorithms, 2nd ed., chapters 12, 22 and 25 (from memory).
    """
    days = _days(times)
    century = (days + _TT_MINUS_UT_DAYS) / 36525.0
    mean_longitude = 280.46646 + century * (36000.76983 + 0.0003032 * century)
    anomaly = 357.52911 + century * (35999.05029 - 0.0001537 * century)
    centre = (
        (1.914602 - century * (0.004817 + 0.000014 * century)) * sind(anomaly)
        + (0.019993 - 0.000101 * century) * sind(2.0 * anomaly)
        + 0.000289 * sind(3.0 * anomaly)
    )
    node = 125.04 - 1934.136 * century
    longitude = mean_longitude + centre - 0.00569 - 0.00478 * sind(node)
    obliquity = 23.439291 - 0.0130042 * century + 0.00256 * cosd(node)
    sin_longitude = sind(longitude)
    declination = asind(sind(obliquity) * sin_longitude)
    right_ascension = np.arctan2(cosd(obliquity) * sin_longitude, cosd(longitude)) / DEG
    sidereal = 280.46061837 + 360.98564736629 * days - 0.00478 * sind(node) * cosd(obliquity)
    return _Place(declination, wrap_longitude_deg(sidereal - right_ascension))


def declination_deg(times: TimeLike) -> FloatArray:
    """Declination of the Sun [deg], north positive; shape of times. Error below 0.01 deg, 1950 to 2050."""
    return _sun(times).declination_deg


def distance_au(times: TimeLike) -> FloatArray:
    """Distance of the Sun from the Earth [astronomical units], 0.983..1.017; shape of times.

    Error below 1e-4, 1950 to 2050. Source: low-precision formula of the Astronomical Almanac (from memory).
    """
    anomaly = 357.528 + 0.9856003 * _days(times)
    return np.asarray(1.00014 - 0.01671 * cosd(anomaly) - 0.00014 * cosd(2.0 * anomaly))


def equation_of_time_minutes(times: TimeLike) -> FloatArray:
    """Apparent minus mean solar time [minutes], -14.3..+16.5: positive when the sundial leads the clock."""
    mean_deg = 360.0 * np.mod(_days(times), 1.0)  # mean hour angle at Greenwich; the epoch is a noon
    return 4.0 * wrap_longitude_deg(_sun(times).greenwich_hour_angle_deg - mean_deg)


def local_solar_hour(lon_deg: FloatLike, times: TimeLike) -> FloatArray:
    """Apparent solar time [h], 0..24, 12 with the Sun on the meridian; lon_deg [deg] and times broadcast."""
    return np.mod(_hour_angle_deg(lon_deg, _sun(times)) / 15.0 + 12.0, 24.0)


def _hour_angle_deg(lon_deg: FloatLike, sun: _Place) -> FloatArray:
    return wrap_longitude_deg(sun.greenwich_hour_angle_deg + as_float(lon_deg))


def zenith_deg(lat_deg: FloatLike, lon_deg: FloatLike, times: TimeLike) -> FloatArray:
    """Angle of the Sun's centre from the zenith [deg], 0..180, without refraction.

    lat_deg, lon_deg [deg] and times broadcast. Error below 0.02 degrees, 1950 to 2050.
    """
    sun = _sun(times)
    cos_hour = cosd(sun.greenwich_hour_angle_deg + as_float(lon_deg))
    cos_zenith = (
        sind(lat_deg) * sind(sun.declination_deg) + cosd(lat_deg) * cosd(sun.declination_deg) * cos_hour
    )
    return acosd(cos_zenith)


def hours_since_sunset(lat_deg: FloatLike, lon_deg: FloatLike, times: TimeLike) -> FloatArray:
    """Hours since the Sun's centre last passed zenith angle 90 degrees on its way down [h], 0..24.

    Based on the Sun's hour angle with the declination at the given time. NaN where the Sun does not set
    that day (polar day and night). Arguments broadcast.
    """
    sun = _sun(times)
    cos_set = -tand(lat_deg) * tand(sun.declination_deg)
    set_angle = acosd(np.where(np.abs(cos_set) <= 1.0, cos_set, np.nan))
    hour_angle = sun.greenwich_hour_angle_deg + as_float(lon_deg)
    return np.mod(hour_angle - set_angle, 360.0) / 15.0


@dataclass(frozen=True)
class SunEvents:
    """The Sun's events of one local solar day, the one whose noon falls on the date given.

    sunrise, sunset: upper limb on the horizon, usual refraction; dawn, dusk: civil (centre 6 degrees below);
    datetime64[s] UTC, or None where there is none that day. They may be on the UTC date before or after.
    polar: "day" or "night" when the Sun neither rises nor sets, else None.
    """

    dawn: np.datetime64 | None
    sunrise: np.datetime64 | None
    sunset: np.datetime64 | None
    dusk: np.datetime64 | None
    polar: Literal["day", "night"] | None

    def in_order(self) -> list[tuple[str, np.datetime64]]:
        """The events there are, as (name, time), in order of time."""
        named = (("dawn", self.dawn), ("sunrise", self.sunrise), ("sunset", self.sunset), ("dusk", self.dusk))
        return sorted(((name, time) for name, time in named if time is not None), key=lambda event: event[1])


def _seconds(seconds: float) -> np.timedelta64:
    return np.timedelta64(round(seconds), "s")


def sun_events(position: Position, date: dt.date | np.datetime64) -> SunEvents:
    """Dawn, sunrise, sunset and dusk at a place, of the solar day whose local noon falls on date.

    position: lat_deg, lon_deg [deg]. date: a calendar date (the local mean solar date at the place).
    Times are within a minute of the almanac at middle latitudes, and less accurate beyond the polar circles.
    Source: the astral package.
    """
    from astral import Observer
    from astral.sun import dawn, dusk, sunrise, sunset

    day = np.datetime64(str(date)[:10], "s")  # midnight, whatever the precision given
    mean_noon = day + _seconds(43200.0 - position.lon_deg * 240.0)
    noon = mean_noon - _seconds(60.0 * float(equation_of_time_minutes(mean_noon)))
    midday, quarter_day = day + _seconds(43200.0), _seconds(21600.0)
    shift_deg = -5.0 if position.lon_deg > 0.0 else 5.0

    def within(event: Callable[..., dt.datetime], middle: np.datetime64) -> np.datetime64 | None:
        """The event within half a day of middle, if there is one.

        astral searches within a calendar date of a time zone, so it gets a zone with 12 h at the middle. It
        also loses events within minutes of 0 h UTC, or is wrong by a minute or two. The event is then
        computed for a place 5 degrees along the parallel, where it is 20 minutes earlier or later.
        """
        moment: np.datetime64 | None = None
        for along_deg in (0.0, shift_deg):
            delay = _seconds(-240.0 * along_deg)
            ahead_s = float((midday - middle - delay) / np.timedelta64(1, "s"))
            try:
                found = event(
                    Observer(position.lat_deg, position.lon_deg + along_deg),
                    date=dt.date.fromisoformat(str(day)[:10]),
                    tzinfo=dt.timezone(dt.timedelta(seconds=ahead_s)),
                )
            except ValueError:  # astral raises it where the Sun does not reach that angle that day
                moment = None
                continue
            seen = np.datetime64(found.astimezone(dt.UTC).replace(tzinfo=None), "s")
            moment = seen - delay
            since_midnight = (seen - seen.astype("datetime64[D]")) / np.timedelta64(1, "m")
            if 10.0 < since_midnight < 1430.0:
                break
        return moment

    morning, evening = noon - quarter_day, noon + quarter_day
    rise, fall = within(sunrise, morning), within(sunset, evening)
    polar: Literal["day", "night"] | None = None
    if rise is None and fall is None:
        up = float(zenith_deg(position.lat_deg, position.lon_deg, noon)) < _RISE_ZENITH_DEG
        polar = "day" if up else "night"
    return SunEvents(within(dawn, morning), rise, fall, within(dusk, evening), polar)
