"""The same day from another place or with another station, beside that of `bandwhen advise`."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from tui.app import forecast_options
from tui.kit import format as fmt

if TYPE_CHECKING:
    from propagation.advice.two_antennas import Worth
    from propagation.base.units import FloatArray, IntArray
    from propagation.signal.chances.forecast import Forecast

MOST_HOURS = 24  # rows of the table
ONE_SIDED = "What your log has taught is in the numbers of {name} alone."


@dataclass(frozen=True, eq=False)
class Beside:
    """Both sides. bands: rows of those usable on either; better: 0, 1, or None where they are alike."""

    names: tuple[str, str]
    results: tuple[Forecast, Forecast]
    worths: tuple[Worth, Worth]
    better: int | None
    bands: tuple[int, ...]
    taught: tuple[bool, bool]


def beside(name: str, question: forecast_options.Asked, first: Forecast, taught: bool) -> Beside:
    """Run the day of the other side, and compare."""
    from propagation.advice.two_antennas import better, worth

    other = forecast_options.forecast_of(question)
    worths = worth(first), worth(other)
    usable = np.flatnonzero(first.usable | other.usable)
    names = (first.station.name or "Here", name)
    return Beside(
        names, (first, other), worths, better(*worths), tuple(usable.tolist()), (taught, question.learnt)
    )  # fmt: skip


def _full_hours(result: Forecast) -> IntArray:
    """Rows of the times at whole hours from the first on."""
    hours = (result.times - result.times[0]) / np.timedelta64(3600, "s")
    steps = np.arange(0.0, min(float(hours[-1]), MOST_HOURS - 1) + 1e-9)
    return np.asarray(np.searchsorted(hours, steps - 1e-9), dtype=np.int64)


def _pair(found: Beside) -> tuple[FloatArray, FloatArray]:
    from propagation.advice.region_chance import chance

    rows = np.ix_(_full_hours(found.results[0]), np.array(found.bands, dtype=np.int64))
    one, other = (chance(result)[rows] for result in found.results)
    return one, other


def _told(found: Beside, *, plain: bool) -> tuple[list[str], list[str]]:
    """The hours, as a table or in sentences, and what follows from them."""
    from propagation.wording.two_places import hour_sentences, hours_table, place_sentences

    first = found.results[0]
    bands = [band.name for band in first.bands]
    shown = [bands[row] for row in found.bands]
    hours = (hour_sentences if plain else hours_table)(
        found.names, shown, first.times[_full_hours(first)], _pair(found)
    )
    says = place_sentences(found.names, bands, found.worths, found.better, first.target.name)
    if found.taught[0] != found.taught[1]:
        says.append(ONE_SIDED.format(name=found.names[0 if found.taught[0] else 1]))
    return hours, says


def text(found: Beside, wrapped: Any) -> list[str]:
    """Table and sentences. wrapped: breaks a sentence into lines."""
    hours, says = _told(found, plain=False)
    return ["", *hours, "", *(line for sentence in says for line in wrapped(sentence))]


def plain(found: Beside) -> list[str]:
    """Whole sentences."""
    hours, says = _told(found, plain=True)
    return [*hours, *says]


def data(found: Beside) -> dict[str, Any]:
    """For JSON: the other side's chances at the times of the first, and what each day is worth."""
    from propagation.advice.region_chance import chance
    from propagation.wording.two_places import place_sentences

    other = found.results[1]
    promised, position = chance(other), other.station.site.position
    keys = ("here", "beside")
    return {
        "name": found.names[1],
        "lat_deg": position.lat_deg,
        "lon_deg": position.lon_deg,
        "bands": [
            {
                "band": band.name,
                "usable": bool(other.usable[row]),
                "times": [fmt.iso(time) for time in other.times],
                "outlook": promised[:, row],
            }
            for row, band in enumerate(other.bands)
        ],
        "contact_hours": {key: worth.hours for key, worth in zip(keys, found.worths, strict=True)},
        "expected_contacts": {key: worth.contacts for key, worth in zip(keys, found.worths, strict=True)},
        "better": None if found.better is None else keys[found.better],
        "words": place_sentences(
            found.names, [band.name for band in other.bands], found.worths, found.better, other.target.name
        ),
    }
