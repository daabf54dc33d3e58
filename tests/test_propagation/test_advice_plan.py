"""The day's plan and its run sheet: settings, minutes, whom to expect, words, paper."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest
from worlds import forecast_of

from propagation.advice.plan_day import DayPlan, Leave, TimeOnAir, expected_of, plan_day
from propagation.advice.plan_promise import promise_of
from propagation.advice.rates import Prospect, Rate
from propagation.advice.region_chance import outlook
from propagation.advice.setup_notes import (
    BandSetup,
    cost_matrix,
    minutes_between,
    setup_notes,
    work_between,
)
from propagation.antennas.factory import build
from propagation.antennas.setup_card import Wish, setup_card
from propagation.antennas.spec import AntennaSpec, FeedlineSpec
from propagation.base.units import db
from propagation.geo.gazetteer import gazetteer
from propagation.geo.ground import ground_of
from propagation.signal.chances.forecast import Forecast
from propagation.space_weather.state import conditions
from propagation.spectrum.bands import by_name
from propagation.spectrum.modes import by_name as mode_by_name
from propagation.station import station
from propagation.station.terminals import Terminals, far_terminal, own_terminal
from propagation.wording.plan import (
    RunSheet,
    cautions,
    change_words,
    expect_words,
    leave_words,
    make_run_sheet,
    sheet_markdown,
    sheet_sentences,
    sheet_text,
)
from propagation.wording.plan_contacts import (
    alternatives_sentence,
    gain_sentence,
    step_figures,
    total_sentence,
    whole_numbers,
)
from propagation.wording.quantities import days
from propagation.wording.setup import setup_words, work_words

START = np.datetime64("2026-03-20T18:00:00", "s")
NOW = np.datetime64("2026-03-20T14:30:00", "s")
HOUR = np.timedelta64(3600, "s")
HERE = """
name = "test hill"
[site]
locator = "KG40"
[rig]
power_w = 50
mode = "CW"
[antenna]
kind = "loaded vertical"
radiator_m = 2.0
radials = 4
radial_height_m = 0.9
[limits]
bands = ["40m", "30m", "20m", "15m", "10m"]
"""


def look(
    own: station.Station, terminals: Terminals, target: str, hours: float = 9.0,
    start: np.datetime64 = START,
) -> Forecast:  # fmt: skip
    state = conditions.typed_in(ssn=95, kp=2)
    bands = [by_name(name) for name in own.limits.bands]
    return forecast_of(own, terminals, target, state, start, hours=hours, step_min=30, bands=bands)


@pytest.fixture(scope="module")
def result(own: station.Station, terminals: Terminals) -> Forecast:
    return look(own, terminals, "KI88")


@pytest.fixture(scope="module")
def setups(result: Forecast, terminals: Terminals) -> dict[str, BandSetup]:
    return setup_notes(result, terminals.near)


@pytest.fixture(scope="module")
def plan(result: Forecast, terminals: Terminals, setups: dict[str, BandSetup]) -> DayPlan:
    return plan_day([result], terminals, TimeOnAir(START, START + 9 * HOUR), setups)


@pytest.fixture(scope="module")
def sheet(plan: DayPlan, result: Forecast, terminals: Terminals, setups: dict[str, BandSetup]) -> RunSheet:
    return make_run_sheet(plan, [result], terminals.near.antenna, setups, NOW)


# --- settings and minutes --------------------------------------------------------------------------------


def test_the_antenna_stays_as_it_stands(setups: dict[str, BandSetup], own: station.Station) -> None:
    solved = build(own.antenna, own.site.earth, own.feedline)
    for name, note in setups.items():
        assert note.radials == 4
        assert note.coil_uh == pytest.approx(solved.solution(note.centre_mhz).coil_uh, rel=1e-6)
        assert f"{note.coil_uh:.1f} µH" in setup_words(note)
        for other in setups.values():
            assert "radial" not in work_words(work_between(setups[name], other))


@pytest.mark.slow
@pytest.mark.parametrize("ground", ["dry", "average", "wet"])
@pytest.mark.parametrize("height_m", [0.0, 0.9])
def test_taking_two_of_four_radials_away_gains_nothing(ground: str, height_m: float) -> None:
    # so the plan may keep the whole set everywhere: no walk to the radials pays for its minutes
    for frequency in (7.1, 14.2, 28.5):
        spec = AntennaSpec(radials=4, radial_m=4.5, radial_height_m=height_m)

        def level_db(count: int, spec: AntennaSpec = spec, frequency: float = frequency) -> float:
            tried = build(replace(spec, radials=count), ground_of(ground), FeedlineSpec())
            return float(db(tried.solution(frequency).efficiency))

        assert level_db(2) < level_db(4) + 0.2


@pytest.mark.slow
def test_the_setup_card_for_home_still_asks_for_the_fewest_that_do(own: station.Station) -> None:
    wish = Wish(by_name("20m"), 14.0, 14.07)
    card = setup_card(replace(own.antenna, radials=4), own.site.earth, own.feedline, [wish])[0]
    assert card.raised is not None
    assert card.raised.radials <= 4


def test_the_coil_shrinks_with_frequency(setups: dict[str, BandSetup]) -> None:
    coils = [setups[name].coil_uh or 0.0 for name in ("40m", "30m", "20m", "15m", "10m")]
    assert coils == sorted(coils, reverse=True)


def test_minutes_grow_with_what_must_be_done() -> None:
    plain = BandSetup("20m", 14.2, "loaded vertical")
    coil = BandSetup("40m", 7.1, "loaded vertical", coil_uh=25.0, radials=4, radial_m=4.5)
    tap = BandSetup("30m", 10.1, "loaded vertical", coil_uh=12.0, radials=4, radial_m=4.5)
    fewer = BandSetup("15m", 21.2, "loaded vertical", coil_uh=2.0, radials=2, radial_m=4.5)
    wire = BandSetup("20m", 14.2, "loaded vertical", wire_m=10.0)
    other_wire = BandSetup("40m", 7.1, "loaded vertical", wire_m=20.0)
    assert minutes_between(coil, coil) == 0.0
    assert (
        0.0 < minutes_between(plain, BandSetup("17m", 18.1, "loaded vertical")) < minutes_between(coil, tap)
    )
    assert minutes_between(coil, tap) < minutes_between(coil, fewer)
    assert minutes_between(coil, fewer) == minutes_between(fewer, coil)
    assert minutes_between(wire, other_wire) > minutes_between(coil, fewer)
    assert work_words(work_between(coil, fewer)) == "coil to 2.0 µH, 2 radials instead of 4"
    other = BandSetup("17m", 18.1, "loaded vertical")
    assert work_words(work_between(plain, other)) == "retune only, the antenna is unchanged"


def test_the_cost_matrix_is_zero_on_its_diagonal_and_adds_what_is_asked(setups: dict[str, BandSetup]) -> None:
    names = list(setups)
    bare, more = cost_matrix(setups, names), cost_matrix(setups, names, extra_min=3.0)
    np.testing.assert_array_equal(np.diag(bare), 0.0)
    np.testing.assert_array_equal(np.diag(more), 0.0)
    off = ~np.eye(len(names), dtype=bool)
    np.testing.assert_allclose(more[off] - bare[off], 3.0)


def test_a_wire_cut_to_the_band_is_set_by_its_length(own: station.Station) -> None:
    text = HERE.replace('kind = "loaded vertical"', 'kind = "dipole"').replace("radiator_m = 2.0", "")
    wires = station.loads(re.sub(r"radial\w* = .*\n", "", text))
    ends = Terminals(own_terminal(wires), far_terminal(wires.far_end))
    found = setup_notes(look(wires, ends, "KI88", hours=1.0), ends.near)
    assert found["40m"].wire_m == pytest.approx(2.0 * (found["20m"].wire_m or 0.0), rel=0.02)
    assert "wire" in setup_words(found["20m"])
    assert minutes_between(found["40m"], found["20m"]) > 5.0  # lowered, cut to length and hoisted


# --- rewards ---------------------------------------------------------------------------------------------


def test_rewards_are_the_forecasts_chances(result: Forecast) -> None:
    names = [band.name for band in result.bands]
    made = promise_of([result], [1.0], START, START + 9 * HOUR, names).rewards
    assert made.bands == tuple(band.name for band in result.bands)
    np.testing.assert_allclose(made.reward[::6], result.region_chance, atol=1e-3)  # every half hour


def test_two_targets_share_the_reward_by_their_weights(
    own: station.Station, terminals: Terminals, result: Forecast
) -> None:
    other = look(own, terminals, "KG43")
    names, until = [band.name for band in result.bands], START + 2 * HOUR
    both = promise_of([result, other], [3.0, 1.0], START, until, names).rewards
    one, two = (promise_of([r], [1.0], START, until, names).rewards for r in (result, other))
    np.testing.assert_allclose(both.reward, 0.75 * one.reward + 0.25 * two.reward, atol=1e-12)


# --- the plan --------------------------------------------------------------------------------------------


def test_steps_cover_the_time_and_name_real_bands(plan: DayPlan, result: Forecast) -> None:
    assert plan.steps[0].stay.start == START
    assert plan.steps[-1].stay.end == START + 9 * HOUR
    for step in plan.steps:
        band = result.band_index(step.stay.band)
        inside = (result.times >= step.stay.start) & (result.times <= step.stay.end)
        mean = float(np.mean(result.region_chance[inside, band]))
        np.testing.assert_allclose(step.prospect.chance, mean, atol=0.1)  # half hours against five minutes
        assert step.backup is None or step.backup.band != step.stay.band
        assert step.setup.band == step.stay.band


def test_each_but_the_last_says_why_it_is_left_and_rightly(plan: DayPlan, result: Forecast) -> None:
    """Whatever band is said to rise or fall around the change does so in the forecast."""
    assert len(plan.steps) >= 2
    assert plan.steps[-1].leave is None
    for step, following in zip(plan.steps[:-1], plan.steps[1:], strict=True):
        leave = leave_words(step.leave)
        told = re.match(r"(\d+) m (rises|falls) (?:from|a little)", leave)
        if told is None:
            assert "better from then on" in leave
            assert following.stay.band.removesuffix("m") in leave
            continue
        assert f"{told[1]}m" in (step.stay.band, following.stay.band)
        row = plan.rewards.reward[:, plan.rewards.index(f"{told[1]}m")]
        seconds = (plan.rewards.times - START) / np.timedelta64(1, "s")
        moment = float((step.stay.end - START) / np.timedelta64(1, "s"))
        early, late = np.interp([moment - 2700.0, moment + 2700.0], seconds, row)
        assert (late > early) == (told[2] == "rises")
        assert (f"{told[1]}m" == following.stay.band) == (told[2] == "rises")


@pytest.mark.parametrize(
    ("region", "figures", "words"),
    [
        (True, (12.4, 12.1), "falls a little, still about 12 contacts an hour: "),
        (True, (12.1, 12.4), "rises a little, still about 12 contacts an hour: "),
        (False, (0.72, 0.68), "falls a little, still about 7 days in 10: "),
        (False, (0.99, 0.96), "falls a little, still nearly every day: "),
        (True, (22.0, 0.6), "falls from 22 to under 1 contacts an hour: "),
    ],
)
def test_a_fall_too_small_for_the_words_is_not_told_from_a_figure_to_the_same(
    plan: DayPlan, region: bool, figures: tuple[float, float], words: str
) -> None:
    reason = next(step.leave.reason for step in plan.steps if step.leave and step.leave.reason)
    before, after = (Prospect(0.5, Rate(0.0, n, n), 4) if region else Prospect(n) for n in figures)
    leave = Leave("20m", before, after, reason)
    assert leave_words(leave) == f"20 m {words}{leave_words(leave).partition(': ')[2]}"
    merely_better = leave_words(replace(leave, reason=None))

    assert merely_better.startswith("20 m is better from then on, ")
    assert ("by little: both" in merely_better) == ("still" in words)


def test_the_gain_sentence_follows_the_numbers(plan: DayPlan) -> None:
    text = gain_sentence(plan)
    single = plan.plan.single_band
    assert single is not None
    assert single.removesuffix("m") in text
    whole = 9.0 * 60.0
    assert days(plan.plan.reward / whole) in text
    assert days(plan.plan.single_reward / whole) in text or "little more" in text
    assert "%" not in text


def test_less_than_a_minute_of_changes_is_not_told_as_none(plan: DayPlan) -> None:
    assert len(plan.steps) == 2
    for lost, told in ((0.5, "the 0.5 minute of"), (1.0, "the 1 minute of"), (8.0, "the 8 minutes of")):
        steps = tuple(replace(step, stay=replace(step.stay, lost_min=lost / 2.0)) for step in plan.steps)
        assert told in gain_sentence(replace(plan, steps=steps))


def test_a_single_band_plan_says_that_staying_is_best(
    result: Forecast, terminals: Terminals, setups: dict[str, BandSetup]
) -> None:
    wish = TimeOnAir(START, START + 2 * HOUR, extra_min=60.0)
    plan = plan_day([result], terminals, wish, setups)
    assert len(plan.steps) == 1
    assert gain_sentence(plan).startswith("Staying on")


def test_the_time_needed_depends_on_what_must_be_moved(plan: DayPlan, setups: dict[str, BandSetup]) -> None:
    for step, following in zip(plan.steps[:-1], plan.steps[1:], strict=True):
        expected = minutes_between(setups[step.stay.band], setups[following.stay.band])
        assert following.stay.lost_min == pytest.approx(expected)
        assert following.work == work_between(setups[step.stay.band], setups[following.stay.band])


def test_a_dead_band_is_planned_round_from_now(
    plan: DayPlan, result: Forecast, terminals: Terminals, setups: dict[str, BandSetup]
) -> None:
    first = plan.steps[0].stay.band
    now = START + np.timedelta64(35 * 60, "s")
    wish = TimeOnAir(now, plan.wish.end, dead=((first, now),), current=first)
    again = plan_day([result], terminals, wish, setups)
    assert again.steps[0].stay.start == START + np.timedelta64(35 * 60, "s")
    assert again.steps[0].stay.band != first
    until = now + np.timedelta64(120 * 60, "s")
    for step in again.steps:
        if step.stay.band == first:
            assert step.stay.end > until
    assert again.steps[0].stay.lost_min > 0.0


def test_whom_to_expect_is_named(own: station.Station, terminals: Terminals, result: Forecast) -> None:
    assert "KI88" in expect_words(expected_of([result], 0, "20m"))
    everyone = look(own, terminals, "anyone")
    people = outlook(everyone).people
    assert people is not None
    at = int(np.argmax(people.stations[:, everyone.band_index("20m")]))
    (found,) = expected_of([everyone], at, "20m")
    names = {region.name for region in gazetteer().regions if region.kind == "country"}
    assert found.parts
    assert {part.name for part in found.parts} <= names
    assert expect_words([found]).startswith(found.parts[0].name)
    assert found.prospect.chance == pytest.approx(people.chance[at, everyone.band_index("20m")])
    assert found.prospect.rate == people.rate.at(at, everyone.band_index("20m"))
    assert found.share == pytest.approx(everyone.region_chance[at, everyone.band_index("20m")])


# --- paper -----------------------------------------------------------------------------------------------


def test_the_sheet_holds_all_that_is_promised(sheet: RunSheet, plan: DayPlan) -> None:
    for form in (sheet_text(sheet), sheet_markdown(sheet), "\n".join(sheet_sentences(sheet))):
        assert "2026-03-20, 18:00 to 03:00 UTC" in form
        assert "test hill" in form
        assert "sunspot number 95" in form
        assert "typed in" in form
        assert gain_sentence(plan) in form
        for step in plan.steps:
            assert str(step.stay.start)[11:16] in form
            assert setup_words(step.setup).split(",")[0].split(" ")[1] in form
        for card in sheet.cards:
            assert card.tuning in form
        for text in sheet.cautions:
            assert text[:40].replace("_", "\\_") in form or text[:40] in form
    assert any("licence decides" in text for text in sheet.cautions)
    assert any("power line" in text for text in sheet.cautions)
    assert any("Keep people" in text for text in sheet.cautions)


def test_the_backup_has_a_card_too(sheet: RunSheet) -> None:
    names = {card.band for card in sheet.cards}
    for step in sheet.steps:
        assert step.stay.band in names
        assert step.backup is None or step.backup.band in names


def test_the_age_of_the_conditions_stands_on_the_sheet(
    plan: DayPlan, result: Forecast, terminals: Terminals, setups: dict[str, BandSetup]
) -> None:
    from dataclasses import replace

    stored = replace(result, conditions=replace(result.conditions, issued=NOW - 5 * HOUR, source="a test"))
    made = make_run_sheet(plan, [stored], terminals.near.antenna, setups, NOW)
    assert "5 hours old" in made.conditions


def test_markdown_is_a_table_that_nothing_breaks(sheet: RunSheet, plan: DayPlan) -> None:
    from dataclasses import replace

    odd = replace(sheet, site="a|b *c* [d](e)\nf")
    text = sheet_markdown(odd)
    rows = [line for line in text.splitlines() if line.startswith("|")]
    assert len(rows) == len(plan.steps) + 2
    assert all(len(re.findall(r"(?<!\\)\|", row)) == 8 for row in rows)
    assert "a\\|b \\*c\\* \\[d\\](e) f" in text
    assert text.endswith("\n")


def test_a_power_beyond_what_the_coil_bears_is_a_caution(terminals: Terminals) -> None:
    antenna = terminals.near.antenna
    assert antenna is not None
    answers = [antenna.on(7.1)]
    told = cautions(antenna, mode_by_name("FM"), 1500.0, answers)
    assert any("withstands" in text for text in told)
    modest = cautions(antenna, mode_by_name("SSB"), 5.0, answers)
    assert not any("withstands" in text for text in modest)


# --- contacts with a region ------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def europe(own: station.Station, terminals: Terminals) -> Forecast:
    return look(own, terminals, "Europe")


MORNING = START - 9 * HOUR


@pytest.fixture(scope="module")
def anyone(own: station.Station, terminals: Terminals) -> Forecast:
    return look(own, terminals, "anyone", start=MORNING)


@pytest.fixture(scope="module")
def sum_of(anyone: Forecast, terminals: Terminals, setups: dict[str, BandSetup]) -> DayPlan:
    return plan_day([anyone], terminals, TimeOnAir(MORNING, START), setups)


def test_the_steps_add_up_to_the_total(sum_of: DayPlan) -> None:
    assert sum_of.contacts is not None
    assert len(sum_of.steps) >= 2
    each = [step.contacts for step in sum_of.steps if step.contacts is not None]
    assert len(each) == len(sum_of.steps)
    assert sum(one.middle for one in each) == pytest.approx(sum_of.contacts.middle)
    assert sum_of.promise.contacts(sum_of.plan.reward) == pytest.approx(sum_of.contacts.middle)
    for one in (*each, sum_of.contacts):
        assert 0.0 <= one.low <= one.middle <= one.high
    # the days are common to all steps: the range of the sum is wider than that of independent steps
    spread = sum_of.contacts.high - sum_of.contacts.low
    assert spread > 1.1 * np.sqrt(sum((one.high - one.low) ** 2 for one in each))
    assert sum(whole_numbers(sum_of)) == round(sum_of.contacts.middle)
    text = total_sentence(sum_of)
    assert text.startswith(f"About {round(sum_of.contacts.middle)} contacts (")
    assert re.findall(r"about (\d+|under 1)", text) == [str(n) for n in whole_numbers(sum_of)]


def test_a_step_earns_the_rates_of_its_hours(sum_of: DayPlan, anyone: Forecast) -> None:
    """To 2 %: half hours of the forecast against the plan's five minutes."""
    people = outlook(anyone).people
    assert people is not None
    for step in sum_of.steps:
        at = MORNING + np.arange(9 * 60) * np.timedelta64(60, "s")
        inside = (at >= step.stay.ready) & (at < step.stay.end)
        seconds = (anyone.times - MORNING) / np.timedelta64(1, "s")
        rate = people.rate.middle[:, anyone.band_index(step.stay.band)]
        minutes = np.interp((at - MORNING) / np.timedelta64(1, "s") + 30.0, seconds, rate)[inside]
        assert step.contacts is not None
        assert step.contacts.middle == pytest.approx(minutes.sum() / 60.0, rel=0.02)


def test_a_change_is_made_only_where_it_wins(sum_of: DayPlan) -> None:
    """What a change wins over staying, less what its minutes cost, is what the plan has more."""
    for i, step in enumerate(sum_of.steps[1:], start=1):
        change = step.change
        assert change is not None
        assert change.from_band == sum_of.steps[i - 1].stay.band
        assert change.wins - change.costs >= 0.5
        rate = sum_of.rewards.reward[:, sum_of.rewards.index(change.from_band)]
        there = int(np.searchsorted(sum_of.rewards.times, step.stay.start))
        most = max(rate[there : there + 2]) * sum_of.promise.ceiling * step.stay.lost_min / 60.0
        assert change.costs <= most + 1e-9
        assert f"wins about {round(change.wins)}" in change_words(step)
    assert sum_of.steps[0].change is None
    assert (sum_of.gain or 0.0) > 0.0
    told = re.search(r"brings about (\d+) contacts? more than staying on (\d+) m", gain_sentence(sum_of))
    assert told is not None
    alone = dict(sum_of.singles())[f"{told[2]}m"]
    assert int(told[1]) == sum(whole_numbers(sum_of)) - round(alone)
    assert f"{told[2]} m about {round(alone)} contact" in alternatives_sentence(sum_of)


def test_backups_are_told_in_contacts(sum_of: DayPlan) -> None:
    for step in sum_of.steps:
        if step.backup is None:
            continue
        assert step.backup.contacts is not None
        assert step.backup.instead_of is not None
        assert step.contacts is not None
        assert step.backup.instead_of == pytest.approx(step.contacts.middle)


def test_staying_put_is_said_in_contacts(
    europe: Forecast, terminals: Terminals, setups: dict[str, BandSetup]
) -> None:
    wish = TimeOnAir(START, START + 2 * HOUR, extra_min=60.0)
    plan = plan_day([europe], terminals, wish, setups)
    assert len(plan.steps) == 1
    assert gain_sentence(plan).startswith("Staying on")
    assert ", all on " in total_sentence(plan)
    stay = plan.steps[0].stay.band
    assert f" {stay.removesuffix('m')} m" not in alternatives_sentence(plan), "it is the plan itself"


def test_a_used_band_brings_half_its_contacts(
    sum_of: DayPlan, anyone: Forecast, terminals: Terminals, setups: dict[str, BandSetup]
) -> None:
    bands = tuple(setups)
    used = plan_day([anyone], terminals, TimeOnAir(MORNING, START, used=bands), setups)
    assert used.contacts is not None
    assert sum_of.contacts is not None
    assert used.contacts.middle == pytest.approx(0.5 * sum_of.contacts.middle, rel=0.05)
    assert used.contacts.high < sum_of.contacts.high


def test_a_place_and_a_region_share_the_plan(
    own: station.Station, terminals: Terminals, result: Forecast, europe: Forecast,
    setups: dict[str, BandSetup],
) -> None:  # fmt: skip
    """Contacts are those with the region, the friend keeps days; no sum mixes the two."""
    plan = plan_day([result, europe], terminals, TimeOnAir(START, START + 9 * HOUR), setups)
    assert plan.contacts is not None
    assert plan.gain is None
    assert "contacts with Europe (" in total_sentence(plan)
    for step in plan.steps:
        friend, region = step.expect
        assert friend.prospect.rate is None
        assert region.prospect.rate is not None
        assert days(friend.prospect.chance) in expect_words(step.expect)
        assert step.change is None


def test_two_regions_are_called_at_once(
    own: station.Station, terminals: Terminals, europe: Forecast, setups: dict[str, BandSetup]
) -> None:
    """Their answers add up before the time of an exchange: more than each alone, less than the sum."""
    africa = look(own, terminals, "Africa")
    wish = TimeOnAir(START, START + 3 * HOUR)
    one, two, both = (
        promise_of(results, [1.0] * len(results), wish.start, wish.end, list(setups)).rewards.reward
        for results in ([europe], [africa], [europe, africa])
    )
    assert np.all(both >= np.maximum(one, two) - 1e-9)
    assert np.all(both <= one + two + 1e-9)


def test_one_figure_of_a_friend_in_a_step(plan: DayPlan, sheet: RunSheet) -> None:
    figures = step_figures(plan)
    for number, step in enumerate(plan.steps):
        assert figures[number] == days(step.prospect.chance)
        assert "day" not in expect_words(step.expect), "told in the head of the step"
