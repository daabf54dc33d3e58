"""Words for the confidence in a level: the measured hours of similar paths, and the error there."""

from __future__ import annotations

from typing import TYPE_CHECKING

from propagation.advice.experience import DISTANCE_EDGES_KM, classes
from propagation.wording.quantities import counted, nearest

if TYPE_CHECKING:
    from propagation.advice.experience import Experience

GUESS = "a guess"


def error_figure(error_db: float) -> str:
    """Error either way, `+-9 dB`."""
    return f"+-{nearest(error_db):.0f} dB"


def error_words(found: Experience) -> str:
    """Error of a path's level, `+-9 dB`; a guess where nothing similar was measured."""
    return GUESS if found.error_db is None else error_figure(found.error_db)


def whole_sentence() -> str:
    """Sentence on the experience with all measured hours."""
    hours, error_db = classes().whole
    return f"With all {hours:,} measured hours levels agree to {error_figure(error_db)}."


def experience_sentence(found: Experience) -> str:
    """Sentence on the measured hours of similar paths, and the error of the level."""
    light = "by day" if found.day else "by night"
    if found.too_weak:
        return "Fields this weak were not measured: take the level as a guess."
    if found.error_db is None:
        return f"No measured path of this length and frequency {light}: take the level as a guess."
    like = f"{length_words(found)}, {found.from_mhz:g} to {found.to_mhz:g} MHz, {light}"
    hours, error = counted(found.hours, "measured hour"), error_figure(found.error_db)
    if found.standing == "many":
        return f"Levels agree with {hours} of paths like this one ({like}) to {error}."
    return f"Only {hours} of paths like this one ({like}); levels at this length {light} agree to {error}."


def experience_short(found: Experience) -> str:
    """Short form of the same."""
    if found.too_weak:
        return "Fields this weak were not measured: take the level as a guess."
    if found.error_db is None:
        return "No such path was measured: take the level as a guess."
    hours, error = counted(found.hours, "measured hour"), error_figure(found.error_db)
    if found.standing == "many":
        return f"Levels agree with {hours} of such paths to {error}."
    return f"Only {hours} of such paths; levels agree to {error}."


def length_words(found: Experience) -> str:
    """Path lengths of a class: `under 500 km`, `1,000 to 2,000 km`, `the long way round`."""
    if found.from_km == DISTANCE_EDGES_KM[0]:
        return f"under {found.to_km:,.0f} km"
    if found.to_km == DISTANCE_EDGES_KM[-1]:
        return "the long way round"
    if found.to_km == DISTANCE_EDGES_KM[-2]:  # half round the Earth, no short route is longer
        return f"over {found.from_km:,.0f} km"
    return f"{found.from_km:,.0f} to {found.to_km:,.0f} km"
