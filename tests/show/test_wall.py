"""Sheets for the wall: every setting once, and nothing of a design that is no go."""

from __future__ import annotations

import html
import re

import attrs
import pytest

from evpack.base.errors import EvpackError
from evpack.base.fitted import NOT_FITTED
from evpack.decide import decide
from evpack.describe.build import Build
from evpack.design import design
from evpack.finished import commissioning_plan
from evpack.load.sheet import example, read_sheet
from evpack.outcome.settings import Act
from evpack.show.wall import SHEETS, wall_page
from evpack.workbook.page import not_allowed

BARN = read_sheet(example("wether-barn"))
ON = "2026-10-04"


def page_of(build: Build, *only: str) -> str:
    return wall_page(commissioning_plan(decide(design(build))), only or SHEETS, on=ON)


def words_of(fragment: str) -> str:
    body = fragment.partition("<body>")[2]
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", body)).replace("\u00a0", " ").split())


def test_every_setting_stands_once_with_its_entry() -> None:
    told = page_of(BARN, "settings")
    sheet = design(BARN).settings
    assert told.count('<section class="sheet') == len(sheet.devices)
    found = re.findall(r'big-entry">([^<]*)<', told)
    entries = [html.unescape(entry).replace("\u00a0", " ") for entry in found]
    lines = [line for device in sheet.devices for line in device.lines]
    assert len(entries) == len(lines)
    for line, entry in zip(lines, entries, strict=True):
        assert entry == (line.entry if line.act is Act.ENTER else "TURN OFF")


@pytest.mark.parametrize("name", ["low-shed", "left-on"])
def test_a_design_that_is_no_go_gives_nothing_to_enter_buy_or_switch_on(name: str) -> None:
    build = read_sheet(example(name))
    decision = decide(design(build))
    assert not decision.go
    told = page_of(build)
    assert "big-entry" not in told.partition("<body>")[2]
    assert "What to buy" not in told
    assert "<svg" not in told
    words = words_of(told)
    assert words.count("This design may not be built yet") == 4
    assert decision.held_by[0].detail in words
    # What hangs on the modules is true of any pack.
    assert "Labels for the modules" in words
    assert "In an emergency" in words


def test_every_place_in_the_pack_has_its_label() -> None:
    told = words_of(page_of(BARN, "labels"))
    for string in range(1, 5):
        for place in (1, 2):
            assert f"String {string} · {place} of 2" in told
    # Worked by hand: 7 cells of 4.2 V are 29.4 V.
    assert told.count("up to 29.4 V DC, always live") == 8


def test_the_card_says_where_to_switch_off_and_leaves_a_blank_where_nobody_said() -> None:
    told = words_of(page_of(BARN, "emergency"))
    assert "Battery of 8 vehicle modules, 58.8 V DC" in told
    assert "outside, beside the lean-to's door" in told
    assert "as long as there is daylight" in told
    guards = attrs.evolve(BARN.safeguards, emergency_off=NOT_FITTED, disconnect=None)
    bare = words_of(page_of(attrs.evolve(BARN, safeguards=guards, arrays=()), "emergency"))
    assert bare.count("the sheet names none") == 2
    assert "daylight" not in bare


def test_the_schedule_tells_every_fuse_and_cable() -> None:
    told = words_of(page_of(BARN, "schedule"))
    schedule = design(BARN).protection
    for fuse in schedule.fuses:
        assert fuse.place in told
        assert f"{fuse.size:g} A" in told
    assert "bus to 5 kVA inverter charger, 48 V class" in told


def test_only_what_was_asked_for_is_written() -> None:
    assert "In an emergency" not in page_of(BARN, "labels")
    with pytest.raises(EvpackError, match="did you mean 'labels'"):
        page_of(BARN, "label")


def test_each_sheet_bears_what_it_is_of_and_the_caution() -> None:
    told = page_of(BARN)
    count = told.count('<section class="sheet')
    assert told.count(ON) == count
    assert told.count("design aid and no approval") >= count
    assert told.count("invented example") == count


def test_whatever_a_user_typed_is_escaped_and_the_page_runs_nothing() -> None:
    site = attrs.evolve(BARN.site, place="<b onclick=x>&")
    told = page_of(attrs.evolve(BARN, title="<script>alert(1)</script>", site=site))
    assert "<script" not in told
    assert "<b onclick" not in told
    assert not_allowed(told) == ()
