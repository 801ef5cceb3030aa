"""What would clear it: every way that is offered was carried through the whole design."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from strategies import (
    builds,
    good_build,
    good_cabling,
    good_conductor,
    good_disconnect,
    good_family,
    good_inverter,
    good_load,
    good_module,
    good_pack,
    good_safeguards,
    with_charger,
    with_inverter,
    with_pack,
)
from ways_made import ways_of

from evpack.base.errors import DescriptionError
from evpack.base.fitted import NOT_FITTED
from evpack.decide import decide
from evpack.describe.build import Build
from evpack.describe.cabling import Run
from evpack.describe.equipment import EquipmentList
from evpack.design import design
from evpack.outcome.design import Verdict
from evpack.outcome.search import Change, Way, WaysOut
from evpack.search.changes import changed
from evpack.search.growth import search_growth
from evpack.search.judge import judged
from evpack.search.ways import find_ways
from evpack.show.search import cost_words, energy
from evpack.show.text import as_text


def proven(found: WaysOut) -> None:
    """Carry every way out once more, with no search in between."""
    for way in found.to_go:
        assert decide(design(changed(found.build, way.candidate.changes))).go
    before = {(f.rule.key, f.about) for f in design(found.build).findings if f.holds}
    for held, ways in found.one_by_one:
        for way in ways:
            made = design(changed(found.build, way.candidate.changes))
            after = {(f.rule.key, f.about) for f in made.findings if f.holds}
            assert held.key in before
            assert held.key not in after
            assert {h.key for h in way.clears} == before - after


def test_what_works_needs_no_way_out() -> None:
    found = find_ways(good_build())
    assert (found.to_go, found.one_by_one, found.tried) == ((), (), 1)


def test_a_string_too_tall_is_made_shorter() -> None:
    found = find_ways(with_pack(modules_in_series=3, strings=2))
    assert [way.says for way in found.to_go] == ["2 modules in series instead of 3"]
    proven(found)


def test_a_cable_too_thin_gets_another_size() -> None:
    sizes = tuple(
        good_conductor(amps, 0.64 * 33.6 / area, area)
        for amps, area in ((55.0, 8.4), (115.0, 33.6), (195.0, 67.4))
    )
    run = Run(name="main", conductor=sizes[0], length="1.5 m", alternatives=sizes)
    found = find_ways(good_build(cabling=good_cabling(main=run)))
    assert found.to_go[0].says == (
        "other cables to the inverter: the smallest size that passes every test: invented size"
    )
    assert found.to_go[0].costs is not None
    assert found.to_go[0].costs < 0  # less is lost in it: energy is gained
    proven(found)


def test_two_things_wrong_take_two_changes() -> None:
    sizes = tuple(
        good_conductor(amps, 0.64 * 33.6 / area, area)
        for amps, area in ((55.0, 8.4), (115.0, 33.6), (195.0, 67.4))
    )
    run = Run(name="main", conductor=sizes[0], length="1.5 m", alternatives=sizes)
    build = good_build(
        pack=with_pack(modules_in_series=3, strings=2).pack, cabling=good_cabling(main=run)
    )
    found = find_ways(build)
    assert found.to_go
    places = {c.place for c in found.to_go[0].candidate.changes}
    assert places == {"pack.modules_in_series", "cabling.main.size"}
    proven(found)


def test_another_inverter_of_the_list_may_be_the_way() -> None:
    tall = with_pack(modules_in_series=3, strings=2)
    wide = good_inverter(name="wide", window_low="50 V", window_high="100 V", survives="110 V")
    found = find_ways(tall, equipment=EquipmentList(inverters=(wide,)))
    assert "2 modules in series instead of 3" in {way.says for way in found.to_go}
    proven(found)


def test_what_is_not_known_is_not_hidden() -> None:
    found = find_ways(with_charger(equalise_can_be_off=None))
    assert not found.now.go
    # No change makes it known: it is to be read off the manual.
    assert found.to_go == ()
    assert [held.stop for held in found.now.held_by] == [False]


@pytest.mark.parametrize("name", ["low-shed", "left-on"])
def test_the_ways_of_the_examples_are_proven(name: str) -> None:
    found = ways_of(name)
    proven(found)
    assert found.to_go or not found.now.go


@settings(max_examples=2)
@given(build=builds())
def test_no_way_is_offered_that_does_not_clear(build: Build) -> None:
    if build.pack.module.chemistry.targets is not None:
        proven(find_ways(build))


# --- What to buy, and what to keep small ------------------------------------------------------


def places(found: WaysOut) -> list[set[str]]:
    return [{c.place for c in way.candidate.changes} for way in found.to_go]


def test_a_disconnect_that_is_too_weak_is_told_as_what_to_buy() -> None:
    weak = good_disconnect(withstands="5 kA", current="100 A")
    found = find_ways(good_build(safeguards=good_safeguards(disconnect=weak)))
    assert found.to_go[0].says.startswith("buy a battery disconnect for 60 V DC and 125 A")
    assert "withstands 20 kA" in found.to_go[0].says
    # Nobody has read its print yet.
    assert found.to_go[0].candidate.verdict is Verdict.WORKS_WITH_LIMITS
    proven(found)


def test_where_there_is_no_disconnect_one_is_the_way() -> None:
    found = find_ways(good_build(safeguards=good_safeguards(disconnect=NOT_FITTED)))
    assert places(found) == [{"protection.disconnect"}]
    proven(found)


def test_a_print_that_nobody_read_is_not_hidden_behind_another_disconnect() -> None:
    unread = good_disconnect(withstands=None)
    found = find_ways(good_build(safeguards=good_safeguards(disconnect=unread)))
    assert found.to_go == ()
    assert [held.rule for held in found.now.held_by] == ["device.disconnect-withstands"]
    bare = find_ways(
        good_build(inverters=(), safeguards=good_safeguards(disconnect=good_disconnect(poles=1)))
    )
    assert not any("protection.disconnect" in p for p in places(bare))


def test_more_strings_may_ask_for_another_disconnect_too() -> None:
    # As further down: four strings give enough, and more than the disconnect withstands.
    module = good_module(discharge_limit="15 A", available=6)
    strong = good_family(interrupting="50 kA")
    guards = good_safeguards(string_fuse=strong, main_fuse=strong, charger_fuse=strong)
    found = find_ways(good_build(pack=good_pack(module=module), safeguards=guards))
    proven(found)
    every = [step for step in places(found) if "pack.strings" in step]
    assert all("protection.disconnect" in step for step in every)


@pytest.mark.parametrize("stated", ["20 kW", None])
def test_a_peak_too_high_is_kept_lower(stated: str | None) -> None:
    # By hand: three strings of 120 A give at most 360 A; at 50 V and 92 % that is 16.6 kW, and the
    # strings never share so evenly.
    strong = good_inverter(continuous="3.4 kW", surge="20 kW")
    found = find_ways(good_build(load=good_load(peak=stated), inverters=(strong,)))
    assert not found.now.go
    assert {"load.peak"} in places(found)
    says = next(way.says for way in found.to_go if "at once" in way.says)
    assert says.endswith("instead of 20 kW")
    proven(found)


def test_no_peak_is_offered_where_the_surge_is_not_known() -> None:
    build = good_build(load=good_load(peak=None), inverters=(good_inverter(surge=None),))
    assert not any("at once" in way.says for way in find_ways(build).to_go)


# --- Classes of the library -------------------------------------------------------------------


def test_classes_are_tried_where_nothing_else_is_enough_and_that_is_said() -> None:
    narrow = good_inverter(window_low="20 V", window_high="30 V", survives="32 V", cut_off=None)
    found = find_ways(good_build(inverters=(narrow,)))
    assert "Classes of the library were tried" in found.note
    assert not any(way.candidate.verdict is Verdict.WORKS for way in found.to_go)
    classes = [
        (held, way)
        for held, ways in found.one_by_one
        for way in ways
        if "of a class of the library" in way.says
    ]
    assert classes
    assert all(held.stop for held, _ in classes)  # what is not known no class finds out
    proven(found)


def test_classes_are_not_tried_where_a_list_is_given_nor_where_nothing_stops() -> None:
    narrow = good_inverter(window_low="20 V", window_high="30 V", survives="32 V", cut_off=None)
    mine = EquipmentList(inverters=(good_inverter(name="no better", window_high="43 V"),))
    assert find_ways(good_build(inverters=(narrow,)), equipment=mine).note == ""
    assert find_ways(with_inverter(restart=None)).note == ""
    assert find_ways(with_pack(modules_in_series=3, strings=2)).note == ""


# --- Growth -----------------------------------------------------------------------------------


def test_twice_the_strings_give_twice_the_fault() -> None:
    found = search_growth(good_build())
    twice = next(way for way in found.ways if way.candidate.name == "twice the strings")
    fault = next(o for o in twice.outgrown if o.what.startswith("battery disconnect: highest"))
    assert fault.then == pytest.approx(2 * fault.now)
    # The main fuse carries the inverter, and that has not grown.
    assert not any(o.what.startswith("fuse: main") for o in twice.outgrown)


def test_another_inverter_doubles_what_the_disconnect_carries() -> None:
    # 107.7 A today, 215.5 A with two; the disconnect of the good build is rated for 250 A.
    assert not any(
        "current of everything" in part.what
        for way in search_growth(good_build()).ways
        for part in way.outgrown
        if part.what.startswith("battery disconnect")
    )
    small = good_safeguards(disconnect=good_disconnect(current="150 A"))
    found = search_growth(good_build(safeguards=small))
    more = next(way for way in found.ways if "another inverter like" in way.candidate.name)
    carried = next(
        o for o in more.outgrown if o.what == ("battery disconnect: current of everything at once")
    )
    assert carried.then == pytest.approx(2 * carried.now)
    assert all(o.then > o.now for o in more.outgrown)


def test_growth_asks_for_a_build() -> None:
    with pytest.raises(DescriptionError):
        search_growth("a sheet")  # type: ignore[arg-type]


def test_split_phase_puts_an_inverter_on_each_leg() -> None:
    found = search_growth(good_build())
    split = next(way for way in found.ways if way.candidate.name.startswith("split-phase"))
    made = changed(good_build(), split.candidate.changes)
    assert [inverter.leg for inverter in made.inverters] == ["1", "2"]
    assert made.load.larger_leg is not None
    assert not any("stack.legs" in words for words in split.new_limits)


def test_a_fuse_that_becomes_too_large_is_changed_too() -> None:
    # Six strings carry half of what three do: a smaller fuse for each.
    strong = good_family(interrupting="50 kA")
    fuses = good_safeguards(string_fuse=strong, main_fuse=strong, charger_fuse=strong)
    found = search_growth(good_build(safeguards=fuses))
    twice = next(way for way in found.ways if way.candidate.name == "twice the strings")
    fuse = next(part for part in twice.outgrown if part.what.startswith("fuse: each string"))
    assert fuse.then < fuse.now
    assert fuse.swap


def test_what_is_rated_for_then_already_is_not_told() -> None:
    strong = good_safeguards(disconnect=good_disconnect(withstands="100 kA"))
    found = search_growth(good_build(safeguards=strong))
    told = [part.what for way in found.ways for part in way.outgrown]
    assert not any("highest fault current" in what for what in told)


# --- What a way asks for ----------------------------------------------------------------------


def test_more_modules_than_there_are_may_be_the_way() -> None:
    # Six modules, three strings: at a limit of 15 A each they give 45 A, 37.5 A for the busiest is
    # 20 % above; the load of 2 kW asks for 48.5 A. Four strings give 50 A.
    module = good_module(discharge_limit="15 A", available=6)
    strong = good_family(interrupting="50 kA")  # four strings give more than 20 kA
    guards = good_safeguards(
        string_fuse=strong,
        main_fuse=strong,
        charger_fuse=strong,
        disconnect=good_disconnect(withstands="50 kA"),
    )
    found = find_ways(good_build(pack=good_pack(module=module), safeguards=guards))
    assert not found.now.go
    says = [way.says for way in found.to_go]
    assert any("find" in words and "more" in words for words in says), says
    proven(found)


def test_a_device_that_nobody_read_brings_things_to_find_out() -> None:
    unread = good_inverter(name="unread", window_high="80 V", survives="90 V", restart=None)
    tall = with_pack(modules_in_series=3, strings=2)
    found = find_ways(tall, equipment=EquipmentList(inverters=(unread,)))
    ways = [way for _, ways in found.one_by_one for way in ways if "unread" in way.says]
    assert all(way.to_find_out >= 1 for way in ways)
    assert "must be found out" in as_text(found) or not ways


def test_the_nearest_brings_no_stop_of_its_own() -> None:
    for name in ("left-on", "low-shed"):
        found = ways_of(name)
        for way in found.nearest:
            assert way.candidate.stops < found.now.stops


def test_a_reserve_costs_what_is_left_for_every_day() -> None:
    build = good_build()
    now = judged(build, "now")
    more = Change(place="policy.reserve", value="45 %", says="more")
    kept = judged(build, "kept", (more,))
    assert now.usable == pytest.approx(kept.usable)
    assert now.everyday is not None
    assert kept.everyday is not None
    assert kept.everyday < now.everyday
    assert now.everyday_ac is not None
    assert kept.everyday_ac is not None
    dearer = now.everyday_ac - kept.everyday_ac
    way = Way(candidate=kept, clears=(), costs_ac=0.0, costs_everyday_ac=dearer)
    assert f"it costs nothing of what is reachable, it costs {energy(dearer)} AC of" in (
        cost_words(way)
    )
