"""Reads the JSON products of the public space weather service, in their old and new forms.

Keys are matched without regard to case and hyphens, rows may be objects or lists under a header row, numbers
may be strings, unknown keys are ignored, and what is missing, cut off or out of range is left out and
reported by name in `Reading.problems`. Nothing here raises for a damaged product.
"""

from __future__ import annotations

import json
from dataclasses import dataclass, field, replace
from typing import Any, Final

import numpy as np

from propagation.base.text import as_number, as_time, counted
from propagation.base.time_series import TimeSeries, later
from propagation.space_weather.sources.reading import (
    FLUX_RANGE_SFU,
    KP_RANGE,
    SSN_RANGE,
    WEB_PAGE,
    XRAY_RANGE_W_M2,
    Reading,
    record_of,
)

LONG_XRAY_BAND: Final = "0.1-0.8nm"


@dataclass
class _Rows:
    """Rows of a JSON product as dictionaries with tidy keys, and what was wrong with them."""

    rows: list[dict[str, Any]]
    problems: list[str] = field(default_factory=list)

    def missing(self, key: str) -> None:
        found = ", ".join(sorted({name for row in self.rows[:50] for name in row})) or "nothing"
        self.problems.append(f"no row has a usable '{key}' (found: {found})")

    def pairs(self, key: str, low: float, high: float, missing_value: float | None = None) -> (
        list[tuple[np.datetime64, float, dict[str, Any]]]
    ):  # fmt: skip
        """(time, value, row) of the rows that have both in range; what is missing is reported by name."""
        pairs, without_time, outside = [], 0, 0
        for row in self.rows:
            time, value = as_time(row.get("time_tag", row.get("time"))), as_number(row.get(key))
            if time is None:
                without_time += 1
            elif value is not None and value != missing_value:
                if low <= value <= high:
                    pairs.append((time, value, row))
                else:
                    outside += 1
        if not pairs and self.rows:
            self.missing(key if without_time < len(self.rows) else "time_tag")
        if outside:
            self.problems.append(
                f"{counted(outside, 'row')} with '{key}' outside {low:g} to {high:g} left out"
            )
        if without_time and pairs:
            self.problems.append(f"{counted(without_time, 'row')} without a readable time left out")
        return pairs


def _json_rows(text: str) -> _Rows:
    """The rows of a JSON list of objects, or of lists under a header row."""
    if text.lstrip()[:1] == "<":
        return _Rows([], [WEB_PAGE])
    try:
        value = json.loads(text)
    except (ValueError, RecursionError) as error:
        where = getattr(error, "pos", None)
        cut = isinstance(where, int) and where >= len(text.rstrip()) - 1
        detail = "it ends too early" if cut or not text.strip() else f"character {where} makes no sense"
        return _Rows([], [f"not whole JSON: {detail} ({len(text)} characters)"])
    if not isinstance(value, list) or not value:
        return _Rows([], ["not a list of rows" if value != [] else "an empty list"])
    if isinstance(value[0], list):
        header = [_tidy(name) for name in value[0]]
        rows = [dict(zip(header, row, strict=False)) for row in value[1:] if isinstance(row, list)]
    else:
        rows = [{_tidy(name): item for name, item in row.items()} for row in value if isinstance(row, dict)]
    return _Rows(rows) if rows else _Rows([], ["no rows of a known shape"])


def _tidy(name: Any) -> str:
    return str(name).strip().lower().replace("-", "_")


def _newest(*records: TimeSeries) -> np.datetime64 | None:
    times = [record.times[-1] for record in records if len(record)]
    return max(times) if times else None


def _day(time: np.datetime64) -> np.datetime64:
    return later(time.astype("datetime64[D]"), np.timedelta64(0, "s"))


def _finished(reading: Reading, problems: list[str]) -> Reading:
    return replace(reading, problems=tuple(problems))


def read_planetary_k(text: str) -> Reading:
    """Observed planetary K: the last week, three-hourly."""
    rows = _json_rows(text)
    kp = record_of(rows.pairs("kp", *KP_RANGE))
    return _finished(Reading(issued=_newest(kp), kp=kp), rows.problems)


def read_planetary_k_forecast(text: str) -> Reading:
    """Planetary K, a week of observed values followed by estimates for today and three days of forecast."""
    rows = _json_rows(text)
    pairs = rows.pairs("kp", *KP_RANGE)
    if pairs and not any("observed" in row for _, _, row in pairs):
        rows.missing("observed")
    past = [p for p in pairs if str(p[2].get("observed", "")).strip().lower() == "observed"]
    future = [p for p in pairs if p not in past]
    kp = record_of(past)
    return _finished(Reading(issued=_newest(kp), kp=kp, kp_forecast=record_of(future)), rows.problems)


def read_flux(text: str) -> Reading:
    """10.7 cm flux, up to three reports a day in any order; a day's value is its noon report or its last."""
    rows = _json_rows(text)
    pairs = rows.pairs("flux", *FLUX_RANGE_SFU)
    pairs.sort(key=lambda p: (str(p[2].get("reporting_schedule", "")).strip().lower() == "noon", p[0]))
    flux = record_of((_day(time), value, row) for time, value, row in pairs)
    return _finished(Reading(issued=max((p[0] for p in pairs), default=None), flux_sfu=flux), rows.problems)


def read_xrays(text: str) -> Reading:
    """X-ray flux by minute: the long band only."""
    rows = _json_rows(text)
    if rows.rows and any("energy" in row for row in rows.rows):
        rows.rows = [row for row in rows.rows if str(row.get("energy")).replace(" ", "") == LONG_XRAY_BAND]
        if not rows.rows:
            rows.problems.append(f"no row of the long band, '{LONG_XRAY_BAND}'")
    elif rows.rows:
        rows.missing("energy")
        rows.rows = []
    xray = record_of(rows.pairs("flux", *XRAY_RANGE_W_M2))
    return _finished(Reading(issued=_newest(xray), xray_w_m2=xray), rows.problems)


def read_observed_cycle(text: str) -> Reading:
    """Monthly indices since 1749: the smoothed sunspot number (version 2) and the smoothed flux."""
    rows = _json_rows(text)
    ssn = record_of(rows.pairs("smoothed_ssn", *SSN_RANGE, missing_value=-1.0))
    flux = record_of(rows.pairs("smoothed_f10.7", *FLUX_RANGE_SFU, missing_value=-1.0))
    return _finished(Reading(issued=_newest(ssn), smoothed_ssn=ssn, smoothed_flux_sfu=flux), rows.problems)


def read_predicted_cycle(text: str) -> Reading:
    """Predicted smoothed sunspot numbers (version 2) and flux, a row a month whatever its day."""
    rows = _json_rows(text)

    def by_month(pairs: list[tuple[np.datetime64, float, dict[str, Any]]]) -> TimeSeries:
        return record_of(
            (time.astype("datetime64[M]").astype("datetime64[s]"), value, row) for time, value, row in pairs
        )

    ssn = by_month(rows.pairs("predicted_ssn", *SSN_RANGE, missing_value=-1.0))
    flux = by_month(rows.pairs("predicted_f10.7", *FLUX_RANGE_SFU, missing_value=-1.0))
    issued = ssn.times[0] if len(ssn) else None
    return _finished(Reading(issued=issued, smoothed_ssn=ssn, smoothed_flux_sfu=flux), rows.problems)


def read_scales(text: str) -> Reading:
    """The R, S and G scales of now: the S scale in force, and sentences for what is not zero."""
    if text.lstrip()[:1] == "<":
        return Reading(problems=(WEB_PAGE,))
    try:
        value = json.loads(text)
    except (ValueError, RecursionError):
        return Reading(problems=(f"not whole JSON ({len(text)} characters)",))
    now = value.get("0") if isinstance(value, dict) else None
    if not isinstance(now, dict):
        return Reading(problems=("no entry '0' for the present",))
    issued = as_time(f"{now.get('DateStamp')}T{now.get('TimeStamp')}")
    notes, problems, protons = (
        [],
        [] if issued is not None else ["no readable 'DateStamp' and 'TimeStamp'"],
        None,
    )
    names = {"R": "flares (radio blackout)", "S": "solar protons (radiation storm)", "G": "geomagnetic storm"}
    for letter, name in names.items():
        entry = now.get(letter)
        scale = as_number(entry.get("Scale")) if isinstance(entry, dict) else None
        if scale is None or not 0 <= scale <= 5:
            problems.append(f"no usable '{letter}' scale")
            continue
        if scale > 0:
            notes.append(f"{letter}{scale:.0f}: {name}")
        if letter == "S":
            protons = int(scale)
    return Reading(issued=issued, proton_scale=protons, storm_notes=tuple(notes), problems=tuple(problems))
