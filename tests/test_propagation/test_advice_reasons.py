"""Causes by counterfactuals: weights, stability, changes, near and far, and words that follow the numbers."""

from __future__ import annotations

import re
from dataclasses import replace
from itertools import permutations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from worlds import forecast_of

from propagation.advice.cause_weights import reasons, shapley
from propagation.advice.rates import Prospect
from propagation.advice.recompute import Cells, compute
from propagation.advice.region_chance import outlook
from propagation.advice.why import HEARD, Explanation, changes, near_and_far, why, zones
from propagation.base.units import FloatArray
from propagation.signal.chances.forecast import Forecast, forecast
from propagation.signal.chances.request import Request
from propagation.signal.losses.counterfactual import Counterfactual
from propagation.signal.rays.causes import CAUSES, LOSSES
from propagation.space_weather.state import conditions
from propagation.space_weather.state.conditions import Conditions
from propagation.space_weather.state.event_absorption import Effects
from propagation.station import station
from propagation.station.terminals import Terminals
from propagation.wording.quantities import promised
from propagation.wording.why import change_words, leans_on, near_far_sentence, why_sentences

NOON = np.datetime64("2026-03-20T10:00:00", "s")  # 12 local on the test hill
HERE = """
name = "test hill"
[site]
locator = "KG40"
noise = "residential"
[rig]
power_w = 20
mode = "SSB"
[antenna]
kind = "loaded vertical"
radials = 4
"""
QUIET = conditions.typed_in(ssn=90, kp=1)


def look(
    own: station.Station, terminals: Terminals, target: str, start: np.datetime64 = NOON,
    state: Conditions = QUIET,
    mode: str | None = None, power_w: float | None = None,
) -> Forecast:  # fmt: skip
    return forecast_of(own, terminals, target, state, start, mode=mode, power_w=power_w)


def at_power(terminals: Terminals, result: Forecast) -> Terminals:
    """The same terminals with the power a forecast was made for."""
    return Terminals(replace(terminals.near, power_w=result.power_w), terminals.far)


def band(result: Forecast, name: str) -> int:
    return result.band_index(name)


# --- the weights -----------------------------------------------------------------------------------------


@settings(max_examples=50, deadline=None)
@given(st.lists(st.floats(0.0, 1.0), min_size=8, max_size=8))
def test_the_weights_are_the_mean_over_all_orders(values: list[float]) -> None:
    """Against the definition, order by order, for three players."""
    table = np.array(values)
    total = np.zeros(3)
    for order in permutations(range(3)):
        seen = 0
        for player in order:
            total[player] += table[seen | 1 << player] - table[seen]
            seen |= 1 << player
    np.testing.assert_allclose(shapley(table), total / 6.0, atol=1e-12)
    np.testing.assert_allclose(np.sum(shapley(table)), table[-1] - table[0], atol=1e-12)


def test_a_switch_that_does_nothing_weighs_nothing() -> None:
    table = np.array([0.1, 0.6, 0.1, 0.6])
    np.testing.assert_allclose(shapley(table), [0.5, 0.0])


CELLS = [("20m", 0), ("20m", 8), ("40m", 2), ("40m", 16), ("15m", 6), ("10m", 16), ("160m", 10), ("6m", 1)]


@pytest.mark.parametrize("target", ["GF25", "KG43", "Europe"])
def test_weights_sum_to_one_and_start_from_the_forecasts_chance(
    own: station.Station, terminals: Terminals, target: str
) -> None:
    result = look(own, terminals, target)
    for name, time in CELLS:
        found = reasons(result, terminals, band(result, name), time)
        np.testing.assert_allclose(sum(cause.weight for cause in found.causes), 1.0, atol=1e-9)
        assert all(cause.weight >= 0.0 for cause in found.causes)
        assert [c.weight for c in found.causes] == sorted((c.weight for c in found.causes), reverse=True)
        assert {cause.cause for cause in found.causes} <= set(CAUSES)
        assert found.perfect >= found.worth - 1e-9
        if result.usable[band(result, name)]:
            np.testing.assert_allclose(
                found.worth, outlook(result).worth[time, band(result, name)], atol=1e-9
            )


def test_weights_hardly_move_with_a_small_change_of_input(own: station.Station, terminals: Terminals) -> None:
    """Two sunspots and a minute more move no weight by more than 4 hundredths."""
    first = look(own, terminals, "GF25")
    second = look(own, terminals, "GF25", NOON + np.timedelta64(60, "s"), conditions.typed_in(ssn=92, kp=1))
    for name, time in CELLS:
        one, two = (
            {c.cause: c.weight for c in reasons(result, terminals, band(result, name), time).causes}
            for result in (first, second)
        )
        for cause in {*one, *two}:
            np.testing.assert_allclose(one.get(cause, 0.0), two.get(cause, 0.0), atol=0.04, err_msg=cause)


def test_the_chance_with_one_cause_gone_is_that_of_a_circuit_without_it(
    own: station.Station, terminals: Terminals
) -> None:
    """Computed apart from the weights, by the switch alone."""
    result = look(own, terminals, "GF25")
    time, index = 3, band(result, "20m")
    found = {cause.cause: cause.alone.chance for cause in reasons(result, terminals, index, time).causes}
    route = int(np.argmax(result.chance[0, :, time, index]))
    cells = Cells(np.array([0]), np.array([route]), np.array([index]), np.array([[result.times[time]]]))
    for loss, cause in (("absorption", "absorption"), ("above the MUF", "above the MUF")):
        spared = compute(result, terminals, cells, counterfactual=Counterfactual({loss: np.array([True])}))  # type: ignore[dict-item]
        np.testing.assert_allclose(spared.chance[0, 0], found[cause], atol=1e-9)  # type: ignore[index]


def test_a_loss_taken_off_never_does_harm(own: station.Station, terminals: Terminals) -> None:
    result = look(own, terminals, "GF25")
    count = len(result.bands)
    zero = np.zeros(count, dtype=int)
    cells = Cells(zero, zero, np.arange(count), np.tile(result.times, (count, 1)))
    plain = compute(result, terminals, cells).margin_db
    for loss in LOSSES:
        spared = compute(
            result, terminals, cells, counterfactual=Counterfactual({loss: np.ones(count, dtype=bool)})
        ).margin_db
        # medians over all days settle to about 0.1 dB; 100 dB short there is nothing to spare
        assert np.all((spared >= plain - 0.1) | (plain < -100.0)), loss
    no_row = compute(
        result,
        terminals,
        cells,
        counterfactual=Counterfactual({loss: np.zeros(count, dtype=bool) for loss in LOSSES}),
    )
    np.testing.assert_allclose(no_row.margin_db, plain, atol=1e-9)


# --- the right cause (common practice of the trade, no source) -------------------------------------------


def heaviest(
    own: station.Station, terminals: Terminals, target: str, name: str, time: int, **more: object
) -> str:
    result = look(own, terminals, target, **more)  # type: ignore[arg-type]
    return reasons(result, terminals, band(result, name), time).causes[0].cause


def test_40_m_at_noon_far_is_absorbed(own: station.Station, terminals: Terminals) -> None:
    assert heaviest(own, terminals, "GF25", "40m", 0) == "absorption"


def test_10_m_at_midnight_is_above_the_muf(own: station.Station, terminals: Terminals) -> None:
    assert heaviest(own, terminals, "GF25", "10m", 12) == "above the MUF"


def test_20_m_skips_the_neighbour(own: station.Station, terminals: Terminals) -> None:
    assert heaviest(own, terminals, "KG43", "20m", 0, state=conditions.typed_in(ssn=20, kp=1)) == "skip zone"


def test_a_whip_at_one_watt_in_the_evening_lacks_level(own: station.Station, terminals: Terminals) -> None:
    """Where the layers serve, what is missing are decibels: of antenna, noise, power, mode."""
    found = heaviest(own, terminals, "KI88", "40m", 11, power_w=1.0)
    assert found in ("antenna", "noise", "power", "mode")


def test_a_flare_is_blamed_for_what_it_does(own: station.Station, terminals: Terminals) -> None:
    state = conditions.typed_in(ssn=90, kp=1, xray_w_m2=3e-4)  # class X3
    result = look(own, terminals, "KI88", state=state, mode="CW", power_w=100.0)
    calm = look(own, terminals, "KI88", mode="CW", power_w=100.0)
    index = band(result, "20m")
    assert result.region_chance[0, index] < calm.region_chance[0, index] - 0.2
    flare = next(
        c for c in reasons(result, at_power(terminals, result), index, 0).causes if c.cause == "flare"
    )
    assert flare.weight > 0.2
    np.testing.assert_allclose(flare.alone.chance, calm.region_chance[0, index], atol=1e-6)
    assert "flare" not in {c.cause for c in reasons(calm, at_power(terminals, calm), index, 0).causes}


def test_a_storm_is_blamed_and_without_it_the_quiet_chance_returns(
    own: station.Station, terminals: Terminals
) -> None:
    start = np.datetime64("2026-01-10T10:00:00", "s")  # summer on the hill: storms thin the layer
    state = conditions.typed_in(ssn=90, kp=8)
    result = look(own, terminals, "GF25", start, state, mode="CW", power_w=100.0)
    index = band(result, "12m")
    rows = {c.cause: c for c in reasons(result, at_power(terminals, result), index, 4).causes}
    calm = forecast(Request(
        own, result.target, result.times[4:5], state, mode="CW", power_w=100.0, bands=[result.bands[index]],
        effects=Effects(storm=False), near=terminals.near, far=terminals.far,
    ))  # fmt: skip
    assert calm.region_chance[0, 0] > result.region_chance[4, index] + 0.05
    assert rows["storm"].weight > 0.05
    np.testing.assert_allclose(rows["storm"].alone.chance, calm.region_chance[0, 0], atol=1e-6)


def test_a_storm_near_and_far_has_its_causes(own: station.Station, terminals: Terminals) -> None:
    """Scatter serves the nearer places alone: the switches of its rows are some of those of all rows."""
    start = np.datetime64("2026-01-10T10:00:00", "s")
    result = look(own, terminals, "IN80", start, conditions.typed_in(ssn=90, kp=8), mode="CW", power_w=100.0)
    told = [near_and_far(result, at_power(terminals, result), n, 4) for n in range(len(result.bands))]
    assert any(one is not None for one in told)


def test_a_band_outside_the_licence_has_that_cause_and_no_chance(terminals: Terminals) -> None:
    only = station.loads(HERE + '[limits]\nbands = ["40m"]\n')
    result = look(only, terminals, "GF25", mode="DIGITAL")
    index = band(result, "20m")
    time = int(np.argmax(result.region_chance[:, index]))
    found = reasons(result, terminals, index, time)
    assert found.causes[0].cause == "licence"
    assert found.worth == 0.0
    answer = why(result, terminals, index, time, near_far=False, what_if=False)
    assert answer.promise.chance == 0.0
    assert answer.limit == "licence"


def test_an_open_band_has_little_missing(own: station.Station, terminals: Terminals) -> None:
    result = look(own, terminals, "KG43", mode="DIGITAL", power_w=100.0)
    index = band(result, "40m")
    time = int(np.argmax(result.region_chance[:, index]))
    found = reasons(result, at_power(terminals, result), index, time)
    assert found.worth > 0.9
    assert found.perfect - found.worth < 0.1


@pytest.mark.parametrize("name", ["20m", "40m", "10m"])
def test_of_a_region_causes_and_changes_are_told_in_contacts_an_hour(
    own: station.Station, terminals: Terminals, name: str
) -> None:
    """One measure in the whole answer; the first few contacts and the basis of the rate are marked."""
    result = look(own, terminals, "Europe", mode="CW")
    answer = why(result, terminals, band(result, name), 8, near_far=False)
    lines = why_sentences(answer)
    marked = [line for line in lines if line.startswith(("4 within ", "Based on some "))]
    assert len(marked) == 2
    assert "within a factor of 3" in marked[1]
    assert f"on {name[:-1]} m in Europe now" in marked[1]
    for line in lines:
        assert line in marked or not re.search(r"days? in 1|nearly every day|in 10\b", line), line
    first = answer.named[0]
    assert promised(first.alone) in " ".join(lines)
    assert first.alone.figure >= answer.promise.figure - 1e-6
    for change in answer.helpful:
        assert f"{change_words(change)}: {promised(change.promise)}" in " ".join(lines)


def test_stations_are_told_to_two_figures() -> None:
    assert leans_on(1437.0, 912.0, "20m", "Europe") == (
        "some 1,400 stations on 20 m in Europe now, within a factor of 3; some 910 in reach, of whom 3 in 10 "
        "answer a caller within an hour"
    )
    assert leans_on(8.6, 0.2, "40m", "within 500 km").endswith(
        "within 500 km now, within a factor of 3; none of them in reach"
    )
    assert " anywhere now" in leans_on(2.0, 1.0, "40m", "anyone")


# --- what would change it --------------------------------------------------------------------------------


def test_changes_are_forecasts_with_the_change(own: station.Station, terminals: Terminals) -> None:
    result = look(own, terminals, "GF25", mode="CW")
    index, time = band(result, "17m"), 5
    found = {change.kind: change for change in changes(result, terminals, index, time)}
    assert set(found) >= {"band", "radials", "power", "mode"}
    loud = look(own, terminals, "GF25", mode="CW", power_w=100.0)
    np.testing.assert_allclose(found["power"].promise.chance, loud.region_chance[time, index], atol=1e-6)
    narrow = look(own, terminals, "GF25", mode="DIGITAL")
    np.testing.assert_allclose(found["mode"].promise.chance, narrow.region_chance[time, index], atol=1e-6)
    other = found["band"].band
    assert other is not None
    assert other != "17m"
    np.testing.assert_allclose(found["band"].promise.chance, result.region_chance[time, band(result, other)])
    others = np.delete(np.where(result.usable, result.region_chance[time], 0.0), index)
    np.testing.assert_allclose(found["band"].promise.chance, others.max())
    assert change_words(found["radials"]) == "8 radials instead of 4"


def test_the_next_opening_lies_ahead_and_is_better(own: station.Station, terminals: Terminals) -> None:
    result = look(own, terminals, "KI88", mode="CW")
    seen = 0
    for index in np.flatnonzero(result.usable).tolist():
        for change in changes(result, terminals, index, 0):
            if change.kind == "hour":
                seen += 1
                assert change.time is not None
                assert change.time > result.times[0]
                assert change.promise.chance > result.region_chance[0, index]
                assert str(change.time)[11:16] in change_words(change)
    assert seen >= 3


def test_at_a_hundred_watts_more_power_is_no_advice(own: station.Station, terminals: Terminals) -> None:
    loud = look(own, terminals, "GF25", power_w=100.0)
    kinds = {change.kind for change in changes(loud, at_power(terminals, loud), band(loud, "20m"), 0)}
    assert "power" not in kinds


# --- near and far ----------------------------------------------------------------------------------------


def test_zones_of_made_up_chances() -> None:
    km = np.array([50.0, 100.0, 200.0, 400.0, 800.0, 1600.0, 3200.0])
    near, gap, far = zones(km, np.array([1.0, 0.7, 0.0, 0.0, 0.7, 0.9, 0.0]))
    assert near is not None
    assert gap is not None
    assert far is not None
    assert 100.0 < near < 200.0
    assert gap[0] == near
    assert 400.0 < gap[1] < 800.0
    assert 1600.0 < far < 3200.0
    assert zones(km, np.zeros(7)) == (None, None, None)
    assert zones(km, np.ones(7)) == (50.0 * 64.0, None, None)
    deaf_near = zones(km, np.array([0.0, 0.0, 0.0, 0.0, 1.0, 1.0, 1.0]))
    assert deaf_near[0] is None
    assert deaf_near[1] is not None
    assert deaf_near[1][0] == 50.0


def test_the_far_ones_and_not_the_near_ones(own: station.Station, terminals: Terminals) -> None:
    """20 m at noon: ground wave, then nothing, then the first hop; the cause is the skip zone."""
    result = look(own, terminals, "KI88", mode="CW", power_w=100.0)
    found = near_and_far(result, at_power(terminals, result), band(result, "20m"), 0)
    assert found.gap_km is not None
    assert found.cause is not None
    assert found.cause.cause == "skip zone"
    low, high = found.gap_km
    inside = (found.distance_km > low * 1.01) & (found.distance_km < high * 0.99)
    assert np.all(found.chance[inside] < HEARD)
    assert "not" in near_far_sentence(found)


@pytest.mark.parametrize("name", ["80m", "40m", "20m", "10m", "2m"])
@pytest.mark.parametrize("time", [0, 12])
def test_the_sentence_on_near_and_far_follows_the_chances(
    own: station.Station, terminals: Terminals, name: str, time: int
) -> None:
    result = look(own, terminals, "KI88", mode="CW", power_w=100.0)
    found = near_and_far(result, at_power(terminals, result), band(result, name), time)
    heard = found.chance >= HEARD
    text = near_far_sentence(found)
    numbers = [float(part.replace(",", "")) for part in re.findall(r"([\d,]+) km", text)]
    if "no distance" in text:
        assert not heard.any()
    elif "no dead zone" in text:
        assert heard[0]
        assert np.all(np.diff(heard.astype(int)) <= 0)
    else:
        assert found.gap_km is not None
        assert heard.any()
        near = found.near_to_km is not None
        told = [*found.gap_km, found.far_to_km] if near else [found.gap_km[1], found.far_to_km]
        np.testing.assert_allclose(numbers[-len(told) :], told, rtol=0.01, atol=5.0)  # to ten kilometres
        assert ("not between" if near else "not nearer") in text


# --- words -----------------------------------------------------------------------------------------------


def contradictions(answer: Explanation) -> list[str]:
    """What the sentences say that the numbers do not."""
    lines = why_sentences(answer)
    text = " ".join(lines)
    wrong = []
    margin = answer.ledger.margin_db
    over = re.search(r"is ([\d.]+) dB (above|below) the required SNR", text)
    assert over is not None
    if (over[2] == "above") != (margin >= 0.0) or abs(float(over[1]) - abs(margin)) > 0.55:
        wrong.append(over[0])
    named = [float(part) for part in re.findall(r"(?:weight: |; )(\d+) %, ", text)]
    weights = [cause.weight * 100.0 for cause in answer.causes if cause.weight >= 0.05][: len(named)]
    if len(named) != len(weights) or np.any(np.abs(np.subtract(named, weights)) > 0.51):
        wrong.append(f"weights {named} {weights}")
    for change in answer.changes:
        line = next(line for line in lines if change_words(change) in line)
        helps = change in answer.helpful
        if helps == line.startswith("Changes with little effect"):
            wrong.append(change_words(change))
    if "No limiting factor." in text and answer.promise.chance < 0.9:
        wrong.append("nothing missing")
    return wrong


@pytest.mark.parametrize("target", ["GF25", "KG43", "within 500 km"])
def test_no_sentence_contradicts_the_numbers(own: station.Station, terminals: Terminals, target: str) -> None:
    result = look(own, terminals, target, mode="CW")
    for name, time in CELLS:
        answer = why(result, terminals, band(result, name), time, near_far=False)
        assert contradictions(answer) == [], why_sentences(answer)
        if answer.promise.chance >= 0.5:
            assert answer.limit == "open"
        else:
            assert answer.limit != "open"


def test_words_change_when_the_numbers_do(own: station.Station, terminals: Terminals) -> None:
    """The check above would notice: a wrong margin, a wrong weight or a useless change told as help."""
    result = look(own, terminals, "GF25", mode="CW")
    answer = why(result, terminals, band(result, "20m"), 0, near_far=False)
    assert contradictions(answer) == []
    lines = why_sentences(answer)

    def altered(changed: Explanation) -> bool:
        return why_sentences(changed) != lines

    assert altered(replace(answer, promise=Prospect(0.6)))
    first = answer.reasons.causes[0]
    heavier = (replace(first, weight=first.weight - 0.2), *answer.reasons.causes[1:])
    assert altered(replace(answer, reasons=replace(answer.reasons, causes=heavier)))
    worse = tuple(replace(change, promise=Prospect(0.0)) for change in answer.changes)
    assert altered(replace(answer, changes=worse))
    terms = tuple(replace(term, db=term.db + 3.0) for term in answer.ledger.terms)
    assert altered(replace(answer, ledger=replace(answer.ledger, terms=terms)))


def test_chances_in_the_weights_are_never_nan(own: station.Station, terminals: Terminals) -> None:
    """Chances that go into weights are never NaN, not even where no layer or mode serves."""
    result = look(own, terminals, "FN31")
    values: FloatArray = np.array(
        [
            cause.alone.chance
            for name, time in CELLS
            for cause in reasons(result, terminals, band(result, name), time).causes
        ]
    )
    assert np.all(np.isfinite(values))
