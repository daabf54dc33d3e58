"""`bandwhen station`: write a commented station file, show the one in use, check a file."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING, Any

from propagation.base import safe_write
from propagation.wording.quantities import percent
from tui.app import command_base, paths
from tui.kit.format import number

if TYPE_CHECKING:
    from propagation.station.station import Station

TEMPLATE = Path(__file__).with_name("station_template.toml")
EXAMPLE_LOCATOR = "KG40rs"  # the demo's ridge


def add_parser(subparsers: Any) -> None:
    """Describe the command's options."""
    parser = subparsers.add_parser(
        "station",
        help="write, show or check a station file",
        description="The station: where it stands, what it sends with, its antenna, and the far end.",
    )
    actions = parser.add_subparsers(dest="action", metavar="ACTION", required=True)
    new = actions.add_parser("new", help="write a commented file to fill in")
    new.add_argument("file", nargs="?", type=Path, metavar="FILE", help="default: the saved station")
    new.add_argument("--at", metavar="PLACE", help="where it stands: a locator, lat,lon or a known name")
    new.add_argument("--force", action="store_true", help="write over a file that is there")
    show = actions.add_parser("show", help="the station in use, with everything it leaves to the defaults")
    show.add_argument("file", nargs="?", type=Path, metavar="FILE", help="default: the station in use")
    command_base.add_station(show)
    command_base.add_output(show)
    check = actions.add_parser("check", help="read a file and say whether it is right")
    check.add_argument("file", type=Path, metavar="FILE")


def run(args: argparse.Namespace) -> int:
    """Do what was asked."""
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
    text = template(_locator(args.at) if args.at else EXAMPLE_LOCATOR)
    remedy = "give --force to write over it, or another file"
    safe_write.export(target, text.encode(), force=args.force, remedy=remedy, folders=True)
    print(f"Wrote {target}.")
    if args.at is None:
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
    """The commented station file with its locator filled in."""
    return TEMPLATE.read_text(encoding="utf-8").format(locator=locator)


def describe(station: Station) -> list[tuple[str, str]]:
    """The station in words: heading and line."""
    from propagation.geo.locator import locator_of
    from propagation.spectrum.bands import BANDS, LICENCE_REMINDER

    site, rig, far = station.site, station.rig, station.far_end
    earth = site.ground if site.permittivity is None else f"permittivity {site.permittivity:g}"
    place = locator_of(site.position.lat_deg, site.position.lon_deg)
    used = [band.name for band in BANDS if station.usable(band)]
    unused = [band.name for band in BANDS if not station.usable(band)]
    country = f", {station.limits.country.told}" if station.limits.country is not None else ""
    lines = [
        ("station", station.name or "without a name"),
        (
            "site",
            f"{place} ({site.position.lat_deg:.3f}, {site.position.lon_deg:.3f}), {earth} ground, "
            f"{site.noise} noise, ITU region {site.region}{country}, time zone {site.time_zone}",
        ),
        ("rig", f"{rig.power_w:g} W, {rig.mode} ({rig.emission.title}, {rig.emission.bandwidth_hz:g} Hz)"),
        ("antenna", _antenna(station)),
        (
            "feed line",
            f"{number(station.feedline.length_m, 1, 'm')} of {station.feedline.cable}, "
            f"{'with' if station.feedline.choke else 'without'} a choke",
        ),
        ("far end", f"{far.power_w:g} W, {far.antenna} at {far.height_m:g} m, {far.noise} noise"),
        ("bands", f"{', '.join(used)} for {rig.mode}" + (f"; not {', '.join(unused)}" if unused else "")),
        ("licence", LICENCE_REMINDER.rstrip(".")),
    ]
    if site.horizon:
        skyline = ", ".join(f"{elevation:g}° at {azimuth:g}°" for azimuth, elevation in site.horizon)
        lines.insert(2, ("skyline", skyline))
    return lines


def _antenna(station: Station) -> str:
    spec = station.antenna
    if spec.kind == "loaded vertical":
        return (
            f"loaded vertical of {number(spec.whip_m, 2, 'm')}, coil Q {spec.coil_q:g} at "
            f"{spec.coil_height_m:g} m, {spec.radials} radials, feed at {spec.feed_height_m:g} m"
        )
    if spec.kind in ("vertical", "half-wave vertical"):
        return f"{spec.kind}, {spec.radials} radials, feed at {spec.feed_height_m:g} m"
    if spec.kind == "table":
        return f"gain table of {len(spec.table)} rows"
    extra = (
        f", transformer passes {percent(spec.transformer_efficiency)}"
        if spec.kind == "sloping end-fed"
        else ""
    )
    return f"{spec.kind} at {spec.height_m:g} m, azimuth {spec.azimuth_deg:g}°{extra}"
