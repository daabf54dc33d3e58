"""Work shared by two threads: every item once, and no fault lost."""

from __future__ import annotations

from threading import Barrier, get_ident

import pytest

from propagation.base.two_workers import by_two


def test_every_item_is_worked_on_once_by_two_threads() -> None:
    met = Barrier(2, timeout=10.0)
    seen: list[tuple[int, int]] = []

    def work(item: int) -> None:
        if item < 2:
            met.wait()  # passes only where the first two items are worked on at once
        seen.append((item, get_ident()))

    by_two(work, range(20))
    assert sorted(item for item, _ in seen) == list(range(20))
    assert len({thread for _, thread in seen}) == 2


def test_a_fault_ends_the_work_and_is_raised() -> None:
    done: list[int] = []

    def work(item: int) -> None:
        if item == 3:
            raise ValueError(item)
        done.append(item)

    with pytest.raises(ValueError, match="3"):
        by_two(work, range(1000))
    assert len(done) < 1000


def test_nothing_to_do() -> None:
    by_two(lambda item: pytest.fail(str(item)), ())
