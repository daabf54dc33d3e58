"""The operator's own marks: noted with the station, and what a reading of the dip says of them."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

from propagation.base.errors import InputError
from propagation.base.files import locked
from propagation.spectrum.bands import by_name
from propagation.wording import quantities as say
from propagation.wording.setup import move_words, noted_words
from tui.app.choice import Choice
from tui.app.queries import Cancelled, Command, Engine

if TYPE_CHECKING:
    from propagation.antennas.antenna import Antenna
    from propagation.station.station import Station

TUNED_WITHIN: Final = 0.0005  # of the frequency; a dip this near needs no move (ours)


@dataclass(frozen=True)
class NoteMark(Command[str]):
    """Note the mark of a band with the station. The answer is a sentence."""

    choice: Choice
    band: str
    text: str

    group = "stations"
    says = "list of stations"

    def answer(self, engine: Engine, cancelled: Cancelled) -> str:
        """Write it into the station's file."""
        from propagation.station import station
        from tui.app import station_form

        path = station_form.own_file(self.choice.station)
        if not path:
            raise InputError(
                "The demo's antenna is invented and takes no marks: make your own station first (key 8)."
            )
        with locked(path):
            own = with_mark(
                station.load(path), self.band, self.text, self.choice.mode, say.date(engine.now())
            )
            station.save(own, path)
        return f"Noted on {say.band_title(self.band)}: {noted_words(own.antenna.marks[-1])}."


def with_mark(own: Station, band: str, text: str, mode: str, date: str) -> Station:
    """The station with a band's mark noted. Raises InputError where the mark is empty or too long."""
    from propagation.antennas.factory import build
    from propagation.antennas.marks import noted

    antenna = build(own.antenna, own.site.earth, own.feedline)
    return replace(own, antenna=noted(antenna, own.centre_mhz(by_name(band), mode), text, date))


def move_sentences(antenna: Antenna, dip_mhz: float, wanted_mhz: float) -> list[str]:
    """How to bring a dip to the frequency wanted; nothing where it is there, or where nothing tunes."""
    from propagation.antennas.marks import mark_for, move_to

    if abs(dip_mhz - wanted_mhz) < TUNED_WITHIN * wanted_mhz:
        return []
    move = move_to(antenna, dip_mhz, wanted_mhz)
    return [] if move is None else [move_words(move, dip_mhz, wanted_mhz, mark_for(antenna, wanted_mhz))]
