"""A remedy is told only where the build with it was judged and does better."""

from __future__ import annotations

import attrs
from strategies import good_build, with_policy

from evpack.base.finding import Finding, Rule, Severity, Standing, Try, state
from evpack.check.proven import prove
from evpack.describe.build import Build
from evpack.outcome.design import Design

RULE = Rule(
    key="test.rule", says="For tests.", source="common-practice", stands=Standing.BOUND, clause="x"
)
OTHER = attrs.evolve(RULE, key="test.other")


def made(build: Build, *findings: Finding) -> Design:
    return Design(
        build=build,
        figures=None,
        settings=None,
        usable=None,
        sharing=None,
        protection=None,
        findings=findings,
    )


def stop(rule: Rule = RULE, **more: object) -> Finding:
    return state(rule, Severity.STOP, about="pack", detail="No.", **more)  # type: ignore[arg-type]


HELPS, HARMS = with_policy(reserve="30 %"), with_policy(reserve="40 %")


def carry(build: Build) -> Design:
    """Clear the finding with one change, bring another stop with the other, else change nothing."""
    if build is HELPS:
        return made(build)
    if build is HARMS:
        return made(build, stop(OTHER))
    return made(build, stop())


def told(*tries: Try, severity: Severity = Severity.STOP) -> str:
    finding = attrs.evolve(stop(), severity=severity, remedy="Guess.", tries=tries)
    (proven,) = prove(made(good_build(), finding), carry).findings
    assert proven.tries == ()
    return proven.remedy


def test_what_helps_is_told_and_what_does_not_is_left_out() -> None:
    good = Try("Do this.", lambda _: HELPS)
    none = Try("Do nothing.", lambda build: build)
    bad = Try("Do harm.", lambda _: HARMS)
    assert told(none, good, bad) == "Do this."
    assert told(good, attrs.evolve(good, says="Do that.")) == "Do this. Or: Do that."


def test_where_nothing_helps_that_is_said() -> None:
    assert told(Try("Do nothing.", lambda build: build)).startswith("No single change")


def test_of_one_group_the_first_that_helps_is_told() -> None:
    first = Try("Use 6 AWG.", lambda _: HELPS, group="size")
    assert told(first, attrs.evolve(first, says="Use 4 AWG.")) == "Use 6 AWG."


def test_a_finding_without_tries_keeps_its_words() -> None:
    finding = attrs.evolve(stop(), remedy="Read the manual.")
    design = made(good_build(), finding)
    assert prove(design, carry) is design


def test_what_clears_a_caution_leaves_no_caution() -> None:
    caution = Try("Half of it.", lambda build: build)
    assert told(caution, severity=Severity.CAUTION).startswith("No single change")
