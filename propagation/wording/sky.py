"""Sentences on solar and geomagnetic conditions: their effects, flares and proton events."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from propagation.space_weather.state.event_absorption import ORDINARY_KP, ORDINARY_XRAY_W_M2, xray_class
from propagation.wording.quantities import (
    ago_words,
    band_title,
    both_clocks,
    clock,
    date,
    decibels,
    listed,
    nearest,
    percent,
    promised,
    sentence,
)

if TYPE_CHECKING:
    import numpy as np

    from propagation.advice.events import AbsorptionEvent
    from propagation.advice.sky import LayerFigures, LayersNow, MeasuredFigures, SkyEffects
    from propagation.logbook.review import DayConditions, Known
    from propagation.space_weather.state.conditions import Conditions


def conditions_words(state: Conditions, time: np.datetime64, now: np.datetime64) -> str:
    """Conditions used at a time, their source and their age, as part of a sentence."""
    age = f", {state.age_text(now)}" if state.issued is not None else ""
    known = "" if bool(state.kp_known(time)) else " (not known, taken as quiet)"
    asked = (state.flux_at, state.kp_at, state.ssn_at, state.index_at)
    flux, kp, ssn, index = (nearest(float(at(time))) for at in asked)
    layer = state.measured.layer if state.measured is not None else None
    measured = (
        f"layer measured {ago_words(now - layer.newest)}; "
        if layer is not None and bool(layer.applies_to(time))
        else ""
    )
    return (
        f"{measured}flux {flux:.0f} sfu, K {kp:.0f}{known}, sunspot number {ssn:.0f}, index {index:.0f}; "
        f"{state.source}{age}"
    )


def conditions_sentence(state: Conditions, time: np.datetime64, now: np.datetime64) -> str:
    """Conditions used at a time as a sentence."""
    return sentence(conditions_words(state, time, now))


_FLUX: Final[dict[Known, str]] = {
    "measured": "",
    "typed in": " as typed in",
    "month only": " (the monthly mean; the day's is not known here)",
    "not known": " (assumed; the day's is not known here)",
}
_UP_TO: Final[dict[Known, str]] = {"measured": "up to ", "typed in": "", "month only": "", "not known": ""}
_KP: Final[dict[Known, str]] = {
    "measured": "",
    "typed in": " as typed in",
    "month only": " (a quiet field is assumed)",
    "not known": " (a quiet field is assumed, none is known)",
}


def day_sentence(day: DayConditions) -> str:
    """Flux and geomagnetic activity of one day, and their sources."""
    flux = f"{nearest(day.flux_sfu):.0f} sfu"
    if day.flux == "not known" and day.kp == "not known":
        return (
            f"The sun and the field of {date(day.date)} are not known here: the forecast assumes a flux of "
            f"{flux}, as smoothed or predicted for the month, and a quiet field."
        )
    field = f"K {_UP_TO[day.kp]}{nearest(day.kp_most):.0f}{_KP[day.kp]}"
    return f"On {date(day.date)}: flux {flux}{_FLUX[day.flux]}, {field}."


def sky_sentences(effects: SkyEffects) -> list[str]:
    """Sentences on the effects, one each; a quiet sky is reported too."""
    said = [_index_sentence(effects)]
    if not effects.k_known:
        said.append("K is not known for this time: an ordinary, quiet field is assumed.")
    if effects.storm_factor < 0.995:
        said.append(
            f"An ionospheric storm lowers the F2 layer by {percent(1.0 - effects.storm_factor)} here."
        )
    elif effects.storm_factor > 1.005:
        said.append(
            f"The storm's first phase raises the F2 layer by {percent(effects.storm_factor - 1.0)} here."
        )
    elif effects.k_known:
        said.append("No ionospheric storm: the F2 layer is at its median.")
    if effects.kp > ORDINARY_KP:
        near = abs(effects.geomagnetic_latitude_deg) >= effects.oval_edge_deg - 5.0
        where = "close to here" if near else "well away from here"
        said.append(
            f"The auroral oval comes down to {effects.oval_edge_deg:.0f}° geomagnetic at night, {where}."
        )
    if effects.xray_w_m2 > ORDINARY_XRAY_W_M2:
        said.append(_flare_sentence(effects))
    if effects.polar_cap_db > 0.0:
        said.append(
            "Solar protons: each pass through the polar D region costs about "
            f"{effects.polar_cap_db:.0f} dB at 14 MHz by day, so avoid paths over the poles."
        )
    return said


def _index_sentence(effects: SkyEffects) -> str:
    """Relation of the two numbers, sunspots and index, and its effect on the MUF."""
    change = effects.muf_change
    usual = f"Sunspots {effects.ssn:.0f} usually go with an index of {effects.spots_index:.0f}"
    if abs(change) < 0.005:
        return f"{usual}; the F2 maps use {effects.index:.0f}: MUF essentially unchanged."
    side = "higher" if change > 0 else "lower"
    return (
        f"{usual}; the F2 maps use {effects.index:.0f} ({effects.index_words}): "
        f"MUF here {percent(abs(change))} {side}."
    )


def _flare_sentence(effects: SkyEffects) -> str:
    name = xray_class(effects.xray_w_m2)
    if effects.flare_mhz <= 0.0:
        return (
            f"A flare of class {name} is in progress; this place is on the night side: no flare absorption."
        )
    return (
        f"A flare of class {name} costs about {effects.flare_db:.0f} dB at 14 MHz straight up and down "
        "here, two to three times that on long paths, and more on lower bands; it fades within about an hour."
    )


def layers_sentences(found: LayersNow, now: np.datetime64) -> list[str]:
    """The layers over a place: the month's median, and what is measured now beside it."""
    median, today = found.fof2_mhz
    if found.measured is not None:
        basis = f"measured {ago_words(now - found.measured)}"
        told = f"{today:.1f} MHz now, {_departs(today / median - 1.0)}, {basis}"
    elif abs(found.storm_factor - 1.0) >= 0.005:
        told = f"{today:.1f} MHz now by K, {_departs(found.storm_factor - 1.0)}; not measured here"
    else:
        told = "not measured here now"
    muf_median, muf_now = found.muf_3000_mhz
    both = f"{muf_median:.1f} MHz" + (f", now {muf_now:.1f}" if today != median else "")
    return [f"foF2 here: median {median:.1f} MHz; {told}.", f"MUF over 3000 km from here: median {both}."]


def measured_sentences(found: MeasuredFigures, now: np.datetime64) -> list[str]:
    """Sentences on recent measurements, one each; empty where there are none."""
    said = [] if found.layer is None else [_layer_sentence(found.layer, now)]
    if found.absorbed is not None:
        time, here, most = found.absorbed
        where = f"up to {here:.0f} MHz loses 1 dB and more here" if here >= 1.0 else "no band loses 1 dB here"
        elsewhere = f", up to {most:.0f} MHz where it is worst" if most >= here + 1.0 else ""
        said.append(f"Absorption, measured {ago_words(now - time)}: {where}{elsewhere}.")
    if found.oval is not None:
        time, kp, edge = found.oval
        when = f"for {both_clocks(time)}" if time > now else ago_words(now - time)
        said.append(
            f"The auroral oval as modelled from the solar wind {when}: as with K {kp:.0f}, down to "
            f"{edge:.0f}° geomagnetic at night."
        )
    return said


def _layer_sentence(layer: LayerFigures, now: np.datetime64) -> str:
    when = f"The F2 layer was measured {ago_words(now - layer.measured)}"
    most = ""
    if layer.where is not None and layer.most is not None:
        most = f", most over {layer.where} ({_departs(layer.most)})"
    until = f"; valid until {both_clocks(layer.until)}"
    if layer.here is None:
        other = f"; over {layer.where} it is {_departs(layer.most)}" if most and layer.most else ""
        return f"{when}, but nothing was observed near here: here the usual layer is assumed{other}{until}."
    return f"{when}: here it is {_departs(layer.here)} now{most}{until}."


def _departs(share: float) -> str:
    if abs(share) < 0.005:
        return "as usual"
    return f"{percent(abs(share))} {'over' if share > 0.0 else 'under'} the usual"


WHOLE_DB: Final = 40.0  # dB, from which the whole signal is reported as lost (ours)


def bands_words(names: tuple[str, ...]) -> str:
    """Bands from the lowest up: `80, 40 and 20 m`, all in one unit where they share it."""
    titles = [band_title(name) for name in names]
    metres = all(title.endswith(" m") for title in titles)
    if metres and len(titles) > 1:
        return listed([title.removesuffix(" m") for title in titles]) + " m"
    return listed(titles)


def _span(names: tuple[str, ...]) -> str:
    """Short form of bands: `80 to 20 m`."""
    if len(names) < 3:
        return bands_words(names)
    return f"{band_title(names[0]).removesuffix(' m')} to {band_title(names[-1])}"


def event_name(one: AbsorptionEvent) -> str:
    """Event with its size: `a solar flare (class X1.0)`, `solar protons (S3) over the polar cap`."""
    if one.kind == "polar cap":
        return f"solar protons{f' ({one.name})' if one.name else ''} over the polar cap"
    return f"a solar flare{f' (class {one.name})' if one.name else ''}"


def event_clause(one: AbsorptionEvent, band: str) -> str:
    """Event as the cause on a band, and until when."""
    cost = one.costs(band)
    what = f"{decibels(cost)} of the signal" if 0.0 < cost < WHOLE_DB else "all of the signal"
    return f"{event_name(one)} {_verb(one, 'absorb')} {what} {_how_long(one)}"


def event_sentence(one: AbsorptionEvent) -> str:
    """Event, the bands it closes, and the advice: wait, use a higher band, or turn to another direction."""
    what = f"{event_name(one)} {_taken(one, bands_words(one.taken))} at {both_clocks(one.time)}"
    return sentence(f"{what}: {_advice(one)}")


def event_short(one: AbsorptionEvent) -> str:
    """Headline form of the same: `Flare X1.0 blocks 80 to 20 m until about 13:10`."""
    head = "Solar protons" if one.kind == "polar cap" else "Flare"
    name = f"{head} {one.name}" if one.name else head
    return f"{name} {_taken(one, 'every band' if one.lead is None else _span(one.taken))} {_how_long(one)}"


def _verb(one: AbsorptionEvent, verb: str) -> str:
    return verb if one.kind == "polar cap" else f"{verb}s"  # the protons are plural


def _taken(one: AbsorptionEvent, bands: str) -> str:
    """Bands closed by the event, and its loss on a band that stays open."""
    parts = [f"{_verb(one, 'block')} {bands}"] if one.taken else []
    if one.dented is not None:
        parts.append(f"{_verb(one, 'cost')} {band_title(one.dented)} {decibels(one.costs(one.dented))}")
    return " and ".join(parts)


def _how_long(one: AbsorptionEvent) -> str:
    if one.until is not None:
        return f"until about {clock(one.until)}"
    return "for hours to days" if one.kind == "polar cap" else "for about an hour"


def _advice(one: AbsorptionEvent) -> str:
    protons = one.kind == "polar cap"
    spared = (
        "paths away from the poles are not affected"
        if protons
        else "paths on the night side are not affected"
    )
    wait = "they last for hours to days" if protons else f"wait {_how_long(one).removeprefix('for ')}"
    if one.taken and one.lead is not None and one.lead_serves:
        verb = "stay on" if one.lead == one.dented else "use"
        best = f"{'so' if protons else 'or'} {verb} {band_title(one.lead)}"
        return f"{wait}, {best}, {promised(one.promise)}; {spared}"
    return f"{wait}; the higher the band the less it loses, and {spared}"
