"""A source at rest, under constant power and shorted, against Ohm's law and references."""

import math
from itertools import pairwise

import attrs
import numpy as np
import pytest
from hypothesis import assume, example, given
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp
from numpy.typing import NDArray
from scipy.integrate import quad
from scipy.optimize import brentq

from evpack.kernels.load_line import (
    energy_between,
    fault_current,
    lowest_state,
    mean_voltage,
    state_at,
    terminal_voltage,
    terminal_voltages,
    voltage_at,
)

SOC = np.array([0.0, 0.1, 0.5, 1.0])
VOLTS = np.array([3.0, 3.4, 3.7, 4.2])

# Worked by hand on the four points above.
WORKED_CURVE = [
    (0.0, 3.0),
    (0.05, 3.2),  # halfway from 3.0 to 3.4
    (0.1, 3.4),
    (0.3, 3.55),  # halfway from 3.4 to 3.7
    (0.75, 3.95),  # halfway from 3.7 to 4.2
    (1.0, 4.2),
]

Array = NDArray[np.float64]

# Voltage at one point. Worked by hand: choose V and I, then E = V + I·R and P = V·I.
WORKED = [
    # E, R, P, V
    (50.0, 0.04, 2400.0, 48.0),  # 50 A
    (52.0, 0.05, 3840.0, 48.0),  # 80 A
    (50.0, 0.04, 0.0, 50.0),
    (50.0, 0.0, 5000.0, 50.0),
    (60.0, 0.1, 9000.0, 30.0),  # E²/4R: exactly half the voltage is left
    (50.0, 0.25, 2500.0, 25.0),
    (48.0, 0.04, -2500.0, 50.0),  # taking charge: −50 A
]

# emf [V], one string [Ω], common path [Ω], strings, fault current [A].
WORKED_FAULT = [
    # Rows D13 and D14 of the worked examples: 14 in series and 3 in parallel of 1.0 mΩ cells, half
    # of it ohmic: 14 · 0.5 mΩ / 3 = 2.3333 mΩ, and 56.7 V / 2.3333 mΩ = 24 300 A.
    (56.7, 14 * 0.0005, 0.0, 3, 24_300.0),
    (50.0, 0.01, 0.0, 1, 5000.0),
    (50.0, 0.01, 0.01, 1, 2500.0),  # the path halves it
    (50.0, 0.01, 0.005, 2, 5000.0),  # 5 mΩ of two strings and 5 mΩ of path
    (0.0, 0.01, 0.0, 1, 0.0),
]


@pytest.mark.parametrize(("state", "volts"), WORKED_CURVE)
def test_voltage_at_a_state(state: float, volts: float) -> None:
    assert voltage_at(SOC, VOLTS, state) == pytest.approx(volts, rel=1e-15)


@pytest.mark.parametrize(("state", "volts"), WORKED_CURVE)
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


@pytest.mark.parametrize(("emf", "ohms", "power", "volts"), WORKED)
def test_terminal_voltage(emf: float, ohms: float, power: float, volts: float) -> None:
    assert terminal_voltage(emf, ohms, power) == pytest.approx(volts, rel=1e-14)


def test_beyond_the_most_that_a_source_gives_it_collapses() -> None:
    assert terminal_voltage(50.0, 0.25, 2500.0) == 25.0
    assert math.isnan(terminal_voltage(50.0, 0.25, 2500.0001))


emfs = st.floats(10, 500)
resistances = st.floats(1e-4, 1)
parts = st.floats(0, 1)  # of the greatest power E²/4R


@given(emfs, resistances, parts)
def test_the_voltage_satisfies_ohms_law(emf: float, ohms: float, part: float) -> None:
    power = part * emf * emf / (4 * ohms) * (1 - 1e-12)
    volts = terminal_voltage(emf, ohms, power)
    assert volts == pytest.approx(emf - power / volts * ohms, rel=1e-9)
    assert emf / 2 <= volts <= emf


@given(emfs, resistances, st.floats(1e-9, 10))
def test_more_than_the_greatest_power_is_carried_by_none(
    emf: float, ohms: float, more: float
) -> None:
    assert math.isnan(terminal_voltage(emf, ohms, emf * emf / (4 * ohms) * (1 + more)))


@given(emfs, resistances, parts, parts)
def test_more_power_is_less_voltage(emf: float, ohms: float, one: float, other: float) -> None:
    less, more = sorted((one, other))
    most = emf * emf / (4 * ohms) * (1 - 1e-12)
    assert terminal_voltage(emf, ohms, more * most) <= terminal_voltage(emf, ohms, less * most)


@given(st.lists(st.tuples(emfs, resistances), min_size=1, max_size=20), st.floats(0, 1e5))
def test_arrays_are_single_points_side_by_side(
    points: list[tuple[float, float]], power: float
) -> None:
    emf, ohms = (np.array(column) for column in zip(*points, strict=True))
    singly = [terminal_voltage(e, r, power) for e, r in points]
    np.testing.assert_allclose(terminal_voltages(emf, ohms, power), singly, rtol=1e-14)


# Where the loaded voltage falls to a threshold.

TWO = np.array([0.0, 1.0])
RISING = np.array([40.0, 60.0])  # E = 40 + 20·s
LEVEL = np.array([0.04, 0.04])


@pytest.mark.parametrize(
    ("power", "threshold", "state"),
    [
        (2400.0, 48.0, 0.5),  # 50 A: E = 50 V
        (2400.0, 40.0, 0.12),  # 60 A: E = 42.4 V
        (0.0, 50.0, 0.5),  # at rest
        (0.0, 40.0, 0.0),
        (0.0, 35.0, 0.0),  # even an empty pack holds it
        (2400.0, 59.0, 1.0),  # not even a full pack holds it
        (0.0, 61.0, 1.0),
    ],
)
def test_lowest_state(power: float, threshold: float, state: float) -> None:
    found, collapsed = lowest_state(TWO, RISING, LEVEL, power, threshold)
    assert found == pytest.approx(state, abs=1e-14)
    assert not collapsed


def test_a_pack_that_collapses_first_ends_where_it_last_carries_the_load() -> None:
    # E = 50 V at the middle point: E²/4R = 2500 / 0.8 = 3125 W; there V is 25 V.
    soc, emf = np.array([0.0, 0.5, 1.0]), np.array([40.0, 50.0, 60.0])
    weak = np.full(3, 0.2)
    assert lowest_state(soc, emf, weak, 3125.0, 20.0) == (0.0 + 0.5, True)
    assert lowest_state(soc, emf, weak, 3125.0, 25.0) == (0.5, True)  # both at once


def test_a_threshold_above_the_collapse_is_met_first() -> None:
    # 30 V, 3125 W: 104.17 A · 0.2 Ω = 20.833 V: E = 50.833 V, s = 0.54167
    found, collapsed = lowest_state(TWO, RISING, np.full(2, 0.2), 3125.0, 30.0)
    assert found == pytest.approx(0.5416666666666667, rel=1e-12)
    assert not collapsed


@pytest.mark.parametrize("threshold", [1.0, 29.0, 30.0, 31.0, 55.0])
def test_a_pack_that_never_carries_the_load_collapses_full(threshold: float) -> None:
    # E²/4R of a full pack: 3600 / 0.8 = 4500 W
    assert lowest_state(TWO, RISING, np.full(2, 0.2), 4501.0, threshold) == (1.0, True)


def test_a_pack_that_never_collapses_holds_a_very_low_threshold_to_the_end() -> None:
    # E²/4R of an empty pack: 1600 / 0.8 = 2000 W
    assert lowest_state(TWO, RISING, np.full(2, 0.2), 1999.0, 10.0) == (0.0, False)


@attrs.frozen
class Source:
    """A pack on the grid of points that the library uses, and its exact reference."""

    soc: Array
    emf: Array
    ohms: Array

    def loaded(self, state: float | Array, power: float) -> Array:
        """Return the loaded voltage of the curves, linear between points; NaN: collapsed."""
        emf, ohms = np.interp(state, self.soc, self.emf), np.interp(state, self.soc, self.ohms)
        inside = emf**2 - 4 * ohms * power
        return np.where(inside >= 0, (emf + np.sqrt(np.maximum(inside, 0))) / 2, np.nan)

    def scan(self, power: float, threshold: float) -> tuple[float, bool]:
        """Return the lowest state from which up all hold, and whether it ends by collapse."""
        volts = self.loaded(FINE, power)
        failing = np.flatnonzero(~(volts >= threshold))
        if failing.size == 0:
            return 0.0, False
        last = int(failing[-1])
        return float(FINE[min(last + 1, FINE.size - 1)]), bool(np.isnan(volts[last]))


FINE = np.linspace(0.0, 1.0, 20_001)
GRID = np.linspace(0.0, 1.0, 101)
# What a chord between points of the grid may miss of E² − 4RP, and a step of the scan.
CHORD = 3e-4
NEAR = 1 / 20_000 + CHORD


@st.composite
def sources(draw: st.DrawFn, *, sane: bool = True) -> Source:
    """Draw a pack; a sane one has a resistance that only ever rises towards empty."""
    cells = draw(st.integers(4, 110))
    knee, slope = draw(st.floats(0.0, 0.8)), draw(st.floats(0.05, 1.2))
    width = draw(st.floats(0.02, 0.3))
    cell = 3.0 + slope * GRID - knee * np.exp(-GRID / width)
    level = draw(st.floats(1e-4, 0.02)) * cells / 14
    if sane:
        rise, over = draw(st.floats(0, 6)), draw(st.floats(0.02, 0.5))
        shape = 1 + rise * np.exp(-GRID / over)
    else:
        bends = draw(st.lists(st.floats(0.2, 5), min_size=2, max_size=8))
        shape = np.interp(GRID, np.linspace(0, 1, len(bends)), bends)
    return Source(GRID, cells * cell, level * shape)


@st.composite
def cases(draw: st.DrawFn, *, sane: bool = True) -> tuple[Source, float, float]:
    """Draw a pack, a power from none to more than it can give, a threshold from low to high."""
    source = draw(sources(sane=sane))
    power = draw(st.floats(0, 1.1)) * float((source.emf**2 / (4 * source.ohms)).max())
    threshold = draw(st.floats(0.2, 1.05)) * float(source.emf[-1])
    return source, power, threshold


WEAK = Source(GRID, 42 + 16 * GRID, 0.05 * (1 + 4 * np.exp(-GRID / 0.1)))


@given(cases())
@example((WEAK, 3500.0, 10.0))  # collapses on the way down, far above the threshold
@example((WEAK, 3500.0, 44.0))  # meets the threshold first
def test_lowest_state_against_a_scan_of_every_state(case: tuple[Source, float, float]) -> None:
    source, power, threshold = case
    state, collapsed = lowest_state(source.soc, source.emf, source.ohms, power, threshold)
    scanned, ends_by_collapse = source.scan(power, threshold)
    assert state == pytest.approx(scanned, abs=NEAR)
    half = 0.5 * float(np.interp(state, source.soc, source.emf))
    if abs(threshold - half) > 0.05 * half and scanned > 0:
        assert collapsed is ends_by_collapse


@given(cases())
@example((WEAK, 3500.0, 44.0))
def test_lowest_state_against_a_root_finder(case: tuple[Source, float, float]) -> None:
    source, power, threshold = case
    state, collapsed = lowest_state(source.soc, source.emf, source.ohms, power, threshold)
    assume(0 < state < 1)

    def over(s: float) -> float:
        emf = float(np.interp(s, source.soc, source.emf))
        ohms = float(np.interp(s, source.soc, source.ohms))
        if collapsed:
            return emf**2 - 4 * ohms * power
        volts = terminal_voltage(emf, ohms, power)
        return (emf / 2 if math.isnan(volts) else volts) - threshold

    low, high = max(0.0, state - 0.02), min(1.0, state + 0.02)
    if over(low) * over(high) < 0:
        root = brentq(over, low, high, xtol=1e-13)
        # A threshold is met exactly; a collapse is placed on a chord of E² − 4RP.
        assert state == pytest.approx(root, abs=CHORD if collapsed else 1e-8)
    else:  # the end of the grid, or a threshold that is met at the very collapse
        assert low == 0 or high == 1 or over(state) == pytest.approx(0, abs=0.02 * threshold)


@given(cases(sane=False))
def test_whatever_the_resistance_no_state_above_it_fails(
    case: tuple[Source, float, float],
) -> None:
    source, power, threshold = case
    state, _ = lowest_state(source.soc, source.emf, source.ohms, power, threshold)
    above = FINE[state + NEAR < FINE]
    assert (source.loaded(above, power * 0.999) >= threshold).all()


@given(cases(), st.floats(1.0, 1.5))
def test_more_load_never_reaches_lower(case: tuple[Source, float, float], more: float) -> None:
    source, power, threshold = case
    less_loaded, _ = lowest_state(source.soc, source.emf, source.ohms, power, threshold)
    loaded, _ = lowest_state(source.soc, source.emf, source.ohms, more * power, threshold)
    assert loaded >= less_loaded - CHORD


@given(cases(), st.floats(1.0, 1.5))
def test_a_higher_threshold_never_reaches_lower(
    case: tuple[Source, float, float], more: float
) -> None:
    source, power, threshold = case
    lower, _ = lowest_state(source.soc, source.emf, source.ohms, power, threshold)
    upper, _ = lowest_state(source.soc, source.emf, source.ohms, power, more * threshold)
    assert upper >= lower - CHORD


# Energy between two states.


def test_energy_worked_by_hand() -> None:
    level = np.array([50.0, 50.0])
    # 48 V under 2400 W, 50 V at rest; half of 100 Ah
    how = {"capacity": 100.0, "low": 0.2, "high": 0.7}
    assert energy_between(TWO, level, LEVEL, power=2400.0, **how) == pytest.approx(2400, rel=1e-14)
    assert energy_between(TWO, level, LEVEL, power=0.0, **how) == pytest.approx(2500, rel=1e-14)


def test_energy_at_rest_of_a_rising_curve_is_its_trapezoid() -> None:
    # E = 40 + 20·s: mean of 42 V and 58 V over 0.8 of 10 Ah
    got = energy_between(TWO, RISING, LEVEL, power=0.0, capacity=10.0, low=0.1, high=0.9)
    assert got == pytest.approx(400.0, rel=1e-14)


@pytest.mark.parametrize(("low", "high"), [(0.5, 0.5), (0.6, 0.5), (1.0, 0.0)])
def test_nothing_lies_between_states_out_of_order(low: float, high: float) -> None:
    how = {"power": 100.0, "capacity": 10.0, "low": low, "high": high}
    assert energy_between(TWO, RISING, LEVEL, **how) == 0.0


def test_where_the_load_is_just_not_carried_the_last_voltage_is_taken() -> None:
    # E²/4R is 2500 W, and 2501 W are asked: half of 50 V, over 10 Ah
    level, ohms = np.array([50.0, 50.0]), np.array([0.25, 0.25])
    got = energy_between(TWO, level, ohms, power=2501.0, capacity=10.0, low=0.0, high=1.0)
    assert got == pytest.approx(250.0, rel=1e-14)


def between(source: Source, power: float, low: float, high: float) -> float:
    return energy_between(
        source.soc, source.emf, source.ohms, power=power, capacity=66.0, low=low, high=high
    )


@given(cases(), parts)
@example((WEAK, 3500.0, 10.0), 1.0)
def test_energy_against_a_quadrature(case: tuple[Source, float, float], part: float) -> None:
    source, power, threshold = case
    low, _ = lowest_state(source.soc, source.emf, source.ohms, power, threshold)
    high = low + part * (1 - low)
    assume(high - low > 0.01)

    def loaded(state: float) -> float:
        emf = float(np.interp(state, source.soc, source.emf))
        volts = float(source.loaded(state, power))
        return emf / 2 if math.isnan(volts) else volts

    inner = source.soc[(source.soc > low) & (source.soc < high)]
    area, _ = quad(loaded, low, high, points=inner, limit=1000, epsabs=1e-9, epsrel=1e-9)
    # Trapezoids of 1 %: poorest next to a collapse, where the voltage falls off like a root.
    near_collapse = loaded(low) < 0.9 * float(np.interp(low, source.soc, source.emf))
    off = 5e-4 * between(source, 0.0, 0.0, 1.0) if near_collapse else 3e-4 * 66.0 * area
    assert between(source, power, low, high) == pytest.approx(66.0 * area, abs=off)


@given(sources(), st.lists(parts, min_size=1, max_size=4))
def test_at_rest_the_parts_add_up_to_the_whole(source: Source, cuts: list[float]) -> None:
    marks = sorted({0.0, 1.0, *cuts})
    pieces = [between(source, 0.0, low, high) for low, high in pairwise(marks)]
    assert sum(pieces) == pytest.approx(between(source, 0.0, 0.0, 1.0), rel=1e-12)


@given(cases(), parts)
def test_under_load_the_parts_add_up_to_the_reachable(
    case: tuple[Source, float, float], part: float
) -> None:
    source, power, threshold = case
    low, _ = lowest_state(source.soc, source.emf, source.ohms, power, threshold)
    middle = low + part * (1 - low)
    whole = between(source, power, low, 1.0)
    pieces = between(source, power, low, middle) + between(source, power, middle, 1.0)
    assert pieces == pytest.approx(whole, abs=5e-4 * between(source, 0.0, 0.0, 1.0))


@given(cases())
def test_the_heat_on_the_way_is_never_below_nothing(case: tuple[Source, float, float]) -> None:
    source, power, threshold = case
    low, _ = lowest_state(source.soc, source.emf, source.ohms, power, threshold)
    at_rest, loaded = between(source, 0.0, low, 1.0), between(source, power, low, 1.0)
    assert at_rest / 2 * (1 - 1e-12) <= loaded <= at_rest * (1 + 1e-12)


@pytest.mark.parametrize(("emf", "source", "path", "strings", "amps"), WORKED_FAULT)
def test_fault_current(emf: float, source: float, path: float, strings: int, amps: float) -> None:
    assert fault_current(emf, source, path, strings) == pytest.approx(amps, rel=1e-14)


def test_one_string_unless_told() -> None:
    assert fault_current(50.0, 0.01, 0.0) == fault_current(50.0, 0.01, 0.0, 1)


def test_no_resistance_is_no_answer() -> None:
    with pytest.raises(ZeroDivisionError):
        fault_current(50.0, 0.0, 0.0)


fault_emfs = st.floats(1, 1000)
ohms = st.floats(1e-5, 10)
paths = st.floats(0, 10)
numbers = st.integers(1, 50)


@given(fault_emfs, ohms, numbers)
def test_without_a_common_path_strings_add(emf: float, source: float, strings: int) -> None:
    alone = fault_current(emf, source, 0.0)
    assert fault_current(emf, source, 0.0, strings) == pytest.approx(strings * alone, rel=1e-12)


@given(fault_emfs, ohms, paths, numbers)
def test_another_string_never_lowers_it_and_a_path_bounds_it(
    emf: float, source: float, path: float, strings: int
) -> None:
    now = fault_current(emf, source, path, strings)
    more = fault_current(emf, source, path, strings + 1)
    assert more >= now * (1 - 1e-12)
    assert more * path <= emf * (1 + 1e-12)


@given(fault_emfs, ohms, paths, numbers)
def test_the_voltage_is_used_up_on_the_way(
    emf: float, source: float, path: float, strings: int
) -> None:
    amps = fault_current(emf, source, path, strings)
    assert amps / strings * source + amps * path == pytest.approx(emf, rel=1e-12)
