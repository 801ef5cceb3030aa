import re

import attrs
import made_up
import pytest

from evpack.base.finding import Severity
from evpack.decide import decide
from evpack.outcome.design import Verdict
from evpack.outcome.settings import Act, Setting
from evpack.show.clean import ERRORS
from evpack.show.gather import formula_words
from evpack.show.text import as_text, decision_text
from evpack.show.words import CAUTIONS, INVENTED, SEVERITY, VERDICT, WITHHELD, entry_words

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
    stop, unknown = decision.held_by
    answer, full = (" ".join(decision_text(decision, full=full).split()) for full in (False, True))
    for flat in (answer, full):
        assert "What holds it up (1)" in flat
        assert f"{stop.about}: {stop.detail}" in flat
        assert f"To clear it: {stop.remedy}" in flat
    words = SEVERITY[stop.severity]
    assert f"{words.glyph} {words.word} {stop.about}: {stop.detail}" in full
    assert f"Find out first (1) ------------------ - {unknown.about}: {unknown.remedy}" in answer
    missing = f"Missing from your sheet ----------------------- ? UNKNOWN {unknown.about} - "
    assert f"{missing}{unknown.remedy} {unknown.detail}" in full


@pytest.mark.parametrize(
    ("full", "heads"),
    [
        (False, ("Keep these limits (1)", "What to enter on each device", "What to do next")),
        (
            True,
            (
                "Keep these limits (1)",
                "Why these limits (1)",
                "How much energy you get",
                "What to enter on each device",
                "What protects it",
                "How the strings share the current",
                "Worth knowing",
                "What was checked",
                "What was assumed",
                "Before you work on it",
            ),
        ),
    ],
)
def test_the_order_is_that_of_a_builders_questions(*, full: bool, heads: tuple[str, ...]) -> None:
    text = decision_text(EVERY, full=full)
    places = [text.index(f"\n{head}\n") for head in heads]
    assert places == sorted(places)


def test_the_answer_has_the_figures_that_a_builder_looks_for_first() -> None:
    flat = " ".join(decision_text(EVERY).split())
    told = EVERY.design.usable.told
    assert f"{told.reachable_ac} usable out of the inverter, of {told.total} in the cells" in flat
    assert f"{told.everyday_ac} every day; {told.reserve_ac} kept for outages" in flat
    assert "from cut-off to full; 14 cells in series, nominally" in flat


def test_the_verdict_and_the_counts_come_again_as_the_last_line() -> None:
    last = decision_text(EVERY).splitlines()[-1]
    assert last == "▲ WORKS WITH LIMITS: ▲ 1 caution, i 1 note, ✓ 1 passed; 9 values only assumed"
    head = " ".join(decision_text(EVERY).split())[:600]
    assert "9 values are only assumed: confirm them first." in head


def test_in_full_it_has_the_formulas_the_rules_and_the_sharing() -> None:
    short, full = (decision_text(EVERY, full=full) for full in (False, True))
    for part in ("How the strings share the current", "Fault levels", "Rule "):
        assert part in full
        assert part not in short
    assert len(short.splitlines()) < len(full.splitlines())


def test_a_setting_tells_what_to_enter_and_what_it_means() -> None:
    flat = " ".join(decision_text(EVERY).split())
    assert "low-voltage cut-off 46.3 V" in flat
    assert "float voltage off" in flat
    assert "cannot be set:" in flat
    full = " ".join(decision_text(EVERY, full=True).split())
    assert "low-voltage cut-off Enter 46.3 V 3.307 V 2 % 6 %" in full
    assert "Keeps the cells where they belong" in full
    assert "float voltage TURN OFF" in full
    assert "CANNOT BE SET:" in full


@pytest.mark.parametrize("severity", [Severity.STOP, Severity.UNKNOWN])
def test_settings_that_are_withheld_ask_nobody_to_enter_them(severity: Severity) -> None:
    answer, text = (decision_text(made_up.decision(severity), full=full) for full in (False, True))
    flat = " ".join(text.split())
    assert f"✕ {WITHHELD}" in flat
    assert "low-voltage cut-off would be 46.3 V" in flat
    assert "float voltage would be off" in flat
    assert "CANNOT BE SET:" in flat
    assert "46.3 V" not in answer
    for word in ("Enter 46.3 V", "Enter each", "tick the box", "TURN OFF", "What to enter"):
        assert word not in text
        assert word not in answer


def test_a_device_alone_does_not_say_enter() -> None:
    sheet = EVERY.design.settings
    for noun in (sheet.devices[0], sheet.devices[0].lines[0]):
        assert "Enter 46.3 V" not in as_text(noun)
        assert "46.3 V" in as_text(noun)
    assert "only if the design works" in as_text(sheet.devices[0])


def test_the_answer_tells_no_reasons() -> None:
    flat = " ".join(decision_text(EVERY).split())
    assert "No float." not in flat
    assert "No float." in " ".join(decision_text(EVERY, full=True).split())


def test_what_waits_for_one_answer_is_asked_once() -> None:
    unknown = made_up.findings("barn", Severity.UNKNOWN)[1]
    many = [attrs.evolve(unknown, detail=f"Number {k} is not known.") for k in range(3)]
    after = attrs.evolve(unknown, remedy="See the findings.", detail="That neither.")
    made = attrs.evolve(EVERY.design, findings=(*many, after))
    answer, flat = (" ".join(as_text(decide(made), full=full).split()) for full in (False, True))
    assert answer.count("Measure barn.") == flat.count("Measure barn.") == 1
    assert "3 checks wait for it." in flat
    assert "1 more unknown, cleared by the above - Load barn: That neither." in flat
    for finding in many:
        assert finding.detail in flat


def test_nothing_is_hidden_when_every_unknown_points_to_others() -> None:
    unknown = made_up.findings("barn", Severity.UNKNOWN)[1]
    after = attrs.evolve(unknown, remedy="See the findings.")
    decision = decide(attrs.evolve(EVERY.design, findings=(after,)))
    for full in (False, True):
        assert "See the findings." in decision_text(decision, full=full)


def test_figures_carry_their_formula_with_numbers() -> None:
    full = " ".join(decision_text(EVERY, full=True).split())
    assert "n · V_max = 14 · 4.2 V = 58.8 V" in full


def test_a_formula_of_one_symbol_shows_its_number() -> None:
    assert formula_words(EVERY.design.figures.capacity) == ("x", "234 Ah")
    assert "x = 234 Ah" in as_text(EVERY.design.figures)


def test_assumed_inputs_and_cautions_are_listed() -> None:
    flat = " ".join(decision_text(EVERY, full=True).split())
    assert "charger voltage error, where not stated 1 %" in flat
    assert "Site Spare barn coldest of Spare barn" in flat
    assert INVENTED in flat
    assert INVENTED in " ".join(decision_text(EVERY).split())
    for caution in CAUTIONS:
        assert caution in flat


@pytest.mark.parametrize("width", [60, 88, 120])
def test_no_line_is_wider_than_asked(width: int) -> None:
    for decision in (EVERY, made_up.bare(), made_up.without_changeover()):
        for full in (False, True):
            assert max(map(len, decision_text(decision, width, full=full).splitlines())) <= width


def test_what_is_missing_is_said() -> None:
    flat = " ".join(decision_text(made_up.bare(), full=True).split())
    for part in ("pack's figures", "usable energy", "settings sheet", "protection schedule"):
        assert f"The {part} could not be worked out for this build." in flat


def test_no_number_is_said_to_be_none() -> None:
    for decision in (made_up.bare(), made_up.without_changeover()):
        for full in (False, True):
            assert not re.search(r"\b(nan|None|inf)\b", decision_text(decision, full=full))


def test_nothing_a_user_typed_can_steer_a_terminal() -> None:
    hostile = made_up.decision(Severity.STOP, name=made_up.HOSTILE)
    text = decision_text(hostile) + decision_text(hostile, full=True)
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
    assert entry_words(Setting(name="float voltage", act=act, entry=entry, why="")) == words


@pytest.mark.parametrize(
    ("act", "entry", "words"),
    [
        (Act.ENTER, "56.8 V", "would be 56.8 V"),
        (Act.ENTER, "-20 °C to 55 °C", "would be -20 °C to 55 °C"),
        (Act.ENTER, "no charge", "would be: no charge"),
        (Act.TURN_OFF, "off", "would be off"),
        (Act.FIND_OUT, "?", "FIND OUT FIRST"),
        (Act.CANNOT, "do not connect", "CANNOT BE SET: do not connect"),
    ],
)
def test_an_entry_that_is_withheld_asks_for_nothing(act: Act, entry: str, words: str) -> None:
    setting = Setting(name="float voltage", act=act, entry=entry, why="")
    assert entry_words(setting, withheld=True) == words


@pytest.mark.parametrize("severities", [(), (Severity.CAUTION,), (Severity.STOP,)])
def test_an_encoding_of_few_signs_gets_others_and_no_question_mark(
    severities: tuple[Severity, ...],
) -> None:
    text = decision_text(made_up.decision(*severities))
    written = text.encode("ascii", ERRORS).decode("ascii")
    sign = {(): "+", (Severity.CAUTION,): "!", (Severity.STOP,): "x"}[severities]
    assert written.splitlines()[1].startswith(f"  {sign} ")
    assert written.count("?") == text.count("?")


def test_the_signs_of_the_verdicts_stay_apart() -> None:
    signs = [words.glyph.encode("ascii", ERRORS) for words in VERDICT.values()]
    assert sorted(signs) == [b"!", b"+", b"?", b"x"]


def test_a_number_is_never_parted_from_its_unit() -> None:
    for width in range(60, 100):
        for line in decision_text(EVERY, width, full=True).splitlines():
            assert not re.match(r"\s*(V|Ah|Wh|kWh|W|%|mΩ)( |,|;|$)", line)
