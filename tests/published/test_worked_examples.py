"""Published and derived: worked examples of the trade, each under its name in our collection.

SC1, SC2, SC4 and TC1 are printed in the documents named beside them (seen in a summary, not in the
original); the D rows are derived: plain arithmetic, done once more by hand. Rows of the collection
on tables (AM, AW, OC, PV) are tested where the tables are read, those on conductors (CU, VD, D18,
D19) in test_conductor_kernels.py; precharge, arcs, ripple and paralleling (PC, D8 to D12, D15 to
D17, FU) are not judged here.
"""

from __future__ import annotations

import attrs
import numpy as np
import pytest
from strategies import (
    OXIDE,
    chemistry,
    good_build,
    good_cabling,
    good_charger,
    good_conductor,
    good_family,
    good_inverter,
    good_module,
    good_pack,
    good_profile,
    good_safeguards,
    good_site,
    groundwork,
    straight,
)

from evpack.base.finding import Severity
from evpack.base.worked import Worked
from evpack.describe.build import Build
from evpack.describe.cabling import Run
from evpack.describe.policy import Policy
from evpack.design import design
from evpack.kernels.joining import pair
from evpack.kernels.load_line import fault_current
from evpack.load.conductors import conductor
from evpack.outcome.design import Design
from evpack.outcome.protection import FaultBand
from evpack.protect.bounds import inverter_current
from evpack.protect.fault import BUS, STRING, fault_bands


def known(worked: Worked | None) -> float:
    assert worked is not None
    return worked.value


# --- Fault currents ---------------------------------------------------------------------------


def lead_acid(strings: int) -> Build:
    """Return 110 cells of 0.5 mΩ at 240 V in each string: 2.1818 V a cell."""
    lead = chemistry(
        "lead",
        f"{240 / 110} 2.0 1.7 1.0",
        "2.1 1.95 1.9 2.13 2.16 1.8 1.75 2.05 0.02 0.02",
        straight(1.9, 2.15),
    )
    module = good_module(
        chemistry=lead,
        cells_in_series=110,
        resistance="55 mOhm",
        cell_nominal="2 V",
    )
    return good_build(
        pack=good_pack(module=module, modules_in_series=1, strings=strings),
        policy=Policy(basis="chosen", ohmic_part="100 %"),  # the 0.5 mΩ are the ohmic ones
        cabling=good_cabling(module_lead=None),
    )


def _at(place: str, build: Build) -> FaultBand:
    return next(band for band in fault_bands(groundwork(build)) if band.place == place)


def test_sc1_one_string_of_110_cells() -> None:
    """DC distribution handbook page: 55 mΩ at 240 V, printed 4.37 kA (4363.6 A, rounded up)."""
    assert fault_current(240.0, 0.055, 0.0) == pytest.approx(4363.6, abs=0.05)
    assert known(_at(STRING, lead_acid(1)).high) == pytest.approx(4363.6, abs=0.05)


def test_sc2_four_strings() -> None:
    """The same page: four times as much, printed 17.5 kA."""
    assert known(_at(BUS, lead_acid(4)).high) == pytest.approx(17.5e3, abs=50)


def test_sc4_series_adds_nothing_and_parallel_adds() -> None:
    """ABYC E-11 as quoted in a public thread: six 6 V blocks, 2s3p, 2400 A each: 7200 A."""
    block = 6.0 / 2400.0
    assert fault_current(2 * 6.0, 2 * block, 0.0, strings=3) == pytest.approx(7200.0)


# D13: 14s3p of cells of 1.0 mΩ over 10 s, the lowest credible half of that: 14 · 0.5 / 3 mΩ =
# 2.3333 mΩ. D14: 14 · 4.05 = 56.7 V over it, 24300 A.
FOURTEEN_OF_THREE = good_build(
    pack=good_pack(
        module=good_module(
            chemistry=chemistry(
                "kept at 4.05 V",
                "4.05 3.65 3.0 2.0",
                "3.95 3.45 3.4 3.98 4.01 3.2 3.0 3.9 0.02 0.02",
                straight(3.0, 4.05),
            ),
            cells_in_series=14,
            cells_in_parallel=3,
            resistance=f"{14 / 3} mOhm",
        ),
        modules_in_series=1,
        strings=1,
    )
)


def test_d13_the_lowest_credible_resistance() -> None:
    own = known(_at(STRING, FOURTEEN_OF_THREE).high)
    assert 56.7 / own == pytest.approx(0.0023333, abs=5e-8)


def test_d14_the_fault_current_of_it() -> None:
    assert known(_at(STRING, FOURTEEN_OF_THREE).high) == pytest.approx(24300.0)


# --- Currents and fuses -----------------------------------------------------------------------

# 6 kW at 93 % and 44.8 V, no idle draw, and none of our further guards. 13 cells, so that the
# cut-off, 13 · 3.22 · 1.005 = 42.07 V, lies below 44.8 V and the window rules.
PLAIN = Policy(basis="chosen", ripple="100 %", fuse_ambient="100 %")


def six_kilowatt(strings: int = 2) -> Build:
    run = Run(name="run", conductor=good_conductor(260.0), length="1 m")
    return good_build(
        pack=good_pack(
            module=good_module(cells_in_series=13, link_limit="115 A"),
            modules_in_series=1,
            strings=strings,
        ),
        inverters=(
            good_inverter(
                continuous="6 kW",
                surge="9 kW",
                efficiency="93 %",
                idle="0 W",
                window_low="44.8 V",
            ),
        ),
        cabling=good_cabling(main=run, module_lead=run),
        policy=PLAIN,
    )


def test_d1_the_current_of_an_inverter() -> None:
    # 6000 / (0.93 · 44.8).
    assert known(inverter_current(six_kilowatt().inverters[0])) == pytest.approx(144.01, abs=0.005)
    sharing = design(six_kilowatt()).sharing
    assert sharing is not None
    assert sharing.total.value == pytest.approx(144.01, abs=0.005)


def test_d2_its_main_fuse() -> None:
    # 144.01 · 1.25 = 180.01 A; 200 A is the next standard size (NEC 240.6(A)).
    done = design(six_kilowatt())
    assert done.protection is not None
    main = done.protection.fuses[1]
    assert known(main.lower) == pytest.approx(180.01, abs=0.005)
    assert main.size == 200.0


def test_d3_the_fuse_of_one_of_two_strings() -> None:
    # 144.01 / 2 · 1.2 · 1.25 = 108.01 A; 110 A is the next standard size. The 1.2 for uneven
    # sharing is our margin: NEC asks for 144.01 / 2 · 1.25 = 90.01 A.
    done = design(six_kilowatt())
    assert done.protection is not None
    string_fuse = done.protection.fuses[0]
    assert known(string_fuse.lower) == pytest.approx(90.01, abs=0.005)
    assert known(string_fuse.lower_guard) == pytest.approx(108.01, abs=0.005)
    assert string_fuse.size == 110.0


def test_d4_with_one_of_two_strings_out_the_other_carries_all() -> None:
    sharing = design(six_kilowatt()).sharing
    assert sharing is not None
    assert known(sharing.one_out) == pytest.approx(144.01, abs=0.005)


def test_d5_to_d7_a_short_thick_run_drops_next_to_nothing() -> None:
    # 3/0 AWG copper, 2 m one way, there and back, at 75 °C; at the current of D1, of 44.8 V.
    run = Run(name="main", conductor=conductor("3/0 AWG"), length="2 m")
    ohms = float(run.resistance.m)
    assert ohms == pytest.approx(0.0010052, abs=5e-8)
    drop = 6000 / (0.93 * 44.8) * ohms
    assert drop == pytest.approx(0.14477, abs=1e-5)  # the print took a rounded resistance
    assert 100 * drop / 44.8 == pytest.approx(0.32314, abs=2e-5)


def test_d21_a_gg_fuse_guards_less_than_its_conductor_carries() -> None:
    """IEC 60364-4-43, 433.1 (from memory): In ≤ 1.45 / 1.6 Iz = 0.906 Iz."""
    slow = good_safeguards(main_fuse=good_family(characteristic="gG"))
    build = attrs.evolve(six_kilowatt(), site=good_site(rules="iec"), safeguards=slow)
    done = design(build)
    assert done.protection is not None
    assert known(done.protection.fuses[1].upper) / 260.0 == pytest.approx(0.90625)


# --- Charging ---------------------------------------------------------------------------------


def test_d20_the_charge_voltage_of_14_cells() -> None:
    # n · (V_lim − δ) / (1 + ε) = 14 · (4.10 − 0.02) / 1.005 = 56.836 V, down to 56.8 V.
    def of(lowest: str) -> Design:
        charger = good_charger(accuracy="0.5 %", charge_voltage=(lowest, "62 V", "0.1 V"))
        build = good_build(
            policy=Policy(basis="chosen", charge_target="4.10 V"),
            pack=good_pack(module=good_module(chemistry=OXIDE), spread_full="20 mV"),
            chargers=(charger,),
        )
        return design(build)

    done = of("48 V")
    assert done.settings is not None
    assert done.settings.thresholds.charge == 56.8
    # The print of the cells is the bound, 4.20 V: 14 · (4.20 − 0.02) / 1.005 = 58.229 V. A charger
    # whose entries begin at 57 V keeps that and not the target.
    settable = next(f for f in of("57 V").findings if f.rule.key == "charge.settable")
    assert settable.severity is Severity.CAUTION
    assert settable.value == pytest.approx(58.229, abs=0.0005)
    assert settable.guarded == pytest.approx(56.836, abs=0.0005)


@pytest.mark.parametrize(("celsius", "more"), [(0.0, 3.00), (-10.0, 4.20)])
def test_tc1_what_compensation_adds_for_24_lead_cells(celsius: float, more: float) -> None:
    """Two public charger manuals (tables): 24 cells · 5 mV · 25 K = +3.00 V at 0 °C."""
    profile = good_profile(compensation=f"{24 * 5} mV/K")
    assert profile.compensated(celsius) - 57.6 == pytest.approx(more, abs=0.005)


# --- Ripple, and strings that are joined ------------------------------------------------------


def test_d8_the_ripple_of_a_full_sine() -> None:
    """Current that follows (1 − cos 2ωt) has an RMS of √1.5 of its mean; the guard may reach it."""
    t = np.linspace(0.0, 2 * np.pi, 100_001)
    current = 1 - np.cos(2 * t)
    rms = float(np.sqrt(np.trapezoid(current**2, t) / np.trapezoid(current, t)))
    assert rms == pytest.approx(1.2247, abs=5e-5)
    assert attrs.fields(Policy).ripple.metadata["bounds"][1] >= 1.2247


@pytest.mark.parametrize(("apart", "amps"), [(0.2, 6.25), (5.0, 156.25)])
def test_d15_d16_two_strings_joined_apart_in_voltage(apart: float, amps: float) -> None:
    """D15 and D16: 0.2 V and 5 V over twice 16 mΩ."""
    joined = pair((50.0 + apart, 50.0), (0.016, 0.016), (0.1, 0.1))
    assert abs(joined.amps) == pytest.approx(amps)
