"""Which series and parallel arrangements the modules at hand allow, and which suit the equipment.

Every arrangement of whole modules, leave-outs included, goes through the whole design.
"""

from __future__ import annotations

from concurrent.futures import Executor

import attrs

from evpack.base.errors import DescriptionError
from evpack.describe.build import Build
from evpack.describe.checked import need
from evpack.load.equipment_list import price_typed
from evpack.outcome.matching import Grade, Matching
from evpack.outcome.search import Change, Ranking
from evpack.search.changes import arranged
from evpack.search.changes import at_hand as at_hand_of
from evpack.search.judge import Progress, Wanted, better_first, judge_all

_MOST = 400  # modules, as a pack takes
_TOLD_IN_FULL = 400  # arrangements up to which each is carried to its end


def stocked(build: Build, modules: int) -> tuple[Change, ...]:
    """Return the change to so many modules at hand; none where the build says the same."""
    return () if build.pack.module.available == modules else (at_hand_of(modules),)


def counted_modules(build: Build, modules: int | Matching | None) -> int:
    """Return how many modules are at hand.

    Raises
    ------
    DescriptionError
        Nobody said so, or it is no count that a pack takes.
    """
    found = build.pack.module.available if modules is None else modules
    if isinstance(found, Matching):
        found = len(found.of(Grade.ACCEPT))
    if found is None:
        raise DescriptionError(
            "how many modules are at hand is not known: say available under [module], or give "
            "modules"
        )
    if isinstance(found, bool) or not isinstance(found, int) or not 1 <= found <= _MOST:
        raise DescriptionError(f"modules must be a count from 1 to {_MOST}, got {found}")
    return found


def search_arrangements(
    build: Build,
    modules: int | Matching | None = None,
    *,
    module_price: str | None = None,
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
    module_price : str, optional
        What one module is worth, as typed: ``"40 EUR"``; what stays on the heap is then told in
        money too.
    executor : Executor, optional
        Carries the work: a process pool, or that of a distributed engine.
    progress : function, optional
        Called with how many are done, and of how many.

    Raises
    ------
    DescriptionError
        Nobody said how many modules there are; a price that is none.
    """
    need("search_arrangements", build, Build)
    module, at_hand = build.pack.module, counted_modules(build, modules)
    stock = stocked(build, at_hand)
    wanted: list[Wanted] = [
        (f"{series} in series, {strings} in parallel", (*stock, *arranged(series, strings)))
        for series in range(1, at_hand + 1)
        for strings in range(1, at_hand // series + 1)
    ]
    each, money = (None, "") if module_price is None else price_typed(module_price)
    whole = len(wanted) <= _TOLD_IN_FULL
    found = judge_all(build, wanted, executor=executor, progress=progress, whole=whole)
    if each is not None:
        found = tuple(attrs.evolve(c, stranded_worth=each * max(0, c.left_out)) for c in found)
    return Ranking(
        title=build.title,
        asked=f"Every arrangement of up to {at_hand} modules of {module.cells_in_series} cells in "
        f"series: {len(found)} of them, each through the whole design.",
        build=build,
        candidates=tuple(sorted(found, key=better_first)),
        money=money,
        note="Cables, fuses and switches are those of the build: what holds an arrangement up may "
        "be no more than a cable that would be bought otherwise."
        + ("" if whole else " Of so many, each is told by what was found first."),
    )
