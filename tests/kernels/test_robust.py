"""Expected values here are worked by hand; the working stands beside them."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from evpack.base.errors import DescriptionError
from evpack.kernels.robust import median, median_deviation, modified_z, outliers

# Sorted 20 49 50 50.5 51, median 50; deviations 30 1 0 0.5 1, sorted 0 0.5 1 1 30, median 1.
CAPACITIES = [50.0, 51.0, 49.0, 50.5, 20.0]

# Readings of a digit or two, so that many are equal.
readings = st.lists(st.integers(-50, 50).map(float), min_size=1, max_size=20)


def test_one_bad_module_does_not_move_the_middle_or_the_spread() -> None:
    assert median(CAPACITIES) == 50.0
    assert median_deviation(CAPACITIES) == 1.4826
    # (20 - 50) / 1.4826 = -20.23, (51 - 50) / 1.4826 = 0.6745
    assert modified_z(CAPACITIES) == pytest.approx([0, 0.6745, -0.6745, 0.3372, -20.2347], abs=5e-5)
    assert outliers(CAPACITIES) == (4,)
    # Mean and standard deviation would miss it: (20 - 44.1) / 13.49 = -1.79.
    assert abs(20 - np.mean(CAPACITIES)) / np.std(CAPACITIES, ddof=1) < 1.8


def test_the_mean_deviation_stands_in_where_more_than_half_are_equal() -> None:
    # Median 10, median deviation 0, mean deviation 5 / 5 = 1, score 5 / 1.2533 = 3.9895.
    assert median_deviation([10, 10, 10, 10, 15]) == 0
    assert modified_z([10, 10, 10, 10, 15]) == pytest.approx([0, 0, 0, 0, 3.9895], abs=5e-5)
    assert outliers([10, 10, 10, 10, 15]) == (4,)


def test_equal_readings_have_no_outlier() -> None:
    assert modified_z([7, 7, 7]).tolist() == [0, 0, 0]
    assert outliers([7, 7, 7]) == ()


def test_the_limit_itself_is_no_outlier() -> None:
    # Deviations 2 1 0 1 4, sorted 0 1 1 2 4, median 1: 4 / 1.4826 = 2.698.
    score = float(modified_z([8, 9, 10, 11, 14])[-1])
    assert outliers([8, 9, 10, 11, 14], beyond=score) == ()
    assert outliers([8, 9, 10, 11, 14], beyond=score - 0.001) == (4,)


@pytest.mark.parametrize("bad", [np.nan, np.inf])
def test_a_reading_that_is_no_number_is_refused_and_never_passes(bad: float) -> None:
    with pytest.raises(DescriptionError, match="reading 1"):
        outliers([1.0, bad, 1.0])


@pytest.mark.parametrize("bad", [[], [[1.0, 2.0]]])
def test_no_row_of_readings_is_refused(bad: list[float]) -> None:
    with pytest.raises(DescriptionError, match="at least one"):
        median(bad)


@given(readings, st.integers(-100, 100), st.integers(1, 9))
def test_scores_do_not_know_units(values: list[float], shift: float, factor: float) -> None:
    moved = [shift + factor * value for value in values]
    assert modified_z(moved) == pytest.approx(modified_z(values), abs=1e-9)


@given(readings)
def test_never_more_than_half_are_outliers(values: list[float]) -> None:
    assert len(outliers(values)) <= len(values) / 2
