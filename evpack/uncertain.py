"""Draws: the same build many times over, each as it may really be, and judged by itself."""

from __future__ import annotations

from concurrent.futures import Executor

from evpack.base.errors import DescriptionError
from evpack.decide import decide
from evpack.describe.build import Build
from evpack.describe.checked import need
from evpack.describe.scatter import Scatter
from evpack.design import design
from evpack.outcome.draws import Draws
from evpack.simulate.draws import (
    Judged,
    above_guard,
    chance,
    drawn,
    kept,
    margins,
    numbers,
    places,
    strangers,
    verdicts,
)

_CHUNK = 16  # builds handed to another process at once
_MOST = 100_000


def draw_designs(
    build: Build,
    scatter: Scatter,
    *,
    count: int = 200,
    seed: int = 1,
    executor: Executor | None = None,
) -> Draws:
    """Judge a build many times over, with what was measured scattered.

    Parameters
    ----------
    build : Build
    scatter : Scatter
        What is drawn, and how far it scatters.
    count : int
        How many draws; each takes a few milliseconds.
    seed : int
        The same seed gives the same draws, with and without an executor.
    executor : concurrent.futures.Executor, optional
        Carries the draws, a pool of processes for one.

    Raises
    ------
    DescriptionError
        No draws, or more than 100 000.
    """
    need("draw_designs", build, Build)
    need("draw_designs", scatter, Scatter)
    if not 1 <= count <= _MOST:
        raise DescriptionError(f"count must lie between 1 and {_MOST}, got {count}")
    stated = design(build)
    builds = drawn(build, scatter, count, seed)
    if executor is None:
        judged = [judge(one) for one in builds]
    else:
        judged = list(executor.map(judge, builds, chunksize=_CHUNK))
    decision, before = decide(stated), places(stated.findings)
    said = dict(before)
    # What only some draw finds is looked up there: it must not go unseen.
    for one, kept_of_it in zip(drawn(build, scatter, count, seed), judged, strict=True):
        if strangers(kept_of_it, said):
            said = places(design(one).findings) | said
    return Draws(
        title=build.title,
        invented=build.invented,
        count=count,
        seed=seed,
        scatter=scatter,
        stated=decision.verdict.value,
        no_go=chance("no go", sum(not one.go for one in judged), count),
        verdicts=verdicts(judged),
        margins=margins(before, said, judged),
        numbers=numbers(kept(stated, decision.verdict.value, go=decision.go), judged),
        uneven=above_guard(build, scatter, judged),
    )


def judge(build: Build) -> Judged:
    """Return what is kept of one draw; a function of the module, so that processes can call it."""
    decision = decide(design(build))
    return kept(decision.design, decision.verdict.value, go=decision.go)
