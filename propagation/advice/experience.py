"""Experience with similar paths: the number of measured hours, and how well levels agree with them.

The measured hours are those of `fixtures/field_strength`. The table holds them by distance, frequency and
light at the middle of the path (`data/field_experience.csv`, made by its builder).
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Final, Literal

import numpy as np

from propagation.base.units import BoolArray, FloatArray, FloatLike, IntArray, as_float

TABLE: Final = Path(__file__).parent.parent / "data" / "field_experience.csv"
# Classes (ours). Distances: by the number of hops to 4000 km, by the method from 9000 km on, and the long
# route separately. Frequencies: one amateur band or two each.
DISTANCE_EDGES_KM: Final = (0.0, 500.0, 1000.0, 2000.0, 4000.0, 9000.0, 12_000.0, 20_015.0, 40_031.0)
FREQUENCY_EDGES_MHZ: Final = (2.4, 4.5, 6.2, 8.5, 12.0, 16.0, 20.0, 26.0)
# dB over 1 uV/m at 1 kW into an isotropic antenna: 1 measured hour in 150 is weaker; in the comparison weaker
# predictions count as this
LEAST_FIELD_DBUV: Final = -40.0
HORIZON_DEG: Final = 90.0  # deg, zenith angle of the sun at the middle of the path, below which it is day
MANY_HOURS, MANY_CIRCUITS = 100, 2  # from which a class has its own error (ours)

Standing = Literal["many", "few", "none"]


@dataclass(frozen=True)
class Experience:
    """Measurements of similar paths.

    hours: monthly medians of one hour each. circuits: number of circuits (two places and a frequency).
    error_db: root mean square of measured minus computed level [dB]. With few hours it is that of all
    frequencies at this distance and light; None where nothing similar was measured. from_km to to_km,
    from_mhz to to_mhz (NaN outside the measured frequencies), day: the class. too_weak: the field is below
    `LEAST_FIELD_DBUV`, so no measured hour is similar.
    """

    hours: int
    circuits: int
    error_db: float | None
    from_km: float
    to_km: float
    from_mhz: float
    to_mhz: float
    day: bool
    too_weak: bool

    @property
    def standing(self) -> Standing:
        """Amount of experience with such paths."""
        return _standing(self.hours, self.circuits)


def _standing(hours: int, circuits: int) -> Standing:
    if hours >= MANY_HOURS and circuits >= MANY_CIRCUITS:
        return "many"
    return "few" if hours else "none"


@dataclass(frozen=True, eq=False)
class Classes:
    """The table: hours, circuits and sum of squared differences [dB2], each (distance, frequency, light)."""

    hours: IntArray
    circuits: IntArray
    squares_db2: FloatArray

    @property
    def whole(self) -> tuple[int, float]:
        """All measured hours, and the root mean square of measured minus computed level [dB]."""
        hours = int(np.sum(self.hours))
        return hours, float(np.sqrt(np.sum(self.squares_db2) / hours))


def class_of(
    distance_km: FloatLike, frequency_mhz: FloatLike, zenith_deg: FloatLike
) -> tuple[IntArray, IntArray, BoolArray]:
    """Distance class, frequency class (-1 outside what was measured) and whether it is day; broadcasts."""
    km = np.searchsorted(DISTANCE_EDGES_KM[1:-1], as_float(distance_km), side="left")
    mhz = np.searchsorted(FREQUENCY_EDGES_MHZ, as_float(frequency_mhz), side="right") - 1
    inside = mhz < len(FREQUENCY_EDGES_MHZ) - 1
    return km, np.where(inside, mhz, -1), as_float(zenith_deg) < HORIZON_DEG


@cache
def classes() -> Classes:
    """Load the table."""
    shape = (len(DISTANCE_EDGES_KM) - 1, len(FREQUENCY_EDGES_MHZ) - 1, 2)
    table = Classes(np.zeros(shape, np.int64), np.zeros(shape, np.int64), np.zeros(shape))
    with TABLE.open(newline="", encoding="ascii") as file:
        for row in csv.DictReader(file):
            cell = (
                DISTANCE_EDGES_KM.index(float(row["from_km"])),
                FREQUENCY_EDGES_MHZ.index(float(row["from_mhz"])),
                int(row["light"] == "day"),
            )
            table.hours[cell], table.circuits[cell] = int(row["hours"]), int(row["circuits"])
            table.squares_db2[cell] = int(row["hours"]) * float(row["rms_db"]) ** 2
    return table


def experience(distance_km: float, frequency_mhz: float, zenith_deg: float, field_dbuv: float) -> Experience:
    """Find the measurements of similar paths.

    distance_km: along the route, so the long route has its own class. zenith_deg: of the sun at the middle of
    the path. field_dbuv: median field for 1 kW into an isotropic antenna [dB over 1 uV/m].
    """
    km, mhz, day = (int(part) for part in class_of(distance_km, frequency_mhz, zenith_deg))
    table, inside, too_weak = classes(), mhz >= 0, field_dbuv < LEAST_FIELD_DBUV
    known = inside and not too_weak
    hours = int(table.hours[km, mhz, day]) if known else 0
    circuits = int(table.circuits[km, mhz, day]) if known else 0
    own = _standing(hours, circuits) == "many"
    like = (km, mhz if own else slice(None), day)
    error = float(np.sqrt(np.sum(table.squares_db2[like]) / np.sum(table.hours[like]))) if hours else None
    return Experience(
        hours=hours,
        circuits=circuits,
        error_db=error,
        from_km=DISTANCE_EDGES_KM[km],
        to_km=DISTANCE_EDGES_KM[km + 1],
        from_mhz=FREQUENCY_EDGES_MHZ[mhz] if inside else float("nan"),
        to_mhz=FREQUENCY_EDGES_MHZ[mhz + 1] if inside else float("nan"),
        day=bool(day),
        too_weak=too_weak,
    )
