"""What is read of a solar array before it is joined, last of all, to a charger that is set."""

from __future__ import annotations

from collections.abc import Iterator

from evpack.base.basis import Basis
from evpack.base.units import COMPENSATION, VOLTAGE, kind_of
from evpack.base.wording import number, say_up
from evpack.base.worked import Input, Worked, count, known
from evpack.commission.steps import Stage, slug
from evpack.describe.array import Array
from evpack.describe.site import Site
from evpack.kernels.solar import STANDARD_CELL
from evpack.outcome.commissioning import CommissioningStep
from evpack.outcome.design import Design
from evpack.outcome.solar import SolarSide

_ARRAY = Stage("array", "The solar array, joined last, to a charger that is set")

# Common practice, no source: cells in full sun are about 30 K warmer than the air; silicon loses at
# most 0.4 % of its open-circuit voltage for each kelvin; strings alike, in one sun, agree to 2 %.
_HOT_CELL_RISE = 30.0
_COEFFICIENT = -0.004
_ALIKE = 0.02
_APART = (
    "Open its isolator or cover the panels before a plug is touched; a plug is never pulled under "
    "load."
)
# A colder panel reads above its print, and a hot one hides a panel that is too strong.
_IN_SUN = (
    "In full sun, the back of the panels between 25 and 45 °C (in hot weather in the morning), "
    "isolator open, the ends apart and insulated"
)


def array(design: Design) -> Iterator[CommissioningStep]:
    """Yield what is proven of each array, or that there is none."""
    build = design.build
    arrays = {found.name: found for found in build.solar_arrays}
    for side in design.solar:
        yield from _array(side, arrays[side.array], build.site)
    described = {found.feeds for found in arrays.values()}
    for charger in build.all_chargers:
        if charger.source == "solar" and charger.name not in described:
            yield _ARRAY.asks(
                f"apart_{slug(charger.name)}",
                f"What feeds {charger.name}",
                "The design reckons with no array here. Whoever settled the array elsewhere has "
                "vouched in writing that its highest voltage on the coldest morning, its current "
                "and its polarity suit this charger; else nothing is joined to its solar input.",
                "An array that is too high destroys the charger, and what it does to the pack then "
                "nobody knows.",
                "Keep it apart. Describe the array under [[pv]] in the build sheet, and decide "
                "again.",
                device=charger.name,
            )


def _array(side: SolarSide, found: Array, site: Site) -> Iterator[CommissioningStep]:
    name, title = slug(side.array), f"Solar array {side.array}"
    rated, hot = _rated_open(found), _hot_open(found, site)
    bound = rated is not None and hot is not None
    least = hot.value if hot is not None and bound else None
    most = rated.value if rated is not None and bound else None
    cold = side.cold_open
    rises = "the voltage of the coldest morning" if cold is None else say_up(cold.value, "V")
    if found.open_circuit is not None:
        yield _ARRAY.asks(
            f"panels_{name}",
            title,
            f"The print of every panel says an open-circuit voltage of "
            f"{number(float(found.open_circuit.m), 6)} V or less, and there are {found.in_series} "
            f"in series and {found.in_parallel} such strings. The meter and its leads are rated "
            f"for {rises} DC or more.",
            "A reading in the heat can hide a panel that is too strong for a cold morning.",
            "Do not join it. Write what is there into the build sheet, and decide again.",
            device=side.array,
        )
    yield _ARRAY.reads(
        f"lowest_{name}",
        title,
        f"{_IN_SUN}, with the meter's red lead on plus: the lowest open-circuit voltage of its "
        "strings. It must be positive at every string.",
        "A string the wrong way round, or with a panel too few, makes the others feed it.",
        f"{_APART} Then look at the plugs of that string.",
        device=side.array,
        kind=VOLTAGE,
        low=least,
        high=most,
        worked=hot,
    )
    yield _ARRAY.reads(
        f"highest_{name}",
        title,
        "The highest open-circuit voltage of its strings, at the same time.",
        f"On the coldest morning it is higher still, and {side.charger} must stand it. Cells above "
        "25 °C stand below their print.",
        "Do not join it: there is a panel too many, or another one than was reckoned with. Were "
        "the cells colder than 25 °C, read it again when they are not.",
        device=side.array,
        kind=VOLTAGE,
        low=least,
        high=most,
        worked=rated,
    )
    if found.in_parallel > 1:
        yield _spread(name, title, side, rated)
    yield _ARRAY.asks(
        f"joined_{name}",
        title,
        f"{side.charger} is on the battery already, and its settings are read back. With the "
        "array's isolator open and its far ends proven dead, the array is joined, plus to plus. "
        "Then the isolator is closed.",
        "Many chargers fail when they have an array and no battery, and one that is not set "
        "charges as it came from its maker.",
        f"{_APART} Join nothing till it is so.",
        device=side.array,
    )


def _spread(name: str, title: str, side: SolarSide, rated: Worked | None) -> CommissioningStep:
    worked = None
    if rated is not None:
        worked = Worked(
            name="strings of an array apart, at most",
            kind=VOLTAGE,
            formula="{k} · {V_oc}",
            inputs=(
                Input("k", "what strings alike differ by", _ALIKE, "", Basis.ASSUMED),
                Input("V_oc", rated.name, rated.value, "V", Basis.COMPUTED),
            ),
            source="common-practice",
        )
    return _ARRAY.reads(
        f"spread_{name}",
        title,
        "The highest of its strings minus the lowest, within a minute of each other.",
        "In a long string one panel too few, or one that is bridged, hides between a cool and a "
        "hot day; beside its neighbours it does not.",
        f"{_APART} Then look for a panel that is missing, shaded, bridged or of another kind.",
        device=side.array,
        kind=VOLTAGE,
        low=None if worked is None else 0.0,
        high=None if worked is None else worked.value,
        worked=worked,
    )


def _open_circuit(found: Array) -> tuple[Input, Input] | None:
    if found.open_circuit is None:
        return None
    basis = found.basis.of("open_circuit")
    return (
        count("n_s", "panels in series", found.in_series),
        known("V_oc", "open-circuit voltage of a panel", found.open_circuit, basis),
    )


def _rated_open(found: Array) -> Worked | None:
    """Return the open-circuit voltage of a string with its cells at 25 °C [V]."""
    panel = _open_circuit(found)
    if panel is None:
        return None
    return Worked(
        name="open-circuit voltage at 25 °C",
        kind=VOLTAGE,
        formula="{n_s} · {V_oc}",
        inputs=panel,
        source="arithmetic",
    )


def _hot_open(found: Array, site: Site) -> Worked | None:
    """Return the open-circuit voltage of a string in full sun on the hottest day [V]."""
    panel = _open_circuit(found)
    if panel is None or site.warmest_outside is None:
        return None
    hottest = max(STANDARD_CELL, float(site.warmest_outside.m) + _HOT_CELL_RISE)
    means = "temperature coefficient of the open-circuit voltage"
    b = Input("β", means, _COEFFICIENT, "1/K", Basis.ASSUMED)
    of_one = True  # the coefficient is of one, not in volts
    if found.coefficient is not None:
        b = known("β", means, found.coefficient, found.basis.of("coefficient"))
        of_one = kind_of(found.coefficient) is not COMPENSATION
    share = "{V_oc} · (1 + {β} · ({T_cell} − {T_ref}))"
    each = share if of_one else "({V_oc} + {β} · ({T_cell} − {T_ref}))"
    return Worked(
        name="open-circuit voltage in full sun on the hottest day",
        kind=VOLTAGE,
        formula=f"{{n_s}} · {each}",
        inputs=(
            *panel,
            b,
            Input("T_cell", "cells in full sun", hottest, "°C", Basis.ASSUMED),
            Input("T_ref", "cell temperature of the rating", STANDARD_CELL, "°C", Basis.COMPUTED),
        ),
        source="common-practice",
    )
