"""What all screens share: the choice the forecast depends on, the cursor, and the latest results."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from tui.views import BenchView, DayView, HopView, PlanView, ReachView, SkedView, SkyView, WhyView


@dataclass(frozen=True, slots=True)
class Choice:
    """Everything the day's forecast depends on; two equal choices give the same day."""

    station: str  # path of the station file, or "" for the saved one or the demo
    target: str
    start: np.datetime64  # [s] the first moment of the 24 hours on the screen
    mode: str
    power_w: float
    sky: int = 0  # counts up whenever the conditions change
    bench: int = 0  # counts up whenever the station file or its readings change


@dataclass(frozen=True, slots=True)
class Cursor:
    """Where one looks: a moment, a band, a way round."""

    time: np.datetime64  # [s]
    band: str
    long: bool = False


@dataclass(frozen=True, slots=True)
class PlanWish:
    """Hours and people for the switching plan."""

    start: np.datetime64  # [s]
    hours: float
    target: str = "anyone"
    dead: tuple[tuple[str, np.datetime64], ...] = ()  # (band, when it was found dead)


@dataclass(frozen=True, slots=True)
class StationCard:
    """One station on file."""

    path: str  # "" for the demo
    name: str
    place: str
    demo: bool = False


@dataclass(frozen=True, slots=True)
class FriendCard:
    """One friend on file."""

    name: str
    place: str
    zone: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True)
class Opening:
    """What the first screen needs before any forecast: who, where, and what can be chosen."""

    station: StationCard
    stations: tuple[StationCard, ...]
    friends: tuple[FriendCard, ...]
    target: str
    targets: tuple[str, ...]  # offered in the palette
    modes: tuple[str, ...]
    bands: tuple[str, ...]
    mode: str
    power_w: float
    note: str = ""  # a sentence where something on file could not be used


@dataclass(slots=True)
class Shared:
    """The latest of everything; only the app writes here."""

    opening: Opening | None = None
    choice: Choice | None = None
    cursor: Cursor | None = None
    now: np.datetime64 = field(default_factory=lambda: np.datetime64("2000-01-01", "s"))
    day: DayView | None = None
    day_result: Any = None  # the engine's own result, handed back to the desk unopened
    hop: HopView | None = None
    why: WhyView | None = None
    reach: ReachView | None = None
    bench: BenchView | None = None
    sky: SkyView | None = None
    plan: PlanView | None = None
    plan_wish: PlanWish | None = None
    sked: SkedView | None = None
    busy: frozenset[str] = frozenset()
    notice: str = ""  # one sentence for the operator
    fault: str = ""  # the work that failed, while the notice speaks of it

    @property
    def planned_day(self) -> DayView | None:
        """The day with the stays of the plan marked on it."""
        if self.day is None or self.plan is None:
            return self.day
        from tui.views import Stay

        stays = tuple(Stay(step.band, step.start, step.end) for step in self.plan.steps)
        return replace(self.day, plan=stays)

    @property
    def time_index(self) -> int:
        """The cursor's column in the day."""
        return self.day.index_of(self.cursor.time) if self.day is not None and self.cursor is not None else 0

    @property
    def band_index(self) -> int:
        """The cursor's band in the day."""
        if self.day is None or self.cursor is None or self.cursor.band not in self.day.bands:
            return 0
        return self.day.bands.index(self.cursor.band)
