"""What public rules let stand in the kind of place that the pack is built in."""

from __future__ import annotations

from collections.abc import Mapping

from evpack.base.finding import Finding, Rule, Severity, Standing, at_most, state, unknown
from evpack.base.fitted import NOT_FITTED
from evpack.base.units import ENERGY, VOLTAGE
from evpack.base.wording import say
from evpack.describe.site import (
    ENERGY_OF_A_UNIT,
    ENERGY_THERE,
    LISTING,
    PLACES,
    SCOPE,
    VOLTAGE_COVERED,
    VOLTAGE_OPEN,
    SiteLimit,
)
from evpack.outcome.groundwork import Groundwork

KIND = Rule(
    key="place.kind",
    says="Which rules hold, and how high a voltage they let stand, hangs on the kind of place.",
    source="site-rules",
    stands=Standing.QUESTION,
)
HIGHEST = Rule(
    key="place.voltage",
    says="In a home a pack may only have so many volts, and more where no live part can be "
    "reached.",
    source="nec-706.20",
    stands=Standing.BOUND,
    clause="NEC 706.20(B) and its exception (from memory)",
    kind=VOLTAGE,
)
MOST = Rule(
    key="place.energy",
    says="Fire and building codes let only so much energy stand in one place of a home.",
    source="irc-r328",
    stands=Standing.REMARK,
    kind=ENERGY,
)
UNIT = Rule(
    key="place.unit",
    says="Fire and building codes let one unit of storage at a home hold only so much energy.",
    source="irc-r328",
    stands=Standing.REMARK,
    kind=ENERGY,
)
LISTED = Rule(
    key="place.listing",
    says="Batteries are to be listed, or accepted by the authority that has a say over the place; "
    "salvaged modules are not listed.",
    source="nec-706.5",
    stands=Standing.BOUND,
    clause="NEC 706.5, 480.3; 90.4 and 110.2: what the authority accepts (from memory)",
)

_TOUCH_LIMIT = 60.0  # V DC, a dry touch (IEC, from memory)

Rows = Mapping[str, SiteLimit]


def place(ground: Groundwork, limits: tuple[SiteLimit, ...]) -> tuple[Finding, ...]:
    """Return whether the pack may stand where it is to stand: voltage, energy, listing.

    Parameters
    ----------
    limits : tuple of SiteLimit
        What public rules let stand in each kind of place.
    """
    site = ground.build.site
    if site.kind is None:
        return (_kind_not_said(ground),)
    there = {row.judges: row for row in limits if (row.rules, row.kind) == (site.rules, site.kind)}
    return (
        _kind(site.kind, there),
        _voltage(ground, PLACES[site.kind], there),
        *_energy(ground, PLACES[site.kind], there),
        _listing(ground, PLACES[site.kind], there.get(LISTING)),
    )


def _full(ground: Groundwork) -> float:
    """Return the voltage with every cell at the highest of its chemistry [V]."""
    # Not the module's own tighter limit: settings keep it, and a fault does not.
    return ground.n * float(ground.build.pack.module.chemistry.limits.highest.m)


# --- The kind of place ------------------------------------------------------------------------


def _kind_not_said(ground: Groundwork) -> Finding:
    """Ask for it above the voltage of a dry touch; below, say what stays unjudged."""
    full = _full(ground)
    remedy = "Say kind under [site]: " + ", ".join(f'"{kind}"' for kind in PLACES) + "."
    if full > _TOUCH_LIMIT:
        return unknown(
            KIND,
            about="site",
            detail=f"Nobody said what kind of place the pack stands in; it reaches "
            f"{say(full, 'V')}, and above {say(_TOUCH_LIMIT, 'V')} that counts.",
            remedy=remedy,
        )
    return state(
        KIND,
        Severity.NOTE,
        about="site",
        detail="Nobody said what kind of place the pack stands in. So the energy that may stand "
        "there, and whether a listing or an approval is asked for, were not judged.",
        remedy=remedy,
    )


def _kind(kind: str, there: Rows) -> Finding:
    scope = there.get(SCOPE)
    if scope is None:
        return state(KIND, Severity.OK, about="site", detail=f"The pack stands {PLACES[kind]}.")
    return state(
        KIND,
        Severity.NOTE,
        about="site",
        detail=f"The pack stands {PLACES[kind]}. {scope.says} They are not judged here "
        f"({scope.clause}).",
    )


# --- Voltage ----------------------------------------------------------------------------------


def _voltage(ground: Groundwork, where: str, there: Rows) -> Finding:
    """Judge the voltage that the pack is charged to; a clause speaks of that, not of a fault."""
    touchable, covered = there.get(VOLTAGE_OPEN), there.get(VOLTAGE_COVERED)
    if touchable is None or touchable.limit is None:
        return state(
            HIGHEST,
            Severity.OK,
            about="site",
            detail=f"For a pack {where} no limit of its voltage is held here.",
        )
    charged = ground.figures.charge_target.value  # settings stay below it, the chargers' errors too
    guarded = ground.build.site.live_parts_guarded
    row, how = touchable, "" if covered is None else " with live parts in reach"
    if covered is not None and covered.limit is not None:
        if guarded is None and touchable.limit.m < charged <= covered.limit.m and covered.bound:
            return unknown(
                HIGHEST,
                about="site",
                detail=f"The pack is charged to {say(charged, 'V')}. {_capital(where)}{how} the "
                f"limit is {say(touchable.limit.m, 'V')} ({touchable.clause}), out of reach "
                f"{say(covered.limit.m, 'V')}. Nobody said which it is.",
                remedy="If no live part can be reached, not even during routine maintenance, say "
                "live_parts_guarded = true under [site].",
            )
        if guarded or charged > covered.limit.m:
            row, how = covered, " with live parts out of reach"
    return at_most(
        HIGHEST,
        VOLTAGE.of(charged),
        row.limit,
        about="site",
        otherwise=Severity.STOP if row.bound else Severity.CAUTION,
        value_name="the charge target of the pack",
        limit_name=f"the limit {where}{how} ({row.clause})",
        remedy=_lower(row, covered),
        guarded=VOLTAGE.of(max(charged, _full(ground))),
        guarded_for="a charger that runs away",
    )


def _lower(row: SiteLimit, covered: SiteLimit | None) -> str:
    """Say what brings the voltage within what may stand there."""
    if row.judges == VOLTAGE_COVERED or covered is None or covered.limit is None:
        return f"Fewer cells in series, or another place. {row.says}"
    return (
        "Cover the live parts so that none can be reached, not even during routine maintenance, "
        "and say live_parts_guarded = true under [site]: then up to "
        f"{say(covered.limit.m, 'V')} may stand there. Or fewer cells in series. {row.says}"
    )


# --- Energy -----------------------------------------------------------------------------------


def _energy(ground: Groundwork, where: str, there: Rows) -> tuple[Finding, ...]:
    most, unit = there.get(ENERGY_THERE), there.get(ENERGY_OF_A_UNIT)
    if most is None or most.limit is None or unit is None:
        return (
            state(
                MOST,
                Severity.OK,
                about="site",
                detail=f"For a pack {where} no limit of its energy is held here.",
            ),
        )
    energy = ground.figures.label_energy
    if most.limit.m == 0:
        return (
            state(
                MOST,
                Severity.CAUTION,
                about="site",
                detail=f"No storage may stand {where} where fire codes were adopted "
                f"({most.clause}).",
                remedy="Put the pack where nobody lives or sleeps, best apart from the home, and "
                "say that kind under [site].",
            ),
        )
    adopted = "where fire codes were adopted"
    return (
        at_most(
            MOST,
            energy,
            most.limit,
            about="site",
            otherwise=Severity.CAUTION,
            value_name="the energy on the pack's label",
            limit_name=f"the limit {where}, {adopted} ({most.clause})",
            remedy=f"Ask the authority before it is built. {most.says}",
        ),
        at_most(
            UNIT,
            energy,
            unit.limit,
            about="site",
            otherwise=Severity.CAUTION,
            value_name="the energy on the pack's label",
            limit_name=f"the limit of one unit at a home, {adopted} ({unit.clause})",
            remedy="Part it into units that stand clear of each other, each with its own "
            f"disconnect; or ask the authority before it is built. {unit.says}",
        ),
    )


# --- Listing ----------------------------------------------------------------------------------


def _listing(ground: Groundwork, where: str, row: SiteLimit | None) -> Finding:
    """Judge whether anybody who may say so accepts modules that carry no listing."""
    site = ground.build.site
    if row is None:
        return state(
            LISTED,
            Severity.OK,
            about="site",
            detail=f"For a pack {where} no rule held here asks for a listing.",
        )
    if isinstance(site.approval, str):
        return state(
            LISTED,
            Severity.OK,
            about="site",
            detail=f"It is said who accepts the pack as it is built: {site.approval.rstrip(' .')}.",
        )
    remedy = (
        "Ask the authority before it is built: show the drawing, the settings, the test records of "
        "the modules and the listings of the other devices. Write who said yes, and when, as "
        "approval under [site]."
    )
    if site.approval is NOT_FITTED:
        return state(
            LISTED,
            Severity.STOP if row.bound and _full(ground) > _TOUCH_LIMIT else Severity.CAUTION,
            about="site",
            detail=f"Salvaged modules carry no listing, and nobody accepted them ({row.clause}).",
            remedy=remedy,
        )
    detail = f"Salvaged modules carry no listing, and nobody said who accepts them ({row.clause})."
    if row.bound and _full(ground) > _TOUCH_LIMIT:
        return unknown(LISTED, about="site", detail=detail, remedy=remedy)
    return state(LISTED, Severity.CAUTION, about="site", detail=detail, remedy=remedy)


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
