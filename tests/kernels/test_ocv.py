"""Looking up on an open-circuit curve: linear between points, there and back."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp
from scipy.integrate import quad

from evpack.kernels.ocv import mean_voltage, state_at, voltage_at

SOC = np.array([0.0, 0.1, 0.5, 1.0])
VOLTS = np.array([3.0, 3.4, 3.7, 4.2])

# Worked by hand on the four points above.
WORKED = [
    (0.0, 3.0),
    (0.05, 3.2),  # halfway from 3.0 to 3.4
    (0.1, 3.4),
    (0.3, 3.55),  # halfway from 3.4 to 3.7
    (0.75, 3.95),  # halfway from 3.7 to 4.2
    (1.0, 4.2),
]


@pytest.mark.parametrize(("state", "volts"), WORKED)
def test_voltage_at_a_state(state: float, volts: float) -> None:
    assert voltage_at(SOC, VOLTS, state) == pytest.approx(volts, rel=1e-15)


@pytest.mark.parametrize(("state", "volts"), WORKED)
def test_state_at_a_voltage(state: float, volts: float) -> None:
    assert state_at(SOC, VOLTS, volts) == pytest.approx(state, abs=1e-14)


@pytest.mark.parametrize(("volts", "state"), [(2.0, 0.0), (0.0, 0.0), (4.3, 1.0), (60.0, 1.0)])
def test_a_voltage_off_the_curve_is_held_to_empty_or_full(volts: float, state: float) -> None:
    assert state_at(SOC, VOLTS, volts) == state


def test_mean_voltage() -> None:
    # 0.1 · (3.0 + 3.4)/2 + 0.4 · (3.4 + 3.7)/2 + 0.5 · (3.7 + 4.2)/2 = 0.32 + 1.42 + 1.975
    assert mean_voltage(SOC, VOLTS) == pytest.approx(3.715, rel=1e-15)


@st.composite
def curves(draw: st.DrawFn) -> tuple[np.ndarray, np.ndarray]:
    size = draw(st.integers(2, 30))
    parts = st.floats(0.01, 1.0)
    inner = np.cumsum(draw(hnp.arrays(float, size - 1, elements=parts)))
    rises = np.cumsum(draw(hnp.arrays(float, size - 1, elements=st.floats(1e-3, 0.5))))
    return np.append(0.0, inner / inner[-1]), 2.5 + np.append(0.0, rises)


@given(curves(), st.floats(0, 1))
def test_there_and_back(curve: tuple[np.ndarray, np.ndarray], state: float) -> None:
    soc, volts = curve
    assert state_at(soc, volts, voltage_at(soc, volts, state)) == pytest.approx(state, abs=1e-10)


@given(curves(), st.floats(0, 1), st.floats(0, 1))
def test_more_charge_is_more_voltage(
    curve: tuple[np.ndarray, np.ndarray], one: float, other: float
) -> None:
    low, high = sorted((one, other))
    assert voltage_at(*curve, low) <= voltage_at(*curve, high)


@given(curves())
def test_the_mean_is_the_integral(curve: tuple[np.ndarray, np.ndarray]) -> None:
    soc, volts = curve
    area, _ = quad(
        lambda s: voltage_at(soc, volts, s), 0, 1, points=soc[1:-1], limit=200, epsabs=1e-10
    )
    assert mean_voltage(soc, volts) == pytest.approx(area, rel=1e-9)
