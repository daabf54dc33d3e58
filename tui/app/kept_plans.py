"""Plans kept under a name, one TOML file each: day, hours, place, people and bands of an outing.

A file can be given to somebody: opened there, the plan is made again with that operator's own antenna.
"""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Final

import numpy as np

from propagation.base import files, strict_toml
from propagation.base.errors import BandwhenError, InputError
from propagation.base.text import one_line
from propagation.geo.locator import locator_of
from propagation.spectrum import bands, modes
from propagation.station.station import Station
from propagation.wording import quantities as say
from tui.app import clock, paths
from tui.app.choice import HoursOnAir
from tui.kit.export import in_a_name
from tui.kit.format import iso

ENDING: Final = ".toml"
LONGEST_NAME: Final = 60  # characters (ours)
DAY: Final = np.timedelta64(86400, "s")
LOCATOR_SIGNS: Final = 6  # of the place: a square of some 5 km
HEAD: Final = "# A plan kept by bandwhen; 'bandwhen plan --open FILE' makes it again."


@dataclass(frozen=True)
class KeptPlan:
    """A plan as kept.

    start: UTC, as in JSON. people: targets; empty: anyone. place: name of the station; locator: where.
    bands: the only ones to use; empty: all that the antenna has. mode, power_w: empty or 0 for those of the
    station.
    """

    name: str
    start: str
    hours: float = field(metadata=strict_toml.between(0.5, 24.0))
    people: tuple[str, ...] = ()
    place: str = ""
    locator: str = ""
    bands: tuple[str, ...] = ()
    mode: str = ""
    power_w: float = field(default=0.0, metadata=strict_toml.between(0.0, 5000.0))

    def __post_init__(self) -> None:
        """Check the name, the time, the bands and the mode."""
        check_name(self.name)
        clock.parse_time(self.start)
        for band in self.bands:
            bands.by_name(band)
        if self.mode:
            modes.by_name(self.mode)

    @property
    def begin(self) -> np.datetime64:
        """The start [s]."""
        begin: np.datetime64 = clock.parse_time(self.start).astype("datetime64[s]")
        return begin

    @property
    def end(self) -> np.datetime64:
        """The end of the hours on air [s]."""
        return self.on_air(self.begin).end

    @property
    def told(self) -> str:
        """Day, hours, place, people and bands in a line."""
        where = " ".join(part for part in (self.place, self.locator) if part)
        what = [f"{say.day_title(self.begin)} {say.both_spans(self.begin, self.end)}", where]
        what += [f"for {say.listed(self.people or ('anyone',))}"]
        what += [say.listed([say.band_title(bands.by_name(band).name) for band in self.bands])]
        return one_line(", ".join(part for part in what if part))

    def on_air(self, start: np.datetime64) -> HoursOnAir:
        """The hours on air of the plan from a start on."""
        wanted = tuple(bands.by_name(band).name for band in self.bands)
        return HoursOnAir(
            start, self.hours, self.people[0] if self.people else "anyone", bands=wanted, plan=self.name
        )

    def ahead(self, now: np.datetime64) -> np.datetime64:
        """The start, or at the same time of day UTC today or tomorrow where the hours are over [s]."""
        if self.end > now:
            return self.begin
        days = int(np.ceil((now - self.begin) / DAY))
        return self.begin + days * DAY


def check_name(name: str) -> None:
    """Check the name of a plan; InputError where it cannot be one."""
    if not name.isprintable() or not any(sign.isalnum() for sign in name) or len(name) > LONGEST_NAME:
        raise InputError(
            f"{name!r} is no name for a plan: it needs a letter or a digit, and {LONGEST_NAME} "
            "characters at most."
        )


def locator_of_station(station: Station) -> str:
    """The place of a station as it is kept in a plan."""
    position = station.site.position
    return locator_of(position.lat_deg, position.lon_deg, LOCATOR_SIGNS)


def file_of(name: str) -> Path:
    """The file of a plan of a name."""
    return paths.plans_dir() / f"{in_a_name(name).casefold()}{ENDING}"


def read(file: Path) -> KeptPlan:
    """A plan from its file; InputError where it is not one."""
    table = strict_toml.parse(strict_toml.read_text(file), str(file))
    found: KeptPlan = strict_toml.build(KeptPlan, strict_toml.values(KeptPlan, table, str(file)), str(file))
    return found


def keep(plan: KeptPlan, steps: str = "", force: bool = False) -> Path:
    """Keep a plan and return its file. steps: the run sheet in lines, kept as comments.

    TakenError where a plan of that name, or of one too similar, is kept already, unless `force`.
    """
    file = file_of(plan.name)
    keys = strict_toml.keys_of(KeptPlan)
    lines = [HEAD, *(f"# {one_line(line)}".rstrip() for line in steps.splitlines())]
    lines += [f"{key} = {strict_toml.written(getattr(plan, key))}" for key in keys]
    if files.is_file(file) and not force:
        raise files.TakenError(
            f"A plan {plan.name!r} is kept already, in {file}; it was not changed.", str(file)
        )
    strict_toml.write_atomically(file, "\n".join(lines) + "\n")
    return file


def copy(name: str, new_name: str, force: bool = False) -> KeptPlan:
    """Keep a plan under a further name, and return it. TakenError as above."""
    file = located(name)
    plan = replace(read(file), name=new_name.strip())
    keep(plan, _steps(file), force)
    return plan


def rename(name: str, new_name: str, force: bool = False) -> KeptPlan:
    """Give a plan another name, and return it. TakenError as above."""
    file = located(name)
    plan = replace(read(file), name=new_name.strip())
    same = file == file_of(plan.name)
    keep(plan, _steps(file), force or same)
    if not same:
        remove(file)
    return plan


@dataclass(frozen=True)
class Removed:
    """A plan that may be put back: its file, and what is in it."""

    name: str
    file: Path
    data: bytes


def delete(name: str) -> Removed:
    """Delete a plan; also one whose file is damaged."""
    removed = as_kept(located(name))
    remove(removed.file)
    return removed


def as_kept(file: Path) -> Removed:
    """A plan as it is on file, to be put back; a damaged one is called as its file."""
    data = files.read_whole(file, strict_toml.MAX_BYTES, "it is not a plan")
    try:
        return Removed(read(file).name, file, data)
    except BandwhenError:
        return Removed(file.stem, file, data)


def put_back(removed: Removed) -> None:
    """Keep a deleted plan again; InputError where another one has its file now."""
    try:
        files.create_file(removed.file, removed.data)
    except FileExistsError:
        raise InputError(f"Another plan is kept in {removed.file} now; nothing was changed.") from None
    except OSError as error:
        raise InputError(f"{removed.file} cannot be written: {files.reason_of(error)}.") from None


def remove(file: Path) -> None:
    """Delete a file of a plan; InputError if that fails."""
    try:
        file.unlink()
    except OSError as error:
        raise InputError(f"{file} cannot be deleted: {files.reason_of(error)}.") from None


def _steps(file: Path) -> str:
    """The run sheet kept with a plan, in lines."""
    lines = strict_toml.read_text(file).splitlines()
    return "\n".join(line[2:] for line in lines if line.startswith("#") and line != HEAD)


def all_kept() -> tuple[tuple[KeptPlan, ...], tuple[str, ...]]:
    """All plans kept, the earliest day first; and a sentence for each file that cannot be read."""
    found, faults = [], []
    for file in _files():
        try:
            found.append(read(file))
        except BandwhenError as error:
            faults.append(error.message)
    return tuple(sorted(found, key=lambda plan: plan.begin)), tuple(faults)


def _files() -> list[Path]:
    folder = paths.plans_dir()
    return sorted(folder.glob(f"*{ENDING}")) if folder.is_dir() else []


def find(text: str) -> KeptPlan:
    """The plan of a name, or in a file; InputError where there is none, with the nearest name."""
    given = paths.expanded(text)
    if given.suffix == ENDING or len(given.parts) > 1:
        return given_in(given)
    return read(located(text))


def given_in(file: Path) -> KeptPlan:
    """The plan in a file that somebody gave; InputError, with what to do, where it is not one."""
    if not files.is_file(file):
        raise InputError(f"There is no file {str(file)!r} with a plan; check its name and folder.")
    try:
        return read(file)
    except BandwhenError as error:
        raise InputError(f"No plan can be read: {error.message.rstrip('.')}.") from None


def located(text: str) -> Path:
    """The file of a kept plan; InputError where there is none, with the nearest name."""
    if files.is_file(file_of(text)):
        return file_of(text)
    for file in _files():  # put there under a name of its own
        with suppress(BandwhenError):
            if read(file).name.casefold() == text.strip().casefold():
                return file
    names = [plan.name for plan in all_kept()[0]]
    near = strict_toml.nearest(text, names)
    hint = f"the nearest is {near!r}" if near else "'bandwhen plan --list' lists them, --keep NAME keeps one"
    raise InputError(f"There is no plan {text!r}; {hint}.")


def new(
    station: Station, hours: HoursOnAir, name: str, people: tuple[str, ...], mode: str, power_w: float
) -> KeptPlan:
    """A plan to keep, from the hours on air at a station."""
    return KeptPlan(
        name, iso(hours.start), hours.hours, people, station.name, locator_of_station(station), hours.bands,
        mode, power_w,
    )  # fmt: skip
