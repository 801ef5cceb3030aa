"""Draws from measured scatter: the same with every executor, and nothing goes unseen."""

from __future__ import annotations

import multiprocessing
from collections.abc import Callable
from concurrent.futures import Executor, ProcessPoolExecutor, ThreadPoolExecutor
from typing import Any

import attrs
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from strategies import (
    OXIDE,
    builds,
    good_build,
    good_charger,
    good_inverter,
    good_module,
    good_pack,
    good_site,
    magnitude,
    with_charger,
    with_module,
    with_pack,
    with_policy,
)

from evpack.base.errors import DescriptionError
from evpack.base.finding import Severity
from evpack.decide import decide
from evpack.describe.build import Build
from evpack.describe.ocv import ResistanceCurve
from evpack.describe.scatter import Scatter
from evpack.design import design
from evpack.outcome.draws import Draws
from evpack.simulate.draws import chance, drawn, uneven
from evpack.uncertain import draw_designs

EVERY = Scatter(capacity="5 %", resistance="15 %", accuracy="20 %", temperature="2 K")


def told(draws: Draws) -> Any:
    """Return all that draws say, as plain values."""
    return attrs.asdict(draws, value_serializer=lambda _, __, value: str(value))


def test_the_same_seed_gives_the_same_draws_and_another_others() -> None:
    one, again, other = (
        told(draw_designs(good_build(), EVERY, count=30, seed=seed)) for seed in (1, 1, 2)
    )
    assert one == again
    assert one["numbers"] != other["numbers"]


def processes() -> Executor:
    # Not forked: this process may hold threads by now.
    return ProcessPoolExecutor(2, mp_context=multiprocessing.get_context("spawn"))


@pytest.mark.parametrize("pool", [lambda: ThreadPoolExecutor(2), processes])
def test_an_executor_changes_nothing(pool: Callable[[], Executor]) -> None:
    alone = told(draw_designs(good_build(), EVERY, count=40))
    with pool() as executor:
        assert told(draw_designs(good_build(), EVERY, count=40, executor=executor)) == alone


def test_without_scatter_every_draw_is_the_build() -> None:
    still = draw_designs(good_build(), Scatter(capacity="0 %", temperature="0 K"), count=5)
    assert [(v.what, v.times) for v in still.verdicts] == [("works", 5)]
    assert still.no_go.times == 0
    capacity, resistance, energy, uneven = still.numbers
    assert (capacity.low, capacity.high) == (180.0, 180.0)
    # 10 mOhm * 2 / 3
    assert resistance.middle == pytest.approx(0.02 / 3)
    assert (energy.less, energy.of) == (0, 5)
    assert energy.stated == energy.middle
    assert (uneven.low, uneven.high) == (1.2, 1.2)
    assert still.uneven is None


def test_a_string_has_the_capacity_of_its_least_module() -> None:
    """Two in series, each normal with 10 %: the mean of the lesser is 1 - 0.1 / sqrt(pi).

    The lesser of two standard normals has the mean -1 / sqrt(pi) = -0.5642: 60 Ah * 0.94358.
    """
    found = [
        magnitude(one.pack.module.capacity)
        for one in drawn(good_build(), Scatter(capacity="10 %"), 2000, 3)
    ]
    assert np.mean(found) == pytest.approx(60 * (1 - 0.1 / np.sqrt(np.pi)), rel=3e-3)
    # Three strings: the standard deviation of the lesser, 0.1 * sqrt(1 - 1 / pi), over sqrt(3).
    assert np.std(found) == pytest.approx(60 * 0.1 * np.sqrt(1 - 1 / np.pi) / np.sqrt(3), rel=0.06)


def test_resistance_keeps_its_mean_and_its_curve_moves_along() -> None:
    bends = ResistanceCurve(soc=[0.0, 1.0], ohms=[0.012, 0.010])
    build = with_module(resistance_curve=bends)
    found = list(drawn(build, Scatter(resistance="10 %"), 1500, 4))
    values = [magnitude(one.pack.module.resistance) for one in found]
    # In parallel a little less than the mean: 10 % over sqrt(2) in a string, so by 0.5 % * 2 / 3.
    assert np.mean(values) == pytest.approx(0.010, rel=0.01)
    for one in found[:20]:
        curve = one.pack.module.resistance_curve
        assert curve is not None
        factor = magnitude(one.pack.module.resistance) / 0.010
        assert curve.ohms == pytest.approx(bends.ohms * factor)


def test_what_is_unknown_stays_unknown() -> None:
    build = good_build(
        pack=good_pack(module=good_module(resistance=None)),
        chargers=(good_charger(accuracy=None),),
        inverters=(good_inverter(meter_accuracy=None, charger=good_charger(name="built in")),),
        site=good_site(coldest=None),
    )
    (one,) = drawn(build, EVERY, 1, 1)
    assert one.pack.module.resistance is None
    assert one.chargers[0].accuracy is None
    assert one.inverters[0].meter_accuracy is None
    built_in = one.inverters[0].charger
    assert magnitude(built_in.accuracy) != 0.005  # type: ignore[union-attr]
    assert one.site.coldest is None
    draws = draw_designs(build, EVERY, count=4)
    assert draws.no_go.times == 4
    assert draws.numbers[0].name == "capacity of the pack"
    assert "resistance of the pack" not in [number.name for number in draws.numbers]


@given(build=builds(), seed=st.integers(0, 5))
def test_whatever_is_described_can_be_drawn(build: Build, seed: int) -> None:
    for one in drawn(build, EVERY, 2, seed):
        assert magnitude(one.pack.module.capacity) > 0
        assert design(one).findings
        if one.site.coldest is not None and one.site.warmest is not None:
            assert one.site.coldest.m <= one.site.warmest.m


def test_nothing_is_drawn_of_what_does_not_scatter() -> None:
    (one,) = drawn(good_build(), Scatter(temperature="3 K"), 1, 1)
    assert one.pack.module.capacity == good_module().capacity
    assert one.chargers == good_build().chargers
    assert one.site != good_build().site


def test_a_limit_that_is_near_is_passed_in_some_draws() -> None:
    """Cells get as cold as 6 degC: with 4 K some draws lie below 5 degC, and chargers must slow."""
    draws = draw_designs(
        good_build(site=good_site(coldest="1 degC")), Scatter(temperature="3 K"), count=80
    )
    near = [one for one in draws.margins if one.rule.key.startswith(("monitoring", "charging"))]
    assert near
    assert any(one.worst >= Severity.CAUTION for one in near)
    assert len(draws.verdicts) >= 1


def test_how_often_it_holds_is_counted_draw_by_draw() -> None:
    # 14 · (4.2 − 0.01) / 1.005 = 58.37 V are what the cells stand at 0.5 %, 58.34 V at 0.55 %.
    build = with_charger(charge_voltage=("58.35 V", "62.05 V", "0.1 V"))
    draws = draw_designs(build, Scatter(accuracy="30 %"), count=60)
    assert 0 < draws.no_go.times < 60
    settable = next(one for one in draws.margins if one.rule.key == "charge.settable")
    judged = [decide(design(one)) for one in drawn(build, Scatter(accuracy="30 %"), 60, 1)]
    held = [
        any(f.rule.key == "charge.settable" and f.holds for f in decision.design.findings)
        for decision in judged
    ]
    assert settable.held.times == sum(held)
    assert settable.held.share == pytest.approx(sum(held) / 60)
    assert draws.no_go.times == sum(not decision.go for decision in judged)
    assert settable.low is not None
    assert settable.high is not None
    assert settable.low <= settable.high
    assert settable.unit == "V"
    assert f"{draws.no_go.times} of 60 draws are no go" in str(draws)


def test_what_only_a_draw_finds_is_not_unseen() -> None:
    """At 15 degC and warmer no limit for the cold is asked for; some draws are colder."""
    build = good_build(site=good_site(coldest="15.2 degC"))
    draws = draw_designs(build, Scatter(temperature="8 K"), count=60)
    stated = {(f.rule.key, f.about) for f in design(build).findings}
    seen = {(one.rule.key, one.about) for one in draws.margins}
    new = {
        (f.rule.key, f.about)
        for one in drawn(build, Scatter(temperature="8 K"), 60, 1)
        for f in design(one).findings
    } - stated
    assert new <= seen
    assert new, "some draw finds what the stated build does not"


def test_a_chance_of_none_is_not_nothing() -> None:
    """None in n draws: the chance p with (1 - p)^n = 5 %; of 100, 1 - 0.05^(1/100) = 2.951 %."""
    none = chance("x", 0, 100)
    assert none.share == 0
    assert none.at_most == pytest.approx(1 - 0.05**0.01, rel=1e-6)
    assert chance("x", 100, 100).at_most == 1
    assert chance("x", 50, 100).at_most > 0.5


def test_what_is_wished_for_has_a_lower_bound() -> None:
    """All of n draws: the chance p with p^n = 5 %; of 100, 0.05^(1/100) = 97.05 %."""
    assert chance("x", 100, 100, wished=True).at_least == pytest.approx(0.05**0.01, rel=1e-6)
    assert chance("x", 0, 100).at_least == 0
    half = chance("x", 50, 100)
    assert half.at_least < 0.5 < half.at_most
    draws = draw_designs(with_charger(charge_voltage=("56.1 V", "62 V", "0.1 V")), EVERY, count=40)
    good = {"works", "works with limits"}
    assert {one.what: one.wished for one in draws.verdicts} == {
        one.what: one.what in good for one in draws.verdicts
    }
    assert {one.wished for one in draws.verdicts} == {True, False}
    assert not draws.no_go.wished


@pytest.mark.parametrize(
    ("ohms", "worst"),
    [
        ([1.0], 1.0),
        ([1.0, 1.0, 1.0], 1.0),
        # They take 1 and 1/2: 1 against a mean of 3/4.
        ([1.0, 2.0], 4 / 3),
        # All three on: 1 against 5/6. Without one of the quick two: 1 against 3/4.
        ([2.0, 1.0, 1.0], 4 / 3),
        # All on: 1 against 2/3. With either slow one out 1 against 3/4: less.
        ([2.0, 1.0, 2.0], 3 / 2),
    ],
)
def test_the_busiest_string_by_hand(ohms: list[float], worst: float) -> None:
    assert uneven(np.array(ohms)) == pytest.approx(worst)


def test_strings_that_are_drawn_apart_move_what_is_found_of_them() -> None:
    scatter = Scatter(resistance="40 %")
    draws = draw_designs(good_build(), scatter, count=60)
    guards = [
        magnitude(one.policy.sharing_imbalance) for one in drawn(good_build(), scatter, 60, 1)
    ]
    assert min(guards) == 1.2, "never below the guard"
    above = sum(guard > 1.2 for guard in guards)
    assert 0 < above < 60
    assert draws.uneven is not None
    assert draws.uneven.times == above
    worst = draws.numbers[3]
    assert worst.stated == 1.2
    assert worst.high > 1.2
    one_out = {
        design(one).sharing.one_out.value  # type: ignore[union-attr]
        for one in drawn(good_build(), scatter, 60, 1)
    }
    assert len(one_out) == above + 1


def test_a_guard_that_is_wide_stays_and_one_string_has_none() -> None:
    wide = with_policy(sharing_imbalance="300 %")
    draws = draw_designs(wide, Scatter(resistance="40 %"), count=10)
    assert draws.uneven is not None
    assert draws.uneven.times == 0
    alone = draw_designs(with_pack(strings=1), Scatter(resistance="40 %"), count=3)
    assert alone.uneven is None
    assert len(alone.numbers) == 3


def test_where_the_stated_energy_lies_is_counted() -> None:
    """A string has the capacity of its least module: nearly all draws hold less than is stated."""
    draws = draw_designs(good_build(), Scatter(capacity="5 %"), count=40)
    energy = draws.numbers[2]
    own = design(good_build()).usable
    assert own is not None
    assert energy.stated == own.reachable.value
    reached = [
        design(one).usable.reachable.value  # type: ignore[union-attr]
        for one in drawn(good_build(), Scatter(capacity="5 %"), 40, 1)
    ]
    assert energy.less == sum(value < own.reachable.value for value in reached)
    assert energy.less > 30
    # At a capacity and a load that nobody knows nothing is reachable, and nothing is counted.
    unknown = draw_designs(with_module(resistance=None), Scatter(capacity="5 %"), count=3)
    assert "reachable energy" not in [number.name for number in unknown.numbers]


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({}, "say at least one"),
        ({"capacity": "60 %"}, "capacity must lie between 0 and 50 %"),
        ({"resistance": "-1 %"}, "believable|must lie between"),
        ({"temperature": "-2 K"}, "must not lie below 0 K"),
    ],
)
def test_a_scatter_that_is_none_is_refused(fields: dict[str, str], words: str) -> None:
    with pytest.raises((DescriptionError, ValueError), match=words):
        Scatter(**fields)


def test_no_draws_are_refused() -> None:
    with pytest.raises(DescriptionError, match="count must lie between"):
        draw_designs(good_build(), EVERY, count=0)
    with pytest.raises(DescriptionError, match="a Scatter is needed"):
        draw_designs(good_build(), OXIDE)  # type: ignore[arg-type]
