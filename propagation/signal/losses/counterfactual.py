"""Counterfactuals: a circuit without one of its losses, to find the causes that advice reports.

Any loss of a row of a circuit can be set to a harmless value. The layers return every frequency, the D and E
layers absorb nothing, the E layer does not screen the F2 layer, or the auroral zone is clear. The difference
to the true row is the size of that loss; no rule of thumb is used. Copies of one route with different
switches are computed in one call.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from propagation.base.units import BoolArray, FloatArray, IntArray
from propagation.signal.losses.long_path import FIELD_CONSTANT_DB, LEAST_FIELD_DB, OTHER_GAIN_DB, LongPath
from propagation.signal.losses.path_loss import RayPathLosses
from propagation.signal.rays.causes import Loss

_TERMS: Final[dict[Loss, str]] = {
    "absorption": "absorption_db",
    "E screening": "screening_db",
    "auroral zone": "auroral_db",
}
_NO_LIMIT_MHZ: Final = 1e6  # MHz, a MUF that no frequency exceeds


@dataclass(frozen=True)
class _Spared(LongPath):
    """Combined method without its loss at either end of the range, for rows (N, 1, 1)."""

    spares_lower: BoolArray
    spares_upper: BoolArray

    def field_db(self, frequency_mhz: FloatArray, layer_factor: FloatArray | float = 1.0) -> FloatArray:
        """Field as `LongPath.field_db`, without the removed losses."""
        high, low, here, e0, focus = self.parts(frequency_mhz, layer_factor)
        spares_lower, spares_upper = (v.reshape(e0.shape) for v in (self.spares_lower, self.spares_upper))
        kept = np.where(spares_lower, 0.0, low / here) + np.where(spares_upper, 0.0, here / high)
        field = e0 * (1.0 - high / (high + low) * kept) + FIELD_CONSTANT_DB + focus + OTHER_GAIN_DB
        return np.asarray(np.maximum(field, LEAST_FIELD_DB))


@dataclass(frozen=True)
class Counterfactual:
    """Losses that are removed: by loss, True for the rows (N,) without it. Other losses stay."""

    rows: Mapping[Loss, BoolArray]

    def _mask(self, loss: Loss, rows: IntArray, dims: int) -> BoolArray | None:
        mask = self.rows.get(loss)
        return None if mask is None else mask[rows].reshape(-1, *(1,) * (dims - 1))

    def of_absorption(self, absorbed_db: FloatArray, rows: IntArray) -> FloatArray:
        """Absorption [dB] of the given rows (M, T, B), zero where it is removed; a flare's extra stays."""
        mask = self._mask("absorption", rows, 3)
        return absorbed_db if mask is None else np.where(mask, 0.0, absorbed_db)

    def of_losses(self, losses: RayPathLosses, rows: IntArray) -> RayPathLosses:
        """Losses of the ray paths (of the given rows) with some of them removed."""
        if not self.rows:
            return losses
        changes: dict[str, FloatArray] = {}
        for loss, name in _TERMS.items():
            mask = self._mask(loss, rows, 4)
            if mask is not None:
                changes[name] = np.where(mask, 0.0, getattr(losses, name))
        mask = self._mask("above the MUF", rows, 3)
        if mask is not None:
            for name in ("f2_muf_mhz", "e_muf_mhz"):
                value = getattr(losses, name)
                changes[name] = np.where(mask & np.isfinite(value), _NO_LIMIT_MHZ, value)
        return replace(losses, **changes)  # type: ignore[arg-type]

    def of_long_path(self, path: LongPath, rows: IntArray) -> LongPath:
        """Figures of the combined method with its loss at the lower or the upper end removed."""
        lower = self._mask("absorption", rows, 3)
        upper = self._mask("above the MUF", rows, 3)
        if lower is None and upper is None:
            return path
        nobody = np.zeros((rows.size, 1, 1), dtype=bool)
        return _Spared(
            **vars(path),
            spares_lower=nobody if lower is None else lower,
            spares_upper=nobody if upper is None else upper,
        )

    def of_ratio(self, over_limit: FloatArray, rows: IntArray) -> FloatArray:
        """Frequency over a layer's limit (N, T, B) of the given rows, zero where there is no limit."""
        mask = self._mask("above the MUF", rows, 3)
        return over_limit if mask is None else np.where(mask, 0.0, over_limit)


NOTHING_SPARED: Final = Counterfactual({})  # every loss stays
