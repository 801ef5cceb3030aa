"""Published: worked examples printed elsewhere, for kernels that have no document of their own.

A page of a DC distribution handbook, seen second hand: 110 cells of 0.5 mΩ in series, 240 V,
printed as 4.37 kA, and four such strings in parallel, printed as 17.5 kA.
"""

import pytest

from evpack.kernels.load_line import fault_current

STRING = 110 * 0.0005  # Ω
HALF_A_DIGIT = 50.0  # A, of "17.5 kA"
A_DIGIT = 10.0  # A, of "4.37 kA": 240 V / 55 mΩ is 4363.6 A, which the page rounded upwards


def test_one_string() -> None:
    assert fault_current(240.0, STRING, 0.0) == pytest.approx(4370.0, abs=A_DIGIT)


def test_four_strings_in_parallel() -> None:
    assert fault_current(240.0, STRING, 0.0, strings=4) == pytest.approx(17_500.0, abs=HALF_A_DIGIT)


def test_parallel_adds_and_series_does_not() -> None:
    """ABYC E-11, quoted in a public thread: six 6 V blocks of 2400 A, 2 s 3 p, give 7200 A.

    Two 6 V blocks in series have twice the voltage and twice the resistance of one.
    """
    block_volts, block_ohms = 6.0, 6.0 / 2400.0
    fault = fault_current(2 * block_volts, 2 * block_ohms, 0.0, strings=3)
    assert fault == pytest.approx(7200.0, abs=0.5)
