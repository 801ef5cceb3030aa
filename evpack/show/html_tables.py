"""Pieces of HTML that every fragment is built from: tables, folded explanations, marks."""

from __future__ import annotations

import re
from collections.abc import Sequence

from evpack.base.basis import Basis
from evpack.base.finding import Severity
from evpack.base.worked import Worked
from evpack.show.clean import escaped, prose
from evpack.show.gather import formula_words, inputs_told, source_words
from evpack.show.words import BASIS, SEVERITY, shown, worked_words

# V_max is set with a real subscript; the first part is a letter or two, Greek ones included.
_SUBSCRIPT = re.compile(r"\b([A-Za-zα-ωΑ-ΩΔ]{1,2})_([A-Za-z0-9]+)")


def table(
    caption: str,
    heads: Sequence[str],
    body: str,
    *,
    rows: bool = True,
    widths: Sequence[int] = (),
    above: str = "",
    kind: str = "",
) -> str:
    """Return a table.

    Parameters
    ----------
    body : str
        Markup of its rows.
    rows : bool
        Whether each row stands for itself; if not, `body` holds its own groups of rows.
    widths : sequence of int
        Of the columns, in per cent, where tables under one another are to line up.
    above : str
        Markup of rows above the heads; on paper they come again with them on every page.
    kind : str
        A class of the style: ``evp-cards`` becomes a card for each group of rows on a phone.
    """
    top = f"<caption>{prose(caption)}</caption>" if caption else ""
    columns = "".join(f'<col style="width:{w}%">' for w in widths)
    columns = f"<colgroup>{columns}</colgroup>" if widths else ""
    kinds = " ".join(name for name in ("evp-fixed" if widths else "", kind) if name)
    kinds = f' class="{kinds}"' if kinds else ""
    # A head without words is no head: it would be read out as one.
    head = "".join(f'<th scope="col">{prose(h)}</th>' if h else "<td></td>" for h in heads)
    head = f'{above}<tr class="evp-heads">{head}</tr>' if any(heads) else above
    head = f"<thead>{head}</thead>" if head else ""
    inner = f'<tbody class="evp-rows">{body}</tbody>' if rows else body
    made = f"<table{kinds}>{top}{columns}{head}{inner}</table>"
    # On paper without formulas they are narrow, and run in two columns.
    return f'<div class="evp-narrow">{made}</div>' if kind == "evp-worked" else made


def row(name: str, *cells: str) -> str:
    """Return a row; name and cells are markup already."""
    return f'<tr><th scope="row">{name}</th>{"".join(f"<td>{c}</td>" for c in cells)}</tr>'


# A line to write on by hand.
BLANK = '<span class="evp-where"></span>'


def cell(label: str, inner: str) -> str:
    """Return a cell that brings its head along where a table becomes cards; markup inside."""
    none = ' class="evp-none"' if inner in {"", BLANK, number("–")} else ""
    return f'<td data-label="{escaped(label)}"{none}>{inner}</td>'


def figure_html(svg: str, caption: str) -> str:
    """Return a picture with its caption: inline, so that its text is text."""
    return (
        f"<figure><figcaption>{prose(caption)} "
        '<span class="evp-hint">Move the picture sideways to see all of it. →</span>'
        f"</figcaption>{svg}</figure>"
    )


def number(text: str) -> str:
    """Return a value that must not be broken over two lines."""
    return f'<span class="evp-num">{escaped(text)}</span>'


def folded(summary: str, inner: str) -> str:
    """Return an explanation that opens on a click and stands open on paper; both are markup."""
    return f'<details><summary>{summary}</summary><div class="evp-how">{inner}</div></details>'


def basis_mark(basis: Basis | None) -> str:
    """Return how a value is known; an assumed one catches the eye."""
    if basis is None:
        return ""
    extra = " evp-assumed" if basis is Basis.ASSUMED else ""
    return f'<span class="evp-basis{extra}">{escaped(BASIS[basis])}</span>'


def doubt_mark(words: str = "assumed input") -> str:
    """Return that a value rests on something that is only assumed."""
    return f' <span class="evp-basis evp-assumed">{escaped(words)}</span>'


def severity_mark(severity: Severity) -> str:
    """Return glyph and word of a severity."""
    words = SEVERITY[severity]
    return f'<span class="evp-mark">{words.glyph} {words.word}</span>'


def formula(text: str) -> str:
    """Return a formula with its subscripts set as such."""
    return _SUBSCRIPT.sub(r"\1<sub>\2</sub>", escaped(text))


def how(worked: Worked, *, named: bool = False) -> str:
    """Return the whole explanation of a number: formula, numbers, inputs, source."""
    symbols, numbers = formula_words(worked)
    told = " = ".join(part for part in (formula(symbols), prose(numbers)) if part)
    lead = f"<b>{prose(worked.name)}:</b> " if named else ""
    parts = [f"<p>{lead}{told}</p>"]
    if inputs_told(worked):
        items = "".join(
            f"<li>{formula(i.symbol)} = {number(shown(i.value, i.unit))}: {prose(i.means)} "
            f"{basis_mark(i.basis)}</li>"
            for i in inputs_told(worked)
        )
        parts.append(f"<ul>{items}</ul>")
    if worked.note:
        parts.append(f"<p>{prose(worked.note)}</p>")
    parts.append(f"<p>Source: {prose(source_words(worked.source))}</p>")
    return "".join(parts)


def summary_of(worked: Worked) -> str:
    """Return the line that an explanation folds under: the formula, short."""
    symbols, numbers = formula_words(worked)
    return formula(symbols) if symbols else prose(numbers)


def worked_row(worked: Worked) -> str:
    """Return a row of a table of numbers: name, value, folded explanation."""
    return row(
        prose(worked.name),
        number(worked_words(worked)) + (doubt_mark() if worked.assumed else ""),
        folded(summary_of(worked), how(worked)),
    )
