"""The bus bars: what must flow there, and whether they carry it and are guarded."""

from __future__ import annotations

import math
from collections.abc import Mapping

import attrs

from evpack.base.basis import Basis
from evpack.base.finding import Finding, Rule, Severity, Standing, at_least, at_most, state, unknown
from evpack.base.units import CURRENT, TEMPERATURE
from evpack.base.wording import number, say_up
from evpack.base.worked import Input, Worked, count, known, stated
from evpack.describe.cabling import Busbar
from evpack.outcome.groundwork import Groundwork
from evpack.outcome.protection import MAIN, STRING, Circuit, FuseChoice, Need
from evpack.protect.bounds import continuous
from evpack.protect.stated import at_best_caution, to_buy

DESCRIBED = Rule(
    key="bar.described",
    says="Strings and devices join at bars made for the sum of what flows there.",
    source="common-practice",
    stands=Standing.BOUND,
    clause="NEC 215.2: what a conductor is made for",
)
CARRIES = Rule(
    key="bar.carries",
    says="The bars must carry the sum of what flows to or from all devices.",
    source="common-practice",
    stands=Standing.BOUND,
    clause="NEC 215.2(A), DIN 43671 for the bar that is stated; IEC 60364-4-43, 433.1",
    kind=CURRENT,
)
WARM = Rule(
    key="bar.warm",
    says="What a bar carries is told for air of 35 °C: in warmer air it carries less.",
    source="din-43671",
    stands=Standing.GUARD,
    kind=TEMPERATURE,
)
ENCLOSED = Rule(
    key="bar.enclosed",
    says="A bar in a box is cooled badly: about 1.6 A for each square millimetre is enough.",
    source="common-practice",
    stands=Standing.GUARD,
    kind=CURRENT,
)
GUARDED = Rule(
    key="bar.guarded",
    says="The bars have no fuse of their own: those of the strings together must guard them.",
    source="common-practice",
    stands=Standing.GUARD,
    kind=CURRENT,
)

# A/mm² of a bare copper bar in a box. Common practice, no source.
_ENCLOSED_DENSITY = 1.6
# What each further bar beside the first adds: they warm each other. Two carry some 1.7 times what
# one does (DIN 43671, from memory), more of them less each; half is on the safe side.
_BESIDE = 0.5
_TABLE_AIR = 35.0  # °C, DIN 43671
ASK_CURRENT = (
    "Give the inverters' output, efficiency, idle draw and window and the current of every charger."
)
# What the margin of a current that flows for hours is for.
FOR_HOURS = "hours of it and ripple"
_WHOLE_STEP = 10.0  # mm² that a person buys by are told in steps of this


@attrs.frozen(kw_only=True)
class Flow:
    """What a disconnect or a bar for everything must carry for good.

    Parameters
    ----------
    asked : Worked
        By the rule set [A].
    wished : Worked
        The same with our margin [A].
    """

    asked: Worked
    wished: Worked

    @property
    def words(self) -> str:
        """Return what a person looks for on a print."""
        asked, wished = say_up(self.asked.value, "A"), say_up(self.wished.value, "A")
        better = self.wished.value > self.asked.value and asked != wished
        return f"{asked} or more, better {wished}" if better else f"{asked} or more"


def through(ground: Groundwork, circuits: tuple[Circuit, ...]) -> Flow | None:
    """Return what a disconnect or a bar for everything must carry for good.

    All inverters at full output, or all chargers at their most, whichever is more: the one flows
    out and the other in. NEC rates what carries a continuous current for 125 % of it, IEC for the
    current itself; ripple and hours of it are our margin. None where a device does not say what
    it takes or gives.
    """
    mains = [(c.count, c.carries) for c in circuits if c.kind == MAIN]
    chargers = [(c.count, c.current) for c in ground.build.all_chargers]
    if any(amps is None for _, amps in (*mains, *chargers)):
        return None
    drawn = sum(units * worked.value for units, worked in mains if worked is not None)
    given = sum(units * float(amps.m) for units, amps in chargers if amps is not None)
    if max(drawn, given) <= 0:
        return None
    flows = _both_ways(ground, circuits, drawn, given)
    return Flow(asked=_asked(ground, flows), wished=_wished(ground, flows))


_EVERYTHING = "current of everything at once"


def _both_ways(
    ground: Groundwork, circuits: tuple[Circuit, ...], drawn: float, given: float
) -> tuple[Input, Input]:
    mains = tuple(c.carries for c in circuits if c.kind == MAIN and c.carries is not None)
    chargers = tuple(
        known("I", f"current of {c.name}", c.current, c.basis.of("current"))
        for c in ground.build.all_chargers
        if c.current is not None
    )
    return (
        Input("I_mains", "all inverter circuits together", drawn, "A", Basis.COMPUTED, mains),
        Input("I_charge", "all chargers together", given, "A", Basis.COMPUTED, chargers),
    )


def _asked(ground: Groundwork, flows: tuple[Input, Input]) -> Worked:
    factor = continuous(ground)
    return Worked(
        name=_EVERYTHING,
        kind=CURRENT,
        formula="max({I_mains}, {I_charge})" + ("" if factor is None else " · {k_c}"),
        inputs=(*flows, *(() if factor is None else (factor,))),
        source="iec-60364-4-43" if factor is None else "nec-706",
    )


def _wished(ground: Groundwork, flows: tuple[Input, Input]) -> Worked:
    factor, ripple = ground.guard("k_c", "continuous_factor"), ground.guard("k_r", "ripple")
    mains, charge = flows
    return Worked(
        name=f"{_EVERYTHING}, with our margin",
        kind=CURRENT,
        formula="max({I_mains} · {k_r}, {I_charge}) · {k_c}",
        inputs=(mains, ripple, charge, factor),
        source="common-practice",
    )


def bars(
    ground: Groundwork,
    circuits: tuple[Circuit, ...],
    fuses: Mapping[str, FuseChoice],
    flow: Flow | None,
) -> tuple[tuple[Need, ...], list[Finding]]:
    """Return what the bars must be, and what was found of them; `fuses` are by their place."""
    bar = ground.build.cabling.bar
    joined = ground.build.pack.strings + sum(c.count for c in circuits if c.source == "bus")
    alone = ground.build.pack.strings == 1
    if bar is None and alone and joined <= 2:  # noqa: PLR2004  (two ends make a cable, not a bar)
        return (), [
            state(
                DESCRIBED,
                Severity.OK,
                about="bus bars",
                detail="One string goes to one device: there is nothing to join.",
            )
        ]
    must = _must(flow)
    if bar is None:
        need = Need(what="bus bars", count=2, lines=_lines(flow), must=must)
        return (need,), [_none(ground, must, flow)]
    together = _together(bar)
    strings = _string_fuses(circuits, fuses)
    need = Need(
        what="bus bars",
        count=2 * bar.count,
        lines=_lines(flow, together, strings),
        must=must,
        stated=_said(bar),
    )
    found = [
        _told_of(bar, flow),
        _carries(bar, together, flow),
        *_warm(ground, bar),
        _enclosed(bar, flow),
        _guarded(bar, together, strings),
    ]
    return (need,), found


def _lines(flow: Flow | None, *others: Worked | None) -> tuple[Worked, ...]:
    flows = () if flow is None else (flow.asked, flow.wished)
    return tuple(line for line in (*flows, *others) if line is not None)


def _must(flow: Flow | None) -> tuple[str, ...]:
    size = "carries a current that cannot be told yet"
    if flow is not None:
        area = _WHOLE_STEP * math.ceil(flow.wished.value / _ENCLOSED_DENSITY / _WHOLE_STEP)
        size = (
            f"carries {flow.words} for good; in a box at {_ENCLOSED_DENSITY} A/mm² "
            f"that is {area:.0f} mm² of copper for each pole"
        )
    return (
        size,
        "joints overlap by the bar's width or more, bright metal, the bolt at its maker's torque",
        "strings and devices in turn along it, so that no part carries more than it must",
        "covered, plus and minus out of reach of one tool, fixed against the push of a short",
    )


def _none(ground: Groundwork, must: tuple[str, ...], flow: Flow | None) -> Finding:
    words = "; ".join(must)
    if flow is None:
        return unknown(
            DESCRIBED,
            about="bus bars",
            detail="None are described, and what they must carry cannot be told yet.",
            remedy=f"{ASK_CURRENT} What is asked of them: {words}.",
        )
    return to_buy(ground, DESCRIBED, "bars", "bus bars", words)


def _said(bar: Busbar) -> str:
    each = f"{1000 * bar.width.m:.4g} × {1000 * bar.thickness.m:.4g} mm"
    boxed = {True: "in a box", False: "in the open", None: "box or not is not stated"}
    beside = f"{bar.count} × " if bar.count > 1 else ""
    return f"{beside}{each} of copper for each pole, {bar.area:.4g} mm², {boxed[bar.enclosed]}"


def _told_of(bar: Busbar, flow: Flow | None) -> Finding:
    dense = ""
    if flow is not None:
        dense = f" {flow.asked} are {number(flow.asked.value / bar.area, 3)} A/mm²."
    return state(
        DESCRIBED,
        Severity.OK,
        about=bar.name,
        detail=f"They are described: {_said(bar)}.{dense}",
    )


def _together(bar: Busbar) -> Worked | None:
    """Return what the bars of a pole carry together [A]; None where nobody knows."""
    if bar.carries is None:
        return None
    one = known(
        "I_bar",
        f"what one bar carries{f' ({bar.conditions})' if bar.conditions else ''}",
        bar.carries,
        bar.basis.of("carries"),
    )
    if bar.count == 1:
        return Worked(
            name="what the bars carry",
            kind=CURRENT,
            formula="{I_bar}",
            inputs=(one,),
            source=bar.source,
        )
    beside = Input("k_b", "what each further bar adds", _BESIDE, "", Basis.ASSUMED)
    bars = count("N_b", "bars side by side", bar.count)
    return Worked(
        name="what the bars carry",
        kind=CURRENT,
        formula="{I_bar} · (1 + ({N_b} − 1) · {k_b})",
        inputs=(one, bars, beside),
        source=bar.source,
    )


def _warm(ground: Groundwork, bar: Busbar) -> list[Finding]:
    """Compare the warmest air with that of the table, where the bar is out of the table."""
    if bar.source != "din-43671":
        return []
    return [
        at_most(
            WARM,
            ground.build.site.warmest,
            TEMPERATURE.of(_TABLE_AIR),
            about=bar.name,
            otherwise=Severity.CAUTION,
            rests=stated(ground.build.site, "warmest"),
            value_name="the warmest air around it",
            limit_name="that of the table",
            remedy="Take a bar of a good fifth more than it must carry, or say what it carries by "
            "its maker at this temperature.",
            ask="Say warmest under [site].",
        )
    ]


def _string_fuses(circuits: tuple[Circuit, ...], fuses: Mapping[str, FuseChoice]) -> Worked | None:
    """Return what all string fuses let through together for good [A]; None without a size."""
    (string,) = (c for c in circuits if c.kind == STRING)
    fuse = fuses.get(string.place)
    if fuse is None or fuse.size is None:
        return None
    return Worked(
        name="all string fuses together",
        kind=CURRENT,
        formula="{N} · {I_fuse}",
        inputs=(
            count("N", "strings in parallel", string.count),
            Input("I_fuse", "string fuse", fuse.size, "A", Basis.CHOSEN),
        ),
        source="arithmetic",
    )


def _carries(bar: Busbar, together: Worked | None, flow: Flow | None) -> Finding:
    return at_best_caution(
        at_most(
            CARRIES,
            None if flow is None else flow.asked,
            together,
            about=bar.name,
            otherwise=Severity.STOP,
            value_name="all that flows there at once",
            limit_name="what the bars carry",
            guarded=None if flow is None else flow.wished.quantity,
            guarded_for=FOR_HOURS,
            remedy="Thicker or wider bars.",
            ask="Say carries under [cabling.bar], by the bar's maker; or take a size of the table."
            if together is None
            else ASK_CURRENT,
            assumed=() if flow is None else flow.asked.assumed,
        ),
        "current that one bar carries",
        bar.basis.of("carries"),
    )


def _enclosed(bar: Busbar, flow: Flow | None) -> Finding:
    """Judge the current for each mm²; a bar of which nobody said counts as enclosed."""
    if bar.enclosed is False:
        return state(
            ENCLOSED, Severity.OK, about=bar.name, detail="They stand in the open, cooled."
        )
    return at_least(
        ENCLOSED,
        CURRENT.of(_ENCLOSED_DENSITY * bar.area),
        None if flow is None else flow.wished,
        about=bar.name,
        otherwise=Severity.CAUTION,
        value_name=f"what {bar.area:.4g} mm² carry in a box at {_ENCLOSED_DENSITY} A/mm²",
        limit_name="all that flows there at once",
        remedy="More copper, or a box that is known to cool; feel it after an hour at full load.",
        ask=ASK_CURRENT,
    )


def _guarded(bar: Busbar, together: Worked | None, strings: Worked | None) -> Finding:
    return at_least(
        GUARDED,
        together,
        strings,
        about=bar.name,
        otherwise=Severity.CAUTION,
        value_name="what the bars carry",
        limit_name="all string fuses together",
        remedy="Thicker bars: a weak fault or an overload there may open no fuse.",
        ask="Say carries under [cabling.bar], by the bar's maker; or take a size of the table."
        if together is None
        else "See the findings on the string fuses: none is named yet.",
        assumed=() if together is None else together.assumed,
    )
