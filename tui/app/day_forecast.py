"""The day on every band: from the forecast's arrays to the lanes, the answer and the sun at both ends."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from propagation.advice.events import events
from propagation.advice.nothing_now import anything_at, narrower_forecast, soonest
from propagation.advice.people import People, crowd
from propagation.advice.rates import Rates
from propagation.advice.region_chance import outlook
from propagation.advice.setup_notes import setup_notes
from propagation.advice.windows import Window, find_windows
from propagation.base.store import Store
from propagation.base.units import FloatArray, TimeArray, as_float
from propagation.geo import sun
from propagation.geo.locator import Position
from propagation.ionosphere import conditions_today
from propagation.signal.chances import forecast
from propagation.signal.chances.forecast import Forecast
from propagation.signal.chances.forecast_detail import Detail
from propagation.signal.chances.forecast_detail import detail as detail_of
from propagation.signal.rays.causes import CAUSES
from propagation.signal.rays.ray_path_names import GROUND_WAVE
from propagation.space_weather.state.conditions import Conditions
from propagation.station.terminals import Terminal, Terminals
from propagation.wording.causes import clause
from propagation.wording.quantities import whom_words
from propagation.wording.setup import setup_words
from propagation.wording.sky import conditions_sentence, event_sentence, event_short
from propagation.wording.windows import instead_words
from tui.app import paths
from tui.app.choice import Choice
from tui.app.sites import Sites
from tui.kit.day_view import DayView, SunDay

COUNT = round(np.timedelta64(1, "D") / forecast.TIME_STEP)  # times of a day


@dataclass(frozen=True, eq=False)
class DayForecast:
    """The input of later views: the forecast, both terminals, and the details of one point."""

    choice: Choice
    result: Forecast
    near: Terminal
    far: Terminal
    point: int
    detail: Detail  # the target's point of highest weight by the short path, all hours and bands


def times_from(start: np.datetime64) -> TimeArray:
    """The times of a day, one per step."""
    times: TimeArray = start.astype("datetime64[s]") + np.arange(COUNT) * forecast.TIME_STEP
    return times


def conditions_for(times: TimeArray, now: np.datetime64, besides: Sequence[np.datetime64] = ()) -> Conditions:
    """The best conditions on file for a span of times. besides: times whose reception reports do not
    count.
    """
    return conditions_today.best(Store(paths.conditions_dir()), times, now, besides=besides)


def work_out(
    sites: Sites, choice: Choice, now: np.datetime64, chosen_conditions: Conditions | None = None
) -> DayForecast:
    """Compute the forecast of a choice."""
    times = times_from(choice.start)
    conditions = chosen_conditions or conditions_for(times, now)
    near, far = sites.near(choice), sites.far(choice)
    result = forecast.forecast(sites.request(choice, times, conditions))
    point = result.target.heaviest
    detail = detail_of(result, point=point, near=near, far=far)
    return DayForecast(choice, result, near, far, point, detail)


def view_of(kept: DayForecast, now: np.datetime64, demo: bool) -> DayView:
    """The view of a computed day."""
    result = kept.result
    setups = setup_notes(result, kept.near)
    notes = [setups.get(band.name) for band in result.bands]
    shown = [row for row in range(len(result.bands)) if result.usable[row]] or list(range(len(result.bands)))
    left_out = tuple(
        (band.name, clause(CAUSES[int(result.unusable_cause[row])]))
        for row, band in enumerate(result.bands)
        if row not in shown
    )
    point = kept.point
    elevation = result.at(result.elevation_deg).T[shown]
    seen = outlook(result)
    share = kept.near.receive_efficiency(result.frequency_mhz)[shown]
    site, place = (
        result.station.site.position,
        Position(float(result.target.lat_deg[point]), float(result.target.lon_deg[point])),
    )
    view = DayView(
        site=result.station.name or "my station",
        target=result.target.name,
        distance_km=float(result.distance_km[point, 0]),
        bearing_deg=float(result.bearing_deg[point, 0]),
        mode=result.mode.name,
        power_w=result.power_w,
        times=result.times,
        bands=tuple(result.bands[row].name for row in shown),
        frequency_mhz=result.frequency_mhz[shown],
        chance=seen.chance.T[shown],
        worth=seen.worth.T[shown],
        ranked=seen.ranked.T[shown],
        hope=seen.best_equipped.T[shown],
        cause=seen.limit.T[shown],
        elevation_deg=elevation,
        ground_wave=(result.at(as_float(result.ray_path)) == GROUND_WAVE).T[shown],
        route=result.route.T[shown],
        home=sun_day("here", site, result.times),
        far=sun_day("there", place, result.times),
        windows=windows_of(kept),
        setup=tuple(setup_words(notes[row]) for row in shown),
        radiated_share=share,
        left_out=left_out,
        sky_line=conditions_sentence(result.conditions, now, now).rstrip("."),
        demo=demo,
        wanted=result.wanted,
        instead=_instead(kept),
        events=_events(kept),
        measured=_measured(result.conditions, result.times),
    )
    return view if seen.people is None else _with_people(view, result, seen.people, shown)


def _with_people(view: DayView, result: Forecast, people: People, shown: list[int]) -> DayView:
    """The view of a region's day with the contacts an hour and the stations to expect."""
    minutes, chance = people.first_few()
    rate = people.rate
    return replace(
        view,
        rates=Rates(rate.low.T[shown], rate.middle.T[shown], rate.high.T[shown]),
        first_min=minutes.T[shown],
        first_chance=chance.T[shown],
        on_air=np.sum(people.on_air, axis=0).T[shown],
        whom=_whom(result, people, shown),
    )


def _measured(conditions: Conditions, times: TimeArray) -> tuple[np.datetime64, np.datetime64] | None:
    """The time of the newest layer measurement and the end of its effect, if it applies to these times."""
    layer = conditions.measured.layer if conditions.measured is not None else None
    if layer is None or not layer.applies_to(times).any():
        return None
    return layer.newest, layer.helps_until


def _events(kept: DayForecast) -> tuple[tuple[str, str], ...]:
    """The flare or proton event at each time, as label and sentence; empty if there is none."""
    found = events(kept.result, Terminals(kept.near, kept.far))
    return tuple(("", "") if one is None else (event_short(one), event_sentence(one)) for one in found)


def _whom(result: Forecast, people: People, shown: list[int]) -> tuple[tuple[str, ...], ...]:
    """The stations to expect on each band shown at each time, in words."""
    named = crowd(people, result.target)
    return tuple(
        tuple(whom_words(named.parts(time, band)) for time in range(len(result.times))) for band in shown
    )


def _instead(kept: DayForecast) -> tuple[str, ...]:
    """The result in the next narrower mode at each time without any contact in this mode, else empty."""
    result = kept.result
    silent = ~anything_at(result)
    again = narrower_forecast(result, Terminals(kept.near, kept.far)) if silent.any() else None
    if again is None:
        return ("",) * len(result.times)
    found = [soonest(again, at, at) if nothing else None for at, nothing in enumerate(silent.tolist())]
    return tuple(instead_words(one) if one is not None else "" for one in found)


def windows_of(kept: DayForecast) -> tuple[Window, ...]:
    """The windows of the day by the rule of the advice, ranked."""
    return find_windows(kept.result, Terminals(kept.near, kept.far), explained=False).windows


def sun_day(name: str, place: Position, times: TimeArray) -> SunDay:
    """The sun at one end: its elevation all day, and the first sunrise and sunset after the start of the
    day.
    """
    height: FloatArray = 90.0 - sun.zenith_deg(place.lat_deg, place.lon_deg, times)
    first = times[0].astype("datetime64[D]")
    around = [sun.sun_events(place, first + np.timedelta64(day, "D")) for day in (-1, 0, 1)]

    def inside(moments: list[np.datetime64 | None]) -> np.datetime64 | None:
        return next((m for m in moments if m is not None and times[0] <= m <= times[-1]), None)

    rise, fall = inside([e.sunrise for e in around]), inside([e.sunset for e in around])
    polar = around[1].polar if rise is None and fall is None else None
    return SunDay(name, height, rise, fall, polar)
