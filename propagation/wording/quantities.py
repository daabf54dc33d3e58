"""Quantities in English: one rounding rule each, for text, the screens, the run sheet and the review.

All roundings go to the nearest step and halves go up, so that a larger value is never shown as a smaller one.
A value that has no meaning (None, NaN, infinite) is a dash, a chance "unknown".
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

import numpy as np

from propagation.advice.ranking import ALWAYS, NO_DAY, ONE_IN, UNDER_ONE_IN_100, told_rate
from propagation.spectrum.bands import band_of
from propagation.spectrum.modes import ModeName
from propagation.wording.clocks import NOTHING as NOTHING
from propagation.wording.clocks import ClockFace as ClockFace
from propagation.wording.clocks import both_clocks as both_clocks
from propagation.wording.clocks import both_spans as both_spans
from propagation.wording.clocks import clock as clock
from propagation.wording.clocks import clock_face as clock_face
from propagation.wording.clocks import clock_on as clock_on
from propagation.wording.clocks import date as date
from propagation.wording.clocks import day_month as day_month
from propagation.wording.clocks import day_title as day_title
from propagation.wording.clocks import end_clock as end_clock
from propagation.wording.clocks import local_first as local_first
from propagation.wording.clocks import offset_words as offset_words
from propagation.wording.clocks import on_one_clock as on_one_clock
from propagation.wording.clocks import other_clock as other_clock
from propagation.wording.clocks import other_short as other_short
from propagation.wording.clocks import other_span as other_span
from propagation.wording.clocks import set_clock_face as set_clock_face
from propagation.wording.clocks import two_clocks as two_clocks
from propagation.wording.clocks import utc_clock as utc_clock
from propagation.wording.clocks import wall_time as wall_time
from propagation.wording.clocks import zone_sentence as zone_sentence
from propagation.wording.clocks import zone_word as zone_word

if TYPE_CHECKING:
    from collections.abc import Sequence

    from propagation.advice.people import Part
    from propagation.advice.rates import Prospect, Rate
    from propagation.spectrum.noise import NoiseLevel

_TENTHS_FROM: Final = 0.1  # chance from which it is shown in tenths
_COMPASS: Final = (
    "N", "NNE", "NE", "ENE", "E", "ESE", "SE", "SSE", "S", "SSW", "SW", "WSW", "W", "WNW", "NW", "NNW",
)  # fmt: skip


def _known(value: float | None) -> bool:
    return value is not None and bool(np.isfinite(value))


def nearest(value: float, step: float = 1.0) -> float:
    """Nearest multiple of a step; halves go up."""
    return float(np.floor(value / step + 0.5) * step)


# --- times ---------------------------------------------------------------------------------------------


def minutes(value: float) -> str:
    """A short time of work, `1.5 min`; two figures."""
    return f"{value:.2g} min"


# --- chances and shares --------------------------------------------------------------------------------


def days(chance: float | None) -> str:
    """Chance as a share of days: "7 days in 10", "1 day in 30", "nearly every day", "no day"."""
    if chance is None or not _known(chance):
        return "unknown"
    if chance >= ALWAYS:
        return "nearly every day"
    if chance >= _TENTHS_FROM:
        tenths = int(nearest(chance * 10.0))
        return f"{tenths} {'day' if tenths == 1 else 'days'} in 10"
    if chance <= NO_DAY:
        return "no day"
    number = _nearest_odds(chance)
    return "less than 1 day in 100" if number == 100 and chance < UNDER_ONE_IN_100 else f"1 day in {number}"


def tenths(chance: float | None) -> str:
    """Short form of a chance, `7/10`; less than one is `<1/10`, none `0/10`."""
    if chance is None or not _known(chance):
        return NOTHING
    if NO_DAY < chance < _TENTHS_FROM:
        return "<1/10"
    return f"{nearest(chance * 10.0):.0f}/10"


def percent_figure(part: float | None) -> str:
    """Share in whole per cent, the bare figure: `35`; `<1` where it is small but not zero."""
    if part is None or not _known(part):
        return NOTHING
    return "<1" if 0.0 < part < 0.005 else f"{nearest(part * 100.0):.0f}"


def percent(part: float | None) -> str:
    """Share in whole per cent, `35 %`, for tables and sentences alike; `<1 %` where small but not zero."""
    figure = percent_figure(part)
    return figure if figure == NOTHING else f"{figure} %"


def power_share(part: float | None) -> str:
    """A share of the power, where small ones matter: one decimal, `2.3 %`."""
    return NOTHING if part is None or not _known(part) else f"{part * 100.0:.1f} %"


def in_ten(chance: float | None) -> str:
    """A chance in few words: `7 in 10`, `1 in 30`, `over 9 in 10`, `under 1 in 100`."""
    if chance is None or not _known(chance):
        return "unknown"
    if chance >= ALWAYS:
        return "over 9 in 10"
    if chance >= _TENTHS_FROM:
        return f"{nearest(chance * 10.0):.0f} in 10"
    if chance < UNDER_ONE_IN_100:
        return "under 1 in 100"
    return f"1 in {_nearest_odds(chance)}"


def _nearest_odds(chance: float) -> int:
    return ONE_IN[int(np.argmin([abs(float(np.log(chance * number))) for number in ONE_IN]))]


def every_so_often(per_hour: float) -> str:
    """Contacts an hour where they are few: `a contact in some 2 hours`, `no contact in 20 hours`."""
    told = float(told_rate(per_hour))
    if told <= 0.0:
        return "no contact in 20 hours"
    return f"a contact in some {1.0 / told:.2g} hours"


def rate_figure(per_hour: float) -> str:
    """Contacts an hour as told, the bare figure: `22`, `1.5`, `under 1`, `0`."""
    told = float(told_rate(per_hour))
    if told <= 0.0:
        return "0"
    return "under 1" if told < 1.0 else f"{told:g}"


def rate_short(per_hour: float) -> str:
    """Contacts an hour as told, in three characters: `22`, `1.5`, `<1`, `0`."""
    return rate_figure(per_hour).replace("under ", "<")


def mean_an_hour(per_hour: float) -> str:
    """Contacts an hour without a range: `about 22 contacts an hour`, `a contact in some 3 hours`."""
    told = float(told_rate(per_hour))
    if told < 1.0:
        return every_so_often(per_hour)
    return f"about {counted(1, 'contact') if told == 1.0 else f'{told:g} contacts'} an hour"


def contacts_an_hour(rate: Rate) -> str:
    """Contacts an hour and range: `about 22 contacts an hour (12 to 30)`, `a contact in some 3 hours`."""
    head, low, high = mean_an_hour(rate.middle), rate_figure(rate.low), rate_figure(rate.high)
    return head if low == high or float(told_rate(rate.middle)) < 1.0 else f"{head} ({low} to {high})"


def promised(prospect: Prospect) -> str:
    """What a band promises: days with a place, contacts an hour with a region."""
    return days(prospect.chance) if prospect.rate is None else contacts_an_hour(prospect.rate)


def promised_short(prospect: Prospect) -> str:
    """The same in a few characters: `7/10`, `22/h`, `1 in 3 h`."""
    if prospect.rate is None:
        return tenths(prospect.chance)
    told = float(told_rate(prospect.rate.middle))
    if told <= 0.0:
        return "0/h"
    return f"{told:g}/h" if told >= 1.0 else f"1 in {1.0 / told:.2g} h"


def first_few(wanted: int, minutes: int, chance: float) -> str:
    """A few contacts: `4 within the first 15 min: nearly certain`, `4 within an hour: 7 in 10`."""
    span = "an hour" if minutes == 60 else f"the first {minutes} min"
    return f"{wanted} within {span}: {'nearly certain' if chance >= ALWAYS else in_ten(chance)}"


def odds(chance: float) -> str:
    """A small chance as odds: `1 chance in 12`."""
    if chance < 0.001:
        return "under 1 chance in 1000"
    return f"1 chance in {nearest(1.0 / chance):.0f}" if chance < 0.4 else f"{percent(chance)} chance"


# --- distances, angles, power, levels ------------------------------------------------------------------


def kilometres(km: float | None) -> str:
    """Distance, `8,240 km`: to the kilometre below 100, to ten from there on.

    A locator of four characters is not more exact.
    """
    if km is None or not _known(km):
        return NOTHING
    return f"{nearest(km, 10.0 if km >= 99.5 else 1.0):,.0f} km"


def skip_words(km: float | None) -> str:
    """Skip distance with its chance; `km` as in `signal.chances.skip`, None or NaN where nothing returns.

    `skip distance 830 km on half of the days`
    """
    if km is None or not _known(km):
        return "no layer returns it on half of the days"
    if km < 1.0:
        return "no skip distance: returned from overhead on half of the days"
    return f"skip distance {kilometres(km)} on half of the days"


def degrees(deg: float | None) -> str:
    """Angle over the horizon, `12°`."""
    return NOTHING if deg is None or not _known(deg) else f"{nearest(deg):.0f}°"


def take_off(deg: float | None) -> str:
    """Take-off or arrival angle of a signal, `take-off 12°`."""
    return f"take-off {degrees(deg)}"


def bearing_figure(deg: float) -> str:
    """A bearing in three figures, `042`."""
    return f"{int(nearest(deg)) % 360:03d}" if _known(deg) else NOTHING


def compass(deg: float) -> str:
    """A bearing as a compass point, `WSW`."""
    return _COMPASS[int((deg % 360.0) / 22.5 + 0.5) % 16]


def bearing(deg: float) -> str:
    """A bearing in degrees with its compass point, `042° NE`."""
    return f"{bearing_figure(deg)}° {compass(deg)}" if _known(deg) else NOTHING


def watts(power_w: float | None) -> str:
    """Power, `20 W`; at most three figures below ten watts, `2.5 W`."""
    if power_w is None or not _known(power_w):
        return NOTHING
    return f"{nearest(power_w):.0f} W" if power_w >= 9.995 else f"{power_w:.3g} W"


def decibels(db: float) -> str:
    """Amount without its sign, `12 dB`; one decimal below ten."""
    size = abs(db)
    return f"{nearest(size):.0f} dB" if size >= 9.95 else f"{size:.1f} dB"


def level_figure(db: float | None, digits: int = 1) -> str:
    """Level with its sign, the bare figure: `+3.2`; zero has no minus."""
    if db is None or not _known(db):
        return NOTHING
    text = f"{db:+.{digits}f}"
    return f"+{text[1:]}" if float(text) == 0.0 else text


def level(db: float | None, digits: int = 1) -> str:
    """A level with its sign, `+3.2 dB`."""
    figure = level_figure(db, digits)
    return figure if figure == NOTHING else f"{figure} dB"


def megahertz(mhz: float) -> str:
    """A frequency to the kilohertz, `14.175 MHz`."""
    return f"{mhz:.3f} MHz"


# --- names ---------------------------------------------------------------------------------------------


def band_title(name: str) -> str:
    """Band in the usual amateur form, `20 m`."""
    return f"{name[:-1]} m" if name.endswith("m") else name


MODE_WORDS: Final[dict[ModeName, str]] = {
    "SSB": "voice (SSB)",
    "CW": "Morse (CW)",
    "FM": "voice (FM)",
    "DIGITAL": "narrow weak-signal digital",
}

# --- sentences -----------------------------------------------------------------------------------------


def ago_words(age: np.timedelta64) -> str:
    """Time since an event, from minutes to hours: `25 min ago`, `2 h ago`."""
    minutes = float(age / np.timedelta64(60, "s"))
    if minutes < 1.0:
        return "just now"
    return f"{minutes:.0f} min ago" if minutes < 100.0 else f"{minutes / 60.0:.0f} h ago"


def two_figures(number: float) -> int:
    """A number of things to two figures, 1,400 of 1,437."""
    return int(nearest(number, 10.0 ** max(np.floor(np.log10(max(number, 1.0))) - 1.0, 0.0)))


def counted(count: int, noun: str, plural: str = "") -> str:
    """A number of things, `1 contact`, `1,200 contacts`."""
    return f"{count:,} {noun if count == 1 else plural or noun + 's'}"


def listed(parts: Sequence[str], last: str = "and") -> str:
    """List in a sentence, `a, b and c`."""
    if len(parts) < 2:
        return "".join(parts)
    return f"{', '.join(parts[:-1])} {last} {parts[-1]}"


def sentence(text: str) -> str:
    """The text with a capital and a full stop."""
    plain = text.strip()
    return plain if not plain else plain[0].upper() + plain[1:] + ("" if plain[-1] in ".!?" else ".")


def noise_level(level: NoiseLevel) -> str:
    """Man-made noise as its source: "rural", "S5 measured on 40 m", "62 dB measured at 1 MHz"."""
    reading = level.reading
    if reading is not None:
        band = band_of(reading.frequency_mhz)
        where = f"at {reading.frequency_mhz:g} MHz" if band is None else f"on {band_title(band.name)}"
        over = f"+{reading.over_s9_db:g} dB" if reading.over_s9_db else ""
        return f"S{reading.s_units:g}{over} measured {where}"
    if level.measured_db_at_1_mhz is not None:
        return f"{level.measured_db_at_1_mhz:g} dB measured at 1 MHz"
    return level.place


def noise_of(level: NoiseLevel) -> str:
    """The same as a part of a sentence: "rural noise", "noise S5 measured on 40 m"."""
    return f"noise {noise_level(level)}" if level.is_measured else f"{level.place} noise"


def whom_words(parts: Sequence[Part]) -> str:
    """Countries to expect, `Spain and Italy, then Germany`; empty where nobody is in reach."""
    first = listed([one.name for one in parts if one.first])
    later = listed([one.name for one in parts if not one.first])
    return f"{first}, then {later}" if later else first
