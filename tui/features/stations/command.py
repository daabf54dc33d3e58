"""`bandwhen station`: write a commented station file, show the one in use, check a file."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from propagation.base import files
from tui.app import command_base, paths
from tui.kit.words import describe

if TYPE_CHECKING:
    from tui.app.command_base import Subparsers

TEMPLATE = Path(__file__).with_name("station_template.toml")
EXAMPLE_LOCATOR = "KG40rs"  # the demo's ridge


def add_parser(subparsers: Subparsers) -> None:
    """Describe the command's options."""
    parser = subparsers.add_parser(
        "station",
        help="write, show or check a station file",
        description="The station: where it stands, what it sends with, its antenna, and the far end.",
    )
    actions = parser.add_subparsers(dest="action", metavar="ACTION", required=True)
    new = actions.add_parser("new", help="write a commented file to fill in")
    new.add_argument("file", nargs="?", type=Path, metavar="FILE", help="default: the saved station")
    new.add_argument(
        "--place", "--at", metavar="PLACE", help="where it stands: a locator, lat,lon or a known name"
    )
    new.add_argument("--force", action="store_true", help="write over a file that is there")
    show = actions.add_parser("show", help="the station in use, with everything it leaves to the defaults")
    show.add_argument("file", nargs="?", type=Path, metavar="FILE", help="default: the station in use")
    command_base.add_station(show)
    command_base.add_output(show)
    check = actions.add_parser("check", help="read a file and say whether it is right")
    check.add_argument("file", type=Path, metavar="FILE")


def run(args: argparse.Namespace) -> int:
    """Carry out the command."""
    if args.action == "new":
        return _new(args)
    from propagation.station import station

    found = command_base.station_of(args) if args.file is None else station.load(args.file)
    if args.action == "check":
        print(f"{args.file}: a valid station file.")
    else:
        lines = describe(found)
        text = "\n".join(f"{heading:<10} {line}" for heading, line in lines)
        plain = "\n".join(f"{heading}: {line}." for heading, line in lines)
        command_base.answer(args, found, text, plain)
    return 0


def _new(args: argparse.Namespace) -> int:
    target = args.file or paths.station_file()
    text = template(_locator(args.place) if args.place else EXAMPLE_LOCATOR)
    remedy = "give --force to write over it, or another file"
    files.export(target, text.encode(), force=args.force, remedy=remedy, folders=True)
    print(f"Wrote {target}.")
    if args.place is None:
        print(f"It stands at the example's locator {EXAMPLE_LOCATOR}: open the file and put in your own.")
    if args.file is not None:
        print(
            f"Use it with --station {target}; 'bandwhen station new' without a name makes the saved station."
        )
    return 0


def _locator(text: str) -> str:
    from propagation.geo.locator import locator_of

    position, _ = command_base.place(text)
    return locator_of(position.lat_deg, position.lon_deg, 8)


def template(locator: str) -> str:
    """Return the commented station file with the locator filled in."""
    return TEMPLATE.read_text(encoding="utf-8").format(locator=locator)
