"""A flare or a proton event over the path, as JSON has it in the answers of several commands."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from propagation.wording.sky import event_sentence

if TYPE_CHECKING:
    from propagation.advice.events import AbsorptionEvent


def event_data(one: AbsorptionEvent, wanted: int = 0) -> dict[str, Any]:
    """The event: its kind and size, the bands it takes, its cost on each [dB], until when, and a sentence."""
    return {
        "kind": one.kind,
        "size": one.name,
        "time": one.time,
        "until": one.until,
        "taken": list(one.taken),
        "cost_db": {band: round(cost, 1) for band, cost in one.cost_db.items()},
        "text": event_sentence(one, wanted),
    }
