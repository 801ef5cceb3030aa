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
from evpack.workbook.page import opened
from evpack.workbook.panel import OperationPanel, Panel

LOAD = daily("flat", "48 kWh")
SHORT = Operation(load=LOAD, length="2 days", start="50 %", coldest="20 degC", warmest="25 degC")


def panel() -> Panel:
    return OperationPanel(design(good_build()), SHORT)


def test_it_begins_as_the_operation_has_it() -> None:
    made = panel()
    assert made._rows["changeover"].number.value == pytest.approx(
        made.made.thresholds["changeover to the utility"]
    )
    assert made._rows["return_to_battery"].number.value == pytest.approx(
        made.made.thresholds["return to battery"]
    )
    assert made._rows["delay"].number.value == 5
    assert "load carried by the utility" in "".join(made._shown().values())
    build = attrs.evolve(good_build(), operation=SHORT)
    assert OperationPanel(design(build)).made.length == 2 * 86400


def test_a_threshold_that_is_dragged_runs_the_year_again() -> None:
    made = panel()
    calm = made.made
    made._rows["changeover"].slider.value = 51.8
    made._rows["return_to_battery"].slider.value = 51.9
    assert made.made is not calm
    assert made.made.outcome is not None
    assert made.made.outcome.hunting.times > 0
    assert made.made.thresholds["return to battery"] == 51.9
    made._rows["delay"].slider.value = 60
    assert made.build.operation.return_delay.m == 3600
    made._reset()
    assert made.made.thresholds == calm.thresholds
    assert made._rows["delay"].number.value == 5


def test_a_page_without_a_kernel_shows_the_state() -> None:
    made = panel()
    made._rows["changeover"].slider.value = 51.8
    bundle = made._repr_mimebundle_()
    assert "application/vnd.jupyter.widget-view+json" in bundle
    assert "51.8" in bundle["text/html"]
    assert "load carried by the utility" in bundle["text/html"]
    assert "good build" in bundle["text/plain"]


def test_load_and_mode() -> None:
    made = panel()
    made._rows["load"].slider.value = 50
    assert made.made.outcome is not None
    assert made.made.outcome.energy("load asked").value == pytest.approx(48000)
    made._rows["mode"].slider.value = "island"
    assert made.made.mode == "island"
    made._rows["mode"].slider.value = "utility first"
    assert made.made.mode == "utility first"


def test_what_cannot_be_is_said_in_place(monkeypatch: pytest.MonkeyPatch) -> None:
    made = panel()

    def refuse(*_given: object) -> None:
        raise DescriptionError("not today <b>")

    monkeypatch.setattr("evpack.workbook.listings.simulate_operation", refuse)
    made._rows["load"].slider.value = 55
    assert "not today" in made._rows["load"].problem.value
    assert "<b>&lt;" not in made._rows["load"].problem.value
    monkeypatch.undo()
    made._rows["load"].slider.value = 60
    assert made._rows["load"].problem.value == ""


def test_thresholds_that_nobody_settled_cannot_be_moved() -> None:
    made = OperationPanel(design(with_inverter(changeover="none", return_to_battery="none")), SHORT)
    assert made._rows["changeover"].slider.disabled
    assert made._rows["return_to_battery"].slider.disabled
    made._rows["load"].slider.value = 50
    assert made.made.mode == "island"


def test_a_design_that_cannot_be_run_says_so() -> None:
    made = OperationPanel(design(with_module(resistance=None)), SHORT)
    assert "Nothing could be run" in "".join(made._shown().values())


def test_what_was_turned_over_is_written_to_a_new_sheet(tmp_path: Path) -> None:
    build = read_sheet(example("wether-barn"))
    brief_ = attrs.evolve(build, operation=attrs.evolve(build.operation, length="2 days"))
    made = OperationPanel(design(brief_))
    made.keep.name.value = str(tmp_path / "mine.toml")
    made.keep.button.click()
    assert "nothing is turned over" in made.keep.result.value
    made._rows["changeover"].slider.value = 51.5
    made._rows["return_to_battery"].slider.value = 55.1
    made._rows["delay"].slider.value = 12
    made._rows["load"].slider.value = 50
    made.keep.button.click()
    assert "Written" in made.keep.result.value
    again = read_sheet(tmp_path / "mine.toml").operation
    assert again is not None
    assert (again.changeover.m, again.return_to_battery.m) == (51.5, 55.1)
    assert again.return_delay.m == 720
    # The barn's 9 kWh a day, halved.
    assert float(again.load.values.sum()) == pytest.approx(4500, rel=1e-5)
    made._rows["mode"].slider.value = "island"
    made.keep.name.value = str(tmp_path / "island.toml")
    made.keep.button.click()
    island = read_sheet(tmp_path / "island.toml").operation
    assert island is not None
    assert (island.mode, island.mains_charging) == ("island", "never")


def test_thresholds_reach_as_far_as_the_inverter_lets_them_be_entered() -> None:
    made = OperationPanel(design(read_sheet(example("wether-barn"))), SHORT)
    # The barn's inverter offers a changeover from 44 to 54 V, a return from 46 to 58 V.
    assert (made._rows["changeover"].slider.min, made._rows["changeover"].slider.max) == (
        44.0,
        54.0,
    )
    assert (
        made._rows["return_to_battery"].slider.min,
        made._rows["return_to_battery"].slider.max,
    ) == (46.0, 58.0)


def test_a_threshold_that_does_not_run_in_a_mode_is_not_written(tmp_path: Path) -> None:
    build = read_sheet(example("wether-barn"))
    brief_ = attrs.evolve(build, operation=attrs.evolve(build.operation, length="2 days"))
    made = OperationPanel(design(brief_))
    made._rows["changeover"].slider.value = 51.5
    made._rows["mode"].slider.value = "island"
    made.keep.name.value = str(tmp_path / "island.toml")
    made.keep.button.click()
    assert (
        "changeover =" not in (tmp_path / "island.toml").read_text("utf-8").split("[operation]")[1]
    )


def test_an_operation_that_no_sheet_has_is_not_written(tmp_path: Path) -> None:
    made = OperationPanel(design(read_sheet(example("wether-barn"))), SHORT)
    made._rows["load"].slider.value = 50
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
