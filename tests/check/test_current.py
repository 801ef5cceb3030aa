"""Currents that the modules see. Worked by hand; severities: test_design.py."""

from __future__ import annotations

import pytest
from strategies import (
    good_build,
    good_charger,
    good_inverter,
    good_load,
    good_module,
    good_pack,
    good_site,
    groundwork,
    with_charger,
    with_inverter,
    with_module,
    with_pack,
)

from evpack.base.finding import Finding, Severity
from evpack.base.fitted import NOT_FITTED
from evpack.check.charging import charge_current_set
from evpack.check.current import missing_for_currents
from evpack.describe.build import Build
from evpack.describe.policy import Policy
from evpack.design import design
from evpack.outcome.settings import SettingsSheet, Thresholds


def finding(build: Build, rule: str) -> Finding:
    return next(f for f in design(build).findings if f.rule.key == rule)


@pytest.mark.parametrize(
    ("rule", "value", "limit"),
    [
        ("charging.limit", 40.0, 75.0),  # all that the charger gives; 3 · 30 / 1.2
        ("charging.rate", 40.0, 54.0),  # 0.3 · 180
        ("charging.cold", 40.0, 180.0),  # at 16 °C the cold sets no limit of its own
        ("current.load", 48.544, 150.0),  # 2203.913 W at 45.4 V
        ("current.full-output", 72.486, 150.0),  # 3290.870 W at 45.4 V
        ("current.discharge-rate", 48.544, 180.0),
        ("current.peak", 96.428, 300.0),  # 4377.826 W at 45.4 V; 3 · 120 / 1.2
        ("charging.one-out", 24.0, 30.0),  # 40 / 2 · 1.2
        ("current.peak-one-out", 57.857, 120.0),  # 96.428 / 2 · 1.2
        ("current.full-surge", 144.311, 300.0),  # 6000 / 0.92 + 30 = 6551.739 W at 45.4 V
        ("current.discharge-cold", 16.0, -20.0),
        ("current.discharge-hot", 30.0, 60.0),
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
    found = finding(good_build(site=good_site(coldest=coldest)), "charging.cold")
    assert found.limit == pytest.approx(limit)


def test_a_charger_that_cannot_be_set_gives_all_it_has() -> None:
    fixed = with_charger(current="70 A", current_setting=NOT_FITTED, count=2)
    assert finding(fixed, "charging.limit").value == 140.0
    unsaid = with_charger(current="70 A", current_setting=None, count=2)
    assert finding(unsaid, "charging.limit").value == 140.0


def test_a_charger_that_the_sheet_does_not_know_gives_all_it_has() -> None:
    nothing = Thresholds(charge=None, charge_most=None, cut_off=None, changeover=None, back=None)
    empty = SettingsSheet(devices=(), thresholds=nothing)
    assert charge_current_set(groundwork(good_build()), empty) == 40.0


def rules(build: Build) -> set[str]:
    return {f.rule.key for f in design(build).findings}


def test_without_a_charger_no_charging_is_judged_and_one_is_asked_for() -> None:
    bare = good_build(chargers=())
    assert not rules(bare) & {"charging.limit", "charging.cold", "charging.hot"}
    found = finding(bare, "charging.no-charger")
    assert (found.severity, found.about) == (Severity.UNKNOWN, "pack")


@pytest.mark.parametrize("charger", ["none", good_charger(name="built in")])
def test_a_built_in_charger_that_is_spoken_for_is_not_asked_for(charger: object) -> None:
    assert "charging.no-charger" not in rules(with_inverter(charger=charger))


def test_a_built_in_charger_that_nobody_spoke_of_is_asked_for() -> None:
    # Of each inverter, and whatever else charges the pack.
    two = good_build(inverters=(good_inverter(charger=None), good_inverter(name="b")))
    found = [f for f in design(two).findings if f.rule.key == "charging.no-charger"]
    assert [(f.severity, f.about) for f in found] == [(Severity.UNKNOWN, "inverter")]


def test_a_generous_policy_does_not_make_fast_charging_gentle() -> None:
    # 0.8 of 180 Ah an hour would be 144 A; half the capacity, 90 A, is the most without a word.
    generous = good_build(policy=Policy(basis="chosen", charge_rate="80 %"))
    assert finding(generous, "charging.rate").limit == 90.0
    # 0.5 is the policy's own where it says so or less.
    gentle = good_build(policy=Policy(basis="chosen", charge_rate="40 %"))
    assert finding(gentle, "charging.rate").limit == pytest.approx(72)


def test_of_two_strings_the_one_left_takes_all_the_charge() -> None:
    # 0.3 · 120 Ah = 36 A are entered; the one string left takes them all, with nobody to share.
    found = finding(with_pack(strings=2), "charging.one-out")
    assert (found.value, found.limit, found.severity) == (36.0, 30.0, Severity.CAUTION)
    assert "charge with 30 A at most" in found.remedy


def test_of_three_strings_two_share_unevenly() -> None:
    # 54 A are entered of 60: 54 / 2 · 1.2 = 32.4 A; 2 · 30 / 1.2 = 50 A would do.
    big = with_charger(current="60 A", current_setting=("5 A", "60 A", "1 A"))
    found = finding(big, "charging.one-out")
    assert found.value == pytest.approx(32.4)
    assert found.severity is Severity.CAUTION
    assert "charge with 50 A at most" in found.remedy


def test_a_single_string_has_none_to_lose() -> None:
    assert "charging.one-out" not in rules(with_pack(strings=1))


def test_of_two_strings_the_one_left_carries_the_whole_peak() -> None:
    # 96.428 A, whatever the imbalance; 96 A would not do.
    two = good_pack(strings=2, module=good_module(discharge_peak="96 A", link_limit=None))
    found = finding(good_build(pack=two), "current.peak-one-out")
    assert found.value == pytest.approx(96.428, abs=0.0005)
    assert found.severity is Severity.CAUTION
    assert "current.peak-one-out" not in rules(with_pack(strings=1))


@pytest.mark.parametrize(
    ("surge_time", "peak", "limit", "severity"),
    # Full surge draws 144.311 A at 45.4 V (see above); three strings give 3 · 60 / 1.2 = 150 A for
    # good, or with 50 A each 125 A.
    [
        ("10 s", "4 kW", "50 A", Severity.OK),  # the modules' peak holds for as long
        ("10.1 s", "4 kW", "60 A", Severity.OK),  # they stand it for good
        ("10.1 s", "4 kW", "50 A", Severity.CAUTION),
        ("10.1 s", None, "50 A", Severity.STOP),  # nobody said that the peak is less
        (None, "4 kW", "60 A", Severity.OK),
        (None, "4 kW", "50 A", Severity.CAUTION),  # their word on the peak keeps it from that
        (None, None, "50 A", Severity.UNKNOWN),
        ("10.1 s", "4 kW", None, Severity.CAUTION),
        ("10.1 s", None, None, Severity.UNKNOWN),
    ],
)
def test_a_surge_that_outlasts_the_peak_is_continuous(
    surge_time: str | None, peak: str | None, limit: str | None, severity: Severity
) -> None:
    build = good_build(
        pack=good_pack(module=good_module(discharge_limit=limit)),
        inverters=(good_inverter(surge_time=surge_time),),
        load=good_load(peak=peak),
    )
    assert finding(build, "current.long-surge").severity is severity


def test_the_longest_surge_of_several_inverters_counts() -> None:
    two = good_build(inverters=(good_inverter(), good_inverter(name="b", surge_time="1 min")))
    found = finding(two, "current.long-surge")
    # 12000 / 0.92 + 60 = 13103.5 W at 42 V, where the last one stops: 311.99 A, of 150 A.
    assert found.value == pytest.approx(311.99, abs=0.005)
    assert "kept up for 60 s" in found.detail
    vague = good_build(
        inverters=(good_inverter(), good_inverter(name="b", surge_time=None)),
        load=good_load(peak=None),
    )
    assert finding(vague, "current.long-surge").severity is Severity.UNKNOWN


def test_without_inverters_there_is_no_surge() -> None:
    assert finding(good_build(inverters=()), "current.long-surge").severity is Severity.OK


@pytest.mark.parametrize(
    ("coldest", "factor"),
    # 1 from 5 °C on, 2 at 0 °C, 4 at −20 °C, linear between.
    [("5 degC", 1.0), ("2.5 degC", 1.5), ("0 degC", 2.0), ("-10 degC", 3.0), ("-20 degC", 4.0)],
)
def test_in_the_cold_the_peak_collapses_earlier(coldest: str, factor: float) -> None:
    # At the reserve of 20 %: E = 14 · 3.588 = 50.232 V behind 20 / 3 mΩ of cells and 1.38667 mΩ of
    # cables: E² / 4R.
    build = good_build(
        inverters=(good_inverter(changeover="none", return_to_battery="none"),),
        site=good_site(coldest=coldest),
    )
    ohms = factor * 0.02 / 3 + 1.28e-3 / 3 + 0.96e-3
    assert finding(build, "current.collapse").limit == pytest.approx(50.232**2 / 4 / ohms)
    sag = (50.232 + (50.232**2 - 4 * ohms * 4377.826) ** 0.5) / 2
    assert finding(build, "current.sag").value == pytest.approx(sag, abs=1e-4)


def test_in_the_cold_more_sag_is_to_be_expected() -> None:
    assert "current.cold-sag" not in rules(good_build(site=good_site(coldest="5 degC")))
    found = finding(good_build(site=good_site(coldest="4.9 degC")), "current.cold-sag")
    assert found.severity is Severity.NOTE
    assert "At 4.9 °C the cells are reckoned with 1.02 times" in found.detail


def test_what_is_missing_for_the_currents_is_named() -> None:
    found = finding(
        good_build(
            pack=good_pack(module=good_module(discharge_limit=None)),
            inverters=(good_inverter(continuous=None, idle=None),),
        ),
        "current.load",
    )
    assert found.remedy == (
        "Say in the build sheet: discharge_limit under [module]; continuous of inverter; idle of "
        "inverter."
    )
    none = finding(good_build(inverters=()), "current.load")
    assert none.remedy == "Say in the build sheet: an inverter."
    assert missing_for_currents(groundwork(good_build())) == ""


def test_a_full_surge_is_judged_beside_a_stated_peak_only() -> None:
    assert "current.full-surge" not in rules(good_build(load=good_load(peak=None)))
    # 3 · 50 / 1.2 = 125 A: 96.4 A of the stated peak are within it, 144.3 A of full surge are not.
    weak = with_module(discharge_peak="50 A")
    assert finding(weak, "current.peak").severity is Severity.OK
    assert finding(weak, "current.full-surge").severity is Severity.CAUTION


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
    collapsing = with_module(resistance="2 Ohm")
    assert "current.collapse" in rules(collapsing)
    assert "current.sag" not in rules(collapsing)


def test_a_remedy_says_how_much_is_carried() -> None:
    # 3 · 15 / 1.2 = 37.5 A at 45.4 V are 1702.5 W; (1702.5 − 30) · 0.92 = 1538.7 W.
    assert "under 1538 W," in finding(with_module(discharge_limit="15 A"), "current.load").remedy


def test_no_peak_is_judged_against_the_output_where_none_is_stated() -> None:
    unstated = good_build(load=good_load(peak=None))
    assert "current.output" in rules(unstated)
    assert "current.output-peak" not in rules(unstated)


def test_the_output_of_all_units_counts() -> None:
    both = good_build(inverters=(good_inverter(count=2), good_inverter(name="b")))
    assert finding(both, "current.output").value == 9000.0


def test_chargers_of_one_kind_are_told_apart_by_their_names() -> None:
    two = good_build(chargers=(good_charger(), good_charger(name="other")))
    # 54 A over two alike: 27 A each.
    assert finding(two, "charging.limit").value == 54.0


def test_too_much_charge_is_a_stop_and_says_what_would_do() -> None:
    found = finding(with_charger(current="90 A", current_setting=NOT_FITTED), "charging.limit")
    assert found.severity is Severity.STOP
    assert found.remedy == "Set a lower charge current, or use fewer or smaller chargers."
