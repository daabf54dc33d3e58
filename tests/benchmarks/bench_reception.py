"""What the forecast is worth against reception reports: ranking, reliability, residuals, shapes.

Run by hand from the root: python tests/benchmarks/bench_reception.py [beacon] [world] [people] [far]
Without a word everything is printed; some two minutes. How the sets are scored: `tests/reception.py`.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "tests")]

import reception  # noqa: E402

from propagation.advice import activity  # noqa: E402
from propagation.base.units import FloatArray  # noqa: E402
from propagation.data.builders.activity import DEPARTURE, load, split  # noqa: E402
from propagation.space_weather.state.conditions import built_in, typed_in  # noqa: E402

GIVEN_SSN = 113.0  # smoothed sunspot number (version 2) of February 2023, as the record gave it then


def main(words: list[str]) -> None:
    for name, part in (("beacon", beacon), ("world", world), ("people", people), ("far", far)):
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
    print(f"  mean absolute residual, 20, 40 and 80 m: {day.mean_residual():.3f}")
    by_band = ", ".join(f"{band}: {day.mean_residual((band,)):.2f}" for band in day.bands)
    print(f"  by band {by_band}")
    runs = day.runs()
    print(f"  runs of {reception.RUN_CELLS} cells of one sign over {reception.RUN_RESIDUAL:.1f}: {len(runs)}")
    for band, low, first, length, mean in runs:
        print(f"    {band:>4} from {low} km, {length} hours from {first:02d} solar: {mean:+.1f}")
    for band in day.bands:
        print(f"  {band}: residual (chance in hundredths below), solar hour at the middle")
        print("    from km " + " ".join(f"{h:4d}" for h in range(24)))
        chances = day.chance[day.bands.index(band)]
        for (low, _), row, chance in zip(day.edges_km, day.of(band), chances, strict=True):
            print(f"    {low:7d} " + _row(row, "{:+4.1f}"))
            print(" " * 12 + _row(100.0 * chance, "{:4.0f}"))


def people() -> None:
    """Split of the people among the bands: common practice and the table, and both on reports kept apart."""
    day = load()
    table = split(day)
    print("Who is on which band: share of the stations on the air in hundredths, by solar hour (1 July)")
    print("  band   usual  " + " ".join(f"{h:3d}" for h in range(24)))
    for band, times, weight in zip(day.bands, table.times_usual, table.weight, strict=True):
        usual = 100.0 * activity.BY_BAND[band]
        print(f"  {band:>4}  {usual:6.0f}  " + _row(usual * times, "{:3.0f}"))
        print("  weight of reports " + _row(100.0 * weight, "{:3.0f}").removeprefix(" "))
    far_off = [i for i in range(len(day.edges_km)) if i not in day.near]
    print("  kept apart: bands of the reports, nepers a report (in brackets: from hour to hour alone)")
    cuts = (
        ("one half of the distances", day.near[::2], day.near[1::2]),
        ("the other half", day.near[1::2], day.near[::2]),
        ("2000 to 4000 km", day.near[:4], day.near[4:]),
        ("under 2000 km", day.near[4:], day.near[:4]),
        ("over 4000 km", day.near, far_off),
    )
    for words, fitted, kept in cuts:
        tables = {f"{d:g}": split(day, fitted, d).times_usual for d in (0.25, DEPARTURE, 1.0, 2.0)}
        scores = ", ".join(
            f"{name} {reception.split_deviance(day, t, kept):.3f}"
            f" ({reception.split_deviance(day, t, kept, levels=True):.3f})"
            for name, t in ({"common practice": None} | tables).items()
        )
        print(f"    {words:<26}{scores}")
    print(f"  first choice heard, of one report in {reception.ONE_REPORT_IN:g}, kept apart")
    for words, fitted, kept in cuts:
        scores_of = {
            "chance alone": day.chance,
            "common practice": reception.expected(day, None),
            "table": reception.expected(day, split(day, fitted).times_usual),
            "always 20 m": np.broadcast_to(np.array(day.bands)[:, None, None] == "20m", day.chance.shape),
            "the most reported": day.reports,
        }
        print(f"    {words:<26}" + ", ".join(
            f"{name} {reception.first_choice(score[:, kept], day.reports[:, kept]):.3f}"
            for name, score in scores_of.items()
        ))  # fmt: skip


def far() -> None:
    """Great Britain and New Zealand: shares of the hours, promised and reported."""
    month = reception.far_countries(built_in())
    print("Great Britain and New Zealand, April 2018, both directions")
    reported, promised = month.share("20m")
    print(f"  20 m, 10 to 19 UT: {reported:.0%} of the reports, {promised:.0%} of the promised chance")
    print("  share of the day in hundredths by hour   " + " ".join(f"{h:3d}" for h in range(24)))
    for i, band in enumerate(month.bands):
        print(f"  {band:>4}, shape error {month.shape_error(band):.2f}:")
        for name, values in (("reports", month.reports[i]), ("promised", month.chance[i])):
            print(f"    {name:<37}" + _row(100.0 * values / np.sum(values), "{:3.0f}"))
    weights = {
        "chance alone": np.ones((1, 1)),
        "common practice": month.people(activity.Habits(by_hour={})),
        "table": month.people(activity.USUAL),
        "always 20 m": np.where(np.array(month.bands)[:, None] == "20m", 1e9, 1.0),
    }
    print("  first choice heard: " + ", ".join(
        f"{name} {month.first_choice_heard(weight):.2f}" for name, weight in weights.items()
    ))  # fmt: skip


def _row(values: FloatArray, form: str) -> str:
    width = len(form.format(0.0))
    return " ".join(" " * (width - 1) + "." if np.isnan(v) else form.format(v) for v in values)


if __name__ == "__main__":
    main(sys.argv[1:])
