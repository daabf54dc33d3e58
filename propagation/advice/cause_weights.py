"""Causes that limit a band by weight, measured by setting each to its harmless value.

Every cause is a switch. Off means the real value, on means the harmless value. The worth of the band, days
for a place and contacts an hour for a region (`region_chance`), is computed for every combination of
switches. A cause's weight is the worth regained by switching it on, averaged over all orders of switching
(the Shapley value of the cause, L. S. Shapley 1953). So a cause counts equally alone, in pairs and with all
others. The weights sum exactly to the missing worth and change smoothly with the input. There are no rules
about bands or hours here.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from math import factorial
from typing import Final

import numpy as np

from propagation.advice.activity import habits_of
from propagation.advice.people import at_least, rate_of
from propagation.advice.rates import Prospect, over_days, rates_of
from propagation.advice.recompute import Cells, Computed, Switched, compute
from propagation.advice.region_chance import outlook
from propagation.base.units import BoolArray, FloatArray, IntArray, TimeArray, as_float, db, undb
from propagation.signal.chances.far_end_mixture import mixed_by_day
from propagation.signal.chances.forecast import Forecast
from propagation.signal.chances.limiting import FAIR_POWER_W
from propagation.signal.chances.link_budget import REFERENCE_BANDWIDTH_HZ, OneWay, both_by_day, both_ways
from propagation.signal.losses.counterfactual import Counterfactual
from propagation.signal.rays.causes import CODE, EVENTS, Cause, Loss
from propagation.signal.rays.path_samples import Disturber
from propagation.space_weather.state.storm_corrections import StormCorrections, corrections_of
from propagation.spectrum import noise
from propagation.spectrum.modes import narrower
from propagation.station.terminals import Terminals

NOTHING_MISSING: Final = (
    0.002  # share of the worth with everything harmless; up to it nothing is missing (ours)
)
LOWER_FROM: Final = 0.995  # of the usual foF2, below which today's layer is a possible cause (ours)
AURORA_FROM_DB: Final = 0.05  # dB, auroral loss below which it is no possible cause (ours)
POINTS_MOST: Final = 24  # points of a region that are computed: those where most is missing (ours)


@dataclass(frozen=True)
class Weighted:
    """One cause: its weight (all sum to one), and what the band would promise if it alone were harmless."""

    cause: Cause
    weight: float
    alone: Prospect


@dataclass(frozen=True)
class Reasons:
    """Causes of what is missing in one cell, largest first.

    worth: with the real values, perfect: with everything harmless; 0 to 1, as in `region_chance`.
    """

    worth: float
    perfect: float
    causes: tuple[Weighted, ...]


@dataclass(frozen=True, eq=False)
class _Ends:
    """Points (n,) that are computed, the better route of each, and how they count.

    weight (n,): share of a place, stations on the air of a region. rest (U, V): stations of the other points
    in reach by kind of day; None for a place.
    """

    point: IntArray
    route: IntArray
    weight: FloatArray
    rest: FloatArray | None


def reasons(result: Forecast, terminals: Terminals, band: int, time: int) -> Reasons:
    """Compute the causes for one band and one time (indices) of a forecast."""
    ends = _ends(result, band, time)
    cells = Cells(
        ends.point,
        ends.route,
        np.full(ends.point.size, band),
        np.full((ends.point.size, 1), result.times[time], dtype="datetime64[s]"),
    )
    names, found = _all_combinations(result, terminals, cells, band, ends)
    if ends.rest is None:
        return _weigh(names, found, [Prospect(float(chance)) for chance in found])
    habits, mode = habits_of(result.station.people), result.mode.name
    by_day = rate_of(found, mode, habits)
    rates, few = rates_of(by_day), over_days(at_least(result.wanted, by_day))
    promised = [Prospect(float(few[s]), rates.at(s), result.wanted) for s in range(few.size)]
    return _weigh(names, as_float(rates.middle / habits.ceiling(mode)), promised)


def _ends(result: Forecast, band: int, time: int) -> _Ends:
    by_route = result.chance[:, :, time, band]
    route = np.argmax(by_route, axis=1)
    people = outlook(result).people if result.far_ends is not None else None
    weight = result.target.weight if people is None else people.on_air[:, time, band]
    lost = weight * (1.0 - by_route[np.arange(route.size), route])
    order = np.argsort(-lost, kind="stable")
    points = order[:POINTS_MOST]
    if people is None:
        return _Ends(points, route[points], weight[points], None)
    others = order[POINTS_MOST:]
    mixed = np.max(result.mixed[others][:, :, result.between.place(time), band], axis=1)
    return _Ends(points, route[points], weight[points], np.einsum("p,puv->uv", weight[others], mixed))


# --- every combination ---------------------------------------------------------------------------------


def _all_combinations(
    result: Forecast, terminals: Terminals, cells: Cells, band: int, ends: _Ends
) -> tuple[list[Cause], FloatArray]:
    """Names of the switches, and for every combination the chance (S,), or stations in reach (S, U, V).

    Entry s has switch i on where bit i of s is set.
    """
    on_path = _path_switches(result, compute(result, terminals, cells))
    on_link = _link_switches(result, terminals, band)
    cells = _by_both_routes(cells)  # with a cause removed, the other route may be the better one
    count = cells.point.size
    days = () if ends.rest is None else ends.rest.shape
    table = np.empty((1 << len(on_path), 1 << len(on_link), *days))
    flat_too = "horizon" in on_path
    inner = [name for name in on_path if name != "horizon"]
    for flat in (False, True)[: 2 if flat_too else 1]:
        chosen = Terminals(replace(terminals.near, skyline=_level), terminals.far) if flat else terminals
        copies = 1 << len(inner)
        copy = np.arange(count * copies) // count
        on: dict[Cause, BoolArray] = {name: (copy >> i & 1).astype(bool) for i, name in enumerate(inner)}
        many = cells.repeated(copies)
        disturber = _disturber(result, many.times, on)
        found = compute(result, chosen, many, counterfactual=_without(on), disturber=disturber)
        for column, each in enumerate(_over_links(result, found, on_link, mixed=ends.rest is not None)):
            rows = np.max(each.reshape(copies, 2, count // 2, *each.shape[1:]), axis=1)
            # the horizon is the last of the path's switches, so its half of the table follows the first
            start = copies if flat else 0
            table[start : start + copies, column] = np.einsum("cp...,p->c...", rows, ends.weight)
    path_names = [*inner, *(["horizon"] if flat_too else [])]
    names: list[Cause] = [*on_link, *path_names]  # type: ignore[list-item]
    value = table.reshape(-1, *days)  # the link's switches are the low bits
    if ends.rest is not None:
        value = value + ends.rest
    if "antenna range" in names:  # a band that cannot be tuned is not used, even if all else is harmless
        tuned = np.arange(len(value)) >> names.index("antenna range") & 1
        value = value * tuned.reshape(-1, *(1 for _ in days))
    if not result.usable[band] and result.unusable_cause[band] == CODE["licence"]:
        names.append("licence")
        value = np.concatenate([np.zeros_like(value), value])
    return names, value


def _by_both_routes(cells: Cells) -> Cells:
    """All rows by the short route, then all by the long route."""
    twice = cells.repeated(2)
    return replace(twice, route=np.repeat([0, 1], cells.point.size))


def _level(azimuth_deg: FloatArray | float) -> FloatArray:
    return np.zeros_like(as_float(azimuth_deg))


def _path_switches(result: Forecast, base: Computed) -> list[Cause]:
    path = base.path
    f = path.frequency_mhz
    middle = path.samples.fof2_mhz.shape[-1] // 2
    reach = 1.2 * path.samples.m3000f2[..., middle, None] * path.samples.fof2_mhz[..., middle, None]
    skipped = (f < reach) & (path.distance_km[:, None, None] < 3000.0)
    names: list[Cause] = ["skip zone" if bool(np.mean(skipped) >= 0.5) else "above the MUF"]
    names += ["absorption", "E screening"]
    disturber = _disturbed(result, path.samples.times)
    if bool(np.any(path.auroral_db > AURORA_FROM_DB)):
        names.append("auroral zone")
    if disturber is not None:
        latitude, when = path.samples.geomagnetic_latitude_deg, path.samples.times[..., None]
        if bool(np.any(np.abs(disturber.storm_factor(latitude, when) - 1.0) > 0.002)):
            names.append("storm")
        at_lat, at_lon = path.samples.lat_deg[:, None, :], path.samples.lon_deg[:, None, :]
        today = disturber.layer_today(at_lat, at_lon, when)
        if today is not None and bool(np.any(today[0] < LOWER_FROM)):
            names.append("today's layer")
        taken = disturber.extra_absorption(at_lat, at_lon, path.samples.zenith_deg, latitude, when)
        names += [name for name, x in zip(EVENTS, taken, strict=True) if bool(np.any(x > 0.0))]
    if result.station.site.horizon:
        names.append("horizon")
    return names


def _link_switches(result: Forecast, terminals: Terminals, band: int) -> list[Cause]:
    names: list[Cause] = ["noise"]
    by_antenna = not result.usable[band] and result.unusable_cause[band] == CODE["antenna range"]
    names.append("antenna range" if by_antenna else "antenna")
    if min(terminals.near.power_w, terminals.far.power_w) < FAIR_POWER_W:
        names.append("power")
    if narrower(result.mode) is not None:
        names.append("mode")
    return names


def _without(on: dict[Cause, BoolArray]) -> Counterfactual:
    losses: dict[Cause, Loss] = {
        "above the MUF": "above the MUF",
        "skip zone": "above the MUF",
        "absorption": "absorption",
        "E screening": "E screening",
        "auroral zone": "auroral zone",
    }
    return Counterfactual({losses[name]: rows for name, rows in on.items() if name in losses})


def _disturbed(result: Forecast, times: TimeArray) -> StormCorrections | None:
    return corrections_of(result.conditions, result.effects, times)


def _disturber(result: Forecast, times: TimeArray, on: dict[Cause, BoolArray]) -> Disturber | None:
    whole = _disturbed(result, times)
    return None if whole is None else Switched(whole, on)


def _over_links(
    result: Forecast, found: Computed, names: Sequence[Cause], *, mixed: bool
) -> Iterator[FloatArray]:
    """Chance of each row (N,) for every combination of the link's switches, in their order.

    mixed: the share of a region's stations by kind of day (N, U, V) instead.
    """
    near, far = found.terminals.near, found.terminals.far
    f = found.path.frequency_mhz[:1]  # all rows are on one band
    own_loss = -db(near.receive_efficiency(f))
    other = narrower(result.mode)
    for code in range(1 << len(names)):
        on = {name for i, name in enumerate(names) if code >> i & 1}
        lossless = bool(on & {"antenna", "antenna range"})
        there = here = np.zeros(found.there.noise_dbw.shape)
        if lossless:
            there, here = there + own_loss, here + own_loss
        if "power" in on:
            there = there + max(10.0 * np.log10(FAIR_POWER_W / near.power_w), 0.0)
            here = here + max(10.0 * np.log10(FAIR_POWER_W / far.power_w), 0.0)
        there = there + found.there.noise_dbw - _noise(found, False, "noise" in on, False)
        here = here + found.here.noise_dbw - _noise(found, True, "noise" in on, lossless)
        need = found.need_db
        if "mode" in on and other is not None:
            need = other.required_snr_2500_db
        out, back = _shifted(found.there, there), _shifted(found.here, here)
        if mixed and result.far_ends is not None:
            as_assumed = both_by_day(out, back, need, need)
            yield mixed_by_day(out, back, need, result.far_ends, as_assumed)[0][:, 0, 0]
        else:
            yield both_ways(out, back, need, need)[:, 0, 0]


def _noise(found: Computed, at_home: bool, quiet: bool, lossless: bool) -> FloatArray:
    """Noise power at one end [dBW in 2500 Hz], with the real or the harmless values (N, T, 1)."""
    end = found.terminals.near if at_home else found.terminals.far
    one = found.here if at_home else found.there
    f = found.path.frequency_mhz[:1]
    fam = one.noise.fam_db
    if quiet:
        calm = db(undb(noise.QUIET_RURAL.man_made_fam_db(f)) + undb(noise.galactic_fam_db(f)))
        fam = np.minimum(fam, calm)
    efficiency = np.ones(f.shape) if lossless else end.receive_efficiency(f)
    return noise.noise_power_dbw(fam, REFERENCE_BANDWIDTH_HZ, efficiency, end.noise_figure_db)


def _shifted(one: OneWay, by_db: FloatArray) -> OneWay:
    return replace(one, snr_db=one.snr_db + by_db[..., None, None])


# --- weights -------------------------------------------------------------------------------------------


def _weigh(names: Sequence[Cause], value: FloatArray, promised: Sequence[Prospect]) -> Reasons:
    share = np.maximum(shapley(value), 0.0)
    worth, perfect = float(value[0]), float(value[-1])
    total = float(np.sum(share))
    if total <= NOTHING_MISSING * perfect:
        return Reasons(worth, perfect, (Weighted("open", 1.0, promised[0]),))
    causes = tuple(
        Weighted(names[i], float(share[i] / total), promised[1 << i])
        for i in np.argsort(-share, kind="stable").tolist()
        if share[i] > 0.0
    )
    return Reasons(worth, perfect, causes)


def shapley(value: FloatArray) -> FloatArray:
    """Mean contribution of each player over all orders of joining.

    value: shape (2^n,), entry s the worth of the players whose bits are set in s. Returns shape (n,), whose
    sum is value[-1] - value[0].
    """
    count = int(value.size).bit_length() - 1
    sets = np.arange(value.size)
    size = np.zeros(value.size, dtype=np.int64)
    for i in range(count):
        size += sets >> i & 1
    weights = np.array([factorial(k) * factorial(count - k - 1) / factorial(count) for k in range(count)])
    result = np.empty(count)
    for i in range(count):
        without = sets[(sets >> i & 1) == 0]
        result[i] = np.sum(weights[size[without]] * (value[without | 1 << i] - value[without]))
    return result
