"""A heap of salvaged modules as its owner tested it: readings of each, and what it is for."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterable
from typing import Any

import attrs
from attrs.converters import optional

from evpack.base.basis import ALL_CHOSEN, Bases, Basis, bases
from evpack.base.brief import brief
from evpack.base.errors import DescriptionError, nearest
from evpack.base.told import INNER, told
from evpack.base.units import (
    Quantity,
    amp_hours,
    amps,
    celsius,
    kelvins,
    ohms,
    seconds,
    share,
    volts,
    watt_hours,
)
from evpack.describe.checked import checked, need, whole
from evpack.describe.chemistry import Chemistry
from evpack.describe.module import RESISTANCE_METHODS

# What a look at a module can show; any of them refuses it at once. Common practice, no source.
FAULTS = (
    "swelling",
    "leak",
    "odour",
    "dent",
    "flood",
    "crash",
    "fire",
    "reverse polarity",
)


def _cells(given: Any) -> tuple[float, ...]:
    found = tuple(float(value) for value in given)
    for value in found:
        if not (math.isfinite(value) and -5.0 <= value <= 5.0):  # noqa: PLR2004
            raise DescriptionError(f"a cell group of {value} V is not believable")
    return found


def _seen(given: Any) -> tuple[str, ...] | None:
    if given is None:
        return None
    found = (given,) if isinstance(given, str) else tuple(given)
    for word in found:
        if word not in FAULTS:
            raise DescriptionError(f"'{word}' is no fault that is known{nearest(word, FAULTS)}")
    return found


@attrs.frozen(kw_only=True, field_transformer=checked)
class Rest:
    """Voltages of a module that has rested, on a day.

    Parameters
    ----------
    rested : quantity or None
        How long it had rested [s]; None is unknown.
    voltage : quantity or None
        Of the whole module [V].
    cells : tuple of float
        Of each cell group, plus end first [V]; empty where they were not read.
    full : bool
        Whether it had been charged full before.
    """

    date: dt.date
    rested: Quantity | None = attrs.field(
        converter=optional(seconds), default=None, metadata=told("rested")
    )
    temperature: Quantity | None = attrs.field(
        converter=optional(celsius), default=None, metadata=told("temperature", omit=True)
    )
    voltage: Quantity | None = attrs.field(
        converter=optional(volts), default=None, metadata=told("voltage")
    )
    cells: tuple[float, ...] = attrs.field(
        converter=_cells, default=(), metadata=told("cell groups", unit="V")
    )
    full: bool = attrs.field(default=False, metadata=told("full"))

    __repr__ = brief


@attrs.frozen(kw_only=True, field_transformer=checked)
class TestedModule:
    """One module of the heap with what was read of it; None was not read.

    Parameters
    ----------
    name : str
        What is written on it.
    rests : tuple of Rest
        By date.
    capacity, energy : quantity or None
        From full to the first cell group's end [Ah], [Wh].
    capacity_current, capacity_temperature : quantity or None
        How the capacity was read [A], [°C].
    capacity_error : quantity or None
        By how much the capacity may be off at worst [Ah]; None is unknown.
    charge_efficiency : quantity or None
        Charge out over charge in, of a whole cycle.
    resistance : quantity or None
        DC internal resistance of the whole module [Ω].
    resistance_method : str
        As `Module` has it; readings of different methods are never compared.
    resistance_temperature, resistance_soc : quantity or None
        How the resistance was read.
    resistance_error : quantity or None
        By how much it may be off at worst [Ω]; None is unknown.
    rise : quantity or None
        How much warmer its warmest spot became in the capacity test [K].
    lowest_ever : quantity or None
        The lowest voltage that a cell group of it was ever found at [V].
    ended_by : int or None
        The cell group that ended the discharge, counted from 1 at the plus end.
    imbalance_empty : quantity or None
        How far the weakest cell group lay below the mean towards empty, in that discharge [V].
    seen : tuple of str or None
        Faults seen when it was looked at; empty: none; None: nobody looked.
    """

    name: str
    rests: tuple[Rest, ...] = attrs.field(
        default=(), metadata=told("readings at rest", after="seen")
    )
    capacity: Quantity | None = attrs.field(
        converter=optional(amp_hours), default=None, metadata=told("capacity")
    )
    energy: Quantity | None = attrs.field(
        converter=optional(watt_hours), default=None, metadata=told("energy")
    )
    capacity_current: Quantity | None = attrs.field(
        converter=optional(amps), default=None, metadata=told("current of the capacity test")
    )
    capacity_temperature: Quantity | None = attrs.field(
        converter=optional(celsius),
        default=None,
        metadata=told("temperature of the capacity test", omit=True),
    )
    capacity_error: Quantity | None = attrs.field(
        converter=optional(amp_hours),
        default=None,
        metadata=told("error of the capacity", omit=True),
    )
    charge_efficiency: Quantity | None = attrs.field(
        converter=optional(share), default=None, metadata=told("charge efficiency", omit=True)
    )
    resistance: Quantity | None = attrs.field(
        converter=optional(ohms), default=None, metadata=told("resistance")
    )
    resistance_method: str = attrs.field(default="not stated", metadata=told("method"))
    resistance_temperature: Quantity | None = attrs.field(
        converter=optional(celsius),
        default=None,
        metadata=told("temperature of the resistance", omit=True),
    )
    resistance_soc: Quantity | None = attrs.field(
        converter=optional(share),
        default=None,
        metadata=told("state of charge of the resistance", omit=True),
    )
    resistance_error: Quantity | None = attrs.field(
        converter=optional(ohms), default=None, metadata=told("error of the resistance", omit=True)
    )
    rise: Quantity | None = attrs.field(
        converter=optional(kelvins), default=None, metadata=told("warmed in the test by")
    )
    lowest_ever: Quantity | None = attrs.field(
        converter=optional(volts),
        default=None,
        metadata=told("lowest that a cell group was ever found at"),
    )
    ended_by: int | None = attrs.field(
        validator=attrs.validators.optional(whole(1, 400)),
        default=None,
        metadata=told("cell group that ended the discharge"),
    )
    imbalance_empty: Quantity | None = attrs.field(
        converter=optional(volts),
        default=None,
        metadata=told("weakest cell group below the mean, towards empty"),
    )
    seen: tuple[str, ...] | None = attrs.field(
        converter=_seen, default=None, metadata=told("seen on it")
    )
    note: str = ""

    __repr__ = brief

    def __attrs_post_init__(self) -> None:
        """Refuse readings that cannot be, and rests out of order."""
        if self.resistance_method not in RESISTANCE_METHODS:
            raise DescriptionError(
                f"{self.name}: resistance method '{self.resistance_method}' is not known"
                f"{nearest(self.resistance_method, RESISTANCE_METHODS)}"
            )
        for what in ("capacity", "energy", "resistance"):
            value = getattr(self, what)
            if value is not None and value.m <= 0:
                raise DescriptionError(f"{self.name}: {what} must be above 0")
        dates = [rest.date for rest in self.rests]
        if dates != sorted(dates):
            raise DescriptionError(f"{self.name}: rests must stand in the order of their dates")


@attrs.frozen(kw_only=True, field_transformer=checked)
class Measure:
    """One measure that modules are graded by, and its two limits.

    Parameters
    ----------
    key : str
        ``"capacity"``, ``"resistance"``, ``"spread"``, ``"imbalance"``, ``"drift"`` or ``"rise"``.
    unit : str
        Of its limits.
    accept, retest : float
        Up to (or, for capacity, from) which a module is accepted, or accepted after a retest.
    """

    key: str
    says: str
    unit: str
    accept: float = attrs.field(metadata=told("accepted to"))
    retest: float = attrs.field(metadata=told("accepted after a retest to"))
    source: str = attrs.field(metadata=told("source"))

    __repr__ = brief


def _names(given: Any) -> tuple[tuple[str, ...], ...]:
    return tuple(tuple(str(name) for name in group) for group in given)


def _modules(given: Iterable[Any]) -> tuple[TestedModule, ...]:
    found = tuple(given)
    for item in found:
        need("modules", item, TestedModule)
    return found


@attrs.frozen(kw_only=True, eq=False, field_transformer=checked)
class Batch:
    """The heap: like modules, how they were tested, and the pack that is wanted of them.

    Parameters
    ----------
    new_capacity, new_resistance : quantity or None
        Of such a module when it was new [Ah], [Ω]; None is unknown.
    new_resistance_method : str
        How the new one's was read, as `Module` has it; another method does not compare.
    new_resistance_temperature, new_resistance_soc : quantity or None
        The same; None takes it that it was read as most of the batch.
    modules_in_series, strings : int or None
        The pack that is wanted; None asks for no grouping.
    apart, together : tuple of tuples of str
        Modules that must not, or must, stand in one string.
    leave_out : tuple of str
        Modules not to be used.
    voltage_accuracy : quantity or None
        Of the voltmeter [V]; None is unknown.
    measures : tuple of Measure
        What modules are graded by; empty takes those of the library.
    """

    title: str
    chemistry: Chemistry = attrs.field(metadata=told("chemistry", known=False))
    cells_in_series: int = attrs.field(validator=whole(1, 400), metadata=told("cells of a module"))
    cells_in_parallel: int = attrs.field(validator=whole(1, 400), default=1)
    modules: tuple[TestedModule, ...] = attrs.field(converter=_modules, metadata=told("modules"))
    new_capacity: Quantity | None = attrs.field(
        converter=optional(amp_hours), default=None, metadata=told("capacity when new", known=False)
    )
    new_resistance: Quantity | None = attrs.field(
        converter=optional(ohms), default=None, metadata=told("resistance when new", known=False)
    )
    new_resistance_method: str = attrs.field(
        default="not stated", metadata=told("method of that resistance", known=False)
    )
    new_resistance_temperature: Quantity | None = attrs.field(
        converter=optional(celsius),
        default=None,
        metadata=told("temperature of that resistance", omit=True, known=False),
    )
    new_resistance_soc: Quantity | None = attrs.field(
        converter=optional(share),
        default=None,
        metadata=told("state of charge of that resistance", omit=True, known=False),
    )
    modules_in_series: int | None = attrs.field(
        validator=attrs.validators.optional(whole(1, 400)),
        default=None,
        metadata=told("pack that is wanted", after="modules"),
    )
    strings: int | None = attrs.field(
        validator=attrs.validators.optional(whole(1, 400)), default=None
    )
    apart: tuple[tuple[str, ...], ...] = attrs.field(
        converter=_names, default=(), metadata=told("kept apart", omit=True, known=False)
    )
    together: tuple[tuple[str, ...], ...] = attrs.field(
        converter=_names, default=(), metadata=told("kept together", omit=True, known=False)
    )
    leave_out: tuple[str, ...] = attrs.field(
        converter=tuple, default=(), metadata=told("left out", omit=True, known=False)
    )
    voltage_accuracy: Quantity | None = attrs.field(
        converter=optional(volts),
        default=None,
        metadata=told("accuracy of the voltmeter", known=False),
    )
    measures: tuple[Measure, ...] = ()
    note: str = ""
    invented: bool = False
    sheet: str = attrs.field(default="", metadata=INNER)
    basis: Bases = attrs.field(converter=bases, default=ALL_CHOSEN)

    __repr__ = brief

    def __attrs_post_init__(self) -> None:
        """Refuse two modules of one name, and wishes for modules that are not there."""
        self._check_new()
        names = [module.name for module in self.modules]
        for place, name in enumerate(names):
            if name in names[:place]:
                raise DescriptionError(f"two modules are called '{name}'")
        groups = {"apart": self.apart, "together": self.together, "leave_out": (self.leave_out,)}
        for what, wishes in groups.items():
            for name in (name for group in wishes for name in group):
                if name not in names:
                    raise DescriptionError(
                        f"{what}: no module is called '{name}'{nearest(name, names)}"
                    )
        for module in self.modules:
            if module.ended_by is not None and module.ended_by > self.cells_in_series:
                raise DescriptionError(
                    f"{module.name}: ended_by {module.ended_by}, and a module has "
                    f"{self.cells_in_series} cell groups in series"
                )
            for rest in module.rests:
                if rest.cells and len(rest.cells) != self.cells_in_series:
                    raise DescriptionError(
                        f"{module.name}: {len(rest.cells)} cell voltages on {rest.date}, and a "
                        f"module has {self.cells_in_series} cell groups in series"
                    )

    def _check_new(self) -> None:
        if self.new_resistance_method not in RESISTANCE_METHODS:
            raise DescriptionError(
                f"new_resistance_method '{self.new_resistance_method}' is not known"
                f"{nearest(self.new_resistance_method, RESISTANCE_METHODS)}"
            )
        for what in ("new_capacity", "new_resistance"):
            value = getattr(self, what)
            if value is not None and value.m <= 0:
                raise DescriptionError(f"{what} must be above 0")

    def basis_of(self, field: str) -> Basis:
        """Return how a field is known."""
        return self.basis.of(field)
