"""The common result of every kind of antenna: what it does on a frequency, and at which angles."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Final

import numpy as np

from propagation.antennas.feedline import line_loss_db
from propagation.antennas.spec import AntennaSpec, FeedlineSpec
from propagation.bands import band_of
from propagation.ground import Ground
from propagation.units import FloatArray, FloatLike, as_float, db, undb

PATTERN_ELEVATIONS_DEG: Final[FloatArray] = np.arange(91.0)  # deg above the horizon
GAIN_FLOOR_DBI: Final = -60.0  # dBi, where a pattern has a null; no real antenna has a deeper one
PRINTED_ELEVATIONS_DEG: Final = (5, 10, 20, 30, 60)


@dataclass(frozen=True)
class Pattern:
    """Gain on one frequency as a power ratio to isotropic, every loss of antenna and earth in.

    gain: shape (91, n), for elevations 0, 1 .. 90 deg and n azimuths evenly from 0 deg; n = 1 means the same
    all round.
    """

    gain: FloatArray

    @property
    def mean(self) -> FloatArray:
        """Mean over azimuth, in power; shape (91,)."""
        return np.asarray(self.gain.mean(axis=1))

    def efficiency(self) -> float:
        """Power into the sky over power in: the integral of gain over the upper half space / 4 pi."""
        elevation = np.deg2rad(PATTERN_ELEVATIONS_DEG)
        weighted = self.mean * np.cos(elevation)
        return float(np.sum((weighted[1:] + weighted[:-1]) * np.diff(elevation))) / 4.0


@dataclass(frozen=True)
class Solution:
    """What a kind of antenna works out on one frequency; resistances and reactances at the feed [ohm].

    feed_resistance_ohm + j reactance_ohm: impedance without the coil. radiation_resistance_ohm: the part of
    it that goes into the sky; ground_loss_ohm: the rest. coil_loss_ohm: the coil's own series resistance.
    tuned_resistance_ohm: what is left at the feed when the coil has tuned it, all losses in.
    slope_ohm: f dX/df of the tuned circuit, which sets the width of the match.
    """

    frequency_mhz: float
    pattern: Pattern
    efficiency: float
    radiation_resistance_ohm: float
    ground_loss_ohm: float
    reactance_ohm: float
    coil_loss_ohm: float = 0.0
    coil_uh: float | None = None
    tuned_resistance_ohm: float = 50.0
    slope_ohm: float = 0.0
    load_ohm: complex = 50.0  # what the feed line sees after the matching that belongs to the antenna
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class BandResult:
    """One frequency's answer, as `bandwhen antenna` prints it; None where a number has no meaning."""

    band: str | None
    frequency_mhz: float
    radiation_resistance_ohm: float
    coil_loss_ohm: float
    ground_loss_ohm: float
    reactance_ohm: float
    coil_uh: float | None
    efficiency: float
    efficiency_db: float
    feedline_loss_db: float
    gain_dbi: dict[str, float]
    swr_1p5_khz: float | None
    swr_2_khz: float | None
    radiated_w: float
    power_limit_w: float | None
    basis: str
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class Antenna:
    """An antenna set up over a kind of ground, ready to be asked; solutions are kept once computed."""

    spec: AntennaSpec
    ground: Ground
    feedline: FeedlineSpec
    power_w: float
    solver: Callable[[float], Solution]
    _known: dict[float, Solution] = field(default_factory=dict, repr=False, compare=False)

    def solution(self, frequency_mhz: float) -> Solution:
        """The solution on one frequency [MHz]."""
        key = round(float(frequency_mhz), 6)
        if key not in self._known:
            self._known[key] = self.solver(key)
        return self._known[key]

    def gain_dbi(
        self, frequency_mhz: FloatLike, elevation_deg: FloatLike, azimuth_deg: FloatLike | None = None
    ) -> FloatArray:
        """Gain [dBi] towards an elevation and azimuth [deg], coil and earth losses in, feed line not.

        The three broadcast. Azimuth None: mean over azimuth, in power. Below the horizon the gain at 0 deg.
        """
        frequency, elevation = as_float(frequency_mhz), as_float(elevation_deg)
        unique, where = np.unique(frequency, return_inverse=True)
        patterns = [self.solution(float(f)).pattern for f in unique]
        row = where.reshape(frequency.shape)
        lower = np.clip(np.floor(elevation), 0, 89).astype(np.int64)
        part = np.clip(elevation, 0.0, 90.0) - lower
        if azimuth_deg is None:
            level = _level_dbi(np.stack([pattern.mean for pattern in patterns]))
            row, lower, part = np.broadcast_arrays(row, lower, part)
            return as_float((1.0 - part) * level[row, lower] + part * level[row, lower + 1])
        level = _level_dbi(np.stack([pattern.gain for pattern in patterns]))
        count = level.shape[2]
        turn = np.mod(as_float(azimuth_deg), 360.0) * (count / 360.0)
        row, lower, part, turn = np.broadcast_arrays(row, lower, part, turn)
        left = np.floor(turn).astype(np.int64) % count
        right = (left + 1) % count
        aside = turn - np.floor(turn)
        low = (1.0 - aside) * level[row, lower, left] + aside * level[row, lower, right]
        high = (1.0 - aside) * level[row, lower + 1, left] + aside * level[row, lower + 1, right]
        return as_float((1.0 - part) * low + part * high)

    def radiation_efficiency(self, frequency_mhz: FloatLike) -> FloatArray:
        """Power into the sky over power in at the feed (0..1), coil and earth losses in."""
        frequency = as_float(frequency_mhz)
        flat = [self.solution(float(f)).efficiency for f in frequency.ravel()]
        return as_float(flat).reshape(frequency.shape)

    def on(self, frequency_mhz: float) -> BandResult:
        """Everything worth telling about one frequency [MHz]."""
        solution = self.solution(frequency_mhz)
        band = band_of(frequency_mhz)
        loss_db = float(line_loss_db(self.feedline, frequency_mhz, solution.load_ohm))
        gain = {
            str(elevation): round(float(self.gain_dbi(frequency_mhz, elevation)), 3)
            for elevation in PRINTED_ELEVATIONS_DEG
        }
        return BandResult(
            band=None if band is None else band.name,
            frequency_mhz=frequency_mhz,
            radiation_resistance_ohm=solution.radiation_resistance_ohm,
            coil_loss_ohm=solution.coil_loss_ohm,
            ground_loss_ohm=solution.ground_loss_ohm,
            reactance_ohm=solution.reactance_ohm,
            coil_uh=solution.coil_uh,
            efficiency=solution.efficiency,
            efficiency_db=float(db(solution.efficiency)),
            feedline_loss_db=loss_db,
            gain_dbi=gain,
            swr_1p5_khz=_width_khz(solution, 1.5),
            swr_2_khz=_width_khz(solution, 2.0),
            radiated_w=self.power_w * float(undb(-loss_db)) * solution.efficiency,
            power_limit_w=None,
            basis="model",
            notes=solution.notes,
        )


def _level_dbi(gain: FloatArray) -> FloatArray:
    return np.maximum(db(gain), GAIN_FLOOR_DBI)


def _width_khz(solution: Solution, swr: float) -> float | None:
    """Width between the two frequencies of that SWR [kHz], matched at the middle.

    (f / Q)(S - 1) / sqrt(S), Q = slope / (2 R): Yaghjian and Best, IEEE Trans. Antennas Propag. 53 (2005).
    """
    if solution.slope_ohm <= 0.0:
        return None
    quality = solution.slope_ohm / (2.0 * solution.tuned_resistance_ohm)
    return 1000.0 * solution.frequency_mhz / quality * (swr - 1.0) / float(np.sqrt(swr))
