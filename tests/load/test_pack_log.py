"""The log of a finished pack, read from a file."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from evpack.base.errors import DataError
from evpack.load.pack_log import read_pack_log

# 20 A out of a pack of 50 V and 10 mΩ, then 10 A in; every cell and both strings logged.
HEAD = "Test Time / s,Voltage / V,Current / A"
ROWS = [(10 * k, 50.0 - 0.01 * a, a) for k, a in enumerate([0, 0, 20, 20, 20, -10, -10, -10, 0, 0])]


def written(folder: Path, head: str, rows: list[tuple[object, ...]]) -> Path:
    path = folder / "log.csv"
    text = "\n".join([head, *(",".join(str(value) for value in row) for row in rows)])
    path.write_text(text, encoding="utf-8")
    return path


def test_current_comes_out_positive_on_discharge(tmp_path: Path) -> None:
    log = read_pack_log(written(tmp_path, HEAD, list(ROWS)))
    assert list(log.amps) == [row[2] for row in ROWS]
    assert log.told.startswith("Positive current discharges the cell: detected")
    turned = [(t, v, -a) for t, v, a in ROWS]
    other = read_pack_log(written(tmp_path, HEAD, list(turned)))
    assert list(other.amps) == list(log.amps)
    assert other.told.startswith("Positive current charges the cell: detected")
    assert (log.highest, log.lowest, log.strings) == (None, None, None)


def test_every_cell_or_the_outermost(tmp_path: Path) -> None:
    cells = [(*row, 3.70, 3.72, 3.69) for row in ROWS]
    head = f"{HEAD},Cell 1 Voltage / V,Cell 2 Voltage / V,Cell 3 Voltage / V"
    every = read_pack_log(written(tmp_path, head, list(cells)))
    head = f"{HEAD},Highest Cell Voltage / mV,Lowest Cell Voltage / V"
    outer = read_pack_log(written(tmp_path, head, [(*row, 3720, 3.69) for row in ROWS]))
    for log in (every, outer):
        assert log.highest is not None
        assert log.lowest is not None
        assert np.all(log.highest == 3.72)
        assert np.all(log.lowest == 3.69)


def test_strings_have_the_sign_of_the_pack(tmp_path: Path) -> None:
    head = f"{HEAD},String 1 Current / A,String 2 Current / A"
    rows = [(t, v, -a, -0.6 * a, -0.4 * a) for t, v, a in ROWS]
    log = read_pack_log(written(tmp_path, head, list(rows)))
    assert log.strings is not None
    assert log.strings[0] == pytest.approx([0.6 * row[2] for row in ROWS])


def test_samples_at_one_time_are_taken_once(tmp_path: Path) -> None:
    rows = [*ROWS[:3], (20, 49.7, 30), *ROWS[3:]]
    log = read_pack_log(written(tmp_path, HEAD, list(rows)))
    assert (log.seconds[2], log.amps[2]) == (20.0, 30.0)
    assert log.seconds.size == len(ROWS)


@pytest.mark.parametrize(
    ("head", "told"),
    [
        (f"{HEAD},String 2 Current / A", "column 'String 1 Current / A' is missing"),
        (f"{HEAD},Cell 2 Voltage / V", "column 'Cell 1 Voltage / V' is missing"),
        (f"{HEAD},Highest Cell Voltage", "has no unit"),
    ],
)
def test_a_column_that_is_wrong_is_named(tmp_path: Path, head: str, told: str) -> None:
    with pytest.raises(DataError, match=told):
        read_pack_log(written(tmp_path, head, [(*row, 3.7) for row in ROWS]))


def test_a_sign_that_is_none_is_refused(tmp_path: Path) -> None:
    with pytest.raises(DataError, match=r"did you mean 'detect'|nearest"):
        read_pack_log(written(tmp_path, HEAD, list(ROWS)), current_sign="detec")  # type: ignore[arg-type]


def test_a_log_without_current_does_not_tell_its_sign(tmp_path: Path) -> None:
    rows = [(t, 50.0, 0) for t, _, _ in ROWS]
    with pytest.raises(DataError, match="does not tell which sign"):
        read_pack_log(written(tmp_path, HEAD, list(rows)))
    assert (
        read_pack_log(
            written(tmp_path, HEAD, list(rows)), current_sign="charge-positive"
        ).amps.max()
        == 0
    )
