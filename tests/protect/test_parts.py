"""The bill of materials: counts follow from the schedule, and what is not settled is not named."""

import attrs
import pytest
from hypothesis import given
from strategies import (
    builds,
    good_build,
    good_cabling,
    good_precharge,
    good_safeguards,
    solar_build,
    sound_builds,
)

from evpack.describe.array import Array
from evpack.describe.build import Build
from evpack.describe.cabling import Run
from evpack.describe.charger import Charger
from evpack.design import design
from evpack.outcome.protection import PartLine, ProtectionSchedule
from evpack.protect.parts import TO_SETTLE, parts


def schedule_of(build: Build) -> ProtectionSchedule:
    schedule = design(build).protection
    assert schedule is not None
    return schedule


def lines(build: Build) -> dict[str, PartLine]:
    return {line.function: line for line in schedule_of(build).parts}


STRING = "each string, at its positive terminal"


def test_the_fuses_of_the_good_build_with_their_holders() -> None:
    found = lines(good_build())
    fuse, holder = found[f"fuse: {STRING}"], found[f"fuse holder: {STRING}"]
    assert fuse.count == holder.count == 3
    assert fuse.rating.startswith("80 A, fuse with its print read; for 58.8 V DC or more")
    assert holder.rating == "for this fuse: 80 A or more, 58.8 V DC or more"


def test_cables_go_there_and_back_and_have_two_ends() -> None:
    # 3 strings × plus and minus = 6 lengths of 1 m; 12 ends.
    found = lines(good_build())
    cable = found["cable: each string to the bus bars"]
    lugs = found["cable lugs: each string to the bus bars"]
    assert (cable.count, cable.metres, lugs.count) == (6, 6.0, 12)
    assert TO_SETTLE not in cable.rating + lugs.rating


def test_conductors_side_by_side_are_all_counted() -> None:
    main = attrs.evolve(good_build().cabling.main, parallel=2)
    found = lines(good_build(cabling=good_cabling(main=main)))
    # plus and minus, two each: 4 lengths of 1.5 m; 8 ends.
    assert found["cable: bus bars to inverter"].count == 4
    assert found["cable: bus bars to inverter"].metres == pytest.approx(6.0)
    assert found["cable lugs: bus bars to inverter"].count == 8


def test_cables_between_modules_go_one_way() -> None:
    link = attrs.evolve(good_build().cabling.module_lead, name="link", length="0.3 m")
    found = lines(good_build(cabling=good_cabling(link=link)))
    cable = next(line for name, line in found.items() if name.startswith("cable: links"))
    # 2 modules in series, 3 strings: one between in each of 3.
    assert (cable.count, cable.metres) == (3, pytest.approx(0.9))


def test_one_pole_more_doubles_the_fuses() -> None:
    one = lines(good_build())[f"fuse: {STRING}"].count
    both = good_build(safeguards=good_safeguards(both_poles=True))
    assert lines(both)["fuse: each string, at both its terminals"].count == 2 * one


def test_a_cable_that_is_not_described_is_to_be_settled() -> None:
    line = lines(good_build(cabling=good_cabling(main=None)))["cable: bus bars to inverter"]
    assert (line.rating, line.count, line.metres) == (TO_SETTLE, 2, None)


def test_a_cable_that_fails_is_not_named_as_one_to_buy() -> None:
    thin = good_build().cabling.main
    thin = attrs.evolve(thin, conductor=attrs.evolve(thin.conductor, ampacity=20.0))
    found = lines(good_build(cabling=good_cabling(main=thin)))
    line = found["cable: bus bars to inverter"]
    assert line.rating == TO_SETTLE
    assert f"{thin.conductor.size} is stated" in line.note
    assert found["cable lugs: bus bars to inverter"].rating == TO_SETTLE
    assert found["fuse: main, at the bus, to inverter"].rating == TO_SETTLE


def test_an_untested_cable_is_not_settled() -> None:
    schedule = schedule_of(good_build())
    untested = attrs.evolve(schedule.cables[0], tests=())
    found = parts(good_build(), attrs.evolve(schedule, cables=(untested,)))
    assert [line.rating for line in found if line.function.startswith("cable:")] == [TO_SETTLE]


def test_a_size_that_evpack_could_not_choose_is_not_said_to_be_stated() -> None:
    schedule = schedule_of(good_build())
    run = attrs.evolve(
        schedule.cables[0].run,
        left_open=True,
        alternatives=(schedule.cables[0].run.conductor,),
    )
    open_ = attrs.evolve(schedule.cables[0], run=run, tests=())
    (line, *_) = (
        line
        for line in parts(good_build(), attrs.evolve(schedule, cables=(open_,)))
        if line.function.startswith("cable:")
    )
    assert (line.rating, line.note) == (TO_SETTLE, "")


def test_a_breaker_needs_no_holder() -> None:
    schedule = schedule_of(good_build())
    fuse = schedule.fuses[0]
    breaker = attrs.evolve(
        fuse, family=attrs.evolve(fuse.family, kind="breaker", characteristic="")
    )
    found = parts(good_build(), attrs.evolve(schedule, fuses=(breaker,)))
    assert [line.function for line in found if STRING in line.function] == [f"breaker: {STRING}"]


def test_devices_carry_what_they_must_be_and_what_is_stated() -> None:
    stated = lines(good_build())["battery disconnect"]
    assert "58.8 V DC or more" in stated.rating
    assert "stated: 80 V DC" in stated.note
    bare = lines(good_build(safeguards=good_safeguards(disconnect=None)))["battery disconnect"]
    assert bare.note.startswith("nothing is stated of it yet")
    schedule = schedule_of(good_build())
    empty = attrs.evolve(schedule.needs[0], must=())
    found = parts(good_build(), attrs.evolve(schedule, needs=(empty,)))
    assert next(line for line in found if line.function == empty.what).rating == TO_SETTLE


def test_the_precharge_resistor_is_stated_proposed_or_to_be_settled() -> None:
    found = lines(good_build())["precharge resistor: inverter"]
    assert found.rating.startswith("50 Ω, stands ")
    assert "proposed" not in found.note
    left_out = good_build(safeguards=good_safeguards(precharge=None))
    assert "proposed" in lines(left_out)["precharge resistor: inverter"].note
    schedule = schedule_of(good_build())
    bare = attrs.evolve(schedule.precharge[0], with_it=())
    (line,) = (
        line
        for line in parts(good_build(), attrs.evolve(schedule, precharge=(bare,)))
        if line.function.startswith("precharge")
    )
    assert line.rating == TO_SETTLE


@pytest.mark.parametrize(("length", "count"), [("9 m", 0), ("11 m", 2), (None, 2)])
def test_a_long_solar_line_has_surge_protection_at_both_ends(
    length: str | None, count: int
) -> None:
    lead = good_build().cabling.charger
    array = None if length is None else attrs.evolve(lead, name="array cable", length=length)
    for fitted, note in ((True, "stated as fitted"), (None, "")):
        build = good_build(
            chargers=Charger(name="roof charger", source="solar", current="20 A"),
            arrays=Array(name="roof", feeds="roof charger", in_series=2),
            cabling=good_cabling(array=array),
            safeguards=good_safeguards(surge_protection=fitted),
        )
        found = [line for line in schedule_of(build).parts if "surge protective" in line.function]
        assert sum(line.count for line in found) == count
        assert all(line.note.endswith(note) for line in found)
        assert all(line.rating == TO_SETTLE for line in found)  # no voltage is known


def test_surge_protection_stands_the_array_on_the_coldest_morning() -> None:
    schedule = schedule_of(good_build())
    array = attrs.evolve(
        schedule.circuits[0],
        kind="array",
        device="roof",
        run=None,
    )
    (line,) = (
        line
        for line in parts(good_build(), attrs.evolve(schedule, circuits=(array,)))
        if "surge protective" in line.function
    )
    assert line.rating == "for DC of 58.8 V or more"


@given(build=sound_builds() | builds())
def test_the_bill_holds_for_any_pack(build: Build) -> None:
    schedule = design(build).protection
    if schedule is None:
        return
    fuses = [p for p in schedule.parts if p.function.startswith(("fuse: ", "breaker: "))]
    assert sum(p.count for p in fuses) == sum(f.count for f in schedule.fuses)
    for fuse, part in zip(schedule.fuses, fuses, strict=True):
        assert (part.rating == TO_SETTLE) == (fuse.size is None)
    cables = [p for p in schedule.parts if p.function.startswith("cable: ")]
    ends = [p for p in schedule.parts if p.function.startswith(("cable lugs", "cable ends"))]
    assert len(cables) == len(schedule.cables)
    laid = [p for p in cables if p.metres is not None]
    assert [2 * p.count for p in laid] == [p.count for p in ends]
    for cable, part in zip(schedule.cables, cables, strict=True):
        named = part.rating != TO_SETTLE
        assert named == (bool(cable.tests) and all(t.passes for t in cable.tests))
    assert all(p.count > 0 for p in schedule.parts)


def test_a_run_is_no_shorter_for_being_bought() -> None:
    run = Run(name="x", conductor=good_build().cabling.main.conductor, length="2 m")
    found = lines(good_build(cabling=good_cabling(main=run)))
    assert found["cable: bus bars to inverter"].metres == pytest.approx(4.0)


def test_a_resistor_is_bought_for_a_short_behind_it() -> None:
    # 58.8² / 50 Ω till the time-out of 10 s: 691.5 J; a filling leaves 10 mF · 58.8² / 2 = 17.3 J.
    line = next(line for name, line in lines(good_build()).items() if "precharge" in name)
    assert line.rating == "50 Ω, stands 692 J or more at once"


def test_an_array_has_a_switch_of_its_own() -> None:
    line = next(line for name, line in lines(solar_build()).items() if name.startswith("switch"))
    assert "opens plus and minus under load" in line.rating


def test_all_that_a_disconnect_must_be_is_on_the_bill() -> None:
    line = lines(good_build())["battery disconnect"]
    for part in ("58.8 V DC", "16 kA", "under full load", "not polarised"):
        assert part in line.rating


def test_a_longer_time_out_heats_the_resistor_longer() -> None:
    # 58.8² / 50 Ω · 60 s = 4149 J.
    slow = good_safeguards(precharge=good_precharge(resistance="50 Ohm", time_out="60 s"))
    line = next(v for k, v in lines(good_build(safeguards=slow)).items() if "precharge" in k)
    assert line.rating == "50 Ω, stands 4150 J or more at once"
