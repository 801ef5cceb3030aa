"""What readings say of a module: worked by hand, and refused with the reason."""

from __future__ import annotations

import datetime as dt
from typing import Any

import attrs
import pytest
from heaps import FIRST, LAST, LEVEL, NAMES, a_module, first_of, heap, iron_heap, rest, rests

from evpack.describe.batch import Batch, Rest
from evpack.match.alike import most_of
from evpack.match.readings import Readings, readings
from evpack.match.readings import heap as in_common


def read(batch: Batch, place: int = 0) -> Readings:
    return readings(in_common(batch), batch.modules[place])


def test_the_good_module_reads_as_worked_by_hand() -> None:
    found = read(heap())
    assert found.health.value.value == pytest.approx(0.9)  # 54 Ah / 60 Ah
    assert found.resistance.value.value == pytest.approx(1.2)  # 9.6 mΩ / 8 mΩ
    assert found.spread.value.value == 0.0
    assert found.drift.value.value == pytest.approx(0.0, abs=1e-12)
    assert found.self_discharge.value.value == 0.0
    assert (found.weakest, found.weakest_by) == (
        2,
        "it ended the discharge in the capacity test",
    )


# --- Capacity ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("changes", "why"),
    [
        ({"capacity": None}, "its capacity was not read"),
        ({"capacity_temperature": None}, "at what temperature its capacity"),
        ({"capacity_temperature": "28 degC"}, "above 27 °C cells give more"),
        ({"capacity_temperature": "21 degC"}, "and that of most of the batch at 25 °C"),
        ({"capacity_current": None}, "at what current its capacity"),
        ({"capacity_current": "11 A"}, "a slow discharge gives more"),  # a fifth of 60 Ah is 12 A
        ({"capacity_current": "25 A"}, "and that of most of the batch at 20 A"),  # 25 % more
    ],
)
def test_a_capacity_read_otherwise_is_refused(changes: dict[str, Any], why: str) -> None:
    found = read(heap(a_module(**changes)))
    assert found.health.value is None
    assert why in found.health.why
    assert found.capacity_unlike == found.health.why


@pytest.mark.parametrize(
    "changes",
    [
        {"capacity_temperature": "27 degC"},
        {"capacity_temperature": "22 degC"},
        {"capacity_current": "16 A"},
        {"capacity_current": "24 A"},
    ],
)
def test_a_capacity_read_nearly_alike_is_taken(changes: dict[str, Any]) -> None:
    assert read(heap(a_module(**changes))).health.value is not None


def test_without_the_new_capacity_modules_can_only_be_ranked() -> None:
    found = read(heap(new_capacity=None))
    assert found.health.value is None
    assert "when new" in found.health.why
    assert found.capacity_unlike == ""


def test_the_error_of_a_capacity_is_carried_on() -> None:
    found = read(heap(a_module(capacity_error="0.6 Ah")))
    assert found.health.error.value == pytest.approx(0.01)  # 0.6 Ah / 60 Ah


# --- Resistance -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("changes", "why"),
    [
        ({"resistance": None}, "was not read"),
        ({"resistance_method": "1 kHz meter"}, "differ by a factor"),
        ({"resistance_method": "not stated"}, "nobody said how its resistance was read"),
        ({"resistance_temperature": None}, "at what temperature its resistance"),
        ({"resistance_temperature": "29 degC"}, "colder cells read more"),
        ({"resistance_temperature": "21.9 degC"}, "colder cells read more"),
        ({"resistance_soc": None}, "at what state of charge"),
        ({"resistance_soc": "61 %"}, "at 61 % charge"),
    ],
)
def test_a_resistance_read_otherwise_is_refused(changes: dict[str, Any], why: str) -> None:
    found = read(heap(a_module(**changes)))
    assert found.resistance.value is None
    assert why in found.resistance.why
    assert why in found.resistance_unlike


@pytest.mark.parametrize(
    "changes", [{"resistance_temperature": "28 degC"}, {"resistance_soc": "40 %"}]
)
def test_a_resistance_read_nearly_alike_is_taken(changes: dict[str, Any]) -> None:
    assert read(heap(a_module(**changes))).resistance.value is not None


@pytest.mark.parametrize(
    ("changes", "why"),
    [
        ({"new_resistance": None}, "when new"),
        ({"new_resistance_method": "not stated"}, "how the other resistance was read"),
        ({"new_resistance_method": "1 kHz meter"}, "that of a new module by 1 kHz meter"),
        ({"new_resistance_temperature": "20 degC"}, "that of a new module at 20 °C"),
        ({"new_resistance_soc": "80 %"}, "that of a new module at 80 %"),
    ],
)
def test_a_new_resistance_read_otherwise_is_refused_and_modules_stay_alike(
    changes: dict[str, Any], why: str
) -> None:
    found = read(heap(**changes))
    assert found.resistance.value is None
    assert why in found.resistance.why
    assert found.resistance_unlike == ""


def test_a_new_resistance_of_which_little_is_said_is_taken_as_most_were_read() -> None:
    bare = {"new_resistance_temperature": None, "new_resistance_soc": None}
    assert read(heap(**bare)).resistance.value.value == pytest.approx(1.2)
    cold = heap(a_module(resistance_temperature="10 degC"), **bare)
    assert read(cold).resistance.value is None


def test_most_of_a_heap_is_the_commonest_method_and_its_medians() -> None:
    batch = heap(a_module(resistance_method="two-step", resistance_temperature="5 degC"))
    stick = most_of(batch)
    assert (stick.method, stick.temperature, stick.soc) == ("10 s pulse", 25.0, 0.5)


def test_nothing_is_most_of_a_heap_that_nobody_read() -> None:
    nothing = {"resistance": None, "capacity": None}
    stick = most_of(heap(modules=[a_module(name, **nothing) for name in NAMES]))
    assert stick.method == "not stated"
    assert stick.temperature is stick.capacity_temperature is None


# --- Spread -----------------------------------------------------------------------------------


def test_the_spread_is_that_of_the_last_rest_that_counts() -> None:
    short = rest(dt.date(2024, 3, 9), (4.1, 4.1, 4.0, 4.1), rested="10 min")
    module = a_module(rests=(*rests((4.100, 4.112, 4.095, 4.100)), short))
    found = read(heap(module))
    assert found.spread.value.value == pytest.approx(0.017)  # 4.112 V − 4.095 V
    assert found.spread.error.value == pytest.approx(0.002)  # twice 1 mV


def test_without_a_meter_s_accuracy_no_uncertainty_is_told() -> None:
    assert read(heap(voltage_accuracy=None)).spread.error is None


@pytest.mark.parametrize(
    ("found", "why"),
    [
        ((), "were not read"),
        ((rest(cells=(), voltage="16.4 V"),), "were not read"),
        ((rest(rested=None),), "too short a rest"),
        ((rest(rested="59 min"),), "too short a rest"),
    ],
)
def test_a_spread_that_nobody_read_at_rest_is_refused(found: tuple[Rest, ...], why: str) -> None:
    reading = read(heap(a_module(rests=found, imbalance_empty=None))).spread
    assert reading.value is None
    assert why in reading.why


def test_cells_that_a_record_has_are_never_said_to_be_unread() -> None:
    reading = read(heap(a_module(rests=()))).spread
    assert reading.why == (
        "its cells were read under load only, in its record, and not rested at full"
    )


def test_a_flat_chemistry_tells_its_spread_only_when_full() -> None:
    assert read(iron_heap()).spread.value.value == 0.0
    assert "only then they tell" in read(iron_heap(full=False)).spread.why


# --- Drift and self-discharge -----------------------------------------------------------------


def test_a_loss_is_held_against_the_middle_of_the_batch() -> None:
    """Five lose 2 mV in each cell group, the first 8 mV in one and 2 mV in the others.

    A mean cell group of the first lost 3.5 mV; the median of (3.5, 2, 2, 2, 2, 2) is 2 mV.
    """
    two = tuple(volts - 0.002 for volts in LEVEL)
    first = a_module(rests=rests((4.098, 4.092, 4.098, 4.098)))
    batch = heap(
        modules=(first, *(a_module(name, rests=rests(two)) for name in NAMES[1:])),
    )
    assert read(batch).drift.value.value == pytest.approx(0.006)
    assert read(batch, 1).drift.value.value == pytest.approx(0.0, abs=1e-12)


def test_a_loss_is_brought_to_seven_days() -> None:
    """8 mV in fourteen days is 4 mV in seven; the others lose nothing."""
    late = rest(dt.date(2024, 3, 15), (4.092, 4.1, 4.1, 4.1), rested="340 h")
    assert read(heap(a_module(rests=(rest(), late)))).drift.value.value == pytest.approx(0.004)


def test_without_cells_one_group_is_taken_to_have_lost_all() -> None:
    """12 mV lost by the whole module, nothing by the others: at worst 12 mV by one group."""
    whole = tuple(
        rest(day, (), voltage=volts) for day, volts in ((FIRST, "16.4 V"), (LAST, "16.388 V"))
    )
    found = read(heap(a_module(rests=whole)))
    assert found.drift.value.value == pytest.approx(0.012)
    assert "One cell group" in found.drift.value.note


def test_self_discharge_follows_from_the_curve() -> None:
    """Between 3.972 V at 80 % and 4.2 V full a volt is 0.2/0.228 of the charge.

    22.8 mV in seven days is 2 %; in thirty days 2 · 30/7 = 8.571 %.
    """
    module = a_module(rests=rests((4.0772, 4.1, 4.1, 4.1)))
    found = read(heap(module)).self_discharge.value
    assert found.value == pytest.approx(0.02 * 30 / 7)


def test_self_discharge_of_a_whole_module_is_that_of_a_mean_cell() -> None:
    whole = tuple(
        rest(day, (), voltage=volts) for day, volts in ((FIRST, "16.4 V"), (LAST, "16.3088 V"))
    )
    found = read(heap(a_module(rests=whole))).self_discharge.value  # 22.8 mV for each of four
    assert found.value == pytest.approx(0.02 * 30 / 7)


@pytest.mark.parametrize(
    ("found", "why"),
    [
        ((rest(),), "two rests on different days"),
        ((rest(), rest(dt.date(2024, 3, 2), rested="25 h")), "less than two days"),
        ((rest(temperature=None), rest(LAST)), "at what temperature it rested"),
        ((rest(), rest(LAST, temperature=None)), "at what temperature it rested"),
        ((rest(), rest(LAST, temperature="21 degC")), "not at like temperature"),
        ((rest(), rest(LAST, rested="2 h")), "charged between its rests"),
    ],
)
def test_a_loss_that_cannot_be_told_is_refused(found: tuple[Rest, ...], why: str) -> None:
    reading = read(heap(a_module(rests=found)))
    for one in (reading.drift, reading.self_discharge):
        assert one.value is None
        assert why in one.why


def test_a_rest_that_cannot_be_compared_gives_way_to_the_one_before() -> None:
    warm = rest(dt.date(2024, 3, 9), (4.0, 4.0, 4.0, 4.0), temperature="35 degC", rested="194 h")
    module = a_module(rests=(*rests((4.095, 4.1, 4.1, 4.1)), warm))
    assert read(heap(module)).drift.value.value == pytest.approx(0.005)


def test_fewer_than_three_modules_have_no_middle() -> None:
    found = read(heap(modules=(a_module("A1"), a_module("A2"))))
    assert "fewer than three" in found.drift.why


def test_a_flat_chemistry_is_blind_on_its_plateau() -> None:
    """From 3.300 V to 3.299 V an LFP cell may have lost a fifth of its charge."""
    for reading in (
        read(iron_heap(full=False)).drift,
        read(iron_heap(full=False)).self_discharge,
    ):
        assert reading.value is None
        assert "only then its voltage tells" in reading.why
    fallen = iron_heap()
    down = rest(LAST, (3.340,) * 4, rested="170 h")
    module = attrs.evolve(fallen.modules[0], rests=(fallen.modules[0].rests[0], down))
    found = read(attrs.evolve(fallen, modules=(module, *fallen.modules[1:])))
    assert "flat part" in found.self_discharge.why
    assert found.drift.value.value == pytest.approx(0.060)


def test_beyond_the_ends_of_the_curve_no_charge_is_read() -> None:
    over = rests((4.2, 4.2, 4.2, 4.2), (4.2, 4.2, 4.2, 4.2))
    assert "ends of the open-circuit curve" in read(heap(a_module(rests=over))).self_discharge.why


# --- The weakest cell group -------------------------------------------------------------------


@pytest.mark.parametrize(
    ("found", "weakest", "how"),
    [
        ((), None, "no cells were read"),
        ((rest(cells=(4.1, 4.09, 4.1, 4.1)),), None, "not read near empty"),
        ((rest(cells=(3.5, 3.5, 3.4, 3.5)),), 3, "lowest at rest near empty, on 2024-03-01"),
        ((rest(cells=(3.0, 2.9, 3.0, 3.0)),), 2, "lowest at rest near empty"),  # below the curve
        ((rest(cells=(3.5, 3.5, 3.5, 3.5)),), None, "all its cells read the same"),
        ((rest(cells=(3.5, 3.4, 3.5, 3.5), rested="5 min"),), None, "no cells were read"),
    ],
)
def test_the_weakest_group_is_the_one_that_ended_or_lay_lowest_near_empty(
    found: tuple[Rest, ...], weakest: int | None, how: str
) -> None:
    module = first_of(heap(a_module(ended_by=None, rests=found)))
    assert module.weakest == weakest
    assert how in module.weakest_by
