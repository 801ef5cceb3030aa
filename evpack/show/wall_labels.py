"""A label for every module of the pack, to be cut out and stuck on."""

from __future__ import annotations

from evpack.base.wording import say_up
from evpack.describe.build import Build
from evpack.outcome.design import Design
from evpack.show.clean import prose
from evpack.show.words import told

BLANK = '<span class="blank"></span>'
SHORT = '<span class="blank short"></span>'
# Which terminal is plus is read off the module with a meter: a printed sign could be stuck on
# the wrong way round, and a string joined by it.
_POLE = '<span class="pole" role="img" aria-label="blank for plus or minus"></span>'


def labels_sheet(design: Design) -> str:
    """Return a label for each place in the pack."""
    pack = design.build.pack
    labels = "".join(
        _label(design.build, string, place)
        for string in range(1, pack.strings + 1)
        for place in range(1, pack.modules_in_series + 1)
    )
    return (
        "<p>Place 1 is the module whose minus is the minus of its string. Measure which terminal "
        "is plus, then write + and − into the circles. Cut along the broken lines.</p>"
        f'<div class="labels">{labels}</div>'
    )


def _label(build: Build, string: int, place: int) -> str:
    module, pack = build.pack.module, build.pack
    highest = say_up(float(module.terminals_highest.m), "V")
    return (
        f'<section class="module-label"><div class="poles">{_POLE}'
        f'<b class="place">String {string} · {place} of {pack.modules_in_series}</b>{_POLE}</div>'
        f'<p class="volts">{prose(told(module.terminals_nominal))}, up to {prose(highest)} DC</p>'
        "<p><b>Always live: it cannot be switched off.</b></p>"
        f"<p>{prose(module.name)} · {prose(module.chemistry.name)} · "
        f"{prose(told(module.capacity))} · {prose(told(module.energy))}</p>"
        f"<p>serial {BLANK}</p><p>at rest {SHORT} V, date {SHORT}</p></section>"
    )
