"""What a search found: rankings, ways out, growth, trade-offs."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from evpack.base.wording import COUNT, say, say_up
from evpack.outcome.search import (
    Candidate,
    Grown,
    Growth,
    Held,
    Outgrown,
    Ranking,
    TradeOff,
    Way,
    WaysOut,
)
from evpack.show.doc import (
    Column,
    Doc,
    Figure,
    Head,
    Item,
    Items,
    Para,
    Row,
    Strong,
    Table,
    Value,
    document,
    kept,
    mark_of,
)
from evpack.show.draw.trade_off import amount, energy, reachable, trade_off_svg, years
from evpack.show.pieces import and_more
from evpack.show.words import CAUTIONS, VERDICT

SHOWN = 12  # candidates of a ranking that may be built
LOST = 10  # those told of that may not
_REASONS = 2  # of one candidate
_CHOICES = 60  # of a trade-off that are told
_MARGIN = (
    "Margin: how near the nearest check of windows and currents comes to its limit, as a share of "
    "it. Limits: how many cautions it works under."
)

# --- Words ----------------------------------------------------------------------------------------


def left(candidate: Candidate, money: str = "") -> str:
    """Return how many modules stay on the heap, with what they hold, or are missing from it."""
    if candidate.left_out < 0:
        return f"{-candidate.left_out} too few"
    if not candidate.left_out or candidate.stranded is None:
        return str(candidate.left_out)
    held = [say(candidate.stranded, "Wh")]
    if candidate.stranded_worth is not None:
        held.append(amount(candidate.stranded_worth, money))
    return f"{candidate.left_out} ({', '.join(held)})"


def priced(candidate: Candidate, money: str = "") -> str:
    """Return what the devices cost, where the list tells it."""
    return amount(candidate.price, money)


def choices(found: TradeOff) -> tuple[tuple[int, Candidate], ...]:
    """Return the candidates of a trade-off with the numbers they are picked by."""
    return tuple(enumerate(found.front, start=1))


def beaten_words(found: TradeOff) -> str:
    """Return how many designs there were, and how many of them need not be looked at."""
    others = len(found.others)
    said = f"{found.tried:,} designs were carried out."
    if not others:
        return f"{said} No other may be built."
    return (
        f"{said} {others} other{'' if others == 1 else 's'} may be built too, but one of these is "
        "as good or better in everything."
    )


def reason(held: Held) -> str:
    """Return why something is held up, with the thing that it is of."""
    return f"{held.about}: {held.detail}"


def why_lost(candidate: Candidate) -> str:
    """Return shortly why a candidate may not be built."""
    ordered = sorted(candidate.held_by, key=lambda held: not held.stop)
    told = list(dict.fromkeys(reason(held) for held in ordered))
    words = " ".join(told[:_REASONS])
    more = len(told) - _REASONS
    return words + (f" And {more} more." if more > 0 else "")


def losers(ranking: Ranking) -> tuple[Candidate, ...]:
    """Return those that may not be built, nearest first."""
    return tuple(candidate for candidate in ranking.candidates if not candidate.go)


def cost_words(way: Way) -> str:
    """Return what a way costs in energy."""
    costs, everyday_costs, rough = way.costs_ac, way.costs_everyday_ac, way.candidate.rough
    if costs is None:
        return "its price in energy cannot be told"
    words = _change(costs, rough=rough)
    if everyday_costs is None or abs(everyday_costs - costs) < 1:
        return f"{words} of what is reachable"
    return f"{words} of what is reachable, {_change(everyday_costs, rough=rough)} of every day's"


def _change(costs: float, *, rough: bool) -> str:
    """Say what a way costs out of the inverter, or gains."""
    if abs(costs) < 1:
        return "it costs nothing"
    return f"it {'gains' if costs < 0 else 'costs'} {energy(abs(costs), rough=rough)} AC"


def after_words(way: Way) -> str:
    """Return what the whole design says after a way."""
    candidate = way.candidate
    verdict = VERDICT[candidate.verdict]
    words = f"{verdict.glyph} {verdict.word.lower()}"
    if candidate.go:
        return f"{words}, {reachable(candidate)} AC reachable"
    return f"{words}; still: {why_lost(candidate)}"


def open_words(way: Way) -> str:
    """Return that a way brings things to find out; empty where it brings none."""
    if not way.to_find_out:
        return ""
    things = "one thing" if way.to_find_out == 1 else f"{way.to_find_out} things"
    return f"; then {things} more must be found out"


def nothing_found(found: WaysOut) -> str:
    """Return what is said where no way was found after which it may be built."""
    open_ = [held for held in found.now.held_by if not held.stop]
    said = (
        f"No change of those that were tried ({found.tried} designs) makes it a pack that may be "
        "built."
    )
    if open_:
        said += " Some of it is only not known: find that out first."
    return said


NOTHING_TO_BUY = "There is nothing to buy yet: the build as it is may not be built."


def grown_words(outgrown: Outgrown) -> str:
    """Return what must be how large, now and then."""
    now, then = (say_up(value, outgrown.unit) for value in (outgrown.now, outgrown.then))
    change = f"{now} now, {then} then"
    return f"{change}: changed when it grows" if outgrown.swap else f"{change}: buy for then"


# --- Documents ------------------------------------------------------------------------------------

_COLUMNS = (
    Column("", 30),
    Column("reachable, AC", 13, number=True),
    Column("every day, AC", 13, number=True),
    Column("margin", 9, number=True),
    Column("modules left", 16),
    Column("limits", 8, number=True),
    Column("price", 11, number=True),
    Column("years of life", 13, number=True),
    Column("cost", 12, number=True),
)


def _named(candidate: Candidate, number: int | None = None) -> tuple[object, ...]:
    lead = "" if number is None else f"{number}. "
    return (lead, mark_of(VERDICT[candidate.verdict], leads=True), " ", candidate.name)


def _candidates(caption: str, shown: Iterable[tuple[int | None, Candidate]], money: str) -> Table:
    """Return candidates side by side; what none of them has is left out."""
    rows = (
        Row(
            (
                _named(candidate, number),
                Value(candidate.usable_ac, "Wh", rough=candidate.rough),
                Value(candidate.everyday_ac, "Wh", rough=candidate.rough),
                Value(candidate.margin, ""),
                left(candidate, money),
                Value(candidate.limits, COUNT),
                priced(candidate, money),
                years(candidate),
                amount(candidate.cost, money),
            )
        )
        for number, candidate in shown
    )
    columns, filled = kept(_COLUMNS, rows)
    return Table(columns, filled, caption, cards=True)


@document.register
def _(ranking: Ranking) -> Doc:
    yield Head(ranking.title)
    yield Para(f"{ranking.asked} {ranking.note}")
    if ranking.winners:
        shown = ((None, candidate) for candidate in ranking.winners[:SHOWN])
        yield _candidates("What may be built, best first", shown, ranking.money)
        yield from and_more(len(ranking.winners) - SHOWN)
        yield Para(_MARGIN, "soft")
    else:
        yield Para("None of them may be built.", "strong")
    lost = losers(ranking)
    if lost:
        yield Table(
            (Column("what may not be built, the nearest first", 36), Column("why", 64)),
            (Row((_named(c), why_lost(c))) for c in lost[:LOST]),
            cards=True,
        )
        yield from and_more(len(lost) - LOST)
    yield Para(CAUTIONS[0], "soft")


@document.register
def _(found: WaysOut) -> Doc:
    yield Head(f"{found.build.title}: what would clear it")
    if found.now.go:
        yield Para("Nothing holds it up.")
        return
    if found.to_go:
        yield Para("Each way was carried through the whole design.")
        yield _ways(found.to_go)
    else:
        yield Para(nothing_found(found))
        if found.nearest:
            yield Para("The nearest:")
            yield _ways(found.nearest)
    if found.note:
        yield Para(found.note, "soft")
    yield Table(
        (Column("what holds it up", 52), Column("what clears it, alone", 48)),
        (
            Row((f"{'✕' if held.stop else '?'} {reason(held)}", _alone(held, ways)))
            for held, ways in found.one_by_one
        ),
        "One by one",
        cards=True,
    )
    yield Para(CAUTIONS[0], "soft")


def _ways(ways: Sequence[Way]) -> Items:
    return Items(
        (
            Item(
                Strong(way.says),
                (Para(f"{after_words(way)}; {cost_words(way)}{open_words(way)}."),),
            )
            for way in ways
        ),
        numbered=True,
    )


def _alone(held: Held, ways: Sequence[Way]) -> object:
    if not ways:
        return f"No single change. {held.remedy}"
    return Items(f"{way.says}: {cost_words(way)}{open_words(way)}" for way in ways)


@document.register
def _(grown: Grown) -> Doc:
    yield Head(f"{grown.build.title}: what stays valid when it grows")
    if not grown.now.go:
        yield Para(NOTHING_TO_BUY, "strong")
    for way in grown.ways:
        yield from _growth(way, settled=grown.now.go)
    yield Para(CAUTIONS[0], "soft")


def _growth(way: Growth, *, settled: bool) -> Doc:
    yield Head(_named(way.candidate), level=3)
    if way.new_limits:
        yield Para("Then held up by:")
        yield Items(way.new_limits)
    if settled and way.outgrown:
        yield Table(
            (Column("what is outgrown", 55), Column("", 45)),
            (Row((part.what, grown_words(part))) for part in way.outgrown),
        )
    elif settled and not way.new_limits:
        yield Para("Everything stays as it is.")


@document.register
def _(found: TradeOff) -> Doc:
    yield Head(f"{found.build.title}: what is gained and given up")
    if not found.front:
        yield Para(
            f"None of the {found.tried} designs that were carried out may be built: none of the "
            "arrangements, at none of the charge targets."
        )
    else:
        yield Para(f"Held against one another: {found.weighed}. {found.note}")
        yield Figure(
            lambda: trade_off_svg(found),
            "Each point is one design that may be built, named at it or at the end of its line.",
        )
        shown = choices(found)[:_CHOICES]
        yield _candidates("None of these beats another in all", shown, found.money)
        yield from and_more(len(found.front) - _CHOICES)
        yield Para(f"{beaten_words(found)} {_MARGIN}", "soft")
    yield Para(CAUTIONS[0], "soft")
