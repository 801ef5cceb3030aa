"""Disconnects and bars: worked by hand, and a second opinion on whatever is passed.

The good build draws 78.354 A at 42 V (see test_schedule.py) and is charged with 40 A: all that
flows at once is 78.354 A; NEC asks that 125 % of it, 97.94 A, be carried, IEC 60364-4-43 (433.1)
the current itself. With our margin for hours and ripple it is 78.354 · 1.1 · 1.25 = 107.74 A. Three
string fuses of 80 A guard its bars.
"""

from __future__ import annotations

from typing import Any

import attrs
import pytest
from hypothesis import given
from strategies import (
    IRON,
    builds,
    good_bar,
    good_build,
    good_cabling,
    good_charger,
    good_disconnect,
    good_emergency,
    good_family,
    good_inverter,
    good_module,
    good_pack,
    good_safeguards,
    good_site,
    with_module,
    with_pack,
    with_policy,
    with_safeguards,
)

from evpack.base.finding import Finding, Severity
from evpack.base.fitted import NOT_FITTED
from evpack.describe.build import Build
from evpack.describe.cabling import Busbar
from evpack.describe.charger import Charger
from evpack.describe.safeguards import Disconnect, EmergencyOff
from evpack.design import design
from evpack.outcome.protection import Need

OK, NOTE, CAUTION, UNKNOWN, STOP = Severity
ASKED = {"nec": 78.3540 * 1.25, "iec": 78.3540}  # A
THROUGH = 78.3540 * 1.1 * 1.25  # A
# 14 · 4.2 V against 0.5 · 20 mΩ of two modules and 2 · 1 m of lead at 0.64 mΩ/m, cold (· 0.82),
# in three strings.
FAULT = 58.8 / ((0.5 * 0.020 + 2 * 0.64e-3 * 0.82) / 3)  # A


def findings(build: Build, rule: str) -> list[Finding]:
    return [f for f in design(build).findings if f.rule.key == rule]


def finding(build: Build, rule: str) -> Finding:
    (found,) = findings(build, rule)
    return found


def need(build: Build, what: str) -> Need:
    schedule = design(build).protection
    assert schedule is not None
    (found,) = (n for n in schedule.needs if n.what == what)
    return found


def disconnect(**changes: object) -> Build:
    return with_safeguards(disconnect=good_disconnect(**changes))


def emergency(**changes: object) -> Build:
    return with_safeguards(emergency_off=good_emergency(**changes))


def bar(**changes: object) -> Build:
    return good_build(cabling=good_cabling(bar=good_bar(**changes)))


# --- The battery disconnect -------------------------------------------------------------------


def test_a_disconnect_is_told_in_numbers() -> None:
    volts, asked, wished, fault = need(good_build(), "battery disconnect").lines
    assert volts.value == pytest.approx(14 * 4.2)
    assert asked.value == pytest.approx(ASKED["nec"], rel=1e-6)
    assert wished.value == pytest.approx(THROUGH, rel=1e-6)
    assert fault.value == pytest.approx(FAULT, rel=1e-3)


def test_no_better_rating_is_named_than_is_asked_for() -> None:
    # With neither margin: 78.354 A are wished for, and 97.943 A asked.
    bare = with_policy(continuous_factor="100 %", ripple="100 %")
    words = "; ".join(need(bare, "battery disconnect").must)
    assert "carries 98 A or more, DC" in words
    assert "better" not in words


def test_charging_rules_where_it_is_more_than_the_load() -> None:
    # 2 · 60 A · 1.25; no inverter's ripple flows in it. IEC: the current itself.
    build = good_build(chargers=(good_charger(current="60 A", count=2),))
    asked, wished = need(build, "battery disconnect").lines[1:3]
    assert (asked.value, wished.value) == (pytest.approx(150.0), pytest.approx(150.0))
    told = need(attrs.evolve(build, site=good_site(rules="iec")), "battery disconnect")
    assert [line.value for line in told.lines[1:3]] == [pytest.approx(120.0), pytest.approx(150.0)]


def test_inverters_and_built_in_chargers_count_once_for_each_unit() -> None:
    # Two inverters; each built-in charger gives more than its inverter takes: 2 · 90 · 1.25, and
    # that times 1.1.
    strong = good_charger(name="built in", current="90 A")
    build = good_build(inverters=(good_inverter(count=2, charger=strong),), chargers=())
    asked, wished = need(build, "battery disconnect").lines[1:3]
    assert (asked.value, wished.value) == (pytest.approx(225.0), pytest.approx(247.5))


@pytest.mark.parametrize(
    ("field", "rule", "passes", "fails"),
    [
        ("dc_voltage", "voltage", "58.8 V", "58.79 V"),
        ("current", "current", "107.75 A", "97.94 A"),
    ],
)
def test_a_rating_is_held_against_what_is_needed(
    field: str, rule: str, passes: str, fails: str
) -> None:
    key = f"device.disconnect-{rule}"
    assert finding(disconnect(**{field: passes}), key).severity is OK
    assert finding(disconnect(**{field: fails}), key).severity is STOP
    silent = finding(disconnect(**{field: None}), key)
    assert silent.severity is UNKNOWN
    assert field in silent.remedy


@pytest.mark.parametrize(
    ("rules", "current", "severity"),
    [
        ("nec", "107.75 A", OK),
        ("nec", "107.73 A", CAUTION),
        ("nec", "97.95 A", CAUTION),
        ("nec", "97.94 A", STOP),
        ("iec", "107.73 A", CAUTION),
        ("iec", "78.36 A", CAUTION),
        ("iec", "78.35 A", STOP),
    ],
)
def test_only_what_the_rule_set_asks_stops_a_switch_or_a_bar(
    rules: str, current: str, severity: Severity
) -> None:
    site = good_site(rules=rules)
    switch = finding(
        attrs.evolve(disconnect(current=current), site=site), "device.disconnect-current"
    )
    bars = finding(attrs.evolve(bar(carries=current), site=site), "bar.carries")
    for found in (switch, bars):
        assert found.severity is severity
        assert found.value == pytest.approx(ASKED[rules], rel=1e-4)
        if severity is CAUTION:
            assert found.guarded == pytest.approx(THROUGH, rel=1e-6)
            assert "108 A" in found.detail  # the two figures of it, as a person reads them


def test_a_module_that_keeps_under_its_chemistry_earns_no_lower_rating() -> None:
    build = with_module(cell_highest="4.1 V")
    assert need(build, "battery disconnect").lines[0].value == pytest.approx(58.8)


@pytest.mark.parametrize(
    ("poles", "earthed", "severity"),
    [
        (2, "none", OK),
        (2, None, OK),
        (2, "plus", OK),
        (1, "minus", CAUTION),
        (1, "none", STOP),
        (1, None, UNKNOWN),
        (None, "minus", UNKNOWN),
    ],
)
def test_every_pole_that_is_not_earthed_is_opened(
    poles: int | None, *, earthed: str | None, severity: Severity
) -> None:
    build = good_build(
        pack=good_pack(earthed=earthed),
        safeguards=good_safeguards(disconnect=good_disconnect(poles=poles)),
    )
    assert finding(build, "device.disconnect-poles").severity is severity


@pytest.mark.parametrize(
    ("earthed", "words"),
    [
        ("minus", "the pole that is not earthed"),
        ("plus", "the pole that is not earthed"),
        ("none", "plus and minus"),
        (None, "every pole"),
    ],
)
def test_what_it_must_open_is_said(*, earthed: str | None, words: str) -> None:
    must = need(with_pack(earthed=earthed), "battery disconnect").must
    assert any(line.startswith(f"opens {words}") for line in must)


def test_one_that_nobody_described_is_unknown_and_told_to_buy() -> None:
    found = finding(with_safeguards(disconnect=None), "device.disconnect")
    assert found.severity is UNKNOWN
    for part in ("58.8 V DC", "108 A", "under full load", "that is not earthed", "not polarised"):
        assert part in found.detail
    assert 'to_buy = ["disconnect"] under [protection]' in found.remedy
    assert need(with_safeguards(disconnect=None), "battery disconnect").stated == ""


TO_BUY = [
    ("disconnect", "device.disconnect"),
    ("emergency_off", "device.emergency"),
    ("bars", "bar.described"),
]


def without(name: str, **changes: Any) -> Build:
    """Return the good build without one of the things that can be bought."""
    if name == "bars":
        return at_home(cabling=good_cabling(bar=None), safeguards=good_safeguards(**changes))
    return at_home(safeguards=good_safeguards(**{name: None, **changes}))


def at_home(**changes: Any) -> Build:
    """Return the good build in a home, where NEC 706.15(B) asks for an emergency disconnect."""
    return good_build(site=good_site(kind="dwelling"), **changes)


@pytest.mark.parametrize(("name", "rule"), TO_BUY)
def test_what_is_yet_to_be_bought_is_a_caution_and_only_that(name: str, rule: str) -> None:
    """Leaving a thing out of the sheet must not clear a stop that a bad one would be."""
    silent = finding(without(name), rule)
    assert silent.severity is UNKNOWN
    promised = finding(without(name, to_buy=(name,)), rule)
    assert promised.severity is CAUTION
    assert promised.detail.startswith("Still to be bought.")
    # It says the same of what is asked of it.
    asked = silent.detail.removeprefix("Not specified.")
    assert promised.detail.endswith(asked)
    # That another thing is to be bought helps nothing.
    for other, _ in TO_BUY:
        if other != name:
            assert finding(without(name, to_buy=(other,)), rule).severity is UNKNOWN


@pytest.mark.parametrize(("name", "rule"), TO_BUY)
def test_what_is_described_is_judged_whatever_is_to_be_bought(name: str, rule: str) -> None:
    build = with_safeguards(to_buy=(name,))
    assert {f.severity for f in findings(build, rule)} == {OK}


def test_one_that_is_not_fitted_stops_whatever_is_to_be_bought() -> None:
    for key, rule in (("disconnect", "device.disconnect"), ("emergency_off", "device.emergency")):
        build = at_home(safeguards=good_safeguards(**{key: NOT_FITTED, "to_buy": (key,)}))
        assert finding(build, rule).severity is STOP


def test_where_the_current_is_unknown_nothing_can_be_bought() -> None:
    build = good_build(
        inverters=(good_inverter(continuous=None),),
        safeguards=good_safeguards(disconnect=None, to_buy=("disconnect",)),
    )
    assert finding(build, "device.disconnect").severity is UNKNOWN
    assert len(need(build, "battery disconnect").lines) == 2
    nothing = good_build(inverters=(), chargers=(good_charger(current="0 A"),))
    assert finding(nothing, "device.disconnect-current").severity is UNKNOWN


def test_a_disconnect_of_which_nothing_is_known_asks_for_everything() -> None:
    build = with_safeguards(disconnect=Disconnect())
    unknown = {f.rule.key for f in design(build).findings if f.severity is UNKNOWN}
    assert unknown == {
        f"device.disconnect-{what}"
        for what in ("voltage", "current", "withstands", "load", "polarity", "poles")
    }


def test_what_is_stated_is_told() -> None:
    odd = disconnect(breaks_load=False, polarised=True, poles=1, place="")
    assert need(odd, "battery disconnect").stated == (
        "80 V DC, 250 A, stands 20 kA, 1 pole, not to be opened under load, polarised"
    )


def test_what_is_only_assumed_is_at_best_a_limit() -> None:
    found = finding(disconnect(basis="assumed"), "device.disconnect-voltage")
    assert found.severity is CAUTION
    assert "DC voltage rating" in found.assumed
    # A breach stays one, and says what it leaned on.
    found = finding(disconnect(basis="assumed", dc_voltage="50 V"), "device.disconnect-voltage")
    assert found.severity is STOP
    assert "DC voltage rating" in found.assumed


# --- The emergency disconnect -----------------------------------------------------------------


@pytest.mark.parametrize(
    ("field", "without"),
    [("opens_every_string", STOP), ("stops_charging", CAUTION), ("stops_inverters", CAUTION)],
)
def test_one_hand_stops_everything(field: str, without: Severity) -> None:
    def worst(
        kind: str, rules: str = "nec", *, home: bool | None = None, **changes: object
    ) -> Finding:
        site = good_site(kind=kind, rules=rules, serves_home=home)
        build = attrs.evolve(emergency(**changes), site=site)
        return max(findings(build, "device.emergency"), key=lambda f: f.severity)

    assert worst("dwelling").severity is OK
    for value, severity in ((False, without), (None, UNKNOWN)):
        found = worst("dwelling", **{field: value})
        assert found.severity is severity
        assert found.remedy
    # NEC 706.15(B) asks for it in homes; elsewhere, and by IEC, it is good to have.
    assert worst("field", **{field: False}).severity is CAUTION
    assert worst("dwelling", "iec", **{field: False}).severity is CAUTION
    # An outbuilding may belong to a home: then the home's storage stands there.
    assert worst("outbuilding", home=True, **{field: False}).severity is without
    assert worst("outbuilding", home=False, **{field: False}).severity is CAUTION
    unsaid = worst("outbuilding", **{field: False})
    assert unsaid.severity is min(without, UNKNOWN)
    assert ("serves_home" in unsaid.remedy) is (without is STOP)
    assert worst("outbuilding", "iec", **{field: False}).severity is CAUTION


@pytest.mark.parametrize(
    ("kind", "home", "severity"),
    [
        ("outdoors", None, STOP),
        ("outbuilding", True, STOP),
        ("outbuilding", None, UNKNOWN),
        ("outbuilding", False, CAUTION),
        ("field", None, CAUTION),
        ("commercial", True, STOP),  # what was said goes before what a place lets suppose
        ("field", True, STOP),
        ("living space", False, CAUTION),  # a house of many families
        (None, None, UNKNOWN),
        (None, False, CAUTION),
    ],
)
def test_the_storage_of_a_home_needs_one_wherever_it_stands(
    kind: str | None, *, home: bool | None, severity: Severity
) -> None:
    safe = good_safeguards(emergency_off=NOT_FITTED)
    build = good_build(site=good_site(kind=kind, serves_home=home), safeguards=safe)
    found = finding(build, "device.emergency")
    assert found.severity is severity
    assert ("serves_home = true or false" in found.remedy) is (severity is UNKNOWN)


@pytest.mark.parametrize("place", ["", "  "])
def test_nobody_knows_where_it_is_reached(place: str) -> None:
    found = findings(emergency(place=place), "device.emergency")
    assert [f.severity for f in found] == [UNKNOWN, OK, OK, OK]


def test_an_emergency_disconnect_to_buy_says_what_it_does() -> None:
    found = finding(with_safeguards(emergency_off=None), "device.emergency")
    for part in ("every string", "charges", "inverters", "without passing the pack", "marked"):
        assert part in found.detail


# --- The bars ---------------------------------------------------------------------------------


def test_bars_side_by_side_carry_less_than_their_sum() -> None:
    # 573 A, and 573 / 2 for each further one: 573 · 2 = 1146 A for three.
    assert finding(bar(), "bar.carries").limit == 573.0
    assert finding(bar(count=3), "bar.carries").limit == pytest.approx(1146.0)
    assert need(bar(count=3), "bus bars").count == 6


def test_a_bar_says_its_current_for_each_square_millimetre() -> None:
    # 97.94 A over 20 · 5 mm² are 0.9794 A/mm².
    found = finding(bar(width="20 mm", thickness="5 mm"), "bar.described")
    assert "0.979 A/mm²" in found.detail


@pytest.mark.parametrize(("enclosed", "severity"), [(True, CAUTION), (None, CAUTION), (False, OK)])
def test_a_bar_in_a_box_gets_less(*, enclosed: bool | None, severity: Severity) -> None:
    # 20 · 3.36 mm² · 1.6 A/mm² = 107.52 A, of 107.74 A.
    build = bar(width="20 mm", thickness="3.36 mm", enclosed=enclosed)
    assert finding(build, "bar.enclosed").severity is severity
    assert finding(bar(width="20 mm", thickness="3.37 mm"), "bar.enclosed").severity is OK


def test_a_bar_is_guarded_by_all_string_fuses_together() -> None:
    for carries, severity in (("240 A", OK), ("239 A", CAUTION)):
        found = finding(bar(carries=carries), "bar.guarded")
        assert (found.severity, found.limit) == (severity, 240.0)
    none_fits = good_build(safeguards=good_safeguards(string_fuse=good_family(dc_voltage="10 V")))
    # A guard asks nothing; the fuse that does not fit stops.
    assert finding(none_fits, "bar.guarded").severity is CAUTION
    assert findings(none_fits, "protection.fits")[0].severity is STOP


def test_bars_to_buy_are_told_in_amperes_and_square_millimetres() -> None:
    # Up to three digits: 97.94 A are asked, 107.74 A wished; 107.74 / 1.6 = 67.3 mm², up to 70.
    found = finding(without("bars", to_buy=("bars",)), "bar.described")
    assert found.severity is CAUTION
    assert "98 A or more, better 108 A for good" in found.detail
    assert "70 mm²" in found.detail


def test_one_string_on_one_device_needs_no_bar() -> None:
    build = good_build(pack=good_pack(strings=1), chargers=(), cabling=good_cabling(bar=None))
    assert finding(build, "bar.described").severity is OK
    schedule = design(build).protection
    assert schedule is not None
    assert "bus bars" not in [n.what for n in schedule.needs]
    charged = good_build(pack=good_pack(strings=1), cabling=good_cabling(bar=None))
    assert finding(charged, "bar.described").severity is UNKNOWN


def test_a_bar_says_under_which_conditions_it_carries() -> None:
    build = bar(conditions="35 °C around it, 65 °C itself")
    line = need(build, "bus bars").lines[2]
    assert "35 °C around it" in line.inputs[0].means


# --- Whatever is passed -----------------------------------------------------------------------


def flows(build: Build) -> float | None:
    """Work out again, apart from the library, what must be carried; None is unknown.

    NEC asks for 125 % of what flows at once, IEC for the current itself.

    An efficiency or idle draw that nobody said counts with its worst credible end, 80 % and 3 %
    of the output (common practice, no source): what passes must carry that too.
    """
    drawn = 0.0
    for inverter in build.inverters:
        output, low = inverter.continuous, inverter.window_low
        if output is None or low is None or low.m <= 0:
            return None
        efficiency = 0.8 if inverter.efficiency is None else inverter.efficiency.m
        idle = 0.03 * output.m if inverter.idle is None else inverter.idle.m
        power = output.m / efficiency + idle
        amps = power / inverter.window_low.m
        if isinstance(inverter.charger, Charger) and inverter.charger.current is not None:
            amps = max(amps, inverter.charger.current.m)
        drawn += inverter.count * amps
    given_ = 0.0
    for charger in build.all_chargers:
        if charger.current is None:
            return None
        given_ += charger.count * charger.current.m
    return max(drawn, given_) * (1.25 if build.site.rules == "nec" else 1.0)


@given(build=builds())
def test_a_disconnect_passes_only_by_ratings_that_meet_the_needs(build: Build) -> None:
    fitted = build.safeguards.disconnect
    found = {f.rule.key: f.severity for f in design(build).findings}
    if not isinstance(fitted, Disconnect):
        assert found["device.disconnect"] > OK
        assert "device.disconnect-voltage" not in found
        return
    volts = build.pack.cells_in_series * build.pack.module.chemistry.limits.highest.m
    amps = flows(build)
    truly = {
        "voltage": fitted.dc_voltage is not None and fitted.dc_voltage.m >= volts * (1 - 1e-9),
        "current": fitted.current is not None
        and amps is not None
        and fitted.current.m >= amps * (1 - 1e-9),
        "load": fitted.breaks_load is True,
        "polarity": fitted.polarised is False,
        "poles": fitted.poles is not None
        and (fitted.poles > 1 or build.pack.earthed in {"minus", "plus"}),
    }
    for what, good in truly.items():
        if found[f"device.disconnect-{what}"] < UNKNOWN:
            assert good, what


@given(build=builds())
def test_an_emergency_disconnect_passes_only_if_it_does_everything(build: Build) -> None:
    fitted = build.safeguards.emergency_off
    worst = max(f.severity for f in design(build).findings if f.rule.key == "device.emergency")
    does = isinstance(fitted, EmergencyOff) and all(
        (fitted.place, fitted.opens_every_string, fitted.stops_charging, fitted.stops_inverters)
    )
    assert (worst is OK) == does
    home = build.site.rules == "nec" and build.site.at_home
    lacks = fitted is NOT_FITTED or (
        isinstance(fitted, EmergencyOff) and fitted.opens_every_string is False
    )
    if home:
        assert (worst is STOP) == lacks
    elif build.site.rules == "iec":
        assert worst is not STOP


@given(build=builds())
def test_bars_pass_only_if_they_carry_what_flows(build: Build) -> None:
    bars, amps = build.cabling.bar, flows(build)
    found = {f.rule.key: f.severity for f in design(build).findings}
    if found.get("bar.carries", STOP) < UNKNOWN:
        assert isinstance(bars, Busbar)
        assert bars.carries is not None
        assert amps is not None
        assert bars.carries.m * (1 + (bars.count - 1) / 2) >= amps * (1 - 1e-9)
    if bars is None and found["bar.described"] is OK:
        assert build.pack.strings == 1


def test_iron_cells_count_by_their_own_highest_voltage() -> None:
    # 14 · 3.65 = 51.1 V.
    build = with_module(chemistry=IRON)
    assert need(build, "battery disconnect").lines[0].value == pytest.approx(51.1)
    assert good_module().chemistry is not IRON


def test_behind_breakers_a_conditional_rating_says_nothing() -> None:
    breaker = good_family(kind="breaker", polarised=False, dc_voltage="80 V", clearing="30 kA2s")
    build = with_safeguards(string_fuse=breaker)
    found = finding(build, "device.disconnect-withstands")
    assert found.severity is UNKNOWN
    assert "limit no current" in found.detail
