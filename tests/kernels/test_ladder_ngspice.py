"""Ladders against the general-purpose circuit simulator ngspice: direct current, to 1e-6 A."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest

from evpack.kernels.ladder import reduced

NGSPICE = shutil.which("ngspice")
if NGSPICE is None and os.environ.get("EVPACK_NEED_NGSPICE") != "1":
    pytest.skip("ngspice is not installed (Debian package ngspice)", allow_module_level=True)


def simulated(
    folder: Path, emf: list[float], ohms: list[float], bar: list[float], *, load: float, taps: str
) -> list[float]:
    """Return the current of each string [A]; `taps` names the nodes that the load joins."""
    assert NGSPICE is not None, "EVPACK_NEED_NGSPICE is set, and ngspice is not installed"
    lines = ["* strings on two bars"]
    for k, (volts, r) in enumerate(zip(emf, ohms, strict=True)):
        # The source of 0 V is an ammeter; its current flows out of the string into the plus bar.
        lines += [f"Vs{k} t{k} m{k} {volts!r}", f"Rs{k} t{k} u{k} {r!r}", f"Va{k} u{k} p{k} 0"]
    for k, r in enumerate(bar):
        lines += [f"Rp{k} p{k} p{k + 1} {r!r}", f"Rm{k} m{k} m{k + 1} {r!r}"]
    plus, minus = taps.split()
    lines += [f"I1 {plus} {minus} {load!r}", f"Vref {minus} 0 0"]
    lines += [".options reltol=1e-9 abstol=1e-12"]
    lines += [".control", "op", "set numdgt=14"]
    lines += [f"print i(Va{k})" for k in range(len(emf))]
    lines += [".endc", ".end"]
    (folder / "ladder.cir").write_text("\n".join(lines) + "\n", encoding="utf-8")
    done = subprocess.run(
        [NGSPICE, "-b", "ladder.cir"], cwd=folder, capture_output=True, text=True, check=False
    )
    found = dict(re.findall(r"i\(va(\d+)\) = ([-+\d.eE]+)", done.stdout))
    assert len(found) == len(emf), done.stdout + done.stderr  # it exits with 0 whatever happens
    return [float(found[str(k)]) for k in range(len(emf))]


@pytest.mark.parametrize(("plus", "minus"), [(0, 0), (0, 5), (2, 3)])
def test_six_unlike_strings(tmp_path: Path, plus: int, minus: int) -> None:
    drawn = np.random.default_rng(6)
    emf = [float(v) for v in 51 + drawn.normal(0, 0.05, 6)]
    ohms = [float(r) for r in drawn.uniform(0.008, 0.020, 6)]
    bar = [float(r) for r in drawn.uniform(2e-5, 2e-4, 5)]
    ours = reduced(ohms, bar, bar, load_plus=plus, load_minus=minus).currents(emf, 120.0)
    theirs = simulated(tmp_path, emf, ohms, bar, load=120.0, taps=f"p{plus} m{minus}")
    assert ours == pytest.approx(theirs, abs=1e-6)
    assert sum(theirs) == pytest.approx(120.0, abs=1e-6)
