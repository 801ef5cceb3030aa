"""The choices of the protection panel: strings, and the cables that the sheet describes."""

from __future__ import annotations

import attrs

from evpack.describe.build import Build
from evpack.describe.cabling import LEFT_OPEN, Run
from evpack.edit import edited
from evpack.workbook.choices import (
    Choice,
    Entries,
    changed_entries,
    counted,
    tidy,
    widest,
)

RUNS = {"main": "Main cable", "module_lead": "Module lead", "charger": "Charger cable"}
_MOST_PARALLEL = 4
_LONGEST = 10.0  # [m]


def cable_choices_of(build: Build) -> tuple[Choice, ...]:
    """Return the controls; a cable that the sheet does not describe has none."""
    rows = [counted("strings", "Strings in parallel", build.pack.strings, widest(build.pack))]
    for field, label in RUNS.items():
        run = getattr(build.cabling, field)
        if run is not None:
            rows += _run_choices(field, label, run)
    return tuple(rows)


def _run_choices(field: str, label: str, run: Run) -> list[Choice]:
    table, rows = f"cabling.{field}", []
    if run.alternatives:
        sizes = tuple(conductor.size for conductor in run.alternatives)
        now = LEFT_OPEN if run.left_open else run.conductor.size
        extra = () if now in {LEFT_OPEN, *sizes} else (now,)
        rows.append(
            Choice(
                key=f"{field}_size",
                written=f"{table}.size",
                label=f"{label}, size",
                unit="",
                value=now,
                options=(LEFT_OPEN, *extra, *sizes),
            )
        )
    rows.append(
        Choice(
            key=f"{field}_length",
            written=f"{table}.length",
            label=f"{label}, one way",
            unit="m",
            low=0.1,
            high=max(_LONGEST, 2 * tidy(run.length.m)),
            step=0.1,
            value=tidy(run.length.m),
        )
    )
    most = max(_MOST_PARALLEL, run.parallel)
    beside = counted("parallel", f"{label}, side by side", run.parallel, most, table)
    return [*rows, attrs.evolve(beside, key=f"{field}_parallel")]


def with_cable_choices(build: Build, **typed: int | str) -> Build:
    """Return the build with some of the choices of `cable_choices_of` made differently.

    The size changes under the same conditions as before: it is one of the run's alternatives. A
    build that nothing changes is returned as it is.

    Raises
    ------
    EvpackError
        A choice that cannot exist, such as a length of 0 m.
    """
    places = {c.key: c.written for c in cable_choices_of(build)}
    return edited(build, *((places[key], value) for key, value in typed.items() if key in places))


def cable_entries(before: Build, after: Build) -> Entries:
    """Return what to write in the build sheet to turn one build into the other, by table."""
    return changed_entries(cable_choices_of(before), cable_choices_of(after))
