"""Fuses as they are sold: families with their DC ratings, and the sizes of a rule set."""

from __future__ import annotations

import attrs

from evpack.base.basis import Basis
from evpack.base.units import Quantity, amps, volts


@attrs.frozen(kw_only=True)
class FuseFamily:
    """A family of fuse-links. Ratings are typical ones: the print on the fuse decides.

    `dc_voltage` and `interrupting` belong together: what it interrupts at that DC voltage.
    """

    key: str
    name: str
    standard: str
    dc_voltage: Quantity = attrs.field(converter=volts)
    interrupting: Quantity = attrs.field(converter=amps)
    largest: Quantity = attrs.field(converter=amps)
    note: str
    source: str
    basis: Basis


@attrs.frozen(kw_only=True)
class FuseCatalogue:
    """The families to choose from, in the order they are tried, and the standard sizes [A]."""

    families: tuple[FuseFamily, ...]
    sizes: tuple[float, ...]
    sizes_source: str
