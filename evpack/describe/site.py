"""Where the pack stands, what it must carry, and under whose rules."""

from __future__ import annotations

import attrs

from evpack.base.basis import ALL_CHOSEN, Bases, bases
from evpack.base.brief import brief
from evpack.base.errors import DescriptionError, nearest
from evpack.base.units import Quantity, celsius, watts
from evpack.base.wording import say
from evpack.describe.checked import checked

RULE_SETS = ("nec", "iec")


@attrs.frozen(kw_only=True, field_transformer=checked)
class Site:
    """The place: the coldest and the warmest the cells get, and the rule set for fuse sizes."""

    place: str = ""
    coldest: Quantity | None = attrs.field(
        converter=attrs.converters.optional(celsius), default=None
    )
    warmest: Quantity | None = attrs.field(
        converter=attrs.converters.optional(celsius), default=None
    )
    rules: str = "nec"
    basis: Bases = attrs.field(converter=bases, default=ALL_CHOSEN)

    __repr__ = brief

    def __attrs_post_init__(self) -> None:
        """Refuse a year upside down and a rule set that evpack does not hold."""
        if (
            self.coldest is not None
            and self.warmest is not None
            and self.coldest.m > self.warmest.m
        ):
            raise DescriptionError(
                f"site: coldest ({say(self.coldest.m, '°C')}) must not lie above warmest "
                f"({say(self.warmest.m, '°C')})"
            )
        if self.rules not in RULE_SETS:
            raise DescriptionError(
                f"site: rules '{self.rules}' are not held{nearest(self.rules, RULE_SETS)}"
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
    """

    continuous: Quantity = attrs.field(converter=watts)
    typical: Quantity | None = attrs.field(converter=attrs.converters.optional(watts), default=None)
    peak: Quantity | None = attrs.field(converter=attrs.converters.optional(watts), default=None)
    basis: Bases = attrs.field(converter=bases, default=ALL_CHOSEN)

    __repr__ = brief

    def __attrs_post_init__(self) -> None:
        """Refuse a load of nothing and loads out of order."""
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
