"""How much a charger may give: warm, in the cold, and the current at which the charge is over."""

from __future__ import annotations

from evpack.base.basis import Basis
from evpack.base.finding import Finding, Rule, Severity, Standing, at_least, unknown
from evpack.base.rounding import down_to_step
from evpack.base.units import CURRENT
from evpack.base.wording import said_number, say
from evpack.base.worked import Input, Worked, count, from_worked, known
from evpack.describe.charger import Charger
from evpack.describe.ranges import CurrentRange
from evpack.kernels.cold import charge_rate_limit
from evpack.outcome.groundwork import Groundwork
from evpack.outcome.settings import Act, Line, Setting
from evpack.setpoint.basics import ask_for, entered, offered, steps

CURRENT_KNOWN = Rule(
    key="charge-current.known",
    says="Where a charger gives more than its part, what its current can be set to must be known.",
    source="equipment-manual",
    stands=Standing.QUESTION,
)

CURRENT_SETTABLE = Rule(
    key="charge-current.settable",
    says="A charger whose current can be set must be able to be set as low as its part.",
    source="equipment-manual",
    stands=Standing.BOUND,
    clause="print of the module: charge current",
    kind=CURRENT,
)


def current_lines(
    ground: Groundwork, charger: Charger, allowed: Worked | None
) -> tuple[tuple[Setting, ...], list[Finding]]:
    """Return the current limits to enter, warm and in the cold, and what was found.

    Parameters
    ----------
    allowed : Worked or None
        One unit's part of the charge current that the pack takes, warm [A]; None is unknown.
    """
    line, found = _warm(charger, allowed)
    return (line, *_cold(ground, charger, allowed)), found


def _warm(charger: Charger, allowed: Worked | None) -> tuple[Setting, list[Finding]]:
    name, reach = Line.CURRENT, charger.current_setting
    if charger.current is None or allowed is None:
        return ask_for(
            name, "how much this charger gives, or how much the modules take", charger.where
        ), []
    own = float(charger.current.m)
    if isinstance(reach, CurrentRange):
        return _set_current(charger, reach, allowed)
    if reach is None and own > allowed.value:
        return ask_for(name, "which current limits can be entered", charger.where), [
            unknown(
                CURRENT_KNOWN,
                about=charger.name,
                detail=f"It gives {say(own, 'A')}; its part of what the pack takes is {allowed}, "
                "and nobody said what its current can be set to.",
                remedy="Find the range and step of its current limit and say current_setting; if "
                "it has none, say current_setting = 'none'.",
            )
        ]
    if own <= allowed.value:
        return Setting(
            name=name,
            act=Act.ENTER,
            entry=f"none needed, it gives {say(own, 'A')} at most",
            why=f"The pack takes all that this charger gives; its part would be {allowed}.",
            where=charger.where,
        ), []
    return Setting(
        name=name,
        act=Act.CANNOT,
        entry=f"fixed, {say(own, 'A')}",
        why="The current of this charger cannot be set; the findings say whether the pack takes "
        "it.",
        where=charger.where,
    ), []


def _lowest(reach: CurrentRange) -> float:
    """Return the lowest entry above 0 A: many devices take 0 for "no limit"."""
    return float(reach.low.m if reach.low.m > 0 else reach.step.m)


def least_current(charger: Charger) -> float | None:
    """Return the least that a charger gives when it is on [A]; None where nobody said."""
    if charger.current is None or charger.current_setting is None:
        return None
    if isinstance(charger.current_setting, CurrentRange):
        return _lowest(charger.current_setting)
    return float(charger.current.m)  # it cannot be set


def _set_current(
    charger: Charger, reach: CurrentRange, allowed: Worked
) -> tuple[Setting, list[Finding]]:
    name, lowest = Line.CURRENT, _lowest(reach)
    settable = at_least(
        CURRENT_SETTABLE,
        allowed,
        CURRENT.of(lowest),
        about=charger.name,
        otherwise=Severity.STOP,
        value_name="its part of what the pack takes",
        limit_name="the lowest current that can be entered",
        remedy="Leave this charger out of the build, use one that can be set lower, or add "
        "strings.",
    )
    if settable.holds:
        line = Setting(
            name=name,
            act=Act.CANNOT,
            entry="do not connect",
            not_connected=True,
            why=f"The lowest entry, {say(lowest, 'A')}, is above this charger's part of what "
            f"the pack takes, {allowed}.",
            offers=offered(reach),
            where=charger.where,
        )
        return line, [settable]
    first, step = steps(reach, charger.basis.of("current_setting"))
    most = known("most", "the device's highest entry", reach.high, step.basis)
    value = down_to_step(min(allowed.value, reach.high.m), first.value, step.value)
    line = Setting(
        name=name,
        act=Act.ENTER,
        entry=entered(value, "A"),
        shows=value,
        why="Keeps the sum of all chargers within what the pack takes, as this charger's part of "
        "it. In the cold a lower limit rules.",
        worked=Worked(
            name=name,
            kind=CURRENT,
            formula="down(min({I_part}, {most}), {from}, {step})",
            inputs=(from_worked("I_part", allowed), most, first, step),
            source="common-practice",
        ),
        offers=offered(reach),
        where=charger.where,
    )
    return line, [settable]


_NO_COLD_LIMIT = 15.0  # °C, from which on the cold sets no limit: the first of `cold.STEPS`


def _cold(ground: Groundwork, charger: Charger, allowed: Worked | None) -> tuple[Setting, ...]:
    """Return what to enter in the cold months, where the cells get that cold."""
    coldest, current = ground.build.site.coldest, charger.current
    if coldest is None or coldest.m >= _NO_COLD_LIMIT or allowed is None or current is None:
        return ()
    name, cold, own = Line.CURRENT_COLD, float(coldest.m), float(current.m)
    limit = ground.build.pack.module.chemistry.limits.charge_coldest.m
    rate = charge_rate_limit(cold) if cold >= limit else 0.0
    if rate <= 0:
        return (
            Setting(
                name=name,
                act=Act.ENTER,
                entry="no charge",
                why=f"The cells get as cold as {say(cold, '°C')}; below {say(limit, '°C')} they "
                "must not be charged at all. The cell monitoring has to block it.",
                where=charger.where,
            ),
        )
    total = sum(c.count * c.current.m for c in ground.build.all_chargers if c.current is not None)
    part = min(allowed.value, rate * ground.source.capacity * own / total)
    why = (
        f"Cells at {say(cold, '°C')} take {say(rate, '')} of the capacity an hour, all chargers "
        f"together; this is this charger's part, {say(part, 'A')}, rounded down."
    )
    reach, what, offers, worked = charger.current_setting, "turn this charger off", "", None
    if isinstance(reach, CurrentRange):
        offers = offered(reach)
        made = _cold_worked(ground, charger, reach, allowed=allowed, rate=rate, part=own / total)
        if made.value >= _lowest(reach):
            what, worked = entered(made.value, "A"), made
    elif own <= part:
        return ()
    else:
        why += " Its current cannot be set, or nobody said that it can."
    return (
        Setting(
            name=name,
            act=Act.ENTER,
            entry=what,
            shows=None if worked is None else worked.value,
            why=why,
            worked=worked,
            offers=offers,
            where=charger.where,
        ),
    )


def _cold_worked(
    ground: Groundwork,
    charger: Charger,
    reach: CurrentRange,
    *,
    allowed: Worked,
    rate: float,
    part: float,
) -> Worked:
    """Return what a charger may be set to in the cold, as its device takes it [A].

    Parameters
    ----------
    rate : float
        The most that cells so cold take, in capacities an hour.
    part : float
        What this charger gives of all [1].
    """
    first, step = steps(reach, charger.basis.of("current_setting"))
    pack = ground.build.pack
    inputs = (
        from_worked("I_part", allowed),
        Input("k_cold", "most of the capacity an hour, so cold", rate, "", Basis.ASSUMED),
        known("Q", "capacity", pack.capacity, pack.module.basis.of("capacity")),
        Input("k_own", "its part of what all chargers give", part, "", Basis.COMPUTED),
        known("most", "the device's highest entry", reach.high, step.basis),
        first,
        step,
    )
    return Worked(
        name=Line.CURRENT_COLD,
        kind=CURRENT,
        formula="down(min({I_part}, {k_cold} · {Q} · {k_own} / 1 h, {most}), {from}, {step})",
        inputs=inputs,
        source="common-practice",
    )


# Of what a charger gives, at which its absorption is over at the latest: a charger that never gives
# the pack's end current would end at once. Common practice, no source.
_END_PART = 0.5

# Longest absorption where a timer, not a current, ends it [min]. Common practice, no source.
_TIMER = {"flat": 60, "sloping": 15}


# The least end current, of capacity an hour: below it a charge takes long for little.
# Common practice, no source.
_LEAST_TAIL = 0.02


def end_current(ground: Groundwork) -> Worked:
    """Return the current at which one charger ends absorption [A].

    All chargers may be on at once, so each ends at its part of the pack's end current.
    """
    tail = ground.guard("k_tail", "tail_current")
    pack, units = ground.build.pack, sum(c.count for c in ground.build.all_chargers)
    capacity = known("Q", "capacity", pack.capacity, pack.module.basis.of("capacity"))
    least = Input("k_min", "least end current worth waiting for", _LEAST_TAIL, "", Basis.ASSUMED)
    return Worked(
        name=Line.END_CURRENT,
        kind=CURRENT,
        formula="{Q} · max({k_tail} / {N_ch}, {k_min}) / 1 h",
        inputs=(capacity, tail, count("N_ch", "chargers", max(units, 1)), least),
        source="common-practice",
    )


def _own_end(ground: Groundwork, charger: Charger, limit: Setting) -> Worked:
    """Return the current at which a charger ends absorption [A], within what it gives itself."""
    whole = end_current(ground)
    if limit.worked is not None:
        own = from_worked("I_own", limit.worked)
    elif charger.current is not None:
        own = known(
            "I_own", "current of this charger", charger.current, charger.basis.of("current")
        )
    else:
        return whole
    part = Input("k_end", "at the latest, of what it gives", _END_PART, "", Basis.ASSUMED)
    if whole.value <= own.value * part.value or own.value <= 0:
        return whole
    return Worked(
        name=whole.name,
        kind=CURRENT,
        formula="min({I_end}, {I_own} · {k_end})",
        inputs=(from_worked("I_end", whole), own, part),
        source="common-practice",
    )


def absorption_end(ground: Groundwork, charger: Charger, limit: Setting) -> tuple[Setting, Setting]:
    """Return the current and the time at which absorption ends.

    Parameters
    ----------
    limit : Setting
        The charger's current limit.
    """
    worked = _own_end(ground, charger, limit)
    share = worked.value / ground.source.capacity
    minutes = _TIMER["flat" if ground.build.pack.module.chemistry.flat else "sloping"]
    return (
        Setting(
            name=Line.END_CURRENT,
            act=Act.ENTER,
            entry=str(worked),
            shows=said_number(worked.value, worked.unit),
            why="The charge is over when this charger's current has fallen to this; holding on "
            "longer brings little charge and more wear. Where the device takes only a share of "
            f"the pack's capacity, enter {say(share, '')}.",
            worked=worked,
            where=charger.where,
        ),
        Setting(
            name=Line.ABSORPTION_TIME,
            act=Act.ENTER,
            entry=f"{minutes} min at most",
            why="Where the device ends absorption by a clock. Prefer the end current if it "
            "offers both.",
            where=charger.where,
        ),
    )
