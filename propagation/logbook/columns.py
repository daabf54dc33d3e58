"""Common base of contacts, entries and their forecasts: columns of one length, and selection of rows."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final, Self, TypeVar

import numpy as np

Rows = TypeVar("Rows", bound="Columns")
MOST_SHARED: Final = 100_000  # texts remembered at most (ours)


class Columns:
    """Base of frozen dataclasses whose fields are all columns: tuples or arrays, the rows along axis 0."""

    @property
    def size(self) -> int:
        """Number of rows."""
        return len(next(iter(vars(self).values())))

    @classmethod
    def joined(cls, parts: Sequence[Self]) -> Self:
        """Join several sets of rows, in order of time where there are several; one at least."""
        if len(parts) == 1:
            return parts[0]
        columns: dict[str, Any] = {}
        for name, first in vars(parts[0]).items():
            values = [getattr(part, name) for part in parts]
            columns[name] = (
                tuple(cell for value in values for cell in value)
                if isinstance(first, tuple)
                else np.concatenate(values)
            )
        whole = cls(**columns)
        return whole.take(np.argsort(columns["time"], kind="stable"))

    def take(self, rows: Any) -> Self:
        """Select rows: a boolean mask, a slice, or row numbers in the wanted order."""
        chosen = np.arange(self.size)[rows]
        numbers = chosen.tolist()
        return type(self)(
            **{
                name: tuple([column[row] for row in numbers]) if isinstance(column, tuple) else column[chosen]
                for name, column in vars(self).items()
            }
        )


def shared(rows: Rows, texts: dict[str, str]) -> Rows:
    """Share equal texts between rows to save memory.

    texts: remembers the texts met, as far as that saves memory.
    """
    if len(texts) > MOST_SHARED:
        texts.clear()
    return type(rows)(
        **{
            name: tuple([texts.setdefault(cell, cell) for cell in column])
            if isinstance(column, tuple)
            else column
            for name, column in vars(rows).items()
        }
    )
