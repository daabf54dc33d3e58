"""The E layer's MUF by the printed polynomial of a Recommendation, beside the engine's exact secant."""

from __future__ import annotations

import numpy as np

from propagation.base.units import FloatArray

LONGEST_HOP_KM = 2000.0  # km (P.1240 section 5, from memory)


def muf_factor(hop_km: FloatArray) -> FloatArray:
    """M_E of P.1240 section 5: MUF over foE for a hop of this ground length [km] (from memory)."""
    x = (np.minimum(hop_km, LONGEST_HOP_KM) - 1150.0) / 1150.0
    return 3.94 + x * (2.80 + x * (-1.70 + x * (-0.60 + x * 0.96)))
