"""Words for the losses of a ray path, one row for each crossing of the D and E layers."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

from propagation.wording.quantities import decibels, degrees, percent, sentence

if TYPE_CHECKING:
    from propagation.geo.regions import Target
    from propagation.signal.losses.crossing_losses import CrossingLoss

COLUMNS: Final = ("hop", "layer", "way", "place", "sun height", "foE", "absorbed", "event", "ground")


def place(lat_deg: float, lon_deg: float) -> str:
    """Place to a tenth of a degree, `29.9 S, 30.1 E`."""
    north, east = "N" if lat_deg >= 0.0 else "S", "E" if lon_deg >= 0.0 else "W"
    return f"{abs(lat_deg):.1f} {north}, {abs(lon_deg):.1f} {east}"


def cells(row: CrossingLoss) -> tuple[str, ...]:
    """One row of the table, in the order of `COLUMNS`."""
    return (
        str(row.hop),
        row.layer,
        row.way,
        place(row.lat_deg, row.lon_deg),
        degrees(90.0 - row.zenith_deg),
        f"{row.foe_mhz:.1f} MHz",
        f"{row.absorption_db:.1f} dB",
        f"{row.event_db:.1f} dB" if row.event_db >= 0.05 else "",
        f"{row.reflection_db:.1f} dB" if row.reflection_db > 0.0 else "",
    )


def total(rows: Sequence[CrossingLoss]) -> tuple[str, ...]:
    """Last row of the table: the sums, in the order of `COLUMNS`."""
    event = sum(row.event_db for row in rows)
    ground = sum(row.reflection_db for row in rows)
    return (
        "sum",
        *[""] * 5,
        f"{sum(row.absorption_db for row in rows):.1f} dB",
        f"{event:.1f} dB" if event >= 0.05 else "",
        f"{ground:.1f} dB" if ground > 0.0 else "",
    )


def table(rows: Sequence[CrossingLoss]) -> list[tuple[str, ...]]:
    """Heading, rows and sums; the column of events only where there are any."""
    lines = [COLUMNS, *(cells(row) for row in rows), total(rows)]
    if any(line[7] for line in lines[1:]):
        return lines
    return [(*line[:7], *line[8:]) for line in lines]


def heading(name: str) -> str:
    """Heading of the table: `Hop by hop from here, by 2F2`."""
    return f"Hop by hop from here, by {name}"


def without_hops(name: str) -> str:
    """Sentence in place of the table, for a signal without single hops."""
    if name == "ground wave":
        return "No hops: the ground wave does not reach the D and E layers."
    if name == "scatter":
        return "No hops: scattered signals have no single ray path."
    return "No single hops: on paths of this length absorption is computed for the whole path."


def hop_sentences(rows: Sequence[CrossingLoss], name: str) -> list[str]:
    """Sentence for each crossing, and the sum; or why there are no hops."""
    if not rows:
        return [without_hops(name)]
    lines = []
    for row in rows:
        sun = 90.0 - row.zenith_deg
        parts = [
            f"hop {row.hop} by the {row.layer} layer, {row.way}ward at {place(row.lat_deg, row.lon_deg)}: "
            f"sun {degrees(abs(sun))} {'above' if sun >= 0.0 else 'below'} the horizon",
            f"foE {row.foe_mhz:.1f} MHz",
            f"absorption {decibels(row.absorption_db)}",
        ]
        if row.event_db >= 0.05:
            parts.append(f"by flare and solar protons {decibels(row.event_db)}")
        if row.reflection_db > 0.0:
            parts.append(f"then ground reflection {decibels(row.reflection_db)}")
        lines.append(sentence(", ".join(parts)))
    absorbed = sum(row.absorption_db for row in rows)
    ground = sum(row.reflection_db for row in rows)
    lines.append(f"All hops of {name}: absorption {absorbed:.1f} dB, ground reflections {ground:.1f} dB.")
    return lines


def stand_in_sentence(target: Target, point: int, reached: bool) -> str:
    """The part of a region that a picture is of, and why that one; empty for a place.

    reached: chosen because a band is likeliest to reach it, not because most amateurs are there.
    """
    if not target.is_region:
        return ""
    why = (
        "on this band and at this hour the part likeliest to be reached"
        if reached and point != target.heaviest
        else f"the part with the most of its amateurs, {percent(float(target.weight[point]))}"
    )
    return f"{target.labels[point]} is shown for {target.name}: {why}."
