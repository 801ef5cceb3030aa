"""Curves against state of charge: open-circuit voltage of a cell, resistance of a module."""

from __future__ import annotations

import attrs
import numpy as np
from numpy.typing import NDArray

from evpack.base.basis import Basis, basis_named
from evpack.base.brief import brief
from evpack.base.errors import DescriptionError
from evpack.base.told import told
from evpack.describe.checked import checked

Array = NDArray[np.float64]


def _frozen_array(values: object) -> Array:
    array = np.array(values, dtype=float)
    array.setflags(write=False)
    return array


def _check_grid(what: str, soc: Array, values: Array) -> None:
    if soc.ndim != 1 or soc.shape != values.shape or soc.size < 2:  # noqa: PLR2004
        raise DescriptionError(f"{what}: needs two columns of equal length, two rows or more")
    if not (np.isfinite(soc).all() and np.isfinite(values).all()):
        raise DescriptionError(f"{what}: holds a value that is not a finite number")
    if not (np.diff(soc) > 0).all() or soc[0] < 0 or soc[-1] > 1:
        raise DescriptionError(f"{what}: state of charge must rise from row to row within 0 to 1")


@attrs.frozen(kw_only=True, eq=False, field_transformer=checked)
class OcvCurve:
    """Open-circuit voltage of one cell against state of charge.

    Parameters
    ----------
    soc : array, shape (n,)
        State of charge, rising, 0 to 1.
    volts : array, shape (n,)
        Voltage of one cell at rest [V], rising strictly (else voltage could not tell a state).
    source : str
        A key of ``data/sources.toml``.
    quality : str
        What the curve is worth, in plain words.

    Raises
    ------
    DescriptionError
        Columns of unequal length, not finite, not rising, or not covering 0 to 1.
    """

    soc: Array = attrs.field(converter=_frozen_array, metadata=told(unit=""))
    volts: Array = attrs.field(converter=_frozen_array, metadata=told(unit="V"))
    source: str
    quality: str
    basis: Basis = attrs.field(converter=basis_named)

    __repr__ = brief

    def __attrs_post_init__(self) -> None:
        """Refuse a curve that does not say one voltage for each state, from empty to full."""
        _check_grid("open-circuit voltage curve", self.soc, self.volts)
        if not (np.diff(self.volts) > 0).all():
            raise DescriptionError("open-circuit voltage curve: voltage must rise from row to row")
        if self.soc[0] != 0 or self.soc[-1] != 1:
            raise DescriptionError("open-circuit voltage curve: must run from 0 to 1")


@attrs.frozen(kw_only=True, eq=False, field_transformer=checked)
class ResistanceCurve:
    """DC internal resistance of one module against state of charge [Ω].

    Outside the states that were tested the nearest tested value is held; the states are kept so
    that a page can say where that happens.
    """

    soc: Array = attrs.field(converter=_frozen_array, metadata=told(unit=""))
    ohms: Array = attrs.field(converter=_frozen_array, metadata=told(unit="Ω"))

    __repr__ = brief

    def __attrs_post_init__(self) -> None:
        """Refuse a curve with a resistance that no cell can have."""
        _check_grid("resistance curve", self.soc, self.ohms)
        if not (self.ohms > 0).all():
            raise DescriptionError("resistance curve: every resistance must be above 0 Ω")
