"""Daemon threads for slow work: awaited without blocking the keys, abandoned on exit."""

from __future__ import annotations

import asyncio
import threading
from collections.abc import Callable
from contextlib import suppress
from typing import TypeVar

Result = TypeVar("Result")
THREAD = "bandwhen-work"


async def in_thread(function: Callable[[], Result]) -> Result:
    """Run a function in a daemon thread and wait for its result without blocking the loop."""
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

    threading.Thread(target=body, daemon=True, name=THREAD).start()
    return await future


def under_way() -> bool:
    """Return whether any work is still running, even if its result is no longer needed."""
    return any(thread.name == THREAD for thread in threading.enumerate())
