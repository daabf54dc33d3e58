"""Safety of people: distance at which the fields fall below the public's reference level, and cautions.

The estimate is the far-field one of the amateur exposure tables: power density S = 2.56 EIRP / (4 pi d^2).
The factor is 1.6^2 for a ground that adds to the field (United States FCC, OET Bulletin 65, from memory).
EIRP includes the mean power over the mode's duty cycle, the line's loss and the coil's heat. The loss in the
ground is not subtracted, since it arises farther out. Reference levels for the general public: ICNIRP
Guidelines 1998 (from memory); those of 2020 are no stricter between 1 and 148 MHz (from memory). Local rules
decide.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from propagation.antennas.solution import Solution
from propagation.antennas.spec import VERTICALS, AntennaSpec
from propagation.base.constants import FREE_SPACE_IMPEDANCE_OHM, SPEED_OF_LIGHT_M_PER_S
from propagation.base.units import FloatArray, FloatLike, as_float, undb
from propagation.spectrum.modes import Mode

GROUND_REFLECTION: Final = 2.56  # 1.6 squared, OET Bulletin 65 (from memory)
SHORT_DIPOLE_DBI: Final = 1.76  # dBi, free space (theory)
HALF_WAVE_DBI: Final = 2.15  # dBi, free space (theory)
LONG_WIRE_DBI: Final = 5.0  # dBi, free space, wires of one to three waves (from memory, rounded up)
LONG_WHIP_WAVES: Final = 0.3  # wavelengths of a whip, beyond which it counts as a long wire (ours)
BEAM_DBI: Final = (6.0, 7.5, 9.0, 10.0)  # dBi, free space, 2, 3, 4, 5 and more elements (from memory)


@dataclass(frozen=True)
class Exposure:
    """Distance to keep from the antenna [m], and the figures that it is based on.

    near_field_m: within this distance (a sixth of a wavelength) the far-field formula is only indicative.
    """

    distance_m: float
    eirp_mean_w: float
    reference_w_per_m2: float
    near_field_m: float
    said: tuple[str, ...]


def reference_level_w_per_m2(frequency_mhz: FloatLike) -> FloatArray:
    """Power density [W/m2] equivalent to the public's reference level of the electric field.

    ICNIRP 1998, from memory: 87 V/m below 1 MHz, 87 / sqrt(f) V/m from 1 to 10 MHz, 28 V/m (2 W/m2) from 10
    to 400 MHz, in the shape of `frequency_mhz`.
    """
    frequency = as_float(frequency_mhz)
    field = 87.0 / np.sqrt(np.clip(frequency, 1.0, 10.0))
    return as_float(np.where(frequency < 10.0, field**2 / FREE_SPACE_IMPEDANCE_OHM, 2.0))


def compliance_distance_m(eirp_mean_w: FloatLike, reference_w_per_m2: FloatLike) -> FloatArray:
    """Distance [m] at which S falls to the reference: sqrt(2.56 EIRP / (4 pi S))."""
    return as_float(
        np.sqrt(GROUND_REFLECTION * as_float(eirp_mean_w) / (4.0 * np.pi * as_float(reference_w_per_m2)))
    )


def _free_space_dbi(spec: AntennaSpec, frequency_mhz: float, whip_m: float | None) -> float:
    """Greatest gain of a kind of antenna that is computed from its dimensions."""
    if spec.kind == "yagi":
        return BEAM_DBI[min(spec.elements, 5) - 2]
    if spec.kind == "isotropic":
        return 0.0
    wave = SPEED_OF_LIGHT_M_PER_S / (1.0e6 * frequency_mhz)
    if spec.kind in VERTICALS:
        return SHORT_DIPOLE_DBI if whip_m is None or whip_m < LONG_WHIP_WAVES * wave else LONG_WIRE_DBI
    return HALF_WAVE_DBI if spec.length_m is None or spec.length_m < 0.75 * wave else LONG_WIRE_DBI


def exposure(
    spec: AntennaSpec, solution: Solution, power_w: float, mode: Mode, line_loss_db: float
) -> Exposure:
    """The distance to keep for a power at the rig [W, peak envelope], a mode and a line loss [dB]."""
    # an assumed loss of the connections must not shorten the distance, so it is not counted as loss
    heat = (solution.coil_share + solution.other_share) / (1.0 - solution.connection_share)
    kept = 1.0 - heat
    at_feed = power_w * mode.duty_cycle * float(undb(-line_loss_db))
    if spec.kind == "table":
        gain = max(float(solution.pattern.gain.max()), 1e-6)
    else:
        gain = float(undb(_free_space_dbi(spec, solution.frequency_mhz, solution.whip_m)))
    eirp = at_feed * kept * gain
    reference = float(reference_level_w_per_m2(solution.frequency_mhz))
    near = SPEED_OF_LIGHT_M_PER_S / (2.0e6 * np.pi * solution.frequency_mhz)
    distance = float(compliance_distance_m(eirp, reference))
    said = []
    if distance < near:
        said.append(
            "In the near field of a short antenna, within a sixth of a wavelength, the field is stronger "
            "than this formula gives: keep people well beyond that distance, or measure the field."
        )
    said.append(
        "The distance is estimated by the far-field formula with ground reflection; your local rules decide."
    )
    return Exposure(distance, eirp, reference, near, tuple(said))


def lossless_distance_m(spec: AntennaSpec, power_w: float, mode: Mode, frequency_mhz: float) -> float:
    """The distance to keep [m] without any loss in line and antenna, from the description alone.

    It is at least that of `exposure`. spec: of a kind that is computed from its dimensions.
    """
    eirp = power_w * mode.duty_cycle * float(undb(_free_space_dbi(spec, frequency_mhz, spec.longest_m)))
    return float(compliance_distance_m(eirp, reference_level_w_per_m2(frequency_mhz)))


def safety(spec: AntennaSpec) -> tuple[str, ...]:
    """Rules for setting up (common practice)."""
    told = [
        "Look up first: no mast, wire or whip where it, or anything it may fall on, can reach a power line.",
        "If you hear thunder, disconnect, lower the antenna and move away.",
        "Mark wires and guys at ankle and neck height; people do not see them.",
    ]
    if spec.kind in ("loaded vertical", "vertical", "sloping end-fed"):
        told.append(
            "Nobody touches the radiator or the radials while sending: there are kilovolts on a loaded whip."
        )
    return tuple(told)
