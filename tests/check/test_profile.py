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
    assert good_profile(compensation="-0.12 V/K").compensated(0.0) == pytest.approx(60.6)


def test_warmer_than_its_reference_nothing_is_taken_off() -> None:
    assert good_profile().compensated(40.0) == 57.6


@pytest.mark.parametrize(
    ("coldest", "outside", "felt"),
    [
        ("16 degC", None, "16 °C"),
        ("16 degC", "-10 degC", "-10 °C"),  # the cells are kept warm, the charger hangs outside
        ("2 degC", "5 degC", "2 °C"),
        (None, "-10 degC", "-10 °C"),
        (None, "5 degC", "0 °C"),  # nobody said how cold the cells get
        (None, None, "0 °C"),
    ],
)
def test_compensation_is_judged_at_the_coldest_that_a_sensor_gets(
    coldest: str | None, outside: str | None, felt: str
) -> None:
    assert f"at {felt}" in told(of_cells(14, coldest=coldest, coldest_outside=outside))


def test_a_sensor_outside_takes_cells_over_their_highest_though_they_are_warm() -> None:
    # 56 V at 16 °C with 0.03 V/K are (56 + 0.27) / 14 = 4.0193 V; a sensor at −20 °C makes it
    # (56 + 45 · 0.03) / 14 = 4.0964 V, of 4.0796 V.
    mild = good_profile(absorption="56 V", equalise="56 V", compensation="0.03 V/K")
    for outside, severity in ((None, Severity.OK), ("-20 degC", Severity.STOP)):
        build = good_build(
            chargers=(good_charger(left_on=mild),), site=good_site(coldest_outside=outside)
        )
        found = [f for about, f in told(build).items() if about.startswith("at ")]
        assert [f.severity for f in found] == [severity]


@pytest.mark.parametrize(
    ("can_be_off", "absorption", "volts", "severity"),
    [
        # Off, and 0 V/K: nothing is added.
        (True, "55 V", 55.0, Severity.OK),
        # 55 / 2.4 = 22.9, so 23 lead cells of 5 mV/K; 9 K under 25 °C: 55 + 1.035 V.
        (False, "55 V", 56.035, Severity.CAUTION),
        (None, "55 V", 56.035, Severity.CAUTION),
        # 57 / 2.4 = 23.75, 24 cells: 57 + 1.08 = 58.08 V, 4.149 V a cell.
        (False, "57 V", 58.08, Severity.STOP),
    ],
)
def test_a_compensation_that_cannot_be_off_is_reckoned_though_the_profile_says_none(
    absorption: str, volts: float, severity: Severity, *, can_be_off: bool | None
) -> None:
    flat = good_profile(absorption=absorption, equalise="55 V", compensation="0 V/K")
    build = with_charger(left_on=flat, compensation_can_be_off=can_be_off)
    found = told(build)["at 16 °C"]
    assert found.value == pytest.approx(volts / 14)
    assert found.severity is severity
    assert bool(found.assumed) == (can_be_off is not True)


def test_a_stated_compensation_is_judged_as_stated_whatever_can_be_off() -> None:
    for can in (True, False, None):
        found = told(with_charger(left_on=good_profile(), compensation_can_be_off=can))
        assert found["at 16 °C"].value == pytest.approx(58.68 / 14)
        assert found["at 16 °C"].assumed == ()


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
