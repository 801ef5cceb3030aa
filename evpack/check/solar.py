"""Does each solar array suit its charger, on the coldest morning and on the hottest day?"""

from __future__ import annotations

from evpack.base.basis import Basis
from evpack.base.finding import Finding, Rule, Severity, Standing, at_least, at_most, state, unknown
from evpack.base.fitted import NOT_FITTED
from evpack.base.units import VOLTAGE, Quantity
from evpack.base.wording import say
from evpack.base.worked import Worked
from evpack.check.solar_input import inputs, only_if_read
from evpack.check.solar_numbers import (
    REAL_LEAST,
    Factors,
    cold_open,
    hot_working,
    into_battery,
    rated_open,
    rated_power,
    rated_working,
    real_power,
    short,
)
from evpack.describe.array import Array
from evpack.describe.charger import Charger
from evpack.outcome.design import SolarSide
from evpack.outcome.groundwork import Groundwork

DESCRIBED = Rule(
    key="solar.described",
    says="What feeds a solar charger must be known, or be said to be settled elsewhere.",
    source="common-practice",
    stands=Standing.QUESTION,
)
FEEDS = Rule(
    key="solar.feeds",
    says="Solar panels go to a solar charger and to nothing else.",
    source="equipment-manual",
    stands=Standing.BOUND,
    clause="print of the charger: what its input is made for",
)
COLD = Rule(
    key="solar.cold-voltage",
    says="On the coldest morning an array must not exceed what its charger's input stands.",
    source="nec-690.7",
    stands=Standing.BOUND,
    clause="NEC 690.7(A); print of the charger: highest input voltage",
    kind=VOLTAGE,
)
HEADROOM = Rule(
    key="solar.cold-headroom",
    says="A colder morning than any on record should not break the charger.",
    source="common-practice",
    stands=Standing.GUARD,
    kind=VOLTAGE,
)
START = Rule(
    key="solar.start",
    says="On the hottest day an array must still lie above the battery, or it charges no more.",
    source="common-practice",
    stands=Standing.BOUND,
    clause="print of the charger: start voltage of its input",
    kind=VOLTAGE,
)
TOUCH = Rule(
    key="solar.touch",
    says="Panels in daylight cannot be switched off.",
    source="iec-touch-voltage",
    stands=Standing.REMARK,
    kind=VOLTAGE,
)
YIELD = Rule(
    key="solar.yield",
    says="Panels seldom give what is printed on them.",
    source="pv-losses",
    stands=Standing.REMARK,
)

# Common practice, no source.
_HEADROOM = 0.05  # of the charger's limit, to keep above the coldest morning
_START_ABOVE = 5.0  # how far above the battery a charger starts, where nobody said [V]
_TOUCH = 60.0  # DC that is no danger to dry hands [V]


def solar_sides(
    ground: Groundwork, cold_factors: Factors
) -> tuple[tuple[SolarSide, ...], tuple[Finding, ...]]:
    """Return each array on its charger and what was found of it.

    Parameters
    ----------
    cold_factors : tuple of (float, float)
        The coldest air that a row of the table covers [°C] and its factor on the open-circuit
        voltage, warmest row first.
    """
    build, sides, found = ground.build, [], []
    for charger in build.all_chargers:
        arrays = [array for array in build.solar_arrays if array.feeds == charger.name]
        own = [_side(ground, array, charger, cold_factors) for array in arrays]
        sides += own
        found += _described(ground, charger, arrays)
        if charger.source != "solar":
            continue
        found += inputs(charger, arrays)
        for array, side in zip(arrays, own, strict=True):
            found += _cold(ground, array, side, charger)
            found.append(_start(ground, array, side, charger))
            found += [_touch(array, side), _yield(array, side)]
    return tuple(sides), tuple(found)


def _side(ground: Groundwork, array: Array, charger: Charger, cold_factors: Factors) -> SolarSide:
    site, rated = ground.build.site, rated_power(array)
    real = real_power(rated)
    return SolarSide(
        array=array.name,
        charger=charger.name,
        cold_open=cold_open(array, site, cold_factors),
        hot_working=hot_working(array, site),
        short=short(array),
        rated=rated,
        real=real,
        into_battery=into_battery(ground, charger, real),
    )


def _described(ground: Groundwork, charger: Charger, arrays: list[Array]) -> list[Finding]:
    """Find whether anybody said what feeds a solar charger, and whether panels feed another."""
    if charger.source != "solar":
        return [
            state(
                FEEDS,
                Severity.STOP,
                about=array.name,
                detail=f"It is to feed {charger.name}, which is a {charger.source} charger.",
                remedy="Let it feed a solar charger; if the device has a solar input too, describe "
                'that in a section [[charger]] of its own with source = "solar".',
            )
            for array in arrays
        ]
    if not arrays:
        if ground.build.arrays is NOT_FITTED:
            return [
                state(
                    DESCRIBED,
                    Severity.CAUTION,
                    about=charger.name,
                    detail="The solar side is said to be settled elsewhere and is not judged.",
                    remedy="See that somebody has checked the array's cold voltage and its "
                    "short-circuit current against this charger.",
                )
            ]
        return [
            unknown(
                DESCRIBED,
                about=charger.name,
                detail="Nobody said what panels feed it.",
                remedy='Describe them in a section [[pv]], or say pv = "none" if the solar side '
                "is settled elsewhere.",
            )
        ]
    names, several = " and ".join(array.name for array in arrays), charger.count > 1
    fed = [
        state(
            DESCRIBED,
            Severity.NOTE if several else Severity.OK,
            about=charger.name,
            detail=f"Each of the {charger.count} is taken to have panels of its own like {names}."
            if several
            else f"Fed by {names}.",
        )
    ]
    return fed + [
        state(
            FEEDS,
            Severity.OK,
            about=array.name,
            detail=f"It feeds {charger.name}, a solar charger.",
        )
        for array in arrays
    ]


def _cold(ground: Groundwork, array: Array, side: SolarSide, charger: Charger) -> list[Finding]:
    cold, limit = side.cold_open, charger.pv_highest
    assumed = [] if cold is None else list(cold.assumed)
    if charger.basis.of("pv_highest") is Basis.ASSUMED:
        assumed.append("highest voltage of the charger's solar input")
    site = ground.build.site
    out, room = site.coldest_outside, site.coldest
    if out is not None and room is not None and out.m > room.m:
        return [
            unknown(
                COLD,
                about=array.name,
                detail=f"The coldest air outside, {say(out.m, '°C')}, is said to be warmer than "
                f"the coldest at the pack, {say(room.m, '°C')}: a minus may be missing.",
                remedy="Say coldest_outside under [site] once more; where the pack's place is the "
                "colder one, say the same for both.",
            )
        ]
    slipped = _too_little(array)
    if slipped:
        return [
            unknown(
                COLD,
                about=array.name,
                detail=slipped,
                remedy=f"Read the coefficient of {array.name} again: as "
                '"-0.28 %/K" or in volts per kelvin of one panel, as "-0.12 V/K"; or leave it out '
                "and say crystalline = true where its cells are of crystalline silicon.",
            )
        ]
    if cold is None:
        first = unknown(
            COLD,
            about=array.name,
            detail="Its voltage on the coldest morning is not known.",
            remedy=_ask_for_cold(ground, array),
        )
    else:
        first = at_most(
            COLD,
            cold,
            limit,
            about=array.name,
            otherwise=Severity.STOP,
            value_name="its voltage on the coldest morning",
            limit_name=f"the highest that {charger.name} stands",
            remedy="Fewer panels in series, or a charger for a higher voltage. A charger dies of "
            "this on the first cold clear morning.",
            ask=f"Say pv_highest of {charger.name}.",
            assumed=tuple(assumed),
        )
    if cold is None or limit is None or first.severity is Severity.STOP:
        return [first]
    return [
        only_if_read(first),
        at_most(
            HEADROOM,
            cold,
            VOLTAGE.of((1 - _HEADROOM) * limit.m),
            about=array.name,
            otherwise=Severity.CAUTION,
            value_name="its voltage on the coldest morning",
            limit_name=f"what leaves {_HEADROOM * 100:g} % of headroom",
            remedy="Fewer panels in series, if the hottest day allows it.",
            assumed=tuple(assumed),
        ),
    ]


# Panels on the market rise by 0.2 to 0.4 % for each kelvin that they are colder. Less than this is
# a slip of the decimal point or of the unit. Common practice, no source.
_LEAST_RISE = 0.0015


def _too_little(array: Array) -> str:
    """Say that a coefficient is less than any panel has; empty where it is not."""
    relative = array.relative(array.coefficient, array.open_circuit)
    if relative is None or relative <= -_LEAST_RISE:
        return ""
    return (
        f"Its coefficient says that it rises by {say(-relative, '')} a kelvin in the cold. "
        f"No panel known rises by less than {say(_LEAST_RISE, '')}: a decimal point or a "
        "unit may have slipped."
    )


def _ask_for_cold(ground: Groundwork, array: Array) -> str:
    """Say which lines the build sheet lacks for the voltage on the coldest morning."""
    wanted = []
    if array.open_circuit is None:
        wanted.append(f"open_circuit of {array.name} under [[pv]]")
    if ground.build.site.coldest_outside is None:
        wanted.append("coldest_outside under [site]")
    if array.coefficient is None:
        wanted.append(
            f"coefficient of {array.name} under [[pv]] (the table for crystalline silicon does not "
            "reach that far)"
            if array.crystalline and not wanted
            else f"coefficient of {array.name} under [[pv]], or crystalline = true where its cells "
            "are of crystalline silicon"
        )
    return f"Say in the build sheet: {'; '.join(wanted)}."


def _start(ground: Groundwork, array: Array, side: SolarSide, charger: Charger) -> Finding:
    """Compare an array with the charged battery: at its best first, then on the hottest day."""
    full, lift = ground.figures.charge_target, charger.pv_above_battery
    needed = VOLTAGE.of(full.value + (_START_ABOVE if lift is None else float(lift.m)))
    assumed = () if side.hot_working is None else side.hot_working.assumed
    if lift is None:
        assumed = (*assumed, "how far above the battery the charger starts")
    common = {
        "about": array.name,
        "limit_name": "the charged battery and what the charger needs above it",
        "assumed": assumed,
    }
    best = _best(array, side)
    if best is not None:
        never = at_least(
            START,
            best,
            needed,
            otherwise=Severity.STOP,
            value_name="its voltage even at its best",
            remedy="More panels in series: this battery is never charged by it.",
            **common,
        )
        if never.severity is Severity.STOP:
            return never
    return at_least(
        START,
        side.hot_working,
        needed,
        otherwise=Severity.CAUTION,
        # Without it nobody can tell whether it ever charges; without the heat, only how well.
        missing=Severity.UNKNOWN if array.maximum_power_voltage is None else None,
        value_name="its working voltage on the hottest day",
        remedy="One more panel in series, if the coldest morning allows it; or expect little on "
        "hot days while the battery is nearly full.",
        ask=f"Say maximum_power_voltage of {array.name} under [[pv]], and warmest_outside under "
        "[site].",
        **common,
    )


def _best(array: Array, side: SolarSide) -> Quantity | None:
    """Return the working voltage at 25 °C, else the highest open-circuit voltage known."""
    found: Worked | None = rated_working(array) or side.cold_open or rated_open(array)
    return None if found is None else found.quantity


def _touch(array: Array, side: SolarSide) -> Finding:
    volts = side.cold_open or rated_open(array)
    warning = "Panels give it in daylight whatever is switched off: cover them, or work at night."
    if volts is None:
        return state(
            TOUCH,
            Severity.NOTE,
            about=array.name,
            detail=f"Its voltage is not known: take it as above {say(_TOUCH, 'V')}. {warning}",
        )
    return at_most(
        TOUCH,
        volts,
        VOLTAGE.of(_TOUCH),
        about=array.name,
        otherwise=Severity.NOTE,
        value_name="its highest voltage",
        limit_name="the limit for dry touch",
        remedy=warning,
    )


def _yield(array: Array, side: SolarSide) -> Finding:
    if side.rated is None or side.real is None:
        detail = "Its rated power is not stated, so what it gives is not told."
    else:
        least = say(REAL_LEAST * side.rated.value, "W")
        detail = f"Of {side.rated} rated expect {least} to {side.real} on a good day"
        detail += f", up to {side.into_battery} into the battery." if side.into_battery else "."
    return state(YIELD, Severity.NOTE, about=array.name, detail=detail)
