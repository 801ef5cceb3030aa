"""The cell chemistry: what a cell stands, and where a stationary pack should keep it."""

from __future__ import annotations

from itertools import pairwise

import attrs

from evpack.base.basis import ALL_ASSUMED, Bases, bases
from evpack.base.brief import brief
from evpack.base.errors import DescriptionError
from evpack.base.told import INNER, told
from evpack.base.units import Quantity, celsius, seconds, volts
from evpack.describe.checked import checked
from evpack.describe.ocv import OcvCurve


@attrs.frozen(kw_only=True, field_transformer=checked)
class CellLimits:
    """What one cell stands. A maker's data sheet overrides, and only ever tighter."""

    highest: Quantity = attrs.field(converter=volts, metadata=told("highest voltage of a cell"))
    nominal: Quantity = attrs.field(converter=volts, metadata=told("nominal voltage"))
    least: Quantity = attrs.field(converter=volts, metadata=told("least voltage"))
    reject_below: Quantity = attrs.field(
        converter=volts, metadata=told("never recharge if ever below")
    )
    charge_coldest: Quantity = attrs.field(converter=celsius, metadata=told("charge from"))
    charge_hottest: Quantity = attrs.field(converter=celsius, metadata=told("charge up to"))
    discharge_coldest: Quantity = attrs.field(converter=celsius, metadata=told("discharge from"))
    discharge_hottest: Quantity = attrs.field(converter=celsius, metadata=told("discharge up to"))

    __repr__ = brief

    def __attrs_post_init__(self) -> None:
        """Refuse limits out of order."""
        _rising(
            "cell limits",
            ("reject_below", self.reject_below),
            ("least", self.least),
            ("nominal", self.nominal),
            ("highest", self.highest),
        )
        for what, coldest, hottest in (
            ("charge", self.charge_coldest, self.charge_hottest),
            ("discharge", self.discharge_coldest, self.discharge_hottest),
        ):
            if coldest.m > hottest.m:
                raise DescriptionError(
                    f"cell limits: {what}_coldest ({coldest.m:g} °C) must not lie above "
                    f"{what}_hottest ({hottest.m:g} °C)"
                )


@attrs.frozen(kw_only=True, field_transformer=checked)
class CellTargets:
    """Where a stationary pack keeps its cells, and where the cell monitoring steps in.

    `float_most` is the highest float that does little harm if a device insists on a value; the
    right float is none. `top_guard` is the least spread assumed between the highest cell and the
    mean near full; `ladder_gap` the least step between two thresholds; `rest` how long a cell
    must rest before its voltage tells its state of charge.
    """

    charge: Quantity = attrs.field(converter=volts, metadata=told("charge target, highest cell"))
    low_at_rest: Quantity = attrs.field(converter=volts, metadata=told("kept above, at rest"))
    changeover_loaded: Quantity = attrs.field(
        converter=volts, metadata=told("changeover, under load")
    )
    warn_high: Quantity = attrs.field(converter=volts, metadata=told("monitoring warns high"))
    cut_high: Quantity = attrs.field(converter=volts, metadata=told("monitoring stops charging"))
    warn_low: Quantity = attrs.field(converter=volts, metadata=told("monitoring warns low"))
    cut_low: Quantity = attrs.field(converter=volts, metadata=told("monitoring stops discharging"))
    float_most: Quantity = attrs.field(
        converter=volts, metadata=told("float at most, if one must be entered")
    )
    top_guard: Quantity = attrs.field(
        converter=volts, metadata=told("highest cell above the mean, at least")
    )
    ladder_gap: Quantity = attrs.field(
        converter=volts, metadata=told("least step between two thresholds")
    )
    rest: Quantity = attrs.field(
        converter=seconds, metadata=told("rest before voltage tells charge")
    )

    __repr__ = brief

    def __attrs_post_init__(self) -> None:
        """Refuse thresholds out of order."""
        _rising(
            "cell targets",
            ("cut_low", self.cut_low),
            ("warn_low", self.warn_low),
            ("low_at_rest", self.low_at_rest),
            ("charge", self.charge),
            ("warn_high", self.warn_high),
            ("cut_high", self.cut_high),
        )


@attrs.frozen(kw_only=True, eq=False, field_transformer=checked)
class Chemistry:
    """A cell chemistry.

    `targets` is missing where a constant-voltage charge is no way to end a charge; `why_refused`
    then says why, and no design is made. `flat` says that voltage tells next to nothing of the
    state of charge between about 15 and 95 %. `kindred` are other curves that cells of this name
    may have as well: the name does not fix the curve.
    """

    key: str
    name: str
    limits: CellLimits
    targets: CellTargets | None
    ocv: OcvCurve | None = attrs.field(metadata=told("voltage at rest against charge"))
    kindred: tuple[OcvCurve, ...] = attrs.field(default=(), metadata=INNER)
    confidence: str
    source: str = attrs.field(metadata=told("source"))
    flat: bool = attrs.field(
        default=False, metadata=told("voltage tells state of charge", after="targets")
    )
    why_refused: str = ""
    basis: Bases = attrs.field(
        converter=bases, default=ALL_ASSUMED, metadata={"parts": (CellLimits, CellTargets)}
    )

    __repr__ = brief

    def __attrs_post_init__(self) -> None:
        """Refuse a chemistry that is neither usable nor explained as refused."""
        if (self.targets is None) != bool(self.why_refused):
            raise DescriptionError(
                f"{self.key}: give either targets, or why_refused where the chemistry must not "
                "be charged to a set voltage"
            )
        if self.targets is not None and self.ocv is None:
            raise DescriptionError(f"{self.key}: needs an open-circuit voltage curve")
        if self.targets is not None and self.targets.cut_high.m > self.limits.highest.m:
            raise DescriptionError(f"{self.key}: cut_high lies above the cell's highest voltage")
        if self.targets is not None and self.targets.cut_low.m < self.limits.least.m:
            raise DescriptionError(f"{self.key}: cut_low lies below the cell's least voltage")


def _rising(what: str, *named: tuple[str, Quantity]) -> None:
    for (low_name, low), (high_name, high) in pairwise(named):
        if low.m > high.m:
            raise DescriptionError(
                f"{what}: {low_name} ({low.m:g} V) must not lie above {high_name} ({high.m:g} V)"
            )
