"""`bandwhen circuits FILE.csv`: a forecast for every row of a file, written as CSV."""

from __future__ import annotations

import argparse
import csv
import io
import math
import re
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import lru_cache
from typing import TYPE_CHECKING, Final, TextIO

import numpy as np

from propagation.base.errors import InputError
from propagation.base.files import open_binary, reason_of
from propagation.base.text import text_cell
from tui.app import clock, command_base

if TYPE_CHECKING:
    from propagation.base.units import TimeArray
    from propagation.signal.chances.many_circuits import CircuitAnswers, Rows
    from tui.app.command_base import Subparsers

COLUMNS: Final = ("time", "tx", "rx", "frequency_mhz", "power_dbm")
OPTIONAL: Final = ("r12", "route")
ADDED: Final = ("snr_db", "chance", "muf_mhz", "field_dbuv", "limit")
LOWEST_MHZ, HIGHEST_MHZ = 1.0, 300.0  # MHz, range of the engine
WEAKEST_DBM, STRONGEST_DBM = -60.0, 70.0  # dBm, a nanowatt to ten kilowatts
QUIETEST_R12, MOST_ACTIVE_R12 = 0.0, 300.0  # smoothed sunspot number, version 1; 201 was the highest so far
MOST_REPORTS: Final = 1000  # bad rows reported one by one; the rest are counted
MOST_HINTS: Final = 50  # bad rows for which names similar to an unknown place are searched
MOST_ROWS: Final = 250_000  # rows of one file (ours: memory)
LONGEST_LINE: Final = 1_000_000  # characters

_USUAL_TIME = re.compile(r"\d{4}-\d\d-\d\d[T ]\d\d:\d\d(:\d\d)?Z?")


def add_parser(subparsers: Subparsers) -> None:
    """Describe the command's options."""
    parser = subparsers.add_parser(
        "circuits",
        help="a forecast for every row of a CSV file",
        description=f"Reads the columns {', '.join(COLUMNS)} (tx and rx are places) and writes the same rows "
        f"with {', '.join(ADDED)}. One way, both ends a plain 0 dBi antenna; with --station tx has the "
        "station's antenna and rx is its far end. field_dbuv is the field at rx in dB over 1 uV/m: monthly "
        "median, the row's power into an isotropic antenna, whatever the station. Optional columns: r12, the "
        "smoothed sunspot number (version 1) of that row instead of the conditions of the file; route, short "
        "or long instead of the stronger one. A cell may be empty. "
        "A bad row is reported by its number and left out.",
    )
    parser.add_argument("file", metavar="FILE.csv", help="the file to read; - for standard input")
    parser.add_argument(
        "--snr",
        type=command_base.number,
        default=-26.0,
        metavar="DB",
        help="signal-to-noise ratio in 2500 Hz that counts as there (default: -26)",
    )
    command_base.add_station(parser)
    command_base.add_conditions(parser)


def run(args: argparse.Namespace) -> int:
    """Read, compute and write; return 2 if a row was bad."""
    from propagation.geo.ground import GROUNDS
    from propagation.signal.chances.many_circuits import ONE_WATT, many_circuits
    from propagation.station import station
    from propagation.station.terminals import far_terminal, own_terminal

    if not -100.0 <= args.snr <= 100.0:
        raise InputError(f"--snr {args.snr:g} dB is outside -100 to 100 dB.")
    sender = receiver = ONE_WATT
    ground = GROUNDS["average"]
    own = command_base.station_path(args)
    if own is not None:
        described = station.load(own)
        sender, receiver = own_terminal(described), far_terminal(described.far_end)
        ground = described.site.earth
    with _opened(args.file) as file:
        table = read(file, "standard input" if args.file == "-" else args.file)
    reports = table.reports
    for report in reports:
        print(report, file=sys.stderr)
    if table.untold:
        print(f"And {table.untold} more bad rows.", file=sys.stderr)
    rows = table.rows()
    writer = csv.writer(sys.stdout, lineterminator="\n")
    own_columns = [i for i, name in enumerate(table.header) if name.strip().lower() not in ADDED]
    writer.writerow([text_cell(table.header[i]) for i in own_columns] + list(ADDED))
    if len(rows):
        state = command_base.conditions_of(args, rows.times)
        answers = many_circuits(rows, state, args.snr, sender=sender, receiver=receiver, ground=ground)
        writer.writerows(_written(table.cells, own_columns, answers))
    return 2 if reports else 0


def _written(cells: list[list[str]], own_columns: list[int], answers: CircuitAnswers) -> Iterator[list[str]]:
    from propagation.signal.rays.causes import CAUSES

    columns = zip(
        cells,
        answers.snr_db.tolist(),
        answers.chance.tolist(),
        answers.muf_mhz.tolist(),
        answers.field_dbuv.tolist(),
        answers.limit.tolist(),
        strict=True,
    )
    for row, snr, chance, muf, field_dbuv, limit in columns:
        yield [
            *(text_cell(row[i]) for i in own_columns),
            f"{snr:.1f}",
            f"{chance:.4f}",
            f"{muf:.2f}" if math.isfinite(muf) else "",
            f"{field_dbuv:.1f}",
            CAUSES[limit],
        ]


@contextmanager
def _opened(name: str) -> Iterator[TextIO]:
    if name == "-":
        if sys.stdin is None or sys.stdin.closed:
            raise InputError("Standard input is closed: pipe the circuits into it, or name a file.")
        yield sys.stdin
        return
    with open_binary(name) as file, io.TextIOWrapper(file, encoding="utf-8-sig", newline="") as text:
        yield text


def _lines(file: TextIO, where: str) -> Iterator[str]:
    """Return the lines of a file; InputError if a line is too long for a table."""
    number = 0
    while line := file.readline(LONGEST_LINE + 1):
        number += 1
        if len(line) > LONGEST_LINE:
            raise InputError(f"{where}: line {number} is longer than 1 MB; this is no table of circuits.")
        yield line


@dataclass
class Table:
    """Good rows of a file, and a sentence for each bad one. `places`: row number and line of each row."""

    header: list[str]
    cells: list[list[str]] = field(default_factory=list)
    places: list[tuple[int, int]] = field(default_factory=list)
    time_texts: list[str] = field(default_factory=list)
    ends: list[tuple[float, float, float, float]] = field(default_factory=list)
    numbers: list[tuple[float, float, float, int]] = field(default_factory=list)  # MHz, dBm, R12, route
    bad: list[tuple[int, int, str]] = field(default_factory=list)
    untold: int = 0  # bad rows beyond MOST_REPORTS
    times: TimeArray = field(default_factory=lambda: np.zeros(0, dtype="datetime64[s]"))

    @property
    def reports(self) -> list[str]:
        """Sentences on the bad rows, in order."""
        return [f"Row {number} (line {line}): {sentence}" for number, line, sentence in sorted(self.bad)]

    def refuse(self, where: tuple[int, int], sentence: str) -> None:
        """Add an unusable row; those beyond MOST_REPORTS are only counted."""
        if len(self.bad) < MOST_REPORTS:
            self.bad.append((*where, sentence))
        else:
            self.untold += 1

    def read_times(self) -> None:
        """Read all times at once; row by row only if one of them is invalid or out of range."""
        try:
            times = np.array([text.removesuffix("Z") for text in self.time_texts], dtype="datetime64[s]")
            years = times.astype("datetime64[Y]").astype(np.int64) + 1970
            if not np.any((years < clock.FIRST_YEAR) | (years >= clock.LAST_YEAR)):
                self.times = times
                return
        except ValueError:
            pass
        readable, found = [], []
        for row, text in enumerate(self.time_texts):
            try:
                found.append(clock.parse_time(text))
                readable.append(row)
            except InputError as error:
                self.refuse(self.places[row], error.message)
        self.cells = [self.cells[row] for row in readable]
        self.places = [self.places[row] for row in readable]
        self.ends = [self.ends[row] for row in readable]
        self.numbers = [self.numbers[row] for row in readable]
        self.times = np.array(found, dtype="datetime64[s]")

    def rows(self) -> Rows:
        """Return the good rows as arrays."""
        from propagation.signal.chances.many_circuits import Rows

        ends = np.array(self.ends, dtype=np.float64).reshape(-1, 4)
        numbers = np.array(self.numbers, dtype=np.float64).reshape(-1, 4)
        r12, route = numbers[:, 2], numbers[:, 3].astype(np.int64)
        return Rows(
            tx_lat_deg=ends[:, 0],
            tx_lon_deg=ends[:, 1],
            rx_lat_deg=ends[:, 2],
            rx_lon_deg=ends[:, 3],
            times=self.times,
            frequency_mhz=numbers[:, 0],
            power_dbm=numbers[:, 1],
            r12=None if np.all(np.isnan(r12)) else r12,
            route=route if np.any(route) else None,
        )


def read(file: TextIO, where: str) -> Table:
    """Read a file's rows; InputError if it is not such a table."""
    reader = csv.reader(_lines(file, where))
    try:
        header = next(reader, None)
        if header is None or not any(cell.strip() for cell in header):
            raise InputError(f"{where} is empty; its first line must name the columns {', '.join(COLUMNS)}.")
        places = _columns(header, where)
        table = Table(header)
        number = 0
        while True:
            try:
                row = next(reader, None)
            except csv.Error as error:
                number += 1
                table.refuse((number, reader.line_num), f"{error}.")
                continue
            if row is None:
                table.read_times()
                return table
            if not row:
                continue
            number += 1
            if number > MOST_ROWS:
                raise InputError(f"{where} has more than {MOST_ROWS:,} rows; cut it into several files.")
            _take(table, row, places, (number, reader.line_num))
    except UnicodeDecodeError:
        raise InputError(f"{where} is not UTF-8 text; save it as UTF-8.") from None
    except csv.Error as error:
        raise InputError(f"{where} cannot be read as CSV: {error}.") from None
    except OSError as error:  # standard input that is a closed or write-only stream
        raise InputError(f"{where} cannot be read: {reason_of(error)}.") from None


def _columns(header: list[str], where: str) -> list[int | None]:
    """Columns of `COLUMNS` and `OPTIONAL` in a heading, None for one that is missing."""
    names = [cell.strip().lower() for cell in header]
    missing = [column for column in COLUMNS if column not in names]
    if missing:
        raise InputError(
            f"{where} has no column {', '.join(missing)}; its first line must name {', '.join(COLUMNS)}."
        )
    twice = [column for column in (*COLUMNS, *OPTIONAL) if names.count(column) > 1]
    if twice:
        raise InputError(f"{where} has the column {', '.join(twice)} twice.")
    return [names.index(column) if column in names else None for column in (*COLUMNS, *OPTIONAL)]


def _take(table: Table, row: list[str], places: list[int | None], where: tuple[int, int]) -> None:
    if len(row) != len(table.header):
        table.refuse(where, f"{len(row)} fields instead of {len(table.header)}.")
        return
    cells = ("" if place is None else row[place].strip() for place in places)
    time, tx, rx, frequency, power, r12, route = cells
    try:
        _check_time(time)
        hint = len(table.bad) < MOST_HINTS
        ends = (*_place(tx, "tx", hint), *_place(rx, "rx", hint))
        numbers = (
            _number(frequency, "frequency_mhz", LOWEST_MHZ, HIGHEST_MHZ, "MHz"),
            _number(power, "power_dbm", WEAKEST_DBM, STRONGEST_DBM, "dBm"),
            _number(r12, "r12", QUIETEST_R12, MOST_ACTIVE_R12, "") if r12 else math.nan,
            _route(route),
        )
    except InputError as error:
        table.refuse(where, error.message)
        return
    table.cells.append(row)
    table.places.append(where)
    table.time_texts.append(time)
    table.ends.append(ends)
    table.numbers.append(numbers)


def _check_time(text: str) -> None:
    if not _USUAL_TIME.fullmatch(text):
        raise InputError(f"{text!r} is not a time; write it in UTC as 2026-03-20T12:00Z.")


@lru_cache(maxsize=50_000)
def _located(text: str, hint: bool) -> tuple[float, float] | str:
    """Position of a place, or the error text; similar names are searched only if `hint` is true."""
    from propagation.geo import places

    try:
        _, position = places.named_place(text, hint)  # no friends: a file of data means the same to everybody
    except InputError as error:
        return error.message
    return position.lat_deg, position.lon_deg


def _place(text: str, column: str, hint: bool) -> tuple[float, float]:
    found = _located(text, hint)
    if isinstance(found, str):
        raise InputError(f"{column}: {found}")
    return found


@lru_cache(maxsize=50_000)
def _number(text: str, column: str, low: float, high: float, unit: str) -> float:
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise InputError(f"{column} {text!r} is not a number{f' of {unit}' if unit else ''}.")
    if not low <= value <= high:
        raise InputError(f"{column} {value:g} is outside {low:g} to {high:g}{f' {unit}' if unit else ''}.")
    return value


@lru_cache(maxsize=1000)
def _route(text: str) -> int:
    from propagation.signal.chances.many_circuits import ROUTE_CHOICES

    if text.lower() not in ROUTE_CHOICES:
        raise InputError(f"route {text!r} is unknown; write short or long, or leave it empty.")
    return ROUTE_CHOICES.index(text.lower())
