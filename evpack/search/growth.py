"""What stays valid when the pack grows later, and what should be bought bigger now.

Each way of growing goes through the whole design; its fuses, cables and ratings are then held
against those of today.
"""

from __future__ import annotations

from collections.abc import Iterator

import attrs

from evpack.describe.build import Build
from evpack.describe.checked import need
from evpack.describe.fuses import FuseCatalogue
from evpack.design import design
from evpack.outcome.design import Design
from evpack.outcome.search import Change, Grown, Growth, Outgrown
from evpack.search.changes import changed
from evpack.search.judge import judged

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
        now=judged(build, "today", catalogue=catalogue),
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
    then = design(changed(build, changes), catalogue=catalogue)
    before, after = dict(_asked(now)), dict(_asked(then))
    outgrown = tuple(
        Outgrown(what=what, now=before[what][0], then=value, unit=unit, swap=swap)
        for what, (value, unit, swap) in after.items()
        if what in before and value > before[what][0] * (1 + _SAME)
    )
    held = {(f.rule.key, f.about) for f in now.findings if f.holds}
    return Growth(
        candidate=judged(build, name, changes, catalogue=catalogue),
        outgrown=outgrown,
        new_limits=tuple(
            f"{finding.about}: {finding.detail}"
            for finding in then.findings
            if finding.holds and (finding.rule.key, finding.about) not in held
        ),
    )


def _asked(made: Design) -> Iterator[tuple[str, tuple[float, str, bool]]]:
    """Yield what every fuse, cable and device of a design must be: value, unit, swapped later."""
    schedule = made.protection
    if schedule is None:
        return
    for fuse in schedule.fuses:
        if fuse.size is not None:
            yield f"fuse: {fuse.place}", (fuse.size, "A", True)
        if fuse.interrupting is not None:
            yield f"what a fuse must break: {fuse.place}", (fuse.interrupting.value, "A", False)
    for cable in schedule.cables:
        if cable.smallest is not None:
            yield f"cable: {cable.place}", (cable.smallest.area, "mm²", False)
    for device in schedule.needs:
        for line in device.lines:
            yield f"{device.what}: {line.name}", (line.value, line.unit, False)
