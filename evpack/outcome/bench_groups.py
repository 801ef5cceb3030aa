"""How the cell groups of a module stood while a bench record emptied it."""

from __future__ import annotations

import attrs
import numpy as np
from numpy.typing import NDArray

from evpack.base.brief import brief
from evpack.base.units import VOLTAGE, Quantity
from evpack.kernels.record import mean_at_floor

Array = NDArray[np.float64]


def _column(given: object) -> Array:
    array = np.array(given, dtype=np.float64)
    array.setflags(write=False)
    return array


@attrs.frozen(kw_only=True, eq=False)
class GroupsSeen:
    """Voltages of the cell groups, from full to the end of the discharge, and at full.

    Where a logger gave only the lowest and the highest, the mean is that of the terminals.

    Parameters
    ----------
    lowest, mean, volts : array, shape (k,)
        Lowest group, mean of all groups (empty: not known) and voltage between the terminals [V].
    top_highest, top_mean, top_volts : array, shape (t,)
        Highest group, mean and terminals while full: from the end of the charge till the load
        comes on [V]; empty where that was not logged.
    """

    lowest: Array = attrs.field(converter=_column)
    mean: Array = attrs.field(converter=_column)
    volts: Array = attrs.field(converter=_column)
    top_highest: Array = attrs.field(converter=_column, default=())
    top_mean: Array = attrs.field(converter=_column, default=())
    top_volts: Array = attrs.field(converter=_column, default=())

    __repr__ = brief

    def below_mean(self, cells_in_series: int, floor: Quantity | None = None) -> Quantity:
        """Return how far the lowest group stood below the mean, towards empty [V].

        Parameters
        ----------
        cells_in_series : int
            Cell groups between the terminals.
        floor : quantity, optional
            Where the lowest stood at this voltage. It grows towards empty, so that further down
            it would be too much; by default, or where the record ends above it, that at the end.
        """
        mean = self.mean if self.mean.size else self.volts / cells_in_series
        if floor is not None:
            reached = mean_at_floor(self.lowest, mean, float(floor.m))
            if reached is not None:
                return VOLTAGE.of(max(0.0, reached - float(floor.m)))
        return VOLTAGE.of(max(0.0, float(mean[-1] - self.lowest[-1])))

    def reached(self, floor: Quantity) -> bool:
        """Return whether the lowest group was seen at a voltage or under it."""
        return bool(self.lowest.min() <= floor.m)

    def above_mean(self, cells_in_series: int) -> Quantity | None:
        """Return how far the highest group stood above the mean at full [V]; None if not read."""
        if not self.top_highest.size:
            return None
        mean = self.top_mean if self.top_mean.size else self.top_volts / cells_in_series
        return VOLTAGE.of(max(0.0, float(np.max(self.top_highest - mean))))
