"""Pages, plan, run sheet and commands say the same of the same forecast: 200 stations, targets and hours."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest

from propagation.advice.band_now import HARDLY
from propagation.advice.nothing_now import anything_at, nothing_between
from propagation.advice.people import whom
from propagation.advice.plan_day import DayPlan, TimeOnAir, plan_day, worth_planning
from propagation.advice.ranking import told_chance, told_rate
from propagation.advice.region_chance import chance, outlook
from propagation.advice.setup_notes import setup_notes
from propagation.advice.why import why
from propagation.advice.windows import Windows, find_windows
from propagation.geo.locator import Position
from propagation.geo.places import resolve
from propagation.signal.chances.forecast import Forecast, forecast
from propagation.signal.chances.forecast_detail import detail
from propagation.signal.chances.limiting import OPEN
from propagation.signal.chances.request import Request
from propagation.space_weather.state import conditions
from propagation.spectrum.bands import by_name
from propagation.station import station
from propagation.station.terminals import Terminals, far_terminal, own_terminal
from propagation.wording.plan import expectation, make_run_sheet, sheet_sentences, sheet_text
from propagation.wording.plan_contacts import step_figures
from propagation.wording.quantities import band_title, listed, promised, whom_words
from propagation.wording.setup import setup_words
from propagation.wording.why import why_sentences
from tui.app.choice import Choice
from tui.app.day_forecast import DayForecast, view_of
from tui.features.day import command as advise
from tui.kit import words
from tui.kit.day_view import DayView
from tui.kit.words import on_screen

pytestmark = pytest.mark.slow  # all of them share 200 days with their plans

SAMPLES = 200
STEPS = 5  # half hours
HALF_HOUR = np.timedelta64(1800, "s")
BANDS = [by_name(name) for name in ("80m", "40m", "20m", "10m")]
TARGETS = ("Spain", "Japan", "New Zealand", "Portugal", "within 600 km", "JO22", "FN31", "KG33")
OLD_WORDS = re.compile(r"% of it|% in reach|\d % of")
ANTENNAS = (
    'kind = "loaded vertical"\nradiator_m = 2.5\nradials = 4\nradial_m = 4.5\nradial_height_m = 0.9\n'
    "base_height_m = 0.9",
    'kind = "dipole"\nheight_m = 7',
    'kind = "vertical"\nradials = 8\nradial_m = 5.0',
)


@pytest.fixture(scope="module")
def stations() -> list[station.Station]:
    return [station.loads(f'[site]\nlocator = "JN47"\n[antenna]\n{text}\n') for text in ANTENNAS]


class Sample:
    """One station, target and hour, with everything that is said of it."""

    def __init__(self, number: int, stations: list[station.Station], ends: list[Terminals]) -> None:
        draw = np.random.default_rng(number)
        which = int(draw.integers(len(stations)))
        place = Position(float(draw.uniform(-55.0, 65.0)), float(draw.uniform(-180.0, 180.0)))
        if draw.random() < 0.6:  # within reach of Europe
            place = Position(float(draw.uniform(35.0, 60.0)), float(draw.uniform(-10.0, 25.0)))
        own = replace(stations[which], site=replace(stations[which].site, position=place))
        day = np.datetime64("2026-01-01T00:00", "s") + int(draw.integers(365 * 48)) * HALF_HOUR
        self.mode = str(draw.choice(["SSB", "CW", "DIGITAL"]))
        power_w = float(10.0 ** draw.uniform(-1.0, 2.6))
        near = replace(ends[which].near, power_w=power_w)
        self.ends = Terminals(near, ends[which].far)
        self.now = day
        self.result: Forecast = forecast(Request(
            own, resolve(str(draw.choice(TARGETS)), place), day + np.arange(STEPS) * HALF_HOUR,
            conditions.typed_in(ssn=float(draw.uniform(0.0, 160.0)), kp=2), mode=self.mode, power_w=power_w,
            bands=BANDS, near=near, far=self.ends.far,
        ))  # fmt: skip
        self.at = int(draw.integers(STEPS))
        self.band = int(draw.integers(len(BANDS)))
        point = self.result.target.heaviest
        choice = Choice("", self.result.target.name, day, self.mode, power_w)
        kept = DayForecast(
            choice, self.result, near, self.ends.far, point,
            detail(self.result, point=point, near=near, far=self.ends.far),
        )  # fmt: skip
        self.view: DayView = view_of(kept, day, demo=False)


@pytest.fixture(scope="module")
def samples(stations: list[station.Station]) -> list[Sample]:
    ends = [Terminals(own_terminal(one), far_terminal(one.far_end)) for one in stations]
    return [Sample(number, stations, ends) for number in range(SAMPLES)]


def planned(one: Sample) -> DayPlan:
    times = one.result.times
    return plan_day(
        [one.result], one.ends, TimeOnAir(times[0], times[-1]), setup_notes(one.result, one.ends.near)
    )


def test_there_is_something_of_everything(samples: list[Sample]) -> None:
    """The samples are no monoculture: regions and places, hopeless and easy hours."""
    regions = [one.result.target.is_region for one in samples]
    assert 0.3 * SAMPLES < sum(regions) < 0.9 * SAMPLES
    best = np.array([chance(one.result).max() for one in samples])
    assert np.sum(best < 0.05) > 0.05 * SAMPLES
    assert np.sum(best > 0.5) > 0.1 * SAMPLES
    assert sum(not anything_at(one.result).all() for one in samples) > 0.02 * SAMPLES


def best_at(one: Sample, at: int) -> int | None:
    """Best band at a time, worked out anew: the greatest figure told, the surer, the lower."""
    seen = outlook(one.result)
    rate = seen.people.rate if seen.people is not None else None
    figure = told_chance(seen.chance[at]) if rate is None else told_rate(rate.middle[at])
    surer = seen.chance[at] if rate is None else rate.low[at]
    rows = [
        row for row in range(len(BANDS)) if one.result.usable[row] and seen.best_equipped[at, row] >= HARDLY
    ]
    # of bands that promise nothing at all the one that the best-equipped stations reach most often
    keys = [(-figure[row], -surer[row] if seen.worth[at, row] > 0.0 else 0.0, row) for row in rows]
    return min(keys)[2] if keys and min(keys)[0] < 0.0 else None


def test_the_day_shows_the_outlook(samples: list[Sample]) -> None:
    for one in samples:
        shown = [one.result.band_index(name) for name in one.view.bands]
        usable = one.result.usable[shown]
        seen = outlook(one.result)
        np.testing.assert_array_equal(one.view.chance[usable], chance(one.result).T[shown][usable])
        np.testing.assert_array_equal(one.view.worth, seen.worth.T[shown])
        np.testing.assert_array_equal(one.view.ranked, seen.ranked.T[shown])
        np.testing.assert_array_equal(one.view.cause, seen.limit.T[shown])
        for row, band in enumerate(shown):
            assert one.view.prospect(row, one.at) == seen.at(one.at, band)
        good = one.view.chance >= OPEN
        open_code = one.view.cause == 0
        np.testing.assert_array_equal(open_code[usable], good[usable])


def test_day_words_and_advise_name_the_same_best_band_and_figure(samples: list[Sample]) -> None:
    """All 200 samples, where any figure is above nothing."""
    compared = 0
    for one in samples:
        best = best_at(one, one.at)
        found = words.answer(one.view, one.at)
        if best is None:
            continue
        compared += 1
        name = BANDS[best].name
        assert found.band == name
        figure = promised(outlook(one.result).at(one.at, best))
        assert figure in found.lines[1]
        said = " ".join(words.day_sentences(one.view, one.at))
        assert f"{band_title(name)} {found.lines[0]}" in said
        assert figure.lower() in said.lower()
        told = advise._data(one.result, Windows((), (), ()), {}, one.ends)["bands"]
        assert isinstance(told, list)
        if one.view.wanted:
            rates = [told_rate(row["rate_per_hour"]["middle"][one.at]) for row in told]
        else:
            rates = [told_chance(row["chance"][one.at]) for row in told]
        assert rates[best] == max(rates)
        # who shares the figure is said to be as good, and nobody else is
        alike = [row for row, rate in enumerate(rates) if rate == rates[best] and row != best]
        named = [row for row in alike if outlook(one.result).best_equipped[one.at, row] >= HARDLY]
        alike = f"; {listed([band_title(BANDS[row].name) for row in named])} as good"
        told = found.lines[0].partition("; then ")[0]
        assert told.endswith(alike) if named else " as good" not in found.lines[0]
    assert compared > 0.5 * SAMPLES


def test_nothing_is_nothing_everywhere(samples: list[Sample]) -> None:
    """The day names no band only at the times for which the commands say nothing, and the plan likewise."""
    for one in samples:
        for at in range(STEPS):
            found = words.answer(one.view, at)
            nothing = nothing_between(one.result, at, at + 1)
            assert (found.band is None) == (nothing is not None)
        all_day = nothing_between(one.result, 0, STEPS)
        assert worth_planning([one.result]) == (all_day is None)
        assert bool(anything_at(one.result).any()) == (all_day is None)


def test_the_answer_tells_the_chance_that_the_plan_earns(samples: list[Sample]) -> None:
    for one in samples:
        found = words.answer(one.view, one.at)
        if found.band is None:
            continue
        row = one.view.bands.index(found.band)
        worth = float(one.view.worth[row, one.at])
        assert promised(one.view.prospect(row, one.at)) in found.lines[1]
        people = outlook(one.result).people
        if people is not None:
            band = one.result.band_index(found.band)
            assert found.lines[2].startswith(whom_words(whom(people, one.result.target, one.at, band)))
        plan = planned(one)
        if found.band in plan.rewards.bands:
            moment = np.flatnonzero(plan.rewards.times == one.result.times[one.at])
            earned = plan.rewards.reward[moment[0], plan.rewards.index(found.band)]
            # the smooth curve through the chances keeps off 0 and 1 by 1e-4
            assert float(earned) == pytest.approx(worth, abs=1.1e-4)
            compared = plan.rewards.compared.reward[moment[0]]
            ranked = outlook(one.result).ranked[one.at]
            if ranked.max() > 1e-3:  # a smooth curve through the days of a place keeps off 0 and 1
                assert one.result.bands[int(ranked.argmax())].name == plan.rewards.bands[compared.argmax()]


def test_windows_are_the_same_on_the_day_and_in_the_command(samples: list[Sample]) -> None:
    for one in samples:
        found = find_windows(one.result, one.ends, explained=False)
        told = advise._data(one.result, found, {}, one.ends)
        shown = [(w.band, w.start, w.peak_time, w.end, w.chance) for w in one.view.windows]
        assert shown == [(w["band"], w["start"], w["peak"], w["end"], w["outlook"]) for w in told["windows"]]
        for i, band in enumerate(told["bands"]):
            told_of = band["contacts_chance"] if one.view.wanted else band["chance"]
            np.testing.assert_array_equal(told_of, chance(one.result)[:, i])
            np.testing.assert_array_equal(
                band["chance"], np.where(one.result.usable[i], one.result.region_chance[:, i], 0.0)
            )
        told_rates = [w["rate_per_hour"]["middle"] for w in told["windows"] if one.view.wanted]
        assert told_rates == sorted(told_rates, reverse=True), "ranked by the middle value"


def test_plan_sheet_and_day_agree_on_chance_people_and_antenna(samples: list[Sample]) -> None:
    for one in samples:
        plan = planned(one)
        setups = setup_notes(one.result, one.ends.near)
        sheet = make_run_sheet(plan, [one.result], one.ends.near.antenna, setups, one.now)
        text, told = sheet_text(sheet), " ".join(sheet_sentences(sheet))
        seen = outlook(one.result)
        for step, figure in zip(plan.steps, step_figures(plan), strict=True):
            band = one.result.band_index(step.stay.band)
            at = one.result.time_index(step.stay.start + (step.stay.end - step.stay.start) // 2)
            (expected,) = step.expect
            assert (expected.prospect.rate is None) == (seen.people is None)
            assert expected.share == pytest.approx(float(one.result.region_chance[at, band]))
            assert figure in text
            assert figure in told
            if step.hopeful:
                assert expectation(step) in told
            setup = one.view.setup[one.view.bands.index(step.stay.band)]
            assert setup == setup_words(step.setup)
            assert setup in told
        assert not OLD_WORDS.search(f"{text} {told}")


def test_why_says_the_chance_of_the_lane(samples: list[Sample]) -> None:
    for one in samples:
        found = why(one.result, one.ends, one.band, one.at, near_far=False, what_if=False)
        usable = bool(one.result.usable[one.band])
        assert found.promise == (outlook(one.result).at(one.at, one.band) if usable else found.promise)
        assert usable or found.promise.chance == 0.0
        assert promised(found.promise) in " ".join(why_sentences(found))
        assert (found.limit == "open") == (found.promise.chance >= OPEN)
        state = words.band_state(one.view, 0, one.at)
        assert promised(one.view.prospect(0, one.at)) in state
        sentences = " ".join([*why_sentences(found), *words.day_sentences(one.view, one.at), state])
        assert not OLD_WORDS.search(sentences.replace("% of the power", ""))
        assert band_title(found.band) in sentences
        assert on_screen(found.target) in sentences
