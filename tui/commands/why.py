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
    from propagation.advice.ledger import Term
    from propagation.advice.reasons import Weighted
    from propagation.advice.why import Why
    from propagation.signal.forecast import Forecast

WIDTH: Final = 100  # columns of the text
BAR: Final = 20  # signs of a cause's bar at full weight
LEAST_DB: Final = 0.05  # dB, a term that rounds to nothing has no line
LEAST_WEIGHT: Final = 0.005  # a cause of less weight has no line


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
    from dataclasses import replace

    from propagation.advice.cells import Ends
    from propagation.advice.why import why
    from propagation.signal.forecast import day_times
    from propagation.spectrum import bands

    band = bands.by_name(args.band)
    time = clock.parse_time(args.at)
    question = asked.ask(args, day_times(time, 24.0))
    result = asked.forecast_of(question)
    ends = Ends(replace(question.near, power_w=result.power_w), question.far)
    found = why(result, ends, result.band_index(band.name), 0)
    lesson = [asked.LEARNT] if question.learnt else []
    data = _data(result, found) | {"learnt": question.learnt}
    text = "\n".join([_text(result, found), *lesson])
    common.answer(args, data, text, "\n".join([_plain(result, found), *lesson]))
    return 0


def _data(result: Forecast, found: Why) -> dict[str, Any]:
    account, distances = found.ledger, found.near_far
    return {
        "band": found.band,
        "frequency_mhz": float(result.frequency_mhz[result.band_index(found.band)]),
        "time": found.time,
        "target": found.target,
        "place": found.place,
        "mode": result.mode.name,
        "power_w": result.power_w,
        "chance": found.chance,
        "limit": found.limit,
        "route": found.route,
        "way": account.way,
        "elevation_deg": account.elevation_deg,
        "direction": account.direction,
        "margin_db": account.margin_db,
        "ledger": [{"term": term.name, "db": term.db, "note": term.note} for term in account.terms],
        "causes": [
            {"cause": row.cause, "weight": row.weight, "chance_without": row.alone} for row in found.causes
        ],
        "changes": [
            {"change": row.change, "chance": row.chance, "kind": row.kind, "time": row.time, "band": row.band}
            for row in found.changes
        ],
        "by_distance": None
        if distances is None
        else {
            "text": distances.text,
            "gap_km": distances.gap_km,
            "near_to_km": distances.near_to_km,
            "far_to_km": distances.far_to_km,
        },
        "conditions": result.conditions.as_dict(found.time, clock.now()),
    }


def _heading(result: Forecast, found: Why) -> str:
    return (
        f"{found.band} to {found.target}, {fmt.day_month(found.time)}, {fmt.hour_minute(found.time)} UTC; "
        f"{result.mode.name}, {result.power_w:g} W"
    )


def _verdict(found: Why) -> str:
    from propagation.advice.phrases import reached

    chance = reached(found.chance, found.region)
    if found.limit == "open":
        return f"Open: {chance}"
    return f"Chance: {chance}; what limits it most: {found.limit}"


def _way(result: Forecast, found: Why) -> str:
    from propagation.advice.windows import way_sentence

    account = found.ledger
    angle = account.elevation_deg if np.isfinite(account.elevation_deg) else None
    over = "over" if account.margin_db >= 0.0 else "under"
    return (
        f"The weaker direction, {account.direction}, {way_sentence(account.way, found.route, angle)} "
        f"({found.place}): the median signal is {abs(account.margin_db):.1f} dB {over} what "
        f"{result.mode.name} needs"
    )


def _conditions(result: Forecast, found: Why) -> str:
    return f"Conditions: {common.conditions_words(result.conditions, found.time)}"


def _terms(found: Why) -> list[Term]:
    return [term for term in found.ledger.terms if abs(term.db) >= LEAST_DB]


def _causes(found: Why) -> list[Weighted]:
    return [row for row in found.causes if row.weight >= LEAST_WEIGHT]


def _text(result: Forecast, found: Why) -> str:
    from propagation.advice.why import why_sentences

    lines = [*_wrap(_heading(result, found)), *_wrap(_verdict(found)), *_wrap(_conditions(result, found)), ""]
    lines += _wrap(_way(result, found))
    rows = [[f"  {term.name}", f"{term.db:+.1f}", term.note] for term in _terms(found)]
    rows.append(["  margin", f"{found.ledger.margin_db:+.1f}", "dB"])
    wide = max(len(row[0]) for row in rows)
    lines += [f"{name:<{wide}}  {db:>7}  {note}".rstrip() for name, db, note in rows]
    lines += ["", "Causes by weight, and the chance if that one were harmless:"]
    for cause in _causes(found):
        bar, share = "█" * round(cause.weight * BAR), fmt.percent(cause.weight)
        lines.append(f"  {cause.cause:<14} {share:>5}  {bar:<{BAR}}  {fmt.percent(cause.alone)}")
    lines += ["", "What would change it:"]
    lines += [f"  {fmt.percent(row.chance):>5}  {row.change}" for row in found.changes]
    if not found.changes:
        lines.append("  nothing that was tried")
    lines += ["", *_wrap(" ".join(why_sentences(found)[1:2])), ""]
    lines += _wrap(found.near_far.text) if found.near_far is not None else []
    return "\n".join(lines).rstrip()


def _plain(result: Forecast, found: Why) -> str:
    from propagation.advice.why import why_sentences

    lines = [f"{_heading(result, found)}.", f"{_verdict(found)}.", f"{_way(result, found)}."]
    lines += [
        f"{term.name}: {term.db:+.1f} dB{f' ({term.note})' if term.note else ''}." for term in _terms(found)
    ]
    lines.append(f"Margin: {found.ledger.margin_db:+.1f} dB.")
    lines += [
        f"Cause: {row.cause}, weight {fmt.percent(row.weight)}; "
        f"were it harmless: {fmt.percent(row.alone)} of days."
        for row in _causes(found)
    ]
    lines += [f"With {row.change}: {fmt.percent(row.chance)} of days." for row in found.changes]
    lines += why_sentences(found)[1:]
    return "\n".join([*lines, f"{_conditions(result, found)}."])


def _wrap(text: str) -> list[str]:
    return textwrap.wrap(text, WIDTH)
