"""A known-good build in plain Python, and a hypothesis strategy for every noun.

Nothing here reads a data file: the cell limits are written out from common practice (from memory,
no source), and every module, device and conductor is invented. `good_build` works without any
limit, so that a test changes one thing and sees what that one thing does.
"""

from __future__ import annotations

from typing import Any

import attrs
from hypothesis import strategies as st

from evpack.base.basis import Basis, bases
from evpack.base.fitted import NOT_FITTED
from evpack.base.units import Quantity
from evpack.check.figures import pack_figures
from evpack.check.source import demand, pack_source
from evpack.describe.array import Array
from evpack.describe.build import Build
from evpack.describe.cabling import Busbar, Cabling, Conductor, Run
from evpack.describe.charger import Charger, LeadAcidProfile
from evpack.describe.chemistry import CellLimits, CellTargets, Chemistry
from evpack.describe.inverter import Inverter
from evpack.describe.module import Module
from evpack.describe.ocv import OcvCurve, ResistanceCurve
from evpack.describe.pack import Monitoring, Pack
from evpack.describe.policy import Policy
from evpack.describe.safeguards import (
    Disconnect,
    EmergencyOff,
    FuseCatalogue,
    FuseFamily,
    Precharge,
    Safeguards,
)
from evpack.describe.site import PLACES, Load, Site
from evpack.outcome.groundwork import Groundwork

# --- Plain builders ---------------------------------------------------------------------------


def curve(soc: tuple[float, ...], volts: tuple[float, ...]) -> OcvCurve:
    return OcvCurve(
        soc=soc, volts=volts, source="common-practice", quality="for tests", basis=Basis.MEASURED
    )


def straight(empty: float, full: float) -> OcvCurve:
    """Return an open-circuit curve of two points, so that integrals have a closed form."""
    return curve((0.0, 1.0), (empty, full))


def chemistry(key: str, limits: str, targets: str, ocv: OcvCurve, **more: Any) -> Chemistry:
    """Return a chemistry from its voltages, as bare numbers in the order of the nouns' fields."""
    highest, nominal, least, reject = (f"{v} V" for v in limits.split())
    names = [f.name for f in attrs.fields(CellTargets) if f.name != "rest"]
    values = dict(zip(names, (f"{v} V" for v in targets.split()), strict=True))
    return Chemistry(
        key=key,
        name=f"{key} cell",
        limits=CellLimits(
            highest=highest,
            nominal=nominal,
            least=least,
            reject_below=reject,
            charge_coldest="0 degC",
            charge_hottest="45 degC",
            discharge_coldest="-20 degC",
            discharge_hottest="60 degC",
        ),
        targets=CellTargets(**values, rest="1 h"),
        ocv=ocv,
        confidence="for tests",
        source="cell-limits",
        basis="datasheet",
        **more,
    )


# charge, low at rest, changeover loaded, high warn and cut, low warn and cut, float, guard, gap
OXIDE = chemistry(
    "oxide",
    "4.2 3.65 3.0 2.0",
    "4.05 3.45 3.4 4.12 4.18 3.2 3.0 3.95 0.02 0.03",
    curve((0.0, 0.1, 0.2, 0.5, 0.8, 1.0), (3.0, 3.513, 3.588, 3.717, 3.972, 4.2)),
)
BLEND = chemistry(
    "blend",
    "4.2 3.75 2.7 2.0",
    "4.05 3.5 3.45 4.12 4.15 3.3 3.0 3.95 0.02 0.03",
    # The rest voltages of the bench record at doi 10.5281/zenodo.2580327, its ends estimated.
    curve(
        (0.0, 0.061, 0.165, 0.270, 0.374, 0.478, 0.582, 0.687, 0.791, 0.895, 1.0),
        (3.0, 3.531, 3.723, 3.802, 3.869, 3.909, 3.949, 3.984, 4.048, 4.086, 4.182),
    ),
)
SPINEL = chemistry(
    "spinel",
    "4.2 3.8 2.7 2.0",
    "4.05 3.6 3.5 4.12 4.15 3.3 3.0 3.95 0.02 0.03",
    curve((0.0, 0.05, 0.2, 0.5, 0.8, 1.0), (3.393, 3.639, 3.794, 3.943, 4.011, 4.117)),
)
IRON = chemistry(
    "iron",
    "3.65 3.2 2.5 2.0",
    "3.45 3.1 3.05 3.55 3.6 2.9 2.7 3.35 0.05 0.05",
    curve((0.0, 0.05, 0.2, 0.5, 0.8, 0.95, 1.0), (2.5, 3.067, 3.239, 3.299, 3.331, 3.348, 3.598)),
    flat=True,
)
TITANATE = chemistry(
    "titanate",
    "2.8 2.35 1.5 1.0",
    "2.6 2.1 2.0 2.68 2.72 1.9 1.75 2.45 0.02 0.04",
    curve((0.0, 0.05, 0.2, 0.5, 0.8, 1.0), (2.11, 2.138, 2.186, 2.288, 2.513, 2.742)),
)
HYDRIDE = Chemistry(
    key="hydride",
    name="hydride cell",
    limits=CellLimits(
        highest="1.5 V",
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
    confidence="for tests",
    source="cell-limits",
    why_refused="Its charge ends by a fall in voltage, not at a voltage.",
)
CHEMISTRIES = (OXIDE, BLEND, SPINEL, IRON, TITANATE)


def good_conductor(
    ampacity: float = 175.0, milliohm_per_metre: float = 0.32, area: float = 67.4
) -> Conductor:
    return Conductor(
        size="invented size",
        area=area,
        ohm_per_metre=milliohm_per_metre / 1000,
        ampacity=ampacity,
        resistance_source="common-practice",
        ampacity_source="common-practice",
        conditions="for tests",
    )


def good_family(**changes: Any) -> FuseFamily:
    fields: dict[str, Any] = {
        "key": "good",
        "name": "fuse with its print read",
        "standard": "none",
        "dc_voltage": "125 V",
        "interrupting": "20 kA",
        "largest": "400 A",
        "characteristic": "" if changes.get("kind") == "breaker" else "quick",
        "note": "",
        "source": "common-practice",
        "basis": Basis.DATASHEET,
    }
    return FuseFamily(**{**fields, **changes})


# Stronger than any that is sold, so that no build of the strategies is held up by its fuses.
STRONG = good_family(
    dc_voltage="1000 V",
    interrupting="500 kA",
    largest="6000 A",
    confirmed=frozenset({"interrupting", "largest"}),
)

# The ratings of NEC 240.6(A) up to 400 A.
SMALL_SIZES = (15, 20, 25, 30, 35, 40, 45, 50, 60, 70, 80, 90)
SIZES = (*SMALL_SIZES, 100, 110, 125, 150, 175, 200, 225, 250, 300, 350, 400)


def good_catalogue(*families: FuseFamily) -> FuseCatalogue:
    return FuseCatalogue(
        families=families or (good_family(),),
        sizes=tuple(float(s) for s in SIZES),
        sizes_source="nec-240.6a",
    )


def good_profile(**changes: Any) -> LeadAcidProfile:
    """Return the usual 48 V profile for flooded lead-acid: 24 cells, 5 mV a cell and kelvin."""
    fields: dict[str, Any] = {
        "name": "flooded",
        "absorption": "57.6 V",
        "float_voltage": "54 V",
        "equalise": "62 V",
        "compensation": "0.12 V/K",
        "reference": "25 degC",
        "low_cut_off": "42 V",
    }
    return LeadAcidProfile(**{**fields, **changes})


def good_module(**changes: Any) -> Module:
    fields: dict[str, Any] = {
        "name": "module",
        "chemistry": OXIDE,
        "cells_in_series": 7,
        "capacity": "60 Ah",
        "resistance": "10 mOhm",
        "resistance_method": "10 s pulse",
        "discharge_limit": "60 A",
        "discharge_peak": "120 A",
        "charge_limit": "30 A",
        "link_limit": "90 A",
        "available": 10,
        "basis": {"default": "datasheet", "capacity": "measured", "resistance": "measured"},
    }
    return Module(**{**fields, **changes})


def good_monitoring(**changes: Any) -> Monitoring:
    fields: dict[str, Any] = {
        "every_cell": True,
        "temperatures": True,
        "stops_charge": True,
        "stops_discharge": True,
        "blocks_cold_charge": True,
        "balances": True,
        "watches_each_string": True,
        "basis": "datasheet",
    }
    return Monitoring(**{**fields, **changes})


def good_pack(**changes: Any) -> Pack:
    fields: dict[str, Any] = {
        "module": good_module(),
        "modules_in_series": 2,
        "strings": 3,
        "monitoring": good_monitoring(),
        "earthed": "minus",
        "spread_full": "10 mV",
    }
    return Pack(**{**fields, **changes})


def good_inverter(**changes: Any) -> Inverter:
    fields: dict[str, Any] = {
        "name": "inverter",
        "continuous": "3 kW",
        "surge": "6 kW",
        "surge_time": "5 s",
        "efficiency": "92 %",
        "idle": "30 W",
        "window_low": "42 V",
        "window_high": "60 V",
        "survives": "66 V",
        "restart": "49 V",
        "cut_off": ("40 V", "50 V", "0.1 V"),
        "changeover": ("42 V", "54 V", "0.1 V"),
        "return_to_battery": ("44 V", "58 V", "0.1 V"),
        "meter_accuracy": "0.5 %",
        "input_capacitance": "10 mF",
        "parallel_operation": True,
        "charger": "none",
        "basis": "datasheet",
    }
    return Inverter(**{**fields, **changes})


def good_charger(**changes: Any) -> Charger:
    fields: dict[str, Any] = {
        "name": "charger",
        "source": "mains",
        "charge_voltage": ("48 V", "62 V", "0.1 V"),
        "accuracy": "0.5 %",
        "current": "40 A",
        "current_setting": ("5 A", "40 A", "1 A"),
        "float_can_be_off": True,
        "float_setting": ("48 V", "62 V", "0.1 V"),
        "compensation_can_be_off": True,
        "equalise_can_be_off": True,
        "basis": "datasheet",
    }
    return Charger(**{**fields, **changes})


def good_bar(**changes: Any) -> Busbar:
    fields: dict[str, Any] = {
        "width": "30 mm",
        "thickness": "10 mm",
        "length": "0.3 m",
        "enclosed": True,
        "carries": "573 A",
        "basis": "datasheet",
    }
    return Busbar(**{**fields, **changes})


def good_cabling(**changes: Any) -> Cabling:
    fields: dict[str, Any] = {
        "module_lead": Run(
            name="lead", conductor=good_conductor(115.0, 0.64), length="1 m", protected=True
        ),
        "main": Run(name="main", conductor=good_conductor(), length="1.5 m"),
        "charger": Run(
            name="charger cable", conductor=good_conductor(115.0, 1.0, 33.6), length="2 m"
        ),
        "bar": good_bar(),
    }
    return Cabling(**{**fields, **changes})


def good_load(**changes: Any) -> Load:
    fields: dict[str, Any] = {"continuous": "2 kW", "typical": "500 W", "peak": "4 kW"}
    return Load(**{**fields, **changes})


def good_site(**changes: Any) -> Site:
    fields: dict[str, Any] = {
        "kind": "outbuilding",
        "coldest": "16 degC",
        "warmest": "30 degC",
        "approval": "an invented inspector, 2 May",
    }
    return Site(**{**fields, **changes})


def good_disconnect(**changes: Any) -> Disconnect:
    fields: dict[str, Any] = {
        "dc_voltage": "80 V",
        "current": "250 A",
        "withstands": "20 kA",
        "breaks_load": True,
        "poles": 2,
        "polarised": False,
        "place": "beside the pack",
        "basis": "datasheet",
    }
    return Disconnect(**{**fields, **changes})


def good_emergency(**changes: Any) -> EmergencyOff:
    fields: dict[str, Any] = {
        "place": "outside the door",
        "opens_every_string": True,
        "stops_charging": True,
        "stops_inverters": True,
    }
    return EmergencyOff(**{**fields, **changes})


def good_precharge(**changes: Any) -> Precharge:
    fields: dict[str, Any] = {
        "resistance": "50 Ohm",
        "pulse": "800 J",
        "wait": "3 s",
        "time_out": "10 s",
        "checks_voltage": True,
    }
    return Precharge(**{**fields, **changes})


def good_safeguards(**changes: Any) -> Safeguards:
    fields: dict[str, Any] = {
        "string_fuse": good_family(),
        "main_fuse": good_family(),
        "charger_fuse": good_family(),
        "disconnect": good_disconnect(),
        "emergency_off": good_emergency(),
        "precharge": good_precharge(),
        "both_poles": False,
        "surge_protection": True,
    }
    return Safeguards(**{**fields, **changes})


def with_safeguards(**changes: Any) -> Build:
    return good_build(safeguards=good_safeguards(**changes))


def good_build(**changes: Any) -> Build:
    fields: dict[str, Any] = {
        "title": "good build",
        "pack": good_pack(),
        "inverters": (good_inverter(),),
        "chargers": (good_charger(),),
        "load": good_load(),
        "site": good_site(),
        "cabling": good_cabling(),
        "policy": Policy(basis="chosen"),
        "safeguards": good_safeguards(),
    }
    return Build(**{**fields, **changes})


def good_array(**changes: Any) -> Array:
    fields: dict[str, Any] = {
        "name": "array",
        "feeds": "sun",
        "in_series": 3,
        "in_parallel": 2,
        "open_circuit": "37 V",
        "maximum_power_voltage": "31 V",
        "short_circuit": "10 A",
        "maximum_power_current": "9.6 A",
        "power": "300 W",
        "coefficient": "-0.28 %/K",
        "power_coefficient": "-0.35 %/K",
        "crystalline": True,
        "largest_fuse": "20 A",
        "basis": "datasheet",
    }
    return Array(**{**fields, **changes})


def solar_charger(**changes: Any) -> Charger:
    fields: dict[str, Any] = {
        "name": "sun",
        "source": "solar",
        "pv_highest": "150 V",
        "pv_above_battery": "5 V",
        "pv_most_current": "40 A",
        "pv_most_power": "3 kW",
    }
    return good_charger(**{**fields, **changes})


def solar_site(**changes: Any) -> Site:
    return good_site(**{"coldest_outside": "-10 degC", "warmest_outside": "35 degC", **changes})


def solar_build(**changes: Any) -> Build:
    """Return the good build with a solar charger in place of the mains one, and its array."""
    array = Run(name="array cable", conductor=good_conductor(55.0, 2.0, 10.0), length="8 m")
    fields: dict[str, Any] = {
        "chargers": (solar_charger(),),
        "arrays": (good_array(),),
        "site": solar_site(),
        "cabling": good_cabling(array=array),
    }
    return good_build(**{**fields, **changes})


def with_module(**changes: Any) -> Build:
    return good_build(pack=good_pack(module=good_module(**changes)))


def with_pack(**changes: Any) -> Build:
    return good_build(pack=good_pack(**changes))


def with_inverter(**changes: Any) -> Build:
    return good_build(inverters=(good_inverter(**changes),))


def with_charger(**changes: Any) -> Build:
    return good_build(chargers=(good_charger(**changes),))


def with_policy(**changes: Any) -> Build:
    return good_build(policy=Policy(basis="chosen", **changes))


def groundwork(build: Build) -> Groundwork:
    """Return what `design` hands to every step."""
    targets = build.pack.module.chemistry.targets
    assert targets is not None
    return Groundwork(
        build=build,
        targets=targets,
        figures=pack_figures(build),
        source=pack_source(build),
        demand=demand(build),
    )


# --- Strategies -------------------------------------------------------------------------------


def quantities(unit: str, least: float, most: float) -> st.SearchStrategy[str]:
    """Return texts such as ``"12.5 V"`` of five digits between two bounds."""
    return st.floats(least, most, allow_nan=False).map(lambda v: f"{v:.5g} {unit}")


def maybe(strategy: st.SearchStrategy[Any], *others: Any) -> st.SearchStrategy[Any]:
    """Return a strategy that at times leaves the value unknown, or says one of `others`."""
    return st.one_of(strategy, strategy, strategy, st.sampled_from((None, *others)))


@st.composite
def ranges(draw: st.DrawFn, unit: str, low: float, high: float) -> tuple[str, str, str]:
    """Return from, to and step of a setting between two bounds, ending on a step."""
    step = draw(st.sampled_from((0.01, 0.05, 0.1, 0.5, 1.0, 2.0)))
    first = round(draw(st.floats(low, max(low, high - step))), 2)
    count = draw(st.integers(0, max(1, int((high - first) / step))))
    return f"{first} {unit}", f"{round(first + count * step, 2)} {unit}", f"{step} {unit}"


@st.composite
def ocv_curves(draw: st.DrawFn, low: float = 2.0, high: float = 4.2) -> OcvCurve:
    inner = draw(st.lists(st.floats(0.01, 0.99), min_size=0, max_size=6, unique=True))
    soc = (0.0, *sorted(inner), 1.0)
    rises = draw(st.lists(st.floats(0.01, 1.0), min_size=len(soc), max_size=len(soc)))
    total, volts, at = sum(rises), [], low
    for rise in rises:
        at += rise / total * (high - low)
        volts.append(at)
    return curve(soc, tuple(volts))


@st.composite
def resistance_curves(draw: st.DrawFn) -> ResistanceCurve:
    inner = draw(st.lists(st.floats(0.01, 0.99), min_size=2, max_size=5, unique=True))
    ohms = draw(st.lists(st.floats(1e-4, 0.1), min_size=len(inner), max_size=len(inner)))
    return ResistanceCurve(soc=sorted(inner), ohms=ohms)


def chemistries() -> st.SearchStrategy[Chemistry]:
    return st.sampled_from(CHEMISTRIES)


@st.composite
def modules(draw: st.DrawFn, most_cells: int = 24) -> Module:
    kind = draw(chemistries())
    limits = kind.limits
    room = (limits.highest.m - limits.nominal.m) * 0.9
    tighter = draw(maybe(st.floats(0.0, room)))
    higher = draw(maybe(st.floats(0.0, (limits.nominal.m - limits.least.m) * 0.9)))
    return Module(
        name="module",
        chemistry=kind,
        cells_in_series=draw(st.integers(1, most_cells)),
        cells_in_parallel=draw(st.integers(1, 4)),
        capacity=draw(quantities("Ah", 1.0, 300.0)),
        resistance=draw(maybe(quantities("mOhm", 0.05, 100.0))),
        resistance_method=draw(st.sampled_from(("10 s pulse", "1 kHz meter", "not stated"))),
        cell_highest=None if tighter is None else f"{limits.highest.m - tighter:.3f} V",
        cell_least=None if higher is None else f"{limits.least.m + higher:.3f} V",
        discharge_limit=draw(maybe(quantities("A", 1.0, 600.0))),
        discharge_peak=draw(maybe(quantities("A", 1.0, 900.0))),
        charge_limit=draw(maybe(quantities("A", 0.5, 200.0))),
        link_limit=draw(maybe(quantities("A", 1.0, 600.0))),
        available=draw(maybe(st.integers(1, 100))),
        ocv=draw(st.none() | ocv_curves(limits.least.m, limits.highest.m)),
        resistance_curve=draw(st.none() | resistance_curves()),
        basis=draw(st.sampled_from(("measured", "assumed"))),
    )


def monitorings() -> st.SearchStrategy[Any]:
    answer = st.sampled_from((True, True, False, None))
    return st.builds(
        Monitoring,
        every_cell=answer,
        temperatures=answer,
        stops_charge=answer,
        stops_discharge=answer,
        blocks_cold_charge=answer,
        balances=answer,
        watches_each_string=answer,
    )


@st.composite
def packs(draw: st.DrawFn) -> Pack:
    return Pack(
        module=draw(modules()),
        modules_in_series=draw(st.integers(1, 12)),
        strings=draw(st.integers(1, 8)),
        monitoring=draw(maybe(monitorings(), NOT_FITTED)),
        earthed=draw(st.sampled_from(("minus", "plus", "none", None))),
        spread_full=draw(maybe(quantities("mV", 0.0, 200.0))),
    )


def profiles() -> st.SearchStrategy[LeadAcidProfile]:
    return st.builds(
        good_profile,
        absorption=quantities("V", 10.0, 70.0),
        float_voltage=quantities("V", 10.0, 70.0),
        equalise=quantities("V", 10.0, 70.0),
        compensation=quantities("mV/K", -200.0, 200.0),
        low_cut_off=quantities("V", 5.0, 60.0),
    )


@st.composite
def chargers(draw: st.DrawFn, name: str, full: float) -> Charger:
    """Return a charger of a name, with ranges around a pack's highest voltage."""
    volts = ranges("V", 0.6 * full, 1.2 * full)
    return Charger(
        name=name,
        source=draw(st.sampled_from(("solar", "mains", "generator"))),
        count=draw(st.integers(1, 3)),
        charge_voltage=draw(maybe(volts, NOT_FITTED)),
        accuracy=draw(maybe(quantities("%", 0.01, 5.0))),
        current=draw(maybe(quantities("A", 0.0, 200.0))),
        current_setting=draw(
            maybe(ranges("A", 0.0, 200.0).filter(lambda r: float(r[1].split()[0]) > 0), NOT_FITTED)
        ),
        float_can_be_off=draw(st.sampled_from((True, False, None))),
        float_setting=draw(maybe(volts, NOT_FITTED)),
        compensation_can_be_off=draw(st.sampled_from((True, False, None))),
        equalise_can_be_off=draw(st.sampled_from((True, False, None))),
        kept_off=draw(st.sampled_from(("", "", "", "not wired", "turned off"))),
        left_on=draw(st.none() | profiles()),
        power=draw(st.none() | quantities("W", 100.0, 9000.0)),
        pv_highest=draw(maybe(quantities("V", 0.5 * full, min(2000.0, 10.0 * full)))),
        pv_above_battery=draw(maybe(quantities("V", 0.0, 20.0))),
        pv_most_current=draw(maybe(quantities("A", 1.0, 200.0))),
        pv_most_power=draw(maybe(quantities("W", 100.0, 20000.0))),
        basis=draw(st.sampled_from(("assumed", "datasheet"))),
    )


@st.composite
def arrays(draw: st.DrawFn, name: str, feeds: str, full: float) -> Array:
    """Return an array of a name on a charger, of about a pack's highest voltage."""
    volts, amps = draw(st.floats(5.0, 80.0)), draw(st.floats(0.5, 20.0))
    coefficient = quantities("%/K", -0.6, 0.0) | quantities("mV/K", -300.0, 0.0)
    return Array(
        name=name,
        feeds=feeds,
        on_input=draw(st.sampled_from(("", "1", "2"))),
        in_series=draw(st.integers(1, min(40, max(1, int(3 * full / volts))))),
        in_parallel=draw(st.integers(1, 6)),
        open_circuit=draw(maybe(st.just(f"{volts:.5g} V"))),
        maximum_power_voltage=draw(maybe(st.just(f"{0.8 * volts:.5g} V"))),
        short_circuit=draw(maybe(st.just(f"{amps:.5g} A"))),
        maximum_power_current=draw(maybe(st.just(f"{0.9 * amps:.5g} A"))),
        power=draw(maybe(quantities("W", 5.0, 700.0))),
        coefficient=draw(maybe(coefficient)),
        power_coefficient=draw(maybe(coefficient)),
        crystalline=draw(st.sampled_from((True, False, None))),
        largest_fuse=draw(maybe(quantities("A", 5.0, 40.0))),
        basis=draw(st.sampled_from(("assumed", "datasheet"))),
    )


@st.composite
def inverters(draw: st.DrawFn, name: str, full: float) -> Inverter:
    """Return an inverter of a name, with a window and ranges around a pack's highest voltage."""
    low = draw(maybe(st.floats(0.3 * full, 0.9 * full)))
    high = draw(maybe(st.floats(0.95 * full, 1.5 * full)))
    continuous = draw(maybe(st.floats(50.0, 12000.0)))
    settings = ranges("V", 0.4 * full, full)
    return Inverter(
        name=name,
        count=draw(st.integers(1, 3)),
        continuous=None if continuous is None else f"{continuous} W",
        surge=draw(maybe(quantities("W", continuous or 50.0, 3e4).filter(bool)))
        if continuous is None
        else draw(maybe(st.just(f"{2 * continuous} W"))),
        efficiency=draw(maybe(quantities("%", 50.0, 100.0))),
        idle=draw(maybe(quantities("W", 0.0, 150.0))),
        window_low=None if low is None else f"{low} V",
        window_high=None if high is None else f"{high} V",
        survives=None if high is None else draw(maybe(st.just(f"{1.1 * high} V"))),
        restart=draw(maybe(quantities("V", 0.5 * full, 1.1 * full), NOT_FITTED)),
        cut_off=draw(maybe(settings, NOT_FITTED)),
        changeover=draw(maybe(settings, NOT_FITTED)),
        return_to_battery=draw(maybe(settings, NOT_FITTED)),
        meter_accuracy=draw(maybe(quantities("%", 0.01, 5.0))),
        input_capacitance=draw(maybe(quantities("mF", 0.0, 50.0))),
        charger=draw(maybe(chargers(f"charger in {name}", full), NOT_FITTED)),
        leg=draw(st.sampled_from(("", "", "1", "2", "both"))),
    )


def runs(name: str) -> st.SearchStrategy[Run]:
    conductors = st.builds(
        good_conductor,
        st.floats(10.0, 600.0),
        st.floats(0.02, 10.0),
        st.sampled_from((13.3, 42.4, 53.5, 107.2)),
    )
    return st.builds(
        Run,
        name=st.just(name),
        conductor=conductors,
        length=quantities("m", 0.1, 20.0),
        parallel=st.integers(1, 4),
    )


def bars() -> st.SearchStrategy[Busbar]:
    return st.builds(
        Busbar,
        width=quantities("mm", 15.0, 100.0),
        thickness=quantities("mm", 3.0, 10.0),
        length=quantities("m", 0.05, 2.0),
        count=st.integers(1, 2),
        enclosed=st.sampled_from((True, False, None)),
        carries=maybe(quantities("A", 100.0, 1500.0)),
    )


def cablings() -> st.SearchStrategy[Cabling]:
    return st.builds(
        Cabling,
        module_lead=maybe(runs("lead")),
        link=st.none() | runs("link"),
        main=maybe(runs("main")),
        charger=maybe(runs("charger cable")),
        array=maybe(runs("array cable")),
        bar=maybe(bars()),
    )


@st.composite
def loads(draw: st.DrawFn) -> Load:
    continuous = draw(st.floats(10.0, 10000.0))
    typical = draw(maybe(st.floats(0.05, 1.0)))
    peak = draw(maybe(st.floats(1.0, 4.0)))
    return Load(
        continuous=f"{continuous} W",
        typical=None if typical is None else f"{continuous * typical} W",
        peak=None if peak is None else f"{continuous * peak} W",
        larger_leg=draw(st.none() | quantities("%", 50.0, 100.0)),
    )


@st.composite
def sites(draw: st.DrawFn) -> Site:
    coldest = draw(maybe(st.floats(-40.0, 25.0)))
    return Site(
        coldest=None if coldest is None else f"{coldest} degC",
        warmest=draw(maybe(quantities("degC", 25.0, 60.0))),
        coldest_outside=draw(st.none() | quantities("degC", -45.0, 25.0)),
        warmest_outside=draw(st.none() | quantities("degC", 25.0, 50.0)),
        rules=draw(st.sampled_from(("nec", "iec"))),
        kind=draw(maybe(st.sampled_from(tuple(PLACES)))),
        serves_home=draw(st.sampled_from((True, False, None))),
        live_parts_guarded=draw(st.sampled_from((True, False, None))),
        approval=draw(maybe(st.just("an invented inspector"), NOT_FITTED)),
    )


@st.composite
def safeguards(draw: st.DrawFn) -> Safeguards:
    answer = st.sampled_from((True, True, False, None))
    families = st.sampled_from(("", "family-1", "no such family"))
    return Safeguards(
        string_fuse=draw(families),
        main_fuse=draw(families),
        charger_fuse=draw(families),
        both_poles=draw(answer),
        disconnect=draw(
            maybe(
                st.builds(
                    Disconnect,
                    dc_voltage=maybe(quantities("V", 20.0, 1000.0)),
                    current=maybe(quantities("A", 10.0, 1000.0)),
                    breaks_load=answer,
                    poles=maybe(st.integers(1, 4)),
                    polarised=answer,
                ),
                NOT_FITTED,
            )
        ),
        emergency_off=draw(
            maybe(
                st.builds(
                    EmergencyOff,
                    place=st.sampled_from(("", "by the door")),
                    opens_every_string=answer,
                    stops_charging=answer,
                    stops_inverters=answer,
                ),
                NOT_FITTED,
            )
        ),
        precharge=draw(
            maybe(
                st.builds(
                    Precharge,
                    resistance=maybe(quantities("Ohm", 0.5, 500.0)),
                    pulse=maybe(quantities("J", 1.0, 1000.0)),
                    wait=maybe(quantities("s", 0.1, 5.0)),
                    time_out=maybe(quantities("s", 5.0, 60.0)),
                    checks_voltage=answer,
                ),
                NOT_FITTED,
            )
        ),
        surge_protection=draw(answer),
        insulation_monitoring=draw(answer),
    )


def policies() -> st.SearchStrategy[Policy]:
    return st.builds(
        Policy,
        charge_target=st.none() | quantities("V", 2.3, 4.3),
        reserve=quantities("%", 0.0, 95.0),
        return_rise=quantities("%", 0.0, 90.0),
        charger_accuracy=quantities("%", 0.0, 5.0),
        meter_accuracy=quantities("%", 0.0, 5.0),
        tail_current=quantities("%", 1.0, 20.0),
        charge_rate=quantities("%", 1.0, 100.0),
        long_resistance=quantities("%", 100.0, 500.0),
        sharing_imbalance=quantities("%", 100.0, 200.0),
        ripple=quantities("%", 100.0, 130.0),
        continuous_factor=quantities("%", 100.0, 200.0),
        fuse_ambient=quantities("%", 50.0, 100.0),
        ohmic_part=quantities("%", 10.0, 100.0),
        weak_part=quantities("%", 100.0, 1000.0),
        clearing=quantities("%", 100.0, 5000.0),
        cable_drop=quantities("%", 0.1, 10.0),
        surge_drop=quantities("%", 0.1, 20.0),
        array_drop=quantities("%", 0.1, 10.0),
    )


@st.composite
def catalogues(draw: st.DrawFn) -> FuseCatalogue:
    families = [
        good_family(
            key=f"family-{i}",
            dc_voltage=draw(quantities("V", 30.0, 500.0)),
            interrupting=draw(quantities("A", 1000.0, 50000.0)),
            largest=draw(quantities("A", 30.0, 1200.0)),
        )
        for i in range(draw(st.integers(1, 4)))
    ]
    return good_catalogue(*families)


@st.composite
def builds(draw: st.DrawFn) -> Build:
    """Return any build that can be described, with devices of about the pack's voltage."""
    pack = draw(packs())
    full = float(pack.highest.m)
    devices = [draw(inverters(f"inverter {i}", full)) for i in range(draw(st.integers(0, 2)))]
    feeding = [draw(chargers(f"charger {i}", full)) for i in range(draw(st.integers(0, 2)))]
    built_in = [i.charger for i in devices if isinstance(i.charger, Charger)]
    every = [charger for charger in feeding + built_in if not charger.kept_off]
    names = [c.name for c in [c for c in every if c.source == "solar"] or every]
    panels = tuple(
        draw(arrays(f"array {i}", draw(st.sampled_from(names)), full))
        for i in range(draw(st.integers(0, 3)) if names else 0)
    )
    return Build(
        title="random",
        pack=pack,
        inverters=tuple(devices),
        chargers=tuple(feeding),
        arrays=draw(maybe(st.just(panels), NOT_FITTED)),
        load=draw(loads()),
        site=draw(sites()),
        cabling=draw(cablings()),
        policy=draw(policies()),
        safeguards=draw(safeguards()),
        profiles=draw(st.lists(profiles(), max_size=1).map(tuple)),
    )


@st.composite
def wide_ranges(draw: st.DrawFn, unit: str, low: float, high: float) -> tuple[str, str, str]:
    """Return a range that starts at or under `low` and reaches `high` or nearly so."""
    step = draw(st.sampled_from((0.01, 0.1, 0.1, 0.3, 0.5, 1.0, 2.0)))
    first = round(low * draw(st.floats(0.6, 1.02)), 2)
    count = max(0, int((high * draw(st.floats(0.97, 1.1)) - first) / step))
    return f"{first} {unit}", f"{round(first + count * step, 2)} {unit}", f"{step} {unit}"


@st.composite
def sound_builds(draw: st.DrawFn) -> Build:
    """Return builds of which everything is known and most things fit, so that settings come out.

    Ranges start and end anywhere and steps may be coarse: what comes out must be safe all the
    same, or not come out.
    """
    kind = draw(chemistries())
    each, in_series = draw(st.integers(4, 16)), draw(st.integers(1, 3))
    # Half of them without anything that holds most builds up: so that a go is met often.
    tame = draw(st.booleans())
    strings, capacity = draw(st.integers(1, 6)), draw(st.floats(20.0, 200.0))
    cells = each * in_series
    full, low = cells * float(kind.limits.highest.m), cells * float(kind.limits.least.m)
    nominal = cells * float(kind.limits.nominal.m)
    rated = nominal * capacity * strings * draw(st.floats(0.1, 0.6))
    charging = capacity * strings * draw(st.floats(0.05, 0.12 if tame else 0.5))
    tighter = f"{kind.limits.least.m + 0.3:.3f} V"
    charges = wide_ranges("V", 0.8 * full, full)
    changeover, back = draw(
        st.just((NOT_FITTED, NOT_FITTED))
        | st.tuples(wide_ranges("V", low, nominal), wide_ranges("V", low, full))
    )
    return good_build(
        pack=good_pack(
            module=good_module(
                chemistry=kind,
                cells_in_series=each,
                capacity=f"{capacity} Ah",
                resistance=f"{each * draw(st.floats(20.0, 120.0)) / capacity} mOhm",
                cell_least=draw(st.none() | st.just(tighter)),
                discharge_limit=f"{capacity} A",
                discharge_peak=f"{3 * capacity} A",
                charge_limit=f"{capacity / 3} A",
                link_limit=f"{2 * capacity} A",
                available=100,
            ),
            modules_in_series=in_series,
            strings=strings,
            spread_full=draw(maybe(quantities("mV", 0.0, 80.0))),
            # Fused in both poles below, which an earthed one must not be.
            **({"earthed": "none"} if tame else {}),
        ),
        inverters=(
            good_inverter(
                continuous=f"{rated} W",
                surge=f"{2 * rated} W",
                window_low=f"{draw(st.floats(0.7, 1.05)) * low} V",
                window_high=f"{1.1 * full} V",
                survives=f"{1.1 * full} V",
                restart=NOT_FITTED,
                cut_off=draw(wide_ranges("V", low, nominal)),
                changeover=changeover,
                return_to_battery=back,
                meter_accuracy=draw(maybe(quantities("%", 0.01, 3.0))),
            ),
        ),
        chargers=tuple(
            good_charger(
                name=f"charger {i}",
                count=draw(st.integers(1, 2)),
                charge_voltage=draw(charges),
                accuracy=draw(maybe(quantities("%", 0.01, 3.0))),
                current=f"{charging} A",
                current_setting=draw(maybe(wide_ranges("A", 5.0, charging), NOT_FITTED)),
                float_can_be_off=draw(st.booleans()),
                float_setting=draw(charges),
            )
            for i in range(draw(st.integers(1, 2)))
        ),
        cabling=draw(
            st.just(
                good_cabling(
                    module_lead=Run(
                        name="lead",
                        conductor=good_conductor(4 * capacity, 0.2),
                        length="1 m",
                        protected=True,
                    ),
                    main=Run(
                        name="main",
                        conductor=good_conductor(4 * capacity * strings, 0.05),
                        length="1 m",
                    ),
                    charger=Run(
                        name="charger cable",
                        conductor=good_conductor(4 * capacity * strings, 0.05),
                        length="1 m",
                    ),
                    bar=good_bar(
                        width="100 mm",
                        carries="20 kA",
                        basis=bases("datasheet").confirming("carries"),
                    ),
                )
            )
            | (
                st.nothing()
                if tame
                else st.builds(Cabling, module_lead=runs("lead"), main=runs("main"))
            )
        ),
        load=Load(
            continuous=f"{rated * draw(st.floats(0.2, 1.0))} W",
            typical=f"{rated * draw(st.floats(0.05, 0.2))} W",
            peak=f"{1.5 * rated} W",
        ),
        policy=draw(st.just(Policy(basis="chosen")) | (st.nothing() if tame else policies())),
        safeguards=good_safeguards(
            string_fuse=STRONG,
            main_fuse=STRONG,
            charger_fuse=STRONG,
            both_poles=True,
            disconnect=Disconnect(
                dc_voltage="1000 V",
                current="20 kA",
                withstands="500 kA",
                breaks_load=True,
                poles=2,
                polarised=False,
                basis=bases("datasheet").confirming("current", "withstands"),
            ),
            insulation_monitoring=True,
            precharge=Precharge(
                resistance="50 Ohm", pulse="10 kJ", wait="5 s", time_out="10 s", checks_voltage=True
            ),
        )
        if tame
        else draw(safeguards()),
        site=draw(st.just(good_site(coldest="7 degC" if tame else "16 degC")) | sites()),
    )


def magnitude(quantity: Quantity | None) -> float:
    """Return the plain number of a quantity that must be known."""
    assert quantity is not None
    return float(quantity.m)
