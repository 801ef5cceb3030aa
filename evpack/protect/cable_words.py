"""The numbers of a cable's tests, each with its formula. They are worked out in `sizing.py`."""

from __future__ import annotations

import attrs

from evpack.base.basis import Basis, weakest
from evpack.base.brief import brief
from evpack.base.units import CURRENT, LET_THROUGH, SHARE
from evpack.base.wording import COUNT, number
from evpack.base.worked import Input, Worked, count, from_worked
from evpack.describe.cabling import Run
from evpack.describe.safeguards import FuseCatalogue
from evpack.kernels.conductor import ALPHA_75
from evpack.outcome.groundwork import Groundwork
from evpack.outcome.protection import ARRAY, Circuit, FuseChoice
from evpack.protect.bounds import clause_factor, run_bound
from evpack.protect.duties import rippling
from evpack.protect.sizing import (
    CARRIES,
    DROP,
    FED,
    GUARDED,
    PARALLEL_FROM,
    SURGE,
    WITHSTANDS,
    Duty,
    LetThrough,
)

_COLUMN = 75.0  # the temperature that runs hold their resistance at [°C]
_FOR_HOURS = 1.25  # NEC 690.8(B)


@attrs.frozen(kw_only=True)
class Cable:
    """A cable that is described, on its circuit, with what it has to do."""

    place: str
    about: str
    key: str
    count: int
    run: Run
    circuit: Circuit
    needed: Worked | None
    volts: Worked | None
    fuse: FuseChoice | None
    duty: Duty

    __repr__ = brief


def needed_of(ground: Groundwork, circuit: Circuit) -> Worked | None:
    """Return what the cable of a circuit must carry by the rule set [A]; None is unknown.

    By NEC 125 % of a continuous current (of an array's in strong sun), by IEC the current itself.
    """
    if circuit.asked is None:
        return None
    array, rules = circuit.kind == ARRAY, ground.build.site.rules
    current = from_worked("I", circuit.asked)
    factors = []
    if rules == "nec":
        means = "1.25 for hours of it" if array else "125 % of a continuous current"
        factors.append(Input("k_c", means, clause_factor(rules), "", Basis.COMPUTED))
    return Worked(
        name="what it must carry",
        kind=CURRENT,
        formula=" · ".join(("{I}", *(f"{{{factor.symbol}}}" for factor in factors))),
        inputs=(current, *factors),
        source=("nec-690.8" if array else "nec-706") if rules == "nec" else "iec-60364-4-43",
    )


def value_of(
    ground: Groundwork, cable: Cable, name: str, value: float, catalogue: FuseCatalogue
) -> Worked:
    """Return the value of a test, explained."""
    if name == CARRIES:
        assert cable.needed is not None  # noqa: S101  (the value is its own)
        return cable.needed
    if name in {DROP, SURGE}:
        return _drop(ground, cable, surging=name == SURGE)
    if name == GUARDED:
        return _guard(cable, value, catalogue)
    if name == FED:
        return _fed(cable, catalogue)
    if name == WITHSTANDS:
        assert cable.duty.laid is not None  # noqa: S101  (the value came from it)
        return _passed(cable.duty.laid, catalogue)
    return Worked(
        name="cross-section against the least that may be laid in parallel",
        kind=SHARE,
        formula="{S} / {S_least}",
        inputs=(
            Input("S", "cross-section in mm²", cable.run.conductor.area, COUNT, _basis(cable)),
            Input("S_least", "about that of 1/0 AWG in mm²", PARALLEL_FROM, COUNT, Basis.CHOSEN),
        ),
        source="nec-310.10",
    )


def limit_of(ground: Groundwork, cable: Cable, name: str) -> Worked:
    """Return the limit of a test, explained."""
    if name == CARRIES:
        return _loadable(ground, cable)
    # By NEC what several fuses feed has no next standard size: that is for one (240.4(B)).
    summed = name == FED and cable.duty.tap == 1 and cable.circuit.held.rules == "nec"
    if summed or (name == GUARDED and cable.fuse is None):
        return _ampacity(cable)
    if name in {GUARDED, FED}:
        bound = run_bound(cable.run, "highest fuse that guards it", "I_z", cable.circuit.held)
        assert bound is not None  # noqa: S101  (there is a run)
        return bound if name == GUARDED or cable.duty.tap == 1 else _tapped(ground, cable)
    if name == WITHSTANDS:
        wire = cable.run.conductor
        means = (
            f"what one conductor stands for 1 s: k = {number(wire.withstand)} A√s/mm², times "
            f"{number(wire.area)} mm²"
        )
        return Worked(
            name="what it stands",
            kind=LET_THROUGH,
            formula="({I_1s})^2 · {t_1}",
            inputs=(
                Input("I_1s", means, wire.withstand * wire.area, "A", _basis(cable)),
                Input("t_1", "one second", 1.0, "s", Basis.COMPUTED),
            ),
            source="iec-60364-4-43",
        )
    if name in {DROP, SURGE}:
        field = _guard_of(cable, name)
        return Worked(
            name="most that may be lost in it",
            kind=SHARE,
            formula="{most}",
            inputs=(ground.guard("most", field),),
            source="voltage-drop" if field == "array_drop" else "common-practice",
        )
    return Worked(
        name="the least size itself",
        kind=SHARE,
        formula="{S_least} / {S_least}",
        inputs=(
            Input("S_least", "about that of 1/0 AWG in mm²", PARALLEL_FROM, COUNT, Basis.CHOSEN),
        ),
        source="nec-310.10",
    )


def _guard_of(cable: Cable, name: str) -> str:
    if name == SURGE:
        return "surge_drop"
    return "array_drop" if cable.circuit.kind == ARRAY else "cable_drop"


def _basis(cable: Cable) -> Basis:
    return cable.run.basis.of("conductor")


def _ampacity(cable: Cable) -> Worked:
    run = cable.run
    one = Input(
        "I_1",
        f"ampacity of {run.conductor.size} ({run.conductor.conditions})",
        run.conductor.ampacity,
        "A",
        _basis(cable),
    )
    formula, inputs = "{I_1}", [one]
    if run.parallel > 1:
        formula = "{I_1} · {p}"
        inputs.append(count("p", "conductors in parallel", run.parallel))
        if run.shortest is not None:
            short, long = float(run.shortest.m), float(run.length.m)
            formula = "{I_1} · (1 + ({p} − 1) · {l_s} / {l})"
            inputs.append(Input("l_s", "the shortest", short, "m", run.basis.of("shortest")))
            inputs.append(Input("l", "the longest", long, "m", run.basis.of("length")))
    return Worked(
        name="ampacity",
        kind=CURRENT,
        formula=formula,
        inputs=tuple(inputs),
        source=run.conductor.ampacity_source,
    )


def _loadable(ground: Groundwork, cable: Cable) -> Worked:
    """Explain what a conductor may be loaded with; by NEC its terminals have a word too."""
    if ground.build.site.rules != "nec":
        return _ampacity(cable)
    wire, ampacity = cable.run.conductor, float(cable.run.ampacity.m)
    alone = wire.ampacity if wire.plain is None else wire.plain
    marked = Input(
        "I_t",
        "the column of its terminals, without correction",
        alone * ampacity / wire.ampacity,
        "A",
        _basis(cable),
    )
    carries = Input("I_z", f"its ampacity ({wire.conditions})", ampacity, "A", _basis(cable))
    factor = Input("k_c", "125 % of a continuous current", clause_factor("nec"), "", Basis.COMPUTED)
    return Worked(
        name="what it may be loaded with",
        kind=CURRENT,
        formula="min({I_t}, {k_c} · {I_z})",
        inputs=(marked, factor, carries),
        source="nec-310.16",
    )


def _fed(cable: Cable, catalogue: FuseCatalogue) -> Worked:
    """Explain what the fuses of the other strings let into a lead together."""
    fuse = cable.duty.laid
    assert fuse is not None and fuse.size is not None  # noqa: PT018, S101  (the value came from it)
    return Worked(
        name="fuses of all other strings together",
        kind=CURRENT,
        formula="{N_o} · {I_n}",
        inputs=(
            count("N_o", "other strings", fuse.others),
            Input("I_n", "rating of each one's fuse", fuse.size, "A", Basis.CHOSEN),
        ),
        source=catalogue.sizes_source,
    )


def _tapped(ground: Groundwork, cable: Cable) -> Worked:
    """Explain the more that a short and protected lead allows before it."""
    run, times = cable.run, cable.duty.tap
    wire = Input("I_z", "its ampacity", float(run.ampacity.m), "A", _basis(cable))
    tap = Input("k_tap", "for a short lead, protected all along", times, "", Basis.COMPUTED)
    return Worked(
        name="what may feed a short lead",
        kind=CURRENT,
        formula="{I_z} · {k_tap}",
        inputs=(wire, tap),
        source="nec-240.21" if ground.build.site.rules == "nec" else "iec-60364-4-43",
    )


def _guard(cable: Cable, value: float, catalogue: FuseCatalogue) -> Worked:
    if cable.fuse is not None:
        return Worked(
            name="its fuse",
            kind=CURRENT,
            formula="{I_n}",
            inputs=(Input("I_n", "rating of its fuse", value, "A", Basis.CHOSEN),),
            source=catalogue.sizes_source,
        )
    assert cable.circuit.carries is not None  # noqa: S101  (the value came from it)
    own, back = from_worked("I", cable.circuit.carries), cable.circuit.backfed
    return Worked(
        name="what can be fed into it",
        kind=CURRENT,
        formula="{I}" if back is None else "max({I}, {I_back})",
        inputs=(own,) if back is None else (own, from_worked("I_back", back)),
        source="nec-690.8",
    )


def _drop(ground: Groundwork, cable: Cable, *, surging: bool) -> Worked:
    """Explain a voltage drop: the conductor is as warm as what it carries for good makes it."""
    circuit, run, wire = cable.circuit, cable.run, cable.run.conductor
    assert circuit.carries is not None and cable.volts is not None  # noqa: PT018, S101
    basis, ripple, ohms = _basis(cable), rippling(circuit), float(run.resistance.m)
    warm = "{k_r} · {I} / {I_z}" if ripple else "{I} / {I_z}"
    current, more = "{I}", list[Input]()
    if surging:
        assert circuit.surge is not None  # noqa: S101  (the value came from it)
        current, more = "{I_s}", [from_worked("I_s", circuit.surge)]
    return Worked(
        name="voltage drop on surge" if surging else "voltage drop",
        kind=SHARE,
        formula=f"{current} · {{R_75}} · (1 + {{α}} · ({{t_a}} + ({{t_m}} − {{t_a}}) · ({warm})^2 "
        "− {t_75})) / {V}",
        inputs=(
            *more,
            from_worked("I", circuit.carries),
            Input(
                *("R_75", "resistance there and back at 75 °C", ohms, "Ω"),
                weakest((basis, run.basis.of("length"))),
            ),
            Input("α", "rise of copper's resistance", ALPHA_75, "1/K", Basis.DATASHEET),
            Input("t_a", "temperature around it", wire.ambient, "°C", basis),
            Input("t_m", "temperature at its ampacity", wire.hottest, "°C", basis),
            *((ground.guard("k_r", "ripple"),) if ripple else ()),
            Input("I_z", "its ampacity", float(run.ampacity.m), "A", basis),
            Input("t_75", "where the resistance was read", _COLUMN, "°C", Basis.DATASHEET),
            from_worked("V", cable.volts),
        ),
        source=wire.resistance_source,
    )


def _passed(fuse: LetThrough, catalogue: FuseCatalogue) -> Worked:
    """Explain the most I²t that passes before the fuse has cleared."""
    assert fuse.current is not None  # noqa: S101  (the value came from it)
    formula, note = "({I_m})^2 · {t}", "A fuse passes less I²t at larger currents."
    inputs = [
        Input("I_m", "what melts its fuse in that time", fuse.current, "A", fuse.basis),
        Input("t", "in which it clears", fuse.seconds, "s", fuse.basis),
    ]
    if fuse.most:
        formula, note = "max(({I_m})^2 · {t}, {Q})", ""
        means = "most it lets through at the high end"
        inputs.append(Input("Q", means, fuse.most, "A²s", fuse.basis))
    name = "what its fuse lets through"
    if fuse.others > 1:
        formula = f"({{N_o}})^2 · {formula}"
        inputs.append(count("N_o", "other strings that feed it at once", fuse.others))
        name = "what the fuses of the other strings let into it"
        note = "Each of them passes its part, and the heat goes with the square of the sum."
    return Worked(
        name=name,
        kind=LET_THROUGH,
        formula=formula,
        inputs=tuple(inputs),
        source="common-practice" if fuse.basis is Basis.ASSUMED else catalogue.gates_source,
        note=note,
    )
