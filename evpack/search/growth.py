"""What stays valid when the pack grows later, and what should be bought bigger now.

Each way of growing goes through the whole design; its fuses, cables and ratings are then held
against those of today.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import attrs

from evpack.base.finding import Severity
from evpack.base.units import Quantity
from evpack.describe.build import Build
from evpack.describe.checked import need
from evpack.describe.safeguards import Disconnect, FuseCatalogue
from evpack.design import design
from evpack.outcome.design import Design
from evpack.outcome.search import Change, Grown, Growth, Outgrown
from evpack.search.changes import changed
from evpack.search.judge import candidate_of

_SAME = 1e-6  # a difference of rounding
_LARGER_LEG = "60 %"  # of the load on the larger leg, where nobody said; common practice, no source


def search_growth(build: Build, *, catalogue: FuseCatalogue | None = None) -> Grown:
    """Return how a build does with more strings and a second inverter, and what it outgrows."""
    need("search_growth", build, Build)
    module = attrs.evolve(build.pack.module, available=None)  # more are bought to grow
    build = attrs.evolve(build, pack=attrs.evolve(build.pack, module=module))
    now = design(build, catalogue=catalogue)
    return Grown(
        build=build,
        now=candidate_of(now, "today"),
        ways=tuple(_grown(build, now, name, changes, catalogue) for name, changes in _ways(build)),
    )


def _ways(build: Build) -> Iterator[tuple[str, tuple[Change, ...]]]:
    strings = build.pack.strings
    one, twice = strings + 1, 2 * strings
    more = {
        count: Change(
            place="pack.strings",
            value=count,
            says=f"{count} strings in parallel instead of {strings}",
        )
        for count in (one, twice)
    }
    yield "one more string", (more[one],)
    if twice != one:
        yield "twice the strings", (more[twice],)
    if not build.inverters:
        return
    first = build.inverters[0]
    another = Change(
        place="inverter.count",
        value=first.count + 1,
        says=f"{first.count + 1} × {first.name} instead of {first.count}",
    )
    yield "another inverter like the first", (another,)
    yield "twice the strings and another inverter", (more[twice], another)
    if len(build.inverters) == 1 and not first.leg:
        legs = Change(
            place="inverter.leg",
            value=_LARGER_LEG,
            says="an inverter on each leg of a split-phase supply",
        )
        yield "split-phase, twice the strings", (more[twice], legs)


def _grown(
    build: Build,
    now: Design,
    name: str,
    changes: tuple[Change, ...],
    catalogue: FuseCatalogue | None,
) -> Growth:
    made = design(changed(build, changes), catalogue=catalogue)
    before, after = dict(_asked(now)), dict(_asked(made))
    outgrown = tuple(
        Outgrown(what=what, now=before[what].value, then=then.value, unit=then.unit, swap=then.swap)
        for what, then in after.items()
        if what in before and _outgrown(before[what], then)
    )
    held = now.found_from(Severity.UNKNOWN)
    return Growth(
        candidate=candidate_of(made, name, changes),
        outgrown=outgrown,
        new_limits=tuple(
            f"{finding.about}: {finding.detail}"
            for finding in made.findings
            if finding.holds and (finding.rule.key, finding.about) not in held
        ),
    )


class _Asked(NamedTuple):
    """What a part must be, what is stated of it, and whether it is swapped when the pack grows."""

    value: float
    unit: str
    swap: bool = False
    stated: float | None = None


def _outgrown(now: _Asked, then: _Asked) -> bool:
    """Return whether what is right today is not right then."""
    if then.swap:  # a fuse must be right: neither too small nor too large
        return abs(then.value - now.value) > _SAME * now.value
    if then.stated is not None and then.stated >= then.value:
        return False  # what is there is enough
    return then.value > now.value * (1 + _SAME)


def _asked(made: Design) -> Iterator[tuple[str, _Asked]]:
    """Yield what every fuse, cable and device of a design must be."""
    schedule = made.protection
    if schedule is None:
        return
    for fuse in schedule.fuses:
        if fuse.size is not None:
            yield f"fuse: {fuse.place}", _Asked(fuse.size, "A", swap=True)
        if fuse.interrupting is not None:
            breaks = None if fuse.family is None else float(fuse.family.interrupting.m)
            yield (
                f"what a fuse must break: {fuse.place}",
                _Asked(fuse.interrupting.value, "A", stated=breaks),
            )
    for cable in schedule.cables:
        if cable.smallest is not None:
            yield (
                f"cable: {cable.place}",
                _Asked(
                    cable.smallest.area,
                    "mm²",
                    stated=None if cable.run is None else cable.run.conductor.area,
                ),
            )
    for device in schedule.needs:
        for line in device.lines:
            if line.name in _NOT_ASKED:
                continue
            stated = _stated(made.build, device.what, line.name)
            yield f"{device.what}: {line.name}", _Asked(line.value, line.unit, stated=stated)


# Told of the bars, but no demand: what they carry, and the fuses of the strings that guard them.
_NOT_ASKED = frozenset({"what the bars carry", "all string fuses together"})


def _stated(build: Build, what: str, name: str) -> float | None:
    """Return what the build says of a device's rating that a demand is for; None where nothing."""
    fitted, bar = build.safeguards.disconnect, build.cabling.bar
    found: Quantity | None = None
    if what == "battery disconnect" and isinstance(fitted, Disconnect):
        found = {
            "current of everything at once": fitted.current,
            "DC voltage to break": fitted.dc_voltage,
        }.get(name, fitted.withstands)
    elif what == "bus bars" and bar is not None:
        found = bar.carries
    return None if found is None else float(found.m)
