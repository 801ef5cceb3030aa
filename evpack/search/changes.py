"""What a search makes otherwise in a build, as edits with words."""

from __future__ import annotations

from evpack.describe.build import Build
from evpack.edit import edited
from evpack.outcome.search import Change

DEVICES = ("inverter", "charger")  # places that take a whole device of a list


def changed(build: Build, changes: tuple[Change, ...]) -> Build:
    """Return the build with changes made, in their order; see `evpack.edit.edited`."""
    return edited(build, *((change.place, change.value) for change in changes))


def at_hand(modules: int) -> Change:
    """Return the change that says how many modules there are."""
    return Change(
        place="module.available",
        value=modules,
        says=f"{modules} module{'s' if modules > 1 else ''} at hand",
    )


def arranged(modules_in_series: int, strings: int) -> tuple[Change, ...]:
    """Return the changes that arrange a pack otherwise."""
    return (
        Change(
            place="pack.modules_in_series",
            value=modules_in_series,
            says=f"{modules_in_series} in series",
        ),
        Change(
            place="pack.strings",
            value=strings,
            says=f"{strings} string{'s' if strings > 1 else ''} in parallel",
        ),
    )
