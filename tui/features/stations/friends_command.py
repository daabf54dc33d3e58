"""`bandwhen friends`: list, add and remove the people to meet on the air."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from propagation.base.errors import InputError
from propagation.base.files import is_file
from propagation.base.text import one_line
from tui.app import command_base, paths
from tui.app.command_base import saved_friends

if TYPE_CHECKING:
    from propagation.station.friends import Friend
    from tui.app.command_base import Subparsers

DEMO_NOTE = "No friends are saved, so this is the invented demo list; 'bandwhen friends add' begins your own."


def add_parser(subparsers: Subparsers) -> None:
    """Describe the command's options."""
    parser = subparsers.add_parser(
        "friends",
        help="the people you want to meet on the air: list, add, remove",
        description="Your friends: where they are, with what station, and when they are awake. A friend's "
        "name can stand wherever a target is asked for.",
    )
    actions = parser.add_subparsers(dest="action", metavar="ACTION", required=True)
    shown = actions.add_parser("list", help="who is on the list")
    command_base.add_output(shown)
    new = actions.add_parser("add", help="put a friend on the list")
    new.add_argument("name", metavar="NAME")
    new.add_argument("place", metavar="PLACE", help="a locator, lat,lon or a known name")
    kit = new.add_mutually_exclusive_group()
    kit.add_argument("--file", metavar="FILE", default="", help="their station file")
    kit.add_argument(
        "--words", default="", help='their station in words: "100 W, dipole at 10 m, residential"'
    )
    new.add_argument("--time-zone", metavar="ZONE", default="", help="default: that of the nearest town")
    new.add_argument("--awake", metavar="SPAN", help="local time, as 07:00-23:00; several with commas")
    new.add_argument("--free", metavar="SPAN", default="", help="when they are free, likewise")
    new.add_argument("--note", metavar="TEXT", default="", help="anything worth remembering")
    gone = actions.add_parser("remove", help="take a friend off the list")
    gone.add_argument("name", metavar="NAME")


def run(args: argparse.Namespace) -> int:
    """Carry out the command."""
    from propagation.station import friends
    from propagation.station.station import AWAKE

    file = paths.friends_file()
    saved = friends.load(file) if is_file(file) else ()
    if args.action == "list":
        return _list(args, saved, file)
    if args.action == "remove":
        friend = friends.find(saved, args.name)
        friends.change(file, lambda now: friends.remove(now, args.name))
        print(f"Took {friend.name} off the list.")
        return 0
    station_file = args.file
    if station_file:
        from propagation.station import station

        try:
            path = Path(station_file).expanduser().resolve()
        except (RuntimeError, ValueError):
            raise InputError(f"{station_file!r} is no path of a file; write it out.") from None
        station.load(path)
        station_file = str(path)
    friend = friends.Friend(
        name=args.name,
        place=args.place,
        station=station_file,
        words=args.words,
        time_zone=args.time_zone,
        awake=args.awake or AWAKE,
        free=args.free,
        note=args.note,
    )
    friends.change(file, lambda now: friends.add(now, friend))
    print(f"Added {friend.name}: {friend.place_name}, time zone {friend.zone.key}, awake {friend.awake}.")
    return 0


def _list(args: argparse.Namespace, saved: tuple[Friend, ...], file: Path) -> int:
    if not is_file(file):
        saved = saved_friends()
        if saved:
            print(DEMO_NOTE, file=sys.stderr)
    if not saved:
        empty = "Nobody is on the list; 'bandwhen friends add NAME PLACE' begins it."
        command_base.answer(args, {"friends": []}, empty, empty)
        return 0
    rows = [
        tuple(
            one_line(cell)
            for cell in (
                friend.name,
                friend.place_name,
                _kit(friend),
                f"{friend.awake} {friend.zone.key}",
                friend.note,
            )
        )
        for friend in saved
    ]
    heads = ("name", "place", "station", "awake, local time", "note")
    widths = [max(len(row[column]) for row in (heads, *rows)) for column in range(len(heads))]
    text = "\n".join(
        "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip()
        for row in (heads, *rows)
    )
    plain = "\n".join(
        f"{name}: at {place}; {kit}; awake {awake}{'; ' + note if note else ''}."
        for name, place, kit, awake, note in rows
    )
    data = {"friends": [_as_data(friend) for friend in saved]}
    command_base.answer(args, data, text, plain)
    return 0


def _kit(friend: Friend) -> str:
    if friend.station:
        return f"as in {Path(friend.station).name}"
    return friend.words or "usual far end"


def _as_data(friend: Friend) -> dict[str, object]:
    return {
        "name": friend.name,
        "place": friend.place,
        "place_name": friend.place_name,
        "lat_deg": friend.position.lat_deg,
        "lon_deg": friend.position.lon_deg,
        "station": friend.station or None,
        "words": friend.words or None,
        "time_zone": friend.zone.key,
        "awake": friend.awake,
        "free": friend.free or None,
        "note": friend.note or None,
    }
