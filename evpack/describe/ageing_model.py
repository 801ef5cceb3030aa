"""A published model of ageing: its form, its constants, and which cells it was made from."""

from __future__ import annotations

from collections.abc import Mapping

import attrs

from evpack.base.brief import brief
from evpack.base.errors import DescriptionError
from evpack.base.source import Seen, seen_named
from evpack.base.told import told
from evpack.describe.checked import checked


@attrs.frozen(kw_only=True, field_transformer=checked)
class Constant:
    """One constant of a model: its value in the unit it was published in, and how it was had."""

    symbol: str
    value: float
    unit: str
    how: Seen = attrs.field(converter=seen_named)

    __repr__ = brief


@attrs.frozen(kw_only=True, eq=False)
class AgeingModel:
    """A published model of the loss of capacity.

    Parameters
    ----------
    key, name : str
    form : str
        The formula in `evpack.kernels.ageing` that the constants belong to.
    source : str
        A key of ``data/sources.toml``.
    chemistries : tuple of str
        Keys of the chemistries that it fits.
    fits : str
        What it was made from, in plain words.

    Raises
    ------
    DescriptionError
        No constants, or one that is there twice.
    """

    key: str
    name: str
    form: str
    source: str = attrs.field(metadata=told("source"))
    chemistries: tuple[str, ...] = attrs.field(metadata=told("fits"))
    fits: str
    constants: tuple[Constant, ...]

    __repr__ = brief

    def __attrs_post_init__(self) -> None:
        """Refuse a model without constants, and one constant given twice."""
        symbols = [constant.symbol for constant in self.constants]
        if not symbols or len(set(symbols)) != len(symbols):
            raise DescriptionError(f"{self.name}: needs constants, each given once")

    @property
    def values(self) -> Mapping[str, float]:
        """Return the constants by their symbols."""
        return {constant.symbol: constant.value for constant in self.constants}
