"""Two antennas side by side: the day run with each of them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from propagation.advice.two_antennas import better, worth
from propagation.base.units import as_float
from propagation.wording.two_antennas import carry_sentences
from tui.app import day_forecast
from tui.app.choice import Choice, Trial
from tui.app.queries import Abandoned, Cancelled
from tui.app.sites import Sites
from tui.features.antenna.view import BesideBand, BesideView
from tui.kit.words import on_screen

IN_USE = "the one in use"


def beside_view(
    sites: Sites, choice: Choice, other: Trial, now: np.datetime64, cancelled: Cancelled
) -> BesideView:
    """What the antenna in use and another do for the target on the day of the choice."""
    names = (choice.tried.name if choice.tried is not None else IN_USE, other.name)
    pair = []
    for one in (choice, replace(choice, tried=other)):
        pair.append(day_forecast.work_out(sites, one, now))
        if cancelled():
            raise Abandoned
    results = pair[0].result, pair[1].result
    worths = worth(results[0]), worth(results[1])
    shares = [kept.near.receive_efficiency(as_float(kept.result.frequency_mhz)) for kept in pair]
    rows = [row for row in range(len(results[0].bands)) if results[0].usable[row] or results[1].usable[row]]
    bands = [band.name for band in results[0].bands]
    return BesideView(
        names,
        tuple(
            BesideBand(
                bands[row],
                (float(shares[0][row]), float(shares[1][row])),
                (float(worths[0].best[row]), float(worths[1].best[row])),
            )
            for row in rows
        ),
        tuple(
            on_screen(line)
            for line in carry_sentences(names, bands, worths, better(*worths), results[0].target.name)
        ),
    )
