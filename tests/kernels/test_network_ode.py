"""Strings against scipy's solver of differential equations, on a real curve at constant power.

The right-hand side is written from Kirchhoff's laws at once: states of charge and branch voltages
fall or rise as the currents say, and the currents come from the dense ladder at that instant.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from strategies import BLEND
from strings_made import made

from evpack.kernels.ladder import reduced
from evpack.kernels.network import Strings, rested
from evpack.kernels.runs import follow

POWER, HOURS = 4000.0, 1.0
BAR = np.array([1e-4, 2e-4])


def nonlinear() -> Strings:
    strings = made(
        [0.020, 0.028, 0.022],
        amp_hours=[60.0, 45.0, 58.0],
        lead=0.002,
        rc=((0.02, 400.0),),
        bar=BAR,
    )
    soc = np.linspace(0, 1, 201)
    cells = 14 * np.interp(soc, BLEND.ocv.soc, BLEND.ocv.volts)
    ohms = np.outer([0.020, 0.028, 0.022], 1 + 0.6 * (1 - soc) ** 3)
    return strings._replace(ocv=np.tile(cells, (3, 1)), ohms=ohms)


def solved(strings: Strings) -> tuple[np.ndarray, np.ndarray]:
    """Return states of charge at the end, and currents, by scipy."""
    grid = np.linspace(0, 1, 201)
    r1, tau = strings.rc_ohms[:, 0], strings.rc_seconds[:, 0]

    def currents(y: np.ndarray) -> np.ndarray:
        emf = np.array([np.interp(s, grid, strings.ocv[k]) for k, s in enumerate(y[:3])]) - y[3:]
        ohms = [np.interp(s, grid, strings.ohms[k]) for k, s in enumerate(y[:3])]
        ladder = reduced(np.array(ohms) + strings.lead, strings.plus, strings.minus)
        volts = float(ladder.weights @ emf)
        load = (volts - np.sqrt(volts**2 - 4 * ladder.ohms * POWER)) / (2 * ladder.ohms)
        return ladder.currents(emf, load)

    def slope(_: float, y: np.ndarray) -> np.ndarray:
        amps = currents(y)
        return np.concatenate([-amps / strings.coulombs, (r1 * amps - y[3:]) / tau])

    start = np.concatenate([np.full(3, 0.9), np.zeros(3)])
    done = solve_ivp(
        slope, (0, 3600 * HOURS), start, method="LSODA", rtol=1e-9, atol=1e-11, max_step=20.0
    )
    assert done.success
    return done.y[:3, -1], currents(done.y[:, -1])


def test_an_hour_at_constant_power() -> None:
    strings = nonlinear()
    soc, amps = solved(strings)
    errors = []
    for seconds in (20.0, 10.0, 5.0):
        orders = np.full(round(3600 * HOURS / seconds), POWER)
        ours = follow(strings, rested(strings, 0.9, 25.0), orders, seconds, power=True)
        assert ours.books.unmet == 0
        errors.append(np.abs(ours.state.soc - soc).max())
        assert ours.state.soc == pytest.approx(soc, abs=1e-3 * seconds / 5)
        assert ours.record.current[-1] == pytest.approx(amps, rel=1e-3 * seconds / 5)
    # A step half as long errs half as much: first order, as an implicit step of this kind is.
    assert errors[1] / errors[0] == pytest.approx(0.5, abs=0.1)
    assert errors[2] / errors[1] == pytest.approx(0.5, abs=0.1)


def test_a_minute_is_short_enough_for_a_discharge() -> None:
    strings = nonlinear()
    soc, amps = solved(strings)
    ours = follow(strings, rested(strings, 0.9, 25.0), np.full(60, POWER), 60.0, power=True)
    assert ours.state.soc == pytest.approx(soc, abs=2e-3)
    assert ours.record.current[-1] == pytest.approx(amps, rel=1e-2)
