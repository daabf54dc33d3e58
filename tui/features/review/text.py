"""Review of a log as text: summary, outing along the time axis, contacts, and what the log teaches."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING, Final

import numpy as np

from propagation.wording import quantities as say
from tui.kit import format as fmt

if TYPE_CHECKING:
    from propagation.logbook.adif import Problem
    from propagation.logbook.kept_offset import Learnt
    from propagation.logbook.outing import ReviewedOuting
    from propagation.logbook.review import Review

WIDTH: Final = 100  # columns of the text
FILLS: Final = " ▁▂▃▄▅▆▇█"
MOST_ROWS: Final = 60  # contacts listed in text; JSON has them all
MOST_PROBLEMS: Final = 12
_SIDE: Final = ("", " (heard you)", " (heard)")  # by direction: contacts, reports of being heard, of hearing


def band_rows(learnt: Learnt) -> list[str]:
    """Format the learnt offsets, one line per band."""
    rows = [
        [
            one.band,
            say.level(one.offset_db),
            "the limit: not kept" if one.at_bound else f"give or take {one.sd_db:.1f} dB",
            f"{one.count} entries",
        ]
        for one in learnt.bands
    ]
    if learnt.bands:
        rows.append(
            [
                "other",
                say.level(learnt.elsewhere_db),
                f"give or take {learnt.elsewhere_sd_db:.1f} dB",
                "below 30 MHz",
            ]
        )
    return fmt.table(rows).splitlines() if rows else []


def text(found: Review, said: str, station: str) -> str:
    """Format the whole review as text.

    said: the sentence on any other action taken. station: the one on the station used.
    """
    from propagation.wording import review as story

    lines: list[str] = []
    for sentence in (*story.summary(found), station):
        lines += textwrap.wrap(sentence, fmt.text_width(), subsequent_indent="  ")
    if found.outing is not None:
        lines += ["", f"{story.heading(found.outing)}:", *lanes(found)]
    if found.entries.size:
        lines += ["", *_table(found)]
    if found.learnt.used:
        lines += ["", "What the log says against the model, by band:", *band_rows(found.learnt)]
    lines += _problem_lines(found)
    if said:
        lines += ["", *textwrap.wrap(said, fmt.text_width(), break_long_words=False, break_on_hyphens=False)]
    return "\n".join(lines)


def _problem_lines(found: Review) -> list[str]:
    if not found.problems:
        return []
    shown = [f"  {problem_words(one)}{' (lost)' if one.lost else ''}" for one in found.problems]
    more = len(shown) - MOST_PROBLEMS
    rest = [f"  and {more} more; --json has them all"] if more > 0 else []
    return ["", "In the file:", *shown[:MOST_PROBLEMS], *rest]


def problem_words(problem: Problem) -> str:
    """A problem with its line, if it is that of a line and not of the whole file."""
    return f"line {problem.line}: {problem.reason}" if problem.line else problem.reason


def _table(found: Review) -> list[str]:
    from propagation.logbook.review import VERDICTS

    entries, expected, outing = found.entries, found.expected, found.outing
    first, stop = (outing.span.first, outing.span.stop) if outing is not None else (0, entries.size)
    shown = range(first, min(stop, first + MOST_ROWS))
    two = any(say.two_clocks(entries.time[i]) for i in shown)
    rows = []
    for i in shown:
        wide = expected.chance_high[i] - expected.chance_low[i] > 0.1
        span = f"{say.percent(expected.chance_low[i])} to {say.percent(expected.chance_high[i])}"
        placed = bool(entries.placed[i])
        rows.append(
            [
                *_clocks(entries.time[i], two),
                f"{entries.call[i]}{_SIDE[int(entries.direction[i])]}",
                entries.band[i],
                entries.mode[i],
                say.kilometres(expected.distance_km[i]),
                span if wide else say.percent(expected.chance[i]),
                say.level(expected.margin_db[i], 0),
                f"{expected.ray_path_name(i)}{' long way' if expected.route[i] else ''}" if placed else "-",
                VERDICTS[int(found.verdict[i])],
            ]
        )
    heads = [say.zone_word(), *([say.zone_word(True)] if two else [])]
    heads += ["call", "band", "mode", "distance", "chance", "margin", "way", ""]
    lines = fmt.table(rows, heads).splitlines()
    if stop - first > MOST_ROWS:
        lines.append(f"and {stop - first - MOST_ROWS:,} more; --json has them all.")
    return lines


def _clocks(when: np.datetime64, two: bool) -> list[str]:
    """Cells of a time: the clock told first, then the other."""
    other = say.other_clock(when).removesuffix(f" {say.zone_word(True)}")
    return [say.clock(when), *([other or say.clock(when)] if two else [])]


def lanes(found: Review) -> list[str]:
    """Outing along the time axis: what each band promised, its use with contacts, and the plan."""
    outing = found.outing
    assert outing is not None
    times = outing.times
    start, end = times[0], times[-1]
    minutes = float((end - start) / np.timedelta64(60, "s"))
    each = next(step for step in (5.0, 7.5, 10.0, 15.0, 30.0) if minutes / step <= WIDTH - 12)
    count = round(minutes / each)
    middle = start + ((np.arange(count) + 0.5) * each * 60.0).astype("timedelta64[s]")
    figure = outing.figure
    top = float(np.max(figure[:, outing.forecast.usable], initial=0.0))
    lines = _axes(start, end, each, count)
    for band in _bands_shown(outing):
        i = outing.bands.index(band)
        share = np.interp(middle.astype(np.float64), times.astype(np.float64), figure[:, i])
        usable = bool(outing.forecast.usable[i])
        fill = "".join(
            FILLS[round(value / top * 8)] if usable and top > 0.0 else " " for value in share.tolist()
        )
        lines.append(f"{band:>4}  {fill}".rstrip())
        marks = _marks(found, band, start, each, count)
        if marks.strip():
            lines.append(f"      {marks}".rstrip())
    if outing.plan is not None:
        row = [" "] * count
        for stay in outing.plan.plan.stays:
            a, b = (int((t - start) / np.timedelta64(60, "s") / each) for t in (stay.start, stay.end))
            label = f"|{stay.band}".ljust(max(b - a, 1), "·")[: max(b - a, 1)]
            row[a : a + len(label)] = list(label)
        lines.append(f"best  {''.join(row[:count])}".rstrip())
    lines += textwrap.wrap(
        f"The fuller, the better (full: {full_words(outing)}); below a band - where you "
        f"were on it, and the number of contacts; last the best plan in hindsight.",
        fmt.text_width(),
    )
    return lines


def _axes(start: np.datetime64, end: np.datetime64, each: float, count: int) -> list[str]:
    """Hours above the lanes on both clocks, the one told first above; one line where they agree."""
    first = start.astype("datetime64[h]").astype("datetime64[s]")
    seconds = np.arange(0, int((end - first) / np.timedelta64(1, "s")) + 1, 900)
    times = first + seconds.astype("timedelta64[s]")
    apart = 1 if each <= 15.0 else 2  # hours between two figures
    lines = []
    for local in [say.local_first()] + [not say.local_first()] * say.two_clocks(start):
        axis = [" "] * (count + 4)
        for when in times:  # the clocks of some zones are a quarter of an hour off
            clock = str(say.wall_time(when, local))[11:16]
            column = int((when - start) / np.timedelta64(60, "s") // each)
            if clock[3:] == "00" and int(clock[:2]) % apart == 0 and 0 <= column < count:
                axis[column : column + 2] = clock[:2]
        lines.append(f"{'local' if local else 'UTC':<6}{''.join(axis).rstrip()}")
    return lines


def full_words(outing: ReviewedOuting) -> str:
    """What a full lane promises: the best of any usable band."""
    top = float(np.max(outing.figure[:, outing.forecast.usable], initial=0.0))
    return say.mean_an_hour(top) if outing.forecast.wanted else say.days(top)


def _bands_shown(outing: ReviewedOuting) -> list[str]:
    """Bands used, planned, or with at least a tenth of the best band's figure."""
    top = float(np.max(outing.figure, initial=0.0))
    used = {one.band for one in outing.on}
    planned = {stay.band for stay in outing.plan.plan.stays} if outing.plan is not None else set()
    good = {
        band
        for i, band in enumerate(outing.bands)
        if outing.forecast.usable[i] and float(np.max(outing.figure[:, i])) >= 0.1 * top > 0.0
    }
    return [band for band in outing.bands if band in used | planned | good]


def _marks(found: Review, band: str, start: np.datetime64, each: float, count: int) -> str:
    """Mark the times when a band was in use ("-"), and the number of contacts in each column."""
    outing, entries = found.outing, found.entries
    assert outing is not None
    row = [" "] * count
    for one in outing.on:
        if one.band == band:
            a, b = ((t - start) / np.timedelta64(60, "s") / each for t in (one.start, one.end))
            for x in range(max(int(a), 0), min(int(np.ceil(b)), count)):
                row[x] = "-"
    inside = range(outing.span.first, outing.span.stop)
    at = [
        int((entries.time[i] - start) / np.timedelta64(60, "s") / each)
        for i in inside
        if entries.band[i] == band
    ]
    for x, number in zip(*np.unique(np.array(at, dtype=np.int64), return_counts=True), strict=True):
        if 0 <= x < count:
            row[x] = str(number) if number < 10 else "+"
    return "".join(row)


def plain(found: Review, said: str, station: str) -> str:
    """Return the whole review in plain sentences; said, station: as in `text`."""
    from propagation.logbook.review import VERDICTS
    from propagation.wording import review as story

    lines = [*story.summary(found), station]
    entries, expected, outing = found.entries, found.expected, found.outing
    first, stop = (outing.span.first, outing.span.stop) if outing is not None else (0, 0)
    for i in range(first, stop):
        if entries.placed[i]:
            route = "long" if expected.route[i] else "short"
            lines.append(
                f"{say.both_clocks(entries.time[i])}, {entries.call[i]} on {entries.band[i]}, "
                f"{say.kilometres(expected.distance_km[i])}: {VERDICTS[int(found.verdict[i])]}, "
                f"{say.days(expected.chance[i])}, margin {say.level(expected.margin_db[i], 0)}, "
                f"the {route} way by {expected.ray_path_name(i)}."
            )
        else:
            lines.append(
                f"{say.both_clocks(entries.time[i])}, {entries.call[i]} on {entries.band[i]}: it is not "
                f"known where the other station was."
            )
    lines += [f"In the file, {problem_words(one)}." for one in found.problems]
    return "\n".join([*lines, said] if said else lines)
