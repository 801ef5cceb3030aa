"""Modules counted, what is only assumed, and the cell monitoring; severities: test_design.py."""

from __future__ import annotations

import attrs
import pytest
from strategies import (
    OXIDE,
    good_build,
    good_charger,
    good_inverter,
    good_module,
    good_monitoring,
    good_pack,
    with_module,
    with_pack,
)

from evpack.base.basis import ALL_ASSUMED
from evpack.base.finding import Finding, Severity
from evpack.check.arrangement import arrangement, chemistry_allowed
from evpack.check.monitoring import monitoring
from evpack.describe.build import Build


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
def test_a_resistance_from_anything_else_is_doubted(method: str) -> None:
    found = finding(with_module(resistance_method=method), "arrangement.resistance-method")
    assert method in found.detail


def test_what_is_only_assumed_is_named_device_by_device() -> None:
    build = good_build(
        pack=good_pack(
            module=good_module(
                basis={"default": "measured", "capacity": "assumed"},
                chemistry=attrs.evolve(OXIDE, basis=ALL_ASSUMED),
                cell_highest="4.15 V",
            )
        ),
        inverters=(good_inverter(basis={"default": "datasheet", "restart": "assumed"}),),
        chargers=(good_charger(basis={"default": "datasheet", "current": "assumed"}),),
    )
    told = {f.about: f.assumed for f in arrangement(build) if f.rule.key == "arrangement.assumed"}
    assert told == {
        "module": ("capacity",),
        "oxide cell": ("least voltage of a cell",),
        "inverter": ("restart",),
        "charger": ("current",),
    }


def test_what_nobody_said_is_not_assumed() -> None:
    build = with_module(basis="assumed", discharge_limit=None, link_limit=None)
    assumed = finding(build, "arrangement.assumed").assumed
    assert "discharge limit" not in assumed
    assert "charge limit" in assumed


def test_a_chemistry_that_may_be_charged_to_a_voltage_passes() -> None:
    assert chemistry_allowed(good_build()).severity is Severity.OK


def test_every_answer_on_the_monitoring_is_kept() -> None:
    found = monitoring(good_build())
    assert [f.severity for f in found] == [Severity.OK] * 6


def test_a_monitoring_that_stops_only_the_charge_is_a_stop() -> None:
    watcher = good_monitoring(stops_discharge=False)
    found = [
        f for f in monitoring(with_pack(monitoring=watcher)) if f.rule.key == "monitoring.acts"
    ]
    assert [f.severity for f in found] == [Severity.OK, Severity.STOP]


def test_a_blocked_cold_charge_passes_whatever_the_cold() -> None:
    found = [f for f in monitoring(good_build()) if f.rule.key == "monitoring.cold-block"]
    assert [f.severity for f in found] == [Severity.OK]
