"""`bandwhen why`: why a band is open or quiet at an hour: the ledger, the causes, what would change it."""

from __future__ import annotations

import argparse
import textwrap
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from tui import clock
from tui import format as fmt
from tui.commands import asked, common

if TYPE_CHECKING:
    from propagation.advice.changes import Change
    from propagation.advice.ledger import Ledger, Term
    from propagation.advice.near_far import NearFar
    from propagation.advice.reasons import Reasons, Weighted
    from propagation.causes import Cause
    from propagation.forecast import Forecast

WIDTH: Final = 100  # columns of the text
BAR: Final = 20  # signs of a cause's bar at full weight


def add_parser(subparsers: Any) -> None:
    """Describe the command's options."""
    parser = subparsers.add_parser(
        "why",
        help="why a band is open or quiet at an hour",
        description="The gains and losses from the rig's power to what the mode needs, the causes by weight, "
        "and what would change it. Each cause is measured by taking it away.",
    )
    asked.add_arguments(parser)
    parser.add_argument("--band", required=True, metavar="BAND", help="as 20m")
    parser.add_argument("--at", default="now", metavar="T", help="UTC, as 2026-03-20T12:00Z (default: now)")


def run(args: argparse.Namespace) -> int:
    """Compute and print."""
    from propagation import bands
    from propagation.advice.cells import Ends
    from propagation.advice.changes import changes
    from propagation.advice.ledger import ledger
    from propagation.advice.near_far import near_and_far
    from propagation.advice.reasons import reasons
    from propagation.causes import CAUSES
    from propagation.forecast import day_times

    band = bands.by_name(args.band)
    time = clock.parse_time(args.at)
    question = asked.ask(args, day_times(time, 24.0))
    result = asked.forecast_of(question)
    ends = Ends(result_end(question, result), question.far)
    index = result.band_index(band.name)
    why = reasons(result, ends, index, 0)
    point, route = int(result.best_point[0, index]), int(result.route[0, index])
    account = ledger(result, ends, point, route, index, time)
    better = changes(result, ends, index, 0)
    distances = near_and_far(result, ends, index, 0)
    usable = bool(result.usable[index])
    chance = float(result.region_chance[0, index]) if usable else 0.0
    limit: Cause = why.limit if usable else CAUSES[int(result.unusable_cause[index])]
    told = _Told(result, index, time, chance, limit, point, route, why, account, better, distances)
    common.answer(args, told.data(), told.text(), told.plain())
    return 0


def result_end(question: asked.Asked, result: Forecast) -> Any:
    """The near end with the power the forecast was made with."""
    from dataclasses import replace

    return replace(question.near, power_w=result.power_w)


class _Told:
    """The answer in its three forms."""

    def __init__(
        self,
        result: Forecast,
        band: int,
        time: np.datetime64,
        chance: float,
        limit: Cause,
        point: int,
        route: int,
        why: Reasons,
        account: Ledger,
        better: tuple[Change, ...],
        distances: NearFar,
    ) -> None:
        self.result, self.band, self.time = result, band, time
        self.chance, self.limit = chance, limit
        self.point, self.route = point, route
        self.why, self.account, self.better, self.distances = why, account, better, distances

    def data(self) -> dict[str, Any]:
        """As JSON."""
        from propagation.forecast import ROUTES

        result, account = self.result, self.account
        return {
            "band": result.bands[self.band].name,
            "frequency_mhz": float(result.frequency_mhz[self.band]),
            "time": self.time,
            "target": result.target.name,
            "place": result.target.labels[self.point],
            "mode": result.mode.name,
            "power_w": result.power_w,
            "chance": self.chance,
            "limit": self.limit,
            "route": ROUTES[self.route],
            "way": account.way,
            "elevation_deg": account.elevation_deg,
            "direction": account.direction,
            "margin_db": account.margin_db,
            "ledger": [{"term": term.name, "db": term.db, "note": term.note} for term in account.terms],
            "causes": [
                {"cause": row.cause, "weight": row.weight, "chance_without": row.alone}
                for row in self.why.causes
            ],
            "changes": [
                {
                    "change": row.change,
                    "chance": row.chance,
                    "kind": row.kind,
                    "time": row.time,
                    "band": row.band,
                }
                for row in self.better
            ],
            "by_distance": {
                "text": self.distances.text,
                "gap_km": self.distances.gap_km,
                "near_to_km": self.distances.near_to_km,
                "far_to_km": self.distances.far_to_km,
            },
            "conditions": result.conditions.as_dict(self.time, clock.now()),
        }

    def heading(self) -> str:
        """What is asked about."""
        result = self.result
        name = result.bands[self.band].name
        return (
            f"{name} to {result.target.name}, {fmt.day_month(self.time)}, {fmt.hour_minute(self.time)} UTC; "
            f"{result.mode.name}, {result.power_w:g} W"
        )

    def verdict(self) -> str:
        """The chance and what limits it."""
        from propagation.advice.phrases import reached

        chance = reached(self.chance, self.result.target.size > 1)
        if self.limit == "open":
            return f"Open: {chance}"
        return f"Chance: {chance}; what limits it most: {self.limit}"

    def way(self) -> str:
        """The way spoken of and its margin."""
        from propagation.advice.windows import way_sentence
        from propagation.forecast import ROUTES

        account = self.account
        angle = account.elevation_deg if np.isfinite(account.elevation_deg) else None
        way = way_sentence(account.way, ROUTES[self.route], angle)
        where = self.result.target.labels[self.point]
        over = "over" if account.margin_db >= 0.0 else "under"
        return (
            f"The weaker direction, {account.direction}, {way} ({where}): the median signal is "
            f"{abs(account.margin_db):.1f} dB {over} what {self.result.mode.name} needs"
        )

    def terms(self) -> list[Term]:
        """The terms worth a line: those that do not round to nothing."""
        return [term for term in self.account.terms if abs(term.db) >= 0.05]

    def causes(self) -> list[Weighted]:
        """The causes worth a line."""
        return [row for row in self.why.causes if row.weight >= 0.005]

    def text(self) -> str:
        """For people."""
        lines = [*_wrap(self.heading()), *_wrap(self.verdict()), *_wrap(self.conditions()), ""]
        lines += _wrap(self.way())
        rows = [[f"  {term.name}", f"{term.db:+.1f}", term.note] for term in self.terms()]
        rows.append(["  margin", f"{self.account.margin_db:+.1f}", "dB"])
        wide = max(len(row[0]) for row in rows)
        lines += [f"{name:<{wide}}  {db:>7}  {note}".rstrip() for name, db, note in rows]
        lines += ["", "Causes by weight, and the chance if that one were harmless:"]
        for cause in self.causes():
            bar, share = "█" * round(cause.weight * BAR), fmt.percent(cause.weight)
            lines.append(f"  {cause.cause:<14} {share:>5}  {bar:<{BAR}}  {fmt.percent(cause.alone)}")
        lines += ["", "What would change it:"]
        lines += [f"  {fmt.percent(row.chance):>5}  {row.change}" for row in self.better]
        if not self.better:
            lines.append("  nothing that was tried")
        lines += ["", *_wrap(self.distances.text)]
        return "\n".join(lines)

    def plain(self) -> str:
        """As plain lines."""
        lines = [f"{self.heading()}.", f"{self.verdict()}.", f"{self.way()}."]
        lines += [
            f"{term.name}: {term.db:+.1f} dB{f' ({term.note})' if term.note else ''}."
            for term in self.terms()
        ]
        lines.append(f"Margin: {self.account.margin_db:+.1f} dB.")
        lines += [
            f"Cause: {row.cause}, weight {fmt.percent(row.weight)}; "
            f"were it harmless: {fmt.percent(row.alone)} of days."
            for row in self.causes()
        ]
        lines += [f"With {row.change}: {fmt.percent(row.chance)} of days." for row in self.better]
        lines += [self.distances.text, f"{self.conditions()}."]
        return "\n".join(lines)

    def conditions(self) -> str:
        """The state of the sun and the field."""
        return f"Conditions: {common.conditions_words(self.result.conditions, self.time)}"


def _wrap(text: str) -> list[str]:
    return textwrap.wrap(text, WIDTH)
