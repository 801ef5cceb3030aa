"""Strings that are dangerous to touch: the order of the work, the heat of an arc, the insulation.

The high pack: eight modules of seven cells up to 4.2 V, 235.2 V; three strings. The shares of a
fault are those of the protection; what comes of them here is worked by hand.
"""

from __future__ import annotations

from typing import Any

import attrs
import pytest
from house.test_formulas import check
from strategies import STRONG, good_build, good_module, good_pack, good_safeguards

from evpack.base.fitted import NOT_FITTED
from evpack.base.units import INSULATION, LET_THROUGH, RESISTANCE
from evpack.commission.plan import plan_of
from evpack.commission.steps import ISOLATE, ISOLATE_HIGH
from evpack.describe.build import Build
from evpack.design import design
from evpack.load.as_built import parse_as_built, record_text
from evpack.outcome.commissioning import CommissioningPlan, CommissioningStep
from evpack.outcome.design import Decision, Design, Verdict
from evpack.show.text import as_text


def forced(made: Design) -> CommissioningPlan:
    return plan_of(Decision(verdict=Verdict.WORKS, design=made, held_by=(), limits=()))


def high(series: int = 8, *, earthed: str | None = "none", **safeguards: Any) -> Build:
    return good_build(
        pack=good_pack(modules_in_series=series, earthed=earthed),
        safeguards=good_safeguards(**{"string_fuse": STRONG, **safeguards}),
    )


def step(of: CommissioningPlan, key: str) -> CommissioningStep:
    return next(found for found in of.steps if found.key == key)


def keys(of: CommissioningPlan) -> list[str]:
    return [found.key for found in of.steps]


def in_order(of: CommissioningPlan, order: list[str]) -> None:
    assert [key for key in keys(of) if key in order] == order


def test_the_middle_is_open_till_every_other_joint_is_made() -> None:
    found = forced(design(high()))
    in_order(
        found,
        [
            "around.bonding",
            "modules.gear",
            "modules.lowest_module",
            "modules.middle_open",
            "modules.joints",
            "modules.insulation_ohms",
            "modules.middle_closed",
            "modules.lowest_string",
            "modules.string_spread",
            "modules.fuses_in",
            "modules.insulation",
            "closing.disconnect",
            "closing.polarity",
            "closing.joined",
            "closing.middle_last",
            "closing.precharge_before_inverter",
        ],
    )
    opened = step(found, "modules.middle_open").todo
    assert "between modules 4 and 5 of each string" in opened
    # Four of 29.4 V are 117.6 V, above 60 V.
    assert "The halves reach 118 V. That is still dangerous to touch." in opened
    assert "The middle stays open." in step(found, "modules.joints").todo
    assert "string fuses go in" not in step(found, "modules.joints").todo
    assert "middle of each string out again" in step(found, "closing.joined").todo
    # Wherever the pack is made safe, its strings come apart.
    assert not [s.key for s in found.steps if ISOLATE in f"{s.todo} {s.if_not}"]
    assert [s.key for s in found.steps if ISOLATE_HIGH in f"{s.todo} {s.if_not}"]


@pytest.mark.parametrize(
    ("series", "between", "halves"),
    [
        (3, "between modules 1 and 2", "58.8 V"),  # two of 29.4 V: not dangerous
        (5, "between modules 2 and 3", "88.2 V. That is still"),
    ],
)
def test_halves_may_be_unlike(series: int, between: str, halves: str) -> None:
    todo = step(forced(design(high(series))), "modules.middle_open").todo
    assert between in todo
    assert f"The halves reach {halves}" in todo
    assert ("dangerous" in todo) == ("still" in halves)


def test_one_long_module_has_no_middle_and_the_rest_all_the_same() -> None:
    module = good_module(cells_in_series=29)
    pack = good_pack(module=module, modules_in_series=1, earthed="none")
    found = forced(design(good_build(pack=pack)))
    assert not [key for key in keys(found) if "middle" in key]
    assert {"modules.gear", "modules.insulation_ohms", "modules.fuses_in"} <= set(keys(found))
    assert not [s.key for s in found.steps if ISOLATE_HIGH in f"{s.todo} {s.if_not}"]


def test_a_pack_that_a_dry_hand_may_touch_is_asked_none_of_it() -> None:
    """Two modules of 29.4 V: 58.8 V, within 60 V."""
    found = forced(design(high(2)))
    asked = set(keys(found))
    for key in ("gear", "middle_open", "middle_closed", "insulation_ohms", "fuses_in"):
        assert f"modules.{key}" not in asked
    assert step(found, "around.bonding").kind is None
    in_order(found, ["modules.lowest_string", "modules.joints", "modules.insulation"])


# --- The heat of an arc -----------------------------------------------------------------------


def with_clearing(made: Design, a2s: float | None) -> Design:
    schedule = made.protection
    assert schedule is not None
    value = None if a2s is None else LET_THROUGH.of(a2s)
    fuses = tuple(
        attrs.evolve(f, family=f.family and attrs.evolve(f.family, melting=None, clearing=value))
        for f in schedule.fuses
    )
    return attrs.evolve(made, protection=attrs.evolve(schedule, fuses=fuses))


def test_the_heat_of_an_arc_by_hand() -> None:
    """0.01 · 235.2 V · I/2 · 2 s / 45² of the bus; with fuses that clear, that of one string."""
    made = design(high())
    assert made.protection is not None
    bands = {band.place: band for band in made.protection.faults}
    bus = bands["bus, all strings"].high.value
    string = bands["string, at its own terminals"].high.value
    slow = step(forced(with_clearing(made, None)), "modules.gear").worked
    assert slow is not None
    assert slow.value == pytest.approx(0.01 * 235.2 * bus / 2 * 2 / 2025)
    # 5 kA²s and a third of half of some 17 kA, 2.9 kA, are 0.6 ms; the string alone has no fuse.
    quick = step(forced(with_clearing(made, 5e3)), "modules.gear").worked
    assert quick is not None
    assert quick.value == pytest.approx(0.01 * 235.2 * string / 2 * 2 / 2025)
    assert quick.value < slow.value
    for worked in (slow, quick):
        check(worked)
    told = step(forced(made), "modules.gear").todo
    assert "class 00 of EN 60903" in told  # up to 750 V DC
    assert "cal/cm² or more" in told


def gear_at(cal: float | None) -> str:
    """Return what is worn where the fault currents give this much, or nobody knows them."""
    made = design(high())
    if cal is None:
        return step(forced(attrs.evolve(made, protection=None)), "modules.gear").todo
    assert made.protection is not None
    amps = cal * 2025 / (0.01 * 235.2)  # of 2 s: I/2 · 2 = I
    faults = tuple(
        attrs.evolve(band, low=None, high=attrs.evolve(band.high, value=amps))
        for band in made.protection.faults
    )
    schedule = attrs.evolve(with_clearing(made, None).protection, faults=faults)
    return step(forced(attrs.evolve(made, protection=schedule)), "modules.gear").todo


@pytest.mark.parametrize(
    ("cal", "said"),
    [
        (1.0, "clothing that does not melt"),  # below 1.2 cal/cm² skin does not blister
        (1.21, "of 1.21 cal/cm² or more"),
        (39.9, "of 39.9 cal/cm² or more"),
        (40.1, "Nothing that is worn is enough for 40.1 cal/cm²"),
        (None, "rated for arcs"),
    ],
)
def test_what_is_worn_goes_by_the_heat(cal: float | None, said: str) -> None:
    assert said in gear_at(cal)


# --- Insulation -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("series", "test", "least"),
    [
        # IEC 60364-6, table 6A (from memory): extra-low voltage (to 120 V DC) 250 V and 0.5 MΩ, to
        # 500 V 500 V and 1 MΩ, above it 1000 V and 1 MΩ. Modules of 29.4 V.
        (3, "250 V DC", 0.5e6),
        (4, "250 V DC", 0.5e6),  # 117.6 V
        (5, "500 V DC", 1e6),  # 147 V
        (17, "500 V DC", 1e6),  # 499.8 V
        (18, "1000 V DC", 1e6),
    ],
)
def test_the_insulation_is_measured_in_ohms_by_a_voltage_that_is_said(
    series: int, test: str, least: float
) -> None:
    found = step(forced(design(high(series))), "modules.insulation_ohms")
    assert found.kind is INSULATION
    assert (found.low, found.high) == (least, None)
    assert f"by an insulation tester at {test}" in found.todo
    assert "no device joined" in found.todo
    assert least > 100 * 29.4 * series  # what a live pack must keep lies far below


def test_a_reading_in_megohms_is_read() -> None:
    found = forced(design(high()))
    text = record_text(found).replace('insulation_ohms = ""', 'insulation_ohms = "550 MOhm"')
    assert parse_as_built(text, found).values["modules.insulation_ohms"] == 550e6
    assert "at least 1 MΩ" in text


def test_the_monitor_that_is_stated_is_tripped_by_a_known_resistor() -> None:
    """100 Ω for each of 235.2 V are 23 520 Ω: 22 kΩ of the E6 series, 2.51 W across the pack."""
    todo = step(forced(design(high(insulation_monitoring=True))), "stops.insulation_monitor").todo
    assert "With 22 kΩ (for 2.52 W and 236 V or more" in todo
    earthed = high(earthed="minus", insulation_monitoring=True)
    assert "By its own test" in step(forced(design(earthed)), "stops.insulation_monitor").todo
    for stated in (None, False):
        none = forced(design(high(insulation_monitoring=stated)))
        assert "stops.insulation_monitor" not in keys(none)


def test_cases_are_joined_to_earth_by_a_tenth_of_an_ohm() -> None:
    """ISO 6469-3 and UN Regulation 100, from memory: 0.1 Ω between a case and earth at most."""
    found = step(forced(design(high())), "around.bonding")
    assert (found.kind, found.low, found.high) == (RESISTANCE, 0.0, 0.1)


# --- Around the pack, and the AC side ---------------------------------------------------------


def test_surge_devices_are_looked_at_where_they_are_stated() -> None:
    for stated in (None, False, True):
        found = keys(forced(design(high(2, surge_protection=stated))))
        assert ("around.surge" in found) == bool(stated)


def test_labels_tell_the_highest_voltage() -> None:
    assert "up to 58.8 V DC" in step(forced(design(high(2))), "around.labels").todo


def test_the_ac_side_is_proven_where_there_is_one() -> None:
    build = high(2)
    (inverter,) = build.inverters
    island = attrs.evolve(
        inverter, changeover=NOT_FITTED, return_to_battery=NOT_FITTED, charger=NOT_FITTED
    )
    found = keys(forced(design(attrs.evolve(build, inverters=(island,)))))
    assert "stops.residual_current" in found
    assert "stops.transfer" not in found
    assert "stops.transfer" in keys(forced(design(build)))  # it changes over to the utility
    none = attrs.evolve(design(build), build=attrs.evolve(build, inverters=()))
    assert not [key for key in keys(forced(none)) if key.startswith("stops.res")]


def test_a_high_pack_can_be_told() -> None:
    found = forced(design(high(insulation_monitoring=True)))
    assert "The link in the middle of each string" in as_text(found)
    assert not [s for s in found.steps if s.kind is not None and not s.if_not]
