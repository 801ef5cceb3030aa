"""Charger lines. Worked by hand; the working stands beside each number."""

from __future__ import annotations

import pytest
from strategies import (
    IRON,
    good_build,
    good_charger,
    good_inverter,
    good_module,
    good_pack,
    good_profile,
    good_site,
    groundwork,
    with_charger,
    with_module,
    with_pack,
    with_policy,
)

from evpack.base.basis import Basis
from evpack.base.finding import Finding, Severity
from evpack.base.fitted import NOT_FITTED
from evpack.decide import decide
from evpack.describe.build import Build
from evpack.describe.policy import Policy
from evpack.design import design
from evpack.outcome.design import Verdict
from evpack.outcome.settings import Act, Setting
from evpack.setpoint.sheet import charge_current_allowed, charge_current_part, settings_sheet

CHARGE = "charge voltage (absorption)"
CURRENT, COLD = "charge current limit", "charge current limit in the cold"


def line(build: Build, name: str, device: str = "charger") -> Setting:
    sheet, _ = settings_sheet(groundwork(build))
    settings = sheet.device(device)
    assert settings is not None
    found = settings.line(name)
    assert found is not None
    return found


# Charge voltage.


def test_the_charge_voltage_is_rounded_down() -> None:
    # 14 · (4.10 − 0.02) / 1.005 = 57.12 / 1.005 = 56.8358… V, down to 56.8 V.
    found = line(with_policy(charge_target="4.10 V"), CHARGE)
    assert found.worked is not None
    assert (found.act, found.entry) == (Act.ENTER, "56.8 V")
    assert found.worked.value == 56.8
    assert found.per_cell == pytest.approx(56.8 / 14)
    assert found.offers == "48 V to 62 V in 0.1 V"
    # 35.8 mV are 2.559 mV a cell; the curve rises by 0.228 V over its last 20 %: 0.2244 %.
    assert found.lost == "35.8 mV to the step or range, 0.224 % of the charge"


def test_a_measured_spread_rules_only_when_it_is_wider_than_the_guard() -> None:
    # 14 · (4.05 − 0.02) / 1.005 = 56.139 V; with 60 mV: 14 · 3.99 / 1.005 = 55.582 V.
    assert line(with_pack(spread_full="1 mV"), CHARGE).entry == "56.1 V"
    assert line(with_pack(spread_full="60 mV"), CHARGE).entry == "55.5 V"


def test_an_error_that_is_not_stated_is_assumed_as_one_per_cent() -> None:
    # 14 · 4.03 / 1.01 = 55.861 V.
    found = line(with_charger(accuracy=None), CHARGE)
    assert found.entry == "55.8 V"
    assert found.worked is not None
    assert found.worked.inputs[3].value == 0.01


def test_the_policy_says_how_its_own_error_is_known() -> None:
    found = line(good_build(chargers=(good_charger(accuracy=None),), policy=Policy()), CHARGE)
    assert found.worked is not None
    assert found.worked.inputs[3].basis is Basis.ASSUMED


def test_a_range_that_ends_below_what_is_wanted_gives_its_end() -> None:
    found = line(with_charger(charge_voltage=("48 V", "54 V", "0.5 V")), CHARGE)
    assert found.entry == "54 V"
    assert found.worked is not None
    assert found.worked.formula.startswith("down(min(")
    assert found.lost.startswith("2.14 V to the step or range")


def test_a_coarse_step_costs_energy_and_not_safety() -> None:
    # 48, 51, 54, 57: the highest not above 56.139 V.
    assert line(with_charger(charge_voltage=("48 V", "63 V", "3 V")), CHARGE).entry == "54 V"


def test_the_lowest_entry_is_taken_where_it_is_just_low_enough() -> None:
    # 14 · (4.05 − 0.03) / 1.005 = 56 V exactly.
    build = good_build(
        pack=good_pack(spread_full="30 mV"),
        chargers=(good_charger(charge_voltage=("56 V", "60 V", "0.5 V")),),
    )
    assert line(build, CHARGE).entry == "56 V"


@pytest.mark.parametrize(
    ("reach", "act", "entry"),
    [
        (None, Act.FIND_OUT, "?"),
        (NOT_FITTED, Act.CANNOT, "do not connect"),
        # 14 · (4.2 − 0.01) / 1.005 = 58.37 V are what the cells stand.
        (("58.4 V", "60 V", "0.1 V"), Act.CANNOT, "do not connect"),
    ],
)
def test_no_charge_voltage_where_none_is_safe(reach: object, act: Act, entry: str) -> None:
    found = line(with_charger(charge_voltage=reach), CHARGE)
    assert (found.act, found.entry, found.worked) == (act, entry, None)


def test_a_charger_above_the_target_and_within_the_print_is_set_to_its_lowest() -> None:
    # 56.139 V keep the target; 56.2 V are the lowest entry: a caution, and no stop.
    found = line(with_charger(charge_voltage=("56.2 V", "60 V", "0.1 V")), CHARGE)
    assert (found.act, found.entry) == (Act.ENTER, "56.2 V")
    assert found.worked is not None
    assert found.worked.formula.startswith("max(")


def test_the_lowest_charger_steers_and_the_highest_is_judged() -> None:
    # 56.1 V; and 14 · 4.03 / 1.02 = 55.313 V, 55.3 V, really up to 55.3 · 1.02 = 56.406 V.
    rough = good_charger(name="rough", accuracy="2 %")
    sheet, _ = settings_sheet(groundwork(good_build(chargers=(good_charger(), rough))))
    assert sheet.thresholds.charge == 55.3
    assert sheet.thresholds.charge_most == pytest.approx(55.3 * 1.02)


# Float, equalise, compensation.


def test_a_float_that_can_be_off_is_off() -> None:
    found = line(good_build(), "float voltage")
    assert (found.act, found.entry) == (Act.TURN_OFF, "off")
    # Should the device insist: 14 · 3.95 / 1.005 = 55.025 V, down to 55 V.
    assert found.why.endswith("enter no more than 55 V.")
    # And with an error of 1 %: 55.3 / 1.01 = 54.752 V, down to 54.7 V.
    unstated = line(with_charger(accuracy=None), "float voltage")
    assert unstated.why.endswith("enter no more than 54.7 V.")


def test_a_float_to_fall_back_on_is_never_above_the_charge_voltage() -> None:
    # 14 · (3.9 − 0.02) / 1.005 = 54.05 V, down to 54 V: lower than 14 · 3.95 = 55.3 V.
    assert "54 V" in line(with_policy(charge_target="3.9 V"), "float voltage").why


def test_a_float_that_stays_on_is_held_low() -> None:
    # 14 · 3.95 / 1.005 = 55.025 V, down to 55.0 V.
    found = line(with_charger(float_can_be_off=False), "float voltage")
    assert (found.act, found.entry) == (Act.ENTER, "55 V")


def test_a_float_that_is_too_high_is_not_called_harmless() -> None:
    # 55.025 V at most, and the device starts at 56 V, under the 56.1 V of the charge.
    reach = ("56 V", "60 V", "0.1 V")
    found = line(with_charger(float_can_be_off=False, float_setting=reach), "float voltage")
    assert (found.act, found.entry) == (Act.ENTER, "56 V")
    assert "more than the 55.02 V that would do little harm: it ages the cells." in found.why
    low = line(with_charger(float_can_be_off=False), "float voltage")
    assert low.why.endswith("a lower entry is gentler still.")


def test_a_float_that_stays_on_stays_under_the_charge_voltage() -> None:
    # Charge at 14 · (3.9 − 0.02) / 1.005 = 54.05 V, 54.0 V; float on 48 + k · 0.7: 53.6 V.
    build = good_build(
        policy=Policy(basis="chosen", charge_target="3.9 V"),
        chargers=(good_charger(float_can_be_off=False, float_setting=("48 V", "55 V", "0.7 V")),),
    )
    assert line(build, "float voltage").entry == "53.6 V"


def test_a_float_that_cannot_be_set_low_enough_is_no_entry() -> None:
    reach = ("57 V", "60 V", "0.1 V")
    found = line(with_charger(float_can_be_off=False, float_setting=reach), "float voltage")
    assert (found.act, found.entry) == (Act.CANNOT, "57 V")


@pytest.mark.parametrize("reach", [None, NOT_FITTED])
def test_a_float_of_which_nothing_is_known_is_asked_for(reach: object) -> None:
    found = line(with_charger(float_can_be_off=False, float_setting=reach), "float voltage")
    assert found.act is Act.FIND_OUT


@pytest.mark.parametrize("name", ["equalise", "temperature compensation"])
@pytest.mark.parametrize(
    ("can", "act", "entry"),
    [
        (True, Act.TURN_OFF, "off"),
        (None, Act.FIND_OUT, "?"),
        (False, Act.CANNOT, "cannot be turned off"),
    ],
)
def test_what_lead_wants_is_turned_off(name: str, act: Act, entry: str, *, can: bool) -> None:
    field = {"equalise": "equalise", "temperature compensation": "compensation"}[name]
    found = line(with_charger(**{f"{field}_can_be_off": can}), name)
    assert (found.act, found.entry) == (act, entry)


def test_the_harm_of_equalising_is_that_of_the_builds_own_profiles() -> None:
    # 62 V over 14 cells.
    told = line(good_build(profiles=(good_profile(),)), "equalise").why
    assert "The 62 V that is usual would be 4.429 V/cell here." in told
    # 56 V are 4.0 V a cell, under the target of 4.05 V; and without a profile there is no usual.
    mild = line(good_build(profiles=(good_profile(equalise="56 V"),)), "equalise").why
    assert mild == line(good_build(), "equalise").why
    assert mild.endswith("enter the charge voltage, 56.1 V, and a time of 0.")


@pytest.mark.parametrize("can", [None, False])
def test_a_harm_that_is_none_leaves_no_trace(*, can: bool | None) -> None:
    _, findings = settings_sheet(groundwork(with_charger(equalise_can_be_off=can)))
    (found,) = (f for f in findings if f.rule.key == "hold.equalise")
    assert found.detail.endswith("off.")


def test_the_harm_of_compensation_is_told_in_volts() -> None:
    # 56.1 V suit 56.1 / 2.4 = 23.4, so 23 lead cells; 25 K · 23 · 5 mV = 2.875 V: 58.975 V at
    # 0 °C, 4.2125 V a cell.
    build = good_build(site=good_site(coldest="0 degC"))
    assert "58.98 V, 4.213 V/cell, at 0 °C" in line(build, "temperature compensation").why


def test_the_harm_of_compensation_is_told_without_numbers_where_none_are_known() -> None:
    build = good_build(site=good_site(coldest=None))
    assert "when the cells stand it least" in line(build, "temperature compensation").why


# Current.


def two_chargers(**site: str) -> Build:
    return good_build(
        chargers=(
            good_charger(name="big", current="60 A", current_setting=("5 A", "60 A", "1 A")),
            good_charger(name="small", current="40 A"),
        ),
        site=good_site(**site),
    )


def test_chargers_share_what_the_pack_takes() -> None:
    # The pack takes min(3 · 30 / 1.2, 0.3 · 180) = min(75, 54) = 54 A; of 100 A the big one gives
    # 60: 32.4 A, down to 32 A; the small one 21.6 A, down to 21 A.
    build = two_chargers()
    allowed = charge_current_allowed(build, groundwork(build).figures)
    assert allowed is not None
    assert allowed.value == pytest.approx(54)
    assert line(build, CURRENT, "big").entry == "32 A"
    assert line(build, CURRENT, "small").entry == "21 A"


def test_units_alike_share_too() -> None:
    # 54 A over two units of 40 A: 27 A each.
    assert line(with_charger(count=2), CURRENT).entry == "27 A"


def test_a_small_charger_gives_all_it_has() -> None:
    small = with_charger(current="12 A", current_setting=("5 A", "40 A", "1 A"))
    assert line(small, CURRENT).entry == "12 A"


def test_in_the_cold_less_is_shared() -> None:
    # At 4 °C 0.05 · 180 = 9 A for both: 5.4 A, down to 5 A; and 3.6 A, less than can be entered.
    build = two_chargers(coldest="4 degC")
    big = line(build, COLD, "big")
    assert (big.entry, big.worked.value) == ("5 A", 5.0)
    off = line(build, COLD, "small")
    assert (off.act, off.entry, off.worked) == (Act.ENTER, "turn this charger off", None)


@pytest.mark.parametrize("reach", [NOT_FITTED, None])
def test_in_the_cold_a_charger_that_cannot_be_set_is_turned_off(reach: object) -> None:
    # At 10 °C 0.2 · 180 = 36 A are taken; it gives 40 A.
    build = good_build(
        site=good_site(coldest="10 degC"), chargers=(good_charger(current_setting=reach),)
    )
    found = line(build, COLD)
    assert (found.act, found.entry) == (Act.ENTER, "turn this charger off")
    assert "cannot be set, or nobody said" in found.why


def test_below_freezing_there_is_no_charge() -> None:
    found = line(good_build(site=good_site(coldest="-0.1 degC")), COLD)
    assert (found.act, found.entry) == (Act.ENTER, "no charge")


@pytest.mark.parametrize(
    "build",
    [
        good_build(site=good_site(coldest="15 degC")),
        good_build(site=good_site(coldest=None)),
        # 0.2 · 180 = 36 A at 10 °C, and it gives no more than that.
        good_build(
            site=good_site(coldest="10 degC"),
            chargers=(good_charger(current="36 A", current_setting=NOT_FITTED),),
        ),
        good_build(site=good_site(coldest="4 degC"), chargers=(good_charger(current=None),)),
    ],
    ids=["warm", "unsaid", "little", "no current"],
)
def test_no_line_for_the_cold_where_there_is_nothing_to_say(build: Build) -> None:
    sheet, _ = settings_sheet(groundwork(build))
    settings = sheet.device("charger")
    assert settings is not None
    assert settings.line(COLD) is None


def current_findings(build: Build) -> dict[str, Finding]:
    _, findings = settings_sheet(groundwork(build))
    return {f.rule.key: f for f in findings if f.rule.key.startswith("charge-current.")}


def test_a_part_below_the_lowest_entry_is_no_entry() -> None:
    # 1 Ah cells: 0.3 · 3 = 0.9 A, and the device starts at 5 A.
    build = with_module(capacity="1 Ah")
    found = line(build, CURRENT)
    assert (found.act, found.entry) == (Act.CANNOT, "do not connect")
    told = current_findings(build)["charge-current.settable"]
    assert (told.value, told.limit) == (pytest.approx(0.9), 5.0)
    assert told.severity is Severity.STOP


def test_a_small_charger_beside_a_big_one_has_its_least_and_the_big_one_the_rest() -> None:
    # Of 54 A one of 100 A and one of 6 A would take 50.9 and 3.06 A, and the small one starts at
    # 5 A: it has them, and 54 − 5 = 49 A are left.
    build = good_build(
        chargers=(
            good_charger(name="big", current="100 A", current_setting=("5 A", "100 A", "1 A")),
            good_charger(name="small", current="6 A", current_setting=("5 A", "6 A", "1 A")),
        )
    )
    assert line(build, CURRENT, "big").entry == "49 A"
    assert line(build, CURRENT, "small").entry == "5 A"
    parts = [charge_current_part(build, c, groundwork(build).figures) for c in build.all_chargers]
    assert [part.value for part in parts if part] == pytest.approx([49, 5])


def test_a_fixed_charger_has_all_that_it_gives_and_the_others_the_rest() -> None:
    # Of 54 A a part of 10 / 70 would be 7.7 A; it cannot be set, so 44 A are left.
    build = good_build(
        chargers=(
            good_charger(name="big", current="60 A", current_setting=("5 A", "60 A", "1 A")),
            good_charger(name="fixed", current="10 A", current_setting=NOT_FITTED),
        )
    )
    assert line(build, CURRENT, "big").entry == "44 A"
    assert line(build, CURRENT, "fixed").entry == "none needed, it gives 10 A at most"
    assert current_findings(build)["charge-current.settable"].severity is Severity.OK


def test_one_that_is_held_may_leave_too_little_for_another() -> None:
    # 54 A: in proportion to 100, 30 and 20 A 36, 10.8 and 7.2 A. The third starts at 8 A; of the
    # 46 A left the second has 46 · 30 / 130 = 10.6 A and starts at 10.7 A: 54 − 18.7 = 35.3 A.
    build = good_build(
        chargers=(
            good_charger(name="a", current="100 A", current_setting=("5 A", "100 A", "1 A")),
            good_charger(name="b", current="30 A", current_setting=("10.7 A", "29.7 A", "1 A")),
            good_charger(name="c", current="20 A", current_setting=("8 A", "20 A", "1 A")),
        )
    )
    entries = [line(build, CURRENT, name).entry for name in "abc"]
    assert entries == ["35 A", "10.7 A", "8 A"]


def test_chargers_that_ask_for_more_than_the_pack_takes_are_not_connected() -> None:
    # Each starts at 30 A, and 54 A are taken: 27 A each, so neither is connected.
    reach = ("30 A", "40 A", "1 A")
    build = good_build(
        chargers=(
            good_charger(name="a", current_setting=reach),
            good_charger(name="b", current_setting=reach),
        )
    )
    assert [line(build, CURRENT, name).entry for name in "ab"] == ["do not connect"] * 2
    assert decide(design(build)).verdict is Verdict.DOES_NOT_WORK


@pytest.mark.parametrize("reach", [NOT_FITTED, None])
def test_a_charger_that_the_pack_takes_whole_needs_no_limit(reach: object) -> None:
    # 40 A of the 54 A that the pack takes.
    build = with_charger(current_setting=reach)
    found = line(build, CURRENT)
    assert (found.act, found.entry) == (Act.ENTER, "none needed, it gives 40 A at most")
    assert current_findings(build) == {}


@pytest.mark.parametrize(
    ("changes", "act", "entry"),
    [
        # 60 A, and the pack takes 54 A.
        ({"current": "60 A", "current_setting": NOT_FITTED}, Act.CANNOT, "fixed, 60 A"),
        ({"current": "60 A", "current_setting": None}, Act.FIND_OUT, "?"),
        ({"current": None}, Act.FIND_OUT, "?"),
        ({"current": "0 A"}, Act.FIND_OUT, "?"),
    ],
)
def test_a_current_that_cannot_be_entered(changes: dict, act: Act, entry: str) -> None:
    found = line(with_charger(**changes), CURRENT)
    assert (found.act, found.entry) == (act, entry)


def test_a_charger_that_gives_more_than_its_part_must_tell_what_can_be_set() -> None:
    build = with_charger(current="60 A", current_setting=None)
    found = current_findings(build)["charge-current.known"]
    assert found.severity is Severity.UNKNOWN
    assert "It gives 60 A; its part of what the pack takes is 54 A" in found.detail


def test_modules_of_which_no_charge_limit_is_known_get_no_current() -> None:
    assert line(with_module(charge_limit=None), CURRENT).act is Act.FIND_OUT


# Absorption.


def test_absorption_ends_at_a_twentieth_of_the_capacity() -> None:
    # 5 % of 180 Ah an hour.
    found = line(good_build(), "absorption end current")
    assert found.worked is not None
    assert found.worked.value == pytest.approx(9.0)
    assert found.entry == "9 A"


@pytest.mark.parametrize(
    ("charger", "amperes"),
    [
        # 9 A would end the charge of one that gives no more before it began: half of it.
        ({"current": "9 A", "current_setting": NOT_FITTED}, 4.5),
        ({"current": "18 A", "current_setting": NOT_FITTED}, 9.0),
        ({"current": "17 A", "current_setting": NOT_FITTED}, 8.5),
        # Set to 54 A, in steps of 50 A from 5 A: 5 A are entered, and 2.5 A end it.
        ({"current": "60 A", "current_setting": ("5 A", "55 A", "50 A")}, 2.5),
        ({"current": None}, 9.0),
        ({"current": "0 A", "current_setting": NOT_FITTED}, 9.0),
    ],
)
def test_a_small_charger_ends_within_what_it_gives(charger: dict, amperes: float) -> None:
    found = line(with_charger(**charger), "absorption end current")
    assert found.worked is not None
    assert found.worked.value == pytest.approx(amperes)


@pytest.mark.parametrize(
    ("units", "amperes"),
    # 5 % of 180 Ah an hour, 9 A, over so many; at least 2 %, 3.6 A, each. Of ten each is set to
    # 54 / 10 = 5.4, 5 A, and ends at half of it.
    [(1, 9.0), (2, 4.5), (3, 3.6), (10, 2.5)],
)
def test_chargers_together_end_at_the_packs_end_current(units: int, amperes: float) -> None:
    found = line(with_charger(count=units), "absorption end current")
    assert found.worked is not None
    assert found.worked.value == pytest.approx(amperes)


def test_where_only_a_share_of_the_capacity_can_be_entered_it_is_told() -> None:
    # 4.5 A of 180 Ah.
    assert line(with_charger(count=2), "absorption end current").why.endswith("enter 2.5 %.")


def test_built_in_chargers_count_by_the_unit() -> None:
    # Two inverters with one each, and one that stands alone: 9 / 3 = 3 A, and 3.6 A at least.
    built_in = good_charger(name="built in", current="20 A", current_setting=("5 A", "20 A", "1 A"))
    build = good_build(inverters=(good_inverter(count=2, charger=built_in),))
    found = line(build, "absorption end current")
    assert found.worked is not None
    assert {i.symbol: i.value for i in found.worked.inputs}["N_ch"] == 3
    assert found.entry == "3.6 A"


# A lead-acid profile that stays on.


def left_on(**profile: str) -> Build:
    return good_build(
        chargers=(good_charger(left_on=good_profile(**profile)),), site=good_site(coldest="0 degC")
    )


def test_a_profile_that_stays_on_is_no_entry() -> None:
    sheet, _ = settings_sheet(groundwork(left_on()))
    device = sheet.device("charger")
    assert device is not None
    assert [(found.name, found.act, found.entry) for found in device.lines[:3]] == [
        (CHARGE, Act.CANNOT, "stays at 57.6 V"),
        ("float voltage", Act.CANNOT, "stays at 54 V"),
        ("equalise", Act.CANNOT, "stays at 62 V"),
    ]
    assert device.lines[0].per_cell == pytest.approx(57.6 / 14)
    # At 0 °C the equalising voltage rises by 25 · 0.12 = 3 V to 65 V, 4.643 V a cell.
    assert "as much as 65 V, 4.643 V/cell" in device.lines[3].why
    # Its current is limited all the same; nothing is said of an end that cannot be set.
    assert [found.name for found in device.lines[3:]] == [
        "temperature compensation",
        CURRENT,
        COLD,
    ]


def test_a_profile_that_stays_on_asks_whether_its_compensation_can_be_off() -> None:
    # A profile that says 0 V/K is believed only of a device that can turn compensation off.
    flat = good_profile(absorption="55 V", equalise="55 V", compensation="0 V/K")
    for can, severities in ((True, []), (False, []), (None, [Severity.UNKNOWN])):
        build = with_charger(left_on=flat, compensation_can_be_off=can)
        sheet, findings = settings_sheet(groundwork(build))
        found = [f.severity for f in findings if f.rule.key == "hold.compensation"]
        assert found == severities
        # 23 lead cells (55 / 2.4 = 22.9) of 5 mV, 9 K under 25 °C: 1.035 V, and half a per cent.
        more = 0.0 if can else 1.035
        assert sheet.thresholds.charge_most == pytest.approx((55 + more) * 1.005)


def test_a_sensor_in_the_cold_is_told_in_the_harm_of_compensation() -> None:
    # 56.1 + 23 · 5 mV · 36 K = 60.24 V, 4.3029 V a cell.
    build = good_build(site=good_site(coldest_outside="-11 degC"))
    assert "60.24 V, 4.303 V/cell, at -11 °C" in line(build, "temperature compensation").why


def test_the_thresholds_carry_the_profile() -> None:
    # 62 V of equalising, 25 K below its reference at 0.12 V/K, and half a per cent: 65.325 V.
    thresholds = settings_sheet(groundwork(left_on()))[0].thresholds
    assert thresholds.charge_most == pytest.approx((62 + 3) * 1.005)
    # Whatever the sign of the compensation, and freezing where nobody said how cold it gets.
    upside_down = good_build(
        chargers=(good_charger(left_on=good_profile(compensation="-0.12 V/K")),),
        site=good_site(coldest=None),
    )
    assert settings_sheet(groundwork(upside_down))[0].thresholds.charge_most == pytest.approx(
        65 * 1.005
    )


@pytest.mark.parametrize(
    ("absorption", "charge"),
    # The highest cell at 57.1 · 1.005 / 14 + 0.02 = 4.1190 V, under its warning at 4.12 V; at
    # 57.2 V it would be at 4.1261 V.
    [("57.1 V", 57.1), ("57.2 V", None)],
)
def test_a_profile_that_the_pack_does_not_stand_settles_nothing(
    absorption: str, charge: float | None
) -> None:
    build = left_on(absorption=absorption)
    assert settings_sheet(groundwork(build))[0].thresholds.charge == charge
    assert (design(build).usable is None) == (charge is None)


def test_the_profile_ends_lowest_and_the_other_charger_is_set_as_ever() -> None:
    mild = good_profile(absorption="55 V", equalise="55 V", compensation="0 V/K")
    build = good_build(chargers=(good_charger(), good_charger(name="old", left_on=mild)))
    thresholds = settings_sheet(groundwork(build))[0].thresholds
    # 56.1 V and half a per cent is more than 55 V and half a per cent.
    assert (thresholds.charge, thresholds.charge_most) == (55.0, pytest.approx(56.1 * 1.005))
    assert line(build, CHARGE).entry == "56.1 V"


@pytest.mark.parametrize(("flat", "minutes"), [(False, 15), (True, 60)])
def test_absorption_by_the_clock_is_short(minutes: int, *, flat: bool) -> None:
    build = good_build(pack=good_pack(module=good_module(chemistry=IRON))) if flat else good_build()
    assert line(build, "absorption time").entry == f"{minutes} min at most"


def test_nothing_is_entered_as_no_amperes() -> None:
    # Many devices take 0 for "no limit". Of 54 A a charger of 100 A and one of 6 A would take 50.9
    # and 3.06 A; in steps of 5 A from 0 the lowest entry that limits anything is 5 A.
    build = good_build(
        chargers=(
            good_charger(name="big", current="100 A", current_setting=("5 A", "100 A", "1 A")),
            good_charger(name="small", current="6 A", current_setting=("0 A", "60 A", "5 A")),
        )
    )
    assert line(build, CURRENT, "small").entry == "5 A"
    assert line(build, CURRENT, "big").entry == "49 A"
    # A pack of 3 · 5 Ah takes 4.5 A, less than that entry: none is made.
    tiny = good_build(
        pack=good_pack(module=good_module(capacity="5 Ah")),
        chargers=(good_charger(current="6 A", current_setting=("0 A", "60 A", "5 A")),),
    )
    assert line(tiny, CURRENT).entry == "do not connect"
    assert decide(design(tiny)).verdict is Verdict.DOES_NOT_WORK
    # Alone, a charger of 60 A is set to the step under the pack's 54 A.
    alone = good_build(
        chargers=(good_charger(current="60 A", current_setting=("0 A", "60 A", "5 A")),)
    )
    assert line(alone, CURRENT).entry == "50 A"
