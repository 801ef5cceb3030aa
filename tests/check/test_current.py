"""Currents that the modules see. Worked by hand; severities: test_design.py."""

from __future__ import annotations

import pytest
from strategies import (
    good_build,
    good_charger,
    good_inverter,
    good_load,
    good_site,
    groundwork,
    with_charger,
    with_inverter,
    with_module,
)

from evpack.base.finding import Finding, Severity
from evpack.base.fitted import NOT_FITTED
from evpack.check.current import charge_current_set
from evpack.describe.build import Build
from evpack.design import design
from evpack.outcome.settings import SettingsSheet, Thresholds


def finding(build: Build, rule: str) -> Finding:
    return next(f for f in design(build).findings if f.rule.key == rule)


@pytest.mark.parametrize(
    ("rule", "value", "limit"),
    [
        ("current.charge", 40.0, 75.0),  # all that the charger gives; 3 · 30 / 1.2
        ("current.charge-rate", 40.0, 54.0),  # 0.3 · 180
        ("current.charge-cold", 40.0, 180.0),  # at 16 °C the cold sets no limit of its own
        ("current.load", 48.544, 150.0),  # 2203.913 W at 45.4 V
        ("current.full-output", 72.486, 150.0),  # 3290.870 W at 45.4 V
        ("current.discharge-rate", 48.544, 180.0),
        ("current.peak", 96.428, 300.0),  # 4377.826 W at 45.4 V; 3 · 120 / 1.2
        ("current.output", 3000.0, 2000.0),
        ("current.output-peak", 6000.0, 4000.0),
    ],
)
def test_margins_of_the_good_build(rule: str, value: float, limit: float) -> None:
    found = finding(good_build(), rule)
    assert found.value == pytest.approx(value, abs=0.0005)
    assert found.limit == pytest.approx(limit)


@pytest.mark.parametrize(
    ("coldest", "limit"),
    # 180 Ah: nothing below freezing, 0.05 up to 5 °C, 0.2 up to 15 °C, then 1 (common practice).
    [("-1 degC", 0.0), ("0 degC", 9.0), ("5 degC", 36.0), ("15 degC", 180.0)],
)
def test_the_cold_takes_its_part(coldest: str, limit: float) -> None:
    found = finding(good_build(site=good_site(coldest=coldest)), "current.charge-cold")
    assert found.limit == pytest.approx(limit)


def test_a_charger_that_cannot_be_set_gives_all_it_has() -> None:
    fixed = with_charger(current="70 A", current_setting=NOT_FITTED, count=2)
    assert finding(fixed, "current.charge").value == 140.0
    unsaid = with_charger(current="70 A", current_setting=None, count=2)
    assert finding(unsaid, "current.charge").value == 140.0


def test_a_charger_that_the_sheet_does_not_know_gives_all_it_has() -> None:
    nothing = Thresholds(charge=None, charge_most=None, cut_off=None, changeover=None, back=None)
    empty = SettingsSheet(devices=(), thresholds=nothing)
    assert charge_current_set(groundwork(good_build()), empty) == 40.0


def test_without_a_charger_no_charging_is_judged() -> None:
    rules = {f.rule.key for f in design(good_build(chargers=())).findings}
    assert not rules & {"current.charge", "current.charge-cold", "current.charge-hot"}


def test_the_peak_is_judged_where_everyday_use_ends() -> None:
    # The good build changes over at 50.1 V. At that state, s, 573.478 W make 11.447 A and
    # E = 50.1 + 11.447 · 0.01472 = 50.2685 V; the peak acts for seconds, on
    # 20 / 3 + 0.4267 + 0.96 = 8.0533 mΩ: E² / 4R = 2526.92 / 0.0322133 = 78.443 kW.
    collapse = finding(good_build(), "current.collapse")
    assert collapse.limit == pytest.approx(78443, abs=0.5)
    # (50.2685 + √(2526.922 − 4 · 0.0080533 · 4377.826)) / 2 = 49.5571 V.
    sag = finding(good_build(), "current.sag")
    assert sag.value == pytest.approx(49.557, abs=0.0005)
    assert sag.limit == 45.4


def test_without_a_changeover_the_peak_is_judged_at_the_reserve() -> None:
    none = with_inverter(changeover="none", return_to_battery="none")
    assert "at 20 % of charge" in finding(none, "current.sag").detail


def test_a_peak_beyond_collapse_is_no_sag() -> None:
    rules = {f.rule.key for f in design(with_module(resistance="2 Ohm")).findings}
    assert "current.collapse" in rules
    assert "current.sag" not in rules


def test_a_remedy_says_how_much_is_carried() -> None:
    # 3 · 15 / 1.2 = 37.5 A at 45.4 V are 1702.5 W.
    assert "1702 W" in finding(with_module(discharge_limit="15 A"), "current.load").remedy


def test_no_peak_is_judged_against_the_output_where_none_is_stated() -> None:
    rules = {f.rule.key for f in design(good_build(load=good_load(peak=None))).findings}
    assert "current.output" in rules
    assert "current.output-peak" not in rules


def test_the_output_of_all_units_counts() -> None:
    both = good_build(inverters=(good_inverter(count=2), good_inverter(name="b")))
    assert finding(both, "current.output").value == 9000.0


def test_chargers_of_one_kind_are_told_apart_by_their_names() -> None:
    two = good_build(chargers=(good_charger(), good_charger(name="other")))
    # 54 A over two alike: 27 A each.
    assert finding(two, "current.charge").value == 54.0


def test_too_much_charge_is_a_stop_and_says_what_would_do() -> None:
    found = finding(with_charger(current="90 A", current_setting=NOT_FITTED), "current.charge")
    assert found.severity is Severity.STOP
    assert found.remedy == "Set a lower charge current, or use fewer or smaller chargers."
