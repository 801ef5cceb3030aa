"""Cell groups in a bench record: read by whatever name, or refused by it, and never left out.

The module: seven cell groups, open-circuit voltage 3.0 V + 1.2 V x state of charge, 2 mΩ each. Six
hold 100 Ah, group 3 holds 90 Ah; all are full together. Invented.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import pytest

from evpack.base.errors import DataError
from evpack.base.units import volts
from evpack.load.bench_record import read_bench_record

HEAD = ("Test Time / s", "Voltage / V", "Current / A")
GROUPS = tuple(f"Cell {k} Voltage / V" for k in range(1, 8))
WEAK = 3
AMPS = 30.0


def record(
    *,
    charge: bool = True,
    offsets: Sequence[float] = (0.0,) * 7,
    below_full: float = 0.0,
    held: Sequence[float] = (100, 100, 90, 100, 100, 100, 100),
) -> list[list[float]]:
    """Return time, volts, amps and each group's volts: 3 Ah in, two hours of rest, 90 Ah out."""
    parts = [(360, 30.0, 6), (7200, 0.0, 60)] if charge else []
    gone, now, rows = (3.0 if charge else below_full), 0.0, []
    for seconds, amps, interval in [*parts, (10800, -AMPS, 10)]:
        for _ in range(seconds // interval):
            now += interval
            gone -= amps * interval / 3600
            cells = [
                3.0 + 1.2 * (1 - gone / own) + 0.002 * amps + offset
                for own, offset in zip(held, offsets, strict=True)
            ]
            rows.append([now, sum(cells), amps, *cells])
    return rows


def written(
    folder: Path, rows: Sequence[Sequence[object]], labels: Sequence[str] = (*HEAD, *GROUPS)
) -> Path:
    path = folder / "module.csv"
    lines = [",".join(labels), *(",".join(map(str, row)) for row in rows)]
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


def test_the_weak_group_is_told(tmp_path: Path) -> None:
    # Empty: group 3 has 3.0 − 0.06 = 2.94 V, the others 3.0 + 1.2 · 0.1 − 0.06 = 3.06 V; the mean
    # is 3.06 − 0.12 / 7 = 3.042857 V.
    reading = read_bench_record(written(tmp_path, record()))
    assert reading.ended_by == WEAK
    assert any(
        "7 cell groups were read. At the end of the discharge group 3 was the lowest, at 2.94 V, "
        "with a mean of 3.04 V and the highest at 3.06 V." in note
        for note in reading.notes
    )
    assert reading.groups is not None
    assert reading.groups.below_mean(7).m == pytest.approx(0.102857, abs=1e-6)


@pytest.mark.parametrize("floor", [3.2, 3.3, 3.5])
def test_it_lags_less_where_it_is_less_empty(tmp_path: Path, floor: float) -> None:
    # Group 3 at V has (V + 0.06 − 3) / 1.2 of its charge s, so that 90 · (1 − s) Ah are gone, of
    # which the others lost 1.2 · 90 · (1 − s) / 100 V: they stand 1.2 · 0.1 · (1 − s) V above it,
    # and the mean 6 / 7 of that.
    reading = read_bench_record(written(tmp_path, record()))
    s = (floor + 0.06 - 3.0) / 1.2
    assert reading.groups is not None
    assert reading.groups.below_mean(7, volts(f"{floor} V")).m == pytest.approx(
        6 / 7 * 0.12 * (1 - s), abs=1e-4
    )
    assert reading.groups.reached(volts("3.2 V"))
    assert not reading.groups.reached(volts("2.9 V"))


def test_above_what_was_seen_the_end_counts(tmp_path: Path) -> None:
    reading = read_bench_record(written(tmp_path, record()))
    assert reading.groups is not None
    assert reading.groups.below_mean(7, volts("2.5 V")).m == pytest.approx(0.102857, abs=1e-6)


def test_a_group_that_runs_ahead_at_full(tmp_path: Path) -> None:
    # Group 5 stands 35 mV higher throughout: 35 · 6 / 7 = 30 mV above the mean.
    rows = record(offsets=(0, 0, 0, 0, 0.035, 0, 0))
    reading = read_bench_record(written(tmp_path, rows))
    assert reading.groups is not None
    above = reading.groups.above_mean(7)
    assert above is not None
    assert above.m == pytest.approx(0.030)


def test_a_record_that_begins_under_load_tells_nothing_of_full(tmp_path: Path) -> None:
    rows = record(charge=False)
    reading = read_bench_record(written(tmp_path, rows), current_sign="charge-positive")
    assert reading.groups is not None
    assert reading.groups.above_mean(7) is None
    assert reading.groups.below_mean(7).m == pytest.approx(0.102857, abs=1e-6)


@pytest.mark.parametrize(
    "label",
    [
        "Group {} Voltage / V",
        "Cell {} Voltage / V",
        "cell {} [V]",
        "Cell {:02} / V",
        "cell{}_v",
        "cell_group_{}_voltage_volt",
        "Voltage Group {} (V)",
        "Voltage of cell group {} / V",
        "Cell No. {} Voltage / V",
        "Cell #{} (V)",
        "VCell{} / V",
        "U Cell {} / V",
        "Block {} Voltage / V",
        "Parallel Group {} / V",
        "GROUP_{}_VOLTAGE / V",
    ],
)
def test_the_names_that_groups_go_by(tmp_path: Path, label: str) -> None:
    names = [label.format(k) for k in range(1, 8)]
    reading = read_bench_record(written(tmp_path, record(), (*HEAD, *names)))
    assert reading.ended_by == WEAK
    assert not any("not used" in note for note in reading.notes)


@pytest.mark.parametrize(
    "label",
    [
        "V{} / V",
        "Voltage {} / V",
        "U{} [V]",
        "Group {} Sense Voltage / V",
        "Aux {} / mV",
        "cell_{}_average_volt",
        "Cell {} Volts Filtered",
    ],
)
def test_what_may_be_a_group_is_refused_by_its_name(tmp_path: Path, label: str) -> None:
    names = [label.format(k) for k in range(1, 8)]
    with pytest.raises(DataError) as refusal:
        read_bench_record(written(tmp_path, record(), (*HEAD, *names)))
    assert f"column '{names[0]}' may be the voltage of a cell group" in str(refusal.value)
    assert "call the groups 'Cell 1 Voltage / V' and on" in str(refusal.value)


@pytest.mark.parametrize("label", ["Cell Voltage Spread / mV", "Cell Imbalance / mV"])
def test_how_far_they_lie_apart_alone_is_refused_too(tmp_path: Path, label: str) -> None:
    rows = [row[:4] for row in record()]
    with pytest.raises(DataError, match="may be the voltage of a cell group"):
        read_bench_record(written(tmp_path, rows, (*HEAD, label)))


@pytest.mark.parametrize(
    "label", ["Supply Voltage / V", "Cell 1 Temperature / degC", "Lowest Cell Number", "Remark 1"]
)
def test_what_is_no_group_is_left_out_and_said(tmp_path: Path, label: str) -> None:
    rows = [[*row[:3], 12.0] for row in record()]
    reading = read_bench_record(written(tmp_path, rows, (*HEAD, label)))
    assert f"Columns not used: {label}." in reading.notes


def test_groups_counted_from_nought_are_refused_with_the_fix(tmp_path: Path) -> None:
    names = [f"Cell {k} Voltage / V" for k in range(7)]
    with pytest.raises(DataError) as refusal:
        read_bench_record(written(tmp_path, record(), (*HEAD, *names)))
    assert "column 'Cell 0 Voltage / V' counts from 0; cells are counted from 1" in str(
        refusal.value
    )


@pytest.mark.parametrize(
    ("low", "high"),
    [
        ("Lowest Cell Voltage / V", "Highest Cell Voltage / V"),
        ("Min Cell Voltage / V", "Max Cell Voltage / V"),
        ("cell_voltage_min_volt", "cell_voltage_max_volt"),
        ("Vmin / V", "Vmax / V"),
        ("Cell Min (V)", "Cell Max (V)"),
    ],
)
def test_the_lowest_of_all_alone_tells_as_much(tmp_path: Path, low: str, high: str) -> None:
    rows = [[*row[:3], min(row[3:]), max(row[3:])] for row in record()]
    reading = read_bench_record(written(tmp_path, rows, (*HEAD, low, high)))
    assert reading.ended_by is None  # which one it was, nobody logged
    assert reading.groups is not None
    assert reading.groups.below_mean(7).m == pytest.approx(0.102857, abs=1e-6)
    assert reading.lowest_cell is not None
    assert reading.lowest_cell.m == pytest.approx(2.94)
    assert any("the lowest stood at 2.94 V" in note for note in reading.notes)


def test_two_columns_of_the_lowest_are_refused(tmp_path: Path) -> None:
    rows = [[*row[:3], min(row[3:]), min(row[3:])] for row in record()]
    names = ("Lowest Cell Voltage / V", "Min Cell Voltage / V")
    with pytest.raises(DataError, match="are the same quantity"):
        read_bench_record(written(tmp_path, rows, (*HEAD, *names)))
