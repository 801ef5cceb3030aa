"""A charger that is there and is never to charge: it counts nowhere, and has to stay off."""

from __future__ import annotations

import re
from typing import Any

import attrs
import pytest
from strategies import (
    good_build,
    good_charger,
    good_inverter,
    groundwork,
    solar_build,
    solar_charger,
    with_inverter,
)

from evpack.base.errors import DataError, DescriptionError
from evpack.base.finding import Severity
from evpack.base.fitted import NOT_FITTED
from evpack.commission.steps import hardware
from evpack.decide import decide
from evpack.describe.build import Build
from evpack.describe.charger import Charger
from evpack.describe.scatter import Scatter
from evpack.design import design
from evpack.finished import commissioning_plan
from evpack.load.sheet import example, parse_sheet
from evpack.outcome.design import Design
from evpack.outcome.search import Change
from evpack.outcome.settings import Act
from evpack.protect.bounds import string_charge
from evpack.search.changes import changed
from evpack.show.draw.one_line import one_line_svg
from evpack.show.text import as_text
from evpack.uncertain import draw_designs

WAYS = ("not wired", "turned off")
BARN = example("wether-barn").read_text("utf-8")


def built_in(kept_off: str = "", **changes: Any) -> Build:
    """Return the good build beside whose 40 A charger the inverter has one of 60 A."""
    charger = good_charger(
        name="built in", current="60 A", current_setting=("5 A", "60 A", "1 A"), kept_off=kept_off
    )
    return with_inverter(charger=charger, **changes)


def entry(made: Design, device: str, line: str) -> str:
    assert made.settings is not None
    found = made.settings.device(device)
    assert found is not None
    told = found.line(line)
    assert told is not None
    return told.entry


@pytest.mark.parametrize("kept_off", WAYS)
def test_it_takes_no_share_from_the_others(kept_off: str) -> None:
    """Worked by hand: 180 Ah · 0.3 an hour are 54 A, of which 40 in 100 are 21.6 A; alone, all."""
    limit = "charge current limit"
    assert entry(design(built_in()), "charger", limit) == "21 A"
    assert entry(design(built_in(kept_off)), "charger", limit) == "40 A"
    end = "absorption end current"
    # 5 % of 180 Ah is 9 A for one charger, 4.5 A for each of two.
    assert entry(design(built_in()), "charger", end) == "4.5 A"
    assert entry(design(built_in(kept_off)), "charger", end) == "9 A"


@pytest.mark.parametrize("kept_off", WAYS)
def test_it_charges_no_string(kept_off: str) -> None:
    """Worked by hand: 100 A on three strings are 33.3 A each, and 40 A are 13.3 A."""
    both, alone = (
        string_charge(groundwork(built_in()), None),
        string_charge(groundwork(built_in(kept_off)), None),
    )
    assert both is not None
    assert alone is not None
    assert (both.value, alone.value) == pytest.approx((100 / 3, 40 / 3))


@pytest.mark.parametrize("kept_off", WAYS)
def test_nothing_of_it_is_asked_for(kept_off: str) -> None:
    """All that is said of it is that it is there: a name, what feeds it, and that it is off."""
    bare = Charger(name="built in", source="mains", kept_off=kept_off)
    build = with_inverter(charger=bare, changeover=NOT_FITTED)
    without = with_inverter(charger="none", changeover=NOT_FITTED)
    about = [f for f in design(build).findings if f.about == "built in"]
    assert [f.rule.key for f in about] == ["charging.kept-off"]
    others = [f for f in design(build).findings if f.about != "built in"]
    assert [(f.rule.key, f.severity) for f in others] == [
        (f.rule.key, f.severity) for f in design(without).findings
    ]


def test_turned_off_is_a_limit_to_keep_and_not_wired_a_note() -> None:
    def found(build: Build) -> tuple[Severity, str]:
        (one,) = (f for f in design(build).findings if f.rule.key == "charging.kept-off")
        return one.severity, one.detail

    severity, detail = found(built_in("turned off"))
    assert severity is Severity.CAUTION
    assert "then charges with 60 A at a voltage that nobody set" in detail
    three = attrs.evolve(built_in("turned off").inverters[0], count=3)
    assert "with 180 A at a voltage" in found(good_build(inverters=(three,)))[1]
    bare = Charger(name="built in", source="mains", kept_off="turned off")
    assert "with as much as it can at" in found(with_inverter(charger=bare))[1]
    severity, detail = found(built_in("not wired", changeover=NOT_FITTED))
    assert (severity, detail) == (Severity.NOTE, "It is not wired, and counts nowhere here.")


def test_an_inverter_that_changes_over_to_the_utility_has_mains_at_it() -> None:
    (one,) = (
        f for f in design(built_in("not wired")).findings if f.rule.key == "charging.kept-off"
    )
    assert one.severity is Severity.CAUTION
    assert "inverter takes the load to the utility: then mains reaches the device" in one.detail
    # A solar input of it, or a charger of its own, may well be without a supply.
    sun = attrs.evolve(built_in("not wired").inverters[0].charger, source="solar")
    apart = good_build(chargers=(good_charger(), good_charger(name="b", kept_off="not wired")))
    for build in (with_inverter(charger=sun), apart):
        (one,) = (f for f in design(build).findings if f.rule.key == "charging.kept-off")
        assert one.severity is Severity.NOTE


@pytest.mark.parametrize("kept_off", WAYS)
def test_something_else_must_charge_the_pack(kept_off: str) -> None:
    build = good_build(chargers=(good_charger(kept_off=kept_off),))
    (found,) = (f for f in design(build).findings if f.rule.key == "charging.no-charger")
    assert found.severity is Severity.UNKNOWN
    assert found.detail == "Every charger of the sheet is kept off."


@pytest.mark.parametrize(
    ("kept_off", "told", "why"),
    [
        ("turned off", "off", "set its charge current to 0 A"),
        ("not wired", "leave its mains supply unwired", "puts it in the build sheet first"),
    ],
)
def test_its_one_line_on_the_sheet_says_how_it_stays_off(
    kept_off: str, told: str, why: str
) -> None:
    made = design(built_in(kept_off))
    assert made.settings is not None
    device = made.settings.device("built in")
    assert device is not None
    (line,) = device.lines
    assert (line.act, line.entry) == (Act.TURN_OFF, told)
    assert why in line.why


def test_a_charger_that_is_not_wired_has_no_circuit_and_one_turned_off_has() -> None:
    def circuits(kept_off: str) -> set[str]:
        others = good_charger(), good_charger(name="other", kept_off=kept_off)
        schedule = design(good_build(chargers=others)).protection
        assert schedule is not None
        return {circuit.device for circuit in schedule.circuits}

    assert "other" in circuits("turned off")  # its cable still hangs on the pack
    assert "other" not in circuits("not wired")


def test_a_built_in_one_adds_nothing_to_the_main_fuse() -> None:
    """1 kW at 45 V are some 25 A; a charger of 60 A in use is more, and one kept off is not."""

    def carried(kept_off: str) -> float:
        schedule = design(built_in(kept_off, continuous="1 kW")).protection
        assert schedule is not None
        (main,) = (c for c in schedule.circuits if c.device == "inverter")
        assert main.carries is not None
        assert main.both_ways == (kept_off != "not wired")
        return main.carries.value

    assert carried("") == 60.0
    assert carried("turned off") == carried("not wired") < 40.0


def test_an_array_on_it_is_refused() -> None:
    off = solar_charger(kept_off="turned off")
    with pytest.raises(DescriptionError, match=r"is said to be turned off: take kept_off out"):
        attrs.evolve(solar_build(), chargers=(off, good_charger(name="mains")))


def kept(kept_off: str, sheet: str = BARN) -> str:
    """Return the barn's sheet with its built-in charger kept off."""
    return sheet.replace("[inverter.charger]\n", f'[inverter.charger]\nkept_off = "{kept_off}"\n')


def test_a_sheet_says_it_in_one_line() -> None:
    build = parse_sheet(kept("turned off"))
    assert [charger.name for charger in build.kept_off] == ["its built-in mains charger"]
    assert [charger.name for charger in build.all_chargers] == ["60 A solar charge controller"]
    assert len(build.fitted_chargers) == 2
    with pytest.raises(DataError, match=r"inverter.charger.kept_off: .*did you mean 'not wired'"):
        parse_sheet(kept("unwired"))


def test_a_built_in_charger_may_be_told_by_that_line_alone() -> None:
    """In the barn it then gives no float, takes no share, and the solar charger gives all."""
    short = re.sub(r"\[inverter\.charger\].*?\n\n", "[inverter.charger]\n\n", BARN, flags=re.DOTALL)
    decision = decide(design(parse_sheet(kept("turned off", short))))
    assert decision.go
    assert decision.design.usable is not None
    assert decision.design.usable.soc_float is None


def test_panels_that_name_no_charger_go_to_the_solar_one_that_is_in_use() -> None:
    more = '\n[[charger]]\nname = "old one"\nsource = "solar"\nkept_off = "not wired"\n'
    build = parse_sheet(BARN + more)
    assert [array.feeds for array in build.solar_arrays] == ["60 A solar charge controller"]


@pytest.mark.parametrize(
    ("kept_off", "title", "todo"),
    [
        ("turned off", "its built-in mains charger stays off", "a clamp meter for DC shows no"),
        ("not wired", "its built-in mains charger is not wired", "joined to nothing"),
    ],
)
def test_commissioning_proves_it(kept_off: str, title: str, todo: str) -> None:
    plan = commissioning_plan(decide(design(parse_sheet(kept(kept_off)))))
    proof = next(s for s in plan.steps if s.key.startswith("charge.stays_off"))
    assert proof.title == title
    assert todo in proof.todo
    read_back = next(s for s in plan.steps if s.key.endswith("charging_by_this_device"))
    assert read_back.todo == (
        "It is off, and stays off after a restart."
        if kept_off == "turned off"
        else "Done: leave its mains supply unwired."
    )
    # Nothing else is asked of it: no charge that it would end, no voltage.
    others = [s.key for s in plan.steps if "its_built_in" in s.key]
    assert len([key for key in others if not key.startswith("limits.")]) == 2


@pytest.mark.parametrize("kept_off", WAYS)
def test_it_is_told_where_the_devices_are(kept_off: str) -> None:
    others = good_charger(), good_charger(name="other", kept_off="turned off")
    build = attrs.evolve(built_in(kept_off), chargers=others)
    assert f"built in, {kept_off}" in as_text(build.inverters[0])
    assert "turned off" in as_text(others[1])
    picture = one_line_svg(design(build)).replace("\u00a0", " ")
    assert f"charger {kept_off}" in picture
    assert "charger (mains), turned off" in picture


def test_another_device_in_its_place_is_kept_off_too() -> None:
    other = good_inverter(name="new", charger=good_charger(name="new built in"))
    swap = Change(place="inverter", value=other, says="another")
    (found,) = changed(built_in("not wired"), (swap,)).kept_off
    assert (found.name, found.kept_off) == ("new built in", "not wired")
    assert changed(built_in(), (swap,)).kept_off == ()
    swap = Change(place="charger", value=good_charger(name="new"), says="another")
    build = good_build(chargers=(good_charger(kept_off="turned off"),))
    assert [c.kept_off for c in changed(build, (swap,)).chargers] == ["turned off"]


def test_what_was_proven_with_it_off_is_so_no_longer_when_it_is_on() -> None:
    marks = {
        hardware(design(parse_sheet(sheet)))
        for sheet in (BARN, kept("turned off"), kept("not wired"))
    }
    assert len(marks) == 3


def test_a_build_as_it_may_really_be_counts_it_too() -> None:
    drawn = draw_designs(built_in("turned off"), Scatter(accuracy="10 %"), count=3)
    assert drawn.count == 3
