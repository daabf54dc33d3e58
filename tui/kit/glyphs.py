"""The one-cell characters of the screens: fills in eighths, the pattern of every cause, and their ASCII
substitutes.

Every character here is exactly one cell wide; a test checks this for the whole program. The ASCII option
replaces each character by a plain one with the same meaning, for fonts without blocks or braille.
"""

from __future__ import annotations

import unicodedata
from functools import cache
from typing import Final

import numpy as np
import numpy.typing as npt
from rich.cells import cell_len

from propagation.signal.rays.causes import LIMITS

GlyphArray = npt.NDArray[np.str_]

EIGHTHS: Final = " ▁▂▃▄▅▆▇█"
FAINTEST: Final = 0.03  # share of a full lane or cell below which it is drawn as empty (ours)
EIGHTHS_ACROSS: Final = " ▏▎▍▌▋▊▉█"
SITE: Final = "▲"
TARGET: Final = "◆"
LANDING: Final = "▼"
CURSOR: Final = "▾"
CHOSEN: Final = "▸"  # at the left of the row under the cursor
NOW: Final = "┊"
ROUTE: Final = "•"
BRAILLE_BASE: Final = 0x2800

# One pattern per cause: rows of a small tile that repeats across the empty part of a lane. Each
# depicts its cause: / for rays that pass through, an arc for the skipped distance, a double line for
# the E layer...
PATTERN_OF: Final[dict[str, tuple[str, ...]]] = {
    "open": ("    ",),
    "above the MUF": ("╱   ", "  ╱ "),
    "skip zone": ("⌒   ", "  ⌒ "),
    "absorption": (":  :", " :: "),
    "E screening": ("═   ", "  ═ "),
    "noise": ("∿   ", "  ∿ "),
    "antenna": ("┴   ", "  ┴ "),
    "power": ("+   ", "  + "),
    "auroral zone": ("≀   ", "  ≀ "),
    "storm": ("↯   ", "  ↯ "),
    "today's layer": ("▽   ", "  ▽ "),
    "flare": ("*   ", "  * "),
    "polar cap": ("%   ", "  % "),
    "licence": ("×   ", "  × "),
    "antenna range": ("o   ", "  o "),
    "horizon": ("^   ", "  ^ "),
    "distance": (">   ", "  > "),
    "few on the air": ("z   ", "  z "),
}

SIGN_OF: Final[dict[str, str]] = {
    **{cause: next((sign for sign in rows[0] if sign != " "), " ") for cause, rows in PATTERN_OF.items()},
    "mode": "»",  # a cause used on the why screen only
}

# One fill for each share of the 100 W.
SHARE_SIGN: Final[dict[str, str]] = {
    "radiated": "█",
    "coil": "o",
    "earth": "≡",
    "connections": ":",
    "coax": "-",
    "transformer": "/",
    "unexplained": "!",
}

_ASCII: Final[dict[str, str]] = {
    **dict(zip("▁▂▃▄▅▆▇█", "._-=+*%#", strict=True)),
    **dict(zip("▏▎▍▌▋▊▉", "'''||##", strict=True)),
    "▲": "A",
    "◆": "X",
    "▼": "v",
    "▾": "v",
    "▴": "^",
    "┊": ":",
    "•": "o",
    "╱": "/",
    "╲": "\\",
    "⌒": "n",
    "═": "=",
    "┴": "T",
    "≀": "S",
    "∿": ",",
    "≈": "~",
    "↯": "!",
    "▽": "V",
    "×": "x",
    "»": ">",
    "≡": "=",
    "─": "-",
    "━": "=",
    "│": "|",
    "┃": "|",
    "╌": "-",
    "┄": "-",
    "┈": ".",
    "╎": ":",
    "├": "+",
    "┤": "+",
    "┬": "+",
    "┼": "+",
    "┌": "+",
    "┐": "+",
    "└": "+",
    "┘": "+",
    "╵": "'",
    "╷": ",",
    "╴": "-",
    "╶": "-",
    "·": ".",
    "∙": ".",
    "░": ".",
    "▒": ":",
    "▓": "%",
    "▔": '"',
    "▀": '"',
    "▄": "=",
    "▐": "|",
    "▌": "|",
    "▘": "'",
    "▝": "'",
    "▖": ".",
    "▗": ".",
    "▬": "=",
    "→": ">",
    "←": "<",
    "↑": "^",
    "↓": "v",
    "↵": "<",
    "±": "~",
    "−": "-",
    "–": "-",
    "—": "-",
    "…": ".",
    "’": "'",
    "‘": "'",
    "“": '"',
    "”": '"',
    "°": "d",
    "☼": "*",
    "☾": "(",
    "○": "o",
    "●": "@",
    "▶": ">",
    "▸": ">",
    "◂": "<",
    "µ": "u",
    "Ω": "R",
    "√": "/",
}


@cache
def _ascii_braille(code: int) -> str:
    """A braille cell as the plain character nearest in density and position."""
    dots = bin(code).count("1")
    if dots == 0:
        return " "
    top = bin(code & 0b00011011).count("1")  # dots 1, 2, 4, 5
    if dots <= 2:
        return "'" if top == dots else "."
    return ":" if dots <= 4 else "#"


@cache
def ascii_sign(sign: str) -> str:
    """The plain substitute for one character. A letter loses its accent; a character without a substitute
    becomes a question mark.
    """
    if sign < "\x7f":
        return sign
    if sign in _ASCII:
        return _ASCII[sign]
    code = ord(sign)
    if BRAILLE_BASE <= code < BRAILLE_BASE + 256:
        return _ascii_braille(code - BRAILLE_BASE)
    bare = unicodedata.normalize("NFKD", sign)[0]
    return bare if bare < "\x7f" else "?"


def to_ascii(text: str) -> str:
    """The text with every character replaced by its plain substitute, cell for cell."""
    return text if text.isascii() else "".join(map(ascii_sign, text))


def one_cell(text: str) -> str:
    """User text for a grid of cells: composed, without control characters, wide characters replaced."""
    if text.isascii() and text.isprintable():
        return text
    composed = unicodedata.normalize("NFC", text)
    return "".join(
        sign if sign.isprintable() and cell_len(sign) == 1 else ("" if cell_len(sign) == 0 else "□")
        for sign in composed.replace("\t", " ").replace("\n", " ")
    )


def _tiles() -> GlyphArray:
    """All patterns as one array (cause, row, column), each repeated to the common size."""
    rows = max(len(tile) for tile in PATTERN_OF.values())
    columns = max(len(line) for tile in PATTERN_OF.values() for line in tile)
    table = np.full((len(LIMITS), rows, columns), " ", dtype="<U1")
    for code, cause in enumerate(LIMITS):
        tile = PATTERN_OF[cause]
        for row in range(rows):
            line = tile[row % len(tile)]
            table[code, row] = list((line * columns)[:columns])
    return table


TILES: Final[GlyphArray] = _tiles()
FILLS: Final[GlyphArray] = np.array(list(EIGHTHS), dtype="<U1")


def texture(codes: npt.NDArray[np.int64], row: int, x0: int = 0) -> GlyphArray:
    """The pattern of each cell of a lane: `codes` (width,) of causes, `row` the row within the screen."""
    columns = (np.arange(codes.shape[-1]) + x0) % TILES.shape[2]
    signs: GlyphArray = TILES[codes, row % TILES.shape[1], columns]
    return signs
