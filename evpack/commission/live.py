"""What is proven while the pack is switched on for the first time, and looked at again later."""

from __future__ import annotations

from collections.abc import Iterator

from evpack.base.basis import Basis
from evpack.base.units import RESISTANCE, RISE, SHARE, VOLTAGE
from evpack.base.wording import say, say_down
from evpack.base.worked import Input, Worked
from evpack.commission.expected import bus_resistance
from evpack.commission.steps import Stage, slug
from evpack.describe.cabling import Run
from evpack.describe.safeguards import Disconnect, EmergencyOff
from evpack.outcome.commissioning import CommissioningStep
from evpack.outcome.design import Design

_CLOSING = Stage("closing", "First closing, nothing drawn")
_CHARGE = Stage("charge", "First charge, somebody beside it")
_DISCHARGE = Stage("discharge", "First discharge, somebody beside it")
_LATER = Stage("later", "After a day, a week, a month", later=True)

_STEP_LEFT = "step left when the main contact closes"
# Common practice, no source: what meters, joints and a room that is not at 25 °C add.
_ABOVE = 1.2
_JOINTS = 1.5
_WARMER = 20.0  # [K], a joint above its cable


def closing(design: Design) -> Iterator[CommissioningStep]:
    """Yield what is seen when the pack is joined to its devices."""
    build = design.build
    guards = build.safeguards
    if isinstance(guards.disconnect, Disconnect):
        yield _CLOSING.asks(
            "disconnect",
            "Battery disconnect",
            "It opens and closes, and when open there is no voltage beyond it, pole by pole.",
        )
    if isinstance(guards.emergency_off, EmergencyOff):
        yield from _emergency(guards.emergency_off)
    for plan in () if design.protection is None else design.protection.precharge:
        left = next((line for line in plan.with_it if line.name == _STEP_LEFT), None)
        yield _CLOSING.reads(
            f"precharge_{slug(plan.inverter)}",
            f"Precharge of {plan.inverter}",
            "The voltage across the open main contact just before it closes.",
            "A step that is left rushes into the capacitors: contacts weld, fuses melt.",
            kind=VOLTAGE,
            high=None if left is None else max(_ABOVE * left.value, 1.0),
            worked=left,
        )
    for inverter in build.inverters:
        error = inverter.meter_accuracy or build.policy.meter_accuracy
        yield _CLOSING.reads(
            f"meter_{slug(inverter.name)}",
            f"Voltmeter of {inverter.name}",
            "What it shows minus what a good hand meter shows at its terminals, without the sign.",
            "All thresholds are as good as this meter: the design allows it this error.",
            kind=VOLTAGE,
            high=float(error.m) * float(build.pack.nominal.m),
        )


def _emergency(emergency: EmergencyOff) -> Iterator[CommissioningStep]:
    for key, does, words in (
        ("opens", emergency.opens_every_string, "it opens every string"),
        ("charging", emergency.stops_charging, "it stops every charger, the solar ones too"),
        ("inverters", emergency.stops_inverters, "it stops the inverters"),
    ):
        if does:
            yield _CLOSING.asks(
                f"emergency_{key}",
                "Emergency disconnect",
                f"Pressed once from where a stranger would press it: {words}, until somebody turns "
                "it on again by hand.",
            )


def charge(design: Design) -> Iterator[CommissioningStep]:
    """Yield what is read in the first charge."""
    build, sheet = design.build, design.settings
    targets = build.pack.module.chemistry.targets
    if sheet is None or targets is None:
        return
    at = sheet.thresholds
    yield _CHARGE.asks(
        "slowly",
        "The first hour",
        "Charged at a tenth of the current or less, every cell group looked at, every joint felt "
        "for warmth through a glove or with a camera.",
    )
    if at.charge is not None and at.charge_most is not None:
        yield _CHARGE.reads(
            "ends_at",
            "Where the charge ends",
            "The highest voltage at the pack's terminals, by a hand meter.",
            "The settings keep every cell below its target only if the chargers err no more than "
            "the design allows them.",
            kind=VOLTAGE,
            low=2 * at.charge - at.charge_most,
            high=at.charge_most,
        )
    target = float((build.policy.charge_target or targets.charge).m)
    yield _CHARGE.reads(
        "highest_cell",
        "The highest cell group at that moment",
        "By the cell monitoring.",
        kind=VOLTAGE,
        high=target,
    )
    spread = build.pack.spread_full or targets.top_guard
    yield _CHARGE.reads(
        "spread_full",
        "Cells apart when full",
        "The highest cell group minus the mean of all, at that moment.",
        "The charge voltage leaves this much room above the mean.",
        kind=VOLTAGE,
        high=max(float(spread.m), float(targets.top_guard.m)),
    )
    yield _CHARGE.asks(
        "stops",
        "The charge ends by itself",
        "The current falls away and each charger stops or goes to its float.",
    )


def discharge(design: Design) -> Iterator[CommissioningStep]:
    """Yield what is read in the first discharge."""
    build = design.build
    ohms = bus_resistance(design)
    if ohms is not None:
        yield _resistance(design, ohms)
    if design.sharing is not None and build.pack.strings > 1:
        yield _sharing(design)
    for run, inverter in _mains(design):
        high = _JOINTS * float(run.resistance.m)
        yield _DISCHARGE.reads(
            f"main_{slug(inverter)}",
            f"Cables and joints to {inverter}",
            "At a steady load: the voltage at the bus bars minus that at the inverter, divided by "
            "its DC current.",
            "More than the copper has: a joint is bad, and grows warm.",
            kind=RESISTANCE,
            high=high,
        )
    yield _DISCHARGE.reads(
        "joints",
        "The warmest joint",
        "After half an hour at full load: the warmest joint minus the cable beside it.",
        kind=RISE,
        high=_WARMER,
    )
    sheet = design.settings
    if sheet is not None:
        yield from _thresholds(design)


def _resistance(design: Design, ohms: float) -> CommissioningStep:
    policy = design.build.policy
    return _DISCHARGE.reads(
        "resistance",
        "Resistance of the pack",
        "At about 25 °C and half charged: the voltage at the bus bars before a steady load, minus "
        "that after ten seconds of it, divided by its current.",
        "Every sag, every cut-off under load and every fault current rests on it.",
        kind=RESISTANCE,
        low=float(policy.ohmic_part.m) * ohms,
        high=_ABOVE * ohms,
        worked=Worked(
            name="resistance of the pack at the bus bars, at most",
            value=_ABOVE * ohms,
            kind=RESISTANCE,
            formula="{k} · {R_bus}",
            inputs=(
                Input("k", "what meters and the room add", _ABOVE, "", Basis.ASSUMED),
                Input("R_bus", "10 s resistance with links and leads", ohms, "Ω", Basis.COMPUTED),
            ),
            source="common-practice",
        ),
    )


def _sharing(design: Design) -> CommissioningStep:
    shared, strings = design.sharing, design.build.pack.strings
    assert shared is not None  # noqa: S101  (told to the type checker; the caller asked)
    return _DISCHARGE.reads(
        "sharing",
        "The busiest string",
        f"At full load, by a clamp meter on each of the {strings} strings: the largest current "
        "divided by the mean of all.",
        "Fuses, leads and limits are sized for this share.",
        kind=SHARE,
        high=shared.worst.value / shared.even.value,
        worked=shared.worst,
    )


def _mains(design: Design) -> Iterator[tuple[Run, str]]:
    cabling = design.build.cabling
    for inverter in design.build.inverters:
        run = cabling.own.get(inverter.name, cabling.main)
        if run is not None:
            yield run, inverter.name


def _thresholds(design: Design) -> Iterator[CommissioningStep]:
    """Yield the thresholds, seen to act within the error of the meter that they hang on."""
    build, sheet = design.build, design.settings
    assert sheet is not None  # noqa: S101  (told to the type checker; the caller asked)
    errors = [float((i.meter_accuracy or build.policy.meter_accuracy).m) for i in build.inverters]
    at, error = sheet.thresholds, max(errors, default=0.0)
    for key, volts, title, todo in (
        (
            "changeover",
            at.changeover,
            "Changeover to the utility",
            "The voltage at the inverter when it hands the load to the utility.",
        ),
        (
            "back",
            at.back,
            "Return to battery",
            "The voltage at the inverter when it takes the load back.",
        ),
    ):
        if volts is not None:
            yield _DISCHARGE.reads(
                key,
                title,
                f"{todo} A delay of the device lets it pass the threshold: read the voltage when "
                "it begins to count.",
                kind=VOLTAGE,
                low=volts * (1 - error),
                high=volts * (1 + error),
            )
    if at.cut_off is not None:
        yield _DISCHARGE.asks(
            "cut_off",
            "Low-voltage cut-off",
            f"Raised for a moment to just above the present voltage, it stops the inverter; set "
            f"back to {say(at.cut_off, 'V')} and read back.",
            "Nobody need empty a pack to see it act.",
        )


def later(design: Design) -> Iterator[CommissioningStep]:
    """Yield what is looked at again once the pack is in use."""
    targets = design.build.pack.module.chemistry.targets
    yield _LATER.asks(
        "torque",
        "Every joint, after a week",
        "The marks have not moved, nothing is discoloured, the torque is as it was.",
    )
    yield _LATER.asks(
        "warmth",
        "Every joint and fuse at full load",
        f"None is more than {say_down(_WARMER, 'K')} warmer than its neighbours.",
    )
    if targets is not None:
        yield _LATER.reads(
            "spread",
            "Cells apart when full, after a month",
            "The highest cell group minus the mean of all, at the end of a charge.",
            "A spread that grows is a cell that leaks or ages apart.",
            kind=VOLTAGE,
            high=max(
                float((design.build.pack.spread_full or targets.top_guard).m),
                float(targets.top_guard.m),
            ),
        )
    yield _LATER.asks(
        "log",
        "The pack's own log",
        "Held against the design (evpack log), nothing departs from it.",
    )
