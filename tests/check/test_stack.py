"""Several inverters on one pack. Worked by hand; severities of the thread: test_design.py."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from strategies import good_build, good_inverter, good_load, groundwork, inverters, loads

from evpack.base.finding import Finding, Severity
from evpack.check.stack import stacks
from evpack.describe.build import Build
from evpack.describe.inverter import Inverter
from evpack.describe.site import Load

OK, NOTE, CAUTION, UNKNOWN, STOP = Severity


def judged(*given: Inverter, **load: Any) -> tuple[Finding, ...]:
    return stacks(groundwork(good_build(inverters=given, load=good_load(**load))))


def found(findings: tuple[Finding, ...], rule: str) -> Finding:
    return next(f for f in findings if f.rule.key == rule)


def unit(name: str, leg: str = "", **changes: Any) -> Inverter:
    return good_inverter(name=name, leg=leg, **changes)


def test_a_single_inverter_has_nothing_to_judge() -> None:
    assert judged(unit("one")) == ()


def test_like_units_in_parallel() -> None:
    every = judged(unit("one", count=3))
    assert [(f.rule.key, f.severity) for f in every] == [
        ("stack.alike", NOTE),
        ("stack.parallel-operation", OK),
        ("stack.own-device", OK),
        ("stack.bus-current", NOTE),
    ]
    assert "3 main fuses and 3 cables" in every[2].detail
    # 3 · (3000 / 0.92 + 30) / 42 = 3 · 78.3540 A.
    assert every[3].value == pytest.approx(235.062, abs=0.0005)


def test_the_bus_carries_unlike_units_too() -> None:
    every = judged(unit("one"), unit("two", continuous="1 kW", window_low="40 V"))
    # 78.3540 + (1000 / 0.92 + 30) / 40 = 78.3540 + 27.9239 A.
    assert found(every, "stack.bus-current").value == pytest.approx(106.2779, abs=0.0001)


@pytest.mark.parametrize("field", ["continuous", "efficiency", "idle", "window_low"])
def test_a_bus_current_that_nobody_can_tell(field: str) -> None:
    one = found(judged(unit("one"), unit("two", **{field: None})), "stack.bus-current")
    assert one.severity is UNKNOWN
    assert "of two" in one.remedy
    zero = found(judged(unit("one", count=2, window_low="0 V")), "stack.bus-current")
    assert zero.severity is UNKNOWN


@pytest.mark.parametrize(
    ("other", "severity"),
    [
        ({}, NOTE),
        ({"input_capacitance": "20 mF"}, NOTE),
        ({"continuous": "2.9 kW"}, CAUTION),
        ({"surge": "7 kW"}, CAUTION),
        ({"window_low": "40 V"}, CAUTION),
        ({"continuous": None}, CAUTION),  # nobody knows whether they are alike
    ],
)
def test_units_that_share(other: dict[str, Any], severity: Severity) -> None:
    assert found(judged(unit("one"), unit("two", **other)), "stack.alike").severity is severity


def test_units_that_share_a_leg() -> None:
    two = judged(unit("one", "1"), unit("two", "2", continuous="2 kW"))
    assert not [f for f in two if f.rule.key == "stack.alike"]  # one on each leg: nothing shares
    crowded = judged(unit("one", "1", count=2), unit("two", "2"), unit("three", "2", idle="20 W"))
    assert [(f.about, f.severity) for f in crowded if f.rule.key == "stack.alike"] == [
        ("inverters on leg 1", NOTE),
        ("inverters on leg 2", CAUTION),
    ]
    beside_both = judged(unit("one", "1"), unit("two", "both"))
    assert found(beside_both, "stack.alike").severity is CAUTION


@pytest.mark.parametrize(
    ("legs", "severity"),
    [("12", OK), ("11", STOP), ("2", STOP), (["both"], OK), (["1", "both"], OK)],
)
def test_both_legs_are_fed(legs: list[str], severity: Severity) -> None:
    every = judged(*(unit(f"unit {i}", leg) for i, leg in enumerate(legs)), larger_leg="60 %")
    assert found(every, "stack.legs").severity is severity


def test_a_leg_that_nobody_said() -> None:
    every = judged(unit("one", "1"), unit("two", "2"), unit("three"), larger_leg="60 %")
    mixed = found(every, "stack.mixed")
    assert (mixed.severity, mixed.about) == (STOP, "three")
    only_load = judged(unit("one"), larger_leg="60 %")
    assert [(f.rule.key, f.severity) for f in only_load] == [("stack.legs", UNKNOWN)]


def test_the_larger_leg_rules() -> None:
    # Leg 1: 2 · 1 kW and half of 3 kW; leg 2: 2 kW and half of 3 kW. Surge twice as much.
    three = (
        unit("one", "1", count=2, continuous="1 kW", surge="2 kW"),
        unit("two", "2", continuous="2 kW", surge="3 kW"),
        unit("three", "both"),
    )
    every = judged(*three, continuous="5 kW", typical="1 kW", peak="6 kW", larger_leg="65 %")
    leg = found(every, "stack.larger-leg")
    assert (leg.value, leg.limit) == (pytest.approx(3500), pytest.approx(3250))
    assert leg.severity is OK
    # Leg 1: 2 · 2 + 3 kW; leg 2: 3 + 3 kW; 65 % of 6 kW are 3.9 kW.
    peak = found(every, "stack.larger-leg-peak")
    assert (peak.value, peak.limit) == (pytest.approx(6000), pytest.approx(3900))
    over = judged(*three, continuous="5 kW", typical="1 kW", peak="6 kW", larger_leg="71 %")
    assert found(over, "stack.larger-leg").severity is STOP  # 3.55 kW of 3.5 kW


def test_without_a_peak_load_only_the_continuous_one_is_compared() -> None:
    every = judged(unit("one", "1"), unit("two", "2"), peak=None, larger_leg="60 %")
    assert not [f for f in every if f.rule.key == "stack.larger-leg-peak"]
    assert found(every, "stack.larger-leg").severity is OK


def test_a_larger_leg_that_nobody_said_is_not_known() -> None:
    every = judged(unit("one", "1"), unit("two", "2"))
    assert found(every, "stack.larger-leg").severity is UNKNOWN
    assert found(every, "stack.larger-leg-peak").severity is CAUTION
    assert "larger_leg under [load]" in found(every, "stack.larger-leg").remedy


def test_a_leg_without_output_carries_nothing() -> None:
    every = judged(unit("one", "1"), larger_leg="50 %")
    assert found(every, "stack.larger-leg").severity is STOP
    assert found(every, "stack.larger-leg").value == 0


# --- Whatever the inverters -------------------------------------------------------------------


@given(
    given_=st.lists(st.integers(0, 9), min_size=1, max_size=3, unique=True).flatmap(
        lambda names: st.tuples(*(inverters(f"inverter {n}", 58.8) for n in names))
    ),
    load=loads(),
    parts=st.tuples(st.floats(50, 100), st.floats(50, 100)).map(sorted),
)
def test_a_larger_leg_that_grows_never_clears_a_stop(
    given_: tuple[Inverter, ...], load: Load, parts: list[float]
) -> None:
    def severities(part: float) -> dict[str, Severity]:
        more = Load(
            continuous=load.continuous,
            typical=load.typical,
            peak=load.peak,
            larger_leg=f"{part} %",
        )
        build: Build = good_build(inverters=given_, load=more)
        return {f.rule.key: f.severity for f in stacks(groundwork(build))}

    less, more = (severities(part) for part in parts)
    for rule in ("stack.larger-leg", "stack.larger-leg-peak"):
        assert more.get(rule, OK) >= less.get(rule, OK)


def test_outputs_that_are_joined_to_no_other_need_no_parallel_operation() -> None:
    apart = unit("one", own_circuits=True, parallel_operation=False)
    every = judged(
        apart, unit("two", own_circuits=True, parallel_operation=None, continuous="1 kW")
    )
    keys = {f.rule.key for f in every}
    assert not keys & {"stack.parallel-operation", "stack.alike"}
    # What they draw counts together all the same.
    assert "stack.bus-current" in keys
    # Whether each carries its own loads is not seen, so it is a limit.
    assert [f.severity for f in every if f.rule.key == "stack.own-circuits"] == [CAUTION, CAUTION]
    # Units of one entry share their circuits.
    pair = judged(unit("one", own_circuits=True, count=2, parallel_operation=None))
    assert found(pair, "stack.parallel-operation").severity is UNKNOWN
    # One that is joined to nobody else is alone, however many stand beside it.
    assert not [f for f in judged(apart, unit("two")) if f.rule.key == "stack.parallel-operation"]
