"""`bandwhen antenna measure`: evaluate, save, delete and bring back analyser readings."""

from __future__ import annotations

import argparse
from dataclasses import asdict, replace
from pathlib import Path
from typing import TYPE_CHECKING

from propagation.base.errors import InputError
from propagation.base.files import is_file, read_whole
from propagation.wording.quantities import power_share
from tui.app import clock, command_base, own_marks, paths

if TYPE_CHECKING:
    from propagation.antennas.analyser import AnalyserReading, Verdict
    from propagation.antennas.antenna import Antenna
    from propagation.station.station import Station
    from tui.app.command_base import Subparsers

LARGEST_SWEEP = 5_000_000  # bytes


def add_parser(actions: Subparsers) -> None:
    """Describe the action's options."""
    measure = actions.add_parser(
        "measure",
        help="what an analyser shows: resistance and efficiency of the antenna as it stands",
        description="From the dip and the frequencies of equal SWR beside it, or from a Touchstone file, to "
        "the series resistance and efficiency of the antenna.",
    )
    measure.add_argument("--file", type=Path, metavar="FILE.s1p", help="a one-port Touchstone file")
    measure.add_argument("--dip", type=command_base.number, metavar="MHZ", help="frequency of the lowest SWR")
    measure.add_argument("--swr", type=command_base.number, metavar="S", help="the SWR there")
    for width in ("1.5", "2"):
        measure.add_argument(
            f"--at-{width}",
            nargs=2,
            type=command_base.number,
            metavar=("LOW", "HIGH"),
            dest=f"at_{width.replace('.', '_')}",
            help=f"the two frequencies where the SWR is {width}",
        )
    measure.add_argument(
        "--at-antenna", action="store_true", help="read at the antenna itself, not through the cable"
    )
    measure.add_argument(
        "--direct", action="store_true", help="the cable feeds the antenna without a transformer"
    )
    measure.add_argument(
        "--second",
        nargs=2,
        type=command_base.number,
        metavar=("MHZ", "S"),
        help="another frequency and the SWR there; with --direct it tells the load's side of the match",
    )
    measure.add_argument(
        "--one-radial-more",
        type=command_base.number,
        metavar="S",
        help="the SWR at the dip with one radial more; it too tells the side",
    )
    measure.add_argument(
        "--load",
        choices=("low", "high"),
        help="at the dip the load is below, or above, the cable's impedance",
    )
    measure.add_argument("--keep", action="store_true", help="keep the result in the station file")
    measure.add_argument("--forget", metavar="BAND", help="forget the readings kept for a band")
    measure.add_argument(
        "--bring-back", metavar="BAND", help="use a reading set aside as one of the antenna described now"
    )
    command_base.add_station(measure)
    command_base.add_output(measure)


def _antenna_of(station: Station) -> Antenna:
    from propagation.antennas.factory import build

    return build(station.antenna, station.site.earth, station.feedline, station.power_w, station.rig.emission)


def _reading(args: argparse.Namespace, station: Station) -> AnalyserReading:
    from propagation.antennas.analyser import AnalyserReading
    from propagation.antennas.sweep_reading import from_sweep
    from propagation.antennas.touchstone import read

    edges = [(swr, *pair) for swr, pair in ((1.5, args.at_1_5), (2.0, args.at_2)) if pair]
    low_side = {"low": True, "high": False, None: None}[args.load]
    if args.file is not None:
        if args.dip is not None or args.swr is not None or edges or args.second:
            raise InputError("Give either --file or the readings (--dip, --swr, --at-1.5, --at-2), not both.")
        data = read_whole(args.file, LARGEST_SWEEP, "it is no sweep of an antenna")
        reading = from_sweep(read(data, str(args.file)), station.feedline, args.at_antenna)
        reading = replace(reading, one_radial_more_swr=args.one_radial_more)
        return reading if low_side is None else replace(reading, low_side=low_side)
    second = None if args.second is None else (args.second[0], args.second[1])
    if args.dip is None or args.swr is None or not (edges or second):
        raise InputError(
            "Give the dip and the width: --dip 14.2 --swr 1.2 --at-1.5 14.0 14.35 (or --at-2, --second), or "
            "--file."
        )
    return AnalyserReading(
        args.dip, args.swr, tuple(edges), args.at_antenna, low_side, second, args.one_radial_more
    )


def run(args: argparse.Namespace, station: Station) -> int:
    """Evaluate the reading, or change the saved readings."""
    from propagation.antennas.analyser import analyse

    if args.forget or args.bring_back:
        return _change_reading(args)
    verdict = analyse(_reading(args, station), _antenna_of(station), args.direct)
    saved_in = _keep(args, station, verdict) if args.keep else None
    sentences = [*_verdict_sentences(verdict), *_move(station, verdict.frequency_mhz)]
    if saved_in is not None:
        sentences.append(f"Kept in {saved_in}; every forecast now goes by it.")
    else:
        sentences.append("Not kept; --keep puts it into the station file.")
    as_json = {**asdict(verdict), "kept": None if saved_in is None else str(saved_in)}
    command_base.answer(args, as_json, "\n".join(sentences), "\n".join(sentences))
    return 0


def _move(station: Station, dip_mhz: float) -> list[str]:
    """How to bring the dip to the middle of its band's part."""
    from propagation.spectrum.bands import band_of

    band = band_of(dip_mhz)
    if band is None:
        return []
    return own_marks.move_sentences(_antenna_of(station), dip_mhz, station.centre_mhz(band))


def _change_reading(args: argparse.Namespace) -> int:
    """Delete a band's readings, or bring back a set-aside one."""
    from propagation.base.files import locked
    from propagation.station import station as stations

    target = file_of(args)
    with locked(target):
        return _changed(args, stations.load(target), target)


def _changed(args: argparse.Namespace, station: Station, target: Path) -> int:
    """Make the same change while the file is locked."""
    from propagation.antennas import measurements
    from propagation.spectrum.bands import by_name
    from propagation.station import station as stations
    from propagation.wording.quantities import band_title

    band = by_name(args.forget or args.bring_back)
    frequency, spec = station.centre_mhz(band), station.antenna
    if args.forget:
        antenna = measurements.forgotten(spec, frequency)
        said = f"The reading of {band_title(band.name)} is forgotten; the forecast goes by the description."
        if antenna == spec:
            raise InputError(f"No reading of {band_title(band.name)} is kept in {target}.")
    else:
        if not measurements.set_aside(spec, frequency):
            raise InputError(f"No reading of {band_title(band.name)} is set aside in {target}.")
        antenna = measurements.brought_back(spec, frequency)
        said = (
            f"The reading of {band_title(band.name)} is back, as one of the antenna as it is described now; "
            f"every forecast goes by it."
        )
    stations.save(replace(station, antenna=antenna), target)
    kept = [asdict(one) for one in antenna.measured]
    command_base.answer(args, {"band": band.name, "readings": kept, "station_file": str(target)}, said, said)
    return 0


def file_of(args: argparse.Namespace) -> Path:
    """Return the station file that holds readings and marks; InputError if there is none."""
    target = command_base.file_in_use(args) or paths.station_file()
    if not is_file(target):
        raise InputError(
            "No station is saved to keep readings or marks in; 'bandwhen station new' writes one."
        )
    return Path(target)


def _verdict_sentences(verdict: Verdict) -> list[str]:
    from propagation.spectrum.bands import band_of

    band = band_of(verdict.frequency_mhz)
    where = f"{band.name}, " if band else ""
    told = [f"{where}{verdict.frequency_mhz:.3f} MHz, SWR {verdict.swr_at_antenna:.2f} at the antenna."]
    for side in verdict.sides:
        told.append(
            f"{'If the load is' if len(verdict.sides) > 1 else 'Load'} {side.r:.2f} of the line's impedance: "
            f"{side.total_resistance_ohm:.1f} ohm in series (give or take {side.error_ohm:.1f}), circuit "
            f"efficiency {power_share(side.circuit_efficiency)}, into the sky {power_share(side.efficiency)} "
            f"({side.efficiency_db:.1f} dB, give or take {side.error_db:.1f})."
        )
    told.append(
        f"The description gives {verdict.computed_resistance_ohm:.1f} ohm and "
        f"{power_share(verdict.computed_efficiency)} into the sky."
    )
    return [*told, *verdict.said]


def _keep(args: argparse.Namespace, station: Station, verdict: Verdict) -> Path:
    """Append the measurement to the station file, so that the owner's comments stay."""
    from propagation.base.files import locked

    target = file_of(args)
    with locked(target):
        return _put_in(target, station, verdict)


def _put_in(target: Path, station: Station, verdict: Verdict) -> Path:
    """Add the measurement to the file's current content."""
    from propagation.antennas import measurements
    from propagation.base.strict_toml import read_text, write_atomically, written
    from propagation.station import station as stations

    date = str(clock.now().astype("datetime64[D]"))
    measured = replace(
        verdict.best.measured(verdict.frequency_mhz, date), setup=measurements.setup_text(station.antenna)
    )
    text = read_text(target)
    entry = (
        f"\n[[antenna.measured]]\nfrequency_mhz = {measured.frequency_mhz!r}\n"
        f"total_resistance_ohm = {measured.total_resistance_ohm!r}\nerror_db = {measured.error_db!r}\n"
        f'date = "{measured.date}"\nsetup = {written(measured.setup)}\n'
    )
    try:
        stations.loads(text.rstrip() + "\n" + entry, str(target))
    except InputError:  # [antenna] already lists measurements, so none can be appended: rewrite the file
        now = stations.loads(text, str(target))
        antenna = replace(now.antenna, measured=(*now.antenna.measured, measured))
        stations.save(replace(now, antenna=antenna), target)
        return Path(target)
    write_atomically(target, text.rstrip() + "\n" + entry)
    return Path(target)
