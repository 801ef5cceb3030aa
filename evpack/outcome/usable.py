"""How much energy stays reachable between the settings, and what lies outside."""

from __future__ import annotations

import attrs
import numpy as np
from numpy.typing import NDArray

from evpack.base.brief import brief
from evpack.base.worked import Worked


@attrs.frozen(kw_only=True, eq=False)
class UsableWindow:
    """The reachable part of the pack, between the charge setting and the cut-off under load.

    Parameters
    ----------
    soc_top : float
        State of charge after a charge that ended at the absorption end current.
    soc_bottom : float
        Where the voltage under the continuous load meets the cut-off, or the pack collapses.
    soc_changeover : float or None
        Where the voltage under the typical load meets the changeover.
    bottom_by : str
        What ends the discharge: "cut-off", "inverter window", "weak pack" or "empty".
    everyday, reserve : Worked or None
        Energy at the inverter's DC terminals above and below the changeover.
    soc, rest, loaded : array, shape (n,)
        For the picture: pack voltage at rest and at the inverter under the continuous load [V];
        `loaded` is NaN where the pack cannot carry it.
    """

    soc_top: float
    soc_bottom: float
    soc_changeover: float | None
    bottom_by: str
    total: Worked
    reachable: Worked
    share: Worked
    everyday: Worked | None
    reserve: Worked | None
    stranded_above: Worked
    stranded_below: Worked
    lost_inside: Worked
    load: float
    soc: NDArray[np.float64]
    rest: NDArray[np.float64]
    loaded: NDArray[np.float64]

    __repr__ = brief
