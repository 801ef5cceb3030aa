"""Is a value one that such a thing can have, or did a digit or a unit slip?"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any, TypeAlias

from evpack.base.basis import Basis
from evpack.base.finding import Finding, Rule, Severity, Standing, inside, state, unknown
from evpack.base.fitted import Fitted
from evpack.base.units import Kind, kind_of
from evpack.base.wording import say
from evpack.describe.array import Array
from evpack.describe.build import Build
from evpack.describe.cabling import RUNS
from evpack.describe.charger import Charger
from evpack.describe.credible import Credible, Credibles
from evpack.describe.ranges import VoltageRange
from evpack.describe.safeguards import FuseFamily
from evpack.outcome.protection import FuseChoice

VALUE = Rule(
    key="believable.value",
    says="A value that no such thing has is a slip of a digit or a unit, until it is confirmed.",
    source="common-practice",
    stands=Standing.QUESTION,
)
TRIP = Rule(
    key="believable.trip",
    says="A breaker cannot trip at once on a current that it is made to carry.",
    source="fuse-print",
    stands=Standing.QUESTION,
)

# What is called a low battery voltage: the classes up to 48 V, settable to 64 V and a little more.
_LOW = 80.0
# How a value is known without being so from the start: it would be lost, were it left out.
_SAID_BESIDE = (Basis.MEASURED, Basis.DATASHEET)
_FUSES = ("string_fuse", "main_fuse", "charger_fuse", "array_fuse")

# What it is called, where it stands in a build sheet, the noun, its kinds in the table.
_Thing: TypeAlias = tuple[str, str, Any, tuple[str, ...]]


def believable(build: Build, ranges: Credibles) -> tuple[Finding, ...]:
    """Return a finding for each value beyond its credible range, or one that there is none.

    Parameters
    ----------
    ranges : mapping
        The credible ranges by the kind of thing.
    """
    looked_at, found = 0, []
    for thing in _things(build):
        _about, _section, noun, kinds = thing
        asked: set[str] = set()  # one question for each value, whatever it does not fit
        for kind in kinds:
            for row in ranges.get(kind, ()):
                value = _number(noun, row.field)
                against = None if value is None else _against(noun, row)
                if value is None or against is None:
                    continue
                looked_at += 1
                if row.low * against <= value <= row.high * against or row.field in asked:
                    continue
                if not _within(value, row, against):
                    asked.add(row.field)
                    found.append(_beyond(thing, row, value, against))
    if found:
        return tuple(found)
    return (
        state(
            VALUE,
            Severity.OK,
            about="values stated",
            detail=f"{looked_at} values lie where such things have them.",
        ),
    )


def trips(fuses: tuple[FuseChoice, ...]) -> tuple[Finding, ...]:
    """Return a finding for each breaker that would trip at once below its own size."""
    found = []
    for fuse in fuses:
        trip = None if fuse.family is None else fuse.family.instantaneous_trip
        if trip is not None and fuse.size is not None and trip.m < fuse.size:
            found.append(
                unknown(
                    TRIP,
                    about=fuse.place,
                    detail=f"It is said to trip at once at {say(float(trip.m), 'A')}, and its size "
                    f"is {say(fuse.size, 'A')}.",
                    remedy="Read instantaneous_trip off its data sheet again, for direct current "
                    "and for this size: it is some times the size.",
                )
            )
    return tuple(found)


def _things(build: Build) -> Iterator[_Thing]:
    """Return everything of a build that the table has ranges for."""
    module = build.pack.module
    yield module.name, "[module]", module, ("module",)
    for inverter in build.inverters:
        yield inverter.name, "[[inverter]]", inverter, ("inverter",)
        if isinstance(inverter.charger, Charger):
            yield _charger(build, inverter.charger, "[inverter.charger]")
    for charger in build.chargers:
        yield _charger(build, charger, "[[charger]]")
    for array in build.solar_arrays:
        yield array.name, "[[pv]]", array, ("array",)
    yield from _laid(build)
    guards = build.safeguards
    for key in _FUSES:
        family = getattr(guards, key)
        if isinstance(family, FuseFamily):
            about = f"{key.replace('_', ' ')}, {family.name}"
            yield about, f"[protection.{key}]", family, ("fuse",)
    yield "protection", "[protection]", guards, ("safeguards",)
    for key in ("disconnect", "precharge"):
        device = getattr(guards, key)
        if device is not None and not isinstance(device, Fitted):
            yield device.name, f"[protection.{key}]", device, (key,)
    yield "load", "[load]", build.load, ("load",)
    yield "site", "[site]", build.site, ("site",)


def _charger(build: Build, charger: Charger, section: str) -> _Thing:
    """Return a charger; what its solar input may be depends on the battery that it charges."""
    settable = charger.charge_voltage
    most = settable.high if isinstance(settable, VoltageRange) else build.pack.highest
    kinds = ("charger", "charger-low") if most.m <= _LOW else ("charger",)
    return charger.name, section, charger, kinds


def _laid(build: Build) -> Iterator[_Thing]:
    cabling = build.cabling
    for key in RUNS:
        run = getattr(cabling, key)
        if run is not None:
            yield run.name, f"[cabling.{key}]", run, (f"run.{key}",)
    for device, run in cabling.own.items():
        yield run.name, f'[cabling.own."{device}"]', run, ("run.own",)
    if cabling.bar is not None:
        yield cabling.bar.name, "[cabling.bar]", cabling.bar, ("busbar",)


def _number(noun: Any, field: str) -> float | None:
    """Return the plain number of a field; None where it is not known or there is no such thing."""
    value = getattr(noun, field)
    if value is None or isinstance(value, Fitted):
        return None
    if isinstance(value, int):
        return float(value)
    if field in _OF_A_PANEL and isinstance(noun, Array):
        return noun.relative(value, getattr(noun, _OF_A_PANEL[field]))
    return float(value.m)


# A panel's coefficients may be typed in volts: against which of its voltages they count.
_OF_A_PANEL = {"coefficient": "open_circuit", "power_coefficient": "maximum_power_voltage"}


def _against(noun: Any, row: Credible) -> float | None:
    """Return what the range of a value is against; None where that is not known."""
    product = 1.0
    for fields, sign in ((row.times, 1), (row.over, -1)):
        for field in fields:
            factor = _number(noun, field)
            if factor is None or factor <= 0:
                return None
            product *= factor**sign
    return product


def _within(value: float, row: Credible, against: float) -> bool:
    """Return whether a value lies in its range, but for the noise of a change of unit."""
    return inside(value, row.high * against) and inside(value, row.low * against, at_least=True)


def _beyond(thing: _Thing, row: Credible, value: float, against: float) -> Finding:
    about, section, noun, _kinds = thing
    kind = kind_of(getattr(noun, row.field))
    name, said = row.field.replace("_", " "), _said(value, row, kind)
    low, high = _said(row.low * against, row, kind), _said(row.high * against, row, kind)
    usual = f"{low} to {high}" if math.isfinite(row.high) else f"{low} or more"
    by = " and ".join(_told(noun, field) for field in (*row.times, *row.over))
    range_told = f"{usual} is believable{' with ' + by if by else ''}"
    sure = noun.confirmed if isinstance(noun, FuseFamily) else noun.basis.confirmed
    if row.field in sure:
        return state(
            VALUE,
            Severity.NOTE,
            about=about,
            detail=f"Confirmed: {name} {said}, though {range_told}.",
        )
    return unknown(
        VALUE,
        about=about,
        detail=f"Check this: {name} {said}; {range_told}.",
        remedy="Read the number and its unit again. If it is so, put confirmed = true beside it: "
        f"{row.field} = {{ {_typed(noun, row.field, said)}, confirmed = true }} under {section}.",
    )


def _typed(noun: Any, field: str, said: str) -> str:
    """Return a value as it is typed in a build sheet, with what else stands beside it."""
    parts = [f'value = "{said}"']
    for key in ("method", "temperature", "soc"):  # of a resistance: how it was read
        read = getattr(noun, f"{field}_{key}", None)
        if read is not None:
            words = read if isinstance(read, str) else say(float(read.m), kind_of(read).unit)
            parts.append(f'{key} = "{words}"')
    if not isinstance(noun, FuseFamily) and noun.basis.of(field) in _SAID_BESIDE:
        parts.append(f'basis = "{noun.basis.of(field)}"')
    return ", ".join(parts)


def _said(value: float, row: Credible, kind: Kind) -> str:
    """Write a value in its unit; a panel's coefficient is told as a share."""
    return say(value, "1/K" if row.field in _OF_A_PANEL else kind.unit)


def _told(noun: Any, field: str) -> str:
    value = getattr(noun, field)
    name = field.replace("_", " ")
    if isinstance(value, int):
        return f"{value} {name}"
    return f"{name} {say(float(value.m), kind_of(value).unit)}"
