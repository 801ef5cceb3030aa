"""Text and TOML from files, with every way it can fail said in one sentence."""

from __future__ import annotations

import math
import re
import tomllib
from collections.abc import Mapping
from datetime import date, datetime, time
from pathlib import Path

from evpack.base.errors import DataError

LARGEST = 1_000_000  # bytes; a build sheet of a hundred devices is a fiftieth of it
_LONGEST_TEXT = 4000  # characters of one value
_LONGEST_KEY = 60
_DEEPEST = 8
_BROADEST = 1000  # items of one list, keys of one table
_LARGEST_BITS = 53
# A line of a hundred thousand dotted words keeps the TOML reader busy for hours.
_LONGEST_LINE = 5000  # characters
_MOST_POINTS = 200  # in one line

Toml = Mapping[str, object]


def read_text(path: Path, name: str) -> str:
    """Return the text of a file.

    Raises
    ------
    DataError
        It is missing, a folder, too large, unreadable, or not UTF-8.
    """
    try:
        if path.is_dir():
            raise DataError(name, "", "is a folder; a file is needed")
        if not path.exists():
            raise DataError(name, "", "there is no such file")
        if not path.is_file():
            raise DataError(name, "", "is not a regular file")
        with path.open("rb") as file:
            raw = file.read(LARGEST + 1)
    except (OSError, ValueError) as problem:
        if isinstance(problem, DataError):
            raise
        raise DataError(name, "", f"cannot be read ({_reason(problem)})") from None
    if len(raw) > LARGEST:
        raise DataError(name, "", "is larger than 1 MB; a build sheet is a few kB")
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as problem:
        line = raw.count(b"\n", 0, problem.start) + 1
        raise DataError(
            name, f"line {line}", "is not UTF-8 text; save the file with UTF-8 encoding"
        ) from None


def _reason(problem: Exception) -> str:
    return getattr(problem, "strerror", None) or "its name is not one a file can have"


def is_file(path: Path) -> bool:
    """Return whether there is a file; a name that no file can have is none."""
    try:
        return path.is_file()
    except (OSError, ValueError):
        return False


def read_toml(text: str, name: str) -> dict[str, object]:
    """Return what a TOML text holds; sizes and kinds that no sheet needs are refused.

    Raises
    ------
    DataError
        It is empty, no TOML, or holds a date, a number or a nesting beyond belief.
    """
    if len(text) > LARGEST:
        raise DataError(name, "", "is larger than 1 MB; a build sheet is a few kB")
    for number, line in enumerate(text.split("\n"), start=1):
        if len(line) > _LONGEST_LINE or line.count(".") > _MOST_POINTS:
            raise DataError(name, f"line {number}", "is too long for a build sheet")
    try:
        found = tomllib.loads(text)
    except tomllib.TOMLDecodeError as problem:
        where = re.search(r"line (\d+)", str(problem))
        if where:
            line = f"line {where[1]}"
        else:
            line = f"line {text.count(chr(10)) + 1}" if "end of document" in str(problem) else ""
        what = re.sub(r" \(at .*\)$", "", str(problem))
        raise DataError(name, line, f"is not valid TOML: {what}{_hint(what)}") from None
    except (ValueError, RecursionError):
        raise DataError(
            name, "", "is not valid TOML: a number or a nesting beyond all measure"
        ) from None
    if not found:
        raise DataError(name, "", "is empty")
    _check(found, name, "", 0)
    return found


def _hint(what: str) -> str:
    if "Invalid value" in what:
        return '; text and quantities stand in quotes, such as capacity = "60 Ah"'
    if "Cannot overwrite" in what or "declare" in what:
        return "; it stands there twice"
    return ""


def _check(value: object, name: str, key: str, depth: int) -> None:
    """Refuse what could do harm further on: endless numbers and text, dates, deep nests."""
    problem = _too_much(value, depth)
    if problem:
        raise DataError(name, key, problem)
    if isinstance(value, dict):
        for part, inner in value.items():
            short = part[:_LONGEST_KEY]
            _check(inner, name, f"{key}.{short}" if key else short, depth + 1)
    elif isinstance(value, list):
        for number, inner in enumerate(value, start=1):
            _check(inner, name, f"{key}[{number}]", depth + 1)


def _too_much(value: object, depth: int) -> str:
    """Return why a value is refused whatever it stands for, or nothing."""
    if isinstance(value, dict | list):
        if depth > _DEEPEST:
            return "is nested too deeply"
        return f"holds more than {_BROADEST} entries" if len(value) > _BROADEST else ""
    if isinstance(value, str):
        if len(value) > _LONGEST_TEXT:
            return f"is {len(value)} characters long; {_LONGEST_TEXT} is the most"
        return "holds a null character" if "\0" in value else ""
    return _unbelievable(value)


def _unbelievable(value: object) -> str:
    if isinstance(value, datetime | date | time):
        return "is a date or time, which no build sheet needs"
    if isinstance(value, int) and value.bit_length() > _LARGEST_BITS:
        return "is a whole number beyond belief"
    if isinstance(value, float) and not math.isfinite(value):
        return f"{value} is not a finite number"
    return ""
