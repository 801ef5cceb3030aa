"""The sections ``[cabling.…]``: runs of cable and the bars, looked up in the tables."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import Any

import attrs

from evpack.base.basis import Bases, Basis
from evpack.base.errors import nearest
from evpack.base.units import celsius
from evpack.describe.cabling import LEFT_OPEN, Busbar, Cabling, Conductor, Run
from evpack.describe.site import Site
from evpack.load.busbars import busbar
from evpack.load.conductors import conductor, conductor_ladder
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
    side_by_side = laid.values.get("parallel", 1)
    if 1 <= conditions.get("circuits", side_by_side) < side_by_side:
        raise place.at("circuits").refuse(
            f"{conditions['circuits']} is less than parallel, {side_by_side}: conductors laid side "
            "by side warm each other, and each pair counts"
        )
    conditions["circuits"] = conditions.get("circuits", side_by_side)
    size = text(table, "size", place, LEFT_OPEN)
    left_open = size.strip().lower() == LEFT_OPEN
    like = {} if left_open else {"like": size}
    with place.refusing():
        if not left_open:
            conductor(size, **around, **conditions)  # a size that is none is refused by its name
        ladder = [_as_told(c, table) for c in conductor_ladder(**like, **around, **conditions)]
        found = (
            ladder[-1] if left_open else _as_told(conductor(size, **around, **conditions), table)
        )
    guessed = "not stated" in found.conditions or Basis.ASSUMED in known
    how = Basis.ASSUMED if guessed else basis_of(table, place, Basis.CHOSEN)
    looked_up = {
        "name": name,
        "conductor": found,
        "alternatives": tuple(ladder),
        "left_open": left_open,
    }
    return build(Run, Given(looked_up, {"conductor": how}).over(laid), place, Basis.CHOSEN)


def _only(table: Toml, keys: Collection[str]) -> dict[str, object]:
    return {key: value for key, value in table.items() if key in keys or key == "basis"}


def _as_told(found: Conductor, table: Toml) -> Conductor:
    """Return a conductor that says so where nobody stated whether others lie beside it."""
    if "circuits" in table:
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
