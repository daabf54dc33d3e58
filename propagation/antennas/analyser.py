"""Efficiency of an antenna from the reading of an antenna analyser.

At the dip the load is r times the line's impedance, r = S0 or 1 / S0. Where the SWR is S the normalised
reactance is x with x^2 = (S - r)(r - 1 / S), exact for a single resonance. The full width df between the two
frequencies of that SWR gives the loaded Q = f0 x / (r df). The slope of the reactance, Sigma = f dX/df, is
known from the antenna's dimensions, so the total series resistance at the antenna is

    R_total = Sigma r df / (2 f0 x),

with any lossless transformer between. Efficiency is the part of R_total that is radiated into the sky. The
relations are those of any series resonance (Yaghjian and Best, IEEE Trans. Antennas Propag. 53 (2005) 1298,
for the slope); the method was checked on moment-method curves with known losses.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from propagation.antennas.antenna import Antenna
from propagation.antennas.feedline import VELOCITY_FACTOR, matched_loss_db_per_100m
from propagation.antennas.measurements import AGREEMENT, diagnosis
from propagation.antennas.spec import FeedlineSpec, Measurement
from propagation.antennas.touchstone import Sweep
from propagation.base.constants import SPEED_OF_LIGHT_M_PER_S
from propagation.base.errors import InputError
from propagation.base.units import FloatArray, as_float, db

SWR_READING_ERROR: Final = 0.03  # error of a read SWR (common practice)
FREQUENCY_READING_ERROR: Final = 0.03  # of the width: error of the two read edges (common practice)
SLOPE_ERROR: Final = 0.05  # of Sigma: the computed slope against moment-method solvers
SIDE_KNOWN_FROM: Final = 1.06  # SWR at the dip below which the two sides of the match are equivalent


@dataclass(frozen=True)
class AnalyserReading:
    """Reading of an analyser: the dip, and pairs of frequencies [MHz] of equal SWR, one for each SWR given.

    at_antenna: read at the antenna, without the cable between; else the cable's loss is taken out first.
    low_side: True where the load at the dip is known to be below the line's impedance, False above, None
    unknown.
    """

    frequency_mhz: float
    swr: float
    edges: tuple[tuple[float, float, float], ...]  # SWR, lower and upper frequency [MHz]
    at_antenna: bool = False
    low_side: bool | None = None

    def __post_init__(self) -> None:
        if not 0.1 <= self.frequency_mhz <= 500.0:
            raise InputError(f"The dip at {self.frequency_mhz:g} MHz is outside 0.1 to 500 MHz.")
        if not 1.0 <= self.swr < 10.0:
            raise InputError(f"An SWR of {self.swr:g} at the dip is not between 1 and 10.")
        if not self.edges:
            raise InputError("Give the two frequencies where the SWR is 1.5, or those where it is 2.")
        for swr, low, high in self.edges:
            if not low < self.frequency_mhz < high:
                raise InputError(
                    f"The frequencies of SWR {swr:g}, {low:g} and {high:g} MHz, must lie on either side of "
                    f"the dip at {self.frequency_mhz:g} MHz."
                )
            if not self.swr < swr <= 20.0:
                raise InputError(
                    f"An SWR of {swr:g} next to the dip must be above the {self.swr:g} at the dip, up to 20."
                )


@dataclass(frozen=True)
class Side:
    """Possible load at the dip (one of two): r times the line's impedance, and the derived figures."""

    r: float
    total_resistance_ohm: float
    error_ohm: float
    circuit_efficiency: float  # radiation resistance over perfect ground / total: without the ground's share
    efficiency: float  # into the sky / input
    efficiency_db: float
    error_db: float

    def measured(self, frequency_mhz: float, date: str, note: str = "") -> Measurement:
        """Convert this side to a measurement to be stored with the antenna."""
        return Measurement(
            frequency_mhz=round(frequency_mhz, 4),
            total_resistance_ohm=round(self.total_resistance_ohm, 2),
            error_db=round(self.error_db, 2),
            date=date,
            note=note,
        )


@dataclass(frozen=True)
class Verdict:
    """Result of a reading.

    sides: one where the side of the match is known, else two, that of greater loss first.
    """

    frequency_mhz: float
    swr_at_antenna: float
    sides: tuple[Side, ...]
    computed_resistance_ohm: float
    computed_efficiency: float
    said: tuple[str, ...]

    @property
    def best(self) -> Side:
        """The side to use: the known one, else that of greater loss, as the cautious choice."""
        return self.sides[0]


def at_antenna_swr(swr: FloatArray | float, loss_db: float) -> FloatArray:
    """The SWR at the far end of a line of a matched loss [dB], from the SWR seen through it."""
    seen = as_float(swr)
    rho = (seen - 1.0) / (seen + 1.0) * 10.0 ** (loss_db / 10.0)
    if np.any(rho >= 0.95):
        raise InputError("The cable's loss and this SWR do not fit: nothing that lossy could look so bad.")
    return as_float((1.0 + rho) / (1.0 - rho))


def normalised_reactance(r: FloatArray | float, swr: FloatArray | float) -> FloatArray:
    """Reactance x at which a series resonance of resistance r (in line units) has an SWR; NaN if never."""
    r, swr = as_float(r), as_float(swr)
    square = (swr - r) * (r - 1.0 / swr)
    return as_float(np.sqrt(np.where(square > 0.0, square, np.nan)))


def total_resistance_ohm(
    slope_ohm: float, frequency_mhz: float, r: FloatArray | float, swr: float, width_mhz: float
) -> FloatArray:
    """Total series resistance R_total = Sigma r df / (2 f0 x) [ohm]."""
    x = normalised_reactance(r, swr)
    return as_float(slope_ohm * as_float(r) * width_mhz / (2.0 * frequency_mhz * x))


def _line_loss_db(line: FeedlineSpec, frequency_mhz: float) -> float:
    return float(matched_loss_db_per_100m(line, frequency_mhz)) * line.length_m / 100.0


def analyse(reading: AnalyserReading, antenna: Antenna, direct: bool = False) -> Verdict:
    """Analyse a reading of an antenna, given its description.

    direct: the cable feeds the antenna without a transformer, so that R_total must also be r times the line's
    impedance; this decides the side of the match. Raises InputError where the antenna's kind has no usable
    resonance, or the reading is inconsistent.
    """
    frequency = reading.frequency_mhz
    solution = antenna.solver(frequency)  # as computed, without earlier measurements
    computed, sky_ohm = solution.tuned_resistance_ohm, solution.radiation_resistance_ohm
    if solution.slope is None or computed is None or sky_ohm is None:
        raise InputError(f"The analyser's method does not work for an antenna of kind {antenna.spec.kind!r}.")
    slope_ohm = solution.slope()
    line = antenna.feedline
    loss_db = 0.0 if reading.at_antenna else _line_loss_db(line, frequency)
    swr = float(at_antenna_swr(reading.swr, loss_db))
    choices = [swr, 1.0 / swr] if swr >= SIDE_KNOWN_FROM else [1.0]
    if len(choices) == 2 and reading.low_side is not None:
        choices = [1.0 / swr] if reading.low_side else [swr]
    sides = [_side(reading, antenna, r, loss_db, slope_ohm) for r in choices]
    said: list[str] = []
    if direct:
        misfit = [abs(np.log(s.total_resistance_ohm / (s.r * line.impedance_ohm))) for s in sides]
        nearest = int(np.argmin(misfit))
        if len(sides) == 2:
            sides = [sides[nearest]]
        expected = sides[0].r * line.impedance_ohm
        if misfit[nearest] > np.log(AGREEMENT):
            said.append(
                f"Fed directly, {expected:.0f} ohm would be there; the width says "
                f"{sides[0].total_resistance_ohm:.0f} ohm. Something transforms on the way, or the "
                f"radiator is not as described."
            )
    if len(sides) == 2:
        sides.sort(key=lambda side: side.efficiency)
        apart = float(db(sides[1].efficiency / sides[0].efficiency))
        said.append(
            f"An SWR of {swr:.2f} at the dip can mean {swr * line.impedance_ohm:.0f} or "
            f"{line.impedance_ohm / swr:.0f} ohm; the two differ by {apart:.1f} dB here, and the lossier is "
            f"taken. A sweep saved as a Touchstone file, or a reading of resistance, would decide."
        )
    said.extend(diagnosis(sides[0].total_resistance_ohm / computed))
    return Verdict(
        frequency_mhz=frequency,
        swr_at_antenna=swr,
        sides=tuple(sides),
        computed_resistance_ohm=computed,
        computed_efficiency=solution.efficiency,
        said=tuple(said),
    )


def _side(reading: AnalyserReading, antenna: Antenna, r: float, loss_db: float, slope_ohm: float) -> Side:
    """The resistance for one side of the match, each pair of edges weighted by its precision."""
    found, spread = [], []
    for swr_seen, low, high in reading.edges:
        swr = float(at_antenna_swr(swr_seen, loss_db))

        def total(r: float, swr: float, width_mhz: float = high - low) -> float:
            return float(total_resistance_ohm(slope_ohm, reading.frequency_mhz, r, swr, width_mhz))

        value = total(r, swr)
        if not np.isfinite(value):
            raise InputError("The SWR at the dip and next to it do not fit one resonance; read them again.")
        off = SWR_READING_ERROR
        by_dip = [total(r * (1.0 + off), swr), total(r / (1.0 + off), swr)]
        by_edge = [total(r, swr + off), total(r, swr - off)]
        terms = [_relative(trials, value) for trials in (by_dip, by_edge)]
        found.append(value)
        spread.append(float(np.linalg.norm([*terms, FREQUENCY_READING_ERROR, SLOPE_ERROR])))
    weights = 1.0 / np.square(spread)
    resistance = float(np.exp(np.sum(weights * np.log(found)) / np.sum(weights)))
    error = min(spread)
    if len(found) > 1:
        error = max(error, 0.5 * float(np.ptp(np.log(found))))
    solution = antenna.solver(reading.frequency_mhz)
    radiating = solution.efficiency * float(solution.tuned_resistance_ohm or 0.0)
    mirror = radiating if solution.mirror is None else solution.mirror()
    efficiency = min(radiating / resistance, 1.0)
    return Side(
        r=r,
        total_resistance_ohm=resistance,
        error_ohm=resistance * error,
        circuit_efficiency=min(mirror / resistance, 1.0),
        efficiency=efficiency,
        efficiency_db=float(db(efficiency)),
        error_db=float(db(1.0 + error)),
    )


def _relative(trials: list[float], value: float) -> float:
    """The largest relative deviation among the trials that could be computed."""
    finite = [abs(trial / value - 1.0) for trial in trials if np.isfinite(trial)]
    return max(finite, default=0.0)


def from_sweep(sweep: Sweep, line: FeedlineSpec, at_antenna: bool = False) -> AnalyserReading:
    """Take the reading from a sweep: its deepest dip, the edges of SWR 1.5 and 2, and the side of the match.

    The side follows from the circle of the reflection coefficient. Near a resonance the circle passes through
    the open-circuit point. It encloses the centre of the chart where r < 1, and excludes it where r > 1, for
    any cable length. The rotation by the cable over the sweep is removed with its length. Raises InputError
    where the sweep has no dip, or does not reach SWR 1.5 on both sides of it.
    """
    frequency, swr = sweep.frequency_mhz, sweep.swr
    place = int(np.argmin(swr))
    if place in (0, swr.size - 1):
        raise InputError("The sweep's best SWR is at its edge: sweep a wider span, with the dip inside.")
    edges = []
    for level in (1.5, 2.0):
        if swr[place] > level - 0.05:
            continue
        low, high = (_crossing(frequency, swr, place, level, step) for step in (-1, 1))
        if low is not None and high is not None:
            edges.append((level, low, high))
    if not edges:
        raise InputError(
            f"The sweep dips to SWR {swr[place]:.2f} at {frequency[place]:.3f} MHz and does not show SWR 1.5 "
            f"or 2 on both sides of it: tune for a deeper dip, or sweep a wider span."
        )
    dip_mhz, dip = _vertex(frequency, swr, place)
    return AnalyserReading(dip_mhz, dip, tuple(edges), at_antenna, _low_side(sweep, place, line, at_antenna))


def _vertex(frequency: FloatArray, swr: FloatArray, place: int) -> tuple[float, float]:
    """The dip between the points of a sweep: the vertex of the parabola through the lowest three."""
    x, y = frequency[place - 1 : place + 2], swr[place - 1 : place + 2]
    square, linear, _ = np.polyfit(x - x[1], y, 2)
    if square <= 0.0:
        return float(x[1]), float(y[1])
    offset = float(np.clip(-linear / (2.0 * square), x[0] - x[1], x[2] - x[1]))
    return float(x[1]) + offset, max(1.0, float(y[1] + linear * offset / 2.0))


def _crossing(frequency: FloatArray, swr: FloatArray, place: int, level: float, step: int) -> float | None:
    """Frequency [MHz] at which the SWR first rises through a level, on one side of the dip; None: nowhere."""
    here = place
    while 0 <= here + step < swr.size:
        following = here + step
        if swr[following] >= level:
            part = (level - swr[here]) / (swr[following] - swr[here])
            return float(frequency[here] + part * (frequency[following] - frequency[here]))
        here = following
    return None


def _low_side(sweep: Sweep, place: int, line: FeedlineSpec, at_antenna: bool) -> bool | None:
    """Side of the match: True where the circle of the reflection encloses the chart's centre (r < 1)."""
    if sweep.swr[place] >= 3.0:
        return None
    low, high = (_crossing(sweep.frequency_mhz, sweep.swr, place, 3.0, step) for step in (-1, 1))
    inside = np.ones(sweep.swr.size, dtype=bool)
    if low is not None:
        inside &= sweep.frequency_mhz >= low
    if high is not None:
        inside &= sweep.frequency_mhz <= high
    if np.count_nonzero(inside) < 5:
        return None
    points = sweep.reflection[inside]
    if not at_antenna:
        there_and_back_s = 2.0 * line.length_m / (SPEED_OF_LIGHT_M_PER_S * VELOCITY_FACTOR)
        turns = 1.0e6 * sweep.frequency_mhz[inside] * there_and_back_s
        points = points * np.exp(2j * np.pi * turns)
    # circle by least squares: |z|^2 = 2 Re(conj(c) z) + (radius^2 - |c|^2)
    system = np.stack([2.0 * points.real, 2.0 * points.imag, np.ones(points.size)], axis=1)
    (x, y, rest), *_ = np.linalg.lstsq(system, np.abs(points) ** 2, rcond=None)
    centre = float(np.hypot(x, y))
    radius = float(np.sqrt(max(rest + centre**2, 0.0)))
    if abs(centre - radius) < 0.01:
        return None
    return centre < radius
