"""A stop or a caution says whether it is of a bound or of a guard, where it stands, how far."""

from __future__ import annotations

import pytest

from evpack.base.finding import Finding, Rule, Severity, Standing, at_most, state
from evpack.base.units import CURRENT
from evpack.show.to_json import to_json
from evpack.show.words import standing_words

CARRIES = Rule(
    key="cable.test",
    says="It must carry.",
    source="nec-706",
    stands=Standing.BOUND,
    clause="NEC 215.2(A)(1)",
    kind=CURRENT,
)
WARM = Rule(
    key="cable.warm",
    says="It gets warm.",
    source="common-practice",
    stands=Standing.GUARD,
    kind=CURRENT,
)


def found(rule: Rule, value: float, guarded: float | None = None) -> Finding:
    return at_most(
        rule,
        CURRENT.of(value),
        CURRENT.of(100.0),
        about="cable",
        otherwise=Severity.STOP if rule is CARRIES else Severity.CAUTION,
        value_name="the current",
        limit_name="the ampacity",
        remedy="A thicker one.",
        guarded=None if guarded is None else CURRENT.of(guarded),
    )


@pytest.mark.parametrize(
    ("finding", "words"),
    [
        # 112 A of 100 A: 12 % above.
        (found(CARRIES, 112.0), "Bound: NEC 215.2(A)(1); missed by 12 %."),
        # 98 A are within the bound; with our margin 105 A, 5 % above.
        (
            found(CARRIES, 98.0, 105.0),
            "Guard, our own margin; missed by 5 %; the bound is met (NEC 215.2(A)(1)).",
        ),
        (found(WARM, 125.0), "Guard, our own margin; missed by 25 %."),
        (found(CARRIES, 98.0), ""),
        (
            state(CARRIES, Severity.CAUTION, about="cable", detail="Only assumed."),
            "Bound it rests on: NEC 215.2(A)(1).",
        ),
        (state(CARRIES, Severity.UNKNOWN, about="cable", detail="Who knows?"), ""),
    ],
)
def test_standing_words(finding: Finding, words: str) -> None:
    assert standing_words(finding) == words


def test_json_says_it_too() -> None:
    record = to_json(found(CARRIES, 98.0, 105.0))
    assert (record["stands"], record["clause"]) == ("guard", "NEC 215.2(A)(1)")
    assert (record["value"], record["guarded"], record["limit"]) == (98.0, 105.0, 100.0)
