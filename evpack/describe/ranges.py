"""What a device lets a person enter: from, to, and in which steps."""

from __future__ import annotations

import attrs

from evpack.base.brief import brief
from evpack.base.errors import DescriptionError
from evpack.base.fitted import NOT_FITTED, NotFitted, is_not_fitted
from evpack.base.units import Quantity, amps, volts

_NOISE = 1e-6  # of a step: 0.1 is not stored exactly


@attrs.frozen
class VoltageRange:
    """A voltage that can be set between two ends in steps counted from the lower one."""

    low: Quantity = attrs.field(converter=volts)
    high: Quantity = attrs.field(converter=volts)
    step: Quantity = attrs.field(converter=volts)

    __repr__ = brief

    def __attrs_post_init__(self) -> None:
        """Refuse an empty range and a step of nothing."""
        _check(self.low, self.high, self.step)


@attrs.frozen
class CurrentRange:
    """A current that can be set between two ends in steps counted from the lower one."""

    low: Quantity = attrs.field(converter=amps)
    high: Quantity = attrs.field(converter=amps)
    step: Quantity = attrs.field(converter=amps)

    __repr__ = brief

    def __attrs_post_init__(self) -> None:
        """Refuse an empty range and a step of nothing."""
        _check(self.low, self.high, self.step)
        if self.high.m <= 0:
            raise DescriptionError("a current range must reach above 0 A")


def _check(low: Quantity, high: Quantity, step: Quantity) -> None:
    if low.m > high.m:
        raise DescriptionError(f"a range runs from low to high, got {low.m:g} to {high.m:g}")
    if step.m <= 0:
        raise DescriptionError("the step of a range must be above 0")
    steps = (high.m - low.m) / step.m
    if abs(steps - round(steps)) > _NOISE * max(1.0, steps):
        last = low.m + int(steps) * step.m
        raise DescriptionError(
            f"from {low.m:g} in steps of {step.m:g} a range does not land on {high.m:g}; its last "
            f"entry would be {last:g}"
        )


def voltage_range(given: object) -> VoltageRange | NotFitted | None:
    """Convert a range, its three values, the one it stands at, ``"none"`` or None (unknown)."""
    if given is None or isinstance(given, VoltageRange):
        return given
    if is_not_fitted(given):
        return NOT_FITTED
    if isinstance(given, str):
        return VoltageRange(given, given, "0.1 V")
    if isinstance(given, tuple | list) and len(given) == 3:  # noqa: PLR2004
        return VoltageRange(*given)
    raise DescriptionError(
        f"a range is three voltages, from, to and step: ('40 V', '48 V', '0.1 V'); got {given!r}"
    )


def current_range(given: object) -> CurrentRange | NotFitted | None:
    """Convert a range, its three values, the one it stands at, ``"none"`` or None (unknown)."""
    if given is None or isinstance(given, CurrentRange):
        return given
    if is_not_fitted(given):
        return NOT_FITTED
    if isinstance(given, str):
        return CurrentRange(given, given, "0.1 A")
    if isinstance(given, tuple | list) and len(given) == 3:  # noqa: PLR2004
        return CurrentRange(*given)
    raise DescriptionError(
        f"a range is three currents, from, to and step: ('5 A', '60 A', '1 A'); got {given!r}"
    )


def volts_if_fitted(given: object) -> Quantity | NotFitted | None:
    """Convert a voltage, ``"none"`` (the device has none) or None (unknown)."""
    if given is None:
        return None
    return NOT_FITTED if is_not_fitted(given) else volts(given)
