"""A heap as it is shown: in HTML, in text, as data, in pictures, on cards."""

from __future__ import annotations

import json
import re
from html.parser import HTMLParser
from typing import Any

import attrs
import pytest
from heaps import a_module, heap
from strategies import good_build

from evpack.design import design
from evpack.finished import compare_log
from evpack.load.batch import example_batch, read_batch
from evpack.matching import match_heap
from evpack.outcome.matching import Grade, Matching
from evpack.outcome.pack_log import PackLog
from evpack.show.cards import cards_html
from evpack.show.draw.batch import capacity_svg, groups_svg, scatter_svg
from evpack.show.html import as_html
from evpack.show.matching import GLYPH, gain_words, gap_words, heap_page
from evpack.show.text import as_text
from evpack.show.to_json import to_json

EVIL = "<script>alert(1)</script>&\"'"


@pytest.fixture(scope="module")
def hill() -> Matching:
    return match_heap(read_batch(example_batch("hill-heap")), proven=False)


@pytest.fixture(scope="module")
def iron() -> Matching:
    return match_heap(read_batch(example_batch("iron-shelf")), proven=False)


class Page(HTMLParser):
    """Collects the tags, and what a page would load."""

    def __init__(self) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.loads: list[str] = []

    def handle_starttag(self, tag: str, attributes: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.loads += [f"{k}={v}" for k, v in attributes if k in {"src", "href", "srcset"}]


def parsed(html: str) -> Page:
    page = Page()
    page.feed(html)
    return page


@pytest.mark.parametrize("make", [heap_page, cards_html])
def test_a_page_runs_and_loads_nothing(make: Any, hill: Matching) -> None:
    page = parsed(make(hill))
    assert page.loads == []
    assert not {"script", "link", "iframe", "form"} & set(page.tags)
    assert "default-src 'none'" in make(hill)


@pytest.mark.parametrize("make", [heap_page, cards_html, as_html])
def test_what_a_person_typed_is_escaped(make: Any) -> None:
    made = match_heap(
        heap(
            title=EVIL,
            note=EVIL,
            modules=[a_module(f"{EVIL}{k}", note=EVIL) for k in range(4)],
            modules_in_series=2,
            strings=2,
        ),
        proven=False,
    )
    assert "<script" not in make(made)
    assert "script" not in parsed(make(made)).tags


def test_every_module_is_on_the_page_with_its_grade(hill: Matching) -> None:
    told, text, cards = as_html(hill), as_text(hill), cards_html(hill)
    for graded in hill.graded:
        name = graded.module.name
        assert f'<th scope="row">{name}</th>' in told
        (row,) = re.findall(rf"^  {name}: .*(?:\n    \S.*)*", text, re.MULTILINE)
        assert f"grade {GLYPH[graded.grade]} {graded.grade};" in row
        assert cards.count(f">{name}<") == 2  # a card and a label
    assert "Invented" in told
    assert "Invented" in text


def test_a_swollen_module_is_told_to_nobody_to_charge(hill: Matching) -> None:
    (swollen,) = [g for g in hill.graded if g.module.seen]
    assert swollen.grade is Grade.REJECT
    assert not any(re.search(r"\b[Cc]harge it\b", words) for words in swollen.reasons)
    assert "Do not charge" in swollen.reasons[0]


def test_what_is_unknown_is_told_as_such(iron: Matching) -> None:
    assert {g.grade for g in iron.graded} == {Grade.RETEST}
    assert "was not read" in as_text(iron)
    assert "was not read" in as_html(iron)
    assert "capacity was read." in capacity_svg(iron)
    assert "Fewer than two modules have both read." in scatter_svg(iron)


def test_the_record_is_plain_data(hill: Matching, iron: Matching) -> None:
    for made in (hill, iron):
        record = json.loads(json.dumps(to_json(made), allow_nan=False))
        assert set(record) == {
            "title",
            "invented",
            "modules",
            "grouping",
            "compared",
            "joining",
            "findings",
        }
        assert len(record["modules"]) == len(made.graded)
    assert hill.grouping is not None
    energy = to_json(hill)["grouping"]["energy"]
    assert energy == {"value": pytest.approx(hill.grouping.energy), "unit": "Wh"}


LABEL = re.compile(
    r'<text x="([\d.]+)" y="([\d.]+)" font-size="(\d+)" text-anchor="(\w+)"[^>]*>([^<]*)</text>'
)


def rooms(svg: str, names: set[str]) -> dict[str, tuple[float, float, float, float]]:
    """Return the room that each module's name takes, by the name."""
    found = {}
    for x, y, size, anchor, words in LABEL.findall(svg):
        if words in names:
            assert anchor == "start"
            wide = 0.55 * float(size) * len(words)
            left, base = float(x), float(y)
            found[words] = (left, base - 0.8 * float(size), left + wide, base + 2)
    return found


@pytest.mark.parametrize("draw", [capacity_svg, scatter_svg])
def test_names_do_not_lie_over_one_another(draw: Any, hill: Matching) -> None:
    names = {g.module.name for g in hill.graded if g.module.capacity and g.module.resistance}
    found = rooms(draw(hill), names)
    assert set(found) == names
    placed = list(found.values())
    for k, one in enumerate(placed):
        for other in placed[k + 1 :]:
            apart = one[2] <= other[0] or other[2] <= one[0]
            assert apart or one[3] <= other[1] or other[3] <= one[1]


def test_every_module_of_a_string_stands_in_its_row(hill: Matching) -> None:
    assert hill.grouping is not None
    svg = groups_svg(hill)
    for names in hill.grouping.strings:
        for name in names:
            assert f">{name}</text>" in svg
    assert "No grouping" in groups_svg(attrs.evolve(hill, grouping=None))


def test_how_good_a_grouping_is(hill: Matching) -> None:
    assert hill.grouping is not None
    told = {
        0.0: "proven best",
        0.004: "within 0.4 % of the best there can be",
        None: "not proven",
    }
    for gap, words in told.items():
        assert gap_words(attrs.evolve(hill.grouping, gap=gap)) == words
    assert "Wh more than" in gain_words(hill)
    assert gain_words(attrs.evolve(hill, naive=())) == ""
    poorer = attrs.evolve(hill, grouping=attrs.evolve(hill.grouping, energy=1.0))
    assert "less, for evenness" in gain_words(poorer)


def test_every_noun_of_a_heap_has_a_look(hill: Matching) -> None:
    assert hill.join is not None
    assert hill.grouping is not None
    module = hill.batch.modules[0]
    log = PackLog(
        seconds=[0, 5, 10, 15, 20, 25], volts=[50] * 6, amps=[0, 0, 0, 9, 9, 9], told="as said"
    )
    nouns = (
        hill.batch,
        module,
        module.rests[0],
        hill.batch.measures[0],
        hill.graded[0],
        hill.grouping,
        hill.join,
        hill.join.steps[0],
        log,
        compare_log(design(good_build()), log),
    )
    for noun in nouns:
        assert len(as_text(noun)) > 20
        assert as_html(noun).startswith('<div class="evp">')
