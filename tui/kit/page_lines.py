"""The lines at the top and at the bottom of a page: station, target and choice, and the keys."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

import numpy as np
from textual import events
from textual.binding import Binding

from propagation.wording import quantities as say
from tui.kit.canvas import Canvas, Drawn
from tui.kit.glyphs import SITE, TARGET, one_cell
from tui.kit.text_flow import without_middle
from tui.kit.theme import BRIGHT as BRIGHT_GROUND
from tui.kit.theme import GAIN, INVERSE, KEY, PANEL, SOFT, STRONG, TEXT, WARN

KEY_SIGNS = {
    "left": "←",
    "right": "→",
    "up": "↑",
    "down": "↓",
    "question_mark": "?",
    "slash": "/",
    "escape": "Esc",
    "enter": "Enter",
    "tab": "Tab",
    "shift+tab": "Shift-Tab",
    "full_stop": ".",
    "comma": ",",
    "left_square_bracket": "[",
    "right_square_bracket": "]",
    "plus": "+",
    "minus": "-",
    "equals_sign": "=",
    "pageup": "PgUp",
    "pagedown": "PgDn",
    "home": "Home",
    "end": "End",
    "ctrl+p": "Ctrl-P",
    "ctrl+n": "Ctrl-N",
    "ctrl+s": "Ctrl-S",
    "space": "Space",
}


KEY_OF_SIGN = {sign: key for key, sign in KEY_SIGNS.items()}
KEPT = 3  # entries at the end that are dropped last: words, help, quit


def key_sign(key: str) -> str:
    """A binding's first key as printed on the keyboard: `left,h` gives the arrow."""
    first = key.split(",")[0]
    return KEY_SIGNS.get(first, first)


def in_order(bindings: Iterable[Binding]) -> list[tuple[str, str]]:
    """(key, label) of the bindings to show; adjacent ones with the same label share one entry."""
    out: list[tuple[str, str]] = []
    for binding in bindings:
        if not binding.show or not binding.description:
            continue
        sign = binding.key_display or key_sign(binding.key)
        if out and out[-1][1] == binding.description:
            out[-1] = (f"{out[-1][0]} {sign}", binding.description)
        else:
            out.append((sign, binding.description))
    return out


class KeyLine(Drawn):
    """One line of keys; entries that do not fit are omitted, the last three entries last. The help lists
    all.
    """

    DEFAULT_CSS = "KeyLine { height: 1; }"
    ground = PANEL
    fades = False

    def __init__(self, *, id: str | None = None) -> None:  # noqa: A002
        super().__init__(id=id)
        self.entries: list[tuple[str, str]] = []
        self.chosen = ""
        self._spans: list[tuple[int, int, str]] = []  # (from, to, key) of the drawn entries

    def show(self, entries: list[tuple[str, str]], chosen: str = "") -> None:
        """Take (key, label) pairs; the chosen label is highlighted as the current place."""
        self.entries, self.chosen = entries, chosen
        self.redraw()

    def paint(self, canvas: Canvas) -> None:
        """Draw the keys, each with its label."""
        entries = list(self.entries)
        wide = sum(len(key) + len(label) + 3 for key, label in entries) <= canvas.width - 2
        gap = 2 if wide else 1
        while len(entries) > KEPT and sum(len(key) + len(label) + 2 for key, label in entries) > canvas.width:
            del entries[len(entries) - KEPT - 1]
        x = 1
        self._spans = []
        for key, label in entries:
            begin = x
            if x + len(key) + 1 + len(label) > canvas.width:
                break
            here = label == self.chosen
            ground = BRIGHT_GROUND if here else None
            x = canvas.put(x, 0, key, INVERSE if here else KEY, ground)
            x = (
                canvas.put(x, 0, f" {label}", INVERSE if here else (TEXT if self.chosen else SOFT), ground)
                + gap
            )
            self._spans.append((begin, x, key))

    def on_click(self, event: events.Click) -> None:
        """Press the key of the clicked entry; of two keys, such as the arrows, the clicked one."""
        found = next((span for span in self._spans if span[0] <= event.x < span[1]), None)
        if found is not None:
            signs = found[2].split(" ")
            hit = signs[1] if len(signs) > 1 and event.x - found[0] > len(signs[0]) else signs[0]
            self.app.simulate_key(KEY_OF_SIGN.get(hit, hit))


KEY_ROWS: Final = 2  # rows of the keys and of the pages, at the foot of every page
TRIED: Final = "TRIED: "
NAMES_ROOM: Final = 30  # columns of site and target before the day, mode and power go with them
BOTH_NAMED: Final = 100  # columns from which both clocks are named


class Heading(Drawn):
    """Station, target, day, mode and power, the time now."""

    DEFAULT_CSS = "Heading { height: 1; dock: top; }"
    ground = PANEL
    fades = False
    about = (
        "The top line names your site, the target, the day, mode and power in use, and the time now, in UTC "
        "and on your place's clock; z turns them over. "
        "While something is tried it is shown in place of the site, after TRIED: nothing of it is saved."
    )

    def __init__(self, *, id: str | None = None) -> None:  # noqa: A002
        super().__init__(id=id)
        self.site = self.target = self.range = self.detail = ""
        self.demo = False
        self.busy = self.tried = ""
        self.now: np.datetime64 | None = None

    def show(
        self,
        site: str,
        target: str,
        far: str,
        detail: str,
        now: np.datetime64 | None,
        *,
        demo: bool,
        busy: str,
        tried: str = "",
    ) -> None:
        """Take the content of the line."""
        self.site, self.target, self.range, self.detail = site, target, far, detail
        self.now, self.demo, self.busy, self.tried = now, demo, busy, tried
        self.redraw()

    def paint(self, canvas: Canvas) -> None:
        """Draw one line; the right end is kept, the names are shortened."""
        clock = f"{say.clock(self.now)} {say.zone_word()}" if self.now is not None else ""
        other = say.other_clock(self.now)
        if other:
            clock += f"  {other}" if canvas.width >= BOTH_NAMED else f" {say.other_short(self.now)}"
        right = canvas.put_right(canvas.width - 1, 0, clock, STRONG) - 2
        if self.busy:
            right = canvas.put_right(right, 0, f"working: {self.busy} ...", WARN) - 2
        names = NAMES_ROOM
        if not (self.tried or self.demo):  # short names leave room for the day, which comes before the range
            names = min(names, len(one_cell(self.site)) + len(one_cell(self.target)) + 9)
        if len(self.detail) < right - names:
            right = canvas.put_right(right, 0, self.detail, SOFT) - 2
        x = canvas.put(1, 0, SITE, GAIN) + 1
        if self.tried:  # in place of the site: all results are of the trial, not of the station on file
            for_target = len(one_cell(self.target)) + 5  # its mark and the blanks around it
            room = max((right - 8) * 2 // 3, right - x - for_target, 12)
            name = without_middle(one_cell(self.tried), room - len(TRIED))
            x = canvas.put(x, 0, f"{TRIED}{name}", WARN, room=room) + 1
        else:
            x = canvas.put(x, 0, self.site, TEXT, room=max((right - 8) // 2, 4)) + 1
        if not self.tried and self.demo and x + 12 < right:
            x = canvas.put(x, 0, "DEMO", WARN) + 1
        x += 1
        if self.target and x < right - 4:
            x = canvas.put(x, 0, TARGET, GAIN) + 1
            x = canvas.put(x, 0, self.target, STRONG, room=right - x) + 2
            if x + len(self.range) <= right:
                canvas.put(x, 0, self.range, TEXT)
