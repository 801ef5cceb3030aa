"""What is looked at before anything is joined: parts, surroundings, modules, insulation."""

from __future__ import annotations

from collections.abc import Iterator

import attrs

from evpack.base.basis import Basis
from evpack.base.units import CURRENT, LENGTH, SHARE, VOLTAGE
from evpack.base.wording import say, say_up
from evpack.base.worked import Input, Worked, count, known
from evpack.commission.high_voltage import (
    bonded,
    dangerous,
    fuses_in,
    gear,
    has_middle,
    middle_closed,
    middle_open,
    wiring,
)
from evpack.commission.steps import ISOLATE, Stage, described, guards, slug
from evpack.describe.cabling import Run
from evpack.describe.policy import means
from evpack.describe.safeguards import FuseFamily
from evpack.outcome.cells import at_room
from evpack.outcome.commissioning import CommissioningStep
from evpack.outcome.design import Decision, Design
from evpack.outcome.protection import STRING, FuseChoice

_LIMITS = Stage("limits", "Limits that the design works under")
_PARTS = Stage("parts", "Parts, before anything is joined")
_MODULES = Stage("modules", "Modules and strings, before they are joined")

# Strings that are joined: common practice, no source. Whatever flows then is no more than the
# modules may be charged with, if their resistance is as low as it may be.
_CLOSE_ENOUGH = 0.1  # [V]
# A lead may be so much shorter than was reckoned with: common practice, no source. The lowest
# credible resistance of the modules leaves far more room in the fault current.
_ALIKE = 0.9
# Less than half of what was reckoned with is a slip, or another way: common practice, no source.
_HALF = 0.5
# A string is the sum of its modules but for the meter: common practice, no source. Of very many
# modules, one that lies the wrong way round (it takes itself away twice) must still show.
_SUM = 0.01

JOINTS = "parts.joints"
_ANEW = "Write what is there into the build sheet, and decide again."

_AROUND = Stage("around", "Around the pack, before any of it is joined")


def limits(decision: Decision) -> Iterator[CommissioningStep]:
    """Yield every limit of a design that works with limits."""
    for finding in decision.limits:
        yield _LIMITS.asks(
            slug(f"{finding.rule.key} {finding.about}"),
            f"{finding.about[0].upper()}{finding.about[1:]}" if finding.about else "The pack",
            f"{finding.detail} {finding.remedy} It is put right, or it is written beside the pack "
            "where everybody who uses it reads it.",
            "The design works only while this is kept.",
            "Change what it comes from, and decide again.",
        )


def parts(design: Design) -> Iterator[CommissioningStep]:
    """Yield what is read off the parts."""
    schedule = design.protection
    if schedule is None:
        return
    for fuse in schedule.fuses:
        if fuse.size is None or fuse.voltage is None or fuse.interrupting is None:
            continue  # no design that works leaves one open
        for step in _fuse(fuse, fuse.size, fuse.voltage.value, fuse.interrupting.value):
            yield attrs.evolve(step, rests_on=described(fuse.family))
    for circuit in schedule.circuits:
        if circuit.run is not None:
            place = f"{circuit.source} to {circuit.end}"
            yield from _cable(place, circuit.run, reckoned=circuit.kind == STRING)
    if design.build.cabling.link is not None:
        yield from _cable("module to module", design.build.cabling.link, reckoned=True)
    yield _PARTS.asks(
        "joints",
        "Every lug",
        "Crimped with its own tool, and pulled at. Nothing is joined yet.",
        "A loose joint is the usual beginning of a fire.",
        "Make it anew while nothing is joined. A crimp that was pulled loose is not pressed a "
        "second time.",
    )
    for need in schedule.needs:
        if need.must:
            step = _PARTS.asks(
                slug(need.what),
                f"{need.what[0].upper()}{need.what[1:]}",
                f"It is as it must be: {'; '.join(need.must)}.",
                if_not="Fit one that is.",
            )
            yield attrs.evolve(step, rests_on=guards(design))


def _fuse(
    fuse: FuseChoice, size: float, volts: float, interrupting: float
) -> Iterator[CommissioningStep]:
    name = slug(fuse.place)
    yield _PARTS.reads(
        f"{name}_rating",
        f"Fuse: {fuse.place}",
        f"Read the rating off the print of each ({fuse.count} in all).",
        "A larger one guards nothing, a smaller one melts in use.",
        kind=CURRENT,
        low=size,
        high=size,
        if_not="Fit the one that the schedule names. Another rating is another design.",
    )
    yield _PARTS.asks(
        f"{name}_print",
        f"Fuse: {fuse.place}",
        f"The print says {say_up(volts, 'V')} DC or more, and at that voltage an interrupting "
        f"rating of {say_up(interrupting, 'A')} or more.{_sort(fuse.family)}",
        "One that cannot break the short burns instead of opening. An AC rating says nothing. One "
        "that melts or trips at another current guards another cable.",
        "Do not use it.",
    )


def _sort(family: FuseFamily | None) -> str:
    """Return of what sort a fuse or breaker must be, as the schedule reckons with it."""
    if family is None:
        return ""
    if family.kind != "breaker":
        melts = family.characteristic
        return f" It is of this sort: {family.name}{f', printed {melts}' if melts else ''}."
    told = [f"{family.name}, made for DC"]
    told.append(
        "its one pole alone in the way"
        if family.poles == 1
        else f"its {family.poles} poles in series as its print shows"
    )
    told.append(
        "no plus sign and no arrow on it, so that it breaks both ways"
        if family.polarised is False
        else "a plus sign or an arrow on it, if any, as its print shows, with the battery as the "
        "source of the fault"
    )
    if family.instantaneous_trip is not None:
        told.append(f"trips at once from {say(float(family.instantaneous_trip.m), 'A')} DC")
    return f" It is of this sort: {'; '.join(told)}."


def _cable(place: str, run: Run, *, reckoned: bool) -> Iterator[CommissioningStep]:
    """Yield size and length; where a short reckons with its resistance, not less of that either."""
    shortest = _ALIKE * run.shortest_part * float(run.length.m)
    size = run.conductor.size if run.parallel == 1 else f"{run.parallel} × {run.conductor.size}"
    yield _PARTS.asks(
        f"{slug(place)}_cable",
        f"Cable: {place}",
        f"It is {size} of copper, as its print says{', each' if reckoned else ', or thicker'}.",
        "All alike: an unlike one shares the current unevenly." if reckoned else "",
        _ANEW,
    )
    yield _PARTS.reads(
        f"{slug(place)}_length",
        f"Cable: {place}",
        "Measure one way of the longest.",
        "A longer one loses more, and lets less flow into a short; a far shorter one goes another "
        "way than was reckoned with.",
        _ANEW,
        kind=LENGTH,
        low=_HALF * float(run.length.m) if not reckoned else shortest,
        high=float(run.length.m),
    )
    if reckoned:
        yield _PARTS.reads(
            f"{slug(place)}_shortest",
            f"Cable: {place}",
            "Measure one way of the shortest.",
            "A shorter one lets more flow into a short than the fuses were chosen for, and its "
            "string works harder than the others.",
            "Say shortest for this run in the build sheet, and decide again.",
            kind=LENGTH,
            low=shortest,
            high=float(run.length.m),
        )


def modules(design: Design) -> Iterator[CommissioningStep]:
    """Yield what is read off modules and strings while they still stand apart."""
    pack = design.build.pack
    targets = pack.module.chemistry.targets
    yield _MODULES.asks(
        "sound",
        "Every module",
        "None is swollen, leaking, dented, flooded or was ever emptied below its limit.",
        "Such modules can catch fire long after the harm was done.",
        "It goes out of the house, far from anything that burns, and is never charged.",
    )
    if targets is not None:
        yield _MODULES.reads(
            "cell_spread",
            "Cell groups at rest",
            "After a day at rest: the highest cell group minus the lowest, over all modules.",
            "A group that lies apart ends every charge and discharge early, or is failing.",
            "Bring the groups together slowly with a small current, and look again after a week: "
            "one that falls apart again is not used.",
            kind=VOLTAGE,
            low=0.0,
            high=2 * float(targets.top_guard.m),
            worked=Worked(
                name="cell groups apart at rest, at most",
                kind=VOLTAGE,
                formula="2 · {g}",
                inputs=(
                    known(
                        "g",
                        "guard for the spread of full cells",
                        targets.top_guard,
                        pack.module.chemistry.basis.of("top_guard"),
                    ),
                ),
                source="common-practice",
            ),
        )
    if dangerous(design):
        yield gear(_MODULES, design)
    module = pack.module
    yield _MODULES.reads(
        "lowest_module",
        "Every module, alone",
        "At its own terminals, with the meter's red lead on the one that is marked plus: the "
        "lowest voltage. It must be positive at every module. Write each down.",
        "A module that is marked wrong, or lies the wrong way round, is driven backwards by the "
        "others.",
        "Join nothing. One that is marked wrong is marked anew; one that is empty goes out of the "
        "house and is never charged.",
        kind=VOLTAGE,
        low=module.cells_in_series * float(module.least.m),
        high=module.cells_in_series * float(module.highest.m),
    )
    if dangerous(design):
        if has_middle(design):
            yield middle_open(_MODULES, design)
        yield _joints(" The middle stays open." if has_middle(design) else "")
        yield wiring(_MODULES, design)
        if has_middle(design):
            yield middle_closed(_MODULES)
        yield from _strings(design)
        yield fuses_in(_MODULES)
    else:
        yield from _strings(design)
        yield _joints(" Only then the string fuses go in.")
    yield _insulation(pack.earthed)


def _strings(design: Design) -> Iterator[CommissioningStep]:
    """Yield what is read of whole strings, their fuses out."""
    pack = design.build.pack
    n = pack.cells_in_series
    yield _MODULES.reads(
        "lowest_string",
        "Each string, alone",
        "At the open ends of each string, with the meter's red lead on its plus: the lowest "
        "voltage. It must be positive at every string.",
        "A string the wrong way round, joined to the others, is a dead short of the whole pack.",
        "Join nothing. Find the module that lies the wrong way round or is empty.",
        kind=VOLTAGE,
        low=n * float(pack.module.least.m),
        high=n * float(pack.module.highest.m),
    )
    if pack.modules_in_series > 1:
        yield _MODULES.reads(
            "string_sum",
            "Each string against its modules",
            "Its voltage minus the sum of its modules' voltages, without the sign, divided by that "
            "sum: the largest of all strings.",
            "One module the wrong way round takes itself away twice, and in a long string the rest "
            "may still look like a string that is half empty.",
            "Join nothing. Find the module that lies the wrong way round or was left out.",
            kind=SHARE,
            low=0.0,
            high=min(_SUM, 1 / pack.modules_in_series),
        )
    if pack.strings > 1:
        bound = _apart(design)
        yield _MODULES.reads(
            "string_spread",
            "Strings against one another",
            "The highest string minus the lowest, just before they are joined.",
            "The difference drives a current from string to string the moment they are joined.",
            "Charge or discharge one string by itself with a small current till they agree.",
            kind=VOLTAGE,
            low=None if bound is None else 0.0,
            high=None if bound is None else bound.value,
            worked=bound,
        )


def _joints(then: str) -> CommissioningStep:
    return _MODULES.asks(
        "joints",
        "Every joint of modules, strings and bars",
        "With the string fuses out and the disconnect open, by an insulated tool, one pole at a "
        "time since the modules are live: at its maker's torque, and marked with a line across "
        f"bolt and lug.{then}",
        "A loose joint is the usual beginning of a fire; the line shows when it has moved.",
        f"{ISOLATE} Make it anew.",
    )


def _insulation(earthed: str | None) -> CommissioningStep:
    if earthed in {"none", None}:
        todo = (
            "With the strings joined at the bars, the disconnect open and no device joined yet: no "
            "steady voltage between either pole and earthed metal. A meter may show some at first "
            "and creeps towards zero."
        )
    else:
        todo = (
            f"Before the {earthed} pole is joined to earth: no steady voltage between either pole "
            "and earthed metal. It is joined to earth in one place only."
        )
    return _MODULES.asks(
        "insulation",
        "Insulation",
        todo,
        "A voltage that stands is a path to earth: a second one is a short past every fuse.",
        f"{ISOLATE} Take the strings apart again and look at each: the path is where the voltage "
        "stays.",
    )


def _apart(design: Design) -> Worked | None:
    """Return how far strings may lie apart when they are joined; None where nobody can tell."""
    pack, policy = design.build.pack, design.build.policy
    module = pack.module
    read = at_room(module, least=True)
    if read is None or module.charge_limit is None:
        return None
    return Worked(
        name="strings apart when they are joined, at most",
        kind=VOLTAGE,
        formula="min({dV}, {I_ch} · {s} · {m} · {R} · {k_low})",
        inputs=(
            Input("dV", "usual guard", _CLOSE_ENOUGH, "V", Basis.ASSUMED),
            known(
                "I_ch",
                "charge limit of a module",
                module.charge_limit,
                module.basis.of("charge_limit"),
            ),
            count("s", "strings that share the difference", 2),
            count("m", "modules in series", pack.modules_in_series),
            attrs.evolve(read, symbol="R"),
            known("k_low", means("ohmic_part"), policy.ohmic_part, policy.basis.of("ohmic_part")),
        ),
        source="common-practice",
    )


def around(design: Design) -> Iterator[CommissioningStep]:
    """Yield what is done around the pack before it is joined."""
    build = design.build
    if dangerous(design):
        yield bonded(_AROUND)
    else:
        yield _AROUND.asks(
            "bonding",
            "Metal cases and racks",
            "Every metal case and rack that a hand reaches is joined to earth by a conductor of "
            "its own, on bare metal.",
            "A case that a pole or a line of the AC side touches is live till it is.",
            "Join it before anything else.",
        )
    if build.safeguards.surge_protection:
        yield _AROUND.asks(
            "surge",
            "Surge protective devices",
            "One at each end of every long line, rated for its voltage, its window showing that it "
            "is sound, its wire to earth short and straight.",
            "One that is spent, or on a long wire, protects nothing.",
            "Change it, or shorten the wire.",
        )
    yield _AROUND.asks(
        "labels",
        "Labels and sheets",
        f"Posted: at the pack, up to {say_up(float(build.pack.highest.m), 'V')} DC, live with "
        "every switch open; at the disconnect, how to switch off; at the incoming supply, that "
        "there is a second source (evpack sheets prints them).",
        "Whoever comes in the dark knows nothing of it.",
        "Write them by hand till they are printed.",
    )
