"""A document as plain text for a terminal, wrapped to its width."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable
from functools import singledispatch

import attrs

from evpack.base.worked import Worked
from evpack.show import doc
from evpack.show.clean import clean, signed, tied
from evpack.show.doc import Block, Group, Hand, Item, Row, Text, plain
from evpack.show.facts import Facts
from evpack.show.gather import formula_words
from evpack.show.words import BASIS, NOT_KNOWN, worked_words

WIDTH = 88
_NAME = 30  # width of the column that holds names, where values stand to the right of them
_GAP = 2  # blanks between the columns of a table
_LEAST = 24  # a column of prose that must be wrapped is no narrower
_LINES = 5  # nor does a cell take more lines
_TWO = 2


@attrs.define
class Page:
    """Lines of text, wrapped to a width as they are added.

    Parameters
    ----------
    full : bool
        What is folded on a page stands open here.
    """

    width: int = WIDTH
    full: bool = False
    lines: list[str] = attrs.field(factory=list)

    def say(self, text: object, indent: int = 0, hang: int | None = None) -> None:
        """Add a paragraph; `hang` is the indent of its further lines."""
        first, rest = " " * indent, " " * (indent if hang is None else hang)
        wrapped = textwrap.wrap(
            tied(signed(clean(text))),
            width=max(self.width, 40),
            initial_indent=first,
            subsequent_indent=rest,
            break_on_hyphens=False,
        )
        self.lines += [line.replace("\u00a0", " ") for line in wrapped]

    def pair(self, name: object, value: object, indent: int = 2) -> None:
        """Add a name with its value beside it, or below it where the name is too long."""
        words = clean(name)
        if len(words) > _NAME:
            self.say(words, indent)
            words = ""
        self.say(f"{words:<{_NAME}}  {clean(value)}", indent, hang=indent + _NAME + 2)

    def gap(self) -> None:
        """Add an empty line, never two, and none below a head."""
        if self.lines and self.lines[-1].strip("-"):
            self.lines.append("")

    def head(self, text: str) -> None:
        """Add a section head."""
        self.gap()
        self.lines += [clean(text), "-" * min(len(clean(text)), self.width)]

    def __str__(self) -> str:
        return "\n".join(self.lines).rstrip()


def to_text(document: Iterable[Block], width: int = WIDTH, *, full: bool = False) -> str:
    """Return a document as lines of text."""
    page = Page(width, full)
    write(document, page)
    return str(page)


def write(document: Iterable[Block], page: Page, indent: int = 0) -> None:
    """Write a document on a page."""
    for block in document:
        _block(block, page, indent)


@singledispatch
def _block(block: object, page: Page, indent: int) -> None:  # noqa: ARG001
    raise TypeError(f"{type(block).__name__} is no block of a document")


@_block.register
def _(head: doc.Head, page: Page, indent: int) -> None:
    if head.level <= 2 and not head.small:  # noqa: PLR2004  heads of parts are underlined
        page.head(plain(head.text))
    else:
        page.gap()
        page.say(plain(head.text), indent)


@_block.register
def _(para: doc.Para, page: Page, indent: int) -> None:
    page.say(plain(para.text), indent)


@_block.register
def _(banner: doc.Banner, page: Page, indent: int) -> None:
    page.say(plain(banner.text), indent, hang=indent + 2)


@_block.register
def _(items: doc.Items, page: Page, indent: int) -> None:
    for number, item in enumerate(items.rows, start=1):
        _item(item, page, indent + 2, f"{number}." if items.numbered else "-")


def _item(item: Text | Item, page: Page, indent: int, lead: str) -> None:
    hang = indent + len(lead) + 1
    text, then = (item.text, item.then) if isinstance(item, Item) else (item, ())
    page.say(f"{lead} {plain(text)}", indent, hang=hang)
    write(then, page, hang)


@_block.register
def _(told: doc.Table, page: Page, indent: int) -> None:
    page.gap()
    page.say(told.caption, indent)
    _rows(told, page, indent + 2)
    page.gap()


def _rows(told: doc.Table, page: Page, indent: int) -> None:
    """Write rows in columns where they fit, else each as a sentence with its heads.

    How many there are of it stands before the name of each.
    """
    shown = [
        k
        for k, column in enumerate(told.columns)
        if not column.aside and (page.full or not column.detail)
    ]
    at = [k for k in shown if not told.columns[k].count]
    counts = [k for k in shown if told.columns[k].count]
    seen = [told.columns[k] for k in at]
    every = [row for row in told.rows if isinstance(row, Row)]
    cells = [
        [_many(row, counts) + _cell(row.cells[0]), *(_cell(row.cells[k]) for k in at[1:])]
        for row in every
    ]
    # What has more below it, or is to be filled in, is a list of things to do and no table.
    steps = any(isinstance(row.cells[k], Item | Hand) for row in every for k in at)
    rooms = [] if steps else _rooms(seen, cells, page.width - indent)
    if rooms and any(c.head for c in seen) and not all(c.entry or c.plain for c in seen[1:]):
        _line([column.head for column in seen], rooms, seen, page, indent)
    elif not rooms and (len(seen) <= _TWO or not told.caption):
        page.say(seen[0].head, indent)
    words = iter(cells)
    under = 0  # paragraphs stand below the head of their group, which no column does for them
    for row in told.rows:
        if isinstance(row, Group):
            under = 0 if rooms else 2
            if not rooms and row is not told.rows[0]:
                page.gap()
            page.say(plain(row.title), indent)
            page.say(row.says, indent + 2)
            continue
        if rooms:
            _line(next(words), rooms, seen, page, indent)
        else:
            listed = [isinstance(row.cells[k], doc.Items | Item) for k in at]
            name, *others = next(words)
            box = "[ ] " if any(isinstance(row.cells[k], Hand) for k in at) else ""
            _sentence([f"{box}{name}", *others], seen, listed, page, indent + under)
        for cell in row.cells:
            write(cell.then if isinstance(cell, Item) else (), page, indent + 4)
        write(row.under, page, indent + 4)


def _many(row: Row, counts: list[int]) -> str:
    """Return how many there are of what a row names, where it tells that."""
    return "".join(f"{plain(row.cells[k])} × " for k in counts if plain(row.cells[k]) != "–")


def _cell(text: Text) -> str:
    if isinstance(text, doc.Items):
        return "; ".join(plain(row) for row in text.rows)
    if isinstance(text, Item):
        return _cell(text.text)
    return signed(clean(plain(text))).strip()


def _rooms(columns: list[doc.Column], rows: list[list[str]], room: int) -> list[int]:
    """Return the width of each column; none where prose would be squeezed into a ribbon.

    Numbers keep their width; of the others the widest gives way first.
    """
    words = [max((len(row[k]) for row in rows), default=0) for k in range(len(columns))]
    heads = [_head_room(column.head, room) for column, room in zip(columns, words, strict=True)]
    wide = [max(1, *pair) for pair in zip(words, heads, strict=True)]
    room -= _GAP * (len(wide) - 1)
    may = [k for k, column in enumerate(columns) if not column.number]
    while sum(wide) > room and may:
        widest = max(may, key=lambda k: wide[k])
        wide[widest] -= 1
        if wide[widest] < max(_LEAST, heads[widest], words[widest] // _LINES):
            return []
    return wide if sum(wide) <= room else []


def _head_room(head: str, words: int) -> int:
    """Return the room that a head needs: a line where that is hardly more than its words have."""
    return len(head) if len(head) <= words + _GAP else max(map(len, head.split()), default=0)


def _line(
    words: list[str], rooms: list[int], columns: list[doc.Column], page: Page, indent: int
) -> None:
    """Write cells beside one another, each on as many lines as it needs."""
    lines = [
        textwrap.wrap(tied(text), room, break_on_hyphens=False, subsequent_indent=hang) or [""]
        for text, room, hang in zip(words, rooms, ("  ", *[""] * len(rooms)), strict=False)
    ]
    for k in range(max(map(len, lines))):
        parts = [
            f"{text:>{room}}" if column.number else f"{text:<{room}}"
            for text, room, column in zip(
                (own[k] if k < len(own) else "" for own in lines), rooms, columns, strict=True
            )
        ]
        told = " " * indent + (" " * _GAP).join(parts)
        page.lines.append(told.rstrip().replace("\u00a0", " "))


def _sentence(
    words: list[str], columns: list[doc.Column], listed: list[bool], page: Page, indent: int
) -> None:
    """Write a row as a sentence: what it is of, then each value with its head.

    What follows a list stands on a line of its own.
    """
    headed = len(columns) > _TWO  # of two columns the second needs no head in every row
    lines: list[list[str]] = [[]]
    lead = f"{words[0]}: " if words[0] and not words[0].endswith(":") else words[0]
    for column, text, items in zip(columns[1:], words[1:], listed[1:], strict=True):
        if text in {"", "–"}:
            continue
        bare = column.plain or (column.entry and len(lines) == 1)
        head = "" if not headed or bare else column.head
        colon = ":" if head and len(lines) > 1 else ""
        lines[-1].append(f"{head}{colon} {text}".strip())
        if items:
            lines.append([])
    page.say(f"{lead}{'; '.join(lines[0])}", indent, hang=indent + 2)
    for line in lines[1:]:
        page.say("; ".join(line), indent + 4, hang=indent + 6)


@_block.register
def _(numbers: doc.Numbers, page: Page, indent: int) -> None:
    if numbers.caption:
        page.gap()
        page.say(numbers.caption, indent)
    for line in numbers.rows:
        if isinstance(line, Group):
            page.say(plain(line.title), indent + 2)
            continue
        if isinstance(line, Worked):
            name, value, told = line.name, worked_words(line), line
        else:
            name, value, told = plain(line.name), plain(line.value), line.how
        tail = f", {plain(told)}" if told and not isinstance(told, Worked) else ""
        page.pair(name, value + tail, indent + 2)
        if isinstance(told, Worked) and (numbers.told or page.full):
            how(told, page, indent + 4)


def how(worked: Worked, page: Page, indent: int = 4) -> None:
    """Write formula, numbers, and what was assumed: in short, the inputs are in the numbers."""
    page.say(" = ".join(part for part in formula_words(worked) if part), indent, hang=indent + 2)
    if worked.note:
        page.say(worked.note, indent)
    if worked.assumed:
        page.say(f"assumed: {'; '.join(worked.assumed)}", indent)


@_block.register
def _(told: doc.How, page: Page, indent: int) -> None:
    if told.named:
        page.say(f"{told.worked.name}: {worked_words(told.worked)}", indent, hang=indent + 2)
        indent += 2
    how(told.worked, page, indent)


@_block.register
def _(told: doc.Explained, page: Page, indent: int) -> None:
    if not page.full:
        return
    page.gap()
    before = ""
    for place, worked in told.numbers:
        if worked is None:
            continue
        if place != before:
            page.say(f"{place}, how it comes about:", indent)
            before = place
        name = worked.name.removesuffix(f": {place}")
        page.say(f"{name}: {worked_words(worked)}", indent + 2, hang=indent + 4)
        how(worked, page, indent + 4)
    write(told.more, page, indent)


@_block.register
def _(fold: doc.Fold, page: Page, indent: int) -> None:
    if not (page.full or fold.open_):
        return
    headed = fold.open_ or fold.headed
    if headed:
        page.gap()
        page.say(plain(fold.summary), indent)
    first = len(page.lines)
    write(fold.inner, page, indent)
    if headed and page.lines[first : first + 1] == [""]:  # no gap below the summary
        del page.lines[first]


@_block.register
def _(detail: doc.Detail, page: Page, indent: int) -> None:
    if page.full:
        write(detail.inner, page, indent)


@_block.register
def _(_figure: doc.Figure, page: Page, indent: int) -> None:
    """Leave out what a terminal cannot draw."""


@_block.register
def _(cards: doc.Cards, page: Page, indent: int) -> None:
    for card in cards.rows:
        page.say(plain(card.text), indent + 2, hang=indent + 6)
        write(card.then, page, indent + 6)
        page.gap()


@_block.register
def _(verdict: doc.Verdict, page: Page, indent: int) -> None:
    bar = "=" * page.width
    page.lines.append(bar)
    page.say(f"{verdict.mark.glyph} {verdict.mark.word.upper()}", 2)
    page.say(verdict.title, 2)
    page.lines.append(bar)
    write(verdict.inner, page, indent)


@_block.register
def _(tiles: doc.Tiles, page: Page, indent: int) -> None:
    page.gap()
    wide = max((len(plain(value)) for value, _ in tiles.rows), default=0)
    for value, says in tiles.rows:
        words = f"{plain(value):<{wide}}  {plain(says)}"
        page.say(words, indent + 2, hang=indent + wide + 4)


@_block.register
def _(_sign: doc.Sign, page: Page, indent: int) -> None:
    """Leave out what is signed on paper."""


@_block.register
def _(part: doc.Part, page: Page, indent: int) -> None:
    write(part.inner, page, indent)


@_block.register
def _(sheet: doc.Sheet, page: Page, indent: int) -> None:
    page.head(sheet.name)
    for line in sheet.says:
        page.say(plain(line), indent)
    write(sheet.inner, page, indent)
    page.say(plain(sheet.foot), indent)


@_block.register
def _(only: doc.Only, page: Page, indent: int) -> None:
    if only.where == "terminal":
        write(only.inner, page, indent)


@_block.register
def _(told: Facts, page: Page, indent: int) -> None:
    page.head(told.title)
    for row in told.rows:
        tail = [BASIS[row.basis]] if row.basis and row.value != NOT_KNOWN else []
        tail += [row.note] if row.note else []
        page.pair(row.label, row.value + (f" ({'; '.join(tail)})" if tail else ""))
    if told.note:
        page.say(told.note, indent + 2)
