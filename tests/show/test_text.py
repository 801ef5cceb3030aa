import re

import made_up
import pytest

from evpack.base.finding import Severity
from evpack.outcome.design import Verdict
from evpack.outcome.settings import Act, Setting
from evpack.show.text import as_text, decision_text
from evpack.show.words import CAUTIONS, INVENTED, SEVERITY, VERDICT, entry_words

EVERY = made_up.decision(Severity.NOTE, Severity.CAUTION)


@pytest.mark.parametrize(
    ("severities", "verdict"),
    [
        ((), Verdict.WORKS),
        ((Severity.CAUTION,), Verdict.WORKS_WITH_LIMITS),
        ((Severity.UNKNOWN,), Verdict.CANNOT_TELL_YET),
        ((Severity.UNKNOWN, Severity.STOP), Verdict.DOES_NOT_WORK),
    ],
)
def test_the_verdict_comes_first_with_glyph_and_word(
    severities: tuple[Severity, ...], verdict: Verdict
) -> None:
    text = decision_text(made_up.decision(*severities))
    second = text.splitlines()[1]
    assert VERDICT[verdict].glyph in second
    assert VERDICT[verdict].word.upper() in second
    assert " ".join(VERDICT[verdict].sentence.split()) in " ".join(text.split())


def test_every_finding_that_holds_it_up_stands_with_what_would_clear_it() -> None:
    decision = made_up.decision(Severity.STOP, Severity.UNKNOWN)
    flat = " ".join(decision_text(decision).split())
    assert "What holds it up (2)" in flat
    for finding in decision.held_by:
        words = SEVERITY[finding.severity]
        assert f"{words.glyph} {words.word} {finding.about}: {finding.detail}" in flat
        assert f"To clear it: {finding.remedy}" in flat


def test_the_order_is_that_of_a_builders_questions() -> None:
    text = decision_text(EVERY)
    heads = [
        "Limits to keep (1)",
        "What the pack is",
        "How much energy you get",
        "What to enter on each device",
        "What protects it",
        "How the strings share the current",
        "Worth knowing",
        "What was checked",
        "What was assumed",
        "Before you work on it",
    ]
    places = [text.index(f"\n{head}\n") for head in heads]
    assert places == sorted(places)


def test_a_setting_tells_what_to_enter_and_what_it_means() -> None:
    flat = " ".join(decision_text(EVERY).split())
    assert "low-voltage cut-off Enter 46.3 V" in flat
    assert "3.307 V a cell; 2 % charged if at rest; 6 % charged if under load" in flat
    assert "float voltage TURN OFF" in flat
    assert "CANNOT BE SET: do not connect" in flat


def test_figures_carry_their_formula_with_numbers() -> None:
    flat = " ".join(decision_text(EVERY).split())
    assert "n · V_max = 14 · 4.2 V = 58.8 V" in flat


def test_assumed_inputs_and_cautions_are_listed() -> None:
    flat = " ".join(decision_text(EVERY).split())
    assert "charger voltage error, where not stated: 1 %" in flat
    assert "- coldest of Spare barn" in flat
    assert INVENTED in flat
    for caution in CAUTIONS:
        assert caution in flat


@pytest.mark.parametrize("width", [60, 88, 120])
def test_no_line_is_wider_than_asked(width: int) -> None:
    for decision in (EVERY, made_up.bare(), made_up.without_changeover()):
        assert max(map(len, decision_text(decision, width).splitlines())) <= width


def test_what_is_missing_is_said() -> None:
    text = decision_text(made_up.bare())
    flat = " ".join(text.split())
    for part in ("pack's figures", "usable energy", "settings sheet", "protection schedule"):
        assert f"The {part} could not be worked out for this build." in flat


def test_no_number_is_said_to_be_none() -> None:
    for decision in (made_up.bare(), made_up.without_changeover()):
        assert not re.search(r"\b(nan|None|inf)\b", decision_text(decision))


def test_nothing_a_user_typed_can_steer_a_terminal() -> None:
    text = decision_text(made_up.decision(Severity.STOP, name=made_up.HOSTILE))
    assert not re.search("[\x00-\x09\x0b-\x1f\x7f-\x9f\u202a-\u202e]", text)


def test_every_noun_can_be_told(noun: object) -> None:
    assert as_text(noun).strip()


def test_what_is_no_noun_is_refused() -> None:
    with pytest.raises(TypeError, match="int has no facts"):
        as_text(3)


@pytest.mark.parametrize(
    ("act", "entry", "words"),
    [
        (Act.ENTER, "56.8 V", "Enter 56.8 V"),
        (Act.TURN_OFF, "off", "TURN OFF"),
        (Act.FIND_OUT, "?", "FIND OUT FIRST"),
        (Act.CANNOT, "do not connect", "CANNOT BE SET: do not connect"),
        (Act.CANNOT, "cannot be turned off", "CANNOT BE TURNED OFF"),
    ],
)
def test_an_entry_is_not_said_twice(act: Act, entry: str, words: str) -> None:
    assert entry_words(Setting(name="x", act=act, entry=entry, why="")) == words
