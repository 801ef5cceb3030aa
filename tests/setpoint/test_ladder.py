"""The ladder of thresholds, the cell monitoring and the shunt meter. Worked by hand."""

from __future__ import annotations

import pytest
from hypothesis import given
from strategies import (
    BLEND,
    good_build,
    good_cabling,
    good_charger,
    good_conductor,
    good_module,
    good_pack,
    good_profile,
    groundwork,
    modules,
    straight,
    with_charger,
    with_inverter,
    with_module,
    with_policy,
)

from evpack.base.finding import Finding
from evpack.describe.build import Build
from evpack.describe.cabling import Run
from evpack.describe.module import Module
from evpack.describe.policy import Policy
from evpack.design import design
from evpack.outcome.settings import Act, Thresholds
from evpack.setpoint.ladder import ladder, shunt_settings, within_string_fuse
from evpack.setpoint.sheet import settings_sheet


def rung(build: Build, words: str) -> Finding:
    _, findings = settings_sheet(groundwork(build))
    return next(f for f in findings if f.rule.key == "ladder.step" and words in f.detail)


def test_the_highest_cell_ends_clear_of_the_high_warning() -> None:
    # 56.1 · 1.005 / 14 + 0.02 = 4.04718 V, and 4.12 − 4.04718 = 0.07282 V, 0.03 V at least.
    found = rung(good_build(), "high warning")
    assert found.value == pytest.approx(4.12 - (56.1 * 1.005 / 14 + 0.02))
    assert found.limit == 0.03


def test_the_cut_off_stands_clear_of_the_low_cut() -> None:
    # 45.4 / 14 − 3.0 = 0.242857 V.
    assert rung(good_build(), "low cut").value == pytest.approx(0.242857, abs=5e-7)


def test_the_changeover_stands_clear_of_the_cut_off() -> None:
    # 47.2 and 45.4 V: 1.8 / 14 = 0.128571 V (see test_discharge).
    build = good_build(pack=good_pack(module=good_module(ocv=straight(3.2, 4.1))))
    assert rung(build, "up to the changeover").value == pytest.approx(0.128571, abs=5e-7)


def test_another_inverter_that_stops_higher_narrows_the_step() -> None:
    ground = groundwork(good_build())
    close = Thresholds(charge=56.1, charge_most=56.4, cut_off=46.9, changeover=47.2, back=50.3)
    severities = [f.severity.name for f in ladder(ground, close, 56.4)]
    assert severities == ["OK", "CAUTION", "OK", "OK"]
    upside_down = Thresholds(
        charge=56.1, charge_most=56.4, cut_off=47.2, changeover=47.2, back=50.3
    )
    told = ladder(ground, upside_down, 56.4)
    assert [f.severity.name for f in told] == ["OK", "CAUTION", "OK", "OK"]


def test_where_nothing_is_settled_only_the_cuts_are_judged() -> None:
    nothing = Thresholds(charge=None, charge_most=None, cut_off=None, changeover=None, back=None)
    assert [f.rule.key for f in ladder(groundwork(good_build()), nothing, None)] == [
        "ladder.inside"
    ]


def test_the_monitoring_is_set_as_the_chemistry_says() -> None:
    assert groundwork(good_build()).cell_thresholds() == {
        "cut_high": 4.18,
        "warn_high": 4.12,
        "warn_low": 3.2,
        "cut_low": 3.0,
    }


def test_a_tighter_module_draws_the_cuts_in() -> None:
    # 4.1 V and 3.3 V from the maker. Upwards the chemistry cuts 20 mV inside its limit, 4.18 of
    # 4.2 V: 4.08 V; downwards at its limit, 3.0 of 3.0 V. The warnings stay 30 mV inside.
    cells = groundwork(with_module(cell_highest="4.1 V", cell_least="3.3 V")).cell_thresholds()
    assert cells == pytest.approx(
        {"cut_high": 4.08, "warn_high": 4.05, "warn_low": 3.33, "cut_low": 3.3}
    )


def test_downwards_a_tighter_module_keeps_no_more_than_a_step() -> None:
    # The blend stands 2.7 V and is cut at 3.0 V; of that 300 mV a module of 3.1 V keeps the
    # least step, 30 mV: 3.13 V, warned of at 3.3 V as ever.
    tight = with_module(chemistry=BLEND, cell_least="3.1 V", cell_highest="4.16 V")
    # Upwards it is cut 50 mV inside, 4.15 of 4.2 V: 4.11 V, warned of at 4.08 V.
    assert groundwork(tight).cell_thresholds() == pytest.approx(
        {"cut_high": 4.11, "warn_high": 4.08, "warn_low": 3.3, "cut_low": 3.13}
    )


def test_a_module_tighter_by_less_than_the_cuts_changes_nothing() -> None:
    # 2.8 + 0.03 V is under the blend's cut at 3.0 V.
    slack = with_module(chemistry=BLEND, cell_least="2.8 V")
    assert groundwork(slack).cell_thresholds()["cut_low"] == 3.0


@given(module=modules())
def test_no_cut_lies_outside_what_the_cells_stand(module: Module) -> None:
    cells = groundwork(good_build(pack=good_pack(module=module))).cell_thresholds()
    assert module.least.m <= cells["cut_low"] < cells["warn_low"]
    assert cells["warn_high"] < cells["cut_high"] <= module.highest.m


def test_the_sheet_says_what_to_set_on_the_monitoring() -> None:
    sheet, _ = settings_sheet(groundwork(good_build()))
    device = sheet.device("cell monitoring (BMS)")
    assert device is not None
    assert {line.name: line.entry for line in device.lines} == {
        "high cell voltage, cut": "4.18 V/cell",
        "high cell voltage, warning": "4.12 V/cell",
        "low cell voltage, warning": "3.2 V/cell",
        "low cell voltage, cut": "3 V/cell",
        # The cells' limit of 0 °C and 5 K: the sensors sit on the case.
        "no charge below": "5 °C",
        "no charge above": "45 °C",
        "no discharge outside": "-20 °C to 60 °C",
        # The least of a module's peak, 120 A, the lead's ampacity, 115 A, and the links' 90 A.
        "discharge over-current, each string": "90 A",
        "charge over-current, each string": "30 A",
    }


def test_no_over_current_is_set_where_no_limit_is_known() -> None:
    sheet, _ = settings_sheet(groundwork(with_module(discharge_peak=None, charge_limit=None)))
    device = sheet.device("cell monitoring (BMS)")
    assert device is not None
    assert not [line.name for line in device.lines if "over-current" in line.name]


@pytest.mark.parametrize(
    ("module", "ampacity", "discharge", "charge"),
    [
        ({"discharge_peak": "80 A"}, 115.0, "80 A", "30 A"),  # the modules' own peak
        ({"link_limit": None}, 115.0, "115 A", "30 A"),  # the lead
        ({}, 25.0, "25 A", "25 A"),  # a thin lead bounds the charge as well
        ({"link_limit": "28.57 A"}, 115.0, "28 A", "28 A"),  # whole amperes, rounded down
    ],
)
def test_no_over_current_is_set_above_what_lead_and_links_carry(
    module: dict, ampacity: float, discharge: str, charge: str
) -> None:
    lead = Run(name="lead", conductor=good_conductor(ampacity), length="1 m")
    build = good_build(
        pack=good_pack(module=good_module(**module)), cabling=good_cabling(module_lead=lead)
    )
    assert over_currents(build) == [discharge, charge]


def test_an_over_current_without_a_lead_says_so() -> None:
    bare = good_build(
        pack=good_pack(module=good_module(link_limit=None)),
        cabling=good_cabling(module_lead=None),
    )
    assert over_currents(bare) == ["120 A", "30 A"]
    sheet, _ = settings_sheet(groundwork(bare))
    device = sheet.device("cell monitoring (BMS)")
    assert device is not None
    assert all("lead is not described" in x.why for x in device.lines if "over-current" in x.name)


@pytest.mark.parametrize(
    ("rating", "discharge", "charge"),
    [
        (70.0, "70 A", "30 A"),  # the fuse, below the links' 90 A and the modules' peak of 120 A
        (25.0, "25 A", "25 A"),  # a small one bounds the charge as well
        (100.0, "90 A", "30 A"),  # the links
        (None, "90 A", "30 A"),  # none fits yet
    ],
)
def test_no_over_current_is_set_above_the_rating_of_the_string_fuse(
    rating: float | None, discharge: str, charge: str
) -> None:
    ground = groundwork(good_build())
    sheet, _ = settings_sheet(ground)
    held = within_string_fuse(ground, sheet, rating)
    device = held.device("cell monitoring (BMS)")
    assert device is not None
    lines = [line for line in device.lines if "over-current" in line.name]
    assert [line.entry for line in lines] == [discharge, charge]
    assert all(("No string fuse is settled" in line.why) == (rating is None) for line in lines)
    # Nothing else of the sheet moves.
    others = [d for d in held.devices if d.device != device.device]
    assert others == [d for d in sheet.devices if d.device != device.device]
    before = sheet.device("cell monitoring (BMS)")
    assert before is not None
    assert [line.name for line in device.lines] == [line.name for line in before.lines]


def test_an_over_current_below_an_ampere_is_not_rounded_to_nothing() -> None:
    build = with_module(charge_limit="0.75 A")
    assert over_currents(build)[1] == "0.75 A"


def test_the_finished_sheet_holds_the_over_current_to_the_fuse_that_was_chosen() -> None:
    made = design(good_build())
    assert made.protection is not None
    rating = made.protection.string_fuse
    assert rating is not None
    assert made.settings is not None
    device = made.settings.device("cell monitoring (BMS)")
    assert device is not None
    line = device.line("discharge over-current, each string")
    assert line is not None
    assert line.worked is not None
    assert line.worked.value == min(90.0, rating)
    assert float(line.entry.removesuffix(" A")) <= rating


def over_currents(build: Build) -> list[str]:
    sheet, _ = settings_sheet(groundwork(build))
    device = sheet.device("cell monitoring (BMS)")
    assert device is not None
    return [line.entry for line in device.lines if "over-current" in line.name]


def test_the_shunt_meter_counts_from_full_to_the_cut_off() -> None:
    # Straight from 3.2 to 4.1 V: 56.1 / 14 = 4.0071 V is 89.6825 %, 45.4 / 14 = 3.2429 V is
    # 4.7619 %; 180 Ah · 0.849206 = 152.857 Ah. Full above 56.1 · 0.995 − 14 · 0.02 = 55.5395 V,
    # down to 55.5 V, which a charger that ends half a per cent low still reaches. The charger ends
    # at 5 % of 180 Ah an hour, 9 A: 5.888 % of 152.857 Ah, and one more: 6.888 %, up to 7 %.
    build = good_build(pack=good_pack(module=good_module(ocv=straight(3.2, 4.1))))
    sheet, _ = settings_sheet(groundwork(build))
    device = sheet.device("battery meter with a shunt, if fitted")
    assert device is not None
    entries = {line.name: line.entry for line in device.lines}
    capacity = device.line("capacity")
    assert capacity is not None
    assert capacity.worked is not None
    assert capacity.worked.value == pytest.approx(152.857, abs=0.0005)
    assert entries["voltage that counts as full"] == "55.5 V"
    assert entries["current that counts as full"] == "7 %"
    assert entries["charge efficiency"] == "99 %"
    assert entries["Peukert exponent"] == "1.05"


def tail(build: Build) -> float:
    sheet, _ = settings_sheet(groundwork(build))
    device = sheet.device("battery meter with a shunt, if fitted")
    assert device is not None
    line = device.line("current that counts as full")
    assert line is not None
    assert line.worked is not None
    return line.worked.value


def test_the_tail_current_lies_over_what_all_chargers_end_at() -> None:
    # On the straight curve, 152.857 Ah. Three units end at 3.6 A each: 10.8 A are 7.065 %, and
    # one more 8.065 %, up to 9 %. Two at 4.5 A make the 9 A of one.
    straight_pack = good_pack(module=good_module(ocv=straight(3.2, 4.1)))
    three = good_build(pack=straight_pack, chargers=(good_charger(count=3),))
    two = good_build(pack=straight_pack, chargers=(good_charger(count=2),))
    assert tail(three) == pytest.approx(0.09)
    assert tail(two) == pytest.approx(0.07)


def test_the_charged_voltage_is_that_of_the_charger_that_may_end_lowest() -> None:
    # 56.1 · 0.995 = 55.82 V; with 3 % the other is set to 14 · 4.03 / 1.03 = 54.777, 54.7 V, and
    # may end at 54.7 · 0.97 = 53.059 V: less 0.28 V 52.779, down to 52.7 V.
    build = good_build(chargers=(good_charger(), good_charger(name="rough", accuracy="3 %")))
    sheet, _ = settings_sheet(groundwork(build))
    device = sheet.device("battery meter with a shunt, if fitted")
    assert device is not None
    line = device.line("voltage that counts as full")
    assert line is not None
    assert line.entry == "52.7 V"


def test_where_little_is_counted_no_tail_current_fits() -> None:
    # From 3.2 to 4.1 V straight, 55 V are 3.92857 V, 80.952 %; 14 · 3.8 = 53.2 V would be 66.667 %:
    # 25.714 Ah. The charger ends at 9 A, 35 %, and one more: 36 %.
    build = good_build(pack=good_pack(module=good_module(ocv=straight(3.2, 4.1))))
    narrow = Thresholds(charge=55.0, charge_most=55.3, cut_off=53.2, changeover=None, back=None)
    device = shunt_settings(groundwork(build), narrow)
    assert device is not None
    line = device.line("current that counts as full")
    assert line is not None
    assert (line.act, line.entry) == (Act.CANNOT, "none fits")
    assert "as much as 36 %" in line.why


@pytest.mark.parametrize("cut_off", [40.0, 50.0])
def test_a_shunt_meter_has_nothing_to_count_below_the_cut_off(cut_off: float) -> None:
    upside_down = Thresholds(
        charge=40.0, charge_most=40.2, cut_off=cut_off, changeover=None, back=None
    )
    assert shunt_settings(groundwork(good_build()), upside_down) is None


@pytest.mark.parametrize(
    "build", [with_charger(charge_voltage=None), with_inverter(cut_off=None)], ids=["charge", "cut"]
)
def test_the_shunt_meter_waits_until_both_ends_are_settled(build: Build) -> None:
    sheet, _ = settings_sheet(groundwork(build))
    assert [d.device for d in sheet.devices] == ["inverter", "charger", "cell monitoring (BMS)"]


def test_the_ladder_is_lowered_and_never_raised() -> None:
    # 4.15 V of target and 4.12 V of warning: a caution, whose remedy is the charge target.
    found = rung(with_policy(charge_target="4.15 V"), "high warning")
    assert found.severity.name == "CAUTION"
    assert found.remedy.startswith("Lower the charge target")


def test_a_step_of_nothing_is_a_caution() -> None:
    # 4.12 V, and 14 · (4.12 − 0.02) / 1.025 = 56 V is an entry: the highest cell ends where the
    # monitoring warns, but for binary dust.
    build = good_build(
        policy=Policy(basis="chosen", charge_target="4.12 V"),
        chargers=(good_charger(accuracy="2.5 %", charge_voltage=("56 V", "60 V", "0.1 V")),),
    )
    found = rung(build, "high warning")
    assert found.value == pytest.approx(0.0, abs=1e-9)
    assert found.severity.name == "CAUTION"


def test_a_profile_that_stays_on_has_no_target_to_lower() -> None:
    build = with_charger(left_on=good_profile())
    _, findings = settings_sheet(groundwork(build))
    assert not [f for f in findings if "high warning" in f.detail]


def test_beside_a_profile_that_stays_on_the_other_chargers_are_judged() -> None:
    # 4.15 V of target, above the warning of 4.12 V, on the one that can be set.
    mild = good_profile(absorption="55 V", equalise="55 V", compensation="0 V/K")
    build = good_build(
        policy=Policy(basis="chosen", charge_target="4.15 V"),
        chargers=(good_charger(), good_charger(name="old", left_on=mild)),
    )
    assert rung(build, "high warning").severity.name == "CAUTION"
