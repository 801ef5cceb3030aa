"""Strings on two bars against the general-purpose circuit simulator ngspice, at once and in time.

The simulator has each string as a capacitor with its voltage on it, resistors, and capacitors
beside resistors; it knows nothing of a sweep or of our steps.
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest
from strings_made import made

from evpack.kernels.network import Strings, bench, prepare, rested
from evpack.kernels.runs import follow, switches
from evpack.simulate.faults import _at_once

NGSPICE = shutil.which("ngspice")
if NGSPICE is None and os.environ.get("EVPACK_NEED_NGSPICE") != "1":
    pytest.skip("ngspice is not installed (Debian package ngspice)", allow_module_level=True)


def circuit(strings: Strings, emf: np.ndarray, *, moves: bool) -> list[str]:
    """Return the lines of a circuit: sources, or capacitors with their voltage on them."""
    slope = strings.ocv[:, -1] - strings.ocv[:, 0]
    lines = ["* strings on two bars"]
    for k in range(strings.lead.size):
        source = f"C{k} s{k} m{k} {float(strings.coulombs[k] / slope[k])!r} IC={float(emf[k])!r}"
        lines.append(source if moves else f"Vs{k} s{k} m{k} {float(emf[k])!r}")
        node = f"s{k}"
        for m in range(strings.rc_ohms.shape[1] if moves else 0):
            r, tau = float(strings.rc_ohms[k, m]), float(strings.rc_seconds[k, m])
            lines += [f"Rb{k}_{m} {node} b{k}_{m} {r!r}"]
            lines += [f"Cb{k}_{m} {node} b{k}_{m} {tau / r!r} IC=0"]
            node = f"b{k}_{m}"
        ohms = float(strings.ohms[k, 0] + strings.lead[k])
        # The source of 0 V is an ammeter; its current flows out of the string into the plus bar.
        lines += [f"R{k} {node} u{k} {ohms!r}", f"Va{k} u{k} p{k} 0"]
    for k, (plus, minus) in enumerate(zip(strings.plus, strings.minus, strict=True)):
        lines += [f"Rp{k} p{k} p{k + 1} {float(plus)!r}", f"Rm{k} m{k} m{k + 1} {float(minus)!r}"]
    return [*lines, f"Vref m{strings.tap_minus} 0 0"]


def ran(folder: Path, lines: list[str]) -> str:
    assert NGSPICE is not None, "EVPACK_NEED_NGSPICE is set, and ngspice is not installed"
    (folder / "net.cir").write_text("\n".join(lines) + "\n", encoding="utf-8")
    done = subprocess.run(
        [NGSPICE, "-b", "net.cir"], cwd=folder, capture_output=True, text=True, check=False
    )
    return done.stdout + done.stderr  # it exits with 0 whatever happens: the caller looks


def at_once(folder: Path, strings: Strings, emf: np.ndarray, load: float) -> list[float]:
    n = strings.lead.size
    lines = circuit(strings, emf, moves=False)
    lines += [f"I1 p{strings.tap_plus} m{strings.tap_minus} {load!r}"]
    lines += [".options reltol=1e-9 abstol=1e-12", ".control", "op", "set numdgt=14"]
    lines += [f"print i(Va{k})" for k in range(n)] + [".endc", ".end"]
    told = ran(folder, lines)
    found = dict(re.findall(r"i\(va(\d+)\) = ([-+\d.eE]+)", told))
    assert len(found) == n, told
    return [float(found[str(k)]) for k in range(n)]


def over_time(
    folder: Path, strings: Strings, emf: np.ndarray, *, profile: str, until: float, step: float
) -> np.ndarray:
    """Return the currents of the strings and the voltage at the load at every step."""
    n = strings.lead.size
    lines = circuit(strings, emf, moves=True)
    lines += [f"I1 p{strings.tap_plus} m{strings.tap_minus} PWL({profile})"]
    # The solver steps finely; what it writes down is asked for at even times.
    lines += [".options reltol=1e-7 abstol=1e-9", f".tran {step!r} {until!r} 0 {step / 5!r} uic"]
    shown = " ".join(f"i(Va{k})" for k in range(n))
    load = f"v(p{strings.tap_plus})-v(m{strings.tap_minus})"
    lines += [".control", "set wr_singlescale", "set numdgt=12", "run", "linearize"]
    lines += [f"wrdata out.txt {shown} {load}", ".endc", ".end"]
    told = ran(folder, lines)
    assert (folder / "out.txt").is_file(), told
    table = np.loadtxt(folder / "out.txt")
    assert table[-1, 0] == pytest.approx(until, rel=1e-9), told
    return table


@pytest.mark.parametrize(
    ("n", "plus", "minus"),
    [(2, 0, 0), (2, 0, 1), (3, 1, 1), (6, 0, 0), (6, 0, 5), (6, 5, 0), (6, 2, 3), (24, 7, 19)],
)
def test_direct_current(tmp_path: Path, n: int, plus: int, minus: int) -> None:
    drawn = np.random.default_rng(n)
    strings = made(
        drawn.uniform(0.008, 0.030, n),
        empty=drawn.uniform(43.0, 43.1, n),
        lead=0.001,
        bar=drawn.uniform(2e-5, 2e-4, n - 1),
        taps=(plus, minus),
    )
    room = bench(strings, 1e-9)
    prepare(strings, rested(strings, 0.5, 25.0), room)
    emf = strings.ocv.mean(axis=1)
    for load in (120.0, -80.0):
        ours = room.base + room.share * load
        assert ours == pytest.approx(at_once(tmp_path, strings, emf, load), abs=1e-6)


def test_the_first_current_of_joining(tmp_path: Path) -> None:
    """Strings that rest apart, before anything has flowed: the closed form that a fault run tells.

    A step of 2 s looks at its own end, and is low by what has died away; the moment itself is not.
    """
    strings = made([0.010, 0.014, 0.009], empty=[42.0, 43.5, 44.1], full=57.0, lead=0.002, bar=1e-4)
    emf, ohms, first = _at_once(strings, (0.02, 0.0, 0.04))
    assert emf == pytest.approx([42.3, 43.5, 44.616])  # 42 + 0.02 · 15 V, and 44.1 + 0.04 · 12.9 V
    assert ohms == pytest.approx([0.012, 0.016, 0.011])
    assert first == pytest.approx(at_once(tmp_path, strings, emf, 0.0), abs=1e-6)


def test_branches_and_falling_voltages_in_time(tmp_path: Path) -> None:
    """Four unlike strings: rest, 100 A for 10 min, rest, 60 A of charge; to 1e-3 of the load."""
    strings = made(
        [0.020, 0.026, 0.018, 0.022],
        amp_hours=[60.0, 48.0, 55.0, 62.0],
        lead=0.002,
        rc=((0.008, 20.0), (0.015, 300.0)),
        bar=1.5e-4,
        taps=(0, 3),
    )
    step, until = 1.0, 1800.0
    orders = np.zeros(1800)
    orders[:600], orders[900:] = 100.0, -60.0
    ours = follow(strings, rested(strings, 0.8, 25.0), orders, step)
    # From the middle of a step, so that no corner falls on a time that is compared.
    profile = "0 100 600 100 600.001 0 900 0 900.001 -60 1800 -60"
    emf = 0.2 * strings.ocv[:, 0] + 0.8 * strings.ocv[:, 1]
    table = over_time(tmp_path, strings, emf, profile=profile, until=until, step=step)
    theirs = table[1:]
    assert theirs[:, 0] == pytest.approx(ours.time, rel=1e-9)
    between = np.ones(1800, dtype=bool)
    between[[599, 899]] = False  # the load jumps right there
    assert ours.record.current[between] == pytest.approx(theirs[between, 1:5], abs=1e-3 * 100)
    assert ours.record.volts[between] == pytest.approx(theirs[between, 5], rel=1e-3)


def test_a_short_across_one_string(tmp_path: Path) -> None:
    """2 mΩ across the ends of the second of three strings, under 30 A: to 1e-3 of the currents."""
    strings = made([0.020, 0.025, 0.018], lead=0.003, bar=1e-4, rc=((0.01, 30.0),))
    ours = follow(
        strings,
        rested(strings, 0.8, 25.0),
        np.full(200, 30.0),
        0.05,
        changes=switches((0, 1, 0.003, 0.002)),
    )
    emf = np.full(3, 54.0)
    lines = circuit(strings, emf, moves=True)
    # The simulator's own string: its lead apart from its cells, the short between them.
    own = next(i for i, line in enumerate(lines) if line.startswith("R1 "))
    node = lines[own].split()[1]
    lines[own] = f"R1 {node} x1 0.025"
    lines += ["Rlead x1 u1 0.003", "Rshort x1 m1 0.002", "I1 p0 m0 30.0"]
    lines += [".options reltol=1e-7", ".tran 0.05 10 0 0.01 uic", ".control"]
    lines += ["set wr_singlescale", "set numdgt=12", "run", "linearize"]
    lines += ["wrdata out.txt i(Va0) i(Va1) i(Va2) v(p0)-v(m0)", ".endc", ".end"]
    told = ran(tmp_path, lines)
    assert (tmp_path / "out.txt").is_file(), told
    table = np.loadtxt(tmp_path / "out.txt")[1:]
    assert table[:, 0] == pytest.approx(ours.time, rel=1e-9)
    worst = float(np.abs(table[:, 1:4]).max())
    assert worst > 1000
    assert ours.record.current == pytest.approx(table[:, 1:4], abs=1e-3 * worst)
    assert ours.record.volts == pytest.approx(table[:, 4], rel=1e-3)
