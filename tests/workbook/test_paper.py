"""PDF by a browser that is there, and what is said where there is none."""

from __future__ import annotations

import subprocess
from pathlib import Path
from typing import Any

import pytest

from evpack import cli
from evpack.base.errors import EvpackError
from evpack.decide import decide
from evpack.design import design
from evpack.load.sheet import example, read_sheet
from evpack.workbook import paper
from evpack.workbook.paper import as_pdf, write_sheets
from evpack.workbook.share import ShareError, share

BARN = decide(design(read_sheet(example("wether-barn"))))


@pytest.fixture
def printing(monkeypatch: pytest.MonkeyPatch) -> list[dict[str, Any]]:
    """Put a browser in place that notes what it is to print, and writes a PDF."""
    seen: list[dict[str, Any]] = []

    def run(words: list[str], **_how: object) -> subprocess.CompletedProcess:
        out = next(w.partition("=")[2] for w in words if w.startswith("--print-to-pdf="))
        source = Path(words[-1].removeprefix("file://"))
        seen.append({"words": words, "text": source.read_text(encoding="utf-8")})
        Path(out).write_bytes(b"%PDF-1.4 made up")
        return subprocess.CompletedProcess(words, 0)

    monkeypatch.setattr(paper.shutil, "which", lambda name: f"/x/{name}")
    monkeypatch.setattr(paper.subprocess, "run", run)
    return seen


def test_a_page_is_printed_on_the_paper_that_was_asked_for(
    printing: list[dict[str, Any]], tmp_path: Path
) -> None:
    out = write_sheets(BARN, tmp_path / "s.pdf", paper="letter")
    assert out.read_bytes().startswith(b"%PDF")
    (job,) = printing
    assert "size: letter; }" in job["text"]
    assert "size: letter landscape; }" in job["text"]
    assert "--host-resolver-rules=MAP * ~NOTFOUND" in job["words"]
    assert [path.name for path in tmp_path.iterdir()] == ["s.pdf"]


@pytest.mark.parametrize("superuser", [True, False])
def test_the_sandbox_is_given_up_only_where_the_browser_refuses_it(
    printing: list[dict[str, Any]],
    monkeypatch: pytest.MonkeyPatch,
    tmp_path: Path,
    superuser: bool,  # noqa: FBT001  a parameter of the test
) -> None:
    monkeypatch.setattr(paper.os, "geteuid", lambda: 0 if superuser else 1000, raising=False)
    write_sheets(BARN, tmp_path / "s.pdf")
    assert ("--no-sandbox" in printing[0]["words"]) == superuser


def test_without_a_browser_it_says_how_to_print(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setattr(paper.shutil, "which", lambda _name: None)
    with pytest.raises(EvpackError, match=r"open it in any browser, and print it"):
        write_sheets(BARN, tmp_path / "s.pdf")
    monkeypatch.setenv("EVPACK_BROWSER", "my-browser")
    with pytest.raises(EvpackError, match=r"was found \(my-browser\)"):
        write_sheets(BARN, tmp_path / "s.pdf")
    assert list(tmp_path.iterdir()) == []


def test_a_print_that_fails_leaves_nothing(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    def fails(words: list[str], **_how: object) -> subprocess.CompletedProcess:
        return subprocess.CompletedProcess(words, 1)

    def hangs(words: list[str], **_how: object) -> subprocess.CompletedProcess:
        raise subprocess.TimeoutExpired(words, 1)

    def missing(_words: list[str], **_how: object) -> subprocess.CompletedProcess:
        raise FileNotFoundError(2, "No such file")

    monkeypatch.setattr(paper.shutil, "which", lambda name: f"/x/{name}")
    for run, said in ((fails, "could not print"), (hangs, "did not print"), (missing, "started")):
        monkeypatch.setattr(paper.subprocess, "run", run)
        with pytest.raises(EvpackError, match=said):
            write_sheets(BARN, tmp_path / "s.pdf")
    assert list(tmp_path.iterdir()) == []


def test_a_page_that_would_run_something_is_not_printed(tmp_path: Path) -> None:
    page = tmp_path / "p.html"
    page.write_text("<html><head></head><script>x</script></html>", encoding="utf-8")
    with pytest.raises(EvpackError, match="would run or load"):
        as_pdf(page, tmp_path / "p.pdf")
    with pytest.raises(EvpackError, match="paper 'a3' is not known"):
        as_pdf(page, tmp_path / "p.pdf", paper="a3")


def test_a_file_that_is_there_is_kept(printing: list[dict[str, Any]], tmp_path: Path) -> None:
    for name in ("s.pdf", "s.html"):
        (tmp_path / name).write_text("mine", encoding="utf-8")
        with pytest.raises(EvpackError, match="is there already"):
            write_sheets(BARN, tmp_path / name)
        assert (tmp_path / name).read_text(encoding="utf-8") == "mine"
        write_sheets(BARN, tmp_path / name, force=True)
        assert (tmp_path / name).stat().st_size > 10
    assert len(printing) == 1
    with pytest.raises(EvpackError, match=r"end in \.html or \.pdf"):
        write_sheets(BARN, tmp_path / "s.txt")
    with pytest.raises(EvpackError, match="cannot be written"):
        write_sheets(BARN, tmp_path / "no" / "s.html")
    with pytest.raises(EvpackError, match="cannot be written"):
        write_sheets(BARN, tmp_path / "no" / "s.pdf")


def test_a_workbook_is_shared_as_pdf(printing: list[dict[str, Any]], tmp_path: Path) -> None:
    sheet = tmp_path / "barn.toml"
    sheet.write_bytes(example("wether-barn").read_bytes())
    out = share(sheet, tmp_path / "barn.pdf", "settings-to-enter")
    assert out.read_bytes().startswith(b"%PDF")
    assert "Wether Barn" in printing[0]["text"]
    with pytest.raises(ShareError, match="is there already"):
        share(sheet, tmp_path / "barn.pdf", "settings-to-enter")
    with pytest.raises(ShareError, match="there is no folder"):
        share(sheet, tmp_path / "no" / "barn.pdf", "settings-to-enter")


def test_the_command_writes_the_sheets(
    printing: list[dict[str, Any]], capsys: pytest.CaptureFixture, tmp_path: Path
) -> None:
    sheet = str(example("wether-barn"))
    assert cli.main(["sheets", sheet, str(tmp_path / "s.html"), "--only", "labels, emergency"]) == 0
    text = (tmp_path / "s.html").read_text(encoding="utf-8")
    assert "Everybody out." in text
    assert "evp-enter" not in text.partition("<body>")[2]
    assert cli.main(["sheets", sheet, str(tmp_path / "s.pdf"), "--paper", "letter"]) == 0
    assert "size: letter" in printing[0]["text"]
    assert cli.main(["sheets", sheet, str(tmp_path / "t.html"), "--only", "lables"]) == 2
    assert "did you mean 'labels'" in capsys.readouterr().err
    shared = ["decide", sheet, "--share", str(tmp_path / "d.pdf"), "--paper", "letter"]
    assert cli.main(shared) == 0
    assert "size: letter" in printing[1]["text"]
    assert cli.main(shared) == 2
    held = str(example("low-shed"))
    assert cli.main(["sheets", held, str(tmp_path / "h.html")]) == 1
