"""What contacts, entries and their forecasts have in common: columns of one length, and choosing rows."""

from __future__ import annotations

from typing import Any, Self

import numpy as np


class Columns:
    """Base of frozen dataclasses whose fields are all columns: tuples or arrays, the rows along axis 0."""

    @property
    def size(self) -> int:
        """Number of rows."""
        return len(next(iter(vars(self).values())))

    def take(self, rows: Any) -> Self:
        """Some rows: a boolean mask, a slice, or row numbers in the wanted order."""
        chosen = np.arange(self.size)[rows]
        numbers = chosen.tolist()
        return type(self)(
            **{
                name: tuple([column[row] for row in numbers]) if isinstance(column, tuple) else column[chosen]
                for name, column in vars(self).items()
            }
        )
