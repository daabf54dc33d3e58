"""The record of faults: what went wrong inside the program, for whoever mends it."""

from __future__ import annotations

import contextlib
import traceback
from typing import Final

from propagation.base import files
from propagation.base.errors import InputError
from propagation.base.text import one_line, shown
from tui.app import paths

MOST_BYTES: Final = 1_000_000  # bytes; a longer record begins anew
MOST_DETAILS: Final = 100_000  # characters of one fault; the end of a longer one is kept


def record(what: str, fault: BaseException | str) -> str:
    """Write a fault down; the end of a sentence says where. Never fails.

    what: what was being done, in a line. fault: itself, or its details as text.
    """
    try:
        file = paths.fault_file()
    except InputError as error:
        return error.message.rstrip(".")
    details = fault if isinstance(fault, str) else "".join(traceback.format_exception(fault))
    details = details[-MOST_DETAILS:]
    text = shown(f"{one_line(what)[:1000]}\n{details}\n").encode("utf-8", "replace")
    try:
        with contextlib.suppress(FileNotFoundError):
            if file.lstat().st_size + len(text) > MOST_BYTES:
                file.unlink()
        files.append(file, text)
    except (OSError, ValueError):
        return f"the details could not be written to {file}"
    return f"the details are in {file}"
