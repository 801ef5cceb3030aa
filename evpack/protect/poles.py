"""Which poles must be fused and opened, and which way a breaker may carry current."""

from __future__ import annotations

from collections.abc import Mapping

from evpack.base.basis import Basis
from evpack.base.finding import Finding, Rule, Severity, Standing, at_most, state, unknown
from evpack.base.units import VOLTAGE
from evpack.base.wording import say
from evpack.base.worked import Worked
from evpack.describe.safeguards import FuseFamily
from evpack.outcome.groundwork import Groundwork
from evpack.outcome.protection import ARRAY, Circuit, FuseChoice
from evpack.protect.bounds import needed_voltage
from evpack.protect.stated import at_best_caution

HIGH_VOLTAGE = Rule(
    key="poles.high-voltage",
    says="Above 120 V DC a pack is no extra-low voltage any more: it is work for a licensed "
    "person, and many such inverters start only with a battery that they can talk to.",
    source="iec-touch-voltage",
    stands=Standing.REMARK,
    kind=VOLTAGE,
)
BOTH = Rule(
    key="poles.both",
    says="Every pole that is not earthed has its own fuse, and an earthed one has none: with one "
    "fault to earth unseen, a second one in an unfused pole is a short without a fuse.",
    source="nec-240.15",
    stands=Standing.BOUND,
    clause="NEC 240.15(A): every ungrounded conductor, and 240.22: none in a grounded one; "
    "IEC 60364-4-43, 431.1: every line conductor (from memory)",
)
INSULATION = Rule(
    key="poles.insulation",
    says="The first fault to earth of a pack at dangerous voltage must be noticed.",
    source="insulation-monitoring",
    stands=Standing.BOUND,
    clause="IEC 60364-4-41, 411.6.3, above 120 V; NEC 250.167(A) and 706.30(D) of 2017, above "
    "100 V (from memory)",
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
# Above it a floating pack may not go unwatched, by rule set [V DC]. NEC: 706.30(D) of 2017.
_WATCHED_FROM = {"nec": 100.0, "iec": _HIGH_VOLTAGE}
_POLE_BREAKS = 250.0  # V DC that one pole of a breaker believably breaks; common practice


def poles(
    ground: Groundwork, circuits: tuple[Circuit, ...], fuses: Mapping[str, FuseChoice]
) -> tuple[Finding, ...]:
    """Return what was found of poles and polarity; `fuses` are by their place."""
    volts = needed_voltage(ground)
    return (
        _high_voltage(volts),
        _both(ground, volts, together=_opens_together(circuits, fuses)),
        _insulation(ground, volts),
        *_breakers(circuits, fuses),
    )


def _high_voltage(volts: Worked) -> Finding:
    return at_most(
        HIGH_VOLTAGE,
        volts,
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


def _opens_together(circuits: tuple[Circuit, ...], fuses: Mapping[str, FuseChoice]) -> bool:
    """Return whether all that protects the pack's circuits opens both poles at once: breakers."""
    families = [
        fuse.family
        for circuit in circuits
        if circuit.kind != ARRAY and (fuse := fuses.get(circuit.place)) is not None
    ]
    return all(f is not None and f.kind == "breaker" and f.poles > 1 for f in families)


_ASKED_BY = {"nec": "NEC 240.15(A)", "iec": "IEC 60364-4-43, 431.1"}
_FUSE_BOTH = (
    "Put a fuse into plus and minus of every string, main and charger, and say both_poles = true "
    "under [protection]. Or earth one pole, if the manual of every inverter and charger allows it, "
    "and fuse the other."
)


def _both(ground: Groundwork, volts: Worked, *, together: bool) -> Finding:
    build = ground.build
    earthed, both = build.pack.earthed, build.safeguards.both_poles
    # Two fuses in an earthed pack: NEC forbids the one in the earthed pole.
    forbidden = build.site.rules == "nec" and not together
    if earthed is None:
        return _both_not_said(volts, open_question=not both or forbidden)
    if earthed != "none":
        return _both_earthed(earthed, volts, both=both, together=together, forbidden=forbidden)
    if both:
        return state(
            BOTH,
            Severity.OK,
            about="pack",
            detail=f"Neither pole is earthed, the pack reaches {volts}, and both poles are fused.",
        )
    one = "only one pole is fused" if both is False else "nobody said that both poles are fused"
    detail = (
        f"The pack reaches {volts}, neither pole is earthed, and {one}: every pole that is not "
        f"earthed is to have its own fuse ({_ASKED_BY[build.site.rules]})."
    )
    if volts.value <= _TOUCH_LIMIT:
        return state(BOTH, Severity.CAUTION, about="pack", detail=detail, remedy=_FUSE_BOTH)
    if both is None:
        return unknown(BOTH, about="pack", detail=detail, remedy=_FUSE_BOTH)
    return state(BOTH, Severity.STOP, about="pack", detail=detail, remedy=_FUSE_BOTH)


_SAY_EARTHED = (
    'Say earthed under [pack]: "minus" or "plus", the pole that is joined to earth, or "none".'
)


def _both_not_said(volts: Worked, *, open_question: bool) -> Finding:
    """Ask which pole is earthed where that decides; up to a dry touch it never does."""
    detail = (
        f"Nobody said whether a pole of the pack is earthed; it reaches {volts}. Where neither is, "
        "both must be fused; an earthed one must not."
    )
    if open_question and volts.value > _TOUCH_LIMIT:
        return unknown(BOTH, about="pack", detail=detail, remedy=_SAY_EARTHED)
    return state(BOTH, Severity.CAUTION, about="pack", detail=detail, remedy=_SAY_EARTHED)


def _both_earthed(
    earthed: str, volts: Worked, *, both: bool | None, together: bool, forbidden: bool
) -> Finding:
    """Judge an earthed pack: a fuse in its earthed pole may open alone, and nothing looks dead."""
    if both and not together:
        return state(
            BOTH,
            Severity.STOP if forbidden and volts.value > _TOUCH_LIMIT else Severity.CAUTION,
            about="pack",
            detail=f"The {earthed} pole is earthed, and both are fused. If the earthed pole's fuse "
            "opens alone, the other pole stays live and the pack has lost its earth"
            f"{' (NEC 240.22)' if forbidden else ''}.",
            remedy="Fuse only the pole that is not earthed, and say both_poles = false under "
            "[protection]; or use breakers that open both poles at once.",
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
    if both:
        return state(
            BOTH,
            Severity.OK,
            about="pack",
            detail=f"The {earthed} pole is earthed, and breakers open both poles at once.",
        )
    return state(
        BOTH,
        Severity.OK,
        about="pack",
        detail=f"The {earthed} pole is earthed: every fuse must stand in the other one, and that "
        "is enough. A fuse in the earthed pole guards nothing against a fault to earth.",
    )


def _insulation(ground: Groundwork, volts: Worked) -> Finding:
    """Judge whether a first fault to earth is noticed; high up nobody may go without."""
    earthed = ground.build.pack.earthed
    from_on = _WATCHED_FROM[ground.build.site.rules]
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
    if volts.value <= from_on:
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
