"""Persistent settings: theme, glyphs, target, station, mode and power. Kept as TOML; the file is replaced as
a whole.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from pathlib import Path
from typing import Any, Final, Literal, get_args

from propagation.base.errors import InputError
from propagation.base.files import is_file, locked
from propagation.base.strict_toml import parse, read_text, write_atomically
from tui.app import paths
from tui.kit.theme import THEME_NAMES

Glyphs = Literal["full", "ascii"]
LONGEST_WAIT_S: Final = 1.0  # s, for another program's lock; the keys are blocked as long (ours)
GLYPHS: Final[tuple[Glyphs, ...]] = get_args(Glyphs)


@dataclass(frozen=True, slots=True)
class Settings:
    """The operator's settings; an empty text means the program's default."""

    theme: str = "dark"
    glyphs: str = "full"
    target: str = ""
    station: str = ""  # path of the station file in use; empty: the saved one, or the demo
    mode: str = ""
    power_w: float = 0.0  # 0: the power in the station file
    fetch_on_start: bool = False  # download the space weather when the screens open
    alerts: bool = True  # bell and message on the air page when a change is due
    proxy: str = ""  # downloads go through it, "http://host:port"; empty: direct


def load(path: Path | None = None) -> tuple[Settings, str]:
    """The saved settings, and a sentence if a part of the file could not be used (else empty).

    A damaged settings file never prevents the start: invalid values are replaced by their defaults.
    """
    file = path or paths.settings_file()
    try:
        if not is_file(file):
            return Settings(), ""
        table = parse(read_text(file), "")
    except InputError as error:
        reason = error.message.removeprefix(": ").rstrip(".")
        return Settings(), f"The settings in {file} cannot be read ({reason}); the usual ones are used."
    known = {field.name: type(getattr(Settings(), field.name)) for field in fields(Settings)}
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
    """Write the settings, completely or not at all. Raises InputError if the folder cannot be written."""
    file = path or paths.settings_file()
    lines = ["# Choices made in the screens of bandwhen."]
    for field in fields(Settings):
        lines.append(f"{field.name} = {_toml(getattr(settings, field.name))}")
    try:
        write_atomically(file, "\n".join(lines) + "\n")
    except OSError as error:
        raise InputError(f"The settings cannot be saved in {file}: {error.strerror or error}.") from None


def change(changes: Mapping[str, Any], path: Path | None = None) -> None:
    """Write some settings and keep what another program has changed in the others. InputError as in
    `save`.
    """
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
