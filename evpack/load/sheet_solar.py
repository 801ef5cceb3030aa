"""The sections ``[[pv]]``: the solar arrays, each on its charger."""

from __future__ import annotations

from collections.abc import Sequence

import attrs

from evpack.base.basis import Basis
from evpack.base.errors import nearest
from evpack.base.fitted import NOT_FITTED, NotFitted, is_not_fitted
from evpack.describe.array import Array
from evpack.describe.charger import Charger
from evpack.load.fields import Given, Place, build, read, tables
from evpack.load.gathering import Gathering
from evpack.load.text import Toml

_OR_NONE = ', or pv = "none" above all sections where the solar side is settled elsewhere'


@attrs.frozen
class Panels:
    """An array as it was read, and where it stands in the sheet."""

    given: Given
    place: Place

    @property
    def name(self) -> str:
        """Return what it is called."""
        return str(self.given.values["name"])


def panels_given(document: Toml, place: Place) -> tuple[Panels, ...] | NotFitted | None:
    """Return the arrays of a sheet: not to be judged by the word "none", unknown without a word."""
    if "pv" not in document:
        return None
    if is_not_fitted(document["pv"]):
        return NOT_FITTED
    found, problems = [], Gathering()
    for number, (table, below) in enumerate(tables(document, "pv", place, _OR_NONE), start=1):
        with problems.keeping():
            usual = Given({"name": "solar array" if number == 1 else f"solar array {number}"})
            found.append(Panels(read(Array, table, below, Basis.ASSUMED).over(usual), below))
    problems.done()
    if not found:
        raise place.at("pv").refuse(f"sections [[pv]] are needed{_OR_NONE}")
    return tuple(found)


def arrays_on(
    panels: tuple[Panels, ...] | NotFitted | None, chargers: Sequence[Charger]
) -> tuple[Array, ...] | NotFitted | None:
    """Return the arrays, each on its charger: one that names none feeds the only solar charger."""
    if not isinstance(panels, tuple):
        return panels
    found, problems = [], Gathering()
    for each in panels:
        with problems.keeping():
            feeds = _feeds(each, chargers)
            told = Given({"feeds": feeds}).over(each.given)
            found.append(build(Array, told, each.place, Basis.ASSUMED))
    problems.done()
    return tuple(found)


def _feeds(panels: Panels, chargers: Sequence[Charger]) -> str:
    names = [charger.name for charger in chargers]
    place = panels.place.at("feeds")
    if "feeds" in panels.given.values:
        feeds = str(panels.given.values["feeds"])
        if feeds not in names:
            raise place.refuse(f"no charger is called '{feeds[:60]}'{nearest(feeds, names)}")
        return feeds
    solar = [c.name for c in chargers if c.source == "solar" and not c.kept_off]
    if len(solar) == 1:
        return solar[0]
    if not solar:
        raise place.refuse('is missing, and no charger has source = "solar"')
    raise place.refuse(f"is missing; several chargers are solar: {', '.join(solar)}")
