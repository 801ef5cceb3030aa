"""What a search found, in the words that the page and the plain text share."""

from __future__ import annotations

from evpack.base.wording import about, say, say_up
from evpack.outcome.search import Candidate, Held, Outgrown, Ranking, TradeOff, Way, WaysOut
from evpack.show.words import VERDICT, Words
from evpack.simulate.ageing_years import MOST

SHOWN = 12  # candidates of a ranking that may be built
LOST = 10  # those told of that may not
_REASONS = 2  # of one candidate


def mark_of(candidate: Candidate) -> Words:
    """Return glyph, word and tone of a candidate's verdict."""
    return VERDICT[candidate.verdict]


def energy(watt_hours: float | None, *, rough: bool = False) -> str:
    """Return an energy, or that it is not known; on an assumed curve it has two digits at most.

    They serve to hold one candidate against another: on all of them the curve is the same.
    """
    if watt_hours is None:
        return "–"
    return about(watt_hours, watt_hours, "Wh") if rough else say(watt_hours, "Wh")


def reachable(candidate: Candidate) -> str:
    """Return the reachable energy out of the inverter."""
    return energy(candidate.usable_ac, rough=candidate.rough)


def everyday(candidate: Candidate) -> str:
    """Return the energy of every day out of the inverter."""
    return energy(candidate.everyday_ac, rough=candidate.rough)


def margin(candidate: Candidate) -> str:
    """Return how near the nearest check comes to its limit."""
    return "–" if candidate.margin is None else say(candidate.margin, "")


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


def amount(price: float | None, money: str = "") -> str:
    """Return a sum of money, or that it is not known."""
    return "–" if price is None else f"{price:,.0f} {money}".strip()


def priced(candidate: Candidate, money: str = "") -> str:
    """Return what the devices cost, where the list tells it."""
    return amount(candidate.price, money)


def years(candidate: Candidate) -> str:
    """Return the least and the most years that models tell, or that they are not known."""
    if candidate.life is None:
        return "–"
    least, most = candidate.life
    more = " or more" if most >= MOST else ""
    return f"{least:.1f} to {most:.1f}{more}"


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
    words = f"{mark_of(candidate).glyph} {mark_of(candidate).word.lower()}"
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
