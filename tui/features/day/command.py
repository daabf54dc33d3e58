"""`bandwhen advise`: chances of every band through the day towards a target, and the ranked windows."""

from __future__ import annotations

import argparse
import sys
import textwrap
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from propagation.wording import quantities as say
from tui.app import clock, command_base, forecast_options
from tui.kit import format as fmt
from tui.kit.day_view import LEAST_FULL_PER_H
from tui.kit.format import text_width

if TYPE_CHECKING:
    from collections.abc import Callable

    from propagation.advice.antenna_worth import Worth
    from propagation.advice.events import AbsorptionEvent
    from propagation.advice.windows import Window, Windows
    from propagation.base.units import FloatArray, IntArray
    from propagation.signal.chances.forecast import Forecast
    from propagation.signal.chances.request import Request
    from propagation.station.terminals import Terminals
    from tui.app.command_base import Subparsers

NOTHING: Final = 3
FILLS: Final = " ▁▂▃▄▅▆▇█"
LANE_HOURS: Final = 24  # hours of a lane of the text, which has one sign for every half hour
MOST_WINDOWS: Final = 12  # listed in text; JSON has them all


def add_parser(subparsers: Subparsers) -> None:
    """Describe the command's options."""
    parser = subparsers.add_parser(
        "advise",
        help="which band, when, to reach a target",
        description="Every band towards a target from now on, or through the day of --date, and the "
        "windows, ranked: for a region by the contacts an hour to expect, for a place by the share of days "
        "of the month on which the contact can be made, both ways.",
    )
    forecast_options.add_arguments(parser)
    forecast_options.add_time_options(
        parser,
        "the whole day, as 2026-03-20 or saturday (default: from now)",
        "from this time on, as 06:00, 'saturday 9-13' or 'tomorrow after sunset'",
        "for so many hours (default: 24), or a span as 9-13",
    )
    forecast_options.add_other_side(parser)


def run(args: argparse.Namespace) -> int:
    """Compute and print the result; return 3 if no band has a window, from the other side neither."""
    from propagation.advice.events import events, foremost
    from propagation.advice.nothing_now import narrower_forecast, nothing_between
    from propagation.advice.setup_notes import setup_notes
    from propagation.advice.windows import find_windows
    from propagation.signal.chances.forecast import forecast
    from propagation.wording.setup import setup_words
    from propagation.wording.windows import nothing_sentence

    times = forecast_options.span(args)
    question, other = forecast_options.ask(args, times), forecast_options.ask_other_side(args, times)
    result = forecast(question)
    setup = {band: setup_words(note) for band, note in setup_notes(result, question.own_end).items()}
    terminals = question.terminals
    event = foremost(events(result, terminals))
    found = find_windows(result, terminals)
    both = None if other is None else beside(*other, result, question.learnt)
    lesson = [forecast_options.LEARNT] if question.learnt else []

    def data() -> dict[str, object]:
        beside = {} if both is None else {"beside": _compared_data(both)}
        return _data(result, found, setup, terminals, event) | {"learnt": question.learnt} | beside

    def text() -> str:
        beside = [] if both is None else _compared_text(both, lambda told: textwrap.wrap(told, text_width()))
        return "\n".join([_text(result, found, setup, event), *beside, *lesson])

    def plain() -> str:
        beside = [] if both is None else _compared_plain(both)
        return "\n".join([_plain(result, found, setup, event), *beside, *lesson])

    command_base.answer(args, data, text, plain)
    nothing = nothing_between(
        result,
        0,
        len(result.times),
        lambda: narrower_forecast(result, terminals) if result.usable.any() else None,
    )
    if nothing is None or (both is not None and nothing_between(both.results[1], 0, len(times)) is None):
        return 0
    print(nothing_sentence(result, nothing), file=sys.stderr)
    return NOTHING


def _data(
    result: Forecast,
    found: Windows,
    setup: dict[str, str],
    terminals: Terminals,
    event: AbsorptionEvent | None = None,
) -> dict[str, object]:
    from propagation.advice.recompute import best_margin_db
    from propagation.advice.region_chance import outlook
    from propagation.signal.rays.causes import CAUSES
    from propagation.wording.windows import RULE, left_out_words
    from tui.kit.event_data import event_data

    margin = best_margin_db(result, terminals)
    elevation = result.at(result.elevation_deg)
    times = [fmt.iso(time) for time in result.times]
    site, target = result.station.site, result.target
    return {
        "site": {
            "name": result.station.name,
            "lat_deg": site.position.lat_deg,
            "lon_deg": site.position.lon_deg,
            "mode": result.mode.name,
            "power_w": result.power_w,
        },
        "target": {
            "name": target.name,
            "kind": target.kind,
            "points": target.size,
            "note": target.note,
            "distance_km": float(result.distance_km[target.heaviest, 0]),
            "bearing_deg": float(result.bearing_deg[target.heaviest, 0]),
        },
        "event": None if event is None else event_data(event),
        "conditions": result.conditions.as_dict(result.times[len(result.times) // 2], clock.now()),
        "bands": [
            {
                "band": band.name,
                "frequency_mhz": float(result.frequency_mhz[i]),
                "usable": bool(result.usable[i]),
                "times": times,
                "chance": np.where(result.usable[i], result.region_chance[:, i], 0.0),
                **_contacts(result, i),
                "limit": [CAUSES[code] for code in outlook(result).limit[:, i]],
                "margin_db": margin[:, i],
                "elevation_deg": elevation[:, i],
            }
            for i, band in enumerate(result.bands)
        ],
        "windows": [_window_data(window, setup.get(window.band, "")) for window in found.windows],
        "contacts": result.station.people.contacts,
        "rule": RULE,
        "left_out": [
            {"band": row.band, "limit": row.cause, "reason": left_out_words(row)} for row in found.left_out
        ],
    }


def _contacts(result: Forecast, band: int) -> dict[str, object]:
    """A region on a band: contacts an hour, the chance of a few, stations in reach and on the air."""
    from propagation.advice.region_chance import chance, outlook

    people = outlook(result).people
    if people is None:
        return {}
    may_be_used = np.where(result.usable[band], 1.0, 0.0)
    rates = people.rate.low, people.rate.middle, people.rate.high
    keys = ("low", "middle", "high")
    return {
        "rate_per_hour": {key: may_be_used * rate[:, band] for key, rate in zip(keys, rates, strict=True)},
        "contacts_chance": chance(result)[:, band],
        "stations": people.stations[:, band],
        "on_air": np.sum(people.on_air[:, :, band], axis=0),
    }


def _window_data(window: Window, setup: str) -> dict[str, object]:
    from propagation.wording.windows import reason

    return {
        "rank": window.rank,
        "band": window.band,
        "start": window.start,
        "end": window.end,
        "peak": window.peak_time,
        "chance": window.share,
        "outlook": window.chance,
        "mean_outlook": window.mean,
        **({} if window.rate is None else {"rate_per_hour": asdict(window.rate)}),
        "route": window.route,
        "elevation_deg": window.elevation_deg,
        "way": window.mode,
        "place": window.place,
        "reason": reason(window),
        "setup": setup,
    }


def _heading(result: Forecast) -> str:
    target = result.target
    start, end = result.times[0], result.times[-1]
    where = ""
    if not target.is_region:
        where = (
            f", {say.kilometres(float(result.distance_km[0, 0]))} at "
            f"{say.bearing(float(result.bearing_deg[0, 0]))}"
        )
    note = f" ({target.note})" if target.note and not target.note.endswith(".") else ""
    return (
        f"{result.station.name or 'Here'} to {target.name}{note}{where}; {result.mode.name}, "
        f"{say.watts(result.power_w)}; {say.day_month(start)}, {say.both_spans(start, end)}"
    )


def _note(result: Forecast) -> list[str]:
    """Note on other meanings of the target's name."""
    note = result.target.note
    return [note] if note.endswith(".") else []


def _conditions(result: Forecast) -> str:
    middle = result.times[len(result.times) // 2]
    return f"Conditions: {command_base.conditions_words(result.conditions, middle)}"


def _event(event: AbsorptionEvent | None) -> list[str]:
    """Sentence on the flare or proton event that affects the path; printed before all else."""
    from propagation.wording.sky import event_sentence

    return [] if event is None else [event_sentence(event)]


def _text(result: Forecast, found: Windows, setup: dict[str, str], event: AbsorptionEvent | None) -> str:
    from propagation.advice.windows import best_hope
    from propagation.wording.windows import left_out_words, no_window_sentence, reason, window_sentence

    head = (_heading(result), *_event(event), _conditions(result))
    lines = [line for text in head for line in textwrap.wrap(text, text_width())]
    lines += [*_note(result), "", *_lanes(result), ""]
    if found.windows:
        lines.append("Windows:")
    else:
        lines += textwrap.wrap(no_window_sentence(result, best_hope(result)), text_width())
    for window in found.windows[:MOST_WINDOWS]:
        told = f"{window.rank}. {window_sentence(window)} {reason(window)}"
        lines += textwrap.wrap(told, text_width(), subsequent_indent="     ")
        if setup.get(window.band):
            lines += _wrapped(f"Antenna: {setup[window.band]}.")
    if len(found.windows) > MOST_WINDOWS:
        lines.append(f"and {len(found.windows) - MOST_WINDOWS} more.")
    lines += [f"Left out: {say.band_title(row.band)}, {left_out_words(row)}." for row in found.left_out]
    return "\n".join(lines)


def _wrapped(text: str) -> list[str]:
    return textwrap.wrap(text, text_width(), initial_indent="     ", subsequent_indent="     ")


def _lanes(result: Forecast) -> list[str]:
    """Lanes of all bands in eighths, each followed by the cause that limits it longest."""
    from propagation.advice.band_now import commonest_limit
    from propagation.advice.ranking import told_rate
    from propagation.advice.region_chance import outlook
    from propagation.wording.causes import short

    hours = (result.times - result.times[0]) / np.timedelta64(3600, "s")
    steps = np.minimum(np.arange(0.0, min(float(hours[-1]), LANE_HOURS) + 1e-9, 0.5), hours[-1])
    index = np.searchsorted(hours, steps - 1e-9)
    lines = _axes([result.times[0] + np.timedelta64(int(h * 3600), "s") for h in steps[::4]])
    seen = outlook(result)
    worth = np.where(result.usable, seen.worth, 0.0)[index]
    if result.target.is_region:
        full = max(float(told_rate(seen.ceiling * float(np.max(worth, initial=0.0)))), LEAST_FULL_PER_H)
        worth = np.minimum(worth * seen.ceiling / full, 1.0)
        lines.append(f"      a full lane: {say.rate_figure(full)} contacts an hour")
    for i, band in enumerate(result.bands):
        fill = "".join(FILLS[round(value * 8)] if value >= 0.01 else "·" for value in worth[:, i])
        limit = commonest_limit(seen.limit[:, i])
        cause = short(limit) if limit is not None else ""
        lines.append(f"{band.name:>4}  {fill}  {cause}".rstrip())
    return lines


def _axes(times: list[np.datetime64]) -> list[str]:
    """The hours above the lanes on both clocks, the one told first above; one where they agree."""
    clocks = [say.local_first()] + [not say.local_first()] * say.two_clocks(times[0])
    return [
        f"{'local' if local else 'UTC':<6}"
        + "".join(f"{str(say.wall_time(time, local))[11:13]:<4}" for time in times).rstrip()
        for local in clocks
    ]


def _plain(result: Forecast, found: Windows, setup: dict[str, str], event: AbsorptionEvent | None) -> str:
    from propagation.advice.windows import best_hope
    from propagation.wording.windows import (
        closed_sentence,
        left_out_words,
        no_window_sentence,
        reason,
        window_sentence,
    )

    lines = [f"{_heading(result)}.", *_event(event), f"{_conditions(result)}."]
    lines += _note(result)
    for window in found.windows:
        lines.append(f"{window.rank}. {window_sentence(window)} {reason(window)}")
        if setup.get(window.band):
            lines.append(f"   Antenna: {setup[window.band]}.")
    if not found.windows:
        lines.append(no_window_sentence(result, best_hope(result)))
    lines += [closed_sentence(row) for row in found.closed]
    lines += [f"{say.band_title(row.band)}: left out, {left_out_words(row)}." for row in found.left_out]
    return "\n".join(lines)


MOST_HOURS = 24  # rows of the table


@dataclass(frozen=True, eq=False)
class Comparison:
    """Comparison of two sides. bands: rows of bands usable on either; better: 0, 1, or None if equal."""

    names: tuple[str, str]
    results: tuple[Forecast, Forecast]
    worths: tuple[Worth, Worth]
    better: int | None
    bands: tuple[int, ...]
    taught: tuple[bool, bool]


def beside(name: str, question: Request, first: Forecast, taught: bool) -> Comparison:
    """Compute the day of the other side, and compare."""
    from propagation.advice.antenna_worth import better, worth
    from propagation.signal.chances.forecast import forecast

    other = forecast(question)
    worths = worth(first), worth(other)
    usable = np.flatnonzero(first.usable | other.usable)
    names = (first.station.name or "Here", name)
    return Comparison(
        names, (first, other), worths, better(*worths), tuple(usable.tolist()), (taught, question.learnt)
    )


def _full_hours(result: Forecast) -> IntArray:
    """Rows of the times at whole hours from the first time on."""
    hours = (result.times - result.times[0]) / np.timedelta64(3600, "s")
    steps = np.arange(0.0, min(float(hours[-1]), MOST_HOURS - 1) + 1e-9)
    return np.asarray(np.searchsorted(hours, steps - 1e-9), dtype=np.int64)


def _pair(found: Comparison) -> tuple[FloatArray, FloatArray]:
    from propagation.advice.region_chance import outlook

    rows = np.ix_(_full_hours(found.results[0]), np.array(found.bands, dtype=np.int64))
    seen = [(outlook(result), result.usable[None, :]) for result in found.results]
    one, other = (np.where(usable, look.ceiling * look.worth, 0.0)[rows] for look, usable in seen)
    return one, other


def _told(found: Comparison, *, plain: bool) -> tuple[list[str], list[str]]:
    """Hours as a table or in sentences, and the conclusions."""
    from propagation.wording.comparison import (
        hour_sentences,
        hours_table,
        lesson_sentence,
        place_sentences,
    )

    first = found.results[0]
    bands = [band.name for band in first.bands]
    shown = [bands[row] for row in found.bands]
    hours = (hour_sentences if plain else hours_table)(
        found.names, shown, first.times[_full_hours(first)], _pair(found), first.target.is_region
    )
    says = place_sentences(found.names, bands, found.worths, found.better, first.target.name)
    lesson = lesson_sentence(found.names, found.taught)
    return hours, [*says, lesson] if lesson else says


def _compared_text(found: Comparison, wrapped: Callable[[str], list[str]]) -> list[str]:
    """Table and sentences. wrapped: breaks a sentence into lines."""
    hours, says = _told(found, plain=False)
    return ["", *hours, "", *(line for sentence in says for line in wrapped(sentence))]


def _compared_plain(found: Comparison) -> list[str]:
    """Comparison in whole sentences."""
    hours, says = _told(found, plain=True)
    return [*hours, *says]


def _compared_data(found: Comparison) -> dict[str, object]:
    """Comparison for JSON: the other side's chances at the first side's times, and the worth of each day."""
    from propagation.advice.region_chance import chance, outlook
    from propagation.wording.comparison import place_sentences

    other = found.results[1]
    promised, position = chance(other), other.station.site.position
    people = outlook(other).people
    rates = None if people is None else np.where(other.usable, people.rate.middle, 0.0)
    totals = [None if worth.region else worth.total for worth in found.worths]
    contacts = [worth.total if worth.region else None for worth in found.worths]
    keys = ("here", "beside")
    return {
        "name": found.names[1],
        "lat_deg": position.lat_deg,
        "lon_deg": position.lon_deg,
        "bands": [
            {
                "band": band.name,
                "usable": bool(other.usable[row]),
                "times": [fmt.iso(time) for time in other.times],
                "outlook": promised[:, row],
                **({} if rates is None else {"rate_per_hour": rates[:, row]}),
            }
            for row, band in enumerate(other.bands)
        ],
        "contact_hours": dict(zip(keys, totals, strict=True)),
        "expected_contacts": dict(zip(keys, contacts, strict=True)),
        "better": None if found.better is None else keys[found.better],
        "words": place_sentences(
            found.names, [band.name for band in other.bands], found.worths, found.better, other.target.name
        ),
    }
