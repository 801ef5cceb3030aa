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
from evpack.outcome.search import Candidate
from evpack.search.arrangements import search_arrangements
from evpack.search.changes import changed
from evpack.search.tradeoff import search_trade_offs


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


@settings(max_examples=10)
@given(build=sound_builds(), modules=st.integers(1, 5))
def test_nothing_beats_a_trade_off_in_everything(build: Build, modules: int) -> None:
    found = search_trade_offs(build, modules)

    def merits(candidate: Candidate) -> tuple[float, ...]:
        target = next(c.value for c in candidate.changes if c.place == "policy.charge_target")
        return (
            candidate.usable or 0.0,
            candidate.margin or -1.0,
            -float(candidate.modules),
            -float(str(target)[:-2]),
        )

    every = [merits(c) for c in (*found.front, *found.others)]
    for one in found.front:
        mine = merits(one)
        assert not any(
            all(a >= b + 1e-9 for a, b in zip(other, mine, strict=True)) for other in every
        )
    for one in found.others:
        mine = merits(one)
        assert any(
            all(a >= b - 1e-9 for a, b in zip(merits(better), mine, strict=True))
            for better in found.front
        )


def test_a_lower_charge_target_gives_energy_away() -> None:
    found = search_trade_offs(good_build(), 6)
    assert len(found.front) > 1
    best, *_, last = found.front
    assert best.usable is not None
    assert last.usable is not None
    assert best.usable > last.usable


def test_of_a_graded_heap_only_the_accepted_modules_count() -> None:
    heap = match_heap(read_batch(example_batch("hill-heap")), proven=False)
    accepted = sum(graded.grade is Grade.ACCEPT for graded in heap.graded)
    assert 0 < accepted < len(heap.graded)
    found = search_arrangements(good_build(), heap)
    assert f"up to {accepted} modules" in found.asked
