"""Sked: both clocks over the first day, the chance of the best band, and the proposed hours."""

from __future__ import annotations

from zoneinfo import ZoneInfo

import numpy as np

from propagation.advice.calendar import calendar_text
from propagation.advice.sked import (
    DAYS,
    Party,
    SkedRow,
    party_of_friend,
    party_of_station,
    sked,
)
from propagation.advice.sked import Sked as Found
from propagation.base.units import as_float
from propagation.geo import places
from propagation.station import friends
from propagation.station.station import AWAKE
from propagation.wording.sked import (
    changes_in_row,
    days_words,
    events,
    fallback_short,
    friends_there_sentence,
    gets_up_sentence,
    local_short,
    none_sentence,
    one_place_sentence,
    row_days,
    row_sentence,
)
from tui.app.choice import Choice
from tui.app.day_forecast import conditions_for, sun_day, times_from
from tui.app.sites import Sites
from tui.features.sked.view import SkedView, SunsView
from tui.features.sked.view import Slot as SlotView
from tui.kit.words import on_screen

DAY, SUN_STEP = np.timedelta64(86400, "s"), np.timedelta64(600, "s")


def sked_view(sites: Sites, choice: Choice, now: np.datetime64, days: int = DAYS) -> SkedView:
    """Skeds with the target, from the chosen day on, over `days` days in UTC.

    For a region there are none, because a sked is made with one station. The view then says so.
    """
    station = sites.chosen(choice)
    if sites.target(choice).is_region:
        return _with_nobody(sites, choice, now)
    friend = sites.friend(choice)
    home = party_of_station(station)
    far = party_of_friend(friend) if friend is not None else _party_of_place(sites, choice)
    start = max(now, choice.start).astype("datetime64[s]")
    until = choice.start.astype("datetime64[D]").astype("datetime64[s]") + np.timedelta64(86400 * days, "s")
    until = until if days < DAYS else start + np.timedelta64(86400 * days, "s")
    conditions = conditions_for(np.concatenate([times_from(start), [until]]), now)
    request = sites.request(choice, np.array([start, until]), conditions)
    found = sked(request, home, far, far_station=sites.far_station(choice))
    return _view(found, now)


def _with_nobody(sites: Sites, choice: Choice, now: np.datetime64) -> SkedView:
    """View for a region, with which no sked is possible: the friends there to choose from."""
    home, target = party_of_station(sites.chosen(choice)), sites.target(choice)
    known = sites.friends(choice.station)
    there = friends.inside(target, known, home.position)
    offered = there or known
    told = friends_there_sentence([f.name for f in there], [f.name for f in known])
    times = times_from(choice.start)
    nobody, nothing = np.zeros(times.size, dtype=np.bool_), np.zeros(times.size)
    hint = (
        "Enter makes an appointment with the one chosen; t asks for somebody else."
        if offered
        else ("Key t chooses a friend, a town or a locator.")
    )
    note = " ".join(part for part in (one_place_sentence(target.name), told, hint) if part)
    hours = as_float(home.local_minutes(times)) / 60.0
    return SkedView(
        home=home.name,
        far=target.name,
        home_zone=home.zone.key,
        far_zone="",
        day=times[0],
        times=times,
        home_hour=hours,
        far_hour=hours,
        home_free=nobody,
        far_free=nobody,
        best_chance=nothing,
        slots=(),
        note=note,
        calendar="",
        paper=f"{note}\n",
        days="",
        friends=tuple(
            (friend.name, f"{friend.place_name}; now {local_short(party_of_friend(friend), now)} there")
            for friend in offered
        ),
    )


def suns_view(sites: Sites, choice: Choice, day: np.datetime64) -> SunsView:
    """Sun at both ends on a day in UTC."""
    times = day.astype("datetime64[D]").astype("datetime64[s]") + SUN_STEP * np.arange(DAY // SUN_STEP)
    return SunsView(
        times,
        sun_day("here", sites.chosen(choice).site.position, times),
        sun_day("there", sites.target(choice).centre, times),
    )


def _party_of_place(sites: Sites, choice: Choice) -> Party:
    target = sites.target(choice)
    position = target.centre
    return Party(target.name, position, ZoneInfo(places.time_zone(position)), AWAKE)


def _view(found: Found, now: np.datetime64) -> SkedView:
    times, chance = found.times, found.chance
    best = np.max(np.nan_to_num(chance), axis=1) if chance.shape[1] else np.zeros(times.size)
    text = [row_sentence(row, found) for row in found.rows] or [none_sentence(found)]
    text += [gets_up_sentence(found)] if found.gets_up is not None else []
    return SkedView(
        home=found.home.name,
        far=found.far.name,
        home_zone=found.home.zone.key,
        far_zone=found.far.zone.key,
        day=times[0],
        times=times,
        home_hour=as_float(found.home.local_minutes(times)) / 60.0,
        far_hour=as_float(found.far.local_minutes(times)) / 60.0,
        home_free=found.home_suits,
        far_free=found.far_suits,
        best_chance=best,
        slots=tuple(_slot(row, found, now) for row in found.rows),
        note="" if found.slots else none_sentence(found),
        gets_up=gets_up_sentence(found),
        calendar=calendar_text(events(found), now, f"Skeds with {found.far.name}") if found.slots else "",
        paper="\n".join([f"{days_words(found)}.", *text]) + "\n",
        days=days_words(found),
    )


def _slot(row: SkedRow, found: Found, now: np.datetime64) -> SlotView:
    slot = row.slots[0]
    once = len(row.slots) == 1
    home, far = (local_short(party, slot.start)[0 if once else 4 :] for party in (found.home, found.far))
    return SlotView(
        slot.start,
        slot.end,
        slot.band,
        f"{slot.frequency_mhz:.3f}",
        row.chance,
        home,
        far,
        fallback_short(row.best),
        on_screen(row_sentence(row, found)),
        calendar_text(events(found, row.slots), now, f"Sked with {found.far.name}"),
        days=row_days(row),
        starts=tuple(one.start for one in row.slots),
        changes=changes_in_row(row, found),
    )
