"""What a bench record tells besides: its cell groups, its warmth, its efficiency, its errors."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from evpack.base.units import CHARGE, CURRENT, RISE, SHARE, TIME, VOLTAGE
from evpack.base.wording import number, say
from evpack.kernels import record as kernel
from evpack.kernels.record_error import charge_error, pulse_errors
from evpack.load.bench_columns import Array
from evpack.outcome.bench import GroupsSeen

Index = NDArray[np.intp]

PULSE_S = 10.0
# Two charges, or two discharges, that end within this share of the same voltage and current ended
# in the same state. Common practice, no source.
_ALIKE_VOLTS, _ALIKE_AMPS = 0.005, 0.2
# Cell groups that add up to the module within this share are those of it. Common practice.
_SUM_OFF = 0.01


class Run(NamedTuple):
    """A record and its discharge; arrays of shape (n,), current positive on discharge."""

    time_s: Array
    volts: Array
    amps: Array
    steps: kernel.Steps
    soc: Array
    full: int
    empty: int
    capacity: float


class Ends(NamedTuple):
    """Samples of a run: ends of the long rests, and the last before each pulse used."""

    rests: Index
    before: Index


class Meter(NamedTuple):
    """Accuracy of the voltmeter [V], and of the current meter as a share of its reading [1]."""

    volts: float | None
    amps: float | None


def more(
    run: Run,
    columns: Mapping[str, Array],
    metered: Array,
    ends: Ends,
    meter: Meter,
) -> tuple[dict[str, Any], tuple[str, ...]]:
    """Return the fields of a `BenchReading` that it can do without, and what to say of them.

    Parameters
    ----------
    metered : array, shape (n,)
        Current as the meter read it, offset included, positive on discharge [A].
    """
    rests, before = ends
    found: dict[str, Any] = {"current": CURRENT.of(_mean_current(run))}
    at_full = rests.size > 0 and run.soc[rests[0]] >= 1
    if at_full:
        found["full_rested"] = TIME.of(_rested(run, int(rests[0])))
    cells = _columns(columns, "cell")
    groups = seen_groups(run, columns, cells)
    notes: list[str] = []
    if groups is not None:
        found["groups"] = groups
        found["lowest_cell"] = VOLTAGE.of(_lowest(columns, cells))
    if cells.size:
        found["end_cells"] = cells[run.empty]
        if at_full:
            found["full_cells"] = cells[rests[0]]
        notes += [_groups_note(cells[run.empty]), *_sum_note(run, cells)]
    elif groups is not None:
        notes.append(
            "Of the cell groups the lowest and the highest were logged, and not which they were: "
            f"at the end of the discharge the lowest stood at {say(float(groups.lowest[-1]), 'V')}."
        )
    surface = _columns(columns, "surface")
    if surface.size:
        found["rise"] = RISE.of(_rise(run, surface))
    efficiency, note = _efficiency(run)
    notes.append(note)
    if efficiency is not None:
        found["charge_efficiency"] = SHARE.of(efficiency)
    errors, note = _errors(run, metered, before, meter)
    return found | errors, (*notes, note)


def seen_groups(run: Run, columns: Mapping[str, Array], cells: Array) -> GroupsSeen | None:
    """Return how the cell groups stood in the discharge and at full; None where none was read."""
    part = slice(run.full, run.empty + 1)
    if cells.size:
        mean, lowest, highest = cells.mean(axis=1), cells.min(axis=1), cells.max(axis=1)
    elif "lowest" in columns:
        mean, lowest = None, columns["lowest"]
        highest = columns.get("highest")
    else:
        return None
    still = run.steps.kind[_step_of(run)] <= 0
    loaded = np.flatnonzero(~still[part])
    # The end of the charge and the rest after it; a record that begins under load shows neither.
    top = slice(run.full, run.full + int(loaded[0]))
    return GroupsSeen(
        lowest=lowest[part],
        mean=() if mean is None else mean[part],
        volts=run.volts[part],
        top_highest=() if highest is None else highest[top],
        top_mean=() if mean is None else mean[top],
        top_volts=run.volts[top],
    )


def _step_of(run: Run) -> Index:
    """Return the step of every sample."""
    steps = run.steps
    return np.repeat(np.arange(steps.first.size), steps.last - steps.first + 1)


def _lowest(columns: Mapping[str, Array], cells: Array) -> float:
    """Return the lowest voltage of any cell group in the whole record [V]."""
    logged = columns.get("lowest")
    found = [float(cells.min())] if cells.size else []
    return min([*found, *([] if logged is None else [float(logged.min())])])


def _groups_note(ended: Array) -> str:
    """Say how the cell groups stood at the end of the discharge."""
    least = int(np.argmin(ended))
    return (
        f"{ended.size} cell groups were read. At the end of the discharge group {least + 1} was "
        f"the lowest, at {say(float(ended[least]), 'V')}, with a mean of "
        f"{say(float(ended.mean()), 'V')} and the highest at {say(float(ended.max()), 'V')}."
    )


def _columns(columns: Mapping[str, Array], family: str) -> Array:
    """Return the columns of a family side by side, shape (n, k); empty without any."""
    held = [columns[f"{family} {k}"] for k in range(1, len(columns)) if f"{family} {k}" in columns]
    return np.column_stack(held) if held else np.empty((0, 0))


def _mean_current(run: Run) -> float:
    """Return the mean current from full to empty while it flowed out [A]."""
    part = slice(run.full, run.empty + 1)
    apart = np.diff(run.time_s[part])
    flows = run.amps[part][1:] > 0
    return float(np.sum(run.amps[part][1:] * apart * flows) / np.sum(apart * flows))


def _rested(run: Run, end: int) -> float:
    """Return how long a rest had lasted at its last sample [s]."""
    step = int(np.searchsorted(run.steps.last, end))
    return float(run.time_s[end] - run.steps.began[step])


def _sum_note(run: Run, cells: Array) -> list[str]:
    """Say it where the cell groups do not add up to the voltage beside them."""
    off = np.abs(cells.sum(axis=1) - run.volts)
    worst = int(np.argmax(off))
    if off[worst] <= _SUM_OFF * run.volts[worst]:
        return []
    made, read = float(cells[worst].sum()), float(run.volts[worst])
    note = (
        f"The cell groups do not add up to the voltage: at {run.time_s[worst] / 3600:.2f} h they "
        f"make {say(made, 'V')}, and {say(read, 'V')} was read. Both are kept."
    )
    return [note]


def _rise(run: Run, surface: Array) -> float:
    """Return how much warmer than at full the warmest spot became until the rest was over [K].

    A module goes on getting warmer outside for a while when the current has stopped.
    """
    steps = run.steps
    step = int(np.searchsorted(steps.last, run.empty))
    after = min(step + 1, steps.first.size - 1)
    stop = steps.last[after] if steps.kind[after] == 0 else run.empty
    part = surface[run.full : int(stop) + 1]
    return float(np.max(part - part[0]))


def _efficiency(run: Run) -> tuple[float | None, str]:
    """Return charge out over charge in of a whole cycle, and which one it was.

    Worked by hand: 10 Ah out, and 10.1 Ah to come back to the same full, give 99 %.
    """
    steps, out = run.steps, kernel.accumulate(run.time_s, run.amps, run.steps)
    charged = np.flatnonzero((steps.kind < 0) & (steps.last <= run.full))
    drained = np.flatnonzero((steps.kind > 0) & (steps.last < run.full))
    later = np.flatnonzero(steps.first > run.empty)
    again = later[steps.kind[later] > 0]
    stop = again[0] if again.size else steps.first.size
    back = later[(later < stop) & (steps.kind[later] < 0)]
    if charged.size and back.size:
        first, last = int(steps.last[charged[-1]]), int(steps.last[back[-1]])
        if _alike(run, first, last):
            put_in = float(out[run.empty] - out[last])
            return run.capacity / put_in, (
                "The charge efficiency is that of the discharge and the charge after it, which "
                "ended as the one before."
            )
    if drained.size and charged.size:
        begin = int(steps.last[drained[-1]])
        if _alike(run, begin, run.empty):
            put_in = float(out[begin] - out[run.full])
            return run.capacity / put_in, (
                "The charge efficiency is that of the charge and the discharge after it, which "
                "ended as the one before."
            )
    return None, "No charge efficiency: the record holds no whole cycle."


def _alike(run: Run, one: int, other: int) -> bool:
    """Return whether two charges, or two discharges, ended at the same voltage and current."""
    volts, amps = run.volts, np.abs(run.amps)
    return bool(
        abs(volts[one] - volts[other]) <= _ALIKE_VOLTS * volts[one]
        and abs(amps[one] - amps[other]) <= _ALIKE_AMPS * max(amps[one], amps[other])
    )


def _errors(run: Run, metered: Array, before: Index, meter: Meter) -> tuple[dict[str, Any], str]:
    """Return the errors that follow from meter and sampling, and how they were got."""
    found: dict[str, Any] = {}
    if meter.amps is None:
        return found, (
            "By how much capacity and resistance may be off is not known: the accuracy of the "
            "meter was not stated."
        )
    error = charge_error(run.time_s, run.amps, run.steps, run.full, run.empty, share=meter.amps)
    found["capacity_error"] = CHARGE.of(error)
    note = (
        f"The capacity may be off by {number(error, 2)} Ah: the current meter's share of all "
        "charge that passed, half the change of current times the time between readings within "
        "a step, and all of it where a step began, added."
    )
    if meter.volts is not None and before.size:
        found["pulse_errors"] = pulse_errors(
            run.time_s,
            run.volts,
            metered,
            run.steps,
            before,
            after_s=PULSE_S,
            volts_error=meter.volts,
            share=meter.amps,
        )
        note += (
            " A resistance may be off by twice the voltmeter's error and half the change of "
            "voltage around the instant, over the step of current, and by the current meter's "
            "share of it."
        )
    return found, note
