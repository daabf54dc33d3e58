"""The options of `advise`, `why` and similar commands, and the forecast request made from them."""

from __future__ import annotations

import argparse
import re
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from propagation.base.errors import InputError
from propagation.base.files import is_file
from propagation.station.far_ends import CONTACTS, MOST_CONTACTS
from tui.app import clock, command_base, paths

if TYPE_CHECKING:
    from propagation.advice.sked import Party
    from propagation.base.units import TimeArray
    from propagation.geo.locator import Position
    from propagation.geo.regions import Target
    from propagation.signal.chances.request import Request
    from propagation.station.friends import Friend
    from propagation.station.station import Station
    from propagation.station.terminals import Terminal

LONGEST_HOURS = 72.0
STEP_S = 600  # s, to which the present moment is taken back
LEARNT = (
    "What your log has taught about this station is in these numbers; 'bandwhen review --off' leaves it out."
)


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add --to, --from, --mode, --power, --station, and the options of the conditions."""
    parser.add_argument(
        "--to",
        required=True,
        metavar="TARGET",
        help="a place, a friend, a region, 'within 500 km' or 'anyone'",
    )
    parser.add_argument(
        "--from", dest="start_place", metavar="PLACE", help="instead of the station's own place"
    )
    parser.add_argument("--mode", metavar="M", help="SSB, CW, FM or DIGITAL instead of the rig's")
    parser.add_argument("--power", type=command_base.number, metavar="W", help="watts instead of the rig's")
    add_contacts(parser)
    command_base.add_station(parser)
    command_base.add_conditions(parser)
    command_base.add_output(parser)


def add_contacts(parser: argparse.ArgumentParser) -> None:
    """Add --contacts: the number of contacts that the chance with a region applies to."""
    parser.add_argument(
        "--contacts",
        type=command_base.number,
        metavar="N",
        help=f"the chance with a region is of so many contacts in an hour (usually {CONTACTS})",
    )


def ask(args: argparse.Namespace, times: TimeArray) -> Request:
    """The request of the options at these times; InputError for invalid options."""
    from propagation.signal.chances.request import Request
    from propagation.spectrum import modes
    from propagation.station import friends
    from propagation.station.terminals import far_terminal, own_terminal
    from tui.app import learnt_store
    from tui.app.command_base import saved_friends

    if args.power is not None and not 0.001 <= args.power <= 5000.0:
        raise InputError(f"--power {args.power:g} W is outside 0.001 to 5000 W.")
    if args.mode is not None:
        modes.by_name(args.mode)
    contacts = _contacts(vars(args).get("contacts"))
    station = command_base.station_of(args)
    if contacts is not None:
        station = replace(station, people=replace(station.people, contacts=contacts))
    file = command_base.station_path(args)
    if args.start_place is not None:
        # corrections learnt from a log apply only at their own site, noise included
        position, _ = command_base.place(args.start_place)
        station = moved(station, position)
        near = own_terminal(station)
    else:
        near = learnt_store.own_terminal(station, file)
    people = saved_friends()
    target = friends.resolve(args.to, people, station.site.position)
    return Request(
        station,
        target,
        times,
        command_base.conditions_of(args, times),
        mode=args.mode,
        power_w=args.power,
        near=near,
        far=far_of(args.to, people) or far_terminal(station.far_end),
    )


def add_other_side(parser: argparse.ArgumentParser) -> None:
    """Add --or-from and --or-station: a second site to compare with the first."""
    parser.add_argument("--or-from", metavar="PLACE", help="beside it: the same station at another place")
    parser.add_argument("--or-station", type=Path, metavar="FILE", help="beside it: another station file")


def ask_other_side(args: argparse.Namespace, times: TimeArray) -> tuple[str, Request] | None:
    """The same request from the second site, with its label; None if there is no second site."""
    if args.or_from is None and args.or_station is None:
        return None
    changed = vars(args).copy()
    if args.or_station is not None:
        changed["station"] = args.or_station
    if args.or_from is not None:
        changed["start_place"] = args.or_from
    question = ask(argparse.Namespace(**changed), times)
    return args.or_from or question.station.name or str(args.or_station), question


def _contacts(asked_for: float | None) -> int | None:
    """The value of --contacts, a whole number."""
    if asked_for is None:
        return None
    if asked_for != int(asked_for) or not 1 <= asked_for <= MOST_CONTACTS:
        raise InputError(f"--contacts {asked_for:g} is not a whole number from 1 to {MOST_CONTACTS}.")
    return int(asked_for)


def moved(station: Station, position: Position) -> Station:
    """The station at another place: skyline and height are dropped; region and licence follow the place."""
    site = replace(station.site, position=position, itu_region=0, horizon=(), height_m=0.0)
    country = station.limits.country
    abroad = country is not None and country.region != site.region
    limits = replace(station.limits, national="") if abroad else station.limits
    return replace(station, site=site, limits=limits)


def far_of(text: str, people: tuple[Friend, ...]) -> Terminal | None:
    """A friend's terminal, from file or plain words; None if the text names no friend."""
    from propagation.geo.gazetteer import fold
    from propagation.station.terminals import far_terminal, own_terminal

    for friend in people:
        if fold(friend.name) == fold(text):
            folder = paths.friends_file().parent if is_file(paths.friends_file()) else paths.demo_dir()
            station = friend.full_station(folder)
            return own_terminal(station) if station is not None else far_terminal(friend.far_end())
    return None


def far_party(text: str, target: Target) -> Party:
    """The other end's clock and waking hours: a friend's, or the usual ones at that place."""
    from zoneinfo import ZoneInfo

    from propagation.advice.sked import Party, party_of_friend
    from propagation.geo import places
    from propagation.geo.gazetteer import fold
    from tui.app.command_base import saved_friends

    for friend in saved_friends():
        if fold(friend.name) == fold(text):
            return party_of_friend(friend)
    return Party(target.name, target.centre, ZoneInfo(places.time_zone(target.centre)))


def span(args: argparse.Namespace) -> TimeArray:
    """The times of --date, --start and --hours: a day from now on by default, of --date the whole day."""
    from propagation.signal.chances.forecast import day_times

    start = beginning(args.date, args.start or ("now" if args.date is None else None))
    start = start.astype("datetime64[s]").astype(np.int64) // STEP_S * STEP_S  # no time just past is left out
    hours = 24.0 if args.hours is None else args.hours
    if not 0.25 <= hours <= LONGEST_HOURS:
        raise InputError(f"--hours {hours:g} is outside 0.25 to {LONGEST_HOURS:g} hours.")
    return day_times(np.datetime64(int(start), "s"), hours)


def beginning(date: str | None, start: str | None) -> np.datetime64:
    """The start time given by --date and --start, with the same rule in every command.

    date: a day, None for today. start: a time of that day, or None for the beginning of the day. A full date
    and time as start must be of the day given.
    """
    day = clock.parse_date(date) if date is not None else None
    if start is None:
        begin: np.datetime64 = (clock.today() if day is None else day).astype("datetime64[s]")
        return begin
    if day is not None and re.fullmatch(r"\s*\d{1,2}:\d\d\s*[Zz]?\s*", start):
        at: np.datetime64 = day.astype("datetime64[s]") + clock.parse_hour(start)
        return at
    moment = clock.parse_time(start)
    if day is not None and date != "today" and moment.astype("datetime64[D]") != day:
        raise InputError(f"--start {start!r} is not on --date {date!r}; give one of them, or --start 07:30.")
    return moment
