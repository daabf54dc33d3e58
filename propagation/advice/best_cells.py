"""The margin told of a forecast's cells: of the best point of the target, by the route that serves best.

It is worked out for these cells alone, each at its own time, as the ledger of a cell does it, so that both
say the same decibels. Shapes: T times, B bands.
"""

from __future__ import annotations

import numpy as np

from propagation.advice.recompute import Cells, at_power, compute
from propagation.base.units import FloatArray, as_float
from propagation.signal.chances.forecast import Forecast
from propagation.station.terminals import Terminals


def best_margin_db(result: Forecast, terminals: Terminals) -> FloatArray:
    """Median SNR of the weaker direction over what the mode needs [dB] (T, B).

    terminals: those the forecast was made with.
    """
    if not result.target.is_region:  # one point, of which the forecast has kept it
        return result.at(result.margin_db)
    shape = result.route.shape
    time, band = (index.ravel() for index in np.indices(shape))
    cells = Cells(result.best_point.ravel(), result.route.ravel(), band, result.times[time][:, None])
    return as_float(compute(result, at_power(terminals, result), cells).margin_db.reshape(shape))
