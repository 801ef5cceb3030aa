"""Cables and bars, what protects, solar arrays: what cannot exist is refused, the rest is held."""

from collections.abc import Callable
from typing import Any

import attrs
import pytest
from hypothesis import given
from hypothesis import strategies as st

from evpack.base.errors import DescriptionError, UnitError
from evpack.base.fitted import NOT_FITTED
from evpack.base.units import COEFFICIENT, COMPENSATION, VOLTAGE, kind_of
from evpack.describe.array import Array
from evpack.describe.cabling import Busbar, Cabling, Conductor, Run
from evpack.describe.safeguards import (
    Disconnect,
    EmergencyOff,
    FuseCatalogue,
    FuseFamily,
    FuseGate,
    Precharge,
    Safeguards,
)

Maker = Callable[..., Any]


def wire(ampacity: float = 100.0) -> Conductor:
    return Conductor(
        size="invented size",
        area=30.0,
        ohm_per_metre=0.0007,
        ampacity=ampacity,
        resistance_source="common-practice",
        ampacity_source="common-practice",
        conditions="for tests",
    )


# --- Runs -------------------------------------------------------------------------------------


def test_unlike_conductors_carry_less_together() -> None:
    """Worked by hand: the shortest, 1 m, takes 100 A and each of the others, 2 m, then 50 A."""
    run = Run(name="run", conductor=wire(), length="2 m", shortest="1 m", parallel=3)
    assert run.ampacity.m == pytest.approx(100 + 2 * 50)
    assert Run(name="run", conductor=wire(), length="2 m", parallel=3).ampacity.m == 300
    assert Run(name="run", conductor=wire(), length="2 m", shortest="1 m").ampacity.m == 100


@given(
    length=st.floats(0.1, 50), part=st.floats(0.1, 1), parallel=st.integers(1, 20)
)  # fmt: skip
def test_a_bundle_never_carries_more_than_its_conductors(
    length: float, part: float, parallel: int
) -> None:
    run = Run(
        name="run",
        conductor=wire(),
        length=f"{length:.6f} m",
        shortest=f"{length * part:.6f} m" if length * part >= 1e-3 else None,
        parallel=parallel,
    )
    assert 100 - 1e-9 <= run.ampacity.m <= 100 * parallel * (1 + 1e-9)


@pytest.mark.parametrize("shortest", ["0 m", "2.1 m"])
def test_a_shortest_that_is_none(shortest: str) -> None:
    with pytest.raises(DescriptionError, match=r"shortest must lie above 0 m and not above length"):
        Run(name="run", conductor=wire(), length="2 m", shortest=shortest)


def test_what_is_left_open_is_said() -> None:
    assert not Run(name="run", conductor=wire(), length="2 m").left_open
    with pytest.raises(DescriptionError, match="left_open: True or False is needed"):
        Run(name="run", conductor=wire(), length="2 m", left_open="yes")


def test_own_runs_are_runs() -> None:
    with pytest.raises(DescriptionError, match="own: runs by the name of their device"):
        Cabling(own=3)
    with pytest.raises(DescriptionError, match="own run of box: a Run is needed"):
        Cabling(own={"box": "70 mm2"})


# --- Bars -------------------------------------------------------------------------------------


def bar(**changes: object) -> Busbar:
    usual = {"width": "40 mm", "thickness": "5 mm", "length": "0.5 m"}
    return Busbar(**{**usual, **changes})


def test_a_bar_has_the_resistance_of_its_copper() -> None:
    """Worked by hand: two bars of 0.5 m and 200 mm2, 0.020968 Ohm mm2/m at 75 degC: 104.8 uOhm."""
    assert bar().area == pytest.approx(200)
    assert bar().resistance.m == pytest.approx(2 * 0.5 * 0.0209676 / 200, rel=1e-4)
    assert bar(count=2).resistance.m == pytest.approx(bar().resistance.m / 2)
    assert (bar().carries, bar().enclosed) == (None, None)


@pytest.mark.parametrize(
    ("wrong", "error", "said"),
    [
        ({"width": "0 mm"}, DescriptionError, "width must be above 0 mm"),
        ({"length": "0 mm"}, DescriptionError, "length must be above 0 mm"),
        ({"thickness": "41 mm"}, DescriptionError, "thickness must not exceed width"),
        ({"count": 0}, DescriptionError, "count must lie between 1 and 10"),
        ({"enclosed": "yes"}, DescriptionError, "enclosed: True or False is needed"),
        ({"width": 40}, UnitError, "40 has no unit"),
        ({"carries": "40 V"}, UnitError, "is a voltage; a current is needed"),
    ],
)
def test_a_bar_that_cannot_exist(
    wrong: dict[str, object], error: type[Exception], said: str
) -> None:
    with pytest.raises(error, match=said):
        bar(**wrong)


# --- What protects ----------------------------------------------------------------------------


def test_what_nobody_said_of_protection_is_unknown() -> None:
    for noun in (Disconnect, EmergencyOff, Precharge, Safeguards):
        held = noun()
        for field in attrs.fields(noun):
            if field.name not in {"name", "basis"}:
                assert getattr(held, field.name) in {None, "", ()}


def test_what_is_to_be_bought_is_named_once() -> None:
    held = Safeguards(to_buy=["bars", "disconnect", "bars"])
    assert held.to_buy == ("bars", "disconnect")


def test_the_word_none_is_no_unknown() -> None:
    held = Safeguards(disconnect="none", emergency_off="none", precharge="none")
    assert {held.disconnect, held.emergency_off, held.precharge} == {NOT_FITTED}


@pytest.mark.parametrize(
    ("noun", "wrong", "said"),
    [
        (Disconnect, {"poles": 5}, "poles must lie between 1 and 4"),
        (Disconnect, {"breaks_load": "yes"}, "True or False is needed, or None where nobody"),
        (EmergencyOff, {"stops_charging": 1}, "stops_charging: True or False is needed"),
        (Precharge, {"resistance": "0 Ohm"}, "resistance must be above 0 Ω"),
        (Precharge, {"wait": "5 s", "time_out": "4 s"}, "time_out must not lie below wait"),
        (Safeguards, {"disconnect": True}, "disconnect: a Disconnect or 'none' is needed"),
        (Safeguards, {"main_fuse": 3}, "main_fuse: a FuseFamily or a text in quotes"),
        (Safeguards, {"to_buy": ["fuse"]}, "to_buy: 'fuse' is not known"),
        (Safeguards, {"to_buy": ["precharg"]}, r"'precharg' is not known \(did you mean 'precha"),
        (Safeguards, {"to_buy": "bars"}, "to_buy: a list is needed, such as"),
        (Safeguards, {"to_buy": [3]}, "to_buy: '3' is not known"),
        (Safeguards, {"both_ends": 1}, "both_ends: True or False is needed"),
    ],
)
def test_protection_that_cannot_exist(noun: type, wrong: dict[str, object], said: str) -> None:
    with pytest.raises(DescriptionError, match=said):
        noun(**wrong)


def fuse(**changes: object) -> FuseFamily:
    usual = {"name": "own", "dc_voltage": "80 V", "interrupting": "20 kA", "largest": "400 A"}
    return FuseFamily(**{**usual, **changes})


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ({"kind": "braker"}, r"own: kind 'braker' is not known \(did you mean 'breaker'\?\)"),
        ({"characteristic": "gg"}, r"'gg' is not known \(did you mean 'gG'\?\)"),
        ({"melting": "9 kA2s", "clearing": "3 kA2s"}, "melting must not lie above clearing"),
        ({"poles": 0}, "poles must lie between 1 and 8"),
        ({"rating": "0 A"}, r"rating must lie above 0 A and not above largest \(400 A\), got 0 A"),
        ({"rating": "401 A"}, "rating must lie above 0 A and not above largest"),
        ({"clearing_time": "20 ms"}, "clearing_time is of a breaker; of a fuse say clearing"),
        ({"instantaneous_trip": "1 kA"}, "only a breaker has an instantaneous_trip"),
    ],
)
def test_a_fuse_that_cannot_exist(wrong: dict[str, object], said: str) -> None:
    with pytest.raises(DescriptionError, match=said):
        fuse(**wrong)


def test_a_gate_holds_for_its_size_of_gg_alone() -> None:
    gate = FuseGate(
        rating=100.0,
        holds_10s=1.0,
        melts_5s=2.0,
        holds_100ms=3.0,
        melts_100ms=4.0,
        melting=5.0,
        clearing=6.0,
    )
    held = FuseCatalogue(families=(), sizes=(100.0, 125.0), sizes_source="x", gates=(gate,))
    assert held.gate(fuse(characteristic="gG"), 100.0) is gate
    assert held.gate(fuse(characteristic="gG"), 125.0) is None
    assert held.gate(fuse(), 100.0) is None


def test_what_is_there_is_the_one_size_of_it() -> None:
    held = FuseCatalogue(families=(), sizes=(100.0, 125.0), sizes_source="x", gg_sizes=(63.0,))
    assert held.sizes_of(fuse()) == (100.0, 125.0)
    assert held.sizes_of(fuse(rating="90 A")) == (90.0,)
    # What would be made instead is told by the family all the same.
    assert held.made_of(fuse(rating="90 A")) == (100.0, 125.0)
    assert held.made_of(fuse(characteristic="gG", rating="90 A")) == (63.0,)


# --- Solar arrays -----------------------------------------------------------------------------


def test_a_coefficient_is_a_share_or_volts() -> None:
    """Worked by hand: -115 mV/K of 41 V are -0.28 %/K."""
    of_one, in_volts = (Array(in_series=3, coefficient=told) for told in ("-0.28 %/K", "-115 mV/K"))
    assert kind_of(of_one.coefficient) is COEFFICIENT
    assert kind_of(in_volts.coefficient) is COMPENSATION
    open_circuit = VOLTAGE.of(41.0)
    assert of_one.relative(of_one.coefficient, None) == pytest.approx(-0.0028)
    assert in_volts.relative(in_volts.coefficient, open_circuit) == pytest.approx(-0.0028, abs=5e-6)
    assert in_volts.relative(in_volts.coefficient, None) is None
    assert in_volts.relative(in_volts.coefficient, VOLTAGE.of(0.0)) is None
    assert of_one.relative(None, open_circuit) is None


@pytest.mark.parametrize(
    ("wrong", "error", "said"),
    [
        (
            {"open_circuit": "30 V", "maximum_power_voltage": "34 V"},
            DescriptionError,
            r"maximum_power_voltage \(34\) must not lie above open_circuit \(30\)",
        ),
        (
            {"short_circuit": "9 A", "maximum_power_current": "10 A"},
            DescriptionError,
            "maximum_power_current .+ must not lie above short_circuit",
        ),
        ({"coefficient": "0.1 %/K"}, DescriptionError, "panels lose voltage when warm"),
        ({"power_coefficient": "1 mV/K"}, DescriptionError, "must not lie above 0"),
        ({"coefficient": "-28 %/K"}, UnitError, "not a believable temperature coefficient"),
        ({"coefficient": "-0.28 %"}, UnitError, "is a share; a temperature coefficient is needed"),
        ({"in_series": 0}, DescriptionError, "in_series must lie between 1 and 100"),
        ({"in_parallel": 1.5}, DescriptionError, "in_parallel must be a whole number"),
        ({"crystalline": "yes"}, DescriptionError, "True or False is needed"),
    ],
)
def test_an_array_that_cannot_exist(
    wrong: dict[str, object], error: type[Exception], said: str
) -> None:
    with pytest.raises(error, match=said):
        Array(**{"name": "roof", "in_series": 3, **wrong})


def test_what_nobody_said_of_an_array_is_unknown() -> None:
    held = Array(in_series=2)
    known = {"name", "feeds", "on_input", "in_series", "in_parallel", "basis"}
    for field in attrs.fields(Array):
        if field.name not in known:
            assert getattr(held, field.name) is None


def test_a_breaker_is_told_by_what_trips_it() -> None:
    with pytest.raises(DescriptionError, match="say instantaneous_trip instead"):
        fuse(kind="breaker", characteristic="gG")
    with pytest.raises(DescriptionError, match="only a breaker"):
        fuse(instantaneous_trip="500 A")
    told = fuse(kind="breaker", instantaneous_trip="500 A").instantaneous_trip
    assert told is not None
    assert float(told.m) == 500.0
