"""Quantities in words: one table each, monotone and without gaps."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from propagation.spectrum.modes import MODE_NAMES
from propagation.wording import quantities as say

POINTS = [
    "N", "NNE", "NE", "ENE", "E", "ESE", "SE", "SSE", "S", "SSW", "SW", "WSW", "W", "WNW", "NW", "NNW",
]  # fmt: skip
# From the chance at which a phrase begins, as a table that a reader can check; the steps below a tenth lie
# midway by ratio between two denominators.
CHANCES = [
    (0.0, "no day"),
    (0.0006, "less than 1 day in 100"),
    (0.0095, "1 day in 100"),
    (0.0142, "1 day in 50"),
    (0.0259, "1 day in 30"),
    (0.0409, "1 day in 20"),
    (0.0578, "1 day in 15"),
    (0.0746, "1 day in 12"),
    (0.1, "1 day in 10"),
    (0.15, "2 days in 10"),
    (0.25, "3 days in 10"),
    (0.35, "4 days in 10"),
    (0.45, "5 days in 10"),
    (0.55, "6 days in 10"),
    (0.65, "7 days in 10"),
    (0.75, "8 days in 10"),
    (0.85, "9 days in 10"),
    (0.95, "nearly every day"),
]
DISTANCES = [
    (0.0, "0 km"), (0.4, "0 km"), (3.5, "4 km"), (42.4, "42 km"), (99.4, "99 km"), (99.5, "100 km"),
    (104.9, "100 km"), (105.0, "110 km"), (994.9, "990 km"), (995.0, "1,000 km"), (2034.0, "2,030 km"),
    (8243.0, "8,240 km"), (19995.0, "20,000 km"), (None, "-"), (float("nan"), "-"),
]  # fmt: skip
FINE = np.linspace(0.0, 1.0, 100_001)


@pytest.mark.parametrize(("chance", "text"), CHANCES)
def test_chances_are_told_from_here_on(chance: float, text: str) -> None:
    assert say.days(chance + 1e-9) == text


def test_chances_have_no_gap_and_no_other_phrase() -> None:
    order = [text for _, text in CHANCES]
    told = [order.index(say.days(chance)) for chance in FINE.tolist()]
    assert np.all(np.diff(told) >= 0), "a larger chance is never told as a smaller one"
    assert set(told) == set(range(len(order)))


@given(st.floats(0.0, 1.0))
def test_a_chance_in_words_is_near_the_chance(chance: float) -> None:
    text = say.days(chance)
    numbers = [int(part) for part in text.split() if part.isdigit()]
    if text.startswith("less"):
        assert chance < 0.01
    elif len(numbers) == 2 and numbers[1] == 10:
        assert abs(numbers[0] / 10.0 - chance) <= 0.05 + 1e-9
    elif len(numbers) == 2:
        # the steps lie at most in the ratio of 1 to 2
        assert 2.0**-0.5 - 1e-9 <= chance * numbers[1] <= 2.0**0.5 + 1e-9
    else:
        assert (text == "nearly every day") == (chance >= 0.95)
        assert (text == "no day") == (chance <= 0.0005)


@pytest.mark.parametrize(("km", "text"), DISTANCES)
def test_distances(km: float | None, text: str) -> None:
    assert say.kilometres(km) == text


def _number(text: str) -> float:
    return float(text.split()[0].replace(",", "").replace("°", ""))


@pytest.mark.parametrize(
    ("told", "top", "step"),
    [
        (say.kilometres, 20_100.0, 10.0),
        (say.degrees, 90.0, 1.0),
        (say.watts, 1500.0, 1.0),
        (say.decibels, 200.0, 1.0),
        (say.power_share, 1.0, 0.1),
    ],
    ids=["kilometres", "degrees", "watts", "decibels", "power share"],
)
def test_quantities_rise_without_gaps(told: Callable[[float], str], top: float, step: float) -> None:
    """Never falling, and never by more than the rule's coarsest step (and the grid's own)."""
    values = np.linspace(0.0, top, 40_001)
    figures = np.array([_number(told(value)) for value in values.tolist()])
    rise = np.diff(figures)
    assert np.all(rise >= 0.0)
    assert np.max(rise) <= step + 1e-9


@given(st.floats(0.0, 1.0))
def test_shares(part: float) -> None:
    figure = say.percent_figure(part)
    assert say.percent(part) == f"{figure} %"
    if figure == "<1":
        assert 0.0 < part < 0.005
    else:
        assert abs(int(figure) - 100.0 * part) <= 0.5 + 1e-9


@given(st.floats(-720.0, 1080.0))
def test_the_compass_point_is_within_its_sector(bearing_deg: float) -> None:
    middle = POINTS.index(say.compass(bearing_deg)) * 22.5
    assert abs((bearing_deg - middle + 180.0) % 360.0 - 180.0) <= 11.25 + 1e-9
    assert 0 <= int(say.bearing_figure(bearing_deg)) < 360


@pytest.mark.parametrize(
    ("db", "text"),
    [(3.24, "+3.2 dB"), (-3.25, "-3.2 dB"), (-0.04, "+0.0 dB"), (0.0, "+0.0 dB"), (None, "-")],
)
def test_levels(db: float | None, text: str) -> None:
    assert say.level(db) == text


def test_powers() -> None:
    assert [say.watts(power) for power in (0.5, 2.5, 5.0, 9.99, 9.999, 20.0, 99.5)] == [
        "0.5 W", "2.5 W", "5 W", "9.99 W", "10 W", "20 W", "100 W",
    ]  # fmt: skip


def test_times() -> None:
    time = np.datetime64("2026-03-20T07:05:09", "s")
    assert say.clock(time) == "07:05"
    assert say.clock(None) == say.clock(np.datetime64("NaT", "s")) == "-"
    assert say.end_clock(np.datetime64("2026-03-21T00:00", "s")) == "24:00"
    assert say.day_month(time) == "20 March 2026"
    assert say.day_title(time) == "Fri 20 Mar 2026"


def test_what_is_not_known_has_no_number() -> None:
    assert say.days(None) == say.days(float("nan")) == "unknown"
    for told in (
        say.percent,
        say.percent_figure,
        say.tenths,
        say.kilometres,
        say.degrees,
        say.watts,
        say.level,
    ):
        assert told(None) == told(float("nan")) == "-"


def test_every_mode_has_words() -> None:
    assert set(say.MODE_WORDS) == set(MODE_NAMES)
