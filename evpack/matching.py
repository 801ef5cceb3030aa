"""The thread from a heap of modules to matched strings: grade, group, join.

Read this first; each step is a module of the room `evpack/match/`.
"""

from __future__ import annotations

import attrs

from evpack.base.finding import Finding
from evpack.describe.batch import Batch
from evpack.describe.checked import need
from evpack.load.grading import grading
from evpack.match.grade import graded
from evpack.match.group import group
from evpack.match.heap import whole
from evpack.match.join import join
from evpack.match.limits import judged
from evpack.outcome.matching import Matching


def match_heap(batch: Batch, *, seconds: float = 10.0, proven: bool = True) -> Matching:
    """Grade a heap of modules, group those that are fit, and say how to join them.

    Parameters
    ----------
    batch : Batch
        What the user tested and wants; without measures of its own those of the library are taken.
    seconds : float
        About how long to look for the best grouping [s].
    proven : bool
        Whether to look on after the quick answer, and prove how far from the best it can be.

    Returns
    -------
    Matching
        Its findings are those of the heap and of the pack; those of a module are with the module.
        Never raises for a bad module: that is a finding.
    """
    need("match_heap", batch, Batch)
    if not batch.measures:
        batch = attrs.evolve(batch, measures=grading())
    modules = graded(batch)
    findings: list[Finding] = [*judged(batch.measures, grading()), *whole(batch, modules)]
    grouping, careless, found = group(batch, modules, seconds=seconds, proven=proven)
    findings += found
    plan = None
    if grouping is not None:
        plan, found = join(batch, modules, grouping)
        findings += found
    return Matching(
        batch=batch,
        graded=modules,
        grouping=grouping,
        naive=careless,
        join=plan,
        findings=tuple(findings),
    )
