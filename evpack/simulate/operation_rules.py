"""What a pack at work is held against: known inputs, hunting, cut-offs, trips, heat and cold."""

from __future__ import annotations

import math

import numpy as np

from evpack.base.basis import Basis
from evpack.base.finding import Finding, Rule, Severity, at_least, at_most, state, unknown
from evpack.base.fitted import NOT_FITTED
from evpack.base.units import ENERGY, SHARE, TEMPERATURE, TIME, VOLTAGE
from evpack.base.wording import say, say_up
from evpack.describe.operation import ISLAND, UTILITY_FIRST, Operation
from evpack.describe.pack import Monitoring
from evpack.outcome.design import Design
from evpack.outcome.operation import CELSIUS_FIRST, CELSIUS_WIDE, Hunting, Outcome
from evpack.simulate.sharing_rules import softened

KNOWN = Rule(
    key="operation.known",
    says="A year can be run only where settings, inverters and modules are known.",
    source="ohms-law",
)
DESIGN = Rule(
    key="operation.design",
    says="A good year in a run does not make up for a design that is held up.",
    source="common-practice",
)
CHARGER = Rule(
    key="operation.charger",
    says="A charger whose settings are not settled is left out of the run.",
    source="common-practice",
)
SUN = Rule(
    key="operation.sun",
    says="What the sun gives each array must be known, or the year shows too little of it.",
    source="common-practice",
)
AIR = Rule(
    key="operation.air",
    says="The air around the pack decides whether it may be charged, and how it ages.",
    source="common-practice",
)
CHANGEOVER = Rule(
    key="operation.changeover",
    says="Battery first with a fallback on the utility needs inverters that change over.",
    source="equipment-manual",
)
CUT_OFF_SET = Rule(
    key="operation.cut-off-set",
    says="A cut-off below that of the settings sheet lets the pack go lower than is safe.",
    source="common-practice",
    kind=VOLTAGE,
)
HUNTING = Rule(
    key="operation.hunting",
    says="Load that goes to and fro between battery and utility wears relays and people.",
    source="common-practice",
)
GAP = Rule(
    key="operation.gap",
    says="The return must lie further above the changeover than the voltage rises when the load "
    "goes away, meter errors included.",
    source="common-practice",
    kind=VOLTAGE,
)
CUT_OFF = Rule(
    key="operation.cut-off",
    says="In everyday use a pack should change over or be charged before its inverters cut off.",
    source="common-practice",
)
TRIPS = Rule(
    key="operation.trips",
    says="The cell monitoring is the last line: in everyday use it never has to open.",
    source="common-practice",
)
HIGHEST = Rule(
    key="operation.highest-cell",
    says="No cell may pass its highest voltage.",
    source="cell-limits",
    kind=VOLTAGE,
)
LOWEST = Rule(
    key="operation.lowest-cell",
    says="No cell may fall below its least voltage.",
    source="cell-limits",
    kind=VOLTAGE,
)
UNSERVED = Rule(
    key="operation.unserved",
    says="A load that nobody carries stands still.",
    source="common-practice",
    kind=ENERGY,
)
FULL = Rule(
    key="operation.full",
    says="Cells are balanced only near full: a pack that is never full drifts apart.",
    source="common-practice",
    kind=TIME,
)
HOT = Rule(
    key="operation.hot",
    says="Heat ages cells: the time above 35 °C should be short, and charging ends where they "
    "stand no more.",
    source="common-practice",
    kind=TEMPERATURE,
)
COLD = Rule(
    key="operation.cold",
    says="Cells below freezing must not be charged, and little in the cold.",
    source="cell-limits",
)
BOOKS = Rule(
    key="operation.books",
    says="Energy is neither made nor lost: what the books of a run do not account for comes of "
    "its step.",
    source="ohms-law",
    kind=SHARE,
)

# Common practice, no source.
_FULL_EVERY = 30 * 86400.0  # a pack should be full so often [s]
_WARM = 35.0  # [°C]
_BOOKS = 0.01
_MUCH = 0.02  # of the year in the warmth, above which it is worth a word


# --- Before a run ------------------------------------------------------------------------------


def cannot_run(design: Design, operation: Operation) -> tuple[Finding, ...]:
    """Return what is lacking for any run, as unknown findings; empty where nothing is."""
    build, settings = design.build, design.settings
    asked: list[tuple[str, str, str]] = []
    module = build.pack.module
    if settings is None:
        asked.append(
            (
                "settings",
                "There is no settings sheet: the chemistry is not to be charged to a voltage.",
                "Choose modules of another chemistry.",
            )
        )
    elif operation.cut_off is None and settings.thresholds.cut_off is None:
        asked.append(
            (
                "cut-off",
                "The cut-off of the inverters is not settled.",
                "Clear the findings on the cut-off, or say cut_off in the operation.",
            )
        )
    if module.resistance is None and module.resistance_curve is None:
        asked.append(
            (
                module.name,
                "The resistance of the modules is not known.",
                "Measure the resistance of the modules and put it in the build sheet.",
            )
        )
    for inverter in build.inverters:
        missing = [
            field
            for field in ("continuous", "efficiency", "idle")
            if getattr(inverter, field) is None
        ]
        if missing:
            asked.append(
                (
                    inverter.name,
                    f"Not known of it: {', '.join(missing)}.",
                    f"Find its {', '.join(missing)} and put it in the build sheet.",
                )
            )
    return tuple(
        unknown(KNOWN, about=about, detail=detail, remedy=remedy) for about, detail, remedy in asked
    )


def charger_left_out(name: str) -> Finding:
    """Say that a charger does not run."""
    return unknown(
        CHARGER,
        about=name,
        detail="Its charge voltage or its current is not settled, and so it is left out of the "
        "run.",
        remedy="Clear the findings on what this charger is set to.",
    )


def sun_unknown(name: str, why: str) -> Finding:
    """Say that an array runs without sun."""
    return unknown(
        SUN,
        about=name,
        detail=f"It runs without any sun: {why}.",
        remedy="Say its place or its profile in a section [[operation.sun]], and its power.",
    )


def sun_known() -> Finding:
    """Say that every array has its sun."""
    return state(SUN, Severity.OK, about="sun", detail="Every array has its sun.")


def air_known() -> Finding:
    """Say that the air is known."""
    return state(AIR, Severity.OK, about="air", detail="The air around the pack is known.")


def air_unknown(flat: float) -> Finding:
    """Say that the air is not known, and what was taken."""
    return unknown(
        AIR,
        about="air",
        detail=f"How cold or how warm it gets is not known; {say(flat, '°C')} was taken all year.",
        remedy="Say coldest and warmest of the site or of the operation.",
    )


def has_changeover() -> Finding:
    """Say that the inverters change over."""
    return state(
        CHANGEOVER, Severity.OK, about="inverters", detail="They change over to the utility."
    )


def no_changeover(*, fitted: bool) -> Finding:
    """Say that there is no changeover, or that it is not settled."""
    if fitted:
        return unknown(
            CHANGEOVER,
            about="inverters",
            detail="Their changeover is not settled; the run goes without the utility.",
            remedy="Clear the findings on the changeover, or say changeover in the operation.",
        )
    return state(
        CHANGEOVER,
        Severity.CAUTION,
        about="inverters",
        detail="They have no changeover to the utility; the run goes without it.",
        remedy='Say mode = "island", or use inverters that change over.',
    )


def cut_off_set(used: float, sheet: float | None) -> Finding:
    """Hold the cut-off that is used against that of the settings sheet."""
    return at_least(
        CUT_OFF_SET,
        VOLTAGE.of(used),
        None if sheet is None else VOLTAGE.of(sheet),
        about="cut-off",
        otherwise=Severity.STOP,
        value_name="the cut-off of the run",
        limit_name="that of the settings sheet",
        remedy="Enter the cut-off of the settings sheet.",
        ask="Clear the findings on the cut-off.",
    )


# --- After a run -------------------------------------------------------------------------------


def judged(design: Design, operation: Operation, mode: str, came: Outcome) -> tuple[Finding, ...]:
    """Return what a run comes to."""
    gap = () if came.hunting.gap is None else (_gap(came.hunting),)
    return (
        _design(design),
        _hunting(came.hunting, mode),
        *gap,
        _cut_off(came, mode),
        _trips(came),
        *_cells(design, came),
        _unserved(came),
        _full(operation, came),
        _hot(design, came),
        _cold(design, came),
        _books(came),
    )


def _design(design: Design) -> Finding:
    held = [f for f in design.findings if f.holds]
    if not held:
        return state(DESIGN, Severity.OK, about="design", detail="Nothing holds the design up.")
    return state(
        DESIGN,
        max(f.severity for f in held),
        about="design",
        detail=f"The design is held up by {len(held)} findings; the year shows only what would "
        "be if it were built all the same.",
        remedy="Clear what holds the design up first.",
    )


def _hunting(hunting: Hunting, mode: str) -> Finding:
    if mode == UTILITY_FIRST:
        detail = "The battery stands by, so there is nothing to go to and fro."
        return state(HUNTING, Severity.OK, about="changeover", detail=detail)
    foretold = (
        ""
        if hunting.foretold is None or hunting.gap is None
        else f" The gap from changeover to return is {say(hunting.gap, 'V')}; the design foretells "
        f"that {say_up(hunting.foretold, 'V')} is the least."
    )
    if not hunting.times:
        return state(
            HUNTING,
            Severity.OK,
            about="changeover",
            detail=f"It never went back within an hour of coming.{foretold}",
        )
    return state(
        HUNTING,
        Severity.CAUTION,
        about="changeover",
        detail=f"{hunting.times} times it went back within an hour of coming.{foretold}",
        value=float(hunting.times),
        remedy="Widen the gap between changeover and return (or cut-off and restart), lengthen "
        "the delay of the return, or lower the load.",
    )


def _gap(hunting: Hunting) -> Finding:
    return at_least(
        GAP,
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
            CUT_OFF, Severity.OK, about="inverters", detail="They were never cut off for voltage."
        )
    return state(
        CUT_OFF,
        Severity.CAUTION,
        about="inverters",
        detail=f"They were cut off {times} times.",
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


def _trips(came: Outcome) -> Finding:
    tripped = [what for what in _LAST_LINE if came.counts[what]]
    if not tripped:
        return state(TRIPS, Severity.OK, about="cell monitoring", detail="It never had to open.")
    told = "; ".join(f"{what}: {came.counts[what]} times" for what in tripped)
    charged = any(what in tripped for what in ("high cell trips", "over-current trips, charge"))
    return state(
        TRIPS,
        Severity.STOP if charged else Severity.CAUTION,
        about="cell monitoring",
        detail=f"It had to open: {told}.",
        remedy=" ".join(_LAST_LINE[what] for what in tripped),
    )


def _cells(design: Design, came: Outcome) -> tuple[Finding, Finding]:
    """Hold the highest and the lowest cell of the run against what they stand."""
    module = design.build.pack.module
    assumed = []
    if module.resistance_curve is None and module.basis.of("resistance") is Basis.ASSUMED:
        assumed.append("resistance of the modules")
    if module.curve.basis is Basis.ASSUMED:
        assumed.append("open-circuit voltage curve")
    highest = at_most(
        HIGHEST,
        VOLTAGE.of(came.highest_cell),
        module.highest,
        about="highest cell",
        otherwise=Severity.STOP,
        value_name="the highest cell of the run",
        limit_name="the highest voltage of a cell",
        remedy="Lower the charge voltage, and let the cell monitoring stop the chargers.",
    )
    lowest = at_least(
        LOWEST,
        VOLTAGE.of(came.lowest_cell),
        module.least,
        about="lowest cell",
        otherwise=Severity.STOP,
        value_name="the lowest cell of the run",
        limit_name="the least voltage of a cell",
        remedy="Raise the cut-off, and let the cell monitoring stop the inverters.",
        assumed=tuple(assumed),
    )
    return highest, softened(lowest)


def _unserved(came: Outcome) -> Finding:
    return at_most(
        UNSERVED,
        ENERGY.of(came.energy("load that nobody carried").value),
        ENERGY.of(0.0),
        about="load",
        otherwise=Severity.CAUTION,
        value_name="the load that nobody carried",
        limit_name="nothing",
        remedy="Use less, or add panels, strings or inverter output; keep a larger reserve where "
        "outages are the cause.",
    )


def _full(operation: Operation, came: Outcome) -> Finding:
    longest, length = came.longest_not_full, float(operation.length.m)
    if length < _FULL_EVERY:
        told = f"{came.counts['pack full']} times full in {say(length, 's')}"
        return state(
            FULL,
            Severity.OK if came.counts["pack full"] else Severity.NOTE,
            about="pack",
            detail=f"It was {told}: too short a run to tell whether it is full often enough.",
        )
    return at_most(
        FULL,
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
        HOT,
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
            HOT,
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
            COLD,
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
            COLD,
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
            COLD,
            Severity.CAUTION,
            about="cells",
            detail=detail,
            remedy="Keep the pack warmer, or live with what the cell monitoring keeps out.",
        )
    if blocks is None and monitoring is not NOT_FITTED:
        return unknown(
            COLD,
            about="cells",
            detail=f"{detail} Whether anything blocks a charge in the cold is not known.",
            remedy="Find out whether the cell monitoring blocks a charge in the cold.",
        )
    return state(
        COLD,
        Severity.STOP,
        about="cells",
        detail=f"{detail} In truth nothing blocks it: the chargers would charge frozen cells.",
        remedy="Fit cell monitoring that blocks a charge in the cold.",
    )


def _books(came: Outcome) -> Finding:
    return at_most(
        BOOKS,
        SHARE.of(max(came.charge_lost, came.energy_lost)),
        SHARE.of(_BOOKS),
        about="run",
        otherwise=Severity.CAUTION,
        value_name="what the books do not account for",
        limit_name="what is small",
        remedy="Take a shorter step.",
    )
