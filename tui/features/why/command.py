"""`bandwhen why`: causes of an open or a quiet band at an hour: ledger, causes, and helpful changes."""

from __future__ import annotations

import argparse
import textwrap
from dataclasses import asdict
from typing import TYPE_CHECKING, Final

from propagation.wording import quantities as say
from tui.app import clock, command_base, forecast_options
from tui.kit.format import text_width

if TYPE_CHECKING:
    from propagation.advice.cause_weights import Weighted
    from propagation.advice.experience import Experience
    from propagation.advice.ledger import Term
    from propagation.advice.rates import Prospect
    from propagation.advice.why import Based, Explanation
    from propagation.signal.chances.forecast import Forecast
    from tui.app.command_base import Subparsers

BAR: Final = 20  # characters of a cause's bar at full weight
LEFT_COLUMNS: Final = 4  # of the table of hops, left-aligned; figures follow
LEAST_WEIGHT: Final = 0.005  # a cause with less weight has no line


def add_parser(subparsers: Subparsers) -> None:
    """Describe the command's options."""
    parser = subparsers.add_parser(
        "why",
        help="why a band is open or quiet at an hour",
        description="The gains and losses from the rig's power to what the mode needs, the causes by weight, "
        "and what would change it. Each cause is measured by taking it away.",
    )
    forecast_options.add_arguments(parser)
    parser.add_argument("--band", required=True, metavar="BAND", help="as 20m")
    command_base.add_time(parser, "the hour", "--at")
    parser.add_argument(
        "--hops",
        action="store_true",
        help="add a row for each crossing of the D and E layers: place, sun, foE, absorption",
    )


def run(args: argparse.Namespace) -> int:
    """Compute and print the result."""

    from propagation.advice.why import why
    from propagation.signal.chances.forecast import day_times, forecast
    from propagation.spectrum import bands

    band = bands.by_name(args.band)
    time = command_base.time_of(args, args.time)
    question = forecast_options.ask(args, day_times(time, 24.0))
    result = forecast(question)
    found = why(result, question.terminals, result.band_index(band.name), 0)
    lesson = [forecast_options.LEARNT] if question.learnt else []

    def data() -> dict[str, object]:
        hops = {"hops": _hops_data(found)} if args.hops else {}
        return _data(result, found) | {"learnt": question.learnt} | hops

    def text() -> str:
        hops = ["", *_hops_text(found)] if args.hops else []
        return "\n".join([_text(result, found), *hops, *lesson])

    def plain() -> str:
        from propagation.wording.hops import hop_sentences

        hops = hop_sentences(found.crossings, found.ledger.mode) if args.hops else []
        return "\n".join([_plain(result, found), *hops, *lesson])

    command_base.answer(args, data, text, plain)
    return 0


def _data(result: Forecast, found: Explanation) -> dict[str, object]:
    from propagation.wording import why as say_why
    from propagation.wording.why import change_words, near_far_sentence
    from tui.kit.event_data import event_data

    account, distances = found.ledger, found.near_far
    return {
        "band": found.band,
        "frequency_mhz": float(result.frequency_mhz[result.band_index(found.band)]),
        "time": found.time,
        "target": found.target,
        "place": found.place,
        "mode": result.mode.name,
        "power_w": result.power_w,
        **_promised(found.promise),
        "people": None if found.people is None else _people(found.people),
        "limit": found.limit,
        "event": None if found.event is None else event_data(found.event),
        "route": found.route,
        "way": account.mode,
        "elevation_deg": account.elevation_deg,
        "direction": say_why.direction(account),
        "margin_db": account.margin_db,
        "experience": _experience_data(account.experience),
        "ledger": [
            {
                "term": say_why.term_words(term.name, term.end),
                "db": term.db,
                "note": say_why.note(account, term),
                "cause": term.cause,
            }
            for term in account.terms
        ],
        "causes": [
            {
                "cause": row.cause,
                "weight": row.weight,
                "chance_without": row.alone.chance,
                **_rate("rate_without", row.alone),
            }
            for row in found.causes
        ],
        "changes": [
            {
                "change": change_words(row),
                **_promised(row.promise),
                "kind": row.kind,
                "time": row.time,
                "band": row.band,
            }
            for row in found.changes
        ],
        "by_distance": None
        if distances is None
        else {
            "text": near_far_sentence(distances),
            "skip_km": distances.skip_km,
            "gap_km": distances.gap_km,
            "near_to_km": distances.near_to_km,
            "far_to_km": distances.far_to_km,
        },
        "conditions": result.conditions.as_dict(found.time, clock.now()),
    }


def _promised(one: Prospect) -> dict[str, object]:
    return {"chance": one.chance, **_rate("rate_per_hour", one)}


def _rate(key: str, one: Prospect) -> dict[str, object]:
    return {} if one.rate is None else {key: asdict(one.rate)}


def _people(found: Based) -> dict[str, object]:
    """Stations that a region's contacts an hour are based on, and how well they are known."""
    from propagation.advice.activity import ON_AIR_WITHIN, USUAL

    return {
        "on_air": found.on_air,
        "within_a_factor": ON_AIR_WITHIN,
        "in_reach": found.in_reach,
        "answering_in_an_hour": USUAL.answering,
        "first_few_min": found.few[0],
        "first_few_chance": found.few[1],
    }


def _experience_data(found: Experience) -> dict[str, object]:
    """Measured hours of similar paths; meaningless values are null."""
    from propagation.advice.experience import classes
    from propagation.wording.experience import experience_sentence

    all_hours, all_error_db = classes().whole
    return {
        "text": experience_sentence(found),
        "standing": found.standing,
        "hours": found.hours,
        "circuits": found.circuits,
        "error_db": found.error_db,
        "from_km": found.from_km,
        "to_km": found.to_km,
        "from_mhz": found.from_mhz,
        "to_mhz": found.to_mhz,
        "light": "day" if found.day else "night",
        "all_hours": all_hours,
        "all_error_db": all_error_db,
    }


def _hops_data(found: Explanation) -> list[dict[str, object]]:
    return [
        {
            "hop": row.hop,
            "layer": row.layer,
            "way": row.way,
            "distance_km": row.distance_km,
            "lat_deg": row.lat_deg,
            "lon_deg": row.lon_deg,
            "sun_elevation_deg": 90.0 - row.zenith_deg,
            "foe_mhz": row.foe_mhz,
            "absorption_db": row.absorption_db,
            "event_db": row.event_db,
            "ground_reflection_db": row.reflection_db,
        }
        for row in found.crossings
    ]


def _hops_text(found: Explanation) -> list[str]:
    from propagation.wording import hops

    if not found.crossings:
        return [hops.without_hops(found.ledger.mode)]
    rows = hops.table(found.crossings)
    wide = [max(len(row[i]) for row in rows) for i in range(len(rows[0]))]
    lines = [
        "  ".join(
            text.ljust(width) if i < LEFT_COLUMNS else text.rjust(width)
            for i, (text, width) in enumerate(zip(row, wide, strict=True))
        )
        for row in rows
    ]
    return [f"{hops.heading(found.ledger.mode)}:", *(f"  {line}".rstrip() for line in lines)]


def _heading(result: Forecast, found: Explanation) -> str:
    return (
        f"{say.band_title(found.band)} to {found.target}, {say.day_month(found.time)}, "
        f"{say.both_clocks(found.time)}; {result.mode.name}, {say.watts(result.power_w)}"
    )


def _conditions(result: Forecast, found: Explanation) -> str:
    return f"Conditions: {command_base.conditions_words(result.conditions, found.time)}"


def _terms(found: Explanation) -> list[Term]:
    from propagation.wording.why import LEAST_DB

    return [term for term in found.ledger.terms if abs(term.db) >= LEAST_DB]


def _causes(found: Explanation) -> list[Weighted]:
    return [row for row in found.causes if row.weight >= LEAST_WEIGHT]


def _text(result: Forecast, found: Explanation) -> str:
    from propagation.wording import why as say_why
    from propagation.wording.causes import short
    from propagation.wording.experience import error_words, experience_sentence, whole_sentence
    from propagation.wording.quantities import sentence
    from propagation.wording.sky import event_sentence
    from propagation.wording.why import (
        causes_sentence,
        change_words,
        margin_sentence,
        near_far_sentence,
        people_sentences,
        verdict,
    )

    account = found.ledger
    event = [event_sentence(found.event)] if found.event is not None else []
    people = people_sentences(found.people, found) if found.people is not None else []
    head = (_heading(result, found), *event, sentence(verdict(found)), *people, _conditions(result, found))
    lines = [*(line for text in head for line in _wrap(text)), "", *_wrap(margin_sentence(found))]
    rows = [
        [
            f"  {say_why.term_words(term.name, term.end)}",
            say.level_figure(term.db),
            say_why.note(account, term),
        ]
        for term in _terms(found)
    ]
    rows.append(["  margin", say.level_figure(account.margin_db), f"dB, {error_words(account.experience)}"])
    wide = max(len(row[0]) for row in rows)
    lines += [f"{name:<{wide}}  {db:>7}  {note}".rstrip() for name, db, note in rows]
    lines += ["", *_wrap(f"{experience_sentence(account.experience)} {whole_sentence()}")]
    lines += ["", "Causes by weight, and what the band would promise if that one were harmless:"]
    for cause in _causes(found):
        bar, share = "█" * round(cause.weight * BAR), say.percent(cause.weight)
        lines.append(f"  {short(cause.cause):<16} {share:>5}  {bar:<{BAR}}  {say.promised(cause.alone)}")
    lines += ["", "What would change it:"]
    lines += [f"  {change_words(row)}: {say.promised(row.promise)}" for row in found.helpful]
    if not found.helpful:
        lines.append("  nothing that was looked at")
    lines += ["", *_wrap(causes_sentence(found)), ""]
    lines += _wrap(near_far_sentence(found.near_far)) if found.near_far is not None else []
    return "\n".join(lines).rstrip()


def _plain(result: Forecast, found: Explanation) -> str:
    from propagation.wording import why as say_why
    from propagation.wording.why import cause_line, why_sentences

    lines = [f"{_heading(result, found)}."]
    lines += say_why.ledger_lines(found.ledger)
    lines += [cause_line(row) for row in _causes(found)]
    lines += why_sentences(found)
    return "\n".join([*lines, f"{_conditions(result, found)}."])


def _wrap(text: str) -> list[str]:
    return textwrap.wrap(text, text_width())
