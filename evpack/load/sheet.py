"""The build sheet: one TOML file of a person becomes one `Build`, or one clear refusal."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any, TypeVar

import attrs

from evpack.base.basis import Basis
from evpack.base.errors import nearest
from evpack.base.fitted import NOT_FITTED, NotFitted, is_not_fitted
from evpack.describe.array import Array
from evpack.describe.build import Build
from evpack.describe.charger import Charger
from evpack.describe.inverter import Inverter
from evpack.describe.module import Module
from evpack.describe.pack import Monitoring, Pack
from evpack.describe.policy import Policy, check_target
from evpack.describe.site import Load, Site
from evpack.load.beside import Beside
from evpack.load.entries import charger_given, inverter_given, module_given
from evpack.load.fields import (
    Gathering,
    Given,
    Place,
    build,
    check_keys,
    got,
    if_fitted,
    read,
    section,
    tables,
    text,
)
from evpack.load.library import example, profiles_near
from evpack.load.sheet_operation import operation_given
from evpack.load.sheet_wiring import cabling_given, check_own, safeguards_given
from evpack.load.text import Toml, read_text, read_toml

__all__ = ["example", "parse_sheet", "read_sheet"]

T = TypeVar("T")

_SECTIONS = (
    "title",
    "note",
    "invented",
    "site",
    "module",
    "pack",
    "monitoring",
    "inverter",
    "charger",
    "pv",
    "cabling",
    "protection",
    "load",
    "policy",
    "operation",
)
_NEEDED = {
    "module": "what one module is",
    "pack": "how many modules in series, and how many strings",
    "inverter": "what the pack feeds",
    "load": "what the inverter must carry",
}
_PACK_APART = ("module", "monitoring")

_OR_NONE = ', or pv = "none" above all sections where the solar side is settled elsewhere'


def read_sheet(path: str | Path) -> Build:
    """Read a build sheet from a file.

    Parameters
    ----------
    path : str or Path
        The TOML file. A bench record it names counts from its folder.

    Raises
    ------
    DataError
        Anything that is not a build sheet: the message names the file, the key, what was got and
        what is needed.
    """
    file = Path(path)
    return parse_sheet(read_text(file, str(path)), str(path), file.parent)


def parse_sheet(
    sheet: str,
    name: str = "build sheet",
    folder: Path | None = None,
    *,
    confined: bool = False,
) -> Build:
    """Read a build sheet from its text.

    Parameters
    ----------
    sheet : str
        The text.
    name : str
        What to call it in messages.
    folder : Path, optional
        Where a bench record beside the sheet is looked for; without it only those of the library
        can be used.
    confined : bool
        Nothing outside the folder is read: for a sheet that came in a page.

    Raises
    ------
    DataError
        As `read_sheet`.
    """
    document = read_toml(sheet, name)
    place = Place(name)
    beside = None if folder is None else Beside(folder, confined)
    problems = Gathering()
    with problems.keeping():
        check_keys(document, place, _SECTIONS)
    for needed, why in _NEEDED.items():
        if needed not in document:
            with problems.keeping():
                raise place.at(needed).refuse(f"the section is missing; it says {why}")
    problems.done()
    site = Site()  # for the cables, if the sheet's own cannot be read
    with problems.keeping():
        site = _chosen(Site, document, place)
    with problems.keeping():
        pack = _pack(document, place, beside)
    inverters: tuple[Inverter, ...] = ()
    with problems.keeping():
        inverters = _inverters(document, place)
    chargers: tuple[Charger, ...] = ()
    with problems.keeping():
        chargers = _chargers(document, place)
    panels: tuple[Panels, ...] | NotFitted | None = None
    with problems.keeping():
        panels = panels_given(document, place)
    outside = [each.name for each in panels] if isinstance(panels, tuple) else []
    with problems.keeping():
        cabling = cabling_given(document, place, site, outside)
    with problems.keeping():
        safeguards = safeguards_given(document, place, site.rules)
    with problems.keeping():
        load = _chosen(Load, document, place)
    with problems.keeping():
        policy = _policy(document, place)
    built_in = [i.charger for i in inverters if isinstance(i.charger, Charger)]
    operation = None
    with problems.keeping():
        solar = [c.name for c in (*chargers, *built_in) if c.source == "solar" and not c.kept_off]
        operation = operation_given(document, place, beside, outside or solar)
    with problems.keeping():
        about = _about(document, place)
    problems.done()
    with place.at("policy").at("charge_target").refusing():
        check_target(policy, pack.module)
    arrays = arrays_on(panels, (*chargers, *built_in))
    names = [device.name for device in (*chargers, *built_in)] + [i.name for i in inverters]
    names += [array.name for array in arrays] if isinstance(arrays, tuple) else []
    check_own(cabling, names, place)
    with place.refusing():
        return Build(
            pack=pack,
            inverters=inverters,
            chargers=chargers,
            arrays=arrays,
            load=load,
            site=site,
            cabling=cabling,
            policy=policy,
            profiles=profiles_near(float(pack.nominal.m)),
            sheet=sheet,
            safeguards=safeguards,
            operation=operation,
            **about,
        )


def _about(document: Toml, place: Place) -> dict[str, Any]:
    """Return what stands above all sections."""
    invented = document.get("invented", False)
    if not isinstance(invented, bool):
        raise place.at("invented").refuse(f"{got(invented)}; true or false is needed")
    return {
        "title": text(document, "title", place),
        "note": text(document, "note", place, ""),
        "invented": invented,
    }


def _chosen(noun: type[T], document: Toml, place: Place) -> T:
    """Return a site or a load: what is typed there is chosen, if the section says nothing else."""
    name = noun.__name__.lower()
    below = place.at(name)
    given = read(noun, section(document, name, place), below, Basis.CHOSEN)
    return build(noun, given, below, Basis.CHOSEN)


def _policy(document: Toml, place: Place) -> Policy:
    """Return the policy: a field that nobody touched is assumed."""
    below = place.at("policy")
    given = read(Policy, section(document, "policy", place), below, Basis.CHOSEN)
    return build(Policy, given, below, Basis.ASSUMED)


def _pack(document: Toml, place: Place, beside: Beside | None) -> Pack:
    problems = Gathering()
    with problems.keeping():
        below = place.at("module")
        typed = module_given(section(document, "module", place), below, Basis.ASSUMED, beside)
        module = build(Module, typed.over(Given({"name": "module"})), below, Basis.ASSUMED)
    below = place.at("pack")
    table = section(document, "pack", place)
    with problems.keeping():
        if "monitoring" in table:
            raise below.at("monitoring").refuse(
                'is a section of its own, [monitoring]; monitoring = "none" stands above all '
                "sections"
            )
        given = read(Pack, table, below, Basis.CHOSEN, besides=_PACK_APART)
    with problems.keeping():
        monitoring = _monitoring(document, place)
    problems.done()
    return build(Pack, given, below, Basis.CHOSEN, module=module, monitoring=monitoring)


def _monitoring(document: Toml, place: Place) -> Monitoring | NotFitted | None:
    """Return the cell monitoring: not fitted by the word "none", unknown without a word."""
    if "monitoring" not in document:
        return None
    below = place.at("monitoring")
    return if_fitted(Monitoring, document["monitoring"], below, Basis.ASSUMED)


def _inverters(document: Toml, place: Place) -> tuple[Inverter, ...]:
    found, problems = [], Gathering()
    for table, below in tables(document, "inverter", place):
        with problems.keeping():
            given = inverter_given(table, below, Basis.ASSUMED)
            found.append(build(Inverter, given, below, Basis.ASSUMED))
    problems.done()
    if not found:
        raise place.at("inverter").refuse("at least one is needed")
    return tuple(found)


def _chargers(document: Toml, place: Place) -> tuple[Charger, ...]:
    found, problems = [], Gathering()
    for table, below in tables(document, "charger", place):
        with problems.keeping():
            given = charger_given(table, below, Basis.ASSUMED)
            found.append(build(Charger, given, below, Basis.ASSUMED))
    problems.done()
    return tuple(found)


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
