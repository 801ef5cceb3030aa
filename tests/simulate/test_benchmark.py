"""The benchmark's three solvers find the same; how long they take is for no test to say."""

from __future__ import annotations

import shutil

import numpy as np
import pytest

from evpack.simulate.benchmark import (
    DAY,
    a_year,
    by_evpack,
    by_ngspice,
    by_scipy,
    invented,
    profile,
)

STRINGS, LOAD = invented(6), profile(6, DAY)[:60]


def test_evpack_and_scipy_agree() -> None:
    ours, theirs = by_evpack(STRINGS, LOAD), by_scipy(STRINGS, LOAD)
    most = np.abs(theirs.current).max()
    assert ours.current == pytest.approx(theirs.current, abs=0.01 * most)
    assert ours.soc == pytest.approx(theirs.soc, abs=1e-4)
    assert ours.steps == 60
    assert "currents differ by 0." in theirs.line(ours)
    assert "differ" not in ours.line(None)
    assert "(a day, times 365)" in a_year(theirs).line(None)
    assert a_year(theirs).steps == 365 * theirs.steps


@pytest.mark.skipif(shutil.which("ngspice") is None, reason="ngspice is not installed")
def test_scipy_and_ngspice_agree() -> None:
    program = shutil.which("ngspice")
    assert program is not None
    one, other = by_scipy(STRINGS, LOAD), by_ngspice(STRINGS, LOAD, program)
    assert other is not None
    most = np.abs(one.current).max()
    assert other.current == pytest.approx(one.current, abs=1e-3 * most)
    assert other.soc == pytest.approx(one.soc, abs=1e-6)


@pytest.mark.skipif(shutil.which("false") is None, reason="there is no such program")
def test_a_simulator_that_says_nothing_is_left_out() -> None:
    program = shutil.which("false")
    assert program is not None
    assert by_ngspice(STRINGS, LOAD[:2], program) is None
