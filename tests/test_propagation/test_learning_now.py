"""Learning on the air: the estimate against plain Bayes, and what may and may not be learnt from what."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from propagation.advice import outing_estimate as of
from propagation.advice.outing_estimate import Learning, OutingEvent, ReachByState, estimate, learnt, prior
from propagation.advice.outing_replan import (
    calls_until_dead,
    expected,
    ground_of,
    learnt_promise,
    plan_again,
)
from propagation.advice.people import people_of
from propagation.advice.plan_day import times_on_air
from propagation.advice.rates import Prospect, Rate
from propagation.advice.switching import BandStay, Rewards
from propagation.geo.locator import Position
from propagation.geo.places import resolve
from propagation.ionosphere.variability import ES_NODES, LAYER_NODES
from propagation.logbook import journal
from propagation.logbook.evidence import events_of
from propagation.signal.chances.far_end_mixture import day_weights
from propagation.signal.chances.forecast import forecast
from propagation.signal.chances.request import Request
from propagation.signal.chances.station_offsets import BACK_DB, NOISE_DB, OUT_DB, STATION_DB, Shifted
from propagation.space_weather.state.conditions import built_in
from propagation.station import station as stations
from propagation.station.far_ends import USUAL, FarEnds
from propagation.station.terminals import far_terminal, own_terminal
from propagation.wording import outing as say

ROOT = Path(__file__).resolve().parents[2]
NOON = np.datetime64("2026-03-20T12:00:00")
MINUTE = np.timedelta64(60, "s")
BANDS = ("40m", "10m")
LOW, HIGH = BANDS
NAMES = ("Near", "Far")


def _step(value: np.ndarray) -> np.ndarray:
    return np.asarray(1.0 / (1.0 + np.exp(-value)))


def ground(most: float = 40.0) -> ReachByState:
    """Two bands and two countries: both fall with the station's level, the high band needs the layer too."""
    level = STATION_DB[:, None] - 0.3 * NOISE_DB[None, :]
    reach = _step((level + 4.0) / 4.0)[None, None]
    layer = np.stack([np.ones(LAYER_NODES.size), _step(2.0 * (LAYER_NODES - 0.5))])  # (B, U)
    days = layer[:, :, None, None, None] * np.ones((1, 1, ES_NODES.size, 1, 1))
    both = most * days * reach[None]  # (B, U, V, S, N)
    part = np.array([0.75, 0.25])[:, None, None]
    counts = part[..., None, None, None, None] * np.stack([both, both])[None]  # (G, T, B, U, V, S, N)

    def one_way(offsets: np.ndarray) -> np.ndarray:
        share = most * days[..., 0, :] * _step((offsets + 8.0) / 4.0)
        return np.asarray(part[..., None, None, None] * np.stack([share, share])[None])

    times = NOON + np.array([0, 240]) * MINUTE
    shifted = Shifted(
        times, BANDS, *(a.astype(np.float32) for a in (counts, one_way(OUT_DB), one_way(BACK_DB)))
    )
    return ReachByState(shifted, NAMES, np.array([0.0, 40.0]), np.array([0.0, 0.0]), np.array([0, 1]), "SSB")


def contact(band: str, minute: float, country: str = "Near", **more: float) -> OutingEvent:
    at = NOON + np.timedelta64(round(60 * minute), "s")
    return OutingEvent("contact", band, at, f"ZS{round(10 * minute):04d}T", (country,), **more)


def mark(kind: of.Kind, band: str, minute: float) -> OutingEvent:
    return OutingEvent(kind, band, NOON + np.timedelta64(round(60 * minute), "s"))


def moved(*events: OutingEvent, on: ReachByState | None = None) -> of.Estimate:
    return estimate(learnt(on or ground(), events, NOON).posterior(), 0.12, 0.12)


def test_without_events_the_prior_stands() -> None:
    learning = Learning(ground())
    assert learning.posterior() == pytest.approx(prior(), abs=1e-12)
    found = estimate(learning.posterior(), 0.12, 0.12)
    for one in (found.layer, found.sporadic_e, found.station, found.noise, found.busy):
        assert one.by == pytest.approx(0.0, abs=1e-9)
    # the prior is a little narrower than its law: the grid ends at 15 and 10 dB
    assert found.station.sd == pytest.approx(of.STATION_SD_DB, rel=0.08)
    assert found.noise.sd == pytest.approx(of.NOISE_SD_DB, rel=0.08)


def test_the_posterior_is_that_of_plain_bayes() -> None:
    """Every state by itself, and every band's activity by a sum over 4000 values of it."""
    here = ground()
    events = [contact(LOW, 4.0, "Far"), mark("in vain", HIGH, 12.0), contact(HIGH, 15.0), contact(LOW, 22.0)]
    minutes = of.minutes_before(events, NOON).tolist()
    assert minutes == [4.0, 5.0, 3.0, 5.0], "since the event before; at most five on a band just come to"
    factor = np.linspace(1e-4, 15.0, 4000)
    law = factor ** (of.BAND_SHAPE - 1.0) * np.exp(-of.BAND_SHAPE * factor)
    weight = np.zeros(of.SHAPE)
    first = prior()
    for state in np.ndindex(*of.SHAPE):
        likely = first[state]
        for band in BANDS:
            stations = here.stations.both[:, 0, BANDS.index(band), *state[:4]].astype(float)
            answers = stations.sum() * of.BUSY[state[4]] * 0.3
            whole = 1.0 / (1.0 / answers + 1.0 / 60.0)  # the wait and the exchange
            under = law.copy()
            for event, calling in zip(events, minutes, strict=True):
                if event.band == band:
                    under *= np.exp(-factor * (whole + of.FLOOR_PER_H) * calling / 60.0)
                    if event.kind == "contact":
                        share = stations[NAMES.index(event.countries[0])] / stations.sum()
                        under *= factor * (whole * share + of.FLOOR_PER_H / 2.0)
            likely *= under.sum()
        weight[state] = likely
    found = learnt(here, events, NOON).posterior()
    # to a millionth: the sum over the factor, and single precision of the stations
    assert found == pytest.approx(weight / weight.sum(), abs=1e-6)


def test_one_contact_tells_little() -> None:
    found = moved(contact(LOW, 5.0))
    for one in (found.layer, found.sporadic_e, found.station, found.noise):
        assert abs(one.by) < 0.35
        assert one.sd > 0.9 * one.before_sd


def test_many_answers_on_a_band_that_needs_the_layer_say_it_is_up() -> None:
    high = moved(*(contact(HIGH, 4.0 * n) for n in range(1, 16)))
    low = moved(*(contact(LOW, 4.0 * n) for n in range(1, 16)))
    assert high.layer.by > 0.5
    assert high.layer.by > abs(low.layer.by) + 0.4, "the low band does not depend on the layer"


def test_many_calls_in_vain_everywhere_speak_against_the_station() -> None:
    found = moved(*(mark("in vain", BANDS[n % 2], 5.0 * n) for n in range(1, 25)))
    assert found.station.by < -0.5
    assert abs(found.station.by) > abs(found.layer.by), "a poor layer does not close the low band"
    silent_high = moved(*(mark("in vain", HIGH, 5.0 * n) for n in range(1, 13)))
    assert silent_high.layer.by < -0.3


def test_heard_one_way_speaks_against_what_goes_out() -> None:
    found = moved(*(mark("one way", LOW, 5.0 * n) for n in range(1, 7)))
    assert found.station.by < -0.3


def test_reports_weigh_a_little() -> None:
    good = moved(*(contact(LOW, 4.0 * n, received_db=20.0) for n in range(1, 9)))
    poor = moved(*(contact(LOW, 4.0 * n, received_db=1.0) for n in range(1, 9)))
    without = moved(*(contact(LOW, 4.0 * n) for n in range(1, 9)))
    assert poor.station.mean < without.station.mean < good.station.mean
    noisy = moved(*(contact(LOW, 4.0 * n, sent_db=1.0, received_db=20.0) for n in range(1, 9)))
    assert noisy.noise.mean > good.noise.mean


def test_nothing_counts_twice_and_what_cannot_tell_does_not() -> None:
    here = ground()
    once = [contact(LOW, 5.0), mark("in vain", HIGH, 12.0)]
    again = replace(once[0], time=NOON + 30 * MINUTE)  # the same station on the same band
    first, second = (learnt(here, events, NOON).posterior() for events in (once, [*once, *once, again]))
    assert second == pytest.approx(first, abs=1e-12)
    nowhere = OutingEvent("contact", LOW, NOON + 5 * MINUTE, "ZS1TEST", ("Elsewhere",), -60.0, 150.0, 300.0)
    unknown_band = OutingEvent("contact", "23cm", NOON + 5 * MINUTE)
    assert learnt(here, [nowhere, unknown_band], NOON).posterior() == pytest.approx(prior(), abs=1e-12)
    far_one = contact(LOW, 5.0, "Far")
    placed = replace(far_one, countries=("A part of it",), lat_deg=37.0, lon_deg=1.0, uncertainty_km=200.0)
    same = (learnt(here, [event], NOON).posterior() for event in (far_one, placed))
    assert np.allclose(*same), "where no name is known, the nearest people"
    unknown = OutingEvent("contact", LOW, NOON + 5 * MINUTE, "ZS1TEST/MM")  # somebody, of any country
    assert not np.allclose(learnt(here, [unknown], NOON).posterior(), prior())


def test_the_uncertainty_is_as_large_as_the_errors() -> None:
    """Worlds drawn from the prior: the mean square of the error is the mean of the variance told.

    With 300 worlds the ratio is known to about a tenth; a likelihood counted twice would halve it.
    """
    rng = np.random.default_rng(20260320)
    here, first = ground(), prior().ravel()
    scales = (LAYER_NODES, STATION_DB, NOISE_DB)
    error, told = [], []
    for _ in range(300):
        state = np.unravel_index(int(rng.choice(first.size, p=first)), of.SHAPE)
        factor = rng.gamma(of.BAND_SHAPE, 1.0 / of.BAND_SHAPE, 2)
        learning, silent = Learning(here), 0.0
        for minute in range(120):
            row = (minute // 20) % 2
            silent = 0.0 if minute % 20 == 0 else silent
            stations = here.stations.both[:, 0, row, *state[:4]].astype(float)
            rate = min(stations.sum() * of.BUSY[state[4]] * 0.3, 30.0) + of.FLOOR_PER_H
            silent += 1.0
            at = NOON + minute * MINUTE
            for _ in range(rng.poisson(factor[row] * rate / 60.0)):
                name = NAMES[int(rng.random() > 0.75)]
                learning.take(OutingEvent("contact", BANDS[row], at, countries=(name,)), silent)
                silent = 0.0
            if silent >= 5.0:
                learning.take(OutingEvent("in vain", BANDS[row], at), silent)
                silent = 0.0
        weight = learning.posterior()
        found = [of._moments(weight, axis, scale) for axis, scale in zip((0, 2, 3), scales, strict=True)]
        truth = [float(s[state[axis]]) for axis, s in zip((0, 2, 3), scales, strict=True)]
        error.append([(mean - true) ** 2 for (mean, _), true in zip(found, truth, strict=True)])
        told.append([sd**2 for _, sd in found])
    ratio = np.mean(error, axis=0) / np.mean(told, axis=0)
    assert ratio == pytest.approx(np.ones(3), abs=0.25)
    before = of._moments(prior(), 2, STATION_DB)[1] ** 2
    assert np.mean(told, axis=0)[1] < 0.9 * before, "two hours teach something of the station"


# --- against the forecast ---------------------------------------------------------------------------------


def test_the_stations_in_reach_are_those_of_a_forecast_with_other_ends() -> None:
    """No offset: those of `people`. Five decibels: those of far ends that are so much better both ways.

    Within 0.002 stations of 1: a region's forecast is laid through its half hours, these are not.
    """
    own = stations.load(ROOT / "fixtures" / "demo" / "station.toml")
    near, far = own_terminal(own), far_terminal(own.far_end)
    target = resolve("South Africa")
    times = times_on_air(NOON, NOON + 40 * MINUTE)
    sky = built_in(times)
    result = forecast(Request(own, target, times, sky, near=near, far=far))
    here = ground_of(result, near, far, NOON, NOON + 40 * MINUTE)
    weight = day_weights()
    zero, plus = STATION_DB.size // 2, STATION_DB.size // 2 + 1
    plain = NOISE_DB.size // 2
    counted = np.einsum("gtbuvsn,uv->tbsn", here.stations.both, weight)
    columns = [result.band_index(name) for name in here.stations.bands]
    rows = [result.time_index(time) for time in here.stations.times[:3]]
    usual = people_of(result).stations[np.ix_(rows, columns)]
    assert usual.max() > 0.5
    assert counted[:3, :, zero, plain] == pytest.approx(usual, abs=2e-3)
    better = FarEnds(
        tuple(replace(kind, out_db=kind.out_db + 5.0, back_db=kind.back_db + 5.0) for kind in USUAL.kinds)
    )
    lifted = people_of(forecast(Request(own, target, times, sky, near=near, far=far, far_ends=better)))
    assert counted[:3, :, plus, plain] == pytest.approx(lifted.stations[np.ix_(rows, columns)], abs=2e-3)
    # one direction alone is never less than both
    assert np.all(
        here.stations.there.sum(axis=0)[..., -1] >= here.stations.both.sum(axis=0)[..., -1, plain] - 1e-4
    )


# --- the plan ---------------------------------------------------------------------------------------------


def _rewards(low: float, high: float) -> Rewards:
    times = NOON + 5 * np.arange(25) * MINUTE
    return Rewards(times, BANDS, np.tile([low, high], (25, 1)))


def test_a_plan_is_offered_only_where_it_gains_more_than_the_margin() -> None:
    at_hand = [BandStay(LOW, NOON, NOON + 120 * MINUTE, 0.0, 0.0)]
    cost = np.array([[0.0, 4.0], [4.0, 0.0]])

    def again(low: float, high: float, minute: int = 0) -> object:
        return plan_again(
            _rewards(low, high), cost, at_hand, NOON + minute * MINUTE, most_per_hour=30.0, current=LOW
        )

    much = again(0.2, 0.4)
    assert much.better
    assert much.plan.stays[0].band == HIGH
    assert much.kept == pytest.approx(0.2 * 120 / 2)
    assert much.best == pytest.approx(0.4 * 116 / 2), "the minutes of the change are taken off"
    assert not again(0.2, 0.23).better, "a seventh more is under the margin"
    assert not again(0.2, 0.1).better
    assert not again(0.2, 0.4, 118).better, "the time is up"
    assert not again(0.01, 0.014).better, "two fifths more, and not one contact"


def test_what_was_learnt_moves_what_is_expected() -> None:
    here = ground()
    before = expected(Learning(here))[0]
    after = expected(learnt(here, [mark("in vain", HIGH, 5.0 * n) for n in range(1, 7)], NOON))[0]
    assert after[1] < 0.6 * before[1], "silence on the high band"
    assert after[0] > 0.7 * before[0], "the low band is hardly blamed for it"


def test_what_was_learnt_is_promised_in_contacts() -> None:
    """The sum of a stay, and its range: narrower after twenty contacts than before any."""
    here, end = ground(), NOON + 120 * MINUTE
    stays = [BandStay(LOW, NOON, end, 0.0, 0.0)]
    many = [contact(LOW, 3.0 * n) for n in range(1, 21)]
    before, after = (learnt_promise(one, "both", 4, NOON, end, BANDS)
                     for one in (Learning(here), learnt(here, many, NOON)))  # fmt: skip
    for promise in (before, after):
        (step,), whole = promise.sums(stays)
        assert whole is not None
        assert step.middle == pytest.approx(whole.middle)
        rate = promise.main.rates
        assert rate is not None
        assert whole.middle == pytest.approx(2.0 * rate.middle[:, 0].mean(), rel=0.01)
        assert whole.low < whole.middle < whole.high
        assert np.all((rate.low <= rate.middle) & (rate.middle <= rate.high))
    spread = [
        (whole.high - whole.low) / whole.middle
        for _, whole in (p.sums(stays) for p in (before, after))
        if whole
    ]
    assert spread[1] < 0.7 * spread[0]


def test_a_band_is_dead_only_where_answers_are_missed() -> None:
    def calls(per_hour: float) -> int:
        return calls_until_dead(Prospect(0.5, Rate(0.0, per_hour, per_hour), 4))

    assert calls(60.0) == calls(12.0) == 2, "two calls, ten minutes, two contacts missed"
    assert calls(6.0) == 4
    assert calls(1.0) == 24
    assert calls_until_dead(Prospect(0.5)) == 2, "a friend: no rate"
    assert calls_until_dead(None) == 2


# --- from what is written down, and back into words -------------------------------------------------------


def test_the_log_and_the_marks_become_events() -> None:
    data = journal.header()
    for call, sent, received, minute in (("ZS1TEST", "599", "559", 4), ("DL1TEST", "-12", "-3", 9)):
        one = journal.Worked(call, sent, received, NOON + minute * MINUTE, "20m", 14.05, "CW", 5.0)
        data += journal.record(one)
    made = journal.contacts_made(data)
    assert [(one.call, one.time) for one in made] == [
        ("ZS1TEST", NOON + 4 * MINUTE),
        ("DL1TEST", NOON + 9 * MINUTE),
    ]
    events = events_of(made, [("in vain", "15m", NOON + 6 * MINUTE)], need_db=0.0)
    assert [event.kind for event in events] == ["contact", "in vain", "contact"]
    by_ear, _, by_meter = events
    assert by_ear.lat_deg == pytest.approx(-33.0, abs=2.0), "the Cape"
    assert np.isnan(by_ear.sent_db), "a nine may be habit"
    assert 0.0 < by_ear.received_db < by_ear.under_db
    assert (by_meter.received_db, by_meter.sent_db) == (-3.0, -12.0)
    assert journal.contacts_made(b"<CALL:5>ZS1AB <EOR>") == [], "no time, nothing to learn from"


def test_the_sentence_says_what_moved_and_what_says_so() -> None:
    here = Position(0.0, 0.0)
    found = moved(*(contact(HIGH, 4.0 * n) for n in range(1, 16)))
    events = [
        replace(contact(HIGH, 4.0), lat_deg=0.0, lon_deg=13.5, uncertainty_km=50.0),
        replace(contact(HIGH, 8.0), lat_deg=0.0, lon_deg=13.5, uncertainty_km=50.0),
    ]
    layer = replace(found, station=replace(found.station, mean=0.0), noise=replace(found.noise, mean=0.0))
    why = say.why_words(layer, events, here, HIGH, 1.0)
    assert why.startswith("two answers from about 1,500 km say the layer is up (about ")
    assert say.better_words("20m", "40m", why, 3.2).startswith(
        "Better to 20 m now, about three contacts more than the plan: two answers"
    )
    nothing = moved()
    told = say.why_words(nothing, [mark("in vain", LOW, 5.0)], here, LOW, 0.9)
    assert told.startswith("one call in vain on 40 m cannot separate the layer from the station")
    quiet = say.why_words(nothing, [mark("in vain", LOW, 5.0), mark("in vain", LOW, 10.0)], here, LOW, 0.6)
    assert quiet == "two calls in vain on 40 m say 40 m is quieter than expected"
    both = [mark("in vain", LOW, 5.0), mark("one way", LOW, 10.0)]
    assert say.why_words(nothing, both, here, LOW, 0.6).startswith(
        "one call in vain and one station heard one way on 40 m say"
    )
    assert "(within 6)" in say.estimate_words(nothing)
