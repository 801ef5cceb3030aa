"""Conductors and bus bars from the tables: resistance, and what they may carry as they lie."""

from __future__ import annotations

import functools
import math
import re
from collections.abc import Mapping

from evpack.base.basis import ALL_CHOSEN, Basis
from evpack.base.errors import OutsideTableError, nearest
from evpack.base.units import CURRENT, Quantity, amps, celsius, metres
from evpack.base.wording import number
from evpack.describe.cabling import Busbar, Conductor
from evpack.describe.site import RULE_SETS
from evpack.load.tables import table

# IEC 60228 and IEC 60028: resistance of copper against that at 20 degC [1].
_WARM_COPPER = (234.5 + 75.0) / (234.5 + 20.0)
_METRES_IN_A_THOUSAND_FEET = 304.8
# A reel may be marked with its noughts: 0, 00, 000 and 0000 are 1/0 to 4/0 AWG.
_NOUGHTS = re.compile(r"0{1,4}")
_SIZE = re.compile(r"(\d+(?:/0)?|\d+\.\d+)\s*(AWG|kcmil|mm2|mm²)", re.IGNORECASE)

# Asked column -> column of the table. The 75 degC column is no IEC one: the cooler of its two is
# read instead.
_COLUMNS = {"nec": {60: 60, 75: 75, 90: 90}, "iec": {70: 70, 75: 70, 90: 90}}
# Terminals -> column that they hold the conductor to. By NEC the 90 degC column serves for
# correction only, whatever the terminals.
_HELD_TO = {"nec": {60: 60, 75: 75, 90: 75}, "iec": {70: 70, 75: 70, 90: 90}}
# NEC 110.14(C), from memory: circuits up to 100 A, which is up to 1 AWG, use the 60 degC column
# unless the terminals are marked for more. A row is told by its name in the table.
_TERMINALS_OF_60 = frozenset(f"{number} AWG" for number in (14, 12, 10, 8, 6, 4, 3, 2, 1))
# NEC 240.4(D): what guards a small copper conductor may be no more than this [A].
_SMALL = {"14 AWG": 15.0, "12 AWG": 20.0, "10 AWG": 30.0}
# k of I²t ≤ k²S² [A √s/mm²], by the column that the conductor starts from. IEC 60364-4-43, from
# memory: PVC from 70 degC, XLPE from 90 degC. A column of NEC names no insulation, so the weaker
# one is taken, thermoplastic, which may end at 150 degC (ICEA P-32-382, from memory).
_WITHSTAND = {"nec": {60: 115.0, 75: 104.0, 90: 92.0}, "iec": {70: 115.0, 90: 143.0}}
# Thermoplastic of more than this [mm²] may only be heated to 140 °C in a short and stands less
# (IEC 60364-4-43 table 43A, from memory).
_THICK, _THICK_THERMOPLASTIC = 300.0, 103.0
_USUAL_AMBIENT = 30.0  # of the ampacity tables [degC]
_AMPACITY = {"nec": "nec_310_16_copper", "iec": "iec_60364_5_52_copper"}
_AMBIENT = {"nec": "nec_310_15_b1_ambient", "iec": "iec_60364_5_52_ambient"}
# How a cable is laid by IEC 60364-5-52; the first carries least.
_METHODS = {"B1": "in conduit", "C": "clipped direct", "F": "free air, touching"}
_UNSAID = " (not stated)"

# Common practice, no source: bars in a box carry no more than this [A/mm²].
_IN_A_BOX = 1.6
_TABLE = "din_43671_copper"


def conductor_sizes() -> tuple[str, ...]:
    """Return every size by its name, AWG and kcmil first, each from thin to thick."""
    return tuple(all_sizes())


@functools.cache
def all_sizes() -> Mapping[str, tuple[float, float, str]]:
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


def sized(size: str) -> tuple[str, float, float, str]:
    """Return a size's name in the tables, area [mm²], resistance at 75 degC [Ω/m] and its source.

    Raises
    ------
    OutsideTableError
        A size that is not understood, or that the tables do not hold.
    """
    match = _SIZE.fullmatch(size.strip())
    if match is None:
        raise OutsideTableError(
            f"size '{size[:60]}' is not understood; write it as '2/0 AWG' or '70 mm2'"
        )
    unit = {"awg": "AWG", "kcmil": "kcmil"}.get(match[2].lower(), "mm2")
    noughts = unit == "AWG" and _NOUGHTS.fullmatch(match[1])
    name = f"{len(match[1])}/0 AWG" if noughts else f"{match[1]} {unit}"
    sizes = all_sizes()
    if name not in sizes:
        raise OutsideTableError(f"size '{name}' is not in the tables{_neighbours(name)}")
    return name, *sizes[name]


def _neighbours(name: str) -> str:
    """Return the sizes around one that is not held, or the range that is."""
    amount, unit = name.split()
    known = [size.split()[0] for size in all_sizes() if size.endswith(unit)]
    if "/" in amount:
        return nearest(name, [f"{size} {unit}" for size in known])
    values = sorted(float(size) for size in known if "/" not in size)
    below = [value for value in values if value < float(amount)]
    above = [value for value in values if value > float(amount)]
    named = [f"'{value:g} {unit}'" for value in below[-1:] + above[:1]]
    return f" (nearest: {' and '.join(named)})"


@functools.cache
def conductor(
    size: str,
    *,
    rules: str = "nec",
    column: int | None = None,
    ambient: str | None = None,
    warmest: str | None = None,
    terminals: int | None = None,
    circuits: int = 1,
    method: str | None = None,
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
        Temperature the insulation allows [degC]: 60, 75 or 90 by NEC, 70 or 90 by IEC (75 reads
        the 70 column). If not said: by NEC 60 up to 1 AWG and 75 above, by IEC 70.
    ambient : str, optional
        Temperature around the cable, with its unit. If not said: 30 degC.
    warmest : str, optional
        The warmest that the place gets, with its unit. It counts wherever it lies above `ambient`.
    terminals : int, optional
        Temperature the terminals are marked for [degC], as `column`. If not said: as a column of
        60, 70 or 75; with a column of 90 by NEC 60 up to 1 AWG and 75 above, by IEC 70.
    circuits : int
        Circuits that lie together, this one included: pairs of plus and minus, each pair of
        parallel conductors for itself.
    method : {"B1", "C", "F"}, optional
        By IEC only, how it is laid: in conduit, clipped direct, in free air (touching). If not
        said: B1, which carries least.

    Returns
    -------
    Conductor
        With the conditions in words, and which of them nobody stated.

    Raises
    ------
    OutsideTableError
        A size, column, ambient or count that the tables do not hold. Nothing is extrapolated.
    UnitError
        An ambient that is no temperature.

    Notes
    -----
    A size of the other rule set takes the ampacity of the next smaller size of the table: 70 mm²
    under NEC that of 2/0 AWG. An ambient below 30 degC earns nothing. Whatever ambient and
    circuits leave of a warmer column, the result stays within what the column of the terminals
    says. By NEC that is the column without correction, for the terminals do not lie where the
    cable lies (110.14(C)), and the 90 degC column serves for correction only. By IEC it is the
    table of that temperature with its own factors: carrying more, the metal would get hotter than
    the terminals allow, in the cable and so at its end (60364-5-52, 523.1, from memory).
    Copper of 14, 12 and 10 AWG carries no more here than the 15, 20 and 30 A that may guard it
    (240.4(D)). Between two counts of Table B.52.17 the next higher one is read.

    Examples
    --------
    >>> cable = conductor("2/0 AWG", column=75, ambient="30 degC")
    >>> cable.ampacity, round(cable.ohm_per_metre * 1e6, 1)
    (175.0, 317.3)
    """
    _refuse_unheld(rules, column, terminals, method)
    together = _together(circuits, rules)
    laid = (method or next(iter(_METHODS))) if rules == "iec" else ""
    name, area, ohm_per_metre, resistance_source = sized(size)
    row, row_name = _ampacity_row(name, area, rules)
    read_at = _COLUMNS[rules][_usual_column(rules, row_name) if column is None else column]
    held_to = _held_to(rules, row_name, read_at, terminals)
    warm, warm_words = _warm(ambient, warmest)
    ampacity = _printed(rules, row, read_at, laid) * _ambient_factor(warm, rules, read_at)
    ampacity *= together
    words = [f"{read_at} degC column{_unsaid(column)}"]
    if terminals is not None or held_to < read_at:
        words.append(f"terminals of {terminals or held_to} degC{_unsaid(terminals)}")
    terminals_allow = _printed(rules, row, held_to, laid)
    if rules == "iec" and held_to < read_at:
        at_the_end = f"terminals of {held_to} degC allow"
        terminals_allow *= _ambient_factor(warm, rules, held_to, at_the_end) * together
    if ampacity > terminals_allow:
        ampacity = terminals_allow
        words.append(f"held to the {held_to} degC column by them")
    words.append(warm_words)
    if laid:
        words.append(f"method {laid}, {_METHODS[laid]}{_unsaid(method)}")
    words.append(f"{circuits} circuits together" if circuits > 1 else "no other circuit beside it")
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
        hottest=float(read_at),
        ambient=max(warm, _USUAL_AMBIENT),
        withstand=_withstand(rules, read_at, area),
        resistance_source=resistance_source,
        ampacity_source=table(_AMPACITY[rules]).source,
        conditions=", ".join(words),
        plain=terminals_allow if rules == "nec" else None,
    )


def _withstand(rules: str, read_at: int, area: float) -> float:
    """Return k of the adiabatic formula [A√s/mm²]."""
    thick = rules == "iec" and area > _THICK
    return _THICK_THERMOPLASTIC if thick and read_at == 70 else _WITHSTAND[rules][read_at]  # noqa: PLR2004


@functools.lru_cache(maxsize=256)
def conductor_ladder(
    *,
    rules: str = "nec",
    like: str | None = None,
    column: int | None = None,
    ambient: str | None = None,
    warmest: str | None = None,
    terminals: int | None = None,
    circuits: int = 1,
    method: str | None = None,
) -> tuple[Conductor, ...]:
    """Return all sizes that the tables hold under the same conditions, thin to thick.

    Parameters
    ----------
    rules, column, ambient, warmest, terminals, circuits, method
        As `conductor` has them.
    like : str, optional
        A size, such as ``"70 mm2"``, or a unit: whose way of naming sizes is followed. If not
        said: AWG and kcmil by NEC, mm² by IEC.

    Raises
    ------
    OutsideTableError
        Conditions under which the tables hold no size at all.
    UnitError
        As `conductor`.
    """
    metric = rules == "iec" if like is None else like.strip().lower().endswith(("mm2", "mm²"))
    sizes = [size for size in conductor_sizes() if size.endswith("mm2") == metric]
    found = []
    why: OutsideTableError | None = None
    for size in sizes:
        try:
            found.append(
                conductor(
                    size,
                    rules=rules,
                    column=column,
                    ambient=ambient,
                    warmest=warmest,
                    terminals=terminals,
                    circuits=circuits,
                    method=method,
                )
            )
        except OutsideTableError as problem:
            why = problem
    if not found and why is not None:
        raise why
    return tuple(sorted(found, key=lambda held: held.area))


def _unsaid(stated: object) -> str:
    return _UNSAID if stated is None else ""


def _refuse_unheld(
    rules: str, column: int | None, terminals: int | None, method: str | None
) -> None:
    """Refuse a rule set, a column, terminals or a method that the tables do not hold."""
    if rules not in RULE_SETS:
        raise OutsideTableError(f"rules '{rules}' are not held{nearest(rules, RULE_SETS)}")
    for what, asked, held in (
        ("column", column, _COLUMNS[rules]),
        ("terminals", terminals, _HELD_TO[rules]),
    ):
        if asked is not None and asked not in held:
            offered = " or ".join(str(c) for c in held)
            raise OutsideTableError(
                f"{what} {asked} degC is not held by {rules}; it needs {offered}"
            )
    if method is None:
        return
    if rules == "nec":
        raise OutsideTableError(
            f"method '{method}' is one of IEC; leave it out: NEC Table 310.16 holds for raceway, "
            "cable or earth"
        )
    if method not in _METHODS:
        raise OutsideTableError(f"method '{method}' is not held{nearest(method, _METHODS)}")


def _usual_column(rules: str, row_name: str) -> int:
    """Return the column of a conductor whose terminals and insulation nobody stated [degC]."""
    if rules == "iec":
        return 70
    return 60 if row_name in _TERMINALS_OF_60 else 75


def _held_to(rules: str, row_name: str, read_at: int, terminals: int | None) -> int:
    """Return the column that the terminals hold a conductor to [degC]."""
    if terminals is not None:
        return _HELD_TO[rules][terminals]
    return read_at if read_at < 90 else _usual_column(rules, row_name)  # noqa: PLR2004


def _warm(ambient: str | None, warmest: str | None) -> tuple[float, str]:
    """Return the temperature around a cable [degC], and in words whose it is.

    A place that gets warmer than what was stated has the last word.
    """
    stated = _USUAL_AMBIENT if ambient is None else float(celsius(ambient).m)
    site = -math.inf if warmest is None else float(celsius(warmest).m)
    if site <= stated:
        return stated, f"{number(stated)} degC around it{_unsaid(ambient)}"
    whose = _UNSAID if ambient is None else ", the warmest of the site"
    return site, f"{number(site)} degC around it{whose}"


def _together(circuits: int, rules: str) -> float:
    """Return the factor for circuits that lie together [1]; beyond the table, a refusal."""
    if isinstance(circuits, bool) or not isinstance(circuits, int) or circuits < 1:
        raise OutsideTableError(f"circuits must be a whole number from 1, got {circuits!r}")
    if rules == "nec":
        held = table("nec_310_15_c1_adjustment")
        carrying = 2 * circuits  # conductors that carry current
        factor = 1.0
        rows = zip(held.numbers("conductors from [1]"), held.numbers("factor [1]"), strict=True)
        for least, held_factor in rows:
            if carrying >= least:
                factor = held_factor
        return factor
    held = table("iec_60364_5_52_grouping")
    counts = held.numbers("circuits [1]")
    for most, factor in zip(counts, held.numbers("factor [1]"), strict=True):
        if circuits <= most:
            return factor
    raise OutsideTableError(
        f"{circuits} circuits together are more than the {number(counts[-1])} of the table"
    )


def _printed(rules: str, row: int, column: int, laid: str) -> float:
    """Return an ampacity as the table prints it, uncorrected [A]."""
    held = table(_AMPACITY[rules])
    if rules == "nec":
        return held.numbers(f"at {column} degC [A]")[row]
    insulation = "PVC" if column == 70 else "XLPE"  # noqa: PLR2004
    value = held.numbers(f"{insulation} {laid} at {column} degC [A]")[row]
    if math.isnan(value):
        raise OutsideTableError(
            f"{held.texts('area [mm2]')[row]} mm2 has no ampacity by method {laid} in the table"
        )
    return value


def _ampacity_row(name: str, area: float, rules: str) -> tuple[int, str]:
    """Return the row of a size in an ampacity table, or of the next smaller size there."""
    held = table(_AMPACITY[rules])
    if rules == "nec":
        names = list(held.texts("size"))
        areas = [all_sizes()[n][0] for n in names]
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


def _ambient_factor(warm: float, rules: str, column: int, bears: str = "") -> float:
    """Return the factor for the air around a cable [1]: a cool one earns nothing.

    Parameters
    ----------
    bears : str
        What a refusal names, in words that fit "above what …"; if not said, the column.
    """
    held = table(_AMBIENT[rules])
    for upto, factor in zip(
        held.numbers("ambient up to [degC]"), held.numbers(f"at {column} degC [1]"), strict=True
    ):
        if warm <= upto and not math.isnan(factor):
            return min(1.0, factor)
    raise OutsideTableError(
        f"ambient {number(warm)} degC is above what {bears or f'the {column} degC column allows'}"
    )


def busbar(
    width: object,
    thickness: object,
    *,
    length: object,
    count: int = 1,
    enclosed: bool | None = None,
    carries: object = None,
    name: str = "bus bars",
) -> Busbar:
    """Return bus bars of bare copper, with what one of them carries by DIN 43671.

    Parameters
    ----------
    width, thickness, length : text or quantity
        Of one bar, with their units: ``"40 mm"``.
    count : int
        Bars side by side for each pole.
    enclosed : bool, optional
        In a box, where a bar carries no more than 1.6 A/mm². Not said counts as in a box.
    carries : text or quantity, optional
        What one bar carries for good where it lies, by its maker; it goes before the table.
    name : str
        What to call them.

    Returns
    -------
    Busbar
        Its `carries` is None, unknown, for a size that the table does not hold and for several
        bars side by side, which warm each other: nothing is extrapolated.

    Examples
    --------
    >>> busbar("40 mm", "5 mm", length="60 cm", enclosed=False).carries.m
    482.0
    >>> busbar("40 mm", "5 mm", length="60 cm", enclosed=True).carries.m
    320.0
    """
    wide, thick = metres(width), metres(thickness)
    known = ALL_CHOSEN
    told: Quantity | None
    if carries is not None:
        told = amps(carries)
        conditions, source = "as its maker states", "equipment-manual"
    else:
        source = table(_TABLE).source
        amperes, conditions = _by_table(1e3 * wide.m, 1e3 * thick.m, count, enclosed=enclosed)
        told = None if amperes is None else CURRENT.of(amperes)
        if enclosed is None:
            known = ALL_CHOSEN.but(carries=Basis.ASSUMED)
    return Busbar(
        name=name,
        width=wide,
        thickness=thick,
        length=length,
        count=count,
        enclosed=enclosed,
        carries=told,
        conditions=conditions,
        source=source,
        basis=known,
    )


def _by_table(
    wide: float, thick: float, count: int, *, enclosed: bool | None
) -> tuple[float | None, str]:
    """Return what a bar of so many millimetres carries [A], and the conditions in words."""
    if count > 1:
        return None, "the table holds single bars; state what each of several side by side carries"
    held = table(_TABLE)
    sizes = zip(held.numbers("width [mm]"), held.numbers("thickness [mm]"), strict=True)
    carried = dict(zip(sizes, held.numbers("carries [A]"), strict=True))
    size = (round(wide, 3), round(thick, 3))  # metres are not whole millimetres to the last bit
    if size not in carried:
        return None, "a size that the table does not hold; state what one bar carries"
    words = "air at 35 degC, bar at 65 degC"
    if enclosed is False:
        return carried[size], f"{words}, in free air"
    words += ", in a box" + ("" if enclosed else " (not stated)")
    most = _IN_A_BOX * size[0] * size[1]
    if carried[size] <= most:
        return carried[size], words
    return most, f"{words}, held to {number(_IN_A_BOX)} A/mm2 by common practice"
