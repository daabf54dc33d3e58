"""Daemon threads for slow work: awaited without blocking the keys, abandoned on exit unless they save."""

from __future__ import annotations

import asyncio
import threading
import time
from collections.abc import Callable
from contextlib import suppress
from typing import TypeVar

Result = TypeVar("Result")
THREAD = "bandwhen-work"
SAVING = "bandwhen-work, saving"
SAVING_S = 0.5  # s, for which the exit waits for what is being saved; files take some milliseconds (ours)


async def in_thread(function: Callable[[], Result], *, saves: bool = False) -> Result:
    """Run a function in a daemon thread and wait for its result without blocking the loop.

    saves: the function changes something on file; `finish_saving` waits for it.
    """
    loop = asyncio.get_running_loop()
    future: asyncio.Future[Result] = loop.create_future()

    def settle(result: Result | None, error: BaseException | None) -> None:
        if future.done():
            return
        if error is not None:
            future.set_exception(error)
        else:
            future.set_result(result)  # type: ignore[arg-type]

    def body() -> None:
        result: Result | None = None
        error: BaseException | None = None
        try:
            result = function()
        except BaseException as caught:
            error = caught
        with suppress(RuntimeError):  # the loop is closed: the program has ended
            loop.call_soon_threadsafe(settle, result, error)

    threading.Thread(target=body, daemon=True, name=SAVING if saves else THREAD).start()
    return await future


def under_way() -> bool:
    """Return whether any work is still running, even if its result is no longer needed."""
    return any(thread.name.startswith(THREAD) for thread in threading.enumerate())


def finish_saving(longest_s: float = SAVING_S) -> None:
    """Wait for work that changes something on file, but not for ever: a download is work of that kind too."""
    end = time.monotonic() + longest_s
    for thread in threading.enumerate():
        if thread.name == SAVING:
            thread.join(max(end - time.monotonic(), 0.0))
