"""What is proven of the cell monitoring, and the settings that are read back from each device."""

from __future__ import annotations

from collections.abc import Iterator

import attrs

from evpack.base.errors import UnitError
from evpack.commission.steps import Stage, slug
from evpack.describe.pack import Monitoring
from evpack.outcome.commissioning import CommissioningStep
from evpack.outcome.design import Design
from evpack.outcome.settings import Act, Setting

_MONITORING = Stage("monitoring", "The cell monitoring, before the first charge")
_SETTINGS = Stage("settings", "The settings, read back from each device before any charger runs")
_IF_FITTED = "if fitted"

_NEVER = (
    "By moving its threshold past what the cells have now, never by driving a cell to its limit"
)


def monitoring(design: Design) -> Iterator[CommissioningStep]:
    """Yield what the cell monitoring must be seen to do."""
    watching = design.build.pack.monitoring
    if not isinstance(watching, Monitoring):
        return  # no design that works is without
    yield _MONITORING.asks(
        "reads",
        "Every cell group",
        "Its display agrees with a hand meter at every cell group, to within 10 mV.",
        "A wire at the wrong cell makes it watch something else.",
    )
    if watching.stops_charge:
        yield _MONITORING.asks(
            "stops_charge",
            "It stops the charge",
            f"{_NEVER}: the charge current falls to nothing, from every charger.",
            "It is the last thing between a charger that never stops and a fire.",
        )
    if watching.stops_discharge:
        yield _MONITORING.asks(
            "stops_discharge",
            "It stops the discharge",
            f"{_NEVER}: the inverters lose the pack.",
        )
    if watching.watches_each_string:
        yield _MONITORING.asks(
            "each_string",
            "Each string by itself",
            "A threshold moved at one string opens that string, and the others hold.",
        )
    if watching.temperatures:
        yield _MONITORING.asks(
            "temperatures",
            "Temperatures",
            "Each sensor shows the room, and rises when it is held in the hand.",
        )
    if watching.blocks_cold_charge:
        yield _MONITORING.asks(
            "cold",
            "No charge in the cold",
            "With its limit moved above the room's temperature it blocks the charge.",
            "Charging a frozen cell plates metal inside it, for good and unseen.",
        )


def settings(design: Design) -> Iterator[CommissioningStep]:
    """Yield every line of the settings sheet, to be read back."""
    if design.settings is None:
        return
    for device in design.settings.devices:
        optional = device.device.endswith(_IF_FITTED)
        for line in device.lines:
            step = _line(device.device, line)
            yield attrs.evolve(step, optional=True) if optional else step


def _line(device: str, line: Setting) -> CommissioningStep:
    key, title = slug(f"{device} {line.name}"), f"{device}: {line.name}"
    if line.act is Act.ENTER and line.worked is not None:
        kind = line.worked.kind
        try:
            entered = float(kind.read(line.entry.replace("/cell", "")).m)
        except UnitError:  # told in words: a range, or a time with "at most"
            pass
        else:
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
    if line.act is Act.ENTER:
        return _SETTINGS.asks(key, title, f"It shows {line.entry}.")
    if line.act is Act.TURN_OFF:
        return _SETTINGS.asks(key, title, "It is off, and stays off after a restart.")
    return _SETTINGS.asks(key, title, f"It is settled: {line.entry}.", line.why)
