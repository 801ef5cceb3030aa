"""What a value of a kind of thing lies within: beyond, a digit or a unit slipped."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TypeAlias

import attrs

from evpack.base.brief import brief
from evpack.base.errors import DescriptionError


@attrs.frozen(kw_only=True)
class Credible:
    """A range of a field of a kind of thing.

    Parameters
    ----------
    noun : str
        The kind of thing: ``"module"``, ``"run.main"``.
    field : str
        The field of its noun.
    times, over : tuple of str
        Fields of the same thing; the range is of the value against their product, those of `over`
        divided by. Both empty: the range is of the value itself.
    low, high : float
        In canonical units; infinite where an end is open.
    says : str
        Why, in words.
    source : str
        A key of ``data/sources.toml``.
    """

    noun: str
    field: str
    times: tuple[str, ...] = ()
    over: tuple[str, ...] = ()
    low: float
    high: float
    says: str
    source: str

    __repr__ = brief

    def __attrs_post_init__(self) -> None:
        """Refuse a range upside down: it would ask for every value."""
        if not self.low < self.high:
            raise DescriptionError(f"{self.noun}.{self.field}: a range runs from low to high")


Credibles: TypeAlias = Mapping[str, tuple[Credible, ...]]
