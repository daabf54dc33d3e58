"""Review screen: a log, compared with the forecast of its day and laid out along the time axis."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

import numpy as np

from propagation.base.errors import InputError
from propagation.base.store import Store
from propagation.geo import places
from propagation.ionosphere import conditions_today
from propagation.logbook import files, kept_offset
from propagation.logbook.kept_offset import Learnt
from propagation.logbook.review import VERDICTS, Review, join_logs, measured_days, review
from propagation.signal.chances.request import Request
from propagation.station import station
from propagation.wording import quantities as say
from propagation.wording import review as story
from propagation.wording.quantities import sentence
from propagation.wording.station_offset import learnt_words, refusal
from tui.app import learnt_store, paths
from tui.app.progress import Tell
from tui.app.queries import Abandoned, Cancelled
from tui.features.review.text import full_words, problem_words
from tui.features.review.view import ContactRow, ReviewView

MOST_SUGGESTED = 8
ENDINGS = (".adi", ".adx", ".csv", ".log", ".cbr")
DEMO_LOG = "ridge_day.adi"
MOST_ROWS = 2000  # contacts of one outing on the screen


def demo_log() -> str:
    """Path of the demo's log, if it is installed."""
    file = paths.demo_dir() / DEMO_LOG
    return str(file) if file.is_file() else ""


def logs_known(opened: str, most: int, leave_out: str = "") -> list[tuple[str, str, str]]:
    """Logs to offer, as path, name and a detail: those opened before, then those of outings, newest first.

    opened: paths, one a line. leave_out: a log that is offered anyway.
    """
    found: dict[str, tuple[str, str, str]] = {}
    for path in opened.splitlines():
        if path != demo_log() and os.path.isfile(path):
            found.setdefault(path, (path, Path(path).name, "opened before"))
    try:
        own = sorted(paths.outings_dir().glob("*.adi"), reverse=True)
    except OSError:
        own = []
    for file in own:
        found.setdefault(str(file), (str(file), file.name, "an outing of yours"))
    found.pop(leave_out, None)
    return list(found.values())[:most]


def with_log(opened: str, path: str, most: int) -> str:
    """Paths of the logs opened last, one a line, with another one in front."""
    whole = str(paths.expanded(path).absolute())
    if "\n" in whole:
        return opened
    return "\n".join([whole, *(one for one in opened.splitlines() if one != whole)][:most])


def check(text: str) -> str:
    """Return a sentence if a log cannot be opened, else an empty string."""
    try:
        path = Path(text).expanduser()
        if not text.strip():
            return "Type the name of a log (ADIF, Cabrillo) or of a list of reception reports (CSV)."
        if not path.exists():
            return f"There is no file {text!r}."
        return f"{text!r} is a folder; go on typing." if path.is_dir() else ""
    except (OSError, RuntimeError, ValueError) as error:
        return f"{text!r} cannot be used: {error}."


def suggest(prefix: str, limit: int = MOST_SUGGESTED) -> list[str]:
    """Logs and folders that complete a name."""
    try:
        typed = Path(prefix).expanduser()
        folder, start = (
            (typed, "") if prefix.endswith(("/", "\\")) or not prefix else (typed.parent, typed.name)
        )
        found = [
            entry
            for entry in sorted(folder.iterdir())
            if entry.name.startswith(start)
            and not entry.name.startswith(".")
            and (entry.is_dir() or entry.suffix.lower() in ENDINGS)
        ]
    except (OSError, RuntimeError, ValueError):
        return []
    return [f"{entry}/" if entry.is_dir() else str(entry) for entry in found[:limit]]


def work_out(
    path: str, station_file: str, now: np.datetime64, cancelled: Cancelled, headway: Callable[[str], Tell]
) -> ReviewView:
    """Read a log and review its last outing with a station; raises InputError for unusable input.

    headway: gives the callback that tells how far some work has come.
    """

    def going_on(what: str) -> Tell:
        told = headway(what)

        def go_on(done: int, whole: int) -> None:
            if cancelled():
                raise Abandoned
            told(done, whole)

        return go_on

    file = paths.expanded(path)
    log = files.load(file, going_on(f"Reading {file.name}"))
    own = station.load(learnt_store.station_path(station_file))
    store = Store(paths.conditions_dir())
    joined = join_logs([log], own)
    state = conditions_today.best(store, joined.times, now)
    found = review(
        joined,
        Request(own, places.resolve("anyone"), joined.times, state),
        str(now.astype("datetime64[D]")),
        measured=measured_days(store, now),
        progress=going_on(f"Forecast of {joined.entries.size:,} entries"),
    )
    return view_of(found, file.name, station_file)


def view_of(found: Review, name: str, station_file: str) -> ReviewView:
    """Return the review in the form that the screen draws."""
    outing = found.outing
    if outing is None:
        raise InputError(f"{name}: {' '.join(story.summary(found))}")
    span = outing.span
    own = f"{outing.mode} {say.watts(outing.power_w)}"
    rows = tuple(_row(found, i) for i in range(span.first, min(span.stop, span.first + MOST_ROWS)))
    plan = outing.plan.plan.stays if outing.plan is not None else ()
    return ReviewView(
        title=f"{name}, {story.heading(outing)}",
        name=name,
        setting=f"{say.day_title(span.start)}  {own}",
        times=outing.times,
        bands=outing.bands,
        figure=np.ascontiguousarray(outing.figure.T),
        full=full_words(outing),
        usable=outing.forecast.usable,
        target=outing.target,
        on=outing.on,
        silent=outing.silences,
        plan=plan,
        contacts=rows,
        sentences=tuple(story.summary(found)),
        taught=tuple(sentence(line) for line in learnt_words(found.learnt, found)),
        learnt_words=kept_words(station_file),
        problems=tuple(
            sentence(f"{problem_words(one)}{' (this record is lost)' if one.lost else ''}")
            for one in found.problems
        ),
        learnt=found.learnt,
        found=found,
    )


def _row(found: Review, i: int) -> ContactRow:
    entries, expected = found.entries, found.expected
    placed = bool(entries.placed[i])
    return ContactRow(
        time=entries.time[i],
        call=entries.call[i],
        band=entries.band[i],
        distance=say.kilometres(float(expected.distance_km[i])),
        chance=say.percent(float(expected.chance[i])),
        margin=say.level(float(expected.margin_db[i]), 0),
        mode=(f"{expected.ray_path_name(i)}{' lp' if expected.route[i] else ''}") if placed else "-",
        verdict=VERDICTS[int(found.verdict[i])],
        comment=entries.comment[i],
    )


# -- learnt offsets -----------------------------------------------------------------------------------------


def kept_words(station_file: str) -> str:
    """Describe the saved offsets of the station in one sentence; empty if there are none."""
    stored = learnt_store.learnt_of(station_file)
    if stored is None:
        return ""
    use = "in use" if stored.on else "not in use"
    bands = ", ".join(f"{say.band_title(one.band)} {say.level(one.offset_db)}" for one in stored.bands)
    return f"Kept, {use}: {bands}."


def keep(taught: Learnt, station_file: str) -> str:
    """Save what the log teaches. Return a sentence, or the reason why nothing can be saved."""
    if refused := refusal(taught):
        return refused
    kept_offset.save(taught, learnt_store.learnt_file(station_file))
    return "Kept; every forecast uses it from now on."


def switch(station_file: str) -> str:
    """Switch the use of the saved offsets on or off. Return a sentence."""
    kept = kept_offset.switch(learnt_store.learnt_file(station_file))
    if kept is None:
        return "Nothing is kept about this station yet."
    return "The forecast uses what was learnt." if kept.on else "The forecast leaves out what was learnt."


def forget(station_file: str) -> str:
    """Delete what was learnt. Return a sentence."""
    there = kept_offset.forget(learnt_store.learnt_file(station_file))
    return (
        "What was learnt about this station is forgotten."
        if there
        else "Nothing was kept about this station."
    )
