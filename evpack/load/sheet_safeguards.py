"""The section ``[protection]``: fuses and breakers wanted, switches, precharge."""

from __future__ import annotations

from collections.abc import Mapping

import attrs

from evpack.base.basis import Basis
from evpack.base.errors import nearest
from evpack.describe.fuses import FuseFamily
from evpack.describe.safeguards import (
    Disconnect,
    EmergencyOff,
    Precharge,
    Safeguards,
    to_buy_list,
)
from evpack.load.fields import (
    Given,
    Place,
    basis_of,
    build,
    check_keys,
    if_fitted,
    made,
    read,
    section,
    text,
)
from evpack.load.fuse_tables import fuse_catalogue
from evpack.load.gathering import Gathering
from evpack.load.text import Toml

_FUSES = ("string_fuse", "main_fuse", "charger_fuse", "array_fuse")
# What a device is built for counts as assumed until it is said to be read off it; what one hand
# can do when it burns is how the builder wires it, and chosen.
_SWITCHES = {
    "disconnect": (Disconnect, Basis.ASSUMED),
    "emergency_off": (EmergencyOff, Basis.CHOSEN),
    "precharge": (Precharge, Basis.ASSUMED),
}
_LISTS = ("to_buy",)
_NEEDED = ("name", "dc_voltage", "interrupting", "largest")
_PRINT = (
    *_NEEDED,
    "kind",
    "poles",
    "polarised",
    "characteristic",
    "instantaneous_trip",
    "melting",
    "clearing",
    "clearing_time",
    "rating",
)


def safeguards_given(document: Toml, place: Place, rules: str) -> Safeguards:
    """Return what protects the pack by the sheet; what it leaves out is unknown."""
    table, below = section(document, "protection", place), place.at("protection")
    parts: dict[str, object] = {}
    problems = Gathering()
    given = Given()
    with problems.keeping():
        given = read(Safeguards, table, below, Basis.CHOSEN, besides=(*_FUSES, *_SWITCHES, *_LISTS))
    if "to_buy" in table:
        with problems.keeping(), below.at("to_buy").refusing():
            parts["to_buy"] = to_buy_list(table["to_buy"])
    for key in _FUSES:
        if key in table:
            with problems.keeping():
                parts[key] = _fuse(table, key, below, rules)
    for key, (noun, usual) in _SWITCHES.items():
        if key in table:
            with problems.keeping():
                parts[key] = if_fitted(noun, table[key], below.at(key), usual)
    problems.done()
    return build(Safeguards, given, below, Basis.CHOSEN, **parts)


def _fuse(table: Toml, key: str, place: Place, rules: str) -> FuseFamily | str:
    """Return a fuse wanted: a family's key, or one described from its own print.

    An empty key lets evpack take the first family that fits.
    """
    wanted = table[key]
    if isinstance(wanted, Mapping):
        return _printed(wanted, place.at(key), rules)
    family = text(table, key, place)
    known = {held.key for held in fuse_catalogue(rules).families}
    if family and family not in known:
        raise place.at(key).refuse(f"'{family[:40]}' is not held{nearest(family, known)}")
    return family


def _family(table: Toml, place: Place, rules: str) -> FuseFamily:
    """Return the family of the catalogue that a fuse which is there is of."""
    key = text(table, "family", place)
    known = {held.key: held for held in fuse_catalogue(rules).families}
    if key not in known:
        raise place.at("family").refuse(f"'{key[:40]}' is not held{nearest(key, known)}")
    return known[key]


def _of(family: FuseFamily) -> dict[str, object]:
    return {field.name: getattr(family, field.name) for field in attrs.fields(FuseFamily)}


def _but(table: Toml, key: str) -> Toml:
    return {name: value for name, value in table.items() if name != key}


def _printed(table: Toml, place: Place, rules: str) -> FuseFamily:
    """Return a fuse or breaker whose ratings the user reads off the device itself.

    It is as well known as the worst known of its ratings. One that is there already, with its
    rating, may name a family for what nobody read off it.
    """
    check_keys(table, place, (*_PRINT, "family", "basis"))
    given = read(FuseFamily, _but(table, "family"), place, Basis.ASSUMED)
    usual = _family(table, place, rules) if "family" in table else None
    basis = basis_of(table, place, Basis.ASSUMED)
    if Basis.ASSUMED in given.bases.values():
        basis = Basis.ASSUMED
    if usual is not None:
        # Ratings that nobody read off this one are only typical of its family.
        if not {"dc_voltage", "interrupting"} <= given.values.keys():
            basis = Basis.ASSUMED
        told = {"basis": basis, "confirmed": given.confirmed}
        if basis is not Basis.ASSUMED:
            told["note"] = f"as printed on the {given.values.get('kind', usual.kind)}"
        return made(FuseFamily, {**_of(usual), **given.values, **told}, place)
    if "rating" in given.values and "largest" not in given.values:
        given = Given({"largest": given.values["rating"]}).over(given)
    for key in _NEEDED:
        if key not in given.values:
            raise place.at(key).refuse("is missing")
    read_off = f"as printed on the {given.values.get('kind', 'fuse')}"
    note = "assumed" if basis is Basis.ASSUMED else read_off
    told = {"note": note, "basis": basis, "confirmed": given.confirmed}
    return made(FuseFamily, {**given.values, **told}, place)
