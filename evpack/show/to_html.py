"""A document as HTML; whatever a user typed is escaped here and nowhere else."""

from __future__ import annotations

from collections.abc import Iterable
from functools import singledispatch

from evpack.base.worked import Worked
from evpack.show import doc
from evpack.show.clean import escaped, prose
from evpack.show.doc import Block, Column, Group, Hand, Item, Row, Text
from evpack.show.facts import Facts
from evpack.show.html_explained import explained_together
from evpack.show.html_tables import (
    BLANK,
    basis_mark,
    cell,
    doubt_mark,
    figure_html,
    folded,
    how,
    number,
    row,
    summary_of,
    table,
    worked_row,
)
from evpack.show.words import NOT_KNOWN, worked_words

_HANDS = {
    Hand.LINE: BLANK,
    Hand.SHORT: '<span class="evp-where evp-short"></span>',
    Hand.BOX: '<span class="evp-box" role="img" aria-label="box to tick"></span>',
    Hand.POLE: '<span class="evp-pole" role="img" aria-label="blank for plus or minus"></span>',
}


def to_html(document: Iterable[Block]) -> str:
    """Return the markup of a document."""
    return "".join(map(_block, document))


def inline(text: Text) -> str:
    """Return the markup of a text."""
    if isinstance(text, tuple | list):
        return "".join(map(inline, text))
    return "" if text is None else _span(text)


# --- Spans ----------------------------------------------------------------------------------------


@singledispatch
def _span(text: object) -> str:
    return prose(text)


@_span.register
def _(value: doc.Value) -> str:
    return number(value.words)


@_span.register
def _(words: doc.Number) -> str:
    return number(words.words)


@_span.register
def _(worked: Worked) -> str:
    return number(worked_words(worked))


@_span.register
def _(strong: doc.Strong) -> str:
    return f"<b>{inline(strong.text)}</b>"


@_span.register
def _(soft: doc.Soft) -> str:
    return f'<span class="evp-soft">{inline(soft.text)}</span>'


@_span.register
def _(small: doc.Small) -> str:
    return f'<span class="evp-of">{inline(small.text)}</span>'


@_span.register
def _(below: doc.Below) -> str:
    return f'<br/><span class="evp-of">{inline(below.text)}</span>'


@_span.register
def _(mark: doc.Mark) -> str:
    if mark.boxed:
        return f'<span class="evp-mark">{escaped(mark.words)}</span>'
    tone = f"evp-{mark.tone} " if mark.tone else ""
    colon = ":" if mark.leads else ""
    return f'<span class="{tone}evp-result">{escaped(mark.words)}{colon}</span>'


@_span.register
def _(known: doc.Known) -> str:
    return basis_mark(known.basis)


@_span.register
def _(doubt: doc.Doubt) -> str:
    return doubt_mark(doubt.words)


@_span.register
def _(hand: Hand) -> str:
    return _HANDS[hand]


# --- Blocks ---------------------------------------------------------------------------------------


@singledispatch
def _block(block: object) -> str:
    raise TypeError(f"{type(block).__name__} is no block of a document")


@_block.register
def _(head: doc.Head) -> str:
    own = ' class="evp-own-page"' if head.own_page else ' class="evp-small"' if head.small else ""
    return f"<h{head.level}{own}>{inline(head.text)}</h{head.level}>"


@_block.register
def _(para: doc.Para) -> str:
    inner = inline(para.text)
    if para.kind == "strong":
        return f"<p><b>{inner}</b></p>"
    kind = f' class="evp-{para.kind}"' if para.kind else ""
    return f"<p{kind}>{inner}</p>" if inner else ""


@_block.register
def _(banner: doc.Banner) -> str:
    return f'<p class="evp-banner evp-{banner.tone}"><b>{inline(banner.text)}</b></p>'


@_block.register
def _(items: doc.Items) -> str:
    kind = "ol" if items.numbered else "ul"
    return f"<{kind}>{''.join(map(_item, items.rows))}</{kind}>" if items.rows else ""


def _item(item: Text | Item) -> str:
    if not isinstance(item, Item):
        return f"<li>{inline(item)}</li>"
    tone = f' class="evp-{item.tone}"' if item.tone else ""
    return f"<li{tone}>{inline(item.text)}{to_html(item.then)}</li>"


@_block.register
def _(told: doc.Table) -> str:
    columns = told.columns
    heads = [column.head for column in columns]
    widths = [column.width for column in columns] if any(c.width for c in columns) else []
    above = "".join(
        f'<tr class="{kind}"><th colspan="{len(columns)}">{inline(text)}</th></tr>'
        for kind, text in told.above
    )
    kind = " ".join(name for name in ("evp-cards" if told.cards else "", told.kind) if name)
    grouped = told.cards or any(isinstance(one, Group) for one in told.rows)
    body = _grouped(told) if grouped else "".join(_row(one, told) for one in told.rows)  # type: ignore[arg-type]
    made = table(told.caption, heads, body, rows=not grouped, widths=widths, above=above, kind=kind)
    return f'<div class="evp-two">{made}</div>' if told.twice else made


def _grouped(told: doc.Table) -> str:
    """Return rows in bodies of their own: a card each, or those under one head together."""
    bodies: list[str] = []
    open_ = False
    for one in told.rows:
        if isinstance(one, Group):
            bodies += ["</tbody>"] if open_ else []
            bodies.append(f'<tbody class="evp-rows">{_group(one, len(told.columns))}')
            open_ = True
        elif open_:
            bodies.append(_row(one, told))
        else:
            bodies.append(f"<tbody>{_row(one, told, cards=told.cards)}</tbody>")
    return "".join([*bodies, "</tbody>"] if open_ else bodies)


def _group(group: Group, wide: int) -> str:
    says = f'<tr><td colspan="{wide}" class="evp-soft">{prose(group.says)}</td></tr>'
    return (
        f'<tr class="evp-group"><th scope="rowgroup" colspan="{wide}">{inline(group.title)}</th>'
        f"</tr>{says if group.says else ''}"
    )


def _row(one: Row, told: doc.Table, *, cards: bool = False) -> str:
    columns, (first, *others) = told.columns, one.cells
    cells = "".join(
        _cell(column, text, cards=cards) for column, text in zip(columns[1:], others, strict=True)
    )
    wide, under = len(columns) - (not told.wide), to_html(one.under)
    if under:
        below = "" if told.wide else "<td></td>"
        under = f'<tr class="evp-under">{below}<td colspan="{wide}">{under}</td></tr>'
    name = inline(first)
    name = f'<th scope="row">{name}</th>' if told.named else f"<td>{name}</td>"
    return f"<tr>{name}{cells}</tr>{under}"


def _cell(column: Column, text: Text, *, cards: bool) -> str:
    inner = number(text) if text and column.number and isinstance(text, str) else _inside(text)
    labelled = cards and not column.plain
    if column.entry:
        tone = f" evp-{text.tone}" if isinstance(text, doc.Mark) and text.tone else ""
        words = prose(text.words) if isinstance(text, doc.Mark) else inner
        label = f' data-label="{escaped(column.head)}"' if labelled else ""
        return f'<td class="evp-enter{tone}"{label}>{words}</td>'
    return cell(column.head, inner) if labelled else f"<td>{inner}</td>"


def _inside(text: Text) -> str:
    """Return a cell's inside: a text, a block, or a text with what belongs to it."""
    if isinstance(text, Item):
        return f"{inline(text.text)}{to_html(text.then)}"
    return _block(text) if type(text) in _block.registry else inline(text)


@_block.register
def _(numbers: doc.Numbers) -> str:
    body = "".join(map(_numbered, numbers.rows))
    heads = ("", "value", "how it comes about")
    return table(numbers.caption, heads, body, widths=numbers.widths, kind="evp-worked")


def _numbered(line: Worked | doc.Line | Group) -> str:
    if isinstance(line, Worked):
        return worked_row(line)
    if isinstance(line, Group):
        return f'<tr class="evp-group"><th colspan="3">{inline(line.title)}</th></tr>'
    told = line.how
    inner = folded(summary_of(told), how(told)) if isinstance(told, Worked) else inline(told)
    return row(inline(line.name), inline(line.value), inner)


@_block.register
def _(told: doc.How) -> str:
    return how(told.worked, named=told.named)


@_block.register
def _(told: doc.Explained) -> str:
    return explained_together(told.numbers, to_html(told.more))


@_block.register
def _(fold: doc.Fold) -> str:
    inner = to_html(fold.inner)
    return folded(inline(fold.summary), inner) if inner else ""


@_block.register
def _(detail: doc.Detail) -> str:
    return to_html(detail.inner)


@_block.register
def _(figure: doc.Figure) -> str:
    svg = figure.draw()
    if not figure.caption:
        return f"<figure>{svg}</figure>"
    return figure_html(svg, doc.plain(figure.caption))


@_block.register
def _(cards: doc.Cards) -> str:
    items = "".join(
        f'<li class="evp-{card.tone}">{to_html((doc.Para(card.text), *card.then))}</li>'
        for card in cards.rows
    )
    return f'<ul class="evp-findings">{items}</ul>'


@_block.register
def _(verdict: doc.Verdict) -> str:
    mark = verdict.mark
    return (
        f'<div class="evp-verdict evp-{mark.tone}" role="status">'
        f'<span class="evp-sign" aria-hidden="true">{escaped(mark.glyph)}</span><div>'
        f"<h1>{escaped(mark.word)}</h1>{to_html(verdict.inner)}</div></div>"
    )


@_block.register
def _(tiles: doc.Tiles) -> str:
    cells = "".join(
        f"<div><b>{inline(value)}</b><span>{inline(says)}</span></div>"
        for value, says in tiles.rows
    )
    return f'<div class="evp-tiles">{cells}</div>'


@_block.register
def _(sign: doc.Sign) -> str:
    lines = "".join(f"<div><span>{prose(what)}</span><br>{BLANK}</div>" for what in sign.lines)
    return f'<div class="evp-sign-here">{lines}</div>'


@_block.register
def _(part: doc.Part) -> str:
    kind = f' class="{part.kind}"' if part.kind else ""
    whole = ' style="break-inside:avoid"' if part.whole else ""
    return f"<div{kind}{whole}>{to_html(part.inner)}</div>"


@_block.register
def _(sheet: doc.Sheet) -> str:
    return (
        f'<section class="sheet {escaped(sheet.kind)}"><div class="sheet-head">'
        f"<h2>{prose(sheet.name)}</h2><span>{'<br>'.join(map(inline, sheet.says))}</span></div>"
        f'{to_html(sheet.inner)}<p class="sheet-foot">{inline(sheet.foot)}</p></section>'
    )


@_block.register
def _(only: doc.Only) -> str:
    return to_html(only.inner) if only.where == "page" else ""


@_block.register
def _(told: Facts) -> str:
    rows = "".join(
        row(
            prose(fact.label),
            prose(fact.value),
            basis_mark(fact.basis if fact.value != NOT_KNOWN else None),
            f'<span class="evp-soft">{prose(fact.note)}</span>' if fact.note else "",
        )
        for fact in told.rows
    )
    note = f'<p class="evp-soft evp-lead">{prose(told.note)}</p>' if told.note else ""
    heads = ("", "value", "known by", "")
    return table(told.title, heads, rows, widths=(38, 26, 12, 24), kind="evp-facts") + note
