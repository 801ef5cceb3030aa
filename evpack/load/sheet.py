"""The build sheet: one TOML file of a person becomes one `Build`, or one clear refusal."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any, TypeVar

from evpack.base.basis import Basis
from evpack.base.errors import nearest
from evpack.base.fitted import NOT_FITTED, NotFitted, is_not_fitted
from evpack.base.units import amps, celsius, volts
from evpack.describe.build import Build
from evpack.describe.cabling import Cabling, Run
from evpack.describe.charger import Charger
from evpack.describe.fuses import FuseFamily
from evpack.describe.inverter import Inverter
from evpack.describe.module import Module
from evpack.describe.pack import Monitoring, Pack
from evpack.describe.policy import Policy
from evpack.describe.site import Load, Site
from evpack.load.entries import charger_given, inverter_given, module_given
from evpack.load.fields import (
    Given,
    Place,
    basis_of,
    build,
    check_keys,
    got,
    read,
    section,
    text,
    with_basis,
)
from evpack.load.gathering import Gathering
from evpack.load.library import example, profiles_near
from evpack.load.tables import conductor, fuse_catalogue
from evpack.load.text import Toml, read_text, read_toml

T = TypeVar("T")

__all__ = ["example", "parse_sheet", "read_sheet"]

_SECTIONS = (
    "title",
    "note",
    "invented",
    "site",
    "module",
    "pack",
    "monitoring",
    "inverter",
    "charger",
    "cabling",
    "protection",
    "load",
    "policy",
)
_NEEDED = {
    "module": "what one module is",
    "pack": "how many modules in series, and how many strings",
    "inverter": "what the pack feeds",
    "load": "what the inverter must carry",
}
_MOST_DEVICES = 100
_PACK_APART = ("module", "monitoring")
_RUNS = {"module_lead": "module lead", "main": "main cable"}
_RUN_KEYS = ("length", "parallel", "basis")
_FUSE_PLACES = ("string_fuse", "main_fuse")
_FUSE_PRINT = ("dc_voltage", "interrupting", "largest")
_CONDUCTOR = ("size", "column", "ambient")


def read_sheet(path: str | Path) -> Build:
    """Read a build sheet from a file.

    Parameters
    ----------
    path : str or Path
        The TOML file. A bench record it names counts from its folder.

    Raises
    ------
    DataError
        Anything that is not a build sheet: the message names the file, the key, what was got and
        what is needed.
    """
    file = Path(path)
    return parse_sheet(read_text(file, str(path)), str(path), file.parent)


def parse_sheet(sheet: str, name: str = "build sheet", folder: Path | None = None) -> Build:
    """Read a build sheet from its text.

    Parameters
    ----------
    sheet : str
        The text.
    name : str
        What to call it in messages.
    folder : Path, optional
        Where a bench record beside the sheet is looked for; without it only those of the library
        can be used.

    Raises
    ------
    DataError
        As `read_sheet`.
    """
    document = read_toml(sheet, name)
    place = Place(name)
    problems = Gathering()
    with problems.keeping():
        check_keys(document, place, _SECTIONS)
    for needed, why in _NEEDED.items():
        if needed not in document:
            with problems.keeping():
                raise place.at(needed).refuse(f"the section is missing; it says {why}")
    problems.done()
    site = Site()  # for the cables, if the sheet's own cannot be read
    with problems.keeping():
        site = _chosen(Site, document, place)
    with problems.keeping():
        pack = _pack(document, place, folder)
    with problems.keeping():
        inverters = _inverters(document, place)
    with problems.keeping():
        chargers = _chargers(document, place)
    with problems.keeping():
        cabling = _cabling(section(document, "cabling", place), place.at("cabling"), site)
    with problems.keeping():
        fuses = _fuses(section(document, "protection", place), place.at("protection"), site.rules)
    with problems.keeping():
        load = _chosen(Load, document, place)
    with problems.keeping():
        policy = _policy(document, place)
    with problems.keeping():
        about = _about(document, place)
    problems.done()
    with place.refusing():
        return Build(
            pack=pack,
            inverters=inverters,
            chargers=chargers,
            load=load,
            site=site,
            cabling=cabling,
            policy=policy,
            profiles=profiles_near(float(pack.nominal.m)),
            sheet=sheet,
            **about,
            **fuses,
        )


def _about(document: Toml, place: Place) -> dict[str, Any]:
    """Return what stands above all sections."""
    invented = document.get("invented", False)
    if not isinstance(invented, bool):
        raise place.at("invented").refuse(f"{got(invented)}; true or false is needed")
    return {
        "title": text(document, "title", place),
        "note": text(document, "note", place, ""),
        "invented": invented,
    }


def _chosen(noun: type[T], document: Toml, place: Place) -> T:
    """Return a site or a load: what is typed there is chosen, if the section says nothing else."""
    name = noun.__name__.lower()
    below = place.at(name)
    given = read(noun, section(document, name, place), below, Basis.CHOSEN)
    return build(noun, given, below, Basis.CHOSEN)


def _policy(document: Toml, place: Place) -> Policy:
    """Return the policy: a field that nobody touched is assumed."""
    below = place.at("policy")
    given = read(Policy, section(document, "policy", place), below, Basis.CHOSEN)
    return build(Policy, given, below, Basis.ASSUMED)


def _pack(document: Toml, place: Place, folder: Path | None) -> Pack:
    problems = Gathering()
    with problems.keeping():
        below = place.at("module")
        typed = module_given(section(document, "module", place), below, Basis.ASSUMED, folder)
        module = build(Module, typed.over(Given({"name": "module"})), below, Basis.ASSUMED)
    below = place.at("pack")
    table = section(document, "pack", place)
    with problems.keeping():
        if "monitoring" in table:
            raise below.at("monitoring").refuse(
                'is a section of its own, [monitoring]; monitoring = "none" stands above all '
                "sections"
            )
        given = read(Pack, table, below, Basis.CHOSEN, besides=_PACK_APART)
    with problems.keeping():
        monitoring = _monitoring(document, place)
    problems.done()
    return build(Pack, given, below, Basis.CHOSEN, module=module, monitoring=monitoring)


def _monitoring(document: Toml, place: Place) -> Monitoring | NotFitted | None:
    """Return the cell monitoring: not fitted by the word "none", unknown without a word."""
    if "monitoring" not in document:
        return None
    if is_not_fitted(document["monitoring"]):
        return NOT_FITTED
    below = place.at("monitoring")
    if not isinstance(document["monitoring"], Mapping):
        raise below.refuse(
            f'{got(document["monitoring"])}; a section [monitoring] is needed, or "none" if there '
            "is no such thing"
        )
    given = read(Monitoring, section(document, "monitoring", place), below, Basis.ASSUMED)
    return build(Monitoring, given, below, Basis.ASSUMED)


def _tables(document: Toml, name: str, place: Place) -> Iterator[tuple[Toml, Place]]:
    """Return the tables of ``[[name]]`` (or the one of ``[name]``), each with its place."""
    found = document.get(name, [])
    tables = [found] if isinstance(found, Mapping) else found
    if not isinstance(tables, list) or not all(isinstance(t, Mapping) for t in tables):
        raise place.at(name).refuse(f"{got(found)}; sections [[{name}]] are needed")
    if len(tables) > _MOST_DEVICES:
        raise place.at(name).refuse(f"{len(tables)} of them; {_MOST_DEVICES} is the most")
    for number, table in enumerate(tables, start=1):
        yield table, place.at(name if len(tables) == 1 else f"{name}[{number}]")


def _inverters(document: Toml, place: Place) -> tuple[Inverter, ...]:
    found, problems = [], Gathering()
    for table, below in _tables(document, "inverter", place):
        with problems.keeping():
            given = inverter_given(table, below, Basis.ASSUMED)
            found.append(build(Inverter, given, below, Basis.ASSUMED))
    problems.done()
    if not found:
        raise place.at("inverter").refuse("at least one is needed")
    return tuple(found)


def _chargers(document: Toml, place: Place) -> tuple[Charger, ...]:
    found, problems = [], Gathering()
    for table, below in _tables(document, "charger", place):
        with problems.keeping():
            given = charger_given(table, below, Basis.ASSUMED)
            found.append(build(Charger, given, below, Basis.ASSUMED))
    problems.done()
    return tuple(found)


def _cabling(table: Toml, place: Place, site: Site) -> Cabling:
    check_keys(table, place, _RUNS)
    runs, problems = {}, Gathering()
    for name in _RUNS:
        if name in table:
            with problems.keeping():
                runs[name] = _run(table, name, place, site)
    problems.done()
    return Cabling(**runs)


def _run(cabling: Toml, key: str, place: Place, site: Site) -> Run:
    """Return a run of cable, its conductor looked up in the tables of the site's rules."""
    table, below = section(cabling, key, place), place.at(key)
    apart = ("name", "conductor", *_CONDUCTOR)
    check_keys(table, below, {*_RUN_KEYS, *_CONDUCTOR})
    given = read(Run, table, below, Basis.CHOSEN, besides=apart)
    usual = basis_of(table, below, Basis.CHOSEN)
    size = text(table, "size", below)
    column, column_basis = with_basis(table.get("column"), below.at("column"), usual)
    if column is not None and (isinstance(column, bool) or not isinstance(column, int)):
        raise below.at("column").refuse(f"{got(column)}; 60, 75 or 90 is needed (70 or 90 by IEC)")
    ambient, ambient_basis = with_basis(table.get("ambient"), below.at("ambient"), usual)
    if ambient is not None:
        with below.at("ambient").refusing():
            celsius(ambient)
    with below.refusing():
        found = conductor(
            size,
            rules=site.rules,
            column=column,
            ambient=None if ambient is None else str(ambient),
            warmest=None if site.warmest is None else f"{site.warmest.m} degC",
        )
    # What it carries is no better known than the two that it was looked up with.
    guessed = column is None or ambient is None or Basis.ASSUMED in {column_basis, ambient_basis}
    how = Basis.ASSUMED if guessed else usual
    told = Given({"name": _RUNS[key], "conductor": found}, {"conductor": how}).over(given)
    return build(Run, told, below, Basis.CHOSEN)


def _fuses(table: Toml, place: Place, rules: str) -> dict[str, Any]:
    """Return the fuses wanted: a family's key, or a fuse described from its own print.

    An empty key lets evpack take the first family that fits.
    """
    check_keys(table, place, _FUSE_PLACES)
    known = {family.key for family in fuse_catalogue(rules).families}
    found: dict[str, FuseFamily | str] = {}
    for field in _FUSE_PLACES:
        wanted = table.get(field, "")
        if isinstance(wanted, Mapping):
            found[field] = _printed_fuse(wanted, place.at(field))
            continue
        key = text(table, field, place, "")
        if key and key not in known:
            raise place.at(field).refuse(f"'{key[:40]}' is not held{nearest(key, known)}")
        found[field] = key
    return found


def _printed_fuse(table: Toml, place: Place) -> FuseFamily:
    """Return a fuse whose ratings the user reads off the fuse itself."""
    check_keys(table, place, ("name", *_FUSE_PRINT, "basis"))
    basis = basis_of(table, place, Basis.ASSUMED)
    ratings = {key: text(table, key, place) for key in _FUSE_PRINT}
    for key, value in ratings.items():
        with place.at(key).refusing():
            (volts if key == "dc_voltage" else amps)(value)
    with place.refusing():
        return FuseFamily(
            key="own",
            name=text(table, "name", place),
            standard="",
            note="as printed on the fuse" if basis is not Basis.ASSUMED else "assumed",
            source="fuse-makers-typical" if basis is Basis.ASSUMED else "fuse-print",
            basis=basis,
            **ratings,
        )
