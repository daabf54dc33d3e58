"""Everything the screens say, in sentences made from the finished results; no numbers are invented here.

The same sentences serve the pictures, the words screen and `--plain`. Plain English, the trade's own terms.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from propagation.base.units import BoolArray, FloatArray, TimeArray
from propagation.signal.causes import CAUSES, CODE
from tui import flow

if TYPE_CHECKING:
    from tui.views import DayView, SunDay, Window

WORKING: Final = "Working out the day ..."
WORTH_A_TRY: Final = 0.5  # share of days from which a band is called likely
FAINT_HOPE: Final = 0.1  # below this a band is not proposed, not even while no band has a window

CAUSE_SHORT: Final[dict[str, str]] = {
    "open": "open",
    "above the MUF": "above the MUF",
    "skip zone": "skipped over",
    "absorption": "absorbed",
    "E screening": "E layer in front",
    "noise": "under the noise",
    "antenna": "lost in antenna",
    "power": "too few watts",
    "auroral zone": "auroral loss",
    "storm": "storm",
    "flare": "flare",
    "licence": "not allowed",
    "antenna range": "does not tune",
    "horizon": "behind the hill",
    "distance": "out of range",
    "mode": "mode asks much",
}

CAUSE_SENTENCE: Final[dict[str, str]] = {
    "open": "nothing stands in the way",
    "above the MUF": "the frequency is above what the layers can turn back",
    "skip zone": "the first hop comes down beyond the target",
    "absorption": "the daylight layer below eats the signal",
    "E screening": "the E layer stands in front of the F2 layer",
    "noise": "the signal arrives, but under the noise",
    "antenna": "the antenna loses what would have been enough",
    "power": "a few more watts would have made it",
    "auroral zone": "the auroral zone takes its toll",
    "storm": "the storm has thinned the layer",
    "flare": "the flare has deepened the absorption",
    "licence": "the licence or the region does not allow it",
    "antenna range": "the antenna cannot be tuned there",
    "horizon": "the signal would have to leave below the skyline",
    "distance": "too far for ground wave, and no layer helps",
    "mode": "the mode needs a strong signal",
}


# -- small pieces ------------------------------------------------------------------------------


def clock(when: np.datetime64) -> str:
    """A moment as HH:MM."""
    return str(when.astype("datetime64[m]"))[11:16]


def date(when: np.datetime64) -> str:
    """A moment's date, ISO."""
    return str(when.astype("datetime64[D]"))


_MONTHS: Final = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"]
_WEEKDAYS: Final = ["Thu", "Fri", "Sat", "Sun", "Mon", "Tue", "Wed"]  # 1970-01-01 was a Thursday


def day_title(when: np.datetime64) -> str:
    """A date for people: Sat 14 Mar 2026."""
    day = when.astype("datetime64[D]")
    year, month, number = str(day).split("-")
    return f"{_WEEKDAYS[int(day.astype(np.int64)) % 7]} {int(number)} {_MONTHS[int(month) - 1]} {year}"


def band_name(band: str) -> str:
    """The band as the trade writes it: 20 m."""
    return f"{band[:-1]} m" if band.endswith("m") else band


def percent(share: float) -> str:
    """A share as whole per cent, without sign; below one it says so."""
    if not np.isfinite(share):
        return "-"
    return "<1" if 0.0 < share < 0.005 else f"{round(share * 100)}"


def days_in_ten(share: float) -> str:
    """A share of days in words."""
    if not np.isfinite(share):
        return "unknown"
    if share < 0.05:
        return "hardly ever"
    if share >= 0.95:
        return "nearly every day"
    tenths = max(1, round(share * 10))
    return "every day" if tenths == 10 else f"{tenths} day{'s' if tenths > 1 else ''} in ten"


def days_in_ten_short(share: float) -> str:
    """A share of days as tenths: 8/10."""
    return f"{round(share * 10)}/10" if np.isfinite(share) else "-"


def kilometres(km: float) -> str:
    """A distance with a thin thousands mark."""
    return f"{round(km):,} km"


def bearing(deg: float) -> str:
    """A bearing in three figures."""
    return f"{round(deg) % 360:03d}"


def angle_short(deg: float) -> str:
    """The take-off angle, short."""
    if np.isfinite(deg) and round(deg) <= 0:
        return "along the ground"
    return f"leaves at {round(deg)} deg" if np.isfinite(deg) else "open"


def watts(power_w: float) -> str:
    """Power with as many figures as matter."""
    return f"{power_w:.0f} W" if power_w >= 10 else f"{power_w:.1f} W"


def signed_db(db: float) -> str:
    """A level with its sign and one decimal."""
    text = f"{db:+.1f}".replace("-", "−")
    return "0.0" if text[1:] == "0.0" else text


def megahertz(mhz: float) -> str:
    """A frequency as the trade writes it."""
    return f"{mhz:.3f} MHz"


def sun_short(sun: SunDay, room: int = 40) -> str:
    """Rise and set in a few signs."""
    if sun.polar == "day":
        return "sun all day"
    if sun.polar == "night":
        return "no sun today"
    up = clock(sun.rise) if sun.rise is not None else "--:--"
    down = clock(sun.set) if sun.set is not None else "--:--"
    long = f"up {up} down {down}"
    return long if len(long) <= room else f"{up} {down}"


# -- the day -----------------------------------------------------------------------------------


def reached(view: DayView, share: float) -> str:
    """A chance in words: days for a place, the part within reach for a region."""
    if not view.region:
        return days_in_ten(share)
    return f"{percent(share)} per cent of it in reach"


@dataclass(frozen=True, slots=True)
class Move:
    """A moment at which another band becomes the one to use."""

    when: np.datetime64
    band: str | None  # None: nothing is worth the try
    chance: float


def holds(window: Window, times: TimeArray) -> BoolArray:
    """Whether a window holds, at each time; one that does not close holds at its last moment too."""
    inside: BoolArray = (times >= window.start) & ((times < window.end) | (not window.closes))
    return inside


def window_span(window: Window) -> str:
    """From when until when a window is open, as far as the times shown tell."""
    if window.opens and window.closes:
        return f"open {clock(window.start)}-{clock(window.end)}"
    if window.closes:
        return f"open till {clock(window.end)}"
    return f"open from {clock(window.start)}" if window.opens else "open all day"


def candidates(view: DayView) -> FloatArray:
    """The chance of every band and time (B, T) inside its windows, nought outside: a band is proposed in a
    window. At times at which no band has one, those between two windows of theirs stand in.
    """
    open_now = np.zeros(view.chance.shape, dtype=np.bool_)
    for window in view.windows:
        if window.band in view.bands:
            open_now[view.bands.index(window.band)] |= holds(window, view.times)
    chance = np.nan_to_num(view.chance)
    between = ~open_now.any(axis=0) & (chance >= FAINT_HOPE)
    inside: FloatArray = np.where(open_now | between, chance, 0.0)
    return inside


def best_band(view: DayView, index: int) -> int | None:
    """The band with the best chance at a time, of those that have a window then."""
    chance = candidates(view)[:, index]
    return int(chance.argmax()) if chance.size and float(chance.max()) > 0.0 else None


def window_at(view: DayView, band: int, index: int) -> Window | None:
    """The window of a band that holds at a time: where two overlap, the better."""
    name, when = view.bands[band], view.times[index : index + 1]
    holding = [one for one in view.windows if one.band == name and holds(one, when)[0]]
    return max(holding, key=lambda one: one.chance, default=None)


def moves(view: DayView, start: int = 0, keep: float = 0.1) -> list[Move]:
    """The bands to use from a time on: one stays until another is better by `keep`, or its window closes."""
    inside = candidates(view)
    if not inside.size:
        return [Move(view.times[start], None, 0.0)]
    top = inside.argmax(axis=0)
    best = [int(row) if inside[row, column] > 0.0 else None for column, row in enumerate(top.tolist())]
    held = best[start]
    out = [_move(view, start, held, view.times[start])]
    for index in range(start + 1, view.times.shape[0]):
        new = best[index]
        if new == held:
            continue
        now = 0.0 if held is None else float(inside[held, index])
        then = 0.0 if new is None else float(inside[new, index])
        if now <= 0.0 or then > now + keep:
            out.append(_move(view, index, new, _moment(view, index, held, new, now <= 0.0)))
            held = new
    return out


def _moment(view: DayView, index: int, held: int | None, new: int | None, closed: bool) -> np.datetime64:
    """When a move really comes: as a window closes or opens, else at the step itself."""
    before, at = view.times[index - 1], view.times[index]

    def edges(band: int | None, of: str) -> list[np.datetime64]:
        name = view.bands[band] if band is not None else ""
        found = [getattr(one, of) for one in view.windows if one.band == name]
        return [edge for edge in found if before < edge <= at]

    ends = edges(held, "end") if closed else []
    inside = ends or edges(new, "start")
    return max(inside) if inside else at


def _move(view: DayView, index: int, band: int | None, when: np.datetime64) -> Move:
    if band is None:
        return Move(when, None, 0.0)
    return Move(when, view.bands[band], float(view.chance[band, index]))


@dataclass(frozen=True, slots=True)
class Answer:
    """The answer at a time: the one big word, and the lines beside it."""

    band: str | None
    lines: tuple[str, ...]


def answer(view: DayView, index: int) -> Answer:
    """Which band, until when, what next, how to set the antenna; from the finished day alone."""
    plan = moves(view, index)
    first = plan[0]
    following = plan[1] if len(plan) > 1 else None
    if first.band is None:
        strongest = int(np.nan_to_num(view.chance[:, index]).argmax())
        cause = CAUSES[int(view.cause[strongest, index])]
        opens = (
            f"First hope: {band_name(following.band)} at {clock(following.when)}."
            if following and following.band
            else "No band opens later in this day."
        )
        when, name = clock(view.times[index]), band_name(view.bands[strongest])
        if view.region:
            whom = "the world's amateurs" if view.target == "anyone" else view.target
            share = percent(float(view.chance[strongest, index]))
            nothing = f"Under a tenth of {whom} in reach at {when}."
            most = f"Most of them now on {name}: {share} per cent."
            return Answer(None, (nothing, opens, most))
        nothing = f"Nothing to {view.target} at {when}."
        return Answer(None, (nothing, opens, f"{name}: {CAUSE_SENTENCE[cause]}."))
    band = view.bands.index(first.band)
    chance = float(view.chance[band, index])
    until = f"until {clock(following.when)}" if following else "all day"
    if following is None:
        then = ""
    elif following.band is None:
        then = ", then nothing"
    else:
        then = f", then {band_name(following.band)}"
    elevation = float(view.elevation_deg[band, index])
    way = "the long way" if int(view.route[band, index]) else "the short way"
    if np.isfinite(elevation):
        way = "along the ground" if round(elevation) <= 0 else f"{way}, leaving at {round(elevation)} degrees"
    doubt = "" if chance >= WORTH_A_TRY else "only "
    what = f"{doubt}{reached(view, chance)}"
    setup = view.setup[band] if band < len(view.setup) else ""
    window = window_at(view, band, index)
    span = f"; {window_span(window)}, best {clock(window.peak)}" if window else ""
    return Answer(
        first.band,
        (
            f"{until}{then}{span}",
            f"{what}, {way}",
            setup or f"{megahertz(float(view.frequency_mhz[band]))}, {view.mode}, {watts(view.power_w)}",
        ),
    )


def next_changes(view: DayView, index: int, count: int = 3) -> list[str]:
    """The next changes of band, one sentence each."""
    out = []
    for move in moves(view, index)[1 : count + 1]:
        if move.band is None:
            out.append(f"{clock(move.when)}  nothing worth the try")
        else:
            band = view.bands.index(move.band)
            at = min(int(np.searchsorted(view.times, move.when)), view.times.shape[0] - 1)
            window = window_at(view, band, at)
            later = window is not None and window.peak > move.when
            tail = f", best {clock(window.peak)}" if window is not None and later else ""
            best = window.chance if window is not None and later else move.chance
            out.append(f"{clock(move.when)}  to {band_name(move.band)}, {reached(view, best)}{tail}")
    return out


def changes_in_a_line(view: DayView, index: int, count: int = 4) -> str:
    """The next changes on one line."""
    found = moves(view, index)[1 : count + 1]
    if not found:
        return "No further change in this day."
    return "Then " + ",  ".join(
        f"{clock(move.when)} {band_name(move.band) if move.band else 'nothing'}" for move in found
    )


def left_out_line(view: DayView) -> str:
    """The bands that are not shown, with the reason, on one line."""
    by_reason: dict[str, list[str]] = {}
    for band, reason in view.left_out:
        by_reason.setdefault(reason, []).append(band_name(band))
    return "not shown: " + "; ".join(f"{', '.join(names)}, {reason}" for reason, names in by_reason.items())


def antenna_line(view: DayView, band: int) -> str:
    """What the antenna does on a band, in one line."""
    if not view.radiated_share.size or not np.isfinite(view.radiated_share[band]):
        return ""
    share = float(view.radiated_share[band])
    leaves = f"{share * 100:.0f}" if share >= 0.1 else f"{share * 100:.1f}"
    setup = view.setup[band] if band < len(view.setup) else ""
    return f"Antenna on {band_name(view.bands[band])}: {leaves} of 100 W reach the sky" + (
        f"; {setup}" if setup else ""
    )


def band_state(view: DayView, band: int, index: int) -> str:
    """One band at one time, as a sentence."""
    chance = float(view.chance[band, index])
    cause = CAUSES[int(view.cause[band, index])]
    why = "" if cause == "open" else f"; {CAUSE_SENTENCE[cause]}"
    return f"{band_name(view.bands[band])} at {clock(view.times[index])}: {reached(view, chance)}{why}."


def day_sentences(view: DayView, index: int) -> list[str]:
    """The whole opening screen as plain sentences."""
    found = answer(view, index)
    far = "" if view.region else f", {kilometres(view.distance_km)}, bearing {bearing(view.bearing_deg)}"
    day = day_title(view.times[index])
    out = [f"{view.site} to {view.target}{far}; {day}, {view.mode}, {watts(view.power_w)}."]
    if view.demo:
        out.append("This is the demo station; make your own with: bandwhen station new")
    lines = list(found.lines)
    if found.band:
        lines[0] = f"{band_name(found.band)} {lines[0]}"
    out.append(f"At {clock(view.times[index])} UTC: " + " ".join(flow.sentence(line) for line in lines))
    for line in next_changes(view, index):
        when, _, what = line.partition("  ")
        out.append(f"At {when} {what}.")
    out.extend(f"Sun {sun.place}: {sun_short(sun)} UTC." for sun in (view.home, view.far))
    for band, name in enumerate(view.bands):
        parts = [
            f"{window_span(one)}, best {clock(one.peak)} ({reached(view, one.chance)})"
            for one in sorted(view.windows, key=lambda one: one.start)
            if one.band == name
        ]
        if parts:
            out.append(f"{band_name(name)}: {'; '.join(parts)}.")
        else:
            peak = int(np.nan_to_num(view.chance[band]).argmax())
            cause = CAUSES[_commonest_cause(view, band)]
            out.append(
                f"{band_name(name)}: at best {reached(view, float(view.chance[band, peak]))}; mostly "
                f"{CAUSE_SENTENCE[cause]}."
            )
    out.extend(f"{band_name(name)}: left out, {reason}." for name, reason in view.left_out)
    if view.sky_line:
        out.append(view.sky_line + ".")
    return out


def _commonest_cause(view: DayView, band: int) -> int:
    counts = np.bincount(view.cause[band], minlength=len(CAUSES))
    counts[CODE["open"]] = 0
    return int(counts.argmax())


# -- the demo, modes, work --------

DEMO_SHORT: Final = "DEMO station. Your own: key s, or: bandwhen station new"
DEMO_LONG: Final = (
    "This is the demo: an invented station on a ridge in KwaZulu-Natal. Make your own with s here, or with"
    " the command: bandwhen station new"
)

MODE_SAYS: Final[dict[str, str]] = {
    "SSB": "voice",
    "CW": "Morse by ear",
    "FM": "frequency-modulated voice",
    "DIGITAL": "narrow digital, for weak signals",
}
