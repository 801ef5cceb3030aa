"""AC cautions and surge protection: words with a severity; the numbers are lengths of cables."""

from __future__ import annotations

from typing import Any

import attrs
import pytest
from strategies import (
    good_array,
    good_build,
    good_cabling,
    good_conductor,
    good_inverter,
    good_safeguards,
    groundwork,
    solar_build,
    solar_charger,
)

from evpack.base.finding import Finding, Severity
from evpack.describe.build import Build
from evpack.describe.cabling import Run
from evpack.protect.beside import beside

OK, NOTE, CAUTION, UNKNOWN, STOP = Severity
BARE = good_safeguards(surge_protection=False)


def judged(build: Build) -> dict[str, Finding]:
    return {f.rule.key: f for f in beside(groundwork(build))}


def run(length: str) -> Run:
    return Run(name="long", conductor=good_conductor(), length=length)


def surge(build: Build, **safeguards: Any) -> Finding:
    return judged(
        attrs.evolve(build, safeguards=good_safeguards(**{"surge_protection": False, **safeguards}))
    )["beside.surge"]


def test_the_cautions_are_notes_and_no_design() -> None:
    every = judged(good_build())
    notes = {"licensed", "neutral-bond", "transfer", "data-lines"}
    assert {rule for rule, f in every.items() if f.severity is NOTE} == {
        f"beside.{name}" for name in notes
    }
    assert every["beside.surge"].severity is OK
    assert "backfeed" in every["beside.transfer"].detail


@pytest.mark.parametrize(
    ("build", "told"),
    [
        (good_build(), False),
        (solar_build(), True),
        (solar_build(arrays="none"), True),  # not judged, but there all the same
        (good_build(inverters=good_inverter(charger=solar_charger())), True),
    ],
)
def test_rapid_shutdown_is_told_where_there_are_panels(build: Build, told: bool) -> None:  # noqa: FBT001
    assert ("beside.rapid-shutdown" in judged(build)) is told


def test_without_long_lines_nothing_is_asked() -> None:
    assert surge(good_build()).severity is OK
    assert surge(solar_build(cabling=good_cabling(array=run("10 m")))).severity is OK


@pytest.mark.parametrize(
    ("cabling", "named"),
    [
        ({"array": run("10.1 m")}, "array, 10.1 m"),
        ({"array": run("8 m"), "main": run("11 m")}, "inverter, 11 m"),
        ({"array": run("8 m"), "charger": run("12 m")}, "sun, 12 m"),
        ({"array": run("8 m"), "module_lead": run("13 m")}, "module leads, 13 m"),
        ({"array": run("8 m"), "own": {"array": run("14 m")}}, "array, 14 m"),
        ({"array": run("8 m"), "link": run("15 m")}, "links, 15 m"),
    ],
)
def test_a_long_line_needs_surge_protection(cabling: dict[str, Any], named: str) -> None:
    build = solar_build(cabling=good_cabling(**cabling))
    for answer in (False, None):
        one = surge(build, surge_protection=answer)
        assert one.severity is CAUTION
        assert named in one.detail
        assert one.remedy
    assert "Nobody said" in surge(build, surge_protection=None).detail
    assert surge(build, surge_protection=True).severity is OK


def test_a_line_of_unknown_length_is_not_taken_for_short() -> None:
    one = surge(solar_build(cabling=good_cabling(array=None)))
    assert one.severity is CAUTION
    assert "Length not known: array." in one.detail
    unsaid = surge(solar_build(arrays=None, cabling=good_cabling()))
    assert "panels of sun" in unsaid.detail
    both = surge(
        solar_build(
            chargers=(solar_charger(), solar_charger(name="second")),
            arrays=good_array(feeds="second"),
            cabling=good_cabling(array=None, main=run("20 m")),
        )
    )
    assert "inverter, 20 m" in both.detail
    assert "Length not known: array, panels of sun." in both.detail
