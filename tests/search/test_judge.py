"""Many builds, each through the whole design: one path of judgement, on one processor or two."""

from __future__ import annotations

from concurrent.futures import ProcessPoolExecutor, ThreadPoolExecutor

import pytest
from hypothesis import given
from hypothesis import strategies as st
from strategies import (
    builds,
    good_array,
    good_build,
    good_charger,
    good_inverter,
    solar_charger,
    sound_builds,
)

from evpack.base.errors import DescriptionError
from evpack.decide import decide
from evpack.describe.build import Build
from evpack.design import design
from evpack.outcome.design import Verdict
from evpack.outcome.search import Change
from evpack.search.changes import arranged, changed
from evpack.search.judge import judge_all, judged


def change(place: str, value: object) -> Change:
    return Change(place=place, value=value, says=f"{place} otherwise")


def test_nothing_changed_is_the_same_build() -> None:
    build = good_build()
    assert changed(build, ()) is build


def test_every_place_is_changed_where_it_says() -> None:
    build = changed(
        good_build(),
        (
            *arranged(1, 5),
            change("policy.charge_target", "4.0 V"),
            change("policy.reserve", "30 %"),
            change("load.continuous", "1 kW"),
            change("inverter", good_inverter(name="other", continuous="5 kW")),
            change("inverter.count", 2),
            change("protection.main_fuse", "nh-gg"),
        ),
    )
    assert (build.pack.modules_in_series, build.pack.strings) == (1, 5)
    assert build.policy.charge_target is not None
    assert float(build.policy.charge_target.m) == 4.0
    assert float(build.policy.reserve.m) == pytest.approx(0.3)
    # The load was 2 kW, at its peak 4 kW: the peak is another thing, and what is typical stays.
    assert build.load.peak is not None
    assert build.load.typical is not None
    assert [float(w.m) for w in (build.load.continuous, build.load.peak, build.load.typical)] == [
        1000.0,
        4000.0,
        500.0,
    ]
    (inverter,) = build.inverters
    assert (inverter.name, inverter.count) == ("inverter", 2)
    assert inverter.continuous is not None
    assert float(inverter.continuous.m) == 5000.0
    assert build.safeguards.main_fuse == "nh-gg"


def test_a_place_that_is_none_is_refused_with_the_nearest() -> None:
    with pytest.raises(DescriptionError, match=r"'pack.string'.*did you mean 'pack.strings'"):
        changed(good_build(), (change("pack.string", 2),))
    with pytest.raises(DescriptionError, match="an inverter is needed"):
        changed(good_build(), (change("inverter", "big"),))
    with pytest.raises(DescriptionError, match="a charger is needed"):
        changed(good_build(), (change("charger", "big"),))


def test_a_candidate_says_what_the_design_found() -> None:
    build = good_build()
    found, made = judged(build, "as it is"), design(build)
    assert found.verdict is decide(made).verdict is Verdict.WORKS
    assert found.go
    assert made.usable is not None
    assert found.usable == made.usable.reachable.value
    # 2 · 3 modules of 10.
    assert (found.modules, found.left_out) == (6, 4)
    assert found.margin is not None
    assert found.margin > 0


@given(build=st.one_of(builds(), sound_builds()))
def test_stopping_early_never_changes_whether_it_may_be_built(build: Build) -> None:
    early, whole = judged(build, "early", whole=False), judged(build, "whole")
    assert early.go == whole.go
    assert early.keys <= whole.keys
    if early.go:
        assert early == judged(build, "early")


def test_the_answer_is_the_same_on_one_processor_and_on_several() -> None:
    build = good_build()
    wanted = [(f"{n} × {p}", arranged(n, p)) for n in range(1, 6) for p in range(1, 9)]
    alone = judge_all(build, wanted)
    with ThreadPoolExecutor(2) as threads, ProcessPoolExecutor(2) as processes:
        assert judge_all(build, wanted, executor=threads) == alone
        assert judge_all(build, wanted, executor=processes) == alone


def test_progress_is_told_to_the_end() -> None:
    told: list[tuple[int, int]] = []
    wanted = [(str(p), arranged(2, p)) for p in range(1, 71)]
    judge_all(good_build(), wanted, progress=lambda done, of: told.append((done, of)))
    assert told == [(32, 70), (64, 70), (70, 70)]


def test_what_cannot_be_is_told_and_raises_nothing() -> None:
    # The panels feed the charger that is built into the inverter that goes.
    fed = good_inverter(charger=solar_charger(name="inside"))
    build = good_build(inverters=(fed,), arrays=(good_array(feeds="inside"),))
    swap = Change(place="inverter", value=good_inverter(name="bare"), says="bare")
    found = judged(build, "bare", (swap,))
    assert found.verdict is Verdict.DOES_NOT_WORK
    assert [held.rule for held in found.held_by] == ["build.impossible"]
    assert "no charger is called so" in found.held_by[0].detail
    assert found.modules == build.pack.modules


def test_each_of_several_inverters_gets_the_built_in_charger_with_a_name_of_its_own() -> None:
    two = tuple(good_inverter(name=name) for name in ("left", "right"))
    value = good_inverter(name="both", charger=good_charger(name="inside"))
    made = changed(good_build(inverters=two), (Change(place="inverter", value=value, says="x"),))
    assert [i.charger.name for i in made.inverters] == ["inside, left", "inside, right"]
