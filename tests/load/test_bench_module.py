"""What a bench record of a whole module tells besides; expected values worked by hand.

The module: two cell groups of 10 and 9.6 Ah, open-circuit voltage 3.0 V + 1.2 V x state of charge,
5 mΩ each, both full at the same time. Of what is charged one part in a hundred is lost.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import pytest

from evpack.base.errors import DataError, DescriptionError, UnitError
from evpack.base.units import amp_hours
from evpack.load.bench_record import read_bench_record
from evpack.outcome.bench import BenchReading

AMP_HOURS = (10.0, 9.6)
LABELS = (
    *("Test Time / s", "Voltage / V", "Current / A", "Step Count / 1"),
    *("Ambient Temperature / degC", "Surface Temperature / degC"),
    *("Cell 1 Voltage / V", "Cell 2 Voltage / V"),
)
# Seconds, amperes (charge is positive), sampling interval [s].
Part = tuple[float, float, float]
CHARGE: Part = (727.2, 5, 7.2)  # 1.01 Ah in, 1 Ah kept
REST: Part = (3600, 0, 60)
DRAIN: Part = (6912, -5, 4)  # 9.6 Ah out
BACK: Part = (6981.12, 5, 6.9120)  # 9.696 Ah in, 9.6 Ah kept
CYCLE = (CHARGE, REST, DRAIN, REST, BACK)


def rows_of(parts: Sequence[Part], below_full: float = 1.0) -> list[list[float]]:
    """Return the rows of the module above; it begins so many Ah below full."""
    rows, now, gone = [], 0.0, below_full
    for step, (seconds, amps, interval) in enumerate(parts, start=1):
        for k in range(1, round(seconds / interval) + 1):
            now += interval
            gone -= amps * interval / 3600.0 / (1.01 if amps > 0 else 1.0)
            cells = [3.0 + 1.2 * (1 - gone / held) + 0.005 * amps for held in AMP_HOURS]
            # Warmer by 1 K in each thousand seconds of discharge, and 0.5 K more in the rest.
            warm = {3: now_in(k, interval), 4: 7.412}.get(step, 0.0)
            rows.append([now, sum(cells), amps, step, 25.0, 25.0 + warm, *cells])
    return rows


def now_in(k: int, interval: float) -> float:
    return k * interval / 1000.0


def written(path: Path, rows: Sequence[Sequence[object]], labels: Sequence[str] = LABELS) -> Path:
    lines = [",".join(labels), *(",".join(map(str, row)) for row in rows)]
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def cycle(tmp_path_factory: pytest.TempPathFactory) -> BenchReading:
    path = written(tmp_path_factory.mktemp("m") / "m.csv", rows_of(CYCLE))
    return read_bench_record(path, voltage_accuracy="2 mV", current_accuracy="1 %")


def test_the_weakest_cell_group_ends_the_discharge(cycle: BenchReading) -> None:
    # Group 1 has 0.4 of 10 Ah left: 3.048 V; group 2 none: 3.0 V; both less 25 mV.
    assert cycle.end_cells == pytest.approx([3.023, 2.975])
    assert cycle.ended_by == 2
    assert cycle.spread_end is not None
    assert cycle.spread_end.m == pytest.approx(0.048)
    assert cycle.lowest_cell is not None
    assert cycle.lowest_cell.m == pytest.approx(2.975)


def test_the_rest_at_full(cycle: BenchReading) -> None:
    assert cycle.full_cells == pytest.approx([4.2, 4.2])
    assert cycle.spread_full is not None
    assert cycle.spread_full.m == pytest.approx(0.0, abs=1e-9)
    assert cycle.full_voltage is not None
    assert cycle.full_voltage.m == pytest.approx(8.4)
    assert cycle.full_rested is not None
    assert cycle.full_rested.m == pytest.approx(3600)


def test_the_warmth_after_the_discharge_counts(cycle: BenchReading) -> None:
    assert cycle.rise is not None
    assert cycle.rise.m == pytest.approx(7.412)  # 6.912 K at its end, and 0.5 K more
    assert cycle.temperature is not None
    assert cycle.temperature.m == pytest.approx(25.0)


def test_the_charge_efficiency_of_a_whole_cycle(cycle: BenchReading) -> None:
    assert cycle.charge_efficiency is not None
    assert cycle.charge_efficiency.m == pytest.approx(1 / 1.01, rel=1e-3)
    assert cycle.current is not None
    assert cycle.current.m == pytest.approx(5.0)


def test_the_charge_efficiency_of_a_discharge_before(tmp_path: Path) -> None:
    rows = rows_of(((600, -5, 6), REST, BACK, REST, DRAIN), below_full=9.6 - 600 * 5 / 3600)
    reading = read_bench_record(written(tmp_path / "m.csv", rows))
    assert reading.charge_efficiency is not None
    assert reading.charge_efficiency.m == pytest.approx(1 / 1.01, rel=1e-3)
    assert any("discharge after it" in note for note in reading.notes)


@pytest.mark.parametrize(
    "parts",
    [
        (CHARGE, REST, DRAIN),  # no charge comes after it
        (REST, DRAIN, BACK),  # none before it: that it was full is not known
        (CHARGE, REST, DRAIN, REST, (3456, 5, 6.912)),  # not back to full
        (CHARGE, REST, DRAIN, REST, (3490.56, 10, 6.912)),  # another end of charge
    ],
)
def test_half_a_cycle_tells_no_efficiency(tmp_path: Path, parts: tuple[Part, ...]) -> None:
    rows = rows_of(parts)
    reading = read_bench_record(written(tmp_path / "m.csv", rows), current_sign="charge-positive")
    assert reading.charge_efficiency is None
    assert any("no whole cycle" in note for note in reading.notes)


def test_errors_of_capacity_and_resistance(cycle: BenchReading) -> None:
    # 1 % of 9.6 Ah; where the load began 5 A x 4 s, and where it ended 5 A x 60 s: 320 As, and
    # 1 % of the 300 As that may have passed there.
    assert cycle.capacity_error is not None
    assert cycle.capacity_error.m == pytest.approx(0.096 + 320 / 3600 + 3 / 3600, rel=1e-6)
    # The readings around the instant come at 8, 12 and 16 s; in those 8 s the voltage moves by
    # 1.2 V x 5 A x 8 s / 3600 x (1/10 + 1/9.6) per Ah = 2.722 mV. At 12 s 10 mΩ and the slope of
    # 12 s together are read.
    assert cycle.resistance is not None
    assert cycle.resistance_error is not None
    read = 0.010 + 1.2 * 12 / 3600 * (1 / 10 + 1 / 9.6)
    drift = 1.2 * 5 * 8 / 3600 * (1 / 10 + 1 / 9.6)
    expected = (2 * 0.002 + drift / 2) / 5 + 0.01 * read
    assert cycle.resistance_error.m == pytest.approx(expected, rel=1e-6)
    assert cycle.resistance_soc is not None
    assert cycle.resistance_soc.m == pytest.approx(1.0)  # the only pulse is at full


def test_without_the_accuracy_of_the_meter_errors_are_unknown(tmp_path: Path) -> None:
    path = written(tmp_path / "m.csv", rows_of(CYCLE))
    reading = read_bench_record(path)
    assert reading.capacity_error is None
    assert reading.resistance_error is None
    assert any("the accuracy of the meter was not stated" in note for note in reading.notes)
    half = read_bench_record(path, current_accuracy="1 %")
    assert half.capacity_error is not None
    assert half.resistance_error is None
    with pytest.raises(UnitError):
        read_bench_record(path, voltage_accuracy=0.002)


def test_a_record_without_such_columns_tells_none(tmp_path: Path) -> None:
    rows = [row[:5] for row in rows_of((CHARGE, DRAIN))]
    reading = read_bench_record(written(tmp_path / "m.csv", rows, LABELS[:5]))
    assert reading.ended_by is None
    assert reading.spread_full is None
    assert reading.spread_end is None
    assert reading.lowest_cell is None
    assert reading.full_voltage is None
    assert reading.rise is None


def test_cells_that_do_not_add_up_are_said(tmp_path: Path) -> None:
    rows = rows_of(CYCLE)
    rows[200][1] += 0.2
    reading = read_bench_record(written(tmp_path / "m.csv", rows), current_sign="charge-positive")
    assert any("do not add up to the voltage" in note for note in reading.notes)


@pytest.mark.parametrize(
    "names",
    [
        ("cell_1_voltage_mv", "cell_2_voltage_mv"),
        ("Cell Voltage 1 [mV]", "Cell Voltage 2 [mV]"),
        ("Cell Group 1 / mV", "CELL 2 (mV)"),
    ],
)
def test_other_names_of_cell_groups(
    tmp_path: Path, cycle: BenchReading, names: tuple[str, str]
) -> None:
    rows = [[*row[:6], 1000 * row[6], 1000 * row[7]] for row in rows_of(CYCLE)]
    reading = read_bench_record(written(tmp_path / "m.csv", rows, (*LABELS[:6], *names)))
    assert reading.end_cells == pytest.approx(cycle.end_cells)


def test_the_warmest_of_several_sensors_counts(tmp_path: Path) -> None:
    rows = [[*row[:6], row[5] + 0.001 * row[3], *row[6:]] for row in rows_of(CYCLE)]
    labels = (*LABELS[:5], "Surface Temperature 1 / degC", "Surface Temperature 2 / degC")
    reading = read_bench_record(written(tmp_path / "m.csv", rows, (*labels, *LABELS[6:])))
    assert reading.rise is not None
    assert reading.rise.m == pytest.approx(7.412 + 0.003)  # by step 4 from step 1
    alone = [[*row[:4], *row[5:]] for row in rows_of(CYCLE)]
    path = written(tmp_path / "s.csv", alone, (*LABELS[:4], *LABELS[5:]))
    assert read_bench_record(path).temperature is not None


@pytest.mark.parametrize(
    ("names", "says"),
    [
        (("Cell 1 Voltage / V", "Cell 3 Voltage / V"), "'Cell 2 Voltage / V' is missing"),
        (("Cell 1 Voltage / V", "Cell 1 / V"), "are the same quantity"),
        (("Cell 1 Voltage", "Cell 2 Voltage"), "has no unit; write it as 'Cell 1 Voltage / V'"),
        (("Cell 1 Voltage / A", "Cell 2 Voltage / V"), "unit 'A' is not known"),
    ],
)
def test_bad_columns_of_cell_groups_are_refused(
    tmp_path: Path, names: tuple[str, str], says: str
) -> None:
    path = written(tmp_path / "bad.csv", rows_of(CYCLE), (*LABELS[:6], *names))
    with pytest.raises(DataError) as refusal:
        read_bench_record(path)
    assert says in str(refusal.value)


def test_an_unbelievable_cell_group_is_named_by_its_line(tmp_path: Path) -> None:
    rows = rows_of(CYCLE)
    rows[5][7] = 41.2
    with pytest.raises(DataError, match=r"line 7: 'Cell 2 Voltage / V' is '41.2'; a believable"):
        read_bench_record(written(tmp_path / "bad.csv", rows))


def test_errors_of_another_length_than_the_pulses_are_refused(cycle: BenchReading) -> None:
    import attrs  # noqa: PLC0415

    with pytest.raises(DescriptionError, match="pulse points"):
        attrs.evolve(cycle, pulse_errors=[0.1, 0.1, 0.1])
    assert attrs.evolve(cycle, capacity=amp_hours("1 Ah")).ended_by == 2
