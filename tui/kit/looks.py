"""The names of the themes, apart from their colours, so that commands read settings without the screens."""

from __future__ import annotations

from typing import Final

THEME_SAYS: Final[dict[str, str]] = {
    "dark": "for indoors and evenings",
    "light": "for a bright room",
    "sunlight": "black on white, heavy, for the open air",
    "night": "red on black, spares eyes used to the dark",
    "ansi": "the terminal's own sixteen colours",
}
THEME_NAMES: Final = tuple(THEME_SAYS)
