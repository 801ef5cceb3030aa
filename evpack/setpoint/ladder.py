"""The ordered ladder of thresholds, and what to set on the cell monitoring and a shunt meter.

When a step of the ladder is too narrow the charge target is lowered; a cut is never raised.
"""

from __future__ import annotations

import attrs

from evpack.base.basis import Basis
from evpack.base.finding import Finding, Rule, Severity, Standing, at_least
from evpack.base.units import CHARGE, CURRENT, SHARE, VOLTAGE
from evpack.base.wording import said_number, say, say_down
from evpack.base.worked import Input, Worked, count, from_worked, known
from evpack.outcome.cells import EMPTY
from evpack.outcome.groundwork import Groundwork
from evpack.outcome.settings import Act, DeviceSettings, Line, Setting, SettingsSheet, Thresholds
from evpack.setpoint.basics import threshold_formula, threshold_inputs, voltage_line
from evpack.setpoint.charge_current import end_current

STEP = Rule(
    key="ladder.step",
    says="Each threshold must stand clear of the next by more than the errors add up to, so that "
    "the charger stops before the cell monitoring must.",
    source="common-practice",
    stands=Standing.GUARD,
    kind=VOLTAGE,
)
INSIDE = Rule(
    key="ladder.inside",
    says="The cell monitoring must open before a cell passes what it stands.",
    source="cell-limits",
    stands=Standing.BOUND,
    clause="print of the cell: its voltages",
    kind=VOLTAGE,
)


_NOISE = 1e-9  # V; 4.12 − 4.09 is not stored as 0.03


def ladder(
    ground: Groundwork, thresholds: Thresholds, set_most: float | None
) -> tuple[Finding, ...]:
    """Return whether every step of the ladder is wide enough, top to bottom.

    Parameters
    ----------
    set_most : float or None
        The most that a charger which is set may give, its error included [V]. A lead-acid profile
        that stays on is judged by itself: there is no target to lower.
    """
    cell, n = ground.cell_thresholds(), ground.n
    gap = ground.targets.ladder_gap
    found = []
    rungs: list[tuple[str, float, str, float, str]] = []
    if set_most is not None:
        top = set_most / n + ground.spread().value
        rungs.append(
            (
                "the high warning of the cell monitoring",
                cell["warn_high"],
                "the highest cell at the end of a charge",
                top,
                "Lower the charge target, or use a charger that can be set lower.",
            )
        )
    if thresholds.changeover is not None and thresholds.cut_off is not None:
        rungs.append(
            (
                "the changeover",
                thresholds.changeover / n,
                "the inverter's cut-off",
                thresholds.cut_off / n,
                "Raise the changeover.",
            )
        )
    if thresholds.cut_off is not None:
        rungs.append(
            (
                "the inverter's cut-off",
                thresholds.cut_off / n,
                "the low cut of the cell monitoring",
                cell["cut_low"],
                "Raise the cut-off.",
            )
        )
    for upper_name, upper, lower_name, lower, remedy in rungs:
        found.append(
            at_least(
                STEP,
                VOLTAGE.of(upper - lower),
                gap,
                rests=(*ground.errors, *ground.source_rests),
                about="thresholds",
                otherwise=Severity.CAUTION,
                value_name=f"the step from {lower_name} up to {upper_name}, for one cell",
                limit_name="the least step",
                remedy=remedy,
            )
        )
    module = ground.build.pack.module
    found.append(
        at_least(
            INSIDE,
            module.highest,
            VOLTAGE.of(cell["cut_high"]),
            about="thresholds",
            otherwise=Severity.STOP,
            value_name="the highest voltage of a cell",
            limit_name="the high cut of the cell monitoring",
        )
    )
    return tuple(found)


_DEVICE = "cell monitoring (BMS)"
_WHOLE = 1.0  # step of a current that is entered [A]
# Above the limit, since the sensors sit on the case and not in the cell [K].
# Common practice, no source.
_COLD_MARGIN = 5.0


def monitoring_settings(ground: Groundwork) -> DeviceSettings:
    """Return what to set on the cell monitoring, for one cell."""
    cell = ground.cell_thresholds()
    limits = ground.build.pack.module.chemistry.limits
    told = {
        "cut_high": (
            Line.CELL_CUT_HIGH,
            "Opens the charge path. If it ever trips, the charger was not set right.",
        ),
        "warn_high": (Line.CELL_WARN_HIGH, "Tells that a cell runs ahead before the cut."),
        "warn_low": (Line.CELL_WARN_LOW, "Tells that a cell lags before the cut."),
        "cut_low": (
            Line.CELL_CUT_LOW,
            "Opens the discharge path; the inverter should have stopped long before."
            + _first_to_reach(ground, cell["cut_low"]),
        ),
    }
    lines = [
        Setting(
            name=name,
            act=Act.ENTER,
            entry=say(cell[key], "V/cell"),
            shows=said_number(cell[key], "V/cell"),
            why=why,
            worked=Worked(
                name=name,
                kind=VOLTAGE,
                formula=threshold_formula(ground, key),
                inputs=threshold_inputs(ground, key, name),
                source="cell-limits",
            ),
            per_cell=cell[key],
        )
        for key, (name, why) in told.items()
    ]
    lines += [
        Setting(
            name=Line.NO_CHARGE_BELOW,
            act=Act.ENTER,
            entry=say(limits.charge_coldest.m + _COLD_MARGIN, "°C"),
            why="Charging a frozen cell plates metal inside it, for good and unseen. "
            f"{say(limits.charge_coldest.m, '°C')} is the limit; go down to it only while the "
            "chargers stay at their limits for the cold.",
        ),
        Setting(
            name=Line.NO_CHARGE_ABOVE,
            act=Act.ENTER,
            entry=say(limits.charge_hottest.m, "°C"),
            why="Heat ages cells and brings them nearer to venting.",
        ),
        Setting(
            name=Line.NO_DISCHARGE_OUTSIDE,
            act=Act.ENTER,
            entry=f"{say(limits.discharge_coldest.m, '°C')} to "
            f"{say(limits.discharge_hottest.m, '°C')}",
            why="What the cells stand while giving current.",
        ),
    ]
    lines += _over_current(ground)
    return DeviceSettings(device=_DEVICE, lines=tuple(lines))


def _first_to_reach(ground: Groundwork, cut: float) -> str:
    """Say which cell group is there first, where one was measured to be behind the others."""
    behind = ground.spread_empty()
    if behind.means != EMPTY:
        return ""
    weakest = ground.build.pack.module.weakest_group
    which = "The weakest cell group" if weakest is None else f"Cell group {weakest} of a module"
    return (
        f" {which} is there first: with {say(behind.value, 'V')} between them, the mean then "
        f"still stands at {say(cut + behind.value, 'V')}."
    )


def within_string_fuse(
    ground: Groundwork, sheet: SettingsSheet, rating: float | None
) -> SettingsSheet:
    """Return the sheet with the current cuts of a string held to the rating of its fuse [A].

    The fuse is chosen after the sheet is made, by the same lead; None is no string fuse.
    """
    if rating is None:
        return sheet
    lines = {line.name: line for line in _over_current(ground, rating)}
    return attrs.evolve(
        sheet,
        devices=tuple(
            attrs.evolve(device, lines=tuple(lines.get(ln.name, ln) for ln in device.lines))
            if device.device == _DEVICE
            else device
            for device in sheet.devices
        ),
    )


def _over_current(ground: Groundwork, fuse: float | None = None) -> list[Setting]:
    """Return the current cuts of one string in whole amperes, where the modules' limits are known.

    No higher than the string's lead, its fuse and the modules' links carry for good.
    """
    module, lead = ground.build.pack.module, ground.build.cabling.module_lead
    carry = "lead, links and fuse carry" if fuse is not None else "lead and links carry"
    why_discharge = (
        f"Opens a string that gives more than its modules' peak, or than its {carry}; the fuse is "
        "the last line, not the first."
    )
    why_charge = (
        "Opens a string that is charged with more than its modules take, as when another string is "
        "out."
    )
    left_open = ""
    if lead is None:
        left_open = " The string's lead is not described: no more than it carries, either."
    if fuse is None:
        left_open += " No string fuse is settled yet: no more than its rating, either."
    bounds = []
    if lead is not None:
        bounds.append(
            known(
                "I_lead", "ampacity of the string's lead", lead.ampacity, lead.basis.of("conductor")
            )
        )
    if module.link_limit is not None:
        bounds.append(
            known(
                "I_link",
                "what links and terminals of a module carry",
                module.link_limit,
                module.basis.of("link_limit"),
            )
        )
    if fuse is not None:
        bounds.append(Input("I_fuse", "rating of the string fuse", fuse, "A", Basis.COMPUTED))
    told = (
        (Line.OVER_OUT, "discharge_peak", why_discharge),
        (Line.OVER_IN, "charge_limit", why_charge),
    )
    lines = []
    for name, field, why in told:
        limit = getattr(module, field)
        if limit is None:
            continue
        own = known(
            "I_mod", f"{field.replace('_', ' ')} of a module", limit, module.basis.of(field)
        )
        worked = _least_in_whole_amperes(name, (own, *bounds))
        lines.append(
            Setting(
                name=name,
                act=Act.ENTER,
                entry=say_down(worked.value, "A"),
                shows=worked.value,  # whole amperes
                why=why + left_open,
                worked=worked,
            )
        )
    return lines


def _least_in_whole_amperes(name: str, every: tuple[Input, ...]) -> Worked:
    """Return the least of several limits, rounded down to what a person enters [A]."""
    least = min(i.value for i in every)
    formula = f"min({', '.join(f'{{{i.symbol}}}' for i in every)})" if every[1:] else "{I_mod}"
    if least < _WHOLE:  # rounded down it would open for good
        return Worked(
            name=name,
            kind=CURRENT,
            formula=formula,
            inputs=every,
            source="common-practice",
        )
    return Worked(
        name=name,
        kind=CURRENT,
        formula=f"down({formula}, {{zero}}, {{whole}})",
        inputs=(
            *every,
            Input("zero", "lowest entry", 0.0, "A", Basis.CHOSEN),
            Input("whole", "a whole ampere", _WHOLE, "A", Basis.CHOSEN),
        ),
        source="common-practice",
    )


# A shunt meter calls the pack full when the voltage is above this far under the charge voltage
# [V a cell]: 0.2-0.4 V on a 48 V class pack. Common practice, no source.
_FULL_BELOW = 0.02
_TENTH = 0.1  # what the charged voltage is entered to [V]
_SHUNT_MARGIN, _SHUNT_EFFICIENCY = 0.01, "99 %"
# The tail current above which a meter would call a pack full that is still being charged.
# Common practice, no source.
_SHUNT_MOST = 0.3


def shunt_settings(
    ground: Groundwork, thresholds: Thresholds, ends: tuple[float, float] | None = None
) -> DeviceSettings | None:
    """Return what to enter on a battery meter with a shunt, if there is one.

    Parameters
    ----------
    ends : tuple of float, optional
        Charge voltage [V] and voltage error [1] of the charger that may really end lowest; by
        default the lowest charge voltage, without error.
    """
    if thresholds.charge is None or thresholds.cut_off is None:
        return None
    source = ground.source
    top = source.state_at_rest(thresholds.charge)
    bottom = source.state_at_rest(thresholds.cut_off)
    if top <= bottom:
        return None  # nothing to count between full and the cut-off
    module = ground.build.pack.module
    capacity = Worked(
        name="capacity",
        kind=CHARGE,
        formula="{Q} · ({s_top} − {s_bottom})",
        inputs=(
            Input("Q", "capacity", source.capacity, "Ah", module.basis.of("capacity")),
            Input("s_top", "state of charge after charging", top, "", Basis.COMPUTED),
            Input(
                "s_bottom", "state of charge at the cut-off, at rest", bottom, "", Basis.COMPUTED
            ),
        ),
        source="common-practice",
    )
    volts, error = ends or (thresholds.charge, 0.0)
    charged = Worked(
        name=Line.FULL_VOLTAGE,
        kind=VOLTAGE,
        formula="down({V_charge} · (1 − {ε}) − {n} · {V_below}, {zero}, {tenth})",
        inputs=(
            Input(
                "V_charge",
                "charge voltage of the charger that may end lowest",
                volts,
                "V",
                Basis.COMPUTED,
            ),
            Input("ε", "its voltage error", error, "", Basis.COMPUTED),
            ground.cells(),
            Input("zero", "lowest entry", 0.0, "V", Basis.CHOSEN),
            Input("tenth", "step of an entry", _TENTH, "V", Basis.ASSUMED),
            Input("V_below", "how far under it counts as full", _FULL_BELOW, "V", Basis.ASSUMED),
        ),
        source="common-practice",
    )
    over = end_current(ground)
    units = max(1, sum(c.count for c in ground.build.all_chargers))
    tail = Worked(
        name=Line.FULL_CURRENT,
        kind=SHARE,
        formula="up({N_ch} · {I_end} / ({Q_in} / 1 h) + {k_more}, {zero}, {whole})",
        inputs=(
            count("N_ch", "chargers", units),
            from_worked("I_end", over),
            from_worked("Q_in", capacity),
            Input("k_more", "how far above it", _SHUNT_MARGIN, "", Basis.ASSUMED),
            Input("zero", "lowest entry", 0.0, "", Basis.CHOSEN),
            Input("whole", "a whole per cent", 0.01, "", Basis.CHOSEN),
        ),
        source="common-practice",
    )
    return DeviceSettings(
        device="battery meter with a shunt, if fitted",
        optional=True,
        lines=(
            Setting(
                name=Line.CAPACITY,
                act=Act.ENTER,
                entry=str(capacity),
                shows=said_number(capacity.value, capacity.unit),
                why="The charge between full and the cut-off, so that 0 % on the meter is where "
                "the inverter stops.",
                worked=capacity,
            ),
            voltage_line(
                ground,
                Line.FULL_VOLTAGE,
                charged,
                why="Above this, with the current below the one that counts as full, the meter "
                "calls the pack full and starts counting anew. Every charger reaches it, though it "
                "may end low by its error.",
                offers="",
            ),
            _tail_line(tail),
            Setting(
                name=Line.EFFICIENCY,
                act=Act.ENTER,
                entry=_SHUNT_EFFICIENCY,
                why="Lithium gives back nearly all the charge put in.",
            ),
            Setting(
                name=Line.PEUKERT,
                act=Act.ENTER,
                entry="1.05",
                why="Lithium gives nearly the same charge fast and slow; 1.00 to 1.05.",
            ),
        ),
    )


def _tail_line(tail: Worked) -> Setting:
    """Return the line of the tail current; none where so little is counted that none fits."""
    if tail.value > _SHUNT_MOST:
        return Setting(
            name=Line.FULL_CURRENT,
            act=Act.CANNOT,
            entry="none fits",
            why=f"The chargers stop at as much as {tail} of the capacity entered above: a meter "
            "set to that would call the pack full while it is still being charged. Set it to full "
            "by hand after a finished charge.",
        )
    return Setting(
        name=Line.FULL_CURRENT,
        act=Act.ENTER,
        entry=say(tail.value, ""),
        shows=said_number(tail.value, ""),
        why="Share of the capacity entered above. It must lie over the current at which the "
        "chargers stop, or the meter never sees a finished charge.",
        worked=tail,
    )
