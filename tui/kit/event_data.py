"""A flare or a proton event on the path, as JSON for the answers of several commands."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from propagation.wording.sky import event_sentence

if TYPE_CHECKING:
    from propagation.advice.events import AbsorptionEvent


def event_data(one: AbsorptionEvent) -> dict[str, Any]:
    """The event: its kind and size, the bands absorbed, the absorption on each [dB], its end, and a
    sentence.
    """
    return {
        "kind": one.kind,
        "size": one.name,
        "time": one.time,
        "until": one.until,
        "taken": list(one.taken),
        "cost_db": {band: round(cost, 1) for band, cost in one.cost_db.items()},
        "text": event_sentence(one),
    }
