"""Changes tried outward from a build: each alone, then more on top of the best so far.

Every candidate is looked at with what nobody stated taken as it was settled for the build itself.
Of one that clears nothing no more is asked. One that seems to go, or to bring a stop of its own,
goes through the whole design, as does everything that is offered.

What is left out rests on a rule of thumb, not on a proof: a way may be missed where several values
are unstated. None is offered that was not proven.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from concurrent.futures import Executor
from typing import TypeAlias

import attrs

from evpack.check.asked import at_ends
from evpack.describe.build import Build
from evpack.describe.safeguards import FuseCatalogue
from evpack.outcome.design import Design
from evpack.outcome.search import Candidate, Change
from evpack.search.judge import Progress, Wanted, judge_all

_KEPT = 6  # of what was tried, those that one more change is put on
_MORE = 2  # changes on top of the first

Step: TypeAlias = tuple[Change, ...]
_Left: TypeAlias = frozenset[tuple[int, str, str, str, bool]]  # of each look: what holds it up


@attrs.frozen(eq=False)
class Tried:
    """Steps taken together, what is left at a glance, and how the build does with them.

    Parameters
    ----------
    base : Tried or None
        The same without the last step.
    candidate : Candidate or None
        None where the last step clears nothing.
    barren : set of int
        Numbers of the steps that were tried on top and cleared nothing.
    """

    steps: tuple[int, ...]
    left: _Left
    base: Tried | None = None
    candidate: Candidate | None = None
    barren: set[int] = attrs.field(factory=set)

    def known_barren(self) -> set[int]:
        """Return the steps that clear nothing on top, as far as is known.

        What cleared nothing before the last step clears nothing after it, unless that brought
        anything new: a finding, or another figure in one.
        """
        if self.base is None or self.left - self.base.left:
            return self.barren
        return self.barren | self.base.known_barren()


@attrs.frozen(kw_only=True)
class Found:
    """What a search came to, of what clears anything: single changes, and all that was tried."""

    singles: tuple[Candidate, ...]
    every: tuple[Candidate, ...]

    @property
    def go(self) -> tuple[Candidate, ...]:
        """Return those that may be built."""
        return tuple(candidate for candidate in self.every if candidate.go)


@attrs.define
class Outward:
    """A search outward from a build, the steps that it knows, and how many designs that took."""

    made: Design
    build: Build
    now: Candidate
    catalogue: FuseCatalogue | None = None
    executor: Executor | None = None
    progress: Progress | None = None
    count: int = 1
    steps: list[Step] = attrs.field(factory=list)
    _best_case: Build = attrs.field(init=False)
    _looks: tuple[Build, ...] = attrs.field(init=False)
    _start: Tried = attrs.field(init=False)

    def __attrs_post_init__(self) -> None:
        """Look at the build as it is.

        What is asked for shows how it is moved only with an answer: with that end of what is
        credible which leaves something else.
        """
        settled, ends = self.made.build, at_ends(self.made.build)
        self._best_case = ends[0]
        seen = {_left(self._judged(one, [()], ends=False)): one for one in ends}
        seen.pop(_left(self._judged(settled, [()], ends=False)), None)
        self._looks = (settled, *seen.values())
        (looks,) = self._glances([()])
        self._start = Tried((), _left(looks), candidate=self.now)

    def with_steps(self, more: Sequence[Step]) -> Found:
        """Return what one of some new steps comes to, and while none is enough, what more do.

        Steps of an earlier search are put on top too.
        """
        first = range(len(self.steps), len(self.steps) + len(more))
        self.steps += more
        tried = self._tried([(self._start, number) for number in first])
        singles = every = tuple(candidate for _, candidate in _clearing(tried))
        for _ in range(_MORE):
            if any(candidate.go for candidate in every):
                break
            tried = self._tried(self._on_top(tried))
            every += tuple(candidate for _, candidate in _clearing(tried))
        return Found(singles=singles, every=every)

    def _on_top(self, tried: Iterable[Tried]) -> list[tuple[Tried, int]]:
        """Return the best of what was tried, each with every step of another kind on top.

        Where one step clears nothing, and another only clears some of what holds a build up and
        leaves the rest as it is, to the last figure, both together clear no more than the other.
        """
        fewer = [
            one
            for one, candidate in _clearing(tried)
            if len(candidate.stops) < len(self.now.stops) or helps(candidate, self.now)
        ]
        wanted: dict[frozenset[int], tuple[Tried, int]] = {}  # in whatever order: once
        for one, candidate in _best(fewer)[:_KEPT]:
            barren = one.known_barren()
            taken = {change.place for change in candidate.changes}
            for number, step in enumerate(self.steps):
                if number not in barren and not taken & {change.place for change in step}:
                    wanted.setdefault(frozenset((*one.steps, number)), (one, number))
        return list(wanted.values())

    def _tried(self, wanted: Sequence[tuple[Tried, int]]) -> list[Tried]:
        """Return how a build does with one more step each."""
        self.count += len(wanted)
        taken = [(*base.steps, number) for base, number in wanted]
        looks = self._glances([self._changes(steps) for steps in taken])
        found = []
        for (base, number), steps, these in zip(wanted, taken, looks, strict=True):
            left = _left(these)
            if _kinds(base.left) <= _kinds(left):
                base.barren.add(number)
                found.append(Tried(steps, left, base))
            else:
                found.append(Tried(steps, left, base, these[0]))
        return self._in_doubt(found)

    def _in_doubt(self, tried: Sequence[Tried]) -> list[Tried]:
        """Carry through the whole design what a glance cannot tell: a go, what is asked for.

        So is a stop that was not there before, where the best that is credible of an error that
        nobody stated would take it away.
        """
        new = [
            one
            for one, candidate in _clearing(tried)
            if not candidate.stops <= self.now.stops and len(self._looks) == 1
        ]
        best = self._judged(self._best_case, [self._changes(o.steps) for o in new], ends=False)
        hangs = {o.steps for o, at in zip(new, best, strict=True) if at.stops <= self.now.stops}
        doubtful = [
            one.steps
            for one, candidate in _clearing(tried)
            if candidate.go or len(self._looks) > 1 or one.steps in hangs
        ]
        full = self._judged(self.build, [self._changes(steps) for steps in doubtful])
        of = dict(zip(doubtful, full, strict=True))
        return [attrs.evolve(o, candidate=of.get(o.steps, o.candidate)) for o in tried]

    def _changes(self, steps: Iterable[int]) -> tuple[Change, ...]:
        return tuple(change for number in steps for change in self.steps[number])

    def _glances(self, changes: Sequence[tuple[Change, ...]]) -> list[tuple[Candidate, ...]]:
        """Return each set of changes in every look."""
        looks = [self._judged(look, changes, ends=False) for look in self._looks]
        return list(zip(*looks, strict=True))

    def _judged(
        self, build: Build, changes: Sequence[tuple[Change, ...]], *, ends: bool = True
    ) -> tuple[Candidate, ...]:
        wanted: list[Wanted] = [("; ".join(c.says for c in these), these) for these in changes]
        return judge_all(
            build,
            wanted,
            executor=self.executor,
            progress=self.progress,
            catalogue=self.catalogue,
            whole=True,
            ends=ends,
            remedies=False,
        )


def helps(candidate: Candidate, now: Candidate) -> bool:
    """Return whether a candidate clears something and brings no new stop."""
    return candidate.stops <= now.stops and bool(now.keys - candidate.keys)


def _left(looks: Sequence[Candidate]) -> _Left:
    """Return what is left of a build in each look at it."""
    return frozenset(
        (number, held.rule, held.about, held.detail, held.stop)
        for number, look in enumerate(looks)
        for held in look.held_by
    )


def _kinds(left: _Left) -> frozenset[tuple[int, str, str, bool]]:
    """Return what is left without its figures."""
    return frozenset((look, rule, about, stop) for look, rule, about, _, stop in left)


def _clearing(tried: Iterable[Tried]) -> list[tuple[Tried, Candidate]]:
    """Return those that clear anything."""
    return [(one, one.candidate) for one in tried if one.candidate is not None]


def _best(tried: Iterable[Tried]) -> list[tuple[Tried, Candidate]]:
    """Return of each kind of change the first step that leaves the same held up, best first."""
    seen: dict[tuple[frozenset[str], frozenset[tuple[str, str]]], tuple[Tried, Candidate]] = {}
    for one, candidate in _clearing(tried):
        kind = frozenset(change.place for change in candidate.changes)
        seen.setdefault((kind, candidate.keys), (one, candidate))
    return sorted(seen.values(), key=lambda pair: (len(pair[1].stops), len(pair[1].keys)))
