"""Prospective fault current: Ohm's law, worked by hand. Printed ones: tests/published."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evpack.kernels.fault import fault_current

# emf [V], one string [Ω], common path [Ω], strings, fault current [A].
WORKED = [
    # Rows D13 and D14 of the worked examples: 14 in series and 3 in parallel of 1.0 mΩ cells, half
    # of it ohmic: 14 · 0.5 mΩ / 3 = 2.3333 mΩ, and 56.7 V / 2.3333 mΩ = 24 300 A.
    (56.7, 14 * 0.0005, 0.0, 3, 24_300.0),
    (50.0, 0.01, 0.0, 1, 5000.0),
    (50.0, 0.01, 0.01, 1, 2500.0),  # the path halves it
    (50.0, 0.01, 0.005, 2, 5000.0),  # 5 mΩ of two strings and 5 mΩ of path
    (0.0, 0.01, 0.0, 1, 0.0),
]


@pytest.mark.parametrize(("emf", "source", "path", "strings", "amps"), WORKED)
def test_fault_current(emf: float, source: float, path: float, strings: int, amps: float) -> None:
    assert fault_current(emf, source, path, strings) == pytest.approx(amps, rel=1e-14)


def test_one_string_unless_told() -> None:
    assert fault_current(50.0, 0.01, 0.0) == fault_current(50.0, 0.01, 0.0, 1)


def test_no_resistance_is_no_answer() -> None:
    with pytest.raises(ZeroDivisionError):
        fault_current(50.0, 0.0, 0.0)


emfs = st.floats(1, 1000)
ohms = st.floats(1e-5, 10)
paths = st.floats(0, 10)
numbers = st.integers(1, 50)


@given(emfs, ohms, numbers)
def test_without_a_common_path_strings_add(emf: float, source: float, strings: int) -> None:
    alone = fault_current(emf, source, 0.0)
    assert fault_current(emf, source, 0.0, strings) == pytest.approx(strings * alone, rel=1e-12)


@given(emfs, ohms, paths, numbers)
def test_another_string_never_lowers_it_and_a_path_bounds_it(
    emf: float, source: float, path: float, strings: int
) -> None:
    now = fault_current(emf, source, path, strings)
    more = fault_current(emf, source, path, strings + 1)
    assert more >= now * (1 - 1e-12)
    assert more * path <= emf * (1 + 1e-12)


@given(emfs, ohms, paths, numbers)
def test_the_voltage_is_used_up_on_the_way(
    emf: float, source: float, path: float, strings: int
) -> None:
    amps = fault_current(emf, source, path, strings)
    assert amps / strings * source + amps * path == pytest.approx(emf, rel=1e-12)
