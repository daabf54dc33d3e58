"""Plans, appointments and words as files in the folder one stands in: text to print, calendars to take in."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Final

import numpy as np

from propagation.advice.calendar import CALENDAR_MARK
from propagation.base import safe_write
from propagation.base.errors import InputError
from propagation.base.plain_text import shown
from propagation.wording import quantities as say
from tui.kit import words
from tui.kit.views import PlanView, SeasonView, SkedView

FIRST_WORDS: Final = "Written by bandwhen on"  # of a text, by which one of this program is known
MARKS: Final = (FIRST_WORDS.encode(), CALENDAR_MARK)


def write(view: object, now: np.datetime64, force: bool = False, tried: str = "") -> str:
    """Write a finished plan or appointment; a sentence names the files. tried: what was tried meanwhile.

    TakenError where another program's file has the name, unless `force`; InputError where there is nothing.
    """
    if isinstance(view, SkedView) and not view.slots:
        raise InputError(f"There is no slot to write. {view.note}".rstrip())
    if isinstance(view, PlanView) and not view.steps:
        raise InputError(f"There is no plan to write. {view.gain}".rstrip())
    mark, told = ("-tried", f"{words.tried(tried)}\n\n") if tried else ("", "")
    if isinstance(view, PlanView):
        return write_texts({f"bandwhen-plan-{_stamp(now)}{mark}.txt": told + view.paper}, now, force)
    if isinstance(view, SkedView):
        # named after the friend and the time of the slot: two friends do not overwrite each other
        count = f"-{len(view.slots)}-slots" if len(view.slots) > 1 else ""
        name = f"bandwhen-sked-{in_a_name(view.far)}-{_stamp(view.slots[0].start)}{count}{mark}"
        return write_texts({f"{name}.ics": view.calendar, f"{name}.txt": told + view.paper}, now, force)
    if isinstance(view, SeasonView):
        if not view.slots:
            raise InputError(f"There is no slot to write. {view.says[0]}")
        name = f"bandwhen-season-{in_a_name(view.target)}-{_stamp(now)}{mark}"
        return write_texts({f"{name}.ics": view.calendar, f"{name}.txt": told + view.paper}, now, force)
    return write_texts({}, now, force)


def write_words(place: str, text: str, now: np.datetime64, force: bool = False) -> str:
    """Write the words of a page; a sentence names the file. TakenError as above."""
    return write_texts({f"bandwhen-{place}-{_stamp(now)}.txt": text}, now, force)


def write_texts(files: Mapping[str, str], now: np.datetime64, force: bool = False) -> str:
    """Write texts under their names; a sentence names those that were not empty. TakenError as above."""
    written = []
    for name, text in files.items():
        if not text:
            continue
        file = Path.cwd() / name
        if name.endswith(".txt"):
            text = f"{FIRST_WORDS} {say.date(now)} at {say.clock(now)} UTC\n\n{shown(text)}"
        safe_write.export(file, text.encode("utf-8", "replace"), MARKS, force=force)
        written.append(str(file))
    return f"Written: {', '.join(written)}." if written else "There is nothing to write."


def _stamp(now: np.datetime64) -> str:
    return f"{say.date(now)}-{say.clock(now).replace(':', '')}"


def in_a_name(text: str) -> str:
    """A text as part of the name of a file: letters and figures, hyphens between them."""
    return "-".join("".join(sign if sign.isalnum() else " " for sign in text).split())[:40] or "somebody"
