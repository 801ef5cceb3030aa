"""How much energy stays reachable between the settings, and what lies outside."""

from __future__ import annotations

import functools
from collections.abc import Callable, Mapping

import attrs
import numpy as np
from numpy.typing import NDArray

from evpack.base.brief import brief
from evpack.base.worked import Worked
from evpack.kernels.reach import Ends, Reach, reach


@attrs.frozen(kw_only=True, eq=False)
class Kindred:
    """Other curves that cells of the same name may have, and the settings to hold against them.

    Parameters
    ----------
    emf : tuple of array, shape (n,)
        Open-circuit voltage of the pack by each of them [V], on the states of the window.
    ohms : array, shape (n,)
        Resistance up to the inverter over hours [Ω].
    capacity : float
        Of all strings together [Ah].
    """

    emf: tuple[NDArray[np.float64], ...]
    ohms: NDArray[np.float64]
    capacity: float
    ends: Ends

    __repr__ = brief


@attrs.frozen(kw_only=True, eq=False)
class UsableWindow:
    """The reachable part of the pack, between the charge setting and the cut-off under load.

    Energies are at the inverter's DC terminals, under the continuous load; those that end in
    ``_ac`` come out of the inverter, at the typical load.

    Parameters
    ----------
    soc_top : float
        State of charge after a charge that ended at the absorption end current.
    soc_bottom : float
        Where the voltage under the continuous load meets the cut-off, or the pack collapses.
    soc_changeover : float or None
        Where the voltage under the typical load meets the changeover.
    soc_float : float or None
        Where a float that cannot be turned off holds the pack, if that lies below the top.
    float_by : str
        The charger that does so.
    bottom_by : str
        What ends the discharge: "cut-off", "inverter window", "weak pack" or "empty".
    everyday, reserve : Worked or None
        Energy above and below the changeover.
    from_float : Worked or None
        Energy from the float down to the changeover, or to the end where there is none.
    load, load_ac : float
        The continuous load at the DC terminals, and the typical load on the AC side [W].
    soc, rest, loaded : array, shape (n,)
        For the picture: pack voltage at rest and at the inverter under the continuous load [V];
        `loaded` is NaN where the pack cannot carry it.
    kindred : Kindred or None
        What else the curve may be, where it is only assumed.
    """

    soc_top: float
    soc_bottom: float
    soc_changeover: float | None
    soc_float: float | None = None
    float_by: str = ""
    bottom_by: str
    total: Worked
    reachable: Worked
    share: Worked
    everyday: Worked | None
    reserve: Worked | None
    from_float: Worked | None = None
    reachable_ac: Worked
    everyday_ac: Worked | None = None
    reserve_ac: Worked | None = None
    from_float_ac: Worked | None = None
    stranded_above: Worked
    stranded_below: Worked
    lost_inside: Worked
    load: float
    load_ac: float
    soc: NDArray[np.float64]
    rest: NDArray[np.float64]
    loaded: NDArray[np.float64]
    kindred: Kindred | None = None

    __repr__ = brief

    @functools.cached_property
    def bands(self) -> Mapping[str, tuple[float, float]]:
        """Return the least and the most of each energy [Wh], by its field.

        Over this curve and the others that cells of the same name may have, at the same settings.
        Empty where the curve was measured. Worked out when it is asked for: a search does not.
        """
        if self.kindred is None:
            return {}
        others = [
            reach(
                self.soc,
                emf,
                self.kindred.ohms,
                capacity=self.kindred.capacity,
                ends=self.kindred.ends,
            )
            for emf in self.kindred.emf
        ]
        found = {}
        for name, of in _PARTS.items():
            mine: Worked | None = getattr(self, name)
            if mine is not None:
                values = [mine.value, *(of(other) or 0.0 for other in others)]
                found[name] = (min(values), max(values))
                if (out := getattr(self, f"{name}_ac", None)) is not None:
                    share = out.value / mine.value if mine.value else 1.0
                    found[f"{name}_ac"] = (share * min(values), share * max(values))
        return found

    @functools.cached_property
    def told(self) -> UsableWindow:
        """Return the same for people: each energy with its band, where the curve is assumed."""
        return attrs.evolve(
            self,
            **{
                name: attrs.evolve(getattr(self, name), between=band)
                for name, band in self.bands.items()
            },
        )


# What of a `Reach` is told under which name.
_PARTS: Mapping[str, Callable[[Reach], float | None]] = {
    "total": lambda r: r.total,
    "reachable": lambda r: r.reachable,
    "share": lambda r: r.reachable / r.total,
    "everyday": lambda r: r.everyday,
    "reserve": lambda r: r.reserve,
    "from_float": lambda r: r.from_float,
    "stranded_above": lambda r: r.above,
    "stranded_below": lambda r: r.below,
    "lost_inside": lambda r: r.lost,
}
