"""Values that no such thing has are asked for again; what people own is never asked for."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import attrs
import pytest
from strategies import (
    IRON,
    TITANATE,
    good_array,
    good_bar,
    good_build,
    good_cabling,
    good_charger,
    good_conductor,
    good_disconnect,
    good_family,
    good_inverter,
    good_load,
    good_module,
    good_pack,
    good_precharge,
    good_safeguards,
    good_site,
    solar_build,
    solar_charger,
    with_charger,
    with_inverter,
    with_module,
    with_safeguards,
)

from evpack.base.basis import bases
from evpack.base.errors import DescriptionError
from evpack.base.finding import Finding, Severity
from evpack.check.believable import believable
from evpack.decide import decide
from evpack.describe.build import Build
from evpack.describe.cabling import Run
from evpack.design import design
from evpack.load.entries import keys
from evpack.load.library import charger_entry, example, inverter_entry, library, module_entry
from evpack.load.sheet import read_sheet
from evpack.load.tables import credible_ranges
from evpack.outcome.design import Verdict

RANGES = credible_ranges()
OK, NOTE, _, UNKNOWN, _ = Severity


def asked(build: Build) -> tuple[Finding, ...]:
    return tuple(f for f in believable(build, RANGES) if f.severity is not OK)


def with_panels(**changes: Any) -> Build:
    return solar_build(arrays=(good_array(**changes),))


def with_sun(**changes: Any) -> Build:
    return solar_build(chargers=(solar_charger(**changes),))


def with_main(length: str) -> Build:
    run = Run(name="main", conductor=good_conductor(), length=length)
    return good_build(cabling=good_cabling(main=run))


def with_bar(**changes: Any) -> Build:
    return good_build(cabling=good_cabling(bar=good_bar(**changes)))


def high_voltage(module: Any = None, **inverter: Any) -> Build:
    """Return 14 modules of 7 cells in one string, 357.7 V nominal, on a high-voltage port."""
    return good_build(
        pack=good_pack(module=module or good_module(available=14), modules_in_series=14, strings=1),
        inverters=(
            good_inverter(
                **{
                    "continuous": "10 kW",
                    "surge": "15 kW",
                    "window_low": "120 V",
                    "window_high": "500 V",
                    "survives": "550 V",
                    "restart": "300 V",
                    "cut_off": "none",
                    "changeover": "none",
                    "return_to_battery": "none",
                    **inverter,
                }
            ),
        ),
        chargers=(),
    )


# --- What is asked for --------------------------------------------------------------------------

# What is typed, of which thing; what the question says. Bounds worked by hand beside each.
SLIPS: list[tuple[Callable[[], Build], str, str]] = [
    # 60 Ah: 30C is 1800 A, 60C 3600 A, 10C 600 A.
    (lambda: with_module(discharge_limit="45 kA"), "module", "discharge limit 45 kA; 0.3 A to 18"),
    (lambda: with_module(discharge_limit="45 mA"), "module", "discharge limit 0.045 A; 0.3 A to"),
    (lambda: with_module(discharge_peak="220 kA"), "module", "discharge peak 220 kA; 0.6 A to 36"),
    (lambda: with_module(charge_limit="45 kA"), "module", "charge limit 45 kA; 0.12 A to 600 A"),
    (lambda: with_module(link_limit="160 kA"), "module", "link limit 160 kA; 1 A to 3000 A"),
    (
        lambda: with_module(capacity="2600 Ah", resistance="1 mOhm"),
        "module",
        "capacity 2600 Ah; 1 Ah to 1500 Ah",
    ),
    # 7 cells, 60 Ah: 0.008 · 7 / 60 is 0.933 mΩ, 0.5 · 7 / 60 is 58.3 mΩ.
    (
        lambda: with_module(resistance="0.1 mOhm"),
        "module",
        "resistance 0.1 mΩ; 0.933 mΩ to 58.3 mΩ is believable with 7 cells in series and capacity",
    ),
    (lambda: with_inverter(efficiency="99.99 %"), "inverter", "efficiency 100 %; 50 % to 99 %"),
    (lambda: with_inverter(efficiency="9.2 %"), "inverter", "efficiency 9.2 %; 50 % to 99 %"),
    (lambda: with_inverter(input_capacitance="20 F"), "inverter", "input capacitance 20 F; 1 µF"),
    (lambda: with_inverter(continuous="3 MW", surge="6 MW"), "inverter", "continuous 3000 kW"),
    # Six times 3 kW are 18 kW; a quarter of it 750 W.
    (lambda: with_inverter(surge="60 kW"), "inverter", "surge 60 kW; 3000 W to 18 kW"),
    (lambda: with_inverter(idle="3 kW"), "inverter", "idle 3000 W; 0 W to 750 W"),
    (lambda: with_inverter(meter_accuracy="0.0005 %"), "inverter", "meter accuracy 0.0005 %"),
    # 1.2 · 60 V are 72 V, 0.15 · 60 V are 9 V; three times 60 V are 180 V.
    (lambda: with_inverter(restart="490 V"), "inverter", "restart 490 V; 9 V to 72 V"),
    (lambda: with_inverter(survives="660 V"), "inverter", "survives 660 V; 60 V to 180 V"),
    (lambda: with_charger(accuracy="0.0005 %"), "charger", "accuracy 0.0005 %; 0.01 % to 10 %"),
    (lambda: with_charger(current="40 kA"), "charger", "current 40 kA; 0.1 A to 600 A"),
    (lambda: with_sun(pv_highest="1500 V"), "sun", "pv highest 1500 V; 8 V to 650 V"),
    (lambda: with_sun(pv_most_current="50 kA"), "sun", "pv most current 50 kA; 0.5 A to 300 A"),
    (lambda: with_sun(pv_most_power="3 MW"), "sun", "pv most power 3000 kW; 5 W to 250 kW"),
    # 31 V · 9.6 A are 297.6 W; 95 % 282.7 W, 105 % 312.5 W.
    (
        lambda: with_panels(power="313 W"),
        "array",
        "power 313 W; 283 W to 312 W is believable with maximum power voltage 31 V and maximum",
    ),
    (lambda: with_panels(power="282 W"), "array", "power 282 W; 283 W to 312 W"),
    # 37 V · 10 A are 370 W; 92 % 340.4 W.
    (
        lambda: with_panels(power="350 W", maximum_power_voltage=None),
        "array",
        "power 350 W; 148 W to 340 W is believable with open circuit 37 V and short circuit 10 A",
    ),
    (lambda: with_panels(largest_fuse="250 A"), "array", "largest fuse 250 A; 0.5 A to 60 A"),
    (lambda: with_panels(largest_fuse="9 A"), "array", "largest fuse 9 A; 10 A or more is"),
    # −1 V/K of 37 V are −2.7 % a kelvin: −100 mV/K was meant.
    (lambda: with_panels(coefficient="-1 V/K"), "array", "coefficient -2.7 %/K; -1 %/K to 0 %/K"),
    (lambda: with_main("1800 m"), "main", "length 1800 m; 0.1 m to 100 m"),
    (lambda: with_main("18 mm"), "main", "length 18 mm; 0.1 m to 100 m"),
    # 30 mm · 10 mm are 300 mm²: 0.2 A/mm² are 60 A, 8 A/mm² 2400 A.
    (lambda: with_bar(carries="573 kA"), "bus bars", "carries 573 kA; 60 A to 2400 A"),
    (
        lambda: with_safeguards(string_fuse=good_family(interrupting="500 kA")),
        "string fuse, fuse with its print read",
        "interrupting 500 kA; 100 A to 300 kA",
    ),
    (
        lambda: with_safeguards(disconnect=good_disconnect(current="250 kA")),
        "battery disconnect",
        "current 250 kA; 1 A to 4000 A",
    ),
    (
        lambda: with_safeguards(precharge=good_precharge(pulse="800 kJ")),
        "precharge",
        "pulse 800 kJ; 0.05 J to 200 kJ",
    ),
    (lambda: with_safeguards(ambient="95 degC"), "protection", "ambient 95 °C; -30 °C to 90 °C"),
    (lambda: good_build(site=good_site(coldest="-80 degC")), "site", "coldest -80 °C; -60 °C to"),
    (
        lambda: good_build(load=good_load(continuous="2 MW", peak="2 MW")),
        "load",
        "continuous 2000 kW; 1 W to 1000 kW",
    ),
]


@pytest.mark.parametrize(("slip", "about", "told"), SLIPS, ids=[told for _, _, told in SLIPS])
def test_a_slip_is_asked_for_again(slip: Callable[[], Build], about: str, told: str) -> None:
    build = slip()
    found = asked(build)
    assert [f.severity for f in found] == [UNKNOWN]
    assert found[0].about == about
    assert found[0].detail.startswith(f"Check this: {told}")
    assert found[0].rule.key == "believable.value"
    assert "confirmed = true } under [" in found[0].remedy
    assert decide(design(build)).verdict in {Verdict.CANNOT_TELL_YET, Verdict.DOES_NOT_WORK}


def test_a_limit_a_thousand_times_too_high_holds_the_settings_back() -> None:
    """Before, the over-current cut of the monitoring rose with it and nobody was told."""
    build = with_module(discharge_limit="60 kA", discharge_peak="120 kA")
    made = design(build)
    decided = decide(made)
    assert decided.verdict is Verdict.CANNOT_TELL_YET
    assert [f.rule.key for f in decided.held_by] == ["believable.value"] * 2
    assert made.settings is not None
    assert made.settings.withheld


@pytest.mark.parametrize("battery", ["48 V", "charger of unknown range"])
def test_a_solar_input_is_judged_by_the_battery_of_its_charger(battery: str) -> None:
    """600 V on a 48 V battery exist; 1500 V only where the battery is of high voltage too."""
    more = {} if battery == "48 V" else {"charge_voltage": None}
    assert not asked(with_sun(pv_highest="600 V", **more))
    assert len(asked(with_sun(pv_highest="1000 V", **more))) == 1
    tall = with_sun(pv_highest="1000 V", charge_voltage=("200 V", "400 V", "0.1 V"))
    assert not asked(tall)


def test_one_value_is_asked_for_once_whatever_it_does_not_fit() -> None:
    """3 kW is above what panels have, above 31 V · 9.6 A, and above 37 V · 10 A."""
    assert len(asked(with_panels(power="3 kW"))) == 1


def test_a_built_in_charger_and_runs_of_single_devices_are_looked_at() -> None:
    charger = good_charger(name="inside", accuracy="0.0005 %")
    own = {"inverter": Run(name="its own", conductor=good_conductor(), length="4000 m")}
    build = good_build(inverters=(good_inverter(charger=charger),), cabling=good_cabling(own=own))
    assert [(f.about, f.remedy.split(" under ")[1]) for f in asked(build)] == [
        ("inside", "[inverter.charger]."),
        ("its own", '[cabling.own."inverter"].'),
    ]


# --- What is confirmed --------------------------------------------------------------------------


def test_a_confirmed_value_is_a_note_that_says_so() -> None:
    sure = bases("datasheet").confirming("discharge_limit")
    build = with_module(discharge_limit="1.9 kA", discharge_peak="2 kA", basis=sure)
    (found,) = asked(build)
    assert found.severity is NOTE
    assert found.detail == (
        "Confirmed: discharge limit 1900 A, though 0.3 A to 1800 A is believable with capacity "
        "60 Ah."
    )
    assert not decide(design(build)).held_by


def test_only_the_value_that_was_confirmed_is() -> None:
    sure = bases("datasheet").confirming("discharge_limit")
    build = with_module(discharge_limit="45 kA", discharge_peak="220 kA", basis=sure)
    assert [f.severity for f in asked(build)] == [NOTE, UNKNOWN]


def test_a_fuse_remembers_what_was_confirmed_of_its_print() -> None:
    sure = good_family(interrupting="500 kA", confirmed=frozenset({"interrupting"}))
    assert [f.severity for f in asked(with_safeguards(string_fuse=sure))] == [NOTE]


def test_the_remedy_keeps_how_a_resistance_was_read() -> None:
    (found,) = asked(
        with_module(resistance="0.1 mOhm", resistance_temperature="21 degC", resistance_soc="50 %")
    )
    beside = 'method = "10 s pulse", temperature = "21 °C", soc = "50 %", basis = "measured"'
    assert beside in found.remedy


def test_the_remedy_keeps_what_stands_beside_the_value() -> None:
    """Its method and how it is known would be lost, were they left out of the line."""
    basis = {"default": "assumed", "resistance": "measured"}
    (found,) = asked(with_module(resistance="0.1 mOhm", basis=basis))
    assert found.remedy.endswith(
        'resistance = { value = "0.1 mΩ", method = "10 s pulse", basis = "measured", '
        "confirmed = true } under [module]."
    )


# --- What cannot be is refused ------------------------------------------------------------------


@pytest.mark.parametrize(
    ("make", "what"),
    [
        (lambda: good_module(discharge_limit="0 A"), "module: discharge_limit must be above 0 A"),
        (lambda: good_module(charge_limit="0 A"), "module: charge_limit must be above 0 A"),
        (lambda: good_inverter(surge_time="0 s"), "inverter: surge_time must be above 0 s"),
        (lambda: good_inverter(efficiency="101 %"), "efficiency must lie above 0 and up to 100 %"),
        (lambda: solar_charger(pv_highest="0 V"), "sun: pv_highest must be above 0 V"),
        (lambda: good_array(largest_fuse="0 A"), "array: largest_fuse must be above 0 A"),
        (lambda: good_family(clearing="0 A2s"), "clearing must be above 0 A²s, got 0 A²s"),
        (
            lambda: good_family(kind="breaker", rating="63 A", instantaneous_trip="62 A"),
            r"instantaneous_trip \(62 A\) must not lie below rating \(63 A\)",
        ),
        (lambda: good_family(interrupting="0 A"), "interrupting must be above 0 A"),
        (lambda: good_disconnect(withstands="0 A"), "withstands must be above 0 A"),
        (lambda: good_precharge(pulse="0 J"), "precharge: pulse must be above 0 J"),
        (lambda: good_bar(carries="0 A"), "bus bars: carries must be above 0 A"),
        (lambda: with_main("1.8 mm"), "main: length must be 10 mm or more, got 1.8 mm"),
    ],
)
def test_what_cannot_be_is_refused_at_the_noun(make: Callable[[], Any], what: str) -> None:
    with pytest.raises(DescriptionError, match=what):
        make()


def test_a_breaker_does_not_trip_below_its_size() -> None:
    """A string fuse of 80 A: at 79 A it cannot trip at once; at 400 A, five times, it may."""

    def trip(at: str) -> list[str]:
        breaker = good_family(kind="breaker", instantaneous_trip=at, polarised=False)
        made = design(with_safeguards(string_fuse=breaker))
        assert made.protection is not None
        assert made.protection.fuses[0].size == 80
        return [f.detail for f in made.findings if f.rule.key == "believable.trip"]

    assert trip("79 A") == ["It is said to trip at once at 79 A, and its size is 80 A."]
    assert trip("80 A") == trip("400 A") == []


# --- What people own is never asked for ---------------------------------------------------------


def test_nothing_of_the_good_builds_is_asked_for() -> None:
    for build in (good_build(), solar_build(), high_voltage()):
        (found,) = believable(build, RANGES)
        assert found.severity is OK
        assert found.detail.endswith("values lie where such things have them.")


@pytest.mark.parametrize("name", [line.key for line in library() if line.kind == "example"])
def test_nothing_of_the_examples_is_asked_for(name: str) -> None:
    assert not asked(read_sheet(example(name)))


def test_nothing_of_the_library_is_asked_for() -> None:
    for key in keys("modules"):
        assert not asked(good_build(pack=good_pack(module=module_entry(key)))), key
    for key in keys("inverters"):
        assert not asked(good_build(inverters=(inverter_entry(key),))), key
    for key in keys("chargers"):
        assert not asked(good_build(chargers=(charger_entry(key),))), key


def cells(n: int, ah: float, milliohm: float, limit: float, **more: Any) -> Build:
    """Return a module: peak twice its limit, charging at half of it."""
    fields = {
        "cells_in_series": n,
        "capacity": f"{ah} Ah",
        "resistance": f"{milliohm} mOhm",
        "discharge_limit": f"{limit} A",
        "discharge_peak": f"{2 * limit} A",
        "charge_limit": f"{limit / 2} A",
        **more,
    }
    return with_module(**fields)


def device(watts: float, low: float, high: float, idle: float, farads: str, **more: Any) -> Build:
    """Return an inverter that surges to twice its output."""
    fields = {
        "continuous": f"{watts} W",
        "surge": f"{2 * watts} W",
        "window_low": f"{low} V",
        "window_high": f"{high} V",
        "survives": f"{1.05 * high} V",
        "restart": f"{low + 0.4 * (high - low)} V",
        "idle": f"{idle} W",
        "input_capacitance": farads,
        **more,
    }
    return with_inverter(**fields)


def controller(volts: float, amps: float, pv: float, **more: Any) -> Build:
    fields = {
        "current": f"{amps} A",
        "current_setting": None,
        "charge_voltage": (f"{volts} V", f"{1.3 * volts} V", f"{0.3 * volts} V"),
        "pv_highest": f"{pv} V",
        "pv_most_current": f"{amps} A",
        "pv_most_power": f"{1.25 * amps * volts} W",
        **more,
    }
    return with_sun(**fields)


def panel(watts: float, most: tuple[float, float], best: tuple[float, float], fuse: float) -> Build:
    """Return a panel with its volts and amperes, open and shorted, and at its best point."""
    return with_panels(
        power=f"{watts} W",
        open_circuit=f"{most[0]} V",
        short_circuit=f"{most[1]} A",
        maximum_power_voltage=f"{best[0]} V",
        maximum_power_current=f"{best[1]} A",
        largest_fuse=f"{fuse} A",
    )


# What people own, of 12 V to 400 V, 2 Ah to 400 Ah, 100 W to 30 kW. Invented, each of the size of
# things that are sold; common practice, no source.
OWNED: dict[str, Build] = {
    "a tool battery, 5S 2 Ah": cells(5, 2, 90, 20),
    "a bicycle battery, 13S 14 Ah": cells(13, 14, 110, 30),
    "a scooter module, 16S 20 Ah": cells(16, 20, 60, 40),
    "a hybrid module, 8S 5.2 Ah": cells(8, 5.2, 14, 60, charge_limit="30 A"),
    "a plug-in module, 12S 26 Ah": cells(12, 26, 20, 100),
    "a pouch module, 2S2P 56 Ah": cells(2, 56, 3, 120),
    "a blade module, 12S 94 Ah": cells(12, 94, 10, 120),
    "a large module, 8S 160 Ah": cells(8, 160, 4, 200),
    "a module of small cells, 6S74P 230 Ah": cells(6, 230, 2.2, 400),
    "iron phosphate, 4S 100 Ah": cells(4, 100, 2.4, 100, chemistry=IRON),
    "iron phosphate, 16S 280 Ah": cells(16, 280, 8, 140, chemistry=IRON),
    "iron phosphate, 8S 400 Ah": cells(8, 400, 4, 200, chemistry=IRON),
    "titanate, 10S 40 Ah": cells(10, 40, 6, 120, chemistry=TITANATE, charge_limit="120 A"),
    "a tired module, three times its resistance": cells(7, 30, 60, 30),
    "a module that is spared, C/20": cells(7, 60, 10, 3),
    "an inverter of 100 W, 12 V": device(100, 10, 15.5, 4, "1 mF", efficiency="82 %"),
    "an inverter of 300 W, 12 V": device(300, 10.5, 15, 8, "2.2 mF", efficiency="85 %"),
    "an inverter of 1 kW, 24 V": device(1000, 19, 33, 12, "6.6 mF", efficiency="90 %"),
    "an inverter of 3 kW, 48 V": device(3000, 40, 64, 35, "12 mF", efficiency="93 %"),
    "an inverter of 5 kW, 48 V, with a transformer": device(
        5000, 38, 66, 60, "30 mF", surge="15 kW", surge_time="20 s", efficiency="95 %"
    ),
    "an inverter of 12 kW, 48 V": device(12000, 40, 64, 70, "40 mF", surge_time="20 ms"),
    "an inverter of 8 kW, 100 to 500 V": device(8000, 100, 500, 50, "1 mF", efficiency="97.5 %"),
    "an inverter of 30 kW, 160 to 800 V": device(30000, 160, 800, 150, "3 mF", efficiency="98.5 %"),
    "an inverter that shuts off to idle at 0 W": device(2000, 40, 60, 0, "10 mF"),
    "a careful meter, 0.1 %": device(3000, 40, 60, 20, "10 mF", meter_accuracy="0.1 %"),
    "a solar charger of 10 A, 12 V": controller(12, 10, 50),
    "a solar charger of 20 A, 24 V": controller(24, 20, 100),
    "a solar charger of 60 A, 48 V": controller(48, 60, 150),
    "a solar charger of 100 A, 48 V": controller(48, 100, 250),
    "a charger of 80 A, 48 V, with 500 V of panels": controller(
        48, 80, 500, pv_most_current="27 A"
    ),
    "a solar input of 1000 V on a battery of 300 V": controller(300, 25, 1000),
    "a battery maintainer of 0.8 A": with_charger(current="0.8 A", current_setting=None),
    "a mains charger of 30 A": with_charger(current="30 A", accuracy="1 %"),
    "a forklift charger of 200 A": with_charger(current="200 A", current_setting=None),
    "a panel of 10 W": panel(10, (21.6, 0.62), (17.5, 0.57), 2),
    "a panel of 100 W": panel(100, (22.4, 5.86), (18.6, 5.38), 10),
    "a panel of 245 W": panel(245, (37.5, 8.68), (30.2, 8.12), 15),
    "a panel of 410 W": panel(410, (37.5, 13.9), (31.3, 13.1), 25),
    "a panel of 670 W": panel(670, (46.1, 18.6), (38.2, 17.55), 30),
    "a thin-film panel of 110 W": panel(110, (87.6, 1.88), (67.8, 1.62), 4),
    "a solar link, 1000 V and 15 A": with_safeguards(
        array_fuse=good_family(dc_voltage="1000 V", interrupting="30 kA", largest="15 A")
    ),
    "a small breaker, 63 A": with_safeguards(
        string_fuse=good_family(
            kind="breaker", largest="63 A", interrupting="6 kA", instantaneous_trip="500 A"
        )
    ),
    "one breaker of 16 A out of a family up to 125 A": with_safeguards(
        charger_fuse=good_family(
            kind="breaker", largest="125 A", interrupting="10 kA", instantaneous_trip="80 A"
        )
    ),
    "a link of 400 A with its I²t": with_safeguards(
        main_fuse=good_family(largest="400 A", melting="150 kA2s", clearing="900 kA2s")
    ),
    "a battery switch of 600 A": with_safeguards(
        disconnect=good_disconnect(dc_voltage="48 V", current="600 A", withstands="10 kA")
    ),
    "a precharge of a lamp": with_safeguards(precharge=good_precharge(resistance="7 Ohm")),
    "a bar of 20 mm by 3 mm": with_bar(width="20 mm", thickness="3 mm", carries="204 A"),
    "a bar of 100 mm by 10 mm": with_bar(width="100 mm", carries="1490 A"),
    "mains of 25 cm": with_main("25 cm"),
    "mains of 12 m": with_main("12 m"),
    "a link of 4 cm between modules": good_build(
        cabling=good_cabling(link=Run(name="link", conductor=good_conductor(), length="4 cm"))
    ),
    "a fridge and two lamps": good_build(
        load=good_load(continuous="120 W", typical="25 W", peak="900 W")
    ),
    "a pump that starts": good_build(
        load=good_load(continuous="600 W", typical="100 W", peak="5 kW")
    ),
    "a hut in the north": good_build(
        site=good_site(coldest="-30 degC", coldest_outside="-45 degC", warmest_outside="28 degC")
    ),
    "a roof in the desert": good_build(
        site=good_site(warmest="60 degC", coldest_outside="-5 degC", warmest_outside="52 degC")
    ),
    "400 V of pouch modules": high_voltage(),
    "400 V of large modules": high_voltage(
        good_module(capacity="230 Ah", resistance="2 mOhm", available=14),
        continuous="30 kW",
        surge="45 kW",
    ),
}


@pytest.mark.parametrize("build", OWNED.values(), ids=OWNED)
def test_what_people_own_is_not_asked_for(build: Build) -> None:
    assert [f.detail for f in asked(build)] == []


def test_each_row_of_the_table_is_met_by_something_people_own() -> None:
    """A field misspelt in the table would never ask for anything."""
    things = [
        *(build.pack.module for build in OWNED.values()),
        good_inverter(),
        solar_charger(),
        good_array(),
        good_bar(),
        good_family(),
        good_disconnect(),
        good_precharge(),
        good_safeguards(),
        good_load(),
        good_site(),
        Run(name="run", conductor=good_conductor(), length="1 m"),
    ]
    named = {field.name for thing in things for field in attrs.fields(type(thing))}
    for rows in RANGES.values():
        for row in rows:
            assert {row.field, *row.times, *row.over} <= named, row
