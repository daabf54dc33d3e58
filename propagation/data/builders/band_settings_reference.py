"""Make fixtures/antenna/band_settings.csv by nec2c: whips over resonance and pushed in, wires off their band.

Needs the program nec2c, as `antenna_reference`, whose cases and solver it uses. Run from the root:
`python -m propagation.data.builders.band_settings_reference`. The geometries are invented, and none is in
another table.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace

from propagation.data.builders.antenna_reference import AVERAGE, DRY, GOOD, Case, row, run, vertical, write


def reactance(case: Case) -> float:
    """Reactance at the feed [ohm]."""
    return float(run(vertical(case), case, [0.0])[0].imag)


def resonant(change: Callable[[float], Case], start: float) -> float:
    """The number that leaves the feed of the case made with it no reactance, from a first value on."""
    at = [start, 1.02 * start]
    seen = [reactance(change(value)) for value in at]
    for _ in range(8):
        at.append(at[-1] - seen[-1] * (at[-1] - at[-2]) / (seen[-1] - seen[-2]))
        seen.append(reactance(change(at[-1])))
        if abs(seen[-1]) < 0.02:
            break
    return at[-1]


WHIPS = (  # full length, radials, their length, height, earth, frequencies
    (5.2, 4, 3.1, 0.8, AVERAGE, (18.1, 21.2, 24.9, 28.4)),
    (4.4, 3, 4.9, 1.3, DRY, (18.1, 21.2, 28.4)),
    (6.8, 6, 2.6, 0.5, GOOD, (14.2, 18.1, 28.4)),
    (2.9, 4, 2.4, 1.6, AVERAGE, (28.4, 50.2)),
)
WIRES = (  # kind, length, height, low ends, earth, frequencies
    ("dipole", 10.1, 6.5, None, AVERAGE, (7.1, 10.12, 18.1, 21.2, 28.4)),
    ("dipole", 20.2, 8.0, None, DRY, (10.12, 14.2, 21.2)),
    ("inverted v", 20.2, 9.5, 4.0, AVERAGE, (10.12, 18.1, 21.2)),
)


def whip_rows(full_m: float, case: Case) -> Iterator[dict[str, object]]:
    """A whip at its full length, and pushed in to resonance."""
    yield {**row(case), "full_m": full_m}
    short = resonant(lambda length_m: replace(case, radiator_m=length_m), 71.0 / case.frequency_mhz)
    longer = replace(case, radiator_m=short + 0.01)
    dip = resonant(lambda mhz: replace(longer, frequency_mhz=mhz), case.frequency_mhz)
    khz = round(1000.0 * (dip - case.frequency_mhz), 3)
    yield {**row(replace(case, radiator_m=short)), "full_m": full_m, "khz_per_cm": khz}


def settings() -> Iterator[dict[str, object]]:
    """Whips longer than resonance, at full length and pushed in to it, and wires on other bands than theirs.

    full_m: the full length; radiator_m: the length solved; khz_per_cm: move of the dip for 1 cm more of whip.
    Segments of 3 cm put a vertical's feed at 4.5 cm; that and finer dipoles matter near resonances of high
    resistance.
    """
    for full, radials, radial, height, earth, frequencies in WHIPS:
        for mhz in frequencies:
            case = Case("vertical", mhz, earth, radiator_m=full, radials=radials, radial_m=radial)
            yield from whip_rows(full, replace(case, base_height_m=height, piece_m=0.03))
    for kind, length, top, end, earth, bands in WIRES:
        for mhz in bands:
            yield row(Case(kind, mhz, earth, length_m=length, height_m=top, end_height_m=end, finer=3))
    for mhz in (10.12, 18.1, 28.4):
        wire = Case("sloping end-fed", mhz, length_m=19.6, height_m=8.0)
        yield row(replace(wire, end_height_m=1.8, counterpoise_m=1.5))


if __name__ == "__main__":
    write("band_settings.csv", list(settings()))
