"""Currents and impedances of thin straight wires above the ground, by the method of moments.

Galerkin's method with piecewise linear currents on the mixed-potential integral equation and the reduced
thin-wire kernel (R. F. Harrington, Field Computation by Moment Methods, 1968). `sommerfeld` gives the effect
of the ground. Wires that are repeated evenly round the mast (radials, top wires) carry equal currents and
share their unknowns. Time convention exp(j w t). Conductors are lossless except for explicit loads.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import Final, TypeAlias

import numpy as np

from propagation.antennas.sommerfeld import EarthTable, image_strengths
from propagation.base.constants import FREE_SPACE_IMPEDANCE_OHM, SPEED_OF_LIGHT_M_PER_S
from propagation.base.units import FloatArray, IntArray, as_float
from propagation.geo.ground import ComplexArray, Ground

Point: TypeAlias = tuple[float, float, float]  # east, north, up [m]

_OUTER: Final = np.polynomial.legendre.leggauss(8)  # observation points on a segment, sharp kernels
_INNER: Final = np.polynomial.legendre.leggauss(3)  # points on a segment, smooth kernels
_PAIRS_AT_ONCE: Final = 30_000  # pairs of segments processed at a time, to limit memory
_THREE: Final = ["einsum_path", (0, 1), (0, 1)]  # fixed order of contraction
_MANY_COPIES: Final = 24  # copies of a wire, from which half of their reactions are computed
_TOUCH_M: Final = 1e-6  # m, wire ends closer than this are joined


@dataclass(frozen=True)
class Wire:
    """Straight wire, and its copies rotated evenly about the vertical through the origin.

    start, end [m]: east, north, up; radius_m [m]; segments: number of segments; copies: number of such wires.
    """

    start: Point
    end: Point
    radius_m: float
    segments: int
    copies: int = 1

    @property
    def on_axis(self) -> bool:
        """Whether rotation about the vertical leaves the wire unchanged."""
        return max(abs(v) for v in (*self.start[:2], *self.end[:2])) < _TOUCH_M


@dataclass(frozen=True)
class Structure:
    """Wires joined at common ends; an end on perfect ground (`grounded`) is joined to its image."""

    wires: tuple[Wire, ...]
    grounded: bool = False

    @cached_property
    def first_segment(self) -> IntArray:
        """Index of each wire's first segment, and the total after the last."""
        return np.concatenate([[0], np.cumsum([wire.segments for wire in self.wires])]).astype(np.int64)

    @cached_property
    def _bases(self) -> tuple[FloatArray, dict[tuple[int, int], int]]:
        """Weights (segments, 2, unknowns) of the current at both ends of each segment, and node -> unknown.

        A unit unknown is 1 A through its node, all copies together.
        """
        columns: list[list[tuple[int, int, float]]] = []
        node: dict[tuple[int, int], int] = {}
        meetings: dict[tuple[int, int, int], list[tuple[int, bool]]] = {}
        for w, wire in enumerate(self.wires):
            first = int(self.first_segment[w])
            for k in range(1, wire.segments):
                node[w, k] = len(columns)
                share = 1.0 / wire.copies
                columns.append([(first + k - 1, 1, share), (first + k, 0, share)])
            for at_start, point in ((True, wire.start), (False, wire.end)):
                key = tuple(round(v / _TOUCH_M) for v in point)
                meetings.setdefault((key[0], key[1], key[2]), []).append((w, at_start))

        def outward(w: int, at_start: bool) -> tuple[int, int, float]:
            """The end of a wire carrying 1 A out of the junction, shared by its copies."""
            share = 1.0 / self.wires[w].copies
            first, last = int(self.first_segment[w]), int(self.first_segment[w + 1]) - 1
            return (first, 0, share) if at_start else (last, 1, -share)

        for key, ends in meetings.items():
            touching = self.grounded and key[2] == 0
            reference = [] if touching else [outward(*ends[0])]
            for w, at_start in ends if touching else ends[1:]:
                node[w, 0 if at_start else self.wires[w].segments] = len(columns)
                columns.append([outward(w, at_start), *((s, e, -value) for s, e, value in reference)])
        weights = np.zeros((int(self.first_segment[-1]), 2, len(columns)))
        for column, entries in enumerate(columns):
            for segment, end, value in entries:
                weights[segment, end, column] += value
        return weights, node

    @property
    def weights(self) -> FloatArray:
        """Current at both ends of each segment for 1 A in each unknown, shape (segments, 2, unknowns)."""
        return self._bases[0]

    def unknown(self, wire: int, node: int) -> int:
        """The unknown that is the current through a node of a wire; node 0 is its start."""
        return self._bases[1][wire, node]

    @cached_property
    def ends(self) -> tuple[FloatArray, FloatArray]:
        """Starts and ends of all segments [m], shape (segments, 3) each."""
        starts, stops = [], []
        for wire in self.wires:
            along = np.linspace(0.0, 1.0, wire.segments + 1)[:, None]
            nodes = as_float(wire.start) + along * (as_float(wire.end) - as_float(wire.start))
            starts.append(nodes[:-1])
            stops.append(nodes[1:])
        return np.concatenate(starts), np.concatenate(stops)


def _shapes(points: FloatArray) -> FloatArray:
    """The two linear shapes of a segment at Gauss points -1..1: shape (2, points)."""
    return np.stack([0.5 - points / 2.0, 0.5 + points / 2.0])


def turned(points: FloatArray, copies: int, count: int) -> FloatArray:
    """Rotate points (n, 3) to the first `count` of `copies` even angles about the vertical: (count, n, 3)."""
    angle = 2.0 * np.pi * np.arange(count) / copies
    cosine, sine = np.cos(angle)[:, None], np.sin(angle)[:, None]
    x, y, z = points[:, 0], points[:, 1], points[:, 2]
    up = np.broadcast_to(z, (count, z.size))
    return np.stack([cosine * x - sine * y, sine * x + cosine * y, up], axis=-1)


def _sharp(
    observed: FloatArray, start: FloatArray, stop: FloatArray, radius: float
) -> tuple[ComplexArray, ComplexArray]:
    """Integrals of exp(-j R)/R times the two linear shapes along source segments, at observation points.

    observed: (p, 3); start, stop: (q, 3); all [1/k0]. Returns the two integrals, each (p, q). The static part
    1/R is integrated in closed form, the rest by Gauss's rule.
    """
    length = np.linalg.norm(stop - start, axis=-1)
    tangent = (stop - start) / length[:, None]
    offset = observed[:, None, :] - (start + stop) / 2.0
    u = np.einsum("pqi,qi->pq", offset, tangent)
    d2 = np.maximum(np.einsum("pqi,pqi->pq", offset, offset) - u**2, 0.0) + radius**2
    d = np.sqrt(d2)
    half = length / 2.0
    zeroth = np.arcsinh((half - u) / d) + np.arcsinh((half + u) / d)
    first = np.sqrt((half - u) ** 2 + d2) - np.sqrt((half + u) ** 2 + d2) + u * zeroth
    low = (0.5 * zeroth - first / length).astype(np.complex128)
    high = (0.5 * zeroth + first / length).astype(np.complex128)
    for x, w in zip(*_INNER, strict=True):
        distance = np.sqrt((u - x * half) ** 2 + d2)
        rest = (np.exp(-1j * distance) - 1.0) / distance * (w * half)
        low += (0.5 - x / 2.0) * rest
        high += (0.5 + x / 2.0) * rest
    return low, high


def impedance_matrix(structure: Structure, frequency_mhz: float, ground: Ground | None) -> ComplexArray:
    """Impedances between all unknowns [ohm], shape (n, n); ground None is free space."""
    k0 = _wave_number(frequency_mhz)
    starts, stops = (k0 * points for points in structure.ends)
    count = starts.shape[0]
    local = np.zeros((count, 2, count, 2), dtype=np.complex128)
    permittivity = _permittivity(ground, frequency_mhz)
    heights = np.concatenate([starts[:, 2], stops[:, 2]])
    lowest = float(heights.min())
    images, earth = _below(permittivity, _reach(structure) * k0, lowest, float(heights.max()))
    wires = structure.wires
    edge = structure.first_segment
    for p in range(len(wires)):
        for q in range(p, len(wires)):
            rows, columns = slice(edge[p], edge[p + 1]), slice(edge[q], edge[q + 1])
            if p == q and wires[p].copies > 1:
                local[rows, :, columns, :] = _ring(wires[p], frequency_mhz, permittivity, lowest)
                continue
            p_pieces = _Pieces(starts[rows], stops[rows])
            q_pieces = _Pieces(starts[columns], stops[columns])
            block = _block((wires[p], wires[q]), p == q, k0, p_pieces, q_pieces, images, earth)
            local[rows, :, columns, :] = block
            if q > p:
                local[columns, :, rows, :] = block.transpose(2, 3, 0, 1)
    weights = structure.weights.reshape(2 * count, -1)
    scale = 1j * FREE_SPACE_IMPEDANCE_OHM / (4.0 * np.pi)
    return np.asarray(scale * (weights.T @ local.reshape(2 * count, 2 * count) @ weights))


def _wave_number(frequency_mhz: float) -> float:
    """Wave number of free space [1/m]."""
    return 2.0e6 * np.pi * frequency_mhz / SPEED_OF_LIGHT_M_PER_S


def _permittivity(ground: Ground | None, frequency_mhz: float) -> complex | None:
    """Complex relative permittivity: infinite for perfect ground, None for free space."""
    if ground is None:
        return None
    return complex(np.inf) if ground.perfect else complex(ground.complex_permittivity(frequency_mhz))


def _below(
    permittivity: complex | None, reach: float, lowest: float, highest: float
) -> tuple[ComplexArray | None, EarthTable | None]:
    """Images and table of the ground below wires; lengths and heights in [1/k0]."""
    if permittivity is None:
        return None, None
    images = image_strengths(permittivity, 2.0 * lowest)
    if np.isinf(permittivity.real):
        return images, None
    return images, EarthTable(permittivity, images, reach, 2.0 * lowest, 2.0 * highest)


@lru_cache(maxsize=96)
def _ring(wire: Wire, frequency_mhz: float, permittivity: complex | None, lowest: float) -> ComplexArray:
    """Reactions of a wire and its copies with each other: (P, 2, P, 2) [j eta / 4 pi]; read only.

    lowest: of the whole structure, [1/k0]. Many radials take far more time than the mast over them, and the
    same radials serve every length of the mast while its resonance is searched, and every change of it.
    """
    k0 = _wave_number(frequency_mhz)
    alone = Structure((wire,))
    starts, stops = (k0 * points for points in alone.ends)
    highest = float(max(starts[:, 2].max(), stops[:, 2].max()))
    images, earth = _below(permittivity, _reach(alone) * k0, lowest, highest)
    count = wire.segments
    block = np.empty((count, 2, count, 2), dtype=np.complex128)
    step = count if wire.copies < _MANY_COPIES else max(count // 6, 2)
    for first in range(0, count, step):  # by reciprocity, what is below the diagonal is what is above it
        rows, rest = slice(first, first + step), slice(first, None)
        p, q = _Pieces(starts[rows], stops[rows]), _Pieces(starts[rest], stops[rest])
        part = _block((wire, wire), True, k0, p, q, images, earth)
        block[rows, :, rest, :] = part
        block[rest, :, rows, :] = part.transpose(2, 3, 0, 1)
        block[rows, :, rows, :] = part[:, :, :step, :]
    block.flags.writeable = False
    return block


def _reach(structure: Structure) -> float:
    """The largest horizontal distance between two points of the structure [m]."""
    starts, stops = structure.ends
    points = np.concatenate([starts, stops])[:, :2]
    if any(wire.copies > 1 for wire in structure.wires):
        return 2.0 * float(np.hypot(points[:, 0], points[:, 1]).max()) + 1e-3
    span = points.max(axis=0) - points.min(axis=0)
    return float(np.hypot(*span)) + 1e-3


@dataclass(frozen=True)
class _Pieces:
    """Segments given by their ends [1/k0], shape (..., 3)."""

    start: FloatArray
    stop: FloatArray

    @cached_property
    def length(self) -> FloatArray:
        return np.asarray(np.linalg.norm(self.stop - self.start, axis=-1))

    @cached_property
    def tangent(self) -> FloatArray:
        return (self.stop - self.start) / self.length[..., None]

    def points(self, x: FloatArray) -> FloatArray:
        """Places x (-1..1) along each segment: shape (..., x, 3)."""
        middle, half = (self.start + self.stop) / 2.0, (self.stop - self.start) / 2.0
        return np.asarray(middle[..., None, :] + x[:, None] * half[..., None, :])

    @property
    def mirrored(self) -> _Pieces:
        """Mirror images of the segments below the ground."""
        below = np.array([1.0, 1.0, -1.0])
        return _Pieces(self.start * below, self.stop * below)


def _multiplicity(wire_p: Wire, wire_q: Wire, same: bool) -> FloatArray:
    """Count of each distinct pair of copies: the first copy of p with the distinct copies of q."""
    if wire_p.on_axis or wire_q.on_axis:
        return np.array([float(wire_p.copies * wire_q.copies)])
    if not same:
        return np.full(wire_q.copies, float(wire_p.copies))
    multiplicity = np.full(wire_q.copies // 2 + 1, 2.0 * wire_p.copies)  # left and right are equivalent
    multiplicity[0] = wire_p.copies
    if wire_q.copies % 2 == 0:
        multiplicity[-1] = wire_p.copies
    return multiplicity


def _block(
    wires: tuple[Wire, Wire],
    same: bool,
    k0: float,
    p: _Pieces,
    q: _Pieces,
    images: ComplexArray | None,
    earth: EarthTable | None,
) -> ComplexArray:
    """Reactions between the end currents of two wires' segments, with copies: (P, 2, Q, 2) [j eta / 4 pi]."""
    multiplicity = _multiplicity(*wires, same)
    copies, radius = wires[1].copies, k0 * wires[1].radius_m
    start = turned(q.start, copies, multiplicity.size)
    stop = turned(q.stop, copies, multiplicity.size)
    at_once = max(1, _PAIRS_AT_ONCE // (p.length.size * q.length.size))
    total = np.zeros((p.length.size, 2, q.length.size, 2), dtype=np.complex128)
    for first in range(0, multiplicity.size, at_once):
        part = slice(first, first + at_once)
        reaction = _reaction(p, _Pieces(start[part], stop[part]), radius, images, earth)
        total += np.einsum("pacqb,c->paqb", reaction, multiplicity[part])
    return total


def _reaction(
    p: _Pieces, q: _Pieces, radius: float, images: ComplexArray | None, earth: EarthTable | None
) -> ComplexArray:
    """Reactions of segments p (P, 3) with copies of segments q (C, Q, 3): (P, 2, C, Q, 2)."""
    moments, charge = _sharp_moments(p, q, radius)
    vector = moments * np.einsum("pi,cqi->pcq", p.tangent, q.tangent)[:, None, :, :, None]
    if images is not None:
        moments, plain = _sharp_moments(p, q.mirrored, radius)
        level = np.einsum("pi,cqi->pcq", p.tangent[:, :2], q.tangent[..., :2])
        upright = p.tangent[:, None, None, 2] * q.tangent[None, ..., 2]
        vector += moments * (images[0] * level + images[1] * upright)[:, None, :, :, None]
        charge = charge + images[2] * plain
    if earth is not None:
        more_vector, more_charge = _earth_moments(earth, p, q)
        vector += more_vector
        charge = charge + more_charge
    signs = np.array([-1.0, 1.0])
    charge = charge / (p.length[:, None, None] * q.length[None])
    return np.asarray(vector - charge[:, None, :, :, None] * (signs[:, None] * signs)[None, :, None, None, :])


def _sharp_moments(p: _Pieces, q: _Pieces, radius: float) -> tuple[ComplexArray, ComplexArray]:
    """Moments (P, 2, C, Q, 2) and plain integrals (P, C, Q) of exp(-j R)/R over both segments."""
    x, w = _OUTER
    observed = p.points(x).reshape(-1, 3)
    low, high = _sharp(observed, q.start.reshape(-1, 3), q.stop.reshape(-1, 3), radius)
    inner = np.stack([low, high], axis=-1).reshape(p.length.size, x.size, *q.length.shape, 2)
    moments = np.einsum("ag,pgcqb,p->pacqb", _shapes(x) * w / 2.0, inner, p.length)
    return moments, moments.sum(axis=(1, 4))


def _earth_moments(earth: EarthTable, p: _Pieces, q: _Pieces) -> tuple[ComplexArray, ComplexArray]:
    """Contribution of the ground's table: vector part (P, 2, C, Q, 2) and charge part (P, C, Q)."""
    x, w = _INNER
    shapes = _shapes(x) * w / 2.0
    at, source = p.points(x), q.points(x)  # (P, g, 3), (C, Q, h, 3)
    aside = at[:, :, None, None, None, :2] - source[None, None, ..., :2]  # (P, g, C, Q, h, 2)
    rho = np.sqrt(aside[..., 0] ** 2 + aside[..., 1] ** 2)
    zeta = at[:, :, None, None, None, 2] + source[None, None, ..., 2]
    kernel = earth.at(rho, zeta)
    towards = aside / np.maximum(rho, 1e-12)[..., None]
    level = np.einsum("pi,cqi->pcq", p.tangent[:, :2], q.tangent[..., :2])
    upright = p.tangent[:, None, None, 2] * q.tangent[None, ..., 2]
    q_towards = np.einsum("pgcqhi,cqi->pgcqh", towards, q.tangent[..., :2])
    p_towards = np.einsum("pgcqhi,pi->pgcqh", towards, p.tangent[:, :2])
    cross = p.tangent[:, None, None, None, None, 2] * q_towards
    cross = cross - p_towards * q.tangent[None, None, :, :, None, 2]
    total = level[:, None, :, :, None] * kernel[..., 0] + upright[:, None, :, :, None] * kernel[..., 1]
    total = total + cross * kernel[..., 3]
    sized = shapes[None] * p.length[:, None, None]  # (P, a, g)
    inner = np.einsum("pgcqh,bh,cq->pgcqb", total, shapes, q.length, optimize=_THREE)
    vector = np.einsum("pag,pgcqb->pacqb", sized, inner)
    flat = w / 2.0
    charge = np.einsum("pgcqh,g,h->pcq", kernel[..., 2], flat, flat, optimize=_THREE)
    return vector, charge * p.length[:, None, None] * q.length[None]
