"""Log of an outing: contacts written at once, corrected, taken out and put back; its other records stay."""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import replace
from functools import lru_cache
from pathlib import Path

from propagation.base import files
from propagation.base.errors import InputError
from propagation.base.files import read_whole
from propagation.logbook import journal
from propagation.logbook.journal import Made, Worked
from tui.app import paths
from tui.app.choice import HoursOnAir

LARGEST_BYTES = 5_000_000  # of an outing's log


def log_file(hours: HoursOnAir) -> Path:
    """Path of the outing's log: the existing one, or a new one named after its start."""
    if hours.log:
        return Path(hours.log)
    stamp = str(hours.start.astype("datetime64[m]")).replace(":", "").replace("T", "-")
    return paths.outings_dir() / f"outing-{stamp}.adi"


def made(hours: HoursOnAir | None) -> tuple[Made, ...]:
    """Return the contacts logged so far, in the order of the file."""
    if hours is None or not hours.log:
        return ()
    try:
        found = os.stat(hours.log)
    except (FileNotFoundError, NotADirectoryError, ValueError):
        return ()
    except OSError as error:
        raise InputError(f"{hours.log!r} cannot be read: {files.reason_of(error)}.") from None
    return _read(hours.log, (found.st_ino, found.st_size, found.st_mtime_ns))


@lru_cache(maxsize=1)
def _read(log: str, stamp: tuple[int, ...]) -> tuple[Made, ...]:
    """Contacts of a log. stamp: changes with the file."""
    return tuple(journal.contacts_made(read_whole(log, LARGEST_BYTES, "it is not the log of an outing")))


def write_contact(hours: HoursOnAir, worked: Worked) -> tuple[HoursOnAir, bytes]:
    """Append a contact; return the outing with its log, and the record. InputError if writing fails."""
    file, before = log_file(hours), made(hours)
    in_vain = [
        (mark.band, mark.when)
        for mark in hours.marks
        if mark.kind == "in vain"
        and mark.when <= worked.time
        and not any(one.time >= mark.when for one in before)  # it is in that one's record already
    ]
    record = journal.record(worked, in_vain)
    put_back(file, record)
    return replace(hours, log=str(file)), record


def put_back(file: Path, record: bytes) -> None:
    """Append a whole record. InputError if writing fails."""
    try:
        files.append(file, record, journal.header(), journal.mend)
    except OSError as error:
        raise InputError(f"The contact cannot be written to {file}: {files.reason_of(error)}.") from None


def exchange(file: Path, old: bytes, new: bytes) -> None:
    """Replace one record by another, or take it out where `new` is empty. InputError if that fails."""
    _rewrite(file, lambda data: journal.replaced(data, old, new))


def change_contact(file: Path, one: Made, worked: Worked) -> tuple[bytes, bytes]:
    """Correct a contact. Return its record before and after; InputError if that fails."""
    records: list[bytes] = []

    def change(data: bytes) -> bytes:
        old = one.record_in(data)
        records.extend((old, journal.changed(old, worked)))
        return journal.replaced(data, *records)

    _rewrite(file, change)
    return records[0], records[1]


def remove_contact(file: Path, one: Made) -> bytes:
    """Take a contact out of the log. Return its record; InputError if that fails."""
    records: list[bytes] = []

    def change(data: bytes) -> bytes:
        records.append(one.record_in(data))
        return journal.replaced(data, records[0], b"")

    _rewrite(file, change)
    return records[0]


def _rewrite(file: Path, change: Callable[[bytes], bytes]) -> None:
    try:
        files.rewrite(file, change)
    except OSError as error:
        raise InputError(f"The log {file} cannot be changed: {files.reason_of(error)}.") from None
