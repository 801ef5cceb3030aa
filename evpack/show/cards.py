"""Cards to print: a test card and a label for every module of a heap."""

from __future__ import annotations

from evpack.base.wording import say
from evpack.describe.batch import FAULTS, Batch
from evpack.outcome.matching import GradedModule, Matching
from evpack.show.clean import escaped, prose
from evpack.show.matching import CAUTIONS, GLYPH, NEXT

# Everything stands in the page: nothing is loaded, nothing runs.
_STYLE = """
body { font: 12px/1.35 "Helvetica Neue", Arial, "Liberation Sans", "DejaVu Sans Condensed",
  sans-serif; color: #1c232b;
  /* Whatever font is there, its letters are made as wide as those of Arial. */
  font-size-adjust: ch-width .556; text-rendering: geometricPrecision;
  background: #fff; margin: 8mm; }
h1 { font-size: 16px; } h2 { font-size: 14px; margin: 0 0 1mm; }
.cards { display: grid; grid-template-columns: repeat(auto-fill, minmax(88mm, 1fr)); gap: 4mm; }
.card, .label { border: 1px solid #1c232b; padding: 3mm; break-inside: avoid; }
.label { border-width: 2px; }
.big { font-size: 22px; font-weight: 700; }
table { border-collapse: collapse; width: 100%; }
th, td { border-bottom: 1px solid #c9d0d7; text-align: left; padding: 1mm; font-weight: 400; }
td.blank { width: 34%; } .soft { color: #55606c; }
.look { white-space: nowrap; }
.box { display: inline-block; width: 3mm; height: 3mm; border: 1px solid #1c232b; }
.break { break-before: page; }
@page { margin: 10mm; }
@media print { body { margin: 0; } .cards { display: block; } .card, .label { width: 86mm;
  float: left; margin: 0 3mm 3mm 0; box-sizing: border-box; } .break { clear: both; } }
"""


def cards_html(matching: Matching) -> str:
    """Return one page that prints a test card and a label for every module.

    Everything typed is escaped; nothing in it runs or loads.
    """
    batch = matching.batch
    string_of = {
        name: number
        for number, names in enumerate(
            () if matching.grouping is None else matching.grouping.strings, start=1
        )
        for name in names
    }
    cards = "".join(_card(batch, graded) for graded in matching.graded)
    labels = "".join(
        _label(graded, string_of.get(graded.module.name)) for graded in matching.graded
    )
    items = "".join(f"<li>{escaped(words)}</li>" for words in CAUTIONS)
    return (
        '<!DOCTYPE html><html lang="en"><head><meta charset="utf-8">'
        '<meta http-equiv="Content-Security-Policy" content="default-src \'none\'; '
        "style-src 'unsafe-inline'\">"
        f"<title>{escaped(batch.title)}: test cards</title><style>{_STYLE}</style></head><body>"
        f"<h1>{prose(batch.title)}: test cards</h1><ul>{items}</ul>"
        f'<div class="cards">{cards}</div>'
        f'<h1 class="break">{prose(batch.title)}: labels</h1><div class="cards">{labels}</div>'
        "</body></html>"
    )


def _card(batch: Batch, graded: GradedModule) -> str:
    looks = " ".join(
        f'<span class="look"><span class="box"></span> {escaped(fault)}</span>' for fault in FAULTS
    )
    cells = ", ".join(f"{k}&nbsp;______" for k in range(1, batch.cells_in_series + 1))
    asked = "".join(
        f'<tr><th scope="row">{escaped(what)}</th><td class="blank"></td>'
        f'<td class="soft">{escaped(limit)}</td></tr>'
        for what, limit in _asked(batch)
    )
    return (
        f'<section class="card"><h2>{prose(graded.module.name)}</h2>'
        f'<p class="soft">{prose(batch.title)} · date ____________ · by ____________</p>'
        f"<p><b>Look first.</b> Any of these: stop, and put it outside. {looks}</p>"
        f"<table>{asked}</table>"
        f"<p><b>Cell groups at rest, plus end first, V:</b> {cells}</p>"
        f'<p class="soft">Last grade: {GLYPH[graded.grade]} {escaped(str(graded.grade))}. '
        f"{prose(NEXT[graded.grade])}</p></section>"
    )


def _asked(batch: Batch) -> list[tuple[str, str]]:
    """Return what to read of a module, and the limit beside it."""
    limits = {m.key: m for m in batch.measures}

    def upto(key: str, word: str) -> str:
        measure = limits.get(key)
        return "" if measure is None else f"{word} {say(measure.accept, measure.unit)}"

    return [
        ("rested before, h", "an hour or more"),
        ("temperature, °C", "23 to 27"),
        ("capacity at a third of it in current, Ah", upto("capacity", "of new, at least")),
        ("10 s resistance at half charge, mΩ", upto("resistance", "of new, at most")),
        ("highest minus lowest cell group, mV", upto("spread", "at most")),
        ("voltage after 7 days, V", upto("drift", "lost against the others, at most")),
        ("warmest spot over the air, K", upto("rise", "at most")),
        ("cell group that ended the discharge", ""),
    ]


def _label(graded: GradedModule, string: int | None) -> str:
    module = graded.module
    capacity = "–" if module.capacity is None else say(float(module.capacity.m), "Ah")
    ohms = "–" if module.resistance is None else say(float(module.resistance.m), "Ω")
    stands = "not in a string" if string is None else f"string {string}"
    last = str(module.rests[-1].date) if module.rests else "no date"
    return (
        f'<section class="label"><div class="big">{prose(module.name)}</div>'
        f"<p>{GLYPH[graded.grade]} {escaped(str(graded.grade))} · {escaped(stands)}</p>"
        f"<p>{escaped(capacity)} · {escaped(ohms)} · last read {escaped(last)}</p></section>"
    )
