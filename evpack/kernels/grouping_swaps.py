"""A first grouping that keeps every wish, and bettering one by swaps.

All swaps are weighed at once, and the best one is made. When no swap helps, a few are made at
random and the descent begins again; what is worse than before is thrown away. The random numbers
begin alike at every run.
"""

from __future__ import annotations

import math
import time
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from evpack.kernels.grouping_batch import Array, Batch, GroupingError, Labels, Pair, batch

# Steps of the search before it gives up: about a second.
_STEPS = 200_000
# Steps spent on each wish when the ones at fault are looked for.
_STEPS_A_WISH = 5_000

# Part of a spread that the standard deviation counts beside it: where two strings are equally far
# out no one swap lowers the spread, but the first step towards lowering it lowers this.
_GUIDE = 0.1
# A gain below this is rounding noise.
_GAIN = 1e-12
# Most random swaps between two descents. Found by trial.
_KICKS = 4
# Random starts of a quick search. Found by trial.
QUICK_ROUNDS = 20


def start(held: Batch) -> Labels:
    """Return a labelling that keeps every wish.

    Without wishes it is the sorted row of modules cut into strings, the weakest left as spares.

    Raises
    ------
    GroupingError
        Where none exists, with the wishes that rule it out; or where none was found.
    """
    straight = _first_fit(held)
    if straight is not None:
        return straight
    search = _Search(held, _STEPS)
    if search.run():
        return search.labels()
    raise _refusal(held, given_up=search.given_up)


def _first_fit(held: Batch) -> Labels | None:
    """Put each unit, strongest first, in the first string that takes it."""
    label = np.full(held.size.size, held.strings, dtype=np.intp)
    room = np.append(np.full(held.strings, held.series), held.spare_modules)
    for unit, size in enumerate(held.size):
        meets = label[:unit][held.apart[unit, :unit]]
        takes = room >= size
        takes[meets[meets < held.strings]] = False
        if not takes.any():
            return None
        label[unit] = int(np.argmax(takes))
        room[label[unit]] -= size
    return label


class _Search:
    """Place the units that carry a wish by trial and return; the others fill what is left."""

    def __init__(self, held: Batch, steps: int) -> None:
        self.held, self.steps, self.given_up = held, steps, False
        degree = held.apart.sum(axis=1)
        bound = [u for u in range(degree.size) if degree[u] or held.size[u] > 1]
        # Those hardest to place first, those with nobody to avoid last.
        self.order = sorted(bound, key=lambda u: (-int(degree[u]), -int(held.size[u]), u))
        self.wary = int(np.count_nonzero(degree))
        self.foes = [set(np.flatnonzero(row).tolist()) for row in held.apart]
        # The spares come last, as if they were a string in which all may meet.
        self.inside: list[list[int]] = [[] for _ in range(held.strings + 1)]
        self.room = [held.series] * held.strings + [held.spare_modules]
        self._dead: set[tuple[int, ...]] = set()

    def run(self, at: int = 0) -> bool:
        """Return whether the units from `at` on could all be placed."""
        if at == len(self.order):
            return True
        self.steps -= 1
        if self.steps < 0:
            self.given_up = True
            return False
        # Once nobody has anyone to avoid, only how full the strings are matters.
        state = (at, self.room[-1], *sorted(self.room[:-1])) if at >= self.wary else ()
        if state in self._dead:
            return False
        unit, size = self.order[at], int(self.held.size[self.order[at]])
        for string in self._options(unit, size):
            self.inside[string].append(unit)
            self.room[string] -= size
            if self.run(at + 1):
                return True
            self.inside[string].pop()
            self.room[string] += size
        if state and not self.given_up:
            self._dead.add(state)
        return False

    def _options(self, unit: int, size: int) -> list[int]:
        """Return the strings that take a unit, of the empty ones only the first, and spares."""
        empty = self.inside.index([]) if [] in self.inside else -1
        return [
            string
            for string, inside in enumerate(self.inside)
            if self.room[string] >= size
            and (
                string in {self.held.strings, empty}
                or (inside and self.foes[unit].isdisjoint(inside))
            )
        ]

    def labels(self) -> Labels:
        """Return the labelling found, free modules filled in from the strongest on."""
        held = self.held
        label = np.full(held.size.size, held.strings, dtype=np.intp)
        for string, inside in enumerate(self.inside):
            label[inside] = string
        placed = set(self.order)
        free = [u for u in range(label.size) if u not in placed]
        for string, room in enumerate(self.room):
            label[free[:room]] = string
            free = free[room:]
        return label


def _refusal(held: Batch, *, given_up: bool) -> GroupingError:
    """Say which wishes cannot be met: those without any of which there is a way."""
    if given_up:
        problem = "no grouping that keeps every wish was found, and there may be none"
        return GroupingError(problem, held.apart_pairs, held.together_pairs)
    apart, together = list(held.apart_pairs), list(held.together_pairs)
    for wishes in (apart, together):
        for wish in tuple(wishes):
            wishes.remove(wish)
            if not _impossible(held, apart, together):
                wishes.append(wish)
    said = [
        f"{name} {pairs}" for name, pairs in (("apart", apart), ("together", together)) if pairs
    ]
    size = f"{held.strings} strings of {held.series}"
    spare = f"{held.spare_modules} to spare" if held.spare_modules else "none to spare"
    return GroupingError(
        f"no {size} with {spare} can keep modules {' and '.join(said)} (counted from 0)",
        apart,
        together,
    )


def _impossible(held: Batch, apart: Sequence[Pair], together: Sequence[Pair]) -> bool:
    """Return whether a shorter list of wishes is proven impossible, whatever the capacities."""
    used = {module for unit in held.members for module in unit}
    count = 1 + max(used.union(*held.apart_pairs, *held.together_pairs))
    alike = np.ones(count)
    out = [i for i in range(count) if i not in used]
    fewer = batch(alike, alike, held.strings, held.series, apart=apart, together=together, out=out)
    if _first_fit(fewer) is not None:
        return False
    search = _Search(fewer, _STEPS_A_WISH)
    return not search.run() and not search.given_up


class _Swaps(NamedTuple):
    """What each swap of two units leads to; all arrays of shape (m, m)."""

    allowed: NDArray[np.bool_]
    charge: Array
    score: Array


def most_charge(held: Batch, label: Labels) -> Labels:
    """Return a labelling with at least as much charge; only wishes make a search necessary."""
    if held.charge(label) >= held.ceiling * (1 - _GAIN):
        return label
    return _search(held, label, None, QUICK_ROUNDS, math.inf)


def even_out(
    held: Batch, label: Labels, floor: float, rounds: int, until: float = math.inf
) -> Labels:
    """Return a labelling at least as even that holds a least charge.

    Parameters
    ----------
    held : Batch
        What is grouped.
    label : array of int, shape (m,)
        A labelling that keeps the wishes and holds `floor`.
    floor : float
        Least charge [Ah].
    rounds : int
        Random starts after the first descent.
    until : float
        Clock of `time.perf_counter` at which no further round begins, the first `QUICK_ROUNDS`
        excepted: so a longer search never ends worse than a quick one [s].
    """
    return _search(held, label, floor * (1 - _GAIN), rounds, until)


def _search(held: Batch, label: Labels, floor: float | None, rounds: int, until: float) -> Labels:
    random = np.random.default_rng(0)
    best = _better(held, label, _descend(held, label.copy(), floor), floor)
    for done in range(rounds):
        if done >= QUICK_ROUNDS and time.perf_counter() > until:
            break
        trial = best.copy()
        for _ in range(int(random.integers(1, _KICKS + 1))):
            choice = np.flatnonzero(_swaps(held, trial, floor).allowed)
            if choice.size == 0:
                return best
            _swap(trial, int(random.choice(choice)))
        best = _better(held, best, _descend(held, trial, floor), floor)
    return best


def _better(held: Batch, old: Labels, new: Labels, floor: float | None) -> Labels:
    """Return the better of two labellings; of two as good the new one, so that a search moves."""
    gain = 0.0 if floor is None else held.unevenness(old) - held.unevenness(new)
    if abs(gain) <= _GAIN:  # as even as before: then charge is not given up for nothing
        gain = (held.charge(new) - held.charge(old)) / held.charge_scale
    return new if gain > -_GAIN else old


def _descend(held: Batch, label: Labels, floor: float | None) -> Labels:
    """Make the best swap until none helps."""
    now = math.inf
    while True:
        swaps = _swaps(held, label, floor)
        now = min(now, float(swaps.score[0, 0]))  # a unit swapped with itself: as it is
        best = int(np.argmin(np.where(swaps.allowed, swaps.score, np.inf)))
        found = float(swaps.score.flat[best])
        if not (swaps.allowed.flat[best] and found < now - _GAIN):
            return label
        _swap(label, best)
        now = found


def _swap(label: Labels, flat: int) -> None:
    one, other = divmod(flat, label.size)
    label[one], label[other] = label[other], label[one]


def _swaps(held: Batch, label: Labels, floor: float | None) -> _Swaps:
    """Weigh all swaps of two units of one size."""
    strung = label < held.strings
    charge, unusable = _capacity_after(held, label, strung)
    allowed = (held.size[:, None] == held.size) & (label[:, None] != label)
    if held.apart.any():
        allowed &= _meets_no_foe(held, label)
    if floor is None:
        # Less unusable capacity guides where the charge stays as it is.
        score = (_GUIDE * unusable - charge) / held.charge_scale
        return _Swaps(allowed, charge, score)
    allowed &= charge >= floor
    spread, deviation = _ohms_after(held, label, strung)
    score = (
        held.weights[0] * (spread + _GUIDE * deviation) / held.ohms_scale
        + held.weights[1] * unusable / held.charge_scale
    )
    return _Swaps(allowed, charge, score)


def _capacity_after(held: Batch, label: Labels, strung: NDArray[np.bool_]) -> tuple[Array, Array]:
    """Return charge and unusable charge of the pack after each swap [Ah]."""
    inside = label == np.arange(held.strings + 1)[:, None]
    table = np.where(inside, held.weakest, np.inf)
    # The two least of each string; beside an only unit there is none.
    least = np.partition(np.pad(table, ((0, 0), (0, 1)), constant_values=np.inf), 1)[:, :2]
    own = np.where(strung, least[label, 0], 0.0)
    others = np.where(held.weakest == least[label, 0], least[label, 1], least[label, 0])
    others = np.where(strung, others, 0.0)
    change = np.where(
        strung[:, None], np.minimum(others[:, None], held.weakest) - own[:, None], 0.0
    )
    charge = float(least[:-1, 0].sum()) + change + change.T
    comes = held.capacity - held.capacity[:, None]  # for the unit of the row comes the other
    weight = strung.astype(float)
    used = float(held.capacity[strung].sum()) + comes * (weight[:, None] - weight)
    same = label[:, None] == label
    charge = np.where(same, float(least[:-1, 0].sum()), charge)
    return charge, used / held.series - charge


def _ohms_after(held: Batch, label: Labels, strung: NDArray[np.bool_]) -> tuple[Array, Array]:
    """Return spread and standard deviation of string resistance after each swap [Ω]."""
    rest = held.string_ohms(label)
    string = np.append(rest, 0.0)[label]  # what the spares add up to plays no part
    same = label[:, None] == label
    comes = np.where(same, 0.0, held.ohms - held.ohms[:, None])
    after = string[:, None] + comes
    order = np.argsort(rest)
    high = np.where(strung[:, None], after, -np.inf)
    low = np.where(strung[:, None], after, np.inf)
    top = _beside(rest, order[::-1], -np.inf)[label[:, None], label]
    bottom = _beside(rest, order, np.inf)[label[:, None], label]
    spread = np.maximum(np.maximum(high, high.T), top) - np.minimum(np.minimum(low, low.T), bottom)
    # About the present mean: it moves only when a spare comes in, and this is only a guide.
    mean = float(rest.mean())
    change = np.where(
        strung[:, None] & ~same, (after - mean) ** 2 - (string[:, None] - mean) ** 2, 0.0
    )
    squares = float(((rest - mean) ** 2).sum()) + change + change.T
    return spread, np.sqrt(np.maximum(squares, 0.0) / held.strings)


def _beside(rest: Array, order: Labels, none: float) -> Array:
    """Return the first in an order of strings beside each two of them; `none` if there is none."""
    count = rest.size + 1  # the spares are no string, yet one of the two may be there
    found = np.full((count, count), none)
    at = np.arange(count)
    for string in order[:3][::-1]:
        beside = (at[:, None] != string) & (at != string)
        found[beside] = rest[string]
    return found


def _meets_no_foe(held: Batch, label: Labels) -> NDArray[np.bool_]:
    """Return which swaps bring no two units together that are to be apart."""
    inside = (label[:, None] == np.arange(held.strings)).astype(np.int64)
    foes = np.pad(held.apart.astype(np.int64) @ inside, ((0, 0), (0, 1)))  # none among spares
    # Foes of the column's unit in the row's string, but for the row's unit, which leaves.
    met = foes[:, label].T - held.apart * (label < held.strings)[:, None]
    free = met == 0
    return np.asarray(free & free.T)
