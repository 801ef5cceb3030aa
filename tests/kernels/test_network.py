"""A step of strings between two bars: against the ladder, closed forms, and what must hold."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from strings_made import CELSIUS, any_strings, made, plain

from evpack.kernels import network
from evpack.kernels.cold import resistance_factor
from evpack.kernels.ladder import reduced
from evpack.kernels.network import (
    State,
    Strings,
    advance,
    bench,
    cold_factor,
    for_power,
    prepare,
    rested,
    to_voltage,
)

COLD = np.array([resistance_factor(float(t)) for t in CELSIUS])


def at_once(strings: Strings, state: State, load: float) -> tuple[np.ndarray, float, float]:
    """Return the currents of a step too short to change anything, and what the load sees."""
    room = bench(strings, 1e-9)
    volts, ohms = prepare(strings, state, room)
    return room.base + room.share * load, volts, ohms


@pytest.mark.parametrize("n", [1, 2, 3, 7])
def test_every_tap_agrees_with_the_dense_solution(n: int) -> None:
    """`kernels.ladder` solves Kirchhoff's laws at every tap as one system of equations."""
    drawn = np.random.default_rng(n)
    ohms, bar = drawn.uniform(0.008, 0.03, n), drawn.uniform(0, 3e-4, n - 1)
    for plus in range(n):
        for minus in range(n):
            strings = made(ohms, empty=drawn.uniform(50, 51, n), bar=bar, taps=(plus, minus))
            state = rested(strings, 0.5, 25.0)
            emf = strings.ocv.mean(axis=1)
            dense = reduced(ohms, bar, bar, load_plus=plus, load_minus=minus)
            ours, volts, seen = at_once(strings, state, 150.0)
            assert ours == pytest.approx(dense.currents(emf, 150.0), abs=1e-7)
            assert volts == pytest.approx(float(dense.weights @ emf), abs=1e-9)
            assert seen == pytest.approx(dense.ohms, abs=1e-9)


def test_an_open_string_carries_nothing_and_spoils_nothing() -> None:
    strings = made([0.02, 0.03, 0.02], bar=1e-4)
    for gone in range(3):
        open_one = strings._replace(lead=np.where(np.arange(3) == gone, 1e9, 1e-12))
        amps, volts, ohms = at_once(open_one, rested(open_one, 0.5, 25.0), 90.0)
        assert abs(amps[gone]) < 1e-6
        assert amps.sum() == pytest.approx(90.0, abs=1e-9)
        # The others as a dense system without that string's conductance.
        r = np.where(np.arange(3) == gone, 1e9, strings.ohms[:, 0])
        dense = reduced(r, [1e-4, 1e-4], [1e-4, 1e-4])
        assert amps == pytest.approx(dense.currents([49.5] * 3, 90.0), abs=1e-4)
        assert volts - 90 * ohms == pytest.approx(49.5 - 90 * dense.ohms, abs=1e-4)


def test_two_modules_side_by_side() -> None:
    """Reference, section 6: two modules in parallel have a closed form.

    40 and 32 Ah, 0.1 and 0.125 V/Ah, 14 and 21 mΩ, 60 A. At once by resistance: 60 · 21/35 = 36 A.
    Late by capacity, C = 3600/k = 36000 and 28800 F: 60 · 36000/64800 = 33.333 A. Time constant
    0.035 Ω · 36000 · 28800/64800 F = 560 s; after it 33.3333 + 2.6667/e = 34.3143 A.
    """
    strings = made([0.014, 0.021], empty=50.0, full=54.0, amp_hours=[40.0, 32.0])
    assert (strings.ocv[:, 1] - strings.ocv[:, 0]) / [40, 32] == pytest.approx([0.1, 0.125])
    state = rested(strings, 1.0, 25.0)
    first, _, _ = at_once(strings, state, 60.0)
    assert first[0] == pytest.approx(36.0, abs=1e-6)
    room = bench(strings, 0.1)
    seen = {}
    for step in range(1, 33601):  # 3360 s: six time constants
        prepare(strings, state, room)
        advance(strings, state, room, 60.0, 0.1, 25.0)
        seen[step] = room.current[0]
    assert seen[5600] == pytest.approx(34.3143, abs=2e-4)
    assert seen[33600] == pytest.approx(33.3333 + 2.6667 * np.exp(-6), abs=2e-4)


def test_a_cell_under_a_constant_current() -> None:
    """Voltage, by hand: e0 - slope · I t / Q - I R - I R1 (1 - exp(-t/τ)).

    100 Ah from 42 to 57 V, 20 mΩ, 10 mΩ with 300 s, 50 A from 80 % for 600 s:
    54 - 15 · 50 · 600/360000 - 1 - 0.5 · (1 - e⁻²) = 54 - 1.25 - 1 - 0.432332 = 51.317668 V.
    """
    strings = made([0.02], amp_hours=100.0, rc=((0.01, 300.0),))
    state, room = rested(strings, 0.8, 25.0), bench(strings, 20.0)
    terminal = 0.0
    for _ in range(30):
        volts, ohms = prepare(strings, state, room)
        terminal = volts - ohms * 50.0
        advance(strings, state, room, 50.0, 20.0, 25.0)
    assert terminal == pytest.approx(51.317668, abs=1e-6)
    assert state.soc[0] == pytest.approx(0.8 - 50 * 600 / 360000, abs=1e-12)
    assert state.rc[0, 0] == pytest.approx(0.432332, abs=1e-6)


def test_a_string_warms_to_where_the_air_takes_its_heat() -> None:
    """50 A through 20 mΩ of cells are 50 W; at 2.5 W/K that is 20 K above the air.

    With 5000 J/K the time constant is 2000 s; after one, 20 · (1 - 1/e) = 12.642 K.
    """
    strings = made([0.02], amp_hours=1e6, heat=5000.0, to_air=2.5)
    state, room = rested(strings, 0.5, 10.0), bench(strings, 1.0)
    for step in range(20000):
        prepare(strings, state, room)
        advance(strings, state, room, 50.0, 1.0, 10.0)
        if step == 1999:
            assert state.temperature[0] == pytest.approx(22.642, abs=0.01)
    assert state.temperature[0] == pytest.approx(30.0, abs=0.01)


def test_the_lead_warms_no_cell() -> None:
    strings = made([0.02], lead=0.05, heat=5000.0)
    state, room = rested(strings, 0.5, 10.0), bench(strings, 100.0)
    prepare(strings, state, room)
    advance(strings, state, room, 50.0, 100.0, 10.0)
    # 50 W for 100 s into 5000 J/K
    assert state.temperature[0] == pytest.approx(11.0, abs=1e-9)


@pytest.mark.parametrize(
    ("celsius", "times"), [(25.0, 1.0), (0.0, 2.0), (-10.0, 3.0), (2.5, 1.5), (80.0, 1.0)]
)
def test_cold_cells_resist_more(celsius: float, times: float) -> None:
    """2 at 0 °C, 4 at -20 °C, 1 from 5 °C on (`kernels.cold`); linear between whole kelvins."""
    assert cold_factor(COLD, celsius) == pytest.approx(times, abs=1e-9)


def test_below_the_table_its_end_is_held() -> None:
    assert cold_factor(COLD, -60.0) == COLD[0]


def test_a_cold_string_carries_less() -> None:
    """One of two like strings at 0 °C has twice the resistance, and so a third of the load."""
    strings = made([0.02, 0.02], cold=COLD)
    state = rested(strings, 0.5, 25.0)
    state.temperature[1] = 0.0
    amps, _, _ = at_once(strings, state, 90.0)
    assert amps == pytest.approx([60.0, 30.0], abs=1e-6)


def test_curves_go_on_beyond_their_ends() -> None:
    """42 to 57 V: at -10 % 40.5 V, at 110 % 58.5 V; resistance is held."""
    strings = made([0.02])
    assert at_once(strings, rested(strings, -0.1, 25.0), 0.0)[1] == pytest.approx(40.5)
    assert at_once(strings, rested(strings, 1.1, 25.0), 0.0)[1] == pytest.approx(58.5)
    assert at_once(strings, rested(strings, 1.1, 25.0), 0.0)[2] == pytest.approx(0.02)


def test_the_current_of_a_power() -> None:
    """50 V behind 0.1 Ω: 50 A give 45 V and 2250 W. The most is 250 A at 25 V, 6250 W."""
    assert for_power(50.0, 0.1, 2250.0) == pytest.approx(50.0)
    assert for_power(50.0, 0.1, 6250.0) == pytest.approx(250.0)
    assert for_power(50.0, 0.1, 9000.0) == pytest.approx(250.0)
    # Charging with 55 A needs 55.5 V: 3052.5 W.
    assert for_power(50.0, 0.1, -3052.5) == pytest.approx(-55.0)


def test_the_current_to_a_voltage() -> None:
    assert to_voltage(50.0, 0.1, 56.0) == pytest.approx(-60.0)


@given(strings=any_strings(), load=st.floats(-300, 300), seconds=st.floats(0.01, 3600))
def test_currents_add_up_to_the_load(strings: Strings, load: float, seconds: float) -> None:
    state, room = rested(strings, 0.6, 20.0), bench(strings, seconds)
    prepare(strings, state, room)
    before = state.soc.copy()
    advance(strings, state, room, load, seconds, 20.0)
    assert room.current.sum() == pytest.approx(load, abs=1e-9)
    moved = ((before - state.soc) * strings.coulombs).sum()
    assert moved == pytest.approx(load * seconds, abs=1e-7 * max(1.0, abs(load) * seconds))


@given(strings=any_strings(least=2), data=st.data())
def test_more_ohms_less_of_the_load(strings: Strings, data: Any) -> None:
    k = data.draw(st.integers(0, strings.lead.size - 1))
    state, room = rested(strings, 0.6, 20.0), bench(strings, 1.0)
    prepare(strings, state, room)
    share = room.share[k]
    dearer = strings._replace(lead=strings.lead + 0.01 * (np.arange(strings.lead.size) == k))
    prepare(dearer, state, room)
    assert room.share[k] < share


@given(strings=any_strings(), data=st.data())
def test_without_bars_the_order_of_strings_does_not_matter(strings: Strings, data: Any) -> None:
    n = strings.lead.size
    order = np.array(data.draw(st.permutations(range(n))))
    none = np.zeros(n - 1)
    one = strings._replace(plus=none, minus=none)
    per_string = ["ocv", "ohms", "lead", "coulombs", "rc_ohms", "rc_seconds", "heat", "to_air"]
    other = one._replace(**{name: getattr(one, name)[order] for name in per_string})
    rooms = []
    for made_so in (one, other):
        room = bench(made_so, 10.0)
        prepare(made_so, rested(made_so, 0.6, 20.0), room)
        rooms.append(room.base + 100.0 * room.share)
    assert rooms[0][order] == pytest.approx(rooms[1], abs=1e-8)


@given(n=st.integers(2, 9), ohms=st.floats(0.005, 0.05), bar=st.floats(1e-6, 1e-3))
def test_like_strings_fed_from_opposite_ends_share_as_in_a_mirror(
    n: int, ohms: float, bar: float
) -> None:
    strings = made([ohms] * n, bar=bar, taps=(0, n - 1))
    amps, _, _ = at_once(strings, rested(strings, 0.5, 25.0), 100.0)
    assert amps == pytest.approx(amps[::-1], abs=1e-7)
    same_end = strings._replace(tap_minus=0)
    uneven, _, _ = at_once(same_end, rested(same_end, 0.5, 25.0), 100.0)
    assert uneven.max() >= amps.max() - 1e-7
    assert (np.diff(uneven) <= 1e-7).all()  # the nearest carries most


@given(strings=any_strings(), load=st.floats(-200, 200))
def test_compiled_as_plain(strings: Strings, load: float) -> None:
    """The same step, compiled and as Python runs it."""
    ends = []
    for own in (lambda f: f, plain):
        state, room = rested(strings, 0.6, 3.0), bench(strings, 30.0)
        seen = own(prepare)(strings, state, room)
        seen = (*seen, *own(network._swept)(strings, room))
        own(advance)(strings, state, room, load, 30.0, 10.0)
        ends.append((seen, state, room.current))
    (seen, state, amps), (plain_seen, plain_state, plain_amps) = ends
    assert seen == pytest.approx(plain_seen, rel=1e-9)
    assert seen[:2] == seen[2:]
    assert state.soc == pytest.approx(plain_state.soc, abs=1e-12)
    assert state.rc == pytest.approx(plain_state.rc, abs=1e-9)
    assert state.temperature == pytest.approx(plain_state.temperature, abs=1e-9)
    assert amps == pytest.approx(plain_amps, abs=1e-7)


@given(volts=st.floats(20, 60), ohms=st.floats(0.001, 0.5), watts=st.floats(-5000, 20000))
def test_compiled_as_plain_at_the_load(volts: float, ohms: float, watts: float) -> None:
    assert for_power(volts, ohms, watts) == pytest.approx(plain(for_power)(volts, ohms, watts))
    assert to_voltage(volts, ohms, 50.0) == pytest.approx(plain(to_voltage)(volts, ohms, 50.0))
    assert cold_factor(COLD, watts / 100) == plain(cold_factor)(COLD, watts / 100)
