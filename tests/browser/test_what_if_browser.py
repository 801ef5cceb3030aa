"""Choices of a shared page in a real browser: no network, no script, by keyboard, on paper."""

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from turned import with_choices

from evpack.decide import decide
from evpack.design import design
from evpack.load.sheet import example, read_sheet
from evpack.show.words import VERDICT
from evpack.workbook.regions import keys_of

pytestmark = pytest.mark.browser

_WIDE = "document.documentElement.scrollWidth - document.documentElement.clientWidth"


@pytest.fixture
def page(browser: object, barn_page: Path) -> Iterator[object]:
    context = browser.new_context(
        offline=True, java_script_enabled=False, viewport={"width": 1000, "height": 900}
    )
    page = context.new_page()
    page.goto(barn_page.as_uri())
    yield page
    context.close()


def answer(page: object) -> str:
    """Return the words of the one answer that is to be seen."""
    seen = page.locator(".evp-if-s:visible")
    assert seen.count() == 1
    return " ".join(seen.inner_text().split())


def test_a_choice_made_by_keyboard_shows_its_answer(
    page: object, kept: Callable[[object, str], None]
) -> None:
    build = read_sheet(example("wether-barn"))
    assert answer(page).startswith("As in the sheet: Modules in series 2; Strings in parallel 4;")
    assert VERDICT[decide(design(build)).verdict].word in answer(page)
    strings = page.get_by_role("group", name="Strings in parallel")
    strings.get_by_role("radio", checked=True).focus()
    page.keyboard.press("ArrowRight")  # from 4 to 5, more than there are modules for
    other = decide(design(with_choices(build, strings=5)))
    words = answer(page)
    assert words.startswith("What if, and not the design of the sheet: Strings in parallel 5")
    assert VERDICT[other.verdict].word == "Does not work"
    assert "✕ Does not work" in words
    for name, value, *_ in keys_of(other.design, entered=False):
        assert f"{name} {value}" in words
    # Two choices at once, from row to row with the tab key.
    page.keyboard.press("Tab")
    page.keyboard.press("ArrowLeft")
    assert "Charge target for one cell 4 V (sheet: 4.05 V)" in answer(page)
    kept(page, "what-if-screen.png")
    page.keyboard.press("ArrowRight")
    strings.get_by_role("radio", name="4 sheet").check()
    assert answer(page).startswith("As in the sheet:")


def test_what_is_out_of_sight_stays_out_of_reach(page: object) -> None:
    page.get_by_role("group", name="Strings in parallel").get_by_role("radio", name="5").check()
    # The figures of the sheet's answer can be opened; those of a hidden one cannot be reached.
    assert page.locator(".evp-if-s summary:visible").count() == 0
    told = page.locator("main").inner_text()
    assert told.count("What if, and not the design of the sheet") == 1


def test_on_paper_stands_the_one_that_was_picked_without_the_choices(page: object) -> None:
    page.emulate_media(media="print")
    page.set_viewport_size({"width": 680, "height": 960})
    assert page.locator("input:visible").count() == 0
    # The answer of the sheet stands on the first page already.
    assert page.locator(".evp-if").bounding_box() is None
    page.emulate_media(media="screen")
    page.get_by_role("group", name="Modules in series").get_by_role("radio", name="3").check()
    page.emulate_media(media="print")
    assert answer(page).startswith("What if, and not the design of the sheet: Modules in series 3")


def test_a_reload_leads_back_to_the_sheet(page: object) -> None:
    page.get_by_role("group", name="Modules in series").get_by_role("radio", name="3").check()
    page.reload()
    assert answer(page).startswith("As in the sheet:")


def test_a_browser_without_the_style_shows_the_sheet_alone(page: object, barn_page: Path) -> None:
    bare = barn_page.with_name("bare.html")
    text = barn_page.read_text(encoding="utf-8")
    bare.write_text(text.replace("selector(:has(a))", "(no-such: thing)"), encoding="utf-8")
    page.goto(bare.as_uri())
    assert page.locator(".evp-if input:visible").count() == 0
    assert answer(page).startswith("As in the sheet:")


def test_on_a_phone_nothing_is_cut_and_every_choice_can_be_hit(
    browser: object, barn_page: Path, kept: Callable[[object, str], None]
) -> None:
    page = browser.new_page(viewport={"width": 390, "height": 844})
    page.goto(barn_page.as_uri())
    for radio in page.locator(".evp-if input").all():
        radio.check()
        assert page.evaluate(_WIDE) == 0
        label = radio.locator("..").bounding_box()
        # WCAG 2.2, 2.5.8 (from memory): a target is at least 24 px in each direction.
        assert min(label["width"], label["height"]) >= 24
    kept(page, "what-if-phone.png")
    page.close()


def test_people_who_cannot_see_it_can_read_it(browser: object, barn_page: Path) -> None:
    """Held against axe-core, the open accessibility checker, with all of its rules.

    Only what a choice changes: the page around it is looked at with all others.
    """
    axe = pytest.importorskip("axe_playwright_python.sync_playwright").Axe()
    # The page lets no script run; the checker is one.
    context = browser.new_context(bypass_csp=True)
    page = context.new_page()
    page.goto(barn_page.as_uri())
    for place in ("a0", "b3", "c0", "d0"):
        page.locator(f".evp-if input.{place}").check()
        looked = axe.run(page, context=".evp-if").response
        assert len(looked["passes"]) > 10
        found = looked["violations"]
        assert [(rule["id"], rule["nodes"][0]["html"][:120]) for rule in found] == []
    context.close()
