"""Heat of a DC arc: worked by hand, and where the constant of the method comes from."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evpack.base.errors import DescriptionError
from evpack.kernels.arc import clears_within, dc_arc_energy


@pytest.mark.parametrize(
    ("volts", "amps", "seconds", "metres", "expected"),
    [
        # 0.01 · 400 V · 2000 A · 2 s / 45² cm² = 16 000 / 2025.
        (400.0, 4000.0, 2.0, 0.45, 7.901),
        # 0.01 · 125 · 5000 · 0.1 / 2025: 625 / 2025.
        (125.0, 10000.0, 0.1, 0.45, 0.3086),
        # Twice as far is a quarter of it.
        (400.0, 4000.0, 2.0, 0.90, 1.975),
        (400.0, 0.0, 2.0, 0.45, 0.0),
    ],
)
def test_worked_by_hand(
    volts: float, amps: float, seconds: float, metres: float, expected: float
) -> None:
    assert dc_arc_energy(volts, amps, seconds, metres) == pytest.approx(expected, rel=1e-3)


@given(volts=st.floats(50, 1000), amps=st.floats(10, 3e4), metres=st.floats(0.3, 2.0))
def test_the_constant_is_that_of_a_sphere_lit_by_the_most_that_a_source_gives(
    volts: float, amps: float, metres: float
) -> None:
    """V · I / 4 over 4 π D², in joules; 4.184 of them are a calorie: 0.00475 for the 0.005."""
    joules = volts * amps / 4 * 2.0 / (4 * math.pi * (100 * metres) ** 2)
    exact = joules / 4.184
    assert exact <= dc_arc_energy(volts, amps, 2.0, metres) <= 1.06 * exact


def test_a_fuse_that_clears_ends_the_arc() -> None:
    assert clears_within(5000.0, 500.0) == pytest.approx(0.02)  # 5000 / 250 000
    assert clears_within(5000.0, 50.0) == pytest.approx(2.0)  # 5000 / 2500
    assert clears_within(5000.0, 49.0) == 2.0  # it would take longer: one gets away
    assert clears_within(5000.0, 0.0) == 2.0


@pytest.mark.parametrize(
    "given_",
    [(-1.0, 1.0, 1.0, 0.45), (1.0, math.nan, 1.0, 0.45), (1.0, 1.0, math.inf, 0.45), (1, 1, 1, 0)],
)
def test_what_cannot_be_is_refused(given_: tuple[float, float, float, float]) -> None:
    with pytest.raises(DescriptionError, match="an arc needs"):
        dc_arc_energy(*given_)


@pytest.mark.parametrize("given_", [(0.0, 1.0), (1.0, -1.0), (math.nan, 1.0), (1.0, math.inf)])
def test_a_fuse_that_cannot_be_is_refused(given_: tuple[float, float]) -> None:
    with pytest.raises(DescriptionError, match="an I²t and a current"):
        clears_within(*given_)
