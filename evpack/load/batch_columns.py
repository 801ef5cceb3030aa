"""Columns of a hand-kept log: found by their headings, each value with the unit of its heading."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable, Mapping, Sequence
from typing import Any

import attrs

from evpack.base.errors import DataError, DescriptionError, UnitError, nearest
from evpack.base.units import (
    CHARGE,
    CURRENT,
    ENERGY,
    RESISTANCE,
    RISE,
    SHARE,
    TEMPERATURE,
    TIME,
    VOLTAGE,
    Kind,
    Quantity,
)
from evpack.describe.batch import FAULTS
from evpack.describe.module import RESISTANCE_METHODS
from evpack.load.fields import Gathering

Read = Callable[[str, str], Any]
_LONGEST_NAME = 40
_LONGEST_NOTE = 1000
_LONGEST_SHOWN = 60
_YEARS = (1990, 2100)
_HIGHEST_CELL = 5.0  # no cell group of any chemistry held stands more [V]
_MOST_EFFICIENT = 1.05  # what two meters of a few per cent can make of 1 [1]
_NOT_KNOWN = {"?", "??", "-", "--", "n/a", "na", "tbd", "unknown", "not known", "not read"}
_YES = {"yes": True, "y": True, "true": True, "no": False, "n": False, "false": False}
_HEADING = re.compile(r"(?P<name>[^\[\]]*?)\s*(?:\[(?P<unit>[^\[\]]*)\])?")
_CELL = re.compile(r"cell(?: group)? ?0*(\d{1,3})(?: voltage)?")


@attrs.frozen
class Column:
    """A heading looked for: our name of it, what else it may be called, how its values are read.

    `kind` is None for a column without a unit; `read` takes a value's text and its unit.
    """

    name: str
    also: tuple[str, ...]
    read: Read
    kind: Kind | None = None

    @property
    def heading(self) -> str:
        """Return how the heading is written."""
        return f"{self.name} [{self.kind.example_unit}]" if self.kind else self.name


@attrs.frozen
class Found:
    """A column of a log: where it stands, its heading there, and its unit."""

    at: int
    heading: str
    column: Column
    unit: str

    def value(self, text: str) -> Any:
        """Return a value of it, or refuse."""
        if text.casefold() in _NOT_KNOWN:
            raise DescriptionError(
                f"got '{text}'; leave it blank: what you do not know stays unknown"
            )
        return self.column.read(text, self.unit)


def _quantity(kind: Kind, least: float = 0.0, most: float | None = None) -> Read:
    def read(text: str, unit: str) -> Quantity:
        found = _number(kind, text, unit)
        top = kind.most if most is None else most
        if not least <= float(found.m) <= top:
            raise DescriptionError(f"got '{text} {unit}', which cannot be here")
        return found

    return read


def _number(kind: Kind, text: str, unit: str) -> Quantity:
    try:
        return kind.read(f"{text} {unit}")
    except UnitError:
        alone = re.fullmatch(r"(.*?\d)\s*([^\d\s.,][^\d.,]*)", text)
        if alone and alone[2] in kind.spellings:
            raise DescriptionError(
                f"got '{text}'; the unit stands in the heading, and the number alone here"
            ) from None
        raise


def _above_zero(kind: Kind) -> Read:
    def read(text: str, unit: str) -> Quantity:
        found = _number(kind, text, unit)
        if found.m <= 0:
            raise DescriptionError(f"got '{text} {unit}'; it must be above 0")
        return found

    return read


def _cell_voltage(text: str, unit: str) -> float:
    """Return the voltage of a cell group [V]; one that was reversed reads below 0."""
    below = text[:1] in {"-", "\u2212"}
    value = float(_number(VOLTAGE, text[1:] if below else text, unit).m)
    if value > _HIGHEST_CELL:
        raise DescriptionError(
            f"got '{text} {unit}'; a cell group shows at most {_HIGHEST_CELL:g} V"
        )
    return -value if below else value


def _name(text: str, _unit: str) -> str:
    if len(text) > _LONGEST_NAME or not text.isprintable():
        raise DescriptionError(f"a name of at most {_LONGEST_NAME} plain characters is needed")
    return text


def _note(text: str, _unit: str) -> str:
    if len(text) > _LONGEST_NOTE:
        raise DescriptionError(f"is {len(text)} characters long; {_LONGEST_NOTE} is the most")
    words = " ".join(text.split())
    if not words.isprintable():
        raise DescriptionError("plain text is needed")
    return words


def _date(text: str, _unit: str) -> dt.date:
    told = f"got '{_short(text)}'; a date is written year first, such as 2024-05-31"
    if not re.fullmatch(r"\d{4}-\d{2}-\d{2}", text):
        raise DescriptionError(told)
    try:
        found = dt.date.fromisoformat(text)
    except ValueError:
        raise DescriptionError(f"{told}; there is no such day") from None
    if not _YEARS[0] <= found.year <= _YEARS[1]:
        raise DescriptionError(f"got '{text}'; a year from {_YEARS[0]} to {_YEARS[1]} is needed")
    return found


def _yes(text: str, _unit: str) -> bool:
    try:
        return _YES[text.casefold()]
    except KeyError:
        raise DescriptionError(f"got '{_short(text)}'; yes or no is needed") from None


def _count(text: str, _unit: str) -> int:
    if not re.fullmatch(r"[1-9]\d{0,2}", text):
        raise DescriptionError(
            f"got '{_short(text)}'; the number of a cell group is needed, 1 at the plus end"
        )
    return int(text)


def _method(text: str, _unit: str) -> str:
    for method in RESISTANCE_METHODS:
        if text.casefold() == method.casefold():
            return method
    raise DescriptionError(f"'{_short(text)}' is not known{nearest(text, RESISTANCE_METHODS)}")


def _seen(text: str, _unit: str) -> tuple[str, ...]:
    """Return the faults seen; the word "none" says that somebody looked and saw none."""
    words = [" ".join(word.split()).casefold() for word in text.split(";") if word.strip()]
    if words == ["none"]:
        return ()
    for word in words:
        if word == "none":
            raise DescriptionError("got 'none' and a fault beside it; one of them is needed")
        if word not in FAULTS:
            raise DescriptionError(
                f"'{_short(word)}' is no fault that is known{nearest(word, FAULTS)}; faults are "
                "separated by ;, other words stand in the column 'note'"
            )
    return tuple(words)


def _short(text: str) -> str:
    return text if len(text) <= _LONGEST_SHOWN else f"{text[:_LONGEST_SHOWN]}…"


def _unitless(name: str, read: Read, *also: str) -> Column:
    return Column(name, also, read)


def _with_unit(name: str, kind: Kind, read: Read, *also: str) -> Column:
    return Column(name, also, read, kind)


COLUMNS: Mapping[str, Column] = {
    column.name: column
    for column in (
        _unitless("module", _name, "module name", "name", "module no", "module number"),
        _unitless("date", _date, "day"),
        _with_unit("rested", TIME, _quantity(TIME), "rest", "rest time", "time at rest"),
        _with_unit("temperature", TEMPERATURE, _quantity(TEMPERATURE, TEMPERATURE.least), "temp"),
        _with_unit("voltage", VOLTAGE, _quantity(VOLTAGE), "module voltage"),
        _unitless("full", _yes, "charged full"),
        _with_unit("capacity", CHARGE, _above_zero(CHARGE), "measured capacity"),
        _with_unit("capacity error", CHARGE, _quantity(CHARGE), "error of capacity"),
        _with_unit("energy", ENERGY, _above_zero(ENERGY), "measured energy"),
        _with_unit("current", CURRENT, _above_zero(CURRENT), "discharge current", "test current"),
        _with_unit(
            "efficiency",
            SHARE,
            _quantity(SHARE, most=_MOST_EFFICIENT),
            *("charge efficiency", "coulombic efficiency"),
        ),
        _with_unit(
            "resistance", RESISTANCE, _above_zero(RESISTANCE), "dcir", "internal resistance"
        ),
        _with_unit("resistance error", RESISTANCE, _quantity(RESISTANCE), "error of resistance"),
        _unitless("method", _method, "resistance method"),
        _with_unit("soc", SHARE, _quantity(SHARE, most=1.0), "state of charge"),
        _with_unit("warmest rise", RISE, _quantity(RISE, RISE.least), "temperature rise", "rise"),
        _with_unit("lowest cell", VOLTAGE, _cell_voltage, "lowest cell voltage", "lowest ever"),
        _unitless("ended by cell", _count, "ended by"),
        _unitless("seen", _seen, "faults", "faults seen"),
        _unitless("note", _note, "notes", "remark", "remarks"),
        _unitless("record", _name, "bench record"),
    )
}
_BY_WORD = {word: column for column in COLUMNS.values() for word in (column.name, *column.also)}


def columns_of(file: str, headings: Sequence[str], cells: int) -> dict[str, Found]:
    """Return the columns of a log by our name for them; cell groups are ``cell 1`` and on.

    Parameters
    ----------
    file : str
        The log, for messages.
    headings : sequence of str
        Its first row.
    cells : int
        Cell groups in series of a module.

    Raises
    ------
    DataError
        A column unknown, twice, without its unit or with another's, or cell groups left out.
    """
    if len(headings) == 1 and any(mark in headings[0] for mark in ";\t"):
        raise DataError(
            file,
            "line 1",
            "columns are separated by semicolons or tabs; commas between columns, and points as "
            "decimal marks, are needed",
        )
    found: dict[str, Found] = {}
    problems = Gathering()
    for at, heading in enumerate(headings):
        with problems.keeping():
            if not heading:
                continue  # the rows refuse what stands below it
            column = _column(file, heading, cells)
            if column.column.name in found:
                raise DataError(
                    file,
                    "line 1",
                    f"columns '{found[column.column.name].heading}' and '{heading}' are the same; "
                    "one of them is needed",
                )
            found[column.column.name] = attrs.evolve(column, at=at)
    problems.done()
    if "module" not in found:
        raise DataError(file, "line 1", f"column 'module' is missing{nearest('module', headings)}")
    read = [cell for cell in range(1, cells + 1) if f"cell {cell}" in found]
    for cell in range(1, cells + 1) if read else ():
        if cell not in read:
            raise DataError(
                file,
                "line 1",
                f"column 'cell {cell} [V]' is missing; all {cells} cell groups of a module are "
                "needed, or none",
            )
    return found


def _column(file: str, heading: str, cells: int) -> Found:
    """Return the column that a heading means, or refuse with the nearest."""
    match = _HEADING.fullmatch(heading)
    name = _plain(match["name"]) if match else _plain(heading)
    column = _BY_WORD.get(name) or _cell(file, heading, name, cells)
    if match is None or column is None:
        raise DataError(file, "line 1", _unknown(heading, name))
    unit = (match["unit"] or "").strip()
    if column.kind is None:
        if match["unit"] is not None:
            raise DataError(file, "line 1", f"column '{heading}' takes no unit")
    elif not unit:
        raise DataError(
            file, "line 1", f"column '{heading}' has no unit; write it as '{column.heading}'"
        )
    elif unit not in column.kind.spellings:
        raise DataError(
            file,
            "line 1",
            f"column '{heading}': '{_short(unit)}' is no unit of {column.kind.one}"
            f"{nearest(unit, column.kind.spellings)}",
        )
    return Found(0, heading, column, unit)


def _cell(file: str, heading: str, name: str, cells: int) -> Column | None:
    match = _CELL.fullmatch(name)
    if match is None:
        return None
    number = int(match[1])
    if not 1 <= number <= cells:
        raise DataError(
            file, "line 1", f"column '{heading}': a module has {cells} cell groups in series"
        )
    return Column(f"cell {number}", (), _cell_voltage, VOLTAGE)


def _plain(name: str) -> str:
    return " ".join(name.casefold().replace("_", " ").split())


def _unknown(heading: str, name: str) -> str:
    """Say that a column is not known, with the way it may be meant."""
    outside = re.fullmatch(r"(.+?)\s*(?:\((.*)\)|/\s*(\S+))", heading)
    if outside and (_plain(outside[1]) in _BY_WORD or _CELL.fullmatch(_plain(outside[1]))):
        unit = outside[2] or outside[3]
        return f"column '{heading}': a unit stands in square brackets, '{outside[1]} [{unit}]'"
    return f"column '{_short(heading)}' is not known{nearest(name, [*COLUMNS, 'cell 1'])}"
