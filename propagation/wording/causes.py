"""Words of every cause: the same as the limit of a lane, in a ledger, and as the reason of a window.

One table, closed by `assert_never`: a cause without words is an error of the type checker.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, assert_never

from propagation.signal.rays.causes import Cause


@dataclass(frozen=True)
class CauseWords:
    """Words of one cause.

    short: next to a lane. clause: the cause as part of a sentence. without: the conditions without the cause.
    opens, closes: the event where the cause decides the start or end of a window. Placeholders: `{amount}`
    for decibels, `{where}` for the end, `{frequency}` for the band's.
    """

    short: str
    clause: str
    without: str
    opens: str
    closes: str


_OPEN: Final = CauseWords(
    "open",
    "nothing limits it",
    "as things are",
    "no limit remains",
    "a limit appears",
)
_ABOVE_THE_MUF: Final = CauseWords(
    "above the MUF",
    "the frequency is above the MUF",
    "the layers return every frequency",
    "the layers begin to return {frequency}",
    "the layers cease to return {frequency}",
)
_SKIP_ZONE: Final = CauseWords(
    "skipped over",
    "the target is inside the skip zone",
    "the layers return every frequency at every angle",
    "the skip zone shrinks",
    "the skip zone grows beyond the target",
)
_ABSORPTION: Final = CauseWords(
    "absorbed",
    "the sunlit D and E layers absorb the signal",
    "the D and E layers absorb nothing",
    "absorption falls by {amount}",
    "absorption rises by {amount}",
)
_E_SCREENING: Final = CauseWords(
    "E screening",
    "the E layer screens the F2 layer",
    "no screening by the E layer",
    "the E layer stops screening the F2 layer",
    "the E layer screens the F2 layer",
)
_NOISE: Final = CauseWords(
    "under the noise",
    "the signal is below the noise",
    "the noise of a quiet rural place at both ends, without static",
    "the noise {where} falls by {amount}",
    "the noise {where} rises by {amount}",
)
_ANTENNA: Final = CauseWords(
    "lost in antenna",
    "the losses in your antenna are too high",
    "your antenna and feed line without their losses",
    "the antenna becomes sufficient",
    "the antenna is no longer sufficient",
)
_POWER: Final = CauseWords(
    "too few watts",
    "the power is too low",
    "100 W at both ends",
    "the power becomes sufficient",
    "the power is no longer sufficient",
)
_AURORAL_ZONE: Final = CauseWords(
    "auroral loss",
    "the auroral zone absorbs the signal",
    "no loss in the auroral zone",
    "loss in the auroral zone falls by {amount}",
    "loss in the auroral zone rises by {amount}",
)
_STORM: Final = CauseWords(
    "storm",
    "the storm lowers the MUF",
    "the ionosphere of a quiet day",
    "the storm subsides",
    "the storm lowers the MUF",
)
_TODAYS_LAYER: Final = CauseWords(
    "low layer today",
    "the layer was measured lower than usual today",
    "the layer as it usually is",
    "the layer returns to its usual level",
    "the layer falls below its usual level",
)
_FLARE: Final = CauseWords(
    "flare",
    "a solar flare absorbs the signal",
    "no flare",
    "the flare fades",
    "the flare increases the absorption",
)
_POLAR_CAP: Final = CauseWords(
    "protons",
    "solar protons over the polar cap absorb the signal",
    "no solar protons",
    "the absorption over the polar cap fades",
    "solar protons increase the absorption over the polar cap",
)
_LICENCE: Final = CauseWords(
    "not allowed",
    "the licence, the region or your own list does not allow it",
    "a licence for it",
    "the licence begins",
    "the licence ends",
)
_ANTENNA_RANGE: Final = CauseWords(
    "does not tune",
    "your antenna does not tune there",
    "your antenna tuned and without losses",
    "your antenna begins to tune there",
    "your antenna no longer tunes there",
)
_HORIZON: Final = CauseWords(
    "behind the hill",
    "your skyline blocks the path",
    "a flat horizon",
    "the ray clears the skyline",
    "the ray falls below the skyline",
)
_FEW_ON_THE_AIR: Final = CauseWords(
    "few on the air",
    "the stations are in reach, but few of them are on the air",
    "everybody is on the air",
    "more people come on the air",
    "fewer people are on the air",
)
_DISTANCE: Final = CauseWords(
    "too far away",
    "it is beyond the ground wave, and no layer returns the signal",
    "the target within reach of the ground wave",
    "the ground wave begins to reach",
    "the ground wave no longer reaches",
)
_MODE: Final = CauseWords(
    "mode needs more",
    "the mode needs a strong signal",
    "the next narrower mode: Morse for voice, weak-signal digital for Morse",
    "the mode becomes sufficient",
    "the mode is no longer sufficient",
)
_SPORADIC_E: Final = CauseWords(
    "sporadic E",
    "sporadic E is too weak",
    "sporadic E on every day",
    "sporadic E builds up",
    "sporadic E fades",
)
_MANY_THINGS: Final = CauseWords(
    "many things",
    "several small things add up",
    "none of several small things",
    "several small changes add up",
    "several small losses add up",
)


def words_of(cause: Cause) -> CauseWords:
    """Words of a cause."""
    match cause:
        case "open":
            return _OPEN
        case "above the MUF":
            return _ABOVE_THE_MUF
        case "skip zone":
            return _SKIP_ZONE
        case "absorption":
            return _ABSORPTION
        case "E screening":
            return _E_SCREENING
        case "noise":
            return _NOISE
        case "antenna":
            return _ANTENNA
        case "power":
            return _POWER
        case "auroral zone":
            return _AURORAL_ZONE
        case "storm":
            return _STORM
        case "today's layer":
            return _TODAYS_LAYER
        case "flare":
            return _FLARE
        case "polar cap":
            return _POLAR_CAP
        case "licence":
            return _LICENCE
        case "antenna range":
            return _ANTENNA_RANGE
        case "horizon":
            return _HORIZON
        case "distance":
            return _DISTANCE
        case "few on the air":
            return _FEW_ON_THE_AIR
        case "mode":
            return _MODE
        case "sporadic E":
            return _SPORADIC_E
        case "many things":
            return _MANY_THINGS
    assert_never(cause)


def short(cause: Cause) -> str:
    """Cause in a few characters, for the end of a lane."""
    return words_of(cause).short


def clause(cause: Cause) -> str:
    """Cause as part of a sentence."""
    return words_of(cause).clause


def without(cause: Cause) -> str:
    """Conditions without the cause."""
    return words_of(cause).without
