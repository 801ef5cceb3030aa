"""The panel of arrangements, without a browser."""

from __future__ import annotations

from pathlib import Path

import pytest
from strategies import good_build

from evpack.design import design
from evpack.load.equipment_list import parse_equipment
from evpack.load.library import example
from evpack.load.sheet import parse_sheet, read_sheet
from evpack.search.sheet_out import sheet_for
from evpack.workbook.panel import ArrangementPanel, Panel, TradeOffPanel


def picks(panel: Panel) -> tuple[str, ...]:
    return panel._rows["pick"].slider.options


def pick(panel: Panel, number: int) -> None:
    panel._rows["pick"].slider.value = picks(panel)[number - 1]


def test_more_modules_make_a_larger_pack() -> None:
    panel = ArrangementPanel(good_build())
    assert panel._values["modules"] == 10
    assert panel.made is not None
    assert panel.made.best is not None
    # Four strings give 21.3 kA, and the disconnect stands 20 kA.
    assert panel.made.best.modules == 6
    panel._rows["modules"].number.value = 6
    assert panel.made.best.name == "2 in series, 3 in parallel"
    assert "2 in series, 3 in parallel" in panel._regions["answer"].value
    assert (panel._bar.value, panel._bar.max) == (14, 14)  # 6 + 3 + 2 + 1 + 1 + 1 arrangements


def test_a_heap_that_allows_nothing_says_so() -> None:
    panel = ArrangementPanel(good_build())
    panel._rows["modules"].number.value = 1
    assert "None of them may be built" in panel._regions["answer"].value


def test_a_point_that_is_picked_becomes_lines_of_a_sheet() -> None:
    build = read_sheet(example("wether-barn"))
    panel = TradeOffPanel(build)
    pick(panel, 2)
    assert picks(panel)[1] == f"2. {panel.made.name}"
    assert "policy.charge_target" in panel._regions["lines"].value
    target = next(c.value for c in panel.made.changes if c.place == "policy.charge_target")
    assert str(target) in panel._regions["lines"].value
    again = parse_sheet(sheet_for(build, panel.made), "picked.toml")
    assert again.policy.charge_target is not None
    assert f"{float(again.policy.charge_target.m):.3f} V" == target


def test_a_button_writes_the_sheet_and_never_over_another(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    panel = TradeOffPanel(read_sheet(example("wether-barn")))
    pick(panel, 2)
    panel.keep.name.value = "mine.toml"
    panel.keep.button.click()
    assert "Written: mine.toml" in panel.keep.result.value
    made = design(read_sheet(tmp_path / "mine.toml"))
    assert panel.made is not None
    assert made.usable is not None
    assert made.usable.reachable.value == pytest.approx(panel.made.usable)
    written = (tmp_path / "mine.toml").read_bytes()
    pick(panel, 1)  # what was said of the other is taken away
    assert panel.keep.result.value == ""
    panel.keep.button.click()
    assert "is there already" in panel.keep.result.value
    assert (tmp_path / "mine.toml").read_bytes() == written
    for wrong, said in (("", "a name"), ("mine", "must end in"), ("no/way.toml", "cannot be")):
        panel.keep.name.value = wrong
        panel.keep.button.click()
        assert said in panel.keep.result.value


def test_a_device_of_a_list_is_named_and_written(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    barn = read_sheet(example("wether-barn"))
    text = barn.sheet[barn.sheet.index("[[inverter]]") : barn.sheet.index("[[charger]]")]
    text = text.replace('"5 kVA inverter charger, 48 V class"', '"another <b>"\nprice = "90 EUR"')
    listed = parse_equipment(text.replace('"92 %"', '"96 %"'), "list.toml")
    panel = TradeOffPanel(barn, module_price="40 EUR", equipment=listed, budget=100.0)
    number = next(k for k, name in enumerate(picks(panel), 1) if "another" in name)
    pick(panel, number)
    assert "[[inverter]]" in panel._regions["lines"].value
    assert "<b>" not in panel._regions["lines"].value.replace("<b>✓", "")
    panel.keep.button.click()
    made = read_sheet(tmp_path / "picked.toml").inverters[0]
    assert made.efficiency is not None
    assert made.efficiency.m == 0.96


def test_without_a_sheet_it_says_why_there_is_no_button() -> None:
    panel = TradeOffPanel(good_build(), 6)
    assert panel.listing.sheet is None
    assert "made in Python" in panel._regions["unwritten"].value


def test_where_nothing_may_be_built_there_is_nothing_to_pick() -> None:
    panel = TradeOffPanel(read_sheet(example("left-on")))
    assert panel.made is None
    assert "lines" not in panel._regions
    assert not panel._rows
    assert panel.listing.sheet is None


def test_a_shared_page_shows_what_the_panels_showed() -> None:
    arrangements = ArrangementPanel(good_build())._repr_mimebundle_()
    assert "2 in series, 3 in parallel" in arrangements["text/html"]
    assert "modules at hand" in arrangements["text/html"]
    panel = TradeOffPanel(read_sheet(example("wether-barn")), module_price="40 EUR")
    page = panel._repr_mimebundle_()["text/html"]
    assert panel.made is not None
    assert panel.made.name in page
    assert "<svg" in page
    assert "320 EUR" in page.replace("\N{NO-BREAK SPACE}", " ")
    nothing = TradeOffPanel(read_sheet(example("left-on")))._repr_mimebundle_()
    assert "may be built" in nothing["text/html"]


def test_a_price_that_is_none_is_told_in_place() -> None:
    panel = ArrangementPanel(good_build(), module_price="forty")
    assert "is no price" in panel._regions["message"].value
