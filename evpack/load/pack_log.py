"""Read the log of a finished pack: what its monitoring or a meter wrote down while it worked."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from evpack.kernels import record as kernel
from evpack.load.bench_columns import read_table
from evpack.load.bench_record import CurrentSign, sign_of, sign_said
from evpack.load.csv_rows import table_bytes
from evpack.outcome.pack_log import PackLog


def read_pack_log(path: str | Path, *, current_sign: CurrentSign = "detect") -> PackLog:
    """Read the log of a finished pack.

    Parameters
    ----------
    path : str or Path
        A CSV file with labels as a bench record has them: ``Test Time / s, Voltage / V,
        Current / A`` of the pack; ``Highest Cell Voltage / V`` and ``Lowest Cell Voltage / V``,
        or every ``Cell 1 Voltage / V``; and ``String 1 Current / A`` and on, where logged. Samples
        at one and the same time are taken once, the last of them.
    current_sign : {"detect", "charge-positive", "discharge-positive"}
        How the log signs current; ``"detect"`` tells it from the voltage.

    Raises
    ------
    DataError
        As `read_bench_record`.
    """
    path = Path(path)
    said = sign_said(path.name, current_sign)
    columns, _ = read_table(path.name, table_bytes(path))
    time, volts, amps = columns["time"], columns["volts"], columns["amps"]
    steps = kernel.find_steps(time, amps, columns.get("count"))
    seen = kernel.charge_sign(steps, volts, amps) if steps.kind.any() else 0
    sign, told = sign_of(path.name, said, seen)
    cells = np.array([columns[name] for name in columns if name.startswith("cell ")])
    strings = np.array([columns[name] for name in columns if name.startswith("string ")])
    last = np.append(np.diff(time) > 0, True)
    return PackLog(
        seconds=time[last],
        volts=volts[last],
        amps=-sign * amps[last],
        highest=cells.max(axis=0)[last] if cells.size else _part(columns.get("highest"), last),
        lowest=cells.min(axis=0)[last] if cells.size else _part(columns.get("lowest"), last),
        strings=-sign * strings[:, last] if strings.size else None,
        name=path.name,
        told=told,
    )


def _part(column: kernel.Array | None, rows: np.ndarray) -> kernel.Array | None:
    return None if column is None else column[rows]
