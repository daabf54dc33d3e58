"""The measured maps in `bandwhen conditions`: got over the network, and what of them is in force."""

from __future__ import annotations

import argparse
import time as seconds
from typing import TYPE_CHECKING

import numpy as np

from propagation.base.errors import InputError
from tui.app import clock, command_base

if TYPE_CHECKING:
    from propagation.base.store import Store


def fetch_maps(args: argparse.Namespace, store: Store, mirror: str | None) -> None:
    """Say how much will come, fetch the maps, and answer with what became of each."""
    from propagation.space_weather.sources import feeds, potsdam
    from propagation.space_weather.state.measured_maps import MEASURED, fetch_measured, size_words
    from tui.app import settings

    address = mirror or feeds.BASE_ADDRESS
    proxy = settings.load()[0].proxy
    way = f" through the proxy {proxy}" if proxy else ""
    command_base.note(
        f"Fetching {len(MEASURED)} measured maps from {feeds.checked_base(address)}{way}: {size_words()}."
    )
    outcomes = fetch_measured(store, clock.now(), seconds.monotonic, address, proxy=proxy)
    second = potsdam.second_address(address, outcomes)
    if second is not None:
        command_base.note(f"K by half hours is asked of {second}{way}.")
        outcomes += potsdam.fetch_second(
            store, clock.now(), seconds.monotonic, second, proxy=proxy, name=potsdam.POTSDAM_HP30
        )
    got = [outcome for outcome in outcomes if outcome.status != "failed"]
    if not got:
        raise InputError(f"No measured map could be fetched: {'; '.join(o.message for o in outcomes)}.")
    measured, _ = measured_shown(store, clock.now())
    result = {
        "address": address,
        "products": [
            {"product": o.product, "status": o.status, "message": o.message, "problems": list(o.problems)}
            for o in outcomes
        ],
        "measured": measured,
    }
    count = f"{len(got)} of {len(outcomes)} measured products were fetched."
    text = "\n".join([*(outcome.message for outcome in outcomes), "", count])
    command_base.answer(args, result, text, text.replace("\n\n", "\n"))


def measured_shown(store: Store, now: np.datetime64) -> tuple[list[dict[str, object]], list[str]]:
    """The maps that are kept as plain values, and a line on each and on every copy that is damaged."""
    from propagation.space_weather.state.measured_maps import measured_of, measured_words

    kept, notes = measured_of(store, now)
    rows = [
        {
            "product": one.product,
            "what": one.what,
            "time": one.time,
            "age_minutes": round(float(one.age / np.timedelta64(60, "s")), 1),
            "in_force": one.in_force,
            "fetched": one.fetched,
            "origin": one.origin,
            "problems": list(one.problems),
        }
        for one in kept
    ]
    return rows, [*(measured_words(one) for one in kept), *(note.rstrip(".") for note in notes)]
