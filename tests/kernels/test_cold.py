"""Cells in the cold: the steps are common practice, no source (and so no published check)."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evpack.kernels.cold import charge_rate_limit, reading_factors, resistance_factor


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


@pytest.mark.parametrize(
    ("celsius", "least", "most"),
    [
        # e^(E / k · (1 / T − 1 / 288.15 K)), E of 0.15 and 0.35 eV: E / k are 1740.7 and 4061.6 K.
        # At 0 °C 1 / 273.15 − 1 / 288.15 = 1.90577e-4: e^0.33174 and e^0.77405.
        (0.0, 1.3934, 2.1685),
        # At -20 °C 4.79812e-4: e^0.83520 and e^1.94880.
        (-20.0, 2.3053, 7.0202),
        (14.0, 1.0212, 1.0503),
        # At 45 °C 1 / 318.15 − 1 / 303.15 = −1.55525e-4: e^−0.63168 and e^−0.27072.
        (45.0, 0.5317, 0.7628),
    ],
)
def test_a_reading_made_elsewhere_than_in_a_room(celsius: float, least: float, most: float) -> None:
    assert reading_factors(celsius) == pytest.approx((least, most), abs=1e-4)


@pytest.mark.parametrize("celsius", [15.0, 20.0, 25.0, 30.0])
def test_in_a_room_a_reading_stands(celsius: float) -> None:
    assert reading_factors(celsius) == (1.0, 1.0)


@pytest.mark.parametrize("celsius", [-20.0, -10.0, 0.0])
def test_the_range_holds_what_cells_in_use_are_reckoned_with(celsius: float) -> None:
    least, most = reading_factors(celsius)
    assert least <= resistance_factor(celsius) <= most
