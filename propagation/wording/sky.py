"""What the conditions do to the bands over a place, in sentences an operator can use."""

from __future__ import annotations

from typing import TYPE_CHECKING

from propagation.space_weather.state.event_absorption import ORDINARY_KP, ORDINARY_XRAY_W_M2, xray_class
from propagation.wording.quantities import ago_words, clock, percent

if TYPE_CHECKING:
    import numpy as np

    from propagation.advice.sky import LayerFigures, MeasuredFigures, SkyEffects


def sky_sentences(effects: SkyEffects) -> list[str]:
    """What the effects mean, a sentence each; a quiet sky says so."""
    said = [_index_sentence(effects)]
    if not effects.k_known:
        said.append("K is not known for this time: an ordinary, quiet field is assumed.")
    if effects.storm_factor < 0.995:
        said.append(
            f"An ionospheric storm holds the F2 layer {percent(1.0 - effects.storm_factor)} down here."
        )
    elif effects.storm_factor > 1.005:
        said.append(
            f"The storm's first phase lifts the F2 layer by {percent(effects.storm_factor - 1.0)} here."
        )
    elif effects.k_known:
        said.append("No ionospheric storm: the F2 layer stands at its median.")
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
    """How the two numbers, sunspots and index, explain each other, and what it means for the MUF."""
    change = effects.muf_change
    usual = f"Sunspots {effects.ssn:.0f} usually go with an index of {effects.spots_index:.0f}"
    if abs(change) < 0.005:
        return f"{usual}; the F2 maps run on {effects.index:.0f}, as good as the same."
    side = "higher" if change > 0 else "lower"
    return (
        f"{usual}; the F2 maps run on {effects.index:.0f} ({effects.index_words}): "
        f"MUF here {percent(abs(change))} {side}."
    )


def _flare_sentence(effects: SkyEffects) -> str:
    name = xray_class(effects.xray_w_m2)
    if effects.flare_mhz <= 0.0:
        return f"A flare of class {name} is on; this place lies in the dark and is spared."
    return (
        f"A flare of class {name} takes about {effects.flare_db:.0f} dB from 14 MHz straight up and down "
        "here, two to three times that on far paths, and more on lower bands; it fades within about an hour."
    )


def measured_sentences(found: MeasuredFigures, now: np.datetime64) -> list[str]:
    """What was measured a short while ago, a sentence each; empty where nothing was."""
    said = [] if found.layer is None else [_layer_sentence(found.layer, now)]
    if found.absorbed is not None:
        time, here, most = found.absorbed
        where = f"up to {here:.0f} MHz loses 1 dB and more here" if here >= 1.0 else "no band loses 1 dB here"
        elsewhere = f", up to {most:.0f} MHz where it is worst" if most >= here + 1.0 else ""
        said.append(f"Absorption, measured {ago_words(now - time)}: {where}{elsewhere}.")
    if found.oval is not None:
        time, kp, edge = found.oval
        when = f"for {clock(time)} UTC" if time > now else ago_words(now - time)
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
    until = f"; this counts until {clock(layer.until)} UTC"
    if layer.here is None:
        other = f"; over {layer.where} it stands {_departs(layer.most)}" if most and layer.most else ""
        return f"{when}, but nothing was observed near here: here the usual layer is assumed{other}{until}."
    return f"{when}: here it stands {_departs(layer.here)} now{most}{until}."


def _departs(share: float) -> str:
    if abs(share) < 0.005:
        return "as usual"
    return f"{percent(abs(share))} {'over' if share > 0.0 else 'under'} the usual"
