"""A cell identified from made records: what was put in comes out."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from evpack.kernels import identify as kernel
from evpack.kernels.record import Steps, find_steps

Array = NDArray[np.float64]

AH = 10.0
STATES = np.array([0.0, 0.25, 0.5, 0.75, 1.0])


def ocv(soc: Array) -> Array:
    return 3.0 + 1.2 * soc


def ohms(soc: Array) -> Array:
    return 0.004 - 0.002 * soc


def made(branches: tuple[tuple[float, float], ...]) -> tuple[Array, Array, Array, Array, Steps]:
    """Return a made HPPC record, its voltage from the closed form of every part.

    From full, nine times: a pulse of 20 A for 30 s, a rest of 60 s, 10 A for 390 s, a rest of
    1800 s. A stretch of current i adds i t / 3600 / AH to what is missing, and a branch of R and
    tau goes from u to R i + (u - R i) exp(-t / tau).
    """
    stretches = [(0.0, 5)] + [(20.0, 30), (0.0, 60), (10.0, 340), (0.0, 1800)] * 9
    time, amps, volts, states, count = [0.0], [0.0], [float(ocv(np.array(1.0)))], [1.0], [0]
    soc, over = 1.0, np.zeros(len(branches))
    for number, (current, seconds) in enumerate(stretches):
        for _ in range(seconds):
            soc -= current / 3600.0 / AH
            for k, (r, tau) in enumerate(branches):
                over[k] = r * current + (over[k] - r * current) * np.exp(-1.0 / tau)
            here = np.array(soc)
            time.append(time[-1] + 1.0)
            amps.append(current)
            volts.append(float(ocv(here) - ohms(here) * current - over.sum()))
            states.append(soc)
            count.append(number)
    arrays = [np.array(values) for values in (time, volts, amps, states)]
    return (*arrays, find_steps(arrays[0], arrays[2], np.array(count)))  # type: ignore[return-value]


def found_in(branches: tuple[tuple[float, float], ...], many: int) -> kernel.Cell:
    time, volts, amps, soc, steps = made(branches)
    return kernel.identify(
        kernel.pieces(time, amps, steps),
        volts,
        soc,
        coulombs=AH * 3600,
        knots=STATES,
        ohms_knots=np.array([0.0, 1.0]),
        branches=many,
    )


def test_one_branch_comes_out_as_it_was_put_in() -> None:
    cell = found_in(((0.003, 45.0),), 1)
    assert cell.rc_ohms == pytest.approx([0.003], rel=1e-4)
    assert cell.rc_seconds == pytest.approx([45.0], rel=1e-3)
    assert cell.ohms == pytest.approx([0.004, 0.002], rel=1e-3)
    # C = tau / R = 45 s / 0.003 Ohm = 15000 F
    assert cell.rc_seconds / cell.rc_ohms == pytest.approx([15000.0], rel=1e-3)


def test_two_branches_come_out_as_they_were_put_in() -> None:
    cell = found_in(((0.0015, 12.0), (0.0025, 300.0)), 2)
    assert cell.rc_ohms == pytest.approx([0.0015, 0.0025], rel=2e-3)
    assert cell.rc_seconds == pytest.approx([12.0, 300.0], rel=5e-3)
    assert cell.ohms == pytest.approx([0.004, 0.002], rel=2e-3)
    # Every state from 1 down to 1 - 9 (20 * 30 + 10 * 340) / 36000 = 0 was visited.
    assert cell.ocv == pytest.approx(ocv(STATES), abs=1e-4)


def test_one_branch_for_a_cell_of_two_leaves_an_error_and_two_do_not() -> None:
    parts = ((0.0015, 12.0), (0.0025, 300.0))
    time, volts, amps, _, steps = made(parts)
    record = kernel.pieces(time, amps, steps)
    off = [np.abs(kernel.played(found_in(parts, n), record, 1.0)[0] - volts).max() for n in (1, 2)]
    assert off[1] < 1e-4 < off[0]


@given(r=st.floats(0.0005, 0.01), tau=st.floats(10.0, 600.0), high=st.floats(2.0, 40.0))
def test_the_answer_of_a_branch_is_its_closed_form(r: float, tau: float, high: float) -> None:
    """After t under a current i from rest: i R (1 - exp(-t / tau)), in however many stretches."""
    seconds = np.array([1.0, 2.5, 40.0])
    record = kernel.Pieces(seconds, np.full(3, high), np.array([-1, 0, 1, 2]))
    at = np.array([0.0, 1.0, 3.5, 43.5])
    assert r * kernel.answer(record, tau) == pytest.approx(r * high * (1 - np.exp(-at / tau)))


def test_a_played_cell_keeps_to_the_closed_form() -> None:
    """10 A from full for 360 s: state 1 - 1 Ah / 10 Ah = 0.9, so 3 + 1.2 * 0.9 = 4.08 V at rest.

    In series (0.004 - 0.002 * 0.9) Ohm * 10 A = 22 mV; kernels.network takes the resistance at the
    start of each step, here of 1 s, 0.0002 / 360 Ohm off. The branch: 10 A * 3 mOhm *
    (1 - exp(-360 / 45)) = 29.99 mV.
    """
    cell = kernel.Cell(
        soc=STATES,
        ocv=ocv(STATES),
        ohms_soc=np.array([0.0, 1.0]),
        ohms=np.array([0.004, 0.002]),
        rc_ohms=np.array([0.003]),
        rc_seconds=np.array([45.0]),
        coulombs=AH * 3600,
    )
    record = kernel.Pieces(np.ones(360), np.full(360, 10.0), np.arange(-1, 360))
    volts, left = kernel.played(cell, record, 1.0)
    assert volts[0] == pytest.approx(4.2)
    assert volts[-1] == pytest.approx(4.08 - 0.022 - 0.02999, abs=2e-5)
    assert left == pytest.approx([0.02999], abs=1e-5)


def test_no_part_is_below_nought_where_the_record_is_noise() -> None:
    time, volts, amps, soc, steps = made(((0.003, 45.0),))
    noisy = volts + np.random.default_rng(5).normal(0.0, 0.05, volts.size)
    cell = kernel.identify(
        kernel.pieces(time, amps, steps),
        noisy,
        soc,
        coulombs=AH * 3600,
        knots=np.linspace(0, 1, 41),
        ohms_knots=np.array([0.1, 0.5, 0.9]),
    )
    assert (cell.ohms >= 0).all()
    assert (cell.rc_ohms >= 0).all()
    assert (np.diff(cell.ocv) > 0).all()


def test_a_single_knot_of_resistance_stands_for_all() -> None:
    time, volts, amps, soc, steps = made(((0.003, 45.0),))
    cell = kernel.identify(
        kernel.pieces(time, amps, steps),
        volts,
        soc,
        coulombs=AH * 3600,
        knots=STATES,
        ohms_knots=np.array([0.5]),
        branches=1,
    )
    assert cell.ohms == pytest.approx([0.003], rel=0.05)
