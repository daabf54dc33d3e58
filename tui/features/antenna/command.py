"""`bandwhen antenna`: radiation on each band, setup, and analyser readings."""

from __future__ import annotations

import argparse
import math
from dataclasses import asdict
from typing import TYPE_CHECKING

from propagation.base.errors import InputError
from propagation.base.units import as_float
from propagation.wording.quantities import level, power_share, watts
from tui.app import clock, command_base, learnt_store, progress
from tui.features.antenna import mark_command, measure_command
from tui.kit.format import number

if TYPE_CHECKING:
    from propagation.antennas.antenna import Antenna
    from propagation.antennas.exposure import Exposure
    from propagation.antennas.improvements import DayWorth, Improvement
    from propagation.antennas.setup_card import BandCard, Setting
    from propagation.antennas.solution import BandResult
    from propagation.spectrum.bands import Band
    from propagation.station.station import Station
    from tui.app.command_base import Subparsers

HEADS = {"connections": "joints"}  # column heads of shares whose name is too long for a column
NOT_COUNTED = "in no figure, since the figures assume one; it keeps current and noise off the cable"
LOWEST_MHZ, HIGHEST_MHZ = 0.5, 200.0  # MHz, range of the antenna model


def add_parser(subparsers: Subparsers) -> None:
    """Describe the command's options."""
    parser = subparsers.add_parser(
        "antenna",
        help="what the antenna radiates on each band, and how to set it up",
        description="What share of the power leaves as useful radiation on each band, where the rest goes, "
        "how wide the match is, and what limits the power. 'bandwhen antenna measure' takes what an analyser "
        "shows.",
    )
    parser.add_argument(
        "--frequency", type=command_base.number, metavar="MHZ", help="one frequency, in or outside the bands"
    )
    parser.add_argument(
        "--setup", action="store_true", help="the setup card: first coil, radials, whip length"
    )
    parser.add_argument("--improve", action="store_true", help="what single changes would gain")
    parser.add_argument(
        "--to",
        metavar="TARGET",
        help="with --improve: what each change does to the day's windows towards a place, friend or region",
    )
    parser.add_argument(
        "--date", default="today", metavar="D", help="with --to: the day, UTC (default: today)"
    )
    parser.set_defaults(start=None, hours=None, mode=None, power=None, start_place=None)
    command_base.add_conditions(parser)
    command_base.add_station(parser)
    command_base.add_output(parser)
    actions = parser.add_subparsers(dest="action", metavar="ACTION", required=False)
    measure_command.add_parser(actions)
    mark_command.add_parser(actions)


def run(args: argparse.Namespace) -> int:
    """Compute and print the result."""
    station = command_base.station_of(args)
    if args.action == "measure":
        return measure_command.run(args, station)
    if args.action == "mark":
        return mark_command.run(args, station)
    return _show(args, station)


def antenna_of(station: Station) -> Antenna:
    """Return the station's own antenna over its own ground."""
    from propagation.antennas.factory import build

    return build(station.antenna, station.site.earth, station.feedline, station.power_w, station.rig.emission)


def _frequencies(args: argparse.Namespace, station: Station) -> list[float]:
    from propagation.spectrum.bands import BANDS

    if args.frequency is None:
        return [station.centre_mhz(band) for band in BANDS]
    if not LOWEST_MHZ <= args.frequency <= HIGHEST_MHZ:
        raise InputError(
            f"{args.frequency:g} MHz is outside {LOWEST_MHZ:g} to {HIGHEST_MHZ:g} MHz, which antennas are "
            f"computed for."
        )
    return [args.frequency]


def _show(args: argparse.Namespace, station: Station) -> int:
    from propagation.antennas.exposure import exposure, safety
    from propagation.wording.setup import match_words
    from tui.kit.words import describe

    antenna = antenna_of(station)
    frequencies = _frequencies(args, station)
    antenna.solutions(frequencies)  # two at a time
    answers = [antenna.on(frequency) for frequency in frequencies]
    keeps = [
        exposure(
            station.antenna,
            antenna.solution(answer.frequency_mhz),
            station.power_w,
            station.rig.emission,
            answer.feedline_loss_db,
        )
        for answer in answers
    ]
    cards = _cards(args, station, antenna) if args.setup else []
    if args.to is not None and not args.improve:
        raise InputError("--to goes with --improve: it says whom the changes should bring nearer.")
    clock.parse_date(args.date)  # reject an invalid date even without --to, which alone uses it
    gains = _gains(args, station, antenna, answers) if args.improve else []
    safe = [*safety(station.antenna), *dict.fromkeys(line for keep in keeps for line in keep.said)]
    words = dict(describe(station))
    head = f"{words['antenna']}; {antenna.ground.name} ground; {watts(station.power_w)} {station.rig.mode}"
    as_json: dict[str, object] = {
        **command_base.station_data(args),
        "antenna": words["antenna"],
        "ground": antenna.ground,
        "power_w": station.power_w,
        "mode": station.rig.mode,
        "bands": [
            {**asdict(answer), "exposure_distance_m": keep.distance_m}
            for answer, keep in zip(answers, keeps, strict=True)
        ],
        "cautions": safe,
    }
    if args.setup:
        as_json["setup"] = cards
    if args.improve:
        told = ("change", "mean_db", "gain_db", "before", "after")
        as_json["improvements"] = [{name: getattr(gain, name) for name in told} for gain in gains]
    said = learnt_store.remarks(station, command_base.file_in_use(args))
    as_json["from_the_log"] = said
    settings = [_match_line(answer) for answer in answers if match_words(answer)]
    notes = [*said, *settings, *dict.fromkeys(note for answer in answers for note in answer.notes)]
    table = [*command_base.station_lines(args, station), head, "", *_table(answers, keeps), "", *notes, *safe]
    lines = [command_base.station_words(args, station), f"{head}."]
    lines += [*(_sentence(a, k) for a, k in zip(answers, keeps, strict=True)), *notes, *safe]
    if cards:
        table += ["", "Setup card", *_card_table(cards)]
        lines += [_card_sentence(card) for card in cards]
    if gains:
        at = "" if args.to is None else ", in dB at the take-off towards the target"
        table += ["", f"What would help, mean over the bands and band by band{at}"]
        table += [_gain_line(gain, [a.band or number(a.frequency_mhz, 2) for a in answers]) for gain in gains]
        lines += [_gain_sentence(gain) for gain in gains]
    command_base.answer(args, as_json, "\n".join(table), "\n".join(lines))
    return 0


def _table(answers: list[BandResult], keeps: list[Exposure]) -> list[str]:
    rarer = ("connections", "other", "unexplained")
    more = [part for part in rarer if any(a.shares[part] > 0.005 for a in answers)]
    parts = ("sky", "coil", "earth", *more)
    head = " ".join(HEADS.get(part, part[:6]).rjust(6) for part in parts)
    rows = [f"band      MHz {head} line  gain  whip   coil    ohm  SWR   kHz limit away basis"]
    for answer, keep in zip(answers, keeps, strict=True):
        shares = " ".join(power_share(answer.shares[part]).rjust(6) for part in parts)
        rows.append(
            f"{answer.band or '-':<5} {answer.frequency_mhz:7.3f} {shares} {answer.feedline_loss_db:4.1f} "
            f"{round(answer.gain_dbi['20'], 1) + 0.0:5.1f} "
            f"{number(answer.whip_m, 2):>5} {number(answer.coil_uh, 2):>6} "
            f"{number(answer.feed_resistance_ohm, 1):>6} {number(answer.swr, 1):>4} "
            f"{number(answer.swr_1p5_khz, 0):>5} {number(answer.power_limit_w, 0):>5} "
            f"{keep.distance_m:4.1f} {answer.basis}"
        )
    rows += [
        "sky, coil, earth: where the power at the antenna goes; line: its loss in dB; gain: dBi at 20°;",
        "whip [m], coil [uH]: the setting; ohm: at the feed, tuned; SWR: at the rig; kHz: width of SWR",
        "1.5; limit: W at the rig; away: m to keep from people",
    ]
    if "connections" in more:
        rows.append("joints: lost in connections: plugs, the coil's slider, whip joints, clamps")
    if "unexplained" in more:
        rows.append("unexpl: unexplained loss that the analyser shows: joint, cable, ground")
    return rows


def _match_line(answer: BandResult) -> str:
    from propagation.wording.setup import match_words

    where = f"On {answer.band}" if answer.band else f"At {answer.frequency_mhz:.3f} MHz"
    return f"{where}: {' '.join(match_words(answer))}"


def _sentence(answer: BandResult, keep: Exposure) -> str:
    where = f"{answer.band}, " if answer.band else ""
    told = (
        f"{where}{answer.frequency_mhz:.3f} MHz: {power_share(answer.efficiency)} of the power goes into the "
        f"sky ({answer.radiated_w:.2f} W)"
    )
    if answer.shares["coil"] > 0.0:
        told += f", {power_share(answer.shares['coil'])} into the coil"
    told += f", {power_share(answer.shares['earth'])} into the earth"
    if answer.shares["connections"] > 0.005:
        told += f", {power_share(answer.shares['connections'])} into the connections"
    if answer.shares["other"] > 0.005:
        told += f", {power_share(answer.shares['other'])} into the transformer"
    if answer.shares["unexplained"] > 0.005:
        told += f", {power_share(answer.shares['unexplained'])} unexplained (joint, cable, ground)"
    told += f"; the line loses {answer.feedline_loss_db:.1f} dB"
    told += f"; gain {answer.gain_dbi['20']:.1f} dBi at 20 degrees"
    if answer.whip_m is not None:
        told += f"; whip {answer.whip_m:.2f} m"
    if answer.coil_uh is not None:
        told += f"; coil {answer.coil_uh:.2f} uH"
    if answer.series_pf is not None:
        told += f"; {answer.series_pf:.0f} pF in series, with {number(answer.series_v, 0)} V peak"
    if answer.swr is not None:
        told += f"; SWR {answer.swr:.1f} at the rig"
    if answer.swr_1p5_khz is not None:
        told += f"; SWR 1.5 over {answer.swr_1p5_khz:.0f} kHz"
    if answer.power_limit_w is not None:
        told += f"; at most {answer.power_limit_w:.0f} W"
    return f"{told}; keep {keep.distance_m:.1f} m away; {answer.basis}."


def _cards(args: argparse.Namespace, station: Station, antenna: Antenna) -> list[BandCard]:
    from propagation.antennas.setup_card import Wish, setup_card
    from propagation.spectrum.bands import BANDS, band_of

    if args.frequency is None:
        wanted: list[Band] = [band for band in BANDS if station.usable(band)]
    else:
        found = band_of(args.frequency)
        if found is None:
            raise InputError(f"{args.frequency:g} MHz lies in no amateur band, so it has no setup card.")
        wanted = [found]
    wishes = []
    for band in wanted:
        low, high = _segment(station, band)
        wishes.append(Wish(band, low, high))
    return setup_card(station.antenna, antenna.ground, station.feedline, wishes)


def _segment(station: Station, band: Band) -> tuple[float, float]:
    from propagation.spectrum.bands import segment_mhz, spans_mhz

    country = station.limits.country
    segment = segment_mhz(band, station.site.region, station.rig.mode, country)
    if segment is not None:
        return segment
    allowed = spans_mhz(band, station.site.region, country) or (band.edges(station.site.region),)
    return max(allowed, key=lambda span: span[1] - span[0])


def _setting_words(name: str, setting: Setting) -> str:
    from propagation.wording.setup import mark_words, whip_and_coil_words

    parts = whip_and_coil_words(setting.whip_m, setting.coil_uh, mark_words(setting.mark))
    if setting.series_pf is not None:
        parts.append(f"{setting.series_pf:.0f} pF in series")
    radials = "1 radial" if setting.radials == 1 else f"{setting.radials} radials"
    return (
        f"{name} {', '.join([f'{radials} of {setting.radial_m:.2f} m', *parts])}, "
        f"{power_share(setting.efficiency)} into the sky, SWR {number(setting.swr, 1)} at the rig, "
        f"SWR 1.5 over {number(setting.swr_1p5_khz, 0)} kHz"
    )


def _card_parts(card: BandCard) -> list[str]:
    parts = []
    if card.wire_m is not None:
        parts.append(f"wire {card.wire_m:.2f} m from tip to tip")
    if card.raised is not None:
        parts.append(_setting_words(f"raised {card.raised.radial_height_m:g} m:", card.raised))
    if card.on_ground is not None:
        parts.append(_setting_words("on the ground:", card.on_ground))
    return [*parts, card.tuning, *card.notes]


def _card_table(cards: list[BandCard]) -> list[str]:
    lines = []
    for card in cards:
        first, *rest = _card_parts(card)
        lines.append(f"{card.band:<5} {first}")
        lines += [f"      {part}" for part in rest]
    return lines


def _card_sentence(card: BandCard) -> str:
    return f"{card.band}: " + "; ".join(part.rstrip(".") for part in _card_parts(card)) + "."


def _gains(
    args: argparse.Namespace, station: Station, antenna: Antenna, answers: list[BandResult]
) -> list[Improvement]:
    """Gains of the changes; ranked by the day's contacts if a target is given, at its take-off angles."""
    from propagation.antennas.improvements import improvements

    judge, angles = None, None
    if args.to is not None:
        from propagation.advice.antenna_worth import takeoff_deg, worth_of
        from propagation.signal.chances.forecast import forecast
        from propagation.wording.windows import best_window
        from tui.app import forecast_options

        question = forecast_options.ask(args, forecast_options.span(args))
        result = forecast(question)
        judge = worth_of(result, question.terminals, best_window)
        by_band = dict(zip([band.name for band in result.bands], takeoff_deg(result).tolist(), strict=True))
        angles = as_float([by_band.get(answer.band or "", math.nan) for answer in answers])
    frequencies = [answer.frequency_mhz for answer in answers]
    line = station.feedline
    with progress.shown("Changes of the antenna") as tell:
        return improvements(station.antenna, antenna.ground, line, frequencies, judge, tell, angles)


def _gain_sentence(gain: Improvement) -> str:
    told = f"{gain.change[:1].upper()}{gain.change[1:]}: "
    told += level(gain.mean_db) if gain.candidate.computed else NOT_COUNTED
    if gain.won is not None and gain.after is not None:
        told += f"; {_won(gain.won, gain.after)}"
    return f"{told}."


def _gain_line(gain: Improvement, names: list[str]) -> str:
    if not gain.candidate.computed:
        return f"{'-':>8}  {gain.change}: {NOT_COUNTED}"
    each = "  ".join(f"{name} {value:+.1f}" for name, value in zip(names, gain.gain_db, strict=True))
    line = f"{level(gain.mean_db):>8}  {gain.change}: {each}"
    if gain.won is not None and gain.after is not None:
        line += f"\n          {_won(gain.won, gain.after)}"
    return line


def _won(won: float, after: DayWorth) -> str:
    """What a day gains, what it then has, and its best window."""
    from propagation.wording.comparison import day_words, won_words

    day = day_words(after.total, after.region)
    return f"{won_words(won, after.region)} in the day, then {day}; best {after.best_window}"
