"""The other half of a vertical: its radials or counterpoise, raised or on the ground, as wires."""

from __future__ import annotations

from typing import Final

import numpy as np

from propagation.antennas.spec import AntennaSpec
from propagation.antennas.thin_wire import Wire
from propagation.antennas.wire_antenna import WIRE_PIECES_PER_WAVE, pieces, wavelength_m

# Height of the axis of a radial laid on the ground [m] (ours): an insulated wire of 2 to 3 mm that touches
# the soil here and there. It decides how slow the wave on the wire is, and so how near a quarter-wave radial
# comes to a half-wave resonance, where few radials lose most. What supports it, all by other hands: a
# velocity factor of about 0.5 on wires laid on soil (handbooks, quoted second hand; 0.55 follows here over
# average earth, 0.74 at 2 cm), a field test of 4 to 60 radials, and the buried ones of Brown, Lewis and
# Epstein (fixtures/antenna/ground_systems.csv). A wire held up by grass has its own radial_height_m.
LYING_HEIGHT_M: Final = 0.003
SAID_TO_LIE_M: Final = 0.02  # m; radials with ends up to this height are said to lie on the ground (ours)
CLEAR_HEIGHT_M: Final = 0.02  # m; ends of other wires, and a cable's, are computed no lower (ours)
# What a mount itself gives to work against where no radials are laid: wires, length of each [m]. A railing is
# a wire to either side; a car's body acts like a star of short wires at roof height; anything else leaves the
# outside of the coaxial cable. Coarse, common practice.
_MOUNT_COUNTERPOISE: Final[dict[str, tuple[int, float]]] = {"railing": (2, 2.0), "vehicle": (8, 1.8)}
_CABLE_COUNTERPOISE_M: Final = 3.7  # m of cable, running down to the ground
QUARTER_WAVE: Final = 0.25  # wavelengths, where no length is given


def radial_length_m(spec: AntennaSpec, frequency_mhz: float) -> float:
    """Length of each radial [m]: as given, else a quarter wave."""
    return QUARTER_WAVE * wavelength_m(frequency_mhz) if spec.radial_m is None else spec.radial_m


def lying_height_m(spec: AntennaSpec) -> float:
    """Height of a radial's axis on the ground [m]; a thick one lies two of its radii up.

    Thin-wire theory does not hold for a conductor nearer to the earth than its own thickness.
    """
    return max(LYING_HEIGHT_M, 2.0 * spec.radial_radius_mm / 1000.0)


def counterpoise(spec: AntennaSpec, frequency_mhz: float, hub_height_m: float) -> Wire:
    """The radials as one wire and its copies, from the hub outwards; the first points to `azimuth_deg`.

    Without radials: what the mount gives, else the outside of the cable running down to the ground.
    """
    number, length, end_height = spec.radials, radial_length_m(spec, frequency_mhz), spec.radial_end_height_m
    if number == 0:
        if spec.mount in _MOUNT_COUNTERPOISE:
            number, length = _MOUNT_COUNTERPOISE[spec.mount]
            end_height = hub_height_m
        else:
            number, length, end_height = 1, _CABLE_COUNTERPOISE_M, CLEAR_HEIGHT_M
    end_height = max(end_height, lying_height_m(spec))
    drop = float(np.clip(hub_height_m - end_height, -0.95 * length, 0.95 * length))
    reach = float(np.sqrt(length**2 - drop**2))
    azimuth = np.deg2rad(spec.azimuth_deg)
    return Wire(
        start=(0.0, 0.0, hub_height_m),
        end=(reach * float(np.sin(azimuth)), reach * float(np.cos(azimuth)), hub_height_m - drop),
        radius_m=spec.radial_radius_mm / 1000.0,
        segments=pieces(length, frequency_mhz, WIRE_PIECES_PER_WAVE, 8),
        copies=number,
    )


def cautions(spec: AntennaSpec, choke: bool) -> tuple[str, ...]:
    """What to say about few radials and the current on the cable."""
    told: list[str] = []
    if spec.radials == 0 and spec.mount not in _MOUNT_COUNTERPOISE:
        told.append(
            "No radials: the outside of the cable is the other half of the antenna; the figures are rough."
        )
    if spec.radials < 4 and not choke:
        told.append(
            "Few radials and no choke: current will flow on the outside of the cable; fit a choke at the "
            "antenna end."
        )
    if spec.radials in (1, 2) and spec.radial_end_height_m > SAID_TO_LIE_M:
        told.append("One or two raised radials favour some directions; keep people and animals off them.")
    return tuple(told)
