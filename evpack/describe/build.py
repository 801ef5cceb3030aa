"""The build: everything the user states, in one noun."""

from __future__ import annotations

import functools
from typing import TypeVar

import attrs

from evpack.base.brief import brief
from evpack.base.errors import DescriptionError, nearest
from evpack.base.fitted import NOT_FITTED, NotFitted, is_not_fitted
from evpack.base.told import INNER
from evpack.describe.array import Array
from evpack.describe.cabling import Cabling
from evpack.describe.charger import NOT_WIRED, Charger, LeadAcidProfile
from evpack.describe.checked import checked, need
from evpack.describe.inverter import Inverter
from evpack.describe.operation import Operation
from evpack.describe.pack import Pack
from evpack.describe.policy import Policy
from evpack.describe.safeguards import Safeguards
from evpack.describe.site import Load, Site

T = TypeVar("T")


def _inverters(given: object) -> tuple[Inverter, ...]:
    return _all_of(Inverter, "inverters", given)


def _chargers(given: object) -> tuple[Charger, ...]:
    return _all_of(Charger, "chargers", given)


def _profiles(given: object) -> tuple[LeadAcidProfile, ...]:
    return _all_of(LeadAcidProfile, "profiles", given)


def _arrays(given: object) -> tuple[Array, ...] | NotFitted | None:
    if given is None:
        return None
    return NOT_FITTED if is_not_fitted(given) else _all_of(Array, "arrays", given)


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
    arrays : tuple of Array, NOT_FITTED or None
        What feeds the solar chargers; NOT_FITTED where the builder has the solar side settled
        elsewhere, which is then not judged; None is unknown.
    profiles : tuple of LeadAcidProfile
        The lead-acid profiles that people leave on, each judged against this pack.
    operation : Operation or None
        How it is worked over a year, where the sheet says so; only a run over time asks for it.
    sheet : str
        The text of the build sheet that it was read from, if it was.
    """

    title: str
    pack: Pack
    inverters: tuple[Inverter, ...] = attrs.field(converter=_inverters)
    chargers: tuple[Charger, ...] = attrs.field(converter=_chargers, factory=tuple)
    arrays: tuple[Array, ...] | NotFitted | None = attrs.field(converter=_arrays, default=None)
    load: Load
    site: Site = attrs.field(factory=Site)
    cabling: Cabling = attrs.field(factory=Cabling)
    policy: Policy = attrs.field(factory=Policy)
    safeguards: Safeguards = attrs.field(factory=Safeguards)
    profiles: tuple[LeadAcidProfile, ...] = attrs.field(converter=_profiles, factory=tuple)
    operation: Operation | None = None
    note: str = ""
    invented: bool = False
    sheet: str = attrs.field(default="", metadata=INNER)

    __repr__ = brief

    def __attrs_post_init__(self) -> None:
        """Refuse two devices of one name, an array on no charger, a run to no device."""
        names = [i.name for i in self.inverters] + [c.name for c in self.fitted_chargers]
        names += [a.name for a in self.solar_arrays]
        for place, name in enumerate(names):
            if name in names[:place]:
                raise DescriptionError(
                    f"two devices are called '{name}': give each a name of its own, or "
                    "say count where they are alike"
                )

        chargers = [c.name for c in self.all_chargers]
        off = {charger.name: charger.kept_off for charger in self.kept_off}
        for array in self.solar_arrays:
            if array.feeds in off:
                raise DescriptionError(
                    f"{array.name}: feeds '{array.feeds}', which is said to be {off[array.feeds]}: "
                    "take kept_off out there, or leave the array out of the sheet"
                )
            if array.feeds not in chargers:
                raise DescriptionError(
                    f"{array.name}: feeds '{array.feeds}', and no charger is called so"
                    f"{nearest(array.feeds, chargers)}"
                )
        for name in self.cabling.own:
            if name not in names:
                raise DescriptionError(
                    f"cabling: a run of its own is given for '{name}', and no device is called so"
                    f"{nearest(name, names)}"
                )

    @property
    def solar_arrays(self) -> tuple[Array, ...]:
        """Return the arrays that are described; none where nobody said or none is to be judged."""
        return self.arrays if isinstance(self.arrays, tuple) else ()

    @functools.cached_property
    def fitted_chargers(self) -> tuple[Charger, ...]:
        """Return every charger, those that are kept off too.

        Those built into inverters count once for each unit of the inverter.
        """
        built_in = tuple(
            attrs.evolve(i.charger, count=i.charger.count * i.count)
            for i in self.inverters
            if isinstance(i.charger, Charger)
        )
        return self.chargers + built_in

    @functools.cached_property
    def all_chargers(self) -> tuple[Charger, ...]:
        """Return every charger that charges, as `fitted_chargers` has them."""
        return tuple(charger for charger in self.fitted_chargers if not charger.kept_off)

    @property
    def kept_off(self) -> tuple[Charger, ...]:
        """Return the chargers that are there and charge nothing."""
        return tuple(charger for charger in self.fitted_chargers if charger.kept_off)

    @property
    def joined_chargers(self) -> tuple[Charger, ...]:
        """Return the chargers that are no part of an inverter and hang on the pack."""
        return tuple(charger for charger in self.chargers if charger.kept_off != NOT_WIRED)
