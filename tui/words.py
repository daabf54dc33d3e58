"""Everything the screens say, in sentences made from the finished results; no numbers are invented here.

The same sentences serve the pictures, the words screen and `--plain`. Plain English, the trade's own terms.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from propagation.causes import CAUSES, CODE
from tui.views import (
    BenchBand,
    BenchView,
    CausesView,
    DayView,
    HopView,
    LedgerView,
    MapView,
    PlanView,
    ReachView,
    SkedView,
    SkipView,
    SkyView,
    SunDay,
    WhyView,
)

WORKING: Final = "Working out the day ..."
WORTH_A_TRY: Final = 0.5  # share of days from which a band is called likely
FAINT_HOPE: Final = 0.1  # below this a band is not proposed at all

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
}


# -- small pieces ----------------------------------------------------------------------------------------------


def clock(when: np.datetime64) -> str:
    """A moment as HH:MM."""
    return str(when.astype("datetime64[m]"))[11:16]


def date(when: np.datetime64) -> str:
    """A moment's date, ISO."""
    return str(when.astype("datetime64[D]"))


_MONTHS: Final = "Jan Feb Mar Apr May Jun Jul Aug Sep Oct Nov Dec".split()
_WEEKDAYS: Final = "Thu Fri Sat Sun Mon Tue Wed".split()  # 1970-01-01 was a Thursday


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


_POINTS: Final = "N NNE NE ENE E ESE SE SSE S SSW SW WSW W WNW NW NNW".split()


def compass(deg: float) -> str:
    """A bearing as a compass point."""
    return _POINTS[int((deg % 360.0) / 22.5 + 0.5) % 16]


def angle_short(deg: float) -> str:
    """The take-off angle, short."""
    return f"leaves at {round(deg)} deg" if np.isfinite(deg) else "open"


def watts(power_w: float) -> str:
    """Power with as many figures as matter."""
    return f"{power_w:.0f} W" if power_w >= 10 else f"{power_w:.1f} W"


def signed_db(db: float) -> str:
    """A level with its sign and one decimal."""
    return f"{db:+.1f}".replace("-", "−")


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


# -- the day ---------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Move:
    """A moment at which another band becomes the one to use."""

    when: np.datetime64
    band: str | None  # None: nothing is worth the try
    chance: float


def best_band(view: DayView, index: int) -> int | None:
    """The band with the best chance at a time, if any is worth proposing."""
    chance = np.nan_to_num(view.chance[:, index])
    if chance.size == 0 or float(chance.max()) < FAINT_HOPE:
        return None
    return int(chance.argmax())


def moves(view: DayView, start: int = 0, keep: float = 0.1) -> list[Move]:
    """The bands to use from a time on: one stays until another is better by `keep`, or it falls away itself."""
    out: list[Move] = []
    held = best_band(view, start)
    out.append(_move(view, start, held))
    for index in range(start + 1, view.times.shape[0]):
        best = best_band(view, index)
        if best == held:
            continue
        now = 0.0 if held is None else float(view.chance[held, index])
        then = 0.0 if best is None else float(view.chance[best, index])
        if best is None or held is None or now < FAINT_HOPE or then > now + keep:
            held = best
            out.append(_move(view, index, held))
    return out


def _move(view: DayView, index: int, band: int | None) -> Move:
    if band is None:
        return Move(view.times[index], None, 0.0)
    return Move(view.times[index], view.bands[band], float(view.chance[band, index]))


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
        return Answer(
            None,
            (
                f"Nothing to {view.target} at {clock(view.times[index])}.",
                opens,
                f"{band_name(view.bands[strongest])}: {CAUSE_SENTENCE[cause]}.",
            ),
        )
    band = view.bands.index(first.band)
    chance = float(view.chance[band, index])
    until = f"until {clock(following.when)}" if following else "to the end of the day"
    if following is None:
        then = ""
    elif following.band is None:
        then = ", then nothing"
    else:
        then = f", then {band_name(following.band)}"
    route = "long way round" if int(view.route[band, index]) else "short way"
    elevation = float(view.elevation_deg[band, index])
    leaves = f", leaving at {round(elevation)} degrees" if np.isfinite(elevation) else ""
    doubt = "" if chance >= WORTH_A_TRY else "only "
    what = f"{doubt}{days_in_ten(chance)}"
    setup = view.setup[band] if band < len(view.setup) else ""
    return Answer(
        first.band,
        (
            f"{until}{then}",
            f"{view.target}: {what}, {route}{leaves}",
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
            at = view.index_of(move.when)
            peak = at + int(np.nan_to_num(view.chance[band, at:]).argmax())
            best = float(view.chance[band, peak])
            tail = f", best {clock(view.times[peak])}" if peak != at else ""
            out.append(f"{clock(move.when)}  to {band_name(move.band)}, {days_in_ten(best)}{tail}")
    return out


def changes_in_a_line(view: DayView, index: int, count: int = 4) -> str:
    """The next changes on one line."""
    found = moves(view, index)[1 : count + 1]
    if not found:
        return "No further change in this day."
    return "Then " + ",  ".join(f"{clock(move.when)} {band_name(move.band) if move.band else 'nothing'}" for move in found)


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
    return f"{band_name(view.bands[band])} at {clock(view.times[index])}: {days_in_ten(chance)}{why}."


def day_heading(view: DayView) -> str:
    """Who, to whom, how far."""
    where = "" if view.region else f"  {kilometres(view.distance_km)}  bearing {bearing(view.bearing_deg)}"
    return f"{view.site} → {view.target}{where}"


def spans(
    view: DayView, band: int, floor: float = WORTH_A_TRY
) -> list[tuple[np.datetime64, np.datetime64, float]]:
    """Stretches of the day with at least `floor`, as (start, end, best chance)."""
    good = np.nan_to_num(view.chance[band]) >= floor
    edges = np.flatnonzero(np.diff(np.concatenate(([False], good, [False])).astype(np.int8)))
    step = view.times[1] - view.times[0] if view.times.shape[0] > 1 else np.timedelta64(0, "s")
    return [
        (view.times[a], view.times[b - 1] + step, float(view.chance[band, a:b].max()))
        for a, b in zip(edges[::2], edges[1::2], strict=True)
    ]


def day_sentences(view: DayView, index: int) -> list[str]:
    """The whole opening screen as plain sentences."""
    found = answer(view, index)
    out = [f"{day_heading(view)}, {day_title(view.times[index])}, {view.mode}, {watts(view.power_w)}."]
    if view.demo:
        out.append("This is the demo station; make your own with: bandwhen station new")
    head = f"{band_name(found.band)} " if found.band else ""
    out.append(f"At {clock(view.times[index])} UTC: {head}{'. '.join(found.lines)}.".replace("..", "."))
    out.extend(f"At {line.replace('  ', ': ')}." for line in next_changes(view, index))
    for sun in (view.home, view.far):
        out.append(f"Sun at {sun.place}: {sun_short(sun)} UTC.")
    for band, name in enumerate(view.bands):
        parts = [f"{clock(a)} to {clock(b)} ({days_in_ten(best)})" for a, b, best in spans(view, band)]
        if parts:
            out.append(f"{band_name(name)}: {', '.join(parts)}.")
        else:
            peak = int(np.nan_to_num(view.chance[band]).argmax())
            cause = CAUSES[_commonest_cause(view, band)]
            out.append(
                f"{band_name(name)}: at best {days_in_ten(float(view.chance[band, peak]))}; mostly {CAUSE_SENTENCE[cause]}."
            )
    out.extend(f"{band_name(name)}: left out, {reason}." for name, reason in view.left_out)
    if view.sky_line:
        out.append(view.sky_line + ".")
    return out


def _commonest_cause(view: DayView, band: int) -> int:
    counts = np.bincount(view.cause[band], minlength=len(CAUSES))
    counts[CODE["open"]] = 0
    return int(counts.argmax())


# -- why ---------------------------------------------------------------------------------------------------------


def hop_title(view: HopView) -> str:
    """Band, hour and way, short."""
    way = "" if view.route == "short" else ", long way"
    return f"{band_name(view.band)} at {clock(view.time)}{way}"


def hop_sentences(view: HopView) -> list[str]:
    """The cross-section in words."""
    out = [
        f"{band_name(view.band)}, {megahertz(view.frequency_mhz)}, {clock(view.time)} UTC: {view.site} to {view.target}, {kilometres(view.total_km)}, {view.route} way."
    ]
    sea = float(view.sea.mean()) if view.sea.size else 0.0
    lit = float((view.sun_elevation_deg > 0).mean()) if view.sun_elevation_deg.size else 0.0
    out.append(f"{round(lit * 10)} tenths of the path lie in daylight, {round(sea * 10)} tenths over sea.")
    for ray in view.rays:
        landings = ", ".join(kilometres(km) for km in ray.landing_km)
        out.append(f"{ray.name} leaves at {round(ray.take_off_deg)} degrees and comes down at {landings}.")
    if not view.rays:
        out.append("No layer turns this frequency back.")
    if view.skip_km is not None and view.skip_km > 0:
        out.append(f"Dead zone out to {kilometres(view.skip_km)}.")
    if view.muf_mhz is not None:
        out.append(f"The path carries up to {view.muf_mhz:.1f} MHz at this hour.")
    if view.note:
        out.append(view.note)
    return out


def ledger_sentences(view: LedgerView) -> list[str]:
    """The ledger, a line each, and its sum."""
    out = [
        f"{term.name}: {signed_db(term.db)} dB{f' ({term.note})' if term.note else ''}."
        for term in view.terms
    ]
    out.append(f"Together, {view.total_name}: {signed_db(view.total_db)} dB.")
    return out


def causes_sentences(view: CausesView) -> list[str]:
    """Causes by weight and what would change it."""
    out = [f"The chance is {percent(view.chance)} per cent."]
    out.extend(
        f"{percent(weight)} per cent of what is missing: {CAUSE_SENTENCE[cause]}."
        for cause, weight in view.causes
    )
    out.extend(f"With {change}: {percent(chance)} per cent." for change, chance in view.changes)
    return out


def why_sentences(view: WhyView) -> list[str]:
    """The whole why screen."""
    out = hop_sentences(view.hop) if view.hop is not None else []
    out += ledger_sentences(view.ledger) + causes_sentences(view.causes)
    if view.other_way:
        out.append(view.other_way)
    return out


# -- reach -------------------------------------------------------------------------------------------------------


def skip_sentences(view: SkipView) -> list[str]:
    """The rulers in words: dead zone, and how far each band comes down."""
    out = [
        f"Towards bearing {bearing(view.bearing_deg)} ({compass(view.bearing_deg)}) at {clock(view.time)} UTC."
    ]
    for band, name in enumerate(view.bands):
        good = np.nan_to_num(view.share[band]) >= WORTH_A_TRY
        if not good.any():
            best = float(np.nan_to_num(view.share[band]).max(initial=0.0))
            out.append(f"{band_name(name)}: nothing comes down reliably (at best {days_in_ten(best)}).")
            continue
        reach = view.distance_km[good]
        skip = float(view.skip_km[band])
        dead = f", dead zone out to {kilometres(skip)}" if np.isfinite(skip) and skip > 50 else ""
        out.append(
            f"{band_name(name)}: comes down from {kilometres(float(reach[0]))} to {kilometres(float(reach[-1]))}{dead}."
        )
    if view.target_km is not None:
        out.append(f"{view.target} stands at {kilometres(view.target_km)}.")
    return out


def map_sentences(view: MapView) -> list[str]:
    """The map in words."""
    lit = float((view.sun_elevation_deg > 0).mean())
    out = [
        f"World at {clock(view.time)} UTC, {band_name(view.band)}; {round(lit * 100)} per cent of this picture lies in daylight."
    ]
    for name, lat, lon in view.targets:
        out.append(
            f"{name} at {abs(lat):.1f} {'N' if lat >= 0 else 'S'}, {abs(lon):.1f} {'E' if lon >= 0 else 'W'}."
        )
    if view.share is not None:
        out.append(
            f"The band comes down on {round(float((view.share >= 0.5).mean()) * 100)} per cent of the picture on at least 5 days in ten."
        )
    return out


def reach_sentences(view: ReachView) -> list[str]:
    """The whole reach screen."""
    return skip_sentences(view.skip) + map_sentences(view.map)


# -- bench -------------------------------------------------------------------------------------------------------

SHARE_SAYS: Final[dict[str, str]] = {
    "radiated": "sky",
    "coil": "coil",
    "earth": "earth",
    "coax": "coax",
    "mismatch": "mismatch",
}


def share_figure(share: float) -> str:
    """A share of 100 W as watts."""
    watt = share * 100
    return f"{watt:.0f}" if watt >= 9.5 else f"{watt:.1f}"


def setup_line(band: BenchBand) -> str:
    """How to set up for a band, in a few words."""
    parts = []
    if band.coil_uh is not None:
        parts.append("no coil" if band.coil_uh <= 0 else f"coil {band.coil_uh:.1f} uH")
    if band.radials:
        parts.append(band.radials)
    if band.centre_on_mhz is not None:
        parts.append(f"centre on {band.centre_on_mhz:.3f}")
    return ", ".join(parts)


def bench_sentences(view: BenchView) -> list[str]:
    """The whole bench."""
    out = [f"{view.antenna}. {view.ground}."]
    for band in view.bands:
        spent = ", ".join(
            f"{share_figure(share)} {SHARE_SAYS.get(name, name)}" for name, share in band.shares
        )
        width = f"; SWR under 2 over {band.swr_2_khz:.0f} kHz" if band.swr_2_khz is not None else ""
        limit = (
            f"; at most {watts(band.power_limit_w)} ({band.limit_by})"
            if band.power_limit_w is not None
            else ""
        )
        out.append(
            f"{band_name(band.band)}: of 100 W, {spent} ({band.basis}). {setup_line(band)}{width}{limit}."
        )
    out.extend(f"{change}: {signed_db(db)} dB on {band_name(band)}." for change, band, db in view.help)
    out.extend(view.cautions)
    return out


# -- sky, plan, appointment -----------------------------------------------------------------------------------------


def sky_sentences(view: SkyView) -> list[str]:
    """The sky screen."""
    out = [f"Source: {view.source}, {view.age}.", view.index_line]
    out.extend(f"{history.name}: {history.latest}." for history in view.histories)
    out.extend(view.effects)
    out.extend(view.heard)
    if view.beacon:
        out.append(view.beacon)
    return out


def plan_sentences(view: PlanView) -> list[str]:
    """The run sheet, a step a line."""
    out = [
        f"Plan for {date(view.start)} {clock(view.start)} to {clock(view.end)} UTC{f', {view.target}' if view.target else ''}."
    ]
    for step in view.steps:
        angle = f", take-off {round(step.elevation_deg)} degrees" if step.elevation_deg is not None else ""
        line = f"{clock(step.start)} to {clock(step.end)}: {band_name(step.band)}, {step.setup}; expect {step.expect} ({days_in_ten(step.chance)}){angle}."
        if step.reason:
            line += f" Leave because {step.reason}."
        if step.backup:
            line += f" If it is dead: {band_name(step.backup)}."
        out.append(line)
    if not view.steps:
        out.append("No band is worth the try in these hours.")
    out += [line for line in (view.gain, view.conditions, *view.cautions) if line]
    return out


def sked_sentences(view: SkedView) -> list[str]:
    """The appointment, a slot a line."""
    out = [f"{view.home} ({view.home_zone}) and {view.far} ({view.far_zone})."]
    for number, slot in enumerate(view.slots, start=1):
        fall = f"; fallback {slot.fallback}" if slot.fallback else ""
        out.append(
            f"{number}. {date(slot.start)} {clock(slot.start)} to {clock(slot.end)} UTC: {band_name(slot.band)} "
            f"{slot.frequency}, {days_in_ten(slot.chance)}; {slot.home_clock} here, {slot.far_clock} there{fall}."
        )
    if not view.slots:
        out.append("No hour suits both ends and a band as well.")
    if view.note:
        out.append(view.note)
    return out


def wrap(text: str, width: int) -> list[str]:
    """Break a sentence into lines of at most `width` cells, at blanks."""
    if width <= 0:
        return []
    lines: list[str] = []
    line = ""
    for word in text.split(" "):
        while len(word) > width:
            if line:
                lines.append(line)
                line = ""
            lines.append(word[:width])
            word = word[width:]
        if not line:
            line = word
        elif len(line) + 1 + len(word) <= width:
            line = f"{line} {word}"
        else:
            lines.append(line)
            line = word
    lines.append(line)
    return lines


def wrap_all(texts: Sequence[str], width: int) -> list[str]:
    """Several sentences, each wrapped; continuation lines are indented."""
    out: list[str] = []
    for text in texts:
        first, *rest = wrap(text, width) or [""]
        out.append(first)
        if rest:
            out.extend("  " + line for line in wrap(" ".join(rest), max(width - 2, 1)))
    return out


# -- more of the bench, the sky, the demo -----------------------------------------------------------------------

DEMO_SHORT: Final = "DEMO, an invented station. Make yours: key 8, or run: bandwhen station new"
DEMO_LONG: Final = (
    "This is the demo: an invented station on a ridge in KwaZulu-Natal. Make your own with s here, or with the "
    "command: bandwhen station new"
)


def no_card(band: str) -> str:
    """Where a band is not on the bench."""
    return f"{band_name(band)} is not one the antenna tunes on."


def card_sentences(band: BenchBand) -> list[str]:
    """The setup card of one band, a line each."""
    out = []
    if band.coil_uh is not None:
        out.append("No coil." if band.coil_uh <= 0 else f"Coil: {band.coil_uh:.1f} uH first, then one notch at a time.")
    if band.radials:
        out.append(f"Radials: {band.radials}.")
    if band.centre_on_mhz is not None:
        out.append(f"Tune for {megahertz(band.centre_on_mhz)}.")
    if band.swr_1p5_khz is not None and band.swr_2_khz is not None:
        out.append(f"SWR under 1.5 over {band.swr_1p5_khz:.0f} kHz, under 2 over {band.swr_2_khz:.0f} kHz.")
    if band.power_limit_w is not None:
        out.append(f"At most {watts(band.power_limit_w)}{f' ({band.limit_by})' if band.limit_by else ''}.")
    if band.gain_dbi:
        gains = ", ".join(f"{gain:+.1f} at {angle:.0f}".replace("-", "−") for angle, gain in band.gain_dbi)
        out.append(f"Gain, dBi at degrees: {gains}.")
    out.append("From your own measurement." if band.basis == "measured" else "From the model; key a takes the analyser's word.")
    if band.note:
        out.append(band.note)
    return out


def help_sentences(view: BenchView, band: str) -> list[str]:
    """What would help on a band first, then elsewhere, then the cautions."""
    here = [f"{signed_db(db)} dB  {change}" for change, where, db in view.help if where == band]
    other = [f"{signed_db(db)} dB on {band_name(where)}  {change}" for change, where, db in view.help if where != band]
    return [*here, *other, *view.cautions] or ["Nothing cheap."]


def source_line(view: SkyView) -> str:
    """Where the conditions come from and how old they are."""
    stale = "; old, fetch again when you can" if view.stale else ""
    return f"{view.source}, {view.age}{stale}"


def outlook_sentences(view: SkyView) -> list[str]:
    """The coming days, one line."""
    if not view.outlook:
        return []
    days = ", ".join(f"{date(day)[5:]} flux {flux:.0f} K {k:.0f}" for day, flux, k in view.outlook[:5])
    return [f"Outlook: {days}."]

MODE_SAYS: Final[dict[str, str]] = {
    "SSB": "voice",
    "CW": "Morse by ear",
    "FM": "frequency-modulated voice",
    "DIGITAL": "narrow digital, for weak signals",
}

JOB_NAMES: Final[dict[str, str]] = {
    "opening": "station",
    "day": "forecast",
    "why": "explanation",
    "rulers": "skip rulers",
    "footprint": "chart",
    "bench": "antenna bench",
    "sky": "state of the sky",
    "plan": "plan",
    "sked": "appointment",
    "conditions": "state of the sky",
    "stations": "list of stations",
    "saying": "file",
    "reading": "analyser file",
}
