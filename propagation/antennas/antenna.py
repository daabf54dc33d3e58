"""An antenna set up over a ground: its gain at an angle, its efficiency, and its figures on one band."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace
from typing import Final

import numpy as np

from propagation.antennas import measurements
from propagation.antennas.coil import power_limit_w
from propagation.antennas.feedline import AtRig, at_rig, spent_db
from propagation.antennas.solution import BandResult, Pattern, Solution
from propagation.antennas.spec import VERTICALS, AntennaSpec, FeedlineSpec, Measurement, cautions
from propagation.base.two_workers import by_two
from propagation.base.units import FloatArray, FloatLike, IntArray, as_float, db, undb
from propagation.geo.ground import Ground
from propagation.spectrum.bands import band_of
from propagation.spectrum.modes import Mode

GAIN_FLOOR_DBI: Final = -60.0  # dBi, where a pattern has a null; no real antenna has a deeper one
SLIGHT: Final = 0.005  # share of the power; a smaller loss is not named (ours)
PRINTED_ELEVATIONS_DEG: Final = (5, 10, 20, 30, 60)


@dataclass(frozen=True)
class Antenna:
    """Antenna set up over a kind of ground; solutions are cached once computed."""

    spec: AntennaSpec
    ground: Ground
    feedline: FeedlineSpec
    power_w: float
    mode: Mode
    solver: Callable[[float], Solution]
    _known: dict[float, Solution] = field(default_factory=dict, repr=False, compare=False)

    def solution(self, frequency_mhz: float) -> Solution:
        """The solution on one frequency [MHz]."""
        key = round(float(frequency_mhz), 6)
        if key not in self._known:
            solution = self.solver(key)
            measured = self.measurement(key)
            self._known[key] = solution if measured is None else _as_measured(solution, measured)
        return self._known[key]

    def solutions(self, frequencies_mhz: Iterable[float]) -> list[Solution]:
        """The solutions on several frequencies [MHz].

        Unknown ones are computed two at a time, since numpy releases the interpreter's lock; the highest
        frequency, with the most segments, first.
        """
        wanted = [float(frequency) for frequency in frequencies_mhz]
        new = {key for key in (round(one, 6) for one in wanted) if key not in self._known}
        if len(new) > 1:
            by_two(self.solution, sorted(new, reverse=True))
        return [self.solution(one) for one in wanted]

    def measurement(self, frequency_mhz: float) -> Measurement | None:
        """The measurement of this antenna that applies to a frequency [MHz]; None where there is none."""
        return measurements.in_use(self.spec, frequency_mhz)

    def gain_dbi(
        self, frequency_mhz: FloatLike, elevation_deg: FloatLike, azimuth_deg: FloatLike | None = None
    ) -> FloatArray:
        """Gain [dBi] towards an elevation and azimuth [deg], with coil and ground losses, without feed line.

        The three broadcast. Azimuth None: mean over azimuth, in power. Below the horizon the gain at 0 deg.
        """
        frequency, elevation = as_float(frequency_mhz), as_float(elevation_deg)
        unique, where = np.unique(frequency, return_inverse=True)
        patterns = [solution.pattern for solution in self.solutions(unique)]
        row = where.reshape(frequency.shape)
        held = np.clip(elevation, 0.0, 90.0)
        lower = np.minimum(held, 89.0).astype(np.int64)
        part = held - lower.astype(held.dtype)
        if azimuth_deg is None:
            level = _level_dbi(np.stack([pattern.mean for pattern in patterns])).astype(held.dtype)
            return _between_degrees(level, row * level.shape[1] + lower, 1, part)
        level = _level_dbi(np.stack([pattern.gain for pattern in patterns])).astype(held.dtype)
        count = level.shape[2]
        turn = np.mod(as_float(azimuth_deg), 360.0) * (count / 360.0)
        left = np.floor(turn).astype(np.int64) % count
        at = (row * level.shape[1] + lower) * count
        low, high = (
            _between_degrees(level, at + azimuth, count, part) for azimuth in (left, (left + 1) % count)
        )
        return as_float(low + (high - low) * (turn - np.floor(turn)).astype(held.dtype))

    def radiation_efficiency(self, frequency_mhz: FloatLike) -> FloatArray:
        """Power into the sky over power into the feed (0..1), with coil and ground losses."""
        frequency = as_float(frequency_mhz)
        flat = [solution.efficiency for solution in self.solutions(frequency.ravel())]
        return as_float(flat).reshape(frequency.shape)

    def losses_in(self, frequency_mhz: float) -> tuple[str, ...]:
        """Parts that lose power on a frequency [MHz], by the names of `BandResult.shares`."""
        solution = self.solution(frequency_mhz)
        return tuple(name for name, share in _shares(solution).items() if name != "sky" and share > SLIGHT)

    def at_rig(self, frequency_mhz: float) -> AtRig:
        """The feed line into the antenna on one frequency [MHz], from the rig."""
        return at_rig(self.feedline, frequency_mhz, self.solution(frequency_mhz).load_ohm)

    def spent_db(self, frequency_mhz: float) -> float:
        """Loss between rig and antenna [dB]: the line's, and the rig's where there is said to be no tuner."""
        return float(spent_db(self.feedline, frequency_mhz, self.solution(frequency_mhz).load_ohm))

    def on(self, frequency_mhz: float, mode: Mode | None = None) -> BandResult:
        """Figures of the antenna on one frequency [MHz]; mode: of the power limit, if not its own."""
        solution = self.solution(frequency_mhz)
        band = band_of(frequency_mhz)
        seen = self.at_rig(frequency_mhz)
        loss_db, swr = float(seen.loss_db), float(seen.swr)
        gain = {
            str(elevation): round(float(self.gain_dbi(frequency_mhz, elevation)), 3)
            for elevation in PRINTED_ELEVATIONS_DEG
        }
        slope_ohm = None if solution.slope is None else solution.slope()
        notes = list(solution.notes)
        aside = measurements.set_aside(self.spec, frequency_mhz)
        notes.extend(measurements.set_aside_words(one, self.spec) for one in aside)
        notes.extend(_assumed(self.spec, solution))
        if self.spec.kind in VERTICALS:
            notes.extend(cautions(self.spec, self.feedline.choke))
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
            swr_1p5_khz=width_khz(solution, slope_ohm, self.feedline.impedance_ohm, 1.5),
            swr_2_khz=width_khz(solution, slope_ohm, self.feedline.impedance_ohm, 2.0),
            radiated_w=self.power_w * float(undb(-self.spent_db(frequency_mhz))) * solution.efficiency,
            power_limit_w=power_limit_w(self.spec, solution, mode or self.mode, loss_db),
            basis=solution.basis,
            feed_resistance_ohm=solution.tuned_resistance_ohm,
            connection_ohm=None if solution.ground_loss_ohm is None else solution.connection_ohm,
            circuit_efficiency=_circuit_efficiency(solution),
            feed_ohm=_feed_ohm(solution),
            swr=None if solution.tuned_resistance_ohm is None else swr,
            tuner_saves_db=None if solution.tuned_resistance_ohm is None else float(seen.foldback_db),
            whip_m=solution.whip_m,
            tuning=solution.tuning,
            matched=solution.matched,
            series_pf=solution.series_pf,
            series_v=_series_v(solution, self.power_w * float(undb(-loss_db))),
            dip_khz_per_cm=_dip_khz_per_cm(solution, slope_ohm),
            longer_m=solution.longer_m,
            longer_db=solution.longer_db,
            longer_swr=solution.longer_swr,
            longer_pf=solution.longer_pf,
            takeoff_deg=self.spec.takeoff_deg,
            in_range=solution.in_range,
            shares=_shares(solution),
            notes=tuple(notes),
        )


def _assumed(spec: AntennaSpec, solution: Solution) -> tuple[str, ...]:
    """Notes that the match is assumed, and the loss of the connections: neither given nor measured."""
    told = []
    if solution.matched and spec.base_match is None and spec.kind in VERTICALS:
        told.append(
            "A tap or shunt coil at the base is assumed to match the coil-loaded whip; set base_match = "
            "false if there is none."
        )
    if spec.kind in VERTICALS and spec.connection_ohm is None and solution.basis != "measured":
        told.append(
            f"Connections (plugs, slider, joints, clamps): {spec.connection_loss_ohm:g} ohm are assumed. An "
            f"analyser's reading of a band replaces that; or set connection_ohm."
        )
    return tuple(told)


def _shares(solution: Solution) -> dict[str, float]:
    return {
        "sky": solution.efficiency,
        "coil": solution.coil_share,
        "earth": _earth_share(solution),
        "connections": solution.connection_share,
        "other": solution.other_share,
        "unexplained": solution.unexplained_share,
    }


def _feed_ohm(solution: Solution) -> dict[str, float] | None:
    """The resistance at the feed by its parts, without a transformer's loss, which arises behind it."""
    total = solution.tuned_resistance_ohm
    if total is None:
        return None
    whole = total / (1.0 - solution.other_share)
    parts = {name: share * whole for name, share in _shares(solution).items() if name != "other"}
    return {"radiation": parts.pop("sky"), **parts}


def _series_v(solution: Solution, power_w: float) -> float | None:
    """Peak voltage across the series capacitor [V] for a peak-envelope power at the feed [W]."""
    resistance = solution.tuned_resistance_ohm
    if solution.series_pf is None or resistance is None:
        return None
    reactance = 1.0e6 / (2.0 * np.pi * solution.frequency_mhz * solution.series_pf)
    return float(reactance * np.sqrt(2.0 * power_w / resistance))


def _dip_khz_per_cm(solution: Solution, slope_ohm: float | None) -> float | None:
    """Move of the dip [kHz] for one centimetre more of the radiator: -f (dX/dl) / (f dX/df)."""
    per_m = solution.reactance_per_m_ohm
    if per_m is None or slope_ohm is None or slope_ohm <= 0.0:
        return None
    return float(-1000.0 * solution.frequency_mhz * 0.01 * per_m / slope_ohm)


def _earth_share(solution: Solution) -> float:
    elsewhere = solution.coil_share + solution.connection_share
    elsewhere += solution.other_share + solution.unexplained_share
    return max(0.0, 1.0 - solution.efficiency - elsewhere)


def _circuit_efficiency(solution: Solution) -> float | None:
    if solution.mirror is None or solution.tuned_resistance_ohm is None:
        return None
    return min(1.0, solution.mirror() / solution.tuned_resistance_ohm)


def _level_dbi(gain: FloatArray) -> FloatArray:
    return np.maximum(db(gain), GAIN_FLOOR_DBI)


def _between_degrees(level: FloatArray, at: IntArray, step: int, part: FloatArray) -> FloatArray:
    """Levels at flat places and a part of the way to those `step` further on, one degree higher."""
    low, high = level.take(at), level.take(at + step)
    return as_float(low + (high - low) * part)


def width_khz(solution: Solution, slope_ohm: float | None, line_ohm: float, swr: float) -> float | None:
    """Width between the two frequencies of an SWR [kHz]; 0 where there is no dip, or none so deep.

    Matched at the middle: (f / Q)(S - 1) / sqrt(S), Q = slope / (2 R), Yaghjian and Best, IEEE Trans.
    Antennas Propag. 53 (2005) 1298. Fed directly: a load of r line_ohm at the dip has
    the SWR at the normalised reactance x^2 = (S - r)(r - 1 / S), exact for a single resonance.
    """
    resistance = solution.tuned_resistance_ohm
    if slope_ohm is None or resistance is None:
        return None
    load = complex(solution.load_ohm)
    if abs(load.imag) > load.real or slope_ohm <= 0.0:  # far from resonance, or near one in parallel
        return 0.0
    if solution.matched:
        reactance = resistance * (swr - 1.0) / np.sqrt(swr)
    else:
        r = resistance / line_ohm
        reactance = line_ohm * np.sqrt(max((swr - r) * (r - 1.0 / swr), 0.0))
    return float(2000.0 * solution.frequency_mhz * reactance / slope_ohm)


def _as_measured(solution: Solution, measured: Measurement) -> Solution:
    """The solution with the measured total series resistance in place of the computed one.

    The radiation resistance stays as computed; the rest of the measured resistance is loss. Coil and ground
    come first. Further loss belongs to the connections up to the amount assumed for these; the rest is
    unexplained. A loss below that of coil and ground reduces both in proportion. A line without a match is
    loaded by the measured resistance.
    """
    total, sky = solution.tuned_resistance_ohm, solution.radiation_resistance_ohm
    if total is None or sky is None:
        return replace(solution, basis="measured")
    radiating = solution.efficiency * total
    found = max(measured.total_resistance_ohm, radiating)
    sure = total - solution.connection_ohm
    beyond = max(found - sure, 0.0)
    joints = min(solution.connection_ohm, beyond)
    unexplained = (beyond - joints) / found
    left = min(1.0, (found - radiating) / max(sure - radiating, 1e-9)) * total / found
    ground_loss_ohm = solution.ground_loss_ohm
    if ground_loss_ohm is not None:
        ground_loss_ohm += joints - solution.connection_ohm
    load = complex(solution.load_ohm)
    when = f" on {measured.date}" if measured.date else ""
    note = f"Measured{when}: {measured.total_resistance_ohm:.1f} ohm in series"
    if unexplained > 1e-9:
        note += f", of which {unexplained * found:.1f} ohm are {measurements.UNEXPLAINED}"
    return replace(
        solution,
        pattern=Pattern(solution.pattern.gain * (total / found)),
        efficiency=radiating / found,
        ground_loss_ohm=ground_loss_ohm,
        connection_ohm=joints,
        tuned_resistance_ohm=found,
        load_ohm=load if solution.matched else complex(load.real * found / total, load.imag),
        coil_share=solution.coil_share * left,
        connection_share=joints / found,
        other_share=solution.other_share * left,
        unexplained_share=unexplained,
        basis="measured",
        notes=(*solution.notes, f"{note}.", *measurements.diagnosis(measured.total_resistance_ohm / total)),
    )
