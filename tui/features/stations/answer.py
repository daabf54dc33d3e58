"""Stations and friends on file in sentences, and the chart of their places."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from propagation.antennas.exposure import lossless_distance_m
from propagation.antennas.outline import outline
from propagation.antennas.spec import SAID_TO_LIE_M, VERTICALS, AntennaSpec
from propagation.base.errors import BandwhenError
from propagation.base.units import FloatArray
from propagation.geo import great_circle, places, sun
from propagation.geo.locator import Position
from propagation.spectrum.bands import BANDS, by_name
from propagation.station import station as stations
from propagation.station.friends import Friend
from propagation.station.station import Station
from propagation.wording import quantities as say
from tui.app import station_form
from tui.app.choice import FriendCard, Opening
from tui.app.sites import Sites
from tui.features.stations.sketch import SketchView
from tui.kit.words import describe, on_screen
from tui.kit.world import MapView, chart_axes

ROUTE_POINTS = 80


def entries_view(sites: Sites, opening: Opening, when: np.datetime64) -> EntriesView:
    """Return every entry of the page of stations and friends."""
    used = sites.station(opening.station.path)
    site = used.site.position
    says: dict[str, tuple[str, ...]] = {}
    for card in opening.stations:
        try:
            found = sites.station(card.path)
        except BandwhenError as error:
            says[f"station:{card.path}"] = (error.message,)
        else:
            says[f"station:{card.path}"] = _station(found)
    spots: list[tuple[str, float, float]] = []
    for friend in opening.friends:
        where = places.place(friend.place)
        says[f"friend:{friend.name}"] = _friend(friend, site, where, when)
        spots.append((friend.name, where.lat_deg, where.lon_deg))
    lat, lon, sea = chart_axes()
    return EntriesView(
        says,
        MapView(
            time=when,
            band="",
            lat_deg=lat,
            lon_deg=lon,
            sea=sea,
            sun_elevation_deg=90.0 - sun.zenith_deg(lat[:, None], lon[None, :], when),
            share=None,
            routes=tuple(_route(site, *spot) for spot in spots),
            site=(site.lat_deg, site.lon_deg),
            targets=tuple(spots),
        ),
    )


def _route(site: Position, name: str, lat_deg: float, lon_deg: float) -> tuple[str, FloatArray, FloatArray]:
    """Short path to a place."""
    route = great_circle.route(site, (lat_deg, lon_deg))
    lat, lon = route.at_km(np.linspace(0.0, float(route.distance_km), ROUTE_POINTS))
    return name, lat, lon


def _station(station: Station) -> tuple[str, ...]:
    return tuple(on_screen(f"{heading.capitalize()}: {line}.") for heading, line in describe(station))


def _friend(friend: FriendCard, site: Position, where: Position, when: np.datetime64) -> tuple[str, ...]:
    """Describe a friend: distance, bearing, local time and sun."""
    zone = Friend(friend.name, friend.place, time_zone=friend.zone).zone
    moment: dt.datetime = when.astype("datetime64[s]").item()
    local = moment.replace(tzinfo=dt.UTC).astimezone(zone)
    route = great_circle.route(site, where)
    there, back = float(route.bearing_deg), float(route.far_bearing_deg)
    height = 90.0 - float(sun.zenith_deg(where.lat_deg, where.lon_deg, when))
    light = "daylight" if height > 0 else "twilight" if height > -12.0 else "night"
    events = sun.sun_events(where, when.astype("datetime64[D]"))
    lines = [
        f"{friend.name}, {friend.place}.",
        f"{say.kilometres(float(route.distance_km))} by the short way, at {say.bearing(there)}; from there "
        f"to you at {say.bearing(back)}.",
        f"The clock there says {local:%H:%M} ({zone.key}); it is {light}.",
    ]
    if events.sunrise is not None and events.sunset is not None:
        lines.append(
            f"Sun there: up {say.both_clocks(events.sunrise)}, down {say.both_clocks(events.sunset)}."
        )
    if friend.note:
        lines.append(f"On file: {friend.note.rstrip('.')}.")
    return tuple(on_screen(line) for line in lines)


DRAWN_BAND = "20m"  # band for which the picture draws what is cut to each band


def sketch_of(entries: Mapping[str, str]) -> SketchView | None:
    """The picture of the antenna that a form describes; None while the entries are not valid."""
    only = {key: text for key, text in entries.items() if key.startswith(("antenna.", "rig."))}
    try:
        found = stations.loads(station_form.toml_of({"site.locator": "JJ00", **only}, ""), "the form")
    except BandwhenError:
        return None
    spec, mode = found.antenna, found.rig.emission
    at_mhz = [found.centre_mhz(band, mode) for band in BANDS if found.usable(band)]
    away_m = max((lossless_distance_m(spec, found.power_w, mode, one) for one in at_mhz), default=0.0)
    says = (f"People {away_m:.1f} m away.", *_dimensions(spec))
    return SketchView(outline(spec, found.centre_mhz(by_name(DRAWN_BAND))), away_m, says)


def _dimensions(spec: AntennaSpec) -> list[str]:
    """The main lengths in a few words, one line each."""
    if spec.kind not in VERTICALS:
        length = "1/2 wave" if spec.length_m is None else f"{spec.length_m:g} m"
        return [f"Wire {length}, {spec.height_m:g} m high."]
    whip = "Whip cut to the band" if spec.longest_m is None else f"Whip {spec.longest_m:g} m"
    if spec.pushed_in_m is not None:
        whip = f"Whip {spec.pushed_in_m:.2g} to {spec.longest_m:g} m"
    long = "1/4 wave" if spec.radial_m is None else f"{spec.radial_m:g} m"
    where = "lying" if spec.radial_end_height_m <= SAID_TO_LIE_M else "raised"
    radials = f"{say.counted(spec.radials, 'radial')}, {long}, {where}." if spec.radials else "No radials."
    return [f"{whip}.", radials]


@dataclass(frozen=True)
class EntriesView:
    """Stations and friends on file: sentences on each, and their places."""

    says: dict[str, tuple[str, ...]]  # by the entry's key
    chart: MapView
