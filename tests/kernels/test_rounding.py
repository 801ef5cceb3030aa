"""Rounding to a device's steps, always to the safe side."""

import math

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from evpack.base.rounding import down_to_step, up_to_step

# Worked by hand: value, first entry, step, rounded down, rounded up.
WORKED = [
    (56.836, 48.0, 0.1, 56.8, 56.9),  # row D20 of the worked examples: 14 · (4.10 − 0.02) / 1.005
    (46.93, 40.0, 0.5, 46.5, 47.0),
    (56.8, 48.0, 0.1, 56.8, 56.8),  # on a step already, though 88 · 0.1 is 8.8000000000000007
    (57.6, 48.0, 0.8, 57.6, 57.6),
    (50.0, 42.0, 0.3, 49.8, 50.1),  # 42 + 26 · 0.3 and 42 + 27 · 0.3
    (47.9, 48.0, 0.1, 47.9, 47.9),  # below the first entry the grid goes on; ranges are no concern
    (13.0, 5.0, 5.0, 10.0, 15.0),
    (0.0, 0.0, 1.0, 0.0, 0.0),
    (-0.3, 0.0, 1.0, -1.0, 0.0),
    (56.836, 48.0, 0.025, 56.825, 56.85),
    (56.836, 48.0, 0.001, 56.836, 56.836),
]


@pytest.mark.parametrize(("value", "first", "step", "down", "up"), WORKED)
def test_rounding(value: float, first: float, step: float, down: float, up: float) -> None:
    assert down_to_step(value, first, step) == down  # exactly: the entry is read off a page
    assert up_to_step(value, first, step) == up


values = st.floats(-1000, 2000)
firsts = st.floats(0, 500).map(lambda v: round(v, 3))
steps = st.sampled_from([0.001, 0.01, 0.025, 0.05, 0.1, 0.125, 0.2, 0.25, 0.3, 0.5, 0.8, 1.0, 5.0])
NOISE = 1e-6  # of a step: so near to a step a value counts as on it


@given(values, firsts, steps)
def test_down_is_not_above_and_up_not_below(value: float, first: float, step: float) -> None:
    assert down_to_step(value, first, step) <= value + NOISE * step + 1e-12
    assert up_to_step(value, first, step) >= value - NOISE * step - 1e-12


@given(values, firsts, steps)
def test_both_are_entries_of_the_device(value: float, first: float, step: float) -> None:
    for entry in (down_to_step(value, first, step), up_to_step(value, first, step)):
        steps_from_first = (entry - first) / step
        assert steps_from_first == pytest.approx(round(steps_from_first), abs=1e-7)


@given(values, firsts, steps)
def test_both_are_within_one_step(value: float, first: float, step: float) -> None:
    down, up = down_to_step(value, first, step), up_to_step(value, first, step)
    assert value - down < step * (1 + NOISE) + 1e-12
    assert up - value < step * (1 + NOISE) + 1e-12
    assert up - down == pytest.approx(0, abs=1e-11) or up - down == pytest.approx(step, abs=1e-11)


@given(st.integers(-1000, 5000), firsts, steps)
def test_an_entry_stays_where_it_is(count: int, first: float, step: float) -> None:
    entry = first + count * step
    assert down_to_step(entry, first, step) == pytest.approx(entry, abs=1e-11)
    assert up_to_step(entry, first, step) == pytest.approx(entry, abs=1e-11)
    assert down_to_step(down_to_step(entry, first, step), first, step) == down_to_step(
        entry, first, step
    )


@given(values, values, firsts, steps)
def test_a_higher_value_is_never_rounded_lower(
    one: float, other: float, first: float, step: float
) -> None:
    assume(one <= other)
    assert down_to_step(one, first, step) <= down_to_step(other, first, step)
    assert up_to_step(one, first, step) <= up_to_step(other, first, step)


@pytest.mark.parametrize("rounded", [down_to_step, up_to_step], ids=lambda f: f.__name__)
def test_no_number_is_never_an_entry(rounded: type(down_to_step)) -> None:
    for wrong in (math.nan, math.inf):
        with pytest.raises((ValueError, OverflowError)):
            rounded(wrong, 48.0, 0.1)
