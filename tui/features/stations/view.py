"""Stations and friends on file, as they are drawn."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from tui.kit.world_map import MapView


@dataclass(frozen=True)
class EntriesView:
    """The stations and friends on file: each in sentences, and where they are."""

    says: dict[str, tuple[str, ...]]  # by the key of the entry
    chart: MapView
