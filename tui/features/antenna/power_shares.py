"""The antenna bench: where a hundred watts go on each band, drawn to the watt."""

from __future__ import annotations

from typing import TYPE_CHECKING

from propagation.wording import quantities as say
from tui.features.antenna.view import SHARE_SAYS, card_sentences, setup_line, share_figure
from tui.kit import text_flow, words
from tui.kit.band_rows import BandRows
from tui.kit.canvas import Canvas
from tui.kit.glyphs import SHARE_SIGN
from tui.kit.theme import CHOSEN, KEY, LAYER, LOSS, QUIET, RAMP, SOFT, STRONG, TEXT

if TYPE_CHECKING:
    from tui.features.antenna.view import BenchView

LABEL = 7
WIDE = 150  # columns of a bar where there are more than enough; else one a watt at most
TALLEST = 4  # rows of a bar, with the blank one below it
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
    """One bar of a hundred watts a band."""

    about = (
        "Each bar is 100 W at the rig. Solid is what reaches the sky; the rest is drawn with the sign of "
        "the place that keeps it: coil, earth, joints (plugs, slider and clamps: an assumption until an "
        "analyser has measured the band), coax, transformer; or an exclamation mark, for a loss that "
        "the analyser shows and the description does not explain: joint, cable, ground."
    )

    def __init__(self, *, id: str | None = None, classes: str | None = None) -> None:  # noqa: A002
        super().__init__(id=id, classes=classes)
        self.view: BenchView | None = None

    def show(self, view: BenchView | None, band: str = "") -> None:
        """Take the bench and the chosen band."""
        self.view, self.band = view, band
        self.redraw()

    def paint(self, canvas: Canvas) -> None:
        """Heading, bars, legend."""
        view = self.view
        if view is None:
            canvas.put(2, 0, words.WORKING, SOFT)
            return
        setup = max((len(setup_line(band)) for band in view.bands), default=0)
        side = 9 + (setup + 2 if canvas.width - LABEL - 9 - setup >= 30 else 0)
        width = canvas.width - LABEL - side
        width = WIDE if width >= WIDE else min(width, 100)
        if width < 10 or canvas.height < 3:
            canvas.put(0, 0, view.antenna, TEXT)
            return
        canvas.put(1, 0, "of 100 W", SOFT)
        canvas.put(LABEL + width + 1, 0, "sky", SOFT)
        if side > 9:
            canvas.put(LABEL + width + 10, 0, "set up like this", SOFT)
        x = max(LABEL + 4, 11)
        present = {name for band in view.bands for name, _ in band.shares}
        for name, sign in SHARE_SIGN.items():
            if name in present and x + 12 < LABEL + width:
                canvas.put(x, 0, sign * 2, SHARE_INK[name])
                x = canvas.put(x + 3, 0, SHARE_SAYS[name], SOFT) + 2
        each = min(max((canvas.height - 1) // max(len(view.bands), 1), 1), TALLEST)
        below = each >= 2 and side == 9
        shown = max(1, (canvas.height - 1) // each)
        names = [band.band for band in view.bands]
        chosen = names.index(self.band) if self.band in names else 0
        first = min(max(chosen - shown + 1, 0), max(len(names) - shown, 0))
        self.stand(names, 1, each, first, shown)
        for slot, band in enumerate(view.bands[first : first + shown]):
            top = 1 + slot * each
            thick = max(each - 1, 1)
            y = top + (thick - 1) // 2  # of the words
            here = band.band == self.band
            if here:
                canvas.paint_ground(0, top, canvas.width, top + (each if below else thick), CHOSEN)
                canvas.put(0, y, "▸", KEY)
            canvas.put_right(LABEL - 1, y, say.band_title(band.band), STRONG if here else TEXT)
            x, done = LABEL, 0.0
            for name, share in band.shares:
                done += share
                end = LABEL + round(min(done, 1.0) * width)
                for across in range(top, top + thick):
                    for column in range(x, end):
                        canvas.mark(column, across, SHARE_SIGN.get(name, "?"), SHARE_INK.get(name, LOSS))
                x = end
            out = dict(band.shares).get("radiated", 0.0)
            canvas.put_right(LABEL + width + 7, y, f"{share_figure(out)} W", STRONG if here else TEXT)
            if band.basis == "measured":
                canvas.put(LABEL + width + 7, y, "*", KEY)
            if below:
                canvas.put(LABEL, top + thick, setup_line(band), TEXT if here else SOFT)
            if side > 9:
                canvas.put(LABEL + width + 10, y, setup_line(band), TEXT if here else SOFT)
        foot = 2 + min(shown, len(view.bands)) * each
        row = next((band for band in view.bands if band.band == self.band), None)
        if side == 9 and not below and row is not None:
            card = [
                f"{say.band_title(row.band)}: {setup_line(row)}",
                *card_sentences(row)[-3:],
            ]
            for number, line in enumerate(text_flow.wrap_all(card, canvas.width - 2)[: canvas.height - foot]):
                canvas.put(1, foot + number, line, TEXT if number == 0 else SOFT)
