"""Facts of the trade: what people do with packs like these. Common practice, no source.

Modules of 12 oxide cells in series are sold as 48 V; few counts of cells fit a 48 V class inverter;
a lead-acid profile left on is what burns.
"""

from __future__ import annotations

import pytest
from strategies import (
    BLEND,
    IRON,
    OXIDE,
    SPINEL,
    TITANATE,
    good_build,
    good_charger,
    good_family,
    good_inverter,
    good_module,
    good_pack,
    good_profile,
    good_safeguards,
    good_site,
)

from evpack.base.finding import Finding, Severity
from evpack.base.fitted import NOT_FITTED
from evpack.decide import decide
from evpack.describe.build import Build
from evpack.describe.cabling import Cabling, Run
from evpack.describe.chemistry import Chemistry
from evpack.design import design
from evpack.load.bench_record import read_bench_record
from evpack.load.conductors import conductor
from evpack.load.places import data_dir
from evpack.load.tables import fuse_catalogue
from evpack.outcome.design import Design, Verdict

RECORD = "ev_pouch_cell_33Ah_hppc_25C.bdf.csv"


def twelve(**inverter: object) -> Build:
    """Return three strings of 12 blend cells on a 3 kW inverter of the 48 V class.

    2/0 AWG at 75 °C to the inverter, 2 AWG to each string; what the inverter can be set to is
    wide enough for such a short pack.
    """
    settings = {
        "window_low": "40 V",
        "window_high": "60 V",
        "restart": "44 V",
        "cut_off": ("38 V", "48 V", "0.1 V"),
        "changeover": ("40 V", "52 V", "0.1 V"),
        "return_to_battery": ("42 V", "56 V", "0.1 V"),
        **inverter,
    }
    return good_build(
        pack=good_pack(
            module=good_module(
                chemistry=BLEND,
                cells_in_series=12,
                resistance="15 mOhm",
                link_limit="110 A",
            ),
            modules_in_series=1,
        ),
        inverters=(good_inverter(efficiency="90 %", **settings),),
        chargers=(good_charger(charge_voltage=("44 V", "62 V", "0.1 V")),),
        cabling=Cabling(
            module_lead=Run(name="lead", conductor=conductor("2 AWG"), length="1 m"),
            main=Run(name="main", conductor=conductor("2/0 AWG"), length="1.5 m"),
        ),
    )


def findings(done: Design, rule: str) -> list[Finding]:
    return [f for f in done.findings if f.rule.key == rule]


# --- Twelve in series -------------------------------------------------------------------------


def test_twelve_in_series_are_not_48_volts() -> None:
    """NMC+LMO 12 · 3.75 = 45.0 V, LMO 12 · 3.8 = 45.6 V: 44 to 46.5 V either way."""
    for kind in (BLEND, SPINEL):
        pack = good_pack(
            module=good_module(chemistry=kind, cells_in_series=12), modules_in_series=1
        )
        assert 44.0 <= pack.nominal.m <= 46.5


def test_twelve_in_series_by_the_bench_record_are_not_48_volts_either() -> None:
    """A measured EV pouch cell of an LMO blend (doi 10.5281/zenodo.2580327, MIT)."""
    reading = read_bench_record(data_dir() / "bench" / RECORD)
    assert 44.0 <= 12 * float(reading.mean_voltage.m) <= 46.5


def test_175_amperes_guard_a_3_kilowatt_inverter_on_2_0_awg() -> None:
    """NEC 310.16: 2/0 AWG copper at 75 °C carries 175 A; a 175 A device is what people fit."""
    done = design(twelve(), catalogue=fuse_catalogue("nec"))
    assert done.protection is not None
    main = done.protection.fuses[1]
    assert main.lower is not None
    assert main.upper is not None
    assert main.upper.value == 175.0
    assert main.lower.value <= 175.0
    # 3000 / 0.9 + 30 W at 40 V are 84.08 A; times 1.25 by NEC that is 105.10 A, and with ripple and
    # a warm box, 1.1 / 0.85, 136.02 A: 150 A would already do, and 175 A is the next size.
    assert main.lower.value == pytest.approx(105.10, abs=0.005)
    assert main.lower_guard is not None
    assert main.lower_guard.value == pytest.approx(136.02, abs=0.005)
    assert main.size == 150.0


def test_a_changeover_at_44_volts_leaves_a_real_reserve() -> None:
    """Where a changeover of 44 V is entered on such a pack, a part of the charge is kept."""
    done = design(twelve(changeover=("44 V", "44 V", "0.1 V")))
    assert done.settings is not None
    assert done.settings.thresholds.changeover == 44.0
    assert done.settings.thresholds.cut_off is not None
    found = done.usable
    assert found is not None
    assert found.soc_changeover is not None
    assert found.soc_changeover - found.soc_bottom > 0.03
    assert found.reserve is not None
    assert found.reserve.value > 200  # Wh, of some 8 kWh


def test_every_parallel_string_has_its_own_fuse_at_its_positive_terminal() -> None:
    done = design(twelve())
    assert done.protection is not None
    strings = done.protection.fuses[0]
    assert strings.place == "each string, at its positive terminal"
    assert strings.count == 3
    assert strings.size is not None


# --- Voltage that bites, profiles that burn ---------------------------------------------------


@pytest.mark.parametrize(("cells", "flagged"), [(14, False), (15, True)])
def test_fifteen_oxide_cells_pass_60_volts(cells: int, *, flagged: bool) -> None:
    """15 · 4.2 = 63.0 V; 14 · 4.2 = 58.8 V. The limit of 60 V DC is from memory (IEC)."""
    pack = good_pack(module=good_module(cells_in_series=cells), modules_in_series=1)
    (touch,) = findings(design(good_build(pack=pack)), "window.touch")
    assert (touch.severity is Severity.CAUTION) == flagged


def test_a_lead_acid_profile_on_twelve_oxide_cells_is_a_fire() -> None:
    """57.6 V are 4.80 V a cell, and +3.0 V at 0 °C make 5.05 V; 62 V equalise are 5.17 V."""
    pack = good_pack(module=good_module(cells_in_series=12), modules_in_series=1)
    done = design(
        good_build(
            pack=pack,
            chargers=(good_charger(left_on=good_profile()),),
            site=good_site(coldest="0 degC"),
        )
    )
    told = {f.about.split(", ", 2)[2]: f for f in done.findings if f.rule.key.startswith("profile")}
    expected = {"absorption": 4.80, "at 0 °C": 5.05, "equalise": 5.167}
    for part, volts in expected.items():
        assert told[part].value == pytest.approx(volts, abs=0.0005)
        assert told[part].severity is Severity.STOP
    assert decide(done).verdict is Verdict.DOES_NOT_WORK


# 57.6 V, 62 V and 60.6 V (0 °C) over n cells, from a table of such profiles (computed there to
# three digits): n, absorption, equalise, absorption at 0 °C.
PER_CELL = [
    (12, 4.800, 5.167, 5.050),
    (13, 4.431, 4.769, 4.662),
    (14, 4.114, 4.429, 4.329),
    (15, 3.840, 4.133, 4.040),
    (16, 3.600, 3.875, 3.788),
]


@pytest.mark.parametrize(("cells", "absorption", "equalise", "cold"), PER_CELL)
def test_a_lead_acid_profile_in_volts_per_cell(
    cells: int, absorption: float, equalise: float, cold: float
) -> None:
    pack = good_pack(module=good_module(cells_in_series=cells), modules_in_series=1)
    build = good_build(
        pack=pack,
        chargers=(good_charger(left_on=good_profile()),),
        site=good_site(coldest="0 degC"),
    )
    told = {
        f.about.split(", ", 2)[2]: f.value
        for f in design(build).findings
        if f.rule.key.startswith("profile")
    }
    assert told["absorption"] == pytest.approx(absorption, abs=0.0005)
    assert told["equalise"] == pytest.approx(equalise, abs=0.0005)
    assert told["at 0 °C"] == pytest.approx(cold, abs=0.0005)


# --- Which counts of cells fit a 48 V class inverter ------------------------------------------

LOW, HIGH = "too low", "too high"
INSIDE, WITH_LIMITS = "abs limits inside window", "setpoints inside, abs limits outside"

# From a table computed for a generic window of 42 to 60 V: chemistry, cells in series, verdict.
FIT: list[tuple[Chemistry, int, str]] = [
    (OXIDE, 10, LOW),
    (OXIDE, 11, LOW),
    (OXIDE, 12, LOW),
    (OXIDE, 13, WITH_LIMITS),
    (OXIDE, 14, INSIDE),
    (OXIDE, 15, HIGH),
    (OXIDE, 16, HIGH),
    (OXIDE, 17, HIGH),
    (OXIDE, 18, HIGH),
    (BLEND, 10, LOW),
    (BLEND, 11, LOW),
    (BLEND, 12, WITH_LIMITS),
    (BLEND, 13, WITH_LIMITS),
    (BLEND, 14, INSIDE),
    (BLEND, 15, HIGH),
    (BLEND, 16, HIGH),
    (BLEND, 17, HIGH),
    (IRON, 12, LOW),
    (IRON, 13, LOW),
    (IRON, 14, WITH_LIMITS),
    (IRON, 15, WITH_LIMITS),
    (IRON, 16, WITH_LIMITS),
    (IRON, 17, WITH_LIMITS),
    (IRON, 18, HIGH),
    (IRON, 19, HIGH),
    (IRON, 20, HIGH),
    (TITANATE, 16, LOW),
    (TITANATE, 17, LOW),
    (TITANATE, 18, LOW),
    (TITANATE, 19, LOW),
    (TITANATE, 20, LOW),
    (TITANATE, 21, WITH_LIMITS),
    (TITANATE, 22, WITH_LIMITS),
    (TITANATE, 23, HIGH),
    (TITANATE, 24, HIGH),
    (TITANATE, 25, HIGH),
    (TITANATE, 26, HIGH),
    (TITANATE, 27, HIGH),
    (TITANATE, 28, HIGH),
]

# Where the table says no and we say "with limits": never "works".
SOFTER: dict[tuple[str, int], str] = {
    # The table wants 3.4 V a cell, 40.8 V, inside the window. We solve what stays reachable above
    # 42 V under load: two thirds of the energy. Worth having, and said to be cut short.
    ("oxide", 12): "window.least",
    # The same: 2.0 V a cell, 36 to 40 V, wanted inside; a quarter to three quarters stay reachable.
    ("titanate", 18): "usable.most",
    ("titanate", 19): "usable.most",
    ("titanate", 20): "window.least",
    # The table charges to 59.8 V and leaves no room under 60 V; ours, with spread and error taken
    # off first, gives 58.7 V, and the 64.4 V of full cells are above what the inverter survives.
    ("titanate", 23): "window.highest",
}


def in_window(kind: Chemistry, cells: int) -> Design:
    """Return the design of so many cells on a window of 42 to 60 V, all else made to fit."""
    strong = good_family(dc_voltage="160 V", interrupting="50 kA")
    return design(
        good_build(
            pack=good_pack(
                module=good_module(
                    chemistry=kind, cells_in_series=cells, resistance=f"{cells} mOhm"
                ),
                modules_in_series=1,
            ),
            inverters=(
                good_inverter(
                    survives=None,
                    restart=NOT_FITTED,
                    cut_off=("30 V", "55 V", "0.1 V"),
                    changeover=NOT_FITTED,
                    return_to_battery=NOT_FITTED,
                ),
            ),
            chargers=(good_charger(charge_voltage=("38 V", "80 V", "0.1 V")),),
            safeguards=good_safeguards(string_fuse=strong, main_fuse=strong, charger_fuse=strong),
        )
    )


def window_severity(done: Design) -> Severity:
    rooms = ("window", "charge", "discharge", "usable")
    return max(f.severity for f in done.findings if f.rule.key.split(".")[0] in rooms)


@pytest.mark.parametrize(
    ("kind", "cells", "verdict"), FIT, ids=[f"{kind.key}-{cells}" for kind, cells, _ in FIT]
)
def test_counts_of_cells_on_a_48_volt_class_window(
    kind: Chemistry, cells: int, verdict: str
) -> None:
    done = in_window(kind, cells)
    ours = window_severity(done)
    if verdict == INSIDE:
        assert ours <= Severity.NOTE
    elif verdict == WITH_LIMITS:
        # Ours may be no limit at all where the cut-off and the charge voltage keep inside.
        assert ours <= Severity.CAUTION
    elif (kind.key, cells) in SOFTER:
        assert ours is Severity.CAUTION
        assert any(f.severity is Severity.CAUTION for f in findings(done, SOFTER[kind.key, cells]))
    else:
        assert ours is Severity.STOP
    assert decide(done).verdict is not Verdict.WORKS or verdict in {INSIDE, WITH_LIMITS}


def test_a_short_pack_never_reaches_the_usual_restart_voltage() -> None:
    """48 to 52 V in many of the class; 12 oxide cells are charged to some 48.1 V."""
    done = design(twelve(restart="50 V"))
    (found,) = findings(done, "window.restart")
    assert found.severity is Severity.STOP
