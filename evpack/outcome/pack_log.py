"""A log of a finished pack: what its own meters wrote down while it worked."""

from __future__ import annotations

from typing import Any

import attrs
import numpy as np
from numpy.typing import NDArray

from evpack.base.brief import brief
from evpack.base.errors import DescriptionError

Array = NDArray[np.float64]


def _column(given: Any) -> Array:
    array = np.array(given, dtype=np.float64)
    array.setflags(write=False)
    return array


@attrs.frozen(kw_only=True, eq=False)
class PackLog:
    """Samples of a finished pack; arrays of shape (n,).

    Parameters
    ----------
    seconds : array
        Time, rising [s].
    volts, amps : array
        Of the pack [V], positive on discharge [A].
    highest, lowest : array or None
        Of its cells [V]; None where they were not logged.
    strings : array, shape (k, n), or None
        Current of each string, positive on discharge [A].
    told : str
        Which sign of current was taken, and how that is known.

    Raises
    ------
    DescriptionError
        Columns of unequal length, fewer than two samples, a number that is none, time not rising.
    """

    seconds: Array = attrs.field(converter=_column)
    volts: Array = attrs.field(converter=_column)
    amps: Array = attrs.field(converter=_column)
    highest: Array | None = attrs.field(converter=attrs.converters.optional(_column), default=None)
    lowest: Array | None = attrs.field(converter=attrs.converters.optional(_column), default=None)
    strings: Array | None = attrs.field(converter=attrs.converters.optional(_column), default=None)
    name: str = "log of the pack"
    told: str = ""

    __repr__ = brief

    def __attrs_post_init__(self) -> None:
        """Refuse what is no log."""
        size = self.seconds.size
        columns = [self.seconds, self.volts, self.amps]
        columns += [c for c in (self.highest, self.lowest) if c is not None]
        columns += [] if self.strings is None else list(np.atleast_2d(self.strings))
        if size < 2 or any(c.ndim != 1 or c.size != size for c in columns):  # noqa: PLR2004
            raise DescriptionError("a log needs columns of equal length, of two samples or more")
        if not all(np.isfinite(c).all() for c in columns):
            raise DescriptionError("the log holds a value that is not a finite number")
        if not (np.diff(self.seconds) > 0).all():
            raise DescriptionError("the time of the log must rise from sample to sample")
        if (self.highest is None) != (self.lowest is None):
            raise DescriptionError("a log of cells needs the highest and the lowest of them")

    @property
    def spread(self) -> Array | None:
        """Return highest minus lowest cell [V]; None where cells were not logged."""
        if self.highest is None or self.lowest is None:
            return None
        return self.highest - self.lowest
