"""What nobody stated is judged with both ends of its range, and asked only if they differ."""

from __future__ import annotations

import attrs
import pytest
from strategies import (
    good_array,
    good_build,
    good_charger,
    good_inverter,
    solar_charger,
    with_charger,
    with_inverter,
    with_module,
)

from evpack.base.basis import Basis
from evpack.base.finding import Finding, Severity
from evpack.check.asked import opens
from evpack.decide import decide
from evpack.describe.build import Build
from evpack.design import design
from evpack.outcome.design import Design


def found(made: Design, rule: str) -> list[Finding]:
    return [f for f in made.findings if f.rule.key == rule]


@pytest.mark.parametrize(
    ("build", "about"),
    [
        # 3 kW · 0.1 % and 3 %: 3 W and 90 W more move no fuse and no window of the good build.
        (with_inverter(idle=None), "idle draw of inverter"),
        (
            good_build(
                inverters=(good_inverter(surge=None),),
                load=attrs.evolve(good_build().load, peak=None),
            ),
            "surge output of inverter",
        ),
        # 52 of 60 V, or none: charging reaches 56 V and more.
        (with_inverter(restart=None), "restart voltage of inverter"),
        (with_inverter(efficiency=None), "efficiency of inverter"),
        (with_module(discharge_peak=None), "peak current of the modules"),
        (with_charger(float_can_be_off=None), "whether float can be turned off on charger"),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_an_answer_that_changes_nothing_is_not_asked_for(build: Build, about: str) -> None:
    made = design(build)
    assert decide(made).go
    (note,) = found(made, "asked.same")
    assert (note.severity, note.about) == (Severity.NOTE, about)


def test_the_worse_end_is_carried_on_and_is_assumed() -> None:
    inverter = design(with_inverter(idle=None)).build.inverters[0]
    assert inverter.idle is not None
    assert inverter.idle.m == pytest.approx(90.0)  # 3 kW · 3 %
    assert inverter.basis.of("idle") is Basis.ASSUMED


def test_an_answer_that_decides_is_asked_for_with_the_one_that_would_pass() -> None:
    """Modules that stand 61 A for seconds: a surge of 1 times passes, one of 3 times does not.

    3 kW / 0.92 at 42 V over four strings, unevenly by 1.2, are some 24 A; three times that 71 A.
    """
    build = good_build(
        pack=with_module(discharge_limit="60 A", discharge_peak="61 A").pack,
        inverters=(good_inverter(surge=None),),
        load=attrs.evolve(good_build().load, peak=None),
    )
    made = design(build)
    held = [f for f in made.findings if f.severity is Severity.UNKNOWN]
    assert held
    assert not decide(made).go
    assert any("3000 W as the surge output of inverter it passes" in f.remedy for f in held)


def test_a_stop_that_hangs_on_an_error_nobody_stated_is_a_question() -> None:
    """A charger that starts at 58.4 V: the print allows 14 · (4.2 − 0.01) / (1 + ε).

    With the 1 % that stands in those are 58.08 V, with 0.2 % 58.54 V: the error decides.
    """
    tight = {"charge_voltage": ("58.4 V", "60 V", "0.1 V")}
    unsaid = design(with_charger(accuracy=None, **tight))
    (asked,) = found(unsaid, "charge.settable")
    assert asked.severity is Severity.UNKNOWN
    assert asked.remedy.startswith("First read it in the manual and say accuracy.")
    assert "with 0.2 % it would pass" in asked.detail
    assert not unsaid.of(Severity.STOP)
    assert design(with_charger(accuracy="1 %", **tight)).of(Severity.STOP)
    assert not design(with_charger(accuracy="0.2 %", **tight)).of(Severity.STOP)


def test_what_is_stated_is_not_open() -> None:
    named = [unsaid.key for unsaid in opens(good_build())]
    assert named == []


def test_the_air_outside_is_open_only_where_panels_are() -> None:
    bare = good_build(site=attrs.evolve(good_build().site, warmest_outside=None))
    sunny = attrs.evolve(
        bare,
        chargers=(good_charger(), solar_charger()),
        arrays=(good_array(),),
    )
    assert "warmest_outside" not in [unsaid.key for unsaid in opens(bare)]
    assert "warmest_outside" in [unsaid.key for unsaid in opens(sunny)]


def test_a_search_asks_for_an_error_as_the_whole_design_does() -> None:
    """A charger that starts at 58 V: the print allows 58.08 V with 1 %, 57.51 V with 2 %."""
    build = with_charger(accuracy=None, charge_voltage=("58 V", "60 V", "0.1 V"))
    for early in (False, True):
        (asked,) = found(design(build, stop_early=early), "charge.settable")
        assert asked.severity is Severity.UNKNOWN


def test_an_end_that_cannot_be_beside_what_is_stated_is_left_out() -> None:
    """A coldest morning of 24 °C and a hottest day of 20 °C cannot both be: nothing is raised."""
    sunny = good_build(
        chargers=(good_charger(), solar_charger()),
        arrays=(good_array(),),
        site=attrs.evolve(good_build().site, coldest_outside="24 degC", warmest_outside=None),
    )
    assert design(sunny).findings


def test_an_error_nobody_stated_is_asked_for_where_the_worse_would_stop() -> None:
    """A charger that starts at 58 V: the print allows 58.08 V with 1 %, 57.51 V with 2 %."""
    unsaid = design(with_charger(accuracy=None, charge_voltage=("58 V", "60 V", "0.1 V")))
    (asked,) = found(unsaid, "charge.settable")
    assert asked.severity is Severity.UNKNOWN
    assert asked.detail.startswith("With 2 % as the voltage error of charger")


def test_an_error_is_asked_for_beside_what_need_not_be() -> None:
    """As above; that float can be off is settled, and takes no question about the error away."""
    tight = {"charge_voltage": ("58 V", "60 V", "0.1 V")}
    made = design(with_charger(accuracy=None, float_can_be_off=None, **tight))
    assert found(made, "asked.same")
    (asked,) = found(made, "charge.settable")
    assert asked.severity is Severity.UNKNOWN
    assert not decide(made).go
