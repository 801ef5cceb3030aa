"""The library: chemistries, entries, sources, listing."""

from collections.abc import Callable
from pathlib import Path

import attrs
import numpy as np
import pytest

from evpack.base.basis import Basis
from evpack.base.errors import DataError
from evpack.base.source import Seen
from evpack.load.chemistries import chemistry, shipped, shipped_record
from evpack.load.entries import entry, keys, lead_acid_profile
from evpack.load.fields import Place
from evpack.load.library import (
    LibraryEntry,
    as_typed,
    charger_entry,
    inverter_entry,
    library,
    module_entry,
    profiles_near,
)
from evpack.load.places import data_dir, workbooks_dir
from evpack.load.sheet import parse_sheet
from evpack.load.tables import source, sources

USABLE = ("nmc", "nmc-lmo", "lmo", "nca", "lfp", "lto")


def test_places() -> None:
    assert (data_dir() / "sources.toml").is_file()
    assert workbooks_dir().is_dir()


def test_an_installed_wheel_carries_the_data_inside(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    (tmp_path / "_data").mkdir()
    monkeypatch.setattr("evpack.load.places._PACKAGE", tmp_path)
    assert data_dir() == tmp_path / "_data"


@pytest.mark.parametrize("key", USABLE)
def test_chemistry(key: str) -> None:
    held = chemistry(key)
    assert held is chemistry(key), "read once"
    assert held.key == key
    assert held.basis.of("limits") is Basis.ASSUMED
    assert "data sheet overrides" in held.confidence
    assert held.targets is not None
    assert held.ocv is not None
    assert held.ocv.basis is Basis.ASSUMED
    assert held.ocv.quality
    targets, limits = held.targets, held.limits
    # The ladder leaves room: guard above the charge target, then a gap to each threshold.
    assert targets.charge.m + targets.top_guard.m < targets.warn_high.m
    gap = targets.ladder_gap.m - 1e-9
    assert targets.cut_high.m - targets.warn_high.m >= gap
    assert targets.warn_low.m - targets.cut_low.m >= gap
    assert targets.low_at_rest.m - targets.warn_low.m >= gap
    assert limits.reject_below.m <= limits.least.m <= targets.cut_low.m
    assert targets.float_most.m < targets.charge.m
    # The curve crosses the charge target, so that a state of charge belongs to it.
    assert held.ocv.volts[0] < targets.charge.m < held.ocv.volts[-1]


@pytest.mark.parametrize(
    ("key", "guard", "gap", "rest_h"),
    [
        ("nmc", 20, 30, 1),
        ("nmc-lmo", 20, 30, 1),
        ("lmo", 20, 30, 1),
        ("nca", 20, 30, 1),
        ("lfp", 50, 50, 4),
        ("lto", 20, 40, 1),
    ],
)
def test_guards(key: str, guard: float, gap: float, rest_h: float) -> None:
    targets = chemistry(key).targets
    assert targets is not None
    assert targets.top_guard.m == pytest.approx(guard / 1e3)
    assert targets.ladder_gap.m == pytest.approx(gap / 1e3)
    assert targets.rest.m == pytest.approx(rest_h * 3600)


def test_only_lfp_is_flat() -> None:
    assert [key for key in USABLE if chemistry(key).flat] == ["lfp"]
    curve = chemistry("lfp").ocv
    assert curve is not None
    low, high = np.interp([0.2, 0.8], curve.soc, curve.volts)
    assert (high - low) * 1e3 == pytest.approx(92, abs=1), "20 to 80 %, mV a cell"


def test_nimh_is_refused_with_its_reason() -> None:
    nimh = chemistry("nimh")
    assert nimh.targets is None
    assert nimh.ocv is None
    for word in ("−ΔV", "dT/dt", "timer"):
        assert word in nimh.why_refused


def test_the_blend_is_measured_by_the_shipped_record() -> None:
    curve = chemistry("nmc-lmo").ocv
    assert curve is not None
    # From that record, as listed with it: state of charge and rest voltage.
    for soc, volts in {1.0: 4.182, 0.582: 3.949, 0.374: 3.869, 0.061: 3.531}.items():
        assert np.interp(soc, curve.soc, curve.volts) == pytest.approx(volts, abs=3e-3)


def test_entries_are_assumed_and_complete_enough() -> None:
    for key in keys("modules"):
        module = module_entry(key)
        assert module.capacity.m > 0
        assert set(module.basis.exceptions.values()) == {Basis.ASSUMED}
    for key in keys("inverters"):
        inverter = inverter_entry(key)
        assert inverter.window_low is not None
        assert inverter.restart is None, "a guess there would matter"
        assert inverter.continuous is None
        assert inverter.charger is None, "a class cannot know it"
    for key in keys("chargers"):
        assert charger_entry(key).source in {"solar", "mains", "generator"}


def test_profiles() -> None:
    flooded = lead_acid_profile("flooded-48v")
    numbers = attrs.astuple(flooded, recurse=False)[1:7]
    assert [q.m for q in numbers] == pytest.approx([57.6, 54.0, 62.0, 0.12, 25.0, 42.0])
    quarter = lead_acid_profile("flooded-12v")
    assert quarter.absorption.m == pytest.approx(57.6 / 4)
    assert quarter.compensation.m == pytest.approx(0.12 / 4)
    assert profiles_near(51.0)[0].absorption.m == pytest.approx(57.6)
    assert profiles_near(400.0) == ()


@pytest.mark.parametrize(
    "entry", [e for e in library() if e.kind in {"module", "inverter", "charger"}], ids=str
)
def test_an_entry_as_typed_is_a_part_of_a_sheet(entry: LibraryEntry) -> None:
    parts = {
        "module": '[module]\nuse = "pouch-7s"',
        "inverter": '[[inverter]]\nname = "box"',
        "charger": "",
    }
    parts[entry.kind] = as_typed(entry)
    rest = '[pack]\nmodules_in_series = 2\n[load]\ncontinuous = "1 kW"'
    build = parse_sheet("\n".join(['title = "x"', *parts.values(), rest]))
    found = {
        "module": build.pack.module,
        "inverter": build.inverters[0],
        "charger": build.chargers[0] if build.chargers else None,
    }[entry.kind]
    takes = {"module": module_entry, "inverter": inverter_entry, "charger": charger_entry}
    held = takes[entry.kind](entry.key)
    for field in attrs.fields(type(held)):
        if field.name != "basis":
            assert getattr(found, field.name) == getattr(held, field.name)


def test_a_chemistry_is_no_part_of_a_sheet() -> None:
    assert [as_typed(e) for e in library() if e.kind == "chemistry"] == [""] * 7


def test_listing() -> None:
    lines = library()
    assert {line.kind for line in lines} == {
        "chemistry",
        "module",
        "inverter",
        "charger",
        "profile",
        "example",
    }
    for line in lines:
        assert line.name
        assert line.summary
        assert "\n" not in line.summary


@pytest.mark.parametrize(
    ("ask", "near"),
    [
        (lambda: chemistry("nmcc"), "'nmc'"),
        (lambda: entry("inverters", "class48v"), "class-48v"),
        (lambda: module_entry("pouch-8s"), "pouch-7s"),
        (lambda: charger_entry("solar"), "solar-60a-48v"),
        (lambda: source("nec-310.61"), "nec-310.16"),
        (lambda: shipped_record("cell.csv", Place("sheet", "key")), "hppc"),
    ],
)
def test_an_unknown_key_names_the_nearest(ask: Callable[[], object], near: str) -> None:
    with pytest.raises(DataError, match=near):
        ask()


def test_sources() -> None:
    assert source("nec-310.16").seen is Seen.COPY
    assert "second hand" in str(source("nec-310.16"))
    assert all(s.title for s in sources().values())
    assert set(shipped("chemistries")) == {*USABLE, "nimh"}
