"""Where the pack stands, what it must carry, and under whose rules and limits."""

from __future__ import annotations

import attrs
from attrs.converters import optional

from evpack.base.basis import ALL_CHOSEN, Bases, bases
from evpack.base.brief import brief
from evpack.base.errors import DescriptionError, nearest
from evpack.base.fitted import NotFitted, or_not_fitted
from evpack.base.told import told
from evpack.base.units import Quantity, celsius, share, watts
from evpack.base.wording import say
from evpack.describe.checked import checked

VOLTAGE_OPEN, VOLTAGE_COVERED = "voltage", "voltage covered"
ENERGY_THERE, ENERGY_OF_A_UNIT = "energy", "energy of a unit"
LISTING, SCOPE = "listing", "scope"
JUDGES = (VOLTAGE_OPEN, VOLTAGE_COVERED, ENERGY_THERE, ENERGY_OF_A_UNIT, LISTING, SCOPE)

RULE_SETS = ("nec", "iec")
# Kind of place, and how a sentence says that the pack stands there.
PLACES = {
    "living space": "in a living space",  # a room that people live or sleep in
    "dwelling": "in a dwelling",  # elsewhere in a home: utility room, cellar, closet
    "attached garage": "in an attached garage",
    "outbuilding": "in an outbuilding",  # barn, shed, workshop, garage apart from the home
    "outdoors": "outdoors at a home",  # on an outer wall, or on the ground beside it
    "field": "away from any building",
    "commercial": "in a commercial building",
    "vehicle": "in a vehicle",
    "boat": "on a boat",
}
HOMES = ("living space", "dwelling", "attached garage", "outdoors")
# Where nobody can tell by the kind of place whether the pack belongs to a home.
MAYBE_HOMES = ("outbuilding",)
# Words that say neither who accepted a pack nor that nobody did.
_NOBODY = {"", "?", "no", "yes", "true", "false", "nobody", "not yet", "pending", "refused"}


@attrs.frozen(kw_only=True)
class SiteLimit:
    """One rule on one kind of place.

    Parameters
    ----------
    rules, kind : str
        The rule set of the site, and the kind of place, for which it holds.
    judges : str
        What of the pack it judges, one of `JUDGES`: "voltage covered" is the voltage where no live
        part can be reached; "scope" says what the rule set is not made for.
    limit : quantity or None
        The most [V] or [Wh]; None where it gives no number.
    bound : bool
        Whether it is a clause of that rule set which surely reaches this kind of place.
    clause, edition, source, says : str
        Where it stands, in which edition, its key of the sources, and it in a sentence.
    """

    rules: str
    kind: str
    judges: str
    limit: Quantity | None
    bound: bool
    clause: str
    edition: str
    source: str
    says: str

    __repr__ = brief


@attrs.frozen(kw_only=True, field_transformer=checked)
class Site:
    """The place, and the rule set for fuse and cable sizes.

    Parameters
    ----------
    kind : str or None
        The kind of place that the pack stands in, a key of `PLACES`; None is unknown.
    coldest, warmest : quantity or None
        The coldest and the warmest that the cells get [°C].
    coldest_outside, warmest_outside : quantity or None
        The coldest and the warmest air that solar panels see [°C].
    rules : {"nec", "iec"}
    serves_home : bool or None
        Whether the pack belongs to a home of one or two families, wherever it stands; asked of an
        outbuilding only, since other kinds of place let one suppose it. None is unknown.
    live_parts_guarded : bool or None
        Whether no live part can be reached, not even during routine maintenance; None is unknown.
    approval : str, NOT_FITTED or None
        Who accepted the pack as it is built, and when; `NOT_FITTED`: nobody has; None is unknown.
    """

    place: str = attrs.field(default="", metadata=told("place", known=False))
    kind: str | None = attrs.field(default=None, metadata=told("kind of place"))
    coldest: Quantity | None = attrs.field(
        converter=optional(celsius), default=None, metadata=told("coldest the cells get")
    )
    warmest: Quantity | None = attrs.field(
        converter=optional(celsius), default=None, metadata=told("warmest the cells get")
    )
    coldest_outside: Quantity | None = attrs.field(
        converter=optional(celsius), default=None, metadata=told("coldest air outside")
    )
    warmest_outside: Quantity | None = attrs.field(
        converter=optional(celsius), default=None, metadata=told("warmest air outside")
    )
    rules: str = attrs.field(
        default="nec", metadata=told("rules for fuse and cable sizes", known=False)
    )
    serves_home: bool | None = attrs.field(default=None, metadata=told("belongs to a home"))
    live_parts_guarded: bool | None = attrs.field(
        default=None, metadata=told("live parts out of reach")
    )
    approval: str | NotFitted | None = attrs.field(
        converter=or_not_fitted,
        default=None,
        metadata=told("accepted by", unfitted="nobody", known=False),
    )
    basis: Bases = attrs.field(converter=bases, default=ALL_CHOSEN)

    __repr__ = brief

    @property
    def at_home(self) -> bool | None:
        """Return whether the pack belongs to a home; None where nobody can tell.

        What was said goes before what the kind of place lets one suppose.
        """
        if self.serves_home is not None:
            return self.serves_home
        if self.kind in HOMES:
            return True
        return None if self.kind is None or self.kind in MAYBE_HOMES else False

    def __attrs_post_init__(self) -> None:
        """Refuse a year upside down, and words that say nothing evpack could judge by."""
        for low, high in (("coldest", "warmest"), ("coldest_outside", "warmest_outside")):
            cold, warm = getattr(self, low), getattr(self, high)
            if cold is not None and warm is not None and cold.m > warm.m:
                raise DescriptionError(
                    f"site: {low} ({say(cold.m, '°C')}) must not lie above {high} "
                    f"({say(warm.m, '°C')})"
                )
        if self.rules not in RULE_SETS:
            raise DescriptionError(
                f"site: rules '{self.rules}' are not held{nearest(self.rules, RULE_SETS)}"
            )
        if self.kind is not None and self.kind not in PLACES:
            raise DescriptionError(
                f"site: kind '{self.kind}' is no kind of place held{nearest(self.kind, PLACES)}"
            )
        if isinstance(self.approval, str) and self.approval.strip(" .").lower() in _NOBODY:
            raise DescriptionError(
                f"site: approval '{self.approval}' does not say who accepted it: write who and "
                'when, "none" if nobody has, or leave it out'
            )


@attrs.frozen(kw_only=True, field_transformer=checked)
class Load:
    """What the AC side asks of all inverters together.

    Parameters
    ----------
    continuous : quantity
        The most that runs for long [W].
    typical : quantity or None
        What runs most of the time [W]; None takes the continuous load.
    peak : quantity or None
        The most for seconds, motors starting [W]; None takes the inverters' full surge.
    larger_leg : quantity or None
        Of a split-phase supply: the part of the continuous load on the larger leg.
    """

    continuous: Quantity = attrs.field(converter=watts, metadata=told("runs for long, at most"))
    typical: Quantity | None = attrs.field(
        converter=optional(watts), default=None, metadata=told("runs most of the time")
    )
    peak: Quantity | None = attrs.field(
        converter=optional(watts), default=None, metadata=told("peak, for seconds")
    )
    larger_leg: Quantity | None = attrs.field(
        converter=optional(share), default=None, metadata=told("on the larger leg", omit=True)
    )
    basis: Bases = attrs.field(converter=bases, default=ALL_CHOSEN)

    __repr__ = brief

    def __attrs_post_init__(self) -> None:
        """Refuse a load of nothing, loads out of order, and a larger leg that is the smaller."""
        if self.larger_leg is not None and not 0.5 <= self.larger_leg.m <= 1:  # noqa: PLR2004
            raise DescriptionError(
                "load: larger_leg must lie between 50 % and 100 %, got "
                f"{say(self.larger_leg.m, '')}"
            )
        if self.continuous.m <= 0:
            raise DescriptionError("load: continuous must be above 0 W, got 0 W")
        most = say(self.continuous.m, "W")
        if self.typical is not None and not 0 < self.typical.m <= self.continuous.m:
            raise DescriptionError(
                f"load: typical must lie above 0 W and not above continuous ({most}), "
                f"got {say(self.typical.m, 'W')}"
            )
        if self.peak is not None and self.peak.m < self.continuous.m:
            raise DescriptionError(
                f"load: peak ({say(self.peak.m, 'W')}) must not lie below continuous ({most})"
            )
