"""Antenna on every band, comparison of two antennas, analyser readings, and trial antennas."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

import numpy as np

from propagation.advice.antenna_worth import better, delivered_dbi, takeoff_deg, worth, worth_of
from propagation.antennas.antenna import Antenna
from propagation.antennas.exposure import safety
from propagation.antennas.improvements import Candidate, Improvement, improvements
from propagation.antennas.marks import mark_for
from propagation.antennas.measurements import set_aside, stamped
from propagation.antennas.spec import VERTICALS
from propagation.antennas.vertical import radial_length_m
from propagation.base.errors import InputError
from propagation.base.files import locked
from propagation.base.units import as_float, undb
from propagation.signal.chances.forecast import TUNED_FROM, forecast
from propagation.spectrum.bands import BANDS, Band, segment_mhz
from propagation.spectrum.modes import by_name as mode_by_name
from propagation.station import station
from propagation.station.station import Station
from propagation.station.terminals import Terminal, Terminals
from propagation.wording import quantities as say
from propagation.wording.comparison import carry_sentences, lesson_sentence, won_words
from propagation.wording.setup import kind_words, mark_words, match_words
from tui.app import day_forecast, paths, station_form
from tui.app.choice import Choice, Trial
from tui.app.day_forecast import DayForecast
from tui.app.queries import Abandoned, Cancelled
from tui.app.sites import Sites
from tui.features.antenna.view import (
    AntennaBand,
    AntennaView,
    BesideBand,
    BesideView,
    Help,
)
from tui.kit.form import FormField
from tui.kit.words import on_screen

SMALLEST_SHARE = 0.0005
MOST_HELPS, WORTH_DB = 8, 0.3  # changes shown for a band, and the smallest gain [dB] that is shown


def radials_words(antenna: Antenna, frequency_mhz: float | None = None) -> str:
    """Describe the radials in a few words; with their length on a frequency [MHz]."""
    spec = antenna.spec
    where = "on the ground" if spec.radial_end_height_m < 0.02 else "raised"
    long = "" if frequency_mhz is None else f" of {radial_length_m(spec, frequency_mhz):.1f} m"
    return f"{say.counted(spec.radials, 'radial')}{long} {where}"


def antenna_view(near: Terminal, station: Station, mode: str) -> AntennaView:
    """Antenna data of every band, without possible improvements."""
    antenna = near.antenna
    if antenna is None:
        return AntennaView("No antenna", "", ())
    rows = tuple(
        _band(antenna, station, band, mode)
        for band in BANDS
        if station.usable(band, mode)
        and float(near.receive_efficiency(as_float(station.centre_mhz(band, mode)))) >= TUNED_FROM
    )
    line = (
        f"{station.feedline.length_m:g} m of {station.feedline.cable}, "
        f"{'a' if station.feedline.choke else 'no'} choke"
    )
    cautions = safety(antenna.spec)
    return AntennaView(
        _describe(antenna),
        f"{station.site.ground.capitalize()} earth; {line}",
        rows,
        cautions=cautions,
    )


def with_helps(view: AntennaView, station: Station, band: str, day: DayForecast | None = None) -> AntennaView:
    """Add the gains of single changes on one more band: by what the day gains, else by dB; largest first.

    day: of the station and the target.
    """
    frequency = next(row.frequency_mhz for row in view.bands if row.band == band)
    judge, angle, towards = None, None, ""
    if day is not None:
        judge = worth_of(day.result, Terminals(day.near, day.far), band=band)
        angle = takeoff_deg(day.result)[[day.result.band_index(band)]]
        towards = day.result.target.name
    changes = improvements(
        station.antenna, station.site.earth, station.feedline, [frequency], judge, takeoff_deg=angle
    )
    counted = [one for one in changes if one.candidate.computed and one.mean_db >= WORTH_DB][:MOST_HELPS]
    found = [_help(one, band) for one in changes if one in counted or not one.candidate.computed]
    order = [row.band for row in view.bands]
    known = sorted([*view.help, *found], key=lambda one: order.index(one.band))
    return replace(view, help=tuple(known), helped=(*view.helped, band), towards=towards)


def _help(one: Improvement, band: str) -> Help:
    """Help of an improvement on one band."""
    won = "" if one.won is None or one.after is None else won_words(one.won, one.after.region)
    return Help(one.candidate, band, one.mean_db if one.candidate.computed else None, won)


def _describe(antenna: Antenna) -> str:
    spec = antenna.spec
    if spec.kind == "loaded vertical":
        place = "at the base" if spec.coil_height_m < 0.02 else f"{spec.coil_height_m:g} m up"
        return (
            f"Loaded vertical of {spec.whip_m:g} m, coil {place}, Q {spec.coil_q:g}, {radials_words(antenna)}"
        )
    kind = kind_words(spec.kind)
    if spec.kind in VERTICALS:
        return f"{kind.capitalize()}, {radials_words(antenna)}"
    return f"{kind[:1].upper()}{kind[1:]} at {spec.height_m:g} m"


def _band(antenna: Antenna, station: Station, band: Band, mode: str) -> AntennaBand:
    frequency = station.centre_mhz(band, mode)
    found = antenna.on(frequency, mode_by_name(mode))
    loaded = antenna.spec.kind == "loaded vertical"
    through = float(undb(-found.feedline_loss_db))
    parts = {
        "radiated": found.shares["sky"] * through,
        "coil": found.shares["coil"] * through,
        "earth": found.shares["earth"] * through,
        "connections": found.shares["connections"] * through,
        "coax": 1.0 - through,
        "transformer": found.shares["other"] * through,
        "unexplained": found.shares["unexplained"] * through,
    }
    span = segment_mhz(band, station.site.region, mode, station.limits.country)
    return AntennaBand(
        band=band.name,
        frequency_mhz=frequency,
        shares=tuple((name, share) for name, share in parts.items() if share > SMALLEST_SHARE),
        whip_m=found.whip_m,
        coil_uh=(found.coil_uh or 0.0) if loaded else None,
        series_pf=found.series_pf,
        radials=radials_words(antenna, frequency)
        if antenna.spec.kind in VERTICALS and antenna.spec.radials
        else "",
        swr_1p5_khz=found.swr_1p5_khz,
        swr_2_khz=found.swr_2_khz,
        centre_on_mhz=None if span is None else (span[0] + span[1]) / 2.0,
        power_limit_w=found.power_limit_w,
        limit_by="the coil's heat and voltage" if loaded else "",
        gain_dbi=tuple((float(angle), gain) for angle, gain in found.gain_dbi.items()),
        basis=found.basis,
        match=tuple(match_words(found)),
        note="\n".join(found.notes),
        mark=mark_words(mark_for(antenna, frequency)),
        set_aside=bool(set_aside(antenna.spec, frequency)),
    )


LINES = ("antenna.", "feedline.")  # lines of the station's form that describe an antenna


def short(try_change: str) -> str:
    """Shorten a change for the heading: leave out the part it replaces."""
    return try_change.partition(" instead of ")[0].removeprefix("a ").removeprefix("the ")


def try_change(own: Station, change: Candidate) -> Trial:
    """Trial of one change from the list of possible improvements."""
    # a reading counts for the changed antenna only if it does not depend on the changed part
    changed = replace(change.spec, measured=stamped(own.antenna).measured)
    return Trial(short(change.change), changed, change.feedline)


def try_antenna_of(sites: Sites, path: str) -> Trial:
    """Trial of the antenna and feedline of another station on file, with the lesson of its log."""
    found = sites.station(path)
    name = f"antenna of {found.name or Path(path).stem}"
    return Trial(name, found.antenna, found.feedline, file=path or str(paths.demo_station_file()))


def antenna_fields(own: Station) -> list[FormField]:
    """Form fields of an antenna, filled with the present one."""
    return [FormField("name", "Name", "", hint="short, for the heading"), *station_form.lines_of(own, LINES)]


def try_described(entries: Mapping[str, str]) -> Trial:
    """Trial of an antenna and feedline typed into a form. Raises InputError with the form's labels."""
    only = {key: text for key, text in entries.items() if key.startswith(LINES)}
    try:
        found = station.loads(station_form.toml_of({"site.locator": "JJ00", **only}, ""), "the form")
    except InputError as error:
        raise InputError(station_form.in_labels(error.message.removeprefix("the form: "))) from None
    name = entries.get("name", "").strip() or f"{found.antenna.kind}"
    return Trial(name, found.antenna, found.feedline)


def keep_trial(sites: Sites, choice: Choice) -> str:
    """Write the trial into the station's file atomically. Return the file's path.

    The demo's file is not changed: a new station file is made from it.
    """
    trial = choice.tried
    if trial is None:
        raise InputError("Nothing is tried, so there is nothing to keep.")
    own = station_form.own_file(choice.station)
    while True:
        file = Path(own) if own else station_form.new_file(sites.station(choice.station).name)
        with locked(file):
            if own or not file.exists():
                station.save(_station_with(sites.station(choice.station), trial, choice.power_w), file)
                return str(file)


def _station_with(own: Station, trial: Trial, power_w: float) -> Station:
    if trial.antenna is not None:
        # readings stay with the antenna they were taken with, so that they apply again when it is used again
        both = dict.fromkeys((*stamped(own.antenna).measured, *stamped(trial.antenna).measured))
        marks = dict.fromkeys((*own.antenna.marks, *trial.antenna.marks))
        antenna = replace(trial.antenna, measured=tuple(both), marks=tuple(marks))
        own = replace(own, antenna=antenna, feedline=trial.feedline or own.feedline)
    if trial.power_before_w is not None:
        own = replace(own, rig=replace(own.rig, power_w=power_w))
    return own


IN_USE = "the one in use"


def beside_view(
    sites: Sites,
    choice: Choice,
    other: Trial,
    now: np.datetime64,
    cancelled: Cancelled,
    day: DayForecast | None = None,
) -> BesideView:
    """Compare the antenna in use with another for the target on the day of the choice.

    day: of the choice, if it has been computed.
    """
    names = (choice.tried.name if choice.tried is not None else IN_USE, other.name)
    first = day if day is not None and day.choice == choice else day_forecast.work_out(sites, choice, now)
    if cancelled():
        raise Abandoned
    second = replace(choice, tried=other)
    own, near = first.result, (first.near, sites.near(second))
    results = own, forecast(sites.request(second, own.times, own.conditions))
    if cancelled():
        raise Abandoned
    worths = worth(results[0]), worth(results[1])
    angle = takeoff_deg(own)
    gains = [delivered_dbi(own, end, angle) for end in near]
    shares = [end.receive_efficiency(as_float(own.frequency_mhz)) for end in near]
    rows = [row for row in range(len(own.bands)) if results[0].usable[row] or results[1].usable[row]]
    bands = [band.name for band in own.bands]
    lesson = lesson_sentence(names, (near[0].offset_db is not None, near[1].offset_db is not None))
    says = carry_sentences(names, bands, worths, better(*worths), own.target.name)
    return BesideView(
        names,
        tuple(
            BesideBand(
                bands[row],
                (float(shares[0][row]), float(shares[1][row])),
                (worths[0].best[row], worths[1].best[row]),
                float(angle[row]),
                (float(gains[0][row]), float(gains[1][row])),
            )
            for row in rows
        ),
        tuple(on_screen(line) for line in [*says, lesson] if line),
    )
