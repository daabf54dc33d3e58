"""Taking back the last thing done on an outing: a contact, a correction, a mark, a band, other hours, or
another target, mode or power.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Protocol, TypeVar

import numpy as np

from propagation.base.errors import InputError
from propagation.wording import outing as say_on_air
from propagation.wording import quantities as say
from tui.app import outing_log
from tui.app.choice import HoursOnAir, Mark

if TYPE_CHECKING:
    from propagation.logbook.journal import Made


T = TypeVar("T")


class Hours(Protocol):
    """The part of the state that is taken back: the hours on air, and what was done."""

    @property
    def hours(self) -> HoursOnAir | None: ...
    @property
    def done(self) -> list[Done]: ...


class Screens(Protocol):
    """The app as far as it takes things back."""

    @property
    def state(self) -> Hours: ...
    def say(self, sentence: str) -> None: ...
    def plan_for(self, hours: HoursOnAir, noted: bool = True) -> None: ...
    def set_target(self, text: str, noted: bool = True) -> None: ...
    def set_mode(self, mode: str, noted: bool = True) -> None: ...
    def set_power(self, power_w: float, noted: bool = True) -> None: ...


@dataclass(frozen=True)
class Done:
    """One thing done, in words, and what takes it back; that raises InputError if it fails."""

    what: str
    back: Callable[[Screens], None]


def take_back(app: Screens) -> None:
    """Take back the last thing done, and say what it was."""
    done = app.state.done[-1] if app.state.done else _latest(app.state.hours)
    if done is None:
        app.say("There is nothing to take back.")
        return
    try:
        done.back(app)
    except InputError as error:
        app.say(error.message)
        return
    if app.state.done:
        app.state.done.pop()
    app.say(f"Taken back: {done.what}.")


def of_target(before: str, after: str) -> Done:
    """The change to another target."""
    return Done(f"{after} as the target, {before} again", lambda app: app.set_target(before, noted=False))


def of_mode(before: str, after: str) -> Done:
    """The change to another mode."""
    return Done(f"{after} as the mode, {before} again", lambda app: app.set_mode(before, noted=False))


def of_power(before_w: float, after_w: float) -> Done:
    """The change to another power."""
    told = f"{say.watts(after_w)} at the rig, {say.watts(before_w)} again"
    return Done(told, lambda app: app.set_power(before_w, noted=False))


def of_hours(before: HoursOnAir | None, after: HoursOnAir) -> Done | None:
    """The change from some hours to others; None where nothing changed that can be taken back."""
    what = _change_words(before, after) if before is not None else ""
    return Done(what, partial(_restore, before)) if before is not None and what else None


def _restore(before: HoursOnAir, app: Screens) -> None:
    log = app.state.hours.log if app.state.hours is not None else ""
    app.plan_for(replace(before, log=log or before.log), noted=False)


def _change_words(before: HoursOnAir, after: HoursOnAir) -> str:
    """What the later hours have that the earlier ones do not, in words; empty where they are the same."""
    new, gone = _differing(before.marks, after.marks)
    if new or gone:
        return mark_words((new or gone)[-1]) + ("" if new else ", taken out")
    dead, alive = _differing(before.dead, after.dead)
    if after.band and after.band != before.band:
        return f"{say.band_title(after.band)} as the band in use"
    if dead or alive:
        return dead_words(*(dead or alive)[-1]) + ("" if dead else ", taken out")
    if before == after:
        return ""
    whom = f" for {after.target}" if after.target else ""
    return f"the hours {say.date(after.start)} {say.both_spans(after.start, after.end)}{whom}"


def _differing(before: tuple[T, ...], after: tuple[T, ...]) -> tuple[list[T], list[T]]:
    return [one for one in after if one not in before], [one for one in before if one not in after]


def mark_words(mark: Mark) -> str:
    """A mark in words: `no answer on 40 m at 09:12 UTC`."""
    return f"{say_on_air.MARK_WORDS[mark.kind]} {say.band_title(mark.band)} at {say.both_clocks(mark.when)}"


def dead_words(band: str, found: np.datetime64) -> str:
    """A band taken as dead, in words."""
    return f"{say.band_title(band)} taken as dead at {say.both_clocks(found)}"


def contact_words(one: Made) -> str:
    """A contact in words: `ZS1TEST on 20 m at 09:12 UTC`."""
    return f"{one.call} on {say.band_title(one.band)} at {say.both_clocks(one.time)}"


def _latest(hours: HoursOnAir | None) -> Done | None:
    """The latest contact or mark of an outing that a former run of the program began."""
    if hours is None:
        return None
    found: list[tuple[np.datetime64, Done]] = []
    for mark in hours.marks:
        left = tuple(one for one in hours.marks if one is not mark)
        found.append((mark.when, Done(mark_words(mark), partial(_restore, replace(hours, marks=left)))))
    for entry in hours.dead:
        alive = replace(hours, dead=tuple(one for one in hours.dead if one is not entry))
        found.append((entry[1], Done(dead_words(*entry), partial(_restore, alive))))
    for one in outing_log.made(hours):
        found.append((one.time, Done(contact_words(one), partial(_take_out, one, Path(hours.log)))))
    return max(found, key=lambda pair: pair[0])[1] if found else None


def _take_out(one: Made, file: Path, app: Screens) -> None:
    outing_log.remove_contact(file, one)
