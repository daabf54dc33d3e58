"""Sentences on a window: when it opens and closes and why, its route and mode; and why there is none."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from propagation.wording.causes import clause, words_of
from propagation.wording.quantities import (
    MODE_WORDS,
    band_title,
    both_clocks,
    both_spans,
    clock,
    days,
    decibels,
    kilometres,
    listed,
    promised,
    take_off,
    watts,
)

if TYPE_CHECKING:
    from propagation.advice.edges import EdgeReason, SunEvent
    from propagation.advice.nothing_now import Instead, Nothing
    from propagation.advice.windows import Closed, Hope, LeftOut, Window
    from propagation.signal.chances.forecast import Forecast

RULE: Final = (
    "Ranked by the best hour of each window, contacts an hour or days in ten as told; of alike windows the "
    "surer first, then the lower band."
)
_AT_MIN: Final = 20.0  # minutes within which something happens "at" sunrise (ours)
_NEAR_SHARE: Final = 0.04  # of a path's length, that still counts as its end (ours)
_NEAR_KM: Final = 150.0  # km, likewise on short paths


# --- the route -----------------------------------------------------------------------------------------


def route_words(route: str) -> str:
    """A route, `the short way` or `the long way`."""
    return f"the {route} way"


def route_and_mode(mode: str, route: str, elevation_deg: float | None) -> str:
    """Route and mode of the signal: `the short way by 2F2, take-off 12°`."""
    if mode == "ground wave":
        return "by ground wave"
    known = elevation_deg is not None and np.isfinite(elevation_deg)
    angle = f", {take_off(elevation_deg)}" if known else ""
    return f"{route_words(route)}{f' by {mode}' if mode else ''}{angle}"


def without_a_ray(mode: str) -> str:
    """Description of a signal without a ray path; empty for a mode that has one."""
    if mode == "scatter":
        return (
            "The signal here is scattered back from the ground beyond the skip zone: weak, without a "
            "clear direction."
        )
    return "The signal here is the ground wave." if mode == "ground wave" else ""


# --- why it opens and closes ---------------------------------------------------------------------------


def place_of(event: SunEvent) -> str:
    """Place of a sunrise or sunset on the path."""
    near_km = max(_NEAR_SHARE * event.total_km, _NEAR_KM)
    if event.along_km <= near_km and event.along_km <= 0.5 * event.total_km:
        return "here"
    if event.total_km - event.along_km <= near_km:
        return "at the far end"
    return f"{kilometres(event.along_km)} along the path"


def _what_changes(edge: EdgeReason) -> str:
    outside, inside = edge.muf_outside_mhz, edge.muf_inside_mhz
    first, last = (outside, inside) if edge.opens else (inside, outside)
    moves = bool(np.isfinite(first) and np.isfinite(last)) and abs(last - first) >= 0.1
    if edge.cause == "above the MUF" and moves and (last > first) == edge.opens:
        return f"the MUF {'rises' if edge.opens else 'falls'} from {first:.1f} to {last:.1f} MHz"
    words = words_of(edge.cause)
    return (words.opens if edge.opens else words.closes).format(
        amount=decibels(edge.change_db),
        where="here" if edge.at_home else "at the far end",
        frequency=f"{edge.frequency_mhz:.1f} MHz",
    )


def edge_words(edge: EdgeReason) -> str:
    """Reason why a window opens or closes, as part of a sentence."""
    what = _what_changes(edge)
    if edge.event is None:
        return what
    before = float((edge.time - edge.event.time) / np.timedelta64(60, "s"))
    when = "at" if abs(before) <= _AT_MIN else ("after" if before > 0.0 else "before")
    return f"{what}, {when} {edge.event.kind} {place_of(edge.event)} ({clock(edge.event.time)})"


def reason(window: Window) -> str:
    """Reason why a window opens and why it closes, in one sentence."""
    began = f"Opens as {edge_words(window.began)}" if window.began else "Open at the start of the period"
    ended = f"closes as {edge_words(window.ended)}" if window.ended else "still open at its end"
    return f"{began}; {ended}."


def window_sentence(window: Window) -> str:
    """One window: its band, times, what it promises, route and mode."""
    return (
        f"{band_title(window.band)}, {both_spans(window.start, window.end)}, best at "
        f"{clock(window.peak_time)}: {promised(window.best)}, "
        f"{route_and_mode(window.mode, window.route, window.elevation_deg)}."
    )


def best_window(window: Window | None) -> str:
    """Best window of a day next to others, in a few words."""
    if window is None:
        return "no window"
    span = both_spans(window.start, window.end)
    return f"{band_title(window.band)} {span}, {promised(window.best)}"


# --- bands without one ---------------------------------------------------------------------------------


def closed_sentence(row: Closed) -> str:
    """Band that has no window, its best hour and its limit then."""
    return (
        f"{band_title(row.band)}: no window; at best {promised(row.best)}, at {both_clocks(row.time)}; "
        f"{clause(row.limit)}."
    )


def left_out_words(row: LeftOut) -> str:
    """Reason why a band is left out."""
    return clause(row.cause)


def left_out_line(rows: list[tuple[str, str]]) -> str:
    """Bands with their reasons (band, words), those of one reason together."""
    by_reason: dict[str, list[str]] = {}
    for band, words in rows:
        by_reason.setdefault(words, []).append(band_title(band))
    return "; ".join(f"{listed(names)}, {words}" for words, names in by_reason.items())


# --- nothing at all ------------------------------------------------------------------------------------


def _wish(result: Forecast) -> str:
    return f"{result.target.name} with {result.mode.name} and {watts(result.power_w)}"


def _best(best: Hope) -> str:
    told = promised(best.best)
    return f"the best is {band_title(best.band)} at {both_clocks(best.time)}, {told}: {clause(best.limit)}"


def no_window_sentence(result: Forecast, best: Hope | None) -> str:
    """Notice that no band has a window, and the best band nevertheless."""
    if best is None:
        return f"No windows for {_wish(result)}: licence and antenna leave no band."
    return f"No windows for {_wish(result)}; {_best(best)}."


def nothing_sentence(result: Forecast, found: Nothing, to_what: str = "advise") -> str:
    """Reason why there is nothing to advise or to plan: the best band nevertheless, and the alternative."""
    head = f"Nothing to {to_what} for {_wish(result)}"
    if found.band is None or found.limit is None:
        return f"{head}: licence and antenna leave no band{_instead(found)}."
    who = "even large stations are out of reach" if result.target.is_region else "no band is open"
    best = f"at most {days(found.chance)}, on {band_title(found.band)} at {both_clocks(found.time)}"
    return f"{head}: {who}, {best}: {clause(found.limit)}{_instead(found)}."


def _instead(found: Nothing) -> str:
    told = [instead_words(one) for one in (found.later, found.narrower) if one is not None]
    either = found.tried is not None and found.narrower is None
    no_better = f"; with {MODE_WORDS[found.tried]} no band is open either" if either and found.tried else ""
    return (f"; {listed(told, 'or')} would work" if told else "") + no_better


def instead_words(one: Instead) -> str:
    """Alternative: `with Morse (CW): 20 m at once`, `with voice (SSB): 20 m at 07:10 UTC`."""
    when = "at once" if one.at_once else f"at {both_clocks(one.time)}"
    return f"with {MODE_WORDS[one.mode]} {band_title(one.band)} {when}"
