"""Physical constants used throughout the engine."""

from __future__ import annotations

from typing import Final

EARTH_RADIUS_KM: Final = 6371.0  # km, mean radius of the Earth (IUGG mean radius, rounded)
SPEED_OF_LIGHT_M_PER_S: Final = 299_792_458.0  # m/s, exact (SI definition)
ELECTRON_CHARGE_C: Final = 1.602_176_634e-19  # C, exact (SI definition)
ELECTRON_MASS_KG: Final = 9.109_383_7e-31  # kg (CODATA 2018, rounded)
VACUUM_PERMITTIVITY_F_PER_M: Final = 8.854_187_8e-12  # F/m (CODATA 2018, rounded)
FREE_SPACE_IMPEDANCE_OHM: Final = 376.730_313  # ohm (CODATA 2018, rounded)
BOLTZMANN_DBW_PER_HZ: Final = -204.0  # dBW/Hz, k T0 at T0 = 288 K, as P.372 uses it (from memory)
E_LAYER_HEIGHT_KM: Final = 110.0  # km, mirror height of the E layer (P.533, from memory)
D_LAYER_HEIGHT_KM: Final = 100.0  # km, height of the absorption in P.533 (from memory)
F2_FIELD_HEIGHT_KM: Final = 300.0  # km, height of the magnetic field in P.1239 and P.1240 (from memory)
