"""The options of `advise`, `why` and similar commands, and the forecast request made from them."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from propagation.base.errors import InputError
from propagation.station.far_ends import CONTACTS, MOST_CONTACTS
from propagation.wording import quantities as says
from tui.app import clock, command_base, outing_journal, paths, times_typed

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
WHOLE_DAY_H = 24.0
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
    mode, power_w = command_base.as_on_screens(args)
    if contacts is not None:
        station = replace(station, people=replace(station.people, contacts=contacts))
    file = command_base.file_in_use(args)
    if args.start_place is not None:
        # corrections learnt from a log apply only at their own site, noise included
        position, _ = command_base.place(args.start_place)
        station = moved(station, position)
        command_base.tell_clock(args, station.site.zone)
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
        mode=mode,
        power_w=power_w,
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
    name = question.station.name or str(args.or_station)
    return name if args.or_from is None else _spelt(args.or_from), question


def _spelt(text: str) -> str:
    """A place as it is spelt: the name of a friend or a town alone, where that was typed."""
    from propagation.geo.gazetteer import fold

    name = command_base.place(text)[1]
    short = name.split(",")[0]
    return short if fold(short) == fold(text) else name


def _contacts(asked_for: float | None) -> int | None:
    """The value of --contacts, a whole number."""
    if asked_for is None:
        return None
    if asked_for != int(asked_for) or not 1 <= asked_for <= MOST_CONTACTS:
        raise InputError(f"--contacts {asked_for:g} is not a whole number from 1 to {MOST_CONTACTS}.")
    return int(asked_for)


def moved(station: Station, position: Position) -> Station:
    """The station at another place: skyline, height and time zone are dropped; region and licence follow."""
    site = replace(station.site, position=position, itu_region=0, horizon=(), height_m=0.0, time_zone="")
    country = station.limits.country
    abroad = country is not None and country.region != site.region
    limits = replace(station.limits, national="") if abroad else station.limits
    return replace(station, site=site, limits=limits)


def far_of(text: str, people: tuple[Friend, ...]) -> Terminal | None:
    """A friend's terminal, from file or plain words; None if the text names no friend."""
    from propagation.station import friends
    from propagation.station.terminals import far_terminal, own_terminal

    friend = friends.by_name(text, people)
    if friend is None:
        return None
    station = friend.full_station(paths.friends_folder())
    return own_terminal(station) if station is not None else far_terminal(friend.far_end())


def far_party(text: str, target: Target) -> Party:
    """The other end's clock and waking hours: a friend's, or the usual ones at that place."""
    from zoneinfo import ZoneInfo

    from propagation.advice.sked import Party, party_of_friend
    from propagation.geo import places
    from propagation.station import friends

    friend = friends.by_name(text, command_base.saved_friends())
    if friend is not None:
        return party_of_friend(friend)
    return Party(target.name, target.centre, ZoneInfo(places.time_zone(target.centre)))


def span(args: argparse.Namespace) -> TimeArray:
    """The times of --date, --start and --hours: a day from now on by default, of --date the whole day."""
    from propagation.signal.chances.forecast import day_times

    start, hours = on_air(args, WHOLE_DAY_H)
    seconds = int(start.astype(np.int64)) // STEP_S * STEP_S  # no time just past is left out
    if not 0.25 <= hours <= LONGEST_HOURS:
        raise InputError(f"--hours {hours:g} is outside 0.25 to {LONGEST_HOURS:g} hours.")
    return day_times(np.datetime64(seconds, "s"), hours)


def add_time_options(parser: argparse.ArgumentParser, date: str, start: str, hours: str) -> None:
    """Add --date, --start and --hours with their help; `on_air` reads them."""
    parser.add_argument("--date", metavar="D", help=date)
    parser.add_argument("--start", metavar="T", help=start)
    parser.add_argument("--hours", metavar="N", help=hours)


def on_air(args: argparse.Namespace, usual_hours: float) -> tuple[np.datetime64, float]:
    """Start [s] and length [h] of the time given by --date, --start and --hours, each as a person types it.

    A span may be given by any of them: `--start "saturday 09:00-13:00"`, `--hours 9-13`. InputError where two
    of them say different things.
    """
    here = command_base.here_of(args)
    hours, spanned = _hours(args.hours)
    start = args.start
    if spanned:
        if start is not None:
            raise InputError(
                f"--start {start!r} and --hours {spanned!r} both name a start; give one of them."
            )
        start = spanned
    if start is None and args.date is None:
        start = "now"
    found = _given(args.date, start, here)
    if found.hours is not None and hours is not None and abs(found.hours - hours) > 1e-6:
        raise InputError(
            f"The time given ends after {found.hours:.3g} hours and --hours says {hours:g}; leave one out."
        )
    length = hours if found.hours is None else found.hours
    return found.start, usual_hours if length is None else length


def take_outing(args: argparse.Namespace) -> None:
    """Use the outing under way, as the screens do, where nothing is said of the time: its hours, target, dead
    bands. A sentence on standard error says so.
    """
    if any(vars(args)[key] is not None for key in ("date", "start", "hours")):
        return
    outing, told = outing_journal.load(clock.now())
    if told:
        command_base.note(told)
    if outing is None or outing.end <= clock.now():
        return
    start = max(outing.start, clock.now().astype("datetime64[s]"))
    args.start = f"{start}Z"
    args.hours = f"{float((outing.end - start) / np.timedelta64(1, 'h')):.4f}"
    args.to = args.to or ([outing.target] if outing.target else None)
    args.bands = args.bands or ",".join(outing.bands)
    args.dead = [*args.dead, *outing.dead_bands]
    dead = f", without {' and '.join(outing.dead_bands)}" if outing.dead_bands else ""
    command_base.note(
        f"For the outing under way: {says.date(start)}, {says.both_spans(start, outing.end)}{dead}; "
        "--start and --hours set others."
    )


def _hours(text: str | None) -> tuple[float | None, str]:
    """The value of --hours: a length [h], or the text of a span of the clock."""
    if text is None:
        return None, ""
    try:
        return command_base.number(text), ""
    except argparse.ArgumentTypeError:
        pass
    length = times_typed.length_hours(text)
    if length is None:
        try:
            ends = times_typed.span(text).hours is not None
        except InputError:
            ends = False
        if not ends:
            raise InputError(f"--hours {text!r} is no length; write it as 4, 90 min or 09:00-13:00.")
    return length, text if length is None else ""


def beginning(
    date: str | None, start: str | None, here: Callable[[], times_typed.Here] | None = None
) -> np.datetime64:
    """The start time given by --date and --start, with the same rule in every command.

    date: a day, None for today. start: a time of that day, or None for the beginning of the day. A full date
    and time as start must be of the day given.
    """
    return _given(date, start, here).start


def _given(
    date: str | None, start: str | None, here: Callable[[], times_typed.Here] | None
) -> times_typed.Span:
    """The span given by --date and --start; without an end if neither names one."""
    try:
        day = clock.parse_date(date) if date is not None else None
    except InputError as error:
        try:
            whole = times_typed.span(str(date), here)
        except InputError:
            raise error from None
        if start is not None:
            raise InputError(f"--date {date!r} names a start already; leave out --start {start!r}.") from None
        return whole
    if start is None:
        begin = (clock.today() if day is None else day).astype("datetime64[s]")
        return times_typed.Span(begin)
    found = times_typed.span(start, here, day)
    if day is not None and date != "today":
        other = times_typed.span(start, here, day + np.timedelta64(1, "D"))
        named = other.start == found.start  # the time names a day of its own
        if named and day not in times_typed.days_of(found.start, here):
            raise InputError(
                f"--start {start!r} is not on --date {date!r}; give one of them, or --start 07:30."
            )
    return found
