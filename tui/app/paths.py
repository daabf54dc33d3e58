"""The locations of all files; no other module defines them.

Files are kept in the platform's standard folders (`platformdirs`). If the environment variable BANDWHEN_HOME
is set, all are kept in that folder. It serves for tests, or for a memory stick in the field pack.
"""

from __future__ import annotations

import os
import time
from pathlib import Path
from typing import Final

from propagation.base import files
from propagation.base.errors import InputError

APPLICATION: Final = "bandwhen"
HOME_VARIABLE: Final = "BANDWHEN_HOME"
LEFT_S: Final = 3600.0  # s; a new file that old and not in its place was left by a crash (ours)


def _folder(kind: str) -> Path:
    home = os.environ.get(HOME_VARIABLE)
    if home:
        try:
            return Path(home).expanduser() / kind
        except RuntimeError:
            raise InputError(
                f"{HOME_VARIABLE}={home!r} names the home of a user not known here; write the folder out."
            ) from None
    import platformdirs

    place = {
        "config": platformdirs.user_config_path,
        "data": platformdirs.user_data_path,
        "state": platformdirs.user_state_path,
    }[kind]
    return place(APPLICATION, appauthor=False)


def config_dir() -> Path:
    """The folder of the operator's own files: station, friends, settings."""
    return _folder("config")


def data_dir() -> Path:
    """The folder of downloaded and learnt data: conditions, heard stations."""
    return _folder("data")


def state_dir() -> Path:
    """The folder of the program's own state: the fault log, the outing under way."""
    return _folder("state")


def station_file() -> Path:
    """The saved station."""
    return config_dir() / "station.toml"


def stations_dir() -> Path:
    """The folder of further stations, one file each."""
    return config_dir() / "stations"


def friends_file() -> Path:
    """The operator's friends."""
    return config_dir() / "friends.toml"


def settings_file() -> Path:
    """The settings made in the screens: target, theme, glyphs."""
    return config_dir() / "settings.toml"


def conditions_dir() -> Path:
    """Stored conditions of the sun and the field, each with its time of issue."""
    return data_dir() / "conditions"


def antennas_file() -> Path:
    """The cache of computed antennas."""
    return data_dir() / "antennas.npz"


def fault_file() -> Path:
    """The file with the details of unexpected faults."""
    return state_dir() / "faults.log"


def sweep() -> None:
    """Remove what a crash left half written, more than an hour ago, in the program's own folders."""
    before_s = time.time() - LEFT_S  # as the disk counts, whatever the time the program is run for
    own = (
        config_dir(),
        stations_dir(),
        data_dir(),
        conditions_dir(),
        outings_dir(),
        plans_dir(),
        state_dir(),
    )
    for folder in own:
        files.sweep(folder, before_s)


def outing_file() -> Path:
    """The journal of the outing under way: hours on air, target, dead bands."""
    return state_dir() / "outing.toml"


def outings_dir() -> Path:
    """The logs of outings, written contact by contact."""
    return data_dir() / "outings"


def plans_dir() -> Path:
    """The plans kept under a name, one file each."""
    return data_dir() / "plans"


def demo_dir() -> Path:
    """The demo's files: in the package `tui` of an installed copy, in `fixtures/demo` in a clone."""
    here = Path(__file__).resolve().parent.parent
    for folder in (here / "demo", here.parent / "fixtures" / "demo"):
        if folder.is_dir():
            return folder
    return here / "demo"


def demo_station_file() -> Path:
    """The demo's station: invented, on a ridge in South Africa."""
    return demo_dir() / "station.toml"


def demo_friends_file() -> Path:
    """The demo's friends and targets: invented."""
    return demo_dir() / "friends.toml"


def expanded(path: str) -> Path:
    """The path with a leading ~ expanded; InputError if that user's home is not known."""
    try:
        return Path(path).expanduser()
    except RuntimeError:
        raise InputError(f"{path!r} names the home of a user not known here; write it out.") from None


def friends_folder() -> Path:
    """The folder of the list of friends in use; their station files are looked for there."""
    return friends_file().parent if files.is_file(friends_file()) else demo_dir()
