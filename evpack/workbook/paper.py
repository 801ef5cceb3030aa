"""A page as PDF, printed by a browser that is there; and the sheets for wall and toolbox."""

from __future__ import annotations

import datetime as dt
import os
import shutil
import subprocess
from collections.abc import Collection
from pathlib import Path

from evpack.base.errors import EvpackError, nearest
from evpack.base.files import passing_folder, write_whole
from evpack.describe.checked import need
from evpack.finished import commissioning_plan
from evpack.outcome.design import Decision
from evpack.show.wall import SHEETS, wall_page
from evpack.workbook.page import PAGE_SUFFIXES, not_allowed, page_name, page_text

PAPERS = {"a4": "A4", "letter": "letter"}
PDF = ".pdf"

# Any browser of this family prints a page from the command line in the same way.
_BROWSERS = ("chromium", "chromium-browser", "google-chrome", "chrome", "msedge")
_SECONDS = 120
_ASKED = "EVPACK_BROWSER"  # of the environment: the browser to use, if it is none of these


def as_pdf(page: str | Path, out_path: str | Path, *, paper: str = "a4") -> Path:
    """Print a page that evpack wrote as PDF.

    Parameters
    ----------
    page : path
        An HTML page that loads and runs nothing.
    out_path : path
        Where to write; a file that is there is replaced, whole or not at all.
    paper : {"a4", "letter"}

    Raises
    ------
    EvpackError
        No browser that can print, a page that would run or load something, or a print that failed.
    """
    if paper.lower() not in PAPERS:
        raise EvpackError(f"paper '{paper}' is not known{nearest(paper.lower(), PAPERS)}")
    out, text = page_name(Path(out_path), (PDF,)), page_text(page)
    found = not_allowed(text)
    if found:
        raise EvpackError(f"{Path(page).name}: would run or load something: {', '.join(found)}")
    browser = _browser()
    with passing_folder() as folder:
        sized, printed = folder / "page.html", folder / "page.pdf"
        write_whole(sized, _sized(text, PAPERS[paper.lower()]))
        _print(browser, sized, printed, folder / "profile")
        return write_whole(out, printed.read_bytes(), replace=True)


def _browser() -> str:
    asked = os.environ.get(_ASKED)
    names = (asked,) if asked else _BROWSERS
    found = next((path for name in names if (path := shutil.which(name))), None)
    if found is None:
        raise EvpackError(
            "no browser that prints by itself was found (" + ", ".join(names) + "): write the page "
            f"as .html, open it in any browser, and print it to PDF there; or name one in {_ASKED}"
        )
    return found


def _sized(text: str, paper: str) -> str:
    """Return the page for one size of paper: in print it follows what the printer holds."""
    sizes = f"<style>@page {{ size: {paper}; }} @page across {{ size: {paper} landscape; }}</style>"
    return text.replace("</head>", f"{sizes}</head>", 1)


def _print(browser: str, page: Path, out: Path, profile: Path) -> None:
    words = [
        browser,
        "--headless",
        "--disable-gpu",
        "--no-first-run",
        "--disable-background-networking",
        "--host-resolver-rules=MAP * ~NOTFOUND",  # nothing is to be asked of any network
        f"--user-data-dir={profile}",
        "--no-pdf-header-footer",
        f"--print-to-pdf={out}",
        page.as_uri(),
    ]
    if hasattr(os, "geteuid") and os.geteuid() == 0:
        # The browser refuses its sandbox to the superuser. The page runs nothing: it was looked at.
        words.insert(1, "--no-sandbox")
    try:
        subprocess.run(words, check=False, capture_output=True, timeout=_SECONDS)  # noqa: S603
    except subprocess.TimeoutExpired:
        raise EvpackError(f"{Path(browser).name}: did not print within {_SECONDS} s") from None
    except OSError as problem:
        raise EvpackError(f"{browser}: cannot be started: {problem.strerror}") from None
    if not out.is_file() or not out.read_bytes().startswith(b"%PDF"):
        raise EvpackError(f"{Path(browser).name}: could not print the page")


def write_sheets(
    decision: Decision,
    out_path: str | Path,
    *,
    only: Collection[str] = SHEETS,
    paper: str = "a4",
    force: bool = False,
) -> Path:
    """Write the sheets for wall and toolbox to a page, or to a PDF.

    Parameters
    ----------
    decision : Decision
        As `evpack.decide` returns it. Of a design that may not be built there is nothing to enter,
        to buy or to switch on: those sheets say so.
    out_path : path
        Ending in ``.html`` or ``.pdf``.
    only : collection of str
        Which: ``"emergency"``, ``"limits"``, ``"settings"``, ``"schedule"``, ``"diagram"``,
        ``"checklist"``, ``"labels"``. Settings, schedule and checklist bring the limits along.
    paper : {"a4", "letter"}
        Of a PDF; a page follows the printer.
    force : bool
        Replace a file that is there.

    Raises
    ------
    EvpackError
        A file that is there or cannot be written, a sheet or paper that is not known, or no
        browser that prints.
    """
    need("write_sheets", decision, Decision)
    out = Path(out_path)
    if out.suffix.lower() not in (*PAGE_SUFFIXES, PDF):
        raise EvpackError(f"{out.name}: the name must end in .html or .pdf")
    otherwise = "choose another name, or say force (--force)"
    if os.path.lexists(out) and not force:
        raise EvpackError(f"{out}: is there already; {otherwise}")
    page = wall_page(commissioning_plan(decision), only, on=dt.date.today().isoformat())  # noqa: DTZ011  the reader's own day
    if out.suffix.lower() != PDF:
        return write_whole(page_name(out), page, replace=force, otherwise=otherwise)
    with passing_folder() as folder:
        return as_pdf(write_whole(folder / "sheets.html", page), out, paper=paper)
