"""The sun and the field in sentences: what a forecast was made with, and what is known of a log's day."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from propagation.wording.quantities import ago_words, date, nearest, sentence

if TYPE_CHECKING:
    import numpy as np

    from propagation.logbook.review import DayConditions, Known
    from propagation.space_weather.state.conditions import Conditions


def conditions_words(state: Conditions, time: np.datetime64, now: np.datetime64) -> str:
    """The conditions used at a time, their source and their age, as part of a sentence."""
    age = f", {state.age_text(now)}" if state.issued is not None else ""
    known = "" if bool(state.kp_known(time)) else " (not known, taken as quiet)"
    asked = (state.flux_at, state.kp_at, state.ssn_at, state.index_at)
    flux, kp, ssn, index = (nearest(float(at(time))) for at in asked)
    layer = state.measured.layer if state.measured is not None else None
    measured = (
        f"layer measured {ago_words(now - layer.newest)}; "
        if layer is not None and bool(layer.applies_to(time))
        else ""
    )
    return (
        f"{measured}flux {flux:.0f} sfu, K {kp:.0f}{known}, sunspot number {ssn:.0f}, index {index:.0f}; "
        f"{state.source}{age}"
    )


def conditions_sentence(state: Conditions, time: np.datetime64, now: np.datetime64) -> str:
    """The same as a sentence."""
    return sentence(conditions_words(state, time, now))


_FLUX: Final[dict[Known, str]] = {
    "measured": "",
    "typed in": " as typed in",
    "month only": " (the month's mean; the day's is not known here)",
    "not known": " (assumed; the day's is not known here)",
}
_UP_TO: Final[dict[Known, str]] = {"measured": "up to ", "typed in": "", "month only": "", "not known": ""}
_KP: Final[dict[Known, str]] = {
    "measured": "",
    "typed in": " as typed in",
    "month only": " (a quiet field is assumed)",
    "not known": " (a quiet field is assumed, none is known)",
}


def day_sentence(day: DayConditions) -> str:
    """The flux and the field of one day, and how they are known."""
    flux = f"{nearest(day.flux_sfu):.0f} sfu"
    if day.flux == "not known" and day.kp == "not known":
        return (
            f"The sun and the field of {date(day.date)} are not known here: the forecast assumes a flux of "
            f"{flux}, as smoothed or predicted for the month, and a quiet field."
        )
    field = f"K {_UP_TO[day.kp]}{nearest(day.kp_most):.0f}{_KP[day.kp]}"
    return f"On {date(day.date)}: flux {flux}{_FLUX[day.flux]}, {field}."
