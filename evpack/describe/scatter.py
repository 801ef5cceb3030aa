"""How far what was measured may lie from what it is: the scatter that draws are made from."""

from __future__ import annotations

import attrs
from attrs.converters import optional

from evpack.base.basis import ALL_CHOSEN, Bases, bases
from evpack.base.brief import brief
from evpack.base.errors import DescriptionError
from evpack.base.told import told
from evpack.base.units import Quantity, kelvins, share
from evpack.base.wording import say
from evpack.describe.checked import checked

_MOST = 0.5  # a scatter of more than half is no scatter [1]


@attrs.frozen(kw_only=True, field_transformer=checked)
class Scatter:
    """Standard deviations, each against the value that the build states; None is not drawn.

    Parameters
    ----------
    capacity, resistance : quantity or None
        From one module to the next [1].
    accuracy : quantity or None
        Of what devices promise: of the accuracies of chargers and meters [1].
    temperature : quantity or None
        Of the coldest and of the warmest that the cells get [K].

    Raises
    ------
    DescriptionError
        Nothing to draw, a scatter below nought or above one half.
    """

    capacity: Quantity | None = attrs.field(
        converter=optional(share), default=None, metadata=told("capacity, module to module")
    )
    resistance: Quantity | None = attrs.field(
        converter=optional(share), default=None, metadata=told("resistance, module to module")
    )
    accuracy: Quantity | None = attrs.field(
        converter=optional(share), default=None, metadata=told("accuracy of chargers and meters")
    )
    temperature: Quantity | None = attrs.field(
        converter=optional(kelvins), default=None, metadata=told("coldest and warmest of the cells")
    )
    basis: Bases = attrs.field(converter=bases, default=ALL_CHOSEN)

    __repr__ = brief

    def __attrs_post_init__(self) -> None:
        """Refuse a scatter of nothing, and one that is none."""
        if not self.drawn:
            raise DescriptionError(
                "scatter: say at least one of capacity, resistance, accuracy, temperature"
            )
        for what in ("capacity", "resistance", "accuracy"):
            value = getattr(self, what)
            if value is not None and not 0 <= value.m <= _MOST:
                raise DescriptionError(
                    f"scatter: {what} must lie between 0 and {say(_MOST, '')}, "
                    f"got {say(value.m, '')}"
                )
        if self.temperature is not None and self.temperature.m < 0:
            raise DescriptionError("scatter: temperature must not lie below 0 K")

    @property
    def drawn(self) -> tuple[str, ...]:
        """Return the names of what is drawn."""
        names = ("capacity", "resistance", "accuracy", "temperature")
        return tuple(name for name in names if getattr(self, name) is not None)
