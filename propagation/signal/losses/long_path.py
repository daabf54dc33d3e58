"""Field strength on the longest paths by the combined method of P.533 section 5.3 (from memory).

The method gives the field between a lowest frequency fL, set by daylight absorption along the path, and a
highest fM, set by the F2 layer 2000 km from each end. It replaces single ray paths gradually from 7000 km
(as P.533) to 10 000 km (P.533: 9000). In the ITU-R's bank of measured field strengths both methods have
errors of the same size about 9000 km. The errors are different, so the mixture follows the hours better than
either. Beyond, the sum of single ray paths is 14 to 24 dB too weak. Constants are from memory and marked so.
Shapes: N routes, T times, B frequencies.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from propagation.base.constants import EARTH_RADIUS_KM, F2_FIELD_HEIGHT_KM
from propagation.base.units import FloatArray, as_float, cosd, distinct
from propagation.geo import geomagnetic, great_circle, sun
from propagation.ionosphere import hops, layers, muf, numerical_map
from propagation.signal.rays.path_samples import PathSamples, RouteInterpolator, along

START_KM: Final = 7000.0  # km, from here the two methods are interpolated (P.533, from memory)
FULL_KM: Final = 10_000.0  # km, from here the combined method is used alone (calibrated, bank; P.533: 9000)
CONTROL_KM: Final = 2000.0  # km, control points from each end (P.533, from memory)
MIRROR_KM: Final = 300.0  # km, reflection height of the method (P.533, from memory)
PENETRATION_KM: Final = 90.0  # km, height at which zenith angles are taken (P.533, from memory)
HOP_MAX_KM: Final = 4000.0  # km, longest hop of the method (P.533, from memory)
_SHAPE_STEP_H: Final = 2.0  # h, between the hours at which the day's course is taken (ours)
MIDDLE_R12: Final = 60.0  # activity at which the daily range's shape is taken (ours)
DUSK: Final = 0.05  # of cos chi, 3 degrees, over which daylight at a crossing is smoothed (ours)
# of P.533's fL + fH by day, and of its fL by night (calibrated, bank: its absorption is too strong)
LOWEST_SHARE: Final = 0.8
AFTER_SUNSET_H: Final = (1, 2, 3)  # h, for which fL persists after sunset (P.533, from memory)
DECAY_PER_H: Final = 0.46  # nepers an hour, of fL squared: fL falls as exp(-0.23 t) (P.533, from memory)
HOP_EASE_KM: Final = 3600.0  # km, hop from which the figures change to those of one hop more (ours)
FOCUS_MAX_DB: Final = 15.0  # dB, limit of the antipodal focusing Gap (P.533, from memory)
FIELD_CONSTANT_DB: Final = -36.4  # dB, with E0 = 139.6 - 20 log p' (P.533, from memory)
OTHER_GAIN_DB: Final = 0.17  # dB, minus Ly (P.533, from memory)
LEAST_FIELD_DB: Final = -300.0  # dB, keeps sums finite (ours)
FIELD_TO_LOSS_DB: Final = 137.2  # dB: Lb = 137.2 + 20 log f - E for 1 kW, exact from free space (P.525)


@dataclass(frozen=True)
class LongPath:
    """Figures of the combined method.

    upper_mhz (N, T): fM of the median day; basic_mhz (N, T): basic MUF, the lower of both control points';
    lower_mhz (N, T): fL; gyro_mhz (N, 1 or T); e0_db, focus_db (N,); elevation_deg (N,): take-off angle of
    equal hops by the 300 km mirror; hops (N,).
    """

    upper_mhz: FloatArray
    basic_mhz: FloatArray
    lower_mhz: FloatArray
    gyro_mhz: FloatArray
    e0_db: FloatArray
    focus_db: FloatArray
    elevation_deg: FloatArray
    hops: FloatArray

    def field_db(self, frequency_mhz: FloatArray, layer_factor: FloatArray | float = 1.0) -> FloatArray:
        """Field [dB over 1 uV/m] for 1 kW into isotropic antennas; broadcasts (N, T, B) or (N, T, B, U).

        `layer_factor` scales fM for a day on which the F2 layer is above or below its median.
        """
        high, low, here, e0, focus = self.parts(frequency_mhz, layer_factor)
        shape = 1.0 - (high * (low / here) + here) / (high + low)
        field = e0 * shape + (FIELD_CONSTANT_DB + focus + OTHER_GAIN_DB)
        return np.maximum(field, LEAST_FIELD_DB)

    def parts(
        self, frequency_mhz: FloatArray, layer_factor: FloatArray | float = 1.0
    ) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray, FloatArray]:
        """Return (fM + fH)^2, (fL + fH)^2, (f + fH)^2 [MHz^2], E0 and focusing [dB], shaped like f."""
        more = (1,) * (frequency_mhz.ndim - 2)
        upper, lower, gyro = (
            v.reshape(v.shape + more) for v in (self.upper_mhz, self.lower_mhz, self.gyro_mhz)
        )
        e0, focus = (v.reshape(-1, 1, *more) for v in (self.e0_db, self.focus_db))
        return (upper * layer_factor + gyro) ** 2, (lower + gyro) ** 2, (frequency_mhz + gyro) ** 2, e0, focus

    def absorbed_db(self, frequency_mhz: FloatArray) -> FloatArray:
        """Loss by daylight [dB], at the lowest frequency's end of the range, on the median day."""
        fh = self.gyro_mhz[..., None]
        high, low = (self.upper_mhz[..., None] + fh) ** 2, (self.lower_mhz[..., None] + fh) ** 2
        here = (frequency_mhz + fh) ** 2
        return self.e0_db[:, None, None] * high / (high + low) * low / here


def combined(samples: PathSamples, bearing_deg: FloatArray) -> LongPath:
    """Figures of the combined method for N routes (intended for those beyond START_KM)."""
    distance = samples.distance_km
    t = samples.fof2_mhz.shape[1]
    count = np.maximum(np.ceil(distance / HOP_MAX_KM - 1e-9), 1.0)
    # where the hops approach their longest, the figures change smoothly to those of one hop more
    share = np.clip((distance / count - HOP_EASE_KM) / (HOP_MAX_KM - HOP_EASE_KM), 0.0, 1.0)
    share = share * share * (3.0 - 2.0 * share)
    slant, sunlight = _by_hops(samples, count)
    eased = np.flatnonzero(share)
    if eased.size:
        slant_more, sunlight_more = _by_hops(samples.rows(eased), count[eased] + 1.0)
        slant[eased] += (slant_more - slant[eased]) * share[eased]
        sunlight[eased] += (sunlight_more - sunlight[eased]) * share[eased, None]

    # the layer at both control points now, and over their whole day for its noon and its lowest
    control = np.stack(
        [np.minimum(CONTROL_KM, 0.5 * distance), np.maximum(distance - CONTROL_KM, 0.5 * distance)], 1
    )
    at_control = RouteInterpolator(control, distance, t)
    fof2, m3000, foe, gyro = (
        at_control(values)
        for values in (samples.fof2_mhz, samples.m3000f2, samples.foe_mhz, samples.gyro_300_mhz)
    )
    fg = 1.1 * muf.f2_muf_mhz(3000.0, fof2, foe, m3000, gyro)  # (N, T, 2): F2(4000)MUF = 1.1 F2(3000)MUF
    ratio, lowest = _of_noon(samples, bearing_deg, control)
    # east-west or north-south constants W, X, Y, linear in the angle from the meridian at mid-path (from
    # memory)
    east = np.abs(np.mod(_middle_bearing_deg(samples) + 90.0, 180.0) - 90.0)[:, None, None] / 90.0
    w, x, y = 0.2 - 0.1 * east, 0.2 + 1.0 * east, 0.4 + 0.2 * east
    k = 1.2 + w * ratio + x * (np.cbrt(1.0 / np.maximum(ratio, 0.05)) - 1.0) + y * lowest**2
    upper, basic = np.min(k * fg, axis=-1), np.min(fg, axis=-1)

    r12 = samples.r12_mean()
    gyro_mean = np.mean(np.broadcast_to(samples.gyro_300_mhz, samples.fof2_mhz.shape), axis=-1)
    lower = LOWEST_SHARE * (5.3 * np.sqrt((1.0 + 0.009 * r12) * sunlight)) - gyro_mean
    night = LOWEST_SHARE * np.sqrt(distance / 3000.0)[:, None]
    arc = np.abs(np.sin(distance / EARTH_RADIUS_KM))
    focus = np.minimum(
        10.0 * np.log10(np.maximum(distance, 1.0) / (EARTH_RADIUS_KM * np.maximum(arc, 1e-3))), FOCUS_MAX_DB
    )
    return LongPath(
        upper_mhz=upper,
        basic_mhz=basic,
        lower_mhz=np.maximum(lower, night),
        gyro_mhz=gyro_mean,
        e0_db=139.6 - 20.0 * np.log10(np.maximum(slant, 1.0)),
        focus_db=focus,
        elevation_deg=hops.elevation_deg(distance / count, MIRROR_KM),
        hops=count,
    )


def _by_hops(samples: PathSamples, count: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Slant length p' (N,) [km] of `count` equal hops, and the sun's part of fL (N, T).

    Sum of cos^0.5 chi over every crossing of 90 km that is in daylight, over cos i ln(9.5e6 / p')
    (from memory). The root rises vertically at sunrise, but the D layer takes most of an hour to form and to
    go, so the root is rounded. After sunset at a crossing its part decays over three hours, as fL of the
    whole path does in P.533 (from memory).
    """
    distance = samples.distance_km
    hop = distance / count
    elevation = hops.elevation_deg(hop, MIRROR_KM)
    slant = count * hops.slant_from_height_km(elevation, MIRROR_KM)
    order = np.arange(int(np.max(count)))
    start = order * hop[:, None]
    used = order < count[:, None]
    reach = hops.crossing_km(elevation, PENETRATION_KM)[:, None]
    places = np.concatenate([start + reach, start + hop[:, None] - reach], axis=1)
    lit = _daylight(along(samples.zenith_deg, places, distance))
    lat, lon = samples.lat_deg[:, None], samples.lon_deg[:, None]
    n, t, _ = lit.shape
    earlier = np.concatenate([samples.times - np.timedelta64(hours, "h") for hours in AFTER_SUNSET_H], 1)
    was_lit = _daylight(along(sun.zenith_deg(lat, lon, earlier[..., None]), places, distance))
    left = np.exp(-DECAY_PER_H * as_float(AFTER_SUNSET_H))[:, None, None]
    lit = np.maximum(lit, np.max(left * was_lit.reshape(n, len(AFTER_SUNSET_H), t, -1), axis=1))
    total = np.sum(np.where(np.concatenate([used, used], axis=1)[:, None], lit, 0.0), axis=-1)
    cos_i = 1.0 / hops.sec_incidence(elevation, PENETRATION_KM)
    return slant, total / (cos_i * np.log(9.5e6 / slant))[:, None]


def _daylight(zenith_deg: FloatArray) -> FloatArray:
    """cos^0.5 chi by day, rounded at the horizon, near zero by night."""
    return np.sqrt(DUSK * np.logaddexp(0.0, cosd(zenith_deg) / DUSK))


def _middle_bearing_deg(samples: PathSamples) -> FloatArray:
    """Bearing of the route at its middle (N,) [deg]: the same angle from the meridian from either end."""
    middle = samples.lat_deg.shape[1] // 2
    lat, lon = samples.lat_deg, samples.lon_deg
    return great_circle.bearing_deg(lat[:, middle], lon[:, middle], lat[:, middle + 1], lon[:, middle + 1])


def _of_noon(
    samples: PathSamples, bearing_deg: FloatArray, control_km: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Ratio of fg to its value at local noon (N, T, 2), and lowest ratio (N, 1, 2), at control points.

    Both are based on the day's course at middle solar activity, every two hours with linear interpolation,
    and a foE of a third of foF2. The formula uses only the shape of the day, and the shape depends little on
    activity. A row's month is that of the first of its times.
    """
    start_lat, start_lon = samples.lat_deg[:, :1], samples.lon_deg[:, :1]
    lat, lon = great_circle.destination(start_lat, start_lon, bearing_deg[:, None], control_km)
    n = lat.shape[0]
    field = geomagnetic.field_map(samples.year, F2_FIELD_HEIGHT_KM).at(lat, lon)
    modified_dip = geomagnetic.modified_dip_deg(field.dip_deg, lat)
    months = layers.month_of(np.broadcast_to(samples.times[:, 0], (n,)))
    hours = np.arange(0.0, 24.0, _SHAPE_STEP_H)
    course = np.empty((n, hours.size, 2))
    for month in distinct(months):
        rows = np.flatnonzero(months == month)
        points = numerical_map.Points(modified_dip[rows, None], lat[rows, None], lon[rows, None])
        fof2, m3000 = (
            numerical_map.sample(quantity, int(month), points).at(hours[None, :, None], MIDDLE_R12)
            for quantity in ("foF2", "M3000F2")
        )
        fof2 = np.maximum(fof2, layers.LOWEST_FOF2_MHZ)
        gyro = field.gyrofrequency_mhz[rows, None]
        course[rows] = muf.f2_muf_mhz(3000.0, fof2, fof2 / 3.0, m3000, gyro)

    def at_hour(hour: FloatArray) -> FloatArray:
        place = np.mod(hour, 24.0) / _SHAPE_STEP_H
        left = np.minimum(place.astype(np.int64), hours.size - 1)
        before = np.take_along_axis(course, left, axis=1)
        after = np.take_along_axis(course, (left + 1) % hours.size, axis=1)
        return before + (after - before) * (place - left)

    noon = at_hour(12.0 - lon[:, None] / 15.0)
    t = samples.fof2_mhz.shape[1]
    clock = np.broadcast_to(layers.ut_hour_of(samples.times)[..., None], (n, t, 2))
    return at_hour(clock) / noon, np.min(course, axis=1, keepdims=True) / noon
