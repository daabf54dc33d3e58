"""Make `field_experience.csv`: measured hours and the program's error, by distance, frequency and light.

Run from the root when the engine's levels have changed (some ten seconds):

    python -m propagation.data.builders.field_experience

Reads `fixtures/field_strength` (Recommendation ITU-R P.1148, data bank D1) and computes every hour of it.
`field_experience.provenance.md` describes the columns.
"""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np

from propagation.advice import experience
from propagation.base.time_series import shifted
from propagation.base.two_workers import by_two
from propagation.base.units import BoolArray, FloatArray, IntArray, TimeArray
from propagation.geo import great_circle
from propagation.geo.geomagnetic import middle_year
from propagation.geo.ground import GROUNDS
from propagation.signal.chances.many_circuits import ONE_WATT, field_dbuv
from propagation.signal.losses.circuit import circuit
from propagation.signal.losses.circuit_inputs import CircuitCase

BANK: Final = Path(__file__).resolve().parents[3] / "fixtures" / "field_strength" / "circuits.csv"
HALF_ROUND_KM: Final = 20_015.0  # km, a longer path of the bank is the long path
BLOCK_MONTHS: Final = 80  # circuit-months computed at once, of one year and one path direction


@dataclass(frozen=True, eq=False)
class Bank:
    """Measurements of N circuit-months.

    name, tx, rx (latitudes and longitudes) [deg], distance_km, frequency_mhz, r12: (N,). times (N, 24), UTC.
    measured_db (N, 24): medians [dB over 1 uV/m for 1 kW into an isotropic antenna], NaN where not measured.
    """

    name: list[str]
    tx: tuple[FloatArray, FloatArray]
    rx: tuple[FloatArray, FloatArray]
    distance_km: FloatArray
    frequency_mhz: FloatArray
    r12: FloatArray
    times: TimeArray
    measured_db: FloatArray

    @property
    def long(self) -> BoolArray:
        """True for circuit-months measured on the long path (N,)."""
        return self.distance_km > HALF_ROUND_KM


@dataclass(frozen=True, eq=False)
class Predicted:
    """Results of the engine for each hour, all (N, 24).

    field_db: median [dB over 1 uV/m]. muf_mhz: basic MUF of the path. At the midpoint: zenith angle of the
    sun, local solar hour, season (winter -1 to summer +1), geomagnetic latitude.
    """

    field_db: FloatArray
    muf_mhz: FloatArray
    zenith_deg: FloatArray
    solar_hour: FloatArray
    season: FloatArray
    geomagnetic_latitude_deg: FloatArray


def load(path: Path = BANK) -> Bank:
    """Read the bank; `ut01` is 01:00 UTC, the day is the 15th."""
    with path.open(newline="", encoding="ascii") as file:
        rows = list(csv.DictReader(file))

    def column(name: str) -> FloatArray:
        return np.array([float(row[name]) for row in rows])

    hours = [f"ut{hour:02d}" for hour in range(1, 25)]
    days = np.array([f"{row['year']}-{int(row['month']):02d}-15" for row in rows], dtype="datetime64[s]")
    return Bank(
        name=[row["circuit"] for row in rows],
        tx=(column("tx_lat_deg"), column("tx_lon_deg")),
        rx=(column("rx_lat_deg"), column("rx_lon_deg")),
        distance_km=column("distance_km"),
        frequency_mhz=column("frequency_mhz"),
        r12=column("r12"),
        times=shifted(days[:, None], np.arange(1, 25) * np.timedelta64(3600, "s")),
        measured_db=np.array([[float(row[hour] or "nan") for hour in hours] for row in rows]),
    )


def predict(bank: Bank) -> Predicted:
    """Compute every hour on the measured path (short or long), between standard ends, on a quiet day.

    The index of the maps is R12 itself, as in Recommendation ITU-R P.1239.
    """
    found = Predicted(*(np.full(bank.times.shape, np.nan) for _ in range(6)))

    def work(rows: IntArray) -> None:
        _predict_rows(bank, rows, found)

    by_two(work, _blocks(bank))
    return found


def _blocks(bank: Bank) -> list[IntArray]:
    """Blocks of rows of one year and one path (short or long), in order of month and length."""
    year = bank.times[:, 0].astype("datetime64[Y]").astype(np.int64)
    month = bank.times[:, 0].astype("datetime64[M]").astype(np.int64)
    order = np.lexsort((bank.distance_km, month, bank.long, year))
    turns = np.flatnonzero(np.diff(year[order]) | np.diff(bank.long[order])) + 1
    return [
        group[start : start + BLOCK_MONTHS]
        for group in np.split(order, turns)
        for start in range(0, group.size, BLOCK_MONTHS)
    ]


def _predict_rows(bank: Bank, rows: IntArray, found: Predicted) -> None:
    (tx_lat, tx_lon), (rx_lat, rx_lon), times = bank.tx, bank.rx, bank.times[rows]
    case = CircuitCase(
        route=great_circle.route(
            (tx_lat[rows], tx_lon[rows]), (rx_lat[rows], rx_lon[rows]), bool(bank.long[rows[0]])
        ),
        times=times,
        frequency_mhz=bank.frequency_mhz[rows][:, None, None],
        index=np.broadcast_to(bank.r12[rows][:, None], times.shape),
        disturber=None,
        ground=GROUNDS["average"],
        year=middle_year(times),
        near=ONE_WATT,
        far=ONE_WATT,
    )
    path = circuit(case, keep_ray_paths=False)
    samples, middle = path.samples, path.samples.lat_deg.shape[-1] // 2
    found.field_db[rows] = field_dbuv(0.0, bank.frequency_mhz[rows][:, None], path.median_gain_db[..., 0])
    found.muf_mhz[rows] = path.muf_mhz
    found.zenith_deg[rows] = samples.zenith_deg[..., middle]
    found.solar_hour[rows] = samples.solar_hour[..., middle]
    found.season[rows] = samples.season[..., middle]
    found.geomagnetic_latitude_deg[rows] = samples.geomagnetic_latitude_deg[..., middle]


def residual_db(bank: Bank, predicted: Predicted) -> FloatArray:
    """Measured minus predicted (N, 24) [dB]; NaN where not measured."""
    return bank.measured_db - np.maximum(predicted.field_db, experience.LEAST_FIELD_DBUV)


def table_text(bank: Bank, predicted: Predicted) -> str:
    """The table as CSV: a line for each class with a measured hour."""
    residual = residual_db(bank, predicted)
    seen = np.isfinite(residual)
    km, mhz, day = np.broadcast_arrays(
        *experience.class_of(bank.distance_km[:, None], bank.frequency_mhz[:, None], predicted.zenith_deg)
    )
    names = np.broadcast_to(np.array(bank.name)[:, None], seen.shape)
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(("from_km", "from_mhz", "light", "circuits", "hours", "rms_db"))
    for i, from_km in enumerate(experience.DISTANCE_EDGES_KM[:-1]):
        for j, from_mhz in enumerate(experience.FREQUENCY_EDGES_MHZ[:-1]):
            for light in ("day", "night"):
                inside = seen & (km == i) & (mhz == j) & (day == (light == "day"))
                if np.any(inside):
                    rms = np.sqrt(np.mean(residual[inside] ** 2))
                    counts = (len(set(names[inside].tolist())), int(np.sum(inside)))
                    writer.writerow((f"{from_km:g}", f"{from_mhz:g}", light, *counts, f"{rms:.1f}"))
    return out.getvalue()


def main() -> None:
    """Write the table."""
    bank = load()
    text = table_text(bank, predict(bank))
    experience.TABLE.write_text(text, encoding="ascii")
    print(f"{experience.TABLE}: {len(text.splitlines()) - 1} classes")


if __name__ == "__main__":
    main()
