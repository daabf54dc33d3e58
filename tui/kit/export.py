"""Export of plans, appointments and texts to the current folder: text to print, pages, calendar files."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Final, Protocol

import numpy as np

from propagation.advice.calendar import CALENDAR_MARK
from propagation.base import files
from propagation.base.text import shown
from propagation.wording import quantities as say
from propagation.wording.plan_page import PAGE_MARK, with_note
from tui.kit import words

FIRST_WORDS: Final = "Written by bandwhen on"  # of a text; identifies files of this program
MARKS: Final = (FIRST_WORDS.encode(), CALENDAR_MARK, PAGE_MARK.encode())


@dataclass(frozen=True)
class Paper:
    """A view as files."""

    name: str  # of the files, without an ending
    text: str  # to print
    calendar: str = ""
    page: str = ""  # HTML, for a telephone and an A5 sheet


class Exportable(Protocol):
    """A computed view that can be written to files."""

    def exported(self, now: np.datetime64) -> Paper:
        """The view as files; InputError if there is nothing to write."""


def write(view: Exportable, now: np.datetime64, force: bool = False, tried: str = "") -> str:
    """Write a view; return a sentence with the files. tried: the trial under way while it was computed.

    TakenError if another program's file has the name, unless `force`; InputError if there is nothing to
    write.
    """
    paper = view.exported(now)
    text, page, stem = paper.text, paper.page, paper.name
    if tried:
        told = words.tried(tried)
        text, page, stem = f"{told}\n\n{text}", page and with_note(page, told), f"{stem}-tried"
    return write_texts({f"{stem}.ics": paper.calendar, f"{stem}.txt": text, f"{stem}.html": page}, now, force)


def write_words(place: str, text: str, now: np.datetime64, force: bool = False) -> str:
    """Write the sentences of a page; return a sentence with the file. TakenError as above."""
    return write_texts({f"bandwhen-{place}-{stamp(now)}.txt": text}, now, force)


def write_texts(texts: Mapping[str, str], now: np.datetime64, force: bool = False) -> str:
    """Write texts under their names; return a sentence with those not empty and their folder.

    TakenError as above.
    """
    folder, written = Path.cwd(), []
    for name, text in texts.items():
        if not text:
            continue
        if name.endswith(".txt"):
            clocks = say.zone_sentence(now)
            head = f"{FIRST_WORDS} {say.date(now)} at {say.both_clocks(now)}{f'. {clocks}' if clocks else ''}"
            text = f"{head}\n\n{shown(text)}"
        files.export(folder / name, text.encode("utf-8", "replace"), MARKS, force=force)
        written.append(name)
    if not written:
        return "There is nothing to write."
    return f"Written: {say.listed(written)} in {folder}, the folder the program was started in."


def stamp(now: np.datetime64) -> str:
    """A time as part of a file name."""
    return f"{now.astype('datetime64[D]')}-{say.utc_clock(now).replace(':', '')}"


def in_a_name(text: str) -> str:
    """A text as part of a file name: letters and digits, joined by hyphens."""
    return "-".join("".join(sign if sign.isalnum() else " " for sign in text).split())[:40] or "somebody"
