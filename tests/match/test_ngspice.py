"""Equalising currents against the general-purpose circuit simulator ngspice.

Each module is a capacitor with its voltage on it, behind a resistor. The simulator integrates the
circuit step by step and knows nothing of our closed forms.
"""

from __future__ import annotations

import os
import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest
from heaps import LAST, a_module, heap, rest

from evpack.kernels.joining import AMP_HOUR, bus, pair
from evpack.match.flows import LOW, ends
from evpack.match.grade import graded
from evpack.match.group import group
from evpack.match.join import join

NGSPICE = shutil.which("ngspice")
if NGSPICE is None and os.environ.get("EVPACK_NEED_NGSPICE") != "1":
    pytest.skip("ngspice is not installed (Debian package ngspice)", allow_module_level=True)


def simulated(
    folder: Path, volts: list[float], ohms: list[float], farads: list[float], until: float
) -> tuple[np.ndarray, np.ndarray]:
    """Return times [s] and the current out of each [A], shape (times, n).

    The simulator ends with 0 even where a run was given up, so that the last time is looked at.
    """
    until = float(until)  # numpy writes its own kind of float otherwise
    assert NGSPICE is not None, "EVPACK_NEED_NGSPICE is set, and ngspice is not installed"
    lines = ["* modules on one bus"]
    for i, (e, r, c) in enumerate(zip(volts, ohms, farads, strict=True)):
        # The source of 0 V is an ammeter; its current flows out of the module into the bus.
        lines += [f"C{i} a{i} 0 {c!r} IC={e!r}", f"R{i} a{i} b{i} {r!r}", f"V{i} b{i} bus 0"]
    lines += [
        # No module hangs in the air; what this takes is nothing.
        "Rleak bus 0 1e9",
        ".options reltol=1e-6",
        f".tran {until / 2000!r} {until!r} 0 {until / 2000!r} uic",
        ".control",
        "set wr_singlescale",
        "set numdgt=12",
        "run",
        "wrdata out.txt " + " ".join(f"i(V{i})" for i in range(len(volts))),
        ".endc",
        ".end",
    ]
    (folder / "bus.cir").write_text("\n".join(lines) + "\n", encoding="utf-8")
    done = subprocess.run(
        [NGSPICE, "-b", "bus.cir"], cwd=folder, capture_output=True, text=True, check=False
    )
    assert (folder / "out.txt").is_file(), done.stdout + done.stderr
    table = np.loadtxt(folder / "out.txt")
    assert table[-1, 0] == pytest.approx(until, rel=1e-9), done.stdout + done.stderr
    return table[:, 0], table[:, 1:]


def test_two_modules_come_to_one_voltage(tmp_path: Path) -> None:
    volts, ohms, farads = [50.2, 50.0], [0.016, 0.021], [36000.0, 28800.0]
    found = pair(tuple(volts), tuple(ohms), tuple(AMP_HOUR / c for c in farads))
    time, amps = simulated(tmp_path, volts, ohms, farads, 3 * found.tau)
    expected = found.amps * np.exp(-time / found.tau)
    seen = time > 0
    assert amps[seen, 0] == pytest.approx(expected[seen], rel=1e-3)
    assert amps[seen, 1] == pytest.approx(-expected[seen], rel=1e-3)
    part = 1 - np.exp(-3)
    assert np.trapezoid(amps[:, 0], time) / 3600 == pytest.approx(found.charge * part, rel=1e-3)
    heat = sum(found.heat) * (1 - np.exp(-6))
    assert np.trapezoid(amps[:, 0] ** 2, time) * sum(ohms) == pytest.approx(heat, rel=1e-3)


def test_four_modules_come_to_one_voltage(tmp_path: Path) -> None:
    volts, ohms = [50.2, 50.0, 49.9, 50.05], [0.016, 0.021, 0.012, 0.018]
    farads = [36000.0, 28800.0, 40000.0, 33000.0]
    found = bus(volts, ohms, [AMP_HOUR / c for c in farads])
    time, amps = simulated(tmp_path, volts, ohms, farads, 3 / found.rates.min())
    seen = time > 0
    assert amps[seen] == pytest.approx(found.at(time)[seen], abs=1e-3 * found.worst)


def test_the_first_current_and_the_time_of_a_plan(tmp_path: Path) -> None:
    """The plan's own numbers: the current with the low resistance, the time with the whole."""
    modules = [
        a_module(name, rests=(rest(LAST, (volts,) * 4),))
        for name, volts in (("A1", 4.02), ("A2", 4.00))
    ]
    batch = heap(modules=modules, modules_in_series=1, strings=2, voltage_accuracy=None)
    held = graded(batch)
    grouping, _, _ = group(batch, held, seconds=1.0, proven=False)
    assert grouping is not None
    plan, _ = join(batch, held, grouping)
    assert plan is not None
    step, (one, other) = plan.pairs[0], ends(batch, held, grouping)[0]
    volts, farads = [one.volts, other.volts], [one.farads, other.farads]
    low = [LOW * end.ohms for end in (one, other)]
    _, amps = simulated(tmp_path, volts, low, farads, 1.0)
    assert np.abs(amps[1:]).max() == pytest.approx(step.current.value, rel=1e-3)
    tau = step.tau.value
    _, slow = simulated(tmp_path, volts, [one.ohms, other.ohms], farads, tau)
    assert abs(slow[-1, 0] / slow[1, 0]) == pytest.approx(np.exp(-1), rel=1e-3)
    assert {end.name for end in (one, other)} == set(step.names)
