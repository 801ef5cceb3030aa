"""A decision: the answer on one screen, and the whole of it, to hand over."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from evpack.base.finding import Finding
from evpack.base.wording import say
from evpack.decide import decide
from evpack.outcome.design import Decision, Design, UsableWindow
from evpack.outcome.protection import FuseChoice, ProtectionSchedule
from evpack.outcome.settings import SettingsSheet
from evpack.show.assumed import Assumed, Assumptions, assumed_in, by_thing
from evpack.show.doc import (
    Block,
    Column,
    Doc,
    Figure,
    Fold,
    Group,
    Head,
    Item,
    Items,
    Only,
    Para,
    Part,
    Row,
    Strong,
    Table,
    Text,
    Tiles,
    Verdict,
    document,
    mark_of,
)
from evpack.show.draw.energy import energy_svg
from evpack.show.draw.ladder import ladder_svg
from evpack.show.figures import energy_numbers, energy_said
from evpack.show.findings import (
    detail_items,
    finding_cards,
    missing_cards,
    pass_table,
    remedy_line,
    way_items,
)
from evpack.show.gather import (
    arrangement,
    missing_in,
    notes,
    passes,
    stops,
    ways_out,
    working_band,
)
from evpack.show.pieces import and_more, not_worked_out
from evpack.show.protection import protects
from evpack.show.settings import in_short, settings_blocks, settings_head
from evpack.show.words import (
    VERDICT,
    cautions,
    count_of,
    only_assumed,
    shown,
    so_far,
    tally,
    worked_words,
)

_MOST = 6  # things told of a list in the answer; the whole has them all


# --- The answer -----------------------------------------------------------------------------------


def answer(decision: Decision) -> Doc:
    """Yield the answer on one screen: verdict, figures, limits or stops, settings, what next."""
    design = decision.design
    confirm = len(assumed_in(design).confirm)
    first, *_ = cautions(decision)
    yield _verdict(decision, confirm)
    yield Para(first)
    yield from tiles(design)
    if decision.go:
        yield from limits(decision)
        if design.settings is not None:
            yield from in_short(design.settings)
    else:
        yield from _held(decision)
    yield Head("What to do next")
    yield Items(_next(decision, confirm), numbered=True)
    yield Para(_closing(decision, confirm), "strong")


def verdict(decision: Decision, *, titled: bool = True) -> Verdict:
    """Return the verdict: glyph, word, sentence, and what it is a verdict on.

    Parameters
    ----------
    titled : bool
        With the title of the build, which a page may have above it already.
    """
    return _verdict(decision, len(assumed_in(decision.design).confirm), titled=titled)


def _verdict(decision: Decision, confirm: int, *, titled: bool = True) -> Verdict:
    """Return the verdict; `confirm` values are to be confirmed first."""
    words, design = VERDICT[decision.verdict], decision.design
    inner: list[Block] = [Para(words.sentence)]
    assumed = only_assumed(confirm)
    if assumed:
        inner.append(Para(Strong(assumed), "only"))
    if titled:
        inner.append(Only("page", (Para(design.build.title, "title"),)))
    inner.append(Para(arrangement(design)))
    return Verdict(mark_of(words), inner, design.build.title)


def tiles(design: Design) -> Iterator[Block]:
    """Yield the figures that a person looks for first; what is not known is left out."""
    rows = [*_energy_tiles(design.usable), *_voltage_tile(design), *_fuse_tile(design.protection)]
    if rows:
        yield Tiles(rows)


def _energy_tiles(usable: UsableWindow | None) -> Iterator[tuple[Text, Text]]:
    if usable is None:
        return
    told = usable.told
    yield (
        told.reachable_ac,
        f"usable out of the inverter, of {worked_words(told.total)} in the cells",
    )
    if told.everyday_ac is not None and told.reserve_ac is not None:
        yield told.everyday_ac, f"every day; {worked_words(told.reserve_ac)} kept for outages"


def _voltage_tile(design: Design) -> Iterator[tuple[Text, Text]]:
    pack, figures = design.build.pack, design.figures
    cells = f"{count_of(pack.cells_in_series, 'cell')} in series"
    band = working_band(design)
    if band is not None:
        nominal = "" if figures is None else f", nominally {worked_words(figures.nominal)}"
        low, high = band
        yield f"{say(low, 'V')} to {say(high, 'V')}", f"from cut-off to full; {cells}{nominal}"
    elif figures is not None:
        yield figures.nominal, f"nominal; {cells}"


def _fuse_tile(schedule: ProtectionSchedule | None) -> Iterator[tuple[Text, Text]]:
    chosen = [] if schedule is None else [fuse for fuse in schedule.fuses if fuse.size is not None]
    if not chosen or schedule is None or schedule.withheld:
        return
    first, *others = chosen
    more = "".join(f"; {_short(fuse)} {shown(fuse.size, 'A')}" for fuse in others)
    yield f"{first.count} × {shown(first.size, 'A')}", f"fuse of {_short(first)}{more}"


def _short(fuse: FuseChoice) -> str:
    """Return a place without where exactly it lies."""
    return fuse.place.partition(",")[0]


def limits(decision: Decision) -> Iterator[Block]:
    """Yield the limits that a design works under: of what, and what to do."""
    if not decision.limits:
        return
    yield Head(f"Keep these limits ({len(decision.limits)})")
    yield Items(map(_limit, decision.limits))


def _limit(finding: Finding) -> Text:
    """Return what to do to keep a limit; what was measured of the cells is never left out."""
    said = finding.detail if not finding.remedy or finding.rule.key.startswith("cells.") else ""
    both = " " if said and finding.remedy else ""
    return (Strong(finding.about), f": {said}{both}{finding.remedy}")


def first_screen(decision: Decision, *, titled: bool = True) -> Iterator[Block]:
    """Yield what a page shows first: the answer, the figures, the picture beside the limits.

    What holds a design up comes before the picture.
    """
    yield verdict(decision, titled=titled)
    yield from tiles(decision.design)
    if not decision.go:
        yield from in_the_way(decision)
    drawn = (Head("Does it fit?"), ladder_figure(decision.design))
    picture = Only("page", (Part("evp-picture", drawn),))
    if decision.go and decision.limits:
        yield Part("evp-first", (picture, Part("evp-limits", limits(decision))))
    else:
        yield picture


def _held(decision: Decision) -> Iterator[Block]:
    """Yield what holds a design up and what is not known, the gravest first, as far as it fits."""
    hard, asked = ways_out(stops(decision)), missing_in(decision)
    if hard:
        yield Head(f"What holds it up ({len(stops(decision))})")
        yield Items(_stop(way.findings, way.remedy) for way in hard[:_MOST])
        yield from and_more(len(hard) - _MOST)
    ways = [(thing, way) for thing, every in asked.asked.items() for way in every]
    if ways:
        yield Head(f"Find out first ({len(ways)})")
        yield Items((Strong(thing), f": {way.remedy}") for thing, way in ways[:_MOST])
        yield from and_more(len(ways) - _MOST)


def _stop(findings: tuple[Finding, ...], remedy: str) -> Item:
    first, *others = findings
    many = f" And {len(others)} more with the same way out." if others else ""
    then = (remedy_line(first, remedy),) if remedy else ()
    return Item((Strong(first.about), f": {first.detail}{many}"), then)


def _next(decision: Decision, confirm: int) -> Iterator[Text]:
    """Yield what to do next, with the commands that help."""
    if confirm:
        yield f"{only_assumed(confirm)} evpack decide SHEET --full lists them."
    if not decision.go:
        yield "Change the build sheet, and decide again. What would clear it: evpack ways SHEET."
        yield "Every rule, number and reason: evpack decide SHEET --full."
        return
    yield "Enter the settings and read each back: evpack sheets SHEET wall.html prints them."
    yield "Fuses, cables, every rule and reason: evpack decide SHEET --full."
    yield "Hand it to whoever looks at it: evpack share SHEET page.html writes one file."
    yield "Prove it before it is used: evpack commissioning SHEET lists the steps."


def _closing(decision: Decision, confirm: int) -> str:
    words = VERDICT[decision.verdict]
    counts = [tally(decision)]
    if confirm:
        counts.append(f"{count_of(confirm, 'value')} only assumed")
    return f"{words.glyph} {words.word.upper()}: {'; '.join(counts)}"


# --- The whole ------------------------------------------------------------------------------------


@document.register
def _(decision: Decision) -> Doc:
    design = decision.design
    first, *rest = cautions(decision)
    yield from first_screen(decision)
    yield Para(first, "notice")
    if decision.go and decision.limits:
        yield Head(f"Why these limits ({len(decision.limits)})")
        yield finding_cards(decision.limits, remedies=False)
    yield from parts(design)
    if notes(design):
        yield Head("Worth knowing")
        yield finding_cards(notes(design))
    yield Head("What was checked")
    yield Para(tally(decision))
    yield from checked(design)
    yield Head("What was assumed")
    assumed = assumed_in(design)
    yield from assumed_blocks(assumed)
    yield Head("Before you work on it")
    yield Items(rest)
    yield Only("terminal", (Para(_closing(decision, len(assumed.confirm))),))


@document.register
def _(design: Design) -> Doc:
    yield Para(design.build.title, "title")
    yield Para(arrangement(design))
    yield ladder_figure(design)
    yield from parts(design)
    yield Head("What was found")
    yield finding_cards(design.findings)


def in_the_way(decision: Decision) -> Iterator[Block]:
    """Yield what holds a decision up, what the sheet does not say, and the limits to keep."""
    hard, asked = stops(decision), missing_in(decision)
    if hard:
        yield Head(f"What holds it up ({len(hard)})")
        yield finding_cards(hard)
    if asked.asked:
        yield Head("Missing from your sheet")
        yield missing_cards(asked)
    if decision.limits and decision.go:
        yield Head(f"Limits to keep ({len(decision.limits)})")
        yield finding_cards(decision.limits)
    elif decision.limits:
        yield Head(so_far(decision))
        yield detail_items(decision.limits)


def summary(decision: Decision) -> Iterator[Block]:
    """Yield what would clear a decision, what is missing, and what to mind, each thing once."""
    missing = missing_in(decision)
    yield from _ways("What would clear it", stops(decision))
    if missing.asked:
        yield Head("Missing from your sheet", small=True)
        yield missing_cards(missing, rules=False)
    if decision.go:
        yield from _ways("Limits to keep", decision.limits)
    elif decision.limits:
        yield Head(so_far(decision), small=True)
        yield detail_items(decision.limits)


def _ways(head: str, findings: Iterable[Finding]) -> Iterator[Block]:
    """Yield what was found, and the one thing to do about it."""
    ways = ways_out(findings)
    if ways:
        yield Head(head, small=True)
        yield way_items(ways)


def parts(design: Design) -> Iterator[Block]:
    """Yield figures, energy, settings and protection, saying plainly which of them is missing."""
    if design.figures is None:
        yield not_worked_out("The pack's figures")
    else:
        yield from document(design.figures)
    yield Head("How much energy you get")
    yield from energy_blocks(design)
    sheet = design.settings
    yield Head(settings_head(withheld=sheet is not None and sheet.withheld), own_page=True)
    yield from settings_of(design)
    yield Head("What protects it")
    yield from protects(design)
    if design.sharing is not None:
        yield Head("How the strings share the current")
        yield from document(design.sharing)


def settings_of(design: Design) -> Iterator[Block]:
    """Yield the settings sheet of a design, its title and verdict above every table on paper."""
    sheet: SettingsSheet | None = design.settings
    if sheet is None:
        yield not_worked_out("The settings sheet")
        return
    words = VERDICT[decide(design).verdict]
    yield from settings_blocks(sheet, f"{design.build.title}: {words.glyph} {words.word}")


def energy_blocks(design: Design) -> Iterator[Block]:
    """Yield the usable energy in sentences, as a picture and in numbers."""
    if design.usable is None:
        yield not_worked_out("The usable energy")
        return
    yield from energy_said(design.usable)
    yield energy_figure(design)
    yield from energy_numbers(design.usable)


def ladder_figure(design: Design) -> Figure:
    """Return the voltage ladder with its caption, which says whether its values may be entered."""
    sheet = design.settings
    marks = (
        "On the green ground the pack works, from its cut-off to full: it fits where that lies "
        "inside a device's window. A filled arrow is a value to enter."
    )
    if sheet is None or sheet.withheld:
        marks = (
            "A hollow arrow with a broken line is provisional: the design does not work yet, or is "
            "not settled, and none of these values may be entered."
        )
    return Figure(
        lambda: ladder_svg(design),
        f"Everything on one scale of voltage, for the whole pack and for one cell. {marks} On the "
        "red ground no cell may ever be; where the pack is hatched, only the cell monitoring "
        "stands between the cells and harm.",
    )


def energy_figure(design: Design) -> Figure:
    """Return the picture of the usable energy with its caption."""
    sheet = design.settings
    if_it_worked = (
        " The thresholds are provisional, none of them may be entered."
        if sheet is not None and sheet.withheld
        else ""
    )
    return Figure(
        lambda: energy_svg(design),
        "The pack's voltage as it empties, at rest and under the continuous load, and what share "
        f"of its energy lies where, before the inverter (DC).{if_it_worked}",
    )


def checked(design: Design) -> Iterator[Block]:
    """Yield the passes as evidence, folded."""
    passed = passes(design)
    if passed:
        count = f"{count_of(len(passed), 'check')} passed of {len(design.findings)}"
        yield Fold(f"{count}; each with its margin", (pass_table(passed),))
    else:
        yield Para("No check was passed.")


def assumed_blocks(assumed: Assumptions) -> Iterator[Block]:
    """Yield what was assumed: what to confirm first, then evpack's own general values."""
    if assumed.confirm:
        yield Para(
            (
                Strong("To confirm first."),
                (
                    " Nobody measured these or read them off a data sheet. Put your own numbers in "
                    "the build sheet, and say how they are known."
                ),
            ),
            "lead",
        )
        yield _assumed_table(assumed.confirm)
    if assumed.stand_in:
        yield Para(
            "General values of the cell chemistry, and guards that evpack took. They are on the "
            "careful side; a build sheet can set the guards.",
            "lead",
        )
        count = count_of(len(assumed.stand_in), "value")
        yield Fold(count, (_assumed_table(assumed.stand_in),))
    if not assumed.confirm and not assumed.stand_in:
        yield Para("Nothing.")


def _assumed_table(rows: Iterable[Assumed]) -> Table:
    told: list[Row | Group] = []
    for thing, entries in by_thing(tuple(rows)).items():
        told.append(Group(thing))
        told += [Row((entry.what, entry.value or "–")) for entry in entries]
    return Table(
        (Column("", 58), Column("value taken", 42)),
        told,
        kind="evp-assumptions",
        named=False,
        twice=True,
    )
