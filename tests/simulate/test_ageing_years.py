"""Cycles counted by rainflow: the example of the standard, and what must hold."""

from __future__ import annotations

from collections import Counter

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from evpack.base.errors import DescriptionError
from evpack.simulate.ageing_years import count_cycles

# ASTM E1049, the worked example of rainflow counting (from memory): the peaks and valleys
# -2 1 -3 5 -1 3 -4 4 -2 hold half cycles of range 3, 4, 8, 9, 8, 6 and one whole cycle of range 4.
PEAKS = np.array([-2.0, 1, -3, 5, -1, 3, -4, 4, -2])
COUNTED = {3: 0.5, 4: 1.5, 6: 0.5, 8: 1.0, 9: 0.5}


def test_the_example_of_the_standard() -> None:
    soc = (PEAKS + 4) / 9  # from 0 to 1
    found = count_cycles(soc, np.arange(9.0))
    counted: Counter[int] = Counter()
    for depth, number in zip(found.depth, found.number, strict=True):
        counted[round(depth * 9)] += number
    assert counted == COUNTED
    # 0.5 * 3 + 1.5 * 4 + 0.5 * 6 + 1 * 8 + 0.5 * 9 = 23 of 9 full ones
    assert found.full_cycles == pytest.approx(23 / 9)


def test_a_cycle_a_day() -> None:
    """Ten days between 90 and 40 %: 10 cycles of 50 %, 5 full ones, all around 65 %."""
    hours = np.arange(0.0, 241.0)
    soc = np.interp(hours % 24, (0.0, 12.0, 24.0), (0.9, 0.4, 0.9))
    found = count_cycles(soc, hours)
    assert found.full_cycles == pytest.approx(5.0)
    assert found.mean_depth == pytest.approx(0.5)
    assert found.middle == pytest.approx(0.65)
    assert found.hours == 240
    assert found.by_depth().tolist() == [0, 0, 0, 10, 0, 0]
    assert str(found) == "5.0 equivalent full cycles in 240 h, 50 % deep in the mean"


def test_steps_too_small_to_multiply_do_not_swallow_a_cycle() -> None:
    assert count_cycles([1.0, 3e-47, 0.0, 4e-304, 1.0], np.arange(5.0)).full_cycles == 1.0


def test_a_pack_that_stands_still_has_no_cycles() -> None:
    found = count_cycles([0.5, 0.5, 0.5], [0, 1, 2])
    assert (found.full_cycles, found.mean_depth) == (0.0, 0.0)


@given(st.lists(st.floats(0.0, 1.0), min_size=2, max_size=60))
def test_what_is_counted_is_what_moved(soc: list[float]) -> None:
    """Depths with halves as halves, added up, are half of all that went up and down."""
    found = count_cycles(soc, np.arange(float(len(soc))))
    assert found.full_cycles == pytest.approx(np.abs(np.diff(soc)).sum() / 2, abs=1e-6)
    assert (found.depth <= 1).all()


@given(st.lists(st.floats(0.0, 1.0), min_size=3, max_size=40))
def test_samples_between_turns_change_nothing(soc: list[float]) -> None:
    hours = np.arange(float(len(soc)))
    finer = np.linspace(0, hours[-1], 4 * (len(soc) - 1) + 1)
    twice = count_cycles(np.interp(finer, hours, soc), finer)
    assert twice.full_cycles == pytest.approx(count_cycles(soc, hours).full_cycles, abs=1e-6)


@pytest.mark.parametrize(
    ("soc", "hours", "words"),
    [
        ([0.5], [0.0], "two samples or more"),
        ([0.5, 0.6], [0.0, 1.0, 2.0], "a time in hours for each"),
        ([0.5, 0.6], [1.0, 1.0], "its hours rising"),
        ([0.5, float("nan")], [0.0, 1.0], "finite numbers"),
        ([0.5, 60.0], [0.0, 1.0], "from 0 to 1, got 0.5 to 60"),
    ],
)
def test_what_is_no_history_is_refused(soc: list[float], hours: list[float], words: str) -> None:
    with pytest.raises(DescriptionError, match=words):
        count_cycles(soc, hours)
