"""What would clear what holds a design up: the smallest changes, each proven by the whole design.

No hint is given that was not tried. First every single change of every ladder; while none of them
is enough, every other change on top of the best so far (`outward.py`).
"""

from __future__ import annotations

import functools
import math
from collections.abc import Callable, Iterable
from concurrent.futures import Executor

import attrs

from evpack.describe.build import Build
from evpack.describe.checked import need
from evpack.describe.equipment import EquipmentList
from evpack.describe.safeguards import FuseCatalogue
from evpack.design import design
from evpack.load.equipment_list import generic_equipment
from evpack.load.tables import fuse_catalogue
from evpack.outcome.search import Candidate, Change, Held, Way, WaysOut
from evpack.search.changes import changed
from evpack.search.judge import Progress, candidate_of
from evpack.search.levers import Ladder, device_ladders, ladders
from evpack.search.outward import Found, Outward, helps

_OFFERED = 3  # distinct ways
_OF_A_CLASS = ", of a class of the library"
_CLASSES = (
    "Classes of the library were tried as well. Their numbers are assumed, and what a class cannot "
    "say is not known: give a list of the devices that you could have."
)


def find_ways(
    build: Build,
    *,
    equipment: EquipmentList | None = None,
    catalogue: FuseCatalogue | None = None,
    executor: Executor | None = None,
    progress: Progress | None = None,
) -> WaysOut:
    """Return what would clear what holds a build up, with its price in energy.

    Parameters
    ----------
    equipment : EquipmentList, optional
        Devices that could stand in for those of the build. By default the classes of the library
        are tried where no other change is enough: what a class cannot say is then not known.
    catalogue : FuseCatalogue, optional
        Fuses to choose from; by default those of the site's rule set.

    Returns
    -------
    WaysOut
        Something that is not known is cleared by finding it out, not by a change: its remedy says
        what to find out, and no way is searched that only hides it.
    """
    need("find_ways", build, Build)
    fuses = catalogue or fuse_catalogue(build.site.rules)
    made = design(build, catalogue=catalogue)
    now = candidate_of(made, "as it is")
    if now.go:
        return WaysOut(build=build, now=now, to_go=(), one_by_one=(), tried=1)
    search = Outward(made, build, now, catalogue, executor, progress)
    found = search.with_steps(_steps(ladders(made, build, fuses, equipment or EquipmentList())))
    useful, note = [c for c in found.singles if helps(c, now)], ""
    if equipment is None and now.stops and not found.go:
        classes = _steps(device_ladders(build, generic_equipment(), _OF_A_CLASS))
        more = search.with_steps(classes)
        useful += [c for c in more.singles if helps(c, now)]
        found, note = _nearer(found, more, now), _CLASSES
    offered = _Offer(build, now, catalogue).of
    return WaysOut(
        build=build,
        now=now,
        to_go=offered(found.every, lambda c: c.go),
        one_by_one=tuple(
            (held, offered(useful, functools.partial(_helps_with, held=held, now=now)))
            for held in now.held_by
        ),
        nearest=() if found.go else offered(found.every, lambda c: c.stops < now.stops),
        tried=search.count,
        note=note,
    )


def _steps(every: Iterable[Ladder]) -> list[tuple[Change, ...]]:
    return [step for _, rungs in every for step in rungs]


def _nearer(found: Found, more: Found, now: Candidate) -> Found:
    """Return what was found with classes of the library where it is a go, or nearer to one."""

    def left(one: Found) -> int:
        return min((len(c.stops) for c in one.every if c.stops < now.stops), default=len(now.stops))

    return more if more.go or left(more) < left(found) else found


def _clears(candidate: Candidate, held: Held) -> bool:
    """Return whether a candidate clears something; what is not known no class of devices clears."""
    of_a_class = any(_OF_A_CLASS in change.says for change in candidate.changes)
    return held.key not in candidate.keys and (held.stop or not of_a_class)


def _helps_with(candidate: Candidate, held: Held, now: Candidate) -> bool:
    return helps(candidate, now) and _clears(candidate, held)


@attrs.frozen
class _Offer:
    """What is told of a search: the few best, each proven by the whole design."""

    build: Build
    now: Candidate
    catalogue: FuseCatalogue | None
    _carried: dict[int, Candidate] = attrs.field(factory=dict, init=False)

    def of(
        self, candidates: Iterable[Candidate], worth: Callable[[Candidate], bool]
    ) -> tuple[Way, ...]:
        """Return the cheapest of each kind that are worth it when carried out in full."""
        left = {id(candidate): candidate for candidate in candidates}
        proven: set[int] = set()
        while True:
            ways = _distinct(
                self._way(candidate) for candidate in left.values() if worth(candidate)
            )
            told = {id(way.candidate) for way in ways}
            fresh = [key for key, candidate in left.items() if id(candidate) in told - proven]
            if not fresh:
                return ways
            for key in fresh:
                left[key] = self._whole(left[key])
                proven.add(id(left[key]))

    def _way(self, candidate: Candidate) -> Way:
        """Return a candidate as a way out, with its price in energy."""
        new = candidate.keys - self.now.keys
        return Way(
            candidate=candidate,
            clears=tuple(held for held in self.now.held_by if held.key not in candidate.keys),
            costs=_less(self.now.usable, candidate.usable),
            costs_everyday=_less(self.now.everyday, candidate.everyday),
            costs_ac=_less(self.now.usable_ac, candidate.usable_ac),
            costs_everyday_ac=_less(self.now.everyday_ac, candidate.everyday_ac),
            to_find_out=sum(not held.stop for held in candidate.held_by if held.key in new),
        )

    def _whole(self, candidate: Candidate) -> Candidate:
        """Return a candidate with its remedies tried, and with the sizes chosen if left open."""
        if id(candidate) not in self._carried:
            made = design(changed(self.build, candidate.changes), catalogue=self.catalogue)
            told = tuple(
                attrs.evolve(change, says=f"{change.says}: {_size(made.build, change)}")
                if change.place.endswith(".size")
                else change
                for change in candidate.changes
            )
            self._carried[id(candidate)] = candidate_of(made, candidate.name, told)
        return self._carried[id(candidate)]


def _less(before: float | None, after: float | None) -> float | None:
    return None if before is None or after is None else before - after


def _size(build: Build, change: Change) -> str:
    run = getattr(build.cabling, change.place.split(".")[1])
    return str(run.conductor.size)


def _distinct(ways: Iterable[Way]) -> tuple[Way, ...]:
    """Return the cheapest way of each kind, those with fewest changes first."""
    best: dict[frozenset[str], Way] = {}
    for way in ways:
        kind = frozenset(change.place for change in way.candidate.changes)
        if kind not in best or _price(way) < _price(best[kind]):
            best[kind] = way
    kept: list[tuple[frozenset[str], Way]] = []
    for kind, way in sorted(best.items(), key=lambda pair: _price(pair[1])):
        # A change on top of another way must clear more than that way alone.
        if not any(
            less < kind and simpler.candidate.keys <= way.candidate.keys for less, simpler in kept
        ):
            kept.append((kind, way))
    return tuple(way for _, way in kept[:_OFFERED])


def _price(way: Way) -> tuple[float, ...]:
    """Return what ways are ranked by: go, stops left, changes, what is left, energy it costs."""
    candidate = way.candidate
    return (
        0.0 if candidate.go else 1.0,
        float(len(candidate.stops)),
        float(len(candidate.changes)),
        float(len(candidate.keys)),
        _energy(way),
    )


def _energy(way: Way) -> float:
    """Return what a way costs in energy, of every day where it has a changeover; no gain counts."""
    costs = way.costs_ac if way.costs_everyday_ac is None else way.costs_everyday_ac
    return math.inf if costs is None else max(0.0, costs)
