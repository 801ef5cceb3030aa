"""Fuses as they are sold: families with their DC ratings, and the sizes of a rule set."""

from __future__ import annotations

from itertools import pairwise

import attrs

from evpack.base.basis import Basis, basis_named
from evpack.base.brief import brief
from evpack.base.errors import DescriptionError
from evpack.base.units import Quantity, amps, volts
from evpack.describe.checked import checked


@attrs.frozen(kw_only=True, field_transformer=checked)
class FuseFamily:
    """A family of fuse-links, or one fuse described from its own print.

    Ratings of a family are typical ones: the print on the fuse decides.

    `dc_voltage` and `interrupting` belong together: what it interrupts at that DC voltage.
    """

    key: str = "own"
    name: str
    standard: str = ""
    dc_voltage: Quantity = attrs.field(converter=volts)
    interrupting: Quantity = attrs.field(converter=amps)
    largest: Quantity = attrs.field(converter=amps)
    note: str = ""
    basis: Basis = attrs.field(converter=basis_named, default=Basis.ASSUMED)
    source: str = attrs.field()

    __repr__ = brief

    @source.default
    def _(self) -> str:
        return "fuse-makers-typical" if self.basis is Basis.ASSUMED else "fuse-print"


@attrs.frozen(kw_only=True, field_transformer=checked)
class FuseCatalogue:
    """The families to choose from, in the order they are tried, and the standard sizes [A]."""

    families: tuple[FuseFamily, ...]
    sizes: tuple[float, ...]
    sizes_source: str

    __repr__ = brief

    def __attrs_post_init__(self) -> None:
        """Refuse sizes out of order: the first that fits is taken as the smallest."""
        if not all(0 < low < high for low, high in pairwise((*self.sizes, float("inf")))):
            raise DescriptionError("fuse sizes must rise from one to the next, all above 0 A")
