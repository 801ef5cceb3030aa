"""Modules and packs: limits only ever tighter, and the arithmetic of series and parallel."""

from collections.abc import Callable
from typing import Any

import attrs
import pytest
from hypothesis import given
from hypothesis import strategies as st

from evpack.base.basis import Basis
from evpack.base.errors import DescriptionError, UnitError
from evpack.base.fitted import NOT_FITTED
from evpack.base.units import kind_of
from evpack.describe.module import RESISTANCE_METHODS
from evpack.describe.ocv import ResistanceCurve
from evpack.describe.pack import Monitoring
from evpack.kernels.load_line import mean_voltage
from evpack.load.library import chemistry as from_library

Maker = Callable[..., Any]

# Modules.


def test_a_module_takes_its_cells_limits_from_the_chemistry(module: Maker) -> None:
    held = module()
    assert (held.least.m, held.nominal.m, held.highest.m) == (2.7, 3.75, 4.2)


def test_a_makers_limits_override(module: Maker) -> None:
    held = module(cell_highest="4.15 V", cell_least="3.0 V", cell_nominal="3.7 V")
    assert (held.least.m, held.nominal.m, held.highest.m) == (3.0, 3.7, 4.15)


def test_the_chemistrys_own_limits_in_millivolts_are_no_looser(module: Maker) -> None:
    assert module(cell_highest="4200 mV", cell_least="2700 mV").highest.m == 4.2


@given(st.integers(2000, 4800), st.integers(2000, 4800))
def test_limits_only_ever_get_tighter(module: Maker, least: int, highest: int) -> None:
    wanted = {"cell_least": f"{least} mV", "cell_highest": f"{highest} mV"}
    if 2700 <= least < 3750 < highest <= 4200:
        held = module(**wanted)
        assert held.chemistry.limits.least.m <= held.least.m
        assert held.highest.m <= held.chemistry.limits.highest.m
    else:
        with pytest.raises(DescriptionError, match=r"looser than|need least < nominal < highest"):
            module(**wanted)


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ({"capacity": "0 Ah"}, "capacity must be above 0 Ah"),
        ({"resistance": "0 mOhm"}, "resistance must be above 0 Ω"),
        (
            {"resistance_method": "10s pulse"},
            r"resistance method '10s pulse' is not known \(did you mean '10 s pulse'\?\)",
        ),
        (
            {"cell_highest": "4.25 V"},
            r"2\.7 to 4\.25 V, are looser than those of Made-up cells, 2\.7 to 4\.2 V; a module's",
        ),
        ({"cell_least": "2.5 V"}, r"its cell limits, 2\.5 to 4\.2 V, are looser"),
        ({"cell_highest": "3.7 V"}, "need least < nominal < highest voltage of a cell"),
        ({"cell_nominal": "2.7 V"}, "need least < nominal < highest voltage of a cell"),
        ({"cell_nominal": "4.2 V"}, "need least < nominal < highest voltage of a cell"),
        ({"cells_in_series": 0}, "cells_in_series must lie between 1 and 400, got 0"),
        ({"cells_in_series": 401}, "cells_in_series must lie between 1 and 400, got 401"),
        ({"cells_in_series": "7"}, "cells_in_series must be a whole number without a unit"),
        ({"cells_in_series": 7.0}, "cells_in_series must be a whole number without a unit"),
        ({"cells_in_series": True}, "cells_in_series must be a whole number without a unit"),
        ({"cells_in_parallel": -1}, "cells_in_parallel must lie between 1 and 400"),
        ({"available": 0}, "available must lie between 1 and 100000"),
    ],
)
def test_a_module_that_cannot_exist_is_refused(
    module: Maker, wrong: dict[str, object], said: str
) -> None:
    with pytest.raises(DescriptionError, match=said):
        module(**wrong)


@pytest.mark.parametrize(
    "field",
    [
        "capacity",
        "resistance",
        "cell_highest",
        "cell_least",
        "cell_nominal",
        "discharge_limit",
        "discharge_peak",
        "charge_limit",
        "link_limit",
    ],
)
@pytest.mark.parametrize("wrong", [3, "3", "3 kg", "3,5 V"])
def test_a_number_without_its_unit_is_refused(module: Maker, field: str, wrong: object) -> None:
    with pytest.raises(UnitError):
        module(**{field: wrong})


@pytest.mark.parametrize("method", RESISTANCE_METHODS)
def test_every_method_of_measuring_is_held(module: Maker, method: str) -> None:
    assert module(resistance_method=method).resistance_method == method


def test_what_nobody_said_is_unknown(module: Maker) -> None:
    held = module(resistance=None)
    for field in ("resistance", "discharge_limit", "discharge_peak", "charge_limit", "link_limit"):
        assert getattr(held, field) is None
    assert held.basis.of("capacity") is Basis.ASSUMED


def test_a_modules_own_curve_goes_before_its_chemistrys(module: Maker, curve: Maker) -> None:
    own = curve(volts=[3.1, 3.8, 4.2])
    assert module(ocv=own).curve is own
    assert module().curve is module().chemistry.ocv


def test_a_module_without_any_curve_says_so(module: Maker, chemistry: Maker) -> None:
    refused = chemistry(targets=None, ocv=None, why_refused="It ends by a falling voltage.")
    with pytest.raises(DescriptionError, match="no open-circuit voltage curve is known"):
        _ = module(chemistry=refused).curve


def test_a_limit_is_known_as_the_one_who_said_it(module: Maker) -> None:
    held = module(cell_highest="4.15 V", basis={"cell_highest": "datasheet"})
    assert held.limit_basis("highest") is Basis.DATASHEET
    assert held.limit_basis("least") is Basis.ASSUMED  # the chemistry's


def test_a_changed_module_is_judged_again(module: Maker) -> None:
    with pytest.raises(DescriptionError, match="looser"):
        attrs.evolve(module(), cell_highest="4.3 V")


# Packs. Worked by hand: 2 in series × 7 cells, 4 strings, 66 Ah and 9.1 mΩ a module.


def test_two_in_series_of_seven_cells_and_four_strings(pack: Maker) -> None:
    held = pack()
    assert held.cells_in_series == 14
    assert held.modules == 8
    assert held.least.m == pytest.approx(37.8, rel=1e-15)  # 14 · 2.7
    assert held.nominal.m == pytest.approx(52.5, rel=1e-15)  # 14 · 3.75
    assert held.highest.m == pytest.approx(58.8, rel=1e-15)  # 14 · 4.2
    assert held.capacity.m == pytest.approx(264.0, rel=1e-15)  # 4 · 66
    assert held.energy.m == pytest.approx(13_860.0, rel=1e-15)  # 52.5 · 264
    assert held.resistance.m == pytest.approx(0.00455, rel=1e-15)  # 9.1 mΩ · 2 / 4


@pytest.mark.parametrize(
    ("arranged", "volts", "amp_hours", "ohms"),
    [
        ((1, 1), 26.25, 66.0, 0.0091),
        ((3, 1), 78.75, 66.0, 0.0273),
        ((1, 3), 26.25, 198.0, 0.0091 / 3),
    ],
)
def test_series_adds_volts_and_ohms_and_strings_add_charge(
    pack: Maker, arranged: tuple[int, int], volts: float, amp_hours: float, ohms: float
) -> None:
    series, strings = arranged
    held = pack(modules_in_series=series, strings=strings)
    assert held.nominal.m == pytest.approx(volts, rel=1e-15)
    assert held.capacity.m == pytest.approx(amp_hours, rel=1e-15)
    assert held.resistance.m == pytest.approx(ohms, rel=1e-14)


@pytest.mark.parametrize("key", ["nmc-lmo", "lmo"])
def test_twelve_oxide_cells_sold_as_48_v_are_nearer_45(
    pack: Maker, module: Maker, key: str
) -> None:
    # Common practice, no source: their nominal voltage is about 45 to 46 V.
    twelve = module(chemistry=from_library(key), cells_in_series=12)
    assert 44.0 <= pack(module=twelve, modules_in_series=1).nominal.m <= 46.5


def test_the_mean_of_twelve_nmc_cells_over_a_discharge_is_nearer_45_too() -> None:
    # Common practice, no source; from the curve that ships, which its own test checks.
    curve = from_library("nmc").ocv
    assert 44.0 <= 12 * mean_voltage(curve.soc, curve.volts) <= 46.5


def test_an_unknown_resistance_stays_unknown(pack: Maker, module: Maker) -> None:
    assert pack(module=module(resistance=None)).resistance is None
    bends = ResistanceCurve(soc=[0.1, 0.9], ohms=[0.012, 0.009])
    assert pack(module=module(resistance=None, resistance_curve=bends)).resistance is None


counts = st.integers(1, 40)


@given(counts, counts)
def test_every_arrangement_of_the_same_modules_has_the_same_energy(
    pack: Maker, series: int, strings: int
) -> None:
    one = pack(modules_in_series=1, strings=1)
    held = pack(modules_in_series=series, strings=strings)
    assert held.modules == series * strings
    assert held.energy.m == pytest.approx(series * strings * one.energy.m, rel=1e-12)
    assert held.least.m < held.nominal.m < held.highest.m
    assert held.resistance.m * strings == pytest.approx(series * one.resistance.m, rel=1e-12)


def test_the_figures_carry_their_units(pack: Maker) -> None:
    held = pack()
    kinds = {
        name: kind_of(getattr(held, name)).unit
        for name in ("nominal", "least", "highest", "capacity", "energy", "resistance")
    }
    assert kinds == {
        "nominal": "V",
        "least": "V",
        "highest": "V",
        "capacity": "Ah",
        "energy": "Wh",
        "resistance": "Ω",
    }


@pytest.mark.parametrize(
    ("wrong", "error", "said"),
    [
        ({"modules_in_series": 0}, DescriptionError, "modules_in_series must lie between 1 and 4"),
        ({"modules_in_series": 401}, DescriptionError, "modules_in_series must lie between 1"),
        ({"strings": 0}, DescriptionError, "strings must lie between 1 and 400, got 0"),
        ({"strings": 2.0}, DescriptionError, "strings must be a whole number without a unit"),
        ({"strings": "2 V"}, DescriptionError, "strings must be a whole number without a unit"),
        ({"spread_full": 0.02}, UnitError, "has no unit"),
        ({"basis": "sure"}, DescriptionError, "basis 'sure' is not known"),
    ],
)
def test_a_pack_that_cannot_exist_is_refused(
    pack: Maker, wrong: dict[str, object], error: type[Exception], said: str
) -> None:
    with pytest.raises(error, match=said):
        pack(**wrong)


def test_an_arrangement_is_chosen_and_a_spread_may_be_measured(pack: Maker) -> None:
    assert pack().basis.of("strings") is Basis.CHOSEN
    measured = pack(spread_full="18 mV", basis={"spread_full": "measured"})
    assert measured.spread_full.m == 0.018
    assert measured.basis.of("spread_full") is Basis.MEASURED


def test_what_a_monitoring_does_is_unknown_unless_told(pack: Maker) -> None:
    assert pack().monitoring is None
    assert pack(monitoring=NOT_FITTED).monitoring is NOT_FITTED
    fields = [f.name for f in attrs.fields(Monitoring) if f.name not in {"name", "basis"}]
    assert len(fields) == 7
    assert all(getattr(Monitoring(), name) is None for name in fields)
