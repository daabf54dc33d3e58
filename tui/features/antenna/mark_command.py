"""`bandwhen antenna mark`: note, list and forget the operator's own marks of tuned bands."""

from __future__ import annotations

import argparse
from dataclasses import asdict, replace
from typing import TYPE_CHECKING

from propagation.base.errors import InputError
from propagation.base.files import locked
from propagation.wording import quantities as say
from tui.app import clock, command_base, own_marks
from tui.features.antenna.measure_command import file_of

if TYPE_CHECKING:
    from propagation.station.station import Station
    from tui.app.command_base import Subparsers


def add_parser(actions: Subparsers) -> None:
    """Describe the action's options."""
    mark = actions.add_parser(
        "mark",
        help="your own marks of tuned bands: note them, list them, estimates for the other bands",
        description="Note where the coil's contact or the whip's sections stand on a tuned band, as 40m=34 "
        "or '10m=second ring, 3 out'; without a mark, list those kept and the estimates for the other bands.",
    )
    mark.add_argument("marks", nargs="*", metavar="BAND=MARK", help="a band and its mark, as 40m=34")
    mark.add_argument("--forget", metavar="BAND", help="forget the marks kept for a band")
    command_base.add_station(mark)
    command_base.add_output(mark)


def run(args: argparse.Namespace, station: Station) -> int:
    """Note or forget marks, and list them."""
    from propagation.antennas import marks
    from propagation.spectrum.bands import by_name
    from propagation.station import station as stations

    wanted = [_pair(text) for text in args.marks]
    if wanted or args.forget:
        target = file_of(args)
        with locked(target):
            station = stations.load(target)
            before = station.antenna
            if args.forget:
                spec = marks.forgotten(before, station.centre_mhz(by_name(args.forget)))
                if spec == before:
                    raise InputError(f"No mark of {by_name(args.forget).name} is kept in {target}.")
                station = replace(station, antenna=spec)
            date = str(clock.now().astype("datetime64[D]"))
            for band, text in wanted:
                station = own_marks.with_mark(station, band, text, station.rig.mode, date)
            stations.save(station, target)
    return _list(args, station)


def _pair(text: str) -> tuple[str, str]:
    from propagation.spectrum.bands import by_name

    band, equals, mark = text.partition("=")
    if not equals or not mark.strip():
        raise InputError(f"{text!r} is no band and mark; write it as 40m=34.")
    return by_name(band.strip()).name, mark.strip()


def _list(args: argparse.Namespace, station: Station) -> int:
    """Print the marks kept, those set aside, and the estimates for the other bands."""
    from propagation.antennas import marks
    from propagation.antennas.factory import build
    from propagation.antennas.measurements import changes
    from propagation.spectrum.bands import BANDS
    from propagation.wording.setup import mark_words, noted_words, where_words

    antenna = build(station.antenna, station.site.earth, station.feedline)
    spec, estimates, told = antenna.spec, {}, []
    for band in BANDS:
        frequency = station.centre_mhz(band)
        known = marks.in_use(spec, frequency)
        if known is not None:
            told.append(f"{say.band_title(band.name)}: mark {noted_words(known)}.")
            continue
        found = marks.mark_for(antenna, frequency) if station.usable(band) else None
        if found is not None:
            estimates[band.name] = found
            told.append(f"{say.band_title(band.name)}: {mark_words(found)}.")
    for one in marks.set_aside(spec):
        why = "; ".join(changes(one, spec))
        told.append(f"Set aside: mark {one.text} {where_words(one)}, of another antenna ({why}).")
    if not told:
        told = ["No mark is kept; 'bandwhen antenna mark 40m=34' notes one."]
    as_json = {
        "marks": [{**asdict(one), "in_use": not changes(one, spec)} for one in spec.marks],
        "estimates": {band: asdict(found) for band, found in estimates.items()},
    }
    command_base.answer(args, as_json, "\n".join(told), "\n".join(told))
    return 0
