"""The pack's own figures, its source and its demand. Worked by hand."""

from __future__ import annotations

import numpy as np
import pytest
from strategies import (
    HYDRIDE,
    good_build,
    good_cabling,
    good_conductor,
    good_inverter,
    good_load,
    good_module,
    good_pack,
    with_inverter,
    with_module,
    with_pack,
    with_policy,
)

from evpack.base.basis import Basis
from evpack.check.figures import pack_figures
from evpack.check.source import demand, pack_source
from evpack.describe.build import Build
from evpack.describe.cabling import Cabling, Run
from evpack.describe.ocv import ResistanceCurve


def test_the_figures_of_the_good_pack() -> None:
    # 2 modules of 7 cells, three strings of 60 Ah, modules of 10 mΩ.
    figures = pack_figures(good_build())
    assert (figures.cells_in_series, figures.modules) == (14, 6)
    assert figures.reachable == (7, 14, 21, 28, 35, 42, 49, 56)
    told = {line.name: (line.value, line.unit) for line in figures.lines()}
    expected = {
        "nominal voltage": (14 * 3.65, "V"),
        "least voltage": (42.0, "V"),
        "highest voltage": (58.8, "V"),
        "charge target, highest cell": (56.7, "V"),
        "capacity": (180.0, "Ah"),
        "energy on the label": (9198.0, "Wh"),  # 51.1 V · 180 Ah
        "DC internal resistance": (0.02 / 3, "Ω"),
        # Three strings that do not share evenly: 3 · 60 / 1.2 and so on.
        "discharge current limit": (150.0, "A"),
        "peak discharge current limit": (300.0, "A"),
        "charge current limit of the modules": (75.0, "A"),
    }
    assert told == {name: (pytest.approx(v), unit) for name, (v, unit) in expected.items()}


def test_one_string_shares_with_nobody() -> None:
    figures = pack_figures(with_pack(strings=1))
    assert figures.discharge_limit is not None
    assert (figures.discharge_limit.value, figures.discharge_limit.formula) == (60.0, "{I}")


def test_what_is_unknown_is_left_out() -> None:
    build = with_module(
        resistance=None, discharge_limit=None, discharge_peak=None, charge_limit=None
    )
    assert len(pack_figures(build).lines()) == 6


def test_a_target_of_ones_own_is_the_policys() -> None:
    target = pack_figures(with_policy(charge_target="4 V")).charge_target
    assert target.value == 56.0
    assert target.inputs[1].basis is Basis.CHOSEN


def test_a_chemistry_without_targets_shows_its_highest() -> None:
    figures = pack_figures(with_module(chemistry=HYDRIDE))
    assert figures.charge_target.value == pytest.approx(14 * 1.5)


def test_a_tighter_module_is_taken_at_its_word() -> None:
    build = with_module(cell_highest="4.1 V", basis={"default": "measured"})
    highest = pack_figures(build).highest
    assert highest.value == pytest.approx(57.4)
    assert highest.inputs[1].basis is Basis.MEASURED


# The source.


def test_the_source_behind_its_cables() -> None:
    # 20 / 3 mΩ of cells; leads 1.28 / 3 mΩ, main 0.96 mΩ over one inverter.
    source = pack_source(good_build())
    assert source.cable == pytest.approx(1.28e-3 / 3 + 0.96e-3)
    assert source.ohms_at(0.5, hours=False) == pytest.approx(0.02 / 3 + source.cable)
    assert source.ohms_at(0.5, hours=True) == pytest.approx(0.04 / 3 + source.cable)
    assert source.cable_known
    assert source.rest_voltage(0.5) == pytest.approx(14 * 3.717)
    assert source.state_at_rest(14 * 3.717) == pytest.approx(0.5)


def test_inverters_side_by_side_share_the_main_runs() -> None:
    source = pack_source(good_build(inverters=(good_inverter(count=2), good_inverter(name="b"))))
    assert source.cable == pytest.approx(1.28e-3 / 3 + 0.96e-3 / 3)


def test_a_main_run_of_its_own_stands_beside_the_others() -> None:
    # 0.96 mΩ beside 2 · 3 m · 0.32 mΩ/m = 1.92 mΩ: 0.64 mΩ.
    own = Run(name="long", conductor=good_conductor(), length="3 m")
    two = (good_inverter(), good_inverter(name="b"))
    source = pack_source(good_build(inverters=two, cabling=good_cabling(own={"b": own})))
    assert source.cable == pytest.approx(1.28e-3 / 3 + 0.64e-3)
    alone = good_cabling(main=None, own={"b": own})
    assert not pack_source(good_build(inverters=two, cabling=alone)).cable_known


def test_links_stand_in_series_with_the_leads() -> None:
    # One link a string, 0.5 m of 0.32 mΩ/m: 0.16 mΩ over three strings.
    link = Run(name="link", conductor=good_conductor(), length="0.5 m")
    source = pack_source(good_build(cabling=good_cabling(link=link)))
    assert source.cable == pytest.approx((1.28e-3 + 0.16e-3) / 3 + 0.96e-3)


def test_without_an_inverter_there_is_no_main_run() -> None:
    source = pack_source(good_build(inverters=()))
    assert (source.cable, source.cable_known) == (pytest.approx(1.28e-3 / 3), False)


def test_cables_that_nobody_described_are_not_known() -> None:
    source = pack_source(good_build(cabling=Cabling()))
    assert (source.cable, source.cable_known) == (0.0, False)


def test_a_resistance_curve_is_held_beyond_its_ends() -> None:
    bends = ResistanceCurve(soc=[0.2, 0.8], ohms=[0.03, 0.01])
    source = pack_source(with_module(resistance_curve=bends))
    assert source.ohms is not None
    # Times 2 in series over 3 strings.
    at = np.interp([0.0, 0.2, 0.5, 0.8, 1.0], source.soc, source.ohms)
    assert at == pytest.approx(np.array([0.03, 0.03, 0.02, 0.01, 0.01]) * 2 / 3)


def test_no_resistance_is_no_path() -> None:
    source = pack_source(with_module(resistance=None))
    assert source.path(hours=True) is None
    assert source.ohms_at(0.5, hours=True) is None
    assert source.state_under(100.0, 48.0) is None


# The demand.


def test_the_demand_of_the_good_build() -> None:
    # 500, 2000, 4000, 3000 and 6000 W over 0.92, and 30 W.
    asked = demand(good_build())
    values = [asked.typical, asked.continuous, asked.peak, asked.rated, asked.surge]
    assert [w.value for w in values if w is not None] == pytest.approx(
        [573.478, 2203.913, 4377.826, 3290.870, 6551.739], abs=0.0005
    )


def test_what_a_dc_power_leaves_for_the_load() -> None:
    # (2203.913 − 30) · 0.92 = 2000 W; less than the idle draw leaves nothing.
    asked = demand(good_build())
    assert asked.load_for(2000 / 0.92 + 30) == pytest.approx(2000)
    assert asked.load_for(20.0) == 0.0
    assert demand(with_inverter(idle=None)).load_for(2000.0) is None


def test_what_is_not_stated_of_the_load_stands_in() -> None:
    asked = demand(good_build(load=good_load(typical=None, peak=None)))
    assert asked.typical is not None
    assert asked.continuous is not None
    assert asked.peak is not None
    assert asked.typical.value == asked.continuous.value
    # The full surge, 6000 / 0.92 + 30 W, assumed.
    assert asked.peak.value == pytest.approx(6551.739, abs=0.0005)
    assert asked.peak.inputs[0].basis is Basis.ASSUMED


@pytest.mark.parametrize(
    ("field", "what", "of"),
    [
        ("efficiency", "least inverter efficiency", "continuous"),
        ("idle", "idle draw of all inverters", "continuous"),
        ("continuous", "continuous output of all inverters", "rated"),
        ("surge", "full surge of all inverters", "surge"),
    ],
)
def test_a_sum_of_inverters_is_as_well_known_as_the_worst_of_them(
    field: str, what: str, of: str
) -> None:
    """The second of two has a value that nobody read, whichever of them is the weaker device."""
    for worse in ("85 %", "95 %"):
        other = good_inverter(
            name="other", efficiency=worse, basis={"default": "datasheet", field: "assumed"}
        )
        worked = getattr(demand(good_build(inverters=(good_inverter(), other))), of)
        assert worked.assumed == (what,)
    sure = getattr(demand(good_build()), of)
    assert sure.assumed == ()


def test_the_least_efficient_inverter_stands_for_all() -> None:
    worse = good_inverter(name="worse", efficiency="80 %", idle="50 W", count=2)
    asked = demand(good_build(inverters=(good_inverter(), worse)))
    assert asked.rated is not None
    # 3 · 3000 / 0.8 + 30 + 2 · 50 W.
    assert asked.rated.value == pytest.approx(11380)


@pytest.mark.parametrize(
    ("build", "unknown"),
    [
        (with_inverter(efficiency=None), {"continuous", "typical", "peak", "rated", "surge"}),
        (with_inverter(idle=None), {"continuous", "typical", "peak", "rated", "surge"}),
        (good_build(inverters=()), {"continuous", "typical", "peak", "rated", "surge"}),
        (with_inverter(continuous=None), {"rated"}),
        (with_inverter(surge=None), {"surge"}),
        (
            good_build(load=good_load(peak=None), inverters=(good_inverter(surge=None),)),
            {"peak", "surge"},
        ),
        (
            good_build(inverters=(good_inverter(), good_inverter(name="b", continuous=None))),
            {"rated"},
        ),
    ],
    ids=[
        "efficiency",
        "idle",
        "no inverter",
        "output",
        "surge",
        "surge for peak",
        "one output of two",
    ],
)
def test_what_is_asked_is_unknown_where_an_input_is(build: Build, unknown: set[str]) -> None:
    asked = demand(build)
    names = ("continuous", "typical", "peak", "rated", "surge")
    assert {name for name in names if getattr(asked, name) is None} == unknown


def test_the_pack_counts_its_modules_and_cells() -> None:
    pack = good_pack(module=good_module(cells_in_series=3), modules_in_series=5, strings=4)
    figures = pack_figures(good_build(pack=pack))
    assert (figures.cells_in_series, figures.modules) == (15, 20)
