"""What every test stands on: a fixed clock, an empty home, the program as a function, and a station."""

from __future__ import annotations

import json
import os
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

# Before numpy is loaded: a thread for each core in each worker would only wait for the others. With one
# thread, tests of antennas and forecasts take 30 % less processor time. A number that is given already stays.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np
import pytest
from hypothesis import settings

from propagation.wording import quantities as say
from tui import cli
from tui.app import clock

if TYPE_CHECKING:  # the fixtures import the engine themselves: a test of one room should not load them all
    from propagation.station.station import Station
    from propagation.station.terminals import Terminals

# No test depends on how fast the machine is (no deadline), nor on luck: the same examples at every run. With
# --hypothesis-profile=fresh, as in the long attack (tests/attack.py), they are new ones each time.
settings.register_profile("fixed", deadline=None, derandomize=True, database=None)
settings.register_profile("fresh", deadline=None, derandomize=False, database=None, print_blob=True)
settings.load_profile("fixed")

NOW = "2026-03-20T12:00Z"
ROOT = Path(__file__).resolve().parent.parent


@dataclass(frozen=True)
class Answer:
    """What a command left behind."""

    code: int
    out: str
    err: str

    @property
    def json(self) -> Any:
        """Standard output as JSON; NaN and Infinity are refused."""

        def refuse(word: str) -> None:
            raise AssertionError(f"{word} in JSON")

        return json.loads(self.out, parse_constant=refuse)


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: Any) -> Any:
    """Several workers each take a stretch of the tests, and steal from the longest at the end: what a file's
    tests share is made on one worker, not on all of them.
    """
    from xdist.scheduler import WorkStealingScheduling

    return WorkStealingScheduling(config, log) if config.getvalue("dist") == "load" else None


@pytest.fixture(autouse=True)
def _own_world(tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """No test sees the real home, the real clock or the terminal's settings."""
    monkeypatch.setenv("BANDWHEN_HOME", str(tmp_path_factory.mktemp("home")))
    monkeypatch.setenv("BANDWHEN_NOW", NOW)
    monkeypatch.delenv("NO_COLOR", raising=False)
    yield
    clock.set_now(None)
    say.set_clock_face(say.ClockFace())


@pytest.fixture
def home() -> Path:
    """The folder everything is kept under in this test."""
    return Path(os.environ["BANDWHEN_HOME"])


@pytest.fixture
def bandwhen(capsys: pytest.CaptureFixture[str]) -> Callable[..., Answer]:
    """The program in this process: `bandwhen("sky", "--at", "KG40")`."""

    def run(*arguments: str) -> Answer:
        capsys.readouterr()
        code = cli.main(arguments)
        captured = capsys.readouterr()
        return Answer(code, captured.out, captured.err)

    return run


@pytest.fixture
def now() -> np.datetime64:
    """The time every test runs at."""
    return clock.parse_time(NOW)


@pytest.fixture
def short_season(monkeypatch: pytest.MonkeyPatch) -> None:
    """Two months on the page of the season: for tests of every page, in which twelve take the most time."""
    from propagation.advice.season import months_ahead

    monkeypatch.setattr("tui.features.season.answer.months_ahead", lambda start: months_ahead(start, 2))


@pytest.fixture(scope="session")
def demo() -> Station:
    """The demo's station."""
    import worlds

    return worlds.demo()


@pytest.fixture(scope="module")
def own(request: pytest.FixtureRequest) -> Station:
    """The station file a module calls HERE; the demo's station where it has none."""
    import worlds

    from propagation.station import station

    text = getattr(request.module, "HERE", None)
    return worlds.demo() if text is None else station.loads(text)


@pytest.fixture(scope="module")
def terminals(own: Station) -> Terminals:
    """Both terminals of that station's contacts; made once a module, since solving antennas takes longest."""
    from propagation.station.terminals import Terminals, far_terminal, own_terminal

    return Terminals(own_terminal(own), far_terminal(own.far_end))
