"""Published: cold voltages and currents of solar circuits, and what losses leave.

None of the documents was seen in the original: the numbers come from our collection of worked
examples, rows PV1 to PV5 and PL1, which names where each was printed.
"""

from __future__ import annotations

import math

import pytest
from strategies import good_array, solar_site

from evpack.base.worked import Worked
from evpack.check.solar_numbers import REAL_MOST, cold_open, short
from evpack.describe.array import Array
from evpack.kernels.solar import cold_factor
from evpack.load.tables import cold_factors

# NEC Table 690.7(A) as our collection has it (a copy): the coldest air of a row, its factor.
TABLE = (
    (20.0, 1.02),
    (15.0, 1.04),
    (10.0, 1.06),
    (5.0, 1.08),
    (0.0, 1.10),
    (-5.0, 1.12),
    (-10.0, 1.14),
    (-15.0, 1.16),
    (-20.0, 1.18),
    (-25.0, 1.20),
    (-30.0, 1.21),
    (-35.0, 1.23),
    (-40.0, 1.25),
)


def cold(array: Array, celsius: float) -> Worked:
    found = cold_open(array, solar_site(coldest_outside=f"{celsius} degC"), TABLE)
    assert found is not None
    return found


def test_pv1_a_coefficient_in_volts_per_kelvin() -> None:
    """A guide to 690.7 of the 2011 NEC: 22.60 V, −0.075 V/K, −7 °C; printed 25 V."""
    panel = good_array(
        in_series=1,
        open_circuit="22.6 V",
        maximum_power_voltage="18 V",
        coefficient="-0.075 V/K",
    )
    assert cold(panel, -7).value == pytest.approx(25.0, abs=0.05)


def test_pv2_a_coefficient_of_each_cell() -> None:
    """A university course: 38 V, 60 cells of −3.2 mV/K, −23 °C; printed 47.2 V."""
    panel = good_array(in_series=1, open_circuit="38 V", coefficient="-192 mV/K")
    assert cold(panel, -23).value == pytest.approx(47.2, abs=0.05)


def test_pv3_a_row_of_the_table() -> None:
    """The same course: −10 °F is −23.3 °C, the row of −21 to −25 °C; printed 1.20."""
    assert cold_factor(-23.3, TABLE) == 1.20


def test_pv4_a_relative_coefficient() -> None:
    """A public test fixture: 14 modules of 49.5 V, −0.27 %/K, −10 °C; printed 758.5 V."""
    panel = good_array(in_series=14, open_circuit="49.5 V", coefficient="-0.27 %/K")
    assert cold(panel, -10).value == pytest.approx(758.5, abs=0.05)


def test_pv5_the_same_by_the_table() -> None:
    """The same fixture by NEC Table 690.7(A): 49.5 · 14 · 1.14; printed 790.02 V."""
    panel = good_array(in_series=14, open_circuit="49.5 V", coefficient=None, crystalline=True)
    assert cold(panel, -10).value == pytest.approx(790.02, abs=0.005)


def test_the_table_that_ships_is_the_one_above() -> None:
    assert cold_factors() == TABLE


def test_pl1_the_losses_of_a_solar_system() -> None:
    """A public energy code's reference method: seven factors, printed 14 % together (14.1)."""
    left = math.prod((0.98, 0.98, 0.995, 0.985, 0.99, 0.95, 0.97))
    assert pytest.approx(left, abs=0.005) == REAL_MOST


def test_the_two_factors_of_690_8_together() -> None:
    """NEC 690.8(A)(1) and (B): 1.25 for strong sun, and 1.25 for hours of it; printed 1.56."""
    one = short(good_array(in_parallel=1, short_circuit="10 A"))
    assert one is not None
    assert one.value == pytest.approx(12.5)
    assert one.value / 10 * 1.25 == pytest.approx(1.56, abs=0.005)
