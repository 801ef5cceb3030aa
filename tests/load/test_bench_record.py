"""A bench record of a cell whose answer is known in closed form, and records that are refused.

The cell: open-circuit voltage 3.0 V + 1.2 V x state of charge, 10 Ah, 10 mΩ and nothing else.
Expected values are worked by hand; the working stands beside them.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence
from pathlib import Path

import attrs
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from evpack.base.errors import DataError, DescriptionError, UnitError
from evpack.base.units import amp_hours
from evpack.load.bench_record import read_bench_record
from evpack.outcome.bench import BenchReading

LABELS = ("Test Time / s", "Voltage / V", "Current / A", "Step Count / 1")
CELSIUS = "Ambient Temperature / degC"
SHIPPED = Path(__file__).parents[2] / "data" / "bench" / "ev_pouch_cell_33Ah_hppc_25C.bdf.csv"

# Seconds, amperes (charge is positive), sampling interval.
Part = tuple[float, float, float]
CHARGE: Part = (720, 5, 10)  # 1 Ah, up to full
REST: Part = (3600, 0, 60)
PULSE: Part = (18, -20, 1)  # 0.1 Ah
BACK: Part = (9, 20, 0.5)  # 0.05 Ah
QUARTERS: tuple[Part, ...] = (
    *(CHARGE, REST),
    *(PULSE, (1728, -5, 4), REST),  # 0.1 + 2.4 Ah: 75 %
    *(PULSE, BACK, (1764, -5, 4), REST),  # 0.1 - 0.05 + 2.45 Ah: 50 %
    *(PULSE, (1728, -5, 4), REST),  # 25 %
    (1800, -5, 4),  # 2.5 Ah: empty
)


def rows_of(parts: Sequence[Part], *, soc: float = 0.9) -> list[list[float]]:
    """Return time, volts, amps and step of the cell above, read at the end of each interval."""
    rows, now = [], 0.0
    for step, (seconds, amps, interval) in enumerate(parts, start=1):
        for _ in range(round(seconds / interval)):
            now += interval
            soc += amps * interval / 36000.0
            rows.append([now, 3.0 + 1.2 * soc + 0.010 * amps, amps, step])
    return rows


def written(path: Path, rows: Sequence[Sequence[object]], labels: Sequence[str] = LABELS) -> Path:
    path.write_text(
        "\n".join([",".join(labels), *(",".join(map(str, row)) for row in rows)]) + "\n",
        encoding="utf-8",
    )
    return path


def alike(one: BenchReading, other: BenchReading) -> bool:
    """Return whether two readings hold the same numbers, to rounding."""
    pairs = [
        (one.capacity.m, other.capacity.m),
        (one.energy.m, other.energy.m),
        (one.rest_soc, other.rest_soc),
        (one.rest_volts, other.rest_volts),
        (one.pulse_soc, other.pulse_soc),
        (one.pulse_ohms, other.pulse_ohms),
    ]
    assert one.curve is not None
    assert other.curve is not None
    pairs += [(one.curve.soc, other.curve.soc), (one.curve.volts, other.curve.volts)]
    return all(a == pytest.approx(b, rel=1e-9, abs=1e-12) for a, b in pairs)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("bench")


@pytest.fixture(scope="module")
def quarters(folder: Path) -> BenchReading:
    return read_bench_record(written(folder / "quarters.csv", rows_of(QUARTERS)))


# The closed form.


def test_net_capacity(quarters: BenchReading) -> None:
    # 3 x 0.1 - 0.05 + 2.4 + 2.45 + 2.4 + 2.5 = 10 Ah.
    assert quarters.capacity.m == pytest.approx(10.0, rel=1e-9)


def test_net_energy_and_mean_voltage(quarters: BenchReading) -> None:
    # The open-circuit energy depends on the net charge only: 10 Ah x (3.0 + 4.2) / 2 V = 36 Wh.
    # Lost in 10 mΩ: 20 A for 3 x 18 s + 9 s, 4 W x 63 s = 252 J; 5 A for 7020 s,
    # 0.25 W x 7020 s = 1755 J. Together 2007 J = 0.5575 Wh; left 35.4425 Wh.
    assert quarters.energy.m == pytest.approx(35.4425, rel=1e-5)
    assert quarters.mean_voltage.m == pytest.approx(3.54425, rel=1e-5)


def test_rest_voltages(quarters: BenchReading) -> None:
    assert quarters.rest_soc == pytest.approx([1, 0.75, 0.5, 0.25])
    assert quarters.rest_volts == pytest.approx([4.2, 3.9, 3.6, 3.3])


def test_resistances(quarters: BenchReading) -> None:
    # Ten seconds of I take I x 10 s / 36000 A s of the charge, which lowers the open-circuit
    # voltage by 1.2 V x that: 0.3333 mΩ x I on top of the 10 mΩ, whatever the current.
    assert quarters.pulse_soc == pytest.approx([1, 0.75, 0.5, 0.25])
    assert quarters.pulse_ohms == pytest.approx(np.full(4, 0.010 + 1.2 * 10 / 36000))
    assert quarters.resistance is not None
    assert quarters.resistance.m == pytest.approx(0.0103333, rel=1e-4)


def test_curve_below_the_lowest_rest(quarters: BenchReading) -> None:
    # 5 A x 10 mΩ lost, 5 A x 10.333 mΩ added back: 1.667 mV above this cell's straight line
    # (it has nothing that recovers after 10 s).
    assert quarters.curve is not None
    assert quarters.estimated_below == pytest.approx(0.25)
    soc, volts = quarters.curve.soc, quarters.curve.volts
    assert soc[:25] == pytest.approx(np.arange(25) / 100)
    assert volts[:25] == pytest.approx(3.0 + 1.2 * soc[:25] + 0.001667, abs=1e-6)
    assert soc[25:] == pytest.approx([0.25, 0.5, 0.75, 1])
    assert volts[25:] == pytest.approx([3.3, 3.6, 3.9, 4.2])


def test_voltages_met(quarters: BenchReading) -> None:
    assert quarters.highest.m == pytest.approx(4.25)  # full, under 5 A of charge
    assert quarters.least.m == pytest.approx(2.95)  # empty, under 5 A


def test_what_was_done_is_said(quarters: BenchReading) -> None:
    said = " ".join(quarters.notes)
    for part in (
        "Positive current charges the cell: detected, the voltage rises with it.",
        "those of the record's step column",
        "down to 2.95 V",
        "at 4.25 V and 5 A",
        "from 4 discharge pulses",
        "Below 25 %",
        "does not tell the temperature",
    ):
        assert part in said
    assert quarters.current_sign in quarters.notes


def test_a_module_of_such_cells(quarters: BenchReading) -> None:
    # Two in series of three in parallel: 30 Ah, 6 x 35.4425 Wh, 10.333 mΩ x 2 / 3.
    module = quarters.for_module(cells_in_series=2, cells_in_parallel=3)
    assert module.capacity.m == pytest.approx(30.0)
    assert module.energy.m == pytest.approx(212.655, rel=1e-5)
    assert module.resistance is not None
    assert module.resistance.m == pytest.approx(0.0068889, rel=1e-4)
    assert module.resistance_curve is not None
    assert module.resistance_curve.soc == pytest.approx([0.25, 0.5, 0.75, 1])
    assert module.resistance_curve.ohms == pytest.approx(np.full(4, 0.0068889), rel=1e-4)


@pytest.mark.parametrize("count", [0, 401, 2.0, "2", True])
def test_a_module_of_no_whole_number_of_cells_is_refused(
    quarters: BenchReading, count: object
) -> None:
    with pytest.raises(DescriptionError, match="cells_in_series"):
        quarters.for_module(cells_in_series=count)  # type: ignore[arg-type]


def test_the_arrays_cannot_be_written(quarters: BenchReading) -> None:
    with pytest.raises(ValueError, match="read-only"):
        quarters.rest_volts[0] = 5.0


# The same record in other clothes.


@pytest.mark.parametrize(
    ("labels", "scale"),
    [
        (("test_time_second", "voltage_volt", "current_ampere", "step_count"), (1, 1, 1, 1)),
        (
            ("Test Time / h", "Voltage / mV", "Current / mA", "Step Index / 1"),
            (3600, 1e-3, 1e-3, 1),
        ),
        (("Time [min]", "Cell Voltage (V)", "Current(A)", "Step"), (60, 1, 1, 1)),
        (("time_ms", "voltage_mv", "current_ma", "step_number"), (1e-3, 1e-3, 1e-3, 1)),
        (
            ("Total Time / days", "Terminal Voltage / Volts", "CURRENT / Amps", "STEP"),
            (86400, 1, 1, 1),
        ),
    ],
)
def test_units_and_names_of_columns_are_honoured(
    tmp_path: Path,
    quarters: BenchReading,
    labels: tuple[str, ...],
    scale: tuple[float, ...],
) -> None:
    rows = [[v / k for v, k in zip(row, scale, strict=True)] for row in rows_of(QUARTERS)]
    assert alike(read_bench_record(written(tmp_path / "r.csv", rows, labels)), quarters)


@settings(max_examples=10)
@given(order=st.permutations(range(6)))
def test_the_order_of_the_columns_does_not_matter(
    folder: Path, quarters: BenchReading, order: list[int]
) -> None:
    labels = [*LABELS, CELSIUS, "Remark"]
    rows = [[*row, 25.0, "all well"] for row in rows_of(QUARTERS)]
    path = written(
        folder / "order.csv", [[row[k] for k in order] for row in rows], [labels[k] for k in order]
    )
    reading = read_bench_record(path)
    assert alike(reading, quarters)
    assert reading.temperature is not None
    assert reading.temperature.m == pytest.approx(25.0)
    assert "Columns not used: Remark." in reading.notes


@settings(max_examples=10)
@given(depth=st.integers(10, 90), pulse=st.integers(2, 50), override=st.booleans())
def test_the_sign_of_the_current_column_changes_nothing_but_its_sentence(
    folder: Path, depth: int, pulse: int, *, override: bool
) -> None:
    # To some depth and on to empty: 360 A s are one per cent.
    parts = (
        *(CHARGE, REST, (18, -pulse, 1), REST, (depth * 72, -5, 8), REST),
        ((100 - depth) * 72 - 36 * pulse * 18 // 180, -5, 8),
    )
    rows = rows_of(parts)
    flipped = [[t, v, -i, step] for t, v, i, step in rows]
    signs = ("charge-positive", "discharge-positive") if override else ("detect", "detect")
    one = read_bench_record(written(folder / "one.csv", rows), current_sign=signs[0])
    other = read_bench_record(written(folder / "other.csv", flipped), current_sign=signs[1])
    assert alike(one, other)
    assert one.charge_positive
    assert not other.charge_positive
    assert one.current_sign != other.current_sign
    assert ("as the user stated" in one.current_sign) == override


@settings(max_examples=10)
@given(keep=st.integers(2, 12), seed=st.integers(0, 1000))
def test_coarser_sampling_of_a_constant_current_changes_no_capacity(
    folder: Path, quarters: BenchReading, keep: int, seed: int
) -> None:
    # Leave out readings at random, but no first two and no last of a step, and no long stretch.
    chance = random.Random(seed)  # noqa: S311 - repeatable, no secret
    rows = rows_of(QUARTERS)
    kept = []
    for k, row in enumerate(rows):
        edge = k < 2 or rows[k - 2][3] != row[3] or k + 1 == len(rows) or rows[k + 1][3] != row[3]
        if edge or k % 12 == 0 or chance.randrange(keep) == 0:
            kept.append(row)
    reading = read_bench_record(written(folder / "coarse.csv", kept))
    assert reading.capacity.m == pytest.approx(quarters.capacity.m, rel=1e-9)


def test_without_a_step_column_steps_are_told_from_the_current(
    tmp_path: Path, quarters: BenchReading
) -> None:
    rows = [row[:3] for row in rows_of(QUARTERS)]
    reading = read_bench_record(written(tmp_path / "r.csv", rows, LABELS[:3]))
    assert alike(reading, quarters)
    assert any("no step column" in note for note in reading.notes)


def test_an_offset_of_the_meter_at_rest_is_not_counted(
    tmp_path: Path, quarters: BenchReading
) -> None:
    rows = [[t, v, i or 0.05, step] for t, v, i, step in rows_of(QUARTERS)]
    reading = read_bench_record(written(tmp_path / "r.csv", rows))
    assert reading.capacity.m == pytest.approx(quarters.capacity.m, rel=1e-9)


def test_blank_lines_at_the_end_a_byte_order_mark_and_quotes_are_taken(
    tmp_path: Path, quarters: BenchReading
) -> None:
    path = written(tmp_path / "r.csv", rows_of(QUARTERS), [f'"{label}"' for label in LABELS])
    path.write_bytes(b"\xef\xbb\xbf" + path.read_bytes().replace(b"\n", b"\r\n") + b"\r\n\r\n")
    assert alike(read_bench_record(str(path)), quarters)


# Records that hold less.


def test_a_plain_discharge_with_a_rest_at_full_gives_a_curve_from_the_load(tmp_path: Path) -> None:
    rows = rows_of((CHARGE, REST, (7200, -5, 10)))
    reading = read_bench_record(written(tmp_path / "r.csv", rows))
    assert reading.capacity.m == pytest.approx(10.0)
    assert reading.estimated_below == 1
    assert reading.curve is not None
    assert reading.curve.volts[0] == pytest.approx(3.001667, abs=1e-6)


def test_rests_all_the_way_down_leave_nothing_to_estimate(tmp_path: Path) -> None:
    reading = read_bench_record(written(tmp_path / "r.csv", rows_of((*QUARTERS, REST))))
    assert reading.curve is not None
    assert reading.curve.soc == pytest.approx([0, 0.25, 0.5, 0.75, 1])
    assert reading.curve.volts == pytest.approx([3.0, 3.3, 3.6, 3.9, 4.2])
    assert reading.estimated_below is None
    assert not any("estimated" in note for note in reading.notes)


def test_without_a_pulse_nothing_is_added_back(tmp_path: Path) -> None:
    rows = rows_of((CHARGE, REST, (7200, -5, 60)))
    reading = read_bench_record(written(tmp_path / "r.csv", rows))
    assert reading.resistance is None
    assert reading.for_module(cells_in_series=2).resistance is None
    assert reading.for_module(cells_in_series=2).resistance_curve is None
    assert reading.curve is not None
    assert reading.curve.volts[0] == pytest.approx(2.95)
    assert any("closely enough" in note for note in reading.notes)
    assert any("with nothing added back" in note for note in reading.notes)


def test_a_pulse_at_full_only_is_better_than_none(tmp_path: Path) -> None:
    rows = rows_of((CHARGE, REST, (7200, -5, 10)))
    reading = read_bench_record(written(tmp_path / "r.csv", rows))
    assert reading.pulse_soc.tolist() == [1]
    assert reading.resistance is not None
    assert reading.resistance.m == pytest.approx(0.0103333, rel=1e-4)


def test_without_a_rest_at_full_there_is_no_curve(tmp_path: Path) -> None:
    rows = rows_of((CHARGE, (7200, -5, 10), REST))
    reading = read_bench_record(written(tmp_path / "r.csv", rows))
    assert reading.curve is None
    assert reading.estimated_below is None
    assert any("no rest of 60 min at full" in note for note in reading.notes)


def test_a_shorter_rest_can_be_allowed(tmp_path: Path) -> None:
    path = written(tmp_path / "r.csv", rows_of((CHARGE, (1800, 0, 60), (7200, -5, 10))))
    assert read_bench_record(path).curve is None
    assert read_bench_record(path, least_rest="30 min").curve is not None
    with pytest.raises(UnitError):
        read_bench_record(path, least_rest=1800)


def test_without_a_charge_full_is_taken_on_trust(tmp_path: Path) -> None:
    reading = read_bench_record(written(tmp_path / "r.csv", rows_of((REST, (7200, -5, 10)), soc=1)))
    assert any("taken on trust" in note for note in reading.notes)
    assert reading.capacity.m == pytest.approx(10.0)


def test_a_rest_that_lies_below_the_end_of_the_load_gives_no_curve(tmp_path: Path) -> None:
    # Impossible of a sound cell: a voltage at rest and full below the one it ends with.
    rows = [
        [t, 2.0 if i == 0 else v, i, step]
        for t, v, i, step in rows_of((CHARGE, REST, (7200, -5, 60)))
    ]
    reading = read_bench_record(written(tmp_path / "r.csv", rows), current_sign="charge-positive")
    assert reading.curve is None
    assert any("no rising one down to empty" in note for note in reading.notes)


def test_a_moving_temperature_is_said(tmp_path: Path) -> None:
    rows = [[*row, 293.15 + 10 * (k % 2)] for k, row in enumerate(rows_of(QUARTERS))]
    path = written(tmp_path / "r.csv", rows, (*LABELS, "Temperature / K"))
    reading = read_bench_record(path)
    assert reading.temperature is not None
    assert reading.temperature.m == pytest.approx(25.0, abs=0.1)
    assert any("moved from 20 °C to 30 °C" in note for note in reading.notes)


# Records that are refused.


def spoilt(row: int, column: int, value: object) -> Callable[[list[list[object]]], None]:
    def spoil(rows: list[list[object]]) -> None:
        rows[row][column] = value

    return spoil


@pytest.mark.parametrize(
    ("spoil", "line", "says"),
    [
        (spoilt(3, 1, "four"), 5, "'Voltage / V' is 'four'; a finite number is needed"),
        (spoilt(3, 1, "nan"), 5, "'Voltage / V' is 'nan'"),
        (spoilt(3, 2, "-inf"), 5, "'Current / A' is '-inf'"),
        (spoilt(0, 0, ""), 2, "'Test Time / s' is empty"),
        (spoilt(3, 1, "1_0"), 5, "'Voltage / V' is '1_0'"),
        (spoilt(3, 1, "1,5"), 5, "holds 5 fields; 4 are needed"),
        (spoilt(3, 1, "3 V"), 5, "'Voltage / V' is '3 V'"),
        (spoilt(3, 1, "-0.1"), 5, "a believable number is needed, from 0 to 2000"),
        (spoilt(3, 2, "1e308"), 5, "a believable number is needed"),
        (spoilt(3, 3, "one"), 5, "'Step Count / 1' is 'one'"),
        (spoilt(3, 0, "29"), 5, "time runs backwards, from 30 to 29"),
        (lambda rows: rows[9].pop(), 11, "holds 3 fields; 4 are needed"),
        (lambda rows: rows.insert(7, []), 9, "holds 0 fields"),
        (lambda rows: rows[9].append("x"), 11, "holds 5 fields"),
    ],
)
def test_a_bad_row_is_named_by_its_line(
    tmp_path: Path, spoil: Callable[[list[list[object]]], None], line: int, says: str
) -> None:
    rows: list[list[object]] = [list(row) for row in rows_of(QUARTERS)]
    spoil(rows)
    with pytest.raises(DataError) as refusal:
        read_bench_record(written(tmp_path / "bad.csv", rows))
    assert refusal.value.file == "bad.csv"
    assert refusal.value.key == f"line {line}"
    assert says in refusal.value.problem


def test_a_line_is_counted_right_after_a_field_of_two_lines(tmp_path: Path) -> None:
    rows: list[list[object]] = [[*row, "fine"] for row in rows_of(QUARTERS)]
    rows[1][4] = '"one\ntwo"'  # lines 3 and 4
    rows[2][1] = "bad"
    with pytest.raises(DataError, match="line 5: 'Voltage / V' is 'bad'"):
        read_bench_record(written(tmp_path / "bad.csv", rows, (*LABELS, "Remark")))


@pytest.mark.parametrize(
    ("labels", "says"),
    [
        (
            ("Test Time / s", "Voltag / V", "Current / A"),
            "'Voltage / V' is missing (did you mean 'Voltag / V'?)",
        ),
        (
            ("Step Time / s", "Voltage / V", "Current / A"),
            "'Test Time / s' is missing (did you mean",
        ),
        (
            ("Test Time / s", "Voltage", "Current / A"),
            "'Voltage' has no unit; write it as 'Voltage / V'",
        ),
        (("Test Time / s", "Voltage / W", "Current / A"), "unit 'W' is not known"),
        (
            ("Test Time / s", "Voltage / V", "Current / MA"),
            "unit 'MA' is not known; write A, amp, amps, ampere, amperes, mA",
        ),
        (("Test Time / s", "Voltage / V", "Current / A", "Current / mA"), "are the same quantity"),
        (
            ("Test Time / s", "Voltage / V", "Current / A", "Step Cuont / 1"),
            "(did you mean 'Step Count / 1'?)",
        ),
        (("Test Time / s;Voltage / V;Current / A",), "semicolons or tabs"),
        (("",), "'Test Time / s' is missing"),
    ],
)
def test_bad_labels_are_refused(tmp_path: Path, labels: tuple[str, ...], says: str) -> None:
    rows = [[1.0] * len(labels)] * 3
    with pytest.raises(DataError) as refusal:
        read_bench_record(written(tmp_path / "bad.csv", rows, labels))
    assert says in str(refusal.value)


def test_other_columns_of_similar_names_are_left_alone(tmp_path: Path) -> None:
    labels = (*LABELS[:3], "Step Time / s", "Ambient Pressure / Pa")
    rows = [[*row[:3], 1.0, 101325.0] for row in rows_of(QUARTERS)]
    reading = read_bench_record(written(tmp_path / "r.csv", rows, labels))
    assert "Columns not used: Step Time / s, Ambient Pressure / Pa." in reading.notes


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"", "is empty"),
        (b" \n\n", "is empty"),
        (b"\xef\xbb\xbf", "is empty"),
        (b"\x89PNG\r\n\x1a\n\x00\x00", "is not UTF-8 text"),
        (b"Test Time / s\x00", "is not UTF-8 text"),
        ("Temperature / °C".encode("cp1252"), "is not UTF-8 text"),
        (b"Test Time / s,Voltage / V,Current / A\n", "holds 0 rows of numbers"),
        (b"Test Time / s,Voltage / V,Current / A\n1,3.6,0\n", "holds 1 rows of numbers"),
        (b'Test Time / s,"' + b"x" * 140_000, "is no CSV"),
    ],
)
def test_what_is_no_table_is_refused(tmp_path: Path, content: bytes, says: str) -> None:
    path = tmp_path / "bad.csv"
    path.write_bytes(content)
    with pytest.raises(DataError) as refusal:
        read_bench_record(path)
    assert says in refusal.value.problem


@pytest.fixture
def pieces(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let a record be read three rows at a time."""
    monkeypatch.setattr("evpack.load.bench_columns._PIECE", 3)


@pytest.mark.usefixtures("pieces")
def test_a_record_read_in_pieces_is_the_same_record(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = written(tmp_path / "r.csv", rows_of(QUARTERS))
    in_pieces = read_bench_record(path)
    monkeypatch.setattr("evpack.load.bench_columns._PIECE", 10**9)
    whole = read_bench_record(path)
    assert in_pieces.notes == whole.notes
    assert in_pieces.capacity.m == whole.capacity.m
    assert np.array_equal(in_pieces.curve.volts, whole.curve.volts)


GOOD_ROWS = "".join(f"{k},3.7,-1\n" for k in range(10))


@pytest.mark.usefixtures("pieces")
@pytest.mark.parametrize(
    ("rows", "says"),
    [
        (GOOD_ROWS + "10,x,1\n", "line 12: 'Voltage / V' is 'x'"),
        (GOOD_ROWS + "8.5,3.7,1\n", "line 12: time runs backwards, from 9 to 8.5"),
        (GOOD_ROWS + "10,3.7\n", "line 12: holds 2 fields"),
        # Two rows more, so that a piece begins with the row that is bad.
        (GOOD_ROWS + "10,3.7,1\n11,3.7,1\n3,3.7,1\n", "line 14: time runs backwards, from 11 to 3"),
        # Blank lines may stand at the end, over many pieces, and nowhere else.
        (GOOD_ROWS + "\n" * 7 + "10,3.7,1\n", "line 12: holds 0 fields"),
        (GOOD_ROWS + "\n10,3.7,1\n", "line 12: holds 0 fields"),
        # A quoted field that spans lines: the line where its row begins.
        (GOOD_ROWS + '"10\n",3.7,1\n11,3.7,x\n', "line 14: 'Current / A' is 'x'"),
        (GOOD_ROWS + '10,3.7,"' + "x" * 140_000, "line 12: is no CSV"),
    ],
)
def test_the_first_bad_line_is_named_whatever_piece_it_is_in(
    tmp_path: Path, rows: str, says: str
) -> None:
    path = tmp_path / "r.csv"
    path.write_text(f"Test Time / s,Voltage / V,Current / A\n{rows}", encoding="utf-8")
    with pytest.raises(DataError) as refusal:
        read_bench_record(path)
    assert says in str(refusal.value)


@pytest.mark.usefixtures("pieces")
def test_blank_lines_at_the_end_are_no_rows(tmp_path: Path) -> None:
    path = written(tmp_path / "r.csv", rows_of(QUARTERS))
    path.write_text(path.read_text(encoding="utf-8") + "\n" * 8, encoding="utf-8")
    assert read_bench_record(path).capacity.m == pytest.approx(10.0, rel=1e-3)


def test_what_cannot_be_opened_is_refused(tmp_path: Path) -> None:
    with pytest.raises(DataError, match="cannot be read"):
        read_bench_record(tmp_path / "none.csv")
    with pytest.raises(DataError, match="is a folder"):
        read_bench_record(tmp_path)


def test_a_huge_file_is_refused_unread(tmp_path: Path) -> None:
    path = tmp_path / "huge.csv"
    with path.open("wb") as file:
        file.truncate(200_000_001)  # a hole: takes no room
    with pytest.raises(DataError, match="at most 200 MB"):
        read_bench_record(path)


@pytest.mark.parametrize(
    ("parts", "says"),
    [
        ((CHARGE, REST), "holds no discharge"),
        ((REST,), "holds no current at all"),
    ],
)
def test_a_record_without_a_discharge_is_refused(
    tmp_path: Path, parts: tuple[Part, ...], says: str
) -> None:
    with pytest.raises(DataError, match=says):
        read_bench_record(written(tmp_path / "bad.csv", rows_of(parts, soc=0.5)))


def test_a_sign_that_cannot_be_told_must_be_said(tmp_path: Path) -> None:
    rows = [[t, 3.6, i, step] for t, _, i, step in rows_of(QUARTERS)]
    path = written(tmp_path / "bad.csv", rows)
    with pytest.raises(DataError, match="does not tell which sign"):
        read_bench_record(path)
    assert read_bench_record(path, current_sign="charge-positive").capacity.m == pytest.approx(10)


def test_a_sign_that_the_voltage_contradicts_is_refused(tmp_path: Path) -> None:
    path = written(tmp_path / "bad.csv", rows_of(QUARTERS))
    with pytest.raises(DataError, match="said to discharge, but the voltage moves the other way"):
        read_bench_record(path, current_sign="discharge-positive")


def test_an_unknown_sign_is_refused_with_the_nearest(tmp_path: Path) -> None:
    with pytest.raises(DataError, match="did you mean 'charge-positive'"):
        read_bench_record(tmp_path / "x.csv", current_sign="charge-postive")  # type: ignore[arg-type]


def test_a_hole_in_the_record_is_refused(tmp_path: Path) -> None:
    rows = rows_of(QUARTERS)
    end = len(rows) - 100
    with pytest.raises(DataError, match=r"no reading for 13\.4 min while current flowed"):
        # By hand: 200 readings of 4 s left out, 804 s from the one before to the one after.
        read_bench_record(written(tmp_path / "bad.csv", rows[: end - 200] + rows[end:]))


# The nouns.


def test_a_reading_of_nothing_is_refused(quarters: BenchReading) -> None:
    with pytest.raises(DescriptionError, match="above 0"):
        attrs.evolve(quarters, capacity=amp_hours("0 Ah"))
    with pytest.raises(DescriptionError, match="rest points need two columns"):
        attrs.evolve(quarters, rest_soc=[1.0])
