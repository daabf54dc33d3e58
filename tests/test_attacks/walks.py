"""The screens in hostile hands: a home full of names that steer, walks and random keys over every page."""

from __future__ import annotations

import asyncio
import os
import random
import time
from collections.abc import Awaitable, Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np
from hostile import FIXTURES, NAMES, STEERING
from quiet import settled
from textual import events
from textual.pilot import Pilot

from propagation.base import strict_toml
from propagation.station import friends
from tui.app import paths, settings
from tui.app.app import BandwhenApp
from tui.app.feature_list import PAGES
from tui.app.queries import Engine
from tui.features.review.page import ReviewPage
from tui.features.sky.fetching import MIRROR_VARIABLE

NOW: Final = np.datetime64("2026-03-20T12:00", "s")
KEYS: Final = (
    *"123456789", *"123456789", *"abcdefghijklmnoprstuvwxyz", *("up", "down", "left", "right") * 3,
    *("enter", "escape") * 4, "tab", "slash", "question_mark", "pageup", "pagedown", "home", "end", "space",
    "ctrl+s", "ctrl+p", "backspace", "delete", "comma", "full_stop", "left_square_bracket",
    "right_square_bracket", "plus", "minus",
)  # fmt: skip
SIZES: Final = ((80, 24), (80, 24), (160, 48), (40, 10), (1, 1), (7, 3), (240, 70), (20, 60), (300, 5))
LOG: Final = "hostile.adi"


def hostile_home(folder: Path) -> Path:
    """Station, friends, settings and a log with names an attacker would choose; nothing is to be fetched."""
    demo = (FIXTURES / "demo" / "station.toml").read_text(encoding="utf-8")
    lines = [line for line in demo.splitlines() if not line.startswith("name")]
    name = strict_toml.written(f"{NAMES[-1]} {NAMES[0]} {NAMES[1]}")
    paths.config_dir().mkdir(parents=True, exist_ok=True)
    paths.station_file().write_text("\n".join([f"name = {name}", *lines]) + "\n", encoding="utf-8")
    places = ("GF25", "Madrid", "JO22", "KG33")
    people = [friends.Friend(name, places[at % 4], note=NAMES[at - 1]) for at, name in enumerate(NAMES)]
    friends.save(tuple(people), paths.friends_file())
    settings.save(settings.Settings(target=NAMES[1]))
    log = (FIXTURES / "demo" / "ridge_day.adi").read_bytes()
    for number, text in enumerate(NAMES):
        raw = text.encode("utf-8")
        at = log.find(b"<CALL:", 2000 + 3000 * number)
        log = log[:at] + b"<COMMENT:%d>" % len(raw) + raw + log[at:]
    file = folder / LOG
    file.write_bytes(log)
    os.environ[MIRROR_VARIABLE] = "http://127.0.0.1:9"  # nobody listens there
    return file


def hostile_app(engine: Engine | None = None) -> BandwhenApp:
    """An app on the hostile home."""
    chosen, note = settings.load()
    answers = engine or Engine(lambda: NOW)
    return BandwhenApp(lambda: answers, chosen=chosen, note=note, now=lambda: NOW)


def shown(app: BandwhenApp) -> str:
    """What is sent to the terminal as text; AssertionError where any of it would steer."""
    width, height = app.size
    if not (width and height and app.screen_stack):
        return ""
    strips = app.screen._compositor.render_strips()
    text = "\n".join("".join(segment.text for segment in strip) for strip in strips)
    steering = [repr(text[max(at - 40, 0) : at + 40]) for at, sign in enumerate(text) if sign in STEERING]
    assert not steering, steering[:5]
    return text


async def walk(app: BandwhenApp, pilot: Pilot[None], log: Path, names: Sequence[str] = NAMES) -> list[str]:
    """Every page, its words, help, palette and forms; what was seen. names: aimed at in turn."""
    seen = []

    async def look(*keys: str) -> None:
        await pilot.press(*keys)
        await settled(app, pilot)
        seen.append(shown(app))

    await settled(app, pilot)
    for page in PAGES:
        await look(page.key)
        if isinstance(app.page, ReviewPage):
            app.page.open_log(str(log))
            await look("down", "up")
        await look("w")
        await look("escape", "question_mark")
        await look("escape", "slash")
        await look(*"friend")
        await look("escape", "escape")
    for name in names:
        await look("slash")
        await look(*(sign for sign in name if sign.isalnum()))
        await look("escape", "escape")
        app.set_target(name)
        await look("7")
        await look("1", "t")
        await look(*"gf", "down", "down")
        await look("escape", "escape", "8")
    for keys in (("8", "n"), ("8", "e"), ("8", "f"), ("8", "down", "e"), ("5", "k"), ("5", "h"), ("5", "b"),
                 ("4", "a"), ("m",), ("p",), ("d",), ("v",), ("9", "o")):  # fmt: skip
        await look(*keys)
        await look("escape", "escape")
    return seen


@dataclass
class Spree:
    """What came of random keys: how many, the slowest [s] and which, how often the program was left."""

    keys: int = 0
    slowest_s: float = 0.0
    which: str = ""
    left: int = 0


async def spree(
    app: BandwhenApp, pilot: Pilot[None], chance: random.Random, count: int, found: Spree
) -> None:
    """Random keys, clicks, pastes and changes of size; AssertionError where something steers the terminal."""
    for _ in range(count):
        if not app.is_running or app._exit:
            found.left += 1
            return
        what = chance.random()
        began = time.monotonic()
        if what < 0.8:
            deed = chance.choice(KEYS)
            await pilot.press(deed)
        elif what < 0.88:
            size = chance.choice(SIZES)
            deed = f"size {size}"
            await pilot.resize_terminal(*size)
        elif what < 0.95:
            place = chance.randrange(max(app.size.width, 1)), chance.randrange(max(app.size.height, 1))
            deed = f"click {place}"
            await pilot.click(offset=place)
        else:
            text = chance.choice(NAMES)
            deed = f"paste {text!r}"
            app.post_message(events.Paste(text))
            await pilot.pause()
        took = time.monotonic() - began
        found.keys += 1
        if took > found.slowest_s:
            found.slowest_s, found.which = took, f"{deed} on {app.current_mode} {type(app.screen).__name__}"
        shown(app)


def on(
    scenario: Callable[[BandwhenApp, Pilot[None]], Awaitable[None]],
    engine: Engine | None = None,
    size: tuple[int, int] = (80, 24),
) -> None:
    """Run a scenario on the app; whatever goes wrong inside it is raised here."""
    app = hostile_app(engine)

    async def body() -> None:
        async with app.run_test(size=size) as pilot:
            await scenario(app, pilot)

    asyncio.run(body())
