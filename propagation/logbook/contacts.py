"""Log as columns: time, band, mode, other station, reports, and the other station's place with uncertainty.

Every record becomes a contact or a problem with the reason. Repairs and guesses are problems too. The place
of the other station comes from the record's locator first, then its coordinates, then the call sign's prefix.
The uncertainty is the possible error of that place.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Final, Literal

import numpy as np

from propagation.base.errors import InputError
from propagation.base.units import FloatArray, IntArray, TimeArray
from propagation.geo.locator import Position, positions_of
from propagation.logbook.adif import Log, Problem, Record
from propagation.logbook.columns import Columns
from propagation.logbook.prefixes import origin
from propagation.spectrum.bands import BANDS, band_of, by_name
from propagation.spectrum.modes import ModeName

Source = Literal["locator", "coordinates", "prefix", "unknown"]

FIRST_YEAR: Final = 1900  # no amateur log is older
LONGEST_CALL: Final = 30  # characters of a call that are kept (ours)
LONGEST_WORD: Final = 40  # characters of a mode, a report, a date (ours)
LONGEST_COMMENT: Final = 500  # characters of a comment (ours)
MOST_POWER_W: Final = 10_000.0  # W: more is a mistake (ours)
KM_PER_DEGREE: Final = 111.2  # km, one degree of a great circle on the mean sphere
_DIGITAL: Final = frozenset(
    "RTTY PSK PSK31 PSK63 MFSK OLIVIA JT65 JT9 JT4 FT8 FT4 FST4 FST4W WSPR JS8 HELL CONTESTI THOR DOMINO "  # noqa: SIM905
    "MSK144 Q65 ROS PACKET AMTOR PACTOR DIGITAL DATA DIGI DYNAMIC TOR".split()
)
_VOICE: Final = frozenset("SSB USB LSB AM PHONE DIGITALVOICE VOICE".split())  # noqa: SIM905
_COORDINATE = re.compile(r"([NSEW])\s*(\d{1,3})\s+(\d{1,2}(?:\.\d+)?)", re.IGNORECASE)
_REPORT_DB = re.compile(r"[+-]?\d{1,2}")


@dataclass(frozen=True, eq=False)
class OtherStations(Columns):
    """Time, band, mode and other station: columns of length n, in order of time.

    time: UTC [datetime64[s]]. band: name, "20m". mode: as logged, in capitals; mode_class: one of the
    program's classes. call: the other station. lat_deg, lon_deg [deg]: its place, NaN where unknown;
    uncertainty_km: possible error of the place (half a cell, or the spread of a country's amateurs).
    """

    time: TimeArray
    band: tuple[str, ...]
    frequency_mhz: FloatArray
    mode: tuple[str, ...]
    mode_class: tuple[ModeName, ...]
    call: tuple[str, ...]
    lat_deg: FloatArray
    lon_deg: FloatArray
    uncertainty_km: FloatArray


@dataclass(frozen=True, eq=False)
class Contacts(OtherStations):
    """Contacts as columns of length n, in order of time.

    frequency_mhz: as logged, NaN where only the band is known. call, comment: texts, control characters made
    visible. source: source of the other station's place; country: by the prefix, " or " between several.
    report_sent, report_received: as logged. own_lat_deg, own_lon_deg: the operator's place where the record
    gives it. power_w: NaN where not logged. offset: byte in the file.
    """

    source: tuple[Source, ...]
    country: tuple[str, ...]
    report_sent: tuple[str, ...]
    report_received: tuple[str, ...]
    own_lat_deg: FloatArray
    own_lon_deg: FloatArray
    power_w: FloatArray
    comment: tuple[str, ...]
    offset: IntArray


def of_log(log: Log) -> tuple[Contacts, tuple[Problem, ...]]:
    """Contacts of a log, with the problems met in making them (the log's own are not repeated)."""
    problems: list[Problem] = []
    rows = []
    for record in log.records:
        row = _row(record, problems)
        if row is not None:
            rows.append(row)
    rows.sort(key=lambda row: (row[0], row[-1]))
    return _columns(rows, problems), tuple(problems)


def visible(text: str) -> str:
    """Text with line ends and tabs as spaces and every other control character as "·".

    Also covers characters that turn the direction of writing, which could make a line read as another.
    """
    if text.isprintable():
        return text
    spaced = re.sub(r"[\r\n\t\v\f\u0085\u2028\u2029]+", " ", text)
    return "".join(
        mark if unicodedata.category(mark) not in ("Cc", "Cf", "Cs", "Co", "Cn") else "·" for mark in spaced
    )


def _short(text: str, most: int) -> str:
    """Text of a record as stored: visible, without blanks around it, and cut to its greatest length."""
    plain = text.strip()
    return visible(plain) if len(plain) <= most else f"{visible(plain[:most])}..."


def moment(found: Mapping[str, str]) -> np.datetime64 | None:
    """Time of a record's contact, UTC; None where the record does not give it."""
    seconds = _seconds(found, "", lambda reason, lost=False: None)
    return None if seconds is None else np.datetime64(seconds, "s")


def _row(record: Record, problems: list[Problem]) -> tuple[Any, ...] | None:
    """Cells of one record; None, with the reason among the problems, where it is no contact."""
    found = record.fields

    def trouble(reason: str, lost: bool = False) -> None:
        problems.append(Problem(record.offset, reason, lost))

    call = _short(found.get("CALL", "").upper(), LONGEST_CALL)
    if not call:
        trouble("a contact without a call sign", lost=True)
        return None
    seconds = _seconds(found, call, trouble)
    if seconds is None:
        return None
    frequency = _number(found, "FREQ", call, trouble)
    band = _band(found, frequency, call, trouble)
    if band is None:
        return None
    mode, mode_class = _mode_of(found.get("MODE", "")[:LONGEST_WORD], found.get("SUBMODE", "")[:LONGEST_WORD])
    if mode_class is None:
        trouble(f"{call}: the mode {mode[:20]!r} is not known and is taken as voice")
        mode_class = "SSB"
    elif not mode:
        trouble(f"{call}: no mode is given; taken as voice")
    return (
        seconds, band, frequency, mode or mode_class, mode_class, call,
        found.get("GRIDSQUARE", "").strip(), found.get("LAT", ""), found.get("LON", ""),
        _short(found.get("RST_SENT", ""), LONGEST_WORD), _short(found.get("RST_RCVD", ""), LONGEST_WORD),
        found.get("MY_GRIDSQUARE", "").strip(), found.get("MY_LAT", ""), found.get("MY_LON", ""),
        _power_w(found, call, trouble),
        _short(found.get("COMMENT", "") or found.get("NOTES", ""), LONGEST_COMMENT), record.offset,
    )  # fmt: skip


def _columns(rows: Sequence[tuple[Any, ...]], problems: list[Problem]) -> Contacts:
    """Turn the rows into columns, with both ends placed."""
    cells = list(zip(*rows, strict=True)) or [()] * 17
    offsets = np.array(cells[16], dtype=np.int64)
    calls = cells[5]
    lat, lon, off, source = _placed(cells[6], cells[7], cells[8], calls, offsets, problems)
    own_lat, own_lon, _, _ = _placed(cells[11], cells[12], cells[13], None, offsets, problems)
    countries = []
    for number, call in enumerate(calls):
        start = origin(call)
        countries.append(" or ".join(start.countries))
        if source[number] == "unknown" and start.countries:
            lat[number], lon[number], off[number] = start.lat_deg, start.lon_deg, start.uncertainty_km
            source[number] = "prefix"
        elif source[number] == "unknown":
            problems.append(Problem(int(offsets[number]), f"{call}: not known where: {start.note}"))
    return Contacts(
        time=np.array(cells[0], dtype="datetime64[s]"),
        band=cells[1],
        frequency_mhz=np.array(cells[2], dtype=float),
        mode=cells[3],
        mode_class=cells[4],
        call=calls,
        lat_deg=lat,
        lon_deg=lon,
        uncertainty_km=off,
        source=tuple(source),
        country=tuple(countries),
        report_sent=cells[9],
        report_received=cells[10],
        own_lat_deg=own_lat,
        own_lon_deg=own_lon,
        power_w=np.array(cells[14], dtype=float),
        comment=cells[15],
        offset=offsets,
    )


def _placed(
    locators: Sequence[str],
    lat_texts: Sequence[str],
    lon_texts: Sequence[str],
    calls: Sequence[str] | None,
    offsets: IntArray,
    problems: list[Problem],
) -> tuple[FloatArray, FloatArray, FloatArray, list[Source]]:
    """Positions by locator, else by coordinates: lat, lon [deg], uncertainty [km] and source."""
    whole = [text[:8] for text in locators]  # longer locators are more exact than needed
    lat, lon = positions_of(whole)
    off = uncertainty_km(whole, lat)
    source: list[Source] = ["locator" if good else "unknown" for good in np.isfinite(lat).tolist()]
    for number, text in enumerate(locators):
        if source[number] == "locator":
            continue
        whose = f"{calls[number]}: " if calls is not None else "own "
        if text:
            problems.append(Problem(int(offsets[number]), f"{whose}{visible(text)[:12]!r} is not a locator"))
        if lat_texts[number] or lon_texts[number]:
            there = _coordinates(lat_texts[number], lon_texts[number])
            if there is None:
                shown = visible(f"{lat_texts[number]} {lon_texts[number]}")[:40]
                problems.append(
                    Problem(int(offsets[number]), f"{whose}the coordinates {shown!r} are not understood")
                )
                continue
            lat[number], lon[number], off[number] = there.lat_deg, there.lon_deg, 1.0
            source[number] = "coordinates"
    return lat, lon, off, source


def uncertainty_km(locators: Sequence[str], lat_deg: FloatArray) -> FloatArray:
    """Half the diagonal of each locator's cell [km], at its latitude: the farthest the station can be."""
    half_lat = np.array([{2: 5.0, 4: 0.5, 6: 1 / 48, 8: 1 / 480}.get(len(text), np.nan) for text in locators])
    half_lon = 2.0 * half_lat * np.cos(np.radians(lat_deg))
    return np.asarray(np.hypot(half_lat, half_lon) * KM_PER_DEGREE, dtype=np.float64)


def _coordinates(lat: str, lon: str) -> Position | None:
    """Position in ADIF's form, "S029 30.500" and "E029 15.000", or in decimal degrees."""
    values = []
    for text, letters in ((lat, "NS"), (lon, "EW")):
        found = _COORDINATE.fullmatch(text.strip())
        if found and found[1].upper() in letters and float(found[3]) < 60.0:
            degrees = float(found[2]) + float(found[3]) / 60.0
            values.append(-degrees if found[1].upper() in "SW" else degrees)
            continue
        try:
            values.append(float(text))
        except ValueError:
            return None
    try:
        return Position(*values)
    except InputError:
        return None


def _seconds(found: Mapping[str, str], call: str, trouble: Any) -> int | None:
    """Time of the contact in seconds of the epoch; None, with the reason reported, where there is none."""
    day = _days(found.get("QSO_DATE", "").strip()[:LONGEST_WORD])
    if day is None:
        given = visible(found.get("QSO_DATE", ""))[:20]
        trouble(f"{call}: {given!r} is not a date" if given else f"{call}: no date is given", lost=True)
        return None
    for name in ("TIME_ON", "TIME_OFF"):
        text = found.get(name, "").strip()
        if not text:
            continue
        clock = _clock(text[:LONGEST_WORD])
        if clock is None:
            trouble(f"{call}: {name} {visible(text)[:12]!r} is not a time of day")
            continue
        if name == "TIME_OFF":
            trouble(f"{call}: no usable TIME_ON; the time of its end is used")
        return day * 86400 + clock
    trouble(f"{call}: no usable time of day is given", lost=True)
    return None


@lru_cache(maxsize=4096)
def _days(text: str) -> int | None:
    """Days of the epoch of "20260320" or "2026-03-20"."""
    plain = text.replace("-", "") if re.fullmatch(r"\d{4}-\d\d-\d\d", text, re.ASCII) else text
    if not re.fullmatch(r"\d{8}", plain, re.ASCII) or int(plain[:4]) < FIRST_YEAR:
        return None
    try:
        return int(np.datetime64(f"{plain[:4]}-{plain[4:6]}-{plain[6:]}", "D").astype(int))
    except ValueError:
        return None


@lru_cache(maxsize=4096)
def _clock(text: str) -> int | None:
    """Seconds of the day of HHMM or HHMMSS, with or without colons and the leading zero."""
    plain = text.replace(":", "")
    if not re.fullmatch(r"\d{3,6}", plain, re.ASCII):
        return None
    plain = plain.zfill(4 if len(plain) <= 4 else 6).ljust(6, "0")
    hour, minute, second = int(plain[:2]), int(plain[2:4]), int(plain[4:])
    return hour * 3600 + minute * 60 + second if hour < 24 and minute < 60 and second < 60 else None


def _number(found: Mapping[str, str], name: str, call: str, trouble: Any) -> float:
    """Number in a record, NaN where it is missing or invalid."""
    text = found.get(name, "").strip()
    if not text:
        return float("nan")
    try:
        value = float(text.replace(",", "."))
    except ValueError:
        value = float("nan")
    if not (np.isfinite(value) and value >= 0.0):
        trouble(f"{call}: {name} {visible(text)[:20]!r} is not a number")
        return float("nan")
    return value


def _power_w(found: Mapping[str, str], call: str, trouble: Any) -> float:
    """The operator's power in a record, NaN where it is missing or cannot be."""
    value = _number(found, "TX_PWR", call, trouble)
    if value > MOST_POWER_W:
        trouble(f"{call}: TX_PWR of {value:g} W is no amateur's and is left out")
        return float("nan")
    return value


def _band(found: Mapping[str, str], frequency_mhz: float, call: str, trouble: Any) -> str | None:
    """Band by the frequency, else by its name; None, with the reason reported, where neither is valid."""
    given = found.get("BAND", "").strip()[:LONGEST_WORD].lower()
    by_frequency = _band_at(round(frequency_mhz, 6)) if frequency_mhz == frequency_mhz else ""
    if by_frequency:
        if given and given != by_frequency:
            trouble(
                f"{call}: the band {visible(given)[:10]!r} and the frequency disagree; {by_frequency} is used"
            )
        return by_frequency
    named = _band_named(given)
    if named:
        if frequency_mhz == frequency_mhz:
            trouble(f"{call}: {frequency_mhz:g} MHz is in no amateur band known here; {named} is used")
        return named
    if given or frequency_mhz == frequency_mhz:
        shown = visible(given)[:10] or f"{frequency_mhz:g} MHz"
        trouble(f"{call}: {shown} is no band between {BANDS[0].name} and {BANDS[-1].name}", lost=True)
    else:
        trouble(f"{call}: neither band nor frequency is given", lost=True)
    return None


@lru_cache(maxsize=4096)
def _band_at(frequency_mhz: float) -> str:
    band = band_of(frequency_mhz)
    return band.name if band else ""


@lru_cache(maxsize=256)
def _band_named(name: str) -> str:
    if not name:
        return ""
    try:
        return by_name(name).name
    except InputError:
        return ""


@lru_cache(maxsize=1024)
def _mode_of(mode: str, submode: str) -> tuple[str, ModeName | None]:
    """Mode to show (the submode where one is given) and its class; None where it is not known."""
    shown = visible((submode.strip() or mode.strip()).upper())
    for text in (mode.strip().upper(), submode.strip().upper()):
        if text == "CW":
            return shown, "CW"
        if text == "FM":
            return shown, "FM"
        if text in _VOICE:
            return shown, "SSB"
        if text in _DIGITAL or text.startswith(("PSK", "JT", "FT", "MFSK", "OLIVIA", "HELL", "QPSK")):
            return shown, "DIGITAL"
    return shown, "SSB" if not shown else None


def report_db(report: str) -> float:
    """Convert a report that is a signal-to-noise ratio, "-14", to decibels; NaN for other kinds (59)."""
    text = report.strip()
    if text[:1] in "+-" and _REPORT_DB.fullmatch(text):
        return float(text)
    return float("nan")


# --- unanswered calls ------------------------------------------------------------------------------------

# A record may carry this field, "40m 0930-0955; 10m 1000-1025": the stretches, in UTC, of calling on a band
# without an answer before that contact. A stretch that starts later than the contact's time of day belongs to
# the day before. Earlier versions continued it in others, the name with _2, _3 and so on behind it. The
# format tells other programs to ignore such a field (ADIF specification, from memory).
TRIED_FIELD: Final = "APP_BANDWHEN_TRIED"
_STRETCH = re.compile(r"(\w+)\s+([01]\d|2[0-3]):?([0-5]\d)\s*-\s*([01]\d|2[0-3]):?([0-5]\d)", re.ASCII)
MOST_STRETCHES: Final = 100  # in one record; more unanswered calls between two contacts are implausible
_DAY: Final = np.timedelta64(1, "D")


def _tried_name(number: int) -> str:
    return TRIED_FIELD if number == 1 else f"{TRIED_FIELD}_{number}"


def _tried(fields: Mapping[str, str]) -> str:
    """The stretches of a record, of all its fields for them."""
    values = [fields.get(TRIED_FIELD, "")]
    while (more := fields.get(_tried_name(len(values) + 1))) is not None:
        values.append(more)
    return ";".join(values)


@dataclass(frozen=True)
class UnansweredCalls:
    """One stretch of calls without an answer: the band, and its start and end, UTC."""

    band: str
    start: np.datetime64
    end: np.datetime64


def unanswered_calls(log: Log) -> tuple[tuple[UnansweredCalls, ...], tuple[Problem, ...]]:
    """Return the stretches in a log, in order of time, and the faults in those fields."""
    stretches: list[UnansweredCalls] = []
    problems: list[Problem] = []
    for record in log.records:
        parts = _tried(record.fields).split(";", MOST_STRETCHES)
        if len(parts) > MOST_STRETCHES:
            parts.pop()
            reason = f"{TRIED_FIELD}: more than {MOST_STRETCHES} stretches in one record; the rest is ignored"
            problems.append(Problem(record.offset, reason))
        for part in parts:
            if not part.strip():
                continue
            found = _stretch(part.strip(), moment(record.fields))
            if found is None:
                reason = (
                    f"{TRIED_FIELD}: {visible(part.strip())[:40]!r} is not understood; write 40m 0930-0955"
                )
                problems.append(Problem(record.offset, reason))
            else:
                stretches.append(found)
    stretches.sort(key=lambda stretch: (stretch.start, stretch.band))
    return tuple(stretches), tuple(problems)


def _stretch(text: str, contact: np.datetime64 | None) -> UnansweredCalls | None:
    found = _STRETCH.fullmatch(text)
    if found is None or contact is None:
        return None
    try:
        band = by_name(found[1]).name
    except InputError:
        return None
    midnight = contact.astype("datetime64[D]").astype("datetime64[s]")
    start = midnight + np.timedelta64(int(found[2]) * 60 + int(found[3]), "m")
    end = midnight + np.timedelta64(int(found[4]) * 60 + int(found[5]), "m")
    if start > contact:
        start, end = start - _DAY, end - _DAY
    if end <= start:
        end = end + _DAY
    return UnansweredCalls(band, start, end)
