"""The rules that a pack at work is held against, and what is found before it runs."""

from __future__ import annotations

from collections.abc import Sequence

from evpack.base.finding import Finding, Rule, Severity, Standing, at_least, state, unknown
from evpack.base.units import ENERGY, SHARE, TEMPERATURE, TIME, VOLTAGE
from evpack.base.wording import say
from evpack.describe.operation import Operation
from evpack.outcome.design import Design

KNOWN = Rule(
    key="operation.known",
    says="A year can be run only where settings, inverters and modules are known.",
    source="ohms-law",
    stands=Standing.QUESTION,
)
DESIGN = Rule(
    key="operation.design",
    says="A good year in a run does not make up for a design that is held up.",
    source="common-practice",
    stands=Standing.BOUND,
    clause="what holds the design up",
)
CHARGER = Rule(
    key="operation.charger",
    says="A charger whose settings are not settled is left out of the run.",
    source="common-practice",
    stands=Standing.QUESTION,
)
SUN = Rule(
    key="operation.sun",
    says="What the sun gives each array must be known, or the year shows too little of it.",
    source="common-practice",
    stands=Standing.QUESTION,
)
AIR = Rule(
    key="operation.air",
    says="The air around the pack decides whether it may be charged, and how it ages.",
    source="common-practice",
    stands=Standing.QUESTION,
)
CHANGEOVER = Rule(
    key="operation.changeover",
    says="Battery first with a fallback on the utility needs inverters that change over.",
    source="equipment-manual",
    stands=Standing.BOUND,
    clause="print of the inverter: its modes",
)
CUT_OFF_SET = Rule(
    key="operation.cut-off-set",
    says="A cut-off below that of the settings sheet lets the pack go lower than is safe.",
    source="common-practice",
    stands=Standing.BOUND,
    clause="print of the cell: least voltage",
    kind=VOLTAGE,
)
CHANGEOVER_SET = Rule(
    key="operation.changeover-set",
    says="A changeover below that of the settings sheet takes the reserve for outages.",
    source="common-practice",
    stands=Standing.GUARD,
    kind=VOLTAGE,
)
RETURN_SET = Rule(
    key="operation.return-set",
    says="A return below that of the settings sheet lets the load go to and fro.",
    source="common-practice",
    stands=Standing.BOUND,
    clause="physics: charging does not reach that voltage",
    kind=VOLTAGE,
)
WEATHER = Rule(
    key="operation.weather",
    says="Clear days fill a pack and dull days empty it: a mean of both shows neither.",
    source="common-practice",
    stands=Standing.REMARK,
)
OVERLOAD = Rule(
    key="operation.overload",
    says="Inverters trip where more is asked than they give.",
    source="equipment-manual",
    stands=Standing.GUARD,
)
HUNTING = Rule(
    key="operation.hunting",
    says="Load that goes to and fro between battery and utility wears relays and people.",
    source="common-practice",
    stands=Standing.GUARD,
)
GAP = Rule(
    key="operation.gap",
    says="The return must lie further above the changeover than the voltage rises when the load "
    "goes away, meter errors included.",
    source="common-practice",
    stands=Standing.GUARD,
    kind=VOLTAGE,
)
CUT_OFF = Rule(
    key="operation.cut-off",
    says="In everyday use a pack should change over or be charged before its inverters cut off.",
    source="common-practice",
    stands=Standing.GUARD,
)
TRIPS = Rule(
    key="operation.trips",
    says="The cell monitoring is the last line: in everyday use it never has to open.",
    source="common-practice",
    stands=Standing.BOUND,
    clause="print of the cell: its voltages",
)
HIGHEST = Rule(
    key="operation.highest-cell",
    says="No cell may pass its highest voltage.",
    source="cell-limits",
    stands=Standing.BOUND,
    clause="print of the cell: highest voltage",
    kind=VOLTAGE,
)
LOWEST = Rule(
    key="operation.lowest-cell",
    says="No cell may fall below its least voltage.",
    source="cell-limits",
    stands=Standing.BOUND,
    clause="print of the cell: least voltage",
    kind=VOLTAGE,
)
UNSERVED = Rule(
    key="operation.unserved",
    says="A load that nobody carries stands still.",
    source="common-practice",
    stands=Standing.GUARD,
    kind=ENERGY,
)
FULL = Rule(
    key="operation.full",
    says="Cells are balanced only near full: a pack that is never full drifts apart.",
    source="common-practice",
    stands=Standing.GUARD,
    kind=TIME,
)
HOT = Rule(
    key="operation.hot",
    says="Heat ages cells: the time above 35 °C should be short, and charging ends where they "
    "stand no more.",
    source="common-practice",
    stands=Standing.GUARD,
    kind=TEMPERATURE,
)
COLD = Rule(
    key="operation.cold",
    says="Cells below freezing must not be charged, and little in the cold.",
    source="cell-limits",
    stands=Standing.BOUND,
    clause="print of the cell: charge temperature",
)
BOOKS = Rule(
    key="operation.books",
    says="Energy is neither made nor lost: what the books of a run do not account for comes of "
    "its step.",
    source="ohms-law",
    stands=Standing.GUARD,
    kind=SHARE,
)

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


def without_changeover(names: Sequence[str]) -> Finding:
    """Say that there is a voltage to change over at, and inverters that have no changeover."""
    return state(
        CHANGEOVER,
        Severity.STOP,
        about="inverters",
        detail="There is a voltage to change over at, and these have no changeover: "
        f"{', '.join(names)}. The run goes without the utility.",
        remedy='Take changeover out of the operation and say mode = "island", or use inverters '
        "that change over.",
    )


def changeover_unknown() -> Finding:
    """Say that there is a voltage to change over at, and nobody said whether all inverters do."""
    return unknown(
        CHANGEOVER,
        about="inverters",
        detail="There is a voltage to change over at; whether all inverters change over at all, "
        "nobody said. The run takes it that they do.",
        remedy="Find out what their changeover can be set to and put it in the build sheet.",
    )


def changeover_set(used: float, sheet: float | None) -> Finding:
    """Hold the changeover that is used against that of the settings sheet."""
    return at_least(
        CHANGEOVER_SET,
        VOLTAGE.of(used),
        None if sheet is None else VOLTAGE.of(sheet),
        about="changeover",
        otherwise=Severity.CAUTION,
        value_name="the changeover of the run",
        limit_name="that of the settings sheet",
        remedy="Enter the changeover of the settings sheet, or live with a smaller reserve.",
        ask="Clear the findings on the changeover.",
    )


def return_set(used: float | None, sheet: float | None, *, none: bool, asked: bool) -> Finding:
    """Hold the return that is used against that of the settings sheet.

    Parameters
    ----------
    none, asked : bool
        An inverter has no return; of one nobody said whether it has.
    """
    if none and used is not None:
        return state(
            RETURN_SET,
            Severity.STOP,
            about="return",
            detail="The run returns to the battery by itself, and an inverter has no return.",
            remedy="Take return_to_battery out of the operation, or use inverters that return by "
            "themselves.",
        )
    if none:
        return state(
            RETURN_SET,
            Severity.NOTE,
            about="return",
            detail="The inverters do not return by themselves; the run takes it that somebody "
            "returns the load to the battery when the pack is full.",
        )
    if used is None or asked:
        return unknown(
            RETURN_SET,
            about="return",
            detail="The return to the battery is not settled.",
            remedy="Clear the findings on the return to the battery.",
        )
    return at_least(
        RETURN_SET,
        VOLTAGE.of(used),
        None if sheet is None else VOLTAGE.of(sheet),
        about="return",
        otherwise=Severity.CAUTION,
        value_name="the return of the run",
        limit_name="that of the settings sheet",
        remedy="Enter the return of the settings sheet.",
        ask="Clear the findings on the return to the battery.",
    )


def days_drawn() -> Finding:
    """Say that the weather of a run is one of many."""
    return state(
        WEATHER,
        Severity.NOTE,
        about="sun",
        detail="Clear and dull days are drawn, the same ones in every run: this year is one of "
        "many. Another has longer dull times, and its fullest and emptiest days elsewhere.",
        remedy="Leave room for a worse year, or run several measured years as profiles.",
    )


def clouds_even(names: Sequence[str]) -> Finding:
    """Say that clouds that dim every hour alike hide what clear days and dull days do."""
    return state(
        WEATHER,
        Severity.CAUTION,
        about=", ".join(names),
        detail="Clouds dim every hour alike: full packs, sun left unused, and charging held back "
        "by the cold show less than they will be, and what the inverters carry shows more.",
        remedy='Say clouds = "days" in [[operation.sun]].',
    )


def no_clouds(names: Sequence[str]) -> Finding:
    """Say that a sky without a cloud all year is no weather."""
    return state(
        WEATHER,
        Severity.CAUTION,
        about=", ".join(names),
        detail="Nobody said what clouds leave, and the run has a clear sky all year: it shows far "
        "more sun than there will be.",
        remedy="Say weather in [[operation.sun]], for each month what the clouds leave.",
    )


def days_alike(names: Sequence[str]) -> Finding:
    """Say that a profile of one day has no weather and no seasons."""
    return state(
        WEATHER,
        Severity.CAUTION,
        about=", ".join(names),
        detail="Its sun repeats one day all the time: no dull days, no winter, and full packs and "
        "sun left unused show less than they will be.",
        remedy="Give a place with its weather, or a profile of a whole year.",
    )
