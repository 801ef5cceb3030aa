"""What is proven in the first charge and the first discharge, and looked at again later."""

from __future__ import annotations

from collections.abc import Iterator

from evpack.base.basis import Basis
from evpack.base.units import CURRENT, RESISTANCE, RISE, SHARE, VOLTAGE
from evpack.base.wording import say_down, say_up
from evpack.base.worked import Input, Worked, known
from evpack.commission.steps import ISOLATE, Stage, bus_resistance, slug
from evpack.describe.cabling import Run
from evpack.describe.charger import NOT_WIRED, Charger
from evpack.describe.inverter import Inverter
from evpack.describe.policy import Policy
from evpack.outcome.commissioning import CommissioningStep
from evpack.outcome.design import Design
from evpack.outcome.settings import Act, Line, SettingsSheet

_FIRST = Stage("first", "The first hour, at a low current, somebody beside it")
_CHARGE = Stage("charge", "First charge, somebody beside it")
_DISCHARGE = Stage("discharge", "First discharge, somebody beside it")
_LATER = Stage("later", "After a day, a week, a month", later=True)

# Common practice, no source: what meters, joints and a room that is not at 25 °C add.
_ABOVE = 1.2
_JOINTS = 1.5
_WARMER = 20.0  # [K], a joint above its cable
_CELL_METER = 0.01  # what the cell monitoring may err, as it was proven to before [V]

_CURRENT_LIMITS = (Line.CURRENT, Line.CURRENT_COLD)
_CHARGE_VOLTAGE = Line.CHARGE
_STOP_CHARGE = "Stop the charge at once."
_FIND_JOINT = (
    "More: stop, and measure over each joint of the way at the same load, with insulated probes: "
    f"the one that has most of it is the bad one. {ISOLATE} Then make it anew. Less: the cable is "
    "shorter or thicker than was written, or a lead of the meter sat wrong; write what is there "
    "into the build sheet, and decide again, or read it again."
)
_ANEW = f"Stop, and let it cool. {ISOLATE} Then make that joint anew."
# Common practice, no source: of what is set, the least that chargers together really give, and of
# the copper alone the least that a way may show.
_GIVEN = 0.7
_OF_COPPER = 0.5


def first_hour(design: Design) -> Iterator[CommissioningStep]:
    """Yield the first hour, before what stops the pack is proven."""
    if design.settings is None or design.build.pack.module.chemistry.targets is None:
        return
    yield _FIRST.asks(
        "slowly",
        "The first hour",
        "Charged at a tenth of the current or as little as can be set, somebody beside the "
        "disconnect all the time, since nothing that stops the charge is proven yet. Every cell "
        "group is looked at, and every joint for warmth: by a camera or a thermometer that touches "
        "nothing. Limits that were lowered for this are set back, and read back, only when all of "
        "the next stage is proven.",
        "What is wrong shows itself before there is much energy in it.",
        _STOP_CHARGE,
    )


def charge(design: Design) -> Iterator[CommissioningStep]:
    """Yield what is read in the first charge."""
    build, sheet = design.build, design.settings
    targets = build.pack.module.chemistry.targets
    if sheet is None or targets is None:
        return
    at = sheet.thresholds
    most = None if design.figures is None else design.figures.charge_limit
    least = _set_to(design, sheet)
    bounds = (None, None) if most is None or least is None else (_GIVEN * least, most.value)
    yield _CHARGE.reads(
        "current",
        "The charge current",
        "Every limit that was lowered is set back to the settings sheet, and read back. With every "
        "charger giving all it is set to, the solar ones in full sun: the sum of the currents into "
        "the pack, by a clamp meter for DC.",
        "The settings share among the chargers what the modules take.",
        f"{_STOP_CHARGE} Look at the current limits that were entered, and at the clamp meter.",
        kind=CURRENT,
        low=bounds[0],
        high=bounds[1],
        worked=most,
    )
    for charger in (c for c in build.chargers if not c.kept_off):
        run = build.cabling.run_of(charger, build.cabling.charger)
        if run is not None:
            yield _way(_CHARGE, "charger", charger.name, run, "While it gives all it is set to")
    for charger in build.kept_off:
        yield _stays_off(charger)
    for charger in build.all_chargers:
        yield _ends_at(charger, sheet, design)
    own = build.policy.charge_target
    target = float((targets.charge if own is None else own).m)
    mean = None
    if at.charge is not None and at.charge_most is not None:
        # The highest cell stands no lower than the mean of all at the least that may be reached.
        mean = (2 * at.charge - at.charge_most) / build.pack.cells_in_series
    yield _CHARGE.reads(
        "highest_cell",
        "The highest cell group when the charge ends",
        "By the cell monitoring, the highest of all strings and chargers.",
        "The pack may be at its voltage while one cell is far above its own.",
        f"{_STOP_CHARGE} Lower the charge voltage till the cells agree.",
        kind=VOLTAGE,
        low=None if mean is None else mean - _CELL_METER,
        high=None if mean is None else target,
    )
    yield _spread(design, _CHARGE, "spread_full", "Cells apart when full", "at that moment")
    for charger in build.all_chargers:
        yield _CHARGE.asks(
            f"stops_{slug(charger.name)}",
            f"{charger.name} ends the charge by itself",
            "Its current falls away, and it stops or goes to its float.",
            "A charger that holds on ages the cells, and one that climbs on burns them.",
            f"{_STOP_CHARGE} Read its settings back.",
            device=charger.name,
        )


def _stays_off(charger: Charger) -> CommissioningStep:
    """Return the proof that a charger which is kept off gives nothing."""
    key, why = f"stays_off_{slug(charger.name)}", "The settings of the others leave it nothing."
    if charger.kept_off == NOT_WIRED:
        return _CHARGE.asks(
            key,
            f"{charger.name} is not wired",
            f"Its {charger.source} supply is joined to nothing, and a label at its terminals says "
            "that it stays so.",
            why,
            "Isolate its supply, and part it from the charger. Or say in the build sheet that the "
            "charger is in use, and decide again.",
            device=charger.name,
        )
    return _CHARGE.asks(
        key,
        f"{charger.name} stays off",
        f"Its {charger.source} supply is on, every other charger is off, and the pack is not full: "
        "a clamp meter for DC shows no current into the pack. So again after a restart.",
        why,
        f"{_STOP_CHARGE} Turn it off in its menu, or part it from its supply.",
        device=charger.name,
    )


def _set_to(design: Design, sheet: SettingsSheet) -> float | None:
    """Return the least that all chargers together are set to [A]; None where nobody knows.

    In the cold months they show their lower limit. What an array does not give in full sun, no
    setting brings.
    """
    total = 0.0
    for charger in design.build.all_chargers:
        device = sheet.device(charger.name)
        lines = () if device is None else map(device.line, _CURRENT_LIMITS)
        entered = [ln.shows for ln in lines if ln is not None and ln.act is Act.ENTER]
        each = [amps for amps in entered if amps is not None]  # None is "no charge", in words
        each += [] if charger.current is None else [float(charger.current.m)]
        sides = [side.into_battery for side in design.solar if side.charger == charger.name]
        from_arrays = [side.value for side in sides if side is not None]
        if sides and len(from_arrays) == len(sides):
            each.append(sum(from_arrays))
        if not each:
            return None
        total += charger.count * min(each)
    return total


def _ends_at(charger: Charger, sheet: SettingsSheet, design: Design) -> CommissioningStep:
    """Return where the charge of one charger ends, by what was entered on it and its error."""
    device = sheet.device(charger.name)
    line = None if device is None else device.line(_CHARGE_VOLTAGE)
    low = high = worked = None
    policy, own = design.build.policy, charger.accuracy
    error = policy.charger_accuracy if own is None else own
    if charger.left_on is not None:  # with its compensation it may rise to the most of all
        low, high = float(charger.left_on.absorption.m), sheet.thresholds.charge_most
        low *= 1 - float(error.m)
    elif line is not None and line.act is Act.ENTER and line.worked is not None:
        basis = (policy if own is None else charger).basis
        field = "charger_accuracy" if own is None else "accuracy"
        entered = line.worked.value
        high, low = entered * (1 + float(error.m)), entered * (1 - float(error.m))
        worked = Worked(
            name=f"the most that {charger.name} may give",
            kind=VOLTAGE,
            formula="{V} · (1 + {ε})",
            inputs=(
                Input("V", "what is entered", entered, "V", Basis.COMPUTED),
                known("ε", "voltage error of the charger", error, basis.of(field)),
            ),
            source="common-practice",
        )
    return _CHARGE.reads(
        f"ends_at_{slug(charger.name)}",
        f"Where {charger.name} ends the charge",
        "The highest voltage at the pack's terminals, by a hand meter, while it charges alone.",
        "The settings keep every cell below its target only if it errs no more than the design "
        "allows it.",
        f"{_STOP_CHARGE} Say its error as accuracy in the build sheet, decide again, and enter "
        "what comes of it.",
        device=charger.name,
        kind=VOLTAGE,
        low=low,
        high=high,
        worked=worked,
    )


def _spread(design: Design, stage: Stage, key: str, title: str, when: str) -> CommissioningStep:
    """Return how far cells may lie apart when full: the guard that the charge voltage keeps."""
    targets = design.build.pack.module.chemistry.targets
    usual = None if targets is None else targets.top_guard
    guards = [float(q.m) for q in (design.build.pack.spread_full, usual) if q is not None]
    return stage.reads(
        key,
        title,
        f"The highest cell group minus the mean of all, {when}.",
        "The charge voltage leaves this much room above the mean. A spread that grows is a cell "
        "that leaks or ages apart.",
        "Say it as spread_full under [pack], decide again, and enter what comes of it; balance "
        "the cells, and look again.",
        kind=VOLTAGE,
        low=0.0 if guards else None,
        high=max(guards, default=None),
    )


def discharge(design: Design) -> Iterator[CommissioningStep]:
    """Yield what is read in the first discharge."""
    build = design.build
    ohms = bus_resistance(design)
    if ohms is not None:
        yield _resistance(design, ohms)
    if design.sharing is not None and build.pack.strings > 1:
        yield _sharing(design)
    for inverter in build.inverters:
        run = build.cabling.run_of(inverter, build.cabling.main)
        if run is not None:
            yield _way(_DISCHARGE, "main", inverter.name, run, "At a steady load")
    yield _DISCHARGE.reads(
        "joints",
        "The warmest joint",
        "After half an hour at full load, by a camera or a thermometer that touches nothing: the "
        "warmest joint minus the cable beside it; 0 K if none is warmer.",
        "A warm joint grows warmer by itself.",
        _ANEW,
        kind=RISE,
        low=0.0,
        high=_WARMER,
    )
    if design.settings is not None:
        for inverter in build.inverters:
            yield from _thresholds(inverter, design.settings, build.policy)


def _way(stage: Stage, key: str, device: str, run: Run, when: str) -> CommissioningStep:
    """Return the resistance of the way between the bus bars and a device."""
    worked = Worked(
        name=f"cables and joints to {device}, at most",
        kind=RESISTANCE,
        formula="{k} · {R}",
        inputs=(
            Input("k", "what fuse, switch and joints add", _JOINTS, "×1", Basis.ASSUMED),
            known("R", "its cable there and back, warm", run.resistance, run.basis.default),
        ),
        source="common-practice",
    )
    return stage.reads(
        f"{key}_{slug(device)}",
        f"Cables and joints to {device}",
        f"{when}: the voltage at the bus bars minus that at the device, without the sign, divided "
        "by its DC current.",
        "More than the copper has: a joint is bad, and grows warm. Far less than it has is a slip.",
        _FIND_JOINT,
        device=device,
        kind=RESISTANCE,
        low=_OF_COPPER * float(run.resistance.m),
        high=worked.value,
        worked=worked,
    )


def _resistance(design: Design, ohms: float) -> CommissioningStep:
    policy = design.build.policy
    return _DISCHARGE.reads(
        "resistance",
        "Resistance of the pack",
        "At about 25 °C and half charged: the voltage at the bus bars before a steady load, minus "
        "that after ten seconds of it, divided by its current.",
        "Every sag, every cut-off under load and every fault current rests on it.",
        "Look for the joint or the module that has most of it, by insulated probes at a steady "
        f"load. {ISOLATE} Then make that joint anew, or change that module. If there is none, say "
        "what was measured as the resistance of the module, and decide again.",
        kind=RESISTANCE,
        low=float(policy.ohmic_part.m) * ohms,
        high=_ABOVE * ohms,
        worked=Worked(
            name="resistance of the pack at the bus bars, at most",
            kind=RESISTANCE,
            formula="{k} · {R_bus}",
            inputs=(
                Input("k", "what meters and the room add", _ABOVE, "×1", Basis.ASSUMED),
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
        "Look for the string with the bad joint, the shorter lead or the weaker module. Before a "
        f"tool or a hand goes there: {ISOLATE[0].lower()}{ISOLATE[1:]}",
        kind=SHARE,
        low=1.0,  # the largest is no less than the mean
        high=shared.worst.value / shared.even.value,
        worked=shared.worst,
    )


def _thresholds(
    inverter: Inverter, sheet: SettingsSheet, policy: Policy
) -> Iterator[CommissioningStep]:
    """Yield the thresholds of an inverter, seen to act within the error of its own meter."""
    name = slug(inverter.name)
    lines = {ln.name: ln for d in sheet.devices if d.device == inverter.name for ln in d.lines}
    meter = inverter.meter_accuracy
    error = float((policy.meter_accuracy if meter is None else meter).m)
    for key, line_name, todo in (
        ("changeover", Line.CHANGEOVER, "it hands the load to the utility"),
        ("back", Line.RETURN, "it takes the load back"),
    ):
        line = lines.get(line_name)
        if line is not None and line.act is Act.ENTER and line.worked is not None:
            volts = line.worked.value
            yield _DISCHARGE.reads(
                f"{key}_{name}",
                f"{inverter.name}: {line_name}",
                f"The voltage at its terminals when {todo}. A delay of the device lets it pass the "
                "threshold: read the voltage when it begins to count.",
                "The reserve for an outage rests on it.",
                "Read its settings back, and its voltmeter against a hand meter.",
                device=inverter.name,
                kind=VOLTAGE,
                low=volts * (1 - error),
                high=volts * (1 + error),
                worked=line.worked,
            )
    back = lines.get(Line.RETURN)
    if back is not None and back.act is Act.CANNOT:
        yield _comes_back(inverter, sheet)
    cut_off = lines.get(Line.CUT_OFF)
    if cut_off is not None and cut_off.act is Act.ENTER:
        yield _DISCHARGE.asks(
            f"cut_off_{name}",
            f"{inverter.name}: low-voltage cut-off",
            "Raised for a moment to just above the present voltage, it stops the inverter. Set it "
            f"back to {cut_off.entry}, and read it back.",
            "Nobody need empty a pack to see it act.",
            "The pack is not used until it does.",
            device=inverter.name,
        )


def _comes_back(inverter: Inverter, sheet: SettingsSheet) -> CommissioningStep:
    """Return what is seen of a return that cannot be set: it is tried, since nobody can tell."""
    at = sheet.thresholds
    between = ""
    if at.changeover is not None and at.charge is not None:
        between = f", between {say_up(at.changeover, 'V')} and {say_down(at.charge, 'V')}"
    return _DISCHARGE.asks(
        f"back_{slug(inverter.name)}",
        f"{inverter.name}: return to battery",
        f"It hands the load to the utility, and the pack is charged: it takes the load back "
        f"once{between}, and stays; or it waits for a hand, which is written beside it.",
        "Its return cannot be set. One too low goes to and fro, one too high never comes.",
        "To and fro: turn its changeover by voltage off. Never: return by hand.",
        device=inverter.name,
    )


def later(design: Design) -> Iterator[CommissioningStep]:
    """Yield what is looked at again once the pack is in use."""
    yield _LATER.asks(
        "day",
        "The whole pack, after a day",
        "Nothing smells, nothing hums or is warm that was not before, no cell group has fallen "
        "away from the others.",
        "",
        "Switch it off, and go through the list again.",
    )
    yield _LATER.asks(
        "torque",
        "Every joint, after a week",
        f"{ISOLATE} The marks have not moved, nothing is discoloured, the torque is as it was.",
        "Copper settles under a new lug. A spanner across live bars melts, and nothing opens.",
        "Make that joint anew, all still isolated.",
    )
    yield _LATER.asks(
        "warmth",
        "Every joint and fuse at full load, after a week",
        f"None is more than {say_down(_WARMER, 'K')} warmer than its neighbours, by a camera or a "
        "thermometer that touches nothing.",
        "",
        _ANEW,
    )
    yield _spread(
        design,
        _LATER,
        "spread",
        "Cells apart when full, after a month",
        "at the end of a charge",
    )
    yield _LATER.asks(
        "log",
        "The pack's own log, after a month",
        "Held against the design (evpack log), nothing departs from it.",
    )
