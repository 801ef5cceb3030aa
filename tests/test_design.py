"""The whole thread: every rule in every severity, what holds a verdict back, builds at the edge."""

from __future__ import annotations

import importlib
import pkgutil
from collections.abc import Callable, Iterator
from typing import Any

import attrs
import pytest
from hypothesis import given
from strategies import (
    BLEND,
    HYDRIDE,
    IRON,
    TITANATE,
    builds,
    good_array,
    good_bar,
    good_build,
    good_cabling,
    good_catalogue,
    good_charger,
    good_conductor,
    good_disconnect,
    good_emergency,
    good_family,
    good_inverter,
    good_load,
    good_module,
    good_monitoring,
    good_pack,
    good_precharge,
    good_profile,
    good_safeguards,
    good_site,
    solar_build,
    solar_charger,
    solar_site,
    sound_builds,
    with_charger,
    with_inverter,
    with_module,
    with_pack,
    with_policy,
    with_safeguards,
)

import evpack.check
import evpack.protect
import evpack.setpoint
from evpack.base.basis import bases
from evpack.base.finding import Finding, Rule, Severity
from evpack.base.fitted import NOT_FITTED
from evpack.decide import decide
from evpack.describe.build import Build
from evpack.describe.cabling import Cabling, Run
from evpack.describe.charger import Charger
from evpack.describe.inverter import Inverter
from evpack.describe.module import Module
from evpack.describe.pack import Monitoring, Pack
from evpack.describe.policy import Policy
from evpack.describe.site import Load, Site
from evpack.design import design
from evpack.outcome.design import Verdict

OK, NOTE, CAUTION, UNKNOWN, STOP = Severity
Change = Callable[[], Build]


# --- Every rule, in every severity that it can have -------------------------------------------


def every_rule() -> Iterator[Rule]:
    for room in (evpack.check, evpack.setpoint, evpack.protect):
        for found in pkgutil.iter_modules(room.__path__, f"{room.__name__}."):
            module = importlib.import_module(found.name)
            yield from (value for value in vars(module).values() if isinstance(value, Rule))


def built_in_kept(kept_off: str, **changes: Any) -> Build:
    """Return the good build with a built-in charger that is kept off."""
    charger = Charger(name="built in", source="mains", kept_off=kept_off)
    return with_inverter(charger=charger, **changes)


# What each rule can come to. Written by hand: a rule that gains or loses a severity must be
# weighed here, and tested below.
CAN_COME_TO: dict[str, set[Severity]] = {
    "asked.same": {NOTE},
    "arrangement.assumed": {CAUTION},
    "arrangement.chemistry": {OK, STOP},
    "arrangement.enough": {OK, NOTE, STOP},
    "arrangement.flat": {CAUTION},
    "arrangement.resistance": {OK, UNKNOWN},
    "arrangement.guards": {OK, CAUTION},
    "arrangement.measured": {OK, CAUTION},
    "arrangement.resistance-charge": {OK, CAUTION},
    "arrangement.resistance-method": {UNKNOWN},
    "arrangement.spread": {OK, CAUTION, STOP},
    "hold.compensation": {OK, UNKNOWN, STOP},
    "hold.equalise": {OK, UNKNOWN, STOP},
    "hold.float": {OK, CAUTION, UNKNOWN, STOP},
    "charge.range-known": {UNKNOWN},
    "charge.real-top": {OK, CAUTION, STOP},
    "charge.settable": {OK, CAUTION, STOP},
    "charge-current.known": {UNKNOWN},
    "charge-current.settable": {OK, STOP},
    "charging.limit": {OK, UNKNOWN, STOP},
    "charging.cold": {OK, CAUTION},
    "charging.hot": {OK, CAUTION, UNKNOWN},
    "charging.one-out": {OK, CAUTION},
    "charging.rate": {OK, CAUTION},
    "current.cold-sag": {NOTE},
    "current.collapse": {OK, UNKNOWN, STOP},
    "current.discharge-cold": {OK, UNKNOWN, STOP},
    "current.discharge-hot": {OK, UNKNOWN, STOP},
    "current.discharge-rate": {OK, CAUTION},
    "current.full-output": {OK, CAUTION},
    "current.full-surge": {OK, CAUTION},
    "charging.kept-off": {NOTE, CAUTION},  # said only where one is
    "charging.no-charger": {UNKNOWN},
    "current.load": {OK, UNKNOWN, STOP},
    "current.output": {OK, UNKNOWN, STOP},
    "current.output-peak": {OK, CAUTION},
    "current.long-surge": {OK, CAUTION, UNKNOWN, STOP},
    "current.peak": {OK, UNKNOWN, STOP},
    "current.peak-one-out": {OK, CAUTION},
    "current.sag": {OK, CAUTION},
    "cable.carries": {OK, CAUTION, UNKNOWN, STOP},
    "cable.drop": {OK, CAUTION},
    "cable.fed-by-others": {OK, UNKNOWN, STOP},
    "cable.drop-surge": {OK, CAUTION},
    "cable.guarded": {OK, STOP},
    "cable.known": {UNKNOWN},
    "cable.parallel": {NOTE, STOP},
    "cable.sized": {OK, UNKNOWN},
    "cable.unequal": {OK, NOTE, CAUTION},
    "cable.withstands": {OK, CAUTION, UNKNOWN, STOP},
    "changeover.reserve": {OK, CAUTION},
    "changeover.known": {CAUTION},
    "discharge.cut-off": {OK, CAUTION, UNKNOWN, STOP},
    "discharge.cut-off-known": {UNKNOWN},
    "changeover.hunting": {OK, CAUTION},
    "changeover.return-reached": {OK, NOTE, CAUTION, UNKNOWN, STOP},
    "ladder.inside": {OK},  # the cuts are held inside the module's limits: evidence, no more
    "ladder.step": {OK, CAUTION},
    "bar-sharing.even": {OK, CAUTION},
    "believable.trip": {UNKNOWN},  # said only where it cannot be
    "believable.value": {OK, NOTE, UNKNOWN},
    "cells.ahead": {OK, CAUTION},
    "cells.floor": {OK, STOP},
    "cells.weak-group": {OK, CAUTION},
    "monitoring.acts": {OK, UNKNOWN, STOP},
    "monitoring.balance": {OK, CAUTION},
    "monitoring.cold-block": {OK, NOTE, UNKNOWN, STOP},
    "monitoring.each-string": {OK, UNKNOWN, STOP},
    "monitoring.every-cell": {OK, UNKNOWN, STOP},
    "monitoring.temperature": {OK, UNKNOWN, STOP},
    "profile.left-on": {OK, CAUTION, STOP},
    "profile.left-on-cold": {OK, CAUTION, STOP},
    "profile.left-on-float": {OK, CAUTION},
    "profile.left-on-low": {OK, CAUTION},
    "profile.warned": {NOTE},
    "protection.clears": {OK, CAUTION},
    "protection.fault-known": {OK, UNKNOWN},
    "protection.fits": {OK, CAUTION, UNKNOWN, STOP},
    "protection.not-covered": {NOTE},
    "protection.one-out": {OK, CAUTION},
    "protection.one-out-modules": {OK, CAUTION},
    "protection.time-constant": {OK, CAUTION},
    "protection.warm-air": {NOTE, CAUTION},
    "bar.carries": {OK, CAUTION, UNKNOWN, STOP},
    "bar.described": {OK, CAUTION, UNKNOWN},
    "bar.enclosed": {OK, CAUTION},
    "bar.warm": {OK, CAUTION},
    "bar.guarded": {OK, CAUTION},
    "device.disconnect": {OK, CAUTION, UNKNOWN, STOP},
    "device.disconnect-current": {OK, CAUTION, UNKNOWN, STOP},
    "device.disconnect-load": {OK, CAUTION, UNKNOWN, STOP},
    "device.disconnect-polarity": {OK, CAUTION, UNKNOWN, STOP},
    "device.disconnect-poles": {OK, CAUTION, UNKNOWN, STOP},
    "device.disconnect-withstands": {OK, CAUTION, UNKNOWN, STOP},
    "device.disconnect-voltage": {OK, CAUTION, UNKNOWN, STOP},
    "device.emergency": {OK, CAUTION, UNKNOWN, STOP},
    "place.kind": {OK, NOTE, UNKNOWN},
    "place.voltage": {OK, CAUTION, UNKNOWN, STOP},
    "place.energy": {OK, CAUTION},
    "place.unit": {OK, CAUTION},
    "place.listing": {OK, CAUTION, UNKNOWN, STOP},
    "poles.both": {OK, CAUTION, UNKNOWN, STOP},
    "poles.breaker": {OK, CAUTION},
    "poles.high-voltage": {OK, CAUTION},
    "poles.insulation": {OK, NOTE, CAUTION, UNKNOWN, STOP},
    "poles.polarity": {OK, NOTE, CAUTION, UNKNOWN, STOP},
    "precharge.checked": {OK, CAUTION},
    "precharge.each": {OK, NOTE, CAUTION, UNKNOWN},
    "precharge.fitted": {OK, CAUTION, UNKNOWN, STOP},
    "precharge.heat": {OK, CAUTION, UNKNOWN, STOP},
    "precharge.known": {OK, CAUTION, UNKNOWN},
    "precharge.shorted": {OK, CAUTION},
    "precharge.time-out": {OK, CAUTION},
    "precharge.wait": {OK, CAUTION, UNKNOWN, STOP},
    "reading.temperature": {NOTE, UNKNOWN},
    "selective.main": {OK, NOTE},
    "selective.string": {OK, NOTE},
    "selective.two-strings": {NOTE},
    "beside.array-arc-fault": {OK, NOTE},
    "beside.array-earth-fault": {NOTE},
    "beside.array-high-voltage": {OK, CAUTION},
    "beside.array-isolator": {NOTE},
    "beside.array-leads": {NOTE},
    "beside.data-lines": {NOTE},
    "beside.licensed": {NOTE},
    "beside.neutral-bond": {NOTE},
    "beside.rapid-shutdown": {NOTE},
    "beside.surge": {OK, CAUTION},
    "beside.transfer": {NOTE},
    "solar.cold-headroom": {OK, CAUTION},
    "solar.cold-voltage": {OK, CAUTION, UNKNOWN, STOP},
    "solar.described": {OK, NOTE, CAUTION, UNKNOWN},
    "solar.feeds": {OK, STOP},
    "solar.start": {OK, CAUTION, UNKNOWN, STOP},
    "solar.touch": {OK, NOTE},
    "solar.yield": {NOTE},
    "solar-input.power": {OK, NOTE, CAUTION},
    "solar-input.power-agrees": {OK, NOTE},
    "solar-input.separate": {OK, CAUTION, UNKNOWN, STOP},
    "solar-input.short-circuit": {OK, CAUTION, UNKNOWN, STOP},
    "solar-input.strings-match": {OK, CAUTION, UNKNOWN},
    "stack.alike": {NOTE, CAUTION},
    "stack.bus-current": {NOTE, UNKNOWN},
    "stack.larger-leg": {OK, UNKNOWN, STOP},
    "stack.larger-leg-peak": {OK, CAUTION},
    "stack.legs": {OK, UNKNOWN, STOP},
    "stack.mixed": {OK, STOP},
    "stack.own-circuits": {NOTE, CAUTION, STOP},
    "stack.own-device": {OK},
    "stack.parallel-operation": {OK, CAUTION, UNKNOWN, STOP},
    "usable.any": {OK, STOP},
    "usable.carried": {OK, STOP},
    "usable.float": {NOTE},  # said only where a charger floats
    "usable.most": {OK, CAUTION},
    "usable.solved": {UNKNOWN},
    "usable.stranded": {NOTE},
    "window.cable-drop": {OK, CAUTION},
    "window.charged": {OK, UNKNOWN, STOP},
    "window.highest": {OK, CAUTION},
    "window.least": {OK, NOTE, CAUTION},
    "window.loaded": {OK, UNKNOWN, STOP},
    "window.nominal-high": {OK, UNKNOWN, STOP},
    "window.nominal-low": {OK, UNKNOWN, STOP},
    "window.restart": {OK, UNKNOWN, STOP},
    "window.restart-early": {OK, CAUTION},
    "window.restart-late": {OK, CAUTION},
    "window.touch": {OK, CAUTION},
    "window.tripping": {OK, CAUTION},
}


def main_run(**changes: Any) -> Build:
    fields: dict[str, Any] = {"name": "main", "conductor": good_conductor(), "length": "1.5 m"}
    return good_build(cabling=good_cabling(main=Run(**{**fields, **changes})))


def at_home(kind: str | None = "dwelling", **changes: Any) -> Build:
    """Return the good build in a home, or in a place that nobody named."""
    return good_build(site=good_site(kind=kind), safeguards=good_safeguards(**changes))


def away_from_home(**changes: Any) -> Build:
    """Return the good build in an outbuilding that belongs to no home."""
    return good_build(site=good_site(serves_home=False), safeguards=good_safeguards(**changes))


def thin_lead(**changes: Any) -> Build:
    """Return the good build with leads that carry less than the others' fuses together."""
    return lead_run(conductor=good_conductor(80.0, 0.64), **changes)


def lead_run(**changes: Any) -> Build:
    """Return the good build with leads of its four strings changed."""
    lead = good_cabling().module_lead
    return good_build(cabling=good_cabling(module_lead=attrs.evolve(lead, **changes)))


def read_in_a_shed(interrupting: str) -> Build:
    """Return the good build where it may have frozen, its fuses of a rating; see `test_fault`."""
    fuse = good_family(interrupting=interrupting)
    return good_build(
        site=good_site(coldest="0 degC"),
        safeguards=good_safeguards(
            string_fuse=fuse,
            main_fuse=fuse,
            charger_fuse=fuse,
            disconnect=good_disconnect(withstands="40 kA"),
        ),
    )


def main_left_open(metres: float) -> Build:
    """Return the good build with the size of its mains left open, and a length."""
    sizes = tuple(good_conductor(amps, 0.64 * 33.6 / area, area) for amps, area in WIRES)
    return main_run(conductor=sizes[-1], alternatives=sizes, left_open=True, length=f"{metres} m")


# Ampacity [A] and area [mm²], as a table has them.
WIRES = ((115.0, 33.6), (195.0, 67.4), (260.0, 107.0))


def table_bar(warmest: str | None) -> Build:
    """Return the good build with bars out of the table, and how warm it gets."""
    bar = good_bar(source="din-43671")
    return good_build(cabling=good_cabling(bar=bar), site=good_site(warmest=warmest))


def all_gg() -> Build:
    """Return three strings of gG links of 80 A against a main of 125 A: 1.92 times."""
    gg = good_family(characteristic="gG", interrupting="30 kA")
    run = Run(name="main", conductor=good_conductor(200.0), length="1.5 m")
    return good_build(
        inverters=(good_inverter(continuous="2.9 kW"),),
        cabling=good_cabling(main=run),
        safeguards=good_safeguards(string_fuse=gg, main_fuse=gg),
    )


def panels_by(fuse: Any) -> Build:
    """Return three strings of panels fused by something."""
    return solar_build(
        arrays=(good_array(in_parallel=3, largest_fuse="25 A"),),
        safeguards=good_safeguards(array_fuse=fuse),
    )


def left_on(**profile: Any) -> Build:
    return with_charger(left_on=good_profile(**profile))


HARMLESS = {
    "absorption": "56 V",
    "float_voltage": "53 V",
    "equalise": "56 V",
    "compensation": "0 V/K",
    "low_cut_off": "46 V",
}


def with_disconnect(**changes: Any) -> Build:
    return with_safeguards(disconnect=good_disconnect(**changes))


def with_emergency(**changes: Any) -> Build:
    return with_safeguards(emergency_off=good_emergency(**changes))


def with_precharge(**changes: Any) -> Build:
    return with_safeguards(precharge=good_precharge(**changes))


def with_bar(**changes: Any) -> Build:
    return good_build(cabling=good_cabling(bar=good_bar(**changes)))


def of_cells(cells: int, earthed: str | None = "minus") -> Pack:
    return good_pack(
        module=good_module(cells_in_series=cells), modules_in_series=1, earthed=earthed
    )


CELLS = {121: 29, 63: 15, 58: 14}  # of the oxide: 121.8, 63 and 58.8 V


def high_pack(volts: int, *, earthed: str | None = "none", **safeguards: Any) -> Build:
    """Return a pack of 29 or 15 oxide cells: 121.8 or 63 V."""
    return good_build(
        pack=of_cells(CELLS[volts], earthed), safeguards=good_safeguards(**safeguards)
    )


def at(kind: str | None, volts: int = 58, **site: Any) -> Build:
    """Return a pack of so many volts in some kind of place."""
    return good_build(pack=of_cells(CELLS[volts]), site=good_site(kind=kind, **site))


def with_breaker(*, both_ways: bool = True, **changes: Any) -> Build:
    """Return the good build with a breaker of two poles for a main; one way without a charger."""
    breaker = good_family(**{"kind": "breaker", "poles": 2, "polarised": False, **changes})
    charger = good_charger(name="built in", current="10 A", current_setting=NOT_FITTED)
    inverter = good_inverter(charger=charger if both_ways else NOT_FITTED)
    return good_build(inverters=(inverter,), safeguards=good_safeguards(main_fuse=breaker))


def no_precharge(**changes: Any) -> Build:
    """Return the good build without precharge, and what melts its main and string fuses told."""
    fuse = good_family(**changes)
    return with_safeguards(precharge=NOT_FITTED, main_fuse=fuse, string_fuse=fuse)


def with_array(**changes: Any) -> Build:
    return solar_build(arrays=(good_array(**changes),))


def two_inputs(**changes: Any) -> Build:
    panels = tuple(good_array(name=name, on_input=name) for name in ("a", "b"))
    return solar_build(arrays=panels, chargers=solar_charger(**changes))


def with_array_run(**changes: Any) -> Build:
    """Return the solar build with nothing against surges, and another cable to its array."""
    run = attrs.evolve(solar_build().cabling.array, **changes)
    return solar_build(
        cabling=good_cabling(array=run), safeguards=good_safeguards(surge_protection=False)
    )


def two_arrays(**other: Any) -> Build:
    return solar_build(arrays=(good_array(), good_array(**{"name": "other", **other})))


def with_sun(**changes: Any) -> Build:
    return solar_build(chargers=(solar_charger(**changes),))


def on_legs(*, load: dict[str, Any] | None = None, **other: Any) -> Build:
    """Return 3 kW on each leg; the larger leg takes 1.4 of 2 kW, and 2.8 of 4 kW at peak."""
    one = good_inverter(name="one", leg="1")
    two = good_inverter(**{"name": "two", "leg": "2", **other})
    return good_build(
        inverters=(one, two), load=good_load(**{"larger_leg": "70 %", **(load or {})})
    )


# (rule, the worst it comes to, what is changed of the good build)
CASES: list[tuple[str, Severity, Change]] = [
    ("arrangement.assumed", CAUTION, lambda: with_module(basis="assumed")),
    ("arrangement.chemistry", STOP, lambda: with_module(chemistry=HYDRIDE)),
    ("arrangement.enough", NOTE, lambda: with_module(available=None)),
    ("arrangement.enough", STOP, lambda: with_module(available=5)),
    ("arrangement.flat", CAUTION, lambda: with_module(chemistry=IRON)),
    ("arrangement.resistance", UNKNOWN, lambda: with_module(resistance=None)),
    ("arrangement.guards", CAUTION, lambda: with_policy(weak_part="200 %")),
    ("arrangement.measured", CAUTION, lambda: with_module(basis="datasheet")),
    ("believable.value", OK, good_build),
    ("believable.value", UNKNOWN, lambda: with_module(resistance="0.5 mOhm")),
    (
        "believable.value",
        NOTE,
        lambda: with_module(
            resistance="0.5 mOhm", basis=bases("datasheet").confirming("resistance")
        ),
    ),
    (
        "believable.trip",
        UNKNOWN,
        lambda: with_safeguards(
            string_fuse=good_family(kind="breaker", instantaneous_trip="20 A", polarised=False)
        ),
    ),
    (
        "arrangement.resistance-method",
        UNKNOWN,
        lambda: with_module(resistance_method="1 kHz meter"),
    ),
    ("arrangement.resistance-method", UNKNOWN, lambda: with_module(resistance_method="not stated")),
    ("arrangement.resistance-charge", OK, lambda: with_module(resistance_soc="50 %")),
    ("arrangement.resistance-charge", CAUTION, lambda: with_module(resistance_soc="100 %")),
    ("cells.ahead", OK, lambda: with_module(imbalance_full="9 mV")),
    ("cells.ahead", CAUTION, lambda: with_module(imbalance_full="60 mV")),
    ("cells.floor", OK, lambda: with_module(lowest_group="2.9 V")),
    ("cells.floor", STOP, lambda: with_module(lowest_group="1.9 V")),
    ("cells.weak-group", OK, lambda: with_module(imbalance_empty="90 mV")),
    ("cells.weak-group", CAUTION, lambda: with_module(imbalance_empty="160 mV")),
    ("reading.temperature", UNKNOWN, lambda: read_in_a_shed("20 kA")),
    ("reading.temperature", NOTE, lambda: read_in_a_shed("40 kA")),
    ("arrangement.spread", CAUTION, lambda: with_pack(spread_full=None)),
    ("arrangement.spread", CAUTION, lambda: with_pack(spread_full="60 mV")),
    ("arrangement.spread", STOP, lambda: with_pack(spread_full="160 mV")),
    ("hold.compensation", UNKNOWN, lambda: with_charger(compensation_can_be_off=None)),
    ("hold.compensation", STOP, lambda: with_charger(compensation_can_be_off=False)),
    ("hold.equalise", UNKNOWN, lambda: with_charger(equalise_can_be_off=None)),
    ("hold.equalise", STOP, lambda: with_charger(equalise_can_be_off=False)),
    (
        "hold.float",
        CAUTION,
        lambda: with_charger(float_can_be_off=False, float_setting=("56 V", "60 V", "0.1 V")),
    ),
    (
        "hold.float",
        UNKNOWN,
        lambda: with_charger(float_can_be_off=None, float_setting=("57 V", "60 V", "0.1 V")),
    ),
    (
        "hold.float",
        STOP,
        lambda: with_charger(float_can_be_off=False, float_setting=("57 V", "60 V", "0.1 V")),
    ),
    ("asked.same", NOTE, lambda: with_inverter(idle=None)),
    ("charge.range-known", UNKNOWN, lambda: with_charger(charge_voltage=None)),
    ("charge.real-top", STOP, lambda: with_policy(charge_target="4.25 V")),
    # 56.1 · 1.005 / 14 and a measured 10 mV are 4.037 V; with the guard of 20 mV 4.047 V.
    ("charge.real-top", CAUTION, lambda: with_module(cell_highest="4.045 V")),
    ("charge.real-top", STOP, lambda: with_module(cell_highest="4.02 V")),
    ("charge.settable", STOP, lambda: with_charger(charge_voltage=NOT_FITTED)),
    # 56.1 V keep the target; 14 · (4.2 − 0.010) / 1.005 = 58.37 V keep the print.
    ("charge.settable", CAUTION, lambda: with_charger(charge_voltage=("56.2 V", "60 V", "0.1 V"))),
    ("charge.settable", STOP, lambda: with_charger(charge_voltage=("58.5 V", "60 V", "0.1 V"))),
    (
        "charge-current.known",
        UNKNOWN,
        lambda: with_charger(current="60 A", current_setting=None),
    ),
    (
        "charge-current.settable",
        STOP,
        lambda: with_charger(current="60 A", current_setting=("55 A", "60 A", "1 A")),
    ),
    ("charging.limit", UNKNOWN, lambda: with_charger(current=None)),
    ("charging.limit", UNKNOWN, lambda: with_module(charge_limit=None)),
    (
        "charging.limit",
        STOP,
        lambda: with_charger(current="90 A", current_setting=NOT_FITTED),
    ),
    ("charging.cold", CAUTION, lambda: good_build(site=good_site(coldest="4.9 degC"))),
    ("charging.cold", CAUTION, lambda: good_build(site=good_site(coldest=None))),
    ("charging.hot", CAUTION, lambda: good_build(site=good_site(warmest="46 degC"))),
    ("charging.hot", UNKNOWN, lambda: good_build(site=good_site(warmest=None))),
    (
        "charging.rate",
        CAUTION,
        lambda: with_charger(current="60 A", current_setting=NOT_FITTED),
    ),
    ("charging.rate", CAUTION, lambda: with_charger(current=None)),
    # 40 / 2 · 1.2 = 24 A, of 23 A.
    ("charging.one-out", CAUTION, lambda: with_module(charge_limit="23 A")),
    ("charging.one-out", CAUTION, lambda: with_module(charge_limit=None)),
    ("charging.one-out", CAUTION, lambda: with_charger(current=None)),
    ("current.cold-sag", NOTE, lambda: good_build(site=good_site(coldest="4.9 degC"))),
    ("current.collapse", UNKNOWN, lambda: with_module(resistance=None)),
    (
        "current.collapse",
        STOP,
        lambda: good_build(
            pack=good_pack(module=good_module(resistance="1 Ohm")),
            load=good_load(continuous="100 W", typical="50 W", peak="4 kW"),
        ),
    ),
    ("current.discharge-cold", UNKNOWN, lambda: good_build(site=good_site(coldest=None))),
    ("current.discharge-cold", STOP, lambda: good_build(site=good_site(coldest="-21 degC"))),
    ("current.discharge-hot", UNKNOWN, lambda: good_build(site=good_site(warmest=None))),
    ("current.discharge-hot", STOP, lambda: good_build(site=good_site(warmest="61 degC"))),
    ("current.discharge-rate", CAUTION, lambda: with_module(capacity="10 Ah")),
    ("current.full-output", CAUTION, lambda: with_inverter(continuous="7 kW", surge="9 kW")),
    ("current.full-output", CAUTION, lambda: with_inverter(continuous=None)),
    # 6551.739 W at 45.4 V are 144.3 A, of 3 · 55 / 1.2 = 137.5 A.
    ("current.full-surge", CAUTION, lambda: with_module(discharge_peak="55 A")),
    ("current.load", UNKNOWN, lambda: with_module(discharge_limit=None)),
    ("current.load", UNKNOWN, lambda: with_inverter(window_low=None)),
    ("current.load", STOP, lambda: with_module(discharge_limit="15 A")),
    ("charging.kept-off", NOTE, lambda: built_in_kept("not wired", changeover=NOT_FITTED)),
    ("charging.kept-off", CAUTION, lambda: built_in_kept("not wired")),
    ("charging.kept-off", CAUTION, lambda: built_in_kept("turned off")),
    ("charging.no-charger", UNKNOWN, lambda: good_build(chargers=())),
    ("charging.no-charger", UNKNOWN, lambda: with_inverter(charger=None)),
    ("current.output", UNKNOWN, lambda: with_inverter(continuous=None)),
    ("current.output", STOP, lambda: with_inverter(continuous="1.9 kW")),
    ("current.output-peak", CAUTION, lambda: with_inverter(surge="3.9 kW")),
    ("current.output-peak", CAUTION, lambda: with_inverter(surge=None)),
    # 144.3 A of full surge, see above, of 3 · 50 / 1.2 = 125 A.
    (
        "current.long-surge",
        CAUTION,
        lambda: good_build(
            pack=good_pack(module=good_module(discharge_limit="50 A")),
            inverters=(good_inverter(surge_time="11 s"),),
        ),
    ),
    (
        "current.long-surge",
        UNKNOWN,
        lambda: good_build(
            pack=good_pack(module=good_module(discharge_limit="50 A")),
            inverters=(good_inverter(surge_time=None),),
            load=good_load(peak=None),
        ),
    ),
    (
        "current.long-surge",
        STOP,
        lambda: good_build(
            pack=good_pack(module=good_module(discharge_limit="50 A")),
            inverters=(good_inverter(surge_time="11 s"),),
            load=good_load(peak=None),
        ),
    ),
    (
        "current.peak",
        UNKNOWN,
        lambda: with_module(discharge_peak=None, discharge_limit=None),
    ),
    # 96.428 / 2 · 1.2 = 57.9 A; all three together stand 3 · 57 / 1.2 = 142.5 A.
    ("current.peak-one-out", CAUTION, lambda: with_module(discharge_peak="57 A")),
    (
        "current.peak-one-out",
        CAUTION,
        lambda: with_module(discharge_peak=None, discharge_limit=None),
    ),
    ("current.peak", STOP, lambda: with_module(discharge_peak="35 A")),
    ("current.sag", CAUTION, lambda: with_module(resistance="100 mOhm")),
    ("current.sag", CAUTION, lambda: with_module(resistance=None)),
    (
        "changeover.reserve",
        CAUTION,
        lambda: with_inverter(changeover=("42 V", "48 V", "0.1 V")),
    ),
    ("cable.carries", CAUTION, lambda: main_run(basis="assumed")),
    ("cable.carries", UNKNOWN, lambda: with_inverter(continuous=None)),
    # 78.354 A · 1.25 = 97.94 A by the rule, and · 1.1 = 107.7 A with our margin.
    ("cable.carries", CAUTION, lambda: main_run(conductor=good_conductor(107.0))),
    ("cable.carries", STOP, lambda: main_run(conductor=good_conductor(97.9))),
    ("cable.fed-by-others", OK, good_build),
    # Two others of 60 A feed 120 A into a lead of 80 A.
    ("cable.fed-by-others", UNKNOWN, lambda: thin_lead(protected=None)),
    ("cable.fed-by-others", STOP, lambda: thin_lead(protected=False)),
    ("cable.drop", CAUTION, lambda: main_run(length="40 m")),
    ("cable.drop-surge", CAUTION, lambda: main_run(length="40 m")),
    ("cable.drop-surge", CAUTION, lambda: with_inverter(surge=None)),
    ("cable.guarded", STOP, lambda: with_array_run(conductor=good_conductor(10.0))),
    ("cable.known", UNKNOWN, lambda: good_build(cabling=good_cabling(main=None))),
    ("cable.parallel", NOTE, lambda: main_run(parallel=2)),
    (
        "cable.parallel",
        STOP,
        lambda: main_run(parallel=2, conductor=good_conductor(area=50.0)),
    ),
    # Of two, one of 1.5 m and one of 1.4 m: 2 · 1.5 / 2.9 = 103 %; of 0.9 m: 2 · 1.5 / 2.4 = 125 %.
    ("cable.unequal", NOTE, lambda: main_run(parallel=2, shortest="1.4 m")),
    ("cable.unequal", CAUTION, lambda: main_run(parallel=2, shortest="0.9 m")),
    ("cable.sized", OK, lambda: main_left_open(6.0)),
    ("cable.sized", UNKNOWN, lambda: main_left_open(60.0)),
    ("cable.withstands", CAUTION, lambda: with_policy(weak_part="900 %")),
    ("cable.withstands", UNKNOWN, lambda: good_build(cabling=good_cabling(module_lead=None))),
    # (115 · 4)² = 212 kA²s, and the fuse of 150 A may pass 1500² · 0.1 = 225 kA²s.
    ("cable.withstands", STOP, lambda: main_run(conductor=good_conductor(area=4.0))),
    ("changeover.known", CAUTION, lambda: with_inverter(changeover=None)),
    ("changeover.known", CAUTION, lambda: with_inverter(return_to_battery=None)),
    ("changeover.known", CAUTION, lambda: with_module(resistance=None)),
    (
        "discharge.cut-off",
        UNKNOWN,
        lambda: with_inverter(cut_off=NOT_FITTED, window_low=None),
    ),
    # 14 cells at their least, 3 V, are 42 V; clear of the warning are 45.4 V.
    ("discharge.cut-off", CAUTION, lambda: with_inverter(cut_off=("40 V", "45 V", "0.1 V"))),
    ("discharge.cut-off", STOP, lambda: with_inverter(cut_off=("38 V", "41.9 V", "0.1 V"))),
    ("discharge.cut-off", CAUTION, lambda: with_inverter(cut_off=NOT_FITTED)),
    ("discharge.cut-off-known", UNKNOWN, lambda: with_inverter(cut_off=None)),
    ("changeover.hunting", CAUTION, lambda: with_module(resistance="130 mOhm")),
    ("changeover.return-reached", NOTE, lambda: with_policy(reserve="60 %")),
    (
        "changeover.return-reached",
        STOP,
        lambda: with_inverter(return_to_battery=("57 V", "60 V", "0.1 V")),
    ),
    # 56.1 V are entered, of which the errors of charger and meter leave 55.5 V for sure.
    (
        "changeover.return-reached",
        CAUTION,
        lambda: with_inverter(return_to_battery=("56.1 V", "60 V", "0.1 V")),
    ),
    ("changeover.return-reached", UNKNOWN, lambda: with_charger(charge_voltage=None)),
    # 4.10 V and the high warning at 4.12 V are 20 mV apart, of 30 mV.
    ("ladder.step", CAUTION, lambda: with_policy(charge_target="4.10 V")),
    ("ladder.step", CAUTION, lambda: with_policy(charge_target="4.15 V")),
    (
        "bar-sharing.even",
        CAUTION,
        lambda: good_build(
            cabling=good_cabling(bar=good_bar(width="20 mm", thickness="3 mm", length="20 m"))
        ),
    ),
    ("monitoring.acts", UNKNOWN, lambda: with_pack(monitoring=good_monitoring(stops_charge=None))),
    (
        "monitoring.acts",
        STOP,
        lambda: with_pack(monitoring=good_monitoring(stops_discharge=False)),
    ),
    ("monitoring.balance", CAUTION, lambda: with_pack(monitoring=good_monitoring(balances=False))),
    ("monitoring.balance", CAUTION, lambda: with_pack(monitoring=good_monitoring(balances=None))),
    (
        "monitoring.cold-block",
        NOTE,
        lambda: with_pack(monitoring=good_monitoring(blocks_cold_charge=None)),
    ),
    (
        "monitoring.cold-block",
        UNKNOWN,
        lambda: good_build(
            pack=good_pack(monitoring=good_monitoring(blocks_cold_charge=None)),
            site=good_site(coldest="-1 degC"),
        ),
    ),
    (
        "monitoring.cold-block",
        STOP,
        lambda: good_build(
            pack=good_pack(monitoring=good_monitoring(blocks_cold_charge=False)),
            site=good_site(coldest="-1 degC"),
        ),
    ),
    (
        "monitoring.each-string",
        UNKNOWN,
        lambda: with_pack(monitoring=good_monitoring(watches_each_string=None)),
    ),
    (
        "monitoring.each-string",
        STOP,
        lambda: with_pack(monitoring=good_monitoring(watches_each_string=False)),
    ),
    ("monitoring.every-cell", UNKNOWN, lambda: with_pack(monitoring=None)),
    (
        "monitoring.every-cell",
        UNKNOWN,
        lambda: with_pack(monitoring=good_monitoring(every_cell=None)),
    ),
    ("monitoring.every-cell", STOP, lambda: with_pack(monitoring=NOT_FITTED)),
    (
        "monitoring.every-cell",
        STOP,
        lambda: with_pack(monitoring=good_monitoring(every_cell=False)),
    ),
    (
        "monitoring.temperature",
        UNKNOWN,
        lambda: with_pack(monitoring=good_monitoring(temperatures=None)),
    ),
    (
        "monitoring.temperature",
        STOP,
        lambda: with_pack(monitoring=good_monitoring(temperatures=False)),
    ),
    ("profile.left-on", OK, lambda: left_on(**HARMLESS)),
    ("profile.left-on", CAUTION, lambda: left_on(**HARMLESS | {"absorption": "57 V"})),
    # 57.2 V are 4.0857 V a cell, and the warning at 4.12 V leaves 4.0796 V (test_profile).
    ("profile.left-on", STOP, lambda: left_on(**HARMLESS | {"absorption": "57.2 V"})),
    ("profile.left-on", STOP, lambda: left_on(**HARMLESS | {"equalise": "62 V"})),
    ("profile.left-on-cold", OK, lambda: left_on(**HARMLESS)),
    # It says 0 V/K, and compensation cannot be turned off: the usual is counted, 1.035 V.
    (
        "profile.left-on-cold",
        CAUTION,
        lambda: with_charger(
            left_on=good_profile(**HARMLESS | {"absorption": "55 V", "equalise": "55 V"}),
            compensation_can_be_off=False,
        ),
    ),
    # 9 K below 25 °C at 0.3 V/K are 2.7 V more.
    ("profile.left-on-cold", STOP, lambda: left_on(**HARMLESS | {"compensation": "0.3 V/K"})),
    ("profile.left-on-float", OK, lambda: left_on(**HARMLESS)),
    ("profile.left-on-float", CAUTION, lambda: left_on(**HARMLESS | {"float_voltage": "55.4 V"})),
    ("profile.left-on-low", OK, lambda: left_on(**HARMLESS)),
    ("profile.left-on-low", CAUTION, lambda: left_on(**HARMLESS | {"low_cut_off": "44 V"})),
    ("profile.warned", NOTE, lambda: good_build(profiles=(good_profile(),))),
    ("protection.warm-air", NOTE, lambda: with_safeguards(ambient="20 degC")),
    ("protection.warm-air", CAUTION, lambda: with_safeguards(ambient="85 degC")),
    ("protection.clears", CAUTION, lambda: with_policy(clearing="5000 %")),
    ("protection.clears", CAUTION, lambda: good_build(cabling=good_cabling(module_lead=None))),
    ("protection.clears", CAUTION, lambda: with_policy(weak_part="900 %")),
    (
        "protection.time-constant",
        CAUTION,
        lambda: main_run(length="100 m", conductor=good_conductor(175.0, 0.001)),
    ),
    ("bar.carries", CAUTION, lambda: with_bar(basis="assumed")),
    ("bar.carries", UNKNOWN, lambda: with_bar(carries=None)),
    # 78.354 A · 1.1 · 1.25 are 107.74 A.
    ("bar.carries", CAUTION, lambda: with_bar(carries="107 A")),
    ("bar.carries", STOP, lambda: with_bar(carries="97 A")),
    (
        "bar.described",
        CAUTION,
        lambda: good_build(
            cabling=good_cabling(bar=None), safeguards=good_safeguards(to_buy=("bars",))
        ),
    ),
    ("bar.described", UNKNOWN, lambda: good_build(cabling=good_cabling(bar=None))),
    (
        "bar.described",
        UNKNOWN,
        lambda: good_build(
            cabling=good_cabling(bar=None), inverters=(good_inverter(efficiency=None),)
        ),
    ),
    # 20 · 3 mm² · 1.6 A/mm² are 96 A.
    ("bar.warm", OK, lambda: table_bar("35 degC")),
    ("bar.warm", CAUTION, lambda: table_bar("35.1 degC")),
    ("bar.warm", CAUTION, lambda: table_bar(None)),
    ("bar.enclosed", CAUTION, lambda: with_bar(width="20 mm", thickness="3 mm")),
    ("bar.enclosed", CAUTION, lambda: with_inverter(continuous=None)),
    # Three string fuses of 80 A.
    ("bar.guarded", CAUTION, lambda: with_bar(carries="239 A")),
    ("bar.guarded", CAUTION, lambda: with_bar(carries=None)),
    (
        "device.disconnect",
        CAUTION,
        lambda: with_safeguards(disconnect=None, to_buy=("disconnect",)),
    ),
    ("device.disconnect", UNKNOWN, lambda: with_safeguards(disconnect=None)),
    (
        "device.disconnect",
        UNKNOWN,
        lambda: good_build(
            inverters=(good_inverter(idle=None),), safeguards=good_safeguards(disconnect=None)
        ),
    ),
    ("device.disconnect", STOP, lambda: with_safeguards(disconnect=NOT_FITTED)),
    ("device.disconnect-current", CAUTION, lambda: with_disconnect(basis="assumed")),
    ("device.disconnect-current", UNKNOWN, lambda: with_disconnect(current=None)),
    ("device.disconnect-current", UNKNOWN, lambda: with_inverter(continuous=None)),
    ("device.disconnect-current", CAUTION, lambda: with_disconnect(current="107 A")),
    ("device.disconnect-current", STOP, lambda: with_disconnect(current="97 A")),
    # The pack gives up to 16 kA: 14 · 4.2 V / ((0.5 · 20 mΩ + 1.02 mΩ) / 3).
    ("device.disconnect-withstands", CAUTION, lambda: with_disconnect(basis="assumed")),
    ("device.disconnect-withstands", UNKNOWN, lambda: with_disconnect(withstands=None)),
    # With all of the 20 mΩ: 14 · 4.2 V / (21.02 mΩ / 3) = 8.39 kA.
    ("device.disconnect-withstands", UNKNOWN, lambda: with_disconnect(withstands="15 kA")),
    ("device.disconnect-withstands", STOP, lambda: with_disconnect(withstands="8.3 kA")),
    ("device.disconnect-load", CAUTION, lambda: with_disconnect(basis="assumed")),
    ("device.disconnect-load", UNKNOWN, lambda: with_disconnect(breaks_load=None)),
    ("device.disconnect-load", STOP, lambda: with_disconnect(breaks_load=False)),
    ("device.disconnect-polarity", CAUTION, lambda: with_disconnect(basis="assumed")),
    ("device.disconnect-polarity", UNKNOWN, lambda: with_disconnect(polarised=None)),
    ("device.disconnect-polarity", STOP, lambda: with_disconnect(polarised=True)),
    ("device.disconnect-poles", CAUTION, lambda: with_disconnect(basis="assumed")),
    ("device.disconnect-poles", UNKNOWN, lambda: with_disconnect(poles=None)),
    (
        "device.disconnect-poles",
        STOP,
        lambda: good_build(
            pack=good_pack(earthed="none"),
            safeguards=good_safeguards(disconnect=good_disconnect(poles=1)),
        ),
    ),
    ("device.disconnect-voltage", CAUTION, lambda: with_disconnect(basis="assumed")),
    ("device.disconnect-voltage", UNKNOWN, lambda: with_disconnect(dc_voltage=None)),
    ("device.disconnect-voltage", STOP, lambda: with_disconnect(dc_voltage="58 V")),
    (
        "device.emergency",
        CAUTION,
        lambda: with_safeguards(emergency_off=None, to_buy=("emergency_off",)),
    ),
    ("device.emergency", UNKNOWN, lambda: with_safeguards(emergency_off=None)),
    ("device.emergency", CAUTION, lambda: away_from_home(emergency_off=None)),
    ("device.emergency", UNKNOWN, lambda: at_home(emergency_off=None)),
    ("device.emergency", CAUTION, lambda: with_emergency(stops_charging=False)),
    ("device.emergency", CAUTION, lambda: with_emergency(basis="assumed")),
    ("device.emergency", UNKNOWN, lambda: with_emergency(place="")),
    ("device.emergency", UNKNOWN, lambda: with_emergency(stops_inverters=None)),
    ("device.emergency", UNKNOWN, lambda: with_safeguards(emergency_off=NOT_FITTED)),
    ("device.emergency", CAUTION, lambda: away_from_home(emergency_off=NOT_FITTED)),
    ("device.emergency", STOP, lambda: at_home(emergency_off=NOT_FITTED)),
    ("device.emergency", UNKNOWN, lambda: at_home(None, emergency_off=NOT_FITTED)),
    ("device.emergency", UNKNOWN, lambda: with_emergency(opens_every_string=False)),
    (
        "device.emergency",
        STOP,
        lambda: at_home(emergency_off=good_emergency(opens_every_string=False)),
    ),
    ("poles.both", CAUTION, lambda: with_pack(earthed=None)),
    ("poles.both", CAUTION, lambda: with_pack(earthed="none")),
    ("poles.both", UNKNOWN, lambda: high_pack(63, both_poles=None)),
    ("poles.both", UNKNOWN, lambda: high_pack(63, earthed=None, both_poles=True)),
    ("poles.both", STOP, lambda: high_pack(63)),
    ("poles.both", STOP, lambda: high_pack(63, earthed="minus", both_poles=True)),
    ("place.kind", NOTE, lambda: at(None)),
    ("place.kind", NOTE, lambda: at("boat")),
    ("place.kind", UNKNOWN, lambda: at(None, 63)),
    # 29 cells are charged to 117.45 V at most; a home takes 100 V, or 600 V out of reach.
    ("place.voltage", CAUTION, lambda: at("outbuilding", 121)),
    ("place.voltage", OK, lambda: at("dwelling", 121, live_parts_guarded=True)),
    ("place.voltage", UNKNOWN, lambda: at("dwelling", 121)),
    ("place.voltage", STOP, lambda: at("dwelling", 121, live_parts_guarded=False)),
    ("place.energy", CAUTION, lambda: at("living space")),
    # 3 · 150 Ah · 51.1 V are 23 kWh, above 20 kWh a unit.
    ("place.unit", CAUTION, lambda: with_module(capacity="150 Ah")),
    ("place.listing", CAUTION, lambda: at("outbuilding", approval=None)),
    ("place.listing", CAUTION, lambda: at("dwelling", approval=None)),
    ("place.listing", UNKNOWN, lambda: at("dwelling", 63, approval=None)),
    ("place.listing", CAUTION, lambda: at("dwelling", approval="none")),
    ("place.listing", STOP, lambda: at("dwelling", 63, approval="none")),
    ("poles.breaker", CAUTION, lambda: with_breaker(dc_voltage="600 V")),
    ("poles.high-voltage", CAUTION, lambda: high_pack(121)),
    ("poles.insulation", NOTE, lambda: high_pack(63)),
    ("poles.insulation", CAUTION, lambda: high_pack(121, earthed="minus")),
    ("poles.insulation", UNKNOWN, lambda: high_pack(121)),
    ("poles.insulation", STOP, lambda: high_pack(121, insulation_monitoring=False)),
    ("poles.polarity", NOTE, lambda: with_breaker(both_ways=False, polarised=True)),
    ("poles.polarity", CAUTION, lambda: with_breaker(basis="assumed")),
    ("poles.polarity", UNKNOWN, lambda: with_breaker(polarised=None)),
    ("poles.polarity", STOP, lambda: with_breaker(polarised=True)),
    ("precharge.checked", CAUTION, lambda: with_precharge(checks_voltage=None)),
    ("precharge.each", NOTE, on_legs),
    (
        "precharge.each",
        OK,
        lambda: attrs.evolve(
            on_legs(), safeguards=good_safeguards(precharge=good_precharge(each_inverter=True))
        ),
    ),
    # 5 s of twice 10 mF through 50 Ω, where one alone is full in 2.5 s.
    (
        "precharge.each",
        CAUTION,
        lambda: attrs.evolve(
            on_legs(), safeguards=good_safeguards(precharge=good_precharge(time_out="4 s"))
        ),
    ),
    # One filling leaves 17.3 J, that of both 34.6 J.
    (
        "precharge.each",
        UNKNOWN,
        lambda: attrs.evolve(
            on_legs(), safeguards=good_safeguards(precharge=good_precharge(pulse="30 J"))
        ),
    ),
    (
        "precharge.fitted",
        CAUTION,
        lambda: with_safeguards(precharge=None, to_buy=("precharge",)),
    ),
    ("precharge.fitted", UNKNOWN, lambda: with_safeguards(precharge=None)),
    # 10 mF · 58.8² V² / (2 · 4.47 mΩ) are some 3.9 kA²s through the main fuse.
    ("precharge.fitted", CAUTION, lambda: no_precharge(melting="10 kA2s")),
    ("precharge.fitted", UNKNOWN, lambda: no_precharge(characteristic="", melting=None)),
    ("precharge.fitted", STOP, lambda: no_precharge(melting="3 kA2s")),
    ("precharge.heat", CAUTION, lambda: with_precharge(basis="assumed")),
    ("precharge.heat", UNKNOWN, lambda: with_precharge(pulse=None)),
    # 10 mF · 58.8² V² / 2 are 17.29 J.
    ("precharge.heat", STOP, lambda: with_precharge(pulse="17 J")),
    ("precharge.known", CAUTION, lambda: with_inverter(input_capacitance=None)),
    (
        "precharge.known",
        UNKNOWN,
        lambda: good_build(
            inverters=(good_inverter(input_capacitance=None),),
            # 3 kA²s melt it: 30 mF are too many for that, 1.5 mF are not.
            safeguards=good_safeguards(
                precharge=NOT_FITTED, main_fuse=good_family(melting="3 kA2s")
            ),
        ),
    ),
    # 58.8² V² / 50 Ω for 10 s are 691 J.
    ("precharge.shorted", CAUTION, lambda: with_precharge(pulse="690 J")),
    ("precharge.shorted", CAUTION, lambda: with_precharge(time_out=None)),
    # Five times 50 Ω · 10 mF are 2.5 s.
    ("precharge.time-out", CAUTION, lambda: with_precharge(wait="2 s", time_out="2.4 s")),
    ("precharge.time-out", CAUTION, lambda: with_precharge(time_out=None)),
    ("precharge.wait", CAUTION, lambda: with_precharge(wait="2.4 s", checks_voltage=False)),
    ("precharge.wait", UNKNOWN, lambda: with_precharge(wait=None, checks_voltage=None)),
    ("precharge.wait", STOP, lambda: with_precharge(wait="1.4 s", checks_voltage=False)),
    ("selective.main", NOTE, good_build),
    ("selective.string", NOTE, good_build),
    ("protection.fault-known", UNKNOWN, lambda: with_module(resistance=None)),
    ("protection.fits", CAUTION, lambda: with_safeguards(string_fuse="", main_fuse="")),
    ("protection.fits", UNKNOWN, lambda: with_safeguards(main_fuse=good_family(characteristic=""))),
    ("protection.fits", CAUTION, lambda: panels_by(good_family(dc_voltage="250 V"))),
    (
        "protection.fits",
        OK,
        lambda: panels_by(good_family(dc_voltage="250 V", characteristic="gPV")),
    ),
    ("protection.fits", CAUTION, lambda: with_array(in_parallel=3, basis="assumed")),
    ("protection.fits", STOP, lambda: with_safeguards(main_fuse=good_family(characteristic="aR"))),
    ("protection.fits", UNKNOWN, lambda: good_build(cabling=good_cabling(main=None))),
    ("protection.fits", UNKNOWN, lambda: with_inverter(continuous=None)),
    ("protection.fits", STOP, lambda: with_safeguards(main_fuse=good_family(dc_voltage="58 V"))),
    ("protection.fits", STOP, lambda: with_safeguards(main_fuse=good_family(interrupting="5 kA"))),
    ("protection.fits", STOP, lambda: with_safeguards(main_fuse="no such family")),
    ("protection.not-covered", NOTE, good_build),
    ("protection.one-out", CAUTION, lambda: with_module(link_limit="60 A")),
    ("protection.one-out-modules", CAUTION, lambda: with_module(discharge_limit="22 A")),
    ("protection.one-out-modules", CAUTION, lambda: with_module(discharge_limit=None)),
    ("selective.main", OK, all_gg),
    ("selective.string", OK, all_gg),
    ("selective.two-strings", NOTE, lambda: with_pack(strings=2)),
    ("beside.array-arc-fault", NOTE, solar_build),
    ("beside.array-arc-fault", OK, lambda: with_array(in_series=1)),
    ("beside.array-earth-fault", NOTE, solar_build),
    ("beside.array-high-voltage", OK, solar_build),
    ("beside.array-high-voltage", CAUTION, lambda: with_array(in_series=16)),
    ("beside.array-isolator", NOTE, solar_build),
    ("beside.array-leads", NOTE, solar_build),
    ("beside.data-lines", NOTE, good_build),
    ("beside.licensed", NOTE, good_build),
    ("beside.neutral-bond", NOTE, good_build),
    ("beside.rapid-shutdown", NOTE, solar_build),
    ("beside.surge", CAUTION, lambda: with_array_run(length="10.1 m")),
    ("beside.transfer", NOTE, good_build),
    *(
        (rule, OK, solar_build)
        for rule in (
            "solar.cold-headroom",
            "solar.cold-voltage",
            "solar.described",
            "solar.feeds",
            "solar.start",
            "solar-input.power",
            "solar-input.short-circuit",
        )
    ),
    # 121.878 V are above 95 % of 128 V, 121.6 V.
    ("solar.cold-headroom", CAUTION, lambda: with_sun(pv_highest="128 V")),
    ("solar.cold-voltage", CAUTION, lambda: with_array(basis="assumed")),
    ("solar.cold-voltage", CAUTION, lambda: with_sun(basis="assumed")),
    ("solar.cold-voltage", UNKNOWN, lambda: with_sun(pv_highest=None)),
    (
        "solar.cold-voltage",
        UNKNOWN,
        lambda: attrs.evolve(with_sun(pv_highest="128 V"), site=solar_site(coldest_outside=None)),
    ),
    ("solar.cold-voltage", STOP, lambda: with_sun(pv_highest="121 V")),
    ("solar.described", NOTE, lambda: with_sun(count=2)),
    ("solar.described", CAUTION, lambda: solar_build(arrays="none")),
    ("solar.described", UNKNOWN, lambda: solar_build(arrays=None)),
    ("solar.feeds", STOP, lambda: good_build(arrays=(good_array(feeds="charger"),))),
    # 2 · 31 V are 62 V, of 56.7 + 5 V; on the hottest day 53.3 V.
    ("solar.start", CAUTION, lambda: with_array(in_series=2)),
    ("solar.start", UNKNOWN, lambda: with_array(maximum_power_voltage=None)),
    ("solar.start", STOP, lambda: with_array(in_series=1)),
    ("solar.touch", OK, lambda: with_array(in_series=1)),
    ("solar.touch", NOTE, solar_build),
    ("solar.yield", NOTE, solar_build),
    ("solar-input.power", NOTE, lambda: with_sun(pv_most_power=None)),
    ("solar-input.power", CAUTION, lambda: with_sun(pv_most_power="1.7 kW")),
    (
        "solar-input.power",
        CAUTION,
        lambda: with_array(power=None, maximum_power_current=None),
    ),
    ("solar-input.power-agrees", OK, lambda: with_sun(power="1.8 kW")),
    ("solar-input.power-agrees", NOTE, lambda: with_sun(power="1.83 kW")),
    ("solar-input.short-circuit", CAUTION, lambda: with_sun(basis="assumed")),
    ("solar-input.short-circuit", UNKNOWN, lambda: with_array(short_circuit=None)),
    ("solar-input.short-circuit", UNKNOWN, lambda: with_sun(pv_most_current=None)),
    # 2 · 10 A; in strong sun 25 A.
    ("solar-input.short-circuit", CAUTION, lambda: with_sun(pv_most_current="24 A")),
    ("solar-input.short-circuit", STOP, lambda: with_sun(pv_most_current="19.9 A")),
    ("solar-input.strings-match", OK, two_arrays),
    ("solar-input.strings-match", CAUTION, lambda: two_arrays(open_circuit="36 V")),
    ("solar-input.strings-match", UNKNOWN, lambda: two_arrays(open_circuit=None)),
    ("solar-input.strings-match", CAUTION, lambda: two_arrays(in_series=2)),
    ("solar-input.separate", OK, lambda: two_inputs(pv_inputs=2)),
    ("solar-input.separate", CAUTION, lambda: two_inputs(pv_inputs=2, basis="assumed")),
    ("solar-input.separate", UNKNOWN, two_inputs),
    ("solar-input.separate", STOP, lambda: two_inputs(pv_inputs=1)),
    ("stack.alike", NOTE, lambda: with_inverter(count=2)),
    ("stack.alike", CAUTION, lambda: on_legs(leg="1", continuous="2 kW")),
    ("stack.bus-current", NOTE, on_legs),
    ("stack.bus-current", UNKNOWN, lambda: on_legs(continuous=None)),
    ("stack.larger-leg", OK, on_legs),
    ("stack.larger-leg", UNKNOWN, lambda: on_legs(load={"larger_leg": None})),
    ("stack.larger-leg", UNKNOWN, lambda: on_legs(continuous=None)),
    ("stack.larger-leg", STOP, lambda: on_legs(continuous="1.3 kW")),
    ("stack.larger-leg-peak", OK, on_legs),
    ("stack.larger-leg-peak", CAUTION, lambda: on_legs(continuous="2 kW", surge="2.7 kW")),
    ("stack.larger-leg-peak", CAUTION, lambda: on_legs(surge=None)),
    ("stack.legs", OK, on_legs),
    ("stack.legs", UNKNOWN, lambda: good_build(load=good_load(larger_leg="60 %"))),
    ("stack.legs", STOP, lambda: on_legs(leg="1")),
    ("stack.mixed", OK, on_legs),
    ("stack.mixed", STOP, lambda: on_legs(leg="")),
    ("stack.own-circuits", NOTE, lambda: with_inverter(own_circuits=True)),
    ("stack.own-circuits", CAUTION, lambda: with_inverter(own_circuits=True, basis="assumed")),
    ("stack.own-circuits", STOP, lambda: on_legs(own_circuits=True)),
    ("stack.own-device", OK, on_legs),
    ("stack.parallel-operation", OK, on_legs),
    ("stack.parallel-operation", CAUTION, lambda: on_legs(basis="assumed")),
    ("stack.parallel-operation", UNKNOWN, lambda: on_legs(parallel_operation=None)),
    ("stack.parallel-operation", UNKNOWN, lambda: with_inverter(count=2, parallel_operation=None)),
    ("stack.parallel-operation", STOP, lambda: on_legs(parallel_operation=False)),
    ("usable.any", STOP, lambda: with_policy(charge_target="3.5 V")),
    ("usable.carried", STOP, lambda: with_module(resistance="300 mOhm")),
    ("usable.float", NOTE, lambda: with_charger(float_can_be_off=False)),
    ("usable.most", CAUTION, lambda: with_policy(charge_target="3.8 V")),
    ("usable.solved", UNKNOWN, lambda: with_charger(charge_voltage=None)),
    ("usable.solved", UNKNOWN, lambda: with_inverter(cut_off=None)),
    ("usable.stranded", NOTE, good_build),
    ("window.cable-drop", CAUTION, lambda: main_run(length="40 m")),
    ("window.cable-drop", CAUTION, lambda: good_build(cabling=good_cabling(main=None))),
    ("window.charged", UNKNOWN, lambda: with_inverter(window_high=None, survives=None)),
    ("window.charged", STOP, lambda: with_inverter(window_high="56.3 V", survives="66 V")),
    ("window.highest", CAUTION, lambda: with_inverter(window_high="58 V", survives="58.7 V")),
    ("window.highest", CAUTION, lambda: with_inverter(window_high=None, survives=None)),
    ("window.least", NOTE, lambda: with_inverter(window_low="43 V")),
    # 14 · 3.4 = 47.6 V is where a pack like this is left under load.
    ("window.least", CAUTION, lambda: with_inverter(window_low="47.7 V")),
    ("window.least", NOTE, lambda: with_inverter(window_low=None)),
    ("window.loaded", UNKNOWN, lambda: with_module(resistance=None)),
    ("window.loaded", STOP, lambda: with_inverter(window_low="56.6 V")),
    ("window.nominal-high", UNKNOWN, lambda: with_inverter(window_high=None, survives=None)),
    ("window.nominal-high", STOP, lambda: with_inverter(window_high="51 V")),
    ("window.nominal-low", UNKNOWN, lambda: with_inverter(window_low=None)),
    ("window.nominal-low", STOP, lambda: with_inverter(window_low="51.2 V")),
    ("window.restart", UNKNOWN, lambda: with_charger(charge_voltage=None)),
    ("window.restart", OK, lambda: with_inverter(restart=NOT_FITTED)),
    ("window.restart", STOP, lambda: with_inverter(restart="55.6 V")),
    ("window.restart-early", CAUTION, lambda: with_inverter(restart="46 V")),
    ("window.restart-late", CAUTION, lambda: with_inverter(restart="52.5 V")),
    ("window.touch", CAUTION, lambda: with_pack(modules_in_series=3)),
    # 57.2 V are 4.08 V a cell: a warning under it would not lie above the target of 4.05 V.
    ("window.tripping", CAUTION, lambda: with_inverter(window_high="57 V", survives="57.2 V")),
    ("window.tripping", CAUTION, lambda: with_inverter(window_high=None, survives=None)),
]
NOT_IN_THE_GOOD_BUILD = (
    *("profile.", "solar", "stack.", "beside.array", "cable.sized", "bar.warm", "selective."),
    "precharge.each",
    *("cells.", "arrangement.resistance-charge"),
)
PASSES = [
    rule
    for rule, severities in CAN_COME_TO.items()
    if OK in severities and not rule.startswith(NOT_IN_THE_GOOD_BUILD)
]
CASES += [(rule, OK, good_build) for rule in PASSES]


def worst(findings: tuple[Finding, ...], rule: str) -> Severity:
    return max(found.severity for found in findings if found.rule.key == rule)


@pytest.mark.parametrize(
    ("rule", "severity", "change"),
    CASES,
    ids=[f"{rule}-{severity.name}-{i}" for i, (rule, severity, _) in enumerate(CASES)],
)
def test_a_rule_comes_to_what_it_should(rule: str, severity: Severity, change: Change) -> None:
    assert worst(design(change(), catalogue=None).findings, rule) is severity


def test_every_rule_is_weighed() -> None:
    assert {rule.key for rule in every_rule()} == set(CAN_COME_TO)


def test_rule_keys_are_unique() -> None:
    rules = {id(rule): rule.key for rule in every_rule()}  # one rule may be imported twice
    assert len(set(rules.values())) == len(rules)


def test_every_rule_is_tested_in_every_severity_that_it_can_have() -> None:
    tested: dict[str, set[Severity]] = {}
    for rule, severity, _ in CASES:
        tested.setdefault(rule, set()).add(severity)
    assert tested == CAN_COME_TO


@given(build=builds())
def test_a_rule_comes_to_nothing_else(build: Build) -> None:
    for found in design(build).findings:
        assert found.severity in CAN_COME_TO[found.rule.key], found


@given(build=builds())
def test_every_finding_that_holds_says_what_would_clear_it(build: Build) -> None:
    for found in design(build).findings:
        assert not found.holds or found.remedy, found


# --- What holds a verdict back ----------------------------------------------------------------


def test_the_good_build_works() -> None:
    done = design(good_build())
    assert decide(done).verdict is Verdict.WORKS
    assert not [f for f in done.findings if f.severity > NOTE]


def fields_that_may_be_unknown(noun: type) -> list[str]:
    """Return the fields that may be left out as unknown: those whose default is None."""
    return [field.name for field in attrs.fields(noun) if field.default is None]


def blanked(noun: type, field: str) -> Build:
    """Return the good build with one field of one noun unknown."""
    gone = {field: None}
    return {
        Module: lambda: with_module(**gone),
        Monitoring: lambda: with_pack(monitoring=good_monitoring(**gone)),
        Pack: lambda: with_pack(**gone),
        Inverter: lambda: with_inverter(**gone),
        Charger: lambda: with_charger(**gone),
        Load: lambda: good_build(load=good_load(**gone)),
        Site: lambda: good_build(site=good_site(**gone)),
        Cabling: lambda: good_build(cabling=good_cabling(**gone)),
        Policy: lambda: with_policy(**gone),
    }[noun]()


NOUNS = (Module, Monitoring, Pack, Inverter, Charger, Load, Site, Cabling, Policy)

# What may stay unsaid, and why that is safe.
_SAME = "both ends of what is credible come to the same"
MAY_BE_UNKNOWN: dict[tuple[type, str], str] = {
    (Module, "discharge_peak"): _SAME,
    (Inverter, "surge"): _SAME,
    (Inverter, "efficiency"): _SAME,
    (Inverter, "idle"): _SAME,
    (Inverter, "restart"): _SAME,
    (Charger, "float_can_be_off"): _SAME,
    (Inverter, "changeover"): "a limit: cut-off and monitoring guard the cells",
    (Inverter, "return_to_battery"): "a limit: cut-off and monitoring guard the cells",
    (Module, "cell_highest"): "the chemistry's limit rules; a module can only tighten it",
    (Module, "cell_least"): "the chemistry's limit rules; a module can only tighten it",
    (Module, "cell_nominal"): "the chemistry's nominal stands in",
    (Module, "link_limit"): "the discharge limit of the module stands in for its links",
    (Module, "available"): "a note: nobody said how many there are",
    (Module, "ocv"): "the chemistry's curve stands in",
    (Module, "resistance_curve"): "the one resistance is taken at every state of charge",
    (Module, "resistance_temperature"): "taken as read in a room; asked for where it matters",
    (Module, "resistance_soc"): "taken as read at middle charge",
    (Module, "imbalance_full"): "the chemistry's guard stands in till somebody measures",
    (Module, "imbalance_empty"): "the chemistry's guard stands in till somebody measures",
    (Module, "lowest_group"): "judged where it was read",
    (Module, "weakest_group"): "said where it was read",
    (Monitoring, "balances"): "a limit: without balancing the pack loses energy, not safety",
    (Monitoring, "blocks_cold_charge"): "a note, since this site stays warm; held where it freezes",
    (Pack, "spread_full"): "a limit: the chemistry's guard stands in till somebody measures",
    (Inverter, "surge_time"): "the modules stand the full surge for good; held where they do not",
    (Inverter, "survives"): "the top of the window stands in",
    (Inverter, "meter_accuracy"): "the policy's assumed error stands in",
    (Inverter, "input_capacitance"): "a limit: precharge waits for the voltage then",
    (Charger, "accuracy"): "the policy's assumed error stands in",
    (Charger, "current_setting"): "the pack takes all that it gives; held where it does not",
    (Charger, "float_setting"): "float can be turned off; asked for where it cannot",
    (Charger, "left_on"): "no profile is left on",
    (Charger, "power"): "for the energy picture only",
    (Load, "typical"): "the continuous load stands in",
    (Load, "peak"): "the inverters' full surge stands in",
    (Pack, "earthed"): "a limit below 60 V, where a pack may float or not; asked for above",
    (Inverter, "parallel_operation"): "asked for where there are several",
    (Inverter, "own_circuits"): "taken as joined to the others",
    (Charger, "pv_inputs"): "asked for where arrays are put on several",
    (Charger, "pv_highest"): "of a solar charger alone",
    (Charger, "pv_above_battery"): "an assumed one stands in",
    (Charger, "pv_most_current"): "of a solar charger alone",
    (Charger, "pv_most_power"): "of a solar charger alone",
    (Load, "larger_leg"): "asked for where there are legs",
    (Site, "coldest_outside"): "asked for where there are solar arrays",
    (Site, "warmest_outside"): "asked for where there are solar arrays",
    (Site, "kind"): "a note up to 60 V, where no place forbids it; asked for above",
    (Site, "serves_home"): "asked for where an outbuilding has no emergency disconnect",
    (Site, "live_parts_guarded"): "asked for where a home has more than 100 V",
    (Site, "approval"): "a limit: ask the authority; held in a home above 60 V",
    (Cabling, "link"): "modules may be bolted straight to one another",
    (Cabling, "array"): "asked for where there are solar arrays",
    (Policy, "charge_target"): "the chemistry's target stands in",
}


@pytest.mark.parametrize(
    ("noun", "field"),
    [(noun, field) for noun in NOUNS for field in fields_that_may_be_unknown(noun)],
    ids=lambda value: value if isinstance(value, str) else value.__name__,
)
def test_an_unknown_holds_the_verdict_back(noun: type, field: str) -> None:
    decision = decide(design(blanked(noun, field)))
    if (noun, field) in MAY_BE_UNKNOWN:
        assert decision.go, MAY_BE_UNKNOWN[noun, field]
    else:
        assert decision.verdict in {Verdict.CANNOT_TELL_YET, Verdict.DOES_NOT_WORK}
        assert any(found.severity is UNKNOWN for found in decision.held_by)


def test_what_may_be_unknown_is_a_field_that_exists() -> None:
    for noun, field in MAY_BE_UNKNOWN:
        assert field in fields_that_may_be_unknown(noun)


def test_what_stands_in_is_asked_for_where_it_matters() -> None:
    fixed_float = with_charger(float_can_be_off=False, float_setting=None)
    assert decide(design(fixed_float)).verdict is Verdict.CANNOT_TELL_YET
    # 3 kW or 9 kW of surge: 24 A or 72 A of the busiest string, of 61 A.
    no_surge = good_build(
        pack=good_pack(module=good_module(discharge_peak="61 A")),
        inverters=(good_inverter(surge=None),),
        load=good_load(peak=None),
    )
    assert worst(design(no_surge).findings, "current.peak") is UNKNOWN
    no_link = with_module(link_limit=None, discharge_limit=None)
    assert worst(design(no_link).findings, "protection.fits") is UNKNOWN
    too_much = with_charger(current="60 A", current_setting=None)
    assert decide(design(too_much)).verdict is Verdict.CANNOT_TELL_YET
    alone = with_pack(strings=1, monitoring=good_monitoring(watches_each_string=None))
    assert not [f for f in design(alone).findings if f.rule.key == "monitoring.each-string"]
    no_nothing = good_build(chargers=(good_charger(current=None, current_setting=None),))
    assert decide(design(no_nothing)).verdict is Verdict.CANNOT_TELL_YET


# --- What holds of any build ------------------------------------------------------------------


@given(build=builds())
def test_a_design_never_raises_and_weighs_its_findings(build: Build) -> None:
    decision = decide(design(build))
    severities = {found.severity for found in decision.design.findings}
    expected = (
        Verdict.DOES_NOT_WORK
        if STOP in severities
        else Verdict.CANNOT_TELL_YET
        if UNKNOWN in severities
        else Verdict.WORKS_WITH_LIMITS
        if CAUTION in severities
        else Verdict.WORKS
    )
    assert decision.verdict is expected


@given(build=sound_builds())
def test_one_more_module_in_series_only_costs_headroom(build: Build) -> None:
    taller = attrs.evolve(
        build, pack=attrs.evolve(build.pack, modules_in_series=build.pack.modules_in_series + 1)
    )
    for rule in ("window.highest", "window.tripping", "window.nominal-high"):
        margins = [
            next(f.margin for f in design(b).findings if f.rule.key == rule)
            for b in (build, taller)
        ]
        assert margins[1] < margins[0]


@given(build=sound_builds())
def test_more_strings_never_give_a_string_more_to_carry(build: Build) -> None:
    wider = attrs.evolve(build, pack=attrs.evolve(build.pack, strings=build.pack.strings + 1))
    before, after = design(build).sharing, design(wider).sharing
    assert before is not None
    assert after is not None
    # One string has no imbalance and two may have one of up to 2 here: it carries all at most.
    assert after.worst.value <= before.worst.value * (1 + 1e-12)
    assert after.even.value < before.even.value


@given(build=sound_builds())
def test_the_design_of_a_build_is_the_same_every_time(build: Build) -> None:
    assert design(build).findings == design(build).findings


# --- Builds at the edge -----------------------------------------------------------------------


def test_nickel_metal_hydride_is_refused_and_nothing_is_set() -> None:
    done = design(with_module(chemistry=HYDRIDE))
    assert decide(done).verdict is Verdict.DOES_NOT_WORK
    assert (done.settings, done.usable, done.sharing, done.protection) == (None,) * 4


def test_without_any_charger_nobody_can_tell() -> None:
    decision = decide(design(good_build(chargers=())))
    assert decision.verdict is Verdict.CANNOT_TELL_YET
    assert decision.design.settings is not None
    assert decision.design.settings.thresholds.charge is None


def test_without_any_inverter_it_does_not_work() -> None:
    done = design(good_build(inverters=()))
    assert decide(done).verdict is Verdict.DOES_NOT_WORK  # no output for the load
    assert done.protection is not None
    # Strings and charger; how much the strings carry nobody knows.
    assert [fuse.size for fuse in done.protection.fuses] == [None, 60.0]


def test_two_kinds_of_inverter_are_each_judged_and_each_fused() -> None:
    small = good_inverter(name="small", continuous="1 kW", surge="2 kW", window_low="44 V")
    done = design(good_build(inverters=(good_inverter(), small)))
    assert {f.about for f in done.findings if f.rule.key == "window.charged"} == {
        "inverter",
        "small",
    }
    assert done.protection is not None
    assert [fuse.place for fuse in done.protection.fuses[1:]] == [
        "main, at the bus, to inverter",
        "main, at the bus, to small",
        "charger, at the bus, from charger",
    ]
    assert done.sharing is not None
    # The one that works down to 42 V goes on when the other has stopped: currents are greatest
    # there. (3000 + 1000) / 0.92 + 30 + 30 = 4407.8 W, over 42 V = 104.95 A.
    assert done.sharing.total.value == pytest.approx(4407.826 / 42, rel=1e-6)


def test_two_kinds_of_inverter_one_with_an_unknown_window_hold_the_verdict() -> None:
    vague = good_inverter(name="vague", window_low=None)
    decision = decide(design(good_build(inverters=(good_inverter(), vague))))
    assert decision.verdict is Verdict.CANNOT_TELL_YET
    assert decision.design.sharing is None


def test_two_inverters_alike_ask_for_two_main_fuses_of_the_same_size() -> None:
    one = design(good_build())
    two = design(good_build(inverters=(good_inverter(count=2),)))
    assert one.protection is not None
    assert two.protection is not None
    single, double = one.protection.fuses[1], two.protection.fuses[1]
    assert (single.count, double.count) == (1, 2)
    assert single.size == double.size == 150
    assert one.sharing is not None
    assert two.sharing is not None
    assert two.sharing.total.value == pytest.approx(2 * one.sharing.total.value)


def test_a_built_in_charger_counts_once_for_each_inverter() -> None:
    charger = good_charger(name="built in", current="10 A", current_setting=NOT_FITTED)
    done = design(good_build(inverters=(good_inverter(count=3, charger=charger),), chargers=()))
    assert next(f for f in done.findings if f.rule.key == "charging.limit").value == 30.0


def test_a_charger_whose_current_nobody_knows_leaves_every_current_open() -> None:
    silent = good_charger(name="silent", current=None)
    done = design(good_build(chargers=(good_charger(), silent)))
    assert worst(done.findings, "charging.limit") is UNKNOWN
    assert done.settings is not None
    device = done.settings.device("charger")
    assert device is not None
    line = device.line("charge current limit")
    assert line is not None
    assert line.entry == "?"


def test_one_cell_is_no_pack_for_a_48_volt_inverter() -> None:
    pack = good_pack(module=good_module(cells_in_series=1), modules_in_series=1, strings=1)
    assert decide(design(good_build(pack=pack))).verdict is Verdict.DOES_NOT_WORK


def test_400_modules_in_series_do_not_work() -> None:
    pack = good_pack(module=good_module(available=100_000), modules_in_series=400)
    decision = decide(design(good_build(pack=pack)))
    assert decision.verdict is Verdict.DOES_NOT_WORK
    assert worst(decision.design.findings, "window.charged") is STOP


def test_next_to_no_resistance_is_a_fault_that_no_fuse_breaks() -> None:
    done = design(with_module(resistance="0.01 mOhm"))
    assert worst(done.findings, "protection.fits") is STOP
    assert done.protection is not None
    assert all(fuse.size is None for fuse in done.protection.fuses)


def test_an_inverter_that_idles_at_nothing_is_as_good_as_any() -> None:
    assert decide(design(with_inverter(idle="0 W"))).verdict is Verdict.WORKS


def test_a_load_beyond_collapse_does_not_work() -> None:
    done = design(with_module(resistance="2 Ohm"))
    assert worst(done.findings, "usable.carried") is STOP
    assert worst(done.findings, "current.collapse") is STOP
    assert worst(done.findings, "window.loaded") is STOP
    assert decide(done).verdict is Verdict.DOES_NOT_WORK


def test_a_window_that_reaches_down_to_nothing_is_not_believed() -> None:
    done = design(with_inverter(window_low="0 V"))
    assert worst(done.findings, "current.load") is UNKNOWN
    assert done.sharing is None
    assert done.protection is not None
    assert done.protection.fuses[1].lower is None


def test_a_charge_target_of_nothing_is_no_setting() -> None:
    done = design(with_policy(charge_target="0 V"))
    assert worst(done.findings, "charge.settable") is STOP


def test_a_catalogue_may_be_handed_in() -> None:
    only = good_catalogue(good_family(key="only", name="the only one"))
    wanted = with_safeguards(string_fuse="", main_fuse="only", charger_fuse="only")
    done = design(wanted, catalogue=only)
    assert done.protection is not None
    assert [f.family.key for f in done.protection.fuses if f.family is not None] == ["only"] * 3


def test_parallel_main_conductors_carry_together() -> None:
    two = Run(name="main", conductor=good_conductor(70.0), length="1.5 m", parallel=2)
    done = design(good_build(cabling=good_cabling(main=two)))
    assert done.protection is not None
    main = done.protection.fuses[1]
    assert main.upper is not None and main.upper_guard is not None  # noqa: PT018
    # Together 140 A, no standard size: NEC 240.4(B) lets the next one up, 150 A, stand above it.
    assert (main.upper.value, main.upper_guard.value) == (150.0, 140.0)
    # 98 A is what the rule asks for, 126.7 A what we would take: 125 A guards and comes nearest.
    assert main.size == 125.0
    assert decide(done).verdict is Verdict.WORKS_WITH_LIMITS


@pytest.mark.parametrize("chemistry", [BLEND, TITANATE])
def test_other_chemistries_come_through(chemistry: Any) -> None:
    done = design(with_module(chemistry=chemistry))
    assert done.settings is not None
    assert done.settings.thresholds.charge is not None or decide(done).held_by
