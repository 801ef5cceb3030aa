"""In HTML: the devices besides fuses and cables, precharge, the solar side, what to buy."""

from __future__ import annotations

from collections.abc import Sequence

from evpack.outcome.design import SolarSide
from evpack.outcome.protection import Need, PartLine, PrechargePlan
from evpack.show.clean import prose
from evpack.show.html_explained import explained_together
from evpack.show.html_tables import cell, folded, how, number, table, value_of, worked_row
from evpack.show.protection_words import length_words

_NEED_HEADS = ("device", "it must be", "how many", "stated")
_SOLAR_HEADS = (
    "array",
    "charger",
    "coldest, open",
    "hottest, working",
    "short circuit",
    "rated",
    "on a good day",
    "into the battery",
)
_PART_HEADS = ("what it is for", "what to buy", "how many", "cable in all")


def need_table(needs: Sequence[Need]) -> str:
    """Return the table of devices that are needed: what each must be, what is stated of it."""
    return table(
        "Other devices",
        _NEED_HEADS,
        "".join(_need(need) for need in needs),
        rows=False,
        widths=(18, 46, 8, 28),
        kind="evp-cards",
    )


def _need(need: Need) -> str:
    items = "".join(f"<li>{prose(words)}</li>" for words in need.must)
    stated = prose(need.stated) if need.stated else "<b>? nothing stated</b>"
    first = (
        f'<tr><th scope="row">{prose(need.what)}</th>'
        f"{cell(_NEED_HEADS[1], f'<ul>{items}</ul>' if items else '–')}"
        f"{cell(_NEED_HEADS[2], str(need.count))}{cell(_NEED_HEADS[3], stated)}</tr>"
    )
    told = "".join(how(line, named=True) for line in need.lines)
    under = folded("how it comes about", told) if told else ""
    return f'<tbody>{first}<tr class="evp-under"><td></td><td colspan="3">{under}</td></tr></tbody>'


def precharge_table(plan: PrechargePlan) -> str:
    """Return what happens when an inverter is joined, with precharge and without."""
    many = f" ({plan.count} of them)" if plan.count > 1 else ""
    said = "as stated" if plan.stated else "as proposed here; nothing is stated"
    parts = [
        f'<tr class="evp-group"><th colspan="3">{head}</th></tr>'
        + "".join(worked_row(line) for line in lines)
        for head, lines in (
            (f"With precharge, {said}", plan.with_it),
            ("Without precharge", plan.without),
        )
        if lines
    ]
    caption = f"Precharge of {plan.inverter}{many}"
    reason = f"<p>{prose(plan.reason)}</p>" if plan.reason else ""
    if not parts:
        return f"<h3>{prose(caption)}</h3>{reason or '<p>? Nothing could be worked out.</p>'}"
    heads = ("", "value", "how it comes about")
    told = table(caption, heads, "".join(parts), widths=(34, 24, 42), kind="evp-worked")
    return told + reason


def solar_table(sides: Sequence[SolarSide]) -> str:
    """Return what each array gives its charger on a cold and on a hot day."""
    numbers = ((side.array, line) for side in sides for line in side.lines())
    return table(
        "Solar side",
        _SOLAR_HEADS,
        "".join(map(_side, sides)),
        rows=False,
        widths=(16, 18, 11, 11, 11, 11, 11, 11),
        kind="evp-cards",
    ) + explained_together(numbers)


def _side(side: SolarSide) -> str:
    values = (
        side.cold_open,
        side.hot_working,
        side.short,
        side.rated,
        side.real,
        side.into_battery,
    )
    cells = "".join(
        cell(head, value_of(value)) for head, value in zip(_SOLAR_HEADS[2:], values, strict=True)
    )
    return (
        f'<tbody><tr><th scope="row">{prose(side.array)}</th>'
        f"{cell(_SOLAR_HEADS[1], prose(side.charger))}{cells}</tr></tbody>"
    )


def parts_table(parts: Sequence[PartLine], *, withheld: bool = False) -> str:
    """Return the bill of materials: functions and ratings, no brands."""
    rows = "".join(map(_part, parts))
    caption = "Bill of materials" + (" (provisional: buy nothing by it yet)" if withheld else "")
    return table(caption, _PART_HEADS, rows, rows=False, widths=(28, 50, 9, 13), kind="evp-cards")


def _part(part: PartLine) -> str:
    note = f'<br/><span class="evp-soft">{prose(part.note)}</span>' if part.note else ""
    metres = "" if part.metres is None else number(length_words(part.metres))
    return (
        f'<tbody><tr><th scope="row">{prose(part.function)}</th>'
        f"{cell(_PART_HEADS[1], prose(part.rating) + note)}"
        f"{cell(_PART_HEADS[2], str(part.count))}{cell(_PART_HEADS[3], metres)}</tr></tbody>"
    )
