"""Panels in the cold: worked by hand. Printed examples: tests/published/test_solar.py."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evpack.kernels.solar import cold_factor, voltage_at

ROWS = ((20.0, 1.02), (10.0, 1.06), (0.0, 1.10))


@pytest.mark.parametrize(
    ("celsius", "volts"),
    [
        (25.0, 40.0),
        # 35 K below at 0.1 V/K: 3.5 V more; 40 K above: 4 V less.
        (-10.0, 43.5),
        (65.0, 36.0),
    ],
)
def test_voltage_at(celsius: float, volts: float) -> None:
    assert voltage_at(40.0, -0.1, celsius) == pytest.approx(volts)


@given(st.floats(1, 200), st.floats(-1, 0), st.floats(-60, 90), st.floats(-60, 90))
def test_colder_is_never_less(volts: float, slope: float, one: float, other: float) -> None:
    cold, warm = sorted((one, other))
    assert voltage_at(volts, slope, cold) >= voltage_at(volts, slope, warm)


@pytest.mark.parametrize(
    ("celsius", "factor"),
    [
        (40.0, 1.0),
        (25.0, 1.0),
        (24.999, 1.02),
        (20.0, 1.02),
        (19.999, 1.06),  # between two rows the colder one holds
        (10.0, 1.06),
        (0.0, 1.10),
        (-0.001, None),  # below the last row nothing is extrapolated
        (float("nan"), None),
    ],
)
def test_cold_factor(celsius: float, factor: float | None) -> None:
    assert cold_factor(celsius, ROWS) == factor


def test_without_a_table_there_is_no_factor() -> None:
    assert cold_factor(0.0, ()) is None
