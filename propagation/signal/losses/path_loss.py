"""Loss of every ray path of a path up to 10 000 km, term by term.

Follows the structure of P.533 section 5: free space over the virtual slant range, absorption at every
crossing of the D and E layers, screening of F2 by E, reflection at the ground, auroral loss, loss above the
MUF, other losses. Differences: absorption from `absorption`, screening by the spread of foE, mixed chains of
layers, and land and sea at the ground reflections. Shapes: N routes, T times, B frequencies, K ray paths.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from functools import lru_cache
from math import erfc, sqrt
from typing import Final, TypeVar

import numpy as np
from numpy.typing import NDArray

from propagation.base.constants import E_LAYER_HEIGHT_KM
from propagation.base.units import DEG, BoolArray, FloatArray, FloatLike, as_float, as_real, single
from propagation.ionosphere import absorption, auroral, hops, mirror_height, variability
from propagation.ionosphere.absorption import Rays
from propagation.ionosphere.sporadic_e import (
    LOSS_MAX_DB,
    foes_quantile_mhz,
    hidden_loss_db,
    loss_by_distance,
)
from propagation.signal.rays.hop_layers import HopLayers, hop_layers
from propagation.signal.rays.path_samples import PathSamples, RouteInterpolator, daylight
from propagation.signal.rays.ray_paths import HOPS_MAX, IS_ES, Chains

AnyArray = TypeVar("AnyArray", FloatArray, NDArray[np.complex64])
# dB, Lz: all losses not counted elsewhere, the same for every ray path. P.533 has 8.72 (from memory),
# including the loss of the extraordinary wave, which `absorption` counts (1.1 dB on the mean). Calibrated on
# the ITU-R's bank of measured field strengths (`fixtures/field_strength`)
OTHER_LOSS_DB: Final = 7.6
SEA_BOUNCE_DB: Final = 0.8  # dB, ground reflection at sea (Fresnel, low angles; P.533 counts 2 dB anywhere)
LAND_BOUNCE_DB: Final = 2.5  # dB, ground reflection on land
FLAT_RAY_DEG: Final = 3.0  # deg over the skyline of a site, below which the loss of a ray increases (ours)
GRAZING_DB_PER_SQUARE_DEG: Final = 2.0  # dB, loss of rays under the skyline or the horizon (ours)
ES_TURN_X: Final = 0.8  # f cos i / foE at which sporadic E, at the foot of the E layer, turns its ray (ours)
ABOVE_MUF_SOFTNESS: Final = 0.02  # of f/MUF, over which the loss above the MUF sets in (ours)
ABOVE_MUF_CURVE_DB: Final = 100.0  # dB per (f/MUF - 1)^2 of one hop, see above_muf_loss_db (calibrated, bank)
STEEP_SHARPNESS: Final = 1.5  # see edge_sharpness (common practice, no source)
STEEP_HOP_KM: Final = 400.0  # km (ours)
ABOVE_MUF_MOST_DB: Final = 200.0  # dB, keeps sums finite (ours)
_TABLE_STEPS_PER_UNIT: Final = 20_000  # of f/MUF, in the table of the share that passes above the MUF
LN_10: Final = float(np.log(10.0))
_TABLE_STEPS: Final = 80_000  # up to f/MUF = 4
FOE_SPREAD: Final = 0.06  # relative spread of foE from day to day and place to place, as in the table of
# absorption (ours; deciles of 0.95 and 1.05 from day to day alone: P.533, from memory)
# of foE sec i, where half of the days screen an F2 ray path (calibrated, bank; P.533: 1.05, from memory)
SCREENING_SHARE: Final = 0.9
SCREENING_MOST_DB: Final = 50.0  # dB, the ray path is then negligible against the others (ours)
_SCREENING_STEPS_PER_UNIT: Final = 10_000  # of f over foE sec i, in the table of the share passed
_SCREENING_STEPS: Final = 14_000  # up to 1.4, where all passes


@dataclass(frozen=True)
class RayPathLosses:
    """Terms of the transmission loss between isotropic antennas, for the median day.

    (N, T, B, K) [dB], losses positive: free_space_db, absorption_db (quiet), extra_absorption_db
    (flare, polar cap), screening_db, bounce_db (ground reflections), auroral_db, stretch_db (hops stretched
    beyond their layer's limit), other_db. elevation_deg, mirror_km (N, T, B, K). f2_muf_mhz, e_muf_mhz
    (N, T, K): basic MUF of the chain's high and low hops, inf where it has none. es_loss_db
    (N, T, B, Kes, V): loss at sporadic-E layers on days of `variability.ES_NODES`. edge (N, T, K): see
    `edge_sharpness`. spread_low, spread_high (N, T): day-to-day spread of the F2 MUF. valid (N, K).
    """

    free_space_db: FloatArray
    absorption_db: FloatArray
    extra_absorption_db: FloatArray
    screening_db: FloatArray
    bounce_db: FloatArray
    auroral_db: FloatArray
    stretch_db: FloatArray
    other_db: FloatArray
    elevation_deg: FloatArray
    mirror_km: FloatArray
    f2_muf_mhz: FloatArray
    e_muf_mhz: FloatArray
    es_loss_db: FloatArray
    edge: FloatArray
    spread_low: FloatArray
    spread_high: FloatArray
    valid: BoolArray

    def fixed_db(self) -> FloatArray:
        """Sum of the terms that do not depend on the day's layer (N, T, B, K)."""
        total = self.free_space_db + self.absorption_db
        for term in (
            self.extra_absorption_db,
            self.screening_db,
            self.bounce_db,
            self.auroral_db,
            self.stretch_db,
            self.other_db,
        ):
            total = total + term
        return total


@dataclass(frozen=True)
class HopLosses:
    """Losses of every hop [dB]; N routes, T times, B frequencies, M hops of all ray paths.

    up_db, down_db (N, T, B, M): absorption of the ordinary wave where the hop crosses the D and E layers
    upward and downward. up_event_db, down_event_db: by flares and in the polar cap there, (1, 1, 1, 1) when
    quiet. reflection_db (N, 1, 1, M): at the ground after the hop, 0 after the last. All are 0 for hops that
    a route does not have.
    """

    up_db: FloatArray
    down_db: FloatArray
    up_event_db: FloatArray
    down_event_db: FloatArray
    reflection_db: FloatArray


LOSS_TERMS: Final = tuple(
    f.name for f in fields(RayPathLosses) if f.name.endswith("_db") and f.name != "es_loss_db"
)


def above_muf_loss_db(
    frequency_over_muf: FloatLike, layer: str, hops_by_layer: FloatLike = 1.0
) -> FloatArray:
    """Loss Lm [dB] of a ray path above its basic MUF; broadcasts.

    F2: 36 sqrt(y) + 5, E: 46 sqrt(y) + 5, y = f/fb - 1 (P.533 section 5.2.2.4, from memory), with the step at
    f = fb rounded over 2 % of the MUF so that neighbouring cells agree. P.533 caps the loss at 60 and 58 dB,
    because other ray paths carry the signal by then. Here those are computed separately (`scatter`), so the
    loss continues to grow: 100 (y / n)^2 is added, n the number of hops by the layer (`hops_by_layer`). One
    hop ends at the edge of the skip zone. A path of several hops has hops of unequal lengths and tilted
    layers, and measured fields fall more slowly. Calibrated on the ITU-R's bank of measured field strengths,
    between 0.75 and 1.4 of the MUF by day and by night.
    """
    slope = 36.0 if layer == "F2" else 46.0
    over = (as_float(frequency_over_muf) - 1.0) / ABOVE_MUF_SOFTNESS
    decay = np.exp(-np.abs(over))
    excess = ABOVE_MUF_SOFTNESS * (np.maximum(over, 0.0) + np.log1p(decay))
    step = np.where(over >= 0.0, 1.0, decay) / (1.0 + decay)
    shared = excess / as_float(hops_by_layer)
    loss = ABOVE_MUF_CURVE_DB * (shared * shared) + (slope * np.sqrt(excess) + 5.0 * step)
    return np.minimum(loss, ABOVE_MUF_MOST_DB)


def edge_sharpness(hop_km: FloatLike, day: FloatLike) -> FloatArray:
    """Factor on f/MUF - 1 in the loss above the MUF, by hop length [km] and daylight (0..1); broadcasts.

    2.5 near overhead by day, 1 from some 800 km on and by night. The peak of the layer itself must turn a
    steep ray. Above the critical frequency of the extraordinary wave no layer turns it. For oblique rays,
    tilts help. By night the layer is rough (spread F), and measured fields near overhead fall slowly (common
    practice, no source; the bank has few day-time values there).
    """
    return 1.0 + STEEP_SHARPNESS * as_float(day) * np.exp(-((as_float(hop_km) / STEEP_HOP_KM) ** 2))


@lru_cache(maxsize=1)
def _passing_table() -> FloatArray:
    """Table with rows for 0 (as 1) to `HOPS_MAX` hops by the F2 layer, columns in steps of f/MUF."""
    ratio = single(np.arange(_TABLE_STEPS) / _TABLE_STEPS_PER_UNIT)
    count = single(np.maximum(np.arange(HOPS_MAX + 1), 1))[:, None]
    return as_float(np.exp(-0.1 * LN_10 * above_muf_loss_db(ratio, "F2", count))).ravel()


def passing_share(frequency_over_muf: FloatArray, f2_hops: FloatLike = 1.0) -> FloatArray:
    """Share of power that the F2 layer returns above its MUF, 10^(-Lm / 10), from a table; broadcasts.

    Within 0.02 dB of `above_muf_loss_db` (tested) at a quarter of its cost, for the many kinds of day.
    Constant beyond f/MUF = 4, where every chain has lost over 90 dB.
    """
    place = np.clip(frequency_over_muf * _TABLE_STEPS_PER_UNIT + 0.5, 0.0, _TABLE_STEPS - 1.0).astype(np.intp)
    return _passing_table().take(place + np.asarray(f2_hops).astype(np.intp) * _TABLE_STEPS)


def make_tables() -> None:
    """Make the tables now, which are else made at first use."""
    _passing_table()
    _screening_table()


@lru_cache(maxsize=1)
def _screening_table() -> FloatArray:
    over = np.arange(_SCREENING_STEPS + 1) / _SCREENING_STEPS_PER_UNIT - 1.0
    passing = as_float([0.5 * erfc(-z / sqrt(2.0)) for z in (over / FOE_SPREAD).tolist()])
    return np.minimum(-10.0 * np.log10(np.maximum(passing, 1e-30)), SCREENING_MOST_DB)


def screening_loss_db(frequency_mhz: FloatLike, e_limit_mhz: FloatLike) -> FloatArray:
    """Loss [dB] of an F2 ray at an E layer that on the median day returns frequencies up to `e_limit_mhz`.

    P.533 drops such ray paths altogether, up to 1.05 foE sec i. But foE varies from day to day and along the
    layer, by FOE_SPREAD about its median. The ray passes in that share of places and days where foE is low
    enough. The loss is that of its mean power, 10 log of the share: 3 dB at foE sec i, 0.3 dB a tenth above
    it, 13 dB a tenth below; at most 50 dB (normal distribution; ours).
    """
    place = as_float(frequency_mhz) / as_float(e_limit_mhz) * _SCREENING_STEPS_PER_UNIT + 0.5
    at = np.minimum(place, float(_SCREENING_STEPS)).astype(np.intp)
    return _screening_table().take(at).astype(place.dtype)


def low_angle_loss_db(elevation_deg: FloatLike, horizon_deg: FloatLike = 0.0) -> FloatArray:
    """Loss [dB] of a ray close to or under the skyline of a site; broadcasts.

    2 dB per square degree below 3 degrees over it: 18 dB at grazing. The square keeps the loss of
    neighbouring distances similar (ours).
    """
    under = np.maximum(FLAT_RAY_DEG + as_real(horizon_deg) - as_float(elevation_deg), 0.0)
    return np.minimum(GRAZING_DB_PER_SQUARE_DEG * under**2, 200.0)


def ray_path_losses(samples: PathSamples, chains: Chains, frequency_mhz: FloatArray) -> RayPathLosses:
    """Compute all terms for N routes up to 10 000 km at frequencies of shape (B,) or (1 or N, 1, B) [MHz].

    Arrays over bands are in single precision: within 0.01 dB of double precision (tested).
    """
    f = np.atleast_1d(single(frequency_mhz))
    f = (f[None, None, :] if f.ndim == 1 else f)[..., None]  # (1 or N, 1, B, 1)
    layers = hop_layers(samples, chains).in_single()
    chains = chains.in_single()
    mirror, elevation = _geometry(samples, chains, layers, f)
    ray = elevation * DEG
    sin_el, cos_el = np.sin(ray), np.cos(ray)
    rays = Rays.of(cos_el)
    n_low, n_high = chains.low_count[:, None, None], chains.high_count[:, None, None]
    slant = n_low * hops.slant_of(sin_el, E_LAYER_HEIGHT_KM) + n_high * hops.slant_of(sin_el, mirror)
    absorbed_db, event_db = _absorption(samples, chains, layers, f, rays)
    lower, upper = samples.muf_spread()
    day = np.mean(daylight(samples.zenith_deg), axis=-1)
    return RayPathLosses(
        free_space_db=32.45 + 20.0 * np.log10(f) + 20.0 * np.log10(np.maximum(slant, 1.0)),
        absorption_db=absorption.both_waves_db(absorbed_db, f, _mean_gyro_mhz(samples)),
        extra_absorption_db=event_db,
        screening_db=_screening(chains, layers, f, rays),
        bounce_db=_over_hops(_reflection_db(samples, chains), chains),
        auroral_db=_aurora(samples, chains),
        stretch_db=chains.stretch_db[:, None, None],
        other_db=single(np.full((1, 1, 1, 1), OTHER_LOSS_DB)),
        elevation_deg=elevation,
        mirror_km=mirror,
        f2_muf_mhz=layers.f2_muf_mhz,
        e_muf_mhz=layers.e_muf_mhz,
        es_loss_db=_es_loss(samples, chains, f, rays.sec_e[..., chains.with_es]),
        edge=single(edge_sharpness(chains.high_km[:, None], day[..., None])),
        spread_low=lower,
        spread_high=upper,
        valid=chains.valid,
    )


def _geometry(
    samples: PathSamples, chains: Chains, layers: HopLayers, f: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Mirror height [km] of the F2 hops (110 km without) and take-off angle [deg] (N, T, B, K)."""
    n, t = samples.fof2_mhz.shape[:2]
    high = chains.with_high
    r12 = single(samples.r12_mean())[..., None, None]
    shape = (n, t, f.shape[2], chains.templates.size)
    mirror = np.full(shape, E_LAYER_HEIGHT_KM, dtype=f.dtype)
    mirror[..., high] = mirror_height.f2_mirror_height_km(
        f,
        np.maximum(layers.fof2_mhz[:, :, None, high], 0.3),
        np.maximum(layers.foe_mhz[:, :, None, high], 0.1),
        np.maximum(layers.m3000f2[:, :, None, high], 1.5),
        r12,
        chains.high_km[:, None, None, high],
    )
    elevation = np.empty(shape, dtype=f.dtype)
    for kind in chains.kinds:
        elevation[..., kind] = hops.common_elevation_deg(
            chains.distance_km[:, None, None, None],
            chains.low_count[:, None, None, kind],
            E_LAYER_HEIGHT_KM,
            chains.high_count[:, None, None, kind],
            mirror[..., kind],
        )
    return mirror, elevation


def hop_losses(
    samples: PathSamples, chains: Chains, layers: HopLayers, f: FloatArray, rays: Rays
) -> HopLosses:
    """Losses of every hop at frequencies f (1 or N, 1, B, 1) [MHz] for rays (N, T, B, K)."""
    owner = chains.hop_ray_path
    by_d, by_e = (v[..., owner] for v in rays.unit_losses_db(f, _mean_gyro_mhz(samples)))
    up, down = (by_d * met.real + by_e * met.imag for met in _met(chains, layers, f, rays))
    extra, sec_d = _event_strength(chains, layers), rays.sec_d[..., owner]
    up_event, down_event = (_event_db(part, f, sec_d) for part in extra)
    return HopLosses(up, down, up_event, down_event, _reflection_db(samples, chains))


def _absorption(
    samples: PathSamples, chains: Chains, layers: HopLayers, f: FloatArray, rays: Rays
) -> tuple[FloatArray, FloatArray]:
    """Absorption [dB] of the ordinary wave and by events (N, T, B, K): `hop_losses` over all hops.

    The crossings of a ray are summed before its angle and frequency enter.
    """
    up, down = _met(chains, layers, f, rays)
    up += down
    met = _over_hops(up, chains)
    by_d, by_e = rays.unit_losses_db(f, _mean_gyro_mhz(samples))
    up_event, down_event = _event_strength(chains, layers)
    event = _over_hops(up_event + down_event, chains)
    return by_d * met.real + by_e * met.imag, _event_db(event, f, rays.sec_d)


def _met(
    chains: Chains, layers: HopLayers, f: FloatArray, rays: Rays
) -> tuple[NDArray[np.complex64], NDArray[np.complex64]]:
    """D and E layers met by every hop on its way up and down (N, T, B, M), see `absorption.layers_met`.

    Each crossing uses its own layers, because the loss is not linear in foE and zenith angle.
    """
    owner = chains.hop_ray_path
    turned = np.where(IS_ES[chains.templates][owner], ES_TURN_X, absorption.TURNED_X)
    limit = np.where(chains.hop_low, turned, absorption.THROUGH)[:, None, None]
    steps = rays.steps(f).take(owner, axis=-1)
    share = _share_of_crossing(chains)[:, None, None]
    up, down = (
        absorption.layers_met(steps, crossing.by_frequency(), limit, share)
        for crossing in (layers.up, layers.down)
    )
    return up, down


def _share_of_crossing(chains: Chains) -> FloatArray:
    """Share of a hop's two-way absorption at each of its crossings (N, M), 0 where there is no hop."""
    return single(np.where(chains.hop_used, 0.5, 0.0))


def _event_strength(chains: Chains, layers: HopLayers) -> tuple[FloatArray, FloatArray]:
    """Extra absorption by events at the crossings (N, T, M), see `Disturber`; (1, 1, 1) when quiet."""
    if layers.up_extra is None or layers.down_extra is None:
        quiet = single(np.zeros((1, 1, 1)))
        return quiet, quiet
    share = _share_of_crossing(chains)[:, None]
    return share * layers.up_extra, share * layers.down_extra


def _event_db(strength: FloatArray, f: FloatArray, sec_d: FloatArray) -> FloatArray:
    """Absorption [dB] by events of a strength (N, T, K); (1, 1, 1, 1) when quiet."""
    return strength[..., None] if strength.size == 1 else strength[:, :, None] / f**1.5 * sec_d


def _mean_gyro_mhz(samples: PathSamples) -> FloatArray:
    """Longitudinal gyrofrequency [MHz], the mean along the route (N, T, 1, 1)."""
    gyro = np.broadcast_to(samples.longitudinal_gyro_mhz, samples.fof2_mhz.shape)
    return single(np.mean(gyro, axis=-1))[..., None, None]


def _reflection_db(samples: PathSamples, chains: Chains) -> FloatArray:
    """Loss [dB] of the ground reflection after each hop (N, 1, 1, M), 0 after the last."""
    at_end = RouteInterpolator(chains.end_km, chains.distance_km, 1, samples.sea_share.shape[-1])
    sea = at_end(samples.sea_share[:, None])
    per_bounce = LAND_BOUNCE_DB + (SEA_BOUNCE_DB - LAND_BOUNCE_DB) * sea
    counted = (chains.hop_used & ~chains.last_hop)[:, None]
    return single(np.where(counted, per_bounce, 0.0))[:, :, None]


def _over_hops(values: AnyArray, chains: Chains) -> AnyArray:
    """Sum over the hops (.., M) of each ray path: (.., K); unchanged where there is nothing to sum."""
    if values.shape[-1] == 1:
        return values
    total: AnyArray = np.add.reduceat(values, chains.first_hop, axis=-1)
    return total


def _screening(chains: Chains, layers: HopLayers, f: FloatArray, rays: Rays) -> FloatArray:
    """Loss [dB] of the F2 hops at the E layer under them (N, T, B, K)."""
    high = chains.with_high
    screening = np.zeros(np.broadcast_shapes(rays.sec_e.shape, f.shape), dtype=f.dtype)
    e_limit = SCREENING_SHARE * layers.screen_foe_mhz[:, :, None, high] * rays.sec_e[..., high]
    screening[..., high] = screening_loss_db(f, np.maximum(e_limit, 0.01))
    return screening


def _aurora(samples: PathSamples, chains: Chains) -> FloatArray:
    """Auroral loss [dB] (N, T, 1, 1), the mean along the route; less on long routes (`auroral`).

    The table applies to a path; P.533 takes the mean of two of its places up to 9000 km (from memory).
    """
    loss: FloatArray = np.mean(
        auroral.auroral_loss_db(samples.oval_latitude_deg, samples.solar_hour, samples.season), axis=-1
    )
    far = np.clip((chains.distance_km - 2250.0) / 500.0, 0.0, 1.0)
    share = 1.0 - (1.0 - auroral.LONG_PATH_SHARE) * far
    return single(loss * share[:, None])[..., None, None]


def _es_loss(samples: PathSamples, chains: Chains, f: FloatArray, sec_e: FloatArray) -> FloatArray:
    """Loss [dB] at the sporadic-E hops of the chains that have them, by day (N, T, B, Kes, V).

    `sec_e` (N, T, B or 1, Kes): secant of incidence of those chains' rays at the E layer.
    """
    n, t = samples.fof2_mhz.shape[:2]
    es = chains.with_es
    hop = np.flatnonzero((chains.hop_ray_path >= es.start) & (chains.hop_ray_path < es.stop))
    if not hop.size:
        return np.zeros((n, t, f.shape[2], 0, len(variability.ES_NODES)), dtype=f.dtype)
    read = RouteInterpolator(chains.middle_km[:, hop], chains.distance_km, t)
    lower, median, upper, foe = (
        single(read(values))
        for values in (
            samples.foes_lower_mhz,
            samples.foes_median_mhz,
            samples.foes_upper_mhz,
            samples.foe_mhz,
        )
    )
    owner = chains.hop_ray_path[hop]
    foes = foes_quantile_mhz(
        lower[..., None], median[..., None], upper[..., None], single(variability.ES_NODES),
        chains.low_count[:, None, owner, None],
    )  # fmt: skip
    at_foes, equivalent, grazing = loss_by_distance(chains.low_km[:, None, None, es])
    used = chains.hop_low[:, None, None, hop]
    kind = owner - es.start
    starts = chains.first_hop[es] - hop[0]
    loss = np.empty((n, t, f.shape[2], es.stop - es.start, len(variability.ES_NODES)), dtype=f.dtype)
    hidden = np.where(used, hidden_loss_db(f, sec_e[..., kind], foe[:, :, None]), 0.0)
    steady = np.add.reduceat(hidden, starts, axis=-1) + chains.low_count[:, None, None, es] * grazing
    for v in range(len(variability.ES_NODES)):
        over = equivalent[..., kind] * (f * f) / np.maximum(foes[:, :, None, :, v] ** 2, 0.01) - 1.0
        excess = np.add.reduceat(np.where(used, np.maximum(over, 0.0), 0.0), starts, axis=-1)
        loss[..., v] = at_foes * excess + steady
    return np.minimum(loss, LOSS_MAX_DB)
