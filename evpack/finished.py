"""The finished pack: how it is proven, and what its log shows, held against the design."""

from __future__ import annotations

from pathlib import Path

from evpack.commission.plan import held_against, plan_of
from evpack.commission.steps import bus_resistance
from evpack.describe.checked import need
from evpack.load.as_built import read_as_built, record_text
from evpack.match.after import compare
from evpack.outcome.commissioning import AsBuilt, AsBuiltCheck, Came, CommissioningPlan
from evpack.outcome.design import Decision, Design
from evpack.outcome.matching import Afterwards
from evpack.outcome.pack_log import PackLog


def compare_log(design: Design, log: PackLog) -> Afterwards:
    """Hold the log of a finished pack against its design.

    Parameters
    ----------
    design : Design
        What was predicted: resistance over 10 s with links and leads up to the bar, where a
        pack's meter sits; capacity; the share of the busiest string.
    log : PackLog
        As `read_pack_log` returns it.

    Returns
    -------
    Afterwards
        What the log shows, with findings where it departs; never raises for a poor pack.
    """
    need("compare_log", design, Design)
    need("compare_log", log, PackLog)
    pack, shared = design.build.pack, design.sharing
    return compare(
        log,
        pack.module.chemistry,
        pack.cells_in_series,
        resistance=bus_resistance(design),
        capacity=float(pack.capacity.m),
        share=None if shared is None else shared.worst.value / shared.even.value,
    )


def commissioning_plan(decision: Decision) -> CommissioningPlan:
    """Return what is to be proven before a pack is used, in the order of safe work.

    Parameters
    ----------
    decision : Decision
        As `evpack.decide` returns it. For one that holds the design up the plan has no step:
        nothing of it may be switched on.
    """
    need("commissioning_plan", decision, Decision)
    return plan_of(decision)


def check_as_built(plan: CommissioningPlan, record: str | Path | AsBuilt) -> AsBuiltCheck:
    """Hold an as-built record against its plan.

    Parameters
    ----------
    plan : CommissioningPlan
        As `commissioning_plan` returns it.
    record : path or AsBuilt
        A filled record: `as_built_record` gives the text of one to fill in.

    Returns
    -------
    AsBuiltCheck
        Each step with what was noted and how it came out. What nobody noted is not proven, nor is
        what was asked in another way when the record was begun.

    Raises
    ------
    DataError
        A record that cannot be read.
    """
    need("check_as_built", plan, CommissioningPlan)
    if not isinstance(record, AsBuilt):
        record = read_as_built(record, plan)
    return held_against(plan, record)


def as_built_record(plan: CommissioningPlan, *, begun: str | Path | AsBuilt | None = None) -> str:
    """Return the text of an as-built record to fill in: a TOML file with a blank for each step.

    Parameters
    ----------
    plan : CommissioningPlan
        As `commissioning_plan` returns it.
    begun : path or AsBuilt, optional
        A record of an earlier state of the design. What it proves of this one too is filled in;
        the rest is blank, and so is who vouches for it.
    """
    need("as_built_record", plan, CommissioningPlan)
    if begun is None:
        return record_text(plan)
    proven = check_as_built(plan, begun).of(Came.PROVEN)
    return record_text(plan, {p.step.key: p.written for p in proven if p.written is not None})
