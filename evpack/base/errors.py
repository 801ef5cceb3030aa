"""What goes wrong with input. A risky design is never an error; it is a finding."""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable

# Control characters drive a terminal; the direction marks can make a line read differently from
# what it says. Messages quote what a file holds, and may have several lines.
_UNSEEN = re.compile("[\x00-\x09\x0b-\x1f\x7f-\x9f\u200e\u200f\u2028-\u202e\u2066-\u2069\ufeff]")


class EvpackError(Exception):
    """Anything evpack refuses; its text is written for the person who typed the input."""

    def __str__(self) -> str:
        return _UNSEEN.sub(" ", super().__str__())


class UnitError(EvpackError, ValueError):
    """A quantity without its unit, with a wrong one, or not a finite number."""


class DescriptionError(EvpackError, ValueError):
    """A thing described that cannot exist (a module whose least voltage tops its highest)."""


class OutsideTableError(EvpackError, ValueError):
    """A look-up beyond the values a table holds. Nothing is extrapolated."""


class DataError(EvpackError, ValueError):
    """A file that cannot be read as what it should be.

    Parameters
    ----------
    file : str
        The file's name as the user knows it.
    key : str
        Where in the file: a dotted key such as ``pack.strings``, or a line.
    problem : str
        What was got and what is needed, in one sentence.
    """

    def __init__(self, file: str, key: str, problem: str) -> None:
        where = f"{file}: {key}: " if key else f"{file}: "
        super().__init__(where + problem)
        self.file = file
        self.key = key
        self.problem = problem


def nearest(word: object, known: Iterable[str]) -> str:
    """Return `` (did you mean 'x'?)`` for the closest known word, or the known words.

    Examples
    --------
    >>> nearest("strngs", ["strings", "modules"])
    " (did you mean 'strings'?)"
    >>> nearest("KW", ["W", "kW"])  # only in another case: 1000 times nearer than W
    " (did you mean 'kW'?)"
    >>> nearest("zzz", ["b", "a"])
    ' (known here: a, b)'
    """
    words, got = sorted(known), str(word)
    same = [known_word for known_word in words if known_word.lower() == got.lower()]
    close = same or difflib.get_close_matches(got, words, n=1, cutoff=0.6)
    if close:
        return f" (did you mean '{close[0]}'?)"
    return f" (known here: {', '.join(words)})" if words else ""
