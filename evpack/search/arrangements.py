"""Which series and parallel arrangements the modules at hand allow, and which suit the equipment.

Every arrangement of whole modules, leave-outs included, goes through the whole design.
"""

from __future__ import annotations

from concurrent.futures import Executor

import attrs

from evpack.base.errors import DescriptionError
from evpack.describe.build import Build
from evpack.describe.checked import need
from evpack.outcome.matching import Grade, Matching
from evpack.outcome.search import Ranking
from evpack.search.changes import arranged
from evpack.search.judge import Progress, Wanted, better_first, judge_all

_MOST = 400  # modules, as a pack takes


def with_modules(build: Build, at_hand: int) -> Build:
    """Return the build with so many modules at hand."""
    module = attrs.evolve(build.pack.module, available=at_hand)
    return attrs.evolve(build, pack=attrs.evolve(build.pack, module=module))


def search_arrangements(
    build: Build,
    modules: int | Matching | None = None,
    *,
    executor: Executor | None = None,
    progress: Progress | None = None,
) -> Ranking:
    """Return every arrangement of the modules at hand, best first.

    Parameters
    ----------
    build : Build
        Its equipment, cables and load are kept.
    modules : int or Matching, optional
        How many modules are at hand, or a graded heap, of which the accepted ones count; by default
        what the build says is available.
    executor : Executor, optional
        Carries the work: a process pool, or that of a distributed engine.
    progress : function, optional
        Called with how many are done, and of how many.

    Raises
    ------
    DescriptionError
        Nobody said how many modules there are.
    """
    need("search_arrangements", build, Build)
    module = build.pack.module
    at_hand = module.available if modules is None else modules
    if isinstance(at_hand, Matching):
        at_hand = len(at_hand.of(Grade.ACCEPT))
    if at_hand is None:
        raise DescriptionError(
            "how many modules are at hand is not known: say available under [module], or give "
            "modules"
        )
    if isinstance(at_hand, bool) or not isinstance(at_hand, int) or not 1 <= at_hand <= _MOST:
        raise DescriptionError(f"modules must be a count from 1 to {_MOST}, got {at_hand}")
    stocked = with_modules(build, at_hand)
    wanted: list[Wanted] = [
        (f"{series} in series, {strings} in parallel", arranged(series, strings))
        for series in range(1, at_hand + 1)
        for strings in range(1, at_hand // series + 1)
    ]
    found = judge_all(stocked, wanted, executor=executor, progress=progress)
    return Ranking(
        title=build.title,
        asked=f"Every arrangement of up to {at_hand} modules of {module.cells_in_series} cells in "
        f"series: {len(found)} of them, each through the whole design.",
        build=stocked,
        candidates=tuple(sorted(found, key=better_first)),
        note="Cables, fuses and switches are those of the build: what holds an arrangement up may "
        "be no more than a cable that would be bought otherwise.",
    )
