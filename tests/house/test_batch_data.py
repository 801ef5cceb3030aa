"""House: the example heaps load, are marked as invented, and come out of their script again."""

import subprocess
import sys
from pathlib import Path

import pytest

from evpack.load.batch import example_batch, read_batch
from evpack.load.grading import grading
from evpack.load.places import data_dir
from evpack.load.tables import source

BATCHES = data_dir() / "batches"
NAMES = [path.stem for path in sorted(BATCHES.glob("*.toml"))]


def test_the_script_writes_the_shipped_files(tmp_path: Path) -> None:
    script = BATCHES / "invent_heap.py"
    subprocess.run([sys.executable, str(script), str(tmp_path)], check=True)
    written = {path.name: path.read_bytes() for path in tmp_path.iterdir()}
    assert written == {path.name: path.read_bytes() for path in BATCHES.glob("*.csv")}


@pytest.mark.parametrize("name", NAMES)
def test_every_example_heap_is_marked_as_invented(name: str) -> None:
    batch = read_batch(example_batch(name))
    assert batch.invented
    assert batch.note.startswith("Invented:")
    assert batch.modules


def test_the_limits_name_a_source() -> None:
    for measure in grading():
        assert source(measure.source).title


def test_the_hill_heap_holds_what_its_script_promises() -> None:
    # By the text at the top of the script; the numbers of H07 by its own record.
    batch = read_batch(example_batch("hill-heap"))
    held = {module.name: module for module in batch.modules}
    assert len(held) == 24
    assert held["H05"].seen == ("swelling",)
    assert held["H05"].capacity is None
    assert held["H17"].lowest_ever is not None
    assert held["H17"].lowest_ever.m == 1.4
    assert held["H11"].resistance is None
    assert "read again" in held["H09"].note
    logged = held["H07"]
    assert logged.capacity is not None
    assert logged.capacity.m == pytest.approx(0.80 * 66, abs=0.3)
    assert logged.ended_by == 5
    assert logged.charge_efficiency is not None
    assert logged.charge_efficiency.m == pytest.approx(0.995, abs=0.001)
    assert logged.capacity_error is not None
    assert logged.resistance_error is not None


def test_one_of_the_hill_heap_drifts() -> None:
    # Both rests at full, a week apart and nothing in between: the second had rested for 172 h.
    losses = {}
    for module in read_batch(example_batch("hill-heap")).modules:
        if module.name != "H05":
            before, after = module.rests[1:3]
            assert before.voltage is not None
            assert after.voltage is not None
            assert (after.date - before.date).days == 7
            losses[module.name] = float(before.voltage.m - after.voltage.m)
    middle = sorted(losses.values())[len(losses) // 2]
    far = [name for name, loss in losses.items() if loss > middle + 0.015]
    assert far == ["H21"]


def test_of_the_iron_shelf_little_is_known() -> None:
    batch = read_batch(example_batch("iron-shelf"))
    assert batch.new_capacity is None
    assert len(batch.modules) == 8
    for module in batch.modules:
        assert module.capacity is None
        assert module.resistance is None
        assert len(module.rests) == 1
    assert sum(module.seen is None for module in batch.modules) == 5
