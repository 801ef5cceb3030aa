"""What protects the pack besides its cell monitoring: fuses wanted, switches, precharge."""

from __future__ import annotations

import attrs

from evpack.base.basis import ALL_CHOSEN, Bases, bases
from evpack.base.brief import brief
from evpack.base.errors import DescriptionError, nearest
from evpack.base.fitted import NotFitted, or_not_fitted
from evpack.base.units import Quantity, amps, celsius, joules, ohms, seconds, volts
from evpack.describe.checked import checked
from evpack.describe.counts import above_nothing, whole
from evpack.describe.fuses import FuseFamily


@attrs.frozen(kw_only=True, field_transformer=checked)
class Disconnect:
    """The switch that takes the pack off everything; None is unknown.

    Parameters
    ----------
    dc_voltage, current : quantity or None
        Its DC ratings [V], [A].
    withstands : quantity or None
        Short-circuit current that it stands till the fuses before it have opened: its rated
        conditional short-circuit current [A].
    behind : {"", "fuses", "breakers"}
        What stands before it by the print of `withstands`; empty counts as fuses.
    breaks_load : bool or None
        Whether it may be opened under full current.
    poles : int or None
        Conductors that it opens: 1 or 2.
    polarised : bool or None
        Whether it may carry current one way only.
    place : str
        Where it stands.
    """

    name: str = "battery disconnect"
    dc_voltage: Quantity | None = attrs.field(
        converter=attrs.converters.optional(volts), default=None
    )
    current: Quantity | None = attrs.field(converter=attrs.converters.optional(amps), default=None)
    withstands: Quantity | None = attrs.field(
        converter=attrs.converters.optional(amps), default=None
    )
    behind: str = attrs.field(default="", validator=attrs.validators.in_(("", "fuses", "breakers")))
    breaks_load: bool | None = None
    poles: int | None = attrs.field(validator=attrs.validators.optional(whole(1, 4)), default=None)
    polarised: bool | None = None
    place: str = ""
    basis: Bases = attrs.field(converter=bases, default=ALL_CHOSEN)

    __repr__ = brief

    def __attrs_post_init__(self) -> None:
        """Refuse a switch that is rated for nothing."""
        above_nothing(self, "dc_voltage", "current", "withstands")


@attrs.frozen(kw_only=True, field_transformer=checked)
class EmergencyOff:
    """What one hand can do when it burns: where it is reached, and what it stops; None unknown."""

    name: str = "emergency disconnect"
    place: str = ""
    opens_every_string: bool | None = None
    stops_charging: bool | None = None
    stops_inverters: bool | None = None
    basis: Bases = attrs.field(converter=bases, default=ALL_CHOSEN)

    __repr__ = brief


@attrs.frozen(kw_only=True, field_transformer=checked)
class Precharge:
    """The resistor that fills an inverter's input capacitors before the main contact closes.

    Parameters
    ----------
    resistance : quantity or None
        Of the resistor [Ω]; None: evpack proposes one.
    pulse : quantity or None
        Heat that it stands at once [J].
    wait : quantity or None
        Time until the main contact closes [s].
    time_out : quantity or None
        Time after which it gives up and says so [s].
    checks_voltage : bool or None
        Whether the main contact waits for the voltage to have risen.
    each_inverter : bool or None
        Whether each inverter of the sheet, its units together, has a contact and such a precharge
        of its own; False is one for all of them.
    """

    name: str = "precharge"
    resistance: Quantity | None = attrs.field(
        converter=attrs.converters.optional(ohms), default=None
    )
    pulse: Quantity | None = attrs.field(converter=attrs.converters.optional(joules), default=None)
    wait: Quantity | None = attrs.field(converter=attrs.converters.optional(seconds), default=None)
    time_out: Quantity | None = attrs.field(
        converter=attrs.converters.optional(seconds), default=None
    )
    checks_voltage: bool | None = None
    each_inverter: bool | None = None
    basis: Bases = attrs.field(converter=bases, default=ALL_CHOSEN)

    __repr__ = brief

    def __attrs_post_init__(self) -> None:
        """Refuse a resistor of nothing and a time-out before the wait is over."""
        if self.resistance is not None and self.resistance.m <= 0:
            raise DescriptionError(f"{self.name}: resistance must be above 0 Ω")
        above_nothing(self, "pulse", "time_out")
        if self.wait is not None and self.time_out is not None and self.time_out.m < self.wait.m:
            raise DescriptionError(f"{self.name}: time_out must not lie below wait")


BOUGHT = ("disconnect", "emergency_off", "precharge", "bars")


def to_buy_list(given: object) -> tuple[str, ...]:
    """Refuse what is none of the things that evpack can say how to buy."""
    if isinstance(given, str) or not isinstance(given, tuple | list):
        raise DescriptionError(f"to_buy: a list is needed, such as {list(BOUGHT[:2])}; got {given}")
    for name in given:
        if name not in BOUGHT:
            raise DescriptionError(f"to_buy: '{name}' is not known{nearest(str(name), BOUGHT)}")
    return tuple(dict.fromkeys(given))


@attrs.frozen(kw_only=True, field_transformer=checked)
class Safeguards:
    """The devices that protect; None is unknown, `NOT_FITTED` is none.

    Parameters
    ----------
    string_fuse, main_fuse, charger_fuse, array_fuse : FuseFamily or str
        The family wanted in each place, or its key in the catalogue; empty takes the first that
        fits.
    both_poles : bool or None
        Whether every circuit is fused in plus and minus; None is unknown.
    surge_protection : bool or None
        Whether long solar, AC and data lines have surge protective devices.
    insulation_monitoring : bool or None
        Whether something tells of the pack's first fault to earth.
    ambient : quantity or None
        The warmest air around fuses and breakers [°C]; None takes the policy's guard.
    to_buy : tuple of {"disconnect", "emergency_off", "precharge", "bars"}
        What is still to be bought, and will be bought as evpack says that it must be.
    both_ends : bool or None
        Whether the lead of every string has a fuse at the bus too, so that the other strings
        cannot feed a fault in it; None counts as no.
    """

    string_fuse: FuseFamily | str = ""
    main_fuse: FuseFamily | str = ""
    charger_fuse: FuseFamily | str = ""
    array_fuse: FuseFamily | str = ""
    both_poles: bool | None = None
    disconnect: Disconnect | NotFitted | None = attrs.field(converter=or_not_fitted, default=None)
    emergency_off: EmergencyOff | NotFitted | None = attrs.field(
        converter=or_not_fitted, default=None
    )
    precharge: Precharge | NotFitted | None = attrs.field(converter=or_not_fitted, default=None)
    surge_protection: bool | None = None
    insulation_monitoring: bool | None = None
    ambient: Quantity | None = attrs.field(
        converter=attrs.converters.optional(celsius), default=None
    )
    both_ends: bool | None = None
    to_buy: tuple[str, ...] = attrs.field(converter=to_buy_list, default=())
    basis: Bases = attrs.field(converter=bases, default=ALL_CHOSEN)

    __repr__ = brief
