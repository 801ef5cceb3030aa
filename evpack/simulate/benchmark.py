"""How long strings take to step through time, beside two general solvers, in one run.

``python -m evpack.simulate.benchmark``: six and one hundred strings, a day and a year, a new load
every minute; evpack, scipy's `solve_ivp`, and the circuit simulator ngspice where it is installed.

All three have the same circuit: capacitors as open-circuit voltages (a straight curve), a
resistance, one RC branch, leads, two bars. The two others are run over a day; what stands for a
year is the day times 365, and the line says so. They hold a tolerance of 1e-6 with as many steps as
that takes; evpack takes one step a minute. How far its answer then lies off stands beside its time.
"""

# ruff: noqa: T201, S603  (it prints, and starts the simulator)

from __future__ import annotations

import re
import shutil
import tempfile
import time
import tracemalloc
from collections.abc import Callable
from pathlib import Path
from subprocess import DEVNULL, Popen

import attrs
import numpy as np
from numpy.typing import NDArray
from scipy.integrate import solve_ivp

from evpack.kernels.ladder import reduced
from evpack.kernels.network import COLDEST, Strings, rested
from evpack.kernels.runs import follow

Array = NDArray[np.float64]

MINUTE, DAY, YEAR = 60.0, 1440, 525_600  # [s], [steps], [steps]
_START = 0.5
_SLOW = 600.0  # time constant of the RC branches [s]
_BAR = 2e-5  # of each piece [Ω]
# Of each step; finer would only slow the others down.
_TOLERANCE = 1e-6
_GIVEN_UP = 120.0  # a simulator that takes longer is stopped [s]


@attrs.frozen(kw_only=True)
class Timed:
    """What a solver took: time [s], memory at its most [MB], steps; and what it found."""

    name: str
    seconds: float
    megabytes: float
    steps: int
    soc: Array
    current: Array
    scaled: bool = False

    def line(self, against: Timed | None) -> str:
        """Return it as a line, with how far it lies from the one it is held against."""
        agree = ""
        if against is not None:
            worst = np.abs(self.current - against.current).max() / np.abs(against.current).max()
            drift = np.abs(self.soc - against.soc).max()
            agree = f"; currents differ by {100 * worst:.3f} %, states of charge by {drift:.1e}"
        said = " (a day, times 365)" if self.scaled else ""
        return (
            f"{1e3 * self.seconds:12.2f} ms {self.megabytes:8.1f} MB {self.steps:9d} steps  "
            f"{self.name}{said}{agree}"
        )


def invented(n: int) -> Strings:
    """Return invented strings, unlike in resistance and capacity."""
    drawn = np.random.default_rng(n)
    ohms = drawn.normal(0.020, 0.002, n)
    grid = np.linspace(42.0, 57.0, 201)
    return Strings(
        ocv=np.tile(grid, (n, 1)),
        ohms=np.tile(ohms[:, np.newaxis], (1, 201)),
        cold=np.ones(int(61 - COLDEST)),
        lead=np.full(n, 0.002),
        coulombs=3600.0 * drawn.normal(60.0, 3.0, n),
        rc_ohms=ohms[:, np.newaxis].copy(),
        rc_seconds=np.full((n, 1), _SLOW),
        heat=np.full(n, 2e4),
        to_air=np.full(n, 2.0),
        plus=np.full(n - 1, _BAR),
        minus=np.full(n - 1, _BAR),
        tap_plus=0,
        tap_minus=0,
    )


def profile(n: int, steps: int) -> Array:
    """Return a load for every minute [A]: by day in, by night out, and uneven."""
    minutes = np.arange(steps)
    drawn = np.random.default_rng(1)
    swing = np.sin(2 * np.pi * minutes / DAY) + drawn.normal(0.0, 0.3, steps)
    load: Array = 4.0 * n * (swing - swing.mean())
    return load


def by_evpack(strings: Strings, load: Array) -> Timed:
    """Step the strings as evpack does; the compiling is not counted."""
    start = rested(strings, _START, 25.0)
    follow(strings, start, load[:2], MINUTE)
    tracemalloc.start()
    follow(strings, start, load, MINUTE, every=max(1, load.size // DAY))
    megabytes = tracemalloc.get_traced_memory()[1] / 1e6
    tracemalloc.stop()
    taken = []
    for _ in range(3):
        begun = time.perf_counter()
        done = follow(strings, start, load, MINUTE, every=max(1, load.size // DAY))
        taken.append(time.perf_counter() - begun)
    return Timed(
        name="evpack",
        seconds=min(taken),
        megabytes=megabytes,
        steps=done.books.steps,
        soc=done.state.soc,
        current=done.record.current,
    )


def slopes(strings: Strings, load: Array) -> tuple[Callable[..., Array], Callable[..., Array]]:
    """Return how states change, and the currents, for a solver of differential equations."""
    n = strings.lead.size
    ladder = reduced(strings.ohms[:, 0] + strings.lead, strings.plus, strings.minus)
    low, span = strings.ocv[:, 0], strings.ocv[:, -1] - strings.ocv[:, 0]
    ohms, coulombs = strings.rc_ohms[:, 0], strings.coulombs

    def current(y: Array, amps: float) -> Array:
        found: Array = ladder.by_emf @ (low + span * y[:n] - y[n:]) + ladder.by_load * amps
        return found

    def slope(t: float, y: Array) -> Array:
        amps = current(y, load[min(int(t / MINUTE), load.size - 1)])
        return np.concatenate([-amps / coulombs, (ohms * amps - y[n:]) / _SLOW])

    return slope, current


def by_scipy(strings: Strings, load: Array) -> Timed:
    """Solve the same by `solve_ivp`, minute by minute, since the load jumps at every minute."""
    n = strings.lead.size
    slope, current = slopes(strings, load)
    start = np.concatenate([np.full(n, _START), np.zeros(n)])
    rows = np.empty((load.size, n))

    def solved(steps: int) -> tuple[Array, int]:
        y, evaluated = start, 0
        for k in range(steps):
            # Just inside the minute, so that no evaluation sees the next load.
            span = (k * MINUTE, (k + 1) * MINUTE - 1e-6)
            done = solve_ivp(slope, span, y, rtol=_TOLERANCE, atol=1e-9)
            y, evaluated = done.y[:, -1], evaluated + int(done.t.size) - 1
            rows[k] = current(y, load[k])
        return y, evaluated

    tracemalloc.start()
    solved(min(20, load.size))
    megabytes = tracemalloc.get_traced_memory()[1] / 1e6 + rows.nbytes / 1e6
    tracemalloc.stop()
    begun = time.perf_counter()
    y, steps = solved(load.size)
    return Timed(
        name="scipy solve_ivp",
        seconds=time.perf_counter() - begun,
        megabytes=megabytes,
        steps=steps,
        soc=y[:n],
        current=rows,
    )


def by_ngspice(strings: Strings, load: Array, program: str) -> Timed | None:
    """Run the same circuit in ngspice; None if it got stuck.

    Its own process is timed, its start included.
    """
    n = strings.lead.size
    lines = ["* strings on two bars"]
    span = strings.ocv[:, -1] - strings.ocv[:, 0]
    emf = strings.ocv[:, 0] + _START * span
    for k in range(n):
        ohms, slow = float(strings.ohms[k, 0] + strings.lead[k]), float(strings.rc_ohms[k, 0])
        farads = float(strings.coulombs[k] / span[k])
        lines += [f"C{k} s{k} m{k} {farads!r} IC={float(emf[k])!r}", f"Rb{k} s{k} b{k} {slow!r}"]
        lines += [f"Cb{k} s{k} b{k} {_SLOW / slow!r} IC=0", f"R{k} b{k} u{k} {ohms!r}"]
        lines += [f"Va{k} u{k} p{k} 0"]
    for k in range(n - 1):
        lines += [f"Rp{k} p{k} p{k + 1} {_BAR!r}", f"Rm{k} m{k} m{k + 1} {_BAR!r}"]
    lines.append("Vref m0 0 0")
    lines.append("I1 p0 m0 PWL(")  # a new load comes within a millisecond
    for k, amps in enumerate(load):
        begins, ends = k * MINUTE + (1e-3 if k else 0.0), (k + 1) * MINUTE
        lines.append(f"+ {begins!r} {float(amps)!r} {ends!r} {float(amps)!r}")
    until = load.size * MINUTE
    # With its usual rule (trapezoids) it gets stuck in steps of microseconds at such a tolerance.
    options = f".options reltol={_TOLERANCE!r} abstol=1e-6 vntol=1e-6 chgtol=1e-3 method=gear"
    lines += ["+ )", options]
    lines += [f".tran {MINUTE!r} {until!r} 0 {MINUTE!r} uic", ".control"]
    lines += ["set wr_singlescale", "set numdgt=12", "run"]
    shown = " ".join([f"i(Va{k})" for k in range(n)] + [f"v(s{k},m{k})" for k in range(n)])
    lines += [f"wrdata out.txt {shown}", ".endc", ".end"]
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        (folder / "net.cir").write_text("\n".join(lines) + "\n", encoding="utf-8")
        begun = time.perf_counter()
        with Popen([program, "-b", "net.cir"], cwd=folder, stdout=DEVNULL, stderr=DEVNULL) as run:
            kilobytes = _watched(run)
        taken = time.perf_counter() - begun
        if not (folder / "out.txt").is_file():
            return None
        table = np.loadtxt(folder / "out.txt")
    times = table[:, 0]
    # The last row of every minute.
    rows = np.searchsorted(times, MINUTE * np.arange(1, load.size + 1) - 1e-6, side="left")
    rows = np.minimum(rows, times.size - 1)
    return Timed(
        name="ngspice",
        seconds=taken,
        megabytes=kilobytes / 1e3,
        steps=int(times.size),
        soc=(table[-1, 1 + n :] - strings.ocv[:, 0]) / span,
        current=table[rows, 1 : 1 + n],
    )


def _watched(run: Popen[bytes]) -> float:
    """Wait for a process, stop it if it gets stuck; return its memory at its most [kB]."""
    most, status = float("nan"), Path(f"/proc/{run.pid}/status")
    end = time.perf_counter() + _GIVEN_UP
    while run.poll() is None:
        if time.perf_counter() > end:
            run.kill()
        told = status.read_text(encoding="utf-8") if status.is_file() else ""
        found = re.search(r"VmHWM:\s+(\d+)", told)
        most = float(found[1]) if found else most
        time.sleep(0.002)
    return most


def a_year(day: Timed) -> Timed:
    """Return what a year takes a solver that was run over a day."""
    return attrs.evolve(day, seconds=365 * day.seconds, steps=365 * day.steps, scaled=True)


def main() -> None:
    """Print every time and what to hold it against."""
    program = shutil.which("ngspice")
    for n in (6, 100):
        strings = invented(n)
        day, year = profile(n, DAY), profile(n, YEAR)
        ours = by_evpack(strings, day)
        others = [by_scipy(strings, day)]
        found = None if program is None else by_ngspice(strings, day, program)
        others += [] if found is None else [found]
        print(f"\n{n} strings, a day at one minute")
        print(ours.line(None))
        for other in others:
            print(f"{other.line(ours)}; evpack {other.seconds / ours.seconds:.0f} times as fast")
        if len(others) > 1:
            print(f"{'':10} the two others: {others[1].line(others[0]).split(';', 1)[1].strip()}")
        whole = by_evpack(strings, year)
        print(f"{n} strings, a year at one minute")
        print(whole.line(None))
        for other in map(a_year, others):
            faster = other.seconds / whole.seconds
            print(f"{other.line(None)}; evpack {faster:.0f} times as fast")
        print(f"{'':10} {1e9 * whole.seconds / whole.steps / n:.1f} ns a string and step")
    if program is None:
        print("\nngspice is not installed (Debian package ngspice): left out")


if __name__ == "__main__":
    main()
