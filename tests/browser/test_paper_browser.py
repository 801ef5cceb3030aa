"""The sheets for wall and toolbox on real paper sizes, in a real browser."""

from __future__ import annotations

import html
import re
import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path

import attrs
import pytest

from evpack.decide import decide
from evpack.describe.safeguards import EmergencyOff
from evpack.design import design
from evpack.load.sheet import example, read_sheet
from evpack.workbook.paper import as_pdf, write_sheets

pytestmark = pytest.mark.browser

# Between the margins: 210 − 24 mm of A4, 8.5 in − 24 mm of Letter, at 96 px to the inch.
_PAPER = {"a4": 702, "letter": 725}


@pytest.fixture(params=["like-arial", "wide"])
def lettered(
    request: pytest.FixtureRequest,
    browsers: Callable[[str], object],
    fonts: dict[str, Path],
    monkeypatch: pytest.MonkeyPatch,
) -> object:
    """Return a browser with one set of fonts; what is printed as PDF has the same ones."""
    monkeypatch.setenv("FONTCONFIG_FILE", str(fonts[request.param]))
    return browsers(request.param)


@pytest.fixture(scope="module")
def sheets(tmp_path_factory: pytest.TempPathFactory) -> Path:
    decision = decide(design(read_sheet(example("wether-barn"))))
    return write_sheets(decision, tmp_path_factory.mktemp("wall") / "sheets.html")


@pytest.mark.parametrize("paper", sorted(_PAPER))
def test_nothing_is_cut_off_at_the_edge_of_the_paper(
    lettered: object, sheets: Path, paper: str
) -> None:
    page = lettered.new_page(viewport={"width": _PAPER[paper], "height": 1000})
    page.goto(sheets.as_uri())
    page.emulate_media(media="print")
    cut = """[...document.querySelectorAll('.sheet:not(.across) *')].filter(e =>
        e.getBoundingClientRect().right > document.documentElement.clientWidth + 1
        && getComputedStyle(e).display !== 'none').map(e => e.outerHTML.slice(0, 80))"""
    assert page.evaluate(cut) == []
    page.close()


def pages_of(pdf: Path) -> list[list[str]]:
    """Return the lines of each page of a PDF; skip where nothing can read it."""
    if shutil.which("pdftotext") is None:
        pytest.skip("no pdftotext")
    raw = subprocess.run(["pdftotext", "-layout", str(pdf), "-"], capture_output=True, check=True)
    pages = raw.stdout.decode().replace("\u00a0", " ").split("\f")[:-1]
    return [[line.strip() for line in page.split("\n") if line.strip()] for page in pages]


@pytest.mark.parametrize("name", ["wether-barn", "split-house"])
@pytest.mark.parametrize("paper", sorted(_PAPER))
def test_every_sheet_begins_on_a_page_of_its_own(
    lettered: object, tmp_path: Path, paper: str, name: str
) -> None:
    del lettered  # without one there is nothing to print with
    decision = decide(design(read_sheet(example(name))))
    pages = pages_of(write_sheets(decision, tmp_path / "s.pdf", paper=paper))
    text = write_sheets(decision, tmp_path / "s.html").read_text(encoding="utf-8")
    heads = re.findall(r'class="sheet-head"><h2>([^<]*)</h2>', text)
    heads = [head.replace("\u00a0", " ") for head in heads]
    # Every head is at the top of a page, each of another one, in their order. A long one may
    # take two lines, with the verdict beside them.
    tops = [(page[0], set(" ".join(page[:3]).split())) for page in pages]
    begun = [
        next(
            (
                n
                for n, (first, top) in enumerate(tops)
                if first.startswith(head[:12]) and set(head.split()) <= top
            ),
            None,
        )
        for head in heads
    ]
    assert None not in begun
    assert begun == sorted(set(begun))
    for number, page in enumerate(pages, start=1):
        assert page[-1] == f"{number} / {len(pages)}"
        # No page holds a foot alone.
        assert len(" ".join(page).split()) > 60
    # The cards and the settings of a device are read at one glance: a page for each.
    single = [
        n for n, head in zip(begun, heads, strict=True) if head[:4] in {"Emer", "Limi", "Sett"}
    ]
    assert single == list(range(len(single)))


@pytest.mark.parametrize("paper", sorted(_PAPER))
def test_no_label_is_torn_by_the_end_of_a_page(
    lettered: object, tmp_path: Path, paper: str
) -> None:
    del lettered
    build = read_sheet(example("wether-barn"))
    many = attrs.evolve(build, pack=attrs.evolve(build.pack, strings=10))
    out = write_sheets(
        decide(design(many)), tmp_path / "l.pdf", only=["emergency", "labels"], paper=paper
    )
    pages = ["\n".join(page) for page in pages_of(out)]
    labels = [page for page in pages if re.search(r"String \d", page)]
    assert len(labels) > 1
    assert sum(len(re.findall(r"String \d+ · [12] of 2", page)) for page in labels) == 20
    for page in labels:
        assert len(re.findall(r"String \d", page)) == page.count("at rest")


@pytest.mark.parametrize("chargers", ["solar", "none said"])
@pytest.mark.parametrize("paper", sorted(_PAPER))
def test_each_card_fits_one_page_with_everything_that_nobody_said(
    lettered: object, tmp_path: Path, paper: str, chargers: str
) -> None:
    del lettered
    build = attrs.evolve(read_sheet(example("wether-barn")), arrays=None)
    if chargers != "solar":
        build = attrs.evolve(build, chargers=())
    guards = attrs.evolve(build.safeguards, emergency_off=EmergencyOff(), disconnect=None)
    bare = attrs.evolve(build, safeguards=guards, site=attrs.evolve(build.site, place=""))
    out = write_sheets(decide(design(bare)), tmp_path / "c.pdf", only=["emergency"], paper=paper)
    fire, off = pages_of(out)
    assert "fire" in fire[0]
    assert sum("nobody said" in line for line in off) == 3
    for card in (fire, off):
        assert any(line.startswith("Solar cables") for line in card)


@pytest.mark.parametrize("paper", sorted(_PAPER))
def test_a_shared_page_on_paper_leaves_no_heading_alone(
    lettered: object, barn_page: Path, tmp_path: Path, paper: str
) -> None:
    del lettered
    pages = pages_of(as_pdf(barn_page, tmp_path / "barn.pdf", paper=paper))
    found = re.findall(r"<h2[^>]*>([^<]+)</h2>", barn_page.read_text(encoding="utf-8"))
    heads = {html.unescape(head) for head in found}
    assert {"Does it fit?", "What protects it?", "The build sheet"} <= heads
    assert not heads & {lines[-1] for lines in pages}
    # Golden: 10 pages of A4 when this was written; more than 12 would be a change for the worse.
    assert len(pages) <= 12


def test_letters_are_about_as_wide_with_any_font(
    browsers: Callable[[str], object], sheets: Path
) -> None:
    wide = []
    for name in ("like-arial", "wide"):
        page = browsers(name).new_page()
        page.goto(sheets.as_uri())
        page.evaluate(
            """document.querySelector('.evp').insertAdjacentHTML('beforeend',
            '<span class="said">Charge voltage 56.8 V, absorption end current 3.5 A</span>')"""
        )
        wide.append(page.locator(".said").bounding_box()["width"])
        page.close()
    # The wide font's own letters are 16 % wider than those like Arial's.
    assert wide[1] == pytest.approx(wide[0], rel=0.02)


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
