"""A solar array: panels in series and in parallel on one charger."""

from __future__ import annotations

import attrs
from attrs.converters import optional

from evpack.base.basis import ALL_ASSUMED, Bases, bases
from evpack.base.brief import brief
from evpack.base.errors import DescriptionError
from evpack.base.told import told
from evpack.base.units import COMPENSATION, Quantity, amps, kind_of, per_kelvin, volts, watts
from evpack.describe.checked import above_nothing, checked, whole


@attrs.frozen(kw_only=True, field_transformer=checked)
class Array:
    """Like panels, in series to strings and those in parallel, on one charger.

    All values are of one panel under standard test conditions (1000 W/m², cells at 25 °C).

    Parameters
    ----------
    feeds : str
        The name of its charger.
    on_input : str
        Which of the charger's solar inputs it is on, where there are several; arrays of one input
        are joined there.
    in_series, in_parallel : int
        Panels in a string, strings in parallel.
    open_circuit, maximum_power_voltage : quantity or None
        Voltages of a panel [V]; None is unknown.
    short_circuit, maximum_power_current : quantity or None
        Currents of a panel [A].
    power : quantity or None
        Rated power of a panel [W].
    coefficient : quantity or None
        Of the open-circuit voltage, of one per kelvin or in volts per kelvin (below 0); None
        takes the table for crystalline silicon.
    power_coefficient : quantity or None
        Of the voltage at maximum power; None takes an assumed one.
    crystalline : bool or None
        Whether the cells are crystalline silicon, for which alone the table holds.
    largest_fuse : quantity or None
        The largest fuse that the panel allows in its string [A].
    """

    name: str = "solar array"
    feeds: str = attrs.field(default="", metadata=told("feeds", known=False))
    on_input: str = attrs.field(default="", metadata=told("on input", omit=True, known=False))
    in_series: int = attrs.field(validator=whole(1, 100), metadata=told("panels"))
    in_parallel: int = attrs.field(validator=whole(1, 100), default=1)
    open_circuit: Quantity | None = attrs.field(
        converter=optional(volts), default=None, metadata=told("open-circuit voltage of a panel")
    )
    maximum_power_voltage: Quantity | None = attrs.field(
        converter=optional(volts), default=None, metadata=told("its voltage at most power")
    )
    short_circuit: Quantity | None = attrs.field(
        converter=optional(amps), default=None, metadata=told("short-circuit current of a panel")
    )
    maximum_power_current: Quantity | None = attrs.field(
        converter=optional(amps), default=None, metadata=told("its current at most power")
    )
    power: Quantity | None = attrs.field(
        converter=optional(watts), default=None, metadata=told("rated power of a panel")
    )
    coefficient: Quantity | None = attrs.field(
        converter=optional(per_kelvin),
        default=None,
        metadata=told("change of its open-circuit voltage"),
    )
    power_coefficient: Quantity | None = attrs.field(
        converter=optional(per_kelvin),
        default=None,
        metadata=told("change of its voltage at most power", omit=True),
    )
    crystalline: bool | None = attrs.field(
        default=None, metadata=told("cells of crystalline silicon")
    )
    largest_fuse: Quantity | None = attrs.field(
        converter=optional(amps), default=None, metadata=told("largest fuse that a panel allows")
    )
    basis: Bases = attrs.field(converter=bases, default=ALL_ASSUMED)

    __repr__ = brief

    def __attrs_post_init__(self) -> None:
        """Refuse a panel of nothing, and one that gives more at its power point than open."""
        above_nothing(self, "short_circuit", "maximum_power_current", "power", "largest_fuse")
        for working, most in (
            ("maximum_power_voltage", "open_circuit"),
            ("maximum_power_current", "short_circuit"),
        ):
            got, bound = getattr(self, working), getattr(self, most)
            if got is not None and bound is not None and got.m > bound.m:
                raise DescriptionError(
                    f"{self.name}: {working} ({got.m:g}) must not lie above {most} ({bound.m:g})"
                )
        for what in ("coefficient", "power_coefficient"):
            value = getattr(self, what)
            if value is not None and value.m > 0:
                raise DescriptionError(
                    f"{self.name}: {what} must not lie above 0: panels lose voltage when warm"
                )

    @property
    def socket(self) -> str:
        """Return its input without the differences that nobody means: case and spaces."""
        return " ".join(self.on_input.split()).casefold()

    def relative(self, coefficient: Quantity | None, of: Quantity | None) -> float | None:
        """Return a coefficient as a share per kelvin [1/K]; one in V/K is divided by a voltage."""
        if coefficient is None:
            return None
        if kind_of(coefficient) is not COMPENSATION:
            return float(coefficient.m)
        return None if of is None or of.m <= 0 else float(coefficient.m / of.m)
