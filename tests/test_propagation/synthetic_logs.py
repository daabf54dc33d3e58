"""Synthetic logs with a known station offset, for the tests of learning.

The engine's circuits give every contact's days, a day's state of the layers is drawn once for all its
contacts, signal, noise and the other station are drawn from the spreads the engine states, a contact exists
only where both directions reach what the mode needs, and only then is there a report. Where wished, the other
stations' powers are drawn from those that amateurs have, and the reports are those of crowded receivers.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache
from itertools import product

import numpy as np
from cases import computed
from worlds import demo, request_for

from propagation.base.units import BoolArray, FloatArray
from propagation.geo import great_circle
from propagation.geo.locator import Position
from propagation.ionosphere import variability
from propagation.logbook import entries as entry_rows
from propagation.logbook import evidence
from propagation.logbook.entries import LogEntries
from propagation.logbook.expected import Expected, expect
from propagation.signal.chances.link_budget import one_way
from propagation.space_weather.state import conditions
from propagation.space_weather.state.event_absorption import Effects
from propagation.space_weather.state.storm_corrections import corrections_of
from propagation.spectrum import modes
from propagation.station.terminals import Terminal, far_terminal, own_terminal

BANDS = ("40m", "20m", "15m")
POWER_W = 50.0
DECILE = 1.2816  # standard deviations to a decile
ELSEWHERE = Position(48.2, 11.5)  # where the station that moved spends the second half of its days
POWERS_W = (5.0, 25.0, 50.0, 100.0, 400.0)  # of other stations, on the mean 4 dB under 100 W
POWER_SHARES = (0.2, 0.2, 0.25, 0.25, 0.1)
CROWDED_DB = -9.0  # dB, usual ceiling of the reports of crowded receivers
CROWDED_SD_DB = 6.0  # dB, its spread from report to report
NEED_DB = modes.by_name("DIGITAL").required_snr_2500_db


def blank(n: int) -> FloatArray:
    return np.full(n, np.nan)


def contacts(
    times: list[str] | np.ndarray,
    bands: tuple[str, ...],
    lat: FloatArray,
    lon: FloatArray,
    away: BoolArray | None = None,
) -> LogEntries:
    """Contacts of the demo station, some of them made elsewhere, without any report."""
    n = len(bands)
    here = demo().site.position
    away = np.zeros(n, dtype=bool) if away is None else away
    kinds = ("DIGITAL",) * n
    return LogEntries(
        time=np.asarray(times, dtype="datetime64[s]"), band=bands,
        frequency_mhz=entry_rows.frequencies_mhz(demo(), bands, kinds),  # type: ignore[arg-type]
        mode=kinds, mode_class=kinds, call=tuple(f"T{i}TEST" for i in range(n)),  # type: ignore[arg-type]
        lat_deg=lat, lon_deg=lon, uncertainty_km=np.full(n, 80.0),
        own_lat_deg=np.where(away, ELSEWHERE.lat_deg, here.lat_deg),
        own_lon_deg=np.where(away, ELSEWHERE.lon_deg, here.lon_deg),
        power_w=np.full(n, POWER_W),
        place_given=away, power_given=np.zeros(n, dtype=bool), far_power_w=blank(n),
        direction=np.zeros(n, dtype=np.int64), need_db=np.full(n, NEED_DB),
        sent=("",) * n, received=("",) * n, out_db=blank(n), back_db=blank(n), country=("",) * n,
        comment=("",) * n,
    )  # fmt: skip


@dataclass
class World:
    """Chances for contacts, their forecast as the program makes it, and the days the truth is drawn from."""

    entries: LogEntries
    expected: Expected
    out: FloatArray  # (n, U, V) SNR at the far end on each kind of day
    back: FloatArray
    lower: FloatArray  # (n, 2) deciles of all that varies about the day, out and back
    upper: FloatArray
    signal: FloatArray  # (n, 2) lower and upper decile of the part both directions share


@cache
def world(moved: bool = False) -> World:
    """2400 chances on twelve days, computed by the engine both in the program's way and by hand.

    moved: the second half of them from another place, as the log then says.
    """
    rng = np.random.default_rng(11)
    n = 2400
    seconds = rng.integers(0, 12, n) * 86400 + rng.integers(4 * 3600, 20 * 3600, n)
    times = np.datetime64("2024-04-01", "s") + np.sort(seconds).astype("timedelta64[s]")
    bands = tuple(np.array(BANDS)[rng.integers(0, 3, n)].tolist())
    on_40 = np.array([band == "40m" for band in bands])
    away = (np.arange(n) >= n // 2) & moved
    own = contacts(times, bands, np.zeros(n), np.zeros(n), away)
    home_lat, home_lon = own.own_lat_deg, own.own_lon_deg
    reach = np.where(on_40, rng.uniform(100.0, 2500.0, n), rng.uniform(600.0, 9500.0, n))
    lat, lon = great_circle.destination(home_lat, home_lon, rng.uniform(0.0, 360.0, n), reach)
    rows = replace(own, lat_deg=lat, lon_deg=lon)
    state = conditions.built_in(times)
    out, back = np.empty((n, 7, 5)), np.empty((n, 7, 5))
    lower, upper, signal = (np.empty((n, 2)) for _ in range(3))
    near, far = replace(own_terminal(demo()), power_w=POWER_W), far_terminal(demo().far_end)
    for band, is_away in product(BANDS, (False, True) if moved else (False,)):
        r = np.flatnonzero((np.array(bands) == band) & (away == is_away))
        near = replace(near, skyline=Terminal.skyline if is_away else near.skyline)
        home, there = (home_lat[r], home_lon[r]), (lat[r], lon[r])
        when = times[r][:, None]
        path = computed(
            great_circle.route(home, there),
            when,
            rows.frequency_mhz[r[:1]],
            state.index_at(when),
            near,
            far,
            corrections_of(state, Effects(), when),
            ground=demo().site.earth,
            year=2022.5,  # the middle of the five years that have one magnetic field
            keep_ray_paths=False,
        )
        ways = one_way(path, near, far, towards_far_end=True), one_way(path, far, near, towards_far_end=False)
        out[r], back[r] = (way.snr_db[:, 0, 0] for way in ways)
        lower[r] = np.stack([way.lower_db[:, 0, 0] for way in ways], axis=1)
        upper[r] = np.stack([way.upper_db[:, 0, 0] for way in ways], axis=1)
        latitude = path.samples.geomagnetic_latitude_deg
        deciles = variability.signal_deciles_db(latitude[..., latitude.shape[-1] // 2])
        signal[r] = np.stack([np.broadcast_to(side, (r.size, 1))[:, 0] for side in deciles], axis=1)
    return World(rows, expect(rows, request_for(rows.time, state)), out, back, lower, upper, signal)


def split(z: FloatArray, lower: FloatArray, upper: FloatArray) -> FloatArray:
    """Normal scores as decibels with unlike deciles below and above."""
    return np.where(z < 0.0, z * lower, z * upper) / DECILE


def truth(
    seed: int, offsets: dict[str, float], moved: bool = False
) -> tuple[FloatArray, FloatArray, np.random.Generator]:
    """SNR at both ends of every chance, on days drawn once for all contacts of a date."""
    w, rng = world(moved), np.random.default_rng(seed)
    n = w.entries.size
    _, day = np.unique(w.entries.time.astype("datetime64[D]"), return_inverse=True)
    u = rng.choice(7, day.max() + 1, p=variability.LAYER_WEIGHTS)[day]
    v = rng.choice(5, day.max() + 1, p=variability.ES_WEIGHTS)[day]
    shared = split(rng.standard_normal(n), w.signal[:, 0], w.signal[:, 1])
    shared = shared + evidence.STATION_SD_DB * rng.standard_normal(n)
    shared = shared + np.array([offsets.get(band, 0.0) for band in w.entries.band])
    levels = []
    for side, days in enumerate((w.out, w.back)):
        own = (
            np.sqrt(all_[:, side] ** 2 - w.signal[:, part] ** 2)
            for part, all_ in enumerate((w.lower, w.upper))
        )
        levels.append(days[np.arange(n), u, v] + shared + split(rng.standard_normal(n), *own))
    return levels[0], levels[1], rng


def log_in_decibels(
    seed: int, offsets: dict[str, float], per_band: int, most_chance: float = 1.0
) -> tuple[LogEntries, Expected]:
    """A log of up to so many contacts on each band, with reports in whole decibels that are off by 3 dB.

    most_chance: only of what the forecast gives no more than this.
    """
    w = world()
    out, back, rng = truth(seed, offsets)
    made = (np.minimum(out, back) >= NEED_DB) & (w.expected.chance <= most_chance)
    rows = []
    for band in BANDS:
        there = np.flatnonzero(made & np.array([name == band for name in w.entries.band]))
        rows.append(rng.permutation(there)[:per_band])
    chosen = np.sort(np.concatenate(rows))
    measured = [np.round(level[chosen] + 3.0 * rng.standard_normal(chosen.size)) for level in (out, back)]
    return replace(w.entries.take(chosen), out_db=measured[0], back_db=measured[1]), w.expected.take(chosen)


def crowded_log(
    seed: int,
    offsets: dict[str, float],
    per_band: int,
    *,
    moved: bool = False,
    crowded: bool = True,
    ceiling_sd_db: float = CROWDED_SD_DB,
) -> tuple[LogEntries, Expected]:
    """A log with other stations of unknown powers; where crowded, all its reports saturate."""
    w = world(moved)
    out, back, rng = truth(seed, offsets, moved)
    back = back + 10.0 * np.log10(rng.choice(POWERS_W, back.size, p=POWER_SHARES) / 100.0)
    made = np.minimum(out, back) >= NEED_DB
    band = np.array(w.entries.band)
    rows = [rng.permutation(np.flatnonzero(made & (band == name)))[:per_band] for name in offsets]
    chosen = np.sort(np.concatenate(rows))
    measured = []
    for level in (out[chosen], back[chosen]):
        ceiling = CROWDED_DB + ceiling_sd_db * rng.standard_normal(chosen.size)
        if crowded:
            level = -10.0 * np.log10(10.0 ** (-level / 10.0) + 10.0 ** (-ceiling / 10.0))
        measured.append(np.round(level + 3.0 * rng.standard_normal(chosen.size)))
    return replace(w.entries.take(chosen), out_db=measured[0], back_db=measured[1]), w.expected.take(chosen)
