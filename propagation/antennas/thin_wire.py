"""Currents and impedances of thin straight wires above the earth, by the method of moments.

Galerkin's method with piecewise linear currents on the mixed-potential integral equation and the reduced
thin-wire kernel (R. F. Harrington, Field Computation by Moment Methods, 1968); the earth enters through
`half_space`. Wires that are repeated evenly round the mast (radials, top wires) carry equal currents and cost
one unknown between them. Time convention exp(j w t). Conductors are lossless unless a load says otherwise.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Final, TypeAlias

import numpy as np

from propagation.antennas.earth_table import EarthTable
from propagation.antennas.half_space import image_strengths
from propagation.constants import FREE_SPACE_IMPEDANCE_OHM, SPEED_OF_LIGHT_M_PER_S
from propagation.ground import ComplexArray, Ground
from propagation.units import FloatArray, IntArray, as_float

Point: TypeAlias = tuple[float, float, float]  # east, north, up [m]

_OUTER: Final = np.polynomial.legendre.leggauss(8)  # observation points on a segment, sharp kernels
_INNER: Final = np.polynomial.legendre.leggauss(3)  # points on a segment, smooth kernels
_TOUCH_M: Final = 1e-6  # m, wire ends closer than this are joined


@dataclass(frozen=True)
class Wire:
    """A straight wire, and its copies turned evenly about the vertical through the origin.

    start, end [m]: east, north, up; radius_m [m]; segments: how many pieces; copies: how many such wires.
    """

    start: Point
    end: Point
    radius_m: float
    segments: int
    copies: int = 1

    @property
    def on_axis(self) -> bool:
        """True where turning the wire about the vertical leaves it in place."""
        return max(abs(v) for v in (*self.start[:2], *self.end[:2])) < _TOUCH_M


@dataclass(frozen=True)
class Structure:
    """Wires joined where their ends meet; an end on perfect ground (`grounded`) is joined to its image."""

    wires: tuple[Wire, ...]
    grounded: bool = False

    @cached_property
    def first_segment(self) -> IntArray:
        """Index of each wire's first segment, and the total behind the last."""
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
            """The end of a wire carrying 1 A out of the meeting, shared by its copies."""
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
    """Points (n, 3) turned to the first `count` of `copies` even places about the vertical: (count, n, 3)."""
    angle = 2.0 * np.pi * np.arange(count) / copies
    cosine, sine = np.cos(angle)[:, None], np.sin(angle)[:, None]
    x, y, z = points[:, 0], points[:, 1], points[:, 2]
    up = np.broadcast_to(z, (count, z.size))
    return np.stack([cosine * x - sine * y, sine * x + cosine * y, up], axis=-1)


def _sharp(
    observed: FloatArray, start: FloatArray, stop: FloatArray, radius: float
) -> tuple[ComplexArray, ComplexArray]:
    """Integrals of exp(-j R)/R times the two linear shapes along source segments, seen from points.

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
    k0 = 2.0e6 * np.pi * frequency_mhz / SPEED_OF_LIGHT_M_PER_S
    starts, stops = (k0 * points for points in structure.ends)
    count = starts.shape[0]
    local = np.zeros((count, 2, count, 2), dtype=np.complex128)
    images: ComplexArray | None = None
    earth: EarthTable | None = None
    if ground is not None:
        permittivity = (
            complex(np.inf) if ground.perfect else complex(ground.complex_permittivity(frequency_mhz))
        )
        heights = np.concatenate([starts[:, 2], stops[:, 2]])
        zeta_min, zeta_max = 2.0 * float(heights.min()), 2.0 * float(heights.max())
        images = image_strengths(permittivity, zeta_min)
        if not ground.perfect:
            earth = EarthTable(permittivity, images, _reach(structure) * k0, zeta_min, zeta_max)
    wires = structure.wires
    edge = structure.first_segment
    for p in range(len(wires)):
        for q in range(p, len(wires)):
            rows, columns = slice(edge[p], edge[p + 1]), slice(edge[q], edge[q + 1])
            block = _block(
                wires[p], wires[q], p == q, k0,
                (starts[rows], stops[rows]), (starts[columns], stops[columns]), images, earth,
            )  # fmt: skip
            local[rows, :, columns, :] = block
            if q > p:
                local[columns, :, rows, :] = block.transpose(2, 3, 0, 1)
    weights = structure.weights.reshape(2 * count, -1)
    scale = 1j * FREE_SPACE_IMPEDANCE_OHM / (4.0 * np.pi)
    return np.asarray(scale * (weights.T @ local.reshape(2 * count, 2 * count) @ weights))


def _reach(structure: Structure) -> float:
    """The largest horizontal distance between two points of the structure [m]."""
    starts, stops = structure.ends
    points = np.concatenate([starts, stops])[:, :2]
    if any(wire.copies > 1 for wire in structure.wires):
        return 2.0 * float(np.hypot(points[:, 0], points[:, 1]).max()) + 1e-3
    span = points.max(axis=0) - points.min(axis=0)
    return float(np.hypot(*span)) + 1e-3


def _block(
    wire_p: Wire,
    wire_q: Wire,
    same: bool,
    k0: float,
    p_ends: tuple[FloatArray, FloatArray],
    q_ends: tuple[FloatArray, FloatArray],
    images: ComplexArray | None,
    earth: EarthTable | None,
) -> ComplexArray:
    """Reactions between the end currents of two wires' segments, copies in: (P, 2, Q, 2) [j eta / 4 pi]."""
    if wire_p.on_axis or wire_q.on_axis:
        count, multiplicity = 1, np.array([float(wire_p.copies * wire_q.copies)])
    elif same:  # copies on the left and on the right of a wire act alike
        count = wire_q.copies // 2 + 1
        multiplicity = np.full(count, 2.0 * wire_p.copies)
        multiplicity[0] = wire_p.copies
        if wire_q.copies % 2 == 0:
            multiplicity[-1] = wire_p.copies
    else:
        count, multiplicity = wire_q.copies, np.full(wire_q.copies, float(wire_p.copies))
    p_start, p_stop = p_ends
    segments_p, segments_q = p_start.shape[0], q_ends[0].shape[0]
    q_start = turned(q_ends[0], wire_q.copies, count)
    q_stop = turned(q_ends[1], wire_q.copies, count)
    radius = k0 * wire_q.radius_m
    p_length = np.linalg.norm(p_stop - p_start, axis=-1)
    q_length = np.linalg.norm(q_stop[0] - q_start[0], axis=-1)
    p_tangent = (p_stop - p_start) / p_length[:, None]
    q_tangent = (q_stop - q_start) / q_length[:, None]

    x, w = _OUTER
    observed = (p_start + p_stop)[:, None] / 2.0 + x[:, None] * (p_stop - p_start)[:, None] / 2.0
    outer = _shapes(x) * w / 2.0  # (2, points)
    charge_signs = np.array([-1.0, 1.0])

    def sharp(starts: FloatArray, stops: FloatArray) -> tuple[ComplexArray, ComplexArray]:
        """Moments (P, 2, C, Q, 2) and plain integrals (P, C, Q) over both segments."""
        low, high = _sharp(observed.reshape(-1, 3), starts.reshape(-1, 3), stops.reshape(-1, 3), radius)
        inner = np.stack([low, high], axis=-1).reshape(segments_p, x.size, count, segments_q, 2)
        moments = np.einsum("ag,pgcqb,p->pacqb", outer, inner, p_length)
        return moments, moments.sum(axis=(1, 4))

    moments, plain = sharp(q_start, q_stop)
    along = np.einsum("pi,cqi->pcq", p_tangent, q_tangent)
    vector = moments * along[:, None, :, :, None]
    charge = plain.copy()
    if images is not None:
        mirror = np.array([1.0, 1.0, -1.0])
        moments, plain = sharp(q_start * mirror, q_stop * mirror)
        level = np.einsum("pi,cqi->pcq", p_tangent[:, :2], q_tangent[..., :2])
        upright = p_tangent[:, None, None, 2] * q_tangent[None, ..., 2]
        vector += moments * (images[0] * level + images[1] * upright)[:, None, :, :, None]
        charge += images[2] * plain
    if earth is not None:
        more_vector, more_charge = _earth_block(
            earth, p_start, p_stop, q_start, q_stop, p_length, q_length, p_tangent, q_tangent
        )
        vector += more_vector
        charge += more_charge
    signs = charge_signs[:, None] * charge_signs[None, :]
    both = charge / (p_length[:, None, None] * q_length)
    reaction = vector - both[:, None, :, :, None] * signs[None, :, None, None, :]
    return np.asarray(np.einsum("pacqb,c->paqb", reaction, multiplicity))


def _earth_block(
    earth: EarthTable,
    p_start: FloatArray,
    p_stop: FloatArray,
    q_start: FloatArray,
    q_stop: FloatArray,
    p_length: FloatArray,
    q_length: FloatArray,
    p_tangent: FloatArray,
    q_tangent: FloatArray,
) -> tuple[ComplexArray, ComplexArray]:
    """What the earth's table adds: vector part (P, 2, C, Q, 2) and charge part (P, C, Q)."""
    x, w = _INNER
    shapes = _shapes(x) * w / 2.0
    at = (p_start + p_stop)[:, None] / 2.0 + x[:, None] * (p_stop - p_start)[:, None] / 2.0  # (P, g, 3)
    source = (q_start + q_stop)[:, :, None] / 2.0 + x[:, None] * (q_stop - q_start)[:, :, None] / 2.0
    aside = at[:, :, None, None, None, :2] - source[None, None, ..., :2]  # (P, g, C, Q, h, 2)
    rho = np.sqrt(aside[..., 0] ** 2 + aside[..., 1] ** 2)
    zeta = at[:, :, None, None, None, 2] + source[None, None, ..., 2]
    kernel = earth.at(rho, zeta)
    towards = aside / np.maximum(rho, 1e-12)[..., None]
    level = np.einsum("pi,cqi->pcq", p_tangent[:, :2], q_tangent[..., :2])
    upright = p_tangent[:, None, None, 2] * q_tangent[None, ..., 2]
    q_towards = np.einsum("pgcqhi,cqi->pgcqh", towards, q_tangent[..., :2])
    p_towards = np.einsum("pgcqhi,pi->pgcqh", towards, p_tangent[:, :2])
    cross = p_tangent[:, None, None, None, None, 2] * q_towards
    cross = cross - p_towards * q_tangent[None, None, :, :, None, 2]
    total = level[:, None, :, :, None] * kernel[..., 0] + upright[:, None, :, :, None] * kernel[..., 1]
    total = total + cross * kernel[..., 3]
    vector = np.einsum("ag,pgcqh,bh,p,q->pacqb", shapes, total, shapes, p_length, q_length, optimize=True)
    flat = w / 2.0
    charge = np.einsum("g,pgcqh,h,p,q->pcq", flat, kernel[..., 2], flat, p_length, q_length, optimize=True)
    return vector, charge
