import re
from collections.abc import Callable
from html.parser import HTMLParser

import attrs
import made_up
import pytest

from evpack.base.finding import Severity
from evpack.decide import decide
from evpack.design import design
from evpack.load.sheet import example, read_sheet
from evpack.outcome.design import Decision
from evpack.show.assumed import assumed_in
from evpack.show.findings import finding_cards
from evpack.show.html import as_html, decision_html, in_the_way, settings_html, verdict_html
from evpack.show.style import PAINT, STYLE
from evpack.show.text import decision_text
from evpack.show.to_html import to_html
from evpack.show.to_json import to_json
from evpack.show.words import SEVERITY, VERDICT, WITHHELD

VOID = {"br", "col", "hr", "img", "input", "meta"}
EVERY = made_up.decision(Severity.NOTE, Severity.CAUTION, Severity.UNKNOWN, Severity.STOP)


class Checker(HTMLParser):
    """Follow the tags, and keep what a reader would see."""

    def __init__(self, fragment: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.seen: list[str] = []
        self.tags: set[str] = set()
        self.attributes: set[str] = set()
        self.feed(fragment)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.add(tag)
        self.attributes |= {name for name, _ in attrs}
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.add(tag)
        self.attributes |= {name for name, _ in attrs}

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.seen.append(data)

    @property
    def text(self) -> str:
        return " ".join("".join(self.seen).replace("\u00a0", " ").split())


def read(fragment: str) -> Checker:
    checker = Checker(fragment)
    assert not checker.open
    return checker


def test_every_noun_is_a_well_formed_fragment(noun: object) -> None:
    page = read(as_html(noun))
    assert page.text
    assert page.tags.isdisjoint({"script", "style", "link", "iframe", "img"})


def test_what_is_no_noun_is_refused() -> None:
    with pytest.raises(TypeError, match="str has no facts"):
        as_html("x")


@pytest.mark.parametrize("show", [decision_html, lambda d: as_html(d.design.build)])
def test_nothing_a_user_typed_becomes_markup(show: Callable[[Decision], str]) -> None:
    hostile = made_up.decision(*Severity, name=made_up.HOSTILE)
    fragment = show(hostile)
    for part in made_up.HOSTILE_PARTS:
        assert part not in fragment
    page = read(fragment)
    assert "script" not in page.tags
    assert not {name for name in page.attributes if name.startswith("on")}
    assert "<script>alert('x')</script>&\"" in page.text  # a reader sees what was typed


def test_every_severity_shows_its_glyph_and_its_word() -> None:
    text = read(decision_html(EVERY)).text
    for severity in Severity:
        words = SEVERITY[severity]
        assert f"{words.glyph} {words.word}" in text


@pytest.mark.parametrize("severities", [(), (Severity.CAUTION,), (Severity.UNKNOWN,)])
def test_the_verdict_shows_glyph_word_and_sentence(severities: tuple[Severity, ...]) -> None:
    decision = made_up.decision(*severities)
    words = VERDICT[decision.verdict]
    text = read(verdict_html(decision)).text
    assert text.startswith(f"{words.glyph}{words.word}")
    assert words.sentence in text


def test_the_order_is_that_of_a_readers_questions() -> None:
    heads = re.findall(r"<h2[^>]*>(.*?)</h2>", decision_html(EVERY))
    assert heads == [
        "What holds it up (1)",
        "Missing from your sheet",
        "Cautions so far, to be looked at once nothing holds it up (1)",
        "Does it fit?",
        "How much energy you get",
        "What it would come to on each device",
        "What protects it",
        "How the strings share the current",
        "Worth knowing",
        "What was checked",
        "What was assumed",
        "Before you work on it",
    ]


def test_a_number_shows_formula_numbers_inputs_basis_and_source() -> None:
    text = read(as_html(made_up.figures())).text
    assert "n · Vmax = 14 · 4.2 V = 58.8 V" in text  # the subscript is markup
    assert "Vmax = 4.2 V: highest voltage of a cell assumed" in text
    assert "Source: Plain definition or arithmetic" in text


def test_the_settings_sheet_can_be_carried_to_the_equipment() -> None:
    fragment = as_html(made_up.settings())
    text = read(fragment).text
    assert "low-voltage cut-off Enter 46.3 V".replace(" Enter", "Enter") in text
    assert "3.307 V" in text
    assert "where on my device" in text
    assert "? FIND OUT FIRST" in text
    assert "✕ CANNOT BE SET: do not connect" in text
    # A box to tick for what is entered or turned off, none for what cannot be.
    lines = [line for d in made_up.settings().devices for line in d.lines]
    assert fragment.count("evp-box") == len(lines) - 2
    assert fragment.count("evp-where") == len(lines)
    assert "tick the box" in text


@pytest.mark.parametrize("severity", [Severity.STOP, Severity.UNKNOWN])
def test_settings_that_are_withheld_ask_nobody_to_enter_them(severity: Severity) -> None:
    decision = made_up.decision(severity)
    sheet = decision.design.settings
    for fragment in (decision_html(decision), as_html(decision.design), as_html(sheet)):
        text = read(fragment).text
        assert f"✕ {WITHHELD}" in text
        assert "would be 46.3 V" in text
        assert "would be off" in text
        assert "evp-box" not in fragment
        assert fragment.count("✕ Do not enter these.") == len(sheet.devices)
        for word in ("Enter 46.3 V", "Enter each", "tick the box", "TURN OFF", "What to enter"):
            assert word not in text


def test_every_table_of_the_sheet_carries_title_and_verdict_on_paper() -> None:
    for decision, verdict in ((EVERY, "✕ Does not work"), (made_up.decision(), "✓ Works")):
        tables = re.findall(r"<table.*?</table>", settings_html(decision.design), re.DOTALL)
        assert len(tables) == len(decision.design.settings.devices)
        for one in tables:
            assert f"Spare barn: {verdict}</th></tr>" in one.partition("<tbody>")[0]


def test_a_device_alone_does_not_say_enter_and_has_no_box() -> None:
    sheet = made_up.settings()
    for noun in (sheet.devices[0], sheet.devices[0].lines[0]):
        fragment = as_html(noun)
        assert "46.3" in fragment
        assert "Enter" not in fragment
        assert "evp-box" not in fragment
        assert "only if the design works" in fragment


def test_the_verdict_says_how_many_values_are_only_assumed() -> None:
    count = len(assumed_in(EVERY.design).confirm)
    assert count > 1
    text = read(verdict_html(EVERY)).text
    assert f"{count} values are only assumed: confirm them first." in text
    assert "Spare barn" not in verdict_html(EVERY, titled=False).replace("Module Spare barn", "")


def test_what_waits_for_one_answer_is_asked_once() -> None:
    unknown = made_up.findings("barn", Severity.UNKNOWN)[1]
    many = [attrs.evolve(unknown, detail=f"Number {k} is not known.") for k in range(3)]
    after = attrs.evolve(unknown, remedy="See the findings.", detail="That neither.")
    text = read(in_the_way(decide(attrs.evolve(EVERY.design, findings=(*many, after))))).text
    assert text.count("Measure barn.") == 1
    assert "3 checks wait for it." in text
    assert "1 more unknown, cleared by the above" in text
    assert "That neither." in text


def test_findings_with_one_way_out_share_it_and_those_without_stand_alone() -> None:
    stop = made_up.findings("barn", Severity.STOP)[1]
    same = [attrs.evolve(stop, detail=f"Stop {k}.") for k in range(2)]
    text = read(to_html((finding_cards(same),))).text
    assert text.count("To clear it:") == 1
    assert "Stop 0." in text
    assert "Stop 1." in text
    alone = [attrs.evolve(f, remedy="", severity=Severity.NOTE) for f in same]
    assert to_html((finding_cards(alone),)).count("evp-mark") == 2


def test_a_number_is_never_parted_from_its_unit() -> None:
    # Whatever a reader sees; attributes are not laid out.
    for fragment in (decision_html(EVERY), as_html(EVERY.design.build)):
        seen = re.sub(r"<svg.*?</svg>", "", fragment, flags=re.DOTALL)
        seen = re.sub(r'<span class="evp-num">.*?</span>', "", seen)
        seen = re.sub(r"<[^>]*>", "|", seen)
        assert re.findall(r"\d (?:V|A|Ah|Wh|kWh|W|kW|mΩ|%|°C)(?![\w])", seen) == []


def test_what_is_missing_is_said_and_never_fails() -> None:
    text = read(decision_html(made_up.bare())).text
    for part in ("pack's figures", "usable energy", "settings sheet", "protection schedule"):
        assert f"? The {part} could not be worked out for this build." in text
    for decision in (made_up.bare(), made_up.without_changeover()):
        assert not re.search(r"\b(nan|None|inf)\b", read(decision_html(decision)).text)


def test_an_unknown_source_is_shown_as_its_key() -> None:
    assert (
        "Source: no-such-source"
        in read(
            as_html(made_up._worked("x", 1.0, made_up.VOLTAGE, "1", source="no-such-source"))
        ).text
    )


def test_the_same_decision_gives_the_same_bytes() -> None:
    assert decision_html(EVERY) == decision_html(EVERY)


def test_every_rule_of_the_style_is_scoped() -> None:
    sheet = re.sub(r"/\*.*?\*/", "", STYLE, flags=re.DOTALL)
    for selectors in re.findall(r"([^{}]+)\{[^{}]*\}", sheet):
        # A list within brackets belongs to one selector.
        for selector in re.sub(r"\([^()]*\)", "", selectors).split(","):
            if not selector.strip().startswith("@"):
                assert ".evp" in selector


def _contrast(one: str, other: str) -> float:
    def light(colour: str) -> float:
        parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
        linear = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    bright, dark = sorted((light(one), light(other)), reverse=True)
    return (bright + 0.05) / (dark + 0.05)


@pytest.mark.parametrize("theme", [0, 1], ids=["light", "dark"])
@pytest.mark.parametrize("tone", ["ok", "note", "caution", "unknown", "stop"])
def test_words_stand_out_from_their_ground(tone: str, theme: int) -> None:
    found = {
        name: re.findall(rf"--evp-{name}: (#[0-9a-f]{{6}})", STYLE)[theme]
        for name in (tone, f"{tone}-wash", "paper", "ink", "soft", "wash")
    }
    assert _contrast(found[tone], found[f"{tone}-wash"]) >= 4.5
    assert _contrast(found[tone], found["paper"]) >= 4.5
    assert _contrast(found["ink"], found[f"{tone}-wash"]) >= 7
    assert _contrast(found["soft"], found["wash"]) >= 4.5


def test_a_picture_alone_has_the_colours_of_the_light_style() -> None:
    for name, colour in PAINT.items():
        assert f"--evp-{name}: {colour};" in STYLE


def test_a_design_that_is_held_up_gets_no_order_to_enter_or_buy() -> None:
    """Neither by the reasons of its settings nor by what to do about its cautions."""
    decision = decide(design(read_sheet(example("low-shed"))))
    assert decision.limits
    page = read(decision_html(decision)).text
    told = decision_text(decision, full=True)
    for finding in decision.limits:
        if finding.remedy:
            assert finding.remedy not in page
    # Of what holds it up itself, what would clear it is told all the same.
    assert decision.held_by[0].remedy in page
    for words in (page, " ".join(told.split())):
        assert "Cautions so far" in words
        assert "Enter 0 mV/K" not in words
        assert "enter the charge voltage" not in words
    for device in to_json(decision)["setpoints"]:
        assert {line["act"] for line in device["lines"]} <= {"withheld"}
        assert {line["why"] for line in device["lines"]} <= {""}
