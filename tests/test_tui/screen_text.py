"""The screen as text: the compositor's strips, row by row; and a running app for a test."""

from __future__ import annotations

import asyncio
import os
from collections.abc import Awaitable, Callable
from pathlib import Path
from typing import Any

import numpy as np
import synthetic
from fake_engine import FakeEngine
from quiet import settled as settle
from textual.pilot import Pilot

from tui.app.app import BandwhenApp
from tui.app.feature_list import PAGES
from tui.app.settings import Settings

GOLDEN = Path(__file__).parent / "golden"
PLACES = tuple(page.place for page in PAGES)


def rows_of(app: BandwhenApp) -> list[str]:
    """The rows of the screen as they stand, trailing blanks stripped."""
    width, height = app.size
    strips = app.screen._compositor.render_strips()
    return ["".join(segment.text for segment in strip).rstrip() for strip in strips[:height]] if width else []


def text_of(app: BandwhenApp) -> str:
    """The screen as one text."""
    return "\n".join(rows_of(app)) + "\n"


def make_app(engine: Any = None, pages: Any = PAGES, **settings: Any) -> BandwhenApp:
    """An app on made-up results, with the clock held."""
    home = Path(os.environ["BANDWHEN_HOME"])
    answers = engine or FakeEngine()
    return BandwhenApp(
        lambda: answers,
        chosen=Settings(**settings),
        now=lambda: synthetic.NOW,
        settings_file=home / "settings.toml",
        pages=pages,
    )


async def go(app: BandwhenApp, pilot: Pilot[None], place: str) -> None:
    """Go to a screen and let it settle."""
    if place != "day":
        await app.action_go(place)
    await settle(app, pilot)


def run(
    scenario: Callable[[BandwhenApp, Pilot[None]], Awaitable[None]],
    size: tuple[int, int] = (80, 24),
    engine: Any = None,
    **settings: Any,
) -> BandwhenApp:
    """Run a scenario on a settled app; returns the app as it was left."""
    app = make_app(engine, **settings)

    async def body() -> None:
        async with app.run_test(size=size) as pilot:
            await settle(app, pilot)
            await scenario(app, pilot)

    asyncio.run(body())
    return app


def golden(name: str, text: str) -> None:
    """Compare with the text on file; BANDWHEN_GOLDEN=write files it anew, to be read before it is
    committed.
    """
    file = GOLDEN / f"{name}.txt"
    if os.environ.get("BANDWHEN_GOLDEN") == "write":
        file.parent.mkdir(exist_ok=True)
        file.write_text(text, encoding="utf-8")
    assert file.is_file(), f"there is no golden screen {name}"
    assert text == file.read_text(encoding="utf-8")


__all__ = ["PLACES", "go", "golden", "make_app", "np", "rows_of", "run", "settle", "text_of"]
