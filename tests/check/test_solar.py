"""Solar arrays on their chargers. Worked by hand; severities of the thread: test_design.py."""

from __future__ import annotations

from typing import Any

import attrs
import pytest
from house.test_formulas import check
from hypothesis import given
from hypothesis import strategies as st
from strategies import (
    arrays,
    good_array,
    good_build,
    good_charger,
    good_inverter,
    groundwork,
    quantities,
    solar_build,
    solar_charger,
    solar_site,
)

from evpack.base.finding import Finding, Severity
from evpack.base.fitted import NOT_FITTED
from evpack.check.charging import charge_current_set
from evpack.check.solar import solar_sides
from evpack.check.solar_numbers import cold_open
from evpack.describe.array import Array
from evpack.describe.build import Build
from evpack.describe.charger import Charger
from evpack.describe.site import Site
from evpack.outcome.design import SolarSide
from evpack.setpoint.sheet import settings_sheet

OK, NOTE, CAUTION, UNKNOWN, STOP = Severity
# A short table of cold factors: rows to 10, 0 and −10 °C.
ROWS = ((10.0, 1.06), (0.0, 1.10), (-10.0, 1.14))


def judged(build: Build) -> tuple[tuple[SolarSide, ...], tuple[Finding, ...]]:
    return solar_sides(groundwork(build), ROWS)


def side(build: Build) -> SolarSide:
    (only,), _ = judged(build)
    return only


def found(build: Build, rule: str) -> Finding:
    return next(f for f in judged(build)[1] if f.rule.key == rule)


def with_array(**changes: Any) -> Build:
    return solar_build(arrays=good_array(**changes))


def with_sun(**changes: Any) -> Build:
    return solar_build(chargers=solar_charger(**changes))


def at(**changes: Any) -> Build:
    return solar_build(site=solar_site(**changes))


# --- The numbers ------------------------------------------------------------------------------


def test_the_numbers_of_the_solar_build() -> None:
    one = side(solar_build())
    values = [line.value for line in one.lines()]
    assert values == pytest.approx(
        [
            121.878,  # 3 · 37 · (1 + 0.0028 · 35) = 111 · 1.098
            79.98,  # 3 · 31 · (1 − 0.0035 · 40) = 93 · 0.86, cells at 35 + 30 = 65 °C
            25.0,  # 2 · 10 · 1.25
            1800.0,  # 3 · 2 · 300
            1548.0,  # 86 %
            36.857143,  # 1548 / (14 · 3.0), below the 40 A of the charger
        ]
    )


def test_every_number_is_what_its_formula_gives() -> None:
    for build in (
        solar_build(),
        with_array(coefficient="-100 mV/K", power_coefficient="-0.1 V/K"),
        with_array(coefficient=None, power_coefficient=None, power=None),
        at(coldest_outside="26 degC", warmest_outside="30 degC"),
        with_array(open_circuit="0 V", maximum_power_voltage="0 V", coefficient="-1 V/K"),
    ):
        lines = side(build).lines()
        assert len(lines) == 6
        for worked in lines:
            check(worked)


@given(array=arrays("array", "sun", 58.8), cold=quantities("degC", -45.0, 30.0))
def test_every_number_of_any_array(array: Array, cold: str) -> None:
    site = solar_site(coldest_outside=cold)
    for worked in side(solar_build(arrays=array, site=site)).lines():
        check(worked)


@pytest.mark.parametrize(
    ("coldest", "coefficient", "volts"),
    [
        ("-10 degC", "-100 mV/K", 3 * (37 + 0.1 * 35)),
        ("-10 degC", None, 111 * 1.14),
        ("-9 degC", None, 111 * 1.14),  # within the row to −10 °C
        ("25 degC", None, 111.0),
        ("30 degC", "-0.28 %/K", 111.0),  # a warm place earns nothing
    ],
)
def test_cold_voltage(coldest: str, coefficient: str | None, volts: float) -> None:
    build = solar_build(
        arrays=good_array(coefficient=coefficient), site=solar_site(coldest_outside=coldest)
    )
    cold = side(build).cold_open
    assert cold is not None
    assert cold.value == pytest.approx(volts)


@pytest.mark.parametrize("other", [{"crystalline": None}, {"crystalline": False}])
def test_the_table_holds_for_crystalline_silicon_alone(other: dict[str, Any]) -> None:
    build = with_array(coefficient=None, **other)
    assert side(build).cold_open is None
    asked = found(build, "solar.cold-voltage")
    assert asked.severity is UNKNOWN
    assert "crystalline = true" in asked.remedy


def test_colder_than_the_table_is_not_known() -> None:
    build = solar_build(
        arrays=good_array(coefficient=None), site=solar_site(coldest_outside="-10.1 degC")
    )
    asked = found(build, "solar.cold-voltage")
    assert asked.severity is UNKNOWN
    assert "does not reach that far" in asked.remedy


@pytest.mark.parametrize(
    ("build", "asked"),
    [
        (with_array(open_circuit=None), "open_circuit of array under [[pv]]."),
        (at(coldest_outside=None), "coldest_outside under [site]."),
        (with_sun(pv_highest=None), "pv_highest of sun."),
    ],
)
def test_what_the_cold_voltage_lacks_is_asked_for(build: Build, asked: str) -> None:
    one = found(build, "solar.cold-voltage")
    assert one.severity is UNKNOWN
    assert asked in one.remedy
    assert not [f for f in judged(build)[1] if f.rule.key == "solar.cold-headroom"]


def test_a_hot_voltage_without_a_coefficient_is_assumed_on_the_safe_side() -> None:
    # 93 · (1 − 0.005 · 40) = 74.4 V.
    hot = side(with_array(power_coefficient=None)).hot_working
    assert hot is not None
    assert hot.value == pytest.approx(74.4)
    assert "temperature coefficient of the voltage at maximum power" in hot.assumed


def test_power_without_a_rating_is_volts_times_amperes() -> None:
    # 3 · 2 · 31 · 9.6 = 1785.6 W.
    rated = side(with_array(power=None)).rated
    assert rated is not None
    assert rated.value == pytest.approx(1785.6)
    nothing = side(with_array(power=None, maximum_power_voltage=None))
    assert (nothing.rated, nothing.real, nothing.into_battery) == (None, None, None)
    assert (
        "not told"
        in found(with_array(power=None, maximum_power_current=None), "solar.yield").detail
    )


def test_the_charger_limits_what_goes_into_the_battery() -> None:
    one = side(with_array(in_parallel=4)).into_battery
    assert one is not None
    assert one.value == 40.0  # 3096 W would be 73.7 A
    build = with_sun(current=None, current_setting=None)
    assert side(build).into_battery is None
    assert found(build, "solar.yield").detail.endswith("on a good day.")


# --- The rules --------------------------------------------------------------------------------


def test_margins_of_the_solar_build() -> None:
    build = solar_build()
    for rule, margin in (
        ("solar.cold-voltage", 150 - 121.878),
        ("solar.cold-headroom", 142.5 - 121.878),
        ("solar.start", 79.98 - 61.7),  # 14 · 4.05 V and 5 V
        ("solar-input.short-circuit", 40 - 20),  # 2 · 10 A; 25 A in strong sun
        ("solar-input.power", 1200),
    ):
        one = found(build, rule)
        assert one.severity is OK
        assert one.margin == pytest.approx(margin)


def test_a_start_voltage_that_nobody_said_is_five_volts() -> None:
    said, unsaid = with_sun(pv_above_battery="5 V"), with_sun(pv_above_battery=None)
    assert found(unsaid, "solar.start").limit == found(said, "solar.start").limit
    assert "how far above the battery the charger starts" in found(unsaid, "solar.start").assumed
    higher = found(with_sun(pv_above_battery="20 V"), "solar.start")
    assert higher.limit == pytest.approx(76.7)


def test_an_array_that_can_never_reach_the_battery() -> None:
    # One panel of 37 V: 40.6 V on the coldest morning, of 61.7 V.
    gone = {"in_series": 1, "maximum_power_voltage": None}
    assert found(with_array(**gone), "solar.start").severity is STOP
    blind = solar_build(
        arrays=good_array(**gone), site=solar_site(coldest_outside=None, warmest_outside=None)
    )
    assert found(blind, "solar.start").severity is STOP
    nothing = with_array(open_circuit=None, maximum_power_voltage=None)
    assert found(nothing, "solar.start").severity is UNKNOWN


def test_touch() -> None:
    assert found(with_array(in_series=1), "solar.touch").severity is OK  # 40.6 V
    assert found(solar_build(), "solar.touch").severity is NOTE
    # 2 · 37 V are enough, also where the cold is not known.
    blind = solar_build(arrays=good_array(in_series=2), site=solar_site(coldest_outside=None))
    assert found(blind, "solar.touch").severity is NOTE
    unsaid = found(with_array(open_circuit=None), "solar.touch")
    assert unsaid.severity is NOTE
    assert "take it as above" in unsaid.detail


def test_a_pass_on_assumed_numbers_is_a_limit() -> None:
    assumed = found(with_array(basis="assumed"), "solar.cold-voltage")
    assert assumed.severity is CAUTION
    assert "open-circuit voltage of a panel" in assumed.remedy
    of_charger = found(with_sun(basis="assumed"), "solar-input.short-circuit")
    assert of_charger.severity is CAUTION
    assert "most current of the charger's solar input" in of_charger.remedy
    # The table rests on the word that the cells are of crystalline silicon.
    basis = {"default": "datasheet", "crystalline": "assumed"}
    by_table = found(with_array(coefficient=None, basis=basis), "solar.cold-voltage")
    assert by_table.severity is CAUTION


def test_a_breach_stays_a_stop_on_assumed_numbers() -> None:
    build = with_sun(basis="assumed", pv_highest="121 V", pv_most_current="19 A")
    assert found(build, "solar.cold-voltage").severity is STOP
    assert found(build, "solar-input.short-circuit").severity is STOP


def test_several_arrays_on_one_input_add_up() -> None:
    two = (good_array(), good_array(name="other"))
    joined = found(solar_build(arrays=two), "solar-input.short-circuit")
    # 4 · 10 A are what 40 A allow; in strong sun they are 50 A: our margin, a caution.
    assert joined.value == pytest.approx(40.0)
    assert (joined.severity, joined.guarded) == (CAUTION, pytest.approx(50.0))
    assert found(solar_build(arrays=two), "solar-input.power").value == pytest.approx(3600.0)
    apart = tuple(attrs.evolve(a, on_input=n) for a, n in zip(two, "12", strict=True))
    every = judged(solar_build(arrays=apart))[1]
    currents = [f.value for f in every if f.rule.key == "solar-input.short-circuit"]
    assert currents == pytest.approx([20.0, 20.0])
    assert not [f for f in every if f.rule.key == "solar-input.strings-match"]
    # The power limit is of the whole charger.
    assert found(solar_build(arrays=apart), "solar-input.power").value == pytest.approx(3600.0)


@pytest.mark.parametrize(
    ("other", "severity"),
    [
        ({}, OK),
        ({"in_series": 6, "open_circuit": "18.5 V", "maximum_power_voltage": "15 V"}, OK),
        ({"open_circuit": "35.2 V"}, CAUTION),  # 105.6 of 111 V, 4.9 %
        ({"open_circuit": "35.1 V"}, CAUTION),  # 105.3 of 111 V, 5.1 %
        ({"in_series": 4}, CAUTION),
        ({"open_circuit": None}, UNKNOWN),
    ],
)
def test_strings_that_are_joined(other: dict[str, Any], severity: Severity) -> None:
    two = (good_array(), good_array(**{"name": "other", **other}))
    one = found(solar_build(arrays=two), "solar-input.strings-match")
    assert one.severity is severity
    assert bool(one.remedy) == (severity is not OK)


@pytest.mark.parametrize(
    ("stated", "severity"),
    [("1.8 kW", OK), ("1.785 kW", OK), ("1.815 kW", OK), ("1.78 kW", NOTE), ("3 kW", NOTE)],
)
def test_two_statements_of_the_power(stated: str, severity: Severity) -> None:
    assert found(with_sun(power=stated), "solar-input.power-agrees").severity is severity


def test_no_word_on_the_panels() -> None:
    assert found(solar_build(arrays=None), "solar.described").severity is UNKNOWN
    assert 'pv = "none"' in found(solar_build(arrays=None), "solar.described").remedy
    settled = judged(solar_build(arrays=NOT_FITTED))
    assert settled[0] == ()
    assert [f.severity for f in settled[1]] == [CAUTION]
    # One of two solar chargers left bare is not known either.
    two = solar_build(chargers=(solar_charger(), solar_charger(name="second")))
    bare = [f for f in judged(two)[1] if f.about == "second"]
    assert [(f.rule.key, f.severity) for f in bare] == [("solar.described", UNKNOWN)]


def test_a_build_without_solar_has_nothing_to_judge() -> None:
    assert judged(good_build()) == ((), ())
    assert judged(good_build(arrays=NOT_FITTED)) == ((), ())


@pytest.mark.parametrize("source", ["mains", "generator"])
def test_panels_on_a_charger_that_takes_none(source: str) -> None:
    build = solar_build(chargers=solar_charger(source=source))
    sides, every = judged(build)
    assert [(f.rule.key, f.severity) for f in every] == [("solar.feeds", STOP)]
    assert sides[0].cold_open is not None  # a fuse of its strings is chosen all the same


def test_a_solar_charger_within_an_inverter() -> None:
    build = solar_build(
        inverters=good_inverter(count=2, charger=solar_charger(name="inner")),
        chargers=(),
        arrays=good_array(feeds="inner"),
    )
    one = found(build, "solar.described")
    assert one.severity is NOTE
    assert "Each of the 2" in one.detail
    assert side(build).charger == "inner"


# --- Every charger counts, and panels change nothing ------------------------------------------


def test_more_panels_than_the_charger_passes_on_change_no_charge_current() -> None:
    def set_(build: Build) -> float | None:
        ground = groundwork(build)
        return charge_current_set(ground, settings_sheet(ground)[0])

    few, many = solar_build(), with_array(in_parallel=9)
    assert set_(few) == set_(many)
    both = solar_build(
        chargers=(
            solar_charger(current="10 A", current_setting=NOT_FITTED),
            good_charger(current="7 A", current_setting=NOT_FITTED, count=2),
        ),
        inverters=good_inverter(
            charger=good_charger(name="inner", current="5 A", current_setting=NOT_FITTED)
        ),
    )
    assert set_(both) == pytest.approx(10 + 2 * 7 + 5)


# --- What may stay unsaid ---------------------------------------------------------------------

MAY_BE_UNKNOWN = {
    (Array, "maximum_power_current"): "the rated power is stated",
    (Array, "power"): "volts times amperes stand in",
    (Array, "power_coefficient"): "an assumed one on the safe side stands in",
    (Array, "crystalline"): "a coefficient is stated",
    (Array, "coefficient"): "the table stands in",
    (Array, "largest_fuse"): "asked for where strings need fuses",
    (Charger, "pv_above_battery"): "an assumed one stands in",
    (Charger, "pv_inputs"): "asked for where arrays are put on several",
    (Site, "warmest_outside"): "how well it charges in the heat is no stop",
    (Charger, "pv_most_power"): "a note: the current limit is stated",
}
ASKED = [
    *((Array, f.name) for f in attrs.fields(Array) if f.default is None),
    *((Charger, f.name) for f in attrs.fields(Charger) if f.name.startswith("pv_")),
    (Site, "coldest_outside"),
    (Site, "warmest_outside"),
]


@pytest.mark.parametrize(("noun", "field"), ASKED)
def test_an_unknown_of_the_solar_side_holds(noun: type, field: str) -> None:
    build = {Array: with_array, Charger: with_sun, Site: at}[noun](**{field: None})
    worst = max(f.severity for f in judged(build)[1])
    assert (worst is UNKNOWN) == ((noun, field) not in MAY_BE_UNKNOWN)
    assert worst < STOP


# --- Whatever the array -----------------------------------------------------------------------

COLD = st.floats(-45, 35)


def cold_value(array: Array, celsius: float, rows: tuple[tuple[float, float], ...]) -> float | None:
    worked = cold_open(
        array, solar_site(coldest_outside=f"{celsius} degC", warmest_outside=None), rows
    )
    return None if worked is None else worked.value


@given(array=arrays("array", "sun", 58.8), one=COLD, other=COLD)
def test_colder_and_longer_never_has_less_voltage(array: Array, one: float, other: float) -> None:
    cold, warm = sorted((one, other))
    high, low = cold_value(array, cold, ROWS), cold_value(array, warm, ROWS)
    if high is not None and low is not None:
        assert high >= low * (1 - 1e-12)
        longer = attrs.evolve(array, in_series=array.in_series + 1)
        taller = cold_value(longer, cold, ROWS)
        assert taller is not None
        assert taller >= high


@given(array=arrays("array", "sun", 58.8), celsius=COLD)
def test_the_cold_never_counts_as_less_than_the_rating(array: Array, celsius: float) -> None:
    cold = cold_value(array, celsius, ROWS)
    if cold is not None:
        assert array.open_circuit is not None
        assert cold >= array.in_series * array.open_circuit.m * (1 - 1e-12)


@given(
    array=arrays("array", "sun", 58.8),
    cold=st.none() | quantities("degC", -45.0, 25.0),
    limit=st.none() | st.floats(5, 600),
)
def test_an_input_below_the_cold_voltage_never_passes(
    array: Array, cold: str | None, limit: float | None
) -> None:
    build = solar_build(
        arrays=array,
        chargers=solar_charger(pv_highest=None if limit is None else f"{limit} V"),
        site=solar_site(coldest_outside=cold),
    )
    one, volts = found(build, "solar.cold-voltage"), side(build).cold_open
    told = array.relative(array.coefficient, array.open_circuit)
    if volts is None or limit is None or (told is not None and told > -0.0015):
        assert one.severity is UNKNOWN
    else:
        assert (one.severity is STOP) == (volts.value > limit * (1 + 1e-9))


@given(array=arrays("array", "sun", 58.8))
def test_one_more_string_never_helps_the_input(array: Array) -> None:
    more = attrs.evolve(array, in_parallel=array.in_parallel + 1)
    before, after = (
        found(solar_build(arrays=a), "solar-input.short-circuit").severity for a in (array, more)
    )
    assert after >= before


@pytest.mark.parametrize(
    ("coefficient", "severity"),
    [
        # Of 40 V: 0.15 % are 60 mV a kelvin.
        ("-0.15 %/K", OK),
        ("-60 mV/K", OK),
        ("-0.149 %/K", UNKNOWN),
        ("-59 mV/K", UNKNOWN),
        ("-0.028 %/K", UNKNOWN),  # a slipped decimal point
        ("-1 mV/K", UNKNOWN),  # of one cell, not of the panel
        ("0 %/K", UNKNOWN),
    ],
)
def test_a_coefficient_that_no_panel_has_is_asked_for_again(
    coefficient: str, severity: Severity
) -> None:
    one = found(with_array(coefficient=coefficient, open_circuit="40 V"), "solar.cold-voltage")
    assert one.severity is severity
    assert severity is OK or "again" in one.remedy


def test_a_slipped_coefficient_is_told_in_its_own_size() -> None:
    # 28 mV of 45 V are 0.0622 %.
    one = found(with_array(coefficient="-0.028 V/K", open_circuit="45 V"), "solar.cold-voltage")
    assert "rises by 0.0622 % a kelvin" in one.detail
    assert "less than 0.15 %" in one.detail


def test_outside_is_never_warmer_than_the_place_of_the_pack() -> None:
    build = solar_build(site=solar_site(coldest_outside="18 degC"))  # the pack: 16 °C
    one = found(build, "solar.cold-voltage")
    assert one.severity is UNKNOWN
    assert "a minus may be missing" in one.detail


@pytest.mark.parametrize(
    ("inputs", "names", "severity"),
    [
        (None, ("A", "B"), UNKNOWN),
        (1, ("A", "B"), STOP),
        (2, ("A", "B"), OK),
        (None, ("A", "a "), None),  # one input, however it is typed
    ],
)
def test_plugs_side_by_side_may_be_one_input(
    inputs: int | None, names: tuple[str, str], severity: Severity | None
) -> None:
    panels = tuple(good_array(name=f"roof {k}", on_input=name) for k, name in enumerate(names))
    build = solar_build(arrays=panels, chargers=solar_charger(pv_inputs=inputs))
    told = [f.severity for f in judged(build)[1] if f.rule.key == "solar-input.separate"]
    assert told == ([] if severity is None else [severity])


def test_an_array_without_an_input_beside_one_with_is_asked_for() -> None:
    panels = (good_array(name="roof", on_input="1"), good_array(name="wall"))
    build = solar_build(arrays=panels, chargers=solar_charger(pv_inputs=2))
    one = found(build, "solar-input.separate")
    assert one.severity is UNKNOWN
    assert "of others nobody said" in one.detail
