"""A module weaker than the others: its own cells, which the voltage of the pack does not show.

Modules are level when full. On the way down a weak one is empty first: where the bars stand at the
cut-off, the others still hold theirs up, and its cells lie far lower than the spread at full.
"""

from __future__ import annotations

import attrs
import numpy as np
from numpy.typing import NDArray

from evpack.base.wording import say
from evpack.kernels.network import State, Strings, rested
from evpack.kernels.runs import Followed, Limits, follow
from evpack.outcome.trial import TrialRun
from evpack.simulate.sharing import WEAK
from evpack.simulate.strings import StringScale, pack_strings
from evpack.simulate.trial_bench import BEYOND, FROM, GENTLE, WARM, Bench, steps_of

Array = NDArray[np.float64]

WEAK_WORDS = (
    f"a weak module has {say(WEAK.capacity, '')} of the capacity and {WEAK.resistance:g} times the "
    "resistance, and is level with the others when full"
)
_THE_MODULE = (
    f"One module of the last string has {say(WEAK.capacity, '')} of the capacity and "
    f"{WEAK.resistance:g} times the resistance."
)


def discharge_weak(bench: Bench, name: str, lowest: float, power: float | None) -> TrialRun:
    """Draw gently, and at full output, till the inverter with the lowest stop has stopped.

    Gently the others hold the most voltage up; loaded, the weak module sags the most. Which of them
    takes its cells lower hangs on the curve: that run is returned.

    Parameters
    ----------
    lowest : float
        At which the last inverter stops [V].
    power : float or None
        What the inverters draw at full output [W]; None is not known.
    """
    gentle = GENTLE * float(_strings(bench)[0].coulombs.sum()) / 3600
    runs = [_discharged(bench, name, lowest, gentle, full=False)]
    if power is not None:
        runs.append(_discharged(bench, name, lowest, power, full=True))
    return min(runs, key=lambda run: run.reached.value)


def _discharged(bench: Bench, name: str, lowest: float, order: float, *, full: bool) -> TrialRun:
    """Draw a current [A], or at full output a power [W]; return the run of the weak module."""
    own, alone = _strings(bench)
    amps = order / lowest if full else order
    steps, step = steps_of(own, amps, BEYOND * float(own.coulombs.sum()) / amps)
    done = follow(
        own,
        rested(own, 1.0, WARM),
        np.full(steps, order),
        step,
        power=full,
        limits=Limits(lowest=lowest),
        ambient=WARM,
    )
    cell, _ = _cells(bench, own, alone, done)
    cut, worst = done.books.cut, float(cell.min())
    if cut > 0:
        # Between two steps the bars may fall all the way to the stop; let it all be the weak one.
        falls = max(0.0, float(done.record.volts[cut - 1]) - lowest)
        cells = bench.design.build.pack.module.cells_in_series
        worst = min(worst, float(cell[cut - 1]) - falls / cells)
    says = (
        f"{_THE_MODULE} {say(order, 'W' if full else 'A')} drawn from full till the last inverter "
        f"stops at {say(lowest, 'V')}."
    )
    return bench.told_of_module(name, says, done, cell, worst, charging=False)


def charge_weak(bench: Bench, name: str, highest: float, amps: float, held: float) -> TrialRun:
    """Charge at all that the chargers give; return the cell of the module that stands highest.

    Parameters
    ----------
    highest, amps : float
        Voltage [V] and current [A] of all chargers at their worst.
    held : float
        For how long the charge is held on after it could be over [s].
    """
    own, alone = _strings(bench)
    seconds = (1.0 - FROM) * float(own.coulombs.sum()) / amps + held
    steps, step = steps_of(own, amps, seconds)
    done = follow(
        own,
        _joined(own, FROM),
        np.full(steps, -amps),
        step,
        limits=Limits(highest=highest),
        ambient=WARM,
    )
    weak, others = _cells(bench, own, alone, done)
    cell = np.maximum(weak, others)
    says = (
        f"{_THE_MODULE} All chargers at {say(amps, 'A')} up to {say(highest, 'V')}, and held there."
    )
    return bench.told_of_module(name, says, done, cell, float(cell.max()), charging=True)


def _strings(bench: Bench) -> tuple[Strings, Strings]:
    """Return the strings, of which the last has a weak module; and strings of weak modules alone.

    Both have the state of charge of the weak module.
    """
    n = bench.strings.lead.size
    mixed = [StringScale()] * (n - 1) + [WEAK]
    alone = [attrs.evolve(WEAK, modules=None)] * n
    return (
        pack_strings(bench.design, scales=mixed).strings,
        pack_strings(bench.design, scales=alone).strings,
    )


def _joined(own: Strings, soc: float) -> State:
    """Return strings that rest at one voltage, the first of them at a state of charge [1]."""
    state = rested(own, soc, WARM)
    grid = np.linspace(0.0, 1.0, own.ocv.shape[1])
    volts = np.interp(soc, grid, own.ocv[0])
    state.soc[:] = [np.interp(volts, curve, grid) for curve in own.ocv]
    return state


def _cells(bench: Bench, own: Strings, alone: Strings, done: Followed) -> tuple[Array, Array]:
    """Return the mean cell of the weak module and of the others in its string, row by row [V].

    What a string loses inside falls on its modules as their resistances do. What the bars lose is
    counted as lost inside: to the safe side both ways.
    """
    pack = bench.design.build.pack
    series, cells = pack.modules_in_series, pack.module.cells_in_series
    soc, amps = done.record.soc[:, -1], done.record.current[:, -1]
    string = done.record.volts + amps * own.lead[-1]
    lost = _at(own.ocv[-1], soc) - string
    inside = np.clip(soc, 0.0, 1.0)
    part = _at(alone.ohms[-1], inside) / series / _at(own.ohms[-1], inside)
    weak = _at(alone.ocv[-1], soc) / series - lost * part
    others = weak if series == 1 else (string - weak) / (series - 1)
    return weak / cells, others / cells


def _at(curve: Array, soc: Array) -> Array:
    """Return a curve over states of charge from 0 to 1, straight on beyond its ends."""
    place = soc * (curve.size - 1)
    j = np.clip(place.astype(int), 0, curve.size - 2)
    found: Array = curve[j] + (place - j) * (curve[j + 1] - curve[j])
    return found
