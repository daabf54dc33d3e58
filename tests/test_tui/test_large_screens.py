"""Large screens are used: every page fills them, on made-up results and on the demo."""

from __future__ import annotations

import asyncio
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pytest
from fake_engine import FakeEngine
from screen_text import go, make_app, rows_of, settle
from textual.screen import Screen

from tui.app.app import BandwhenApp
from tui.app.feature_list import PAGES
from tui.app.queries import Engine
from tui.app.settings import Settings
from tui.kit.canvas import Drawn
from tui.kit.theme import BASE

Mask = npt.NDArray[np.bool_]
SIZES = ((132, 43), (160, 48), (220, 60))
NEAR_COLUMNS, NEAR_ROWS = 4, 1  # a cell this near to a sign belongs to what is drawn there
MOST_EMPTY = 1 / 3  # share of a screen's cells
LARGEST_HOLE = 1 / 6  # share of a screen's cells in one empty rectangle (ours)


def drawn_cells(screen: Screen[object]) -> Mask:
    """Cells (rows, columns) that carry a sign, or a ground that is not the bare one."""
    width, height = screen.size
    full = np.zeros((height, width), dtype=np.bool_)
    for widget in screen.query(Drawn):
        canvas, region = widget._canvas, widget.region
        if (
            canvas is None
            or not region.area
            or not all(parent.display for parent in widget.ancestors_with_self)
        ):
            continue
        used = (canvas.signs != " ") | (canvas.grounds != BASE)
        part = full[region.y : region.bottom, region.x : region.right]
        part |= used[: part.shape[0], : part.shape[1]]
    return full


def near(full: Mask) -> Mask:
    """The cells with their neighbourhood."""
    out = full.copy()
    for axis, steps in ((0, NEAR_ROWS), (1, NEAR_COLUMNS)):
        grown = out.copy()
        for step in range(1, steps + 1):
            ahead, behind = np.roll(out, step, axis), np.roll(out, -step, axis)
            if axis == 0:
                ahead[:step], behind[-step:] = False, False
            else:
                ahead[:, :step], behind[:, -step:] = False, False
            grown |= ahead | behind
        out = grown
    return out


def largest_rectangle(empty: Mask) -> int:
    """Cells of the largest rectangle without anything in it."""
    best = 0
    height = np.zeros(empty.shape[1], dtype=np.int64)
    for row in empty:
        height = np.where(row, height + 1, 0)
        for left in np.flatnonzero(height):
            lowest = np.minimum.accumulate(height[left:])
            best = max(best, int((lowest * np.arange(1, lowest.size + 1)).max()))
    return best


def measure(app: BandwhenApp) -> tuple[float, float]:
    """(share of empty cells, share of the largest empty rectangle) of the screen."""
    empty = ~near(drawn_cells(app.screen))
    return float(empty.mean()), largest_rectangle(empty) / empty.size


def measured(app: BandwhenApp) -> dict[tuple[str, tuple[int, int]], tuple[float, float]]:
    """Every page at every size."""
    found = {}

    async def body() -> None:
        async with app.run_test(size=SIZES[0]) as pilot:
            await settle(app, pilot)
            for entry in PAGES:
                await go(app, pilot, entry.place)
                for size in SIZES:
                    await pilot.resize_terminal(*size)
                    await settle(app, pilot)
                    found[entry.place, size] = measure(app)
                    assert all(len(row) <= size[0] for row in rows_of(app))
                await pilot.resize_terminal(*SIZES[0])

    asyncio.run(body())
    return found


def told(found: dict[tuple[str, tuple[int, int]], tuple[float, float]]) -> list[str]:
    """The pages that are not filled, with their figures."""
    return [
        f"{place} at {size}: {share:.0%} empty, {hole:.0%} in one rectangle"
        for (place, size), (share, hole) in found.items()
        if share >= MOST_EMPTY or hole > LARGEST_HOLE
    ]


def test_an_empty_corner_is_seen() -> None:
    full = np.ones((20, 60), dtype=np.bool_)
    full[:10, :30] = False
    empty = ~near(full)
    assert empty.mean() == pytest.approx(9 * 26 / 1200)
    assert largest_rectangle(empty) == 9 * 26


@pytest.mark.slow
def test_pages_fill_a_large_screen_with_made_up_results() -> None:
    found = measured(make_app(FakeEngine()))
    assert len(found) == len(PAGES) * len(SIZES)
    assert told(found) == []


@pytest.mark.slow
def test_pages_fill_a_large_screen_with_the_demo(tmp_path: Path) -> None:
    now = np.datetime64("2026-03-20T12:20:00", "s")
    app = BandwhenApp(
        lambda: Engine(now=lambda: now),
        chosen=Settings(),
        now=lambda: now,
        settings_file=tmp_path / "settings.toml",
    )
    assert told(measured(app)) == []
