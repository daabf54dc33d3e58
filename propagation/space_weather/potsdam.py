"""The second host, the geomagnetic service at Potsdam: planetary K where the first host fails."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

import numpy as np

from propagation.base.store import Store
from propagation.space_weather.feeds import Limits, Outcome, fetch_all

SECOND_ADDRESS: Final = "https://kp.gfz.de"
POTSDAM_K: Final = "potsdam-k"
_K: Final = "planetary-k"


def second_needed(outcomes: list[Outcome]) -> bool:
    """Whether planetary K was asked for and could not be had."""
    return any(outcome.product == _K and outcome.status == "failed" for outcome in outcomes)


def fetch_second(
    store: Store,
    now: np.datetime64,
    clock: Callable[[], float],
    address: str = SECOND_ADDRESS,
    limits: Limits | None = None,
    proxy: str = "",
) -> list[Outcome]:
    """Planetary K from the second host; arguments as in `feeds.fetch_all`."""
    return fetch_all(store, now, clock, address, (POTSDAM_K,), limits, proxy=proxy)
