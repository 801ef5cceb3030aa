"""Expected values here are worked by hand; the working stands beside them."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from evpack.kernels import record
from evpack.kernels.record import Steps

SIX = np.arange(6.0)


def array(*values: float) -> np.ndarray:
    return np.array(values, dtype=float)


def one_step(size: int, kind: int = 1) -> Steps:
    return Steps(np.array([0]), np.array([size - 1]), array(0.0), np.array([kind]))


# Steps.


def test_steps_are_told_by_the_column_while_current_flows() -> None:
    amps = array(0, 0.01, 10, 10, 10, 10)
    steps = record.find_steps(SIX, amps, array(1, 2, 3, 3, 4, 4))
    assert steps.first.tolist() == [0, 2, 4]  # 1 and 2 are both rest, and one rest
    assert steps.last.tolist() == [1, 3, 5]
    assert steps.kind.tolist() == [0, 1, 1]


def test_steps_are_told_by_jumps_without_a_column() -> None:
    steps = record.find_steps(SIX, array(0, 0, -30, -30, -10, -9))
    assert steps.first.tolist() == [0, 2, 4]  # 10 to 9 A is a sag, not a step
    assert steps.kind.tolist() == [0, -1, -1]


def test_a_step_begins_one_of_its_own_intervals_before_its_first_sample() -> None:
    # Rest read every 60 s, pulse every 0.5 s; the first pulse reading comes 40 s after the last
    # of the rest, so the pulse began at 100 - 0.5 = 99.5 s.
    steps = record.find_steps(array(0, 60, 100, 100.5), array(0, 0, 30, 30))
    assert steps.began.tolist() == [0, 99.5]


def test_a_step_never_begins_before_the_last_sample_of_the_step_before() -> None:
    steps = record.find_steps(array(0, 1, 2, 62), array(10, 10, 0, 0))
    assert steps.began.tolist() == [0, 1]


def test_a_lone_sample_reaches_back_to_the_step_before() -> None:
    steps = record.find_steps(array(0, 1, 5, 6), array(0, 0, 10, 0))
    assert steps.began.tolist() == [0, 1, 5]


# Sign.


@pytest.mark.parametrize("sign", [1, -1])
def test_the_sign_shows_in_the_ohmic_jump(sign: int) -> None:
    amps = sign * array(0, 0, 10, 10, 0, 0)  # sign = 1: charge is positive
    volts = array(3.6, 3.6, 3.62, 3.63, 3.61, 3.61)
    steps = record.find_steps(SIX, amps)
    assert record.charge_sign(steps, volts, amps) == sign


@pytest.mark.parametrize("sign", [1, -1])
def test_the_sign_shows_in_the_trend_of_one_unbroken_current(sign: int) -> None:
    amps = sign * np.full(6, -10.0)
    volts = array(3.9, 3.8, 3.7, 3.6, 3.5, 3.4)
    assert record.charge_sign(record.find_steps(SIX, amps), volts, amps) == sign


def test_a_voltage_that_never_moves_tells_nothing() -> None:
    amps = array(0, 0, 10, 10, 0, 0)
    assert record.charge_sign(record.find_steps(SIX, amps), np.full(6, 3.6), amps) == 0


def test_a_voltage_that_moves_both_ways_tells_nothing() -> None:
    amps = array(0, 0, 10, 10, 0, 0)
    volts = array(3.6, 3.6, 3.7, 3.7, 3.8, 3.8)  # up when it comes, up when it goes
    assert record.charge_sign(record.find_steps(SIX, amps), volts, amps) == 0


# Charge.


def test_no_charge_is_invented_where_a_rest_begins_with_a_long_gap() -> None:
    # 10 A for 2 s, then a rest read after 60 s. By hand: 20 A s. A trapezoid would add 300 A s.
    time_s, amps = array(0, 1, 2, 62, 122), array(10, 10, 10, 0, 0)
    out = record.accumulate(time_s, amps, record.find_steps(time_s, amps))
    assert out[-1] * 3600 == pytest.approx(20.0)


def test_an_old_current_is_held_until_the_new_step_began() -> None:
    # 10 A read every 60 s; a rest read every second begins at 100 - 1 = 99 s. By hand:
    # 10 A for 99 s, 990 A s.
    time_s, amps = array(0, 60, 100, 101), array(10, 10, 0, 0)
    out = record.accumulate(time_s, amps, record.find_steps(time_s, amps))
    assert out[-1] * 3600 == pytest.approx(990.0)


def test_a_sagging_current_is_a_trapezoid() -> None:
    out = record.accumulate(array(0, 3600), array(4, 2), one_step(2))
    assert out.tolist() == [0, 3]


@given(
    cuts=st.lists(st.floats(0.1, 60.0), min_size=1, max_size=50),
    amps=st.floats(0.1, 500.0),
)
def test_a_constant_current_takes_the_same_charge_however_it_is_sampled(
    cuts: list[float], amps: float
) -> None:
    time_s = np.concatenate([[0.0], np.cumsum(cuts)])
    fine = record.accumulate(time_s, np.full(time_s.size, amps), one_step(time_s.size))
    coarse = record.accumulate(time_s[[0, -1]], np.full(2, amps), one_step(2))
    assert fine[-1] == pytest.approx(coarse[-1], rel=1e-9)


# Full and empty.


@pytest.mark.parametrize(
    ("out", "found"),
    [
        ((0, -1, -2), (0, 0)),  # only charged
        ((0, -10, -10, 5, 3, 20, 20), (1, 5)),  # 3 given back in a pulse belongs to it
        ((0, -30, 0, -30, 4), (3, 4)),  # charged again in between: the second is deeper
        ((0, -30, 5, -20, 6), (1, 2)),  # the first is deeper
        ((0, 10, 0, 12, 1, 11), (2, 3)),  # twice
    ],
)
def test_the_deepest_discharge(out: tuple[float, ...], found: tuple[int, int]) -> None:
    assert record.deepest_discharge(array(*out)) == found


@given(st.lists(st.integers(-50, 50), min_size=1, max_size=30))
def test_full_comes_before_empty_and_nothing_between_lies_outside(pieces: list[int]) -> None:
    out = np.cumsum(array(*pieces))
    full, empty = record.deepest_discharge(out)
    between = out[full : empty + 1]
    assert full <= empty
    assert between[0] == between.min()
    assert between[-1] == between.max()


# Rests.


def test_only_long_rests_within_the_discharge_are_read() -> None:
    # A rest before full, one of an hour, one of a minute, one of an hour after empty.
    steps = Steps(
        first=np.array([0, 2, 4, 6, 8, 10, 12]),
        last=np.array([1, 3, 5, 7, 9, 11, 13]),
        began=array(0, 3600, 3610, 7210, 7220, 7280, 7290),
        kind=np.array([0, -1, 0, 1, 0, 1, 0]),
    )
    time_s = array(
        60, 3600, 3601, 3610, 3670, 7210, 7211, 7220, 7279, 7280, 7281, 7290, 7350, 10890
    )
    ends = record.rest_ends(time_s, steps, 3, 11, least_rest_s=3600.0)
    assert ends.tolist() == [5, 13]


def test_the_last_sample_of_a_rest_may_come_one_interval_early() -> None:
    steps = one_step(60, kind=0)
    time_s = 60.0 * np.arange(60)  # the last at 3540 s
    assert record.rest_ends(time_s, steps, 0, 59, least_rest_s=3600.0).tolist() == [59]
    assert record.rest_ends(time_s, steps, 0, 59, least_rest_s=3601.0).size == 0


# Pulses.


def pulse(
    *, seconds: float = 12.0, interval: float = 4.0, rest: float = 600.0, amps: float = 20.0
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Rest at 4 V, then a load: 4 V - 10 mΩ x I at once, and 1 mV lower each second."""
    after = np.arange(interval, seconds + interval / 2, interval)
    time_s = np.concatenate([[0.0, rest], rest + after])
    current = np.concatenate([[0.0, 0.0], np.full(after.size, amps)])
    volts = 4.0 - 0.010 * current
    volts[2:] -= 0.001 * after
    return time_s, volts, current


def resistances(
    time_s: np.ndarray, volts: np.ndarray, amps: np.ndarray
) -> tuple[list[int], list[float]]:
    before, ohms = record.pulse_resistances(time_s, volts, amps, record.find_steps(time_s, amps))
    return before.tolist(), ohms.tolist()


def test_a_pulse_is_read_ten_seconds_after_it_truly_began() -> None:
    # By hand: (20 A x 10 mΩ + 10 mV) / 20 A = 10.5 mΩ, between the readings at 8 and 12 s.
    assert resistances(*pulse()) == ([1], [pytest.approx(0.0105)])


def test_an_offset_of_the_meter_cancels() -> None:
    time_s, volts, amps = pulse()
    assert resistances(time_s, volts, amps + 0.05) == ([1], [pytest.approx(0.0105)])


def test_one_reading_at_ten_seconds_is_enough() -> None:
    time_s, volts, amps = pulse(seconds=20.0, interval=10.0)
    assert resistances(time_s, volts, amps) == ([1], [pytest.approx(0.0105)])


@pytest.mark.parametrize(
    "passed_over",
    [
        pulse(seconds=8.0),  # ends too soon
        pulse(seconds=60.0, interval=6.0),  # 6 and 12 s are too far apart
        pulse(seconds=120.0, interval=60.0),  # nothing read until long after
        pulse(rest=599.0),  # still drifting
        pulse(amps=-20.0),  # a charge
    ],
)
def test_pulses_that_tell_nothing_are_passed_over(
    passed_over: tuple[np.ndarray, np.ndarray, np.ndarray],
) -> None:
    assert resistances(*passed_over) == ([], [])


def test_a_wandering_load_is_no_pulse() -> None:
    time_s, volts, amps = pulse()
    amps[2] *= 1.1
    assert resistances(time_s, volts, amps) == ([], [])


def test_a_load_that_does_not_follow_a_rest_is_passed_over() -> None:
    time_s = 4.0 * np.arange(400)
    amps = np.where(time_s < 800, 10.0, 20.0)
    assert resistances(time_s, 4 - 0.01 * amps, amps) == ([], [])


# The curve.


def test_only_samples_ten_seconds_into_a_discharge_are_loaded_samples() -> None:
    steps = Steps(np.array([0, 3]), np.array([2, 5]), array(0, 20), np.array([1, -1]))
    time_s = array(5, 10, 20, 25, 30, 40)
    assert record.loaded_samples(time_s, steps, 0, 5, after_s=10.0).tolist() == [1, 2]
    assert record.loaded_samples(time_s, steps, 2, 5, after_s=10.0).tolist() == [2]


def test_an_estimated_branch_has_a_point_for_each_per_cent() -> None:
    soc, volts = np.linspace(0.045, 0.0, 46), np.linspace(3.45, 3.0, 46)
    branch = record.estimated_branch(soc, volts, low=0.0, high=0.06, least=-np.inf, most=3.5)
    assert branch[0] == pytest.approx(array(0, 0.01, 0.02, 0.03, 0.04))
    assert branch[1] == pytest.approx(array(3.0, 3.1, 3.2, 3.3, 3.4))  # 10 V for the whole


def test_an_estimated_branch_takes_the_longest_fall_and_stays_between_the_rests() -> None:
    # A short fall at first, a recharge, the long fall; the estimate rises once (noise).
    soc = array(0.30, 0.29, 0.295, 0.25, 0.20, 0.15, 0.104)
    volts = array(9.0, 9.0, 3.7, 3.6, 3.4, 3.5, 3.3)
    found_soc, found = record.estimated_branch(soc, volts, low=0.1, high=0.3, least=3.3, most=3.65)
    assert found.min() > 3.3
    assert found.max() < 3.65
    assert (np.diff(found) >= 0).all()
    assert found_soc[0] == pytest.approx(0.11)
    # By hand: the running minimum holds 3.4 from 0.20 to 0.15.
    assert found[np.argmin(np.abs(found_soc - 0.17))] == pytest.approx(3.4)


def test_the_last_reading_stands_for_empty_within_one_per_cent() -> None:
    soc, volts = array(0.05, 0.004), array(3.4, 3.1)
    found_soc, found = record.estimated_branch(
        soc, volts, low=0.0, high=0.06, least=-np.inf, most=3.5
    )
    assert found_soc[0] == 0
    assert found[0] == pytest.approx(3.1)


def test_nothing_is_estimated_without_samples() -> None:
    none = record.estimated_branch(
        np.empty(0), np.empty(0), low=0.0, high=0.1, least=-np.inf, most=3.5
    )
    assert [part.size for part in none] == [0, 0]


def test_rests_all_the_way_need_no_estimate() -> None:
    soc, volts, below = record.rest_curve(
        array(1, 0.75, 0.5, 0.25, 0), array(4.2, 3.9, 3.7, 3.6, 3.3), np.empty(0), np.empty(0)
    )
    assert soc.tolist() == [0, 0.25, 0.5, 0.75, 1]
    assert volts.tolist() == [3.3, 3.6, 3.7, 3.9, 4.2]
    assert below is None


def test_wide_gaps_are_filled_and_the_highest_is_named() -> None:
    # Rests at 1, 0.7 and 0.3 only: two wide gaps and the bottom.
    loaded_soc = np.linspace(1.0, 0.0, 1001)
    soc, volts, below = record.rest_curve(
        array(1, 0.7, 0.3), array(4.2, 3.9, 3.5), loaded_soc, 3.15 + loaded_soc
    )
    assert below == 1
    assert soc[0] == 0
    # 101 points, less those within 50 mV above the rests at 0.3 and 0.7: five and five.
    assert soc.size == 91
    assert (np.diff(soc) > 0).all()
    assert (np.diff(volts) > 0).all()
    assert {0.3, 0.7, 1.0} <= set(soc.tolist())
    assert np.interp(0.5, soc, volts) == pytest.approx(3.65)  # 3.15 + 0.5


def test_a_record_without_loaded_samples_leaves_the_bottom_open() -> None:
    soc, _, below = record.rest_curve(array(1, 0.8), array(4.2, 4.0), np.empty(0), np.empty(0))
    assert soc.tolist() == [0.8, 1]
    assert below is None


@pytest.mark.parametrize(
    ("volts", "kept"),
    [
        ((3.0, 3.1, 3.2), (True, True, True)),
        ((3.0, 3.0, 3.2), (True, False, True)),
        ((3.0, 3.2, 3.2), (True, False, True)),  # the end is kept
        ((3.3, 3.25, 3.2), (False, False, True)),
    ],
)
def test_a_curve_rises_strictly(volts: tuple[float, ...], kept: tuple[bool, ...]) -> None:
    assert tuple(record.strictly_rising(array(0, 0.5, 1), array(*volts))) == kept


def test_of_two_points_at_one_state_the_first_is_kept() -> None:
    assert record.strictly_rising(array(0, 0.5, 0.5, 1), array(3, 3.1, 3.2, 4)).tolist() == [
        True,
        True,
        False,
        True,
    ]
