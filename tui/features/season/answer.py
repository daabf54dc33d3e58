"""Season forecast for the screens, for the present choice, alone or compared with another side."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from zoneinfo import ZoneInfo

import numpy as np

from propagation.advice.calendar import calendar_text
from propagation.advice.season import HOURS, MIDDLE, Season, StoppedError, hours_of, months_ahead, season
from propagation.advice.sked import Party, party_of_friend, party_of_station
from propagation.base.units import FloatArray, as_float
from propagation.geo import places
from propagation.station.terminals import own_terminal
from propagation.wording.season import (
    beside_sentence,
    best_of_month,
    cell_words,
    contact_sentence,
    cycle_words,
    events,
    month_short,
    month_title,
    none_words,
    slot_words,
)
from tui.app.choice import Choice
from tui.app.day_forecast import conditions_for
from tui.app.forecast_options import moved
from tui.app.queries import Abandoned
from tui.app.sites import Sites
from tui.features.season.view import SeasonView
from tui.kit.day_view import full_lane_per_h
from tui.kit.words import on_screen


def season_view(
    sites: Sites,
    choice: Choice,
    beside: str | None,
    elsewhere: str | None,
    now: np.datetime64,
    progress: Callable[[int, int], None],
    stop: Callable[[], bool],
) -> SeasonView:
    """Forecast of twelve months from that of the choice.

    `beside`: path of another station's file, or None.
    `elsewhere`: another place for the same station, or None.
    """
    sides: list[tuple[Choice, str | None]] = [(choice, None)]
    if beside is not None:
        sides.append((replace(choice.untried, station=beside), None))
    elif elsewhere is not None:
        sides.append((choice, elsewhere))
    done = [0]

    def told(_: int, parts: int) -> None:
        done[0] += 1
        progress(done[0], parts * len(sides))

    try:
        found = [_season(sites, side, place, now, told, stop) for side, place in sides]
    except StoppedError:
        raise Abandoned from None
    return _view(found[0], found[1] if len(found) > 1 else None, now)


def _season(
    sites: Sites,
    choice: Choice,
    elsewhere: str | None,
    now: np.datetime64,
    progress: Callable[[int, int], None],
    stop: Callable[[], bool],
) -> Season:
    months = hours_of(months_ahead(choice.start)).ravel()
    request = sites.request(choice, months, conditions_for(months, now))
    if elsewhere is not None:  # learnt offsets apply only to the place where they were learnt
        name, position = places.named_place(elsewhere)
        station = replace(moved(request.station, position), name=name)
        request = replace(request, station=station, near=own_terminal(station))
    friend, target = sites.friend(choice), request.target
    other = None
    if friend is not None:
        other = party_of_friend(friend)
    elif not target.is_region:
        other = Party(target.name, target.centre, ZoneInfo(places.time_zone(target.centre)))
    return season(request, party_of_station(request.station), other, progress=progress, stop=stop)


def _view(found: Season, other: Season | None, now: np.datetime64) -> SeasonView:
    slots = found.slots()
    says = [contact_sentence(found)] if found.bands else []
    says.append(cycle_words(found))
    if not slots:
        says.insert(0, none_words(found))
    name = ""
    if other is not None:
        name = other.station.name or "the other"
        says.append(beside_sentence(found, other, found.station.name or "Here", name))
    told = [slot_words(slot, found) for slot in slots]
    months = list(found.months)
    rows, worth = range(len(months)), found.worth[MIDDLE]
    amount, other_amount = (_amount(side) if side is not None else np.zeros(0) for side in (found, other))
    return SeasonView(
        target=found.target.name,
        months=tuple(month_short(month) for month in months),
        titles=tuple(month_title(month) for month in months),
        bands=tuple(band.name for band in found.bands),
        worth=worth,
        full=1.0 if found.rates is None else full_lane_per_h(worth),
        best_band=found.best_band,
        suits=found.suits,
        cells=tuple(tuple(on_screen(cell_words(found, row, hour)) for hour in range(HOURS)) for row in rows),
        best=tuple(on_screen(best_of_month(found, row)) for row in rows) if found.bands else (),
        slots=tuple(on_screen(words) for words in told),
        says=tuple(on_screen(words) for words in says),
        calendar=calendar_text(events(found), now, f"Season to {found.target.name}") if slots else "",
        paper="\n".join([*told, *says]) + "\n",
        region=found.rates is not None,
        amount=amount,
        beside=other_amount,
        beside_name=name,
    )


def _amount(found: Season) -> FloatArray:
    """Hours of contact in each month (M,) with a place; mean contacts an hour with a region."""
    each = found.hours_of_contact() if found.rates is None else found.mean_per_hour()
    return as_float(each[MIDDLE])
