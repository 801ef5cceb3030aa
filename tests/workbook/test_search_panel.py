"""The panel of arrangements, without a browser."""

from __future__ import annotations

from strategies import good_build

from evpack.workbook.search_panel import ArrangementPanel


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
