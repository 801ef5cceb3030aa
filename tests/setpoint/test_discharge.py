"""Inverter lines. Worked by hand, on a straight open-circuit curve from 3.2 to 4.1 V a cell.

The good pack: 14 cells in series, three strings; module 10 mΩ, so 20 / 3 = 6.6667 mΩ over 10 s and
13.3333 mΩ over hours; leads 2 · 1 m · 0.64 mΩ/m / 3 = 0.4267 mΩ, main 2 · 1.5 m · 0.32 mΩ/m =
0.96 mΩ: together 14.72 mΩ. Typical load 500 / 0.92 + 30 = 573.478 W, continuous 2000 / 0.92 + 30 =
2203.913 W.
"""

from __future__ import annotations

from typing import Any

import attrs
import pytest
from strategies import (
    IRON,
    good_build,
    good_charger,
    good_inverter,
    good_module,
    good_pack,
    good_site,
    groundwork,
    straight,
    with_inverter,
    with_module,
)

from evpack.base.finding import Finding, Severity
from evpack.base.fitted import NOT_FITTED
from evpack.describe.build import Build
from evpack.describe.policy import Policy
from evpack.outcome.settings import Act, Setting
from evpack.setpoint.sheet import settings_sheet

CUT_OFF = "low-voltage cut-off"
GO, BACK = "changeover to the utility", "return to battery"


def build(policy: dict[str, str] | None = None, **inverter: Any) -> Build:
    return good_build(
        pack=good_pack(module=good_module(ocv=straight(3.2, 4.1))),
        inverters=(good_inverter(**inverter),),
        policy=Policy(basis="chosen", **(policy or {})),
    )


def line(of: Build, name: str) -> Setting:
    sheet, _ = settings_sheet(groundwork(of))
    settings = sheet.device("inverter")
    assert settings is not None
    found = settings.line(name)
    assert found is not None
    return found


def finding(of: Build, rule: str) -> Finding:
    _, findings = settings_sheet(groundwork(of))
    return next(f for f in findings if f.rule.key == rule)


# Cut-off.


def test_the_cut_off_is_rounded_up() -> None:
    # 14 · (3.2 + 0.02) · 1.005 = 45.3054 V, up to 45.4 V.
    found = line(build(), CUT_OFF)
    assert (found.act, found.entry) == (Act.ENTER, "45.4 V")
    assert found.lost == "94.6 mV to the step or range"


def test_a_cut_off_that_lands_on_its_bound_loses_nothing() -> None:
    # With an error of 2.5 % 14 · 3.22 · 1.025 = 46.207 V is an entry of 40 + k · 0.001.
    found = line(build(meter_accuracy="2.5 %", cut_off=("40 V", "50 V", "0.001 V")), CUT_OFF)
    assert (found.entry, found.lost) == ("46.207 V", "")


def test_a_range_that_starts_higher_gives_its_start() -> None:
    found = line(build(cut_off=("47 V", "50 V", "0.1 V")), CUT_OFF)
    assert found.entry == "47 V"
    assert found.worked is not None
    assert found.worked.formula.startswith("up(max(")


def test_a_meter_error_that_is_not_stated_is_assumed_as_one_per_cent() -> None:
    # 14 · 3.22 · 1.01 = 45.5308 V.
    assert line(build(meter_accuracy=None), CUT_OFF).entry == "45.6 V"


@pytest.mark.parametrize(
    ("window_low", "entry"),
    [
        ("42 V", "45.4 V"),  # below what the cells need: these rule
        ("45.31 V", "45.4 V"),  # 45.3054 V is needed, and either rounds up to the same
        ("47.02 V", "47.1 V"),  # it stops there by itself: up to the grid
        ("50 V", "50 V"),  # the highest entry
        ("50.1 V", "45.4 V"),  # cannot be entered; the pack's own stands
    ],
)
def test_a_cut_off_is_not_entered_under_the_bottom_of_the_window(
    window_low: str, entry: str
) -> None:
    assert line(build(window_low=window_low), CUT_OFF).entry == entry


def test_a_cut_off_at_the_bottom_of_the_window_says_so() -> None:
    found = line(build(window_low="47 V"), CUT_OFF)
    assert found.worked is not None
    assert "max({n} · ({V_warn} + {δ}) · (1 + {ε}), {V_low})" in found.worked.formula
    assert found.why.endswith("The inverter stops there by itself in any case.")
    assert found.lost == ""
    assert "by itself" not in line(build(), CUT_OFF).why


@pytest.mark.parametrize(
    ("reach", "act", "entry"),
    [
        (None, Act.FIND_OUT, "?"),
        # 14 · 3 V = 42 V is the print of the cells.
        (("38 V", "41.9 V", "0.1 V"), Act.CANNOT, "do not connect"),
        (NOT_FITTED, Act.CANNOT, "fixed"),
    ],
)
def test_no_cut_off_where_none_is_safe(reach: object, act: Act, entry: str) -> None:
    found = line(build(cut_off=reach), CUT_OFF)
    assert (found.act, found.entry, found.worked) == (act, entry, None)


def test_the_highest_entry_is_taken_where_the_warning_lies_above_it() -> None:
    # 45.3054 V keep clear of the warning; 45.3 V are within the print: a caution, and no stop.
    found = line(build(cut_off=("40 V", "45.3 V", "0.1 V")), CUT_OFF)
    assert (found.act, found.entry) == (Act.ENTER, "45.3 V")
    assert found.worked is not None
    assert found.worked.formula.startswith("min(")


def test_an_inverter_that_stops_high_enough_by_itself_will_do() -> None:
    # It stops at 46 V, and 45.3054 V is needed.
    of = build(cut_off=NOT_FITTED, window_low="46 V")
    sheet, _ = settings_sheet(groundwork(of))
    assert sheet.thresholds.cut_off == 46.0
    assert finding(of, "discharge.cut-off").margin == pytest.approx(46 - 14 * 3.0)


def test_an_inverter_that_stops_too_low_by_itself_gives_no_threshold() -> None:
    sheet, _ = settings_sheet(groundwork(build(cut_off=NOT_FITTED, window_low="41.9 V")))
    assert sheet.thresholds.cut_off is None
    sheet, _ = settings_sheet(groundwork(build(cut_off=NOT_FITTED, window_low=None)))
    assert sheet.thresholds.cut_off is None


# Changeover.


def test_the_changeover_keeps_the_reserve_under_the_typical_load() -> None:
    # At 20 %: E = 14 · (3.2 + 0.2 · 0.9) = 47.32 V. V = (E + √(E² − 4 · 0.01472 · 573.478)) / 2
    # = (47.32 + √(2239.1824 − 33.7664)) / 2 = (47.32 + 46.9619) / 2 = 47.1409 V, up to 47.2 V.
    found = line(build(), GO)
    assert found.entry == "47.2 V"
    assert found.worked is not None
    exact = {i.symbol: i.value for i in found.worked.inputs}
    assert exact["E"] == pytest.approx(47.32)
    assert exact["R"] == pytest.approx(0.01472)
    assert exact["P"] == pytest.approx(573.478, abs=0.0005)
    # At rest 47.2 V are (47.2 / 14 − 3.2) / 0.9 = 19.05 %; under the continuous load 2203.913 W
    # the same voltage means E = 47.2 + 46.693 · 0.01472 = 47.8873 V, 24.50 %.
    assert found.soc_rest == pytest.approx(0.190476, abs=5e-7)
    assert found.soc_loaded == pytest.approx(0.245026, abs=5e-7)


def test_a_reserve_too_near_the_cut_off_gives_way() -> None:
    # At 5 % the pack shows 14 · 3.245 = 45.43 V less the drop; 45.4 + 14 · 0.03 = 45.82 V rules.
    found = line(build({"reserve": "5 %"}), GO)
    assert found.entry == "45.9 V"


def test_the_changeover_stands_clear_of_the_window_too() -> None:
    # It stops at 47 V, whatever is entered as its cut-off: 47 + 14 · 0.03 = 47.42 V.
    found = line(build(window_low="47 V"), GO)
    assert found.entry == "47.5 V"
    assert "where the inverter stops" in [i.means for i in found.worked.inputs if found.worked]


def test_without_a_window_the_cut_off_rules() -> None:
    assert line(build({"reserve": "5 %"}, window_low=None), GO).entry == "45.9 V"


def test_a_range_that_ends_too_low_keeps_less() -> None:
    found = line(build(changeover=("42 V", "46.5 V", "0.1 V")), GO)
    assert found.entry == "46.5 V"
    assert found.worked is not None
    assert found.worked.formula.startswith("down(min(")


def test_a_range_that_ends_at_the_cut_off_is_of_no_use() -> None:
    of = build(changeover=("42 V", "45.8 V", "0.1 V"))
    assert line(of, GO).act is Act.CANNOT
    assert line(of, BACK).act is Act.FIND_OUT
    sheet, _ = settings_sheet(groundwork(of))
    assert (sheet.thresholds.changeover, sheet.thresholds.back) == (None, None)


def test_a_pack_that_collapses_is_left_at_the_cut_off() -> None:
    # A module of 1 Ω: 1.33 Ω over hours, and 47.32² / 4 / 1.33 = 420 W is all it gives at 20 %.
    of = good_build(pack=good_pack(module=good_module(ocv=straight(3.2, 4.1), resistance="1 Ohm")))
    assert line(of, GO).entry == "45.9 V"


def test_a_flat_chemistry_is_told_to_count() -> None:
    of = good_build(pack=good_pack(module=good_module(chemistry=IRON, cells_in_series=8)))
    assert "counted state of charge" in line(of, GO).why


@pytest.mark.parametrize("field", ["changeover", "return_to_battery"])
def test_an_unknown_half_of_the_pair_leaves_both_open(field: str) -> None:
    of = build(**{field: None})
    assert line(of, GO).act is Act.FIND_OUT
    assert line(of, BACK).act is Act.FIND_OUT


def test_an_inverter_that_does_not_return_by_itself_is_returned_by_hand() -> None:
    of = build(return_to_battery=NOT_FITTED)
    assert line(of, GO).entry == "47.2 V"
    by_hand = line(of, BACK)
    assert (by_hand.act, by_hand.entry) == (Act.CANNOT, "by hand")
    thresholds = settings_sheet(groundwork(of))[0].thresholds
    assert (thresholds.changeover, thresholds.back) == (47.2, None)
    # Should it return at a voltage of its own: 56.1 V less two errors of its meter, 55.539 V.
    assert "above the changeover, 47.2 V, and under the 55.54 V that charging" in by_hand.why
    told = finding(of, "changeover.return-reached")
    assert told.severity is Severity.NOTE
    assert "Its return cannot be set" in told.detail


def test_a_return_that_cannot_be_set_is_told_though_no_charge_is_settled() -> None:
    of = good_build(inverters=(good_inverter(return_to_battery=NOT_FITTED),), chargers=())
    assert "that must lie above the changeover, " in line(of, BACK).why
    assert ", in reach. Till then the utility carries the load" in line(of, BACK).why


def test_a_changeover_of_no_use_has_no_return_by_hand_either() -> None:
    of = build(changeover=("42 V", "45.8 V", "0.1 V"), return_to_battery=NOT_FITTED)
    assert line(of, GO).act is Act.CANNOT
    assert settings_sheet(groundwork(of))[0].thresholds.changeover is None


@pytest.mark.parametrize("comes", [NOT_FITTED, None, ("44 V", "58 V", "0.1 V")])
def test_an_inverter_without_a_changeover_gets_no_line(comes: object) -> None:
    of = build(changeover=NOT_FITTED, return_to_battery=comes)
    sheet, findings = settings_sheet(groundwork(of))
    settings = sheet.device("inverter")
    assert settings is not None
    assert [found.name for found in settings.lines] == [CUT_OFF]
    assert not [f for f in findings if f.rule.key.startswith("changeover.")]


@pytest.mark.parametrize(
    "of",
    [
        with_module(resistance=None),
        with_inverter(efficiency=None),
        with_inverter(cut_off=None),
    ],
    ids=["resistance", "efficiency", "cut-off"],
)
def test_what_depends_on_an_unknown_is_asked_for(of: Build) -> None:
    assert line(of, GO).act is Act.FIND_OUT
    assert line(of, BACK).act is Act.FIND_OUT


# Return.


def test_the_return_stands_clear_of_the_rebound() -> None:
    # 2203.913 W / 47.2 V = 46.693 A, times 0.01472 Ω = 0.6873 V of rebound; 15 % more charge is
    # 14 · 0.135 = 1.89 V; two errors 0.01 · 47.2 = 0.472 V: 47.2 + 0.6873 + 1.89 + 0.472 =
    # 50.2493 V, up to 50.3 V.
    of = build()
    assert line(of, BACK).entry == "50.3 V"
    # The gap of 3.1 V against the 0.6873 + 0.472 V that it rises by itself.
    assert finding(of, "changeover.hunting").margin == pytest.approx(3.1 - 1.15932, abs=5e-6)


def test_in_the_cold_the_changeover_stays_and_the_return_stands_clear_of_more() -> None:
    # The changeover is that of warm cells, 47.2 V. At 0 °C twice 13.3333 mΩ and 1.38667 mΩ make
    # 28.0533 mΩ: 46.693 A raise 1.3099 V; 47.2 + 1.3099 + 1.89 + 0.472 = 50.8719 V, up to 50.9 V.
    cold = attrs.evolve(build(), site=good_site(coldest="0 degC"))
    assert line(cold, GO).entry == "47.2 V"
    assert line(cold, BACK).entry == "50.9 V"
    assert finding(cold, "changeover.hunting").limit == pytest.approx(1.3099 + 0.472, abs=5e-5)


def test_a_return_that_charging_does_not_reach_is_cut_short() -> None:
    # The charger is set to 56.1 V. Its error and the meter's downwards, 56.1 · 0.995² = 55.5405 V,
    # and two meter errors, 56.1 · 0.99 = 55.539 V: down to 55.5 V. 85 % reserve is 55.81 V.
    of = build({"reserve": "75 %"})
    found = line(of, BACK)
    assert found.entry == "55.5 V"
    assert "Charging does not reach" in found.why


def test_a_rough_charger_brings_the_return_down() -> None:
    # 14 · 4.03 / 1.03 = 54.777 V, 54.7 V; 54.7 · 0.97 · 0.995 = 52.79 V, down to 52.7 V.
    of = good_build(
        pack=good_pack(module=good_module(ocv=straight(3.2, 4.1))),
        chargers=(good_charger(accuracy="3 %"),),
        policy=Policy(basis="chosen", reserve="75 %"),
        inverters=(good_inverter(changeover=("42 V", "52 V", "0.1 V")),),
    )
    assert line(of, BACK).entry == "52.7 V"


def test_a_return_above_all_that_charging_reaches_stops_it() -> None:
    """Charged to 56.1 V: a return of 56.2 V at least never comes, and the pack is never used again.

    At 56.1 V the charger's and the meter's errors decide, 55.539 V being sure: that is allowed, and
    both figures are told.
    """
    of = build(return_to_battery=("56.2 V", "60 V", "0.1 V"))
    found = line(of, BACK)
    assert (found.act, found.entry) == (Act.CANNOT, "no entry works")
    told = finding(of, "changeover.return-reached")
    assert told.severity is Severity.STOP
    assert (told.value, told.limit) == (pytest.approx(56.2), pytest.approx(56.1))
    assert "return_to_battery = 'none'" in told.remedy
    of = build(return_to_battery=("56.1 V", "60 V", "0.1 V"))
    assert (line(of, BACK).act, line(of, BACK).entry) == (Act.ENTER, "56.1 V")
    told = finding(of, "changeover.return-reached")
    assert told.severity is Severity.CAUTION
    assert told.value == pytest.approx(56.1)
    assert told.guarded == pytest.approx(56.1 + 56.1 - 55.539)


def test_no_return_works_where_charging_ends_under_the_changeover() -> None:
    # 95 % of reserve is 56.77 V at rest, and under load little less: above the 56.1 V of charging.
    of = build({"reserve": "95 %"}, changeover=("42 V", "57 V", "0.1 V"))
    assert float(line(of, GO).entry.removesuffix(" V")) > 56.1
    found = line(of, BACK)
    assert (found.act, found.entry) == (Act.CANNOT, "no entry works")
    assert finding(of, "changeover.return-reached").severity is Severity.STOP


def test_a_return_that_cannot_be_set_above_the_changeover_goes_to_and_fro() -> None:
    """The changeover is 47.2 V; a device that returns at 47 V at most comes back at once.

    Needed is the rise by itself, 0.6873 + 0.472 V, worked out above; it has -0.2 V.
    """
    of = build(return_to_battery=("44 V", "47 V", "0.1 V"))
    found = line(of, BACK)
    assert (found.act, found.entry) == (Act.CANNOT, "cannot be set high enough")
    told = finding(of, "changeover.hunting")
    assert told.severity is Severity.CAUTION
    assert (told.value, told.limit) == (pytest.approx(-0.2), pytest.approx(1.15932, abs=5e-6))
    assert "to and fro" in told.remedy
    assert settings_sheet(groundwork(of))[0].thresholds.back is None
    # One step above it, it can be entered, and the gap is said to be too narrow.
    of = build(return_to_battery=("44 V", "47.3 V", "0.1 V"))
    assert line(of, BACK).entry == "47.3 V"
    assert finding(of, "changeover.hunting").severity is Severity.CAUTION


def test_a_gap_too_narrow_is_said() -> None:
    # 55.5 V is the most that charging reaches, the changeover at 85 % is 55.2 V or so.
    of = build({"reserve": "82 %"}, changeover=("42 V", "57 V", "0.1 V"))
    assert finding(of, "changeover.hunting").severity.name == "CAUTION"
    assert "The gap is too narrow" in line(of, BACK).why


def test_without_a_charge_voltage_there_is_no_return() -> None:
    of = good_build(chargers=())
    assert line(of, GO).act is Act.ENTER
    assert line(of, BACK).act is Act.FIND_OUT


def test_the_highest_changeover_of_several_inverters_counts_with_its_own_return() -> None:
    late = good_inverter(name="late", changeover=("49 V", "54 V", "0.1 V"))
    of = good_build(
        pack=good_pack(module=good_module(ocv=straight(3.2, 4.1))),
        inverters=(good_inverter(), late),
    )
    sheet, _ = settings_sheet(groundwork(of))
    assert sheet.thresholds.changeover == 49.0
    device = sheet.device("late")
    assert device is not None
    back = device.line(BACK)
    assert back is not None
    assert back.worked is not None
    assert sheet.thresholds.back == back.worked.value
