"""Contacts with a region: the mixture of far ends, the Poisson law, and what must never go the wrong way."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from propagation.advice import activity, people
from propagation.advice.band_now import HARDLY
from propagation.advice.nothing_now import anything_at, best_equipped_chance, nothing_between
from propagation.advice.rates import over_days, quantiles, rates_of
from propagation.antennas.factory import build
from propagation.antennas.spec import AntennaSpec, FeedlineSpec
from propagation.base.errors import InputError
from propagation.geo.ground import GROUNDS
from propagation.geo.places import resolve
from propagation.geo.regions import Target, make_target, point
from propagation.ionosphere.variability import ES_NODES, LAYER_NODES
from propagation.signal.chances.far_end_mixture import day_weights
from propagation.signal.chances.forecast import Forecast, forecast
from propagation.signal.chances.request import Request
from propagation.space_weather.state import conditions
from propagation.spectrum.bands import by_name
from propagation.spectrum.modes import ModeName
from propagation.station import far_ends, station
from propagation.station.far_ends import ALIKE, USUAL, FarEnds, FarKind
from propagation.station.terminals import Terminal, far_terminal, own_terminal

HERE = """
[site]
locator = "JN47"
[rig]
power_w = 10
mode = "SSB"
[antenna]
kind = "dipole"
height_m = 6
"""
BANDS = [by_name(name) for name in ("40m", "20m", "10m")]
TIMES = np.datetime64("2026-06-13T00:00", "s") + np.arange(0, 24, 3) * np.timedelta64(3600, "s")
OWN = station.loads(HERE)
# one amateur who is always there and always answers
ALWAYS = activity.Habits(
    active=1.0,
    hours_a_week=168.0,
    weekend=1.0,
    by_band={"40m": 1.0, "20m": 1.0, "10m": 1.0},
    by_mode={"SSB": 1.0},
    by_hour={},
    answering=1.0,
)


@pytest.fixture(scope="module")
def ends() -> tuple[Terminal, Terminal]:
    return own_terminal(OWN), far_terminal(OWN.far_end)


def look(
    ends: tuple[Terminal, Terminal], target: Target, power_w: float = 10.0, kinds: FarEnds | None = USUAL
) -> Forecast:
    return forecast(Request(
        OWN, target, TIMES, conditions.typed_in(ssn=80, kp=2), power_w=power_w, bands=BANDS,
        near=ends[0], far=ends[1], far_ends=kinds,
    ))  # fmt: skip


@pytest.fixture(scope="module")
def spain(ends: tuple[Terminal, Terminal]) -> Forecast:
    return look(ends, resolve("Spain"))


# --- the far ends ----------------------------------------------------------------------------------------


def test_the_shares_of_the_mixture_make_one() -> None:
    assert sum(kind.share for kind in USUAL.kinds) == pytest.approx(1.0)
    assert USUAL.best is far_ends.LARGE
    with pytest.raises(InputError, match=r"make 1\.1: give shares"):
        FarEnds((FarKind("a", 0.5, 0.0, 0.0), FarKind("b", 0.6, 0.0, 0.0)))


@pytest.mark.parametrize(
    ("kind", "spec", "power_w"),
    [
        (far_ends.SMALL, AntennaSpec(kind="dipole", height_m=4.0), 50.0),
        (far_ends.LARGE, AntennaSpec(kind="yagi", height_m=18.0), 400.0),
    ],
)
def test_the_differences_are_those_of_stations_that_can_be_built(
    kind: FarKind, spec: AntennaSpec, power_w: float
) -> None:
    """A low dipole and a beam on a tower against the usual far end, on 20 m at 5 to 15 degrees of elevation.

    Within 4 dB: one number stands for all bands and angles. The dipole's direction is unknown, the beam's is
    the operator's.
    """
    frequency, angle = np.array([14.2]), np.array([5.0, 10.0, 15.0])
    ground = GROUNDS["average"]
    usual, other = (
        build(one, ground, FeedlineSpec(length_m=20.0, cable="RG-213"), 100.0)
        for one in (station.FarEnd().antenna_spec, spec)
    )
    towards = spec.azimuth_deg if spec.kind == "yagi" else None
    more_db = other.gain_dbi(frequency, angle, towards) - usual.gain_dbi(frequency, angle, None)
    found = float(np.mean(more_db)) + 10.0 * np.log10(power_w / 100.0)
    assert found == pytest.approx(kind.back_db, abs=4.0)


# --- the Poisson law -------------------------------------------------------------------------------------


def test_four_contacts_worked_by_hand() -> None:
    # Tables of the Poisson distribution give P(3 or fewer | 6) = 0.1512, so four or more in 0.8488, and
    # P(0 | 6) = 0.0025
    assert float(people.at_least(4, 6.0)) == pytest.approx(0.8488, abs=5e-5)
    assert float(people.at_least(1, 6.0)) == pytest.approx(0.9975, abs=5e-5)


def test_a_contact_takes_the_wait_and_the_exchange() -> None:
    # 20 stations in reach, 0.3 of them answer in an hour: one in 10 min. An exchange by voice takes 1 min, in
    # Morse 1.5 min: a contact in 11 and in 11.5 min
    assert float(people.rate_of(20.0, "SSB")) == pytest.approx(60.0 / 11.0)
    assert float(people.rate_of(20.0, "CW")) == pytest.approx(60.0 / 11.5)
    # however many there are, nobody makes more than one in the time an exchange takes; of a hundred times the
    # stations the last tenth still shows
    assert 59.9 < float(people.rate_of(1e6, "SSB")) < 60.0
    many, more = people.rate_of(np.array([400.0, 440.0]), "SSB")
    assert more - many > 1.0
    assert people.unlimited(people.limited(7.0, 40.0), 40.0) == pytest.approx(7.0)


@given(st.floats(0.0, 1e4), st.floats(1.001, 3.0), st.sampled_from(["SSB", "CW", "DIGITAL"]))
def test_every_station_more_shows(stations: float, times: float, mode: ModeName) -> None:
    few, more = people.rate_of(np.array([stations, stations * times + 0.01]), mode)
    assert few < more < activity.USUAL.ceiling(mode)


def test_the_station_file_sets_the_most_contacts_an_hour() -> None:
    slow = station.loads(HERE + "[people]\nmost_per_hour = 20\n")
    assert activity.habits_of(slow.people).ceiling("CW") == 20.0
    assert activity.habits_of(OWN.people).ceiling("CW") == activity.MOST_PER_HOUR["CW"]
    with pytest.raises(InputError, match="most_per_hour"):
        station.loads(HERE + "[people]\nmost_per_hour = 0\n")


# --- contacts an hour over the days ----------------------------------------------------------------------


def test_the_range_is_that_of_a_normal_law() -> None:
    """Where the rate is the layer's score itself, 80 % of the days lie within 1.2816 standard deviations
    (tables of the normal distribution). Twenty days of equal probability give it to a tenth of one.
    """
    score = np.broadcast_to(LAYER_NODES[:, None], (LAYER_NODES.size, ES_NODES.size))
    low, middle, high = quantiles(score, (0.1, 0.5, 0.9))
    assert (float(low), float(middle), float(high)) == pytest.approx((-1.2816, 0.0, 1.2816), abs=0.1)


def test_a_rate_lies_in_its_range(spain: Forecast) -> None:
    rate = people.people_of(spain).rate
    assert np.all((rate.low <= rate.middle) & (rate.middle <= rate.high))
    assert np.all(rate.low >= 0.0)
    assert np.any(rate.high > 1.2 * rate.middle), "days differ"
    # a band that carries on one day in twenty: rare, and more than nothing to be expected
    seldom = np.zeros((LAYER_NODES.size, ES_NODES.size))
    seldom[-2:] = 30.0
    found = rates_of(seldom)
    assert float(found.low) == 0.0
    assert 0.0 < float(found.middle) <= float(found.high)
    never = rates_of(np.zeros((25, 1, LAYER_NODES.size, ES_NODES.size)))  # one dead band alone
    assert np.all(never.high == 0.0)
    assert never.high.shape == (25, 1)


def test_the_first_few_come_in_the_shortest_span_that_is_nearly_certain(spain: Forecast) -> None:
    found = people.people_of(spain)
    minutes, chance = found.first_few()
    for span in people.FIRST_MIN:
        row = minutes == span
        within = over_days(people.at_least(found.wanted, found.by_day * span / 60.0))
        np.testing.assert_allclose(chance[row], within[row])
    assert np.all((chance >= people.NEARLY_CERTAIN) | (minutes == people.FIRST_MIN[-1]))
    np.testing.assert_allclose(chance[minutes == 60], found.chance[minutes == 60])


@given(st.integers(1, 12), st.floats(0.0, 50.0), st.floats(0.0, 5.0))
def test_more_people_never_lower_the_chance(count: int, mean: float, more: float) -> None:
    fewer, with_more = people.at_least(count, np.array([mean, mean + more]))
    assert 0.0 <= fewer <= with_more + 1e-12 <= 1.0 + 1e-12
    assert people.at_least(count + 1, mean) <= fewer + 1e-12


# --- a region --------------------------------------------------------------------------------------------


def test_one_station_that_is_always_there_is_a_friend(ends: tuple[Terminal, Terminal]) -> None:
    madrid = resolve("Madrid")
    one = make_target("one", "region", madrid.lat_deg, madrid.lon_deg, [1.0], ["Madrid"])
    region = look(ends, one, kinds=ALIKE)
    friend = look(ends, point("one", madrid.centre))
    found = people.people_of(region, 1, ALWAYS)
    awake = activity.awake(one.lon_deg[:, None], TIMES[None, :], 1.0)[0]
    # stations in reach over stations there: the share of days of the friend (single precision: 1e-5)
    np.testing.assert_allclose(found.stations / awake[:, None], friend.region_chance, atol=1e-5)
    np.testing.assert_allclose(region.best_equipped[:, 0], friend.chance[:, 0], atol=1e-5)


def test_a_days_chance_caps_that_of_any_crowd(ends: tuple[Terminal, Terminal]) -> None:
    """With a million stations the chance is the share of days on which any are reached at all, not one."""
    madrid = resolve("Madrid")
    crowd = make_target("crowd", "region", madrid.lat_deg, madrid.lon_deg, [1.0], ["Madrid"], amateurs=1e6)
    result = look(ends, crowd, kinds=ALIKE)
    found = people.people_of(result, 4, ALWAYS)
    # on a kind of day at 0.3 of a million in reach, four answer; on one with fewer than one in a million none
    reached = np.max(result.mixed, axis=(0, 1)).astype(float)
    surely = np.einsum("tbuv,uv->tb", (reached > 1e-4).astype(float), day_weights())
    never = np.einsum("tbuv,uv->tb", (reached > 1e-7).astype(float), day_weights())
    assert np.all(found.chance >= surely - 1e-6)
    assert np.all(found.chance <= never + 1e-6)


def test_the_figures_of_a_region_hang_together(spain: Forecast) -> None:
    found = people.people_of(spain)
    assert day_weights().sum() == pytest.approx(1.0)
    assert np.all((found.chance >= 0.0) & (found.chance <= 1.0))
    # what is in reach is there, the better route of each point is no worse than one route for all
    assert np.all(found.in_reach <= found.on_air * (1.0 + 1e-6))
    np.testing.assert_allclose(found.in_reach.sum(axis=0), found.stations, rtol=1e-9)
    assert np.all(found.route_chance.max(axis=0) <= found.chance + 1e-6)
    # Markov: the chance of four is at most a quarter of the mean number
    assert np.all(found.chance <= found.rate.middle / 4.0 + 1e-9)
    assert np.all(people.people_of(spain, 1).chance >= found.chance)


@settings(max_examples=8, deadline=None)
@given(st.floats(0.5, 400.0), st.floats(1.0, 6.0))
def test_more_power_never_lowers_the_chance(
    ends: tuple[Terminal, Terminal], power_w: float, times: float
) -> None:
    where = make_target("Iberia", "region", [40.4, 38.7], [-3.7, -9.1], [3, 1], ["a", "b"], amateurs=4e4)
    less, more = (people.people_of(look(ends, where, p)).chance for p in (power_w, power_w * times))
    assert np.all(more >= less - 1e-6)


def test_the_best_equipped_tenth_may_be_enough(ends: tuple[Terminal, Terminal]) -> None:
    """With the ordinary station out of reach, large ones still are in it, and a big country has enough."""
    usual = people.people_of(look(ends, resolve("Germany"), 2.0))
    alike = people.people_of(look(ends, resolve("Germany"), 2.0, ALIKE))
    evening = int(np.argmin(np.abs(TIMES - np.datetime64("2026-06-13T18:00"))))
    weak = alike.chance[evening] < 0.3
    assert np.any(weak & (usual.chance[evening] > 1.5 * alike.chance[evening]))


def test_whom_to_expect_in_order_of_stations(ends: tuple[Terminal, Terminal]) -> None:
    result = look(ends, resolve("Europe"))
    found = people.people_of(result)
    parts = people.whom(found, result.target, 6, 1)
    assert 1 <= len(parts) <= people.MOST_NAMED
    assert [one.stations for one in parts] == sorted((one.stations for one in parts), reverse=True)
    assert parts[0].first
    assert all(one.share >= people.NAMED_FROM for one in parts)
    # the sum over the points of a country, counted apart
    germany = np.array([label.endswith("Germany") for label in result.target.labels])
    counted = float(found.in_reach[germany, 6, 1].sum())
    named = {one.name: one.stations for one in parts}
    if "Germany" in named:
        assert named["Germany"] == pytest.approx(counted)
    else:
        assert counted <= people.NAMED_FROM * found.stations[6, 1] or len(parts) == people.MOST_NAMED


def test_towns_are_named_within_one_country(spain: Forecast) -> None:
    parts = people.whom(people.people_of(spain), spain.target, 6, 1)
    assert {one.name for one in parts} <= set(spain.target.labels)


def test_a_friend_is_not_counted(ends: tuple[Terminal, Terminal]) -> None:
    friend = look(ends, resolve("Madrid"))
    assert friend.mixed.size == 0
    with pytest.raises(InputError, match="one station"):
        people.people_of(friend)
    with pytest.raises(InputError, match="1 or more"):
        people.people_of(look(ends, resolve("Spain")), 0)


# --- nothing ---------------------------------------------------------------------------------------------


def test_nothing_only_where_the_best_equipped_are_out_of_reach(ends: tuple[Terminal, Terminal]) -> None:
    result = look(ends, resolve("New Zealand"), 0.05)
    best = best_equipped_chance(result).max(axis=1)
    for at in range(len(TIMES)):
        said = nothing_between(result, at, at + 1)
        assert (said is None) == bool(best[at] >= HARDLY) == bool(anything_at(result)[at])
    silent = int(np.argmin(best))
    said = nothing_between(result, silent, silent + 1)
    assert said is not None
    assert said.chance == pytest.approx(best[silent])
    assert said.later is None or (said.later.time > TIMES[silent] and said.later.chance >= HARDLY)


def test_nothing_says_which_mode_would_do_at_once(ends: tuple[Terminal, Terminal]) -> None:
    weak = look(ends, resolve("Spain"), 1e-4)
    assert not anything_at(weak).any()

    def digital() -> Forecast:
        return forecast(Request(
            OWN, weak.target, TIMES, weak.conditions, mode="DIGITAL", power_w=10.0, bands=BANDS,
            near=ends[0], far=ends[1],
        ))  # fmt: skip

    said = nothing_between(weak, 6, 7, digital)
    assert said is not None
    assert said.later is None
    assert said.narrower is not None
    assert said.narrower.mode == "DIGITAL"
    assert said.narrower.at_once
    assert said.narrower.chance >= HARDLY
    assert said.narrower.time == TIMES[6]


def test_a_friend_is_hoped_for_by_days(ends: tuple[Terminal, Terminal]) -> None:
    friend = look(ends, resolve("Madrid"))
    np.testing.assert_allclose(
        best_equipped_chance(friend), np.where(friend.usable, friend.chance.max(axis=(0, 1)), 0.0)
    )
