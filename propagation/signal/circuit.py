"""One circuit, antenna to antenna: the power sum of every way a signal can take, on every kind of day.

Joins the modes of `path_loss` (to 9000 km), the combined method of `long_path` (beyond 7000 km, the two
interpolated in between as P.533 does), sporadic E, scatter into the skip zone and the ground wave. A day is
described by two normal scores, one for the F2 layer and one for sporadic E (`variability`); every F2 mode
of a circuit shares the first, so modes are never treated as independent. Gains are the same both ways: the
path is reciprocal. Shapes: N routes, T times, B frequencies, K modes, U layer days, V sporadic-E days.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Protocol

import numpy as np

from propagation.base.units import FloatArray, FloatLike, IntArray, TimeArray, as_float
from propagation.geo.great_circle import Route
from propagation.ionosphere import absorption, hops, variability
from propagation.signal import (
    ground_wave,
    long_path,
    mode_chains,
    mode_sum,
    path_loss,
    path_samples,
    scatter,
)
from propagation.signal.counterfactual import Counterfactual
from propagation.signal.mode_chains import SLOTS
from propagation.signal.mode_sum import LEAST_POWER, NOTHING_DB, power
from propagation.signal.path_samples import Disturber, PathSamples

LOW_RAYS_DEG: Final = np.arange(0.0, 9.0)  # deg, among which the combined method takes the best gain
NEAR_WAYS_KM: Final = 7000.0  # km, beyond which scatter and ground wave are lost by far (over 300 dB)
ES_NEGLIGIBLE: Final = 1e-3  # share of the power under which sporadic E changes nothing (0.004 dB)
NO_POWER: Final = 1e-26  # power gain of no use to any receiver
# ways beside the modes of SLOTS, as numbers that follow theirs
LONG_WAY: Final = len(SLOTS)
SCATTER_WAY: Final = LONG_WAY + 1
GROUND_WAY: Final = LONG_WAY + 2


class TerminalGain(Protocol):
    """What a circuit needs to know of the antenna at one end."""

    def gain_dbi(
        self, frequency_mhz: FloatArray, elevation_deg: FloatArray, azimuth_deg: FloatArray
    ) -> FloatArray:
        """Gain [dBi], feed line in; frequency (.., B, 1), elevation (N, T, B, K), azimuth (N, 1, 1, 1)."""

    def horizon_deg(self, azimuth_deg: FloatArray) -> FloatArray:
        """Elevation of the site's horizon [deg]."""

    def ground_wave_gain_dbi(self, frequency_mhz: FloatArray, azimuth_deg: FloatArray) -> FloatArray:
        """Gain along the ground [dBi]."""

    @property
    def height_m(self) -> float:
        """Height over the surroundings [m], for line of sight."""


@dataclass(frozen=True)
class Circuit:
    """Everything between the two antenna feeds; arrays (N, T, B) unless said.

    gain_db (N, T, B, U, V): total gain of the path with both antennas, on each kind of day (negative).
    median_gain_db: the same on the median day. way: number of the strongest way on that day (index of
    SLOTS, or LONG_WAY, SCATTER_WAY, GROUND_WAY). elevation_deg, mirror_km: of that way (NaN where they mean
    nothing). muf_mhz (N, T): basic MUF of the path (of the easiest mode). support: frequency over the best
    operational MUF of any mode, above 1 where no layer carries it. absorption_db, screening_db, auroral_db:
    losses of the strongest mode. lowest_mhz (N, T): fL of the combined method beyond 7000 km, else NaN.
    mode_gain_db (N, T, B, K): each mode on the median day, antennas included, -900 where absent. short:
    indices (M,) of the routes that have modes; losses, chains: their details (M rows), None if there are
    none. long: likewise for routes beyond 7000 km. samples: the ionosphere along all routes.
    """

    frequency_mhz: FloatArray
    distance_km: FloatArray
    bearing_deg: FloatArray
    gain_db: FloatArray
    median_gain_db: FloatArray
    way: IntArray
    elevation_deg: FloatArray
    mirror_km: FloatArray
    muf_mhz: FloatArray
    lowest_mhz: FloatArray
    support: FloatArray
    absorption_db: FloatArray
    screening_db: FloatArray
    auroral_db: FloatArray
    mode_gain_db: FloatArray | None
    short: IntArray
    losses: path_loss.ModeLosses | None
    chains: mode_chains.Chains | None
    long: IntArray
    combined: long_path.LongPath | None
    samples: PathSamples


def circuit(
    route: Route,
    far_bearing_deg: FloatArray,
    times: TimeArray,
    frequency_mhz: FloatArray,
    index: FloatLike,
    near: TerminalGain,
    far: TerminalGain,
    disturber: Disturber | None = None,
    *,
    year: float | None = None,
    permittivity: float = 13.0,
    conductivity_s_per_m: float = 0.005,
    keep_modes: bool = True,
    relief: Counterfactual | None = None,
) -> Circuit:
    """Compute N routes (N,) at times (1 or N, T) and frequencies (B,) or (N, 1, B) [MHz].

    `far_bearing_deg` (N,): bearing from the far end back along the route. `index` (ionospheric, on the scale
    of R12) broadcasts with (N, T). The ground wave runs over ground of the given constants where the route is
    land, over sea where it is sea. `keep_modes` False leaves out the modes no route has and the record of
    each mode, which saves time and memory. `relief` takes losses off some of the rows, to see what they cost.
    """
    with_modes = keep_modes or bool(np.any(route.distance_km <= mode_chains.REACH_KM))
    samples = path_samples.sample(route, times, index, disturber, year=year, for_modes=with_modes)
    if relief is not None:
        samples = relief.of_samples(samples)
    n, t, _ = samples.fof2_mhz.shape
    f = as_float(frequency_mhz)
    f3 = f[None, None, :] if f.ndim == 1 else f  # (1 or N, 1, B)
    b = f3.shape[-1]
    d = samples.distance_km
    back = far_bearing_deg

    layer_power = np.zeros((n, t, b, len(variability.LAYER_NODES)))
    es_power = np.zeros((n, t, b, len(variability.ES_NODES)))
    median_power = np.zeros((n, t, b))
    level = np.full((n, t, b), NOTHING_DB)  # of the strongest way
    way = np.full((n, t, b), GROUND_WAY)
    elevation, mirror = np.zeros((n, t, b)), np.full((n, t, b), np.nan)
    muf_mhz, lowest = np.full((n, t), np.nan), np.full((n, t), np.nan)
    support = np.full((n, t, b), np.inf)
    absorbed, screened, aurora = (np.zeros((n, t, b)) for _ in range(3))
    kept = np.full((n, t, b, GROUND_WAY + 1), NOTHING_DB) if keep_modes else None

    def rows(index: IntArray) -> FloatArray:
        return f3 if f3.shape[0] == 1 else f3[index]

    short = np.flatnonzero(d <= mode_chains.REACH_KM)
    losses = chains = None
    if short.size:
        chains = mode_chains.chains(d[short], every_mode=keep_modes)
        losses = path_loss.mode_losses(_rows_of(samples, short), chains, rows(short))
        if relief is not None:
            losses = relief.of_losses(losses, short)
        antennas = _both_gains(
            near, far, rows(short), losses.elevation_deg, route.bearing_deg[short], back[short]
        )
        modes = mode_sum.mode_sum(losses, chains, antennas, rows(short))
        layer_power[short], es_power[short] = modes.layer_power, modes.es_power
        median_power[short] = modes.median_power
        level[short], way[short] = modes.of_best(modes.mode_gain_db), chains.slots[modes.best]
        elevation[short], mirror[short] = modes.of_best(losses.elevation_deg), modes.of_best(losses.mirror_km)
        muf_mhz[short], support[short] = modes.muf_mhz, modes.support
        absorbed[short] = modes.of_best(losses.absorption_db) + modes.of_best(losses.extra_absorption_db)
        screened[short], aurora[short] = modes.of_best(losses.screening_db), modes.of_best(losses.auroral_db)
        if kept is not None:
            kept[short, :, :, : len(SLOTS)] = modes.mode_gain_db

    far_rows = np.flatnonzero(d > long_path.START_KM)
    combined = None
    if far_rows.size:
        f_far = rows(far_rows)
        part = _rows_of(samples, far_rows)
        combined = long_path.combined(part, route.bearing_deg[far_rows])
        if relief is not None:
            combined = relief.of_long_path(combined, far_rows)
        gain = _low_gain(near, far, f_far, route.bearing_deg[far_rows], back[far_rows])
        to_gain = gain - long_path.FIELD_TO_LOSS_DB - 20.0 * np.log10(f_far)
        share = np.clip(
            (d[far_rows] - long_path.START_KM) / (long_path.FULL_KM - long_path.START_KM), 0.0, 1.0
        )
        part_way = share[:, None, None]
        by_long = combined.field_db(f_far) + to_gain
        by_day = combined.field_db(f_far[..., None], layer_factors(part)[..., None, :]) + to_gain[..., None]
        layer_power[far_rows] = _interpolate(layer_power[far_rows], by_day, part_way[..., None])
        es_power[far_rows] *= (1.0 - share)[:, None, None, None]
        median_power[far_rows] = _interpolate(median_power[far_rows], by_long, part_way)

        # from half way on the combined method speaks for the path
        spoken = share > 0.5
        over = far_rows[spoken]
        level[over], way[over] = by_long[spoken], LONG_WAY
        elevation[over] = np.maximum(combined.elevation_deg[spoken], 0.0)[:, None, None]
        mirror[over] = long_path.MIRROR_KM
        support[over] = (f_far / combined.upper_mhz[..., None])[spoken]
        absorbed[over] = combined.absorbed_db(f_far)[spoken]
        muf_mhz[far_rows] = combined.basic_mhz
        lowest[far_rows] = combined.lower_mhz
        if kept is not None:
            kept[over] = NOTHING_DB
            kept[over, :, :, LONG_WAY] = by_long[spoken]

    close = np.flatnonzero(d <= NEAR_WAYS_KM)
    if close.size:
        part = _rows_of(samples, close)
        scattered, over_muf, along_ground = _near_ways(
            part,
            rows(close),
            near,
            far,
            route.bearing_deg[close],
            back[close],
            permittivity,
            conductivity_s_per_m,
        )
        if relief is not None:
            over_muf = relief.of_ratio(over_muf, close)
        by_day = over_muf[..., None] / layer_factors(part)[..., None, :]
        layer_power[close] += (power(scattered)[..., None]) * path_loss.passing_share(by_day, "F2")
        layer_power[close] += power(along_ground)[..., None]
        scattered = scattered - path_loss.above_muf_loss_db(over_muf, "F2")
        median_power[close] += power(scattered) + power(along_ground)
        for number, gain, angle in (
            (SCATTER_WAY, scattered, scatter.TAKE_OFF_DEG),
            (GROUND_WAY, along_ground, 0.0),
        ):
            stronger = gain > level[close]
            level[close] = np.where(stronger, gain, level[close])
            way[close] = np.where(stronger, number, way[close])
            elevation[close] = np.where(stronger, angle, elevation[close])
            mirror[close] = np.where(stronger, np.nan, mirror[close])
            if kept is not None:
                kept[close, :, :, number] = gain

    least = np.maximum(ES_NEGLIGIBLE * np.min(layer_power, axis=-1, keepdims=True), NO_POWER)
    es_power = np.where(es_power > least, es_power, 0.0)
    if not np.any(es_power):
        es_power = es_power[..., :1]
    by_day = _decibels(layer_power[..., :, None] + es_power[..., None, :])
    return Circuit(
        frequency_mhz=f3,
        distance_km=d,
        bearing_deg=route.bearing_deg,
        gain_db=np.broadcast_to(by_day, (*by_day.shape[:-1], len(variability.ES_NODES))),
        median_gain_db=_decibels(median_power),
        way=way,
        elevation_deg=elevation,
        mirror_km=mirror,
        muf_mhz=muf_mhz,
        lowest_mhz=lowest,
        support=support,
        absorption_db=absorbed,
        screening_db=screened,
        auroral_db=aurora,
        mode_gain_db=kept,
        short=short,
        losses=losses if keep_modes else None,
        chains=chains,
        long=far_rows,
        combined=combined,
        samples=samples,
    )


def _decibels(ratio: FloatArray) -> FloatArray:
    return 10.0 * np.log10(np.maximum(ratio, LEAST_POWER))


def layer_factors(samples: PathSamples) -> FloatArray:
    """The F2 layer's MUF over its median on each kind of day (N, T, U)."""
    lower, upper = _spread(samples)
    return variability.layer_factor(lower[..., None], upper[..., None], variability.LAYER_NODES)


def _rows_of(samples: PathSamples, index: IntArray) -> PathSamples:
    """The samples of some of the routes; views where all are wanted."""
    if index.size == samples.distance_km.size:
        return samples
    n = samples.distance_km.size

    def pick(value: object) -> object:
        return value[index] if isinstance(value, np.ndarray) and value.shape[:1] == (n,) else value

    return PathSamples(**{name: pick(value) for name, value in vars(samples).items()})  # type: ignore[arg-type]


def _spread(samples: PathSamples) -> tuple[FloatArray, FloatArray]:
    r12 = np.broadcast_to(np.mean(samples.r12, axis=-1), samples.fof2_mhz.shape[:2])[..., None]
    lower, upper = variability.muf_spread(samples.solar_hour, samples.geomagnetic_latitude_deg, r12)
    return np.mean(lower, axis=-1), np.mean(upper, axis=-1)


def _both_gains(
    near: TerminalGain,
    far: TerminalGain,
    f3: FloatArray,
    elevation: FloatArray,
    bearing: FloatArray,
    back: FloatArray,
) -> FloatArray:
    """Sum of both antennas' gains at each mode's angle, less what each horizon hides (N, T, B, K)."""
    f4 = f3[..., None]
    total = np.zeros(())
    held = np.clip(elevation, 0.5, 90.0)
    for end, azimuth in ((near, bearing), (far, back)):
        az = azimuth[:, None, None, None]
        total = total + end.gain_dbi(f4, held, az)
        horizon = end.horizon_deg(az)
        if np.any(horizon):
            flat = path_loss.low_angle_loss_db(elevation)
            total = total - (path_loss.low_angle_loss_db(elevation, horizon) - flat)
    return np.broadcast_to(total, np.broadcast_shapes(total.shape, elevation.shape))


def _low_gain(
    near: TerminalGain, far: TerminalGain, f3: FloatArray, bearing: FloatArray, back: FloatArray
) -> FloatArray:
    """Sum of both antennas' best gains between 0 and 8 degrees (P.533 section 5.3, from memory) (N, 1, B)."""
    total = np.zeros(())
    for end, azimuth in ((near, bearing), (far, back)):
        az = azimuth[:, None, None, None]
        hidden = path_loss.low_angle_loss_db(LOW_RAYS_DEG + 3.0, end.horizon_deg(az))
        total = total + np.max(end.gain_dbi(f3[..., None], LOW_RAYS_DEG, az) - hidden, axis=-1)
    return total


def _interpolate(mode_power: FloatArray, by_long_db: FloatArray, share: FloatArray) -> FloatArray:
    """Power gain by P.533 section 5.4 between 7000 and 9000 km: linear in X = 10^(0.01 E) (from memory).

    `share` is how much of the way to the combined method has been gone; E may as well be the gain.
    """
    if np.all(share >= 1.0):
        return power(np.broadcast_to(by_long_db, mode_power.shape))
    x_modes = np.power(np.maximum(mode_power, LEAST_POWER), 0.1)
    x_long = np.power(10.0, 0.01 * by_long_db)
    mixed = np.maximum(x_modes + share * (x_long - x_modes), LEAST_POWER**0.1)
    return as_float(np.power(mixed, 10.0))


def _near_ways(
    samples: PathSamples,
    f3: FloatArray,
    near: TerminalGain,
    far: TerminalGain,
    bearing: FloatArray,
    back: FloatArray,
    permittivity: float,
    conductivity_s_per_m: float,
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Scatter into the skip zone (gain, f over the operational MUF at 3000 km) and the ground wave's gain."""
    middle = samples.fof2_mhz.shape[-1] // 2
    fof2, m3000 = samples.fof2_mhz[..., middle, None], samples.m3000f2[..., middle, None]
    d = samples.distance_km[:, None, None]
    az, az_back = bearing[:, None, None, None], back[:, None, None, None]
    f4 = f3[..., None]
    lit = np.full((1, 1, 1, 1), scatter.TAKE_OFF_DEG)
    antennas = (near.gain_dbi(f4, lit, az) + far.gain_dbi(f4, lit, az_back))[..., 0]
    absorbed = (
        2.0
        * samples.d_strength[..., middle, None]
        * absorption.d_layer_by_frequency(
            f3, np.broadcast_to(samples.longitudinal_gyro_mhz, samples.fof2_mhz.shape)[..., middle, None]
        )
        * hops.sec_incidence(scatter.TAKE_OFF_DEG, absorption.D_CROSSING_KM)
    )
    scattered = antennas - scatter.scatter_loss_db(d, f3, fof2, m3000) - absorbed
    over = f3 / (1.1 * m3000 * fof2)

    sea = np.mean(samples.sea_share, axis=-1)[:, None, None]
    along_land = ground_wave.ground_wave_loss_db(
        d, f3, permittivity, conductivity_s_per_m, near.height_m, far.height_m
    )
    along_sea = ground_wave.ground_wave_loss_db(d, f3, 75.0, 5.0, near.height_m, far.height_m)
    loss = along_land + (along_sea - along_land) * sea
    gain = near.ground_wave_gain_dbi(f3, bearing[:, None, None]) + far.ground_wave_gain_dbi(
        f3, back[:, None, None]
    )
    shape = np.broadcast_shapes(scattered.shape, over.shape)
    return (
        np.broadcast_to(scattered, shape),
        np.broadcast_to(over, shape),
        np.broadcast_to(gain - loss, shape),
    )
