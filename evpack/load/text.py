"""Text and TOML from files, with every way it can fail said in one sentence."""

from __future__ import annotations

import difflib
import math
import re
import tomllib
from collections.abc import Mapping
from datetime import date, datetime, time
from pathlib import Path

from evpack.base.errors import DataError
from evpack.base.files import read_bytes, why
from evpack.load.mistakes import guess, kind_of_file

LARGEST = 1_000_000  # bytes; a build sheet of a hundred devices is a fiftieth of it
_LONGEST_TEXT = 4000  # characters of one value
_LONGEST_KEY = 60
_DEEPEST = 8
_MOST_NAMED = 12  # files of a folder
_BROADEST = 1000  # items of one list, keys of one table
_LARGEST_BITS = 53
# A line of a hundred thousand dotted words keeps the TOML reader busy for hours.
_LONGEST_LINE = 5000  # characters
_MOST_POINTS = 200  # in one line

_TOO_LARGE = "is larger than 1 MB; a build sheet is a few kB"
_TWICE = "; it stands there twice"
_UTF_16 = (b"\xff\xfe", b"\xfe\xff")

Toml = Mapping[str, object]


def read_text(path: Path, name: str) -> str:
    """Return the text of a file.

    Raises
    ------
    DataError
        It is missing, a folder, too large, unreadable, or not UTF-8.
    """
    try:
        if not path.exists():
            raise DataError(name, "", f"there is no such file{_others(path)}")
    except (OSError, ValueError) as problem:
        if isinstance(problem, DataError):
            raise
        raise DataError(name, "", f"cannot be read ({why(problem)})") from None
    raw = read_bytes(path, name, most=LARGEST, too_large=_TOO_LARGE)
    if raw.startswith(_UTF_16):
        raise DataError(name, "", "is UTF-16 text; save the file with UTF-8 encoding")
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as problem:
        if kind_of_file(name):
            raise DataError(name, "", kind_of_file(name)) from None
        line = raw.count(b"\n", 0, problem.start) + 1
        raise DataError(
            name, f"line {line}", "is not UTF-8 text; save the file with UTF-8 encoding"
        ) from None


def _others(path: Path) -> str:
    """Return which files of that ending lie in the folder, the nearest name first."""
    beside = [file.name for file in path.parent.glob(f"*{path.suffix}")] if path.suffix else []
    if not beside:
        return "" if path.parent.is_dir() else ", and no such folder"
    # By the names alone: the ending is the same for all, and would make any two look alike.
    stems = {Path(name).stem: name for name in beside}
    close = difflib.get_close_matches(path.stem, stems, n=1)
    if close:
        return f" (did you mean '{stems[close[0]]}'?)"
    return f" (known here: {', '.join(sorted(beside))})" if len(beside) <= _MOST_NAMED else ""


def read_toml(text: str, name: str) -> dict[str, object]:
    """Return what a TOML text holds; sizes and kinds that no sheet needs are refused.

    Raises
    ------
    DataError
        It is empty, no TOML, or holds a date, a number or a nesting beyond belief.
    """
    if len(text) > LARGEST:
        raise DataError(name, "", _TOO_LARGE)
    for number, line in enumerate(text.split("\n"), start=1):
        if len(line) > _LONGEST_LINE or line.count(".") > _MOST_POINTS:
            raise DataError(name, f"line {number}", "is too long for a build sheet")
    if "\r" in text and "\n" not in text:
        raise DataError(
            name, "", "has lines that end in a bare carriage return; save it with usual line ends"
        )
    try:
        found = tomllib.loads(text)
    except tomllib.TOMLDecodeError as problem:
        if kind_of_file(name):
            raise DataError(name, "", kind_of_file(name)) from None
        raise _no_toml(text, name, str(problem)) from None
    except (ValueError, RecursionError):
        raise DataError(
            name, "", "is not valid TOML: a number or a nesting beyond all measure"
        ) from None
    if not found:
        raise DataError(name, "", "is empty")
    _check(found, name, "", 0)
    return found


def _no_toml(text: str, name: str, complaint: str) -> DataError:
    """Return the error of a text that is no TOML: what its line was meant to be, if we can tell."""
    lines = text.split("\n")
    where = re.search(r"line (\d+)", complaint)
    at = int(where[1]) if where else len(lines) if "end of document" in complaint else 0
    what = re.sub(r" \(at .*\)$", "", complaint)
    meant = "" if _hint(what) == _TWICE or not at else guess(lines[at - 1].rstrip("\r"))
    told = f"is not valid TOML: {meant}" if meant else f"is not valid TOML: {what}{_hint(what)}"
    if _hint(what) == _TWICE and at:
        told = f"is not valid TOML: {_twice(lines, at)}"
    return DataError(name, f"line {at}" if at else "", told)


def _twice(lines: list[str], at: int) -> str:
    """Say of a key or a section that stands there twice which it is, and where else it stands."""
    typed = lines[at - 1].partition("#")[0].strip()
    if typed.startswith("["):
        others = [n for n, line in enumerate(lines, 1) if line.strip().startswith(typed)]
        where = ", ".join(str(n) for n in others if n != at)
        return f"{typed} stands there twice{f': line {where} as well' if where else ''}"
    key = typed.partition("=")[0].strip()
    return (
        f"{key[:_LONGEST_KEY]} stands twice in one section; or the [section] line above it still "
        "has its #"
    )


def _hint(what: str) -> str:
    if "Invalid value" in what:
        return '; text and quantities stand in quotes, such as capacity = "60 Ah"'
    if "Cannot overwrite" in what or "declare" in what:
        return _TWICE
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
            # One of its kind needs no number, as everywhere in messages.
            _check(inner, name, f"{key}[{number}]" if len(value) > 1 else key, depth + 1)


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
