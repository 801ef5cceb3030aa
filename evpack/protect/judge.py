"""Does the protection carry, guard and clear, and what with one string out?"""

from __future__ import annotations

import math
from collections.abc import Iterator

import attrs

from evpack.base.basis import Basis
from evpack.base.finding import (
    Finding,
    Rule,
    Severity,
    Standing,
    at_least,
    at_most,
    inside,
    state,
    unknown,
)
from evpack.base.units import CURRENT, TEMPERATURE, TIME
from evpack.base.wording import say, say_down, say_up
from evpack.base.worked import Worked, from_worked, stated
from evpack.describe.safeguards import CHARACTERISTICS, FuseCatalogue, FuseFamily
from evpack.outcome.groundwork import Groundwork, Sharing
from evpack.outcome.protection import (
    ARRAY,
    CHARGER,
    MAIN,
    STRING,
    Circuit,
    FaultBand,
    FuseChoice,
    ProtectionSchedule,
)
from evpack.protect.bounds import fuse_air, guarded_rating
from evpack.protect.fault import BUS, FED, at_terminals
from evpack.protect.fault import STRING as OWN
from evpack.protect.sizing import clears_at

FITS = Rule(
    key="protection.fits",
    says="Every string has its own fuse at a terminal that is not earthed, and every inverter main "
    "protection, of a rating that carries the current and guards the conductor.",
    source="common-practice",
    stands=Standing.BOUND,
    clause="NEC 240.4, 240.21 and 110.9; IEC 60364-4-43, 432 to 434",
)
FAULT_KNOWN = Rule(
    key="protection.fault-known",
    says="A fuse cannot be chosen against a fault current that nobody knows.",
    source="ohms-law",
    stands=Standing.QUESTION,
)
ONE_OUT = Rule(
    key="protection.one-out",
    says="With one string out, the fuses of the others must still carry the load, or the load "
    "must be limited.",
    source="common-practice",
    stands=Standing.GUARD,
    kind=CURRENT,
)
ONE_OUT_MODULE = Rule(
    key="protection.one-out-modules",
    says="With one string out, the modules of the others must still stand the current.",
    source="module-datasheet",
    stands=Standing.BOUND,
    clause="print of the module: discharge current",
    kind=CURRENT,
)
CLEARS = Rule(
    key="protection.clears",
    says="The lowest fault current must be many times the fuse's rating, or it clears slowly.",
    source="common-practice",
    stands=Standing.GUARD,
    kind=CURRENT,
)
TIME_CONSTANT = Rule(
    key="protection.time-constant",
    says="A DC fuse breaks its rated current only up to the L/R of the circuits it was tested in.",
    source="dc-fuse-tests",
    stands=Standing.GUARD,
    kind=TIME,
)
WARM_AIR = Rule(
    key="protection.warm-air",
    says="What warm air leaves of a fuse is reckoned on a straight line that nobody vouches for in "
    "hot air.",
    source="common-practice",
    stands=Standing.GUARD,
    kind=TEMPERATURE,
)
NOT_COVERED = Rule(
    key="protection.not-covered",
    says="What was not judged must be said, so that nobody takes it for judged.",
    source="common-practice",
    stands=Standing.REMARK,
)


def judged(
    ground: Groundwork,
    sharing: Sharing | None,
    schedule: ProtectionSchedule,
    catalogue: FuseCatalogue,
) -> tuple[Finding, ...]:
    """Return the findings on a schedule."""
    pairs = [(c, f) for c in schedule.circuits if (f := schedule.fuse_of(c)) is not None]
    found = [_fault_known(band) for band in schedule.faults[:1]]
    unsaid = ground.build.pack.module.link_limit is None
    found += [_fits(circuit, fuse, links_unsaid=unsaid) for circuit, fuse in pairs]
    found += [
        _panel_limit(circuit)
        for circuit in schedule.circuits
        if not circuit.needs_fuse and circuit.strings > 1 and _panel_unsaid(ground, circuit)
    ]
    found += clearing(ground, pairs, catalogue)
    found += _time_constants(schedule.faults, pairs)
    found += _warm_air(ground)
    found.append(
        state(
            NOT_COVERED,
            Severity.NOTE,
            about="protection",
            detail="Not judged here: clearing times beyond the gates of gG links, what the cell "
            "monitoring and its switches can carry and break, which modules belong together, "
            "bringing strings to one voltage before they are joined, place and ventilation, "
            "fixing and routing of cables, and the AC side. Have them settled by a licensed "
            "person.",
        )
    )
    if sharing is not None and sharing.one_out is not None:
        found += _one_out(ground, sharing, schedule.fuses[0])
    return tuple(found)


# Up to here makers print what is left of a fuse [°C]. Common practice, no source.
_HOTTEST_AIR = 80.0


def _warm_air(ground: Groundwork) -> list[Finding]:
    """Say which air was taken where the site gets warmer than the fuses were said to, or hot."""
    air, said = fuse_air(ground), ground.build.safeguards.ambient
    if air is None or said is None:
        return []
    if air.value <= _HOTTEST_AIR:
        if air.value == said.m:
            return []
        return [
            state(
                WARM_AIR,
                Severity.NOTE,
                about="fuses",
                detail=f"The air around them is said to be {say(said.m, '°C')} at most, and the "
                f"site gets {say(air.value, '°C')}: the latter was reckoned with.",
            )
        ]
    return [
        at_most(
            WARM_AIR,
            TEMPERATURE.of(air.value),
            TEMPERATURE.of(_HOTTEST_AIR),
            about="fuses",
            otherwise=Severity.CAUTION,
            value_name="the warmest air around them",
            limit_name="that for which makers print what is left of a fuse",
            remedy="Move them into cooler air; or ask their maker what they carry there.",
        )
    ]


def _fault_known(band: FaultBand) -> Finding:
    if band.assumed:
        return unknown(
            FAULT_KNOWN,
            about="fuses",
            detail="The modules' resistance is unknown, so the fault current is. The worst that "
            f"is credible was taken: up to {band.high} from one module.",
            remedy="Measure the DC internal resistance of the modules.",
        )
    return state(
        FAULT_KNOWN,
        Severity.OK,
        about="fuses",
        detail=f"Prospective fault current of a module up to {band.high}.",
    )


# L/R of the circuits that DC fuses are tested in [s]: 10 ms by UL 248, 15 to 20 ms by IEC 60269;
# from memory.
_TESTED_TIME_CONSTANT = 0.010


# Of links for solar strings and of small DC breakers, which are tested in quicker ones [s]; the
# cautious end of what is remembered of IEC 60269-6 and IEC 60947-2.
_TESTED_QUICKER = {"gPV": 0.001, "breaker": 0.005}


def _tested(family: FuseFamily) -> float:
    """Return the time constant that a family is tested in [s]."""
    kind = "breaker" if family.kind == "breaker" else family.characteristic
    return _TESTED_QUICKER.get(kind, _TESTED_TIME_CONSTANT)


def _time_constants(
    faults: tuple[FaultBand, ...], pairs: list[tuple[Circuit, FuseChoice]]
) -> list[Finding]:
    """Hold each fuse against the slowest of the faults that it may have to break itself."""
    bands = {band.place: band.time_constant for band in faults}
    found = []
    for circuit, fuse in pairs:
        slowest = max(
            (bands[place] for place in _faults_of(circuit) if place in bands),
            key=lambda tau: tau.value,
            default=None,
        )
        if fuse.family is None or slowest is None:
            continue  # a finding of its own; the sun gives no more than the panels' own current
        found.append(
            at_most(
                TIME_CONSTANT,
                slowest,
                TIME.of(_tested(fuse.family)),
                about=fuse.place,
                otherwise=Severity.CAUTION,
                value_name="the time constant of its slowest fault",
                limit_name=f"that of the circuits such a {fuse.family.kind} is tested in",
                remedy="Lay plus and minus side by side all the way; or take one whose print "
                f"allows {say_up(slowest.value, 's')}.",
                assumed=slowest.assumed,
            )
        )
    return found


def _faults_of(circuit: Circuit) -> tuple[str, ...]:
    """Return the places of the faults that the fuse of a circuit has to break."""
    if circuit.kind == STRING:
        return (OWN, FED)
    return () if circuit.kind == ARRAY else (BUS, at_terminals(circuit.device))


def section_of(circuit: Circuit) -> str:
    """Return the section of the build sheet that describes the fuse of a circuit."""
    return f"[{circuit.section}] (name, dc_voltage, interrupting, largest, characteristic)"


_PARTIAL, _FOR_PANELS = "aR", "gPV"
_READ = frozenset({Basis.DATASHEET, Basis.MEASURED})
_KINDS_OF_FUSE = ", ".join(f'"{kind}"' for kind in CHARACTERISTICS if kind)


def _guessed(bound: Worked | None, symbol: str) -> tuple[str, ...]:
    """Return what an input of a bound is, where it is only assumed."""
    inputs = () if bound is None else bound.inputs
    return tuple(i.means for i in inputs if i.symbol == symbol and i.basis is Basis.ASSUMED)


def _fits(circuit: Circuit, choice: FuseChoice, *, links_unsaid: bool) -> Finding:
    if choice.size is None or choice.family is None:
        bounds = (choice.lower, choice.upper, choice.interrupting, choice.voltage)
        matters = links_unsaid and _link_matters(circuit, choice)
        missing = choice.asks or None in bounds or matters
        assumed = [name for worked in bounds if worked is not None for name in worked.assumed]
        return state(
            FITS,
            Severity.UNKNOWN if missing else Severity.STOP,
            about=choice.place,
            detail=choice.reason,
            remedy=f"{_ASK_LINK} {choice.change}" if matters else choice.change,
            assumed=tuple(dict.fromkeys(assumed)),
        )
    if choice.family.characteristic == _PARTIAL:
        return state(
            FITS,
            Severity.STOP,
            about=choice.place,
            detail=f"{choice.family.name} is a partial-range fuse: it breaks short circuits only, "
            "and an overload makes it burst.",
            remedy="Use a full-range fuse (gG, gPV, gR, or a UL class).",
        )
    unsaid = choice.family.basis in _READ and not choice.family.characteristic
    if unsaid and choice.family.kind == "fuse":
        return unknown(
            FITS,
            about=choice.place,
            detail=f"{choice.reason} Nobody said how it melts: a fuse for short circuits only (aR) "
            "must not stand here.",
            remedy=f"Read it off its print and say characteristic under [{circuit.section}]: "
            f"{_KINDS_OF_FUSE}.",
        )
    doubts = [*_margins(circuit, choice), *_doubts(circuit, choice, choice.family)]
    found = state(
        FITS,
        Severity.CAUTION if doubts else Severity.OK,
        about=choice.place,
        detail=" ".join([choice.reason, *(why for why, _, _ in doubts)]),
        remedy=" ".join(remedy for _, remedy, _ in doubts if remedy),
        assumed=tuple(name for _, _, names in doubts for name in names),
    )
    missed = _missed(choice)
    return found if missed is None else attrs.evolve(found, value=choice.size, guarded=missed)


def _panel_unsaid(ground: Groundwork, circuit: Circuit) -> bool:
    named = (a for a in ground.build.solar_arrays if a.name == circuit.device)
    return any(array.largest_fuse is None for array in named)


def _panel_limit(circuit: Circuit) -> Finding:
    """Say what nobody read off panels that stand, by what they are, one string like their own.

    Where the other string may feed more than that, the circuit needs a fuse and is asked about.
    """
    return state(
        FITS,
        Severity.CAUTION,
        about=circuit.place,
        detail=f"{circuit.strings} strings join at its input without a fuse: a faulted one is fed "
        "by the other with no more than its own panels give, which every panel stands. Nobody "
        "said the largest fuse that they allow.",
        remedy=f"Read it off the label on the back of a panel (maximum series fuse), and say "
        f"largest_fuse of {circuit.device} under [[pv]].",
    )


_ASK_LINK = "Say link_limit under [module]: what the modules' links and terminals stand."


def _link_matters(circuit: Circuit, choice: FuseChoice) -> bool:
    """Return whether only the links' limit, which nobody said, keeps a size from fitting."""
    lower, upper = choice.lower, choice.upper
    if choice.size is not None or lower is None or upper is None:
        return False
    wanted = circuit.wanted
    there = None if isinstance(wanted, str) or wanted.rating is None else float(wanted.rating.m)
    if there is not None and there < lower.value:
        return False
    guessed = [i for i in upper.inputs if i.symbol == "I_link"]
    return bool(guessed) and upper.value >= guessed[0].value * _ALMOST


_ALMOST = 1 - 1e-9


def _missed(choice: FuseChoice) -> float | None:
    """Return the bound with our margin that a size misses [A]; None where it keeps both."""
    size, low, high = choice.size, choice.lower_guard, choice.upper_guard
    assert size is not None  # noqa: S101  (asked by the callers)
    if high is not None and not inside(size, high.value):
        return high.value
    if low is not None and not inside(size, low.value, at_least=True):
        return low.value
    return None


_OPEN_EARLY = {
    STRING: "ripple, unequal strings and a warm box let",
    MAIN: "ripple and a warm box let",
    CHARGER: "hours of it and a warm box let",
    ARRAY: "a warm box lets",
}


def _open_early(circuit: Circuit) -> str:
    alone = circuit.kind == STRING and circuit.count == 1
    return _OPEN_EARLY[MAIN if alone else circuit.kind]


def _margins(circuit: Circuit, choice: FuseChoice) -> Iterator[tuple[str, str, tuple[str, ...]]]:
    """Yield what a size that is allowed misses of our margins, with both figures."""
    size, low, high = choice.size, choice.lower_guard, choice.upper_guard
    assert size is not None  # noqa: S101  (asked by the caller)
    if high is not None and not inside(size, high.value):
        yield (*_guards_less(circuit, size, high), ())
    if low is not None and not inside(size, low.value, at_least=True):
        wished = say_up(low.value, "A")
        why = (
            f"That is what the rule asks for; we would take {wished}, since "
            f"{_open_early(circuit)} it open early."
        )
        so = (
            "Say the warmest air around the fuses as ambient under [protection]; or expect it to "
            "open on a long hot day at full output, and keep spares."
        )
        yield why, so, ()


def _guards_less(circuit: Circuit, size: float, high: Worked) -> tuple[str, str]:
    """Say what guards less than a size does that is allowed, and what to do about it."""
    carried = say_down(high.value, "A")
    if any(i.symbol == "I_link" and i.value <= high.value for i in high.inputs):
        why = f"That is allowed, though the modules' links are only known for {carried}"
        if circuit.count > 1 and circuit.hours is not None and circuit.hours.alone > high.value:
            return (
                f"{why}: with strings out, the last may carry more for hours.",
                f"{_ASK_LINK} Or fit an alarm that tells when a string is out.",
            )
        return f"{why}, and it does not guard them against more.", _ASK_LINK
    why = (
        f"That is allowed, though what it guards carries {carried}: the rule lets the next "
        "standard size stand above."
    )
    return why, f"A conductor for {say(size, 'A')} is better."


def _doubts(
    circuit: Circuit, choice: FuseChoice, family: FuseFamily
) -> Iterator[tuple[str, str, tuple[str, ...]]]:
    """Yield what a fuse that fits rests on and nobody read: why, what to do, what is assumed."""
    if family.basis not in _READ:
        yield (
            "These ratings are only typical of the family.",
            (
                "Buy a fuse whose print says at least this DC voltage and this interrupting "
                f"rating, and describe it under {section_of(circuit)}."
            ),
            ("DC ratings of the fuse",),
        )
    guessed = _guessed(choice.interrupting, "R_src")
    if guessed:
        yield (
            "The fault current rests on a resistance that nobody measured.",
            "Measure the DC internal resistance of the modules.",
            guessed,
        )
    panel = _guessed(choice.upper, "I_panel")
    if panel:
        yield (
            "What the panel allows is only assumed.",
            "Read the largest fuse off the panel's data sheet.",
            panel,
        )
    if circuit.kind == ARRAY and family.characteristic != _FOR_PANELS:
        yield (
            (
                "It is not made for solar strings: the others give a faulted one little more than "
                "its rating, at which other fuses may glow for long."
            ),
            "Use a fuse made for solar strings (gPV).",
            (),
        )


# Below this many times its rating a fuse takes minutes. Common practice, no source. What the cable
# stands meanwhile is a bound of its own (cable.withstands).
_SLOW = 3.0


def clearing(
    ground: Groundwork, pairs: list[tuple[Circuit, FuseChoice]], catalogue: FuseCatalogue
) -> list[Finding]:
    """Find whether the lowest fault current melts each fuse quickly.

    Where the gates of its size are known, what melts it within 5 s; else many times its rating.
    """
    times = max(float(ground.build.policy.clearing.m), _SLOW)  # whatever the policy says
    found = []
    for circuit, fuse in pairs:
        if fuse.size is None or fuse.family is None or circuit.kind == ARRAY:
            continue  # a finding of its own; the sun gives no more than the panels' own current
        gate = catalogue.slower_gate(fuse.family, fuse.size)
        needed = max(times * fuse.size, clears_at(fuse.family, fuse.size))
        words = f"{say(needed / fuse.size, '')} of the {fuse.family.kind}'s rating"
        if gate is not None and gate.melts_5s > needed:
            needed, words = gate.melts_5s, "what melts a gG link of its size within 5 s"
        least = circuit.least_fault
        found.append(
            at_least(
                CLEARS,
                least,
                CURRENT.of(needed),
                about=fuse.place,
                otherwise=Severity.CAUTION,
                value_name="the lowest fault current",
                limit_name=words,
                remedy="Take a quicker kind of fuse, or thicker cables on the way there.",
                ask=f"Describe the leads and {circuit.run_key} under [cabling].",
            )
        )
    return found


def _given(*numbers: Worked | None) -> tuple[Worked, ...]:
    return tuple(number for number in numbers if number is not None)


def _one_out(ground: Groundwork, sharing: Sharing, fuse: FuseChoice) -> list[Finding]:
    assert sharing.one_out is not None  # noqa: S101  (asked by the caller)
    share = sharing.one_out.value / sharing.total.value
    rated = ground.demand.rated
    found = []
    if fuse.size is not None:
        factors = guarded_rating(
            ground, "least string fuse, one string out", from_worked("I", sharing.one_out)
        )
        carried = fuse.size * sharing.one_out.value / factors.value
        most = None
        if rated is not None:
            most = ground.demand.load_for(rated.value * min(1.0, carried / sharing.one_out.value))
        watts = "what the fuses carry" if most is None else say(math.floor(most), "W")
        found.append(
            at_most(
                ONE_OUT,
                sharing.one_out,
                CURRENT.of(carried),
                about="string fuses",
                otherwise=Severity.CAUTION,
                value_name="the current of a string with one string out, at full output",
                limit_name="what its fuse carries for good",
                remedy=f"With one string out keep the AC load under {watts}, and fit "
                "an alarm that tells when a string is out.",
            )
        )
    pack = ground.build.pack
    limit = pack.module.discharge_limit
    loaded = ground.demand.continuous
    one_out = None
    if loaded is not None and rated is not None:
        one_out = CURRENT.of(sharing.total.value * loaded.value / rated.value * share)
    found.append(
        at_most(
            ONE_OUT_MODULE,
            one_out,
            limit,
            rests=(*_given(loaded, rated, sharing.total), *stated(pack.module, "discharge_limit")),
            about="modules",
            otherwise=Severity.CAUTION,
            value_name="the current of a string with one string out, at the continuous load",
            limit_name="the discharge limit of a module",
            remedy="With one string out reduce the load, and fit an alarm that tells when a "
            "string is out.",
            ask="Give the discharge limit of a module.",
        )
    )
    return found
