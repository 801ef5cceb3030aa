"""The settings sheet: what to enter on each device, and what each number means."""

from __future__ import annotations

from enum import StrEnum

import attrs

from evpack.base.brief import brief
from evpack.base.told import INNER, told
from evpack.base.worked import Worked


class Line(StrEnum):
    """What a line of the sheet is; its value is how it is told, in trade words."""

    CUT_OFF = "low-voltage cut-off"
    CHANGEOVER = "changeover to the utility"
    RETURN = "return to battery"
    CHARGE = "charge voltage (absorption)"
    FLOAT = "float voltage"
    EQUALISE = "equalise"
    COMPENSATION = "temperature compensation"
    CURRENT = "charge current limit"
    CURRENT_COLD = "charge current limit in the cold"
    END_CURRENT = "absorption end current"
    ABSORPTION_TIME = "absorption time"
    CELL_CUT_HIGH = "high cell voltage, cut"
    CELL_WARN_HIGH = "high cell voltage, warning"
    CELL_WARN_LOW = "low cell voltage, warning"
    CELL_CUT_LOW = "low cell voltage, cut"
    NO_CHARGE_BELOW = "no charge below"
    NO_CHARGE_ABOVE = "no charge above"
    NO_DISCHARGE_OUTSIDE = "no discharge outside"
    OVER_OUT = "discharge over-current, each string"
    OVER_IN = "charge over-current, each string"
    CAPACITY = "capacity"
    FULL_VOLTAGE = "voltage that counts as full"
    FULL_CURRENT = "current that counts as full"
    EFFICIENCY = "charge efficiency"
    PEUKERT = "Peukert exponent"
    KEPT_OFF = "charging by this device"


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
    name : Line
        What it is; told in trade words.
    entry : str
        What to enter, ready to read off: ``"56.8 V"``, ``"off"``.
    worked : Worked or None
        The number behind the entry, where there is one.
    shows : float or None
        The number of the entry as it is entered, in the unit of `worked`; None where the entry is
        told in words.
    not_connected : bool
        Whether the device must not be connected: no entry works.
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

    name: Line = attrs.field(converter=Line)
    act: Act
    entry: str
    why: str
    worked: Worked | None = attrs.field(default=None, metadata=told(key="quantity"))
    shows: float | None = attrs.field(default=None, metadata=INNER)
    not_connected: bool = attrs.field(default=False, metadata=INNER)
    offers: str = ""
    per_cell: float | None = attrs.field(default=None, metadata=told(unit="V"))
    soc_rest: float | None = attrs.field(default=None, metadata=told(key="soc_at_rest", unit=""))
    soc_loaded: float | None = attrs.field(
        default=None, metadata=told(key="soc_under_load", unit="")
    )
    lost: str = ""
    where: str = ""

    __repr__ = brief


@attrs.frozen(kw_only=True)
class DeviceSettings:
    """The lines of one device."""

    device: str
    lines: tuple[Setting, ...]
    optional: bool = False  # a device that may not be fitted

    __repr__ = brief

    def line(self, name: Line) -> Setting | None:
        """Return a line by what it is, if the device has it."""
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
    thresholds: Thresholds = attrs.field(metadata=INNER)
    withheld: bool = False

    __repr__ = brief

    def device(self, name: str) -> DeviceSettings | None:
        """Return the lines of a device by its name."""
        return next((d for d in self.devices if d.device == name), None)
