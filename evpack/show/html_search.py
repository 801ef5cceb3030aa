"""Searches as HTML."""

from __future__ import annotations

from collections.abc import Sequence

from evpack.outcome.search import Candidate, Grown, Growth, Ranking, TradeOff, Way, WaysOut
from evpack.show.clean import prose
from evpack.show.html_tables import cell, figure_html, number, table
from evpack.show.search_pictures import trade_off_svg
from evpack.show.search_words import (
    LOST,
    NOTHING_TO_BUY,
    SHOWN,
    after_words,
    amount,
    beaten_words,
    choices,
    cost_words,
    everyday,
    grown_words,
    left,
    losers,
    margin,
    mark_of,
    nothing_found,
    open_words,
    priced,
    reachable,
    reason,
    why_lost,
    years,
)
from evpack.show.words import CAUTIONS

_HEADS = ("", "reachable, AC", "every day, AC", "margin", "modules left", "limits")
_CHOICES = 60  # of a trade-off that are told
_MARGIN = (
    "Margin: how near the nearest check of windows and currents comes to its limit, as a share of "
    "it. Limits: how many cautions it works under."
)


def ranking_html(ranking: Ranking) -> str:
    """Return a ranking: what may be built, best first, and why the others may not."""
    lost = losers(ranking)
    shown = ranking.winners[:SHOWN]
    parts = [f"<p>{prose(ranking.asked)} {prose(ranking.note)}</p>"]
    if shown:
        parts.append(_candidates("What may be built, best first", shown, ranking.money))
        parts.append(_more(len(ranking.winners) - SHOWN))
        parts.append(f'<p class="evp-soft">{prose(_MARGIN)}</p>')
    else:
        parts.append("<p><b>None of them may be built.</b></p>")
    if lost:
        rows = "".join(
            f'<tbody><tr><th scope="row">{_mark(c)} {prose(c.name)}</th>'
            f"{cell('why', prose(why_lost(c)))}</tr></tbody>"
            for c in lost[:LOST]
        )
        heads = ("what may not be built, the nearest first", "why")
        parts.append(table("", heads, rows, rows=False, widths=(36, 64), kind="evp-cards"))
        parts.append(_more(len(lost) - LOST))
    return "".join(parts) + _cautions()


def _candidates(caption: str, shown: Sequence[Candidate], money: str = "") -> str:
    costly = any(candidate.price is not None for candidate in shown)
    heads = (*_HEADS, "price") if costly else _HEADS
    rows = "".join(_row(candidate, heads, money) for candidate in shown)
    widths = (30, 13, 13, 9, 16, 8, 11) if costly else (35, 14, 14, 10, 18, 9)
    return table(caption, heads, rows, rows=False, widths=widths, kind="evp-cards")


def _row(candidate: Candidate, heads: Sequence[str], money: str) -> str:
    values = (
        reachable(candidate),
        everyday(candidate),
        margin(candidate),
        left(candidate, money),
        str(candidate.limits),
        priced(candidate, money),
    )
    cells = "".join(
        cell(head, prose(value) if head == "modules left" else number(value))
        for head, value in zip(heads[1:], values, strict=False)
    )
    return (
        f'<tbody><tr><th scope="row">{_mark(candidate)} {prose(candidate.name)}</th>{cells}</tr>'
        "</tbody>"
    )


def _mark(candidate: Candidate) -> str:
    words = mark_of(candidate)
    return f'<span class="evp-{words.tone} evp-result">{words.glyph} {words.word}:</span>'


def _more(more: int) -> str:
    return f"<p>And {more} more.</p>" if more > 0 else ""


def _cautions() -> str:
    return f'<p class="evp-soft">{prose(CAUTIONS[0])}</p>'


def ways_html(found: WaysOut) -> str:
    """Return what would clear what holds a build up, each way proven."""
    if found.now.go:
        return "<p>Nothing holds it up.</p>"
    parts = []
    if found.to_go:
        parts.append("<p>Each way was carried through the whole design.</p>")
        parts.append(_ways(found.to_go))
    else:
        parts.append(f"<p>{prose(nothing_found(found))}</p>")
        if found.nearest:
            parts.append("<p>The nearest:</p>" + _ways(found.nearest))
    if found.note:
        parts.append(f'<p class="evp-soft">{prose(found.note)}</p>')
    rows = "".join(
        f'<tbody><tr><th scope="row">{"✕" if held.stop else "?"} {prose(reason(held))}</th>'
        f"{cell('what clears it', _short(ways) or prose(f'No single change. {held.remedy}'))}"
        "</tr></tbody>"
        for held, ways in found.one_by_one
    )
    heads = ("what holds it up", "what clears it, alone")
    parts.append(table("One by one", heads, rows, rows=False, widths=(52, 48), kind="evp-cards"))
    return "".join(parts) + _cautions()


def _ways(ways: Sequence[Way]) -> str:
    items = "".join(
        f"<li><b>{prose(way.says)}</b><br/>{prose(after_words(way))}; {prose(cost_words(way))}"
        f"{prose(open_words(way))}.</li>"
        for way in ways
    )
    return f"<ol>{items}</ol>"


def _short(ways: Sequence[Way]) -> str:
    if not ways:
        return ""
    items = "".join(
        f"<li>{prose(way.says)}: {prose(cost_words(way))}{prose(open_words(way))}</li>"
        for way in ways
    )
    return f"<ul>{items}</ul>"


def grown_html(grown: Grown) -> str:
    """Return what stays valid when a pack grows."""
    told = "".join(_growth(way, settled=grown.now.go) for way in grown.ways)
    if not grown.now.go:
        told = f"<p><b>{prose(NOTHING_TO_BUY)}</b></p>{told}"
    return told + _cautions()


def _growth(way: Growth, *, settled: bool) -> str:
    head = f"<h3>{_mark(way.candidate)} {prose(way.candidate.name)}</h3>"
    held = "".join(f"<li>{prose(words)}</li>" for words in way.new_limits)
    told = f"<p>Then held up by:</p><ul>{held}</ul>" if held else ""
    if not settled:
        return head + told
    if not way.outgrown:
        return head + (told or "<p>Everything stays as it is.</p>")
    rows = "".join(
        f'<tr><th scope="row">{prose(part.what)}</th><td>{prose(grown_words(part))}</td></tr>'
        for part in way.outgrown
    )
    return head + told + table("", ("what is outgrown", ""), rows, widths=(55, 45))


def trade_off_html(found: TradeOff) -> str:
    """Return what is gained and given up, as a picture and a table."""
    if not found.front:
        return (
            f"<p>None of the {found.tried} designs that were carried out may be built: none of the "
            "arrangements, at none of the charge targets.</p>" + _cautions()
        )
    return (
        f"<p>Held against one another: {prose(found.weighed)}. {prose(found.note)}</p>"
        + _figure(found)
        + _choices(found)
        + f'<p class="evp-soft">{prose(beaten_words(found))} {prose(_MARGIN)}</p>'
        + _cautions()
    )


def _figure(found: TradeOff) -> str:
    caption = "Each point is one design that may be built, named at it or at the end of its line."
    return figure_html(trade_off_svg(found), caption)


def _choices(found: TradeOff) -> str:
    """Return the table of what is worth a choice, numbered as it is picked."""
    heads = ["", "reachable, AC", "every day, AC", "margin", "modules left", "limits"]
    widths = [30, 12, 12, 9, 16, 7]
    if any(candidate.life is not None for candidate in found.front):
        heads.append("years of life")
        widths.append(13)
    if found.money:
        heads.append("cost")
        widths.append(12)
    rows = []
    for number_, candidate in choices(found)[:_CHOICES]:
        values = {
            "reachable, AC": reachable(candidate),
            "every day, AC": everyday(candidate),
            "margin": margin(candidate),
            "modules left": prose(left(candidate, found.money)),
            "limits": str(candidate.limits),
            "years of life": years(candidate),
            "cost": amount(candidate.cost, found.money),
        }
        cells = "".join(
            cell(head, values[head] if head == "modules left" else number(values[head]))
            for head in heads[1:]
        )
        rows.append(
            f'<tbody><tr><th scope="row">{number_}. {_mark(candidate)} {prose(candidate.name)}</th>'
            f"{cells}</tr></tbody>"
        )
    parts = tuple(round(100 * width / sum(widths)) for width in widths)
    caption = "None of these beats another in all"
    told = table(caption, tuple(heads), "".join(rows), rows=False, widths=parts, kind="evp-cards")
    return told + _more(len(found.front) - _CHOICES)
