"""A shared page, read as text: the build sheet it carries, and what it must not carry.

Nothing in a page is ever run here; it is only taken apart by the standard library's parser.
"""

from __future__ import annotations

import base64
import binascii
import tempfile
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from html.parser import HTMLParser
from pathlib import Path, PurePosixPath

import attrs

from evpack.base.errors import DataError
from evpack.describe.build import Build
from evpack.load.sheet import parse_sheet
from evpack.load.text import read_text, read_toml

# The id of the link that holds the sheet; it also marks a page as one of ours.
SHEET_ID = "evpack-sheet"
SHOWN_ID = "evpack-sheet-shown"  # of the element in which a reader sees the same text
RECORD_MARK = "data-evpack-record"
PAGE_SUFFIXES = (".html", ".htm")

_SHEET_TYPE = "data:application/toml;base64,"
_RECORD_TYPE = "data:text/csv;base64,"
_LARGEST_PAGE = 50_000_000
_LARGEST_RECORD = 5_000_000
_FORBIDDEN_TAGS = frozenset(
    {"applet", "audio", "base", "embed", "form", "frame", "frameset", "iframe", "link", "object"}
    | {"script", "source", "track", "video"}
)
_LOADING = frozenset({"src", "srcset", "poster", "background", "action", "formaction"})


@attrs.frozen(kw_only=True)
class Sheet:
    """A build sheet, the folder it counts from, and the bench record beside it, if it names one.

    `records` maps the name in the sheet to the file's content; a record outside the folder, or
    too large to travel in a page, is left out.
    """

    name: str
    text: str
    folder: Path
    records: Mapping[str, bytes] = attrs.field(factory=dict)

    def build(self) -> Build:
        """Return the build that the sheet describes."""
        return parse_sheet(self.text, self.name, self.folder)


@contextmanager
def opened(path: str | Path) -> Iterator[Sheet]:
    """Open a build sheet, or a shared page for the sheet that it carries.

    The folder of a page's sheet is a passing one, with the bench record in it.

    Raises
    ------
    DataError
        A file that cannot be read, or a page that evpack did not write.
    """
    path = Path(path)
    if path.suffix.lower() not in PAGE_SUFFIXES:
        text = read_text(path, path.name)
        yield Sheet(name=path.name, text=text, folder=path.parent, records=_records(text, path))
        return
    carried = carried_by(path)
    with tempfile.TemporaryDirectory(prefix="evpack-") as folder:
        Path(folder, carried.name).write_text(carried.text, encoding="utf-8")
        for name, content in carried.records.items():
            target = Path(folder, name)
            target.parent.mkdir(parents=True, exist_ok=True)
            target.write_bytes(content)
        yield attrs.evolve(carried, folder=Path(folder))


def sheet_in(path: str | Path) -> str:
    """Return the text of the build sheet that a shared page carries.

    Raises
    ------
    DataError
        No such file, or no page that evpack wrote.
    """
    return carried_by(path).text


def carried_by(path: str | Path) -> Sheet:
    """Return the build sheet that a shared page carries, and the record beside it."""
    path = Path(path)
    try:
        if path.stat().st_size > _LARGEST_PAGE:
            raise DataError(path.name, "", "is too large for a shared page")
        text = path.read_text(encoding="utf-8")
    except OSError as problem:
        raise DataError(path.name, "", f"cannot be read: {problem.strerror}") from None
    except UnicodeDecodeError:
        raise DataError(path.name, "", "is not text in UTF-8") from None
    reader = _reader_of(text)
    if reader.sheet is None:
        raise DataError(path.name, "", "is not a shared evpack page: it carries no build sheet")
    name, link = reader.sheet
    try:
        sheet = _content(link).decode("utf-8")
        records = {name: _content(link) for name, link in reader.records if _stays_below(name)}
    except (binascii.Error, UnicodeDecodeError):
        raise DataError(path.name, "", "carries a build sheet that is damaged") from None
    if reader.shown is not None and _lines_of(reader.shown) != _lines_of(sheet):
        raise DataError(
            path.name,
            "",
            "the sheet shown on this page differs from the one it carries; save the build sheet, "
            "edit that file, and use it",
        )
    # Only the last part of a name counts: a page must not choose a folder here.
    plain = PurePosixPath(name.replace("\\", "/")).name or "build.toml"
    return Sheet(name=plain, text=sheet, folder=path.parent, records=records)


def _lines_of(sheet: str) -> list[str]:
    """Return the lines of a sheet, without what browsers and editors change by themselves."""
    return [line.rstrip() for line in sheet.strip().splitlines()]


def sheet_link(text: str) -> str:
    """Return a build sheet as a link that holds it whole."""
    return _SHEET_TYPE + base64.b64encode(text.encode("utf-8")).decode("ascii")


def record_link(content: bytes) -> str:
    """Return a bench record as a link that holds it whole."""
    return _RECORD_TYPE + base64.b64encode(content).decode("ascii")


def not_allowed(text: str) -> tuple[str, ...]:
    """Return what a page holds that would run, load or leave it; empty for a sound page."""
    return tuple(dict.fromkeys(_reader_of(text).found))


def _records(text: str, path: Path) -> dict[str, bytes]:
    """Return the bench record and the profiles that a sheet names, below the sheet's folder."""
    document = read_toml(text, path.name)
    module, operation = document.get("module"), document.get("operation")
    bench = module.get("bench") if isinstance(module, dict) else None
    names = [bench.get("record") if isinstance(bench, dict) else None]
    if isinstance(operation, dict):
        suns = operation.get("sun")
        tables = [operation.get("load"), operation.get("air")]
        tables += suns if isinstance(suns, list) else [suns]
        names += [table.get("file") for table in tables if isinstance(table, dict)]
    found = {}
    for name in names:
        if isinstance(name, str) and _stays_below(name):
            file = path.parent / name
            if file.is_file() and file.stat().st_size <= _LARGEST_RECORD:
                found[name] = file.read_bytes()
    return found


def _stays_below(name: str) -> bool:
    """Return whether a name leads to a file below a folder, on any system."""
    parts = PurePosixPath(name.replace("\\", "/")).parts
    return bool(parts) and ":" not in name and not {"..", "/"} & set(parts)


def _content(link: str) -> bytes:
    return base64.b64decode(link.partition(",")[2], validate=True)


def _reader_of(text: str) -> _Reader:
    reader = _Reader()
    reader.feed(text)
    reader.close()
    return reader


class _Reader(HTMLParser):
    """Collects the sheet, as a link and as shown, its records, and what a page may not carry."""

    def __init__(self) -> None:
        super().__init__()
        self.sheet: tuple[str, str] | None = None
        self.records: list[tuple[str, str]] = []
        self.found: list[str] = []
        self.shown: str | None = None
        self._showing = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Look at one tag."""
        given = {name: value or "" for name, value in attrs}
        link = given.get("href", "")
        if given.get("id") == SHEET_ID and link.startswith(_SHEET_TYPE):
            self.sheet = (given.get("download", ""), link)
        if RECORD_MARK in given and link.startswith(_RECORD_TYPE):
            self.records.append((given[RECORD_MARK], link))
        if given.get("id") == SHOWN_ID and self.shown is None:
            self.shown = ""
            self._showing = 1
        elif self._showing and tag == "pre":
            self._showing += 1
        if tag in _FORBIDDEN_TAGS:
            self.found.append(f"<{tag}>")
        if tag == "input" and given.get("type", "").strip().lower() != "radio":
            self.found.append("<input> that is no radio button")
        for name, value in given.items():
            runs = name.startswith("on") or value.strip().lower().startswith("javascript:")
            loads = name in _LOADING and not value.startswith("data:")
            if runs or loads:
                self.found.append(f"{name}={value[:40]!r}")

    def handle_endtag(self, tag: str) -> None:
        """Notice the end of the sheet that is shown."""
        if self._showing and tag == "pre":
            self._showing -= 1

    def handle_data(self, data: str) -> None:
        """Keep the text of the sheet that is shown."""
        if self._showing and self.shown is not None:
            self.shown += data
