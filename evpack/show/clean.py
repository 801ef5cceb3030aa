"""Text that a user typed, made harmless: for a terminal, for HTML and for SVG."""

from __future__ import annotations

import codecs
import html
import re
import unicodedata

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
_UNIT = re.compile(r"(?<=\d) (?=(?:[kmµ]?(?:Wh|VA|Ah|W|V|A|Ω|F|Hz)|s|min|h|K|m|mm²|AWG)\b|%|°C)")


def tied(text: str) -> str:
    r"""Return a text in which no number can be parted from its unit.

    Examples
    --------
    >>> tied("48 V class, 5 mΩ at 20 %").split(" ")
    ['48\xa0V', 'class,', '5\xa0mΩ', 'at', '20\xa0%']
    """
    return _UNIT.sub("\u00a0", text)


# A build sheet may be typed on any keyboard; a page has the signs. Both are read back.
_TYPED = {"degC": "°C", "mm2": "mm²"}
_TYPED_UNIT = re.compile(r"(?<=\d) (degC|mm2)\b")


def signed(text: str) -> str:
    """Return a text in which units have their signs after a number.

    Examples
    --------
    >>> signed("25 mm2 at 35 degC")
    '25 mm² at 35 °C'
    """
    return _TYPED_UNIT.sub(lambda unit: f" {_TYPED[unit[1]]}", text)


def prose(text: object) -> str:
    """Return a sentence for HTML, in which no number is parted from its unit."""
    return tied(signed(escaped(text)))


# What a terminal that knows only few letters gets instead of our signs: those of the verdicts
# stay four different ones, and units are spelled as a build sheet spells them.
_SPELLED = {
    "✓": "+",
    "▲": "!",
    "✕": "x",
    "·": "*",
    "×": "x",
    "−": "-",
    "–": "-",
    "—": "-",
    "→": "->",
    "≥": ">=",
    "≤": "<=",
    "√": "sqrt",
    "Ω": "Ohm",
    "°": "deg",
    "µ": "u",
    "δ": "d",
    "Δ": "D",
    "ε": "e",
    "“": '"',
    "”": '"',
    "„": '"',
    "’": "'",
    "…": "...",
}


def spelled(problem: UnicodeError) -> tuple[str, int]:
    """Spell the signs that an encoding lacks; the codec error handler named ``evpack``.

    Never with a question mark, which says that something is not known.

    Examples
    --------
    >>> "▲ 5 mΩ · ü ☃".encode("ascii", "evpack")
    b'! 5 mOhm * u _'
    """
    if not isinstance(problem, UnicodeEncodeError):
        raise problem
    lacking = problem.object[problem.start : problem.end]
    return "".join(_spell(sign) for sign in lacking), problem.end


def _spell(sign: str) -> str:
    plain = unicodedata.normalize("NFKD", sign).encode("ascii", "ignore").decode("ascii")
    return _SPELLED.get(sign) or plain or "_"


ERRORS = "evpack"  # the name of the handler, for the stream that is to use it
codecs.register_error(ERRORS, spelled)
