"""What can be tried on the bench: single changes, the antennas of other stations, one that is described; and
keeping what was tried.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

from propagation.antennas.improvements import candidates
from propagation.antennas.measurements import stamped
from propagation.base.errors import InputError
from propagation.base.files import locked
from propagation.station import station
from propagation.station.station import Station
from tui.app import station_form
from tui.app.choice import Choice, Trial
from tui.app.sites import Sites
from tui.kit.form import FormField

LINES = ("antenna.", "feedline.")  # lines of the station's form that describe an antenna


def short(change: str) -> str:
    """A change without what it stands instead of, for the heading."""
    return change.partition(" instead of ")[0].removeprefix("a ").removeprefix("the ")


def change(own: Station, words: str) -> Trial:
    """One change of the list of what would help, as something to try."""
    plain = replace(own.antenna, measured=())
    for name, spec, line in candidates(plain, own.feedline):
        if name == words:
            # a reading counts for the changed antenna only where it speaks of nothing that was changed
            return Trial(short(name), replace(spec, measured=stamped(own.antenna).measured), line)
    raise InputError(f"The change {words!r} is not one of this antenna any more; look at the bench again.")


def of_station(sites: Sites, path: str) -> Trial:
    """The antenna and line of another station on file."""
    found = sites.station(path)
    return Trial(f"antenna of {found.name or Path(path).stem}", found.antenna, found.feedline)


def fields(own: Station) -> list[FormField]:
    """The form of an antenna, filled with the present one."""
    return [FormField("name", "Name", "", hint="short, for the heading"), *station_form.lines_of(own, LINES)]


def described(entries: Mapping[str, str]) -> Trial:
    """An antenna and line as typed into a form. Raises InputError with the form's labels."""
    only = {key: text for key, text in entries.items() if key.startswith(LINES)}
    try:
        found = station.loads(station_form.toml_of({"site.locator": "JJ00", **only}, ""), "the form")
    except InputError as error:
        raise InputError(station_form.in_labels(error.message.removeprefix("the form: "))) from None
    name = entries.get("name", "").strip() or f"{found.antenna.kind}"
    return Trial(name, found.antenna, found.feedline)


def keep(sites: Sites, choice: Choice) -> str:
    """Write what is tried into the station's file, whole or not at all; returns where it stands.

    The demo's file stays: a station of one's own is made of it.
    """
    trial = choice.tried
    if trial is None:
        raise InputError("Nothing is tried, so there is nothing to keep.")
    own = station_form.own_file(choice.station)
    while True:
        file = Path(own) if own else station_form.new_file(sites.station(choice.station).name)
        with locked(file):
            if own or not file.exists():
                station.save(_with(sites.station(choice.station), trial, choice.power_w), file)
                return str(file)


def _with(own: Station, trial: Trial, power_w: float) -> Station:
    if trial.antenna is not None:
        # readings stay with the antenna they were taken with, and are there again when it is
        both = dict.fromkeys((*stamped(own.antenna).measured, *stamped(trial.antenna).measured))
        antenna = replace(trial.antenna, measured=tuple(both))
        own = replace(own, antenna=antenna, feedline=trial.feedline or own.feedline)
    if trial.power_before_w is not None:
        own = replace(own, rig=replace(own.rig, power_w=power_w))
    return own
