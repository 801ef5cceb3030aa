"""A noun in one line, for a prompt, a log or a message; `show` tells it in full."""

from __future__ import annotations

from collections.abc import Sized
from enum import Enum
from typing import Any

import attrs
import pint

from evpack.base.units import kind_of
from evpack.base.wording import number, say

_LONGEST = 100
_LONGEST_TEXT = 40
_NAMES = ("title", "name", "device", "place", "key", "size")


def brief(noun: Any) -> str:
    """Return a noun in one line: its class, its name, and what else is known of it.

    Made to stand as ``__repr__`` in the class of a noun. What is unknown, empty or long is left
    out, and of a collection only its length is told.
    """
    name = _name(noun)
    head = f"<{type(noun).__name__}" + (f" {name!r}" if name else "")
    said, more = "", ""
    for field in attrs.fields(type(noun)):
        words = "" if field.name in (*_NAMES, "basis") else _words(getattr(noun, field.name))
        if not words:
            continue
        part = f"{': ' if not said else ', '}{field.name.replace('_', ' ')} {words}"
        if len(head) + len(said) + len(part) > _LONGEST:
            more = ", …" if said else ""
            break
        said += part
    return f"{head}{said}{more}>"


def cut(text: str, most: int = _LONGEST_TEXT) -> str:
    """Return a text in one line, cut where it is longer than so many characters."""
    line = " ".join(text.split())
    return line if len(line) <= most else f"{line[: most - 1]}…"


def _name(noun: object) -> str:
    held = (getattr(noun, name, "") for name in _NAMES)
    return next((cut(name) for name in held if isinstance(name, str) and name), "")


def _words(value: object) -> str:
    """Return a value in a few words; empty for what one line need not tell."""
    match value:
        case None:
            words = ""
        case pint.Quantity():
            words = say(float(value.m), kind_of(value).unit)
        case bool():
            words = "yes" if value else "no"
        case float():
            words = number(value)
        case str():
            words = cut(value)
        case Enum():
            words = str(value.value)
        case Sized():
            words = str(len(value) or "")
        case _ if attrs.has(type(value)):
            words = _name(value)
        case _:
            words = str(value)
    return words
