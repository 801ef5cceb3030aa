"""What comes with evpack: chemistries, modules, equipment, lead-acid profiles, examples."""

from __future__ import annotations

import functools
from collections.abc import Iterator
from pathlib import Path

import attrs

from evpack.base.basis import Basis
from evpack.base.errors import DataError, nearest
from evpack.base.units import VOLTAGE
from evpack.describe.charger import Charger, LeadAcidProfile
from evpack.describe.inverter import Inverter
from evpack.describe.module import Module
from evpack.load.chemistries import chemistry, shipped
from evpack.load.entries import ABOUT, entry, keys, lead_acid_profile
from evpack.load.fields import Place, build
from evpack.load.text import read_text, read_toml

__all__ = [
    "LibraryEntry",
    "as_typed",
    "charger_entry",
    "chemistry",
    "example",
    "inverter_entry",
    "lead_acid_profile",
    "library",
    "module_entry",
    "profiles_near",
]

# A battery further than this from a class is of no lead-acid class at all [1].
_FURTHEST = 2.0


@attrs.frozen(kw_only=True)
class LibraryEntry:
    """One line of the library's listing; `kind` is the word of the section that takes it."""

    kind: str
    key: str
    name: str
    summary: str


def module_entry(key: str) -> Module:
    """Return a generic module of the library; every number of it is assumed."""
    return build(Module, entry("modules", key), Place(f"{key}.toml"), Basis.ASSUMED)


def inverter_entry(key: str) -> Inverter:
    """Return a class of inverters of the library; what a class cannot say is unknown."""
    return build(Inverter, entry("inverters", key), Place(f"{key}.toml"), Basis.ASSUMED)


def charger_entry(key: str) -> Charger:
    """Return a class of chargers of the library; what a class cannot say is unknown."""
    return build(Charger, entry("chargers", key), Place(f"{key}.toml"), Basis.ASSUMED)


@functools.cache
def library() -> tuple[LibraryEntry, ...]:
    """Return everything that comes with evpack, a line each."""
    return tuple(_entries())


def _entries() -> Iterator[LibraryEntry]:
    kinds = {
        "chemistry": shipped("chemistries"),
        "module": keys("modules"),
        "inverter": keys("inverters"),
        "charger": keys("chargers"),
        "profile": keys("profiles"),
        "example": shipped("examples"),
    }
    for kind, files in kinds.items():
        for key, path in files.items():
            about = read_toml(read_text(path, path.name), path.name)
            yield LibraryEntry(
                kind=kind,
                key=key,
                name=str(about.get("name") or about.get("title", key)),
                summary=str(about.get("summary") or about.get("note", "")),
            )


# Under which words an entry stands in a build sheet.
_SECTIONS = {
    "module": ("[module]", "modules"),
    "inverter": ("[[inverter]]", "inverters"),
    "charger": ("[[charger]]", "chargers"),
}


def as_typed(about: LibraryEntry) -> str:
    """Return an entry as it may be typed in a build sheet; empty for one that none takes.

    What the entry's file says of itself is no key of a sheet and is left out.
    """
    if about.kind not in _SECTIONS:
        return ""
    heading, folder = _SECTIONS[about.kind]
    path = keys(folder)[about.key]
    lines = read_text(path, path.name).splitlines()
    kept = [line for line in lines if line.partition(" = ")[0] not in ABOUT]
    return "\n".join([heading, f'use = "{about.key}"', *kept])


def example(name: str) -> Path:
    """Return the file of an example build sheet.

    Raises
    ------
    DataError
        There is none of that name; the nearest is named.
    """
    known = shipped("examples")
    if name not in known:
        raise DataError("examples", name, f"is no example{nearest(name, known)}")
    return known[name]


@functools.cache
def _by_system() -> dict[float, tuple[LeadAcidProfile, ...]]:
    """Return the lead-acid profiles by the voltage class they are made for [V]."""
    found: dict[float, tuple[LeadAcidProfile, ...]] = {}
    for key, path in keys("profiles").items():
        system = VOLTAGE.read(read_toml(read_text(path, path.name), path.name)["system"])
        found[system.m] = (*found.get(system.m, ()), lead_acid_profile(key))
    return found


def profiles_near(nominal: float) -> tuple[LeadAcidProfile, ...]:
    """Return the lead-acid profiles of the class nearest to a pack.

    Parameters
    ----------
    nominal : float
        Of the pack [V].

    Returns
    -------
    tuple of LeadAcidProfile
        Empty for a pack of more than twice, or less than half, the voltage of any class.
    """
    classes = _by_system()
    best = min(classes, key=lambda volts: max(volts / nominal, nominal / volts))
    far = max(best / nominal, nominal / best) > _FURTHEST
    return () if far else classes[best]
