"""The string fuse must carry the chargers too, where they give more than the inverter draws.

By what is entered on them: a current that is set is a fact, what a charger could give is none.
"""

from __future__ import annotations

from typing import Any

import pytest
from strategies import (
    good_build,
    good_charger,
    good_inverter,
    good_load,
    good_module,
    good_pack,
    groundwork,
)

from evpack.base.fitted import NOT_FITTED
from evpack.describe.build import Build
from evpack.design import design
from evpack.outcome.protection import Circuit
from evpack.protect.bounds import charge_of, string_charge


def small(**changes: Any) -> Build:
    """Return a build whose inverter draws less than its charger of 40 A gives."""
    fields: dict[str, Any] = {
        "inverters": (good_inverter(continuous="500 W", surge="1 kW"),),
        "load": good_load(continuous="400 W", typical="200 W", peak="800 W"),
    }
    return good_build(**{**fields, **changes})


def strings(build: Build) -> Circuit:
    schedule = design(build).protection
    assert schedule is not None
    return schedule.circuits[0]


def bounds(build: Build) -> tuple[float, float]:
    circuit = strings(build)
    assert circuit.lower is not None
    assert circuit.lower_guard is not None
    return circuit.lower.value, circuit.lower_guard.value


def test_a_small_inverter_beside_a_big_charger() -> None:
    # The inverter draws (500 / 0.92 + 30) / 42 = 13.654 A, 4.551 A a string. 40 A over 3 strings
    # are 13.333 A, and 125 % of it 16.667 A by NEC. With our margin the busiest has 120 %, 16 A,
    # and 16 · 1.25 / 0.85 = 23.529 A: chargers give smooth current, so no ripple.
    assert bounds(small()) == (
        pytest.approx(16.667, abs=0.001),
        pytest.approx(23.529, abs=0.001),
    )


def test_by_what_is_set_and_not_by_what_a_charger_could_give() -> None:
    # Modules of 10 A: three strings, unevenly shared, take 3 · 10 / 1.2 = 25 A, which is entered.
    # 25 / 3 · 1.25 = 10.417 A, and 25 / 3 · 1.2 · 1.25 / 0.85 = 14.706 A.
    build = small(pack=good_pack(module=good_module(charge_limit="10 A")))
    done = design(build)
    assert done.settings is not None
    given = charge_of(done.settings, build.chargers[0])
    assert given is not None
    assert given.value == pytest.approx(25.0)
    assert bounds(build) == (
        pytest.approx(10.417, abs=0.001),
        pytest.approx(14.706, abs=0.001),
    )


def test_where_nothing_can_be_set_all_that_it_gives_counts() -> None:
    build = small(
        pack=good_pack(module=good_module(charge_limit="10 A")),
        chargers=(good_charger(current_setting=NOT_FITTED),),
    )
    assert bounds(build)[0] == pytest.approx(16.667, abs=0.001)
    # So it is without any settings sheet.
    given = charge_of(None, build.chargers[0])
    assert given is not None
    assert given.value == 40.0


def test_several_units_give_as_many_times() -> None:
    # Two of 40 A, and the modules of 30 A take 3 · 30 / 1.2 = 75 A, but no more than 30 % of their
    # 180 Ah an hour: 54 A, 27 A for each. 54 / 3 · 1.25 = 22.5 A.
    build = small(chargers=(good_charger(count=2),))
    assert bounds(build)[0] == pytest.approx(22.5)


def test_a_charger_that_does_not_say_what_it_gives_is_left_out() -> None:
    build = small(chargers=(good_charger(current=None, current_setting=None),))
    assert charge_of(design(build).settings, build.chargers[0]) is None
    assert string_charge(groundwork(build), None) is None
    # 4.551 · 1.25 = 5.689 A, the inverter's.
    assert bounds(build)[0] == pytest.approx(5.689, abs=0.001)


def test_a_larger_inverter_decides_and_brings_its_ripple() -> None:
    # 78.354 A / 3 = 26.118 A are more than 13.333 A.
    lower, guarded = bounds(good_build())
    assert lower == pytest.approx(26.118 * 1.25, abs=0.001)
    assert guarded == pytest.approx(26.118 * 1.2 * 1.25 * 1.1 / 0.85, abs=0.001)
