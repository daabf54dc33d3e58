"""Which version this is, and how old the data are that it carries."""

from __future__ import annotations

from importlib.metadata import PackageNotFoundError, version


def version_words() -> str:
    """A line for the program, and a line for each table that ages."""
    from propagation.space_weather.indices.solar_history import DAY, solar_history

    try:
        program = version("bandwhen")
    except PackageNotFoundError:
        program = "run from its source, not installed"
    history = solar_history()
    measured = history.forecast_from.astype("datetime64[D]") - DAY
    indexed, last = history.month_middles[[history.last_observed_month, -1]].astype("datetime64[M]")
    return (
        f"bandwhen {program}\n"
        f"sun and field: measured to {measured}, predicted to {last}\n"
        f"ionospheric index: measured to {indexed}\n"
        "magnetic field: IGRF-14, 1900 to 2030"
    )
