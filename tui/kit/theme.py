"""Inks and grounds: five palettes for the same drawing, and the Textual themes made from them.

A drawing states the role of a cell (a strong word, the fifth step of the chance ramp, night sky). A palette
maps the role to a colour. Chance is one hue whose lightness gives the value; daylight is another. Nothing is
shown by colour alone: every step of a ramp has its own character. All colours of the first four palettes are
exact members of the 256-colour cube. Terminals with 256 colours therefore show the same picture as those with
millions.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import lru_cache
from typing import Final

from rich.color import Color
from rich.style import Style
from textual.theme import Theme

# Inks: the role of the character in a cell.
TEXT: Final = 0
STRONG: Final = 1
SOFT: Final = 2
QUIET: Final = 3
RULE: Final = 4
TITLE: Final = 5
KEY: Final = 6
MARK: Final = 7
WARN: Final = 8
NOWLINE: Final = 9
LAYER: Final = 10
LAND: Final = 11
SEA: Final = 12
GAIN: Final = 13
LOSS: Final = 14
INVERSE: Final = 15
SOUNDING: Final = 25  # figures and coasts on a tint
RAMP: Final = 16  # 16..24: nine steps of the chance ramp
SKYLIGHT: Final = 32  # 32..36: five steps from night to full day

RAMP_STEPS: Final = 9
SKY_STEPS: Final = 5

# Grounds: the role of a cell's background.
BASE: Final = 0
PANEL: Final = 1
CURSOR: Final = 2
CHOSEN: Final = 3
NIGHT: Final = 4
DUSK: Final = 5
DAY: Final = 6
TINT: Final = 7  # 7..8: two steps of the chance ramp as a ground
BRIGHT: Final = 9


@dataclass(frozen=True)
class Palette:
    """One palette: a colour (and weight) for every ink, a colour for every ground."""

    name: str
    inks: dict[int, str]
    grounds: dict[int, str]
    reverse_cursor: bool = (
        False  # if grounds have no colours: the cursor and selected grounds are drawn in reverse
    )
    _styles: dict[int, Style] = field(default_factory=dict, compare=False, repr=False)

    def style(self, key: int) -> Style:
        """The style for ink * 256 + ground, created once."""
        found = self._styles.get(key)
        if found is None:
            found = self._styles[key] = self._make(key // 256, key % 256)
        return found

    def _make(self, ink: int, ground: int) -> Style:
        colour, *weights = self.inks.get(ink, self.inks[TEXT]).split()
        reverse = "reverse" in weights or (self.reverse_cursor and ground in (CURSOR, BRIGHT))
        return Style(
            color=None if colour == "none" else Color.parse(colour),
            bgcolor=None if self.grounds[ground] == "none" else Color.parse(self.grounds[ground]),
            bold=True if "bold" in weights else None,
            dim=True if "dim" in weights else None,
            underline=True if "underline" in weights else None,
            reverse=True if reverse else None,
        )


def _steps(first: int, colours: str) -> dict[int, str]:
    return {first + step: colour for step, colour in enumerate(colours.split())}


_DARK_INKS: Final[dict[int, str]] = {
    TEXT: "#d0d0d0",
    STRONG: "#ffffff bold",
    SOFT: "#9e9e9e",
    QUIET: "#767676",
    RULE: "#4e4e4e",
    TITLE: "#ffd787 bold",
    KEY: "#87afd7 bold",
    MARK: "#ffffff bold",
    WARN: "#ffaf87 bold",
    NOWLINE: "#d7d7ff",
    LAYER: "#8787af",
    LAND: "#87875f",
    SEA: "#5f87af",
    GAIN: "#ffd75f",
    LOSS: "#8a8a8a",
    INVERSE: "#121212 bold",
    SOUNDING: "#000000 bold",
    **_steps(RAMP, "#875f00 #875f00 #af8700 #af8700 #d7af00 #d7af00 #ffd700 #ffd75f #ffd787"),
    **_steps(SKYLIGHT, "#5f5f87 #5f5faf #5f87af #5fafd7 #87d7ff"),
}

DARK: Final = Palette(
    "dark",
    inks=_DARK_INKS,
    grounds={
        BASE: "#121212",
        PANEL: "#1c1c1c",
        CURSOR: "#3a3a3a",
        CHOSEN: "#262626",
        NIGHT: "#080808",
        DUSK: "#1c1c1c",
        DAY: "#303030",
        **_steps(TINT, "#875f00 #d7af00"),
        BRIGHT: "#ffd75f",
    },
)

_LIGHT_INKS: Final[dict[int, str]] = {
    TEXT: "#262626",
    STRONG: "#000000 bold",
    SOFT: "#585858",
    QUIET: "#767676",
    RULE: "#b2b2b2",
    TITLE: "#5f0087 bold",
    KEY: "#005f87 bold",
    MARK: "#000000 bold",
    WARN: "#870000 bold",
    NOWLINE: "#5f5faf",
    LAYER: "#5f5f87",
    LAND: "#5f5f00",
    SEA: "#005faf",
    GAIN: "#5f00af",
    LOSS: "#6c6c6c",
    SOUNDING: "#000000 bold",
    INVERSE: "#ffffff bold",
    **_steps(RAMP, "#af87d7 #af87d7 #875faf #875faf #875faf #5f00af #5f00af #5f0087 #5f0087"),
    **_steps(SKYLIGHT, "#5f5f87 #5f87af #0087af #0087d7 #005fd7"),
}

LIGHT: Final = Palette(
    "light",
    inks=_LIGHT_INKS,
    grounds={
        BASE: "#eeeeee",
        PANEL: "#e4e4e4",
        CURSOR: "#bcbcbc",
        CHOSEN: "#dadada",
        NIGHT: "#d0d0d0",
        DUSK: "#e4e4e4",
        DAY: "#ffffff",
        **_steps(TINT, "#d7d7ff #d7afff"),
        BRIGHT: "#5f0087",
    },
)

_SUN_INKS: Final[dict[int, str]] = {
    **dict.fromkeys((TEXT, STRONG, SOFT, TITLE, KEY, MARK, WARN), "#000000 bold"),
    QUIET: "#000000",
    RULE: "#000000",
    NOWLINE: "#000000 bold",
    LAYER: "#000000 bold",
    LAND: "#000000",
    SEA: "#000000",
    GAIN: "#000000 bold",
    LOSS: "#303030",
    SOUNDING: "#000000 bold",
    INVERSE: "#ffffff bold",
    **{RAMP + step: "#000000 bold" for step in range(RAMP_STEPS)},
    **{SKYLIGHT + step: "#000000 bold" for step in range(SKY_STEPS)},
}

SUNLIGHT: Final = Palette(
    "sunlight",
    inks=_SUN_INKS,
    grounds={
        BASE: "#ffffff",
        PANEL: "#ffffff",
        CURSOR: "#ffff00",
        CHOSEN: "#ffffd7",
        NIGHT: "#dadada",
        DUSK: "#eeeeee",
        DAY: "#ffffff",
        **_steps(TINT, "#ffff87 #ffff00"),
        BRIGHT: "#000000",
    },
)

_NIGHT_INKS: Final[dict[int, str]] = {
    TEXT: "#ff0000",
    STRONG: "#ff5f5f bold",
    SOFT: "#d70000",
    QUIET: "#af0000",
    RULE: "#870000",
    TITLE: "#ff5f5f bold",
    KEY: "#ff0000 bold",
    MARK: "#ff8787 bold",
    WARN: "#ff8787 bold",
    NOWLINE: "#ff5f5f",
    LAYER: "#af0000",
    LAND: "#af0000",
    SEA: "#870000",
    GAIN: "#ff0000",
    LOSS: "#af0000",
    INVERSE: "#000000 bold",
    SOUNDING: "#ff8787 bold",
    **_steps(RAMP, "#870000 #870000 #af0000 #af0000 #d70000 #d70000 #ff0000 #ff5f5f #ff8787"),
    **_steps(SKYLIGHT, "#5f0000 #870000 #af0000 #d70000 #ff5f5f"),
}

NIGHT_RED: Final = Palette(
    "night",
    inks=_NIGHT_INKS,
    grounds={
        BASE: "#000000",
        PANEL: "#080808",
        CURSOR: "#5f0000",
        CHOSEN: "#121212",
        NIGHT: "#000000",
        DUSK: "#080808",
        DAY: "#121212",
        **_steps(TINT, "#5f0000 #870000"),
        BRIGHT: "#ff5f5f",
    },
)

_ANSI_INKS: Final[dict[int, str]] = {
    TEXT: "default",
    STRONG: "default bold",
    SOFT: "default",
    QUIET: "default dim",
    RULE: "default dim",
    TITLE: "yellow bold",
    KEY: "default bold underline",
    MARK: "default bold",
    WARN: "default bold underline",
    NOWLINE: "default bold",
    LAYER: "blue",
    LAND: "default dim",
    SEA: "blue",
    GAIN: "yellow",
    LOSS: "default dim",
    INVERSE: "default bold reverse",
    SOUNDING: "default bold",
    **{RAMP + step: "yellow" for step in range(5)},
    **{RAMP + step: "yellow bold" for step in range(5, RAMP_STEPS)},
    **_steps(SKYLIGHT, "blue blue cyan cyan cyan"),
}

ANSI: Final = Palette(
    "ansi",
    inks=_ANSI_INKS,
    grounds=dict.fromkeys(range(BRIGHT + 1), "default"),
    reverse_cursor=True,
)

PALETTES: Final[dict[str, Palette]] = {
    palette.name: palette for palette in (DARK, LIGHT, SUNLIGHT, NIGHT_RED, ANSI)
}


@lru_cache(maxsize=8)
def palette_for(name: str) -> Palette:
    """The palette of a theme; the dark one for an unknown name."""
    return PALETTES.get(name, DARK)


def _textual_theme(palette: Palette, dark: bool) -> Theme:
    def ink(code: int) -> str:
        return palette.inks[code].split()[0]

    return Theme(
        name=palette.name,
        primary=ink(KEY),
        secondary=ink(SOFT),
        accent=ink(TITLE),
        foreground=ink(TEXT),
        background=palette.grounds[BASE],
        surface=palette.grounds[PANEL],
        panel=palette.grounds[CHOSEN],
        warning=ink(WARN),
        error=ink(WARN),
        success=ink(GAIN),
        dark=dark,
    )


def _ansi_theme() -> Theme:
    return Theme(
        name="ansi",
        primary="ansi_blue",
        secondary="ansi_cyan",
        accent="ansi_yellow",
        foreground="ansi_default",
        background="ansi_default",
        surface="ansi_default",
        panel="ansi_default",
        warning="ansi_yellow",
        error="ansi_red",
        success="ansi_yellow",
        dark=True,
        ansi=True,
        variables={
            "ansi-background": "ansi_black",
            "ansi-foreground": "ansi_white",
            "border-blurred": "ansi_black",
            "block-cursor-foreground": "ansi_black",
            "block-cursor-background": "ansi_white",
            "input-cursor-background": "ansi_black",
            "input-cursor-foreground": "ansi_bright_white",
            "input-cursor-text-style": "none",
            "input-selection-background": "ansi_bright_blue",
            "input-selection-foreground": "ansi_black",
            "screen-selection-background": "ansi_bright_blue",
            "screen-selection-foreground": "ansi_black",
        },
    )


TEXTUAL_THEMES: Final[tuple[Theme, ...]] = (
    _textual_theme(DARK, dark=True),
    _textual_theme(LIGHT, dark=False),
    _textual_theme(SUNLIGHT, dark=False),
    _textual_theme(NIGHT_RED, dark=True),
    _ansi_theme(),
)
