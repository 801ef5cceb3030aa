"""Conductors and the runs laid with them, from a module to the bar and from the bar onwards."""

from __future__ import annotations

import math

import attrs

from evpack.base.basis import ALL_CHOSEN, Bases, bases
from evpack.base.brief import brief
from evpack.base.errors import DescriptionError
from evpack.base.units import CURRENT, RESISTANCE, Quantity, metres
from evpack.describe.checked import checked
from evpack.describe.counts import whole


@attrs.frozen(kw_only=True, field_transformer=checked)
class Conductor:
    """A copper conductor of a named size, with the table values that belong to it.

    Parameters
    ----------
    size : str
        As it is sold: ``"2/0 AWG"`` or ``"70 mm2"``.
    area : float
        Cross-section [mm²].
    ohm_per_metre : float
        DC resistance when warm from load (75 °C) [Ω/m].
    ampacity : float
        What it may carry for good, at the column and ambient the run was looked up for [A].
    resistance_source, ampacity_source : str
        Keys of ``data/sources.toml``.
    conditions : str
        Column and ambient in words.
    """

    size: str
    area: float
    ohm_per_metre: float
    ampacity: float
    resistance_source: str
    ampacity_source: str
    conditions: str

    __repr__ = brief

    def __attrs_post_init__(self) -> None:
        """Refuse a conductor of no size, no resistance or no ampacity."""
        for what, unit in (("area", "mm²"), ("ohm_per_metre", "Ω/m"), ("ampacity", "A")):
            value = getattr(self, what)
            if not (math.isfinite(value) and value > 0):
                raise DescriptionError(f"{self.size}: {what} must be above 0 {unit}, got {value}")


@attrs.frozen(kw_only=True, field_transformer=checked)
class Run:
    """A two-wire run: its length is one way, and its resistance is of both ways."""

    name: str
    conductor: Conductor
    length: Quantity = attrs.field(converter=metres)
    parallel: int = attrs.field(validator=whole(1, 20), default=1)
    basis: Bases = attrs.field(converter=bases, default=ALL_CHOSEN)

    __repr__ = brief

    def __attrs_post_init__(self) -> None:
        """Refuse a run of no length."""
        if self.length.m <= 0:
            raise DescriptionError(f"{self.name}: length must be above 0 m")

    @property
    def resistance(self) -> Quantity:
        """Return the resistance there and back, warm [Ω]."""
        one_way = self.length.m * self.conductor.ohm_per_metre / self.parallel
        return RESISTANCE.of(2 * one_way)

    @property
    def ampacity(self) -> Quantity:
        """Return what its conductors carry together [A]."""
        return CURRENT.of(self.conductor.ampacity * self.parallel)


@attrs.frozen(kw_only=True, field_transformer=checked)
class Cabling:
    """The runs of the pack; None is not yet decided, and then unknown.

    `module_lead` joins each string to the bar, `main` the bar to each inverter.
    """

    module_lead: Run | None = None
    main: Run | None = None

    __repr__ = brief
