"""`bandwhen season`: best band, its chance and the best slots for each hour of the coming months."""

from __future__ import annotations

import argparse
import sys
import textwrap
from pathlib import Path
from typing import TYPE_CHECKING, Final

import numpy as np

from propagation.base.errors import InputError
from tui.app import clock, command_base, forecast_options, output_filter

if TYPE_CHECKING:
    from propagation.advice.season import Season
    from propagation.base.units import TimeArray
    from propagation.signal.chances.request import Request
    from tui.app.command_base import Subparsers

NOTHING: Final = 3
FILLS: Final = " ▁▂▃▄▅▆▇█"
WIDTH: Final = 100  # columns of the text
TOP_BAND: Final = "TB"  # 160 m, which does not fit in two digits


def add_parser(subparsers: Subparsers) -> None:
    """Describe the command's options."""
    from propagation.advice.season import MONTHS

    parser = subparsers.add_parser(
        "season",
        help="the months ahead: the best band and its chance, hour by hour",
        description="Months down, hours across: the best band of every hour and its chance, and the best "
        "slots of the season, under the middle, the low and the high prediction of the sun.",
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
    command_base.answer(args, _data(found, other), _text(found, other), _plain(found, other))
    if slots:
        return 0
    print(none_words(found), file=sys.stderr)
    return NOTHING


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

    best, bands, hours = found.best, found.best_band, found.hours_of_contact()
    return {
        "site": {"name": found.station.name, "mode": found.mode, "power_w": found.power_w},
        "target": {"name": found.target.name, "kind": found.target.kind},
        "contacts": found.wanted or None,
        "months": [
            {
                "month": str(month),
                "index": {"low": low, "middle": middle, "high": high},
                "contact_hours": {"low": hours[0, m], "middle": hours[1, m], "high": hours[2, m]},
                "hours": [
                    {
                        "hour": h,
                        "band": found.bands[bands[m, h]].name if found.bands else None,
                        "chance": best[1, m, h] if found.bands else 0.0,
                        "low": best[0, m, h] if found.bands else 0.0,
                        "high": best[2, m, h] if found.bands else 0.0,
                        "awake": bool(found.suits[m, h]),
                        "bands": {band.name: found.chance[1, m, h, b] for b, band in enumerate(found.bands)},
                    }
                    for h in range(24)
                ],
            }
            for m, (month, (low, middle, high)) in enumerate(zip(found.months, found.index.T, strict=True))
        ],
        "slots": [
            {
                "month": str(slot.month),
                "from": f"{slot.start % 24:02d}:00",
                "to": f"{slot.end % 24:02d}:00",
                "band": slot.band,
                "chance": slot.chance,
                "low": slot.low,
                "high": slot.high,
                "words": slot_words(slot, found),
            }
            for slot in found.slots()
        ],
    }


def _heading(found: Season) -> str:
    from propagation.wording.quantities import watts

    name = found.station.name or "here"
    return (
        f"{name} to {found.target.name}, {found.mode}, {watts(found.power_w)}: the season ahead, hours in UTC"
    )


def _text(found: Season, beside: tuple[str, Season] | None) -> str:
    lines = [_heading(found), "", *_table(found), ""]
    for told in _sentences(found, beside):
        lines += textwrap.wrap(told, WIDTH, subsequent_indent="   " if told[:1].isdigit() else "")
    return "\n".join(lines)


def _plain(found: Season, beside: tuple[str, Season] | None) -> str:
    return "\n".join([f"{_heading(found)}.", *_sentences(found, beside)])


def _sentences(found: Season, beside: tuple[str, Season] | None) -> list[str]:
    from propagation.wording.season import (
        beside_sentence,
        contact_sentence,
        cycle_words,
        none_words,
        slot_words,
    )

    slots = found.slots()
    lines = [f"{i}. {slot_words(slot, found)}" for i, slot in enumerate(slots, start=1)]
    if not slots:
        lines.append(none_words(found))
    lines += [contact_sentence(found)] if found.bands else []
    lines.append(cycle_words(found))
    if beside is not None:
        name, other = beside
        lines.append(beside_sentence(found, other, found.station.name or "Here", name))
    return lines


def _table(found: Season) -> list[str]:
    """Table with months as rows and hours as columns: band and fill; a dot if one operator is asleep."""
    from propagation.wording.season import month_short

    if not found.bands:
        return []
    lines = ["       " + "".join(f"{hour:02d} " for hour in range(24)).rstrip()]
    best, bands = found.best[1], found.best_band
    for m, month in enumerate(found.months):
        cells = [_cell(found.bands[bands[m, h]].name, best[m, h], bool(found.suits[m, h])) for h in range(24)]
        lines.append(f"{month_short(month)} " + "".join(cells).rstrip())
    lines.append("       band in metres and how likely; · one of the two is asleep")
    return lines


def _cell(band: str, chance: float, awake: bool) -> str:
    if chance < 0.02:
        return "   "
    figure = band.removesuffix("m")
    figure = TOP_BAND if len(figure) > 2 else f"{figure:>2}"
    return figure + (FILLS[int(np.ceil(min(chance, 0.999) * 8.0))] if awake else "·")
