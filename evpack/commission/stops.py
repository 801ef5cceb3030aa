"""What stops the pack, seen to do so at a low current before any more flows."""

from __future__ import annotations

from collections.abc import Iterator

from evpack.base.fitted import NOT_FITTED
from evpack.base.wording import say, say_up
from evpack.commission.high_voltage import monitor_resistor
from evpack.commission.steps import SET_BACK, Stage
from evpack.describe.charger import Charger
from evpack.describe.inverter import Inverter
from evpack.describe.pack import Monitoring
from evpack.describe.safeguards import EmergencyOff, Precharge
from evpack.outcome.commissioning import CommissioningStep
from evpack.outcome.design import Design

_STOPS = Stage("stops", "What stops the pack, one after another, still at that low current")

_NEVER = (
    "By moving its threshold past what the cells have now, never by driving a cell to its limit"
)
_AGAIN = "It closes again only through the precharge."
_NO_CHARGE = "The pack is not charged until it does."
_NO_USE = "The pack is not used until it does."


def stops(design: Design) -> Iterator[CommissioningStep]:
    """Yield what watches over pack and people must be seen to do."""
    watching, emergency = design.build.pack.monitoring, design.build.safeguards.emergency_off
    again = f" {_AGAIN}" if isinstance(design.build.safeguards.precharge, Precharge) else ""
    if isinstance(watching, Monitoring):  # no design that works is without
        yield from _monitoring(watching, again)
    if isinstance(emergency, EmergencyOff):
        yield from _emergency(emergency, again)
    if design.build.safeguards.insulation_monitoring:
        yield _insulation(design)
    yield from _ac_side(design)


def _insulation(design: Design) -> CommissioningStep:
    """Return the trip test of what watches the insulation against earth."""
    if design.build.pack.earthed in {"minus", "plus"}:
        what = "By its own test, or as its maker says, it tells of a fault to earth, and stops "
        todo = f"{what}what it is meant to stop."
    else:
        ohms, burns = monitor_resistor(design)
        todo = (
            f"Silent at first. With {say(ohms, 'Ω')} (for {say_up(burns.value, 'W')} and "
            f"{say_up(float(design.build.pack.highest.m), 'V')} or more, leads insulated) from "
            "plus to earth, and then from minus to earth, it tells within its time each time. "
            "Taken off, it is silent again."
        )
    return _STOPS.asks(
        "insulation_monitor",
        "Insulation monitor",
        todo,
        "The first fault to earth harms nobody, and makes the second a short. A live pack must "
        "keep 100 Ω for each volt (ISO 6469-3, from memory).",
        _NO_USE,
    )


def _ac_side(design: Design) -> Iterator[CommissioningStep]:
    """Yield what guards people on the AC side: residual current, and no feeding back."""
    inverters = design.build.inverters
    if not inverters:
        return
    yield _STOPS.asks(
        "residual_current",
        "Residual-current device (ground-fault interrupter) of the AC circuits",
        "The inverters alone feed, with a small load: the test button of every one opens it. The "
        "neutral is joined to earth in one place only, in this state too.",
        "Without that joint a fault to earth opens nothing, with two it opens for no fault.",
        "No socket is used until it does.",
    )
    if any(_passes_utility(inverter) for inverter in inverters):
        yield _STOPS.asks(
            "transfer",
            "Transfer between utility, generator and inverter",
            "The pack feeds, and utility or generator are off at their main: no AC voltage on "
            "their side of the switch. Nothing lets two of them in at once, by hand either.",
            "Whoever works on a line that is switched off is killed by what is fed back.",
            "Inverters off until it is so.",
        )


def _passes_utility(inverter: Inverter) -> bool:
    """Return whether utility or generator come to the inverter: to charge, or to change over."""
    charger = inverter.charger
    charges = isinstance(charger, Charger) and charger.source != "solar"
    return charges or inverter.changeover is not NOT_FITTED


def _monitoring(watching: Monitoring, again: str) -> Iterator[CommissioningStep]:
    if watching.stops_charge:
        yield _STOPS.asks(
            "stops_charge",
            "The cell monitoring stops the charge",
            f"{_NEVER}: the charge current falls to nothing, from every charger. {SET_BACK}",
            "It is the last thing between a charger that never stops and a fire.",
            _NO_CHARGE,
        )
    if watching.stops_discharge:
        yield _STOPS.asks(
            "stops_discharge",
            "The cell monitoring stops the discharge",
            f"With a small load. {_NEVER}: the inverters lose the pack. {SET_BACK}{again}",
            "A cell that is emptied to nothing can short inside when it is charged again.",
            _NO_USE,
        )
    if watching.watches_each_string:
        yield _STOPS.asks(
            "each_string",
            "Each string by itself",
            f"A threshold moved at one string opens that string, and the others hold. {SET_BACK} "
            "The string is joined again only while it agrees with the others as before it was "
            "joined at first.",
            "A string that is joined apart from the others is hit by all they can give.",
            _NO_USE,
        )
    if watching.blocks_cold_charge:
        yield _STOPS.asks(
            "cold",
            "The cell monitoring lets nothing charge in the cold",
            "With its limit moved above the room's temperature it blocks the charge. " + SET_BACK,
            "Charging a frozen cell plates metal inside it, for good and unseen.",
            _NO_CHARGE,
        )


def _emergency(emergency: EmergencyOff, again: str) -> Iterator[CommissioningStep]:
    for key, does, words in (
        ("opens", emergency.opens_every_string, "it opens every string"),
        (
            "charging",
            emergency.stops_charging,
            "while every charger charges, it stops all of them, the solar ones too",
        ),
        ("inverters", emergency.stops_inverters, "with a small load, it stops the inverters"),
    ):
        if does:
            yield _STOPS.asks(
                f"emergency_{key}",
                "Emergency disconnect",
                f"Pressed once from where a stranger would press it: {words}, until somebody turns "
                f"it on again by hand.{again}",
                "Whoever presses it knows nothing of the rest.",
                _NO_USE,
            )
