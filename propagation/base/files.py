"""Reading and writing of files: ordinary files only, complete or not at all, one writer at a time.

Reading: pipes and devices are refused before a byte is read. A pipe can block a reader for ever, and a device
can deliver data without end. Every refusal is one sentence.

Writing: a new file gets a name of its own next to its target (`.NAME.bandwhen-PROCESS-*.new`), is flushed to
the disk, and replaces the target in one step; a crash at any moment leaves the old content or the new one.
The new file is locked while it is written, so that an old one without a lock is known to be left over from a
crash and can be swept.
Reading, changing and writing happen under a lock (`locked`), so that two programs never undo each other's
change. A file of another program is never replaced unasked. What is made is for its owner alone (files 0600,
folders 0700): stations tell where somebody is. No symbolic link of a file's name is followed.
"""

from __future__ import annotations

import contextlib
import errno
import os
import re
import stat
import time
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path
from typing import BinaryIO, Final

from propagation.base.errors import InputError


def open_binary(path: Path | str) -> BinaryIO:
    """Open a file for reading bytes. InputError if it is missing, unreadable or not an ordinary file."""
    shown = repr(str(path))
    try:
        _refuse_unless_ordinary(os.stat(path).st_mode, shown)
        # the file may be replaced between the check and the opening: never block, and check again
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
    """Return the bytes of a file of at most `most_bytes`; InputError otherwise.

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
    """Reason why a file could not be used, in a few words without the path."""
    if isinstance(error, OSError):
        return error.strerror or type(error).__name__
    return "its name holds a character that no file name can hold"


def is_file(path: Path | str) -> bool:
    """Return whether a file or folder of that name exists; False also for a name that no file can have.

    InputError where its folder may not be read.
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


try:
    from fcntl import LOCK_EX, LOCK_NB, flock

    HAS_LOCKS: bool = True
except ImportError:  # Windows: an open file cannot be removed there, which has the same effect
    HAS_LOCKS = False

NEW: Final = ".new"
LOCK: Final = ".lock"
LOOK_BYTES: Final = 4096  # bytes at the beginning of a file that are searched for this program's mark
LONGEST_WAIT_S: Final = 5.0  # s, for another program to finish its change (ours)
_STEP_S: Final = 0.02  # s, between two tries
_NOT_FOLLOWED: Final = getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_CLOEXEC", 0) | getattr(os, "O_BINARY", 0)
_MARK: Final = "bandwhen"  # in the name of every new file, with the number of the process that writes it
_LEFTOVER: Final = re.compile(rf"\..+\.{_MARK}-[0-9]+-[0-9a-f]{{10}}{re.escape(NEW)}", re.DOTALL)


class TakenError(InputError):
    """Error: a file that this program did not write has the name `path`."""

    def __init__(self, message: str, path: str) -> None:
        super().__init__(message)
        self.path = path


class LockedError(InputError):
    """Error: another program is changing the file and did not finish in time."""


def make_folder(folder: Path) -> None:
    """Make a folder, and those it lies in, where they are missing: for their owner alone. OSError."""
    missing = [place for place in (folder, *folder.parents) if not place.exists()]
    for place in reversed(missing):
        place.mkdir(mode=0o700, exist_ok=True)
    if not folder.is_dir():
        raise NotADirectoryError(errno.ENOTDIR, os.strerror(errno.ENOTDIR), str(folder))


def replace_file(path: Path | str, data: bytes, rights: int = 0o600) -> None:
    """Replace the file of that name, or create it, in one step. Missing folders are made; OSError.

    rights: access rights of a file that did not exist before; an existing file keeps its own. A symbolic link
    of that name is itself replaced, and its target is not changed.
    """
    _put(Path(path), data, os.replace, rights)


def create_file(path: Path | str, data: bytes) -> None:
    """Put a new file where none is. FileExistsError where there is one; other OSError as they come."""
    _put(Path(path), data, _move_if_free, 0o600)


def append(
    path: Path | str, data: bytes, begin: bytes = b"", mend: Callable[[bytes], bytes] = lambda half: b"\n"
) -> None:
    """Add a whole piece to the end of a file and flush it to the disk; `begin` comes first in a new one.

    One write under a lock of the file itself. mend: for a file that was cut off in the middle of a piece, and
    so has no line end: from its last line (the last `LOOK_BYTES` of it) to what comes before the new piece,
    so that this one is whole. A write that fails half way is taken back. Missing folders are made; OSError.
    """
    target = Path(path)
    make_folder(target.parent)
    handle = _open_locked(target, os.O_RDWR | os.O_APPEND | os.O_CREAT)
    try:
        size = os.fstat(handle).st_size
        if not size:
            data = begin + data
        elif not (tail := os.pread(handle, LOOK_BYTES, max(size - LOOK_BYTES, 0))).endswith(b"\n"):
            data = mend(tail.rpartition(b"\n")[2]) + data
        _write_or_take_back(handle, data, size)
    finally:
        os.close(handle)


def rewrite(path: Path | str, change: Callable[[bytes], bytes]) -> None:
    """Replace the content of a file in one step, while no other program can `append` to it.

    change: from the content to the new one; what it raises leaves the file as it is. OSError.
    """
    target = Path(path)
    handle = _open_locked(target, os.O_RDONLY)
    try:
        with os.fdopen(os.dup(handle), "rb") as file:
            data = change(file.read())
        if not HAS_LOCKS:
            os.close(handle)
            handle = -1  # an open file cannot be replaced there
        replace_file(target, data)
    finally:
        if handle >= 0:
            os.close(handle)


def _open_locked(target: Path, flags: int) -> int:
    """Open an ordinary file and lock it; opened again where it was replaced meanwhile. Without the lock after
    the longest wait.
    """
    flags |= getattr(os, "O_NONBLOCK", 0) | _NOT_FOLLOWED
    for tries_left in range(max(round(LONGEST_WAIT_S / _STEP_S), 1) - 1, -1, -1):
        handle = os.open(target, flags, 0o600)
        try:
            if not stat.S_ISREG(os.fstat(handle).st_mode):
                raise OSError(errno.EINVAL, "it is no ordinary file", str(target))
            if not tries_left or (_lock(handle) and (not HAS_LOCKS or _is_still(handle, target))):
                return handle
        except BaseException:
            os.close(handle)
            raise
        os.close(handle)
        time.sleep(_STEP_S)
    raise AssertionError("the last try returns")


def _write_or_take_back(handle: int, data: bytes, size: int) -> None:
    """Write all of the data at the end of a file of `size` bytes and flush it; else cut the file back."""
    written = 0
    try:
        while written < len(data):
            written += os.write(handle, data[written:])
        os.fsync(handle)
    except BaseException:
        with contextlib.suppress(OSError):
            if os.fstat(handle).st_size == size + written:  # nobody else has written behind it
                os.ftruncate(handle, size)
        raise


def export(
    path: Path | str,
    data: bytes,
    marks: Iterable[bytes] = (),
    *,
    force: bool = False,
    remedy: str = "",
    folders: bool = False,
) -> None:
    """Write a file that the operator named. TakenError, with the `remedy`, where another file has that name.

    marks: texts near the beginning that identify files of this program; such files are replaced. folders:
    make the folders that are missing.
    """
    target = Path(path)
    if not folders and not is_file(target.parent):
        raise InputError(f"{str(path)!r} cannot be written: there is no folder {str(target.parent)!r}.")
    try:
        try:
            create_file(target, data)
        except FileExistsError:
            if not (force or _has_mark(target, marks)):
                hint = f"; {remedy}" if remedy else ""
                sentence = f"There is a file {str(path)!r} already; it was not changed{hint}."
                raise TakenError(sentence, str(path)) from None
            if target.is_dir():
                raise InputError(f"{str(path)!r} is a folder; name a file inside it.") from None
            replace_file(target, data)
    except (OSError, ValueError) as error:
        raise InputError(f"{str(path)!r} cannot be written: {reason_of(error)}.") from None


@contextlib.contextmanager
def locked(path: Path | str, longest_wait_s: float = LONGEST_WAIT_S) -> Iterator[None]:
    """Lock of a file: no other program changes it inside the `with`. LockedError after the longest wait.

    The lock is a file `.NAME.lock` next to it that exists only while the lock is held. Where the file system
    has no locks, the work is done without one.
    """
    target = Path(path)
    place = target.with_name(f".{target.name}{LOCK}")
    handle: int | None = None
    try:
        make_folder(target.parent)
        for _ in range(max(round(longest_wait_s / _STEP_S), 1)):
            handle = _try_lock(place)
            if handle is not None:
                break
            time.sleep(_STEP_S)
        else:
            raise LockedError(f"{str(path)!r} is being changed by another program; try again in a moment.")
    except (OSError, ValueError) as error:
        raise InputError(f"{str(path)!r} cannot be written: {reason_of(error)}.") from None
    try:
        yield
    finally:
        if handle >= 0:
            with contextlib.suppress(OSError):
                os.unlink(place)
            os.close(handle)


def sweep(folder: Path | str, before_s: float) -> int:
    """Remove new files of this program that crashes left in a folder; how many they were. Never fails.

    before_s: only what was last changed before that time, in seconds of the Unix clock. Known by their names,
    which carry the program's mark and the writer's process number; a lock left over is not swept, for it is
    taken, and then removed, with the next change of its file.
    """
    removed = 0
    with contextlib.suppress(OSError, ValueError):
        for name in os.listdir(folder):
            if _LEFTOVER.fullmatch(name) and _removed_if_left(Path(folder) / name, before_s):
                removed += 1
    return removed


def _put(target: Path, data: bytes, move: Callable[[Path, Path], None], rights: int) -> None:
    make_folder(target.parent)
    for _ in range(3):
        handle, temporary = _begin(target, rights)
        try:
            with os.fdopen(handle, "wb") as file:
                file.write(data)
                file.flush()
                os.fsync(file.fileno())
                move(temporary, target)
            break
        except FileNotFoundError:  # swept by another program before it was locked
            if not target.parent.is_dir():
                raise
        finally:
            temporary.unlink(missing_ok=True)
    else:
        raise FileNotFoundError(2, "the new file was taken away three times", str(target))
    _to_disk(target.parent)


def _begin(target: Path, rights: int) -> tuple[int, Path]:
    """Create a locked, empty file next to the target, with the target's rights where it exists."""
    usual = rights
    with contextlib.suppress(OSError):
        found = os.lstat(target)
        if stat.S_ISREG(found.st_mode):
            rights = stat.S_IMODE(found.st_mode) & 0o777
    short = target.name[:50]  # a file name has 255 bytes at most, and a character four
    temporary = target.with_name(f".{short}.{_MARK}-{os.getpid()}-{os.urandom(5).hex()}{NEW}")
    handle = os.open(temporary, os.O_WRONLY | os.O_CREAT | os.O_EXCL | _NOT_FOLLOWED, rights)
    _lock(handle)
    if rights != usual and hasattr(os, "fchmod"):
        with contextlib.suppress(OSError):
            os.fchmod(handle, rights)
    return handle, temporary


def _move_if_free(temporary: Path, target: Path) -> None:
    """Rename the file unless the name is in use."""
    try:
        os.link(temporary, target, follow_symlinks=False)
    except FileExistsError:
        raise
    except (OSError, NotImplementedError):  # a disk without links, as many memory sticks are
        handle = os.open(target, os.O_WRONLY | os.O_CREAT | os.O_EXCL | _NOT_FOLLOWED, 0o600)
        os.close(handle)
        os.replace(temporary, target)


def _to_disk(folder: Path) -> None:
    """Flush the folder's own entry too, so that a power cut does not lose the new name."""
    if not HAS_LOCKS:
        return
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def _lock(handle: int) -> bool:
    """Lock an open file; False where another program holds the lock. True where there are no locks."""
    if not HAS_LOCKS:
        return True
    try:
        flock(handle, LOCK_EX | LOCK_NB)
    except BlockingIOError:
        return False
    except OSError:
        return True
    return True


def _try_lock(place: Path) -> int | None:
    """Open and lock the lock file; None where another program holds it."""
    if not HAS_LOCKS:
        try:
            return os.open(place, os.O_RDWR | os.O_CREAT | os.O_EXCL | _NOT_FOLLOWED, 0o600)
        except (FileExistsError, PermissionError):
            with contextlib.suppress(OSError):
                os.unlink(place)  # succeeds only where its owner has ended
            return None
    handle = os.open(place, os.O_RDWR | os.O_CREAT | _NOT_FOLLOWED, 0o600)
    if _lock(handle) and _is_still(handle, place):
        return handle
    os.close(handle)
    return None


def _is_still(handle: int, place: Path) -> bool:
    """Return whether the open file still has the name: it may have been removed meanwhile."""
    try:
        return os.path.samestat(os.fstat(handle), os.lstat(place))
    except OSError:
        return False


def _removed_if_left(place: Path, before_s: float) -> bool:
    """Remove a file that no program is writing, nor has written since a time."""
    try:
        found = os.lstat(place)
        if not stat.S_ISREG(found.st_mode) or found.st_mtime >= before_s:
            return False
        handle = os.open(place, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | _NOT_FOLLOWED)
        try:
            if not (_lock(handle) and _is_still(handle, place)):
                return False
            if HAS_LOCKS:
                os.unlink(place)
        finally:
            os.close(handle)
        if not HAS_LOCKS:
            os.unlink(place)
    except OSError:
        return False
    return True


def _has_mark(target: Path, marks: Iterable[bytes]) -> bool:
    """Return whether an ordinary file, not a link, begins like one of this program."""
    try:
        if not stat.S_ISREG(os.lstat(target).st_mode):
            return False
        handle = os.open(target, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | _NOT_FOLLOWED)
    except OSError:
        return False
    with os.fdopen(handle, "rb") as file:
        head = file.read(LOOK_BYTES)
    return any(mark in head for mark in marks)
