"""How a number is known: measured, from a data sheet, chosen, worked out, or only assumed."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from enum import StrEnum

import attrs

from evpack.base.brief import brief
from evpack.base.errors import DescriptionError, nearest


class Basis(StrEnum):
    """How a value is known. Only `ASSUMED` needs an apology on the page."""

    MEASURED = "measured"
    DATASHEET = "datasheet"
    CHOSEN = "chosen"
    COMPUTED = "computed"
    ASSUMED = "assumed"


# From the best known to the worst.
_RANK = (Basis.MEASURED, Basis.DATASHEET, Basis.CHOSEN, Basis.COMPUTED, Basis.ASSUMED)


def weakest(known: Iterable[Basis]) -> Basis:
    """Return the worst known of several; what nothing went into is worked out.

    Examples
    --------
    >>> str(weakest([Basis.MEASURED, Basis.ASSUMED]))
    'assumed'
    """
    return max(known, key=_RANK.index, default=Basis.COMPUTED)


def basis_named(word: object) -> Basis:
    """Return the basis a user named, or refuse with the nearest word."""
    try:
        return Basis(str(word))
    except ValueError:
        raise DescriptionError(
            f"basis '{word}' is not known{nearest(str(word), [b.value for b in Basis])}"
        ) from None


@attrs.frozen
class Bases:
    """The basis of each field of a noun: one for all, and exceptions by field name.

    `confirmed` names the fields whose value was said to be meant, though such things never have it.
    """

    default: Basis = Basis.ASSUMED
    exceptions: Mapping[str, Basis] = attrs.field(factory=dict)
    confirmed: frozenset[str] = frozenset()

    __repr__ = brief

    def of(self, field: str) -> Basis:
        """Return how the value of `field` is known."""
        return self.exceptions.get(field, self.default)

    def but(self, **exceptions: Basis) -> Bases:
        """Return the same bases with some fields known differently.

        It is said of a field that has another value now; that nobody has confirmed.
        """
        return Bases(
            self.default,
            {**self.exceptions, **exceptions},
            self.confirmed.difference(exceptions),
        )

    def confirming(self, *fields: str) -> Bases:
        """Return the same bases with the values of some fields confirmed."""
        return Bases(self.default, self.exceptions, self.confirmed.union(fields))


def bases(given: object) -> Bases:
    """Convert ``"datasheet"``, a `Basis`, a mapping by field, or `Bases` to `Bases`."""
    if isinstance(given, Bases):
        return given
    if isinstance(given, Mapping):
        fields = {str(k): basis_named(v) for k, v in given.items() if k != "default"}
        return Bases(basis_named(given.get("default", Basis.ASSUMED)), fields)
    return Bases(basis_named(given))


ALL_ASSUMED = Bases(Basis.ASSUMED)
ALL_CHOSEN = Bases(Basis.CHOSEN)
