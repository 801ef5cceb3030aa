"""The string fuse must carry the chargers too, where they give more than the inverter draws."""

import pytest
from strategies import good_build, good_inverter, good_load

from evpack.design import design


def test_a_small_inverter_beside_a_big_charger() -> None:
    # 40 A over 3 strings, the busiest with 120 %: 16 A. 16 · 1.25 · 1.1 / 0.85 = 25.882 A.
    build = good_build(
        inverters=(good_inverter(continuous="500 W", surge="1 kW"),),
        load=good_load(continuous="400 W", typical="200 W", peak="800 W"),
    )
    schedule = design(build).protection
    assert schedule is not None
    lower = schedule.fuses[0].lower
    assert lower is not None
    assert lower.value == pytest.approx(25.882, abs=0.001)
