"""Joining against hand-worked cases, against an integrator, and against conservation."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from evpack.base.errors import DescriptionError
from evpack.kernels.joining import Curve, bus, common_volts, pair, pair_split, rest, time_below

volts = st.floats(40.0, 60.0)
ohms = st.floats(0.002, 0.1)
slopes = st.floats(0.02, 0.5)
sources = st.lists(st.tuples(volts, ohms, slopes), min_size=2, max_size=6).map(
    lambda rows: tuple(np.array(column) for column in zip(*rows, strict=True))
)
Sources = tuple[np.ndarray, np.ndarray, np.ndarray]


# Two.


def test_two_by_hand() -> None:
    """0.2 V over 16 + 16 mΩ is 6.25 A; both end half way, at 50.1 V, after 0.1 V / 0.1 V/Ah."""
    found = pair((50.2, 50.0), (0.016, 0.016), (0.1, 0.1))
    assert found.amps == pytest.approx(6.25)
    assert found.tau == pytest.approx(576)  # 0.032 Ω · 36000 F / 2
    assert found.charge == pytest.approx(1.0)
    assert found.volts == pytest.approx(50.1)
    assert found.let_through == pytest.approx(11250)  # 6.25² · 576 / 2
    # ½ · 18000 F · (0.2 V)² = 360 J, half in each
    assert found.heat == pytest.approx((180, 180, 0))


def test_leads_slow_and_share_the_heat() -> None:
    bare, led = (pair((51, 50), (0.01, 0.03), (0.1, 0.2), leads) for leads in (0.0, 0.01))
    assert led.amps == pytest.approx(20)  # 1 V / 50 mΩ
    assert led.charge == bare.charge
    assert sum(led.heat) == pytest.approx(sum(bare.heat))
    assert led.heat == pytest.approx((1200, 3600, 1200))  # ½ · 12000 F · 1 V², as 1 to 3 to 1


def test_a_much_larger_one_draws_the_other_to_its_voltage() -> None:
    found = pair((50, 48), (0.01, 0.01), (1e-9, 0.1))
    assert found.volts == pytest.approx(50, abs=1e-6)
    assert found.charge == pytest.approx(20, rel=1e-6)  # 2 V / 0.1 V/Ah


def test_two_under_load_by_hand() -> None:
    """60 · 21 / 35 = 36 A, 60 · 0.125 / 0.225 = 33.333 A, 35 mΩ · 16000 F = 560 s.

    1 / (1 / 36000 + 1 / 28800) = 16000 F.
    """
    share = pair_split(60.0, (0.014, 0.021), (0.1, 0.125))
    assert share == pytest.approx((36.0, 100 / 3, 560.0))


def test_the_time_to_a_limit() -> None:
    assert time_below(-100.0, 60.0, 10.0) == pytest.approx(60 * math.log(10))
    assert time_below(10.0, 60.0, 10.0) == 0
    assert time_below(0.0, 60.0, 10.0) == 0


@pytest.mark.parametrize(
    "wrong",
    [
        (math.nan, 60.0, 1.0),
        (1.0, math.inf, 1.0),
        (1.0, 0.0, 0.5),
        (1.0, 6.0, 0.0),
        (1, 6, math.nan),
    ],
)
def test_no_time_is_given_for_what_is_unknown(wrong: tuple[float, float, float]) -> None:
    with pytest.raises(DescriptionError):
        time_below(*wrong)


# Many.


def test_three_by_hand() -> None:
    """Millman: mean of 50.2, 50, 50 is 50.067 V; 0.1333 V / 16 mΩ = 8.33 A from the first."""
    found = bus([50.2, 50.0, 50.0], [0.016] * 3, [0.1] * 3)
    assert found.bus_volts == pytest.approx(50.2 / 3 + 100 / 3)
    assert found.first == pytest.approx([25 / 3, -25 / 6, -25 / 6])
    assert found.worst == pytest.approx(25 / 3)
    assert found.moved() == pytest.approx([4 / 3, -2 / 3, -2 / 3])  # 0.1333 V / 0.1 V/Ah
    assert found.rates == pytest.approx([0.1 / 3600 / 0.016] * 2)  # alike: each on its own R·C


@given(sources)
def test_many_are_two_where_there_are_two(given_sources: Sources) -> None:
    emf, resistance, slope = (column[:2] for column in given_sources)
    many = bus(emf, resistance, slope)
    two = pair(tuple(emf), tuple(resistance), tuple(slope))
    near = {"rel": 1e-9, "abs": 1e-9}
    assert many.first == pytest.approx([two.amps, -two.amps], **near)
    assert many.rates == pytest.approx([1 / two.tau])
    assert many.moved() == pytest.approx([two.charge, -two.charge], **near)
    assert many.let_through() == pytest.approx([two.let_through] * 2, **near)
    assert common_volts(emf, slope) == pytest.approx(two.volts)
    limit = max(abs(two.amps) / 7, 1e-3)
    assert many.settled_by(limit) == pytest.approx(time_below(two.amps, two.tau, limit), **near)
    loaded, share = bus([50, 50], resistance, slope, 60), pair_split(60, resistance, slope)
    assert loaded.first[0] == pytest.approx(share.first)
    assert loaded.last[0] == pytest.approx(share.last)
    assert loaded.rates == pytest.approx([1 / share.tau])


@given(sources)
def test_charge_and_energy_are_conserved(given_sources: Sources) -> None:
    emf, resistance, slope = given_sources
    found = bus(emf, resistance, slope)
    assert found.first.sum() == pytest.approx(0, abs=1e-9 * (1 + found.worst))
    moved = found.moved()
    assert moved.sum() == pytest.approx(0, abs=1e-9 * (1 + np.abs(moved).max()))
    end = common_volts(emf, slope)
    assert emf - slope * moved == pytest.approx(np.full(emf.size, end), rel=1e-9)
    # What is stored beyond the common voltage, ½ Σ C (E - U)², becomes heat.
    stored = (3600 / slope * (emf - end) ** 2).sum() / 2
    heat = (resistance * found.let_through()).sum()
    assert heat == pytest.approx(stored, rel=1e-7, abs=1e-9)


@given(sources, st.floats(0.01, 5.0))
def test_after_the_time_given_every_current_is_below_the_limit(
    given_sources: Sources, limit: float
) -> None:
    found = bus(*given_sources)
    settled = found.settled_by(limit)
    later = found.at(settled + np.linspace(0.0, 3 / found.rates.min(), 50))
    assert np.abs(later).max() <= limit * (1 + 1e-9)
    assert settled == 0 or np.abs(found.parts).sum(axis=1).max() > limit


CASES = [
    ([51.0, 50.0], [0.010, 0.020], [0.1, 0.3], 0.0),
    ([51.0, 50.0, 49.5], [0.010, 0.020, 0.015], [0.1, 0.3, 0.05], 0.0),
    ([50.0, 50.0, 50.2, 49.0], [0.010, 0.020, 0.015, 0.004], [0.1, 0.3, 0.05, 0.2], 80.0),
]


@pytest.mark.parametrize(("emf", "resistance", "slope", "load"), CASES)
def test_the_closed_form_is_what_an_integrator_comes_to(
    emf: list[float], resistance: list[float], slope: list[float], load: float
) -> None:
    """scipy's solve_ivp steps through Kirchhoff's laws, knowing nothing of eigenvalues."""
    conductance, k, count = 1 / np.array(resistance), np.array(slope), len(emf)

    def currents(source: np.ndarray) -> np.ndarray:
        level = (conductance @ source - load) / conductance.sum()
        return conductance * (source - level)

    def step(_: float, state: np.ndarray) -> np.ndarray:
        amps = currents(state[:count])
        return np.concatenate([-k * amps / 3600, amps / 3600, amps**2])

    times = np.linspace(0.0, 3000.0, 7)
    start = np.concatenate([emf, np.zeros(2 * count)])
    tight = {"rtol": 1e-10, "atol": 1e-10}
    run = solve_ivp(step, (0.0, 3e4), start, t_eval=[*times, 3e4], method="LSODA", **tight)
    found = bus(emf, resistance, slope, load)
    walked = np.array([currents(run.y[:count, i]) for i in range(times.size)])
    assert found.at(times) == pytest.approx(walked, abs=1e-5)
    shared = found.last * 3e4 / 3600
    assert found.moved() + shared == pytest.approx(run.y[count : 2 * count, -1], abs=1e-5)
    if not load:
        assert found.let_through() == pytest.approx(run.y[2 * count :, -1], rel=1e-5)


@pytest.mark.parametrize(
    ("changed", "says"),
    [
        ({"volts": [50.0, math.nan]}, "voltage or current"),
        ({"ohms": [0.01, 0.0]}, "each resistance"),
        ({"ohms": [0.01, math.nan]}, "each resistance"),
        ({"slopes": [0.1, 0.0]}, "each slope"),
        ({"slopes": [0.1, math.inf]}, "each slope"),
        ({"slopes": [0.1]}, "one voltage, one resistance and one slope"),
    ],
)
def test_what_cannot_be_is_refused(changed: dict[str, Any], says: str) -> None:
    case = {"volts": [50.0, 50.0], "ohms": [0.01, 0.01], "slopes": [0.1, 0.1]} | changed
    for joined in (bus, pair):
        with pytest.raises(DescriptionError, match=says):
            joined(**case)


def test_what_cannot_be_is_refused_in_its_own_place() -> None:
    with pytest.raises(DescriptionError, match="at least two"):
        bus([50], [0.01], [0.1])
    with pytest.raises(DescriptionError, match="load"):
        bus([50, 50], [0.01, 0.01], [0.1, 0.1], math.nan)
    with pytest.raises(DescriptionError, match="leads"):
        pair((50, 50), (0.01, 0.01), (0.1, 0.1), math.nan)
    with pytest.raises(DescriptionError, match="current"):
        pair_split(math.nan, (0.01, 0.01), (0.1, 0.1))
    with pytest.raises(DescriptionError, match="limit"):
        bus([50, 50], [0.01, 0.01], [0.1, 0.1]).settled_by(0.0)


# On whole curves.

SOC = np.array([0.0, 0.1, 0.9, 1.0])
LINE = np.array([3.0, 3.1, 3.9, 4.0])
FLAT = np.array([3.0, 3.3, 3.3, 3.6])


@st.composite
def curves(draw: st.DrawFn) -> list[Curve]:
    steps = st.lists(st.sampled_from([0.0, 0.1, 0.25]), min_size=3, max_size=3)
    return [
        Curve(
            SOC,
            3.0 + np.cumsum([0.0, *draw(steps)]),
            draw(st.floats(5, 100)),
            draw(st.floats(0, 1)),
        )
        for _ in range(draw(st.integers(2, 4)))
    ]


def test_on_straight_curves_all_end_where_the_straight_lines_do() -> None:
    """40 Ah at 3.8 V and 20 Ah at 3.5 V: (40 · 3.8 + 20 · 3.5) / 60 = 3.7 V, 4 Ah over."""
    found = rest([Curve(SOC, LINE, 40.0, 0.8), Curve(SOC, LINE, 20.0, 0.5)])
    assert found.volts == pytest.approx(3.7)
    assert found.given == pytest.approx([4.0, -4.0])
    assert found.states == pytest.approx([0.7, 0.7])
    assert found.beyond == ()
    assert found.open_charge == pytest.approx(0)
    assert common_volts([3.8, 3.5], [1 / 40, 1 / 20]) == pytest.approx(found.volts)


def test_on_the_flat_nothing_flows_at_rest() -> None:
    """Both show 3.3 V at 20 % and at 80 %; nothing moves, and up to 32 Ah may lie elsewhere.

    Together they hold 40 Ah. Each may hold 4 to 36 Ah on the flat: the width, 32 Ah, is open.
    """
    found = rest([Curve(SOC, FLAT, 40.0, 0.2), Curve(SOC, FLAT, 40.0, 0.8)])
    assert found.volts == 3.3
    assert found.given == pytest.approx([0, 0])
    assert found.open_charge == pytest.approx(32)


def test_a_full_one_beside_a_flat_one_gives_down_to_the_flat() -> None:
    """From 3.6 V at 100 % down to 3.3 V at 90 %: 4 Ah, which the other takes on its flat part."""
    found = rest([Curve(SOC, FLAT, 40.0, 1.0), Curve(SOC, FLAT, 40.0, 0.5)])
    assert found.volts == 3.3
    assert found.given == pytest.approx([4, -4])


def test_an_empty_one_beside_a_flat_one_takes_up_to_the_flat() -> None:
    found = rest([Curve(SOC, FLAT, 40.0, 0.0), Curve(SOC, LINE, 40.0, 0.3)])
    # At 3.3 V the line holds 12 Ah, just what it has; the empty one lacks 4 Ah up to its flat:
    # 3.3 V is not reached. x of both above 3.0 V: 40 x / 3 + 40 x = 12, x = 0.225.
    assert found.volts == pytest.approx(3.225)
    assert found.given == pytest.approx([-3, 3])


def test_one_that_would_be_driven_over_full_is_named() -> None:
    low, high = Curve(SOC, LINE - 1.0, 10.0, 0.5), Curve(SOC, LINE, 100.0, 0.5)
    assert rest([low, high]).beyond == (0,)
    empty = Curve(SOC, LINE, 10.0, 0.5), Curve(SOC, LINE - 1.0, 100.0, 0.5)
    assert rest(list(empty)).beyond == (0,)


@given(curves())
def test_charge_is_conserved_and_all_end_at_one_voltage(joined: list[Curve]) -> None:
    found = rest(joined)
    whole = sum(curve.capacity for curve in joined)
    assert found.given.sum() == pytest.approx(0, abs=1e-9 * whole)
    assert found.open_charge >= 0
    for i, curve in enumerate(joined):
        assert -1e-9 <= found.states[i] <= 1 + 1e-9
        if i not in found.beyond:
            ends_at = np.interp(found.states[i], curve.soc, curve.volts)
            assert ends_at == pytest.approx(found.volts, abs=1e-7)


@given(st.floats(5, 100), st.floats(0, 1), st.floats(0, 1))
def test_the_balance_is_what_a_root_finder_comes_to(
    capacity: float, one: float, other: float
) -> None:
    bent = np.array([3.0, 3.4, 3.5, 4.0])

    def over(level: float) -> float:
        """Charge that both hold at a voltage beyond what they have."""
        return capacity * (np.interp(level, bent, SOC) - one) + 40 * (
            np.interp(level, LINE, SOC) - other
        )

    found = rest([Curve(SOC, bent, capacity, one), Curve(SOC, LINE, 40.0, other)])
    assert found.volts == pytest.approx(brentq(over, 3.0, 4.0, xtol=1e-12), abs=1e-9)


GOOD = Curve(SOC, LINE, 40.0, 0.5)


@pytest.mark.parametrize(
    "wrong",
    [
        {"soc": SOC[:3]},
        {"soc": SOC[:1], "volts": LINE[:1]},
        {"soc": SOC[None], "volts": LINE[None]},
        {"volts": LINE[::-1]},
        {"volts": np.array([3.0, math.nan, 3.5, 4.0])},
        {"soc": np.array([0.0, 0.5, 0.5, 1.0])},
        {"soc": np.array([0.1, 0.2, 0.9, 1.0])},
        {"soc": np.array([0.0, 0.2, 0.8, 0.9])},
        {"capacity": 0.0},
        {"capacity": math.nan},
        {"state": 1.1},
        {"state": math.nan},
    ],
)
def test_a_curve_that_cannot_be_is_refused(wrong: dict[str, Any]) -> None:
    with pytest.raises(DescriptionError, match="curve 1"):
        rest([GOOD, GOOD._replace(**wrong)])


def test_one_alone_is_not_joined() -> None:
    with pytest.raises(DescriptionError, match="at least two"):
        rest([GOOD])
