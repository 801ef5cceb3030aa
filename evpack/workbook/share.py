"""A workbook on one build sheet, run afresh and written as one page that needs nothing else.

The page is what a person hands over: it opens with the network off, runs nothing, prints, names
what was assumed, and carries the build sheet so that the receiver can load it again.
"""

from __future__ import annotations

import datetime as dt
import os
import platform
import re
from importlib.metadata import version
from pathlib import Path
from typing import Any

import evpack
from evpack.base.brief import cut
from evpack.base.errors import EvpackError
from evpack.base.files import passing_folder, why, write_whole
from evpack.decide import decide
from evpack.design import design
from evpack.load.places import unnumbered, workbooks
from evpack.load.text import read_toml
from evpack.outcome.design import Decision
from evpack.show.assumed import assumed_in
from evpack.show.html import assumed_html
from evpack.show.words import cautions
from evpack.workbook.kernel import ShareError, run
from evpack.workbook.page import (
    ORIGIN_MARK,
    RECORD_MARK,
    SHEET_ID,
    SHOWN_ID,
    Sheet,
    carried_by,
    not_allowed,
    opened,
    origin_of,
    page_name,
    record_link,
    sheet_link,
)
from evpack.workbook.paper import PDF, as_pdf
from evpack.workbook.parts import answer
from evpack.workbook.regions import STYLE, framed

WORKBOOK = "repack-decision"

_TEMPLATES = Path(__file__).parent / "template"
_TAG = "sheet"
# Cells that help to use the workbook and tell a reader of the page nothing.
_NOT_SHARED = "not-shared"
# What a page shows of a cell's outputs, the first that there is. Live widgets never get in.
_SHOWN = ("text/html", "image/png", "image/jpeg", "text/markdown", "text/plain")


def share(
    sheet_path: str | Path,
    out_path: str | Path,
    workbook: str | Path = WORKBOOK,
    *,
    code: bool = False,
    force: bool = False,
    paper: str = "a4",
    formulas: bool = False,
) -> Path:
    """Run a workbook on a build sheet and write the result as one page.

    Parameters
    ----------
    sheet_path : path
        A build sheet, or a shared page, whose sheet is taken.
    out_path : path
        Where to write, ending in ``.html``, or in ``.pdf`` where a browser that prints is
        installed. A page shared earlier from the same sheet (its path and its title) is replaced;
        any other file is left alone.
    workbook : str or path
        The name of a workbook that comes with evpack, or a notebook of your own. It needs one
        cell tagged ``sheet`` with a line ``SHEET = …``, and that line is replaced.
    code : bool
        Show the code cells as well.
    force : bool
        Replace any file at `out_path`.
    paper : {"a4", "letter"}
        Of a PDF; a page follows the printer.
    formulas : bool
        Print formulas, rules and the build sheet as well; a reader of the page may tick it there.

    Returns
    -------
    Path
        The written page.

    Raises
    ------
    ShareError
        The workbook failed, or the page would not be fit to hand over or must not be written.
    EvpackError
        A build sheet that cannot be read.
    """
    if not isinstance(sheet_path, str | Path):
        raise ShareError(
            "share() takes the path of a build sheet, since the page carries the sheet: write one "
            f"('evpack start my-barn.toml'); got {cut(repr(sheet_path))}"
        )
    out_path = Path(out_path)
    if out_path.suffix.lower() == PDF:
        return _share_pdf(
            sheet_path,
            out_path,
            workbook,
            code=code,
            force=force,
            paper=paper,
            formulas=formulas,
        )
    with opened(sheet_path) as sheet:
        decision = decide(design(sheet.build()))
        origin = sheet.origin or origin_of(sheet_path)
        _check_target(out_path, sheet, origin, force=force)
        notebook = _notebook(workbook)
        _run_on(notebook, sheet.name, sheet.folder.resolve())
    about = _about(sheet, decision, origin) | {"in_full": formulas}
    page = _page(notebook, about, code=code)
    try:
        return write_whole(out_path, page, replace=force or os.path.lexists(out_path))
    except EvpackError as problem:
        raise ShareError(str(problem)) from None


def _share_pdf(
    sheet_path: str | Path,
    out: Path,
    workbook: str | Path,
    *,
    code: bool,
    force: bool,
    paper: str,
    formulas: bool,
) -> Path:
    """Print the page; a PDF does not tell whose it is, so that one which is there is kept."""
    if os.path.lexists(page_name(out, (PDF,))) and not force:
        raise ShareError(f"{out.name}: is there already; choose another name")
    if not out.parent.is_dir():
        raise ShareError(f"{out}: there is no folder {out.parent}")
    with passing_folder() as folder:
        page = share(sheet_path, folder / "page.html", workbook, code=code, formulas=formulas)
        return as_pdf(page, out, paper=paper)


def _check_target(out: Path, sheet: Sheet, origin: str, *, force: bool) -> None:
    """Refuse a place where a page cannot be written, or where it would cost somebody a file.

    A page goes unasked only where it was made of this very sheet: of its path and its title.
    """
    problem = _no_place(out)
    if problem:
        raise ShareError(problem)
    if force or not os.path.lexists(out):
        return
    try:
        there = carried_by(out)
    except EvpackError:
        raise ShareError(
            f"{out.name}: is there already and is no shared evpack page; choose another name"
        ) from None
    if (there.origin, there.name) != (origin, sheet.name) or titled(there) != titled(sheet):
        raise ShareError(
            f"{out.name}: is there already and was shared from another sheet, '{there.name}' "
            f"('{cut(titled(there))}'); choose another name, or say force (--force)"
        )


def _no_place(out: Path) -> str:
    """Return why no page can stand at a place, or nothing."""
    try:
        page_name(out)
        if not out.parent.is_dir():
            return f"{out}: there is no folder {out.parent}"
        return f"{out}: is a folder" if out.is_dir() else ""
    except EvpackError as problem:
        return str(problem)
    except (OSError, ValueError) as problem:
        return f"{out}: cannot be written: {why(problem)}"


def titled(sheet: Sheet) -> str:
    """Return the title that a sheet says; empty where it says none, or none that can be read."""
    try:
        return str(read_toml(sheet.text, sheet.name).get("title", ""))
    except EvpackError:
        return ""


def _notebook(workbook: str | Path) -> Any:
    """Return a workbook by its name or its path."""
    import nbformat  # noqa: PLC0415  loads when a page is made

    path = Path(workbook)
    if path.suffix != ".ipynb":
        path = workbooks().get(unnumbered(str(workbook)), path)
    if not path.is_file():
        raise ShareError(f"there is no workbook '{workbook}' (known here: {_takers()})")
    try:
        return nbformat.read(path, as_version=4)
    except (nbformat.reader.NotJSONError, nbformat.ValidationError, UnicodeDecodeError):
        raise ShareError(f"{path.name}: is not a notebook") from None


def _takers() -> str:
    """Name the workbooks that come with evpack and take a sheet."""
    import nbformat  # noqa: PLC0415  loads when a page is made

    return ", ".join(
        name
        for name, path in workbooks().items()
        if _sheet_cells(nbformat.read(path, as_version=4))
    )


def _sheet_cells(notebook: Any) -> list[Any]:
    return [c for c in notebook.cells if _TAG in c.metadata.get("tags", ())]


def _run_on(notebook: Any, sheet_name: str, folder: Path) -> None:
    """Point a workbook to a sheet in a folder and run it there."""
    cells = _sheet_cells(notebook)
    lines = cells[0].source.splitlines() if len(cells) == 1 else []
    places = [n for n, line in enumerate(lines) if line.startswith("SHEET =")]
    if len(places) != 1:
        if any("\nHEAP = " in cell.source for cell in notebook.cells):
            raise ShareError("this workbook is about a heap: 'evpack heap HEAP --page PAGE.html'")
        raise ShareError(
            f"the workbook needs one cell tagged '{_TAG}' with one line that starts with 'SHEET =' "
            f"(of those that come with evpack these have one: {_takers()})"
        )
    # A name without its folder: no path of this computer gets into the page.
    lines[places[0]] = f"SHEET = {sheet_name!r}"
    cells[0].source = "\n".join(lines)
    run(notebook, folder)


def _page(notebook: Any, about: dict[str, Any], *, code: bool) -> str:
    """Return the finished page, or refuse one that would run or load something."""
    from nbconvert import HTMLExporter  # noqa: PLC0415  loads when a page is made

    notebook.metadata.pop("widgets", None)
    notebook.cells = [c for c in notebook.cells if _NOT_SHARED not in c.metadata.get("tags", ())]
    for cell in notebook.cells:
        _keep_static(cell)
    exporter = HTMLExporter(
        template_name="page",
        extra_template_basedirs=[str(_TEMPLATES)],
        exclude_input=not code,
        exclude_input_prompt=True,
        exclude_output_prompt=True,
        exclude_anchor_links=True,
    )
    page, _ = exporter.from_notebook_node(notebook, resources={"evpack": about})
    page = _with_contents(page)
    found = not_allowed(page)
    if found:
        raise ShareError(
            f"the workbook shows {', '.join(found)}, and a shared page may neither run nor load "
            "anything"
        )
    return page


# What a user typed is escaped: only the frame and the workbook's own text write such tags.
_HEAD = re.compile(r"<h2>(.+?)</h2>")
_CONTENTS = '<nav class="contents"></nav>'


def _with_contents(page: str) -> str:
    """Return the page with a line of links to its sections."""
    links: list[str] = []

    def named(head: re.Match[str]) -> str:
        place = f"part-{len(links) + 1}"
        links.append(f'<a href="#{place}">{head[1]}</a>')
        return f'<h2 id="{place}">{head[1]}</h2>'

    page = _HEAD.sub(named, page)
    nav = _CONTENTS.replace("></", f">{' '.join(links)}</")
    return page.replace(_CONTENTS, nav, 1)


def _keep_static(cell: Any) -> None:
    """Keep of each output only what a page can show, and nothing that stood on stderr."""
    if cell.cell_type != "code":
        return
    cell.outputs = [o for o in cell.outputs if o.get("name") != "stderr"]
    for output in cell.outputs:
        if "data" in output:
            best = next((kind for kind in _SHOWN if kind in output.data), None)
            # The page has the style once, in its head.
            output.data = {best: output.data[best].replace(STYLE, "")} if best else {}


def _about(sheet: Sheet, decision: Decision, origin: str) -> dict[str, Any]:
    """Return what the frame of the page says; the template escapes it."""
    now = dt.datetime.now().astimezone()
    return {
        "title": decision.design.build.title,
        "verdict": str(decision.verdict),
        "date": now.strftime("%Y-%m-%d %H:%M %z"),
        "versions": f"evpack {evpack.__version__}, Python {platform.python_version()}, "
        f"numpy {version('numpy')}",
        "version": evpack.__version__,
        "cautions": cautions(decision),
        "note": decision.design.build.note,
        "place": decision.design.build.site.place,
        "assumed_html": framed(assumed_html(assumed_in(decision.design))),
        "sheet_id": SHEET_ID,
        "origin_mark": ORIGIN_MARK,
        "origin": origin,
        "shown_id": SHOWN_ID,
        "sheet_name": sheet.name,
        "sheet_text": sheet.text,
        "sheet_link": sheet_link(sheet.text),
        "record_mark": RECORD_MARK,
        "records": {name: record_link(content) for name, content in sheet.records.items()},
        "verdict_html": answer(decision, titled=False).html,
        "style": STYLE,
    }
