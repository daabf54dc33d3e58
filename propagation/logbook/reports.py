"""Reception reports as CSV: sender, reporter, time, frequency and strength.

Two forms are read. Without a heading, the column order of the open archive of weak-signal reports (from
memory): spot id, unix time, reporter, reporter's locator, signal-to-noise ratio in 2500 Hz [dB], frequency
[MHz], call of the sender, sender's locator, power [dBm], drift [Hz/min], distance [km], azimuth [deg], band,
version, code. With a heading, columns by name in any order; `NAMES` lists the accepted names.

Every row becomes a report or a problem with its byte offset and reason.
"""

from __future__ import annotations

import csv
import io
import re
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from propagation.base.errors import InputError
from propagation.base.units import FloatArray, IntArray, TimeArray
from propagation.geo.locator import positions_of
from propagation.logbook.adif import Problem
from propagation.logbook.columns import Columns
from propagation.logbook.contacts import uncertainty_km, visible
from propagation.logbook.prefixes import origin
from propagation.logbook.text_blocks import UTF16_MARKS, Block
from propagation.spectrum.bands import band_of, by_name

ARCHIVE_ORDER: Final[tuple[str, ...]] = (
    "id", "time", "reporter", "reporter_locator", "snr_db", "frequency_mhz", "call", "locator", "power_dbm",
    "drift", "distance_km", "azimuth_deg", "band", "version", "code",
)  # fmt: skip
_HEADINGS: Final[dict[str, str]] = {  # column -> headings, small letters and digits only
    "time": "time timeutc utc unixtime timestamp datetime",
    "date": "date qsodate day",
    "clock": "clock timeon hour",
    "reporter": "reporter receiver rx rxcall heardby",
    "reporter_locator": "reporterlocator reportergrid rxlocator rxgrid receiverlocator receivergrid",
    "snr_db": "snr snrdb db",
    "frequency_mhz": "mhz frequency frequencymhz freq freqmhz",
    "call": "call callsign sender tx txcall heard",
    "locator": "locator grid gridsquare txlocator txgrid senderlocator sendergrid",
    "power_dbm": "power dbm powerdbm",
    "power_w": "powerw watts",
    "band": "band",
}
NAMES: Final[dict[str, str]] = {
    heading: column for column, headings in _HEADINGS.items() for heading in headings.split()
}
MOST_POWER_DBM: Final = 70.0  # dBm, 10 kW: more is a mistake
LONGEST_LINE: Final = 1_000_000  # bytes; a longer line is no report
TOO_LONG: Final = "the line is longer than 1 MB and is left out"
NOTHING: Final = "the file holds a heading and no reports"
_SEPARATORS: Final = ",;\t"
_STAMP = re.compile(
    r"(\d{4})-(\d\d)-(\d\d)[T ](\d\d):?(\d\d)(?::?(\d\d)(?:\.\d+)?)?\s*(?:Z|UTC|[+-]00:?00)?", re.ASCII | re.I
)
_DAY = re.compile(r"(\d{4})-?(\d\d)-?(\d\d)", re.ASCII)
_CLOCK = re.compile(r"(\d\d):?(\d\d)(?::?(\d\d))?\s*Z?", re.ASCII | re.I)


@dataclass(frozen=True, eq=False)
class Reports(Columns):
    """Reception reports as columns of length n, in order of time.

    time: UTC [datetime64[s]]. call: who was heard, reporter: by whom. lat_deg, lon_deg, uncertainty_km: the
    sender's place [deg, km]; reporter_lat_deg, reporter_lon_deg, reporter_uncertainty_km: the reporter's;
    NaN where unknown. frequency_mhz: NaN where only the band is known. snr_db: in 2500 Hz. power_dbm: NaN
    where not given. offset: byte in the file.
    """

    time: TimeArray
    call: tuple[str, ...]
    reporter: tuple[str, ...]
    lat_deg: FloatArray
    lon_deg: FloatArray
    uncertainty_km: FloatArray
    reporter_lat_deg: FloatArray
    reporter_lon_deg: FloatArray
    reporter_uncertainty_km: FloatArray
    band: tuple[str, ...]
    frequency_mhz: FloatArray
    snr_db: FloatArray
    power_dbm: FloatArray
    offset: IntArray


@dataclass(frozen=True)
class Layout:
    """Layout of the rows of a file: the mark between cells, and the columns by name."""

    separator: str
    columns: dict[str, int]


def read(data: bytes) -> tuple[Reports, tuple[Problem, ...]]:
    """Read the reports in the bytes of a CSV file. Never fails: unreadable rows are among the problems."""
    if data[:2] in UTF16_MARKS:
        data = data.decode("utf-16", errors="replace").encode("utf-8", errors="replace")
    reports, problems, _ = read_block(Block(0, data, first=True, last=True), None)
    if not reports.size and not problems:
        problems = (Problem(0, NOTHING),)
    return reports, problems


def read_block(block: Block, layout: Layout | None) -> tuple[Reports, tuple[Problem, ...], Layout | None]:
    """Read the reports in one block of a file, the problems, and the layout.

    layout: None before the first row that is not empty. The returned one is None where the file's first row
    is invalid; then nothing of the file can be used.
    """
    problems: list[Problem] = []
    lines = _text(block.data).split("\n")
    starts = np.cumsum([0, *(len(line) + 1 for line in lines[:-1])]) + block.offset  # a character per byte
    begin = 0
    if layout is None:
        first = next((number for number, line in enumerate(lines) if line.strip()), None)
        if first is None:
            return _columns([], problems), (Problem(0, "the file is empty"),), None
        separator = max(_SEPARATORS, key=lambda mark: (lines[first].count(mark), mark == ","))
        heading = _heading(_cells(lines[first][:LONGEST_LINE], separator))
        if isinstance(heading, str):
            return _columns([], problems), (Problem(int(starts[first]), heading, lost=True),), None
        layout = Layout(separator, heading or {name: place for place, name in enumerate(ARCHIVE_ORDER)})
        begin = first + (1 if heading else 0)
    rows = []
    for number in range(begin, len(lines)):
        line = lines[number]
        if not line.strip() or line.startswith("#"):
            continue
        row = TOO_LONG if len(line) > LONGEST_LINE else _row(_cells(line, layout.separator), layout.columns)
        if isinstance(row, str):
            problems.append(Problem(int(starts[number]), row, lost=True))
        else:
            rows.append((*row, int(starts[number])))
    rows.sort(key=lambda row: (row[0], row[-1]))
    return _columns(rows, problems), tuple(problems), layout


def _text(data: bytes) -> str:
    if data.startswith(b"\xef\xbb\xbf"):
        data = b"   " + data[3:]  # the byte order mark as blanks, so that offsets stay correct
    return data.decode("latin-1").replace("\r", " ").replace("\x00", " ")


def _cells(line: str, separator: str) -> list[str]:
    if '"' not in line:
        return [cell.strip() for cell in line.split(separator)]
    try:
        return [cell.strip() for cell in next(csv.reader(io.StringIO(line), delimiter=separator))]
    except (csv.Error, StopIteration):
        return [cell.strip(' "') for cell in line.split(separator)]


def _heading(cells: list[str]) -> dict[str, int] | str | None:
    """Columns by name; None where the line is no heading; a sentence where it is an invalid heading."""
    known = [NAMES.get(re.sub(r"[^a-z0-9]", "", cell.lower())) for cell in cells]
    if sum(name is not None for name in known) < 2:
        if len(cells) < 8:
            return "neither a heading of named columns nor the 15 columns of the archive's order"
        return None
    columns: dict[str, int] = {}
    for place, name in enumerate(known):
        if name is not None:
            columns.setdefault(name, place)
    if "time" not in columns and not {"date", "clock"} <= columns.keys():
        return "the heading names no time column"
    if "call" not in columns and "reporter" not in columns:
        return "the heading names neither call nor reporter"
    if "band" not in columns and "frequency_mhz" not in columns:
        return "the heading names neither band nor frequency"
    return columns


def _row(cells: list[str], columns: dict[str, int]) -> tuple[Any, ...] | str:
    """Values of one row, or the reason why it cannot be used."""

    def cell(name: str) -> str:
        place = columns.get(name, -1)
        return cells[place] if 0 <= place < len(cells) else ""

    seconds = _seconds(cell("time"), cell("date"), cell("clock"))
    if seconds is None:
        return f"{visible(cell('time') or cell('date'))[:24]!r} is not a time"
    call, reporter = visible(cell("call").upper())[:20], visible(cell("reporter").upper())[:20]
    if not call and not reporter:
        return "neither call nor reporter is given"
    frequency = _number(cell("frequency_mhz"))
    if frequency is None:
        return f"{visible(cell('frequency_mhz'))[:20]!r} is not a frequency"
    if frequency > 1000.0:  # some write kilohertz or hertz
        frequency /= 1e6 if frequency > 1e6 else 1e3
    band = band_of(frequency) if frequency == frequency else None
    name = band.name if band else _band_named(cell("band"))
    if not name:
        return (
            "the frequency is in no amateur band known here" if frequency == frequency else "no band is given"
        )
    snr, power = _number(cell("snr_db")), _number(cell("power_dbm"))
    watts = _number(cell("power_w"))
    if snr is None:
        return f"{visible(cell('snr_db'))[:20]!r} is not a signal-to-noise ratio"
    if watts is not None and watts > 0.0:
        power = 30.0 + 10.0 * float(np.log10(watts))
    if power is None or power > MOST_POWER_DBM:
        return f"{visible(cell('power_dbm') or cell('power_w'))[:20]!r} is not a power"
    return seconds, call, reporter, cell("locator"), cell("reporter_locator"), name, frequency, snr, power


def _seconds(time: str, date: str, clock: str) -> int | None:
    if time.isascii() and time.isdigit() and len(time) >= 9:
        return int(time) if len(time) <= 11 else None
    found = _STAMP.fullmatch(time)
    if found is None:
        day, hours = _DAY.fullmatch(date or time), _CLOCK.fullmatch(clock)
        if day is None or hours is None:
            return None
        parts = (*day.groups(), *hours.groups())
    else:
        parts = found.groups()
    year, month, number, hour, minute, second = (part or "00" for part in parts)
    try:
        return int(np.datetime64(f"{year}-{month}-{number}T{hour}:{minute}:{second}", "s").astype(np.int64))
    except ValueError:
        return None


def _number(text: str) -> float | None:
    """Number in a cell, NaN where nothing is given, None where it is invalid."""
    if not text:
        return float("nan")
    try:
        value = float(text)
    except ValueError:
        return None
    return value if np.isfinite(value) else None


def _band_named(name: str) -> str:
    try:
        return by_name(name).name if name else ""
    except InputError:
        return ""


def _columns(rows: list[tuple[Any, ...]], problems: list[Problem]) -> Reports:
    cells = list(zip(*rows, strict=True)) or [()] * 10
    offsets = np.array(cells[9], dtype=np.int64)
    lat, lon, off = _placed(cells[1], cells[3], offsets, problems)
    there_lat, there_lon, there_off = _placed(cells[2], cells[4], offsets, problems)
    return Reports(
        time=np.array(cells[0], dtype="datetime64[s]"),
        call=cells[1],
        reporter=cells[2],
        lat_deg=lat,
        lon_deg=lon,
        uncertainty_km=off,
        reporter_lat_deg=there_lat,
        reporter_lon_deg=there_lon,
        reporter_uncertainty_km=there_off,
        band=cells[5],
        frequency_mhz=np.array(cells[6], dtype=float),
        snr_db=np.array(cells[7], dtype=float),
        power_dbm=np.array(cells[8], dtype=float),
        offset=offsets,
    )


def _placed(
    calls: tuple[str, ...], locators: tuple[str, ...], offsets: IntArray, problems: list[Problem]
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Positions by locator, else by the call's prefix: lat, lon [deg] and uncertainty [km]."""
    whole = [text[:8] for text in locators]
    lat, lon = positions_of(whole)
    off = uncertainty_km(whole, lat)
    for number in np.flatnonzero(~np.isfinite(lat)).tolist():
        if locators[number]:
            shown = visible(locators[number])[:12]
            problems.append(Problem(int(offsets[number]), f"{calls[number]}: {shown!r} is not a locator"))
        if calls[number]:
            start = origin(calls[number])
            lat[number], lon[number], off[number] = start.lat_deg, start.lon_deg, start.uncertainty_km
    return lat, lon, off
