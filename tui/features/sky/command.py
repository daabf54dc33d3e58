"""`bandwhen sky`: ionosphere over a place at a time."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING, Any

from propagation.wording import quantities as say
from tui.app import clock, command_base, times_typed
from tui.kit import format as fmt

if TYPE_CHECKING:
    import numpy as np

    from propagation.advice.sky import LayersNow
    from propagation.space_weather.state.conditions import Conditions
    from tui.app.command_base import Subparsers


def add_parser(subparsers: Subparsers) -> None:
    """Describe the command's options."""
    parser = subparsers.add_parser(
        "sky",
        help="the ionosphere over a place",
        description="The monthly-median ionosphere over a place at a time, from the published maps.",
    )
    parser.add_argument(
        "--place",
        "--at",
        metavar="PLACE",
        help="a friend, a locator, lat,lon or a known name (default: your station's)",
    )
    command_base.add_time(parser)
    command_base.add_conditions(parser)
    command_base.add_output(parser)


def run(args: argparse.Namespace) -> int:
    """Compute and print the result."""
    from propagation.advice.sky import layers_now
    from propagation.ionosphere.layers import ionosphere

    position, name = command_base.place_or_own(args.place, args)
    here = command_base.here_at(position)
    time = times_typed.moment(args.time, lambda: here)
    command_base.tell_clock(args, here.zone)
    state = command_base.conditions_of(args, time)
    layer = ionosphere(position.lat_deg, position.lon_deg, time, float(state.index_at(time)))
    today = layers_now(state, position, time)
    result = {
        "fof2_mhz": float(layer.fof2_mhz),
        "m3000f2": float(layer.m3000f2),
        "foe_mhz": float(layer.foe_mhz),
        "foes_mhz": {
            "lower": float(layer.foes_lower_mhz),
            "median": float(layer.foes_median_mhz),
            "upper": float(layer.foes_upper_mhz),
        },
        "hmf2_km": float(layer.hmf2_km),
        "dip_deg": float(layer.dip_deg),
        "modified_dip_deg": float(layer.modified_dip_deg),
        "geomagnetic_latitude_deg": float(layer.geomagnetic_latitude_deg),
        "gyrofrequency_mhz": float(layer.gyro_300_mhz),
        "solar_zenith_deg": float(layer.zenith_deg),
        "place": name,
        "lat_deg": position.lat_deg,
        "lon_deg": position.lon_deg,
        "time": fmt.iso(time),
        "index": float(state.index_at(time)),
        "index_source": state.index_words(time),
        "conditions": state.as_dict(time, clock.now()),
        "now": {
            "fof2_mhz": today.fof2_mhz[1],
            "muf_3000_mhz": today.muf_3000_mhz[1],
            "measured": today.measured,
            "storm_factor": today.storm_factor,
        },
    }
    command_base.answer(args, result, _text(result, state, time, today), _plain(result, state, time, today))
    return 0


def _text(sky: dict[str, Any], state: Conditions, time: np.datetime64, today: LayersNow) -> str:
    from propagation.wording.sky import layers_sentences

    es = sky["foes_mhz"]
    rows = [
        ["F2 critical frequency foF2", f"{sky['fof2_mhz']:.2f} MHz"],
        ["M(3000)F2", f"{sky['m3000f2']:.2f}"],
        ["F2 peak height hmF2", f"{sky['hmf2_km']:.0f} km"],
        ["E critical frequency foE", f"{sky['foe_mhz']:.2f} MHz"],
        ["Sporadic E foEs, 9 days in 10", f"{es['lower']:.2f} MHz"],
        ["Sporadic E foEs, every other day", f"{es['median']:.2f} MHz"],
        ["Sporadic E foEs, 1 day in 10", f"{es['upper']:.2f} MHz"],
        ["Sun's zenith angle", f"{sky['solar_zenith_deg']:.1f}°"],
        ["Magnetic dip at 300 km", f"{sky['dip_deg']:.1f}°"],
        ["Modified dip", f"{sky['modified_dip_deg']:.1f}°"],
        ["Geomagnetic latitude", f"{sky['geomagnetic_latitude_deg']:.1f}°"],
        ["Gyrofrequency at 300 km", f"{sky['gyrofrequency_mhz']:.2f} MHz"],
    ]
    return "\n".join(
        [
            f"The ionosphere over {sky['place']}, {say.day_month(time)}, {say.both_clocks(time)}",
            f"Monthly median. Conditions: {command_base.conditions_words(state, time)}",
            "",
            fmt.table(rows),
            "",
            *layers_sentences(today, clock.now()),
        ]
    )


def _plain(sky: dict[str, Any], state: Conditions, time: np.datetime64, today: LayersNow) -> str:
    from propagation.wording.sky import layers_sentences

    es = sky["foes_mhz"]
    return "\n".join(
        [
            f"The ionosphere over {sky['place']} on {say.day_month(time)} at {say.both_clocks(time)}.",
            "All figures are medians of the month.",
            f"The F2 layer returns up to {sky['fof2_mhz']:.2f} MHz from straight overhead, with M(3000)F2 "
            f"{sky['m3000f2']:.2f} and its peak at {sky['hmf2_km']:.0f} kilometres.",
            f"The E layer returns up to {sky['foe_mhz']:.2f} MHz.",
            f"Sporadic E reaches {es['lower']:.2f} MHz on nine days in ten, {es['median']:.2f} MHz on every "
            f"other day and {es['upper']:.2f} MHz on one day in ten.",
            f"The sun stands at a zenith angle of {sky['solar_zenith_deg']:.1f} degrees.",
            f"The magnetic dip at 300 kilometres is {sky['dip_deg']:.1f} degrees, the modified dip "
            f"{sky['modified_dip_deg']:.1f}, the geomagnetic latitude {sky['geomagnetic_latitude_deg']:.1f} "
            f"and the gyrofrequency {sky['gyrofrequency_mhz']:.2f} MHz.",
            *layers_sentences(today, clock.now()),
            f"Conditions: {command_base.conditions_words(state, time)}.",
        ]
    )
