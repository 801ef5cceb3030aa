"""Sections that may take a library entry with ``use``: module, inverter, charger, profile.

An entry of the library is the same table as the section of a build sheet, in a file of its own.
Keys that a sheet types go over the entry's; each value keeps how it is known.
"""

from __future__ import annotations

import functools
from collections.abc import Callable
from pathlib import Path

import attrs
import numpy as np

from evpack.base.basis import Basis
from evpack.base.errors import DataError, nearest
from evpack.base.files import is_file
from evpack.base.fitted import NOT_FITTED, is_not_fitted
from evpack.base.units import RESISTANCE, SHARE, TEMPERATURE, VOLTAGE, Kind
from evpack.describe.charger import Charger, LeadAcidProfile
from evpack.describe.chemistry import Chemistry
from evpack.describe.inverter import Inverter
from evpack.describe.module import Module
from evpack.load.bench_record import read_bench_record
from evpack.load.beside import Beside
from evpack.load.chemistries import chemistry, shipped, shipped_record
from evpack.load.fields import (
    BESIDE,
    Gathering,
    Given,
    Place,
    basis_of,
    build,
    check_keys,
    confirmed,
    got,
    read,
    section,
    text,
    with_basis,
)
from evpack.load.places import data_dir
from evpack.load.text import Toml, read_text, read_toml
from evpack.outcome.bench import BenchReading

# What an entry of the library says besides its noun's fields.
ABOUT = ("summary", "known_from", "system")
_FROM_LIBRARY = "library:"
_MODULE_READ_HERE = ("use", "chemistry", "resistance", "resistance_method", "bench")
# What was said with a resistance, inside its braces or as a key of its own.
_READ_WITH: dict[str, tuple[str, Kind]] = {
    "temperature": ("resistance_temperature", TEMPERATURE),
    "soc": ("resistance_soc", SHARE),
}
_TESTED = ("cell", "module")

Reader = Callable[[Toml, Place, Basis], Given]


def profile_given(table: Toml, place: Place, usual: Basis) -> Given:
    """Read a lead-acid profile."""
    return read(LeadAcidProfile, table, place, usual)


def charger_given(table: Toml, place: Place, usual: Basis) -> Given:
    """Read a charger, with the library entry it uses and the profile left on it."""
    usual = basis_of(table, place, usual)
    given = read(Charger, table, place, usual, besides=("use", "left_on"))
    if "left_on" in table:
        left_on, how = with_basis(table["left_on"], place.at("left_on"), usual)
        with place.at("left_on").refusing():
            if not isinstance(left_on, str):
                raise place.at("left_on").refuse(f"{got(left_on)}; a profile's key is needed")
            profile = lead_acid_profile(left_on, place.at("left_on"))
        given = Given({"left_on": profile}, {"left_on": how}).over(given)
    return given.over(_used(table, place, "chargers"))


def inverter_given(table: Toml, place: Place, usual: Basis) -> Given:
    """Read an inverter, with the library entry it uses and its built-in charger."""
    usual = basis_of(table, place, usual)
    given = read(Inverter, table, place, usual, besides=("use", "charger"))
    given = given.over(_used(table, place, "inverters"))
    if "charger" not in table:
        return given
    below = place.at("charger")
    if is_not_fitted(table["charger"]):
        return Given({"charger": NOT_FITTED}, {"charger": usual}).over(given)
    if not isinstance(table["charger"], dict):
        raise below.refuse(
            f'{got(table["charger"])}; a section [inverter.charger] is needed, or "none" if the '
            "inverter has no charger built in"
        )
    inner = section(table, "charger", place)
    name = f"charger of {given.values.get('name', 'the inverter')}"
    built_in = Given({"name": name, "source": "mains"})
    charger = build(
        Charger, charger_given(inner, below, usual).over(built_in), below, Basis.ASSUMED
    )
    return Given({"charger": charger}, {"charger": usual}).over(given)


def module_given(table: Toml, place: Place, usual: Basis, beside: Beside | None = None) -> Given:
    """Read a module: what is typed goes over its bench record, and that over a library entry.

    A typed resistance says how high the module's lies, the record how it bends with the state of
    charge: the record's curve is kept and brought to the typed value. Without it the rise towards
    empty, where a pack gives up first, would be lost.

    Parameters
    ----------
    beside : Beside or None
        The folder of the sheet, from which a bench record's path counts.
    """
    problems, given = Gathering(), Given()
    with problems.keeping():
        usual = basis_of(table, place, usual)
        given = read(Module, table, place, usual, besides=_MODULE_READ_HERE)
    with problems.keeping():
        given = _resistance(table, place, usual).over(given)
    with problems.keeping():
        given = _chemistry(table, place, usual).over(given)
    with problems.keeping():
        entry = _used(table, place, "modules")
    problems.done()
    if "bench" in table:
        measured = _bench(table, place, given.over(entry), beside)
        entry = measured.over(entry)
    return _brought_to(given, entry).over(entry)


def _brought_to(typed: Given, lower: Given) -> Given:
    """Return what was typed, with the resistance curve below it brought to a typed resistance.

    At middle charge, where the record's one resistance was read, the curve then has the typed
    value. It is assumed where either of the two is.
    """
    curve = lower.values.get("resistance_curve")
    if curve is None or "resistance" not in typed.values:
        return typed
    times = float(typed.values["resistance"].m) / float(lower.values["resistance"].m)
    known = {typed.bases["resistance"], lower.bases["resistance_curve"]}
    how = Basis.ASSUMED if Basis.ASSUMED in known else Basis.COMPUTED
    brought = attrs.evolve(curve, ohms=curve.ohms * times)
    return Given({"resistance_curve": brought}, {"resistance_curve": how}).over(typed)


READERS: dict[str, Reader] = {
    "modules": module_given,
    "inverters": inverter_given,
    "chargers": charger_given,
    "profiles": profile_given,
}
_FOLDERS = {
    "modules": "modules",
    "inverters": "equipment/inverters",
    "chargers": "equipment/chargers",
    "profiles": "equipment/profiles",
}


def keys(kind: str) -> dict[str, Path]:
    """Return the files of a kind of library entry by key."""
    return shipped(_FOLDERS[kind])


@functools.cache
def entry(kind: str, key: str) -> Given:
    """Return what a library entry says.

    Raises
    ------
    DataError
        There is none of that key; the nearest is named.
    """
    known = keys(kind)
    if key not in known:
        raise DataError(kind, key, f"is not in the library{nearest(key, known)}")
    name = f"{key}.toml"
    table = read_toml(read_text(known[key], name), name)
    fields = {k: v for k, v in table.items() if k not in ABOUT}
    return READERS[kind](fields, Place(name), Basis.ASSUMED)


@functools.cache
def _profile(key: str) -> LeadAcidProfile:
    return build(
        LeadAcidProfile, entry("profiles", key), Place(f"{key}.toml"), untouched=Basis.ASSUMED
    )


def lead_acid_profile(key: str, place: Place | None = None) -> LeadAcidProfile:
    """Return a lead-acid profile of the library, or refuse at the place that asked for it."""
    known = keys("profiles")
    if place is not None and key not in known:
        raise place.refuse(f"'{key[:40]}' is no profile of the library{nearest(key, known)}")
    return _profile(key)


def _used(table: Toml, place: Place, kind: str) -> Given:
    if "use" not in table:
        return Given()
    key = text(table, "use", place)
    known = keys(kind)
    if key not in known:
        raise place.at("use").refuse(f"'{key[:40]}' is not in the library{nearest(key, known)}")
    return entry(kind, key)


def _chemistry(table: Toml, place: Place, usual: Basis) -> Given:
    if "chemistry" not in table:
        return Given()
    key = text(table, "chemistry", place)
    known = shipped("chemistries")
    if key not in known:
        raise place.at("chemistry").refuse(f"'{key[:40]}' is not held{nearest(key, known)}")
    return Given({"chemistry": chemistry(key)}, {"chemistry": usual})


def _resistance(table: Toml, place: Place, usual: Basis) -> Given:
    """Read ``"16 mOhm"`` or ``{ value, method, temperature, soc, basis }``.

    A typed resistance takes nothing of how that of a record or an entry below it was read.
    """
    if "resistance_method" in table:
        raise place.at("resistance_method").refuse(
            'is said with the resistance: { value = "16 mOhm", method = "10 s pulse" }'
        )
    if "resistance" not in table:
        return Given()
    raw, place, method = table["resistance"], place.at("resistance"), "not stated"
    how: dict[str, object] = {field: None for field, _ in _READ_WITH.values() if field not in table}
    sure = {"resistance"} if confirmed(raw, place) else set()
    if isinstance(raw, dict):
        check_keys(raw, place, ("value", "method", *_READ_WITH, *BESIDE))
        how |= _read_with(raw, table, place)
        if "value" not in raw:
            raise place.at("value").refuse("is missing")
        method = text(raw, "method", place, method)
        usual = basis_of(raw, place, usual)
        raw, place = raw["value"], place.at("value")
    with place.refusing():
        if isinstance(raw, list | dict):
            raise place.refuse(f"{got(raw)}, where a resistance is due, such as '16 mOhm'")
        value = RESISTANCE.read(raw)
    values = {"resistance": value, "resistance_method": method, **how}
    return Given(values, dict.fromkeys(values, usual), frozenset(sure))


def _read_with(raw: Toml, table: Toml, place: Place) -> dict[str, object]:
    """Return at what temperature and state of charge a typed resistance was read."""
    found: dict[str, object] = {}
    for key, (field, kind) in _READ_WITH.items():
        if key not in raw:
            continue
        if field in table:
            raise place.at(key).refuse(f"is said as {field} too; leave one of them out")
        with place.at(key).refusing():
            if isinstance(raw[key], list | dict):
                raise place.at(key).refuse(f"{got(raw[key])}; {kind.one} in quotes is needed")
            found[field] = kind.read(raw[key])
    return found


def _bench(table: Toml, place: Place, given: Given, beside: Beside | None) -> Given:
    """Return what a bench record says of the module.

    A record beside the sheet is the user's own, and its values are measured. One of the library
    was made on somebody else's cell, and what it says of this module is assumed. The section's
    own ``basis`` overrides both, and its ``confirmed`` holds for all that the record says.
    """
    inner, below = section(table, "bench", place), place.at("bench")
    check_keys(inner, below, ("record", "current_sign", "tested", *BESIDE))
    sure = confirmed(inner, below)
    others = text(inner, "record", below).startswith(_FROM_LIBRARY)
    how = basis_of(inner, below, Basis.ASSUMED if others else Basis.MEASURED)
    for needed in ("chemistry", "cells_in_series"):
        if needed not in given.values:
            raise place.at(needed).refuse("is missing; a bench record is read with it")
    series = int(given.values["cells_in_series"])
    parallel = int(given.values.get("cells_in_parallel", 1))
    tested = text(inner, "tested", below, "cell")
    if tested not in _TESTED:
        raise below.at("tested").refuse(f"'{tested[:40]}' is not known{nearest(tested, _TESTED)}")
    reading = _record(inner, below, given.values["chemistry"], beside)
    whole = tested == "module"
    _refuse_other_groups(reading, series, below, whole=whole)
    with below.refusing():
        module = reading.for_module(
            cells_in_series=1 if whole else series, cells_in_parallel=1 if whole else parallel
        )
        curve = reading.curve
        if whole and curve is not None:
            curve = attrs.evolve(curve, volts=np.asarray(curve.volts) / series)
    values: dict[str, object] = {
        "capacity": module.capacity,
        "cell_nominal": reading.mean_voltage / (series if whole else 1),
    }
    if module.resistance is not None:
        values |= {
            "resistance": module.resistance,
            "resistance_method": "10 s pulse",
            "resistance_soc": reading.resistance_soc,
            "resistance_temperature": reading.resistance_temperature,
        }
    if module.resistance_curve is not None:
        values["resistance_curve"] = module.resistance_curve
    if curve is not None:
        values["ocv"] = attrs.evolve(curve, basis=how)
    if whole:
        values |= _groups(reading, given.values["chemistry"], series)
    return Given(values, dict.fromkeys(values, how), frozenset(values if sure else ()))


def _refuse_other_groups(reading: BenchReading, series: int, below: Place, *, whole: bool) -> None:
    """Refuse a record of other cell groups than the module has: they would be left out."""
    held = reading.end_cells.size
    if not whole and held > 1:
        raise below.at("tested").refuse(
            f'the record has the voltages of {held} cell groups: say tested = "module"'
        )
    if whole and held not in {0, series}:
        raise below.at("record").refuse(
            f"it has the voltages of {held} cell groups, and the module has cells_in_series = "
            f"{series}"
        )


def _groups(reading: BenchReading, kind: Chemistry, series: int) -> dict[str, object]:
    """Return what a record of a whole module says of its cell groups.

    Towards empty the weakest is looked at where the monitoring warns: the pack is to stop there.
    """
    if reading.groups is None:
        return {}
    floor = None if kind.targets is None else kind.targets.warn_low
    assert reading.lowest_cell is not None  # noqa: S101  (read with the groups)
    found: dict[str, object] = {
        "imbalance_empty": reading.groups.below_mean(series, floor),
        "lowest_group": VOLTAGE.of(max(0.0, float(reading.lowest_cell.m))),
        "imbalance_full": reading.groups.above_mean(series),
        "weakest_group": reading.ended_by,
    }
    return {field: value for field, value in found.items() if value is not None}


def _record(inner: Toml, below: Place, kind: Chemistry, beside: Beside | None) -> BenchReading:
    record = text(inner, "record", below)
    place = below.at("record")
    sign = text(inner, "current_sign", below, "detect")
    rest = kind.targets.rest if kind.targets else "1 h"
    if record.startswith(_FROM_LIBRARY):
        name = record.removeprefix(_FROM_LIBRARY)
        if sign == "detect":
            return shipped_record(name, place)
        path = data_dir() / "bench" / name
        if not is_file(path):
            raise place.refuse(f"there is no file '{record[:60]}' in the library")
    elif beside is None:
        raise place.refuse(
            "the record is a file beside the sheet, and this sheet was read without a folder"
        )
    else:
        with place.refusing():
            path = beside.file(record)
    try:
        return read_bench_record(path, current_sign=sign, least_rest=rest)  # type: ignore[arg-type]
    except DataError as problem:
        where = f"{problem.key}: " if problem.key else ""
        raise place.refuse(f"{record}: {where}{problem.problem}") from None
