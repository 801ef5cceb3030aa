"""Sheets for the wall: every setting once, and nothing of a design that is no go."""

from __future__ import annotations

import html
import re
import subprocess
import sys
from pathlib import Path

import attrs
import pytest

from evpack.base.errors import EvpackError
from evpack.base.fitted import NOT_FITTED
from evpack.decide import decide
from evpack.describe.build import Build
from evpack.describe.safeguards import FuseFamily
from evpack.design import design
from evpack.finished import commissioning_plan
from evpack.load.sheet import example, read_sheet
from evpack.outcome.settings import Act
from evpack.show.wall import (
    SHEETS,
    diagram_sheet,
    kind_words,
    schedule_sheet,
    settings_sheets,
    wall_page,
)
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
    # And the limits that the design works under, which nobody is to act without.
    assert told.count('<section class="sheet') == len(sheet.devices) + 1
    found = re.findall(r'evp-enter">([^<]*)<', told)
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
    assert "evp-enter" not in told.partition("<body>")[2]
    assert "What to buy" not in told
    assert "<svg" not in told
    words = words_of(told)
    assert words.count("This design may not be built yet") == 1
    assert "Not yet: limits, settings, schedule, diagram, checklist" in words
    assert "while these are kept" not in words
    assert decision.held_by[0].detail in words
    # What hangs on the modules is true of any pack.
    assert "Labels for the modules" in words
    assert "Everybody out." in words


def test_no_part_of_a_sheet_tells_what_is_withheld_by_itself() -> None:
    shed = design(read_sheet(example("low-shed")))
    assert shed.settings.withheld
    assert list(settings_sheets(shed)) == []
    assert list(schedule_sheet(shed)) == []
    assert list(diagram_sheet(shed)) == []


def test_a_device_without_a_setting_has_no_sheet() -> None:
    barn = design(BARN)
    first, *others = barn.settings.devices
    bare = attrs.evolve(barn.settings, devices=(attrs.evolve(first, lines=()), *others))
    names = [name for name, _ in settings_sheets(attrs.evolve(barn, settings=bare))]
    assert names == [f"Settings: {device.device}" for device in others]


def test_every_place_in_the_pack_has_its_label() -> None:
    module = attrs.evolve(
        BARN.pack.module, cell_nominal="3.7 V", cell_highest="4.15 V", capacity="60 Ah", ocv=None
    )
    build = attrs.evolve(BARN, pack=attrs.evolve(BARN.pack, module=module))
    told = words_of(page_of(build, "labels"))
    for string in range(1, 5):
        for place in (1, 2):
            assert f"String {string} · {place} of 2" in told
    # Worked by hand: 7 cells of 3.7 V are 25.9 V, with 60 Ah 1554 Wh. What the chemistry stands
    # counts for the highest, 7 times 4.2 V, and not the module's own tighter limit.
    assert told.count("25.9 V, up to 29.4 V DC Always live: it cannot be switched off.") == 8
    assert told.count("60 Ah · 1.55 kWh") == 8


def test_a_label_prints_no_polarity_that_nobody_measured() -> None:
    labels = page_of(BARN, "labels").partition('<div class="labels">')[2]
    assert labels.count('aria-label="blank for plus or minus"') == 2 * 8
    # The sheet's own foot and the page's end are behind the labels; neither has a sign.
    assert not re.search(r">\s*[+−]\s*<", labels)


def test_the_cards_say_where_to_switch_off_and_what_stays_live() -> None:
    told = words_of(page_of(BARN, "emergency"))
    # Worked by hand: 14 cells of 4.2 V are 58.8 V, and 7 of them 29.4 V.
    assert told.count("Lithium-ion battery, up to 58.8 V DC") == 2
    assert "8 vehicle modules" in told
    assert "they still carry up to 29.4 V each" in told
    assert "outside, beside the lean-to's door" in told
    assert "The solar cables in daylight." in told
    assert "does not say" not in told
    assert "nobody said" not in told


def test_the_cards_leave_a_blank_where_nobody_said_and_say_so() -> None:
    guards = attrs.evolve(BARN.safeguards, emergency_off=None, disconnect=None)
    site = attrs.evolve(BARN.site, place="")
    build = attrs.evolve(BARN, safeguards=guards, site=site, arrays=())
    page = page_of(build, "emergency")
    told = words_of(page)
    # On both cards the place of the pack and the volts of the solar cables; the emergency
    # disconnect, the battery disconnect.
    assert told.count("? the sheet does not say") == 6
    assert "only without current" in told


@pytest.mark.parametrize("arrays", [None, NOT_FITTED, ()])
def test_a_solar_charger_has_solar_cables_whoever_settles_them(arrays: object) -> None:
    told = words_of(page_of(attrs.evolve(BARN, arrays=arrays), "emergency"))
    assert "Solar cables are live in daylight" in told
    assert "Switch off the sun" in told
    assert told.count("Solar cables: up to V DC (? the sheet does not say)") == 2


@pytest.mark.parametrize("arrays", [NOT_FITTED, ()])
def test_without_a_solar_charger_there_is_no_solar_step(arrays: object) -> None:
    # The inverter's own mains charger is left.
    mains = attrs.evolve(BARN, chargers=(), arrays=arrays)
    assert "olar" not in words_of(page_of(mains, "emergency"))
    none = attrs.evolve(mains, inverters=(attrs.evolve(BARN.inverters[0], charger=NOT_FITTED),))
    assert "olar" not in words_of(page_of(none, "emergency"))


@pytest.mark.parametrize("charger", [None, BARN.inverters[0].charger])
def test_where_nobody_said_whether_there_is_sun_the_cards_say_so(charger: object) -> None:
    inverter = attrs.evolve(BARN.inverters[0], charger=charger)
    unsaid = attrs.evolve(BARN, chargers=(), arrays=None, inverters=(inverter,))
    told = words_of(page_of(unsaid, "emergency"))
    assert "Solar cables, if any, are live in daylight" in told
    assert "Switch off the sun, if there are panels: disconnects at" in told
    assert "if there are any (? the sheet does not say)" in told
    assert told.count("Solar cables, if there are any: up to V DC (? the sheet does not say)") == 2


def test_the_cards_tell_the_volts_of_the_solar_cables() -> None:
    cold = max(side.cold_open.value for side in design(BARN).solar)
    told = words_of(page_of(BARN, "emergency"))
    # Rounded up: 135.7 V are told as 136 V.
    assert cold == pytest.approx(135.7, abs=0.05)
    assert told.count("Solar cables: up to 136 V DC.") == 2


def test_an_array_that_nobody_described_may_carry_more_than_the_one_that_is() -> None:
    other = attrs.evolve(BARN.chargers[0], name="a second solar charger")
    build = attrs.evolve(BARN, chargers=(*BARN.chargers, other))
    told = words_of(page_of(build, "emergency"))
    assert told.count("Solar cables: 136 V DC or more, up to V DC (? the sheet does not say)") == 2


def test_volts_that_rest_on_a_slip_are_not_told_as_the_most() -> None:
    (array,) = BARN.arrays
    # A decimal point slipped: no panel rises by so little in the cold.
    slip = attrs.evolve(BARN, arrays=(attrs.evolve(array, coefficient="-0.028 %/K"),))
    (side,) = design(slip).solar
    assert side.cold_open.value < 136
    told = words_of(page_of(slip, "emergency"))
    assert "Solar cables: up to 1" not in told
    assert told.count("V DC or more, up to V DC (? the sheet does not say)") == 2


def test_without_a_cold_voltage_the_rated_one_is_the_least_that_is_told() -> None:
    site = attrs.evolve(BARN.site, coldest_outside=None)
    (array,) = BARN.arrays
    array = attrs.evolve(array, in_series=3, open_circuit="44.1 V", maximum_power_voltage=None)
    told = words_of(page_of(attrs.evolve(BARN, site=site, arrays=(array,)), "emergency"))
    # Worked by hand: 3 times 44.1 V are 132.3 V, rounded up. At 4 °C they are 140 V, at −40 °C
    # 156 V, of the 150 V that the charger stands: the morning is asked for.
    assert told.count("Solar cables: 133 V DC or more, up to V DC (? the sheet") == 2


def test_limits_to_keep_in_use_stand_before_what_is_to_be_read_or_bought() -> None:
    build = read_sheet(example("twelve"))
    limits = decide(design(build)).limits
    told = words_of(page_of(build, "limits"))
    places = {told.index(finding.detail): finding.value is None for finding in limits}
    assert len(places) == len(limits)
    later = [places[place] for place in sorted(places)]
    assert later == [False] * 3 + [True] * (len(limits) - 3)
    assert not places[min(places)]
    assert "With one string out keep the AC load under 2218 W" in told


def test_a_limit_without_a_way_out_is_told_as_large_as_one_with() -> None:
    plan = commissioning_plan(decide(design(BARN)))
    listing, first, *others = plan.decision.limits
    without = attrs.evolve(first, remedy="")
    bare = attrs.evolve(plan.decision, limits=(listing, without, *others))
    page = wall_page(attrs.evolve(plan, decision=bare), ["limits"], on=ON)
    # Large is what stands in bold: what to do, or, where that is not told, what was found. What
    # has a number comes first.
    large = [words_of(f"<body>{told}") for told in re.findall("<li><b>(.*?)</b>", page)]
    assert large[0] == f"All chargers: {first.detail}"
    numbered = [finding.remedy for finding in others if finding.value is not None]
    others = [finding.remedy for finding in (listing, *others) if finding.value is None]
    assert large[1:] == [*numbered, *others]
    assert (len(numbered), len(others)) == (2, 2)


def test_the_limits_go_along_with_whatever_is_acted_by() -> None:
    limits = decide(design(BARN)).limits
    assert limits
    for only in ("settings", "schedule", "checklist", "limits"):
        told = words_of(page_of(BARN, only))
        assert "Limits to keep" in told
        for finding in limits:
            assert finding.detail in told
            assert finding.remedy in told
    assert "Limits to keep" not in words_of(page_of(BARN, "labels"))
    assert words_of(page_of(BARN, "settings")).count("It works only while 5 limits are kept") == 5
    free = wall_page(
        attrs.evolve(
            commissioning_plan(decide(design(BARN))),
            decision=attrs.evolve(decide(design(BARN)), limits=()),
        ),
        ["limits", "settings"],
        on=ON,
    )
    assert "None: the design works as it is described." in words_of(free)
    assert "It works only while" not in words_of(free)


def test_the_schedule_says_of_what_sort_each_fuse_is() -> None:
    told = words_of(page_of(BARN, "schedule"))
    assert "bolted fuse-link, 80 V DC, melts as quick" in told
    assert "solar string fuse-link, 600 V DC, melts as gPV" in told
    house = words_of(page_of(read_sheet(example("split-house")), "schedule"))
    assert "NH fuse-link gG, 440 V DC, melts as gG" in house
    breaker = "DC breaker of two poles, 2 poles in series, not polarised, trips at once from 750 A"
    assert house.count(breaker) == 2
    twelve = words_of(page_of(read_sheet(example("twelve")), "schedule"))
    assert "Class T (300 V class) (UL 248-15), melts as quick" in twelve


def test_what_nobody_said_of_a_fuse_or_breaker_is_asked_and_not_left_out() -> None:
    fuse = FuseFamily(name="a link", dc_voltage="80 V", interrupting="2 kA", largest="100 A")
    assert kind_words(None) == "? not known"
    assert kind_words(fuse) == "a link, ? how it melts is not said"
    breaker = attrs.evolve(fuse, kind="breaker", poles=1)
    asked = "? polarised or not is not said, ? where it trips at once is not said"
    assert kind_words(breaker) == f"a link, 1 pole in series, {asked}"
    breaker = attrs.evolve(breaker, polarised=True, instantaneous_trip="700 A")
    assert "polarised: as its print shows, trips at once from 700 A" in kind_words(breaker)


def test_the_cards_say_that_a_switch_is_not_there() -> None:
    guards = attrs.evolve(BARN.safeguards, emergency_off=NOT_FITTED, disconnect=NOT_FITTED)
    told = words_of(page_of(attrs.evolve(BARN, safeguards=guards), "emergency"))
    assert "There is no emergency disconnect . Do not go to the pack" in told
    assert "There is no battery disconnect." in told
    assert "does not say" not in told


def test_what_the_emergency_disconnect_is_not_known_to_stop_counts_as_live() -> None:
    off = attrs.evolve(BARN.safeguards.emergency_off, opens_every_string=None, stops_charging=False)
    guards = attrs.evolve(BARN.safeguards, emergency_off=off)
    told = words_of(page_of(attrs.evolve(BARN, safeguards=guards), "emergency"))
    assert "nobody said that the emergency disconnect would open every string" in told
    assert "the emergency disconnect does not stop every charger" in told
    assert "stop the inverters" not in told


def test_the_schedule_tells_every_fuse_and_cable() -> None:
    told = words_of(page_of(BARN, "schedule"))
    schedule = design(BARN).protection
    for fuse in schedule.fuses:
        assert fuse.place in told
        assert f"{fuse.size:g} A" in told
    assert "bus to 5 kVA inverter charger, 48 V class" in told


def test_only_what_was_asked_for_is_written() -> None:
    assert "Emergency card" not in page_of(BARN, "labels")
    with pytest.raises(EvpackError, match="did you mean 'labels'"):
        page_of(BARN, "label")
    with pytest.raises(EvpackError, match="no sheet was asked for"):
        wall_page(commissioning_plan(decide(design(BARN))), (), on=ON)


def test_the_sheets_are_made_where_nothing_else_was_told_before(tmp_path: Path) -> None:
    # What tells a noun is registered as its module is loaded: here none but those of the command.
    page = tmp_path / "w.html"
    words = [sys.executable, "-m", "evpack.cli", "sheets", str(example("wether-barn")), str(page)]
    subprocess.run(words, check=True, capture_output=True)
    assert "First charge, somebody beside it" in page.read_text(encoding="utf-8")


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
