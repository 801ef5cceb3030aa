"""What to enter on an inverter: the low-voltage cut-off, rounded up, and the changeovers."""

from __future__ import annotations

import attrs

from evpack.base.basis import Basis
from evpack.base.finding import Finding, Rule, Severity, Standing, at_most, unknown
from evpack.base.fitted import NOT_FITTED
from evpack.base.units import VOLTAGE
from evpack.base.wording import say, say_up
from evpack.base.worked import Input, Worked, known, stated
from evpack.describe.inverter import Inverter
from evpack.describe.pack import Monitoring
from evpack.describe.ranges import VoltageRange
from evpack.outcome.cells import EMPTY, known_imbalance
from evpack.outcome.groundwork import Groundwork
from evpack.outcome.settings import Act, DeviceSettings, Line, Setting
from evpack.setpoint.basics import ask_for, meter_error, offered, rounded_up, voltage_line
from evpack.setpoint.changeover import changeover_and_return

CUT_OFF = Rule(
    key="discharge.cut-off",
    says="The inverter must stop before the cell monitoring warns of an empty cell.",
    source="common-practice",
    stands=Standing.BOUND,
    clause="print of the cell: least voltage",
    kind=VOLTAGE,
)
CUT_OFF_KNOWN = Rule(
    key="discharge.cut-off-known",
    says="What the inverter's cut-off can be set to must be known.",
    source="equipment-manual",
    stands=Standing.QUESTION,
)


@attrs.frozen(kw_only=True)
class DischargeOutcome:
    """The lines of one inverter, its findings, and the voltages it is steered by [V]."""

    settings: DeviceSettings
    findings: tuple[Finding, ...]
    cut_off: float | None
    changeover: float | None
    back: float | None


def inverter_settings(
    ground: Groundwork,
    inverter: Inverter,
    charge: float | None,
    surely: float | None,
    most: float | None,
) -> DischargeOutcome:
    """Return what to enter on an inverter.

    Parameters
    ----------
    charge : float or None
        The lowest charge voltage that is entered [V]; None is not settled.
    surely : float or None
        The voltage that charging reaches with the chargers' errors downwards [V].
    most : float or None
        The highest charge voltage that is entered [V].
    """
    if charge is not None and surely is not None:
        # As read by its own meter, error downwards, and never nearer than two of its errors.
        error = meter_error(ground, inverter).value
        charge = min(charge * (1 - 2 * error), surely * (1 - error))
    cut_line, findings, cut = _cut_off(ground, inverter)
    lines, found, changeover, back = changeover_and_return(ground, inverter, cut, charge, most)
    return DischargeOutcome(
        settings=DeviceSettings(device=inverter.name, lines=(cut_line, *lines)),
        findings=(*findings, *found),
        cut_off=cut,
        changeover=changeover,
        back=back,
    )


_FOR_WARNING = "the cell monitoring, which should not warn before the inverter stops"


def _cut_off(
    ground: Groundwork, inverter: Inverter
) -> tuple[Setting, tuple[Finding, ...], float | None]:
    name = Line.CUT_OFF
    error, spread = meter_error(ground, inverter), ground.spread_empty()
    # Not the chemistry's own warning: a module with a higher least voltage warns earlier.
    warn = known(
        "V_warn",
        "low warning of the cell monitoring",
        VOLTAGE.of(ground.cell_thresholds()["warn_low"]),
        ground.build.pack.module.chemistry.basis.of("warn_low"),
    )
    inputs: tuple[Input, ...] = (ground.cells(), warn, spread, error)
    wanted = ground.n * (warn.value + spread.value) * (1 + error.value)
    least, watch = float(ground.build.pack.module.least.m), ground.build.pack.monitoring
    if isinstance(watch, Monitoring) and watch.every_cell and watch.stops_discharge:
        # It stops a cell that lies below the mean, whatever the voltmeter reads.
        allowed = min(ground.n * least, wanted)
    else:
        apart = known_imbalance(ground.build.pack, full=False).value
        allowed = min(ground.n * (least + apart) * (1 + error.value), wanted)
    if spread.means == EMPTY:
        # A group of less charge falls on faster than the mean: how far below the warning it stands
        # at its own least is not known, and the mean at its warning is all that is.
        allowed = wanted
    reach = inverter.cut_off
    if reach is None:
        return (
            ask_for(name, "which cut-off voltages can be entered", inverter.where),
            (
                unknown(
                    CUT_OFF_KNOWN,
                    about=inverter.name,
                    detail="Nobody said which low-voltage cut-offs can be entered.",
                    remedy=f"Find its range and step. {say(wanted, 'V')} or more is needed.",
                ),
            ),
            None,
        )
    if reach is NOT_FITTED:
        return _fixed_cut_off(inverter, allowed, wanted)
    found = at_most(
        CUT_OFF,
        VOLTAGE.of(allowed),
        reach.high,
        rests=(*ground.errors, *stated(ground.build.pack.module, "cell_least")),
        about=inverter.name,
        otherwise=Severity.STOP,
        value_name="the least cut-off that the cells' print allows, errors included"
        if spread.means != EMPTY
        else "the least cut-off at which the weakest cell group is not empty, errors included",
        limit_name="the highest that can be entered",
        guarded=VOLTAGE.of(wanted),
        guarded_for=_FOR_WARNING,
        remedy=f"An inverter whose cut-off can be set to {say_up(wanted, 'V')} keeps clear of it.",
    )
    if found.holds:
        line = Setting(
            name=name,
            act=Act.CANNOT,
            entry="do not connect",
            not_connected=True,
            why=f"The highest entry, {say(reach.high.m, 'V')}, would let cells fall below "
            f"{say(least, 'V')}; {say(allowed, 'V')} is needed.",
            offers=offered(reach),
        )
        return line, (found,), None
    formula, low = "{n} · ({V_warn} + {δ}) · (1 + {ε})", inverter.window_low
    by_window = low is not None and wanted < low.m <= reach.high.m
    if by_window and low is not None:
        # It stops there by itself, whatever is entered: an entry below would only mislead.
        formula = f"max({formula}, {{V_low}})"
        stops = known("V_low", "bottom of its window", low, inverter.basis.of("window_low"))
        inputs, wanted = (*inputs, stops), float(low.m)
    grid = (reach, inverter.basis.of("cut_off"))
    worked = rounded_up(name, formula, wanted, inputs, grid)
    if worked.value > reach.high.m:  # below the warning, and still within what the cells stand
        worked = _highest_entry(name, formula, inputs, grid)
    higher = worked.value - wanted
    line = voltage_line(
        ground,
        name,
        worked,
        why=f"Protective stop. {_ends_before(ground, spread, warn)}, "
        "where the cell monitoring warns, although the voltmeter may be off by "
        f"{say(error.value, '')}. A weaker module is empty sooner: only the cell monitoring sees "
        "it. Never lower it for the drop in the cables."
        + (" The inverter stops there by itself in any case." if by_window else ""),
        offers=offered(reach),
        lost=f"{say(higher, 'V')} to the step or range" if higher > 0.005 else "",  # noqa: PLR2004
        where=inverter.where,
    )
    return line, (found,), worked.value


def _highest_entry(
    name: str, formula: str, inputs: tuple[Input, ...], grid: tuple[VoltageRange, Basis]
) -> Worked:
    most = known("most", "the device's highest entry", grid[0].high, grid[1])
    return Worked(
        name=name,
        kind=VOLTAGE,
        formula=f"min({formula}, {{most}})",
        inputs=(*inputs, most),
        source="equipment-manual",
    )


def _ends_before(ground: Groundwork, spread: Input, warn: Input) -> str:
    """Say which cell the cut-off guards: the weakest group that was measured, or any."""
    if spread.means == EMPTY:
        weakest = ground.build.pack.module.weakest_group
        which = "the weakest cell group" if weakest is None else f"cell group {weakest} of a module"
        return (
            f"It ends the discharge before {which}, measured {say(spread.value, 'V')} below the "
            f"mean towards empty, reaches {say(warn.value, 'V')}"
        )
    return (
        "It ends the discharge before a cell that lies no further from the mean than the spread, "
        f"{say(spread.value, 'V')}, reaches {say(warn.value, 'V')}"
    )


def _fixed_cut_off(
    inverter: Inverter, allowed: float, wanted: float
) -> tuple[Setting, tuple[Finding, ...], float | None]:
    """Judge an inverter whose stop is the low end of its window and cannot be set."""
    found = at_most(
        CUT_OFF,
        VOLTAGE.of(allowed),
        inverter.window_low,
        about=inverter.name,
        otherwise=Severity.STOP,
        value_name="the least cut-off that the cells' print allows",
        limit_name="the low end of its window, where it stops by itself",
        guarded=VOLTAGE.of(wanted),
        guarded_for=_FOR_WARNING,
        remedy="An inverter whose cut-off can be set keeps clear of it.",
    )
    line = Setting(
        name=Line.CUT_OFF,
        act=Act.CANNOT,
        entry="fixed",
        why="This inverter stops at the low end of its window; see the findings on whether that "
        f"protects the cells. {say(wanted, 'V')} or more is needed.",
        where=inverter.where,
    )
    low = inverter.window_low
    return line, (found,), None if found.holds or low is None else float(low.m)
