"""Runs over orders: limits, switches, and books that close."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from strings_made import CELSIUS, any_strings, made, plain

from evpack.kernels import network, runs
from evpack.kernels.cold import resistance_factor
from evpack.kernels.network import State, Strings, rested
from evpack.kernels.runs import NEVER, Limits, follow, stored, switches

ONE = made([0.02], amp_hours=100.0)  # 42 to 57 V, 15 V over 100 Ah


def test_energy_of_a_straight_curve() -> None:
    """42 to 57 V, 100 Ah: full 49.5 · 100 Wh; half (42 + 49.5)/2 · 50 Wh."""
    assert stored(ONE, np.array([1.0])) == pytest.approx(4950 * 3600)
    assert stored(ONE, np.array([0.5])) == pytest.approx(45.75 * 50 * 3600)
    # Beyond its ends: to -10 % it falls by (42 + 40.5)/2 · 10 Wh.
    assert stored(ONE, np.array([-0.1])) == pytest.approx(-41.25 * 10 * 3600)
    assert stored(ONE, np.array([1.1])) == pytest.approx((4950 + 57.75 * 10) * 3600)


def test_a_charge_tapers_at_its_voltage_and_ends_at_its_tail() -> None:
    """At 55 V behind 20 mΩ, 50 A till 54 V at rest; then the current falls.

    15 V / 360000 A s over 20 mΩ: time constant 360000/15 · 0.02 = 480 s. From 50 A to 5 A:
    480 · ln 10 = 1105 s. 54 V is 80 %; from 70 % that is 36000/50 = 720 s: 1825 s in all.
    """
    limits = Limits(highest=55.0, tail=5.0)
    done = follow(ONE, rested(ONE, 0.7, 25.0), np.full(4000, -50.0), 1.0, limits=limits, stops=True)
    assert done.books.full == pytest.approx(1825, abs=3)
    assert done.books.steps == done.books.full
    assert done.record.volts.max() <= 55.0 + 1e-9
    assert done.record.load[-1] == pytest.approx(-5.0, abs=0.05)
    assert done.record.load[:700] == pytest.approx(-50.0)
    assert done.time[-1] == done.books.steps


def test_a_charger_does_not_draw_a_pack_down() -> None:
    """At rest above its voltage, a charger gives nothing and takes nothing."""
    limits = Limits(highest=50.0)
    done = follow(ONE, rested(ONE, 0.9, 25.0), np.full(10, -50.0), 60.0, limits=limits)
    assert done.record.load == pytest.approx(0.0)
    assert done.books.full == 0
    assert done.books.steps == 10  # it was not told to stop


def test_a_load_is_cut_and_stays_off_till_it_is_taken_away() -> None:
    """100 A take 2 V: at 49 V the load is cut, and is not put on again at 51 V."""
    orders = np.concatenate([np.full(5, 100.0), np.zeros(2), np.full(3, 20.0)])
    done = follow(ONE, rested(ONE, 0.6, 25.0), orders, 1.0, limits=Limits(lowest=49.5))
    # 51 V at rest: 49 V loaded, 50.6 V at 20 A
    assert done.record.load.tolist() == [0] * 7 + [20] * 3
    assert done.books.cut == 0
    stopped = follow(
        ONE, rested(ONE, 0.6, 25.0), orders, 1.0, limits=Limits(lowest=49.5), stops=True
    )
    assert stopped.books.steps == 0
    assert stopped.time.size == 0


def test_a_cut_waits_for_its_voltage() -> None:
    """From 51 V, 20 A take 0.4 V; 50 V is met at rest 50.4 V: 0.6/15 · 360000/20 s = 720 s."""
    done = follow(
        ONE,
        rested(ONE, 0.6, 25.0),
        np.full(2000, 20.0),
        1.0,
        limits=Limits(lowest=50.0),
        stops=True,
    )
    assert done.books.cut == pytest.approx(720, abs=2)


def test_a_power_that_the_pack_cannot_give() -> None:
    """51 V behind 20 mΩ gives 51²/0.08 = 32.5 kW at most, at 25.5 V."""
    done = follow(ONE, rested(ONE, 0.6, 25.0), [10e3, 40e3, 40e3], 1e-3, power=True)
    assert (done.books.collapsed, done.books.unmet) == (1, 2)
    assert done.record.volts[0] * done.record.load[0] == pytest.approx(10e3)
    assert done.record.volts[1] == pytest.approx(25.5, abs=1e-3)
    stopped = follow(ONE, rested(ONE, 0.6, 25.0), [10e3, 40e3, 10e3], 1e-3, power=True, stops=True)
    assert (stopped.books.collapsed, stopped.books.steps) == (1, 1)
    met = follow(ONE, rested(ONE, 0.6, 25.0), [10e3], 1e-3, power=True)
    assert (met.books.collapsed, met.books.unmet) == (NEVER, 0)


def test_voltage_and_power_are_those_behind_the_cable() -> None:
    """51 V behind 20 mΩ and 30 mΩ of cable: 100 A come to 46 V, 4600 W; the cable takes 300 W."""
    done = follow(
        ONE, rested(ONE, 0.6, 25.0), [4600.0], 1e-3, power=True, limits=Limits(cable=0.03)
    )
    assert done.record.load[0] == pytest.approx(100.0, abs=1e-3)
    assert done.record.volts[0] == pytest.approx(46.0, abs=1e-3)
    assert done.books.delivered == pytest.approx(4.6, rel=1e-6)
    assert done.books.heat_bars == pytest.approx(0.3, rel=1e-4)
    assert done.books.mesh < 1e-9


def test_a_current_limit_holds_both_ways() -> None:
    done = follow(ONE, rested(ONE, 0.6, 25.0), [30.0, 80.0, -80.0], 1.0, limits=Limits(most=50.0))
    assert done.record.load.tolist() == [30.0, 50.0, -50.0]
    assert done.books.limited == 1


def test_every_so_many_steps_a_row_and_the_extremes_of_all() -> None:
    orders = np.array([10.0, 90.0, 10.0, -40.0, 10.0, 10.0, 10.0])
    done = follow(ONE, rested(ONE, 0.6, 25.0), orders, 1.0, every=3)
    assert done.time.tolist() == [3.0, 6.0]
    assert done.record.load.tolist() == [10.0, 10.0]
    assert (done.record.highest[0], done.record.highest_at[0]) == (90.0, 1)
    assert (done.record.lowest[0], done.record.lowest_at[0]) == (-40.0, 3)


def test_a_string_that_opens_leaves_its_share_to_the_others() -> None:
    """Three like strings under 90 A: 30 A each; from the third step 45, 0, 45 A."""
    three = made([0.02] * 3)
    before = three.lead.copy()
    opened = switches((2, 1, 1e9, np.inf))
    done = follow(three, rested(three, 0.8, 25.0), np.full(4, 90.0), 1.0, changes=opened)
    assert done.record.current[:2] == pytest.approx(30.0)
    assert done.record.current[2] == pytest.approx([45.0, 0.0, 45.0], abs=1e-3)
    assert three.lead.tolist() == before.tolist()  # what was given is left as it was


def test_a_short_across_one_string_by_hand() -> None:
    """Two like strings, 50 V behind 20 mΩ and 5 mΩ of lead, 5 mΩ across the second, no load.

    The short sees its own cells (20 mΩ) beside the other string (20 + 5 + 5 = 30 mΩ), both at
    50 V: 12 mΩ before its 5 mΩ. 50/0.017 = 2941.18 A, of them own cells 30/50, the other 20/50:
    1764.71 A and 1176.47 A; back through the second lead the 1176.47 A.
    """
    two = made([0.02, 0.02], empty=50.0, full=50.0 + 1e-9, lead=0.005)
    shorted = switches((1, 1, 0.005, 0.005))
    done = follow(two, rested(two, 0.5, 25.0), np.zeros(2), 1e-6, changes=shorted)
    assert done.record.current[0] == pytest.approx([0.0, 0.0], abs=1e-6)
    assert done.record.current[1] == pytest.approx([1176.47, -1176.47], abs=0.01)
    books = done.books
    assert books.through_fault == pytest.approx(2941.18e-6, rel=1e-5)
    assert books.heat_fault == pytest.approx(2941.18**2 * 0.005 * 1e-6, rel=1e-5)
    assert books.heat_leads == pytest.approx(2 * 1176.47**2 * 0.005 * 1e-6, rel=1e-5)
    cells = (1764.71**2 + 1176.47**2) * 0.02 * 1e-6
    assert books.heat_cells == pytest.approx(cells, rel=1e-5)
    assert books.through_load == 0.0


def test_energy_closes_better_the_finer_the_steps() -> None:
    two = made([0.02, 0.03], amp_hours=[60.0, 40.0], lead=0.003, rc=((0.02, 300.0),), bar=[1e-4])
    parts = []
    for seconds in (60.0, 30.0, 15.0):
        orders = np.full(round(3600 / seconds), 40.0)
        done = follow(two, rested(two, 0.9, 25.0), orders, seconds)
        parts.append(done.energy_residual / done.energy_handled)
    assert abs(parts[0]) < 3e-3
    assert parts[1] / parts[0] == pytest.approx(0.5, abs=0.05)
    assert parts[2] / parts[1] == pytest.approx(0.5, abs=0.05)


ORDERS = st.lists(st.floats(-8000, 8000), min_size=1, max_size=20)


@given(strings=any_strings(), orders=ORDERS, seconds=st.floats(0.1, 120), data=st.data())
def test_the_books_close(strings: Strings, orders: list[float], seconds: float, data: Any) -> None:
    """Charge to rounding and Kirchhoff's laws, whatever is ordered, opened or shorted."""
    n = strings.lead.size
    k = data.draw(st.integers(0, n - 1))
    across = data.draw(st.sampled_from([np.inf, 0.01, 1.0]))
    lead = data.draw(st.sampled_from([float(strings.lead[k]), 1e6]))
    changes = switches((data.draw(st.integers(0, 19)), k, lead, across))
    done = follow(
        strings,
        rested(strings, 0.6, 20.0),
        orders,
        seconds,
        power=True,
        limits=Limits(highest=56.0, lowest=45.0, most=300.0),
        changes=changes,
    )
    books = done.books
    assert abs(done.charge_residual) <= 1e-9 * (1.0 + books.moved)
    through = books.through_load + books.through_fault
    assert books.out_of_cells == pytest.approx(through, abs=1e-8 * (1.0 + books.moved))
    assert books.mesh <= 1e-5
    assert done.record.current.sum(axis=1) == pytest.approx(done.record.load, abs=1e-6)
    charging = done.record.load < 0
    assert (done.record.volts[charging] <= 56.0 + 1e-6).all()
    assert (done.record.volts[done.record.load > 0] >= 45.0 - 1e-9).all()
    assert (np.abs(done.record.load) <= 300.0).all()
    heats = (books.heat_cells, books.heat_leads, books.heat_bars, books.heat_fault)
    assert min(heats) >= 0.0


@pytest.mark.parametrize("power", [True, False])
@given(strings=any_strings(most=4), orders=ORDERS)
def test_compiled_as_plain(strings: Strings, orders: list[float], *, power: bool) -> None:
    """The loop as Python runs it, with a short and an open string on the way."""
    cold = np.array([resistance_factor(float(t)) for t in CELSIUS])
    strings = strings._replace(cold=cold)
    changes = switches((1, 0, float(strings.lead[0]), 0.05), (3, 0, 1e6, 0.05))
    limits = Limits(highest=56.0, lowest=44.0, most=200.0, tail=1.0)
    asked = [order / (1 if power else 50) for order in orders]
    start = rested(strings, 0.7, 2.0)

    def gone(**_: Any) -> Any:
        return follow(strings, start, asked, 20.0, power=power, limits=limits, changes=changes)

    compiled = gone()
    kept = {name: getattr(runs, name) for name in ("run", "_lay_across", "_as_cells")}
    try:
        for name, function in kept.items():
            setattr(runs, name, plain(function))
        as_python = gone()
    finally:
        for name, function in kept.items():
            setattr(runs, name, function)
    assert compiled.books == pytest.approx(as_python.books, rel=1e-7, abs=1e-4)
    assert compiled.state.soc == pytest.approx(as_python.state.soc, abs=1e-9)
    assert compiled.record.current == pytest.approx(as_python.record.current, abs=1e-5)


def test_the_state_given_is_left_as_it_is() -> None:
    start = rested(ONE, 0.6, 25.0)
    held = State(*(part.copy() for part in start))
    done = follow(ONE, start, [50.0], 60.0)
    assert all((one == other).all() for one, other in zip(start, held, strict=True))
    assert done.state.soc[0] < 0.6
    assert network.rested(ONE, 0.6, 25.0).soc.tolist() == [0.6]
