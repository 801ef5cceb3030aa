"""The inverter: the DC window it works in, what can be set on it, what it draws."""

from __future__ import annotations

import attrs
from attrs.converters import optional

from evpack.base.basis import ALL_ASSUMED, Bases, bases
from evpack.base.brief import brief
from evpack.base.errors import DescriptionError, nearest
from evpack.base.fitted import NotFitted, or_not_fitted
from evpack.base.told import told
from evpack.base.units import Quantity, farads, seconds, share, volts, watts
from evpack.base.wording import say
from evpack.describe.charger import NOT_WIRED, Charger
from evpack.describe.checked import above_nothing, checked, exact, whole
from evpack.describe.ranges import VoltageRange, voltage_range, volts_if_fitted

LEGS = ("", "1", "2", "both")


@attrs.frozen(kw_only=True, field_transformer=checked)
class Inverter:
    """An inverter, or several alike in parallel.

    Parameters
    ----------
    count : int
        Units in parallel; every power is of one unit.
    continuous, surge : quantity
        AC output it keeps up, and for `surge_time` [W]; None is unknown.
    efficiency : quantity or None
        At full output, as a share.
    idle : quantity or None
        What it draws from the battery with no load [W].
    window_low, window_high : quantity or None
        The DC voltages it works between [V].
    survives : quantity or None
        The highest DC voltage it stands without damage [V]; None takes `window_high`.
    restart : quantity, NOT_FITTED or None
        The battery voltage at which it starts again after a low-voltage stop [V].
    cut_off, changeover, return_to_battery : VoltageRange, NOT_FITTED or None
        What can be entered for the low-voltage cut-off, the changeover to the utility and the
        return to battery; None is unknown.
    meter_accuracy : quantity or None
        Of its own battery voltage reading, as a share; None takes the policy's assumed one.
    input_capacitance : quantity or None
        Of its DC input [F]; None is unknown.
    leg : {"", "1", "2", "both"}
        Of a split-phase supply: the leg that its units feed; empty where there are no legs.
    parallel_operation : bool or None
        Whether its manual lets its output be joined with that of others, in parallel or on the
        two legs of a split-phase supply; None is unknown.
    own_circuits : bool or None
        Whether its output feeds circuits of its own, joined to those of no other inverter; unsaid,
        it is taken as joined. What it draws counts with the others all the same.
    charger : Charger, NOT_FITTED or None
        Its built-in charger; NOT_FITTED where it has none; None is unknown, since a built-in
        charger that nobody thought of charges with whatever it came with.
    """

    name: str
    count: int = attrs.field(
        validator=whole(1, 1000), default=1, metadata=told("units in parallel", known=False)
    )
    continuous: Quantity | None = attrs.field(
        converter=optional(watts), default=None, metadata=told("output, for good, each")
    )
    surge: Quantity | None = attrs.field(
        converter=optional(watts), default=None, metadata=told("surge, each")
    )
    surge_time: Quantity | None = attrs.field(
        converter=optional(seconds), default=None, metadata=told("surge lasts")
    )
    efficiency: Quantity | None = attrs.field(
        converter=optional(share), default=None, metadata=told("efficiency at full output")
    )
    idle: Quantity | None = attrs.field(
        converter=optional(watts), default=None, metadata=told("idle draw, each")
    )
    window_low: Quantity | None = attrs.field(
        converter=optional(volts), default=None, metadata=told("works from")
    )
    window_high: Quantity | None = attrs.field(
        converter=optional(volts), default=None, metadata=told("works up to")
    )
    survives: Quantity | None = attrs.field(
        converter=optional(volts), default=None, metadata=told("stands without damage")
    )
    restart: Quantity | NotFitted | None = attrs.field(
        converter=volts_if_fitted, default=None, metadata=told("starts again at")
    )
    cut_off: VoltageRange | NotFitted | None = attrs.field(
        converter=voltage_range,
        default=None,
        metadata=told("low-voltage cut-off can be set", unfitted="no"),
    )
    changeover: VoltageRange | NotFitted | None = attrs.field(
        converter=voltage_range,
        default=None,
        metadata=told("changeover to utility can be set", unfitted="no"),
    )
    return_to_battery: VoltageRange | NotFitted | None = attrs.field(
        converter=voltage_range,
        default=None,
        metadata=told("return to battery can be set", unfitted="no"),
    )
    meter_accuracy: Quantity | None = attrs.field(
        converter=optional(share), default=None, metadata=told("error of its voltmeter")
    )
    input_capacitance: Quantity | None = attrs.field(
        converter=optional(farads), default=None, metadata=told("input capacitance, each")
    )
    leg: str = attrs.field(
        default="", metadata=told("feeds leg", after="count", omit=True, known=False)
    )
    parallel_operation: bool | None = attrs.field(
        default=None, metadata=told("may be joined with others", omit=True)
    )
    own_circuits: bool | None = attrs.field(
        default=None, metadata=told("feeds circuits of its own", omit=True)
    )
    charger: Charger | NotFitted | None = attrs.field(
        converter=or_not_fitted, default=None, metadata=told("built-in charger", known=False)
    )
    where: str = attrs.field(
        default="", metadata=told("where its settings are", omit=True, known=False)
    )
    basis: Bases = attrs.field(converter=bases, default=ALL_ASSUMED)

    __repr__ = brief

    @property
    def charger_in_use(self) -> Charger | None:
        """Return its built-in charger, where it has one that charges."""
        found = self.charger
        return found if isinstance(found, Charger) and not found.kept_off else None

    @property
    def may_charge(self) -> bool:
        """Return whether it could charge: what is only turned off could be turned on again."""
        if isinstance(self.charger, Charger):
            return self.charger.kept_off != NOT_WIRED
        return self.charger is None

    def __attrs_post_init__(self) -> None:
        """Refuse a window upside down and an efficiency that makes energy."""
        if self.leg not in LEGS:
            raise DescriptionError(
                f"{self.name}: leg '{self.leg}' is not known{nearest(self.leg, LEGS[1:])}"
            )
        above_nothing(self, "continuous", "surge", "surge_time")
        low, high = self.window_low, self.window_high
        if low is not None and high is not None and low.m >= high.m:
            raise DescriptionError(
                f"{self.name}: window_low ({low.m:g} V) must lie below window_high ({high.m:g} V)"
            )
        if self.survives is not None and high is not None and self.survives.m < high.m:
            raise DescriptionError(
                f"{self.name}: survives ({self.survives.m:g} V) must not lie below window_high "
                f"({high.m:g} V)"
            )
        if self.efficiency is not None and not 0 < self.efficiency.m <= 1:
            raise DescriptionError(
                f"{self.name}: efficiency must lie above 0 and up to 100 %, got "
                f"{say(self.efficiency.m, '')}"
            )
        if self.meter_accuracy is not None and not 0 < self.meter_accuracy.m < 0.2:  # noqa: PLR2004
            raise DescriptionError(
                f"{self.name}: meter_accuracy must lie between 0 and 20 %, got "
                f"{say(self.meter_accuracy.m, '')}{exact(self.meter_accuracy)}"
            )
        if (
            self.surge is not None
            and self.continuous is not None
            and self.surge.m < self.continuous.m
        ):
            raise DescriptionError(
                f"{self.name}: surge ({say(self.surge.m, 'W')}) must not lie below continuous "
                f"({say(self.continuous.m, 'W')})"
            )
