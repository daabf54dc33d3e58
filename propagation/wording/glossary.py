"""Glossary: the terms of the trade that screens and answers use, each in a sentence or two."""

from __future__ import annotations

import re
from typing import Final, NamedTuple


class Term(NamedTuple):
    """A term, the pattern by which a text holds it (matched with capitals), and its meaning."""

    name: str
    pattern: str
    says: str


_TERMS: Final[tuple[Term, ...]] = (
    Term(
        "1F2, 2F2, 1E",
        r"\b\d{1,2}(?:F2|F1|E|Es)\b|\b\dF2\dE|hops? by the",
        "a ray path by the number of hops and the layer that turns it back: 2F2 is two hops by the F2 layer.",
    ),
    Term(
        "MUF",
        r"MUF\b",
        "maximum usable frequency: the highest frequency that the ionosphere turns back on this path on half "
        "of the days. Above it a band is open on fewer days.",
    ),
    Term(
        "sfu, flux",
        r"\bsfu\b|\b[Ff]lux\b",
        "the sun's radio noise at 10.7 cm, in solar flux units: about 65 in a quiet year, above 200 in an "
        "active one. The higher it is, the higher the bands that open.",
    ),
    Term(
        "K, Kp",
        r"\bKp?\b(?= \d| index|,| is|:|$)|\bPlanetary K\b",
        "how disturbed the earth's magnetic field is, every three hours from 0 to 9: from 5 on it is a "
        "storm, which lowers the F2 layer and absorbs paths near the poles.",
    ),
    Term(
        "A index",
        r"\bA index\b",
        "the same disturbance as a mean of the day, on a linear scale: 4 is quiet, 50 a storm.",
    ),
    Term(
        "sunspot number",
        r"[Ss]unspot|\bSSN\b",
        "the monthly count of spots and groups, smoothed over thirteen months: it follows the eleven-year "
        "cycle, and with it the layers.",
    ),
    Term(
        "index",
        r"\bindex \d",
        "the ionospheric index that drives the maps of the F2 layer, on the scale of sunspot numbers; "
        "what the layers did, not what the sun showed.",
    ),
    Term(
        "Q",
        r"\bQ\b",
        "the quality of a coil: its reactance over its loss resistance. 100 is a plain coil, 300 a very good "
        "one; the higher, the less it heats.",
    ),
    Term(
        "SWR",
        r"\bSWR\b",
        "standing-wave ratio: how well the load fits the cable. 1 is a fit; most rigs lower their power "
        "above 2.",
    ),
    Term(
        "take-off",
        r"take-off",
        "the angle above the horizon at which the signal leaves: low angles go far with few hops.",
    ),
    Term(
        "skip distance",
        r"[Ss]kip(?:ped)?\b",
        "the distance to the nearest place where the first hop comes down; nearer stations are skipped.",
    ),
    Term(
        "D layer, absorbed",
        r"\bD (?:layer|and E)|absor\w+",
        "the lowest layer, there by day alone: it absorbs, the low bands most.",
    ),
    Term("E layer", r"\bE\b(?= layer| +\d)|foE\b", "the layer at 110 km, by day: hops of up to 2,000 km."),
    Term(
        "sporadic E",
        r"[Ss]poradic E|foEs\b|\bEs\b",
        "thin dense clouds in the E layer, mostly in summer: they open 10 m and 6 m over 500 to 2,200 km.",
    ),
    Term(
        "F2, foF2",
        r"\bF2\b|foF2",
        "the highest layer, 250 to 400 km, which carries far contacts; foF2 is the highest frequency it "
        "turns back straight up.",
    ),
    Term("hmF2", r"hmF2", "the height at which the F2 layer is densest."),
    Term("M(3000)F2", r"M\(3000\)", "the MUF of a path of 3000 km over foF2; with foF2 it gives any MUF."),
    Term(
        "greyline",
        r"[Gg]reyline|twilight",
        "the belt of twilight, where the D layer is gone and the F2 layer still there: low bands go far.",
    ),
    Term("dB", r"\bdB\b", "decibel: 3 dB is twice the power, 10 dB ten times, 6 dB one S unit."),
    Term("SNR", r"\bSNR\b", "the signal over the noise, here in a bandwidth of 2500 Hz."),
    Term(
        "long way",
        r"long (?:way|path)|the long\b",
        "the way round the other side of the earth; short is the direct one.",
    ),
    Term(
        "X-ray class",
        r"X-rays?|\b[CMX]\d\.\d\b",
        "the size of a solar flare, C, M or X with a figure, each letter ten times the one before: an M "
        "or X flare absorbs the bands on the day side for an hour.",
    ),
    Term(
        "auroral oval",
        r"auror\w+",
        "the ring around the magnetic pole where signals flutter and are absorbed in a storm.",
    ),
    Term("coil, µH", r"\bu?µ?H\b|\bcoil\b", "the loading coil's inductance, in microhenries."),
    Term("radials", r"\bradials?\b", "wires along or above the ground: the antenna's other half."),
    Term("dBi", r"\bdBi\b", "gain over an antenna that radiates alike in every direction."),
    Term(
        "UTC, local",
        r"\bUTC\b|\blocal\b",
        "universal time, the clock of all logs; local is that of your station's place. z turns them over.",
    ),
)


class Spot(NamedTuple):
    """A term in a line of text: columns from `start` to before `stop`, and its meaning."""

    start: int
    stop: int
    says: str


def spots_in(line: str) -> list[Spot]:
    """The terms in a line, in its order; of two that overlap, the one that begins first, then the longer."""
    found = sorted(
        (match.start(), -match.end(), number)
        for number, term in enumerate(_TERMS)
        for match in re.finditer(term.pattern, line)
    )
    out: list[Spot] = []
    for start, stop, number in found:
        if not out or start >= out[-1].stop:
            out.append(Spot(start, -stop, f"{_TERMS[number].name}: {_TERMS[number].says}"))
    return out


def terms_in(text: str) -> list[str]:
    """What the terms in a text mean, one each, in the order of the glossary; all terms where it has none."""
    found = [term for term in _TERMS if re.search(term.pattern, text)]
    return [f"{term.name}: {term.says}" for term in found or _TERMS]
