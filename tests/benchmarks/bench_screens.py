"""The screens in a real pseudo-terminal: first paint from cold, and a cursor step, against bare Textual apps;
and what is waited for, in seconds and as ratios to the bare first paint. The first start ever compiles byte
code, which takes three times as long as all the rest of it.

Run by hand: python tests/benchmarks/bench_screens.py
"""

from __future__ import annotations

import fcntl
import os
import pty
import re
import select
import shutil
import signal
import statistics
import struct
import sys
import tempfile
import termios
import time
from contextlib import suppress
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
COLUMNS, ROWS = 132, 43
SMALL = (80, 24)
RUNS, STEPS = 5, 20
BYTE_CODE = tempfile.mkdtemp()  # a cache of its own: a user's first start compiles, later ones do not
SIGNS = re.compile(rb"\x1b\[[0-9;?]*[a-zA-Z]")  # of the terminal, between the letters
KEYS = re.compile(rb"\x1b\[[A-D]|.", re.DOTALL)  # as a terminal sends them
DOWN = b"\x1b[B"
LONGEST_S = 60.0  # s, after which something is wrong, as a cursor that blinks in an open sheet
QUIET_S = 0.03  # s without output: the redraw is done
MINIMAL = """
from textual.app import App
from textual.widgets import Static
class Bare(App):
    def compose(self):
        yield Static("bare app", markup=False)
Bare().run()
"""
STEPPING = """
from textual.app import App
from textual.binding import Binding
from textual.widgets import Static
class Bare(App):
    BINDINGS = [Binding("right", "step", "step"), Binding("q", "quit", "quit")]
    count = 0
    def compose(self):
        yield Static(self.text(), markup=False, id="all")
    def text(self):
        return "\\n".join(f"{self.count:4d} bare " + "#" * 120 for _ in range(42))
    def action_step(self):
        self.count += 1
        self.query_one("#all").update(self.text())
Bare().run()
"""


class Terminal:
    """A program in a pseudo-terminal."""

    def __init__(self, arguments: list[str], home: str, size: tuple[int, int] = (COLUMNS, ROWS)) -> None:
        columns, rows = size
        self.start = time.perf_counter()
        self.pid, self.end = pty.fork()
        if self.pid == 0:
            os.chdir(ROOT)
            environment = {
                **{name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"},
                "PYTHONPYCACHEPREFIX": BYTE_CODE,
                "TERM": "xterm-256color",
                "COLORTERM": "truecolor",
                "BANDWHEN_HOME": home,
                "COLUMNS": str(columns),
                "LINES": str(rows),
            }
            os.execve(sys.executable, [sys.executable, *arguments], environment)
        fcntl.ioctl(self.end, termios.TIOCSWINSZ, struct.pack("HHHH", rows, columns, 0, 0))
        self.seen = b""

    def read(self, wait_s: float) -> bytes:
        """What comes within a time; empty when nothing does."""
        ready, _, _ = select.select([self.end], [], [], wait_s)
        piece = os.read(self.end, 1 << 16) if ready else b""
        self.seen += piece
        return piece

    def until(self, wanted: bytes, limit_s: float = 60.0) -> float:
        """Seconds from the start until the output holds something."""
        while wanted not in self.seen:
            if time.perf_counter() - self.start > limit_s:
                raise TimeoutError(wanted)
            self.read(0.01)
        return time.perf_counter() - self.start

    def after(self, key: bytes, wanted: bytes, limit_s: float = 60.0) -> float:
        """Seconds from a key until what is drawn from then on holds a text."""
        self.seen, start = b"", time.perf_counter()
        os.write(self.end, key)
        while wanted not in SIGNS.sub(b"", self.seen):
            if time.perf_counter() - start > limit_s:
                raise TimeoutError(wanted)
            self.read(0.01)
        return time.perf_counter() - start

    def last_after(self, key: bytes, quiet_s: float = 2.0) -> float:
        """Seconds from a key to the last that is drawn before so much quiet."""
        os.write(self.end, key)
        start = last = time.perf_counter()
        while time.perf_counter() - last < quiet_s:
            if self.read(0.05):
                last = time.perf_counter()
            if last - start > LONGEST_S:
                raise TimeoutError(f"still drawing after {key!r}")
        return last - start

    def typed(self, keys: bytes) -> None:
        """Type keys one by one, and let what they open be drawn."""
        for key in KEYS.findall(keys):
            os.write(self.end, key)
            self.read(0.1)
        for _ in range(5):  # a blinking cursor never rests
            self.read(0.1)

    def at_rest(self, quiet_s: float = 1.0) -> float:
        """Seconds from the start to the last that is drawn before so much quiet."""
        last = time.perf_counter()
        while time.perf_counter() - last < quiet_s:
            if self.read(0.05):
                last = time.perf_counter()
        return last - self.start

    def settle(self, quiet_s: float = 0.5) -> None:
        """Read until nothing comes for a while."""
        while self.read(quiet_s):
            pass

    def step(self, key: bytes) -> float:
        """Seconds from a key to the last byte of the redraw."""
        os.write(self.end, key)
        start = last = time.perf_counter()
        while time.perf_counter() - start < 2.0:
            if self.read(0.3 if last == start else QUIET_S):
                last = time.perf_counter()
            elif last > start:
                break
        return last - start

    def leave(self) -> None:
        """Leave by its key, so that it keeps what it keeps; end it where it does not go."""
        os.write(self.end, b"q")
        for _ in range(100):
            with suppress(OSError):
                self.read(0.05)
            if os.waitpid(self.pid, os.WNOHANG)[0]:
                os.close(self.end)
                return
        self.close()

    def close(self) -> None:
        """End it."""
        os.kill(self.pid, signal.SIGKILL)
        os.waitpid(self.pid, 0)
        os.close(self.end)


def first_paint(arguments: list[str], wanted: bytes, home: str) -> float:
    """Median seconds from cold to the first picture."""
    times = []
    for _ in range(RUNS):
        terminal = Terminal(arguments, home)
        times.append(terminal.until(wanted))
        terminal.close()
    return statistics.median(times)


def cursor_step(arguments: list[str], ready: bytes, home: str) -> float:
    """Median seconds from a cursor key to the last byte of its redraw."""
    terminal = Terminal(arguments, home)
    terminal.until(ready)
    terminal.settle()
    times = [terminal.step(b"\x1b[C") for _ in range(STEPS)]
    terminal.close()
    return statistics.median(times)


def waits(bare_s: float) -> None:
    """What is waited for: with byte code to be compiled and antennas to be solved, then with what is kept."""
    with tempfile.TemporaryDirectory() as home:
        for run in ("first start", "antennas to be solved", "antennas kept"):
            if run == "antennas to be solved":
                shutil.rmtree(home)
            small = Terminal(["-m", "tui"], home, SMALL)
            told = [("first answer", 0.9, small.until(b"reach the sky"))]
            told.append(("the first page at rest", 0.9, small.at_rest()))
            told.append(("the next day", 0.5, small.last_after(b"]")))
            told.append(("the first page of a plan", 1.0, small.last_after(b"6")))
            told.append(("the appointments", 1.0, small.last_after(b"7")))
            small.typed(b"tdurban friend")
            told.append(("another friend there", 1.0, small.last_after(b"\r")))
            told.append(("the skip distances", 1.0, small.last_after(b"3")))
            small.last_after(b"4")
            small.typed(b"m" + DOWN)
            told.append(("another mode on the antenna's page", 1.0, small.last_after(b"\r")))
            small.last_after(b"1")
            small.typed(b"teurope")
            small.last_after(b"\r")
            told.append(("the year to Europe, whole", 3.0, small.last_after(b"j")))
            small.leave()
            large = Terminal(["-m", "tui"], home)
            large.until(b"reach the sky")
            large.settle(1.0)
            told.append(("what would help the antenna", 1.5, large.after(b"4", b" dB  ")))
            large.settle(2.0)
            large.leave()
            for what, wanted_s, seconds in told:
                print(
                    f"{what + ', ' + run:<52}{seconds:6.2f} s (to be {wanted_s:.1f} s), "
                    f"{seconds / bare_s:5.1f} times the bare app's first paint"
                )


def main() -> None:
    """Print the ratios."""
    try:
        _report()
    finally:
        shutil.rmtree(BYTE_CODE, ignore_errors=True)


def _report() -> None:
    with tempfile.TemporaryDirectory() as home:
        bare = first_paint(["-c", MINIMAL], b"bare app", home)
        waits(bare)
        ours = first_paint(["-m", "tui"], b"reach", home)
        print(
            f"first paint: bare {1e3 * bare:.0f} ms, ours {1e3 * ours:.0f} ms, {ours / bare:.2f} times "
            "(to be 2)"
        )
        bare = cursor_step(["-c", STEPPING], b"bare", home)
        ours = cursor_step(["-m", "tui"], b"reach the sky", home)
        print(
            f"cursor step: bare {1e3 * bare:.1f} ms, ours {1e3 * ours:.1f} ms, {ours / bare:.2f} times "
            "(to be 3)"
        )


if __name__ == "__main__":
    main()
