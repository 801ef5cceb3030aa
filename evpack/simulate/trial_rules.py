"""What an attempt to break the settings is held against: the cells, and what must catch it."""

from __future__ import annotations

import attrs

from evpack.base.basis import Basis
from evpack.base.finding import Finding, Rule, Severity, Standing, at_least, at_most, state, unknown
from evpack.base.fitted import NOT_FITTED
from evpack.base.units import CURRENT, TEMPERATURE, VOLTAGE
from evpack.base.wording import say
from evpack.describe.pack import Monitoring
from evpack.kernels.cold import charge_rate_limit
from evpack.outcome.design import Design
from evpack.outcome.runs import TrialRun
from evpack.simulate.sharing_rules import softened

SETTLED = Rule(
    key="trial.settled",
    says="Only settings that are settled can be tried; what is open may break any cell.",
    source="common-practice",
    stands=Standing.QUESTION,
)
FULL = Rule(
    key="trial.full",
    says="With every error at its worst, a charge may bring no cell above what it stands.",
    source="cell-limits",
    stands=Standing.BOUND,
    clause="print of the cell: highest voltage",
    kind=VOLTAGE,
)
EMPTY = Rule(
    key="trial.empty",
    says="With every error at its worst, a discharge may bring no cell below what it stands.",
    source="cell-limits",
    stands=Standing.BOUND,
    clause="print of the cell: least voltage",
    kind=VOLTAGE,
)
COLD = Rule(
    key="trial.cold",
    says="Chargers do not know that cells are frozen; something must keep them from charging.",
    source="cell-limits",
    stands=Standing.BOUND,
    clause="print of the cell: charge temperature",
    kind=TEMPERATURE,
)
COLD_RATE = Rule(
    key="trial.cold-rate",
    says="Cold cells take little current; chargers do not know how cold the cells are.",
    source="common-practice",
    stands=Standing.GUARD,
    kind=CURRENT,
)
WEAK = Rule(
    key="trial.weak",
    says="A module weaker than the others is empty before them, which the voltage of the pack "
    "does not show: only what watches every cell can see it.",
    source="cell-limits",
    stands=Standing.BOUND,
    clause="print of the cell: least voltage",
    kind=VOLTAGE,
)
OUT = Rule(
    key="trial.out",
    says="With one string out, the others take its part of the current.",
    source="equipment-manual",
    stands=Standing.BOUND,
    clause="print of the module: its currents",
    kind=CURRENT,
)
STUCK = Rule(
    key="trial.stuck",
    says="Where a device never stops, the cell monitoring must open before a cell comes to harm.",
    source="cell-limits",
    stands=Standing.BOUND,
    clause="print of the cell: its voltages",
    kind=VOLTAGE,
)

_FIRST_SETTLE = "Settle it: the findings of the design say what is missing."


def unsettled(about: str, what: str) -> Finding:
    """Return the finding for what the sheet does not settle."""
    return unknown(
        SETTLED,
        about=about,
        detail=f"{what} is not settled; nothing was tried with it.",
        remedy=_FIRST_SETTLE,
    )


def settled(about: str, detail: str) -> Finding:
    """Return the pass for what was read off the sheet."""
    return state(SETTLED, Severity.OK, about=about, detail=detail)


def charged(run: TrialRun, assumed: tuple[str, ...]) -> Finding:
    """Judge the highest cell of a charge."""
    return softened(
        at_most(
            FULL,
            run.reached.quantity,
            VOLTAGE.of(run.limit),
            about=run.name,
            otherwise=Severity.STOP,
            value_name="the highest cell",
            limit_name="the highest voltage of a cell",
            remedy="Do not use these settings: lower the charge voltage.",
            assumed=assumed,
        )
    )


def discharged(run: TrialRun, assumed: tuple[str, ...]) -> Finding:
    """Judge the lowest cell of a discharge."""
    return softened(
        at_least(
            EMPTY,
            run.reached.quantity,
            VOLTAGE.of(run.limit),
            about=run.name,
            otherwise=Severity.STOP,
            value_name="the lowest cell",
            limit_name="the least voltage of a cell",
            remedy="Do not use these settings: raise the cut-off.",
            assumed=assumed,
        )
    )


def weak(
    design: Design, run: TrialRun, cut: float | None, *, charging: bool, assumed: tuple[str, ...]
) -> Finding:
    """Judge the worst cell where one module is weak: past its limit, what must catch it.

    Parameters
    ----------
    cut : float or None
        At which the cell monitoring opens, as the sheet has it [V].
    """
    side, way = ("high", "charge") if charging else ("low", "discharge")
    worst, limit = ("highest", "highest") if charging else ("lowest", "least")
    found = (at_most if charging else at_least)(
        WEAK,
        run.reached.quantity,
        VOLTAGE.of(run.limit),
        about=run.name,
        otherwise=Severity.STOP,
        value_name=f"the {worst} cell",
        limit_name=f"the {limit} voltage of a cell",
        assumed=assumed,
    )
    if found.severity is not Severity.STOP:
        return softened(found)
    at = "" if cut is None else f", {say(cut, 'V/cell')},"
    return attrs.evolve(
        catches(
            design,
            WEAK,
            run.name,
            ("every_cell", f"stops_{way}"),
            f"{found.detail} Only the {side} cut of the cell monitoring{at} stands in its way.",
        ),
        value=found.value,
        limit=found.limit,
        margin=found.margin,
    )


def stuck(
    design: Design,
    run: TrialRun,
    cut: float,
    *,
    charging: bool,
    opened: bool | None,
    when: str,
    assumed: tuple[str, ...],
) -> tuple[Finding, ...]:
    """Judge a device that never stops: the cut of the cell monitoring, and whether it acts.

    Parameters
    ----------
    cut : float
        At which the cell monitoring opens, as the sheet has it [V].
    opened : bool or None
        Whether it opens at all; where it does not, or nobody said, the run went on to its end.
    when : str
        When it opens, in words.
    """
    judge = at_most if charging else at_least
    side, way = ("high", "charge") if charging else ("low", "discharge")
    stands = run.limit
    # A cut within what a cell stands, passed for the seconds that it takes to open on a discharge,
    # is no harm yet; on a charge it is.
    late = bool(opened) and not charging and cut >= stands
    worst = "highest" if charging else "lowest"
    limit = judge(
        STUCK,
        run.reached.quantity,
        VOLTAGE.of(stands),
        about=run.name,
        otherwise=Severity.CAUTION
        if late
        else Severity.UNKNOWN
        if opened is None
        else Severity.STOP,
        value_name=f"the {worst} cell once the monitoring has opened"
        if opened
        else f"the {worst} cell, with nothing known that opens"
        if opened is None
        else f"the {worst} cell, with nothing that opens",
        limit_name=f"the {'highest' if charging else 'least'} voltage of a cell",
        remedy=f"Draw the {side} cut of the cell monitoring in."
        if opened
        else f"Fit cell monitoring that watches every cell and stops the {way}, and say so under "
        "[monitoring] in the build sheet.",
        assumed=assumed,
    )
    # How far a curve goes on past full and empty is a guess: with nothing that opens, a cell that
    # the run leaves inside is no pass.
    kept = (softened(limit),) if opened or limit.holds else ()
    return (
        *kept,
        catches(
            design,
            STUCK,
            run.name,
            ("every_cell", f"stops_{way}"),
            f"Only the {side} cut of the cell monitoring, {say(cut, 'V/cell')}, stands between a "
            f"device that never stops and the cells. {when}.",
        ),
    )


def cold(design: Design) -> Finding:
    """Judge charging at the coldest that the cells get."""
    coldest = design.build.site.coldest
    least = design.build.pack.module.chemistry.limits.charge_coldest
    found = at_least(
        COLD,
        coldest,
        least,
        about="a charge in the cold",
        otherwise=Severity.STOP,
        value_name="the coldest that the cells get",
        limit_name="the coldest at which they may be charged",
        ask="State the coldest that the cells get under [site].",
    )
    if found.severity is not Severity.STOP:
        return found
    return attrs.evolve(
        catches(
            design,
            COLD,
            "a charge in the cold",
            ("temperatures", "blocks_cold_charge"),
            f"{found.detail} Only the block of the cell monitoring stands between the chargers "
            "and frozen cells.",
        ),
        value=found.value,
        limit=found.limit,
        margin=found.margin,
    )


def cold_rate(design: Design, amps: float | None, assumed: tuple[str, ...]) -> tuple[Finding, ...]:
    """Judge what the chargers give at the coldest; below what may be charged `cold` tells all."""
    site, pack = design.build.site, design.build.pack
    limits, celsius = pack.module.chemistry.limits, site.coldest
    if celsius is not None and celsius.m < limits.charge_coldest.m:
        return ()
    cold = None if celsius is None else float(celsius.m)
    most = None if cold is None else charge_rate_limit(cold) * float(pack.capacity.m)
    found = at_most(
        COLD_RATE,
        None if amps is None else CURRENT.of(amps),
        None if most is None else CURRENT.of(most),
        about="a charge in the cold",
        otherwise=Severity.CAUTION,
        value_name="the charge current of all chargers as set",
        limit_name="what cells take at their coldest"
        if cold is None
        else f"what cells at {say(cold, '°C')} take",
        remedy="Before it gets that cold, enter the charge current limit in the cold that the "
        "settings sheet names.",
        ask="State the coldest that the cells get under [site], and settle what every charger "
        "gives.",
        assumed=(*assumed, "capacity of the modules")
        if pack.module.basis.of("capacity") is Basis.ASSUMED
        else assumed,
    )
    return (softened(found),)


def one_out(
    design: Design, about: str, busiest: float | None, *, charging: bool, assumed: tuple[str, ...]
) -> Finding:
    """Judge what the busiest of the remaining strings carries once one is out [A]."""
    way = "charge" if charging else "discharge"
    module = design.build.pack.module
    limit = module.charge_limit if charging else module.discharge_limit
    if limit is not None and module.basis.of(f"{way}_limit") is Basis.ASSUMED:
        assumed = (*assumed, f"{way} limit of a module")
    found = at_most(
        OUT,
        None if busiest is None else CURRENT.of(busiest),
        limit,
        about=about,
        otherwise=Severity.STOP,
        value_name=f"the {way} current of the busiest string, unlike modules reckoned in",
        limit_name=f"the {way} limit of a module",
        ask=f"Find out the {way} limit of the modules, and what the "
        f"{'chargers give' if charging else 'inverters draw at full output'}.",
        assumed=assumed,
    )
    if found.severity is not Severity.STOP:
        return softened(found)
    return attrs.evolve(
        catches(
            design,
            OUT,
            about,
            ("watches_each_string", f"stops_{way}"),
            f"{found.detail} Only the over-current cut of each string stands in its way.",
        ),
        value=found.value,
        limit=found.limit,
        margin=found.margin,
    )


def opens(design: Design, *, charging: bool) -> bool | None:
    """Return whether the cell monitoring opens at its cut; None is what nobody said."""
    watcher = design.build.pack.monitoring
    if watcher is None or watcher is NOT_FITTED:
        return None if watcher is None else False
    assert isinstance(watcher, Monitoring)  # noqa: S101  (told to the type checker)
    can = (watcher.every_cell, watcher.stops_charge if charging else watcher.stops_discharge)
    return False if False in can else None if None in can else True


def catches(design: Design, rule: Rule, about: str, can: tuple[str, ...], detail: str) -> Finding:
    """Return whether the cell monitoring does what it takes; what nobody said is unknown."""
    watcher = design.build.pack.monitoring
    words = " and ".join(field.replace("_", " ") for field in can)
    if watcher is None or watcher is NOT_FITTED:
        answers: tuple[bool | None, ...] = (None if watcher is None else False,)
        assumed: tuple[str, ...] = ()
    else:
        assert isinstance(watcher, Monitoring)  # noqa: S101  (told to the type checker)
        answers = tuple(getattr(watcher, field) for field in can)
        assumed = tuple(
            f"cell monitoring: {field.replace('_', ' ')}"
            for field in can
            if watcher.basis.of(field) is Basis.ASSUMED
        )
    if False in answers:
        return state(
            rule,
            Severity.STOP,
            about=about,
            detail=f"{detail} It does not: {words}.",
            remedy="Fit cell monitoring that does.",
        )
    if None in answers:
        return unknown(
            rule,
            about=about,
            detail=f"{detail} Nobody said whether it can: {words}.",
            remedy="Find out and say it under [monitoring] in the build sheet.",
        )
    return state(
        rule,
        Severity.CAUTION,
        about=about,
        detail=detail,
        remedy="Prove that it trips before the pack is used: move its threshold and watch it open.",
        assumed=assumed,
    )
