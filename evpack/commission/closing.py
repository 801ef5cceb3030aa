"""What is proven before anything charges: monitoring, the first joining, settings, solar array."""

from __future__ import annotations

from collections.abc import Iterator

import attrs

from evpack.base.basis import Basis
from evpack.base.fitted import is_not_fitted
from evpack.base.units import COMPENSATION, CURRENT, TIME, VOLTAGE, kind_of
from evpack.base.wording import number, say_up
from evpack.base.worked import Input, Worked, count, from_worked, known
from evpack.commission import steps
from evpack.commission.high_voltage import has_middle, middle_last
from evpack.commission.steps import ISOLATE, Stage, slug
from evpack.describe.array import Array
from evpack.describe.inverter import Inverter
from evpack.describe.pack import Monitoring, Pack
from evpack.describe.policy import Policy
from evpack.describe.safeguards import Disconnect
from evpack.describe.site import Site
from evpack.kernels.solar import STANDARD_CELL
from evpack.outcome.commissioning import CommissioningStep
from evpack.outcome.design import Design, SolarSide
from evpack.outcome.protection import PrechargePlan
from evpack.outcome.settings import Act, DeviceSettings, Line, Setting

_MONITORING = Stage("monitoring", "The cell monitoring: what it shows, nothing joined yet")
_SETTINGS = Stage(
    "settings", "The settings, entered and read back; chargers, loads and the array still off"
)
_WARM, _COLD = Line.CURRENT, Line.CURRENT_COLD
_ENTER = "Enter it again. A device that does not keep it is not used with this pack."

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

_ARRAY = Stage("array", "The solar array, joined last, to a charger that is set")

# Common practice, no source: cells in full sun are about 30 K warmer than the air; silicon loses at
# most 0.4 % of its open-circuit voltage for each kelvin; strings alike, in one sun, agree to 2 %.
_HOT_CELL_RISE = 30.0
_COEFFICIENT = -0.004
_ALIKE = 0.02
_APART = (
    "Open its isolator or cover the panels before a plug is touched; a plug is never pulled under "
    "load."
)
# A colder panel reads above its print, and a hot one hides a panel that is too strong.
_IN_SUN = (
    "In full sun, the back of the panels between 25 and 45 °C (in hot weather in the morning), "
    "isolator open, the ends apart and insulated"
)


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
                rests_on=steps.device(design, device.device),
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


def array(design: Design) -> Iterator[CommissioningStep]:
    """Yield what is proven of each array, or that there is none."""
    build = design.build
    arrays = {found.name: found for found in build.solar_arrays}
    for side in design.solar:
        yield from _array(side, arrays[side.array], build.site)
    described = {found.feeds for found in arrays.values()}
    for charger in build.all_chargers:
        if charger.source == "solar" and charger.name not in described:
            yield _ARRAY.asks(
                f"apart_{slug(charger.name)}",
                f"What feeds {charger.name}",
                "The design reckons with no array here. Whoever settled the array elsewhere has "
                "vouched in writing that its highest voltage on the coldest morning, its current "
                "and its polarity suit this charger; else nothing is joined to its solar input.",
                "An array that is too high destroys the charger, and what it does to the pack then "
                "nobody knows.",
                "Keep it apart. Describe the array under [[pv]] in the build sheet, and decide "
                "again.",
                device=charger.name,
            )


def _array(side: SolarSide, found: Array, site: Site) -> Iterator[CommissioningStep]:
    name, title = slug(side.array), f"Solar array {side.array}"
    rated, hot = _rated_open(found), _hot_open(found, site)
    bound = rated is not None and hot is not None
    least = hot.value if hot is not None and bound else None
    most = rated.value if rated is not None and bound else None
    cold = side.cold_open
    rises = "the voltage of the coldest morning" if cold is None else say_up(cold.value, "V")
    if found.open_circuit is not None:
        yield _ARRAY.asks(
            f"panels_{name}",
            title,
            f"The print of every panel says an open-circuit voltage of "
            f"{number(float(found.open_circuit.m), 6)} V or less, and there are {found.in_series} "
            f"in series and {found.in_parallel} such strings. The meter and its leads are rated "
            f"for {rises} DC or more.",
            "A reading in the heat can hide a panel that is too strong for a cold morning.",
            "Do not join it. Write what is there into the build sheet, and decide again.",
            device=side.array,
        )
    yield _ARRAY.reads(
        f"lowest_{name}",
        title,
        f"{_IN_SUN}, with the meter's red lead on plus: the lowest open-circuit voltage of its "
        "strings. It must be positive at every string.",
        "A string the wrong way round, or with a panel too few, makes the others feed it.",
        f"{_APART} Then look at the plugs of that string.",
        device=side.array,
        kind=VOLTAGE,
        low=least,
        high=most,
        worked=hot,
    )
    yield _ARRAY.reads(
        f"highest_{name}",
        title,
        "The highest open-circuit voltage of its strings, at the same time.",
        f"On the coldest morning it is higher still, and {side.charger} must stand it. Cells above "
        "25 °C stand below their print.",
        "Do not join it: there is a panel too many, or another one than was reckoned with. Were "
        "the cells colder than 25 °C, read it again when they are not.",
        device=side.array,
        kind=VOLTAGE,
        low=least,
        high=most,
        worked=rated,
    )
    if found.in_parallel > 1:
        yield _spread(name, title, side, rated)
    yield _ARRAY.asks(
        f"joined_{name}",
        title,
        f"{side.charger} is on the battery already, and its settings are read back. With the "
        "array's isolator open and its far ends proven dead, the array is joined, plus to plus. "
        "Then the isolator is closed.",
        "Many chargers fail when they have an array and no battery, and one that is not set "
        "charges as it came from its maker.",
        f"{_APART} Join nothing till it is so.",
        device=side.array,
    )


def _spread(name: str, title: str, side: SolarSide, rated: Worked | None) -> CommissioningStep:
    worked = None
    if rated is not None:
        worked = Worked(
            name="strings of an array apart, at most",
            kind=VOLTAGE,
            formula="{k} · {V_oc}",
            inputs=(
                Input("k", "what strings alike differ by", _ALIKE, "", Basis.ASSUMED),
                Input("V_oc", rated.name, rated.value, "V", Basis.COMPUTED),
            ),
            source="common-practice",
        )
    return _ARRAY.reads(
        f"spread_{name}",
        title,
        "The highest of its strings minus the lowest, within a minute of each other.",
        "In a long string one panel too few, or one that is bridged, hides between a cool and a "
        "hot day; beside its neighbours it does not.",
        f"{_APART} Then look for a panel that is missing, shaded, bridged or of another kind.",
        device=side.array,
        kind=VOLTAGE,
        low=None if worked is None else 0.0,
        high=None if worked is None else worked.value,
        worked=worked,
    )


def _open_circuit(found: Array) -> tuple[Input, Input] | None:
    if found.open_circuit is None:
        return None
    basis = found.basis.of("open_circuit")
    return (
        count("n_s", "panels in series", found.in_series),
        known("V_oc", "open-circuit voltage of a panel", found.open_circuit, basis),
    )


def _rated_open(found: Array) -> Worked | None:
    """Return the open-circuit voltage of a string with its cells at 25 °C [V]."""
    panel = _open_circuit(found)
    if panel is None:
        return None
    return Worked(
        name="open-circuit voltage at 25 °C",
        kind=VOLTAGE,
        formula="{n_s} · {V_oc}",
        inputs=panel,
        source="arithmetic",
    )


def _hot_open(found: Array, site: Site) -> Worked | None:
    """Return the open-circuit voltage of a string in full sun on the hottest day [V]."""
    panel = _open_circuit(found)
    if panel is None or site.warmest_outside is None:
        return None
    hottest = max(STANDARD_CELL, float(site.warmest_outside.m) + _HOT_CELL_RISE)
    means = "temperature coefficient of the open-circuit voltage"
    b = Input("β", means, _COEFFICIENT, "1/K", Basis.ASSUMED)
    of_one = True  # the coefficient is of one, not in volts
    if found.coefficient is not None:
        b = known("β", means, found.coefficient, found.basis.of("coefficient"))
        of_one = kind_of(found.coefficient) is not COMPENSATION
    share = "{V_oc} · (1 + {β} · ({T_cell} − {T_ref}))"
    each = share if of_one else "({V_oc} + {β} · ({T_cell} − {T_ref}))"
    return Worked(
        name="open-circuit voltage in full sun on the hottest day",
        kind=VOLTAGE,
        formula=f"{{n_s}} · {each}",
        inputs=(
            *panel,
            b,
            Input("T_cell", "cells in full sun", hottest, "°C", Basis.ASSUMED),
            Input("T_ref", "cell temperature of the rating", STANDARD_CELL, "°C", Basis.COMPUTED),
        ),
        source="common-practice",
    )
