"""A document: what a noun tells, said once; page, terminal and CSV are made of it.

A document is a run of blocks: heads, paragraphs, items, tables, explained numbers, figures, folds.
A block holds texts: plain words, or spans (`Strong`, `Value`, `Mark` …) that say what a piece of
text is, never how it looks. A `Value` holds number, unit and which way it is safe to round, so
that no renderer rounds by itself.

What a noun tells is registered with `document`; `evpack.show.to_html` and `evpack.show.to_text`
render it.
"""

from __future__ import annotations

import enum
import math
from collections.abc import Callable, Iterable, Sequence
from functools import singledispatch
from typing import Any, TypeAlias

import attrs

from evpack.base.basis import Basis
from evpack.base.finding import Severity
from evpack.base.wording import about, say, say_down, say_up
from evpack.base.worked import Worked
from evpack.show.facts import Facts, facts
from evpack.show.words import BASIS, NOT_KNOWN, SEVERITY, Words, shown, worked_words

# --- Spans: pieces of a text ----------------------------------------------------------------------


_EMPTY = "–"  # of a cell that has nothing to tell


class Safe(enum.Enum):
    """Which way a value may be rounded without harm."""

    NEAR = "near"
    UP = "up"  # it must be reached
    DOWN = "down"  # it must not be passed


_ROUNDED = {Safe.NEAR: say, Safe.UP: say_up, Safe.DOWN: say_down}


@attrs.frozen
class Value:
    """A number with its unit; `none` is what stands for one that is not there."""

    value: float | None
    unit: str
    safe: Safe = Safe.NEAR
    rough: bool = False
    none: str = _EMPTY

    @property
    def words(self) -> str:
        """Return it as it is told everywhere."""
        if self.value is None:
            return self.none
        if not math.isfinite(self.value):
            return shown(self.value, self.unit)
        if self.rough:
            return about(self.value, self.value, self.unit)
        return _ROUNDED[self.safe](self.value, self.unit)


@attrs.frozen
class Number:
    """Words that hold a number and are not broken over two lines."""

    words: str


@attrs.frozen
class Strong:
    """Words that carry weight."""

    text: Text


@attrs.frozen
class Soft:
    """Words that a reader in a hurry may pass over."""

    text: Text


@attrs.frozen
class Small:
    """Words that belong to what stands before them."""

    text: Text


@attrs.frozen
class Below:
    """Words on a line below what they belong to; in a terminal behind it, in brackets."""

    text: Text


@attrs.frozen
class Mark:
    """An answer by glyph, word and tone.

    Parameters
    ----------
    boxed : bool
        As a severity stands beside its finding.
    leads : bool
        It stands before the name of what it is of: in a terminal by its glyph alone.
    """

    glyph: str
    word: str
    tone: str = ""
    boxed: bool = False
    leads: bool = False

    @property
    def words(self) -> str:
        """Return it without its tone."""
        return f"{self.glyph} {self.word}".strip()


@attrs.frozen
class Known:
    """How a value is known; None tells nothing."""

    basis: Basis | None


@attrs.frozen
class Doubt:
    """A word that a value rests on something that is only assumed."""

    words: str = "assumed input"


class Hand(enum.Enum):
    """What is left to be filled in by hand; on paper and pages alone."""

    LINE = "line"
    SHORT = "short"  # a short line
    BOX = "box"
    POLE = "pole"  # a circle for plus or minus


# A text is a word, a span of those above, a worked number (its value), or a tuple of texts.
Text: TypeAlias = Any


def least(worked: Worked | None) -> Value:
    """Return a number that must be reached; one that nobody knows says so."""
    return _bound(worked, Safe.UP)


def most(worked: Worked | None) -> Value:
    """Return a number that must not be passed; one that nobody knows says so."""
    return _bound(worked, Safe.DOWN)


def _bound(worked: Worked | None, safe: Safe) -> Value:
    if worked is None:
        return Value(None, "", none=NOT_KNOWN)
    return Value(worked.value, worked.unit, safe)


def mark_of(words: Words, *, leads: bool = False) -> Mark:
    """Return the mark of an answer."""
    return Mark(words.glyph, words.word, words.tone, leads=leads)


def severity_of(severity: Severity) -> Mark:
    """Return the mark of a severity, as it stands beside a finding."""
    words = SEVERITY[severity]
    return Mark(words.glyph, words.word, words.tone, boxed=True)


# --- Blocks ---------------------------------------------------------------------------------------


def _tuple(many: Iterable[Any]) -> tuple[Any, ...]:
    return tuple(many)


@attrs.frozen
class Head:
    """A heading; level 1 is the page's. On paper it may begin a page of its own.

    `small` is the look of level 3 where nothing of level 2 stands above it.
    """

    text: Text
    level: int = 2
    own_page: bool = False
    small: bool = False


@attrs.frozen
class Para:
    """A paragraph; `kind` is soft, strong, lead, notice, remedy or title."""

    text: Text
    kind: str = ""


@attrs.frozen
class Banner:
    """A line that nobody may overlook, in the tone of a mark."""

    text: Text
    tone: str = "stop"


@attrs.frozen
class Item:
    """An item of a list, with what belongs to it."""

    text: Text
    then: tuple[Block, ...] = attrs.field(default=(), converter=_tuple)
    tone: str = ""


@attrs.frozen
class Items:
    """A list; numbered where the order counts."""

    rows: tuple[Text | Item, ...] = attrs.field(converter=_tuple)
    numbered: bool = False


@attrs.frozen
class Column:
    """A column of a table.

    Parameters
    ----------
    width : int
        Part of the whole [%]; 0: as it comes.
    number : bool
        Its words are numbers, which are not broken.
    entry : bool
        It holds what a person acts on.
    plain : bool
        Its words need no head where a row is a card or a sentence.
    count : bool
        It holds how many there are; in a terminal that stands before the name.
    aside : bool
        It helps on a page and is left out in a terminal.
    detail : bool
        In a terminal it stands only where everything was asked for.
    """

    head: str
    width: int = 0
    number: bool = False
    entry: bool = False
    plain: bool = False
    count: bool = False
    aside: bool = False
    detail: bool = False


@attrs.frozen
class Row:
    """A row; the first cell names it. `under` belongs to it and stands below it.

    A cell is a text, a list, or an item: a text with what belongs to it.
    """

    cells: tuple[Text, ...] = attrs.field(converter=_tuple)
    under: tuple[Block, ...] = attrs.field(default=(), converter=_tuple)


@attrs.frozen
class Group:
    """A head over the rows that follow, with a word on it."""

    title: Text
    says: str = ""


@attrs.frozen
class Table:
    """Rows beside one another.

    Parameters
    ----------
    rows : tuple of Row and Group
    cards : bool
        Each row becomes a card on a phone.
    kind : str
        A class of the style.
    above : tuple of Text
        Rows above the heads; on paper they come again with them on every page.
    twice : bool
        On paper it runs in two columns.
    named : bool
        The first cell of a row names it.
    wide : bool
        What stands under a row begins below its name, and takes the whole width.
    """

    columns: tuple[Column, ...] = attrs.field(converter=_tuple)
    rows: tuple[Row | Group, ...] = attrs.field(converter=_tuple)
    caption: str = ""
    cards: bool = False
    kind: str = ""
    above: tuple[tuple[str, Text], ...] = ()
    twice: bool = False
    named: bool = True
    wide: bool = False


@attrs.frozen
class Line:
    """A row of `Numbers` that is no explained number, or is told by other words."""

    name: Text
    value: Text
    how: Text | Worked = ""


@attrs.frozen
class Numbers:
    """Numbers, each with how it comes about.

    Parameters
    ----------
    rows : tuple of Worked, Line and Group
    told : bool
        In a terminal each formula stands below its number, though not all was asked for.
    widths : tuple of int
        Of name, value, explanation [%].
    """

    rows: tuple[Worked | Line | Group, ...] = attrs.field(converter=_tuple)
    caption: str = ""
    told: bool = False
    widths: tuple[int, int, int] = (34, 24, 42)


@attrs.frozen
class How:
    """How one number comes about: formula, numbers, inputs, source."""

    worked: Worked
    named: bool = False


@attrs.frozen
class Explained:
    """How many numbers come about: each formula once, then its numbers place by place."""

    numbers: tuple[tuple[str, Worked | None], ...] = attrs.field(converter=_tuple)
    more: tuple[Block, ...] = ()


@attrs.frozen
class Fold:
    """What opens on a click; in a terminal it stands only where everything was asked for.

    Parameters
    ----------
    open_ : bool
        In a terminal it always stands, its summary above it.
    headed : bool
        Its summary stands above it in a terminal too, for what is in it does not say what it is of.
    """

    summary: Text
    inner: tuple[Block, ...] = attrs.field(converter=_tuple)
    open_: bool = False
    headed: bool = False


@attrs.frozen
class Detail:
    """Blocks that a terminal tells only where everything was asked for."""

    inner: tuple[Block, ...] = attrs.field(converter=_tuple)


@attrs.frozen
class Figure:
    """A picture, drawn only where it is shown; a terminal has none."""

    draw: Callable[[], str]
    caption: Text = ""


@attrs.frozen
class Cards:
    """Things that each stand for themselves, by tone: findings, above all."""

    rows: tuple[Item, ...] = attrs.field(converter=_tuple)


@attrs.frozen
class Verdict:
    """The answer, large: glyph and word, then what is to be said of it.

    Parameters
    ----------
    title : str
        What it is an answer on; a page has it above already, or within.
    """

    mark: Mark
    inner: tuple[Block, ...] = attrs.field(converter=_tuple)
    title: str = ""


@attrs.frozen
class Tiles:
    """The few figures that a person looks for first, each with what it is."""

    rows: tuple[tuple[Text, Text], ...] = attrs.field(converter=_tuple)


@attrs.frozen
class Sign:
    """Lines to sign on by hand, each under a word."""

    lines: tuple[str, ...]


@attrs.frozen
class Part:
    """Blocks that a class of the style holds together."""

    kind: str
    inner: tuple[Block, ...] = attrs.field(converter=_tuple)
    whole: bool = False  # never broken over two sheets of paper


@attrs.frozen
class Sheet:
    """A sheet of paper that begins on a page of its own, and may be carried away alone.

    Parameters
    ----------
    says : tuple of Text
        What it is of, a line for each, beside its name.
    foot : Text
        What stands below all else.
    kind : str
        Classes of the style.
    """

    name: str
    inner: tuple[Block, ...] = attrs.field(converter=_tuple)
    says: tuple[Text, ...] = ()
    foot: Text = ""
    kind: str = ""


@attrs.frozen
class Only:
    """Blocks for pages alone, or for the terminal alone: what the other could not show."""

    where: str  # "page" or "terminal"
    inner: tuple[Block, ...] = attrs.field(converter=_tuple)


Block: TypeAlias = (
    Head
    | Para
    | Banner
    | Items
    | Table
    | Numbers
    | How
    | Explained
    | Fold
    | Detail
    | Figure
    | Cards
    | Verdict
    | Tiles
    | Sign
    | Part
    | Sheet
    | Only
    | Facts
)
Doc: TypeAlias = Iterable[Block]


@singledispatch
def document(noun: object) -> Doc:
    """Return what a noun tells, as a document; of what a person states, its facts.

    Raises
    ------
    TypeError
        For an object that is none of evpack's nouns.
    """
    # Whoever asks first may have loaded no room yet, and a noun of one has no facts.
    from evpack.show import rooms  # noqa: F401, PLC0415

    told = document.dispatch(type(noun))
    return (facts(noun),) if told is document.dispatch(object) else told(noun)


def kept(
    columns: Sequence[Column], rows: Iterable[Row]
) -> tuple[tuple[Column, ...], tuple[Row, ...]]:
    """Return columns and rows without the columns that no row fills."""
    every = tuple(rows)
    filled = [
        k for k in range(len(columns)) if k == 0 or any(plain(r.cells[k]) != _EMPTY for r in every)
    ]
    return (
        tuple(columns[k] for k in filled),
        tuple(Row([r.cells[k] for k in filled], r.under) for r in every),
    )


@singledispatch
def plain(text: Text) -> str:
    """Return a text without what its spans are: as a terminal has it."""
    return "" if text is None else str(text)


@plain.register(tuple)
@plain.register(list)
def _(text: Any) -> str:
    return "".join(map(plain, text))


@plain.register
def _(span: Strong | Soft | Small) -> str:
    return plain(span.text)


@plain.register
def _(below: Below) -> str:
    return f" ({plain(below.text)})"


@plain.register
def _(worked: Worked) -> str:
    return worked_words(worked)


@plain.register
def _(span: Value | Number) -> str:
    return span.words


@plain.register
def _(mark: Mark) -> str:
    return mark.glyph if mark.leads else mark.words


@plain.register
def _(known: Known) -> str:
    return "" if known.basis is None else BASIS[known.basis]


@plain.register
def _(doubt: Doubt) -> str:
    return f" ({doubt.words})"


@plain.register
def _(_: Hand) -> str:
    return ""


def value_shown(value: float | None, unit: str) -> Number:
    """Return a value, or that it is not known, as one piece."""
    return Number(shown(value, unit))
