"""The pack's voltages against an inverter's window. Worked by hand; severities: test_design.py."""

from __future__ import annotations

import pytest
from strategies import (
    good_build,
    good_cabling,
    good_charger,
    good_conductor,
    good_inverter,
    good_module,
    good_pack,
    good_profile,
    good_site,
    with_charger,
    with_inverter,
    with_module,
    with_policy,
)

from evpack.base.finding import Finding, Severity
from evpack.base.fitted import NOT_FITTED
from evpack.describe.build import Build
from evpack.describe.cabling import Run
from evpack.describe.policy import Policy
from evpack.design import design


def finding(build: Build, rule: str) -> Finding:
    return next(f for f in design(build).findings if f.rule.key == rule)


@pytest.mark.parametrize(
    ("rule", "value", "limit", "margin"),
    [
        # 56.1 V and half a per cent; 60 V.
        ("window.charged", 56.3805, 60.0, 3.6195),
        ("window.tripping", 14 * 4.18, 66.0, 7.48),
        ("window.highest", 58.8, 66.0, 7.2),
        ("window.nominal-high", 51.1, 60.0, 8.9),
        ("window.nominal-low", 51.1, 42.0, 9.1),
        ("window.least", 42.0, 42.0, 0.0),
        # Both errors taken off: 0.5 % of the charger and 0.5 % of its own meter, and at least two
        # of its own: 56.1 · 0.99 = 55.539 V.
        ("window.restart", 55.539, 49.0, 6.539),
        # 45.4 V, 2203.913 / 45.4 · 0.01472 = 0.714573 V of rebound, and 2 · 0.005 · 45.4 V.
        ("window.restart-early", 49.0, 46.568573, 2.431427),
        # 2203.913 / 51.1 = 43.1294 A through 1.28 / 3 + 0.96 = 1.386667 mΩ: 59.806 mV of 51.1 V.
        ("window.cable-drop", 0.001170375, 0.02, 0.018829625),
        ("window.touch", 58.8, 60.0, 1.2),
    ],
)
def test_margins_of_the_good_build(rule: str, value: float, limit: float, margin: float) -> None:
    found = finding(good_build(), rule)
    assert (found.value, found.limit) == (pytest.approx(value), pytest.approx(limit))
    assert found.margin == pytest.approx(margin, rel=1e-6, abs=1e-9)


def test_the_loaded_voltage_of_a_charged_pack() -> None:
    # E = 14 · 4.05 = 56.7 V, 14.72 mΩ, 2203.913 W: (56.7 + √(3214.89 − 129.766)) / 2 =
    # (56.7 + 55.5439) / 2 = 56.122 V.
    assert finding(good_build(), "window.loaded").value == pytest.approx(56.122, abs=0.0005)


def test_the_loaded_voltage_of_a_charged_pack_in_the_cold() -> None:
    # At 0 °C the cells have twice their 13.3333 mΩ: 26.6667 + 1.38667 = 28.0533 mΩ;
    # (56.7 + √(3214.89 − 247.307)) / 2 = (56.7 + 54.4755) / 2 = 55.588 V.
    cold = good_build(site=good_site(coldest="0 degC"))
    assert finding(cold, "window.loaded").value == pytest.approx(55.588, abs=0.0005)
    # Modules of 100 mΩ: 133.33 mΩ over hours, four times as much at −20 °C, and 1.387 mΩ carry
    # 56.7² / 4 / 0.53472 = 1503 W of the 2204 W.
    module = good_module(resistance="100 mOhm")
    weak = good_build(pack=good_pack(module=module), site=good_site(coldest="-20 degC"))
    assert finding(weak, "window.loaded").severity is Severity.STOP
    assert "collapses" in finding(weak, "window.loaded").detail
    warm = good_build(pack=good_pack(module=module))
    assert finding(warm, "window.loaded").severity is Severity.OK


def test_a_full_pack_at_rest_under_its_target_is_taken_as_it_is() -> None:
    # With a target of 4.25 V the rested pack, 14 · 4.2 V, is what there is: 58.8 V less the drop.
    found = finding(with_policy(charge_target="4.25 V"), "window.loaded")
    assert found.value is not None
    assert 58.0 < found.value < 58.8


def test_a_pack_that_cannot_carry_the_load_is_told_without_a_number() -> None:
    found = finding(with_module(resistance="2 Ohm"), "window.loaded")
    assert (found.severity, found.value) == (Severity.STOP, None)
    assert "collapses" in found.detail


def test_the_state_at_which_it_restarts() -> None:
    # 49 / 14 = 3.5 V, between 3.0 V at 0 and 3.513 V at 10 %: 9.7466 %.
    found = finding(good_build(), "window.restart-late")
    assert found.value == pytest.approx(0.097466, abs=5e-7)
    assert found.limit == 0.5


def test_an_unstated_survival_voltage_is_the_top_of_the_window() -> None:
    found = finding(with_inverter(survives=None), "window.highest")
    assert found.limit == 60.0
    assert "not stated" in found.detail


def test_an_unsettled_charge_voltage_is_judged_at_the_target() -> None:
    found = finding(with_charger(charge_voltage=None), "window.charged")
    assert found.value == pytest.approx(56.7)


def test_a_remedy_names_the_counts_that_would_fit() -> None:
    # 7-cell modules, 42 to 60 V, 4.05 V a cell: 14 cells only; 7 are 25.55 V, 21 are 85.05 V.
    build = good_build(pack=good_pack(modules_in_series=3))
    assert "would fit its window: 2 × 7 = 14 cells." in finding(build, "window.charged").remedy
    narrow = with_inverter(window_low="52 V", window_high="55 V", survives="55 V")
    assert "No whole number of these 7-cell modules" in finding(narrow, "window.charged").remedy
    unknown = with_inverter(window_low=None, window_high="55 V", survives="55 V")
    assert finding(unknown, "window.charged").remedy.endswith("a higher window. ")


def test_a_target_of_nothing_fits_no_count() -> None:
    build = good_build(
        policy=Policy(basis="chosen", charge_target="0 V"),
        inverters=(good_inverter(window_high="51 V"),),
    )
    found = finding(build, "window.nominal-high")
    assert found.remedy == "Fewer cells in series. "


def test_a_wide_window_lists_no_more_modules_than_a_pack_may_have() -> None:
    # 1 V a cell would let 8 modules of 7 cells into 60 V; 1 mV would let 8571.
    for target, most in (("1 V", "8 × 7 = 56"), ("1 mV", "400 × 7 = 2800")):
        build = good_build(
            policy=Policy(basis="chosen", charge_target=target),
            inverters=(good_inverter(window_low="51.2 V"),),
        )
        assert f"{most} cells." in finding(build, "window.nominal-low").remedy


def test_a_rough_charger_reaches_less_for_the_restart() -> None:
    # 14 · 4.03 / 1.03 = 54.777 V, 54.7 V; 3 % under that and 0.5 % of the meter: 52.793 V.
    assert finding(with_charger(accuracy="3 %"), "window.restart").value == pytest.approx(
        54.7 * 0.97 * 0.995
    )
    # Not stated, one per cent: 55.8 · 0.99 · 0.995 = 54.965 V.
    assert finding(with_charger(accuracy=None), "window.restart").value == pytest.approx(
        55.8 * 0.99 * 0.995
    )


def test_a_rough_meter_counts_twice() -> None:
    # 56.1 V less 2 · 2 %; the charger's 0.5 % is less.
    assert finding(with_inverter(meter_accuracy="2 %"), "window.restart").value == pytest.approx(
        56.1 * 0.96
    )


@pytest.mark.parametrize(
    ("restart", "severity"), [("46.5 V", Severity.CAUTION), ("46.6 V", Severity.OK)]
)
def test_a_restart_that_the_rebound_reaches_is_too_early(restart: str, severity: Severity) -> None:
    # The pack rises to 46.569 V by itself: see above.
    assert finding(with_inverter(restart=restart), "window.restart-early").severity is severity


@pytest.mark.parametrize(
    "build",
    [
        with_inverter(restart=NOT_FITTED),
        with_inverter(cut_off=None),
        with_inverter(continuous=None, idle=None),
        with_module(resistance=None),
    ],
    ids=["no restart", "cut-off", "idle", "resistance"],
)
def test_no_rebound_is_judged_where_it_is_not_known(build: Build) -> None:
    assert not [f for f in design(build).findings if f.rule.key == "window.restart-early"]


@pytest.mark.parametrize(
    ("milliohm", "severity"),
    # 51.1 V and 43.1294 A: 2 % are 1.022 V, 23.6962 mΩ; less the leads' 0.4267 mΩ that leaves
    # 23.2695 mΩ for the main run, 3 m there and back: 7.7565 mΩ a metre.
    [(7.756, Severity.OK), (7.757, Severity.CAUTION)],
)
def test_a_long_thin_run_loses_too_much(milliohm: float, severity: Severity) -> None:
    main = Run(name="main", conductor=good_conductor(175.0, milliohm), length="1.5 m")
    build = good_build(cabling=good_cabling(main=main))
    assert finding(build, "window.cable-drop").severity is severity


@pytest.mark.parametrize(
    ("survives", "cut", "severity"),
    [
        ("66 V", 4.18, Severity.OK),  # 4.71 V a cell: the chemistry's cut rules
        # 58.08 V are 4.1486 V a cell, down to 4.14 V; its warning at 4.11 V is above 4.05 V.
        ("58.08 V", 4.14, Severity.OK),
        ("57.3 V", 4.09, Severity.OK),  # 4.0929 V; a warning at 4.06 V
        # 57.2 V are 4.0857 V, 4.08 V: a warning at 4.05 V would be the target itself.
        ("57.2 V", 4.18, Severity.CAUTION),
        ("56.5 V", 4.18, Severity.CAUTION),  # less than the target: no cut helps
    ],
)
def test_the_monitoring_opens_before_the_inverter_is_damaged(
    survives: str, cut: float, severity: Severity
) -> None:
    build = with_inverter(window_high="56.4 V", survives=survives)
    found = finding(build, "window.tripping")
    assert found.value == pytest.approx(14 * cut)
    assert found.severity is severity
    sheet = design(build).settings
    assert sheet is not None
    device = sheet.device("cell monitoring (BMS)")
    assert device is not None
    line = device.line("high cell voltage, cut")
    assert line is not None
    assert line.entry == f"{cut:g} V/cell"


def test_the_weakest_of_several_inverters_draws_the_cut_in() -> None:
    # What it survives is not stated: the top of its window, 57.5 V, 4.1071 V a cell, down to 4.1 V.
    weak = good_inverter(name="weak", window_high="57.5 V", survives=None)
    build = good_build(inverters=(good_inverter(), weak))
    tripping = [f for f in design(build).findings if f.rule.key == "window.tripping"]
    assert [f.value for f in tripping] == pytest.approx([14 * 4.1] * 2)


def test_what_an_inverter_must_survive_is_the_highest_of_the_chemistry() -> None:
    # A maker's 4.1 V is kept by settings; when they fail the cells go on to 4.2 V.
    found = finding(with_module(cell_highest="4.1 V"), "window.highest")
    assert found.value == pytest.approx(58.8)


def test_a_charge_too_high_for_the_window_says_what_target_fits() -> None:
    # 56.3 / 14 + 0.02 = 4.0414 V, down to 4.04 V: 14 · 4.02 / 1.005 = 56.0 V.
    narrow = with_inverter(window_high="56.3 V", survives="66 V")
    assert "charge_target = '4.04 V'" in finding(narrow, "window.charged").remedy
    inverter = good_inverter(window_high="56.3 V", survives="66 V")
    lower = good_build(inverters=(inverter,), policy=Policy(basis="chosen", charge_target="4.04 V"))
    assert finding(lower, "window.charged").severity is Severity.OK
    # A profile left on gives more than the target, which itself would fit.
    left = good_build(chargers=(good_charger(left_on=good_profile()),))
    assert "itself would fit" in finding(left, "window.charged").remedy


def test_an_inverter_without_a_restart_voltage_says_so() -> None:
    found = finding(with_inverter(restart=NOT_FITTED), "window.restart")
    assert "no restart voltage" in found.detail
