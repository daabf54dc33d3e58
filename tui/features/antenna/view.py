"""Antenna on every band: drawings and sentences."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np
from textual.geometry import Size

from propagation.advice.rates import Prospect
from propagation.wording import quantities as say
from propagation.wording.quantities import band_title, level, level_figure, megahertz, sentence, watts
from propagation.wording.setup import capacitor_words, whip_and_coil_words
from tui.kit import text_flow, words
from tui.kit.canvas import BandRows, Canvas
from tui.kit.glyphs import SHARE_SIGN
from tui.kit.marks import put_lane
from tui.kit.theme import CHOSEN, KEY, LAYER, LOSS, QUIET, RAMP, SOFT, STRONG, TEXT, TITLE

if TYPE_CHECKING:
    from propagation.antennas.improvements import Candidate


@dataclass(frozen=True)
class AntennaBand:
    """Antenna data of one band: power shares and setup."""

    band: str
    frequency_mhz: float
    shares: tuple[tuple[str, float], ...]  # (key of glyphs.SHARE_SIGN, 0..1)
    coil_uh: float | None
    radials: str
    swr_1p5_khz: float | None
    swr_2_khz: float | None
    centre_on_mhz: float | None
    power_limit_w: float | None
    limit_by: str
    gain_dbi: tuple[tuple[float, float], ...]  # (elevation [deg], gain [dBi])
    basis: str  # "model" or "measured"
    note: str = ""
    whip_m: float | None = None
    series_pf: float | None = None
    match: tuple[str, ...] = ()  # sentences on the dip, the SWR and another length of the whip
    mark: str = ""  # the operator's own, noted or estimated, in words
    set_aside: bool = False  # whether a reading taken with another antenna is saved


@dataclass(frozen=True)
class Help:
    """Change on one band: its gain [dB], None where it is not computed, and what the day gains, in words."""

    candidate: Candidate
    band: str
    gain_db: float | None
    won: str = ""

    @property
    def figures(self) -> str:
        """The gains: `+9 contacts, +1.2 dB`."""
        if self.gain_db is None:
            return "not counted"
        return f"{self.won}, {level(self.gain_db)}" if self.won else level(self.gain_db)


@dataclass(frozen=True)
class AntennaView:
    """Antenna data of all bands."""

    antenna: str  # description in one line
    ground: str
    bands: tuple[AntennaBand, ...]
    help: tuple[Help, ...] = ()
    cautions: tuple[str, ...] = ()
    helped: tuple[str, ...] = ()  # bands for which improvements have been computed
    towards: str = ""  # target whose day the improvements are ranked by


@dataclass(frozen=True)
class BesideBand:
    """Two antennas on one band: radiated share of the power, and what the day promises at its best.

    takeoff_deg: take-off angle towards the target then; gain_dbi: gains at it less the line's loss; NaN where
    there is no ray path.
    """

    band: str
    share: tuple[float, float]  # 0..1 of the power at the rig
    best: tuple[Prospect, Prospect]
    takeoff_deg: float
    gain_dbi: tuple[float, float]


@dataclass(frozen=True)
class BesideView:
    """Comparison of two antennas for one day and one target."""

    names: tuple[str, str]
    bands: tuple[BesideBand, ...]
    says: tuple[str, ...]  # which antenna to take, and why


@dataclass(frozen=True)
class ReadingView:
    """Evaluation of analyser readings for one band."""

    band: str
    sentences: tuple[str, ...]
    efficiency: float | None
    low: float | None = None
    high: float | None = None


HELPS_AWAITED: Final = "What would help is being worked out ..."
SHARE_SAYS: Final[dict[str, str]] = {
    "radiated": "sky",
    "coil": "coil",
    "earth": "earth",
    "connections": "joints",
    "coax": "coax",
    "transformer": "transformer",
    "unexplained": "unexplained",
}


def share_figure(share: float) -> str:
    """Format a share of 100 W in watts."""
    watt = share * 100
    return f"{watt:.0f}" if watt >= 9.5 else f"{watt:.1f}"


def setup_line(band: AntennaBand) -> str:
    """Describe the setup for a band in a few words."""
    parts = whip_and_coil_words(band.whip_m, band.coil_uh, band.mark)
    if band.series_pf is not None:
        parts.append(capacitor_words(band.series_pf))
    if band.radials:
        parts.append(band.radials)
    if band.centre_on_mhz is not None:
        parts.append(f"centre on {band.centre_on_mhz:.3f}")
    return ", ".join(parts)


def antenna_sentences(view: AntennaView) -> list[str]:
    """Describe the antenna on all bands."""
    out = [f"{view.antenna}. {view.ground}."]
    for band in view.bands:
        spent = ", ".join(
            f"{share_figure(share)} {'unexplained loss' if name == 'unexplained' else SHARE_SAYS[name]}"
            for name, share in band.shares
        )
        width = f"; SWR under 2 over {band.swr_2_khz:.0f} kHz" if band.swr_2_khz else ""
        limit = (
            f"; at most {watts(band.power_limit_w)} ({band.limit_by})"
            if band.power_limit_w is not None
            else ""
        )
        out.append(
            f"{band_title(band.band)}: of 100 W, {spent} ({band.basis}). {setup_line(band)}{width}{limit}."
        )
        out.extend(band.match)
    if view.help:
        at = ", in dB at the take-off angle towards it" if view.towards else ""
        out.append(f"{help_title(view)}{at}:")
    out.extend(f"{one.candidate.change}: {one.figures} on {band_title(one.band)}." for one in view.help)
    if len(view.helped) < len(view.bands):
        out.append(HELPS_AWAITED)
    out.extend(view.cautions)
    return out


def no_card(band: str) -> str:
    """Sentence for a band that the antenna data does not contain."""
    return f"{band_title(band)} is not one the antenna tunes on."


def card_sentences(band: AntennaBand) -> list[str]:
    """Setup card of one band, one sentence per line."""
    out = []
    if band.whip_m is not None:
        out.append(f"Whip: {band.whip_m:.2f} m.")
    if band.coil_uh is not None:
        out.append(
            "No coil."
            if band.coil_uh <= 0
            else f"Coil: {band.coil_uh:.1f} µH first, then one notch at a time."
        )
    if band.mark:
        out.append(f"{sentence(band.mark)} Key i notes it as it is tuned.")
    if band.series_pf is not None:
        out.append(f"Capacitor: {capacitor_words(band.series_pf)}.")
    if band.radials:
        out.append(f"Radials: {band.radials}.")
    out.extend(band.match)
    if band.centre_on_mhz is not None:
        out.append(f"Tune for {megahertz(band.centre_on_mhz)}.")
    if band.swr_1p5_khz is not None and band.swr_2_khz is not None:
        widths = ((1.5, band.swr_1p5_khz), (2, band.swr_2_khz))
        under = [f"under {swr:g} over {width:.0f} kHz" for swr, width in widths if width > 0.0]
        out.append(f"SWR {', '.join(under)}." if under else "The SWR does not come down to 2.")
    if band.power_limit_w is not None:
        out.append(f"At most {watts(band.power_limit_w)}{f' ({band.limit_by})' if band.limit_by else ''}.")
    if band.gain_dbi:
        gains = ", ".join(f"{level_figure(gain)} at {angle:.0f}" for angle, gain in band.gain_dbi)
        out.append(f"Gain, dBi at degrees: {gains}.")
    out.append(
        "From your own measurement; key x forgets it."
        if band.basis == "measured"
        else "From the model; key a takes the analyser's data."
    )
    if band.note:
        out.append(band.note)
    if band.set_aside:
        out.append("Key b brings it back for the antenna as it is described now, key x forgets it.")
    return out


def help_title(view: AntennaView) -> str:
    """Heading of the improvements, with the target whose day they are ranked by."""
    return f"What helps, for {view.towards}" if view.towards else "What would help"


def help_sentences(view: AntennaView, band: str) -> list[str]:
    """Possible improvements on a band, then the cautions."""
    here = [f"{one.figures}  {one.candidate.change}" for one in view.help if one.band == band]
    awaited = any(row.band == band for row in view.bands) and band not in view.helped
    return [*(here or [HELPS_AWAITED if awaited else "No small change would help here."]), *view.cautions]


LABEL, RIGHT = 7, 26  # columns left and right of the lanes
LOWEST_DBI, HIGHEST_DBI = -30.0, 6.0  # ends of the scale: an empty lane, a full one (ours)
TALLEST = 4  # rows of a lane


class Gains(BandRows):
    """Gain lanes of all bands, from the horizon up."""

    about = (
        "The gain by take-off angle, one lane a band, the antenna's losses taken off: from -30 dBi, empty, "
        "to +6 dBi, full. Low angles reach far, high angles come down near. Between the angles worked out "
        "the lane is drawn straight."
    )

    def __init__(self, *, id: str | None = None, classes: str | None = None) -> None:  # noqa: A002
        super().__init__(id=id, classes=classes)
        self.view: AntennaView | None = None

    def show(self, view: AntennaView | None, band: str = "") -> None:
        """Set the antenna data and the chosen band."""
        self.view, self.band = view, band
        self.redraw()

    def paint(self, canvas: Canvas) -> None:
        """Draw the angles, the lanes and the best angle of each band."""
        canvas.put(1, 0, "Gain by take-off angle, -30 to +6 dBi", TITLE)
        view = self.view
        rows = [band for band in view.bands if len(band.gain_dbi) > 1] if view is not None else []
        width = canvas.width - LABEL - RIGHT
        if not rows or width < 24 or canvas.height < 3:
            canvas.put(1, 1, words.WORKING if view is None else "no angles were worked out", SOFT)
            return
        angles = np.array([angle for angle, _ in rows[0].gain_dbi])
        at = np.linspace(angles[0], angles[-1], width)
        for angle in angles:
            column = round((angle - angles[0]) / (angles[-1] - angles[0]) * (width - 1))
            canvas.put_centred(LABEL + column, 1, f"{angle:.0f} deg", SOFT)
        each = min(max((canvas.height - 2) // len(rows), 1), TALLEST)
        shown = max((canvas.height - 2) // each, 1)
        chosen = next((number for number, row in enumerate(rows) if row.band == self.band), 0)
        first = min(max(chosen - shown + 1, 0), max(len(rows) - shown, 0))
        self.stand([row.band for row in rows], 2, each, first, shown)
        for slot, row in enumerate(rows[first : first + shown]):
            y, here = 2 + slot * each, row.band == self.band
            middle = y + each // 2
            if here:
                canvas.paint_ground(0, y, canvas.width, y + each, CHOSEN)
                canvas.point_at(middle)
            gain = np.interp(at, [angle for angle, _ in row.gain_dbi], [dbi for _, dbi in row.gain_dbi])
            share = np.clip((gain - LOWEST_DBI) / (HIGHEST_DBI - LOWEST_DBI), 0.0, 1.0)
            canvas.put_right(LABEL - 1, middle, say.band_title(row.band), STRONG if here else TEXT)
            put_lane(canvas, LABEL, y, each, share)
            best, dbi = max(row.gain_dbi, key=lambda pair: pair[1])
            says = f"most {say.level_figure(dbi)} dBi at {best:.0f} deg"
            canvas.put(LABEL + width + 1, middle, says, TEXT if here else SOFT)


BAR_LABEL = 7
WIDE = 150  # columns of a bar on wide screens; otherwise at most one column per watt
TALLEST_BAR = 4  # rows of a bar, including the blank row below it
AROUND_BARS = 2 + 1 + 1 + 12  # rows of the description, the legend, a blank one, and the card below
SHARE_INK = {
    "radiated": RAMP + 7,
    "coil": RAMP + 2,
    "earth": LOSS,
    "connections": QUIET,
    "coax": LAYER,
    "transformer": QUIET,
    "unexplained": LOSS,
}


class PowerShares(BandRows):
    """Bars of the shares of 100 W, one per band."""

    about = (
        "Each bar is 100 W at the rig. Solid is what reaches the sky; the rest is drawn with the sign of "
        "the place that keeps it: coil, earth, joints (plugs, slider and clamps: an assumption until an "
        "analyser has measured the band), coax, transformer; or an exclamation mark, for a loss that "
        "the analyser shows and the description does not explain: joint, cable, ground."
    )

    def __init__(self, *, id: str | None = None, classes: str | None = None) -> None:  # noqa: A002
        super().__init__(id=id, classes=classes)
        self.view: AntennaView | None = None

    def show(self, view: AntennaView | None, band: str = "") -> None:
        """Set the antenna data and the chosen band."""
        self.view, self.band = view, band
        self.redraw()
        self.refresh(layout=True)

    def get_content_height(self, container: Size, viewport: Size, width: int) -> int:
        """Rows of the tallest bars that leave enough to the card below them, and a blank row."""
        count = max(len(self.view.bands), 1) if self.view is not None else 1
        return 2 + min(max((container.height - AROUND_BARS) // count, 1), TALLEST_BAR) * count

    def paint(self, canvas: Canvas) -> None:
        """Draw the heading, the bars and the legend."""
        view = self.view
        if view is None:
            canvas.put(2, 0, words.WORKING, SOFT)
            return
        setup = max((len(setup_line(band)) for band in view.bands), default=0)
        side = 9 + (setup + 2 if canvas.width - BAR_LABEL - 9 - setup >= 30 else 0)
        width = canvas.width - BAR_LABEL - side
        width = WIDE if width >= WIDE else min(width, 100)
        if width < 10 or canvas.height < 3:
            canvas.put(0, 0, view.antenna, TEXT)
            return
        canvas.put(1, 0, "of 100 W", SOFT)
        canvas.put(BAR_LABEL + width + 1, 0, "sky", SOFT)
        if side > 9:
            canvas.put(BAR_LABEL + width + 10, 0, "set up like this", SOFT)
        x = max(BAR_LABEL + 4, 11)
        present = {name for band in view.bands for name, _ in band.shares}
        for name, sign in SHARE_SIGN.items():
            if name in present and x + 12 < BAR_LABEL + width:
                canvas.put(x, 0, sign * 2, SHARE_INK[name])
                x = canvas.put(x + 3, 0, SHARE_SAYS[name], SOFT) + 2
        each = min(max((canvas.height - 1) // max(len(view.bands), 1), 1), TALLEST_BAR)
        below = each >= 2 and side == 9
        shown = max(1, (canvas.height - 1) // each)
        names = [band.band for band in view.bands]
        chosen = names.index(self.band) if self.band in names else 0
        first = min(max(chosen - shown + 1, 0), max(len(names) - shown, 0))
        self.stand(names, 1, each, first, shown)
        for slot, band in enumerate(view.bands[first : first + shown]):
            top = 1 + slot * each
            thick = max(each - 1, 1)
            y = top + (thick - 1) // 2  # row of the text
            here = band.band == self.band
            if here:
                canvas.paint_ground(0, top, canvas.width, top + (each if below else thick), CHOSEN)
                canvas.point_at(y)
            canvas.put_right(BAR_LABEL - 1, y, say.band_title(band.band), STRONG if here else TEXT)
            self._bar(canvas, band, range(top, top + thick), width)
            out = dict(band.shares).get("radiated", 0.0)
            canvas.put_right(BAR_LABEL + width + 7, y, f"{share_figure(out)} W", STRONG if here else TEXT)
            if band.basis == "measured":
                canvas.put(BAR_LABEL + width + 7, y, "*", KEY)
            if below:
                canvas.put(BAR_LABEL, top + thick, setup_line(band), TEXT if here else SOFT)
            if side > 9:
                canvas.put(BAR_LABEL + width + 10, y, setup_line(band), TEXT if here else SOFT)
        foot = 2 + min(shown, len(view.bands)) * each
        row = next((band for band in view.bands if band.band == self.band), None)
        if side == 9 and not below and row is not None:
            card = [
                f"{say.band_title(row.band)}: {setup_line(row)}",
                *row.match,
                *card_sentences(row)[-3:],
            ]
            for number, line in enumerate(text_flow.wrap_all(card, canvas.width - 2)[: canvas.height - foot]):
                canvas.put(1, foot + number, line, TEXT if number == 0 else SOFT)

    @staticmethod
    def _bar(canvas: Canvas, band: AntennaBand, rows: range, width: int) -> None:
        """Draw the shares of a band one after the other."""
        x, done = BAR_LABEL, 0.0
        for name, share in band.shares:
            done += share
            end = BAR_LABEL + round(min(done, 1.0) * width)
            for row in rows:
                for column in range(x, end):
                    canvas.mark(column, row, SHARE_SIGN.get(name, "?"), SHARE_INK.get(name, LOSS))
            x = end
