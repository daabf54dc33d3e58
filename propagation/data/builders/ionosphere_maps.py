"""Make `ionosphere_maps.npz` from the published coefficient tables, as text files.

Run manually when the tables or their layout change:

    python -m propagation.data.builders.ionosphere_maps [FOLDER]

FOLDER holds `CCIR/ccir11.asc` .. `ccir22.asc` and `Es/Es11.asc` .. `Es22.asc` (month + 10). The default is
the folder `coefficients` of the installed test dependency PyIRI. Nothing is downloaded.

Result: float64 arrays [month 0..11, level 0..1, time term, geographic term], one for each quantity, in the
order of terms of the published series (see `propagation.ionosphere.numerical_map`).
"""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path
from typing import Final

import numpy as np

from propagation.base.errors import BandwhenError
from propagation.base.units import FloatArray

OUTPUT: Final = Path(__file__).parent.parent / "ionosphere_maps.npz"
FIELD_WIDTH: Final = 15  # characters, FORTRAN format (1X,4E15.8): no blank is guaranteed, so read by column
CCIR_COUNT: Final = 2858  # numbers: 13 x 76 x 2 of foF2, then 9 x 49 x 2 of M(3000)F2
ES_HEADER: Final = 60  # integers of orders at the head of each Es file
ES_STORED: Final = (17, 76, 6)  # time terms, geographic terms, columns; unused places are zero

# rows: name, (time terms, geographic terms) in use, first of its two columns in the Es file
ES_QUANTITIES: Final = (
    ("foEs_upper", (5, 55), 0),
    ("foEs_median", (7, 61), 2),
    ("foEs_lower", (5, 55), 4),
)


def read_ccir(text: str) -> tuple[FloatArray, FloatArray]:
    """Read foF2 [2, 13, 76] and M(3000)F2 [2, 9, 49] of one month's CCIR file; levels R12 = 0 and 100."""
    numbers: list[float] = []
    for line in text.splitlines():
        body = line.rstrip()[1:]
        numbers.extend(float(body[at : at + FIELD_WIDTH]) for at in range(0, len(body), FIELD_WIDTH))
    if len(numbers) != CCIR_COUNT:
        raise BandwhenError(f"a CCIR file holds {CCIR_COUNT} numbers; this one holds {len(numbers)}")
    fof2_size = 13 * 76 * 2
    fof2 = np.reshape(numbers[:fof2_size], (2, 76, 13))
    m3000 = np.reshape(numbers[fof2_size:], (2, 49, 9))
    return np.ascontiguousarray(fof2.swapaxes(1, 2)), np.ascontiguousarray(m3000.swapaxes(1, 2))


def read_es(text: str) -> dict[str, FloatArray]:
    """Read the three foEs tables [2, time, geographic] of one month's Es file; levels R12 = 10 and 180."""
    numbers = np.array(text.split(), dtype=np.float64)
    size = int(np.prod(ES_STORED))
    stored = numbers[ES_HEADER : ES_HEADER + size].reshape(ES_STORED, order="F")
    tables = {}
    for name, (times, terms), column in ES_QUANTITIES:
        used = stored[:times, :terms, column : column + 2]
        tables[name] = np.ascontiguousarray(np.moveaxis(used, 2, 0))
    return tables


def build(folder: Path) -> dict[str, FloatArray]:
    """Read all tables of all twelve months from the text files in `folder`."""
    months: dict[str, list[FloatArray]] = {}
    for month in range(1, 13):
        fof2, m3000 = read_ccir((folder / "CCIR" / f"ccir{month + 10}.asc").read_text("ascii"))
        tables = {"foF2": fof2, "M3000F2": m3000}
        tables |= read_es((folder / "Es" / f"Es{month + 10}.asc").read_text("ascii"))
        for name, table in tables.items():
            months.setdefault(name, []).append(table)
    return {name: np.stack(tables) for name, tables in months.items()}


def default_folder() -> Path:
    """The coefficient folder of the installed PyIRI."""
    spec = importlib.util.find_spec("PyIRI")
    if spec is None or spec.origin is None:
        raise BandwhenError("PyIRI is not installed: give the folder of the coefficient files")
    return Path(spec.origin).parent / "coefficients"


def main(arguments: list[str]) -> None:
    """Write the .npz file into the folder above."""
    folder = Path(arguments[0]) if arguments else default_folder()
    tables = build(folder)
    np.savez(OUTPUT, **tables)  # type: ignore[arg-type]
    for name, table in tables.items():
        print(name, table.shape)
    print(OUTPUT, OUTPUT.stat().st_size, "bytes")


if __name__ == "__main__":
    main(sys.argv[1:])
