"""Columns of a bench record: found by their labels, read whole, or refused with the line.

The labels are those of the Battery Data Format, an open standard, and obvious synonyms of them
(both from memory).
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from difflib import SequenceMatcher
from typing import NamedTuple

import attrs
import numpy as np
from numpy.typing import NDArray

from evpack.base.errors import DataError, nearest
from evpack.base.units import CURRENT, TEMPERATURE, TIME, VOLTAGE
from evpack.load.csv_rows import Rows

LIKE = "Cell {} Voltage / V"

# What a group of cells in parallel, and a voltage, are called in a label. Common practice.
_GROUP = frozenset(
    ["cell", "cells", "group", "groups", "cellgroup", "block", "vcell", "ucell", "cellv"]
)
_VOLTAGE = frozenset(["voltage", "voltages", "volt", "volts", "v", "u", "mv", "potential"])
_FILLING = frozenset(["no", "nr", "num", "number", "parallel", "in", "of", "at", "the"])
_HIGHEST = frozenset(["highest", "max", "maximum"])
_LEAST = frozenset(["lowest", "least", "min", "minimum"])
# What is said of all of them in one number, which does not tell how low the lowest stood.
_APART = frozenset(["spread", "imbalance", "delta", "diff", "difference"])
_ENDINGS = ("min", "max")  # vmin, cellmax
_VOLTS = frozenset(["v", "volt", "volts", "mv", "millivolt", "millivolts"])

Array = NDArray[np.float64]


def _words(name: str) -> list[str]:
    """Return the words and the numbers of a label in small letters: ``vcell3`` makes two."""
    found = []
    for word in re.findall(r"[a-z]+|\d+", name.casefold()):
        ending = next((e for e in _ENDINGS if word.endswith(e) and word != e), "")
        stem = word.removesuffix(ending) if ending else word
        found += [stem, ending] if stem in _GROUP | _VOLTAGE and ending else [word]
    return found


def group_number(name: str) -> int | None:
    """Return the number of the cell group whose voltage a label names; None if it names none."""
    words = _words(name)
    numbers = [word for word in words if word.isdigit()]
    others = {word for word in words if not word.isdigit()}
    if len(numbers) != 1 or len(numbers[0]) > 3 or not others & _GROUP:  # noqa: PLR2004
        return None
    return int(numbers[0]) if others <= _GROUP | _VOLTAGE | _FILLING else None


def extreme(name: str) -> str | None:
    """Return ``"highest"`` or ``"lowest"`` where a label names that of all cell groups."""
    words = set(_words(name))
    rest = words - _GROUP - _VOLTAGE
    if not (words & _GROUP or words & {"v", "u"}) or len(rest) != 1:
        return None
    return "highest" if rest <= _HIGHEST else "lowest" if rest <= _LEAST else None


def refuse_unread(file: str, unread: Iterable[tuple[str, str, str | None]]) -> None:
    """Refuse a column that seems to be the voltage of a cell group and was not taken for one.

    Parameters
    ----------
    unread : iterable of (label, name, unit)
        The columns that nobody reads.
    """
    for label, name, unit in unread:
        words = set(_words(name))
        is_voltage = bool(words & (_VOLTAGE | {"vcell", "ucell", "cellv"}))
        if unit is not None and unit.casefold() not in _VOLTS:
            continue
        if unit is None and not is_voltage:
            continue
        if words & (_GROUP | _HIGHEST | _LEAST | _APART) or any(word.isdigit() for word in words):
            raise DataError(
                file,
                "line 1",
                f"column '{label}' may be the voltage of a cell group, and cannot be told; call "
                f"the groups '{LIKE.format(1)}' and on, plus end first (or of all of them "
                "'Lowest Cell Voltage / V' and 'Highest Cell Voltage / V'), or take the column out",
            )


@attrs.frozen
class _Column:
    """A quantity looked for: its standard label, the names it goes by, units as (factor, offset).

    `least` and `most` bound what is believable, in the standard label's unit.
    """

    label: str
    names: tuple[str, ...]
    units: Mapping[str, tuple[float, float]]
    least: float
    most: float
    required: bool = True


def _units(text: str, factor: float = 1.0, offset: float = 0.0) -> dict[str, tuple[float, float]]:
    return dict.fromkeys(text.split(), (factor, offset))


_COLUMNS = {
    "time": _Column(
        "Test Time / s",
        ("test time", "total time", "elapsed time", "time"),
        _units("s sec second seconds")
        | _units("ms millisecond milliseconds", 1e-3)
        | _units("min minute minutes", 60.0)
        | _units("h hr hour hours", 3600.0)
        | _units("d day days", 86400.0),
        least=0.0,
        most=TIME.most,
    ),
    "volts": _Column(
        "Voltage / V",
        ("voltage", "cell voltage", "terminal voltage"),
        _units("V volt volts") | _units("mV millivolt millivolts", 1e-3),
        least=0.0,
        most=VOLTAGE.most,
    ),
    "amps": _Column(
        "Current / A",
        ("current", "cell current"),
        _units("A amp amps ampere amperes") | _units("mA milliampere milliamperes", 1e-3),
        least=-CURRENT.most,
        most=CURRENT.most,
    ),
    "count": _Column(
        "Step Count / 1",
        ("step count", "step index", "step number", "step"),
        {"1": (1.0, 0.0), "": (1.0, 0.0)},
        least=-1e9,
        most=1e9,
        required=False,
    ),
    "celsius": _Column(
        "Ambient Temperature / degC",
        (
            "ambient temperature",
            "temperature",
            "temperature t1",
            "surface temperature",
            "cell temperature",
        ),
        _units("degC °C C celsius degree_celsius")
        | _units("K kelvin", 1.0, -273.15)
        | _units("degF °F F fahrenheit", 5.0 / 9.0, -160.0 / 9.0),
        least=TEMPERATURE.least,
        most=TEMPERATURE.most,
        required=False,
    ),
}

# Columns of which a record may hold several: each cell group's voltage, each sensor on the surface.
# The labels are ours, in the manner of the format.
_CELL = attrs.evolve(_COLUMNS["volts"], label=LIKE.format(1), least=-5.0, most=5.0, required=False)
_STRING = attrs.evolve(_COLUMNS["amps"], label="String 1 Current / A", required=False)
_STRING_NAMES = re.compile(r"string ?(\d{1,3})(?: current)|string current (\d{1,3})")
# Where the cells are not logged one by one.
_EXTREMES = {
    "highest": attrs.evolve(_CELL, label="Highest Cell Voltage / V"),
    "lowest": attrs.evolve(_CELL, label="Lowest Cell Voltage / V"),
}
_SURFACE = attrs.evolve(_COLUMNS["celsius"], label="Surface Temperature / degC")
_SURFACE_NAMES = re.compile(r"(?:surface|cell) temperature(?: \d{1,3})?")


class _Place(NamedTuple):
    """Where a quantity stands in a row, and how its number becomes ours."""

    at: int
    factor: float
    offset: float
    column: _Column

    def believes(self, values: Array) -> bool:
        """Return whether every value is finite and believable (in our unit)."""
        return bool(((values >= self.column.least) & (values <= self.column.most)).all())


class _Label(NamedTuple):
    name: str
    unit: str | None


_PIECE = 20_000  # rows turned to numbers at a time


def read_table(file: str, raw: bytes) -> tuple[dict[str, Array], tuple[str, ...]]:
    """Return the columns in canonical units by our name for them, and the labels not used."""
    rows = Rows(file, raw)
    heading = rows.piece(1)
    labels = [label.strip() for label in heading[0]] if heading else []
    places = _places(file, labels)
    pieces: list[dict[str, Array]] = []
    many, latest, blank = 0, -math.inf, 0
    while piece := rows.piece(_PIECE):
        whole = len(piece)
        while piece and not piece[-1]:  # blank lines may stand at the end
            piece.pop()
        columns = None
        if piece and not blank:
            columns = _numbers(piece, len(labels), places, latest)
        if piece and columns is None:
            raise _diagnosis(file, raw, labels, places, read=many)
        if columns is not None:
            pieces.append(columns)
            many, latest = many + len(piece), float(columns["time"][-1])
        blank += whole - len(piece)
    if many < 2:  # noqa: PLR2004
        raise DataError(file, "", f"holds {many} rows of numbers; two or more are needed")
    joined = {name: np.concatenate([piece[name] for piece in pieces]) for name in places}
    return joined, tuple(labels[k] for k in _unused(labels, places))


def _unused(labels: Sequence[str], places: Mapping[str, _Place]) -> list[int]:
    used = {place.at for place in places.values()}
    return [k for k in range(len(labels)) if k not in used]


def _numbers(
    rows: Sequence[Sequence[str]], width: int, places: Mapping[str, _Place], latest: float
) -> dict[str, Array] | None:
    """Return the columns in our units, or None if a row is bad: which one is asked only then.

    Parameters
    ----------
    latest : float
        The time of the row before [s].
    """
    if set(map(len, rows)) != {width}:
        return None
    fields = list(zip(*rows, strict=True))
    columns = {}
    for ours, place in places.items():
        given = fields[place.at]
        try:
            with np.errstate(over="ignore"):  # what overflows here is refused below
                values = np.array(list(map(float, given))) * place.factor + place.offset
        except ValueError:
            return None
        # float() takes '1_0' for 10; no logger writes that on purpose.
        if not place.believes(values) or "_" in "".join(given):
            return None
        columns[ours] = values
    rises = columns["time"][0] >= latest and (np.diff(columns["time"]) >= 0).all()
    return columns if rises else None


def _places(file: str, labels: Sequence[str]) -> dict[str, _Place]:
    """Return for each quantity found its column, and the factor and offset of its unit."""
    if len(labels) == 1 and any(mark in labels[0] for mark in ";\t"):
        raise DataError(
            file,
            "line 1",
            "columns are separated by semicolons or tabs; commas between columns, and points as "
            "decimal marks, are needed",
        )
    read = [_label(label) for label in labels]
    places = {}
    for ours, column in _COLUMNS.items():
        for name in column.names:
            found = [k for k, label in enumerate(read) if label.name == name]
            if len(found) > 1:
                raise _twice(file, labels[found[0]], labels[found[1]])
            if found:
                factor, offset = _unit(file, labels[found[0]], read[found[0]].unit, column)
                places[ours] = _Place(found[0], factor, offset, column)
                break
        else:
            _refuse_if_missed(file, labels, read, column)
    places |= (
        _numbered(file, labels, read, what="cell", number=group_number, column=_CELL)
        | _numbered(file, labels, read, what="string", number=_string_number, column=_STRING)
        | _extremes(file, labels, read)
        | _surfaces(file, labels, read)
    )
    unused = _unused(labels, places)
    refuse_unread(file, ((labels[k], read[k].name, read[k].unit) for k in unused))
    return places


def _extremes(file: str, labels: Sequence[str], read: Sequence[_Label]) -> dict[str, _Place]:
    """Return the columns of the highest and the lowest cell, where they are."""
    found: dict[str, _Place] = {}
    for k, label in enumerate(read):
        ours = extreme(label.name)
        if ours is None:
            continue
        if ours in found:
            raise _twice(file, labels[found[ours].at], labels[k])
        column = _EXTREMES[ours]
        found[ours] = _Place(k, *_unit(file, labels[k], label.unit, column), column)
    return found


def _string_number(name: str) -> int | None:
    match = _STRING_NAMES.fullmatch(name)
    return None if match is None else int(match[1] or match[2])


def _twice(file: str, one: str, other: str) -> DataError:
    return DataError(
        file,
        "line 1",
        f"columns '{one}' and '{other}' are the same quantity; one of them is needed",
    )


def _numbered(
    file: str,
    labels: Sequence[str],
    read: Sequence[_Label],
    *,
    what: str,
    number: Callable[[str], int | None],
    column: _Column,
) -> dict[str, _Place]:
    """Return columns that count, as ``cell 1``, ``cell 2`` and on, none left out."""
    found: dict[int, int] = {}
    for k, label in enumerate(read):
        cell = number(label.name)
        if cell is None:
            continue
        if cell in found:
            raise _twice(file, labels[found[cell]], labels[k])
        found[cell] = k
    if 0 in found:
        raise DataError(
            file,
            "line 1",
            f"column '{labels[found[0]]}' counts from 0; {what}s are counted from 1, call it "
            f"'{column.label}' and the others on from there",
        )
    for cell in range(1, len(found) + 1):
        if cell not in found:
            raise DataError(
                file,
                "line 1",
                f"column '{column.label.replace('1', str(cell))}' is missing among those of "
                f"{what}s",
            )
    return {
        f"{what} {cell}": _Place(
            found[cell], *_unit(file, labels[found[cell]], read[found[cell]].unit, column), column
        )
        for cell in sorted(found)
    }


def _surfaces(file: str, labels: Sequence[str], read: Sequence[_Label]) -> dict[str, _Place]:
    """Return the columns of sensors on the surface as ``surface 1``, ``surface 2`` and on."""
    at = [k for k, label in enumerate(read) if _SURFACE_NAMES.fullmatch(label.name)]
    return {
        f"surface {number}": _Place(k, *_unit(file, labels[k], read[k].unit, _SURFACE), _SURFACE)
        for number, k in enumerate(at, start=1)
    }


def _label(label: str) -> _Label:
    """Split a label into its name and its unit: ``Name / unit``, ``Name [unit]``, ``name_unit``."""
    match = re.fullmatch(r"(.+?)\s*(?:/\s*(\S+)|[\[(]\s*(.*?)\s*[\])])", label)
    if match:
        return _Label(_plain(match[1]), match[2] if match[2] is not None else match[3])
    # A machine-readable label ends in its unit: the longest known one, since a few hold a '_'.
    known = {unit.casefold() for column in _COLUMNS.values() for unit in column.units if unit}
    words = label.casefold().split("_")
    for cut in range(1, len(words)):
        unit = "_".join(words[cut:])
        if unit in known or unit == "celcius":  # a misspelling that older files carry
            return _Label(_plain(" ".join(words[:cut])), unit.replace("celcius", "celsius"))
    return _Label(_plain(label), None)


def _plain(name: str) -> str:
    return " ".join(name.casefold().replace("_", " ").split())


def _unit(file: str, label: str, unit: str | None, column: _Column) -> tuple[float, float]:
    """Return factor and offset of a unit; a short one may be all small, never all capitals."""
    units = column.units
    if unit is None and "" not in units:
        raise DataError(
            file, "line 1", f"column '{label}' has no unit; write it as '{column.label}'"
        )
    wanted = unit or ""
    # 'ma' in a machine-readable label is mA; 'MA' might be anything and is refused.
    spelt = wanted.casefold() if len(wanted) > 2 else wanted  # noqa: PLR2004
    for known, meaning in units.items():
        if wanted == known or spelt == known.casefold():
            return meaning
    raise DataError(
        file,
        "line 1",
        # All of them, not the nearest: for 'MA' that would be 'A', a thousand times off.
        f"column '{label}': unit '{wanted}' is not known; write {', '.join(filter(None, units))}",
    )


def _refuse_if_missed(
    file: str, labels: Sequence[str], read: Sequence[_Label], column: _Column
) -> None:
    """Refuse a missing column, and one that may go missing but seems only to be misspelt."""
    if column.required:
        raise DataError(
            file, "line 1", f"column '{column.label}' is missing{nearest(column.label, labels)}"
        )
    for label, plain in zip(labels, read, strict=True):
        # A transposed or dropped letter leaves a ratio of 0.9; 'step time' and 'step' stay apart.
        if SequenceMatcher(None, plain.name, column.names[0]).ratio() > 0.85:  # noqa: PLR2004
            raise DataError(
                file,
                "line 1",
                f"column '{label}' is not known (did you mean '{column.label}'?)",
            )


def _diagnosis(
    file: str,
    raw: bytes,
    labels: Sequence[str],
    places: Mapping[str, _Place],
    *,
    read: int,
) -> DataError:
    """Return the error of the first bad row; called only where one is known to exist.

    Parameters
    ----------
    read : int
        How many rows before it are known to be good.
    """
    rows = Rows(file, raw)
    rows.piece(1)
    before, start = -math.inf, rows.line
    while piece := rows.piece(1):
        row = piece[0]
        start, line = rows.line, start + 1  # a quoted field may span lines: name its first
        if read > 0:
            read, before = read - 1, float(row[places["time"].at])
            continue
        if len(row) != len(labels):
            problem = f"holds {len(row)} fields; {len(labels)} are needed, one for each column"
            return DataError(file, f"line {line}", problem)
        for place in places.values():
            field = row[place.at]
            got = f"'{labels[place.at]}' " + (f"is '{field[:40]}'" if field.strip() else "is empty")
            if not _is_finite(field):
                return DataError(file, f"line {line}", f"{got}; a finite number is needed")
            if not place.believes(np.array([float(field) * place.factor + place.offset])):
                column = place.column
                problem = (
                    f"{got}; a believable number is needed, from {column.least:g} to "
                    f"{column.most:g} in the unit of '{column.label}'"
                )
                return DataError(file, f"line {line}", problem)
        now = float(row[places["time"].at])
        if now < before:
            problem = f"time runs backwards, from {before:g} to {now:g}; rising time is needed"
            return DataError(file, f"line {line}", problem)
        before = now
    raise AssertionError(f"{file}: no bad row was found")  # pragma: no cover


def _is_finite(field: str) -> bool:
    try:
        return "_" not in field and math.isfinite(float(field))
    except ValueError:
        return False
