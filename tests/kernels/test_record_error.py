"""How far charge and resistance of a record may be off: worked by hand, and what must hold."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from evpack.kernels.record import accumulate, find_steps, pulse_resistances
from evpack.kernels.record_error import charge_error, pulse_errors


def test_a_charge_worked_by_hand() -> None:
    # Rest read at 0 s, 10 A read at 60, 70, 80 s, 8 A at 90 s, rest again at 150 s. 1 % meter.
    # Between steps: 10 A x 60 s + 8 A x 60 s = 1080 As. Within: 2 A x 10 s / 2 = 10 As.
    # Passed at most: 10 x 60 + 10 x 10 x 3 + 8 x 60 = 1380 As, 1 % of it 13.8 As.
    time = np.array([0.0, 60.0, 70.0, 80.0, 90.0, 150.0])
    amps = np.array([0.0, 10.0, 10.0, 10.0, 8.0, 0.0])
    steps = find_steps(time, amps)
    found = charge_error(time, amps, steps, 0, 4, share=0.01)
    assert found == pytest.approx((1080 + 10 + 13.8) / 3600)


def test_a_record_that_ends_with_the_load_counts_nothing_after_it() -> None:
    time, amps = np.array([0.0, 10.0, 20.0]), np.array([0.0, 5.0, 5.0])
    steps = find_steps(time, amps)
    # 5 A x 10 s where the load began; the meter is perfect.
    assert charge_error(time, amps, steps, 0, 2, share=0.0) == pytest.approx(50 / 3600)


@given(later=st.floats(0.0, 1.0), amps=st.floats(1.0, 100.0), gap=st.floats(1.0, 300.0))
def test_the_true_charge_lies_within_the_error(later: float, amps: float, gap: float) -> None:
    # The load truly began at some moment between two readings, and ended with the last one.
    time = np.array([0.0, gap, gap + 1.0, gap + 1000.0])
    current = np.array([0.0, amps, amps, amps])
    steps = find_steps(time, current)
    read = accumulate(time, current, steps)[-1]
    true = amps * (gap + 1000.0 - later * gap) / 3600.0
    assert abs(read - true) <= charge_error(time, current, steps, 0, 3, share=0.0) + 1e-9


def test_a_resistance_worked_by_hand() -> None:
    # 3.7 V at rest; under 20 A 3.500 V at 9 s, 3.498 V at 10 s, 3.496 V at 11 s.
    # 202 mV / 20 A = 10.1 mΩ. Off by (2 x 1 mV + 4 mV / 2) / 20 A = 0.2 mΩ, and 0.5 % of
    # 10.1 mΩ = 0.0505 mΩ.
    time = np.array([*np.arange(0.0, 1201.0, 60.0), *(1200.0 + np.arange(1.0, 12.0))])
    amps = np.array([0.0] * 21 + [20.0] * 11)
    volts = np.array([3.7] * 21 + [3.518 - 0.002 * k for k in range(1, 12)])
    steps = find_steps(time, amps)
    before, ohms = pulse_resistances(time, volts, amps, steps)
    assert ohms == pytest.approx([0.0101])
    found = pulse_errors(
        time, volts, amps, steps, before, after_s=10.0, volts_error=0.001, share=0.005
    )
    assert found == pytest.approx([0.0002505])
