"""The usable window against a closed form, and what must hold of its parts.

On a straight open-circuit curve E(s) = n (a + b s) behind a constant resistance R, the energy at a
constant power P between two states is

    Q / (n b) · ∫ (E + √(E² − c²)) / 2 dE,   c² = 4 R P,
    ∫ √(E² − c²) dE = (E √(E² − c²) − c² ln(E + √(E² − c²))) / 2.
"""

from __future__ import annotations

import math

import attrs
import pytest
from hypothesis import given
from strategies import (
    OXIDE,
    good_build,
    good_charger,
    good_inverter,
    good_load,
    good_module,
    good_pack,
    good_site,
    groundwork,
    sound_builds,
    straight,
    with_charger,
    with_inverter,
    with_module,
)

from evpack.base.basis import Basis
from evpack.base.finding import Finding
from evpack.base.fitted import NOT_FITTED
from evpack.check.usable import (
    lowest_working_voltage,
    usable_window,
    voltage_of_greatest_currents,
)
from evpack.describe.build import Build
from evpack.describe.cabling import Cabling
from evpack.describe.policy import Policy
from evpack.design import design
from evpack.outcome.design import UsableWindow
from evpack.outcome.settings import Thresholds
from evpack.setpoint.sheet import settings_sheet

# The good pack on a straight curve: 14 cells, 180 Ah, 14.72 mΩ up to the inverter over hours (see
# setpoint/test_discharge.py), 2000 / 0.92 + 30 W of continuous load.
N, EMPTY, RISE, AH, OHMS, POWER = 14, 3.2, 0.9, 180.0, 0.01472, 2000 / 0.92 + 30
TOP, BOTTOM = 56.1, 45.4  # charge voltage and cut-off


def straight_build() -> Build:
    return good_build(pack=good_pack(module=good_module(ocv=straight(EMPTY, EMPTY + RISE))))


def window(build: Build) -> UsableWindow:
    found = design(build).usable
    assert found is not None
    return found


def solved(build: Build) -> tuple[UsableWindow | None, tuple[Finding, ...]]:
    """Return the window of a build as it stands, before anything nobody stated is settled."""
    ground = groundwork(build)
    settings, _ = settings_sheet(ground)
    return usable_window(ground, settings.thresholds)


def energy(low: float, high: float) -> float:
    """Return the closed form above between two rest voltages [Wh]."""
    c2 = 4 * OHMS * POWER

    def primitive(e: float) -> float:
        root = math.sqrt(e * e - c2)
        return (e * e / 2 + (e * root - c2 * math.log(e + root)) / 2) / 2

    return AH / (N * RISE) * (primitive(high) - primitive(low))


def state(volts: float) -> float:
    return (volts / N - EMPTY) / RISE


def test_the_ends_are_where_the_loaded_voltage_meets_the_settings() -> None:
    found = window(straight_build())
    # End of discharge: I = P / 45.4 V = 48.544 A, E = 45.4 + 48.544 · 0.01472 = 46.1146 V.
    e_bottom = BOTTOM + POWER / BOTTOM * OHMS
    assert e_bottom == pytest.approx(46.1146, abs=5e-5)
    assert found.soc_bottom == pytest.approx(state(e_bottom), abs=1e-9)
    # End of charge: 5 % of 180 Ah an hour is 9 A, E = 56.1 − 9 · 0.01472 = 55.9675 V.
    e_top = TOP - 9 * OHMS
    assert found.soc_top == pytest.approx(state(e_top), abs=1e-9)
    # Changeover: 573.478 W at 47.2 V, E = 47.2 + 12.150 · 0.01472 = 47.3788 V.
    e_go = 47.2 + (500 / 0.92 + 30) / 47.2 * OHMS
    assert found.soc_changeover == pytest.approx(state(e_go), abs=1e-9)
    assert found.bottom_by == "cut-off"


def test_the_energies_are_the_closed_form() -> None:
    found = window(straight_build())
    e_bottom, e_top = BOTTOM + POWER / BOTTOM * OHMS, TOP - 9 * OHMS
    e_go = 47.2 + (500 / 0.92 + 30) / 47.2 * OHMS
    # Trapezoids on a hundred points: their error is below a millionth here.
    assert found.reachable.value == pytest.approx(energy(e_bottom, e_top), rel=1e-6)
    assert found.everyday is not None
    assert found.reserve is not None
    assert found.everyday.value == pytest.approx(energy(e_go, e_top), rel=1e-6)
    assert found.reserve.value == pytest.approx(energy(e_bottom, e_go), rel=1e-6)
    # At rest the curve is straight and so exact: 180 · 14 · 3.65 = 9198 Wh in all; mean voltages
    # times charge outside.
    assert found.total.value == pytest.approx(9198.0)
    s_low, s_high = state(e_bottom), state(e_top)
    assert found.stranded_below.value == pytest.approx(AH * s_low * N * (EMPTY + RISE * s_low / 2))
    assert found.stranded_above.value == pytest.approx(
        AH * (1 - s_high) * N * (EMPTY + RISE * (1 + s_high) / 2)
    )


def test_without_resistance_to_speak_of_nothing_is_lost() -> None:
    build = good_build(
        pack=good_pack(
            module=good_module(ocv=straight(EMPTY, EMPTY + RISE), resistance="0.000001 mOhm")
        ),
        cabling=Cabling(),
    )
    # 1.3 nΩ and some 45 A for some 3 h are 9 µWh.
    assert window(build).lost_inside.value == pytest.approx(0, abs=1e-5)


@given(build=sound_builds())
def test_the_parts_are_the_whole_and_none_is_less_than_nothing(build: Build) -> None:
    found = design(build).usable
    if found is None:
        assert any(f.rule.key == "usable.solved" for f in design(build).findings)
        return
    parts = [
        found.reachable.value,
        found.stranded_above.value,
        found.stranded_below.value,
        found.lost_inside.value,
    ]
    dust = 1e-9 * found.total.value
    assert sum(parts) == pytest.approx(found.total.value)
    assert all(part >= -dust for part in parts)
    assert 0 <= found.soc_bottom <= found.soc_top <= 1
    assert 0 <= found.share.value <= 1
    if found.everyday is not None:
        assert found.reserve is not None
        assert found.soc_changeover is not None
        assert found.soc_bottom <= found.soc_changeover <= found.soc_top
        assert found.everyday.value + found.reserve.value == pytest.approx(
            found.reachable.value, rel=1e-3, abs=dust
        )


@given(build=sound_builds())
def test_the_end_of_discharge_is_found_by_walking_down(build: Build) -> None:
    """Walk down from full in small steps, and stop where the inverter would."""
    found, ground = design(build).usable, groundwork(build)
    if found is None:
        return
    path, demand = ground.source.path(hours=True), ground.demand.continuous
    sheet = design(build).settings
    assert path is not None
    assert demand is not None
    assert sheet is not None
    stops = lowest_working_voltage(build, sheet.thresholds)
    assert stops is not None
    s, step = 1.0, 1 / 2000
    while s > 0:
        e = ground.source.rest_voltage(s)
        r = ground.source.ohms_at(s, hours=True)
        assert r is not None
        inside = e * e - 4 * r * demand.value
        if inside < 0 or (e + math.sqrt(inside)) / 2 < stops:
            break
        s -= step
    assert found.soc_bottom == pytest.approx(min(max(s, 0.0), found.soc_top), abs=2 * step)


def test_in_the_cold_less_is_reachable_and_it_is_said() -> None:
    cold = attrs.evolve(straight_build(), site=good_site(coldest="0 degC"))
    found = window(cold)
    # Twice 13.3333 mΩ of cells and 1.38667 mΩ of cables: 48.544 A · 28.0533 mΩ over 45.4 V.
    e_bottom = BOTTOM + POWER / BOTTOM * 0.0280533333
    assert found.soc_bottom == pytest.approx(state(e_bottom), abs=1e-8)
    assert found.reachable.value < window(straight_build()).reachable.value
    # The changeover is set for warm cells, so in the cold more than the reserve is left at it.
    assert found.soc_changeover is not None
    assert found.soc_changeover > state(47.2 + (500 / 0.92 + 30) / 47.2 * OHMS)

    def told(build: Build) -> str:
        return next(f.detail for f in design(build).findings if f.rule.key == "usable.stranded")

    assert told(cold).endswith("with 2 times their resistance at room temperature.")
    assert "room temperature" not in told(straight_build())


def test_a_weak_pack_ends_where_it_collapses() -> None:
    found = window(with_module(resistance="300 mOhm"))
    assert found.bottom_by == "weak pack"
    assert math.isnan(found.loaded[0])


def test_a_pack_may_run_empty_before_the_cut_off() -> None:
    # Rests at 14 · 3.4 = 47.6 V when empty, and hardly sags.
    build = good_build(
        pack=good_pack(module=good_module(ocv=straight(3.4, 4.1), resistance="0.1 mOhm")),
        load=good_load(continuous="100 W", typical="50 W", peak="200 W"),
    )
    found = window(build)
    assert (found.soc_bottom, found.bottom_by) == (0.0, "empty")


def test_the_window_may_end_above_the_cut_off() -> None:
    # 48 V is more than the cut-off can be set to: 45.4 V is entered, and it stops at 48 V.
    found = window(with_inverter(window_low="48 V", cut_off=("40 V", "47 V", "0.1 V")))
    assert found.bottom_by == "inverter window"
    # Where it can be entered, it is.
    assert window(with_inverter(window_low="48 V")).bottom_by == "cut-off"


def test_cables_that_nobody_described_are_said_to_be_left_out() -> None:
    def told(build: Build) -> str:
        return next(f.detail for f in design(build).findings if f.rule.key == "usable.stranded")

    bare = good_build(cabling=Cabling())
    assert told(bare).endswith("Drop in the cables is not counted: unknown.")
    assert "cables" not in told(good_build())


def test_without_a_changeover_nothing_is_split() -> None:
    found = window(with_inverter(changeover="none", return_to_battery="none"))
    assert (found.soc_changeover, found.everyday, found.reserve) == (None, None, None)


@pytest.mark.parametrize(
    "build",
    [
        with_module(resistance=None),
        with_inverter(continuous=None, idle=None),
        with_inverter(cut_off=None),
        with_inverter(window_low=None),
        with_charger(charge_voltage=None),
    ],
    ids=["resistance", "idle", "cut-off", "window", "charge"],
)
def test_what_is_not_settled_is_not_solved(build: Build) -> None:
    assert solved(build)[0] is None


SOME = Thresholds(charge=56.0, charge_most=56.3, cut_off=45.4, changeover=None, back=None)
NONE = Thresholds(charge=None, charge_most=None, cut_off=None, changeover=None, back=None)


def test_the_lowest_working_voltage_is_the_cut_off_or_the_window() -> None:
    assert lowest_working_voltage(good_build(), SOME) == 45.4
    assert lowest_working_voltage(good_build(), NONE) == 42.0
    assert lowest_working_voltage(with_inverter(window_low="46 V"), SOME) == 46.0
    assert lowest_working_voltage(with_inverter(window_low=None), SOME) is None
    assert lowest_working_voltage(with_inverter(window_low="0 V"), SOME) is None
    assert lowest_working_voltage(good_build(inverters=()), SOME) is None


def test_currents_are_judged_where_the_last_inverter_stops() -> None:
    two = good_build(inverters=(good_inverter(), good_inverter(name="other", window_low="47 V")))
    assert lowest_working_voltage(two, SOME) == 47.0
    assert voltage_of_greatest_currents(two, SOME) == 42.0
    assert voltage_of_greatest_currents(good_build(), SOME) == 45.4
    assert voltage_of_greatest_currents(with_inverter(window_low=None), SOME) is None


def test_nothing_settled_is_one_unknown() -> None:
    found, findings = usable_window(groundwork(good_build()), NONE)
    assert found is None
    assert [f.severity.name for f in findings] == ["UNKNOWN"]


@pytest.mark.parametrize(
    ("build", "missing"),
    [
        (with_module(resistance=None), "the modules' resistance"),
        (
            with_inverter(continuous=None, idle=None),
            "the inverters' efficiency or idle draw",
        ),
        (with_charger(charge_voltage=None), "a charge voltage"),
        (with_inverter(cut_off=None), "a low-voltage cut-off"),
        (with_inverter(window_low=None), "the bottom of an inverter's window"),
        (
            good_build(inverters=(good_inverter(cut_off=None, window_low=None),)),
            "a low-voltage cut-off, the bottom of an inverter's window",
        ),
    ],
    ids=["resistance", "idle", "charge", "cut-off", "window", "two"],
)
def test_exactly_what_is_not_settled_is_listed(build: Build, missing: str) -> None:
    _, (found,) = solved(build)
    assert found.detail.endswith(f"not settled: {missing}.")
    assert found.remedy == f"Settle {missing.replace(', ', ' and ')}."


# --- What comes out of the inverter -----------------------------------------------------------


def test_less_comes_out_of_the_inverter_than_goes_in() -> None:
    """Worked by hand: 500 W of load draw 500 / 0.92 + 30 = 573.478 W, so 87.187 % come out."""
    found = window(straight_build())
    assert found.load_ac == 500
    for inside, out in (
        (found.reachable, found.reachable_ac),
        (found.everyday, found.everyday_ac),
        (found.reserve, found.reserve_ac),
    ):
        assert inside is not None
        assert out is not None
        assert out.value / inside.value == pytest.approx(0.87187, abs=5e-6)
        assert inside.name.replace("DC", "AC") == out.name
    # The same at 2 kW would be 2000 / 2203.91 = 90.75 %: the idle draw counts for less.
    busy = window(attrs.evolve(straight_build(), load=good_load(typical="2 kW")))
    assert busy.reachable_ac.value / busy.reachable.value == pytest.approx(0.90748, abs=5e-6)


def test_without_a_typical_load_the_continuous_one_is_taken() -> None:
    found = window(attrs.evolve(straight_build(), load=good_load(typical=None)))
    assert found.load_ac == 2000
    assert found.reachable_ac.value / found.reachable.value == pytest.approx(0.90748, abs=5e-6)


# --- What float leaves ------------------------------------------------------------------------


def floating(**changes: object) -> Build:
    return attrs.evolve(
        straight_build(), chargers=(good_charger(float_can_be_off=False, **changes),)
    )


def test_after_hours_at_float_the_evening_begins_lower() -> None:
    """Worked by hand: 14 · 3.95 V / 1.005 = 55.02 V, entered as 55.0 V: (55 / 14 − 3.2) / 0.9."""
    found = window(floating())
    assert found.soc_float == pytest.approx(0.80952, abs=5e-6)
    assert found.float_by == "charger"
    e_go = 47.2 + (500 / 0.92 + 30) / 47.2 * OHMS
    assert found.from_float is not None
    assert found.from_float_ac is not None
    assert found.from_float.value == pytest.approx(energy(e_go, 55.0), rel=1e-6)
    assert found.from_float_ac.value == pytest.approx(0.871873 * found.from_float.value, rel=1e-5)
    assert found.everyday is not None
    assert found.from_float.value < found.everyday.value
    (note,) = (f for f in design(floating()).findings if f.rule.key == "usable.float")
    assert note.severity.name == "NOTE"
    assert "the pack rests at 81 % of charge, not at 88.6 %" in " ".join(note.detail.split())


def test_of_several_floats_the_lowest_counts() -> None:
    both = (
        good_charger(float_can_be_off=False),
        good_charger(name="lower", float_can_be_off=False, float_setting=("48 V", "53 V", "0.1 V")),
    )
    found = window(attrs.evolve(straight_build(), chargers=both))
    assert found.float_by == "lower"
    assert found.soc_float == pytest.approx(state(53.0))


def test_without_a_changeover_float_leaves_what_lies_above_the_end() -> None:
    build = attrs.evolve(floating(), inverters=(good_inverter(changeover=NOT_FITTED),))
    found = window(build)
    assert found.everyday is None
    assert found.from_float is not None
    e_bottom = BOTTOM + POWER / BOTTOM * OHMS
    assert found.from_float.value == pytest.approx(energy(e_bottom, 55.0), rel=1e-6)


@pytest.mark.parametrize(
    "build",
    [
        straight_build(),  # float is off
        # Charged to 3.95 V a cell it cannot fall to a float as high: 14 · (3.95 − 0.02) / 1.005.
        attrs.evolve(floating(), policy=Policy(charge_target="3.95 V")),
    ],
    ids=["off", "no lower than the charge"],
)
def test_a_float_that_takes_nothing_away_is_not_told(build: Build) -> None:
    found = window(build)
    assert (found.soc_float, found.float_by, found.from_float) == (None, "", None)
    assert all(f.rule.key != "usable.float" for f in design(build).findings)


# --- What an assumed curve leaves open --------------------------------------------------------


def on_an_assumed_curve(basis: Basis = Basis.ASSUMED) -> Build:
    """Return the straight build on a curve of the library, whose kin begins 0.1 V lower."""
    kin = straight(EMPTY - 0.1, EMPTY + RISE)
    mine = attrs.evolve(straight(EMPTY, EMPTY + RISE), basis=basis)
    library = attrs.evolve(OXIDE, ocv=mine, kindred=(kin,))
    return good_build(pack=good_pack(module=good_module(chemistry=library)))


def test_on_an_assumed_curve_the_settings_are_held_against_its_kin() -> None:
    """Between the same voltages a curve that rises by 1 V and not 0.9 V holds nine tenths."""
    found = window(on_an_assumed_curve())
    for name in ("reachable", "everyday", "reserve", "reachable_ac", "everyday_ac", "reserve_ac"):
        value = getattr(found, name).value
        assert found.bands[name] == pytest.approx((0.9 * value, value), rel=1e-6)
    # At rest: 180 · 14 · 3.6 = 9072 Wh in all, and 55.9675 V are (55.9675 / 14 − 3.1) / 1 charged.
    assert found.bands["total"] == pytest.approx((9072.0, 9198.0))
    s_top = (TOP - 9 * OHMS) / N - 3.1
    above = AH * (1 - s_top) * N * (3.1 + (1 + s_top) / 2)
    assert found.bands["stranded_above"] == pytest.approx((above, found.stranded_above.value))
    share = found.bands["share"]
    assert share == pytest.approx((0.9 * found.reachable.value / 9072, found.share.value), rel=1e-6)
    low, high = found.bands["lost_inside"]
    assert 0 < low < found.lost_inside.value == high


def test_a_band_is_told_with_no_more_digits_than_are_known() -> None:
    """By the closed form 7.09 kWh, and nine tenths of it, 6.38 kWh: 0.7 kWh wide, so halves."""
    found = window(on_an_assumed_curve())
    assert found.bands["reachable"] == pytest.approx((6384, 7093), abs=1)
    assert str(found.told.reachable) == "about 6.5 to 7 kWh"
    assert str(found.reachable) == "7.09 kWh"  # for what works on with it
    (note,) = (f for f in design(on_an_assumed_curve()).findings if f.rule.key == "usable.stranded")
    assert "11.4 % of the charge stays above the charge setting" in note.detail
    assert "Wh" not in note.detail


def test_float_has_a_band_too() -> None:
    build = attrs.evolve(on_an_assumed_curve(), chargers=(good_charger(float_can_be_off=False),))
    found = window(build)
    assert found.from_float is not None
    value = found.from_float.value
    assert found.bands["from_float"] == pytest.approx((0.9 * value, value), rel=1e-6)


@pytest.mark.parametrize(
    "build",
    [
        on_an_assumed_curve(Basis.MEASURED),
        on_an_assumed_curve(Basis.DATASHEET),
        straight_build(),
        # Assumed, but the library holds no other curve for its name.
        with_module(chemistry=attrs.evolve(OXIDE, ocv=attrs.evolve(OXIDE.ocv, basis="assumed"))),
    ],
    ids=["measured", "data sheet", "the module's own", "no kin"],
)
def test_a_curve_that_is_known_leaves_one_number(build: Build) -> None:
    found = window(build)
    assert found.kindred is None
    assert found.bands == {}
    assert str(found.told.reachable) == str(found.reachable)


def test_a_record_of_the_library_is_held_against_the_curve_of_its_name_too() -> None:
    """A module's own curve that is only assumed: its chemistry's curve and that one's kin."""
    mine = attrs.evolve(straight(EMPTY + 0.05, EMPTY + RISE), basis=Basis.ASSUMED)
    library = on_an_assumed_curve().pack.module.chemistry
    build = good_build(pack=good_pack(module=good_module(chemistry=library, ocv=mine)))
    found = window(build)
    assert found.kindred is not None
    assert len(found.kindred.emf) == 2
    # Rises of 0.85, 0.9 and 1 V between the same voltages.
    value = found.reachable.value
    assert found.bands["reachable"] == pytest.approx((0.85 * value, value), rel=1e-6)


def test_a_design_works_no_band_out(monkeypatch: pytest.MonkeyPatch) -> None:
    """A search makes thousands of designs, and tells a dozen."""

    def never(*_: object, **__: object) -> None:
        raise AssertionError("worked out a band")

    monkeypatch.setattr("evpack.outcome.design.reach", never)
    found = window(on_an_assumed_curve())
    with pytest.raises(AssertionError, match="worked out a band"):
        _ = found.bands
