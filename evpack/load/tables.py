"""Tables of conductors and fuses: read when asked for, never extrapolated."""

from __future__ import annotations

import csv
import functools
import io
import math
import re
from collections.abc import Mapping

import attrs

from evpack.base.basis import Basis
from evpack.base.errors import DataError, OutsideTableError, nearest
from evpack.base.units import CURRENT, VOLTAGE, celsius
from evpack.base.wording import number
from evpack.describe.cabling import Conductor
from evpack.describe.fuses import FuseCatalogue, FuseFamily
from evpack.describe.site import RULE_SETS
from evpack.load.places import data_dir
from evpack.load.text import read_text, read_toml

# IEC 60228 and IEC 60028: resistance of copper against that at 20 degC [1].
_WARM_COPPER = (234.5 + 75.0) / (234.5 + 20.0)
_METRES_IN_A_THOUSAND_FEET = 304.8
# Asked column -> column of the table. The 75 degC column is no IEC one: the cooler of its two is
# read instead.
_COLUMNS = {"nec": {60: 60, 75: 75, 90: 90}, "iec": {70: 70, 75: 70, 90: 90}}
# NEC 110.14(C), from memory: circuits up to 100 A, which is up to 1 AWG, use the 60 degC column
# unless the terminals are marked for more. A row is told by its name in the table.
_TERMINALS_OF_60 = frozenset(f"{number} AWG" for number in (14, 12, 10, 8, 6, 4, 3, 2, 1))
# NEC 240.4(D): what guards a small copper conductor may be no more than this [A].
_SMALL = {"14 AWG": 15.0, "12 AWG": 20.0, "10 AWG": 30.0}
_USUAL_AMBIENT = 30.0  # of the ampacity tables [degC]
_AMPACITY = {"nec": "nec_310_16_copper", "iec": "iec_60364_5_52_copper"}
_AMBIENT = {"nec": "nec_310_15_b1_ambient", "iec": "iec_60364_5_52_ambient"}

_SIZE = re.compile(r"(\d+(?:/0)?|\d+\.\d+)\s*(AWG|kcmil|mm2|mm²)", re.IGNORECASE)


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
def conductor(
    size: str,
    *,
    rules: str = "nec",
    column: int | None = None,
    ambient: str | None = None,
    warmest: str | None = None,
) -> Conductor:
    """Return a copper conductor with its resistance and ampacity from the tables.

    Parameters
    ----------
    size : str
        As it is sold: ``"2/0 AWG"``, ``"250 kcmil"`` or ``"70 mm2"``.
    rules : {"nec", "iec"}
        Whose ampacity table. Resistance follows the way the size is named: NEC Chapter 9 Table 8
        at 75 degC for AWG, IEC 60228 class 5 (flexible) brought to 75 degC for mm².
    column : int, optional
        Temperature the insulation and the terminals allow [degC]: 60, 75 or 90 by NEC, 70 or 90
        by IEC (75 reads the 70 column). If not said: by NEC 60 up to 1 AWG and 75 above, since
        terminals that nobody read may be marked for no more; by IEC 70.
    ambient : str, optional
        Temperature around the cable, with its unit. If not said: 30 degC, or `warmest` where that
        is more.
    warmest : str, optional
        The warmest that the place gets, with its unit; it counts only where `ambient` is not said.

    Returns
    -------
    Conductor
        With the conditions in words, and which of them nobody stated.

    Raises
    ------
    OutsideTableError
        A size, column or ambient that the tables do not hold. Nothing is extrapolated.
    UnitError
        An ambient that is no temperature.

    Notes
    -----
    A size of the other rule set takes the ampacity of the next smaller size of the table: 70 mm²
    under NEC that of 2/0 AWG. An ambient below 30 degC earns nothing, since terminals hold a
    conductor to its column. The 90 degC column serves for correction only: the result stays
    within the 75 degC column by NEC (110.14(C)). Copper of 14, 12 and 10 AWG carries no more here
    than the 15, 20 and 30 A that may guard it (240.4(D)).

    Examples
    --------
    >>> cable = conductor("2/0 AWG", column=75, ambient="30 degC")
    >>> cable.ampacity, round(cable.ohm_per_metre * 1e6, 1)
    (175.0, 317.3)
    """
    if rules not in RULE_SETS:
        raise OutsideTableError(f"rules '{rules}' are not held{nearest(rules, RULE_SETS)}")
    name, area, ohm_per_metre, resistance_source = _resistance(size)
    row, row_name = _ampacity_row(name, area, rules)
    asked = _usual_column(rules, row_name) if column is None else column
    if asked not in _COLUMNS[rules]:
        offered = " or ".join(str(c) for c in _COLUMNS[rules])
        raise OutsideTableError(f"column {asked} degC is not held by {rules}; it needs {offered}")
    read_at = _COLUMNS[rules][asked]
    held = table(_AMPACITY[rules])
    warm = _ambient(ambient, warmest)
    factor = min(1.0, _ambient_factor(warm, rules, read_at))
    ampacity = held.numbers(f"at {read_at} degC [A]")[row] * factor
    if rules == "nec" and read_at == 90:  # noqa: PLR2004
        ampacity = min(ampacity, held.numbers("at 75 degC [A]")[row])
    unsaid = {True: " (not stated)", False: ""}
    words = [
        f"{read_at} degC column{unsaid[column is None]}",
        f"{number(warm)} degC around it{unsaid[ambient is None]}",
    ]
    if row_name != name:
        words.append(f"taken as {row_name}, the next smaller size of the table")
    if rules == "nec" and ampacity > _SMALL.get(row_name, math.inf):
        ampacity = _SMALL[row_name]
        words.append(f"guarded at no more than {number(ampacity)} A as a small conductor")
    return Conductor(
        size=name,
        area=area,
        ohm_per_metre=ohm_per_metre,
        ampacity=ampacity,
        resistance_source=resistance_source,
        ampacity_source=held.source,
        conditions=", ".join(words),
    )


def _usual_column(rules: str, row_name: str) -> int:
    """Return the column of a conductor whose terminals and insulation nobody stated [degC]."""
    if rules == "iec":
        return 70
    return 60 if row_name in _TERMINALS_OF_60 else 75


def _ambient(stated: str | None, warmest: str | None) -> float:
    """Return the temperature around a cable, as stated or the safer guess [degC]."""
    if stated is not None:
        return float(celsius(stated).m)
    if warmest is None:
        return _USUAL_AMBIENT
    return max(_USUAL_AMBIENT, float(celsius(warmest).m))


def conductor_sizes() -> tuple[str, ...]:
    """Return every size by its name, AWG and kcmil first, each from thin to thick."""
    return tuple(_all_sizes())


@functools.cache
def _all_sizes() -> Mapping[str, tuple[float, float, str]]:
    """Return area [mm²], resistance [Ω/m] and its source by size; stranded where both exist."""
    inches, metric = table("nec_ch9_t8"), table("iec_60228")
    found = {}
    for size, strands, area, ohms in zip(
        inches.texts("size"),
        inches.numbers("strands [1]"),
        inches.numbers("area [mm2]"),
        inches.numbers("uncoated at 75 degC [Ohm/kft]"),
        strict=True,
    ):
        if strands > 1:
            found[size] = (area, ohms / _METRES_IN_A_THOUSAND_FEET, inches.source)
    for text, area, ohms in zip(
        metric.texts("area [mm2]"),
        metric.numbers("area [mm2]"),
        metric.numbers("class 5 plain at 20 degC [Ohm/km]"),
        strict=True,
    ):
        found[f"{text} mm2"] = (area, ohms * _WARM_COPPER / 1000.0, metric.source)
    return found


def _resistance(size: str) -> tuple[str, float, float, str]:
    match = _SIZE.fullmatch(size.strip())
    if match is None:
        raise OutsideTableError(
            f"size '{size[:60]}' is not understood; write it as '2/0 AWG' or '70 mm2'"
        )
    unit = {"awg": "AWG", "kcmil": "kcmil"}.get(match[2].lower(), "mm2")
    name = f"{match[1]} {unit}"
    sizes = _all_sizes()
    if name not in sizes:
        raise OutsideTableError(f"size '{name}' is not in the tables{_neighbours(name)}")
    return name, *sizes[name]


def _neighbours(name: str) -> str:
    """Return the sizes around one that is not held, or the range that is."""
    amount, unit = name.split()
    known = [size.split()[0] for size in _all_sizes() if size.endswith(unit)]
    if "/" in amount:
        return nearest(name, [f"{size} {unit}" for size in known])
    values = sorted(float(size) for size in known if "/" not in size)
    below = [value for value in values if value < float(amount)]
    above = [value for value in values if value > float(amount)]
    named = [f"'{value:g} {unit}'" for value in below[-1:] + above[:1]]
    return f" (nearest: {' and '.join(named)})"


def _ampacity_row(name: str, area: float, rules: str) -> tuple[int, str]:
    """Return the row of a size in an ampacity table, or of the next smaller size there."""
    held = table(_AMPACITY[rules])
    if rules == "nec":
        names = list(held.texts("size"))
        areas = [_all_sizes()[n][0] for n in names]
    else:
        areas = list(held.numbers("area [mm2]"))
        names = [f"{text} mm2" for text in held.texts("area [mm2]")]
    if name in names:
        return names.index(name), name
    smaller = [i for i, a in enumerate(areas) if a <= area]
    if not smaller:
        raise OutsideTableError(f"size '{name}' is thinner than any in the {rules} table")
    row = max(smaller, key=areas.__getitem__)
    return row, names[row]


def _ambient_factor(warm: float, rules: str, column: int) -> float:
    held = table(_AMBIENT[rules])
    for upto, factor in zip(
        held.numbers("ambient up to [degC]"), held.numbers(f"at {column} degC [1]"), strict=True
    ):
        if warm <= upto and not math.isnan(factor):
            return factor
    raise OutsideTableError(
        f"ambient {number(warm)} degC is above what the {column} degC column allows"
    )


@functools.cache
def fuse_catalogue(rules: str = "nec") -> FuseCatalogue:
    """Return the fuse families in the order they are tried, and the standard sizes.

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
    sizes = table("nec_240_6a" if rules == "nec" else "iec_60269_sizes")
    return FuseCatalogue(
        families=tuple(
            FuseFamily(
                key=row["key"],
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
    )
