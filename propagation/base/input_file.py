"""Opening a file that somebody names: an ordinary file or a refusal at once, never a wait.

A pipe can make a reader wait for ever, and a device can give without end, so both are refused before a byte
is read. Every refusal is one sentence.
"""

from __future__ import annotations

import os
import stat
from pathlib import Path
from typing import BinaryIO

from propagation.base.errors import InputError


def open_binary(path: Path | str) -> BinaryIO:
    """The file opened for reading bytes. InputError for what is missing, unreadable or no ordinary file."""
    shown = repr(str(path))
    try:
        _refuse_unless_ordinary(os.stat(path).st_mode, shown)
        # between the look and the opening the file may have been replaced: never wait, and look again
        flags = os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)
        file = os.fdopen(os.open(path, flags | getattr(os, "O_CLOEXEC", 0)), "rb")
    except FileNotFoundError:
        raise InputError(f"There is no file {shown}.") from None
    except (OSError, ValueError) as error:  # ValueError: a NUL character in the name
        raise InputError(f"{shown} cannot be read: {reason_of(error)}.") from None
    try:
        _refuse_unless_ordinary(os.fstat(file.fileno()).st_mode, shown)
    except BaseException:
        file.close()
        raise
    return file


def read_whole(path: Path | str, most_bytes: int, too_large: str) -> bytes:
    """The bytes of a file of at most `most_bytes`; InputError otherwise.

    too_large: the end of the sentence "FILE is larger than N kB; ...".
    """
    with open_binary(path) as file:
        try:
            data = file.read(most_bytes + 1)
        except OSError as error:
            raise InputError(f"{str(path)!r} cannot be read: {reason_of(error)}.") from None
    if len(data) > most_bytes:
        size = f"{most_bytes // 1000} kB" if most_bytes < 10_000_000 else f"{most_bytes // 1_000_000} MB"
        raise InputError(f"{str(path)!r} is larger than {size}; {too_large}.")
    return data


def reason_of(error: OSError | ValueError) -> str:
    """Why a file could not be used, in a few words without the path."""
    if isinstance(error, OSError):
        return error.strerror or type(error).__name__
    return "its name holds a character that no file name can hold"


def is_file(path: Path | str) -> bool:
    """Whether there is something under that name; False also for a name that no file can have.

    InputError where the folder it would be in may not be looked into.
    """
    try:
        os.stat(path)
    except (FileNotFoundError, NotADirectoryError, ValueError):
        return False
    except OSError as error:
        raise InputError(f"{str(path)!r} cannot be read: {reason_of(error)}.") from None
    return True


def _refuse_unless_ordinary(mode: int, shown: str) -> None:
    if stat.S_ISDIR(mode):
        raise InputError(f"{shown} is a folder; give the file inside it.")
    if not stat.S_ISREG(mode):
        raise InputError(f"{shown} is a pipe or a device, not a file; save its content in a file first.")
