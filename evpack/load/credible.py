"""The credible ranges of what people state, from the table."""

from __future__ import annotations

import functools
import math

from evpack.base.units import KINDS
from evpack.describe.credible import Credible, Credibles
from evpack.load.tables import table

_COLUMNS = ("noun", "field", "of", "low", "high", "unit", "says", "source")


@functools.cache
def credible_ranges() -> Credibles:
    """Return the credible ranges by the kind of thing, in canonical units.

    References
    ----------
    ``data/tables/credible.csv``: from memory and common practice, no document.
    """
    held = table("credible")
    found: dict[str, list[Credible]] = {}
    for row in zip(*(held.texts(name) for name in _COLUMNS), strict=True):
        made = _range(*row)
        found.setdefault(made.noun, []).append(made)
    return {noun: tuple(rows) for noun, rows in found.items()}


def _range(  # noqa: PLR0917  one for each column
    noun: str, field: str, of: str, low: str, high: str, unit: str, says: str, source: str
) -> Credible:
    product, _, divided = of.partition("/")
    return Credible(
        noun=noun,
        field=field,
        times=tuple(name.strip() for name in product.split("*") if name.strip()),
        over=tuple(name.strip() for name in divided.split("*") if name.strip()),
        low=_end(low, unit, -math.inf, against=bool(of)),
        high=_end(high, unit, math.inf, against=bool(of)),
        says=says,
        source=source,
    )


def _end(typed: str, unit: str, open_end: float, *, against: bool) -> float:
    """Return an end of a range: one against other fields is a plain number already."""
    if not typed:
        return open_end
    if against:
        return float(typed)
    kind = next(kind for kind in KINDS if unit in kind.spellings)
    return float(kind.read(f"{typed} {unit}").m)
