"""The sections of cabling, solar arrays and protection: what good ones become, and bad ones not."""

import pytest

from evpack.base.basis import Basis
from evpack.base.errors import DataError
from evpack.base.fitted import NOT_FITTED
from evpack.describe.build import Build
from evpack.describe.cabling import Busbar, Run
from evpack.describe.safeguards import Disconnect, EmergencyOff, FuseFamily, Precharge
from evpack.load.sheet import parse_sheet
from evpack.load.tables import fuse_catalogue

PLAIN = """
title = "Plain"
[site]
warmest = "30 degC"
coldest_outside = "-15 degC"
warmest_outside = "38 degC"
[module]
chemistry = "nmc"
cells_in_series = 7
capacity = "60 Ah"
[pack]
modules_in_series = 2
earthed = "none"
[[inverter]]
name = "box"
leg = "1"
[[charger]]
name = "sun"
source = "solar"
pv_highest = "150 V"
pv_above_battery = "5 V"
pv_most_current = "50 A"
pv_most_power = "3 kW"
[load]
continuous = "1 kW"
larger_leg = "60 %"
"""
CABLE = 'size = "2 AWG"\nlength = "2 m"\ncolumn = 75\nambient = "30 degC"\ncircuits = 1\n'
PANELS = "[[pv]]\nin_series = 3\n"


def built(more: str = "") -> Build:
    return parse_sheet(PLAIN + more, "my.toml")


def refused(more: str, key: str, says: str) -> None:
    """Assert that a part of a sheet is refused at a key, with some words."""
    with pytest.raises(DataError) as caught:
        built(more)
    assert caught.value.key == key
    assert says in caught.value.problem
    assert str(caught.value).startswith("my.toml: ")


def run(more: str, key: str = "main") -> Run:
    found = getattr(built(f"[cabling.{key}]\n{more}").cabling, key)
    assert isinstance(found, Run)
    return found


def test_new_fields_of_known_sections() -> None:
    build = built()
    assert (build.site.coldest_outside.m, build.site.warmest_outside.m) == (-15, 38)
    assert build.pack.earthed == "none"
    assert build.inverters[0].leg == "1"
    assert build.load.larger_leg.m == pytest.approx(0.6)
    sun = build.chargers[0]
    limits = (sun.pv_highest, sun.pv_above_battery, sun.pv_most_current, sun.pv_most_power)
    assert [limit.m for limit in limits] == [150, 5, 50, 3000]


# --- Cables -----------------------------------------------------------------------------------


def test_every_run_is_read() -> None:
    names = {
        "module_lead": "module lead",
        "link": "module link",
        "main": "main cable",
        "charger": "charger cable",
        "array": "array cable",
    }
    cabling = built("".join(f"[cabling.{key}]\n{CABLE}" for key in names)).cabling
    assert {key: getattr(cabling, key).name for key in names} == names


def test_a_run_with_all_its_conditions() -> None:
    """Worked by hand: 2 AWG has 115 A at 75 degC; three circuits are 6 conductors, 0.8 of it."""
    found = run(CABLE.replace("circuits = 1", "circuits = 3") + 'parallel = 2\nshortest = "1 m"\n')
    assert found.conductor.ampacity == pytest.approx(115 * 0.8)
    assert found.shortest is not None
    assert (found.shortest.m, found.parallel, found.left_open) == (1, 2, False)
    assert found.basis.of("conductor") is Basis.CHOSEN
    assert found.conductor in found.alternatives
    areas = [held.area for held in found.alternatives]
    assert areas == sorted(areas)
    assert {held.conditions.split(",")[0] for held in found.alternatives} == {"75 degC column"}


def test_terminals_hold_a_hotter_cable_back() -> None:
    """Worked by hand: 2 AWG has 95 A at 60 degC and 130 A at 90 degC."""
    found = run(CABLE.replace("column = 75", "column = 90\nterminals = 60"))
    assert found.conductor.ampacity == 95


def test_how_a_cable_is_laid_counts_by_iec() -> None:
    """IEC 60364-5-52, PVC at 70 degC, 25 mm2: 101 A in conduit, 112 A clipped direct."""
    sheet = PLAIN.replace("[site]", '[site]\nrules = "iec"')
    cable = CABLE.replace("2 AWG", "25 mm2").replace("75", "70")
    for method, amperes in (("B1", 101), ("C", 112)):
        text = f'{sheet}[cabling.main]\n{cable}method = "{method}"\n'
        found = parse_sheet(text).cabling.main
        assert found is not None
        assert found.conductor.ampacity == amperes
        assert found.basis.of("conductor") is Basis.CHOSEN


@pytest.mark.parametrize("size", ['size = "smallest"\n', 'size = "Smallest"\n', ""])
def test_a_size_left_to_evpack(size: str) -> None:
    found = run(CABLE.replace('size = "2 AWG"\n', size))
    assert found.left_open
    assert found.conductor == found.alternatives[-1], "the thickest stands in for it"
    assert len(found.alternatives) > 10
    assert all(held.size.endswith(("AWG", "kcmil")) for held in found.alternatives)


def test_the_alternatives_of_a_metric_cable_are_metric() -> None:
    found = run(CABLE.replace("2 AWG", "35 mm2"))
    assert {held.size.split()[1] for held in found.alternatives} == {"mm2"}


def test_the_cable_of_an_array_is_as_warm_as_the_air_outside() -> None:
    """Worked by hand: at 38 degC 0.88 of 115 A, of which 30 degC leaves all."""
    cable = CABLE.replace('ambient = "30 degC"\n', "")
    assert run(cable, "array").conductor.ampacity == pytest.approx(115 * 0.88)
    assert run(cable, "charger").conductor.ampacity == 115
    own = built(f'{PANELS}[cabling.own."solar array"]\n{cable}[cabling.own.box]\n{cable}').cabling
    assert own.own["solar array"].conductor.ampacity == pytest.approx(115 * 0.88)
    assert own.own["box"].conductor.ampacity == 115


def test_nobody_said_how_warm_it_gets() -> None:
    sheet = "\n".join(line for line in PLAIN.splitlines() if "warmest" not in line)
    text = f"{sheet}\n[cabling.array]\n{CABLE}".replace('ambient = "30 degC"\n', "")
    array = parse_sheet(text).cabling.array
    assert array is not None
    assert array.conductor.ampacity == 115
    assert array.basis.of("conductor") is Basis.ASSUMED


def test_a_run_of_one_device_goes_before_the_usual_one() -> None:
    longer = CABLE.replace("2 m", "5 m")
    build = built(f"[cabling.main]\n{CABLE}[cabling.own.box]\n{longer}")
    cabling, box = build.cabling, build.inverters[0]
    assert cabling.run_of(box, cabling.main).length.m == 5
    assert cabling.own["box"].name == "cable of box"


def test_a_bar_by_the_table() -> None:
    """DIN 43671: 40 x 5 mm carries 482 A; in a box 1.6 A/mm2 hold it to 320 A."""
    bar = 'width = "40 mm"\nthickness = "5 mm"\nlength = "0.5 m"\n'
    for more, amperes, basis in (
        ("enclosed = false\n", 482, Basis.CHOSEN),
        ("enclosed = true\n", 320, Basis.CHOSEN),
        ("", 320, Basis.ASSUMED),
        ('enclosed = { value = false, basis = "assumed" }\n', 482, Basis.ASSUMED),
    ):
        found = built(f"[cabling.bar]\n{bar}{more}").cabling.bar
        assert isinstance(found, Busbar)
        assert found.carries.m == pytest.approx(amperes)
        assert found.basis.of("carries") is basis
        assert found.basis.of("width") is Basis.CHOSEN


def test_a_bar_by_its_maker_is_assumed_until_its_data_sheet_is_named() -> None:
    bar = '[cabling.bar]\nwidth = "40 mm"\nthickness = "5 mm"\nlength = "0.5 m"\n'
    for more, basis in (
        ('carries = "250 A"', Basis.ASSUMED),
        ('carries = { value = "250 A", basis = "datasheet" }', Basis.DATASHEET),
        ('carries = "250 A"\nbasis = "datasheet"', Basis.DATASHEET),
    ):
        found = built(f"{bar}count = 2\n{more}\n").cabling.bar
        assert (found.carries.m, found.count) == (250, 2)
        assert found.basis.of("carries") is basis


@pytest.mark.parametrize(
    ("more", "key", "says"),
    [
        ("[cabling.charger]\nlength = 2\n", "cabling.charger.length", "write it as '2 m'"),
        ('[cabling.link]\nlenght = "1 m"\n', "cabling.link.lenght", "'length'"),
        (f"[cabling.array]\n{CABLE}terminals = 80\n", "cabling.array", "60 or 75 or 90"),
        (f'[cabling.main]\n{CABLE}terminals = "75"\n', "cabling.main.terminals", "got '75'"),
        (
            "[cabling.main]\n" + CABLE.replace("circuits = 1", "circuits = 1.5"),
            "cabling.main.circuits",
            "got 1.5; how many",
        ),
        (
            "[cabling.main]\n" + CABLE.replace("circuits = 1", "circuits = 0"),
            "cabling.main",
            "circuits must be a whole number from 1",
        ),
        (f'[cabling.main]\n{CABLE}method = "C"\n', "cabling.main", "is one of IEC"),
        (f"[cabling.main]\n{CABLE}method = 3\n", "cabling.main.method", "text in quotes"),
        (f'[cabling.main]\n{CABLE}shortest = "3 m"\n', "cabling.main.shortest", "not above length"),
        (f"[cabling.main]\n{CABLE}left_open = true\n", "cabling.main.left_open", "not known"),
        (f"[cabling.main]\n{CABLE}conductor = 3\n", "cabling.main.conductor", "not known"),
        ('[cabling.main]\nsize = "smalest"\nlength = "1 m"\n', "cabling.main", "not understood"),
        ("[cabling]\ncharger = 3\n", "cabling.charger", "section"),
        ("[cabling]\nown = 3\n", "cabling.own", "section"),
        ("[cabling.own]\nbox = 3\n", 'cabling.own."box"', 'a section [cabling.own."box"]'),
        (f"[cabling.own.bx]\n{CABLE}", 'cabling.own."bx"', "did you mean 'box'"),
        (f"[cabling.own.box]\n{CABLE}sise = 3\n", 'cabling.own."box".sise', "'size'"),
        ("[cabling.bra]\n", "cabling.bra", "'bar'"),
        ('[cabling.bar]\nwidth = "4 cm"\nthickness = "5 mm"\n', "cabling.bar.length", "missing"),
        ("[cabling.bar]\nwidth = 40\n", "cabling.bar.width", "write it as '40 m'"),
        ('[cabling.bar]\nconditions = "x"\n', "cabling.bar.conditions", "not known"),
        (
            '[cabling.bar]\nwidth = "4 mm"\nthickness = "5 mm"\nlength = "1 m"\n',
            "cabling.bar",
            "thickness must not exceed width",
        ),
    ],
)
def test_a_cable_that_is_none(more: str, key: str, says: str) -> None:
    refused(more, key, says)


def test_no_size_serves_where_it_is_too_hot() -> None:
    hot = CABLE.replace('size = "2 AWG"\n', "").replace("30 degC", "150 degC")
    refused(f"[cabling.main]\n{hot}", "cabling.main", "above what the 75 degC column allows")


# --- Solar arrays -----------------------------------------------------------------------------


def test_no_word_none_and_some_arrays() -> None:
    assert built().arrays is None
    assert parse_sheet('pv = "none"\n' + PLAIN).arrays is NOT_FITTED
    (array,) = built(PANELS).solar_arrays
    assert (array.name, array.feeds, array.in_series, array.in_parallel) == (
        "solar array",
        "sun",
        3,
        1,
    )
    assert array.open_circuit is None


def test_an_array_in_full() -> None:
    (array,) = built(
        '[[pv]]\nname = "roof"\nfeeds = "sun"\nbasis = "datasheet"\nin_series = 3\n'
        'in_parallel = 2\nopen_circuit = "41 V"\nmaximum_power_voltage = "34 V"\n'
        'short_circuit = "10.9 A"\nmaximum_power_current = "10.3 A"\npower = "350 W"\n'
        'coefficient = "-0.28 %/K"\npower_coefficient = "-115 mV/K"\ncrystalline = true\n'
        'largest_fuse = { value = "20 A", basis = "measured" }\n'
    ).solar_arrays
    assert array.coefficient.m == pytest.approx(-0.0028)
    assert array.power_coefficient.m == pytest.approx(-0.115)
    assert array.basis.of("open_circuit") is Basis.DATASHEET
    assert array.basis.of("largest_fuse") is Basis.MEASURED


def test_what_nobody_says_of_a_panel_is_assumed() -> None:
    (array,) = built(PANELS + 'open_circuit = "41 V"\n').solar_arrays
    assert array.basis.of("open_circuit") is Basis.ASSUMED


def test_arrays_without_a_name_are_numbered() -> None:
    names = [array.name for array in built(PANELS * 3).solar_arrays]
    assert names == ["solar array", "solar array 2", "solar array 3"]


def test_a_solar_charger_inside_an_inverter_can_be_fed() -> None:
    sheet = PLAIN.replace('[[charger]]\nname = "sun"\n', '[inverter.charger]\nname = "inside"\n')
    assert [array.feeds for array in parse_sheet(sheet + PANELS).solar_arrays] == ["inside"]


@pytest.mark.parametrize(
    ("more", "key", "says"),
    [
        ("[[pv]]\nin_series = 3.5\n", "pv.in_series", "whole number"),
        ("[[pv]]\n", "pv.in_series", "missing"),
        (PANELS + "open_circuit = 41\n", "pv.open_circuit", "write it as '41 V'"),
        (PANELS + 'open_circuits = "41 V"\n', "pv.open_circuits", "'open_circuit'"),
        (PANELS + 'coefficient = "-0.28 %"\n', "pv.coefficient", "share"),
        (PANELS + 'coefficient = "0.28 %/K"\n', "pv.coefficient", "must not lie above 0"),
        (PANELS + 'crystalline = "yes"\n', "pv.crystalline", "true or false"),
        (PANELS + 'feeds = "son"\n', "pv.feeds", "did you mean 'sun'"),
        (PANELS + "feeds = 3\n", "pv.feeds", "text in quotes"),
        (PANELS + PANELS + 'feeds = "x"\n', "pv[2].feeds", "no charger is called 'x'"),
        (
            PANELS + 'open_circuit = "30 V"\nmaximum_power_voltage = "34 V"\n',
            "pv.maximum_power_voltage",
            "not lie above",
        ),
        ('[[charger]]\nname = "b"\nsource = "solar"\n' + PANELS, "pv.feeds", "solar: sun, b"),
    ],
)
def test_an_array_that_is_none(more: str, key: str, says: str) -> None:
    refused(more, key, says)


def test_two_arrays_and_no_solar_charger() -> None:
    sheet = PLAIN.replace('source = "solar"', 'source = "mains"') + PANELS * 2
    with pytest.raises(DataError) as caught:
        parse_sheet(sheet)
    told = str(caught.value).splitlines()
    assert [line.split(":")[0].strip() for line in told[1:]] == ["pv[1].feeds", "pv[2].feeds"]
    assert 'no charger has source = "solar"' in told[1]


@pytest.mark.parametrize("wrong", ["pv = []\n", "pv = 3\n", 'pv = "no"\n', "pv = [3]\n"])
def test_what_is_no_array_is_told_what_may_stand_there(wrong: str) -> None:
    with pytest.raises(DataError, match=r'sections \[\[pv\]\] are needed, or pv = "none"'):
        parse_sheet(wrong + PLAIN)


def test_two_arrays_of_one_name() -> None:
    with pytest.raises(DataError, match="two devices are called 'x'"):
        built(f'{PANELS}name = "x"\n' * 2)


# --- Protection -------------------------------------------------------------------------------


def test_nothing_said_of_protection_is_unknown() -> None:
    guards = built().safeguards
    fuses = (guards.string_fuse, guards.main_fuse, guards.charger_fuse, guards.array_fuse)
    assert fuses == ("", "", "", "")
    assert (guards.disconnect, guards.emergency_off, guards.precharge) == (None, None, None)
    assert (guards.both_poles, guards.surge_protection) == (None, None)
    assert (guards.both_ends, guards.ambient, guards.to_buy) == (None, None, ())


def test_what_is_to_be_bought_how_warm_it_is_and_where_fuses_stand() -> None:
    guards = built(
        '[protection]\nto_buy = ["bars", "emergency_off"]\nambient = "45 degC"\nboth_ends = true\n'
    ).safeguards
    assert guards.to_buy == ("bars", "emergency_off")
    assert guards.ambient is not None
    assert guards.ambient.m == 45.0
    assert guards.basis.of("ambient") is Basis.CHOSEN
    assert guards.both_ends is True


def test_an_ambient_may_say_how_it_is_known() -> None:
    guards = built(
        '[protection]\nambient = { value = "113 degF", basis = "measured" }\n'
    ).safeguards
    assert guards.ambient is not None
    assert guards.ambient.m == pytest.approx(45.0)
    assert guards.basis.of("ambient") is Basis.MEASURED


def test_flags_keys_and_the_word_none() -> None:
    guards = built(
        '[protection]\ncharger_fuse = "class-t"\narray_fuse = "gpv"\nboth_poles = true\n'
        'surge_protection = false\ndisconnect = "none"\nemergency_off = "None"\n'
        'precharge = "none"\n'
    ).safeguards
    assert (guards.charger_fuse, guards.array_fuse) == ("class-t", "gpv")
    assert (guards.both_poles, guards.surge_protection) == (True, False)
    for part in (guards.disconnect, guards.emergency_off, guards.precharge):
        assert part is NOT_FITTED


def test_switches_and_precharge() -> None:
    guards = built(
        '[protection.disconnect]\ndc_voltage = "80 V"\ncurrent = "250 A"\nbreaks_load = true\n'
        'poles = 2\npolarised = false\nplace = "wall"\n'
        '[protection.emergency_off]\nplace = "door"\nopens_every_string = true\n'
        "stops_charging = true\nstops_inverters = false\n"
        '[protection.precharge]\nresistance = "50 Ohm"\npulse = "0.1 kJ"\nwait = "5 s"\n'
        'time_out = "10 s"\nchecks_voltage = true\nbasis = "datasheet"\n'
    ).safeguards
    switch, off, precharge = guards.disconnect, guards.emergency_off, guards.precharge
    assert isinstance(switch, Disconnect)
    assert isinstance(off, EmergencyOff)
    assert isinstance(precharge, Precharge)
    assert (switch.dc_voltage.m, switch.current.m, switch.poles) == (80, 250, 2)
    assert switch.basis.of("current") is Basis.ASSUMED, "nobody said that it was read off it"
    assert off.stops_inverters is False
    assert off.basis.of("stops_charging") is Basis.CHOSEN
    assert (precharge.pulse.m, precharge.wait.m) == (100, 5)
    assert precharge.basis.of("pulse") is Basis.DATASHEET


@pytest.mark.parametrize(("said", "held"), [("true", True), ("false", False)])
def test_a_lead_says_whether_it_is_protected(said: str, *, held: bool) -> None:
    assert run(f"{CABLE}protected = {said}\n", "module_lead").protected is held


def test_a_lead_of_which_nobody_said_it_is_unknown() -> None:
    assert run(CABLE, "module_lead").protected is None


BREAKER = (
    '[protection.charger_fuse]\nname = "own"\nkind = "breaker"\npoles = 2\npolarised = false\n'
    'dc_voltage = "120 V"\ninterrupting = "10 kA"\nlargest = "125 A"\n'
)


def test_a_breaker_from_its_own_print() -> None:
    breaker = built(BREAKER + 'basis = "datasheet"\n').safeguards.charger_fuse
    assert isinstance(breaker, FuseFamily)
    assert (breaker.kind, breaker.poles, breaker.polarised) == ("breaker", 2, False)
    assert breaker.note == "as printed on the breaker"
    assert (breaker.basis, breaker.source) == (Basis.DATASHEET, "fuse-print")


def test_a_fuse_with_its_characteristic_and_what_it_lets_through() -> None:
    fuse = built(
        BREAKER.replace('kind = "breaker"\npoles = 2\npolarised = false\n', "")
        + 'characteristic = "gG"\nmelting = "9 kA2s"\nclearing = "27 kA2s"\nbasis = "datasheet"\n'
    ).safeguards.charger_fuse
    assert isinstance(fuse, FuseFamily)
    assert (fuse.kind, fuse.characteristic) == ("fuse", "gG")
    assert (fuse.melting.m, fuse.clearing.m) == (9000, 27000)
    assert fuse.note == "as printed on the fuse"


def test_a_breaker_says_how_fast_it_clears() -> None:
    breaker = built(
        BREAKER + 'clearing_time = "20 ms"\ninstantaneous_trip = "1.2 kA"\nbasis = "datasheet"\n'
    ).safeguards.charger_fuse
    assert isinstance(breaker, FuseFamily)
    assert breaker.clearing_time is not None
    assert breaker.instantaneous_trip is not None
    assert (breaker.clearing_time.m, breaker.instantaneous_trip.m) == (0.02, 1200.0)


def test_a_fuse_that_is_there_from_its_own_print() -> None:
    fuse = built(
        '[protection.string_fuse]\nname = "in the box"\ndc_voltage = "80 V"\n'
        'interrupting = "20 kA"\ncharacteristic = "quick"\nrating = "63 A"\n'
        'basis = "datasheet"\n'
    ).safeguards.string_fuse
    assert isinstance(fuse, FuseFamily)
    # Its largest size is the one that is there, where nobody said of a larger.
    assert fuse.rating is not None
    assert (fuse.rating.m, fuse.largest.m) == (63.0, 63.0)
    assert (fuse.basis, fuse.name) == (Basis.DATASHEET, "in the box")


def test_a_fuse_that_is_there_may_name_its_family_for_what_nobody_read() -> None:
    usual = next(f for f in fuse_catalogue("nec").families if f.key == "class-t")
    fuse = built(
        '[protection.string_fuse]\nfamily = "class-t"\nrating = "60 A"\n'
    ).safeguards.string_fuse
    assert isinstance(fuse, FuseFamily)
    assert fuse.rating is not None
    assert fuse.rating.m == 60.0
    assert (fuse.key, fuse.name, fuse.characteristic) == ("class-t", usual.name, "quick")
    assert (fuse.dc_voltage, fuse.interrupting) == (usual.dc_voltage, usual.interrupting)
    assert fuse.basis is Basis.ASSUMED
    # What was read off it goes before the family.
    fuse = built(
        '[protection.string_fuse]\nfamily = "class-t"\nrating = "60 A"\ndc_voltage = "160 V"\n'
    ).safeguards.string_fuse
    assert isinstance(fuse, FuseFamily)
    assert (fuse.dc_voltage.m, fuse.interrupting) == (160.0, usual.interrupting)
    assert fuse.basis is Basis.ASSUMED


@pytest.mark.parametrize(
    ("more", "basis"),
    [
        ('interrupting = "50 kA"\nbasis = "datasheet"\n', Basis.DATASHEET),
        ('basis = "datasheet"\n', Basis.ASSUMED),  # what it interrupts is the family's
        ('interrupting = "50 kA"\n', Basis.ASSUMED),  # nobody said that it was read
    ],
)
def test_a_fuse_whose_ratings_were_all_read_is_known_though_it_names_its_family(
    more: str, basis: Basis
) -> None:
    given = 'family = "class-t"\nrating = "60 A"\ndc_voltage = "160 V"\n'
    fuse = built(f"[protection.string_fuse]\n{given}{more}").safeguards.string_fuse
    assert isinstance(fuse, FuseFamily)
    assert (fuse.basis, fuse.characteristic) == (basis, "quick")
    assert (fuse.note == "as printed on the fuse") is (basis is Basis.DATASHEET)


def test_a_fuse_is_as_well_known_as_its_worst_known_rating() -> None:
    for more, basis in (
        ("", Basis.ASSUMED),
        ('melting = { value = "9 kA2s", basis = "assumed" }\nbasis = "datasheet"\n', Basis.ASSUMED),
        ('melting = { value = "9 kA2s", basis = "measured" }\nbasis = "datasheet"\n',
         Basis.DATASHEET),
    ):  # fmt: skip
        found = built(BREAKER + more).safeguards.charger_fuse
        assert isinstance(found, FuseFamily)
        assert found.basis is basis
        assert (found.note == "assumed") == (basis is Basis.ASSUMED)


@pytest.mark.parametrize(
    ("more", "key", "says"),
    [
        ("[protection]\nboth_poles = 2\n", "protection.both_poles", "true or false"),
        ("[protection]\nboth_pole = true\n", "protection.both_pole", "'both_poles'"),
        ("[protection]\narray_fuse = 3\n", "protection.array_fuse", "text in quotes"),
        ('[protection]\narray_fuse = "gp"\n', "protection.array_fuse", "'gpv'"),
        ("[protection]\ndisconnect = true\n", "protection.disconnect", 'or "none" if there'),
        ('[protection]\nprecharge = "no"\n', "protection.precharge", "[protection.precharge]"),
        ("[protection.disconnect]\npoles = 5\n", "protection.disconnect.poles", "between 1 and 4"),
        ("[protection.disconnect]\ncurrent = 9\n", "protection.disconnect.current", "'9 A'"),
        ("[protection.disconect]\n", "protection.disconect", "'disconnect'"),
        ("[protection.emergency_off]\nplaces = 3\n", "protection.emergency_off.places", "'place'"),
        (
            '[protection.precharge]\nwait = "9 s"\ntime_out = "3 s"\n',
            "protection.precharge.time_out",
            "must not lie below wait",
        ),
        (
            BREAKER.replace('"breaker"', '"braker"'),
            "protection.charger_fuse.kind",
            "did you mean 'breaker'",
        ),
        (BREAKER + 'key = "x"\n', "protection.charger_fuse.key", "not known"),
        (BREAKER.replace("poles = 2", "pols = 2"), "protection.charger_fuse.pols", "'poles'"),
        (
            BREAKER + 'melting = "9 kA2s"\nclearing = "3 kA2s"\n',
            "protection.charger_fuse.melting",
            "must not lie above clearing",
        ),
        (BREAKER + "melting = 9\n", "protection.charger_fuse.melting", "has no unit"),
        ('[protection]\nto_buy = ["disconect"]\n', "protection.to_buy", "'disconnect'"),
        ('[protection]\nto_buy = ["fuse"]\n', "protection.to_buy", "'fuse' is not known"),
        ('[protection]\nto_buy = "bars"\n', "protection.to_buy", "a list is needed"),
        ("[protection]\nambient = 45\n", "protection.ambient", "no unit"),
        ("[protection]\nboth_ends = 2\n", "protection.both_ends", "true or false"),
        ("[protection]\nboth_end = true\n", "protection.both_end", "'both_ends'"),
        (
            f"[cabling.module_lead]\n{CABLE}protected = 1\n",
            "cabling.module_lead.protected",
            "true or false",
        ),
        (
            '[protection.string_fuse]\nfamily = "class-q"\nrating = "60 A"\n',
            "protection.string_fuse.family",
            "'class-t'",
        ),
        (
            '[protection.string_fuse]\nfamily = "bolt-down-58"\nrating = "600 A"\n',
            "protection.string_fuse.rating",
            "not above largest (500 A)",
        ),
        (
            '[protection.string_fuse]\nname = "x"\ndc_voltage = "80 V"\nrating = "60 A"\n',
            "protection.string_fuse.interrupting",
            "is missing",
        ),
        (
            BREAKER.replace('"breaker"', '"fuse"') + 'clearing_time = "20 ms"\n',
            "protection.charger_fuse.clearing_time",
            "of a fuse say clearing",
        ),
    ],
)
def test_protection_that_is_none(more: str, key: str, says: str) -> None:
    refused(more, key, says)
