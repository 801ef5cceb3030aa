"""The settings tried in the simulator, beside a second opinion of plain physics.

The second opinion knows the build and what a person reads off the sheet: a cell is the pack's
voltage over the cells in series, plus or less the spread; what it may be is the chemistry's and the
module's. How the sheet got its numbers, and how the simulator steps, it does not know.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import attrs
import numpy as np
import pytest
from house.test_formulas import check, every
from hypothesis import given, settings
from strategies import (
    OXIDE,
    TITANATE,
    builds,
    good_build,
    good_charger,
    good_inverter,
    good_module,
    good_monitoring,
    good_pack,
    good_profile,
    good_site,
    sound_builds,
    straight,
    with_charger,
    with_inverter,
    with_module,
    with_pack,
)

from evpack.base.basis import Basis
from evpack.base.errors import DescriptionError
from evpack.base.finding import Finding, Severity
from evpack.base.fitted import NOT_FITTED
from evpack.decide import decide
from evpack.describe.build import Build
from evpack.describe.chemistry import Chemistry
from evpack.design import design
from evpack.load.tables import sources
from evpack.outcome.design import Design
from evpack.outcome.runs import SettingsTrial
from evpack.outcome.settings import Act
from evpack.simulate import trial_rules
from evpack.simulate.trial import (
    CHARGE,
    COLD,
    DRAINED,
    EMPTY,
    EMPTY_COLD,
    HELD,
    OUT,
    OUT_EMPTY,
    STUCK,
    WEAK_EMPTY,
    WEAK_FULL,
    try_settings,
)

OK, NOTE, CAUTION, UNKNOWN, STOP = Severity
DUST = 1e-6


def tried(build: Build) -> SettingsTrial:
    return try_settings(design(build))


def found(trial: SettingsTrial, rule: str, about: str = "") -> list[Finding]:
    return [f for f in trial.findings if f.rule.key == f"trial.{rule}" and about in f.about]


# A second opinion.


def read_off(done: Design, device: str, name: str) -> float | None:
    """Return the number that a person reads off a line and enters."""
    settings = None if done.settings is None else done.settings.device(device)
    line = None if settings is None else settings.line(name)
    if line is None or line.act is not Act.ENTER:
        return None
    number, _, unit = line.entry.partition(" ")
    return float(number) if unit in {"V", "A", "V/cell"} else None


def spread(build: Build) -> float:
    chemistry: Chemistry = build.pack.module.chemistry
    assert chemistry.targets is not None
    measured = build.pack.spread_full
    return max(float(chemistry.targets.top_guard.m), float(measured.m) if measured else 0.0)


def highest_cell(build: Build, done: Design) -> float | None:
    """Return the highest cell with the chargers' errors, by arithmetic alone; None is not known."""
    worst = -np.inf
    for charger in build.all_chargers:
        error = charger.accuracy or build.policy.charger_accuracy
        volts = [
            read_off(done, charger.name, line)
            for line in ("charge voltage (absorption)", "float voltage")
        ]
        if volts[0] is None or charger.left_on is not None:
            return None
        worst = max(worst, *(v * (1 + float(error.m)) for v in volts if v is not None))
    return float(worst) / build.pack.cells_in_series + spread(build)


def lowest_cell(build: Build, done: Design) -> float | None:
    """Return the lowest cell where every inverter's meter reads high, by arithmetic alone."""
    least = np.inf
    for inverter in build.inverters:
        error = inverter.meter_accuracy or build.policy.meter_accuracy
        volts = read_off(done, inverter.name, "low-voltage cut-off")
        if inverter.cut_off is NOT_FITTED:
            volts = None if inverter.window_low is None else float(inverter.window_low.m)
        if volts is None:
            return None
        least = min(least, volts / (1 + float(error.m)))
    return float(least) / build.pack.cells_in_series - spread(build)


def weak_cell(build: Build, done: Design) -> float | None:
    """Return the lowest cell of a module of 80 % capacity at the lowest stop, by bisection.

    Level when full: with s left in the weak one, the others hold 1 - (1 - s) * 0.8. Below empty the
    curve goes straight on.
    """
    mean = lowest_cell(build, done)
    if mean is None:
        return None
    pack, curve = build.pack, build.pack.module.curve
    wanted = (mean + spread(build)) * pack.modules_in_series

    def volts(s: float) -> float:
        first = (curve.volts[1] - curve.volts[0]) / (curve.soc[1] - curve.soc[0])
        return float(np.interp(s, curve.soc, curve.volts) + min(s, 0.0) * first)

    def string(s: float) -> float:
        return volts(s) + (pack.modules_in_series - 1) * volts(1 - (1 - s) * 0.8)

    low, high = -1.0, 1.0
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if string(middle) < wanted else (low, middle)
    return volts(low) - spread(build)


def charging(build: Build, done: Design) -> float | None:
    """Return what all chargers give together as they are set [A]."""
    total = 0.0
    for charger in build.all_chargers:
        if charger.current is None:
            return None
        each = read_off(done, charger.name, "charge current limit")
        total += charger.count * (float(charger.current.m) if each is None else each)
    return total


def test_of_a_go_no_trial_passes_a_limit_unseen() -> None:
    goes: list[Design] = []

    @settings(max_examples=250)  # of which about one in five is a go
    @given(build=sound_builds())
    def search(build: Build) -> None:
        done = design(build)
        if decide(done).go:
            goes.append(done)
            seen(build, done)

    search()
    assert len(goes) > 20


def seen(build: Build, done: Design) -> None:
    """Hold a go against the second opinion."""
    trial, module = try_settings(done), build.pack.module
    limits = module.chemistry.limits
    assert trial.holds, [str(f) for f in trial.findings if f.holds]
    high, low = highest_cell(build, done), lowest_cell(build, done)
    if high is not None and build.all_chargers:
        assert high <= float(limits.highest.m) + DUST
    if low is not None and build.inverters:
        assert low >= float(limits.least.m) - DUST
    # What only the cell monitoring can catch is said, every time.
    for about in (STUCK, DRAINED):
        if (build.all_chargers if about == STUCK else build.inverters) and trial.run(about):
            assert max(f.severity for f in found(trial, "stuck", about)) is CAUTION
    if build.site.coldest is not None and build.site.coldest.m < limits.charge_coldest.m:
        (cold,) = found(trial, "cold")
        assert cold.severity is CAUTION
    amps, n = charging(build, done), build.pack.strings
    if amps and module.charge_limit is not None and n > 1:
        # At the best, the others share it evenly.
        even = amps / (n - 1)
        (out,) = found(trial, "out", OUT)
        even *= 1.0 if n == 2 else float(build.policy.sharing_imbalance.m)
        assert out.severity is CAUTION or even <= float(module.charge_limit.m) * (1 + DUST)
    weak = weak_cell(build, done)
    if weak is not None and weak < float(module.least.m):
        (seen_weak,) = found(trial, "weak", WEAK_EMPTY)
        assert seen_weak.severity is CAUTION


@given(build=sound_builds())
def test_the_simulator_and_plain_physics_agree(build: Build) -> None:
    """No run shows a cell beyond what arithmetic allows; at the end of a charge they are one."""
    done = design(build)
    trial = try_settings(done)
    high, low = highest_cell(build, done), lowest_cell(build, done)
    for name in (CHARGE, HELD, OUT, COLD):
        run = trial.run(name)
        # A pack that rests above the charge voltage is not charged at all.
        if run is not None and high is not None and np.min(run.current) < -DUST:
            # Where a curve bends within a step it may pass by 1 mV or so: to the safe side.
            assert run.reached.value <= high + 2e-3
            amps = -run.current.sum(axis=1)
            if name == HELD and amps[-1] < amps[0] / 2:  # the voltage holds it, and no more flows
                assert run.reached.value == pytest.approx(high, abs=2e-3)
    for name in (EMPTY, EMPTY_COLD):
        run = trial.run(name)
        if run is not None and low is not None:
            assert run.reached.value >= low - 1e-6


@given(build=sound_builds() | builds())
def test_a_trial_always_answers_and_an_unknown_never_passes(build: Build) -> None:
    done = design(build)
    trial = try_settings(done)
    assert trial.findings
    module = build.pack.module
    unknown = module.resistance is None and module.resistance_curve is None
    if done.settings is None or unknown or not trial.runs:
        assert not trial.holds
    for charger in build.all_chargers:
        line = done.settings and done.settings.device(charger.name)
        if line and any(one.entry == "do not connect" for one in line.lines) and trial.runs:
            assert not trial.holds
    for run in trial.runs:
        assert run.time.size == run.volts.size == run.cell.size == len(run.current)
        assert np.isfinite(run.cell).all()


# Tampering: a sheet that is wrong is found out.


def tampered(device: str, name: str, volts: float, build: Build | None = None) -> SettingsTrial:
    """Return the trial of a design in whose sheet one line was changed."""
    done = design(build or good_build())
    assert done.settings is not None

    def changed(line: Any) -> Any:
        if line.name != name:
            return line
        worked = attrs.evolve(line.worked, value=volts)
        return attrs.evolve(line, worked=worked, per_cell=volts)

    devices = tuple(
        attrs.evolve(one, lines=tuple(changed(line) for line in one.lines))
        if one.device == device
        else one
        for one in done.settings.devices
    )
    return try_settings(attrs.evolve(done, settings=attrs.evolve(done.settings, devices=devices)))


def test_a_charge_voltage_too_high_is_found_out() -> None:
    # 14 * (4.2 - 0.02) / 1.005 = 58.229 V is the most; 58.4 V is 58.4 * 1.005 / 14 + 0.02 = 4.212 V
    trial = tampered("charger", "charge voltage (absorption)", 58.4)
    run = trial.run(CHARGE)
    assert run is not None
    assert run.reached.value == pytest.approx(58.4 * 1.005 / 14 + 0.02, abs=1e-6)
    assert {f.severity for f in found(trial, "full")} == {STOP}
    assert {
        f.severity for f in found(tampered("charger", "charge voltage (absorption)", 58.2), "full")
    } == {OK}


def test_a_cut_off_too_low_is_found_out() -> None:
    # (3.0 + 0.02) * 14 * 1.005 = 42.4914 V is the least.
    trial = tampered("inverter", "low-voltage cut-off", 42.4)
    assert {f.severity for f in found(trial, "empty")} == {STOP}
    trial = tampered("inverter", "low-voltage cut-off", 42.6)
    assert {f.severity for f in found(trial, "empty")} == {OK}


def test_a_cut_of_the_monitoring_beyond_the_limit_is_found_out() -> None:
    trial = tampered("cell monitoring (BMS)", "high cell voltage, cut", 4.21)
    assert found(trial, "stuck", STUCK)[0].severity is STOP
    trial = tampered("cell monitoring (BMS)", "low cell voltage, cut", 2.95)
    assert found(trial, "stuck", DRAINED)[0].severity is STOP


def test_a_charge_current_is_carried_into_the_trial() -> None:
    """40 A over two strings of three, times the policy's imbalance of 1.2: 24 A of 30 A.

    52 A are 26 A each, which would pass, and 31.2 A with the imbalance, which does not.
    """
    assert good_build().policy.sharing_imbalance.m == 1.2
    (out,) = found(tried(good_build()), "out", OUT)
    assert out.value == pytest.approx(24.0, rel=0.02)
    assert out.severity is OK
    (out,) = found(tampered("charger", "charge current limit", 52.0), "out", OUT)
    assert out.value == pytest.approx(31.2, rel=0.02)
    assert out.severity is CAUTION  # each string is watched, and its over-current cut opens


def test_with_two_strings_the_one_left_carries_all_and_shares_with_nobody() -> None:
    """0.3 of 120 Ah an hour are entered: 36 A, all of it through the one that is left."""
    (out,) = found(tried(with_pack(strings=2)), "out", OUT)
    assert out.value == pytest.approx(36.0, rel=1e-6)


def test_a_string_out_on_discharge_leaves_its_part_to_the_others() -> None:
    """3 kW / 0.92 + 30 W = 3290.9 W over two strings, times 1.2, where the last inverter stops."""
    build = good_build()
    done = design(build)
    entered = read_off(done, "inverter", "low-voltage cut-off")
    assert entered is not None
    trial = try_settings(done)
    (out,) = found(trial, "out", OUT_EMPTY)
    assert out.value == pytest.approx(3290.9 / (entered / 1.005) / 2 * 1.2, rel=0.02)
    assert out.severity is OK
    run = trial.run(OUT_EMPTY)
    assert run is not None
    assert run.reached.value == pytest.approx(entered / 1.005 / 14 - 0.02, abs=1e-9)


def test_the_greatest_current_is_of_every_step() -> None:
    for run in tried(good_build()).runs:
        assert run.busiest >= float(np.abs(run.current).max()) - DUST


# A weak module.

STRAIGHT = good_module(ocv=straight(3.0, 4.2))
NO_LOAD = good_inverter(continuous=None)  # its full output is not known: drawn gently alone


def weak_at(stop: float) -> SettingsTrial:
    """Return the trial of a straight curve, 3 to 4.2 V, where the inverter really stops there."""
    build = good_build(pack=good_pack(module=STRAIGHT), inverters=(NO_LOAD,))
    return tampered("inverter", "low-voltage cut-off", stop * 1.005, build)


@pytest.mark.parametrize(
    ("stop", "cell", "severity"),
    [
        # s left in the weak one, 0.2 + 0.8 s in the other; 7 cells each:
        # 7 * (3 + 1.2 s + 3 + 1.2 * (0.2 + 0.8 s)) = 7 * (6.24 + 2.16 s)
        # 46.2 V / 7 = 6.6 V: s = 0.36 / 2.16 = 1/6, 3.2 V, less 20 mV of spread
        (46.2, 3.18, OK),
        # 43.4 V / 7 = 6.2 V: s = -0.04 / 2.16, 3 - 1.2 * 0.018519 = 2.97778 V, less 20 mV
        (43.4, 2.95778, CAUTION),
    ],
)
def test_a_weak_module_is_judged_by_its_own_cells(
    stop: float, cell: float, severity: Severity
) -> None:
    """The mean of all cells is 3.1 V or more both times: the pack's voltage shows nothing of it."""
    trial = weak_at(stop)
    run = trial.run(WEAK_EMPTY)
    assert run is not None
    # 3 A a string sag a little: its share of it, two thirds, less what the others then hold up.
    assert run.reached.value == pytest.approx(cell, abs=3e-3)
    assert run.cell.min() == pytest.approx(run.reached.value, abs=1e-3)
    (judged,) = found(trial, "weak", WEAK_EMPTY)
    assert judged.severity is severity
    assert {f.severity for f in found(trial, "empty")} == {OK}
    if severity is CAUTION:
        assert "Only the low cut of the cell monitoring, 3 V/cell, stands" in judged.detail


def test_at_full_output_a_weak_module_of_a_straight_curve_stands_lower() -> None:
    """It loses 2 I R and the other I R, so the bars stop at 3 I R more at rest.

    Of that the other has 0.96 / 2.16, so 1.33 I R more than when drawn gently, less the I R that it
    loses: the weak one is 0.33 I R lower over 7 cells. 3291 W / 46.2 V / 3 are 23.7 A, R is 10 mΩ
    and at most half more over hours: 11 to 17 mV. What leads lose takes a little from it.
    """
    build = good_build(pack=good_pack(module=STRAIGHT))
    loaded = tampered("inverter", "low-voltage cut-off", 46.2 * 1.005, build).run(WEAK_EMPTY)
    gentle = weak_at(46.2).run(WEAK_EMPTY)
    assert loaded is not None
    assert gentle is not None
    assert "3291 W drawn" in loaded.says
    assert 0.004 < gentle.reached.value - loaded.reached.value < 0.02


def test_a_lone_weak_module_stands_where_the_bars_stand() -> None:
    """Nothing else is in its string to hold it up: no lower than the mean."""
    build = good_build(pack=good_pack(module=good_module(cells_in_series=14), modules_in_series=1))
    trial = tried(build)
    weak, mean = trial.run(WEAK_EMPTY), trial.run(EMPTY)
    assert weak is not None
    assert mean is not None
    assert weak.reached.value == pytest.approx(mean.reached.value, abs=1e-3)


def test_a_weak_module_resists_more_on_charge() -> None:
    """It may stand above the others while much flows; at 58.6 V it passes 4.2 V."""
    trial = tampered("charger", "charge voltage (absorption)", 58.6)
    weak, mean = trial.run(WEAK_FULL), trial.run(CHARGE)
    assert weak is not None
    assert mean is not None
    assert weak.reached.value >= mean.reached.value
    (judged,) = found(trial, "weak", WEAK_FULL)
    assert judged.severity is CAUTION
    assert "Only the high cut of the cell monitoring" in judged.detail


def test_second_opinion_on_a_weak_module() -> None:
    build = good_build()
    done = design(build)
    weak, run = weak_cell(build, done), try_settings(done).run(WEAK_EMPTY)
    assert run is not None
    assert run.reached.value == pytest.approx(weak, abs=0.01)
    assert run.reached.value < 3.0


# Nothing that opens.


@pytest.mark.parametrize(
    ("monitoring", "severity"),
    [
        (None, UNKNOWN),
        (NOT_FITTED, STOP),
        (good_monitoring(every_cell=None), UNKNOWN),
        (good_monitoring(stops_charge=False, stops_discharge=False), STOP),
    ],
)
def test_with_nothing_that_opens_the_run_goes_on_past_the_limit(
    monitoring: Any, severity: Severity
) -> None:
    trial = tried(with_pack(monitoring=monitoring))
    for about, charges in ((STUCK, True), (DRAINED, False)):
        run = trial.run(about)
        assert run is not None
        assert run.reached.value > 4.2 if charges else run.reached.value < 3.0
        assert {f.severity for f in found(trial, "stuck", about)} == {severity}
        assert not any("has opened" in f.detail for f in found(trial, "stuck", about))


def test_a_curve_that_ends_inside_is_no_pass_with_nothing_that_opens() -> None:
    """Titanate: 2.11 V when empty, and straight on it stays above 1.5 V: that is a guess."""
    build = with_pack(module=good_module(chemistry=TITANATE), monitoring=NOT_FITTED)
    assert {f.severity for f in found(tried(build), "stuck", DRAINED)} <= {STOP}


def test_a_charger_that_gives_nothing_does_not_go_on_for_ever() -> None:
    nothing = good_charger(current="0 A", current_setting=NOT_FITTED)
    assert tried(good_build(chargers=(nothing,))).run(STUCK) is None


# The cold.


def test_a_charge_in_the_cold_is_held_against_what_cold_cells_take() -> None:
    """180 Ah at 4 °C take 0.05 of it an hour, 9 A; the charger gives 40 A."""
    (rate,) = found(tried(good_build(site=good_site(coldest="4 degC"))), "cold-rate")
    assert rate.severity is CAUTION
    assert (rate.value, rate.limit) == (pytest.approx(40.0), pytest.approx(9.0))


def test_below_freezing_the_block_alone_is_judged() -> None:
    assert found(tried(frozen()), "cold-rate") == []


# The runs.


def test_the_good_build_is_tried_in_every_way() -> None:
    trial = tried(good_build())
    assert [run.name for run in trial.runs] == [
        CHARGE, HELD, COLD, OUT, WEAK_FULL, STUCK,
        EMPTY, EMPTY_COLD, OUT_EMPTY, WEAK_EMPTY, DRAINED,
    ]  # fmt: skip
    assert trial.holds
    assert "11 attempts to break the settings, worst finding caution" in str(trial)
    assert trial.run("nothing") is None


def test_full_sun_ends_where_the_charger_holds() -> None:
    """56.1 V is entered and 0.5 % more is given: 56.3805 V; / 14 + 0.02 = 4.04718 V."""
    run = tried(good_build()).run(HELD)
    assert run is not None
    assert run.volts[-1] == pytest.approx(56.1 * 1.005, abs=1e-9)
    assert run.reached.value == pytest.approx(4.04718, abs=1e-5)
    assert run.time[-1] == pytest.approx(24 * 3600)


def test_a_stuck_charger_is_followed_till_the_monitoring_has_opened() -> None:
    """It opens at 4.18 V a cell; ten more seconds at 40 A into 180 Ah are 0.06 % of the charge.

    From 80 to 100 % the curve rises 0.228 V: 1.14 V * 0.0006 = 0.7 mV more.
    """
    run = tried(good_build()).run(STUCK)
    assert run is not None
    assert 4.18 < run.reached.value < 4.182
    assert run.cell[-2] > run.cell[0]


def test_one_string_alone_has_no_other_to_fail() -> None:
    trial = tried(with_pack(strings=1))
    assert trial.run(OUT) is None
    assert trial.run(OUT_EMPTY) is None
    assert [f.severity for f in found(trial, "out")] == [OK, OK]


def test_a_profile_left_on_is_tried_at_its_coldest() -> None:
    """Flooded: equalise 62 V + 0.12 V/K * (25 - 16) K = 63.08 V, 0.5 % more 63.3954 V."""
    trial = tried(with_charger(left_on=good_profile()))
    run = trial.run(HELD)
    assert run is not None
    assert run.reached.value > 4.2
    assert {f.severity for f in found(trial, "full")} == {STOP}
    (tried_at,) = found(trial, "settled", "charger")
    assert "63.4 V" in tried_at.detail


def test_a_profile_left_on_in_a_place_nobody_knows_is_not_tried() -> None:
    build = good_build(
        chargers=(good_charger(left_on=good_profile()),), site=good_site(coldest=None)
    )
    (open_,) = found(tried(build), "settled", "charger")
    assert open_.severity is UNKNOWN


def test_devices_that_are_not_there_are_not_tried() -> None:
    trial = tried(good_build(chargers=(), inverters=()))
    assert trial.runs == ()
    assert {f.severity for f in trial.findings} == {OK}
    assert not trial.holds  # nothing tried is no pass


def test_more_than_one_charger_is_judged_by_the_highest() -> None:
    worse = good_charger(name="worse", accuracy="2 %", charge_voltage=("48 V", "62 V", "2 V"))
    one, both = (
        tried(good_build(chargers=chargers)).run(HELD)
        for chargers in ((good_charger(),), (good_charger(), worse))
    )
    assert one is not None
    assert both is not None
    assert both.reached.value <= one.reached.value + 0.01


def test_what_is_only_assumed_is_no_clean_pass() -> None:
    for build, rule in (
        (
            with_charger(accuracy="0.5 %", basis={"default": "datasheet", "accuracy": "assumed"}),
            "full",
        ),
        (
            with_inverter(
                meter_accuracy="0.5 %", basis={"default": "datasheet", "meter_accuracy": "assumed"}
            ),
            "empty",
        ),
        (with_module(cell_highest="4.2 V", basis=guessed("cell_highest")), "full"),
        (with_module(cell_least="3 V", basis=guessed("cell_least")), "empty"),
        (with_pack(basis={"default": "chosen", "spread_full": "assumed"}), "full"),
        (with_pack(basis={"default": "chosen", "spread_full": "assumed"}), "empty"),
        (with_module(ocv=attrs.evolve(OXIDE.ocv, basis=Basis.ASSUMED)), "full"),
        (with_module(ocv=attrs.evolve(OXIDE.ocv, basis=Basis.ASSUMED)), "empty"),
        (with_module(capacity="60 Ah", basis=guessed("capacity")), "cold-rate"),
        (with_module(basis=guessed("charge_limit")), "out"),
        (with_inverter(basis="assumed"), "out"),
    ):
        assert CAUTION in {f.severity for f in found(tried(build), rule)}
        if rule != "out":
            assert {f.severity for f in found(tried(build), rule)} == {CAUTION}


def test_a_stuck_device_within_limits_only_assumed_is_no_clean_pass() -> None:
    trial = tried(with_module(cell_highest="4.2 V", basis=guessed("cell_highest")))
    assert [f.severity for f in found(trial, "stuck", STUCK)] == [CAUTION, CAUTION]


def test_without_a_measured_spread_the_guard_stands_in() -> None:
    for basis, severity in ((Basis.ASSUMED, CAUTION), (Basis.DATASHEET, OK)):
        oxide = attrs.evolve(OXIDE, basis=basis)
        module = good_module(chemistry=oxide, cell_highest="4.2 V", basis={"default": "datasheet"})
        trial = tried(good_build(pack=good_pack(module=module, spread_full=None)))
        assert {f.severity for f in found(trial, "full")} == {severity}


def guessed(field: str) -> dict[str, str]:
    return {"default": "datasheet", field: "assumed"}


def test_no_design_no_trial() -> None:
    with pytest.raises(DescriptionError, match="try_settings"):
        try_settings(good_build())  # type: ignore[arg-type]


# Every rule, in every severity that it can have.


def watched(**changes: Any) -> Build:
    return good_build(pack=good_pack(monitoring=good_monitoring(**changes)))


def frozen(**changes: Any) -> Build:
    return good_build(
        pack=good_pack(monitoring=good_monitoring(**changes)), site=good_site(coldest="-5 degC")
    )


def no_settings() -> SettingsTrial:
    return try_settings(attrs.evolve(design(good_build()), settings=None))


def strong_charge(**changes: Any) -> SettingsTrial:
    build = good_build(pack=good_pack(monitoring=good_monitoring(**changes)))
    return tampered("charger", "charge current limit", 70.0, build)


def without_cut(side: str) -> SettingsTrial:
    done = design(good_build())
    assert done.settings is not None
    devices = tuple(
        attrs.evolve(
            one, lines=tuple(x for x in one.lines if x.name != f"{side} cell voltage, cut")
        )
        for one in done.settings.devices
    )
    return try_settings(attrs.evolve(done, settings=attrs.evolve(done.settings, devices=devices)))


CASES: dict[str, list[tuple[Severity, Callable[[], SettingsTrial]]]] = {
    "settled": [
        (OK, lambda: tried(good_build())),
        (UNKNOWN, lambda: tried(with_charger(charge_voltage=None))),
        (UNKNOWN, lambda: tried(with_charger(charge_voltage=("60 V", "64 V", "0.1 V")))),
        (UNKNOWN, lambda: tried(with_charger(current=None))),
        (UNKNOWN, lambda: tried(with_module(charge_limit=None))),
        (UNKNOWN, lambda: tried(with_charger(compensation_can_be_off=False))),
        (UNKNOWN, lambda: tried(with_charger(equalise_can_be_off=None))),
        (UNKNOWN, lambda: tried(with_inverter(cut_off=None))),
        (UNKNOWN, lambda: tried(with_inverter(cut_off=NOT_FITTED, window_low=None))),
        (UNKNOWN, lambda: tried(with_module(resistance=None))),
        (UNKNOWN, no_settings),
        (UNKNOWN, lambda: without_cut("high")),
        (UNKNOWN, lambda: without_cut("low")),
    ],
    "full": [
        (OK, lambda: tried(good_build())),
        (CAUTION, lambda: tried(with_charger(basis="assumed"))),
        (STOP, lambda: tampered("charger", "charge voltage (absorption)", 58.4)),
    ],
    "empty": [
        (OK, lambda: tried(good_build())),
        (OK, lambda: tried(with_inverter(cut_off=NOT_FITTED, window_low="46 V"))),
        (CAUTION, lambda: tried(with_inverter(basis="assumed"))),
        (STOP, lambda: tampered("inverter", "low-voltage cut-off", 42.0)),
    ],
    "cold": [
        (OK, lambda: tried(good_build())),
        (CAUTION, lambda: tried(frozen())),
        (UNKNOWN, lambda: tried(good_build(site=good_site(coldest=None)))),
        (UNKNOWN, lambda: tried(frozen(blocks_cold_charge=None))),
        (STOP, lambda: tried(frozen(blocks_cold_charge=False))),
    ],
    "out": [
        (OK, lambda: tried(good_build())),
        (CAUTION, strong_charge),
        (UNKNOWN, lambda: strong_charge(watches_each_string=None)),
        (UNKNOWN, lambda: tried(with_module(discharge_limit=None))),
        (UNKNOWN, lambda: tried(with_inverter(continuous=None))),
        (CAUTION, lambda: tried(with_module(discharge_limit="20 A", discharge_peak="40 A"))),
        (STOP, lambda: strong_charge(watches_each_string=False)),
    ],
    "cold-rate": [
        (OK, lambda: tried(good_build())),
        (CAUTION, lambda: tried(good_build(site=good_site(coldest="4 degC")))),
        (CAUTION, lambda: tried(good_build(site=good_site(coldest=None)))),
        (CAUTION, lambda: tried(with_charger(current=None))),
    ],
    "weak": [
        (OK, lambda: tampered("inverter", "low-voltage cut-off", 49.0)),
        (CAUTION, lambda: tried(good_build())),
        (UNKNOWN, lambda: tried(watched(every_cell=None))),
        (UNKNOWN, lambda: tried(with_pack(monitoring=None))),
        (STOP, lambda: tried(watched(every_cell=False))),
        (STOP, lambda: tried(watched(stops_discharge=False))),
        (STOP, lambda: tried(with_pack(monitoring=NOT_FITTED))),
    ],
    "stuck": [
        (OK, lambda: tried(good_build())),
        (CAUTION, lambda: tried(good_build())),
        (UNKNOWN, lambda: tried(watched(stops_charge=None))),
        (UNKNOWN, lambda: tried(with_pack(monitoring=None))),
        (STOP, lambda: tried(watched(stops_charge=False))),
        (STOP, lambda: tried(with_pack(monitoring=NOT_FITTED))),
        (STOP, lambda: tampered("cell monitoring (BMS)", "high cell voltage, cut", 4.3)),
    ],
}
SHOWN = [
    pytest.param(rule, severity, trial, id=f"{rule}-{severity}-{k}")
    for rule, cases in CASES.items()
    for k, (severity, trial) in enumerate(cases)
]


@pytest.mark.parametrize(("rule", "severity", "trial"), SHOWN)
def test_each_rule_comes_to_each_severity(
    rule: str, severity: Severity, trial: Callable[[], SettingsTrial]
) -> None:
    assert severity in {f.severity for f in found(trial(), rule)}


def test_every_rule_of_the_room_has_its_cases() -> None:
    rules = {r.key for r in vars(trial_rules).values() if isinstance(r, trial_rules.Rule)}
    assert rules == {f"trial.{key}" for key in CASES}
    for rule in vars(trial_rules).values():
        if isinstance(rule, trial_rules.Rule):
            assert rule.source in sources()


def test_whatever_holds_it_up_says_what_would_clear_it() -> None:
    for cases in CASES.values():
        for _, trial in cases:
            for finding in trial().findings:
                assert finding.remedy or not finding.holds, finding


def test_assumed_monitoring_is_named() -> None:
    trial = tried(watched(basis="assumed"))
    assert any("stops charge" in words for f in found(trial, "stuck", STUCK) for words in f.assumed)


def test_every_number_is_what_its_formula_gives() -> None:
    lines = [line for run in tried(good_build()).runs for line in every(run)]
    assert len(lines) == 11
    for line in lines:
        check(line)


def test_a_bigger_pack_is_followed_in_longer_steps() -> None:
    """4 A into 1200 Ah for hundreds of hours."""
    build = good_build(
        pack=good_pack(module=good_module(capacity="400 Ah")),
        chargers=(good_charger(current="4 A", current_setting=NOT_FITTED),),
        inverters=(good_inverter(),),
    )
    run = tried(build).run(STUCK)
    assert run is not None
    assert run.time.size <= 401
    assert run.reached.value == pytest.approx(4.18, abs=2e-3)
