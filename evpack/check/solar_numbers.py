"""The numbers of a solar array: cold, hot, shorted, rated, and real; None is unknown."""

from __future__ import annotations

from evpack.base.basis import Basis
from evpack.base.units import COMPENSATION, CURRENT, POWER, VOLTAGE, Quantity
from evpack.base.worked import Input, Worked, count, from_worked, known
from evpack.describe.array import Array
from evpack.describe.charger import Charger
from evpack.describe.site import Site
from evpack.kernels.solar import STANDARD_CELL, cold_factor
from evpack.outcome.groundwork import Groundwork

Factors = tuple[tuple[float, float], ...]

# Common practice, no source: cells in full sun are about 30 K warmer than the air, and silicon
# loses at most 0.5 % of its working voltage for each kelvin (0.3 to 0.45 % is usual).
HOT_CELL_RISE = 30.0
ASSUMED_POWER_COEFFICIENT = -0.005
# NEC 690.8(A)(1): sunlight may be stronger than the 1000 W/m² that panels are rated at.
STRONG_SUN = 1.25
# What is left of the rating on a good day. The upper end is a published sum of losses, 14 %; the
# lower one common practice, no source.
REAL_LEAST, REAL_MOST = 0.70, 0.86


def _panels(array: Array) -> Input:
    return count("n_s", "panels in series", array.in_series)


def _strings(array: Array) -> Input:
    return count("N", "strings in parallel", array.in_parallel)


def _of_panel(array: Array, symbol: str, field: str, means: str) -> Input | None:
    value: Quantity | None = getattr(array, field)
    return None if value is None else known(symbol, means, value, array.basis.of(field))


def _reference() -> Input:
    return Input("T_ref", "cell temperature of the rating", STANDARD_CELL, "°C", Basis.COMPUTED)


def rated_open(array: Array) -> Worked | None:
    """Return the open-circuit voltage of a string with its cells at 25 °C [V]."""
    panel = _of_panel(array, "V_oc", "open_circuit", "open-circuit voltage of a panel")
    return None if panel is None else _in_series(array, "open-circuit voltage at 25 °C", panel)


def rated_working(array: Array) -> Worked | None:
    """Return the voltage of a string at maximum power with its cells at 25 °C [V]."""
    panel = _of_panel(array, "V_mp", "maximum_power_voltage", "voltage of a panel at maximum power")
    return None if panel is None else _in_series(array, "working voltage at 25 °C", panel)


def _in_series(array: Array, name: str, panel: Input) -> Worked:
    return Worked(
        name=name,
        kind=VOLTAGE,
        formula=f"{{n_s}} · {{{panel.symbol}}}",
        inputs=(_panels(array), panel),
        source="arithmetic",
    )


def cold_open(array: Array, site: Site, factors: Factors) -> Worked | None:
    """Return the open-circuit voltage of a string on the coldest morning [V].

    The cells are as cold as the air then. A place never colder than 25 °C earns nothing.
    """
    panel = _of_panel(array, "V_oc", "open_circuit", "open-circuit voltage of a panel")
    if panel is None or site.coldest_outside is None:
        return None
    name = "open-circuit voltage on the coldest morning"
    air = known(
        "T_cold", "coldest air outside", site.coldest_outside, site.basis.of("coldest_outside")
    )
    if air.value >= STANDARD_CELL:
        return _in_series(array, name, panel)
    coefficient = _of_panel(
        array, "β", "coefficient", "temperature coefficient of the open-circuit voltage"
    )
    if coefficient is not None:
        return _at_temperature(array, name, panel, coefficient, air, source="nec-690.7")
    factor = cold_factor(air.value, factors) if array.crystalline else None
    if factor is None:
        return None
    row = Input(
        "k_cold",
        "factor of the table for crystalline silicon at the coldest air",
        factor,
        "",
        array.basis.of("crystalline"),
    )
    return Worked(
        name=name,
        kind=VOLTAGE,
        formula="{n_s} · {V_oc} · {k_cold}",
        inputs=(_panels(array), panel, row),
        source="nec-690.7",
    )


def hot_working(array: Array, site: Site) -> Worked | None:
    """Return the voltage of a string at maximum power on the hottest day [V]."""
    panel = _of_panel(array, "V_mp", "maximum_power_voltage", "voltage of a panel at maximum power")
    if panel is None or site.warmest_outside is None:
        return None
    coefficient = _of_panel(
        array, "γ", "power_coefficient", "temperature coefficient of the voltage at maximum power"
    ) or Input(
        "γ",
        "temperature coefficient of the voltage at maximum power",
        ASSUMED_POWER_COEFFICIENT,
        "1/K",
        Basis.ASSUMED,
    )
    cell = Input(
        "T_cell",
        f"cells in full sun, {HOT_CELL_RISE:g} K above the warmest air outside",
        float(site.warmest_outside.m) + HOT_CELL_RISE,
        "°C",
        Basis.ASSUMED,
    )
    name = "working voltage on the hottest day"
    return _at_temperature(array, name, panel, coefficient, cell, source="common-practice")


def _at_temperature(
    array: Array, name: str, panel: Input, coefficient: Input, cell: Input, *, source: str
) -> Worked:
    volts, b, t = panel.symbol, coefficient.symbol, cell.symbol
    if coefficient.unit == COMPENSATION.unit:
        formula = f"{{n_s}} · ({{{volts}}} + {{{b}}} · ({{{t}}} − {{T_ref}}))"
    else:
        formula = f"{{n_s}} · {{{volts}}} · (1 + {{{b}}} · ({{{t}}} − {{T_ref}}))"
    return Worked(
        name=name,
        kind=VOLTAGE,
        formula=formula,
        inputs=(_panels(array), panel, coefficient, cell, _reference()),
        source=source,
    )


def short(array: Array) -> Worked | None:
    """Return the short-circuit current of all strings in strong sun [A]."""
    panel = _of_panel(array, "I_sc", "short_circuit", "short-circuit current of a panel")
    if panel is None:
        return None
    sun = Input("k_sun", "sun stronger than rated", STRONG_SUN, "", Basis.COMPUTED)
    return Worked(
        name="short-circuit current in strong sun",
        kind=CURRENT,
        formula="{N} · {I_sc} · {k_sun}",
        inputs=(_strings(array), panel, sun),
        source="nec-690.8",
    )


def rated_power(array: Array) -> Worked | None:
    """Return the rated power of all panels [W]; volts times amperes where no power is stated."""
    of_one = _of_panel(array, "P_p", "power", "rated power of a panel")
    if of_one is not None:
        parts: tuple[Input, ...] = (of_one,)
    else:
        volts = _of_panel(
            array, "V_mp", "maximum_power_voltage", "voltage of a panel at maximum power"
        )
        amps = _of_panel(
            array, "I_mp", "maximum_power_current", "current of a panel at maximum power"
        )
        if volts is None or amps is None:
            return None
        parts = (volts, amps)
    watts = float(array.in_series * array.in_parallel)
    for part in parts:
        watts *= part.value
    return Worked(
        name="rated power",
        kind=POWER,
        formula="{n_s} · {N} · " + " · ".join(f"{{{part.symbol}}}" for part in parts),
        inputs=(_panels(array), _strings(array), *parts),
        source="arithmetic",
    )


def real_power(rated: Worked | None) -> Worked | None:
    """Return what comes of the rated power on a good day [W]."""
    if rated is None:
        return None
    kept = Input("k_real", "what losses leave on a good day", REAL_MOST, "", Basis.ASSUMED)
    return Worked(
        name="power on a good day",
        kind=POWER,
        formula="{P} · {k_real}",
        inputs=(from_worked("P", rated), kept),
        source="pv-losses",
        note=f"{REAL_LEAST * 100:g} to {REAL_MOST * 100:g} % of rated is usual.",
    )


def into_battery(ground: Groundwork, charger: Charger, real: Worked | None) -> Worked | None:
    """Return the charge current that comes of it at the battery's least voltage [A]."""
    least = ground.figures.least
    if real is None or charger.current is None:
        return None
    most = known(
        "I_most", f"current of {charger.name}", charger.current, charger.basis.of("current")
    )
    return Worked(
        name="charge current on a good day",
        kind=CURRENT,
        formula="min({P_real} / {V_least}, {I_most})",
        inputs=(from_worked("P_real", real), from_worked("V_least", least), most),
        source="common-practice",
        note="For the energy only: every limit is judged with all that the charger can give.",
    )
