"""The live panel and the parts of a heap."""

from __future__ import annotations

import attrs
import pytest

from evpack.describe.batch import Batch
from evpack.load.batch import example_batch, read_batch
from evpack.matching import match_heap
from evpack.workbook import parts
from evpack.workbook.panel import HeapPanel


@pytest.fixture(scope="module")
def batch() -> Batch:
    return read_batch(example_batch("hill-heap"))


def test_the_panel_begins_as_the_sheet_wants_it(batch: Batch) -> None:
    panel = HeapPanel(batch)
    assert (panel._values["modules_in_series"], panel._values["strings"]) == (2, 5)
    assert panel.made is not None
    assert panel.made.grouping is not None
    assert len(panel.made.grouping.strings) == 5
    assert "string 5" in panel._regions["answer"].value


def test_a_number_moves_the_groups_and_the_button_takes_it_back(batch: Batch) -> None:
    panel = HeapPanel(batch)
    panel._rows["strings"].number.value = 3
    assert panel.made is not None
    assert panel.made.grouping is not None
    assert len(panel.made.grouping.strings) == 3
    assert "string 4" not in panel._regions["answer"].value
    panel._reset()
    assert panel._rows["strings"].number.value == 5
    assert "string 5" in panel._regions["answer"].value


def test_what_cannot_be_is_said_in_place(batch: Batch) -> None:
    panel = HeapPanel(batch)
    panel._rows["modules_in_series"].number.value = 20
    assert "No grouping is possible" in panel._regions["answer"].value


def test_a_heap_that_wants_nothing_begins_with_one(batch: Batch) -> None:
    panel = HeapPanel(attrs.evolve(batch, modules_in_series=None, strings=None))
    assert (panel._values["modules_in_series"], panel._values["strings"]) == (1, 1)


def test_the_parts_say_what_is_missing(batch: Batch) -> None:
    made = match_heap(batch, proven=False)
    assert "H05" in parts.grades(made)._repr_html_()
    assert "string 1" in parts.groups(made)._repr_html_()
    assert "<ol>" in parts.joining(made)._repr_html_()
    bare = attrs.evolve(made, grouping=None, join=None)
    assert "No grouping" in parts.groups(bare)._repr_html_()
    assert "Nothing to join" in parts.joining(bare)._repr_html_()
