"""The plan of commissioning: what is asked of whom, and where each bound comes from."""

from __future__ import annotations

import re

import attrs
import pytest
from hypothesis import given
from hypothesis import strategies as st
from strategies import good_build, with_module, with_pack

from evpack.base.fitted import NOT_FITTED
from evpack.base.units import CURRENT, RESISTANCE, SHARE, TIME, VOLTAGE, Kind
from evpack.commission.plan import plan_of
from evpack.commission.steps import (
    ISOLATE,
    Stage,
    bus_resistance,
    described,
    hardware,
    own_keys,
    slug,
)
from evpack.decide import decide
from evpack.describe.build import Build
from evpack.design import design
from evpack.finished import commissioning_plan
from evpack.load.sheet import example, read_sheet
from evpack.outcome.commissioning import CommissioningPlan, CommissioningStep
from evpack.outcome.design import Decision, Design, Verdict
from evpack.outcome.settings import Act

BARN = read_sheet(example("wether-barn"))


def plan(build: Build) -> CommissioningPlan:
    return commissioning_plan(decide(design(build)))


def forced(build: Build) -> CommissioningPlan:
    """Return the plan as if the design were a go: for the wording of single steps alone."""
    return as_if_go(design(build))


def as_if_go(made: Design) -> CommissioningPlan:
    return plan_of(Decision(verdict=Verdict.WORKS, design=made, held_by=(), limits=()))


def with_pack_of_barn(**what: object) -> Build:
    return attrs.evolve(BARN, pack=attrs.evolve(BARN.pack, **what))


def step(of: CommissioningPlan, key: str) -> CommissioningStep:
    return next(found for found in of.steps if found.key == key)


def test_a_design_that_may_not_be_built_has_nothing_to_switch_on() -> None:
    for build in (with_module(resistance=None), read_sheet(example("low-shed"))):
        held = plan(build)
        assert held.withheld
        assert held.steps == ()
        assert held.stages == {}


def test_the_stages_come_in_the_order_of_safe_work() -> None:
    stages = [steps[0].key.partition(".")[0] for steps in plan(BARN).stages.values()]
    assert stages == [
        *("limits", "parts", "around", "modules", "monitoring", "closing", "settings", "array"),
        *("first", "stops", "charge", "discharge", "later"),
    ]


def test_a_device_is_joined_only_after_disconnect_and_polarity_and_charges_only_when_set() -> None:
    keys = [found.key for found in plan(BARN).steps]
    # What needs the pack to light its display is set once it is joined, and before it charges;
    # nothing is asked to stop a charge before there is one. Common practice, no source.
    order = [
        "modules.string_sum",
        "monitoring.reads",
        "closing.disconnect",
        "closing.polarity",
        "closing.joined",
        "closing.precharge_before_5_kva_inverter_charger_48_v_class",
        "closing.precharge_5_kva_inverter_charger_48_v_class",
        "settings.5_kva_inverter_charger_48_v_class_low_voltage_cut_off",
        "settings.60_a_solar_charge_controller_charge_voltage_absorption",
        "array.lowest_south_roof",
        "array.joined_south_roof",
        "first.slowly",
        "stops.stops_charge",
        "stops.emergency_charging",
        "charge.current",
        "discharge.resistance",
    ]
    assert [key for key in keys if key in order] == order
    before = [key for key in keys[: keys.index("closing.disconnect")] if "limits." not in key]
    for words in ("charge current", "lose the pack", "Pressed once", "It shows", "what it shows"):
        assert not any(words in step(plan(BARN), key).todo for key in before), words


def test_what_is_joined_is_dead_and_what_was_moved_is_set_back() -> None:
    found = plan(BARN)
    for key in ("closing.polarity", "closing.joined"):
        assert "disconnect open" in step(found, key).todo
    assert "apart and insulated" in step(found, "closing.polarity").todo
    assert "proven dead before it is touched" in step(found, "closing.joined").todo
    for words in ("array's isolator is open", "generator are off", "loads are off"):
        assert words in step(found, "closing.joined").todo
    assert "on the battery already" in step(found, "array.joined_south_roof").todo
    words = "old moved|imit moved|moving its|Raised|lowered"
    moved = [s for s in found.steps if re.search(words, s.todo)]
    assert len(moved) == 7  # four of the monitoring, first hour, charge current, cut-off
    assert all(re.search("[Ss]et .*back.*read (it )?back", s.todo) for s in moved)


def test_no_tool_and_no_hand_goes_to_a_live_joint() -> None:
    whole = [found for found in plan(BARN).steps if not found.key.startswith("limits.")]
    for found in whole:
        told = f"{found.todo} {found.if_not}"
        assert "glove" not in told
        assert "felt" not in told
        if re.search("torque is|it anew|joint anew|strings apart again", told):
            assert ISOLATE in told or "while nothing is joined" in told, found.key
    # What is tightened while modules are live is tightened with their fuses out, or dead.
    tightened = [found.key for found in whole if "torque, and" in found.todo]
    assert tightened == ["modules.joints"]
    assert "string fuses out and the disconnect open" in step(plan(BARN), "modules.joints").todo
    for key in ("discharge.joints", "later.warmth", "first.slowly"):
        assert "touches nothing" in step(plan(BARN), key).todo
    assert step(plan(BARN), "later.torque").todo.startswith(ISOLATE)


def test_every_key_is_its_own_and_can_stand_bare_in_a_file() -> None:
    keys = [found.key for found in plan(BARN).steps]
    assert len(keys) == len(set(keys))
    assert all(set(key) <= set("abcdefghijklmnopqrstuvwxyz0123456789_.") for key in keys)
    alike = Stage("s", "S").asks("same", "t", "d")
    assert [found.key for found in own_keys([alike, alike, alike])] == [
        "s.same",
        "s.same_2",
        "s.same_3",
    ]
    # A name that looks like a number given to another is no reason to share a key.
    two = Stage("s", "S").asks("same_2", "t", "d")
    assert [found.key for found in own_keys([alike, alike, two])] == [
        "s.same",
        "s.same_2",
        "s.same_2_2",
    ]
    assert slug("Größe – ?") == "gr_e"
    assert slug("–") == "thing"


def test_every_fuse_and_every_cable_is_looked_at() -> None:
    made = design(BARN)
    found = plan(BARN)
    for fuse in made.protection.fuses:
        rating = step(found, f"parts.{slug(fuse.place)}_rating")
        assert rating.kind is CURRENT
        assert rating.low == rating.high == fuse.size
        assert f"({fuse.count} in all)" in rating.todo
    cables = [s for s in found.steps if s.key.startswith("parts.") and s.key.endswith("_length")]
    runs = [cable.run for cable in made.protection.cables if cable.run is not None]
    assert [s.high for s in cables] == [run.length.m for run in runs]
    # The longest is no shorter than the shortest may be, and no way has half of its length.
    assert [s.low for s in cables] == [
        pytest.approx((0.9 if run is BARN.cabling.module_lead else 0.5) * run.length.m)
        for run in runs
    ]
    sizes = [s.todo for s in found.steps if s.key.startswith("parts.") and s.key.endswith("_cable")]
    for run, todo in zip(runs, sizes, strict=True):
        assert run.conductor.size in todo


def with_families(**what: object) -> Design:
    """Return the design of the barn with other words on the print of every fuse."""
    made = design(BARN)
    fuses = tuple(
        attrs.evolve(fuse, family=fuse.family and attrs.evolve(fuse.family, **what))
        for fuse in made.protection.fuses
    )
    return attrs.evolve(made, protection=attrs.evolve(made.protection, fuses=fuses))


def test_the_sort_of_a_fuse_or_breaker_is_read_off_its_print() -> None:
    key = "parts.each_string_at_its_positive_terminal_print"
    assert (
        "It is of this sort: bolted fuse-link, 80 V DC, printed quick."
        in step(plan(BARN), key).todo
    )
    roof = step(plan(BARN), "parts.each_string_of_south_roof_print").todo
    assert "solar string fuse-link, 600 V DC, printed gPV." in roof
    assert "printed" not in step(as_if_go(with_families(characteristic="")), key).todo
    breaker = {"kind": "breaker", "characteristic": "", "name": "breaker"}
    two = with_families(**breaker, poles=2, polarised=False, instantaneous_trip="700 A")
    assert (
        "of this sort: breaker, made for DC; its 2 poles in series as its print shows; no plus "
        "sign and no arrow on it, so that it breaks both ways; trips at once from 700 A DC."
    ) in step(as_if_go(two), key).todo
    one = step(as_if_go(with_families(**breaker, polarised=True)), key).todo
    assert "its one pole alone in the way; a plus sign or an arrow on it, if any, as its" in one
    assert "trips" not in one
    made = design(BARN)
    none = tuple(attrs.evolve(fuse, family=None) for fuse in made.protection.fuses)
    bare = attrs.evolve(made, protection=attrs.evolve(made.protection, fuses=none))
    assert "sort" not in step(as_if_go(bare), key).todo


def test_leads_that_a_short_reckons_with_are_not_shorter_or_thicker() -> None:
    shortest = step(plan(BARN), "parts.string_to_bus_shortest")
    # 1.2 m, all alike: a tenth less at most.
    assert (shortest.low, shortest.high) == (pytest.approx(1.08), pytest.approx(1.2))
    lead = attrs.evolve(BARN.cabling.module_lead, shortest="0.6 m")
    uneven = forced(attrs.evolve(BARN, cabling=attrs.evolve(BARN.cabling, module_lead=lead)))
    assert step(uneven, "parts.string_to_bus_shortest").low == pytest.approx(0.54)
    assert "or thicker" not in step(plan(BARN), "parts.string_to_bus_cable").todo
    main = "parts.bus_to_5_kva_inverter_charger_48_v_class"
    assert "or thicker" in step(plan(BARN), f"{main}_cable").todo
    assert f"{main}_shortest" not in {found.key for found in plan(BARN).steps}


def test_links_between_modules_are_looked_at_where_there_are_any() -> None:
    assert "parts.module_to_module_cable" not in {found.key for found in plan(BARN).steps}
    linked = attrs.evolve(BARN.cabling, link=BARN.cabling.module_lead)
    found = forced(attrs.evolve(BARN, cabling=linked))
    size = BARN.cabling.module_lead.conductor.size
    assert size in step(found, "parts.module_to_module_cable").todo


def test_every_limit_that_the_design_works_under_is_looked_at() -> None:
    found = plan(BARN)
    limits = [s for s in found.steps if s.key.startswith("limits.")]
    assert len(limits) == len(found.decision.limits) > 0
    for finding, asked in zip(found.decision.limits, limits, strict=True):
        assert finding.detail in asked.todo
        assert finding.remedy in asked.todo


def test_every_line_of_the_settings_sheet_is_read_back() -> None:
    sheet = design(BARN).settings
    lines = [(device, line) for device in sheet.devices for line in device.lines]
    asked = [s for s in plan(BARN).steps if s.key.startswith("settings.")]
    assert len(asked) == len(lines)
    for (device, line), found in zip(lines, asked, strict=True):
        assert found.title == f"{device.device}: {line.name}"
        assert found.optional == ("if fitted" in device.device)
        if line.act is Act.TURN_OFF:
            assert found.kind is None
            assert "It is off" in found.todo
        elif line.name == "charge current limit":
            pass  # see below
        elif found.kind is not None:
            assert found.expected == line.entry


def test_a_charge_limit_that_is_lower_in_the_cold_shows_either() -> None:
    # A list that insists on the warm one would be obeyed in winter too.
    device = "settings.60_a_solar_charge_controller_charge_current_limit"
    warm, cold = step(plan(BARN), device), step(plan(BARN), f"{device}_in_the_cold")
    assert (warm.low, warm.high) == (6.0, 33.0)
    assert "33 A in the warm months, 6 A while the cells may be cold" in warm.todo
    assert cold.kind is None
    assert "set to: 6 A" in cold.todo
    # Where there is no charge at all in the cold, the warm one is what is entered.
    freezing = attrs.evolve(BARN.site, coldest="-5 °C", coldest_outside="-20 °C")
    none = forced(attrs.evolve(BARN, site=freezing))
    assert "set to: no charge" in step(none, f"{device}_in_the_cold").todo
    only = step(none, device)
    assert only.low == only.high


def test_an_entry_that_is_told_in_words_is_asked_for() -> None:
    made = design(BARN)
    device, *others = made.settings.devices
    first, *rest = device.lines
    told = attrs.evolve(first, entry="46.8 V or less", shows=None)
    lines = attrs.evolve(device, lines=(told, *rest))
    settings = attrs.evolve(made.settings, devices=(lines, *others))
    worded = as_if_go(attrs.evolve(made, settings=settings))
    asked = step(worded, f"settings.{slug(f'{device.device} {first.name}')}")
    assert asked.kind is None
    assert asked.todo == "It shows 46.8 V or less."


def test_an_emergency_disconnect_is_held_to_what_it_does_and_no_more() -> None:
    guards = attrs.evolve(
        BARN.safeguards,
        emergency_off=attrs.evolve(BARN.safeguards.emergency_off, stops_inverters=False),
    )
    keys = {found.key for found in forced(attrs.evolve(BARN, safeguards=guards)).steps}
    assert "stops.emergency_opens" in keys
    assert "stops.emergency_inverters" not in keys


def test_a_part_of_which_nothing_is_asked_in_words_is_not_asked_for() -> None:
    made = design(BARN)
    needs = tuple(attrs.evolve(need, must=()) for need in made.protection.needs)
    bare = as_if_go(attrs.evolve(made, protection=attrs.evolve(made.protection, needs=needs)))
    assert "parts.battery_disconnect" not in {found.key for found in bare.steps}


def test_bounds_worked_by_hand() -> None:
    found = plan(BARN)
    # 14 cells in series of 3.0 to 4.2 V.
    lowest = step(found, "modules.lowest_string")
    assert (lowest.low, lowest.high) == (pytest.approx(42.0), pytest.approx(58.8))
    # A module: seven cells. A string of two is their sum within 1 %: common practice, no source.
    module = step(found, "modules.lowest_module")
    assert (module.low, module.high) == (pytest.approx(21.0), pytest.approx(29.4))
    assert "marked plus" in module.todo
    total = step(found, "modules.string_sum")
    assert (total.low, total.high) == (0.0, pytest.approx(0.01))
    # Strings apart: 20 A through two strings of two modules of 7.23 mΩ, at half of that:
    # 2 · 20 A · 2 · 7.23 mΩ · 0.5 = 0.289 V, and the usual 0.1 V is less.
    assert step(found, "modules.string_spread").high == pytest.approx(0.1)
    # What each charger may really give is 56.1 V and 0.5 %: 56.3805 V; as far below.
    for charger in BARN.all_chargers:
        ends = step(found, f"charge.ends_at_{slug(charger.name)}")
        assert ends.high == pytest.approx(56.1 * 1.005)
        assert ends.low == pytest.approx(56.1 * 0.995)
    # The highest cell: no lower than the mean at the least, 55.8195 V / 14, less 10 mV.
    highest = step(found, "charge.highest_cell")
    assert highest.high == pytest.approx(4.05)
    assert highest.low == pytest.approx(55.8195 / 14 - 0.01)
    # All chargers together: no more than the modules take.
    most = found.decision.design.figures.charge_limit
    assert step(found, "charge.current").high == pytest.approx(most.value)
    # Set to 30 and 33 A, in the cold to 5 and 6 A: no less than 0.7 · 11 A flows in any season.
    assert step(found, "charge.current").low == pytest.approx(7.7)
    # The inverter's meter: 0.5 % of 53.75 V nominal.
    meter = step(found, "closing.meter_5_kva_inverter_charger_48_v_class")
    assert meter.high == pytest.approx(0.005 * float(BARN.pack.nominal.m))
    # The changeover is entered at 52.9 V, and seen within that error.
    changeover = step(found, "discharge.changeover_5_kva_inverter_charger_48_v_class")
    assert changeover.low == pytest.approx(52.9 * 0.995)
    assert changeover.high == pytest.approx(52.9 * 1.005)
    sharing = step(found, "discharge.sharing")
    assert (sharing.low, sharing.high) == (1.0, pytest.approx(1.2))
    # Cells at rest: twice the guard of 20 mV.
    assert step(found, "modules.cell_spread").high == pytest.approx(0.04)


def test_the_ways_to_the_devices_worked_by_hand() -> None:
    found, cabling = plan(BARN), BARN.cabling
    for key, run in (
        ("discharge.main_5_kva_inverter_charger_48_v_class", cabling.main),
        ("charge.charger_60_a_solar_charge_controller", cabling.charger),
    ):
        # Both ways at 75 °C, and half as much again for fuse, switch and joints.
        both = 2 * float(run.length.m) * run.conductor.ohm_per_metre / run.parallel
        assert step(found, key).high == pytest.approx(1.5 * both)
        # Less than half of the copper alone is a slip of the meter, or another cable.
        assert step(found, key).low == pytest.approx(0.5 * both)
    none = attrs.evolve(cabling, main=None, charger=None)
    keys = {s.key for s in forced(attrs.evolve(BARN, cabling=none)).steps}
    assert not any(key.startswith(("discharge.main_", "charge.charger_")) for key in keys)


def test_each_inverter_has_its_own_thresholds() -> None:
    found = plan(read_sheet(example("split-house")))
    for leg in ("1", "2"):
        for key in ("changeover", "back", "cut_off"):
            assert step(found, f"discharge.{key}_inverter_on_leg_{leg}").device.endswith(leg)


def test_an_array_is_read_open_before_it_is_joined() -> None:
    found = plan(BARN)
    low, high = (step(found, f"array.{which}_south_roof") for which in ("lowest", "highest"))
    # Three panels of 41 V at 25 °C: 123 V, and no sunlit cell above 25 °C shows more. In full sun
    # on the hottest day cells at 31 + 30 = 61 °C: 123 V · (1 − 0.28 % · 36) = 110.6016 V.
    assert (low.low, low.high) == (pytest.approx(110.6016), pytest.approx(123))
    assert (high.low, high.high) == (low.low, low.high)
    # 135.7 V with cells at 45 °C is 143.7 V at 25 °C and 158.6 V at −12 °C, on a charger that
    # stands 150 V.
    assert 135.7 / (1 - 0.0028 * 20) * (1 + 0.0028 * 37) > 150
    assert high.high < 135.7
    # Strings alike agree to 2 % of 123 V: common practice, no source.
    spread = step(found, "array.spread_south_roof")
    assert (spread.low, spread.high) == (0.0, pytest.approx(2.46))
    panels = step(found, "array.panels_south_roof").todo
    assert "41 V or less, and there are 3 in series and 3 such strings" in panels
    assert "rated for 136 V DC or more" in panels


def with_array(**what: object) -> Build:
    (roof,) = BARN.arrays
    return attrs.evolve(BARN, arrays=(attrs.evolve(roof, **what),))


def test_a_panel_too_few_is_found_whatever_is_known_of_the_panels() -> None:
    # In volts: 3 · (41 V − 0.1 V/K · 36 K) = 112.2 V.
    volts = forced(with_array(coefficient="-0.1 V/K"))
    assert step(volts, "array.lowest_south_roof").low == pytest.approx(112.2)
    # Unsaid: 0.4 % for each kelvin (common practice, no source): 123 V · (1 − 0.144) = 105.288 V.
    unsaid = forced(with_array(coefficient=None))
    assert step(unsaid, "array.lowest_south_roof").low == pytest.approx(105.288)
    assert 2 * 41 < 105
    # Where it is never warm, a cell at 25 °C still is what the print means.
    arctic = forced(attrs.evolve(BARN, site=attrs.evolve(BARN.site, warmest_outside="-10 °C")))
    assert step(arctic, "array.lowest_south_roof").low == pytest.approx(123)
    one = {found.key for found in forced(with_array(in_parallel=1)).steps}
    assert "array.lowest_south_roof" in one
    assert "array.spread_south_roof" not in one


def test_an_array_of_which_too_little_is_known_proves_nothing() -> None:
    cold = attrs.evolve(BARN.site, warmest_outside=None, coldest_outside=None)
    for which in ("lowest", "highest"):
        read = step(forced(with_array(open_circuit=None)), f"array.{which}_south_roof")
        assert (read.low, read.high) == (None, None)
    # 132 V are 156 V at −40 °C, of 150 V, and 140 V at 4 °C: the coldest morning is asked for.
    unsure = attrs.evolve(with_array(open_circuit="44 V"), site=cold)
    untold = forced(with_array(open_circuit=None))
    assert "array.panels_south_roof" not in {found.key for found in untold.steps}
    assert step(untold, "array.spread_south_roof").high is None
    panels = step(forced(unsure), "array.panels_south_roof").todo
    assert "rated for the voltage of the coldest morning DC or more" in panels


@pytest.mark.parametrize("arrays", [NOT_FITTED, None])
def test_a_solar_charger_without_an_array_is_asked_for(arrays: object) -> None:
    found = forced(attrs.evolve(BARN, arrays=arrays))
    asked = [s for s in found.steps if s.key.startswith("array.")]
    assert [s.key for s in asked] == ["array.apart_60_a_solar_charge_controller"]
    assert "nothing is joined to its solar input" in asked[0].todo


def test_precharge_is_read_in_volts_and_in_seconds() -> None:
    found = plan(BARN)
    name = "5_kva_inverter_charger_48_v_class"
    # 47 Ω and 20 mF: five time constants are 4.7 s, and a fifth more for real parts.
    fill = step(found, f"closing.precharge_time_{name}")
    assert fill.high == pytest.approx(1.2 * 4.7)
    # What is full in less than a third of it was never filled through the resistor.
    assert fill.low == pytest.approx(0.3 * 4.7)
    # Before it starts the whole pack, 42 to 58.8 V, stands across the open contact, but for a rest
    # in the capacitors; across a welded one stands nothing.
    before = step(found, f"closing.precharge_before_{name}")
    assert (before.low, before.high) == (pytest.approx(0.9 * 42), pytest.approx(58.8))
    # What is left after 6 s, e^(−6 / 0.94) of 58.8 V, is 0.099 V: 1 V harms no contact.
    assert step(found, f"closing.precharge_{name}").high == pytest.approx(1.0)


def test_a_charger_whose_profile_stays_on_is_held_against_that() -> None:
    sheet = read_sheet(example("left-on"))
    found = forced(sheet)
    charger = next(c for c in sheet.all_chargers if c.left_on is not None)
    ends = step(found, f"charge.ends_at_{slug(charger.name)}")
    error = float((charger.accuracy or sheet.policy.charger_accuracy).m)
    assert ends.low == pytest.approx(float(charger.left_on.absorption.m) * (1 - error))
    assert ends.high == found.decision.design.settings.thresholds.charge_most


def test_a_charger_that_nobody_can_set_proves_nothing() -> None:
    (charger, *others) = BARN.chargers
    unknown = attrs.evolve(BARN, chargers=(attrs.evolve(charger, charge_voltage=None), *others))
    ends = step(forced(unknown), f"charge.ends_at_{slug(charger.name)}")
    assert (ends.low, ends.high) == (None, None)


def test_what_the_design_cannot_say_proves_nothing_whatever_is_read() -> None:
    unlimited = forced(with_module(charge_limit=None, resistance=None))
    for key in ("modules.string_spread", "charge.current"):
        blank = step(unlimited, key)
        assert (blank.low, blank.high) == (None, None)
        assert "not known" in blank.expected


def test_no_step_is_a_title_alone_and_what_is_off_has_a_way_out() -> None:
    for found in plan(BARN).steps:
        assert found.title
        assert found.todo.endswith((".", "!")) or found.todo[-1] in ".)"
        if found.kind is not None:
            assert found.if_not, found.key


def test_strings_apart_are_bounded_by_what_the_modules_take() -> None:
    # The modules may be charged with 2 A: 2 · 2 A · m · R · 0.5 is less than 0.1 V.
    tender = forced(with_module(charge_limit="2 A"))
    pack = tender.decision.design.build.pack
    expected = 2 * 2.0 * pack.modules_in_series * float(pack.module.resistance.m) * 0.5
    assert expected < 0.1
    assert step(tender, "modules.string_spread").high == pytest.approx(expected)


def test_the_resistance_at_the_bus_counts_leads() -> None:
    made = design(BARN)
    pack, lead = BARN.pack, BARN.cabling.module_lead
    ohms = bus_resistance(made)
    assert ohms == pytest.approx(float(pack.resistance.m) + float(lead.resistance.m) / pack.strings)
    band = step(plan(BARN), "discharge.resistance")
    assert band.kind is RESISTANCE
    # Half of it (the lowest credible) to a fifth more (common practice, no source).
    assert (band.low, band.high) == (pytest.approx(0.5 * ohms), pytest.approx(1.2 * ohms))
    assert bus_resistance(design(with_module(resistance=None))) is None


def test_one_string_is_not_held_against_others() -> None:
    keys = {found.key for found in forced(with_pack(strings=1)).steps}
    assert "modules.lowest_string" in keys
    assert "modules.string_spread" not in keys
    assert "discharge.sharing" not in keys


@pytest.mark.parametrize(
    ("earthed", "said"),
    [
        ("none", "no device joined yet"),
        (None, "no device joined yet"),
        ("minus", "Before the minus pole"),
    ],
)
def test_insulation_is_looked_at_as_the_pack_is_earthed(earthed: str | None, said: str) -> None:
    found = forced(attrs.evolve(BARN, pack=attrs.evolve(BARN.pack, earthed=earthed)))
    assert said in step(found, "modules.insulation").todo


def test_what_is_expected_is_rounded_to_the_safe_side() -> None:
    stage = Stage("s", "S")
    most = stage.reads("a", "t", "d", kind=VOLTAGE, high=0.12999)
    least = stage.reads("b", "t", "d", kind=VOLTAGE, low=41.9611)
    assert most.expected == "at most 0.12 V"
    assert least.expected == "at least 42 V"
    neither = stage.reads("c", "t", "d", kind=VOLTAGE)
    assert "not known" in neither.expected


def test_a_narrow_range_is_told_with_as_many_digits_as_keep_its_ends_apart() -> None:
    stage = Stage("s", "S")

    def told(low: float, high: float, kind: Kind = VOLTAGE) -> str:
        return stage.reads("a", "t", "d", kind=kind, low=low, high=high).expected

    # To three digits the ends would cross: 72.5 V to 72.4 V.
    assert told(72.41, 72.49) == "72.41 V to 72.49 V"
    assert told(72.4111, 72.4189) == "72.412 V to 72.418 V"
    # One and the same in three digits is no range either.
    assert told(72.45, 72.55) == "72.45 V to 72.55 V"
    assert told(0.50001, 0.50009, SHARE) == "50.001 % to 50.009 %"
    assert told(55.8195, 56.3805) == "55.9 V to 56.3 V"
    assert told(1.0, 1.0 + 1e-15) == "1.0 V to 1.000000000000001 V"
    # Of years nobody reads a value, and such bounds lie far apart.
    assert told(4e7, 9e7, TIME) == "1.27 years to 2.85 years"


@given(low=st.floats(1e-3, 1e3), wide=st.floats(1e-9, 1.0))
def test_whatever_the_range_its_words_lie_within_it_and_in_order(low: float, wide: float) -> None:
    high = low * (1 + wide)
    words = Stage("s", "S").reads("a", "t", "d", kind=VOLTAGE, low=low, high=high).expected
    least, most = (float(VOLTAGE.read(word).m) for word in words.split(" to "))
    assert low * (1 - 1e-6) <= least < most <= high * (1 + 1e-6)


def test_the_mark_differs_where_what_is_expected_differs() -> None:
    assert plan(BARN).mark == plan(BARN).mark
    other = attrs.evolve(BARN, policy=attrs.evolve(BARN.policy, reserve="35 %"))
    assert plan(other).mark != plan(BARN).mark


def test_a_good_build_has_a_plan() -> None:
    assert len(plan(good_build()).steps) > 40


def test_monitoring_is_held_to_what_it_is_said_to_do() -> None:
    does = {
        "stops_charge": "stops_charge",
        "stops_discharge": "stops_discharge",
        "watches_each_string": "each_string",
        "temperatures": "temperatures",
        "blocks_cold_charge": "cold",
    }
    watching = BARN.pack.monitoring
    for field, key in does.items():
        without = attrs.evolve(watching, **{field: False})
        pack = attrs.evolve(BARN.pack, monitoring=without)
        keys = {found.key for found in forced(attrs.evolve(BARN, pack=pack)).steps}
        assert f"stops.{key}" not in keys
        assert f"monitoring.{key}" not in keys
        assert "monitoring.reads" in keys
    none = attrs.evolve(BARN, pack=attrs.evolve(BARN.pack, monitoring=NOT_FITTED))
    told = ("monitoring.", "stops.stops", "stops.each", "stops.cold")
    assert not any(found.key.startswith(told) for found in forced(none).steps)
    assert {f"stops.{key}" for key in does.values() if key != "temperatures"} <= {
        found.key for found in plan(BARN).steps
    }


def test_what_was_not_worked_out_is_left_out_and_the_rest_stays() -> None:
    made = design(BARN)
    bare = as_if_go(attrs.evolve(made, settings=None, protection=None, figures=None))
    keys = {found.key for found in bare.steps}
    assert {"modules.sound", "closing.polarity", "discharge.resistance", "later.log"} <= keys
    assert not any(key.startswith(("parts.", "settings.", "charge.")) for key in keys)
    assert step(as_if_go(attrs.evolve(made, figures=None)), "charge.current").high is None
    # Where the charge ends is not settled: nothing is known of the highest cell either.
    at = attrs.evolve(made.settings.thresholds, charge=None)
    open_ = as_if_go(attrs.evolve(made, settings=attrs.evolve(made.settings, thresholds=at)))
    highest = step(open_, "charge.highest_cell")
    assert (highest.low, highest.high) == (None, None)
    # A chemistry that is refused has no targets, and no charge of it is described.
    module = BARN.pack.module
    refused = attrs.evolve(module.chemistry, targets=None, why_refused="it must not")
    pack = attrs.evolve(BARN.pack, module=attrs.evolve(module, chemistry=refused), spread_full=None)
    untold = as_if_go(attrs.evolve(made, build=attrs.evolve(BARN, pack=pack)))
    assert "modules.cell_spread" not in {found.key for found in untold.steps}
    assert step(untold, "later.spread").high is None
    assert not any(found.key.startswith("charge.") for found in untold.steps)


def test_what_is_not_fitted_is_not_asked_for() -> None:
    guards = attrs.evolve(BARN.safeguards, disconnect=None, emergency_off=NOT_FITTED)
    keys = {found.key for found in forced(attrs.evolve(BARN, safeguards=guards)).steps}
    assert "closing.disconnect" not in keys
    assert not any(key.startswith("stops.emergency") for key in keys)


def test_what_has_opened_closes_again_through_the_precharge_where_there_is_one() -> None:
    bare = forced(safeguards(precharge=NOT_FITTED))
    for key in ("stops.stops_discharge", "stops.emergency_opens"):
        assert step(plan(BARN), key).todo.endswith("It closes again only through the precharge.")
        assert "precharge" not in step(bare, key).todo


def test_thresholds_that_nobody_can_enter_are_not_read() -> None:
    (inverter,) = BARN.inverters
    none = attrs.evolve(
        inverter, cut_off=NOT_FITTED, changeover=NOT_FITTED, return_to_battery=NOT_FITTED
    )
    keys = {found.key for found in forced(attrs.evolve(BARN, inverters=(none,))).steps}
    assert not any(
        key.startswith(("discharge.cut_off", "discharge.changeover", "discharge.back"))
        for key in keys
    )


def test_a_return_that_cannot_be_set_is_tried_and_not_called_settled() -> None:
    (inverter,) = BARN.inverters
    name = slug(inverter.name)
    for returns in (NOT_FITTED, ("40 V", "44 V", "0.1 V")):
        other = attrs.evolve(inverter, return_to_battery=returns)
        found = forced(attrs.evolve(BARN, inverters=(other,)))
        at = found.decision.design.settings.thresholds
        tried = step(found, f"discharge.back_{name}")
        assert tried.kind is None
        assert f"between {at.changeover:.1f} V and {at.charge:.1f} V" in tried.todo
        assert "or it waits for a hand" in tried.todo
        read_back = step(found, f"settings.{name}_return_to_battery")
        assert "It cannot be set on this device" in read_back.todo
        assert "settled" not in read_back.todo
    # Where it is set, the voltage is read instead.
    assert step(plan(BARN), f"discharge.back_{name}").kind is VOLTAGE
    # With nothing that charges, nobody can say between what.
    lone = attrs.evolve(inverter, charger=NOT_FITTED, return_to_battery=NOT_FITTED)
    bare = attrs.evolve(BARN, inverters=(lone,), chargers=(), arrays=None)
    assert "once, and stays" in step(forced(bare), f"discharge.back_{name}").todo


def test_one_module_the_wrong_way_round_shows_however_long_the_string() -> None:
    # Eight in series, full, one of them turned: 6/8 of the voltage, which still looks like a string
    # that is half empty. It is 25 % off the sum of its modules, and 2/300 off in one of 300.
    for modules in (2, 8, 300):
        most = step(forced(with_pack(modules_in_series=modules)), "modules.string_sum").high
        assert most <= 0.01
        assert 2 / modules > most
    alone = {found.key for found in forced(with_pack(modules_in_series=1)).steps}
    assert "modules.string_sum" not in alone
    assert "modules.lowest_module" in alone


def test_what_chargers_together_give_worked_by_hand() -> None:
    (charger, *_), (inverter,) = BARN.chargers, BARN.inverters
    # Where the cold does not matter, 0.7 · (30 + 33) A.
    warm = forced(attrs.evolve(BARN, site=attrs.evolve(BARN.site, coldest="18 °C")))
    assert step(warm, "charge.current").low == pytest.approx(0.7 * 63)
    # Of an array that nobody described the setting counts, and of a charger of which nobody knows
    # what it gives nothing is proven.
    none = forced(attrs.evolve(BARN, arrays=None))
    assert step(none, "charge.current").low == pytest.approx(7.7)
    unknown = attrs.evolve(charger, current=None, current_setting=None)
    blank = step(forced(attrs.evolve(BARN, chargers=(unknown,), arrays=None)), "charge.current")
    assert (blank.low, blank.high) == (None, None)
    # One that gives no more than 4 A is not asked for more.
    small = attrs.evolve(inverter, charger=attrs.evolve(inverter.charger, current="4 A"))
    less = step(forced(attrs.evolve(BARN, inverters=(small,))), "charge.current").low
    assert less < 0.7 * (4 + 33)


def safeguards(**what: object) -> Build:
    return attrs.evolve(BARN, safeguards=attrs.evolve(BARN.safeguards, **what))


GUARDS = BARN.safeguards
OTHER_PARTS = {
    "strings": with_pack_of_barn(strings=5),
    "links": attrs.evolve(BARN, cabling=attrs.evolve(BARN.cabling, link=BARN.cabling.module_lead)),
    "monitoring": with_pack_of_barn(
        monitoring=attrs.evolve(BARN.pack.monitoring, name="another make")
    ),
    "monitoring blocks": with_pack_of_barn(
        monitoring=attrs.evolve(BARN.pack.monitoring, blocks_cold_charge=False)
    ),
    "module": with_pack_of_barn(module=attrs.evolve(BARN.pack.module, discharge_limit="74 A")),
    "emergency": safeguards(emergency_off=attrs.evolve(GUARDS.emergency_off, place="the cellar")),
    "disconnect": safeguards(disconnect=attrs.evolve(GUARDS.disconnect, place="the cellar")),
    "precharge": safeguards(precharge=attrs.evolve(GUARDS.precharge, resistance="48 Ohm")),
    "fuse name": safeguards(string_fuse=attrs.evolve(GUARDS.string_fuse, name="another")),
    "fuse sort": safeguards(string_fuse=attrs.evolve(GUARDS.string_fuse, characteristic="gG")),
    "inverter": attrs.evolve(
        BARN, inverters=tuple(attrs.evolve(i, surge="9 kW") for i in BARN.inverters)
    ),
    "array": with_array(short_circuit="10.8 A"),
    "bar": attrs.evolve(
        BARN,
        cabling=attrs.evolve(
            BARN.cabling, bar=attrs.evolve(BARN.cabling.bar, thickness="6 mm", length="0.4 m")
        ),
    ),
}


def test_the_over_current_that_is_read_back_is_that_of_the_sheet_and_the_fuse() -> None:
    """The barn: the string fuse of 70 A lies below its lead's and modules' figures."""
    found = plan(BARN)
    made = found.decision.design
    device = made.settings.device("cell monitoring (BMS)")
    for way in ("discharge", "charge"):
        line = device.line(f"{way} over-current, each string")
        asked = step(found, f"settings.cell_monitoring_bms_{way}_over_current_each_string")
        assert asked.low == asked.high == line.worked.value <= made.protection.string_fuse
        assert asked.expected == line.entry
        assert asked.high == int(asked.high)
    discharge = device.line("discharge over-current, each string")
    assert discharge.worked.value == made.protection.string_fuse == 70


@pytest.mark.parametrize("part", OTHER_PARTS)
def test_with_another_part_old_proofs_do_not_count(part: str) -> None:
    old, new = forced(BARN), forced(OTHER_PARTS[part])
    tokens = {found.key: found.token for found in old.steps}
    again = {found.key for found in new.steps if tokens.get(found.key) != found.token}
    assert {"modules.sound", "closing.polarity", "stops.emergency_opens", "charge.current"} <= again


def test_a_fuse_a_guard_and_a_device_are_read_again_when_they_are_others() -> None:
    def again(part: str) -> set[str]:
        tokens = {found.token for found in forced(BARN).steps}
        return {f.key for f in forced(OTHER_PARTS[part]).steps if f.token not in tokens}

    fuse = "parts.each_string_at_its_positive_terminal"
    assert {f"{fuse}_rating", f"{fuse}_print"} <= again("fuse name")
    assert "parts.each_string_of_south_roof_rating" not in again("fuse name")
    assert {"parts.battery_disconnect", "parts.emergency_disconnect"} <= again("disconnect")
    cut_off = "settings.5_kva_inverter_charger_48_v_class_low_voltage_cut_off"
    assert cut_off in again("inverter")
    assert cut_off not in again("module")
    assert "settings.its_built_in_mains_charger_float_voltage" in again("inverter")
    assert "settings.60_a_solar_charge_controller_equalise" not in again("inverter")
    assert "settings.cell_monitoring_bms_high_cell_voltage_cut" in again("monitoring blocks")


def test_a_breaker_that_trips_elsewhere_is_another_part() -> None:
    breaker = {"kind": "breaker", "characteristic": ""}
    trips = [hardware(with_families(**breaker, instantaneous_trip=at)) for at in ("700 A", "750 A")]
    assert trips[0] != trips[1]


def test_what_is_measured_of_a_part_or_how_it_is_known_makes_no_other_part() -> None:
    one = hardware(design(BARN))
    (inverter,), module = BARN.inverters, BARN.pack.module
    assert described(attrs.evolve(module, resistance="7.3 mOhm")) == described(module)
    for build in (
        BARN,
        # An entry is no part.
        attrs.evolve(BARN, policy=attrs.evolve(BARN.policy, reserve="35 %")),
        # The list itself asks to write these into the sheet.
        attrs.evolve(BARN, inverters=(attrs.evolve(inverter, meter_accuracy="0.4 %"),)),
        safeguards(disconnect=attrs.evolve(GUARDS.disconnect, basis="measured")),
    ):
        assert hardware(design(build)) == one
    assert hardware(attrs.evolve(design(BARN), protection=None)) != one
