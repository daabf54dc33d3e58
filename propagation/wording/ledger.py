"""The lines of a ledger: the name of every term, what is said beside it, and the direction it speaks of."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from propagation.wording.experience import error_words
from propagation.wording.quantities import decibels, level, listed, take_off, watts

if TYPE_CHECKING:
    from propagation.advice.ledger import Ledger, Term, TermEnd, TermName

LEAST_DB: Final = 0.05  # dB, a term that rounds to nothing has no line

# Name of a term, and the same where there is hardly room.
_PATH: Final[dict[str, tuple[str, str]]] = {
    "power": ("power", "power"),
    "free space": ("free space", "free space"),
    "absorption": ("absorption in the D and E layers", "D and E layers"),
    "flare": ("absorption by the solar flare", "solar flare"),
    "polar cap": ("solar protons over the polar cap", "solar protons"),
    "E screening": ("E layer before the F2 layer", "E before F2"),
    "ground reflections": ("reflections at the ground", "ground bounces"),
    "auroral zone": ("auroral zone", "auroral zone"),
    "low ray": ("ray close to the horizon", "low ray"),
    "stretched hops": ("hops stretched to their limit", "stretched hops"),
    "focusing": ("focusing near the antipode", "focusing"),
    "other losses": ("polarisation and all else", "all else"),
    "above the MUF": ("above the MUF", "above the MUF"),
    "above the E layer's MUF": ("above the E layer's MUF", "above E's MUF"),
    "absorption along the path": ("absorption along the path", "absorption"),
    "highest frequency": ("towards the highest frequency", "near the MUF"),
    "long-path losses": ("other losses of long paths", "all else"),
    "scatter": ("scatter back into the skip zone", "scatter"),
    "ground wave": ("along the ground", "along the ground"),
    "sporadic E": ("sporadic E, on the median day", "sporadic E"),
    "not listed": ("not listed", "not listed"),
    "other modes": ("other propagation modes", "other modes"),
    "other modes and long paths": (
        "other propagation modes, and the method for long paths",
        "long-path method",
    ),
    "other days": ("days unlike the median day", "other days"),
    "noise": ("noise", "noise"),
    "need": ("what the mode needs", "the mode needs"),
}


def _end_names(name: str, end: TermEnd) -> tuple[str, str]:
    """Names of a term at one end of the path."""
    here = end == "here"
    where, whose = ("here", "my") if here else ("at the far end", "their")
    match name:
        case "antenna":
            return f"antenna {where}, without losses", f"{whose} antenna"
        case "antenna losses":
            return f"losses of the antenna {where}", "its losses"
        case "feed line":
            return f"feed line {where}", f"{whose} coax"
        case _:
            return f"{name} {where}", f"{whose} {name}"


def term_words(name: TermName, end: TermEnd = "") -> str:
    """The name of a term."""
    return (_end_names(name, end) if end else _PATH[name])[0]


def term_short(name: TermName, end: TermEnd = "") -> str:
    """The name of a term where there is hardly room."""
    return (_end_names(name, end) if end else _PATH[name])[1]


def note(account: Ledger, term: Term) -> str:
    """What is said beside a term; empty for most."""
    match term.name:
        case "power":
            return f"{watts(account.power_w)}, over 1 W"
        case "antenna" if np.isfinite(account.elevation_deg) and account.mode != "ground wave":
            return take_off(account.elevation_deg)
        case "antenna losses":
            return "coil and earth"
        case "above the MUF":
            return "F2 layer"
        case "noise":
            where = "at the far end" if account.towards_far_end else "at home"
            return f"{where}, {account.noise_place}; external noise figure {account.fam_db:.0f} dB"
        case "need":
            return f"{level(account.need_db)} in 2500 Hz"
        case _:
            return ""


def lines(account: Ledger) -> list[str]:
    """The terms and their sum, a sentence each; terms that round to nothing are left out."""
    told = []
    for term in account.terms:
        if abs(term.db) >= LEAST_DB:
            beside = note(account, term)
            name = term_words(term.name, term.end)
            told.append(f"{name}: {level(term.db)}{f' ({beside})' if beside else ''}.")
    return [*told, f"Margin: {level(account.margin_db)}, {error_words(account.experience)}."]


def direction(account: Ledger) -> str:
    """The direction spoken of."""
    return "from here to the far end" if account.towards_far_end else "from the far end to here"


def margin_words(margin_db: float) -> str:
    """A margin: `12 dB over what the mode needs`."""
    over = "over" if margin_db >= 0.0 else "under"
    return f"{decibels(margin_db)} {over} what the mode needs"


def could_be_less(account: Ledger) -> str:
    """The largest losses that could be less; empty where there are none."""
    return listed(
        [f"{term_words(term.name, term.end)} {decibels(term.db)}" for term in account.could_be_less]
    )
