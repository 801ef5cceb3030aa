"""The pack: modules in series make a string, strings stand in parallel, cells are watched."""

from __future__ import annotations

import attrs
from attrs.converters import optional

from evpack.base.basis import ALL_ASSUMED, ALL_CHOSEN, Bases, bases
from evpack.base.brief import brief
from evpack.base.errors import DescriptionError
from evpack.base.fitted import NotFitted, or_not_fitted
from evpack.base.told import told
from evpack.base.units import (
    CHARGE,
    ENERGY,
    RESISTANCE,
    VOLTAGE,
    Quantity,
    volts,
)
from evpack.describe.checked import checked, whole
from evpack.describe.module import Module


@attrs.frozen(kw_only=True, field_transformer=checked)
class Monitoring:
    """The cell monitoring (BMS): what it watches and what it can do; None is unknown."""

    name: str = "cell monitoring"
    every_cell: bool | None = attrs.field(default=None, metadata=told("watches every cell"))
    temperatures: bool | None = attrs.field(default=None, metadata=told("watches temperatures"))
    stops_charge: bool | None = attrs.field(default=None, metadata=told("stops the charge"))
    stops_discharge: bool | None = attrs.field(default=None, metadata=told("stops the discharge"))
    blocks_cold_charge: bool | None = attrs.field(
        default=None, metadata=told("blocks charging when cold")
    )
    balances: bool | None = attrs.field(default=None, metadata=told("balances the cells"))
    watches_each_string: bool | None = attrs.field(
        default=None, metadata=told("watches each string")
    )
    basis: Bases = attrs.field(converter=bases, default=ALL_ASSUMED)

    __repr__ = brief


EARTHED = ("minus", "plus", "none")


def _earthed(given: object) -> str | None:
    """Refuse a pole that is none; yes alone does not say which."""
    if given is None or given in EARTHED:
        return given
    raise DescriptionError(
        f"pack: earthed must be the pole that is joined to earth, got {given!r}: say "
        '"minus" or "plus", or "none" where neither is'
    )


@attrs.frozen(kw_only=True, eq=False, field_transformer=checked)
class Pack:
    """An arrangement of like modules.

    Parameters
    ----------
    modules_in_series : int
        Modules from one end of a string to the other.
    strings : int
        Strings in parallel.
    monitoring : Monitoring, NOT_FITTED or None
        What watches every cell; None is unknown.
    earthed : {"minus", "plus", "none"} or None
        The pole that is joined to earth; ``"none"`` is a floating pack; None is unknown.
    spread_full : quantity or None
        Highest cell minus mean near full, as measured [V]; None takes the chemistry's guard.
    """

    module: Module
    modules_in_series: int = attrs.field(
        validator=whole(1, 400), metadata=told("modules in series")
    )
    strings: int = attrs.field(
        validator=whole(1, 400), default=1, metadata=told("strings in parallel")
    )
    monitoring: Monitoring | NotFitted | None = attrs.field(
        converter=or_not_fitted,
        default=None,
        metadata=told("cell monitoring", after="earthed", known=False),
    )
    earthed: str | None = attrs.field(
        converter=_earthed, default=None, metadata=told("pole joined to earth", after="spread_full")
    )
    spread_full: Quantity | None = attrs.field(
        converter=optional(volts),
        default=None,
        metadata=told("highest cell above the mean, near full"),
    )
    basis: Bases = attrs.field(converter=bases, default=ALL_CHOSEN)

    __repr__ = brief

    @property
    def fused_pole(self) -> str:
        """Return the pole that is fused where one is enough: the one that is not earthed."""
        return "negative" if self.earthed == "plus" else "positive"

    @property
    def cells_in_series(self) -> int:
        """Return how many cell groups stand in series, end to end."""
        return self.modules_in_series * self.module.cells_in_series

    @property
    def modules(self) -> int:
        """Return how many modules the pack takes."""
        return self.modules_in_series * self.strings

    @property
    def nominal(self) -> Quantity:
        """Return the nominal voltage [V]."""
        return VOLTAGE.of(self.cells_in_series * self.module.nominal.m)

    @property
    def least(self) -> Quantity:
        """Return the least voltage, every cell at its own least [V]."""
        return VOLTAGE.of(self.cells_in_series * self.module.least.m)

    @property
    def highest(self) -> Quantity:
        """Return the highest voltage, every cell at its own highest [V]."""
        return VOLTAGE.of(self.cells_in_series * self.module.highest.m)

    @property
    def capacity(self) -> Quantity:
        """Return the capacity of all strings together [Ah]."""
        return CHARGE.of(self.strings * self.module.capacity.m)

    @property
    def energy(self) -> Quantity:
        """Return nominal voltage times capacity [Wh]: the figure on a label, not what is usable."""
        return ENERGY.of(self.nominal.m * self.capacity.m)

    @property
    def resistance(self) -> Quantity | None:
        """Return the DC internal resistance without leads [Ω]; None where unknown."""
        if self.module.resistance is None:
            return None
        return RESISTANCE.of(self.module.resistance.m * self.modules_in_series / self.strings)
