"""What protects the pack besides its cell monitoring: fuses as they are sold, switches."""

from __future__ import annotations

from itertools import pairwise

import attrs
from attrs.converters import optional

from evpack.base.basis import ALL_CHOSEN, Bases, Basis, bases, basis_named
from evpack.base.brief import brief
from evpack.base.errors import DescriptionError, nearest
from evpack.base.fitted import NotFitted, or_not_fitted
from evpack.base.told import told
from evpack.base.units import (
    Quantity,
    ampere_squared_seconds,
    amps,
    celsius,
    joules,
    ohms,
    seconds,
    volts,
)
from evpack.describe.checked import above_nothing, checked, whole

KINDS = ("fuse", "breaker")
# Those of IEC 60269 by its letters; of UL 248 by what is printed.
CHARACTERISTICS = ("", "gG", "gPV", "gR", "aR", "quick", "time-delay")


@attrs.frozen(kw_only=True, field_transformer=checked)
class FuseFamily:
    """A family of fuse-links or DC breakers, or one described from its own print.

    Ratings of a family are typical ones: the print on the fuse decides.

    Parameters
    ----------
    dc_voltage, interrupting, largest : quantity
        DC voltage [V] (of a breaker: of all `poles` in series), what it interrupts at that
        voltage [A], and its largest size [A].
    kind : {"fuse", "breaker"}
    poles : int
        Poles of a breaker that are wired in series.
    polarised : bool or None
        Whether a breaker may carry current one way only; None is unknown.
    characteristic : {"", "gG", "gPV", "gR", "aR", "quick", "time-delay"}
        How it melts: ``"gG"``, ``"gPV"``, ``"gR"`` and ``"aR"`` as IEC 60269 has them (the melting
        gates of gG are held), ``"quick"`` and ``"time-delay"`` as UL 248 links are printed. Empty
        is unknown, and taken as the slowest.
    instantaneous_trip : quantity or None
        Of a breaker: the DC current from which on it trips at once, at the chosen size [A].
    melting, clearing : quantity or None
        Least I²t that melts it, and most that it lets through [A²s], at the chosen size.
    clearing_time : quantity or None
        Of a breaker: the longest that it takes at its full fault current [s], as printed.
    rating : quantity or None
        The size that is there already [A]; None: evpack chooses one.
    confirmed : frozenset of str
        Fields whose value was said to be meant, though such devices never have it.
    """

    key: str = "own"
    name: str
    standard: str = attrs.field(
        default="", metadata=told("standard", after="kind", omit=True, known=False)
    )
    dc_voltage: Quantity = attrs.field(converter=volts, metadata=told("DC voltage"))
    interrupting: Quantity = attrs.field(
        converter=amps, metadata=told("interrupts at that voltage")
    )
    largest: Quantity = attrs.field(converter=amps, metadata=told("largest size"))
    kind: str = attrs.field(default="fuse", metadata=told("kind", after="name", known=False))
    poles: int = attrs.field(validator=whole(1, 8), default=1)
    polarised: bool | None = attrs.field(
        default=None, metadata=told("breaks one way only", known=False)
    )
    characteristic: str = attrs.field(
        default="", metadata=told("characteristic", omit=True, known=False)
    )
    instantaneous_trip: Quantity | None = attrs.field(
        converter=optional(amps), default=None, metadata=told("trips at once from", omit=True)
    )
    melting: Quantity | None = attrs.field(
        converter=optional(ampere_squared_seconds),
        default=None,
        metadata=told("least I²t that melts it", omit=True),
    )
    clearing: Quantity | None = attrs.field(
        converter=optional(ampere_squared_seconds),
        default=None,
        metadata=told("most I²t that it lets through", omit=True),
    )
    clearing_time: Quantity | None = attrs.field(
        converter=optional(seconds),
        default=None,
        metadata=told("clears its full fault current within", omit=True),
    )
    rating: Quantity | None = attrs.field(
        converter=optional(amps), default=None, metadata=told("size that is there", omit=True)
    )
    note: str = ""
    basis: Basis = attrs.field(converter=basis_named, default=Basis.ASSUMED)
    confirmed: frozenset[str] = frozenset()
    source: str = attrs.field(metadata=told("source"))

    __repr__ = brief

    @source.default
    def _(self) -> str:
        return "fuse-makers-typical" if self.basis is Basis.ASSUMED else "fuse-print"

    def __attrs_post_init__(self) -> None:
        """Refuse ratings of nothing, a kind or characteristic that is none, I²t upside down."""
        above_nothing(self, "dc_voltage", "interrupting", "largest")
        above_nothing(self, "instantaneous_trip", "melting", "clearing", "clearing_time")
        for what, value, held in (
            ("kind", self.kind, KINDS),
            ("characteristic", self.characteristic, CHARACTERISTICS),
        ):
            if value not in held:
                raise DescriptionError(
                    f"{self.name}: {what} '{value}' is not known{nearest(value, held)}"
                )
        if self.kind == "breaker" and self.characteristic:
            raise DescriptionError(
                f"{self.name}: characteristic tells how a fuse melts, and this is a breaker; say "
                "instantaneous_trip instead"
            )
        if self.kind != "breaker" and self.instantaneous_trip is not None:
            raise DescriptionError(f"{self.name}: only a breaker has an instantaneous_trip")
        if self.kind != "breaker" and self.clearing_time is not None:
            raise DescriptionError(
                f"{self.name}: clearing_time is of a breaker; of a fuse say clearing, its I²t"
            )
        if (
            self.melting is not None
            and self.clearing is not None
            and self.melting.m > self.clearing.m
        ):
            raise DescriptionError(f"{self.name}: melting must not lie above clearing")
        if self.rating is not None and not 0 < self.rating.m <= self.largest.m:
            raise DescriptionError(
                f"{self.name}: rating must lie above 0 A and not above largest "
                f"({self.largest.m:g} A), got {self.rating.m:g} A"
            )
        trip = self.instantaneous_trip
        if trip is not None and self.rating is not None and trip.m < self.rating.m:
            raise DescriptionError(
                f"{self.name}: instantaneous_trip ({trip.m:g} A) must not lie below rating "
                f"({self.rating.m:g} A): it is some times as much"
            )


@attrs.frozen(kw_only=True, field_transformer=checked)
class FuseGate:
    """Between which currents and I²t every gG link of a size melts (IEC 60269-1).

    Parameters
    ----------
    rating : float
        [A].
    holds_10s, melts_5s, holds_100ms, melts_100ms : float
        What it stands for 10 s, what melts it within 5 s, the same for 0.1 s [A].
    melting, clearing : float
        Least and most pre-arcing I²t at 0.01 s [A²s].
    """

    rating: float = attrs.field(metadata=told(unit="A"))
    holds_10s: float
    melts_5s: float
    holds_100ms: float
    melts_100ms: float
    melting: float = attrs.field(metadata=told(unit="A²s"))
    clearing: float = attrs.field(metadata=told(unit="A²s"))

    __repr__ = brief


@attrs.frozen(kw_only=True, field_transformer=checked)
class FuseCatalogue:
    """The families to choose from, in the order they are tried, the standard sizes [A], gates.

    Parameters
    ----------
    gg_sizes, gpv_sizes, breaker_sizes : tuple of float
        Those of gG links, links for solar strings and breakers, where they are others [A]; empty
        where not.
    """

    families: tuple[FuseFamily, ...]
    sizes: tuple[float, ...] = attrs.field(metadata=told(unit="A"))
    sizes_source: str
    gg_sizes: tuple[float, ...] = attrs.field(default=(), metadata=told(unit="A"))
    gpv_sizes: tuple[float, ...] = attrs.field(default=(), metadata=told(unit="A"))
    breaker_sizes: tuple[float, ...] = attrs.field(default=(), metadata=told(unit="A"))
    gates: tuple[FuseGate, ...] = ()
    gates_source: str = "iec-60269"

    __repr__ = brief

    def __attrs_post_init__(self) -> None:
        """Refuse sizes out of order: the first that fits is taken as the smallest."""
        if not all(0 < low < high for low, high in pairwise((*self.sizes, float("inf")))):
            raise DescriptionError("fuse sizes must rise from one to the next, all above 0 A")

    def family(self, wanted: FuseFamily | str) -> FuseFamily | None:
        """Return the family that is wanted; None where none is, or none is held by that key."""
        if isinstance(wanted, FuseFamily):
            return wanted
        return next((family for family in self.families if family.key == wanted), None)

    def sizes_of(self, wanted: FuseFamily | str) -> tuple[float, ...]:
        """Return the sizes that are made of what is wanted [A]."""
        family = self.family(wanted)
        if family is not None and family.rating is not None:
            return (float(family.rating.m),)
        return self.made_of(family)

    def made_of(self, family: FuseFamily | None) -> tuple[float, ...]:
        """Return the sizes that are made of a family, whatever is there already [A]."""
        if family is not None and family.characteristic == "gG":
            return self.gg_sizes or self.sizes
        if family is not None and family.characteristic == "gPV":
            return self.gpv_sizes or self.sizes
        if family is not None and family.kind == "breaker":
            return self.breaker_sizes or self.sizes
        return self.sizes

    def gate(self, family: FuseFamily, size: float) -> FuseGate | None:
        """Return the gate of a size of a family; None where none is known."""
        found = self.slower_gate(family, size)
        return found if found is not None and found.rating == size else None

    def slower_gate(self, family: FuseFamily, size: float) -> FuseGate | None:
        """Return the gate of a size, or of the next larger one, which melts later."""
        if family.characteristic != "gG":
            return None
        return next((g for g in self.gates if g.rating >= size), None)


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
        converter=optional(volts), default=None, metadata=told("DC voltage")
    )
    current: Quantity | None = attrs.field(
        converter=optional(amps), default=None, metadata=told("current")
    )
    withstands: Quantity | None = attrs.field(
        converter=optional(amps),
        default=None,
        metadata=told("short-circuit current that it stands"),
    )
    behind: str = attrs.field(default="", validator=attrs.validators.in_(("", "fuses", "breakers")))
    breaks_load: bool | None = attrs.field(default=None, metadata=told("may be opened under load"))
    poles: int | None = attrs.field(
        validator=attrs.validators.optional(whole(1, 4)),
        default=None,
        metadata=told("poles that it opens"),
    )
    polarised: bool | None = attrs.field(default=None, metadata=told("breaks one way only"))
    place: str = attrs.field(default="", metadata=told("where it is"))
    basis: Bases = attrs.field(converter=bases, default=ALL_CHOSEN)

    __repr__ = brief

    def __attrs_post_init__(self) -> None:
        """Refuse a switch that is rated for nothing."""
        above_nothing(self, "dc_voltage", "current", "withstands")


@attrs.frozen(kw_only=True, field_transformer=checked)
class EmergencyOff:
    """What one hand can do when it burns: where it is reached, and what it stops; None unknown."""

    name: str = "emergency disconnect"
    place: str = attrs.field(default="", metadata=told("where it is"))
    opens_every_string: bool | None = attrs.field(default=None, metadata=told("opens every string"))
    stops_charging: bool | None = attrs.field(default=None, metadata=told("stops all charging"))
    stops_inverters: bool | None = attrs.field(default=None, metadata=told("stops the inverters"))
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
        converter=optional(ohms), default=None, metadata=told("resistor")
    )
    pulse: Quantity | None = attrs.field(
        converter=optional(joules), default=None, metadata=told("heat that it stands at once")
    )
    wait: Quantity | None = attrs.field(
        converter=optional(seconds), default=None, metadata=told("main contact waits")
    )
    time_out: Quantity | None = attrs.field(
        converter=optional(seconds), default=None, metadata=told("gives up after")
    )
    checks_voltage: bool | None = attrs.field(
        default=None, metadata=told("main contact waits for the voltage")
    )
    each_inverter: bool | None = attrs.field(default=None, metadata=told("one for each inverter"))
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

    string_fuse: FuseFamily | str = attrs.field(
        default="", metadata=told("string fuse", unsaid="the first family that fits", known=False)
    )
    main_fuse: FuseFamily | str = attrs.field(
        default="", metadata=told("main fuse", unsaid="the first family that fits", known=False)
    )
    charger_fuse: FuseFamily | str = attrs.field(
        default="", metadata=told("charger fuse", unsaid="the first family that fits", known=False)
    )
    array_fuse: FuseFamily | str = attrs.field(
        default="", metadata=told("array fuse", unsaid="the first family that fits", known=False)
    )
    both_poles: bool | None = attrs.field(default=None, metadata=told("fuses in both poles"))
    disconnect: Disconnect | NotFitted | None = attrs.field(
        converter=or_not_fitted, default=None, metadata=told("battery disconnect", known=False)
    )
    emergency_off: EmergencyOff | NotFitted | None = attrs.field(
        converter=or_not_fitted, default=None, metadata=told("emergency disconnect", known=False)
    )
    precharge: Precharge | NotFitted | None = attrs.field(
        converter=or_not_fitted, default=None, metadata=told("precharge", known=False)
    )
    surge_protection: bool | None = attrs.field(
        default=None, metadata=told("surge protective devices")
    )
    insulation_monitoring: bool | None = attrs.field(
        default=None, metadata=told("insulation monitoring")
    )
    ambient: Quantity | None = attrs.field(
        converter=optional(celsius),
        default=None,
        metadata=told("warmest air around fuses", after="both_ends", omit=True),
    )
    both_ends: bool | None = attrs.field(
        default=None, metadata=told("fuses at both ends of each string's lead", after="both_poles")
    )
    to_buy: tuple[str, ...] = attrs.field(
        converter=to_buy_list,
        default=(),
        metadata=told("still to be bought", after="ambient", known=False),
    )
    basis: Bases = attrs.field(converter=bases, default=ALL_CHOSEN)

    __repr__ = brief
