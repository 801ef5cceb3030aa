"""Judging many builds: each through the whole design and decision, on one processor or several.

There is no simplified twin of the design here. Only may a design stop early: at the first step
that holds it up.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import Executor

import attrs

from evpack.base.errors import DescriptionError
from evpack.base.finding import Finding, Severity
from evpack.base.worked import Worked
from evpack.decide import decide
from evpack.describe.build import Build
from evpack.describe.safeguards import FuseCatalogue
from evpack.design import design
from evpack.lifetime import years_of
from evpack.outcome.design import Design, Verdict
from evpack.outcome.search import Candidate, Change, Held
from evpack.search.changes import changed

Progress = Callable[[int, int], None]
Wanted = tuple[str, tuple[Change, ...]]  # the name of a candidate, and its changes
Lives = dict[tuple[float, float], tuple[float, float] | None]  # by where cells begin and end

_CHUNK = 32  # candidates that go to another process at once
# Whose margins tell how comfortable a build is. Others have none by nature, such as a setting that
# is rounded to the edge of its range.
_WEIGHED = frozenset(
    {
        "charging.limit",
        "charging.rate",
        "current.full-output",
        "current.load",
        "current.output",
        "current.peak",
        "current.sag",
        "window.charged",
        "window.loaded",
    }
)


def judged(
    build: Build,
    name: str,
    changes: tuple[Change, ...] = (),
    *,
    catalogue: FuseCatalogue | None = None,
    whole: bool = True,
    ends: bool = True,
    remedies: bool = True,
    lives: Lives | None = None,
) -> Candidate:
    """Return how a build does with changes made.

    Parameters
    ----------
    whole : bool
        Whether a design that is held up is still carried to its end, so that everything that
        holds it up is told.
    ends, remedies : bool
        Whether what nobody stated is judged with both ends, and remedies are tried; see `design`.
    lives : dict, optional
        Where years are told of those that may be built: those told already, which this adds to.
    """
    try:
        made = design(
            changed(build, changes),
            catalogue=catalogue,
            stop_early=not whole,
            ends=ends,
            remedies=remedies,
        )
    except DescriptionError as problem:
        return _impossible(build, name, changes, str(problem))
    found = candidate_of(made, name, changes)
    if lives is None or not found.go:
        return found
    return attrs.evolve(found, life=_life(made, lives))


def _impossible(build: Build, name: str, changes: tuple[Change, ...], why: str) -> Candidate:
    """Return a candidate that cannot be: an array, say, whose charger goes with the inverter."""
    return Candidate(
        name=name,
        changes=changes,
        verdict=Verdict.DOES_NOT_WORK,
        held_by=(Held(rule="build.impossible", about="these changes", detail=f"{why}."),),
        modules=build.pack.modules,
    )


def _life(made: Design, lives: Lives) -> tuple[float, float] | None:
    """Return the years of a design.

    With the same cells at the same site they hang on nothing but how far the cells are filled and
    emptied every day.
    """
    if made.usable is None:
        return None
    between = made.usable.soc_top, made.usable.soc_bottom
    if between not in lives:
        lives[between] = years_of(made)
    return lives[between]


def candidate_of(made: Design, name: str, changes: tuple[Change, ...] = ()) -> Candidate:
    """Return how a design that is made already does, as a candidate."""
    decision = decide(made)
    margin, of = _margin(made.findings)
    usable = made.usable
    pack = made.build.pack
    left_out = 0 if pack.module.available is None else pack.module.available - pack.modules
    module = pack.module
    each = float(module.nominal.m) * module.cells_in_series * float(module.capacity.m)
    return Candidate(
        name=name,
        changes=changes,
        verdict=decision.verdict,
        held_by=tuple(
            Held(
                rule=finding.rule.key,
                about=finding.about,
                detail=finding.detail,
                remedy=finding.remedy,
                stop=finding.severity is Severity.STOP,
            )
            for finding in decision.held_by
        ),
        limits=len(decision.limits),
        usable=None if usable is None else usable.reachable.value,
        everyday=None if usable is None else _value(usable.everyday),
        usable_ac=None if usable is None else usable.reachable_ac.value,
        everyday_ac=None if usable is None else _value(usable.everyday_ac),
        rough=usable is not None and usable.kindred is not None,
        margin=margin,
        margin_of=of,
        modules=pack.modules,
        left_out=left_out,
        stranded=None if module.available is None or left_out < 0 else left_out * each,
    )


def _value(worked: Worked | None) -> float | None:
    return None if worked is None else worked.value


def _margin(findings: Iterable[Finding]) -> tuple[float | None, str]:
    """Return the least margin of the windows and currents that pass, as a share, and of what."""
    least, of = math.inf, ""
    for finding in findings:
        if (
            finding.margin is None
            or finding.limit in {None, 0.0}
            or finding.severity is not Severity.OK
        ):
            continue
        if finding.rule.key not in _WEIGHED:
            continue
        share = finding.margin / abs(finding.limit)
        if share < least:
            least, of = share, f"{finding.about}: {finding.rule.says}"
    return (None, "") if math.isinf(least) else (least, of)


def judge_all(
    build: Build,
    wanted: Sequence[Wanted],
    *,
    executor: Executor | None = None,
    progress: Progress | None = None,
    catalogue: FuseCatalogue | None = None,
    whole: bool = False,
    ends: bool = True,
    remedies: bool = True,
    life: bool = False,
) -> tuple[Candidate, ...]:
    """Return how each candidate does, in the order given.

    Parameters
    ----------
    executor : Executor, optional
        Carries the work: a process pool, or that of a distributed engine. The answers are the same
        without.
    progress : function, optional
        Called with how many are done, and of how many.
    """
    chunks = [wanted[k : k + _CHUNK] for k in range(0, len(wanted), _CHUNK)]
    how = {"whole": whole, "ends": ends, "remedies": remedies, "life": life}
    found: list[Candidate] = []
    if executor is None:
        parts: Iterable[list[Candidate]] = (_chunk(build, c, catalogue, **how) for c in chunks)
    else:
        waiting = [executor.submit(_chunk, build, c, catalogue, **how) for c in chunks]
        parts = (future.result() for future in waiting)
    for part in parts:
        found += part
        if progress is not None:
            progress(len(found), len(wanted))
    return tuple(found)


def _chunk(
    build: Build,
    wanted: Sequence[Wanted],
    catalogue: FuseCatalogue | None,
    *,
    whole: bool,
    ends: bool,
    remedies: bool,
    life: bool,
) -> list[Candidate]:
    lives: Lives | None = {} if life else None
    return [
        judged(
            build,
            name,
            how,
            catalogue=catalogue,
            whole=whole,
            ends=ends,
            remedies=remedies,
            lives=lives,
        )
        for name, how in wanted
    ]


def better_first(candidate: Candidate) -> tuple[float, ...]:
    """Return what candidates are ranked by: go, usable energy, margin, modules left on the heap.

    Of those that are held up, the one that fewest things hold up comes first.
    """
    return (
        0.0 if candidate.go else 1.0,
        0.0 if candidate.go else float(sum(held.stop for held in candidate.held_by)),
        0.0 if candidate.go else float(len(candidate.held_by)),
        -(candidate.usable_ac or 0.0),
        -(candidate.margin if candidate.margin is not None else -math.inf),
        float(abs(candidate.left_out)),
    )
