"""What is to be grouped, who must and must not meet, and a grouping as what came of it.

Modules that must stay together are one unit from here on: a string holds all of it or none.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

import attrs
import numpy as np
from numpy.typing import ArrayLike, NDArray

from evpack.base.errors import DescriptionError

Array = NDArray[np.float64]
Labels = NDArray[np.intp]
Pair = tuple[int, int]

# What counts as better, as a share: finer than anybody measures, coarser than HiGHS's own slack.
STEP = 1e-6


class GroupingError(DescriptionError):
    """A grouping that is asked for and cannot be.

    Parameters
    ----------
    problem : str
        What cannot be, modules counted from 0.
    apart, together : tuple of pairs
        The wishes that cannot be met, so that a caller can say them with names.
    """

    def __init__(
        self, problem: str, apart: Iterable[Pair] = (), together: Iterable[Pair] = ()
    ) -> None:
        super().__init__(problem)
        self.apart = tuple(apart)
        self.together = tuple(together)


@attrs.frozen(kw_only=True, eq=False)
class Batch:
    """Modules to group, held as units sorted from the strongest to the weakest.

    A labelling is an array of the units' strings: 0 to ``strings − 1``, or ``strings`` for a
    spare.

    Attributes
    ----------
    strings, series : int
        Strings in parallel, modules in series in each.
    sorted_capacity : array, shape (n,)
        Capacities of the modules that may be used, falling [Ah].
    members : tuple of tuples
        The modules of each unit, counted as the user counts them.
    places : tuple of arrays
        Where the modules of each unit stand in `sorted_capacity`.
    weakest, capacity, ohms, size : array, shape (m,)
        Least capacity in a unit [Ah], sums of capacity [Ah] and resistance [Ω], modules [1].
    apart : array of bool, shape (m, m)
        Which units must not meet in a string.
    tolerance : float
        Part of the most charge that may be given up for evenness [1].
    weights : tuple of two floats
        What a share of resistance spread and a share of unusable capacity weigh [1].
    """

    strings: int
    series: int
    sorted_capacity: Array
    members: tuple[tuple[int, ...], ...]
    places: tuple[Labels, ...]
    weakest: Array
    capacity: Array
    ohms: Array
    size: Labels
    apart: NDArray[np.bool_]
    apart_pairs: tuple[Pair, ...]
    together_pairs: tuple[Pair, ...]
    tolerance: float
    weights: tuple[float, float]

    @property
    def spare_modules(self) -> int:
        """How many modules stay over."""
        return self.sorted_capacity.size - self.strings * self.series

    @property
    def charge_scale(self) -> float:
        """Charge of the pack if every module had the mean capacity [Ah]."""
        return float(self.strings * self.sorted_capacity.mean())

    @property
    def ohms_scale(self) -> float:
        """Resistance of a string of mean modules [Ω]."""
        return float(self.series * self.ohms.sum() / self.sorted_capacity.size)

    @property
    def ceiling(self) -> float:
        """Charge that no grouping can exceed; without wishes one reaches it [Ah].

        Take the k strings with the greatest least capacities. They hold k·M modules, none weaker
        than the k-th of these least capacities, so that this is at most the (k·M)-th capacity of
        the sorted modules. Sorting the modules and cutting the row into strings reaches it for
        every k at once.
        """
        ends = self.sorted_capacity[self.series - 1 : self.strings * self.series : self.series]
        return math.fsum(ends)

    def least(self, label: Labels) -> Array:
        """Return the least capacity in each string [Ah]."""
        least = np.full(self.strings + 1, np.inf)
        np.minimum.at(least, label, self.weakest)
        return least[:-1]

    def string_ohms(self, label: Labels) -> Array:
        """Return the resistance of each string [Ω]."""
        ohms = np.bincount(label, weights=self.ohms, minlength=self.strings + 1)
        return np.asarray(ohms[:-1], dtype=float)

    def charge(self, label: Labels) -> float:
        """Return the usable charge of the pack [Ah]."""
        return math.fsum(self.least(label))  # the same sum in any order

    def excess(self, label: Labels) -> float:
        """Return the capacity that stronger modules cannot give for the weakest [Ah]."""
        held = math.fsum(self.capacity[label < self.strings])
        # Of rounding noise only; an excess is never below nothing.
        return max(0.0, held - self.series * self.charge(label))

    def unevenness(self, label: Labels) -> float:
        """Return spread of string resistance and unusable capacity, as weighted shares [1]."""
        ohms = self.string_ohms(label)
        spread = float(ohms.max() - ohms.min()) / self.ohms_scale
        unusable = self.excess(label) / (self.series * self.charge_scale)
        return self.weights[0] * spread + self.weights[1] * unusable


def batch(
    capacity: ArrayLike,
    ohms: ArrayLike,
    strings: int,
    series: int,
    *,
    apart: Iterable[Pair] = (),
    together: Iterable[Pair] = (),
    out: Iterable[int] = (),
    tolerance: float = 0.0,
    weights: tuple[float, float] = (1.0, 1.0),
) -> Batch:
    """Return what is to be grouped, checked; see `evpack.kernels.grouping.quick`."""
    amp_hours, resistance = np.asarray(capacity, dtype=float), np.asarray(ohms, dtype=float)
    if amp_hours.ndim != 1 or amp_hours.shape != resistance.shape:
        raise GroupingError("need one capacity and one resistance of each module")
    aparts, togethers, left_out = _pairs(apart), _pairs(together), {int(i) for i in out}
    _check_numbers(strings, series, tolerance, weights)
    named = left_out.union(*aparts, *togethers)
    unheard = [i for i in sorted(named) if not 0 <= i < amp_hours.size]
    if unheard:
        raise GroupingError(f"there is no module {unheard[0]} (counted from 0)")
    usable = np.array([i for i in range(amp_hours.size) if i not in left_out], dtype=np.intp)
    for i in usable:
        if not (0 < amp_hours[i] < np.inf and 0 < resistance[i] < np.inf):
            problem = "needs a capacity and a resistance above 0, or must be left out"
            raise GroupingError(f"module {i} (counted from 0) {problem}")
    if usable.size < strings * series:
        need = f"{strings} strings of {series} need {strings * series} modules"
        raise GroupingError(f"{need}; {usable.size} may be used")
    _check_left_out(togethers, left_out)

    # Ties go by the user's count, so that one grouping has one description.
    order = [int(i) for i in usable[np.lexsort((usable, -amp_hours[usable]))]]
    place = {module: at for at, module in enumerate(order)}
    units = sorted(_units(order, togethers), key=lambda unit: place[unit[-1]])
    unit_of = {module: at for at, unit in enumerate(units) for module in unit}
    _check_units(units, series, aparts, togethers)
    conflict = np.zeros((len(units), len(units)), dtype=bool)
    for one, other in aparts:
        if one in unit_of and other in unit_of:  # a module that is left out meets nobody
            conflict[unit_of[one], unit_of[other]] = conflict[unit_of[other], unit_of[one]] = True
    return Batch(
        strings=strings,
        series=series,
        sorted_capacity=amp_hours[order],
        members=tuple(units),
        places=tuple(np.array([place[i] for i in unit], dtype=np.intp) for unit in units),
        weakest=np.array([amp_hours[unit[-1]] for unit in units]),
        capacity=np.array([amp_hours[list(unit)].sum() for unit in units]),
        ohms=np.array([resistance[list(unit)].sum() for unit in units]),
        size=np.array([len(unit) for unit in units], dtype=np.intp),
        apart=conflict,
        apart_pairs=aparts,
        together_pairs=togethers,
        tolerance=tolerance,
        weights=weights,
    )


def _pairs(pairs: Iterable[Pair]) -> tuple[Pair, ...]:
    """Return pairs of plain integers; a module paired with itself is a slip."""
    held = tuple((int(one), int(other)) for one, other in pairs)
    for one, other in held:
        if one == other:
            raise GroupingError(f"module {one} (counted from 0) is paired with itself")
    return held


def _check_numbers(
    strings: int, series: int, tolerance: float, weights: tuple[float, float]
) -> None:
    if strings < 1 or series < 1:
        raise GroupingError(f"need at least 1 string of 1 module, got {strings} of {series}")
    if not 0 <= tolerance < 1:
        raise GroupingError(f"the part of the charge to give up is 0 to 1, got {tolerance}")
    if not all(0 <= weight < np.inf for weight in weights):
        raise GroupingError(f"weights are finite and not below 0, got {weights}")


def _check_left_out(together: Sequence[Pair], out: set[int]) -> None:
    split = [pair for pair in together if (pair[0] in out) != (pair[1] in out)]
    if split:
        raise GroupingError(
            f"modules {split[0]} (counted from 0) stay together, yet one of them is left out",
            together=split,
        )


def _units(order: Sequence[int], together: Sequence[Pair]) -> list[tuple[int, ...]]:
    """Join modules that stay together, strongest first in each unit."""
    unit = {module: [module] for module in order}
    for one, other in together:
        if one in unit and unit[one] is not unit[other]:
            unit[one].extend(unit[other])
            for module in unit[other]:
                unit[module] = unit[one]
    rank = {module: at for at, module in enumerate(order)}
    found = {id(held): held for held in unit.values()}
    return [tuple(sorted(held, key=rank.__getitem__)) for held in found.values()]


def _check_units(
    units: Sequence[tuple[int, ...]],
    series: int,
    apart: Sequence[Pair],
    together: Sequence[Pair],
) -> None:
    """Refuse units that fit in no string, and pairs that are to be both apart and together."""
    for unit in units:
        inside = [pair for pair in together if pair[0] in unit]
        if len(unit) > series:
            problem = f"modules {sorted(unit)} (counted from 0) are to stay together"
            raise GroupingError(f"{problem}; a string holds {series}", together=inside)
        torn = [pair for pair in apart if pair[0] in unit and pair[1] in unit]
        if torn:
            raise GroupingError(
                f"modules {torn[0]} (counted from 0) are to be apart and stay together",
                torn,
                inside,
            )


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
