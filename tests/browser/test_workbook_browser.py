"""The main workbook in JupyterLab: run it, move a control by key and by typing, see it move."""

import time
from collections.abc import Callable

import pytest

pytestmark = pytest.mark.browser

_RUN = 60_000  # ms; a cold kernel on a busy machine


@pytest.fixture(params=["11-repack-decision.ipynb"])
def page(browser: object, lab: str, request: pytest.FixtureRequest) -> object:
    """Open a workbook (the main one), run it whole, and bring the panel into sight."""
    page = browser.new_page(viewport={"width": 1500, "height": 1100})
    page.goto(lab.format(request.param))
    page.wait_for_selector('.jp-Notebook-ExecutionIndicator[data-status="idle"]', timeout=_RUN)
    panel = page.locator(".jupyter-widgets .evp-verdict")
    deadline = time.monotonic() + _RUN / 1000
    while not panel.count():
        assert time.monotonic() < deadline, "the workbook did not run to its panel"
        # Sent the moment the kernel turns idle, the order can be lost: ask until it is followed.
        page.locator(".jp-Notebook .jp-Cell").first.click()
        page.get_by_text("Run", exact=True).first.click()
        page.get_by_text("Run All Cells", exact=True).click()
        _scroll_to(page, panel)
    yield page
    page.close()


def _scroll_to(page: object, panel: object) -> None:
    """Scroll through the workbook; cells out of sight are not in the page at all."""
    for _ in range(60):
        if panel.count():
            panel.first.scroll_into_view_if_needed()
            return
        page.locator(".jp-WindowedPanel-outer").first.evaluate(
            "e => e.scrollTop + e.clientHeight + 5 > e.scrollHeight "
            "? e.scrollTo(0, 0) : e.scrollBy(0, 500)"
        )
        page.wait_for_timeout(100)


def _changes(picture: object, before: str) -> None:
    """Wait until a picture has changed: the regions come one after the other."""
    deadline = time.monotonic() + 10.0
    while picture.inner_html() == before:
        assert time.monotonic() < deadline, "the picture did not change"
        time.sleep(0.02)


def _figure(page: object, name: str) -> object:
    return page.locator(".jupyter-widgets .evp-keys > div", has_text=name).locator("b").first


def test_the_panel_follows_keys_and_typing(
    page: object, kept: Callable[[object, str], None]
) -> None:
    from playwright.sync_api import expect  # noqa: PLC0415  may be missing

    assert page.locator(".jp-RenderedText[data-mime-type*='error']").count() == 0
    expect(_figure(page, "Modules")).to_have_text("8 of 9")
    kept(page, "panel-in-jupyterlab.png")
    picture = page.locator(".jupyter-widgets figure svg").nth(1)
    before = picture.inner_html()

    # By key: one string more than there are modules for is a stop, said in words.
    page.locator(".jupyter-widgets .noUi-handle").nth(1).focus()
    page.keyboard.press("ArrowRight")
    expect(_figure(page, "Modules")).to_have_text("10 of 9")
    expect(page.locator(".jupyter-widgets .evp-verdict h1")).to_have_text("Does not work")
    _changes(picture, before)

    # By typing: the box beside the slider takes the number, and the picture follows.
    before = picture.inner_html()
    box = page.locator(".jupyter-widgets input[type=number]").nth(3)
    kept = _figure(page, "Kept in reserve").inner_text()
    box.fill("40")
    box.press("Enter")
    expect(_figure(page, "Kept in reserve")).not_to_have_text(kept)
    _changes(picture, before)
    expect(page.locator(".jupyter-widgets .evp-keep pre")).to_contain_text('reserve = "40 %"')

    # A why opens beside its number; the box lays all of them open, and they stay so.
    why = page.locator(".jupyter-widgets .evp-why .evp-how").first
    expect(why).to_be_hidden()
    page.get_by_label("Lay open why each number is what it is").check()
    expect(why).to_be_visible()

    # What was turned over becomes a build sheet of its own, once.
    page.get_by_role("button", name="Write it").click()
    said = page.locator(".jupyter-widgets .evp-notice[role=status]")
    expect(said).to_contain_text("Written: my-choice.toml")
    page.get_by_role("button", name="Write it").click()
    expect(page.locator(".jupyter-widgets [role=alert]")).to_contain_text("is there already")

    # A value that cannot be is answered where it was typed, and clears with the next one.
    box.fill("150")
    box.press("Enter")
    refused = page.locator(".jupyter-widgets [role=alert]", has_text="reserve")
    expect(refused).to_have_count(1)
    page.get_by_text("Back to the build sheet").click()
    expect(page.locator(".jupyter-widgets [role=alert]")).to_have_count(0)
    expect(_figure(page, "Modules")).to_have_text("8 of 9")


@pytest.mark.parametrize("page", ["06-protection-and-cable.ipynb"], indirect=True)
def test_the_protection_panel_follows_the_keyboard(page: object) -> None:
    from playwright.sync_api import expect  # noqa: PLC0415  may be missing

    assert page.locator(".jp-RenderedText[data-mime-type*='error']").count() == 0
    diagram = page.locator(".jupyter-widgets figure svg").first
    before = diagram.inner_html()
    # The first handle is that of the strings, the second that of the size of the main cable.
    page.locator(".jupyter-widgets .noUi-handle").nth(1).focus()
    page.keyboard.press("ArrowRight")
    _changes(diagram, before)
    expect(page.locator(".jupyter-widgets .evp-keep pre")).to_contain_text("[cabling.main]")

    # By typing: the box beside the slider of the length.
    before = diagram.inner_html()
    box = page.locator(".jupyter-widgets input[type=number]").nth(1)
    box.fill("4.5")
    box.press("Enter")
    _changes(diagram, before)
    box.fill("-1")
    box.press("Enter")
    expect(page.locator(".jupyter-widgets [role=alert]")).to_contain_text("length")
