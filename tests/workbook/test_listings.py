"""Every panel is a list of controls and a list of regions; what all have in common."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

import attrs
import pytest
import tomlkit

from evpack.base.errors import DescriptionError
from evpack.decide import decide
from evpack.describe.build import Build
from evpack.design import design
from evpack.edit import edited, places
from evpack.load.batch import example_batch, read_batch
from evpack.load.sheet import example, parse_sheet, read_sheet
from evpack.matching import match_heap
from evpack.show.html import verdict_html
from evpack.simulate.operation import simulate_operation
from evpack.workbook.panel import (
    ArrangementPanel,
    FitPanel,
    HeapPanel,
    OperationPanel,
    Panel,
    ProtectionPanel,
    SettingsPanel,
    TradeOffPanel,
    VoltagePanel,
)
from evpack.workbook.regions import grid

BARN = read_sheet(example("wether-barn"))
HEAP = read_batch(example_batch("hill-heap"))


def short() -> Build:
    """Return the barn with two days of operation."""
    assert BARN.operation is not None
    return attrs.evolve(BARN, operation=attrs.evolve(BARN.operation, length="2 days"))


MAKE: dict[str, Callable[[], Panel]] = {
    "decision": lambda: Panel(BARN),
    "fit": lambda: FitPanel(BARN),
    "settings": lambda: SettingsPanel(BARN),
    "protection": lambda: ProtectionPanel(BARN),
    "voltages": lambda: VoltagePanel(BARN),
    "year": lambda: OperationPanel(design(short())),
    "heap": lambda: HeapPanel(HEAP),
    "arrangements": lambda: ArrangementPanel(BARN),
    "trade-offs": lambda: TradeOffPanel(BARN),
}
made = cache(lambda name: MAKE[name]())  # for tests that move nothing

CABLES = [
    (f"{run}_{part}", f"cabling.{run}.{part}", kind)
    for run in ("main", "module_lead", "charger")
    for part, kind in (("size", "words"), ("length", "slider"), ("parallel", "slider"))
]
SERIES = ("modules_in_series", "pack.modules_in_series", "slider")
STRINGS = ("strings", "pack.strings", "slider")
TARGET = ("charge_target", "policy.charge_target", "slider")
RESERVE = ("reserve", "policy.reserve", "slider")
LOAD = ("continuous_load", "load.continuous", "slider")
LISTED: dict[str, tuple[list[tuple[str, str, str]], list[str]]] = {
    "decision": (
        [SERIES, STRINGS, TARGET, RESERVE, LOAD],
        ["verdict", "figures", "ladder", "energy", "found", "settings"],
    ),
    "fit": ([SERIES, STRINGS], ["verdict", "figures", "ladder", "found"]),
    "settings": (
        [TARGET, RESERVE, LOAD],
        ["verdict", "figures", "energy", "found", "settings"],
    ),
    "protection": (
        [STRINGS, *CABLES],
        ["verdict", "figures", "diagram", "found", "schedule"],
    ),
    "voltages": (
        [("kind", "module.chemistry", "words"), ("cells", "module.cells_in_series", "box")],
        ["answer"],
    ),
    "year": (
        [
            ("mode", "operation.mode", "buttons"),
            ("changeover", "operation.changeover", "slider"),
            ("return_to_battery", "operation.return_to_battery", "slider"),
            ("delay", "operation.return_delay", "slider"),
            ("load", "operation.load.energy", "slider"),
        ],
        ["figures", "pictures", "found"],
    ),
    "heap": (
        [
            ("modules_in_series", "wanted.modules_in_series", "box"),
            ("strings", "wanted.strings", "box"),
        ],
        ["answer"],
    ),
    "arrangements": ([("modules", "module.available", "box")], ["answer"]),
    "trade-offs": ([("pick", "", "list")], ["picture", "lines"]),
}


@pytest.mark.parametrize("name", MAKE)
def test_what_each_panel_holds(name: str) -> None:
    panel, (controls, regions) = made(name), LISTED[name]
    assert [(c.key, c.place, c.kind) for c in panel.listing.controls] == controls
    assert [region for region, _ in panel.listing.regions] == regions
    for region in regions:
        assert panel._regions[region].value.startswith('<div class="evp')


@pytest.mark.parametrize("name", MAKE)
def test_every_control_edits_a_place_that_an_edit_knows(name: str) -> None:
    for choice in made(name).listing.controls:
        for value in choice.options or (choice.low, choice.high):
            edits = choice.edits(value)
            assert edits
            assert {place for place, _ in edits} <= set(places())


@pytest.mark.parametrize("name", MAKE)
def test_every_hand_of_a_control_has_a_name(name: str) -> None:
    panel = made(name)
    for choice in panel.listing.controls:
        for hand in panel._rows[choice.key].hands:
            assert hand.description.startswith(choice.label)


@pytest.mark.parametrize("name", [name for name in MAKE if name != "trade-offs"])
def test_untouched_it_shows_what_the_run_above_it_says_and_writes_nothing(
    name: str, tmp_path: Path
) -> None:
    panel = made(name)
    assert panel._turned.edits == ()
    assert panel.build is panel.start
    assert panel._regions["keep"].value == panel._regions["message"].value == ""
    if panel.listing.sheet is not None:
        panel.keep.name.value = str(tmp_path / "mine.toml")
        panel.keep.button.click()
        assert "nothing is turned over" in panel.keep.result.value
        panel.keep.clear()
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("name", ["decision", "fit", "settings", "protection"])
def test_an_untouched_panel_of_a_decision_shows_its_figures(name: str) -> None:
    panel, above = made(name), decide(design(BARN))
    keys = panel.listing.what_if.keys
    assert panel.build is BARN
    assert verdict_html(above) in panel._regions["verdict"].value
    assert grid(keys(above.design)) in panel._regions["figures"].value


def test_an_untouched_year_and_an_untouched_heap_are_those_above_them() -> None:
    above = simulate_operation(design(short()))
    shown = made("year").made
    assert shown.thresholds == above.thresholds
    assert shown.findings == above.findings
    assert shown.outcome.energies == above.outcome.energies
    again = match_heap(HEAP, proven=False)
    assert made("heap").build is HEAP
    assert made("heap").made.grouping.strings == again.grouping.strings


MOVES = [
    ("decision", {"modules_in_series": 3}),
    ("decision", {"charge_target": 4.0, "reserve": 40}),
    ("decision", {"continuous_load": 0.6}),
    ("protection", {"main_parallel": 1, "main_length": 3.5}),
    ("protection", {"main_size": "smallest", "strings": 3}),
]


@pytest.mark.parametrize(("name", "values"), MOVES)
def test_what_is_shown_is_what_the_sheet_that_is_written_says(
    name: str, values: dict[str, Any]
) -> None:
    """Every region, to the last sign."""
    panel = MAKE[name]()
    panel.set(**values)
    again = decide(design(parse_sheet(panel._sheet(Path()), folder=Path())))
    for region, told in panel.listing.regions:
        assert told(again, False) in panel._regions[region].value  # noqa: FBT003


@pytest.mark.parametrize("name", ["decision", "protection", "year"])
def test_a_move_writes_no_sheet_and_reads_none(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    panel = MAKE[name]()
    before = panel.made

    def never(*_given: object, **_more: object) -> None:
        raise AssertionError

    for module, function in ((tomllib, "loads"), (tomlkit, "parse"), (tomlkit, "dumps")):
        monkeypatch.setattr(module, function, never)
    key = {"decision": "charge_target", "protection": "main_length", "year": "changeover"}[name]
    choice = panel._choices[key]
    panel.set(**{key: choice.value + choice.step})
    assert panel.made is not before
    assert len(panel._turned.edits) == 1


def test_an_error_stands_beside_its_field_and_goes_with_it() -> None:
    panel = Panel(BARN)
    panel.set(reserve=150, strings=3)
    told = {key: row.problem.value for key, row in panel._rows.items()}
    assert "reserve" in told["reserve"]
    assert [key for key, problem in told.items() if problem] == ["reserve"]
    assert panel._rows["reserve"].problem.layout.display is None
    assert panel._rows["strings"].problem.layout.display == "none"
    panel.set(reserve=30)
    assert not any(row.problem.value for row in panel._rows.values())
    assert panel.build.pack.strings == 3


def test_what_all_choices_together_cannot_be_stands_where_one_moved_last(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    panel = Panel(BARN)

    def refuse(_build: object) -> None:
        raise DescriptionError("not together")

    monkeypatch.setattr("evpack.workbook.listings.design", refuse)
    panel.set(strings=3)
    assert "not together" in panel._rows["strings"].problem.value
    assert panel.build is BARN


def test_the_verdict_is_sent_first_and_nothing_stale_stands_below_it() -> None:
    panel = Panel(BARN)
    seen: list[str] = []
    for name, region in panel._regions.items():
        region.observe(lambda _change, name=name: seen.append(name), "value")
    panel.set(strings=20)
    assert seen[:3] == ["verdict", "figures", "ladder"]

    def broken(_made: object, _why: bool) -> str:  # noqa: FBT001
        raise ValueError

    regions = tuple((n, broken if n == "ladder" else f) for n, f in panel.listing.regions)
    panel.listing = attrs.evolve(panel.listing, regions=regions)
    with pytest.raises(ValueError):  # noqa: PT011
        panel.set(strings=3)
    assert "Works with limits" in panel._regions["verdict"].value
    for name in ("ladder", "energy", "found", "settings"):
        assert panel._regions[name].value == ""


def test_an_edit_of_the_load_is_what_a_day_takes() -> None:
    """The barn's 9 kWh a day at 50 % are 4.5 kWh; what is typed is what a sheet would say."""
    (choice,) = (c for c in made("year").listing.controls if c.key == "load")
    assert choice.edits(50) == (("operation.load.energy", "4.5 kWh"),)
    after = edited(BARN, *choice.edits(50)).operation
    assert after is not None
    assert float(after.load.values.sum()) == pytest.approx(4500)
    with pytest.raises(DescriptionError, match="no operation"):
        edited(attrs.evolve(BARN, operation=None), *choice.edits(50))
