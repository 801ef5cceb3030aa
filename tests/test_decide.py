"""The verdict: one stop, else one unknown, else one caution decides. Nothing else is weighed."""

from __future__ import annotations

import attrs
import pytest
from hypothesis import given
from hypothesis import strategies as st
from strategies import good_build

from evpack.base.finding import Rule, Severity, Standing, state
from evpack.decide import decide
from evpack.design import design
from evpack.outcome.design import Decision, Verdict

RULE = Rule(key="test.rule", says="For tests.", source="common-practice", stands=Standing.BOUND)
ORDER = [
    (Severity.STOP, Verdict.DOES_NOT_WORK),
    (Severity.UNKNOWN, Verdict.CANNOT_TELL_YET),
    (Severity.CAUTION, Verdict.WORKS_WITH_LIMITS),
]
DONE = design(good_build())


def with_findings(*severities: Severity) -> Decision:
    found = tuple(state(RULE, s, about="a thing", detail="is so") for s in severities)
    return decide(attrs.evolve(DONE, findings=found))


@pytest.mark.parametrize(
    ("severity", "verdict", "go"),
    [
        (Severity.OK, Verdict.WORKS, True),
        (Severity.NOTE, Verdict.WORKS, True),
        (Severity.CAUTION, Verdict.WORKS_WITH_LIMITS, True),
        (Severity.UNKNOWN, Verdict.CANNOT_TELL_YET, False),
        (Severity.STOP, Verdict.DOES_NOT_WORK, False),
    ],
)
def test_one_finding_decides(severity: Severity, verdict: Verdict, *, go: bool) -> None:
    decision = with_findings(Severity.OK, severity, Severity.OK)
    assert (decision.verdict, decision.go) == (verdict, go)


@given(severities=st.lists(st.sampled_from(Severity), max_size=8))
def test_the_gravest_finding_decides_and_order_does_not_matter(severities: list[Severity]) -> None:
    expected = next((v for s, v in ORDER if s in severities), Verdict.WORKS)
    assert with_findings(*severities).verdict is expected
    assert with_findings(*reversed(severities)).verdict is expected


def test_what_holds_it_up_and_what_limits_it_are_told_apart() -> None:
    decision = with_findings(Severity.UNKNOWN, Severity.CAUTION, Severity.STOP, Severity.OK)
    assert [f.severity for f in decision.held_by] == [Severity.STOP, Severity.UNKNOWN]
    assert [f.severity for f in decision.limits] == [Severity.CAUTION]
