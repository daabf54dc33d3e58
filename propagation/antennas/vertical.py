"""Verticals over radials or a counterpoise, raised or on the ground; with or without a coil and top wires."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from typing import Final

import numpy as np

from propagation.antennas import coil
from propagation.antennas.solution import Solution
from propagation.antennas.spec import MOUNT_COUNTERPOISE, AntennaSpec
from propagation.antennas.thin_wire import Structure, Wire
from propagation.antennas.wire_antenna import (
    CLEAR_HEIGHT_M,
    FREQUENCY_STEP,
    WHIP_PIECES_PER_WAVE,
    WIRE_PIECES_PER_WAVE,
    Ports,
    pattern,
    pieces,
    ports,
    wavelength_m,
)
from propagation.geo.ground import PERFECT, ComplexArray, Ground

# Height of the axis of a radial laid on the ground [m] (ours): an insulated wire of 2 to 3 mm that touches
# the soil in places. It determines the velocity factor of the wire, and so how near a quarter-wave radial
# is to a half-wave resonance, where few radials have the greatest loss. Independent evidence: a velocity
# factor of about 0.5 on wires laid on soil (handbooks, quoted second hand; 0.55 results here over average
# ground, 0.74 at 2 cm), a field test of 4 to 60 radials, and the buried ones of Brown, Lewis and Epstein
# (fixtures/antenna/ground_systems.csv). A wire supported by grass has its own radial_height_m.
LYING_HEIGHT_M: Final = 0.003
_CABLE_COUNTERPOISE_M: Final = 3.7  # m of cable, from the feed down to the ground
QUARTER_WAVE: Final = 0.25  # wavelengths, where no length is given


def radial_length_m(spec: AntennaSpec, frequency_mhz: float) -> float:
    """Length of each radial [m]: as given, else a quarter wave."""
    return QUARTER_WAVE * wavelength_m(frequency_mhz) if spec.radial_m is None else spec.radial_m


def lying_height_m(spec: AntennaSpec) -> float:
    """Height of a radial's axis on the ground [m]; that of a thick one is two radii.

    Thin-wire theory does not hold for a conductor nearer to the ground than its own thickness.
    """
    return max(LYING_HEIGHT_M, 2.0 * spec.radial_radius_mm / 1000.0)


def counterpoise(spec: AntennaSpec, frequency_mhz: float, hub_height_m: float) -> Wire:
    """The radials as one wire and its copies, from the hub outwards; the first points to `azimuth_deg`.

    Without radials: the metal of the mount, else the outside of the cable down to the ground.
    """
    number, length, end_height = spec.radials, radial_length_m(spec, frequency_mhz), spec.radial_end_height_m
    if number == 0:
        if spec.mount in MOUNT_COUNTERPOISE:
            number, length = MOUNT_COUNTERPOISE[spec.mount]
            end_height = hub_height_m
        else:
            number, length, end_height = 1, _CABLE_COUNTERPOISE_M, CLEAR_HEIGHT_M
    end_height = max(end_height, lying_height_m(spec))
    drop = float(np.clip(hub_height_m - end_height, -0.95 * length, 0.95 * length))
    reach = float(np.sqrt(length**2 - drop**2))
    azimuth = np.deg2rad(spec.azimuth_deg)
    return Wire(
        start=(0.0, 0.0, hub_height_m),
        end=(reach * float(np.sin(azimuth)), reach * float(np.cos(azimuth)), hub_height_m - drop),
        radius_m=spec.radial_radius_mm / 1000.0,
        segments=pieces(length, frequency_mhz, WIRE_PIECES_PER_WAVE, 8),
        copies=number,
    )


FEED_ABOVE_HUB_M: Final = 0.045  # m, between the radials' hub and the gap: base bracket and lower coil end
NO_COIL_OHM: Final = 0.5  # ohm; a reactance up to this needs no coil
NO_CAPACITOR: Final = 0.2  # of the resistance; a reactance up to this needs no capacitor: SWR 1.2 (ours)
RESONANT_M: Final = 0.002  # m; a length is at resonance to this (ours)
BASE_COIL_M: Final = 0.02  # m; a coil no higher than this on the radiator is at its base


@dataclass(frozen=True)
class VerticalWires:
    """Wires of a vertical, with the indices of the feed's and the coil's current among the unknowns."""

    structure: Structure
    feed: int
    coil: int  # the same as the feed for a coil at the base
    ring: int


def vertical_wires(spec: AntennaSpec, ground: Ground, frequency_mhz: float, whip_m: float) -> VerticalWires:
    """The vertical of a description as wires, with a radiator of a length [m]."""
    mirror = ground.perfect and (spec.radials == 0 or spec.feed_height_m == 0.0)
    base = 0.0 if mirror else max(spec.feed_height_m, lying_height_m(spec))
    radius = spec.radius_mm / 1000.0
    gap = min(FEED_ABOVE_HUB_M, 0.05 * whip_m)
    split = spec.coil_height_m if spec.kind == "loaded vertical" else 0.0
    split = split if BASE_COIL_M < split < 0.97 * whip_m else 0.0
    heights = [0.0, gap, *([max(split, 2.0 * gap)] if split else []), whip_m]
    parts: list[Wire] = [] if mirror else [counterpoise(spec, frequency_mhz, base)]
    first = len(parts)
    for low, high in pairwise(heights):
        least = 1 if low == 0.0 else max(2, round(10 * (high - low) / whip_m))
        count = 1 if low == 0.0 else pieces(high - low, frequency_mhz, WHIP_PIECES_PER_WAVE, least)
        parts.append(Wire((0.0, 0.0, base + low), (0.0, 0.0, base + high), radius, count))
    if spec.top_wires and spec.top_wire_m > 0.0:
        parts.append(_top(spec, frequency_mhz, base + whip_m))
    structure = Structure(tuple(parts), grounded=mirror)
    feed = structure.unknown(first + 1, 0)
    loaded = structure.unknown(first + 2, 0) if split else feed
    rings = [wire.copies for wire in parts if not wire.on_axis]
    return VerticalWires(structure, feed, loaded, min(rings, default=8))


def _top(spec: AntennaSpec, frequency_mhz: float, height_m: float) -> Wire:
    hang = np.deg2rad(spec.top_wire_angle_deg)
    drop = min(spec.top_wire_m * float(np.sin(hang)), height_m - CLEAR_HEIGHT_M)
    reach = float(np.sqrt(max(spec.top_wire_m**2 - drop**2, 1e-6)))
    count = pieces(spec.top_wire_m, frequency_mhz, WIRE_PIECES_PER_WAVE, 4)
    end = (0.0, reach, height_m - drop)
    return Wire((0.0, 0.0, height_m), end, spec.radial_radius_mm / 1000.0, count, spec.top_wires)


def _ports(built: VerticalWires, frequency_mhz: float, ground: Ground) -> Ports:
    at = (built.feed,) if built.coil == built.feed else (built.feed, built.coil)
    return ports(built.structure, at, frequency_mhz, ground)


def _input(found: Ports, load: complex) -> complex:
    """Impedance at the feed with the coil's impedance inserted [ohm]."""
    z = found.impedance
    if z.shape[0] == 1:
        return complex(z[0, 0]) + load
    return complex(z[0, 0] - z[0, 1] * z[1, 0] / (z[1, 1] + load))


def _bare(found: Ports) -> complex:
    return _input(found, 0.0)


def needed_reactance_ohm(found: Ports, quality: float) -> float | None:
    """The coil's series reactance [ohm] that makes the feed's reactance zero; None where no coil does."""
    z = found.impedance
    if z.shape[0] == 1:
        reactance = -float(z[0, 0].imag)
        return reactance if reactance >= 0.0 else None
    # With s = Z22 + XL (1/Q + j): Im(Z11 - Z12^2 / s) = 0, a quadratic in XL.
    a, b = float(z[0, 0].imag), complex(z[0, 1] * z[1, 0])
    r, x, d = float(z[1, 1].real), float(z[1, 1].imag), 1.0 / quality
    square = a * (1.0 + d * d)
    linear = 2.0 * a * (r * d + x) - b.imag * d + b.real
    constant = a * (r * r + x * x) - b.imag * r + b.real * x
    roots = np.roots([square, linear, constant])
    real = [float(root.real) for root in roots if abs(root.imag) < 1e-6 * abs(root) and root.real >= 0.0]
    return min(real) if real else None


def solve_at(
    spec: AntennaSpec,
    ground: Ground,
    frequency_mhz: float,
    whip_m: float,
    line_ohm: float,
    capacitor: bool = False,
) -> Solution:
    """Solve the vertical with a radiator of a length [m] on one frequency [MHz].

    Where it is too short, a loaded vertical's coil tunes it; with `base_match`, the coil's tap or a shunt
    coil then brings a resistance below the line's [ohm] up to it without loss. `capacitor`: where it is too
    long, a lossless capacitor in series makes it resonant. Anything else is fed as it is. The loss of the
    connections is in series with the feed.
    """
    loaded = spec.kind == "loaded vertical"
    built = vertical_wires(spec, ground, frequency_mhz, whip_m)
    found = _ports(built, frequency_mhz, ground)
    bare = _bare(found)
    wanted = needed_reactance_ohm(found, spec.coil_q) if loaded else None
    if wanted is not None and wanted < NO_COIL_OHM:
        wanted = None
    coil_set, in_range = _set_coil(spec, frequency_mhz, wanted or 0.0)
    load = complex(coil_set.resistance_ohm, coil_set.reactance_ohm)
    joints = spec.connection_loss_ohm
    seen = _input(found, load) + joints
    currents, in_coil = _fed(found, load)
    radiated = pattern(built.structure, currents, seen.real, frequency_mhz, ground, built.ring)
    coil_share = coil_set.resistance_ohm * in_coil**2 / seen.real
    elsewhere = 1.0 - coil_share - joints / seen.real  # into the sky and the ground
    efficiency = elsewhere if ground.perfect else min(radiated.efficiency(), elsewhere)
    sky = efficiency / elsewhere
    series = seen.imag if capacitor and not wanted and seen.imag > NO_CAPACITOR * seen.real else 0.0
    matched = bool(wanted) and in_range and spec.base_match is not False and seen.real < line_ohm
    notes = []
    if not in_range:
        notes.append(f"The coil's {spec.coil_uh_max:g} uH do not reach this band; a longer radiator would.")
    return Solution(
        frequency_mhz=frequency_mhz,
        pattern=radiated,
        efficiency=efficiency,
        radiation_resistance_ohm=bare.real * sky,
        ground_loss_ohm=bare.real * (1.0 - sky) + joints,
        connection_ohm=joints,
        connection_share=joints / seen.real,
        reactance_ohm=bare.imag,
        coil_loss_ohm=coil_set.resistance_ohm,
        coil_uh=coil_set.inductance_uh if wanted else None,
        coil_share=coil_share,
        coil_current_ratio=in_coil,
        coil_reactance_ohm=coil_set.reactance_ohm,
        tuned_resistance_ohm=seen.real,
        slope=lambda: _slope(spec, built, ground, coil_set, seen, series, frequency_mhz),
        mirror=lambda: _mirror(built, frequency_mhz, load),
        load_ohm=complex(line_ohm) if matched else seen - 1j * series,
        matched=matched,
        whip_m=whip_m,
        tuning="coil" if wanted else "capacitor" if series else "none",
        series_pf=1.0e6 / (2.0 * np.pi * frequency_mhz * series) if series else None,
        in_range=in_range,
        notes=tuple(notes),
    )


def _fed(found: Ports, load: complex) -> tuple[ComplexArray, float]:
    """Currents for 1 A into the feed with the coil's impedance [ohm] inserted, and the coil's own current."""
    if found.impedance.shape[0] == 1:
        return found.currents[:, 0], 1.0
    z = found.impedance
    ratio = -z[1, 0] / (z[1, 1] + load)
    return found.currents[:, 0] + ratio * found.currents[:, 1], float(abs(ratio))


def _set_coil(spec: AntennaSpec, frequency_mhz: float, reactance_ohm: float) -> tuple[coil.Tuned, bool]:
    """Set the coil to a series reactance [ohm], or its largest; also return whether it is reached."""
    tuning = coil.tuned(reactance_ohm, frequency_mhz, spec.coil_q, spec.coil_self_capacitance_pf)
    if spec.coil_uh_max is None or tuning.inductance_uh <= spec.coil_uh_max:
        return tuning, True
    omega = 2.0 * np.pi * frequency_mhz
    most = omega * spec.coil_uh_max
    most = most / (1.0 - omega * 1e-6 * spec.coil_self_capacitance_pf * most)
    return coil.tuned(most, frequency_mhz, spec.coil_q, spec.coil_self_capacitance_pf), False


def _slope(
    spec: AntennaSpec,
    built: VerticalWires,
    ground: Ground,
    coil_set: coil.Tuned,
    seen: complex,
    series_ohm: float,
    frequency_mhz: float,
) -> float:
    """Slope f dX/df at the feed with the coil as set and the reactance of a capacitor in series [ohm]."""
    higher = frequency_mhz * (1.0 + FREQUENCY_STEP)
    found = _ports(built, higher, ground)
    load = complex(coil_set.resistance_ohm, coil_set.reactance_ohm + FREQUENCY_STEP * coil_set.slope_ohm)
    return (_input(found, load).imag - seen.imag) / FREQUENCY_STEP + series_ohm


def _mirror(built: VerticalWires, frequency_mhz: float, load: complex) -> float:
    """Radiation resistance at the feed [ohm] of the same wires with a lossless coil, over a mirror."""
    found = _ports(built, frequency_mhz, PERFECT)
    return _input(found, 1j * load.imag).real


@dataclass(frozen=True)
class Resonance:
    """Length of a radiator [m] near resonance, its reactance there [ohm], and that per metre of length."""

    length_m: float
    reactance_ohm: float
    per_m_ohm: float


def searched_m(frequency_mhz: float, quarters: int) -> tuple[float, float]:
    """Least and greatest length [m] among which `resonance` looks for a number of quarter waves."""
    quarter = QUARTER_WAVE * wavelength_m(frequency_mhz)
    return (quarters - 0.6) * quarter, (quarters + 0.3) * quarter


@lru_cache(maxsize=256)
def resonance(spec: AntennaSpec, ground: Ground, frequency_mhz: float, quarters: int = 1) -> Resonance:
    """The length near a quarter wave (or three quarters) that needs neither coil nor capacitor.

    The reactance at the length tells whether there is one: radials of half a wave may leave none.
    """
    quarter = QUARTER_WAVE * wavelength_m(frequency_mhz)
    low, high = searched_m(frequency_mhz, quarters)

    def reactance(length: float) -> float:
        built = vertical_wires(spec, ground, frequency_mhz, length)
        return _bare(_ports(built, frequency_mhz, ground)).imag

    one, other = (quarters - 0.06) * quarter, (quarters - 0.02) * quarter
    x_one, x_other = reactance(one), reactance(other)
    for _ in range(4):
        per_m_ohm = (x_other - x_one) / (other - one)
        step = x_other / per_m_ohm
        following = float(np.clip(other - step, low, high))
        if abs(step) < RESONANT_M or following == other:
            break
        one, x_one, other, x_other = other, x_other, following, reactance(following)
    return Resonance(other, x_other, per_m_ohm)
