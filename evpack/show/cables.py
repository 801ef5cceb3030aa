"""Cables: how each is named, the size and length it has, its tests beside their limits."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from evpack.base.wording import number, say
from evpack.describe.cabling import Run
from evpack.outcome.protection import (
    CableChoice,
    CableTest,
    Circuit,
    FuseChoice,
    ProtectionSchedule,
)
from evpack.show.doc import (
    Block,
    Column,
    Detail,
    Doc,
    Explained,
    Fold,
    How,
    Mark,
    Para,
    Row,
    Strong,
    Table,
    document,
    least,
    mark_of,
    most,
)
from evpack.show.facts import not_chosen
from evpack.show.words import Words

# What a test of a cable asks, by its name; and what stands before its value and its limit.
CABLE_TEST = {
    "carries": "current for good",
    "guarded": "guarded by its fuse",
    "drop": "voltage drop",
    "drop on surge": "voltage drop on a surge",
    "withstands": "stands a short",
    "small conductor": "thick enough to lie in parallel",
}
_BEFORE = {
    "carries": ("must carry", "carries"),
    "guarded": ("its fuse", "may be at most"),
    "drop": ("lost", "allowed"),
    "drop on surge": ("lost", "allowed"),
    "withstands": ("its fuse lets through", "it stands"),
    "small conductor": ("of the least size that may", "needed"),
}


# --- Words ----------------------------------------------------------------------------------------

_FOOT = 0.3048
_LONG = 30.0  # [m]; above, whole feet
_KCMIL = 0.506707  # [mm²]: a thousand circles of a mil in diameter


def length_words(metres: float) -> str:
    """Write a length in metres and in feet.

    Examples
    --------
    >>> length_words(1.8)
    '1.8 m (5.9 ft)'
    """
    return f"{say(metres, 'm')} ({number(metres / _FOOT, 2 if metres < _LONG else 3)} ft)"


def size_words(size: str, area: float) -> str:
    """Write the size of a conductor with its cross-section the other way round.

    A metric size stands with the gauge that it is not thinner than.

    Examples
    --------
    >>> size_words("2/0 AWG", 67.4), size_words("70 mm2", 70.0), size_words("150 mm2", 150.0)
    ('2/0 AWG (67.4 mm²)', '70 mm² (over 2/0 AWG)', '150 mm² (over 296 kcmil)')
    """
    if not size.endswith(("mm2", "mm²")):
        return f"{size} ({number(area, 3)} mm²)"
    # Gauge n is 0.127 mm · 92^((36 − n) / 39) thick (ASTM B258, from memory).
    gauge = 36 - 39 * math.log(math.sqrt(4 * area / math.pi) / 0.127, 92)
    thinner = math.ceil(gauge - 1e-9)
    if thinner < -3:  # noqa: PLR2004  thicker than 4/0, which is gauge −3
        other = f"{math.floor(area / _KCMIL)} kcmil"
    else:
        other = f"{thinner if thinner > 0 else f'{1 - thinner}/0'} AWG"
    return f"{size.replace('mm2', 'mm²')} (over {other})"


def run_words(run: Run) -> str:
    """Write what a cable is, and how many lie side by side for each pole."""
    if not_chosen(run):
        return "size left open, none settled"
    size = size_words(run.conductor.size, run.conductor.area)
    return size if run.parallel == 1 else f"{run.parallel} × {size} side by side"


def outcome_of(test: CableTest) -> Words:
    """Return glyph, word, sentence and tone of one test of a cable: a value beside its limit."""
    glyph, word, tone = {
        True: ("✓", "passes", "ok"),
        False: ("✕", "fails", "stop"),
        None: ("?", "not known", "unknown"),
    }[test.passes]
    name = CABLE_TEST.get(test.name, test.name)
    usual = ("it is", "at least" if test.at_least else "at most")
    before, limit_is = _BEFORE.get(test.name, usual)
    of_value, of_limit = (most, least) if test.at_least else (least, most)
    value, limit = of_value(test.value).words, of_limit(test.limit).words
    return Words(glyph, word, f"{name}: {before} {value}, {limit_is} {limit}", tone)


def cable_tone(cable: CableChoice) -> Words:
    """Return how a cable stands: the worst of its tests; untested is not passed."""
    if cable.run is None:
        return Words("?", "cable not known", "The cable is not described.", "unknown")
    if not_chosen(cable.run):
        return Words("?", "size not settled", "No size of the tables is settled.", "unknown")
    if any(test.passes is False for test in cable.tests):
        return Words("✕", "fails", "It fails a test.", "stop")
    if not cable.tests or any(test.passes is None for test in cable.tests):
        return Words("?", "not settled", "Not every test could be made.", "unknown")
    return Words("✓", "passes", "It passes every test.", "ok")


def cables_of(schedule: ProtectionSchedule) -> tuple[tuple[CableChoice, Circuit | None], ...]:
    """Return every cable with its circuit; those inside a string have none of their own."""
    circuits = {circuit.place: circuit for circuit in schedule.circuits}
    return tuple((cable, circuits.get(cable.place)) for cable in schedule.cables)


def cable_name(cable: CableChoice, circuit: Circuit | None) -> str:
    """Return what a cable is called: its two ends, where it has a circuit of its own."""
    return cable.place if circuit is None else f"{circuit.source} to {circuit.end}"


def rows_of(
    schedule: ProtectionSchedule,
) -> tuple[tuple[Circuit, FuseChoice | None, CableChoice | None], ...]:
    """Return every circuit with its fuse and its cable; None where there is none."""
    cables = {cable.place: cable for cable in schedule.cables}
    return tuple((c, schedule.fuse_of(c), cables.get(c.place)) for c in schedule.circuits)


# --- Documents ------------------------------------------------------------------------------------

_COLUMNS = (
    Column("from, to", 34),
    Column("cable", 26, entry=True),
    Column("how many", 9, count=True),
    Column("length, one way", 17, number=True),
    Column("tests", 14),
)
# The fuse is chosen anew for each size: a thinner cable also lets less flow into a short.
_SMALLEST = "Smallest that passes every test, with the fuse that would then guard it: "
_LEGEND = (
    "A cable is named by where it begins and ends, with the place of its fuse. Ampacity is the "
    "current that it carries for good without growing too hot."
)


def cable_table(
    cables: Sequence[tuple[CableChoice, Circuit | None]], caption: str = "Cable schedule"
) -> Doc:
    """Yield cables with their tests, then how every number comes about."""
    yield Table(_COLUMNS, (_row(*pair) for pair in cables), caption, cards=True)
    yield Detail((Para(_LEGEND, "soft"),))
    yield Explained(
        (cable_name(cable, circuit), number)
        for cable, circuit in cables
        for test in cable.tests
        for number in (test.value, test.limit)
    )


def _row(cable: CableChoice, circuit: Circuit | None) -> Row:
    run = cable.run
    return Row(
        (
            cable_name(cable, circuit),
            Mark("?", "not known", "unknown") if run is None else run_words(run),
            str(cable.count),
            "–" if run is None else length_words(run.length.m),
            mark_of(cable_tone(cable)),
        ),
        (*_fuse_place(cable, circuit), *_tests(cable, circuit), *_smallest(cable)),
    )


def _fuse_place(cable: CableChoice, circuit: Circuit | None) -> Iterator[Block]:
    if circuit is not None and circuit.needs_fuse:
        yield Detail((Para(f"Fuse: {cable.place}."),))


def _tests(cable: CableChoice, circuit: Circuit | None) -> Iterator[Block]:
    """Yield the tests: what did not pass stands open, what passed is folded."""
    if cable.run is None:
        yield Para(f"Describe the cable{'' if circuit is None else f' under {circuit.run_key}'}.")
        return
    yield from (_line(test) for test in cable.tests if test.passes is not True)
    passed = [test for test in cable.tests if test.passes is True]
    if passed:
        names = ", ".join(CABLE_TEST.get(test.name, test.name) for test in passed)
        yield Fold(f"✓ {names}", map(_line, passed))


def _line(test: CableTest) -> Para:
    """Return one test on a line: its mark, the value beside its limit."""
    words = outcome_of(test)
    return Para((mark_of(words), f" {words.sentence}."))


def _smallest(cable: CableChoice) -> Iterator[Block]:
    """Yield the smallest size that would pass, and which test decides."""
    if cable.smallest is None:
        yield Para(cable.reason)
        return
    decides = CABLE_TEST.get(cable.decided_by, cable.decided_by)
    why = f"; what decides: {decides}" if decides else ", the thinnest of its table"
    size = Strong(size_words(cable.smallest.size, cable.smallest.area))
    yield Para((_SMALLEST, size, f"{why}."))


@document.register
def _(cable: CableChoice) -> Doc:
    yield from cable_table(((cable, None),), "Cables")


@document.register
def _(test: CableTest) -> Doc:
    yield _line(test)
    known = [worked for worked in (test.value, test.limit) if worked is not None]
    yield Fold("how it comes about", (How(worked, named=True) for worked in known))
