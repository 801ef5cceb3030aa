"""What would clear what holds a design up: the smallest changes, each proven by the whole design.

No hint is given that was not tried. First every single change of every ladder; while none of them
is enough, every other change on top of the best so far.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from concurrent.futures import Executor
from typing import NamedTuple

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
from evpack.search.judge import Progress, Wanted, candidate_of, judge_all
from evpack.search.levers import Ladder, device_ladders, ladders

_OFFERED = 3  # distinct ways
_KEPT = 6  # of what was tried, those that one more change is put on
_MORE = 2  # changes on top of the first
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
    search = _Search(build, now, catalogue, executor, progress)
    if now.go:
        return WaysOut(build=build, now=now, to_go=(), one_by_one=(), tried=1)
    steps = _steps(ladders(made, build, fuses, equipment or EquipmentList()))
    found = search.outward(steps, steps)
    useful, note = [c for c in found.singles if _helps(c, now)], ""
    if equipment is None and now.stops and not found.go:
        classes = _steps(device_ladders(build, generic_equipment(), _OF_A_CLASS))
        more = search.outward(classes, [*steps, *classes])
        useful += [c for c in more.singles if _helps(c, now)]
        found, note = _nearer(found, more, now), _CLASSES
    nearest = [c for c in found.near if c.stops < now.stops]
    return WaysOut(
        build=build,
        now=now,
        to_go=_distinct(search.way(c) for c in found.go),
        one_by_one=tuple(
            (held, _distinct(search.way(c) for c in useful if _clears(c, held)))
            for held in now.held_by
        ),
        nearest=() if found.go else _distinct(search.way(c) for c in nearest),
        tried=search.count,
        note=note,
    )


class _Found(NamedTuple):
    """What a search came to: single changes, those that are a go, and all that was tried."""

    singles: tuple[Candidate, ...]
    go: list[Candidate]
    near: list[Candidate]


def _steps(every: Iterable[Ladder]) -> list[tuple[Change, ...]]:
    return [step for _, rungs in every for step in rungs]


def _nearer(found: _Found, more: _Found, now: Candidate) -> _Found:
    """Return what was found with classes of the library where it is a go, or nearer to one."""

    def left(one: _Found) -> int:
        return min((len(c.stops) for c in one.near if c.stops < now.stops), default=len(now.stops))

    return more if more.go or left(more) < left(found) else found


def _clears(candidate: Candidate, held: Held) -> bool:
    """Return whether a candidate clears something; what is not known no class of devices clears."""
    of_a_class = any(_OF_A_CLASS in change.says for change in candidate.changes)
    return held.key not in candidate.keys and (held.stop or not of_a_class)


def _helps(candidate: Candidate, now: Candidate) -> bool:
    """Return whether a candidate clears something and brings no new stop."""
    return candidate.stops <= now.stops and bool(now.keys - candidate.keys)


@attrs.define
class _Search:
    """What is searched, and how many designs that took."""

    build: Build
    now: Candidate
    catalogue: FuseCatalogue | None
    executor: Executor | None
    progress: Progress | None
    count: int = 1

    def tried(self, changes: Sequence[tuple[Change, ...]]) -> tuple[Candidate, ...]:
        """Return how each set of changes does, carried to its end."""
        wanted: list[Wanted] = [("; ".join(c.says for c in these), these) for these in changes]
        self.count += len(wanted)
        return judge_all(
            self.build,
            wanted,
            executor=self.executor,
            progress=self.progress,
            catalogue=self.catalogue,
            whole=True,
        )

    def outward(
        self, first: Sequence[tuple[Change, ...]], steps: Sequence[tuple[Change, ...]]
    ) -> _Found:
        """Return what one change comes to, and while none is enough, what more on top do."""
        singles = tried = self.tried(first)
        go, near = [c for c in tried if c.go], list(singles)
        for _ in range(_MORE):
            if go:
                break
            tried = self.on_top(tried, steps)
            near += tried
            go = [c for c in tried if c.go]
        return _Found(singles, go, near)

    def on_top(
        self, tried: Sequence[Candidate], steps: Sequence[tuple[Change, ...]]
    ) -> tuple[Candidate, ...]:
        """Return the best of what was tried, each with every step of another kind on top."""
        fewer = [c for c in tried if len(c.stops) < len(self.now.stops) or _helps(c, self.now)]
        best = sorted(_unlike(fewer), key=lambda c: (len(c.stops), len(c.keys)))[:_KEPT]
        return self.tried(
            [
                candidate.changes + step
                for candidate in best
                for step in steps
                if not {c.place for c in step} & {c.place for c in candidate.changes}
            ]
        )

    def way(self, candidate: Candidate) -> Way:
        """Return a candidate as a way out, with its price in energy."""
        new = candidate.keys - self.now.keys
        return Way(
            candidate=self._sized(candidate),
            clears=tuple(held for held in self.now.held_by if held.key not in candidate.keys),
            costs=_less(self.now.usable, candidate.usable),
            costs_everyday=_less(self.now.everyday, candidate.everyday),
            costs_ac=_less(self.now.usable_ac, candidate.usable_ac),
            costs_everyday_ac=_less(self.now.everyday_ac, candidate.everyday_ac),
            to_find_out=sum(not held.stop for held in candidate.held_by if held.key in new),
        )

    def _sized(self, candidate: Candidate) -> Candidate:
        """Return a candidate that says which size was chosen where one was left open."""
        if not any(change.place.endswith(".size") for change in candidate.changes):
            return candidate
        cabling = design(changed(self.build, candidate.changes), catalogue=self.catalogue)
        told = tuple(
            attrs.evolve(change, says=f"{change.says}: {_size(cabling.build, change)}")
            if change.place.endswith(".size")
            else change
            for change in candidate.changes
        )
        return attrs.evolve(candidate, changes=told)


def _less(before: float | None, after: float | None) -> float | None:
    return None if before is None or after is None else before - after


def _size(build: Build, change: Change) -> str:
    run = getattr(build.cabling, change.place.split(".")[1])
    return str(run.conductor.size)


def _unlike(candidates: Iterable[Candidate]) -> list[Candidate]:
    """Return of each kind of change the first step that leaves the same held up."""
    seen: dict[tuple[frozenset[str], frozenset[tuple[str, str]]], Candidate] = {}
    for candidate in candidates:
        kind = frozenset(change.place for change in candidate.changes)
        seen.setdefault((kind, candidate.keys), candidate)
    return list(seen.values())


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
