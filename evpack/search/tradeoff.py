"""What is gained and given up: candidates of which none beats another in everything."""

from __future__ import annotations

import math
from collections.abc import Sequence
from concurrent.futures import Executor

import numpy as np

from evpack.describe.build import Build
from evpack.describe.checked import need
from evpack.outcome.matching import Matching
from evpack.outcome.search import Candidate, Change, TradeOff
from evpack.search.arrangements import counted_modules, stocked
from evpack.search.changes import arranged
from evpack.search.judge import Progress, Wanted, judge_all

_TARGETS = 8  # charge targets that are tried, from the chemistry's own down
_TARGET_STEP = 0.02  # [V/cell]


def search_trade_offs(
    build: Build,
    modules: int | Matching | None = None,
    *,
    executor: Executor | None = None,
    progress: Progress | None = None,
) -> TradeOff:
    """Return which arrangements and charge targets are worth a choice.

    Held against one another are usable energy, the margin of the nearest check, modules taken and
    the charge target, which is what the cells' life hangs on: lower is kinder.

    Parameters
    ----------
    modules : int or Matching, optional
        How many modules are at hand, or a graded heap, of which the accepted ones count; by
        default what the build says is available, else what it takes.
    """
    need("search_trade_offs", build, Build)
    if modules is None and build.pack.module.available is None:
        modules = build.pack.modules
    at_hand = counted_modules(build, modules)
    stock = stocked(build, at_hand)
    wanted: list[Wanted] = [
        (f"{series} × {strings}, {target.says}", (*stock, *arranged(series, strings), target))
        for series in range(1, at_hand + 1)
        for strings in range(1, at_hand // series + 1)
        for target in _charge_targets(build)
    ]
    found = judge_all(build, wanted, executor=executor, progress=progress)
    can = [candidate for candidate in found if candidate.go and candidate.usable is not None]
    front = _front(can)
    return TradeOff(
        build=build,
        front=tuple(sorted(front, key=lambda c: -(c.usable or 0.0))),
        others=tuple(c for c in can if c not in front),
    )


def _charge_targets(build: Build) -> tuple[Change, ...]:
    targets = build.pack.module.chemistry.targets
    if targets is None:
        return ()
    chosen = build.policy.charge_target  # who chose a lower one had a reason
    top = min(float(targets.charge.m), math.inf if chosen is None else float(chosen.m))
    return tuple(
        Change(
            place="policy.charge_target",
            value=f"{top - _TARGET_STEP * k:.3f} V",
            says=f"{top - _TARGET_STEP * k:.2f} V a cell",
        )
        for k in range(_TARGETS)
    )


def _front(candidates: Sequence[Candidate]) -> list[Candidate]:
    """Return those that no other equals in everything and beats in something."""
    if not candidates:
        return []
    good = np.array([_merits(candidate) for candidate in candidates])
    kept = []
    for k, one in enumerate(good):
        as_good = (good >= one - 1e-12).all(axis=1)
        better = (good > one + 1e-12).any(axis=1)
        if not (as_good & better).any():
            kept.append(candidates[k])
    return kept


def _merits(candidate: Candidate) -> tuple[float, ...]:
    """Return what more of is better: energy, margin, fewer modules, a lower charge target."""
    target = next(
        float(str(change.value).split()[0])
        for change in candidate.changes
        if change.place == "policy.charge_target"
    )
    margin = -1.0 if candidate.margin is None else candidate.margin
    return (candidate.usable or 0.0, margin, -float(candidate.modules), -target)
