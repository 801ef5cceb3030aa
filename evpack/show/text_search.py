"""Searches in plain text."""

from __future__ import annotations

from evpack.outcome.search import Candidate, Grown, Ranking, TradeOff, WaysOut
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
from evpack.show.text_nouns import Page, tell
from evpack.show.words import CAUTIONS


def _candidate(candidate: Candidate, page: Page, money: str = "") -> None:
    price = "" if candidate.price is None else f", {priced(candidate, money)}"
    page.say(f"{_in_short(candidate)}, modules left {left(candidate, money)}{price}", 2, hang=4)


def _in_short(candidate: Candidate) -> str:
    return (
        f"{mark_of(candidate).glyph} {candidate.name}: {reachable(candidate)} AC reachable, "
        f"{everyday(candidate)} AC every day, margin {margin(candidate)}"
    )


@tell.register
def _(ranking: Ranking, page: Page) -> None:
    page.head(ranking.title)
    page.say(ranking.asked)
    if ranking.note:
        page.say(ranking.note)
    page.head("What may be built, best first")
    if not ranking.winners:
        page.say("None of them.", 2)
    for candidate in ranking.winners[:SHOWN]:
        _candidate(candidate, page, ranking.money)
    _more(page, len(ranking.winners) - SHOWN)
    lost = losers(ranking)
    if lost:
        page.head("What may not, the nearest first, and why")
        for candidate in lost[:LOST]:
            page.say(f"{mark_of(candidate).glyph} {candidate.name}", 2, hang=4)
            page.say(why_lost(candidate), 6)
        _more(page, len(lost) - LOST)
    page.gap()
    page.say(CAUTIONS[0])


def _more(page: Page, more: int) -> None:
    if more > 0:
        page.say(f"And {more} more.", 2)


@tell.register
def _(found: WaysOut, page: Page) -> None:
    page.head(f"{found.build.title}: what would clear it")
    if found.now.go:
        page.say("Nothing holds it up.")
        return
    if found.to_go:
        page.say("Each way was carried through the whole design.")
        for number, way in enumerate(found.to_go, start=1):
            page.say(f"{number}. {way.says}", 2, hang=5)
            page.say(f"{after_words(way)}; {cost_words(way)}{open_words(way)}.", 5)
    else:
        page.say(nothing_found(found))
        for way in found.nearest:
            page.say(f"nearest: {way.says}", 2, hang=5)
            page.say(f"{after_words(way)}", 5)
    if found.note:
        page.say(found.note)
    page.head("One by one")
    for held, ways in found.one_by_one:
        page.say(f"{'✕' if held.stop else '?'} {reason(held)}", 2, hang=4)
        for way in ways:
            page.say(f"→ {way.says}: {cost_words(way)}{open_words(way)}", 6, hang=8)
        if not ways:
            page.say(f"No single change clears it. {held.remedy}", 6, hang=8)
    page.gap()
    page.say(CAUTIONS[0])


@tell.register
def _(grown: Grown, page: Page) -> None:
    page.head(f"{grown.build.title}: what stays valid when it grows")
    if not grown.now.go:
        page.say(NOTHING_TO_BUY)
    for way in grown.ways:
        page.say(f"{mark_of(way.candidate).glyph} {way.candidate.name}", 2, hang=4)
        for held in way.new_limits:
            page.say(f"then held up: {held}", 6, hang=8)
        for part in way.outgrown if grown.now.go else ():
            page.say(f"{part.what}: {grown_words(part)}", 6, hang=8)
        if not way.outgrown and not way.new_limits:
            page.say("Everything stays as it is.", 6)
    page.gap()
    page.say(CAUTIONS[0])


@tell.register
def _(found: TradeOff, page: Page) -> None:
    page.head(f"{found.build.title}: what is gained and given up")
    if not found.front:
        page.say(f"None of the {found.tried} designs that were carried out may be built.")
        return
    page.say(f"Held against one another: {found.weighed}. None of these beats another in all.")
    page.say(found.note)
    for number, candidate in choices(found):
        life = "" if candidate.life is None else f", {years(candidate)} years"
        cost = "" if not found.money else f", cost {amount(candidate.cost, found.money)}"
        page.say(
            f"{number}. {_in_short(candidate)}{life}{cost}, modules left "
            f"{left(candidate, found.money)}",
            2,
            hang=6,
        )
    page.say(beaten_words(found), 2)
    page.gap()
    page.say(CAUTIONS[0])
