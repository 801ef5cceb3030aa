"""Fuses and breakers as they are sold: families with their DC ratings, sizes, melting gates."""

from __future__ import annotations

from itertools import pairwise

import attrs

from evpack.base.basis import Basis, basis_named
from evpack.base.brief import brief
from evpack.base.errors import DescriptionError, nearest
from evpack.base.units import Quantity, ampere_squared_seconds, amps, seconds, volts
from evpack.describe.checked import checked
from evpack.describe.counts import above_nothing, whole

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
    standard: str = ""
    dc_voltage: Quantity = attrs.field(converter=volts)
    interrupting: Quantity = attrs.field(converter=amps)
    largest: Quantity = attrs.field(converter=amps)
    kind: str = "fuse"
    poles: int = attrs.field(validator=whole(1, 8), default=1)
    polarised: bool | None = None
    characteristic: str = ""
    instantaneous_trip: Quantity | None = attrs.field(
        converter=attrs.converters.optional(amps), default=None
    )
    melting: Quantity | None = attrs.field(
        converter=attrs.converters.optional(ampere_squared_seconds), default=None
    )
    clearing: Quantity | None = attrs.field(
        converter=attrs.converters.optional(ampere_squared_seconds), default=None
    )
    clearing_time: Quantity | None = attrs.field(
        converter=attrs.converters.optional(seconds), default=None
    )
    rating: Quantity | None = attrs.field(converter=attrs.converters.optional(amps), default=None)
    note: str = ""
    basis: Basis = attrs.field(converter=basis_named, default=Basis.ASSUMED)
    confirmed: frozenset[str] = frozenset()
    source: str = attrs.field()

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

    rating: float
    holds_10s: float
    melts_5s: float
    holds_100ms: float
    melts_100ms: float
    melting: float
    clearing: float

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
    sizes: tuple[float, ...]
    sizes_source: str
    gg_sizes: tuple[float, ...] = ()
    gpv_sizes: tuple[float, ...] = ()
    breaker_sizes: tuple[float, ...] = ()
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
