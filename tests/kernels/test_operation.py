"""A pack at work: hours to the cut-off, hunting, charging, trips, outages, books, all by hand."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from operations_made import Worked, charger, chargers, plan, rules
from strings_made import any_strings, made, plain

from evpack.kernels import network
from evpack.kernels import operation_nouns as op
from evpack.kernels.cold import charge_rate_limit
from evpack.kernels.operation import run

# One string that stands at 50 V behind 0.1 Ω whatever is taken from it.
STIFF = made([0.1], empty=50.0, full=50.0, amp_hours=1e6)
# One string of 60 Ah, straight from 42 to 57 V, of next to no resistance.
BATTERY = made([1e-6])
NONE = chargers()


def work(strings: network.Strings = BATTERY, **how: Any) -> Worked:
    given: dict[str, Any] = {"plan": plan(), "chargers": NONE, "rules": rules()}
    return Worked(strings, **{**given, **how})


# --- Discharging: worked by hand ---------------------------------------------------------------


def test_hours_to_the_cut_off() -> None:
    # 48 V stands at 0.4 of the charge: 0.6 · 60 Ah · (57 + 48) V / 2 = 1890 Wh, 945 W for 2 h.
    done = work(
        plan=plan(945.0),
        rules=rules(mode=op.ISLAND, cut=48.0),
        soc=1.0,
        seconds=5.0,
        steps=2000,
        stop=True,
    )
    assert done.books.steps * 5.0 == pytest.approx(7200.0, abs=10.0)
    assert done.count(op.CUT_OFF) == 1
    assert done.books.inverter / 3600 == pytest.approx(1890.0, rel=1e-3)


def test_efficiency_and_idle_draw_shorten_them() -> None:
    # 0.9 · (945 − 45) W = 810 W on the AC side are 945 W from the pack: the same 2 h.
    done = work(
        plan=plan(810.0),
        rules=rules(mode=op.ISLAND, cut=48.0, efficiency=0.9, idle=45.0),
        soc=1.0,
        seconds=5.0,
        steps=2000,
        stop=True,
    )
    assert done.books.steps * 5.0 == pytest.approx(7200.0, abs=10.0)
    assert done.books.inverter_dc / 3600 == pytest.approx(1890.0, rel=1e-3)


def test_cable_of_the_inverters() -> None:
    # 50 V behind 0.1 + 0.1 Ω and 1200 W: I = (50 − √(2500 − 960)) / 0.4 = 26.893 A, 44.621 V.
    done = work(STIFF, plan=plan(1200.0), rules=rules(cable=0.1), steps=1)
    assert done.column(op.ROW_VOLTS)[0] == pytest.approx(44.6215, abs=1e-3)
    assert done.books.cable_heat == pytest.approx(26.893**2 * 0.1 * 60, rel=1e-3)


def test_more_than_the_inverters_give_is_not_served() -> None:
    done = work(plan=plan(3000.0), rules=rules(mode=op.ISLAND, most=2000.0), steps=3)
    assert done.books.unserved == pytest.approx(1000.0 * 180)
    assert done.books.inverter == pytest.approx(2000.0 * 180)
    assert done.books.unserved_time == 180.0
    assert done.books.overloaded == 180.0


@pytest.mark.parametrize(
    ("asked", "how", "seconds"),
    [
        # What they just give is no overload; of 2001, 2000 and 2001 W the first and third minute
        # are one; the utility carries any load; and a pack that is cut off carries none.
        (2000.0, {"mode": op.ISLAND}, 0.0),
        ([2001.0, 2000.0, 2001.0], {"mode": op.ISLAND}, 120.0),
        (3000.0, {"mode": op.UTILITY_FIRST}, 0.0),
        (3000.0, {"mode": op.ISLAND, "cut": 60.0}, 0.0),
    ],
)
def test_overload_is_counted(asked: Any, how: dict[str, Any], seconds: float) -> None:
    done = work(plan=plan(asked), rules=rules(most=2000.0, **how), steps=3)
    assert done.books.overloaded == seconds


# --- Changeover and hunting: worked by hand ----------------------------------------------------

# 1000 W from 50 V behind 0.1 Ω: I = (50 − √(2500 − 400)) / 0.2 = 20.871 A, 47.913 V.
LOADED = 47.9129


def test_a_load_that_hunts() -> None:
    """Below 48 V for a minute it goes; at 50 V for five minutes it comes back; and so on.

    Step 0 is loaded. Step 1 sees 47.9 V for 60 s, more than the delay: changeover. Steps 2 to 6
    see 50 V, at the fifth of them for 300 s: return at step 6. So every six steps, in 60 steps
    10 changeovers (1, 7, … 55) and 9 returns (6, 12, … 54); each changeover but the first is
    within the hour.
    """
    done = work(STIFF, plan=plan(1000.0), rules=rules(go=48.0, back=49.0))
    assert done.steps_of(op.TO_UTILITY) == [1 + 6 * k for k in range(10)]
    assert done.steps_of(op.TO_BATTERY) == [6 * k for k in range(1, 10)]
    assert done.count(op.HUNT) == 9
    assert done.books.rise == pytest.approx(50.0 - LOADED, abs=1e-3)
    assert done.kept.event_volts[0] == pytest.approx(LOADED, abs=1e-3)


def test_a_return_above_the_rebound_does_not_hunt() -> None:
    done = work(STIFF, plan=plan(1000.0), rules=rules(go=48.0, back=50.5))
    assert (done.count(op.TO_UTILITY), done.count(op.TO_BATTERY), done.count(op.HUNT)) == (1, 0, 0)
    assert done.books.by_utility == pytest.approx(1000.0 * 59 * 60)


def test_a_changeover_below_the_loaded_voltage_never_comes() -> None:
    done = work(STIFF, plan=plan(1000.0), rules=rules(go=47.9, back=49.0))
    assert done.kept.counts.sum() == 0


def test_a_dip_shorter_than_the_delay_is_let_pass() -> None:
    dips = plan([1000.0, 0.0])
    assert work(STIFF, plan=dips, rules=rules(go=48.0, go_delay=90.0)).kept.counts.sum() == 0
    assert work(STIFF, plan=dips, rules=rules(go=48.0, go_delay=60.0)).count(op.TO_UTILITY) == 1


def test_a_restart_too_near_the_cut_off_hunts_too() -> None:
    # An island, cut off at 48 V within the step, restarting at 49 V: every other step.
    done = work(STIFF, plan=plan(1000.0), rules=rules(mode=op.ISLAND, cut=48.0, restart=49.0))
    assert done.count(op.CUT_OFF) == 60
    assert done.count(op.RESTART) == 59
    assert done.count(op.HUNT) == 59
    assert done.books.unserved == pytest.approx(1000.0 * 3600)


def test_a_cut_off_falls_back_on_the_utility() -> None:
    done = work(STIFF, plan=plan(1000.0), rules=rules(cut=48.0))
    assert done.count(op.CUT_OFF) == 1
    assert done.books.by_utility == pytest.approx(1000.0 * 3600)
    assert done.books.unserved == 0.0


def test_returned_by_hand_when_full() -> None:
    """Without a return voltage the load comes back when the pack is full."""
    done = work(
        made([0.02]),
        soc=0.4,
        plan=plan(700.0, suns=[2500.0]),
        chargers=chargers(charger(current=80.0)),
        rules=rules(go=49.0, back=np.inf),
        steps=240,
    )
    assert done.count(op.TO_UTILITY) >= 1
    assert done.steps_of(op.TO_BATTERY)[0] == done.steps_of(op.FULL)[0] + 1


# --- Outages and modes -------------------------------------------------------------------------


def test_utility_first_stands_by_for_outages() -> None:
    out = [0.0] * 10 + [1.0] * 5 + [0.0] * 45
    done = work(plan=plan(600.0, outage=out), rules=rules(mode=op.UTILITY_FIRST))
    assert done.books.inverter == pytest.approx(600.0 * 5 * 60)
    assert done.books.by_utility == pytest.approx(600.0 * 55 * 60)
    assert (done.count(op.OUTAGE_BEGINS), done.count(op.OUTAGE_ENDS)) == (1, 1)
    assert done.count(op.TO_UTILITY) == done.count(op.TO_BATTERY) == 0
    assert list(done.column(op.ROW_CARRIER)[9:16]) == [1, 0, 0, 0, 0, 0, 1]


def test_an_outage_while_the_utility_carries_brings_the_battery_back() -> None:
    # It changes over at step 1; from step 20 to 29 the utility is out; at step 31 it goes again.
    out = [0.0] * 20 + [1.0] * 10 + [0.0] * 30
    done = work(STIFF, plan=plan(1000.0, outage=out), rules=rules(go=48.0, back=60.0))
    assert done.steps_of(op.TO_UTILITY) == [1, 30]
    assert list(done.column(op.ROW_CARRIER)[18:32]) == [1, 1] + [0] * 10 + [1, 1]
    assert done.books.unserved == 0.0


def test_nobody_carries_in_an_outage_after_the_cut_off() -> None:
    out = [0.0] * 5 + [1.0] * 55
    done = work(STIFF, plan=plan(1000.0, outage=out), rules=rules(cut=48.0))
    assert done.books.unserved == pytest.approx(1000.0 * 55 * 60)
    again = work(STIFF, plan=plan(1000.0, outage=[1.0] * 5 + [0.0] * 55), rules=rules(cut=48.0))
    assert list(again.column(op.ROW_CARRIER)[4:6]) == [2, 1]


# --- Charging: worked by hand ------------------------------------------------------------------


def test_the_sun_goes_to_the_load_first() -> None:
    # 600 W of sun, a tenth lost in the charger: 540 W, 300 W of them for the load, 240 W in.
    done = work(
        plan=plan(300.0, suns=[600.0]), chargers=chargers(charger(efficiency=0.9)), steps=10
    )
    assert done.column(op.ROW_PACK) == pytest.approx(np.full(10, -240.0), rel=1e-5)
    assert done.books.direct == pytest.approx(300.0 * 600)
    assert done.books.sun == pytest.approx(600.0 * 600, rel=1e-6)
    assert done.books.unused == pytest.approx(0.0, abs=1.0)


def test_what_the_sun_lacks_comes_from_the_pack() -> None:
    done = work(plan=plan(300.0, suns=[100.0]), chargers=chargers(charger()), steps=10)
    assert done.column(op.ROW_PACK) == pytest.approx(np.full(10, 200.0), rel=1e-5)
    assert done.books.direct == pytest.approx(100.0 * 600, rel=1e-5)


def test_current_limit_of_a_charger() -> None:
    # 30 A at about 49.5 V take 1485 W of the 3000 W there are.
    done = work(plan=plan(1e-9, suns=[3000.0]), chargers=chargers(charger()), steps=1)
    assert done.books.charge_net == pytest.approx(-30.0 * 60, rel=1e-6)
    assert done.books.unused + done.books.sun == pytest.approx(3000.0 * 60)


def test_a_charge_ends_at_its_current_and_begins_anew_below_its_voltage() -> None:
    """56 V stand at (56 − 42) / 15 = 0.9333; behind 0.1 Ω, 3 A end it at 55.7 V, 0.9133."""
    strings = made([0.1])
    sun = [2000.0] * 300 + [0.0] * 60
    done = work(
        strings,
        soc=0.8,
        plan=plan([1e-9] * 200 + [1500.0] * 160, suns=[sun]),
        chargers=chargers(charger()),
        steps=200,
    )
    assert done.state.soc[0] == pytest.approx(0.9133, abs=0.002)
    assert done.count(op.FULL) == 1
    assert done.books.highest_volts == pytest.approx(56.0)
    assert done.memory.resting[0] == 1
    later = work(
        strings,
        soc=0.8,
        plan=plan([1e-9] * 200 + [1500.0] * 160, suns=[sun]),
        chargers=chargers(charger()),
        steps=300,
    )
    assert later.memory.resting[0] == 0
    assert later.column(op.ROW_SUN)[-1] > 0


def test_a_float_is_held_after_the_charge() -> None:
    done = work(
        made([0.1]),
        soc=0.9,
        plan=plan(1e-9, suns=[2000.0]),
        chargers=chargers(charger(hold=55.0, again=50.0)),
        steps=600,
    )
    assert done.memory.resting[0] == 1
    assert done.column(op.ROW_VOLTS)[-1] < 56.0
    loaded = work(
        made([0.1]),
        soc=0.9,
        plan=plan([1e-9] * 120 + [500.0] * 480, suns=[2000.0]),
        chargers=chargers(charger(hold=55.0, again=50.0)),
        steps=600,
    )
    assert loaded.column(op.ROW_VOLTS)[-1] == pytest.approx(55.0, abs=1e-6)


def test_a_new_day_is_a_new_charge() -> None:
    done = work(
        made([0.1]),
        soc=0.93,
        plan=plan(1e-9, suns=[[2000.0] * 20 + [0.0] * 10]),
        chargers=chargers(charger(again=10.0)),
    )
    assert done.count(op.FULL) >= 1
    lit = done.column(op.ROW_SUN) > 0
    assert lit[30], "after the dark the charger begins anew"


def test_temperature_compensation_raises_a_profile_in_the_cold() -> None:
    # 0.12 V/K and 10 K below its reference: 56 + 1.2 V.
    done = work(
        made([0.1]),
        soc=0.95,
        plan=plan(1e-9, suns=[2000.0], air=15.0),
        chargers=chargers(charger(per_kelvin=0.12)),
        steps=300,
    )
    assert done.books.highest_volts == pytest.approx(57.2)


def test_the_lower_of_two_charge_voltages_yields_first() -> None:
    done = work(
        made([0.1]),
        soc=0.9,
        plan=plan(1e-9, suns=[2000.0, 2000.0]),
        chargers=chargers(charger(absorb=55.7, ending=0.0), charger(ending=0.0)),
        steps=1,
    )
    # 60 A would lift 55.5 V by 6 V. The first holds 55.7 V only if the second alone does not pass
    # it, which its 30 A would; so the first gives nothing and the second holds 56 V. Over the step
    # the string is 0.1 Ω and 15 V · 60 s / 216000 A s = 0.00417 Ω: 0.5 V / 0.10417 Ω = 4.8 A.
    assert done.column(op.ROW_VOLTS)[0] == pytest.approx(56.0)
    assert done.books.charge_net == pytest.approx(-4.8 * 60)


def test_two_chargers_of_one_voltage_share() -> None:
    done = work(
        made([0.1]),
        soc=0.88,
        plan=plan(1e-9, suns=[200.0, 2000.0]),
        chargers=chargers(charger(ending=0.0), charger(ending=0.0)),
        steps=1,
    )
    # 0.8 V over 55.2 V behind 0.10417 Ω: 7.68 A; one of them yields and gives what is left of it.
    assert done.column(op.ROW_VOLTS)[0] == pytest.approx(56.0)
    assert done.books.charge_net == pytest.approx(-7.68 * 60)


@pytest.mark.parametrize(
    ("when", "cheap", "mode", "go", "charges"),
    [
        (op.NEVER, 1.0, op.BATTERY_FIRST, 48.0, 0),
        (op.WITH_UTILITY, 0.0, op.BATTERY_FIRST, 48.0, 1),
        (op.WITH_UTILITY, 0.0, op.BATTERY_FIRST, 0.0, 0),
        (op.WITH_UTILITY, 0.0, op.UTILITY_FIRST, 0.0, 1),
        (op.CHEAP_HOURS, 0.0, op.BATTERY_FIRST, 0.0, 0),
        (op.CHEAP_HOURS, 1.0, op.BATTERY_FIRST, 0.0, 1),
        (op.CHEAP_HOURS, 1.0, op.ISLAND, 0.0, 0),
    ],
)
def test_when_the_mains_charge(when: int, cheap: float, mode: int, go: float, charges: int) -> None:
    done = work(
        STIFF,
        plan=plan(1000.0, cheap=cheap, suns=[0.0]),
        chargers=chargers(charger(mains=1, efficiency=0.8, absorb=52.0, again=60.0)),
        rules=rules(charging=when, mode=mode, go=go),
        steps=10,
    )
    assert (done.books.charging > 0) == charges
    if mode == op.UTILITY_FIRST:  # 52 V over 50 V behind 0.1 Ω: 20 A · 52 V / 0.8 = 1300 W
        assert done.column(op.ROW_CHARGING) == pytest.approx(np.full(10, 1300.0))
        assert done.books.utility == pytest.approx(2300.0 * 600)


def test_the_mains_do_not_charge_in_an_outage() -> None:
    done = work(
        STIFF,
        plan=plan(1000.0, outage=1.0, cheap=1.0, suns=[0.0]),
        chargers=chargers(charger(mains=1, absorb=52.0)),
        rules=rules(charging=op.CHEAP_HOURS),
    )
    assert done.books.charging == done.books.utility == 0.0


def test_tariff_by_hand() -> None:
    # Half an hour at 0.2 and half at 0.4 for a kWh: 2 kW cost 0.2 + 0.4; it paid the second half.
    done = work(
        STIFF,
        plan=plan(2000.0, price=[0.2] * 30 + [0.4] * 30, outage=[1.0] * 30 + [0.0] * 30),
        rules=rules(mode=op.UTILITY_FIRST),
    )
    assert done.books.cost_all / 3.6e6 == pytest.approx(0.6)
    assert done.books.cost / 3.6e6 == pytest.approx(0.4)


# --- Cold, heat and trips ----------------------------------------------------------------------

COLD_TABLE = np.array([60.0 * charge_rate_limit(t) for t in range(-40, 101)])


@pytest.mark.parametrize(
    ("celsius", "amps"), [(-5.0, 0.0), (-0.1, 0.0), (2.0, 3.0), (10.0, 12.0), (20.0, 30.0)]
)
def test_cold_limits_of_the_charge_current(celsius: float, amps: float) -> None:
    # 60 Ah: nothing below freezing, 0.05 and 0.2 of it an hour above; 30 A is the charger's own.
    done = work(
        plan=plan(100.0, suns=[3000.0], air=celsius),
        celsius=celsius,
        chargers=chargers(charger()),
        rules=rules(may_charge=COLD_TABLE),
        steps=5,
    )
    into = -done.books.charge_net / 300
    load = 100.0 / 49.5 if celsius >= 15 else 0.0  # the charger's own limit holds the load's part
    assert into == pytest.approx(amps - load, abs=0.03)
    assert done.books.inverter == pytest.approx(100.0 * 300)
    assert (done.books.cold_limited > 0) == (celsius < 15)


def test_a_high_cell_opens_and_closes_again() -> None:
    # 0.05 V of spread on 55.0 / 14 = 3.93 V: 4.0 V are passed at 55.3 V.
    done = work(
        made([0.1]),
        soc=0.8,
        plan=plan(1e-9, suns=[3000.0]),
        chargers=chargers(charger()),
        rules=rules(spread=0.05, high=4.0, high_clear=3.95),
        steps=600,
    )
    assert 1 <= done.count(op.HIGH_CELL) <= 600 / 5, "no sooner than in five minutes"
    assert done.books.highest_cell <= 4.0
    shut = work(
        made([0.1]),
        soc=0.8,
        plan=plan(1e-9, suns=[3000.0]),
        chargers=chargers(charger()),
        rules=rules(spread=0.05, high=4.0, high_clear=3.9),
        steps=600,
    )
    assert shut.count(op.HIGH_CELL) == 1, "it rests above where it would close again"
    assert shut.memory.watch.shut_high


def test_a_low_cell_opens_until_it_is_charged() -> None:
    # 3.3 V a cell with 0.05 V of spread: 46.9 V.
    done = work(
        soc=0.4,
        plan=plan(2000.0, suns=[[0.0] * 60 + [3000.0] * 300]),
        chargers=chargers(charger(absorb=56.0)),
        rules=rules(mode=op.ISLAND, below=0.05, low=3.3, low_clear=3.4),
        steps=360,
    )
    assert done.count(op.LOW_CELL) >= 1
    assert done.books.lowest_cell >= 3.3 - 0.01
    assert done.books.unserved > 0
    later = done.column(op.ROW_CARRIER)[done.steps_of(op.LOW_CELL)[0] :]
    assert later[0] == op.NOBODY
    assert (later == op.BATTERY).any(), "it closed again"


def test_over_current_out_locks_for_five_minutes() -> None:
    # Open for steps 0 to 4, tried again at 5: 12 times in 60 steps.
    done = work(STIFF, plan=plan(1000.0), rules=rules(mode=op.ISLAND, over_out=20.0))
    assert done.steps_of(op.OVER_OUT) == list(range(0, 60, 5))
    assert done.books.inverter == 0.0


def test_over_current_in_stops_the_chargers() -> None:
    done = work(
        plan=plan(1e-9, suns=[3000.0]), chargers=chargers(charger()), rules=rules(over_in=20.0)
    )
    assert done.count(op.OVER_IN) == 12
    assert done.books.charge_net == pytest.approx(0.0, abs=1e-6)


@pytest.mark.parametrize(
    ("celsius", "kind"), [(-25.0, op.TOO_COLD), (65.0, op.TOO_HOT)], ids=["cold", "hot"]
)
def test_too_cold_and_too_hot_to_give_current(celsius: float, kind: int) -> None:
    done = work(
        plan=plan(500.0, air=celsius),
        celsius=celsius,
        rules=rules(mode=op.ISLAND, coldest=-20.0, hottest=60.0),
    )
    assert done.count(kind) == 1
    assert done.books.inverter == 0.0
    assert work(
        plan=plan(500.0, air=celsius), celsius=celsius, rules=rules(coldest=-20.0, hottest=60.0)
    ).books.by_utility == pytest.approx(500.0 * 3600)


def test_a_trip_falls_back_on_the_utility() -> None:
    done = work(STIFF, plan=plan(1000.0), rules=rules(over_out=20.0))
    assert done.count(op.OVER_OUT) == 1
    assert done.books.by_utility == pytest.approx(1000.0 * 3600)


def test_a_string_that_is_open_has_no_cells_to_trip() -> None:
    strings = made([0.02, 0.02], lead=1e-6)
    strings.lead[1] = 1e9
    done = work(strings, plan=plan(500.0), rules=rules(low=3.0, low_clear=3.1), steps=5)
    assert done.count(op.LOW_CELL) == 0
    assert 3.0 < done.books.lowest_cell < done.books.highest_cell < 4.2


# --- What is written down ----------------------------------------------------------------------


def test_histograms_events_and_rows() -> None:
    done = work(
        STIFF,
        plan=plan(1000.0),
        rules=rules(go=48.0, back=49.0),
        soc=0.52,
        steps=60,
        room=3,
        every=6,
    )
    assert done.kept.soc_seconds[10] == 3600.0, "0.50 to 0.55"
    assert done.kept.celsius_seconds[13] == 3600.0, "25 to 30 °C"
    assert done.memory.events == 3, "as many as there is room for"
    assert done.count(op.TO_UTILITY) + done.count(op.TO_BATTERY) + done.count(op.HUNT) == 28
    # In each six steps the battery carries one, step 0 or 6 or 12.
    assert done.column(op.ROW_INVERTER) == pytest.approx(np.full(10, 1000.0 / 6))
    assert done.column(op.ROW_UTILITY) == pytest.approx(np.full(10, 5000.0 / 6))


def test_series_begin_where_the_run_begins() -> None:
    done = work(plan=plan([100.0, 200.0, 300.0], hold=4), steps=12, first=6)
    wanted = [200.0] * 2 + [300.0] * 4 + [100.0] * 4 + [200.0] * 2
    assert list(done.column(op.ROW_LOAD)) == wanted


def test_longest_time_without_being_full() -> None:
    sun = [0.0] * 100 + [2000.0] * 200
    done = work(
        made([0.1]),
        soc=0.92,
        plan=plan(1e-9, suns=[sun]),
        chargers=chargers(charger()),
        steps=300,
    )
    full = done.steps_of(op.FULL)
    assert full
    assert done.books.longest_not_full == pytest.approx(60.0 * full[0])


ALL = rules(
    mode=op.BATTERY_FIRST,
    charging=op.WITH_UTILITY,
    efficiency=0.92,
    idle=30.0,
    most=2500.0,
    cable=0.002,
    go=48.0,
    back=50.0,
    cut=45.0,
    restart=47.0,
    spread=0.02,
    below=0.02,
    high=4.15,
    low=3.0,
    over_out=60.0,
    over_in=60.0,
    coldest=-20.0,
    hottest=60.0,
    may_charge=COLD_TABLE,
)
BUSY = plan(
    [300.0, 900.0, 2600.0, 100.0],
    hold=25,
    suns=[[0.0, 500.0, 2500.0, 900.0], 0.0],
    price=0.3,
    outage=[0.0, 0.0, 0.0, 1.0, 0.0],
)
TWO = chargers(charger(efficiency=0.96), charger(mains=1, absorb=55.0, current=20.0))
THREE = made([0.02, 0.03, 0.025], lead=1e-3, rc=((0.02, 600.0),), bar=1e-4, heat=2e4, to_air=2.0)


def test_pieces_come_to_the_same_as_one_run() -> None:
    how: dict[str, Any] = {"plan": BUSY, "chargers": TWO, "rules": ALL, "steps": 600}
    whole, parts = work(THREE, **how), work(THREE, pieces=4, **how)
    assert parts.books == pytest.approx(whole.books)
    assert np.array_equal(parts.kept.rows, whole.kept.rows)
    assert np.array_equal(parts.kept.event_step, whole.kept.event_step)


def test_compiled_comes_to_the_same_as_python() -> None:
    how: dict[str, Any] = {"plan": BUSY, "chargers": TWO, "rules": ALL, "steps": 400}
    fast, slow = work(THREE, **how), work(THREE, run=plain(run), **how)
    assert slow.books == pytest.approx(fast.books, rel=1e-9, abs=1e-6)
    assert slow.kept.rows == pytest.approx(fast.kept.rows, rel=1e-5, abs=1e-3)
    assert np.array_equal(slow.kept.counts, fast.kept.counts)


# --- What holds of any pack at work ------------------------------------------------------------

powers = st.lists(st.floats(0.0, 3000.0), min_size=1, max_size=6)


@st.composite
def works(draw: Any) -> dict[str, Any]:
    go = draw(st.floats(44.0, 52.0))
    cut = draw(st.floats(42.0, 47.0))
    return {
        "soc": draw(st.floats(0.05, 0.95)),
        "celsius": draw(st.floats(-15.0, 40.0)),
        "plan": plan(
            [x + 1.0 for x in draw(powers)],
            suns=[draw(powers), 0.0],
            air=draw(st.floats(-15.0, 40.0)),
            outage=draw(st.lists(st.sampled_from([0.0, 1.0]), min_size=1, max_size=4)),
            cheap=draw(st.sampled_from([0.0, 1.0])),
            hold=30,
        ),
        "chargers": chargers(
            charger(absorb=draw(st.floats(50.0, 57.0)), hold=draw(st.sampled_from([0.0, 49.0]))),
            charger(absorb=draw(st.floats(50.0, 57.0)), mains=1, current=15.0),
        ),
        "rules": ALL._replace(
            inverters=ALL.inverters._replace(
                mode=draw(st.sampled_from([0, 1, 2])),
                charging=draw(st.sampled_from([0, 1, 2])),
                go=go,
                back=go + draw(st.floats(0.1, 5.0)),
                cut=cut,
                restart=cut + draw(st.floats(0.1, 4.0)),
            )
        ),
        "steps": 240,
    }


@settings(max_examples=60)
@given(any_strings(most=4), works())
def test_the_books_close(strings: network.Strings, how: dict[str, Any]) -> None:
    strings = strings._replace(ocv=np.tile(np.linspace(42.0, 57.0, 21), (strings.lead.size, 1)))
    strings = strings._replace(ohms=np.repeat(strings.ohms[:, :1], 21, axis=1))
    done = work(strings, **how)
    books = done.books
    moved = books.pack_out + books.pack_in + books.heat
    through = books.charge_out + abs(books.charge_net) + 1.0
    assert abs(done.charge_residual) < 1e-6 * through
    assert abs(done.energy_residual) < 0.01 * moved + 1.0
    # The DC bus: what chargers and pack put in is what the inverters take, and their cable.
    net = books.into_bus + books.pack_out - books.pack_in
    assert net == pytest.approx(books.inverter_dc + books.cable_heat, rel=1e-6, abs=1.0)
    assert books.inverter + books.by_utility + books.unserved == pytest.approx(books.load)
    assert books.direct <= books.inverter * (1 + 1e-9)
    assert done.kept.soc_seconds.sum() == done.kept.celsius_seconds.sum() == 240 * 60.0


@settings(max_examples=60)
@given(any_strings(most=4), works())
def test_what_must_never_be(strings: network.Strings, how: dict[str, Any]) -> None:
    done = work(strings, **how)
    assert done.books.coldest_charging >= -1e-9, "nothing is charged below freezing"
    most = how["chargers"].absorb.max()
    lifted = done.books.highest_volts > most + 1e-6
    rest = strings.ocv[:, -1].max() * 1.0
    assert not lifted or done.books.highest_volts <= rest, "no charger lifts the pack above its own"
    rows = done.kept.rows
    assert (rows[:, op.ROW_UNUSED] >= -1e-3).all()
    assert (rows[:, op.ROW_SUN] >= 0).all()
    if how["rules"].inverters.mode == op.ISLAND:
        assert done.books.utility == 0.0


@settings(max_examples=40)
@given(any_strings(most=4), works())
def test_without_sun_and_mains_the_charge_only_falls(
    strings: network.Strings, how: dict[str, Any]
) -> None:
    done = work(strings, **{**how, "chargers": chargers(), "plan": plan([400.0, 1200.0], hold=20)})
    assert (np.diff(done.column(op.ROW_SOC)) <= 1e-6).all()
