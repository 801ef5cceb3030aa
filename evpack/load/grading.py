"""What modules are graded by: the limits of the library, and those of a batch sheet over them."""

from __future__ import annotations

import functools
from collections.abc import Mapping

import attrs

from evpack.base.units import RISE, SHARE, VOLTAGE, Kind
from evpack.describe.batch import Measure
from evpack.load.fields import Gathering, Place, check_keys, got
from evpack.load.tables import table
from evpack.load.text import Toml

# How a measure of each unit is read. Of the capacity more is better, of all others less.
_KINDS: Mapping[str, Kind] = {kind.unit: kind for kind in (SHARE, VOLTAGE, RISE)}
FROM = ("capacity",)
_OWN = "own-limits"


@functools.cache
def grading() -> tuple[Measure, ...]:
    """Return the measures of the library, limits in canonical units.

    Returns
    -------
    tuple of Measure
        Shares of the new module's in 1, voltages in V, rises in K.

    References
    ----------
    ``data/tables/grading.csv``: common practice, no source.
    """
    held = table("grading")
    names = ("key", "says", "unit", "accept", "retest", "source")
    columns = {name: held.texts(name) for name in names}
    rows = zip(*columns.values(), strict=True)
    return tuple(_measure(dict(zip(names, row, strict=True))) for row in rows)


def _measure(row: Mapping[str, str]) -> Measure:
    unit = row["unit"]
    kind = next(kind for kind in _KINDS.values() if unit in kind.spellings)
    return Measure(
        key=row["key"],
        says=row["says"],
        unit=kind.unit,
        accept=float(kind.read(f"{row['accept']} {unit}").m),
        retest=float(kind.read(f"{row['retest']} {unit}").m),
        source=row["source"],
    )


def grading_over(typed: Toml, place: Place) -> tuple[Measure, ...]:
    """Return the measures with what a sheet's ``[grading.<key>]`` says over them."""
    held = {measure.key: measure for measure in grading()}
    problems = Gathering()
    with problems.keeping():
        check_keys(typed, place, held)
    for key, limits in typed.items():
        if key in held:
            with problems.keeping():
                held[key] = _own(held[key], limits, place.at(key))
    problems.done()
    return tuple(held.values())


def _own(measure: Measure, limits: object, place: Place) -> Measure:
    if not isinstance(limits, Mapping):
        raise place.refuse(f"{got(limits)}; a section with accept and retest is needed")
    check_keys(limits, place, ("accept", "retest"))
    kind = _KINDS[measure.unit]
    values: dict[str, float] = {}
    for name, raw in limits.items():
        if not isinstance(raw, str):
            like = f"'1 {kind.example_unit}'"
            raise place.at(name).refuse(
                f"{got(raw)}; {kind.one} in quotes is needed, such as {like}"
            )
        with place.at(name).refusing():
            values[name] = float(kind.read(raw).m)
    found = attrs.evolve(
        measure,
        accept=values.get("accept", measure.accept),
        retest=values.get("retest", measure.retest),
        source=_OWN if values else measure.source,
    )
    stricter, looser = sorted((found.accept, found.retest), reverse=measure.key in FROM)
    if found.accept != stricter or found.retest != looser:
        raise place.refuse("the limit for a retest is stricter than the one to accept")
    return found
