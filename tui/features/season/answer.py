"""Season forecast for the screens, for the present choice, alone or compared with another side."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from zoneinfo import ZoneInfo

import numpy as np

from propagation.advice.calendar import calendar_text
from propagation.advice.season import (
    HOURS,
    MIDDLE,
    Season,
    StoppedError,
    days_of,
    hours_of,
    months_ahead,
    season,
)
from propagation.advice.season_changes import SeasonChange, season_changes
from propagation.advice.sked import Party, party_of_friend, party_of_station
from propagation.base.units import FloatArray, TimeArray, as_float
from propagation.geo import places
from propagation.signal.chances.request import Request
from propagation.station import friends
from propagation.station.terminals import own_terminal
from propagation.wording.season import (
    beside_sentence,
    best_of_month,
    cell_words,
    contact_sentence,
    cycle_words,
    events,
    hopeless_words,
    month_short,
    month_title,
    offset_on,
    progress_words,
    slot_words,
    zone_words,
)
from tui.app.choice import Choice
from tui.app.day_forecast import conditions_for
from tui.app.forecast_options import moved
from tui.app.queries import Abandoned, Engine
from tui.app.sites import Sites
from tui.features.season.view import SeasonView
from tui.kit.day_view import full_lane_per_h
from tui.kit.words import on_screen

Made = Callable[[SeasonView], object]


def season_view(
    engine: Engine,
    choice: Choice,
    beside: str | None,
    elsewhere: str | None,
    made: Made,
    stop: Callable[[], bool],
) -> SeasonView:
    """Forecast of twelve months from that of the choice.

    `beside`: path of another station's file, or None.
    `elsewhere`: another place for the same station, or None.
    `made`: called with the view of the months finished so far, after each of them.
    The figures are kept, so that they can be told again when the clock is turned over.
    """

    def compute() -> _Figures:
        return _figures(engine.sites, choice, beside, elsewhere, engine.now(), made, stop)

    try:
        found = engine.latest("season", (choice, beside, elsewhere), compute)
    except StoppedError:
        raise Abandoned from None
    return _Rows().view(found.season, found.other, engine.now(), helps=found.helps)


@dataclass(frozen=True, eq=False)
class _Figures:
    """Season of one side or of two, and what would help where no hour is likely: changes, friends there."""

    season: Season
    other: Season | None = None
    helps: _Helps | None = None


@dataclass(frozen=True)
class _Helps:
    changes: tuple[SeasonChange, ...]
    friends: tuple[str, ...]


def _figures(
    sites: Sites,
    choice: Choice,
    beside: str | None,
    elsewhere: str | None,
    now: np.datetime64,
    made: Made,
    stop: Callable[[], bool],
) -> _Figures:
    """Compute both sides, and report every month as it is finished."""
    rows = _Rows()
    request, other = _question(sites, choice, None, now)
    months = np.unique(request.times.astype("datetime64[M]"))
    compared = beside is not None or elsewhere is not None

    def grown(so_far: Season) -> None:
        made(rows.view(so_far, None, now, months))

    def other_grown(so_far: Season) -> None:
        made(rows.view(found, so_far, now, months))

    home = party_of_station(request.station)
    found = season(request, home, other, stop=stop, made=grown)
    helps = None
    if not found.slots():
        known = friends.inside(request.target, sites.friends(choice.station), home.position)
        there = tuple(friend.name for friend in known) if request.target.is_region else ()
        helps = _Helps(season_changes(found, request), there)
    if not compared:
        return _Figures(found, None, helps)
    made(rows.view(found, None, now, months, waiting=True))
    side = replace(choice.untried, station=beside) if beside is not None else choice
    request, other = _question(sites, side, elsewhere if beside is None else None, now)
    there_home = party_of_station(request.station)
    return _Figures(found, season(request, there_home, other, stop=stop, made=other_grown), helps)


def _question(
    sites: Sites, choice: Choice, elsewhere: str | None, now: np.datetime64
) -> tuple[Request, Party | None]:
    """Request of the season of one side, and the other end's clock."""
    months = hours_of(months_ahead(choice.start)).ravel()
    request = sites.request(choice, months, conditions_for(months, now))
    if elsewhere is not None:  # learnt offsets apply only to the place where they were learnt
        name, position = sites.named_place(choice, elsewhere)
        station = replace(moved(request.station, position), name=name)
        request = replace(request, station=station, near=own_terminal(station))
    friend, target = sites.friend(choice), request.target
    other = None
    if friend is not None:
        other = party_of_friend(friend)
    elif not target.is_region:
        other = Party(target.name, target.centre, ZoneInfo(places.time_zone(target.centre)))
    return request, other


class _Rows:
    """The views of a season that grows; the sentences of a finished month are made once."""

    def __init__(self) -> None:
        self._cells: list[tuple[str, ...]] = []
        self._best: list[str] = []

    def view(
        self,
        found: Season,
        other: Season | None,
        now: np.datetime64,
        wanted: TimeArray | None = None,
        *,
        waiting: bool = False,
        helps: _Helps | None = None,
    ) -> SeasonView:
        """The view of the months finished so far, of those wanted; None: of the whole season.

        waiting: the other side is still to come.
        """
        slots, whole = found.slots(), wanted is None
        worth = found.worth[MIDDLE]
        full = 1.0 if found.rates is None else full_lane_per_h(worth)
        self._tell(found)
        name = other.station.name or "the other" if other is not None else ""
        told = [slot_words(slot, found) for slot in slots]
        months = list(found.months)
        amount, other_amount = (_amount(side) if side is not None else np.zeros(0) for side in (found, other))
        missing = len(months) - other_amount.size
        news, says = _news(found, other, wanted, waiting, helps), _says(found, other)
        return SeasonView(
            target=found.target.name,
            months=tuple(month_short(month) for month in months),
            titles=tuple(month_title(month) for month in months),
            bands=tuple(band.name for band in found.bands),
            worth=worth,
            full=full,
            best_band=found.best_band,
            limit=found.limit,
            suits=found.suits,
            times=hours_of(found.months),
            zones=tuple(offset_on(found.home, day) for day in days_of(found.months)),
            cells=tuple(self._cells),
            best=tuple(self._best),
            slots=tuple(on_screen(words) for words in told),
            news=tuple(on_screen(words) for words in news),
            says=tuple(on_screen(words) for words in says),
            calendar=calendar_text(events(found), now, f"Season to {found.target.name}")
            if whole and slots
            else "",
            paper="\n".join([*news, *told, *says]) + "\n" if whole else "",
            region=found.rates is not None,
            amount=amount,
            beside=np.append(other_amount, np.full(missing, np.nan)) if other is not None else other_amount,
            beside_name=name,
            awaited=tuple(month_short(month) for month in wanted[len(months) :])
            if wanted is not None
            else (),
        )

    def _tell(self, found: Season) -> None:
        """Make the sentences of the months that are new."""
        for row in range(len(self._cells), found.months.size):
            self._cells.append(tuple(on_screen(cell_words(found, row, hour)) for hour in range(HOURS)))
        if found.bands:
            self._best += [
                on_screen(best_of_month(found, row)) for row in range(len(self._best), found.months.size)
            ]


def _news(
    found: Season, other: Season | None, wanted: TimeArray | None, waiting: bool, helps: _Helps | None
) -> list[str]:
    """Progress of the months; of a finished season the reason why no hour is likely, and what would help."""
    if wanted is not None:
        done = other.months.size if other is not None else 0 if waiting else None
        return [progress_words(found.months.size, wanted.size, done)]
    return hopeless_words(found, helps.friends, helps.changes) if helps is not None else []


def _says(found: Season, other: Season | None) -> list[str]:
    """Sentences on the whole of the months: amount of contact, the sun, the clocks, two sides."""
    says = [contact_sentence(found)] if found.bands else []
    says += [told for told in (cycle_words(found), zone_words(found)) if told]
    if other is not None and other.months.size == found.months.size:
        name = other.station.name or "the other"
        says.append(beside_sentence(found, other, found.station.name or "Here", name))
    return says


def _amount(found: Season) -> FloatArray:
    """Hours of contact in each month (M,) with a place; mean contacts an hour with a region."""
    each = found.hours_of_contact() if found.rates is None else found.mean_per_hour()
    return as_float(each[MIDDLE])
