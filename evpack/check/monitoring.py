"""Is every cell watched, and can the watcher act?"""

from __future__ import annotations

from evpack.base.finding import Finding, Rule, Severity, Standing, state, unknown
from evpack.base.fitted import NOT_FITTED
from evpack.describe.build import Build
from evpack.describe.pack import Monitoring

EVERY_CELL = Rule(
    key="monitoring.every-cell",
    says="Every cell group must be watched: the pack's voltage cannot show one bad cell.",
    source="common-practice",
    stands=Standing.BOUND,
    clause="IEC 62619, clause 8 (from memory): no cell may leave its limits",
)
ACTS = Rule(
    key="monitoring.acts",
    says="The cell monitoring must be able to stop the charge and the discharge by itself.",
    source="common-practice",
    stands=Standing.BOUND,
    clause="IEC 62619, clause 8 (from memory): no cell may leave its limits",
)
TEMPERATURE = Rule(
    key="monitoring.temperature",
    says="Cell temperatures must be watched.",
    source="common-practice",
    stands=Standing.BOUND,
    clause="IEC 62619, clause 8 (from memory): cell temperature is watched",
)
COLD_BLOCK = Rule(
    key="monitoring.cold-block",
    says="Where cells can get cold, charging below their limit must be blocked.",
    source="cell-limits",
    stands=Standing.BOUND,
    clause="print of the cell: charge temperature",
)
EACH_STRING = Rule(
    key="monitoring.each-string",
    says="With strings in parallel, the cells of every string must be watched.",
    source="common-practice",
    stands=Standing.BOUND,
    clause="IEC 62619, clause 8 (from memory): no cell may leave its limits",
)
BALANCE = Rule(
    key="monitoring.balance",
    says="Without balancing the cells drift apart, and the pack loses what the weakest cannot "
    "give.",
    source="common-practice",
    stands=Standing.QUESTION,
)


# How far above the limit [K] a place must stay to do without a block. Common practice, no source.
_COLD_MARGIN = 5.0


def monitoring(build: Build) -> tuple[Finding, ...]:
    """Return the findings on the cell monitoring."""
    watcher = build.pack.monitoring
    if watcher is NOT_FITTED:
        return (
            state(
                EVERY_CELL,
                Severity.STOP,
                about="cell monitoring",
                detail="There is none. One cell can be driven to destruction while the pack's "
                "voltage looks right.",
                remedy="Fit cell monitoring that watches every cell group and can stop charge and "
                "discharge.",
            ),
        )
    if watcher is None:
        return (
            unknown(
                EVERY_CELL,
                about="cell monitoring",
                detail="Nobody said how the cells are watched.",
                remedy="Describe it in the build sheet under [monitoring].",
            ),
        )
    return (
        _needed(
            EVERY_CELL,
            watcher,
            has=watcher.every_cell,
            field="every_cell",
            what="watch every cell group",
        ),
        _needed(
            ACTS,
            watcher,
            has=watcher.stops_charge,
            field="stops_charge",
            what="stop the charge by itself",
        ),
        _needed(
            ACTS,
            watcher,
            has=watcher.stops_discharge,
            field="stops_discharge",
            what="stop the discharge by itself",
        ),
        _needed(
            TEMPERATURE,
            watcher,
            has=watcher.temperatures,
            field="temperatures",
            what="watch cell temperatures",
        ),
        _cold_block(build, watcher),
        *(
            (
                _needed(
                    EACH_STRING,
                    watcher,
                    has=watcher.watches_each_string,
                    field="watches_each_string",
                    what="watch the cells of each string",
                ),
            )
            if build.pack.strings > 1
            else ()
        ),
        _needed(
            BALANCE,
            watcher,
            has=watcher.balances,
            field="balances",
            what="balance the cells",
            lacking=Severity.CAUTION,
            unsaid=Severity.CAUTION,
        ),
    )


def _needed(
    rule: Rule,
    watcher: Monitoring,
    *,
    has: bool | None,
    field: str,
    what: str,
    lacking: Severity = Severity.STOP,
    unsaid: Severity = Severity.UNKNOWN,
) -> Finding:
    if has is None:
        return state(
            rule,
            unsaid,
            about=watcher.name,
            detail=f"Nobody said whether it can {what}.",
            remedy=f"Find out and say {field} = true or false under [monitoring].",
        )
    if has:
        return state(rule, Severity.OK, about=watcher.name, detail=f"It can {what}.")
    return state(
        rule,
        lacking,
        about=watcher.name,
        detail=f"It cannot {what}.",
        remedy=f"Fit cell monitoring that can {what}."
        if lacking is Severity.STOP
        else "Plan to check and balance by hand, often.",
    )


def _cold_block(build: Build, watcher: Monitoring) -> Finding:
    limit = build.pack.module.chemistry.limits.charge_coldest
    coldest = build.site.coldest
    if watcher.blocks_cold_charge:
        return state(
            COLD_BLOCK, Severity.OK, about=watcher.name, detail="It blocks charging in the cold."
        )
    if coldest is not None and coldest.m >= limit.m + _COLD_MARGIN:
        return state(
            COLD_BLOCK,
            Severity.NOTE,
            about=watcher.name,
            detail=f"It is not said to block charging in the cold; the cells stay at {coldest.m:g} "
            f"°C or more, above the limit of {limit.m:g} °C.",
        )
    if watcher.blocks_cold_charge is None or coldest is None:
        return unknown(
            COLD_BLOCK,
            about=watcher.name,
            detail="Nobody said whether charging is blocked in the cold, or how cold the cells "
            "get.",
            remedy="Say blocks_cold_charge under [monitoring] and coldest under [site].",
        )
    return state(
        COLD_BLOCK,
        Severity.STOP,
        about=watcher.name,
        detail=f"The cells get as cold as {coldest.m:g} °C, too near the limit of {limit.m:g} °C "
        "or below it, and nothing blocks charging there.",
        remedy="Fit a cold-charge block, or heat the place so that the cells never freeze.",
    )
