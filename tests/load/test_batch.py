"""A batch sheet and its hand-kept log: read back as written, or refused with line and column."""

from __future__ import annotations

import csv
import datetime as dt
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import evpack
from evpack.base.basis import Basis
from evpack.base.errors import DataError, DescriptionError
from evpack.describe import batch as nouns
from evpack.describe.batch import FAULTS, Batch
from evpack.load.batch import example_batch, parse_batch, read_batch
from evpack.load.fields import SeveralDataError
from evpack.load.grading import grading

SHEET = """
title = "Heap"
chemistry = "nmc"
cells_in_series = 2
[log]
file = "heap.csv"
"""
HEADINGS = (
    *("module", "date", "rested [h]", "temperature [degC]", "voltage [V]"),
    *("cell 1 [V]", "cell 2 [V]", "full", "capacity [Ah]", "capacity error [Ah]"),
    *("energy [Wh]", "current [A]", "efficiency [%]", "resistance [mOhm]"),
    *("resistance error [mOhm]", "method", "soc [%]", "warmest rise [K]", "lowest cell [V]"),
    *("ended by cell", "seen", "note", "record"),
)


def laid(folder: Path, log: str, sheet: str = SHEET) -> Path:
    (folder / "heap.csv").write_text(log, encoding="utf-8")
    path = folder / "heap.toml"
    path.write_text(sheet, encoding="utf-8")
    return path


def read(folder: Path, log: str, sheet: str = SHEET) -> Batch:
    return read_batch(laid(folder, log, sheet))


def only(folder: Path, log: str, sheet: str = SHEET) -> nouns.TestedModule:
    (module,) = read(folder, log, sheet).modules
    return module


def refused(folder: Path, log: str, sheet: str = SHEET) -> DataError:
    with pytest.raises(DataError) as refusal:
        read(folder, log, sheet)
    return refusal.value


# The log, read as it was written.


def test_one_row_of_everything(tmp_path: Path) -> None:
    row = (
        "A1,2024-05-31,20,18,7.40,3.71,3.69,no,50.5,0.3,180,16,99.2,4.2,0.1,10 s pulse,50,2.5,"
        "3.1,2,none,all well,"
    )
    module = only(tmp_path, f"{','.join(HEADINGS)}\n{row}\n")
    (rest,) = module.rests
    assert rest.date == dt.date(2024, 5, 31)
    assert rest.rested is not None
    assert rest.rested.m == 72000  # 20 h
    assert rest.cells == (3.71, 3.69)
    assert rest.full is False
    assert (module.capacity.m, module.energy.m) == (50.5, 180)  # type: ignore[union-attr]
    assert module.capacity_error is not None
    assert module.capacity_error.m == 0.3
    assert module.capacity_current is not None
    assert module.capacity_current.m == 16
    assert module.capacity_temperature is not None
    assert module.capacity_temperature.m == 18
    assert module.resistance is not None
    assert module.resistance.m == pytest.approx(0.0042)
    assert module.resistance_error is not None
    assert module.resistance_error.m == pytest.approx(0.0001)
    assert module.resistance_method == "10 s pulse"
    assert module.resistance_soc is not None
    assert module.resistance_soc.m == 0.5
    assert module.resistance_temperature is not None
    assert module.charge_efficiency is not None
    assert module.charge_efficiency.m == pytest.approx(0.992)
    assert module.rise is not None
    assert module.rise.m == 2.5
    assert module.lowest_ever is not None
    assert module.lowest_ever.m == 3.1
    assert module.ended_by == 2
    assert module.seen == ()
    assert module.note == "all well"


def test_what_nobody_read_stays_unknown(tmp_path: Path) -> None:
    module = only(tmp_path, f"{','.join(HEADINGS)}\nA1{',' * (len(HEADINGS) - 1)}\n")
    for name in ("capacity", "energy", "resistance", "rise", "lowest_ever", "ended_by", "seen"):
        assert getattr(module, name) is None
    assert module.resistance_method == "not stated"
    assert module.rests == ()


def test_units_names_and_order_of_columns_are_free(tmp_path: Path) -> None:
    module = only(
        tmp_path,
        "\ufeffDCIR [Ohm],Capacity [mAh],Module,Voltage [mV],DAY,Rest time [min],Temp [degF],,\n"
        "0.0042,50500,A1,7400,2024-05-31,1200,68,,\n\n,,,,,,,,\n",
    )
    (rest,) = module.rests
    assert rest.voltage is not None
    assert rest.voltage.m == pytest.approx(7.4)
    assert rest.rested is not None
    assert rest.rested.m == 72000
    assert rest.temperature is not None
    assert rest.temperature.m == pytest.approx(20.0)
    assert module.capacity is not None
    assert module.capacity.m == pytest.approx(50.5)
    assert module.resistance is not None
    assert module.resistance.m == pytest.approx(0.0042)


amounts = st.decimals(min_value="0.1", max_value="99.9", places=1)
cells = st.decimals(min_value="-0.9", max_value="4.2", places=3)
days = st.dates(dt.date(2020, 1, 1), dt.date(2030, 12, 31))


@settings(max_examples=40)
@given(
    modules=st.lists(
        st.fixed_dictionaries(
            {
                "date": days,
                "capacity [Ah]": amounts,
                "resistance [mOhm]": amounts,
                "warmest rise [K]": amounts,
                "cells": st.tuples(cells, cells),
                "full": st.booleans(),
                "seen": st.lists(st.sampled_from(FAULTS), unique=True),
                "note": st.text("abc ,;'é", max_size=20),
            }
        ),
        min_size=1,
        max_size=6,
    ),
    order=st.randoms(use_true_random=False),
)
def test_a_written_log_read_back_gives_the_same_numbers(
    tmp_path_factory: pytest.TempPathFactory, modules: list[dict], order: object
) -> None:
    folder = tmp_path_factory.mktemp("log")
    names = [name for name in HEADINGS if name != "voltage [V]"]
    order.shuffle(names)  # type: ignore[attr-defined]
    with (folder / "heap.csv").open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(names)
        for number, told in enumerate(modules):
            row = {
                **{name: str(told[name]) for name in told if "[" in name},
                "module": f"M{number}",
                "date": told["date"].isoformat(),
                "cell 1 [V]": str(told["cells"][0]),
                "cell 2 [V]": str(told["cells"][1]),
                "full": "yes" if told["full"] else "no",
                "seen": "; ".join(told["seen"]) or "none",
                "note": told["note"],
            }
            writer.writerow([row.get(name, "") for name in names])
    (folder / "heap.toml").write_text(SHEET, encoding="utf-8")
    batch = read_batch(folder / "heap.toml")
    assert [module.name for module in batch.modules] == [f"M{k}" for k in range(len(modules))]
    for module, told in zip(batch.modules, modules, strict=True):
        assert module.capacity is not None
        assert module.capacity.m == float(told["capacity [Ah]"])
        assert module.resistance is not None
        assert module.resistance.m == pytest.approx(float(told["resistance [mOhm]"]) / 1000)
        assert module.rise is not None
        assert module.rise.m == float(told["warmest rise [K]"])
        (rest,) = module.rests
        assert rest.cells == tuple(float(volts) for volts in told["cells"])
        assert (rest.date, rest.full) == (told["date"], told["full"])
        assert module.seen == tuple(told["seen"])
        assert module.lowest_ever is not None
        assert module.lowest_ever.m == max(0.0, float(min(told["cells"])))
        assert " ".join(told["note"].split()) in module.note


# Several rows of one module.


def test_a_later_row_goes_over_an_earlier_one_by_date_and_says_so(tmp_path: Path) -> None:
    module = only(
        tmp_path,
        "module,date,capacity [Ah],capacity error [Ah],current [A],ended by cell,energy [Wh]\n"
        "A1,2024-06-02,51,,,2,\nA1,2024-05-31,50,0.3,16,1,180\n",
    )
    assert module.capacity is not None
    assert module.capacity.m == 51
    assert module.ended_by == 2
    # These were of the first reading and say nothing of the second.
    assert module.capacity_error is None
    assert module.capacity_current is None
    assert module.energy is None
    assert module.note == (
        "read again on 2024-06-02: capacity (on 2024-05-31 it was 50 Ah), "
        "ended by (on 2024-05-31 it was cell 1)"
    )


def test_a_new_resistance_does_not_keep_the_old_method(tmp_path: Path) -> None:
    module = only(
        tmp_path,
        "module,date,resistance [mOhm],method,soc [%],temperature [degC]\n"
        "A1,2024-05-31,4,10 S Pulse,50,20\nA1,2024-06-01,3,,,\n",
    )
    assert module.resistance_method == "not stated"
    assert module.resistance_soc is None
    assert module.resistance_temperature is None
    module = only(
        tmp_path,
        "module,date,resistance [mOhm],method\n"
        "A1,2024-05-31,4,1 kHz meter\nA1,2024-06-01,4,two-step\n",
    )
    assert module.resistance_method == "two-step"
    assert module.note == ""  # the resistance itself is as it was


def test_rests_add_up_in_order_and_blank_cells_take_nothing_away(tmp_path: Path) -> None:
    module = only(
        tmp_path,
        "module,date,voltage [V],capacity [Ah]\n"
        "A1,2024-06-07,7.39,\nA1,2024-05-31,7.40,50\nA1,,,50\n",
    )
    assert [rest.date.day for rest in module.rests] == [31, 7]
    assert module.capacity is not None
    assert module.capacity.m == 50


def test_without_dates_two_values_are_refused(tmp_path: Path) -> None:
    found = refused(tmp_path, "module,date,capacity [Ah]\nA1,,50\nA1,2024-05-31,51\n")
    assert found.key == "line 3"
    assert "capacity was also read on line 2, which has no date" in found.problem


def test_a_fault_once_seen_and_a_voltage_once_found_stay(tmp_path: Path) -> None:
    module = only(
        tmp_path,
        "module,date,seen,lowest cell [V],cell 1 [V],cell 2 [V]\n"
        "A1,2024-05-31,Dent; swelling,1.4,,\nA1,2024-06-02,none,3.5,3.7,3.7\n",
    )
    assert module.seen == ("dent", "swelling")
    assert module.lowest_ever is not None
    assert module.lowest_ever.m == 1.4


def test_the_lowest_cell_group_is_that_of_every_reading(tmp_path: Path) -> None:
    module = only(
        tmp_path,
        "module,date,cell 1 [V],cell 2 [V]\nA1,2024-05-31,3.7,2.9\nA1,2024-06-01,3.7,3.6\n",
    )
    assert module.lowest_ever is not None
    assert module.lowest_ever.m == 2.9


def test_a_module_voltage_condemns_and_never_clears(tmp_path: Path) -> None:
    # Two cell groups at 3.6 V together: the lowest is at 1.8 V or lower, below the floor of 2 V.
    low, fair = read(
        tmp_path, "module,date,voltage [V]\nA1,2024-05-31,3.6\nA2,2024-05-31,7.4\n"
    ).modules
    assert low.lowest_ever is not None
    assert low.lowest_ever.m == 1.8
    assert fair.lowest_ever is None


def test_a_reversed_cell_group_is_kept_and_told(tmp_path: Path) -> None:
    module = only(tmp_path, "module,date,cell 1 [V],cell 2 [V]\nA1,2024-05-31,3.7,-0.4\n")
    assert module.rests[0].cells == (3.7, -0.4)
    assert module.lowest_ever is not None
    assert module.lowest_ever.m == 0
    assert "cell group 2 was reversed on 2024-05-31" in module.note


@pytest.mark.parametrize(
    ("voltage", "meter", "told"),
    [
        ("7.32", "", True),  # 80 mV off, 1 % is 73 mV
        ("7.33", "", False),  # 70 mV off, 1 % is 73 mV
        ("7.32", '[meter]\nvoltage = "0.1 V"\n', False),
    ],
)
def test_cell_groups_that_do_not_add_up_are_kept_and_told(
    tmp_path: Path, voltage: str, meter: str, *, told: bool
) -> None:
    log = f"module,date,voltage [V],cell 1 [V],cell 2 [V]\nA1,2024-05-31,{voltage},3.7,3.7\n"
    module = only(tmp_path, log, SHEET + meter)
    assert module.rests[0].cells == (3.7, 3.7)
    assert ("add up to 7.4 V" in module.note) is told


# The log, refused.


@pytest.mark.parametrize(
    ("heading", "says"),
    [
        ("voltag [V]", "column 'voltag [V]' is not known (did you mean 'voltage'?)"),
        ("voltage", "has no unit; write it as 'voltage [V]'"),
        ("voltage []", "has no unit; write it as 'voltage [V]'"),
        ("voltage (V)", "a unit stands in square brackets, 'voltage [V]'"),
        ("Voltage / V", "a unit stands in square brackets, 'Voltage [V]'"),
        ("voltage [A]", "'A' is no unit of a voltage"),
        ("voltage [MV]", "'MV' is no unit of a voltage (did you mean 'mV'?)"),
        ("voltage [V] x", "is not known"),
        ("note [V]", "takes no unit"),
        ("Module", "columns 'module' and 'Module' are the same"),
        ("cell 3 [V]", "a module has 2 cell groups in series"),
        ("cell 2 [V]", "column 'cell 1 [V]' is missing; all 2 cell groups"),
        ("cell 1 (V)", "'cell 1 [V]'"),
    ],
)
def test_bad_headings(tmp_path: Path, heading: str, says: str) -> None:
    found = refused(tmp_path, f"module,date,{heading}\nA1,2024-05-31,3\n")
    assert found.file == "heap.csv"
    assert found.key == "line 1"
    assert says in found.problem


@pytest.mark.parametrize(
    ("column", "value", "says"),
    [
        ("module", "x" * 41, "at most 40 plain characters"),
        ("date", "31.5.2024", "year first, such as 2024-05-31"),
        ("date", "2024-13-01", "there is no such day"),
        ("date", "0204-05-31", "a year from 1990 to 2100"),
        ("voltage [V]", '"7,4"', "decimals with a point"),
        ("voltage [V]", "7.4 V", "the unit stands in the heading"),
        ("voltage [V]", "7.4 X", "'7.4 X V'"),
        ("voltage [V]", "seven", "is not a number"),
        ("voltage [V]", "nan", "not a finite number"),
        ("voltage [V]", "1_0", "'1_0 V'"),
        ("voltage [V]", "?", "leave it blank: what you do not know stays unknown"),
        ("voltage [V]", "-7.4", "believable"),
        ("voltage [V]", "10.1", "too much for 2 cell groups"),
        ("cell 1 [V]", "5.1", "at most 5 V"),
        ("rested [h]", "-1", "believable"),
        ("capacity [Ah]", "0", "above 0"),
        ("efficiency [%]", "106", "cannot be here"),
        ("soc [%]", "101", "cannot be here"),
        ("full", "maybe", "yes or no"),
        ("ended by cell", "3", "2 cell groups in series"),
        ("ended by cell", "0", "1 at the plus end"),
        ("method", "10s pulse", "did you mean '10 s pulse'?"),
        ("seen", "swolen; leak", "'swolen' is no fault"),
        ("seen", "none; leak", "one of them is needed"),
        ("note", "x" * 1001, "1000 is the most"),
        ("note", "a\0b", "plain text"),
    ],
)
def test_bad_values_are_named_by_line_and_column(
    tmp_path: Path, column: str, value: str, says: str
) -> None:
    good = {
        "module": "A1",
        "date": "2024-05-31",
        "voltage [V]": "7.4",
        "cell 1 [V]": "3.7",
        "cell 2 [V]": "3.7",
        "capacity [Ah]": "50",
        "resistance [mOhm]": "4",
    }
    row = {**good, column: value}
    lines = [HEADINGS, [good.get(name, "") for name in HEADINGS]]
    lines.append([row.get(name, "") for name in HEADINGS])
    found = refused(tmp_path, "\n".join(map(",".join, lines)) + "\n")
    assert found.file == "heap.csv"
    assert found.key == f"line 3, '{column}'"
    assert says in found.problem


@pytest.mark.parametrize(
    ("row", "key", "says"),
    [
        ({"date": "2024-05-31"}, "line 2", "names no module"),
        ({"module": "A1", "voltage [V]": "7.4"}, "'date'", "a rest needs its day"),
        ({"module": "A1", "record": "x.csv"}, "'date'", "a record needs its day"),
        ({"module": "A1", "rested [h]": "2"}, "'rested [h]'", "belongs to a voltage at rest"),
        ({"module": "A1", "full": "yes"}, "'full'", "belongs to a voltage at rest"),
        ({"module": "A1", "current [A]": "5"}, "'current [A]'", "belongs to a capacity"),
        ({"module": "A1", "method": "two-step"}, "'method'", "belongs to a resistance"),
        ({"module": "A1", "temperature [degC]": "5"}, "'temperature [degC]'", "belongs to"),
        ({"module": "A1", "cell 1 [V]": "3.7"}, "'cell 2 [V]'", "is blank; all 2 cell groups"),
    ],
)
def test_values_that_hang_in_the_air(
    tmp_path: Path, row: dict[str, str], key: str, says: str
) -> None:
    line = ",".join(row.get(name, "") for name in HEADINGS)
    found = refused(tmp_path, f"{','.join(HEADINGS)}\n{line}\n")
    assert found.key.endswith(key)
    assert says in found.problem


@pytest.mark.parametrize(
    ("log", "says"),
    [
        ("", "holds no readings"),
        ("module\n", "holds no readings"),
        ("module;date\nA1;x\n", "semicolons or tabs"),
        ("date\n2024-05-31\n", "column 'module' is missing"),
        ("module,date\nA1\n", "line 2: holds 1 fields; 2 are needed"),
        ("module\nA1,x\n", "line 2: holds 2 fields; 1 are needed"),
        ("module,\nA1,x\n", "'x' stands under no heading"),
        ('module,note\nA1,"two\nlines"\n,x\n', "line 4: names no module"),
        ("module\nA1\na 1\n", "'A1' and 'a 1' differ in case or spaces only"),
        (f'module,"{"x" * 140_000}', "is no CSV"),
        (f"module\n{'A1' * 600_000}", "is larger than 1 MB"),
    ],
)
def test_what_is_no_log(tmp_path: Path, log: str, says: str) -> None:
    assert says in str(refused(tmp_path, log))


def test_a_log_in_another_encoding(tmp_path: Path) -> None:
    path = laid(tmp_path, "")
    (tmp_path / "heap.csv").write_bytes("module,note\nA1,wärmer\n".encode("cp1252"))
    with pytest.raises(DataError, match="line 2: is not UTF-8 text; save the log as CSV"):
        read_batch(path)


def test_all_bad_cells_are_told_at_once(tmp_path: Path) -> None:
    found = refused(tmp_path, "module,full,seen\nA1,maybe,rust\nA2,yes,none\n")
    assert isinstance(found, SeveralDataError)
    # 'full' of A2 hangs in the air, too.
    assert [error.key for error in found.errors] == [
        "line 2, 'full'",
        "line 2, 'seen'",
        "line 3, 'full'",
    ]


@settings(max_examples=150)
@given(
    cells=st.dictionaries(
        st.sampled_from(HEADINGS),
        st.one_of(
            st.text(max_size=12),
            st.sampled_from(["1", "-1", "3.7", "yes", "none", "2024-05-31", "1e400", "10 s pulse"]),
        ),
    )
)
def test_whatever_stands_in_a_log_is_read_or_refused_as_data(
    tmp_path_factory: pytest.TempPathFactory, cells: dict[str, str]
) -> None:
    folder = tmp_path_factory.mktemp("any")
    with (folder / "heap.csv").open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file)
        writer.writerows([HEADINGS, [cells.get(name, "") for name in HEADINGS]])
    (folder / "heap.toml").write_text(SHEET, encoding="utf-8")
    try:
        batch = read_batch(folder / "heap.toml")
    except DataError:
        return  # refused as it should be; any other exception fails here
    assert [module.name for module in batch.modules] == [cells["module"].strip()]


# The sheet.

WHOLE = """
title = "Heap"
note = "a shed full"
invented = true
chemistry = { value = "lfp", basis = "datasheet" }
cells_in_series = 2
cells_in_parallel = 3
[new]
capacity = "60 Ah"
resistance = { value = "3 mOhm", method = "two-step", basis = "measured" }
resistance_temperature = "20 degC"
resistance_soc = "50 %"
[log]
file = "heap.csv"
[wanted]
modules_in_series = 2
strings = 1
apart = [["A1", "A2"]]
together = [["A1", "A3"]]
leave_out = ["A4"]
[meter]
voltage = { value = "5 mV", basis = "datasheet" }
[grading.spread]
accept = "40 mV"
[grading.capacity]
accept = "75 %"
retest = "65 %"
"""
FOUR = "module\nA1\nA2\nA3\nA4\n"


def test_a_whole_sheet(tmp_path: Path) -> None:
    batch = read(tmp_path, FOUR, WHOLE)
    assert (batch.title, batch.note, batch.invented) == ("Heap", "a shed full", True)
    assert batch.sheet == WHOLE
    assert batch.chemistry.key == "lfp"
    assert (batch.cells_in_series, batch.cells_in_parallel) == (2, 3)
    assert batch.new_capacity is not None
    assert batch.new_capacity.m == 60
    assert batch.new_resistance_temperature is not None
    assert batch.new_resistance_temperature.m == 20
    assert batch.new_resistance_soc is not None
    assert batch.new_resistance_soc.m == 0.5
    assert batch.new_resistance is not None
    assert batch.new_resistance.m == pytest.approx(0.003)
    assert batch.new_resistance_method == "two-step"
    assert (batch.modules_in_series, batch.strings) == (2, 1)
    assert batch.apart == (("A1", "A2"),)
    assert batch.together == (("A1", "A3"),)
    assert batch.leave_out == ("A4",)
    assert batch.voltage_accuracy is not None
    assert batch.voltage_accuracy.m == pytest.approx(0.005)
    assert batch.basis_of("chemistry") is Basis.DATASHEET
    assert batch.basis_of("new_capacity") is Basis.ASSUMED  # the sheet does not say
    assert batch.basis_of("new_resistance") is Basis.MEASURED
    assert batch.basis_of("voltage_accuracy") is Basis.DATASHEET
    assert batch.basis_of("strings") is Basis.CHOSEN


def test_own_limits_go_over_those_of_the_library(tmp_path: Path) -> None:
    own = {measure.key: measure for measure in read(tmp_path, FOUR, WHOLE).measures}
    assert (own["spread"].accept, own["spread"].retest) == (0.04, 0.3)
    assert (own["capacity"].accept, own["capacity"].retest) == (0.75, 0.65)
    assert own["capacity"].source == "own-limits"
    assert own["drift"] in grading()
    assert read(tmp_path, FOUR).measures == grading()


def test_the_limits_of_the_library() -> None:
    # Common practice, no source.
    held = {measure.key: (measure.accept, measure.retest, measure.unit) for measure in grading()}
    assert held == {
        "capacity": (0.8, 0.7, ""),
        "resistance": (1.6, 2.0, ""),
        "spread": (0.05, 0.3, "V"),
        "imbalance": (0.15, 0.5, "V"),
        "drift": (0.005, 0.015, "V"),
        "rise": (3.0, 5.0, "K"),
    }


@pytest.mark.parametrize(
    ("old", "new", "key", "says"),
    [
        ('title = "Heap"\n', "", "title", "is missing"),
        ("cells_in_series = 2\n", "", "cells_in_series", "is missing"),
        ("cells_in_series = 2", 'cells_in_series = "2"', "cells_in_series", "whole number"),
        ("cells_in_series = 2", "cells_in_series = 0", "cells_in_series", "between 1 and 400"),
        ('{ value = "lfp", basis = "datasheet" }', '"lpf"', "chemistry", "did you mean 'lfp'"),
        ('chemistry = { value = "lfp", basis = "datasheet" }', "", "chemistry", "is missing"),
        ("title", "titel", "titel", "did you mean 'title'"),
        ('"60 Ah"', '"60 V"', "new.capacity", "is a voltage"),
        ('"60 Ah"', "60", "new.capacity", "write it as '60 Ah'"),
        ('"60 Ah"', '"0 Ah"', "new.capacity", "above 0"),
        ('"two-step"', '"two step"', "new.resistance.method", "did you mean 'two-step'"),
        ('"5 mV"', '"0 mV"', "meter.voltage", "nothing measures perfectly"),
        ("strings = 1\n", "", "wanted.strings", "modules_in_series alone is no pack"),
        ("modules_in_series = 2\n", "", "wanted.modules_in_series", "strings alone is no pack"),
        ('[["A1", "A2"]]', '["A1", "A2"]', "wanted.apart", 'such as [["A1", "A2"]]'),
        ('[["A1", "A2"]]', '[["A1"]]', "wanted.apart", "fewer than two"),
        ('[["A1", "A2"]]', '[["A1", "A1"]]', "wanted.apart", "stands there twice"),
        ('["A4"]', '"A4"', "wanted.leave_out", "names in quotes"),
        ('["A4"]', "[4]", "wanted.leave_out", "names in quotes"),
        ('["A4"]', '["A5"]', "wanted.leave_out", "no module is called 'A5'"),
        ('[["A1", "A2"]]', '[["A1", "B2"]]', "wanted.apart", "no module is called 'B2'"),
        ('"heap.csv"', '"heap.xlsx"', "log.file", "save it as CSV"),
        ('"heap.csv"', '"hep.csv"', "log.file", "there is no file 'hep.csv'"),
        ('"heap.csv"', '"/heap.csv"', "log.file", "from the sheet's folder"),
        ('"heap.csv"', '"library:hil-heap.csv"', "log.file", "did you mean 'hill-heap.csv'"),
        ('file = "heap.csv"', "", "log.file", "is missing"),
        ('[log]\nfile = "heap.csv"\n', "", "log", "the section is missing"),
        (
            'file = "heap.csv"',
            'file = "heap.csv"\ncurrent_sign = "plus"',
            "log.current_sign",
            "plus",
        ),
        ("[grading.spread]", "[grading.spred]", "grading.spred", "did you mean 'spread'"),
        ('accept = "40 mV"', 'accept = "40 Ah"', "grading.spread.accept", "is a charge"),
        ('accept = "40 mV"', "accept = 40", "grading.spread.accept", "in quotes is needed"),
        ('accept = "40 mV"', 'least = "40 mV"', "grading.spread.least", "is not known"),
        ('accept = "40 mV"', 'accept = "400 mV"', "grading.spread", "stricter"),
        ('accept = "75 %"', 'accept = "60 %"', "grading.capacity", "stricter"),
        (
            '[grading.spread]\naccept = "40 mV"',
            "[grading]\nspread = 4",
            "grading.spread",
            "section",
        ),
    ],
)
def test_bad_sheets(tmp_path: Path, old: str, new: str, key: str, says: str) -> None:
    assert WHOLE.count(old) == 1
    found = refused(tmp_path, FOUR, WHOLE.replace(old, new))
    assert found.key == key
    assert says in found.problem


def test_a_sheet_and_its_log_are_different_files(tmp_path: Path) -> None:
    with pytest.raises(DataError, match=r"a batch sheet is needed, which names it: \[log\] file"):
        read_batch(tmp_path / "heap.csv")
    with pytest.raises(DataError, match="read without a folder"):
        parse_batch(SHEET)
    with pytest.raises(DataError, match="did you mean 'hill-heap'"):
        example_batch("hil-heap")


def test_a_sheet_without_a_folder_takes_a_log_of_the_library() -> None:
    sheet = example_batch("iron-shelf").read_text(encoding="utf-8")
    batch = parse_batch(sheet.replace('"iron-shelf.csv"', '"library:iron-shelf.csv"'))
    assert len(batch.modules) == 8


def test_it_is_reachable_from_the_top() -> None:
    assert evpack.read_batch is read_batch
    assert evpack.example_batch is example_batch
    assert evpack.TestedModule is nouns.TestedModule


@pytest.mark.parametrize(
    ("field", "value", "says"),
    [
        ("new_capacity", "0 Ah", "new_capacity must be above 0"),
        ("new_resistance", "0 mOhm", "new_resistance must be above 0"),
        ("new_resistance_method", "two step", "did you mean 'two-step'"),
    ],
)
def test_a_new_module_that_cannot_be_is_refused(
    tmp_path: Path, field: str, value: str, says: str
) -> None:
    import attrs  # noqa: PLC0415

    batch = read(tmp_path, FOUR)
    with pytest.raises(DescriptionError, match=says):
        attrs.evolve(batch, **{field: value})


# A bench record of a module.

RECORD_LABELS = (
    "Test Time / s,Voltage / V,Current / A,Step Count / 1,Cell 1 Voltage / V,Cell 2 Voltage / V"
)
WITH_METER = SHEET + '[meter]\nvoltage = "1 mV"\ncurrent = "1 %"\n'


def record(path: Path, cells: tuple[float, ...] = (10.0, 9.6)) -> Path:
    """Write a record: a rest of an hour at full, then 9.6 Ah out at 5 A, and an hour's rest.

    Open-circuit voltage of a cell group 3.0 V + 1.2 V x state of charge, 5 mΩ each.
    """
    lines = [",".join([*RECORD_LABELS.split(",")[: 4 + len(cells)]])]
    out, now = 0.0, 0.0
    for step, (amps, count, interval) in enumerate(((0, 60, 60), (-5, 1728, 4), (0, 60, 60)), 1):
        for _ in range(count):
            now += interval
            out -= amps * interval / 3600
            volts = [3.0 + 1.2 * (1 - out / held) + 0.005 * amps for held in cells]
            row = [now, round(sum(volts), 6), amps, step, *(round(v, 6) for v in volts)]
            lines.append(",".join(map(str, row)))
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


def test_a_record_fills_in_what_it_holds(tmp_path: Path) -> None:
    record(tmp_path / "a1.bdf.csv")
    module = only(
        tmp_path,
        "module,date,record,warmest rise [K]\nA1,2024-05-31,a1.bdf.csv,2.5\n",
        WITH_METER,
    )
    assert module.capacity is not None
    assert module.capacity.m == pytest.approx(9.6)
    assert module.capacity_error is not None
    assert module.capacity_current is not None
    assert module.capacity_current.m == pytest.approx(5.0)
    assert module.resistance_method == "10 s pulse"
    assert module.resistance_error is not None
    assert module.ended_by == 2  # the one of 9.6 Ah
    assert module.lowest_ever is not None
    assert module.lowest_ever.m == pytest.approx(2.975)  # 3.0 V less 5 A x 5 mΩ
    assert module.rise is not None
    assert module.rise.m == 2.5  # typed: the record has no such column
    assert module.charge_efficiency is None
    (rest,) = module.rests
    assert rest.full
    assert rest.cells == pytest.approx((4.2, 4.2))
    assert rest.rested is not None
    assert rest.rested.m == pytest.approx(3540)  # the first reading of it comes at 60 s
    assert "of 2024-05-31 from the record a1.bdf.csv" in module.note
    assert "taken on trust" in module.note


def test_a_record_without_a_rest_or_a_pulse(tmp_path: Path) -> None:
    path = record(tmp_path / "a1.bdf.csv")
    lines = path.read_text(encoding="utf-8").splitlines()
    path.write_text("\n".join([lines[0], *lines[61:1789:15]]) + "\n", encoding="utf-8")
    module = only(
        tmp_path,
        "module,date,record\nA1,2024-05-31,a1.bdf.csv\n",
        SHEET.replace('"heap.csv"', '"heap.csv"\ncurrent_sign = "charge-positive"'),
    )
    assert module.rests == ()
    assert module.resistance is None
    assert module.resistance_method == "not stated"
    assert module.capacity_error is None


@pytest.mark.parametrize(
    ("row", "cells", "says"),
    [
        ("A1,2024-05-31,nix.csv,", (10.0, 9.6), "there is no file 'nix.csv' beside the log"),
        ("A1,2024-05-31,/nix.csv,", (10.0, 9.6), "from the log's folder"),
        ("A1,2024-05-31,a1.bdf.csv,50", (10.0, 9.6), "capacity is typed in this row and read"),
        ("A1,2024-05-31,a1.bdf.csv,", (10.0,), "a record of the whole module is needed"),
        ("A1,2024-05-31,heap.csv,", (10.0, 9.6), "heap.csv: line 1: column 'Test Time / s'"),
    ],
)
def test_bad_records(tmp_path: Path, row: str, cells: tuple[float, ...], says: str) -> None:
    record(tmp_path / "a1.bdf.csv", cells)
    found = refused(tmp_path, f"module,date,record,capacity [Ah]\n{row}\n")
    assert found.key == "line 2, 'record'"
    assert says in found.problem


def test_a_record_of_too_few_cell_groups(tmp_path: Path) -> None:
    path = record(tmp_path / "a1.bdf.csv")
    lines = [line.rpartition(",")[0] for line in path.read_text(encoding="utf-8").splitlines()]
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    found = refused(tmp_path, "module,date,record\nA1,2024-05-31,a1.bdf.csv\n")
    assert "it tells of 1 cell groups, and a module has 2" in found.problem
