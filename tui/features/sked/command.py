"""`bandwhen sked`: times and bands that suit both stations, as text, JSON or a calendar file."""

from __future__ import annotations

import argparse
import sys
import textwrap
from pathlib import Path
from typing import TYPE_CHECKING, Final

import numpy as np

from propagation.base import files
from propagation.base.errors import InputError
from propagation.wording import quantities as say
from tui.app import clock, command_base, forecast_options, paths
from tui.kit.format import text_width

if TYPE_CHECKING:
    from propagation.advice.sked import Party, Sked
    from propagation.signal.chances.request import Request
    from propagation.station.station import Station
    from tui.app.command_base import Subparsers

NOTHING: Final = 3
DAYS: Final = 7  # default number of days searched
SORTS: Final = ("chance", "time", "day")  # of the proposals, the first by default
MOST_WHOLE: Final = 1_000_000  # of days or proposals; the sensible range is checked where the number is used


def add_parser(subparsers: Subparsers) -> None:
    """Describe the command's options."""
    parser = subparsers.add_parser(
        "sked",
        help="when two stations can meet: an appointment on the air",
        description="The hours in the coming days that suit both ends, on bands inside both licences, ranked "
        "by the chance of the contact, each with a fallback.",
    )
    parser.add_argument(
        "--to", "--with", dest="friend", required=True, metavar="WHO", help="a friend, or a place"
    )
    parser.add_argument(
        "--date",
        metavar="D",
        help="look from this day on, as saturday; or on these days, as saturday..sunday, weekend; UTC",
    )
    parser.add_argument("--start", metavar="T", help="look from here on (default: now), UTC")
    parser.add_argument("--days", type=_whole, metavar="N", help="so many days (default: 7)")
    parser.add_argument("--minutes", type=_whole, default=30, metavar="N", help="length (default: 30)")
    parser.add_argument(
        "--most", type=_whole, default=8, metavar="N", help="so many proposals, repeats as one (default: 8)"
    )
    parser.add_argument("--band", metavar="BAND", help="on this band only, as 20m")
    parser.add_argument(
        "--sort", choices=SORTS, default="chance", help="order of the proposals (default: chance)"
    )
    spans = "spans of local time, as 07:00-09:00,18:00-22:00"
    parser.add_argument("--awake", metavar="SPANS", help=f"when you are awake: {spans}")
    parser.add_argument("--free", default="", metavar="SPANS", help="when you are free, likewise")
    parser.add_argument("--their-awake", metavar="SPANS", help="when they are awake, instead of the list's")
    parser.add_argument("--their-free", default="", metavar="SPANS", help="when they are free, likewise")
    parser.add_argument("--their-zone", metavar="ZONE", help="their time zone, as America/Montevideo")
    parser.add_argument(
        "--from", dest="start_place", metavar="PLACE", help="instead of the station's own place"
    )
    parser.add_argument("--mode", metavar="M", help="SSB, CW, FM or DIGITAL instead of the rig's")
    parser.add_argument("--power", type=command_base.number, metavar="W", help="watts instead of the rig's")
    parser.add_argument(
        "--calendar", type=Path, metavar="FILE", help="write the proposals as iCalendar (.ics)"
    )
    parser.add_argument("--force", action="store_true", help="write over a file that another program made")
    command_base.add_station(parser)
    command_base.add_conditions(parser)
    command_base.add_output(parser)


def _whole(text: str) -> int:
    try:
        value = int(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text[:40]!r} is not a whole number") from None
    if abs(value) > MOST_WHOLE:
        raise argparse.ArgumentTypeError(f"{text[:40]!r} is not a sensible number here")
    return value


def run(args: argparse.Namespace) -> int:
    """Search, print, and write the calendar; return 3 if no hour suits."""
    from dataclasses import replace

    from propagation.advice.sked import first_rows, sked
    from propagation.spectrum import bands
    from propagation.wording.sked import none_sentence

    start, until = _days(args)
    args.to = args.friend
    question = forecast_options.ask(args, np.array([start, until]))
    if question.target.is_region:
        raise InputError(_region_sentence(args, question))
    home, far, far_station = _parties(args, question)
    if args.most < 1:
        raise InputError(f"--most {args.most} is no number of proposals; give 1 or more.")
    if args.band is not None:
        question = replace(question, bands=[bands.by_name(args.band)])
    most = args.most * (round(float((until - start) / np.timedelta64(1, "D"))) + 1)
    found = sked(question, home, far, far_station=far_station, minutes=args.minutes, most=most)
    found = first_rows(found, args.most)
    if args.calendar is not None and found.slots:
        _write_calendar(args.calendar, found, args.force)
    command_base.answer(args, _data(found), _text(found, question, args.sort), _plain(found, args.sort))
    if found.slots:
        return 0
    print(none_sentence(found), file=sys.stderr)
    return NOTHING


def _region_sentence(args: argparse.Namespace, question: Request) -> str:
    """An appointment needs one place: offer the friends in the region."""
    from propagation.station import friends
    from propagation.wording.sked import friends_there_sentence, one_place_sentence

    known = command_base.saved_friends()
    there = friends.inside(question.target, known, question.station.site.position)
    offered = friends_there_sentence([f.name for f in there], [f.name for f in known])
    return f"{one_place_sentence(question.target.name, args.friend)} {offered}".rstrip()


def _days(args: argparse.Namespace) -> tuple[np.datetime64, np.datetime64]:
    """Start and end of the search. A range of dates ends with its last day."""
    first, count = clock.parse_days(args.date) if args.date is not None else (None, None)
    if count is not None and args.days is not None:
        raise InputError(f"--date {args.date!r} names its last day already; leave out --days {args.days}.")
    if args.days is not None and not 1 <= args.days <= clock.MOST_DAYS:
        raise InputError(f"{args.days} days ahead are not possible: give 1 to {clock.MOST_DAYS}.")
    if first is None or count is None:
        start = _from(args, args.date, args.start or ("now" if args.date is None else None))
        return start, start + np.timedelta64(args.days or DAYS, "D")
    start = first.astype("datetime64[s]")
    until = start + np.timedelta64(count, "D")
    if args.start is not None:
        start = _from(args, str(first), args.start)
    if first == clock.today() and args.start is None:
        start = max(start, clock.now())
    return start, until


def _from(args: argparse.Namespace, date: str | None, start: str | None) -> np.datetime64:
    return forecast_options.beginning(date, start, command_base.here_of(args))


def _parties(args: argparse.Namespace, question: Request) -> tuple[Party, Party, Station | None]:
    from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

    from propagation.advice.sked import Party, party_of_station
    from propagation.geo import places
    from propagation.station import friends
    from propagation.station.station import AWAKE, awake_minutes

    for spans in (args.awake, args.free, args.their_awake, args.their_free):
        if spans:
            awake_minutes(spans)
    home = party_of_station(question.station, args.awake or "", args.free)
    friend = friends.by_name(args.friend, command_base.saved_friends())
    position = question.target.centre
    zone = args.their_zone or (friend.zone.key if friend is not None else places.time_zone(position))
    try:
        their_zone = ZoneInfo(zone)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        raise InputError(f'--their-zone {zone!r} is not known; write it as "America/Montevideo".') from None
    awake = args.their_awake or (friend.awake if friend is not None else AWAKE)
    free = args.their_free or (friend.free if friend is not None else "")
    far = Party(question.target.name, position, their_zone, awake, free)
    return home, far, friend.full_station(paths.friends_folder()) if friend is not None else None


def _write_calendar(file: Path, found: Sked, force: bool) -> None:
    from propagation.advice.calendar import CALENDAR_MARK, calendar_text
    from propagation.wording.sked import events

    text = calendar_text(events(found), clock.now(), f"{found.home.name} and {found.far.name}")
    remedy = "give --force to write over it, or another name"
    files.export(file, text.encode(), (CALENDAR_MARK,), force=force, remedy=remedy)


def _data(found: Sked) -> dict[str, object]:
    from propagation.wording.sked import left_out

    return {
        "home": _party(found.home),
        "far": _party(found.far),
        "mode": found.mode.name,
        "hours_both": found.hours_both,
        "gets_up": found.gets_up,
        "slots": [
            {
                "rank": slot.rank,
                "start": slot.start,
                "end": slot.end,
                "band": slot.band,
                "frequency_mhz": slot.frequency_mhz,
                "chance": slot.chance,
                "home_clock": found.home.local(slot.start).isoformat(),
                "far_clock": found.far.local(slot.start).isoformat(),
                "fallback": None
                if slot.fallback is None
                else {
                    "band": slot.fallback.band,
                    "frequency_mhz": slot.fallback.frequency_mhz,
                    "start": slot.fallback.start,
                    "chance": slot.fallback.chance,
                },
            }
            for slot in found.slots
        ],
        "bands": [
            {"band": row.band.name, "low_mhz": row.low_mhz, "high_mhz": row.high_mhz}
            for row in found.candidates
        ],
        "left_out": [{"band": band, "reason": reason} for band, reason in left_out(found)],
    }


def _party(party: Party) -> dict[str, object]:
    return {
        "name": party.name,
        "lat_deg": party.position.lat_deg,
        "lon_deg": party.position.lon_deg,
        "time_zone": party.zone.key,
        "awake": party.awake,
        "free": party.free or None,
    }


def _heading(found: Sked) -> str:
    from propagation.wording.sked import days_words

    return (
        f"{found.home.name} ({found.home.zone.key}) and {found.far.name} ({found.far.zone.key}), "
        f"{found.mode.name}, {days_words(found)}: {found.hours_both:.1f} hours a day suit both"
    )


def _proposals(found: Sked, sort: str) -> list[str]:
    """The proposals, numbered, and the better hour that suits one end alone."""
    from propagation.advice.sked import in_order
    from propagation.wording.sked import gets_up_sentence, row_sentence

    rows = in_order(found.rows, sort)
    lines = [f"{number}. {row_sentence(row, found)}" for number, row in enumerate(rows, start=1)]
    return [*(lines or ["No hour suits."]), *([gets_up_sentence(found)] if found.gets_up else [])]


def _text(found: Sked, question: Request, sort: str) -> str:
    from propagation.wording.sked import left_out

    lines = textwrap.wrap(_heading(found), text_width())
    lines += textwrap.wrap(
        f"Conditions: {command_base.conditions_words(question.conditions, found.times[0])}", text_width()
    )
    lines.append("")
    for told in _proposals(found, sort):
        lines += textwrap.wrap(told, text_width(), subsequent_indent="   ")
    lines += [f"Left out: {say.band_title(band)}, {reason}." for band, reason in left_out(found)]
    return "\n".join(lines)


def _plain(found: Sked, sort: str) -> str:
    from propagation.wording.sked import left_out

    lines = [f"{_heading(found)}.", *_proposals(found, sort)]
    lines += [f"{say.band_title(band)}: left out, {reason}." for band, reason in left_out(found)]
    return "\n".join(lines)
