"""What the equipment states: inverters, chargers with their profiles, solar arrays."""

from __future__ import annotations

from evpack.base.fitted import NotFitted
from evpack.base.units import POWER
from evpack.describe.array import Array
from evpack.describe.charger import Charger, LeadAcidProfile
from evpack.describe.inverter import Inverter
from evpack.show.fact import Fact, Facts, facts, many, row, rows
from evpack.show.words import NOT_KNOWN, count_of, told


@facts.register
def _inverter(inverter: Inverter) -> Facts:
    built_in = inverter.charger
    return Facts(
        inverter.name,
        many(
            Fact("units in parallel", str(inverter.count)),
            Fact("feeds leg", inverter.leg) if inverter.leg else (),
            rows(
                inverter,
                ("output, for good, each", "continuous"),
                ("surge, each", "surge"),
                ("surge lasts", "surge_time"),
                ("efficiency at full output", "efficiency"),
                ("idle draw, each", "idle"),
                ("works from", "window_low"),
                ("works up to", "window_high"),
                ("stands without damage", "survives"),
                ("starts again at", "restart"),
                ("low-voltage cut-off can be set", "cut_off"),
                ("changeover to utility can be set", "changeover"),
                ("return to battery can be set", "return_to_battery"),
                ("error of its voltmeter", "meter_accuracy"),
                ("input capacitance, each", "input_capacitance"),
            ),
            [
                row(inverter, label, field)
                for label, field in (
                    ("may be joined with others", "parallel_operation"),
                    ("feeds circuits of its own", "own_circuits"),
                )
                if getattr(inverter, field) is not None  # of one alone nobody asks
            ],
            Fact("built-in charger", _built_in(built_in)),
            Fact("where its settings are", inverter.where) if inverter.where else (),
        ),
    )


def _built_in(found: Charger | NotFitted | None) -> str:
    if isinstance(found, Charger):
        return found.name + (f", {found.kept_off}" if found.kept_off else "")
    return NOT_KNOWN if found is None else "none fitted"


@facts.register
def _charger(charger: Charger) -> Facts:
    left_on = charger.left_on
    return Facts(
        charger.name,
        many(
            Fact("fed by", charger.source),
            Fact("units", str(charger.count)),
            Fact("kept off", charger.kept_off) if charger.kept_off else (),
            rows(
                charger,
                ("charge voltage can be set", "charge_voltage"),
                ("error of its voltage", "accuracy"),
                ("most current, each", "current"),
                ("current limit can be set", "current_setting"),
                ("float can be turned off", "float_can_be_off"),
                ("float can be set", "float_setting"),
                ("temperature compensation can be turned off", "compensation_can_be_off"),
                ("equalising can be turned off", "equalise_can_be_off"),
                ("rated power of what feeds it", "power"),
            ),
            rows(
                charger,
                ("most voltage at its solar input", "pv_highest"),
                ("panels must lie above the battery by", "pv_above_battery"),
                ("most short-circuit current of panels", "pv_most_current"),
                ("solar inputs apart from each other", "pv_inputs"),
                ("most rated power of panels", "pv_most_power"),
            )
            if charger.source == "solar"
            else (),
            Fact("lead-acid profile left on", left_on.name if left_on else "none"),
            Fact("where its settings are", charger.where) if charger.where else (),
        ),
    )


@facts.register
def _profile(profile: LeadAcidProfile) -> Facts:
    return Facts(
        profile.name,
        rows(
            profile,
            ("absorption", "absorption"),
            ("float", "float_voltage"),
            ("equalise", "equalise"),
            ("added for every kelvin colder", "compensation"),
            ("colder than", "reference"),
            ("low cut-off", "low_cut_off"),
        ),
    )


@facts.register
def _array(array: Array) -> Facts:
    panels = array.in_series * array.in_parallel
    return Facts(
        array.name,
        many(
            Fact("feeds", array.feeds),
            Fact("on input", array.on_input) if array.on_input else (),
            Fact(
                "panels",
                f"{count_of(panels, 'panel')}: {array.in_series} in series, "
                f"{array.in_parallel} in parallel",
            ),
            rows(
                array,
                ("open-circuit voltage of a panel", "open_circuit"),
                ("its voltage at most power", "maximum_power_voltage"),
                ("short-circuit current of a panel", "short_circuit"),
                ("its current at most power", "maximum_power_current"),
                ("rated power of a panel", "power"),
            ),
            ()
            if array.power is None
            else Fact("rated power of all", told(POWER.of(array.power.m * panels))),
            rows(array, ("change of its open-circuit voltage", "coefficient"))
            if array.coefficient is not None
            else Fact(
                "change of its open-circuit voltage",
                "by the table for crystalline silicon" if array.crystalline else told(None),
            ),
            rows(array, ("change of its voltage at most power", "power_coefficient"))
            if array.power_coefficient is not None
            else (),
            rows(
                array,
                ("cells of crystalline silicon", "crystalline"),
                ("largest fuse that a panel allows", "largest_fuse"),
            ),
        ),
    )
