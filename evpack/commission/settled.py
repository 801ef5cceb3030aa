"""What the cell monitoring shows, and the settings that are read back from each device."""

from __future__ import annotations

from collections.abc import Iterator

import attrs

from evpack.base.units import CURRENT
from evpack.commission import hardware
from evpack.commission.steps import Stage, slug
from evpack.describe.pack import Monitoring
from evpack.outcome.commissioning import CommissioningStep
from evpack.outcome.design import Design
from evpack.outcome.settings import Act, DeviceSettings, Line, Setting

_MONITORING = Stage("monitoring", "The cell monitoring: what it shows, nothing joined yet")
_SETTINGS = Stage(
    "settings", "The settings, entered and read back; chargers, loads and the array still off"
)
_WARM, _COLD = Line.CURRENT, Line.CURRENT_COLD
_ENTER = "Enter it again. A device that does not keep it is not used with this pack."


def monitoring(design: Design) -> Iterator[CommissioningStep]:
    """Yield what the cell monitoring must be seen to show."""
    watching = design.build.pack.monitoring
    if not isinstance(watching, Monitoring):
        return  # no design that works is without
    yield _MONITORING.asks(
        "reads",
        "Every cell group",
        "Its display agrees with a hand meter at every cell group, to within 10 mV.",
        "A wire at the wrong cell makes it watch something else.",
        "No charge and no discharge until it does.",
    )
    if watching.temperatures:
        yield _MONITORING.asks(
            "temperatures",
            "Temperatures",
            "Each sensor shows the room, and rises when it is held in the hand.",
        )


def settings(design: Design) -> Iterator[CommissioningStep]:
    """Yield every line of the settings sheet, to be read back."""
    if design.settings is None:
        return
    for device in design.settings.devices:
        for line in device.lines:
            yield attrs.evolve(
                _limit(device, line) or _line(device.device, line),
                device=device.device,
                optional=device.optional,
                if_not=_ENTER,
                rests_on=hardware.device(design, device.device),
            )


def _limit(device: DeviceSettings, line: Setting) -> CommissioningStep | None:
    """Return the charge current limit of a device that has another one in the cold.

    It shows one of the two, by the season: a list that insisted on the warm one would be obeyed in
    winter too.
    """
    key, title = slug(f"{device.device} {line.name}"), f"{device.device}: {line.name}"
    if line.name == _COLD:
        return _SETTINGS.asks(
            key,
            title,
            f"In the cold months it is set to: {line.entry}. Who does it, and when, is settled and "
            "written beside it.",
            line.why,
        )
    cold = device.line(_COLD)
    if line.name != _WARM or line.worked is None or cold is None:
        return None
    least, most = cold.shows, line.shows
    if least is None or most is None or not least < most:
        return None
    return _SETTINGS.reads(
        key,
        title,
        f"Leave the menu, go back, and write down what it shows: {line.entry} in the warm months, "
        f"{cold.entry} while the cells may be cold.",
        kind=CURRENT,
        low=least,
        high=most,
        worked=line.worked,
    )


def _line(device: str, line: Setting) -> CommissioningStep:
    key, title = slug(f"{device} {line.name}"), f"{device}: {line.name}"
    if line.act is Act.ENTER:
        kind, entered = None if line.worked is None else line.worked.kind, line.shows
        if kind is None or entered is None:
            return _SETTINGS.asks(key, title, f"It shows {line.entry}.")
        return _SETTINGS.reads(
            key,
            title,
            "Leave the menu, go back, and write down what it shows.",
            kind=kind,
            low=entered,
            high=entered,
            worked=line.worked,
            entry=line.entry,
        )
    if line.act is Act.TURN_OFF:
        so = "It is off, and stays off after a restart."
        return _SETTINGS.asks(key, title, so if line.entry == "off" else f"Done: {line.entry}.")
    if line.act is Act.CANNOT:
        return _SETTINGS.asks(
            key,
            title,
            f"It cannot be set on this device: {line.entry}. Whoever uses the pack knows it, "
            "and it is written beside the device.",
            line.why,
        )
    return _SETTINGS.asks(key, title, f"It has been found out: {line.entry}.", line.why)
