"""Lead-acid profiles left on. Worked by hand; severities: test_design.py."""

from __future__ import annotations

import pytest
from strategies import (
    good_build,
    good_charger,
    good_module,
    good_pack,
    good_profile,
    good_site,
    with_charger,
)

from evpack.base.finding import Finding, Severity
from evpack.check.profile import compensated
from evpack.describe.build import Build
from evpack.design import design


def told(build: Build) -> dict[str, Finding]:
    """Return the findings on profiles by the part of the profile that they are about."""
    return {
        f.about.removeprefix("charger, profile 'flooded', "): f
        for f in design(build).findings
        if f.rule.key.startswith("profile.left-on")
    }


def of_cells(n: int, equalise: str = "62 V", **site: str | None) -> Build:
    return good_build(
        pack=good_pack(module=good_module(cells_in_series=n), modules_in_series=1),
        chargers=(good_charger(left_on=good_profile(equalise=equalise)),),
        site=good_site(**site),
    )


def test_every_voltage_of_the_profile_is_judged_a_cell() -> None:
    # 57.6, 62, 54 and 42 V over 14; 16 °C is 9 K below 25 °C and adds 1.08 V.
    found = told(with_charger(left_on=good_profile()))
    assert {about: f.value for about, f in found.items()} == {
        "absorption": pytest.approx(57.6 / 14),
        "equalise": pytest.approx(62 / 14),
        "at 16 °C": pytest.approx(58.68 / 14),
        "equalise at 16 °C": pytest.approx(63.08 / 14),
        "float": pytest.approx(54 / 14),
        "low cut-off": 3.2,
    }
    assert found["low cut-off"].limit == 3.0


def test_the_mean_cell_leaves_room_for_the_highest_and_for_the_error() -> None:
    # The high warning of 4.12 V, 0.5 % and 20 mV: (4.12 − 0.02) / 1.005 = 4.079602 V.
    assert told(of_cells(14))["equalise"].limit == pytest.approx(4.079602, abs=5e-7)
    # Not stated: 1 %: 4.10 / 1.01.
    unstated = with_charger(left_on=good_profile(), accuracy=None)
    assert told(unstated)["equalise"].limit == pytest.approx(4.059406, abs=5e-7)


def test_a_mean_cell_just_under_the_warning_is_a_stop_all_the_same() -> None:
    # 57.2 / 14 = 4.0857 V on average, above 4.0796 V: the highest cell is then at 4.126 V.
    profile = good_profile(absorption="57.2 V", equalise="56 V", compensation="0 V/K")
    assert told(with_charger(left_on=profile))["absorption"].severity is Severity.STOP


def test_a_module_with_tighter_limits_is_warned_of_earlier() -> None:
    # 4.1 V from the maker: cut at 4.1 − (4.2 − 4.18) = 4.08 V, warned of at 4.05 V;
    # (4.05 − 0.02) / 1.005 = 4.009950 V.
    build = good_build(
        pack=good_pack(module=good_module(cell_highest="4.1 V")),
        chargers=(good_charger(left_on=good_profile()),),
    )
    assert told(build)["equalise"].limit == pytest.approx(4.009950, abs=5e-7)


def test_equalising_in_the_cold_is_judged_although_absorption_would_pass() -> None:
    # 15 cells at 0 °C: (57.6 + 3) / 15 = 4.04 V would do; (61 + 3) / 15 = 4.267 V would not.
    found = told(of_cells(15, equalise="61 V", coldest="0 degC"))
    assert found["absorption"].severity is Severity.OK
    assert found["equalise"].severity is Severity.OK  # 61 / 15 = 4.067 V, of 4.0796 V
    assert found["at 0 °C"].severity is Severity.OK
    assert found["equalise at 0 °C"].severity is Severity.STOP


def test_an_unsaid_cold_is_taken_as_freezing() -> None:
    assert "at 0 °C" in told(of_cells(14, coldest=None))


def test_compensation_counts_whatever_its_sign() -> None:
    assert compensated(good_profile(compensation="-0.12 V/K"), 0.0) == pytest.approx(60.6)


def test_warmer_than_its_reference_nothing_is_taken_off() -> None:
    assert compensated(good_profile(), 40.0) == 57.6


def warning(build: Build) -> str:
    return next(f.detail for f in design(build).findings if f.rule.key == "profile.warned")


def test_a_profile_that_might_be_left_on_is_told_in_volts_per_cell() -> None:
    detail = warning(good_build(profiles=(good_profile(),)))
    assert "absorption 57.6 V = 4.114 V/cell, " in detail
    assert "equalise 62 V = 4.429 V/cell (!)" in detail
    assert "equalise at 16 °C 63.08 V = 4.506 V/cell (!)" in detail
    assert "a danger of fire" in detail


def test_a_harmless_profile_is_told_without_alarm() -> None:
    mild = good_profile(absorption="50 V", equalise="50 V", float_voltage="50 V")
    assert "(!)" not in warning(good_build(profiles=(mild,)))
