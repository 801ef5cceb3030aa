"""A record held against its plan: nothing unsaid, and nothing off, is ever taken for proven."""

from __future__ import annotations

import attrs
import pytest
from hypothesis import given
from hypothesis import strategies as st

from evpack.base.units import VOLTAGE
from evpack.commission.against import held_against
from evpack.commission.steps import Stage
from evpack.decide import decide
from evpack.design import design
from evpack.finished import as_built_record, check_as_built, commissioning_plan
from evpack.load.as_built import example_as_built, parse_as_built, read_as_built
from evpack.load.sheet import example, read_sheet
from evpack.outcome.commissioning import AsBuilt, Came, CommissioningStep, Proven, Written

PLAN = commissioning_plan(decide(design(read_sheet(example("wether-barn")))))


def as_expected(step: CommissioningStep) -> Written:
    """Return what is noted of a step that came out as designed."""
    if step.kind is None:
        return True
    low = step.high if step.low is None else step.low
    high = step.low if step.high is None else step.high
    return (low + high) / 2


GOOD = {step.key: as_expected(step) for step in PLAN.steps}


def record(values: dict[str, Written], **more: str) -> AsBuilt:
    told = {"by": "somebody", "on": "2026-10-04", "mark": PLAN.mark} | more
    return AsBuilt(name="r.toml", values=values, **told)


def outcome(values: dict[str, Written], **more: str) -> Proven:
    return held_against(PLAN, record(values, **more)).outcome


def test_all_as_expected_is_built_as_designed() -> None:
    check = held_against(PLAN, record(GOOD))
    assert check.outcome is Proven.AS_DESIGNED
    assert len(check.of(Came.PROVEN)) == len(PLAN.steps)
    assert not check.other_plan


def test_an_empty_record_proves_nothing() -> None:
    check = check_as_built(PLAN, parse_as_built(as_built_record(PLAN), PLAN))
    assert check.outcome is Proven.NOT_YET
    assert len(check.of(Came.OPEN)) == len(PLAN.steps)
    assert not check.signed


@pytest.mark.parametrize("key", [step.key for step in PLAN.steps])
def test_one_step_that_is_missing_is_open_unless_it_may_wait(key: str) -> None:
    step = next(step for step in PLAN.steps if step.key == key)
    left = {other: value for other, value in GOOD.items() if other != key}
    waits = step.later or step.optional
    assert outcome(left) is (Proven.AS_DESIGNED if waits else Proven.NOT_YET)


@given(data=st.data())
def test_one_value_outside_its_band_is_told(data: st.DataObject) -> None:
    step = data.draw(st.sampled_from(PLAN.steps))
    if step.kind is None:
        wrong: Written = False
    else:
        up = step.high is not None and (step.low is None or data.draw(st.booleans()))
        bound = step.high if up else step.low
        far = data.draw(st.floats(1e-6, 10)) * max(abs(bound), 1e-3)
        wrong = bound + far if up else bound - far
    check = held_against(PLAN, record(GOOD | {step.key: wrong}))
    assert check.outcome is Proven.OFF
    assert [proof.step for proof in check.of(Came.OFF)] == [step]


@given(values=st.dictionaries(st.sampled_from(sorted(GOOD)), st.floats(-1e3, 1e3) | st.booleans()))
def test_as_designed_means_every_due_step_lies_in_its_band(values: dict[str, Written]) -> None:
    check = held_against(PLAN, record(values))
    due = [step for step in PLAN.steps if not (step.later or step.optional)]
    inside = all(
        values.get(step.key) is True
        if step.kind is None
        else step.key in values
        and (step.low is None or values[step.key] >= step.low * (1 - 1e-8))
        and (step.high is None or values[step.key] <= step.high * (1 + 1e-8))
        for step in due
    )
    assert not (check.outcome is Proven.AS_DESIGNED and not inside)


def test_a_bound_itself_is_met() -> None:
    for step in PLAN.steps:
        for bound in (step.low, step.high):
            if step.kind is not None and bound is not None:
                check = held_against(PLAN, record({step.key: bound}))
                assert check.of(Came.PROVEN)[0].step is step


@pytest.mark.parametrize("unsigned", [{"by": ""}, {"on": ""}])
def test_nothing_is_proven_that_nobody_vouches_for(unsigned: dict[str, str]) -> None:
    assert outcome(GOOD, **unsigned) is Proven.NOT_YET


def test_a_value_that_the_design_does_not_expect_proves_nothing() -> None:
    unbound = Stage("s", "S").reads("a", "t", "d", kind=VOLTAGE)
    plan = attrs.evolve(PLAN, steps=(unbound,))
    check = held_against(plan, record({"s.a": 3.0}, mark=plan.mark))
    assert check.of(Came.UNKNOWN)
    assert check.outcome is Proven.NOT_YET


def test_a_record_of_another_state_of_the_design_is_told() -> None:
    assert held_against(PLAN, record(GOOD, mark="0" * 12)).other_plan


def test_no_record_lets_a_design_that_is_no_go_be_switched_on() -> None:
    held = commissioning_plan(decide(design(read_sheet(example("low-shed")))))
    assert held_against(held, record(GOOD)).outcome is Proven.NOT_ALLOWED


def test_the_example_record_tells_the_two_things_that_went_wrong_in_its_story() -> None:
    check = check_as_built(PLAN, example_as_built("wether-barn"))
    assert check.outcome is Proven.OFF
    assert [proof.step.key for proof in check.of(Came.OFF)] == [
        "settings.60_a_solar_charge_controller_temperature_compensation",
        "discharge.main_5_kva_inverter_charger_48_v_class",
    ]
    assert not check.other_plan
    assert read_as_built(example_as_built("wether-barn"), PLAN).by.endswith("(invented)")
