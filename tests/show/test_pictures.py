import itertools
from collections.abc import Callable

import attrs
import made_up
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from reading import SVG, marks, outside, overlaps, root

from evpack.base.finding import Severity
from evpack.base.units import VOLTAGE
from evpack.decide import decide
from evpack.outcome.design import Decision, Design
from evpack.show.draw import svg
from evpack.show.draw.energy import energy_svg
from evpack.show.draw.ladder import ladder_svg
from evpack.show.draw.one_line import one_line_svg
from evpack.show.html import energy_figure, ladder_figure

Draw = Callable[[Decision | Design], str]
WHOLE = made_up.decision(Severity.CAUTION)


def _changed(**changes: object) -> Decision:
    build = attrs.evolve(WHOLE.design.build, **changes)
    return decide(attrs.evolve(WHOLE.design, build=build))


def _crowded() -> Decision:
    """Return a decision with many devices, one of which has its marks close together."""
    build = WHOLE.design.build
    inverters = tuple(
        attrs.evolve(build.inverters[0], name=f"Inverter number {k} with a long name")
        for k in range(3)
    )
    sheet = WHOLE.design.settings
    lines = tuple(
        attrs.evolve(line, worked=attrs.evolve(line.worked, value=49.5 + 0.01 * k))
        for k, line in enumerate(sheet.devices[0].lines * 3)
    )
    near = attrs.evolve(sheet.devices[0], device=inverters[1].name, lines=lines)
    return decide(
        attrs.evolve(
            WHOLE.design,
            build=attrs.evolve(build, inverters=inverters),
            settings=attrs.evolve(sheet, devices=(*sheet.devices, near)),
        )
    )


def _narrow() -> Decision:
    """Return a decision whose bands are narrower than their labels."""
    usable = attrs.evolve(made_up.usable(), soc_bottom=0.01, soc_changeover=0.02, soc_top=0.99)
    return decide(attrs.evolve(WHOLE.design, usable=usable))


DECISIONS = {
    "whole": WHOLE,
    "hostile": made_up.decision(Severity.STOP, name=made_up.HOSTILE),
    "bare": made_up.bare(),
    "odd": made_up.without_changeover(),
    "crowded": _crowded(),
    "narrow": _narrow(),
    "far equipment": _changed(
        inverters=(
            attrs.evolve(
                WHOLE.design.build.inverters[0],
                window_low=VOLTAGE.of(100.0),
                window_high=VOLTAGE.of(500.0),
                survives=None,
            ),
        )
    ),
}


@pytest.fixture(params=DECISIONS.values(), ids=DECISIONS.keys())
def decision(request: pytest.FixtureRequest) -> Decision:
    return request.param


@pytest.fixture(params=[ladder_svg, energy_svg, one_line_svg], ids=["ladder", "energy", "one line"])
def draw(request: pytest.FixtureRequest) -> Draw:
    return request.param


def test_a_picture_is_well_formed_and_tells_itself(decision: Decision, draw: Draw) -> None:
    top = root(draw(decision))
    assert top.get("role") == "img"
    assert top.get("aria-label")
    assert top[0].tag == f"{SVG}title"
    assert top[0].text
    assert top[1].tag == f"{SVG}desc"
    assert top[1].text
    assert not [e for e in top.iter() if e.get("id")]
    assert not list(top.iter(f"{SVG}style"))


def test_no_label_lies_on_another(decision: Decision, draw: Draw) -> None:
    assert overlaps(draw(decision)) == []


def test_no_label_leaves_the_picture(decision: Decision, draw: Draw) -> None:
    assert outside(draw(decision)) == []


def test_nothing_a_user_typed_becomes_markup(draw: Draw) -> None:
    picture = draw(DECISIONS["hostile"])
    for part in made_up.HOSTILE_PARTS:
        assert part not in picture


def test_the_same_design_gives_the_same_bytes(decision: Decision, draw: Draw) -> None:
    assert draw(decision) == draw(decision) == draw(decision.design)


def test_no_number_is_written_that_is_none(decision: Decision, draw: Draw) -> None:
    assert "nan" not in draw(decision).replace("Nan", "")
    assert "inf" not in draw(decision)


def test_the_ladder_marks_what_the_design_says() -> None:
    found = marks(ladder_svg(WHOLE))
    volts = {key: float(mark.get("data-volts")) for key, mark in found.items()}
    assert volts["Pack", "never above"] == pytest.approx(58.8)
    assert volts["Pack", "never below"] == pytest.approx(37.8)
    assert volts["Pack", "target, highest cell"] == pytest.approx(56.7)
    assert volts["Inverter Spare barn", "works up to"] == 62.0
    assert volts["Inverter Spare barn", "low-voltage cut-off"] == 46.3
    assert volts["Roof Spare barn", "charge voltage (absorption)"] == 55.8
    assert volts["Standby Spare barn", "its equalise"] == 62.0
    assert found["Standby Spare barn", "its equalise"].get("data-kind") == "hazard"
    assert found["Standby Spare barn", "its absorption"].get("data-kind") == "high"
    assert found["Standby Spare barn", "its float"].get("data-kind") == "limit"
    assert found["Inverter Spare barn", "low-voltage cut-off"].get("data-kind") == "set"


def test_a_mark_stands_at_the_height_of_its_voltage() -> None:
    picture = ladder_svg(WHOLE)
    top = root(picture)
    low, high = float(top.get("data-low")), float(top.get("data-high"))
    top, bottom = float(top.get("data-top")), float(top.get("data-bottom"))
    for mark in marks(picture).values():
        volts = float(mark.get("data-volts"))
        expected = bottom + (top - bottom) * (volts - low) / (high - low)
        stroke = mark.find(f"{SVG}line")
        assert float(stroke.get("y1")) == pytest.approx(expected, abs=0.06)
        assert f"{volts:g} V" in "".join(mark.itertext())


def test_what_lies_far_off_is_written_with_an_arrow() -> None:
    picture = ladder_svg(DECISIONS["far equipment"])
    assert "↑ 500 V" in picture
    assert "↑ 100 V" in picture
    top = root(picture)
    assert float(top.get("data-high")) < 100


def test_a_hazard_has_a_glyph_besides_its_colour() -> None:
    found = marks(ladder_svg(WHOLE))
    assert "✕" in "".join(found["Standby Spare barn", "its equalise"].itertext())
    assert "▲" in "".join(found["Standby Spare barn", "its absorption"].itertext())


@pytest.mark.parametrize("severity", [Severity.STOP, Severity.UNKNOWN])
def test_settings_that_are_withheld_are_drawn_hollow_and_broken(severity: Severity) -> None:
    held = made_up.decision(severity)
    found = marks(ladder_svg(held))
    mark = found["Inverter Spare barn", "low-voltage cut-off"]
    assert mark.get("data-kind") == "provisional"
    assert mark.find(f"{SVG}polygon").get("class").startswith("f-paper")
    assert mark.find(f"{SVG}line").get("stroke-dasharray")
    assert "(provisional)" in "".join(mark.itertext())
    assert "provisional and not to be entered" in ladder_svg(held)
    assert "none of these values may be entered" in ladder_figure(held.design)
    assert "none of them may be entered" in energy_figure(held.design)
    assert "filled arrow" not in ladder_figure(held.design)
    assert "filled arrow" in ladder_figure(WHOLE.design)
    sound = marks(ladder_svg(WHOLE))["Inverter Spare barn", "low-voltage cut-off"]
    assert sound.find(f"{SVG}polygon").get("class").startswith("f-ink")
    assert not sound.find(f"{SVG}line").get("stroke-dasharray")


def test_the_packs_own_labels_keep_off_the_red_ground() -> None:
    picture = ladder_svg(WHOLE)
    pack = WHOLE.design.build.pack
    low, high, top, bottom = (
        float(root(picture).get(f"data-{name}")) for name in ("low", "high", "top", "bottom")
    )
    ends = [
        bottom + (top - bottom) * (q.m - low) / (high - low) for q in (pack.highest, pack.least)
    ]
    for (column, _), mark in marks(picture).items():
        for words in mark.iter(f"{SVG}text"):
            if column == "Pack":
                assert ends[0] <= float(words.get("y")) <= ends[1]


@given(width=st.floats(40, 200))
def test_a_label_never_breaks_before_a_unit(width: float) -> None:
    for one in svg.wrapped("Flooded lead-acid, 48 V; at 20 % and 5 mΩ", 12, width, 8)[1:]:
        assert one.split()[0].strip(";,") not in {"V", "%", "mΩ"}


def test_an_unknown_window_is_marked_as_such() -> None:
    picture = ladder_svg(made_up.bare())
    assert "window not known" in picture
    assert ">?</text>" in picture


def test_the_energy_bands_are_those_of_the_design() -> None:
    top = root(energy_svg(WHOLE))
    bands = {
        g.get("data-band"): tuple(float(g.get(f"data-{k}")) for k in ("from", "to", "wh"))
        for g in top.iter(f"{SVG}g")
        if g.get("data-band")
    }
    assert bands == {
        "out of reach": (0.0, 0.06, 590.0),
        "reserve": (0.06, 0.2, 1560.0),
        "everyday": (0.2, 0.88, 8140.0),
        "never charged": (0.88, 1.0, 1560.0),
    }
    lines = {
        g.get("data-name"): float(g.get("data-volts"))
        for g in top.iter(f"{SVG}g")
        if g.get("data-name")
    }
    assert lines == {
        "charge voltage": 55.8,
        "return to battery": 52.4,
        "changeover to utility": 49.4,
        "low-voltage cut-off": 46.3,
    }


def test_without_a_changeover_there_is_one_band_in_reach() -> None:
    picture = energy_svg(made_up.without_changeover())
    assert 'data-band="in reach"' in picture
    assert 'data-band="reserve"' not in picture


def test_without_a_usable_window_the_picture_says_so() -> None:
    assert "could not be worked out" in energy_svg(made_up.bare())


def test_a_curve_without_any_number_is_said_to_be_none() -> None:
    window = attrs.evolve(made_up.usable(), rest=np.full(101, np.nan))
    picture = energy_svg(attrs.evolve(WHOLE.design, usable=window))
    assert "holds no number" in picture


@given(labels=st.lists(st.tuples(st.floats(-50, 550), st.floats(5, 40)), min_size=1, max_size=12))
def test_labels_keep_apart_and_inside(labels: list[tuple[float, float]]) -> None:
    wanted, sizes = zip(*labels, strict=True)
    middles = svg.apart(wanted, sizes, 0.0, 500.0)
    boxes = sorted((m - s / 2, m + s / 2) for m, s in zip(middles, sizes, strict=True))
    assert boxes[0][0] >= -1e-6
    assert boxes[-1][1] <= 500.0 + 1e-6
    for (_, end), (start, _) in itertools.pairwise(boxes):
        assert start >= end - 1e-6


@given(wanted=st.floats(20, 480))
def test_a_label_alone_stays_where_it_wants_to_be(wanted: float) -> None:
    assert svg.apart([wanted], [20.0], 0.0, 500.0) == [pytest.approx(wanted)]
