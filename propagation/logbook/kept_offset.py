"""Station offset learnt from a log: an offset in dB per band, its uncertainty, and its file.

The file is next to the station file and can be read, switched off and deleted by hand. An offset is positive
where the station does better than its model. It acts on both directions through `Terminal.offset_db`. It is
not applied to another antenna or ground than the one it was learnt with.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from hashlib import sha256
from pathlib import Path
from typing import Any, Final, Literal, cast

import numpy as np

from propagation.base.errors import InputError
from propagation.base.files import is_file, locked, reason_of
from propagation.base.strict_toml import (
    between,
    build,
    check_names,
    convert,
    keys_of,
    parse,
    read_text,
    values,
    write_atomically,
    written,
)
from propagation.base.units import FloatArray, FloatLike, as_float
from propagation.spectrum.bands import BANDS
from propagation.station.station import Station
from propagation.station.terminals import Terminal, own_terminal

LARGEST_DB: Final = 42.0  # dB, no offset beyond it can be learnt or read
WORTH_TELLING_DB: Final = 2.0  # dB, a smaller offset is not reported (ours)
SURE_FROM: Final = 1.5  # standard deviations from zero at which an offset is worth a remark (ours)
RADIALS_TO_MHZ: Final = 11.0  # MHz, below it radials and coil decide most of a short vertical's loss (ours)
USED_ENOUGH: Final = 0.25  # of the prior's variance that must be removed before a band is reported (ours)
COMMON_SD_DB: Final = 4.5  # dB, prior of the part of the offset common to all bands (ours)
BAND_SD_DB: Final = 4.0  # dB, prior of a band's own part (ours)
PRIOR_SD_DB: Final = float(np.hypot(COMMON_SD_DB, BAND_SD_DB))  # dB, both together: 6.0
LEAST_REMOVED: Final = 0.2  # of the prior's variance counted as removed by one-sided evidence (ours)
MOST_MOVED: Final = 2.5  # largest offset, times the root of the variance removed by the evidence (ours)
FEWEST_REPORTS: Final = 2  # usable reports needed; a single one shows one other station's antenna (ours)
VHF_MHZ: Final = 30.0  # MHz, above it an offset learnt below does not apply


NoLesson = Literal[
    "no reports", "one report", "too few", "at bound"
]  # reason why nothing is learnt from a log


@dataclass(frozen=True)
class LearntBand:
    """One band: offset and standard deviation [dB], and the number of entries with evidence on it."""

    band: str
    offset_db: float = field(metadata=between(-LARGEST_DB, LARGEST_DB))
    sd_db: float = field(metadata=between(0.0, LARGEST_DB))
    count: int = field(default=0, metadata=between(0, None))

    @property
    def at_bound(self) -> bool:
        """Whether the evidence asked for a larger offset than can be learnt: then nothing is learnt."""
        return bool(abs(self.offset_db) >= largest_offset_db(self.sd_db) - 0.02 and self.offset_db)


def largest_offset_db(sd_db: FloatLike) -> FloatArray:
    """Largest offset [dB] that evidence of such a posterior deviation [dB] can give; any shape."""
    taken = np.maximum(PRIOR_SD_DB**2 - as_float(sd_db) ** 2, LEAST_REMOVED * PRIOR_SD_DB**2)
    return as_float(MOST_MOVED * np.sqrt(taken))


@dataclass(frozen=True)
class Learnt:
    """Station offset and its data.

    bands: those with evidence of their own. elsewhere_db, elsewhere_sd_db: for the other bands below 30 MHz,
    from the common part of the bands. entries, used: number of entries in the log, and of entries with
    evidence. days: number of days. first, last: of the log; date: when it was learnt. setup: mark of the
    antenna it belongs to. on: whether the forecast uses it.
    """

    bands: tuple[LearntBand, ...] = ()
    elsewhere_db: float = field(default=0.0, metadata=between(-LARGEST_DB, LARGEST_DB))
    elsewhere_sd_db: float = field(default=0.0, metadata=between(0.0, LARGEST_DB))
    entries: int = field(default=0, metadata=between(0, None))
    used: int = field(default=0, metadata=between(0, None))
    days: int = field(default=0, metadata=between(0, None))
    first: str = ""
    last: str = ""
    date: str = ""
    setup: str = ""
    on: bool = True

    def of_band(self, name: str) -> LearntBand:
        """Offset of a band: its own, or the common part of the bands; none at VHF without its own."""
        for one in self.bands:
            if one.band == name:
                return LearntBand(name, 0.0, one.sd_db, one.count) if one.at_bound else one
        low = next(band.widest_mhz[0] for band in BANDS if band.name == name)
        if low > VHF_MHZ or not self.bands:
            return LearntBand(name, 0.0, 0.0)
        other = LearntBand(name, self.elsewhere_db, self.elsewhere_sd_db)
        return LearntBand(name, 0.0, 0.0) if other.at_bound else other

    def offset_db(self, frequency_mhz: FloatArray) -> FloatArray:
        """Offset [dB] at frequencies of any shape: that of the band nearest in frequency."""
        frequency = as_float(frequency_mhz)
        centres = np.array([np.sqrt(np.prod(band.widest_mhz)) for band in BANDS])
        offsets = np.array([self.of_band(band.name).offset_db for band in BANDS])
        turns = np.sqrt(centres[:-1] * centres[1:])
        return as_float(offsets[np.searchsorted(turns, frequency)])

    def fits(self, station: Station) -> bool:
        """Return whether it was learnt with this antenna, feed line and ground."""
        return not self.setup or self.setup == setup_mark(station)

    def applied(self, end: Terminal, station: Station) -> Terminal:
        """Add the offset to the station's end; unchanged where it is off or belongs to another antenna."""
        if not self.on or not self.fits(station) or not self.bands:
            return end
        return replace(end, offset_db=self.offset_db)


def taught_terminal(station: Station, learnt: Learnt | None) -> Terminal:
    """Operator's end with the learnt offset: used in place of `terminals.own_terminal`."""
    end = own_terminal(station)
    return end if learnt is None else learnt.applied(end, station)


def setup_mark(station: Station) -> str:
    """Short mark of antenna, feed line, ground and noise: equal marks, equal setups.

    The place is no part of it.
    """
    site = station.site
    parts = (
        station.antenna,
        station.feedline,
        site.ground,
        site.permittivity,
        site.conductivity_s_per_m,
        site.noise_level if site.noise_level.is_measured else site.noise,
    )
    return sha256(repr(parts).encode()).hexdigest()[:12]


def dumps(learnt: Learnt) -> str:
    """Text of the file."""
    lines = [
        "# What this station's log has taught: decibels over (or under) the model, by band.",
        "# Made by 'bandwhen review --learn'. Set on = false to leave it out; delete the file to forget it.",
    ]
    lines += [f"{key} = {written(getattr(learnt, key))}" for key in keys_of(Learnt, ("bands",))]
    for one in learnt.bands:
        lines += ["", "[[band]]", *(f"{key} = {written(getattr(one, key))}" for key in keys_of(LearntBand))]
    return "\n".join(lines) + "\n"


def loads(text: str, where: str = "what was learnt") -> Learnt:
    """Read the offset from the file's text; InputError, with file and key, for any fault in it."""
    data = parse(text, where)
    check_names(data, [*keys_of(Learnt, ("bands",)), "band"], where)
    arguments: dict[str, Any] = values(Learnt, data, where, skip=("bands",), also=("band",))
    if "band" in data:
        bands = convert(tuple[LearntBand, ...], data["band"], f"{where}: band")
        known = [band.name for band in BANDS]
        for one in bands:
            check_names([one.band], known, f"{where}: [[band]]", "band")
        arguments["bands"] = bands
    return cast(Learnt, build(Learnt, arguments, where))


def load(path: Path | str) -> Learnt | None:
    """Load the file; None where there is no file."""
    return loads(read_text(path), str(path)) if is_file(path) else None


def save(learnt: Learnt, path: Path | str) -> None:
    """Write the file, whole or not at all, locked against other programs; bands at the bound are left out."""
    sure = tuple(one for one in learnt.bands if not one.at_bound)
    with locked(path):
        write_atomically(path, dumps(replace(learnt, bands=sure)))


def switch(path: Path | str, on: bool | None = None) -> Learnt | None:
    """Switch the stored offset on, off, or to the other state (None); return it, if there is any."""
    if not is_file(path):
        return None
    with locked(path):
        kept = load(path)
        if kept is not None:
            kept = replace(kept, on=not kept.on if on is None else on)
            write_atomically(path, dumps(kept))
    return kept


def forget(path: Path | str) -> bool:
    """Delete the file; False where there was none."""
    if not is_file(path):
        return False
    try:
        with locked(path):
            Path(path).unlink(missing_ok=True)
    except OSError as error:
        raise InputError(f"{str(path)!r} cannot be removed: {reason_of(error)}.") from None
    return True


def worth_telling(learnt: Learnt) -> tuple[LearntBand, ...]:
    """Bands on which the log and the model differ significantly."""
    return tuple(
        one
        for one in learnt.bands
        if not one.at_bound
        and abs(one.offset_db) >= WORTH_TELLING_DB
        and abs(one.offset_db) >= SURE_FROM * one.sd_db
    )


def all_worse(learnt: Learnt) -> bool:
    """Return whether every band does worse than the model, three of them significantly.

    Then the cause is likely common to all bands.
    """
    low = [one for one in learnt.bands if one.offset_db <= -WORTH_TELLING_DB]
    return len(worth_telling(learnt)) >= 3 and len(low) == len(learnt.bands)


def by_radials(band: str, station: Station) -> bool:
    """Return whether radials and coil decide most of the loss on a band."""
    vertical = station.antenna.radials > 0 and "vertical" in station.antenna.kind
    return vertical and next(b.widest_mhz[0] for b in BANDS if b.name == band) < RADIALS_TO_MHZ


def known(learnt: Learnt) -> tuple[LearntBand, ...]:
    """Bands with enough evidence to be reported."""
    return tuple(one for one in learnt.bands if one.sd_db**2 <= (1.0 - USED_ENOUGH) * PRIOR_SD_DB**2)


def agreeing(bands: Sequence[LearntBand]) -> list[tuple[LearntBand, ...]]:
    """Bands in groups whose offsets agree within their uncertainty; each group in the order given."""
    groups: list[list[LearntBand]] = []
    for one in sorted(bands, key=lambda band: band.offset_db):
        first = groups[-1][0] if groups else None
        if first is not None and one.offset_db - first.offset_db <= np.hypot(first.sd_db, one.sd_db):
            groups[-1].append(one)
        else:
            groups.append([one])
    return [tuple(one for one in bands if one in group) for group in groups]


def stands_out(one: LearntBand) -> bool:
    """Return whether a band's offset is large compared with its uncertainty."""
    return abs(one.offset_db) >= max(one.sd_db, WORTH_TELLING_DB)


def no_lesson(learnt: Learnt) -> NoLesson | None:
    """Reason why nothing can be stored; None where the log holds enough evidence."""
    if not learnt.used or not learnt.bands:
        return "no reports"
    if learnt.used < FEWEST_REPORTS:
        return "one report"
    told = known(learnt)
    if not told:
        return "too few"
    return "at bound" if all(one.at_bound for one in told) else None
