"""The second host, the geomagnetic service at Potsdam: planetary K where the first host fails, and Hp30."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

import numpy as np

from propagation.base.store import Store
from propagation.space_weather.sources import feeds
from propagation.space_weather.sources.feeds import Limits, Outcome, fetch_all

SECOND_ADDRESS: Final = "https://kp.gfz.de"
POTSDAM_K: Final = "potsdam-k"
POTSDAM_HP30: Final = "potsdam-hp30"
_K: Final = "planetary-k"


def second_needed(outcomes: list[Outcome]) -> bool:
    """Whether planetary K was asked for and could not be had."""
    return any(outcome.product == _K and outcome.status == "failed" for outcome in outcomes)


def second_address(address: str, outcomes: list[Outcome]) -> str | None:
    """Where the second host's products are: a mirror that answered stands for both hosts; None for nowhere.

    address: where the first host's products were asked for; outcomes: what became of them.
    """
    if address == feeds.BASE_ADDRESS:
        return SECOND_ADDRESS
    return address if any(outcome.status != "failed" for outcome in outcomes) else None


def fetch_second(
    store: Store,
    now: np.datetime64,
    clock: Callable[[], float],
    address: str = SECOND_ADDRESS,
    limits: Limits | None = None,
    proxy: str = "",
    *,
    name: str = POTSDAM_K,
    cancelled: Callable[[], bool] = lambda: False,
) -> list[Outcome]:
    """One product of the second host, planetary K if none is named; arguments as in `feeds.fetch_all`."""
    return fetch_all(store, now, clock, address, (name,), limits, cancelled, proxy)
