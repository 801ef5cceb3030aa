"""What an attempt to break the settings is held against: the cells, and what must catch it."""

from __future__ import annotations

import attrs

from evpack.base.basis import Basis
from evpack.base.finding import Finding, Rule, Severity, at_least, at_most, state, unknown
from evpack.base.fitted import NOT_FITTED
from evpack.base.units import CURRENT, TEMPERATURE, VOLTAGE, Quantity
from evpack.base.wording import say
from evpack.describe.pack import Monitoring
from evpack.outcome.design import Design
from evpack.outcome.trial import TrialRun
from evpack.simulate.sharing_rules import softened

SETTLED = Rule(
    key="trial.settled",
    says="Only settings that are settled can be tried; what is open may break any cell.",
    source="common-practice",
)
FULL = Rule(
    key="trial.full",
    says="With every error at its worst, a charge may bring no cell above what it stands.",
    source="cell-limits",
    kind=VOLTAGE,
)
EMPTY = Rule(
    key="trial.empty",
    says="With every error at its worst, a discharge may bring no cell below what it stands.",
    source="cell-limits",
    kind=VOLTAGE,
)
COLD = Rule(
    key="trial.cold",
    says="Chargers do not know that cells are frozen; something must keep them from charging.",
    source="cell-limits",
    kind=TEMPERATURE,
)
OUT = Rule(
    key="trial.out",
    says="With one string out, the others take its part of the charge.",
    source="equipment-manual",
    kind=CURRENT,
)
STUCK = Rule(
    key="trial.stuck",
    says="Where a device never stops, the cell monitoring must open before a cell comes to harm.",
    source="cell-limits",
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


def stuck(
    design: Design, run: TrialRun, cut: float, *, charging: bool, when: str
) -> tuple[Finding, ...]:
    """Judge a device that never stops: the cut of the cell monitoring, and whether it acts.

    Parameters
    ----------
    cut : float
        At which the cell monitoring opens, as the sheet has it [V].
    when : str
        When it opens, in words.
    """
    judge = at_most if charging else at_least
    side, way = ("high", "charge") if charging else ("low", "discharge")
    stands = run.limit
    # A cut within what a cell stands, passed for the seconds that it takes to open on a discharge,
    # is no harm yet; on a charge it is.
    late = not charging and cut >= stands
    limit = judge(
        STUCK,
        run.reached.quantity,
        VOLTAGE.of(stands),
        about=run.name,
        otherwise=Severity.CAUTION if late else Severity.STOP,
        value_name=f"the {'highest' if charging else 'lowest'} cell once the monitoring has opened",
        limit_name=f"the {'highest' if charging else 'least'} voltage of a cell",
        remedy=f"Draw the {side} cut of the cell monitoring in.",
    )
    return (
        limit,
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


def one_out(design: Design, busiest: Quantity | None, limit: Quantity | None) -> Finding:
    """Judge what each remaining string is charged with once one is out."""
    about = "a charge with one string out"
    found = at_most(
        OUT,
        busiest,
        limit,
        about=about,
        otherwise=Severity.STOP,
        value_name="the charge current of the busiest string",
        limit_name="the charge limit of a module",
    )
    if found.severity is not Severity.STOP:
        return softened(found)
    return attrs.evolve(
        catches(
            design,
            OUT,
            about,
            ("watches_each_string", "stops_charge"),
            f"{found.detail} Only the over-current cut of each string stands in its way.",
        ),
        value=found.value,
        limit=found.limit,
        margin=found.margin,
    )


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
