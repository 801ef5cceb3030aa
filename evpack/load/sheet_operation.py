"""The section ``[operation]``: how the pack is worked over a year."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import Any, TypeVar

from evpack.base.basis import Basis
from evpack.base.errors import nearest
from evpack.describe.operation import (
    Operation,
    Outage,
    Price,
    PricedHours,
    Profile,
    Sun,
    Tariff,
    clock,
    daily,
    hourly,
    price,
)
from evpack.load.beside import Beside
from evpack.load.fields import (
    Gathering,
    Given,
    Place,
    build,
    check_keys,
    got,
    made,
    read,
    tables,
    text,
)
from evpack.load.profiles import read_profile
from evpack.load.text import Toml

T = TypeVar("T")

_PARTS = ("load", "sun", "air", "tariff", "outage")
_LOAD = ("shape", "energy", "hours", "file")
_SUN = ("hours", "file", "weather")
_AIR = ("file",)


def operation_given(
    document: Toml, place: Place, beside: Beside | None, lit: Collection[str]
) -> Operation | None:
    """Return how the pack is worked by the sheet; None where it says nothing.

    Parameters
    ----------
    beside : Beside or None
        Where profiles are looked for.
    lit : collection of str
        Names of the solar arrays and solar chargers: the only one needs no name.
    """
    if "operation" not in document:
        return None
    table, below = document["operation"], place.at("operation")
    if not isinstance(table, Mapping):
        raise below.refuse(f"{got(table)}, where a section [operation] is due")
    parts: dict[str, object] = {}
    problems = Gathering()
    with problems.keeping():
        given = read(Operation, table, below, Basis.CHOSEN, besides=_PARTS)
    with problems.keeping():
        if "load" not in table:
            raise below.at("load").refuse(
                'is missing: a section [operation.load] with shape = "home" and energy = "8 kWh"'
            )
        parts["load"] = _load(_table(table, "load", below), below.at("load"), beside)
    if "sun" in table:
        with problems.keeping():
            parts["sun"] = _suns(table, below, beside, lit)
    if "air" in table:
        with problems.keeping():
            inner, at = _table(table, "air", below), below.at("air")
            check_keys(inner, at, _AIR)
            parts["air"] = _file(inner, at, beside, temperature=True)
    if "tariff" in table:
        with problems.keeping():
            parts["tariff"] = _tariff(_table(table, "tariff", below), below.at("tariff"))
    if "outage" in table:
        with problems.keeping():
            parts["outages"] = tuple(
                _outage(inner, at) for inner, at in tables(table, "outage", below)
            )
    problems.done()
    chosen = Given(parts, dict.fromkeys(parts, Basis.CHOSEN)).over(given)
    return build(Operation, chosen, below, Basis.ASSUMED)


def _table(table: Toml, key: str, place: Place) -> Toml:
    found = table[key]
    if not isinstance(found, Mapping):
        raise place.at(key).refuse(f"{got(found)}, where a section [operation.{key}] is due")
    return found


def _load(table: Toml, place: Place, beside: Beside | None) -> Profile:
    check_keys(table, place, _LOAD)
    ways = [key for key in ("shape", "hours", "file") if key in table]
    if len(ways) != 1:
        raise place.refuse(
            'one of shape (with energy, as "8 kWh"), hours (24 powers) and file (a CSV profile) '
            f"is needed, got {' and '.join(ways) or 'none of them'}"
        )
    if "energy" in table and ways != ["shape"]:
        raise place.at("energy").refuse("belongs to a shape; a profile has its own energy")
    if ways == ["shape"]:
        shape = text(table, "shape", place)
        if "energy" not in table:
            raise place.at("energy").refuse('is missing: what a day takes, as "8 kWh"')
        with place.at("shape").refusing():
            daily(shape, "1 kWh")
        with place.at("energy").refusing():
            return daily(shape, table["energy"])
    return _typed(table, place, beside, "load")


def _typed(table: Toml, place: Place, beside: Beside | None, name: str) -> Profile:
    """Return a profile of 24 typed powers, or one of a file."""
    if "file" in table:
        return _file(table, place, beside)
    with place.at("hours").refusing():
        return hourly(name, table["hours"])


def _file(
    table: Toml, place: Place, beside: Beside | None, *, temperature: bool = False
) -> Profile:
    name, below = text(table, "file", place), place.at("file")
    if beside is None:
        raise below.refuse(
            "the profile is a file beside the sheet, and this sheet was read without a folder"
        )
    with below.refusing():
        return read_profile(beside.file(name), temperature=temperature)


def _suns(
    table: Toml, place: Place, beside: Beside | None, lit: Collection[str]
) -> tuple[Sun, ...]:
    found, problems = [], Gathering()
    for inner, at in tables(table, "sun", place):
        with problems.keeping():
            found.append(_sun(inner, at, beside, lit))
    problems.done()
    return tuple(found)


def _sun(table: Toml, place: Place, beside: Beside | None, lit: Collection[str]) -> Sun:
    given = read(Sun, table, place, Basis.CHOSEN, besides=(*_SUN, "profile"))
    more: dict[str, Any] = {}
    if "profile" in table:
        raise place.at("profile").refuse("is given as hours (24 powers) or as file (a CSV profile)")
    if "hours" in table and "file" in table:
        raise place.at("file").refuse("is given beside hours; one of the two is needed")
    if "on" not in given.values:
        if len(lit) != 1:
            raise place.at("on").refuse(
                f"is missing; it names the solar array or charger{nearest('', lit)}"
            )
        more["on"] = next(iter(lit))
    elif given.values["on"] not in lit:
        name = str(given.values["on"])
        raise place.at("on").refuse(
            f"no solar array or charger is called '{name[:60]}'{nearest(name, lit)}"
        )
    if "hours" in table or "file" in table:
        more["profile"] = _typed(table, place, beside, "sun")
    if "weather" in table:
        more["weather"] = table["weather"]
    return build(Sun, given, place, Basis.CHOSEN, **more)


def _tariff(table: Toml, place: Place) -> Tariff:
    check_keys(table, place, ("price", "hours"))
    if "price" not in table:
        raise place.at("price").refuse('is missing, such as price = "0.32 EUR/kWh"')
    problems, hours = Gathering(), []
    plain: Price | None = None
    with problems.keeping(), place.at("price").refusing():
        plain = price(table["price"])
    for inner, at in tables(table, "hours", place):
        with problems.keeping():
            check_keys(inner, at, ("from", "to", "price"))
            for key in ("from", "to", "price"):
                if key not in inner:
                    raise at.at(key).refuse("is missing")
            values: dict[str, object] = {}
            with at.at("from").refusing():
                values["start"] = clock(inner["from"])
            with at.at("to").refusing():
                values["end"] = clock(inner["to"])
            with at.at("price").refusing():
                values["price"] = price(inner["price"])
            hours.append(PricedHours(**values))
    problems.done()
    return made(Tariff, {"price": plain, "hours": tuple(hours)}, place)


def _outage(table: Toml, place: Place) -> Outage:
    check_keys(table, place, ("day", "at", "lasts"))
    values: dict[str, object] = {}
    for key in ("day", "at", "lasts"):
        if key not in table:
            raise place.at(key).refuse("is missing")
    day = table["day"]
    if isinstance(day, bool) or not isinstance(day, int):
        raise place.at("day").refuse(f"{got(day)}; a day of the year without quotes is needed")
    with place.at("at").refusing():
        values["at"] = clock(table["at"])
    with place.at("day").refusing():
        Outage(day=day, at=values["at"], lasts="1 h")
    with place.at("lasts").refusing():
        return Outage(day=day, at=values["at"], lasts=table["lasts"])
