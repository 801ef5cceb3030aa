"""Every workbook that takes a build sheet, shared and looked at: screen, phone and paper."""

import json
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from evpack.load.places import workbooks_dir
from evpack.load.sheet import example
from evpack.workbook.share import share

pytestmark = pytest.mark.browser

_WIDE = "document.documentElement.scrollWidth - document.documentElement.clientWidth"


def _takes_a_sheet(path: Path) -> bool:
    cells = json.loads(path.read_text(encoding="utf-8"))["cells"]
    return any("sheet" in cell["metadata"].get("tags", ()) for cell in cells)


WORKBOOKS = [path.stem for path in sorted(workbooks_dir().glob("*.ipynb")) if _takes_a_sheet(path)]


@pytest.fixture(scope="module", params=WORKBOOKS)
def shared(tmp_path_factory: pytest.TempPathFactory, request: pytest.FixtureRequest) -> Path:
    folder = tmp_path_factory.mktemp("shared")
    sheet = Path(shutil.copy(example("wether-barn"), folder / "barn.toml"))
    return share(sheet, folder / f"{request.param}.html", request.param)


def test_no_part_of_the_example_is_refused(shared: Path) -> None:
    assert 'role="alert"' not in shared.read_text(encoding="utf-8")


def test_it_asks_for_nothing_and_fits_screen_phone_and_paper(
    browser: object, shared: Path, kept: Callable[[object, str], None]
) -> None:
    context = browser.new_context(offline=True, viewport={"width": 1100, "height": 1000})
    page = context.new_page()
    asked: list[str] = []
    said: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.on("console", lambda message: said.append(message.text))
    page.goto(shared.as_uri())
    page.wait_for_load_state("networkidle")
    assert asked == [shared.as_uri()]
    assert said == []
    for device, width in (("screen", 1100), ("phone", 420)):
        page.set_viewport_size({"width": width, "height": 1000})
        assert page.evaluate(_WIDE) == 0, device
        kept(page, f"{shared.stem}-{device}.png")
    page.emulate_media(media="print")
    page.set_viewport_size({"width": 680, "height": 960})
    assert page.evaluate(_WIDE) == 0
    context.close()


def test_people_who_cannot_see_it_can_read_it(browser: object, shared: Path) -> None:
    """Held against axe-core, the open accessibility checker, with all of its rules."""
    axe = pytest.importorskip("axe_playwright_python.sync_playwright").Axe()
    # The page lets no script run; the checker is one.
    context = browser.new_context(bypass_csp=True)
    page = context.new_page()
    page.goto(shared.as_uri())
    found = axe.run(page).response["violations"]
    context.close()
    told = [(rule["id"], rule["nodes"][0]["html"][:120]) for rule in found]
    assert told == []
