"""A record held against its plan: nothing unsaid, and nothing off, is ever taken for proven."""

from __future__ import annotations

import datetime as dt

import attrs
import pytest
from hypothesis import given
from hypothesis import strategies as st
from strategies import good_build

from evpack.base.errors import DescriptionError
from evpack.base.units import VOLTAGE
from evpack.commission.plan import held_against, plan_of
from evpack.commission.steps import Stage
from evpack.decide import decide
from evpack.design import design
from evpack.finished import as_built_record, check_as_built, commissioning_plan
from evpack.load.as_built import example_as_built, parse_as_built, read_as_built
from evpack.load.sheet import example, read_sheet
from evpack.outcome.commissioning import (
    AsBuilt,
    Came,
    CommissioningPlan,
    CommissioningStep,
    Proven,
    Written,
)
from evpack.outcome.design import Decision, Verdict

BARN = read_sheet(example("wether-barn"))
PLAN = commissioning_plan(decide(design(BARN)))


def as_expected(step: CommissioningStep) -> Written:
    """Return what is noted of a step that came out as designed."""
    if step.kind is None:
        return True
    low = step.high if step.low is None else step.low
    high = step.low if step.high is None else step.high
    return (low + high) / 2


GOOD = {step.key: as_expected(step) for step in PLAN.steps}


def record(values: dict[str, Written], **more: object) -> AsBuilt:
    told = {"by": "somebody", "on": "2024-10-05", "mark": PLAN.mark} | more
    return AsBuilt(name="r.toml", values=values, **told)


def outcome(values: dict[str, Written], **more: object) -> Proven:
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
    assert outcome(left) is (Proven.AS_DESIGNED if step.later else Proven.NOT_YET)


def test_a_device_that_need_not_be_there_may_stay_open_as_a_whole() -> None:
    left = {step.key: GOOD[step.key] for step in PLAN.steps if not step.optional}
    assert outcome(left) is Proven.AS_DESIGNED
    # Of one that is half entered nobody knows what it shows.
    one = next(step.key for step in PLAN.steps if step.optional)
    assert outcome(left | {one: GOOD[one]}) is Proven.NOT_YET


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


def test_a_yes_is_no_reading() -> None:
    for step in PLAN.steps:
        if step.kind is not None:
            check = held_against(PLAN, record({step.key: True}))
            assert [proof.step for proof in check.of(Came.UNKNOWN)] == [step]


@pytest.mark.parametrize("on", ["soon", "2026-13-01", "20261004", "2026-W01-1", "4.10.2026"])
def test_a_day_that_is_none_is_refused(on: str) -> None:
    with pytest.raises(DescriptionError, match="is no date"):
        record(GOOD, on=on)


def test_a_day_to_come_is_refused() -> None:
    today = dt.datetime.now(tz=dt.UTC).date()
    # Somewhere on earth it may be tomorrow already, and nowhere the day after that.
    record(GOOD, on=(today + dt.timedelta(days=1)).isoformat())
    for days in (2, 400):
        with pytest.raises(DescriptionError, match="is still to come"):
            record(GOOD, on=(today + dt.timedelta(days=days)).isoformat())


def test_readings_of_nothing_prove_only_what_may_be_nothing() -> None:
    # A meter that is off, a lead that fell out, a blank that was filled with 0.
    nothing = {step.key: 0.0 for step in PLAN.steps if step.kind is not None}
    proven = {p.step.key for p in held_against(PLAN, record(nothing)).of(Came.PROVEN)}
    inverter = "5_kva_inverter_charger_48_v_class"
    assert proven == {
        *("modules.cell_spread", "modules.string_sum", "modules.string_spread"),
        *(f"closing.precharge_{inverter}", f"closing.meter_{inverter}", "array.spread_south_roof"),
        *("charge.spread_full", "discharge.joints", "later.spread"),
    }


def test_impossible_readings_are_not_taken_for_good_ones() -> None:
    # No string carries less than the mean of all as the busiest, and no highest cell stands
    # 2 V below the mean of all.
    assert outcome(GOOD | {"discharge.sharing": 0.6}) is Proven.OFF
    assert outcome(GOOD | {"charge.highest_cell": 2.02}) is Proven.OFF


def test_whatever_is_a_difference_or_a_size_has_no_sign() -> None:
    for step in PLAN.steps:
        if step.kind is not None and step.high is not None:
            assert step.low is not None
            assert step.low >= 0
            assert held_against(PLAN, record({step.key: -0.001})).of(Came.OFF)


# --- A record of another state of the design ---------------------------------------------------


def changed(**what: object) -> CommissioningPlan:
    return commissioning_plan(decide(design(attrs.evolve(BARN, **what))))


def thicker() -> CommissioningPlan:
    """Return the plan of a barn with other main cables, which is a go as well."""
    main = BARN.cabling.main
    return changed(cabling=attrs.evolve(BARN.cabling, main=attrs.evolve(main, length="1.7 m")))


def test_a_record_of_another_state_of_the_design_is_told() -> None:
    check = held_against(PLAN, record(GOOD, mark="0" * 12))
    assert check.other_plan
    # Nobody can tell what was asked, so nothing is proven, and nothing is lost either.
    assert len(check.of(Came.STALE)) == len(PLAN.steps)
    assert check.outcome is Proven.NOT_YET


def test_other_entries_leave_the_parts_proven_and_ask_for_the_entries() -> None:
    other = changed(policy=attrs.evolve(BARN.policy, reserve="35 %"))
    check = held_against(other, record(GOOD, asked=PLAN.asked))
    assert check.other_plan
    assert check.of(Came.STALE) == ()
    off = {proof.step.key for proof in check.of(Came.OFF)}
    assert "settings.5_kva_inverter_charger_48_v_class_changeover_to_the_utility" in off
    assert all(key.startswith(("settings.", "discharge.")) for key in off)


def test_with_other_parts_what_was_proven_of_the_whole_is_asked_again() -> None:
    other = thicker()
    assert not other.withheld
    check = held_against(other, record(GOOD, asked=PLAN.asked))
    stale = {proof.step.key for proof in check.of(Came.STALE)}
    assert {"parts.joints", "closing.polarity", "discharge.resistance"} <= stale
    assert not any(key.startswith("settings.") for key in stale)
    assert check.outcome is not Proven.AS_DESIGNED


def test_what_still_holds_is_carried_to_a_new_record_unsigned() -> None:
    other = thicker()
    old = record(GOOD, asked=PLAN.asked)
    again = parse_as_built(as_built_record(other, begun=old), other)
    proven = {proof.step.key for proof in held_against(other, old).of(Came.PROVEN)}
    assert set(again.values) == proven
    check = held_against(other, again)
    assert {proof.step.key for proof in check.of(Came.PROVEN)} == proven
    assert not check.other_plan
    assert not check.signed


# --- Any design --------------------------------------------------------------------------------


@given(
    strings=st.integers(1, 6),
    reserve=st.integers(10, 60),
    error=st.integers(1, 30),
    known=st.booleans(),
)
def test_of_any_design_what_is_expected_passes_and_an_empty_record_never(
    strings: int, reserve: int, error: int, *, known: bool
) -> None:
    build = good_build()
    module = build.pack.module if known else attrs.evolve(build.pack.module, resistance=None)
    made = design(
        attrs.evolve(
            build,
            pack=attrs.evolve(build.pack, strings=strings, module=module),
            policy=attrs.evolve(
                build.policy, reserve=f"{reserve} %", meter_accuracy=f"{error / 10} %"
            ),
        )
    )
    plan = plan_of(Decision(verdict=Verdict.WORKS, design=made, held_by=(), limits=()))
    bound = [step for step in plan.steps if step.kind is None or step.low is not None]
    full = AsBuilt(
        name="r",
        by="x",
        on="2024-10-05",
        mark=plan.mark,
        values={step.key: as_expected(step) for step in bound},
    )
    check = held_against(plan, full)
    assert [proof.step for proof in check.of(Came.PROVEN)] == bound
    everything_bound = len(bound) == len(plan.steps)
    assert (check.outcome is Proven.AS_DESIGNED) == everything_bound
    empty = AsBuilt(name="r", by="x", on="2024-10-05", mark=plan.mark)
    assert held_against(plan, empty).outcome is Proven.NOT_YET


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
