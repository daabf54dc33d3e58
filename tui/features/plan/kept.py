"""Kept plans, in the command and on the page: keep one, list them, start from one."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Final

from propagation.base import files
from propagation.base.errors import BandwhenError
from propagation.base.files import TakenError
from propagation.wording import quantities as say
from tui.app import clock, command_base, kept_plans, outing_journal, paths, undo
from tui.app.prompts import not_there_yet
from tui.kit.format import iso
from tui.kit.input_parsing import fault

if TYPE_CHECKING:
    from propagation.wording.plan import RunSheet
    from tui.app.app_base import AppBase
    from tui.app.kept_plans import KeptPlan
    from tui.kit.overlays import Reply

FROM_FILE: Final = "from a file"


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
        lines.append(f"They are in {paths.plans_dir()}, a file each, which may be given to somebody.")
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


def change_kept(args: argparse.Namespace) -> int:
    """Delete, copy or rename a plan kept, and say so."""
    try:
        if args.delete is not None:
            removed = kept_plans.delete(args.delete)
            _told(args, "deleted", removed.name, removed.file, f"The plan {removed.name!r} is deleted.")
            return 0
        text, new = args.copy or args.rename
        name = kept_plans.as_kept(kept_plans.located(text)).name
        plan = (
            kept_plans.copy(name, new, args.force) if args.copy else kept_plans.rename(name, new, args.force)
        )
    except TakenError as error:
        remedy = "give another name, or add --force to replace it"
        raise TakenError(f"{error.message.rstrip('.')}; {remedy}.", error.path) from None
    file, done = kept_plans.file_of(plan.name), "copied" if args.copy else "renamed"
    _told(args, done, plan.name, file, f"The plan {name!r} is {done} to {plan.name!r}, in {file}.")
    return 0


def _told(args: argparse.Namespace, done: str, name: str, file: Path, sentence: str) -> None:
    command_base.answer(args, {"done": done, "name": name, "file": str(file)}, sentence, sentence)


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
        not_there_yet(app, "the station", "k")
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
        lambda text: (
            _written(app, plan(text).name, lambda force: _keep(app, plan(text), force)) if text else None
        ),
    )


def _written(app: AppBase, name: str, write: Callable[[bool], None]) -> None:
    """Write a plan; ask before one of the same name is replaced. write: takes whether it is."""
    from tui.kit.overlays import KEEP, REPLACE, Pick

    def answered(answer: str | None) -> None:
        if answer == REPLACE:
            tried(True)
        else:
            app.say("The plan kept before was not changed.")

    def tried(force: bool) -> None:
        try:
            write(force)
        except TakenError:
            options = ((KEEP, "nothing is written"), (REPLACE, "the plan kept before is lost"))
            app.push_screen(Pick(f"A plan {name!r} is kept already. Replace it?", options, KEEP), answered)
        except BandwhenError as error:
            app.say(error.message)

    tried(False)


def _keep(app: AppBase, plan: KeptPlan, force: bool) -> None:
    """Keep a plan, and say where."""
    before = _before(plan.name)
    file = kept_plans.keep(plan, force=force)
    _note(app, f"the plan {plan.name!r}, kept", _back_to(before, file))
    _name_hours(app, plan.name)
    app.say(f"Kept as {plan.name!r} in {file}; the file may be given to somebody. u takes it back.")


def ask_which(app: AppBase) -> None:
    """List the plans kept; start from the one picked, or copy, rename or delete it."""
    from tui.kit.overlays import PickKept

    plans, faults = kept_plans.all_kept()
    of_name = {plan.name: plan for plan in plans}
    options = [(plan.name, say.on_one_clock(plan.told)) for plan in plans]
    options.append((FROM_FILE, "one that somebody gave you"))
    hours = app.state.hours
    last = plans[-1].name if plans else FROM_FILE
    current = hours.plan if hours is not None and hours.plan in of_name else last
    told = faults if plans else ("No plan is kept yet; k keeps this one.", *faults)
    sheet = PickKept("Start from which plan", options, current, told)

    def picked(name: str | None) -> None:
        if name is None:
            return
        if name not in of_name:
            if sheet.act:
                app.say("A file that somebody gave you is first opened; k then keeps the plan.")
            else:
                _ask_file(app)
        elif sheet.act == "delete":
            _delete(app, name)
        elif sheet.act:
            _ask_other_name(app, name, sheet.act == "rename")
        else:
            _start_from(app, of_name[name])

    app.push_screen(sheet, picked)


def _ask_file(app: AppBase) -> None:
    """Ask for the file of a plan, and start from it."""
    from tui.kit.overlays import Ask

    def opened(text: str, reply: Reply) -> None:
        try:
            plan = kept_plans.given_in(paths.expanded(text))
        except BandwhenError as error:
            reply(error.message.replace(f"{paths.expanded(text)}: ", ""))  # the path is in the entry above
            return
        reply("")
        _start_from(app, plan)

    app.push_screen(Ask("File of a plan that somebody gave you, as ~/ridge.toml", commit=opened))


def _delete(app: AppBase, name: str) -> None:
    """Delete a plan, and say how it comes back."""
    try:
        removed = kept_plans.delete(name)
    except BandwhenError as error:
        app.say(error.message)
        return
    _note(app, f"the plan {removed.name!r}, deleted", lambda: kept_plans.put_back(removed))
    app.say(f"The plan {removed.name!r} is deleted. u brings it back.")


def _ask_other_name(app: AppBase, name: str, renamed: bool) -> None:
    """Ask for the name of a copy, or for another name, and keep the plan under it."""
    from tui.kit.overlays import Ask

    def write(new: str, force: bool) -> None:
        old, before = kept_plans.located(name), _before(new)
        was = kept_plans.as_kept(old)
        plan = (kept_plans.rename if renamed else kept_plans.copy)(name, new, force)
        file = kept_plans.file_of(plan.name)
        back = _back_to(before if file != old else None, file)

        def undo_it() -> None:
            back()
            if renamed:
                kept_plans.put_back(was)

        done = f"renamed to {plan.name!r}" if renamed else f"copied to {plan.name!r}"
        _note(app, f"the plan {name!r}, {done}", undo_it)
        hours = app.state.hours
        if renamed and hours is not None and hours.plan == name:
            _name_hours(app, plan.name)
        app.say(f"The plan {name!r} is {done}. u takes it back.")

    def check(text: str) -> str:
        return fault(lambda: kept_plans.check_name(text.strip()))

    question = f"Other name for {name!r}" if renamed else f"Name of the copy of {name!r}"
    app.push_screen(
        Ask(question, name if renamed else f"{name} 2"[: kept_plans.LONGEST_NAME], check),
        lambda new: _written(app, new.strip(), lambda force: write(new.strip(), force)) if new else None,
    )


def _before(name: str) -> kept_plans.Removed | None:
    """The plan that is kept in the file of a name, to be put back; None where there is none."""
    file = kept_plans.file_of(name)
    return kept_plans.as_kept(file) if files.is_file(file) else None


def _back_to(before: kept_plans.Removed | None, file: Path) -> Callable[[], None]:
    """Return the function that deletes a written file and puts back the one that was there before."""

    def back() -> None:
        kept_plans.remove(file)
        if before is not None:
            kept_plans.put_back(before)

    return back


def _note(app: AppBase, what: str, back: Callable[[], None]) -> None:
    """Note what was done to the kept plans, so that key u takes it back with the name of the hours on air."""
    hours = app.state.hours
    name = hours.plan if hours is not None else ""

    def take_back(_screens: undo.Screens) -> None:
        back()
        _name_hours(app, name)

    app.state.done.append(undo.Done(what, take_back))


def _name_hours(app: AppBase, name: str) -> None:
    """Name the hours on air after a plan."""
    if app.state.hours is not None and app.state.hours.plan != name:
        app.plan_for(replace(app.state.hours, plan=name), noted=False)


def _start_from(app: AppBase, plan: KeptPlan) -> None:
    """Take the hours, the target, the bands, the mode and the power of a plan."""
    choice = app.state.choice
    if choice is None:
        not_there_yet(app, "the station", "o")
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
