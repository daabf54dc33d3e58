"""The memory of solved antennas: what is remembered, kept as bytes and taken back is what was worked out."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pytest

from propagation.antennas import solution_cache
from propagation.antennas.factory import build
from propagation.antennas.solution import Solution
from propagation.antennas.spec import AntennaSpec, FeedlineSpec, Measurement
from propagation.geo.ground import GROUNDS

WHIP = AntennaSpec(kind="loaded vertical", radiator_m=2.5)


@pytest.fixture(autouse=True)
def _empty() -> Iterator[None]:
    solution_cache.forget()
    yield
    solution_cache.forget()


def test_the_same_antenna_is_worked_out_once() -> None:
    first = build(WHIP).solution(14.2)
    again = build(WHIP).solution(14.2)
    assert first is again
    assert build(WHIP, GROUNDS["sea"]).solution(14.2) is not first
    assert len(solution_cache.keys()) == 2


@pytest.mark.parametrize("frequency_mhz", [14.2, 28.4])  # tuned by the coil; pushed in
def test_kept_bytes_give_back_every_number(frequency_mhz: float) -> None:
    worked_out = build(WHIP).on(frequency_mhz)
    gain = build(WHIP).gain_dbi(frequency_mhz, np.arange(1.0, 90.0))
    data = solution_cache.dump()
    solution_cache.forget()
    assert solution_cache.restore(data) == 1
    # patterns are kept in single precision: seven digits, far under 0.001 dB
    np.testing.assert_allclose(build(WHIP).gain_dbi(frequency_mhz, np.arange(1.0, 90.0)), gain, atol=1e-4)
    restored = build(WHIP).on(frequency_mhz)
    for name, value in vars(worked_out).items():
        if isinstance(value, float):
            np.testing.assert_allclose(getattr(restored, name), value, rtol=1e-6, err_msg=name)
        elif not isinstance(value, dict):
            assert getattr(restored, name) == value, name


def test_width_and_mirror_are_kept_once_they_are_known(monkeypatch: pytest.MonkeyPatch) -> None:
    build(WHIP).solution(14.2)
    bare = solution_cache.keys()
    first = build(WHIP).on(14.2)  # asks for both
    assert solution_cache.keys() - bare, "what has become known is new, so that it is kept"
    data = solution_cache.dump()
    solution_cache.forget()
    assert solution_cache.restore(data) == 1

    def again(*_: object) -> Solution:
        raise AssertionError("worked out again")

    monkeypatch.setattr(solution_cache, "_anew", again)
    restored = build(WHIP).on(14.2)
    assert restored.swr_1p5_khz == first.swr_1p5_khz
    assert restored.swr_2_khz == first.swr_2_khz


def test_what_was_not_asked_for_is_worked_out_after_it_was_kept() -> None:
    build(WHIP).solution(14.2)
    data = solution_cache.dump()
    worked_out = build(WHIP).on(14.2)
    solution_cache.forget()
    assert solution_cache.restore(data) == 1
    assert build(WHIP).on(14.2).swr_2_khz == pytest.approx(worked_out.swr_2_khz, rel=1e-6)


def test_the_line_decides_only_for_verticals() -> None:
    for spec, count in ((WHIP, 2), (AntennaSpec(kind="dipole"), 1)):
        solution_cache.forget()
        for length_m in (5.0, 20.0):
            build(spec, feedline=FeedlineSpec(length_m=length_m)).solution(28.4)
        assert len(solution_cache.keys()) == count


def test_a_measurement_changes_the_answer_and_not_what_is_kept() -> None:
    bare = build(WHIP).solution(14.2)
    told = AntennaSpec(kind="loaded vertical", radiator_m=2.5, measured=(Measurement(14.2, 41.0),))
    assert build(told).solution(14.2).efficiency < bare.efficiency
    assert len(solution_cache.keys()) == 1


@pytest.mark.parametrize("cut", [0, 10, 200, -1])
def test_damaged_bytes_give_nothing(cut: int) -> None:
    build(WHIP).solution(14.2)
    data = solution_cache.dump()
    solution_cache.forget()
    assert solution_cache.restore(data[:cut]) == 0
    assert solution_cache.keys() == frozenset()


def test_bytes_of_another_solver_are_ignored(monkeypatch: pytest.MonkeyPatch) -> None:
    build(WHIP).solution(14.2)
    data = solution_cache.dump()
    solution_cache.forget()
    monkeypatch.setattr(solution_cache, "SOLVER_VERSION", solution_cache.SOLVER_VERSION + 1)
    assert solution_cache.restore(data) == 0


def test_the_memory_is_bounded(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(solution_cache, "MOST_KEPT", 3)
    for frequency in (7.1, 10.1, 14.1, 18.1, 21.1):
        build(AntennaSpec(kind="isotropic")).solution(frequency)
    assert len(solution_cache.keys()) == 3
