"""Devices besides fuses and cables: what each must be, precharge, the solar side, what to buy."""

from __future__ import annotations

from collections.abc import Sequence

from evpack.outcome.design import SolarSide
from evpack.outcome.protection import Need, PartLine, PrechargePlan
from evpack.show.cables import length_words
from evpack.show.doc import (
    Below,
    Column,
    Doc,
    Explained,
    Fold,
    Group,
    Head,
    How,
    Items,
    Number,
    Numbers,
    Para,
    Row,
    Strong,
    Table,
    document,
)
from evpack.show.words import worked_words

_NEEDS = (
    Column("device", 18),
    Column("it must be", 46, plain=True),
    Column("how many", 8, count=True),
    Column("stated", 28),
)
_SOLAR = (
    Column("array", 16),
    Column("charger", 18),
    Column("coldest, open", 11, number=True),
    Column("hottest, working", 11, number=True),
    Column("short circuit", 11, number=True),
    Column("rated", 11, number=True),
    Column("on a good day", 11, number=True),
    Column("into the battery", 11, number=True),
)
_PARTS = (
    Column("what it is for", 28),
    Column("what to buy", 50, plain=True),
    Column("how many", 9, count=True),
    Column("cable in all", 13, number=True),
)


def need_table(needs: Sequence[Need]) -> Table:
    """Return the devices that are needed: what each must be, what is stated of it."""
    return Table(_NEEDS, map(_need, needs), "Other devices", cards=True)


def _need(need: Need) -> Row:
    must = Items(need.must) if need.must else "–"
    stated = need.stated or Strong("? nothing stated")
    lines = (How(line, named=True) for line in need.lines)
    return Row((need.what, must, str(need.count), stated), (Fold("how it comes about", lines),))


def precharge_numbers(plan: PrechargePlan) -> Doc:
    """Yield what happens when an inverter is joined, with precharge and without."""
    many = f" ({plan.count} of them)" if plan.count > 1 else ""
    said = "as stated" if plan.stated else "as proposed here; nothing is stated"
    caption = f"Precharge of {plan.inverter}{many}"
    groups = ((f"With precharge, {said}", plan.with_it), ("Without precharge", plan.without))
    rows = [row for head, lines in groups if lines for row in (Group(head), *lines)]
    yield Numbers(rows, caption) if rows else Head(caption, 3)
    if plan.reason or not rows:
        yield Para(plan.reason or "? Nothing could be worked out.")


def solar_table(sides: Sequence[SolarSide]) -> Doc:
    """Yield what each array gives its charger on a cold and on a hot day."""
    yield Table(_SOLAR, map(_side, sides), "Solar side", cards=True)
    yield Explained((side.array, line) for side in sides for line in side.lines())


def _side(side: SolarSide) -> Row:
    values = (
        side.cold_open,
        side.hot_working,
        side.short,
        side.rated,
        side.real,
        side.into_battery,
    )
    return Row((side.array, side.charger, *(Number(worked_words(value)) for value in values)))


def parts_table(parts: Sequence[PartLine], *, withheld: bool = False) -> Table:
    """Return the bill of materials: functions and ratings, no brands."""
    caption = "Bill of materials" + (" (provisional: buy nothing by it yet)" if withheld else "")
    return Table(_PARTS, map(_part, parts), caption, cards=True, kind="evp-parts")


def _part(part: PartLine) -> Row:
    rating = (part.rating, Below(part.note)) if part.note else part.rating
    metres = "" if part.metres is None else length_words(part.metres)
    return Row((part.function, rating, str(part.count), metres))


@document.register
def _(need: Need) -> Doc:
    yield need_table((need,))


@document.register
def _(plan: PrechargePlan) -> Doc:
    yield from precharge_numbers(plan)


@document.register
def _(side: SolarSide) -> Doc:
    yield from solar_table((side,))


@document.register
def _(part: PartLine) -> Doc:
    yield parts_table((part,))
