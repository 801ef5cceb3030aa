"""A pack worked over days: numbers by hand, every rule in every severity, what is unknown."""

from __future__ import annotations

import math
import sys
from collections.abc import Callable
from typing import Any

import attrs
import numpy as np
import pytest
from house.test_formulas import check, every
from hypothesis import given, settings
from hypothesis import strategies as st
from strategies import (
    OXIDE,
    builds,
    good_build,
    good_inverter,
    good_load,
    good_module,
    good_monitoring,
    good_pack,
    good_profile,
    solar_build,
    solar_charger,
    with_charger,
    with_inverter,
    with_module,
    with_pack,
)

from evpack.base.errors import DescriptionError, EvpackError
from evpack.base.finding import Finding, Rule, Severity
from evpack.describe.build import Build
from evpack.describe.operation import (
    Operation,
    Outage,
    PricedHours,
    Profile,
    Sun,
    Tariff,
    daily,
)
from evpack.design import design
from evpack.load.library import example
from evpack.load.sheet import read_sheet
from evpack.load.tables import sources
from evpack.outcome.operation import EVENTS, OperationRun
from evpack.simulate import operation_rules
from evpack.simulate.at_work import at_work, averaged, on_grid
from evpack.simulate.operation import outage_runtimes, simulate_operation

OK, NOTE, CAUTION, UNKNOWN, STOP = Severity
FLAT = daily("flat", "12 kWh")  # 500 W
TARIFF = Tariff(price="0.4 EUR/kWh")


def shining(watts: float = 1500.0, on: str = "array") -> Sun:
    """Return a sun of so many watts from 8 to 16 o'clock."""
    hours = [watts if 8 <= hour < 16 else 0.0 for hour in range(24)]
    return Sun(on=on, profile=Profile(name="sun", every="1 h", values=hours))


def an(**changes: Any) -> Operation:
    fields: dict[str, Any] = {
        "load": FLAT,
        "coldest": "20 degC",
        "warmest": "25 degC",
        "length": "2 days",
    }
    return Operation(**{**fields, **changes})


def ran(build: Build, **changes: Any) -> OperationRun:
    return simulate_operation(design(build), an(**changes))


def worst(run: OperationRun, rule: str) -> Severity:
    return max(found.severity for found in run.findings if found.rule.key == rule)


# --- Numbers by hand ---------------------------------------------------------------------------


def test_energy_from_a_full_pack_to_the_cut_off() -> None:
    """An island without sun: the pack gives what lies between its rest voltages, less its heat.

    The inverters take 500 W / 0.92 + 30 W = 573.5 W; how long is their energy over that.
    """
    build = good_build()
    made = design(build)
    run = simulate_operation(made, an(mode="island", start="100 %"))
    came = run.outcome
    assert came is not None
    assert came.counts["cut-off"] == 1
    hours = float((came.series.carrier == 0).sum()) / 60
    taken = came.energy("load carried by the inverters").value
    assert taken == pytest.approx(500.0 * hours, rel=1e-6)
    assert came.energy("out of the pack").value == pytest.approx(573.478 * hours, rel=2e-3)
    # Between full and where it stops at rest the curve holds this; little of it turns to heat.
    curve, capacity = build.pack.module.curve, build.pack.capacity.m
    soc = np.linspace(float(came.series.soc.min()), 1.0, 2001)
    volts = np.interp(soc, curve.soc, curve.volts) * build.pack.cells_in_series
    held = np.trapezoid(volts, soc) * capacity
    assert came.energy("out of the pack").value == pytest.approx(held, rel=0.02)
    assert came.energy("out of the pack").value < held
    assert came.energy("load that nobody carried").value == pytest.approx(24000 - taken, rel=1e-6)
    assert came.cycles == pytest.approx(1.0 - came.series.soc.min(), abs=1e-3)


def test_tariff_by_hand() -> None:
    """Utility first carries 500 W for two days: with 30 W idle, 25.44 kWh.

    Cheap from 22:00 to 06:00, 8 h a day at 0.1, 16 h at 0.4: 0.53 · 2 · (0.8 + 6.4) = 7.632 to the
    utility; the load alone 0.5 · 2 · 7.2 = 7.2. It costs 0.432 to have the pack stand by.
    """
    night = PricedHours(start="22:00", end="06:00", price="0.1 EUR/kWh")
    tariff = Tariff(price="0.4 EUR/kWh", hours=(night,))
    run = ran(with_charger(), mode="utility first", tariff=tariff, start="100 %")
    assert run.outcome is not None
    assert run.outcome.energy("taken from the utility, all in all").value == pytest.approx(25440)
    assert run.outcome.saved is not None
    assert run.outcome.saved.value == pytest.approx(7.2 - 7.632)
    assert run.currency == "EUR"
    assert run.outcome.own.value == 0.0
    assert run.outcome.served.value == 1.0


def test_sun_by_hand() -> None:
    """300 W asked, 500 W from the sun for 8 h: 0.96 of it, less 300 / 0.92 + 30 W, charge it."""
    how: dict[str, Any] = {"load": daily("flat", "7.2 kWh"), "length": "24 h"}
    run = ran(solar_build(), sun=shining(500.0), start="100 %", **how)
    came = run.outcome
    assert came is not None
    asked = 300 / 0.92 + 30
    noon = 12 * 60
    assert came.series.pack[noon] == pytest.approx(-(480 - asked), rel=1e-3)
    assert came.series.sun[noon] == pytest.approx(500, rel=1e-4)
    assert came.energy("of it straight from the sun").value == pytest.approx(300 * 8, rel=1e-3)
    assert came.daily.sun == pytest.approx([4000], rel=1e-3)


def test_mains_charging_in_cheap_hours() -> None:
    night = PricedHours(start="22:00", end="06:00", price="0.1 EUR/kWh")
    tariff = Tariff(price="0.4 EUR/kWh", hours=(night,))
    how: dict[str, Any] = {"tariff": tariff, "start": "70 %", "load": daily("flat", "2 kWh")}
    came = ran(good_build(), mains_charging="in the cheapest hours", **how).outcome
    assert came is not None
    charging = came.series.charging
    assert charging[: 60 * 2].max() > 0
    assert not charging[6 * 60 : 22 * 60].any()
    assert came.counts["pack full"] >= 1
    never = ran(good_build(), **how).outcome
    assert never is not None
    assert not never.series.charging.any()


def test_an_outage_is_carried() -> None:
    outage = Outage(day=1, at="06:00", lasts="2 h")
    came = ran(good_build(), mode="utility first", outages=outage).outcome
    assert came is not None
    assert came.energy("load carried by the inverters").value == pytest.approx(1000)
    assert (came.counts["outage begins"], came.counts["outage ends"]) == (1, 1)
    late = ran(good_build(), mode="utility first", outages=outage, first_day=2).outcome
    assert late is not None
    assert late.energy("load carried by the inverters").value == 0.0
    over = Outage(day=365, at="23:00", lasts="2 h")  # over new year
    wrapped = ran(good_build(), mode="utility first", outages=over).outcome
    assert wrapped is not None
    assert wrapped.energy("load carried by the inverters").value == pytest.approx(500)


def test_hunting_is_seen_beside_what_the_design_foretells() -> None:
    """A changeover just under the rest voltage and a return a breath above it."""
    run = ran(
        good_build(),
        load=daily("flat", "48 kWh"),
        start="50 %",
        changeover="51.8 V",
        return_to_battery="51.9 V",
    )
    came = run.outcome
    assert came is not None
    assert came.hunting.times >= 5
    assert came.hunting.gap == pytest.approx(0.1)
    assert came.hunting.foretold is not None
    assert came.hunting.foretold > 0.1
    assert came.hunting.worst_day in {0, 1}
    assert came.hunting.seen > 0.1
    assert came.days_to_show["the day with most going to and fro"] == came.hunting.worst_day
    assert worst(run, "operation.hunting") is CAUTION
    assert worst(run, "operation.gap") is CAUTION
    found = next(f for f in run.findings if f.rule.key == "operation.hunting")
    assert "foretells" in found.detail
    calm = ran(good_build(), load=daily("flat", "48 kWh"), start="50 %")
    assert calm.outcome is not None
    assert calm.outcome.hunting.times == 0


def test_what_is_written_down() -> None:
    run = ran(solar_build(), sun=shining(), tariff=TARIFF, step="5 s")
    came = run.outcome
    assert came is not None
    assert came.series.every == 60
    assert came.series.soc.size == came.series.time.size == 2 * 1440
    assert came.series.time[-1] == 2 * 86400
    assert came.soc_hours.sum() == pytest.approx(48)
    assert came.celsius_hours.sum() == pytest.approx(48)
    assert list(came.counts) == list(EVENTS)
    assert [e.what for e in came.events] == [e.what for e in sorted(came.events, key=_time)]
    assert "2 days" in str(run)
    assert {"cut-off", "restart"} <= set(run.thresholds)


def _time(event: Any) -> float:
    return float(event.time)


@pytest.mark.parametrize(
    ("step", "length", "every_"),
    [("1 s", "1 h", 60.0), ("7.2 s", "1 h", 36.0), ("1 h", "2 days", 3600.0), ("1 min", "2 h", 60)],
)
def test_rows_fill_an_hour(step: str, length: str, every_: float) -> None:
    came = ran(good_build(), step=step, length=length).outcome
    assert came is not None
    assert came.series.every == pytest.approx(every_)


def test_rows_of_a_long_run_are_coarse() -> None:
    came = ran(good_build(), length="401 days", step="10 min").outcome
    assert came is not None
    assert came.series.every == 600


def test_a_run_shorter_than_a_day_has_no_days() -> None:
    came = ran(good_build(), length="2 h").outcome
    assert came is not None
    assert came.daily.load.size == 0
    assert came.days_to_show == {}


def test_progress_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("evpack.simulate.operation._PIECE", 700)
    told: list[float] = []
    made = design(solar_build())
    parts = simulate_operation(made, an(sun=shining()), progress=told.append)
    whole = ran(solar_build(), sun=shining())
    assert told == sorted(told)
    assert told[-1] == 1.0
    assert len(told) == 5
    assert parts.outcome is not None
    assert whole.outcome is not None
    assert np.array_equal(parts.outcome.series.soc, whole.outcome.series.soc)


# --- Outages from any start --------------------------------------------------------------------


def test_runtimes_from_any_hour() -> None:
    """A pack at rest that nobody charges: every start has the same charge and the same hours."""
    made = design(good_build())
    operation = an(mode="utility first", start="90 %")
    found = outage_runtimes(made, operation)
    assert found.starts.size == 48
    assert np.ptp(found.hours) < 0.2
    # The inverters take 573.5 W; the energy from 90 % down to the cut-off, by the other run.
    alone = simulate_operation(made, an(mode="island", start="90 %")).outcome
    assert alone is not None
    assert found.hours[0] == pytest.approx((alone.series.carrier == 0).sum() / 60, abs=0.3)
    one = outage_runtimes(made, operation, day=1, every="6 h")
    assert one.starts.tolist() == [86400.0 + 21600 * k for k in range(4)]


def test_more_charge_lasts_longer_and_none_lasts_forever() -> None:
    made = design(good_build())
    full, half = (
        outage_runtimes(made, an(mode="utility first", start=s), day=0).hours[0]
        for s in ("100 %", "50 %")
    )
    assert full > half > 1
    short = outage_runtimes(made, an(mode="utility first", start="100 %"), most="2 h")
    assert (short.hours == 2.0).all()


def test_runtimes_where_no_run_is_possible() -> None:
    made = design(with_module(resistance=None))
    assert outage_runtimes(made, an()).hours.size == 0


# --- Every rule in every severity ---------------------------------------------------------------

GOOD = solar_build()
BARE = with_inverter(changeover="none", return_to_battery="none")
# The load of `good_build` peaks at 4 kW: a minute of it in the first hour.
PEAKED = Profile(name="peaked", every="1 min", values=[4000.0] + [200.0] * 1439)
KNOWN = {"default": "datasheet", "capacity": "measured", "resistance": "measured"}
CHARGED = {"sun": shining(3000.0), "start": "90 %", "load": daily("flat", "6 kWh")}


def placed(**changes: Any) -> Sun:
    place = {"latitude": "46 deg", "longitude": "8 deg", "tilt": "30 deg", "azimuth": "180 deg"}
    return Sun(on="array", **place, **changes)


def the(run: OperationRun, rule: str) -> Finding:
    return next(found for found in run.findings if found.rule.key == rule)


def _left_on() -> Build:
    return with_charger(left_on=good_profile(absorption="61 V", equalise="62 V"))


def _monitored(value: object) -> Build:
    blocks = False if value == 0 else value
    monitoring = value if value == "none" else good_monitoring(blocks_cold_charge=blocks)
    return with_pack(monitoring=monitoring)


def _no_trip(**changes: Any) -> Build:
    quiet = good_monitoring(stops_charge=False, stops_discharge=False)
    return with_pack(monitoring=quiet, **changes)


def _frozen(build: Build, **how: Any) -> OperationRun:
    return ran(build, coldest="-5 degC", warmest="-5 degC", **how)


CASES: dict[tuple[str, Severity], Callable[[], OperationRun]] = {
    ("operation.known", UNKNOWN): lambda: ran(with_module(resistance=None)),
    ("operation.design", OK): lambda: ran(GOOD, **CHARGED),
    ("operation.design", UNKNOWN): lambda: ran(with_pack(monitoring=None)),
    ("operation.design", STOP): lambda: ran(_left_on()),
    ("operation.charger", UNKNOWN): lambda: ran(with_charger(charge_voltage=None)),
    ("operation.sun", OK): lambda: ran(GOOD, **CHARGED),
    ("operation.sun", UNKNOWN): lambda: ran(GOOD),
    ("operation.air", OK): lambda: ran(GOOD, **CHARGED),
    ("operation.air", UNKNOWN): lambda: simulate_operation(
        design(attrs.evolve(good_build(), site=attrs.evolve(good_build().site, warmest=None))),
        Operation(load=FLAT, length="1 h"),
    ),
    ("operation.changeover", OK): lambda: ran(GOOD),
    ("operation.changeover", CAUTION): lambda: ran(
        with_inverter(changeover="none", return_to_battery="none")
    ),
    ("operation.changeover", UNKNOWN): lambda: ran(
        with_inverter(changeover=None, return_to_battery=None)
    ),
    ("operation.cut-off-set", OK): lambda: ran(GOOD),
    ("operation.cut-off-set", UNKNOWN): lambda: ran(with_inverter(cut_off=None), cut_off="46 V"),
    ("operation.cut-off-set", STOP): lambda: ran(GOOD, cut_off="42 V"),
    ("operation.changeover", STOP): lambda: ran(BARE, changeover="52 V"),
    ("operation.changeover-set", OK): lambda: ran(GOOD),
    ("operation.changeover-set", CAUTION): lambda: ran(GOOD, changeover="47.5 V"),
    ("operation.return-set", OK): lambda: ran(GOOD),
    ("operation.return-set", NOTE): lambda: ran(with_inverter(return_to_battery="none")),
    ("operation.return-set", CAUTION): lambda: ran(GOOD, return_to_battery="52 V"),
    ("operation.return-set", UNKNOWN): lambda: ran(
        with_inverter(return_to_battery=None), changeover="52 V", return_to_battery="54 V"
    ),
    ("operation.return-set", STOP): lambda: ran(
        with_inverter(return_to_battery="none"), return_to_battery="54 V"
    ),
    ("operation.weather", NOTE): lambda: ran(GOOD, sun=placed(weather="50 %")),
    ("operation.weather", CAUTION): lambda: ran(GOOD, sun=placed(weather="50 %", clouds="even")),
    ("operation.overload", OK): lambda: ran(GOOD),
    ("operation.overload", CAUTION): lambda: ran(GOOD, load=daily("flat", "73 kWh")),
    ("operation.hunting", OK): lambda: ran(GOOD, load=PEAKED, start="90 %"),
    ("operation.hunting", NOTE): lambda: ran(GOOD, **CHARGED),
    ("operation.hunting", CAUTION): lambda: ran(
        good_build(),
        load=daily("flat", "48 kWh"),
        start="50 %",
        changeover="51.8 V",
        return_to_battery="51.9 V",
    ),
    ("operation.gap", OK): lambda: ran(GOOD),
    ("operation.gap", CAUTION): lambda: ran(GOOD, changeover="50 V", return_to_battery="50.1 V"),
    ("operation.cut-off", OK): lambda: ran(GOOD),
    ("operation.cut-off", CAUTION): lambda: ran(GOOD, mode="island", start="40 %"),
    ("operation.trips", OK): lambda: ran(GOOD),
    ("operation.trips", CAUTION): lambda: ran(GOOD, coldest="-25 degC", warmest="-25 degC"),
    ("operation.trips", UNKNOWN): lambda: ran(with_pack(monitoring=None)),
    ("operation.trips", STOP): lambda: ran(
        _left_on(), mode="utility first", mains_charging="with the utility", start="90 %"
    ),
    ("operation.highest-cell", OK): lambda: ran(GOOD),
    ("operation.highest-cell", CAUTION): lambda: ran(
        with_module(cell_highest="4.19 V", basis={**KNOWN, "cell_highest": "assumed"})
    ),
    ("operation.highest-cell", STOP): lambda: ran(
        attrs.evolve(_left_on(), pack=_no_trip().pack),
        mode="utility first",
        mains_charging="with the utility",
        start="90 %",
        length="6 days",
    ),
    ("operation.lowest-cell", OK): lambda: ran(GOOD),
    ("operation.lowest-cell", CAUTION): lambda: ran(
        with_module(basis={"default": "datasheet", "resistance": "assumed"})
    ),
    ("operation.lowest-cell", STOP): lambda: ran(
        attrs.evolve(_no_trip(), inverters=(good_inverter(window_low="30 V"),)),
        mode="island",
        cut_off="40 V",
        start="30 %",
    ),
    ("operation.unserved", OK): lambda: ran(GOOD),
    ("operation.unserved", CAUTION): lambda: ran(GOOD, mode="island", start="40 %"),
    ("operation.full", OK): lambda: ran(GOOD, **CHARGED),
    ("operation.full", NOTE): lambda: ran(GOOD),
    ("operation.full", CAUTION): lambda: ran(GOOD, length="40 days", step="10 min"),
    ("operation.hot", OK): lambda: ran(GOOD),
    ("operation.hot", NOTE): lambda: ran(GOOD, coldest="38 degC", warmest="40 degC"),
    ("operation.hot", CAUTION): lambda: ran(GOOD, coldest="50 degC", warmest="50 degC"),
    ("operation.cold", OK): lambda: ran(GOOD),
    ("operation.cold", NOTE): lambda: ran(GOOD, coldest="6 degC", warmest="6 degC"),
    ("operation.cold", CAUTION): lambda: _frozen(good_build()),
    ("operation.cold", UNKNOWN): lambda: _frozen(_monitored(None)),
    ("operation.cold", STOP): lambda: _frozen(_monitored(0)),
    ("operation.books", OK): lambda: ran(GOOD, **CHARGED),
    ("operation.books", CAUTION): lambda: ran(
        good_build(), load=daily("flat", "48 kWh"), step="1 h", mode="island", start="20 %"
    ),
}


@pytest.mark.parametrize("case", CASES, ids=lambda c: f"{c[0]}-{c[1]}")
def test_every_rule_in_every_severity(case: tuple[str, Severity]) -> None:
    rule, severity = case
    run = CASES[case]()
    assert severity in {f.severity for f in run.findings if f.rule.key == rule}


def test_no_rule_is_left_out() -> None:
    rules = [v for v in vars(operation_rules).values() if isinstance(v, Rule)]
    assert {rule.key for rule in rules} == {key for key, _ in CASES}
    assert {rule.source for rule in rules} <= set(sources())


def test_a_curve_that_is_only_assumed_is_said() -> None:
    run = ran(read_sheet(example("split-house")), length="1 h")
    found = next(f for f in run.findings if f.rule.key == "operation.lowest-cell")
    assert "open-circuit voltage curve" in found.assumed
    assert found.severity is CAUTION


@pytest.mark.parametrize(
    ("module", "pack", "highest", "lowest"),
    [
        ({}, {}, "", ""),
        ({"resistance": "assumed"}, {}, "resistance of the modules", "resistance of the modules"),
        ({}, {"spread_full": "assumed"}, "spread of the cells", "spread of the cells"),
        ({"cell_highest": "assumed"}, {}, "highest voltage of a cell", ""),
        ({"cell_least": "assumed"}, {}, "", "least voltage of a cell"),
    ],
)
def test_a_pass_on_what_is_only_assumed_is_a_caution(
    module: dict[str, str], pack: dict[str, str], highest: str, lowest: str
) -> None:
    cells = good_module(cell_highest="4.19 V", cell_least="3.01 V", basis={**KNOWN, **module})
    run = ran(with_pack(module=cells, basis={"default": "chosen", **pack}))
    for rule, told in (("operation.highest-cell", highest), ("operation.lowest-cell", lowest)):
        found = the(run, rule)
        assert found.severity is (CAUTION if told else OK)
        assert found.assumed == ((told,) if told else ())


def test_a_spread_that_nobody_measured_is_only_assumed() -> None:
    module = good_module(chemistry=attrs.evolve(OXIDE, basis="assumed"), basis=KNOWN)
    found = the(ran(with_pack(module=module, spread_full=None)), "operation.highest-cell")
    assert found.assumed == ("spread of the cells", "highest voltage of a cell")
    assert found.severity is CAUTION


# --- Thresholds that are typed -----------------------------------------------------------------


def test_a_typed_changeover_fits_no_changeover_to_an_inverter() -> None:
    run = ran(BARE, changeover="52 V", return_to_battery="54 V")
    assert worst(run, "operation.changeover") is STOP
    assert "inverter" in the(run, "operation.changeover").detail
    assert run.mode == "island", "the utility steps in nowhere"
    assert run.outcome is not None
    assert run.outcome.energy("load carried by the utility").value == 0.0
    mixed = attrs.evolve(
        good_build(),
        inverters=(good_inverter(), good_inverter(name="second", changeover="none")),
    )
    assert worst(ran(mixed, changeover="52 V"), "operation.changeover") is STOP
    assert "second" in the(ran(mixed, changeover="52 V"), "operation.changeover").detail


def test_a_typed_changeover_is_no_word_on_whether_there_is_one() -> None:
    run = ran(with_inverter(changeover=None, return_to_battery=None), changeover="52 V")
    assert worst(run, "operation.changeover") is UNKNOWN
    assert worst(run, "operation.return-set") is UNKNOWN
    assert run.mode == "battery first"


def test_only_lower_than_the_sheet_is_worse() -> None:
    sheet = design(GOOD).settings
    assert sheet is not None
    go, back = sheet.thresholds.changeover, sheet.thresholds.back
    assert go is not None
    assert back is not None
    above = ran(GOOD, changeover=f"{go + 0.1} V", return_to_battery=f"{back + 0.1} V")
    below = ran(GOOD, changeover=f"{go - 0.1} V", return_to_battery=f"{back - 0.1} V")
    for rule in ("operation.changeover-set", "operation.return-set"):
        assert worst(above, rule) is OK
        assert worst(below, rule) is CAUTION
    assert not [f for f in ran(GOOD, mode="island").findings if f.rule.key.endswith("return-set")]


# --- Weather, overload, peaks, the last line ---------------------------------------------------


def test_weather_as_it_is_told() -> None:
    assert not [f for f in ran(GOOD, sun=shining()).findings if f.rule.key == "operation.weather"]
    drawn = ran(GOOD, sun=placed(weather="50 %"), length="1 h")
    assert "one of many" in the(drawn, "operation.weather").detail
    assert any("days drawn" in told for told in drawn.assumed)
    even = ran(GOOD, sun=placed(weather="50 %", clouds="even"), length="1 h")
    assert "every hour alike" in the(even, "operation.weather").detail
    assert any("evenly" in told for told in even.assumed)
    clear = ran(GOOD, sun=placed(), length="1 h")
    assert "clear sky all year" in the(clear, "operation.weather").detail
    assert worst(clear, "operation.weather") is CAUTION
    assert not any("days drawn" in told for told in clear.assumed)
    dull = ran(GOOD, sun=placed(weather="10 %"), length="1 h")
    assert "every hour alike" in the(dull, "operation.weather").detail, "there is none to draw"
    one_day = {"sun": shining(), "step": "1 h"}
    long = ran(GOOD, **one_day, length="31 days")
    assert "repeats one day" in the(long, "operation.weather").detail
    short = ran(GOOD, **one_day, length="30 days")
    assert not [f for f in short.findings if f.rule.key == "operation.weather"]


def test_overload_by_hand() -> None:
    # 73 kWh a day are 3042 W of the 3 kW that the inverter gives, for the first minutes at least.
    run = ran(GOOD, load=daily("flat", "73 kWh"), mode="island", length="10 min", start="100 %")
    assert run.outcome is not None
    assert run.outcome.overloaded == 600
    assert "10 min" in the(run, "operation.overload").detail
    fits = ran(GOOD, load=daily("flat", "72 kWh"), mode="island", length="10 min", start="100 %")
    assert worst(fits, "operation.overload") is OK


@pytest.mark.parametrize(
    ("asked", "peak", "told"),
    [
        (4000.0, "4 kW", ""),
        (3999.0, "4 kW", "peak"),
        (1999.0, None, "continuous"),
        (2000.0, None, ""),
    ],
)
def test_a_profile_without_peaks(asked: float, peak: str | None, told: str) -> None:
    """`good_load` is 2 kW for long and 4 kW at its peak."""
    load = Profile(name="l", every="1 min", values=[asked] + [100.0] * 59)
    run = ran(good_build(load=good_load(peak=peak)), load=load, start="90 %", length="2 h")
    found = the(run, "operation.hunting")
    assert found.severity is (NOTE if told else OK)
    assert f"the {told} load" in found.detail or not told


def test_long_steps_flatten_peaks() -> None:
    run = ran(GOOD, load=PEAKED, step="10 min", length="2 h")
    assert worst(run, "operation.hunting") is NOTE


@pytest.mark.parametrize(
    ("monitoring", "severity", "words"),
    [
        ("none", STOP, "There is none"),
        (None, UNKNOWN, "nobody said"),
        (good_monitoring(stops_charge=False), STOP, "cannot stop the chargers"),
        (good_monitoring(stops_discharge=None), UNKNOWN, "stop the inverters is not known"),
        (good_monitoring(), OK, "never had to open"),
    ],
)
def test_a_last_line_that_is_not_there(monitoring: Any, severity: Severity, words: str) -> None:
    found = the(ran(with_pack(monitoring=monitoring), length="1 h"), "operation.trips")
    assert found.severity is severity
    assert words in found.detail


def test_half_a_last_line_that_had_to_open() -> None:
    build = with_pack(monitoring=good_monitoring(stops_charge=None))
    found = the(ran(build, coldest="-25 degC", warmest="-25 degC"), "operation.trips")
    assert found.severity is UNKNOWN
    assert "It had to open" in found.detail
    assert "chargers is not known" in found.detail


def test_nothing_fitted_that_blocks_a_cold_charge() -> None:
    assert worst(_frozen(_monitored("none")), "operation.cold") is STOP


def test_the_cold_lets_no_current_in() -> None:
    run = _frozen(GOOD, sun=shining(3000.0), start="95 %", mode="island")
    assert run.outcome is not None
    assert run.outcome.series.pack.min() >= -1e-3
    assert run.outcome.coldest_charging == np.inf
    assert run.outcome.series.sun.max() > 0, "the sun still feeds the load"


# --- What is not known, or not there -----------------------------------------------------------


def test_no_operation_at_all() -> None:
    with pytest.raises(DescriptionError, match=r"add a section \[operation\]"):
        simulate_operation(design(good_build()))
    with pytest.raises(DescriptionError, match="an Operation is needed"):
        simulate_operation(design(good_build()), "a year")  # type: ignore[arg-type]
    with pytest.raises(DescriptionError, match="a Design is needed"):
        simulate_operation(good_build(), an())  # type: ignore[arg-type]


def test_that_of_the_build_is_taken() -> None:
    build = attrs.evolve(good_build(), operation=an(length="1 h"))
    assert simulate_operation(design(build)).length == 3600


@pytest.mark.parametrize("field", ["continuous"])
def test_an_inverter_of_which_too_little_is_known(field: str) -> None:
    run = ran(with_inverter(**{field: None}))
    assert run.outcome is None
    assert any(field in f.detail for f in run.findings)


def test_a_chemistry_without_settings() -> None:
    from strategies import HYDRIDE  # noqa: PLC0415

    module = good_module(chemistry=HYDRIDE)
    try:
        build = good_build(pack=good_pack(module=module))
    except EvpackError:
        pytest.skip("such a module is refused before")
    run = ran(build)
    assert run.outcome is None
    assert worst(run, "operation.known") is UNKNOWN


def test_an_unsettled_cut_off_is_asked_for() -> None:
    build = with_inverter(cut_off=None)
    assert ran(build).outcome is None
    assert ran(build, cut_off="46 V").outcome is not None


def test_without_pvlib_a_profile_still_runs(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "pvlib", None)
    from evpack.simulate import sky  # noqa: PLC0415

    sky._sky.cache_clear()
    assert ran(GOOD, sun=shining()).outcome is not None
    place = {"latitude": "46 deg", "longitude": "8 deg", "tilt": "30 deg", "azimuth": "180 deg"}
    with pytest.raises(EvpackError, match="pip install"):
        ran(GOOD, sun=Sun(on="array", **place))


def test_suns_of_arrays_and_of_chargers() -> None:
    place = {"latitude": "46 deg", "longitude": "8 deg", "tilt": "30 deg", "azimuth": "180 deg"}
    by_place = ran(GOOD, sun=Sun(on="array", **place), first_day=170).outcome
    dim = Sun(on="array", **place, weather="50 %", clouds="even")
    half = ran(GOOD, sun=dim, first_day=170).outcome
    assert by_place is not None
    assert half is not None
    most = by_place.series.sun.max() + by_place.series.unused.max()
    assert (half.series.sun + half.series.unused).max() == pytest.approx(
        (by_place.series.sun + by_place.series.unused).max() / 2, rel=0.01
    )
    assert most > 0
    assert worst(ran(GOOD, sun=Sun(on="shed", **place)), "operation.sun") is UNKNOWN
    unsized = attrs.evolve(GOOD, arrays=None)
    assert worst(ran(unsized, sun=Sun(on="sun", **place)), "operation.sun") is UNKNOWN
    sized = ran(unsized, sun=Sun(on="sun", **place, rated="2 kW"))
    assert worst(sized, "operation.sun") is OK


def test_unlike_suns_on_one_charger_are_added() -> None:
    array = GOOD.solar_arrays[0]
    two = attrs.evolve(GOOD, arrays=(array, attrs.evolve(array, name="second")))
    quarter = Profile(name="q", every="15 min", values=[100.0] * 96)
    made = design(two)
    both = at_work(made, an(sun=(shining(200.0), Sun(on="second", profile=quarter))))
    assert not isinstance(both, tuple)
    sun = both.plan.flat[both.plan.begin[5] : both.plan.begin[5] + both.plan.size[5]]
    assert sorted(set(sun.round(6))) == [100.0, 300.0]
    alike = at_work(made, an(sun=(shining(200.0), shining(50.0, on="second"))))
    assert not isinstance(alike, tuple)
    sun = alike.plan.flat[alike.plan.begin[5] : alike.plan.begin[5] + alike.plan.size[5]]
    assert sorted(set(sun)) == [0.0, 250.0]
    assert worst(ran(two, sun=shining()), "operation.sun") is UNKNOWN, "one has none"


def test_chargers_as_they_are_set() -> None:
    def plan(build: Build, **how: Any) -> Any:
        found = at_work(design(build), an(**how))
        assert not isinstance(found, tuple)
        return found

    two = plan(with_charger(count=2)).chargers
    one = plan(with_charger()).chargers
    assert two.current[0] <= 2 * one.current[0] + 1e-9
    assert one.absorb[0] == design(with_charger()).settings.thresholds.charge
    assert plan(with_charger(float_can_be_off=False)).chargers.hold[0] > 0
    assert one.hold[0] == 0
    left = plan(_left_on()).chargers
    assert (left.absorb[0], left.hold[0], left.per_kelvin[0]) == (61.0, 54.0, 0.12)
    assert plan(with_charger(source="generator")).names == ()
    assert plan(with_charger(current=None)).names == ()
    assert plan(with_charger(current="400 A", current_setting=None)).names == ()
    fixed = plan(with_charger(current="400 A", current_setting="none")).chargers
    assert fixed.current[0] == 400.0, "it gives what it gives; the design stops it"
    unset = plan(solar_build(chargers=(solar_charger(charge_voltage=None),)), sun=shining())
    assert unset.names == ()


def test_thresholds_typed_and_those_of_the_sheet() -> None:
    sheet = design(GOOD).settings
    assert sheet is not None
    used = ran(GOOD).thresholds
    assert used["changeover to the utility"] == sheet.thresholds.changeover
    assert used["return to battery"] == sheet.thresholds.back
    typed = ran(GOOD, changeover="48 V", return_to_battery="53 V", restart="51 V").thresholds
    assert (typed["changeover to the utility"], typed["return to battery"]) == (48.0, 53.0)
    assert typed["restart"] == 51.0
    own = ran(with_inverter(restart=None))
    # Not stated, it is judged with none and with 87 % of the window, and the later one is taken.
    assert own.thresholds["restart"] == pytest.approx(0.87 * 60)
    by_hand = ran(with_inverter(return_to_battery="none"))
    assert any("returns the load" in told for told in by_hand.assumed)


def test_air_of_a_profile_and_of_the_south() -> None:
    air = Profile(name="air", every="12 h", values=[10.0, 30.0])
    came = ran(GOOD, air=air).outcome
    assert came is not None
    assert came.coldest < 20 < came.hottest
    south = ran(GOOD, coldest="5 degC", warmest="25 degC", coldest_day=196).outcome
    assert south is not None
    assert south.coldest > 20, "January is summer there"
    mixed = simulate_operation(design(GOOD), Operation(load=FLAT, length="1 h", coldest="90 degC"))
    assert mixed.outcome is not None, "a coldest above the site's warmest is taken as typed"


# --- Series on the grid of steps ---------------------------------------------------------------


def test_on_grid_by_hand() -> None:
    values, hold = on_grid(np.array([1.0, 2.0]), 3600.0, 60.0)
    assert values.tolist() == [1.0, 2.0]
    assert hold == 60
    values, hold = on_grid(np.array([7.0]), 3600.0, 60.0)
    assert values.tolist() == [7.0]
    assert hold > 10**9
    # 10-minute values 1 … 6 in hours: their mean.
    values, hold = on_grid(np.arange(1.0, 7.0), 600.0, 3600.0)
    assert (values.tolist(), hold) == ([3.5], 1)
    # Values of 40 s in steps of 60 s: 2/3 of the first and 1/3 of the second, then the rest.
    values, hold = on_grid(np.array([3.0, 6.0, 0.0]), 40.0, 60.0)
    assert values == pytest.approx([(3 * 40 + 6 * 20) / 60, (6 * 20 + 0 * 40) / 60])
    assert hold == 1


@given(
    st.lists(st.floats(0, 1e4), min_size=2, max_size=30),
    st.sampled_from([7.0, 40.0, 90.0, 600.0, 3600.0]),
    st.sampled_from([1.0, 60.0, 300.0, 3600.0]),
)
def test_averaging_keeps_the_energy(values: list[float], every_: float, step: float) -> None:
    whole = np.array(values)
    period = round(every_ * whole.size)
    steps = 3 * period * round(step) // math.gcd(period, round(step)) // round(step)
    found = averaged(whole, every_, step, steps)
    assert found.mean() == pytest.approx(whole.mean(), rel=1e-6, abs=1e-6)


# --- Any build ---------------------------------------------------------------------------------


def test_every_number_explains_itself() -> None:
    for run in (
        ran(GOOD, **CHARGED, tariff=TARIFF),
        ran(GOOD, mode="island"),
        simulate_operation(design(read_sheet(example("wether-barn")))),
    ):
        numbers = list(every(run.outcome))
        assert len(numbers) >= 13
        for worked in numbers:
            if worked.formula.startswith("integral"):
                assert np.isfinite(worked.value)
                assert worked.value >= 0
            else:
                check(worked)


def test_a_year_of_the_example() -> None:
    run = simulate_operation(design(read_sheet(example("wether-barn"))))
    came = run.outcome
    assert came is not None
    assert came.daily.load.size == 365
    assert came.energy_lost < 1e-3
    assert came.charge_lost < 1e-9
    # Golden: on dull days the pack does not carry all of the 9 hours without the utility.
    assert 0.999 < came.served.value < 1.0
    assert (came.counts["cut-off"], came.counts["outage begins"]) == (1, 1)
    assert came.daily.sun[150:200].mean() > 2 * came.daily.sun[:30].mean()


@settings(max_examples=15)
@given(builds(), st.sampled_from(["battery first", "utility first", "island"]), st.integers(0, 1))
def test_any_build_runs_and_its_books_close(build: Build, mode: str, cold: int) -> None:
    made = design(build)
    suns = tuple(shining(2000.0, on=a.name) for a in build.solar_arrays)
    run = simulate_operation(
        made,
        an(
            mode=mode,
            sun=suns,
            load=daily("home", "6 kWh"),
            coldest="-8 degC" if cold else "20 degC",
            mains_charging="never" if mode == "island" else "with the utility",
            step="5 min",
        ),
    )
    assert run.findings
    came = run.outcome
    if came is None:
        assert worst(run, "operation.known") is UNKNOWN
        return
    whole = came.energy("load asked").value
    parts = ("load carried by the inverters", "load carried by the utility")
    served = sum(came.energy(name).value for name in parts)
    assert served + came.energy("load that nobody carried").value == pytest.approx(whole)
    assert came.charge_lost < 1e-6
    if cold:
        limit = float(build.pack.module.chemistry.limits.charge_coldest.m)
        assert came.coldest_charging >= limit - 1e-6
