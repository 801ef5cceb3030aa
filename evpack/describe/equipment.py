"""A list of inverters and chargers that could be bought."""

from __future__ import annotations

from collections.abc import Mapping

import attrs

from evpack.base.brief import brief
from evpack.base.errors import DescriptionError
from evpack.base.told import INNER
from evpack.describe.charger import Charger
from evpack.describe.inverter import Inverter


@attrs.frozen(kw_only=True, eq=False)
class EquipmentList:
    """Devices to choose from, each with a name of its own.

    Parameters
    ----------
    inverters : tuple of Inverter
    chargers : tuple of Charger
    prices : mapping
        What a device costs, by its name, in one money for all.
    money : str
        The name or sign of that money.
    sections : mapping
        How a device is typed in a build sheet, by its name, where it was read from a file: keys
        and values.
    """

    name: str = "equipment"
    inverters: tuple[Inverter, ...] = ()
    chargers: tuple[Charger, ...] = ()
    prices: Mapping[str, float] = attrs.field(factory=dict)
    money: str = ""
    sections: Mapping[str, Mapping[str, object]] = attrs.field(factory=dict, metadata=INNER)

    __repr__ = brief

    def __attrs_post_init__(self) -> None:
        """Refuse two devices of one name, since results are told by names."""
        names = [inverter.name for inverter in self.inverters]
        names += [charger.name for charger in self.chargers]
        for place, name in enumerate(names):
            if name in names[:place]:
                raise DescriptionError(
                    f"{self.name}: two devices are called '{name}': give each a name of its own"
                )
