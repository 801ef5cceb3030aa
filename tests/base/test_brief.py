"""Nouns in one line: short, named, and of anything long only how much there is."""

import pickle
from collections.abc import Iterator

import attrs
import pytest

from evpack.base.basis import Basis
from evpack.base.brief import brief, cut
from evpack.base.finding import Rule, Severity, Standing, state
from evpack.base.fitted import NOT_FITTED
from evpack.base.units import VOLTAGE
from evpack.decide import decide
from evpack.design import design
from evpack.load.library import example
from evpack.load.sheet import read_sheet


@attrs.frozen(kw_only=True)
class Thing:
    name: str = "a thing"
    voltage: object = None
    fitted: object = None
    flag: object = None
    many: object = ()
    share: object = None
    basis: object = "left out"

    __repr__ = brief


def nouns_in(value: object, seen: set[int]) -> Iterator[object]:
    """Yield every noun within one, itself included."""
    if isinstance(value, tuple):
        for item in value:
            yield from nouns_in(item, seen)
    elif attrs.has(type(value)) and id(value) not in seen:
        seen.add(id(value))
        yield value
        for field in attrs.fields(type(value)):
            yield from nouns_in(getattr(value, field.name), seen)


@pytest.mark.parametrize(
    ("noun", "line"),
    [
        (Thing(), "<Thing 'a thing'>"),
        (Thing(name=""), "<Thing>"),
        (Thing(voltage=VOLTAGE.of(42.0)), "<Thing 'a thing': voltage 42 V>"),
        (Thing(fitted=NOT_FITTED, flag=False), "<Thing 'a thing': fitted none, flag no>"),
        (Thing(many=(1, 2, 3), share=0.25), "<Thing 'a thing': many 3, share 0.25>"),
        (Thing(voltage=Thing(name="other")), "<Thing 'a thing': voltage other>"),
        (Thing(fitted=Basis.MEASURED, flag=3), "<Thing 'a thing': fitted measured, flag 3>"),
    ],
)
def test_a_noun_in_one_line(noun: Thing, line: str) -> None:
    assert repr(noun) == str(noun) == line


def test_what_is_too_much_is_left_off() -> None:
    words = dict.fromkeys(("voltage", "fitted", "flag", "share"), "word " * 9)
    assert repr(Thing(**words)).endswith(", …>")
    assert len(repr(Thing(**words))) < 110
    assert cut("a\n b") == "a b"
    assert cut("x" * 41) == "x" * 39 + "…"


@pytest.mark.parametrize("name", ["wether-barn", "low-shed", "left-on", "twelve"])
def test_every_noun_of_a_decision_fits_a_line(name: str) -> None:
    decision = decide(design(read_sheet(example(name))))
    found = list(nouns_in(decision, set()))
    assert {"Pack", "Finding", "Worked", "Setting", "OcvCurve", "Kind"} <= {
        type(noun).__name__ for noun in found
    }
    for noun in found:
        assert len(repr(noun)) < 120, type(noun)
        assert "\n" not in repr(noun)
        assert "array(" not in repr(noun)


def test_a_printed_decision_says_why() -> None:
    decision = decide(design(read_sheet(example("low-shed"))))
    lines = str(decision).splitlines()
    assert lines[0] == f"{decision.design.build.title}: {decision.verdict}"
    assert len(lines) == 2 + len(decision.held_by) + len(decision.limits)
    assert lines[1].startswith(f"{decision.held_by[0].severity}: ")
    assert "evpack.as_text(decision)" in lines[-1]
    assert len(str(decision)) < 10_000
    assert f"{len(decision.design.findings)} findings" in str(decision.design)


def test_a_severity_is_a_word_and_still_has_a_rank() -> None:
    assert [str(s) for s in Severity] == ["ok", "note", "caution", "unknown", "stop"]
    assert f"{Severity.STOP}" == "stop"
    assert Severity.UNKNOWN > Severity.CAUTION
    assert pickle.loads(pickle.dumps(Severity.NOTE)) is Severity.NOTE  # noqa: S301  our own


def test_a_finding_reads_as_a_sentence() -> None:
    rule = Rule(key="some.rule", says="Say so.", source="common-practice", stands=Standing.BOUND)
    found = state(rule, Severity.CAUTION, about="pack", detail="It is so.", remedy="Change it.")
    assert str(found) == "caution: pack: It is so. Change it."
    assert repr(found) == "<Finding some.rule: caution, pack>"
