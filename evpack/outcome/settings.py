"""The settings sheet: what to enter on each device, and what each number means."""

from __future__ import annotations

from enum import StrEnum

import attrs

from evpack.base.brief import brief
from evpack.base.worked import Worked

# The line that others lean on, by its name.
CHARGE_CURRENT_LIMIT = "charge current limit"


class Act(StrEnum):
    """What a person does with a line of the sheet."""

    ENTER = "enter"
    TURN_OFF = "turn off"
    FIND_OUT = "find out first"
    CANNOT = "cannot be set"


@attrs.frozen(kw_only=True)
class Setting:
    """One line of the sheet.

    Parameters
    ----------
    name : str
        In trade words: "charge voltage", "low-voltage cut-off".
    entry : str
        What to enter, ready to read off: ``"56.8 V"``, ``"off"``.
    worked : Worked or None
        The number behind the entry, where there is one.
    offers : str
        What the device lets a person enter: its range and step.
    why : str
        What the number means and why it is this one, in a sentence or two.
    per_cell : float or None
        The entry for one cell [V].
    soc_rest, soc_loaded : float or None
        State of charge at which the pack shows this voltage at rest, and under `load_words`.
    lost : str
        What a coarse step or a narrow range costs.
    where : str
        Free text: where the user's own device keeps this entry.
    """

    name: str
    act: Act
    entry: str
    why: str
    worked: Worked | None = None
    offers: str = ""
    per_cell: float | None = None
    soc_rest: float | None = None
    soc_loaded: float | None = None
    lost: str = ""
    where: str = ""

    __repr__ = brief


@attrs.frozen(kw_only=True)
class DeviceSettings:
    """The lines of one device."""

    device: str
    lines: tuple[Setting, ...]

    __repr__ = brief

    def line(self, name: str) -> Setting | None:
        """Return the line of that name, if the device has one."""
        return next((line for line in self.lines if line.name == name), None)


@attrs.frozen(kw_only=True)
class Thresholds:
    """The voltages at which the pack is steered, for the whole pack [V]; None is not settled.

    `charge` is the lowest charge voltage of all chargers (which every one of them reaches),
    `charge_most` the highest that any of them may really give, its error included. `cut_off` is
    the highest cut-off of all inverters, `changeover` and `back` belong together. `floated` is the
    lowest float of the chargers whose float cannot be turned off, `floated_by` that charger.
    """

    charge: float | None
    charge_most: float | None
    cut_off: float | None
    changeover: float | None
    back: float | None
    floated: float | None = None
    floated_by: str = ""

    __repr__ = brief


@attrs.frozen(kw_only=True)
class SettingsSheet:
    """The whole sheet, device by device, and the thresholds it leads to.

    `withheld` says that the design is held up: the numbers then show how far it came, and none of
    them may be entered.
    """

    devices: tuple[DeviceSettings, ...]
    thresholds: Thresholds
    withheld: bool = False

    __repr__ = brief

    def device(self, name: str) -> DeviceSettings | None:
        """Return the lines of a device by its name."""
        return next((d for d in self.devices if d.device == name), None)
