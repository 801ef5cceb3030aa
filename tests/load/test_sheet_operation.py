"""The section [operation] and its profiles: what good ones become, and bad ones not."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from evpack.base.errors import DataError
from evpack.describe.build import Build
from evpack.load.profiles import read_profile
from evpack.load.sheet import parse_sheet, read_sheet

PLAIN = """
title = "Plain"
[module]
chemistry = "nmc"
cells_in_series = 7
capacity = "60 Ah"
[pack]
modules_in_series = 2
[[inverter]]
name = "box"
[[charger]]
name = "sun"
source = "solar"
[load]
continuous = "1 kW"
"""
LOAD = '[operation.load]\nshape = "home"\nenergy = "8 kWh"\n'
PLACE = 'latitude = "46 deg"\nlongitude = "8 deg"\ntilt = "30 deg"\nazimuth = "180 deg"\n'


def built(more: str, folder: Path | None = None) -> Build:
    return parse_sheet(PLAIN + more, "my.toml", folder)


def refused(more: str, key: str, says: str, folder: Path | None = None) -> None:
    with pytest.raises(DataError) as caught:
        built(more, folder)
    assert caught.value.key == key, caught.value
    assert says in caught.value.problem


def test_a_sheet_without_one() -> None:
    assert built("").operation is None


def test_the_least_that_is_needed() -> None:
    operation = built(LOAD).operation
    assert operation is not None
    assert operation.load.values.sum() == pytest.approx(8000)
    assert operation.sun == ()
    assert str(operation.basis.of("return_delay")) == "assumed"


def test_everything_at_once() -> None:
    operation = built(
        f"""
[operation]
mode = "battery first"
mains_charging = "in the cheapest hours"
changeover = "46 V"
return_to_battery = "52 V"
changeover_delay = "1 min"
start = "60 %"
step = "5 min"
length = "30 days"
first_day = 200
coldest = "-5 degC"
warmest = "30 degC"
{LOAD}
[[operation.sun]]
{PLACE}weather = "45 %"
rated = "2 kW"
[operation.tariff]
price = "0.30 EUR/kWh"
[[operation.tariff.hours]]
from = "23:00"
to = "06:00"
price = "0.19 EUR/kWh"
[[operation.outage]]
day = 34
at = "16:30"
lasts = "9 h"
"""
    ).operation
    assert operation is not None
    assert operation.sun[0].on == "sun", "the only solar charger needs no name"
    assert float(operation.sun[0].weather[6].m) == pytest.approx(0.45)
    assert operation.tariff is not None
    assert operation.tariff.by_minute().min() == 0.19
    assert operation.outages[0].lasts.m == 9 * 3600
    assert operation.steps == 8640
    assert str(operation.basis.of("changeover")) == "chosen"
    assert str(operation.basis.of("load")) == "chosen"


@pytest.mark.parametrize(
    ("more", "key", "says"),
    [
        ("operation = 3\n", "operation", "where a section [operation] is due"),
        ('[operation]\nmode = "island"\n', "operation.load", "is missing"),
        ("[operation]\nload = 3\n", "operation.load", "where a section [operation.load] is due"),
        (LOAD + '[operation]\nmdoe = "island"\n', "operation.mdoe", "did you mean 'mode'"),
        ("[operation]\nstart = 60\n" + LOAD, "operation.start", "60 has no unit"),
        ("[operation]\nmode = 3\n" + LOAD, "operation.mode", "a text in quotes"),
        ('[operation]\nmode = "iland"\n' + LOAD, "operation.mode", "did you mean 'island'"),
        ('[operation]\nfirst_day = "x"\n' + LOAD, "operation.first_day", "a whole number"),
        ("[operation.load]\n", "operation.load", "got none of them"),
        (
            '[operation.load]\nshape = "home"\nfile = "x.csv"\nenergy = "8 kWh"\n',
            "operation.load",
            "got shape and file",
        ),
        ('[operation.load]\nshape = "home"\n', "operation.load.energy", "is missing"),
        (
            '[operation.load]\nshape = "hoem"\nenergy = "8 kWh"\n',
            "operation.load.shape",
            "did you mean 'home'",
        ),
        (
            '[operation.load]\nshape = "home"\nenergy = 8\n',
            "operation.load.energy",
            "8 has no unit; write it as '8 Wh'",
        ),
        (
            '[operation.load]\nhours = ["1 W"]\nenergy = "8 kWh"\n',
            "operation.load.energy",
            "belongs to a shape",
        ),
        ('[operation.load]\nhours = ["1 W"]\n', "operation.load.hours", "24 powers are needed"),
        (
            f"[operation.load]\nhours = {[200] * 24}\n",
            "operation.load.hours",
            "200 has no unit; write it as '200 W'",
        ),
        ('[operation.load]\nshpae = "home"\n', "operation.load.shpae", "did you mean 'shape'"),
        ('[operation.load]\nfile = "a.csv"\n', "operation.load.file", "without a folder"),
        (LOAD + '[[operation.sun]]\non = "son"\n', "operation.sun.on", "did you mean 'sun'"),
        (LOAD + '[[operation.sun]]\nlattitude = "4 deg"\n', "operation.sun.lattitude", "latitude"),
        (LOAD + "[[operation.sun]]\nlatitude = 46\n", "operation.sun.latitude", "46 has no unit"),
        (LOAD + '[[operation.sun]]\nlatitude = "46 deg"\n', "operation.sun", "tilt, azimuth"),
        (LOAD + '[[operation.sun]]\nprofile = "x"\n', "operation.sun.profile", "given as hours"),
        (
            LOAD + '[[operation.sun]]\nhours = []\nfile = "x.csv"\n',
            "operation.sun.file",
            "one of the two",
        ),
        (
            LOAD + f'[[operation.sun]]\n{PLACE}weather = ["50 %"]\n',
            "operation.sun.weather",
            "12 months",
        ),
        (LOAD + "[operation.tariff]\n", "operation.tariff.price", "is missing"),
        (
            LOAD + "[operation.tariff]\nprice = 0.3\n",
            "operation.tariff.price",
            "write it as '0.3 EUR/kWh'",
        ),
        (
            LOAD + '[operation.tariff]\nprcie = "0.3 EUR/kWh"\n',
            "operation.tariff.prcie",
            "did you mean 'price'",
        ),
        (
            LOAD + '[operation.tariff]\nprice = "0.3 EUR/kWh"\nhours = [{ from = "22:00" }]\n',
            "operation.tariff.hours.to",
            "is missing",
        ),
        (
            LOAD
            + '[operation.tariff]\nprice = "0.3 EUR/kWh"\n'
            + 'hours = [{ from = 22, to = "06:00", price = "0.1 EUR/kWh" }]\n',
            "operation.tariff.hours.from",
            "a time of day in quotes",
        ),
        (
            LOAD
            + '[operation.tariff]\nprice = "0.3 EUR/kWh"\n'
            + 'hours = [{ from = "22:00", to = "06:00", price = "0.1 GBP/kWh" }]\n',
            "operation.tariff",
            "one money is needed",
        ),
        (LOAD + "[[operation.outage]]\nday = 3\n", "operation.outage.at", "is missing"),
        (
            LOAD + '[[operation.outage]]\nday = "3"\nat = "18:00"\nlasts = "8 h"\n',
            "operation.outage.day",
            "without quotes",
        ),
        (
            LOAD + '[[operation.outage]]\nday = 3\nat = "18"\nlasts = "8 h"\n',
            "operation.outage.at",
            "is not a time of day",
        ),
        (
            LOAD + '[[operation.outage]]\nday = 3\nat = "18:00"\nlasts = 8\n',
            "operation.outage.lasts",
            "8 has no unit",
        ),
        (
            LOAD + '[[operation.outage]]\nday = 500\nat = "18:00"\nlasts = "8 h"\n',
            "operation.outage.day",
            "between 1 and 365",
        ),
        (
            LOAD + '[operation.air]\nfiel = "x"\n',
            "operation.air.fiel",
            "did you mean 'file'",
        ),
    ],
)
def test_what_is_refused(more: str, key: str, says: str) -> None:
    # Tables may stand in any order, so the section itself may come after its load.
    if more.startswith(LOAD) and "[operation]\n" in more:
        section = more.removeprefix(LOAD)
        more = section + LOAD
    if more.startswith("operation ="):
        with pytest.raises(DataError) as caught:
            parse_sheet(more + PLAIN, "my.toml")
        assert caught.value.key == key
        return
    refused(more, key, says)


def test_several_mistakes_are_told_at_once() -> None:
    with pytest.raises(DataError) as caught:
        built('[operation]\nstart = 60\n[operation.load]\nshape = "hoem"\nenergy = "8 kWh"\n')
    assert "operation.start" in str(caught.value)
    assert "operation.load.shape" in str(caught.value)


def test_a_sun_that_needs_its_name() -> None:
    two = '[[charger]]\nname = "second"\nsource = "solar"\n'
    refused(
        two + LOAD + f"[[operation.sun]]\n{PLACE}", "operation.sun.on", "known here: second, sun"
    )


def test_the_suns_of_a_sheet_whose_chargers_are_wrong_are_told_with_them() -> None:
    with pytest.raises(DataError) as caught:
        built(f"[[charger]]\nname = 3\n{LOAD}[[operation.sun]]\n{PLACE}")
    assert "charger" in str(caught.value)


# --- Profiles ----------------------------------------------------------------------------------


def written(folder: Path, text: str, name: str = "house.csv") -> Path:
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


def test_a_profile_in_hours_and_kilowatts(tmp_path: Path) -> None:
    found = read_profile(written(tmp_path, "Time / h,Power / kW,note\n0,0.2,a\n0.5,1,b\n1,0.4,c\n"))
    assert found.every.m == 1800
    assert found.values.tolist() == [200, 1000, 400]
    assert found.name == "house.csv"


def test_labels_with_brackets_and_degrees_fahrenheit(tmp_path: Path) -> None:
    text = "hour [h],outside [degF]\n0,32\n24,50\n"
    found = read_profile(written(tmp_path, text), temperature=True)
    assert found.values == pytest.approx(np.array([0.0, 10.0]))


def test_a_sheet_with_profiles_beside_it(tmp_path: Path) -> None:
    written(tmp_path, "Time / min,Power / W\n0,100\n15,300\n")
    written(tmp_path, "Time / days,Air / degC\n0,4\n1,6\n", "air.csv")
    sheet = tmp_path / "my.toml"
    more = (
        '[operation.load]\nfile = "house.csv"\n[[operation.sun]]\nfile = "house.csv"\n'
        '[operation.air]\nfile = "air.csv"\n'
    )
    sheet.write_text(PLAIN + more, encoding="utf-8")
    operation = read_sheet(sheet).operation
    assert operation is not None
    assert operation.load.every.m == 900
    assert operation.sun[0].profile is not None
    assert operation.air is not None
    assert operation.air.values.tolist() == [4, 6]


def test_hours_of_sun() -> None:
    operation = built(LOAD + f"[[operation.sun]]\nhours = {['100 W'] * 24}\n").operation
    assert operation is not None
    assert operation.sun[0].profile is not None
    assert operation.sun[0].profile.values.tolist() == [100] * 24


@pytest.mark.parametrize(
    ("name", "says"),
    [("/etc/hosts", "from the sheet's folder"), ("no.csv", "no file 'no.csv' beside the sheet")],
)
def test_files_that_are_not_beside_the_sheet(tmp_path: Path, name: str, says: str) -> None:
    refused(f'[operation.load]\nfile = "{name}"\n', "operation.load.file", says, tmp_path)


@pytest.mark.parametrize(
    ("text", "key", "says"),
    [
        ("", "", "is empty"),
        ("\n\n", "", "is empty"),
        ("Time / h,Power / W\n0,1\n", "", "holds 1 rows of numbers"),
        ("Time / h\n0\n1\n", "line 1", "a column 'Power / W' is missing"),
        ("Power / W\n0\n1\n", "line 1", "a column 'Time / h' is missing"),
        ("Time,Power / W\n0,1\n1,1\n", "line 1", "column 'Time' has no unit; write it as 'Time"),
        ("Time / V,Power / W\n0,1\n1,1\n", "line 1", "the unit 'V', which is no time"),
        ("Time / h,Power / W,Load / kW\n0,1,1\n1,1,1\n", "line 1", "keep one of them"),
        ("Time / h,Power / W\n0,1\n1\n", "line 3", "holds 1 fields; 2 are needed"),
        ("Time / h,Power / W\n0,1\n1,x\n", "line 3", "'Power / W' is 'x'"),
        ("Time / h,Power / W\n0,1\n1,\n", "line 3", "'Power / W' is empty"),
        ("Time / h,Power / W\n0,1\n1,1_0\n", "line 3", "'Power / W' is '1_0'"),
        ("Time / h,Power / W\n0,1\n1,nan\n", "line 3", "'Power / W' is 'nan'"),
        ("Time / h,Power / W\n0,1\n1,-5\n", "line 3", "a believable power"),
        ("Time / h,Power / W\n0,1\n0,1\n", "line 3", "time must rise"),
        ("Time / h,Power / W\n0,1\n1,1\n3,1\n", "line 4", "every row must be 3600 s later"),
        ("Time / h,Power / W\n1,1\n2,1\n", "line 2", "the first time must be 0"),
        ("Time / days,Power / W\n0,1\n200,1\n", "", "holds more than a year"),
    ],
)
def test_profiles_that_are_none(tmp_path: Path, text: str, key: str, says: str) -> None:
    with pytest.raises(DataError) as caught:
        read_profile(written(tmp_path, text))
    assert (caught.value.file, caught.value.key) == ("house.csv", key)
    assert says in caught.value.problem


def test_a_profile_that_is_no_text_or_no_csv(tmp_path: Path) -> None:
    (tmp_path / "b.csv").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(DataError, match="not UTF-8"):
        read_profile(tmp_path / "b.csv")
    with pytest.raises(DataError, match="is a folder"):
        read_profile(tmp_path)
    with pytest.raises(DataError, match="is no CSV"):
        read_profile(written(tmp_path, f'Time / h,Power / W\n"{"x" * 200_000}",1\n'))


def test_a_profile_beyond_all_measure(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("evpack.load.csv_rows._MOST_BYTES", 10)
    with pytest.raises(DataError, match="a profile may; one of at most"):
        read_profile(written(tmp_path, "Time / h,Power / W\n0,1\n1,1\n"))


def test_a_wrong_profile_is_told_at_its_key(tmp_path: Path) -> None:
    written(tmp_path, "Time / h,Power / W\n0,1\n1,x\n")
    with pytest.raises(DataError) as caught:
        built('[operation.load]\nfile = "house.csv"\n', tmp_path)
    assert "line 3" in str(caught.value)
