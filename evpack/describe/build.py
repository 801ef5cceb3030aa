"""The build: everything the user states, in one noun."""

from __future__ import annotations

from typing import TypeVar

import attrs

from evpack.base.brief import brief
from evpack.base.errors import DescriptionError
from evpack.describe.cabling import Cabling
from evpack.describe.charger import Charger, LeadAcidProfile
from evpack.describe.checked import checked, need
from evpack.describe.fuses import FuseFamily
from evpack.describe.inverter import Inverter
from evpack.describe.pack import Pack
from evpack.describe.policy import Policy
from evpack.describe.site import Load, Site

T = TypeVar("T")


def _inverters(given: object) -> tuple[Inverter, ...]:
    return _all_of(Inverter, "inverters", given)


def _chargers(given: object) -> tuple[Charger, ...]:
    return _all_of(Charger, "chargers", given)


def _profiles(given: object) -> tuple[LeadAcidProfile, ...]:
    return _all_of(LeadAcidProfile, "profiles", given)


def _all_of(wanted: type[T], what: str, given: object) -> tuple[T, ...]:
    found = tuple(given) if isinstance(given, tuple | list) else (given,)
    for item in found:
        need(what, item, wanted)
    return found


@attrs.frozen(kw_only=True, eq=False, field_transformer=checked)
class Build:
    """A pack, the equipment around it, the place, the load and the choices.

    Parameters
    ----------
    invented : bool
        An example that no real place or product stands behind; every page says so.
    string_fuse, main_fuse : FuseFamily or str
        The fuse family wanted, or its key in the catalogue; empty takes the first that fits.
    profiles : tuple of LeadAcidProfile
        The lead-acid profiles that people leave on, each judged against this pack.
    sheet : str
        The text of the build sheet that it was read from, if it was.
    """

    title: str
    pack: Pack
    inverters: tuple[Inverter, ...] = attrs.field(converter=_inverters)
    chargers: tuple[Charger, ...] = attrs.field(converter=_chargers, factory=tuple)
    load: Load
    site: Site = attrs.field(factory=Site)
    cabling: Cabling = attrs.field(factory=Cabling)
    policy: Policy = attrs.field(factory=Policy)
    string_fuse: FuseFamily | str = ""
    main_fuse: FuseFamily | str = ""
    profiles: tuple[LeadAcidProfile, ...] = attrs.field(converter=_profiles, factory=tuple)
    note: str = ""
    invented: bool = False
    sheet: str = ""

    __repr__ = brief

    def __attrs_post_init__(self) -> None:
        """Refuse two devices of one name: the settings sheet could not tell them apart."""
        names = [i.name for i in self.inverters] + [c.name for c in self.all_chargers]
        for place, name in enumerate(names):
            if name in names[:place]:
                raise DescriptionError(
                    f"two devices are called '{name}': give each a name of its own, or "
                    "say count where they are alike"
                )

    @property
    def all_chargers(self) -> tuple[Charger, ...]:
        """Return every charger; those built into inverters once for each unit of the inverter."""
        built_in = tuple(
            attrs.evolve(i.charger, count=i.charger.count * i.count)
            for i in self.inverters
            if isinstance(i.charger, Charger)
        )
        return self.chargers + built_in
