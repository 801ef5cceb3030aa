"""One page of a pack at work: everything of it in one file that loads and runs nothing."""

from __future__ import annotations

from evpack.outcome.operation import OperationRun, OutageRun
from evpack.show.html_operation import operation_html, outage_html
from evpack.show.one_page import one_page


def operation_page(run: OperationRun, alone: OutageRun | None = None) -> str:
    """Return the page of a run as one HTML document, with how long the pack lasts alone."""
    return one_page(run.title, operation_html(run) + ("" if alone is None else outage_html(alone)))
