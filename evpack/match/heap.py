"""What holds for the heap as a whole: what new modules were, how it was read, what is missing."""

from __future__ import annotations

from evpack.base.basis import Basis
from evpack.base.finding import Finding, Rule, Severity, Standing, state, unknown
from evpack.describe.batch import Batch
from evpack.match.alike import NOT_STATED, Yardstick, most_of
from evpack.match.grade import CAPACITY, DRIFT, RESISTANCE, RISE_RULE, SPREAD
from evpack.match.limits import WORDS
from evpack.outcome.matching import GradedModule

CHEMISTRY = Rule(
    key="heap.chemistry",
    says="Modules whose charge does not end at a voltage are not matched by voltage.",
    source="cell-limits",
    stands=Standing.BOUND,
    clause="print of the cell: how its charge ends",
)
COMPLETE = Rule(
    key="heap.complete",
    says="What was not read of a module is not known to be good.",
    source="common-practice",
    stands=Standing.BOUND,
    clause="the limits that modules are graded by",
)
NEW = Rule(
    key="heap.new",
    says="How far a module aged is known only against what such a module was when new.",
    source="module-datasheet",
    stands=Standing.BOUND,
    clause="the limits that modules are graded by",
)
METHOD = Rule(
    key="heap.method",
    says="Resistances of different methods, temperatures or charge are not compared.",
    source="common-practice",
    stands=Standing.BOUND,
    clause="the limits that modules are graded by",
)


def whole(batch: Batch, found: tuple[GradedModule, ...]) -> tuple[Finding, ...]:
    """Return what holds for a graded heap as a whole."""
    return (_chemistry(batch), _new(batch), _method(batch, most_of(batch)), _complete(batch, found))


def _chemistry(batch: Batch) -> Finding:
    refused = batch.chemistry.why_refused
    if refused:
        return state(
            CHEMISTRY,
            Severity.STOP,
            about=batch.title,
            detail=refused,
            remedy="Use modules of a lithium chemistry.",
        )
    return state(
        CHEMISTRY,
        Severity.OK,
        about=batch.title,
        detail=f"{batch.chemistry.name} is charged to a set voltage.",
    )


def _new(batch: Batch) -> Finding:
    fields = ("new_capacity", "new_resistance")
    missing = [_plain(field) for field in fields if getattr(batch, field) is None]
    guessed = tuple(
        _plain(field)
        for field in fields
        if getattr(batch, field) is not None and batch.basis_of(field) is Basis.ASSUMED
    )
    if missing:
        return unknown(
            NEW,
            about=batch.title,
            detail=f"Nobody said what it was when new: {' and '.join(missing)}. Modules can be "
            "ranked by it, and none can be accepted.",
            remedy="Find it on the data sheet and put it in the batch sheet.",
        )
    if guessed:
        return state(
            NEW,
            Severity.CAUTION,
            about=batch.title,
            detail=f"Only assumed of a new module: {' and '.join(guessed)}.",
            remedy="Read it off the data sheet and say how it is known.",
            assumed=guessed,
        )
    return state(
        NEW,
        Severity.OK,
        about=batch.title,
        detail="Capacity and resistance of a new module are known.",
    )


def _plain(field: str) -> str:
    return f"{field.removeprefix('new_')} when new"


def _method(batch: Batch, stick: Yardstick) -> Finding:
    others = [
        module.name
        for module in batch.modules
        if module.resistance is not None and module.resistance_method != stick.method
    ]
    if stick.method == NOT_STATED:
        return unknown(
            METHOD,
            about=batch.title,
            detail="Nobody said how the resistances were read, or none was.",
            remedy="Say the method of each: 10 s pulse, two-step or 1 kHz meter.",
        )
    if batch.new_resistance is None or batch.new_resistance_method != stick.method:
        new = (
            "Nobody said what resistance such a module had when new"
            if batch.new_resistance is None
            else f"The resistance when new was read by: {batch.new_resistance_method}, and most "
            f"of the batch by {stick.method}"
        )
        return unknown(
            METHOD,
            about=batch.title,
            detail=f"{new}, so that no module's resistance can be graded, only ranked.",
            remedy=f"Find out new_resistance as read by {stick.method}, and say "
            "new_resistance_method.",
        )
    told = []
    if others:
        told.append(f"read otherwise than by {stick.method}: {', '.join(others)}")
    if batch.new_resistance_temperature is None or batch.new_resistance_soc is None:
        told.append(
            "nobody said at what temperature and charge the resistance when new was read, and it "
            "is taken to be as in the batch"
        )
    if told:
        return state(
            METHOD,
            Severity.CAUTION,
            about=batch.title,
            detail=f"{told[0][:1].upper()}{'; '.join(told)[1:]}.",
            remedy="Read them all in one way, and say how the new one was read.",
            assumed=("how the resistance when new was read",) if len(told) > bool(others) else (),
        )
    return state(
        METHOD,
        Severity.OK,
        about=batch.title,
        detail=f"All resistances, that of a new module too, were read by {stick.method}.",
    )


def _complete(batch: Batch, found: tuple[GradedModule, ...]) -> Finding:
    if not found:
        return unknown(
            COMPLETE,
            about=batch.title,
            detail="There is no module in the batch.",
            remedy="Test some, and put them in the log.",
        )
    missing = {
        WORDS[key]: [
            graded.module.name
            for graded in found
            if any(
                f.rule is rule and f.severity in {Severity.NOTE, Severity.UNKNOWN}
                for f in graded.findings
            )
        ]
        for key, rule in (
            ("capacity", CAPACITY),
            ("resistance", RESISTANCE),
            ("spread", SPREAD),
            ("drift", DRIFT),
            ("rise", RISE_RULE),
        )
    }
    missing["look at it"] = [graded.module.name for graded in found if graded.module.seen is None]
    told = [f"{what}: {len(names)} of {len(found)}" for what, names in missing.items() if names]
    if batch.voltage_accuracy is None:
        told.append("how exact the voltmeter is")
    if told:
        return state(
            COMPLETE,
            Severity.CAUTION,
            about=batch.title,
            detail=f"Not known, by what and for how many modules: {'; '.join(told)}.",
            remedy="Read what is missing of the modules that are to be used.",
        )
    return state(
        COMPLETE, Severity.OK, about=batch.title, detail="Everything was read of every module."
    )
