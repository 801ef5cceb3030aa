"""The cable schedule in HTML: every circuit with its cable, and each test beside its limit."""

from __future__ import annotations

from evpack.outcome.circuits import Circuit
from evpack.outcome.protection import CableChoice, CableTest, ProtectionSchedule
from evpack.show.clean import prose
from evpack.show.html_tables import cell, folded, how, number, table
from evpack.show.protection_words import (
    CABLE_TEST,
    cable_tone,
    cables_of,
    length_words,
    outcome_of,
    run_words,
    size_words,
)

_HEADS = ("circuit", "cable", "from", "to", "how many", "length, one way", "tests")
_WIDTHS = (23, 21, 11, 15, 7, 12, 11)


def cable_table(schedule: ProtectionSchedule) -> str:
    """Return the cable schedule, in the order of the circuits."""
    rows = "".join(cable_rows(cable, circuit) for cable, circuit in cables_of(schedule))
    return table("Cable schedule", _HEADS, rows, rows=False, widths=_WIDTHS, kind="evp-cards")


def cables_alone(cables: tuple[CableChoice, ...]) -> str:
    """Return cables that are shown without their circuits."""
    rows = "".join(cable_rows(cable, None) for cable in cables)
    return table("Cables", _HEADS, rows, rows=False, widths=_WIDTHS, kind="evp-cards")


def cable_rows(cable: CableChoice, circuit: Circuit | None) -> str:
    """Return one cable as two rows that stay together: what it is, then its tests."""
    run, words = cable.run, cable_tone(cable)
    size = "? not known" if run is None else run_words(run)
    tone = " evp-unknown" if run is None else ""
    ends = ("–", "–") if circuit is None else (circuit.source, circuit.end)
    mark = f'<span class="evp-{words.tone} evp-result">{words.glyph} {words.word}</span>'
    first = (
        f'<tr><th scope="row">{prose(cable.place)}</th>'
        f'<td class="evp-enter{tone}">{prose(size)}</td>'
        f"{cell(_HEADS[2], prose(ends[0]))}{cell(_HEADS[3], prose(ends[1]))}"
        f"{cell(_HEADS[4], str(cable.count))}"
        f"{cell(_HEADS[5], number('–' if run is None else length_words(run.length.m)))}"
        f"{cell(_HEADS[6], mark)}</tr>"
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
    parts = [line_of(test) for test in open_]
    if passed:
        names = ", ".join(CABLE_TEST.get(test.name, test.name) for test in passed)
        parts.append(folded(f"✓ {prose(names)}", "".join(line_of(test) for test in passed)))
    return "".join(parts)


def line_of(test: CableTest) -> str:
    """Return one test: its mark, the value beside its limit, and how both come about."""
    words = outcome_of(test)
    line = (
        f'<p><span class="evp-{words.tone} evp-result">{words.glyph} {words.word}</span> '
        f"{prose(words.sentence)}.</p>"
    )
    known = [worked for worked in (test.value, test.limit) if worked is not None]
    if not known:
        return line
    told = "".join(how(worked, named=True) for worked in known)
    if test.passes is True:
        return line + told
    return line + folded("how it comes about", told)


def _smallest(cable: CableChoice) -> str:
    """Return the smallest size that would pass, and which test decides."""
    if cable.smallest is None:
        return f"<p>{prose(cable.reason)}</p>" if cable.reason else ""
    size = size_words(cable.smallest.size, cable.smallest.area)
    decides = CABLE_TEST.get(cable.decided_by, cable.decided_by)
    why = f"; what decides: {prose(decides)}" if decides else ", the thinnest of its table"
    return f"<p>Smallest that passes every test: <b>{prose(size)}</b>{why}.</p>"
