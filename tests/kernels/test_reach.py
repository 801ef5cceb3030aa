"""How far a pack is charged and emptied, worked by hand on a straight curve without resistance."""

import numpy as np
import pytest

from evpack.kernels.reach import Ends, Reach, reach

# 40 V empty, 50 V full, 100 Ah, and next to no resistance: V is (40 + 10 s), and the energy from
# one state to another 100 Ah times the mean voltage times the difference.
SOC = np.linspace(0.0, 1.0, 11)
EMF, OHMS = 40.0 + 10.0 * SOC, np.full(11, 1e-12)


def reached(**changes: float | None) -> Reach:
    ends = {
        "charge": 49.0,
        "low": 41.0,
        "changeover": 43.0,
        "floated": 47.0,
        "power": 1000.0,
        "typical": 100.0,
    }
    return reach(SOC, EMF, OHMS, capacity=100.0, ends=Ends(**(ends | changes)))


def test_states_and_energies() -> None:
    found = reached()
    states = found.top, found.bottom, found.changeover, found.floated
    assert states == pytest.approx((0.9, 0.1, 0.3, 0.7))
    assert not found.collapsed
    assert found.floats
    assert found.total == pytest.approx(100 * 45)
    assert found.reachable == pytest.approx(100 * 45 * 0.8)
    assert found.everyday == pytest.approx(100 * 46 * 0.6)
    assert found.reserve == pytest.approx(100 * 42 * 0.2)
    assert found.from_float == pytest.approx(100 * 45 * 0.4)
    assert found.above == pytest.approx(100 * 49.5 * 0.1)
    assert found.below == pytest.approx(100 * 40.5 * 0.1)
    assert found.lost == pytest.approx(0.0, abs=1e-6)


def test_without_a_changeover_and_a_float_there_is_less_to_tell() -> None:
    found = reached(changeover=None, floated=None)
    assert (found.changeover, found.everyday, found.reserve) == (None, None, None)
    assert (found.floated, found.from_float, found.floats) == (None, None, False)


def test_without_a_changeover_float_counts_down_to_the_end() -> None:
    assert reached(changeover=None).from_float == pytest.approx(100 * 44 * 0.6)


def test_a_float_below_the_changeover_leaves_nothing_for_the_evening() -> None:
    assert reached(floated=42.0).from_float == 0
    assert reached(floated=42.0).floats


def test_a_float_above_the_charge_changes_nothing() -> None:
    assert reached(floated=49.5).floated == pytest.approx(0.9)
    assert not reached(floated=49.5).floats
    assert not reached(floated=48.96).floats  # 0.4 % of charge: nobody can tell
