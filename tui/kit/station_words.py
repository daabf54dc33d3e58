"""A station in words, a line for each part of it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from propagation.wording.quantities import noise_of, percent
from tui.kit.format import number

if TYPE_CHECKING:
    from propagation.station.station import Station


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
            f"{noise_of(site.noise_level)}, ITU region {site.region}{country}, time zone {site.time_zone}",
        ),
        ("rig", f"{rig.power_w:g} W, {rig.mode} ({rig.emission.title}, {rig.emission.bandwidth_hz:g} Hz)"),
        ("antenna", _antenna(station)),
        (
            "feed line",
            f"{number(station.feedline.length_m, 1, 'm')} of {station.feedline.cable}, "
            f"{'with' if station.feedline.choke else 'without'} a choke",
        ),
        ("far end", f"{far.power_w:g} W, {far.antenna} at {far.height_m:g} m, {noise_of(far.noise_level)}"),
        ("bands", f"{', '.join(used)} for {rig.mode}" + (f"; not {', '.join(unused)}" if unused else "")),
        ("licence", LICENCE_REMINDER.rstrip(".")),
    ]
    if site.horizon:
        skyline = ", ".join(f"{elevation:g}° at {azimuth:g}°" for azimuth, elevation in site.horizon)
        lines.insert(2, ("skyline", skyline))
    return lines


def _antenna(station: Station) -> str:
    spec = station.antenna
    if spec.kind == "loaded vertical":
        return (
            f"loaded vertical of {number(spec.whip_m, 2, 'm')}, coil Q {spec.coil_q:g} at "
            f"{spec.coil_height_m:g} m, {spec.radials} radials, feed at {spec.feed_height_m:g} m"
        )
    if spec.kind in ("vertical", "half-wave vertical"):
        return f"{spec.kind}, {spec.radials} radials, feed at {spec.feed_height_m:g} m"
    if spec.kind == "table":
        return f"gain table of {len(spec.table)} rows"
    extra = (
        f", transformer passes {percent(spec.transformer_efficiency)}"
        if spec.kind == "sloping end-fed"
        else ""
    )
    return f"{spec.kind} at {spec.height_m:g} m, azimuth {spec.azimuth_deg:g}°{extra}"
