"""Findings as blocks: what holds a design up, what its sheet does not say, what passed."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from evpack.base.finding import Finding, Severity
from evpack.show.doc import (
    Block,
    Cards,
    Column,
    Doc,
    Doubt,
    Fold,
    Group,
    Item,
    Items,
    Number,
    Para,
    Row,
    Soft,
    Strong,
    Table,
    document,
    severity_of,
    value_shown,
)
from evpack.show.gather import Missing, WayOut, source_words, ways_out
from evpack.show.words import SEVERITY, count_of, margin_words, standing_words


@document.register
def _(finding: Finding) -> Doc:
    yield finding_cards((finding,))


def finding_cards(findings: Iterable[Finding], *, remedies: bool = True) -> Cards:
    """Return findings as cards, the gravest first; those with one way out share a card.

    Parameters
    ----------
    remedies : bool
        With what to do about them, which may stand above already.
    """
    return Cards(_card(way, remedies=remedies) for way in ways_out(findings))


def _card(way: WayOut, *, remedies: bool) -> Item:
    """Return a card: mark, what it is about, what was found, the way out, the rules behind it."""
    first, many = way.findings[0], len(way.findings)
    tone, mark = SEVERITY[first.severity].tone, severity_of(first.severity)
    then: list[Block] = []
    if many == 1:
        text: object = (mark, " ", _found(first))
    else:
        text = (mark, " ", Strong(f"{many} findings, one way out"))
        then.append(Items(map(_found, way.findings)))
    if way.remedy and remedies:
        then.append(remedy_line(first, way.remedy))
    return Item(text, (*then, _rules(way)), tone)


def remedy_line(finding: Finding, remedy: str) -> Para:
    """Return what to do about a finding: to clear what holds a design up, or to keep a limit."""
    lead = "To clear it" if finding.holds else "What to do"
    return Para((Strong(f"{lead}:"), " ", remedy), "remedy")


def _found(finding: Finding) -> object:
    standing = standing_words(finding)
    soft = (" ", Soft(standing)) if standing else ()
    return (Strong(finding.about), f": {finding.detail}", *soft)


def _rules(way: WayOut) -> Fold:
    """Return the rules behind findings, folded; what is the same for several stands once."""
    rules = dict.fromkeys(tuple(_rule(finding)) for finding in way.findings)
    name = "the rule behind it" if len(rules) == 1 else "the rules behind it"
    return Fold(name, (block for rule in rules for block in rule))


def _rule(finding: Finding) -> Iterator[Block]:
    yield Para(finding.rule.says)
    if finding.value is not None and finding.limit is not None:
        margin = margin_words(finding.margin, finding.unit)
        yield Para(
            (
                "Value ",
                value_shown(finding.value, finding.unit),
                ", limit ",
                value_shown(finding.limit, finding.unit),
                f": {margin}." if margin else ".",
            )
        )
    if any(means not in finding.detail for means in finding.assumed):
        yield Para((Strong("Rests on assumed:"), f" {'; '.join(finding.assumed)}"))
    key = Number(finding.rule.key)
    yield Para((f"Source: {source_words(finding.rule.source)}. Rule ", key))


def missing_cards(missing: Missing, *, rules: bool = True) -> Cards:
    """Return what the build sheet does not say, by the thing that it is of."""
    tone, mark = SEVERITY[Severity.UNKNOWN].tone, severity_of(Severity.UNKNOWN)
    cards = [
        Item((mark, " ", Strong(thing)), (Items(_asked(way, rules=rules) for way in ways),), tone)
        for thing, ways in missing.asked.items()
    ]
    if missing.follow:
        more = count_of(len(missing.follow), "more unknown")
        told = Items((Strong(f.about), f": {f.detail}") for f in missing.follow)
        fold = Fold(f"{more}, cleared by the above", (told,), open_=True)
        cards.append(Item("", (fold,), tone))
    return Cards(cards)


def _asked(way: WayOut, *, rules: bool) -> Item:
    """Return one thing to find out, with what waits for it."""
    details = " ".join(dict.fromkeys(f.detail for f in way.findings))
    many = len(way.findings)
    waits = f" {many} checks wait for it." if many > 1 else ""
    then = (Para(f"{details}{waits}", "soft"), *((_rules(way),) if rules else ()))
    return Item(Strong(way.remedy), then)


def held_items(findings: Iterable[Finding]) -> Items:
    """Return what holds a design up, where there is nothing to do yet but to clear it."""
    return Items((Strong(finding.about), f": {finding.detail}") for finding in findings)


def detail_items(findings: Iterable[Finding]) -> Items:
    """Return what was found, without what to do: of a design that may not be built yet."""
    return Items(
        Item(
            (severity_of(finding.severity), " ", Strong(finding.about), f": {finding.detail}"),
            tone=SEVERITY[finding.severity].tone,
        )
        for finding in findings
    )


def way_items(ways: Iterable[WayOut]) -> Items:
    """Return findings in short, each way out once, without the rules behind them."""
    return Items(map(_way, ways))


def _way(way: WayOut) -> Item:
    first, *others = way.findings
    severity = first.severity
    then = [Para(_found(finding)) for finding in others]
    if way.remedy:
        then.append(Para(f"→ {way.remedy}", "strong"))
    return Item((severity_of(severity), " ", _found(first)), then, SEVERITY[severity].tone)


def pass_table(findings: Sequence[Finding]) -> Table:
    """Return the passes as evidence, thing by thing, with the margin of each.

    On paper the rows of a thing run on as one paragraph.
    """
    things: dict[str, list[Finding]] = {}
    for finding in findings:
        things.setdefault(finding.about, []).append(finding)
    rows: list[Row | Group] = []
    for thing, passed in things.items():
        rows += [Group(thing), *map(_pass, passed)]
    words = SEVERITY[Severity.OK]
    return Table(
        (Column("what was found"), Column("margin", number=True)),
        rows,
        f"{words.glyph} {words.word}: {count_of(len(findings), 'check')} passed",
        kind="evp-passes",
        named=False,
        twice=True,
    )


def _pass(finding: Finding) -> Row:
    doubt = (Doubt(),) if finding.assumed else ()
    return Row(((finding.detail, *doubt), margin_words(finding.margin, finding.unit)))


def held(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Return what is to be kept in mind, the gravest first."""
    hard = [f for f in findings if f.severity >= Severity.CAUTION]
    return tuple(sorted(hard, key=lambda f: -f.severity))
