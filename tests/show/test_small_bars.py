"""The two bars of an answer: to one scale, and silent about what nobody knows."""

import re

import attrs
import pytest

from evpack.design import design
from evpack.load.sheet import example, read_sheet
from evpack.show.draw.small_bars import Scale, scale_of, small_bars, window_of


def boxes(svg: str) -> list[tuple[str, float, float]]:
    found = re.findall(r'<rect class="f-(\S+) s-soft" x="(\S+)" y="\S+" width="(\S+)"', svg)
    return [(colour, float(x), float(width)) for colour, x, width in found]


def test_energy_and_voltage_are_drawn_to_scale() -> None:
    made = design(read_sheet(example("wether-barn")))
    usable, pack, at = made.usable, made.build.pack, made.settings.thresholds
    svg = small_bars(made, Scale(2 * usable.total.value, 0.0, 100.0))
    whole, reserve, everyday, window, own, charge, cut_off = boxes(svg)
    each = 400 / (2 * usable.total.value)
    assert whole == ("bar", 0.0, 200.0)
    assert reserve[0] == "guard"
    assert reserve[1] == pytest.approx(usable.stranded_below.value * each, abs=0.051)
    assert reserve[2] == pytest.approx(usable.reserve.value * each, abs=0.051)
    assert everyday[1] == pytest.approx(reserve[1] + reserve[2], abs=0.11)
    assert everyday[2] == pytest.approx(usable.everyday.value * each, abs=0.051)
    low, high = window_of(made)
    assert window[1:] == pytest.approx((4 * low, 4 * (high - low)), abs=0.051)
    least, highest = float(pack.least.m), float(pack.highest.m)
    assert own[1:] == pytest.approx((4 * least, 4 * (highest - least)), abs=0.051)
    # A mark is 2 wide, with the voltage in its middle.
    assert charge[1] == pytest.approx(4 * at.charge - 1, abs=0.051)
    assert cut_off[1] == pytest.approx(4 * at.cut_off - 1, abs=0.051)


def test_without_a_changeover_all_that_is_in_reach_is_one() -> None:
    made = design(read_sheet(example("wether-barn")))
    plain = attrs.evolve(made, usable=attrs.evolve(made.usable, everyday=None))
    assert [b[0] for b in boxes(small_bars(plain, scale_of([plain])))][:3] == [
        "bar",
        "work",
        "grid",
    ]


def test_one_scale_holds_every_design() -> None:
    made = [design(read_sheet(example(name))) for name in ("wether-barn", "low-shed", "left-on")]
    scale = scale_of(made)
    for one in made:
        for _, x, width in boxes(small_bars(one, scale)):
            assert 0 <= x <= x + width <= 400.1


def test_what_nobody_knows_is_not_drawn_but_said() -> None:
    made = design(read_sheet(example("wether-barn")))
    inverters = [attrs.evolve(one, window_high=None) for one in made.build.inverters]
    build = attrs.evolve(made.build, inverters=inverters)
    blind = attrs.evolve(made, build=build, usable=None, settings=None)
    svg = small_bars(blind, scale_of([blind]))
    assert [colour for colour, _, _ in boxes(svg)] == ["work"]
    assert "The usable energy is not known" in svg
    assert ">? not known</text>" in svg
    assert "to not known." in svg
    assert scale_of([]) == Scale(1.0, -0.02, 1.02)


def test_what_is_no_number_is_not_drawn() -> None:
    made = design(read_sheet(example("wether-barn")))
    nothing = attrs.evolve(made.usable.reserve, value=float("nan"))
    odd = attrs.evolve(made, usable=attrs.evolve(made.usable, reserve=nothing))
    svg = small_bars(odd, scale_of([odd]))
    assert "nan" not in svg
    assert "guard" not in svg
