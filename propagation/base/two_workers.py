"""Work shared by two threads, which is worth while where numpy releases the interpreter's lock."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from threading import Lock, Thread
from typing import TypeVar

Item = TypeVar("Item")


def by_two(work: Callable[[Item], object], items: Iterable[Item]) -> None:
    """Call `work` with every item, in this thread and in another.

    An exception ends the work once the items begun are done, and is raised here. (A pool of
    `concurrent.futures` takes 4 ms to import.)
    """
    waiting, taking = iter(items), Lock()
    faults: list[BaseException] = []

    def run() -> None:
        while not faults:
            with taking:
                try:
                    item = next(waiting)
                except StopIteration:
                    return
            try:
                work(item)
            except BaseException as fault:
                faults.append(fault)

    other = Thread(target=run)
    other.start()
    run()
    other.join()
    if faults:
        raise faults[0]
