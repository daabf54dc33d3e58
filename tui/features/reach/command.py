"""`bandwhen path`: the path between two places at a time: modes, MUF, take-off angles, skip of every band."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from propagation.base.errors import InputError
from propagation.wording import quantities as say
from tui.app import clock, command_base
from tui.kit import format as fmt

if TYPE_CHECKING:
    import numpy as np

    from propagation.geo.locator import Position
    from propagation.signal.chances.path import Path
    from propagation.space_weather.state.conditions import Conditions
    from tui.app.command_base import Subparsers


def add_parser(subparsers: Subparsers) -> None:
    """Describe the command's options."""
    parser = subparsers.add_parser(
        "path",
        help="the path between two places: modes, MUF, skip, take-off angle",
        description="The modes of a path at a time, in the month's median, and each band's skip distance, on "
        "half of the days.",
    )
    parser.add_argument(
        "--from", dest="start_place", metavar="PLACE", help="where the path starts (default: at your station)"
    )
    parser.add_argument("--to", required=True, dest="end", metavar="PLACE", help="where it ends")
    command_base.add_time(parser)
    parser.add_argument("--long", action="store_true", help="the long way round")
    parser.add_argument("--mode", metavar="M", help="for the lowest usable frequency (default: SSB)")
    parser.add_argument(
        "--frequency",
        type=command_base.number,
        metavar="MHZ",
        help="take-off angles at this frequency instead of each mode's MUF",
    )
    command_base.add_station(
        parser,
        "power, antennas and noise for the lowest usable frequency (default: those of your station where the "
        "path starts there, else 100 W and 0 dBi at both ends)",
    )
    command_base.add_conditions(parser)
    command_base.add_output(parser)


def run(args: argparse.Namespace) -> int:
    """Compute and print the result."""
    import numpy as np

    from propagation.signal.chances.path import single_path
    from propagation.space_weather.state.event_absorption import Effects
    from propagation.space_weather.state.storm_corrections import corrections_of
    from propagation.spectrum import bands

    if args.frequency is not None and not 1.0 <= args.frequency <= 60.0:
        raise InputError(f"{args.frequency:g} MHz is outside 1 to 60 MHz, where the layers reflect.")
    tx, start = command_base.place_or_own(args.start_place, args)
    rx, end = command_base.place(args.end)
    time = command_base.time_of(args, args.time)
    command_base.tell_clock(args, command_base.here_at(tx).zone)
    state = command_base.conditions_of(args, time)
    region = bands.itu_region(tx.lat_deg, tx.lon_deg)
    centres = {band.name: bands.centre_mhz(band, region, "SSB") for band in bands.BANDS}
    found = single_path(
        tx,
        rx,
        time,
        float(state.index_at(time)),
        long=args.long,
        frequency_mhz=args.frequency,
        bands_mhz=centres,
        disturber=corrections_of(state, Effects(), np.asarray([time])),
    )
    lowest, meant = _lowest(args, tx, rx, time, state)
    result = {
        "distance_km": found.distance_km,
        "bearing_deg": found.bearing_deg,
        "muf_mhz": found.muf_mhz,
        "modes": found.ray_paths,
        "skip_km": found.skip_km,
        "lowest_usable_mhz": lowest,
        "lowest_usable_for": meant,
        "from": start,
        "to": end,
        "time": fmt.iso(time),
        "route": "long" if args.long else "short",
        "conditions": state.as_dict(time, clock.now()),
    }
    command_base.answer(args, result, _text(result, found, state, time), _plain(result, found, state, time))
    return 0


def _lowest(
    args: argparse.Namespace, tx: Position, rx: Position, time: np.datetime64, state: Conditions
) -> tuple[float | None, str]:
    """Lowest usable frequency [MHz], and the mode and station to which it applies."""
    from propagation.base.units import as_float
    from propagation.geo.ground import GROUNDS
    from propagation.signal.chances.lowest_usable import lowest_usable_mhz
    from propagation.spectrum import modes
    from propagation.spectrum.bands import BANDS
    from propagation.station.terminals import far_terminal, own_terminal, plain_terminal

    from_own = args.start_place is None or command_base.station_path(args) is not None
    frequency, ground = None, GROUNDS["average"]
    if not from_own:
        mode, sender, receiver = (
            modes.by_name(args.mode or "SSB"),
            plain_terminal(100.0),
            plain_terminal(100.0),
        )
        meant = f"{mode.name}, 100 W and a 0 dBi antenna at either end"
    else:
        own = command_base.station_of(args)
        mode = modes.by_name(args.mode or own.rig.mode)
        sender, receiver = own_terminal(own), far_terminal(own.far_end)
        ground = own.site.earth
        meant = f"{mode.name} from {own.name or 'your station'}"
        # the antenna is computed at the bands' frequencies only, as everywhere
        frequency = as_float([own.centre_mhz(band, mode) for band in BANDS if band.widest_mhz[1] < 30.0])
    lowest = lowest_usable_mhz(
        tx, rx, time, state, mode, sender, receiver, ground=ground, long=args.long, frequency_mhz=frequency
    )
    return lowest, meant


def _lowest_text(result: dict[str, object]) -> str:
    lowest = result["lowest_usable_mhz"]
    if lowest is None:
        return f"No frequency is usable for {result['lowest_usable_for']}"
    return f"Lowest usable frequency {lowest:.1f} MHz for {result['lowest_usable_for']}"


def _heading(result: dict[str, object], time: np.datetime64) -> str:
    route = ", the long way" if result["route"] == "long" else ""
    return f"{result['from']} to {result['to']}{route}, {say.day_month(time)}, {say.both_clocks(time)}"


def _skip_text(km: float | None) -> str:
    if km is None:
        return "no layer returns it"
    return "returned from overhead" if km < 1.0 else say.kilometres(km)


def _text(result: dict[str, object], found: Path, state: Conditions, time: np.datetime64) -> str:
    modes = [
        [
            f"{mode.hops} x {mode.layer}",
            say.kilometres(mode.hop_km),
            f"{mode.elevation_deg:.0f}°",
            f"{mode.mirror_height_km:.0f} km",
            f"{mode.muf_mhz:.1f} MHz",
        ]
        for mode in found.ray_paths
    ]
    return "\n".join(
        [
            _heading(result, time),
            f"{say.kilometres(found.distance_km)}, bearing {say.bearing(found.bearing_deg)}",
            f"Basic MUF {found.muf_mhz:.1f} MHz",
            _lowest_text(result),
            f"Conditions: {command_base.conditions_words(state, time)}",
            "",
            fmt.table(modes, ["mode", "hop", "take-off", "mirror", "basic MUF"]),
            "",
            "Skip distance, the nearest place to which a layer returns a band on half of the days:",
            fmt.table([[band, _skip_text(km)] for band, km in found.skip_km.items()]),
        ]
    )


def _plain(result: dict[str, object], found: Path, state: Conditions, time: np.datetime64) -> str:
    lines = [
        f"{_heading(result, time)}.",
        f"The distance is {say.kilometres(found.distance_km)} and the bearing "
        f"{found.bearing_deg:.0f} degrees, {say.compass(found.bearing_deg)}.",
        f"The basic MUF is {found.muf_mhz:.1f} MHz.",
        f"{_lowest_text(result)}.",
    ]
    lines += [
        f"{mode.hops} {'hop' if mode.hops == 1 else 'hops'} by the {mode.layer} layer: "
        f"{say.kilometres(mode.hop_km)} each, take-off {mode.elevation_deg:.0f} degrees, mirror at "
        f"{mode.mirror_height_km:.0f} km, basic MUF {mode.muf_mhz:.1f} MHz."
        for mode in found.ray_paths
    ]
    lines += [f"{say.band_title(band)}: {say.skip_words(km)}." for band, km in found.skip_km.items()]
    lines.append(f"Conditions: {command_base.conditions_words(state, time)}.")
    return "\n".join(lines)
