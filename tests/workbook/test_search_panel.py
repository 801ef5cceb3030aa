"""The panel of arrangements, without a browser."""

from __future__ import annotations

from strategies import good_build

from evpack.load.library import example
from evpack.load.sheet import parse_sheet, read_sheet
from evpack.search.sheet_out import sheet_for
from evpack.workbook.search_panel import ArrangementPanel, TradeOffPanel


def test_more_modules_make_a_larger_pack() -> None:
    panel = ArrangementPanel(good_build())
    assert panel.modules.value == 10
    assert panel.ranking is not None
    assert panel.ranking.best is not None
    # Four strings give 21.3 kA, and the disconnect stands 20 kA.
    assert panel.ranking.best.modules == 6
    panel.modules.value = 6
    assert panel.ranking.best.name == "2 in series, 3 in parallel"
    assert "2 in series, 3 in parallel" in panel.answer.value
    assert (panel.bar.value, panel.bar.max) == (14, 14)  # 6 + 3 + 2 + 1 + 1 + 1 arrangements


def test_a_heap_that_allows_nothing_says_so() -> None:
    panel = ArrangementPanel(good_build())
    panel.modules.value = 1
    assert "None of them may be built" in panel.answer.value


def test_a_point_that_is_picked_becomes_lines_of_a_sheet() -> None:
    build = read_sheet(example("wether-barn"))
    panel = TradeOffPanel(build)
    panel.pick.value = panel.found.front[1].name
    assert panel.picked is panel.found.front[1]
    assert "policy.charge_target" in panel.lines.value
    target = next(c.value for c in panel.picked.changes if c.place == "policy.charge_target")
    assert str(target) in panel.lines.value
    again = parse_sheet(sheet_for(build, panel.picked), "picked.toml")
    assert again.policy.charge_target is not None
    assert f"{float(again.policy.charge_target.m):.3f} V" == target


def test_where_nothing_may_be_built_there_is_nothing_to_pick() -> None:
    panel = TradeOffPanel(read_sheet(example("left-on")))
    assert panel.picked is None
    assert panel.lines.value == ""
