"""`bandwhen conditions`: solar and geomagnetic conditions in use, their sources, and their settings.

Without an action it shows them. `fetch` gets the space weather service's products. `set` takes values heard
on the air or remembered. `heard` takes reports of what the operator hears or does not hear. `beacons` shows
which of the international beacons is on.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable
from typing import TYPE_CHECKING, Any, Final, TypeVar

import numpy as np

from propagation.base.errors import InputError
from propagation.base.files import is_file
from propagation.wording import quantities as say
from tui.app import clock, command_base, paths
from tui.features.sky.fetching import MIRROR_VARIABLE, fetch_command, measured_shown
from tui.kit import format as fmt

if TYPE_CHECKING:
    from pathlib import Path

    from propagation.base.store import Store
    from propagation.geo.locator import Position
    from propagation.space_weather.state.conditions import Conditions
    from propagation.spectrum.beacons import Schedule, Turn
    from tui.app.command_base import Subparsers

OUTLOOK_DAYS: Final = 7


T = TypeVar("T")


def add_parser(subparsers: Subparsers) -> None:
    """Describe the command's options."""
    parser = subparsers.add_parser(
        "conditions",
        help="the sun and the field: what is used, where it comes from, how old it is",
        description="Show the sun and the field as they are used; or fetch, set or correct them.",
    )
    command_base.add_time(parser)
    command_base.add_station(parser)
    command_base.add_conditions(parser)
    command_base.add_output(parser)
    actions = parser.add_subparsers(dest="action", metavar="ACTION", title="actions")

    fetch = actions.add_parser("fetch", help="get the space weather service's products over the network")
    fetch.add_argument(
        "--mirror", metavar="ADDRESS", help=f"another address to fetch from (or set {MIRROR_VARIABLE})"
    )
    fetch.add_argument("--only", nargs="+", metavar="PRODUCT", help="only these products")
    fetch.add_argument(
        "--measured",
        action="store_true",
        help="the measured maps of density, absorption and aurora instead (some 3 MB)",
    )
    _output(fetch)

    _add_set(actions)
    _add_heard(actions)
    beacons = actions.add_parser("beacons", help="which of the international beacons is on the air now")
    command_base.add_station(beacons)
    _output(beacons)


def _add_set(actions: Subparsers) -> None:
    """Describe the options of `set`."""
    typed = actions.add_parser("set", help="type in what was heard on the air or is remembered")
    sun = typed.add_mutually_exclusive_group()
    sun.add_argument("--flux", type=command_base.number, metavar="N", help="10.7 cm solar flux in sfu")
    sun.add_argument(
        "--ssn", type=command_base.number, metavar="N", help="smoothed sunspot number, version 2"
    )
    typed.add_argument(
        "--a", type=command_base.number, metavar="N", help="planetary A index of the day before"
    )
    typed.add_argument(
        "--kp", "--k", type=command_base.number, metavar="N", dest="k", help="planetary K index, 0 to 9"
    )
    typed.add_argument("--flare", metavar="CLASS", help="a flare in progress, as M2.3")
    typed.add_argument("--protons", type=command_base.number, metavar="PFU", help="protons above 10 MeV")
    command_base.add_time(typed, "when that was so", "--at")
    typed.add_argument("--forget", action="store_true", help="forget everything typed in")
    _output(typed)


def _add_heard(actions: Subparsers) -> None:
    """Describe the options of `heard`."""
    heard = actions.add_parser("heard", help="say what you hear, or do not hear, and let the forecast follow")
    source = heard.add_mutually_exclusive_group()
    source.add_argument(
        "--to", "--from", dest="place", metavar="TARGET", help="where the stations are that you hear"
    )
    source.add_argument("--beacon", metavar="NAME", help="one of the international beacons")
    heard.add_argument("--band", metavar="BAND", help="as 20m")
    heard.add_argument("--nothing", action="store_true", help="nothing heard, though listened for")
    heard.add_argument("--mode", metavar="M", help="mode of the stations (default: the station's)")
    command_base.add_time(heard, "when", "--at")
    heard.add_argument("--forget", action="store_true", help="forget everything heard")
    command_base.add_station(heard)
    _output(heard)


def _output(parser: argparse.ArgumentParser) -> None:
    """Add --json and --plain after the action too, without undoing the same options before it."""
    form = parser.add_mutually_exclusive_group()
    form.add_argument("--json", action="store_true", default=argparse.SUPPRESS, help="the answer as JSON")
    form.add_argument("--plain", action="store_true", default=argparse.SUPPRESS, help="undecorated lines")


def run(args: argparse.Namespace) -> int:
    """Carry out the action."""
    action = {"fetch": _fetch, "set": _set, "heard": _heard, "beacons": _beacons, None: _show}[args.action]
    action(args)
    return 0


def store() -> Store:
    """Return the store of the conditions."""
    from propagation.base.store import Store

    return Store(paths.conditions_dir())


def _show(args: argparse.Namespace) -> None:
    from propagation.advice.sky import measured_figures, sky_effects
    from propagation.wording.sky import measured_sentences, sky_sentences

    time = command_base.time_of(args, args.time)
    state = command_base.conditions_of(args, time)
    station = command_base.station_of(args)
    site = station.site.position
    effects = sky_effects(state, site, time)
    said = measured_sentences(measured_figures(state, site, time), clock.now()) + sky_sentences(effects)
    result: dict[str, Any] = {
        "time": time,
        **command_base.station_data(args),
        **state.as_dict(time, clock.now()),
        "sunspot_index": round(effects.spots_index, 1),
        "effects": {
            "muf_change": round(effects.muf_change, 4),
            "storm_factor": round(effects.storm_factor, 4),
            "flare_mhz": round(effects.flare_mhz, 2),
            "flare_db": round(effects.flare_db, 2),
            "oval_edge_deg": round(effects.oval_edge_deg, 1),
            "geomagnetic_latitude_deg": round(effects.geomagnetic_latitude_deg, 1),
            "polar_cap_db": round(effects.polar_cap_db, 2),
        },
        "sentences": said,
        "facts": [
            {"what": f.what, "value": f.value, "issued": f.issued, "origin": f.origin} for f in state.facts
        ],
        "outlook": _outlook(state, time),
    }
    measured, lines = measured_shown(store(), clock.now())
    result["measured"] = measured
    text, plain = _show_text(state, time, result), _show_plain(state, time, result)
    text += "\n".join(["", "", *command_base.station_lines(args, station)])
    plain += f"\n{command_base.station_words(args, station)}"
    if lines:
        text += "\n".join(["", "", "Measured maps", *(f"  {line}" for line in lines)])
        plain += "\n".join(["", *(f"{line}." for line in lines)])
    command_base.answer(args, result, text, plain)


def _outlook(state: Conditions, time: np.datetime64) -> list[dict[str, object]]:
    """Flux and highest K of the coming days; None if K is not known."""
    days = []
    for number in range(1, OUTLOOK_DAYS + 1):
        day = time.astype("datetime64[D]") + np.timedelta64(number, "D")
        hours = day.astype("datetime64[s]") + np.arange(8) * np.timedelta64(3, "h")
        known = bool(np.all(state.kp_known(hours)))
        days.append(
            {
                "date": str(day),
                "flux_sfu": round(float(state.flux_at(hours[6])), 1),
                "index": round(float(state.index_at(hours[4])), 1),
                "kp": round(float(np.max(state.kp_at(hours))), 2) if known else None,
            }
        )
    return days


def _figures(state: Conditions, time: np.datetime64, result: dict[str, Any]) -> list[list[str]]:
    kp = f"{result['kp']:.1f}" if result["kp_known"] else f"not known, {result['kp']:.0f} assumed"
    rows = [
        ["Ionospheric index behind the F2 maps", f"{result['index']:.0f}"],
        ["Where it comes from", result["index_source"]],
        ["Smoothed sunspot number, version 2", f"{result['ssn']:.0f}"],
        ["Index that usually goes with it", f"{result['sunspot_index']:.0f}"],
        ["10.7 cm flux", f"{result['flux_sfu']:.0f} sfu"],
        ["Planetary K", kp],
        ["Source", state.source],
    ]
    if state.issued is not None:
        rows.append(["Newest fact", f"{fmt.iso(state.issued)}, {state.age_text(clock.now())}"])
    return rows


def _show_text(state: Conditions, time: np.datetime64, result: dict[str, Any]) -> str:
    from propagation.base.text import age_words

    rows = _figures(state, time, result)
    width = max(len(row[0]) for row in rows)
    lines = [f"The sun and the field, {say.day_month(time)}, {say.both_clocks(time)}", ""]
    lines += [f"{name:<{width}}  {value}" for name, value in rows]
    lines += ["", "What they do", *(f"  {sentence}" for sentence in result["sentences"])]
    if state.facts:
        lines += ["", "Where they come from"]
        for fact in state.facts:
            age = "no date" if fact.issued is None else age_words(clock.now() - fact.issued)
            lines.append(f"  {fact.what}: {f'{fact.value}, ' if fact.value else ''}{age}")
    lines += ["", "Days ahead"]
    days = [
        [
            d["date"],
            f"{d['flux_sfu']:.0f} sfu",
            f"index {d['index']:.0f}",
            "K -" if d["kp"] is None else f"K {d['kp']:.0f}",
        ]
        for d in result["outlook"]
    ]
    lines.append(fmt.table(days))
    if state.notes:
        lines += ["", "To note", *(f"  {note}" for note in state.notes)]
    return "\n".join(lines)


def _show_plain(state: Conditions, time: np.datetime64, result: dict[str, Any]) -> str:
    lines = [f"The sun and the field on {say.day_month(time)} at {say.both_clocks(time)}."]
    lines += [f"{name}: {value}." for name, value in _figures(state, time, result)]
    lines += result["sentences"]
    for day in result["outlook"]:
        field = "K not known" if day["kp"] is None else f"K up to {day['kp']:.0f}"
        lines.append(f"{day['date']}: flux {day['flux_sfu']:.0f}, {field}.")
    return "\n".join([*lines, *state.notes])


def _fetch(args: argparse.Namespace) -> None:
    fetch_command(args, store())


def _best(time: np.datetime64) -> Conditions:
    from propagation.ionosphere.conditions_today import best

    return best(store(), time, clock.now())


def _set(args: argparse.Namespace) -> None:
    from propagation.space_weather.state.event_absorption import xray_of_class
    from propagation.space_weather.state.hand_entry import HandEntry, add_entry, checked, forget_entries

    if args.forget:
        words = "Everything typed in is forgotten." if forget_entries(store()) else "Nothing was typed in."
    else:
        xray = xray_of_class(args.flare) if args.flare is not None else None
        if args.flare is not None and xray is None:
            raise InputError(f"{args.flare!r} is no class of flare; write it as M2.3.")
        entry = HandEntry(
            command_base.time_of(args, args.time),
            ssn=args.ssn,
            flux_sfu=args.flux,
            a_index=args.a,
            kp=args.k,
            xray_w_m2=xray,
            protons_pfu=args.protons,
        )
        checked(entry)
        if entry.at > clock.now() + np.timedelta64(1, "D"):
            raise InputError(f"{fmt.iso(entry.at)} lies ahead: give a time up to now.")
        _keep(add_entry, entry)
        words = f"Typed in for {fmt.iso(entry.at)}: {entry.words()}."
    _tell_change(args, words)


def _keep(write: Callable[[Store, T], object], what: T) -> None:
    from propagation.base.store import StoreError

    try:
        write(store(), what)
    except StoreError as error:
        raise InputError(error.message) from None


def _tell_change(args: argparse.Namespace, words: str, more: dict[str, object] | None = None) -> None:
    """Print the change, and the resulting conditions."""
    now = clock.now()
    state = _best(now)
    result = {"message": words, **(more or {}), "conditions": state.as_dict(now, now)}
    text = f"{words}\nConditions now: {command_base.conditions_words(state, now)}."
    command_base.answer(args, result, text, text)


def _heard(args: argparse.Namespace) -> None:
    from propagation.base.store import StoreError
    from propagation.signal.chances.report_likelihood import beacon_report, station_report
    from propagation.space_weather.state.ear_reports import add_report, believe, forget_reports, reports_of
    from propagation.spectrum import bands
    from propagation.spectrum.beacons import load
    from propagation.station import friends
    from tui.app.command_base import saved_friends

    if args.forget:
        forgotten = forget_reports(store())
        _tell_change(
            args, "Everything heard is forgotten." if forgotten else "Nothing was reported as heard."
        )
        return
    if args.place is None and args.beacon is None:
        raise InputError("Say who is heard: --from TARGET, or --beacon NAME.")
    band = bands.by_name(command_base.required(args.band, "--band", "20m"))
    time, heard = command_base.time_of(args, args.time), not args.nothing
    station = command_base.station_of(args)
    state = _best(time)
    if args.beacon is not None:
        schedule = load(_schedule_file())
        beacon = schedule.beacons[schedule.number_of(args.beacon)]
        low, high = band.widest_mhz
        on_band = [f for f in schedule.frequencies_mhz if low <= f <= high]
        if not on_band:
            raise InputError(f"The beacons are not on {band.name}; they use {_bands_of(schedule)}.")
        new = beacon_report(station, schedule, beacon, band.name, on_band[0], time, state, heard)
    else:
        target = friends.resolve(args.place, saved_friends(), station.site.position)
        low, high = band.edges(station.site.region)
        frequency = station.centre_mhz(band) if station.usable(band) else 0.5 * (low + high)
        new = station_report(station, target, band.name, frequency, time, state, heard, args.mode)
    _keep(add_report, new)
    try:
        reports = reports_of(store(), time)
    except StoreError as error:
        raise InputError(error.message) from None
    belief = believe(new.prior_index, reports, time)
    verb = "heard" if heard else "not heard"
    words = (
        f"Taken: {new.words} {verb}. The index moves by {belief.shift:+.0f} to "
        f"{new.prior_index + belief.shift:.0f} (give or take {belief.spread:.0f}); "
        "it fades back within some hours."
    )
    more = {
        "shift": round(belief.shift, 2),
        "spread": round(belief.spread, 2),
        "reports": [{"at": r.at, "what": r.words, "heard": r.heard} for r in reports],
    }
    _tell_change(args, words, more)


def _schedule_file() -> Path | None:
    """Path of the operator's own beacon schedule, or None for the supplied one."""
    own = paths.config_dir() / "beacons.toml"
    return own if is_file(own) else None


def _bands_of(schedule: Schedule) -> str:
    from propagation.spectrum.bands import band_of

    found = [band_of(frequency) for frequency in schedule.frequencies_mhz]
    return ", ".join(band.name for band in found if band is not None)


def _beacons(args: argparse.Namespace) -> None:
    from propagation.spectrum.beacons import NOTE, load

    now = clock.now()
    site: Position = command_base.station_of(args).site.position
    turns = load(_schedule_file()).turns(now, site)
    result = {"time": now, "beacons": [_turn_row(turn) for turn in turns], "note": NOTE}
    rows = [
        [
            f"{turn.frequency_mhz:.3f} MHz",
            turn.beacon.name + ("" if turn.beacon.active else " (silent)"),
            say.bearing(turn.bearing_deg),
            say.kilometres(turn.distance_km),
            f"until {str(turn.end)[11:]}",
        ]
        for turn in turns
    ]
    heading = f"On the air at {str(now)[11:]} UTC ({NOTE})"
    plain = [f"{heading}."] + [", ".join(row) + "." for row in rows]
    command_base.answer(args, result, "\n".join([heading, fmt.table(rows)]), "\n".join(plain))


def _turn_row(turn: Turn) -> dict[str, object]:
    return {
        "band": turn.band,
        "frequency_mhz": turn.frequency_mhz,
        "beacon": turn.beacon.name,
        "locator": turn.beacon.locator,
        "active": turn.beacon.active,
        "start": turn.start,
        "end": turn.end,
        "distance_km": round(turn.distance_km),
        "bearing_deg": round(turn.bearing_deg, 1),
    }
