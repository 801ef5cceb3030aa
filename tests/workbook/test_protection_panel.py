"""The protection panel: a cable turned over moves fuse, diagram and verdict."""

from importlib.resources import files

import pytest

from evpack.decide import decide
from evpack.design import design
from evpack.load.sheet import example, parse_sheet, read_sheet
from evpack.outcome.design import Verdict
from evpack.show.words import NOT_TO_BUY
from evpack.workbook.panel import Panel, ProtectionPanel


@pytest.fixture
def panel() -> Panel:
    return ProtectionPanel(read_sheet(example("wether-barn")))


def html_of(panel: Panel, region: str) -> str:
    """Return what a region shows; a message stands beside its field or below all of them."""
    if region == "message":
        told = [row.problem.value for row in panel._rows.values()]
        return "".join([panel._regions["message"].value, *told])
    return panel._regions[region].value.replace("\u00a0", " ")


def test_it_starts_with_the_answer_on_the_build(panel: Panel) -> None:
    assert panel.decision.verdict is decide(design(panel.start)).verdict
    for region in panel._shown():
        assert html_of(panel, region).startswith('<div class="evp')
    assert html_of(panel, "message") == html_of(panel, "keep") == ""


def test_a_picked_size_moves_fuse_diagram_and_tables(panel: Panel) -> None:
    before = {region: html_of(panel, region) for region in panel._shown()}
    panel._rows["main_size"].slider.value = "2 AWG"
    for region in ("verdict", "diagram", "schedule", "found"):
        assert html_of(panel, region) != before[region]
    assert "2 × 2 AWG" in html_of(panel, "diagram")
    assert panel.decision.verdict is Verdict.DOES_NOT_WORK
    assert NOT_TO_BUY in html_of(panel, "schedule")
    assert "[cabling.main]<br>size = &quot;2 AWG&quot;" in html_of(panel, "keep")


def test_the_list_and_the_slider_follow_what_is_set(panel: Panel) -> None:
    panel.set(main_size="4/0 AWG", main_length=3.5, strings=3)
    assert panel._rows["main_size"].slider.value == "4/0 AWG"
    assert panel._rows["main_length"].slider.value == 3.5
    assert panel.build.cabling.main.length.m == 3.5
    assert "3 strings" in html_of(panel, "diagram")
    panel._reset(None)
    assert panel.build is panel.start
    assert panel._rows["main_size"].slider.value == panel.start.cabling.main.conductor.size
    assert html_of(panel, "keep") == ""


def test_a_value_that_cannot_be_is_said_in_place_and_changes_nothing(
    panel: Panel,
) -> None:
    before = html_of(panel, "diagram")
    panel._rows["main_length"].number.value = -1
    assert 'role="alert"' in html_of(panel, "message")
    assert html_of(panel, "diagram") == before
    panel._rows["main_length"].number.value = 2
    assert html_of(panel, "message") == ""


def test_it_shows_the_figures_to_watch(panel: Panel) -> None:
    shown = html_of(panel, "figures")
    for part in ("String: fuse", "Main 5 kVA", ": cable", "✓ passes", "Dead short, at most"):
        assert part in shown


def test_a_page_without_a_kernel_gets_the_settled_state(panel: Panel) -> None:
    bundle = panel._repr_mimebundle_()
    assert "<b>4 AWG</b>" in bundle["text/html"].replace("\u00a0", " ")
    assert panel._regions["diagram"].value in bundle["text/html"]


def test_every_control_is_a_slider_or_a_box(panel: Panel) -> None:
    for row in panel._rows.values():
        for control in row.box.children:
            assert type(control).__name__ in {
                "FloatSlider",
                "FloatText",
                "IntSlider",
                "IntText",
                "Label",
                "SelectionSlider",
            }


def test_cells_that_are_not_charged_to_a_voltage_are_answered_all_the_same() -> None:
    sheet = (files("evpack.workbook") / "starter.toml").read_text(encoding="utf-8")
    panel = ProtectionPanel(parse_sheet(sheet.replace("pouch-7s", "hybrid-6s")))
    assert panel.decision.verdict is Verdict.DOES_NOT_WORK
    for region in ("diagram", "schedule"):
        assert "could not be worked out" in html_of(panel, region)


def test_the_noise_of_a_slider_is_no_choice(panel: Panel) -> None:
    panel._rows["main_length"].slider.value = 1.8000000000000003
    assert panel.build is panel.start
    assert panel._rows["main_length"].number.value == 1.8


def test_what_the_sheet_would_refuse_is_refused_in_the_panel() -> None:
    """Two pairs side by side count as two circuits that warm each other; three cannot be two."""
    panel = ProtectionPanel(read_sheet(example("wether-barn")))
    before = panel.build
    panel.set(main_parallel=3)
    assert "2 is less than parallel, 3" in html_of(panel, "message")
    assert panel.build is before


def test_of_a_design_that_is_held_up_no_fuse_and_no_cable_is_told_as_good() -> None:
    panel = ProtectionPanel(read_sheet(example("low-shed")))
    figures = panel._regions["figures"].value
    assert not panel.decision.go
    assert "not settled: the design does not stand" in figures
    assert "✓" not in figures.partition("<details")[0]
    for fuse in panel.decision.design.protection.fuses:
        if fuse.size is not None:
            assert f"<b>{fuse.size:g}" not in figures.replace("\u00a0", " ")
