"""The journal of the outing: hours on air, target, and the bands found dead, so that a restart loses nothing.

One small file, which applies to one outing. Hours that begin soon after the last ones end belong to the same
outing and keep its dead bands; later ones begin another.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Final

import numpy as np

from propagation.base import strict_toml
from propagation.base.errors import BandwhenError, InputError
from propagation.spectrum import bands
from tui.app import clock, paths
from tui.app.choice import HoursOnAir, Mark
from tui.kit.format import iso

SAME_OUTING: Final = np.timedelta64(6 * 3600, "s")  # between hours on air of one outing (ours)
LONGEST_H: Final = 24.0  # h on air
KINDS: Final = ("in vain", "one way")  # of marks


def load(now: np.datetime64, path: Path | None = None) -> tuple[HoursOnAir | None, str]:
    """The outing under way, or None if there is none; and a sentence if the journal cannot be used.

    now: an outing whose hours ended longer than `SAME_OUTING` ago is over. A log that lies outside the folder
    of the logs is left out.
    """
    file = path or paths.outing_file()
    if not file.exists():
        return None, ""
    try:
        found = _read(strict_toml.parse(strict_toml.read_text(file), str(file)))
    except (BandwhenError, KeyError, TypeError, ValueError, AttributeError) as error:
        detail = error.message if isinstance(error, BandwhenError) else f"{type(error).__name__}: {error}"
        return None, f"The journal of the outing, {file}, cannot be used and is left aside: {detail}"
    if now > found.end + SAME_OUTING:
        return None, ""
    if found.log and not _is_ours(found.log):
        outside = f"names a log outside {paths.outings_dir()}; it is left alone, and another is begun"
        return replace(found, log=""), f"The journal of the outing, {file}, {outside}."
    return found, ""


def _is_ours(log: str) -> bool:
    """Return whether a log lies, links followed, in the folder of the logs: no other file is written to."""
    try:
        return Path(log).resolve().is_relative_to(paths.outings_dir().resolve())
    except (OSError, RuntimeError, ValueError):  # links in a circle; a NUL character in the name
        return False


def _read(table: dict[str, object]) -> HoursOnAir:
    hours = float(str(table["hours"]))
    if not 0.0 < hours <= LONGEST_H:
        raise InputError(f"hours {hours:g} is outside 0 to {LONGEST_H:g}.")
    rows = table.get("dead", [])
    if not isinstance(rows, list):
        raise InputError("dead is not a list of tables [[dead]].")
    marks = table.get("mark", [])
    if not isinstance(marks, list):
        raise InputError("mark is not a list of tables [[mark]].")
    return HoursOnAir(
        clock.parse_time(str(table["start"])),
        hours,
        str(table.get("target", "")),
        tuple((bands.by_name(row["band"]).name, clock.parse_time(str(row["found"]))) for row in rows),
        _band(table, "band"),
        _band(table, "band_before"),
        tuple(
            Mark(str(row["kind"]), bands.by_name(row["band"]).name, clock.parse_time(str(row["at"])))
            for row in marks
            if row["kind"] in KINDS
        ),
        str(table.get("log", "")),
        tuple(bands.by_name(str(band)).name for band in _list(table, "bands")),
        str(table.get("plan", "")),
    )


def _band(table: dict[str, object], key: str) -> str:
    return bands.by_name(str(table[key])).name if key in table else ""


def _list(table: dict[str, object], key: str) -> list[object]:
    value = table.get(key, [])
    if not isinstance(value, list):
        raise InputError(f"{key} is not a list.")
    return value


def save(hours: HoursOnAir, path: Path | None = None) -> None:
    """Write the journal, completely or not at all. Raises InputError if it cannot be written."""
    file = path or paths.outing_file()
    lines = [
        "# The outing under way, as planned in the screens of bandwhen.",
        f"start = {strict_toml.written(iso(hours.start))}",
        f"hours = {strict_toml.written(hours.hours)}",
        f"target = {strict_toml.written(hours.target)}",
    ]
    for key, band in (("band", hours.band), ("band_before", hours.band_before)):
        lines += [f"{key} = {strict_toml.written(band)}"] if band else []
    if hours.log:
        lines.append(f"log = {strict_toml.written(hours.log)}")
    if hours.bands:
        lines.append(f"bands = {strict_toml.written(hours.bands)}")
    if hours.plan:
        lines.append(f"plan = {strict_toml.written(hours.plan)}")
    for mark in hours.marks:
        lines += ["", "[[mark]]", f"kind = {strict_toml.written(mark.kind)}"]
        lines.append(f"band = {strict_toml.written(mark.band)}")
        lines.append(f"at = {strict_toml.written(iso(mark.when))}")
    for band, found in hours.dead:
        lines += ["", "[[dead]]", f"band = {strict_toml.written(band)}"]
        lines.append(f"found = {strict_toml.written(iso(found))}")
    try:
        strict_toml.write_atomically(file, "\n".join(lines) + "\n")
    except OSError as error:
        raise InputError(
            f"The journal of the outing cannot be written to {file}: {error.strerror or error}."
        ) from None


def carried_over(before: HoursOnAir | None, hours: HoursOnAir) -> HoursOnAir:
    """The new hours with the dead bands of the outing they belong to."""
    if before is None or hours.start > before.end + SAME_OUTING or hours.end < before.start - SAME_OUTING:
        return hours
    return replace(hours, dead=before.dead, marks=before.marks, log=before.log)
