"""A shared page, read as text: the build sheet it carries, and what it must not carry.

Nothing in a page is ever run here; only its tags are looked at (see `markup`).
"""

from __future__ import annotations

import base64
import binascii
import hashlib
import os
import re
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path, PurePosixPath

import attrs

from evpack.base.errors import DataError, EvpackError
from evpack.base.files import is_file, passing_folder, read_bytes, why, write_whole
from evpack.describe.build import Build
from evpack.load.sheet import parse_sheet
from evpack.load.text import read_text, read_toml
from evpack.show.clean import clean
from evpack.workbook.markup import Tag, content, tags

# The id of the link that holds the sheet; it also marks a page as one of ours.
SHEET_ID = "evpack-sheet"
SHOWN_ID = "evpack-sheet-shown"  # of the element in which a reader sees the same text
RECORD_MARK = "data-evpack-record"
ORIGIN_MARK = "data-evpack-origin"  # which file the sheet was, as `origin_of` tells it
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
_PASSED_OVER = re.compile("[\x00-\x20]")


@attrs.frozen(kw_only=True)
class Sheet:
    """A build sheet, the folder it counts from, and the bench record beside it, if it names one.

    `records` maps the name in the sheet to the file's content; a record outside the folder, or
    too large to travel in a page, is left out. `origin` tells of a page which file its sheet was.
    """

    name: str
    text: str
    folder: Path
    records: Mapping[str, bytes] = attrs.field(factory=dict)
    confined: bool = False  # it came in a page, and reads nothing outside of its folder
    origin: str = ""

    def build(self) -> Build:
        """Return the build that the sheet describes."""
        return parse_sheet(self.text, self.name, self.folder, confined=self.confined)


def page_name(out: Path, endings: tuple[str, ...] = PAGE_SUFFIXES) -> Path:
    """Return a name for a page, or refuse one that is none: it may be that of somebody's work.

    Raises
    ------
    EvpackError
        It does not end as a page does, itself or where it leads as a link.
    """
    try:
        leads_to = Path(os.path.realpath(out))
    except (OSError, ValueError) as problem:
        raise EvpackError(f"{out}: cannot be written: {why(problem)}") from None
    for name in (out, leads_to):
        if name.suffix.lower() not in endings:
            leads = "" if name is out else f" (it leads to {name.name})"
            raise EvpackError(f"{out.name}: a page needs a name that ends in {endings[0]}{leads}")
    return out


_ORIGIN_DIGITS = 12


def origin_of(path: str | Path) -> str:
    """Return a mark of the file that a page was shared from; it tells nobody its path."""
    whole = str(Path(path).resolve())
    return hashlib.sha256(whole.encode("utf-8", "surrogateescape")).hexdigest()[:_ORIGIN_DIGITS]


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
    with passing_folder() as folder:
        write_whole(folder / carried.name, carried.text)
        for name, record in carried.records.items():
            _lay_out(folder / name, record, path.name)
        yield attrs.evolve(carried, folder=folder, confined=True)


def _lay_out(target: Path, record: bytes, page: str) -> None:
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
    except (OSError, ValueError) as problem:
        raise DataError(
            page, "", f"carries a file that cannot be laid out: {why(problem)}"
        ) from None
    write_whole(target, record)


def sheet_in(path: str | Path) -> str:
    """Return the text of the build sheet that a shared page carries.

    Raises
    ------
    DataError
        No such file, or no page that evpack wrote.
    """
    return carried_by(path).text


def page_text(path: str | Path) -> str:
    """Return the text of a page.

    Raises
    ------
    DataError
        It cannot be read, is too large, or is no text.
    """
    path = Path(path)
    raw = read_bytes(
        path, path.name, most=_LARGEST_PAGE, too_large="is too large for a shared page"
    )
    try:
        return raw.decode("utf-8")
    except UnicodeDecodeError:
        raise DataError(path.name, "", "is not text in UTF-8") from None


def carried_by(path: str | Path) -> Sheet:
    """Return the build sheet that a shared page carries, and the record beside it."""
    path = Path(path)
    text = page_text(path)
    sheets, shows, records = _held_in(text)
    if not sheets:
        raise DataError(path.name, "", "is not a shared evpack page: it carries no build sheet")
    link = sheets[0]
    try:
        sheet = _content(link.given["href"]).decode("utf-8")
        brought = {name: _content(held) for name, held in records if _stays_below(name)}
    except (binascii.Error, ValueError):
        raise DataError(path.name, "", "carries a build sheet that is damaged") from None
    if len(sheets) > 1 or len(shows) != 1:
        raise DataError(
            path.name,
            "",
            "does not carry one build sheet and show it once, as every page of evpack does; ask "
            "for the page afresh",
        )
    shown = content(text, shows[0])
    if _lines_of(shown) != _lines_of(sheet):
        raise DataError(
            path.name,
            "",
            "the sheet shown on this page differs from the one it carries; save the build sheet, "
            "edit that file, and use it",
        )
    return Sheet(
        name=_plain(link.given.get("download", "")),
        text=sheet,
        folder=path.parent,
        records=brought,
        origin=link.given.get(ORIGIN_MARK, ""),
    )


def _held_in(text: str) -> tuple[list[Tag], list[Tag], list[tuple[str, str]]]:
    """Return the links that hold a sheet, where one is shown, and the records by name."""
    sheets: list[Tag] = []
    shows: list[Tag] = []
    records: list[tuple[str, str]] = []
    for tag in tags(text):
        named, link = tag.given.get("id"), tag.given.get("href", "")
        if named == SHEET_ID and link.startswith(_SHEET_TYPE):
            sheets.append(tag)
        if named == SHOWN_ID:
            shows.append(tag)
        if RECORD_MARK in tag.given and link.startswith(_RECORD_TYPE):
            records.append((tag.given[RECORD_MARK], link))
    return sheets, shows, records


_LONGEST_NAME = 100  # characters of the name of a sheet or of a part of a record's


_DEVICES = frozenset(
    {"CON", "PRN", "AUX", "NUL", *(f"{d}{k}" for d in ("COM", "LPT") for k in "123456789")}
)


def _plain(name: str) -> str:
    """Return the last part of a name: a page must not choose a folder, nor an odd name, here."""
    last = PurePosixPath(name.replace("\\", "/")).name
    sound = last.strip(".") and len(last) <= _LONGEST_NAME and clean(last) == last
    # On Windows a colon names a drive or a stream, and a few names are devices.
    sound = sound and ":" not in last and last.partition(".")[0].upper() not in _DEVICES
    return last if sound else "build.toml"


def _lines_of(sheet: str) -> list[str]:
    """Return the lines of a sheet, without what browsers and editors change by themselves."""
    lines = sheet.replace("\r\n", "\n").replace("\r", "\n").strip("\n ").split("\n")
    return [line.rstrip(" ") for line in lines]


def sheet_link(text: str) -> str:
    """Return a build sheet as a link that holds it whole."""
    return _SHEET_TYPE + base64.b64encode(text.encode("utf-8")).decode("ascii")


def record_link(content: bytes) -> str:
    """Return a bench record as a link that holds it whole."""
    return _RECORD_TYPE + base64.b64encode(content).decode("ascii")


def not_allowed(text: str) -> tuple[str, ...]:
    """Return what a page holds that would run, load or leave it; empty for a sound page."""
    found: dict[str, None] = {}
    for tag in tags(text):
        if tag.name in _FORBIDDEN_TAGS:
            found[f"<{tag.name}>"] = None
        kind = tag.given.get("type", "").strip().lower()
        if tag.name == "input" and kind not in {"radio", "checkbox"}:
            found["<input> that is no box to tick"] = None
        for name, value in tag.given.items():
            loads = name in _LOADING and not value.startswith("data:")
            if name.startswith("on") or loads or _script_in(value):
                found[f"{clean(name)[:40]}={clean(value)[:40]!r}"] = None
    return tuple(found)


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
            own = file.resolve().is_relative_to(path.parent.resolve())  # and no link leads out
            if own and is_file(file) and file.stat().st_size <= _LARGEST_RECORD:
                found[name] = file.read_bytes()
    return found


def _stays_below(name: str) -> bool:
    """Return whether a name leads to a file below a folder, on any system."""
    plain = name.replace("\\", "/")
    if plain.startswith("/"):  # "//x" too, which is a root of its own
        return False
    parts = PurePosixPath(plain).parts
    sound = all(len(part) <= _LONGEST_NAME for part in parts) and clean(name) == name
    return bool(parts) and sound and ":" not in name and not {"..", "/"} & set(parts)


def _content(link: str) -> bytes:
    return base64.b64decode(link.partition(",")[2], validate=True)


def _script_in(value: str) -> bool:
    """Return whether a link runs something: browsers pass over blanks and control signs in it."""
    return _PASSED_OVER.sub("", value).lower().startswith(("javascript:", "vbscript:"))
