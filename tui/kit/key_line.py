"""The bottom lines: the keys that work here, made from the bindings themselves."""

from __future__ import annotations

from collections.abc import Iterable

from textual import events
from textual.binding import Binding

from tui.kit.canvas import Canvas
from tui.kit.drawn import Drawn
from tui.kit.theme import BRIGHT as BRIGHT_GROUND
from tui.kit.theme import INVERSE, KEY, PANEL, SOFT, TEXT

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
KEPT = 3  # entries at the end that give way last: words, help, quit


def key_sign(key: str) -> str:
    """A binding's keys as printed on the keys: `left,h` becomes the first of them."""
    first = key.split(",")[0]
    return KEY_SIGNS.get(first, first)


def in_order(bindings: Iterable[Binding]) -> list[tuple[str, str]]:
    """(key, label) of the bindings to be shown; neighbours with the same label share one entry."""
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
    """One line of keys; what does not fit is left to the help, the last three entries last of all."""

    DEFAULT_CSS = "KeyLine { height: 1; }"
    ground = PANEL
    fades = False

    def __init__(self, *, id: str | None = None) -> None:  # noqa: A002
        super().__init__(id=id)
        self.entries: list[tuple[str, str]] = []
        self.chosen = ""
        self._spans: list[tuple[int, int, str]] = []  # (from, to, key) of what is drawn

    def show(self, entries: list[tuple[str, str]], chosen: str = "") -> None:
        """Take (key, label) pairs; the chosen label is drawn as the place where one is."""
        self.entries, self.chosen = entries, chosen
        self.redraw()

    def paint(self, canvas: Canvas) -> None:
        """Key, label, key, label."""
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
        """A click on an entry is its key; of two keys, such as the arrows, the one that is hit."""
        found = next((span for span in self._spans if span[0] <= event.x < span[1]), None)
        if found is not None:
            signs = found[2].split(" ")
            hit = signs[1] if len(signs) > 1 and event.x - found[0] > len(signs[0]) else signs[0]
            self.app.simulate_key(KEY_OF_SIGN.get(hit, hit))
