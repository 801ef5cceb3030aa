"""Copper conductors, worked by hand. Printed values: tests/published/test_conductor_kernels.py."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evpack.kernels.conductor import (
    from_20,
    from_75,
    operating_temperature,
    shares,
    voltage_drop,
    withstand,
    withstand_time,
)

amps = st.floats(1.0, 1000.0)
metres = st.floats(0.1, 100.0)


def test_half_the_current_makes_a_quarter_of_the_heat() -> None:
    # 30 + 45 / 4.
    assert operating_temperature(30.0, 75.0, 50.0, 100.0) == 41.25
    assert operating_temperature(30.0, 75.0, 100.0, 100.0) == 75.0
    assert operating_temperature(30.0, 75.0, 0.0, 100.0) == 30.0


def test_resistance_at_the_temperature_it_was_read_at_is_itself() -> None:
    assert from_75(75.0) == 1.0
    assert from_20(20.0) == 1.0


@given(st.floats(-40.0, 120.0))
def test_both_ways_to_warm_copper_agree(celsius: float) -> None:
    # NEC's 0.00323 is 0.00393 / (1 + 0.00393 · 55) = 0.003231 rounded: half a digit over 115 K.
    assert from_75(celsius) == pytest.approx(from_20(celsius) / from_20(75.0), abs=115 * 5e-6)


def test_a_run_there_and_back() -> None:
    # 2 · 5 m · 1 mΩ/m · 100 A = 1 V, half of it in two conductors side by side.
    assert voltage_drop(0.001, 5.0, 100.0) == pytest.approx(1.0)
    assert voltage_drop(0.001, 5.0, 100.0, parallel=2) == pytest.approx(0.5)


@given(st.floats(1e-5, 0.1), metres, amps, st.floats(1.01, 3.0))
def test_drop_rises_with_length_and_current_and_falls_side_by_side(
    ohms: float, length: float, current: float, more: float
) -> None:
    drop = voltage_drop(ohms, length, current)
    assert voltage_drop(ohms, length * more, current) > drop
    assert voltage_drop(ohms, length, current * more) > drop
    assert voltage_drop(ohms, length, current, parallel=2) == pytest.approx(drop / 2)


def test_withstand_is_a_square() -> None:
    # (115 · 10)² = 1 322 500 A²s: at 1150 A one second.
    assert withstand(115.0, 10.0) == 1_322_500.0
    assert withstand_time(115.0, 10.0, 1150.0) == pytest.approx(1.0)


@given(st.sampled_from((115.0, 143.0)), st.floats(1.0, 300.0), amps, st.floats(1.01, 10.0))
def test_a_larger_current_is_stood_for_less_and_by_a_thicker_one_longer(
    k: float, area: float, current: float, more: float
) -> None:
    stood = withstand_time(k, area, current)
    assert withstand_time(k, area, current * more) < stood
    assert withstand_time(k, area * more, current) > stood
    assert current**2 * stood == pytest.approx(withstand(k, area))


def test_the_shorter_takes_more() -> None:
    # 1 / 1 and 1 / 3: three quarters and one.
    assert shares([1.0, 3.0]) == pytest.approx((0.75, 0.25))
    assert shares([2.0]) == (1.0,)


@given(st.lists(metres, min_size=1, max_size=8))
def test_shares_make_the_whole_and_follow_one_over_length(lengths: list[float]) -> None:
    found = shares(lengths)
    assert sum(found) == pytest.approx(1.0)
    for length, share in zip(lengths, found, strict=True):
        assert share * length == pytest.approx(found[0] * lengths[0])
