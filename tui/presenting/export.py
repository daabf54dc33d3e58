"""Plans, appointments and words as files in the folder one stands in: text to print, calendars to take in."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Final

import numpy as np

from propagation.advice.calendar import CALENDAR_MARK
from propagation.base import safe_write
from propagation.base.plain_text import shown
from propagation.wording import quantities as say
from tui.views import PlanView, SkedView

FIRST_WORDS: Final = "Written by bandwhen on"  # of a text, by which one of this program is known
MARKS: Final = (FIRST_WORDS.encode(), CALENDAR_MARK)


def write(view: object, now: np.datetime64, force: bool = False) -> str:
    """Write a finished plan or appointment; a sentence names the files.

    TakenError where another program's file has the name, unless `force`.
    """
    stamp = _stamp(now)
    if isinstance(view, PlanView):
        return write_texts({f"bandwhen-plan-{stamp}.txt": view.paper}, now, force)
    if isinstance(view, SkedView):
        name = f"bandwhen-sked-{stamp}"
        return write_texts({f"{name}.ics": view.calendar, f"{name}.txt": view.paper}, now, force)
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
