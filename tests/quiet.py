"""Waiting for a screen: until its event loop has nothing to do, instead of a fixed time again and again.

Textual's own pilot sleeps 20 ms, and again as long as the process computes, before and after every key; a
test of screens slept most of its time. `quiet`, by which the pilot waits once this is imported, waits for
more in less time: all that is ready has run, timers that fire at once have fired (a change of size is taken
8 ms late), and the screen has been laid out and painted, which Textual does 60 times a second. Work in
threads is not waited for: `settled` does that.
"""

from __future__ import annotations

import asyncio
import time
from typing import TYPE_CHECKING, Any, Final

import textual.app
import textual.pilot
from textual._context import active_app
from textual.pilot import Pilot

if TYPE_CHECKING:
    from tui.app.app import BandwhenApp

SOON_S: Final = 1.0 / 100.0  # s, within which a timer is waited for
LONGEST_S: Final = 1.0  # s, after which a loop that never rests is left, as Textual does
PASSES: Final = 3  # in which nothing was ready
POLL_S: Final = 0.002  # s, between looks at the work in threads
PATIENCE_S: Final = 120.0  # s, after which work that never ends fails the test


async def quiet(min_sleep: float = 0.0, max_sleep: float = LONGEST_S) -> None:
    """Wait until nothing is ready to run, no timer is about to fire, and the screen shows the latest."""
    loop: Any = asyncio.get_running_loop()
    end = loop.time() + max_sleep
    passes = 0
    while passes < PASSES and loop.time() < end:
        await asyncio.sleep(0)
        passes = 0 if loop._ready else passes + 1
        if passes == PASSES:
            due = min((timer.when() for timer in loop._scheduled if not timer.cancelled()), default=end)
            if due <= loop.time() + SOON_S or _held():
                await asyncio.sleep(min(max(due - loop.time(), 0.0), SOON_S))
                passes = 0
            elif _painted():
                passes = 0


def _held() -> bool:
    """Whether the screen is held back for a moment, as while another page comes on."""
    app = active_app.get(None)
    return app is not None and app.is_running and app._batch_count > 0


def _painted() -> bool:
    """Whether the screen had something to lay out or to paint; now it has been done."""
    app = active_app.get(None)
    if app is None or not app.is_running or not app.screen_stack:
        return False
    screen = app.screen
    waiting = (
        screen._layout_required or screen._repaint_required or screen._dirty_widgets or screen._callbacks
    )
    if not waiting or not screen.is_current:
        return False
    screen._on_timer_update()
    return True


async def settled(app: BandwhenApp, pilot: Pilot[None]) -> None:
    """Wait until no work is under way and every message has been taken."""
    end = time.monotonic() + PATIENCE_S
    while True:
        await pilot.pause()
        if not app.jobs.busy and all(worker.is_finished for worker in app.workers):
            break
        assert time.monotonic() < end, f"still at work: {app.jobs.busy}"
        await asyncio.sleep(POLL_S)
    await pilot.pause()


for module in (textual.app, textual.pilot):
    assert hasattr(module, "wait_for_idle"), "Textual waits by another name"
    vars(module)["wait_for_idle"] = quiet
