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

from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Final

import numpy as np

from propagation.antennas.antenna import Antenna
from propagation.antennas.factory import build
from propagation.antennas.feedline import matched_loss_db_per_100m
from propagation.antennas.measurements import AGREEMENT, diagnosis
from propagation.antennas.spec import VERTICALS, FeedlineSpec, Measurement
from propagation.base.errors import InputError
from propagation.base.units import FloatArray, as_float, db

SWR_READING_ERROR: Final = 0.03  # error of a read SWR (common practice)
FREQUENCY_READING_ERROR: Final = 0.03  # of the width: error of the two read edges (common practice)
SLOPE_ERROR: Final = 0.05  # of Sigma: the computed slope against moment-method solvers
SIDE_KNOWN_FROM: Final = 1.06  # SWR at the dip below which the two sides of the match are equivalent
SURE: Final = 0.8  # chance from which one of two possible resistances is taken (ours)
LOPSIDED: Final = 0.2  # of the width; a dip farther from the middle of its edges is misread (ours)
RADIAL_ERROR: Final = 0.5  # of the computed change of resistance by one radial more (ours)


@dataclass(frozen=True)
class AnalyserReading:
    """Reading of an analyser: the dip, and pairs of frequencies [MHz] of equal SWR, one for each SWR given.

    at_antenna: read at the antenna, without the cable between; else the cable's loss is taken out first.
    low_side: True where the load at the dip is known to be below the line's impedance, False above, None
    unknown. second: another frequency [MHz], on either side of the dip, and the SWR there.
    one_radial_more_swr: SWR at the dip, tuned again, with one radial more.
    """

    frequency_mhz: float
    swr: float
    edges: tuple[tuple[float, float, float], ...]  # SWR, lower and upper frequency [MHz]
    at_antenna: bool = False
    low_side: bool | None = None
    second: tuple[float, float] | None = None
    one_radial_more_swr: float | None = None

    @property
    def widths(self) -> tuple[tuple[float, float], ...]:
        """SWR and the full width [MHz] between its two frequencies; the second reading as half of a pair."""
        pairs = [(swr, high - low) for swr, low, high in self.edges]
        if self.second is not None:
            pairs.append((self.second[1], 2.0 * abs(self.second[0] - self.frequency_mhz)))
        return tuple(pairs)

    def __post_init__(self) -> None:
        if not 0.1 <= self.frequency_mhz <= 500.0:
            raise InputError(f"The dip at {self.frequency_mhz:g} MHz is outside 0.1 to 500 MHz.")
        if not 1.0 <= self.swr < 10.0:
            raise InputError(f"An SWR of {self.swr:g} at the dip is not between 1 and 10.")
        if not self.widths:
            raise InputError("Give the two frequencies where the SWR is 1.5, or those where it is 2.")
        if self.second is not None and not 0.0 < abs(self.second[0] / self.frequency_mhz - 1.0) < 0.2:
            raise InputError(
                f"The second reading at {self.second[0]:g} MHz must be next to the dip at "
                f"{self.frequency_mhz:g} MHz, not on it."
            )
        if self.one_radial_more_swr is not None and not 1.0 <= self.one_radial_more_swr < 10.0:
            raise InputError(
                f"An SWR of {self.one_radial_more_swr:g} with one radial more is not between 1 and 10."
            )
        for swr, low, high in self.edges:
            if not low < self.frequency_mhz < high:
                raise InputError(
                    f"The frequencies of SWR {swr:g}, {low:g} and {high:g} MHz, must lie on either side of "
                    f"the dip at {self.frequency_mhz:g} MHz."
                )
        for swr, _ in self.widths:
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


def possible_ohms(swr: float, line_ohm: float, where: str = "") -> str:
    """Sentence, without its end, on the two resistances of a resonance with an SWR on a line [ohm]."""
    return f"SWR {swr:.2f}{where} without a transformer is {line_ohm / swr:.0f} or {line_ohm * swr:.0f} ohm"


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
    said = list(inconsistencies(reading, loss_db))
    if len(sides) == 2:
        sides, told = _decided(reading, antenna, sides, loss_db, direct)
        said.append(told)
    if direct and len(sides) == 1:
        expected = sides[0].r * line.impedance_ohm
        if abs(np.log(sides[0].total_resistance_ohm / expected)) > np.log(AGREEMENT):
            said.append(
                f"Fed directly, {expected:.0f} ohm would be there; the width says "
                f"{sides[0].total_resistance_ohm:.0f} ohm. Something transforms on the way, or the "
                f"radiator is not as described."
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
    for swr_seen, width_mhz in reading.widths:
        swr = float(at_antenna_swr(swr_seen, loss_db))
        value = float(total_resistance_ohm(slope_ohm, reading.frequency_mhz, r, swr, width_mhz))
        if not np.isfinite(value):
            raise InputError("The SWR at the dip and next to it do not fit one resonance; read them again.")
        found.append(value)
        spread.append(float(np.hypot(_width_error(r, swr), SLOPE_ERROR)))
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


def _width_error(r: float, swr: float) -> float:
    """Relative error of r / x by misreading the SWR at the dip, the SWR next to it, and the frequencies."""
    off = SWR_READING_ERROR
    dips, beside = np.array([r * (1.0 + off), r / (1.0 + off)]), np.array([swr + off, swr - off])
    value = r / normalised_reactance(r, swr)
    by_dip = np.abs(dips / normalised_reactance(dips, swr) / value - 1.0)
    by_edge = np.abs(r / normalised_reactance(r, beside) / value - 1.0)
    terms = [np.nanmax(np.where(np.isfinite(one), one, 0.0)) for one in (by_dip, by_edge)]
    return float(np.linalg.norm([*terms, FREQUENCY_READING_ERROR]))


def inconsistencies(reading: AnalyserReading, loss_db: float) -> tuple[str, ...]:
    """Sentences on a dip and frequencies of equal SWR that no single resonance has."""
    told = []
    for swr, low, high in reading.edges:
        if abs(reading.frequency_mhz - (low + high) / 2.0) > LOPSIDED * (high - low):
            told.append(
                f"The dip at {reading.frequency_mhz:.3f} MHz is not in the middle of {low:.3f} and "
                f"{high:.3f} MHz, where the SWR is {swr:g}: one of the three is misread."
            )
    r = float(at_antenna_swr(reading.swr, loss_db))
    widths = [(swr, float(at_antenna_swr(swr, loss_db)), width) for swr, width in reading.widths]
    for (first, near, narrow), (second, far, wide) in pairwise(widths):
        expected = float(normalised_reactance(r, far) / normalised_reactance(r, near))
        error = float(np.hypot(_width_error(r, near), _width_error(r, far)))
        if abs(np.log(wide / narrow / expected)) > 2.0 * error:
            told.append(
                f"SWR {first:g} over {1000.0 * narrow:.0f} kHz and SWR {second:g} over {1000.0 * wide:.0f} "
                f"kHz are inconsistent: with SWR {reading.swr:g} at the dip the second width is "
                f"{expected:.1f} times the first. Read them again."
            )
    return tuple(told)


def _decided(
    reading: AnalyserReading, antenna: Antenna, sides: list[Side], loss_db: float, direct: bool
) -> tuple[list[Side], str]:
    """The sides that remain, that of greater loss first, and the sentence on which of the two it is.

    Fed directly, the width must give the resistance that the SWR gives. One radial more lowers the
    resistance, so that the SWR moves one way on one side of the match and the other way on the other.
    """
    line_ohm = antenna.feedline.impedance_ohm
    weight, evidence, told = np.zeros(2), [], ""
    if direct:
        misfit = [np.log(side.total_resistance_ohm / (side.r * line_ohm)) for side in sides]
        error = [side.error_ohm / side.total_resistance_ohm for side in sides]
        weight -= 0.5 * np.square(np.divide(misfit, error))
        evidence.append("the width")
    if reading.one_radial_more_swr is not None and antenna.spec.kind in VERTICALS:
        seen = float(at_antenna_swr(reading.one_radial_more_swr, loss_db))
        told, tells = _by_one_radial_more(seen, antenna, sides, reading.frequency_mhz)
        weight += tells
        evidence.append("the radial more")
    chances = np.exp(weight - np.max(weight))
    chances /= np.sum(chances)
    likely = int(np.argmax(chances))
    ohms = [side.r * line_ohm for side in sides]
    both = possible_ohms(max(side.r for side in sides), line_ohm, "" if loss_db == 0.0 else " at the antenna")
    if evidence and chances[likely] >= SURE:
        sure = min(round(10.0 * float(chances[likely])), 9)
        return [sides[likely]], (
            f"{both}: by {' and '.join(evidence)} it is {ohms[likely]:.0f} ohm, {sure} chances in 10 or more."
        )
    sides = sorted(sides, key=lambda side: side.efficiency)
    apart = float(db(sides[1].efficiency / sides[0].efficiency))
    return sides, (
        f"{both}; the two differ by {apart:.1f} dB here, and the lossier is taken. The SWR at another "
        f"frequency, the dip's SWR with one radial more, or a sweep saved as a Touchstone file tells "
        f"which.{told}"
    )


def _by_one_radial_more(
    swr: float, antenna: Antenna, sides: list[Side], frequency_mhz: float
) -> tuple[str, FloatArray]:
    """Evidence of the SWR at the dip with one radial more.

    Returns a sentence where the radial changes too little, and the logarithm of each side's likelihood,
    shape (2,).
    """
    spec = replace(antenna.spec, measured=())
    more = build(replace(spec, radials=spec.radials + 1), antenna.ground, antenna.feedline)
    few_ohm = antenna.solver(frequency_mhz).tuned_resistance_ohm or np.nan
    change_ohm = (more.solver(frequency_mhz).tuned_resistance_ohm or np.nan) - few_ohm
    ratio = np.array([1.0 + change_ohm / side.total_resistance_ohm for side in sides])
    r = np.maximum(np.array([side.r for side in sides]) * ratio, 0.01)
    error = np.hypot(np.sqrt(2.0) * SWR_READING_ERROR, RADIAL_ERROR * np.log(ratio))
    expected = np.maximum(r, 1.0 / r)
    told = ""
    if abs(np.log(expected[0] / expected[1])) < 2.0 * SWR_READING_ERROR:
        told = f" One radial more changes {abs(change_ohm):.1f} ohm here, too little to tell."
    return told, as_float(-0.5 * np.square(np.log(swr / expected) / error))
