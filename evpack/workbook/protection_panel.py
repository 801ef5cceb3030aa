"""The live panel of protection: turn cables over and see fuses, diagram and verdict move."""

from __future__ import annotations

from collections.abc import Mapping
from typing import ClassVar

from evpack.decide import decide
from evpack.describe.build import Build
from evpack.design import design
from evpack.outcome.design import Decision, Design
from evpack.outcome.protection import CableChoice, FuseChoice
from evpack.show.cables import cable_tone, outcome_of, rows_of
from evpack.show.clean import prose
from evpack.show.doc import least
from evpack.show.fuses import fuse_words
from evpack.show.html import in_the_way, verdict_html
from evpack.show.html_tables import how
from evpack.show.protection import one_line_figure, schedule_of
from evpack.show.to_html import to_html
from evpack.show.words import Words
from evpack.workbook.cable_choices import cable_choices_of, cable_entries, with_cable_choices
from evpack.workbook.choices import Choice, Entries
from evpack.workbook.panel import Panel
from evpack.workbook.regions import framed, grid

_NAMES = {"string": "String", "main": "Main", "charger": "Charger", "array": "Array"}


class ProtectionPanel(Panel):
    """Controls for strings and cables, and the protection that follows, moving at once."""

    regions: ClassVar[tuple[str, ...]] = ("verdict", "figures", "diagram", "found", "schedule")
    what_if: ClassVar[Mapping[str, int]] = {"strings": 4, "main_size": 6}
    bars: ClassVar[bool] = False

    def _choices_of(self, build: Build) -> tuple[Choice, ...]:
        return cable_choices_of(build)

    def _changed(self, build: Build, typed: dict[str, int | str]) -> Build:
        return with_cable_choices(build, **typed)

    def _entries(self, before: Build, after: Build) -> Entries:
        return cable_entries(before, after)

    def _keys(self, made: Design, *, entered: bool) -> list[tuple[str, ...]]:
        del entered  # none of them is
        return _keys(made)

    def _answer(self, build: Build, *, why: bool) -> tuple[Decision, dict[str, str]]:
        decision = decide(design(build))
        made = decision.design
        return decision, {
            "verdict": framed(verdict_html(decision), "evp-beside"),
            "figures": framed(grid(_keys(made), opened=why)),
            "diagram": framed(to_html((one_line_figure(made),))),
            "found": framed(in_the_way(decision)),
            "schedule": framed(to_html(schedule_of(made))),
        }


def _keys(made: Design) -> list[tuple[str, ...]]:
    """Return the few figures that a person watches while turning a cable over, each with why."""
    schedule = made.protection
    if schedule is None:
        return []
    rows: list[tuple[str, ...]] = []
    for circuit, fuse, cable in rows_of(schedule):
        name = f"{_NAMES[circuit.kind]} {circuit.device}".strip()
        if fuse is not None:
            told = _told(fuse_words(fuse), withheld=schedule.withheld)
            rows.append((f"{name}: fuse", told, _why_fuse(fuse)))
        if cable is not None:
            told = _told(cable_tone(cable), withheld=schedule.withheld)
            rows.append((f"{name}: cable", told, _why_cable(cable)))
    if schedule.faults:
        worst = max((band.high for band in schedule.faults), key=lambda most: most.value)
        rows.append(("Dead short, at most", least(worst).words, how(worst)))
    return rows


def _told(words: Words, *, withheld: bool) -> str:
    """Return what came of a part; of a design that is held up nothing is to be bought by it."""
    if withheld and words.tone == "ok":
        return "not settled: the design does not stand"
    return f"{words.glyph} {words.word}".strip()


def _why_fuse(fuse: FuseChoice) -> str:
    bounds = (bound for bound in (fuse.lower, fuse.upper) if bound is not None)
    return f"<p>{prose(fuse.reason)}</p>" + "".join(how(bound, named=True) for bound in bounds)


def _why_cable(cable: CableChoice) -> str:
    tests = (outcome_of(test) for test in cable.tests)
    lines = "".join(f"<li>{words.glyph} {prose(words.sentence)}</li>" for words in tests)
    return f"<ul>{lines}</ul>" + (f"<p>{prose(cable.reason)}</p>" if cable.reason else "")
