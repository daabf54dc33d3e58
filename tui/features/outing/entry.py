"""The line of a contact: what it is understood as, writing it, and correcting one that is in the log."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from propagation.base.errors import BandwhenError
from propagation.geo.locator import locator_of
from propagation.logbook import journal
from propagation.logbook.journal import Made, Worked
from propagation.logbook.typed_contact import Typed, understood
from propagation.spectrum.modes import by_name
from propagation.wording import outing as say_on_air
from propagation.wording import quantities as say
from tui.app import outing_log, times_typed, undo
from tui.app.choice import Choice, HoursOnAir
from tui.app.prompts import here

if TYPE_CHECKING:
    from tui.app.app_base import AppBase

AHEAD = np.timedelta64(300, "s")  # after now: a typed time that is still later is yesterday's (ours)
DAY = np.timedelta64(86400, "s")
WRITE_ONE = "Call sign, reports, band, time, name, reference, note: what you have, in any order"


@dataclass(frozen=True)
class ContactLine:
    """A contact being typed. band: where none is typed. old: the contact corrected; None: a new one."""

    app: AppBase
    choice: Choice
    hours: HoursOnAir
    band: str
    old: Made | None = None

    def check(self, text: str) -> str:
        """Return why a line is no contact; empty where it is one."""
        try:
            self.worked(text)
        except BandwhenError as error:
            return error.message
        return ""

    def preview(self, text: str) -> str:
        """Return how a line is understood."""
        worked = self.worked(text)
        told = say_on_air.worked_words(worked, self.app.clock(), self._before(worked))
        return f"{told} {say_on_air.doubt_words(self._typed(text).doubts)}".rstrip()

    def worked(self, text: str) -> Worked:
        """The contact of a line; InputError where it is none."""
        typed = self._typed(text)
        site = self.app.engine.sites.station(self.choice.station).site
        time = typed.time if typed.time is not None else self.app.clock()
        if self.old is not None and (typed.time is None or same_minute(time, self.old.time)):
            time = self.old.time
        return Worked(
            typed.call,
            typed.sent,
            typed.received,
            time,
            typed.band or self.band,
            typed.frequency_mhz,
            by_name(self.choice.mode).name,
            self.choice.power_w,
            locator_of(site.position.lat_deg, site.position.lon_deg),
            site.call_sign,
            site.reference,
            typed.name,
            typed.locator,
            typed.reference,
            typed.note,
        )

    def _typed(self, text: str) -> Typed:
        return understood(text, self.choice.mode, self._moment)

    def write(self, text: str) -> Worked:
        """Write the contact, or the correction, at once. InputError if it fails."""
        worked = self.worked(text)
        again = self._before(worked)
        told = say_on_air.worked_words(worked, self.app.clock(), again)
        if self.old is None:
            file = outing_log.log_file(self.hours)
            named = replace(self.hours, log=str(file))
            self.app.plan_for(named)  # before the record: after a crash the journal names the log
            _, after = outing_log.write_contact(named, worked)
            done = "written"
            back = partial(_exchanged, file, after, b"")
        else:
            file = Path(self.hours.log)
            before, after = outing_log.change_contact(file, self.old, worked)
            done = "corrected"
            back = partial(_exchanged, file, after, before)
        what = f"{worked.call} on {say.band_title(worked.band)}"
        self.app.state.done.append(undo.Done(f"{what}, {done}", back))
        self.app.say(f"{done.capitalize()}: {told}")
        self.app.want()
        return worked

    def _before(self, worked: Worked) -> Made | None:
        own = self.old.offset if self.old is not None else -1
        others = [one for one in outing_log.made(self.hours) if one.offset != own]
        return journal.duplicate(others, worked.call, worked.band)

    def _moment(self, text: str) -> np.datetime64:
        """A typed time: the last such time before now; of a correction the one nearest to the old time."""
        now = self.app.clock()
        found = times_typed.moment(text, here(self.app), now.astype("datetime64[D]"))
        past = [day for day in (found + number * DAY for number in range(-2, 3)) if day <= now + AHEAD]
        if self.old is None:
            return max(past)
        before = self.old.time  # which can be days ago
        near = found + np.round((before - found) / DAY) * DAY
        return near if near <= now + AHEAD else max(past)


def same_minute(one: np.datetime64, other: np.datetime64) -> bool:
    """Return whether two times show alike."""
    return bool(one.astype("datetime64[m]") == other.astype("datetime64[m]"))


def _exchanged(file: Path, old: bytes, new: bytes, app: AppBase) -> None:
    outing_log.exchange(file, old, new)


def take_out(app: AppBase, hours: HoursOnAir, one: Made) -> None:
    """Take a contact out of the log. InputError if it fails."""
    file = Path(hours.log)
    record = outing_log.remove_contact(file, one)
    what = f"{undo.contact_words(one)}, taken out of the log"
    app.state.done.append(undo.Done(what, lambda _: outing_log.put_back(file, record)))
    app.say(f"{undo.contact_words(one)}: taken out of the log. u puts it back.")


def without(hours: HoursOnAir, what: object) -> HoursOnAir:
    """The outing without a mark, or without a band taken as dead."""
    return replace(
        hours,
        marks=tuple(one for one in hours.marks if one is not what),
        dead=tuple(one for one in hours.dead if one is not what),
    )
