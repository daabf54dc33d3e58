"""Sky screen: stored records as histories, their sources, and their effect on the bands."""

from __future__ import annotations

import math
from collections.abc import Mapping
from functools import partial
from typing import Final

import numpy as np

from propagation.advice.sky import MeasuredFigures, departure_now, layers_now, measured_figures, sky_effects
from propagation.base.units import FloatArray, TimeArray, as_float
from propagation.geo.locator import Position
from propagation.ionosphere import conditions_today
from propagation.space_weather.state import hand_entry, measured_conditions
from propagation.space_weather.state.conditions import Conditions
from propagation.space_weather.state.event_absorption import xray_class
from propagation.space_weather.state.hand_entry import HandEntry
from propagation.spectrum.beacons import load as load_beacons
from propagation.wording import quantities as say
from propagation.wording.sky import layers_sentences, measured_sentences, sky_sentences
from tui.app.day_forecast import times_from
from tui.app.ear_reports import store
from tui.features.sky.view import History, MeasuredView, SkyView
from tui.kit.form import FormField
from tui.kit.input_parsing import fault, figure
from tui.kit.world import plain_chart

FLUX_DAYS, K_DAYS, K_AHEAD_DAYS, XRAY_HOURS = 54, 7, 2, 24
LEAST_SPAN_SFU = 40.0  # of the drawn scale of the flux: a quiet month looks quiet (ours)
OLD = np.timedelta64(2 * 86400, "s")  # a record older than this is marked as old


def sky_view(now: np.datetime64, start: np.datetime64, place: Position) -> SkyView:
    """Return the conditions in use."""
    conditions = conditions_today.best(store(), times_from(start), now)
    age = conditions.age_text(now) if conditions.issued is not None else "no network needed"
    measured = measured_figures(conditions, place, now)
    stale = conditions.issued is not None and now - conditions.issued > OLD
    return SkyView(
        histories=_histories(conditions, now),
        source=conditions.source,
        age=age,
        index_line="",
        effects=tuple(
            line.replace("°", " deg")
            for line in (
                *layers_sentences(layers_now(conditions, place, now), now),
                *measured_sentences(measured, now),
                *sky_sentences(sky_effects(conditions, place, now)),
                *conditions.notes,
            )
        ),
        outlook=_outlook(conditions, now),
        heard=tuple(
            f"{fact.what}: {fact.value} ({_when(fact.issued)})."
            for fact in conditions.facts
            if fact.origin == "your ears"
        ),
        beacon=_beacon(now, place),
        stale=bool(stale),
        measured=_measured(conditions, measured, place, now),
    )


ABSORBED_MHZ = 8.0  # the absorption map is drawn where this loses 1 dB or more (ordinary day: 5 MHz)
AURORA_SHARE = 0.5  # share of the greatest value from which the oval is drawn


def _measured(
    conditions: Conditions, figures: MeasuredFigures, place: Position, now: np.datetime64
) -> MeasuredView | None:
    """World map of the measured conditions; None if no measurement applies to this time."""
    sky = conditions.measured
    parts = {"layer": figures.layer, "absorption": figures.absorbed, "oval": figures.oval}
    if sky is None or all(part is None for part in parts.values()):
        return None
    percent = np.full(
        (measured_conditions.LATITUDES_DEG.size, measured_conditions.LONGITUDES_DEG.size), np.nan
    )
    aurora = absorbed = None
    ages = []
    if figures.layer is not None and sky.layer is not None:
        percent = 100.0 * departure_now(sky.layer, now)
        ages.append(f"layer {say.ago_words(now - figures.layer.measured)}")
    if figures.oval is not None and sky.oval is not None and sky.oval.value is not None:
        greatest = float(np.nanmax(sky.oval.value))
        aurora = np.nan_to_num(sky.oval.value) >= max(AURORA_SHARE * greatest, 1.0)
        ages.append(f"aurora {say.ago_words(now - figures.oval[0])}")
    if figures.absorbed is not None and sky.absorption is not None:
        absorbed = np.nan_to_num(sky.absorption.highest_mhz) >= ABSORBED_MHZ
        ages.append(f"absorption {say.ago_words(now - figures.absorbed[0])}")
    return MeasuredView(
        plain_chart(now, place),
        as_float(percent),
        measured_conditions.LATITUDES_DEG,
        measured_conditions.LONGITUDES_DEG,
        aurora,
        absorbed,
        ABSORBED_MHZ,
        _together(ages),
    )


def _together(ages: list[str]) -> str:
    """Join the ages: `layer 25 min ago, aurora 5 min ago`, or `measured 25 min ago` if all are the same."""
    when = {age.partition(" ")[2] for age in ages}
    return f"measured {when.pop()}" if len(when) == 1 else ", ".join(ages)


def _when(moment: np.datetime64 | None) -> str:
    return f"{say.date(moment)} {say.both_clocks(moment)}" if moment is not None else "no date"


def _histories(conditions: Conditions, now: np.datetime64) -> tuple[History, ...]:
    out = []
    days = _past(now, FLUX_DAYS, 86400)
    flux = conditions.flux_at(days)
    if np.isfinite(flux).any():
        latest = f"{float(conditions.flux_at(now)):.0f} sfu"
        low, high = _flux_scale(flux)
        out.append(History("10.7 cm flux", "sfu", days, flux, low, high, latest))
    out.append(_k_history(conditions, now))
    minutes = _past(now, XRAY_HOURS * 12, 300)
    xray = conditions.xray_at(minutes)
    if (xray > 0).any():
        shown = np.where(xray > 0, xray, np.nan)
        latest = xray_class(float(conditions.xray_at(now))) if float(conditions.xray_at(now)) > 0 else "-"
        out.append(
            History("X-rays, 1 to 8 angstrom", "W/m2", minutes, shown, 1e-8, 1e-3, latest, logarithmic=True)
        )
    return tuple(out)


def _flux_scale(flux: FloatArray) -> tuple[float, float]:
    """Ends of the scale of the flux [sfu], in tens around its values."""
    least, most = float(np.nanmin(flux)), float(np.nanmax(flux))
    spare = max(LEAST_SPAN_SFU - (most - least), 0.0) / 2.0
    return np.floor((least - spare) / 10.0) * 10.0, np.ceil((most + spare) / 10.0) * 10.0


def _k_history(conditions: Conditions, now: np.datetime64) -> History:
    """K of the last days and of those forecast, every three hours from a midnight UTC on."""
    today = now.astype("datetime64[D]").astype("datetime64[s]")
    first = today - np.timedelta64(86400 * (K_DAYS - 1 - K_AHEAD_DAYS), "s")
    intervals = first + (np.arange(K_DAYS * 8) * 10800).astype("timedelta64[s]")
    known = conditions.kp_known(intervals)
    latest = f"K {float(conditions.kp_at(now)):.0f}" if bool(conditions.kp_known(now)) else "not known now"
    kp = np.where(known, conditions.kp_at(intervals), np.nan)
    if not known.any():
        latest = ""  # told beside the name
    return History("Planetary K", "", intervals, kp, 0.0, 9.0, latest, bars=True, now=now)


def _past(now: np.datetime64, count: int, step_s: int) -> TimeArray:
    steps: TimeArray = now.astype("datetime64[s]") - (np.arange(count - 1, -1, -1) * step_s).astype(
        "timedelta64[s]"
    )
    return steps


def _outlook(conditions: Conditions, now: np.datetime64) -> tuple[tuple[np.datetime64, float, float], ...]:
    noon = now.astype("datetime64[D]").astype("datetime64[s]") + np.timedelta64(43200, "s")
    days = [noon + np.timedelta64(86400 * day, "s") for day in range(1, 6)]
    known = [day for day in days if bool(conditions.kp_known(day))]
    return tuple((day, float(conditions.flux_at(day)), float(conditions.kp_at(day))) for day in known)


def _beacon(now: np.datetime64, place: Position) -> str:
    turns = load_beacons().turns(now, place)
    heard_now = [turn for turn in turns if turn.beacon.active]
    if not heard_now:
        return ""
    parts = ", ".join(
        f"{turn.frequency_mhz:.3f} {turn.beacon.name} (bearing {say.bearing_figure(turn.bearing_deg)})"
        for turn in heard_now[:5]
    )
    return f"Beacons on the air at {say.clock(now)}: {parts}."


LABELS: Final = {
    "flux_sfu": "10.7 cm flux",
    "ssn": "or sunspot number",
    "kp": "K index",
    "a_index": "A index",
}


def fields(now: np.datetime64) -> tuple[FormField, ...]:
    """Form fields of the values that can be typed in."""
    entries = hand_entry.entries_of(store())
    last = entries[-1] if entries else None

    def shown(value: float | None) -> str:
        return "" if value is None else f"{value:g}"

    return (
        FormField(
            "flux_sfu",
            LABELS["flux_sfu"],
            shown(last.flux_sfu if last else None),
            "sfu",
            hint="as broadcast, 60 to 400",
        ),
        FormField(
            "ssn",
            LABELS["ssn"],
            shown(last.ssn if last else None),
            "",
            hint="smoothed, as published today; flux or this",
        ),
        FormField("kp", LABELS["kp"], shown(last.kp if last else None), "", hint="planetary K, 0 to 9"),
        FormField("a_index", LABELS["a_index"], shown(last.a_index if last else None), hint="planetary A"),
    )


def type_in(entries: Mapping[str, str], now: np.datetime64) -> str:
    """Save the typed values; empty entries delete the values typed before."""
    given = {key: figure(text) for key, text in entries.items() if text}
    if not given:
        gone = hand_entry.forget_entries(store())
        return "What was typed in is forgotten." if gone else "Nothing was typed in."
    entry = HandEntry(now, **given)
    hand_entry.add_entry(store(), entry)
    return f"Typed in: {entry.words()}."


def check(entries: Mapping[str, str], now: np.datetime64) -> str:
    """Return a sentence if a typed value cannot be used, else an empty string."""
    given: dict[str, float] = {}
    for key, text in entries.items():
        if text:
            given[key] = figure(text)
            if math.isnan(given[key]):
                return f"{LABELS[key]}: {text!r} is not a number."
            wrong = fault(partial(hand_entry.checked, HandEntry(now, **{key: given[key]})))
            if wrong:
                return f"{LABELS[key]}: {wrong}"
    return fault(lambda: hand_entry.checked(HandEntry(now, **given))) if given else ""
