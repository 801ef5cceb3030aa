"""Read a bench record: a table of time, voltage and current from a cycler or a logger.

The column labels are those of the Battery Data Format, an open standard, and obvious synonyms of
them (both from memory). A record is read whole or refused; nothing is skipped or repaired.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Literal, NamedTuple, TypeAlias

import attrs
import numpy as np
from numpy.typing import NDArray

from evpack.base.basis import Basis
from evpack.base.errors import DataError, nearest
from evpack.base.units import CHARGE, ENERGY, TEMPERATURE, VOLTAGE, seconds, share, volts
from evpack.base.wording import number, say
from evpack.describe.module import in_the_middle
from evpack.describe.ocv import OcvCurve
from evpack.kernels import record as kernel
from evpack.load.bench_columns import Array, read_table
from evpack.load.bench_module import PULSE_S, Ends, Meter, Run, more
from evpack.load.csv_rows import table_bytes
from evpack.outcome.bench import BenchReading

CurrentSign: TypeAlias = Literal["detect", "charge-positive", "discharge-positive"]

_SIGNS: Mapping[str, int] = {"detect": 0, "charge-positive": 1, "discharge-positive": -1}
# One hole in the record may hide this share of the charge, no more. Common practice, no source.
_LARGEST_HOLE = 0.02
_KELVIN_WIDE = 5.0


def read_bench_record(
    path: str | Path,
    *,
    current_sign: CurrentSign = "detect",
    least_rest: object = "1 h",
    source: str = "own-bench-record",
    voltage_accuracy: object = None,
    current_accuracy: object = None,
) -> BenchReading:
    """Read what one bench record says of the cell that was tested.

    Parameters
    ----------
    path : str or Path
        A CSV file: one row of labels such as ``Test Time / s,Voltage / V,Current / A``, then
        numbers. The unit in a label is honoured (``Current / mA``); the order of the columns
        does not matter. ``Step Count / 1`` and ``Ambient Temperature / degC`` are used if there,
        and of a whole module ``Cell 1 Voltage / V``, ``Cell 2 Voltage / V`` and on, plus end
        first (or ``Lowest Cell Voltage / V`` and ``Highest Cell Voltage / V``), and ``Surface
        Temperature / degC``. A column that may be a cell group's voltage and cannot be told is
        refused by its label.
    current_sign : {"detect", "charge-positive", "discharge-positive"}
        How the record signs current. ``"detect"`` tells it from the voltage, which rises under
        charge; the reading says which sign was taken.
    least_rest : quantity or text
        How long a rest must last for its voltage to count as open-circuit; an hour for the oxide
        chemistries, ``"4 h"`` for LFP (common practice, no source).
    source : str
        Where the record comes from: a key of ``data/sources.toml`` or a citation.
    voltage_accuracy, current_accuracy : quantity or text, optional
        What the meter promises, such as ``"2 mV"`` and ``"0.5 %"`` of its reading. Without them
        the errors of capacity and resistance are not known.

    Returns
    -------
    BenchReading
        Of the deepest discharge in the record, per cell as tested.

    Raises
    ------
    DataError
        Not a readable file, not text, no rows; a column missing, unit-less, unknown or twice; a
        bad row (named by its line); a sign that cannot be told, or is contradicted by the
        voltage; no discharge; a hole in the record that hides more than 2 % of the charge.
    UnitError
        `least_rest` is not a time, or an accuracy has another unit.

    References
    ----------
    Labels: Battery Data Format, from memory. Physics: see `evpack.kernels.record`.
    """
    path = Path(path)
    said = sign_said(path.name, current_sign)
    least_rest_s = float(seconds(least_rest).m)
    meter = Meter(
        None if voltage_accuracy is None else float(volts(voltage_accuracy).m),
        None if current_accuracy is None else float(share(current_accuracy).m),
    )
    columns, unused = read_table(path.name, table_bytes(path))
    reading = _reading(
        path.name,
        columns,
        said=said,
        least_rest_s=least_rest_s,
        source=source,
        meter=meter,
    )
    if unused:
        note = f"Columns not used: {', '.join(unused)}."
        return attrs.evolve(reading, notes=(*reading.notes, note))
    return reading


class _Found(NamedTuple):
    """Samples of a run: ends of rests, loaded ones, the last before each pulse, and its ohms."""

    rests: NDArray[np.intp]
    loaded: NDArray[np.intp]
    before: NDArray[np.intp]
    ohms: Array


def _reading(
    file: str,
    columns: Mapping[str, Array],
    *,
    said: int,
    least_rest_s: float,
    source: str,
    meter: Meter,
) -> BenchReading:
    """Run the record through the kernels and say what was done; the sign's sentence comes first."""
    sign, sentence, run = run_of(file, columns, said)
    time_s, volts, steps, full, empty = run.time_s, run.volts, run.steps, run.full, run.empty
    taken = kernel.accumulate(time_s, run.amps * volts, steps)
    # The meter's own readings here, offset included: the offset cancels in the difference.
    metered = -sign * columns["amps"]
    before, ohms = kernel.pulse_resistances(time_s, volts, metered, steps, after_s=PULSE_S)
    inside = (before >= full) & (before <= empty) & (ohms > 0)
    found = _Found(
        rests=kernel.rest_ends(time_s, steps, full, empty, least_rest_s=least_rest_s),
        loaded=kernel.loaded_samples(time_s, steps, full, empty, after_s=PULSE_S),
        before=before[inside],
        ohms=ohms[inside],
    )
    also, also_notes = more(run, columns, metered, Ends(found.rests, found.before), meter)
    curve, below, curve_note = _curve(source, run, found, say(least_rest_s, "s"))
    temperature, temperature_notes = _temperature(columns.get("celsius"), full, empty)
    return BenchReading(
        name=file,
        source=source,
        capacity=CHARGE.of(run.capacity),
        energy=ENERGY.of(float(taken[empty] - taken[full])),
        highest=VOLTAGE.of(float(volts[: empty + 1].max())),
        least=VOLTAGE.of(float(volts[full : empty + 1].min())),
        temperature=None if temperature is None else TEMPERATURE.of(temperature),
        rest_soc=run.soc[found.rests],
        rest_volts=volts[found.rests],
        pulse_soc=run.soc[found.before],
        pulse_ohms=found.ohms,
        pulse_celsius=_pulse_celsius(columns, found.before),
        curve=curve,
        estimated_below=below,
        charge_positive=sign > 0,
        current_sign=sentence,
        notes=(
            sentence,
            "Steps are those of the record's step column."
            if "count" in columns
            else "The record has no step column: steps were told from changes of current.",
            _discharge_note(run),
            _boundary_note(run),
            "What the meter reads at rest is taken as its offset and not counted.",
            _pulse_note(run.soc[found.before]),
            *temperature_notes,
            curve_note,
            *also_notes,
        ),
        **also,
    )


def run_of(file: str, columns: Mapping[str, Array], said: int) -> tuple[int, str, Run]:
    """Return the sign of charging current, its sentence, and the deepest discharge."""
    time_s, volts = columns["time"], columns["volts"]
    steps = kernel.find_steps(time_s, columns["amps"], columns.get("count"))
    if not steps.kind.any():
        raise DataError(file, "", "holds no current at all; a discharge is needed")
    sign, sentence = sign_of(file, said, kernel.charge_sign(steps, volts, columns["amps"]))
    steps = steps._replace(kind=-sign * steps.kind)
    at_rest = np.repeat(steps.kind, steps.last - steps.first + 1) == 0
    amps = np.where(at_rest, 0.0, -sign * columns["amps"])
    out = kernel.accumulate(time_s, amps, steps)
    full, empty = kernel.deepest_discharge(out)
    if full == empty:
        raise DataError(file, "", "holds no discharge; one from full to empty is needed")
    _refuse_hole(file, time_s, out, full, empty)
    capacity = float(out[empty] - out[full])
    soc = np.clip(1.0 - (out - out[full]) / capacity, 0.0, 1.0)
    return sign, sentence, Run(time_s, volts, amps, steps, soc, full, empty, capacity)


def sign_said(file: str, current_sign: str) -> int:
    """Return the sign of charging current that the user states; 0 is to be told from the record."""
    if current_sign not in _SIGNS:
        raise DataError(
            file,
            "current_sign",
            f"'{current_sign}' is not known{nearest(str(current_sign), _SIGNS)}",
        )
    return _SIGNS[current_sign]


def sign_of(file: str, said: int, seen: int) -> tuple[int, str]:
    """Return the sign of charging current and the sentence that says so aloud."""
    if said and seen and said != seen:
        raise DataError(
            file,
            "current_sign",
            f"positive current was said to {'charge' if said > 0 else 'discharge'}, but the "
            "voltage moves the other way: the cell would have a resistance below zero; "
            "use 'detect', or check the voltage column",
        )
    if not (said or seen):
        raise DataError(
            file,
            "current_sign",
            "the voltage does not tell which sign of current charges; say 'charge-positive' or "
            "'discharge-positive'",
        )
    sign = said or seen
    does = "charges" if sign > 0 else "discharges"
    moves = "rises" if sign > 0 else "falls"
    if said:
        return sign, f"Positive current {does} the cell, as the user stated."
    return sign, f"Positive current {does} the cell: detected, the voltage {moves} with it."


def _refuse_hole(file: str, time_s: Array, out: Array, full: int, empty: int) -> None:
    """Refuse a record of whose charge too much passed between two readings."""
    moved = np.abs(np.diff(out[full : empty + 1]))
    worst = int(np.argmax(moved))
    if moved[worst] > _LARGEST_HOLE * (out[empty] - out[full]):
        start = float(time_s[full + worst])
        raise DataError(
            file,
            f"time {start:g} s",
            f"no reading for {say(float(time_s[full + worst + 1]) - start, 's')} while current "
            f"flowed, which hides {number(float(moved[worst]), 3)} Ah; a reading at least for "
            f"every {say(_LARGEST_HOLE, '')} of the charge is needed",
        )


def _curve(
    source: str, run: Run, found: _Found, rest: str
) -> tuple[OcvCurve | None, float | None, str]:
    """Return the rest-voltage curve, where it is estimated below, and how it came about."""
    soc, loaded, before = run.soc, found.loaded, found.before
    if found.rests.size == 0 or soc[found.rests[0]] < 1:
        return None, None, f"No open-circuit curve: no rest of {rest} at full in the record."
    added = np.zeros(loaded.size)
    if before.size:
        order = np.argsort(soc[before], kind="stable")
        # Between tested states a straight line, beyond them the nearest pulse.
        ohms = np.interp(soc[loaded], soc[before][order], found.ohms[order])
        added = run.amps[loaded] * ohms
    curve_soc, curve_volts, below = kernel.rest_curve(
        soc[found.rests], run.volts[found.rests], soc[loaded], run.volts[loaded] + added
    )
    if curve_soc[0] > 0:
        return None, None, "No open-circuit curve: the record gives no rising one down to empty."
    note = (
        f"The open-circuit curve has {found.rests.size} points measured at the end of rests of "
        f"{rest} or more."
    )
    if below is not None:
        resistance = "current times the 10 s resistance" if before.size else "nothing"
        note += (
            f" Below {say(below, '')} it is in part estimated from the loaded discharge with "
            f"{resistance} added back: as a rule that lies below the true rest voltage, since a "
            "cell recovers further than that, and so claims less energy."
        )
    curve = OcvCurve(
        soc=curve_soc, volts=curve_volts, source=source, quality=note, basis=Basis.MEASURED
    )
    return curve, below, note


def _temperature(
    celsius: Array | None, full: int, empty: int
) -> tuple[float | None, tuple[str, ...]]:
    """Return the mean temperature of the discharge, and a note where it is unknown or moved."""
    if celsius is None:
        return None, ("The record does not tell the temperature.",)
    part = celsius[full : empty + 1]
    coldest, warmest = float(part.min()), float(part.max())
    if warmest - coldest <= _KELVIN_WIDE:
        return float(part.mean()), ()
    note = (
        f"The temperature moved from {say(coldest, '°C')} to {say(warmest, '°C')} during the "
        "discharge; its mean is given."
    )
    return float(part.mean()), (note,)


def _pulse_celsius(columns: Mapping[str, Array], before: NDArray[np.intp]) -> Array:
    """Return how warm the cells were before each pulse [°C]; empty where nobody measured.

    After a rest the surface is nearer to the cells than the air is; of several sensors, the mean.
    """
    surface = [column for name, column in columns.items() if name.startswith("surface ")]
    if surface:
        mean: Array = np.mean([column[before] for column in surface], axis=0)
        return mean
    return columns["celsius"][before] if "celsius" in columns else np.empty(0)


def _discharge_note(run: Run) -> str:
    """Say which discharge was taken, and how it is known that the cell was full."""
    start, end = (float(run.time_s[k]) / 3600.0 for k in (run.full, run.empty))
    least = float(run.volts[run.full : run.empty + 1].min())
    note = (
        f"The deepest discharge runs from {start:.2f} h to {end:.2f} h of the record, down to "
        f"{say(least, 'V')}; charge given back within it is subtracted."
    )
    charges = np.flatnonzero((run.steps.kind < 0) & (run.steps.last <= run.full))
    if charges.size == 0:
        return note + " No charge comes before it: that the cell was full is taken on trust."
    last = run.steps.last[charges[-1]]
    volts, amps = float(run.volts[last]), abs(float(run.amps[last]))
    return note + (
        f" Full is where the charge before it ended, at {say(volts, 'V')} and {say(amps, 'A')}."
    )


def _boundary_note(run: Run) -> str:
    """Say how much charge hangs on when exactly the steps began."""
    new = run.steps.first[(run.steps.first > run.full) & (run.steps.first <= run.empty)]
    gaps = run.time_s[new] - run.time_s[new - 1]
    doubtful = float(np.sum(np.abs(run.amps[new]) * gaps)) / 3600.0
    return (
        "A step is taken to begin one of its own sampling intervals before its first reading; "
        f"at most {number(doubtful, 2)} Ah ({number(100 * doubtful / run.capacity, 2)} % of the "
        "capacity) hangs on that."
    )


def _pulse_note(soc: Array) -> str:
    if soc.size == 0:
        return "No discharge from rest is sampled closely enough to give a 10 s resistance."
    many = f"{soc.size} discharge pulses that follow" if soc.size > 1 else "a pulse that follows"
    said = f"The 10 s resistance comes from {many} a rest."
    if any(in_the_middle(float(each)) for each in soc):
        return said
    nearest = float(soc[np.argmin(np.abs(soc - 0.5))])
    return said + (
        f" None stood at middle charge: it is that at {say(nearest, '')}. Let the module rest "
        "at 50 % and load it for 10 s to have the one that counts."
    )
