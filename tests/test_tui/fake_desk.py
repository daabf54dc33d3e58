"""A desk that answers with made-up results at once, or late, or with a fault: for tests of the screens
alone.
"""

from __future__ import annotations

import time
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import synthetic

from propagation.base.errors import InputError
from tui.choice import Choice, Cursor, FriendCard, HoursOnAir, Opening, StationCard
from tui.jobs import Cancelled
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


class FakeDesk:
    """Every answer made up; `fail` names the questions that end in a fault, `slow_s` delays the forecast."""

    def __init__(
        self, *, fail: tuple[str, ...] = (), slow_s: float = 0.0, site: str = "demo ridge", demo: bool = True
    ) -> None:
        self.fail, self.slow_s, self.site, self.demo = fail, slow_s, site, demo
        self.asked: list[str] = []
        self.saved: list[dict[str, str]] = []

    def _asked(self, what: str) -> None:
        self.asked.append(what)
        if what in self.fail:
            raise RuntimeError(f"made to fail: {what} [/red]")

    def open(self, station: str, target: str) -> Opening:
        self._asked("opening")
        card = StationCard(station, self.site, "KG40rs", self.demo)
        return Opening(
            card,
            (card, StationCard("/tmp/other.toml", "garden [/b]", "GF25")),
            (FriendCard("Uruguay", "GF25", "America/Montevideo", "100 W and a wire"),),
            target or "Uruguay",
            ("Europe", "anyone"),
            ("SSB", "CW", "FM", "DIGITAL"),
            synthetic.BANDS,
            "SSB",
            20.0,
        )

    def day(self, choice: Choice, cancelled: Cancelled) -> tuple[DayView, Any]:
        self._asked("day")
        if self.slow_s:
            time.sleep(self.slow_s)
        view = synthetic.day_view(choice.target)
        shift = choice.start - synthetic.DAY
        return replace(view, site=self.site, demo=self.demo, times=view.times + shift, plan=()), choice

    def hop(self, result: Any, cursor: Cursor) -> HopView | None:
        self._asked("hop")
        return synthetic.hop_view(cursor.band, cursor.time)

    def why(self, choice: Choice, result: Any, cursor: Cursor, cancelled: Cancelled) -> WhyView:
        self._asked("why")
        return synthetic.why_view(cursor.band, cursor.time)

    def rulers(self, choice: Choice, result: Any, cursor: Cursor, cancelled: Cancelled) -> ReachView:
        self._asked("rulers")
        view = synthetic.reach_view(cursor.time, cursor.band)
        return replace(view, map=replace(view.map, share=None))

    def footprint(
        self, choice: Choice, result: Any, reach: ReachView, cursor: Cursor, cancelled: Cancelled
    ) -> ReachView:
        self._asked("footprint")
        return synthetic.reach_view(cursor.time, cursor.band)

    def bench(self, choice: Choice, cancelled: Cancelled) -> BenchView:
        self._asked("bench")
        return synthetic.bench_view()

    def helps(self, choice: Choice, bench: BenchView, cancelled: Cancelled) -> BenchView:
        self._asked("helps")
        return bench

    def reading_fields(self, choice: Choice, band: str) -> Sequence[FormField]:
        return (
            FormField("dip", "Frequency of the dip", "14.2", "MHz"),
            FormField("swr", "SWR at the dip", "1.2"),
        )

    def measure(self, choice: Choice, band: str, entries: Mapping[str, str]) -> ReadingView:
        if not entries["dip"]:
            raise InputError("The dip needs a frequency.")
        return ReadingView(band, (f"At {entries['dip']} MHz the circuit passes 10 per cent.",), 0.1)

    def touchstone(self, choice: Choice, band: str, file: str) -> ReadingView:
        return ReadingView(band, (f"Read {file}.",), 0.1)

    def keep_measure(self, choice: Choice, band: str, entries: Mapping[str, str]) -> str:
        self.saved.append(dict(entries))
        return "Kept."

    def sky(self, choice: Choice, now: np.datetime64) -> SkyView:
        self._asked("sky")
        return synthetic.sky_view()

    def fetch(self, choice: Choice, now: np.datetime64, cancelled: Cancelled) -> str:
        self._asked("fetch")
        return "Fetched 5 of 6 products."

    def sky_fields(self, now: np.datetime64) -> Sequence[FormField]:
        return (FormField("flux", "10.7 cm flux", "", "sfu"), FormField("k", "K", ""))

    def check_sky(self, entries: Mapping[str, str], now: np.datetime64) -> str:
        return ""

    def type_in(self, entries: Mapping[str, str], now: np.datetime64) -> str:
        self.saved.append(dict(entries))
        return "Typed in."

    def heard(
        self, choice: Choice, entries: Mapping[str, str], now: np.datetime64, cancelled: Cancelled
    ) -> str:
        self.saved.append(dict(entries))
        return "Taken."

    def beacons(self, choice: Choice, now: np.datetime64) -> Sequence[tuple[str, str]]:
        return (("20m ridge [x]", "14.100 MHz, bearing 012"), ("15m island", "21.150 MHz, bearing 300"))

    def beacon_heard(self, choice: Choice, key: str, was_heard: bool, now: np.datetime64) -> str:
        self.saved.append({"beacon": key, "heard": str(was_heard)})
        return "Taken."

    def plan(self, choice: Choice, wish: HoursOnAir, cancelled: Cancelled) -> PlanView:
        self._asked("plan")
        return synthetic.plan_view()

    def sked(self, choice: Choice, cancelled: Cancelled) -> SkedView:
        self._asked("sked")
        return synthetic.sked_view()

    def export(self, kind: str, view: object) -> str:
        self._asked("export")
        return f"Written {kind}."

    def suggest(self, prefix: str, limit: int = 8) -> list[str]:
        return [name for name in ("Europe", "Eritrea", "anyone") if name.lower().startswith(prefix.lower())]

    def check_target(self, text: str) -> str:
        return "" if text != "nowhere" else "There is no place called 'nowhere'."

    def form(self, path: str) -> Sequence[FormField]:
        return (
            FormField("site.locator", "Where", "KG40rs", place=True),
            FormField("name", "Name", "my [b] station"),
            FormField(
                "site.ground", "Ground", "average", choices=("sea", "wet", "good", "average", "dry", "city")
            ),
            FormField("rig.power_w", "Power", "20", "W"),
        )

    def check_form(self, entries: Mapping[str, str]) -> str:
        return "" if entries["site.locator"] else "A station needs a place."

    def save_form(self, entries: Mapping[str, str], path: str) -> str:
        self.saved.append(dict(entries))
        return path or "/tmp/mine.toml"

    def save_friend(self, friend: FriendCard) -> str:
        self.saved.append({"name": friend.name})
        return f"{friend.name} is on the list."

    def forget_friend(self, name: str) -> str:
        return f"{name} is off the list."
