"""Every workbook goes on whatever the build: a stand-in, or a reason in place of a part."""

from __future__ import annotations

import shutil
from importlib.resources import files
from pathlib import Path

import attrs
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


TAKERS = [name for name in workbooks() if name not in {"heap-to-groups", "plain-python"}]


@pytest.mark.parametrize("name", TAKERS)
@pytest.mark.parametrize("sheet", ["starter", "low-shed"])
def test_a_workbook_runs_to_its_end_on_any_sheet(
    sheets: dict[str, Path], tmp_path: Path, name: str, sheet: str
) -> None:
    page = share(sheets[sheet], tmp_path / "page.html", name).read_text(encoding="utf-8")
    assert "Settings sheet" not in page  # nothing of these may be entered
    assert "evp-box" not in page.partition("<body>")[2]


@pytest.mark.parametrize("name", TAKERS)
def test_no_part_of_the_example_is_refused(tmp_path: Path, name: str) -> None:
    sheet = Path(shutil.copy(example("wether-barn"), tmp_path / "barn.toml"))
    page = share(sheet, tmp_path / "page.html", name).read_text(encoding="utf-8")
    assert 'role="alert"' not in page
