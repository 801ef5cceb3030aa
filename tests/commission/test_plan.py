"""The plan of commissioning: what is asked of whom, and where each bound comes from."""

from __future__ import annotations

import attrs
import pytest
from strategies import good_build, with_module, with_pack

from evpack.base.units import CURRENT, RESISTANCE, VOLTAGE
from evpack.commission.expected import bus_resistance
from evpack.commission.plan import plan_of
from evpack.commission.steps import Stage, own_keys, slug
from evpack.decide import decide
from evpack.describe.build import Build
from evpack.design import design
from evpack.finished import commissioning_plan
from evpack.load.sheet import example, read_sheet
from evpack.outcome.commissioning import CommissioningPlan, CommissioningStep
from evpack.outcome.design import Decision, Verdict
from evpack.outcome.settings import Act

BARN = read_sheet(example("wether-barn"))


def plan(build: Build) -> CommissioningPlan:
    return commissioning_plan(decide(design(build)))


def forced(build: Build) -> CommissioningPlan:
    """Return the plan as if the design were a go: for the wording of single steps alone."""
    verdict = Verdict.WORKS
    return plan_of(Decision(verdict=verdict, design=design(build), held_by=(), limits=()))


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
        *("parts", "modules", "monitoring", "settings"),
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
        elif found.kind is not None:
            assert found.expected == line.entry


def test_bounds_worked_by_hand() -> None:
    found = plan(BARN)
    # 14 cells in series of 3.0 to 4.2 V.
    lowest = step(found, "modules.lowest_string")
    assert (lowest.low, lowest.high) == (pytest.approx(42.0), pytest.approx(58.8))
    # Strings apart: 20 A through two strings of two modules of 7.23 mΩ, at half of that:
    # 2 · 20 A · 2 · 7.23 mΩ · 0.5 = 0.289 V, and the usual 0.1 V is less.
    assert step(found, "modules.string_spread").high == pytest.approx(0.1)
    # What the charger may really give is 56.1 V and 0.5 %: 56.3805 V; as far below.
    ends = step(found, "charge.ends_at")
    assert ends.high == pytest.approx(56.1 * 1.005)
    assert ends.low == pytest.approx(56.1 * 0.995)
    assert step(found, "charge.highest_cell").high == pytest.approx(4.05)
    # The inverter's meter: 0.5 % of 53.75 V nominal.
    meter = step(found, "closing.meter_5_kva_inverter_charger_48_v_class")
    assert meter.high == pytest.approx(0.005 * float(BARN.pack.nominal.m))
    # The changeover is entered at 52.9 V, and seen within that error.
    changeover = step(found, "discharge.changeover")
    assert changeover.low == pytest.approx(52.9 * 0.995)
    assert changeover.high == pytest.approx(52.9 * 1.005)
    assert step(found, "discharge.sharing").high == pytest.approx(1.2)


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
