"""A candidate becomes a sheet: read again it is the changed build, and no comment is lost."""

from __future__ import annotations

from pathlib import Path

import pytest
from strategies import good_build, good_inverter

from evpack.base.errors import DescriptionError, EvpackError
from evpack.decide import decide
from evpack.design import design
from evpack.load.library import example
from evpack.load.sheet import parse_sheet, read_sheet
from evpack.outcome.search import Change
from evpack.search.arrangements import search_arrangements
from evpack.search.changes import arranged, changed
from evpack.search.sheet_out import sheet_for, write_sheet
from evpack.search.ways import find_ways

BARN = read_sheet(example("wether-barn"))


def change(place: str, value: object) -> Change:
    return Change(place=place, value=value, says=f"{place} otherwise")


def test_what_is_read_again_is_the_changed_build() -> None:
    changes = (
        *arranged(2, 3),
        change("policy.charge_target", "3.98 V"),
        change("policy.reserve", "35 %"),
        change("load.continuous", "1.5 kW"),
        change("inverter.count", 2),
        change("cabling.main.size", "smallest"),
        change("protection.main_fuse", "nh-gg"),
    )
    wanted, got = changed(BARN, changes), parse_sheet(sheet_for(BARN, changes), "new.toml")
    assert (got.pack.modules_in_series, got.pack.strings) == (2, 3)
    for table, key in (
        ("policy", "charge_target"),
        ("policy", "reserve"),
        ("load", "continuous"),
        ("load", "typical"),
        ("load", "peak"),
    ):
        mine, theirs = (getattr(getattr(b, table), key) for b in (got, wanted))
        assert (mine is None) == (theirs is None)
        if mine is not None:
            assert float(mine.m) == pytest.approx(float(theirs.m), rel=1e-5)
    assert got.inverters[0].count == 2
    assert got.cabling.main is not None
    assert got.cabling.main.left_open
    assert got.safeguards.main_fuse == "nh-gg"


def test_no_comment_and_no_other_line_is_lost() -> None:
    text = sheet_for(BARN, arranged(2, 3))
    old, new = BARN.sheet.splitlines(), text.splitlines()
    different = [(a, b) for a, b in zip(old, new, strict=True) if a != b]
    assert len(different) == 1
    assert different[0][1].startswith("strings = 3")
    assert text.count("#") == BARN.sheet.count("#")


def test_the_way_out_of_an_example_is_a_sheet_that_works(tmp_path: Path) -> None:
    shed = read_sheet(example("low-shed"))
    way = find_ways(shed).to_go[0]
    file = write_sheet(shed, tmp_path / "mended.toml", way.candidate)
    again = find_ways(read_sheet(file))
    assert again.now.go
    with pytest.raises(EvpackError, match="is there already"):
        write_sheet(shed, file, way.candidate)
    with pytest.raises(EvpackError, match="cannot be written"):
        write_sheet(shed, tmp_path / "no" / "such.toml", way.candidate)


def test_a_ranked_candidate_is_a_sheet_too() -> None:
    best = search_arrangements(BARN).best
    assert best is not None
    assert parse_sheet(sheet_for(BARN, best), "best.toml").pack.strings == 4


def test_what_cannot_be_written_is_refused() -> None:
    with pytest.raises(DescriptionError, match="was not read from a build sheet"):
        sheet_for(good_build(), arranged(2, 3))
    with pytest.raises(DescriptionError, match="whole section \\[\\[inverter\\]\\]"):
        sheet_for(BARN, (change("inverter", good_inverter()),))


def test_a_sheet_for_more_modules_says_that_they_are_there() -> None:
    # The sheet says nine; of 24 the best takes 14 or more, and its sheet must decide as it did.
    best = search_arrangements(BARN, 24).best
    assert best is not None
    assert best.modules > 9
    again = parse_sheet(sheet_for(BARN, best), "best.toml")
    assert again.pack.module.available == 24
    assert decide(design(again)).go
