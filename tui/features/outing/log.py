"""Records of an outing, saved at once: contacts in its log, marks in its journal."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np

from propagation.base import files
from propagation.base.errors import InputError
from propagation.base.files import is_file, read_whole
from propagation.logbook import journal
from propagation.logbook.journal import Worked
from propagation.wording import quantities as say
from tui.app import paths
from tui.app.choice import HoursOnAir, Mark

LARGEST_BYTES = 5_000_000  # of an outing's log


def log_file(hours: HoursOnAir) -> Path:
    """Path of the outing's log: the existing one, or a new one named after its start."""
    if hours.log:
        return Path(hours.log)
    stamp = str(hours.start.astype("datetime64[m]")).replace(":", "").replace("T", "-")
    return paths.outings_dir() / f"outing-{stamp}.adi"


def contacts(hours: HoursOnAir | None) -> list[tuple[str, str, str]]:
    """Return (call, band, time) of the contacts logged so far."""
    if hours is None or not hours.log or not is_file(Path(hours.log)):
        return []
    return journal.calls_worked(read_whole(hours.log, LARGEST_BYTES, "it is not the log of an outing"))


def made(hours: HoursOnAir | None) -> tuple[journal.Made, ...]:
    """Return the contacts logged so far, in the form used for learning."""
    if hours is None or not hours.log or not is_file(Path(hours.log)):
        return ()
    return tuple(
        journal.contacts_made(read_whole(hours.log, LARGEST_BYTES, "it is not the log of an outing"))
    )


def write_contact(hours: HoursOnAir, worked: Worked) -> tuple[HoursOnAir, str]:
    """Append a contact. Return the outing with its log, and a sentence. InputError if writing fails."""
    file = log_file(hours)
    before = contacts(hours)
    again = journal.duplicate(worked.call, worked.band, before)
    in_vain = [
        (mark.band, mark.when)
        for mark in hours.marks
        if mark.kind == "in vain" and not _told(mark, before, worked)
    ]
    try:
        files.append(file, journal.record(worked, in_vain), journal.header(), journal.mend)
    except OSError as error:
        raise InputError(f"The contact cannot be written to {file}: {error.strerror or error}.") from None
    reports = f"sent {worked.sent}, received {worked.received}"
    told = f"{worked.call} on {say.band_title(worked.band)}, {reports}: written."
    if again:
        told = f"{told} It was worked on this band at {again} already."
    return replace(hours, log=str(file)), told


def _told(mark: Mark, before: list[tuple[str, str, str]], worked: Worked) -> bool:
    """Report whether an earlier contact's record already contains a mark."""
    since = any(time and time >= say.clock(mark.when) for _, _, time in before)
    return since and bool(mark.when < worked.time)


def marked(hours: HoursOnAir, kind: str, band: str, when: np.datetime64) -> HoursOnAir:
    """Return the outing with one more mark."""
    return replace(hours, marks=(*hours.marks, Mark(kind, band, when)))


def without_last(hours: HoursOnAir) -> HoursOnAir:
    """Return the outing without its last mark."""
    return replace(hours, marks=hours.marks[:-1])
