import re
from collections.abc import Callable
from html.parser import HTMLParser

import made_up
import pytest

from evpack.base.finding import Severity
from evpack.outcome.design import Decision
from evpack.show.html import as_html, decision_html, verdict_html
from evpack.show.style import PAINT, STYLE
from evpack.show.words import SEVERITY, VERDICT

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
        "What holds it up (2)",
        "Limits to keep (1)",
        "What the pack is, beside the equipment",
        "How much energy you get",
        "What to enter on each device",
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
        for selector in selectors.split(","):
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
