"""Best available conditions: typed in, stored copies of fetched products, and the built-in record.

Every fact has its own time. Where several give the same time, the order is: typed in, observed, forecast for
three days, 27-day outlook, built-in record. So an old copy applies to old days only, and later days use the
next source of that order.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Final

import numpy as np

from propagation.base.store import Store, StoreError
from propagation.base.time_series import EMPTY, TimeSeries, later, shifted
from propagation.base.units import IntArray, TimeArray, TimeLike
from propagation.space_weather.indices.geomagnetic_activity import THREE_HOURS, interval_start, kp_from_ap
from propagation.space_weather.indices.smoothed_index import (
    FADE_DAYS,
    FLUX_HOUR,
    effective_index,
    history_days,
)
from propagation.space_weather.indices.solar_history import SolarHistory, solar_history
from propagation.space_weather.indices.solar_index import flux_from_index, index_from_ssn
from propagation.space_weather.sources.hosts import INDEX_PRODUCTS, OBSERVING
from propagation.space_weather.sources.product_data import ProductData
from propagation.space_weather.state.conditions import (
    QUIET_KP,
    Conditions,
    Fact,
    built_in,
    index_spans,
    typed_in,
)
from propagation.space_weather.state.ear_reports import heard_offset
from propagation.space_weather.state.event_absorption import ORDINARY_XRAY_W_M2, fading_xray_w_m2
from propagation.space_weather.state.hand_entry import HandEntry, entries_of

DAY: Final = np.timedelta64(86400, "s")
K_HOLDS: Final = 2  # intervals: a typed-in K applies to its own and the next
K_FADES: Final = 8  # intervals over which it then fades to the quiet field, where nothing better is known
FLARE_FADES: Final = np.timedelta64(4 * 3600, "s")  # how long the fading of a flare is followed


@dataclass
class _Facts:
    """Facts of all stored copies and hand entries together."""

    flux: TimeSeries = EMPTY
    flux_forecast: TimeSeries = EMPTY
    kp: TimeSeries = EMPTY
    kp_forecast: TimeSeries = EMPTY
    typed_flux: TimeSeries = EMPTY
    typed_kp: TimeSeries = EMPTY
    typed_fade: TimeSeries = EMPTY
    xray: TimeSeries = EMPTY
    protons: TimeSeries = EMPTY
    listed: list[Fact] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)


def best(
    store: Store | None,
    times: TimeLike,
    now: np.datetime64,
    ssn: float | None = None,
    flux_sfu: float | None = None,
    kp: float | None = None,
    besides: Sequence[np.datetime64] = (),
) -> Conditions:
    """The best conditions for a span of times: the numbers given with a command, over the best that are
    stored.

    store: of the copies, or None. times, now: [datetime64, UTC]. ssn (version 2), flux_sfu, kp: as in
    `typed_in`. besides: moments whose reports by ear are left out (`heard_offset`).
    Never raises for damaged copies: they are named in `notes`.
    """
    stored = from_store(store, times, now, besides) if store is not None else built_in(times)
    if ssn is None and flux_sfu is None and kp is None:
        return stored
    return typed_in(ssn=ssn, flux_sfu=flux_sfu, kp=kp, base=replace(stored, heard=EMPTY))


def products_data_of(
    store: Store, now: np.datetime64
) -> tuple[dict[str, ProductData], list[Fact], list[str]]:
    """Data of each stored product, the age of each, and what was wrong with them."""
    products, facts, notes = {}, [], []
    for name, product in INDEX_PRODUCTS.items():
        try:
            stored = store.get(name)
        except StoreError as damage:
            notes.append(damage.message)
            continue
        if stored is None:
            continue
        data = product.data(stored.body)
        facts.append(Fact(product.what, "; ".join(data.problems), data.issued, stored.origin))
        if data.issued is not None and data.issued > later(now, DAY):
            notes.append(f"{product.what}: dated {data.issued}Z, in the future; check the clock.")
            data = _until(data, later(now, DAY))
        products[name] = data
    return products, facts, notes


def _until(data: ProductData, latest: np.datetime64) -> ProductData:
    """Data without what was observed after a time."""

    def cut(record: TimeSeries) -> TimeSeries:
        return TimeSeries(record.times[record.times <= latest], record.values[record.times <= latest])

    return replace(
        data,
        flux_sfu=cut(data.flux_sfu),
        kp=cut(data.kp),
        hp30=cut(data.hp30),
        xray_w_m2=cut(data.xray_w_m2),
        issued=None,
    )


def from_store(
    store: Store, times: TimeLike, now: np.datetime64, besides: Sequence[np.datetime64] = ()
) -> Conditions:
    """Conditions out of the stored copies and typed-in facts, over the built-in record.

    times, now, besides: [datetime64, UTC], as in `best`. The result answers for any time; what is not known
    there comes from the built-in record, and beyond the last known flux the index fades into the monthly
    index.
    """
    base = built_in(times)
    products, listed, notes = products_data_of(store, now)
    try:
        entries = [entry for entry in entries_of(store) if entry.at <= later(now, DAY)]
    except StoreError as damage:
        entries = []
        notes.append(damage.message)
    heard, heard_facts, damaged = heard_offset(store, now, besides)
    if damaged:
        notes.append(damaged)
    if not products and not entries and not len(heard):
        return replace(base, notes=tuple(notes))

    facts = _Facts(notes=notes)
    _observed(facts, products)
    _forecast(facts, products)
    _typed(facts, entries)
    _alarms(facts, products, entries, now)

    history = with_cycle(solar_history(), products)
    index, flux, flux_until = _daily_index(facts, history)
    kp = facts.kp_forecast.over(facts.typed_fade.over(base.kp))
    issued = [fact.issued for fact in listed if fact.issued is not None and fact.issued <= later(now, DAY)]
    issued += [entry.at for entry in entries]
    return Conditions(
        index=index,
        flux_sfu=flux,
        ssn=_with_typed_ssn(TimeSeries(index.times, history.ssn_at(index.times)), entries),
        kp=facts.typed_kp.over(facts.kp.over(kp)),
        xray_w_m2=facts.xray,
        protons_pfu=facts.protons,
        heard=heard,
        hp30=_half_hours(products, facts.typed_kp),
        source=_source(listed, entries, heard_facts, base),
        basis="flux",
        index_spans=index_spans(history, flux_until),
        issued=max(issued, default=base.issued),
        daily_from=base.daily_from,
        flux_seen=_seen(facts.flux, FLUX_HOUR, base.flux_seen, [e.at for e in entries if e.sun], now),
        kp_seen=_seen(facts.kp, THREE_HOURS, base.kp_seen, [e.at for e in entries if e.kp is not None], now),
        xray_seen=_seen(
            products["xrays"].xray_w_m2 if "xrays" in products else EMPTY,
            np.timedelta64(0, "s"),
            None,
            [e.at for e in entries if e.xray_w_m2 is not None],
            now,
        ),
        facts=(
            *listed,
            *(Fact("typed in", entry.words(), entry.at, "hand") for entry in entries),
            *heard_facts,
        ),
        notes=tuple(facts.notes),
    )


def _daily_index(facts: _Facts, history: SolarHistory) -> tuple[TimeSeries, TimeSeries, np.datetime64]:
    """Effective index and flux of every day of the record, and the last day whose flux is known."""
    days = history_days(history)
    flux = history.flux_of_days(days)
    for record, counts in (
        (facts.flux_forecast, np.isnan(flux) | (days >= history.forecast_from)),
        (facts.typed_flux.over(facts.flux), np.ones(len(days), dtype=bool)),
    ):
        index = _days_from(days, record)
        kept = counts[np.clip(index, 0, len(days) - 1)] & (index >= 0) & (index < len(days))
        flux[index[kept]] = record.values[kept]
    typed = np.isin(np.arange(len(days)), _days_from(days, facts.typed_flux))
    effective, whole_flux = effective_index(days, flux, history, trusted=typed)
    moments = shifted(days, FLUX_HOUR)
    flux_until: np.datetime64 = days[np.flatnonzero(~np.isnan(flux))[-1]]
    return TimeSeries(moments, effective), TimeSeries(moments, whole_flux), flux_until


def _with_typed_ssn(ssn: TimeSeries, entries: list[HandEntry]) -> TimeSeries:
    """The smoothed sunspot numbers with the last one typed in, which fades as a flux does."""
    typed = [entry for entry in entries if entry.ssn is not None]
    if not typed:
        return ssn
    days = (ssn.times - later(typed[-1].at, -DAY)) / DAY
    weight = np.where(days >= 0.0, np.clip(1.0 - (days - 1.0) / FADE_DAYS, 0.0, 1.0), 0.0)
    return TimeSeries(ssn.times, ssn.values + weight * (float(typed[-1].ssn or 0.0) - ssn.values))


def _seen(
    record: TimeSeries,
    after: np.timedelta64,
    before: np.datetime64 | None,
    typed: list[np.datetime64],
    now: np.datetime64,
) -> np.datetime64 | None:
    """Time of the last value of a quantity: in the record (valid `after` its times), typed in, or before."""
    past = record.times[record.times <= now]
    seen = [
        *typed,
        *([before] if before is not None else []),
        *([later(past[-1], after)] if len(past) else []),
    ]
    return min(max(seen), now) if seen else None


def _days_from(days: TimeArray, record: TimeSeries) -> IntArray:
    """Indices of a record's times among days without gaps; may be outside."""
    return np.asarray((record.times.astype("datetime64[D]") - days[0]).astype(np.int64))


def _observed(facts: _Facts, products: dict[str, ProductData]) -> None:
    for name in OBSERVING:
        if name in products:
            facts.flux = products[name].flux_sfu.over(facts.flux)
            facts.kp = products[name].kp.over(facts.kp)


def _forecast(facts: _Facts, products: dict[str, ProductData]) -> None:
    if "outlook" in products:
        facts.flux_forecast = products["outlook"].flux_forecast_sfu
        facts.kp_forecast = products["outlook"].daily_kp_forecast
    three_days = [products[name] for name in ("three-days", "planetary-k-forecast") if name in products]
    earliest = np.datetime64("1900-01-01", "s")
    for data in sorted(three_days, key=lambda data: data.issued or earliest):
        facts.kp_forecast = data.kp_forecast.over(facts.kp_forecast)


def _half_hours(products: dict[str, ProductData], typed_kp: TimeSeries) -> TimeSeries:
    """K by half hours, except where K was typed in."""
    hp30 = EMPTY
    for data in products.values():
        hp30 = data.hp30.over(hp30)
    free = np.isnan(typed_kp.held_at(hp30.times, THREE_HOURS))
    return TimeSeries(hp30.times[free], hp30.values[free])


def _typed(facts: _Facts, entries: list[HandEntry]) -> None:
    """Typed-in flux counts for the last measurement (20 UT), K for its interval and the next, A for the day
    before.

    Where nothing better is known, K then fades to the quiet field.
    """
    for entry in entries:
        day = later(entry.at, -FLUX_HOUR).astype("datetime64[D]")
        flux = entry.flux_sfu
        if entry.ssn is not None:
            flux = float(flux_from_index(index_from_ssn(entry.ssn)))
        if flux is not None:
            facts.typed_flux = TimeSeries.of([day], [flux]).over(facts.typed_flux)
        start = interval_start(entry.at)
        if entry.a_index is not None:
            before = shifted(start, np.arange(-8, 0) * THREE_HOURS)
            facts.kp = facts.kp.over(TimeSeries.of(before, np.full(8, float(kp_from_ap(entry.a_index)))))
        if entry.kp is not None:
            held = shifted(start, np.arange(K_HOLDS) * THREE_HOURS)
            facts.typed_kp = TimeSeries.of(held, np.full(K_HOLDS, entry.kp)).over(facts.typed_kp)
            fading = shifted(start, np.arange(K_HOLDS, K_HOLDS + K_FADES) * THREE_HOURS)
            levels = entry.kp + (QUIET_KP - entry.kp) * np.arange(1, K_FADES + 1) / (K_FADES + 1)
            facts.typed_fade = TimeSeries.of(fading, levels).over(facts.typed_fade)


def _alarms(
    facts: _Facts, products: dict[str, ProductData], entries: list[HandEntry], now: np.datetime64
) -> None:
    """X-rays with the fading of the last flare, and protons."""
    if "xrays" in products:
        facts.xray = _with_fading(products["xrays"].xray_w_m2)
    for entry in entries:
        if entry.xray_w_m2 is not None:
            facts.xray = _with_fading(TimeSeries.of([entry.at], [entry.xray_w_m2])).over(facts.xray)
        if entry.protons_pfu is not None:
            facts.protons = TimeSeries.of([entry.at], [entry.protons_pfu]).over(facts.protons)
    scales = products.get("scales")
    if scales is None or scales.issued is None:
        return
    if scales.proton_scale:
        facts.protons = TimeSeries.of([scales.issued], [10.0**scales.proton_scale]).over(facts.protons)
    if abs(now - scales.issued) < DAY:
        facts.notes.extend(scales.storm_notes)


def _with_fading(xray: TimeSeries) -> TimeSeries:
    if not len(xray) or xray.values[-1] <= ORDINARY_XRAY_W_M2:
        return xray
    minutes = np.arange(5, int(FLARE_FADES / np.timedelta64(60, "s")), 5)
    ahead = shifted(xray.times[-1], minutes * np.timedelta64(60, "s"))
    return xray.over(
        TimeSeries.of(ahead, fading_xray_w_m2(float(xray.values[-1]), minutes.astype(np.float64)))
    )


def with_cycle(history: SolarHistory, products: dict[str, ProductData]) -> SolarHistory:
    """The built-in monthly table with fetched observed and predicted months in place of its own forecasts.

    A month's value applies to its middle; between the last observed and the first predicted month the values
    are linear.
    """
    observed, predicted = products.get("observed-cycle"), products.get("predicted-cycle")
    if observed is None and predicted is None:
        return history
    months = history.month_middles.astype("datetime64[M]")
    before, after = observed or ProductData(), predicted or ProductData()
    columns = []
    for fetched, own in (
        (before.smoothed_ssn.over(after.smoothed_ssn), history.smoothed_ssn),
        (before.smoothed_flux_sfu.over(after.smoothed_flux_sfu), history.smoothed_flux_sfu),
    ):
        values = np.where(history.month_kind == 0, own, np.nan)
        index = (fetched.times.astype("datetime64[M]") - months[0]).astype(np.int64)
        inside = (index >= 0) & (index < len(months))
        values[index[inside]] = fetched.values[inside]
        last = int(index[inside].max(initial=0))
        values[last + 1 :] = np.where(np.isnan(values[last + 1 :]), own[last + 1 :], values[last + 1 :])
        known = ~np.isnan(values)
        columns.append(np.interp(np.arange(len(values)), np.flatnonzero(known), values[known]))
    return replace(history, smoothed_ssn=columns[0], smoothed_flux_sfu=columns[1])


def _source(listed: list[Fact], entries: list[HandEntry], heard: tuple[Fact, ...], base: Conditions) -> str:
    parts = ["heard on the air"] * bool(heard) + ["typed in"] * bool(entries) + ["fetched"] * bool(listed)
    return ", ".join([*parts, base.source])
