"""Plans and appointments as files in the folder one stands in: text to print, a calendar to take in."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from propagation.base.errors import InputError
from propagation.base.strict_toml import write_atomically
from propagation.wording import quantities as say
from tui.views import PlanView, SkedView


def write(view: object, now: np.datetime64) -> str:
    """Write a finished plan or appointment; a sentence names the files."""
    if isinstance(view, SkedView) and not view.slots:
        raise InputError(f"There is no slot to write. {view.note}".rstrip())
    if isinstance(view, PlanView) and not view.steps:
        raise InputError(f"There is no plan to write. {view.gain}".rstrip())
    stamp = f"{say.date(now)}-{say.clock(now).replace(':', '')}"
    if isinstance(view, PlanView):
        files = {f"bandwhen-plan-{stamp}.txt": view.paper}
    elif isinstance(view, SkedView):
        # named after the friend and the time of the slot: two friends do not overwrite each other
        first = view.slots[0].start
        when = f"{say.date(first)}-{say.clock(first).replace(':', '')}"
        count = f"-{len(view.slots)}-slots" if len(view.slots) > 1 else ""
        name = f"bandwhen-sked-{in_a_name(view.far)}-{when}{count}"
        files = {f"{name}.ics": view.calendar, f"{name}.txt": view.paper}
    else:
        files = {}
    written = []
    for name, text in files.items():
        if text:
            file = Path.cwd() / name
            try:
                write_atomically(file, text)
            except OSError as error:
                raise InputError(f"{file} cannot be written: {error.strerror or error}.") from None
            written.append(str(file))
    return f"Written: {', '.join(written)}." if written else "There is nothing to write."


def in_a_name(text: str) -> str:
    """A text as part of the name of a file: letters and figures, hyphens between them."""
    return "-".join("".join(sign if sign.isalnum() else " " for sign in text).split())[:40] or "somebody"
