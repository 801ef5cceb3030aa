"""What is proven when the pack is joined to its devices for the first time, nothing drawn."""

from __future__ import annotations

from collections.abc import Iterator

from evpack.base.basis import Basis
from evpack.base.units import TIME, VOLTAGE
from evpack.base.worked import Input, Worked, from_worked, known
from evpack.commission.steps import Stage, slug
from evpack.describe.inverter import Inverter
from evpack.describe.policy import Policy
from evpack.describe.safeguards import Disconnect, EmergencyOff
from evpack.outcome.commissioning import CommissioningStep
from evpack.outcome.design import Design
from evpack.outcome.protection import PrechargePlan
from evpack.outcome.solar import SolarSide

_CLOSING = Stage("closing", "First closing, nothing drawn")

_STEP_LEFT = "step left when the main contact closes"
_TO_FILL = "time to fill"
# Common practice, no source: what capacitors and resistors of real devices add.
_ABOVE = 1.2
_HARMLESS = 1.0  # a step that no contact minds [V]


def closing(design: Design) -> Iterator[CommissioningStep]:
    """Yield what is seen when the pack is joined to its devices."""
    build = design.build
    guards = build.safeguards
    yield _CLOSING.asks(
        "polarity",
        "The ends of every cable",
        "Before a device is joined, at the loose ends of its cable, with the meter's red lead on "
        "the one for plus: positive, at every one.",
        "A device the wrong way round is a short through its input.",
        "Open the disconnect, and find where plus and minus change places.",
    )
    if isinstance(guards.disconnect, Disconnect):
        yield _CLOSING.asks(
            "disconnect",
            "Battery disconnect",
            "It opens and closes, and when open there is no voltage beyond it, pole by pole.",
            "Whoever works on the devices relies on it.",
            "Join nothing till it does.",
        )
    for side in design.solar:
        yield from _array(side)
    for plan in () if design.protection is None else design.protection.precharge:
        yield from _precharge(plan)
    for inverter in build.inverters:
        yield _meter(inverter, build.policy, float(build.pack.nominal.m))
    if isinstance(guards.emergency_off, EmergencyOff):
        yield from _emergency(guards.emergency_off)


def _array(side: SolarSide) -> Iterator[CommissioningStep]:
    """Yield the voltages of the strings of an array; open, they stand above where they work."""
    name = slug(side.array)
    least, most = side.hot_working, side.cold_open
    yield _CLOSING.reads(
        f"array_lowest_{name}",
        f"Solar array {side.array}",
        "In full sun, before it is joined to its charger, with the meter's red lead on plus: the "
        "lowest open-circuit voltage of its strings. It must be positive at every string.",
        "A string the wrong way round, or with a panel too few, makes the others feed it.",
        "Cover the panels, and look at the plugs of that string.",
        device=side.array,
        kind=VOLTAGE,
        low=None if least is None else least.value,
        worked=least,
    )
    yield _CLOSING.reads(
        f"array_highest_{name}",
        f"Solar array {side.array}",
        "The highest open-circuit voltage of its strings, at the same time.",
        f"On the coldest morning it is higher still, and {side.charger} must stand it.",
        "Do not join it: there is a panel too many, or another one than was reckoned with.",
        device=side.array,
        kind=VOLTAGE,
        low=None if most is None else 0.0,
        high=None if most is None else most.value,
        worked=most,
    )


def _precharge(plan: PrechargePlan) -> Iterator[CommissioningStep]:
    by_name = {line.name: line for line in plan.with_it}
    left, fill = by_name.get(_STEP_LEFT), by_name.get(_TO_FILL)
    name, title = slug(plan.inverter), f"Precharge of {plan.inverter}"
    yield _CLOSING.reads(
        f"precharge_{name}",
        title,
        "The voltage across the open main contact just before it closes, without the sign.",
        "A step that is left rushes into the capacitors: contacts weld, fuses melt.",
        "Do not close it. Something behind it draws current, or the resistor is another one.",
        device=plan.inverter,
        kind=VOLTAGE,
        low=None if left is None else 0.0,
        high=None if left is None else max(_ABOVE * left.value, _HARMLESS),
        worked=left,
    )
    longest = None if fill is None else _times(_ABOVE, fill)
    yield _CLOSING.reads(
        f"precharge_time_{name}",
        title,
        "The time from its start till the voltage behind it stands still, by a meter with a "
        "watch beside it.",
        "The resistor stands this heat for so long and no longer.",
        "Open it and let the resistor cool: the capacitors are larger than was reckoned with, or "
        "something draws current.",
        device=plan.inverter,
        kind=TIME,
        low=None if longest is None else 0.0,
        high=None if longest is None else longest.value,
        worked=longest,
    )


def _times(factor: float, worked: Worked) -> Worked:
    return Worked(
        name=f"{worked.name}, at most",
        value=factor * worked.value,
        kind=worked.kind,
        formula="{k} · {x}",
        inputs=(
            Input("k", "what real parts add", factor, "×1", Basis.ASSUMED),
            from_worked("x", worked),
        ),
        source="common-practice",
    )


def _meter(inverter: Inverter, policy: Policy, nominal: float) -> CommissioningStep:
    own = inverter.meter_accuracy is not None
    error = inverter.meter_accuracy if own else policy.meter_accuracy
    basis = inverter.basis.of("meter_accuracy") if own else policy.basis.of("meter_accuracy")
    assert error is not None  # noqa: S101  (told to the type checker)
    worked = Worked(
        name=f"error of the voltmeter of {inverter.name}, at most",
        value=float(error.m) * nominal,
        kind=VOLTAGE,
        formula="{ε} · {V}",
        inputs=(
            known("ε", "error of its voltmeter", error, basis),
            Input("V", "nominal voltage of the pack", nominal, "V", Basis.COMPUTED),
        ),
        source="common-practice",
    )
    return _CLOSING.reads(
        f"meter_{slug(inverter.name)}",
        f"Voltmeter of {inverter.name}",
        "What it shows minus what a good hand meter shows at its terminals, without the sign.",
        "All thresholds are as good as this meter: the design allows it this error.",
        "Say its error as meter_accuracy in the build sheet, decide again, and enter what comes "
        "of it.",
        device=inverter.name,
        kind=VOLTAGE,
        low=0.0,
        high=worked.value,
        worked=worked,
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
                "Whoever presses it knows nothing of the rest.",
                "The pack is not used until it does.",
            )
