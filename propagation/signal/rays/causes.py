"""Causes that limit a band at an hour, appear in a ledger, or open and close a window.

The codes index `CAUSES`; the engine uses arrays of codes. The names are those of the JSON output; only
`wording.causes` makes sentences about them.
"""

from __future__ import annotations

from typing import Final, Literal, get_args

Cause = Literal[
    "open",  # nothing limits it: the contact is more likely than not
    "above the MUF",  # no layer on the path returns this frequency
    "skip zone",  # the layer returns it, but farther away than the target
    "absorption",  # the sunlit D and E layers absorb the signal
    "E screening",  # the E layer screens the F2 layer and does not itself carry the signal
    "noise",  # the signal arrives below the noise of the far or near end
    "antenna",  # a lossless antenna would have made it
    "power",  # more power would have made it
    "auroral zone",  # losses near the auroral oval
    "storm",  # the ionospheric storm has lowered the layer
    "today's layer",  # measured: the layer's MUF is lower than usual today
    "flare",  # the flare's extra absorption
    "polar cap",  # absorption by solar protons over the polar caps
    "licence",  # the band is outside what the licence or region allows
    "antenna range",  # the antenna cannot be tuned there
    "horizon",  # the take-off angle is below the site's horizon
    "distance",  # beyond ground wave or line of sight, where no layer helps
    "few on the air",  # the stations are in reach, but too few of them listen
    "mode",  # a narrower mode would have made it; never the limit of a lane
    "sporadic E",  # thin clouds in the E layer; only for a window's edge
    "many things",  # several small changes together; only for a window's edge
]
# Losses of a circuit that can be removed one by one; "above the MUF" covers the layers' limit, whether it
# appears as a frequency too high or as a skip zone.
Loss = Literal["above the MUF", "absorption", "E screening", "auroral zone"]

CAUSES: Final[tuple[Cause, ...]] = get_args(Cause)
LIMITS: Final = CAUSES[: CAUSES.index("mode")]  # those that can limit a lane
EVENTS: Final[tuple[Cause, Cause]] = ("flare", "polar cap")  # events that begin within minutes or hours
LOSSES: Final[tuple[Loss, ...]] = get_args(Loss)
CODE: Final[dict[str, int]] = {cause: code for code, cause in enumerate(CAUSES)}
