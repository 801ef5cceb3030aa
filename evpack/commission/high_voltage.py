"""Strings that are dangerous to touch: open in the middle till last, gear worn, insulation in ohms.

Up to the limit of a dry touch none of this is asked: a step that nobody needs hides one that
everybody does.
"""

from __future__ import annotations

from evpack.base.basis import Basis
from evpack.base.units import INCIDENT, INSULATION, POWER, RESISTANCE
from evpack.base.wording import number, say, say_up
from evpack.base.worked import Input, Worked, from_worked
from evpack.commission.steps import Stage
from evpack.kernels.arc import ESCAPE, REACH, clears_within
from evpack.kernels.precharge import resistor_at_most
from evpack.outcome.commissioning import CommissioningStep
from evpack.outcome.design import Design
from evpack.outcome.protection import AT_BUS, AT_STRING, STRING, ProtectionSchedule

TOUCH = 60.0  # V DC, a dry touch (iec-touch-voltage, from memory)
# IEC 60364-6, table 6A, from memory: up to which voltage of the circuit [V], by which test voltage
# [V], at least how much [Ω]. Extra-low voltage ends at 120 V DC.
_TESTS = ((120.0, 250, 0.5e6), (500.0, 500, 1e6), (float("inf"), 1000, 1e6))
# Of a live DC circuit against its case, for each volt of it [Ω/V]; between a case and earth [Ω].
# ISO 6469-3 and UN Regulation 100, from memory.
_OHMS_A_VOLT = 100.0
BONDED = 0.1
# Gloves of EN 60903: up to which DC voltage a class is for [V]. From memory.
_GLOVES = ((750.0, "class 00"), (1500.0, "class 0"), (11250.0, "class 1"))
# Where skin begins to blister, and the most that clothing is made for [cal/cm²]: NFPA 70E, from
# memory.
_BLISTERS, _MOST_WORN = 1.2, 40.0


def dangerous(design: Design) -> bool:
    """Return whether the ends of a string are dangerous to touch."""
    return float(design.build.pack.highest.m) > TOUCH


def has_middle(design: Design) -> bool:
    """Return whether a string is to be kept open in its middle: it is dangerous, and has one."""
    return dangerous(design) and design.build.pack.modules_in_series > 1


def gear(stage: Stage, design: Design) -> CommissioningStep:
    """Return what is worn from here on, by the heat of an arc that a slip would draw."""
    pack = design.build.pack
    volts = float(pack.highest.m)
    arc = None if design.protection is None else _worst_arc(design, design.protection)
    kind = next(name for most, name in _GLOVES if volts <= most)
    todo = (
        f"From here on the ends of a string reach {say_up(volts, 'V')} DC. Insulating gloves for "
        f"that voltage ({kind} of EN 60903 or better), in date and blown up to look for holes, "
        f"leather ones over them; {_face(arc)} Nobody works alone."
    )
    heat = "how hot it burns is not known" if arc is None else f"{_said(arc)} at {say(REACH, 'm')}"
    return stage.asks(
        "gear",
        "What is worn",
        todo,
        f"A slip draws an arc that the fuses may not open: {heat}, by the most that a source can "
        "give (NFPA 70E, Annex D, from memory).",
        "Nobody goes near.",
        worked=arc,
    )


def _said(arc: Worked) -> str:
    return say_up(arc.value, arc.unit)


def _face(arc: Worked | None) -> str:
    if arc is not None and arc.value > _MOST_WORN:
        return (
            f"a face shield. Nothing that is worn is enough for {_said(arc)}: nobody works on it "
            "while it is joined. Split each string in more places, till an arc is below "
            f"{number(_MOST_WORN)} cal/cm²."
        )
    if arc is not None and arc.value <= _BLISTERS:
        return "a face shield, and clothing that does not melt."
    rating = "rated for arcs" if arc is None else f"of {_said(arc)} or more"
    return f"a face shield and clothing {rating}."


def _worst_arc(design: Design, schedule: ProtectionSchedule) -> Worked | None:
    """Return the greatest heat of an arc, before a string's fuse and where all strings feed it.

    No fuse opens the first: it lasts till one gets away. The second lasts till the string fuses
    clear, where their print says so. A weaker arc may last longer and burn worse: both ends count.
    """
    found = [
        _arc(design, end, _lasts(design, schedule, band.place, end.value))
        for band in schedule.faults
        if band.place in {AT_STRING, AT_BUS}
        for end in (band.high, band.low)
        if end is not None
    ]
    return max(found, key=lambda arc: arc.value, default=None)


def _lasts(design: Design, schedule: ProtectionSchedule, place: str, amps: float) -> float:
    """Return how long an arc lasts [s]: half of the fault current flows, a part in each string."""
    fuses = [schedule.fuse_of(circuit) for circuit in schedule.circuits if circuit.kind == STRING]
    family = next((fuse.family for fuse in fuses if fuse is not None), None)
    if place != AT_BUS or family is None or family.clearing is None:
        return ESCAPE
    return clears_within(float(family.clearing.m), amps / 2 / design.build.pack.strings)


def _arc(design: Design, fault: Worked, seconds: float) -> Worked:
    volts = float(design.build.pack.highest.m)
    return Worked(
        name="incident energy of an arc",
        kind=INCIDENT,
        formula="0.01 · {V} · {I_bf} / 2 · {t} / (100 · {D})^2",
        inputs=(
            Input("V", "highest voltage of a string", volts, "V", Basis.COMPUTED),
            from_worked("I_bf", fault),
            Input("t", "till the fuse clears, or one gets away", seconds, "s", Basis.ASSUMED),
            Input("D", "from the arc to the face", REACH, "m", Basis.ASSUMED),
        ),
        source="nfpa-70e-d",
        note="Half of the fault current, in the open. In a box it is about three times as much.",
    )


def middle_open(stage: Stage, design: Design) -> CommissioningStep:
    """Return that each string is kept in two till last."""
    pack = design.build.pack
    before = pack.modules_in_series // 2
    half = (pack.modules_in_series - before) * pack.module.cells_in_series
    volts = half * float(pack.module.highest.m)
    still = "" if volts <= TOUCH else " That is still dangerous to touch."
    return stage.asks(
        "middle_open",
        "The link in the middle of each string",
        f"The link between modules {before} and {before + 1} of each string is not fitted, and "
        "both its ends are covered. It stays so till every other joint is made: it is the last "
        f"one. The halves reach {say_up(volts, 'V')}.{still}",
        "An open string drives no current through a hand or a spanner at its ends.",
        "Take it out before another joint is touched.",
    )


def wiring(stage: Stage, design: Design) -> CommissioningStep:
    """Return the insulation of the wiring, measured in ohms with nothing live on it."""
    volts = float(design.build.pack.highest.m)
    test, least = next((test, ohms) for most, test, ohms in _TESTS if volts <= most)
    return stage.reads(
        "insulation_ohms",
        "Insulation of the wiring",
        "String fuses out, no device joined, surge devices and insulation monitor unplugged, so "
        f"that nothing but cable, bars and switches hangs on it: by an insulation tester at {test} "
        "V DC, plus to earth and minus to earth, the lower of the two. Never on cells or devices.",
        f"At least {say(least, 'Ω')} at {test} V (IEC 60364-6, table 6A, from memory). A path to "
        "earth through a pinched cable puts a pole on the rack.",
        "Join nothing. Part the cables, and find which one it is.",
        kind=INSULATION,
        low=least,
    )


def middle_closed(stage: Stage) -> CommissioningStep:
    """Return that the halves are joined, to read the strings."""
    return stage.asks(
        "middle_closed",
        "The link in the middle of each string",
        "Every other joint of the strings is made and covered, the string fuses are out, the gear "
        "is on: the link is fitted, one string at a time, at its maker's torque, marked, and "
        "covered.",
        "From here on the whole voltage stands at the ends of a string.",
        "Do not close it while anything else is bare.",
    )


def fuses_in(stage: Stage) -> CommissioningStep:
    """Return that the fuses go in once the strings agree."""
    return stage.asks(
        "fuses_in",
        "String fuses",
        "With the disconnect open and the gear on, they go in, one string after another.",
        "From here on the bars are live.",
        "Leave them out till the strings agree.",
    )


def middle_last(stage: Stage) -> CommissioningStep:
    """Return that the strings are closed again, the very last, once the devices are joined."""
    return stage.asks(
        "middle_last",
        "The link in the middle of each string",
        "Every device is joined, every cover but that of the middle is on, the disconnect is open, "
        "the string fuses are out, the gear is on: the links are closed, one string at a time, at "
        "their maker's torque, and covered. Then the string fuses go in.",
        "The last joint is the only one that is made with the whole voltage about.",
        "Do not close it while anything else is bare.",
    )


def bonded(stage: Stage) -> CommissioningStep:
    """Return the resistance between cases and earth."""
    return stage.reads(
        "bonding",
        "Metal cases and racks",
        "Joined to earth, each by its own conductor: by an ohmmeter with its leads taken off, from "
        "the earth bar to every metal case, tray and rack that a hand reaches, the largest.",
        f"At most {say(BONDED, 'Ω')} (ISO 6469-3, from memory). A case that a pole touches is live "
        "till it is joined to earth.",
        "Scrape off the paint, and make that joint anew.",
        kind=RESISTANCE,
        low=0.0,
        high=BONDED,
    )


def monitor_resistor(design: Design) -> tuple[float, Worked]:
    """Return a resistor that an insulation monitor must tell of [Ω], and what it burns at most."""
    volts = float(design.build.pack.highest.m)
    ohms = resistor_at_most(_OHMS_A_VOLT * volts)
    return ohms, Worked(
        name="across the whole pack it burns",
        kind=POWER,
        formula="{V}^2 / {R}",
        inputs=(
            Input("V", "highest voltage of the pack", volts, "V", Basis.COMPUTED),
            Input("R", "resistor to earth", ohms, "Ω", Basis.CHOSEN),
        ),
        source="ohms-law",
    )
