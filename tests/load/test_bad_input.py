"""Bad build sheets: one clear `DataError` each, naming file and key; never another exception."""

import contextlib
import os
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evpack.base.errors import DataError
from evpack.describe.build import Build
from evpack.load.sheet import parse_sheet, read_sheet

RECORD = "library:ev_pouch_cell_33Ah_hppc_25C.bdf.csv"
GOOD = """
title = "Good"
[site]
coldest = "2 degC"
[module]
chemistry = "nmc"
cells_in_series = 7
capacity = "60 Ah"
resistance = "9 mOhm"
[pack]
modules_in_series = 2
strings = 2
[monitoring]
every_cell = true
[[inverter]]
name = "box"
window_low = "42 V"
window_high = "60 V"
cut_off = { from = "40 V", to = "48 V", step = "0.1 V" }
[inverter.charger]
current = "30 A"
[[charger]]
name = "sun"
source = "solar"
[cabling.main]
size = "2/0 AWG"
length = "2 m"
[protection]
main_fuse = "class-t"
[load]
continuous = "1 kW"
[policy]
reserve = "20 %"
"""

# (what is replaced, by what, key in the message, words in the message)
MATRIX = [
    # a quantity
    ('"60 Ah"', '"60 V"', "module.capacity", "'60 V' is a voltage"),
    ('"60 Ah"', "60", "module.capacity", "write it as '60 Ah'"),
    ('"60 Ah"', '"60"', "module.capacity", "write it as '60 Ah'"),
    ('"60 Ah"', '"60,5 Ah"', "module.capacity", "decimals with a point"),
    ('"60 Ah"', '"60 Ampere"', "module.capacity", "not known"),
    ('"60 Ah"', '"-60 Ah"', "module.capacity", "believable"),
    ('"60 Ah"', '"0 Ah"', "module.capacity", "above 0 Ah"),
    ('"60 Ah"', '"nan Ah"', "module.capacity", "not a finite number"),
    ('"60 Ah"', '"inf Ah"', "module.capacity", "not a finite number"),
    ('"60 Ah"', '"1e999 Ah"', "module.capacity", "not a finite number"),
    ('"60 Ah"', "nan", "module.capacity", "not a finite number"),
    ('"60 Ah"', "-inf", "module.capacity", "not a finite number"),
    ('"60 Ah"', '"1e300 Ah"', "module.capacity", "believable"),
    ('"60 Ah"', "true", "module.capacity", "True is not a charge"),
    ('"60 Ah"', "[60]", "module.capacity", "got a list"),
    ('"60 Ah"', "{ valeu = 3 }", "module.capacity", "got a table"),
    ('"60 Ah"', '{ value = "60 Ah", basis = "guessed" }', "module.capacity.basis", "known"),
    ('"60 Ah"', '""', "module.capacity", "not a number with a unit"),
    ('"60 Ah"', '"' + "9" * 100 + ' Ah"', "module.capacity", "text of 103 characters"),
    ('"60 Ah"', "1979-05-27", "module.capacity", "date"),
    ('"60 Ah"', "9" * 30, "module.capacity", "beyond belief"),
    ('"2 degC"', '"-300 degC"', "site.coldest", "believable"),
    ('"1 kW"', '"0 W"', "load.continuous", "above 0 W"),
    ('"20 %"', '"300 %"', "policy.reserve", "reserve"),
    ('"20 %"', '"20 %"\ncharge_target = "0 V"', "policy.charge_target", "2.7 V to 4.2 V, got 0 V"),
    ('"20 %"', '"20 %"\ncharge_target = "5 V"', "policy.charge_target", "2.7 V to 4.2 V, got 5 V"),
    ('"20 %"', '"20"', "policy.reserve", "write it as '20 %'"),
    ('"60 Ah"', '{ value = "60 Ah", bassis = "measured" }', "module.capacity.bassis", "'basis'"),
    ('"60 Ah"', '{ valeu = "60 Ah" }', "module.capacity", "(did you mean 'value'?)"),
    ('"60 Ah"', '"?"', "module.capacity", "stays unknown"),
    ('"2 degC"', '"36 F"', "site.coldest", "'36 degF'"),
    (
        '"1 kW"',
        '"1 kW"\npeak = "500 W"',
        "load.peak",
        "peak (500 W) must not lie below continuous (1000 W)",
    ),
    ('window_low = "42 V"', 'efficiency = "0 %"', "inverter.efficiency", "got 0 %"),
    # a resistance
    ('"9 mOhm"', '"9 mH"', "module.resistance", "not known"),
    ('"9 mOhm"', '"0 mOhm"', "module.resistance", "above 0 Ω"),
    ('"9 mOhm"', '{ valu = "9 mOhm" }', "module.resistance.valu", "'value'"),
    ('"9 mOhm"', '{ method = "10 s pulse" }', "module.resistance.value", "missing"),
    ('"9 mOhm"', '{ value = "9 mOhm", method = "hppc" }', "module.resistance", "10 s pulse"),
    ('"9 mOhm"', '{ value = "9 mOhm", method = 3 }', "module.resistance.method", "text in quotes"),
    ('"9 mOhm"', "[1]", "module.resistance", "got a list"),
    ("resistance =", "resistance_method =", "module.resistance_method", "with the resistance"),
    # a count
    ("= 7", "= 7.5", "module.cells_in_series", "whole number"),
    ("= 7", '= "7"', "module.cells_in_series", "whole number"),
    ("= 7", "= 0", "module.cells_in_series", "between 1 and 400"),
    ("= 7", "= -7", "module.cells_in_series", "between 1 and 400"),
    ("= 7", "= true", "module.cells_in_series", "whole number"),
    ("= 7", "= 1000000000", "module.cells_in_series", "between 1 and 400"),
    ("strings = 2", "strings = 100000", "pack.strings", "between 1 and 400"),
    # a flag
    ("every_cell = true", 'every_cell = "yes"', "monitoring.every_cell", "true or false"),
    ("every_cell = true", "every_cell = 1", "monitoring.every_cell", "true or false"),
    # keys and sections
    ("capacity =", "capcity =", "module.capcity", "'capacity'"),
    ("strings = 2", "string = 2", "pack.string", "'strings'"),
    ("[policy]", "[polcy]", "polcy", "'policy'"),
    ("[policy]", "[[policy]]", "policy", "section"),
    ("window_low", "windowlow", "inverter.windowlow", "'window_low'"),
    ("[cabling.main]", "[cabling.man]", "cabling.man", "'main'"),
    (
        "[inverter.charger]\ncurrent",
        "[inverter.charger]\ncurent",
        "inverter.charger.curent",
        "curr",
    ),
    ('title = "Good"', "title = 3", "title", "text in quotes"),
    ('title = "Good"', "", "title", "missing"),
    ('title = "Good"', 'title = "Good"\ninvented = "yes"', "invented", "true or false"),
    ('title = "Good"', 'title = "Good"\nmonitoring = 3', "monitoring", "twice"),
    ('capacity = "60 Ah"', "", "module.capacity", "missing"),
    ('chemistry = "nmc"', "", "module.chemistry", "missing"),
    ('chemistry = "nmc"', 'chemistry = "nmx"', "module.chemistry", "'nmc'"),
    ('name = "box"', "", "inverter.name", "missing"),
    ('name = "box"', "name = 7", "inverter.name", "text in quotes"),
    ("strings = 2", 'monitoring = "none"', "pack.monitoring", "section of its own"),
    ("window_low", 'charger = "yes"\n#', "inverter.charger", "twice"),
    # the library
    ('name = "box"', 'use = "class-48"', "inverter.use", "class-48v"),
    ('name = "box"', "use = 4", "inverter.use", "text in quotes"),
    ('name = "box"', 'use = "../../sources"', "inverter.use", "not in the library"),
    ('source = "solar"', 'source = "wind"', "charger.source", "wind"),
    ('source = "solar"', "", "charger.source", "missing"),
    ('source = "solar"', 'source = "solar"\nleft_on = "floded-48v"', "charger.left_on", "flooded"),
    ('source = "solar"', 'source = "solar"\nleft_on = true', "charger.left_on", "profile's key"),
    # a range
    ('step = "0.1 V"', 'stp = "0.1 V"', "inverter.cut_off", "'step' is missing"),
    ('step = "0.1 V" }', 'step = "0.1 V", by = 3 }', "inverter.cut_off", "'by' is not known"),
    ('step = "0.1 V"', 'step = "0 V"', "inverter.cut_off", "above 0"),
    ('step = "0.1 V"', "step = 0.1", "inverter.cut_off", "write it as '0.1 V'"),
    ('from = "40 V"', 'from = "50 V"', "inverter.cut_off", "low to high"),
    ("cut_off = {", 'changeover = "44 V"\ncut_off = {', "inverter.changeover", "a range is"),
    # impossible things
    ('window_low = "42 V"', 'window_low = "62 V"', "inverter.window_low", "must lie below"),
    ('"60 Ah"', '"60 Ah"\ncell_highest = "4.5 V"', "module", "looser"),
    ('"2 degC"', '"2 degC"\nwarmest = "1 degC"', "site.coldest", "coldest (2 °C)"),
    ('"2 degC"', '"2 degC"\nrules = "ansi"', "site.rules", "ansi"),
    ('length = "2 m"', 'length = "0 m"', "cabling.main.length", "above 0 m"),
    ('length = "2 m"', "", "cabling.main.length", "missing"),
    # conductors and fuses
    ('"2/0 AWG"', '"60 mm2"', "cabling.main", "50 mm2"),
    ('"2/0 AWG"', "70", "cabling.main.size", "text in quotes"),
    ('length = "2 m"', 'length = "2 m"\ncolumn = 80', "cabling.main", "60 or 75 or 90"),
    ('length = "2 m"', 'length = "2 m"\ncolumn = "75"', "cabling.main.column", "75"),
    ('length = "2 m"', 'length = "2 m"\nambient = 40', "cabling.main.ambient", "'40 degC'"),
    ('length = "2 m"', 'length = "2 m"\nambient = "90 degC"', "cabling.main", "above what"),
    ('length = "2 m"', 'length = "2 m"\nname = "x"', "cabling.main.name", "not known"),
    ('"class-t"', '"class-q"', "protection.main_fuse", "class-"),
    ('main_fuse = "class-t"', 'fuse = "class-t"', "protection.fuse", "main_fuse"),
    (
        'resistance = "9 mOhm"',
        'resistance = { value = "9 mOhm", temperature = "9 V" }',
        "module.resistance.temperature",
        "temperature",
    ),
    (
        'resistance = "9 mOhm"',
        'resistance = { value = "9 mOhm", soc = ["50 %"] }',
        "module.resistance.soc",
        "got a list",
    ),
    (
        'resistance = "9 mOhm"',
        'resistance = { value = "9 mOhm", soc = "50 %" }\nresistance_soc = "50 %"',
        "module.resistance.soc",
        "resistance_soc too",
    ),
    ("capacity", "weakest_group = 8\ncapacity", "module.weakest_group", "7 cell groups"),
    ("capacity", 'imbalance_empty = "5 V"\ncapacity', "module.imbalance_empty", "0 V and 4.2 V"),
    # a bench record
    ("capacity", "bench = 3\ncapacity", "module.bench", "section"),
    ("capacity", "bench = { }\ncapacity", "module.bench.record", "missing"),
    ("capacity", 'bench = { record = "x.csv" }\ncapacity', "module.bench.record", "folder"),
    ("capacity", 'bench = { record = "library:x" }\ncapacity', "module.bench.record", "library"),
    ("capacity", 'bench = { file = "x.csv" }\ncapacity', "module.bench.file", "record"),
    (
        "capacity",
        f'bench = {{ record = "{RECORD}", tested = "x" }}\ncapacity',
        "module.bench.tested",
        "cell, module",
    ),
]


@pytest.mark.parametrize(("old", "new", "key", "words"), MATRIX)
def test_refused_with_key_and_reason(old: str, new: str, key: str, words: str) -> None:
    assert old in GOOD
    sheet = GOOD.replace(old, new, 1)
    with pytest.raises(DataError) as caught:
        parse_sheet(sheet, "my.toml")
    if words != "twice":  # a section given twice is refused by the TOML reader, by its line
        assert caught.value.key == key
    assert words in caught.value.problem
    assert str(caught.value).startswith("my.toml: ")
    assert len(str(caught.value)) < 600


def test_the_good_one_is_good() -> None:
    assert parse_sheet(GOOD).title == "Good"


@pytest.mark.parametrize("name", ["module", "pack", "inverter", "load"])
def test_a_missing_section(name: str) -> None:
    document = GOOD.replace(f"[[{name}]]", "[site.x]").replace(f"[{name}]", "[site.x]")
    document = document.replace("[inverter.charger]", "[site.y]")
    with pytest.raises(DataError, match="section is missing") as caught:
        parse_sheet(document)
    assert caught.value.key == name


def test_which_of_several_devices() -> None:
    two = GOOD.replace("[[charger]]", '[[charger]]\nname = "a"\nsource = "mains"\n[[charger]]')
    with pytest.raises(DataError) as caught:
        parse_sheet(two.replace('source = "solar"', 'source = "solar"\ncurrent = 3'))
    assert caught.value.key == "charger[2].current"


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "is empty"),
        ("# only a remark\n", "is empty"),
        ("title = \n", "line 1: is not valid TOML"),
        ("a = 1\nb = 60 Ah\n", "line 2: is not valid TOML"),
        ("a = 1\n[pack\n", "line 2"),
        ("a = 60Ah", "line 1"),
        ("a = Ah", 'put a text in quotes: "Ah"'),
        ('a = "x', "not valid TOML"),
        ("a = 1\na = 2\n", "a stands twice in one section"),
        ("x = " + "9" * 4400, "beyond all measure"),
        ("x = 0x" + "f" * 4000, "beyond belief"),
        ("x = " + "{a=" * 1500, "beyond all measure"),
        ("a." * 10 + "a = 1", "nested too deeply"),
        ("a." * 300_000 + "a = 1", "line 1: is too long"),
        ("\n".join(f"k{i} = 1" for i in range(2000)), "more than 1000 entries"),
        ('note = """' + ("x" * 100 + "\n") * 50 + '"""', "characters long"),
        ('title = "a\\u0000b"', "null character"),
        ("title = 1\n" * 120_000, "larger than 1 MB"),
        ("[[inverter]]\n" * 101 + "[module]\n[pack]\n[load]\n", "continuous"),
        ("inverter = []\n[module]\n[pack]\n[load]\n", "missing"),
        ("inverter = 3\n[module]\n[pack]\n[load]\n", "missing"),
    ],
)
def test_text_that_is_no_sheet(text: str, says: str) -> None:
    with pytest.raises(DataError) as caught:
        parse_sheet(text, "my.toml")
    if says not in {"continuous", "missing"}:
        assert says in str(caught.value)


def many_inverters(count: int) -> str:
    head, rest = GOOD.split("[[inverter]]")
    extra = "".join(f'[[inverter]]\nname = "x{k}"\n' for k in range(count))
    return head + extra + "[[inverter]]" + rest


def test_two_devices_of_one_name() -> None:
    twice = many_inverters(2).replace('"x1"', '"x0"')
    with pytest.raises(DataError, match="two devices are called 'x0': give each a name"):
        parse_sheet(twice)


def test_a_fuse_from_its_own_print() -> None:
    told = (
        '[protection.main_fuse]\nname = "own link"\ndc_voltage = "80 V"\n'
        'interrupting = "50 kA"\nlargest = "400 A"\nbasis = "datasheet"\n'
    )
    good = GOOD.replace('main_fuse = "class-t"\n', "")
    fuse = parse_sheet(good + told).safeguards.main_fuse
    assert (fuse.name, fuse.dc_voltage.m, fuse.interrupting.m) == ("own link", 80.0, 50000.0)
    with pytest.raises(DataError, match=r"protection\.main_fuse\.interrupting.*has no unit"):
        parse_sheet(good + told.replace("50 kA", "50"))
    with pytest.raises(DataError, match=r"protection\.main_fuse\.largest"):
        parse_sheet(good + told.replace('largest = "400 A"\n', ""))


def test_too_many_devices() -> None:
    assert len(parse_sheet(many_inverters(99)).inverters) == 100
    with pytest.raises(DataError, match="100 is the most"):
        parse_sheet(many_inverters(100))


def test_no_inverter_and_no_list() -> None:
    start, end = GOOD.index("[[inverter]]"), GOOD.index("[[charger]]")
    without = GOOD[:start] + GOOD[end:]
    with pytest.raises(DataError, match="at least one"):
        parse_sheet("inverter = []\n" + without)
    with pytest.raises(DataError, match="sections \\[\\[inverter\\]\\]"):
        parse_sheet("inverter = [3]\n" + without)


def test_a_folder(tmp_path: Path) -> None:
    with pytest.raises(DataError, match="is a folder"):
        read_sheet(tmp_path)


def test_a_missing_file(tmp_path: Path) -> None:
    with pytest.raises(DataError, match="no such file"):
        read_sheet(tmp_path / "none.toml")


@pytest.mark.parametrize("name", ["a\0b", "x" * 5000])
def test_a_name_no_file_can_have(name: str) -> None:
    with pytest.raises(DataError):
        read_sheet(name)


def test_not_utf8(tmp_path: Path) -> None:
    path = tmp_path / "latin.toml"
    path.write_bytes('title = "a"\nnote = "Köln"\n'.encode("latin-1"))
    with pytest.raises(DataError, match=r"line 2: is not UTF-8"):
        read_sheet(path)


def test_too_large(tmp_path: Path) -> None:
    path = tmp_path / "large.toml"
    path.write_bytes(b"#" * 1_000_001)
    with pytest.raises(DataError, match="larger than 1 MB"):
        read_sheet(path)


def test_a_pipe(tmp_path: Path) -> None:
    path = tmp_path / "pipe"
    os.mkfifo(path)
    with pytest.raises(DataError, match="regular file"):
        read_sheet(path)


def bench_sheet(record: str) -> str:
    return GOOD.replace('capacity = "60 Ah"', f'bench.record = "{record}"')


@pytest.mark.parametrize(
    ("record", "says"),
    [
        ("none.csv", "no file 'none.csv' beside the sheet"),
        (".", "no file"),
        ("/etc/hostname", "travel together"),
        ("bad.csv", "bad.csv: "),
        ("\\u0000.csv", "null character"),
        ("x" * 300, "no file"),
    ],
)
def test_bench_records(tmp_path: Path, record: str, says: str) -> None:
    (tmp_path / "bad.csv").write_text("Test Time / s,Voltage / V\n1,2\n2,3\n", encoding="utf-8")
    path = tmp_path / "sheet.toml"
    path.write_text(bench_sheet(record), encoding="utf-8")
    with pytest.raises(DataError) as caught:
        read_sheet(path)
    assert says in caught.value.problem


def test_an_unknown_sign_of_current(tmp_path: Path) -> None:
    record = f'{{ record = "{RECORD}", current_sign = "plus" }}'
    with pytest.raises(DataError, match="plus"):
        parse_sheet(GOOD.replace("capacity =", f"bench = {record}\ncapacity ="), folder=tmp_path)


VALUES = st.one_of(
    st.sampled_from([
        "1", "-1", "0", "1e400", "nan", "true", "[]", "{}", '""', '"none"', '"48 V"', '"1 A"',
        '"20 %"', '"-5 degC"', '"\\u0000"', "1979-05-27", '{ value = "3 V" }', "[[1]]", "0xffffff",
        '{ from = "1 V", to = "2 V", step = "1 V" }', '"1e308 kV"', '"9 9 V"', "{ basis = 3 }",
        '{ value = { value = "1 V" } }', '{ value = "1 V", basis = { value = "measured" } }',
    ]),
    st.text(alphabet=st.characters(codec="ascii", exclude_characters="\n\r"), max_size=12),
)  # fmt: skip
LINES = [line for line in GOOD.splitlines() if " = " in line]


@given(line=st.sampled_from(LINES), value=VALUES)
def test_any_value_anywhere_is_read_or_refused(line: str, value: str) -> None:
    sheet = GOOD.replace(line, f"{line.split(' = ', 1)[0]} = {value}", 1)
    with contextlib.suppress(DataError):
        assert isinstance(parse_sheet(sheet), Build)


@given(text=st.text(max_size=300))
def test_any_text_is_refused(text: str) -> None:
    with pytest.raises(DataError):
        parse_sheet(text)


def test_a_missing_sheet_names_those_that_lie_there(tmp_path: Path) -> None:
    for name in ("my-barn.toml", "shed.toml"):
        (tmp_path / name).write_text('title = "x"\n', encoding="utf-8")
    with pytest.raises(DataError, match=r"no such file \(did you mean 'my-barn.toml'\?\)"):
        read_sheet(tmp_path / "my-brn.toml")
    for name in ("zzz.toml", "tom.toml"):  # an ending that is alike is no likeness
        with pytest.raises(DataError, match=r"file \(known here: my-barn.toml, shed.toml\)"):
            read_sheet(tmp_path / name)
    with pytest.raises(DataError, match="no such file, and no such folder"):
        read_sheet(tmp_path / "nowhere" / "my-barn.toml")
    for k in range(20):
        (tmp_path / f"other-{k}.toml").write_text("", encoding="utf-8")
    with pytest.raises(DataError, match=r"no such file$"):
        read_sheet(tmp_path / "zzz.toml")
    with pytest.raises(DataError, match=r"did you mean 'shed\.toml'"):
        read_sheet(tmp_path / "shedd.toml")
