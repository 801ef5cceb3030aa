"""Modules counted, what is only assumed, and the cell monitoring; severities: test_design.py."""

from __future__ import annotations

import attrs
import pytest
from strategies import (
    OXIDE,
    good_bar,
    good_build,
    good_cabling,
    good_charger,
    good_conductor,
    good_inverter,
    good_load,
    good_module,
    good_monitoring,
    good_pack,
    good_site,
    with_module,
    with_pack,
    with_policy,
)

from evpack.base.basis import ALL_ASSUMED
from evpack.base.finding import Finding, Severity
from evpack.check.arrangement import arrangement, chemistry_allowed
from evpack.check.monitoring import monitoring
from evpack.describe.build import Build
from evpack.describe.cabling import Run


def finding(build: Build, rule: str) -> Finding:
    return next(f for f in arrangement(build) if f.rule.key == rule)


def test_as_many_modules_as_there_are_will_do() -> None:
    assert finding(with_module(available=6), "arrangement.enough").severity is Severity.OK


@pytest.mark.parametrize(
    ("available", "remedy"),
    [
        (5, "With 5 modules at most 2 strings of 2 are possible."),
        (1, "A string of 2 modules needs 1 more."),
    ],
)
def test_too_few_modules_say_what_is_possible(available: int, remedy: str) -> None:
    found = finding(with_module(available=available), "arrangement.enough")
    assert (found.severity, found.remedy) == (Severity.STOP, remedy)


@pytest.mark.parametrize("method", ["10 s pulse", "two-step"])
def test_a_resistance_from_a_pulse_is_one(method: str) -> None:
    found = finding(with_module(resistance_method=method), "arrangement.resistance")
    assert found.severity is Severity.OK


@pytest.mark.parametrize("method", ["1 kHz meter", "not stated"])
def test_a_resistance_from_anything_else_is_no_resistance(method: str) -> None:
    found = finding(with_module(resistance_method=method), "arrangement.resistance-method")
    assert found.severity is Severity.UNKNOWN
    assert method in found.detail


def rules(build: Build) -> set[str]:
    return {f.rule.key for f in arrangement(build)}


@pytest.mark.parametrize(
    ("basis", "told"),
    [
        ({"default": "datasheet", "capacity": "measured"}, "Not measured: resistance."),
        ({"default": "datasheet", "resistance": "measured"}, "Not measured: capacity."),
        ("chosen", "Not measured: capacity and resistance."),
    ],
)
def test_a_data_sheet_is_no_measurement(basis: object, told: str) -> None:
    found = finding(with_module(basis=basis), "arrangement.measured")
    assert (found.severity, found.detail) == (Severity.CAUTION, told)


def test_what_is_unknown_or_only_assumed_is_told_elsewhere() -> None:
    for build in (with_module(basis="assumed"), with_module(resistance=None)):
        assert finding(build, "arrangement.measured").severity is Severity.OK


@pytest.mark.parametrize(
    ("spread", "severity"),
    [
        (None, Severity.CAUTION),
        ("50 mV", Severity.OK),
        ("50.1 mV", Severity.CAUTION),
        ("150 mV", Severity.CAUTION),
        ("150.1 mV", Severity.STOP),
    ],
)
def test_cells_that_lie_apart_when_full(spread: str | None, severity: Severity) -> None:
    assert finding(with_pack(spread_full=spread), "arrangement.spread").severity is severity


def test_a_loosened_guard_is_named_with_what_it_is_set_to() -> None:
    found = finding(with_policy(ripple="100 %", charge_rate="40 %"), "arrangement.guards")
    assert found.severity is Severity.CAUTION
    assert "charge current, of capacity an hour: 40 %" in found.detail
    assert "RMS of the inverter's DC current against its mean: 100 %" in found.detail


def test_a_tightened_guard_needs_no_word() -> None:
    # Up or down is safer, guard by guard; a reserve or a target is a choice and no guard.
    build = with_policy(
        ripple="120 %", charge_rate="20 %", fuse_ambient="70 %", reserve="0 %", charge_target="4 V"
    )
    assert finding(build, "arrangement.guards").severity is Severity.OK


def test_what_is_only_assumed_is_named_device_by_device() -> None:
    build = good_build(
        pack=good_pack(
            module=good_module(
                basis={"default": "measured", "capacity": "assumed"},
                chemistry=attrs.evolve(OXIDE, basis=ALL_ASSUMED),
                cell_highest="4.15 V",
            ),
            monitoring=good_monitoring(basis={"default": "datasheet", "every_cell": "assumed"}),
        ),
        inverters=(
            good_inverter(basis={"default": "datasheet", "restart": "assumed", "idle": "assumed"}),
        ),
        chargers=(
            good_charger(
                basis={"default": "datasheet", "current": "assumed", "accuracy": "assumed"}
            ),
        ),
    )
    told = {f.about: f.assumed for f in arrangement(build) if f.rule.key == "arrangement.assumed"}
    assert told == {
        "module": ("capacity",),
        "oxide cell": ("least voltage of a cell",),
        "inverter": ("idle", "restart"),
        "charger": ("accuracy", "current"),
        "cell monitoring": ("every cell",),
    }


@pytest.mark.parametrize("basis", ["chosen", "computed", "assumed"])
def test_a_fact_about_a_device_cannot_be_chosen(basis: str) -> None:
    build = good_build(
        pack=good_pack(
            module=good_module(
                basis={"default": "measured", "charge_limit": basis},
                chemistry=attrs.evolve(OXIDE, basis={"default": "datasheet", "highest": basis}),
            ),
            monitoring=good_monitoring(basis={"default": "measured", "stops_charge": basis}),
        ),
        inverters=(good_inverter(basis={"default": "measured", "surge_time": basis}),),
        chargers=(good_charger(basis={"default": "measured", "current_setting": basis}),),
    )
    told = {f.about: f for f in arrangement(build) if f.rule.key == "arrangement.assumed"}
    assert {about: f.assumed for about, f in told.items()} == {
        "module": ("charge limit",),
        "oxide cell": ("highest voltage of a cell",),
        "inverter": ("surge time",),
        "charger": ("current setting",),
        "cell monitoring": ("stops charge",),
    }
    assert {f.severity for f in told.values()} == {Severity.CAUTION}


def test_what_is_guessed_of_place_load_and_cables_is_named() -> None:
    lead = Run(name="lead", conductor=good_conductor(), length="1 m", basis="assumed")
    own = Run(
        name="own",
        conductor=good_conductor(),
        length="2 m",
        basis={"default": "chosen", "length": "assumed"},
    )
    build = good_build(
        pack=good_pack(earthed="none", basis={"default": "chosen", "earthed": "assumed"}),
        site=good_site(basis={"default": "measured", "coldest": "assumed"}),
        load=good_load(basis={"default": "chosen", "peak": "assumed"}),
        cabling=good_cabling(
            module_lead=lead,
            own={"inverter": own},
            bar=good_bar(basis={"carries": "assumed", "default": "chosen"}),
        ),
    )
    told = {f.about: f.assumed for f in arrangement(build) if f.rule.key == "arrangement.assumed"}
    assert told == {
        "pack": ("earthed",),
        "site": ("coldest",),
        "load": ("peak",),
        "lead": ("conductor", "length", "parallel"),
        "own": ("length",),
        "bus bars": ("carries",),
    }


def test_what_may_be_chosen_needs_no_word() -> None:
    # Load, place and cables are the builder's to choose; nothing of the good build is guessed.
    chosen = good_build(
        site=good_site(basis="chosen"),
        load=good_load(basis="chosen"),
        cabling=good_cabling(bar=None),
    )
    assert "arrangement.assumed" not in rules(chosen)


@pytest.mark.parametrize(
    ("basis", "severity"),
    [("assumed", Severity.CAUTION), ("measured", Severity.OK), ("chosen", Severity.OK)],
)
def test_a_spread_that_is_only_assumed_does_not_pass(basis: str, severity: Severity) -> None:
    build = with_pack(spread_full="10 mV", basis={"default": "chosen", "spread_full": basis})
    found = finding(build, "arrangement.spread")
    assert found.severity is severity
    assert bool(found.assumed) == (severity is Severity.CAUTION)
    # Too wide is a stop, however it is known.
    wide = with_pack(spread_full="160 mV", basis="assumed")
    assert finding(wide, "arrangement.spread").severity is Severity.STOP


def test_what_nobody_said_is_not_assumed() -> None:
    build = with_module(basis="assumed", discharge_limit=None, link_limit=None)
    assumed = finding(build, "arrangement.assumed").assumed
    assert "discharge limit" not in assumed
    assert "charge limit" in assumed


def test_a_chemistry_that_may_be_charged_to_a_voltage_passes() -> None:
    assert chemistry_allowed(good_build()).severity is Severity.OK


def test_every_answer_on_the_monitoring_is_kept() -> None:
    found = monitoring(good_build())
    assert [f.severity for f in found] == [Severity.OK] * 7


def test_a_lone_string_needs_no_watch_on_each() -> None:
    lone = with_pack(strings=1, monitoring=good_monitoring(watches_each_string=None))
    assert [f.severity for f in monitoring(lone)] == [Severity.OK] * 6


@pytest.mark.parametrize(
    ("coldest", "severity"),
    # The limit of 0 °C and a margin of 5 K: sensors sit on the case, and a winter may be colder.
    [
        ("5 degC", Severity.NOTE),
        ("4.9 degC", Severity.STOP),
        ("-10 degC", Severity.STOP),
        (None, Severity.UNKNOWN),
    ],
)
def test_without_a_block_the_place_must_stay_clear_of_the_cold(
    coldest: str | None, severity: Severity
) -> None:
    build = good_build(
        pack=good_pack(monitoring=good_monitoring(blocks_cold_charge=False)),
        site=good_site(coldest=coldest),
    )
    found = [f.severity for f in monitoring(build) if f.rule.key == "monitoring.cold-block"]
    assert found == [severity]


def test_a_monitoring_that_stops_only_the_charge_is_a_stop() -> None:
    watcher = good_monitoring(stops_discharge=False)
    found = [
        f for f in monitoring(with_pack(monitoring=watcher)) if f.rule.key == "monitoring.acts"
    ]
    assert [f.severity for f in found] == [Severity.OK, Severity.STOP]


def test_a_blocked_cold_charge_passes_whatever_the_cold() -> None:
    found = [f for f in monitoring(good_build()) if f.rule.key == "monitoring.cold-block"]
    assert [f.severity for f in found] == [Severity.OK]
