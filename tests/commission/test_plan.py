"""The plan of commissioning: what is asked of whom, and where each bound comes from."""

from __future__ import annotations

import attrs
import pytest
from strategies import good_build, with_module, with_pack

from evpack.base.fitted import NOT_FITTED
from evpack.base.units import CURRENT, RESISTANCE, VOLTAGE
from evpack.commission.expected import bus_resistance
from evpack.commission.plan import hardware, plan_of
from evpack.commission.steps import Stage, own_keys, slug
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
        *("limits", "parts", "modules", "monitoring", "settings"),
        *("closing", "charge", "discharge", "later"),
    ]


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
    sizes = [s.todo for s in found.steps if s.key.startswith("parts.") and s.key.endswith("_cable")]
    for run, todo in zip(runs, sizes, strict=True):
        assert run.conductor.size in todo


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
    told = attrs.evolve(first, entry="46.8 V or less")
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
    assert "closing.emergency_opens" in keys
    assert "closing.emergency_inverters" not in keys


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
    (side,) = found.decision.design.solar
    low, high = (step(found, f"closing.array_{w}_south_roof") for w in ("lowest", "highest"))
    # Open panels stand above where they work on the hottest day, and under the coldest morning.
    assert (low.low, low.high) == (side.hot_working.value, None)
    assert (high.low, high.high) == (0.0, side.cold_open.value)


def test_precharge_is_read_in_volts_and_in_seconds() -> None:
    found = plan(BARN)
    name = "5_kva_inverter_charger_48_v_class"
    # 47 Ω and 20 mF: five time constants are 4.7 s, and a fifth more for real parts.
    assert step(found, f"closing.precharge_time_{name}").high == pytest.approx(1.2 * 4.7)
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
        ("none", "joined and all devices off"),
        (None, "joined and all devices off"),
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
        assert f"monitoring.{key}" not in keys
        assert "monitoring.reads" in keys
    none = attrs.evolve(BARN, pack=attrs.evolve(BARN.pack, monitoring=NOT_FITTED))
    assert not any(found.key.startswith("monitoring.") for found in forced(none).steps)


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
    assert not any(key.startswith("closing.emergency") for key in keys)


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


def test_the_parts_are_told_apart() -> None:
    one = hardware(design(BARN))
    assert one == hardware(design(BARN))
    for changed in (
        attrs.evolve(BARN, pack=attrs.evolve(BARN.pack, strings=5)),
        attrs.evolve(
            BARN,
            cabling=attrs.evolve(BARN.cabling, link=BARN.cabling.module_lead),
        ),
    ):
        assert hardware(design(changed)) != one
    # An entry is no part.
    other = attrs.evolve(BARN, policy=attrs.evolve(BARN.policy, reserve="35 %"))
    assert hardware(design(other)) == one
    assert hardware(attrs.evolve(design(BARN), protection=None)) != one
