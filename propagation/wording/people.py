"""Whom to expect, in words: the countries with most stations in reach first."""

from __future__ import annotations

from typing import TYPE_CHECKING

from propagation.wording.quantities import listed

if TYPE_CHECKING:
    from collections.abc import Sequence

    from propagation.advice.people import Part


def whom_words(parts: Sequence[Part]) -> str:
    """`Spain and Italy, then Germany`; empty where nobody is in reach."""
    first = listed([one.name for one in parts if one.first])
    later = listed([one.name for one in parts if not one.first])
    return f"{first}, then {later}" if later else first
