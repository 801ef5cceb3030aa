"""A build with choices of a panel typed otherwise, without the panel."""

from __future__ import annotations

from evpack.describe.build import Build
from evpack.edit import edited
from evpack.workbook.controls import cable_choices_of, choices_of


def with_choices(build: Build, **typed: int | str) -> Build:
    """Return the build with choices of `choices_of` and `cable_choices_of` typed otherwise.

    Raises
    ------
    EvpackError
        A choice that cannot exist, such as a reserve of 100 % or a charge target that no cell of
        the build ever stands at.
    """
    places = {choice.key: choice.place for choice in (*cable_choices_of(build), *choices_of(build))}
    return edited(build, *((places[key], value) for key, value in typed.items() if key in places))
