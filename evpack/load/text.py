"""Text and TOML from files, with every way it can fail said in one sentence.

A line that is no TOML is told what it was probably meant to be, a foreign file what it is.
"""

from __future__ import annotations

import difflib
import functools
import math
import re
import tomllib
from collections.abc import Mapping
from datetime import date, datetime, time
from pathlib import Path, PurePath

import attrs

from evpack.base.errors import DataError, nearest
from evpack.base.files import read_bytes, why
from evpack.describe.array import Array
from evpack.describe.cabling import Busbar, Cabling, Run
from evpack.describe.charger import Charger
from evpack.describe.inverter import Inverter
from evpack.describe.module import Module
from evpack.describe.pack import Monitoring, Pack
from evpack.describe.policy import Policy
from evpack.describe.safeguards import Disconnect, EmergencyOff, FuseFamily, Precharge, Safeguards
from evpack.describe.site import Load, Site

_CURLY = re.compile(r"[=,\[{]\s*([“”„‟«»‘’‚])")
_TRUTH = {"true": "true", "yes": "true", "on": "true", "false": "false", "no": "false"}
_UNQUOTED = re.compile(
    r"=\s*(?P<number>[+\-]?\d[\d.,]*)\s*(?P<unit>[A-Za-zµΩ°%][\w/µΩ°%]*(?:\s[A-Z]+)?)\s*(?:[,}]|$)"
)
_BARE_WORD = re.compile(r"=\s*(?P<word>[A-Za-z][\w\-/ ]*?)\s*(?:[,}]|$)")
_SPACED_KEY = re.compile(r"\s*(?P<key>[A-Za-z]\w*(?:[ \-]+\w+)+)\s*=")
_COLON = re.compile(r"\s*[A-Za-z]\w*\s*:")
_NO_VALUE = re.compile(r"\s*[\w.]+\s*=$")

_NO_SHEET = "; a build sheet is a text file in TOML (evpack start writes one to fill in)"
_KINDS = {
    ".csv": "is a table, not a build sheet; a bench record is named in one, under [module.bench]: "
    'record = "{name}"',
    ".ipynb": "is a notebook" + _NO_SHEET,
    ".json": "is JSON" + _NO_SHEET,
    ".yaml": "is YAML" + _NO_SHEET,
    ".yml": "is YAML" + _NO_SHEET,
    ".xlsx": "is a spreadsheet" + _NO_SHEET,
    ".xls": "is a spreadsheet" + _NO_SHEET,
    ".ods": "is a spreadsheet" + _NO_SHEET,
    ".pdf": "is a PDF" + _NO_SHEET,
    ".py": "is a Python script" + _NO_SHEET,
}

_NOUNS: tuple[type, ...] = (
    *(Site, Load, Policy, Module, Pack, Monitoring, Inverter, Charger, Array),
    *(Cabling, Run, Busbar, FuseFamily, Safeguards, Disconnect, EmergencyOff, Precharge),
)

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
_TRUTH |= {"off": "false", "y": "true", "n": "false"}


@functools.cache
def _keys() -> frozenset[str]:
    """Return every key of a sheet that a person might write with spaces."""
    return frozenset(field.name for noun in _NOUNS for field in attrs.fields(noun))


def kind_of_file(name: str) -> str:
    """Return what a file of that name is if it is certainly no build sheet, else nothing."""
    path = PurePath(name)
    return _KINDS.get(path.suffix.lower(), "").replace("{name}", path.name)


def guess(line: str) -> str:
    """Return how to put a line right that the TOML reader refused, or nothing.

    Parameters
    ----------
    line : str
        The line as it stands in the file.
    """
    line = _without_remark(line)
    for mistake in (_curly, _open_quote, _spaced_key, _colon, _unquoted, _word):
        found = mistake(line)
        if found:
            return found
    return ""


def _without_remark(line: str) -> str:
    """Return a line up to a # that stands in no quotes."""
    quote = ""
    for at, sign in enumerate(line):
        if quote:
            quote = "" if sign == quote else quote
        elif sign in "\"'":
            quote = sign
        elif sign == "#":
            return line[:at].rstrip()
    return line.rstrip()


def _curly(line: str) -> str:
    match = _CURLY.search(line)
    return f'use straight quotes, " instead of {match[1]}' if match else ""


def _open_quote(line: str) -> str:
    if line.count('"') % 2:
        return 'a closing quote " is missing'
    if line.count("'") % 2 and '"' not in line:
        return 'a quote \' is one too many or too few; a text that holds one stands between " "'
    return ""


def _spaced_key(line: str) -> str:
    match = _SPACED_KEY.match(line)
    if match is None:
        return ""
    joined = re.sub(r"[ \-]+", "_", match["key"]).lower()
    near = nearest(joined, _keys())
    close = near if near.startswith(" (did you mean") else ""
    return f"a key holds no spaces, such as {joined}{close}"


def _colon(line: str) -> str:
    return "write = and no colon between a key and its value" if _COLON.match(line) else ""


def _unquoted(line: str) -> str:
    match = _UNQUOTED.search(line)
    if match is None:
        return 'a value is missing after "="' if _NO_VALUE.match(line) else ""
    number, unit = match["number"], match["unit"]
    if "," not in number:
        return f'put the value in quotes: "{number} {unit}"'
    if re.fullmatch(r"[+\-]?\d+,\d{1,2}", number):
        return f'put the value in quotes, with a decimal point: "{number.replace(",", ".")} {unit}"'
    # 1,500 may be meant in two ways.
    return "put the value in quotes, with a decimal point, and thousands without a comma"


def _word(line: str) -> str:
    match = _BARE_WORD.search(line)
    if match is None:
        return ""
    truth = _TRUTH.get(match["word"].lower())
    if truth is not None:
        return f"write true or false in lower case and without quotes: {truth}"
    return f'put a text in quotes: "{match["word"]}"'


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
