"""What people type that is no TOML, and the fix that the message names."""

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evpack.base.errors import DataError
from evpack.load.sheet import parse_sheet, read_sheet
from evpack.load.text import guess, read_toml

LINES = [
    ("continuous = 3 kW", 'put the value in quotes: "3 kW"'),
    ("capacity = 60Ah", 'put the value in quotes: "60 Ah"'),
    ("continuous = 3 kW  # it's a guess", 'put the value in quotes: "3 kW"'),
    ("reserve = 20 %", 'put the value in quotes: "20 %"'),
    ("coldest = -5 degC", 'put the value in quotes: "-5 degC"'),
    ("coldest = -5 °C", 'put the value in quotes: "-5 °C"'),
    ('capacity = { value = 60 Ah, basis = "measured" }', 'put the value in quotes: "60 Ah"'),
    ('cut_off = { from = "40 V", to = 48 V }', 'put the value in quotes: "48 V"'),
    ("continuous = 1,5 kW", 'in quotes, with a decimal point: "1.5 kW"'),
    ("continuous = 1,500 W", "and thousands without a comma"),
    ('capacity = "60 Ah', 'a closing quote " is missing'),
    ("title = 'Bob's barn'", "a quote ' is one too many or too few"),
    ("capacity = “60 Ah”", "use straight quotes"),
    ("capacity = „60 Ah“", "use straight quotes"),
    ("every_cell = True", "write true or false in lower case and without quotes: true"),
    ("every_cell = yes", "write true or false in lower case and without quotes: true"),
    ("every_cell = NO # not yet", "write true or false in lower case and without quotes: false"),
    ("rules = nec", 'put a text in quotes: "nec"'),
    ("modules in series = 2", "no spaces, such as modules_in_series (did you mean 'modules_in_s"),
    ("cells in serie = 7", "(did you mean 'cells_in_series'?)"),
    ("cells-in serie = 7", "(did you mean 'cells_in_series'?)"),
    ("blue moon = 7", "a key holds no spaces, such as blue_moon"),
    ('rules: "nec"', "write = and no colon"),
    ("capacity =   # later", 'a value is missing after "="'),
    ("capacity =", 'a value is missing after "="'),
]


@pytest.mark.parametrize(("line", "fix"), LINES, ids=[line for line, _ in LINES])
@pytest.mark.parametrize("end", ["\n", "\r\n"])
def test_a_line_that_is_no_toml_is_told_its_fix(line: str, fix: str, end: str) -> None:
    sheet = end.join(['title = "x"', "[site]", line, "[load]", ""])
    with pytest.raises(DataError) as caught:
        parse_sheet(sheet, "my.toml")
    assert caught.value.key == "line 3"
    assert caught.value.problem.startswith("is not valid TOML: ")
    assert fix in caught.value.problem


def test_what_nobody_can_guess_keeps_the_readers_own_words() -> None:
    with pytest.raises(DataError, match=r"line 2: is not valid TOML: .*Expected"):
        read_toml("a = 1\n[pack\n", "my.toml")


def test_a_key_that_stands_twice_is_no_typing_mistake() -> None:
    with pytest.raises(DataError, match="twice"):
        read_toml('a = "1"\na = "3 kW"\n', "my.toml")


@given(st.text(max_size=60))
def test_a_guess_never_fails(line: str) -> None:
    assert isinstance(guess(line), str)


@pytest.mark.parametrize(
    ("name", "content", "says"),
    [
        ("record.csv", b"Test Time / s,Voltage / V\n1,2\n", 'record = "record.csv"'),
        ("a.json", b'{"title": "x"}\n', "is JSON; a build sheet is a text file in TOML"),
        ("a.ipynb", b'{"cells": []}\n', "is a notebook; a build sheet"),
        ("a.yaml", b"title: x\n", "is YAML; a build sheet"),
        ("a.xlsx", b"PK\x03\x04\xff\xfe\x00", "is a spreadsheet; a build sheet"),
        ("a.pdf", b"%PDF-1.4\n\xe2\xe3", "is a PDF; a build sheet"),
        ("a.toml", 'title = "x"\n'.encode("utf-16"), "is UTF-16 text"),
        ("b.toml", 'title = "x"\n'.encode("utf-16-be"), "null"),
        ("a.toml", b'title = "x"\r[site]\r', "bare carriage return"),
    ],
)
def test_a_file_of_another_kind_is_named(
    tmp_path: Path, name: str, content: bytes, says: str
) -> None:
    path = tmp_path / name
    path.write_bytes(content)
    with pytest.raises(DataError) as caught:
        read_sheet(path)
    if says == "null":
        return  # UTF-16 without its mark: refused somehow is all that can be asked
    assert says in caught.value.problem


def test_everything_wrong_is_told_at_once() -> None:
    sheet = """
title = "x"
[site]
rules = "vde"
[module]
capcity = "60 Ah"
resistance = "9"
chemistry = "nmx"
cells_in_series = 7.5
[pack]
modules_in_serie = 2
[[inverter]]
name = "a"
continuous = "2-3 kW"
[[inverter]]
name = "b"
surge = "?"
[load]
continuous = "1 kW"
"""
    with pytest.raises(DataError) as caught:
        parse_sheet(sheet, "my.toml")
    told = str(caught.value).splitlines()
    assert told[0] == "my.toml: 8 things to put right:"
    assert [line.split(":")[0].strip() for line in told[1:]] == [
        "site.rules",
        "module.capcity",
        "module.cells_in_series",
        "module.resistance",
        "module.chemistry",
        "pack.modules_in_serie",
        "inverter[1].continuous",
        "inverter[2].surge",
    ]
    assert caught.value.key == "site.rules"


def test_only_so_many_are_told() -> None:
    sheet = "".join(f"odd{k} = 1\n" for k in range(20))
    with pytest.raises(DataError) as caught:
        parse_sheet(sheet, "my.toml")
    told = str(caught.value).splitlines()
    assert told[0] == "my.toml: 24 things to put right:"
    assert len(told) == 12
    assert told[-1] == "  and 14 more"


def test_one_of_its_kind_has_no_number() -> None:
    with pytest.raises(DataError) as caught:
        read_toml("[[inverter]]\ncontinuous = 1979-05-27\n", "my.toml")
    assert caught.value.key == "inverter.continuous"
    with pytest.raises(DataError) as caught:
        read_toml("[[inverter]]\na = 1\n[[inverter]]\ncontinuous = 1979-05-27\n", "my.toml")
    assert caught.value.key == "inverter[2].continuous"
