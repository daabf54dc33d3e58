"""The published numerical maps of the ionosphere: foF2, M(3000)F2 and the deciles of foEs.

Each map is a series in time and place,

    Omega(lat, lon, T) = sum_j D_j(T) sum_k U[j, k] G_k(lat, lon)

with T = 15 UT - 180 degrees, D = 1, sin T, cos T, sin 2T, cos 2T, ... and G = sin^q X cos^m(lat) cos(m lon),
then the same with sin(m lon); X is the modified dip at 300 km. Form and order of terms: ITU-R P.1239
(Jones & Gallet 1962, 1965), checked number by number against PyIRI 0.1.7.

The coefficients U of the twelve months are in `data/ionosphere_maps.npz` (see its provenance file).
A map describes the *monthly median*, so a month is taken as a whole: nothing is interpolated between
months. Between the two solar levels of a map the value runs straight with an index on the scale of the
sunspot number R12, version 1 (see `propagation.space_weather.indices.solar_index`):

- foF2 and M(3000)F2 by the ionospheric index: levels 0 and 100, continued straight to 150 (P.1239; the 150
  from memory) and down to -15, constant outside. The maps were made for 0 and above; going on below
  it reduces the error of foF2 at five ionosondes in 2019 from 0.75 to 0.66 MHz, and -13 is as low as the
  index has ever been;
- foEs by R12 itself: levels 10 and 180 (Leftin, Ostrow & Preston 1968), constant outside.

The functions of place are shared by all quantities: build `Points` once for several (`sample`). The hours
enter afterwards (`MapSample.at`); of the two sums the one over the terms of time is done first: its result,
78 numbers an hour, is shared by all places of that hour.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Final, Literal, get_args

import numpy as np
import numpy.typing as npt

from propagation.base.units import FloatArray, FloatLike, IntArray, as_float, cosd, distinct, sind
from propagation.space_weather.indices.solar_index import LOWEST_INDEX

Quantity = Literal["foF2", "M3000F2", "foEs_upper", "foEs_median", "foEs_lower"]
QUANTITIES: Final[tuple[Quantity, ...]] = get_args(Quantity)

# Number of powers q = 0..Q-1 of sin X for each harmonic m of longitude (P.1239 table 1; Leftin et al. 1968)
ORDERS: Final[dict[Quantity, tuple[int, ...]]] = {
    "foF2": (12, 12, 9, 5, 2, 1, 1, 1, 1),
    "M3000F2": (7, 8, 6, 3, 2, 1, 1),
    "foEs_upper": (11, 12, 6, 3, 1),
    "foEs_median": (11, 13, 7, 3, 1, 1),
    "foEs_lower": (11, 13, 7, 1, 1),
}
ALL_ORDERS: Final = (12, 13, 9, 5, 2, 1, 1, 1, 1)  # the least set of functions that holds every map's own

# Index of the two levels, and the range within which a map follows it
LEVELS: Final[dict[Quantity, tuple[float, float]]] = {
    "foF2": (0.0, 100.0),
    "M3000F2": (0.0, 100.0),
    "foEs_upper": (10.0, 180.0),
    "foEs_median": (10.0, 180.0),
    "foEs_lower": (10.0, 180.0),
}
INDEX_RANGE: Final[dict[Quantity, tuple[float, float]]] = {
    "foF2": (LOWEST_INDEX, 150.0),  # P.1239 (the cap from memory); below 0 ours, see above
    "M3000F2": (LOWEST_INDEX, 150.0),
    "foEs_upper": (10.0, 180.0),
    "foEs_median": (10.0, 180.0),
    "foEs_lower": (10.0, 180.0),
}

TABLES: Final = Path(__file__).parent.parent / "data" / "ionosphere_maps.npz"


def _terms(orders: tuple[int, ...]) -> Iterator[tuple[int, int, int]]:
    """The functions of place in the order of the tables: (m, q, 0 for cos(m lon) or 1 for sin(m lon))."""
    for m, powers in enumerate(orders):
        for q in range(powers):
            for phase in (0,) if m == 0 else (0, 1):
                yield m, q, phase


TERM_COUNT: Final = sum(1 for _ in _terms(ALL_ORDERS))


@lru_cache(maxsize=1)
def _tables() -> dict[str, FloatArray]:
    with np.load(TABLES) as archive:
        return {name: archive[name] for name in archive.files}


@lru_cache(maxsize=len(QUANTITIES))
def _matrix(quantity: Quantity) -> FloatArray:
    """The map's coefficients on the common functions of place [month 12, 2 x time terms, TERM_COUNT].

    The first half of the middle axis is the value at index 0, the second half its slope per unit of index.
    """
    table = _tables()[quantity]  # [month, level, time, place]
    low, high = LEVELS[quantity]
    slope = (table[:, 1] - table[:, 0]) / (high - low)
    at_zero = table[:, 0] - slope * low
    place = {term: at for at, term in enumerate(_terms(ALL_ORDERS))}
    columns = [place[term] for term in _terms(ORDERS[quantity])]
    months, _, times, _ = table.shape
    matrix = np.zeros((months, 2 * times, TERM_COUNT))
    matrix[:, :times, columns] = at_zero
    matrix[:, times:, columns] = slope
    return matrix


class Points:
    """Places at which maps are evaluated, with the functions of place all maps share.

    Parameters broadcast against each other; `shape` is the result. The functions take 8 x 78 bytes a
    point, so cut very long lists into blocks of some ten thousand points.

    Parameters
    ----------
    modified_dip_deg [deg]: modified dip X at 300 km, tan X = I[rad] / sqrt(cos lat).
    lat_deg, lon_deg [deg]: geographic, longitude east positive.
    """

    def __init__(self, modified_dip_deg: FloatLike, lat_deg: FloatLike, lon_deg: FloatLike) -> None:
        arrays = np.broadcast_arrays(as_float(modified_dip_deg), as_float(lat_deg), as_float(lon_deg))
        self.shape: tuple[int, ...] = arrays[0].shape
        # The longest axis is kept innermost, so that long loops run along it; `_axis` is where it belongs.
        arrays = tuple(np.atleast_1d(array) for array in arrays)
        self._axis = int(np.argmax(arrays[0].shape))
        moved = [np.moveaxis(array, self._axis, -1) for array in arrays]
        self._stored_shape: tuple[int, ...] = moved[0].shape
        self.functions: FloatArray = _functions(*(array.ravel() for array in moved))

    def combine(self, weights: FloatArray) -> FloatArray:
        """sum_k weights[k, *hours] G_k(place), hours and places broadcasting.

        Where places and hours lie along different axes this is one matrix product.
        """
        result_shape = np.broadcast_shapes(self.shape, weights.shape[1:])
        dimensions = max(len(self._stored_shape), weights.ndim - 1)
        lead = (1,) * (dimensions - len(self._stored_shape))
        stored, axis = lead + self._stored_shape, len(lead) + self._axis
        hours = (1,) * (dimensions + 1 - weights.ndim) + weights.shape[1:]
        place_part = np.moveaxis(self.functions.reshape(TERM_COUNT, *stored), -1, 1 + axis)
        if all(1 in pair for pair in zip(place_part.shape[1:], hours, strict=True)):
            product = weights.reshape(TERM_COUNT, -1).T @ self.functions
            spread = np.moveaxis(product.reshape(hours + stored), -1, dimensions + axis)
            pairs = [one + offset for one in range(dimensions) for offset in (0, dimensions)]
            total = spread.transpose(pairs)
        else:
            total = np.einsum("k...,k...->...", weights.reshape(TERM_COUNT, *hours), place_part)
        return np.ascontiguousarray(total).reshape(result_shape)


def _functions(dip_deg: FloatArray, lat_deg: FloatArray, lon_deg: FloatArray) -> FloatArray:
    """The common functions of place [TERM_COUNT, n], by cumulative powers."""
    count = dip_deg.size
    power = np.empty((max(ALL_ORDERS), count))  # sin^q X
    power[0] = 1.0
    power[1] = sind(dip_deg)
    for q in range(2, len(power)):
        np.multiply(power[q - 1], power[1], out=power[q])
    cos_lat = np.maximum(cosd(lat_deg), 0.0)
    x, y = cos_lat * cosd(lon_deg), cos_lat * sind(lon_deg)
    functions = np.empty((TERM_COUNT, count))
    functions[: ALL_ORDERS[0]] = power[: ALL_ORDERS[0]]
    at = ALL_ORDERS[0]
    even, odd = x, y  # cos^m(lat) cos(m lon) and cos^m(lat) sin(m lon)
    for m, powers in enumerate(ALL_ORDERS[1:], start=1):
        if m > 1:
            even, odd = even * x - odd * y, odd * x + even * y
        np.multiply(power[:powers], even, out=functions[at : at + 2 * powers : 2])
        np.multiply(power[:powers], odd, out=functions[at + 1 : at + 2 * powers : 2])
        at += 2 * powers
    return functions


@dataclass(frozen=True, eq=False)
class MapSample:
    """One map at fixed places and months: what is left is a function of the hour and the index."""

    quantity: Quantity
    points: Points
    month: IntArray

    def at(self, ut_hour: FloatLike, index: FloatLike) -> FloatArray:
        """The map's value [MHz, or a pure number for M(3000)F2] by hour and index.

        Parameters
        ----------
        ut_hour [h]: universal time of day, any real number (the map repeats every 24 h).
        index: on the scale of R12, of the kind the map requires (see above); held outside the map's range.

        All broadcast against the places: places (n, 1, p) at hours (1, t, 1) give (n, t, p), by one matrix
        product; places (n, p) at hours (n, 1) give (n, p).
        """
        level = np.clip(as_float(index), *INDEX_RANGE[self.quantity])
        hour, level, month = np.broadcast_arrays(as_float(ut_hour), level, self.month)
        matrix = _matrix(self.quantity)
        clock = time_functions(matrix.shape[1] // 2, hour.ravel())
        clock = np.concatenate([clock, clock * level.ravel()])
        present = distinct(self.month)
        if present.size == 1:
            weights = matrix[present[0] - 1].T @ clock
        else:
            weights, months = np.empty((TERM_COUNT, hour.size)), month.ravel()
            for one in present:
                members = np.flatnonzero(months == one)
                weights[:, members] = matrix[one - 1].T @ clock[:, members]
        return self.points.combine(weights.reshape(TERM_COUNT, *hour.shape))


def time_functions(count: int, ut_hour: FloatArray) -> FloatArray:
    """The first `count` functions of time 1, sin T, cos T, sin 2T, ... [count, *shape of the hours]."""
    angle_deg = 15.0 * ut_hour - 180.0
    sine, cosine = sind(angle_deg), cosd(angle_deg)
    functions = np.empty((count, *ut_hour.shape))
    functions[0] = 1.0
    if count > 1:
        functions[1], functions[2] = sine, cosine
    for at in range(3, count, 2):
        functions[at] = functions[at - 2] * cosine + functions[at - 1] * sine
        functions[at + 1] = functions[at - 1] * cosine - functions[at - 2] * sine
    return functions


def sample(
    quantity: Quantity,
    month: npt.ArrayLike,
    modified_dip_deg: FloatLike | Points,
    lat_deg: FloatLike = 0.0,
    lon_deg: FloatLike = 0.0,
) -> MapSample:
    """A map at places and in a month, for use at any hours and indices.

    Parameters
    ----------
    quantity: one of `QUANTITIES`.
    month: 1..12, a number or an integer array broadcasting against places and hours.
    modified_dip_deg, lat_deg, lon_deg [deg]: the places, broadcasting; or `Points` made of them, in place of
        all three, to share the work among quantities.

    Raises ValueError for a month outside 1..12 or an unknown quantity.
    """
    if quantity not in QUANTITIES:
        raise ValueError(f"no map of {quantity!r}: there are {', '.join(QUANTITIES)}")
    months = np.asarray(month)
    if months.size and (months.dtype.kind not in "iu" or months.min() < 1 or months.max() > 12):
        raise ValueError("month must be whole numbers from 1 to 12")
    if not isinstance(modified_dip_deg, Points):
        modified_dip_deg = Points(modified_dip_deg, lat_deg, lon_deg)
    return MapSample(quantity, modified_dip_deg, months.astype(np.int64))
