"""Make the tables of fixtures/antenna that nec2c solves, to check the engine's own solver.

Needs the program nec2c 1.3 (a translation of NEC-2 into C, Debian package `nec2c`), which shares no code with
the engine. Run from the root: `python propagation/data/builders/antenna_reference.py`. Every geometry is
defined here independently of the engine. The ground is NEC-2's Sommerfeld ground; conductors are perfect.
Whip and radials have segments of equal length at their junction, and a vertical is fed on its second segment.
"""

from __future__ import annotations

import csv
import math
import re
import subprocess
import tempfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np

FOLDER = Path(__file__).parents[3] / "fixtures" / "antenna"
AVERAGE, DRY, GOOD, WET = (13.0, 0.005), (5.0, 0.001), (20.0, 0.03), (30.0, 0.03)
ELEVATIONS = np.arange(0.0, 90.1, 2.5)
PRINTED = (10, 20, 30, 45, 60, 90)
Point = tuple[float, float, float]


@dataclass(frozen=True)
class Case:
    """Antenna on one frequency; lengths and heights in metres."""

    kind: str
    frequency_mhz: float
    earth: tuple[float, float] = AVERAGE
    radiator_m: float = 2.5
    coil_height_m: float = 0.0
    top_wires: int = 0
    top_wire_m: float = 0.0
    top_wire_angle_deg: float = 0.0
    radials: int = 4
    radial_m: float = 4.5
    base_height_m: float = 0.9
    radial_height_m: float | None = None
    length_m: float = 0.0
    height_m: float = 0.0
    end_height_m: float | None = None
    counterpoise_m: float = 0.0
    coil_q: float = 200.0
    mirror: bool = False  # over perfect ground instead of real ground
    finer: int = 1  # times the usual segments of a dipole
    piece_m: float | None = None  # length of a vertical's segments; None: 4 cm of a short one, else 8


@dataclass
class Deck:
    """Wires and loads for one run."""

    wires: list[tuple[int, int, Point, Point, float]] = field(default_factory=list)
    feed: tuple[int, int] = (1, 2)
    coil: tuple[int, int] = (1, 2)

    def wire(self, tag: int, start: Point, end: Point, radius_m: float, piece_m: float) -> int:
        """Adds a wire; returns its number of segments."""
        count = max(3, round(math.dist(start, end) / piece_m))
        self.wires.append((tag, count, start, end, radius_m))
        return count


def vertical(case: Case) -> Deck:
    deck = Deck()
    base = case.base_height_m
    top = base + case.radiator_m
    piece = case.piece_m or (0.04 if case.radiator_m < 4.0 else 0.08)
    count = deck.wire(1, (0, 0, base), (0, 0, top), 0.0025, piece)
    deck.coil = (1, 2)
    if case.coil_height_m:
        deck.coil = (1, math.ceil(case.coil_height_m / case.radiator_m * count))
    low = base if case.radial_height_m is None else case.radial_height_m
    reach = math.sqrt(case.radial_m**2 - (base - low) ** 2)
    for number in range(case.radials):
        turn = 2.0 * math.pi * number / case.radials
        end = (reach * math.sin(turn), reach * math.cos(turn), low)
        deck.wire(2 + number, (0, 0, base), end, 0.001, piece)
    hang = math.radians(case.top_wire_angle_deg)
    for number in range(case.top_wires):
        turn = 2.0 * math.pi * number / case.top_wires
        level = case.top_wire_m * math.cos(hang)
        end = (level * math.sin(turn), level * math.cos(turn), top - case.top_wire_m * math.sin(hang))
        deck.wire(40 + number, (0, 0, top), end, 0.001, piece)
    return deck


def straight(case: Case) -> Deck:
    """Flat dipole broadside to north, fed in the middle; low ends make an inverted V, one low end a slope."""
    deck = Deck()
    half = case.length_m / 2.0
    wave = 299.792458 / case.frequency_mhz
    if case.kind == "half-wave vertical":
        start, end = (0.0, 0.0, case.height_m - half), (0.0, 0.0, case.height_m + half)
    elif case.kind == "sloping dipole":
        fall = (case.height_m - float(case.end_height_m or 0.0)) / case.length_m
        level = math.sqrt(1.0 - fall**2)
        start = (0.0, -half * level, case.height_m)
        end = (0.0, half * level, case.height_m - case.length_m * fall)
    else:
        start, end = (-half, 0.0, case.height_m), (half, 0.0, case.height_m)
    if case.kind == "inverted v":
        drop = case.height_m - float(case.end_height_m or 0.0)
        level = math.sqrt(half**2 - drop**2)
        count = 25 * case.finer
        low = case.height_m - drop
        apex = (0.0, 0.0, case.height_m)
        deck.wires.append((1, count, (-level, 0.0, low), apex, 0.001))
        deck.wires.append((2, count, apex, (level, 0.0, low), 0.001))
        deck.feed = (2, 1)
        return deck
    count = 2 * round(half / wave * 60 * case.finer) + 1
    deck.wires.append((1, count, start, end, 0.001))
    deck.feed = (1, (count + 1) // 2)
    return deck


def end_fed(case: Case) -> Deck:
    deck = Deck()
    low = float(case.end_height_m or 0.0)
    rise = case.height_m - low
    level = math.sqrt(case.length_m**2 - rise**2)
    piece = 0.1
    deck.wire(1, (0.0, level, low), (0.0, 0.0, case.height_m), 0.001, piece)
    deck.wire(2, (0.0, level, low), (0.0, level + case.counterpoise_m, low), 0.001, piece)
    deck.feed = (1, 1)
    return deck


def yagi(case: Case) -> Deck:
    """Yagi of three elements of the usual lengths; forward is north."""
    deck = Deck()
    wave = 299.792458 / case.frequency_mhz
    for tag, (length, at) in enumerate(((0.495, 0.0), (0.473, 0.2), (0.442, 0.4)), start=1):
        half = length * wave / 2.0
        start, end = (-half, at * wave, case.height_m), (half, at * wave, case.height_m)
        deck.wires.append((tag, 41, start, end, 0.001 * wave))
    deck.feed = (2, 21)
    return deck


def run(
    deck: Deck, case: Case, azimuths: Sequence[float], load: complex = 0.0, mirror: bool = False
) -> tuple[complex, np.ndarray]:
    """Impedance at the feed [ohm] and gain [dBi] (elevations, azimuths); azimuth clockwise from north.

    mirror: over perfect ground instead of the case's ground.
    """
    lines = ["CM", "CE"]
    for tag, count, start, end, radius in deck.wires:
        numbers = " ".join(f"{value:.6f}" for value in (*start, *end, radius))
        lines.append(f"GW {tag} {count} {numbers}")
    standing = mirror and any(point[2] == 0.0 for _, _, *ends, _ in deck.wires for point in ends)
    lines += [
        "GE 1" if standing else "GE -1",
        "GN 1" if mirror else f"GN 2 0 0 0 {case.earth[0]} {case.earth[1]}",
    ]
    if load:
        lines.append(f"LD 4 {deck.coil[0]} {deck.coil[1]} {deck.coil[1]} {load.real:.5f} {load.imag:.5f}")
    step = azimuths[1] - azimuths[0] if len(azimuths) > 1 else 1.0
    lines += [
        f"EX 0 {deck.feed[0]} {deck.feed[1]} 0 1 0",
        f"FR 0 1 0 0 {case.frequency_mhz} 0",
        f"RP 0 {ELEVATIONS.size} {len(azimuths)} 1000 90 {90 - azimuths[0]} -2.5 {-step}",
        "EN",
    ]
    with tempfile.TemporaryDirectory() as folder:
        deck_file, out_file = Path(folder, "a.nec"), Path(folder, "a.out")
        deck_file.write_text("\n".join(lines) + "\n")
        subprocess.run(["nec2c", f"-i{deck_file}", f"-o{out_file}"], check=True, capture_output=True)
        text = out_file.read_text()
    row = text[text.index("ANTENNA INPUT PARAMETERS") :]
    found = re.findall(r"[-+]?\d\.\d+E[-+]\d+", row)
    impedance = complex(float(found[4]), float(found[5]))
    pattern: dict[tuple[float, float], float] = {}
    for line in text[text.index("RADIATION PATTERNS") :].splitlines():
        parts = line.split()
        if len(parts) > 5 and re.fullmatch(r"-?\d+\.\d+", parts[0]):
            key = (round(90.0 - float(parts[0]), 2), round((90.0 - float(parts[1])) % 360.0, 2))
            pattern[key] = float(parts[4])
    gain = [[pattern[round(e, 2), round(a % 360.0, 2)] for a in azimuths] for e in ELEVATIONS]
    return impedance, np.array(gain)


def sky_share(gain_dbi: np.ndarray) -> float:
    """Power into the sky over input power."""
    power = np.where(gain_dbi > -900.0, 10.0 ** (gain_dbi / 10.0), 0.0).mean(axis=1)
    angle = np.radians(ELEVATIONS)
    weighted = power * np.cos(angle)
    return float(np.sum((weighted[1:] + weighted[:-1]) * np.diff(angle))) / 4.0


def cases() -> Iterator[Case]:
    lengths = ((1.2, (14.2, 28.4)), (3.0, (7.1, 18.1)), (4.5, (7.1, 10.12)), (6.0, (3.6, 7.1)))
    for radiator, frequencies in lengths:
        for frequency in frequencies:
            yield Case("loaded vertical", frequency, radiator_m=radiator)
    for radials, length, height, frequency in (
        (1, 5.0, 1.0, 14.2),
        (2, 5.0, 0.9, 14.2),
        (2, 4.5, 0.3, 10.12),
        (8, 4.5, 0.3, 7.1),
        (4, 10.0, 0.9, 7.1),
        (4, 5.0, 3.0, 14.2),
        (3, 2.5, 1.5, 21.2),
        (4, 4.5, 0.1, 14.2),
        (16, 4.5, 0.1, 7.1),
        (4, 2.5, 1.5, 28.4),
        (4, 4.5, 0.05, 7.1),
        (8, 4.5, 0.05, 18.1),
    ):
        yield Case("loaded vertical", frequency, radials=radials, radial_m=length, base_height_m=height)
    for earth in (DRY, GOOD, WET):
        for frequency in (7.1, 21.2):
            yield Case("loaded vertical", frequency, earth)
    yield Case("loaded vertical", 7.1, DRY, radiator_m=3.0, base_height_m=0.3)
    yield Case("loaded vertical", 14.2, base_height_m=0.9, radial_height_m=0.1)
    yield Case("loaded vertical", 7.1, coil_height_m=1.0)
    yield Case("loaded vertical", 14.2, coil_height_m=1.0)
    yield Case("loaded vertical", 7.1, radiator_m=3.0, coil_height_m=1.5)
    yield Case("loaded vertical", 14.2, GOOD, radiator_m=3.0, coil_height_m=0.9)
    yield Case("loaded vertical", 7.1, top_wires=2, top_wire_m=1.0)
    yield Case("loaded vertical", 14.2, top_wires=4, top_wire_m=0.5)
    yield Case("loaded vertical", 7.1, radiator_m=3.0, top_wires=4, top_wire_m=1.0, top_wire_angle_deg=45.0)
    yield Case("vertical", 14.2, radiator_m=5.1, radial_m=5.1, base_height_m=1.0)
    yield Case("vertical", 7.1, radiator_m=10.2, radial_m=10.2, base_height_m=0.3)
    yield Case("vertical", 14.2, DRY, radiator_m=5.1, radials=2, radial_m=5.1, base_height_m=2.0)
    for frequency, length, height, earth in (
        (14.2, 10.06, 3.0, AVERAGE),
        (14.2, 10.06, 7.0, DRY),
        (14.2, 10.06, 15.0, AVERAGE),
        (7.1, 20.1, 6.0, AVERAGE),
        (7.1, 20.1, 10.0, GOOD),
        (28.4, 5.03, 8.0, AVERAGE),
        (3.6, 40.0, 6.0, AVERAGE),
    ):
        yield Case("dipole", frequency, earth, length_m=length, height_m=height)
    yield Case("inverted v", 14.2, length_m=10.06, height_m=8.0, end_height_m=5.5)
    yield Case("inverted v", 7.1, length_m=20.1, height_m=9.0, end_height_m=2.0)
    yield Case("inverted v", 21.2, DRY, length_m=6.74, height_m=6.0, end_height_m=3.6)
    yield Case("sloping dipole", 14.2, length_m=10.06, height_m=10.0, end_height_m=3.0)
    yield Case("half-wave vertical", 14.2, length_m=10.06, height_m=6.0)
    yield Case("half-wave vertical", 28.4, DRY, length_m=5.03, height_m=5.0)
    yield Case("sloping end-fed", 7.1, length_m=20.0, height_m=9.0, end_height_m=1.5, counterpoise_m=2.0)
    yield Case("sloping end-fed", 14.2, length_m=20.0, height_m=9.0, end_height_m=1.5, counterpoise_m=2.0)
    yield Case(
        "sloping end-fed", 14.2, DRY, length_m=10.0, height_m=6.0, end_height_m=1.0, counterpoise_m=1.0
    )
    yield Case("yagi", 14.2, height_m=10.0)
    yield Case("yagi", 28.4, height_m=8.0)


def row(case: Case, whips: bool = False) -> dict[str, object]:
    """Line of a table: impedance without coil, and shares and gains with the resonating coil.

    average_gain is that over perfect ground, 1 for an exact solution; R has about the same relative error.
    """
    upright = case.kind in ("loaded vertical", "vertical")
    azimuths = [15.0 * place for place in range(24)]
    decks = {"sloping end-fed": end_fed, "yagi": yagi}
    deck = vertical(case) if upright else decks.get(case.kind, straight)(case)
    impedance, gain = run(deck, case, azimuths, mirror=case.mirror)
    hidden = ("finer", "piece_m") if whips else ("coil_q", "mirror", "finer", "piece_m")
    found: dict[str, object] = {
        name: getattr(case, name) for name in case.__dataclass_fields__ if name not in hidden
    }
    found["earth"] = f"{case.earth[0]:g}/{case.earth[1]:g}"
    found["average_gain"] = sky_share(run(deck, case, azimuths, mirror=True)[1])
    found |= {"R_ohm": impedance.real, "X_ohm": impedance.imag, "sky_share_lossless": sky_share(gain)}
    if case.kind == "loaded vertical":

        def tuned_with(x: float, turns: Sequence[float] = (0.0,)) -> tuple[complex, np.ndarray]:
            return run(deck, case, turns, x / case.coil_q + 1j * x, case.mirror)

        reactances = [-impedance.imag, -1.05 * impedance.imag]
        seen = [tuned_with(x)[0] for x in reactances]
        for _ in range(8):
            slope = (seen[-1].imag - seen[-2].imag) / (reactances[-1] - reactances[-2])
            reactances.append(reactances[-1] - seen[-1].imag / slope)
            seen.append(tuned_with(reactances[-1])[0])
            if abs(seen[-1].imag) < 0.02:
                break
        coil = reactances[-1]
        tuned, gain = tuned_with(coil, azimuths)
        higher = 1.004
        aside = Case(**{**case.__dict__, "frequency_mhz": case.frequency_mhz * higher})
        load = coil / case.coil_q + 1j * coil * higher
        slope = (run(deck, aside, [0.0], load, case.mirror)[0].imag - tuned.imag) / (higher - 1.0)
        found |= {
            "L_uH": coil / (2.0 * math.pi * case.frequency_mhz),
            "R_tuned_ohm": tuned.real,
            "efficiency": sky_share(gain),
            "width_swr_2_khz": 1000.0 * case.frequency_mhz * 2.0 * tuned.real / slope / math.sqrt(2.0),
        }
    mean = 10.0 * np.log10(np.where(gain > -900.0, 10.0 ** (gain / 10.0), 1e-9).mean(axis=1))
    for elevation in PRINTED:
        place = int(np.argmin(np.abs(ELEVATIONS - elevation)))
        found[f"G{elevation}_mean"] = mean[place]
        if not upright:
            found[f"G{elevation}_north"] = gain[place, 0]
            found[f"G{elevation}_east"] = gain[place, 6]
    return {k: round(float(v), 4) if isinstance(v, float) else v for k, v in found.items()}


def whips() -> Iterator[Case]:
    """Three own whips: alone on a mirror, over radials above a mirror, and over average ground."""
    for radiator, radials, length, height, frequencies in (
        (2.5, 4, 4.5, 0.9, (7.1, 10.12, 14.2, 18.1, 21.2, 24.9)),
        (1.9, 3, 3.3, 0.5, (7.1, 14.2, 21.2, 28.4)),
        (3.4, 4, 6.0, 1.2, (7.1, 10.12, 14.2, 18.1)),
    ):
        for frequency in frequencies:
            for quality in (100.0, 200.0):
                plain = Case("loaded vertical", frequency, radiator_m=radiator, coil_q=quality)
                over = replace(plain, radials=radials, radial_m=length, base_height_m=height)
                yield replace(plain, radials=0, base_height_m=0.0, mirror=True)
                yield replace(over, mirror=True)
                yield over


def write(name: str, rows: list[dict[str, object]]) -> None:
    names: dict[str, None] = {}
    for entry in rows:
        names.update(dict.fromkeys(entry))
    with (FOLDER / name).open("w", newline="") as file:
        writer = csv.DictWriter(file, names, restval="")
        writer.writeheader()
        writer.writerows(rows)


def main() -> None:
    write("own_whips.csv", [row(case, whips=True) for case in whips()])
    write("other_geometries.csv", [row(case) for case in cases()])


if __name__ == "__main__":
    main()
