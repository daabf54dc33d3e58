"""The Earth's magnetic field: strength, dip, modified dip, gyrofrequency and geomagnetic latitude.

The model is the International Geomagnetic Reference Field, 14th generation (IAGA,
doi 10.5281/zenodo.14012302), degree and order 13, from its coefficients in data/igrf14.npz. Between epochs
(every five years from 1900 to 2030, the last by predicted change) the coefficients vary linearly. From 2030
to 2035 the last change is extrapolated, which is less certain. Other years are clipped to 1900 or 2035.

Latitudes and heights are geodetic (WGS 84), as on a map and as the IGRF is published. The rest of the engine
treats the same latitudes as spherical, which is negligible at its accuracy. North, east and down are the axes
at the point; at a pole they follow the meridian of the given longitude.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Final

import numpy as np

from propagation.base.constants import ELECTRON_CHARGE_C, ELECTRON_MASS_KG
from propagation.base.units import (
    DEG,
    FloatArray,
    FloatLike,
    TimeLike,
    as_float,
    asind,
    cosd,
    sind,
    wrap_longitude_deg,
)

FIRST_YEAR: Final = 1900.0  # first epoch of the model
LAST_YEAR: Final = 2035.0  # last year of the extrapolation
_REFERENCE_RADIUS_KM: Final = 6371.2  # km, reference radius of the coefficients (IGRF)
_WGS84_A_KM: Final = 6378.137  # km, equatorial radius (WGS 84)
_WGS84_E2: Final = 0.006_694_379_990_14  # first eccentricity squared (WGS 84)
_MHZ_PER_NT: Final = ELECTRON_CHARGE_C / ELECTRON_MASS_KG / (2.0 * np.pi) * 1e-9 * 1e-6  # 2.799e-5 MHz/nT


@dataclass(frozen=True)
class Coefficients:
    """Gauss coefficients of one year, Schmidt semi-normalised: g, h [nT], shape (degree + 1, order + 1)."""

    g: FloatArray
    h: FloatArray


@lru_cache(maxsize=1)
def _table() -> tuple[FloatArray, FloatArray, FloatArray]:
    with np.load(Path(__file__).parent.parent / "data" / "igrf14.npz") as file:
        return file["years"], file["g"], file["h"]


@lru_cache(maxsize=16)
def coefficients(year: float) -> Coefficients:
    """Coefficients at a decimal year (2026.5 is July 2026), clipped to 1900..2035."""
    years, g, h = _table()
    when = min(max(float(year), FIRST_YEAR), LAST_YEAR)
    i = min(int(np.searchsorted(years, when, side="right")) - 1, years.size - 2)
    part = (when - years[i]) / (years[i + 1] - years[i])  # above 1 after 2030: extrapolation
    return Coefficients(g[i] + part * (g[i + 1] - g[i]), h[i] + part * (h[i + 1] - h[i]))


def _legendre(
    cos_theta: FloatArray, sin_theta: FloatArray, degree: int
) -> Iterator[tuple[int, list[FloatArray]]]:
    """For each order m, the Schmidt semi-normalised functions of degree m..degree, over sin(theta) if m > 0.

    Upward recursion in degree, which holds at the poles. Source: textbook.
    """
    sectoral = np.ones_like(cos_theta)  # P(m, m), over sin(theta) where m > 0
    for m in range(degree + 1):
        if m > 1:
            sectoral = sectoral * sin_theta * np.sqrt((2.0 * m - 1.0) / (2.0 * m))
        column = [sectoral]
        before = np.zeros_like(cos_theta)
        for n in range(m + 1, degree + 1):
            up = (2.0 * n - 1.0) * cos_theta * column[-1] - np.sqrt((n - 1.0) ** 2 - m * m) * before
            before = column[-1]
            column.append(up / np.sqrt(float(n * n - m * m)))
        yield m, column


def middle_year(times: TimeLike) -> float:
    """Decimal year of the field for all of these times: the middle of the period they span."""
    years = np.asarray(times).astype("datetime64[Y]").astype(np.int64) + 1970
    return float((years.min() + years.max()) // 2) + 0.5 if years.size else 2025.5


def _geocentric(
    sin_lat: FloatArray, cos_lat: FloatArray, height_km: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Distance [km] from the Earth's centre, and cosine and sine of the angle from the pole, of WGS 84."""
    normal_km = _WGS84_A_KM / np.sqrt(1.0 - _WGS84_E2 * sin_lat**2)
    axis_km = (normal_km + height_km) * cos_lat  # from the axis
    plane_km = (normal_km * (1.0 - _WGS84_E2) + height_km) * sin_lat  # from the equator's plane
    radius_km = np.hypot(axis_km, plane_km)
    return radius_km, plane_km / radius_km, axis_km / radius_km


def field_nt(
    lat_deg: FloatLike, lon_deg: FloatLike, height_km: FloatLike, year: float
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """The field at points: (north, east, down) [nT].

    lat_deg, lon_deg: geodetic [deg]; height_km: above the ellipsoid [km]; these broadcast. year: decimal
    year, clipped to 1900..2035. Latitudes in a column and longitudes in a row cost little more than the
    latitudes alone, because the Legendre functions are computed before the two are broadcast.
    Source: IGRF-14; the potential's gradient in spherical coordinates, turned to the geodetic vertical.
    """
    table = coefficients(float(year))
    degree = table.g.shape[0] - 1
    lat, lon = as_float(lat_deg), as_float(lon_deg)
    sin_lat, cos_lat = sind(lat), np.maximum(cosd(lat), 0.0)
    radius_km, cos_theta, sin_theta = _geocentric(sin_lat, cos_lat, as_float(height_km))
    ratio = _REFERENCE_RADIUS_KM / radius_km
    powers = [ratio**2]
    for _ in range(degree):
        powers.append(powers[-1] * ratio)  # powers[n] = ratio^(n + 2)

    zonal_out, zonal_south = np.zeros_like(radius_km), np.zeros_like(radius_km)
    waves: list[FloatArray] = []  # cos and sin of m lon, and what of each component goes with them
    by_wave: tuple[list[FloatArray], ...] = ([], [], [])
    for m, column in _legendre(cos_theta, sin_theta, degree):
        # sums over the degrees n of the parts with cos(m lon) and with sin(m lon)
        out_c, out_s = np.zeros_like(radius_km), np.zeros_like(radius_km)
        south_c, south_s, p_c, p_s = (np.zeros_like(radius_km) for _ in range(4))
        below = np.zeros_like(radius_km)  # the function one degree down
        for n in range(m, degree + 1):
            p = column[n - m]
            weighted = powers[n] * p
            g, h = table.g[n, m], table.h[n, m]
            out_c += (n + 1) * g * weighted
            out_s += (n + 1) * h * weighted
            if m:
                # sin(theta) dP(n)/dtheta = n cos(theta) P(n) - sqrt(n^2 - m^2) P(n - 1); p = P / sin(theta)
                slope = powers[n] * (n * cos_theta * p - np.sqrt(float(n * n - m * m)) * below)
                south_c -= g * slope
                south_s -= h * slope
                p_c += g * weighted
                p_s += h * weighted
            if m == 1:  # dP(n, 0)/dtheta = -sqrt(n (n + 1) / 2) P(n, 1)
                zonal_south += table.g[n, 0] * np.sqrt(n * (n + 1) / 2.0) * sin_theta * weighted
            below = p
        if m == 0:
            zonal_out = out_c
            continue
        waves += [cosd(m * lon), sind(m * lon)]
        pairs = (sin_theta * out_c, sin_theta * out_s), (south_c, south_s), (-m * p_s, m * p_c)
        for parts, pair in zip(by_wave, pairs, strict=True):
            parts += pair
    outward, south, east = (_sum_of_waves(parts, waves) for parts in by_wave)
    outward, south = outward + zonal_out, south + zonal_south

    # turn by the angle between the geodetic and the geocentric vertical
    cos_turn = sin_lat * cos_theta + cos_lat * sin_theta
    sin_turn = sin_lat * sin_theta - cos_lat * cos_theta
    return (
        -south * cos_turn - outward * sin_turn,
        east,
        south * sin_turn - outward * cos_turn,
    )


def _sum_of_waves(parts: list[FloatArray], waves: list[FloatArray]) -> FloatArray:
    """Sum of products of parts by latitude and waves by longitude, which broadcast."""
    of_place, of_longitude = np.stack(parts), np.stack(waves)
    if of_place.ndim == 3 and of_place.shape[2] == 1 and of_longitude.ndim == 2:  # a grid: one product
        return as_float(of_place[..., 0].T @ of_longitude)
    return as_float(np.einsum("k...,k...->...", of_place, of_longitude))


@dataclass(frozen=True)
class Field:
    """The field at points: north_nt, east_nt, down_nt [nT], arrays of one shape, and derived quantities."""

    north_nt: FloatArray
    east_nt: FloatArray
    down_nt: FloatArray

    @property
    def total_nt(self) -> FloatArray:
        """Strength of the field [nT]."""
        return np.sqrt(self.north_nt**2 + self.east_nt**2 + self.down_nt**2)

    @property
    def dip_deg(self) -> FloatArray:
        """Dip (inclination) [deg], -90..90, positive where the field points down."""
        return np.arctan2(self.down_nt, np.hypot(self.north_nt, self.east_nt)) / DEG

    @property
    def gyrofrequency_mhz(self) -> FloatArray:
        """Gyrofrequency of electrons [MHz]."""
        return gyrofrequency_mhz(self.total_nt)


def field(lat_deg: FloatLike, lon_deg: FloatLike, height_km: FloatLike, year: float) -> Field:
    """The field of `field_nt`, with dip and gyrofrequency as properties."""
    return Field(*field_nt(lat_deg, lon_deg, height_km, year))


def dip_deg(lat_deg: FloatLike, lon_deg: FloatLike, height_km: FloatLike, year: float) -> FloatArray:
    """Dip of the field [deg], -90..90, positive where it points down; the first three arguments broadcast."""
    return field(lat_deg, lon_deg, height_km, year).dip_deg


def modified_dip_deg(dip_deg: FloatLike, lat_deg: FloatLike) -> FloatArray:
    """Rawer's modified dip [deg]: atan(I / sqrt(cos lat)), I being the dip in radians.

    Arguments [deg] broadcast. The value is +-90 at a pole and 0 where the dip is 0.
    Source: Recommendation ITU-R P.1239, section 2.
    """
    return np.arctan2(as_float(dip_deg) * DEG, np.sqrt(np.maximum(cosd(lat_deg), 0.0))) / DEG


def gyrofrequency_mhz(total_nt: FloatLike) -> FloatArray:
    """Electron gyrofrequency [MHz] in a field of total_nt [nT]: e B / (2 pi m). Source: textbook."""
    return as_float(total_nt) * _MHZ_PER_NT


def dipole_pole(year: float) -> tuple[float, float]:
    """Northern pole of the central dipole: (lat_deg, lon_deg) [deg], from the first three coefficients."""
    table = coefficients(float(year))
    g10, g11, h11 = table.g[1, 0], table.g[1, 1], table.h[1, 1]
    strength = np.sqrt(g10**2 + g11**2 + h11**2)
    return float(asind(-g10 / strength)), float(np.arctan2(-h11, -g11) / DEG)


def geomagnetic_latitude_deg(lat_deg: FloatLike, lon_deg: FloatLike, year: float) -> FloatArray:
    """Latitude relative to the central dipole's equator [deg], -90..90; the first two arguments broadcast."""
    pole_lat, pole_lon = dipole_pole(year)
    return asind(
        sind(lat_deg) * sind(pole_lat) + cosd(lat_deg) * cosd(pole_lat) * cosd(as_float(lon_deg) - pole_lon)
    )


_ROWS: Final = 181  # latitudes of the map's grid, -90..90
_COLUMNS: Final = 361  # longitudes, -180..180


@dataclass(frozen=True)
class FieldMap:
    """The field of one year and height on a 1 degree grid, for fast evaluation at many points.

    components_nt: north, east, down [nT] in the first axis, (3, 181, 361); latitudes -90..90, longitudes
    -180..180. bend_lat_nt, bend_lon_nt: their second differences along each axis, of the same shape.
    """

    year: float
    height_km: float
    components_nt: FloatArray
    bend_lat_nt: FloatArray
    bend_lon_nt: FloatArray

    def at(self, lat_deg: FloatLike, lon_deg: FloatLike) -> Field:
        """The field at points; lat_deg, lon_deg [deg] broadcast.

        Components are interpolated linearly between grid points and corrected by their second differences,
        with an error below 1 nT. Latitudes beyond a pole are clipped; NaN gives NaN.
        """
        lat, lon = np.broadcast_arrays(as_float(lat_deg), wrap_longitude_deg(lon_deg))
        nan = np.isnan(lat + lon)
        y = np.where(nan, 0.0, np.clip(lat + 90.0, 0.0, _ROWS - 1.0))
        x = np.where(nan, 0.0, lon + 180.0)
        row = np.minimum(y.astype(np.intp), _ROWS - 2)
        column = np.minimum(x.astype(np.intp), _COLUMNS - 2)
        v = np.where(nan, np.nan, y - row)
        u = x - column
        corner = row * _COLUMNS + column
        value, bend_lat, bend_lon = (
            table.reshape(3, -1) for table in (self.components_nt, self.bend_lat_nt, self.bend_lon_nt)
        )
        south, north = value.take(corner, 1), value.take(corner + _COLUMNS, 1)
        south += u * (value.take(corner + 1, 1) - south)
        north += u * (value.take(corner + _COLUMNS + 1, 1) - north)
        found = south + v * (north - south)
        found -= 0.5 * v * (1.0 - v) * bend_lat.take(corner, 1)
        found -= 0.5 * u * (1.0 - u) * bend_lon.take(corner, 1)
        return Field(found[0], found[1], found[2])

    def dip_deg(self, lat_deg: FloatLike, lon_deg: FloatLike) -> FloatArray:
        """Dip [deg] at points; arguments [deg] broadcast."""
        return self.at(lat_deg, lon_deg).dip_deg

    def modified_dip_deg(self, lat_deg: FloatLike, lon_deg: FloatLike) -> FloatArray:
        """Modified dip [deg] at points; arguments [deg] broadcast."""
        return modified_dip_deg(self.dip_deg(lat_deg, lon_deg), lat_deg)

    def gyrofrequency_mhz(self, lat_deg: FloatLike, lon_deg: FloatLike) -> FloatArray:
        """Electron gyrofrequency [MHz] at points; arguments [deg] broadcast."""
        return self.at(lat_deg, lon_deg).gyrofrequency_mhz


@lru_cache(maxsize=8)
def field_map(year: float, height_km: float) -> FieldMap:
    """The map of a decimal year (clipped to 1900..2035) at height_km [km]; the last eight are cached."""
    lat = np.linspace(-90.0, 90.0, _ROWS)[:, np.newaxis]
    lon = np.linspace(-180.0, 180.0, _COLUMNS)
    grid = np.stack(field_nt(lat, lon, height_km, year))
    bend_lat, bend_lon = np.empty_like(grid), np.empty_like(grid)
    bend_lat[:, 1:-1] = grid[:, 2:] - 2.0 * grid[:, 1:-1] + grid[:, :-2]
    bend_lat[:, 0], bend_lat[:, -1] = bend_lat[:, 1], bend_lat[:, -2]
    bend_lon[..., 1:-1] = grid[..., 2:] - 2.0 * grid[..., 1:-1] + grid[..., :-2]
    bend_lon[..., 0] = bend_lon[..., -1] = grid[..., 1] - 2.0 * grid[..., 0] + grid[..., -2]
    for table in (grid, bend_lat, bend_lon):
        table.flags.writeable = False  # shared by every caller
    return FieldMap(float(year), float(height_km), grid, bend_lat, bend_lon)
