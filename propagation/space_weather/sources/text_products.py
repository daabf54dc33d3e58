"""Reads the text products of the public space weather service: tables and the message read out on the air.

What is missing, cut off or out of range is left out and reported by name in `Reading.problems`. Nothing here
raises for a damaged product.
"""

from __future__ import annotations

import re
from typing import Final

import numpy as np

from propagation.base.text import as_number, as_time, counted, within
from propagation.base.time_series import EMPTY, TimeSeries, later, shifted
from propagation.space_weather.indices.kp_index import kp_from_ap
from propagation.space_weather.sources.reading import (
    FLUX_RANGE_SFU,
    KP_RANGE,
    WEB_PAGE,
    Reading,
    record_of,
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
        if found or other:
            year, month, day, hour, minute = (
                found.groups() if found else (other.group(i) for i in (5, 4, 3, 1, 2))  # type: ignore[union-attr]
            )
            date = _date(year, month, day)
            if date is not None:
                return later(date, np.timedelta64(int(hour) * 60 + int(minute), "m"))
    problems.append("no readable ':Issued:' line")
    return None


def read_outlook(text: str) -> Reading:
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
        return Reading(issued=issued, problems=tuple(problems))
    hourly = shifted(np.array(days)[:, None], np.arange(8) * np.timedelta64(3, "h"))
    kp = np.repeat(kp_from_ap(np.array(a_index)), 8)
    return Reading(
        issued=issued,
        flux_forecast_sfu=TimeSeries.of(days, flux),
        daily_kp_forecast=TimeSeries.of(hourly.ravel(), kp),
        a_index=TimeSeries.of(days, a_index),
        problems=tuple(problems),
    )


def read_three_days(text: str) -> Reading:
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
    return Reading(issued=issued, kp_forecast=record_of(pairs), problems=tuple(problems))


def read_daily_indices(text: str) -> Reading:
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
    return Reading(
        issued=issued, flux_sfu=TimeSeries.of(days, flux) if days else EMPTY, problems=tuple(problems)
    )


def read_alert(text: str) -> Reading:
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
        kp = TimeSeries.of(
            [later(end, -np.timedelta64(3, "h"))], [float(of_hour[5])]
        )  # the interval just ended
    else:
        problems.append("no readable 'planetary K-index'")
    return Reading(issued=issued, flux_sfu=flux, kp=kp, a_index=a_index, problems=tuple(problems))
