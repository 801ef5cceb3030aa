"""Published and derived: conductors. Rows of the worked examples, each under its name.

VD1 is printed in an electrician's training text that uses NEC Chapter 9 Table 8, CU1 in a reprint
of IEC 60228 (both seen in a summary, not in the original). D18 and D19 are derived: the adiabatic
equation of IEC 60364-4-43, 434.5.2, with k from memory, done once more by hand.
"""

from __future__ import annotations

import pytest

from evpack.kernels.conductor import from_20, from_75, voltage_drop, withstand, withstand_time

METRES_IN_A_FOOT = 0.3048


def test_vd1_a_thin_wire_over_a_hundred_feet() -> None:
    """16 AWG stranded, 4.99 Ω a thousand feet, 100 ft one way, 4 A: printed 4.0 V, 16.7 % of 24 V.

    4.0 / 24 is 16.67 %; unrounded it is 3.992 V and 16.63 %.
    """
    drop = voltage_drop(4.99 / 1000 / METRES_IN_A_FOOT, 100 * METRES_IN_A_FOOT, 4.0)
    assert drop == pytest.approx(4.0, abs=0.05)
    assert drop == pytest.approx(3.992, abs=0.0005)


def test_cu1_what_brings_75_degrees_back_to_20() -> None:
    """IEC 60228, Annex A as reprinted: 0.820, which is 1 / (1 + 0.004 · 55), its plain formula.

    With 0.00393 (IEC 60028) it is 0.8223, and NEC's 0.00323 from 75 °C gives the same.
    """
    assert 1 / from_20(75.0, alpha=0.004) == pytest.approx(0.820, abs=0.0005)
    assert 1 / from_20(75.0) == pytest.approx(254.5 / 309.5, abs=0.0005)
    assert from_75(20.0) == pytest.approx(0.82229, abs=0.0005)


def test_d18_how_long_95_mm2_in_pvc_stand_20_ka() -> None:
    # (115 · 95 / 20000)² = 0.54625² = 0.29839 s.
    assert withstand_time(115.0, 95.0, 20_000.0) == pytest.approx(0.29839, abs=5e-6)


def test_d19_what_50_mm2_in_xlpe_stand() -> None:
    # (143 · 50)² = 7150² = 51 122 500 A²s.
    assert withstand(143.0, 50.0) == pytest.approx(5.1122e7, abs=5e2)
