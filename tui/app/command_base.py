"""Parts shared by the commands: options, places, station, conditions, and the three output formats."""

from __future__ import annotations

import argparse
import sys
import textwrap
from collections.abc import Callable
from datetime import UTC, tzinfo
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, TypeAlias

import numpy as np

from propagation.base.errors import InputError
from propagation.base.files import is_file
from propagation.wording import quantities as say
from tui.app import clock, paths, settings, times_typed
from tui.kit.format import json_text, text_width

if TYPE_CHECKING:
    from propagation.base.units import TimeArray
    from propagation.geo.locator import Position
    from propagation.space_weather.state.conditions import Conditions
    from propagation.station.friends import Friend
    from propagation.station.station import Station

    Subparsers: TypeAlias = argparse._SubParsersAction[argparse.ArgumentParser]

DEMO_NOTE = (
    "No station is saved, so this is for the invented demo station; "
    "'bandwhen station new' writes a file to make your own."
)


def add_output(parser: argparse.ArgumentParser) -> None:
    """Add the options --json and --plain."""
    form = parser.add_mutually_exclusive_group()
    form.add_argument("--json", action="store_true", help="the answer as JSON, for programs")
    form.add_argument(
        "--plain",
        action="store_true",
        default=argparse.SUPPRESS,
        help="the answer as plain lines, undecorated",
    )


def add_station(
    parser: argparse.ArgumentParser, explanation: str = "a station file (TOML) instead of the saved one"
) -> None:
    """Add the option --station."""
    parser.add_argument(
        "--station",
        metavar="FILE",
        type=Path,
        default=argparse.SUPPRESS,
        help=explanation,
    )


def add_time(parser: argparse.ArgumentParser, what: str = "the time", *others: str) -> None:
    """Add --time, with other names for it; `time_of` reads it."""
    example = "as 14:00, '10:00 local', 'saturday 09:00', 'tomorrow after sunset', 2026-03-20T12:00Z"
    parser.add_argument(
        "--time", *others, default="now", metavar="T", help=f"{what}, {example} (default: now)"
    )


def add_conditions(parser: argparse.ArgumentParser) -> None:
    """Add --ssn, --flux and --kp: given solar and geomagnetic conditions instead of the best stored ones."""
    sun = parser.add_mutually_exclusive_group()
    sun.add_argument("--ssn", type=number, metavar="N", help="smoothed sunspot number, version 2")
    sun.add_argument("--flux", type=number, metavar="N", help="10.7 cm solar flux in sfu")
    parser.add_argument("--kp", type=number, metavar="N", help="planetary K index, 0 to 9")


def number(text: str) -> float:
    """Parse the number of an option; the error is a sentence."""
    try:
        value = float(text)
    except ValueError:
        value = float("nan")
    if not np.isfinite(value):
        raise argparse.ArgumentTypeError(f"{text!r} is not a number")
    return value


def place(text: str) -> tuple[Position, str]:
    """Parse a PLACE into position and display name: a friend, a locator, `lat,lon`, or a known name.

    A friend comes before a place or a locator field of the same name.
    """
    from propagation.station import friends

    name, position = friends.named_place(text, saved_friends())
    return position, name


def place_or_own(text: str | None, args: argparse.Namespace) -> tuple[Position, str]:
    """Position and name of a place; without a text those of the site of the station in use."""
    if text is not None:
        return place(text)
    station = station_of(args)
    return station.site.position, station.name or "your station"


def station_path(args: argparse.Namespace) -> Path | None:
    """The station file given on the command line, if any."""
    path: Path | None = vars(args).get("station")
    return path


def file_in_use(args: argparse.Namespace) -> Path | None:
    """The station file given, else the one chosen on the screens; None: the saved one, or the demo."""
    given, chosen = station_path(args), settings.load()[0].station
    return given if given is not None or not chosen or not is_file(Path(chosen)) else Path(chosen)


def as_on_screens(args: argparse.Namespace) -> tuple[str | None, float | None]:
    """The mode and power [W] given, else those chosen on the screens for the station in use there.

    None: the station's own. A sentence on standard error says what comes from the screens.
    """
    mode, power_w = args.mode, args.power
    if station_path(args) is not None:
        return mode, power_w
    chosen = settings.load()[0]
    taken = []
    if file_in_use(args) is not None:
        taken.append(f"station {chosen.station}")
    if mode is None and chosen.mode:
        mode = chosen.mode
        taken.append(f"mode {mode}")
    if power_w is None and chosen.power_w:
        power_w = chosen.power_w
        taken.append(f"power {say.watts(power_w)}")
    if taken:
        note(f"As chosen on the screens: {say.listed(taken)}; --station, --mode and --power change that.")
    return mode, power_w


def station_of(args: argparse.Namespace) -> Station:
    """The station in use (`file_in_use`), else the demo (with a note on standard error)."""
    if file_in_use(args) is None and not is_file(paths.station_file()):
        note(DEMO_NOTE)
    found = _station_silently(args)
    tell_clock(args, found.site.zone)
    return found


def station_words(args: argparse.Namespace, station: Station) -> str:
    """The station of an answer, its mode and power, and where they come from, for the text of an answer."""
    file, saved = file_in_use(args), paths.station_file()
    if station_path(args) is not None:
        source = f"{file}, given with --station"
    elif file is not None:
        source = f"{file}, chosen on the screens; --station changes that"
    elif is_file(saved):
        source = f"{saved}, the saved station"
    else:
        source = "the invented demo, as no station is saved"
    name, own = station.name or "without a name", f"{station.rig.mode} {say.watts(station.power_w)}"
    return f"Station: {name}, {own}: {source}."


def station_lines(args: argparse.Namespace, station: Station) -> list[str]:
    """`station_words` in lines of the width of the text."""
    words = station_words(args, station)
    return textwrap.wrap(words, text_width(), break_long_words=False, break_on_hyphens=False)


def station_data(args: argparse.Namespace) -> dict[str, object]:
    """The file of the station of an answer, null for the demo, for JSON."""
    file = file_in_use(args) or (paths.station_file() if is_file(paths.station_file()) else None)
    return {"station_file": None if file is None else str(file)}


def tell_clock(args: argparse.Namespace, zone: tzinfo) -> None:
    """Tell times on the clock of a place beside UTC, the one of the settings first; JSON is of UTC alone."""
    as_json = bool(vars(args).get("json"))
    local = not as_json and settings.load()[0].clock == "local"
    say.set_clock_face(say.ClockFace() if as_json else say.ClockFace(zone, local))


def _station_silently(args: argparse.Namespace) -> Station:
    from propagation.station import station

    saved = paths.station_file()
    return station.load(file_in_use(args) or (saved if is_file(saved) else paths.demo_station_file()))


def here_of(args: argparse.Namespace) -> Callable[[], times_typed.Here]:
    """The place whose clock and sun a typed time may name: --from, else the station's; found when needed.

    From here on times are read, and told, on the clock of the settings.
    """
    tell_clock(args, UTC)  # the zone follows with the station

    @cache
    def here() -> times_typed.Here:
        start = vars(args).get("start_place")
        if start is not None:
            return here_at(place(start)[0])
        site = _station_silently(args).site
        return times_typed.Here(site.position, site.zone)

    return here


def here_at(position: Position) -> times_typed.Here:
    """A place with the time zone of the nearest town."""
    from zoneinfo import ZoneInfo

    from propagation.geo import places

    return times_typed.Here(position, ZoneInfo(places.time_zone(position)))


def time_of(args: argparse.Namespace, text: str) -> np.datetime64:
    """The time of an option, as a person types it; see `times_typed`."""
    return times_typed.moment(text, here_of(args))


def conditions_of(args: argparse.Namespace, times: TimeArray | np.datetime64) -> Conditions:
    """The conditions given on the command line, else the best stored ones."""
    from propagation.base.store import Store
    from propagation.ionosphere import conditions_today

    return conditions_today.best(
        Store(paths.conditions_dir()), times, clock.now(), ssn=args.ssn, flux_sfu=args.flux, kp=args.kp
    )


def conditions_words(state: Conditions, time: np.datetime64) -> str:
    """The conditions in one line: flux, K, index, source and age."""
    from propagation.wording.sky import conditions_words as words_of

    return words_of(state, time, clock.now())


def answer(
    args: argparse.Namespace, as_json: object, text: str | Callable[[], str], plain: str | Callable[[], str]
) -> None:
    """Print the answer in the requested format; a format given as a function is computed only when
    requested.
    """
    json, bare = vars(args).get("json", False), vars(args).get("plain", False)
    form = as_json if json else plain if bare else text
    made = form() if callable(form) else form
    print(json_text(made) if json else made)


def note(sentence: str) -> None:
    """Print one sentence of additional information on standard error."""
    print(sentence, file=sys.stderr, flush=True)


def required(value: str | None, option: str, example: str) -> str:
    """The value of a mandatory option."""
    if value is None:
        raise InputError(f"Give {option}, as in {option} {example}.")
    return value


def saved_friends() -> tuple[Friend, ...]:
    """The saved friends, or the demo's if none are saved (empty if those are missing too)."""
    from propagation.station import friends

    for file in (paths.friends_file(), paths.demo_friends_file()):
        if is_file(file):
            return friends.load(file)
    return ()
