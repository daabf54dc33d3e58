"""The store of the corrections learnt about each station, and their use in the forecast.

The file is next to the station file, with the same name and the ending `.learnt`; the demo's is in the data
folder. A file that cannot be used is reported and left out; it never stops a forecast.
"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Final

from propagation.base.errors import InputError
from propagation.base.files import is_file
from tui.app import paths

if TYPE_CHECKING:
    from propagation.logbook.kept_offset import Learnt
    from propagation.station.station import Station
    from propagation.station.terminals import Terminal

ENDING: Final = ".learnt"


def station_path(asked: Path | str | None = None) -> Path:
    """The station file in use: the one given, else the saved one, else the demo's."""
    if asked:
        return Path(asked)
    saved = paths.station_file()
    return saved if is_file(saved) else paths.demo_station_file()


def learnt_file(station: Path | str | None = None) -> Path:
    """The file of the corrections learnt about a station; None or an empty path means the station in use."""
    path = station_path(station)
    if path.resolve() == paths.demo_station_file().resolve():
        return paths.data_dir() / f"demo{ENDING}"
    return path.with_suffix(ENDING)


def learnt_of(station: Path | str | None = None) -> Learnt | None:
    """The corrections learnt about a station; None if there are none. InputError for a file that is not
    usable.
    """
    from propagation.logbook import kept_offset

    return kept_offset.load(learnt_file(station))


def own_terminal(station: Station, path: Path | str | None = None) -> Terminal:
    """The operator's terminal with the corrections learnt about it; used whenever an operator is meant.

    station: as loaded, mode and power changed or not. path: its file, None for the one in use.
    """
    from propagation.station import terminals

    file = learnt_file(path)
    if not is_file(file):
        return terminals.own_terminal(station)
    from propagation.logbook import kept_offset

    try:
        return kept_offset.taught_terminal(station, kept_offset.load(file))
    except InputError as error:
        print(f"What the log has taught is left out: {error.message}", file=sys.stderr)
        return terminals.own_terminal(station)


def remarks(station: Station, path: Path | str | None = None) -> list[str]:
    """Sentences on the antenna's deviation from its model according to the log; empty if nothing is
    significant.
    """
    from propagation.wording.station_offset import remarks as words

    try:
        found = learnt_of(path)
    except InputError:
        return []
    return words(found, station) if found is not None and found.fits(station) else []


def in_force(station: Station, path: Path | str | None = None) -> Learnt | None:
    """The corrections learnt, if the forecast uses them; None if they are off, unusable or of another
    antenna.
    """
    try:
        found = learnt_of(path)
    except InputError:
        return None
    return found if found is not None and found.on and found.fits(station) and found.bands else None
