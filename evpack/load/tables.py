"""Tables of numbers from documents: read when asked for, never extrapolated."""

from __future__ import annotations

import csv
import functools
import io
import math
from collections.abc import Mapping

import attrs

from evpack.base.errors import DataError, nearest
from evpack.load.places import data_dir
from evpack.load.text import read_text, read_toml


@attrs.frozen(kw_only=True)
class Table:
    """A table as its file holds it; a column is named with its unit, ``"area [mm2]"``.

    Parameters
    ----------
    source, table, edition, seen, note : str
        Which table of which source, and how it was seen.
    """

    name: str
    source: str
    table: str
    edition: str
    seen: str
    note: str
    columns: Mapping[str, tuple[str, ...]]

    def texts(self, column: str) -> tuple[str, ...]:
        """Return a column as it is written."""
        try:
            return self.columns[column]
        except KeyError:
            raise DataError(
                self.name, column, f"is no column{nearest(column, self.columns)}"
            ) from None

    def numbers(self, column: str) -> tuple[float, ...]:
        """Return a column as numbers; an empty cell is NaN."""
        return tuple(float(text) if text else math.nan for text in self.texts(column))


@functools.cache
def table(name: str) -> Table:
    """Return the table of that file name, without its ending."""
    folder = data_dir() / "tables"
    known = [path.stem for path in folder.glob("*.csv")]
    if name not in known:
        raise DataError("tables", name, f"is no table{nearest(name, known)}")
    about = read_toml(read_text(folder / f"{name}.toml", f"{name}.toml"), f"{name}.toml")
    return Table(
        name=name,
        note=str(about.get("note", "")),
        columns=read_columns(read_text(folder / f"{name}.csv", f"{name}.csv"), f"{name}.csv"),
        **{key: str(about[key]) for key in ("source", "table", "edition", "seen")},
    )


def read_columns(text: str, name: str) -> dict[str, tuple[str, ...]]:
    """Return the columns of a CSV text by their heading."""
    rows = list(csv.reader(io.StringIO(text)))
    if len(rows) < 2:  # noqa: PLR2004
        raise DataError(name, "", "needs a heading and at least one row")
    for line, row in enumerate(rows, start=1):
        if len(row) != len(rows[0]):
            raise DataError(
                name, f"line {line}", f"has {len(row)} cells; the heading has {len(rows[0])}"
            )
    return dict(zip(rows[0], zip(*rows[1:], strict=True), strict=True))
