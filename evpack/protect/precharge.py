"""Filling an inverter's input capacitors before the main contact closes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import attrs

from evpack.base.basis import Basis
from evpack.base.finding import Finding, Rule, Severity, Standing, at_least, at_most, state, unknown
from evpack.base.fitted import NOT_FITTED
from evpack.base.units import HEAT, LET_THROUGH, TIME, Quantity
from evpack.base.wording import say, say_up
from evpack.base.worked import Input, Worked
from evpack.describe.inverter import Inverter
from evpack.describe.safeguards import FuseCatalogue, Precharge
from evpack.outcome.groundwork import Groundwork
from evpack.outcome.protection import MAIN, STRING, Circuit, FuseChoice, PrechargePlan
from evpack.protect.bounds import needed_voltage
from evpack.protect.filling import (
    FULL,
    GIVES_UP,
    NEARLY,
    Filling,
    filling,
    shorted_heat,
    stated_resistor,
    together,
)
from evpack.protect.stated import at_best_caution, to_buy

KNOWN = Rule(
    key="precharge.known",
    says="How hard an inverter's input is to fill depends on its capacitors.",
    source="equipment-manual",
    stands=Standing.BOUND,
    clause="physics: the rush melts the fuse or welds the contact",
)
FITTED = Rule(
    key="precharge.fitted",
    says="The input capacitors of an inverter are filled through a resistor before the main "
    "contact closes: else contact and fuse take the rush.",
    source="rc-transient",
    stands=Standing.BOUND,
    clause="physics: the rush melts the fuse or welds the contact",
    kind=LET_THROUGH,
)
EACH = Rule(
    key="precharge.each",
    says="A precharge fills all inverters behind its own contact: one for several has the sum of "
    "their capacitors to fill.",
    source="common-practice",
    stands=Standing.QUESTION,
)
HEAT_STOOD = Rule(
    key="precharge.heat",
    says="The resistor must stand the heat of one filling, half of C V², whatever its resistance.",
    source="rc-transient",
    stands=Standing.BOUND,
    clause="physics: half of C · V² stays in the resistor",
    kind=HEAT,
)
WAIT = Rule(
    key="precharge.wait",
    says="The main contact waits five time constants, or till the voltage has risen.",
    source="rc-transient",
    stands=Standing.BOUND,
    clause="physics: a contact closing on an empty capacitor",
    kind=TIME,
)
TIME_OUT = Rule(
    key="precharge.time-out",
    says="A precharge that gives up before five time constants never lets the pack start.",
    source="common-practice",
    stands=Standing.GUARD,
    kind=TIME,
)
SHORTED = Rule(
    key="precharge.shorted",
    says="A short-circuited inverter puts the full voltage on the resistor till the time-out.",
    source="common-practice",
    stands=Standing.GUARD,
    kind=HEAT,
)
CHECKED = Rule(
    key="precharge.checked",
    says="The main contact should close only when the voltage behind it has risen.",
    source="common-practice",
    stands=Standing.GUARD,
)


ALL = "all inverters"


def precharge(
    ground: Groundwork,
    circuits: tuple[Circuit, ...],
    fuses: Mapping[str, FuseChoice],
    catalogue: FuseCatalogue,
) -> tuple[tuple[PrechargePlan, ...], tuple[Finding, ...]]:
    """Return a plan for every precharge and what was found; `fuses` are by their place.

    Each inverter has a contact and a precharge of its own, but where one is said to fill all.
    """
    fitted, inverters = ground.build.safeguards.precharge, ground.build.inverters
    described = fitted if isinstance(fitted, Precharge) else None
    (string,) = (c for c in circuits if c.kind == STRING)
    mains = {c.device: c for c in circuits if c.kind == MAIN}
    fills = {i.name: filling(ground, i, mains[i.name], described) for i in inverters}
    of_all = together([fills[i.name] for i in inverters], described)
    if described is not None and len(inverters) > 1 and described.each_inverter is False:
        return _one_for_all(ground, fills, of_all, described)
    plans: list[PrechargePlan] = []
    found: list[Finding] = []
    for inverter in inverters:
        main, held = mains[inverter.name], fills[inverter.name]
        if fitted is not NOT_FITTED or held is not None:
            plans.append(_plan(inverter, held, described))
        if held is None:
            found += _capacitance_unknown(ground, inverter)
            continue
        found.append(_known(inverter, held))
        if fitted is NOT_FITTED:
            for rush, circuit in ((held.through_main(), main), (held.through_string(), string)):
                melting = _melting(fuses.get(circuit.place), catalogue, rush)
                found.append(_not_fitted(inverter, held, rush, melting))
        elif described is None:
            offer = held.offer().rstrip(".")
            found.append(to_buy(ground, FITTED, "precharge", inverter.name, offer))
        else:
            found += _fitted(inverter.name, held, described)
    if described is not None and len(inverters) > 1:
        found.append(_each(described, found, of_all))
    return tuple(plans), tuple(found)


def _one_for_all(
    ground: Groundwork,
    fills: Mapping[str, Filling | None],
    of_all: Filling | None,
    described: Precharge,
) -> tuple[tuple[PrechargePlan, ...], tuple[Finding, ...]]:
    """Judge the one precharge of several inverters, with the sum of what it fills."""
    found: list[Finding] = []
    for inverter in ground.build.inverters:
        held = fills[inverter.name]
        if held is None:
            found += _capacitance_unknown(ground, inverter)
        else:
            found.append(_known(inverter, held))
    if of_all is not None:
        found += _fitted(ALL, of_all, described)
    found.append(
        state(
            EACH,
            Severity.OK,
            about=described.name,
            detail="One precharge fills all inverters, and is judged with the sum of what they "
            "hold.",
        )
    )
    plan = PrechargePlan(
        inverter=ALL,
        count=1,
        with_it=() if of_all is None else of_all.with_it(described),
        without=(),
        stated=described.resistance is not None,
        reason="For one contact that feeds all inverters, switched off till the main contact has "
        "closed: what an inverter draws while idle holds the voltage down.",
    )
    return (plan,), tuple(found)


def _plan(inverter: Inverter, held: Filling | None, fitted: Precharge | None) -> PrechargePlan:
    units = f"the {inverter.count} units" if inverter.count > 1 else "the one unit"
    without = () if held is None else (held.rush(), held.through_main(), held.through_string())
    return PrechargePlan(
        inverter=inverter.name,
        count=1,
        with_it=() if held is None else held.with_it(fitted),
        without=without,
        stated=fitted is not None and fitted.resistance is not None,
        reason=f"For one contact that feeds {units} of {inverter.name} and nothing else, switched "
        "off till the main contact has closed: what an inverter draws while idle holds the voltage "
        "down.",
    )


# The least I²t that melts any link, for each square ampere of its rating [s]: some 500 A²s for the
# quickest of 100 A. Common practice, no source.
_LEAST_MELTING = 0.05


def _melting(fuse: FuseChoice | None, catalogue: FuseCatalogue, rush: Worked) -> Quantity | None:
    """Return the least I²t that melts a fuse [A²s]; None where nobody knows and it matters."""
    if fuse is None or fuse.size is None or fuse.family is None:
        return None
    if fuse.family.melting is not None:
        return fuse.family.melting
    gate = catalogue.gate(fuse.family, fuse.size)
    if gate is not None:
        return LET_THROUGH.of(gate.melting)
    least = _LEAST_MELTING * fuse.size**2
    harmless = fuse.family.kind == "fuse" and rush.value <= least
    return LET_THROUGH.of(least) if harmless else None


# --- The capacitance --------------------------------------------------------------------------


def _known(inverter: Inverter, held: Filling) -> Finding:
    return state(
        KNOWN,
        Severity.OK,
        about=inverter.name,
        detail=f"The input of each unit holds {say(held.one.value, 'F')}.",
        assumed=_named(held.one),
    )


def _named(*inputs: Input) -> tuple[str, ...]:
    return tuple(i.means for i in inputs if i.basis is Basis.ASSUMED)


def _capacitance_unknown(ground: Groundwork, inverter: Inverter) -> list[Finding]:
    """Judge what can be judged without it: a voltage check and a resistor that stands a short."""
    fitted = ground.build.safeguards.precharge
    rest = "Find it in the manual, ask the maker, or measure it, and say input_capacitance."
    if fitted is NOT_FITTED:
        return [
            unknown(
                KNOWN,
                about=inverter.name,
                detail="Nobody said how much capacitance its input has, and there is no precharge: "
                "how hard contact and fuse are hit cannot be told.",
                remedy=f"Fit a precharge that checks the voltage. {rest}",
            )
        ]
    if not isinstance(fitted, Precharge):
        words = "closes the main contact only when the voltage has risen, whatever there is to fill"
        return [to_buy(ground, KNOWN, "precharge", inverter.name, words)]
    if not fitted.checks_voltage:
        return [
            unknown(
                KNOWN,
                about=inverter.name,
                detail="Nobody said how much capacitance its input has, so no wait can be judged, "
                "and the precharge is not said to check the voltage.",
                remedy=f"{rest} Or let the main contact wait for the voltage.",
            )
        ]
    found = [
        state(
            KNOWN,
            Severity.CAUTION,
            about=inverter.name,
            detail="Nobody said how much capacitance its input has. The precharge waits for the "
            "voltage, so it does its work all the same.",
            remedy=rest,
        )
    ]
    resistor = stated_resistor(fitted)
    if resistor is not None:
        found.append(_shorted(inverter.name, fitted, needed_voltage(ground), resistor))
    return found


# --- What is found ----------------------------------------------------------------------------


def _fitted(name: str, held: Filling, fitted: Precharge) -> list[Finding]:
    return [
        _resistor(name, held, fitted),
        _heat_stood(name, held, fitted),
        _waits(name, held, fitted),
        _gives_up(name, held, fitted),
        _shorted(name, fitted, held.volts, held.resistor),
        _checked(name, fitted),
    ]


def _resistor(name: str, held: Filling, fitted: Precharge) -> Finding:
    if fitted.resistance is None:
        return state(
            FITTED,
            Severity.CAUTION,
            about=name,
            detail=f"The resistor of the precharge is not described. {held.offer()}",
            remedy="Say resistance under [protection.precharge].",
        )
    return at_best_caution(
        state(
            FITTED,
            Severity.OK,
            about=name,
            detail=f"It is filled through {say(held.resistor.value, 'Ω')}, beginning with "
            f"{held.first_current()}.",
        ),
        "resistance",
        fitted.basis.of("resistance"),
    )


def _not_fitted(
    inverter: Inverter, held: Filling, rush: Worked, melting: Quantity | None
) -> Finding:
    """Judge a rush against a fuse; even one that stands it leaves the contact to weld."""
    found = at_most(
        FITTED,
        rush,
        melting,
        about=inverter.name,
        otherwise=Severity.STOP,
        value_name=rush.name,
        limit_name="what melts that fuse",
        remedy=f"Fit a precharge. {held.offer()}",
        ask=f"Without precharge the rush begins with up to {held.rush()}, and nobody knows what "
        f"melts the fuse. Fit a precharge: {held.offer()}",
        assumed=_named(held.one),
    )
    if found.severity is not Severity.OK:
        return found
    return attrs.evolve(
        found,
        severity=Severity.CAUTION,
        detail=f"{found.detail} But the contact that closes takes up to {held.rush()}, and may "
        "weld.",
        remedy=f"Fit a precharge. {held.offer()}",
    )


def _heat_stood(name: str, held: Filling, fitted: Precharge) -> Finding:
    found = at_least(
        HEAT_STOOD,
        fitted.pulse,
        held.heat(),
        about=name,
        otherwise=Severity.STOP,
        value_name="the pulse that the resistor stands",
        limit_name="the heat of one filling",
        remedy="Take a resistor made for larger pulses; another resistance does not help.",
        ask="Read the pulse that the resistor stands off its data sheet, and say pulse under "
        "[protection.precharge].",
        assumed=_named(held.one),
    )
    return _leaning(found, fitted, "pulse", held)


def _waits(name: str, held: Filling, fitted: Precharge) -> Finding:
    if fitted.checks_voltage:
        return at_best_caution(
            state(
                WAIT,
                Severity.OK,
                about=name,
                detail="The main contact waits for the voltage, which takes about "
                f"{held.times('', FULL)}.",
            ),
            "check of the voltage",
            fitted.basis.of("checks_voltage"),
        )
    needed = held.times("time to fill", FULL)
    nearly = held.times("time to 95 %", NEARLY)
    as_good_as_none = fitted.wait is not None and fitted.wait.m < nearly.value
    found = at_least(
        WAIT,
        fitted.wait,
        needed,
        about=name,
        otherwise=Severity.STOP if as_good_as_none else Severity.CAUTION,
        missing=Severity.UNKNOWN,
        value_name="the wait before the main contact closes",
        limit_name="five time constants",
        remedy=f"Wait {say_up(needed.value, 's')} or longer, or let the contact wait for the "
        "voltage.",
        ask="Say wait, or checks_voltage = true, under [protection.precharge].",
        assumed=_named(held.one, held.resistor),
    )
    return _leaning(found, fitted, "wait", held)


def _leaning(finding: Finding, fitted: Precharge, field: str, held: Filling) -> Finding:
    """Return the finding; a pass that leans on an assumed value of either side is a caution."""
    finding = at_best_caution(finding, field, fitted.basis.of(field))
    return at_best_caution(finding, held.one.means, held.one.basis)


def _gives_up(name: str, held: Filling, fitted: Precharge) -> Finding:
    needed = held.times("time to fill", FULL)
    longer = say_up(held.times("time-out", GIVES_UP).value, "s")
    found = at_least(
        TIME_OUT,
        fitted.time_out,
        needed,
        about=name,
        otherwise=Severity.CAUTION,
        value_name="the time-out",
        limit_name="five time constants",
        remedy=f"Set about {longer}: till then the input is full, or something is wrong.",
        ask=f"Say time_out under [protection.precharge]; about {longer} is usual. Without one a "
        "short-circuited inverter burns the resistor.",
    )
    return at_best_caution(found, "time-out", fitted.basis.of("time_out"))


def _shorted(name: str, fitted: Precharge, volts: Worked, resistor: Input) -> Finding:
    """Judge a short behind the resistor. No capacitance is needed for it: it is the worst case."""
    heat = None
    if fitted.time_out is not None:
        heat = HEAT.of(shorted_heat(volts.value, resistor.value, float(fitted.time_out.m)))
    found = at_most(
        SHORTED,
        heat,
        fitted.pulse,
        about=name,
        otherwise=Severity.CAUTION,
        value_name="the heat of a short-circuited inverter till the time-out",
        limit_name="the pulse that the resistor stands",
        remedy="A resistor that stands more, a shorter time-out, or a fuse before the resistor "
        "that opens first.",
        ask="Say pulse and time_out under [protection.precharge].",
        assumed=_named(resistor),
    )
    found = at_best_caution(found, "time-out", fitted.basis.of("time_out"))
    return at_best_caution(found, "pulse", fitted.basis.of("pulse"))


def _checked(name: str, fitted: Precharge) -> Finding:
    if fitted.checks_voltage:
        return at_best_caution(
            state(
                CHECKED,
                Severity.OK,
                about=name,
                detail="The main contact closes only when the voltage behind it has risen.",
            ),
            "check of the voltage",
            fitted.basis.of("checks_voltage"),
        )
    said = (
        "The main contact does not wait for the voltage."
        if fitted.checks_voltage is False
        else "Nobody said whether the main contact waits for the voltage."
    )
    return state(
        CHECKED,
        Severity.CAUTION,
        about=name,
        detail=f"{said} By the clock alone it also closes onto an inverter that is "
        "short-circuited or draws current.",
        remedy="Let it compare the voltages before and behind the contact, or look at a meter each "
        "time before you close it; say checks_voltage under [protection.precharge].",
    )


def _each(fitted: Precharge, each: Sequence[Finding], of_all: Filling | None) -> Finding:
    """Judge whether it matters that nobody said how many there are; `each` is of one for each."""
    own = "Each inverter is judged with a contact and a precharge of its own"
    if fitted.each_inverter:
        return state(EACH, Severity.OK, about=fitted.name, detail=f"{own}, as stated.")
    say_it = "Say each_inverter = true or false under [protection.precharge]."
    if of_all is None:
        return state(
            EACH,
            Severity.CAUTION,
            about=fitted.name,
            detail=f"{own}; nobody said so. What one for all would have to fill is not known.",
            remedy=say_it,
        )
    usual = {
        rule: max(f.severity for f in each if f.rule is rule) for rule in {f.rule for f in each}
    }
    worse = [f for f in _fitted(ALL, of_all, fitted) if f.severity > usual[f.rule]]
    if not worse:
        return state(
            EACH,
            Severity.NOTE,
            about=fitted.name,
            detail=f"{own}; nobody said so. One for all comes to the same: it fills them in about "
            f"{of_all.times('time to fill', FULL)}.",
            assumed=("one precharge for each inverter",),
        )
    worst = max(worse, key=lambda f: f.severity)
    holds = worst.holds and not any(f.holds for f in each)
    return state(
        EACH,
        Severity.UNKNOWN if holds else Severity.CAUTION,
        about=fitted.name,
        detail=f"{own}; nobody said so. One for all has {say(of_all.farads, 'F')} to fill, and "
        f"that is worse. {worst.detail}",
        remedy=f"Say each_inverter = true under [protection.precharge] if each has its own. If one "
        f"fills all, say false. {worst.remedy}".strip(),
    )
