"""What the pack needs besides fuses and cables: disconnect, emergency disconnect, bars."""

from __future__ import annotations

from collections.abc import Mapping

from evpack.base.basis import Basis
from evpack.base.finding import Finding, Rule, Severity, Standing, at_least, at_most, state, unknown
from evpack.base.fitted import NOT_FITTED
from evpack.base.units import CURRENT, VOLTAGE
from evpack.base.wording import say, say_up
from evpack.base.worked import Worked
from evpack.describe.safeguards import Disconnect, EmergencyOff
from evpack.describe.site import Site
from evpack.outcome.groundwork import Groundwork
from evpack.outcome.protection import Circuit, FaultBand, FuseChoice, Need
from evpack.protect.bars import ASK_CURRENT, FOR_HOURS, Flow, bars, through
from evpack.protect.bounds import needed_voltage
from evpack.protect.stated import at_best_caution, to_buy

DISCONNECT = Rule(
    key="device.disconnect",
    says="A switch within reach and within sight of the pack takes it off everything.",
    source="nec-706",
    stands=Standing.BOUND,
    clause="NEC 706.15",
)
VOLTAGE_RATED = Rule(
    key="device.disconnect-voltage",
    says="The battery disconnect must break the DC voltage of the full pack.",
    source="nec-706",
    stands=Standing.BOUND,
    clause="print of the switch: DC voltage; NEC 706.15",
    kind=VOLTAGE,
)
CURRENT_RATED = Rule(
    key="device.disconnect-current",
    says="The battery disconnect must carry all that flows in or out of the pack.",
    source="nec-706",
    stands=Standing.BOUND,
    clause="print of the switch: DC current; NEC 215.3, 706.15; IEC 60364-4-43, 433.1",
    kind=CURRENT,
)
STANDS = Rule(
    key="device.disconnect-withstands",
    says="The battery disconnect must stand the fault current of the whole pack till the fuses "
    "before it have opened, closed as well as being closed on it.",
    source="iec-60947-3",
    stands=Standing.BOUND,
    clause="NEC 110.10; IEC 60947-3: rated conditional short-circuit current",
    kind=CURRENT,
)
BREAKS = Rule(
    key="device.disconnect-load",
    says="The battery disconnect is opened when something is wrong, and so under load.",
    source="common-practice",
    stands=Standing.BOUND,
    clause="NEC 404, 706.15: opened under load",
)
POLES = Rule(
    key="device.disconnect-poles",
    says="The battery disconnect must open every pole that is not earthed.",
    source="nec-480.7",
    stands=Standing.BOUND,
    clause="NEC 480.7 and 706.15: every ungrounded conductor",
)
POLARITY = Rule(
    key="device.disconnect-polarity",
    says="A switch that breaks current one way only must not stand where it flows both ways.",
    source="common-practice",
    stands=Standing.BOUND,
    clause="print of the switch: direction of current",
)
EMERGENCY = Rule(
    key="device.emergency",
    says="One hand, without passing the pack, must be able to open every string and stop all that "
    "charges and draws.",
    source="nec-706",
    stands=Standing.BOUND,
    clause="NEC 706.15(B): homes of one or two families (from memory)",
)


def devices(
    ground: Groundwork,
    circuits: tuple[Circuit, ...],
    fuses: Mapping[str, FuseChoice],
    fault: FaultBand,
) -> tuple[tuple[Need, ...], tuple[Finding, ...]]:
    """Return what is needed and what was found of it.

    Parameters
    ----------
    fuses : mapping
        By their place.
    fault : FaultBand
        That of the bus.
    """
    flow = through(ground, circuits)
    string = fuses.get(circuits[0].place)
    disconnect, of_disconnect = _disconnect(ground, flow, fault, string)
    emergency, of_emergency = _emergency(ground)
    joints, of_bars = bars(ground, circuits, fuses, flow)
    return (disconnect, emergency, *joints), (*of_disconnect, *of_emergency, *of_bars)


# --- The battery disconnect -------------------------------------------------------------------


_NOT_YET = "a current that cannot be told yet"


def _disconnect(
    ground: Groundwork, flow: Flow | None, band: FaultBand, string: FuseChoice | None
) -> tuple[Need, list[Finding]]:
    fitted, fault = ground.build.safeguards.disconnect, band.high
    volts, poles = needed_voltage(ground), _poles_needed(ground)
    carried = _NOT_YET if flow is None else flow.words
    opens = "every pole that is not earthed" if poles is None else _poles_said(poles)
    must = (
        f"is rated {say_up(volts.value, 'V')} DC or more, with its poles as they are wired",
        f"carries {carried}, DC for good",
        "may be opened under full load",
        f"opens {opens} at once",
        "may carry current both ways: not polarised",
        f"stands {say_up(fault.value, 'A')} or more till the fuses before it have opened",
        "within reach and within sight of the pack, can be locked open, marked with what it does",
    )
    need = Need(
        what="battery disconnect",
        count=1,
        lines=(volts, *(() if flow is None else (flow.asked, flow.wished)), fault),
        must=must,
        stated=_disconnect_said(fitted) if isinstance(fitted, Disconnect) else "",
    )
    if fitted is NOT_FITTED:
        return need, [
            state(
                DISCONNECT,
                Severity.STOP,
                about="battery disconnect",
                detail="There is none: nothing takes the pack off a fault or off the work of a "
                "person.",
                remedy=f"Fit one that: {'; '.join(must)}.",
            )
        ]
    if not isinstance(fitted, Disconnect):
        return need, [_undescribed(ground, must, flow)]
    found = [
        state(
            DISCONNECT,
            Severity.OK,
            about=fitted.name,
            detail=f"It is described: {need.stated}."
            if need.stated
            else "There is one; its ratings are asked for below.",
        ),
        *_ratings(fitted, volts, flow),
        _withstands(ground, fitted, band, string),
        *_manners(fitted),
        _opens(fitted, poles, ground.build.pack.earthed),
    ]
    return need, found


def _undescribed(ground: Groundwork, must: tuple[str, ...], flow: Flow | None) -> Finding:
    """Say what to buy; where that cannot be told, or nobody said that it will be, it is unknown."""
    words = "; ".join(must)
    if flow is None:
        return unknown(
            DISCONNECT,
            about="battery disconnect",
            detail="None is described, and what it must carry cannot be told yet.",
            remedy=f"{ASK_CURRENT} It must be one that: {words}.",
        )
    return to_buy(ground, DISCONNECT, "disconnect", "battery disconnect", words)


def _poles_needed(ground: Groundwork) -> int | None:
    """Return how many conductors it must open; None where nobody said whether one is earthed."""
    earthed = ground.build.pack.earthed
    return None if earthed is None else (2 if earthed == "none" else 1)


def _poles_said(poles: int) -> str:
    return "the pole that is not earthed" if poles == 1 else "plus and minus"


def _disconnect_said(fitted: Disconnect) -> str:
    words = []
    if fitted.dc_voltage is not None:
        words.append(f"{say(fitted.dc_voltage.m, 'V')} DC")
    if fitted.current is not None:
        words.append(say(fitted.current.m, "A"))
    if fitted.withstands is not None:
        words.append(f"stands {say(fitted.withstands.m, 'A')}")
    if fitted.poles is not None:
        words.append(f"{fitted.poles} pole{'s' if fitted.poles > 1 else ''}")
    for told, yes, no in (
        (fitted.breaks_load, "opens under load", "not to be opened under load"),
        (fitted.polarised, "polarised", "not polarised"),
    ):
        if told is not None:
            words.append(yes if told else no)
    return ", ".join([*words, fitted.place] if fitted.place else words)


def _ratings(fitted: Disconnect, volts: Worked, flow: Flow | None) -> list[Finding]:
    return [
        at_best_caution(
            at_least(
                VOLTAGE_RATED,
                fitted.dc_voltage,
                volts,
                about=fitted.name,
                otherwise=Severity.STOP,
                value_name="its DC voltage rating",
                limit_name="the voltage of the full pack",
                remedy=f"Fit one whose print says {say_up(volts.value, 'V')} DC or more.",
                ask="Say dc_voltage under [protection.disconnect]: the DC rating of its poles as "
                "they are wired, not an AC rating.",
                assumed=volts.assumed,
            ),
            "DC voltage rating",
            fitted.basis.of("dc_voltage"),
        ),
        at_best_caution(
            at_most(
                CURRENT_RATED,
                None if flow is None else flow.asked,
                fitted.current,
                about=fitted.name,
                otherwise=Severity.STOP,
                value_name="what it must carry for good",
                limit_name="its DC current rating",
                guarded=None if flow is None else flow.wished.quantity,
                guarded_for=FOR_HOURS,
                remedy="Fit one that is rated for more, or fewer or smaller devices.",
                ask="Say current under [protection.disconnect]."
                if fitted.current is None
                else ASK_CURRENT,
                assumed=() if flow is None else flow.asked.assumed,
            ),
            "DC current rating",
            fitted.basis.of("current"),
        ),
    ]


def _withstands(
    ground: Groundwork, fitted: Disconnect, band: FaultBand, string: FuseChoice | None
) -> Finding:
    fault = band.high
    family = None if string is None else string.family
    breakers = family is not None and family.kind == "breaker"
    if breakers and fitted.behind != "breakers" and fitted.withstands is not None:
        return unknown(
            STANDS,
            about=fitted.name,
            detail="What it withstands is told with fuses before it, and before it stand breakers, "
            "which limit no current.",
            remedy="Use fuses in the strings; or ask its maker what it withstands behind these "
            'breakers, and say that as withstands, and behind = "breakers", under '
            "[protection.disconnect].",
        )
    guessed = ground.build.pack.module.resistance is None
    found = at_least(
        STANDS,
        fitted.withstands,
        fault,
        about=fitted.name,
        otherwise=Severity.STOP,
        value_name="the short-circuit current that it stands",
        limit_name="the highest fault current of the pack",
        remedy=f"Fit one whose print says {say_up(fault.value, 'A')} or more with the fuses that "
        "stand before it.",
        ask="Say withstands under [protection.disconnect]: its rated conditional short-circuit "
        "current, with fuses like the string fuses before it.",
    )
    stated = fitted.withstands
    if stated is not None and found.holds and stated.m >= band.known_high:
        return unknown(
            STANDS,
            about=fitted.name,
            detail=f"Whether the {say(stated.m, 'A')} that it withstands are enough hangs on the "
            "ohmic part of the modules' resistance, which nobody measured: a fault is "
            f"{say_up(band.known_high, 'A')} if it is all of what was read over 10 s, up to "
            f"{say_up(fault.value, 'A')} if it is as little as is credible.",
            remedy=f"{found.remedy} Or measure the resistance within 0.1 s or at 1 kHz, and say "
            "its part as ohmic_part under [policy].",
        )
    if guessed:
        found = at_best_caution(found, "resistance of the modules", Basis.ASSUMED)
    return at_best_caution(
        found, "short-circuit current that it stands", fitted.basis.of("withstands")
    )


def _manners(fitted: Disconnect) -> list[Finding]:
    """Judge whether it opens under load, and both ways."""
    return [
        _yes_or_no(
            BREAKS,
            fitted,
            "breaks_load",
            needed=True,
            right="It may be opened under full load.",
            wrong="It may not be opened under load: its contacts burn, and the arc may not go out.",
            remedy="Fit one that is made to break the full DC current.",
        ),
        _yes_or_no(
            POLARITY,
            fitted,
            "polarised",
            needed=False,
            right="It breaks current both ways.",
            wrong="It is polarised, and here current flows in and out: opened against its "
            "direction it cannot put out the arc and may burn.",
            remedy="Fit one that is not polarised.",
        ),
    ]


def _yes_or_no(
    rule: Rule,
    fitted: Disconnect,
    field: str,
    *,
    needed: bool,
    right: str,
    wrong: str,
    remedy: str,
) -> Finding:
    told = getattr(fitted, field)
    if told is None:
        return unknown(
            rule,
            about=fitted.name,
            detail=f"Nobody said whether it is so: {field} is not given.",
            remedy=f"Read its print and say {field} under [protection.disconnect].",
        )
    if told is not needed:
        return state(rule, Severity.STOP, about=fitted.name, detail=wrong, remedy=remedy)
    return at_best_caution(
        state(rule, Severity.OK, about=fitted.name, detail=right),
        f"statement on {field}",
        fitted.basis.of(field),
    )


def _opens(fitted: Disconnect, needed: int | None, ground_pole: str | None) -> Finding:
    """Judge how many conductors it opens; two are enough whether one is earthed or not."""
    if fitted.poles is None:
        return unknown(
            POLES,
            about=fitted.name,
            detail="Nobody said how many conductors it opens.",
            remedy="Say poles under [protection.disconnect].",
        )
    if fitted.poles == 1 and needed is None:
        return unknown(
            POLES,
            about=fitted.name,
            detail="It opens one conductor, and nobody said whether the other is earthed.",
            remedy="Say earthed under [pack], or fit one that opens plus and minus.",
        )
    if needed is not None and fitted.poles < needed:
        return state(
            POLES,
            Severity.STOP,
            about=fitted.name,
            detail="It opens one conductor, and the pack is not earthed: the other stays joined.",
            remedy="Fit one that opens plus and minus at once.",
        )
    if fitted.poles == 1:
        live = "minus" if ground_pole == "plus" else "plus"
        return state(
            POLES,
            Severity.CAUTION,
            about=fitted.name,
            detail=f"It opens one conductor: that must be the {live}, and nobody can see here "
            "whether it is.",
            remedy=f"See that it stands in the {live}; or fit one that opens plus and minus.",
        )
    both = "plus and minus"
    return at_best_caution(
        state(POLES, Severity.OK, about=fitted.name, detail=f"It opens {both}."),
        "number of poles",
        fitted.basis.of("poles"),
    )


# --- The emergency disconnect -----------------------------------------------------------------

_EMERGENCY_MUST = (
    "opens every string, near its terminals",
    "stops everything that charges, solar chargers too",
    "stops the inverters",
    "is reached without passing the pack, from outside or by the way out",
    "is marked so that a stranger finds it",
    "stays off till somebody turns it on again by hand",
)
# (field, what it is not, what that means, how much it weighs). A string that stays joined feeds
# the fire, and nothing else opens it; all else can be switched off in other places too.
_EMERGENCY_DOES = (
    (
        "opens_every_string",
        "open every string",
        "a string that stays joined goes on feeding a fault",
        Severity.STOP,
    ),
    (
        "stops_charging",
        "stop the charging",
        "a charger keeps the bars live and may drive them up without the pack",
        Severity.CAUTION,
    ),
    (
        "stops_inverters",
        "stop the inverters",
        "they keep their AC side live as long as anything feeds them",
        Severity.CAUTION,
    ),
)


def _emergency(ground: Groundwork) -> tuple[Need, list[Finding]]:
    fitted = ground.build.safeguards.emergency_off
    need = Need(
        what="emergency disconnect",
        count=1,
        must=_EMERGENCY_MUST,
        stated=fitted.place if isinstance(fitted, EmergencyOff) else "",
    )
    words = "; ".join(_EMERGENCY_MUST)
    site = ground.build.site
    asked = site.rules == "nec" and site.at_home is not False
    if fitted is NOT_FITTED:
        return need, [_no_emergency(site, words, asked=asked)]
    if not isinstance(fitted, EmergencyOff) and asked:
        return need, [to_buy(ground, EMERGENCY, "emergency_off", "emergency disconnect", words)]
    if not isinstance(fitted, EmergencyOff):
        return need, [
            state(
                EMERGENCY,
                Severity.CAUTION,
                about="emergency disconnect",
                detail=f"Not specified. One is good to have that: {words}.",
                remedy="Fit one, and describe it under [protection.emergency_off].",
            )
        ]
    found = [_emergency_place(fitted)]
    most = Severity.STOP if asked else Severity.CAUTION
    if asked and site.at_home is None:
        most = Severity.UNKNOWN
    found += [
        _emergency_does(fitted, field, what, because, min(weighs, most))
        for field, what, because, weighs in _EMERGENCY_DOES
    ]
    return need, found


_ASK_HOME = (
    "Say what kind of place it is (kind under [site]) and, of an outbuilding, whether it belongs "
    "to a home (serves_home = true or false): a home must have one, wherever the pack stands."
)


def _no_emergency(site: Site, words: str, *, asked: bool) -> Finding:
    """Judge a pack without one; NEC 706.15(B) asks for it at homes, wherever the pack stands."""
    about = "emergency disconnect"
    detail = (
        "There is none: when something burns, nobody can take the pack off without going to it."
    )
    remedy = f"Fit one that: {words}."
    if asked and site.at_home is None:
        ask = _ASK_HOME
        return unknown(EMERGENCY, about=about, detail=detail, remedy=f"{ask} {remedy}")
    severity = Severity.STOP if asked else Severity.CAUTION
    return state(EMERGENCY, severity, about=about, detail=detail, remedy=remedy)


def _emergency_place(fitted: EmergencyOff) -> Finding:
    if not fitted.place.strip():
        return unknown(
            EMERGENCY,
            about=fitted.name,
            detail="Nobody said where it is reached.",
            remedy="Say place under [protection.emergency_off]: it must be reached without "
            "passing the pack.",
        )
    return at_best_caution(
        state(
            EMERGENCY,
            Severity.OK,
            about=fitted.name,
            detail=f"It is reached here: {fitted.place}. Nobody should have to pass the pack.",
        ),
        "place",
        fitted.basis.of("place"),
    )


def _emergency_does(
    fitted: EmergencyOff, field: str, what: str, because: str, weighs: Severity
) -> Finding:
    does = getattr(fitted, field)
    if does is None:
        return unknown(
            EMERGENCY,
            about=fitted.name,
            detail=f"Nobody said whether it does {what}.",
            remedy=f"Say {field} under [protection.emergency_off].",
        )
    if not does:
        return state(
            EMERGENCY,
            weighs,
            about=fitted.name,
            detail=f"It does not {what}: {because}.",
            remedy=f"{_ASK_HOME} " * (weighs is Severity.UNKNOWN) + f"Let it {what}.",
        )
    return at_best_caution(
        state(EMERGENCY, Severity.OK, about=fitted.name, detail=f"It does {what}."),
        f"statement on {field}",
        fitted.basis.of(field),
    )
