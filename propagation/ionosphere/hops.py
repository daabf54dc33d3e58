"""Ray geometry over a spherical earth: take-off angle, incidence, slant range and hop length.

A hop goes up from the ground to a mirror at a height and down again. Everything here is exact
spherical geometry (compare 47 CFR 73.190 (d)); heights come from `mirror_height`.
"""

from __future__ import annotations

import numpy as np

from propagation.base.constants import EARTH_RADIUS_KM
from propagation.base.units import DEG, FloatArray, FloatLike, acosd, as_float, as_real, cosd, sind

_UP = float(np.pi / 2.0)  # rad, straight up


def elevation_deg(hop_km: FloatLike, height_km: FloatLike) -> FloatArray:
    """Take-off angle of a hop of ground length `hop_km` [km] by a mirror at `height_km` [km].

    Broadcasts. A hop of zero length goes straight up (90 degrees); a hop longer than the geometry
    allows gives a negative angle, which the caller refuses. Exact geometry, P.533 section 2 (from memory).
    """
    half_rad = as_float(hop_km) / (2.0 * EARTH_RADIUS_KM)
    radius_ratio = EARTH_RADIUS_KM / (EARTH_RADIUS_KM + as_real(height_km))
    # cot(a) - q cosec(a) = (cos a - q) / sin a: written with arctan2 so that zero length is 90 degrees
    return np.arctan2(np.cos(half_rad) - radius_ratio, np.sin(half_rad)) / DEG


def sec_incidence(elevation_deg: FloatLike, height_km: FloatLike) -> FloatArray:
    """Secant of the angle of incidence at `height_km` [km]; finite for every height above the ground."""
    return sec_incidence_of(cosd(elevation_deg), height_km)


def sec_incidence_of(cos_elevation: FloatArray, height_km: FloatLike) -> FloatArray:
    """`sec_incidence` from the cosine of the take-off angle."""
    sin_i = (EARTH_RADIUS_KM / (EARTH_RADIUS_KM + as_real(height_km))) * cos_elevation
    return 1.0 / np.sqrt(np.maximum(1.0 - sin_i * sin_i, 1e-9))


def hop_km(elevation_deg: FloatLike, height_km: FloatLike) -> FloatArray:
    """Ground length [km] of a hop that leaves at `elevation_deg` [deg] and turns at `height_km` [km]."""
    return 2.0 * EARTH_RADIUS_KM * half_angle_rad(elevation_deg, height_km)


def half_angle_rad(elevation_deg: FloatLike, height_km: FloatLike) -> FloatArray:
    """Half the angle [rad] at the earth's centre spanned by a hop; the inverse of `elevation_deg`."""
    apex_deg = acosd(EARTH_RADIUS_KM * cosd(elevation_deg) / (EARTH_RADIUS_KM + as_float(height_km)))
    return (apex_deg - as_float(elevation_deg)) * DEG


def crossing_km(elevation_deg: FloatLike, height_km: FloatLike) -> FloatArray:
    """Ground distance [km] from the end of a hop to the place under which the ray passes `height_km` [km]."""
    return EARTH_RADIUS_KM * half_angle_rad(elevation_deg, height_km)


def slant_from_height_km(elevation_deg: FloatLike, height_km: FloatLike) -> FloatArray:
    """Virtual length [km] of one hop from take-off angle and mirror height, good at the vertical too."""
    return slant_of(sind(elevation_deg), height_km)


def slant_of(sin_elevation: FloatArray, height_km: FloatLike) -> FloatArray:
    """`slant_from_height_km` from the sine of the take-off angle."""
    s = EARTH_RADIUS_KM * sin_elevation
    height = as_real(height_km)
    return 2.0 * (np.sqrt(s * s + height * (2.0 * EARTH_RADIUS_KM + height)) - s)


def common_elevation_deg(
    distance_km: FloatLike,
    low_hops: FloatLike,
    low_height_km: FloatLike,
    high_hops: FloatLike,
    high_height_km: FloatLike,
) -> FloatArray:
    """Take-off angle [deg] of a path of `low_hops` hops by a low mirror and `high_hops` by a high one.

    Layers are taken as concentric, so that a ray keeps its take-off angle from hop to hop: the hops'
    lengths follow from the angle and must add up to `distance_km` [km]. All arguments broadcast; at least
    one hop in all. Negative where the path cannot be spanned above the horizon. Halley's method from the
    angle of equal hops; the function is smooth, convex and falling, and two steps bring the distance within
    1 m wherever the angle is above the horizon (tested).
    """
    low, high = as_float(low_hops), as_float(high_hops)
    h_low, h_high = as_real(low_height_km), as_real(high_height_km)
    total = low + high
    mean_height = (low * h_low + high * h_high) / total
    angle = elevation_deg(as_float(distance_km) / total, mean_height)
    if not np.any((low > 0.0) & (high > 0.0)):
        return angle
    target_rad = as_float(distance_km) / (2.0 * EARTH_RADIUS_KM)
    q_low = EARTH_RADIUS_KM / (EARTH_RADIUS_KM + h_low)
    q_high = EARTH_RADIUS_KM / (EARTH_RADIUS_KM + h_high)
    beta = angle * DEG
    for _ in range(2):
        cos_b, sin_b = np.cos(beta), np.sin(beta)
        a_low, a_high = q_low * cos_b, q_high * cos_b
        value = low * (np.arccos(a_low) - beta) + high * (np.arccos(a_high) - beta) - target_rad
        w_low, w_high = 1.0 / np.sqrt(1.0 - a_low * a_low), 1.0 / np.sqrt(1.0 - a_high * a_high)
        s_low, s_high = q_low * sin_b * w_low, q_high * sin_b * w_high
        slope = low * (s_low - 1.0) + high * (s_high - 1.0)
        bend = low * (a_low * w_low * (1.0 - s_low * s_low)) + high * (
            a_high * w_high * (1.0 - s_high * s_high)
        )
        # straight up the slope vanishes with the hop's length: keep the step inside the quadrant
        step = value / np.minimum(slope, -1e-6)
        beta = np.clip(
            beta - step / np.maximum(1.0 - 0.5 * step * bend / np.minimum(slope, -1e-6), 0.5), -0.3, _UP
        )
    return beta / DEG
