"""Reader of one-port Touchstone files (version 1, `.s1p`), as saved by analysers.

The format: EIA/IBIS Open Forum, Touchstone File Format Specification, version 1.1 (2002). Comments begin with
`!`; one option line `# <unit> <parameter> <format> R <ohm>` in any order and case, with the defaults GHz, S,
MA and 50 ohm; then a frequency and two numbers on each line.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np

from propagation.base.errors import InputError
from propagation.base.units import FloatArray
from propagation.geo.ground import ComplexArray

_UNITS_MHZ: Final[dict[str, float]] = {"HZ": 1e-6, "KHZ": 1e-3, "MHZ": 1.0, "GHZ": 1e3}
_FORMATS: Final = ("DB", "MA", "RI")
_PARAMETERS: Final = ("S", "Z", "Y", "G", "H")
MAX_POINTS: Final = 200_000
MOST_REFLECTION: Final = 1.5  # a passive load reflects 1 at most; poor calibration leaves a little more


@dataclass(frozen=True)
class Sweep:
    """Reflection curve: frequencies [MHz], rising, and the complex reflection coefficient at each."""

    frequency_mhz: FloatArray
    reflection: ComplexArray
    reference_ohm: float

    @property
    def swr(self) -> FloatArray:
        """Standing-wave ratio at each frequency."""
        size = np.minimum(np.abs(self.reflection), 0.9999)
        return np.asarray((1.0 + size) / (1.0 - size))


@dataclass(frozen=True)
class _Options:
    unit_mhz: float = 1e3
    parameter: str = "S"
    form: str = "MA"
    reference_ohm: float = 50.0


def _options(line: str, place: str) -> _Options:
    unit, parameter, form, reference = 1e3, "S", "MA", 50.0
    words = line[1:].upper().split()[::-1]
    while words:
        word = words.pop()
        if word in _UNITS_MHZ:
            unit = _UNITS_MHZ[word]
        elif word in _PARAMETERS:
            parameter = word
        elif word in _FORMATS:
            form = word
        elif word == "R":
            if not words:
                raise InputError(f"{place}: the option line ends after R; it needs the reference in ohm.")
            reference = _number(words.pop(), place)
            if reference <= 0.0:
                raise InputError(
                    f"{place}: the reference impedance must be above 0 ohm, not {reference:g}; 50 is usual."
                )
        else:
            raise InputError(
                f"{place}: {word[:40]!r} is no Touchstone option; such a line looks like '# MHz S RI R 50'."
            )
    if parameter in ("G", "H"):
        raise InputError(f"{place}: {parameter} parameters are for two ports; save a one-port file of S.")
    return _Options(unit, parameter, form, reference)


def _number(word: str, place: str) -> float:
    try:
        value = float(word)
    except ValueError:
        hint = "; write the decimal point as a point" if "," in word else ""
        raise InputError(f"{place}: {word[:40]!r} is not a number{hint}.") from None
    if not math.isfinite(value):
        raise InputError(f"{place}: {word[:40]!r} is not a finite number.")
    return value


def _complex(form: str, first: float, second: float) -> complex:
    if form == "RI":
        return complex(first, second)
    size = first if form == "MA" else 10.0 ** (min(first, 200.0) / 20.0)
    angle = math.radians(second)
    return complex(size * math.cos(angle), size * math.sin(angle))


def _reflection(options: _Options, value: complex) -> complex:
    """Reflection coefficient from S, Z or Y; Z and Y are relative to the reference impedance."""
    if options.parameter == "S":
        return value
    z = value if options.parameter == "Z" else (1.0 / value if value else complex(1e12))
    return (z - 1.0) / (z + 1.0) if z != -1.0 else complex(math.inf)


def read(data: bytes | str, where: str = "the file") -> Sweep:
    """Read the curve from a Touchstone file's bytes or text; `where` names it in errors.

    Raises InputError with the line number for an unreadable file: other numbers of ports, version 2, words in
    place of numbers, frequencies that do not rise, reflections above those of a passive load.
    """
    text = data if isinstance(data, str) else _decoded(data, where)
    options, found = _Options(), False
    frequencies: list[float] = []
    reflections: list[complex] = []
    for number, raw in enumerate(text.splitlines(), start=1):
        place = f"{where}, line {number}"
        line = raw.split("!", 1)[0].strip()
        if not line:
            continue
        if line.startswith("["):
            raise InputError(f"{place}: this is Touchstone version 2; save it as version 1 (.s1p).")
        if line.startswith("#"):
            if frequencies and not found:
                raise InputError(f"{place}: the option line must come before the numbers.")
            if not found:
                options, found = _options(line, place), True
            continue
        words = line.split()
        if len(words) != 3:
            raise InputError(
                f"{place}: found {len(words)} values where a one-port file has three, a frequency and two "
                f"numbers."
            )
        frequency, first, second = (_number(word, place) for word in words)
        frequency *= options.unit_mhz
        if frequency <= 0.0 or (frequencies and frequency <= frequencies[-1]):
            raise InputError(f"{place}: the frequency {words[0]} does not rise from the line before.")
        value = _reflection(options, _complex(options.form, first, second))
        if not abs(value) <= MOST_REFLECTION:
            raise InputError(
                f"{place}: a reflection of {abs(value):.3g} cannot be an antenna's, which is 1 at most: "
                f"calibrate the analyser and save again."
            )
        frequencies.append(frequency)
        reflections.append(value)
        if len(frequencies) > MAX_POINTS:
            raise InputError(f"{place}: more than {MAX_POINTS} points; save a shorter sweep.")
    if len(frequencies) < 3:
        raise InputError(f"{where}: holds {len(frequencies)} points; a sweep over the dip needs more.")
    values = np.array(reflections, dtype=np.complex128)
    return Sweep(np.array(frequencies), values, options.reference_ohm)


def _decoded(data: bytes, where: str) -> str:
    if b"\0" in data[:4096]:
        raise InputError(f"{where}, line 1: this is not a text file; save the sweep as Touchstone (.s1p).")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return data.decode("latin-1")  # older instruments write degree signs in comments
