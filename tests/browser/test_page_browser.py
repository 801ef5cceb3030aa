"""The shared page in a real browser, with the network cut off."""

import os
import re
from pathlib import Path

import pytest

from evpack.load.sheet import example

pytestmark = pytest.mark.browser


def test_it_opens_without_network_script_or_complaint(browser: object, barn_page: Path) -> None:
    context = browser.new_context(offline=True)
    page = context.new_page()
    asked: list[str] = []
    said: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.on("console", lambda message: said.append(message.text))
    page.on("pageerror", lambda problem: said.append(str(problem)))
    page.goto(barn_page.as_uri())
    page.wait_for_load_state("networkidle")
    assert asked == [barn_page.as_uri()]
    assert said == []
    assert page.locator("script").count() == 0
    assert page.locator("h1").first.inner_text() == "Wether Barn"
    assert page.locator("figure svg").count() == 3
    context.close()


def test_its_policy_really_forbids_scripts_and_requests(browser: object, tmp_path: Path) -> None:
    # A page of the same head with what `not_allowed` would have refused: the second guard.
    head = "default-src 'none'; img-src data:; style-src 'unsafe-inline'"
    path = tmp_path / "x.html"
    path.write_text(
        f'<meta http-equiv="Content-Security-Policy" content="{head}">'
        "<p id=a>still</p><script>document.getElementById('a').textContent='moved'</script>"
        "<img src='https://example.invalid/x.png'>",
        encoding="utf-8",
    )
    page = browser.new_page()
    page.goto(path.as_uri())
    assert page.locator("#a").inner_text() == "still"
    page.close()


def test_nothing_is_wider_than_a_small_screen_or_a_sheet_of_paper(
    browser: object, barn_page: Path
) -> None:
    page = browser.new_page(viewport={"width": 820, "height": 1100})
    page.goto(barn_page.as_uri())
    wide = "document.documentElement.scrollWidth - document.documentElement.clientWidth"
    assert page.evaluate(wide) == 0
    page.emulate_media(media="print")
    page.set_viewport_size({"width": 680, "height": 960})
    assert page.evaluate(wide) == 0
    page.close()


def test_on_a_phone_every_setting_is_a_card_and_nothing_lies_on_anything(
    browser: object, barn_page: Path
) -> None:
    page = browser.new_page(viewport={"width": 420, "height": 900})
    page.goto(barn_page.as_uri())
    wide = "document.documentElement.scrollWidth - document.documentElement.clientWidth"
    assert page.evaluate(wide) == 0
    spilled = """[...document.querySelectorAll('.evp-cards td, .evp-cards th, .evp-facts td')]
        .filter(e => e.offsetParent && e.scrollWidth > e.clientWidth + 1).length"""
    assert page.evaluate(spilled) == 0
    name = page.locator(".evp-cards tbody th").first.bounding_box()
    entry = page.locator(".evp-cards tbody .evp-enter").first.bounding_box()
    assert entry["y"] >= name["y"] + name["height"]
    assert page.locator(".evp-hint").first.is_visible()
    assert page.locator("td.evp-none").first.is_hidden()
    page.set_viewport_size({"width": 1000, "height": 900})
    assert page.locator(".evp-hint").first.is_hidden()
    page.close()


def test_a_link_leads_to_its_part(browser: object, barn_page: Path) -> None:
    page = browser.new_page()
    page.goto(barn_page.as_uri())
    page.get_by_role("link", name="What do I enter?").click()
    top = page.locator("h2", has_text="What do I enter?").bounding_box()["y"]
    assert -5 <= top < 100
    page.close()


def test_it_prints_on_a4_and_letter(browser: object, barn_page: Path, tmp_path: Path) -> None:
    page = browser.new_page()
    page.goto(barn_page.as_uri())
    for paper in ("A4", "Letter"):
        out = tmp_path / f"{paper}.pdf"
        page.pdf(path=str(out), format=paper)
        pages = len(re.findall(rb"/Type\s*/Page\b", out.read_bytes()))
        assert 3 < pages <= 11
    # Explanations stay off the paper, till somebody asks for them: then they are laid open.
    page.emulate_media(media="print")
    formula, sheet = page.locator(".evp-how p").first, page.locator("#evpack-sheet-shown")
    assert formula.bounding_box() is None
    assert sheet.bounding_box() is None
    page.emulate_media(media="screen")
    page.get_by_label("Print formulas, rules and the build sheet as well").check()
    page.emulate_media(media="print")
    assert formula.bounding_box()["height"] > 0
    assert sheet.bounding_box()["height"] > 0
    assert page.locator(".evp summary").first.bounding_box() is None
    assert page.locator(".evp-paper th").first.inner_text().startswith("Wether Barn: ")
    page.close()


def test_the_sheet_is_saved_from_the_page(browser: object, barn_page: Path, tmp_path: Path) -> None:
    page = browser.new_page()
    page.goto(barn_page.as_uri())
    with page.expect_download() as waiting:
        page.get_by_role("link", name="Save the build sheet").click()
    saved = tmp_path / os.path.basename(waiting.value.suggested_filename)  # noqa: PTH119
    waiting.value.save_as(saved)
    assert saved.name == "barn.toml"
    assert saved.read_bytes() == example("wether-barn").read_bytes()
    page.close()
