"""One list of causes: what limits a band at an hour, stands in a ledger, or opens and closes a window.

The codes index `CAUSES`; arrays of codes travel through the engine. The names are those of the JSON answers;
sentences about them are made in `wording.causes` alone.
"""

from __future__ import annotations

from typing import Final, Literal, get_args

Cause = Literal[
    "open",  # nothing limits it: the contact is likelier than not
    "above the MUF",  # no layer on the path returns this frequency
    "skip zone",  # the layer returns it, but farther away than the target
    "absorption",  # the sunlit D and E layers take the signal
    "E screening",  # the E layer hides the F2 layer and does not itself carry the path
    "noise",  # the signal arrives, under the noise of the far or near end
    "antenna",  # a lossless antenna would have made it
    "power",  # more power would have made it
    "auroral zone",  # losses near the auroral oval
    "storm",  # the ionospheric storm has lowered the layer
    "today's layer",  # measured: the layer stands lower than usual today
    "flare",  # the flare's extra absorption
    "polar cap",  # absorption by solar protons over the polar caps
    "licence",  # the band is outside what the licence or region allows
    "antenna range",  # the antenna cannot be tuned there
    "horizon",  # the take-off angle lies under the site's horizon
    "distance",  # beyond ground wave or line of sight, where no layer helps
    "few on the air",  # the stations are in reach, but too few of them listen
    "mode",  # a narrower mode would have made it; never the limit of a lane
    "sporadic E",  # thin clouds in the E layer; of a window's edge alone
    "many things",  # several small changes together; of a window's edge alone
]
# The losses of a circuit that can be taken off one by one; "above the MUF" stands for the layers' limit
# whether it shows as a frequency too high or as a skip zone.
Loss = Literal["above the MUF", "absorption", "E screening", "auroral zone"]

CAUSES: Final[tuple[Cause, ...]] = get_args(Cause)
LIMITS: Final = CAUSES[: CAUSES.index("mode")]  # those that can limit a lane
EVENTS: Final[tuple[Cause, Cause]] = ("flare", "polar cap")  # what comes over a path within minutes or hours
LOSSES: Final[tuple[Loss, ...]] = get_args(Loss)
CODE: Final[dict[str, int]] = {cause: code for code, cause in enumerate(CAUSES)}
