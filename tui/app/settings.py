"""Choices that outlive the session: theme, signs, target, station, mode and power. Kept as TOML, replaced
whole. A file that cannot be read is never written over.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, fields, replace
from pathlib import Path
from typing import Any, Final, Literal, get_args

from propagation.base.errors import InputError
from propagation.base.files import is_file, locked, read_whole, replace_file
from propagation.base.strict_toml import MAX_BYTES, parse, read_text, write_atomically
from tui.app import paths
from tui.kit.looks import THEME_NAMES

Glyphs = Literal["full", "ascii"]
LONGEST_WAIT_S: Final = 1.0  # s, for another program's lock; the keys are blocked as long (ours)
GLYPHS: Final[tuple[Glyphs, ...]] = get_args(Glyphs)
CLOCKS: Final = ("utc", "local")
COPY: Final = ".bak"  # at the end of the name: the file as it was before the first change of a run
_COPIED: Final[set[Path]] = set()  # files whose first change of this run is done


class UnreadableError(InputError):
    """The settings file cannot be read, and is left as it is."""


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
    logs: str = ""  # paths of the logs reviewed last, the newest first, one a line
    clock: str = "utc"  # the clock told first: "utc", or "local", that of the station's place
    # What is fetched is fetched through it, "http://host:port"; empty: straight. It may hold a password.
    proxy: str = field(default="", repr=False)


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


def _table(file: Path) -> dict[str, Any]:
    """What the file holds, nothing where there is none; UnreadableError."""
    try:
        return parse(read_text(file), "") if is_file(file) else {}
    except InputError as error:
        reason = error.message.removeprefix(": ").rstrip(".")
        raise UnreadableError(
            f"The settings in {file} cannot be read ({reason}); the usual ones are used, and no "
            f"choice is kept until the file is repaired."
        ) from None


def _valid(key: str, value: Any) -> bool:
    if key == "theme":
        return value in THEME_NAMES
    if key == "glyphs":
        return value in GLYPHS
    if key == "clock":
        return value in CLOCKS
    if key == "power_w":
        return bool(0.0 <= value <= 3000.0)
    return True


def save(settings: Settings, path: Path | None = None) -> None:
    """Write the settings, completely or not at all. Raises InputError if the folder cannot be written."""
    file = path or paths.settings_file()
    lines = ["# Choices made in the screens of bandwhen."]
    for one in fields(Settings):
        lines.append(f"{one.name} = {_toml(getattr(settings, one.name))}")
    try:
        write_atomically(file, "\n".join(lines) + "\n")
    except OSError as error:
        raise InputError(f"The settings cannot be saved in {file}: {error.strerror or error}.") from None


def change(changes: Mapping[str, Any], path: Path | None = None) -> None:
    """Write some choices; what another program has chosen of the others stays. InputError as in `save`.

    Before the first change of a run the file is copied: a new one has neither its comments nor what was not
    understood. UnreadableError, and nothing is changed, where the file cannot be read.
    """
    file = path or paths.settings_file()
    with locked(file, LONGEST_WAIT_S):
        _table(file)
        _copy_once(file)
        save(replace(load(file)[0], **changes), file)


def _copy_once(file: Path) -> None:
    """Keep the file as it was before this run; InputError where that cannot be done."""
    if file in _COPIED:
        return
    copy = file.with_name(file.name + COPY)
    try:
        if is_file(file):
            replace_file(copy, read_whole(file, MAX_BYTES, "it is not the file meant"))
    except OSError as error:
        raise InputError(
            f"The settings are not changed, for no copy of them can be kept in {copy}: "
            f"{error.strerror or error}."
        ) from None
    _COPIED.add(file)


def _toml(value: object) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, (int, float)):
        return repr(value)
    text = str(value).replace("\\", "\\\\").replace('"', '\\"')
    text = "".join(sign if sign >= " " and sign != "\x7f" else f"\\u{ord(sign):04X}" for sign in text)
    return f'"{text}"'
