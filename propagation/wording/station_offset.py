"""Sentences on the station offset learnt from a log, and the checks it suggests."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

from propagation.logbook import kept_offset as of
from propagation.wording.quantities import band_title, counted, listed, nearest

if TYPE_CHECKING:
    from propagation.logbook.kept_offset import Learnt, LearntBand
    from propagation.logbook.review import Review
    from propagation.station.station import Station


COVERED: Final = (
    "Of three stations with such a log some two are within the figure after ±. It covers the days, the "
    "other stations' powers and reports that saturate, not what the model has wrong on all paths alike."
)
SHARED: Final = (
    "All bands show this: look first at what they share, the feed line, its plugs, the noise at the site, "
    "the power that really leaves the rig."
)


def learnt_words(learnt: Learnt, found: Review | None = None) -> list[str]:
    """Station offset band by band; or the reason why there is none."""
    refused = of.no_lesson(learnt)
    if refused is not None:
        return [no_lesson_words(learnt, refused)]
    told = [one for one in of.known(learnt) if not one.at_bound]
    beyond = [one for one in of.known(learnt) if one.at_bound]
    lines = [f"By the log the station is {', and '.join(_against_the_model(told))}"]
    if beyond:
        lines.append(_beyond_words(beyond))
    if learnt.days == 1:
        lines.append(
            "This is one day, and the state of its ionosphere is part of every report: the log of "
            "another outing would reduce the uncertainty."
        )
    lines.append(COVERED)
    if found is not None:
        lines += _checks(learnt, found.station)
    return lines


def _beyond_words(bands: Sequence[LearntBand]) -> str:
    """Bands whose reports are farther from the model than a log can teach."""
    worse = bands[0].offset_db < 0.0
    some = [one for one in bands if (one.offset_db < 0.0) == worse]
    by = nearest(min(abs(one.offset_db) for one in some))
    text = (
        f"On {listed([band_title(one.band) for one in some])} the reports are {by:.0f} dB or more "
        f"{'below' if worse else 'above'} the model. That is the limit of what a log can teach, so it is no "
        f"measurement, and nothing of it is kept: check the power, the place and the antenna that the "
        f"station file and the log give"
    )
    rest = [one for one in bands if one not in some]
    return f"{text}. {_beyond_words(rest)}" if rest else text


def no_lesson_words(learnt: Learnt, why: of.NoLesson) -> str:
    """Reason why a log gives no station offset."""
    if why == "no reports":
        return (
            "The log teaches nothing about the station: it has no strength reports under 9 and none in "
            "decibels, and a contact by itself only shows that the path was open."
        )
    if why == "one report":
        return (
            "One usable report teaches nothing about the station: it depends as much on the other station's "
            "antenna and noise as on yours."
        )
    if why == "at bound":
        return _beyond_words(of.known(learnt))
    return (
        f"The log's {counted(learnt.used, 'entry', 'entries')} with a usable report are too few, or too far "
        f"from the forecast, to assess the station."
    )


def refusal(learnt: Learnt) -> str:
    """Reason why nothing is stored from a log; empty where there is an offset."""
    why = of.no_lesson(learnt)
    return f"Nothing is kept. {no_lesson_words(learnt, why)}" if why is not None else ""


def _against_the_model(told: Sequence[LearntBand]) -> list[str]:
    clear = [one for one in told if of.stands_out(one)]
    parts = []
    for word, some in (
        ("worse", [one for one in clear if one.offset_db < 0.0]),
        ("better", [one for one in clear if one.offset_db > 0.0]),
    ):
        if some:
            by = [f"{_offset(group)} on {_names(group)} ({_doubt(group)})" for group in of.agreeing(some)]
            parts.append(f"{word} than the model by {listed(by)}")
    alike = [one for one in told if one not in clear]
    if alike:
        doubt = nearest(max(one.sd_db for one in alike))
        parts.append(f"on {_names(alike)} equal to the model within {doubt:.0f} dB")
    return parts


def _names(bands: Sequence[LearntBand]) -> str:
    return listed([band_title(one.band) for one in bands])


def _offset(bands: Sequence[LearntBand]) -> str:
    """Offset of bands that agree, to the decibel: no log is more exact."""
    sizes = [nearest(abs(one.offset_db)) for one in bands]
    low, high = min(sizes), max(sizes)
    return f"{low:.0f} dB" if low == high else f"{low:.0f} to {high:.0f} dB"


def _doubt(bands: Sequence[LearntBand]) -> str:
    return f"± {nearest(max(one.sd_db for one in bands)):.0f}"


def remarks(learnt: Learnt, station: Station) -> list[str]:
    """Remarks next to the antenna: where the log and the model differ significantly, and what to check.

    Bands that agree, with the same advice, share a sentence.
    """
    lines = [
        f"Your log says {_offset(group)} {'better' if group[0].offset_db > 0.0 else 'worse'} on "
        f"{_names(group)} than the model ({_doubt(group)}){advice or '.'}"
        for advice, bands in _advised(learnt, station).items()
        for group in of.agreeing(bands)
    ]
    return [*lines, SHARED] if of.all_worse(learnt) else lines


def _checks(learnt: Learnt, station: Station) -> list[str]:
    """What to check where the log and the model differ, after a sentence that says by how much."""
    if of.all_worse(learnt):
        return [SHARED]
    return [f"On {_names(bands)}{advice}" for advice, bands in _advised(learnt, station).items()]


def _advised(learnt: Learnt, station: Station) -> dict[str, list[LearntBand]]:
    """Bands that differ from the model, by the advice; none to each where a common cause is likely."""
    shared = of.all_worse(learnt)
    advised: dict[str, list[LearntBand]] = {}
    for one in of.worth_telling(learnt):
        advised.setdefault("" if shared else _advice(one, station), []).append(one)
    return advised


def _advice(one: LearntBand, station: Station) -> str:
    """Where to look, as the end of a sentence."""
    if one.offset_db > 0.0:
        return ": the ground, the site or the noise are better than the station file says."
    if of.by_radials(one.band, station):
        return ": look at the radials, and at the coil's joints."
    return ": look at the feed line, the match, and the noise at the site."
