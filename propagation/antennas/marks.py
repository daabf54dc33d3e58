"""The operator's own marks of tuned bands, estimates for the other bands, and the way to another dip.

A coil slides along a scale, a whip has sections. The mark of a tuned band is kept with the antenna, like a
reading, and set aside with it. From three numbers or more the scale is known: the mark is a monotone function
of the inductance that the description needs, so that an error of the description common to all bands drops
out. Between the marks it is interpolated (Fritsch and Carlson, SIAM J. Numer. Anal. 17 (1980) 238, with the
slopes of their harmonic mean); beyond them it goes on straight. The uncertainty is found by leaving out each
inner mark in turn.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from propagation.antennas.antenna import Antenna
from propagation.antennas.coil import Slider
from propagation.antennas.measurements import changes, setup_text, speaks_for
from propagation.antennas.spec import VERTICALS, AntennaSpec, Mark
from propagation.base.units import FloatArray, FloatLike, as_float

LEAST_MARKS: Final = 3  # numbers from which a scale is known
MARK_READING: Final = 0.5  # of the scale's unit: the error of a read mark (common practice)
INDUCTANCE_ERROR: Final = 0.02  # of the computed inductance, different from band to band (ours)
SURE: Final = 2.0  # standard errors in a stated uncertainty: 19 in 20 (statistics)
USEFUL: Final = 0.5  # of the span of the noted marks; an estimate less certain says nothing (ours)
SAME_INDUCTANCE: Final = 0.01  # relative; marks of nearer inductances count as one


@dataclass(frozen=True)
class BandMark:
    """The mark for a band: as noted, or estimated (`error` is then its uncertainty in the scale's units)."""

    text: str
    error: float | None = None


@dataclass(frozen=True)
class Scale:
    """The scale of a coil: marks against inductance [uH], both rising in `inductance_uh`.

    error_uh: uncertainty (one standard error) of the scale between its marks, in its units.
    """

    inductance_uh: FloatArray
    mark: FloatArray
    error: float

    def at(self, inductance_uh: FloatLike) -> FloatArray:
        """Marks for inductances [uH], in their shape; NaN for none."""
        return _interpolated(self.inductance_uh, self.mark, as_float(inductance_uh))

    def error_at(self, inductance_uh: FloatLike) -> FloatArray:
        """Uncertainty of a mark (19 in 20), in the scale's units; it grows beyond the marks.

        There the slope may change as much as between the two intervals nearest to it.
        """
        wanted = as_float(inductance_uh)
        slopes = np.diff(self.mark) / np.diff(self.inductance_uh)
        low = (self.inductance_uh[0] - wanted) * abs(slopes[0] - slopes[1])
        high = (wanted - self.inductance_uh[-1]) * abs(slopes[-1] - slopes[-2])
        beyond = np.maximum(np.maximum(low, high), 0.0)
        slope = np.interp(wanted, (self.inductance_uh[1:] + self.inductance_uh[:-1]) / 2.0, np.abs(slopes))
        parts = (self.error, MARK_READING, beyond, slope * INDUCTANCE_ERROR * wanted)
        return as_float(SURE * np.sqrt(sum(np.square(part) for part in parts)))


def _interpolated(x: FloatArray, y: FloatArray, wanted: FloatArray) -> FloatArray:
    """Monotone cubic through rising x; straight on beyond its ends."""
    step = np.diff(x)
    slope = np.diff(y) / step
    inner = np.zeros(0)
    if slope.size > 1:
        before, after = 2.0 * step[1:] + step[:-1], step[1:] + 2.0 * step[:-1]
        same = slope[1:] * slope[:-1] > 0.0
        with np.errstate(divide="ignore", invalid="ignore"):
            inner = np.where(same, (before + after) / (before / slope[:-1] + after / slope[1:]), 0.0)
    at = np.concatenate([slope[:1], inner, slope[-1:]])
    left = np.clip(np.searchsorted(x, wanted) - 1, 0, step.size - 1)
    h, t = step[left], np.clip((wanted - x[left]) / step[left], 0.0, 1.0)
    start, end = y[left], y[left + 1]
    curve = (1.0 + 2.0 * t) * (1.0 - t) ** 2 * start + t * (1.0 - t) ** 2 * h * at[left]
    curve = curve + t**2 * (3.0 - 2.0 * t) * end - t**2 * (1.0 - t) * h * at[left + 1]
    beyond = wanted - np.clip(wanted, x[0], x[-1])
    return as_float(curve + beyond * np.where(beyond < 0.0, at[0], at[-1]))


def number_of(mark: Mark) -> float:
    """The mark as a number; NaN where it is words."""
    try:
        value = float(mark.text.replace(",", "."))
    except ValueError:
        return math.nan
    return value if math.isfinite(value) else math.nan


def scale_of(marks: Sequence[Mark]) -> Scale | None:
    """The scale of a coil from its marks; None with fewer than three numbers, or if they are not monotone."""
    pairs = sorted((one.coil_uh, number_of(one)) for one in marks if one.coil_uh > 0.0)
    known = np.array([pair for pair in pairs if not math.isnan(pair[1])])
    if known.shape[0] < LEAST_MARKS:
        return None
    inductance_uh, mark = known[:, 0], known[:, 1]
    apart = np.diff(inductance_uh) > SAME_INDUCTANCE * inductance_uh[1:]
    steps = np.sign(np.diff(mark))
    if not np.all(apart) or not (np.all(steps > 0.0) or np.all(steps < 0.0)):
        return None
    missed = [
        float(_interpolated(np.delete(inductance_uh, n), np.delete(mark, n), inductance_uh[n]) - mark[n])
        for n in range(1, mark.size - 1)
    ]
    return Scale(inductance_uh, mark, float(np.sqrt(np.mean(np.square(missed)))))


# --- the list of marks stored with an antenna -------------------------------------------------------------


def here(spec: AntennaSpec) -> tuple[Mark, ...]:
    """The marks of the antenna as it is described."""
    return tuple(one for one in spec.marks if not changes(one, spec))


def in_use(spec: AntennaSpec, frequency_mhz: float) -> Mark | None:
    """The mark noted for the band of a frequency [MHz] with this antenna."""
    return next((one for one in here(spec) if speaks_for(one, frequency_mhz)), None)


def set_aside(spec: AntennaSpec) -> tuple[Mark, ...]:
    """The marks of another antenna than the one described."""
    return tuple(one for one in spec.marks if changes(one, spec))


def noted(antenna: Antenna, frequency_mhz: float, text: str, date: str) -> AntennaSpec:
    """The description with a band's mark noted, which replaces an earlier one of the same band and antenna.

    Raises InputError where the text is empty or too long.
    """
    spec, found = antenna.spec, antenna.solution(frequency_mhz)
    vertical = spec.kind in VERTICALS
    made = Mark(
        frequency_mhz=round(frequency_mhz, 4),
        text=text,
        coil_uh=round(found.coil_uh or 0.0, 3),
        whip_m=None if found.whip_m is None else round(found.whip_m, 3),
        radials=spec.radials if vertical else 0,
        radial_m=spec.radial_m if vertical else None,
        date=date,
        setup=setup_text(spec),
    )
    rest = [one for one in spec.marks if changes(one, spec) or not speaks_for(one, frequency_mhz)]
    return replace(spec, marks=(*rest, made))


def forgotten(spec: AntennaSpec, frequency_mhz: float) -> AntennaSpec:
    """The description without the marks of a band, of this antenna or set aside."""
    return replace(spec, marks=tuple(one for one in spec.marks if not speaks_for(one, frequency_mhz)))


def mark_for(antenna: Antenna, frequency_mhz: float, described: AntennaSpec | None = None) -> BandMark | None:
    """The mark for a frequency [MHz]; None where nothing is known, or too little.

    As noted on its band; else estimated from the other bands' marks; else from two settings of the coil, of
    which no uncertainty is known. described: the antenna whose coil has the scale, where `antenna` is the
    same with other radials.
    """
    spec = antenna.spec
    known = in_use(spec, frequency_mhz)
    if known is not None:
        return BandMark(known.text)
    if not spec.marks and not spec.coil_positions:
        return None
    scale, coil_uh = scale_of(here(described or spec)), antenna.solution(frequency_mhz).coil_uh
    if not coil_uh:
        return None
    if scale is None:
        return (
            BandMark(f"{Slider(*spec.coil_positions).position(coil_uh):.0f}") if spec.coil_positions else None
        )
    error = float(scale.error_at(coil_uh))
    if error > USEFUL * float(np.ptp(scale.mark)):
        return None
    digits = 0 if error >= 1.0 else 1
    return BandMark(f"{float(scale.at(coil_uh)):.{digits}f}", error)


@dataclass(frozen=True)
class Move:
    """The way from a dip to another frequency; None for a part that stays.

    coil_uh: more inductance [uH], negative: less; marks: more on the coil's scale; whip_m: more length [m].
    """

    coil_uh: float | None = None
    marks: float | None = None
    whip_m: float | None = None


def move_to(antenna: Antenna, dip_mhz: float, wanted_mhz: float) -> Move | None:
    """How far to move a vertical's coil, or its whip, for the dip to come to another frequency [MHz].

    By the description: what it needs on one frequency and on the other. None where neither tunes.
    """
    at_dip, wanted = (antenna.solver(one) for one in (dip_mhz, wanted_mhz))
    if at_dip.coil_uh and wanted.coil_uh:
        positions, scale = antenna.spec.coil_positions, scale_of(here(antenna.spec))
        by_scale = None
        if scale is not None:
            by_scale = float(scale.at(wanted.coil_uh) - scale.at(at_dip.coil_uh))
        elif positions:
            slider = Slider(*positions)
            by_scale = slider.position(wanted.coil_uh) - slider.position(at_dip.coil_uh)
        return Move(coil_uh=wanted.coil_uh - at_dip.coil_uh, marks=by_scale)
    per_cm = antenna.on(wanted_mhz).dip_khz_per_cm
    if not per_cm:
        return None
    return Move(whip_m=10.0 * (wanted_mhz - dip_mhz) / per_cm)
