"""The nouns hold what their annotations say: anything else is refused as it is typed."""

from __future__ import annotations

import functools
import typing
from collections.abc import Callable
from numbers import Real
from types import NoneType, UnionType
from typing import Any

import attrs

from evpack.base.basis import Bases
from evpack.base.brief import cut
from evpack.base.errors import DescriptionError, nearest
from evpack.base.fitted import Fitted
from evpack.base.units import Quantity, kind_of
from evpack.base.wording import say

# How a person comes by a noun, for messages.
_SUCH_AS = {
    "Array": "Array(feeds='roof', in_series=3, open_circuit='41 V', …)",
    "Build": "Build(title='my barn', …) or evpack.read_sheet('my-barn.toml')",
    "Busbar": "evpack.busbar('30 mm', '5 mm', length='0.4 m')",
    "Cabling": "Cabling(module_lead=Run(…), main=Run(…))",
    "CellLimits": "evpack.chemistry('nmc').limits",
    "CellTargets": "evpack.chemistry('nmc').targets",
    "Charger": "Charger(name='roof', source='solar', …)",
    "Chemistry": "evpack.chemistry('nmc')",
    "Conductor": "evpack.conductor('2/0 AWG')",
    "Disconnect": "Disconnect(dc_voltage='80 V', current='250 A', breaks_load=True, poles=2)",
    "Design": "evpack.design(build)",
    "EmergencyOff": "EmergencyOff(place='outside the door', opens_every_string=True, …)",
    "FuseFamily": "FuseFamily(name='bolted', dc_voltage='80 V', …)",
    "Inverter": "Inverter(name='barn', continuous='3 kW', …)",
    "LeadAcidProfile": "evpack.lead_acid_profile('flooded-48v')",
    "Load": "Load(continuous='1 kW')",
    "Module": "Module(name='mine', …) or evpack.module_entry('pouch-7s')",
    "Monitoring": "Monitoring(every_cell=True, …)",
    "Operation": "Operation(load=daily('home', '8 kWh'), mode='battery first')",
    "OperationRun": "evpack.simulate_operation(design)",
    "Outage": "Outage(day=34, at='18:00', lasts='8 h')",
    "OcvCurve": "that of a bench record: reading.curve",
    "Pack": "Pack(module=…, modules_in_series=2, strings=4)",
    "Policy": "Policy(reserve='25 %')",
    "PricedHours": "PricedHours(start='22:00', end='06:00', price='0.18 EUR/kWh')",
    "Profile": "daily('home', '8 kWh')",
    "Precharge": "Precharge(resistance='50 Ohm', wait='3 s', time_out='10 s')",
    "ResistanceCurve": "that of a bench record: reading.for_module(…).resistance_curve",
    "Run": "Run(name='main', conductor=evpack.conductor('2/0 AWG'), length='2 m')",
    "Scatter": "Scatter(capacity='3 %', resistance='10 %')",
    "Safeguards": "Safeguards(string_fuse='class-t', …)",
    "Sun": "Sun(on='roof', latitude='46 deg', longitude='8 deg', tilt='30 deg', azimuth='180 deg')",
    "Tariff": "Tariff(price='0.32 EUR/kWh')",
    "Site": "Site(coldest='4 degC')",
}
_LONGEST_GOT = 60
_PLAIN = {str: "a text in quotes", Real: "a plain number", bool: "True or False"}

Validator = Callable[[Any, Any, Any], None]


def checked(noun: type, fields: list[attrs.Attribute[Any]]) -> list[attrs.Attribute[Any]]:
    """Give every field of a noun that has no validator a check of its kind.

    An attrs ``field_transformer``. A basis may name only fields that the noun has, and those of
    the classes in its field's metadata, ``parts``.
    """
    names = {field.name for field in fields} - {"basis"}
    found = []
    for field in fields:
        if field.type in {"Bases", Bases}:
            parts = field.metadata.get("parts", ())
            known = names.union(*({f.name for f in attrs.fields(part)} for part in parts))
            found.append(field.evolve(validator=_names_of(noun, known)))
        elif field.validator is None:
            found.append(field.evolve(validator=_kind_in(noun)))
        else:
            found.append(field)
    return found


def need(what: str, given: object, *kinds: type) -> None:
    """Refuse what is none of some kinds, and say how to come by one.

    Parameters
    ----------
    what : str
        The field, or who asks.
    """
    wanted = tuple(kind for kind in kinds if kind is not NoneType)
    plain = Real in wanted and isinstance(given, bool)
    if isinstance(given, kinds) and not plain:
        return
    words = [_PLAIN.get(kind) or _one(kind) for kind in wanted]
    like = next((f", such as {_SUCH_AS[k.__name__]}" for k in wanted if k.__name__ in _SUCH_AS), "")
    unknown = ", or None where nobody knows" if bool in wanted and NoneType in kinds else ""
    got = cut(repr(given), _LONGEST_GOT)
    raise DescriptionError(f"{what}: {' or '.join(words)} is needed{like}{unknown}; got {got}")


def _one(kind: type) -> str:
    if kind is Fitted:
        return "'none'"
    article = "an" if kind.__name__[0] in "AEIO" else "a"
    return f"{article} {kind.__name__}"


def _kind_in(noun: type) -> Validator:
    def validator(_made: Any, field: Any, given: Any) -> None:
        need(field.name, given, *_kinds(noun)[field.name])

    return validator


def _names_of(noun: type, known: set[str]) -> Validator:
    def validator(_made: Any, _field: Any, given: Bases) -> None:
        for name in (*given.exceptions, *given.confirmed):
            if name not in known:
                raise DescriptionError(
                    f"basis: {noun.__name__} has no field '{name}'{nearest(name, known)}"
                )

    return validator


@functools.cache
def _kinds(noun: type) -> dict[str, tuple[type, ...]]:
    """Return the classes that each field of a noun may hold."""
    return {name: tuple(_classes(hint)) for name, hint in typing.get_type_hints(noun).items()}


def _classes(hint: Any) -> list[type]:
    origin = typing.get_origin(hint)
    if origin in {typing.Union, UnionType}:
        return [kind for part in typing.get_args(hint) for kind in _classes(part)]
    if origin is typing.Literal:
        return [type(value) for value in typing.get_args(hint)]
    return [Real if hint is float else origin or hint]


def whole(least: int, most: int) -> Callable[[Any, Any, Any], None]:
    """Return an attrs validator for a whole number between two bounds."""

    def validator(_noun: Any, field: Any, given: Any) -> None:
        if isinstance(given, bool) or not isinstance(given, int):
            raise DescriptionError(
                f"{field.name} must be a whole number without a unit, got {given!r}"
            )
        if not least <= given <= most:
            raise DescriptionError(f"{field.name} must lie between {least} and {most}, got {given}")

    return validator


def above_nothing(noun: Any, *fields: str) -> None:
    """Refuse a known value of 0 or less in fields where no such thing can be."""
    for field in fields:
        value = getattr(noun, field)
        if value is not None and value.m <= 0:
            unit = kind_of(value).unit
            raise DescriptionError(
                f"{noun.name}: {field} must be above 0 {unit}, got {say(float(value.m), unit)}; "
                "leave it out if it is not known"
            )


def exact(error: Quantity) -> str:
    """Return what to say of a measuring error of nothing; empty for any other."""
    if error.m > 0:
        return ""
    return "; nothing measures perfectly, so leave it out if it is not known"
