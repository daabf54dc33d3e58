"""Everything the screens may ask of the engine, as one interface; each question is put in a background
thread.

`tui.presenter` answers it from the engine. Tests put another desk in its place.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any, Protocol

import numpy as np

from tui.jobs import Cancelled
from tui.state import Choice, Cursor, FriendCard, Opening, PlanWish

if TYPE_CHECKING:
    from tui.views import (
        BenchView,
        DayView,
        FormField,
        HopView,
        PlanView,
        ReachView,
        ReadingView,
        SkedView,
        SkyView,
        WhyView,
    )


class Desk(Protocol):
    """Questions and answers."""

    def open(self, station: str, target: str) -> Opening:
        """Read the station and the lists; quick, no forecast."""

    def day(self, choice: Choice, cancelled: Cancelled) -> tuple[DayView, Any]:
        """The day on every band, and the engine's result to be handed back."""

    def hop(self, result: Any, cursor: Cursor) -> HopView | None:
        """The cross-section at the cursor, from what the day kept; quick."""

    def why(self, choice: Choice, result: Any, cursor: Cursor, cancelled: Cancelled) -> WhyView:
        """Ledger, causes, changes."""

    def rulers(self, choice: Choice, result: Any, cursor: Cursor, cancelled: Cancelled) -> ReachView:
        """The rulers and the chart without its footprint; quick."""

    def footprint(
        self, choice: Choice, result: Any, reach: ReachView, cursor: Cursor, cancelled: Cancelled
    ) -> ReachView:
        """The same with the footprint filled in."""

    def bench(self, choice: Choice, cancelled: Cancelled) -> BenchView:
        """The antenna on every band."""

    def helps(self, choice: Choice, bench: BenchView, cancelled: Cancelled) -> BenchView:
        """The bench with what single changes would bring; takes a second or two."""

    def measure(self, choice: Choice, band: str, entries: Mapping[str, str]) -> ReadingView:
        """What analyser readings say; quick enough to follow the typing."""

    def reading_fields(self, choice: Choice, band: str) -> Sequence[FormField]:
        """What to ask for at the analyser."""

    def touchstone(self, choice: Choice, band: str, file: str) -> ReadingView:
        """The same from a Touchstone file."""

    def keep_measure(self, choice: Choice, band: str, entries: Mapping[str, str]) -> str:
        """Store readings with the station; a sentence says so."""

    def sky(self, choice: Choice, now: np.datetime64) -> SkyView:
        """The conditions in use."""

    def fetch(self, choice: Choice, now: np.datetime64, cancelled: Cancelled) -> str:
        """Get the space weather; a sentence says what came."""

    def sky_fields(self, now: np.datetime64) -> Sequence[FormField]:
        """What can be typed in about the sun and the field."""

    def check_sky(self, entries: Mapping[str, str], now: np.datetime64) -> str:
        """A sentence where what is typed in cannot be used."""

    def type_in(self, entries: Mapping[str, str], now: np.datetime64) -> str:
        """Set conditions by hand; empty entries give them up again."""

    def heard(
        self, choice: Choice, entries: Mapping[str, str], now: np.datetime64, cancelled: Cancelled
    ) -> str:
        """Take what was heard, or not, on a band."""

    def beacons(self, choice: Choice, now: np.datetime64) -> Sequence[tuple[str, str]]:
        """The beacons on the air now: (key, words)."""

    def beacon_heard(self, choice: Choice, key: str, was_heard: bool, now: np.datetime64) -> str:
        """Take a beacon as heard, or not; a sentence says what it does."""

    def plan(self, choice: Choice, wish: PlanWish, cancelled: Cancelled) -> PlanView:
        """The switching plan."""

    def sked(self, choice: Choice, cancelled: Cancelled) -> SkedView:
        """Appointments with the target."""

    def export(self, kind: str, view: object) -> str:
        """Write a plan or an appointment to a file; a sentence names it."""

    def suggest(self, prefix: str, limit: int = 8) -> list[str]:
        """Names a target could become."""

    def check_target(self, text: str) -> str:
        """A sentence where a target is not understood; empty where it is."""

    def form(self, path: str) -> Sequence[FormField]:
        """The lines of a station's form; an empty path gives those of a new one."""

    def check_form(self, entries: Mapping[str, str]) -> str:
        """A sentence where the form is not yet right; empty where it is."""

    def save_form(self, entries: Mapping[str, str], path: str) -> str:
        """Save a station; returns the path it stands under."""

    def save_friend(self, friend: FriendCard) -> str:
        """Add or change a friend; a sentence says so."""

    def forget_friend(self, name: str) -> str:
        """Take a friend off the list; a sentence says so."""
