"""Every workbook goes on whatever the build: a stand-in, or a reason in place of a part."""

from __future__ import annotations

import shutil
from importlib.resources import files
from pathlib import Path

import attrs
import nbformat
import pytest

from evpack.base.errors import DescriptionError
from evpack.describe.operation import BATTERY_FIRST, ISLAND
from evpack.design import design
from evpack.load.places import workbooks
from evpack.load.sheet import example, read_sheet
from evpack.workbook.parts import Shown, where_possible, with_operation, worked
from evpack.workbook.share import share

BARN = read_sheet(example("wether-barn"))


def test_a_sheet_that_says_how_it_is_worked_is_worked_so() -> None:
    made = design(BARN)
    operation, told = worked(made)
    assert operation is BARN.operation
    assert "as its sheet says" in told
    assert with_operation(made).build.operation is BARN.operation


def test_a_sheet_that_does_not_say_gets_a_stand_in_that_is_told() -> None:
    made = design(attrs.evolve(BARN, operation=None))
    operation, told = worked(made)
    assert operation.mode == BATTERY_FIRST
    # The typical load of the barn, 700 W, around the clock: 16.8 kWh.
    assert float(operation.load.values.sum()) == pytest.approx(16800)
    assert "16.8 kWh" in told
    assert "stand-in" in told
    bare = attrs.evolve(made, settings=None)
    assert worked(bare)[0].mode == ISLAND
    load = attrs.evolve(BARN.load, typical=None)
    heavy = design(attrs.evolve(BARN, operation=None, load=load))
    # 30 % of 2.5 kW around the clock: 18 kWh.
    assert float(worked(heavy)[0].load.values.sum()) == pytest.approx(18000)


def test_what_cannot_be_asked_of_a_build_is_told_and_the_rest_goes_on() -> None:
    def refuses() -> object:
        raise DescriptionError("one string <b> shares with nobody")

    shown = where_possible(refuses)
    assert isinstance(shown, Shown)
    assert "one string &lt;b&gt; shares with nobody" in shown.html
    assert where_possible(lambda: 3) == 3


@pytest.fixture(scope="module")
def sheets(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """Give the sheets that a workbook must bear: one that is no go, and one that says little."""
    folder = tmp_path_factory.mktemp("sheets")
    (folder / "starter.toml").write_text(
        (files("evpack.workbook") / "starter.toml").read_text(encoding="utf-8"), encoding="utf-8"
    )
    shutil.copy(example("low-shed"), folder / "low-shed.toml")
    return {path.stem: path for path in folder.iterdir()}


@pytest.fixture(scope="module")
def every_workbook(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Put all workbooks that take a sheet behind one another: one kernel instead of eleven.

    None of them sees a name of the one before it.
    """
    cells = []
    for name, where in workbooks().items():
        book = nbformat.read(where, as_version=4)
        own = [cell for cell in book.cells if "sheet" not in cell.metadata.get("tags", ())]
        if len(own) < len(book.cells):
            cells += [
                nbformat.v4.new_code_cell("%reset_selective -f ^(?!SHEET$)"),
                *own,
                nbformat.v4.new_markdown_cell(f"Here ends {name}."),
            ]
    first = nbformat.v4.new_code_cell("SHEET = ''", metadata={"tags": ["sheet"]})
    path = tmp_path_factory.mktemp("every") / "every.ipynb"
    nbformat.write(nbformat.v4.new_notebook(cells=[first, *cells]), path)
    return path


@pytest.mark.parametrize("sheet", ["starter", "low-shed"])
def test_every_workbook_runs_to_its_end_on_any_sheet(
    sheets: dict[str, Path], every_workbook: Path, tmp_path: Path, sheet: str
) -> None:
    page = share(sheets[sheet], tmp_path / "page.html", every_workbook).read_text(encoding="utf-8")
    assert page.count("Here ends ") == 11
    assert "Settings sheet" not in page  # nothing of these may be entered
    assert "evp-box" not in page.partition("<body>")[2]
