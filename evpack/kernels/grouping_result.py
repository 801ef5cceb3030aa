"""A grouping as its modules, with what it gives and what is proven of all others."""

from __future__ import annotations

import attrs
import numpy as np
from numpy.typing import NDArray

from evpack.kernels.grouping_batch import Batch, Labels
from evpack.kernels.grouping_milp import STEP


@attrs.frozen(kw_only=True)
class Grouping:
    """Modules in strings, and how good that is.

    Modules are counted from 0 as they were given.

    Attributes
    ----------
    strings : tuple of tuples of int
        The modules of each string, strongest first; the string with the most charge first.
    spares : tuple of int
        Modules that stay over, strongest first; those left out are not among them.
    charge : float
        Usable charge of the pack, the sum of the least capacity in each string [Ah].
    excess : float
        Capacity in the strings that cannot be used [Ah].
    resistance_spread : float
        Highest less lowest resistance of a string, the modules alone [Ω].
    unevenness : float
        Weighted sum of two shares [1]: `resistance_spread` of the resistance of a string of mean
        modules, and `excess` of the capacity of as many mean modules.
    most_charge : float
        Most charge of any grouping that was found [Ah]; `charge` may lie below it by the
        tolerance.
    charge_bound : float
        No grouping that keeps the wishes has more charge [Ah].
    unevenness_bound : float
        No grouping that keeps the wishes and holds `most_charge` less the tolerance is less
        uneven [1]; 0 where nothing was proven.
    """

    strings: tuple[tuple[int, ...], ...]
    spares: tuple[int, ...]
    charge: float
    excess: float
    resistance_spread: float
    unevenness: float
    most_charge: float
    charge_bound: float
    unevenness_bound: float

    @property
    def charge_gap(self) -> float:
        """By which part `most_charge` may fall short of the best [1]."""
        return 1.0 - self.most_charge / self.charge_bound

    @property
    def unevenness_gap(self) -> float:
        """By how much the unevenness may exceed the least, in its own shares [1]."""
        return self.unevenness - self.unevenness_bound

    @property
    def charge_proven(self) -> bool:
        """Whether no grouping has more charge than `most_charge`, to two parts in a million."""
        return self.charge_gap <= 2 * STEP

    @property
    def proven(self) -> bool:
        """Whether nothing better exists at all, to two parts in a million."""
        return self.charge_proven and self.unevenness_gap <= 2 * STEP


def described(
    held: Batch,
    label: Labels,
    most: float | None = None,
    bound: float | None = None,
    least: float = 0.0,
) -> Grouping:
    """Return a labelling as the modules' strings, with its figures."""
    strings = [_modules(held, label == string) for string in range(held.strings)]
    order = np.argsort(-held.least(label), kind="stable")
    ohms = held.string_ohms(label)
    charge, uneven = held.charge(label), held.unevenness(label)
    most = charge if most is None else max(most, charge)
    return Grouping(
        strings=tuple(strings[string] for string in order),
        spares=_modules(held, label == held.strings),
        charge=charge,
        excess=held.excess(label),
        resistance_spread=float(ohms.max() - ohms.min()),
        unevenness=uneven,
        most_charge=most,
        # Rounding noise must not put a bound beyond what was found.
        charge_bound=max(most, held.ceiling if bound is None else bound),
        unevenness_bound=min(uneven, least),
    )


def _modules(held: Batch, chosen: NDArray[np.bool_]) -> tuple[int, ...]:
    """Return the modules of the chosen units, strongest first."""
    inside = [
        pair
        for unit in np.flatnonzero(chosen)
        for pair in zip(held.places[unit].tolist(), held.members[unit], strict=True)
    ]
    return tuple(module for _, module in sorted(inside))
