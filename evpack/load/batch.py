"""The batch sheet: a TOML file, the log and records it names become one `Batch`, or a refusal."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import attrs

from evpack.base.basis import Basis
from evpack.base.errors import DataError, DescriptionError, nearest
from evpack.base.files import read_bytes
from evpack.base.units import Quantity, amp_hours, celsius, ohms, share, volts
from evpack.base.wording import say
from evpack.describe.batch import Batch, Rest, TestedModule
from evpack.describe.checked import exact, whole
from evpack.describe.chemistry import Chemistry
from evpack.describe.module import RESISTANCE_METHODS
from evpack.load.batch_log import Bench, FromRecord, read_log
from evpack.load.bench_record import CurrentSign, read_bench_record
from evpack.load.beside import Beside
from evpack.load.chemistries import chemistry, shipped
from evpack.load.fields import (
    Gathering,
    Given,
    Place,
    build,
    check_keys,
    got,
    read,
    section,
    text,
    with_basis,
)
from evpack.load.grading import grading_over
from evpack.load.places import data_dir
from evpack.load.text import LARGEST, Toml, read_text, read_toml
from evpack.outcome.bench import BenchReading

__all__ = ["example_batch", "parse_batch", "read_batch"]

_FROM_LIBRARY = "library:"
_ABOVE = ("title", "note", "invented", "cells_in_series", "cells_in_parallel")
_SECTIONS = ("new", "log", "wanted", "meter", "grading")
_GROUPS = ("apart", "together")
_SIGNS = ("detect", "charge-positive", "discharge-positive")
_SPREADSHEETS = {".xlsx", ".xls", ".ods"}


@attrs.frozen(kw_only=True)
class Records:
    """Where the records of a log lie, and with what they were made; a call reads one.

    Parameters
    ----------
    beside : Beside
        The folder of the log.
    voltage_accuracy, current_accuracy : quantity or None
        Of the meters [V], [1].
    """

    beside: Beside
    cells: int
    chemistry: Chemistry
    current_sign: CurrentSign
    voltage_accuracy: Any
    current_accuracy: Any

    def __call__(self, name: str, date: dt.date) -> FromRecord:
        """Return what the record of that name, made on that day, says of a module."""
        path = self.beside.file(name, "log")
        targets = self.chemistry.targets
        reading = read_bench_record(
            path,
            current_sign=self.current_sign,
            least_rest=targets.rest if targets else "1 h",
            voltage_accuracy=self.voltage_accuracy,
            current_accuracy=self.current_accuracy,
        )
        self._refuse_another(reading)
        lowest = reading.lowest_cell
        return FromRecord(
            fields=_fields(reading) | self._groups(reading),
            rests=_rest(reading, date),
            lowest=None if lowest is None else float(lowest.m),
            notes=_notes(reading, name, date),
        )

    def _groups(self, reading: BenchReading) -> dict[str, Any]:
        """Return how far the weakest cell group fell behind, looked at as a pack would stop."""
        if reading.groups is None:
            return {}
        targets = self.chemistry.targets
        floor = None if targets is None else targets.warn_low
        return {"imbalance_empty": reading.groups.below_mean(self.cells, floor)}

    def _refuse_another(self, reading: BenchReading) -> None:
        """Refuse a record of one cell, or of another kind of module."""
        mean = float(reading.mean_voltage.m) / self.cells
        limits = self.chemistry.limits
        if not limits.least.m <= mean <= limits.highest.m:
            raise DescriptionError(
                f"its mean voltage of {say(float(reading.mean_voltage.m), 'V')} makes "
                f"{say(mean, 'V')} for each of {self.cells} cell groups; a record of the whole "
                "module is needed"
            )
        if reading.end_cells.size not in {0, self.cells}:
            raise DescriptionError(
                f"it tells of {reading.end_cells.size} cell groups, and a module has "
                f"{self.cells} in series"
            )


def _fields(reading: BenchReading) -> dict[str, Any]:
    """Return the fields of a `TestedModule` that the record tells; what it does not is left out."""
    found: dict[str, Any] = {
        "capacity": reading.capacity,
        "capacity_error": reading.capacity_error,
        "energy": reading.energy,
        "capacity_current": reading.current,
        "capacity_temperature": reading.temperature,
        "charge_efficiency": reading.charge_efficiency,
        "rise": reading.rise,
        "ended_by": reading.ended_by,
    }
    if reading.resistance is not None:
        found |= {
            "resistance": reading.resistance,
            "resistance_error": reading.resistance_error,
            "resistance_method": "10 s pulse",
            "resistance_soc": reading.resistance_soc,
            "resistance_temperature": reading.resistance_temperature,
        }
    return {field: value for field, value in found.items() if value is not None}


def _rest(reading: BenchReading, date: dt.date) -> tuple[Rest, ...]:
    if reading.full_voltage is None:
        return ()
    rest = Rest(
        date=date,
        rested=reading.full_rested,
        temperature=reading.temperature,
        voltage=reading.full_voltage,
        cells=tuple(float(volts) for volts in reading.full_cells),
        full=True,
    )
    return (rest,)


def _notes(reading: BenchReading, name: str, date: dt.date) -> tuple[str, ...]:
    """Say what came from the record, and what of its own notes a judge must know."""
    told = ["capacity", "energy"]
    if reading.resistance is not None:
        told.append(f"resistance ({reading.resistance_where})")
    found = [f"{', '.join(told)} of {date} from the record {name}"]
    weighty = ("taken on trust", "do not add up", "cell groups were read", "Of the cell groups")
    found += [note for note in reading.notes if any(words in note for words in weighty)]
    return tuple(found)


def _above_nothing(_noun: Any, field: Any, given: Quantity | None) -> None:
    if given is not None and exact(given):
        raise DescriptionError(f"{field.name} must be above 0{exact(given)}")


@attrs.frozen(kw_only=True)
class _New:
    """The section ``[new]``: such a module when it was new."""

    capacity: Quantity | None = attrs.field(
        converter=attrs.converters.optional(amp_hours), default=None
    )
    resistance: Quantity | None = attrs.field(
        converter=attrs.converters.optional(ohms), default=None
    )
    resistance_temperature: Quantity | None = attrs.field(
        converter=attrs.converters.optional(celsius), default=None
    )
    resistance_soc: Quantity | None = attrs.field(
        converter=attrs.converters.optional(share), default=None
    )


@attrs.frozen(kw_only=True)
class _Wanted:
    """The section ``[wanted]`` as far as it is plain: the pack that is wanted."""

    modules_in_series: int | None = attrs.field(
        validator=attrs.validators.optional(whole(1, 400)), default=None
    )
    strings: int | None = attrs.field(
        validator=attrs.validators.optional(whole(1, 400)), default=None
    )


@attrs.frozen(kw_only=True)
class _Meter:
    """The section ``[meter]``: what the meters promise."""

    voltage: Quantity | None = attrs.field(
        converter=attrs.converters.optional(volts), validator=_above_nothing, default=None
    )
    current: Quantity | None = attrs.field(
        converter=attrs.converters.optional(share), validator=_above_nothing, default=None
    )


def read_batch(path: str | Path) -> Batch:
    """Read a batch sheet from a file, with the log that it names.

    Parameters
    ----------
    path : str or Path
        The TOML file. The log counts from its folder, and bench records from that of the log.

    Raises
    ------
    DataError
        Anything that cannot be read: the message names the file, the key or the line and column,
        what was got and what is needed.
    """
    file = Path(path)
    if file.suffix.lower() == ".csv":
        raise DataError(
            str(path),
            "",
            f'is a table; a batch sheet is needed, which names it: [log] file = "{file.name}"',
        )
    return parse_batch(read_text(file, str(path)), str(path), file.parent)


def example_batch(name: str) -> Path:
    """Return the file of an example batch sheet.

    Raises
    ------
    DataError
        There is none of that name; the nearest is named.
    """
    known = shipped("batches")
    if name not in known:
        raise DataError("batches", name, f"is no example{nearest(name, known)}")
    return known[name]


def parse_batch(sheet: str, name: str = "batch sheet", folder: Path | None = None) -> Batch:
    """Read a batch sheet from its text.

    Parameters
    ----------
    sheet : str
        The text.
    name : str
        What to call it in messages.
    folder : Path, optional
        Where the log is looked for; without it only those of the library can be used.

    Raises
    ------
    DataError
        As `read_batch`.
    """
    document, place = read_toml(sheet, name), Place(name)
    problems, given = Gathering(), Given()
    more: dict[str, Any] = {}
    with problems.keeping():
        check_keys(document, place, (*_ABOVE, "chemistry", *_SECTIONS))
    with problems.keeping():
        given = _above(document, place)
    with problems.keeping():
        given = _kind(document, place).over(given)
    with problems.keeping():
        given = _new(document, place).over(given)
    wanted, meter = Given(), Given()
    wishes: dict[str, Any] = {}
    with problems.keeping():
        wanted, wishes = _wanted(document, place)
    with problems.keeping():
        meter = _read(_Meter, document, "meter", place)
    with problems.keeping():
        more["measures"] = grading_over(section(document, "grading", place), place.at("grading"))
    log: Path | None = None
    with problems.keeping():
        log = _log(document, place, None if folder is None else Beside(folder))
    problems.done()
    assert log is not None  # noqa: S101  else it was refused
    more["modules"] = _modules(document, log, given, meter)
    _check_names(wishes, more["modules"], place.at("wanted"))
    if "voltage" in meter.values:
        given = Given(
            {"voltage_accuracy": meter.values["voltage"]},
            {"voltage_accuracy": meter.bases["voltage"]},
        ).over(given)
    return build(Batch, wanted.over(given), place, Basis.CHOSEN, sheet=sheet, **wishes, **more)


def _above(document: Toml, place: Place) -> Given:
    """Return what stands above all sections; whoever typed it chose it."""
    table = {key: value for key, value in document.items() if key in _ABOVE}
    problems, given = Gathering(), Given()
    with problems.keeping():
        given = read(Batch, table, place, Basis.CHOSEN)
    for needed in ("title", "cells_in_series"):
        if needed not in document:
            with problems.keeping():
                raise place.at(needed).refuse("is missing")
    problems.done()
    return given


def _kind(document: Toml, place: Place) -> Given:
    """Return the chemistry: assumed unless the sheet says how it is known."""
    if "chemistry" not in document:
        raise place.at("chemistry").refuse("is missing")
    raw, basis = with_basis(document["chemistry"], place.at("chemistry"), Basis.ASSUMED)
    key = text({"chemistry": raw}, "chemistry", place)
    known = shipped("chemistries")
    if key not in known:
        raise place.at("chemistry").refuse(f"'{key[:40]}' is not held{nearest(key, known)}")
    return Given({"chemistry": chemistry(key)}, {"chemistry": basis})


def _read(noun: type, document: Toml, name: str, place: Place) -> Given:
    return read(noun, section(document, name, place), place.at(name), Basis.ASSUMED)


def _new(document: Toml, place: Place) -> Given:
    """Return what such a module was when new; a resistance may say how it was read."""
    table, method = dict(section(document, "new", place)), "not stated"
    below = place.at("new")
    raw = table.get("resistance")
    if isinstance(raw, Mapping) and "method" in raw:
        method = text(raw, "method", below.at("resistance"))
        if method not in RESISTANCE_METHODS:
            raise below.at("resistance.method").refuse(
                f"'{method[:40]}' is not known{nearest(method, RESISTANCE_METHODS)}"
            )
        table["resistance"] = {key: value for key, value in raw.items() if key != "method"}
    given = read(_New, table, below, Basis.ASSUMED)
    for key in ("capacity", "resistance"):
        value = given.values.get(key)
        if value is not None and value.m <= 0:
            raise below.at(key).refuse("must be above 0")
    return Given(
        {f"new_{key}": value for key, value in given.values.items()}
        | {"new_resistance_method": method},
        {f"new_{key}": basis for key, basis in given.bases.items()},
        frozenset(f"new_{key}" for key in given.confirmed),
    )


def _wanted(document: Toml, place: Place) -> tuple[Given, dict[str, Any]]:
    """Return the pack that is wanted, and which modules are to stand where."""
    table, below = section(document, "wanted", place), place.at("wanted")
    given = read(_Wanted, table, below, Basis.CHOSEN, besides=(*_GROUPS, "leave_out"))
    for one, other in (("modules_in_series", "strings"), ("strings", "modules_in_series")):
        if one in table and other not in table:
            raise below.at(other).refuse(f"is missing; {one} alone is no pack")
    problems = Gathering()
    wishes: dict[str, Any] = {}
    for key in _GROUPS:
        with problems.keeping():
            wishes[key] = _groups(table.get(key, []), below.at(key))
    with problems.keeping():
        wishes["leave_out"] = _names(table.get("leave_out", []), below.at("leave_out"))
    problems.done()
    return given, wishes


def _names(raw: object, place: Place) -> tuple[str, ...]:
    if not isinstance(raw, list) or not all(isinstance(name, str) for name in raw):
        raise place.refuse(f'{got(raw)}; names in quotes are needed, such as ["A1", "A2"]')
    for at, name in enumerate(raw):
        if name in raw[:at]:
            raise place.refuse(f"'{name[:40]}' stands there twice")
    return tuple(raw)


def _groups(raw: object, place: Place) -> tuple[tuple[str, ...], ...]:
    like = 'groups of names are needed, such as [["A1", "A2"]]'
    if not isinstance(raw, list) or not all(isinstance(group, list) for group in raw):
        raise place.refuse(f"{got(raw)}; {like}")
    groups = tuple(_names(group, place) for group in raw)
    if any(len(group) < 2 for group in groups):  # noqa: PLR2004
        raise place.refuse(f"got a group of fewer than two; {like}")
    return groups


def _check_names(wishes: Mapping[str, Any], modules: Sequence[TestedModule], place: Place) -> None:
    """Refuse wishes for modules that are not in the log, where they stand."""
    known, problems = [module.name for module in modules], Gathering()
    for key, wish in wishes.items():
        groups = (wish,) if key == "leave_out" else wish
        for name in (name for group in groups for name in group):
            if name not in known:
                with problems.keeping():
                    raise place.at(key).refuse(
                        f"no module is called '{name[:40]}'{nearest(name, known)}"
                    )
    problems.done()


def _log(document: Toml, place: Place, beside: Beside | None) -> Path:
    """Return the file of the log that a sheet names."""
    if "log" not in document:
        raise place.at("log").refuse('the section is missing; it names the log, file = "heap.csv"')
    table, below = section(document, "log", place), place.at("log")
    check_keys(table, below, ("file", "current_sign"))
    sign = text(table, "current_sign", below, "detect")
    if sign not in _SIGNS:
        raise below.at("current_sign").refuse(f"'{sign[:40]}' is not known{nearest(sign, _SIGNS)}")
    name, below = text(table, "file", below), below.at("file")
    if Path(name).suffix.lower() in _SPREADSHEETS:
        raise below.refuse(f"'{name[:60]}' is a spreadsheet; save it as CSV with UTF-8 encoding")
    if name.startswith(_FROM_LIBRARY):
        own = name.removeprefix(_FROM_LIBRARY)
        known = {path.name: path for path in (data_dir() / "batches").glob("*.csv")}
        if own not in known:
            raise below.refuse(f"'{own[:60]}' is no log of the library{nearest(own, known)}")
        return known[own]
    if beside is None:
        raise below.refuse("the log is a file beside the sheet, which was read without a folder")
    with below.refusing():
        return beside.file(name)


def _modules(document: Toml, log: Path, given: Given, meter: Given) -> tuple[TestedModule, ...]:
    """Return the modules of a log."""
    kind: Chemistry = given.values["chemistry"]
    cells = int(given.values["cells_in_series"])
    accuracy = meter.values.get("voltage")
    table: Any = document["log"]
    records = Records(
        beside=Beside(log.parent),
        cells=cells,
        chemistry=kind,
        current_sign=table.get("current_sign", "detect"),
        voltage_accuracy=accuracy,
        current_accuracy=meter.values.get("current"),
    )
    name = table["file"].removeprefix(_FROM_LIBRARY)
    bench = Bench(
        file=name,
        cells=cells,
        chemistry=kind,
        accuracy=None if accuracy is None else float(accuracy.m),
        record=records,
    )
    return read_log(_log_text(log, name), bench)


def _log_text(log: Path, name: str) -> str:
    """Return the text of a log, or refuse it in words of its own kind."""
    told = "is larger than 1 MB; a log of a thousand rows is a tenth of it"
    raw = read_bytes(log, name, most=LARGEST, too_large=told)
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as problem:
        line = raw.count(b"\n", 0, problem.start) + 1
        raise DataError(
            name, f"line {line}", "is not UTF-8 text; save the log as CSV with UTF-8 encoding"
        ) from None
