"""Identify a cell from a bench record: pulses and rests become a source, resistances, branches."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from evpack.base.basis import Basis
from evpack.base.errors import DataError
from evpack.base.units import CHARGE, RESISTANCE, TIME, VOLTAGE
from evpack.base.wording import say
from evpack.describe.ocv import OcvCurve, ResistanceCurve
from evpack.kernels import identify as kernel
from evpack.kernels.record import Steps, pulse_resistances
from evpack.load.bench_columns import Array, read_table
from evpack.load.bench_module import Run
from evpack.load.bench_record import CurrentSign, run_of, sign_said
from evpack.load.csv_rows import table_bytes
from evpack.outcome.identified import MIDDLE, IdentifiedCell, RcBranch

_KNOTS = 51  # of the open-circuit voltage: one every 2 %
_LEAST_PULSES = 3  # at unlike states of charge; common practice, no source
_SAME = 0.01  # states of charge nearer than this are one [1]
_MOST_BRANCHES = 2


def identify_cell(
    path: str | Path,
    *,
    branches: int = 2,
    current_sign: CurrentSign = "detect",
    source: str = "own-bench-record",
) -> IdentifiedCell:
    """Identify a cell from a record of pulses and rests, as an HPPC test gives it.

    Parameters
    ----------
    path : str or Path
        A CSV file as `read_bench_record` takes it.
    branches : {1, 2}
        RC branches; two follow both the seconds and the minutes after a load.
    current_sign : {"detect", "charge-positive", "discharge-positive"}
        As `read_bench_record` has it.
    source : str
        Where the record comes from: a key of ``data/sources.toml`` or a citation.

    Returns
    -------
    IdentifiedCell
        Of the deepest discharge in the record, with the error of the record played again.

    Raises
    ------
    DataError
        What `read_bench_record` refuses; a discharge that does not begin from a rest at full, or
        fewer than three states of charge with a pulse from rest.
    """
    path = Path(path)
    if branches not in range(1, _MOST_BRANCHES + 1):
        raise DataError(path.name, "branches", f"one or two can be told apart, got {branches}")
    said = sign_said(path.name, current_sign)
    columns, _ = read_table(path.name, table_bytes(path))
    _, sentence, run = run_of(path.name, columns, said)
    before, ohms = pulse_resistances(run.time_s, run.volts, run.amps, run.steps)
    inside = (before >= run.full) & (before <= run.empty) & (ohms > 0)
    tested = np.unique(run.soc[before[inside]])
    apart = tested[np.concatenate([[True], np.diff(tested) > _SAME])] if tested.size else tested
    if apart.size < _LEAST_PULSES:
        raise DataError(
            path.name,
            "",
            f"holds pulses from rest at {apart.size} states of charge, sampled closely enough; "
            f"{_LEAST_PULSES} are needed to tell the resistance",
        )
    start = _rest_at_full(path.name, run)
    time_s, volts = run.time_s[start : run.empty + 1], run.volts[start : run.empty + 1]
    record = kernel.pieces(time_s, run.amps[start : run.empty + 1], _from(run.steps, start, run))
    soc = run.soc[start : run.empty + 1]
    cell = kernel.identify(
        record,
        volts,
        soc,
        coulombs=run.capacity * 3600.0,
        knots=np.linspace(0.0, 1.0, _KNOTS),
        ohms_knots=apart,
        branches=branches,
    )
    played, _ = kernel.played(cell, record, 1.0)
    return _told(path.name, source, cell, (time_s, volts, played, soc), sentence)


def _rest_at_full(file: str, run: Run) -> int:
    """Return the last sample of the rest at full, from which the discharge begins."""
    step = int(np.searchsorted(run.steps.last, run.full))
    while step < run.steps.kind.size and run.steps.kind[step] < 0:  # the charge up to full
        step += 1
    if step == run.steps.kind.size or run.steps.kind[step] != 0:
        raise DataError(
            file, "", "does not rest at full before it is discharged; a rest there is needed"
        )
    return int(run.steps.last[step])


def _from(steps: Steps, start: int, run: Run) -> Steps:
    """Return the steps from a sample on to the end of the discharge, counted from that sample."""
    kept = (steps.last >= start) & (steps.first <= run.empty)
    return Steps(
        np.maximum(steps.first[kept] - start, 0),
        np.minimum(steps.last[kept], run.empty) - start,
        steps.began[kept],
        steps.kind[kept],
    )


def _told(
    file: str, source: str, cell: kernel.Cell, runs: tuple[Array, Array, Array, Array], sign: str
) -> IdentifiedCell:
    """Return the noun, with the errors of the replay."""
    time_s, volts, played, soc = runs
    off = played - volts
    middle = (soc >= MIDDLE[0]) & (soc <= MIDDLE[1])
    lasts = np.diff(time_s, prepend=time_s[0])
    error = float(np.sqrt(np.mean(off[middle] ** 2)))
    over_time = float(np.sqrt(np.sum((off**2 * lasts)[middle]) / np.sum(lasts[middle])))
    notes = (
        sign,
        (
            "Identified and played again over one and the same discharge, "
            f"{time_s.size} samples: the errors say how well these few parts hold that record, not "
            "how well they foretell another one."
        ),
        (
            "Told on a discharge. A cell under charge stands a little above this open-circuit "
            "voltage at the same state of charge, and no part here says so."
        ),
        (
            f"The series resistance is told at {cell.ohms_soc.size} states of charge, where the "
            "record has pulses from rest, and held beyond them."
        ),
        (
            "The branches are the same at every state of charge and temperature: nothing here "
            "tells of cold."
        ),
    )
    return IdentifiedCell(
        name=file,
        source=source,
        capacity=CHARGE.of(cell.coulombs / 3600.0),
        curve=OcvCurve(
            soc=cell.soc,
            volts=cell.ocv,
            source=source,
            quality="Fitted to a loaded discharge with rests, a knot every "
            f"{say(1 / (_KNOTS - 1), '')} of the charge.",
            basis=Basis.MEASURED,
        ),
        resistance=ResistanceCurve(soc=cell.ohms_soc, ohms=np.maximum(cell.ohms, 1e-9)),
        branches=tuple(
            RcBranch(resistance=RESISTANCE.of(float(ohms)), time_constant=TIME.of(float(seconds)))
            for ohms, seconds in zip(cell.rc_ohms, cell.rc_seconds, strict=True)
            if ohms > 0
        ),
        error=VOLTAGE.of(error),
        error_over_time=VOLTAGE.of(over_time),
        error_whole=VOLTAGE.of(float(np.sqrt(np.mean(off**2)))),
        error_most=VOLTAGE.of(float(np.abs(off[middle]).max())),
        time=time_s,
        recorded=volts,
        replayed=played,
        notes=notes,
    )
