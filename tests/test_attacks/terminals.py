"""The program in a terminal of its own (a pty of Unix): keys in, bytes out, signals, sizes and a hang-up."""

from __future__ import annotations

import contextlib
import os
import select
import signal
import struct
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final

from hostile import ROOT

# the program as the leader of a session: with its standard input as the controlling terminal, or without one
START: Final = (
    "import fcntl, os, signal, sys, termios\n"
    "for number in (1, 2, 3, 15): signal.signal(number, signal.SIG_DFL)\n"  # a shell may ignore some
    "if sys.argv[1] == 'own': fcntl.ioctl(0, termios.TIOCSCTTY, 0)\n"
    "os.execv(sys.executable, [sys.executable, '-m', 'tui', *sys.argv[2:]])"
)
ENTERED: Final = b"\x1b[?1049h"
LEFT: Final = (b"\x1b[?1049l", b"\x1b[?1000l", b"\x1b[?1003l", b"\x1b[?2004l", b"\x1b[?25h")
READY: Final = b"Flux"  # in the line of conditions of the first page, once the day has been computed


class Terminal:
    """A terminal with the program in it. What the program writes is taken by a thread, unless `deaf`."""

    def __init__(
        self, *arguments: str, home: Path, size: tuple[int, int] = (80, 24), controlling: bool = True
    ) -> None:
        import termios

        self.home = home
        self.master, self.slave = os.openpty()
        self.written = bytearray()
        self.deaf = threading.Event()
        self.resize(*size, tell=False)
        self.before: list[Any] = termios.tcgetattr(self.slave)
        environment = {
            **os.environ, "BANDWHEN_HOME": str(home), "HOME": str(home), "TERM": "xterm-256color",
            "PYTHONPATH": str(ROOT), "BANDWHEN_NOW": os.environ.get("BANDWHEN_NOW", "2026-03-20T12:00Z"),
        }  # fmt: skip
        how = "own" if controlling else "none"
        self.program = subprocess.Popen(
            [sys.executable, "-c", START, how, *arguments],
            stdin=self.slave, stdout=self.slave, stderr=self.slave, start_new_session=True, cwd=home,
            env=environment,
        )  # fmt: skip
        self._reader = threading.Thread(target=self._read, daemon=True)
        self._reader.start()

    def _read(self) -> None:
        with contextlib.suppress(OSError, ValueError):
            while self.master >= 0:
                if self.deaf.is_set():
                    time.sleep(0.02)
                elif select.select([self.master], [], [], 0.05)[0]:
                    self.written += os.read(self.master, 65536)

    def wait_for(self, what: bytes, longest_s: float = 30.0, start: int = 0) -> None:
        """Wait until the program has written something; AssertionError if it does not."""
        end = time.monotonic() + longest_s
        while what not in self.written[start:]:
            assert self.program.poll() is None, bytes(self.written[-3000:]).decode("utf-8", "replace")
            assert time.monotonic() < end, f"{what!r} in {bytes(self.written[-3000:])!r}"
            time.sleep(0.01)

    def rest(self, quiet_s: float = 0.5, longest_s: float = 30.0) -> None:
        """Wait until nothing more is written."""
        end, size, since = time.monotonic() + longest_s, -1, time.monotonic()
        while time.monotonic() < end and self.program.poll() is None:
            if len(self.written) != size:
                size, since = len(self.written), time.monotonic()
            elif time.monotonic() - since > quiet_s:
                return
            time.sleep(0.01)

    def type(self, keys: str | bytes) -> None:
        """Send keys, in one piece."""
        with contextlib.suppress(OSError):
            os.write(self.master, keys.encode() if isinstance(keys, str) else keys)

    def resize(self, columns: int, rows: int, tell: bool = True) -> None:
        """Change the size of the terminal."""
        import fcntl
        import termios

        self.columns = columns
        fcntl.ioctl(self.slave, termios.TIOCSWINSZ, struct.pack("HHHH", rows, columns, 0, 0))
        if tell:
            with contextlib.suppress(ProcessLookupError):
                self.program.send_signal(signal.SIGWINCH)

    def hang_up(self) -> None:
        """Close the terminal, as its window is closed or its line is cut."""
        if self.master >= 0:
            master, self.master = self.master, -1
            self._reader.join()  # a file that is being read is not closed
            os.close(master)

    def ended(self, longest_s: float = 30.0) -> tuple[int, float]:
        """The exit code (minus the signal that killed it), and the seconds until it came."""
        start = time.monotonic()
        code = self.program.wait(longest_s)
        took = time.monotonic() - start
        time.sleep(0.05)  # what it wrote last is read
        return code, took

    def is_as_before(self) -> bool:
        """Return whether the terminal is as it was: its attributes, the main screen, no mouse, a cursor."""
        import termios

        after = self.written[self.written.rfind(ENTERED) :]
        return termios.tcgetattr(self.slave) == self.before and all(sign in after for sign in LEFT)

    def close(self) -> None:
        """End the program if it still runs, and close the terminal."""
        if self.program.poll() is None:
            self.program.kill()
        self.program.wait()
        self.hang_up()
        os.close(self.slave)


@contextlib.contextmanager
def terminal(*arguments: str, ready: bool = True, **options: Any) -> Iterator[Terminal]:
    """The program in a terminal; the screens with their first page drawn, unless `ready` is false."""
    made = Terminal(*arguments, **options)
    try:
        if not arguments:
            made.wait_for(ENTERED)
        if ready and not arguments:
            made.wait_for(READY)
            made.rest()
        yield made
    finally:
        made.close()
