"""Ledger of a contact: every gain and loss of the dominant mode, from the power to the required SNR.

The ledger applies to the weaker direction, which decides. The terms sum to the margin: the median SNR over
all days of the month, minus the required SNR. The last terms hold what the single mode does not include: the
other modes, and the days that are better or worse than the median day.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

import numpy as np

from propagation.advice.experience import Experience, experience
from propagation.advice.recompute import Computed, compute, one_cell
from propagation.base.units import FloatArray, db
from propagation.signal.chances.forecast import Forecast
from propagation.signal.chances.many_circuits import field_dbuv
from propagation.signal.losses import long_path
from propagation.signal.losses.circuit import Circuit
from propagation.signal.losses.event_loss import proton_share
from propagation.signal.losses.path_loss import LOSS_TERMS, above_muf_loss_db, low_angle_loss_db
from propagation.signal.losses.terminal_gains import LOW_RAYS_DEG
from propagation.signal.rays.causes import Cause
from propagation.signal.rays.ray_path_names import (
    GROUND_WAVE,
    LONG_PATH,
    SCATTER,
    ray_path_name,
)
from propagation.signal.rays.ray_paths import HAS_HIGH, HAS_LOW, IS_ES, TEMPLATES
from propagation.spectrum.noise import NoiseLevel
from propagation.station.terminals import Terminal, Terminals

TermName = Literal[
    "power",  # of the sender, over 1 W
    "antenna",  # its pattern at the angle, without losses
    "antenna losses",
    "feed line",
    "skyline",
    "free space",
    "absorption",  # in the D and E layers
    "flare",  # its absorption
    "polar cap",  # absorption by solar protons
    "E screening",
    "ground reflections",
    "auroral zone",
    "stretched hops",
    "focusing",
    "other losses",  # polarisation and all else
    "above the MUF",
    "above the E layer's MUF",
    "absorption along the path",  # the combined method's loss at the lower end of the range
    "highest frequency",  # and at the upper end
    "long-path losses",
    "scatter",
    "ground wave",
    "sporadic E",  # on the median day
    "not listed",
    "other modes",
    "other modes and long paths",
    "other days",
    "noise",
    "need",
]
# Cause that belongs to a reducible loss: at the operator's own end, or on the path.
CAUSE_OF: Final[dict[TermName, Cause]] = {
    "absorption": "absorption",
    "absorption along the path": "absorption",
    "flare": "flare",
    "polar cap": "polar cap",
    "E screening": "E screening",
    "auroral zone": "auroral zone",
    "above the MUF": "above the MUF",
    "above the E layer's MUF": "above the MUF",
    "highest frequency": "above the MUF",
    "antenna losses": "antenna",
    "feed line": "antenna",
    "skyline": "horizon",
}
_NAMES: Final[dict[str, TermName]] = {
    "free_space_db": "free space",
    "absorption_db": "absorption",
    "screening_db": "E screening",
    "bounce_db": "ground reflections",
    "auroral_db": "auroral zone",
    "stretch_db": "stretched hops",
    "other_db": "other losses",
}
EVENT_TERM: Final = "extra_absorption_db"  # the modes' loss by flares and protons
WORTH_NAMING_DB: Final = 1.0  # dB, a loss smaller than this is not worth naming (engine choice, no source)
TermEnd = Literal["", "here", "far end"]
SMALLEST_DB: Final = 0.0005  # dB, a term smaller than this is not listed: all together stay within 0.01 dB


@dataclass(frozen=True)
class Term:
    """One line: a gain is positive, a loss negative [dB]; `end`: whose antenna, line or skyline it is.

    parts: of an antenna's losses, where they arise, by the names of `BandResult.shares`.
    """

    name: TermName
    db: float
    end: TermEnd = ""
    parts: tuple[str, ...] = ()

    @property
    def cause(self) -> Cause | None:
        """Cause of the loss; None for a loss that cannot be reduced, or not from the operator's end."""
        return None if self.end == "far end" or self.db >= 0.0 else CAUSE_OF.get(self.name)


@dataclass(frozen=True)
class Ledger:
    """All terms in the order along the signal path; they sum to the margin.

    towards_far_end: whether the weaker direction is the one from home. mode: the dominant mode, "2F2".
    elevation_deg: its take-off angle, NaN where it has no meaning. snr_db: median SNR in 2500 Hz of that
    direction; need_db: the SNR required by the emission. power_w: of the sender. noise_level: man-made noise
    around the receiver, fam_db: its external noise figure. experience: how far the level can be trusted.
    """

    terms: tuple[Term, ...]
    towards_far_end: bool
    mode: str
    elevation_deg: float
    snr_db: float
    need_db: float
    power_w: float
    noise_level: NoiseLevel
    fam_db: float
    experience: Experience

    @property
    def margin_db(self) -> float:
        """Sum of all terms."""
        return float(sum(term.db for term in self.terms))

    def group(self, *names: TermName, end: TermEnd = "") -> float:
        """Sum of the terms of these names at an end [dB]."""
        return float(sum(term.db for term in self.terms if term.name in names and term.end == end))

    @property
    def could_be_less(self) -> tuple[Term, ...]:
        """Largest two of the losses that could be reduced."""
        losses = [term for term in self.terms if term.cause is not None and term.db <= -WORTH_NAMING_DB]
        return tuple(sorted(losses, key=lambda term: term.db)[:2])


def ledger(
    result: Forecast, terminals: Terminals, point: int, route: int, band: int, time: np.datetime64
) -> Ledger:
    """Compute the ledger of one cell; `time` need not be one of the forecast's."""
    found = compute(result, terminals, one_cell(point, route, band, [time]), keep_ray_paths=True)
    return ledger_of(found)


def ledger_of(found: Computed) -> Ledger:
    """Build the ledger of a computed single cell (one row, one time, modes kept)."""
    path, near, far = found.path, found.terminals.near, found.terminals.far
    there = float(found.there.median_snr_db[0, 0, 0])
    here = float(found.here.median_snr_db[0, 0, 0])
    outward = there <= here
    sender, receiver = (near, far) if outward else (far, near)
    mode = int(path.ray_path[0, 0, 0])
    assert path.ray_path_gain_db is not None
    mode_gain = float(path.ray_path_gain_db[0, 0, 0, mode])
    elevation = float(path.elevation_deg[0, 0, 0])

    antennas = _antennas(found, mode, elevation, outward)
    between = mode_gain - sum(term.db for term in antennas)
    losses = _losses_between(found, mode, between)
    median_gain = float(path.median_gain_db[0, 0, 0])
    one = found.there if outward else found.here
    noise = float(one.noise_dbw[0, 0, 0])
    snr = float(one.median_snr_db[0, 0, 0])
    power = float(db(sender.power_w))
    fam = float(np.broadcast_to(one.noise.fam_db, path.ray_path.shape)[0, 0, 0])
    between_methods = float(path.distance_km[0]) > long_path.START_KM and mode != LONG_PATH
    terms = [
        Term("power", power),
        *antennas,
        *losses,
        Term("other modes and long paths" if between_methods else "other modes", median_gain - mode_gain),
        Term("other days", snr - (power + median_gain - noise)),
        Term("noise", -noise),
        Term("need", -found.need_db),
    ]
    return Ledger(
        terms=tuple(term for term in terms if abs(term.db) >= SMALLEST_DB or term.name in ("power", "noise")),
        towards_far_end=outward,
        mode=ray_path_name(mode, int(path.low_hops[0, 0, 0]), int(path.high_hops[0, 0, 0])),
        elevation_deg=elevation,
        snr_db=snr,
        need_db=found.need_db,
        power_w=sender.power_w,
        noise_level=receiver.noise,
        fam_db=fam,
        experience=_experience(path, between + median_gain - mode_gain),
    )


def _experience(path: Circuit, gain_db: float) -> Experience:
    """Measured hours similar to those of the path; gain_db: gain of the path without the antennas."""
    f, zenith = float(path.frequency_mhz.flat[0]), path.samples.zenith_deg[0, 0]
    middle_deg = float(zenith[zenith.size // 2])
    return experience(float(path.distance_km[0]), f, middle_deg, float(field_dbuv(0.0, f, gain_db)))


def _antennas(found: Computed, mode: int, elevation: float, outward: bool) -> list[Term]:
    """Terms of both antennas at the angle of the mode, sender's first: gain, losses, feed line, skyline."""
    path = found.path
    f = path.frequency_mhz.reshape(1, 1, 1, 1)
    shape = (1, 1, 1, 1)
    bearing, far_bearing = path.bearing_deg.reshape(shape), path.case.route.far_bearing_deg.reshape(shape)
    here = _antenna_terms(found.terminals.near, f, mode, elevation, bearing, "here")
    there = _antenna_terms(found.terminals.far, f, mode, elevation, far_bearing, "far end")
    return [*here, *there] if outward else [*there, *here]


def _antenna_terms(
    end: Terminal, f: FloatArray, mode: int, elevation: float, az: FloatArray, where: TermEnd
) -> list[Term]:
    line = float(end.feedline_loss_db(f).item())
    hidden = 0.0
    if mode == GROUND_WAVE:
        total = float(end.ground_wave_gain_dbi(f[0], az[0]).item())
    elif mode == LONG_PATH:
        rays = np.asarray(LOW_RAYS_DEG)
        hides = np.broadcast_to(low_angle_loss_db(rays + 3.0, end.horizon_deg(az)), (1, 1, 1, rays.size))
        gains = np.broadcast_to(end.gain_dbi(f, rays, az), (1, 1, 1, rays.size))
        best = int(np.argmax(gains - hides))
        total, hidden = float(gains[..., best].item()), float(hides[..., best].item())
    else:
        angle = np.full((1, 1, 1, 1), np.clip(elevation, 0.5, 90.0))
        total = float(end.gain_dbi(f, angle, az).item())
        if mode != SCATTER:
            flat = np.full((1, 1, 1, 1), elevation)
            hidden = float((low_angle_loss_db(flat, end.horizon_deg(az)) - low_angle_loss_db(flat)).item())
    loss = 0.0
    parts: tuple[str, ...] = ()
    if end.antenna is not None:
        parts = end.antenna.losses_in(float(f.flat[0]))
        loss = -float(db(end.antenna.radiation_efficiency(f)).item())
    bare = total + line + loss  # the pattern alone, and the offset learnt from a log at this end
    terms = [
        Term("antenna", bare, where),
        Term("antenna losses", -loss, where, parts),
        Term("feed line", -line, where),
        Term("skyline", -hidden, where),
    ]
    return [term for term in terms if term.db != 0.0]


def _losses_between(found: Computed, mode: int, between_db: float) -> list[Term]:
    """Losses of the dominant mode between the antennas; they sum to `between_db`."""
    path = found.path
    f = float(path.frequency_mhz.flat[0])
    if mode < len(TEMPLATES) and path.losses is not None:
        terms = _mode_losses(found, mode)
    elif mode == LONG_PATH and path.combined is not None:
        terms = [*_combined_losses(path.combined, f), *_event_terms(found, float(path.extra_db[0, 0, 0]))]
    elif mode == SCATTER:
        terms = [Term("scatter", between_db)]
    else:
        terms = [Term("ground wave", between_db)]
    rest = between_db - sum(term.db for term in terms)
    by_es = mode < len(TEMPLATES) and bool(IS_ES[mode])
    return [*terms, Term("sporadic E" if by_es else "not listed", rest)]


def _mode_losses(found: Computed, mode: int) -> list[Term]:
    losses = found.path.losses
    assert losses is not None
    shape = np.broadcast_shapes(*(np.shape(getattr(losses, name)) for name in LOSS_TERMS))

    def pick(values: FloatArray) -> float:
        return float(np.broadcast_to(values, shape)[0, 0, 0, mode])

    terms = []
    for name in LOSS_TERMS:
        taken = pick(getattr(losses, name))
        terms += _event_terms(found, taken) if name == EVENT_TERM else [Term(_NAMES[name], -taken)]
    f = float(found.path.frequency_mhz.flat[0])
    if bool(HAS_HIGH[mode]):
        over = f / max(float(losses.f2_muf_mhz[0, 0, mode]), 0.05)
        edged = 1.0 + (over - 1.0) * float(losses.edge[0, 0, mode])
        lost = above_muf_loss_db(edged, "F2", max(int(found.path.high_hops[0, 0, 0]), 1))
        terms.append(Term("above the MUF", -float(lost)))
    e_muf = float(losses.e_muf_mhz[0, 0, mode])
    if bool(HAS_LOW[mode]) and not bool(IS_ES[mode]) and np.isfinite(e_muf):
        over = f / max(e_muf, 0.05)
        terms.append(Term("above the E layer's MUF", -float(above_muf_loss_db(over, "E"))))
    return terms


def _event_terms(found: Computed, taken_db: float) -> list[Term]:
    """Flare part and solar proton part of a loss by both."""
    by_protons = float(proton_share(found.path.samples)[0, 0]) * taken_db
    return [Term("flare", by_protons - taken_db), Term("polar cap", -by_protons)]


def _combined_losses(path: long_path.LongPath, f: float) -> list[Term]:
    """Field of the combined method as a free-space loss and the losses at either end of its range."""
    e0 = float(path.e0_db[0])
    frequency = np.array([[[f]]])
    absorbed = float(path.absorbed_db(frequency).item())
    field = float(path.field_db(frequency).item())
    focus = float(path.focus_db[0])
    free = (e0 - 34.8) - long_path.FIELD_TO_LOSS_DB - 20.0 * float(np.log10(f))
    rest = long_path.FIELD_CONSTANT_DB + 34.8 + long_path.OTHER_GAIN_DB
    above = field - (e0 - absorbed + long_path.FIELD_CONSTANT_DB + long_path.OTHER_GAIN_DB + focus)
    return [
        Term("free space", free),
        Term("absorption along the path", -absorbed),
        Term("highest frequency", above),
        Term("focusing", focus),
        Term("long-path losses", rest),
    ]
