"""Sentences on the station offset learnt from a log, and the checks it suggests."""

from __future__ import annotations

from typing import TYPE_CHECKING

from propagation.logbook import kept_offset as of
from propagation.wording.quantities import band_title, counted, listed, nearest

if TYPE_CHECKING:
    from propagation.logbook.kept_offset import Learnt, LearntBand
    from propagation.logbook.review import Review
    from propagation.station.station import Station


def learnt_words(learnt: Learnt, found: Review | None = None) -> list[str]:
    """Station offset band by band; or the reason why there is none."""
    refused = of.no_lesson(learnt)
    if refused is not None:
        return [no_lesson_words(learnt, refused)]
    told = of.known(learnt)
    lines = [f"By the log the station is {', and '.join(_against_the_model(told))}"]
    if learnt.days == 1:
        lines.append(
            "This is one day, and the state of its ionosphere is part of every report: the log of "
            "another outing would reduce the uncertainty."
        )
    if found is not None:
        lines += remarks(learnt, found.station)
    return lines


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
    return (
        f"The log's {counted(learnt.used, 'entry', 'entries')} with a usable report are too few, or too far "
        f"from the forecast, to assess the station."
    )


def refusal(learnt: Learnt) -> str:
    """Reason why nothing is stored from a log; empty where there is an offset."""
    why = of.no_lesson(learnt)
    return f"Nothing is kept. {no_lesson_words(learnt, why)}" if why is not None else ""


def _against_the_model(told: tuple[LearntBand, ...]) -> list[str]:
    clear = [one for one in told if of.stands_out(one)]
    parts = []
    for word, some in (
        ("worse", [one for one in clear if one.offset_db < 0.0]),
        ("better", [one for one in clear if one.offset_db > 0.0]),
    ):
        if some:
            by = [f"{_offset(one)} on {band_title(one.band)} ({_doubt(one)})" for one in some]
            parts.append(f"{word} than the model by {listed(by)}")
    alike = [one for one in told if one not in clear]
    if alike:
        bands = listed([band_title(one.band) for one in alike])
        doubt = nearest(max(one.sd_db for one in alike))
        parts.append(f"on {bands} equal to the model within {doubt:.0f} dB")
    return parts


def _offset(one: LearntBand) -> str:
    """Offset to the decibel: no log is more exact."""
    return f"{nearest(abs(one.offset_db)):.0f} dB"


def _doubt(one: LearntBand) -> str:
    return f"± {nearest(one.sd_db):.0f}"


def remarks(learnt: Learnt, station: Station) -> list[str]:
    """Remarks next to the antenna: where the log and the model differ significantly, and what to check."""
    lines = [_remark(one, station) for one in of.worth_telling(learnt)]
    if of.all_worse(learnt):
        lines.append(
            "All bands show this: look first at what they share, the feed line, its plugs, the noise "
            "at the site, the power that really leaves the rig."
        )
    return lines


def _remark(one: LearntBand, station: Station) -> str:
    better = one.offset_db > 0.0
    start = (
        f"Your log says {_offset(one)} {'better' if better else 'worse'} on {band_title(one.band)}"
        f" than the model ({_doubt(one)})"
    )
    if better:
        return f"{start}: the ground, the site or the noise are better than the station file says."
    if of.by_radials(one.band, station):
        return f"{start}: look at the radials, and at the coil's joints."
    return f"{start}: look at the feed line, the match, and the noise at the site."
