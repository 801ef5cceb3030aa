"""Decisions made up by hand from the nouns, so that showing is tested apart from judging."""

from __future__ import annotations

import attrs
import numpy as np

from evpack.base.basis import Basis
from evpack.base.finding import Finding, Rule, Severity, Standing, at_most, state, unknown
from evpack.base.units import (
    CHARGE,
    CURRENT,
    ENERGY,
    HEAT,
    POWER,
    RESISTANCE,
    SHARE,
    TIME,
    VOLTAGE,
    Kind,
)
from evpack.base.worked import Input, Worked, count
from evpack.decide import decide
from evpack.describe.build import Build
from evpack.describe.cabling import Cabling, Conductor, Run
from evpack.describe.charger import Charger, LeadAcidProfile
from evpack.describe.chemistry import CellLimits, CellTargets, Chemistry
from evpack.describe.inverter import Inverter
from evpack.describe.module import Module
from evpack.describe.ocv import OcvCurve
from evpack.describe.pack import Monitoring, Pack
from evpack.describe.safeguards import FuseFamily
from evpack.describe.site import Load, Site
from evpack.outcome.design import Decision, Design, SolarSide, UsableWindow
from evpack.outcome.groundwork import PackFigures, Sharing
from evpack.outcome.protection import (
    ARRAY,
    CHARGER,
    MAIN,
    STRING,
    CableChoice,
    CableTest,
    Circuit,
    FaultBand,
    FuseChoice,
    HeldBy,
    Need,
    PartLine,
    PrechargePlan,
    ProtectionSchedule,
)
from evpack.outcome.settings import (
    Act,
    DeviceSettings,
    Setting,
    SettingsSheet,
    Thresholds,
)

HOSTILE = "<script>alert('x')</script>&\"\x1b[31m\u202e"
HOSTILE_PARTS = ("<script", "alert('x')", "\x1b", "\u202e")

CURVE = OcvCurve(
    soc=[0, 0.05, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 0.95, 1],
    volts=[3.0, 3.473, 3.513, 3.588, 3.64, 3.672, 3.717, 3.799, 3.881, 3.972, 4.077, 4.136, 4.2],
    source="mohtat-2020",
    quality="from a published parameter set",
    basis=Basis.ASSUMED,
)
CHEMISTRY = Chemistry(
    key="nmc",
    name="NMC / graphite",
    limits=CellLimits(
        highest="4.2 V",
        nominal="3.65 V",
        least="2.7 V",
        reject_below="2.0 V",
        charge_coldest="0 degC",
        charge_hottest="45 degC",
        discharge_coldest="-20 degC",
        discharge_hottest="60 degC",
    ),
    targets=CellTargets(
        charge="4.05 V",
        low_at_rest="3.45 V",
        changeover_loaded="3.4 V",
        warn_high="4.12 V",
        cut_high="4.18 V",
        warn_low="3.2 V",
        cut_low="3.0 V",
        float_most="3.95 V",
        top_guard="20 mV",
        ladder_gap="30 mV",
        rest="1 h",
    ),
    ocv=CURVE,
    confidence="0.85",
    source="cell-limits",
)
REFUSED = Chemistry(
    key="nimh",
    name="NiMH",
    limits=CellLimits(
        highest="1.6 V",
        nominal="1.2 V",
        least="1 V",
        reject_below="0.5 V",
        charge_coldest="0 degC",
        charge_hottest="45 degC",
        discharge_coldest="-20 degC",
        discharge_hottest="50 degC",
    ),
    targets=None,
    ocv=None,
    confidence="0.6",
    source="cell-limits",
    why_refused="Its charge ends by a falling voltage or a rising temperature, not at a voltage.",
)

CONDUCTOR = Conductor(
    size="2/0 AWG",
    area=67.4,
    ohm_per_metre=0.000328,
    ampacity=175.0,
    resistance_source="nec-ch9-t8",
    ampacity_source="nec-310.16",
    conditions="75 °C column, 40 °C ambient",
)
FAMILY = FuseFamily(
    key="class-t",
    name="Class T",
    standard="UL 248-15",
    dc_voltage="160 V",
    interrupting="20 kA",
    largest="400 A",
    note="Very fast.",
    source="common-practice",
    basis=Basis.ASSUMED,
)


def module(name: str = "Seven-cell module") -> Module:
    return Module(
        name=name,
        chemistry=CHEMISTRY,
        cells_in_series=7,
        cells_in_parallel=2,
        capacity="78 Ah",
        resistance="9.8 mOhm",
        resistance_method="10 s pulse",
        discharge_limit="120 A",
        charge_limit="40 A",
        available=8,
        basis={"default": "datasheet", "capacity": "measured", "resistance": "measured"},
    )


def build(name: str = "Spare barn") -> Build:
    """Return a build; every text in it that a user types is made of `name`."""
    return Build(
        title=name,
        pack=Pack(
            module=module(f"Module {name}"),
            modules_in_series=2,
            strings=3,
            monitoring=Monitoring(name=f"Watcher {name}", every_cell=True, balances=True),
        ),
        inverters=(
            Inverter(
                name=f"Inverter {name}",
                continuous="5 kW",
                surge="10 kW",
                efficiency="92 %",
                window_low="40 V",
                window_high="62 V",
                survives="66 V",
                restart="49.6 V",
                cut_off=("40 V", "50 V", "0.1 V"),
                changeover=("42 V", "54 V", "0.1 V"),
                return_to_battery=("46 V", "58 V", "0.1 V"),
                basis="datasheet",
                where=f"menu {name}",
            ),
        ),
        chargers=(
            Charger(
                name=f"Roof {name}",
                source="solar",
                charge_voltage=("48 V", "60 V", "0.1 V"),
                current="80 A",
                current_setting=("5 A", "80 A", "5 A"),
                basis="datasheet",
            ),
            Charger(
                name=f"Standby {name}",
                source="generator",
                charge_voltage="none",
                left_on=PROFILE,
            ),
        ),
        load=Load(continuous="3 kW", typical="800 W", peak="7 kW"),
        site=Site(place=name, coldest="-5 degC", warmest="38 degC"),
        cabling=Cabling(
            module_lead=Run(name=f"Lead {name}", conductor=CONDUCTOR, length="1.2 m"),
            main=Run(name=f"Main {name}", conductor=CONDUCTOR, length="2 m", parallel=2),
        ),
        profiles=(PROFILE,),
        note=name,
        invented=True,
    )


PROFILE = LeadAcidProfile(
    name="48 V lead-acid",
    absorption="57.6 V",
    float_voltage="54 V",
    equalise="62 V",
    compensation="-0.12 V/K",
    reference="25 degC",
    low_cut_off="42 V",
)


def _worked(
    name: str, value: float, kind: Kind, formula: str, *inputs: Input, source: str = "arithmetic"
) -> Worked:
    return Worked(name=name, value=value, kind=kind, formula=formula, inputs=inputs, source=source)


def _cell(symbol: str, means: str, value: float) -> Input:
    return Input(symbol, means, value, "V", Basis.ASSUMED)


def _volts(name: str, value: float, cell: float) -> Worked:
    return _worked(
        name,
        value,
        VOLTAGE,
        "down({n} · ({V_x} − {δ}) / (1 + {ε}), {from}, {step})",
        count("n", "cells in series", 14),
        _cell("V_x", "target for one cell", cell),
        _cell("δ", "least guard for cell spread", 0.02),
        Input("ε", "charger voltage error, where not stated", 0.01, "", Basis.ASSUMED),
        Input("from", "the device's lowest entry", 40.0, "V", Basis.DATASHEET),
        Input("step", "the device's step", 0.1, "V", Basis.DATASHEET),
    )


def _of(name: str, value: float, kind: Kind, means: str = "worked elsewhere") -> Worked:
    return _worked(name, value, kind, "{x}", Input("x", means, value, kind.unit, Basis.COMPUTED))


def figures() -> PackFigures:
    n = count("n", "cells in series", 14)

    def pack(name: str, symbol: str, means: str, cell: float) -> Worked:
        return _worked(
            name, 14 * cell, VOLTAGE, f"{{n}} · {{{symbol}}}", n, _cell(symbol, means, cell)
        )

    return PackFigures(
        cells_in_series=14,
        modules=6,
        reachable=(7, 14, 21, 28),
        nominal=pack("nominal voltage", "V_nom", "nominal voltage of a cell", 3.65),
        least=pack("least voltage", "V_min", "least voltage of a cell", 2.7),
        highest=pack("highest voltage", "V_max", "highest voltage of a cell", 4.2),
        charge_target=pack(
            "charge target, highest cell", "V_high", "charge target for the highest cell", 4.05
        ),
        capacity=_of("capacity", 234.0, CHARGE),
        label_energy=_of("energy on the label", 11957.0, ENERGY),
        resistance=_of("DC internal resistance", 0.00653, RESISTANCE),
        discharge_limit=_of("discharge current limit", 300.0, CURRENT),
        discharge_peak=None,
        charge_limit=_of("charge current limit of the modules", 100.0, CURRENT),
    )


def settings(name: str = "Spare barn", *, withheld: bool = False) -> SettingsSheet:
    def line(title: str, volts: float, cell: float, rest: float, loaded: float | None) -> Setting:
        return Setting(
            name=title,
            act=Act.ENTER,
            entry=f"{volts:g} V",
            why=f"Keeps the cells where they belong ({name}).",
            worked=_volts(title, volts, cell),
            offers="40 V to 60 V in 0.1 V",
            per_cell=volts / 14,
            soc_rest=rest,
            soc_loaded=loaded,
            lost="0.04 V to the step or range, 0.2 % of the charge",
        )

    off = Setting(name="float voltage", act=Act.TURN_OFF, entry="off", why="No float.")
    return SettingsSheet(
        devices=(
            DeviceSettings(
                device=f"Inverter {name}",
                lines=(
                    line("low-voltage cut-off", 46.3, 3.22, 0.02, 0.06),
                    line("changeover to the utility", 49.4, 3.5, 0.14, 0.2),
                    line("return to battery", 52.4, 3.7, 0.55, None),
                ),
            ),
            DeviceSettings(
                device=f"Roof {name}",
                lines=(line("charge voltage (absorption)", 55.8, 4.05, 0.82, 0.9), off),
            ),
            DeviceSettings(
                device=f"Standby {name}",
                lines=(
                    Setting(
                        name="charge voltage (absorption)",
                        act=Act.CANNOT,
                        entry="do not connect",
                        why="Its voltage is fixed.",
                    ),
                    Setting(name="equalise", act=Act.FIND_OUT, entry="?", why="Nobody said."),
                ),
            ),
        ),
        thresholds=Thresholds(
            charge=55.8, charge_most=56.4, cut_off=46.3, changeover=49.4, back=52.4
        ),
        withheld=withheld,
    )


def usable() -> UsableWindow:
    soc = np.linspace(0, 1, 101)
    rest = 14 * np.interp(soc, CURVE.soc, CURVE.volts)
    loaded = rest - 62.0 * 0.014
    loaded[:3] = np.nan
    total = 12060.0
    return UsableWindow(
        soc_top=0.88,
        soc_bottom=0.06,
        soc_changeover=0.2,
        bottom_by="cut-off",
        total=_of("energy in the pack", total, ENERGY),
        reachable=_of("energy within reach", 9700.0, ENERGY),
        reachable_ac=_of("energy within reach, AC", 8730.0, ENERGY),
        everyday_ac=_of("everyday energy, AC", 7326.0, ENERGY),
        reserve_ac=_of("energy in reserve, AC", 1404.0, ENERGY),
        load_ac=900.0,
        share=_of("share within reach", 9700.0 / total, SHARE),
        everyday=_of("everyday energy", 8140.0, ENERGY),
        reserve=_of("energy in reserve", 1560.0, ENERGY),
        stranded_above=_of("never charged", 1560.0, ENERGY),
        stranded_below=_of("out of reach below", 590.0, ENERGY),
        lost_inside=_of("turned to heat inside", 210.0, ENERGY),
        load=3261.0,
        soc=soc,
        rest=rest,
        loaded=loaded,
    )


def tried(name: str, value: float | None, limit: float | None, *, at_least: bool) -> CableTest:
    """Return a test of a cable that came out as its numbers say; None is unknown."""
    kind = VOLTAGE if name.startswith("drop") else CURRENT
    passes = None
    if value is not None and limit is not None:
        passes = value >= limit if at_least else value <= limit
    return CableTest(
        name=name,
        value=None if value is None else _of(f"value of {name}", value, kind),
        limit=None if limit is None else _of(f"limit of {name}", limit, kind),
        passes=passes,
        at_least=at_least,
    )


def circuit(kind: str, place: str, device: str, run: Run | None, **changes: object) -> Circuit:
    fields = {
        "kind": kind,
        "place": place,
        "device": device,
        "source": "string" if kind == STRING else "bus",
        "end": "bus" if kind == STRING else device,
        "count": 1,
        "run": run,
        "run_key": f"[cabling.{kind}]",
        "carries": _of("carried for good", 76.0, CURRENT),
        "lower": None,
        "upper": None,
        "voltage": None,
        "interrupting": None,
        "least_fault": None,
        "held": HeldBy(rules="nec", as_gg=False, sizes=(15.0, 60.0, 100.0)),
        "section": f"protection.{kind}_fuse",
        "guarded_by": f"[cabling.{kind}]",
    }
    return Circuit(**{**fields, **changes})


def protection(name: str = "Spare barn", *, withheld: bool = False) -> ProtectionSchedule:
    lead = Run(name=f"Lead {name}", conductor=CONDUCTOR, length="1.2 m")
    main = Run(name=f"Main {name}", conductor=CONDUCTOR, length="2 m", parallel=2)
    return ProtectionSchedule(
        faults=(
            FaultBand(
                place=f"main {name}",
                low=_of("least fault current", 2850.0, CURRENT),
                high=_of("most fault current", 17100.0, CURRENT),
                time_constant=_of("time constant", 0.0004, TIME),
                assumed=True,
            ),
            FaultBand(
                place="string",
                low=None,
                high=_of("most fault current", 5700.0, CURRENT),
                time_constant=_of("time constant", 0.0003, TIME),
            ),
        ),
        circuits=(
            circuit(STRING, "string", "", lead, count=3),
            circuit(MAIN, f"main {name}", f"Inverter {name}", main),
            circuit(CHARGER, f"charger {name}", f"Roof {name}", None),
            circuit(
                ARRAY,
                f"array {name}",
                f"Array {name}",
                lead,
                end=f"Roof {name}",
                needs_fuse=False,
                no_fuse="2 in parallel: no string can be fed too much.",
            ),
        ),
        fuses=(
            FuseChoice(
                place="string",
                count=3,
                lower=_of("least rating", 52.0, CURRENT),
                upper=_of("most rating", 120.0, CURRENT),
                voltage=_of("DC rating needed", 58.8, VOLTAGE),
                interrupting=_of("must interrupt", 11432.0, CURRENT),
                size=100.0,
                family=FAMILY,
                reason="The smallest standard size above the lower bound with a margin.",
            ),
            FuseChoice(
                place=f"main {name}",
                count=1,
                lower=_of("least rating", 130.0, CURRENT),
                upper=None,
                voltage=_of("DC rating needed", 58.8, VOLTAGE),
                interrupting=None,
                size=None,
                family=None,
                reason="The cable is not known.",
                change="Say which conductor the main run has.",
            ),
            FuseChoice(
                place=f"charger {name}",
                count=1,
                lower=_of("least rating", 130.0, CURRENT),
                upper=_of("most rating", 110.0, CURRENT),
                voltage=_of("DC rating needed", 58.8, VOLTAGE),
                interrupting=_of("must interrupt", 11432.0, CURRENT),
                size=None,
                family=None,
                reason="No fuse fits.",
                change="Use a thicker cable.",
            ),
        ),
        cables=(
            CableChoice(
                place="string",
                count=3,
                run=lead,
                tests=(
                    tried("carries", 62.0, 175.0, at_least=False),
                    tried("drop", 0.25, 0.5, at_least=False),
                ),
                smallest=attrs.evolve(CONDUCTOR, size="25 mm2", area=25.0),
                decided_by="carries",
            ),
            CableChoice(
                place=f"main {name}",
                count=1,
                run=main,
                tests=(
                    tried("carries", 180.0, 175.0, at_least=False),
                    tried("withstands", None, 180.0, at_least=False),
                    tried("a new test", 1.0, None, at_least=True),
                ),
                smallest=None,
                decided_by="",
                reason=f"No size passes for {name}.",
            ),
            CableChoice(
                place=f"charger {name}", count=1, run=None, tests=(), smallest=None, decided_by=""
            ),
            CableChoice(
                place=f"array {name}", count=1, run=lead, tests=(), smallest=None, decided_by=""
            ),
        ),
        needs=(
            Need(
                what="battery disconnect",
                count=1,
                lines=(_of("current", 76.04, CURRENT),),
                must=("opens both poles",),
                stated=f"80 V, {name}",
            ),
            Need(what="bus bars", count=2),
        ),
        precharge=(
            PrechargePlan(
                inverter=f"Inverter {name}",
                count=2,
                with_it=(_of("resistor", 22.0, RESISTANCE), _of("heat", 34.6, HEAT)),
                without=(_of("first current", 2400.0, CURRENT),),
                stated=False,
                reason=f"Proposed for {name}.",
            ),
            PrechargePlan(inverter="Other", count=1, with_it=(), without=(), stated=True),
        ),
        parts=(
            PartLine(function="fuse: string", rating="100 A", count=3, note=f"of {name}"),
            PartLine(function="cable: main", rating="2/0 AWG, copper", count=4, metres=8.0),
        ),
        withheld=withheld,
    )


SOLAR = (
    SolarSide(
        array="Array Spare barn",
        charger="Roof Spare barn",
        cold_open=_of("coldest open-circuit voltage", 131.4, VOLTAGE),
        hot_working=None,
        short=_of("short-circuit current", 22.4, CURRENT),
        rated=_of("rated power", 3200.0, POWER),
        real=None,
        into_battery=None,
    ),
)


def sharing() -> Sharing:
    return Sharing(
        strings=3,
        total=_of("total current", 76.0, CURRENT),
        even=_of("even share", 25.3, CURRENT),
        worst=_of("worst string", 30.4, CURRENT),
        one_out=_of("with one string out", 38.0, CURRENT),
        method="a simple bound",
    )


HIGH = Rule(
    key="window.high",
    says="A full pack must not exceed the highest DC voltage the inverter stands.",
    source="equipment-manual",
    stands=Standing.BOUND,
    kind=VOLTAGE,
)
COLD = Rule(
    key="cold.charge",
    says="No charge below the coldest limit.",
    source="cell-limits",
    stands=Standing.BOUND,
)
POWERED = Rule(
    key="load.peak",
    says="The peak must be carried.",
    source="equipment-manual",
    stands=Standing.BOUND,
    kind=POWER,
)


def findings(name: str, *severities: Severity) -> tuple[Finding, ...]:
    made = [
        at_most(
            HIGH,
            VOLTAGE.of(58.8),
            VOLTAGE.of(62.0),
            about=f"Inverter {name}",
            otherwise=Severity.STOP,
            value_name="the highest voltage of the pack",
            limit_name="the highest the inverter works at",
            assumed=("highest voltage of a cell",),
        )
    ]
    for severity in severities:
        if severity is Severity.UNKNOWN:
            made.append(
                unknown(
                    POWERED,
                    about=f"Load {name}",
                    detail=f"The peak of {name} is not known.",
                    remedy=f"Measure {name}.",
                )
            )
        else:
            made.append(
                state(
                    COLD,
                    severity,
                    about=f"Site {name}",
                    detail=f"It gets colder ({name}) than cells may be charged at.",
                    remedy=f"Block charging below 0 °C, or heat {name}.",
                    assumed=(f"coldest of {name}",),
                )
            )
    return tuple(made)


def decision(*severities: Severity, name: str = "Spare barn") -> Decision:
    """Return a whole decision with findings of these severities besides one pass."""
    found = findings(name, *severities)
    return decide(
        Design(
            build=build(name),
            figures=figures(),
            settings=settings(name, withheld=any(f.holds for f in found)),
            usable=usable(),
            sharing=sharing(),
            protection=protection(name, withheld=any(f.holds for f in found)),
            solar=SOLAR,
            findings=found,
        )
    )


def bare(name: str = "Nothing known") -> Decision:
    """Return a decision of which every part is missing: refused cells, unknown equipment."""
    made = Module(name=name, chemistry=REFUSED, cells_in_series=6, capacity="6.5 Ah")
    stated = Build(
        title=name,
        pack=Pack(module=made, modules_in_series=7),
        inverters=(Inverter(name="Unknown inverter"),),
        chargers=(Charger(name="Unknown charger", source="mains"),),
        load=Load(continuous="500 W"),
    )
    return decide(
        Design(
            build=stated,
            figures=None,
            settings=None,
            usable=None,
            sharing=None,
            protection=None,
            findings=findings(name, Severity.STOP, Severity.UNKNOWN),
        )
    )


def without_changeover() -> Decision:
    """Return a decision whose usable window knows no changeover and holds odd numbers."""
    made = decision()
    window = attrs.evolve(
        usable(),
        soc_changeover=None,
        everyday=None,
        reserve=None,
        loaded=np.full(101, np.nan),
        lost_inside=_of("turned to heat inside", float("nan"), ENERGY),
    )
    return decide(attrs.evolve(made.design, usable=window))
