"""The command line: exit codes, plain messages, and no file ever lost."""

import json
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

from evpack import __version__, cli
from evpack.load.library import example, library
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


@pytest.mark.parametrize(("name", "code"), [("wether-barn", 0), ("low-shed", 1)])
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
    assert list(record) == [
        "verdict",
        "pack",
        "usable",
        "setpoints",
        "protection",
        "sharing",
        "findings",
    ]
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


def test_share_writes_a_page(capsys: pytest.CaptureFixture, tmp_path: Path) -> None:
    page = tmp_path / "page.html"
    assert cli.main(["share", BARN, str(page), "--code"]) == 0
    assert "<code>build.pack.module" in page.read_text(encoding="utf-8")
    assert capsys.readouterr().out == f"written: {page}\n"
    page.write_text("mine", encoding="utf-8")
    assert cli.main(["share", BARN, str(page)]) == 2
    assert page.read_text(encoding="utf-8") == "mine"
    assert cli.main(["share", BARN, str(page), "--force", "--workbook", "none"]) == 2
    assert "there is no workbook 'none'" in capsys.readouterr().err


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


def test_every_line_that_the_starter_offers_is_a_valid_one(tmp_path: Path) -> None:
    path = tmp_path / "mine.toml"
    cli.main(["start", str(path)])
    head, body = path.read_text(encoding="utf-8").split("title = ", 1)
    del head
    lines = [line.removeprefix("# ") for line in ("title = " + body).splitlines()]
    record = [n for n, line in enumerate(lines) if line.startswith(("[module.bench]", "tested"))]
    # The record itself does not exist; every other line is taken as it stands.
    del lines[record[0] : record[-1] + 1]
    path.write_text("\n".join(lines), encoding="utf-8")
    build = read_sheet(path)
    assert build.policy.reserve.m == 0.25
    assert len(build.chargers) == 1
    assert tomllib.loads(path.read_text(encoding="utf-8"))["site"]["place"]


def test_workbooks_copies_everything_and_keeps_what_is_there(
    capsys: pytest.CaptureFixture, tmp_path: Path
) -> None:
    folder = tmp_path / "new" / "folder"
    assert cli.main(["workbooks", str(folder), "--no-open"]) == 0
    workbook = folder / "repack-decision.ipynb"
    assert workbook.is_file()
    assert (folder / "examples" / "wether-barn.toml").is_file()
    workbook.write_text("mine", encoding="utf-8")
    capsys.readouterr()
    assert cli.main(["workbooks", str(folder), "--no-open"]) == 0
    assert f"kept yours: {workbook}" in capsys.readouterr().out
    assert workbook.read_text(encoding="utf-8") == "mine"
    (tmp_path / "file").write_text("", encoding="utf-8")
    assert cli.main(["workbooks", str(tmp_path / "file"), "--no-open"]) == 2


def test_workbooks_opens_jupyterlab_of_this_python(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    started = []

    def noted(words: list[str], *, check: bool) -> subprocess.CompletedProcess:
        assert not check
        started.append(words)
        return subprocess.CompletedProcess(words, 0)

    monkeypatch.setattr(cli.subprocess, "run", noted)
    assert cli.main(["workbooks", str(tmp_path)]) == 0
    assert started == [
        [sys.executable, "-m", "jupyterlab", f"--ServerApp.root_dir={tmp_path.resolve()}"]
    ]


def test_library_lists_every_entry_and_shows_one(capsys: pytest.CaptureFixture) -> None:
    assert cli.main(["library"]) == 0
    listed = capsys.readouterr().out
    for entry in library():
        assert entry.key in listed
        assert cli.main(["library", entry.key]) == 0
        assert entry.name.split(",")[0] in capsys.readouterr().out
    assert cli.main(["library", "pouch-7"]) == 2
    assert "did you mean 'pouch-7s'" in capsys.readouterr().err


def test_without_a_command_it_says_how_to_use_it(capsys: pytest.CaptureFixture) -> None:
    with pytest.raises(SystemExit, match="2"):
        cli.main([])
    assert "COMMAND" in capsys.readouterr().err
