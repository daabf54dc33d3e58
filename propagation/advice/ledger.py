"""The ledger of a contact: every gain and loss of the dominant way, from the power to what the mode needs.

It stands for the weaker direction, the one that decides. The terms sum to the margin: the median SNR over all
days of the month, less the need. The last terms gather what the single way does not hold: the other ways
beside it, and the days that are better or worse than the median day.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from propagation.advice.cells import Computed, Ends, compute, one_cell
from propagation.base.units import FloatArray, db
from propagation.signal import long_path
from propagation.signal.forecast import Forecast
from propagation.signal.mode_chains import HAS_HIGH, HAS_LOW, IS_ES, SLOTS
from propagation.signal.path_loss import LOSS_TERMS, above_muf_loss_db, low_angle_loss_db
from propagation.signal.path_modes import GROUND_WAVE_MODE, LONG_PATH_MODE, SCATTER_MODE, path_mode_name
from propagation.signal.terminal_gains import LOW_RAYS_DEG
from propagation.station.terminals import Terminal

_NAMES: Final[dict[str, str]] = {
    "free_space_db": "free space",
    "absorption_db": "absorption in the D and E layers",
    "extra_absorption_db": "flare and polar cap",
    "screening_db": "E layer before the F2 layer",
    "bounce_db": "reflections at the ground",
    "auroral_db": "auroral zone",
    "low_angle_db": "ray close to the horizon",
    "stretch_db": "hops stretched to their limit",
    "focusing_db": "focusing by the curved layers",
    "other_db": "polarisation and all else",
}
SMALLEST_DB: Final = 0.0005  # dB, a term smaller than this is not listed: all together stay within 0.01 dB


@dataclass(frozen=True)
class Term:
    """One line: a gain is positive, a loss negative [dB]; `note` says more of it."""

    name: str
    db: float
    note: str = ""


@dataclass(frozen=True)
class Ledger:
    """All terms in the order in which the signal meets them; they sum to the margin.

    towards_far_end: whether the weaker direction is the one from home. way: the dominant way. elevation_deg:
    its take-off angle, NaN where it means nothing. snr_db: median SNR in 2500 Hz of that direction.
    """

    terms: tuple[Term, ...]
    towards_far_end: bool
    way: str
    elevation_deg: float
    snr_db: float
    need_db: float

    @property
    def margin_db(self) -> float:
        """Sum of all terms."""
        return float(sum(term.db for term in self.terms))

    @property
    def direction(self) -> str:
        """The direction spoken of, in words."""
        return "from here to the far end" if self.towards_far_end else "from the far end to here"

    def group(self, *names: str) -> float:
        """Sum of the terms of these names [dB]."""
        return float(sum(term.db for term in self.terms if term.name in names))


def ledger(result: Forecast, ends: Ends, point: int, route: int, band: int, time: np.datetime64) -> Ledger:
    """The ledger of one cell; `time` need not be one of the forecast's."""
    found = compute(result, ends, one_cell(point, route, band, [time]), keep_modes=True)
    return ledger_of(found)


def ledger_of(found: Computed) -> Ledger:
    """The ledger of a computed single cell (one row, one time, modes kept)."""
    path, near, far = found.path, found.ends.near, found.ends.far
    there = float(found.there.median_snr_db[0, 0, 0])
    here = float(found.here.median_snr_db[0, 0, 0])
    outward = there <= here
    sender, receiver = (near, far) if outward else (far, near)
    way = int(path.path_mode[0, 0, 0])
    assert path.mode_gain_db is not None
    way_gain = float(path.mode_gain_db[0, 0, 0, way])
    elevation = float(path.elevation_deg[0, 0, 0])

    antennas = _antennas(found, way, elevation, outward)
    between = way_gain - sum(term.db for term in antennas)
    losses = _way_losses(found, way, between)
    median_gain = float(path.median_gain_db[0, 0, 0])
    one = found.there if outward else found.here
    noise = float(one.noise_dbw[0, 0, 0])
    snr = float(one.median_snr_db[0, 0, 0])
    power = float(db(sender.power_w))
    fam = float(np.broadcast_to(one.noise.fam_db, path.path_mode.shape)[0, 0, 0])
    where = "far end" if outward else "home"
    between_methods = float(path.distance_km[0]) > long_path.START_KM and way != LONG_PATH_MODE
    beside = "other ways, and the method for long paths" if between_methods else "other ways beside it"
    terms = [
        Term("power", power, f"{sender.power_w:g} W, over 1 W"),
        *antennas,
        *losses,
        Term(beside, median_gain - way_gain),
        Term("days unlike the median day", snr - (power + median_gain - noise)),
        Term("noise", -noise, f"at the {where}, {receiver.noise}; external noise figure {fam:.0f} dB"),
        Term("what the mode needs", -found.need_db, f"{found.need_db:+.1f} dB in 2500 Hz"),
    ]
    return Ledger(
        tuple(term for term in terms if abs(term.db) >= SMALLEST_DB or term.name in ("power", "noise")),
        outward,
        path_mode_name(way, int(path.low_hops[0, 0, 0]), int(path.high_hops[0, 0, 0])),
        elevation,
        snr,
        found.need_db,
    )


def _antennas(found: Computed, way: int, elevation: float, outward: bool) -> list[Term]:
    """Both antennas at the angle of the way, sender's first: bare gain, losses, feed line, skyline."""
    path = found.path
    f = path.frequency_mhz.reshape(1, 1, 1, 1)
    terms: list[list[Term]] = []
    for end, azimuth, where in (
        (found.ends.near, path.bearing_deg, "here"),
        (found.ends.far, path.case.route.far_bearing_deg, "at the far end"),
    ):
        az = azimuth.reshape(1, 1, 1, 1)
        terms.append(_antenna_terms(end, f, way, elevation, az, where))
    return [*terms[0], *terms[1]] if outward else [*terms[1], *terms[0]]


def _antenna_terms(
    end: Terminal, f: FloatArray, way: int, elevation: float, az: FloatArray, where: str
) -> list[Term]:
    line = float(end.feedline_loss_db(f).item())
    hidden = 0.0
    if way == GROUND_WAVE_MODE:
        total = float(end.ground_wave_gain_dbi(f[0], az[0]).item())
    elif way == LONG_PATH_MODE:
        rays = np.asarray(LOW_RAYS_DEG)
        hides = np.broadcast_to(low_angle_loss_db(rays + 3.0, end.horizon_deg(az)), (1, 1, 1, rays.size))
        gains = np.broadcast_to(end.gain_dbi(f, rays, az), (1, 1, 1, rays.size))
        best = int(np.argmax(gains - hides))
        total, hidden = float(gains[..., best].item()), float(hides[..., best].item())
    else:
        angle = np.full((1, 1, 1, 1), np.clip(elevation, 0.5, 90.0))
        total = float(end.gain_dbi(f, angle, az).item())
        if way != SCATTER_MODE:
            flat = np.full((1, 1, 1, 1), elevation)
            hidden = float((low_angle_loss_db(flat, end.horizon_deg(az)) - low_angle_loss_db(flat)).item())
    loss = 0.0
    if end.antenna is not None:
        loss = -float(db(end.antenna.radiation_efficiency(f)).item())
    bare = total + line + loss  # the pattern alone, and what a log has taught about this end
    angle_note = f"at {elevation:.0f}° take-off" if np.isfinite(elevation) and way != GROUND_WAVE_MODE else ""
    terms = [
        Term(f"antenna {where}, without losses", bare, angle_note),
        Term(f"losses of the antenna {where}", -loss, "coil and earth"),
        Term(f"feed line {where}", -line),
        Term(f"skyline {where}", -hidden),
    ]
    return [term for term in terms if term.db != 0.0]


def _way_losses(found: Computed, way: int, between_db: float) -> list[Term]:
    """The losses of the dominant way between the antennas; they sum to `between_db`."""
    path = found.path
    f = float(path.frequency_mhz.flat[0])
    if way < len(SLOTS) and path.losses is not None:
        terms = _mode_losses(found, way)
    elif way == LONG_PATH_MODE and path.combined is not None:
        terms = _combined_losses(path.combined, f)
    elif way == SCATTER_MODE:
        terms = [Term("scatter back into the skip zone", between_db)]
    else:
        terms = [Term("along the ground", between_db)]
    rest = between_db - sum(term.db for term in terms)
    by_es = way < len(SLOTS) and bool(IS_ES[way])
    return [*terms, Term("sporadic E, on the median day" if by_es else "not listed", rest)]


def _mode_losses(found: Computed, way: int) -> list[Term]:
    losses = found.path.losses
    assert losses is not None
    shape = np.broadcast_shapes(*(np.shape(getattr(losses, name)) for name in LOSS_TERMS))

    def pick(values: FloatArray) -> float:
        return float(np.broadcast_to(values, shape)[0, 0, 0, way])

    terms = [
        Term(_NAMES.get(name, name.removesuffix("_db").replace("_", " ")), -pick(getattr(losses, name)))
        for name in LOSS_TERMS
    ]
    f = float(found.path.frequency_mhz.flat[0])
    if bool(HAS_HIGH[way]):
        over = f / max(float(losses.f2_operational_mhz[0, 0, way]), 0.05)
        terms.append(Term("above the MUF", -float(above_muf_loss_db(over, "F2")), "F2 layer"))
    e_muf = float(losses.e_muf_mhz[0, 0, way])
    if bool(HAS_LOW[way]) and not bool(IS_ES[way]) and np.isfinite(e_muf):
        over = f / max(e_muf, 0.05)
        terms.append(Term("above the E layer's MUF", -float(above_muf_loss_db(over, "E"))))
    return terms


def _combined_losses(way: long_path.LongPath, f: float) -> list[Term]:
    """The combined method's field as a free-space loss and what is lost at either end of its range."""
    e0 = float(way.e0_db[0])
    frequency = np.array([[[f]]])
    absorbed = float(way.absorbed_db(frequency).item())
    field = float(way.field_db(frequency).item())
    focus = float(way.focus_db[0])
    free = (e0 - 34.8) - long_path.FIELD_TO_LOSS_DB - 20.0 * float(np.log10(f))
    rest = long_path.FIELD_CONSTANT_DB + 34.8 + long_path.OTHER_GAIN_DB
    above = field - (e0 - absorbed + long_path.FIELD_CONSTANT_DB + long_path.OTHER_GAIN_DB + focus)
    return [
        Term("free space", free),
        Term("absorption along the path", -absorbed),
        Term("towards the highest frequency", above),
        Term("focusing by the curved layers", focus),
        Term("other losses of long paths", rest),
    ]
