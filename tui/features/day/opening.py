"""`bandwhen --plain`: content of the opening screen in sentences."""

from __future__ import annotations

import argparse
import sys
from zoneinfo import ZoneInfo

import numpy as np

from propagation.wording import quantities as say
from tui.app import clock, command_base, settings


def run(args: argparse.Namespace) -> int:
    """Compute the day from now on and print it."""
    from propagation.base.errors import InputError
    from tui.app import day_forecast
    from tui.app.choice import Choice
    from tui.app.sites import Sites
    from tui.kit import words

    if args.station is not None and not args.station.is_file():
        raise InputError(f"There is no station file {str(args.station)!r}.")
    chosen, note = settings.load()
    sites = Sites()
    opening = sites.open(str(args.station or chosen.station), chosen.target)
    for sentence in (note, opening.note, command_base.DEMO_NOTE if opening.station.demo else ""):
        if sentence:
            print(sentence, file=sys.stderr)
    say.set_clock_face(say.ClockFace(ZoneInfo(opening.time_zone), chosen.clock == "local"))
    now = clock.now()
    choice = Choice(
        station=opening.station.path,
        target=opening.target,
        start=now.astype("datetime64[h]").astype("datetime64[s]"),
        mode=chosen.mode or opening.mode,
        power_w=chosen.power_w or opening.power_w,
    )
    view = day_forecast.view_of(day_forecast.work_out(sites, choice, now), now, opening.station.demo)
    index = int(np.argmin(np.abs(view.times - now)))
    print("\n".join(words.day_sentences(view, index)))
    return 0
