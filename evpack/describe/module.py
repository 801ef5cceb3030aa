"""The module: what is bolted down, seen from its two terminals."""

from __future__ import annotations

import attrs
from attrs.converters import optional

from evpack.base.basis import ALL_ASSUMED, Bases, Basis, bases
from evpack.base.brief import brief
from evpack.base.errors import DescriptionError, nearest
from evpack.base.told import told
from evpack.base.units import (
    ENERGY,
    VOLTAGE,
    Quantity,
    amp_hours,
    amps,
    celsius,
    ohms,
    share,
    volts,
)
from evpack.describe.checked import above_nothing, checked, whole
from evpack.describe.chemistry import Chemistry
from evpack.describe.ocv import OcvCurve, ResistanceCurve

# How a resistance was got. They differ by a factor, so the method travels with the number.
RESISTANCE_METHODS = ("10 s pulse", "two-step", "1 kHz meter", "not stated")
# States of charge that are called the middle, where a resistance is to be read [1]. Common
# practice, no source.
_MIDDLE_FROM, _MIDDLE_TO = 0.3, 0.7


def in_the_middle(soc: float) -> bool:
    """Return whether a state of charge [1] is one at which a resistance is to be read."""
    return _MIDDLE_FROM <= soc <= _MIDDLE_TO


@attrs.frozen(kw_only=True, eq=False, field_transformer=checked)
class Module:
    """A battery module as it sits on the bench; `basis` says how its numbers are known.

    Parameters
    ----------
    cells_in_series, cells_in_parallel : int
        Cell groups between the terminals, and cells in each group.
    capacity : quantity
        Of the whole module, between the voltages of its open-circuit curve [Ah].
    resistance : quantity or None
        DC internal resistance of the whole module [Ω]; None is unknown, which never passes.
    resistance_temperature, resistance_soc : quantity or None
        How warm the cells were when it was read [°C], and how full [1].
    imbalance_full, imbalance_empty : quantity or None
        Highest cell group above the mean when full, and lowest below the mean towards empty [V],
        as measured on a module. None is not measured.
    lowest_group : quantity or None
        The lowest voltage that a cell group of it was ever found at [V].
    weakest_group : int or None
        The cell group that is empty first, counted from 1 at the plus end.
    cell_highest, cell_least, cell_nominal : quantity or None
        From the module maker, for one cell; tighter than the chemistry's limits or refused.
    discharge_limit, discharge_peak, charge_limit : quantity or None
        Of the whole module [A]; None is unknown.
    link_limit : quantity or None
        What its weakest internal link or terminal carries [A], where known.
    available : int or None
        How many there are.

    Raises
    ------
    DescriptionError
        A count that is no whole number of 1 or more, a limit looser than the chemistry's.
    UnitError
        A quantity without its unit, or with a wrong one.
    """

    name: str
    chemistry: Chemistry = attrs.field(metadata=told("chemistry", known=False))
    cells_in_series: int = attrs.field(validator=whole(1, 400), metadata=told("cells"))
    cells_in_parallel: int = attrs.field(validator=whole(1, 400), default=1)
    capacity: Quantity = attrs.field(converter=amp_hours, metadata=told("capacity"))
    resistance: Quantity | None = attrs.field(
        converter=optional(ohms), default=None, metadata=told("resistance")
    )
    resistance_method: str = "not stated"
    resistance_temperature: Quantity | None = attrs.field(converter=optional(celsius), default=None)
    resistance_soc: Quantity | None = attrs.field(converter=optional(share), default=None)
    imbalance_full: Quantity | None = attrs.field(
        converter=optional(volts),
        default=None,
        metadata=told("highest cell group above the mean, full", after="link_limit", omit=True),
    )
    imbalance_empty: Quantity | None = attrs.field(
        converter=optional(volts),
        default=None,
        metadata=told(
            "weakest cell group below the mean, towards empty", after="imbalance_full", omit=True
        ),
    )
    lowest_group: Quantity | None = attrs.field(
        converter=optional(volts),
        default=None,
        metadata=told("lowest that a cell group was found at", after="imbalance_empty", omit=True),
    )
    weakest_group: int | None = attrs.field(
        validator=attrs.validators.optional(whole(1, 400)),
        default=None,
        metadata=told("cell group that is empty first", after="lowest_group", omit=True),
    )
    cell_highest: Quantity | None = attrs.field(
        converter=optional(volts), default=None, metadata=told("highest voltage of a cell")
    )
    cell_least: Quantity | None = attrs.field(
        converter=optional(volts),
        default=None,
        metadata=told("least voltage of a cell", after="cell_nominal"),
    )
    cell_nominal: Quantity | None = attrs.field(
        converter=optional(volts), default=None, metadata=told("nominal voltage of a cell")
    )
    discharge_limit: Quantity | None = attrs.field(
        converter=optional(amps), default=None, metadata=told("discharge current, for good")
    )
    discharge_peak: Quantity | None = attrs.field(
        converter=optional(amps), default=None, metadata=told("discharge current, for seconds")
    )
    charge_limit: Quantity | None = attrs.field(
        converter=optional(amps), default=None, metadata=told("charge current")
    )
    link_limit: Quantity | None = attrs.field(
        converter=optional(amps), default=None, metadata=told("weakest inner link")
    )
    available: int | None = attrs.field(
        validator=attrs.validators.optional(whole(1, 100_000)),
        default=None,
        metadata=told("how many there are", known=False),
    )
    ocv: OcvCurve | None = attrs.field(
        default=None, metadata=told("voltage at rest against charge")
    )
    resistance_curve: ResistanceCurve | None = attrs.field(
        default=None, metadata=told("resistance against charge")
    )
    basis: Bases = attrs.field(converter=bases, default=ALL_ASSUMED)

    __repr__ = brief

    def __attrs_post_init__(self) -> None:
        """Refuse a module that cannot exist; judging a poor one is left to the checks."""
        limits = self.chemistry.limits
        if self.capacity.m <= 0:
            raise DescriptionError(f"{self.name}: capacity must be above 0 Ah")
        if self.resistance is not None and self.resistance.m <= 0:
            raise DescriptionError(f"{self.name}: resistance must be above 0 Ω")
        above_nothing(self, "discharge_limit", "discharge_peak", "charge_limit", "link_limit")
        if self.resistance_method not in RESISTANCE_METHODS:
            raise DescriptionError(
                f"{self.name}: resistance method '{self.resistance_method}' is not known"
                f"{nearest(self.resistance_method, RESISTANCE_METHODS)}"
            )
        self._refuse_groups_that_cannot_be()
        if self.highest.m > limits.highest.m or self.least.m < limits.least.m:
            raise DescriptionError(
                f"{self.name}: its cell limits, {self.least.m:g} to {self.highest.m:g} V, are "
                f"looser than those of {self.chemistry.name}, {limits.least.m:g} to "
                f"{limits.highest.m:g} V; a module's data may only tighten them"
            )
        if not self.least.m < self.nominal.m < self.highest.m:
            raise DescriptionError(
                f"{self.name}: need least < nominal < highest voltage of a cell, got "
                f"{self.least.m:g}, {self.nominal.m:g}, {self.highest.m:g} V"
            )

    def _refuse_groups_that_cannot_be(self) -> None:
        """Refuse cell groups that the module does not have, or that are further apart than any."""
        if self.weakest_group is not None and self.weakest_group > self.cells_in_series:
            raise DescriptionError(
                f"{self.name}: weakest_group is {self.weakest_group}, and it has "
                f"{self.cells_in_series} cell groups in series"
            )
        most = float(self.chemistry.limits.highest.m)
        for field in ("imbalance_full", "imbalance_empty"):
            value = getattr(self, field)
            if value is not None and not 0 <= value.m <= most:
                raise DescriptionError(
                    f"{self.name}: {field} must lie between 0 V and {most:g} V, got {value.m:g} V"
                )

    @property
    def highest(self) -> Quantity:
        """Return the highest voltage that one cell of it may ever see [V]."""
        return self.chemistry.limits.highest if self.cell_highest is None else self.cell_highest

    @property
    def least(self) -> Quantity:
        """Return the least voltage that one cell of it may ever see [V]."""
        return self.chemistry.limits.least if self.cell_least is None else self.cell_least

    @property
    def nominal(self) -> Quantity:
        """Return the nominal voltage of one cell [V]."""
        return self.chemistry.limits.nominal if self.cell_nominal is None else self.cell_nominal

    @property
    def terminals_highest(self) -> Quantity:
        """Return the highest voltage between its terminals [V]: that of its chemistry."""
        return VOLTAGE.of(self.cells_in_series * self.chemistry.limits.highest.m)

    @property
    def terminals_nominal(self) -> Quantity:
        """Return the nominal voltage between its terminals [V]."""
        return VOLTAGE.of(self.cells_in_series * self.nominal.m)

    @property
    def energy(self) -> Quantity:
        """Return nominal voltage times capacity [Wh]: the figure on a label, not what is usable."""
        return ENERGY.of(self.terminals_nominal.m * self.capacity.m)

    @property
    def curve(self) -> OcvCurve:
        """Return the open-circuit curve of one cell: its own, else its chemistry's."""
        curve = self.ocv or self.chemistry.ocv
        if curve is None:
            raise DescriptionError(f"{self.name}: no open-circuit voltage curve is known")
        return curve

    def limit_basis(self, limit: str) -> Basis:
        """Return how ``"highest"``, ``"least"`` or ``"nominal"`` of a cell is known."""
        if getattr(self, f"cell_{limit}") is None:
            return self.chemistry.basis.of(limit)
        return self.basis.of(f"cell_{limit}")
