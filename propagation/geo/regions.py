"""Targets as weighted sets of points: a place, a region, a ring around the site, anyone.

The weight of a point is the share of the target's amateurs that it represents. The sum of the weights of the
reachable points is therefore the reachable share of the target. Amateurs are distributed within a country as
its people are, and over countries by approximate licence numbers (from memory, order of magnitude); see
`data/places.provenance.md`. A target describes where amateurs live, not their activity.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np

from propagation.base.errors import InputError
from propagation.base.units import FloatArray, as_float
from propagation.geo.gazetteer import Region, gazetteer
from propagation.geo.great_circle import destination, distance_km
from propagation.geo.locator import Position, locator_of, position_of

TargetKind = Literal["place", "region", "ring", "anyone"]

RING_LONGEST_KM: Final = 10_000.0  # km; half the distance to the antipode, the largest useful ring
_BEARINGS: Final = 8  # points on each circle of a ring
_CIRCLES: Final = 3  # circles of equal area within a ring
_EVERYWHERE: Final = 0.1  # share of a ring's weight spread evenly over its area (own choice)
_SECTORS: Final = ("north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west")
_NINTHS: Final = (
    "north-west", "north", "north-east", "west", "middle", "east", "south-west", "south", "south-east",
)  # fmt: skip
AT_SEA: Final = 1.0  # amateurs where the table has no town: the one station addressed (own choice)
_MOST_POINTS: Final = 40  # points of a region made at run time


@dataclass(frozen=True, eq=False)
class Target:
    """The operators or the station to be reached.

    name: as shown. kind: "place" (one point), "region", "ring" or "anyone". lat_deg, lon_deg [deg] and
    weight (sum 1): arrays of shape (n,). labels: n texts that name each point, so the best part of a region
    can be named. note: one sentence on another reading of the name, or empty.
    """

    name: str
    kind: TargetKind
    lat_deg: FloatArray
    lon_deg: FloatArray
    weight: FloatArray
    labels: tuple[str, ...]
    note: str = ""
    amateurs: float = 1.0

    @property
    def size(self) -> int:
        """Number of points."""
        return int(self.weight.size)

    @property
    def is_region(self) -> bool:
        """Whether the target is many stations, not one."""
        return self.kind != "place"

    @property
    def heaviest(self) -> int:
        """Index of the point with the largest weight."""
        return int(np.argmax(self.weight))

    @property
    def centre(self) -> Position:
        """The heaviest point, as a position."""
        return Position(float(self.lat_deg[self.heaviest]), float(self.lon_deg[self.heaviest]))


def make_target(
    name: str,
    kind: TargetKind,
    lat_deg: Sequence[float] | FloatArray,
    lon_deg: Sequence[float] | FloatArray,
    weight: Sequence[float] | FloatArray,
    labels: Sequence[str],
    note: str = "",
    amateurs: float = 1.0,
) -> Target:
    """Make a target with weights scaled to a sum of one and read-only arrays."""
    parts = as_float(weight)
    lat, lon, share = np.array(lat_deg, dtype=float), np.array(lon_deg, dtype=float), parts / np.sum(parts)
    for column in (lat, lon, share):
        column.setflags(write=False)
    return Target(name, kind, lat, lon, share, tuple(labels), note, amateurs)


def point(name: str, position: Position, note: str = "") -> Target:
    """A target of a single point."""
    return make_target(name, "place", [position.lat_deg], [position.lon_deg], [1.0], [name], note)


def of_region(region: Region, note: str = "") -> Target:
    """The target for a region of the table: its towns with their share of the region's amateurs."""
    table = gazetteer()
    rows = np.array(region.rows)
    one_country = region.kind in ("country", "division")
    labels = [table.names[row] if one_country else table.town_name(row) for row in region.rows]
    kind: TargetKind = "anyone" if region.kind == "anyone" else "region"
    return make_target(
        region.name, kind, table.lat_deg[rows], table.lon_deg[rows], region.parts, labels, note,
        region.amateurs,
    )  # fmt: skip


def kind_of(target: Target) -> str:
    """Kind of a region in the table of regions, `country`; empty for others."""
    kinds = [region.kind for region in gazetteer().regions if region.name == target.name]
    return kinds[0] if target.kind == "region" and kinds else ""


def contains(target: Target, position: Position, site: Position) -> bool:
    """Return whether a place is in a target, as nearly as the table of towns tells.

    A country or division has the places whose nearest town it has; a larger region those that are nearer to
    its points than to those of any other region of its kind. site: centre of a ring.
    """
    if target.kind == "ring":
        return _in_ring(target, position, site)
    if target.kind in ("anyone", "place"):
        return target.kind == "anyone"
    table = gazetteer()
    own = [region for region in table.regions if region.name == target.name]
    if not own:
        return locator_of(position.lat_deg, position.lon_deg).startswith(target.name.removeprefix("field "))
    away = distance_km(position.lat_deg, position.lon_deg, table.lat_deg, table.lon_deg)
    nearest = int(np.argmin(away))
    if own[0].kind in ("country", "division"):
        return own[0].code in (table.country[nearest], f"{table.country[nearest]}-{table.division[nearest]}")
    others = [region for region in table.regions if region.kind == own[0].kind]
    return min(others, key=lambda region: float(np.min(away[list(region.rows)]))) is own[0]


def _in_ring(target: Target, position: Position, site: Position) -> bool:
    """Return whether a place is within the outer circle of a ring."""
    radius_km = distance_km(site.lat_deg, site.lon_deg, target.lat_deg, target.lon_deg)
    # its circles of points halve rings of equal area: the outer edge is half a step of area further out
    step = (np.max(radius_km) ** 2 - np.min(radius_km) ** 2) / (_CIRCLES - 1)
    outer_km = float(np.sqrt(np.max(radius_km) ** 2 + step / 2.0))
    return float(distance_km(site.lat_deg, site.lon_deg, position.lat_deg, position.lon_deg)) <= outer_km


def field(locator: str, note: str = "") -> Target:
    """The target for a locator field (two letters, 20 by 10 degrees).

    The points are its largest 40 towns weighted by amateurs. Where the table has none (open sea), they are
    nine points spread evenly over the field.
    """
    name = locator.upper()
    centre = position_of(name)
    table = gazetteer()
    inside = (np.abs(table.lat_deg - centre.lat_deg) <= 5.0) & (
        np.abs(table.lon_deg - centre.lon_deg) <= 10.0
    )
    rows = np.flatnonzero(inside)
    people = float(np.sum(table.amateurs[rows]))
    if rows.size:
        rows = rows[np.argsort(-table.amateurs[rows], kind="stable")][:_MOST_POINTS]
        labels = [table.town_name(row) for row in rows.tolist()]
        weight = np.maximum(table.amateurs[rows], 1e-6)
        return make_target(
            f"field {name}", "region", table.lat_deg[rows], table.lon_deg[rows], weight, labels, note, people
        )
    north, east = np.meshgrid([10.0 / 3, 0.0, -10.0 / 3], [-20.0 / 3, 0.0, 20.0 / 3], indexing="ij")
    lat, lon = centre.lat_deg + north.ravel(), centre.lon_deg + east.ravel()
    labels = [f"{part} of {name}" for part in _NINTHS]
    weight = np.cos(np.radians(lat))
    return make_target(f"field {name}", "region", lat, lon, weight, labels, note, AT_SEA)


def ring(site: Position, outer_km: float, inner_km: float = 0.0) -> Target:
    """The target for a ring between two distances of the site: 24 points on three circles of equal area.

    site: the centre. outer_km, inner_km [km]: 0 <= inner < outer <= 10,000.
    Nine tenths of the weight are based on the amateurs of the towns around; each town is shared among the
    points near it. One tenth is spread evenly over the area, so that a single portable station counts too.
    Raises InputError for invalid distances.
    """
    if not 0.0 <= inner_km < outer_km <= RING_LONGEST_KM:
        raise InputError(
            f"A ring from {inner_km:g} to {outer_km:g} km is not possible: give a smaller distance first,"
            f" and at most {RING_LONGEST_KM:g} km."
        )
    share = (np.arange(_CIRCLES) + 0.5) / _CIRCLES
    radius = np.sqrt(inner_km**2 + share * (outer_km**2 - inner_km**2))
    bearing = np.arange(_BEARINGS) * 360.0 / _BEARINGS
    lat, lon = destination(site.lat_deg, site.lon_deg, bearing[None, :], radius[:, None])
    lat, lon = lat.ravel(), lon.ravel()

    table = gazetteer()
    away = distance_km(site.lat_deg, site.lon_deg, table.lat_deg, table.lon_deg)
    rows = np.flatnonzero((away <= outer_km) & (away >= inner_km))
    weight = np.full(lat.size, 1.0 / lat.size)
    people = float(np.sum(table.amateurs[rows]))
    if people > 0.0:
        apart = distance_km(table.lat_deg[rows, None], table.lon_deg[rows, None], lat[None, :], lon[None, :])
        near = np.exp(-((apart / (outer_km / 4.0)) ** 2)) + 1e-12
        near /= np.sum(near, axis=1, keepdims=True)
        crowd = table.amateurs[rows] @ near / people
        weight = _EVERYWHERE * weight + (1.0 - _EVERYWHERE) * crowd
    labels = [f"{_rounded_km(km)} km {sector}" for km in radius.tolist() for sector in _SECTORS]
    name = f"within {outer_km:g} km" if inner_km == 0.0 else f"{inner_km:g} to {outer_km:g} km away"
    return make_target(name, "ring", lat, lon, weight, labels, amateurs=max(people, AT_SEA))


def _rounded_km(km: float) -> int:
    return round(km / 10.0) * 10 if km >= 100.0 else round(km)
