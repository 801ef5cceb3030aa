"""The live panel of protection: turn cables over and see fuses, diagram and verdict move."""

from __future__ import annotations

from typing import ClassVar

from evpack.decide import decide
from evpack.describe.build import Build
from evpack.design import design
from evpack.outcome.design import Decision, Design
from evpack.show.html import as_html, in_the_way, one_line_figure, protection_missing, verdict_html
from evpack.show.protection_words import cable_tone, fuse_words, least_words, rows_of
from evpack.workbook.cable_choices import cable_choices_of, cable_lines, with_cable_choices
from evpack.workbook.choices import Choice
from evpack.workbook.panel import Panel
from evpack.workbook.regions import framed, grid

_NAMES = {"string": "String", "main": "Main", "charger": "Charger", "array": "Array"}


class ProtectionPanel(Panel):
    """Controls for strings and cables, and the protection that follows, moving at once."""

    regions: ClassVar[tuple[str, ...]] = ("verdict", "figures", "diagram", "found", "schedule")

    def _choices_of(self, build: Build) -> tuple[Choice, ...]:
        return cable_choices_of(build)

    def _changed(self, build: Build, typed: dict[str, int | str]) -> Build:
        return with_cable_choices(build, **typed)

    def _lines(self, before: Build, after: Build) -> str:
        return cable_lines(before, after)

    def _answer(self, build: Build) -> tuple[Decision, dict[str, str]]:
        decision = decide(design(build))
        made = decision.design
        schedule = made.protection
        return decision, {
            "verdict": framed(verdict_html(decision), "evp-beside"),
            "figures": framed(grid(_keys(made))),
            "diagram": framed(one_line_figure(made)),
            "found": framed(in_the_way(decision)),
            "schedule": framed(protection_missing()) if schedule is None else as_html(schedule),
        }


def _keys(made: Design) -> list[tuple[str, str]]:
    """Return the few figures that a person watches while turning a cable over."""
    schedule = made.protection
    if schedule is None:
        return []
    rows = []
    for circuit, fuse, cable in rows_of(schedule):
        name = f"{_NAMES[circuit.kind]} {circuit.device}".strip()
        if fuse is not None:
            words = fuse_words(fuse)
            rows.append((f"{name}: fuse", f"{words.glyph} {words.word}".strip()))
        if cable is not None:
            words = cable_tone(cable)
            rows.append((f"{name}: cable", f"{words.glyph} {words.word}"))
    if schedule.faults:
        worst = max((band.high for band in schedule.faults), key=lambda most: most.value)
        rows.append(("Dead short, at most", least_words(worst)))
    return rows
