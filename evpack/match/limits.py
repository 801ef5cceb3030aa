"""The two limits of each measure that modules are graded by, in plain numbers."""

from __future__ import annotations

from collections.abc import Iterable

import attrs

from evpack.base.errors import DescriptionError, nearest
from evpack.base.finding import Finding, Rule, Severity, Standing, state, unknown
from evpack.base.units import RISE, SHARE, VOLTAGE, Kind
from evpack.describe.batch import Measure

STATED = Rule(
    key="limits.stated",
    says="A measure for which nobody gave limits passes no module.",
    source="common-practice",
    stands=Standing.BOUND,
    clause="the limits that modules are graded by",
)
USUAL = Rule(
    key="limits.usual",
    says="A limit that lets more modules pass than is usual must be meant.",
    source="common-practice",
    stands=Standing.GUARD,
)

KINDS: dict[str, Kind] = {
    "capacity": SHARE,
    "resistance": SHARE,
    "spread": VOLTAGE,
    "imbalance": VOLTAGE,
    "drift": VOLTAGE,
    "rise": RISE,
}
MORE_IS_BETTER = ("capacity",)


@attrs.frozen
class Limits:
    """Up to (or, for capacity, from) which a module is accepted, or accepted after a retest."""

    accept: float
    retest: float


def limits(measures: Iterable[Measure]) -> dict[str, Limits]:
    """Return the limits of each measure in its canonical unit.

    Raises
    ------
    DescriptionError
        For a measure that is not known, given twice, in a wrong unit, or the wrong way round.
    """
    found: dict[str, Limits] = {}
    for measure in measures:
        kind = KINDS.get(measure.key)
        if kind is None:
            raise DescriptionError(
                f"measure '{measure.key}' is not known{nearest(measure.key, KINDS)}"
            )
        if measure.key in found:
            raise DescriptionError(f"measure '{measure.key}' is given twice")
        factor = 1.0 if measure.unit == kind.unit else kind.spellings.get(measure.unit)
        if factor is None:
            raise DescriptionError(
                f"measure '{measure.key}': unit '{measure.unit}' is not known"
                f"{nearest(measure.unit, kind.spellings)}"
            )
        sign = -1.0 if measure.key in MORE_IS_BETTER else 1.0
        if not sign * measure.accept <= sign * measure.retest:
            raise DescriptionError(
                f"measure '{measure.key}': what is accepted ({measure.accept:g}) must be no looser "
                f"than what is accepted after a retest ({measure.retest:g})"
            )
        found[measure.key] = Limits(measure.accept * factor, measure.retest * factor)
    return found


def judged(given: Iterable[Measure], usual: Iterable[Measure]) -> tuple[Finding, ...]:
    """Find which measures have no limits, and which are looser than usual."""
    held, common = limits(given), limits(usual)
    missing = [key for key in KINDS if key not in held]
    loose = [
        key for key, limit in held.items() if key in common and _looser(key, limit, common[key])
    ]
    return (
        unknown(
            STATED,
            about="grades",
            detail=f"No limits are given for: {', '.join(missing)}.",
            remedy="Give both limits of it, or leave the measures out to have the usual ones.",
        )
        if missing
        else state(STATED, Severity.OK, about="grades", detail="Each measure has its two limits."),
        state(
            USUAL,
            Severity.CAUTION,
            about="grades",
            detail=f"Looser than is usual: {', '.join(loose)}.",
            remedy="Leave the measures out to have the usual limits back, or be sure why.",
        )
        if loose
        else state(USUAL, Severity.OK, about="grades", detail="No limit is looser than is usual."),
    )


def _looser(key: str, one: Limits, other: Limits) -> bool:
    sign = -1.0 if key in MORE_IS_BETTER else 1.0
    pairs = ((one.accept, other.accept), (one.retest, other.retest))
    return any(sign * (mine - usual) > 1e-9 * abs(usual) for mine, usual in pairs)
