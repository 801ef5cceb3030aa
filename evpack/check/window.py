"""Does the pack's voltage fit each inverter: full, tripping, nominal, loaded, empty, restarting?"""

from __future__ import annotations

import math

from evpack.base.finding import Finding, Rule, Severity, Standing, at_least, at_most, state, unknown
from evpack.base.fitted import NOT_FITTED
from evpack.base.rounding import down_to_step
from evpack.base.units import SHARE, VOLTAGE
from evpack.base.wording import number, say
from evpack.base.worked import Worked, resting_on, stated
from evpack.describe.inverter import Inverter
from evpack.kernels.load_line import terminal_voltage
from evpack.outcome.groundwork import Groundwork
from evpack.outcome.settings import Thresholds

CHARGED = Rule(
    key="window.charged",
    says="A pack at its charge voltage, the charger's error included, must lie within the "
    "inverter's DC window.",
    source="equipment-manual",
    stands=Standing.BOUND,
    clause="print of the inverter: DC window",
    kind=VOLTAGE,
)
TRIPPING = Rule(
    key="window.tripping",
    says="If a charger runs away, the cell monitoring must open before the inverter is damaged.",
    source="equipment-manual",
    stands=Standing.BOUND,
    clause="print of the inverter: highest DC voltage",
    kind=VOLTAGE,
)
HIGHEST = Rule(
    key="window.highest",
    says="Should all that ends the charge fail, every cell at the highest voltage of its chemistry "
    "should not damage the inverter.",
    source="equipment-manual",
    stands=Standing.BOUND,
    clause="print of the inverter: highest DC voltage",
    kind=VOLTAGE,
)
NOMINAL_HIGH = Rule(
    key="window.nominal-high",
    says="The nominal voltage must not lie above the inverter's DC window.",
    source="equipment-manual",
    stands=Standing.BOUND,
    clause="print of the inverter: DC window",
    kind=VOLTAGE,
)
NOMINAL_LOW = Rule(
    key="window.nominal-low",
    says="The nominal voltage must not lie below the inverter's DC window.",
    source="equipment-manual",
    stands=Standing.BOUND,
    clause="print of the inverter: DC window",
    kind=VOLTAGE,
)
LOADED = Rule(
    key="window.loaded",
    says="A charged pack under the continuous load must hold the inverter's window.",
    source="ohms-law",
    stands=Standing.BOUND,
    clause="print of the inverter: DC window",
    kind=VOLTAGE,
)
LEAST = Rule(
    key="window.least",
    says="Where the window ends above the pack's least voltage, the charge below it is out of "
    "reach.",
    source="equipment-manual",
    stands=Standing.BOUND,
    clause="print of the inverter: DC window",
    kind=VOLTAGE,
)
RESTART = Rule(
    key="window.restart",
    says="After a low-voltage stop the pack must reach the inverter's restart voltage again.",
    source="equipment-manual",
    stands=Standing.BOUND,
    clause="print of the inverter: restart voltage",
    kind=VOLTAGE,
)
RESTART_EARLY = Rule(
    key="window.restart-early",
    says="An inverter that restarts on the rebound after its own stop switches on and off on an "
    "empty pack.",
    source="common-practice",
    stands=Standing.GUARD,
    kind=VOLTAGE,
)
RESTART_LATE = Rule(
    key="window.restart-late",
    says="An inverter that restarts only with a well charged pack leaves the house dark long.",
    source="common-practice",
    stands=Standing.GUARD,
    kind=SHARE,
)
CABLE_DROP = Rule(
    key="window.cable-drop",
    says="Between battery and inverter no more than about 2 % of the voltage should be lost at the "
    "continuous load.",
    source="common-practice",
    stands=Standing.GUARD,
    kind=SHARE,
)
TOUCH = Rule(
    key="window.touch",
    says="Up to 60 V DC a dry touch is not held dangerous, in damp places less; above it, more "
    "rules apply.",
    source="iec-touch-voltage",
    stands=Standing.REMARK,
    kind=VOLTAGE,
)

_RESTART_LATE_AT = 0.5  # state of charge; common practice, no source
_TOUCH_LIMIT = 60.0  # V DC
_CABLE_DROP = 0.02  # of the voltage; common practice, no source
_LONGEST_LISTED = 400  # modules in series, the most that a pack may have


def windows(ground: Groundwork, thresholds: Thresholds) -> tuple[Finding, ...]:
    """Return how the pack fits the window of every inverter, and the touch-voltage finding."""
    found: list[Finding] = []
    for inverter in ground.build.inverters:
        hint = _fitting_counts(ground, inverter)
        found += _high_side(ground, thresholds, inverter, hint)
        found += _low_side(ground, inverter, hint)
        found += _restart(ground, thresholds, inverter)
    found.append(_cable_drop(ground))
    found.append(
        at_most(
            TOUCH,
            ground.figures.highest,
            VOLTAGE.of(_TOUCH_LIMIT),
            about="pack",
            otherwise=Severity.CAUTION,
            value_name="the pack's highest voltage",
            limit_name="the touch-voltage limit",
            remedy="Cover every live part, fuse every pole that is not earthed, break the string "
            "in the middle while working, and have it done by a licensed person.",
        )
    )
    return tuple(found)


def _high_side(
    ground: Groundwork, thresholds: Thresholds, inverter: Inverter, hint: str
) -> list[Finding]:
    figures = ground.figures
    n = figures.cells_in_series
    survives = inverter.survives if inverter.survives is not None else inverter.window_high
    cut = ground.cell_thresholds()["cut_high"]
    settled = thresholds.charge_most
    charged = figures.charge_target.value if settled is None else settled
    what_survives = (
        "the top of its window (what it survives is not stated)"
        if inverter.survives is None
        else "the highest DC voltage it survives"
    )
    return [
        at_most(
            CHARGED,
            VOLTAGE.of(charged),
            inverter.window_high,
            rests=(*ground.errors, *stated(inverter, "window_high")),
            about=inverter.name,
            otherwise=Severity.STOP,
            value_name="the charge voltage of the pack, errors included"
            if settled is not None
            else "the charge target of the pack",
            limit_name="the top of its DC window",
            remedy=_too_high(ground, inverter, hint),
        ),
        at_most(
            TRIPPING,
            VOLTAGE.of(n * cut),
            survives,
            about=inverter.name,
            otherwise=Severity.CAUTION,
            value_name="the voltage at which the cell monitoring opens, every cell alike",
            limit_name=what_survives,
            # A cut that the inverter stands is on the settings sheet wherever there is one.
            remedy="No cut of the cell monitoring lies under what it survives and clear of the "
            "charge target. Find a higher survival voltage in its manual, or fewer cells in "
            f"series. {hint}",
        ),
        at_most(
            HIGHEST,
            # Not the module's own tighter limit: settings keep it, and here they have failed.
            VOLTAGE.of(n * ground.build.pack.module.chemistry.limits.highest.m),
            survives,
            about=inverter.name,
            otherwise=Severity.CAUTION,
            value_name="the voltage of the pack with every cell at the highest of its chemistry",
            limit_name=what_survives,
            remedy="It depends on the charge settings and on the cell monitoring alone: prove "
            "both at commissioning.",
        ),
        at_most(
            NOMINAL_HIGH,
            figures.nominal,
            inverter.window_high,
            about=inverter.name,
            otherwise=Severity.STOP,
            value_name="the pack's nominal voltage",
            limit_name="the top of its DC window",
            remedy=f"Fewer cells in series. {hint}",
        ),
    ]


def _too_high(ground: Groundwork, inverter: Inverter, hint: str) -> str:
    """Say what brings the charge under the top of a window: a lower target, else fewer cells."""
    top, n = inverter.window_high, ground.n
    if top is not None and ground.figures.charge_target.value <= top.m:
        return (
            "The charge target itself would fit: it is what the chargers give that does not; see "
            "the findings on them."
        )
    # A charger that is set gives the mean cell no more than the target less the spread.
    lower = 0.0 if top is None else down_to_step(top.m / n + ground.spread().value, 0.0, 0.01)
    if lower >= ground.targets.float_most.m:
        return (
            f"Say charge_target = '{number(lower)} V' under [policy], which costs some energy; or "
            f"an inverter with a higher window. {hint}"
        )
    return f"Fewer cells in series, or an inverter with a higher window. {hint}"


def _low_side(ground: Groundwork, inverter: Inverter, hint: str) -> list[Finding]:
    figures, source, demand = ground.figures, ground.source, ground.demand
    # Down to here a stationary pack is used under load; what a window cuts off below is no loss.
    used_to = ground.n * float(ground.targets.changeover_loaded.m)
    cut_short = inverter.window_low is not None and inverter.window_low.m > used_to
    found = [
        at_least(
            NOMINAL_LOW,
            figures.nominal,
            inverter.window_low,
            about=inverter.name,
            otherwise=Severity.STOP,
            value_name="the pack's nominal voltage",
            limit_name="the bottom of its DC window",
            remedy=f"More cells in series. {hint}",
        ),
        at_least(
            LEAST,
            figures.least,
            inverter.window_low,
            about=inverter.name,
            otherwise=Severity.CAUTION if cut_short else Severity.NOTE,
            value_name="the pack's least voltage",
            limit_name="the bottom of its DC window",
            remedy=f"The inverter stops above the {say(used_to, 'V')} down to which this pack is "
            f"used under load: expect less energy and early stops. {hint}"
            if cut_short
            else "",
        ),
    ]
    ohms = source.ohms_at(1.0, hours=True)
    if demand.continuous is None or ohms is None:
        loaded = None
    else:
        full = min(figures.charge_target.value, source.rest_voltage(1.0))
        under = terminal_voltage(full, ohms, demand.continuous.value)
        if math.isnan(under):
            return [*found, _collapses(inverter, demand.continuous)]
        loaded = VOLTAGE.of(under)
    found.append(
        at_least(
            LOADED,
            loaded,
            inverter.window_low,
            rests=(*ground.source_rests, *_asked(ground), *stated(inverter, "window_low")),
            about=inverter.name,
            otherwise=Severity.STOP,
            value_name="the voltage of a charged pack under the continuous load",
            limit_name="the bottom of its DC window",
            remedy=f"More strings, a smaller load, or more cells in series. {hint}",
            ask="Give the modules' resistance and the inverter's efficiency and idle draw.",
            assumed=resting_on(demand.continuous, figures.resistance),
        )
    )
    return found


def _collapses(inverter: Inverter, power: Worked) -> Finding:
    return state(
        LOADED,
        Severity.STOP,
        about=inverter.name,
        detail=f"Even a charged pack cannot carry {say(power.value, 'W')}: its voltage collapses.",
        remedy="More strings, thicker cables, or a smaller load.",
        assumed=power.assumed,
    )


def _restart(ground: Groundwork, thresholds: Thresholds, inverter: Inverter) -> list[Finding]:
    source = ground.source
    if inverter.restart is NOT_FITTED:
        return [
            state(
                RESTART,
                Severity.OK,
                about=inverter.name,
                detail="It has no restart voltage of its own.",
            )
        ]
    if inverter.restart is None:
        return [
            unknown(
                RESTART,
                about=inverter.name,
                detail="Nobody said at which battery voltage it starts again after a low-voltage "
                "stop. In the 48 V class that can be 48 to 52 V, which a short pack never "
                "reaches.",
                remedy="Find it in the manual; if there is none, say restart = 'none'.",
            )
        ]
    own = inverter.meter_accuracy
    error = float((ground.build.policy.meter_accuracy if own is None else own).m)
    reached = None
    if thresholds.charge is not None:
        surely = min(1 - 2 * error, (1 - _charger_error(ground)) * (1 - error))
        reached = VOLTAGE.of(thresholds.charge * surely)
    return [
        at_least(
            RESTART,
            reached,
            inverter.restart,
            rests=(*ground.errors, *stated(inverter, "restart")),
            about=inverter.name,
            otherwise=Severity.STOP,
            value_name="what charging surely reaches, both meters' errors taken off",
            limit_name="its restart voltage",
            remedy="More cells in series, or an inverter with a lower restart voltage.",
            ask="Settle a charge voltage: see the findings on what charges the pack.",
        ),
        *_restart_early(ground, thresholds, inverter, error),
        at_most(
            RESTART_LATE,
            SHARE.of(source.state_at_rest(inverter.restart.m)),
            SHARE.of(_RESTART_LATE_AT),
            rests=(ground.curve, *stated(inverter, "restart")),
            about=inverter.name,
            otherwise=Severity.CAUTION,
            value_name="the state of charge at which the rested pack shows the restart voltage",
            limit_name="what is still quickly regained",
            remedy="After a low-voltage stop expect to charge this far before the inverter "
            "starts, or find a lower restart setting.",
        ),
    ]


def _charger_error(ground: Groundwork) -> float:
    """Return the largest voltage error of all chargers: stated, else assumed."""
    assumed = ground.build.policy.charger_accuracy
    stated = [c.accuracy for c in ground.build.all_chargers]
    return max(float((assumed if error is None else error).m) for error in stated)


def _restart_early(
    ground: Groundwork, thresholds: Thresholds, inverter: Inverter, error: float
) -> list[Finding]:
    """Judge whether the voltage alone, rising when the load is gone, restarts the inverter."""
    cut, load = thresholds.cut_off, ground.demand.continuous
    ohms = ground.source.ohms_at(0.0, hours=True)
    if cut is None or load is None or ohms is None or inverter.restart is NOT_FITTED:
        return []
    rebound = load.value / cut * ohms
    return [
        at_least(
            RESTART_EARLY,
            inverter.restart,
            VOLTAGE.of(cut + rebound + 2 * error * cut),
            rests=(
                *(*ground.source_rests, *ground.errors, *_asked(ground)),
                *stated(inverter, "restart"),
            ),
            about=inverter.name,
            otherwise=Severity.CAUTION,
            value_name="its restart voltage",
            limit_name="what the pack rises to by itself after the cut-off, errors included",
            remedy="Set a higher restart voltage if it can be set, or restart by hand.",
            assumed=resting_on(load, ground.figures.resistance),
        )
    ]


def _cable_drop(ground: Groundwork) -> Finding:
    source, load = ground.source, ground.demand.continuous
    share = None
    if source.cable_known and load is not None:
        volts = ground.figures.nominal.value
        share = SHARE.of(load.value / volts * source.cable / volts)
    return at_most(
        CABLE_DROP,
        share,
        SHARE.of(_CABLE_DROP),
        rests=(*ground.source_rests, ground.figures.nominal, *_asked(ground)),
        about="cables",
        otherwise=Severity.CAUTION,
        value_name="the voltage lost in leads and mains at the continuous load",
        limit_name="what should be lost there",
        remedy="Shorter or thicker cables.",
        ask="Describe [cabling.module_lead] and [cabling.main], and the inverter's efficiency and "
        "idle draw.",
        assumed=resting_on(load),
    )


def _fitting_counts(ground: Groundwork, inverter: Inverter) -> str:
    """Say which series counts of whole modules would put the pack into the window."""
    if inverter.window_low is None or inverter.window_high is None:
        return ""
    module = ground.build.pack.module
    chosen = ground.build.policy.charge_target
    target = ground.targets.charge if chosen is None else chosen
    each = module.cells_in_series
    if target.m <= 0:
        return ""
    most = min(_LONGEST_LISTED, int(inverter.window_high.m / (each * target.m)))
    fitting = []
    for modules in range(1, most + 1):
        cells = modules * each
        if cells * module.nominal.m >= inverter.window_low.m:
            fitting.append(f"{modules} × {each} = {cells}")
    if not fitting:
        return f"No whole number of these {each}-cell modules in series fits this window."
    return f"In series these would fit its window: {', '.join(fitting)} cells."


def _asked(ground: Groundwork) -> tuple[Worked, ...]:
    """Return what the continuous load asks, as what others rest on."""
    load = ground.demand.continuous
    return () if load is None else (load,)
