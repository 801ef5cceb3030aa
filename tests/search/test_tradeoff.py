"""What is gained and given up: nothing in the front is beaten, and what is picked is a sheet."""

from __future__ import annotations

import itertools
from pathlib import Path

import attrs
import pytest
from hypothesis import event, given, settings
from hypothesis import strategies as st
from strategies import (
    HYDRIDE,
    OXIDE,
    good_build,
    good_charger,
    good_inverter,
    good_load,
    good_module,
    good_pack,
)

from evpack.base.errors import DescriptionError
from evpack.decide import decide
from evpack.describe.build import Build
from evpack.describe.equipment import EquipmentList
from evpack.design import design
from evpack.lifetime import ageing
from evpack.load.equipment_list import parse_equipment
from evpack.load.library import example
from evpack.load.sheet import read_sheet
from evpack.outcome.design import Design
from evpack.outcome.search import Candidate
from evpack.search import tradeoff
from evpack.search.changes import changed
from evpack.search.sheet_out import write_sheet
from evpack.search.tradeoff import search_trade_offs

STEPS = ("0.1 V", "0.5 V", "1 V")
YEAR = 365.25 * 24 * 3600  # as the models count it [s]

LIST = """
title = "invented list"

[[inverter]]
name = "the small one"
price = "180 EUR"
continuous = "5 kW"
surge = "10 kW"
surge_time = "5 s"
efficiency = "91 %"
idle = "20 W"
window_low = "42 V"
window_high = "62 V"
survives = "66 V"
restart = "48 V"
cut_off = { from = "40 V", to = "54 V", step = "0.1 V" }
changeover = "none"
return_to_battery = "none"
input_capacitance = "5 mF"
basis = "datasheet"

[inverter.charger]
source = "mains"
charge_voltage = { from = "48 V", to = "62 V", step = "0.1 V" }
accuracy = "0.5 %"
current = "20 A"
float_can_be_off = true
float_setting = { from = "48 V", to = "62 V", step = "0.1 V" }
compensation_can_be_off = true
equalise_can_be_off = true
"""


def of(key: str, build: Build | None = None) -> Build:
    """Return a build whose cells are of a chemistry of that key."""
    build = good_build() if build is None else build
    module = build.pack.module
    module = attrs.evolve(module, chemistry=attrs.evolve(module.chemistry, key=key))
    return attrs.evolve(build, pack=attrs.evolve(build.pack, module=module))


def target(candidate: Candidate) -> float:
    return next(
        float(str(c.value)[:-2]) for c in candidate.changes if c.place == "policy.charge_target"
    )


def bought(candidate: Candidate) -> list[str]:
    return [c.says for c in candidate.changes if c.place in {"inverter", "charger"}]


def least_years(made: Design) -> float:
    """Return the least years by the whole of what ageing tells, not by the short way."""
    years = ageing(made).years
    assert years is not None
    return years.least.value / YEAR


def beats(one: tuple[float, ...], other: tuple[float, ...]) -> bool:
    as_good = all(a >= b - 1e-9 for a, b in zip(one, other, strict=True))
    return as_good and any(a > b + 1e-9 for a, b in zip(one, other, strict=True))


def carried_out_anew(
    build: Build, candidate: Candidate, *, lives: bool, each: float | None, prices: dict[str, float]
) -> tuple[float, ...]:
    """Return what more of is better, of the design made once more with no search around it."""
    made = design(changed(build, candidate.changes))
    assert decide(made).go
    assert made.usable is not None
    pack = made.build.pack
    cost = (each or 0.0) * pack.modules
    cost += sum(prices.get(name, float("inf")) for name in bought(candidate))
    return (
        made.usable.reachable.value,
        least_years(made) if lives else -target(candidate),
        -1.0 if candidate.margin is None else candidate.margin,
        -cost,
        0.0 if each is not None else -float(pack.modules),
    )


@st.composite
def small_builds(draw: st.DrawFn) -> Build:
    """Return builds near the good one, most of which some arrangement makes a go."""
    continuous = draw(st.floats(300.0, 1500.0))
    return good_build(
        pack=good_pack(
            module=good_module(
                capacity=f"{draw(st.floats(40.0, 90.0))} Ah",
                resistance=f"{draw(st.floats(8.0, 30.0))} mOhm",
                charge_limit=f"{draw(st.floats(20.0, 45.0))} A",
            )
        ),
        load=good_load(continuous=f"{continuous} W", typical=None, peak=f"{continuous * 1.5} W"),
        chargers=(good_charger(charge_voltage=("48 V", "62 V", draw(st.sampled_from(STEPS)))),),
    )


@settings(max_examples=15)
@given(
    build=small_builds(),
    modules=st.integers(4, 6),
    key=st.sampled_from(("nmc", "lfp", "nca")),
    each=st.none() | st.sampled_from((40.0, 1.5)),
    price=st.none() | st.sampled_from((10.0, 500.0)),
)
def test_the_front_is_what_brute_force_finds(
    build: Build, modules: int, key: str, each: float | None, price: float | None
) -> None:
    build = of(key, build)
    other = attrs.evolve(build.inverters[0], name="another", efficiency="95 %")
    prices = {} if price is None else {"another": price}
    found = search_trade_offs(
        build,
        modules,
        module_price=None if each is None else f"{each} EUR",
        equipment=EquipmentList(inverters=(other,), prices=prices, money="EUR" * bool(prices)),
    )
    every = [*found.front, *found.others]
    event(f"some may be built: {bool(every)}, some are beaten: {bool(found.others)}")
    assert all((c.life is None) == (key == "nca") for c in every)
    if each is None and price is None:  # nothing is held against one another but modules
        assert {c.cost for c in every} <= {None}
        prices = {"another": 0.0}
    front, others = (
        [
            carried_out_anew(build, c, lives=key != "nca", each=each, prices=prices)
            for c in candidates
        ]
        for candidates in (found.front, found.others)
    )
    best = {one for one in (*front, *others) if not any(beats(b, one) for b in (*front, *others))}
    assert set(front) == best


def test_every_arrangement_target_and_device_is_tried() -> None:
    listed = EquipmentList(
        inverters=(good_inverter(name="one"), good_inverter(name="two")),
        chargers=(good_charger(name="loud"), good_charger(name="sunny", source="solar")),
    )
    found = search_trade_offs(good_build(), 3, equipment=listed)
    # Strings for 1, 2, 3 in series: 3 + 1 + 1; eight targets; three inverters with two chargers,
    # since none of the build's chargers is a solar one.
    assert found.tried == 5 * 8 * 3 * 2
    assert "no charger of their source stands in the build: sunny" in found.note


def test_a_lower_charge_target_gives_energy_away_and_gains_years() -> None:
    found = search_trade_offs(of("nmc"), 6)
    assert "years of life" in found.weighed
    alike = [c for c in found.front if c.modules == found.front[0].modules]
    assert len(alike) > 1
    first, last = alike[0], alike[-1]
    assert first.usable is not None
    assert last.usable is not None
    assert first.usable > last.usable
    assert first.life is not None
    assert last.life is not None
    assert first.life[0] < last.life[0]
    assert all(c.life is not None and c.life[0] <= c.life[1] for c in found.front)


def test_where_no_model_fits_the_charge_target_stands_in_and_that_is_said() -> None:
    found = search_trade_offs(of("nca"), 6)
    assert found.front
    assert {c.life for c in (*found.front, *found.others)} == {None}
    assert "How long the cells last is not known" in found.note
    assert "a lower charge target" in found.weighed


def test_modules_and_devices_cost_and_what_is_there_does_not() -> None:
    listed = EquipmentList(
        inverters=(good_inverter(name="dear", efficiency="96 %"),),
        prices={"dear": 500.0},
        money="EUR",
    )
    found = search_trade_offs(good_build(), 6, module_price="40 EUR", equipment=listed)
    # By hand: six modules at 40 EUR, and the inverter.
    assert {(tuple(bought(c)), c.price, c.cost) for c in found.front if c.modules == 6} == {
        ((), 0.0, 240.0),
        (("dear",), 500.0, 740.0),
    }
    assert found.money == "EUR"
    assert "40 EUR for each module" in found.note


def test_an_unknown_price_stays_unknown_and_counts_as_the_dearest() -> None:
    same = good_inverter(name="unpriced")
    listed = EquipmentList(inverters=(same,))
    found = search_trade_offs(good_build(), 6, module_price="40 EUR", equipment=listed)
    assert not any(bought(c) for c in found.front)  # as good as the build's own, and not known
    assert {c.cost for c in found.others if bought(c)} == {None}
    assert "taken as the dearest: unpriced" in found.note


def test_without_what_a_module_is_worth_fewer_of_them_still_count() -> None:
    listed = EquipmentList(
        inverters=(good_inverter(name="other", efficiency="95 %"),),
        prices={"other": 9.0},
        money="EUR",
    )
    found = search_trade_offs(good_build(), 6, equipment=listed)
    assert found.weighed.endswith("cost and fewer modules")
    assert "What a module is worth was not told" in found.note
    assert {c.modules for c in found.front if not bought(c)} == {4, 6}
    assert {c.cost for c in found.front} == {0.0, 9.0}


def test_a_budget_leaves_out_what_is_dearer_and_what_has_no_price() -> None:
    inverters = tuple(
        good_inverter(name=name, efficiency="96 %") for name in ("cheap", "dear", "unpriced")
    )
    listed = EquipmentList(inverters=inverters, prices={"cheap": 200.0, "dear": 900.0}, money="EUR")
    found = search_trade_offs(good_build(), 6, equipment=listed, budget=200.0)
    names = set(itertools.chain(*(bought(c) for c in (*found.front, *found.others))))
    assert names == {"cheap"}
    assert "dearer than 200 EUR, or without a price: 2" in found.note
    nothing = search_trade_offs(good_build(), 6, equipment=listed, budget=0.0)
    assert not any(bought(c) for c in (*nothing.front, *nothing.others))


def test_what_cannot_be_reckoned_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    listed = EquipmentList(inverters=(good_inverter(name="x"),), prices={"x": 1.0}, money="USD")
    with pytest.raises(DescriptionError, match="in EUR, and those of the list are in USD"):
        search_trade_offs(good_build(), 2, module_price="40 EUR", equipment=listed)
    with pytest.raises(DescriptionError, match="is no price"):
        search_trade_offs(good_build(), 2, module_price="cheap")
    with pytest.raises(DescriptionError, match="give equipment too"):
        search_trade_offs(good_build(), 2, budget=100.0)
    with pytest.raises(DescriptionError, match="budget must not lie below 0"):
        search_trade_offs(good_build(), 2, equipment=listed, budget=-1.0)
    monkeypatch.setattr(tradeoff, "_MOST_TRIED", 10)
    with pytest.raises(DescriptionError, match="that would be 24 designs, and 10 are"):
        search_trade_offs(good_build(), 2)  # three arrangements at eight targets


def test_what_comes_to_the_same_with_the_same_devices_stands_once() -> None:
    # Chargers that can be set by whole volts make the same of several charge targets.
    coarse = good_build(chargers=(good_charger(charge_voltage=("48 V", "62 V", "1 V")),))
    found = search_trade_offs(of("nmc", coarse), 6)
    assert len(found.front) > 1
    assert len({(c.usable, c.life, c.margin, c.modules) for c in found.front}) == len(found.front)


def test_every_point_that_is_picked_is_a_sheet_that_decides_alike(tmp_path: Path) -> None:
    barn, listed = read_sheet(example("wether-barn")), parse_equipment(LIST, "list.toml")
    found = search_trade_offs(barn, 12, module_price="40 EUR", equipment=listed)
    assert any(bought(c) for c in found.front)
    assert any(not bought(c) for c in found.front)
    for k, candidate in enumerate(found.front):
        file = write_sheet(barn, tmp_path / f"{k}.toml", candidate, equipment=listed)
        made = design(read_sheet(file))
        assert decide(made).verdict is candidate.verdict
        assert made.usable is not None
        assert made.usable.reachable.value == pytest.approx(candidate.usable, rel=1e-9)
        assert made.build.pack.modules == candidate.modules
        if candidate.life is not None and k % 5 == 0:
            assert least_years(made) == pytest.approx(candidate.life[0])


def test_one_who_says_nothing_of_modules_has_those_that_the_pack_takes() -> None:
    bare = good_build(pack=good_pack(module=good_module(available=None, chemistry=OXIDE)))
    found = search_trade_offs(bare)
    assert max(c.modules for c in found.front) <= bare.pack.modules
    assert found.front[0].left_out == 0


def test_cells_that_are_not_charged_to_a_set_voltage_leave_nothing_to_choose() -> None:
    module = good_module(chemistry=HYDRIDE, available=2)
    found = search_trade_offs(good_build(pack=good_pack(module=module)), module_price="1 EUR")
    assert (found.front, found.others, found.tried) == ((), (), 0)
    assert "1 EUR for each module that it takes; what stands" in found.note
