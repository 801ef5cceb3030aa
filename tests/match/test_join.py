"""Joining: the plan against hand-worked numbers and the kernels, and what holds it up."""

from __future__ import annotations

from typing import Any

import pytest
from heaps import LAST, NAMES, a_module, heap, iron_heap, rest
from hypothesis import given
from hypothesis import strategies as st

from evpack.base.finding import Finding, Severity
from evpack.describe.batch import Batch
from evpack.kernels.joining import AMP_HOUR, bus, common_volts, pair
from evpack.match.flows import LOW, ends
from evpack.match.grade import graded
from evpack.match.group import group
from evpack.match.join import join
from evpack.outcome.matching import JoinPlan

OK, NOTE, CAUTION, UNKNOWN, STOP = Severity
Found = tuple[JoinPlan | None, dict[str, list[Finding]]]


def level(volts: float, **changes: Any) -> tuple[Any, ...]:
    return (rest(LAST, (volts,) * 4, **changes),)


def resting(*volts: float, **changes: Any) -> Batch:
    """Return a heap of one module a string, at rest at these cell voltages."""
    # A hair of capacity more, so that the strings stand in this order.
    modules = [
        a_module(name, rests=level(each), capacity=f"{54 + 1e-7 * (len(volts) - place)} Ah")
        for place, (name, each) in enumerate(zip(NAMES, volts, strict=False))
    ]
    fields = {"modules_in_series": 1, "strings": len(volts), "voltage_accuracy": None}
    return heap(modules=modules, **(fields | changes))


def joined(batch: Batch) -> Found:
    modules = graded(batch)
    grouping, _, _ = group(batch, modules, seconds=1.0, proven=False)
    assert grouping is not None
    plan, findings = join(batch, modules, grouping)
    by_rule: dict[str, list[Finding]] = {}
    for finding in findings:
        by_rule.setdefault(finding.rule.key, []).append(finding)
    return plan, by_rule


def severities(found: Found, key: str) -> list[Severity]:
    return [finding.severity for finding in found[1][key]]


def test_two_by_hand() -> None:
    """4.10 and 4.08 V in each of four cell groups are 80 mV; half of 9.6 + 9.6 mΩ is 9.6 mΩ.

    Between 4.07 and 4.11 V the curve rises by 0.228 V for 0.2 of the charge, 54 Ah of it: each
    cell group takes 0.04 · 0.2/0.228 · 54 Ah · 3600 s/h over 0.04 V, 170 526 F, four in series a
    quarter, 42 632 F. Two of them in series are 21 316 F: 80 mV move 1705.3 As or 0.4737 Ah, and
    leave half of 0.08² · 21 316 J. The full 19.2 mΩ give 409.3 s.
    """
    plan, findings = joined(resting(4.10, 4.08))
    assert plan is not None
    assert plan.limit is not None
    assert plan.limit.value == pytest.approx(5.4)  # a tenth of 54 Ah an hour
    (step,) = plan.pairs
    assert step.names == ("string 1", "string 2")
    assert step.current.value == pytest.approx(0.080 / 0.0096)  # 8.33 A
    farads = 0.2 / 0.228 * 54 * 3600 / 4
    assert step.charge.value == pytest.approx(0.08 * farads / 2 / 3600)
    assert step.charge.value == pytest.approx(0.4737, abs=5e-5)
    assert step.heat.value == pytest.approx(0.08**2 * farads / 2 / 2)
    assert step.tau.value == pytest.approx(409.3, abs=0.05)
    assert step.do.startswith("Do not join")
    assert [f.severity for f in findings["join.surge"]] == [STOP]


def test_the_meter_s_error_puts_the_voltages_apart() -> None:
    """Two readings of four cells each, off by 1 mV: 8 mV more over 9.6 mΩ."""
    plan, _ = joined(resting(4.10, 4.095, voltage_accuracy="1 mV"))
    assert plan is not None
    assert plan.pairs[0].current.value == pytest.approx((0.020 + 0.008) / 0.0096)


def test_a_module_read_as_a_whole_counts_one_reading() -> None:
    modules = [
        a_module(name, rests=(rest(LAST, (each,) * 4, voltage=f"{4 * each} V"),))
        for name, each in (("A1", 4.10), ("A2", 4.095))
    ]
    plan, _ = joined(heap(modules=modules, modules_in_series=1, strings=2))
    assert plan is not None
    assert plan.pairs[0].current.value == pytest.approx((0.020 + 0.002) / 0.0096)


def test_three_on_one_bus_by_hand() -> None:
    """16.4 V and twice 16.36 V behind like resistances: the bus stands at 16.3733 V.

    26.67 mV over 4.8 mΩ are 5.556 A, more than the 5.4 A that may flow; each pair alone, 40 mV over
    9.6 mΩ, has 4.167 A.
    """
    plan, findings = joined(resting(4.10, 4.09, 4.09))
    assert plan is not None
    assert len(plan.pairs) == 4
    whole = plan.pairs[-1]
    assert len(whole.names) == 3
    assert whole.current.value == pytest.approx(0.08 / 3 / 0.0048)
    assert [f.severity for f in findings["join.surge"]] == [OK, OK, OK, STOP]


def test_the_worst_on_one_bus_is_the_worst_once_the_meter_is_off() -> None:
    """Half of 12, 8 and 12 mΩ: conductances 166.7, 250 and 166.7 S.

    16.42, 16.40 and 16.40 V: the bus stands at 16.40 + 0.02 · 166.7/583.3 = 16.40571 V. The first
    lies 14.29 mV above it: 2.381 A at 6 mΩ; the second 5.71 mV below: 1.429 A at 4 mΩ. Eight
    readings off by 10 mV are 80 mV more: 13.33 A and 20 A. So the second is the worst, 21.43 A.
    """
    modules = [
        a_module(name, rests=level(v), resistance=r)
        for name, v, r in (
            ("A1", 4.105, "12 mOhm"),
            ("A2", 4.100, "8 mOhm"),
            ("A3", 4.100, "12 mOhm"),
        )
    ]
    plan, _ = joined(
        heap(modules=modules, modules_in_series=1, strings=3, voltage_accuracy="10 mV")
    )
    assert plan is not None
    whole = plan.pairs[-1]
    assert whole.current.value == pytest.approx(0.02 * (1 / 3.5) / 0.004 + 0.080 / 0.004)
    assert whole.current.value == pytest.approx(21.43, abs=0.005)


rows = st.lists(
    st.tuples(st.floats(3.75, 4.15), st.floats(8.1, 12.0), st.floats(48.0, 59.0)),
    min_size=2,
    max_size=4,
)


@given(rows=rows)
def test_the_plan_is_what_the_kernels_say(rows: list[tuple[float, float, float]]) -> None:
    modules = [
        a_module(name, rests=level(v), resistance=f"{r} mOhm", capacity=f"{ah} Ah")
        for name, (v, r, ah) in zip(NAMES, rows, strict=False)
    ]
    fields = {"modules_in_series": 1, "strings": len(rows), "voltage_accuracy": None}
    batch = heap(modules=modules, **fields)
    graded_ = graded(batch)
    grouping, _, _ = group(batch, graded_, seconds=1.0, proven=False)
    assert grouping is not None
    plan, _ = join(batch, graded_, grouping)
    found, _ = ends(batch, graded_, grouping)
    assert plan is not None
    by_name = {end.name: end for end in found}
    for step in plan.pairs:
        held = [by_name[name] for name in step.names]
        volts = [end.volts for end in held]
        slopes = [AMP_HOUR / end.farads for end in held]
        if len(held) == 2:
            at_once = pair(tuple(volts), tuple(LOW * end.ohms for end in held), tuple(slopes))
            slow = pair(tuple(volts), tuple(end.ohms for end in held), tuple(slopes))
            assert step.current.value == pytest.approx(at_once.amps, rel=1e-9)
            assert step.charge.value == pytest.approx(slow.charge, rel=1e-9)
            assert step.heat.value == pytest.approx(sum(slow.heat), rel=1e-9)
            assert step.tau.value == pytest.approx(slow.tau, rel=1e-9)
            continue
    if len(found) > 2:
        whole, volts = plan.pairs[-1], [end.volts for end in found]
        slopes = [AMP_HOUR / end.farads for end in found]
        ohms = [end.ohms for end in found]
        at_once, slow = bus(volts, [LOW * r for r in ohms], slopes), bus(volts, ohms, slopes)
        assert whole.current.value == pytest.approx(at_once.worst, rel=1e-6, abs=1e-9)
        assert whole.charge.value == pytest.approx(abs(slow.moved()).max(), rel=1e-6, abs=1e-9)
        heat = float(slow.let_through() @ ohms)
        assert whole.heat.value == pytest.approx(heat, rel=1e-6, abs=1e-9)
        assert whole.tau.value >= 1 / slow.rates.min() * (1 - 1e-9)
        assert common_volts(volts, slopes) == pytest.approx(
            next(i.value for i in whole.charge.inputs if i.symbol == "U")
        )


# --- The plan ---------------------------------------------------------------------------------


def told(plan: JoinPlan) -> list[str]:
    return [step.do.split(" by itself")[0].split(",")[0] for step in plan.steps]


def test_the_lower_are_charged_up_to_the_highest_and_the_nearest_joined_first() -> None:
    plan, _ = joined(resting(4.02, 3.90, 4.00))
    assert plan is not None
    assert told(plan) == [
        "Disconnect everything",
        "Charge string 2",
        "Charge string 3",
        "Let all rest for 60 min at one temperature",
        "Join string 3 and string 1",
        "Join string 2 to the others",
        "Leave the bus without load until no string's current can be told from nothing",
    ]
    assert plan.steps[1].target.value == pytest.approx(16.08)  # four times 4.02 V
    # Over 3.89 to 4.03 V the curve takes (0.8457 - 0.7038)·54 Ah: 0.12 V of each cell group.
    states = [0.5 + 0.3 * (3.89 - 3.717) / 0.255, 0.8 + 0.2 * (4.03 - 3.972) / 0.228]
    needed = 0.12 * (states[1] - states[0]) / 0.14 * 54
    assert plan.steps[1].charge.value == pytest.approx(needed)
    # 5.4 A through half of 9.6 mΩ are 25.9 mV, more than 5 mV a cell group: 20 mV.
    assert plan.steps[3].target.value == pytest.approx(0.020)
    assert plan.steps[4].current.value == pytest.approx(0.020 / 0.0048)


def test_nothing_is_charged_beyond_the_charge_target() -> None:
    """4.05 V is the charge target: the lower is charged and the higher discharged to it."""
    plan, _ = joined(resting(4.10, 3.90))
    assert plan is not None
    assert told(plan)[1:3] == ["Discharge string 1", "Charge string 2"]
    assert plan.steps[1].target.value == pytest.approx(16.2)
    both = joined(resting(4.12, 4.10))[0]
    assert both is not None
    assert told(both)[1:2] == ["Discharge string 1"]  # to the lower: no more than is needed
    assert both.steps[1].target.value == pytest.approx(16.4)


def test_strings_that_lie_near_each_other_are_only_read_again() -> None:
    plan, findings = joined(resting(4.000, 4.001))
    assert plan is not None
    assert [step[:4] for step in told(plan)] == ["Disc", "Let ", "Join", "Leav"]
    assert plan.pairs[0].do.startswith("May be joined")
    assert {f.severity for several in findings.values() for f in several} == {OK, NOTE, CAUTION}


def test_low_resistance_asks_for_a_closer_voltage() -> None:
    """5 mV for each of four cells are 20 mV, and would drive 20 A through half of 2 mΩ."""
    modules = [a_module(name, resistance="2 mOhm", rests=level(4.0)) for name in NAMES]
    batch = heap(modules=modules, new_resistance="2 mOhm", modules_in_series=1, strings=2)
    plan, _ = joined(batch)
    assert plan is not None
    near = next(step for step in plan.steps if step.do.startswith("Let all rest")).target
    assert near.value == pytest.approx(0.005)  # 5.4 A · 1 mΩ, down to a millivolt


def test_a_tolerance_below_a_step_of_the_meter_is_not_rounded_away() -> None:
    modules = [a_module(name, resistance="0.2 mOhm", rests=level(4.0)) for name in NAMES]
    batch = heap(modules=modules, new_resistance="0.2 mOhm", modules_in_series=1, strings=2)
    plan, _ = joined(batch)
    assert plan is not None
    near = next(step for step in plan.steps if step.do.startswith("Let all rest")).target
    assert near.value == pytest.approx(0.00054)


@given(volts=st.lists(st.floats(3.6, 4.15), min_size=2, max_size=5))
def test_no_step_lets_more_flow_than_may(volts: list[float]) -> None:
    plan, _ = joined(resting(*volts))
    assert plan is not None
    assert plan.limit is not None
    joins = [step for step in plan.steps if step.do.startswith("Join")]
    assert len(joins) == len(volts) - 1
    assert len(joins[-1].names) == len(volts)
    for step in joins:
        assert step.current.value <= plan.limit.value * (1 + 1e-9)


# --- What holds it up -------------------------------------------------------------------------


def test_one_string_has_nothing_to_join() -> None:
    assert joined(resting(4.0, modules_in_series=1)) == (None, {})


def test_a_voltage_that_nobody_read_is_not_guessed() -> None:
    """Retested or not, a module that was not read at rest has no place in a plan."""
    modules = [a_module("A1", rests=level(4.0, rested="5 min")), a_module("A2")]
    found = joined(heap(modules=modules, modules_in_series=1, strings=2))
    assert found[0] is None
    assert severities(found, "join.voltage") == [UNKNOWN]
    assert "A1" in found[1]["join.voltage"][0].detail


@pytest.mark.parametrize(("accuracy", "severity"), [("2 mV", OK), (None, CAUTION)])
def test_a_meter_of_unknown_accuracy_is_said(accuracy: str | None, severity: Severity) -> None:
    found = joined(resting(4.0, 4.0, voltage_accuracy=accuracy))
    assert severities(found, "join.voltage") == [severity]


def test_cells_outside_the_limits_of_the_chemistry_are_not_joined() -> None:
    """2.9 V is above the 2.0 V at which cells are refused and below the 3.0 V they are kept at."""
    found = joined(resting(2.9, 4.0))
    assert severities(found, "join.chemistry") == [STOP, OK]


def test_strings_beyond_the_curve_have_no_charge_to_tell() -> None:
    plan, _ = joined(resting(4.215, 4.215))
    assert plan is not None
    assert plan.pairs[0].current.value == 0
    assert plan.pairs[0].charge is plan.pairs[0].tau is None


def test_a_flat_chemistry_is_joined_only_when_full() -> None:
    found = joined(iron_heap(modules_in_series=2, strings=3))
    assert severities(found, "join.blind") == [OK]
    assert found[0] is not None
    assert [step[:4] for step in told(found[0])] == [
        "Disc",
        "Char",
        "Char",
        "Char",
        "Let ",
        *2 * ["Join"],
        "Leav",
    ]
    assert found[0].steps[1].charge is None
    assert found[0].pairs[-1].charge is None
    assert found[0].steps[1].target.value == pytest.approx(27.6)  # eight times 3.45 V
    blind = joined(iron_heap(full=False, modules_in_series=2, strings=3))
    assert severities(blind, "join.blind") == [STOP]
    # One voltage, and no current to be seen: yet nothing says that they hold one charge.
    assert set(severities(blind, "join.surge")) <= {OK}
    assert blind[0] is not None
    assert sum(step.startswith("Charge") for step in told(blind[0])) == 3


def test_what_is_not_known_here_is_always_said() -> None:
    found = joined(resting(4.0, 4.0))
    assert severities(found, "join.fuse") == [NOTE]
    assert "half of the string fuse" in found[1]["join.fuse"][0].detail
    assert "0 °C" in found[1]["join.fuse"][0].detail
