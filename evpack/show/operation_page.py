"""One page of a pack at work: everything of it in one file that loads and runs nothing."""

from __future__ import annotations

from evpack.base.version import VERSION
from evpack.outcome.operation import OperationRun, OutageRun
from evpack.show.clean import escaped
from evpack.show.html_operation import operation_html, outage_html
from evpack.show.style import STYLE

_BODY = "body { margin: 1.5rem auto; max-width: 62em; padding: 0 1rem; }"


def operation_page(run: OperationRun, alone: OutageRun | None = None) -> str:
    """Return the page of a run as one HTML document, with how long the pack lasts alone."""
    more = "" if alone is None else outage_html(alone)
    return (
        '<!DOCTYPE html><html lang="en"><head><meta charset="utf-8">'
        '<meta http-equiv="Content-Security-Policy" content="default-src \'none\'; '
        "style-src 'unsafe-inline'\">"
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f'<meta name="generator" content="evpack {escaped(VERSION)}">'
        f"<title>{escaped(run.title)}</title><style>{_BODY}{STYLE}</style></head>"
        f'<body><div class="evp">{operation_html(run)}{more}</div></body></html>'
    )
