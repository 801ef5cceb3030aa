"""The build sheet: what a good one becomes."""

import shutil
from pathlib import Path

import pytest

from evpack.base.basis import Basis
from evpack.base.errors import DataError
from evpack.base.fitted import NOT_FITTED
from evpack.describe.build import Build
from evpack.load.places import data_dir
from evpack.load.sheet import example, parse_sheet, read_sheet

RECORD = "ev_pouch_cell_33Ah_hppc_25C.bdf.csv"
PLAIN = """
title = "Plain"

[module]
chemistry = "nmc"
cells_in_series = 7
capacity = "60 Ah"
resistance = "9 mOhm"

[pack]
modules_in_series = 2

[[inverter]]
name = "box"
window_low = "42 V"

[load]
continuous = "1 kW"
"""


def with_section(text: str) -> str:
    return PLAIN + text


def replaced(old: str, new: str) -> Build:
    assert old in PLAIN
    return parse_sheet(PLAIN.replace(old, new))


def test_a_plain_sheet() -> None:
    build = parse_sheet(PLAIN)
    assert build.title == "Plain"
    assert build.sheet == PLAIN
    assert build.pack.cells_in_series == 14
    assert build.pack.strings == 1
    assert build.pack.resistance is not None
    assert build.pack.resistance.m == pytest.approx(0.018)
    assert build.pack.module.resistance_method == "not stated"
    assert not build.invented
    assert build.note == ""


def test_what_nobody_said_is_unknown() -> None:
    build = parse_sheet(PLAIN)
    assert build.pack.monitoring is None
    assert build.cabling.main is None
    assert build.site.coldest is None
    assert build.inverters[0].restart is None
    assert build.pack.module.discharge_limit is None
    assert build.chargers == ()


def test_bases_when_nothing_is_said() -> None:
    build = parse_sheet(with_section('[site]\ncoldest = "2 degC"\n[policy]\nreserve = "30 %"'))
    assert build.pack.module.basis.of("capacity") is Basis.ASSUMED
    assert build.inverters[0].basis.of("window_low") is Basis.ASSUMED
    assert build.pack.basis.of("modules_in_series") is Basis.CHOSEN
    assert build.load.basis.of("continuous") is Basis.CHOSEN
    assert build.site.basis.of("coldest") is Basis.CHOSEN
    assert build.policy.basis.of("reserve") is Basis.CHOSEN
    assert build.policy.basis.of("return_rise") is Basis.ASSUMED


def test_bases_of_a_section_and_of_a_value() -> None:
    build = replaced(
        'capacity = "60 Ah"',
        'basis = "datasheet"\ncapacity = { value = "60 Ah", basis = "measured" }',
    )
    basis = build.pack.module.basis
    assert basis.of("capacity") is Basis.MEASURED
    assert basis.of("resistance") is Basis.DATASHEET
    assert basis.of("cell_highest") is Basis.ASSUMED, "untouched: it is the chemistry's"


def test_resistance_with_method_and_basis() -> None:
    build = replaced(
        'resistance = "9 mOhm"',
        'resistance = { value = "9 mOhm", method = "10 s pulse", basis = "measured" }',
    )
    module = build.pack.module
    assert module.resistance_method == "10 s pulse"
    assert module.basis.of("resistance") is Basis.MEASURED


def test_resistance_with_where_and_how_warm_it_was_read() -> None:
    said = 'value = "9 mOhm", method = "10 s pulse"'
    inside = replaced(
        'resistance = "9 mOhm"',
        f'resistance = {{ {said}, temperature = "5 degC", soc = "40 %", basis = "measured" }}',
    ).pack.module
    beside = replaced(
        'resistance = "9 mOhm"',
        f'resistance = {{ {said} }}\nresistance_temperature = "5 degC"\nresistance_soc = "40 %"',
    ).pack.module
    for module in (inside, beside):
        assert module.resistance_temperature is not None
        assert module.resistance_temperature.m == 5
        assert module.resistance_soc is not None
        assert module.resistance_soc.m == 0.4
    assert inside.basis.of("resistance_temperature") is Basis.MEASURED


def test_a_typed_resistance_takes_nothing_of_how_another_was_read() -> None:
    bench = f'bench = {{ record = "library:{RECORD}" }}\nresistance = "9 mOhm"'
    module = replaced('capacity = "60 Ah"\nresistance = "9 mOhm"', bench).pack.module
    assert (module.resistance_temperature, module.resistance_soc) == (None, None)
    read = replaced('capacity = "60 Ah"\nresistance = "9 mOhm"', bench.partition("\n")[0])
    assert read.pack.module.resistance_temperature is not None
    assert read.pack.module.resistance_temperature.m == 25


def test_a_library_entry_is_used_and_overridden() -> None:
    build = replaced(
        'name = "box"\nwindow_low = "42 V"',
        'use = "class-48v"\nbasis = "datasheet"\nwindow_high = "61 V"',
    )
    inverter = build.inverters[0]
    assert inverter.name == "48 V class inverter"
    assert inverter.window_low is not None
    assert inverter.window_low.m == 42
    assert inverter.basis.of("window_low") is Basis.ASSUMED
    assert inverter.window_high is not None
    assert inverter.window_high.m == 61
    assert inverter.basis.of("window_high") is Basis.DATASHEET
    assert inverter.restart is None, "a class cannot know it"


def test_ranges() -> None:
    build = replaced(
        'window_low = "42 V"',
        'cut_off = { from = "40 V", to = "48 V", step = "0.1 V", basis = "datasheet" }\n'
        'changeover = "none"\nrestart = "none"',
    )
    inverter = build.inverters[0]
    assert [q.m for q in (inverter.cut_off.low, inverter.cut_off.step)] == [40, 0.1]  # type: ignore[union-attr]
    assert inverter.basis.of("cut_off") is Basis.DATASHEET
    assert inverter.changeover is NOT_FITTED
    assert inverter.restart is NOT_FITTED
    assert inverter.return_to_battery is None


def test_the_inverters_own_charger() -> None:
    build = replaced(
        'window_low = "42 V"',
        'basis = "datasheet"\n[inverter.charger]\ncurrent = "30 A"\nequalise_can_be_off = true',
    )
    (charger,) = build.all_chargers
    assert charger.source == "mains"
    assert charger.name == "charger of box"
    assert charger.equalise_can_be_off is True
    assert charger.float_can_be_off is None
    assert charger.basis.of("current") is Basis.DATASHEET, "inherited from its inverter"


def test_an_inverters_charger_is_unknown_none_or_described() -> None:
    assert parse_sheet(PLAIN).inverters[0].charger is None
    build = replaced('window_low = "42 V"', 'use = "class-48v"\ncharger = "none"')
    assert build.inverters[0].charger is NOT_FITTED
    assert build.all_chargers == ()
    with pytest.raises(DataError, match=r'inverter\.charger: got true; .* or "none" if the inv'):
        replaced('window_low = "42 V"', "charger = true")


def test_chargers_and_a_profile_left_on() -> None:
    build = parse_sheet(
        with_section(
            '[[charger]]\nuse = "solar-60a-48v"\n'
            '[[charger]]\nuse = "fixed-profile-48v"\nname = "old one"\nleft_on = "gel-48v"'
        )
    )
    solar, old = build.chargers
    assert solar.source == "solar"
    assert solar.left_on is None
    assert old.charge_voltage is NOT_FITTED
    assert old.left_on is not None
    assert old.left_on.absorption.m == pytest.approx(56.4)


def test_monitoring_none_unknown_and_described() -> None:
    assert parse_sheet('monitoring = "none"\n' + PLAIN).pack.monitoring is NOT_FITTED
    build = parse_sheet(with_section('[monitoring]\nevery_cell = true\nbasis = "datasheet"'))
    monitoring = build.pack.monitoring
    assert monitoring is not None
    assert monitoring is not NOT_FITTED
    assert monitoring.every_cell is True
    assert monitoring.balances is None
    assert monitoring.basis.of("every_cell") is Basis.DATASHEET


def test_cabling_follows_the_rules_of_the_site() -> None:
    text = '[site]\nrules = "iec"\n[cabling.main]\nsize = "70 mm2"\nlength = "2 m"\nparallel = 2'
    main = parse_sheet(with_section(text)).cabling.main
    assert main is not None
    # In conduit, since nobody said how it is laid; two pairs side by side warm each other.
    assert main.ampacity.m == pytest.approx(2 * 192 * 0.8)
    assert main.conductor.ampacity_source == "iec-60364-5-52"
    assert main.basis.of("length") is Basis.CHOSEN


def test_conductors_side_by_side_count_as_circuits() -> None:
    text = '[cabling.main]\nsize = "1/0 AWG"\nlength = "2 m"\ncolumn = 75\nparallel = 2\n'
    with pytest.raises(DataError, match=r"cabling\.main\.circuits.*less than parallel, 2"):
        parse_sheet(with_section(text + "circuits = 1"))
    # NEC 310.15(C)(1): four conductors 0.8, six (three circuits) 0.8 as well, eight 0.7.
    for circuits, factor in ((2, 0.8), (3, 0.8), (4, 0.7)):
        run = parse_sheet(with_section(f"{text}circuits = {circuits}")).cabling.main
        assert run is not None
        assert run.ampacity.m == pytest.approx(2 * 150 * factor)


@pytest.mark.parametrize(
    ("more", "basis"),
    [
        ("", Basis.ASSUMED),
        ("column = 75", Basis.ASSUMED),
        ('ambient = "40 degC"', Basis.ASSUMED),
        ('column = 75\nambient = "40 degC"', Basis.ASSUMED),
        ('column = 75\nambient = "40 degC"\ncircuits = 1', Basis.CHOSEN),
        (
            'column = { value = 75, basis = "assumed" }\nambient = "40 degC"\ncircuits = 1',
            Basis.ASSUMED,
        ),
        ('column = 75\nambient = "40 degC"\ncircuits = 1\nbasis = "datasheet"', Basis.DATASHEET),
    ],
)
def test_what_a_cable_carries_is_assumed_until_its_conditions_are_stated(
    more: str, basis: Basis
) -> None:
    text = f'[cabling.main]\nsize = "2 AWG"\nlength = "2 m"\n{more}'
    main = parse_sheet(with_section(text)).cabling.main
    assert main is not None
    assert main.basis.of("conductor") is basis
    assert ("not stated" in main.conductor.conditions) == (
        "column" not in more or "amb" not in more or "circuits" not in more
    )


def test_a_cable_is_as_warm_as_the_place_until_said_otherwise() -> None:
    """Worked by hand: 2 AWG, 95 A at 60 degC; 0.91 at 35 degC; 0.82 at 40 degC."""
    run = '[cabling.main]\nsize = "2 AWG"\nlength = "2 m"\n'
    for warmest, ambient, amps in (
        ("35 degC", "", 95 * 0.91),
        ("12 degC", "", 95),
        ("35 degC", 'ambient = "40 degC"', 95 * 0.82),
    ):
        text = f'[site]\nwarmest = "{warmest}"\n{run}{ambient}'
        main = parse_sheet(with_section(text)).cabling.main
        assert main is not None
        assert main.ampacity.m == pytest.approx(amps)


def test_fuses_wanted() -> None:
    build = parse_sheet(with_section('[protection]\nstring_fuse = "nh-gg"'))
    assert (build.safeguards.string_fuse, build.safeguards.main_fuse) == ("nh-gg", "")


def test_a_bench_record_of_a_cell() -> None:
    build = replaced(
        'capacity = "60 Ah"\nresistance = "9 mOhm"',
        f'cells_in_parallel = 2\nbench.record = "library:{RECORD}"',
    )
    module = build.pack.module
    assert module.capacity.m == pytest.approx(2 * 30.56, abs=0.01)
    assert module.resistance is not None
    assert module.resistance.m == pytest.approx(7 / 2 * 2.066e-3, rel=1e-3)
    assert module.resistance_method == "10 s pulse"
    assert module.resistance_curve is not None
    assert module.ocv is not None
    assert module.ocv.basis is Basis.ASSUMED
    assert module.cell_nominal is not None
    assert module.cell_nominal.m == pytest.approx(3.839, abs=1e-3)
    for field in ("capacity", "resistance", "ocv", "resistance_curve", "cell_nominal"):
        assert module.basis.of(field) is Basis.ASSUMED, "somebody else's cell"


def test_the_basis_of_a_bench_record(tmp_path: Path) -> None:
    shutil.copy(data_dir() / "bench" / RECORD, tmp_path / "mine.csv")
    for record, more, basis in (
        (f"library:{RECORD}", "", Basis.ASSUMED),
        (f"library:{RECORD}", ', basis = "measured"', Basis.MEASURED),
        ("mine.csv", "", Basis.MEASURED),
        ("mine.csv", ', basis = "assumed"', Basis.ASSUMED),
    ):
        bench = f'basis = "datasheet"\nbench = {{ record = "{record}"{more} }}'
        module = parse_sheet(
            PLAIN.replace('capacity = "60 Ah"', bench), folder=tmp_path
        ).pack.module
        assert module.basis.of("capacity") is basis
        assert module.basis.of("cells_in_series") is Basis.DATASHEET
        assert module.basis.of("resistance") is Basis.DATASHEET, "typed, so over the record"
        assert module.ocv is not None
        assert module.ocv.basis is basis


def test_a_typed_resistance_brings_the_records_curve_to_it() -> None:
    """Worked by hand: every value of the record times 9 mOhm over its own resistance."""
    bench = f'capacity = "60 Ah"\nbench.record = "library:{RECORD}"'
    bare = PLAIN.replace('capacity = "60 Ah"\nresistance = "9 mOhm"', bench)
    record = parse_sheet(bare).pack.module
    module = parse_sheet(PLAIN.replace('capacity = "60 Ah"', bench)).pack.module
    assert record.resistance is not None
    assert record.resistance_curve is not None
    assert module.resistance_curve is not None
    times = 9e-3 / record.resistance.m
    assert module.resistance_curve.ohms == pytest.approx(record.resistance_curve.ohms * times)
    assert module.resistance_curve.soc == pytest.approx(record.resistance_curve.soc)
    assert module.basis.of("resistance_curve") is Basis.ASSUMED


@pytest.mark.parametrize(
    ("typed", "record", "curve"),
    [
        ("measured", "measured", Basis.COMPUTED),
        ("assumed", "measured", Basis.ASSUMED),
        ("measured", "assumed", Basis.ASSUMED),
    ],
)
def test_a_curve_brought_to_a_value_is_no_better_known_than_either(
    typed: str, record: str, curve: Basis
) -> None:
    build = replaced(
        'resistance = "9 mOhm"',
        f'resistance = {{ value = "9 mOhm", basis = "{typed}" }}\n'
        f'bench = {{ record = "library:{RECORD}", basis = "{record}" }}',
    )
    assert build.pack.module.basis.of("resistance_curve") is curve


def test_what_is_typed_goes_over_the_bench_record() -> None:
    build = replaced('resistance = "9 mOhm"', f'bench.record = "library:{RECORD}"')
    assert build.pack.module.capacity.m == 60
    assert build.pack.module.basis.of("capacity") is Basis.ASSUMED
    assert build.pack.module.resistance_method == "10 s pulse"


def test_a_bench_record_beside_the_sheet(tmp_path: Path) -> None:
    shutil.copy(data_dir() / "bench" / RECORD, tmp_path / "mine.csv")
    sheet = tmp_path / "sheet.toml"
    bench = 'bench = { record = "mine.csv", current_sign = "charge-positive" }'
    sheet.write_text(PLAIN.replace('capacity = "60 Ah"', bench), encoding="utf-8")
    assert read_sheet(sheet).pack.module.capacity.m == pytest.approx(30.56, abs=0.01)


def test_a_bench_record_of_a_whole_module(tmp_path: Path) -> None:
    """Worked by hand: the same record with seven times the voltage is a module of seven cells."""
    rows = (data_dir() / "bench" / RECORD).read_text(encoding="utf-8").splitlines()
    cells = [row.split(",") for row in rows[1:]]
    taller = [",".join([t, f"{7 * float(v):.4f}", *more]) for t, v, *more in cells]
    (tmp_path / "module.csv").write_text("\n".join([rows[0], *taller]), encoding="utf-8")
    bench = 'bench = { record = "module.csv", tested = "module" }'
    plain = PLAIN.replace('capacity = "60 Ah"\nresistance = "9 mOhm"', bench)
    whole = parse_sheet(plain, folder=tmp_path).pack.module
    cell = parse_sheet(plain.replace(bench, f'bench.record = "library:{RECORD}"')).pack.module
    assert whole.capacity.m == pytest.approx(cell.capacity.m)
    assert whole.resistance is not None
    assert cell.resistance is not None
    assert whole.resistance.m == pytest.approx(cell.resistance.m, rel=1e-6)
    assert whole.nominal.m == pytest.approx(cell.nominal.m)
    assert whole.curve.volts[-1] == pytest.approx(cell.curve.volts[-1])


@pytest.mark.parametrize(
    ("cells", "modules", "profiles"),
    [(7, 2, {"57.6", "56.4"}), (7, 1, {"28.8", "28.2"}), (4, 1, {"14.4", "14.1"}), (100, 1, set())],
)
def test_profiles_of_the_nearest_class(cells: int, modules: int, profiles: set[str]) -> None:
    text = PLAIN.replace("cells_in_series = 7", f"cells_in_series = {cells}")
    build = parse_sheet(text.replace("modules_in_series = 2", f"modules_in_series = {modules}"))
    assert {f"{p.absorption.m:g}" for p in build.profiles} == profiles


def test_one_inverter_may_be_a_plain_section() -> None:
    assert len(replaced("[[inverter]]", "[inverter]").inverters) == 1


def test_a_byte_order_mark_is_read_over(tmp_path: Path) -> None:
    sheet = tmp_path / "sheet.toml"
    sheet.write_bytes(b"\xef\xbb\xbf" + PLAIN.encode())
    assert read_sheet(str(sheet)).title == "Plain"


def test_wether_barn() -> None:
    build = read_sheet(example("wether-barn"))
    assert build.invented
    assert build.pack.cells_in_series == 14
    assert build.pack.modules == 8
    assert build.pack.capacity.m == pytest.approx(4 * 2 * 30.56, abs=0.05)
    inverter = build.inverters[0]
    for field in ("continuous", "surge", "idle", "restart", "cut_off", "changeover"):
        assert getattr(inverter, field) is not None
        assert inverter.basis.of(field) is Basis.DATASHEET
    assert len(build.all_chargers) == 2
    assert build.cabling.main is not None
    assert build.cabling.module_lead is not None
    assert build.pack.module.basis.of("resistance") is Basis.MEASURED, "its own cell, it says"
    cabling = build.cabling
    for run in (cabling.main, cabling.module_lead, cabling.charger, cabling.array):
        assert run is not None
        assert run.basis.of("conductor") is Basis.CHOSEN
    (roof,) = build.solar_arrays
    assert roof.feeds == build.chargers[0].name, "the only solar one"


def test_the_panels_of_the_barn_keep_clear_of_their_charger() -> None:
    """Worked by hand: 3 · 41 V · (1 + 0.28 % · (25 + 12)) = 135.7 V, of which 150 V leave 9.5 %."""
    build = read_sheet(example("wether-barn"))
    (roof,) = build.solar_arrays
    cold = 3 * roof.open_circuit.m * (1 + roof.coefficient.m * (build.site.coldest_outside.m - 25))
    assert cold == pytest.approx(135.7, abs=0.05)
    assert cold < 0.95 * build.chargers[0].pv_highest.m


def test_split_house() -> None:
    build = read_sheet(example("split-house"))
    assert build.site.rules == "iec"
    assert [inverter.leg for inverter in build.inverters] == ["1", "2"]
    assert [array.feeds for array in build.solar_arrays] == ["east charger", "west charger"]
    longer = build.cabling.run_of(build.inverters[1], build.cabling.main)
    assert longer.length.m > build.cabling.main.length.m
    assert build.safeguards.charger_fuse.kind == "breaker"


def test_the_other_examples_are_what_they_say() -> None:
    low = read_sheet(example("low-shed"))
    assert low.pack.cells_in_series == 21
    assert low.pack.module.available == 3
    left = read_sheet(example("left-on"))
    assert left.pack.cells_in_series == 12
    assert left.chargers[0].left_on is not None
    assert left.chargers[0].left_on.compensation.m == pytest.approx(0.12)
    twelve = read_sheet(example("twelve"))
    assert twelve.pack.cells_in_series == 12
    assert twelve.pack.nominal.m == pytest.approx(45.0)
    for other in (low, left, twelve):
        assert other.inverters[0].charger is NOT_FITTED
        for run in (other.cabling.main, other.cabling.module_lead):
            assert run is None or run.basis.of("conductor") is Basis.CHOSEN
    for run in (twelve.cabling.main, twelve.cabling.module_lead):
        assert run is not None
        assert "35 degC" in run.conductor.conditions, "the cables share the warm room"


def test_an_unknown_example_names_the_nearest() -> None:
    with pytest.raises(DataError, match="wether-barn"):
        example("weather-barn")
