"""Chemistries of the library, each with its open-circuit curve, and published models of ageing."""

from __future__ import annotations

import functools
from pathlib import Path

import attrs
import numpy as np

from evpack.base.basis import Basis
from evpack.base.errors import DataError, nearest
from evpack.base.units import volts
from evpack.describe.ageing_model import AgeingModel, Constant
from evpack.describe.chemistry import CellLimits, CellTargets, Chemistry
from evpack.describe.ocv import OcvCurve
from evpack.kernels.ageing import MODELS
from evpack.load.bench_record import read_bench_record
from evpack.load.fields import Place, build, check_keys, got, read, section, text
from evpack.load.places import data_dir
from evpack.load.tables import read_columns
from evpack.load.text import Toml, read_text, read_toml
from evpack.outcome.bench import BenchReading

_KEYS = ("limits", "targets", "ocv", "summary")

_MODEL_KEYS = ("name", "form", "source", "chemistries", "fits", "constants")
_CONSTANT = ("symbol", "value", "unit", "how")


def shipped(folder: str) -> dict[str, Path]:
    """Return the TOML files of a folder of the library by key."""
    files = sorted((data_dir() / folder).glob("*.toml"), key=lambda path: path.stem)
    return {path.stem: path for path in files}


@functools.cache
def chemistry(key: str) -> Chemistry:
    """Return a chemistry of the library.

    Raises
    ------
    DataError
        There is none of that key; the nearest is named.
    """
    known = shipped("chemistries")
    if key not in known:
        raise DataError("chemistries", key, f"is no chemistry{nearest(key, known)}")
    name = f"{key}.toml"
    place = Place(name)
    table = read_toml(read_text(known[key], name), name)
    given = read(Chemistry, table, place, Basis.ASSUMED, besides=("key", *_KEYS))
    curve = section(table, "ocv", place)
    targets = section(table, "targets", place)
    return build(
        Chemistry,
        given,
        place,
        Basis.ASSUMED,
        key=key,
        limits=_part(CellLimits, section(table, "limits", place), place.at("limits")),
        targets=_part(CellTargets, targets, place.at("targets")) if targets else None,
        ocv=_curve(curve, place.at("ocv")) if curve else None,
        kindred=_kindred(curve, place.at("ocv")),
    )


def _part(noun: type[CellLimits | CellTargets], table: Toml, place: Place) -> object:
    return build(noun, read(noun, table, place, Basis.ASSUMED), place, Basis.ASSUMED)


def _kindred(table: Toml, place: Place) -> tuple[OcvCurve, ...]:
    """Return other curves that cells of this name may have.

    Those of other chemistries of the library, by `kindred`; and the curve itself so many volts
    higher and lower, by `spread`.
    """
    found = []
    others = table.get("kindred", [])
    if not isinstance(others, list):
        raise place.at("kindred").refuse(f"{got(others)}; a list of chemistries is needed")
    known = shipped("chemistries")
    for key in others:
        if key not in known:
            raise place.at("kindred").refuse(f"'{key}' is no chemistry{nearest(str(key), known)}")
        name = f"{key}.toml"
        other = section(read_toml(read_text(known[key], name), name), "ocv", Place(name))
        found.append(_curve(other, Place(name).at("ocv")))
    if "spread" in table:
        with place.at("spread").refusing():
            apart = float(volts(table["spread"]).m)
        own = _curve(table, place)
        found += [attrs.evolve(own, volts=own.volts + by) for by in (-apart, apart)]
    return tuple(found)


def _curve(table: Toml, place: Place) -> OcvCurve:
    """Return a curve from a CSV of ours, or from a bench record that we ship."""
    check_keys(table, place, ("file", "bench", "source", "quality", "kindred", "spread"))
    if "bench" in table:
        measured = shipped_record(text(table, "bench", place), place.at("bench")).curve
        if measured is None:
            raise place.at("bench").refuse("its record gives no open-circuit voltage curve")
        soc, rest = measured.soc, measured.volts
    else:
        name = text(table, "file", place)
        columns = read_columns(read_text(data_dir() / "chemistries" / name, name), name)
        soc = np.array(columns["soc [1]"], dtype=float)
        rest = np.array(columns["ocv [V]"], dtype=float)
    with place.refusing():
        return OcvCurve(
            soc=soc,
            volts=rest,
            source=text(table, "source", place),
            quality=text(table, "quality", place),
            basis=Basis.ASSUMED,
        )


@functools.cache
def _read_shipped(name: str) -> BenchReading:
    path = data_dir() / "bench" / name
    sidecar = path.with_name(name.removesuffix(".bdf.csv") + ".toml")
    told = read_toml(read_text(sidecar, sidecar.name), sidecar.name)
    return read_bench_record(path, source=text(told, "source", Place(sidecar.name)))


def shipped_record(name: str, place: Place) -> BenchReading:
    """Return what a bench record that comes with evpack says."""
    known = [path.name for path in (data_dir() / "bench").glob("*.csv")]
    if name not in known:
        raise place.refuse(f"'{name}' is no record of the library{nearest(name, known)}")
    return _read_shipped(name)


@functools.cache
def ageing_models() -> tuple[AgeingModel, ...]:
    """Return every model of the library, by the name of its file.

    Raises
    ------
    DataError
        A file that does not hold a model.
    """
    return tuple(
        read_model(key, read_toml(read_text(path, path.name), path.name), Place(path.name))
        for key, path in shipped("ageing").items()
    )


def read_model(key: str, table: Toml, place: Place) -> AgeingModel:
    """Return a model from its file."""
    check_keys(table, place, _MODEL_KEYS)
    form = text(table, "form", place)
    if form not in MODELS:
        raise place.at("form").refuse(f"'{form}' is no formula held{nearest(form, MODELS)}")
    fitting = table.get("chemistries")
    if not isinstance(fitting, list) or not all(isinstance(one, str) for one in fitting):
        raise place.at("chemistries").refuse("needs a list of keys of chemistries")
    rows = table.get("constants")
    if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
        raise place.at("constants").refuse("needs a table for each constant")
    with place.refusing():
        return AgeingModel(
            key=key,
            name=text(table, "name", place),
            form=form,
            source=text(table, "source", place),
            chemistries=tuple(fitting),
            fits=text(table, "fits", place),
            constants=tuple(_constant(row, place.at("constants")) for row in rows),
        )


def _constant(row: Toml, place: Place) -> Constant:
    check_keys(row, place, _CONSTANT)
    value = row.get("value")
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise place.at("value").refuse(f"needs one plain number, got {value!r}")
    return Constant(
        symbol=text(row, "symbol", place),
        value=float(value),
        unit=text(row, "unit", place),
        how=text(row, "how", place),
    )
