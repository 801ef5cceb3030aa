"""A first grouping that keeps every wish, or which wishes rule each other out."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from evpack.kernels.grouping_batch import Batch, GroupingError, Labels, Pair, batch

# Steps of the search before it gives up: about a second.
_STEPS = 200_000
# Steps spent on each wish when the ones at fault are looked for.
_STEPS_A_WISH = 5_000


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
