"""Kept plans, in the command and on the page: keep one, list them, start from one."""

from __future__ import annotations

import argparse
from dataclasses import replace
from typing import TYPE_CHECKING

from propagation.base.errors import BandwhenError
from propagation.base.files import TakenError
from propagation.wording import quantities as say
from tui.app import clock, command_base, kept_plans, outing_journal, paths
from tui.kit.format import iso
from tui.kit.input_parsing import fault

if TYPE_CHECKING:
    from propagation.wording.plan import RunSheet
    from tui.app.app_base import AppBase
    from tui.app.kept_plans import KeptPlan


def keep(args: argparse.Namespace, plan: KeptPlan, sheet: RunSheet) -> None:
    """Keep the plan with its run sheet, and say where."""
    from propagation.wording.plan import sheet_text

    try:
        file = kept_plans.keep(plan, sheet_text(sheet), args.force)
    except TakenError as error:
        remedy = "give --keep another name, or add --force to replace it"
        raise TakenError(f"{error.message.rstrip('.')}; {remedy}.", error.path) from None
    command_base.note(f"The plan {plan.name!r} is kept in {file}, a file that may be given to somebody.")


def list_kept(args: argparse.Namespace) -> int:
    """Print the plans kept, a line each."""
    command_base.station_of(args)  # whose clock is told
    plans, faults = kept_plans.all_kept()
    lines = [f"{plan.name}: {plan.told}" for plan in plans]
    if plans:
        lines.append(f"They are in {paths.plans_dir()}, a file each, to be given away or deleted.")
    else:
        lines.append("No plan is kept. 'bandwhen plan --keep NAME' keeps one.")
    for sentence in faults:
        command_base.note(sentence)
    rows = [
        {"name": plan.name, "start": plan.begin, "hours": plan.hours, "place": plan.place,
         "locator": plan.locator, "people": plan.people, "bands": plan.bands, "mode": plan.mode,
         "power_w": plan.power_w or None}
        for plan in plans
    ]  # fmt: skip
    text = "\n".join(lines)
    command_base.answer(args, {"plans": rows}, text, text)
    return 0


def take_over(args: argparse.Namespace) -> None:
    """Fill the options that were not given with those of the plan to start from."""
    plan = kept_plans.find(args.open)
    args.to = args.to or list(plan.people) or None
    args.mode = args.mode or plan.mode or None
    args.power = plan.power_w or None if args.power is None else args.power
    args.bands = args.bands or ",".join(plan.bands)
    _take_time(args, plan)
    if args.start_place is None and plan.locator:
        own = kept_plans.locator_of_station(command_base.station_of(args))
        if plan.locator.casefold() != own.casefold():
            args.start_place = plan.locator
            command_base.note(
                f"The plan is for {plan.place or 'a place'} in {plan.locator}, with your antenna; "
                f"your station is in {own}."
            )


def _take_time(args: argparse.Namespace, plan: KeptPlan) -> None:
    """The plan's hours and time of day, where the options name none; a day alone keeps both."""
    if args.start is not None or (args.date is not None and fault(lambda: clock.parse_date(args.date))):
        return
    if args.hours is None:
        args.hours = f"{plan.hours:g}"
    args.start = f"{say.utc_clock(plan.begin)}Z" if args.date is not None else iso(plan.begin)
    if args.date is None and plan.end <= clock.now():
        command_base.note(
            f"The day of the plan {plan.name!r}, {say.date(plan.begin)}, is over; --date D moves it."
        )


# --- on the page -------------------------------------------------------------------------------------------


def ask_name(app: AppBase) -> None:
    """Ask for a name, and keep the hours on air and the choice under it."""
    from tui.kit.overlays import Ask

    choice, hours = app.state.choice, app.state.hours
    if choice is None or hours is None:
        return
    try:
        station = app.engine.sites.chosen(choice)
    except BandwhenError as error:  # the station's file is missing or has changed
        app.say(error.message, fault="form")
        return
    whom = hours.target or choice.target

    def plan(name: str) -> KeptPlan:
        return kept_plans.new(station, hours, name.strip(), (whom,), choice.mode, choice.power_w)

    question = "Name to keep this plan under: day, hours, place, whom, bands, mode and power"
    name = hours.plan or f"{say.day_title(hours.start)} {whom}"[: kept_plans.LONGEST_NAME]
    app.push_screen(
        Ask(question, name, lambda text: fault(lambda: plan(text))),
        lambda text: _keep(app, plan(text)) if text else None,
    )


def _keep(app: AppBase, plan: KeptPlan, force: bool = False) -> None:
    """Keep a plan, and say where; ask before one of the same name is replaced."""
    from tui.kit.overlays import KEEP, REPLACE, Pick

    def answered(answer: str | None) -> None:
        if answer == REPLACE:
            _keep(app, plan, True)
        else:
            app.say("The plan kept before was not changed.")

    try:
        file = kept_plans.keep(plan, force=force)
    except TakenError:
        options = ((KEEP, "nothing is written"), (REPLACE, "the plan kept before is lost"))
        app.push_screen(Pick(f"A plan {plan.name!r} is kept already. Replace it?", options, KEEP), answered)
    except BandwhenError as error:
        app.say(error.message)
    else:
        if app.state.hours is not None:
            app.plan_for(replace(app.state.hours, plan=plan.name))
        app.say(f"Kept as {plan.name!r} in {file}; the file may be given to somebody.")


def ask_which(app: AppBase) -> None:
    """List the plans kept, and start from the one picked."""
    from tui.kit.overlays import Pick

    plans, faults = kept_plans.all_kept()
    if not plans:
        app.say(" ".join(["No plan is kept yet; k keeps this one.", *faults]))
        return
    of_name = {plan.name: plan for plan in plans}
    options = [(plan.name, say.on_one_clock(plan.told)) for plan in plans]
    hours = app.state.hours
    current = hours.plan if hours is not None and hours.plan in of_name else plans[-1].name
    app.push_screen(
        Pick("Start from which plan", options, current, faults),
        lambda name: _start_from(app, of_name[name]) if name else None,
    )


def _start_from(app: AppBase, plan: KeptPlan) -> None:
    """Take the hours, the target, the bands, the mode and the power of a plan."""
    choice = app.state.choice
    if choice is None:
        return
    start = plan.ahead(app.clock())
    told = [f"Plan {plan.name!r} is open."]
    if start != plan.begin:
        told = [f"Plan {plan.name!r} of {say.date(plan.begin)} is moved to {say.date(start)}; d changes it."]
    try:
        own = kept_plans.locator_of_station(app.engine.sites.chosen(choice))
    except BandwhenError as error:
        app.say(error.message, fault="form")
        return
    if plan.locator and plan.locator.casefold() != own.casefold():
        told.append(f"It was made in {plan.locator}; it is now made for your station in {own}.")
    if len(plan.people) > 1:
        told.append(f"It is for {say.listed(plan.people)}; this page plans for {plan.people[0]}.")
    if plan.mode and plan.mode != choice.mode:
        app.set_mode(plan.mode)
    if plan.power_w and plan.power_w != choice.power_w:
        app.set_power(plan.power_w)
    app.plan_for(outing_journal.carried_over(app.state.hours, plan.on_air(start)))
    app.say(" ".join(told))
