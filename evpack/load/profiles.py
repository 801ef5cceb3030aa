"""Profiles from CSV files: powers or temperatures over equal times."""

from __future__ import annotations

import math
import re
from pathlib import Path

import numpy as np

from evpack.base.errors import DataError, nearest
from evpack.base.units import POWER, TEMPERATURE, TIME, Kind
from evpack.describe.operation import DAY, DAYS, Profile
from evpack.load.csv_rows import Rows, table_bytes

_LABEL = re.compile(r"\s*([^/\[\]]+?)\s*(?:/\s*([^\[\]]+?)|\[([^\[\]]+)\])\s*")
_TIME_NAMES = frozenset({"time", "test time", "hour", "start"})
_UNEVEN = 1e-6  # of a step: 0.1 h is not stored exactly


def read_profile(path: str | Path, *, temperature: bool = False) -> Profile:
    """Read powers, or the temperatures of the air, over equal times.

    Parameters
    ----------
    path : str or Path
        A CSV file: one row of labels such as ``Time / h,Power / W`` (or ``Temperature / degC``),
        then numbers. Each row is the mean from its time on until the next; the first begins at
        midnight of 1 January, and the profile begins again when it ends.
    temperature : bool
        Temperatures are wanted, and not powers.

    Raises
    ------
    DataError
        Not a readable file, a column missing or without its unit, a value that is no number (named
        by its line and column), times that are not evenly apart.
    """
    path = Path(path)
    file, kind = path.name, TEMPERATURE if temperature else POWER
    rows = _rows(file, table_bytes(path, "profile"))
    labels = rows[0]
    columns = _columns(file, labels, kind)
    if len(rows) < 3:  # noqa: PLR2004
        raise DataError(file, "", f"holds {len(rows) - 1} rows of numbers; two or more are needed")
    time, values = (
        np.array([_number(file, row, k, labels, at) for k, row in enumerate(rows[1:], start=2)])
        * factor
        + offset
        for at, factor, offset in columns
    )
    every = _evenly(file, time)
    _believed(file, values, kind, labels[columns[1][0]])
    if every * values.size > DAYS * DAY * 1.01:
        raise DataError(file, "", "holds more than a year; one year is the most")
    return Profile(name=file, every=TIME.of(every), values=values)


_MOST_ROWS = 1_100_000  # a year of half minutes and its row of labels


def _rows(file: str, raw: bytes) -> list[list[str]]:
    rows = Rows(file, raw, "profile").piece(_MOST_ROWS + 1)
    if len(rows) > _MOST_ROWS:
        raise DataError(
            file, "", f"holds more than {_MOST_ROWS} rows; a year of minutes is half of that"
        )
    while rows and not any(field.strip() for field in rows[-1]):
        rows.pop()
    if not rows:
        raise DataError(file, "", "is empty; a row of labels and rows of numbers are needed")
    return [[field.strip() for field in row] for row in rows]


def _columns(file: str, labels: list[str], kind: Kind) -> tuple[tuple[int, float, float], ...]:
    """Return where time and value stand, each with the factor and offset of its unit."""
    value = f"{'Temperature' if kind is TEMPERATURE else 'Power'} / {kind.example_unit}"
    return (
        _column(file, labels, TIME, "Time / h", time=True),
        _column(file, labels, kind, value, time=False),
    )


def _column(
    file: str, labels: list[str], kind: Kind, like: str, *, time: bool
) -> tuple[int, float, float]:
    """Return where a quantity stands, with its factor and offset; others are left alone."""
    fitting, odd = [], []
    for at, label in enumerate(labels):
        match = _LABEL.fullmatch(label)
        name, unit = (match[1], match[2] or match[3]) if match else (label, "")
        if (name.strip().lower() in _TIME_NAMES) is not time:
            continue
        if unit in kind.spellings:
            scale = kind.spellings[unit]
            fitting.append((at, scale, kind.offsets.get(unit, 0.0) * scale))
        else:
            odd.append((label, unit))
    if len(fitting) > 1:
        named = " and ".join(f"'{labels[at]}'" for at, _, _ in fitting[:2])
        raise DataError(file, "line 1", f"{named} are both one; keep one of them")
    if fitting:
        return fitting[0]
    if not odd:
        raise DataError(file, "line 1", f"a column '{like}' is missing")
    label, unit = odd[0]
    what = f"has the unit '{unit}', which is no {kind.name}" if unit else "has no unit"
    near = nearest(unit, kind.spellings) if unit else ""
    raise DataError(file, "line 1", f"column '{label}' {what}; write it as '{like}'{near}")


def _number(file: str, row: list[str], line: int, labels: list[str], at: int) -> float:
    if len(row) != len(labels):
        raise DataError(
            file,
            f"line {line}",
            f"holds {len(row)} fields; {len(labels)} are needed, one for each column",
        )
    field = row[at]
    try:
        value = math.nan if "_" in field else float(field)
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        told = f"is '{field[:40]}'" if field else "is empty"
        raise DataError(file, f"line {line}", f"'{labels[at]}' {told}; a finite number is needed")
    return value


def _evenly(file: str, time: np.ndarray) -> float:
    """Return how far apart the times stand [s], or refuse the first that is off."""
    every = float(time[1] - time[0])
    if every <= 0:
        raise DataError(file, "line 3", "time must rise from row to row")
    off = np.abs(np.diff(time) - every) > _UNEVEN * every + 1e-9 * np.abs(time[1:])
    if off.any():
        line = int(np.argmax(off)) + 3
        raise DataError(
            file,
            f"line {line}",
            f"the time is not evenly after the row before; every row must be {every:g} s later",
        )
    if abs(time[0]) > _UNEVEN * every:
        raise DataError(file, "line 2", "the first time must be 0, midnight of 1 January")
    whole = round(every)
    return float(whole) if abs(every - whole) < 1e-6 else every  # noqa: PLR2004


def _believed(file: str, values: np.ndarray, kind: Kind, label: str) -> None:
    odd = (values < max(kind.least, -90.0)) | (values > kind.most)
    if odd.any():
        raise DataError(
            file,
            f"line {int(np.argmax(odd)) + 2}",
            f"'{label}': a believable {kind.name} is needed, from {max(kind.least, -90.0):g} to "
            f"{kind.most:g} {kind.unit}",
        )
