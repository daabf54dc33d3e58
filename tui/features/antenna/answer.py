"""The antenna bench: what each band's solution says, as shares of a hundred watts and as a setup card."""

from __future__ import annotations

from dataclasses import replace

from propagation.antennas.antenna import Antenna
from propagation.antennas.exposure import safety
from propagation.antennas.improvements import improvements
from propagation.antennas.measurements import set_aside
from propagation.antennas.spec import VERTICALS
from propagation.base.units import as_float, undb
from propagation.signal.chances.forecast import TUNED_FROM
from propagation.spectrum.bands import BANDS, Band, segment_mhz
from propagation.station.station import Station
from propagation.station.terminals import Terminal
from tui.features.antenna.view import BenchBand, BenchView

SMALLEST_SHARE = 0.0005
MOST_HELPS, WORTH_DB = 5, 0.3  # changes shown for a band, and the least that is worth naming


def radials_words(antenna: Antenna) -> str:
    """The radials in a few words."""
    spec = antenna.spec
    where = "on the ground" if spec.radial_end_height_m < 0.02 else "raised"
    return f"{spec.radials} radial{'s' if spec.radials != 1 else ''} {where}"


def bench_view(near: Terminal, station: Station, mode: str) -> BenchView:
    """The whole bench."""
    antenna = near.antenna
    if antenna is None:
        return BenchView("No antenna", "", ())
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
    return BenchView(
        _describe(antenna),
        f"{station.site.ground.capitalize()} earth; {line}",
        rows,
        cautions=cautions,
    )


def with_helps(view: BenchView, station: Station, band: str) -> BenchView:
    """The bench with what single changes would bring on one more of its bands, the best first."""
    frequency = next(row.frequency_mhz for row in view.bands if row.band == band)
    changes = improvements(station.antenna, station.site.earth, station.feedline, [frequency])
    found = [
        (change.change, band, change.mean_db) for change in changes[:MOST_HELPS] if change.mean_db >= WORTH_DB
    ]
    order = [row.band for row in view.bands]
    known = sorted([*view.help, *found], key=lambda one: order.index(one[1]))
    return replace(view, help=tuple(known), helped=(*view.helped, band))


def _describe(antenna: Antenna) -> str:
    spec = antenna.spec
    if spec.kind == "loaded vertical":
        place = "at the base" if spec.coil_height_m < 0.02 else f"{spec.coil_height_m:g} m up"
        return (
            f"Loaded vertical of {spec.whip_m:g} m, coil {place}, Q {spec.coil_q:g}, {radials_words(antenna)}"
        )
    if spec.kind in VERTICALS:
        return f"{spec.kind.capitalize()}, {radials_words(antenna)}"
    return f"{spec.kind.capitalize()} at {spec.height_m:g} m"


def _band(antenna: Antenna, station: Station, band: Band, mode: str) -> BenchBand:
    frequency = station.centre_mhz(band, mode)
    found = antenna.on(frequency)
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
    return BenchBand(
        band=band.name,
        frequency_mhz=frequency,
        shares=tuple((name, share) for name, share in parts.items() if share > SMALLEST_SHARE),
        coil_uh=found.coil_uh if antenna.spec.kind == "loaded vertical" else None,
        radials=radials_words(antenna) if antenna.spec.kind in VERTICALS and antenna.spec.radials else "",
        swr_1p5_khz=found.swr_1p5_khz,
        swr_2_khz=found.swr_2_khz,
        centre_on_mhz=None if span is None else (span[0] + span[1]) / 2.0,
        power_limit_w=found.power_limit_w,
        limit_by="the coil's heat and voltage" if antenna.spec.kind == "loaded vertical" else "",
        gain_dbi=tuple((float(angle), gain) for angle, gain in found.gain_dbi.items()),
        basis=found.basis,
        note="\n".join(found.notes),
        set_aside=bool(set_aside(antenna.spec, frequency)),
    )
