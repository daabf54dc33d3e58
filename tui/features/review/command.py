"""`bandwhen review FILE`: log of an outing compared with the forecast, and what it teaches about the station.

FILE is a log (ADIF, `.adi` or `.adx`, or Cabrillo) or a list of reception reports (CSV). Several files are
combined.
Without a file the command prints what has been learnt so far. `--json` gives one object:

- `summary`: the review in sentences. `station`, `station_file` (null for the demo's), `target`, `files`.
- `records`: `{used, lost, problems: [{offset, reason, lost, line}]}`; `offset` is the byte
  in the file, `line` its line.
- `days`: `[{date, flux_sfu, kp_most, flux, kp, known}]`; `flux` and `kp` are the source of each: "measured",
  "typed in", "month only", "not known".
- `counts`: `{expected, fair, against, no_place}`.
- `contacts`: `[{time, band, mode, call, country, direction: "both"|"out"|"back", distance_km, bearing_deg,
  chance, chance_low, chance_high, margin_db, snr_out_db, snr_back_db, way, route: "short"|"long",
  elevation_deg, muf_mhz, limit, verdict, sent, received, comment}]`; null if the other
  station's place is not known.
- `surprises`: `[{kind: "contact"|"silence", chance, band, start, end, text, contacts: [number in
  `contacts`]}]`.
- `outings`: `[{start, end, contacts}]`; `outing`, the reviewed one, or null: `{start, end, mode, power_w,
  times, bands: [{band, usable, share: [..], chance: [..], rate_per_hour: [..]}], on: [{band, start, end,
  contacts}], silences: [{band, start, end, told, mean, best, best_time, place, due, chance, causes: [{cause,
  weight}], other_band, other}], own, plan: null or {promise, stays: [{band, start, end}], text}}`. Shares are
  of the target's amateurs; mean, best, other, own and promise: `{chance, rate: null or {low, middle, high}}`.
- `learnt`: what the log teaches, `{bands: [{band, offset_db, sd_db, count, at_bound}],
  elsewhere_db, elsewhere_sd_db, entries, used, days, first, last, date, on}`; `no_lesson`: reason why it
  cannot be saved, or null; `kept`: the same for the saved offsets of the station, or null; `learnt_file`.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Final

import numpy as np

from propagation.base.errors import InputError
from tui.app import clock, command_base, learnt_store, paths, progress
from tui.features.review import text as review_text
from tui.kit import format as fmt

if TYPE_CHECKING:
    from propagation.logbook.kept_offset import Learnt
    from propagation.logbook.outing import ReviewedOuting
    from propagation.logbook.review import Review
    from propagation.station.station import Station
    from tui.app.command_base import Subparsers

BAD_INPUT: Final = 2


def add_parser(subparsers: Subparsers) -> None:
    """Describe the command's options."""
    parser = subparsers.add_parser(
        "review",
        help="a log against the forecast, and what it teaches about the station",
        description="A log (ADIF, Cabrillo) or reception reports (CSV) against the forecast of their days: "
        "what was to be expected, what surprised, where it was silent and why, and how the station does.",
    )
    parser.add_argument("files", nargs="*", type=Path, metavar="FILE", help="a log or a list of reports")
    parser.add_argument(
        "--date", metavar="D", help="the outing to look at, as 2026-03-20 (default: the last)"
    )
    parser.add_argument("--to", metavar="TARGET", help="whom the lanes look at (default: anyone)")
    parser.add_argument(
        "--call", default="", metavar="CALL", help="your call, to find your own reception reports"
    )
    keep = parser.add_mutually_exclusive_group()
    keep.add_argument(
        "--learn", action="store_true", help="keep what the log teaches, for every later forecast"
    )
    keep.add_argument("--forget", action="store_true", help="forget what was learnt about the station")
    keep.add_argument("--on", action="store_true", help="let the forecast use what was learnt")
    keep.add_argument("--off", action="store_true", help="leave what was learnt out of the forecast")
    command_base.add_station(parser)
    command_base.add_conditions(parser)
    command_base.add_output(parser)


def run(args: argparse.Namespace) -> int:
    """Carry out the command."""
    station = command_base.station_of(args)
    file = learnt_store.learnt_file(command_base.file_in_use(args))
    said = _switch(args, file)
    if not args.files:
        if args.learn:
            raise InputError("Give the log to learn from, as in bandwhen review FILE --learn.")
        return _kept(args, station, file, said)
    found = _review(args, station)
    if args.learn:
        said = _learn(found, file)
    from propagation.logbook import kept_offset

    stored = kept_offset.load(file)
    if args.json:
        fmt.write_json(_data(args, found, stored, file), sys.stdout)
    else:
        form = review_text.plain if args.plain else review_text.text
        print(form(found, said, command_base.station_words(args, station)))
    if found.entries.size:
        return 0
    print("No contact or report in the file can be used.", file=sys.stderr)
    return BAD_INPUT


# -- learnt offsets -----------------------------------------------------------------------------------------


def _switch(args: argparse.Namespace, file: Path) -> str:
    """Delete, switch on or switch off the learnt offsets. Return a sentence."""
    from propagation.logbook import kept_offset

    if args.forget:
        there = kept_offset.forget(file)
        return (
            "What was learnt about this station is forgotten."
            if there
            else "Nothing was kept about this station."
        )
    if not (args.on or args.off):
        return ""
    if kept_offset.switch(file, bool(args.on)) is None:
        raise InputError(
            "Nothing has been learnt about this station yet; 'bandwhen review FILE --learn' does it."
        )
    return f"The forecast {'uses' if args.on else 'leaves out'} what was learnt."


def _kept(args: argparse.Namespace, station: Station, file: Path, said: str) -> int:
    """Print the learnt offsets of the station."""
    from propagation.logbook import kept_offset

    stored = kept_offset.load(file)
    lines = [said] if said else []
    if stored is None and not said:
        lines.append(
            "Nothing has been learnt about this station yet; 'bandwhen review FILE --learn' does it."
        )
    elif stored is not None:
        lines += _stored_lines(stored, station, file)
    text = "\n".join(lines)
    data = {"kept": _learnt_data(stored), "learnt_file": str(file), "summary": lines}
    command_base.answer(args, data, text, text)
    return 0


def _stored_lines(stored: Learnt, station: Station, file: Path) -> list[str]:
    from propagation.wording.station_offset import remarks

    when = f"of {stored.first}" if stored.first == stored.last else f"from {stored.first} to {stored.last}"
    lines = [
        f"Learnt on {stored.date} from {stored.used} of {stored.entries} entries, {when}, "
        f"{'in use' if stored.on else 'switched off'} ({file}):"
    ]
    lines += review_text.band_rows(stored)
    if not stored.fits(station):
        lines.append("It was learnt with another antenna, ground or noise and is not applied to this one.")
    return [*lines, *remarks(stored, station)]


def _learn(found: Review, file: Path) -> str:
    """Save what the log teaches."""
    from propagation.logbook import kept_offset
    from propagation.wording.station_offset import refusal

    if refused := refusal(found.learnt):
        return refused
    kept_offset.save(found.learnt, file)
    return f"Kept in {file}; the forecast uses it from now on ('bandwhen review --off' leaves it out)."


# -- the review ---------------------------------------------------------------------------------------------


def _review(args: argparse.Namespace, station: Station) -> Review:
    from propagation.base.store import Store
    from propagation.geo import places
    from propagation.ionosphere import conditions_today
    from propagation.logbook import files
    from propagation.logbook.review import join_logs, measured_days, review
    from propagation.signal.chances.request import Request
    from propagation.station import friends
    from tui.app.command_base import saved_friends

    logs = []
    for file in args.files:
        with progress.shown(f"Reading {file.name}") as tell:
            logs.append(files.load(file, tell))
    target = friends.resolve(args.to, saved_friends(), station.site.position) if args.to else None
    store, now = Store(paths.conditions_dir()), clock.now()
    joined = join_logs(logs, station, args.call)
    state = conditions_today.best(store, joined.times, now, ssn=args.ssn, flux_sfu=args.flux, kp=args.kp)
    with progress.shown(f"Forecast of {joined.entries.size:,} entries") as tell:
        return review(
            joined,
            Request(station, target or places.resolve("anyone"), joined.times, state),
            str(now.astype("datetime64[D]")),
            day=clock.parse_date(args.date) if args.date else None,
            measured=measured_days(store, now),
            typed_kp=args.kp is not None,
            progress=tell,
        )


# -- answers ------------------------------------------------------------------------------------------------


def _learnt_data(stored: Learnt | None) -> dict[str, object] | None:
    if stored is None:
        return None
    data: dict[str, object] = fmt.plain_value(stored)
    data.pop("setup")
    data["bands"] = [{**fmt.plain_value(one), "at_bound": one.at_bound} for one in stored.bands]
    return data


def _data(args: argparse.Namespace, found: Review, stored: Learnt | None, file: Path) -> dict[str, object]:
    """Return the JSON answer. Long lists in it are produced item by item."""
    from propagation.logbook.kept_offset import no_lesson
    from propagation.logbook.review import AGAINST, EXPECTED, FAIR, NO_PLACE
    from propagation.wording import review as story

    return {
        "summary": story.summary(found),
        "station": found.station.name,
        **command_base.station_data(args),
        "target": found.outing.target if found.outing is not None else None,
        "files": [str(name) for name in args.files],
        "records": {"used": found.entries.size, "lost": found.lost, "problems": found.problems},
        "days": [
            {
                "date": str(day.date),
                "flux_sfu": round(day.flux_sfu, 1),
                "kp_most": round(day.kp_most, 2),
                "flux": day.flux,
                "kp": day.kp,
                "known": day.known,
            }
            for day in found.days
        ],
        "counts": {
            "expected": found.count(EXPECTED),
            "fair": found.count(FAIR),
            "against": found.count(AGAINST),
            "no_place": found.count(NO_PLACE),
        },
        "contacts": _rows(found),
        "surprises": (
            {
                "kind": one.kind,
                "chance": one.chance,
                "band": one.band,
                "start": one.start,
                "end": one.end,
                "text": story.surprise_words(found, one),
                "contacts": list(one.rows),
            }
            for one in found.surprises
        ),
        "outings": [
            {"start": span.start, "end": span.end, "contacts": span.stop - span.first}
            for span in found.outings
        ],
        "outing": None if found.outing is None else _outing(found.outing),
        "learnt": _learnt_data(found.learnt),
        "no_lesson": no_lesson(found.learnt),
        "kept": _learnt_data(stored),
        "learnt_file": str(file),
    }


def _rows(found: Review) -> Iterator[dict[str, object]]:
    from propagation.logbook.entries import DIRECTIONS
    from propagation.logbook.review import VERDICTS
    from propagation.signal.chances.forecast import ROUTES
    from propagation.signal.rays.causes import CAUSES

    entries, expected = found.entries, found.expected
    times = [f"{text}Z" for text in np.datetime_as_string(entries.time, unit="s").tolist()]
    figures = {
        name: np.round(getattr(expected, name), digits).tolist()
        for name, digits in (
            ("distance_km", 1), ("bearing_deg", 1), ("chance", 5), ("chance_low", 5), ("chance_high", 5),
            ("margin_db", 2), ("snr_out_db", 2), ("snr_back_db", 2), ("elevation_deg", 1), ("muf_mhz", 2),
        )
    }  # fmt: skip
    placed = entries.placed.tolist()
    for i in range(entries.size):
        row: dict[str, object] = {
            "time": times[i],
            "band": entries.band[i],
            "mode": entries.mode[i],
            "call": entries.call[i],
            "country": entries.country[i] or None,
            "direction": DIRECTIONS[int(entries.direction[i])],
        }
        row |= {name: value[i] for name, value in figures.items()}
        row |= {
            "way": expected.ray_path_name(i) if placed[i] else None,
            "route": ROUTES[int(expected.route[i])] if placed[i] else None,
            "limit": CAUSES[int(expected.limit[i])] if placed[i] else None,
            "verdict": VERDICTS[int(found.verdict[i])],
            "sent": entries.sent[i],
            "received": entries.received[i],
            "comment": entries.comment[i],
        }
        yield row


def _outing(outing: ReviewedOuting) -> dict[str, object]:
    from propagation.wording.quantities import sentence, whom_words
    from propagation.wording.review import hindsight_words

    plan, figure = outing.plan, outing.figure
    return {
        "start": outing.span.start,
        "end": outing.span.end,
        "mode": outing.mode,
        "power_w": outing.power_w,
        "times": outing.times,
        "bands": [
            {
                "band": band,
                "usable": bool(outing.forecast.usable[i]),
                "share": np.round(outing.share[:, i], 6),
                "chance": np.round(outing.chance[:, i], 6),
                **({"rate_per_hour": np.round(figure[:, i], 4)} if outing.forecast.wanted else {}),
            }
            for i, band in enumerate(outing.bands)
        ],
        "on": outing.on,
        "silences": [
            {
                **{key: value for key, value in vars(one).items() if key != "expected"},
                "place": whom_words(one.expected.parts) if one.expected is not None else "hardly anybody",
                "causes": [{"cause": cause, "weight": weight} for cause, weight in one.causes],
            }
            for one in outing.silences
        ],
        "own": outing.own,
        "plan": None
        if plan is None
        else {
            "promise": outing.planned,
            "stays": [{"band": s.band, "start": s.start, "end": s.end} for s in plan.plan.stays],
            "text": " ".join(sentence(line) for line in hindsight_words(outing)),
        },
    }
