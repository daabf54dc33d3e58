"""Choices that outlive the session: theme, signs, target, station, mode and power. Kept as TOML, replaced
whole.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, fields, replace
from pathlib import Path
from typing import Any, Final, Literal, get_args

from propagation.base.errors import InputError
from propagation.base.files import is_file, locked
from propagation.base.strict_toml import parse, read_text, write_atomically
from tui.app import paths
from tui.kit.theme import THEME_NAMES

Glyphs = Literal["full", "ascii"]
LONGEST_WAIT_S: Final = 1.0  # s, for another program; the keys wait as long (ours)
GLYPHS: Final[tuple[Glyphs, ...]] = get_args(Glyphs)


@dataclass(frozen=True, slots=True)
class Settings:
    """What the operator chose; an empty text means: as the program sees fit."""

    theme: str = "dark"
    glyphs: str = "full"
    target: str = ""
    station: str = ""  # path of the station file in use; empty: the saved one, or the demo
    mode: str = ""
    power_w: float = 0.0  # 0: as the station file says
    fetch_on_start: bool = False  # get the space weather when the screens open
    alerts: bool = True  # bell and message on the air page when a change is due
    # What is fetched is fetched through it, "http://host:port"; empty: straight. It may hold a password.
    proxy: str = field(default="", repr=False)


def load(path: Path | None = None) -> tuple[Settings, str]:
    """The saved settings, and a sentence where a part of the file could not be used (else empty).

    A damaged settings file never keeps the program from opening: what is wrong is left at its default.
    """
    file = path or paths.settings_file()
    try:
        if not is_file(file):
            return Settings(), ""
        table = parse(read_text(file), "")
    except InputError as error:
        reason = error.message.removeprefix(": ").rstrip(".")
        return Settings(), f"The settings in {file} cannot be read ({reason}); the usual ones are used."
    known = {one.name: type(getattr(Settings(), one.name)) for one in fields(Settings)}
    good: dict[str, Any] = {}
    bad: list[str] = []
    for key, value in table.items():
        kind = known.get(key)
        if kind is float and isinstance(value, int) and not isinstance(value, bool):
            value = float(value) if abs(value) < 1e6 else math.inf
        if kind is None or type(value) is not kind or not _valid(key, value):
            bad.append(key)
        else:
            good[key] = value
    note = f"In {file} these settings are not understood and left out: {', '.join(bad[:5])}." if bad else ""
    return replace(Settings(), **good), note


def _valid(key: str, value: Any) -> bool:
    if key == "theme":
        return value in THEME_NAMES
    if key == "glyphs":
        return value in GLYPHS
    if key == "power_w":
        return bool(0.0 <= value <= 3000.0)
    return True


def save(settings: Settings, path: Path | None = None) -> None:
    """Write the settings, whole or not at all. Raises InputError where the folder cannot be written."""
    file = path or paths.settings_file()
    lines = ["# Choices made in the screens of bandwhen."]
    for one in fields(Settings):
        lines.append(f"{one.name} = {_toml(getattr(settings, one.name))}")
    try:
        write_atomically(file, "\n".join(lines) + "\n")
    except OSError as error:
        raise InputError(f"The settings cannot be saved in {file}: {error.strerror or error}.") from None


def change(changes: Mapping[str, Any], path: Path | None = None) -> None:
    """Write some choices; what another program has chosen of the others stays. InputError as in `save`."""
    file = path or paths.settings_file()
    with locked(file, LONGEST_WAIT_S):
        save(replace(load(file)[0], **changes), file)


def _toml(value: object) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, (int, float)):
        return repr(value)
    text = str(value).replace("\\", "\\\\").replace('"', '\\"')
    text = "".join(sign if sign >= " " and sign != "\x7f" else f"\\u{ord(sign):04X}" for sign in text)
    return f'"{text}"'
