"""What is proven when the pack is joined to its devices for the first time, nothing drawn."""

from __future__ import annotations

from collections.abc import Iterator

from evpack.base.basis import Basis
from evpack.base.fitted import is_not_fitted
from evpack.base.units import TIME, VOLTAGE
from evpack.base.worked import Input, Worked, from_worked, known
from evpack.commission.high_voltage import has_middle, middle_last
from evpack.commission.steps import ISOLATE, Stage, slug
from evpack.describe.inverter import Inverter
from evpack.describe.pack import Pack
from evpack.describe.policy import Policy
from evpack.describe.safeguards import Disconnect
from evpack.outcome.commissioning import CommissioningStep
from evpack.outcome.design import Design
from evpack.outcome.protection import PrechargePlan

_CLOSING = Stage(
    "closing", "Disconnect, polarity, precharge: the devices are joined, nothing is drawn"
)

_STEP_LEFT = "step left when the main contact closes"
_TO_FILL = "time to fill"
# Common practice, no source: what capacitors and resistors of real devices add.
_ABOVE = 1.2
_SOONEST = 0.3  # of the time that was worked out
_MOST_OF = 0.9  # of the least voltage of the pack: what the meter and a rest in the capacitors take
_HARMLESS = 1.0  # a step that no contact minds [V]


def closing(design: Design) -> Iterator[CommissioningStep]:
    """Yield what is seen when the pack is joined to its devices."""
    build = design.build
    if isinstance(build.safeguards.disconnect, Disconnect):
        yield _CLOSING.asks(
            "disconnect",
            "Battery disconnect",
            "Nothing is joined beyond it but cables, their ends held apart and insulated. It opens "
            "and closes; when open there is no voltage beyond it, pole to pole and each pole to "
            "earth. The meter is tried on a live part before and after.",
            "Whoever works on the devices relies on it.",
            "Join nothing till it does.",
        )
    yield _CLOSING.asks(
        "polarity",
        "The ends of every cable",
        "No device is joined. With the disconnect open, the ends are held apart and insulated; it "
        "is closed, each pair is read with the meter's red lead on the one for plus, and it is "
        "opened again: positive, at every one.",
        "A device the wrong way round is a short through its input.",
        f"{ISOLATE} Find where plus and minus change places.",
    )
    in_two = ""
    if has_middle(design):
        in_two = " the string fuses out and the link in the middle of each string out again,"
    yield _CLOSING.asks(
        "joined",
        "Every device but the array",
        f"With the disconnect open and locked,{in_two} each cable end proven dead before it is "
        "touched: "
        "joined, plus to plus, every joint at its maker's torque and marked with a line. The "
        "array's isolator is open, mains and generator are off, loads are off. A device that shows "
        "its display without the pack may be set first; one that shows it only from the mains is "
        "set with its battery side still apart.",
        "A device that wakes with what its maker entered charges as for lead-acid at once.",
        "Open the disconnect, and close it only when it is so.",
    )
    if has_middle(design):
        yield middle_last(_CLOSING)
    if design.protection is not None and not is_not_fitted(build.safeguards.precharge):
        for plan in design.protection.precharge:
            yield from _precharge(plan, build.pack)
    for inverter in build.inverters:
        yield _meter(inverter, build.policy, float(build.pack.nominal.m))


def _precharge(plan: PrechargePlan, pack: Pack) -> Iterator[CommissioningStep]:
    by_name = {line.name: line for line in plan.with_it}
    left, fill = by_name.get(_STEP_LEFT), by_name.get(_TO_FILL)
    name, title = slug(plan.inverter), f"Precharge of {plan.inverter}"
    yield _CLOSING.reads(
        f"precharge_before_{name}",
        title,
        "The voltage across the open main contact before it starts, the inverter's capacitors "
        "empty, without the sign.",
        "Nothing across it is a contact that is welded, or a lead of the meter that is off: then "
        "nothing that is read after it proves anything.",
        "Open the disconnect, and find out which.",
        device=plan.inverter,
        kind=VOLTAGE,
        low=_MOST_OF * float(pack.least.m),
        high=float(pack.highest.m),
    )
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
        "The resistor stands this heat for so long and no longer; what is full at once was never "
        "filled through it.",
        "Open it and let the resistor cool. Too long: the capacitors are larger than was reckoned "
        "with, or something draws current. Too short: the contact is welded, the resistor is "
        "another one, or the capacitors were full.",
        device=plan.inverter,
        kind=TIME,
        low=None if fill is None else _SOONEST * fill.value,
        high=None if longest is None else longest.value,
        worked=longest,
    )


def _times(factor: float, worked: Worked) -> Worked:
    return Worked(
        name=f"{worked.name}, at most",
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
