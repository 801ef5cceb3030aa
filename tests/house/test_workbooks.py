"""House: the workbooks stand in the order of the road, lead on, and are stored clean."""

import json
import re
from pathlib import Path

import pytest

from evpack.load.places import unnumbered, workbooks, workbooks_dir

FILES = sorted(workbooks_dir().glob("*.ipynb"))
# In the order of the road; the numbers before their names say the same.
ROAD = [path for path in FILES if path.stem != unnumbered(path.stem)]
LINK = re.compile(r"\]\(([^)\s]+)\)")


def cells_of(path: Path) -> list[dict]:
    return json.loads(path.read_text(encoding="utf-8"))["cells"]


def text_of(cell: dict) -> str:
    return "".join(cell["source"])


def tags_of(cell: dict) -> list[str]:
    return cell["metadata"].get("tags", [])


def links_of(path: Path) -> list[str]:
    return [
        link
        for cell in cells_of(path)
        if cell["cell_type"] == "markdown"
        for link in LINK.findall(text_of(cell))
    ]


@pytest.mark.parametrize("path", FILES, ids=lambda p: p.stem)
def test_every_link_leads_to_a_workbook_that_is_there(path: Path) -> None:
    for link in links_of(path):
        assert (workbooks_dir() / link).is_file(), link


@pytest.mark.parametrize("path", FILES, ids=lambda p: p.stem)
def test_a_link_to_another_workbook_never_gets_into_a_shared_page(path: Path) -> None:
    for cell in cells_of(path):
        if cell["cell_type"] == "markdown" and LINK.search(text_of(cell)):
            assert "not-shared" in tags_of(cell)


@pytest.mark.parametrize("path", FILES, ids=lambda p: p.stem)
def test_no_output_is_kept_but_that_of_a_check(path: Path) -> None:
    for cell in cells_of(path):
        if cell["cell_type"] == "code" and "NBVAL_CHECK_OUTPUT" not in text_of(cell):
            assert cell["outputs"] == []


def test_the_numbers_run_from_one_without_a_gap() -> None:
    numbers = [int(path.stem.partition("-")[0]) for path in ROAD]
    assert numbers == list(range(1, len(ROAD) + 1))
    assert next(iter(workbooks())) == "start-here"


@pytest.mark.parametrize("path", ROAD, ids=lambda p: p.stem)
def test_each_takes_a_sheet_or_a_heap_in_one_cell_and_ends_in_what_to_do_next(path: Path) -> None:
    cells = cells_of(path)
    pointed = [c for c in cells if re.search(r"^(SHEET|HEAP) = ", text_of(c), re.MULTILINE)]
    assert len(pointed) == 1
    assert "# Your own: " in text_of(pointed[0])
    assert any(text_of(cell).startswith("## What next") for cell in cells)


@pytest.mark.parametrize("k", range(len(ROAD)))
def test_each_leads_to_the_one_before_and_the_one_after(k: int) -> None:
    last = LINK.findall(text_of(cells_of(ROAD[k])[-1]))
    near = {ROAD[j].name for j in (k - 1, k + 1) if 0 <= j < len(ROAD)}
    assert near <= set(last)


def test_the_first_one_leads_to_all_others_in_their_order() -> None:
    told = [link for link in dict.fromkeys(links_of(ROAD[0])) if link != "plain-python.ipynb"]
    assert told == [path.name for path in ROAD[1:]]
