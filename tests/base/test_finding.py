"""Findings: the sign of a margin, noise, the unknown and the not-a-number, decided in one place."""

import math
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evpack.base.finding import Finding, Rule, Severity, Standing, at_least, at_most, state, unknown
from evpack.base.units import CURRENT, SHARE, VOLTAGE, registry

Compare = Callable[..., Finding]

HIGH = Rule(
    key="window.high",
    says="Not above the window.",
    source="equipment-manual",
    stands=Standing.BOUND,
    kind=VOLTAGE,
)
NO_KIND = Rule(
    key="window.seen", says="Somebody looked.", source="common-practice", stands=Standing.BOUND
)


def told(compare: Compare, value: float | None, limit: float | None, **more: object) -> Finding:
    how = {
        "about": "inverter",
        "otherwise": Severity.STOP,
        "value_name": "the highest voltage",
        "limit_name": "the top of the window",
        "remedy": "Fewer cells in series.",
    } | more
    return compare(
        HIGH,
        None if value is None else VOLTAGE.of(value),
        None if limit is None else VOLTAGE.of(limit),
        **how,
    )


def test_severities_rise_and_only_the_two_last_hold() -> None:
    assert sorted(Severity) == [
        Severity.OK,
        Severity.NOTE,
        Severity.CAUTION,
        Severity.UNKNOWN,
        Severity.STOP,
    ]
    holding = {s for s in Severity if state(NO_KIND, s, about="x", detail="x").holds}
    assert holding == {Severity.UNKNOWN, Severity.STOP}


def test_inside_a_highest_limit() -> None:
    found = told(at_most, 56.0, 60.0, assumed=("the window",))
    assert found.severity is Severity.OK
    assert (found.value, found.limit, found.margin) == (56.0, 60.0, 4.0)
    assert found.detail == ("The highest voltage, 56 V, is within the top of the window, 60 V.")
    assert found.remedy == ""
    assert found.assumed == ("the window",)
    assert found.unit == "V"


def test_beyond_a_highest_limit() -> None:
    found = told(at_most, 61.5, 60.0)
    assert found.severity is Severity.STOP
    assert found.margin == -1.5
    assert found.detail == "The highest voltage, 61.5 V, is above the top of the window, 60 V."
    assert found.remedy == "Fewer cells in series."


def test_inside_a_least_limit() -> None:
    found = told(at_least, 61.5, 60.0)
    assert found.severity is Severity.OK
    assert found.margin == 1.5
    assert "is at or above" in found.detail


def test_beyond_a_least_limit() -> None:
    found = told(at_least, 56.0, 60.0, otherwise=Severity.CAUTION)
    assert found.severity is Severity.CAUTION
    assert found.margin == -4.0
    assert "is below" in found.detail


def test_fourteen_full_cells_just_fit_their_own_sum() -> None:
    fourteen = 14 * 4.2  # 58.800000000000004
    assert fourteen > 58.8
    assert told(at_most, fourteen, 58.8).severity is Severity.OK
    assert told(at_most, fourteen, 58.8).margin == 0.0
    assert told(at_least, 58.8, fourteen).severity is Severity.OK


def test_a_microvolt_is_no_noise() -> None:
    assert told(at_most, 58.800001, 58.8).severity is Severity.STOP
    assert told(at_least, 58.799999, 58.8).severity is Severity.STOP


@pytest.mark.parametrize("compare", [at_most, at_least])
@pytest.mark.parametrize(("value", "limit"), [(None, 60.0), (56.0, None), (None, None)])
def test_a_missing_number_is_unknown_and_never_passes(
    compare: Compare, value: float | None, limit: float | None
) -> None:
    found = told(compare, value, limit)
    assert found.severity is Severity.UNKNOWN
    assert found.holds
    assert (found.value, found.limit, found.margin) == (None, None, None)


def test_an_unknown_names_what_is_missing_and_asks_for_it() -> None:
    assert told(at_most, None, 60.0).detail == "The highest voltage is not known."
    found = told(at_most, 56.0, None, assumed=("a guess",))
    assert found.detail == "The top of the window is not known."
    assert found.remedy == "Find out the top of the window and put it in the build sheet."
    assert found.assumed == ("a guess",)
    assert told(at_most, 56.0, None, ask="Read the plate.").remedy == "Read the plate."


@pytest.mark.parametrize("compare", [at_most, at_least])
@pytest.mark.parametrize(
    ("value", "limit"),
    [(math.nan, 60.0), (56.0, math.nan), (math.nan, math.nan), (math.inf, math.inf)],
)
def test_what_is_no_number_fails(compare: Compare, value: float, limit: float) -> None:
    assert told(compare, value, limit).severity is Severity.STOP


def test_an_infinite_value_is_no_noise() -> None:
    assert told(at_most, math.inf, 60.0).severity is Severity.STOP
    assert told(at_least, 56.0, math.inf).severity is Severity.STOP
    assert told(at_least, math.inf, 60.0).severity is Severity.OK
    assert told(at_most, 56.0, math.inf).severity is Severity.OK


def test_two_things_of_the_same_name_are_still_two() -> None:
    found = told(at_most, 61.5, 60.0, value_name="the voltage", limit_name="the voltage")
    assert found.severity is Severity.STOP
    assert (found.value, found.limit) == (61.5, 60.0)


@pytest.mark.parametrize("compare", [at_most, at_least])
def test_another_kind_of_quantity_is_a_mistake_in_the_program(compare: Compare) -> None:
    how = {"about": "x", "otherwise": Severity.STOP, "value_name": "a", "limit_name": "b"}
    with pytest.raises(TypeError, match="compares a voltage"):
        compare(HIGH, CURRENT.of(5.0), VOLTAGE.of(5.0), **how)
    with pytest.raises(TypeError, match="compares a voltage"):
        compare(HIGH, VOLTAGE.of(5.0), SHARE.of(0.5), **how)
    with pytest.raises(TypeError, match="canonical"):
        compare(HIGH, registry.Quantity(5, "mV"), VOLTAGE.of(5.0), **how)
    with pytest.raises(TypeError, match=r"rule window\.seen compares quantities and so needs a k"):
        compare(NO_KIND, VOLTAGE.of(5.0), VOLTAGE.of(5.0), **how)


finite = st.floats(-1e9, 1e9)


@given(finite, finite)
def test_the_two_comparisons_mirror_each_other(value: float, limit: float) -> None:
    over, under = told(at_most, value, limit), told(at_least, value, limit)
    assert over.margin == -under.margin
    assert over.margin == pytest.approx(limit - value, abs=2e-9 * max(abs(limit), abs(value)))
    assert (over.severity is Severity.OK) == (over.margin >= 0)
    assert (under.severity is Severity.OK) == (under.margin >= 0)
    assert over.severity is Severity.OK or under.severity is Severity.OK


@given(finite, finite, st.floats(1e-3, 1e6))
def test_more_headroom_never_makes_it_worse(value: float, limit: float, more: float) -> None:
    assert told(at_most, value, limit + more).margin >= told(at_most, value, limit).margin
    assert told(at_most, value, limit + more).severity <= told(at_most, value, limit).severity


def test_unknown_is_never_ok() -> None:
    found = unknown(
        NO_KIND, about="fuses", detail="Nobody said.", remedy="Ask.", assumed=("a guess",)
    )
    assert found.severity is Severity.UNKNOWN
    assert (found.about, found.detail, found.remedy) == ("fuses", "Nobody said.", "Ask.")
    assert found.assumed == ("a guess",)
    assert found.unit == ""


def test_a_statement_is_no_comparison() -> None:
    found = state(
        HIGH, Severity.NOTE, about="pack", detail="Seen.", remedy="None.", value=5.0, limit=6.0
    )
    assert (found.severity, found.value, found.limit) == (Severity.NOTE, 5.0, 6.0)
    assert found.margin is None
    assert not found.holds


# --- Bounds and guards ------------------------------------------------------------------------

GUARD = Rule(
    key="window.close",
    says="Stay well inside the window.",
    source="common-practice",
    stands=Standing.GUARD,
    kind=VOLTAGE,
)


def with_guard(guarded: float, limit: float = 60.0) -> Finding:
    return told(at_most, 58.0, limit, guarded=VOLTAGE.of(guarded), guarded_for="a warm box")


def test_inside_the_bound_and_outside_the_guard_is_a_caution_with_both_figures() -> None:
    found = with_guard(61.0)
    assert (found.severity, found.standing) == (Severity.CAUTION, Standing.GUARD)
    assert (found.value, found.limit, found.guarded, found.margin) == (58.0, 60.0, 61.0, 2.0)
    assert "58 V" in found.detail and "60 V" in found.detail  # noqa: PT018
    assert "61 V, for a warm box" in found.detail
    assert found.remedy


def test_inside_both_is_a_pass_and_outside_the_bound_a_stop_whatever_the_guard() -> None:
    assert with_guard(60.0).severity is Severity.OK
    broken = with_guard(70.0, limit=57.0)
    assert (broken.severity, broken.standing) == (Severity.STOP, Standing.BOUND)


def test_a_guard_of_at_least_lies_below() -> None:
    found = told(at_least, 62.0, 60.0, guarded=VOLTAGE.of(59.0))
    assert (found.severity, found.margin) == (Severity.CAUTION, 2.0)
    assert "at or above" in found.detail


def test_a_guard_can_neither_stop_a_build_nor_hold_it() -> None:
    with pytest.raises(TypeError, match="is a guard and cannot be stop"):
        state(GUARD, Severity.STOP, about="pack", detail="No.")
    assert unknown(GUARD, about="pack", detail="Who knows?", remedy="").severity is Severity.CAUTION
    assert unknown(HIGH, about="pack", detail="Who knows?", remedy="").severity is Severity.UNKNOWN
