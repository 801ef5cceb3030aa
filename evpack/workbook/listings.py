"""What each panel holds: its controls, and the regions that show what comes of them."""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Iterable, Iterator, Mapping
from pathlib import Path
from typing import Any, TypeAlias

import attrs

from evpack.base.errors import DescriptionError
from evpack.check.figures import pack_figures
from evpack.decide import decide
from evpack.describe.batch import Batch
from evpack.describe.build import Build
from evpack.describe.equipment import EquipmentList
from evpack.describe.operation import Operation
from evpack.design import design
from evpack.matching import match_heap
from evpack.outcome.design import Decision, Design
from evpack.outcome.groundwork import PackFigures
from evpack.outcome.matching import Matching
from evpack.outcome.operation import OperationRun
from evpack.outcome.protection import CableChoice, FuseChoice
from evpack.outcome.search import Candidate, Change, Ranking, TradeOff
from evpack.search.arrangements import search_arrangements
from evpack.search.changes import DEVICES
from evpack.search.sheet_out import edited_sheet, sheet_for
from evpack.search.tradeoff import search_trade_offs
from evpack.show import pieces
from evpack.show.cables import cable_tone, outcome_of, rows_of
from evpack.show.clean import escaped, prose
from evpack.show.doc import Block, Items, Para, document, least
from evpack.show.figures import counts_table
from evpack.show.fuses import fuse_words
from evpack.show.html import energy_figure, in_the_way, ladder_figure, settings_html, verdict_html
from evpack.show.html_tables import how
from evpack.show.matching import groups
from evpack.show.operation import operation_figures, operation_pictures
from evpack.show.protection import one_line_figure, schedule_of, worst_fault
from evpack.show.search import choices
from evpack.show.settings import settings_head
from evpack.show.to_html import to_html
from evpack.show.words import Words
from evpack.simulate.operation import simulate_operation
from evpack.workbook.controls import (
    LIST,
    Choice,
    Edit,
    Entries,
    Value,
    cable_choices_of,
    cell_choices_of,
    choices_of,
    entries_of,
    hand_choices_of,
    heap_choices_of,
    operation_choices_of,
    wanted,
)
from evpack.workbook.regions import grid, keys_of

Progress: TypeAlias = Callable[[int, int], None]
Keys: TypeAlias = Callable[..., Iterable[tuple[str, ...]]]

_MOST = 8  # modules in series whose voltages are told
_NAMES = {"string": "String", "main": "Main", "charger": "Charger", "array": "Array"}


@attrs.frozen(kw_only=True)
class Turned:
    """The controls as they stand: their values, the edits that they are, and what is edited."""

    values: Mapping[str, Value]
    edits: tuple[Edit, ...]
    noun: Any


@attrs.frozen(kw_only=True)
class WhatIf:
    """What a page without a kernel can be turned through.

    Parameters
    ----------
    counts : mapping
        How many values of which control: those that teach most, since their answers multiply.
    keys : callable
        Of a design: the figures to watch, as `keys_of`.
    bars : bool
        Whether each answer is drawn as bars of energy and of voltage.
    """

    counts: Mapping[str, int]
    keys: Keys
    bars: bool = True


@attrs.frozen(kw_only=True)
class Listing:
    """What a panel holds.

    Parameters
    ----------
    controls : tuple of Choice
    regions : tuple of (str, callable)
        Names, and functions of what was made and of whether each why is laid open, to a fragment
        of HTML; in the order in which they are worked out and sent: what is looked at first, first.
    make : callable
        Of what is turned and of a callable to tell progress: what the regions show.
    title : callable
        Of what was made: the panel in a line of text.
    start : Build or Batch
        What is edited.
    first : str
        The region that stands beside the controls, if one does.
    above : str
        The region that stands above them, if one does.
    back : str
        On the button that sets all controls back; "" for none.
    whys : bool
        Whether a box lays open why each number is what it is.
    slow : bool
        Whether progress is shown.
    sheet : callable or None
        Of what is turned and the folder of the new file: the text of a sheet that keeps it.
    file, file_label : str
        How it is called at first, and what stands before its name.
    entries : callable or None
        Of what is turned: what a person would write by hand to keep it.
    what_if : WhatIf or None
    """

    controls: tuple[Choice, ...]
    regions: tuple[tuple[str, Callable[[Any, bool], str]], ...]
    make: Callable[[Turned, Progress], Any]
    title: Callable[[Any], str]
    start: Any
    first: str = ""
    above: str = ""
    back: str = "Back to the build sheet"
    whys: bool = False
    slow: bool = False
    sheet: Callable[[Turned, Path], str] | None = None
    file: str = "my-choice.toml"
    file_label: str = "New build sheet"
    entries: Callable[[Turned], Entries] | None = None
    what_if: WhatIf | None = None


# A decision: the whole of it, and parts.


def _energy(decision: Decision, _why: bool) -> str:  # noqa: FBT001  a region
    made = decision.design
    if made.usable is not None:
        return energy_figure(made)
    return to_html((pieces.not_worked_out("The usable energy"),))


def _settings(decision: Decision, _why: bool) -> str:  # noqa: FBT001
    made = decision.design
    head = settings_head(withheld=made.settings is not None and made.settings.withheld)
    return f"<h2>{head}</h2>{settings_html(made)}"


_OF_DECISION: Mapping[str, Callable[[Decision, bool], str]] = {
    "verdict": lambda decision, _: verdict_html(decision),
    "ladder": lambda decision, _: ladder_figure(decision.design),
    "energy": _energy,
    "diagram": lambda decision, _: to_html((one_line_figure(decision.design),)),
    "found": lambda decision, _: in_the_way(decision),
    "settings": _settings,
    "schedule": lambda decision, _: to_html(schedule_of(decision.design)),
}


def _deciding(
    build: Build, controls: tuple[Choice, ...], regions: tuple[str, ...], what_if: WhatIf
) -> Listing:
    def figures(decision: Decision, why: bool) -> str:  # noqa: FBT001
        return grid(what_if.keys(decision.design), opened=why)

    return Listing(
        controls=controls,
        regions=tuple((name, {**_OF_DECISION, "figures": figures}[name]) for name in regions),
        make=lambda turned, _: decide(design(turned.noun)),
        title=lambda decision: f"Panel for '{build.title}': {decision.verdict}",
        start=build,
        first="verdict",
        whys=True,
        sheet=lambda turned, folder: _deciding_sheet(build, turned, folder),
        entries=lambda turned: entries_of(turned.edits, build, turned.noun),
        what_if=what_if,
    )


def _deciding_sheet(build: Build, turned: Turned, folder: Path) -> str:
    entries = entries_of(_some(turned), build, turned.noun)
    return edited_sheet(build, entries, turned.noun, folder=folder)


def _some(turned: Turned) -> tuple[Edit, ...]:
    if not turned.edits:
        raise DescriptionError("nothing is turned over yet, so there is nothing to write")
    return turned.edits


def _of(build: Build, *keys: str) -> tuple[Choice, ...]:
    return tuple(choice for choice in choices_of(build) if choice.key in keys)


def decision(build: Build) -> Listing:
    """Return all controls of a build, and the whole answer."""
    regions = ("verdict", "figures", "ladder", "energy", "found", "settings")
    counts = {"modules_in_series": 3, "strings": 4, "charge_target": 3, "continuous_load": 3}
    return _deciding(build, choices_of(build), regions, WhatIf(counts=counts, keys=keys_of))


def fit(build: Build) -> Listing:
    """Return modules in series and strings; the voltages beside those of the devices."""
    counts = {"modules_in_series": 5, "strings": 5}
    return _deciding(
        build,
        _of(build, *counts),
        ("verdict", "figures", "ladder", "found"),
        WhatIf(counts=counts, keys=keys_of),
    )


def settings(build: Build) -> Listing:
    """Return how high to charge, how much to keep, what load; the energy and what to enter."""
    counts = {"charge_target": 4, "reserve": 4, "continuous_load": 4}
    return _deciding(
        build,
        _of(build, *counts),
        ("verdict", "figures", "energy", "found", "settings"),
        WhatIf(counts=counts, keys=keys_of),
    )


def protection(build: Build) -> Listing:
    """Return strings and cables, and the protection that follows."""
    return _deciding(
        build,
        cable_choices_of(build),
        ("verdict", "figures", "diagram", "found", "schedule"),
        WhatIf(counts={"strings": 4, "main_size": 6}, keys=wiring_keys, bars=False),
    )


def wiring_keys(made: Design, *, entered: bool = True) -> list[tuple[str, ...]]:
    """Return the few figures that a person watches while turning a cable over, each with why."""
    del entered  # none of them is
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
    worst = worst_fault(schedule)
    if worst is not None:
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


# The voltages of modules.


def voltages(build: Build) -> Listing:
    """Return kind and count of cells of a module, and the real voltages of a pack of them."""
    return Listing(
        controls=cell_choices_of(build),
        regions=(("answer", lambda counted, _: _counted(counted)),),
        make=lambda turned, _: counted(turned.noun),
        title=lambda _: "Voltages of modules in series",
        start=build,
    )


def counted(build: Build) -> tuple[PackFigures, ...] | str:
    """Return the figures of one to eight modules in series and of as many as the build has.

    Of cells that are not charged to a voltage: why not.
    """
    kind = build.pack.module.chemistry
    if kind.targets is None:
        return f"{kind.name}: {kind.why_refused}"
    packs = (
        attrs.evolve(build.pack, modules_in_series=k, strings=1)
        for k in sorted({*range(1, _MOST + 1), build.pack.modules_in_series})
    )
    return tuple(pack_figures(attrs.evolve(build, pack=pack)) for pack in packs)


def _counted(told: tuple[PackFigures, ...] | str) -> str:
    if isinstance(told, str):
        return f'<p class="evp-notice"><b>✕ {prose(told)}</b></p>'
    return to_html(counts_table(told))


# A year of operation.


def year(made: Design, operation: Operation | None = None) -> Listing:
    """Return the thresholds, the delay and the load; the year runs again with each move."""
    own = made.build.operation
    run = simulate_operation(made, operation)
    start = attrs.evolve(made.build, operation=operation or own)
    return Listing(
        controls=operation_choices_of(start, run),
        regions=(
            ("figures", lambda run, _: to_html(operation_figures(run))),
            ("pictures", lambda run, _: to_html(operation_pictures(run))),
            ("found", lambda run, _: to_html(pieces.found(run.findings))),
        ),
        make=lambda turned, _: _worked(made, turned, run),
        title=lambda run: f"A year of '{run.title}'",
        start=start,
        sheet=lambda turned, folder: _year_sheet(made.build, start, turned, folder),
    )


def _worked(made: Design, turned: Turned, begun: OperationRun) -> OperationRun:
    return simulate_operation(made, turned.noun.operation) if turned.edits else begun


def _year_sheet(own: Build, start: Build, turned: Turned, folder: Path) -> str:
    if start.operation is not own.operation:
        raise DescriptionError("this operation was not read from the build sheet: write it there")
    entries = entries_of(_some(turned), start, turned.noun)
    given = tomllib.loads(own.sheet).get("operation", {}).get("load", {})
    if "operation.load" in entries and "shape" not in given:
        raise DescriptionError(
            "the load of the sheet is no shape with its energy: set it back to 100 %, and "
            "scale its powers in the sheet or in its file"
        )
    return edited_sheet(own, entries, turned.noun, folder=folder)


# A heap.


def heap(batch: Batch) -> Listing:
    """Return how many in series and how many strings; groups, comparison and findings."""
    start = wanted(batch)
    return Listing(
        controls=heap_choices_of(start),
        regions=(("answer", lambda matching, _: to_html(_grouped(matching))),),
        make=lambda turned, _: match_heap(turned.noun, proven=False),
        title=lambda _: f"Groups of '{batch.title}'",
        start=start,
        back="As the sheet wants it",
    )


def _grouped(matching: Matching) -> Iterator[Block]:
    if matching.grouping is None:
        yield Para("? No grouping is possible.", "strong")
    else:
        yield from groups(matching)
    found = [f for f in matching.findings if f.rule.key.startswith("group.") and f.remedy]
    yield Items(f"{f.detail} {f.remedy}" for f in found)


# Searches.


def arrangements(build: Build, *, module_price: str | None = None) -> Listing:
    """Return how many modules there are; the arrangements that they allow, ranked."""

    def searched(turned: Turned, told: Progress) -> Ranking:
        modules = int(turned.values["modules"])
        return search_arrangements(build, modules, module_price=module_price, progress=told)

    return Listing(
        controls=hand_choices_of(build),
        regions=(("answer", lambda ranking, _: to_html(document(ranking))),),
        make=searched,
        title=lambda ranking: f"Arrangements of '{ranking.title}'",
        start=build,
        back="",
        slow=True,
    )


def trade_offs(
    build: Build,
    modules: int | Matching | None = None,
    *,
    module_price: str | None = None,
    equipment: EquipmentList | None = None,
    budget: float | None = None,
) -> Listing:
    """Return the points of a trade-off to pick, and the lines of a sheet that make one."""
    found: TradeOff = search_trade_offs(
        build, modules, module_price=module_price, equipment=equipment, budget=budget
    )
    named = {f"{number}. {candidate.name}": candidate for number, candidate in choices(found)}

    def picked(turned: Turned) -> Candidate | None:
        return named.get(str(turned.values["pick"])) if named else None

    def sheet(turned: Turned, folder: Path) -> str:
        candidate = picked(turned)
        assert candidate is not None  # noqa: S101  (without one there is no button)
        return sheet_for(build, candidate, equipment=equipment, folder=folder)

    shown: list[tuple[str, Callable[[Any, bool], str]]] = [
        ("picture", lambda _, __: to_html(document(found)))
    ]
    if named:
        shown.append(("lines", lambda candidate, _: _lines(candidate)))
    if named and not build.sheet:
        shown.append(("unwritten", lambda _, __: _UNWRITTEN))
    return Listing(
        controls=(_pick(named),) if named else (),
        regions=tuple(shown),
        make=lambda turned, _: picked(turned),
        title=lambda _: f"What is gained and given up: {len(found.front)} choices",
        start=build,
        above="picture",
        back="",
        sheet=sheet if named and build.sheet else None,
        file="picked.toml",
        file_label="Write it as a build sheet",
    )


def _pick(named: Mapping[str, Candidate]) -> Choice:
    ways = tuple(tuple((c.place, c.value) for c in found.changes) for found in named.values())
    options = tuple(named)
    return Choice(
        key="pick", place="", label="pick", kind=LIST, value=options[0], options=options, ways=ways
    )


def _lines(candidate: Candidate) -> str:
    made = "".join(f"<li>{_made(change)}</li>" for change in candidate.changes)
    return f"<p>In the build sheet, section and key:</p><ul>{made}</ul>"


def _made(change: Change) -> str:
    """Return a change as the line of a sheet that makes it; a whole device by its name."""
    if change.place in DEVICES:
        return f"<code>[[{escaped(change.place)}]]</code>: {prose(change.says)}"
    return f"<code>{escaped(change.place)} = {escaped(change.value)}</code>"


_UNWRITTEN = (
    '<p class="evp-notice">It cannot be written as a build sheet: this build was made in '
    "Python and not read from one, so that there is no text to change. The lines above say what "
    "to change.</p>"
)
