"""Tables of numbers from documents and their sources: read when asked for, never extrapolated."""

from __future__ import annotations

import csv
import functools
import io
import math
from collections.abc import Mapping
from types import MappingProxyType

import attrs

from evpack.base.basis import Basis
from evpack.base.errors import DataError, OutsideTableError, nearest
from evpack.base.source import Source
from evpack.base.units import CURRENT, ENERGY, KINDS, VOLTAGE
from evpack.describe.credible import Credible, Credibles
from evpack.describe.safeguards import FuseCatalogue, FuseFamily, FuseGate
from evpack.describe.site import RULE_SETS, SiteLimit
from evpack.load.places import data_dir
from evpack.load.text import read_text, read_toml

_SOURCES = "sources.toml"

_GATES = "iec_60269_gg_gates"
# Field of a gate -> heading of its column.
_GATE_COLUMNS = {
    "rating": "rating [A]",
    "holds_10s": "holds for 10 s [A]",
    "melts_5s": "melts within 5 s [A]",
    "holds_100ms": "holds for 0.1 s [A]",
    "melts_100ms": "melts within 0.1 s [A]",
    "melting": "least melting I2t at 0.01 s [A2s]",
    "clearing": "most melting I2t at 0.01 s [A2s]",
}

_KILO = 1000.0  # Wh in a kWh

_CREDIBLE = ("noun", "field", "of", "low", "high", "unit", "says", "source")


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


@functools.cache
def sources() -> Mapping[str, Source]:
    """Return every source by its key."""
    tables = read_toml(read_text(data_dir() / _SOURCES, _SOURCES), _SOURCES)
    return MappingProxyType(
        {key: Source(key=key, **table) for key, table in tables.items() if isinstance(table, dict)}
    )


def source(key: str) -> Source:
    """Return the source of that key.

    Raises
    ------
    DataError
        There is none; the nearest key is named.
    """
    try:
        return sources()[key]
    except KeyError:
        raise DataError(_SOURCES, key, f"is no source{nearest(key, sources())}") from None


@functools.cache
def fuse_catalogue(rules: str = "nec") -> FuseCatalogue:
    """Return the fuse families in the order they are tried, the standard sizes and gates of gG.

    Parameters
    ----------
    rules : {"nec", "iec"}
        Sizes of NEC 240.6(A), those for fuses only included, or the preferred ones of IEC 60269.

    Raises
    ------
    OutsideTableError
        Any other rule set.
    """
    if rules not in RULE_SETS:
        raise OutsideTableError(f"rules '{rules}' are not held{nearest(rules, RULE_SETS)}")
    held = table("fuse_families")
    columns = held.columns
    rows = [dict(zip(columns, cells, strict=True)) for cells in zip(*columns.values(), strict=True)]
    rows = sorted((r for r in rows if r[f"{rules} [1]"]), key=lambda r: int(r[f"{rules} [1]"]))
    by_iec = tuple(sorted(table("iec_60269_sizes").numbers("rating [A]")))
    sizes = table("nec_240_6a" if rules == "nec" else "iec_60269_sizes")
    breakers: tuple[float, ...] = ()
    if rules == "nec":
        kinds = sizes.columns["kind"]
        ratings = sizes.numbers("rating [A]")
        breakers = tuple(
            sorted(r for r, kind in zip(ratings, kinds, strict=True) if "breaker" in kind)
        )
    return FuseCatalogue(
        families=tuple(
            FuseFamily(
                key=row["key"],
                characteristic=row["characteristic"],
                name=row["name"],
                standard=row["standard"],
                dc_voltage=VOLTAGE.of(float(row["dc voltage [V]"])),
                interrupting=CURRENT.of(float(row["interrupting [A]"])),
                largest=CURRENT.of(float(row["largest [A]"])),
                note=f"{row['note']} Confidence about {row['confidence [1]']}.",
                source=held.source,
                basis=Basis.ASSUMED,
            )
            for row in rows
        ),
        sizes=tuple(sorted(sizes.numbers("rating [A]"))),
        sizes_source=sizes.source,
        gg_sizes=by_iec,
        gpv_sizes=tuple(sorted(table("gpv_sizes").numbers("rating [A]"))),
        breaker_sizes=breakers,
        gates=_gates(),
        gates_source=table(_GATES).source,
    )


def _gates() -> tuple[FuseGate, ...]:
    """Return between what every gG link of a size melts, smallest first."""
    held = table(_GATES)
    columns = zip(*(held.numbers(heading) for heading in _GATE_COLUMNS.values()), strict=True)
    return tuple(FuseGate(**dict(zip(_GATE_COLUMNS, row, strict=True))) for row in columns)


@functools.cache
def cold_factors() -> tuple[tuple[float, float], ...]:
    """Return the factors on a panel's open-circuit voltage by NEC 690.7(A), warmest row first.

    Returns
    -------
    tuple of (float, float)
        The coldest air that a row covers [°C], and its factor [1].
    """
    held = table("nec_690_7a")
    rows = zip(held.numbers("air to [degC]"), held.numbers("factor [1]"), strict=True)
    return tuple(sorted(rows, reverse=True))


@functools.cache
def site_limits() -> tuple[SiteLimit, ...]:
    """Return every limit that a kind of place sets, in the order of the table."""
    held = table("site_limits")
    columns = held.columns
    rows = [dict(zip(columns, cells, strict=True)) for cells in zip(*columns.values(), strict=True)]
    found = []
    for row in rows:
        limit = None
        if row["limit [V]"]:
            limit = VOLTAGE.of(float(row["limit [V]"]))
        elif row["limit [kWh]"]:
            limit = ENERGY.of(float(row["limit [kWh]"]) * _KILO)
        plain = {key: row[key] for key in ("rules", "kind", "judges", "clause", "edition")}
        found.append(
            SiteLimit(
                limit=limit,
                bound=row["bound"] == "yes",
                source=row["source"],
                says=row["says"],
                **plain,
            )
        )
    return tuple(found)


@functools.cache
def credible_ranges() -> Credibles:
    """Return the credible ranges by the kind of thing, in canonical units.

    References
    ----------
    ``data/tables/credible.csv``: from memory and common practice, no document.
    """
    held = table("credible")
    found: dict[str, list[Credible]] = {}
    for row in zip(*(held.texts(name) for name in _CREDIBLE), strict=True):
        made = _range(*row)
        found.setdefault(made.noun, []).append(made)
    return {noun: tuple(rows) for noun, rows in found.items()}


def _range(  # noqa: PLR0917  one for each column
    noun: str, field: str, of: str, low: str, high: str, unit: str, says: str, source: str
) -> Credible:
    product, _, divided = of.partition("/")
    return Credible(
        noun=noun,
        field=field,
        times=tuple(name.strip() for name in product.split("*") if name.strip()),
        over=tuple(name.strip() for name in divided.split("*") if name.strip()),
        low=_end(low, unit, -math.inf, against=bool(of)),
        high=_end(high, unit, math.inf, against=bool(of)),
        says=says,
        source=source,
    )


def _end(typed: str, unit: str, open_end: float, *, against: bool) -> float:
    """Return an end of a range: one against other fields is a plain number already."""
    if not typed:
        return open_end
    if against:
        return float(typed)
    kind = next(kind for kind in KINDS if unit in kind.spellings)
    return float(kind.read(f"{typed} {unit}").m)
