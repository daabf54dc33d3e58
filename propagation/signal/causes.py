"""What limits a band at an hour: a fixed list of causes, in the trade's words.

The codes index `CAUSES`; arrays of codes travel through the engine, words are for people and for JSON.
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
    "flare",  # the flare's extra absorption
    "licence",  # the band is outside what the licence or region allows
    "antenna range",  # the antenna cannot be tuned there
    "horizon",  # the take-off angle lies under the site's horizon
    "distance",  # beyond ground wave or line of sight, where no layer helps
]

CAUSES: Final[tuple[Cause, ...]] = get_args(Cause)
CODE: Final[dict[str, int]] = {cause: code for code, cause in enumerate(CAUSES)}
