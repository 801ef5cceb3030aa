"""The tags of a page, found in one pass over its text.

The parser of the standard library raises on some broken pages and takes minutes over others
(a few hundred kB of unclosed tags). This one only finds tags, each looked at once, and takes
everything for a tag that a browser could take for one: in comments and styles too.
"""

from __future__ import annotations

import html
import re
from collections.abc import Iterator, Mapping

import attrs

_OPENING = re.compile(r"<([a-zA-Z][^\s/>]*)")
_BLANK = re.compile(r"[\s/]*")
_NAME = re.compile(r"=?[^\s/>=]*")
_IS = re.compile(r"\s*=\s*")
_BARE = re.compile(r"[^\s>]*")


@attrs.frozen
class Tag:
    """An opening tag: its name and attributes in small letters, and where its content begins."""

    name: str
    given: Mapping[str, str]
    end: int


def tags(text: str) -> Iterator[Tag]:
    """Yield the opening tags of a page; one that is never closed is none, as in a browser."""
    at = 0
    while (found := _OPENING.search(text, at)) is not None:
        given, end = _attributes(text, found.end())
        if end is None:
            return
        yield Tag(found[1].lower(), given, end)
        at = end


def _attributes(text: str, at: int) -> tuple[dict[str, str], int | None]:
    """Return the attributes from a place on, and where the tag is over; None: at no place."""
    given: dict[str, str] = {}
    while True:
        at = _end(_BLANK, text, at)
        if at >= len(text):
            return given, None
        if text[at] == ">":
            return given, at + 1
        begin, at = at, _end(_NAME, text, at)
        name = text[begin:at].lower()
        value = ""
        equals = _IS.match(text, at)
        if equals is not None:
            at = equals.end()
            quote = text[at : at + 1]
            if quote in {'"', "'"}:
                close = text.find(quote, at + 1)
                if close < 0:
                    return given, None
                value, at = text[at + 1 : close], close + 1
            else:
                begin, at = at, _end(_BARE, text, at)
                value = text[begin:at]
        given.setdefault(name, html.unescape(value))  # of two of a name the first counts


def _end(pattern: re.Pattern[str], text: str, at: int) -> int:
    found = pattern.match(text, at)
    assert found is not None  # noqa: S101  each of them matches nothing too
    return found.end()


def content(text: str, tag: Tag) -> str:
    """Return the text between an opening tag and the first closing one of its name."""
    close = re.compile(rf"</{re.escape(tag.name)}[\s/>]", re.IGNORECASE).search(text, tag.end)
    return html.unescape(text[tag.end : len(text) if close is None else close.start()])
