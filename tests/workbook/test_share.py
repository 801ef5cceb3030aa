"""The shared page: runs nothing, loads nothing, loses nothing, and gives the sheet back."""

import base64
import re
import sys
import tempfile
from pathlib import Path

import nbformat
import pytest
import zmq

import evpack
from evpack.base.errors import DataError
from evpack.load.places import data_dir
from evpack.load.sheet import example, read_sheet
from evpack.show.words import WITHHELD
from evpack.workbook import share as module
from evpack.workbook.kernel import ShareError, hidden_errors
from evpack.workbook.page import (
    SHEET_ID,
    SHOWN_ID,
    carried_by,
    not_allowed,
    opened,
    origin_of,
    sheet_in,
    sheet_link,
)
from evpack.workbook.share import share

HOSTILE = "</pre></title><script>alert(1)</script><img src=http://example.invalid onerror=x>{{7*7}}"


@pytest.fixture(scope="module")
def sheet(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a sheet with a bench record beside it, in a folder of its own."""
    folder = tmp_path_factory.mktemp("barn")
    record = next((data_dir() / "bench").glob("*.csv"))
    (folder / "bench").mkdir()
    (folder / "bench" / "own.csv").write_bytes(record.read_bytes())
    text = example("wether-barn").read_text(encoding="utf-8")
    text = text.replace(f"library:{record.name}", "bench/own.csv")
    path = folder / "barn.toml"
    path.write_text(text, encoding="utf-8")
    # Were the folder searched for modules, the kernel would not even start.
    (folder / "json.py").write_text("raise SystemExit('imported from the sheet')\n")
    return path


@pytest.fixture(scope="module")
def page(sheet: Path) -> Path:
    return share(sheet, sheet.with_suffix(".html"))


@pytest.fixture
def notebook(tmp_path: Path) -> Path:
    """Return a small workbook, so that a test of one thing runs fast."""
    return workbook(tmp_path, "print('hello from', SHEET)")


def workbook(folder: Path, *sources: str, tags: tuple[str, ...] = ("sheet",)) -> Path:
    first = nbformat.v4.new_code_cell('SHEET = "x.toml"\nimport evpack', metadata={"tags": tags})
    cells = [nbformat.v4.new_code_cell(source) for source in sources]
    path = folder / "own.ipynb"
    nbformat.write(nbformat.v4.new_notebook(cells=[first, *cells]), path)
    return path


def test_the_page_runs_nothing_loads_nothing_and_forbids_both(page: Path) -> None:
    text = page.read_text(encoding="utf-8")
    assert not_allowed(text) == ()
    assert "<script" not in text.lower()
    assert "default-src 'none'; img-src data:; style-src 'unsafe-inline'" in text


def test_the_page_tells_what_a_reader_must_know(page: Path) -> None:
    text = page.read_text(encoding="utf-8")
    assert "<title>Wether Barn: " in text
    assert f"evpack {evpack.__version__}, Python 3." in text
    assert re.search(r"Worked out on \d{4}-\d\d-\d\d \d\d:\d\d [+-]\d{4} with", text)
    assert "This is an invented example" in text
    assert "A battery cannot be switched off" in text
    assert "What was assumed" in text
    assert "<code>build.pack.module" not in text
    assert "application/vnd.jupyter" not in text


def test_no_path_of_this_computer_is_in_the_page(page: Path, sheet: Path) -> None:
    text = page.read_text(encoding="utf-8")
    for path in (sheet.parent, Path.cwd(), Path.home(), Path(sys.prefix), Path(evpack.__file__)):
        assert str(path) not in text


def test_the_style_is_in_the_page_once(page: Path) -> None:
    assert page.read_text(encoding="utf-8").count(".evp .evp-box {") == 1


def test_the_sheet_is_read_back_as_it_was(page: Path, sheet: Path) -> None:
    assert sheet_in(page) == sheet.read_text(encoding="utf-8")
    assert evpack.sheet_in(page) == sheet_in(page)
    assert carried_by(page).name == "barn.toml"


def test_the_bench_record_travels_along(page: Path, sheet: Path, tmp_path: Path) -> None:
    elsewhere = tmp_path / "received.html"
    elsewhere.write_bytes(page.read_bytes())
    with opened(elsewhere) as received:
        assert received.folder != tmp_path
        build = received.build()
    assert build.pack.module.capacity == read_sheet(sheet).pack.module.capacity
    assert not received.folder.exists()


def test_a_page_can_be_shared_again_from_itself(page: Path, tmp_path: Path) -> None:
    again = share(page, tmp_path / "again.html", workbook(tmp_path, "print(SHEET)"))
    assert sheet_in(again) == sheet_in(page)
    assert "barn.toml" in again.read_text(encoding="utf-8")


def test_code_cells_are_shown_when_asked(sheet: Path, notebook: Path, tmp_path: Path) -> None:
    text = share(sheet, tmp_path / "x.html", notebook, code=True).read_text(encoding="utf-8")
    assert "SHEET = 'barn.toml'" in text
    assert "hello from barn.toml" in text


def test_what_a_user_typed_stays_text(tmp_path: Path) -> None:
    text = example("wether-barn").read_text(encoding="utf-8")
    text = text.replace('title = "Wether Barn"', f'title = "{HOSTILE}"')
    text = text.replace('name = "7-cell pouch module"', f'name = "{HOSTILE}"')
    path = tmp_path / 'a"><script>.toml'
    path.write_text(text, encoding="utf-8")
    page = share(path, tmp_path / "page.html", code=True)
    written = page.read_text(encoding="utf-8")
    assert not_allowed(written) == ()
    assert "<script" not in written
    assert "<img src=http" not in written
    assert "{{7*7}}" in written
    assert sheet_in(page) == text
    assert carried_by(page).name == path.name


def test_a_page_of_the_same_sheet_is_replaced(sheet: Path, notebook: Path, tmp_path: Path) -> None:
    out = tmp_path / "page.html"
    share(sheet, out, notebook)
    share(sheet, out, workbook(tmp_path, "print('second time')"))
    assert "second time" in out.read_text(encoding="utf-8")
    assert [p.name for p in tmp_path.iterdir() if ".part" in p.name] == []


def test_any_other_file_is_left_alone(sheet: Path, notebook: Path, tmp_path: Path) -> None:
    out = tmp_path / "letter.html"
    out.write_text("<p>a letter</p>", encoding="utf-8")
    with pytest.raises(ShareError, match="no shared evpack page"):
        share(sheet, out, notebook)
    assert out.read_text(encoding="utf-8") == "<p>a letter</p>"
    share(sheet, out, notebook, force=True)
    assert sheet_in(out)


def test_a_page_of_another_sheet_is_left_alone(sheet: Path, notebook: Path, tmp_path: Path) -> None:
    other = tmp_path / "other.toml"
    other.write_text(example("twelve").read_text(encoding="utf-8"), encoding="utf-8")
    out = share(other, tmp_path / "page.html", notebook)
    with pytest.raises(ShareError, match=r"another sheet, 'other\.toml'"):
        share(sheet, out, notebook)
    assert sheet_in(out) == other.read_text(encoding="utf-8")


def test_only_a_page_of_the_same_path_and_title_goes_unasked(
    notebook: Path, tmp_path: Path
) -> None:
    text = example("twelve").read_text(encoding="utf-8")
    one, two = tmp_path / "one", tmp_path / "two"
    for folder in (one, two):
        folder.mkdir()
        (folder / "build.toml").write_text(text, encoding="utf-8")
    out = share(one / "build.toml", tmp_path / "page.html", notebook)
    with pytest.raises(ShareError, match="from another sheet"):
        share(two / "build.toml", out, notebook)
    # The same file, changed, is the same build; with another title it is another.
    changed = text.replace('kind = "outbuilding"', 'kind = "field"')
    assert changed != text
    (one / "build.toml").write_text(changed, encoding="utf-8")
    share(one / "build.toml", out, notebook)
    assert sheet_in(out) == changed
    retitled = re.sub('^title = ".*"', 'title = "Another"', changed, flags=re.MULTILINE)
    assert retitled != changed
    (one / "build.toml").write_text(retitled, encoding="utf-8")
    with pytest.raises(ShareError, match="from another sheet"):
        share(one / "build.toml", out, notebook)
    assert sheet_in(out) == changed
    share(one / "build.toml", out, notebook, force=True)
    assert sheet_in(out) == retitled
    # A page may be made anew of itself, wherever it was sent.
    share(out, out, workbook(tmp_path, "print('anew')"))
    assert "anew" in out.read_text(encoding="utf-8")


def test_a_page_tells_nobody_where_its_sheet_lay(page: Path, sheet: Path) -> None:
    mark = origin_of(sheet)
    assert carried_by(page).origin == mark
    assert re.fullmatch("[0-9a-f]{12}", mark)
    assert str(sheet.parent) not in page.read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("name", "refusal"),
    [
        ("page.toml", r"ends in \.html"),
        ("no/such/page.html", "there is no folder"),
        ("folder.html", "is a folder"),
    ],
)
def test_a_place_that_cannot_be_written_is_refused(
    sheet: Path, tmp_path: Path, name: str, refusal: str
) -> None:
    (tmp_path / "folder.html").mkdir()
    with pytest.raises(ShareError, match=refusal):
        share(sheet, tmp_path / name)


def test_a_write_that_fails_leaves_the_old_page_and_no_rest(
    sheet: Path, notebook: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    out = share(sheet, tmp_path / "page.html", notebook)
    old = out.read_bytes()

    def full(_self: Path, _target: Path) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "replace", full)
    with pytest.raises(ShareError, match="No space left"):
        share(sheet, out, notebook)
    assert out.read_bytes() == old
    assert [p.name for p in tmp_path.iterdir() if ".part" in p.name] == []


@pytest.mark.parametrize(
    ("source", "said"),
    [
        ("1 / 0", "ZeroDivisionError: division by zero"),
        ("evpack.read_sheet('none.toml')", "there is no such file"),
        (
            "import ipywidgets\nwith ipywidgets.Output() as out:\n    1 / 0\nout",
            "ZeroDivisionError",
        ),
        ("import os\nos._exit(1)", "did not run"),
    ],
)
def test_a_workbook_that_fails_writes_no_page(
    sheet: Path, tmp_path: Path, source: str, said: str
) -> None:
    with pytest.raises(ShareError, match=said):
        share(sheet, tmp_path / "page.html", workbook(tmp_path, source))
    assert not (tmp_path / "page.html").exists()


@pytest.mark.parametrize(
    "html",
    [
        "<script>1</script>",
        "<img src='http://example.invalid/x.png'>",
        "<p onclick='x()'>a</p>",
        "<a href='javascript:x()'>a</a>",
        "<iframe src='data:text/html,x'></iframe>",
    ],
)
def test_a_workbook_that_shows_what_runs_or_loads_writes_no_page(
    sheet: Path, tmp_path: Path, html: str
) -> None:
    source = f"from IPython.display import HTML\nHTML({html!r})"
    with pytest.raises(ShareError, match="neither run nor load"):
        share(sheet, tmp_path / "page.html", workbook(tmp_path, source))


def test_live_widgets_become_their_settled_form(sheet: Path, tmp_path: Path) -> None:
    source = "panel = evpack.Panel(evpack.read_sheet(SHEET))\npanel.set(strings=3)\npanel"
    page = share(sheet, tmp_path / "page.html", workbook(tmp_path, source))
    text = page.read_text(encoding="utf-8")
    # Turned over before it was shown, the panel opens at that, and says that the sheet differs.
    assert "<b>What if, and not the design of the sheet:</b> Strings in parallel <b>3</b>" in text
    assert "widget" not in re.sub(r"base64,[^\"]*", "", text)


@pytest.mark.parametrize("tags", [(), ("other",)])
def test_a_workbook_without_its_marked_cell_is_refused(
    sheet: Path, tmp_path: Path, tags: tuple[str, ...]
) -> None:
    with pytest.raises(ShareError, match="tagged 'sheet'"):
        share(sheet, tmp_path / "page.html", workbook(tmp_path, tags=tags))


def test_an_unknown_workbook_is_refused_with_the_known_ones(sheet: Path, tmp_path: Path) -> None:
    with pytest.raises(ShareError, match=r"known here: .*repack-decision"):
        share(sheet, tmp_path / "page.html", "nothing")
    (tmp_path / "no.ipynb").write_text("{", encoding="utf-8")
    with pytest.raises(ShareError, match="is not a notebook"):
        share(sheet, tmp_path / "page.html", tmp_path / "no.ipynb")


def test_a_bad_sheet_is_told_before_anything_runs(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(module, "run", lambda *_: pytest.fail("ran"))
    (tmp_path / "bad.toml").write_text("title = 3\n", encoding="utf-8")
    with pytest.raises(DataError, match=r"bad\.toml"):
        share(tmp_path / "bad.toml", tmp_path / "page.html")


def test_clean_or_broken_jupyter_folders_do_not_matter(
    sheet: Path, notebook: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # A kernel of that name which does not start, where Jupyter would look first.
    kernel = tmp_path / "data" / "kernels" / "python3"
    kernel.mkdir(parents=True)
    (kernel / "kernel.json").write_text('{"argv": ["false"], "display_name": "x", "language": "x"}')
    startup = tmp_path / "ipython" / "profile_default" / "startup"
    startup.mkdir(parents=True)
    (startup / "00.py").write_text("raise SystemExit\n")
    for name in ("JUPYTER_CONFIG_DIR", "JUPYTER_DATA_DIR", "JUPYTER_RUNTIME_DIR", "IPYTHONDIR"):
        folder = {"JUPYTER_DATA_DIR": "data", "IPYTHONDIR": "ipython"}.get(name, name.lower())
        monkeypatch.setenv(name, str(tmp_path / folder))
    assert share(sheet, tmp_path / "page.html", notebook).exists()


@pytest.mark.skipif(zmq.IPC_PATH_MAX_LEN == 0, reason="no such files on this system")
@pytest.mark.parametrize(("longer", "way"), [("", "ipc"), ("x" * 110, "tcp")])
def test_a_kernel_takes_no_port_that_another_may_have(
    sheet: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, longer: str, way: str
) -> None:
    # A folder of a long name holds no file to speak through: better a port than no page.
    with tempfile.TemporaryDirectory() as short:
        folder = Path(short, longer)
        folder.mkdir(exist_ok=True)
        monkeypatch.setattr(tempfile, "tempdir", str(folder))
        asked = (
            "from ipykernel.kernelapp import IPKernelApp as App\nprint(App.instance().transport)"
        )
        page = share(sheet, tmp_path / "page.html", workbook(tmp_path, asked))
    assert f"<pre>{way}\n</pre>" in page.read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("text", "refusal"),
    [
        (None, "cannot be read"),
        ("<p>hello</p>", "carries no build sheet"),
        (f'<a id="{SHEET_ID}" href="data:application/toml;base64,@@@">x</a>', "damaged"),
        (f'<a id="{SHEET_ID}" href="data:application/toml;base64,/w==">x</a>', "damaged"),
        (f'<a id="{SHEET_ID}" href="http://example.invalid/x">x</a>', "carries no build sheet"),
    ],
)
def test_a_page_that_carries_no_sheet_is_refused(
    tmp_path: Path, text: str | None, refusal: str
) -> None:
    path = tmp_path / "page.html"
    if text is not None:
        path.write_text(text, encoding="utf-8")
    with pytest.raises(DataError, match=refusal):
        sheet_in(path)


@pytest.mark.parametrize(
    ("old", "new"), [("strings = 4", "strings = 9"), ("</pre>", "\n# more\n</pre>")]
)
def test_a_page_whose_shown_sheet_was_edited_is_refused(
    page: Path, tmp_path: Path, old: str, new: str
) -> None:
    text = page.read_text(encoding="utf-8")
    before, mark, shown = text.partition(f'id="{SHOWN_ID}"')
    assert old in shown
    path = tmp_path / "edited.html"
    path.write_text(before + mark + shown.replace(old, new, 1), encoding="utf-8")
    with pytest.raises(DataError, match="differs from the one it carries; save the build sheet"):
        sheet_in(path)
    with pytest.raises(DataError), opened(path):
        pass


def test_a_page_that_a_browser_saved_again_is_still_read(page: Path, tmp_path: Path) -> None:
    path = tmp_path / "saved.html"
    text = page.read_text(encoding="utf-8").replace("&#34;", '"').replace("&#39;", "'")
    path.write_bytes(text.replace("\n", "\r\n").encode("utf-8"))
    assert sheet_in(path) == sheet_in(page)


def test_the_page_shows_title_note_and_place_once_and_leads_to_its_parts(page: Path) -> None:
    text = page.read_text(encoding="utf-8")
    body = text.partition("<main>")[0].partition("<body>")[2]
    shown = re.sub(r"<[^>]*>", " ", body)
    assert shown.count("Wether Barn") == 1
    build = carried_by(page)
    assert "Eight salvaged modules" in shown
    assert "Place: imagined hill barn" in " ".join(shown.split())
    assert "Eight salvaged modules" in build.text
    links = re.findall(r'<a href="#(part-\d+)">(.+?)</a>', text)
    assert links == re.findall(r'<h2 id="(part-\d+)">(.+?)</h2>', text)
    assert "What do I enter?" in {name for _, name in links}


@pytest.mark.parametrize("name", ["low-shed", "left-on"])
def test_a_page_of_a_design_that_does_not_work_asks_nobody_to_enter_anything(
    name: str, tmp_path: Path
) -> None:
    path = tmp_path / "held.toml"
    path.write_text(example(name).read_text(encoding="utf-8"), encoding="utf-8")
    text = share(path, tmp_path / "held.html").read_text(encoding="utf-8")
    assert WITHHELD in text
    assert "would be" in text
    assert 'class="evp-box"' not in text
    assert re.findall(r'<td class="evp-enter">Enter', text) == []


def test_a_file_that_is_no_text_or_too_large_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "page.html"
    path.write_bytes(b"\xff\xfe\x00")
    with pytest.raises(DataError, match="UTF-8"):
        sheet_in(path)
    monkeypatch.setattr("evpack.workbook.page._LARGEST_PAGE", 2)
    with pytest.raises(DataError, match="too large"):
        sheet_in(path)


def test_a_page_cannot_choose_where_its_files_go(tmp_path: Path) -> None:
    data = "data:text/csv;base64," + base64.b64encode(b"x").decode()
    names = ("../out.csv", "/out.csv", "//out.csv", "C:\\out.csv", "..\\out.csv", "\\\\a\\b", "")
    links = "".join(f'<a data-evpack-record="{name}" href="{data}">x</a>' for name in names)
    path = tmp_path / "page.html"
    path.write_text(
        f'<a id="{SHEET_ID}" download="../../evil.toml" href="{sheet_link("a = 1")}">x</a>{links}'
        f'<pre id="{SHOWN_ID}">a = 1</pre>',
        encoding="utf-8",
    )
    found = carried_by(path)
    assert found.name == "evil.toml"
    assert found.records == {}
    with opened(path) as sheet:
        assert [p.name for p in sheet.folder.iterdir()] == ["evil.toml"]


def test_hidden_errors_are_found_wherever_they_hide() -> None:
    error = {"output_type": "error", "ename": "E", "evalue": "v", "traceback": []}
    notebook = nbformat.v4.new_notebook(
        metadata={
            "widgets": {
                "application/vnd.jupyter.widget-state+json": {
                    "state": {"a": {"state": {"outputs": [error]}}, "b": {"state": {}}}
                }
            }
        }
    )
    assert hidden_errors(notebook) == ("E: v",)


@pytest.mark.parametrize("name", ["D:x.toml", "a:b.toml", "con.toml", "NUL", "COM1.toml"])
def test_a_name_that_means_another_thing_on_some_system_is_not_taken(
    tmp_path: Path, name: str
) -> None:
    page = tmp_path / "page.html"
    page.write_text(
        f'<a id="{SHEET_ID}" download="{name}" href="{sheet_link("a = 1")}">x</a>'
        f'<pre id="{SHOWN_ID}">a = 1</pre>',
        encoding="utf-8",
    )
    assert carried_by(page).name == "build.toml"


@pytest.mark.parametrize("record", ["//etc/hostname", "/etc/hostname", "../secret.csv", "link.csv"])
def test_no_file_from_elsewhere_gets_into_a_page(tmp_path: Path, record: str) -> None:
    (tmp_path / "secret.csv").write_text("secret", encoding="utf-8")
    folder = tmp_path / "own"
    folder.mkdir()
    (folder / "link.csv").symlink_to(tmp_path / "secret.csv")
    (folder / "own.csv").write_text("own", encoding="utf-8")
    for name, brought in ((record, {}), ("own.csv", {"own.csv": b"own"})):
        sheet = folder / "build.toml"
        sheet.write_text(f'[module.bench]\nrecord = "{name}"\n', encoding="utf-8")
        with opened(sheet) as found:
            assert found.records == brought
