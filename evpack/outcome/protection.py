"""The protection schedule: fault levels, fuses with both bounds, main protection."""

from __future__ import annotations

import attrs

from evpack.base.brief import brief
from evpack.base.worked import Worked
from evpack.describe.fuses import FuseFamily


@attrs.frozen(kw_only=True)
class FaultBand:
    """Prospective fault current at a place, as a band; None where a resistance is unknown."""

    place: str
    low: Worked | None
    high: Worked | None

    __repr__ = brief


@attrs.frozen(kw_only=True)
class FuseChoice:
    """A fuse for a place, or the reason why none fits.

    Parameters
    ----------
    count : int
        How many are needed.
    lower, upper : Worked or None
        The rating must lie between; None is unknown, and then no size is named.
    voltage, interrupting : Worked or None
        The DC rating needed, and the fault current that it must interrupt.
    size : float or None
        The chosen standard rating [A]; None: no fuse fits, or something is unknown.
    reason : str
        Why this size and family, or why none.
    change : str
        The smallest change that would make one fit.
    """

    place: str
    count: int
    lower: Worked | None
    upper: Worked | None
    voltage: Worked
    interrupting: Worked | None
    size: float | None
    family: FuseFamily | None
    reason: str
    change: str = ""

    __repr__ = brief


@attrs.frozen(kw_only=True)
class ProtectionSchedule:
    """Every fuse and fault level of the pack.

    `withheld` says that the design is held up: nothing is to be bought by it.
    """

    faults: tuple[FaultBand, ...]
    fuses: tuple[FuseChoice, ...]
    withheld: bool = False

    __repr__ = brief
