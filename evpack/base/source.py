"""Where a number comes from, and how closely anybody here saw it."""

from __future__ import annotations

from enum import StrEnum

import attrs

from evpack.base.errors import DescriptionError, nearest


class Seen(StrEnum):
    """How a source was seen. Only `ORIGINAL` may be quoted as if it were open on the desk."""

    ORIGINAL = "original"
    COPY = "copy"
    MEMORY = "memory"
    PRACTICE = "practice"
    COMPUTED = "computed"


IN_WORDS = {
    Seen.ORIGINAL: "seen in the original",
    Seen.COPY: "seen second hand",
    Seen.MEMORY: "from memory, not seen",
    Seen.PRACTICE: "common practice, no document",
    Seen.COMPUTED: "worked out here",
}


def seen_named(word: object) -> Seen:
    """Return how a source was seen, or refuse with the nearest word."""
    try:
        return Seen(str(word))
    except ValueError:
        known = [s.value for s in Seen]
        raise DescriptionError(f"seen '{word}' is not known{nearest(str(word), known)}") from None


@attrs.frozen(kw_only=True)
class Source:
    """A source of numbers: a document, a record, a habit of the trade, or plain arithmetic.

    Parameters
    ----------
    key : str
        Its name in rules and tables.
    title : str
        What it is called.
    edition : str
        Year or edition; empty where there is none.
    seen : Seen
        How closely it was seen.
    note : str
        What else a reader should know.
    """

    key: str
    title: str
    seen: Seen = attrs.field(converter=seen_named)
    edition: str = ""
    note: str = ""

    def __str__(self) -> str:
        edition = f", {self.edition}" if self.edition else ""
        return f"{self.title}{edition} ({IN_WORDS[self.seen]})"
