"""Ground under the antenna: named kinds of ground, their electrical constants, and Fresnel reflection.

Time convention exp(j w t): a lossy ground has a complex relative permittivity eps - j sigma / (w eps0).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal, get_args

import numpy as np
import numpy.typing as npt

from propagation.base.constants import VACUUM_PERMITTIVITY_F_PER_M
from propagation.base.errors import InputError
from propagation.base.units import FloatLike, as_float, cosd, sind

ComplexArray = npt.NDArray[np.complex128]

GroundName = Literal["sea", "wet", "good", "average", "dry", "city"]
GROUND_NAMES: Final[tuple[GroundName, ...]] = get_args(GroundName)


# The least that is earth (ours): snow and the driest sand have a permittivity of about 2, ice and dry rock
# some 1e-5 S/m (from memory). Below lies empty space, which reflects nothing: no path by the ground is left.
LEAST_PERMITTIVITY: Final = 2.0  # [1]
LEAST_CONDUCTIVITY_S_PER_M: Final = 1.0e-6  # S/m


@dataclass(frozen=True)
class Ground:
    """A kind of earth: relative permittivity [1], conductivity [S/m]; infinite conductivity is a mirror.

    Raises InputError for constants that no earth has.
    """

    name: str
    permittivity: float
    conductivity_s_per_m: float

    def __post_init__(self) -> None:
        if not self.perfect and not LEAST_PERMITTIVITY <= self.permittivity <= 1000.0:
            raise InputError(
                f"ground: permittivity {self.permittivity:g} is outside {LEAST_PERMITTIVITY:g} to 1000: that "
                "of empty space is 1, of the driest sand about 2; average earth is 13"
            )
        if not self.conductivity_s_per_m >= LEAST_CONDUCTIVITY_S_PER_M:
            raise InputError(
                f"ground: conductivity_s_per_m {self.conductivity_s_per_m:g} is below "
                f"{LEAST_CONDUCTIVITY_S_PER_M:f} S/m: every earth conducts a little, dry rock about "
                "0.00001; average earth is 0.005"
            )

    @property
    def perfect(self) -> bool:
        """Whether this is the ideal conducting plane of the textbooks."""
        return bool(np.isinf(self.conductivity_s_per_m))

    def complex_permittivity(self, frequency_mhz: FloatLike) -> ComplexArray:
        """Complex relative permittivity eps - j sigma / (w eps0) [1], in the shape of `frequency_mhz` [MHz].

        sigma / (w eps0) = 17975 sigma / f (f in MHz): the definition, often rounded to 18000 sigma / f.
        """
        omega = 2.0e6 * np.pi * as_float(frequency_mhz)
        loss = self.conductivity_s_per_m / (omega * VACUUM_PERMITTIVITY_F_PER_M)
        return np.asarray(self.permittivity - 1j * loss, dtype=np.complex128)

    def reflection(
        self, frequency_mhz: FloatLike, elevation_deg: FloatLike
    ) -> tuple[ComplexArray, ComplexArray]:
        """Fresnel coefficients (rho_v, rho_h) of a plane wave; see `fresnel`."""
        if self.perfect:
            shape = np.broadcast_shapes(np.shape(frequency_mhz), np.shape(elevation_deg))
            return np.ones(shape, dtype=np.complex128), -np.ones(shape, dtype=np.complex128)
        return fresnel(self.complex_permittivity(frequency_mhz), elevation_deg)


# Relative permittivity and conductivity. Sea, wet, average and dry as Recommendations P.832 and P.527 group
# them (values from memory); good and city as the antenna handbooks list them (from memory).
GROUNDS: Final[dict[str, Ground]] = {
    "sea": Ground("sea", 80.0, 5.0),  # sea water of mean salinity
    "wet": Ground("wet", 30.0, 0.03),  # marsh, wet ground, fresh water's edge
    "good": Ground("good", 20.0, 0.03),  # rich farmland, low hills
    "average": Ground("average", 13.0, 0.005),  # pasture, medium hills, woods
    "dry": Ground("dry", 5.0, 0.001),  # sand, rock, dry uplands
    "city": Ground("city", 3.0, 0.001),  # built over, industrial
}
PERFECT: Final = Ground("perfect", 1.0, float("inf"))  # the ideal plane of the textbooks, for checks


def ground_of(
    name: str | None = None, permittivity: float | None = None, conductivity_s_per_m: float | None = None
) -> Ground:
    """Return the ground by its name, or by explicit constants; average ground if neither is given.

    Raises InputError for an unknown name, or when only one of the two constants is given.
    """
    if permittivity is not None or conductivity_s_per_m is not None:
        if permittivity is None or conductivity_s_per_m is None:
            raise InputError("ground: give permittivity and conductivity_s_per_m together, or a name")
        return Ground("as given", permittivity, conductivity_s_per_m)
    if name is None:
        return GROUNDS["average"]
    found = GROUNDS.get(name.strip().lower())
    if found is None:
        raise InputError(f"ground: {name!r} is not known; use one of {', '.join(GROUND_NAMES)}")
    return found


def fresnel(permittivity: ComplexArray, elevation_deg: FloatLike) -> tuple[ComplexArray, ComplexArray]:
    """Fresnel reflection coefficients of a plane wave on flat ground.

    permittivity: complex relative permittivity [1]; elevation_deg: angle above the horizon [deg]; the two
    broadcast. Returns (rho_v, rho_h). rho_v applies to the field in the plane of incidence; it is +1 over a
    perfect mirror (a vertical current and its image flow the same way). rho_h applies to the field across
    that plane; it is -1 over a perfect mirror. Both are -1 at grazing incidence over real ground. Source: any
    text on electromagnetics (Snell and Fresnel); the form of Recommendation P.527, from memory.
    """
    sine = sind(elevation_deg)
    root = np.sqrt(permittivity - cosd(elevation_deg) ** 2)
    rho_v = (permittivity * sine - root) / (permittivity * sine + root)
    rho_h = np.asarray((sine - root) / (sine + root), dtype=np.complex128)
    return rho_v, rho_h
