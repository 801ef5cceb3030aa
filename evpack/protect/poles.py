"""Which poles must be fused and opened, and which way a breaker may carry current."""

from __future__ import annotations

from collections.abc import Mapping

from evpack.base.basis import Basis
from evpack.base.finding import Finding, Rule, Severity, Standing, at_most, state, unknown
from evpack.base.units import VOLTAGE
from evpack.base.wording import say
from evpack.base.worked import Worked
from evpack.describe.fuses import FuseFamily
from evpack.outcome.circuits import ARRAY, Circuit
from evpack.outcome.groundwork import Groundwork
from evpack.outcome.protection import FuseChoice
from evpack.protect.bounds import needed_voltage
from evpack.protect.stated import at_best_caution

HIGH_VOLTAGE = Rule(
    key="poles.high-voltage",
    says="Above 120 V DC a pack is no extra-low voltage any more: it is work for a licensed "
    "person, and many such inverters start only with a battery that they can talk to.",
    source="iec-touch-voltage",
    stands=Standing.GUARD,
    kind=VOLTAGE,
)
BOTH = Rule(
    key="poles.both",
    says="A pack with neither pole earthed needs protection in both once its voltage is dangerous: "
    "with one fault to earth unseen, a second one in the unfused pole is a short without a fuse.",
    source="common-practice",
    stands=Standing.BOUND,
    clause="NEC 240.15(A): every ungrounded conductor; IEC 60364-4-43, 431",
)
INSULATION = Rule(
    key="poles.insulation",
    says="The first fault to earth of a pack at dangerous voltage must be noticed.",
    source="common-practice",
    stands=Standing.BOUND,
    clause="IEC 60364-4-41, 411.6.3 (from memory); NEC 706.30(D), 690.41",
)
BREAKER = Rule(
    key="poles.breaker",
    says="A breaker reaches its DC voltage only with the poles in series that its print shows.",
    source="common-practice",
    stands=Standing.GUARD,
    kind=VOLTAGE,
)
POLARITY = Rule(
    key="poles.polarity",
    says="A polarised breaker that is fed the wrong way cannot break the arc and may burn: it must "
    "not stand where current, or a fault, flows both ways.",
    source="common-practice",
    stands=Standing.BOUND,
    clause="print of the breaker: direction of current",
)

_TOUCH_LIMIT = 60.0  # V DC, a dry touch (IEC, from memory)
_HIGH_VOLTAGE = 120.0  # V DC, the end of extra-low voltage (IEC, from memory)
_POLE_BREAKS = 250.0  # V DC that one pole of a breaker believably breaks; common practice


def poles(
    ground: Groundwork, circuits: tuple[Circuit, ...], fuses: Mapping[str, FuseChoice]
) -> tuple[Finding, ...]:
    """Return what was found of poles and polarity; `fuses` are by their place."""
    volts = needed_voltage(ground)
    return (
        _high_voltage(volts),
        _both(ground, volts),
        _insulation(ground, volts),
        *_breakers(circuits, fuses),
    )


def _high_voltage(volts: Worked) -> Finding:
    return at_most(
        HIGH_VOLTAGE,
        volts.quantity,
        VOLTAGE.of(_HIGH_VOLTAGE),
        about="pack",
        otherwise=Severity.CAUTION,
        value_name="the pack's highest voltage",
        limit_name="the end of extra-low voltage",
        remedy="Have a licensed person design and build it, with isolators that open both poles; "
        "and ask the inverter's maker whether it starts with a battery that it cannot talk to. "
        "Or stay at or below 120 V.",
    )


# --- Both poles, and the fault to earth -------------------------------------------------------


def _both(ground: Groundwork, volts: Worked) -> Finding:
    earthed, both = ground.build.pack.earthed, ground.build.safeguards.both_poles
    if earthed is None:
        return _both_not_said(volts)
    if earthed != "none":
        return _both_earthed(earthed, both=both)
    if volts.value <= _TOUCH_LIMIT:
        return state(
            BOTH,
            Severity.OK,
            about="pack",
            detail=f"Neither pole is earthed, and up to {say(_TOUCH_LIMIT, 'V')} one fuse for each "
            f"circuit is held enough; the pack reaches {volts}.",
        )
    if both:
        return state(
            BOTH,
            Severity.OK,
            about="pack",
            detail=f"Neither pole is earthed, the pack reaches {volts}, and both poles are "
            "protected.",
        )
    remedy = (
        "Put a fuse into plus and minus of every string and main, and say both_poles = true "
        "under [protection]."
    )
    if volts.value > _HIGH_VOLTAGE and both is None:
        return unknown(
            BOTH,
            about="pack",
            detail=f"Neither pole is earthed, the pack reaches {volts}, and nobody said whether "
            "both poles are protected.",
            remedy=remedy,
        )
    return state(
        BOTH,
        Severity.STOP if volts.value > _HIGH_VOLTAGE else Severity.CAUTION,
        about="pack",
        detail=f"Neither pole is earthed, the pack reaches {volts}, and "
        + (
            "only one pole is protected."
            if both is False
            else "nobody said that both poles are protected."
        ),
        remedy=remedy,
    )


_SAY_EARTHED = (
    'Say earthed under [pack]: "minus" or "plus", the pole that is joined to earth, or "none".'
)


def _both_not_said(volts: Worked) -> Finding:
    detail = (
        f"Nobody said whether a pole of the pack is earthed; it reaches {volts}. Fuses are told "
        "for the positive pole, and in an earthed one they would guard nothing."
    )
    if volts.value > _HIGH_VOLTAGE:
        return unknown(BOTH, about="pack", detail=detail, remedy=_SAY_EARTHED)
    return state(BOTH, Severity.CAUTION, about="pack", detail=detail, remedy=_SAY_EARTHED)


def _both_earthed(earthed: str, *, both: bool | None) -> Finding:
    """Judge an earthed pack: a fuse in its earthed pole may open alone, and nothing looks dead."""
    if both:
        return state(
            BOTH,
            Severity.CAUTION,
            about="pack",
            detail=f"The {earthed} pole is earthed, and both are fused. If the earthed pole's fuse "
            "opens alone, the other pole stays live and the pack has lost its earth.",
            remedy="Fuse only the pole that is not earthed, or use breakers that open both poles "
            "at once.",
        )
    if earthed == "plus":
        return state(
            BOTH,
            Severity.CAUTION,
            about="pack",
            detail="The plus pole is earthed: every fuse must stand in the minus. Many inverters "
            "and chargers join their minus to their case or to the minus of the panels, and then "
            "short the pack.",
            remedy="Read in the manual of each that a positive earth is allowed; else earth the "
            "minus, or neither.",
        )
    return state(
        BOTH,
        Severity.OK,
        about="pack",
        detail=f"The {earthed} pole is earthed: every fuse must stand in the other one, and that "
        "is enough. A fuse in the earthed pole guards nothing against a fault to earth.",
    )


def _insulation(ground: Groundwork, volts: Worked) -> Finding:
    """Judge whether a first fault to earth is noticed; from 120 V on nobody may go without."""
    earthed = ground.build.pack.earthed
    watched = ground.build.safeguards.insulation_monitoring
    if watched:
        return state(
            INSULATION, Severity.OK, about="pack", detail="Its insulation against earth is watched."
        )
    if volts.value <= _TOUCH_LIMIT:
        return state(
            INSULATION,
            Severity.OK,
            about="pack",
            detail=f"Up to {say(_TOUCH_LIMIT, 'V')} no watch on the insulation is asked for; the "
            f"pack reaches {volts}.",
        )
    remedy = (
        "Fit insulation monitoring that tells of the first fault to earth (earth-fault detection "
        "where a pole is earthed), and say insulation_monitoring = true under [protection]."
    )
    detail = f"Nothing is said to watch the insulation of a pack that reaches {volts}."
    if volts.value <= _HIGH_VOLTAGE:
        return state(INSULATION, Severity.NOTE, about="pack", detail=detail, remedy=remedy)
    if earthed in {"minus", "plus"}:
        return state(
            INSULATION,
            Severity.CAUTION,
            about="pack",
            detail=f"{detail} A fault to earth may be too weak to open a fuse.",
            remedy=remedy,
        )
    if watched is False and earthed == "none":
        return state(
            INSULATION,
            Severity.STOP,
            about="pack",
            detail=f"Nothing watches the insulation of a floating pack that reaches {volts}: a "
            "first fault to earth goes unseen.",
            remedy=remedy,
        )
    return unknown(INSULATION, about="pack", detail=detail, remedy=remedy)


# --- Breakers ---------------------------------------------------------------------------------


def _breakers(circuits: tuple[Circuit, ...], fuses: Mapping[str, FuseChoice]) -> list[Finding]:
    found: list[Finding] = []
    for circuit in circuits:
        fuse = fuses.get(circuit.place)
        family = None if fuse is None else fuse.family
        if family is not None and family.kind == "breaker":
            found += [_breaker(circuit, family), _polarity(circuit, family)]
    if found:
        return found
    return [
        state(
            BREAKER, Severity.OK, about="breakers", detail="No breaker is used, so none is misused."
        ),
        state(
            POLARITY,
            Severity.OK,
            about="breakers",
            detail="No breaker is used; fuses break current both ways.",
        ),
    ]


def _breaker(circuit: Circuit, family: FuseFamily) -> Finding:
    return at_most(
        BREAKER,
        VOLTAGE.of(family.dc_voltage.m / family.poles),
        VOLTAGE.of(_POLE_BREAKS),
        about=circuit.place,
        otherwise=Severity.CAUTION,
        value_name=f"what each pole breaks (all {family.poles} in series for "
        f"{say(family.dc_voltage.m, 'V')} DC)"
        if family.poles > 1
        else "what its one pole breaks",
        limit_name="what one pole of a breaker believably breaks",
        remedy="Read its print again: the DC voltage, and how many poles it shows in series for "
        "it. An AC voltage says nothing here.",
        assumed=("DC ratings of the breaker",) if family.basis is Basis.ASSUMED else (),
    )


def _polarity(circuit: Circuit, family: FuseFamily) -> Finding:
    if family.polarised is False:
        return at_best_caution(
            state(
                POLARITY, Severity.OK, about=circuit.place, detail="It breaks current both ways."
            ),
            "statement on polarised",
            family.basis,
        )
    # A string of panels that fails is fed backwards by the others: that is what it is fused for.
    if not circuit.both_ways and circuit.kind != ARRAY:
        return state(
            POLARITY,
            Severity.NOTE,
            about=circuit.place,
            detail="Here current flows one way only, so a polarised breaker may stand here. "
            "Wire it as its own print shows, with the battery as the source of the fault.",
        )
    if family.polarised is None:
        return unknown(
            POLARITY,
            about=circuit.place,
            detail="Nobody said whether the breaker is polarised, and here current, or a fault, "
            "flows both ways.",
            remedy=f"Read its print (a plus sign or an arrow at a terminal means that it is) and "
            f"say polarised under [{circuit.section}].",
        )
    return state(
        POLARITY,
        Severity.STOP,
        about=circuit.place,
        detail="The breaker is polarised, and here current, or a fault, flows both ways: fed "
        "backwards it cannot put out the arc and may burn.",
        remedy="Use a breaker that is not polarised, or a fuse.",
    )
