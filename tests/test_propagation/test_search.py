"""The search over a function of time: edges, spans and peaks of functions whose answers are known."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import given
from hypothesis import strategies as st

from propagation.base.search import crossings, sample_times, spans
from propagation.base.units import FloatArray, TimeArray

START = np.datetime64("2026-03-01T00:00:00", "s")
END = START + np.timedelta64(1, "D")
SECOND = np.timedelta64(1, "s")


def hours(times: TimeArray) -> FloatArray:
    return np.asarray((times - START) / np.timedelta64(1, "h"), dtype=np.float64)


def at(hour: float) -> np.datetime64:
    return START + np.timedelta64(round(hour * 3600.0), "s")


def wave(times: TimeArray) -> FloatArray:
    """Positive from 6 to 18 h, greatest at 12 h."""
    return -np.cos(2.0 * np.pi * hours(times) / 24.0)


def test_sample_times_end_on_the_end() -> None:
    times = sample_times(START, START + np.timedelta64(25, "m"), np.timedelta64(10, "m"))
    assert (times - START).astype(int).tolist() == [0, 600, 1200, 1500]
    assert sample_times(START, START).tolist() == [START.item()]
    assert times.dtype == np.dtype("datetime64[s]")


@pytest.mark.parametrize(("end", "step"), [(START - SECOND, SECOND), (END, 0 * SECOND), (END, -SECOND)])
def test_sample_times_refuses_nonsense(end: np.datetime64, step: np.timedelta64) -> None:
    with pytest.raises(ValueError, match="a search needs"):
        sample_times(START, end, step)


def test_crossings_of_a_wave() -> None:
    found = crossings(wave, START, END, tolerance=SECOND)
    assert found.rising.tolist() == [True, False]
    assert np.all(np.abs(found.times - np.array([at(6), at(18)])) <= SECOND)
    assert np.all(wave(found.times) > 0.0)  # each on the open side of its edge


def test_every_halving_is_one_call() -> None:
    calls = 0

    def f(times: TimeArray) -> FloatArray:
        nonlocal calls
        calls += 1
        return np.sin(2.0 * np.pi * hours(times) / 3.0 + 0.1)

    found = crossings(f, START, END, np.timedelta64(10, "m"), np.timedelta64(10, "s"))
    assert found.times.size == 16
    assert calls == 1 + 6  # the samples, then 600 s halved six times is below 10 s


def test_tolerance_is_kept() -> None:
    for tolerance in (1, 10, 60):
        found = crossings(wave, START, END, tolerance=np.timedelta64(tolerance, "s"))
        assert np.all(np.abs(found.times - np.array([at(6), at(18)])) <= np.timedelta64(tolerance, "s"))


def test_spans_of_a_wave() -> None:
    (span,) = spans(wave, START, END, np.timedelta64(47, "m"), SECOND)
    assert abs(span.start - at(6)) <= SECOND
    assert abs(span.end - at(18)) <= SECOND
    assert abs(span.peak_time - at(12)) <= np.timedelta64(60, "s")  # the top is flat: 1 - 1e-5 at a minute
    np.testing.assert_allclose(span.peak, 1.0, atol=1e-7)
    assert span.opens
    assert span.closes


def test_spans_cut_by_the_search() -> None:
    first, last = spans(lambda t: -wave(t), START, END)
    assert (first.start, first.opens, first.closes) == (START, False, True)
    assert (last.end, last.opens, last.closes) == (END, True, False)
    assert first.peak_time == START
    assert last.peak_time == END


@pytest.mark.parametrize("value", [0.0, -1.0, np.nan])
def test_nothing_open(value: float) -> None:
    assert spans(lambda t: np.full(t.shape, value), START, END) == []
    assert crossings(lambda t: np.full(t.shape, value), START, END).times.size == 0


def test_always_open() -> None:
    (span,) = spans(lambda t: np.ones(t.shape), START, END)
    assert (span.start, span.end, span.opens, span.closes) == (START, END, False, False)


def test_booleans_and_nan_are_taken() -> None:
    (span,) = spans(lambda t: (hours(t) > 5.0) & (hours(t) < 7.5), START, END, tolerance=SECOND)
    assert abs(span.start - at(5)) <= SECOND
    assert abs(span.end - at(7.5)) <= SECOND
    (span,) = spans(lambda t: np.where(hours(t) < 4.0, np.nan, 10.0 - hours(t)), START, END, tolerance=SECOND)
    assert abs(span.start - at(4)) <= SECOND
    assert abs(span.end - at(10)) <= SECOND
    np.testing.assert_allclose(span.peak, 6.0, atol=1.0 / 3600.0)


def test_peak_between_samples_is_found() -> None:
    """A narrow top, seen by one sample on its flank only."""
    (span,) = spans(lambda t: 1.0 - np.abs(hours(t) - 9.37), START, END, np.timedelta64(1, "h"), SECOND)
    assert abs(span.peak_time - at(9.37)) <= 2 * SECOND
    assert span.peak > 0.999


@given(st.lists(st.integers(10, 200), min_size=1, max_size=12), st.integers(1, 60))
def test_spans_of_any_square_wave(minutes: list[int], tolerance: int) -> None:
    """Turns at least a step apart are all found, and each span is open from its start to its end."""
    turns = START + np.cumsum(minutes) * np.timedelta64(1, "m") + np.timedelta64(1, "s")

    def f(times: TimeArray) -> npt.NDArray[Any]:
        return np.searchsorted(turns, times, side="right") % 2 == 1

    end = turns[-1] + np.timedelta64(1, "h")
    found = spans(f, START, end, np.timedelta64(10, "m"), np.timedelta64(tolerance, "s"))
    assert len(found) == (len(minutes) + 1) // 2
    for span, opening in zip(found, turns[::2], strict=True):
        assert abs(span.start - opening) <= np.timedelta64(tolerance, "s")
        assert f(np.array([span.start, span.end])).all()
