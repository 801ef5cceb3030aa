"""The live panel of a year."""

from __future__ import annotations

from pathlib import Path

import attrs
import pytest
from strategies import good_build, with_inverter, with_module

from evpack.base.errors import DescriptionError
from evpack.describe.operation import Operation, daily
from evpack.design import design
from evpack.load.library import example
from evpack.load.sheet import read_sheet
from evpack.workbook.operation_panel import OperationPanel
from evpack.workbook.page import opened

LOAD = daily("flat", "48 kWh")
SHORT = Operation(load=LOAD, length="2 days", start="50 %", coldest="20 degC", warmest="25 degC")


def panel() -> OperationPanel:
    return OperationPanel(design(good_build()), SHORT)


def test_it_begins_as_the_operation_has_it() -> None:
    made = panel()
    assert made.changeover.value == pytest.approx(made.run.thresholds["changeover to the utility"])
    assert made.back.value == pytest.approx(made.run.thresholds["return to battery"])
    assert made.delay.value == 5
    assert "load carried by the utility" in made.answer.value
    build = attrs.evolve(good_build(), operation=SHORT)
    assert OperationPanel(design(build)).run.length == 2 * 86400


def test_a_threshold_that_is_dragged_runs_the_year_again() -> None:
    made = panel()
    calm = made.run
    made.changeover.value = 51.8
    made.back.value = 51.9
    assert made.run is not calm
    assert made.run.outcome is not None
    assert made.run.outcome.hunting.times > 0
    assert made.run.thresholds["return to battery"] == 51.9
    made.delay.value = 60
    assert made.operation().return_delay.m == 3600
    made.reset.click()
    assert made.run.thresholds == calm.thresholds
    assert made.delay.value == 5


def test_a_page_without_a_kernel_shows_the_state() -> None:
    made = panel()
    made.changeover.value = 51.8
    bundle = made._repr_mimebundle_()
    assert "application/vnd.jupyter.widget-view+json" in bundle
    assert "51.8" in bundle["text/html"]
    assert "load carried by the utility" in bundle["text/html"]
    assert "good build" in bundle["text/plain"]


def test_load_and_mode() -> None:
    made = panel()
    made.load.value = 50
    assert made.run.outcome is not None
    assert made.run.outcome.energy("load asked").value == pytest.approx(48000)
    made.mode.value = "island"
    assert made.run.mode == "island"
    made.mode.value = "utility first"
    assert made.run.mode == "utility first"


def test_what_cannot_be_is_said_in_place(monkeypatch: pytest.MonkeyPatch) -> None:
    made = panel()

    def refuse(*_given: object) -> None:
        raise DescriptionError("not today <b>")

    monkeypatch.setattr("evpack.workbook.operation_panel.simulate_operation", refuse)
    made.load.value = 55
    assert "not today" in made.message.value
    assert "<b>&lt;" not in made.message.value
    monkeypatch.undo()
    made.load.value = 60
    assert made.message.value == ""


def test_thresholds_that_nobody_settled_cannot_be_moved() -> None:
    made = OperationPanel(design(with_inverter(changeover="none", return_to_battery="none")), SHORT)
    assert made.changeover.disabled
    assert made.back.disabled
    made.load.value = 50
    assert made.run.mode == "island"


def test_a_design_that_cannot_be_run_says_so() -> None:
    made = OperationPanel(design(with_module(resistance=None)), SHORT)
    assert "Nothing could be run" in made.answer.value


def test_what_was_turned_over_is_written_to_a_new_sheet(tmp_path: Path) -> None:
    build = read_sheet(example("wether-barn"))
    brief_ = attrs.evolve(build, operation=attrs.evolve(build.operation, length="2 days"))
    made = OperationPanel(design(brief_))
    made.keep.name.value = str(tmp_path / "mine.toml")
    made.keep.button.click()
    assert "nothing is turned over" in made.keep.result.value
    made.changeover.value = 51.5
    made.back.value = 55.1
    made.delay.value = 12
    made.load.value = 50
    made.keep.button.click()
    assert "Written" in made.keep.result.value
    again = read_sheet(tmp_path / "mine.toml").operation
    assert again is not None
    assert (again.changeover.m, again.return_to_battery.m) == (51.5, 55.1)
    assert again.return_delay.m == 720
    # The barn's 9 kWh a day, halved.
    assert float(again.load.values.sum()) == pytest.approx(4500, rel=1e-5)
    made.mode.value = "island"
    made.keep.name.value = str(tmp_path / "island.toml")
    made.keep.button.click()
    island = read_sheet(tmp_path / "island.toml").operation
    assert island is not None
    assert (island.mode, island.mains_charging) == ("island", "never")


def test_thresholds_reach_as_far_as_the_inverter_lets_them_be_entered() -> None:
    made = OperationPanel(design(read_sheet(example("wether-barn"))), SHORT)
    # The barn's inverter offers a changeover from 44 to 54 V, a return from 46 to 58 V.
    assert (made.changeover.min, made.changeover.max) == (44.0, 54.0)
    assert (made.back.min, made.back.max) == (46.0, 58.0)


def test_a_threshold_that_does_not_run_in_a_mode_is_not_written(tmp_path: Path) -> None:
    build = read_sheet(example("wether-barn"))
    brief_ = attrs.evolve(build, operation=attrs.evolve(build.operation, length="2 days"))
    made = OperationPanel(design(brief_))
    made.changeover.value = 51.5
    made.mode.value = "island"
    made.keep.name.value = str(tmp_path / "island.toml")
    made.keep.button.click()
    assert (
        "changeover =" not in (tmp_path / "island.toml").read_text("utf-8").split("[operation]")[1]
    )


def test_an_operation_that_no_sheet_has_is_not_written(tmp_path: Path) -> None:
    made = OperationPanel(design(read_sheet(example("wether-barn"))), SHORT)
    made.load.value = 50
    made.keep.name.value = str(tmp_path / "mine.toml")
    made.keep.button.click()
    assert "not read from the build sheet" in made.keep.result.value


def test_profiles_travel_with_a_sheet(tmp_path: Path) -> None:
    """What a shared page must carry: every profile below the sheet's folder, and no other."""
    barn = example("wether-barn").read_text(encoding="utf-8").split("[operation]")[0]
    table = "Time / h,Power / W\n0,100\n12,300\n"
    (tmp_path / "house.csv").write_text(table, "utf-8")
    (tmp_path / "roof.csv").write_text(table, "utf-8")
    (tmp_path / "air.csv").write_text("Time / h,Air / degC\n0,10\n12,20\n", "utf-8")
    more = (
        '[operation.load]\nfile = "house.csv"\n[[operation.sun]]\nfile = "roof.csv"\n'
        '[operation.air]\nfile = "air.csv"\n'
    )
    sheet = tmp_path / "my.toml"
    sheet.write_text(barn + more, "utf-8")
    with opened(sheet) as found:
        assert set(found.records) == {"house.csv", "roof.csv", "air.csv"}
        assert found.build().operation is not None
    sheet.write_text(barn + more.replace("roof.csv", "../roof.csv"), "utf-8")
    with opened(sheet) as found:
        assert set(found.records) == {"house.csv", "air.csv"}
    one = more.replace("[[operation.sun]]", "[operation.sun]").replace("air.csv", "none.csv")
    sheet.write_text(barn + one, "utf-8")
    with opened(sheet) as found:
        assert set(found.records) == {"house.csv", "roof.csv"}
