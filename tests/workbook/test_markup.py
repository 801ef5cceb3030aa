"""The tags of a page. Beside the standard library's parser, on pages that are sound."""

from __future__ import annotations

from html.parser import HTMLParser

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evpack.workbook.markup import content, tags
from evpack.workbook.page import not_allowed


def found(text: str) -> list[tuple[str, dict[str, str]]]:
    return [(tag.name, dict(tag.given)) for tag in tags(text)]


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("<p>", [("p", {})]),
        ("<P CLASS=a>", [("p", {"class": "a"})]),
        ("<a href=x/y id='b c' hidden>", [("a", {"href": "x/y", "id": "b c", "hidden": ""})]),
        ('<a href = "1 > 0"><b>', [("a", {"href": "1 > 0"}), ("b", {})]),
        ('<a title="&lt;&#45;">', [("a", {"title": "<-"})]),
        ("<a id=1 id=2>", [("a", {"id": "1"})]),  # of two of a name the first counts
        ("<br/><hr / x>", [("br", {}), ("hr", {"x": ""})]),
        ("<a =b>", [("a", {"=b": ""})]),
        ("a < b, 3 <4, <é> </p>", []),
        ("<a", []),
        ("<a href='never closed><b>", []),
        ("<!-- <i> --><style><b></style>", [("i", {}), ("style", {}), ("b", {})]),
        ("<svg><script>", [("svg", {}), ("script", {})]),
    ],
)
def test_tags_as_a_browser_could_take_them(
    text: str, wanted: list[tuple[str, dict[str, str]]]
) -> None:
    assert found(text) == wanted


def test_the_content_ends_with_the_first_closing_tag() -> None:
    text = "<pre>1 &lt; 2\n</PRE ><pre>x"
    first, second = tags(text)
    assert content(text, first) == "1 < 2\n"
    assert content(text, second) == "x"


class _Library(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.found: list[tuple[str, dict[str, str]]] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found.append((tag, {name: value or "" for name, value in reversed(attrs)}))


_WORD = st.text("abcxyz-", min_size=1, max_size=6).filter(lambda word: word[0].isalpha())
_VALUE = st.text("abc <>&;='/é\n", max_size=8)
_TAG = st.builds(
    lambda name, given: (
        f"<{name}" + "".join(f' {key}="{value}"' for key, value in given.items()) + ">"
    ),
    _WORD,
    st.dictionaries(_WORD, _VALUE, max_size=3),
)


@given(parts=st.lists(_TAG | st.text("abc 123é\n", max_size=10), max_size=12))
def test_a_sound_page_is_read_as_the_standard_library_reads_it(parts: list[str]) -> None:
    # Names of which the library keeps the content raw are left out: here all tags are tags.
    text = "".join(parts)
    library = _Library()
    library.feed(text)
    library.close()
    assert found(text) == library.found


@given(text=st.text("<>a='\"/ &!-[]?\x00\n", max_size=80))
def test_any_text_comes_to_an_end_and_tags_stand_in_order(text: str) -> None:
    ends = [tag.end for tag in tags(text)]
    assert ends == sorted(set(ends))
    assert all(text[end - 1] == ">" for end in ends)
    not_allowed(text)


@pytest.mark.parametrize(
    "text",
    [
        "<a href='java\nscript:x()'>",
        "<a href=' \x01javascript:x()'>",
        "<a href='JAVASCRIPT&#58;x()'>",
        "<a href=vbscript:x>",
        "<!-- a --!><script>",
        "<svg><style><img onerror=x></style></svg>",
        "<input type=text>",
        "<p/onclick=x>",
        "<img src=x.png>",
    ],
)
def test_what_runs_or_loads_is_seen_however_it_is_written(text: str) -> None:
    assert not_allowed(text)


@pytest.mark.parametrize(
    "text",
    [
        "<p>a < b</p>",
        "<img src='data:image/png;base64,AA=='>",
        "<input type=radio>",
        "<a href='#part'>javascript: a language</a>",
    ],
)
def test_what_a_page_may_hold(text: str) -> None:
    assert not_allowed(text) == ()
