"""What a run of a pack at work comes to: hunting, cut-offs, trips, overload, heat and cold."""

from __future__ import annotations

import math

import numpy as np

from evpack.base.basis import Basis
from evpack.base.finding import Finding, Severity, at_least, at_most, state, unknown
from evpack.base.fitted import NOT_FITTED
from evpack.base.units import ENERGY, SHARE, TEMPERATURE, TIME, VOLTAGE
from evpack.base.wording import say, say_up
from evpack.describe.module import Module
from evpack.describe.operation import ISLAND, UTILITY_FIRST, Operation
from evpack.describe.pack import Monitoring
from evpack.describe.site import Load
from evpack.outcome.cells import imbalance_basis
from evpack.outcome.design import Design
from evpack.outcome.operation import CELSIUS_FIRST, CELSIUS_WIDE, Hunting, Outcome
from evpack.simulate import operation_rules as rules
from evpack.simulate.sharing_rules import softened

# Common practice, no source.
_FULL_EVERY = 30 * 86400.0  # a pack should be full so often [s]
_WARM = 35.0  # [°C]
_BOOKS = 0.01
_MUCH = 0.02  # of the year in the warmth, above which it is worth a word


def judged(
    design: Design, operation: Operation, mode: str, came: Outcome, most: float
) -> tuple[Finding, ...]:
    """Return what a run comes to.

    Parameters
    ----------
    most : float
        The most that is asked in any step [W].
    """
    gap = () if came.hunting.gap is None else (_gap(came.hunting),)
    return (
        _design(design),
        _hunting(came.hunting, mode, _no_peaks(design.build.load, most)),
        *gap,
        _cut_off(came, mode),
        _trips(design, came),
        *_cells(design, came),
        _unserved(came),
        _overload(came),
        _full(operation, came),
        _hot(design, came),
        _cold(design, came),
        _books(came),
    )


def _design(design: Design) -> Finding:
    held = [f for f in design.findings if f.holds]
    if not held:
        return state(
            rules.DESIGN, Severity.OK, about="design", detail="Nothing holds the design up."
        )
    return state(
        rules.DESIGN,
        max(f.severity for f in held),
        about="design",
        detail=f"The design is held up by {len(held)} findings; the year shows only what would "
        "be if it were built all the same.",
        remedy="Clear what holds the design up first.",
    )


def _no_peaks(load: Load, most: float) -> str:
    """Return in words which load of the build the profile never reaches; empty where it does."""
    for what, asked in (("peak", load.peak), ("continuous", load.continuous)):
        if asked is not None and most < asked.m:
            return (
                f"No peaks in this profile: it asks {say_up(most, 'W')} at the most, and the "
                f"{what} load of the build is {say(float(asked.m), 'W')}. Hunting and cut-offs "
                "may be more than it shows."
            )
    return ""


def _hunting(hunting: Hunting, mode: str, no_peaks: str) -> Finding:
    if mode == UTILITY_FIRST:
        detail = "The battery stands by, so there is nothing to go to and fro."
        return state(rules.HUNTING, Severity.OK, about="changeover", detail=detail)
    foretold = (
        ""
        if hunting.foretold is None or hunting.gap is None
        else f" The gap from changeover to return is {say(hunting.gap, 'V')}; the design foretells "
        f"that {say_up(hunting.foretold, 'V')} is the least."
    )
    more = f"{foretold} {no_peaks}".rstrip()
    if not hunting.times:
        return state(
            rules.HUNTING,
            Severity.NOTE if no_peaks else Severity.OK,
            about="changeover",
            detail=f"It never went back within an hour of coming.{more}",
            remedy="Run a load profile with its peaks, in short steps." if no_peaks else "",
        )
    return state(
        rules.HUNTING,
        Severity.CAUTION,
        about="changeover",
        detail=f"{hunting.times} times it went back within an hour of coming.{more}",
        value=float(hunting.times),
        remedy="Widen the gap between changeover and return (or cut-off and restart), lengthen "
        "the delay of the return, or lower the load.",
    )


def _gap(hunting: Hunting) -> Finding:
    return at_least(
        rules.GAP,
        VOLTAGE.of(math.nan if hunting.gap is None else hunting.gap),
        None if hunting.foretold is None else VOLTAGE.of(hunting.foretold),
        about="changeover",
        otherwise=Severity.CAUTION,
        value_name="the gap between changeover and return",
        limit_name="the least gap that the design foretells",
        remedy="Raise the return or lower the changeover; the run has meters without error and "
        f"saw a rise of {say(hunting.seen, 'V')}.",
        ask="Clear the findings on the changeover and the return.",
    )


def _cut_off(came: Outcome, mode: str) -> Finding:
    times = came.counts["cut-off"]
    if not times:
        return state(
            rules.CUT_OFF,
            Severity.OK,
            about="inverters",
            detail="They were never cut off for voltage.",
        )
    return state(
        rules.CUT_OFF,
        Severity.CAUTION,
        about="inverters",
        detail=f"They were cut off {'once' if times == 1 else f'{times} times'}.",
        value=float(times),
        remedy="Use less in dull weeks, more panels or more strings."
        if mode == ISLAND
        else "Raise the changeover, shorten its delay, or keep a larger reserve for outages.",
    )


_LAST_LINE = {
    "high cell trips": "Lower the charge voltage: a charger goes higher than the cells stand.",
    "over-current trips, charge": "Lower the charge current entered on the chargers.",
    "low cell trips": "Raise the cut-off of the inverters.",
    "over-current trips, discharge": "Lower the load, or add strings.",
    "too cold to give current": "Keep the pack warmer.",
    "too hot to give current": "Keep the pack cooler.",
}


def _cannot_open(design: Design) -> Finding | None:
    """Return that there is no last line, or that nobody knows; None where it is whole."""
    monitoring = design.build.pack.monitoring
    if monitoring is None:
        return unknown(
            rules.TRIPS,
            about="cell monitoring",
            detail="Whether anything watches the cells and opens, nobody said.",
            remedy="Say in the build sheet what watches the cells.",
        )
    if monitoring is NOT_FITTED:
        return state(
            rules.TRIPS,
            Severity.STOP,
            about="cell monitoring",
            detail="There is none: nothing opens when a cell passes its limits.",
            remedy="Fit cell monitoring that stops chargers and inverters.",
        )
    works = {"chargers": monitoring.stops_charge, "inverters": monitoring.stops_discharge}
    never = [what for what, stops in works.items() if stops is False]
    if never:
        return state(
            rules.TRIPS,
            Severity.STOP,
            about="cell monitoring",
            detail=f"It cannot stop the {' and the '.join(never)}.",
            remedy="Use cell monitoring that stops chargers and inverters.",
        )
    asked = [what for what, stops in works.items() if stops is None]
    if asked:
        return unknown(
            rules.TRIPS,
            about="cell monitoring",
            detail=f"Whether it can stop the {' and the '.join(asked)} is not known.",
            remedy="Find out what the cell monitoring stops.",
        )
    return None


def _trips(design: Design, came: Outcome) -> Finding:
    tripped = [what for what in _LAST_LINE if came.counts[what]]
    lacking = _cannot_open(design)
    if not tripped:
        return lacking or state(
            rules.TRIPS, Severity.OK, about="cell monitoring", detail="It never had to open."
        )
    told = "; ".join(f"{what}: {came.counts[what]} times" for what in tripped)
    charged = any(what in tripped for what in ("high cell trips", "over-current trips, charge"))
    own = Severity.STOP if charged else Severity.CAUTION
    remedies = [_LAST_LINE[what] for what in tripped]
    detail = f"It had to open: {told}."
    if lacking is not None:
        own, detail = max(own, lacking.severity), f"{detail} {lacking.detail}"
        remedies.append(lacking.remedy)
    return state(
        rules.TRIPS, own, about="cell monitoring", detail=detail, remedy=" ".join(remedies)
    )


def _cells(design: Design, came: Outcome) -> tuple[Finding, Finding]:
    """Hold the highest and the lowest cell of the run against what they stand."""
    pack = design.build.pack
    module = pack.module
    assumed = [
        what
        for what, basis in (
            ("resistance of the modules", _resistance_basis(module)),
            ("open-circuit voltage curve", module.curve.basis),
        )
        if basis is Basis.ASSUMED
    ]

    def resting(limit: str, told: str) -> tuple[str, ...]:
        known = (
            ("spread of the cells", imbalance_basis(pack, full=limit == "highest")),
            (told, module.limit_basis(limit)),
        )
        return (*assumed, *(what for what, basis in known if basis is Basis.ASSUMED))

    highest = at_most(
        rules.HIGHEST,
        VOLTAGE.of(came.highest_cell),
        module.highest,
        about="highest cell",
        otherwise=Severity.STOP,
        value_name="the highest cell of the run",
        limit_name="the highest voltage of a cell",
        remedy="Lower the charge voltage, and let the cell monitoring stop the chargers.",
        assumed=resting("highest", "highest voltage of a cell"),
    )
    lowest = at_least(
        rules.LOWEST,
        VOLTAGE.of(came.lowest_cell),
        module.least,
        about="lowest cell",
        otherwise=Severity.STOP,
        value_name="the lowest cell of the run",
        limit_name="the least voltage of a cell",
        remedy="Raise the cut-off, and let the cell monitoring stop the inverters.",
        assumed=resting("least", "least voltage of a cell"),
    )
    return softened(highest), softened(lowest)


def _resistance_basis(module: Module) -> Basis:
    if module.resistance_curve is not None:
        return Basis.MEASURED
    return module.basis.of("resistance")


def _unserved(came: Outcome) -> Finding:
    return at_most(
        rules.UNSERVED,
        ENERGY.of(came.energy("load that nobody carried").value),
        ENERGY.of(0.0),
        about="load",
        otherwise=Severity.CAUTION,
        value_name="the load that nobody carried",
        limit_name="nothing",
        remedy="Use less, or add panels, strings or inverter output; keep a larger reserve where "
        "outages are the cause.",
    )


def _overload(came: Outcome) -> Finding:
    if not came.overloaded:
        return state(
            rules.OVERLOAD,
            Severity.OK,
            about="inverters",
            detail="They were never asked for more than they give.",
        )
    return state(
        rules.OVERLOAD,
        Severity.CAUTION,
        about="inverters",
        detail=f"For {say_up(came.overloaded, 's')} more was asked than they give. The run lets "
        "them give what they can; real ones trip on overload, and then nothing is served.",
        remedy="Use less at one time, or inverters that give more.",
    )


def _full(operation: Operation, came: Outcome) -> Finding:
    longest, length = came.longest_not_full, float(operation.length.m)
    if length < _FULL_EVERY:
        told = f"{came.counts['pack full']} times full in {say(length, 's')}"
        return state(
            rules.FULL,
            Severity.OK if came.counts["pack full"] else Severity.NOTE,
            about="pack",
            detail=f"It was {told}: too short a run to tell whether it is full often enough.",
        )
    return at_most(
        rules.FULL,
        TIME.of(longest),
        TIME.of(_FULL_EVERY),
        about="pack",
        otherwise=Severity.CAUTION,
        value_name="the longest time in which the pack was never full",
        limit_name="what is common",
        remedy="Charge it full once a month, from the mains or a generator, or its cells are never "
        "balanced.",
    )


def _hours(came: Outcome, above: float) -> float:
    """Return the hours that the cells were warmer than a temperature, by the histogram."""
    tops = CELSIUS_FIRST + CELSIUS_WIDE * np.arange(1, came.celsius_hours.size + 1)
    return float(came.celsius_hours[tops > above].sum())


def _hot(design: Design, came: Outcome) -> Finding:
    limit = design.build.pack.module.chemistry.limits.charge_hottest
    hours, whole = _hours(came, _WARM), float(came.celsius_hours.sum())
    found = at_most(
        rules.HOT,
        TEMPERATURE.of(came.hottest),
        limit,
        about="cells",
        otherwise=Severity.CAUTION,
        value_name="the hottest string of the run",
        limit_name="the warmest at which cells may be charged",
        remedy="Give the pack air or shade.",
    )
    if found.severity is Severity.OK and hours > _MUCH * whole:
        return state(
            rules.HOT,
            Severity.NOTE,
            about="cells",
            detail=f"{hours:.0f} of {whole:.0f} hours above {say(_WARM, '°C')}, "
            f"{say(came.hottest, '°C')} at the most.",
            remedy="A cooler place makes them last longer.",
        )
    return found


def _cold(design: Design, came: Outcome) -> Finding:
    """Say whether the pack got so cold that charging is limited, and who sees to it."""
    coldest = float(design.build.pack.module.chemistry.limits.charge_coldest.m)
    if came.coldest >= 15.0:  # noqa: PLR2004  `kernels.cold`: from here on the cold sets no limit
        return state(
            rules.COLD,
            Severity.OK,
            about="cells",
            detail=f"Never colder than {say(came.coldest, '°C')}: the cold sets no limit.",
        )
    held = (
        f"charging was held back for {say(came.cold_limited, 's')}"
        if came.cold_limited
        else "no charging had to be held back"
    )
    if came.coldest >= coldest:
        return state(
            rules.COLD,
            Severity.NOTE,
            about="cells",
            detail=f"As cold as {say(came.coldest, '°C')}: {held}.",
            remedy="Enter the charge current limits for the cold months on the settings sheet.",
        )
    detail = (
        f"As cold as {say(came.coldest, '°C')}: below {say(coldest, '°C')} no charge is allowed, "
        f"and the run allowed none. In the cold {held}."
    )
    monitoring = design.build.pack.monitoring
    blocks = monitoring.blocks_cold_charge if isinstance(monitoring, Monitoring) else None
    if blocks:
        return state(
            rules.COLD,
            Severity.CAUTION,
            about="cells",
            detail=detail,
            remedy="Keep the pack warmer, or live with what the cell monitoring keeps out.",
        )
    if blocks is None and monitoring is not NOT_FITTED:
        return unknown(
            rules.COLD,
            about="cells",
            detail=f"{detail} Whether anything blocks a charge in the cold is not known.",
            remedy="Find out whether the cell monitoring blocks a charge in the cold.",
        )
    return state(
        rules.COLD,
        Severity.STOP,
        about="cells",
        detail=f"{detail} In truth nothing blocks it: the chargers would charge frozen cells.",
        remedy="Fit cell monitoring that blocks a charge in the cold.",
    )


def _books(came: Outcome) -> Finding:
    return at_most(
        rules.BOOKS,
        SHARE.of(max(came.charge_lost, came.energy_lost)),
        SHARE.of(_BOOKS),
        about="run",
        otherwise=Severity.CAUTION,
        value_name="what the books do not account for",
        limit_name="what is small",
        remedy="Take a shorter step.",
    )
