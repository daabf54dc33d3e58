"""Paths on which the engine's mirrors are held against traced rays: shared by test and benchmark.

The layers are the engine's own along the path (foE, foF2, M(3000)F2, hmF2 at its 17 points), so that a
difference is one of geometry and not of maps. The rays know no magnetic field, so the engine is asked with a
gyrofrequency of nought: its part of the field in the MUF, half the gyrofrequency overhead, is not judged
here. One hop or two by the F2 layer. Shapes: N paths, F frequencies, A take-off angles.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from oracles import ray_plasma, ray_tracer

from propagation.base.units import BoolArray, FloatArray, IntArray
from propagation.geo.great_circle import Route
from propagation.ionosphere import layers
from propagation.signal.chances import skip
from propagation.signal.losses import path_loss
from propagation.signal.rays import path_samples, ray_paths
from propagation.signal.rays.path_samples import PathSamples

YEAR: Final = 2020.0  # of the times and of the magnetic field
HOP_KM: Final = (600.0, 3500.0)  # km, lengths of the hops drawn
OVER_E_KM: Final = 125.0  # km, a ray that turns above this has passed the E layer
FLAT_LAYERS: Final = 0.12  # relative change of foF2 in 1000 km, under which the layers are flat
TWILIGHT_DEG: Final = (84.0, 100.0)  # deg, zenith angles of the terminator as the layers see it
WORKED: Final = (0.7, 0.95)  # of the engine's MUF: the frequencies at which take-off angles are compared
MUF_GRID: Final = np.array([0.86, 0.93, 1.0, 1.07, 1.16])  # of the engine's MUF, to find the rays' MUF
AROUND_DEG: Final = 14.0  # deg, half the width of a fan of rays about the engine's angle
MUF_RAYS: Final = 14  # rays of a fan for the MUF
SKIP_RAYS: Final = 30  # rays of a fan for the skip distance, closer together the flatter: E turns few of them
SKIP_WORKED: Final = 0.93  # of the engine's MUF: the frequency at which skip distances are compared
ANGLE_RAYS: Final = 20  # rays of a fan for the take-off angle
FLATTEST_DEG: Final = 0.5  # deg, flattest ray of a fan
NEVER_KM: Final = 1e5  # km, range of a ray that does not come back
E_FREE_DB: Final = 3.0  # dB, screening by the E layer under which a mode by F2 counts as open


@dataclass(frozen=True, eq=False)
class Paths:
    """N paths at one time each: samples along them, hops, and the plasma of the rays."""

    samples: PathSamples
    hops: IntArray
    plasma: ray_plasma.Layers

    @property
    def distance_km(self) -> FloatArray:
        """Lengths (N,) [km]."""
        return self.samples.distance_km


def draw(count: int, seed: int, *, terminator: bool) -> Paths:
    """`count` random paths of one or two hops between 60 S and 60 N: with flat layers, or across twilight."""
    random = np.random.default_rng(seed)
    n = 40 * count
    lat, lon, bearing = (
        random.uniform(-60.0, 60.0, n),
        random.uniform(-180.0, 180.0, n),
        random.uniform(0, 360, n),
    )
    hops = random.integers(1, 3, n)
    distance = hops * random.uniform(*HOP_KM, n)
    times = np.datetime64("2020-01-01", "s") + random.integers(0, 366 * 86400, n) * np.timedelta64(1, "s")
    index = random.uniform(0.0, 140.0, n)
    route = Route(lat, lon, bearing, distance)
    found = path_samples.sample(route, times[:, None], index[:, None], year=YEAR)
    zenith, fof2 = found.zenith_deg[:, 0], found.fof2_mhz[:, 0]
    twilight = np.any((zenith > TWILIGHT_DEG[0]) & (zenith < TWILIGHT_DEG[1]), axis=-1)
    if terminator:
        wanted = np.any(zenith < TWILIGHT_DEG[0], axis=-1) & np.any(zenith > TWILIGHT_DEG[1], axis=-1)
    else:
        change = (fof2.max(axis=-1) / fof2.min(axis=-1) - 1.0) / np.maximum(0.001 * distance, 1.0)
        wanted = ~twilight & (change < FLAT_LAYERS)
    rows = np.flatnonzero(wanted)[:count]
    assert rows.size == count
    return of_samples(found.rows(rows), hops[rows])


def of_samples(samples: PathSamples, hops: IntArray) -> Paths:
    """Paths of samples (N, 1, P), without a magnetic field."""
    samples = replace(samples, gyro_300_mhz=np.zeros_like(samples.gyro_300_mhz))
    peak = layers.hmf2_km(samples.m3000f2, samples.fof2_mhz, samples.foe_mhz, samples.r12)
    plasma = ray_plasma.layers(
        samples.foe_mhz[:, 0], samples.fof2_mhz[:, 0], peak[:, 0], samples.m3000f2[:, 0], samples.distance_km
    )
    return Paths(samples, hops, plasma)


@dataclass(frozen=True, eq=False)
class Compared:
    """Engine and rays, arrays (N,), NaN where one of them has none.

    muf_mhz, skip_km, elevation_deg and rays_...: of the engine and of the rays. worked: frequency over the
    engine's MUF at which the angles are compared. open_to_f2: by the engine the E layer lets it through.
    rays_ground_km: where the ray at the engine's angle lands. turns_more: share of the rays about that angle
    that were bent down more often than they landed.
    """

    muf_mhz: FloatArray
    rays_muf_mhz: FloatArray
    skip_km: FloatArray
    rays_skip_km: FloatArray
    elevation_deg: FloatArray
    rays_elevation_deg: FloatArray
    worked: FloatArray
    open_to_f2: BoolArray
    rays_ground_km: FloatArray
    turns_more: FloatArray


def compare(paths: Paths, seed: int = 1) -> Compared:
    """Trace fans of rays over all paths and ask the engine for the same."""
    n = paths.hops.size
    chains = ray_paths.chains(paths.distance_km)
    only_f2 = np.flatnonzero(ray_paths.HAS_HIGH & ~ray_paths.HAS_LOW)
    template = only_f2[np.argmax(chains.high_hops[:, only_f2] == paths.hops[:, None], axis=1)]
    rows = np.arange(n)
    assert np.array_equal(chains.high_hops[rows, template], paths.hops)
    muf = path_loss.ray_path_losses(paths.samples, chains, np.array([10.0])).f2_muf_mhz[rows, 0, template]
    worked = np.random.default_rng(seed).uniform(*WORKED, n)
    frequency = np.stack([worked * muf, muf], axis=-1)
    losses = path_loss.ray_path_losses(paths.samples, chains, frequency[:, None])
    elevation = losses.elevation_deg[rows, 0, :, template]

    rays_muf = _rays_muf(paths, muf, elevation[:, 1])
    rays_elevation, at_engine, more = _rays_elevation(paths, frequency[:, 0], elevation[:, 0])
    return Compared(
        muf_mhz=muf,
        rays_muf_mhz=rays_muf,
        skip_km=_engine_skip(paths, SKIP_WORKED * muf),
        rays_skip_km=_rays_skip(paths, SKIP_WORKED * muf, elevation[:, 1]),
        elevation_deg=elevation[:, 0],
        rays_elevation_deg=rays_elevation,
        worked=worked,
        open_to_f2=losses.screening_db[rows, 0, 0, template] < E_FREE_DB,
        rays_ground_km=at_engine,
        turns_more=more,
    )


def fan(
    paths: Paths, frequency_mhz: FloatArray, elevation_deg: FloatArray, *, hops: IntArray | None = None
) -> ray_tracer.Landed:
    """Rays of every path at frequencies and angles that broadcast to (N, ...); results flat."""
    frequency, angle = np.broadcast_arrays(frequency_mhz, elevation_deg)
    more = (1,) * (frequency.ndim - 1)
    path = np.broadcast_to(np.arange(paths.hops.size).reshape(-1, *more), frequency.shape)
    count = np.broadcast_to((paths.hops if hops is None else hops).reshape(-1, *more), frequency.shape)
    return ray_tracer.trace(paths.plasma, path.ravel(), frequency.ravel(), angle.ravel(), count.ravel())


def _angles(about_deg: FloatArray, count: int) -> FloatArray:
    """A fan about an angle (N, A) [deg], cut at the horizon and short of the vertical."""
    low = np.maximum(about_deg - AROUND_DEG, FLATTEST_DEG)
    high = np.minimum(about_deg + AROUND_DEG, 89.0)
    angles: FloatArray = low[:, None] + (high - low)[:, None] * np.linspace(0.0, 1.0, count)
    return angles


def _rays_muf(paths: Paths, muf: FloatArray, elevation: FloatArray) -> FloatArray:
    """MUF of the path [MHz]: the highest frequency of which any ray comes down at its end or nearer."""
    frequency = muf[:, None] * MUF_GRID
    angles = _angles(elevation, MUF_RAYS)
    landed = fan(paths, frequency[:, :, None], angles[:, None])
    shape = (muf.size, MUF_GRID.size, MUF_RAYS)
    by_f2 = (landed.lowest_apex_km > OVER_E_KM).reshape(shape)
    over = np.where(by_f2, landed.ground_km.reshape(shape), np.nan) - paths.distance_km[:, None, None]
    # one of two neighbouring rays lands beyond the end and one short of it: some ray between them lands there
    reached = np.any(over[..., :-1] * over[..., 1:] <= 0.0, axis=-1)
    nearest = _least(over)
    found = np.full(muf.size, np.nan)
    for i, f in enumerate(frequency):
        k = np.flatnonzero(reached[i, :-1] & ~reached[i, 1:])
        if k.size:
            a, b = k[-1], k[-1] + 1
            low, high = nearest[i, a], nearest[i, b]
            # the skip distance rises through the end's; where no ray comes back at b, half way
            share = -low / (high - low) if low <= 0.0 < high < 0.5 * NEVER_KM else 0.5
            found[i] = f[a] + share * (f[b] - f[a])
    return found


def _rays_skip(paths: Paths, frequency: FloatArray, elevation: FloatArray) -> FloatArray:
    """Skip distance [km] at the start of the path, by whichever layer."""
    top = np.minimum(elevation + AROUND_DEG, 89.0)[:, None]
    angles = FLATTEST_DEG + (top - FLATTEST_DEG) * np.linspace(0.0, 1.0, SKIP_RAYS) ** 1.4
    landed = fan(paths, frequency[:, None], angles, hops=np.ones_like(paths.hops))
    nearest = _least(landed.ground_km.reshape(angles.shape))
    return np.where(nearest < 0.5 * NEVER_KM, nearest, np.nan)


def _least(ground: FloatArray) -> FloatArray:
    """Smallest range over a fan's angles, by a parabola through the nearest ray and its neighbours."""
    whole = np.where(np.isnan(ground), NEVER_KM, ground)
    k = np.clip(np.argmin(whole, axis=-1), 1, whole.shape[-1] - 2)[..., None]
    before, here, after = (np.take_along_axis(whole, k + move, axis=-1)[..., 0] for move in (-1, 0, 1))
    curve = before - 2.0 * here + after
    lower = here - 0.125 * (after - before) ** 2 / np.maximum(curve, 1e-9)
    smooth = (np.maximum(before, after) < NEVER_KM) & (here <= np.minimum(before, after)) & (curve > 0.0)
    return np.asarray(np.where(smooth, lower, np.min(whole, axis=-1)))


def _rays_elevation(
    paths: Paths, frequency: FloatArray, elevation: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Angle [deg] of the lower ray to the end; range [km] of the ray at the engine's angle; turns."""
    angles = _angles(elevation, ANGLE_RAYS)
    landed = fan(paths, frequency[:, None], angles)
    by_f2 = landed.lowest_apex_km > OVER_E_KM
    ground = np.where(by_f2, landed.ground_km, np.nan).reshape(angles.shape)
    turns = landed.turns.reshape(angles.shape)
    found = np.full(frequency.size, np.nan)
    over = ground - paths.distance_km[:, None]
    for i, (row, angle) in enumerate(zip(over, angles, strict=True)):
        k = np.flatnonzero((row[:-1] >= 0.0) & (row[1:] < 0.0))
        if k.size:
            a = k[0]
            found[i] = angle[a] + row[a] / (row[a] - row[a + 1]) * (angle[a + 1] - angle[a])
    at_engine = np.array([np.interp(e, a, g) for e, a, g in zip(elevation, angles, ground, strict=True)])
    return found, at_engine, np.mean(turns > paths.hops[:, None], axis=-1)


def _engine_skip(paths: Paths, frequency: FloatArray) -> FloatArray:
    """The engine's skip distance [km] from the start of each path."""
    found = np.empty(frequency.size)
    s = paths.samples
    for i, f in enumerate(frequency):
        km = np.linspace(0.0, min(2000.0, float(s.distance_km[i])), 65)[1:]
        read = [
            np.interp(km, np.linspace(0.0, float(s.distance_km[i]), v.shape[-1]), v[i, 0])
            for v in (s.fof2_mhz, s.foe_mhz, s.m3000f2, s.gyro_300_mhz)
        ]
        found[i] = skip.skip_along_km(f, km, *read)[0]
    return found
