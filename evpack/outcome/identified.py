"""A cell identified from a bench record: what it is made of, and how well the record comes back."""

from __future__ import annotations

import attrs
import numpy as np
from numpy.typing import NDArray

from evpack.base.brief import brief
from evpack.base.errors import DescriptionError
from evpack.base.told import INNER
from evpack.base.units import CAPACITANCE, Quantity
from evpack.describe.ocv import OcvCurve, ResistanceCurve

Array = NDArray[np.float64]

# The middle over which the error of a replay is told: outside it, curves bend. Common practice.
MIDDLE = (0.1, 0.95)


@attrs.frozen(kw_only=True)
class RcBranch:
    """A pair of resistance and capacitance: what a cell gives way after a load comes on.

    Parameters
    ----------
    resistance : quantity
        [Ω].
    time_constant : quantity
        In which it settles to 63 % [s].
    """

    resistance: Quantity
    time_constant: Quantity

    __repr__ = brief

    @property
    def capacitance(self) -> Quantity:
        """Return the time constant over the resistance [F]."""
        return CAPACITANCE.of(float(self.time_constant.m) / float(self.resistance.m))


@attrs.frozen(kw_only=True, eq=False)
class IdentifiedCell:
    """A cell as an open-circuit voltage, a series resistance and RC branches, from one record.

    Parameters
    ----------
    name, source : str
        The record, and where it comes from.
    capacity : quantity
        Net charge from full to the end of the discharge [Ah].
    curve : OcvCurve
    resistance : ResistanceCurve
        In series, at once; it is less than a resistance over 10 s.
    branches : tuple of RcBranch
        The quickest first.
    error, error_over_time, error_whole : quantity
        Root mean square of the voltage of the record played again less that of the record [V]:
        over the samples between 10 and 95 % state of charge, over the time there, and over every
        sample of the discharge.
    error_most : quantity
        The greatest between 10 and 95 % [V].
    time, recorded, replayed : array, shape (n,)
        Time [s], and the two voltages [V].
    notes : tuple of str

    Raises
    ------
    DescriptionError
        No branch.
    """

    name: str
    source: str
    capacity: Quantity
    curve: OcvCurve = attrs.field(metadata=INNER)
    resistance: ResistanceCurve = attrs.field(metadata=INNER)
    branches: tuple[RcBranch, ...]
    error: Quantity
    error_over_time: Quantity
    error_whole: Quantity
    error_most: Quantity
    time: Array = attrs.field(metadata=INNER)
    recorded: Array = attrs.field(metadata=INNER)
    replayed: Array = attrs.field(metadata=INNER)
    notes: tuple[str, ...]

    __repr__ = brief

    def __attrs_post_init__(self) -> None:
        """Refuse a cell that never settles."""
        if not self.branches:
            raise DescriptionError(f"{self.name}: an identified cell has one RC branch or more")

    def __str__(self) -> str:
        return (
            f"{self.name}: {len(self.branches)} RC branches, played again within "
            f"{self.error.m * 1e3:.1f} mV rms. The whole of it: print(evpack.as_text(cell))"
        )
