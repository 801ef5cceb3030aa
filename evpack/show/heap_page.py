"""One page of a heap: everything of it in one file that loads and runs nothing."""

from __future__ import annotations

from evpack.base.version import VERSION
from evpack.outcome.matching import Matching
from evpack.show.clean import escaped
from evpack.show.html_matching import matching_html
from evpack.show.style import STYLE

_BODY = "body { margin: 1.5rem auto; max-width: 62em; padding: 0 1rem; }"


def heap_page(matching: Matching) -> str:
    """Return the page of a heap as one HTML document."""
    return (
        '<!DOCTYPE html><html lang="en"><head><meta charset="utf-8">'
        '<meta http-equiv="Content-Security-Policy" content="default-src \'none\'; '
        "style-src 'unsafe-inline'\">"
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f'<meta name="generator" content="evpack {escaped(VERSION)}">'
        f"<title>{escaped(matching.batch.title)}</title><style>{_BODY}{STYLE}</style></head>"
        f'<body><div class="evp">{matching_html(matching)}</div></body></html>'
    )
