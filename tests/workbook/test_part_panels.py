"""Panels of a part of the road: fewer controls, the same answer; and the voltages of modules."""

from collections.abc import Callable
from pathlib import Path

import attrs
import pytest

from evpack.base.errors import EvpackError
from evpack.decide import decide
from evpack.describe.build import Build
from evpack.design import design
from evpack.finished import as_built_record, commissioning_plan
from evpack.load.library import chemistry
from evpack.load.sheet import example, parse_sheet, read_sheet
from evpack.workbook.keep import Start, StartRecord
from evpack.workbook.listings import counted
from evpack.workbook.panel import FitPanel, Panel, SettingsPanel, VoltagePanel
from evpack.workbook.starter import start_sheet, starter_text

BARN = read_sheet(example("wether-barn"))


@pytest.mark.parametrize("kind", [FitPanel, SettingsPanel])
def test_a_panel_of_a_part_answers_as_the_whole_one(kind: Callable[[Build], Panel]) -> None:
    part, whole = kind(BARN), Panel(BARN)
    assert set(part._choices) < set(whole._choices)
    values = {"strings": 3} if kind is FitPanel else {"reserve": 35, "charge_target": 4.0}
    part.set(**values)
    whole.set(**values)
    assert part.build.pack.strings == whole.build.pack.strings
    for region in part._shown():
        assert part._regions[region].value == whole._regions[region].value
    assert "Settings" not in part._regions


def voltages(panel: Panel) -> list[tuple[float, ...]]:
    return [
        (f.least.value, f.nominal.value, f.charge_target.value, f.highest.value) for f in panel.made
    ]


def test_the_voltages_are_cells_times_the_voltage_of_one() -> None:
    panel = VoltagePanel(BARN)
    told = voltages(panel)
    assert len(told) == 8
    # The barn's module: 7 cells of 3.0 V when empty, 4.05 V charged, 4.2 V at most.
    for k, (least, _nominal, target, highest) in enumerate(told, start=1):
        assert least == pytest.approx(7 * k * 3.0)
        assert target == pytest.approx(7 * k * 4.05)
        assert highest == pytest.approx(7 * k * 4.2)
    assert "29.4 V" in panel._regions["answer"].value


def test_other_cells_have_the_voltages_of_their_own_kind() -> None:
    panel = VoltagePanel(BARN)
    lfp = chemistry("lfp")
    panel._rows["kind"].slider.value = "LFP"
    panel._rows["cells"].number.value = 16
    least, nominal, target, highest = voltages(panel)[0]
    limits = lfp.limits
    assert least == pytest.approx(16 * limits.least.m)
    assert nominal == pytest.approx(16 * limits.nominal.m)
    assert target == pytest.approx(16 * lfp.targets.charge.m)
    assert highest == pytest.approx(16 * limits.highest.m)
    # 16 of 3.2 V are the 51.2 V that such packs are sold as (common practice, no source).
    assert nominal == pytest.approx(51.2)
    panel._reset()
    hands = (panel._rows["kind"].slider.value, panel._rows["cells"].number.value)
    assert hands == ("NMC and LMO blend", 7)


def test_twelve_oxide_cells_sold_as_48_v_are_a_46_v_pack() -> None:
    panel = VoltagePanel(BARN)
    panel._rows["cells"].number.value = 12
    # Common practice, no source: between 44 and 46.5 V by the kind of the oxide.
    assert 44.0 <= voltages(panel)[0][1] <= 46.5


def test_cells_that_are_not_charged_to_a_voltage_say_why() -> None:
    panel = VoltagePanel(BARN)
    panel._rows["kind"].slider.value = "NiMH"
    assert "<table" not in panel._regions["answer"].value
    assert "NiMH" in panel._regions["answer"].value


def test_a_page_without_a_kernel_shows_the_table() -> None:
    html = VoltagePanel(BARN)._repr_mimebundle_()["text/html"]
    assert "Kind of cells" in html
    assert "<table" in html


def test_the_count_of_a_tall_pack_is_told_too() -> None:
    pack = attrs.evolve(BARN.pack, modules_in_series=40)
    found = counted(attrs.evolve(BARN, pack=pack))
    assert [figures.modules for figures in found] == [1, 2, 3, 4, 5, 6, 7, 8, 40]


def test_a_sheet_to_fill_in_is_written_once(tmp_path: Path) -> None:
    path = start_sheet(tmp_path / "mine.toml")
    assert path.read_text(encoding="utf-8") == starter_text()
    assert parse_sheet(starter_text()).title
    with pytest.raises(EvpackError, match="is there already"):
        start_sheet(path)
    with pytest.raises(EvpackError, match=r"ends in \.toml"):
        start_sheet(tmp_path / "mine.txt")


def test_the_button_writes_the_same_sheet(tmp_path: Path) -> None:
    start = Start()
    start.name.value = str(tmp_path / "barn.toml")
    start.button.click()
    assert "Written" in start.result.value
    assert (tmp_path / "barn.toml").read_text(encoding="utf-8") == starter_text()
    start.button.click()
    assert "is there already" in start.result.value


def test_a_record_to_fill_in_is_written_once_and_only_for_a_design_that_works(
    tmp_path: Path,
) -> None:
    plan = commissioning_plan(decide(design(BARN)))
    start = StartRecord(plan)
    start.name.value = str(tmp_path / "mine.toml")
    start.button.click()
    assert (tmp_path / "mine.toml").read_text(encoding="utf-8") == as_built_record(plan)
    held = StartRecord(commissioning_plan(decide(design(read_sheet(example("low-shed"))))))
    held.name.value = str(tmp_path / "held.toml")
    held.button.click()
    assert "may not be built" in held.result.value
    assert not (tmp_path / "held.toml").exists()
