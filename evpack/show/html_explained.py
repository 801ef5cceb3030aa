"""Explanations of many numbers told together: each formula once, then its numbers place by place.

A schedule asks the same formula of every circuit. Told apart, most of its explanation would be
what stood there before.
"""

from __future__ import annotations

from collections.abc import Iterable

import attrs

from evpack.base.worked import Input, Worked
from evpack.show.clean import prose
from evpack.show.gather import formula_words, source_words
from evpack.show.html_tables import basis_mark, folded, formula, how, number
from evpack.show.words import shown


@attrs.frozen
class Told:
    """A number, and the place that it is of."""

    place: str
    worked: Worked

    @property
    def name(self) -> str:
        """Return what the number is, without its place."""
        return self.worked.name.removesuffix(f": {self.place}")


def explained_together(numbers: Iterable[tuple[str, Worked | None]], more: str = "") -> str:
    """Return how numbers come about, folded into one; nothing where there is nothing to tell.

    Parameters
    ----------
    numbers : iterable of (str, Worked or None)
        Each with the place that it is of.
    more : str
        Markup that stands first.
    """
    alike: dict[object, list[Told]] = {}
    for place, worked in numbers:
        if worked is not None:
            told = Told(place, worked)
            alike.setdefault(_kind(told), []).append(told)
    inner = more + "".join(
        f'<div class="evp-one">{_group(group)}</div>' for group in alike.values()
    )
    return folded("how it comes about", f'<div class="evp-many">{inner}</div>') if inner else ""


def _kind(told: Told) -> object:
    """Return what numbers have in common that are told together: all but places and inputs."""
    worked = told.worked
    symbols, _ = formula_words(worked)
    if not symbols:
        return id(told)  # a formula told in words holds its numbers
    order = tuple((given.symbol, given.unit) for given in worked.inputs)
    return told.name, symbols, order, worked.source, worked.note


def _group(group: list[Told]) -> str:
    """Return numbers of one formula: the formula and its inputs, then a line for each number."""
    first = group[0].worked
    if len({told.worked for told in group}) == 1:
        places = "; ".join(dict.fromkeys(told.place for told in group))
        return f"<p><i>{prose(places)}</i></p>{how(first, named=True)}"
    symbols, _ = formula_words(first)
    parts = [f"<p><b>{prose(group[0].name)}:</b> {formula(symbols)}</p>"]
    inputs = tuple(zip(*(told.worked.inputs for told in group), strict=True))
    items = "".join(_input(same) for same in inputs if _one_meaning(same))
    if items:
        parts.append(f"<ul>{items}</ul>")
    if first.note:
        parts.append(f"<p>{prose(first.note)}</p>")
    parts.append(f"<p>Source: {prose(source_words(first.source))}</p>")
    own = [k for k, same in enumerate(inputs) if not _one_meaning(same)]
    lines: dict[str, list[str]] = {}
    for told in group:
        lines.setdefault(_line(told.worked, own), []).append(told.place)
    each = "".join(
        f"<li><i>{prose('; '.join(dict.fromkeys(places)))}:</i> {line}</li>"
        for line, places in lines.items()
    )
    parts.append(f'<ul class="evp-each">{each}</ul>')
    return "".join(parts)


def _one_meaning(same: tuple[Input, ...]) -> bool:
    """Return whether an input is the same thing, as well known, in every number of a group."""
    return len({(given.means, given.basis) for given in same}) == 1


def _input(same: tuple[Input, ...]) -> str:
    """Return an input that all share; its value only where that is the same for all."""
    first = same[0]
    value = f" = {number(shown(first.value, first.unit))}" if len(set(same)) == 1 else ""
    return f"<li>{formula(first.symbol)}{value}: {_meaning(first)}</li>"


def _line(worked: Worked, own: list[int]) -> str:
    """Return a number with its numbers put in, and those of its inputs that are its own."""
    _, numbers = formula_words(worked)
    given = [worked.inputs[k] for k in own]
    told = "".join(f", {formula(i.symbol)}: {_meaning(i)}" for i in given)
    return f"{prose(numbers or shown(worked.value, worked.unit))}{told}"


def _meaning(given: Input) -> str:
    return f"{prose(given.means)} {basis_mark(given.basis)}"
