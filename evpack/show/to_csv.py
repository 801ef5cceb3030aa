"""The tables of a document as CSV (RFC 4180): numbers as they are, their unit in the head."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator

from evpack.base.wording import COUNT
from evpack.base.worked import Worked
from evpack.show import doc
from evpack.show.clean import clean
from evpack.show.doc import Block, Group, Row, Table, Text, plain


def to_csv(document: Iterable[Block]) -> str:
    """Return every table of a document, each under its caption, an empty line between them.

    A column whose cells all hold values of one unit has that unit in square brackets behind its
    head, and plain numbers, not rounded; any other has the words of the page.
    """
    out = io.StringIO()
    written = csv.writer(out, lineterminator="\r\n")
    for number, table in enumerate(tables(document)):
        if number:
            written.writerow(())
        if table.caption:
            written.writerow((_words(table.caption),))
        written.writerows(_lines(table))
    return out.getvalue()


def tables(document: Iterable[Block]) -> Iterator[Table]:
    """Yield the tables of a document, those within folds and parts too, numbers as tables."""
    for block in document:
        if isinstance(block, Table):
            yield block
        elif isinstance(block, doc.Numbers):
            yield _of_numbers(block)
        else:
            yield from tables(getattr(block, "inner", ()))


def _of_numbers(numbers: doc.Numbers) -> Table:
    rows = [
        Row((line.name, line)) if isinstance(line, Worked) else Row((line.name, line.value))
        for line in numbers.rows
        if not isinstance(line, Group)
    ]
    return Table((doc.Column("what"), doc.Column("value")), rows, numbers.caption)


def _lines(table: Table) -> Iterator[list[object]]:
    """Yield head and rows; a group of rows is a column of its own, before the others."""
    grouped = any(isinstance(row, Group) for row in table.rows)
    columns = list(zip(*(row.cells for row in table.rows if isinstance(row, Row)), strict=True))
    units = [_unit(column) for column in columns]
    heads: list[object] = [
        f"{column.head} [{unit}]" if unit else column.head
        for column, unit in zip(table.columns, units or [""] * len(table.columns), strict=True)
    ]
    yield ["", *heads] if grouped else heads
    group = ""
    for row in table.rows:
        if isinstance(row, Group):
            group = _words(row.title)
            continue
        cells = [
            _number(cell) if unit is not None else _words(cell)
            for cell, unit in zip(row.cells, units, strict=True)
        ]
        yield [group, *cells] if grouped else cells


def _unit(column: Iterable[Text]) -> str | None:
    """Return the unit that all cells share; "" for shares and counts, None for words."""
    units = set()
    for cell in column:
        if not isinstance(cell, doc.Value | Worked):
            return None
        units.add(cell.unit)
    unit = units.pop() if len(units) == 1 else None
    return "" if unit == COUNT else unit


def _number(cell: doc.Value | Worked) -> object:
    return "" if cell.value is None else float(f"{cell.value:.10g}")


def _words(cell: Text) -> str:
    """Return the words of a cell; what a spreadsheet would run is quoted."""
    words = clean(plain(cell)).strip()
    runs = words[:1] in {"=", "+", "@"} or (words[:1] == "-" and not words[1:2].isdigit())
    return f"'{words}" if runs else words
