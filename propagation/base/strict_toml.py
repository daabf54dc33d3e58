"""Strict reading and writing of dataclasses as TOML tables, with errors that say what to correct.

The valid keys of a table are the fields of its dataclass; the type of a value is the field's annotation; its
range, where there is one, is the field's metadata (`between(low, high)`). Anything else raises an InputError
that names the file, the table, the key, the unit and the nearest valid name.
"""

from __future__ import annotations

import itertools
import math
import re
import tomllib
import types
from collections.abc import Iterable, Mapping
from dataclasses import Field, fields, is_dataclass
from difflib import get_close_matches
from pathlib import Path
from typing import Any, Final, Literal, Union, get_args, get_origin, get_type_hints

from propagation.base.errors import InputError
from propagation.base.files import read_whole, reason_of, replace_file

MAX_BYTES: Final = 1_000_000  # bytes; a hand-written file is far smaller

MOST_PARTS: Final = 16  # parts of a key, a.b.c; the files here have two
_LONG_KEY: Final = re.compile(rf"""(?<![\w"'-])(?:[\w"'-]++[ \t]*+\.[ \t]*+){{{MOST_PARTS}}}[\w"'-]""")
LONGEST_SHOWN: Final = 60  # characters of a value that are shown in an error

_UNIT_WORDS: Final[tuple[tuple[str, str], ...]] = (
    ("_s_per_m", "siemens per metre"),
    ("_db_per_100m", "decibels per 100 m"),
    ("_mhz", "megahertz"),
    ("_khz", "kilohertz"),
    ("_ohm", "ohms"),
    ("_deg", "degrees"),
    ("_km", "kilometres"),
    ("_mm", "millimetres"),
    ("_uh", "microhenries"),
    ("_pf", "picofarads"),
    ("_dbi", "decibels over isotropic"),
    ("_db", "decibels"),
    ("_cm", "centimetres"),
    ("_w", "watts"),
    ("_m", "metres"),
)


def between(low: float | None = None, high: float | None = None) -> dict[str, Any]:
    """Field metadata: the value must be from `low` to `high`, both included."""
    return {"low": low, "high": high}


def unit_of(key: str) -> str:
    """Return the unit at the end of a key's name, in words; empty where there is none."""
    return next((words for ending, words in _UNIT_WORDS if key.endswith(ending)), "")


def read_text(path: Path | str) -> str:
    """The text of a file; InputError where it is missing, unreadable, too large or not UTF-8 text."""
    data = read_whole(path, MAX_BYTES, "it is not the file meant")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise InputError(f"{str(path)!r} is not UTF-8 text (byte {error.start}); save it as UTF-8.") from None


def parse(text: str, where: str) -> dict[str, Any]:
    """Convert TOML text to a dictionary; a syntax error becomes one sentence with its line."""
    try:
        if _LONG_KEY.search(text):  # the time to read one grows with the square of its parts
            raise InputError(f"{where}: not a usable TOML file: a key of more than {MOST_PARTS} parts.")
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        detail = str(error)
        raise InputError(
            f"{where}: not complete TOML: {detail[:1].lower()}{detail[1:]}; "
            f"repair that line, or restore the file if it was cut off."
        ) from None
    except RecursionError:
        raise InputError(f"{where}: not a usable TOML file: nested too deeply.") from None
    except ValueError:
        raise InputError(
            f"{where}: not a usable TOML file: a number of thousands of digits, or a date in no calendar."
        ) from None


def check_names(given: Iterable[str], valid: Iterable[str], where: str, what: str = "key") -> None:
    """Raise InputError for the first invalid name, with the nearest valid one."""
    valid = list(valid)
    for name in given:
        if name in valid:
            continue
        near = nearest(name, valid)
        if near:
            unit = unit_of(near)
            hint = f"the nearest valid one is {near!r}" + (f" (in {unit})" if unit else "")
        else:
            hint = "valid are " + ", ".join(valid)
        raise InputError(f"{where}: unknown {what} {_short(name)!r}; {hint}.")


def nearest(name: str, valid: Iterable[str]) -> str | None:
    """The valid name that looks most like `name`, or None where none does."""
    valid = list(valid)
    near = get_close_matches(name.lower(), valid, n=1, cutoff=0.5)
    if near:
        return near[0]
    return next((other for other in valid if other.startswith(name.lower()[:4]) and len(name) >= 4), None)


def require_table(value: Any, where: str) -> Mapping[str, Any]:
    """The value as a table; InputError where it is something else."""
    if not isinstance(value, dict):
        raise InputError(f"{where} must be a table of keys, not {_shown(value)}.")
    return value


def keys_of(record_type: type[Any], skip: Iterable[str] = ()) -> dict[str, Field[Any]]:
    """The keys a dataclass allows, in the order it declares them."""
    return {item.name: item for item in fields(record_type) if item.init and item.name not in skip}


def values(
    record_type: type[Any],
    table: Mapping[str, Any],
    where: str,
    skip: Iterable[str] = (),
    also: Iterable[str] = (),
) -> dict[str, Any]:
    """Return the checked values of a table, as arguments of a dataclass.

    Parameters: the dataclass, the table as read, `where` for the errors (`"FILE: [site]"`), fields that are
    not keys (`skip`) and keys that are not fields (`also`; these are allowed and left out of the result).
    """
    keys = keys_of(record_type, skip)
    also = list(also)
    check_names(table, [*keys, *also], where)
    annotations = get_type_hints(record_type)
    result = {}
    for key, raw in table.items():
        if key in also:
            continue
        value = convert(annotations[key], raw, f"{where} {key}", unit_of(key))
        _check_range(value, keys[key].metadata, f"{where} {key}", unit_of(key))
        result[key] = value
    return result


def build(record_type: type[Any], arguments: Mapping[str, Any], where: str, table: str = "") -> Any:
    """Build the dataclass from checked values; errors of its own checks are reported with file and table.

    `table` is the table's name where the dataclass' own errors begin with it ("antenna.kind: ...").
    """
    try:
        return record_type(**arguments)
    except InputError as error:
        own = error.message.removeprefix(f"{table}.") if table else error.message
        raise InputError(f"{where} {own}" if own != error.message else f"{where}: {own}") from None
    except TypeError:
        missing = [item.name for item in fields(record_type) if item.init and item.name not in arguments]
        raise InputError(f"{where}: a key is missing, one of: {', '.join(missing)}.") from None


def convert(annotation: Any, raw: Any, where: str, unit: str = "") -> Any:
    """Convert one TOML value to the annotated Python type; InputError where it is of another type.

    Accepts float, int, bool, str, Literal of strings, X | None, tuple[X, ...], tuples of fixed length,
    dataclasses (a table inside the table), and tuple[tuple[float, float], ...] also as a table of numbers by
    number, `{10 = 4.6, 30 = 8.1}`.
    """
    origin = get_origin(annotation)
    arguments = get_args(annotation)
    if origin is Literal:
        return _choice(arguments, raw, where)
    if origin in (Union, types.UnionType):
        inner = [item for item in arguments if item is not type(None)]
        return _first_fit(inner, raw, where, unit)
    if annotation is bool:
        if isinstance(raw, bool):
            return raw
        raise InputError(f"{where} must be true or false, not {_shown(raw)}.")
    if annotation is float or annotation is int:
        return _number(annotation, raw, where, unit)
    if annotation is str:
        if isinstance(raw, str):
            return raw
        raise InputError(f"{where} must be a text in quotes, not {_shown(raw)}.")
    if origin is tuple:
        if arguments[0] == tuple[float, float] and not isinstance(raw, list):
            return number_table(raw, where, unit)
        return _sequence(arguments, raw, where, unit)
    if is_dataclass(annotation) and isinstance(annotation, type):
        return build(annotation, values(annotation, require_table(raw, where), where), where)
    raise TypeError(f"no rule for a key of type {annotation!r}")


def number_table(raw: Any, where: str, unit: str = "") -> tuple[tuple[float, float], ...]:
    """Return a TOML table of numbers by number, `{10 = 4.6, 7.1 = 3.9}`, as pairs in rising order of the key.

    TOML reads a bare key with a point as a table inside a table; the two parts are joined again.
    """
    if not isinstance(raw, dict):
        raise InputError(f"{where} must be a table such as {{10 = 4.6, 30 = 8.1}}, not {_shown(raw)}.")
    pairs: list[tuple[float, float]] = []
    for key, value in raw.items():
        split = isinstance(value, dict)
        entries = [(f"{key}.{part}", item) for part, item in value.items()] if split else [(key, value)]
        for name, number in entries:
            try:
                x = float(name)
            except ValueError:
                x = math.nan
            if not math.isfinite(x):
                raise InputError(f"{where}: the key {_short(name)!r} must be a number.")
            pairs.append((x, _number(float, number, f"{where} at {name}", unit)))
    pairs.sort()
    for (x, _), (following, _) in itertools.pairwise(pairs):
        if x == following:
            raise InputError(f"{where}: {x:g} is given twice.")
    return tuple(pairs)


def _first_fit(kinds: list[Any], raw: Any, where: str, unit: str) -> Any:
    refusal: InputError | None = None
    for kind in kinds:
        try:
            return convert(kind, raw, where, unit)
        except InputError as error:
            refusal = refusal or error
    if refusal is None:
        raise TypeError("an empty union")
    raise refusal


def _choice(options: tuple[Any, ...], raw: Any, where: str) -> Any:
    if isinstance(raw, str):
        for option in options:
            if option.lower() == raw.strip().lower():
                return option
        near = nearest(raw, by_lower := {option.lower(): option for option in options})
        hint = f"; the nearest is {by_lower[near]!r}" if near else ""
        raise InputError(f"{where} cannot be {_short(raw)!r}{hint}; valid are {', '.join(options)}.")
    raise InputError(f"{where} must be one of {', '.join(options)}, not {_shown(raw)}.")


def _number(kind: type[Any], raw: Any, where: str, unit: str) -> Any:
    of_unit = f" of {unit}" if unit else ""
    if isinstance(raw, str):
        raise InputError(f"{where} must be a bare number{of_unit}, not the text {_short(raw)!r}.")
    if isinstance(raw, bool) or not isinstance(raw, (int, float)):
        raise InputError(f"{where} must be a number{of_unit}, not {_shown(raw)}.")
    try:
        value = float(raw)
    except OverflowError:
        value = math.inf
    if kind is int:
        if not math.isfinite(value) or int(raw) != raw:
            raise InputError(f"{where} must be a whole number, not {_shown(raw)}.")
        return int(raw)
    if not math.isfinite(value):
        raise InputError(f"{where} must be a finite number{of_unit}, not {_shown(raw)}.")
    return value


def _sequence(arguments: tuple[Any, ...], raw: Any, where: str, unit: str) -> tuple[Any, ...]:
    if not isinstance(raw, list):
        raise InputError(f"{where} must be a list in square brackets, not {_shown(raw)}.")
    if len(arguments) == 2 and arguments[1] is Ellipsis:
        kinds = [arguments[0]] * len(raw)
    else:
        kinds = list(arguments)
        if len(raw) != len(kinds):
            raise InputError(f"{where} must be a list of {len(kinds)}, not of {len(raw)}.")
    return tuple(convert(kind, item, where, unit) for kind, item in zip(kinds, raw, strict=True))


def _check_range(value: Any, metadata: Mapping[str, Any], where: str, unit: str) -> None:
    low, high = metadata.get("low"), metadata.get("high")
    if not isinstance(value, (int, float)) or isinstance(value, bool):
        return
    words = f" {unit}" if unit else ""
    if (low is not None and value < low) or (high is not None and value > high):
        if high is None:
            span = f"{low:g}{words} or more"
        elif low is None:
            span = f"{high:g}{words} or less"
        else:
            span = f"from {low:g} to {high:g}{words}"
        raise InputError(f"{where} must be {span}, not {value:g}.")


def _shown(raw: Any) -> str:
    if isinstance(raw, bool):
        return "true" if raw else "false"
    if isinstance(raw, str):
        return f"the text {_short(raw)!r}"
    if isinstance(raw, list):
        return "a list"
    if isinstance(raw, dict):
        return "a table"
    if isinstance(raw, int) and abs(raw) >= 10**LONGEST_SHOWN:
        return "a number of very many digits"
    return str(raw)


def _short(text: str) -> str:
    return text if len(text) <= LONGEST_SHOWN else f"{text[:LONGEST_SHOWN]}..."


def written(value: Any) -> str:
    """Write a value as TOML: text, number, boolean, list, or a table of numbers by number."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return _quoted(value)
    if isinstance(value, (int, float)):
        return repr(value)
    if is_dataclass(value) and not isinstance(value, type):
        pairs = [f"{key} = {written(getattr(value, key))}" for key in keys_of(type(value))]
        return "{" + ", ".join(pairs) + "}"
    if isinstance(value, (tuple, list)):
        if value and all(isinstance(item, tuple) and len(item) == 2 for item in value):
            pairs = [f'"{key!r}" = {written(item)}' for key, item in value]
            return "{" + ", ".join(pairs) + "}"
        return "[" + ", ".join(written(item) for item in value) + "]"
    raise TypeError(f"no TOML form for {value!r}")


def _quoted(text: str) -> str:
    marks = {"\\": "\\\\", '"': '\\"', "\n": "\\n", "\t": "\\t", "\r": "\\r"}
    plain = (marks.get(mark) or (mark if mark.isprintable() else f"\\U{ord(mark):08X}") for mark in text)
    return '"' + "".join(plain) + '"'


def write_atomically(path: Path | str, text: str) -> None:
    """Write a file completely or not at all: a new file next to it replaces it in one step.

    Missing folders are made. InputError where the file cannot be written.
    """
    try:
        replace_file(path, text.encode("utf-8", errors="replace"))
    except (OSError, ValueError) as error:
        raise InputError(f"{str(path)!r} cannot be written: {reason_of(error)}.") from None
