"""The cable schedule in HTML: every circuit with its cable, and each test beside its limit."""

from __future__ import annotations

from collections.abc import Sequence

from evpack.outcome.protection import CableChoice, CableTest, Circuit, ProtectionSchedule
from evpack.show.clean import prose
from evpack.show.html_explained import explained_together
from evpack.show.html_tables import cell, folded, how, number, table
from evpack.show.protection_words import (
    CABLE_TEST,
    SMALLEST,
    cable_name,
    cable_tone,
    cables_of,
    length_words,
    outcome_of,
    run_words,
    size_words,
)

_HEADS = ("from, to", "cable", "how many", "length, one way", "tests")
_WIDTHS = (34, 26, 9, 17, 14)
_LEGEND = (
    "A cable is named by where it begins and ends, with the place of its fuse. Ampacity is the "
    "current that it carries for good without growing too hot."
)


def cable_table(schedule: ProtectionSchedule) -> str:
    """Return the cable schedule, in the order of the circuits."""
    return _table("Cable schedule", cables_of(schedule))


def cables_alone(cables: tuple[CableChoice, ...]) -> str:
    """Return cables that are shown without their circuits."""
    return _table("Cables", tuple((cable, None) for cable in cables))


def _table(caption: str, cables: Sequence[tuple[CableChoice, Circuit | None]]) -> str:
    rows = "".join(cable_rows(cable, circuit) for cable, circuit in cables)
    numbers = (
        (cable_name(cable, circuit), number)
        for cable, circuit in cables
        for test in cable.tests
        for number in (test.value, test.limit)
    )
    return (
        table(caption, _HEADS, rows, rows=False, widths=_WIDTHS, kind="evp-cards")
        + f'<p class="evp-soft">{_LEGEND}</p>'
        + explained_together(numbers)
    )


def cable_rows(cable: CableChoice, circuit: Circuit | None) -> str:
    """Return one cable as two rows that stay together: what it is, then its tests."""
    run, words = cable.run, cable_tone(cable)
    size = "? not known" if run is None else run_words(run)
    tone = " evp-unknown" if run is None else ""
    fused = circuit is not None and circuit.needs_fuse
    at = f'<br/><span class="evp-of">fuse: {prose(cable.place)}</span>' if fused else ""
    mark = f'<span class="evp-{words.tone} evp-result">{words.glyph} {words.word}</span>'
    first = (
        f'<tr><th scope="row">{prose(cable_name(cable, circuit))}{at}</th>'
        f'<td class="evp-enter{tone}">{prose(size)}</td>'
        f"{cell(_HEADS[2], str(cable.count))}"
        f"{cell(_HEADS[3], number('–' if run is None else length_words(run.length.m)))}"
        f"{cell(_HEADS[4], mark)}</tr>"
    )
    under = f'<td colspan="{len(_HEADS) - 1}">{_tests(cable, circuit)}{_smallest(cable)}</td>'
    return f'<tbody>{first}<tr class="evp-under"><td></td>{under}</tr></tbody>'


def _tests(cable: CableChoice, circuit: Circuit | None) -> str:
    """Return the tests: what did not pass stands open, what passed is folded."""
    if cable.run is None:
        where = "" if circuit is None else f" under {circuit.run_key}"
        return f"<p>Describe the cable{prose(where)}.</p>"
    open_ = [test for test in cable.tests if test.passes is not True]
    passed = [test for test in cable.tests if test.passes is True]
    parts = [_line(test) for test in open_]
    if passed:
        names = ", ".join(CABLE_TEST.get(test.name, test.name) for test in passed)
        parts.append(folded(f"✓ {prose(names)}", "".join(_line(test) for test in passed)))
    return "".join(parts)


def line_of(test: CableTest) -> str:
    """Return one test that stands alone, and how its value and its limit come about."""
    known = [worked for worked in (test.value, test.limit) if worked is not None]
    told = "".join(how(worked, named=True) for worked in known)
    return _line(test) + (folded("how it comes about", told) if told else "")


def _line(test: CableTest) -> str:
    """Return one test on a line: its mark, the value beside its limit."""
    words = outcome_of(test)
    return (
        f'<p><span class="evp-{words.tone} evp-result">{words.glyph} {words.word}</span> '
        f"{prose(words.sentence)}.</p>"
    )


def _smallest(cable: CableChoice) -> str:
    """Return the smallest size that would pass, and which test decides."""
    if cable.smallest is None:
        return f"<p>{prose(cable.reason)}</p>" if cable.reason else ""
    size = size_words(cable.smallest.size, cable.smallest.area)
    decides = CABLE_TEST.get(cable.decided_by, cable.decided_by)
    why = f"; what decides: {prose(decides)}" if decides else ", the thinnest of its table"
    return f"<p>{SMALLEST}: <b>{prose(size)}</b>{why}.</p>"
