"""Bus bars from the table."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evpack.base.basis import Basis
from evpack.base.errors import DescriptionError, UnitError
from evpack.load.busbars import busbar
from evpack.load.tables import table

SIZES = list(
    zip(
        table("din_43671_copper").numbers("width [mm]"),
        table("din_43671_copper").numbers("thickness [mm]"),
        strict=True,
    )
)


def test_a_bar_in_free_air_carries_what_the_table_says() -> None:
    bar = busbar("40 mm", "5 mm", length="60 cm", enclosed=False)
    assert bar.carries is not None
    assert bar.carries.m == 482
    assert bar.conditions == "air at 35 degC, bar at 65 degC, in free air"
    assert bar.source == "din-43671"
    assert bar.basis.of("carries") is Basis.CHOSEN
    assert bar.area == pytest.approx(200)


@pytest.mark.parametrize(
    ("enclosed", "known", "says"),
    [(True, Basis.CHOSEN, "in a box, held"), (None, Basis.ASSUMED, "in a box (not stated), held")],
)
def test_a_box_takes_its_toll_also_where_nobody_spoke_of_one(
    *, enclosed: bool | None, known: Basis, says: str
) -> None:
    """Worked by hand: 40 mm · 5 mm · 1.6 A/mm² = 320 A, below the 482 A of the table."""
    bar = busbar("40 mm", "5 mm", length="60 cm", enclosed=enclosed)
    assert bar.carries is not None
    assert bar.carries.m == pytest.approx(320)
    assert says in bar.conditions
    assert bar.basis.of("carries") is known


def test_a_thick_bar_is_held_by_the_table_itself() -> None:
    """Worked by hand: 100 mm · 10 mm · 1.6 A/mm² = 1600 A, above the 1490 A of the table."""
    bar = busbar("100 mm", "10 mm", length="1 m", enclosed=True)
    assert bar.carries is not None
    assert bar.carries.m == 1490
    assert "held" not in bar.conditions


@pytest.mark.parametrize(
    ("width", "thickness", "count", "says"),
    [
        ("45 mm", "5 mm", 1, "the table does not hold"),
        ("1.5 in", "0.25 in", 1, "the table does not hold"),
        ("1 1/2 in", "1/4 in", 1, "the table does not hold"),
        ("40 mm", "5 mm", 2, "single bars"),
    ],
)
def test_what_the_table_does_not_hold_stays_unknown(
    width: str, thickness: str, count: int, says: str
) -> None:
    bar = busbar(width, thickness, length="60 cm", count=count, enclosed=False)
    assert bar.carries is None
    assert says in bar.conditions
    stated = busbar(width, thickness, length="60 cm", count=count, carries="300 A")
    assert stated.carries is not None
    assert stated.carries.m == 300
    assert stated.source == "equipment-manual"
    assert stated.basis.of("carries") is Basis.CHOSEN


def test_other_units_name_the_same_bar() -> None:
    bar = busbar("4 cm", "0.005 m", length="2 ft", enclosed=False, name="the bar")
    assert bar.carries is not None
    assert bar.carries.m == 482
    assert bar.name == "the bar"


def test_impossible_bars_are_refused() -> None:
    with pytest.raises(UnitError, match="no unit"):
        busbar("40", "5 mm", length="60 cm")
    with pytest.raises(DescriptionError, match="thickness"):
        busbar("5 mm", "40 mm", length="60 cm")


@given(size=st.sampled_from(SIZES), enclosed=st.sampled_from([True, None, False]))
def test_a_box_never_earns_anything(size: tuple[float, float], *, enclosed: bool | None) -> None:
    wide, thick = (f"{side:g} mm" for side in size)
    free = busbar(wide, thick, length="1 m", enclosed=False)
    bar = busbar(wide, thick, length="1 m", enclosed=enclosed)
    assert free.carries is not None
    assert bar.carries is not None
    assert 0 < bar.carries.m <= free.carries.m
