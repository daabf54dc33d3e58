"""Readers of the public space weather service's products of indices: JSON in old and new forms, and text.

JSON keys are matched without regard to case and hyphens, rows may be objects or lists under a header row,
numbers may be strings, and unknown keys are ignored. What is missing, cut off or out of range is left out and
reported by name in `ProductData.problems`. No damaged product raises an error.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace
from typing import Final

import numpy as np

from propagation.base.text import as_number, as_time, counted, within
from propagation.base.time_series import EMPTY, TimeSeries, later, shifted
from propagation.space_weather.indices.geomagnetic_activity import kp_from_ap
from propagation.space_weather.sources.product_data import (
    FLUX_RANGE_SFU,
    KP_RANGE,
    SSN_RANGE,
    WEB_PAGE,
    XRAY_RANGE_W_M2,
    ProductData,
    json_of,
    record_of,
)

LONG_XRAY_BAND: Final = "0.1-0.8nm"


Pairs = list[tuple[np.datetime64, float, dict[str, object]]]  # (time, value, row)


@dataclass
class _Rows:
    """Rows of a JSON product as dictionaries with tidy keys, and what was wrong with them."""

    rows: list[dict[str, object]]
    problems: list[str] = field(default_factory=list)

    def missing(self, key: str) -> None:
        found = ", ".join(sorted({name for row in self.rows[:50] for name in row})) or "nothing"
        self.problems.append(f"no row has a usable '{key}' (found: {found})")

    def pairs(self, key: str, low: float, high: float, missing_value: float | None = None) -> Pairs:
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
    value, problem = json_of(text)
    if problem is not None:
        return _Rows([], [problem])
    if not isinstance(value, list) or not value:
        return _Rows([], ["not a list of rows" if value != [] else "an empty list"])
    if isinstance(value[0], list):
        header = [_tidy(name) for name in value[0]]
        rows = [dict(zip(header, row, strict=False)) for row in value[1:] if isinstance(row, list)]
    else:
        rows = [{_tidy(name): item for name, item in row.items()} for row in value if isinstance(row, dict)]
    return _Rows(rows) if rows else _Rows([], ["no rows of a known shape"])


def _tidy(name: object) -> str:
    return str(name).strip().lower().replace("-", "_")


def _newest(*records: TimeSeries) -> np.datetime64 | None:
    times = [record.times[-1] for record in records if len(record)]
    return max(times) if times else None


def _day(time: np.datetime64) -> np.datetime64:
    return later(time.astype("datetime64[D]"), np.timedelta64(0, "s"))


def _finished(reading: ProductData, problems: list[str]) -> ProductData:
    return replace(reading, problems=tuple(problems))


def read_planetary_k(text: str) -> ProductData:
    """Observed planetary K: the last week, three-hourly."""
    rows = _json_rows(text)
    kp = record_of(rows.pairs("kp", *KP_RANGE))
    return _finished(ProductData(issued=_newest(kp), kp=kp), rows.problems)


def read_planetary_k_forecast(text: str) -> ProductData:
    """Planetary K, a week of observed values followed by estimates for today and three days of forecast."""
    rows = _json_rows(text)
    pairs = rows.pairs("kp", *KP_RANGE)
    if pairs and not any("observed" in row for _, _, row in pairs):
        rows.missing("observed")
    past = [p for p in pairs if str(p[2].get("observed", "")).strip().lower() == "observed"]
    future = [p for p in pairs if p not in past]
    kp = record_of(past)
    return _finished(ProductData(issued=_newest(kp), kp=kp, kp_forecast=record_of(future)), rows.problems)


def read_flux(text: str) -> ProductData:
    """10.7 cm flux, up to three reports a day in any order; a day's value is its noon report or its last."""
    rows = _json_rows(text)
    pairs = rows.pairs("flux", *FLUX_RANGE_SFU)
    pairs.sort(key=lambda p: (str(p[2].get("reporting_schedule", "")).strip().lower() == "noon", p[0]))
    flux = record_of((_day(time), value, row) for time, value, row in pairs)
    return _finished(
        ProductData(issued=max((p[0] for p in pairs), default=None), flux_sfu=flux), rows.problems
    )


def read_xrays(text: str) -> ProductData:
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
    return _finished(ProductData(issued=_newest(xray), xray_w_m2=xray), rows.problems)


def read_observed_cycle(text: str) -> ProductData:
    """Monthly indices since 1749: the smoothed sunspot number (version 2) and the smoothed flux."""
    rows = _json_rows(text)
    ssn = record_of(rows.pairs("smoothed_ssn", *SSN_RANGE, missing_value=-1.0))
    flux = record_of(rows.pairs("smoothed_f10.7", *FLUX_RANGE_SFU, missing_value=-1.0))
    return _finished(
        ProductData(issued=_newest(ssn), smoothed_ssn=ssn, smoothed_flux_sfu=flux), rows.problems
    )


def read_predicted_cycle(text: str) -> ProductData:
    """Predicted smoothed sunspot numbers (version 2) and flux, a row a month whatever its day."""
    rows = _json_rows(text)

    def by_month(pairs: Pairs) -> TimeSeries:
        return record_of(
            (time.astype("datetime64[M]").astype("datetime64[s]"), value, row) for time, value, row in pairs
        )

    ssn = by_month(rows.pairs("predicted_ssn", *SSN_RANGE, missing_value=-1.0))
    flux = by_month(rows.pairs("predicted_f10.7", *FLUX_RANGE_SFU, missing_value=-1.0))
    issued = ssn.times[0] if len(ssn) else None
    return _finished(ProductData(issued=issued, smoothed_ssn=ssn, smoothed_flux_sfu=flux), rows.problems)


def read_scales(text: str) -> ProductData:
    """The R, S and G scales of now: the S scale in force, and sentences for what is not zero."""
    value, problem = json_of(text)
    if problem is not None:
        return ProductData(problems=(problem,))
    now = value.get("0") if isinstance(value, dict) else None
    if not isinstance(now, dict):
        return ProductData(problems=("no entry '0' for the present",))
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
    return ProductData(
        issued=issued, proton_scale=protons, storm_notes=tuple(notes), problems=tuple(problems)
    )


_MONTHS: Final = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")


def _lines(text: str) -> tuple[list[str], list[str]]:
    """The whole lines of a text product; a last line without its end is dropped: a number may be cut."""
    if text.lstrip()[:1] == "<":
        return [], [WEB_PAGE]
    lines = text.splitlines()
    if lines and not text.endswith(("\n", "\r")):
        return lines[:-1], ["it ends in the middle of a line"]
    return lines, []


def _date(year: str, month: str, day: str) -> np.datetime64 | None:
    """A date out of words of a line; the month as a number or by its name, whole or short."""
    name = month.strip().lower()[:3]
    number = _MONTHS.index(name) + 1 if name in _MONTHS else int(month) if month.isdigit() else 0
    return as_time(f"{int(year):04d}-{number:02d}-{int(day):02d}")


def _issued(lines: list[str], problems: list[str]) -> np.datetime64 | None:
    """Time after ":Issued:", in either of its two orders."""
    for line in lines:
        found = re.match(r":Issued:\s*(\d{4}) (\w{3}) (\d{1,2}) (\d{2})(\d{2})", line)
        other = re.match(r":Issued:\s*(\d{2})(\d{2}) UTC? (\d{1,2}) (\w{3}) (\d{4})", line)
        words = found.groups() if found else other.group(5, 4, 3, 1, 2) if other else None
        if words is not None:
            year, month, day, hour, minute = words
            date = _date(year, month, day)
            if date is not None:
                return later(date, np.timedelta64(int(hour) * 60 + int(minute), "m"))
    problems.append("no readable ':Issued:' line")
    return None


def read_outlook(text: str) -> ProductData:
    """27-day outlook: flux, A index and largest K for each day; K by the hour from the day's A."""
    lines, problems = _lines(text)
    issued = _issued(lines, problems)
    days, flux, a_index, outside = [], [], [], 0
    for line in lines:
        found = re.match(r"\s*(\d{4}) (\w{3}|\d\d) (\d{1,2})\s+(\d+)\s+(\d+)\s+(\d+)\s*$", line)
        date = _date(*found.group(1, 2, 3)) if found else None
        if found and date is not None:
            if within(float(found[4]), FLUX_RANGE_SFU) and within(float(found[5]), (0.0, 400.0)):
                days.append(date)
                flux.append(float(found[4]))
                a_index.append(float(found[5]))
            else:
                outside += 1
    if outside:
        problems.append(f"{counted(outside, 'day')} with flux or A index out of range left out")
    if len(days) < 27:
        problems.append(f"{len(days)} of 27 days found")
    if not days:
        return ProductData(issued=issued, problems=tuple(problems))
    hourly = shifted(np.array(days)[:, None], np.arange(8) * np.timedelta64(3, "h"))
    kp = np.repeat(kp_from_ap(np.array(a_index)), 8)
    return ProductData(
        issued=issued,
        flux_forecast_sfu=TimeSeries.of(days, flux),
        daily_kp_forecast=TimeSeries.of(hourly.ravel(), kp),
        a_index=TimeSeries.of(days, a_index),
        problems=tuple(problems),
    )


def read_three_days(text: str) -> ProductData:
    """3-day forecast: K for every three hours of three days."""
    lines, problems = _lines(text)
    issued = _issued(lines, problems)
    dates: list[np.datetime64] = []
    pairs: list[tuple[np.datetime64, float, None]] = []
    for line in lines:
        heading = re.fullmatch(r"\s*((?:[A-Z][a-z]{2} \d{1,2}\s*){3})", line)
        row = re.match(r"(\d\d)-(\d\d)UT\s+(.*)$", line)
        if heading and not dates and issued is not None:
            for month, day in re.findall(r"([A-Z][a-z]{2}) (\d{1,2})", heading[1]):
                year = int(str(issued)[:4])
                date = _date(str(year), month, day)
                if date is not None and issued - date > np.timedelta64(180, "D"):  # January after December
                    date = _date(str(year + 1), month, day)
                if date is not None:
                    dates.append(date)
        elif row and dates:
            values = [as_number(word) for word in re.sub(r"\(\w*\)", " ", row[3]).split()]
            if len(values) != len(dates):
                problems.append(f"the row {row[1]}-{row[2]}UT has {len(values)} of {len(dates)} values")
                continue
            for date, value in zip(dates, values, strict=True):
                if value is not None and within(value, KP_RANGE):
                    pairs.append((later(date, np.timedelta64(int(row[1]), "h")), value, None))
    if len(pairs) < 24:
        problems.append(f"{len(pairs)} of 24 K values found")
    return ProductData(issued=issued, kp_forecast=record_of(pairs), problems=tuple(problems))


def read_daily_indices(text: str) -> ProductData:
    """Daily flux of the last thirty days."""
    lines, problems = _lines(text)
    issued = _issued(lines, problems)
    days, flux = [], []
    for line in lines:
        found = re.match(r"\s*(\d{4}) (\d\d) (\d\d)\s+(-?\d+)\s+-?\d+\s", line)
        date = _date(*found.group(1, 2, 3)) if found else None
        if found and date is not None and within(float(found[4]), FLUX_RANGE_SFU):
            days.append(date)
            flux.append(float(found[4]))
    if len(days) < 30:
        problems.append(f"{len(days)} of 30 days with a flux found")
    return ProductData(
        issued=issued, flux_sfu=TimeSeries.of(days, flux) if days else EMPTY, problems=tuple(problems)
    )


def read_alert(text: str) -> ProductData:
    """The geophysical alert message as it is read out on the air: flux, A and K."""
    lines, problems = _lines(text)
    issued = _issued(lines, problems)
    body = " ".join(line for line in lines if not line.startswith((":", "#")))
    flux = kp = a_index = EMPTY

    def date_near_issue(day: str, month: str) -> np.datetime64 | None:
        if issued is None:
            return None
        year = int(str(issued)[:4])
        candidates = [_date(str(year + step), month, day) for step in (-1, 0, 1)]
        return min(
            (date for date in candidates if date is not None),
            key=lambda date: abs(date - issued),
            default=None,
        )

    of_day = re.search(r"indices for (\d{1,2}) ([A-Z][a-z]+)", body)
    numbers = re.search(r"Solar flux (\d+) and estimated planetary A-index (\d+)", body)
    of_hour = re.search(
        r"planetary K-index at (\d{2})(\d{2}) UTC on (\d{1,2}) ([A-Z][a-z]+) was (\d+(?:\.\d+)?)\.(?:\s|$)",
        body,
    )
    date = date_near_issue(*of_day.groups()) if of_day else None
    if numbers and date is not None and within(float(numbers[1]), FLUX_RANGE_SFU):
        flux = TimeSeries.of([date], [float(numbers[1])])
        a_index = TimeSeries.of([date], [float(numbers[2])])
    else:
        problems.append("no readable 'Solar flux' and 'A-index'")
    date = date_near_issue(of_hour[3], of_hour[4]) if of_hour else None
    if of_hour and date is not None and within(float(of_hour[5]), KP_RANGE):
        end = later(date, np.timedelta64(int(of_hour[1]) * 60 + int(of_hour[2]), "m"))
        start = later(end, -np.timedelta64(3, "h"))  # of the interval that has just ended
        kp = TimeSeries.of([start], [float(of_hour[5])])
    else:
        problems.append("no readable 'planetary K-index'")
    return ProductData(issued=issued, flux_sfu=flux, kp=kp, a_index=a_index, problems=tuple(problems))
