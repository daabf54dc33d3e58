"""Effects of flares, proton events and the widened auroral zone on a path.

Every effect can be switched off, and in quiet conditions each is exactly nothing: 0.0 dB, or the latitude
that was given. The storm's effect on foF2 is in `geomagnetic_activity`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from propagation.base.units import FloatArray, FloatLike, as_float, cosd

ORDINARY_XRAY_W_M2: Final = (
    1e-6  # W/m2, class C1: up to it the median absorption already holds the X-rays' share
)
HAF_OFFSET_MHZ: Final = 65.0  # MHz, from memory of the public space weather service's documentation
FLARE_W_M2: Final = 1e-5  # W/m2, class M1, from which the public scale of radio blackouts counts (R1)
X1_W_M2: Final = 1e-4  # W/m2, class X1
X1_RIOMETER_DB: Final = 1.7  # dB, one passage straight up under the sun in an X1 (`flare_absorption_db`)
RIOMETER_MHZ: Final = 30.0  # MHz, of riometers
ZENITH_POWER: Final = 1.125  # of the cosine of the zenith angle, as 1.5 times that of the frequency of 1 dB
MOST_XRAY_W_M2: Final = 1e-2  # W/m2, class X100, over which a map is not believed (ours)
FLARE_DECAY_MINUTES: Final = 20.0  # min, a fading flare's X-rays fall by e (order of magnitude, from memory)
PROTON_BACKGROUND_PFU: Final = 1.0  # pfu above 10 MeV, below which the polar cap is as it always is
SCALE_FROM_PFU: Final = 10.0  # pfu above 10 MeV, from which the public scale of storms counts (S1)
PROTON_SLOPE: Final = 1.5  # flux above an energy falls with energy to this power (common practice, no source)
OVAL_CENTRE_DEG: Final = 65.0  # deg geomagnetic, where P.533's auroral losses are greatest (from memory)
OVAL_DEG_PER_KP: Final = 2.0  # deg equatorward for each unit of Kp (Gussenhoven et al. 1983, from memory)
ORDINARY_KP: Final = 2.0  # field of the auroral loss table (common practice, no source)


@dataclass(frozen=True)
class Effects:
    """Which disturbances the forecast takes into account."""

    storm: bool = True
    flare: bool = True
    aurora: bool = True
    polar_cap: bool = True
    layer: bool = True  # today's layer as it was measured


NO_EFFECTS: Final = Effects(storm=False, flare=False, aurora=False, polar_cap=False, layer=False)


def xray_class(xray_w_m2: float) -> str:
    """The class of an X-ray flux (1-8 Å) [W/m2]: 2.3e-5 is "M2.3"; below A1 "A0.5"."""
    for letter, unit in (("X", 1e-4), ("M", 1e-5), ("C", 1e-6), ("B", 1e-7)):
        if xray_w_m2 >= 0.9995 * unit:
            return f"{letter}{xray_w_m2 / unit:.1f}"
    return f"A{xray_w_m2 / 1e-8:.1f}"


def xray_of_class(text: str) -> float | None:
    """X-ray flux [W/m2] of a class such as "M2.3"; None if it is not one."""
    units = {"A": 1e-8, "B": 1e-7, "C": 1e-6, "M": 1e-5, "X": 1e-4}
    letter, number = text.strip()[:1].upper(), text.strip()[1:] or "1"
    try:
        value = float(number)
    except ValueError:
        return None
    return value * units[letter] if letter in units and 0.0 <= value < 1000.0 else None


def proton_scale(proton_pfu: float) -> str:
    """The public storm scale of a proton flux above 10 MeV [pfu]: "S3" from 1000; empty under 10."""
    steps = int(np.log10(max(proton_pfu, 1.0)) + 1e-9)
    return f"S{min(steps, 5)}" if steps >= 1 else ""


def highest_affected_mhz(xray_w_m2: FloatLike, zenith_deg: FloatLike = 0.0) -> FloatArray:
    """Frequency [MHz] that loses 1 dB vertically in a flare, by the public maps of absorption.

    xray_w_m2: 1-8 Å flux [W/m2]; zenith_deg: solar zenith angle [deg]; both broadcast. 10 log F + 65 under
    the sun (M1 15 MHz, X1 25 MHz), falling with cos^0.75 of the zenith angle, 0 at night. From memory of the
    public space weather service's D-region absorption documentation. It serves to read those maps: the
    absorption itself is measured to be stronger (`flare_absorption_db`).
    """
    with np.errstate(divide="ignore"):
        subsolar = 10.0 * np.log10(np.maximum(as_float(xray_w_m2), 0.0)) + HAF_OFFSET_MHZ
    return as_float(np.maximum(subsolar, 0.0) * np.maximum(cosd(zenith_deg), 0.0) ** 0.75)


def flare_absorption_db(
    frequency_mhz: FloatLike, zenith_deg: FloatLike, xray_w_m2: FloatLike, sec_i: FloatLike = 1.0
) -> FloatArray:
    """Extra absorption [dB] of one hop (both its passages of the D region) by a flare; all broadcast.

    Two passages of 1.7 dB sqrt(F / X1) cos^1.125 chi (30 / f)^1.5, times sec i, less the same for class C1,
    whose X-rays the median absorption already holds: so an ordinary sun gives exactly 0.0. frequency_mhz
    [MHz], zenith_deg [deg] where the ray crosses the D region, xray_w_m2 [W/m2], sec_i: secant of the angle
    of incidence there.

    The size is that of riometers (cosmic noise through one passage): 1 to 2.6 dB at 30 to 32.5 MHz
    in Finland in the X-class flares of 4 to 10 September 2017 (Barta et al. 2024, Remote Sensing 16, 3975,
    abstract and conclusions), where the public service's relation, (HAF / f)^1.5 with `highest_affected_mhz`,
    was found low in general, and low against vertical sounders at 2.5 and 4 MHz almost always. Classes and
    hours of those flares (X2.2 at 09:10, X9.3 at 12:02 UTC on the 6th) are from memory; with them 1.7 dB
    gives 1.0 to 2.5 dB there, the public relation 0.4 to 0.6. Low too for an X2.1 against riometers in Canada
    (Fiori, Chakraborty and Nikitina 2022, J. Atmos. Sol.-Terr. Phys. 230, 105843, abstract). Against it:
    radio noise at 8 to 20 MHz fell by only 4.4 dB for an X1, in the median of all radars, sun heights and
    flares, ill correlated ones among them (Berngardt et al. 2017, arXiv 1709.01259, abstract).
    The root of the flux is that of an electron density at which recombination balances ionisation (physics);
    the powers of cosine and frequency are the public relation's (from memory). The same radars measured the
    power of the frequency as 1.6 (Berngardt et al. 2019, arXiv 1812.08878, abstract).
    """
    over_x1 = np.maximum(as_float(xray_w_m2), 0.0) / X1_W_M2
    ordinary = np.sqrt(ORDINARY_XRAY_W_M2 / X1_W_M2)
    over_ordinary = np.maximum(np.sqrt(over_x1) - ordinary, 0.0)
    height = np.maximum(cosd(zenith_deg), 0.0) ** ZENITH_POWER
    passages_db = 2.0 * X1_RIOMETER_DB * over_ordinary * height
    return as_float(passages_db * (RIOMETER_MHZ / as_float(frequency_mhz)) ** 1.5 * as_float(sec_i))


def mapped_xray_w_m2(highest_mhz: FloatLike, zenith_deg: FloatLike) -> FloatArray:
    """X-ray flux [W/m2] for which the public maps give a frequency at a sun's height; both broadcast.

    `highest_affected_mhz` the other way round; 0 by night and where the map has none, class X100 at most.
    """
    height = np.maximum(cosd(zenith_deg), 0.0) ** 0.75
    lit = height > 0.0
    subsolar = as_float(highest_mhz) / np.where(lit, height, 1.0)
    level = np.minimum(0.1 * (subsolar - HAF_OFFSET_MHZ), np.log10(MOST_XRAY_W_M2))
    return as_float(np.where(lit & (as_float(highest_mhz) > 0.0), 10.0**level, 0.0))


def mapped_cap_absorption_db(
    frequency_mhz: FloatLike,
    zenith_deg: FloatLike,
    highest_mhz: FloatLike,
    xray_w_m2: FloatLike,
    sec_i: FloatLike = 1.0,
) -> FloatArray:
    """Extra absorption [dB] of one hop by protons where a map gives the frequency that loses 1 dB; all
    broadcast.

    (highest / f)^1.5 times sec i, less what the map shows of the sun's X-rays [W/m2], class C1 at least;
    never under 0.
    """
    frequency = as_float(frequency_mhz)
    xray = np.maximum(as_float(xray_w_m2), ORDINARY_XRAY_W_M2)
    by_sun = (highest_affected_mhz(xray, zenith_deg) / frequency) ** 1.5
    extra = (as_float(highest_mhz) / frequency) ** 1.5 - by_sun
    return as_float(np.maximum(extra, 0.0) * as_float(sec_i))


def fading_xray_w_m2(latest_w_m2: FloatLike, minutes_later: FloatLike) -> FloatArray:
    """X-ray flux [W/m2] some minutes after the last measurement, if the flare fades as most do; both
    broadcast.

    Falls by e in 20 minutes, to class C1 and not below it. An order of magnitude: long flares last hours.
    """
    latest = as_float(latest_w_m2)
    floor = np.minimum(latest, ORDINARY_XRAY_W_M2)
    faded = latest * np.exp(-np.maximum(as_float(minutes_later), 0.0) / FLARE_DECAY_MINUTES)
    return as_float(np.maximum(faded, floor))


def polar_cap_absorption_db(
    frequency_mhz: FloatLike,
    zenith_deg: FloatLike,
    geomagnetic_latitude_deg: FloatLike,
    kp: FloatLike,
    proton_pfu: FloatLike,
    sec_i: FloatLike = 1.0,
) -> FloatArray:
    """Absorption [dB] of one passage of the D region by solar protons; all broadcast.

    Day 0.115 sqrt J(>5.2 MeV), night 0.020 sqrt J(>2.2 MeV) dB at 30 MHz (Sauer and Wilkinson 2008), linear
    between zenith angles 80 and 100 deg, falling with f^-1.5; J scaled from the flux above 10 MeV
    [proton_pfu]. Poleward of 65 deg geomagnetic in a quiet field and 60 deg at Kp 6, over an edge 4 deg wide.
    All from memory: a caution rather than a forecast. Exactly 0.0 below 1 pfu.
    """
    flux = as_float(proton_pfu)
    flux = np.where(flux >= PROTON_BACKGROUND_PFU, flux, 0.0)
    day_db = 0.115 * np.sqrt(flux * (10.0 / 5.2) ** PROTON_SLOPE)
    night_db = 0.020 * np.sqrt(flux * (10.0 / 2.2) ** PROTON_SLOPE)
    night_share = np.clip((as_float(zenith_deg) - 80.0) / 20.0, 0.0, 1.0)
    edge_deg = 65.0 - 5.0 * np.clip(as_float(kp), 0.0, 6.0) / 6.0
    inside = np.clip((np.abs(as_float(geomagnetic_latitude_deg)) - edge_deg) / 4.0 + 0.5, 0.0, 1.0)
    at_30_mhz = day_db + night_share * (night_db - day_db)
    return as_float(inside * at_30_mhz * (30.0 / as_float(frequency_mhz)) ** 1.5 * as_float(sec_i))


def auroral_boundary_deg(kp: FloatLike, magnetic_hour: FloatLike = 23.0) -> FloatArray:
    """Equatorward edge of the auroral oval [deg geomagnetic latitude] at a magnetic local hour; both
    broadcast.

    67 deg less 2 deg for each unit of Kp in the hour before midnight, 7 deg farther poleward at its noon. The
    linear form in Kp is Gussenhoven, Hardy and Heinemann's (1983); digits from memory.
    """
    day_side = 0.5 * (1.0 + cosd(15.0 * (as_float(magnetic_hour) - 11.0)))
    return as_float(67.0 - OVAL_DEG_PER_KP * np.clip(as_float(kp), 0.0, 9.0) + 7.0 * day_side)


def widened_latitude_deg(geomagnetic_latitude_deg: FloatLike, kp: FloatLike) -> FloatArray:
    """The latitude at which to read an auroral loss table made for an ordinary field; both broadcast.

    The oval widens towards the equator by 2 deg for each unit of Kp above 2: a place equatorward of its
    centre meets the loss of a place that much nearer to it. Latitudes poleward of the centre, and all at Kp 2
    or less, come back unchanged. Common practice, no source.
    """
    latitude, k = np.broadcast_arrays(as_float(geomagnetic_latitude_deg), as_float(kp))
    shift = OVAL_DEG_PER_KP * np.maximum(k - ORDINARY_KP, 0.0)
    poleward = np.minimum(np.abs(latitude) + shift, OVAL_CENTRE_DEG)
    moved = (shift > 0.0) & (np.abs(latitude) < OVAL_CENTRE_DEG)
    return np.where(moved, np.copysign(poleward, latitude), latitude)
