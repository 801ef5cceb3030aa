"""A candidate becomes a build sheet: the text of the sheet changed, its comments kept."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

import tomlkit

from evpack.base.basis import Basis
from evpack.base.errors import DescriptionError
from evpack.base.files import write_whole
from evpack.base.units import Quantity
from evpack.base.wording import number
from evpack.decide import decide
from evpack.describe.build import Build
from evpack.describe.charger import Charger
from evpack.describe.checked import need
from evpack.describe.equipment import EquipmentList
from evpack.describe.inverter import Inverter
from evpack.describe.safeguards import Disconnect
from evpack.design import design
from evpack.load.sheet import parse_sheet
from evpack.outcome.design import Decision
from evpack.outcome.search import Candidate, Change
from evpack.search.changes import DEVICES, changed

# Table and key in a sheet -> where it stands in a build, and its unit.
_WRITTEN = (
    ("module", "available", ""),
    ("pack", "modules_in_series", ""),
    ("pack", "strings", ""),
    ("policy", "charge_target", "V"),
    ("policy", "reserve", "%"),
    ("load", "continuous", "W"),
    ("load", "typical", "W"),
    ("load", "peak", "W"),
)
_SAME = 1e-9


def sheet_for(
    build: Build,
    candidate: Candidate | Sequence[Change],
    *,
    equipment: EquipmentList | None = None,
    folder: Path | None = None,
) -> str:
    """Return the text of the build's sheet with a candidate's changes made.

    What was read is read once more from the new text, and must be the changed build.

    Parameters
    ----------
    build : Build
        As read from a sheet.
    candidate : Candidate, or changes
        What a search found.
    equipment : EquipmentList, optional
        The list that a device of the candidate comes from: its section is written in place of
        that of the device that it stands in for.
    folder : Path, optional
        Where a bench record beside the sheet lies.

    Raises
    ------
    DescriptionError
        The build was not read from a sheet; a whole device is exchanged, and no list was given
        that was read from a file and holds it; or the text would not decide as the search did.
    """
    need("sheet_for", build, Build)
    document = tomlkit.parse(_sheet_of(build))
    changes = candidate.changes if isinstance(candidate, Candidate) else tuple(candidate)
    for change in changes:
        if change.place in {"inverter.leg", "charger.out"} or (
            change.place in DEVICES and _section(change, equipment) is None
        ):
            raise DescriptionError(
                f"'{change.says}' is a whole section [[{change.place.partition('.')[0]}]]: copy it "
                "from the list that it came from, or from the one that stands there"
            )
    new = changed(build, tuple(changes))
    for table, key, value in _differing(build, new):
        _put(document.setdefault(table, tomlkit.table()), key, value)
    for change in changes:
        if change.place in DEVICES:
            _exchanged(document, build, change, _section(change, equipment) or {})
        else:
            _written(document, change)
    return _proven(tomlkit.dumps(document), new, folder)


def edited_sheet(
    build: Build,
    entries: Mapping[str, Mapping[str, int | str]],
    wanted: Build,
    *,
    folder: Path | None = None,
) -> str:
    """Return the text of the build's sheet with entries written into it, comments kept.

    Parameters
    ----------
    build : Build
        As read from a sheet.
    entries : mapping
        Of tables (``"cabling.main"``), keys and values as typed in a sheet.
    wanted : Build
        What the entries make of the build: the text must decide as it does.

    Raises
    ------
    DescriptionError
        As `sheet_for`.
    """
    return _proven(with_entries(build, entries), wanted, folder)


def with_entries(build: Build, entries: Mapping[str, Mapping[str, int | str]]) -> str:
    """Return the text of the build's sheet with entries written into it, comments kept.

    Raises
    ------
    DescriptionError
        The build was not read from a sheet.
    """
    document = tomlkit.parse(_sheet_of(build))
    for table, values in entries.items():
        place: Any = document
        for part in table.split("."):
            place = place.setdefault(part, tomlkit.table())
        for key, value in values.items():
            _put(place, key, value)
    return tomlkit.dumps(document)


def _put(table: Any, key: str, value: Any) -> None:
    """Write a value that is chosen, also where all else of its section is known otherwise."""
    if table.get("basis", Basis.CHOSEN.value) == Basis.CHOSEN.value or key in _NO_BASIS:
        table[key] = value
        return
    told = tomlkit.inline_table()
    told.update({"value": value, "basis": Basis.CHOSEN.value})
    table[key] = told


# How well a conductor is known is looked up, and is no value of its own.
_NO_BASIS = frozenset({"size"})


def write_sheet(
    build: Build,
    path: str | Path,
    candidate: Candidate | Sequence[Change],
    *,
    equipment: EquipmentList | None = None,
) -> Path:
    """Write the sheet of a candidate to a new file; a file that is there is never replaced.

    Raises
    ------
    EvpackError
        As `sheet_for`; and the file is there already, or cannot be written.
    """
    target = Path(path)
    text = sheet_for(build, candidate, equipment=equipment, folder=target.parent)
    return write_whole(target, text)


def _sheet_of(build: Build) -> str:
    if not build.sheet:
        raise DescriptionError(
            "this build was not read from a build sheet, so there is no text to change"
        )
    return build.sheet


def _proven(text: str, wanted: Build, folder: Path | None) -> str:
    """Return the text if it can be read again and decides as the build that is wanted."""
    again = parse_sheet(text, folder=folder)  # a sheet that cannot be read is never handed on
    said, due = (decide(design(made)) for made in (again, wanted))
    if said.verdict is not due.verdict:
        raise DescriptionError(
            f"the sheet would say '{said.verdict}' where '{due.verdict}' was found: make the "
            "changes by hand, and decide again"
        )
    for what, mine, theirs in zip(_TOLD, _told(said), _told(due), strict=True):
        if mine != theirs:
            raise DescriptionError(
                f"the sheet would come to other {what} than was found: make the changes by hand, "
                "and decide again. Is another bench record of that name beside the new sheet?"
            )
    return text


_TOLD = ("settings", "fuses and cables", "figures of the pack")
_DIGITS = 6  # that a written value keeps, so that a rounding in the last of them is no difference


def _told(decision: Decision) -> tuple[object, object, object]:
    """Return what a person would act on: entries, fuses and cables, the pack's own figures.

    In their order and without the names of devices: one that takes the place of another keeps that
    one's name in a sheet.
    """
    made = decision.design
    sheet, schedule, figures = made.settings, made.protection, made.figures
    settings = [
        (line.name, line.entry)
        for device in (() if sheet is None else sheet.devices)
        for line in device.lines
    ]
    fuses = [
        (fuse.count, fuse.size, "" if fuse.family is None else fuse.family.name)
        for fuse in (() if schedule is None else schedule.fuses)
    ]
    cables = [
        None if cable.run is None else (cable.run.conductor.size, cable.run.parallel)
        for cable in (() if schedule is None else schedule.cables)
    ]
    lines = () if figures is None else figures.lines()
    numbers = [(line.name, float(f"{line.value:.{_DIGITS}g}")) for line in lines]
    return settings, (fuses, cables), numbers


def _noun(build: Build, table: str) -> Any:
    return build.pack.module if table == "module" else getattr(build, table)


def _differing(old: Build, new: Build) -> Iterator[tuple[str, str, Any]]:
    """Yield table, key and value, as typed, of what differs between two builds."""
    for table, key, unit in _WRITTEN:
        before, after = (getattr(_noun(build, table), key) for build in (old, new))
        if after is None or before is after:
            continue
        if isinstance(after, int):
            if after != before:
                yield table, key, after
        elif before is None or abs(float(after.m) - float(before.m)) > _SAME:
            yield table, key, _typed(after, unit)


def _typed(value: Quantity, unit: str) -> str:
    return f"{number(float(value.m) * (100 if unit == '%' else 1), 9)} {unit}"


def _written(document: Any, change: Change) -> None:
    """Write a change that is no plain value of a noun."""
    table, _, rest = change.place.partition(".")
    if table == "inverter":
        inverters = document["inverter"]
        first = inverters[0] if isinstance(inverters, list) else inverters
        first["count"] = change.value
    elif table == "cabling":
        run = document["cabling"][rest.removesuffix(".size")]
        run["size"] = change.value
    elif isinstance(change.value, Disconnect):
        document.setdefault("protection", tomlkit.table())[rest] = _disconnect(change.value)
    elif table == "protection":
        document.setdefault("protection", tomlkit.table())[rest] = change.value


def _section(change: Change, equipment: EquipmentList | None) -> Mapping[str, Any] | None:
    """Return how a device is typed by the list that it comes from; None where it is not."""
    name = getattr(change.value, "name", "")
    return None if equipment is None else equipment.sections.get(name)


_STAYS = {"inverter": ("name", "count", "leg"), "charger": ("name", "count", "kept_off")}


def _exchanged(document: Any, build: Build, change: Change, section: Mapping[str, Any]) -> None:
    """Write another device in place of each one it stands in for; name, count and leg stay.

    Comments stay too: among those after a section are the ones of the section that follows.
    """
    stays, found = _STAYS[change.place], document[change.place]
    tables = found if isinstance(found, list) else [found]
    olds: tuple[Inverter | Charger, ...] = (
        build.inverters if change.place == "inverter" else build.chargers
    )
    for table, old in zip(tables, olds, strict=True):
        if isinstance(old, Charger) and old.source != getattr(change.value, "source", ""):
            continue
        for key in [key for key in table if key not in stays]:
            del table[key]
        table["name"] = old.name  # the old section may have had it from the library
        for key, value in sorted(section.items(), key=lambda pair: _is_section(pair[1])):
            if key not in stays:
                table[key] = _as_typed(value)
        built_in = old.charger if isinstance(old, Inverter) else None
        off = built_in.kept_off if isinstance(built_in, Charger) else ""
        if off and isinstance(table.get("charger"), Mapping):  # what was kept off stays off
            table["charger"]["kept_off"] = off
        if not table.as_string().endswith("\n\n"):
            table.add(tomlkit.nl())
        new = " ".join(getattr(change.value, "name", "").split())
        table.comment(f"now {new}; what comments here say of another device no longer holds")


def _is_section(value: object) -> bool:
    """Return whether a value is a section of its own and not one line; sections stand last."""
    return isinstance(value, Mapping) and not {"from", "value"} & value.keys()


def _as_typed(value: Any) -> Any:
    """Return a value as a person types it: a range in one line, a section as a section."""
    if not isinstance(value, Mapping):
        return value
    typed = tomlkit.table() if _is_section(value) else tomlkit.inline_table()
    for key, inner in value.items():
        typed[key] = _as_typed(inner)
    return typed


def _disconnect(wanted: Disconnect) -> Any:
    """Return a disconnect as it is typed in a sheet: what to buy, till its print is read."""
    table = tomlkit.table()
    for key, unit in (("dc_voltage", "V"), ("current", "A"), ("withstands", "A")):
        value = getattr(wanted, key)
        if value is not None:
            table[key] = _typed(value, unit)
    for key in ("breaks_load", "poles", "polarised", "place"):
        if getattr(wanted, key) not in {None, ""}:
            table[key] = getattr(wanted, key)
    table["basis"] = "assumed"
    return table
