"""The demo's antennas, worked out beforehand: the solver's own figures, and all that a first start needs."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pytest

from propagation.antennas import factory, solution_cache
from propagation.data.builders.demo_antennas import FILE, solve
from tui.app import paths, solution_store
from tui.app.choice import Choice
from tui.app.queries import DayQuery, Engine, OpeningQuery

NOW = np.datetime64("2026-03-20T12:00:00", "s")


@pytest.fixture(autouse=True)
def _nothing_in_memory() -> Iterator[None]:
    before = solution_cache.dump()
    solution_cache.forget()
    yield
    solution_cache.forget()
    solution_cache.restore(before)


def test_the_file_holds_what_the_solver_gives() -> None:
    """To the single precision in which patterns are kept; all else to the last digit but rounding."""
    fresh = solve()
    new = dict(solution_cache._MEMORY)
    assert fresh
    solution_cache.forget()
    assert solution_cache.restore(FILE.read_bytes()) == len(new)
    for key, one in new.items():
        kept, made = solution_cache._MEMORY[key].solution, one.solution
        np.testing.assert_allclose(kept.pattern.gain, made.pattern.gain, rtol=1e-6, atol=1e-9)
        assert kept.efficiency == pytest.approx(made.efficiency, rel=1e-9)
        assert (kept.coil_uh is None) is (made.coil_uh is None)
        if made.coil_uh is not None:
            assert kept.coil_uh == pytest.approx(made.coil_uh, rel=1e-9)


@pytest.mark.parametrize("target", ["", "Europe"])
def test_a_first_start_works_out_no_antenna(target: str, monkeypatch: pytest.MonkeyPatch) -> None:
    assert not paths.antennas_file().exists()

    def refuse(*what: object) -> None:
        raise AssertionError(f"solved again: {what}")

    monkeypatch.setattr(factory, "_solve", refuse)
    with solution_store.remembering():
        engine = Engine(lambda: NOW)
        opening = engine.answer(OpeningQuery("", ""), lambda: False)
        choice = Choice(opening.station.path, target or opening.target, NOW, opening.mode, opening.power_w)
        day = engine.answer(DayQuery(choice), lambda: False)
    assert day.view.bands
    assert not paths.antennas_file().exists()  # nothing new to keep
