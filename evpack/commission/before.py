"""What is looked at before anything is joined: parts, modules, polarity, insulation."""

from __future__ import annotations

from collections.abc import Iterator

from evpack.base.basis import Basis
from evpack.base.units import CURRENT, LENGTH, VOLTAGE
from evpack.base.wording import say_up
from evpack.base.worked import Input, Worked, count, known
from evpack.commission.steps import Stage, slug
from evpack.describe.policy import means
from evpack.outcome.commissioning import CommissioningStep
from evpack.outcome.design import Design

_PARTS = Stage("parts", "Parts, before anything is joined")
_MODULES = Stage("modules", "Modules and strings, before they are joined")

# Strings that are joined: common practice, no source. Whatever flows then is no more than the
# modules may be charged with, if their resistance is as low as it may be.
_CLOSE_ENOUGH = 0.1  # [V]


def parts(design: Design) -> Iterator[CommissioningStep]:
    """Yield what is read off the parts."""
    schedule = design.protection
    if schedule is None:
        return
    for fuse in schedule.fuses:
        if fuse.size is None or fuse.voltage is None or fuse.interrupting is None:
            continue  # no design that works leaves one open
        name = slug(fuse.place)
        yield _PARTS.reads(
            f"{name}_rating",
            f"Fuse: {fuse.place}",
            f"Read the rating off the print of each ({fuse.count} in all).",
            "A larger one guards nothing, a smaller one melts in use.",
            kind=CURRENT,
            low=fuse.size,
            high=fuse.size,
        )
        yield _PARTS.asks(
            f"{name}_print",
            f"Fuse: {fuse.place}",
            f"The print says {say_up(fuse.voltage.value, 'V')} DC or more, and at that voltage an "
            f"interrupting rating of {say_up(fuse.interrupting.value, 'A')} or more.",
            "One that cannot break the short burns instead of opening. An AC rating says nothing.",
        )
    circuits = {circuit.place: circuit for circuit in schedule.circuits}
    for cable in schedule.cables:
        if cable.run is None:
            continue
        run, circuit = cable.run, circuits.get(cable.place)
        place = cable.place if circuit is None else f"{circuit.source} to {circuit.end}"
        size = run.conductor.size if run.parallel == 1 else f"{run.parallel} × {run.conductor.size}"
        yield _PARTS.asks(
            f"{slug(place)}_cable",
            f"Cable: {place}",
            f"It is {size} of copper, as its print says, or thicker.",
        )
        yield _PARTS.reads(
            f"{slug(place)}_length",
            f"Cable: {place}",
            "Measure one way of the longest.",
            "A longer one loses more, and lets less flow into a short.",
            kind=LENGTH,
            high=float(run.length.m),
        )
    yield _PARTS.asks(
        "joints",
        "Every joint",
        "Crimped with the tool of its lug, pulled at, tightened to its maker's torque, and marked "
        "with a line across bolt and lug.",
        "A loose joint is the usual beginning of a fire; the line shows when it has moved.",
    )
    for need in schedule.needs:
        if need.must:
            yield _PARTS.asks(
                slug(need.what),
                f"{need.what[0].upper()}{need.what[1:]}",
                f"It is as it must be: {'; '.join(need.must)}.",
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
    )
    if targets is not None:
        yield _MODULES.reads(
            "cell_spread",
            "Cell groups at rest",
            "After a day at rest: the highest cell group minus the lowest, over all modules.",
            "A group that lies apart ends every charge and discharge early, or is failing.",
            kind=VOLTAGE,
            high=2 * float(targets.top_guard.m),
        )
    n = pack.cells_in_series
    yield _MODULES.reads(
        "lowest_string",
        "Each string, alone",
        "At the open ends of each string, with the meter's red lead on its plus: the lowest "
        "voltage. It must be positive at every string.",
        "A string the wrong way round, joined to the others, is a dead short of the whole pack.",
        kind=VOLTAGE,
        low=n * float(pack.module.least.m),
        high=n * float(pack.module.highest.m),
    )
    if pack.strings > 1:
        bound = _apart(design)
        yield _MODULES.reads(
            "string_spread",
            "Strings against one another",
            "The highest string minus the lowest, just before they are joined.",
            "The difference drives a current from string to string the moment they are joined.",
            kind=VOLTAGE,
            high=None if bound is None else bound.value,
            worked=bound,
        )
    yield _insulation(pack.earthed)


def _insulation(earthed: str | None) -> CommissioningStep:
    if earthed in {"none", None}:
        todo = (
            "With the strings joined and all devices off: no steady voltage between either pole "
            "and earthed metal. A meter may show some at first and creeps towards zero."
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
    )


def _apart(design: Design) -> Worked | None:
    """Return how far strings may lie apart when they are joined; None where nobody can tell."""
    pack, policy = design.build.pack, design.build.policy
    module = pack.module
    if module.resistance is None or module.charge_limit is None:
        return None
    current, ohms = float(module.charge_limit.m), float(module.resistance.m)
    flows = 2 * current * pack.modules_in_series * ohms * float(policy.ohmic_part.m)
    return Worked(
        name="strings apart when they are joined, at most",
        value=min(_CLOSE_ENOUGH, flows),
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
            known(
                "R", "10 s resistance of a module", module.resistance, module.basis.of("resistance")
            ),
            known("k_low", means("ohmic_part"), policy.ohmic_part, policy.basis.of("ohmic_part")),
        ),
        source="common-practice",
    )
