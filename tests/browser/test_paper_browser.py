"""The sheets for wall and toolbox on real paper sizes, in a real browser."""

from __future__ import annotations

import re
import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path

import pytest

from evpack.decide import decide
from evpack.design import design
from evpack.load.sheet import example, read_sheet
from evpack.workbook.paper import write_sheets

pytestmark = pytest.mark.browser

# Between the margins: 210 − 24 mm of A4, 8.5 in − 24 mm of Letter, at 96 px to the inch.
_PAPER = {"a4": 702, "letter": 725}


@pytest.fixture(scope="module")
def sheets(tmp_path_factory: pytest.TempPathFactory) -> Path:
    decision = decide(design(read_sheet(example("wether-barn"))))
    return write_sheets(decision, tmp_path_factory.mktemp("wall") / "sheets.html")


@pytest.mark.parametrize("paper", sorted(_PAPER))
def test_nothing_is_cut_off_at_the_edge_of_the_paper(
    browser: object, sheets: Path, paper: str
) -> None:
    page = browser.new_page(viewport={"width": _PAPER[paper], "height": 1000})
    page.goto(sheets.as_uri())
    page.emulate_media(media="print")
    cut = """[...document.querySelectorAll('.sheet:not(.across) *')].filter(e =>
        e.getBoundingClientRect().right > document.documentElement.clientWidth + 1
        && getComputedStyle(e).display !== 'none').map(e => e.outerHTML.slice(0, 80))"""
    assert page.evaluate(cut) == []
    page.close()


@pytest.mark.parametrize("paper", sorted(_PAPER))
def test_every_sheet_begins_on_a_page_of_its_own(
    browser: object, sheets: Path, tmp_path: Path, paper: str
) -> None:
    del browser  # without one there is nothing to print with
    if shutil.which("pdftotext") is None:
        pytest.skip("no pdftotext")
    decision = decide(design(read_sheet(example("wether-barn"))))
    out = write_sheets(decision, tmp_path / "s.pdf", paper=paper)
    raw = subprocess.run(["pdftotext", "-layout", str(out), "-"], capture_output=True, check=True)
    pages = raw.stdout.decode().replace("\u00a0", " ").split("\f")
    heads = re.findall(r'class="sheet-head"><h2>([^<]*)</h2>', sheets.read_text(encoding="utf-8"))
    assert len(heads) > 8
    for head in heads:
        first_words = head.replace("\u00a0", " ").split(",")[0][:20]
        begun = [page for page in pages if first_words in "\n".join(page.strip().split("\n")[:3])]
        assert begun, head
    # No page holds a foot alone.
    for page in pages[:-1]:
        assert len(page.split()) > 60


def test_people_who_cannot_see_it_can_read_it(
    browser: object, sheets: Path, kept: Callable[[object, str], None]
) -> None:
    axe = pytest.importorskip("axe_playwright_python.sync_playwright").Axe()
    context = browser.new_context(bypass_csp=True)
    page = context.new_page()
    page.goto(sheets.as_uri())
    kept(page, "sheets-for-the-wall.png")
    found = axe.run(page).response["violations"]
    context.close()
    assert [(rule["id"], rule["nodes"][0]["html"][:120]) for rule in found] == []
