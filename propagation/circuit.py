"""One circuit, antenna to antenna: the power sum of every way a signal can take, on every kind of day.

Joins the modes of `path_loss` (to 9000 km), the combined method of `long_path` (beyond 7000 km, the two
interpolated in between as P.533 does), sporadic E, scatter into the skip zone and the ground wave. A day is described by
two normal scores, one for the F2 layer and one for sporadic E (`variability`); every F2 mode of a circuit shares the
first, so modes are never treated as independent. Gains are the same both ways: the path is reciprocal.
Shapes: N routes, T times, B frequencies, K modes, U layer days, V sporadic-E days.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Protocol

import numpy as np

from propagation import absorption, ground_wave, hops, long_path, mode_chains, path_loss, path_samples, scatter, variability
from propagation.great_circle import Route
from propagation.mode_chains import HAS_HIGH, IS_ES, SLOTS
from propagation.path_samples import Disturber, PathSamples
from propagation.relief import Relief
from propagation.units import FloatArray, FloatLike, IntArray, TimeArray, as_float

_NOTHING_DB: Final = -400.0  # dB, gain of a way that does not exist
LOW_RAYS_DEG: Final = np.arange(0.0, 9.0)  # deg, elevations among which the combined method takes the best gain
# ways beside the modes of SLOTS, as numbers that follow theirs
LONG_WAY: Final = len(SLOTS)
SCATTER_WAY: Final = LONG_WAY + 1
GROUND_WAY: Final = LONG_WAY + 2
VHF_MHZ: Final = 30.0  # MHz, above it a raised antenna's own gain serves along the ground


class EndGain(Protocol):
    """What a circuit needs to know of the antenna at one end."""

    def gain_dbi(self, frequency_mhz: FloatArray, elevation_deg: FloatArray, azimuth_deg: FloatArray) -> FloatArray:
        """Gain [dBi], feed line included; frequency (.., B, 1), elevation (N, T, B, K), azimuth (N, 1, 1, 1)."""

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
    median_gain_db: the same on the median day. way: number of the strongest way on that day (index of SLOTS, or
    LONG_WAY, SCATTER_WAY, GROUND_WAY). elevation_deg, mirror_km: of that way (NaN where they mean nothing). muf_mhz (N, T):
    basic MUF of the path (of the easiest mode). support: frequency over the best operational MUF of any mode, above 1
    where no layer carries it. absorption_db, screening_db, auroral_db: losses of the strongest mode. lowest_mhz (N, T): fL of the combined method beyond 7000 km, else NaN.
    mode_gain_db (N, T, B, K): each mode on the median day, antennas included, -400 where absent.
    short: indices (M,) of the routes that have modes; losses, chains: their details (M rows), None if there are none.
    long: likewise for routes beyond 7000 km. samples: the ionosphere along all routes.
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


def _power(gain_db: FloatArray) -> FloatArray:
    return np.exp(0.23025850929940458 * np.maximum(gain_db, _NOTHING_DB))


def circuit(
    route: Route, far_bearing_deg: FloatArray, times: TimeArray, frequency_mhz: FloatArray, r12: FloatLike,
    near: EndGain, far: EndGain, disturber: Disturber | None = None, *, year: float | None = None,
    permittivity: float = 13.0, conductivity_s_per_m: float = 0.005, keep_modes: bool = True,
    relief: Relief | None = None,
) -> Circuit:
    """Compute N routes (N,) at times (1 or N, T) and frequencies (B,) or (N, 1, B) [MHz].

    `far_bearing_deg` (N,): bearing from the far end back along the route. `r12` broadcasts with (N, T).
    The ground wave runs over ground of the given constants where the route is land, over sea where it is sea.
    `relief` takes losses off some of the rows, to see what they cost.
    """
    samples = path_samples.sample(route, times, r12, disturber, year=year)
    if relief is not None:
        samples = relief.of_samples(samples)
    n, t, _ = samples.fof2_mhz.shape
    f = as_float(frequency_mhz)
    f3 = f[None, None, :] if f.ndim == 1 else f  # (1 or N, 1, B)
    b = f3.shape[-1]
    d = samples.distance_km
    u_count, v_count = len(variability.LAYER_NODES), len(variability.ES_NODES)

    layer_power = np.zeros((n, t, b, u_count))
    es_power = np.zeros((n, t, b, v_count))
    median_power = np.zeros((n, t, b))  # of the modes and the combined method together
    way_gain = np.full((n, t, b, GROUND_WAY + 1), _NOTHING_DB)
    elevation = np.full((n, t, b, GROUND_WAY + 1), np.nan)
    mirror = np.full((n, t, b, GROUND_WAY + 1), np.nan)
    muf_mhz = np.full((n, t), np.nan)
    lowest = np.full((n, t), np.nan)
    support = np.full((n, t, b), np.inf)
    terms = np.zeros((3, n, t, b))

    def rows(index: IntArray) -> FloatArray:
        return f3 if f3.shape[0] == 1 else f3[index]

    short = np.flatnonzero(d <= mode_chains.REACH_KM)
    losses = chains = None
    if short.size:
        part = _rows_of(samples, short)
        chains = mode_chains.chains(d[short])
        losses = path_loss.mode_losses(part, chains, rows(short))
        if relief is not None:
            losses = relief.of_losses(losses, short)
        fixed = -losses.fixed_db() + _both_gains(
            near, far, rows(short), losses.elevation_deg, route.bearing_deg[short], far_bearing_deg[short]
        )
        fixed = np.where(losses.valid[:, None, None, :], fixed, _NOTHING_DB)
        f4 = rows(short)[..., None]
        with np.errstate(divide="ignore"):
            x_e = np.where(np.isinf(losses.e_muf_mhz), 0.0, 1.0 / np.maximum(losses.e_muf_mhz, 0.05))
            x_f2 = np.where(np.isinf(losses.f2_muf_mhz), 0.0, 1.0 / np.maximum(losses.f2_operational_mhz, 0.05))
        fixed = fixed - np.where(
            mode_chains.HAS_LOW & ~IS_ES, path_loss.above_muf_loss_db(f4 * x_e[:, :, None], "E"), 0.0
        )
        over = f4 * x_f2[:, :, None]
        median_lm = np.where(HAS_HIGH, path_loss.above_muf_loss_db(over, "F2"), 0.0)
        plain = ~IS_ES
        high = fixed[..., HAS_HIGH & plain]
        over_high = over[..., HAS_HIGH & plain]
        steady = np.sum(_power(fixed[..., ~HAS_HIGH & plain]), axis=-1)
        for i, score in enumerate(variability.LAYER_NODES):
            factor = variability.layer_factor(losses.spread_low, losses.spread_high, score)[..., None, None]
            lm = path_loss.above_muf_loss_db(over_high / factor, "F2")
            layer_power[short, :, :, i] = steady + np.sum(_power(high - lm), axis=-1)
        es_fixed = (fixed - median_lm)[..., IS_ES]
        es_gain = es_fixed[..., None] - losses.es_loss_db
        es_power[short] = np.sum(_power(es_gain), axis=-2)
        modes = fixed - median_lm
        modes[..., IS_ES] = _median_es(es_gain)
        way_gain[short, :, :, : len(SLOTS)] = modes
        median_power[short] = np.sum(_power(modes), axis=-1)
        elevation[short, :, :, : len(SLOTS)] = losses.elevation_deg
        mirror[short, :, :, : len(SLOTS)] = np.where(HAS_HIGH, losses.mirror_km, 110.0)
        own = np.where(losses.valid[:, None, :] & ~IS_ES, np.fmin(losses.f2_muf_mhz, losses.e_muf_mhz), 0.0)
        muf_mhz[short] = np.max(own, axis=-1)
        # an F2 mode counts with its E hops, if it has any: the harder of the two decides
        needed = np.maximum(np.where(HAS_HIGH, over, 0.0), f4 * x_e[:, :, None])
        needed = np.where(losses.valid[:, None, None, :] & plain, needed, np.inf)
        support[short] = np.min(needed, axis=-1)
        best = np.argmax(modes, axis=-1)[..., None]
        for i, term in enumerate((losses.absorption_db + losses.extra_absorption_db, losses.screening_db, losses.auroral_db)):
            whole = np.broadcast_to(term, modes.shape)
            terms[i, short] = np.take_along_axis(whole, best, axis=-1)[..., 0]

    far_rows = np.flatnonzero(d > long_path.START_KM)
    combined = None
    if far_rows.size:
        part = _rows_of(samples, far_rows)
        combined = long_path.combined(part, route.bearing_deg[far_rows])
        if relief is not None:
            combined = relief.of_long_path(combined, far_rows)
        gain = _low_gain(near, far, rows(far_rows), route.bearing_deg[far_rows], far_bearing_deg[far_rows])
        spread_low, spread_high = _spread(part)
        share = np.clip((d[far_rows] - long_path.START_KM) / (long_path.FULL_KM - long_path.START_KM), 0.0, 1.0)
        to_gain = gain - long_path.FIELD_TO_LOSS_DB - 20.0 * np.log10(rows(far_rows))
        for i, score in enumerate(variability.LAYER_NODES):
            factor = variability.layer_factor(spread_low, spread_high, score)[..., None]
            by_long = combined.field_db(rows(far_rows), factor) + to_gain
            by_modes = 10.0 * np.log10(np.maximum(layer_power[far_rows, :, :, i], 1e-40))
            layer_power[far_rows, :, :, i] = _power(_interpolate(by_modes, by_long, share[:, None, None]))
        es_power[far_rows] *= (1.0 - share)[:, None, None, None]
        by_long = combined.field_db(rows(far_rows)) + to_gain
        by_modes = 10.0 * np.log10(np.maximum(median_power[far_rows], 1e-40))
        median_power[far_rows] = _power(_interpolate(by_modes, by_long, share[:, None, None]))
        way_gain[far_rows, :, :, LONG_WAY] = np.where(share[:, None, None] > 0.5, by_long, _NOTHING_DB)
        standing = way_gain[far_rows][..., : len(SLOTS)]
        way_gain[far_rows, :, :, : len(SLOTS)] = np.where(share[:, None, None, None] > 0.5, _NOTHING_DB, standing)
        elevation[far_rows, :, :, LONG_WAY] = np.maximum(combined.elevation_deg, 0.0)[:, None, None]
        mirror[far_rows, :, :, LONG_WAY] = long_path.MIRROR_KM
        muf_mhz[far_rows] = np.where(share[:, None] > 0.0, combined.basic_mhz, muf_mhz[far_rows])
        lowest[far_rows] = combined.lower_mhz
        by_ratio = rows(far_rows) / combined.upper_mhz[..., None]
        support[far_rows] = np.where(share[:, None, None] > 0.5, by_ratio, support[far_rows])
        eaten = combined.absorbed_db(rows(far_rows))
        terms[0, far_rows] = np.where(share[:, None, None] > 0.5, eaten, terms[0, far_rows])

    near_by = _near_ways(
        samples, f3, near, far, route.bearing_deg, far_bearing_deg, permittivity, conductivity_s_per_m
    )
    scatter_gain, scatter_over, ground_gain = near_by
    if relief is not None:
        scatter_over = relief.of_ratio(scatter_over)
    spread_low, spread_high = _spread(samples)
    for i, score in enumerate(variability.LAYER_NODES):
        factor = variability.layer_factor(spread_low, spread_high, score)[..., None]
        layer_power[..., i] += _power(scatter_gain - path_loss.above_muf_loss_db(scatter_over / factor, "F2"))
    layer_power += _power(ground_gain)[..., None]
    way_gain[..., SCATTER_WAY] = scatter_gain - path_loss.above_muf_loss_db(scatter_over, "F2")
    way_gain[..., GROUND_WAY] = ground_gain
    elevation[..., SCATTER_WAY] = scatter.TAKE_OFF_DEG
    elevation[..., GROUND_WAY] = 0.0

    median_power += _power(way_gain[..., SCATTER_WAY]) + _power(ground_gain)
    total = layer_power[..., :, None] + es_power[..., None, :]
    way = np.argmax(way_gain, axis=-1)
    chosen = way[..., None]
    return Circuit(
        frequency_mhz=f3, distance_km=d, bearing_deg=route.bearing_deg,
        gain_db=10.0 * np.log10(np.maximum(total, 1e-40)),
        median_gain_db=10.0 * np.log10(np.maximum(median_power, 1e-40)),
        way=way, elevation_deg=np.take_along_axis(elevation, chosen, axis=-1)[..., 0],
        mirror_km=np.take_along_axis(mirror, chosen, axis=-1)[..., 0], muf_mhz=muf_mhz, lowest_mhz=lowest,
        support=support, absorption_db=terms[0], screening_db=terms[1], auroral_db=terms[2], mode_gain_db=way_gain if keep_modes else None, short=short, losses=losses if keep_modes else None,
        chains=chains, long=far_rows, combined=combined, samples=samples,
    )


def _median_es(es_gain: FloatArray) -> FloatArray:
    """Gain of the sporadic-E modes on the median day, between the two nodes beside it."""
    nodes = variability.ES_NODES
    right = int(np.searchsorted(nodes, 0.0))
    share = (0.0 - nodes[right - 1]) / (nodes[right] - nodes[right - 1])
    return es_gain[..., right - 1] * (1.0 - share) + es_gain[..., right] * share


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
    near: EndGain, far: EndGain, f3: FloatArray, elevation: FloatArray, bearing: FloatArray, back: FloatArray
) -> FloatArray:
    """Sum of both antennas' gains at each mode's take-off angle, less what each horizon hides (N, T, B, K)."""
    f4 = f3[..., None]
    total = np.zeros(())
    for end, azimuth in ((near, bearing), (far, back)):
        az = azimuth[:, None, None, None]
        hidden = path_loss.low_angle_loss_db(elevation, end.horizon_deg(az)) - path_loss.low_angle_loss_db(elevation)
        total = total + end.gain_dbi(f4, np.clip(elevation, 0.5, 90.0), az) - hidden
    return total


def _low_gain(near: EndGain, far: EndGain, f3: FloatArray, bearing: FloatArray, back: FloatArray) -> FloatArray:
    """Sum of both antennas' best gains between 0 and 8 degrees (P.533 section 5.3, from memory) (N, 1, B)."""
    total = np.zeros(())
    for end, azimuth in ((near, bearing), (far, back)):
        az = azimuth[:, None, None, None]
        hidden = path_loss.low_angle_loss_db(LOW_RAYS_DEG + 3.0, end.horizon_deg(az))
        total = total + np.max(end.gain_dbi(f3[..., None], LOW_RAYS_DEG, az) - hidden, axis=-1)
    return total


def _interpolate(by_modes: FloatArray, by_long: FloatArray, share: FloatArray) -> FloatArray:
    """P.533 section 5.4 between 7000 and 9000 km: linear in X = 10^(0.01 E) (from memory)."""
    x_modes, x_long = np.power(10.0, 0.01 * by_modes), np.power(10.0, 0.01 * by_long)
    return 100.0 * np.log10(np.maximum(x_modes + share * (x_long - x_modes), 1e-4))


def _near_ways(
    samples: PathSamples, f3: FloatArray, near: EndGain, far: EndGain, bearing: FloatArray, back: FloatArray,
    permittivity: float, conductivity_s_per_m: float,
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Scatter into the skip zone (gain, f over the operational MUF at 3000 km) and the ground wave's gain."""
    middle = samples.fof2_mhz.shape[-1] // 2
    fof2, m3000 = samples.fof2_mhz[..., middle, None], samples.m3000f2[..., middle, None]
    d = samples.distance_km[:, None, None]
    az, az_back = bearing[:, None, None, None], back[:, None, None, None]
    f4 = f3[..., None]
    lit = np.full((1, 1, 1, 1), scatter.TAKE_OFF_DEG)
    antennas = (near.gain_dbi(f4, lit, az) + far.gain_dbi(f4, lit, az_back))[..., 0]
    absorbed = 2.0 * samples.d_strength[..., middle, None] * absorption.d_layer_by_frequency(
        f3, np.broadcast_to(samples.longitudinal_gyro_mhz, samples.fof2_mhz.shape)[..., middle, None]
    ) * hops.sec_incidence(scatter.TAKE_OFF_DEG, absorption.D_CROSSING_KM)
    scattered = antennas - scatter.scatter_loss_db(d, f3, fof2, m3000) - absorbed
    over = f3 / (1.1 * m3000 * fof2)

    sea = np.mean(samples.sea_share, axis=-1)[:, None, None]
    along_land = ground_wave.ground_wave_loss_db(
        d, f3, permittivity, conductivity_s_per_m, near.height_m, far.height_m
    )
    along_sea = ground_wave.ground_wave_loss_db(d, f3, 75.0, 5.0, near.height_m, far.height_m)
    loss = along_land + (along_sea - along_land) * sea
    gain = near.ground_wave_gain_dbi(f3, bearing[:, None, None]) + far.ground_wave_gain_dbi(f3, back[:, None, None])
    shape = np.broadcast_shapes(scattered.shape, over.shape)
    return np.broadcast_to(scattered, shape), np.broadcast_to(over, shape), np.broadcast_to(gain - loss, shape)
