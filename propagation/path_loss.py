"""Loss of every mode of a path up to 9000 km, term by term.

Follows the structure of P.533 section 5: free space over the virtual slant range, absorption at every crossing of the
D and E layers, screening of F2 by E, reflection at the ground, auroral loss, loss above the MUF, other losses. It
differs where noted: absorption from `absorption`, screening as a smooth loss, mixed chains of layers, land and sea
under the bounces, focusing at low angles. Shapes: N routes, T times, B frequencies, K modes.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Final

import numpy as np

from propagation import absorption, auroral, hops, mirror_height, muf, variability
from propagation.constants import E_LAYER_HEIGHT_KM, EARTH_RADIUS_KM
from propagation.mode_chains import HAS_HIGH, HAS_LOW, IS_ES, Chains
from propagation.path_samples import PathSamples, along, daylight
from propagation.sporadic_e import LOSS_MAX_DB, foes_quantile_mhz
from propagation.units import DEG, BoolArray, FloatArray, FloatLike, as_float

OTHER_LOSS_DB: Final = 8.72  # dB, Lz: polarisation and all that is not counted elsewhere (P.533-9 on, from memory)
SEA_BOUNCE_DB: Final = 0.8  # dB, reflection at the sea (Fresnel, low angles; P.533 counts 2 dB for any ground)
LAND_BOUNCE_DB: Final = 2.5  # dB, reflection at land
FOCUS_MAX_DB: Final = 4.0  # dB, most that focusing at low angles may bring (rough layers; ours)
FLAT_RAY_DEG: Final = 3.0  # deg, take-off angle under which P.533 drops a mode; here it costs more and more
ES_TURN_X: Final = 0.8  # f cos i / foE at which sporadic E, at the foot of the E layer, turns its ray (ours)
ABOVE_MUF_SOFTNESS: Final = 0.02  # of f/MUF, over which the loss above the MUF sets in (ours)
ABOVE_MUF_CURVE_DB: Final = 400.0  # dB per (f/MUF - 1)^2, see above_muf_loss_db (ours)
ABOVE_MUF_MOST_DB: Final = 200.0  # dB, keeps sums finite (ours)
NO_SIGNAL_DB: Final = 400.0  # dB, stands for "this mode does not exist"


@dataclass(frozen=True)
class ModeLosses:
    """Every term of the transmission loss between isotropic antennas, for the median day.

    (N, T, B, K) [dB], losses positive: free_space_db, absorption_db (quiet), extra_absorption_db (flare, polar cap),
    screening_db, bounce_db, auroral_db, low_angle_db (rays near the horizon and hops stretched beyond their layer's
    limit), focusing_db (a gain: negative), other_db.
    elevation_deg, mirror_km (N, T, B, K). f2_muf_mhz, e_muf_mhz (N, T, K): basic MUF of the chain's high and
    low hops, inf where it has none; f2_operational_mhz the same times the operational ratio. hop_mufs_mhz (N, T, K, H).
    es_loss_db (N, T, B, Kes, V): loss at sporadic-E layers on days of `variability.ES_NODES`.
    spread_low, spread_high (N, T): day-to-day spread of the F2 MUF. valid (N, K).
    """

    free_space_db: FloatArray
    absorption_db: FloatArray
    extra_absorption_db: FloatArray
    screening_db: FloatArray
    bounce_db: FloatArray
    auroral_db: FloatArray
    low_angle_db: FloatArray
    focusing_db: FloatArray
    other_db: FloatArray
    elevation_deg: FloatArray
    mirror_km: FloatArray
    f2_muf_mhz: FloatArray
    f2_operational_mhz: FloatArray
    e_muf_mhz: FloatArray
    es_loss_db: FloatArray
    spread_low: FloatArray
    spread_high: FloatArray
    valid: BoolArray

    def fixed_db(self) -> FloatArray:
        """Sum of the terms that do not depend on the day's layer (N, T, B, K)."""
        total = self.free_space_db + self.absorption_db
        for term in (
            self.extra_absorption_db, self.screening_db, self.bounce_db, self.auroral_db, self.low_angle_db,
            self.focusing_db, self.other_db,
        ):
            total = total + term
        return total


LOSS_TERMS: Final = tuple(f.name for f in fields(ModeLosses) if f.name.endswith("_db") and f.name != "es_loss_db")


def above_muf_loss_db(frequency_over_muf: FloatLike, layer: str) -> FloatArray:
    """Loss Lm [dB] of a mode above its MUF; broadcasts.

    F2: 36 sqrt(y) + 5, E: 46 sqrt(y) + 5, y = f/fb - 1 (P.533 section 5.2.2.4, from memory), with the step at f = fb
    rounded over 2 % of the MUF so that neighbouring cells agree. P.533 counts from the basic MUF and caps the loss at 60
    and 58 dB, because other ways than the mode itself carry the signal by then. Here it is counted from the
    operational MUF, and those other ways are computed by themselves (`scatter`), so the loss goes on growing:
    400 y^2 is added, 4 dB at y = 0.1 and 36 dB at y = 0.3. Ours, no source.
    """
    slope = 36.0 if layer == "F2" else 46.0
    over = (as_float(frequency_over_muf) - 1.0) / ABOVE_MUF_SOFTNESS
    decay = np.exp(-np.abs(over))
    excess = ABOVE_MUF_SOFTNESS * (np.maximum(over, 0.0) + np.log1p(decay))
    step = np.where(over >= 0.0, 1.0, decay) / (1.0 + decay)
    return np.minimum(slope * np.sqrt(excess) + ABOVE_MUF_CURVE_DB * excess**2 + 5.0 * step, ABOVE_MUF_MOST_DB)


def screening_loss_db(frequency_mhz: FloatLike, screening_mhz: FloatLike) -> FloatArray:
    """Loss [dB] of an F2 ray at an E layer that would turn it below `screening_mhz` = 1.05 foE sec i [MHz].

    P.533 drops such modes altogether, which shuts paths that are worked in practice: foE varies, the layer
    is patchy. Here the loss is 5 dB at the screening frequency, grows by 6 dB for every tenth below it and is gone
    a fifth above it; at most 50 dB. Ours, no source.
    """
    under = (as_float(screening_mhz) / as_float(frequency_mhz) - 1.0) / 0.12
    soft = np.maximum(under, 0.0) + np.log1p(np.exp(-np.abs(under)))
    return np.minimum(60.0 * 0.12 * soft, 50.0)


def low_angle_loss_db(elevation_deg: FloatLike, horizon_deg: FloatLike = 0.0) -> FloatArray:
    """Loss [dB] of a ray close to or under the horizon of the site; broadcasts.

    2 dB per square degree below 3 degrees over the horizon: 18 dB at grazing. P.533 drops modes under 3
    degrees; the square keeps neighbouring distances alike. Ours, no source.
    """
    under = np.maximum(FLAT_RAY_DEG + as_float(horizon_deg) - as_float(elevation_deg), 0.0)
    return np.minimum(2.0 * under**2, 200.0)


def focusing_db(
    distance_km: FloatArray, elevation_deg: FloatArray, slant_km: FloatArray, low: FloatArray, high: FloatArray,
    high_km: FloatArray,
) -> FloatArray:
    """Gain [dB] over free space by the curvature of the layers, at most 4 dB; geometric optics of mirrors.

    Power through a ring of rays, cos(el) d(el), over the ring it lights, against the same ring at the slant range in
    free space. Low rays gain, and so do distances near the antipode; rough layers limit both.
    """
    beta = np.maximum(elevation_deg, 0.5) * DEG
    theta = np.maximum(distance_km / EARTH_RADIUS_KM, 1e-4)
    rate = np.zeros_like(beta)
    for count, height in ((low, E_LAYER_HEIGHT_KM), (high, high_km)):
        q = EARTH_RADIUS_KM / (EARTH_RADIUS_KM + height)
        rate = rate + 2.0 * count * (1.0 - q * np.sin(beta) / np.sqrt(1.0 - (q * np.cos(beta)) ** 2))
    ring = EARTH_RADIUS_KM**2 * np.maximum(np.sin(theta), 0.05) * rate * np.sin(beta)
    ratio = slant_km**2 * np.cos(beta) / np.maximum(ring, 1e-6)
    gain = np.clip(10.0 * np.log10(np.maximum(ratio, 1e-3)), 0.0, None)
    return FOCUS_MAX_DB * np.tanh(gain / FOCUS_MAX_DB)


def mode_losses(samples: PathSamples, chains: Chains, frequency_mhz: FloatArray) -> ModeLosses:
    """All terms for N routes up to 9000 km at frequencies of shape (B,) or (N, 1, B) [MHz]."""
    f = np.atleast_1d(as_float(frequency_mhz))
    f = (f[None, None, :] if f.ndim == 1 else f)[..., None]  # (1 or N, 1, B, 1)
    n, k, h = chains.used.shape
    distance = chains.distance_km
    t = samples.fof2_mhz.shape[1]

    # --- what the layers are at each hop's middle and at its crossings, without frequency
    stack = np.stack(np.broadcast_arrays(samples.fof2_mhz, samples.m3000f2, samples.foe_mhz, samples.gyro_300_mhz))
    middle = along(stack, chains.middle_km.reshape(n, -1), distance).reshape(4, n, t, k, h)
    fof2, m3000, foe, gyro = middle
    high = (chains.used & ~chains.low)[:, None]
    low = chains.low[:, None]
    hop_f2 = muf.f2_muf_mhz(chains.high_km[:, None, :, None], fof2, foe, m3000, gyro)
    f2_muf = np.min(np.where(high, hop_f2, np.inf), axis=-1)
    hop_e = muf.e_muf_mhz(chains.low_km[:, None, :, None], foe)
    turned_by_e = low & ~IS_ES[None, None, :, None]
    e_muf = np.min(np.where(turned_by_e, hop_e, np.inf), axis=-1)

    at_cross = along(
        np.stack([samples.foe_mhz, samples.d_strength]), chains.crossing_km.reshape(n, -1), distance
    ).reshape(2, n, t, k, h, 2)
    foe_cross, strength = at_cross
    used = chains.used[:, None, :, :, None]
    strength_sum = 0.5 * np.sum(np.where(used, strength, 0.0), axis=(-2, -1))
    foe_square = 0.5 * np.sum(foe_cross**2, axis=-1)
    high_square = np.sum(np.where(high, foe_square, 0.0), axis=-1)
    low_square = np.sum(np.where(low, foe_square, 0.0), axis=-1)
    screen_foe = np.max(np.where(high[..., None], foe_cross, 0.0), axis=(-2, -1))
    n_high, n_low = chains.high_hops[:, None, :], chains.low_hops[:, None, :]
    total = n_high + n_low

    # --- representative figures of the high layer for the mirror height: mean over its hops
    def over_high(values: FloatArray) -> FloatArray:
        return np.sum(np.where(high, values, 0.0), axis=-1) / np.maximum(n_high, 1.0)

    r12 = np.broadcast_to(np.mean(samples.r12, axis=-1), (n, t))[..., None, None]
    mirror = mirror_height.f2_mirror_height_km(
        f, np.maximum(over_high(fof2), 0.3)[:, :, None], np.maximum(over_high(foe), 0.1)[:, :, None],
        np.maximum(over_high(m3000), 1.5)[:, :, None], r12, chains.high_km[:, None, None, :],
    )
    counts_low, counts_high = n_low[:, :, None], n_high[:, :, None]
    elevation = hops.common_elevation_deg(
        distance[:, None, None, None], counts_low, E_LAYER_HEIGHT_KM, counts_high, mirror
    )
    slant = counts_low * hops.slant_from_height_km(elevation, E_LAYER_HEIGHT_KM) + counts_high * (
        hops.slant_from_height_km(elevation, mirror)
    )
    free = 32.45 + 20.0 * np.log10(f) + 20.0 * np.log10(np.maximum(slant, 1.0))

    # --- absorption
    sec_e = hops.sec_incidence(elevation, E_LAYER_HEIGHT_KM)
    sec_d = hops.sec_incidence(elevation, absorption.D_CROSSING_KM)
    gyro_l = np.mean(np.broadcast_to(samples.longitudinal_gyro_mhz, samples.fof2_mhz.shape), axis=-1)[..., None, None]
    d_part = absorption.d_layer_by_frequency(f, gyro_l) * strength_sum[:, :, None] * sec_d
    foe_high = np.sqrt(high_square / np.maximum(n_high, 1.0))[:, :, None]
    foe_low = np.sqrt(low_square / np.maximum(n_low, 1.0))[:, :, None]
    x_high = np.maximum(f / (sec_e * np.maximum(foe_high, 0.05)), 1.1)
    x_low = np.minimum(f / (sec_e * np.maximum(foe_low, 0.05)), np.where(IS_ES, ES_TURN_X, 1.0))
    e_part = absorption.e_layer_by_frequency(f, gyro_l) * sec_e * (
        high_square[:, :, None] * absorption.penetration_factor(x_high)
        + low_square[:, :, None] * absorption.penetration_factor(x_low)
    )
    extra = np.zeros((1, 1, 1, 1))
    if samples.extra_absorption is not None:
        crossed = along(samples.extra_absorption, chains.crossing_km.reshape(n, -1), distance).reshape(n, t, k, h, 2)
        extra = (0.5 * np.sum(np.where(used, crossed, 0.0), axis=(-2, -1)))[:, :, None] / f**1.5 * sec_d

    # --- the E layer in the way of the F2 hops
    fs = 1.05 * screen_foe[:, :, None] * sec_e
    screening = np.where(HAS_HIGH, screening_loss_db(f, np.maximum(fs, 0.01)), 0.0)

    # --- ground, aurora, flat rays
    sea = along(samples.sea_share[:, None, :], chains.bounce_km.reshape(n, -1), distance).reshape(n, 1, k, h - 1)
    per_bounce = LAND_BOUNCE_DB + (SEA_BOUNCE_DB - LAND_BOUNCE_DB) * sea
    bounce = np.sum(np.where(chains.bounce_used[:, None], per_bounce, 0.0), axis=-1)[:, :, None]
    lh = np.mean(auroral.auroral_loss_db(samples.oval_latitude_deg, samples.solar_hour, samples.season), axis=-1)
    share = 1.0 - (1.0 - auroral.LONG_PATH_SHARE) * np.clip((distance - 2250.0) / 500.0, 0.0, 1.0)[:, None]
    aurora = (lh * share)[..., None, None]
    focus = -focusing_db(distance[:, None, None, None], elevation, slant, counts_low, counts_high, mirror)

    # --- what the day does to the layers
    day = np.mean(daylight(samples.zenith_deg), axis=-1)
    ratio = muf.operational_ratio(np.mean(samples.season, axis=-1), day)
    r12_mean = np.broadcast_to(np.mean(samples.r12, axis=-1), (n, t))
    lower, upper = variability.muf_spread(
        samples.solar_hour, samples.geomagnetic_latitude_deg, r12_mean[..., None]
    )
    return ModeLosses(
        free_space_db=free, absorption_db=d_part + e_part, extra_absorption_db=extra, screening_db=screening,
        bounce_db=bounce, auroral_db=aurora, low_angle_db=low_angle_loss_db(elevation) + chains.stretch_db[:, None, None, :], focusing_db=focus,
        other_db=np.where(IS_ES & ~HAS_HIGH, 0.0, OTHER_LOSS_DB)[None, None, None, :],
        elevation_deg=elevation, mirror_km=mirror, f2_muf_mhz=f2_muf, f2_operational_mhz=f2_muf * ratio[..., None],
        e_muf_mhz=e_muf, es_loss_db=_es_loss(samples, chains, f), spread_low=np.mean(lower, axis=-1),
        spread_high=np.mean(upper, axis=-1), valid=chains.valid,
    )


def _es_loss(samples: PathSamples, chains: Chains, f: FloatArray) -> FloatArray:
    """Loss [dB] at the sporadic-E hops of the chains that have them, on days of each Es node (N, T, B, Kes, V).

    The maps' foEs is a reading of the ionosonde and equals foE when there is no sporadic E: only what stands
    clear of foE counts, coming in between 1.0 and 1.5 times foE (ours).
    """
    km = chains.middle_km[:, IS_ES]
    n, k, h = km.shape
    t = samples.fof2_mhz.shape[1]
    stack = np.stack(
        [samples.foes_lower_mhz, samples.foes_median_mhz, samples.foes_upper_mhz, samples.foe_mhz]
    )
    lower, median, upper, foe = along(stack, km.reshape(n, -1), chains.distance_km).reshape(4, n, t, k, h)[..., None]
    foes = foes_quantile_mhz(lower, median, upper, variability.ES_NODES)
    clear = np.clip((foes / np.maximum(foe, 0.1) - 1.0) / 0.5, 0.0, 1.0)
    foes = np.maximum(foes * clear * clear * (3.0 - 2.0 * clear), 0.2)
    inverse_square = np.sum(np.where(chains.low[:, None, IS_ES, :, None], foes**-2.0, 0.0), axis=-2)  # (N, T, K, V)
    d = chains.low_km[:, IS_ES][:, None, None, :, None]
    angle_part = 40.0 / (1.0 + d / 130.0 + (d / 250.0) ** 2) + 0.2 * (d / 2600.0) ** 2
    per_hop = np.exp((np.minimum(d, 4000.0) - 1660.0) / 280.0)
    count = chains.low_hops[:, IS_ES][:, None, None, :, None]
    loss = angle_part * f[..., None] ** 2 * inverse_square[:, :, None] + count * per_hop
    return np.minimum(loss, LOSS_MAX_DB)


__all__ = [
    "HAS_LOW", "LOSS_TERMS", "NO_SIGNAL_DB", "ModeLosses", "above_muf_loss_db", "focusing_db",
    "low_angle_loss_db", "mode_losses", "screening_loss_db",
]
