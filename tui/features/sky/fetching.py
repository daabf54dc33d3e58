"""Fetching of space weather, for the command and for the page, and the stored measured maps."""

from __future__ import annotations

import argparse
import os
import time as seconds
from typing import TYPE_CHECKING, Final

import numpy as np

from propagation.base.errors import InputError
from tui.app import clock, command_base

if TYPE_CHECKING:
    from collections.abc import Callable

    from propagation.base.store import Store
    from propagation.space_weather.sources.hosts import Group
    from propagation.space_weather.sources.refresh import RefreshRequest

MIRROR_VARIABLE: Final = "BANDWHEN_MIRROR"


def request_for(group: Group, names: tuple[str, ...] = (), mirror: str | None = None) -> RefreshRequest:
    """Request from the settings and the environment; InputError if the mirror or the proxy is unusable."""
    from propagation.space_weather.sources.refresh import RefreshRequest
    from tui.app import settings

    return RefreshRequest(
        group, names, mirror or os.environ.get(MIRROR_VARIABLE) or "", settings.load()[0].proxy
    )


def request_words(request: RefreshRequest) -> str:
    """Number of products, their addresses, and their size if it is large. Shown before anything is sent."""
    from propagation.space_weather.sources.refresh import size_words

    size = f": {size_words()}" if request.group == "maps" else ""
    return f"Fetching {len(request.wanted)} products from {request.source_words()}{size}"


def fetch_command(args: argparse.Namespace, store: Store) -> None:
    """Carry out `bandwhen conditions fetch`."""
    from propagation.ionosphere.conditions_today import best
    from propagation.space_weather.sources.refresh import refresh

    if args.measured and args.only:
        raise InputError("--only chooses among the products, --measured gets the maps: give one of them.")
    request = request_for("maps" if args.measured else "indices", tuple(args.only or ()), args.mirror)
    command_base.note(f"{request_words(request)}.")
    now = clock.now()
    outcomes = refresh(store, now, seconds.monotonic, request, announce=command_base.note)
    got = [outcome for outcome in outcomes if outcome.status != "failed"]
    state = best(store, now, now)
    used = f"In use: {state.source}, {state.age_text(now)}."
    if not got:
        raise InputError(f"Nothing could be fetched: {outcomes[0].reason}. {used}")
    result = {
        "address": request.address_of(request.hosts[0]),
        "products": [
            {"product": o.product, "status": o.status, "message": o.message, "problems": list(o.problems)}
            for o in outcomes
        ],
        "conditions": state.as_dict(now, now),
        "measured": measured_shown(store, now)[0],
    }
    count = f"{len(got)} of {len(outcomes)} products are up to date."
    text = "\n".join([*(outcome.message for outcome in outcomes), "", count, used])
    command_base.answer(args, result, text, text.replace("\n\n", "\n"))


def fetch(store: Store, group: Group, now: np.datetime64, cancelled: Callable[[], bool]) -> str:
    """Fetch the products of a group. Return one sentence on the result."""
    from propagation.space_weather.sources.refresh import refresh

    outcomes = refresh(store, now, seconds.monotonic, request_for(group), cancelled)
    good = [outcome for outcome in outcomes if outcome.status != "failed"]
    bad = [outcome for outcome in outcomes if outcome.status == "failed"]
    if not good:
        return f"Nothing could be fetched ({bad[0].message}); what is stored stays in use."
    if group == "maps":
        tail = f"; not fetched: {bad[0].message}" if bad else ""
        return f"Fetched {'; '.join(outcome.message for outcome in good)}{tail}."
    tail = f"; {len(bad)} failed, their stored copies stay in use" if bad else ""
    return f"Fetched {len(good)} of {len(outcomes)} products{tail}."


def measured_shown(store: Store, now: np.datetime64) -> tuple[list[dict[str, object]], list[str]]:
    """Return the stored maps as plain values, and a line on each map and each damaged copy."""
    from propagation.space_weather.state.measured_maps import measured_of, measured_words

    kept, notes = measured_of(store, now)
    rows: list[dict[str, object]] = [
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
