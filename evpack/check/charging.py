"""Do the modules stand what charges them, warm, cold, and with one string out?"""

from __future__ import annotations

from evpack.base.finding import Finding, Rule, Severity, Standing, at_most, state, unknown
from evpack.base.units import CURRENT
from evpack.base.wording import say
from evpack.base.worked import stated
from evpack.describe.charger import TURNED_OFF, Charger
from evpack.describe.ranges import VoltageRange
from evpack.kernels.cold import charge_rate_limit
from evpack.outcome.groundwork import Groundwork
from evpack.outcome.settings import Line, SettingsSheet

CHARGE = Rule(
    key="charging.limit",
    says="All chargers together must not give more than the modules take.",
    source="module-datasheet",
    stands=Standing.BOUND,
    clause="print of the module: charge current",
    kind=CURRENT,
)
CHARGE_RATE = Rule(
    key="charging.rate",
    says="Salvaged cells are charged gently.",
    source="common-practice",
    stands=Standing.GUARD,
    kind=CURRENT,
)
CHARGE_COLD = Rule(
    key="charging.cold",
    says="The colder the cells, the less charge current they take without harm.",
    source="common-practice",
    stands=Standing.GUARD,
    kind=CURRENT,
)
CHARGE_HOT = Rule(
    key="charging.hot",
    says="Cells are not charged above their temperature limit.",
    source="cell-limits",
    stands=Standing.BOUND,
    clause="print of the cell: charge temperature",
)
CHARGE_ONE_OUT = Rule(
    key="charging.one-out",
    says="With one string out, the chargers must not give the others more than they take.",
    source="module-datasheet",
    stands=Standing.BOUND,
    clause="print of the module: charge current",
    kind=CURRENT,
)
NO_CHARGER = Rule(
    key="charging.no-charger",
    says="What charges the pack must be known: a charger that nobody thought of charges with "
    "whatever it came with.",
    source="common-practice",
    stands=Standing.QUESTION,
)
KEPT_OFF = Rule(
    key="charging.kept-off",
    says="A charger that is kept off counts nowhere only as long as it stays off.",
    source="common-practice",
    stands=Standing.REMARK,
)
# Capacities an hour above which charging salvaged cells asks for a word whatever the policy says.
# Common practice, no source.
_FAST_CHARGE = 0.5


def charging(ground: Groundwork, settings: SettingsSheet) -> tuple[Finding, ...]:
    """Return the findings on every current that goes into the modules."""
    return (
        *_chargers_known(ground),
        *(_kept_off(ground, charger) for charger in ground.build.kept_off),
        *_warm(ground, settings),
    )


def charge_current_set(ground: Groundwork, settings: SettingsSheet) -> float | None:
    """Return what all chargers give together once set [A]; None where one is unknown."""
    total = 0.0
    for charger in ground.build.all_chargers:
        device = settings.device(charger.name)
        line = device.line(Line.CURRENT) if device else None
        if charger.current is None:
            return None
        entered = line.worked.value if line is not None and line.worked is not None else None
        # Where nothing is entered the charger gives all it has.
        total += charger.count * (charger.current.m if entered is None else entered)
    return total


def _chargers_known(ground: Groundwork) -> list[Finding]:
    build, found = ground.build, []
    if not build.all_chargers:
        found.append(
            unknown(
                NO_CHARGER,
                about="pack",
                detail="Every charger of the sheet is kept off."
                if build.kept_off
                else "Nobody said what charges this pack.",
                remedy="Describe it in a section [[charger]], or under [inverter.charger].",
            )
        )
    found += [
        unknown(
            NO_CHARGER,
            about=inverter.name,
            detail="Nobody said whether it has a built-in charger.",
            remedy="Describe it under [inverter.charger]; if you do not use it, kept_off = "
            "'turned off' or 'not wired' there is enough. Or say charger = 'none' under "
            "[[inverter]].",
        )
        for inverter in build.inverters
        if inverter.charger is None
    ]
    return found


def _kept_off(ground: Groundwork, charger: Charger) -> Finding:
    """Say what keeps a charger off, and what it would do if it were on."""
    if charger.kept_off == TURNED_OFF:
        gives = (
            "as much as it can"
            if charger.current is None
            else say(charger.count * charger.current.m, "A")
        )
        return state(
            KEPT_OFF,
            Severity.CAUTION,
            about=charger.name,
            detail="It is turned off and still joined to its supply. A menu or a reset turns it "
            f"on, and it then charges with {gives} at a voltage that nobody set.",
            remedy="Prove that it gives nothing, and again after every reset and update. Or leave "
            "its supply unwired, and say kept_off = 'not wired'.",
        )
    switched = [
        inverter
        for inverter in ground.build.inverters
        if isinstance(inverter.charger, Charger)
        and inverter.charger.name == charger.name
        and inverter.charger.source == "mains"
        and isinstance(inverter.changeover, VoltageRange)
    ]
    if switched:
        return state(
            KEPT_OFF,
            Severity.CAUTION,
            about=charger.name,
            detail=f"It is said to be not wired, and {switched[0].name} takes the load to the "
            "utility: then mains reaches the device.",
            remedy="If load and charger share one mains input, say kept_off = 'turned off'. If the "
            "utility is not joined at all, say changeover = 'none' under [[inverter]].",
        )
    return state(
        KEPT_OFF,
        Severity.NOTE,
        about=charger.name,
        detail="It is not wired, and counts nowhere here.",
    )


def _warm(ground: Groundwork, settings: SettingsSheet) -> list[Finding]:
    build, figures = ground.build, ground.figures
    if not build.all_chargers:
        return []
    total = charge_current_set(ground, settings)
    amount = None if total is None else CURRENT.of(total)
    limit = figures.charge_limit
    rate = build.policy.charge_rate.m
    common = {
        "about": "all chargers",
        "value_name": "the charge current of all chargers as set",
        "ask": "Find out what each charger gives, and what the modules take when charging.",
    }
    found = [
        at_most(
            CHARGE,
            amount,
            limit,
            otherwise=Severity.STOP,
            limit_name="the charge limit of the modules",
            remedy="Set a lower charge current, or use fewer or smaller chargers.",
            **common,
        ),
        at_most(
            CHARGE_RATE,
            amount,
            CURRENT.of(min(rate, _FAST_CHARGE) * figures.capacity.value),
            rests=(*ground.chargers, figures.capacity),
            otherwise=Severity.CAUTION,
            limit_name=f"{say(min(rate, _FAST_CHARGE), '')} of the capacity an hour",
            remedy="Set a lower charge current, or accept faster ageing knowingly.",
            **common,
        ),
    ]
    strings, module_limit = build.pack.strings, build.pack.module.charge_limit
    if strings > 1:
        uneven = ground.unevenness(strings - 1)
        found.append(
            at_most(
                CHARGE_ONE_OUT,
                None if amount is None else CURRENT.of(amount.m / (strings - 1) * uneven),
                module_limit,
                rests=(*ground.chargers, *stated(ground.build.pack.module, "charge_limit")),
                about="all chargers",
                otherwise=Severity.CAUTION,
                value_name="the charge current of a string with one string out",
                limit_name="the charge limit of a module",
                remedy="Fit an alarm that tells when a string is out, and then charge with "
                f"{say((strings - 1) * module_limit.m / uneven, 'A')} at most, all chargers "
                "together; or enter that from the start."
                if module_limit is not None
                else "",
                ask=common["ask"],
            )
        )
    return [*found, *_cold_and_hot(ground, amount.m if amount is not None else None)]


def _cold_and_hot(ground: Groundwork, total: float | None) -> list[Finding]:
    site, limits = ground.build.site, ground.build.pack.module.chemistry.limits
    found = []
    if site.coldest is None:
        found.append(
            unknown(
                CHARGE_COLD,
                about="all chargers",
                detail="Nobody said how cold the cells get.",
                remedy="Say coldest under [site].",
            )
        )
    else:
        cold = float(site.coldest.m)
        allowed = charge_rate_limit(cold) if cold >= limits.charge_coldest.m else 0.0
        found.append(
            at_most(
                CHARGE_COLD,
                None if total is None else CURRENT.of(total),
                CURRENT.of(allowed * ground.figures.capacity.value),
                rests=(*ground.chargers, ground.figures.capacity),
                about="all chargers",
                otherwise=Severity.CAUTION,
                value_name="the charge current of all chargers as set",
                limit_name=f"what cells at {say(cold, '°C')} take",
                remedy="Below this temperature no charge at all: let the cell monitoring block it, "
                "or keep the cells warm."
                if allowed <= 0
                else "In the cold months enter the limits 'in the cold' of the settings sheet, or "
                "keep the cells warm.",
                ask="Find out what each charger gives.",
            )
        )
    if site.warmest is None:
        hot = unknown(
            CHARGE_HOT,
            about="all chargers",
            detail="Nobody said how warm the cells get.",
            remedy="Say warmest under [site].",
        )
    elif site.warmest.m > limits.charge_hottest.m:
        hot = state(
            CHARGE_HOT,
            Severity.CAUTION,
            about="all chargers",
            detail=f"The cells get as warm as {say(site.warmest.m, '°C')}; above "
            f"{say(limits.charge_hottest.m, '°C')} they are not charged.",
            remedy="Shade and air the place, and let the cell monitoring block hot charging.",
        )
    else:
        hot = state(
            CHARGE_HOT,
            Severity.OK,
            about="all chargers",
            detail=f"The cells get as warm as {say(site.warmest.m, '°C')}; they may be charged "
            f"up to {say(limits.charge_hottest.m, '°C')}.",
        )
    return [*found, hot]
