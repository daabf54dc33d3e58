"""Sentences of the opening screen, texts shared by several screens, and a station in words.

Composed from the texts of `propagation.wording`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np

from propagation.advice.band_now import LIKELY, best_band, candidates, commonest_limit, moves, window_at
from propagation.advice.ranking import told_chance, told_rate
from propagation.signal.rays.causes import CAUSES, EVENTS
from propagation.wording import quantities as say
from propagation.wording.causes import clause
from propagation.wording.quantities import (
    band_title,
    bearing_figure,
    clock,
    day_title,
    kilometres,
    megahertz,
    percent,
    promised,
    take_off,
    watts,
)
from propagation.wording.setup import kind_words
from propagation.wording.windows import left_out_line as left_out
from propagation.wording.windows import route_and_mode, window_sentence
from tui.kit import text_flow
from tui.kit.format import number

if TYPE_CHECKING:
    from propagation.antennas.spec import AntennaSpec
    from propagation.station.station import Station
    from tui.kit.day_view import DayView, SunDay

WORKING: Final = "Working out the day ..."


# -- small pieces ------------------------------------------------------------------------------


def angle_short(deg: float, by_ground: bool = False) -> str:
    """The take-off angle, short; for the ground wave alone, "along the ground"."""
    if by_ground:
        return "along the ground"
    return on_screen(take_off(deg)) if np.isfinite(deg) else "open"


def tried(name: str) -> str:
    """The prefix of every sentence during a trial."""
    return f"Tried and not saved: {name}."


def on_screen(text: str) -> str:
    """The text without the degree sign, which some terminals draw two cells wide."""
    return text.replace("°", " deg")


def sun_words(sun: SunDay, told: Callable[[np.datetime64 | None], str] = say.both_clocks) -> str:
    """Sunrise and sunset, as `told` tells a time."""
    if sun.polar == "day":
        return "sun all day"
    if sun.polar == "night":
        return "no sun today"
    if sun.rise is None or sun.set is None:  # one of them alone, where polar day or night begins
        return f"up {told(sun.rise)}, no set" if sun.rise is not None else f"down {told(sun.set)}, no rise"
    return f"up {told(sun.rise)} down {told(sun.set)}"


def sun_short(sun: SunDay, room: int = 40) -> str:
    """Sunrise and sunset in a few characters, on the clock told first."""
    long = sun_words(sun, clock)
    if len(long) <= room or sun.rise is None or sun.set is None:
        return long
    return f"{clock(sun.rise)} {clock(sun.set)}"


# -- the day -----------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Answer:
    """The answer at a time: the one word in large letters, and the lines next to it."""

    band: str | None
    lines: tuple[str, ...]


def alive(view: DayView) -> DayView:
    """The day with zero chance on the bands found dead; the bands to recommend are chosen from it."""
    gone = np.isin(view.bands, view.dead)
    if not gone.any():
        return view
    return replace(
        view,
        chance=np.where(gone[:, None], 0.0, view.chance),
        ranked=np.where(gone[:, None], 0.0, view.ranked),
        hope=np.where(gone[:, None], 0.0, view.hope),
        windows=tuple(one for one in view.windows if one.band not in view.dead),
    )


def _but_dead(view: DayView, index: int) -> str:
    """The band that would be recommended if it had not been found dead."""
    best = best_band(view, index)
    return f" but {band_title(view.bands[best])}, found dead," if best is not None else ""


def answer(view: DayView, index: int) -> Answer:
    """The band, its end, the next band, and the antenna setting; from the computed day alone.

    A flare or a proton event on the path comes before everything else.
    """
    found = _answer(view, index)
    event = view.event(index)[0]
    return replace(found, lines=(event, *found.lines)) if event else found


def _answer(view: DayView, index: int) -> Answer:
    left = alive(view)
    plan = moves(left, index)
    first = plan[0]
    following = plan[1] if len(plan) > 1 else None
    if first.band is None:
        strongest = int(np.nan_to_num(left.hope[:, index]).argmax())
        cause = CAUSES[int(view.cause[strongest, index])]
        opens = (
            f"First hope: {band_title(following.band)} at {clock(following.when)}."
            if following and following.band
            else "No band opens later in this day."
        )
        when, name = clock(view.times[index]), band_title(view.bands[strongest])
        even = ", not even the best-equipped" if view.wanted else ""
        nothing = f"Nothing{_but_dead(view, index)} to {view.target} at {when}{even}."
        instead = view.instead[index] if view.instead else ""
        if instead:
            opens = f"{opens} {text_flow.sentence(instead)}"
        return Answer(None, (nothing, opens, f"{name}: {clause(cause)}."))
    band = view.bands.index(first.band)
    other = say.other_clock(following.when) if following else ""
    until = f"until {clock(following.when)}{f' ({other})' if other else ''}" if following else "all day"
    alike = as_good(view, band, index)
    if following is None:
        then = ""
    else:
        next_band = band_title(following.band) if following.band is not None else "nothing"
        then = f"{';' if alike else ','} then {next_band}"
    elevation = float(view.elevation_deg[band, index])
    if view.by_ground(band, index):
        how = route_and_mode("ground wave", "short", None)
    else:
        how = on_screen(route_and_mode("", "long" if int(view.route[band, index]) else "short", elevation))
    told = [what_words(view, band, index), f"{whom_words(view, band, index)}{how}"]
    if view.wanted:
        told.append(few_words(view, band, index))
    setup = view.setup[band] if band < len(view.setup) else ""
    window = window_at(view, band, index)
    ahead = window is not None and window.peak_time > view.times[index]
    if window is not None and following is not None and window.peak_time > following.when:
        ahead = False  # the best time comes after the change, on a later stay
    best = f", best at {clock(window.peak_time)}" if window is not None and ahead else ""
    return Answer(
        first.band,
        (
            f"{until}{best}{alike}{then}",
            *(told if view.wanted else [", ".join(told)]),
            setup or f"{megahertz(float(view.frequency_mhz[band]))}, {view.mode}, {watts(view.power_w)}",
        ),
    )


def what_words(view: DayView, band: int, index: int) -> str:
    """What a band promises at a time."""
    what = promised(view.prospect(band, index))
    if not view.wanted and float(view.chance[band, index]) < LIKELY:
        what = f"only {what}"
    return what


def as_good(view: DayView, band: int, index: int) -> str:
    """The bands alike to a band at a time, as a part of a sentence; empty where there is none."""
    alike = [band_title(name) for name in alike_bands(view, band, index)]
    return f"; {say.listed(alike)} as good" if alike else ""


def few_words(view: DayView, band: int, index: int) -> str:
    """The first few contacts with a region on a band: within what time, and how certain."""
    return say.first_few(view.wanted, int(view.first_min[band, index]), float(view.first_chance[band, index]))


def whom_words(view: DayView, band: int, index: int) -> str:
    """Whom to expect of a region, before the way of the signal."""
    whom = view.whom[band][index] if view.whom else ""
    return f"{whom}; " if whom else ""


def alike_bands(view: DayView, band: int, index: int) -> list[str]:
    """The other bands of which the same figure is told at a time, where there is something to tell."""
    figures = view.rates.middle[:, index] if view.rates is not None else view.chance[:, index]
    told = (told_rate if view.rates is not None else told_chance)(figures)
    named = (candidates(view)[:, index] > 0.0) & (told > 0.0) & (told == told[band])
    return [view.bands[row] for row in np.flatnonzero(named).tolist() if row != band]


def next_changes(view: DayView, index: int, count: int = 3) -> list[tuple[np.datetime64, str]]:
    """The next changes of band: the time of each, and what to do."""
    out = []
    for move in moves(alive(view), index)[1 : count + 1]:
        if move.band is None:
            out.append((move.when, "nothing worth the try"))
        else:
            band = view.bands.index(move.band)
            at = min(int(np.searchsorted(view.times, move.when)), view.times.shape[0] - 1)
            window = window_at(view, band, at)
            later = window is not None and window.peak_time > move.when
            tail = f", best {clock(window.peak_time)}" if window is not None and later else ""
            best = window.best if window is not None and later else view.prospect(band, at)
            out.append((move.when, f"to {band_title(move.band)}, {promised(best)}{tail}"))
    return out


def changes_in_a_line(view: DayView, index: int, room: int) -> str:
    """The next changes on one line, as many as fit in `room` columns; each time on both clocks."""
    found = moves(alive(view), index)[1:]
    if not found:
        return "No further change in this day."
    says = ""
    for move in found:
        what = f"{both_short(move.when)} {band_title(move.band) if move.band else 'nothing'}"
        longer = f"{says},  {what}" if says else f"Then {what}"
        if says and len(longer) > room:
            break
        says = longer
    return says


def both_short(when: np.datetime64) -> str:
    """A time on both clocks where there is little room: `07:35 (09:35)`."""
    other = say.other_short(when)
    return f"{clock(when)} ({other})" if other else clock(when)


def left_out_line(view: DayView) -> str:
    """The bands that are not shown, with the reason, on one line."""
    return f"not shown: {left_out(list(view.left_out))}"


def antenna_line(view: DayView, band: int) -> str:
    """The antenna's performance on a band, in one line."""
    if not view.radiated_share.size or not np.isfinite(view.radiated_share[band]):
        return ""
    share = float(view.radiated_share[band])
    leaves = f"{share * 100:.0f}" if share >= 0.1 else f"{share * 100:.1f}"
    setup = view.setup[band] if band < len(view.setup) else ""
    return f"Antenna on {band_title(view.bands[band])}: {leaves} of 100 W reach the sky" + (
        f"; {setup}" if setup else ""
    )


def band_state(view: DayView, band: int, index: int) -> str:
    """One band at one time, as a sentence."""
    told = promised(view.prospect(band, index))
    cause = CAUSES[int(view.cause[band, index])]
    if cause in EVENTS:  # comes first: the event is temporary, not the usual state of the band
        at = clock(view.times[index])
        return f"{band_title(view.bands[band])} at {at}: {clause(cause)}; {told} meanwhile."
    why = "" if cause == "open" else f"; {clause(cause)}"
    return f"{band_title(view.bands[band])} at {clock(view.times[index])}: {told}{why}."


def day_sentences(view: DayView, index: int) -> list[str]:
    """The whole opening screen as plain sentences."""
    found = answer(view, index)
    far = (
        "" if view.wanted else f", {kilometres(view.distance_km)}, bearing {bearing_figure(view.bearing_deg)}"
    )
    day = day_title(view.times[index])
    out = [f"{view.site} to {view.target}{far}; {day}, {view.mode}, {watts(view.power_w)}."]
    if view.demo:
        out.append("This is the demo station; make your own with: bandwhen station new")
    short, says = view.event(index)
    lines = list(found.lines[1:] if short else found.lines)
    if found.band:
        lines[0] = f"{band_title(found.band)} {lines[0]}"
    out += [says] if says else []
    said = " ".join(text_flow.sentence(line) for line in lines)
    out.append(f"At {say.both_clocks(view.times[index])}: {said}")
    if view.dead:
        out.append(f"Found dead on this outing: {say.listed([band_title(band) for band in view.dead])}.")
    out.extend(f"At {say.both_clocks(when)} {what}." for when, what in next_changes(view, index))
    out.extend(f"Sun {sun.place}: {sun_words(sun)}." for sun in (view.home, view.far))
    for band, name in enumerate(view.bands):
        told = [
            on_screen(window_sentence(one))
            for one in sorted(view.windows, key=lambda one: one.start)
            if one.band == name
        ]
        if told:
            out += told
        else:
            best = promised(view.prospect(band, int(np.nan_to_num(view.worth[band]).argmax())))
            limit = commonest_limit(view.cause[band])
            why = f"; mostly {clause(limit)}" if limit is not None else ""
            out.append(f"{band_title(name)}: no window; at best {best}{why}.")
    out.extend(f"{band_title(name)}: left out, {reason}." for name, reason in view.left_out)
    if view.sky_line:
        out.append(view.sky_line + ".")
    return out


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


def describe(station: Station) -> list[tuple[str, str]]:
    """The station in words: heading and line."""
    from propagation.geo.locator import locator_of
    from propagation.spectrum.bands import BANDS, LICENCE_REMINDER

    site, rig, far = station.site, station.rig, station.far_end
    earth = site.ground if site.permittivity is None else f"permittivity {site.permittivity:g}"
    place = locator_of(site.position.lat_deg, site.position.lon_deg)
    used = [band.name for band in BANDS if station.usable(band)]
    unused = [band.name for band in BANDS if not station.usable(band)]
    country = f", {station.limits.country.told}" if station.limits.country is not None else ""
    lines = [
        ("station", station.name or "without a name"),
        (
            "site",
            f"{place} ({site.position.lat_deg:.3f}, {site.position.lon_deg:.3f}), {earth} ground, "
            f"{say.noise_of(site.noise_level)}, ITU region {site.region}{country}, "
            f"time zone {site.zone}",
        ),
        ("rig", f"{rig.power_w:g} W, {rig.mode} ({rig.emission.title}, {rig.emission.bandwidth_hz:g} Hz)"),
        ("antenna", _antenna(station)),
        (
            "feed line",
            f"{number(station.feedline.length_m, 1, 'm')} of {station.feedline.cable}, "
            f"{'with' if station.feedline.choke else 'without'} a choke",
        ),
        (
            "far end",
            f"{far.power_w:g} W, {far.antenna} at {far.height_m:g} m, {say.noise_of(far.noise_level)}",
        ),
        ("bands", f"{', '.join(used)} for {rig.mode}" + (f"; not {', '.join(unused)}" if unused else "")),
        ("licence", LICENCE_REMINDER.rstrip(".")),
    ]
    if site.horizon:
        skyline = ", ".join(f"{elevation:g}° at {azimuth:g}°" for azimuth, elevation in site.horizon)
        lines.insert(2, ("skyline", skyline))
    return lines


def _length(spec: AntennaSpec) -> str:
    """Length of a radiator, and that pushed in."""
    least = spec.pushed_in_m
    pushed_in = "" if least is None else f" (pushed in {number(least, 2, 'm')})"
    return f"{number(spec.longest_m, 2, 'm')}{pushed_in}"


def _antenna(station: Station) -> str:
    spec = station.antenna
    if spec.kind == "loaded vertical":
        return (
            f"loaded vertical of {_length(spec)}, coil Q {spec.coil_q:g} at "
            f"{spec.coil_height_m:g} m, {spec.radials} radials, feed at {spec.feed_height_m:g} m"
        )
    if spec.kind in ("vertical", "half-wave vertical"):
        return f"{spec.kind}, {spec.radials} radials, feed at {spec.feed_height_m:g} m"
    if spec.kind == "table":
        return f"gain table of {len(spec.table)} rows"
    ratio = f", transformer {spec.ratio:g} to 1 passes {percent(spec.transformer_passes)}"
    extra = ratio if spec.ratio != 1.0 else ""
    return f"{kind_words(spec.kind)} at {spec.height_m:g} m, azimuth {spec.azimuth_deg:g}°{extra}"
