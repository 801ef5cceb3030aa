"""Text that a user typed, made harmless: for a terminal, for HTML and for SVG."""

from __future__ import annotations

import html
import re

# Control characters drive a terminal and are not allowed in XML; the direction marks can make a
# line read differently from what it says.
_UNSEEN = re.compile("[\x00-\x1f\x7f-\x9f\u200e\u200f\u2028-\u202e\u2066-\u2069\ufeff\ufffe\uffff]")
# Half a surrogate pair cannot be encoded at all.
_HALVES = re.compile("[\ud800-\udfff]")


def clean(text: object) -> str:
    r"""Return a text on one line, without characters that steer a terminal or a reader's eye.

    Examples
    --------
    >>> clean("two\nlines"), clean("\x1b[31mred")
    ('two lines', ' [31mred')
    """
    return _HALVES.sub("?", _UNSEEN.sub(" ", str(text)))


def escaped(text: object) -> str:
    """Return a text for HTML or SVG, in an element or a quoted attribute.

    Examples
    --------
    >>> escaped('<b> & "c"')
    '&lt;b&gt; &amp; &quot;c&quot;'
    """
    return html.escape(clean(text), quote=True)


# A number and its unit belong on one line.
_UNIT = re.compile(r"(?<=\d) (?=(?:k?Wh|k?W|V|k?A|Ah|m?Ω|s|min|h|K)\b|%|°C)")


def prose(text: object) -> str:
    """Return a sentence for HTML, in which no number is parted from its unit."""
    return _UNIT.sub("\u00a0", escaped(text))
