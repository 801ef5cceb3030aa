"""The one-line diagram: every circuit is on it, with what is known of it, and can be read."""

import re
import xml.etree.ElementTree as ET

import attrs
import made_up
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from reading import SVG, outside, overlaps, root
from strategies import good_build, good_pack

from evpack.base.finding import Severity
from evpack.base.fitted import NOT_FITTED
from evpack.describe.array import Array
from evpack.describe.cabling import Busbar, Cabling
from evpack.describe.safeguards import Disconnect, EmergencyOff, Precharge, Safeguards
from evpack.design import design
from evpack.outcome.design import Design
from evpack.outcome.protection import ARRAY, CHARGER, MAIN, STRING, Circuit
from evpack.show.draw.one_line import one_line_svg
from evpack.show.protection import one_line_figure, protects
from evpack.show.to_html import to_html

WHOLE = made_up.decision(Severity.CAUTION).design
NAME = "Inverter number {} of the house with a rather long name"


def groups(picture: str) -> dict[str, ET.Element]:
    return {
        g.get("data-circuit"): g for g in root(picture).iter(f"{SVG}g") if g.get("data-circuit")
    }


def words_of(group: ET.Element) -> str:
    return " ".join(text.text or "" for text in group.iter(f"{SVG}text")).replace("\u00a0", " ")


def of(*circuits: Circuit, **changes: object) -> Design:
    """Return a design with other circuits behind the strings, each with the fuse of its place."""
    schedule = WHOLE.protection
    fuses = [attrs.evolve(schedule.fuses[0], place=c.place, count=c.count) for c in circuits]
    every = (schedule.circuits[0], *circuits)
    return attrs.evolve(
        WHOLE,
        build=attrs.evolve(WHOLE.build, **changes),
        protection=attrs.evolve(schedule, circuits=every, fuses=(schedule.fuses[0], *fuses)),
    )


def many(devices: int, arrays: int = 0) -> Design:
    """Return a design with so many devices, every other one a charger, and arrays on the last."""
    run = WHOLE.protection.circuits[0].run
    kinds = [MAIN if k % 2 else CHARGER for k in range(devices)]
    circuits = [
        made_up.circuit(kind, f"place {k}", NAME.format(k), run, count=k + 1)
        for k, kind in enumerate(kinds)
    ]
    hung = [
        made_up.circuit(ARRAY, f"array {k}", f"Array {k}", run, end=circuits[-1].device, count=3)
        for k in range(arrays)
    ]
    return of(*circuits, *hung)


def test_every_circuit_of_the_schedule_is_drawn_once() -> None:
    drawn = groups(one_line_svg(WHOLE))
    assert list(drawn) == [circuit.place for circuit in WHOLE.protection.circuits]
    kinds = [group.get("data-kind") for group in drawn.values()]
    assert kinds == [STRING, MAIN, CHARGER, ARRAY]


def test_a_circuit_carries_fuse_cable_and_length() -> None:
    drawn = groups(one_line_svg(WHOLE))
    string = words_of(drawn["string"])
    for part in ("3 × 100 A", "Class T", "2/0 AWG (67.4 mm²)", "1.2 m (3.9 ft)"):
        assert part in string
    main = words_of(drawn["main Spare barn"])
    for part in ("✕ 2 × 2/0 AWG", "side by side", "Inverter Spare barn"):
        assert part in main


def test_what_is_unknown_has_a_mark_and_a_word() -> None:
    drawn = groups(one_line_svg(WHOLE))
    assert "? fuse: cannot tell yet" in words_of(drawn["main Spare barn"])
    charger = words_of(drawn["charger Spare barn"])
    assert "✕ fuse: none fits" in charger
    assert "? cable not known" in charger
    assert "no fuse needed" in words_of(drawn["array Spare barn"])
    # Untested is not passed.
    assert "? 2/0 AWG" in words_of(drawn["array Spare barn"])
    picture = one_line_svg(WHOLE)
    for word in ("disconnect", "precharge", "emergency", "earthing"):
        assert word in picture


def test_the_plus_of_the_battery_is_its_long_plate_towards_the_fuse() -> None:
    string = groups(one_line_svg(WHOLE))["string"]
    (battery,) = (g for g in string.iter(f"{SVG}g") if g.get("data-battery"))
    plates = [
        (float(line.get("y1")), abs(float(line.get("x2")) - float(line.get("x1"))))
        for line in battery.iter(f"{SVG}line")
        if line.get("y1") == line.get("y2")
    ]
    top, bottom = min(plates), max(plates)
    assert top[1] > bottom[1]
    signs = {text.text: float(text.get("y")) for text in battery.iter(f"{SVG}text")}
    assert signs["+"] < signs["−"]
    (fuse,) = (float(rect.get("y")) for rect in string.iter(f"{SVG}rect"))
    assert fuse < top[0]


@pytest.mark.parametrize("devices", [1, 2, 3, 6, 9])
@pytest.mark.parametrize("arrays", [0, 1, 3])
def test_any_number_of_devices_is_legible(devices: int, arrays: int) -> None:
    picture = one_line_svg(many(devices, arrays))
    assert overlaps(picture) == []
    assert outside(picture) == []
    assert len(groups(picture)) == 1 + devices + arrays
    assert float(root(picture).get("width")) <= 1000
    sizes = [float(text.get("font-size")) for text in root(picture).iter(f"{SVG}text")]
    assert min(sizes) >= 11


@settings(max_examples=30, deadline=None)
@given(name=st.text(min_size=1, max_size=60), place=st.text(max_size=60))
def test_no_name_makes_labels_meet(name: str, place: str) -> None:
    run = WHOLE.protection.circuits[0].run
    design = of(
        made_up.circuit(MAIN, "a", name, run),
        made_up.circuit(ARRAY, "b", name, run, end=name),
        safeguards=Safeguards(
            disconnect=Disconnect(name=name, dc_voltage="80 V"),
            emergency_off=EmergencyOff(name=name, place=place, stops_charging=False),
            precharge=Precharge(),
        ),
    )
    picture = one_line_svg(design)
    assert overlaps(picture) == []
    assert outside(picture) == []


def test_arrays_hang_on_their_charger_and_one_on_no_row_is_drawn_all_the_same() -> None:
    design = many(2, 2)
    schedule = design.protection
    loose = attrs.evolve(schedule.circuits[-1], place="elsewhere", end="no device")
    circuits = (*schedule.circuits, loose)
    picture = one_line_svg(
        attrs.evolve(design, protection=attrs.evolve(schedule, circuits=circuits))
    )
    assert "elsewhere" in groups(picture)
    assert overlaps(picture) == []
    assert outside(picture) == []


def test_an_array_on_a_built_in_charger_hangs_on_its_inverter() -> None:
    inverter = attrs.evolve(
        WHOLE.build.inverters[0],
        charger=attrs.evolve(WHOLE.build.chargers[0], name="built in"),
    )
    run = WHOLE.protection.circuits[0].run
    array = Array(name="roof", feeds="built in", in_series=3, in_parallel=2)
    design = of(
        made_up.circuit(MAIN, "main", inverter.name, run),
        made_up.circuit(CHARGER, "other", "Roof Spare barn", run),
        made_up.circuit(ARRAY, "array", "roof", run, end="built in"),
        inverters=(inverter,),
        arrays=(array,),
    )
    picture = one_line_svg(design)
    assert list(groups(picture)) == ["string", "main", "array", "other"]
    assert "3 in series, 2 in parallel" in picture
    assert "inverter with charger" in picture


def test_devices_that_are_described_are_told() -> None:
    picture = one_line_svg(
        attrs.evolve(
            WHOLE,
            build=attrs.evolve(
                WHOLE.build,
                pack=attrs.evolve(WHOLE.build.pack, earthed="minus", strings=1),
                cabling=Cabling(
                    link=WHOLE.protection.circuits[0].run,
                    bar=Busbar(width="30 mm", thickness="5 mm", length="0.4 m", count=2),
                ),
                safeguards=Safeguards(
                    disconnect=Disconnect(dc_voltage="80 V", current="250 A", poles=2),
                    precharge=Precharge(resistance="47 Ohm"),
                    emergency_off=EmergencyOff(
                        place="by the door", opens_every_string=True, stops_inverters=False
                    ),
                ),
            ),
        )
    )
    said = words_of(root(picture))
    for part in (
        "2 × 30 × 5 mm copper",
        "80 V DC, 250 A, 2 poles",
        "47 Ω",
        "by the door",
        "opens strings: yes",
        "stops charging: ?",
        "stops inverters: no",
        "minus is earthed",
        "links: 2/0 AWG",
        "1 string ",
    ):
        assert part in said
    assert "? not described" not in said
    assert overlaps(picture) == []


def test_what_is_not_fitted_is_said_in_words() -> None:
    guards = Safeguards(disconnect=NOT_FITTED, precharge=NOT_FITTED, emergency_off=NOT_FITTED)
    said = words_of(
        root(one_line_svg(attrs.evolve(WHOLE, build=attrs.evolve(WHOLE.build, safeguards=guards))))
    )
    for part in ("no disconnect", "no precharge fitted", "no emergency disconnect"):
        assert part in said


def test_a_breaker_is_drawn_as_one_and_both_poles_are_told() -> None:
    design = many(1)
    schedule = design.protection
    string = schedule.fuses[0]
    breaker = attrs.evolve(
        string, count=6, family=attrs.evolve(string.family, kind="breaker", poles=2)
    )
    changed = attrs.evolve(schedule, fuses=(breaker, *schedule.fuses[1:]))
    group = groups(one_line_svg(attrs.evolve(design, protection=changed)))["string"]
    assert "6 × 100 A, one in each pole" in words_of(group)
    slanted = [
        line
        for line in group.iter(f"{SVG}line")
        if line.get("x1") != line.get("x2") and line.get("y1") != line.get("y2")
    ]
    assert len(slanted) == 2


def test_a_size_left_open_is_not_named() -> None:
    run = WHOLE.protection.circuits[0].run
    open_ = attrs.evolve(run, alternatives=(run.conductor,), left_open=True)
    design = of(made_up.circuit(MAIN, "main", "Inverter", open_))
    words = words_of(groups(one_line_svg(design))["main"])
    assert "size left open, none settled" in words
    assert "AWG" not in words


@pytest.mark.parametrize("severity", [Severity.STOP, Severity.UNKNOWN])
def test_a_design_that_is_held_up_is_drawn_as_provisional(severity: Severity) -> None:
    held = made_up.decision(severity).design
    picture = one_line_svg(held)
    assert "✕ Do not buy or build by these" in picture
    assert "nothing is to be bought or built by it" in to_html((one_line_figure(held),))
    for group in groups(picture).values():
        assert any(shape.get("stroke-dasharray") for shape in group.iter())
    assert "Do not buy" not in one_line_svg(WHOLE)
    string = groups(one_line_svg(WHOLE))["string"]
    wires = [s for s in string.iter(f"{SVG}line") if s.get("x1") == s.get("x2")]
    assert [w for w in wires if w.get("stroke-dasharray")] == [
        w for w in wires if w.get("stroke-dasharray") == "2 2"
    ]


def test_without_a_schedule_the_picture_says_so() -> None:
    assert "could not be worked out" in one_line_svg(made_up.bare())
    assert "could not be worked out" in to_html(protects(made_up.bare().design))


def test_the_description_tells_every_circuit() -> None:
    top = root(one_line_svg(WHOLE))
    said = re.sub(r"\s+", " ", top[1].text or "")
    for circuit in WHOLE.protection.circuits:
        assert circuit.place in said
    assert "100 A" in said


@pytest.mark.parametrize(
    ("earthed", "way"), [("minus", "up"), ("plus", "down"), ("none", "up"), (None, "up")]
)
def test_the_pole_that_is_not_earthed_is_drawn_towards_the_fuse(
    earthed: str | None, way: str
) -> None:
    made = design(good_build(pack=good_pack(earthed=earthed)))
    assert f'data-battery="plus {way}"' in one_line_svg(made)
