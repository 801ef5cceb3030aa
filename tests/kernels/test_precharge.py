"""Filling a capacitor through a resistor: worked by hand, and what must hold of any."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evpack.kernels.precharge import (
    E6,
    filling_heat,
    inrush_let_through,
    part_left,
    resistor_at_least,
    resistor_at_most,
    time_to,
)

ohms = st.floats(0.01, 1e4)
farads = st.floats(1e-5, 1.0)


def test_the_time_to_a_part_worked_by_hand() -> None:
    # 50 Ω · 10 mF = 0.5 s; ln 20 = 2.995732, so 5 % are left after 1.497866 s.
    assert time_to(0.05, 50.0, 0.01) == pytest.approx(1.497866, abs=5e-7)
    # Nothing to fill takes no time.
    assert time_to(1.0, 50.0, 0.01) == 0.0


def test_the_heat_against_the_sum_of_many_small_steps() -> None:
    """57 V, 20 mF, 25 Ω: I² R summed over ten time constants, by the middle of each step."""
    volts, ohm, farad, steps = 57.0, 25.0, 0.02, 20_000
    step = 10 * ohm * farad / steps
    heat = sum(
        (volts / ohm * part_left((i + 0.5) * step, ohm, farad)) ** 2 * ohm * step
        for i in range(steps)
    )
    assert heat == pytest.approx(filling_heat(volts, farad), rel=1e-6)
    assert heat / ohm == pytest.approx(inrush_let_through(volts, ohm, farad), rel=1e-6)


@given(ohm=ohms, farad=farads, part=st.floats(1e-6, 1.0))
def test_the_time_to_a_part_leaves_that_part(ohm: float, farad: float, part: float) -> None:
    assert part_left(time_to(part, ohm, farad), ohm, farad) == pytest.approx(part, rel=1e-9)


@given(ohm=ohms, farad=farads, first=st.floats(0.0, 1e3), more=st.floats(0.0, 1e3))
def test_what_is_left_only_falls(ohm: float, farad: float, first: float, more: float) -> None:
    assert 0 <= part_left(first + more, ohm, farad) <= part_left(first, ohm, farad) <= 1


@given(volts=st.floats(1.0, 1000.0), farad=farads, ohm=ohms, other=ohms)
def test_the_heat_of_a_filling_does_not_hang_on_the_resistor(
    volts: float, farad: float, ohm: float, other: float
) -> None:
    heats = [inrush_let_through(volts, r, farad) * r for r in (ohm, other)]
    assert heats == pytest.approx([filling_heat(volts, farad)] * 2, rel=1e-12)


@given(st.floats(1e-6, 1e12))
def test_a_resistor_of_the_series_lies_next_to_what_is_asked(wanted: float) -> None:
    below, above = resistor_at_most(wanted), resistor_at_least(wanted)
    # A hair over is taken for the value itself: 3.3 · 0.1 is not stored as 0.33.
    assert below <= wanted * (1 + 1e-8)
    assert above >= wanted * (1 - 1e-8)
    # The widest step of the series is 6.8 to 10, but 1.5 / 1 and 10 / 6.8 are both near 1.5.
    assert below > wanted / 1.51
    assert above < wanted * 1.51
    for value in (below, above):
        decade = 10.0 ** math.floor(math.log10(value) + 1e-9)
        assert any(math.isclose(value, e * decade, rel_tol=1e-9) for e in E6)


@given(st.sampled_from(E6), st.integers(-6, 11))
def test_a_value_of_the_series_is_its_own_neighbour(value: float, decade: int) -> None:
    exact = float(f"{value}e{decade}")
    assert resistor_at_most(exact) == resistor_at_least(exact) == exact


@pytest.mark.parametrize(
    ("wanted", "below", "above"),
    [
        (40.0, 33.0, 47.0),
        (5.88, 4.7, 6.8),
        (0.12, 0.1, 0.15),
        (6.9, 6.8, 10.0),
        (99.0, 68.0, 100.0),
    ],
)
def test_resistors_by_the_series(wanted: float, below: float, above: float) -> None:
    """The E6 series of IEC 60063, from memory: 1, 1.5, 2.2, 3.3, 4.7, 6.8."""
    assert (resistor_at_most(wanted), resistor_at_least(wanted)) == (below, above)
