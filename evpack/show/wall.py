"""Sheets for the wall and the toolbox, each on a page of its own, in one file to print."""

from __future__ import annotations

from collections.abc import Collection, Iterator

from evpack.base.errors import EvpackError, nearest
from evpack.base.finding import Finding
from evpack.base.version import VERSION
from evpack.base.wording import say
from evpack.describe.safeguards import FuseFamily
from evpack.outcome.commissioning import CommissioningPlan
from evpack.outcome.design import Decision, Design
from evpack.outcome.protection import CableChoice, Circuit, FuseChoice, PartLine
from evpack.outcome.settings import Act, DeviceSettings, Setting
from evpack.show.assumed import assumed_in
from evpack.show.cables import cable_name, cables_of, length_words, run_words
from evpack.show.commissioning import checklist
from evpack.show.doc import (
    Banner,
    Block,
    Column,
    Doc,
    Figure,
    Hand,
    Item,
    Items,
    Mark,
    Para,
    Part,
    Row,
    Sheet,
    Sign,
    Soft,
    Strong,
    Table,
    Text,
    least,
)
from evpack.show.draw.one_line import one_line_svg
from evpack.show.findings import held_items
from evpack.show.fuses import fuse_words
from evpack.show.one_page import one_page
from evpack.show.style import WALL
from evpack.show.to_html import to_html
from evpack.show.wall_cards import fire_card, labels_sheet, off_card
from evpack.show.words import (
    CAUTIONS,
    INVENTED,
    VERDICT,
    count_of,
    entry_words,
    only_assumed,
    per_cell,
)

# In the order in which a person takes them to hand.
SHEETS = ("emergency", "limits", "settings", "schedule", "diagram", "checklist", "labels")
# What hangs on the modules or is read when it burns is true of any pack.
_ALWAYS = ("emergency", "labels")
_ACTED_BY = {"settings", "schedule", "checklist"}
_NOT_YET = "not-yet"

_HELD = (
    "This design may not be built yet, so there is nothing to enter, to buy or to switch on. Clear "
    "first what holds it up:"
)


def wall_page(plan: CommissioningPlan, only: Collection[str] = SHEETS, *, on: str) -> str:
    """Return the sheets as one HTML document that loads and runs nothing.

    Parameters
    ----------
    plan : CommissioningPlan
        With its decision, of which all sheets are.
    only : collection of str
        Which sheets, of `SHEETS`.
    on : str
        The date that stands on each.

    Raises
    ------
    EvpackError
        A sheet that is not known, or none at all.
    """
    if not only:
        raise EvpackError(f"no sheet was asked for; there are {', '.join(SHEETS)}")
    for name in only:
        if name not in SHEETS:
            raise EvpackError(f"'{name}' is no sheet{nearest(name, SHEETS)}")
    decision = plan.decision
    # Whoever takes something to act by takes the limits along.
    asked = {*only, "limits"} if {*only} & _ACTED_BY else {*only}
    kinds = [kind for kind in SHEETS if kind in asked]
    held = [kind for kind in kinds if kind not in _ALWAYS] if plan.withheld else []
    if held:
        kinds = [_NOT_YET, *(kind for kind in kinds if kind in _ALWAYS)]
    says, foot = _says(decision, on), _foot(decision)
    sheets = (
        Sheet(name, tuple(blocks), says, foot, _kind(kind, decision))
        for kind in kinds
        for name, blocks in _sheets(plan, kind, held)
    )
    return one_page(f"{plan.title}: sheets to print", to_html(sheets), WALL)


def _kind(kind: str, decision: Decision) -> str:
    """Return the class of a sheet; the diagram lies across."""
    return f"{kind} across" if kind == "diagram" and decision.go else kind


def _sheets(plan: CommissioningPlan, kind: str, held: list[str]) -> Iterator[tuple[str, Doc]]:
    """Yield name and blocks of each sheet of a kind; of those that are held only why, once."""
    design = plan.decision.design
    if kind == "labels":
        yield "Labels for the modules", labels_sheet(design)
    elif kind == "emergency":
        yield "Emergency card: fire", (fire_card(design),)
        yield "Emergency card: switching it off", (off_card(design),)
    elif kind == _NOT_YET:
        yield f"Not yet: {', '.join(held)}", _held(plan.decision)
    elif kind == "limits":
        yield "Limits to keep", _limits(plan.decision)
    elif kind == "settings":
        yield from settings_sheets(design, len(plan.decision.limits))
    elif kind == "schedule":
        yield "Fuses, cables, what to buy", schedule_sheet(design)
    elif kind == "diagram":
        yield "One-line diagram", diagram_sheet(design)
    else:
        yield "Checklist", checklist(plan)


def _says(decision: Decision, on: str) -> tuple[Text, ...]:
    """Return what every sheet says of its build: each may be carried away alone."""
    words = VERDICT[decision.verdict]
    return (
        decision.design.build.title,
        f"{words.glyph} {words.word} · {on} · evpack {VERSION}",
    )


def _foot(decision: Decision) -> Text:
    """Return the caution at the foot of every sheet, and how much is only assumed."""
    words = only_assumed(len(assumed_in(decision.design).confirm))
    assumed = (" ", Strong(words)) if words else ()
    invented = f" {INVENTED}" if decision.design.build.invented else ""
    return (CAUTIONS[0], *assumed, invented)


# --- What holds it up, and the limits -------------------------------------------------------------


def _held(decision: Decision) -> Iterator[Block]:
    yield Banner(f"✕ {_HELD}")
    yield held_items(decision.held_by)


def _limits(decision: Decision) -> Iterator[Block]:
    """Yield the limits that a design works under, large, to hang beside the pack."""
    if not decision.limits:
        yield Para("None: the design works as it is described.")
        return
    yield Para(
        "The design works only while these are kept. This sheet hangs beside the pack, where "
        "everybody who uses it reads it. What is put right for good is struck out, with the date, "
        "once it is decided again."
    )
    # First what is kept in use, a number with its limit; then what is only to be read or bought.
    ordered = sorted(decision.limits, key=lambda finding: finding.value is None)
    yield Part("big-list", (Items(map(_limit, ordered)),))


def _limit(finding: Finding) -> Item:
    """Return one limit: what is to be done, large, and below it what was found."""
    found = f"{finding.about[:1].upper()}{finding.about[1:]}: {finding.detail}"
    if not finding.remedy:
        return Item(Strong(found))
    return Item(Strong(finding.remedy), (Para(found),))


# --- Settings -------------------------------------------------------------------------------------

_SETTING = (
    Column("setting", 26),
    Column("what to enter", 23, entry=True, plain=True),
    Column("V a cell", 9),
    Column("where on my device", 22),
    Column("read back", 11),
    Column("initials", 9),
)
_GLYPH = {Act.FIND_OUT: "?", Act.CANNOT: "✕"}


def settings_sheets(design: Design, limits: int = 0) -> Iterator[tuple[str, Doc]]:
    """Yield the name and the blocks of each device's sheet; of a design that works alone.

    Parameters
    ----------
    limits : int
        How many limits it works under: they stand on a sheet of their own.
    """
    sheet = design.settings
    if sheet is None or sheet.withheld:
        return
    for device in sheet.devices:
        if device.lines:
            yield f"Settings: {device.device}", _settings(device, limits)


def _settings(device: DeviceSettings, limits: int) -> Iterator[Block]:
    """Yield what to enter on a device, large enough to be read beside its display."""
    yield Para(
        "Enter each value, leave the menu, go back and read it: many devices round without a "
        "word. Set every device before any charging source is switched on."
    )
    if limits:
        kept = f"{count_of(limits, 'limit')} {'is' if limits == 1 else 'are'} kept"
        yield Para(f"▲ It works only while {kept}: see the sheet 'Limits to keep'.", "strong")
    yield Part(
        "wall-settings", (Table(_SETTING, map(_setting, device.lines), cards=True, wide=True),)
    )
    yield Sign(("entered by", "date"))


def _setting(line: Setting) -> Row:
    words = line.entry if line.act is Act.ENTER else entry_words(line, withheld=False)
    cells = (
        line.name,
        Mark(_GLYPH.get(line.act, ""), words),
        per_cell(line.per_cell),
        line.where or Hand.LINE,
        Hand.LINE,
        Hand.LINE,
    )
    return Row(cells, (Para(line.why, "soft"),))


# --- Fuses, cables, what to buy -------------------------------------------------------------------

_FUSES = (
    Column("fuse at", 28),
    Column("how many", 8, number=True),
    Column("rating", 12),
    Column("sort", 22),
    Column("DC, at least", 11, number=True),
    Column("breaks, at least", 12, number=True),
    Column("read", 7),
)
_CABLES = (
    Column("cable from, to", 38),
    Column("how many", 10, number=True),
    Column("size, copper", 26),
    Column("one way, at most", 18, number=True),
    Column("fitted", 8),
)
_PARTS = (
    Column("what to buy", 28),
    Column("how many", 7, number=True),
    Column("what it must be", 51),
    Column("bought", 7),
    Column("fitted", 7),
)
_POLARISED = {
    True: "polarised: as its print shows",
    False: "not polarised",
    None: "? polarised or not is not said",
}


def schedule_sheet(design: Design) -> Iterator[Block]:
    """Yield the protection and cable schedule; nothing for a design that may not be built."""
    schedule = design.protection
    if schedule is None or schedule.withheld:
        return
    yield Para("A rating is read off the part itself. An AC rating says nothing about DC.")
    yield Table(_FUSES, map(_fuse, schedule.fuses), "Fuses")
    yield Table(_CABLES, (_cable(*pair) for pair in cables_of(schedule)), "Cables")
    yield Table(_PARTS, map(_part, schedule.parts), "What to buy")


def _fuse(fuse: FuseChoice) -> Row:
    words = fuse_words(fuse)
    return Row(
        (
            fuse.place,
            str(fuse.count),
            Strong(f"{words.glyph} {words.word}".strip()),
            kind_words(fuse.family),
            least(fuse.voltage),
            least(fuse.interrupting),
            Hand.BOX,
        )
    )


def kind_words(family: FuseFamily | None) -> str:
    """Return of what sort a fuse or breaker must be: another one of the same rating guards less.

    What nobody said of it is asked, and not left out.
    """
    if family is None:
        return "? not known"
    told = [f"{family.name} ({family.standard})" if family.standard else family.name]
    if family.kind != "breaker":
        melts = family.characteristic
        told.append(f"melts as {melts}" if melts else "? how it melts is not said")
        return ", ".join(told)
    told.append(f"{count_of(family.poles, 'pole')} in series")
    told.append(_POLARISED[family.polarised])
    trip = family.instantaneous_trip
    told.append(
        "? where it trips at once is not said"
        if trip is None
        else f"trips at once from {say(float(trip.m), 'A')}"
    )
    return ", ".join(told)


def _cable(cable: CableChoice, circuit: Circuit | None) -> Row:
    run = cable.run
    return Row(
        (
            cable_name(cable, circuit),
            str(cable.count),
            Strong("not known" if run is None else run_words(run)),
            "–" if run is None else length_words(float(run.length.m)),
            Hand.BOX,
        )
    )


def _part(part: PartLine) -> Row:
    note = (" ", Soft(part.note)) if part.note else ()
    return Row((part.function, str(part.count), (part.rating, *note), Hand.BOX, Hand.BOX))


def diagram_sheet(design: Design) -> Iterator[Block]:
    """Yield the one-line diagram as large as the paper; nothing where nobody may build by it."""
    if design.protection is not None and not design.protection.withheld:
        yield Part("wide-picture", (Figure(lambda: one_line_svg(design)),))
