"""The log that somebody kept by hand while testing a heap: one CSV, a row for each reading.

A module may have many rows. What a later row reads goes over an earlier one, by date; rests add
up; a fault once seen and a voltage once found are never taken back.
"""

from __future__ import annotations

import csv
import datetime as dt
import io
from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any

import attrs

from evpack.base.errors import DataError, EvpackError
from evpack.base.units import VOLTAGE, kind_of
from evpack.base.wording import say
from evpack.describe.batch import Rest, TestedModule
from evpack.describe.chemistry import Chemistry
from evpack.load.batch_columns import Found, columns_of
from evpack.load.fields import Gathering

_SUM_OFF = 0.01  # cell groups that add up to the module within this share agree [1]
_HIGHEST_CELL = 5.0  # no cell group of any chemistry held stands more [V]

# Column -> field of a `TestedModule`, of what a later row may read again.
FIELDS = {
    "capacity": "capacity",
    "capacity error": "capacity_error",
    "energy": "energy",
    "current": "capacity_current",
    "efficiency": "charge_efficiency",
    "resistance": "resistance",
    "resistance error": "resistance_error",
    "method": "resistance_method",
    "soc": "resistance_soc",
    "warmest rise": "rise",
    "ended by cell": "ended_by",
}
# What was read together is replaced together: a new capacity has no error of the old one.
_TOGETHER = {
    "capacity": ("energy", "capacity_error", "capacity_current", "capacity_temperature"),
    "resistance": (
        *("resistance_method", "resistance_soc", "resistance_error"),
        "resistance_temperature",
    ),
}
# A column that says nothing without another.
_NEEDS = {
    "capacity error": "capacity",
    "current": "capacity",
    "resistance error": "resistance",
    "method": "resistance",
    "soc": "resistance",
}
_TOLD_AGAIN = ("capacity", "energy", "resistance", "charge_efficiency", "rise", "ended_by")


@attrs.frozen(kw_only=True)
class Bench:
    """What must be known to read a log: the kind of module, and how good the voltmeter is.

    `accuracy` is the voltmeter's [V]; None is unknown. `record` reads the bench record of that
    name, and returns what it says in fields of a `TestedModule`, its rest at full, the lowest
    cell group in it [V], and what to note.
    """

    file: str
    cells: int
    chemistry: Chemistry
    accuracy: float | None
    record: Callable[[str, dt.date], FromRecord]


@attrs.frozen(kw_only=True)
class FromRecord:
    """What a bench record says of a module."""

    fields: Mapping[str, Any]
    rests: tuple[Rest, ...] = ()
    lowest: float | None = None
    notes: tuple[str, ...] = ()


@attrs.frozen(kw_only=True)
class Row:
    """One row of a log: its line, and what was read by column; `cells` of all groups or none."""

    line: int
    values: Mapping[str, Any]
    cells: tuple[float, ...]

    @property
    def name(self) -> str:
        """Return the module's name."""
        return str(self.values["module"])

    @property
    def date(self) -> dt.date | None:
        """Return the day; None if the row does not say."""
        found: dt.date | None = self.values.get("date")
        return found


def read_log(text: str, bench: Bench) -> tuple[TestedModule, ...]:
    """Return the modules of a log in the order in which they first appear.

    Raises
    ------
    DataError
        Anything that cannot be read, all of it at once: file, line and column are named.
    """
    by_name: dict[str, list[Row]] = {}
    for row in _rows(text, bench):
        by_name.setdefault(row.name, []).append(row)
    _refuse_alike(by_name, bench.file)
    found, problems = [], Gathering()
    for rows in by_name.values():
        with problems.keeping():
            found.append(_module(rows, bench))
    problems.done()
    return tuple(found)


def _rows(text: str, bench: Bench) -> list[Row]:
    reader = csv.reader(io.StringIO(text, newline=""))
    lines: list[tuple[int, list[str]]] = []
    try:
        start = 1
        for fields in reader:
            lines.append((start, [field.strip() for field in fields]))
            start = reader.line_num + 1  # a quoted field may span lines: name its first
    except csv.Error as failure:
        raise DataError(bench.file, f"line {reader.line_num}", f"is no CSV ({failure})") from None
    lines = [(line, fields) for line, fields in lines if any(fields)]
    if len(lines) < 2:  # noqa: PLR2004
        raise DataError(bench.file, "", "holds no readings; a heading and a row or more are needed")
    headings = lines[0][1]
    columns = columns_of(bench.file, headings, bench.cells)
    rows, problems = [], Gathering()
    for line, fields in lines[1:]:
        with problems.keeping():
            rows.append(_row(line, fields, headings, columns, bench))
    problems.done()
    return rows


def _row(
    line: int,
    fields: Sequence[str],
    headings: Sequence[str],
    columns: Mapping[str, Found],
    bench: Bench,
) -> Row:
    if len(fields) != len(headings) and (
        len(fields) < len(headings) or any(fields[len(headings) :])
    ):
        raise DataError(
            bench.file,
            f"line {line}",
            f"holds {len(fields)} fields; {len(headings)} are needed, one for each column",
        )
    values, problems = {}, Gathering()
    for at, heading in enumerate(headings):
        if fields[at] and not heading:
            with problems.keeping():
                raise DataError(
                    bench.file, f"line {line}", f"'{fields[at][:40]}' stands under no heading"
                )
    for name, column in columns.items():
        if fields[column.at]:
            with problems.keeping():
                values[name] = _value(column, fields[column.at], line, bench.file)
    problems.done()
    if "module" not in values:
        raise DataError(bench.file, f"line {line}", "names no module; nothing else may be blank")
    names = [f"cell {k}" for k in range(1, bench.cells + 1)]
    given = [values.pop(name) for name in names if name in values]
    blank = [name for name in names if not fields[columns[name].at]] if given else []
    if blank:
        raise DataError(
            bench.file,
            f"line {line}, '{columns[blank[0]].heading}'",
            f"is blank; all {bench.cells} cell groups of a module are needed, or none",
        )
    row = Row(line=line, values=values, cells=tuple(given))
    _check(row, columns, bench)
    return row


def _value(column: Found, text: str, line: int, file: str) -> Any:
    try:
        return column.value(text)
    except EvpackError as problem:
        raise DataError(file, f"line {line}, '{column.heading}'", str(problem)) from None


def _check(row: Row, columns: Mapping[str, Found], bench: Bench) -> None:
    """Refuse a row whose values do not go together, or hang in the air."""
    has = row.values
    problems = Gathering()

    def refuse(name: str, problem: str) -> None:
        heading = columns[name].heading if name in columns else name
        with problems.keeping():
            raise DataError(bench.file, f"line {row.line}, '{heading}'", problem)

    rest = "voltage" in has or row.cells
    if (rest or "record" in has) and row.date is None:
        refuse("date", f"is missing; {'a rest' if rest else 'a record'} needs its day")
    for name in ("rested", "full"):
        if name in has and not rest:
            refuse(name, "belongs to a voltage at rest, and the row has none")
    for name, other in _NEEDS.items():
        if name in has and other not in has:
            refuse(name, f"belongs to a {other}, and the row has none")
    if "temperature" in has and not (rest or "capacity" in has or "resistance" in has):
        refuse("temperature", "belongs to a rest, a capacity or a resistance; the row has none")
    if has.get("ended by cell", 1) > bench.cells:
        refuse("ended by cell", f"a module has {bench.cells} cell groups in series")
    most = _HIGHEST_CELL * bench.cells
    if "voltage" in has and float(has["voltage"].m) > most:
        told = say(float(has["voltage"].m), "V")
        refuse("voltage", f"{told} is too much for {bench.cells} cell groups in series")
    problems.done()


def _refuse_alike(names: Iterable[str], file: str) -> None:
    """Refuse two names that differ in case or spaces only: they are one module, misspelt."""
    seen: dict[str, str] = {}
    for name in names:
        plain = "".join(name.casefold().split())
        if plain in seen:
            raise DataError(
                file, "module", f"'{seen[plain]}' and '{name}' differ in case or spaces only"
            )
        seen[plain] = name


# From rows to a module.


@attrs.define
class _Gathered:
    """What has been read of a module so far, each field with the row that it comes from."""

    fields: dict[str, Any] = attrs.field(factory=dict)
    rows: dict[str, Row] = attrs.field(factory=dict)
    rests: list[Rest] = attrs.field(factory=list)
    lowest: list[float] = attrs.field(factory=list)
    seen: tuple[str, ...] | None = None
    notes: list[str] = attrs.field(factory=list)


def _module(rows: Sequence[Row], bench: Bench) -> TestedModule:
    """Return what all rows of a module say together."""
    so_far, problems = _Gathered(), Gathering()
    for row in sorted(rows, key=lambda row: row.date or dt.date.min):
        with problems.keeping():
            _take(row, so_far, bench)
    problems.done()
    rests = sorted(so_far.rests, key=lambda rest: rest.date)
    lowest = _lowest(so_far.lowest, rests, bench)
    try:
        return TestedModule(
            name=rows[0].name,
            rests=tuple(rests),
            lowest_ever=None if lowest is None else VOLTAGE.of(lowest),
            seen=so_far.seen,
            note="; ".join(so_far.notes),
            **so_far.fields,
        )
    except EvpackError as problem:  # pragma: no cover  the columns refuse it first
        raise DataError(bench.file, f"line {rows[0].line}", str(problem)) from None


def _take(row: Row, so_far: _Gathered, bench: Bench) -> None:
    """Add what a row says to what was known before."""
    has = row.values
    fields = {field: has[name] for name, field in FIELDS.items() if name in has}
    for name in ("capacity", "resistance"):
        if name in has and "temperature" in has:
            fields[f"{name}_temperature"] = has["temperature"]
    so_far.lowest += row.cells
    if "lowest cell" in has:
        so_far.lowest.append(has["lowest cell"])
    if "seen" in has:
        so_far.seen = _with_seen(so_far.seen, has["seen"])
    if "note" in has:
        so_far.notes.append(has["note"])
    if row.date is not None and ("voltage" in has or row.cells):
        so_far.rests.append(
            Rest(
                date=row.date,
                rested=has.get("rested"),
                temperature=has.get("temperature"),
                voltage=has.get("voltage"),
                cells=row.cells,
                full=has.get("full", False),
            )
        )
        so_far.notes += _cell_notes(row, bench)
    if row.date is not None and "record" in has:
        fields |= _recorded(row, row.date, fields, so_far, bench)
    _put(row, fields, so_far, bench)


def _recorded(
    row: Row, date: dt.date, typed: Mapping[str, Any], so_far: _Gathered, bench: Bench
) -> dict[str, Any]:
    """Return what a row's bench record says; what is typed beside it may not be in it too."""
    where = f"line {row.line}, 'record'"
    name = row.values["record"]
    try:
        read = bench.record(name, date)
    except EvpackError as problem:
        told = problem.problem if isinstance(problem, DataError) else str(problem)
        key = problem.key if isinstance(problem, DataError) else ""
        raise DataError(bench.file, where, f"{name}: {f'{key}: ' if key else ''}{told}") from None
    twice = sorted(set(typed) & set(read.fields))
    if twice:
        raise DataError(
            bench.file,
            where,
            f"{twice[0].replace('_', ' ')} is typed in this row and read from the record too; "
            "leave one of them blank",
        )
    so_far.rests += read.rests
    so_far.lowest += [] if read.lowest is None else [read.lowest]
    so_far.notes += read.notes
    return dict(read.fields)


def _put(row: Row, fields: Mapping[str, Any], so_far: _Gathered, bench: Bench) -> None:
    """Put a row's values over earlier ones, and say so."""
    again = []
    for name, value in fields.items():
        old, before = so_far.fields.get(name), so_far.rows.get(name)
        if before is None or old == value:
            continue
        if before.date is None:
            raise DataError(
                bench.file,
                f"line {row.line}",
                f"{name.replace('_', ' ')} was also read on line {before.line}, which has no date; "
                "with a date on both the later one counts",
            )
        if name in _TOLD_AGAIN:
            again.append(f"{name.replace('_', ' ')} (on {before.date} it was {_told(old)})")
    for name, others in _TOGETHER.items():
        for other in others if name in fields else ():
            so_far.fields.pop(other, None)
            so_far.rows.pop(other, None)
    so_far.fields |= fields
    so_far.rows |= dict.fromkeys(fields, row)
    if again:
        so_far.notes.append(f"read again on {row.date}: {', '.join(again)}")


def _told(value: Any) -> str:
    return f"cell {value}" if isinstance(value, int) else say(float(value.m), kind_of(value).unit)


def _with_seen(before: tuple[str, ...] | None, seen: tuple[str, ...]) -> tuple[str, ...]:
    """Return the faults seen so far: one that somebody saw is not unseen by a later look."""
    return tuple(dict.fromkeys((*(before or ()), *seen)))


def _cell_notes(row: Row, bench: Bench) -> list[str]:
    """Say where cell groups do not add up to the module, and where one was reversed."""
    found = [
        f"cell group {k} was reversed on {row.date}, {say(volts, 'V')}"
        for k, volts in enumerate(row.cells, start=1)
        if volts < 0
    ]
    if row.cells and "voltage" in row.values:
        volts, made = float(row.values["voltage"].m), sum(row.cells)
        error = 0.0 if bench.accuracy is None else bench.accuracy
        if abs(made - volts) > max(_SUM_OFF * volts, error):
            found.append(
                f"on {row.date} the cell groups add up to {say(made, 'V')} and the module read "
                f"{say(volts, 'V')}; both are kept"
            )
    return found


def _lowest(found: Sequence[float], rests: Sequence[Rest], bench: Bench) -> float | None:
    """Return the lowest voltage that a cell group was ever found at [V]; None if not known.

    The lowest cell group is at most the mean. That cannot clear a module whose cell groups were
    never read, and so counts only where it condemns one.
    """
    floor = float(bench.chemistry.limits.reject_below.m)
    means = [float(rest.voltage.m) / bench.cells for rest in rests if rest.voltage is not None]
    found = [*found, *(mean for mean in means if mean < floor)]
    # A reversed cell group counts as 0 V, below the floor of every chemistry; a note says more.
    return max(0.0, min(found)) if found else None
