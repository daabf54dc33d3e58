"""The end of the screens by a signal or with the terminal: within a second, the terminal restored.

Python runs signal handlers in the main thread only, and that thread can be busy, or blocked by a terminal
that takes no more output. A thread of its own therefore waits for the numbers of signals
(`signal.set_wakeup_fd`) and for the hang-up of the terminal, which Textual's input thread would read without
end. It asks the app to exit. If the end takes longer than `PATIENCE_S`, the thread restores the terminal and
ends the process. Contacts, marks and plans are already on disk then: they are written with the key that
makes them.
"""

from __future__ import annotations

import contextlib
import os
import select
import signal
import sys
import threading
import time
from collections.abc import Callable, Iterator
from typing import Any, Final

PATIENCE_S: Final = 0.6  # s, for the app to exit by itself (ours); the whole end takes less than a second
_WRITE_S: Final = 0.1  # s, for a terminal to take the sequences that restore it (ours)
_NAMES: Final = ("SIGHUP", "SIGINT", "SIGQUIT", "SIGTERM")
ENDING: Final = tuple(int(getattr(signal, name)) for name in _NAMES if hasattr(signal, name))
HANG_UP: Final = 1  # number of SIGHUP, also for a terminal that went away without one
# from memory (xterm's control sequences): no bracketed paste, no mouse, no focus events, no resize reports,
# lines wrap, plain colours, keys as usual, the main screen, a visible cursor
RESTORED: Final = (
    "\x1b[?2004l\x1b[?1000l\x1b[?1003l\x1b[?1015l\x1b[?1006l\x1b[?1016l\x1b[?1004l\x1b[?2048l\x1b[?7h\x1b[0m"
    "\x1b[<u\x1b[?1049l\x1b[?25h"
)


class Watch:
    """What the watching thread shares with the program: the signal that came, and whether the end is done."""

    def __init__(self, leave: Callable[[], object]) -> None:
        self.leave = leave
        self.signal = 0  # the number of the signal that ended the screens, 0 if none did
        self.over = threading.Event()


@contextlib.contextmanager
def watched(leave: Callable[[], object]) -> Iterator[Watch]:
    """Watch for signals and for the hang-up of the terminal inside the `with` block.

    leave: asks the app to exit; called from another thread. Where the system has no `poll` (Windows), nothing
    is watched.
    """
    watch = Watch(leave)
    if not hasattr(select, "poll"):
        yield watch
        return
    reading, writing = os.pipe()
    os.set_blocking(writing, False)
    before = {number: signal.signal(number, lambda *_: None) for number in ENDING}
    wakeup = signal.set_wakeup_fd(writing, warn_on_full_buffer=False)
    arguments = (watch, reading, _attributes())
    thread = threading.Thread(target=_wait, args=arguments, daemon=True, name="bandwhen-end")
    thread.start()
    try:
        yield watch
    finally:
        watch.over.set()
        if not watch.signal:  # else the thread sees to it that the process ends
            signal.set_wakeup_fd(wakeup)
            os.close(writing)  # ends the thread
            thread.join()
            os.close(reading)
            for number, handler in before.items():
                signal.signal(number, handler)


def _wait(watch: Watch, reading: int, attributes: list[Any] | None) -> None:
    """Wait for a signal that ends, or for a hang-up; then see to it that the program ends."""
    poll = select.poll()
    poll.register(reading, select.POLLIN)
    poll.register(0, 0)  # a hang-up is reported whatever is asked for, also one that came before
    while True:
        for place, event in poll.poll():
            if place == reading:
                numbers = os.read(reading, 512)
                if not numbers:
                    return
                watch.signal = next((number for number in numbers if number in ENDING), 0)
            elif event & select.POLLHUP:
                watch.signal = HANG_UP
            else:  # terminals cannot be polled here
                poll.unregister(place)
        if watch.signal:
            break
    end = time.monotonic() + PATIENCE_S
    with contextlib.suppress(Exception):  # the app's loop has already been closed
        watch.leave()
    if not watch.over.wait(PATIENCE_S):
        _restore(attributes)
    time.sleep(max(end - time.monotonic(), 0.0))  # the process ends by itself meanwhile
    os._exit(128 + watch.signal)


def _attributes() -> list[Any] | None:
    """Attributes of the terminal on standard input; None if it is no terminal."""
    try:
        import termios

        return termios.tcgetattr(0)
    except (ImportError, OSError, termios.error):
        return None


def _restore(attributes: list[Any] | None) -> None:
    """Restore the terminal without the app, and without waiting for a terminal that takes nothing."""
    if attributes is None:
        return
    import termios

    signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGTTOU})  # also from the background
    output = sys.__stderr__.fileno() if sys.__stderr__ is not None else 2
    write = threading.Thread(target=_write, args=(output,), daemon=True)
    write.start()
    write.join(_WRITE_S)
    with contextlib.suppress(OSError, termios.error):
        termios.tcsetattr(0, termios.TCSANOW, attributes)


def _write(output: int) -> None:
    with contextlib.suppress(OSError):
        os.write(output, RESTORED.encode())
