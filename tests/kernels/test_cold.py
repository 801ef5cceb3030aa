"""Cells in the cold: the steps are common practice, no source (and so no published check)."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evpack.kernels.cold import charge_rate_limit, resistance_factor


@pytest.mark.parametrize(
    ("celsius", "rate"),
    [
        (-40.0, 0.0),
        (-0.001, 0.0),
        (0.0, 0.05),
        (4.999, 0.05),
        (5.0, 0.2),
        (14.999, 0.2),
        (15.0, 1.0),
        (25.0, 1.0),
        (60.0, 1.0),
        (float("nan"), 0.0),  # nobody knows how cold: no charge
    ],
)
def test_charge_rate_limit(celsius: float, rate: float) -> None:
    assert charge_rate_limit(celsius) == rate


@given(st.floats(-60, 60), st.floats(-60, 60))
def test_colder_is_never_more(one: float, other: float) -> None:
    cold, warm = sorted((one, other))
    assert charge_rate_limit(cold) <= charge_rate_limit(warm)


@given(st.floats(-100, 0, exclude_max=True))
def test_no_charge_below_freezing(celsius: float) -> None:
    assert charge_rate_limit(celsius) == 0.0


@pytest.mark.parametrize(
    ("celsius", "factor"),
    # 1 from 5 °C on, 2 at 0 °C, 4 at −20 °C, linear between, and on at the same slope.
    [
        (60.0, 1.0),
        (5.0, 1.0),
        (4.0, 1.2),
        (2.5, 1.5),
        (0.0, 2.0),
        (-5.0, 2.5),
        (-20.0, 4.0),
        (-40.0, 6.0),
    ],
)
def test_resistance_factor(celsius: float, factor: float) -> None:
    assert resistance_factor(celsius) == pytest.approx(factor)


@given(st.floats(-60, 60), st.floats(-60, 60))
def test_colder_never_resists_less(one: float, other: float) -> None:
    cold, warm = sorted((one, other))
    assert resistance_factor(cold) >= resistance_factor(warm) >= 1.0
