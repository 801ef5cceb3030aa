"""Every arrangement of whole modules, ranked; the best is the best that brute force finds."""

from __future__ import annotations

import attrs
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from strategies import good_build, sound_builds

from evpack.base.errors import DescriptionError
from evpack.decide import decide
from evpack.describe.build import Build
from evpack.design import design
from evpack.load.batch import example_batch, read_batch
from evpack.matching import match_heap
from evpack.outcome.matching import Grade
from evpack.search.arrangements import search_arrangements
from evpack.search.changes import arranged, at_hand, changed
from evpack.search.judge import judged


def test_every_arrangement_of_seven_modules_is_there_once() -> None:
    found = search_arrangements(good_build(), 7)
    # Strings for 1, 2 … 7 in series: 7 + 3 + 2 + 1 + 1 + 1 + 1.
    assert len(found.candidates) == 16
    assert len({c.name for c in found.candidates}) == 16
    assert {c.modules + c.left_out for c in found.candidates} == {7}


def test_two_in_series_win_and_as_many_strings_as_there_are() -> None:
    found = search_arrangements(good_build(), 7)
    assert found.best is not None
    # 14 cells suit the 48 V inverter; 7 and 21 do not. Six of seven modules go in.
    assert found.best.name == "2 in series, 3 in parallel"
    assert all(c.name.startswith("2 in series") for c in found.winners)
    losers = [c for c in found.candidates if not c.go]
    assert all(c.held_by for c in losers)


def test_how_many_there_are_must_be_known() -> None:
    build = good_build()
    module = attrs.evolve(build.pack.module, available=None)
    bare = attrs.evolve(build, pack=attrs.evolve(build.pack, module=module))
    with pytest.raises(DescriptionError, match="available"):
        search_arrangements(bare)
    for wrong in (0, -1, 401, True):
        with pytest.raises(DescriptionError, match="count from 1 to 400"):
            search_arrangements(bare, wrong)
    assert search_arrangements(bare, 2).candidates


@settings(max_examples=25)
@given(build=sound_builds(), modules=st.integers(1, 8))
def test_the_best_is_what_brute_force_finds(build: Build, modules: int) -> None:
    found = search_arrangements(build, modules)
    can = {}
    for candidate in found.candidates:
        made = design(changed(found.build, candidate.changes))
        # Nothing is called a go that the decision would hold up, nor the other way round.
        assert candidate.go == decide(made).go
        if candidate.go:
            assert made.usable is not None
            can[candidate.name] = made.usable.reachable.value
    if not can:
        assert found.best is None
    else:
        assert found.best is not None
        assert can[found.best.name] == max(can.values())


def test_what_stays_on_the_heap_is_told_in_energy_and_in_money() -> None:
    found = search_arrangements(good_build(), 7, module_price="40 EUR")
    assert found.best is not None
    assert found.money == "EUR"
    # By hand: one module of seven cells in series stays, 7 × 3.65 V × 60 Ah.
    assert found.best.left_out == 1
    assert found.best.stranded == pytest.approx(7 * 3.65 * 60)
    assert found.best.stranded_worth == 40.0
    none = next(c for c in found.candidates if c.left_out == 0)
    assert (none.stranded, none.stranded_worth) == (0.0, 0.0)


def test_what_a_module_is_worth_may_be_left_unsaid_and_must_be_a_price() -> None:
    found = search_arrangements(good_build(), 3)
    assert {c.stranded_worth for c in found.candidates} == {None}
    assert found.money == ""
    with pytest.raises(DescriptionError, match="is no price"):
        search_arrangements(good_build(), 3, module_price="forty")


def test_modules_that_are_missing_strand_nothing() -> None:
    few = judged(good_build(), "too many", (at_hand(2), *arranged(2, 3)))
    assert few.left_out == -4
    assert few.stranded is None


def test_of_a_graded_heap_only_the_accepted_modules_count() -> None:
    heap = match_heap(read_batch(example_batch("hill-heap")), proven=False)
    accepted = sum(graded.grade is Grade.ACCEPT for graded in heap.graded)
    assert 0 < accepted < len(heap.graded)
    found = search_arrangements(good_build(), heap)
    assert f"up to {accepted} modules" in found.asked
