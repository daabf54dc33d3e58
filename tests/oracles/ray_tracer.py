"""Rays through a model ionosphere, step by step: the arbiter of mirror heights, MUFs and skip distances.

Two dimensions (along a great circle and up), no magnetic field, no collisions. Hamilton's equations of a ray
in an isotropic plasma (Haselgrove 1955; Budden, "The Propagation of Radio Waves", 1985, chapter 14; from
memory), in polar coordinates r, theta about the earth's centre, with Q_r the radial part of the refractive
index vector and L = r Q_theta; the independent variable is the group path P':

    dr/dP' = Q_r               dQ_r/dP' = L^2 / r^3 + (1/2) d(n^2)/dr
    dtheta/dP' = L / r^2       dL/dP'   = (1/2) d(n^2)/dtheta        n^2 = 1 - fp^2 / f^2

Where nothing changes along the path L is constant: Bouguer's rule. Nothing here is taken from the engine: no
mirror, no M factor. The plasma is `ray_plasma`'s or anything else that gives fp^2 and its two slopes.
Shapes: R rays, each in the plasma of its own path.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Protocol

import numpy as np

from propagation.base.units import BoolArray, FloatArray, IntArray

EARTH_KM: Final = 6371.0  # km, mean radius
BASE_KM: Final = 75.0  # km, height under which rays are straight
TOP_KM: Final = 700.0  # km, a ray that gets here has left for good
CLIMB_KM: Final = 6.0  # km of height in a step, as far as the bounds of a step allow
STEP_KM: Final = (9.0, 27.0)  # km of group path, the shortest and the longest step
STEPS_MOST: Final = 350  # steps of a hop; a ray that is still up then counts as lost


class Plasma(Protocol):
    """Square of the plasma frequency over many paths."""

    def at(
        self, path: IntArray, height_km: FloatArray, angle_rad: FloatArray
    ) -> tuple[FloatArray, FloatArray, FloatArray]:
        """fp^2 [MHz^2], its slope with height [MHz^2/km] and with the angle along the path [MHz^2/rad]."""


@dataclass(frozen=True, eq=False)
class Landed:
    """Where rays came down; arrays (R,), NaN for rays that left or got lost.

    ground_km: from the start of the path; first_km: to the first landing. arrival_deg: angle over the
    horizon. apex_km: greatest height; lowest_apex_km: the least of the hops' own. group_km, phase_km:
    lengths of the group and of the phase path. turns: times the ray was bent down; more than the hops where
    it went from layer to layer without touching the ground.
    """

    ground_km: FloatArray
    first_km: FloatArray
    arrival_deg: FloatArray
    apex_km: FloatArray
    lowest_apex_km: FloatArray
    group_km: FloatArray
    phase_km: FloatArray
    turns: IntArray


def trace(
    plasma: Plasma,
    path: IntArray,
    frequency_mhz: FloatArray,
    elevation_deg: FloatArray,
    hops: IntArray,
    *,
    fineness: float = 1.0,
) -> Landed:
    """Send rays off from the start of their paths and follow them over `hops` landings; arguments (R,).

    `fineness`: steps are so many times shorter. Layers with a sharp foot want it, smooth ones do not.
    """
    size = path.size
    angle, beta = np.zeros(size), np.radians(elevation_deg)
    group, phase, apex = np.zeros(size), np.zeros(size), np.zeros(size)
    lowest = np.full(size, np.inf)
    first = np.full(size, np.nan)
    turns = np.zeros(size, dtype=np.int64)
    alive = np.ones(size, dtype=bool)
    for hop in range(int(hops.max())):
        some = np.flatnonzero(alive & (hops > hop))
        flown = _one_hop(plasma, path[some], frequency_mhz[some], angle[some], beta[some], fineness)
        angle[some], beta[some] = flown.angle, flown.beta
        if hop == 0:
            first[some] = EARTH_KM * flown.angle
        group[some] += flown.group
        phase[some] += flown.phase
        apex[some] = np.maximum(apex[some], flown.apex)
        lowest[some] = np.minimum(lowest[some], flown.apex)
        turns[some] += flown.turns
        alive[some] = np.isfinite(flown.angle)

    def kept(values: FloatArray) -> FloatArray:
        return np.where(alive, values, np.nan)

    return Landed(
        ground_km=kept(EARTH_KM * angle),
        first_km=first,
        arrival_deg=kept(np.degrees(beta)),
        apex_km=kept(apex),
        lowest_apex_km=kept(lowest),
        group_km=kept(group),
        phase_km=kept(phase),
        turns=turns,
    )


@dataclass(frozen=True, eq=False)
class _Flown:
    angle: FloatArray
    beta: FloatArray
    group: FloatArray
    phase: FloatArray
    apex: FloatArray
    turns: IntArray


def _one_hop(
    plasma: Plasma,
    path: IntArray,
    frequency_mhz: FloatArray,
    start_rad: FloatArray,
    beta: FloatArray,
    fineness: float,
) -> _Flown:
    """From the ground to the ground; angle NaN for rays that do not come back."""
    base = EARTH_KM + BASE_KM
    spin = EARTH_KM * np.cos(beta)
    up = np.sqrt(base**2 - spin**2) / base
    straight = base * up - EARTH_KM * np.sin(beta)
    # rows: r, theta, Q_r, L, phase path
    state = np.stack(
        [np.full(beta.size, base), start_rad + np.arccos(spin / base) - beta, up, spin, straight]
    )
    group, apex, turns = straight.copy(), np.full(beta.size, base), np.zeros(beta.size, dtype=np.int64)
    lost = [np.full(beta.size, np.nan) for _ in range(5)]
    out = _Flown(lost[0], lost[1], lost[2], lost[3], lost[4], turns.copy())
    rays, over = np.arange(beta.size), 1.0 / frequency_mhz**2
    for _ in range(int(STEPS_MOST * fineness)):
        step = np.clip(CLIMB_KM / np.maximum(np.abs(state[2]), 1e-3), *STEP_KM) / fineness
        after = _runge_kutta(plasma, path[rays], over[rays], state, step)
        turns += (state[2] > 0.0) & (after[2] <= 0.0)
        apex = np.maximum(apex, after[0])
        group += step
        state = after
        down: BoolArray = (state[0] < base) & (state[2] < 0.0) & (state[3] < EARTH_KM)
        gone: BoolArray = (state[0] > EARTH_KM + TOP_KM) & (state[2] > 0.0)
        if np.any(down):
            _land(out, rays[down], state[:, down], group[down], apex[down], turns[down])
        if np.any(down | gone):
            stay = ~(down | gone)
            rays, state, group, apex, turns = rays[stay], state[:, stay], group[stay], apex[stay], turns[stay]
            if not rays.size:
                break
    return out


def _land(
    out: _Flown, rays: IntArray, state: FloatArray, group: FloatArray, apex: FloatArray, turns: IntArray
) -> None:
    """Take rays straight down from where they are (also a little back up: they are straight there)."""
    r, angle, _, spin, phase = state
    beta = np.arccos(spin / EARTH_KM)
    straight = np.sqrt(np.maximum(r**2 - spin**2, 0.0)) - EARTH_KM * np.sin(beta)
    out.angle[rays] = angle + np.arccos(np.minimum(spin / r, 1.0)) - beta
    out.beta[rays] = beta
    out.group[rays], out.phase[rays] = group + straight, phase + straight
    out.apex[rays], out.turns[rays] = apex - EARTH_KM, turns


def _runge_kutta(
    plasma: Plasma, path: IntArray, over: FloatArray, state: FloatArray, step: FloatArray
) -> FloatArray:
    """One step of the classic fourth order."""

    def rates(at: FloatArray) -> FloatArray:
        r, angle, q, spin, _ = at
        square, slope, tilt = plasma.at(path, r - EARTH_KM, angle)
        turn = spin / (r * r)
        return np.stack(
            [q, turn, spin * turn / r - 0.5 * over * slope, -0.5 * over * tilt, 1.0 - over * square]
        )

    k1 = rates(state)
    k2 = rates(state + 0.5 * step * k1)
    k3 = rates(state + 0.5 * step * k2)
    k4 = rates(state + step * k3)
    result: FloatArray = state + (step / 6.0) * (k1 + 2.0 * (k2 + k3) + k4)
    return result
