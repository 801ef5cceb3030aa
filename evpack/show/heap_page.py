"""One page of a heap: everything of it in one file that loads and runs nothing."""

from __future__ import annotations

from evpack.outcome.matching import Matching
from evpack.show.html_matching import matching_html
from evpack.show.one_page import one_page


def heap_page(matching: Matching) -> str:
    """Return the page of a heap as one HTML document."""
    return one_page(matching.batch.title, matching_html(matching))
