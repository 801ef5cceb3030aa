"""One document, many renderers: nothing is lost, nothing is markup, nothing is rounded twice."""

from __future__ import annotations

import csv
import io
import subprocess
import sys

import pytest

from evpack.show import doc
from evpack.show.doc import Column, Fold, Group, Mark, Numbers, Row, Safe, Table, Value
from evpack.show.to_csv import to_csv
from evpack.show.to_html import to_html
from evpack.show.to_text import to_text

EVIL = "<b>&\"'"
_MARK = Mark("▲", "Works", "caution", leads=True)
TABLE = Table(
    (Column("name", 40), Column("carries", 30, number=True), Column("word", 30)),
    (
        Group("of the roof", "told by day"),
        Row(
            ((Mark("▲", "Works", "caution", leads=True), " ", EVIL), Value(12.345678, "A"), "=1+1")
        ),
        Row(("b", Value(None, "A"), "-5 °C")),
    ),
    "Cables",
)


@pytest.mark.parametrize(
    ("value", "words"),
    [
        (Value(119.96, "A"), "120 A"),
        (Value(119.96, "A", Safe.DOWN), "119 A"),
        (Value(119.04, "A", Safe.UP), "120 A"),
        (Value(8670.0, "Wh", rough=True), "about 8.7 kWh"),
        (Value(None, "A"), "–"),
    ],
)
def test_a_value_knows_which_way_it_may_be_rounded(value: Value, words: str) -> None:
    assert value.words == words


def test_what_a_user_typed_is_no_markup_in_any_renderer() -> None:
    page = to_html((TABLE, doc.Head(EVIL), doc.Para((doc.Strong(EVIL), doc.Soft(EVIL)))))
    assert EVIL not in page
    assert page.count("&lt;b&gt;&amp;&quot;&#x27;") == 4
    assert EVIL in to_text((TABLE,))


def test_a_table_in_a_terminal_keeps_every_cell_and_the_width() -> None:
    for width in (40, 60, 88):
        text = to_text((TABLE,), width)
        assert max(map(len, text.splitlines())) <= width
        for part in ("Cables", "of the roof", "told by day", "▲", "12.3 A", "=1+1", "-5 °C"):
            assert part in text


def test_csv_has_numbers_as_they_are_with_their_unit_in_the_head() -> None:
    caption, head, first, second = csv.reader(io.StringIO(to_csv((TABLE,))))
    assert caption == ["Cables"]
    assert head == ["", "name", "carries [A]", "word"]
    assert first == ["of the roof", f"▲ {EVIL}", "12.345678", "'=1+1"]
    assert second == ["of the roof", "b", "", "-5 °C"]


def test_a_fold_stands_in_a_terminal_only_in_full_or_where_it_is_open() -> None:
    inner = (doc.Para("within"),)
    assert "within" not in to_text((Fold("more", inner),))
    assert "within" in to_text((Fold("more", inner),), full=True)
    assert "within" in to_text((Fold("more", inner, open_=True),))
    assert "within" in to_html((Fold("more", inner),))


def test_blocks_for_one_medium_stay_out_of_the_other() -> None:
    both = (
        doc.Only("page", (doc.Para("of paper"),)),
        doc.Only("terminal", (doc.Para("of glass"),)),
    )
    assert "of paper" in to_html(both)
    assert "of glass" not in to_html(both)
    assert to_text(both) == "of glass"


def test_an_empty_column_is_left_out() -> None:
    columns = (Column("a"), Column("b"), Column("c"))
    rows = [Row(("x", Value(None, "V"), "1")), Row(("y", Value(None, "V"), "–"))]
    shown, filled = doc.kept(columns, rows)
    assert [column.head for column in shown] == ["a", "c"]
    assert [row.cells for row in filled] == [("x", "1"), ("y", "–")]


def test_what_is_no_block_is_refused() -> None:
    for render in (to_html, to_text):
        with pytest.raises(TypeError, match="str is no block"):
            render(("words",))


def test_numbers_are_a_table_in_csv() -> None:
    told = Numbers((doc.Line("cells", "14"),), "The pack")
    assert to_csv((told,)).split("\r\n")[:3] == ["The pack", "what,value", "cells,14"]


def test_a_noun_tells_itself_to_whoever_asks_first() -> None:
    """In a fresh interpreter, which has loaded no room yet."""
    said = (
        "from evpack.show.doc import document; from evpack.show.to_text import to_text; "
        "from evpack.outcome.search import Ranking; from evpack import example, read_sheet; "
        "build = read_sheet(example('wether-barn')); "
        "print(to_text(document(Ranking(title='T', asked='A', build=build, candidates=()))))"
    )
    done = subprocess.run([sys.executable, "-c", said], capture_output=True, text=True, check=True)
    assert "None of them may be built." in done.stdout
