"""A number that explains itself: value, unit, formula, the numbers in it, how each is known.

The formula is written once, with its symbols in braces. The same text gives the value, the
symbolic formula and the one with numbers, so that an explanation cannot drift from what was
computed; and each number keeps those that went into it, so that how it is known is known at any
depth.
"""

from __future__ import annotations

import functools
from typing import Any

import attrs

from evpack.base.basis import Basis, weakest
from evpack.base.brief import cut
from evpack.base.formula import SYMBOL, compiled
from evpack.base.units import Kind, Quantity, kind_of
from evpack.base.wording import COUNT, about, say


@attrs.frozen
class Input:
    """One number that went into another.

    `rests` are the numbers that it was worked out of, where it was: how it is known is known
    through them.
    """

    symbol: str
    means: str
    value: float
    unit: str
    basis: Basis
    rests: tuple[Input | Worked, ...] = attrs.field(default=(), eq=False, repr=False)

    @property
    def assumed(self) -> tuple[str, ...]:
        """Return what it rests on that nobody measured or read off a data sheet."""
        if self.rests:
            return resting_on(*self.rests)
        return (self.means,) if self.basis is Basis.ASSUMED else ()

    @property
    def weakest(self) -> Basis:
        """Return how it is known, at any depth."""
        return weakest([one.weakest for one in self.rests]) if self.rests else self.basis

    def __repr__(self) -> str:
        return f"<Input {cut(str(self), 100)}>"

    def __str__(self) -> str:
        return f"{self.symbol} = {say(self.value, self.unit)} ({self.means}; {self.basis})"


def known(symbol: str, means: str, quantity: Quantity, basis: Basis) -> Input:
    """Return an input from a quantity that a noun holds."""
    return Input(symbol, means, float(quantity.m), kind_of(quantity).unit, basis)


def stated(noun: Any, *fields: str) -> tuple[Input, ...]:
    """Return what somebody said in fields of a noun, as what others rest on; unsaid is left out."""
    return tuple(
        known(field, field.replace("_", " "), value, noun.basis.of(field))
        for field in fields
        if hasattr(value := getattr(noun, field), "m")  # neither unsaid nor not fitted
    )


def count(symbol: str, means: str, number: int) -> Input:
    """Return an input that is a plain count."""
    return Input(symbol, means, float(number), COUNT, Basis.CHOSEN)


def from_worked(symbol: str, worked: Worked) -> Input:
    """Return an input that was itself worked out, with what it rests on."""
    return Input(symbol, worked.name, worked.value, worked.unit, Basis.COMPUTED, (worked,))


def resting_on(*numbers: Input | Worked | None) -> tuple[str, ...]:
    """Return what some numbers rest on that is only assumed, each once."""
    names: list[str] = []
    for number in numbers:
        if number is not None and number.assumed:
            names += number.assumed
    return tuple(dict.fromkeys(names)) if names else ()


@attrs.frozen(kw_only=True)
class Worked:
    """A worked-out number.

    Parameters
    ----------
    name : str
        What it is, in trade words.
    formula : str
        In the little language of `evpack.base.formula`: ``"{n} · {V_max}"``. A text that starts
        with ``solve`` or ``read`` or ``integral`` tells of a computation that no one line can
        hold, and then `value` is given.
    inputs : tuple of Input
        One for each symbol of the formula.
    source : str
        A key of ``data/sources.toml``.
    between : tuple of float or None
        The least and the most that it may be, where what went in leaves that open: it is then
        told as "about", with no more digits than that.
    value : float
        Its value in the unit of `kind`; what the formula gives where it is left out.
    """

    name: str
    kind: Kind
    formula: str
    inputs: tuple[Input, ...]
    source: str
    note: str = ""
    between: tuple[float, float] | None = None
    value: float = attrs.field()

    @value.default
    def _(self) -> float:
        """Return what the formula gives."""
        inputs = self.inputs
        function = compiled(self.formula, tuple([i.symbol for i in inputs]))
        return function(*[i.value for i in inputs])

    def __repr__(self) -> str:
        return f"<Worked {cut(self.name)!r}: {self}>"

    @property
    def quantity(self) -> Quantity:
        """Return the number with its unit."""
        return self.kind.of(self.value)

    @property
    def unit(self) -> str:
        """Return the canonical unit in short."""
        return self.kind.unit

    @property
    def symbols(self) -> str:
        """Return the formula in symbols."""
        return SYMBOL.sub(lambda m: m[1], self.formula)

    @property
    def numbers(self) -> str:
        """Return the formula with its numbers, and the result."""
        by_symbol = {i.symbol: say(i.value, i.unit) for i in self.inputs}
        return f"{SYMBOL.sub(lambda m: by_symbol[m[1]], self.formula)} = {self}"

    @functools.cached_property
    def assumed(self) -> tuple[str, ...]:
        """Return what went in, at any depth, that nobody measured or read off a data sheet."""
        return resting_on(*self.inputs)

    @functools.cached_property
    def weakest(self) -> Basis:
        """Return how it is known: as well as the weakest that went in, at any depth."""
        return weakest([given.weakest for given in self.inputs])

    def __str__(self) -> str:
        if self.between is not None:
            return about(*self.between, self.unit)
        return say(self.value, self.unit)
