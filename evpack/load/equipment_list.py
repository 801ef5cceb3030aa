"""A list of inverters and chargers that could be bought: the user's own, or the library's classes.

The sections are those of a build sheet, ``[[inverter]]`` and ``[[charger]]``, each with a price if
one is known.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path

from evpack.base.basis import Basis
from evpack.base.errors import DescriptionError
from evpack.describe.charger import Charger
from evpack.describe.equipment import EquipmentList
from evpack.describe.inverter import Inverter
from evpack.load.entries import charger_given, inverter_given, keys
from evpack.load.fields import Gathering, Place, build, check_keys, tables, text
from evpack.load.library import charger_entry, inverter_entry
from evpack.load.text import Toml, read_text, read_toml

_PRICE = re.compile(r"(\d+(?:\.\d+)?)\s*([^\W\d_]{1,8}|[$€£¥])")
_MOST = 1e9  # a price beyond belief


def read_equipment(path: str | Path) -> EquipmentList:
    """Read a list of equipment from a TOML file.

    Raises
    ------
    DataError
        Anything that cannot be read: the message names the file, the key, what was got and what is
        needed.
    """
    return parse_equipment(read_text(Path(path), str(path)), str(path))


def parse_equipment(sheet: str, name: str = "equipment") -> EquipmentList:
    """Return what the text of a list of equipment says; `name` stands in messages."""
    document, place = read_toml(sheet, name), Place(name)
    problems = Gathering()
    with problems.keeping():
        check_keys(document, place, ("title", "inverter", "charger"))
    prices: dict[str, float] = {}
    moneys: dict[str, str] = {}
    sections: dict[str, Mapping[str, object]] = {}
    inverters: list[Inverter] = []
    chargers: list[Charger] = []
    for table, below in tables(document, "inverter", place):
        with problems.keeping():
            given = inverter_given(_plain(table), below, Basis.ASSUMED)
            inverters.append(build(Inverter, given, below, Basis.ASSUMED))
            _price(table, below, inverters[-1].name, prices, moneys)
            sections[inverters[-1].name] = _plain(table)
    for table, below in tables(document, "charger", place):
        with problems.keeping():
            given = charger_given(_plain(table), below, Basis.ASSUMED)
            chargers.append(build(Charger, given, below, Basis.ASSUMED))
            _price(table, below, chargers[-1].name, prices, moneys)
            sections[chargers[-1].name] = _plain(table)
    problems.done()
    if not inverters and not chargers:
        raise place.at("inverter").refuse("no device is listed: sections [[inverter]] are needed")
    title = text(document, "title", place) if "title" in document else "equipment"
    with place.refusing():
        return EquipmentList(
            name=title,
            inverters=tuple(inverters),
            chargers=tuple(chargers),
            prices=prices,
            money=next(iter(moneys), ""),
            sections=sections,
        )


def generic_equipment() -> EquipmentList:
    """Return the classes of inverters and chargers of the library.

    What a class cannot say is unknown, so that none of them is ever a plain go; but a class that
    does not fit is told.
    """
    inverters = {key: inverter_entry(key) for key in keys("inverters")}
    chargers = {key: charger_entry(key) for key in keys("chargers")}
    return EquipmentList(
        name="classes of the library",
        inverters=tuple(inverters.values()),
        chargers=tuple(chargers.values()),
        sections={device.name: {"use": key} for key, device in (inverters | chargers).items()},
    )


def _plain(table: Toml) -> Toml:
    """Return the table of a device without what only a list says of it."""
    return {key: value for key, value in table.items() if key != "price"}


def _price(
    table: Toml, place: Place, name: str, prices: dict[str, float], moneys: dict[str, str]
) -> None:
    """Note the price of a device, in the one money of the list."""
    if "price" not in table:
        return
    with place.at("price").refusing():
        amount, money = price_typed(table["price"])
    moneys.setdefault(money, place.key)
    if len(moneys) > 1:
        first, where = next(iter(moneys.items()))
        raise place.at("price").refuse(f"is in {money}, and that of {where} is in {first}")
    if name in prices:
        raise place.at("name").refuse(
            f"two devices are called '{name}': give each a name of its own"
        )
    prices[name] = amount


def price_typed(typed: object) -> tuple[float, str]:
    """Return the amount and the money of a price.

    Raises
    ------
    DescriptionError
        It is no price, or one beyond belief.
    """
    match = _PRICE.fullmatch(typed.strip()) if isinstance(typed, str) else None
    if match is None:
        raise DescriptionError(
            f"'{str(typed)[:40]}' is no price; write a number and a money, such as \"450 EUR\""
        )
    amount = float(match[1])
    if amount > _MOST:
        raise DescriptionError(f"'{typed}' is not a believable price")
    return amount, match[2]
