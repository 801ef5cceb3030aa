"""Published: precharge formulas and examples, each with its source beside it.

None of the documents was opened here: their numbers were seen in a summary of reference values.
"""

from __future__ import annotations

import math

import pytest

from evpack.kernels.precharge import filling_heat, inrush_let_through, part_left, time_to


def test_the_energy_of_a_precharge() -> None:
    """A text on lithium battery management: ½ C V²; 100 V on 10 000 µF are 50 J by arithmetic."""
    assert filling_heat(100.0, 0.010) == 50.0


def test_five_time_constants_of_half_a_second() -> None:
    """TI TIDUF73 (September 2024), 2.2.1: 50 Ω, full after 5 τ = 0.5 s; that implies 2 mF."""
    farads = 0.5 / (5 * 50.0)
    assert farads == pytest.approx(0.002)
    assert time_to(math.exp(-5), 50.0, farads) == pytest.approx(0.5)


def test_five_time_constants_in_per_cent() -> None:
    """A component maker's public page: 99.326 % after five time constants."""
    assert 100 * (1 - part_left(5.0, 1.0, 1.0)) == pytest.approx(99.326, abs=0.0005)


def test_the_voltage_that_holds_an_energy() -> None:
    """A university exercise (mexle): 0.1 J in 1 µF stand at 447.2 V."""
    assert filling_heat(447.2, 1e-6) == pytest.approx(0.1, abs=0.1 * 2 * 0.05 / 447.2)


# Derived, not published: 57 V, 20 mF, 25 Ω, and 20 mΩ without precharge. Worked in the reference
# values from the same formulas, with the capacitance and resistor that its figures imply.
VOLTS, FARADS, OHMS = 57.0, 0.020, 25.0


def test_the_derived_example() -> None:
    assert pytest.approx(0.5, abs=0.05) == OHMS * FARADS
    assert filling_heat(VOLTS, FARADS) == pytest.approx(32.49, abs=0.005)
    assert VOLTS * part_left(2.5, OHMS, FARADS) == pytest.approx(0.38406, abs=5e-6)
    assert inrush_let_through(VOLTS, 0.020, FARADS) == pytest.approx(1624.5, abs=0.05)
