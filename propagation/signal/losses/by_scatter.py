"""Contribution of scatter: weak signals inside the skip zone, from no clear direction.

Distant ground, lit by the F2 layer, scatters back. The ring is computed in four sectors, each with the layer
over its own first hop, so that the sunny side counts by itself (side-scatter). Left out: ground lit by
sporadic E. Rare days carry its mean power, and it predicted contacts on 24 and 28 MHz that reports do not
show. Meteor trails (`meteor_scatter`) carry the median field where no layer does, but no contact. They last
less than a message, so the days exclude them. Shapes: M routes, T times, B frequencies, U layer days.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from propagation.base.units import FloatArray, IntArray, cosd, db
from propagation.geo import great_circle
from propagation.ionosphere.absorption import Crossing, Rays, hop_absorption_db
from propagation.signal.losses import event_loss, meteor_scatter, path_loss, scatter
from propagation.signal.losses.circuit_inputs import CircuitCase
from propagation.signal.losses.contribution import Contribution, Strongest
from propagation.signal.losses.counterfactual import Counterfactual
from propagation.signal.losses.ray_path_sum import LEAST_POWER, power
from propagation.signal.losses.terminal_gains import frequency_of
from propagation.signal.rays import path_samples
from propagation.signal.rays.path_samples import PathSamples
from propagation.signal.rays.ray_path_names import SCATTER

NEAR_KM: Final = 7000.0  # km, beyond which the loss of scatter is over 300 dB
SECTORS_DEG: Final = np.array(
    [0.0, 90.0, 180.0, 270.0]
)  # middles of the ring's sectors, from the path's middle
SECTOR_KM: Final = 1200.0  # km from that middle to a sector's layer: half a hop to the ring (ours)


def contribution(
    case: CircuitCase, samples: PathSamples, counterfactual: Counterfactual, *, every_ray_path: bool
) -> Contribution | None:
    """Scatter of the routes near enough (M rows); None where none is.

    every_ray_path False omits its level.
    """
    rows = np.flatnonzero(samples.distance_km <= NEAR_KM)
    if not rows.size:
        return None
    part = samples.rows(rows)
    days, median = _by_f2(case, part, rows, counterfactual)
    d = samples.distance_km[rows, None, None]
    meteors = _by_meteors(case, part, rows, counterfactual)
    angle = np.where(meteors > median, meteor_scatter.take_off_deg(d), scatter.TAKE_OFF_DEG)
    median = median + meteors
    gain = db(np.maximum(median, LEAST_POWER))
    none = np.zeros(gain.shape, dtype=np.int64)
    return Contribution(
        rows=rows,
        layer_power=days,
        es_power=None,
        median_power=median,
        strongest=Strongest(
            gain_db=gain,
            ray_path=np.full(gain.shape, SCATTER),
            low_hops=none,
            high_hops=none,
            elevation_deg=angle,
            mirror_km=np.full(gain.shape, np.nan),
        ),
        limits=None,
        ray_paths_db=gain[..., None] if every_ray_path else None,
        first_ray_path=SCATTER,
    )


def _by_f2(
    case: CircuitCase, samples: PathSamples, rows: IntArray, counterfactual: Counterfactual
) -> tuple[FloatArray, FloatArray]:
    """Power gain by ground lit by the F2 layer, on each layer day (M, T, B, U) and on the median day."""
    f = frequency_of(case, rows)
    d = samples.distance_km[:, None, None]
    fof2, m3000 = _sector_layers(case, samples, rows)
    fixed = _antennas_db(case, rows, np.full(d.shape, scatter.TAKE_OFF_DEG))
    fixed = fixed - _absorbed_db(samples, f, rows, scatter.TAKE_OFF_DEG, 2.0, counterfactual)
    factors = samples.layer_factors()[..., None, :]
    shape = (rows.size, samples.fof2_mhz.shape[1], f.shape[-1])
    days, median = np.zeros((*shape, factors.shape[-1])), np.zeros(shape)
    for sector in range(SECTORS_DEG.size):
        layer, factor = fof2[..., sector, None], m3000[..., sector, None]
        gain = power(fixed - scatter.scatter_loss_db(d, f, layer, factor)) / SECTORS_DEG.size
        over = counterfactual.of_ratio(f / (1.1 * factor * layer), rows)
        days += gain[..., None] * path_loss.passing_share(over[..., None] / factors)
        median += gain * path_loss.passing_share(over)
    return days, median


def _sector_layers(case: CircuitCase, samples: PathSamples, rows: IntArray) -> tuple[FloatArray, FloatArray]:
    """foF2 [MHz] and M(3000)F2 over the first hop to each sector of the ring (M, T, sectors)."""
    middle = samples.lat_deg.shape[1] // 2
    lat, lon = great_circle.destination(
        samples.lat_deg[:, middle, None], samples.lon_deg[:, middle, None], SECTORS_DEG, SECTOR_KM
    )
    at_lat, at_lon, when = lat[:, None, :], lon[:, None, :], samples.times[..., None]
    all_routes = (case.route.distance_km.size, samples.fof2_mhz.shape[1])
    index = np.broadcast_to(case.index, all_routes)[rows, :, None]
    disturber = None if case.disturber is None else case.disturber.of_rows(rows)
    sky = path_samples.sky_on_day(at_lat, at_lon, when, index, disturber, year=samples.year)
    return sky.fof2_mhz, sky.m3000f2


def _by_meteors(
    case: CircuitCase, samples: PathSamples, rows: IntArray, counterfactual: Counterfactual
) -> FloatArray:
    """Power gain by meteor trails (M, T, B)."""
    f = frequency_of(case, rows)
    d = samples.distance_km[:, None, None]
    middle = samples.solar_hour.shape[-1] // 2
    angle = meteor_scatter.take_off_deg(d)
    loss = meteor_scatter.meteor_loss_db(d, f, samples.solar_hour[..., middle, None])
    gain = _antennas_db(case, rows, angle) - loss
    return power(gain - _absorbed_db(samples, f, rows, angle, 1.0, counterfactual))


def _antennas_db(case: CircuitCase, rows: IntArray, angle_deg: FloatArray) -> FloatArray:
    """Sum of both antennas' gains at angles (M, 1, 1), towards the path's own bearings (M, T or 1, B)."""
    f, route, total = frequency_of(case, rows), case.route.rows(rows), np.zeros(())
    for end, azimuth in ((case.near, route.bearing_deg), (case.far, route.far_bearing_deg)):
        gain = end.gain_dbi(f[..., None], angle_deg[..., None], azimuth[:, None, None, None])
        total = total + gain[..., 0]
    return total


def _absorbed_db(
    samples: PathSamples,
    f: FloatArray,
    rows: IntArray,
    angle_deg: FloatArray | float,
    hops: float,
    counterfactual: Counterfactual,
) -> FloatArray:
    """Absorption in the D layer (M, T, B) over a number of hops, including flares and protons.

    The sun of the path's middle applies to all hops. The E layer's part is not counted (ours).
    """
    middle = samples.fof2_mhz.shape[-1] // 2
    nothing = np.zeros((1, 1, 1))
    crossing = Crossing(samples.d_strength[..., middle, None], nothing, nothing, nothing)
    gyro = np.broadcast_to(samples.longitudinal_gyro_mhz, samples.fof2_mhz.shape)[..., middle, None]
    absorbed = hops * hop_absorption_db(f, Rays.of(cosd(angle_deg)), gyro, crossing)
    extra = event_loss.at_middle_db(samples, f, angle_deg, hops)
    return counterfactual.of_absorption(absorbed, rows) + extra
