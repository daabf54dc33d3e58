"""The screens in a real pseudo-terminal: first paint from cold, and a cursor step, against bare Textual apps.

Run by hand: python tests/benchmarks/bench_screens.py
"""

from __future__ import annotations

import fcntl
import os
import pty
import select
import signal
import statistics
import struct
import sys
import tempfile
import termios
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
COLUMNS, ROWS = 132, 43
RUNS, STEPS = 5, 20
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

    def __init__(self, arguments: list[str], home: str) -> None:
        self.start = time.perf_counter()
        self.pid, self.end = pty.fork()
        if self.pid == 0:
            os.chdir(ROOT)
            environment = {
                **os.environ,
                "TERM": "xterm-256color",
                "COLORTERM": "truecolor",
                "BANDWHEN_HOME": home,
                "COLUMNS": str(COLUMNS),
                "LINES": str(ROWS),
            }
            os.execve(sys.executable, [sys.executable, *arguments], environment)
        fcntl.ioctl(self.end, termios.TIOCSWINSZ, struct.pack("HHHH", ROWS, COLUMNS, 0, 0))
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


def main() -> None:
    """Print the ratios."""
    with tempfile.TemporaryDirectory() as home:
        bare = first_paint(["-c", MINIMAL], b"bare app", home)
        ours = first_paint(["-m", "tui"], b"reach", home)
        print(
            f"first paint: bare {1e3 * bare:.0f} ms, ours {1e3 * ours:.0f} ms, {ours / bare:.2f} times "
            "(to be 2)"
        )
        answer = first_paint(["-m", "tui"], b"reach the sky", home)
        print(f"first answer from cold: {answer:.2f} s")
        bare = cursor_step(["-c", STEPPING], b"bare", home)
        ours = cursor_step(["-m", "tui"], b"reach the sky", home)
        print(
            f"cursor step: bare {1e3 * bare:.1f} ms, ours {1e3 * ours:.1f} ms, {ours / bare:.2f} times "
            "(to be 3)"
        )


if __name__ == "__main__":
    main()
