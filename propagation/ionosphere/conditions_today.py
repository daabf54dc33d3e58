"""The best conditions there are, with the sky as it was measured laid over them where maps of it are kept."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

import numpy as np

from propagation.base.store import Store
from propagation.base.units import TimeLike
from propagation.geo.geomagnetic import middle_year
from propagation.ionosphere.measured_layer import departure_of
from propagation.space_weather.state import stored_conditions
from propagation.space_weather.state.conditions import Conditions
from propagation.space_weather.state.measured_conditions import (
    MeasuredAbsorption,
    MeasuredOval,
    SkyNow,
    oval_kp,
)
from propagation.space_weather.state.measured_maps import (
    FUTURE,
    kept_absorption_map,
    kept_aurora_map,
    kept_frames,
)

NEWER: Final = np.timedelta64(600, "s")  # X-rays measured this much after the absorption map replace it


def best(
    store: Store | None,
    times: TimeLike,
    now: np.datetime64,
    ssn: float | None = None,
    flux_sfu: float | None = None,
    kp: float | None = None,
    *,
    besides: Sequence[np.datetime64] = (),
) -> Conditions:
    """As `stored_conditions.best`, and the measured sky where a copy speaks of any of the times.

    Numbers given with a command ask "what if", of another sky than the one that was measured: it is left out.
    """
    conditions = stored_conditions.best(store, times, now, ssn, flux_sfu, kp, besides=besides)
    if store is None or not (ssn is None and flux_sfu is None and kp is None):
        return conditions
    sky = sky_now(store, conditions, now)
    return conditions if sky is None or not sky.speaks(times) else replace(conditions, sky_now=sky)


def sky_now(store: Store, conditions: Conditions, now: np.datetime64) -> SkyNow | None:
    """What the stored maps measured, None without any; damaged ones and those of the future are left out."""
    latest = now + FUTURE
    layer = departure_of([frame for frame in kept_frames(store) if _by(frame.time, latest)], conditions)
    absorbed, aurora = kept_absorption_map(store), kept_aurora_map(store)
    absorption = oval = None
    if absorbed is not None and absorbed.valid_at is not None and _by(absorbed.valid_at, latest):
        seen = conditions.xray_seen
        flare = seen is None or bool(seen <= absorbed.valid_at + NEWER)
        absorption = MeasuredAbsorption(absorbed.valid_at, absorbed.highest_mhz, flare)
    if aurora is not None and aurora.valid_at is not None and _by(aurora.observed, latest):
        kp = oval_kp(aurora, middle_year(aurora.valid_at))
        oval = None if kp is None else MeasuredOval(aurora.valid_at, kp, aurora.observed, aurora.value)
    found = SkyNow(layer, absorption, oval)
    return None if found == SkyNow() else found


def _by(time: np.datetime64 | None, latest: np.datetime64) -> bool:
    return time is not None and bool(time <= latest)
