"""The fault log: internal errors with their details, for the developers."""

from __future__ import annotations

import contextlib
import traceback
from typing import Final

from propagation.base import files
from propagation.base.errors import InputError
from propagation.base.text import one_line, shown
from tui.app import paths

MOST_BYTES: Final = 1_000_000  # bytes; a longer file is started again
MOST_DETAILS: Final = 100_000  # characters of one fault; of a longer one the end is kept


def record(what: str, fault: BaseException | str) -> str:
    """Write a fault to the log; return the end of a sentence with the file's name. Never fails.

    what: the operation that failed, in a line. fault: the exception, or its details as text.
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
