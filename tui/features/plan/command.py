"""`bandwhen plan`: the band for each part of the time on air, as a run sheet."""

from __future__ import annotations

import argparse
import sys
import textwrap
from pathlib import Path
from typing import TYPE_CHECKING, Final

import numpy as np

from propagation.base.errors import InputError
from tui.app import clock, command_base, forecast_options
from tui.app.choice import USUAL_HOURS
from tui.kit.format import text_width

if TYPE_CHECKING:
    from propagation.advice.plan_contacts import Contacts
    from propagation.advice.plan_day import Step
    from propagation.signal.chances.forecast import Forecast
    from propagation.wording.plan import RunSheet
    from tui.app.command_base import Subparsers

NOTHING: Final = 3
LONGEST_HOURS: Final = 24.0


def add_parser(subparsers: Subparsers) -> None:
    """Describe the command's options."""
    parser = subparsers.add_parser(
        "plan",
        help="when to switch bands in the time on the air: a run sheet",
        description="The sequence of bands that brings most contacts in the time on the air, the minutes of "
        "every change counted, with settings, cautions and conditions; and what switching gains over "
        "staying. The range in brackets is kept on 8 outings of 10.",
    )
    parser.add_argument(
        "--to",
        action="append",
        metavar="TARGET",
        help="whom to reach (default: anyone); may be repeated, the contacts with regions are added up",
    )
    parser.add_argument(
        "--from", dest="start_place", metavar="PLACE", help="instead of the station's own place"
    )
    forecast_options.add_time_options(
        parser,
        "as 2026-03-20 or saturday (default: today)",
        "as 06:00, 'saturday 09:00-13:00', 'tomorrow after sunset', 'in 2 hours' (default: now)",
        f"time on air (default: {USUAL_HOURS:g}), or a span as 9-13",
    )
    parser.add_argument("--on", metavar="BAND", help="the band the station is set up for at the start")
    parser.add_argument(
        "--used", action="append", default=[], metavar="BAND", help="a band worked already: counts for half"
    )
    parser.add_argument(
        "--dead",
        action="append",
        default=[],
        metavar="BAND",
        help="bands found dead, as 40m or 40m,20m: left alone for all this time",
    )
    parser.add_argument(
        "--change",
        type=command_base.number,
        default=0.0,
        metavar="MIN",
        help="minutes lost with every change beside the work at the antenna",
    )
    parser.add_argument(
        "--stay",
        type=command_base.number,
        default=20.0,
        metavar="MIN",
        help="least minutes on a band (default: 20)",
    )
    parser.add_argument("--mode", metavar="M", help="SSB, CW, FM or DIGITAL instead of the rig's")
    parser.add_argument("--power", type=command_base.number, metavar="W", help="watts instead of the rig's")
    forecast_options.add_contacts(parser)
    command_base.add_station(parser)
    command_base.add_conditions(parser)
    command_base.add_output(parser)
    parser.add_argument("--markdown", action="store_true", help="the run sheet as Markdown")
    parser.add_argument(
        "--page",
        type=Path,
        metavar="FILE",
        help="write a pocket page (.html) for the telephone and for one printed A5 sheet",
    )
    parser.add_argument("--bands", default="", metavar="BANDS", help="plan for these bands alone, as 40m,20m")
    kept = parser.add_mutually_exclusive_group()
    kept.add_argument(
        "--open",
        metavar="NAME",
        help="start from a plan kept under a name, or from its file; other options change it, as --date",
    )
    kept.add_argument("--list", action="store_true", help="list the plans kept")
    kept.add_argument("--delete", metavar="NAME", help="delete a plan kept")
    kept.add_argument("--copy", nargs=2, metavar=("NAME", "NEW"), help="keep a plan under a further name")
    kept.add_argument("--rename", nargs=2, metavar=("NAME", "NEW"), help="give a plan kept another name")
    parser.add_argument(
        "--keep", metavar="NAME", help="keep this plan: day, hours, place, people, bands, mode and power"
    )
    parser.add_argument(
        "--force", action="store_true", help="overwrite another program's file, or a plan kept"
    )


def run(args: argparse.Namespace) -> int:
    """Compute and print the plan; return 3 if no band is worth trying."""
    from dataclasses import replace

    from propagation.advice.plan_day import TimeOnAir, plan_day, times_on_air, worth_planning
    from propagation.advice.setup_notes import setup_notes
    from propagation.signal.chances.forecast import forecast
    from propagation.spectrum import bands
    from propagation.station import friends
    from propagation.wording.plan import make_run_sheet
    from tui.app.choice import HoursOnAir
    from tui.app.command_base import saved_friends
    from tui.app.kept_plans import new
    from tui.features.plan.kept import change_kept, keep, list_kept, take_over

    if args.list:
        return list_kept(args)
    if args.delete is not None or args.copy or args.rename:
        return change_kept(args)
    if args.open is not None:
        take_over(args)
    forecast_options.take_outing(args)
    start, args.hours = forecast_options.on_air(args, USUAL_HOURS)
    _check(args)
    only = _names(args.bands)
    names = {key: bands.by_name(text).name for key, text in (("on", args.on),) if text}
    used = tuple(bands.by_name(text).name for text in args.used)
    dead = tuple(name for given in args.dead for name in _names(given))
    end = start + np.timedelta64(round(args.hours * 3600.0), "s")
    wanted = args.to or ["anyone"]

    first = argparse.Namespace(**{**vars(args), "to": wanted[0]})
    times = times_on_air(start, end)
    question = forecast_options.ask(first, times)
    people = saved_friends()
    results = [forecast(question)]
    for text in wanted[1:]:
        target = friends.resolve(text, people, question.station.site.position)
        other = replace(question, target=target, far=forecast_options.far_of(text, people) or question.far)
        results.append(forecast(other))

    wish = TimeOnAir(
        start=start,
        end=end,
        used=used,
        dead=tuple((band, start) for band in dead),
        current=names.get("on", dead[-1] if dead else None),
        extra_min=args.change,
        shortest_min=args.stay,
    )
    weights = [1.0] * len(results)
    if not worth_planning(results):
        return _nothing(args, results, start, end)
    setups = setup_notes(results[0], question.own_end, only)
    plan = plan_day(results, question.terminals, wish, setups, weights)
    sheet = make_run_sheet(plan, results, question.own_end.antenna, setups, clock.now())
    if args.keep is not None:
        on_air = HoursOnAir(start, args.hours, bands=only)
        keep(args, new(question.station, on_air, args.keep, tuple(wanted), sheet.mode, sheet.power_w), sheet)
    _print(args, sheet, results)
    if args.page is not None:
        command_base.tell_clock(argparse.Namespace(), question.station.site.zone)  # also beside JSON
        _write_page(args.page, sheet, args.force)
    return 0


def _names(text: str) -> tuple[str, ...]:
    """The bands of an option, as 40m,20m."""
    from propagation.spectrum import bands

    return tuple(bands.by_name(name).name for name in text.split(",") if name.strip())


def _write_page(file: Path, sheet: RunSheet, force: bool) -> None:
    """Write the pocket page and say on standard error where it is; TakenError if the name is in use."""
    from propagation.base import files
    from propagation.wording.plan_page import PAGE_MARK, plan_page

    page = plan_page(sheet, clock.now()).encode("utf-8", "replace")
    remedy = "give --page another name, or add --force to overwrite it"
    files.export(file, page, (PAGE_MARK.encode(),), force=force, remedy=remedy)
    command_base.note(f"The pocket page is written to {file.resolve()}.")


def _check(args: argparse.Namespace) -> None:
    if not 0.5 <= args.hours <= LONGEST_HOURS:
        raise InputError(f"--hours {args.hours:g} is outside 0.5 to {LONGEST_HOURS:g} hours.")
    for option, value in (("--change", args.change), ("--stay", args.stay)):
        if not 0.0 <= value <= 240.0:
            raise InputError(f"{option} {value:g} is outside 0 to 240 minutes.")


def _print(args: argparse.Namespace, sheet: RunSheet, results: list[Forecast]) -> None:
    from propagation.wording.plan import sheet_markdown, sheet_sentences, sheet_text

    if args.markdown and not args.json:
        print(sheet_markdown(sheet), end="")
        return
    text = "\n".join(part for line in sheet_text(sheet).splitlines() for part in _wrapped(line))
    command_base.answer(args, _data(sheet, results), text, "\n".join(sheet_sentences(sheet)))


def _wrapped(line: str) -> list[str]:
    indent = " " * (len(line) - len(line.lstrip()))
    return textwrap.wrap(line, text_width(), initial_indent="", subsequent_indent=indent + "  ") or [""]


def _head(results: list[Forecast], start: np.datetime64, end: np.datetime64) -> dict[str, object]:
    first = results[0]
    return {
        "start": start,
        "end": end,
        "site": {
            "name": first.station.name,
            "lat_deg": first.station.site.position.lat_deg,
            "lon_deg": first.station.site.position.lon_deg,
        },
        "targets": [result.target.name for result in results],
        "mode": first.mode.name,
        "power_w": first.power_w,
        "conditions": first.conditions.as_dict(start, clock.now()),
    }


def _nothing(
    args: argparse.Namespace, results: list[Forecast], start: np.datetime64, end: np.datetime64
) -> int:
    from propagation.advice.nothing_now import nothing_between
    from propagation.wording.windows import nothing_sentence

    found = nothing_between(results[0], 0, len(results[0].times))
    assert found is not None
    print(nothing_sentence(results[0], found, "plan"), file=sys.stderr)
    if args.page is not None or args.keep is not None:
        command_base.note("Nothing was written or kept.")
    if args.json:
        command_base.answer(
            args, {**_head(results, start, end), "steps": [], "contacts": _range(None)}, "", ""
        )
    return NOTHING


def _data(sheet: RunSheet, results: list[Forecast]) -> dict[str, object]:
    from dataclasses import asdict

    from propagation.wording.plan_contacts import gain_sentence, total_sentence
    from propagation.wording.setup import setup_words
    from propagation.wording.windows import left_out_words

    plan = sheet.plan
    return {
        **_head(results, plan.wish.start, plan.wish.end),
        "steps": [_step_data(step) for step in sheet.steps],
        "contacts": _range(plan.contacts),
        "total": total_sentence(plan),
        "reward_minutes": plan.plan.reward,
        "single": {
            "band": plan.plan.single_band,
            "reward_minutes": plan.plan.single_reward,
            "contacts": plan.promise.contacts(plan.plan.single_reward),
        },
        "gain_minutes": plan.plan.gain,
        "gain_contacts": plan.gain,
        "gain": gain_sentence(plan),
        "alternatives": [{"band": band, "contacts": contacts} for band, contacts in plan.singles()],
        "settings": [{"setup": setup_words(card), **asdict(card)} for card in sheet.cards],
        "cautions": sheet.cautions,
        "left_out": [
            {"band": row.band, "limit": row.cause, "reason": left_out_words(row)} for row in sheet.left_out
        ],
    }


def _range(contacts: Contacts | None) -> dict[str, float | None]:
    """Contacts with their range; null without a region."""
    named = ("low", "middle", "high")
    return {name: None if contacts is None else float(getattr(contacts, name)) for name in named}


def _step_data(step: Step) -> dict[str, object]:
    from propagation.wording.plan import expect_words, leave_words
    from propagation.wording.setup import setup_words, work_words

    change, backup = step.change, step.backup
    return {
        "start": step.stay.start,
        "end": step.stay.end,
        "band": step.stay.band,
        "frequency_mhz": step.frequency_mhz,
        "contacts": step.contacts.middle if step.contacts is not None else None,
        "contacts_range": _range(step.contacts),
        "chance": step.prospect.chance,
        "share": [one.share for one in step.expect],
        "expect": expect_words(step.expect),
        "elevation_deg": step.elevation_deg,
        "route": step.route,
        "way": step.mode,
        "lost_minutes": step.stay.lost_min,
        "reward_minutes": step.stay.reward,
        "setup": setup_words(step.setup),
        "change": work_words(step.work) if step.work is not None else "",
        "change_contacts": {"costs": change.costs, "wins": change.wins} if change is not None else None,
        "leave": leave_words(step.leave),
        "backup": backup.band if backup is not None else None,
        "backup_contacts": backup.contacts if backup is not None else None,
    }
