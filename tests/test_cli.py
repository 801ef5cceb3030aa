"""The command line: exit codes, plain messages, and no file ever lost."""

import json
import re
import subprocess
import sys
from importlib.resources import files
from pathlib import Path

import attrs
import pytest
from ways_made import ways_of

from evpack import __version__, cli
from evpack.base.basis import Basis
from evpack.base.fitted import NOT_FITTED
from evpack.cli import begin, runs
from evpack.describe.array import Array
from evpack.describe.cabling import Busbar, Run
from evpack.describe.charger import Charger
from evpack.describe.inverter import Inverter
from evpack.describe.module import Module
from evpack.describe.pack import Monitoring, Pack
from evpack.describe.safeguards import Disconnect, EmergencyOff, FuseFamily, Precharge, Safeguards
from evpack.describe.site import Load, Site
from evpack.load.as_built import example_as_built
from evpack.load.library import example, library
from evpack.load.places import workbooks
from evpack.load.sheet import read_sheet

BARN = str(example("wether-barn"))


def run(*words: str) -> subprocess.CompletedProcess:
    return subprocess.run(
        [sys.executable, "-m", "evpack.cli", *words], capture_output=True, text=True, check=False
    )


def test_version(capsys: pytest.CaptureFixture) -> None:
    with pytest.raises(SystemExit, match="0"):
        cli.main(["--version"])
    assert capsys.readouterr().out == f"evpack {__version__}\n"


@pytest.mark.parametrize(
    ("name", "code"),
    [("wether-barn", 0), ("twelve", 0), ("split-house", 0), ("low-shed", 1), ("left-on", 1)],
)
def test_decide_says_the_verdict_and_returns_it(
    capsys: pytest.CaptureFixture, name: str, code: int
) -> None:
    assert cli.main(["decide", str(example(name))]) == code
    said = capsys.readouterr()
    assert read_sheet(example(name)).title in said.out
    assert said.err == ""


def test_decide_prints_json_for_programs(capsys: pytest.CaptureFixture) -> None:
    code = cli.main(["decide", BARN, "--json"])
    record = json.loads(capsys.readouterr().out)
    assert {
        "verdict",
        "pack",
        "usable",
        "setpoints",
        "protection",
        "sharing",
        "findings",
    } <= set(record)
    assert (code == 0) == record["verdict"].startswith("works")


def test_decide_shares_a_page_and_takes_it_back(
    capsys: pytest.CaptureFixture, tmp_path: Path
) -> None:
    page = tmp_path / "page.html"
    first = cli.main(["decide", BARN, "--share", str(page)])
    told = capsys.readouterr()
    assert str(page) in told.err
    assert cli.main(["decide", str(page)]) == first
    assert capsys.readouterr().out == told.out


def test_decide_replaces_a_page_only_by_force(
    capsys: pytest.CaptureFixture, tmp_path: Path
) -> None:
    page = tmp_path / "page.html"
    page.write_text("mine", encoding="utf-8")
    assert cli.main(["decide", BARN, "--share", str(page)]) == 2
    assert page.read_text(encoding="utf-8") == "mine"
    assert cli.main(["decide", BARN, "--share", str(page), "--force"]) == 0
    assert page.read_text(encoding="utf-8") != "mine"
    assert str(page) in capsys.readouterr().err


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        (".", "evpack: .: is a folder"),
        ("", "evpack: the name of a build sheet is needed"),
        ("wether-barn", "'evpack library wether-barn > wether-barn.toml'"),
        ("low-shed.toml", "'evpack library low-shed > low-shed.toml'"),
        ("weather-barn", "evpack: weather-barn: there is no such file"),
    ],
)
def test_what_is_no_sheet_is_told_by_its_name(
    capsys: pytest.CaptureFixture,
    monkeypatch: pytest.MonkeyPatch,
    tmp_path: Path,
    typed: str,
    said: str,
) -> None:
    monkeypatch.chdir(tmp_path)
    for words in (["decide", typed], ["share", typed, "page.html"]):
        assert cli.main(words) == 2
        assert said in capsys.readouterr().err


def test_an_example_is_written_out_as_told(
    capsys: pytest.CaptureFixture, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.chdir(tmp_path)
    cli.main(["library", "wether-barn"])
    Path("wether-barn.toml").write_text(capsys.readouterr().out, encoding="utf-8")
    assert cli.main(["decide", "wether-barn.toml"]) == 0


def test_share_writes_a_page(capsys: pytest.CaptureFixture, tmp_path: Path) -> None:
    page = tmp_path / "page.html"
    assert cli.main(["share", BARN, str(page), "--code"]) == 0
    assert "<code>build.pack.module" in page.read_text(encoding="utf-8")
    assert capsys.readouterr().out == f"written: {page}\n"
    page.write_text("mine", encoding="utf-8")
    assert cli.main(["share", BARN, str(page)]) == 2
    assert page.read_text(encoding="utf-8") == "mine"
    assert cli.main(["share", BARN, str(page), "--force", "--workbook", "none"]) == 2
    said = capsys.readouterr().err
    assert "there is no workbook 'none' (known here: " in said
    assert "repack-decision" in said, "it takes a sheet"


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (None, "there is no such file"),
        ("title = ", "not valid TOML"),
        ("titel = 'x'", "did you mean 'title'"),
    ],
)
def test_bad_input_is_one_message_and_no_traceback(
    tmp_path: Path, text: str | None, said: str
) -> None:
    path = tmp_path / "bad.toml"
    if text is not None:
        path.write_text(text, encoding="utf-8")
    done = run("decide", str(path))
    assert done.returncode == 2
    assert done.stdout == ""
    assert done.stderr.startswith("evpack: bad.toml: ")
    assert said in done.stderr
    assert "Traceback" not in done.stderr


def test_a_reader_that_goes_away_is_no_verdict_and_no_traceback() -> None:
    with subprocess.Popen(
        [sys.executable, "-m", "evpack.cli", "decide", BARN],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    ) as process:
        process.stdout.close()
        complaint = process.stderr.read()
    assert process.returncode == 141
    assert complaint == b""


def test_a_terminal_without_our_signs_is_no_error(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PYTHONIOENCODING", "ascii")
    done = run("decide", BARN)
    assert done.returncode in {0, 1}
    assert done.stderr == ""


def test_start_writes_a_sheet_that_can_be_decided_and_never_replaces_one(
    capsys: pytest.CaptureFixture, tmp_path: Path
) -> None:
    path = tmp_path / "mine.toml"
    assert cli.main(["start", str(path)]) == 0
    assert "Fill it in" in capsys.readouterr().out
    assert cli.main(["decide", str(path)]) == 1
    assert "CANNOT TELL YET" in capsys.readouterr().out.upper()
    path.write_text("mine", encoding="utf-8")
    assert cli.main(["start", str(path)]) == 2
    assert path.read_text(encoding="utf-8") == "mine"
    assert cli.main(["start", str(tmp_path / "mine.txt")]) == 2
    assert cli.main(["start", str(tmp_path / "none" / "mine.toml")]) == 2


# Worked out, read off a record, said within another key, or of no use in a first sheet.
NOT_OFFERED = {"basis", "resistance_method", "ocv", "resistance_curve", "module", "cell_nominal"}
NOT_OFFERED |= {"key", "standard", "note", "source", "power"}
NOT_OFFERED |= {"conductor", "alternatives", "left_open", "conditions"}


@pytest.mark.parametrize("built_in", [True, False])
def test_every_line_that_the_starter_offers_is_a_valid_one(tmp_path: Path, built_in: bool) -> None:  # noqa: FBT001
    path = tmp_path / "mine.toml"
    cli.main(["start", str(path)])
    body = "title = " + path.read_text(encoding="utf-8").split("title = ", 1)[1]
    lines = [line.removeprefix("# ") for line in body.splitlines()]
    # The record itself does not exist; every other line is taken as it stands.
    parts = "\n".join(lines).split("\n\n")
    parts = [part for part in parts if not part.startswith("[module.bench]")]
    if built_in:
        parts = [re.sub(r'charger = "none".*', "", part) for part in parts]
    else:
        parts = [part for part in parts if not part.startswith("[inverter.charger]")]
    path.write_text("\n\n".join(parts), encoding="utf-8")
    build = read_sheet(path)
    assert build.policy.reserve.m == 0.25
    assert (build.inverters[0].charger is NOT_FITTED) == (not built_in)
    # The starter's built-in charger is kept off, and so counts as none that charges.
    assert len(build.all_chargers) == 1
    guards = build.safeguards
    assert (guards.string_fuse.name, guards.main_fuse.largest.m) == ("what you call it", 400)
    assert (guards.charger_fuse.kind, guards.array_fuse.dc_voltage.m) == ("breaker", 600)
    assert guards.disconnect.breaks_load
    assert guards.emergency_off.place
    assert guards.precharge.resistance.m == 50
    assert build.cabling.main.basis.of("conductor") is Basis.CHOSEN
    assert build.cabling.array.left_open
    assert build.cabling.bar.basis.of("carries") is Basis.DATASHEET
    assert list(build.cabling.own) == [build.inverters[0].name]
    assert [array.feeds for array in build.solar_arrays] == [build.chargers[0].name]
    assert build.chargers[0].left_on is not None
    assert build.site.place


def test_the_starter_offers_every_key_that_a_sheet_may_hold() -> None:
    offered = (files("evpack.workbook") / "starter.toml").read_text(encoding="utf-8")
    nouns = (Site, Load, Module, Pack, Monitoring, Inverter, Charger, FuseFamily, Array)
    for noun in (*nouns, Run, Busbar, Safeguards, Disconnect, EmergencyOff, Precharge):
        for field in attrs.fields(noun):
            assert field.name in NOT_OFFERED or re.search(
                rf"^(# )?{field.name} = |[{{,] ?{field.name} = |^(# )?\[+\w*\.?{field.name}\]",
                offered,
                re.MULTILINE,
            ), f"{noun.__name__}.{field.name}"


def test_the_starters_charge_target_fits_the_chemistry_it_offers(tmp_path: Path) -> None:
    path = tmp_path / "mine.toml"
    cli.main(["start", str(path)])
    offered = re.search(r'# charge_target = "([\d.]+) V"', path.read_text(encoding="utf-8"))
    targets = read_sheet(path).pack.module.chemistry.targets
    assert float(offered[1]) + targets.top_guard.m <= targets.warn_high.m


def test_workbooks_copies_everything_and_keeps_what_is_there(
    capsys: pytest.CaptureFixture, tmp_path: Path
) -> None:
    folder = tmp_path / "new" / "folder"
    assert cli.main(["workbooks", str(folder), "--no-open"]) == 0
    workbook = folder / "11-repack-decision.ipynb"
    assert workbook.is_file()
    assert (folder / "examples" / "wether-barn.toml").is_file()
    workbook.write_text("mine", encoding="utf-8")
    capsys.readouterr()
    assert cli.main(["workbooks", str(folder), "--no-open"]) == 0
    assert f"kept yours: {workbook}" in capsys.readouterr().out
    assert workbook.read_text(encoding="utf-8") == "mine"
    (tmp_path / "file").write_text("", encoding="utf-8")
    capsys.readouterr()
    assert cli.main(["workbooks", str(tmp_path / "file"), "--no-open"]) == 2
    assert "file: is a file; a folder to copy to is needed" in capsys.readouterr().err


def test_workbooks_opens_jupyterlab_of_this_python(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    started = []

    def noted(words: list[str], *, check: bool) -> subprocess.CompletedProcess:
        assert not check
        started.append(words)
        return subprocess.CompletedProcess(words, 0)

    monkeypatch.setattr(begin.subprocess, "run", noted)
    assert cli.main(["workbooks", str(tmp_path)]) == 0
    folder = tmp_path.resolve()
    words = [sys.executable, "-m", "jupyterlab", f"--ServerApp.root_dir={folder}"]
    assert started == [[*words, str(folder / workbooks()["start-here"].name)]]


def test_library_lists_every_entry_and_shows_one(capsys: pytest.CaptureFixture) -> None:
    assert cli.main(["library"]) == 0
    listed = capsys.readouterr().out
    for entry in library():
        assert entry.key in listed
        assert cli.main(["library", entry.key]) == 0
        shown = capsys.readouterr().out
        assert entry.name.split(",")[0] in shown
        has_keys = entry.kind in {"module", "inverter", "charger"}
        assert (f'use = "{entry.key}"' in shown and "known_from" not in shown) or not has_keys
    assert cli.main(["library", "pouch-7"]) == 2
    assert "did you mean 'pouch-7s'" in capsys.readouterr().err


def test_without_a_command_it_says_how_to_use_it(capsys: pytest.CaptureFixture) -> None:
    with pytest.raises(SystemExit, match="2"):
        cli.main([])
    assert "COMMAND" in capsys.readouterr().err


# --- A heap of modules, and the log of a finished pack -----------------------------------------


def test_a_heap_as_text_and_as_data(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["heap", "hill-heap", "--quick"]) == 0
    told = capsys.readouterr().out
    assert "H05: grade ✕ reject" in told
    assert "How do they come onto one bus?" in told
    assert cli.main(["heap", "hill-heap", "--quick", "--json"]) == 0
    assert len(json.loads(capsys.readouterr().out)["modules"]) == 24


def test_a_heap_writes_its_page_and_its_cards(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    page, cards = tmp_path / "heap.html", tmp_path / "cards.html"
    words = ["heap", "iron-shelf", "--quick", "--page", str(page), "--cards", str(cards)]
    assert cli.main(words) == 0
    assert "Iron shelf" in page.read_text(encoding="utf-8")
    assert "Look first" in cards.read_text(encoding="utf-8")
    assert cli.main(words) == 2
    assert "--force replaces it" in capsys.readouterr().err
    assert cli.main([*words, "--force"]) == 0
    assert cli.main(["heap", "iron-shelf", "--page", str(tmp_path / "no" / "such.html")]) == 2


def test_a_heap_that_is_none(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["heap", str(tmp_path / "none.toml")]) == 2
    assert "none.toml" in capsys.readouterr().err


def test_the_log_of_a_finished_pack(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    log = tmp_path / "log.csv"
    rows = [
        "Test Time / s,Voltage / V,Current / A,Highest Cell Voltage / V,Lowest Cell Voltage / V"
    ]
    for k in range(200):
        amps = 40 if k // 20 % 2 else 0
        rows.append(f"{5 * k},{52 - 0.006 * amps},{amps},3.72,3.70")
    log.write_text("\n".join(rows), encoding="utf-8")
    assert cli.main(["log", str(example("wether-barn")), str(log)]) == 1
    told = capsys.readouterr().out
    assert "resistance of the pack" in told


# --- Searches ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        (("arrangements", BARN), 0, "2 in series, 4 in parallel"),
        (("arrangements", BARN, "--modules", "4", "--jobs", "2"), 1, "None of them may be built."),
        (("ways", str(example("low-shed"))), 0, "2 modules in series instead of 3"),
        (
            ("ways", str(example("left-on")), "library"),
            1,
            "nearest: 1. leave Old mains charger",
        ),
        (("ways", BARN), 0, "Nothing holds it up."),
        (("trade-offs", BARN, "--module-price", "40 EUR"), 0, "320 EUR"),
        (("trade-offs", str(example("left-on"))), 1, "designs that were carried out may be built"),
        (("growth", BARN), 0, "buy for then"),
        (("trial", BARN), 0, "Of 11 attempts, 1 would"),
        (("trial", BARN, "--full"), 0, "Rule trial."),
        (("equipment", BARN, "library"), 1, "48 V class inverter"),
    ],
)
def test_searches_say_what_they_found(
    capsys: pytest.CaptureFixture,
    monkeypatch: pytest.MonkeyPatch,
    words: tuple[str, ...],
    code: int,
    said: str,
) -> None:
    if "left-on" in words[1] and words[0] == "ways":  # a long search, sought once for all tests
        monkeypatch.setattr("evpack.find_ways", lambda *_, **__: ways_of("left-on"))
    assert cli.main(words) == code
    assert said in " ".join(capsys.readouterr().out.split())
    if "library" not in words and words[0] != "equipment":
        assert cli.main((*words, "--json")) == code
        json.loads(capsys.readouterr().out)


def test_a_search_refuses_what_cannot_be(capsys: pytest.CaptureFixture) -> None:
    for words in (
        ("arrangements", BARN, "--modules", "0"),
        ("arrangements", BARN, "--jobs", "0"),
        ("equipment", BARN, "no-such-list.toml"),
        ("arrangements", BARN, "--module-price", "40"),
        ("trade-offs", BARN, "--budget", "100"),
        ("trade-offs", BARN, "--pick", "1"),
        ("trade-offs", BARN, "--write", "picked.toml"),
        ("trade-offs", BARN, "--pick", "99", "--write", "picked.toml"),
        ("trade-offs", str(example("left-on")), "--pick", "1", "--write", "picked.toml"),
    ):
        assert cli.main(words) == 2
        assert capsys.readouterr().err.startswith("evpack: ")


def test_a_choice_of_a_trade_off_is_written_as_a_sheet(
    capsys: pytest.CaptureFixture, tmp_path: Path
) -> None:
    new, listed = tmp_path / "picked.toml", tmp_path / "list.toml"
    listed.write_text('[[inverter]]\nuse = "class-48v-wide"\n', encoding="utf-8")
    words = ("trade-offs", BARN, "--list", str(listed), "--pick", "2", "--write", str(new))
    assert cli.main((*words, "--json")) == 0
    told = capsys.readouterr()
    record = json.loads(told.out)
    assert record["front"][1]["name"] in told.err
    assert cli.main(("decide", str(new), "--json")) == 0
    usable = json.loads(capsys.readouterr().out)["usable"]["reachable"]["value"]
    assert usable == pytest.approx(record["front"][1]["usable"]["value"])
    assert cli.main(words) == 2
    assert "is there already" in capsys.readouterr().err


def test_a_year_as_text_as_data_and_as_a_page(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    sheet = tmp_path / "barn.toml"
    text = example("wether-barn").read_text(encoding="utf-8")
    sheet.write_text(text.replace("[operation]", '[operation]\nlength = "3 days"'), "utf-8")
    assert cli.main(["year", str(sheet)]) == 0
    assert "load carried by the inverters" in capsys.readouterr().out
    page = tmp_path / "year.html"
    assert cli.main(["year", str(sheet), "--json", "--outages", "--page", str(page)]) == 0
    record = json.loads(capsys.readouterr().out)
    assert record["mode"] == "battery first"
    assert len(record["alone"]["hours"]["values"]) == 72
    assert page.read_text(encoding="utf-8").startswith("<!DOCTYPE html>")
    assert cli.main(["year", str(sheet), "--page", str(page)]) == 2


def test_a_year_of_a_sheet_that_says_nothing_of_it(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    sheet = tmp_path / "left-on.toml"
    sheet.write_bytes(example("left-on").read_bytes())
    assert cli.main(["year", str(sheet)]) == 2
    assert "add a section [operation]" in capsys.readouterr().err
    more = '\n[operation]\nmode = "island"\nlength = "1 h"\n[operation.load]\nshape = "flat"\n'
    sheet.write_text(sheet.read_text("utf-8") + more + 'energy = "2 kWh"\n', "utf-8")
    assert cli.main(["year", str(sheet)]) == 1


def test_how_far_a_long_year_is(capsys: pytest.CaptureFixture[str]) -> None:
    for part in (0.5, 1.0):
        runs.bar(part)
    told = capsys.readouterr().err
    assert "[###############               ]  50%" in told
    assert told.endswith("100%\n")


def test_a_mistyped_word_for_the_library_is_told(capsys: pytest.CaptureFixture) -> None:
    assert cli.main(("equipment", BARN, "libary")) == 2
    assert "did you mean 'library'?" in capsys.readouterr().err


def test_commissioning_writes_a_list_to_print_and_a_record_that_is_never_replaced(
    capsys: pytest.CaptureFixture, tmp_path: Path
) -> None:
    sheet, page, record = str(example("wether-barn")), tmp_path / "l.html", tmp_path / "r.toml"
    words = ["commissioning", sheet, "--page", str(page), "--record", str(record)]
    assert cli.main(words) == 0
    assert "First charge, somebody beside it" in capsys.readouterr().out
    assert "Commissioning: Wether Barn" in page.read_text(encoding="utf-8")
    assert cli.main(["as-built", sheet, str(record)]) == 1
    assert "? NOT PROVEN YET" in capsys.readouterr().out
    assert cli.main([*words, "--force"]) == 2
    assert "r.toml: is there already; choose another name" in capsys.readouterr().err
    assert cli.main(["commissioning", sheet, "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["withheld"] is False


def test_a_new_record_keeps_what_an_older_one_still_proves(
    capsys: pytest.CaptureFixture, tmp_path: Path
) -> None:
    sheet, new = str(example("wether-barn")), tmp_path / "new.toml"
    old = ["--begun", str(example_as_built("wether-barn"))]
    assert cli.main(["commissioning", sheet, *old]) == 2
    assert "--begun goes with --record" in capsys.readouterr().err
    assert cli.main(["commissioning", sheet, "--record", str(new), *old]) == 0
    text = new.read_text(encoding="utf-8")
    assert 'sound = "yes"' in text
    # What was off is to be read again, and somebody has to vouch for all of it anew.
    assert 'main_5_kva_inverter_charger_48_v_class = ""' in text
    assert '\nby = ""' in text


def test_a_record_of_a_design_that_is_held_up_since_is_told_so(
    capsys: pytest.CaptureFixture,
) -> None:
    told = str(example_as_built("wether-barn"))
    assert cli.main(["as-built", str(example("low-shed")), told]) == 1
    assert "✕ NOT TO BE SWITCHED ON" in capsys.readouterr().out


def test_commissioning_of_a_design_that_is_no_go_writes_no_record(
    capsys: pytest.CaptureFixture, tmp_path: Path
) -> None:
    sheet = str(example("low-shed"))
    assert cli.main(["commissioning", sheet]) == 1
    assert "nothing to commission yet" in capsys.readouterr().out
    assert cli.main(["commissioning", sheet, "--record", str(tmp_path / "r.toml")]) == 2
    assert not (tmp_path / "r.toml").exists()


def test_as_built_is_0_only_where_all_of_it_is_proven(
    capsys: pytest.CaptureFixture, tmp_path: Path
) -> None:
    sheet, told = str(example("wether-barn")), example_as_built("wether-barn")
    assert cli.main(["as-built", sheet, str(told), "--json"]) == 1
    assert json.loads(capsys.readouterr().out)["outcome"] == "not built as designed"
    mended = told.read_text(encoding="utf-8").replace('"2.6 mΩ"', '"0.9 mΩ"')
    mended = mended.replace('temperature_compensation = "no"', 'temperature_compensation = "yes"')
    (tmp_path / "r.toml").write_text(mended, encoding="utf-8")
    assert cli.main(["as-built", sheet, str(tmp_path / "r.toml")]) == 0
    assert "✓ BUILT AS DESIGNED" in capsys.readouterr().out
    (tmp_path / "r.toml").write_text('by = "me"\nxx = 1\n', encoding="utf-8")
    assert cli.main(["as-built", sheet, str(tmp_path / "r.toml")]) == 2


# --- What may be replaced ---------------------------------------------------------------------


def test_no_page_goes_over_a_sheet_or_a_record(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    """Neither by its name nor by a link, not even by force; a page goes by force alone."""
    own = tmp_path / "own.toml"
    own.write_text(example("wether-barn").read_text(encoding="utf-8"), encoding="utf-8")
    held = own.read_bytes()
    record = tmp_path / "filled.toml"
    assert cli.main(["commissioning", str(own), "--record", str(record)]) == 0
    record.write_text(record.read_text(encoding="utf-8") + "# read by me\n", encoding="utf-8")
    filled = record.read_bytes()
    link = tmp_path / "link.html"
    link.symlink_to(own)
    capsys.readouterr()
    for target in (own, record, link, tmp_path / "new.txt"):
        for words in (
            ["commissioning", str(own), "--page", str(target)],
            ["year", str(own), "--page", str(target)],
            ["heap", "hill-heap", "--quick", "--page", str(target)],
            ["heap", "hill-heap", "--quick", "--cards", str(target)],
            ["share", str(own), str(target)],
            ["decide", str(own), "--share", str(target)],
            ["sheets", str(own), str(target)],
        ):
            assert cli.main([*words, "--force"]) == 2
            said = capsys.readouterr()
            assert "must end in .html" in said.err or "ends in .html" in said.err
    assert cli.main(["commissioning", str(own), "--record", str(record)]) == 2
    assert (own.read_bytes(), record.read_bytes()) == (held, filled)
    page = tmp_path / "old.html"
    page.write_text("<p>mine</p>", encoding="utf-8")
    words = ["commissioning", str(own), "--page", str(page)]
    assert cli.main(words) == 2
    assert page.read_text(encoding="utf-8") == "<p>mine</p>"
    assert cli.main([*words, "--force"]) == 0
    assert page.read_text(encoding="utf-8").startswith("<!DOCTYPE html>")


def test_a_name_that_is_taken_is_told_before_anything_is_worked_out(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def worked(*_: object, **__: object) -> None:
        pytest.fail("was worked out")

    for name in ("simulate_operation", "match_heap", "search_trade_offs", "commissioning_plan"):
        monkeypatch.setattr(f"evpack.{name}", worked)
    there, sheet = tmp_path / "there.html", tmp_path / "there.toml"
    for path in (there, sheet):
        path.write_text("mine", encoding="utf-8")
    for words in (
        ["year", BARN, "--page", str(there)],
        ["heap", "hill-heap", "--page", str(there)],
        ["commissioning", BARN, "--page", str(there)],
        ["trade-offs", BARN, "--pick", "1", "--write", str(sheet)],
    ):
        assert cli.main(words) == 2
        assert "is there already" in capsys.readouterr().err


def test_where_the_page_has_no_folder_the_record_is_not_written_either(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    record, page = tmp_path / "r.toml", tmp_path / "none" / "p.html"
    words = ["commissioning", BARN, "--record", str(record), "--page", str(page)]
    assert cli.main(words) == 2
    assert "there is no folder" in capsys.readouterr().err
    assert not record.exists()


@pytest.mark.parametrize("name", ["wether-barn", "low-shed"])
def test_the_commands_that_the_answer_names_are_there(
    capsys: pytest.CaptureFixture, name: str
) -> None:
    cli.main(("decide", str(example(name))))
    named = set(re.findall(r"evpack ([a-z-]+) SHEET", " ".join(capsys.readouterr().out.split())))
    assert len(named) >= 2
    with pytest.raises(SystemExit):
        cli.main(("--help",))
    helped = capsys.readouterr().out
    for command in named:
        assert re.search(rf"^\s+{command}\b", helped, re.MULTILINE), command
