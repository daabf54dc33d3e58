"""Background work that never holds up the keys, nor the way out.

Each piece of work runs in a daemon thread of its own: when the program is left, a thread in the middle of a
long computation or waiting for the network is abandoned rather than waited for. Threads that the work itself
has started would be waited for by the interpreter, so `tui.__main__` ends the process where work is under
way.
"""

from __future__ import annotations

import asyncio
import threading
import traceback
from collections.abc import Callable
from contextlib import suppress
from typing import TypeVar

from propagation.base.errors import BandwhenError
from tui import paths
from tui.messages import Failure

Result = TypeVar("Result")
Cancelled = Callable[[], bool]
THREAD = "bandwhen-work"


class Abandoned(Exception):  # noqa: N818 - it is a wish, not an error
    """Raised inside a piece of work that finds its result is no longer wanted."""


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
        with suppress(RuntimeError):  # the loop is closed: the program has been left
            loop.call_soon_threadsafe(settle, result, error)

    threading.Thread(target=body, daemon=True, name=THREAD).start()
    return await future


def under_way() -> bool:
    """Whether any piece of work is still running, wanted or not."""
    return any(thread.name == THREAD for thread in threading.enumerate())


def failure_of(error: BaseException, what: str) -> Failure:
    """One sentence for an error; the details of an unexpected one go to the record of faults."""
    if isinstance(error, BandwhenError):
        return Failure(error.message, error.title)
    details = "".join(traceback.format_exception(error))
    file = paths.fault_file()
    where = f"the details are in {file}"
    try:
        file.parent.mkdir(parents=True, exist_ok=True)
        with open(file, "a", encoding="utf-8") as record:
            record.write(f"screens: {what}\n{details}\n")
    except OSError:
        where = f"the details could not be written to {file}"
    return Failure(f"The {what} could not be worked out ({type(error).__name__}); {where}.")
