"""The one rule of ranking: figures told in steps, alike bands in one order, and words that agree with it."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from propagation.advice.ranking import CHANCES, RATES, level, told_chance, told_rate
from propagation.advice.rates import Prospect, Rate
from propagation.wording import quantities as say


def test_the_figures_told_are_steps_of_about_a_tenth() -> None:
    ratio = RATES[1:] / np.maximum(RATES[:-1], 1e-9)
    high = RATES[:-1] >= 10.0
    assert np.all((ratio[high] > 1.05) & (ratio[high] < 1.16))
    assert np.all(np.diff(RATES) > 0.0)
    assert np.all(np.diff(CHANCES) > 0.0)
    for figures, told in ((RATES, told_rate), (CHANCES, told_chance)):
        np.testing.assert_array_equal(told(figures), figures)


@given(st.floats(0.0, 300.0), st.floats(0.0, 300.0))
def test_rates_are_alike_where_the_same_words_are_said(one: float, other: float) -> None:
    words = [say.promised(say_rate(value)) for value in (one, other)]
    assert (words[0] == words[1]) == bool(told_rate(one) == told_rate(other))


def say_rate(value: float) -> Prospect:
    return Prospect(0.5, Rate(value, value, value), 4)


@given(st.floats(0.0, 1.0), st.floats(0.0, 1.0))
def test_chances_are_alike_where_the_same_words_are_said(one: float, other: float) -> None:
    assert (say.days(one) == say.days(other)) == bool(told_chance(one) == told_chance(other))


@given(st.lists(st.floats(0.0, 1.0), min_size=1, max_size=8), st.data())
def test_the_best_is_one_of_which_the_best_figure_is_told(worth: list[float], data: st.DataObject) -> None:
    row = np.array(worth)
    surer = np.array([data.draw(st.floats(0.0, value)) for value in worth])
    told = told_chance(row)
    ranked = level(row, told, surer)
    best = int(np.argmax(ranked))
    alike = (told == told[np.argmax(row)]) & (row > 0.0)
    if not alike.any():
        assert ranked.max() == 0.0
        return
    assert alike[best]
    assert surer[best] == surer[alike].max(), "of alike bands the surer"
    assert best == np.flatnonzero(alike & (surer == surer[best]))[0], "of bands as sure the lower"
    np.testing.assert_allclose(ranked[alike], row.max(), rtol=1e-5)
    np.testing.assert_array_equal(ranked[~alike], row[~alike])
