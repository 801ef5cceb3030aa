"""The main workbook in JupyterLab: run it, move a control by key and by typing, see it move."""

from collections.abc import Callable, Iterator

import pytest

pytestmark = pytest.mark.browser

# What JupyterLab itself waits for: the kernel there, then each cell run.
_RUN_ALL = """async () => {
    await window.jupyterapp.restored;
    const notebook = window.jupyterapp.shell.currentWidget;
    await notebook.context.ready;
    await notebook.sessionContext.ready;
    await window.jupyterapp.commands.execute("notebook:run-all-cells");
}"""
# Cells out of sight are not in the page at all. One step down, or to the top again, and drawn.
_SCROLL = """e => new Promise(drawn => {
    const end = e.scrollTop + e.clientHeight + 5 > e.scrollHeight;
    e.scrollTo(0, end ? 0 : e.scrollTop + 500);
    requestAnimationFrame(() => requestAnimationFrame(drawn));
})"""


@pytest.fixture(params=["11-repack-decision.ipynb"])
def page(browser: object, lab: str, request: pytest.FixtureRequest) -> Iterator[object]:
    """Open a workbook (the main one), run it whole, and bring the panel into sight."""
    page = browser.new_page(viewport={"width": 1500, "height": 1100})
    page.goto(lab.format(request.param))
    page.wait_for_selector('.jp-Notebook-ExecutionIndicator[data-status="idle"]')
    page.evaluate(_RUN_ALL)
    panel = page.locator(".jupyter-widgets .evp-verdict")
    for _ in range(1000):  # else the workbook has no panel
        if panel.count():
            break
        page.locator(".jp-WindowedPanel-outer").first.evaluate(_SCROLL)
    panel.first.scroll_into_view_if_needed()
    yield page
    page.close()


def _changes(picture: object, before: str) -> None:
    """Wait until a picture has changed: the regions come one after the other."""
    from playwright.sync_api import expect  # noqa: PLC0415  may be missing

    expect(picture).not_to_have_js_property("innerHTML", before)


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
