"""What the forecast is worth against reception reports: ranking, reliability, residuals, shapes.

Run by hand from the root: python tests/benchmarks/bench_reception.py [beacon] [world] [far]
Without a word everything is printed; some two minutes. How the sets are scored: `tests/reception.py`.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "tests")]

import reception  # noqa: E402

from propagation.base.units import FloatArray  # noqa: E402
from propagation.space_weather.state.conditions import built_in, typed_in  # noqa: E402

GIVEN_SSN = 113.0  # smoothed sunspot number (version 2) of February 2023, as the record gave it then


def main(words: list[str]) -> None:
    for name, part in (("beacon", beacon), ("world", world), ("far", far)):
        if not words or name in words:
            part()


def beacon() -> None:
    """Ranking of the beacon month, its likelihood, and the reliability table."""
    month = reception.beacon_month(built_in())
    given = reception.beacon_month(typed_in(ssn=GIVEN_SSN, kp=2.0))
    heard = month.days_heard.ravel() > 0.0
    by_distance = reception.area_under_curve(-np.repeat(month.distance_km, 24), heard)
    print("One beacon, 10 MHz, 0.2 W, February 2023, 60 receivers x 24 hours")
    print(
        f"  AUC: own conditions {month.auc():.3f}, given index {given.auc():.3f}, distance {by_distance:.3f}"
    )
    fitted = reception.fit_beacon(built_in())
    print(
        f"  fitted: share of hours listened {fitted.availability:.2f}, beacon {fitted.offset_db:+.1f} dB;"
        f" log likelihood {fitted.log_likelihood:.4f} (one rate for all {fitted.climatology:.4f})"
    )
    for words, promised in (("as promised, nothing fitted", month.chance), ("fitted", fitted.promised)):
        table = reception.reliability(promised, month)
        print(
            f"  reliability, {words}: Brier score {table.brier:.4f}, skill {table.skill:+.2f} over one rate,"
            f" {table.hour_skill:+.2f} over a rate by hour"
        )
        print("    promised  observed  receiver-days")
        for p, o, n in zip(table.promised, table.observed, table.days, strict=True):
            if n > 0.0:
                print(f"    {p:8.2f}  {o:8.2f}  {n:8.0f}")


def world() -> None:
    """Residuals of the world day: their mean by band, the long runs, and the table of each band."""
    day = reception.world_day(built_in())
    print("The world, 1 July 2017: log(reports / promised), what is left by hour")
    print(f"  mean absolute residual, bands 14, 7 and 3: {day.mean_residual():.3f}")
    by_band = ", ".join(f"{band}: {day.mean_residual((band,)):.2f}" for band in day.bands)
    print(f"  by band {by_band}")
    runs = day.runs()
    print(f"  runs of {reception.RUN_CELLS} cells of one sign over {reception.RUN_RESIDUAL:.1f}: {len(runs)}")
    for band, low, first, length, mean in runs:
        print(f"    {band:>2} MHz from {low} km, {length} hours from {first:02d} solar: {mean:+.1f}")
    for band in day.bands:
        print(f"  {band} MHz: residual (chance in hundredths below), solar hour at the middle")
        print("    from km " + " ".join(f"{h:4d}" for h in range(24)))
        chances = day.chance[day.bands.index(band)]
        for (low, _), row, chance in zip(day.edges_km, day.of(band), chances, strict=True):
            print(f"    {low:7d} " + _row(row, "{:+4.1f}"))
            print(" " * 12 + _row(100.0 * chance, "{:4.0f}"))


def far() -> None:
    """Great Britain and New Zealand: shares of the hours, promised and reported."""
    month = reception.far_countries(built_in())
    print("Great Britain and New Zealand, April 2018, both directions")
    reported, promised = month.share("14")
    print(f"  14 MHz, 10 to 19 UT: {reported:.0%} of the reports, {promised:.0%} of the promised chance")
    print("  share of the day in hundredths by hour   " + " ".join(f"{h:3d}" for h in range(24)))
    for i, band in enumerate(month.bands):
        print(f"  {band:>2} MHz, shape error {month.shape_error(band):.2f}:")
        for name, values in (("reports", month.reports[i]), ("promised", month.chance[i])):
            print(f"    {name:<37}" + _row(100.0 * values / np.sum(values), "{:3.0f}"))


def _row(values: FloatArray, form: str) -> str:
    width = len(form.format(0.0))
    return " ".join(" " * (width - 1) + "." if np.isnan(v) else form.format(v) for v in values)


if __name__ == "__main__":
    main(sys.argv[1:])
