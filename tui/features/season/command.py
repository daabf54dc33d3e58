"""`bandwhen season`: the best band of each hour of the coming months, and the best slots."""

from __future__ import annotations

import argparse
import sys
import textwrap
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Final

import numpy as np

from propagation.base.errors import InputError
from tui.app import clock, command_base, forecast_options, output_filter
from tui.kit.format import text_width

if TYPE_CHECKING:
    from propagation.advice.rates import Prospect
    from propagation.advice.season import Season
    from propagation.base.units import TimeArray
    from propagation.signal.chances.request import Request
    from tui.app.command_base import Subparsers

NOTHING: Final = 3
FILLS: Final = " ▁▂▃▄▅▆▇█"
TOP_BAND: Final = "TB"  # 160 m, which does not fit in two digits
MIDDLE: Final = 1  # the middle prediction


def add_parser(subparsers: Subparsers) -> None:
    """Describe the command's options."""
    from propagation.advice.season import MONTHS

    parser = subparsers.add_parser(
        "season",
        help="the months ahead: the best band, hour by hour",
        description="Months down, hours across: the best band of every hour, the contacts an hour to "
        "expect of a region or the share of days of a place, and the best slots of the season, under "
        "the middle, the low and the high prediction of the sun.",
    )
    forecast_options.add_arguments(parser)
    parser.add_argument(
        "--date", default="today", metavar="D", help="a day of the first month (default: today)"
    )
    parser.add_argument(
        "--months",
        type=command_base.number,
        default=MONTHS,
        metavar="N",
        help=f"so many months (default: {MONTHS})",
    )
    forecast_options.add_other_side(parser)
    parser.add_argument("--calendar", type=Path, metavar="FILE", help="write the slots as iCalendar (.ics)")
    parser.add_argument("--force", action="store_true", help="write over a file that another program made")


def run(args: argparse.Namespace) -> int:
    """Compute and print the result, and write the calendar; return 3 if no hour is likely enough."""
    from propagation.wording.season import none_words

    months = _months(args)
    question = forecast_options.ask(args, _hours(months))
    found = _season(args, question)
    other = _beside(args, months)
    slots = found.slots()
    if args.calendar is not None and slots:
        _write_calendar(args.calendar, found, args.force)
    news = [] if slots else _news(found, question)
    command_base.answer(args, _data(found, other), _text(found, other, news), _plain(found, other, news))
    if slots:
        return 0
    print(none_words(found), file=sys.stderr)
    return NOTHING


def _news(found: Season, question: Request) -> list[str]:
    """Reason why no hour is likely, and what would help: a friend there, more power, another mode."""
    from propagation.advice.season_changes import season_changes
    from propagation.station import friends
    from propagation.wording.season import hopeless_words

    site = question.station.site.position
    there = friends.inside(question.target, command_base.saved_friends(), site)
    names = [friend.name for friend in there] if question.target.is_region else []
    return hopeless_words(found, names, season_changes(found, question))


def _months(args: argparse.Namespace) -> TimeArray:
    from propagation.advice.season import months_ahead

    if args.months != int(args.months):
        raise InputError(f"--months {args.months:g} is not a whole number of months.")
    return months_ahead(clock.parse_date(args.date), int(args.months))


def _hours(months: TimeArray) -> TimeArray:
    from propagation.advice.season import hours_of

    return np.asarray(hours_of(months).ravel())


def _season(args: argparse.Namespace, question: Request) -> Season:
    from propagation.advice.season import season
    from propagation.advice.sked import party_of_station

    other = None if question.target.is_region else forecast_options.far_party(args.to, question.target)
    seen = sys.stderr.isatty()
    if seen:
        output_filter.progress("working; Ctrl-C stops it")
    try:
        home = party_of_station(question.station)
        return season(question, home, other, progress=_progress if seen else None)
    except KeyboardInterrupt:
        if seen:
            print(file=sys.stderr)
        raise


def _progress(done: int, parts: int) -> None:
    end = "\n" if done >= parts else ""
    output_filter.progress(f"{done:3d} of {parts} parts; Ctrl-C stops it", end)


def _beside(args: argparse.Namespace, months: TimeArray) -> tuple[str, Season] | None:
    """Forecast of the other place or station, with its name."""
    other = forecast_options.ask_other_side(args, _hours(months))
    return None if other is None else (other[0], _season(args, other[1]))


def _write_calendar(file: Path, found: Season, force: bool) -> None:
    from propagation.advice.calendar import CALENDAR_MARK, calendar_text
    from propagation.base import files
    from propagation.wording.season import events

    text = calendar_text(events(found), clock.now(), f"Season to {found.target.name}")
    remedy = "give --force to write over it, or another name"
    files.export(file, text.encode(), (CALENDAR_MARK,), force=force, remedy=remedy)


def _data(found: Season, beside: tuple[str, Season] | None) -> dict[str, object]:
    data = _one(found)
    if beside is not None:
        data["beside"] = {"name": beside[0], **_one(beside[1])}
    return data


def _one(found: Season) -> dict[str, object]:
    from propagation.wording.season import slot_words

    return {
        "site": {"name": found.station.name, "mode": found.mode, "power_w": found.power_w},
        "target": {"name": found.target.name, "kind": found.target.kind},
        "contacts": found.wanted or None,
        "months": [_month(found, m) for m in range(found.months.size)],
        "slots": [
            {
                "month": str(slot.month),
                "from": f"{slot.start % 24:02d}:00",
                "to": f"{slot.end % 24:02d}:00",
                "band": slot.band,
                **_promised(slot.low, slot.mean, slot.high),
                "words": slot_words(slot, found),
            }
            for slot in found.slots()
        ],
    }


def _month(found: Season, month: int) -> dict[str, object]:
    low, middle, high = found.index[:, month]
    amount = found.hours_of_contact() if found.rates is None else found.mean_per_hour()
    few, mean, many = amount[:, month]
    return {
        "month": str(found.months[month]),
        "index": {"low": low, "middle": middle, "high": high},
        "contact_hours" if found.rates is None else "mean_per_hour": {
            "low": few,
            "middle": mean,
            "high": many,
        },
        "hours": [_hour(found, month, hour) for hour in range(24)],
    }


def _hour(found: Season, month: int, hour: int) -> dict[str, object]:
    """Best band of an hour and what every band promises, by the middle prediction."""
    from propagation.advice.rates import Prospect
    from propagation.signal.rays.causes import CAUSES

    awake = bool(found.suits[month, hour])
    if not found.bands:
        nothing = Prospect(0.0)
        return {
            "hour": hour,
            "band": None,
            **_promised(nothing, nothing, nothing),
            "limit": "licence",
            "awake": awake,
            "bands": {},
        }
    band = int(found.best_band[month, hour])
    limit = CAUSES[int(found.limit[month, hour, band])]
    each = {row.name: found.at(month, hour, b) for b, row in enumerate(found.bands)}
    rates = {name: one.rate.middle for name, one in each.items() if one.rate is not None}
    low, middle, high = (found.at(month, hour, band, prediction) for prediction in range(3))
    return {
        "hour": hour,
        "band": found.bands[band].name,
        **_promised(low, middle, high),
        "limit": None if limit == "open" else limit,
        "awake": awake,
        "bands": {name: one.chance for name, one in each.items()},
        **({"rates": rates} if rates else {}),
    }


def _promised(low: Prospect, middle: Prospect, high: Prospect) -> dict[str, object]:
    """Chance under the three predictions; of a region also the contacts an hour."""
    data: dict[str, object] = {"chance": middle.chance, "low": low.chance, "high": high.chance}
    if low.rate is not None and middle.rate is not None and high.rate is not None:
        data["rate_per_hour"] = asdict(middle.rate)
        data["rate_by_sun"] = {"low": low.rate.middle, "high": high.rate.middle}
    return data


def _heading(found: Season) -> str:
    from propagation.wording.quantities import watts

    name = found.station.name or "here"
    return f"{name} to {found.target.name}, {found.mode}, {watts(found.power_w)}: the season ahead"


def _text(found: Season, beside: tuple[str, Season] | None, news: list[str]) -> str:
    lines = [_heading(found), "", *_table(found), ""]
    for told in _sentences(found, beside, news):
        lines += textwrap.wrap(told, text_width(), subsequent_indent="   " if told[:1].isdigit() else "")
    return "\n".join(lines)


def _plain(found: Season, beside: tuple[str, Season] | None, news: list[str]) -> str:
    return "\n".join([f"{_heading(found)}.", *_sentences(found, beside, news)])


def _sentences(found: Season, beside: tuple[str, Season] | None, news: list[str]) -> list[str]:
    from propagation.wording.season import (
        beside_sentence,
        contact_sentence,
        cycle_words,
        slot_words,
        zone_words,
    )

    lines = [*news, *(f"{i}. {slot_words(slot, found)}" for i, slot in enumerate(found.slots(), start=1))]
    lines += [contact_sentence(found)] if found.bands else []
    lines += [told for told in (cycle_words(found), zone_words(found)) if told]
    if beside is not None:
        name, other = beside
        lines.append(beside_sentence(found, other, found.station.name or "Here", name))
    return lines


def _table(found: Season) -> list[str]:
    """Table with months as rows and hours as columns: band and fill; a dot if one operator is asleep.

    Where the best band is poor, the sign of what limits it takes the place of the fill.
    """
    from propagation.signal.rays.causes import CAUSES
    from propagation.wording.causes import short
    from propagation.wording.quantities import rate_figure
    from propagation.wording.season import month_short
    from tui.kit.day_view import NAMED_FROM, full_lane_per_h
    from tui.kit.glyphs import FAINTEST, SIGN_OF

    if not found.bands:
        return []
    lines = _axes(found)
    worth, bands = found.of_best(found.worth)[MIDDLE], found.best_band
    full = 1.0 if found.rates is None else full_lane_per_h(worth)
    causes: dict[str, str] = {}
    for m, month in enumerate(found.months):
        cells = []
        for h, band in enumerate(bands[m].tolist()):
            name = found.bands[band].name if worth[m, h] >= NAMED_FROM else ""
            cause = CAUSES[int(found.limit[m, h, band])]
            sign = SIGN_OF.get(cause, " ") if worth[m, h] < FAINTEST * full else ""
            if sign.strip():
                causes[sign] = short(cause)
            cells.append(_cell(name, float(worth[m, h]) / full, bool(found.suits[m, h]), sign))
        lines.append(f"{month_short(month)} " + "".join(cells).rstrip())
    figure = "days; full: every day" if found.rates is None else "contacts an hour"
    rate = "" if found.rates is None else f"; full: {rate_figure(full)} contacts an hour"
    asleep = "one of the two is asleep" if found.rates is None else "you are asleep"
    legend = f"band in metres and {figure}{rate}; · {asleep}"
    signs = ", ".join(f"{sign} {told}" for sign, told in causes.items())
    below = [legend, f"where the best band is poor: {signs}"] if signs else [legend]
    return [*lines, *(f"       {line}" for told in below for line in textwrap.wrap(told, text_width() - 7))]


def _axes(found: Season) -> list[str]:
    """Hours of the table's columns: UTC, and local for each difference from UTC in these months."""
    from propagation.advice.season import days_of
    from propagation.wording.clocks import local_first
    from propagation.wording.season import offset_on

    hours = [f"{hour:02d}" for hour in range(24)]
    axes = [" ".join([f"{'UTC':<6}", *hours])]
    local = []
    for offset in dict.fromkeys(offset_on(found.home, day) for day in days_of(found.months)):
        sign, figure = offset[3], offset[4:]
        if figure.isdigit() and int(figure):  # an offset with minutes is told in a sentence
            ahead = -int(figure) if sign == "-" else int(figure)
            local.append(" ".join([f"{offset:<6}", *(f"{(hour + ahead) % 24:02d}" for hour in range(24))]))
    return [*local, *axes] if local_first() else [*axes, *local]


def _cell(band: str, fill: float, awake: bool, sign: str) -> str:
    figure = band.removesuffix("m")
    figure = TOP_BAND if len(figure) > 2 else f"{figure:>2}"
    if sign:
        return figure + sign
    return figure + (FILLS[int(np.ceil(min(fill, 0.999) * 8.0))] if awake else "·")
