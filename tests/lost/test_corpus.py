"""Files that made evpack fall over, or that were made to: each is answered in one message."""

from __future__ import annotations

import base64
import html
import os
import re
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evpack import cli, example_batch
from evpack.base.errors import DataError, EvpackError
from evpack.load.bench_record import read_bench_record
from evpack.load.beside import Beside
from evpack.load.pack_log import read_pack_log
from evpack.load.profiles import read_profile
from evpack.load.sheet import example
from evpack.workbook.page import (
    RECORD_MARK,
    SHEET_ID,
    SHOWN_ID,
    carried_by,
    not_allowed,
    opened,
    record_link,
    sheet_link,
)

CORPUS = sorted((Path(__file__).parent / "corpus").iterdir())
TABLES = [path for path in CORPUS if path.suffix == ".csv"]
PAGES = [path for path in CORPUS if path.suffix == ".html"]
# A hang is a crash: what is bounded takes well under a second, what was not ran over minutes.
SECONDS = 60


def named(path: Path) -> str:
    return path.name


@pytest.mark.parametrize("path", CORPUS, ids=named)
def test_no_file_leaves_with_a_verdict_or_a_traceback(
    path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    barn = str(example("wether-barn"))
    words = (["decide", str(path)], ["log", barn, str(path)], ["heap", str(path)])
    for each in words:
        assert cli.main(each) == 2
        said = capsys.readouterr()
        assert said.out == ""
        assert said.err.startswith("evpack: ")
        assert harmless(said.err)


@pytest.mark.parametrize("path", TABLES, ids=named)
def test_a_control_character_beside_a_number_is_no_number(path: Path) -> None:
    for read in (read_bench_record, read_pack_log):
        with pytest.raises(DataError, match=r"line 2: '.*' is .*; a finite number is needed"):
            read(path)


@pytest.mark.parametrize(
    ("name", "says"),
    [
        ("base64-not-ascii.html", "damaged"),
        ("two-sheets.html", "does not carry one build sheet"),
        ("two-shown.html", "does not carry one build sheet"),
    ],
)
def test_a_page_that_is_not_as_evpack_writes_them_is_refused(name: str, says: str) -> None:
    (path,) = (path for path in PAGES if path.name == name)
    with pytest.raises(DataError, match=says):
        carried_by(path)


@pytest.mark.parametrize("name", ["name-dots.html", "name-nul.html", "name-long.html"])
def test_a_name_that_no_file_can_have_is_not_taken(name: str) -> None:
    (path,) = (path for path in PAGES if path.name == name)
    assert carried_by(path).name == "build.toml"
    with opened(path) as sheet:
        assert [file.name for file in sheet.folder.iterdir()] == ["build.toml"]


def test_a_sheet_out_of_a_page_reads_nothing_outside(tmp_path: Path) -> None:
    # The same path from a sheet of one's own is read: it is one's own sheet that names it.
    text = example("wether-barn").read_text(encoding="utf-8")
    text = re.sub('record = ".*"', 'record = "../secret.csv"', text, count=1)
    (tmp_path / "secret.csv").write_text("a line that nobody shall see\n", encoding="utf-8")
    (tmp_path / "deep").mkdir()
    sheet = tmp_path / "deep" / "own.toml"
    sheet.write_text(text, encoding="utf-8")
    page = tmp_path / "deep" / "page.html"
    page.write_text(paged(text), encoding="utf-8")
    with opened(sheet) as own, pytest.raises(EvpackError, match=r"secret\.csv: line 1"):
        own.build()
    with opened(page) as carried, pytest.raises(EvpackError, match="lies outside the page"):
        carried.build()


def test_a_link_out_of_the_folder_is_outside_too(tmp_path: Path) -> None:
    (tmp_path / "in").mkdir()
    (tmp_path / "out.csv").write_text("x", encoding="utf-8")
    (tmp_path / "in" / "link.csv").symlink_to(tmp_path / "out.csv")
    (tmp_path / "in" / "own.csv").write_text("x", encoding="utf-8")
    confined = Beside(tmp_path / "in", confined=True)
    with pytest.raises(EvpackError, match="lies outside"):
        confined.file("link.csv")
    assert confined.file("own.csv").name == "own.csv"
    assert Beside(tmp_path / "in").file("link.csv").name == "link.csv"


def paged(sheet: str, records: dict[str, bytes] | None = None, name: str = "a.toml") -> str:
    links = "".join(
        f'<a {RECORD_MARK}="{html.escape(key)}" href="{record_link(content)}">r</a>'
        for key, content in (records or {}).items()
    )
    return (
        f'<!DOCTYPE html><title>t</title><a id="{SHEET_ID}" download="{html.escape(name)}" '
        f'href="{sheet_link(sheet)}">s</a>{links}<pre id="{SHOWN_ID}">{html.escape(sheet)}</pre>'
    )


@given(
    text=st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\r"), max_size=300)
)
def test_whatever_a_sheet_holds_a_page_gives_it_back(
    tmp_path_factory: pytest.TempPathFactory, text: str
) -> None:
    page = tmp_path_factory.mktemp("page") / "page.html"
    page.write_bytes(paged(text, {"r.csv": text.encode()}).encode())
    found = carried_by(page)
    assert found.text == text
    assert found.records == {"r.csv": text.encode()}


_MARKS = ("<", ">", "<a ", "<!--", "-->", "<![", "]]>", "<?", "</", "=", '"', "'", "&#0;", "&", " ")
_BITS = st.sampled_from(
    (
        *_MARKS,
        *(f'id="{SHEET_ID}"', f"id={SHOWN_ID}", "<pre", "</pre>", "download=..", "/", "\0"),
        *("href=data:application/toml;base64,", 'href="data:text/csv;base64,eA=="', "YSA9IDE="),
        *(f"{RECORD_MARK}=x", "\x1b[31m", "é", "<script", "onclick=x", "src=", "java\nscript:"),
    )
)


def harmless(text: str) -> bool:
    """Return whether a message could not steer a terminal."""
    return all(sign.isprintable() or sign == "\n" for sign in text)


def answered(read: Callable[[Path], object], path: Path) -> str:
    """Return what is said of a file that is refused; nothing of one that is read."""
    try:
        read(path)
    except EvpackError as problem:
        return str(problem)
    return ""


def decided(path: Path) -> object:
    with opened(path) as sheet:
        return sheet.build()


@given(bits=st.lists(_BITS, max_size=30))
def test_no_page_makes_it_fall_over(
    tmp_path_factory: pytest.TempPathFactory, bits: list[str]
) -> None:
    page = tmp_path_factory.mktemp("page") / "page.html"
    page.write_text("".join(bits), encoding="utf-8")
    not_allowed("".join(bits))
    assert harmless(answered(decided, page))


_CSV = st.sampled_from(
    (
        *("Test Time / s", "Voltage / V", "Current / A", "Time / h", "Power / W", ",", "\n", "\r"),
        *("0", "1", "2", "-1", "1e999", "nan", "1_0", "٣", " ", "\t", "\x1c", "\x85", "\u2028"),
        *('"', "\0", "\ufeff", ";", "/", "[V]", "x" * 50),
    )
)
_HEADED = st.builds(
    lambda head, rows: head + "".join(rows),
    st.sampled_from(["", "Test Time / s,Voltage / V,Current / A\n", "Time / h,Power / W\n"]),
    st.lists(_CSV, max_size=40),
)


@given(text=_HEADED)
def test_no_table_makes_it_fall_over(tmp_path_factory: pytest.TempPathFactory, text: str) -> None:
    table = tmp_path_factory.mktemp("table") / "table.csv"
    table.write_text(text, encoding="utf-8", newline="")
    for read in (read_bench_record, read_pack_log, read_profile):
        assert harmless(answered(read, table))


@given(raw=st.binary(max_size=200))
def test_no_bytes_make_it_fall_over(tmp_path_factory: pytest.TempPathFactory, raw: bytes) -> None:
    folder = tmp_path_factory.mktemp("bytes")
    for name in ("a.csv", "a.toml", "a.html"):
        (folder / name).write_bytes(raw)
    for read in (read_bench_record, read_profile):
        with pytest.raises(EvpackError):
            read(folder / "a.csv")
    for name in ("a.toml", "a.html"):
        with pytest.raises(EvpackError):
            decided(folder / name)


UNCLOSED = {
    "a": "<a " * 150_000,
    "comment": "<!--" * 100_000,
    "quote": "<a b='" * 80_000,
    "equals": "<a =" * 100_000,
    "end": "</pre" * 80_000,
    "shown": f'<p id="{SHOWN_ID}">' * 20_000,
    "angle": "<" * 400_000,
    "blank": "<a" + " " * 400_000,
    "entity": "&#" * 200_000,
}


@pytest.mark.parametrize("text", UNCLOSED.values(), ids=UNCLOSED)
def test_a_page_of_unclosed_tags_ends(tmp_path: Path, text: str) -> None:
    """In a process of its own: what hangs is ended."""
    page = tmp_path / "page.html"
    page.write_text(text, encoding="utf-8")
    code = "import sys; from evpack import cli; sys.exit(cli.main(['decide', sys.argv[1]]))"
    words = [sys.executable, "-c", code, str(page)]
    ended = subprocess.run(words, timeout=SECONDS, capture_output=True, text=True, check=False)
    assert ended.returncode == 2
    assert "carries no build sheet" in ended.stderr


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="there are no pipes by name here")
@pytest.mark.parametrize("suffix", [".toml", ".html", ".csv"])
def test_a_pipe_or_a_device_is_no_file(tmp_path: Path, suffix: str) -> None:
    pipe, device = tmp_path / f"pipe{suffix}", tmp_path / f"device{suffix}"
    os.mkfifo(pipe)
    device.symlink_to("/dev/zero")
    code = "import sys; from evpack import cli; sys.exit(cli.main(sys.argv[1:]))"
    barn = str(example("wether-barn"))
    for path in (pipe, device):
        words = ["log", barn, str(path)] if suffix == ".csv" else ["decide", str(path)]
        ended = subprocess.run(
            [sys.executable, "-c", code, *words],
            timeout=SECONDS,
            capture_output=True,
            text=True,
            check=False,
        )
        assert ended.returncode == 2
        assert "is not a regular file" in ended.stderr


@pytest.mark.parametrize("name", ["..", ".", "a\0b.toml", "a" * 300 + ".toml", "a" * 300 + ".html"])
def test_a_name_that_cannot_be_is_told(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    barn = str(example("wether-barn"))
    for words in (
        ["decide", name],
        ["heap", name],
        ["log", barn, name],
        ["as-built", barn, name],
        ["ways", barn, name],
        ["start", name],
        ["share", barn, name],
        ["sheets", barn, name],
        ["commissioning", barn, "--page", name],
        ["commissioning", barn, "--record", name],
        ["workbooks", f"{name}/{name}", "--no-open"] if "\0" in name else ["start", name],
    ):
        assert cli.main(words) == 2
        said = capsys.readouterr().err
        assert said.startswith("evpack: ")
        assert "Traceback" not in said


def test_a_heap_with_many_bad_lines_tells_ten_and_the_count(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    rows = "".join(f"M{k},many\n" for k in range(134))
    (tmp_path / "heap.csv").write_text(f"module,capacity [Ah]\n{rows}", encoding="utf-8")
    sheet = example_batch("hill-heap").read_text(encoding="utf-8")
    sheet = re.sub('file = ".*"', 'file = "heap.csv"', sheet)
    (tmp_path / "heap.toml").write_text(sheet, encoding="utf-8")
    assert cli.main(["heap", str(tmp_path / "heap.toml")]) == 2
    said = capsys.readouterr().err
    assert "134 things to put right" in said
    assert said.count("'capacity [Ah]'") == 10
    assert "and 124 more" in said


def test_a_base64_of_another_page_is_not_shown(tmp_path: Path) -> None:
    # The sheet that is carried is the one that a reader sees, or none.
    other = base64.b64encode(b'title = "Another"\n').decode()
    page = tmp_path / "page.html"
    for hidden in (
        f'<a hidden id="{SHEET_ID}" href="data:application/toml;base64,{other}">x</a>',
        f"<!-- <a id='{SHEET_ID}' href='data:application/toml;base64,{other}'> -->",
        f'<A ID={SHEET_ID} HREF="data:application/toml;base64,{other}">x</A>',
        f'<a id="evpack&#45;sheet" href="data:application/toml;base64,{other}">x</a>',
    ):
        page.write_text(hidden + paged('title = "Shown"\n'), encoding="utf-8")
        with pytest.raises(DataError, match="one build sheet and show it once"):
            carried_by(page)
    page.write_text(paged('title = "Shown"\n').partition("<pre")[0], encoding="utf-8")
    with pytest.raises(DataError, match="one build sheet and show it once"):
        carried_by(page)
