"""What a design rests on that nobody measured or read off a data sheet: each value once.

The rows are those of the nouns themselves, so that each has its words, its value and its device;
what only a formula or a finding names is added where no noun told of it.
"""

from __future__ import annotations

from collections.abc import Iterator

import attrs

from evpack.base.basis import Basis
from evpack.describe.cabling import Run
from evpack.describe.policy import Policy
from evpack.outcome.design import Design
from evpack.show.facts import Fact, build_parts, facts, not_chosen, runs_of
from evpack.show.gather import worked_of
from evpack.show.words import shown, told

# What a chemistry tells that the rows of its module tell too.
_TOLD_BY_MODULE = ("highest voltage of a cell", "nominal voltage", "least voltage")
_CURVE = "voltage at rest against charge"
_FUSE = "DC ratings of the fuse"
# What a formula or a finding calls it -> the field of the devices whose row tells it.
_OF_DEVICES = {
    "voltage error of the charger": "accuracy",
    "error of the inverter's voltmeter": "meter accuracy",
    "current of this charger": "current",
    "current of all chargers": "current",
    "statement on parallel_operation": "parallel operation",
    "statement on own_circuits": "own circuits",
    "least inverter efficiency": "efficiency",
    "idle draw of all inverters": "idle",
    "continuous output of all inverters": "continuous",
    "full surge of all inverters": "surge",
}


@attrs.frozen
class Assumed:
    """One assumed value: of which thing, what, and the value in words ("" where none is known)."""

    of: str
    what: str
    value: str


@attrs.frozen
class Assumptions:
    """`confirm` are values of the builder's own things; `stand_in` are general values and guards.

    The first can be put right by a measurement or a data sheet, the second are evpack's choices.
    """

    confirm: tuple[Assumed, ...]
    stand_in: tuple[Assumed, ...]


def assumed_in(design: Design) -> Assumptions:
    """Return every assumed value that a design rests on, once."""
    build = design.build
    confirm = [
        row
        for part in build_parts(build)
        if not isinstance(part, Policy)
        for row in _rows_of(part, facts(part).title)
    ]
    confirm += _conductors(design) + _fuses(design)
    chemistry = build.pack.module.chemistry
    stand_in = [
        row
        for row in _rows_of(chemistry, chemistry.name)
        if row.what not in _TOLD_BY_MODULE and row.what != _CURVE
    ]
    stand_in += [row for row in _rows_of(build.policy, "guards") if row.value != "the chemistry's"]
    told_of = [*confirm, *stand_in]
    stand_in += _in_formulas(design, told_of)
    confirm += _in_findings(design, told_of)
    return Assumptions(_once(confirm), _once(stand_in))


def by_thing(rows: tuple[Assumed, ...]) -> dict[str, list[Assumed]]:
    """Return the rows by the thing that they are of, in their order."""
    things: dict[str, list[Assumed]] = {}
    for row in rows:
        things.setdefault(row.of, []).append(row)
    return things


def _assumed_facts(noun: object) -> Iterator[Fact]:
    return (row for row in facts(noun).rows if row.basis is Basis.ASSUMED)


def _rows_of(noun: object, name: str) -> list[Assumed]:
    return [Assumed(name, row.label, row.value) for row in _assumed_facts(noun)]


def _fuses(design: Design) -> list[Assumed]:
    """Return the ratings of the chosen fuses that are only typical of their family."""
    if design.protection is None:
        return []
    families = [fuse.family for fuse in design.protection.fuses if fuse.family is not None]
    return [
        Assumed(
            family.name, _FUSE, f"{told(family.dc_voltage)}, interrupts {told(family.interrupting)}"
        )
        for family in families
        if family.basis is Basis.ASSUMED
    ]


def _assumed_runs(design: Design) -> list[Run]:
    return [
        run for run in runs_of(design.build.cabling) if run.basis.of("conductor") is Basis.ASSUMED
    ]


def _conductors(design: Design) -> list[Assumed]:
    """Return what conductors carry where what they carry it under is not stated or not known."""
    return [
        Assumed(run.name, f"carries for good, {run.conductor.conditions}", told(run.ampacity))
        for run in _assumed_runs(design)
        if not not_chosen(run)
    ]


def _told_by_conductors(design: Design) -> set[tuple[str, str]]:
    """Return what findings name of a cable whose ampacity has its row, as (thing, what)."""
    runs = [run for run in _assumed_runs(design) if not not_chosen(run)]
    circuits = () if design.protection is None else design.protection.circuits
    return {(run.name, "conductor") for run in runs} | {
        (f"cable from {circuit.source} to {circuit.end}", "ampacity of the cable")
        for circuit in circuits
        if circuit.run in runs
    }


def _in_formulas(design: Design, rows: list[Assumed]) -> list[Assumed]:
    """Return the assumed inputs of formulas that no row tells by its words or its value.

    One that has several values, such as what melts each fuse, is one row with all of them.
    """
    known = {row.what for row in rows}
    values = " ; ".join(row.value for row in rows)  # a range holds several: "40 V to 48 V in …"
    found: dict[str, list[str]] = {}
    for number in worked_of(design):
        for given in number.inputs:
            value = shown(given.value, given.unit)
            if given.basis is not Basis.ASSUMED or given.means in known:
                continue
            if f" {value} " not in f" {values} " and value not in found.get(given.means, ()):
                found.setdefault(given.means, []).append(value)
    return [
        Assumed("also in the formulas", means, " and ".join(every))
        for means, every in found.items()
    ]


def _in_findings(design: Design, rows: list[Assumed]) -> list[Assumed]:
    """Return what findings name as assumed, by label or by field, where no row tells it.

    A finding may name in short what an input of a formula names in full.
    """
    nouns = (*build_parts(design.build), design.build.pack.module.chemistry)
    known = {row.what for row in rows}
    known |= {fact.field.replace("_", " ") for noun in nouns for fact in _assumed_facts(noun)}
    known |= {given.means for number in worked_of(design) for given in number.inputs}
    by_conductors = _told_by_conductors(design)
    return [
        Assumed(finding.about, means, "")
        for finding in design.findings
        for means in finding.assumed
        if (finding.about, means) not in by_conductors
        and not any(name.startswith(_OF_DEVICES.get(means, means)) for name in known)
    ]


def _once(rows: list[Assumed]) -> tuple[Assumed, ...]:
    return tuple(dict.fromkeys(rows))
