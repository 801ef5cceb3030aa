"""The sections ``[cabling.…]`` and ``[protection]``: cables, bars, fuses wanted, switches."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import Any

import attrs

from evpack.base.basis import Bases, Basis
from evpack.base.errors import DescriptionError, nearest
from evpack.base.units import celsius
from evpack.describe.cabling import LEFT_OPEN, Busbar, Cabling, Conductor, Run
from evpack.describe.safeguards import (
    Disconnect,
    EmergencyOff,
    FuseFamily,
    Precharge,
    Safeguards,
    to_buy_list,
)
from evpack.describe.site import Site
from evpack.load.conductors import busbar, conductor, conductor_ladder
from evpack.load.fields import (
    Gathering,
    Given,
    Place,
    basis_of,
    build,
    check_keys,
    got,
    if_fitted,
    made,
    read,
    section,
    text,
    with_basis,
)
from evpack.load.tables import fuse_catalogue
from evpack.load.text import Toml

_RUNS = {
    "module_lead": "module lead",
    "link": "module link",
    "main": "main cable",
    "charger": "charger cable",
    "array": "array cable",
}
_LAID = ("length", "parallel", "shortest", "protected")
_DEGREES = "60, 75 or 90 is needed (70 or 90 by IEC)"
_WHOLE = {
    "column": _DEGREES,
    "terminals": _DEGREES,
    "circuits": "how many circuits lie together is needed, this one included, without quotes",
}
_RUN_KEYS = ("size", *_LAID, *_WHOLE, "ambient", "method", "basis")
_ALONE = "no other circuit beside it"  # as the tables word it
_BAR_SIZE = ("width", "thickness", "length")
_BAR_LAID = (*_BAR_SIZE, "count", "enclosed")

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


def cabling_given(document: Toml, place: Place, site: Site, outside: Collection[str]) -> Cabling:
    """Return the cabling of a sheet.

    Parameters
    ----------
    site : Site
        Its rules say whose tables hold, and its warmest how warm the place of a cable gets.
    outside : collection of str
        Names of the solar arrays: their cables see the air outside.
    """
    table, below = section(document, "cabling", place), place.at("cabling")
    check_keys(table, below, (*_RUNS, "bar", "own"))
    parts: dict[str, Any] = {}
    problems = Gathering()
    for key, name in _RUNS.items():
        if key in table:
            with problems.keeping():
                around = _around(site, outside=key == "array")
                parts[key] = _run(section(table, key, below), below.at(key), name, around)
    if "bar" in table:
        with problems.keeping():
            parts["bar"] = _bar(section(table, "bar", below), below.at("bar"))
    with problems.keeping():
        parts["own"] = _own(section(table, "own", below), below.at("own"), site, outside)
    problems.done()
    return Cabling(**parts)


def check_own(cabling: Cabling, devices: Collection[str], place: Place) -> None:
    """Refuse a run of its own for a device that the sheet does not describe."""
    below = place.at("cabling").at("own")
    for name in cabling.own:
        if name not in devices:
            raise below.at(_quoted(name)).refuse(
                f"no inverter, charger or solar array is called so{nearest(name, devices)}"
            )


def _own(table: Toml, place: Place, site: Site, outside: Collection[str]) -> dict[str, Run]:
    """Return the runs of single devices by the device's name."""
    found, problems = {}, Gathering()
    for device, run in table.items():
        below = place.at(_quoted(device))
        with problems.keeping():
            if not isinstance(run, Mapping):
                raise below.refuse(
                    f"{got(run)}; a section [{below.key}] with the device's name in quotes is "
                    "needed"
                )
            around = _around(site, outside=device in outside)
            found[device] = _run(run, below, f"cable of {device}", around)
    problems.done()
    return found


def _quoted(device: str) -> str:
    return f'"{device[:60]}"'


def _around(site: Site, *, outside: bool) -> dict[str, Any]:
    """Return whose tables hold, and how warm it gets where the cable lies.

    The cable of a solar array lies outside and inside; the warmer of the two counts.
    """
    airs = (site.warmest, site.warmest_outside if outside else None)
    warmest = max((float(air.m) for air in airs if air is not None), default=None)
    return {"rules": site.rules, "warmest": None if warmest is None else f"{warmest} degC"}


def _run(table: Toml, place: Place, name: str, around: Mapping[str, Any]) -> Run:
    """Return a run of cable, its conductor looked up under the conditions that it states.

    What it carries is no better known than what it was looked up with, and as assumed where a
    condition was not stated.
    """
    check_keys(table, place, _RUN_KEYS)
    laid = read(Run, _only(table, _LAID), place, Basis.CHOSEN)
    conditions, known = _conditions(table, place)
    asked, parallel = {**around, **conditions}, laid.values.get("parallel", 1)
    with place.at("circuits").refusing():
        circuits_of(parallel, asked)
    size = text(table, "size", place, LEFT_OPEN)
    left_open = size.strip().lower() == LEFT_OPEN
    with place.refusing():
        found = looked_up(LEFT_OPEN if left_open else size, parallel, asked)
    guessed = "not stated" in found.conductor.conditions or Basis.ASSUMED in known
    how = Basis.ASSUMED if guessed else basis_of(table, place, Basis.CHOSEN)
    values = {
        "name": name,
        "conductor": found.conductor,
        "alternatives": found.alternatives,
        "left_open": left_open,
        "conditions": asked,
    }
    return build(Run, Given(values, {"conductor": how}).over(laid), place, Basis.CHOSEN)


@attrs.frozen
class LookedUp:
    """A conductor, and all sizes under the same conditions."""

    conductor: Conductor
    alternatives: tuple[Conductor, ...]


def looked_up(size: str, parallel: int, conditions: Mapping[str, Any]) -> LookedUp:
    """Return a conductor and its alternatives from the tables; the thickest for one left open.

    Parameters
    ----------
    size : str
        As it is sold, or `LEFT_OPEN`.
    parallel : int
        Conductors side by side for each pole.
    conditions : mapping
        As `conductor_ladder` takes them, circuits only where they are stated.

    Raises
    ------
    EvpackError
        As `circuits_of` and `conductor`.
    """
    stated = "circuits" in conditions
    asked = {**conditions, "circuits": circuits_of(parallel, conditions)}
    found = None
    if size != LEFT_OPEN:
        # First, so that a size that is none is refused by its name.
        found = _as_told(conductor(size, **asked), stated=stated)
        asked["like"] = size
    ladder = tuple(_as_told(each, stated=stated) for each in conductor_ladder(**asked))
    return LookedUp(ladder[-1] if found is None else found, ladder)


def circuits_of(parallel: int, conditions: Mapping[str, Any]) -> int:
    """Return how many circuits lie together: each pair side by side is one, or more are stated.

    Raises
    ------
    DescriptionError
        Fewer were stated than lie side by side.
    """
    circuits: int = conditions.get("circuits", parallel)
    if 1 <= circuits < parallel:
        raise DescriptionError(
            f"{circuits} is less than parallel, {parallel}: conductors laid side by side warm each "
            "other, and each pair counts"
        )
    return circuits


def _only(table: Toml, keys: Collection[str]) -> dict[str, object]:
    return {key: value for key, value in table.items() if key in keys or key == "basis"}


def _as_told(found: Conductor, *, stated: bool) -> Conductor:
    """Return a conductor that says so where nobody stated whether others lie beside it."""
    if stated:
        return found
    told = found.conditions.replace(_ALONE, f"{_ALONE} (not stated)")
    return attrs.evolve(found, conditions=told)


def _conditions(table: Toml, place: Place) -> tuple[dict[str, Any], list[Basis]]:
    """Return the conditions that a run states, and how each is known."""
    usual = basis_of(table, place, Basis.CHOSEN)
    found, known, problems = {}, [], Gathering()
    for key in (*_WHOLE, "ambient", "method"):
        if key in table:
            with problems.keeping():
                raw, how = with_basis(table[key], place.at(key), usual)
                found[key] = _condition(key, raw, place)
                known.append(how)
    problems.done()
    return found, known


def _condition(key: str, raw: object, place: Place) -> object:
    if key not in _WHOLE:
        if key == "ambient":
            with place.at(key).refusing():
                celsius(raw)
        return text({key: raw}, key, place)
    if isinstance(raw, bool) or not isinstance(raw, int):
        raise place.at(key).refuse(f"{got(raw)}; {_WHOLE[key]}")
    return raw


def _bar(table: Toml, place: Place) -> Busbar:
    """Return the bars; what they carry is looked up unless the maker's own value is typed.

    A typed value without a basis counts as assumed, as it does of any device; one looked up is no
    better known than the bar.
    """
    check_keys(table, place, (*_BAR_LAID, "carries", "basis"))
    laid = read(Busbar, _only(table, _BAR_LAID), place, Basis.CHOSEN)
    given = read(Busbar, _only(table, ("carries",)), place, Basis.ASSUMED).over(laid)
    for needed in _BAR_SIZE:
        if needed not in given.values:
            raise place.at(needed).refuse("is missing")
    with place.refusing():
        bar = busbar(**given.values)
    bases = {**bar.basis.exceptions, **given.bases}
    if "carries" not in given.bases and Basis.ASSUMED in laid.bases.values():
        bases["carries"] = Basis.ASSUMED
    return attrs.evolve(bar, basis=Bases(Basis.CHOSEN, bases, given.confirmed))


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
