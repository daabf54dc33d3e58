"""What each screen says in sentences: the hop picture, ledger, causes, reach, bench, sky, plan,
appointment.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from propagation.advice.band_now import LIKELY
from propagation.wording.quantities import (
    band_title,
    bearing,
    clock,
    date,
    days,
    end_clock,
    kilometres,
    level,
    level_figure,
    megahertz,
    percent,
    take_off,
    watts,
)
from tui.kit.words import on_screen

if TYPE_CHECKING:
    from tui.kit.views import (
        BenchBand,
        BenchView,
        HopView,
        PlanView,
        ReachView,
        SkedView,
        SkipView,
        SkyView,
        SunsView,
        WhyView,
    )
    from tui.kit.world_map import MapView


# -- why ---------------------------------------------------------------------------------------


def hop_title(view: HopView) -> str:
    """Band, hour and way, short."""
    route = "" if view.route == "short" else ", long way"
    return f"{band_title(view.band)} at {clock(view.time)}{route}"


def route_title(view: HopView) -> str:
    """The way round, short."""
    return "long way" if view.route != "short" else "short way"


def _part(share: float) -> str:
    """A share of the path in words."""
    tenths = round(share * 10)
    if tenths in (0, 10):
        return "All of the path" if tenths else "None of the path"
    return "Half of the path" if tenths == 5 else f"{tenths} tenth{'s' if tenths > 1 else ''} of the path"


def hop_sentences(view: HopView) -> list[str]:
    """The cross-section in words."""
    out = [
        f"{band_title(view.band)}, {megahertz(view.frequency_mhz)}, {clock(view.time)} UTC: {view.site} "
        f"to {view.target}, {kilometres(view.total_km)}, {view.route} way."
    ]
    sea = float(view.sea.mean()) if view.sea.size else 0.0
    lit = float((view.sun_elevation_deg > 0).mean()) if view.sun_elevation_deg.size else 0.0
    out.append(f"{_part(lit)} in daylight, {_part(sea).lower()} over sea.")
    for ray in view.rays:
        landings = ", ".join(kilometres(km) for km in ray.landing_km)
        out.append(f"{ray.name}, {on_screen(take_off(ray.take_off_deg))}, comes down at {landings}.")
    if not view.rays:
        out.append("No layer turns this frequency back.")
    if view.skip_km is not None and view.skip_km > 0:
        out.append(f"Skip distance on the median day: {kilometres(view.skip_km)}.")
    if view.muf_mhz is not None:
        out.append(f"The path carries up to {view.muf_mhz:.1f} MHz at this hour.")
    if view.note:
        out.append(view.note)
    return out


def why_sentences(view: WhyView) -> list[str]:
    """The whole why screen."""
    out = hop_sentences(view.hop) if view.hop is not None else []
    return [*out, *view.says]


# -- reach -------------------------------------------------------------------------------------


def skip_short(skip_km: float) -> str:
    """A skip distance in a few signs."""
    if not np.isfinite(skip_km):
        return "not returned"
    return kilometres(skip_km) if skip_km > 0 else "none"


def _stretches(view: SkipView, band: int) -> list[tuple[float, float]]:
    """Where a band comes down on half of the days or more: (from, to) in km."""
    good = np.nan_to_num(view.share[band]) >= LIKELY
    edges = np.flatnonzero(np.diff(np.concatenate(([False], good, [False])).astype(np.int8)))
    return [
        (float(view.distance_km[a]), float(view.distance_km[b - 1]))
        for a, b in zip(edges[::2], edges[1::2], strict=True)
    ]


def ruler_sentence(view: SkipView, band: int) -> str:
    """One ruler in words."""
    name = band_title(view.bands[band])
    stretches = _stretches(view, band)
    if not stretches:
        best = float(np.nan_to_num(view.share[band]).max(initial=0.0))
        return f"{name}: comes down nowhere on half of the days; at best {days(best)}."
    parts = " and ".join(
        f"out to {kilometres(b)}" if a <= 0.0 else f"from {kilometres(a)} to {kilometres(b)}"
        for a, b in stretches
    )
    skip = float(view.skip_km[band])
    mark = f"; skip distance {kilometres(skip)}" if np.isfinite(skip) and skip > 0 else ""
    return f"{name}: comes down {parts} on half of the days or more{mark}."


def _target_sentence(view: SkipView, band: int) -> str:
    if view.target_km is None:
        return ""
    share = float(np.interp(view.target_km, view.distance_km, np.nan_to_num(view.share[band])))
    return (
        f"{view.target} is at {kilometres(view.target_km)}, bearing {on_screen(bearing(view.bearing_deg))}"
        f": {days(share)} on {band_title(view.bands[band])}."
    )


def ruler_sentences(view: SkipView, band: str) -> list[str]:
    """The chosen ruler in words, for below the rulers."""
    row = view.bands.index(band) if band in view.bands else 0
    return [
        line
        for line in (
            ruler_sentence(view, row),
            _target_sentence(view, row),
            "Full is every day; nearer than the small mark the layer returns the band only on better days.",
        )
        if line
    ]


def skip_sentences(view: SkipView) -> list[str]:
    """The rulers in words: where each band comes down, and its skip distance."""
    out = [f"Towards bearing {on_screen(bearing(view.bearing_deg))} at {clock(view.time)} UTC."]
    out += [ruler_sentence(view, band) for band in range(len(view.bands))]
    if view.target_km is not None:
        out.append(f"{view.target} stands at {kilometres(view.target_km)}.")
    return out


def map_sentences(view: MapView) -> list[str]:
    """The map in words."""
    lit = float((view.sun_elevation_deg > 0).mean())
    out = [
        f"World at {clock(view.time)} UTC, {band_title(view.band)}; {percent(lit)} of this "
        "picture lies in daylight."
    ]
    for name, lat, lon in view.targets:
        out.append(
            f"{name} at {abs(lat):.1f} {'N' if lat >= 0 else 'S'}, {abs(lon):.1f} {'E' if lon >= 0 else 'W'}."
        )
    if view.share is not None:
        out.append(
            f"The band comes down on {percent(float((view.share >= LIKELY).mean()))} of the "
            "picture on at least 5 days in 10."
        )
    return out


def reach_sentences(view: ReachView) -> list[str]:
    """The whole reach screen."""
    return skip_sentences(view.skip) + map_sentences(view.map)


# -- bench -------------------------------------------------------------------------------------

HELPS_AWAITED: Final = "What would help is being worked out ..."
SHARE_SAYS: Final[dict[str, str]] = {
    "radiated": "sky",
    "coil": "coil",
    "earth": "earth",
    "coax": "coax",
    "transformer": "transformer",
    "unexplained": "unexplained",
}


def share_figure(share: float) -> str:
    """A share of 100 W as watts."""
    watt = share * 100
    return f"{watt:.0f}" if watt >= 9.5 else f"{watt:.1f}"


def setup_line(band: BenchBand) -> str:
    """How to set up for a band, in a few words."""
    parts = []
    if band.coil_uh is not None:
        parts.append("no coil" if band.coil_uh <= 0 else f"coil {band.coil_uh:.1f} µH")
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
            f"{share_figure(share)} {'unexplained loss' if name == 'unexplained' else SHARE_SAYS[name]}"
            for name, share in band.shares
        )
        width = f"; SWR under 2 over {band.swr_2_khz:.0f} kHz" if band.swr_2_khz is not None else ""
        limit = (
            f"; at most {watts(band.power_limit_w)} ({band.limit_by})"
            if band.power_limit_w is not None
            else ""
        )
        out.append(
            f"{band_title(band.band)}: of 100 W, {spent} ({band.basis}). {setup_line(band)}{width}{limit}."
        )
    out.extend(f"{change}: {level(db)} on {band_title(band)}." for change, band, db in view.help)
    if len(view.helped) < len(view.bands):
        out.append(HELPS_AWAITED)
    out.extend(view.cautions)
    return out


# -- sky, plan, appointment --------------------------------------------------------------------


def sky_sentences(view: SkyView) -> list[str]:
    """The sky screen."""
    out = [f"Source: {view.source}, {view.age}.", *([view.index_line] if view.index_line else [])]
    out.extend(f"{history.name}: {history.latest}." for history in view.histories)
    out.extend(view.effects)
    out.extend(view.heard)
    if view.beacon:
        out.append(view.beacon)
    return out


def plan_sentences(view: PlanView) -> list[str]:
    """The run sheet, a step a line."""
    out = [
        f"Plan for {date(view.start)} {clock(view.start)} to {clock(view.end)} "
        f"UTC{f', {view.target}' if view.target else ''}."
    ]
    out += [f"{number}. {step.says}" for number, step in enumerate(view.steps, start=1)]
    out += [line for line in (view.gain, view.conditions, *view.cautions) if line]
    return out


def sked_sentences(view: SkedView) -> list[str]:
    """The appointment, a slot a line."""
    if not view.far_zone:
        return [view.note]
    days = f", {view.days}" if view.days else ""
    out = [f"{view.home} ({view.home_zone}) and {view.far} ({view.far_zone}){days}."]
    out += [f"{number}. {slot.says}" for number, slot in enumerate(view.slots, start=1)]
    if view.note:
        out.append(view.note)
    return out


def suns_sentences(view: SunsView) -> list[str]:
    """When it is day and when it is night at both ends."""
    here, there = view.home.elevation_deg > 0, view.far.elevation_deg > 0
    out = []
    for both, says in ((here & there, "Daylight at both ends"), (~here & ~there, "Night at both ends")):
        edges = np.flatnonzero(np.diff(np.concatenate(([False], both, [False])).astype(np.int8)))
        step = view.times[1] - view.times[0]
        spans = [
            f"{clock(view.times[a])}-{end_clock(view.times[b - 1] + step)}"
            for a, b in zip(edges[::2], edges[1::2], strict=True)
        ]
        out.append(f"{says}: {' and '.join(spans)} UTC." if spans else f"{says}: never.")
    return out


def no_card(band: str) -> str:
    """Where a band is not on the bench."""
    return f"{band_title(band)} is not one the antenna tunes on."


def card_sentences(band: BenchBand) -> list[str]:
    """The setup card of one band, a line each."""
    out = []
    if band.coil_uh is not None:
        out.append(
            "No coil."
            if band.coil_uh <= 0
            else f"Coil: {band.coil_uh:.1f} µH first, then one notch at a time."
        )
    if band.radials:
        out.append(f"Radials: {band.radials}.")
    if band.centre_on_mhz is not None:
        out.append(f"Tune for {megahertz(band.centre_on_mhz)}.")
    if band.swr_1p5_khz is not None and band.swr_2_khz is not None:
        out.append(f"SWR under 1.5 over {band.swr_1p5_khz:.0f} kHz, under 2 over {band.swr_2_khz:.0f} kHz.")
    if band.power_limit_w is not None:
        out.append(f"At most {watts(band.power_limit_w)}{f' ({band.limit_by})' if band.limit_by else ''}.")
    if band.gain_dbi:
        gains = ", ".join(f"{level_figure(gain)} at {angle:.0f}" for angle, gain in band.gain_dbi)
        out.append(f"Gain, dBi at degrees: {gains}.")
    out.append(
        "From your own measurement; key x forgets it."
        if band.basis == "measured"
        else "From the model; key a takes the analyser's word."
    )
    if band.note:
        out.append(band.note)
    if band.set_aside:
        out.append("Key b brings it back for the antenna as it is described now, key x forgets it.")
    return out


def help_sentences(view: BenchView, band: str) -> list[str]:
    """What would help on a band, then the cautions."""
    here = [f"{level(db)}  {change}" for change, where, db in view.help if where == band]
    awaited = any(row.band == band for row in view.bands) and band not in view.helped
    return [*(here or [HELPS_AWAITED if awaited else "No small change would help here."]), *view.cautions]


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
