"""A second opinion on the settings sheet, that knows only the build and the lines to read off.

It asks what a cell, a meter or a charger would really do at its worst, and never how the sheet
got its numbers. Every entry is read off its text, as a person would.
"""

from __future__ import annotations

from collections.abc import Iterator

import attrs
import pytest
from hypothesis import assume, given
from strategies import (
    builds,
    good_build,
    profiles,
    sound_builds,
    with_charger,
    with_module,
    with_policy,
)

from evpack.base.finding import Severity
from evpack.base.fitted import NOT_FITTED
from evpack.base.units import amps
from evpack.decide import decide
from evpack.describe.build import Build
from evpack.describe.charger import Charger, LeadAcidProfile
from evpack.describe.ranges import CurrentRange, VoltageRange
from evpack.design import design
from evpack.outcome.design import Design
from evpack.outcome.settings import Act, Setting

# The device's grid may be met within a millionth of a step, and steps go up to 2 V.
DUST = 3e-6

CHARGE, FLOAT = "charge voltage (absorption)", "float voltage"
CUT_OFF = "low-voltage cut-off"
GO, BACK = "changeover to the utility", "return to battery"
CURRENT, COLD = "charge current limit", "charge current limit in the cold"
SHUNT = "battery meter with a shunt, if fitted"


def entered(done: Design, device: str, line: str) -> float | None:
    """Return what a person reads off the sheet and enters; None where there is nothing to."""
    found = line_of(done, device, line)
    if found is None or found.act is not Act.ENTER:
        return None
    number, _, unit = found.entry.partition(" ")
    return float(number) if unit in {"V", "A"} else None


def line_of(done: Design, device: str, line: str) -> Setting | None:
    assert done.settings is not None
    settings = done.settings.device(device)
    return None if settings is None else settings.line(line)


def charger_error(build: Build, charger: Charger) -> float:
    stated = charger.accuracy
    return float((build.policy.charger_accuracy if stated is None else stated).m)


def worst_spread(build: Build) -> float:
    targets, measured = build.pack.module.chemistry.targets, build.pack.spread_full
    assert targets is not None
    return max(float(targets.top_guard.m), 0.0 if measured is None else float(measured.m))


def target(build: Build) -> float:
    targets, chosen = build.pack.module.chemistry.targets, build.policy.charge_target
    assert targets is not None
    return float((targets.charge if chosen is None else chosen).m)


def charge_entries(build: Build, done: Design) -> Iterator[tuple[Charger, float]]:
    for charger in build.all_chargers:
        volts = entered(done, charger.name, CHARGE)
        if volts is not None:
            yield charger, volts


def on_grid(value: float, reach: VoltageRange | CurrentRange) -> bool:
    low, high, step = (float(q.m) for q in (reach.low, reach.high, reach.step))
    off = (value - low) / step
    return low - 1e-9 <= value <= high + 1e-9 and abs(off - round(off)) < 1e-4


def measured_spread(build: Build) -> float:
    """Return how far apart the cells were measured when full [V]; the guard where nobody did."""
    module, measured = build.pack.module, build.pack.spread_full
    told = [float(v.m) for v in (measured, module.imbalance_full) if v is not None]
    return max(told) if told else worst_spread(build)


@given(build=sound_builds() | builds())
def test_no_cell_is_charged_above_its_target_or_its_highest(build: Build) -> None:
    done = design(build)
    n = build.pack.cells_in_series
    for charger, volts in charge_entries(build, done):
        really = volts * (1 + charger_error(build, charger))
        highest_cell = really / n + worst_spread(build)
        # A charger that cannot be set as low as the target is a caution: its lowest entry then, and
        # never above the print of the cells, as far apart as they were measured.
        lowest = isinstance(charger.charge_voltage, VoltageRange) and volts == pytest.approx(
            float(charger.charge_voltage.low.m)
        )
        if highest_cell > target(build) + DUST:
            assert lowest
            told = {f.severity for f in done.findings if f.rule.key == "charge.settable"}
            assert Severity.CAUTION in told
        apart = measured_spread(build)
        assert really / n + apart <= float(build.pack.module.highest.m) + DUST


@given(build=sound_builds())
def test_a_charge_voltage_loses_no_more_than_a_step(build: Build) -> None:
    done = design(build)
    n = build.pack.cells_in_series
    for charger, volts in charge_entries(build, done):
        assert isinstance(charger.charge_voltage, VoltageRange)
        one_more = volts + float(charger.charge_voltage.step.m)
        if one_more <= float(charger.charge_voltage.high.m) + 1e-9:
            really = one_more * (1 + charger_error(build, charger))
            assert really / n + worst_spread(build) > target(build) - DUST


@given(build=sound_builds() | builds())
def test_a_float_that_must_be_entered_is_no_higher_than_a_charge(build: Build) -> None:
    done = design(build)
    n = build.pack.cells_in_series
    for charger in build.all_chargers:
        volts = entered(done, charger.name, FLOAT)
        if volts is not None:
            really = volts * (1 + charger_error(build, charger))
            assert really / n + worst_spread(build) <= target(build) + DUST
            assert really / n + worst_spread(build) <= float(build.pack.module.highest.m) + DUST


@given(build=sound_builds() | builds())
def test_the_cut_off_spares_the_weakest_cell(build: Build) -> None:
    done = design(build)
    targets, n = build.pack.module.chemistry.targets, build.pack.cells_in_series
    assert targets is not None
    for inverter in build.inverters:
        volts = entered(done, inverter.name, CUT_OFF)
        if volts is not None:
            stated = inverter.meter_accuracy
            error = float((build.policy.meter_accuracy if stated is None else stated).m)
            weakest = volts / (1 + error) / n - worst_spread(build)
            highest = isinstance(inverter.cut_off, VoltageRange) and volts == pytest.approx(
                float(inverter.cut_off.high.m)
            )
            if weakest < float(targets.warn_low.m) - DUST:
                # One that cannot be set as high is a caution, and above the print of the cells.
                assert highest
                told = {f.severity for f in done.findings if f.rule.key == "discharge.cut-off"}
                assert Severity.CAUTION in told
                assert volts / n >= float(build.pack.module.least.m) - DUST
                continue
            # A module whose maker asks for more than the chemistry does is stopped above that.
            assert weakest > float(build.pack.module.least.m)


@given(build=sound_builds() | builds())
def test_a_fixed_stop_that_spares_the_weakest_cell_or_does_not_work(build: Build) -> None:
    done = design(build)
    targets, n = build.pack.module.chemistry.targets, build.pack.cells_in_series
    assert targets is not None
    for inverter in build.inverters:
        if inverter.cut_off is NOT_FITTED and inverter.window_low is not None:
            mean = float(inverter.window_low.m) / n
            told = max(
                f.severity
                for f in done.findings
                if f.rule.key == "discharge.cut-off" and f.about == inverter.name
            )
            spared = mean - worst_spread(build) >= float(targets.warn_low.m) - DUST
            # Below the warning it is at best a caution, and never below the print of the cells.
            least = float(build.pack.module.least.m)
            assert spared or told is Severity.STOP or told is Severity.CAUTION
            assert told is Severity.STOP or mean >= least - DUST


@given(build=sound_builds() | builds())
def test_every_entry_can_be_entered(build: Build) -> None:
    done = design(build)
    reaches = [
        (inverter.name, line, getattr(inverter, field))
        for inverter in build.inverters
        for line, field in (
            (CUT_OFF, "cut_off"),
            (GO, "changeover"),
            (BACK, "return_to_battery"),
        )
    ] + [
        (charger.name, line, getattr(charger, field))
        for charger in build.all_chargers
        for line, field in (
            (CHARGE, "charge_voltage"),
            (FLOAT, "float_setting"),
            (CURRENT, "current_setting"),
            (COLD, "current_setting"),
        )
    ]
    for device, line, reach in reaches:
        value = entered(done, device, line)
        if value is not None:
            assert isinstance(reach, VoltageRange | CurrentRange), (device, line)
            assert on_grid(value, reach), (device, line, value, reach)


@given(build=sound_builds() | builds())
def test_the_thresholds_of_an_inverter_stand_in_order(build: Build) -> None:
    done = design(build)
    reached = [
        volts * (1 - charger_error(build, charger))
        for charger, volts in charge_entries(build, done)
    ]
    for inverter in build.inverters:
        stop, go, back = (entered(done, inverter.name, line) for line in (CUT_OFF, GO, BACK))
        if go is not None and inverter.window_low is not None:
            assert go > float(inverter.window_low.m)
        if stop is not None and go is not None:
            assert go > stop
        if back is not None:
            assert go is not None
            assert back > go
            # The charger that ends lowest, read by a meter that reads low, still gets there.
            stated = inverter.meter_accuracy
            error = float((build.policy.meter_accuracy if stated is None else stated).m)
            assert reached
            surely = back <= min(reached) * (1 - error) + DUST
            (told,) = (
                f
                for f in done.findings
                if f.rule.key == "changeover.return-reached" and f.about == inverter.name
            )
            # Inside what is entered, but not inside the errors: both figures are told.
            assert surely or told.severity is Severity.CAUTION
            assert back <= max(volts for _, volts in charge_entries(build, done)) + DUST


@given(build=sound_builds())
def test_the_chargers_together_give_no_more_than_the_modules_take_or_it_is_said(
    build: Build,
) -> None:
    done = design(build)
    total = 0.0
    for charger in build.all_chargers:
        assert charger.current is not None
        value = entered(done, charger.name, CURRENT)
        total += charger.count * (float(charger.current.m) if value is None else value)
    limit = build.pack.module.charge_limit
    assert limit is not None
    # The busiest string of several takes more than an even share.
    uneven = 1.0 if build.pack.strings == 1 else float(build.policy.sharing_imbalance.m)
    found = next(f for f in done.findings if f.rule.key == "charging.limit")
    assert found.value == pytest.approx(total)
    too_much = total * uneven / build.pack.strings > float(limit.m) * (1 + 1e-9)
    assert (found.severity is Severity.STOP) == too_much


@given(build=sound_builds())
def test_a_wider_spread_never_raises_the_charge_or_lowers_the_cut_off(build: Build) -> None:
    wider = attrs.evolve(build, pack=attrs.evolve(build.pack, spread_full="100 mV"))
    assume(worst_spread(build) < worst_spread(wider))
    before, after = design(build), design(wider)
    for charger in build.all_chargers:
        low, high = (entered(d, charger.name, CHARGE) for d in (after, before))
        assert low is None or (high is not None and low <= high)
    for inverter in build.inverters:
        low, high = (entered(d, inverter.name, CUT_OFF) for d in (before, after))
        assert high is None or (low is not None and low <= high)


@given(build=sound_builds())
def test_a_worse_charger_is_never_set_higher(build: Build) -> None:
    worse = attrs.evolve(
        build,
        chargers=tuple(
            attrs.evolve(c, accuracy=f"{100 * charger_error(build, c) + 1} %")
            for c in build.chargers
        ),
    )
    before, after = design(build), design(worse)
    for charger in build.all_chargers:
        low, high = (entered(d, charger.name, CHARGE) for d in (after, before))
        assert low is None or (high is not None and low <= high)


@given(build=sound_builds() | builds())
def test_a_cut_off_is_not_entered_where_it_would_never_act(build: Build) -> None:
    done = design(build)
    for inverter in build.inverters:
        volts, low = entered(done, inverter.name, CUT_OFF), inverter.window_low
        if volts is not None and low is not None:
            assert isinstance(inverter.cut_off, VoltageRange)
            assert volts >= float(low.m) - DUST or float(inverter.cut_off.high.m) < float(low.m)


def shared_out(build: Build, amperes: float, charger: Charger) -> float:
    """Return one unit's part of a current, by what each gives [A]."""
    assert charger.current is not None
    total = sum(c.count * float(c.current.m) for c in build.all_chargers if c.current is not None)
    return amperes * float(charger.current.m) / total


def given_by(done: Design, charger: Charger, name: str) -> float | None:
    """Return what one unit gives when a line is done as it says; None where it says nothing."""
    line = line_of(done, charger.name, name)
    if line is None or line.act is not Act.ENTER:
        return None
    if line.entry in {"no charge", "turn this charger off"}:
        return 0.0
    if line.entry.startswith("none needed"):
        assert charger.current is not None
        return float(charger.current.m)
    return entered(done, charger.name, name)


@given(build=sound_builds() | builds())
def test_no_charger_is_told_to_give_more_than_all_may_have(build: Build) -> None:
    done, pack, policy = design(build), build.pack, build.policy
    # What is done as its line says; a charger that must not be connected gives nothing.
    told = [(c, given_by(done, c, CURRENT)) for c in build.all_chargers]
    amperes = sum(charger.count * each for charger, each in told if each is not None)
    if amperes == 0:
        return
    assert pack.module.charge_limit is not None
    uneven = 1.0 if pack.strings == 1 else float(policy.sharing_imbalance.m)
    takes = pack.strings * float(pack.module.charge_limit.m) / uneven
    gently = float(policy.charge_rate.m) * float(pack.capacity.m)
    assert amperes <= min(takes, gently) * (1 + 1e-5)


@given(build=sound_builds() | builds())
def test_in_the_cold_no_charger_is_told_to_give_more_than_its_part(build: Build) -> None:
    done, coldest = design(build), build.site.coldest
    cold = None if coldest is None else float(coldest.m)
    for charger in build.all_chargers:
        amperes = given_by(done, charger, COLD)
        if amperes is None:
            # Nothing to do: it is warm, or even the warm line asks for no more than the cold takes.
            amperes = given_by(done, charger, CURRENT)
        if amperes is None or cold is None or cold >= 15:
            continue
        rate = 0.2 if cold >= 5 else 0.05 if cold >= 0 else 0.0
        part = shared_out(build, rate * float(build.pack.capacity.m), charger)
        assert amperes <= part * (1 + 1e-5)


@given(build=sound_builds() | builds())
def test_the_shunt_meter_sees_every_charge_end(build: Build) -> None:
    done = design(build)
    capacity, tail = (
        line_of(done, SHUNT, name) for name in ("capacity", "current that counts as full")
    )
    if capacity is None or tail is None:
        return
    charged = line_of(done, SHUNT, "voltage that counts as full")
    assert charged is not None
    for charger, volts in charge_entries(build, done):
        # A charger that ends low by its error still reaches what the meter calls full.
        assert float(charged.entry.removesuffix(" V")) < volts * (1 - charger_error(build, charger))
    if tail.act is not Act.ENTER:
        assert tail.entry == "none fits"
        return
    amp_hours, unit = capacity.entry.split(" ")
    share, sign = tail.entry.split(" ")
    assert (unit, sign) == ("Ah", "%")
    ends = 0.0
    for charger in build.all_chargers:
        line = line_of(done, charger.name, "absorption end current")
        if line is not None:
            amperes, _, unit = line.entry.partition(" ")
            assert unit == "A"
            ends += charger.count * float(amperes)
    assert float(share) / 100 * float(amp_hours) > ends


@given(build=sound_builds() | builds())
def test_no_over_current_lies_above_what_a_string_stands(build: Build) -> None:
    done, lead = design(build), build.cabling.module_lead
    module = done.build.pack.module  # a peak that nobody stated may have been settled
    for name, own in (
        ("discharge over-current, each string", module.discharge_peak),
        ("charge over-current, each string", module.charge_limit),
    ):
        line = line_of(done, "cell monitoring (BMS)", name)
        assert (line is None) == (own is None)
        if line is not None:
            stands = [q for q in (own, module.link_limit) if q is not None]
            stands += [] if lead is None else [lead.ampacity]
            fuse = None if done.protection is None else done.protection.string_fuse
            stands += [] if fuse is None else [amps(f"{fuse} A")]
            amperes, unit = line.entry.split(" ")
            factor = {"A": 1.0, "kA": 1000.0}[unit]
            assert float(amperes) * factor <= min(float(q.m) for q in stands) * (1 + 1e-9)


@given(build=sound_builds() | builds())
def test_the_monitoring_opens_in_time_for_the_inverters_or_it_is_said(build: Build) -> None:
    done, n = design(build), build.pack.cells_in_series
    line = line_of(done, "cell monitoring (BMS)", "high cell voltage, cut")
    assert line is not None
    opens = n * float(line.entry.removesuffix(" V/cell"))
    for inverter in build.inverters:
        stands = inverter.window_high if inverter.survives is None else inverter.survives
        found = [
            f.severity
            for f in done.findings
            if f.rule.key == "window.tripping" and f.about == inverter.name
        ]
        if stands is not None and opens > float(stands.m) + n * 5e-4:  # written to a millivolt
            assert found == [Severity.CAUTION]


@given(build=sound_builds() | builds())
def test_numbers_are_withheld_exactly_where_it_is_no_go(build: Build) -> None:
    done = design(build)
    assert done.settings is not None
    assert done.settings.withheld is not decide(done).go


@given(build=sound_builds() | builds())
def test_what_must_not_be_connected_is_no_part_of_a_go(build: Build) -> None:
    done = design(build)
    assert done.settings is not None
    lines = [line for device in done.settings.devices for line in device.lines]
    if any(line.entry == "do not connect" for line in lines):
        assert not decide(done).go


@given(build=sound_builds() | builds(), profile=profiles())
def test_a_profile_that_takes_a_cell_over_its_highest_is_no_go(
    build: Build, profile: LeadAcidProfile
) -> None:
    assume(build.chargers)
    left = attrs.evolve(build.chargers[0], left_on=profile)
    build = attrs.evolve(build, chargers=(left, *build.chargers[1:]))
    coldest, outside = build.site.coldest, build.site.coldest_outside
    felt = 0.0 if coldest is None else float(coldest.m)
    if outside is not None:  # the charger's sensor may hang there
        felt = min(felt, float(outside.m))
    volts = max(float(profile.absorption.m), float(profile.equalise.m))
    volts += abs(float(profile.compensation.m)) * max(0.0, float(profile.reference.m) - felt)
    really = volts * (1 + charger_error(build, left)) / build.pack.cells_in_series
    if really + worst_spread(build) > float(build.pack.module.highest.m) + DUST:
        found = [f for f in design(build).findings if f.rule.key.startswith("profile.left-on")]
        assert any(f.severity is Severity.STOP and left.name in f.about for f in found)


def test_both_a_go_and_a_hold_are_met() -> None:
    assert decide(design(good_build())).go
    assert not decide(design(with_charger(charge_voltage=None))).go


# Cases that once went wrong, or would hurt most.


def test_a_target_above_what_a_cell_stands_is_not_entered() -> None:
    for build in (with_policy(charge_target="4.3 V"), with_module(cell_highest="4.02 V")):
        line = line_of(design(build), "charger", CHARGE)
        assert line is not None
        assert (line.act, line.entry) == (Act.CANNOT, "do not connect")


def test_a_module_with_a_higher_least_voltage_is_stopped_above_it() -> None:
    # The maker says 3.3 V and not 3.0 V: the monitoring warns at 3.3 + 0.03 = 3.33 V, and
    # 14 · (3.33 + 0.02) · 1.005 = 47.1345 V, up to 47.2 V.
    done = design(with_module(cell_least="3.3 V"))
    assert entered(done, "inverter", CUT_OFF) == 47.2


@pytest.mark.parametrize("charge_voltage", [None, NOT_FITTED, ("60 V", "64 V", "0.1 V")])
def test_a_float_is_not_entered_above_what_the_pack_needs_whatever_the_charge_voltage(
    charge_voltage: object,
) -> None:
    build = with_charger(
        charge_voltage=charge_voltage,
        float_can_be_off=False,
        float_setting=("60 V", "64 V", "0.1 V"),
    )
    line = line_of(design(build), "charger", FLOAT)
    assert line is not None
    assert line.act is Act.CANNOT


def test_an_entry_is_written_with_every_digit_of_its_grid() -> None:
    # 14 · (4.05 − 0.02) / 1.005 = 56.1393…: on 48.005 + k · 0.025 that is 56.13 V.
    fine = good_build().chargers[0]
    fine = attrs.evolve(
        fine,
        charge_voltage=("48.005 V", "60.005 V", "0.025 V"),
        current_setting=("0.25 A", "40.25 A", "0.25 A"),
        current="32.35 A",
    )
    done = design(good_build(chargers=(fine,)))
    assert entered(done, "charger", CHARGE) == 56.13
    # Three digits would read 32.3 A, which cannot be entered; 112.5 A would read 112 or 113.
    assert entered(done, "charger", CURRENT) == 32.25
