"""Make `absorption.npz` by tracing rays through the electron densities of FIRI-2018.

Run manually when the model or the layout changes (half a minute):

    python -m propagation.data.builders.absorption_table

The densities come with the PyPI package `pyfiri` (Apache 2.0), a test dependency. Nothing is downloaded.
The contents of the arrays, and the physics, are in `absorption.provenance.md`.

Absorption of a ray over a spherical earth, up and down (Appleton-Hartree, quasi-longitudinal, ordinary wave:
textbook), with r = R + z, the refractive index of a layered medium, mu^2 = 1 - N / Nc, and Bouguer's rule:

    A = 2 C integral N nu / ((omega + omega_L)^2 + nu^2) r dr / sqrt((1 - N / Nc) r^2 - R^2 cos^2(el)),

C = 8.686 e^2 / (2 eps0 m c), Nc = 1.24e10 f^2, from 55 km to the turning point or to 150 km.
"""

from __future__ import annotations

import importlib
import sys
from pathlib import Path
from typing import Any, Final

import numpy as np

from propagation.base.constants import (
    E_LAYER_HEIGHT_KM,
    EARTH_RADIUS_KM,
    ELECTRON_CHARGE_C,
    ELECTRON_MASS_KG,
    SPEED_OF_LIGHT_M_PER_S,
    VACUUM_PERMITTIVITY_F_PER_M,
)
from propagation.base.units import BoolArray, FloatArray, as_float, cosd

OUTPUT: Final = Path(__file__).parent.parent / "absorption.npz"
D_TOP_KM: Final = 92.0  # km, boundary of the D and E parts of the table (ours)
D_CROSSING_KM: Final = 78.0  # km, mean height of the D part by day (from the integral)
FOE_TOP_KM: Final = 125.0  # km, foE is the highest plasma frequency from 95 km up to here (ours: FIRI-2018
# has no valley above the E layer, so the top of the layer must be set)
DENSITY_PER_MHZ2: Final = 1.24e10  # electrons per m3 at a plasma frequency of 1 MHz (textbook)
D_EFFECTIVE_MHZ: Final = 4.6  # f + fL at which the strength of the D part is defined (ours: 3.5 MHz + 1.1)
REFERENCE_ELEVATION_DEG: Final = 10.0  # deg, of the rays traced for the shares (ours)
FOE_SPREAD: Final = 0.06  # relative day-to-day spread of foE, smooths the shares over x (ours)
STEP_KM: Final = 0.1  # km, of the integrals
LOG_X: Final = np.log(0.08) + 0.01 * np.arange(484)  # ln(f cos i / foE) of the shares, 0.08 to 10
SHARE_ZENITH_DEG: Final = np.arange(0.0, 131.0)  # deg, of the shares
STATE_ZENITH_DEG: Final = np.array(
    [0.0, 15.0, 30.0, 37.5, 45.0, 52.5, 60.0, 67.5, 75.0, 77.5, 80.0, 82.5, 85.0, 87.5, 90.0, 92.5, 95.0,
     97.5, 100.0, 110.0, 130.0]
)  # fmt: skip
EFFECTIVE_MHZ: Final = np.geomspace(1.2, 200.0, 80)  # f + fL of the D part as a function of frequency

# Pressure [Pa] at heights [km]: U.S. Standard Atmosphere 1976 (NOAA, NASA, USAF; NASA-TM-X-74335), table of
# geometric altitudes
PRESSURE_KM: Final = np.array(
    [55.0, 60.0, 65.0, 70.0, 75.0, 80.0, 86.0, 90.0, 95.0, 100.0, 105.0, 110.0, 115.0, 120.0, 130.0, 140.0,
     150.0]
)  # fmt: skip
PRESSURE_PA: Final = np.array(
    [42.525, 21.958, 10.929, 5.2209, 2.3881, 1.0524, 0.37338, 0.18359, 0.075966, 0.032011, 0.014477,
     0.0071042, 0.0040096, 0.0025382, 0.0012505, 0.00072028, 0.00045422]
)  # fmt: skip
COLLISIONS_PER_PA: Final = 6.4e5  # 1/(s Pa), nu of electrons of one energy over pressure (Friedrich and
# Torkar 1983, J. Atmos. Terr. Phys. 45, 267; from memory)
EFFECTIVE_COLLISIONS: Final = (
    2.5  # effective factor where nu is far below omega (Sen and Wyller 1960; from memory)
)

HEIGHT_KM: Final = np.arange(55.0, 150.0 + 0.5 * STEP_KM, STEP_KM)


def coefficient_db() -> float:
    """Coefficient C of the integral [dB m2 / s]."""
    per_neper = 20.0 / np.log(10.0)
    return float(
        per_neper
        * ELECTRON_CHARGE_C**2
        / (2.0 * VACUUM_PERMITTIVITY_F_PER_M * ELECTRON_MASS_KG * SPEED_OF_LIGHT_M_PER_S)
    )


def collision_hz(height_km: FloatArray) -> FloatArray:
    """Effective collision frequency [1/s] at heights from 55 to 150 km."""
    pressure = np.exp(np.interp(height_km, PRESSURE_KM, np.log(PRESSURE_PA)))
    return as_float(EFFECTIVE_COLLISIONS * COLLISIONS_PER_PA * pressure)


def model() -> Any:
    """FIRI-2018 as returned by its package: an array with named axes."""
    return importlib.import_module("pyfiri.firi").firi2018().asDataArray()


def published() -> tuple[FloatArray, FloatArray, FloatArray]:
    """Densities [1/m3] (day of year, zenith angle, latitude, flux, km); their zenith angles; their heights.

    The few values missing at 149 and 150 km repeat the one below.
    """
    table = model()
    density = np.array(table.values, dtype=float)
    for k in range(1, density.shape[-1]):
        missing = np.isnan(density[..., k])
        density[..., k][missing] = density[..., k - 1][missing]
    return density, as_float(table.chi.values), as_float(table.alt.values)


def axes() -> dict[str, FloatArray]:
    """The table's own days of the year, latitudes and fluxes."""
    table = model()
    names = {"day_of_year": "doy", "latitude_deg": "lat", "flux_sfu": "f10_7"}
    return {ours: as_float(table[theirs].values) for ours, theirs in names.items()}


def at_zenith(values: FloatArray, nodes_deg: FloatArray, zenith_deg: FloatArray, axis: int) -> FloatArray:
    """Interpolate values linearly in zenith angle, as the model itself does."""
    left = np.clip(np.searchsorted(nodes_deg, zenith_deg, side="right") - 1, 0, nodes_deg.size - 2)
    share = (zenith_deg - nodes_deg[left]) / (nodes_deg[left + 1] - nodes_deg[left])
    shape = [1] * values.ndim
    shape[axis] = -1
    before, after = values.take(left, axis), values.take(left + 1, axis)
    return as_float(before + (after - before) * share.reshape(shape))


def foe_of(density: FloatArray, km: FloatArray) -> FloatArray:
    """Critical frequency foE [MHz] of profiles (..., km)."""
    layer = density[..., (km >= 95.0) & (km <= FOE_TOP_KM)]
    return as_float(np.sqrt(np.max(layer, axis=-1) / DENSITY_PER_MHZ2))


def finely(density: FloatArray) -> FloatArray:
    """Interpolate profiles given per kilometre at HEIGHT_KM, linearly in the logarithm."""
    place = HEIGHT_KM - HEIGHT_KM[0] + 1e-9
    left = np.minimum(place.astype(np.intp), density.shape[-1] - 2)
    logarithm = np.log(density)
    rise = np.diff(logarithm, axis=-1)
    return as_float(np.exp(logarithm[..., left] + rise[..., left] * (place - left)))


def straight_up_db(density: FloatArray, part: BoolArray, effective_mhz: float) -> FloatArray:
    """Two-way absorption [dB] of fine profiles over the heights of `part`, without refraction."""
    nu = collision_hz(HEIGHT_KM)
    per_m = 2.0 * coefficient_db() * density * nu / ((2e6 * np.pi * effective_mhz) ** 2 + nu**2)
    return as_float(np.trapezoid(per_m[..., part], HEIGHT_KM[part] * 1e3, axis=-1))


def traced_db(
    density: FloatArray, frequency_mhz: FloatArray, effective_mhz: float, elevation_deg: float
) -> tuple[FloatArray, FloatArray]:
    """Two-way absorption [dB] below and above 92 km of rays (F,) through one fine profile.

    Between heights the argument of the root is assumed linear. The integral over a cell is then exact, also
    where the ray turns within the cell.
    """
    radius = EARTH_RADIUS_KM + HEIGHT_KM
    nu = collision_hz(HEIGHT_KM)
    per_m = 2.0 * coefficient_db() * density * nu * radius / ((2e6 * np.pi * effective_mhz) ** 2 + nu**2)
    index_square = 1.0 - density / (DENSITY_PER_MHZ2 * frequency_mhz[:, None] ** 2)
    argument = index_square * radius**2 - (EARTH_RADIUS_KM * cosd(elevation_deg)) ** 2
    below, above = argument[:, :-1], argument[:, 1:]
    reached = np.minimum.accumulate(below > 0.0, axis=1)
    turns = above < 0.0
    way = np.where(turns, below / np.maximum(below - above, 1e-30), 1.0)
    roots = np.sqrt(np.maximum(below, 0.0)) + np.sqrt(np.maximum(above, 0.0))
    cell = np.where(reached, 2.0 * way * STEP_KM * 1e3 / np.maximum(roots, 1e-9), 0.0)
    loss = np.where(turns, per_m[:-1], 0.5 * (per_m[:-1] + per_m[1:])) * cell
    low = HEIGHT_KM[:-1] + 0.5 * STEP_KM < D_TOP_KM
    return as_float(loss[:, low].sum(axis=1)), as_float(loss[:, ~low].sum(axis=1))


def shares(density: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Shares of both parts crossed by a ray, over LOG_X, for one fine profile of foE = 1 MHz.

    A share is the absorption of the ray divided by the secant times the vertical absorption. It is 1 for a
    ray far above the layer. Shares are averaged over the day-to-day spread of foE.
    """
    around = 0.01 * np.arange(-20, 21)
    kernel = np.exp(-0.5 * (around / FOE_SPREAD) ** 2)
    log_x = np.concatenate([LOG_X[0] + around[:20], LOG_X, LOG_X[-1] + around[21:]])
    cos_e, cos_d = (
        np.sqrt(1.0 - (EARTH_RADIUS_KM / (EARTH_RADIUS_KM + h) * cosd(REFERENCE_ELEVATION_DEG)) ** 2)
        for h in (E_LAYER_HEIGHT_KM, D_CROSSING_KM)
    )
    d_part, e_part = traced_db(density, np.exp(log_x) / cos_e, D_EFFECTIVE_MHZ, REFERENCE_ELEVATION_DEG)
    d_through = straight_up_db(density, HEIGHT_KM <= D_TOP_KM + 1e-6, D_EFFECTIVE_MHZ)
    e_through = straight_up_db(density, HEIGHT_KM >= D_TOP_KM - 1e-6, D_EFFECTIVE_MHZ)
    kernel /= kernel.sum()
    return (
        np.convolve(d_part * cos_d / d_through, kernel, "valid"),
        np.convolve(e_part * cos_e / e_through, kernel, "valid"),
    )


def make() -> dict[str, FloatArray]:
    """All arrays of the file."""
    density, nodes, km = published()
    by_state = at_zenith(density, nodes, STATE_ZENITH_DEG, axis=1)
    foe = foe_of(by_state, km)
    d_strength, e_per_mhz2 = np.empty(foe.shape), np.empty(foe.shape)
    over_frequency = np.zeros(EFFECTIVE_MHZ.size)
    low, high = HEIGHT_KM <= D_TOP_KM + 1e-6, HEIGHT_KM >= D_TOP_KM - 1e-6
    for day in range(by_state.shape[0]):
        fine = finely(by_state[day])
        d_strength[day] = straight_up_db(fine, low, D_EFFECTIVE_MHZ)
        e_per_mhz2[day] = straight_up_db(fine, high, D_EFFECTIVE_MHZ) * D_EFFECTIVE_MHZ**2 / foe[day] ** 2
        unit = (fine / d_strength[day][..., None]).mean(axis=(0, 1, 2))
        over_frequency += [straight_up_db(unit, low, f) for f in EFFECTIVE_MHZ]
    log_f, log_loss = np.log(EFFECTIVE_MHZ), np.log(over_frequency)
    over_frequency = np.exp(log_loss - np.interp(np.log(D_EFFECTIVE_MHZ), log_f, log_loss))
    # the shape of the layers at each zenith angle: mean over season, latitude and activity
    shape = (density / foe_of(density, km)[..., None] ** 2).mean(axis=(0, 2, 3))
    shape = at_zenith(shape, nodes, SHARE_ZENITH_DEG, axis=0)
    shape /= foe_of(shape, km)[:, None] ** 2
    by_zenith = [shares(profile) for profile in finely(shape)]
    return {
        **axes(),
        "state_zenith_deg": STATE_ZENITH_DEG,
        "d_strength_db": d_strength.astype(np.float32),
        "e_db_per_mhz2": e_per_mhz2.astype(np.float32),
        "effective_mhz": EFFECTIVE_MHZ,
        "d_over_frequency": over_frequency,
        "share_zenith_deg": SHARE_ZENITH_DEG,
        "log_x": LOG_X,
        "d_share": np.array([d for d, _ in by_zenith], dtype=np.float16),
        "e_share": np.array([e for _, e in by_zenith], dtype=np.float16),
    }


def main() -> int:
    """Write the file and print its size."""
    np.savez_compressed(OUTPUT, **make())  # type: ignore[arg-type]
    print(f"{OUTPUT.name}: {OUTPUT.stat().st_size} bytes")
    return 0


if __name__ == "__main__":
    sys.exit(main())
